//! A plan, and what several checks want to know of it: each is found out once, when the first of them asks.

use crate::atmosphere_missing;
use crate::sensitive::{self, Entry, Threat};
use chemistry::{ReagentClass, Substance};
use plan::Plan;
use plan::vessel::What;
use std::ops::Deref;
use std::sync::OnceLock;
use syntax::{Block, RemarkKind, Statement};

/// A plan on its way through the checks.
pub struct Survey<'a> {
    plan: &'a Plan,
    /// The text with its ASCII letters in lower case.
    lower: OnceLock<String>,
    /// Notes, and steps that are kept as text: their lines, and their words in lower case.
    told: OnceLock<Vec<(u32, String)>>,
    oxygen_wanted: OnceLock<bool>,
    substances: OnceLock<Vec<Substance>>,
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
            told: OnceLock::new(),
            oxygen_wanted: OnceLock::new(),
            substances: OnceLock::new(),
            threatened_by_water: OnceLock::new(),
            threatened_by_air: OnceLock::new(),
        }
    }

    pub(crate) fn lower(&self) -> &str {
        self.lower
            .get_or_init(|| self.plan.text.text.to_ascii_lowercase())
    }

    /// Whether the text has this word, or part of one, in lower case, anywhere.
    pub(crate) fn says(&self, word: &str) -> bool {
        memchr::memmem::find(self.lower().as_bytes(), word.as_bytes()).is_some()
    }

    /// The notes and the steps that are kept as text above a line, in lower case.
    pub(crate) fn told_above(&self, line: u32) -> impl Iterator<Item = &str> {
        let told = self.told.get_or_init(|| told(self.plan));
        let above = told.iter().take_while(move |(own, _)| *own < line);
        above.map(|(_, words)| &**words)
    }

    /// Air or oxygen belongs to the reaction.
    pub(crate) fn oxygen_wanted(&self) -> bool {
        *self
            .oxygen_wanted
            .get_or_init(|| atmosphere_missing::oxygen_wanted(self.plan))
    }

    /// The rows of the library that the plan lists or that come into a vessel, one after the other.
    pub(crate) fn substances(&self) -> &[Substance] {
        self.substances.get_or_init(|| substances(self.plan))
    }

    /// Whether one of them has this name.
    pub(crate) fn has(&self, name: &str) -> bool {
        let mut all = self.substances().iter();
        all.any(|substance| substance.name() == name)
    }

    /// Whether one of them is of a class like this.
    pub(crate) fn has_class(&self, is: impl Fn(ReagentClass) -> bool) -> bool {
        let mut all = self.substances().iter();
        all.any(|substance| substance.class().is_some_and(&is))
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

fn told(plan: &Plan) -> Vec<(u32, String)> {
    let lines = (0u32..).zip(&plan.text.lines);
    let kept = lines.filter(|(_, line)| match &line.statement {
        Statement::Remark(RemarkKind::Note | RemarkKind::Remark, _) => true,
        Statement::Unread(_) => line.block == Block::Steps,
        _ => false,
    });
    let words = |line| plan.slice(line, sensitive::line_at(plan, line).span);
    kept.filter_map(|(line, _)| Some((line, words(line)?.to_lowercase())))
        .collect()
}

fn substances(plan: &Plan) -> Vec<Substance> {
    let listed = plan.materials.iter().flat_map(|material| {
        let parts = material.identity.mixture.iter().map(|part| part.substance);
        parts.chain([material.identity.substance]).flatten()
    });
    let mut all: Vec<Substance> = listed.collect();
    let additions = plan.moments.iter().flat_map(|moment| &moment.additions);
    for addition in additions {
        if let What::Named(_, Some(substance)) = addition.content.what
            && !all.contains(&substance)
        {
            all.push(substance);
        }
    }
    all
}
