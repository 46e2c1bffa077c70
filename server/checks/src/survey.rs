//! A plan, and what several checks want to know of it: each is found out once, when the first of them asks.

use crate::sensitive::{self, Entry, Threat};
use plan::Plan;
use std::ops::Deref;
use std::sync::OnceLock;

/// A plan on its way through the checks.
pub struct Survey<'a> {
    plan: &'a Plan,
    /// The text with its ASCII letters in lower case.
    lower: OnceLock<String>,
    threatened_by_water: OnceLock<Vec<Entry<'a>>>,
    threatened_by_air: OnceLock<Vec<Entry<'a>>>,
}

impl<'a> Survey<'a> {
    /// Of a plan of which nothing was asked yet.
    #[must_use]
    pub fn new(plan: &'a Plan) -> Self {
        Survey {
            plan,
            lower: OnceLock::new(),
            threatened_by_water: OnceLock::new(),
            threatened_by_air: OnceLock::new(),
        }
    }

    pub(crate) fn lower(&self) -> &str {
        self.lower
            .get_or_init(|| self.plan.text.text.to_ascii_lowercase())
    }

    /// Every entry of a sensitive reagent, in the order of the steps.
    pub(crate) fn entries(&self, threat: Threat) -> &[Entry<'a>] {
        let cell = match threat {
            Threat::Water => &self.threatened_by_water,
            Threat::Air => &self.threatened_by_air,
        };
        cell.get_or_init(|| sensitive::entries(self.plan, threat))
    }
}

impl Deref for Survey<'_> {
    type Target = Plan;

    fn deref(&self) -> &Plan {
        self.plan
    }
}
