//! What the runs of a plan take together, by bottle or by what stands in its place.

use super::{CannotRun, Run};
use crate::measuring::Way;
use crate::tools::Measure;
use crate::{Amounts, Material, Plan, show};
use std::sync::Arc;
use syntax::AmountKind;

/// The runs of a plan, worked out.
#[derive(Clone, Debug)]
pub struct Series {
    /// Each run and its plan, or why there is none.
    pub runs: Vec<(Run, Result<Plan, CannotRun>)>,
}

/// What a run takes of a bottle.
#[derive(Clone, Debug, PartialEq)]
pub enum Drawn {
    /// Nothing.
    Nothing,
    /// So much.
    Measured(Measure),
    /// `2 drops`
    Counted(u32, Box<str>),
    /// As much as it takes.
    Excess,
    /// Nobody knows; the reason.
    Unknown(Arc<str>),
}

/// What all runs take of one bottle, or of one substance in one strength.
#[derive(Clone, Debug)]
pub struct Total {
    /// The keys that it has in the runs.
    pub keys: Vec<Arc<str>>,
    /// What it is.
    pub name: Arc<str>,
    /// `2.5 M in hexanes`
    pub strength: Option<Arc<str>>,
    /// The bottle, where the lines name one.
    pub bottle: Option<Arc<str>>,
    /// One a run, in their order.
    pub drawn: Vec<Drawn>,
    /// The sum; none where an amount is not known, or nothing is measured.
    pub sum: Option<Measure>,
}

impl Plan {
    /// Every run with its plan.
    #[must_use]
    pub fn series(&self) -> Series {
        let runs = self.runs().into_iter();
        Series {
            runs: runs
                .map(|run| {
                    let plan = self.of_run(&run);
                    (run, plan)
                })
                .collect(),
        }
    }
}

impl Series {
    /// The runs that could be worked out.
    pub fn plans(&self) -> impl Iterator<Item = (&Run, &Plan)> {
        let runs = self.runs.iter();
        runs.filter_map(|(run, plan)| Some((run, plan.as_ref().ok()?)))
    }

    /// What each bottle gives, in the order of the plan's lines; what only later runs take comes last. The columns are
    /// those of [`Series::plans`].
    #[must_use]
    pub fn totals(&self) -> Vec<Total> {
        let columns = self.plans().count();
        let mut totals: Vec<Total> = Vec::new();
        for (column, (_, plan)) in self.plans().enumerate() {
            for (material, amounts) in plan.materials.iter().zip(&plan.ledger.amounts) {
                if material.product {
                    continue;
                }
                let drawn = drawn(plan, material, amounts);
                let found = totals
                    .iter()
                    .position(|total| total.is_of(material, &drawn));
                let at = found.unwrap_or_else(|| {
                    // Beside the same key in another substance.
                    let key = &*material.key.text;
                    let same = |total: &Total| total.keys.iter().any(|own| **own == *key);
                    let at = totals
                        .iter()
                        .rposition(same)
                        .map_or(totals.len(), |at| at + 1);
                    totals.insert(at, Total::of(material, columns));
                    at
                });
                if let Some(total) = totals.get_mut(at) {
                    total.add(column, material, drawn);
                }
            }
        }
        totals.iter_mut().for_each(Total::sum_up);
        totals
    }
}

/// What a plan takes of a line.
fn drawn(plan: &Plan, material: &Material, amounts: &Amounts) -> Drawn {
    let counted = material
        .stated
        .iter()
        .find_map(|amount| match &amount.kind {
            AmountKind::Uncounted(count, what) => Some(Drawn::Counted(*count, what.clone())),
            _ => None,
        });
    match (plan.way(material, amounts), &amounts.mass, &amounts.volume) {
        (Way::Count, ..) => counted.unwrap_or(Drawn::Excess),
        (Way::Excess, ..) => Drawn::Excess,
        (Way::Weigh, Ok(mass), _) => Drawn::Measured(Measure::Mass(mass.value)),
        (_, _, Ok(volume)) => Drawn::Measured(Measure::Volume(volume.value)),
        (_, Err(gap), _) => Drawn::Unknown(gap.to_string().into()),
        (_, Ok(mass), Err(_)) => Drawn::Measured(Measure::Mass(mass.value)),
    }
}

impl Drawn {
    /// In a cell of a table.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Drawn::Nothing => String::new(),
            Drawn::Measured(measure) => words(*measure),
            Drawn::Counted(count, what) => format!("{count} {what}"),
            Drawn::Excess => "excess".to_owned(),
            Drawn::Unknown(_) => "?".to_owned(),
        }
    }
}

fn words(measure: Measure) -> String {
    match measure {
        Measure::Mass(mass) => show::mass(mass),
        Measure::Volume(volume) => show::volume(volume),
    }
}

impl Total {
    fn of(material: &Material, columns: usize) -> Total {
        Total {
            keys: Vec::new(),
            name: material.identity.name.clone(),
            strength: material.strength_text.clone(),
            bottle: bottle(material),
            drawn: vec![Drawn::Nothing; columns],
            sum: None,
        }
    }

    /// Whether a line takes from the same bottle: by its name, or else under the same key and the same in all that the
    /// line says of it.
    fn is_of(&self, material: &Material, drawn: &Drawn) -> bool {
        let by_mass = |drawn: &Drawn| match drawn {
            Drawn::Measured(Measure::Mass(_)) => Some(true),
            Drawn::Measured(Measure::Volume(_)) => Some(false),
            _ => None,
        };
        let own = self.drawn.iter().find_map(by_mass);
        if own.is_some() && by_mass(drawn).is_some_and(|new| own != Some(new)) {
            return false;
        }
        let same = self.name == material.identity.name && self.strength == material.strength_text;
        match (&self.bottle, bottle(material)) {
            (Some(own), Some(other)) => **own == *other,
            (None, None) => same && self.keys.iter().any(|key| **key == *material.key.text),
            _ => false,
        }
    }

    fn add(&mut self, column: usize, material: &Material, drawn: Drawn) {
        let key: Arc<str> = (&*material.key.text).into();
        if !self.keys.contains(&key) {
            self.keys.push(key);
        }
        let Some(cell) = self.drawn.get_mut(column) else {
            return;
        };
        // Two lines of a plan may take from one bottle.
        *cell = match (std::mem::replace(cell, Drawn::Nothing), drawn) {
            (Drawn::Nothing, drawn) => drawn,
            (Drawn::Measured(a), Drawn::Measured(b)) => added(a, b).map_or(
                Drawn::Unknown("measured in two ways".into()),
                Drawn::Measured,
            ),
            (unknown @ Drawn::Unknown(_), _) | (_, unknown @ Drawn::Unknown(_)) => unknown,
            (measured @ Drawn::Measured(_), _) | (_, measured) => measured,
        };
    }

    fn sum_up(&mut self) {
        let mut sum = None;
        for drawn in &self.drawn {
            sum = match (drawn, sum) {
                (Drawn::Unknown(_), _) => return,
                (Drawn::Measured(measure), None) => Some(*measure),
                (Drawn::Measured(measure), Some(before)) => match added(before, *measure) {
                    Some(sum) => Some(sum),
                    None => return,
                },
                (_, sum) => sum,
            };
        }
        self.sum = sum;
    }

    /// The sum in words; nothing where there is none.
    #[must_use]
    pub fn sum_words(&self) -> String {
        self.sum.map_or_else(String::new, words)
    }

    /// Key, name, strength and bottle in words.
    #[must_use]
    pub fn what(&self) -> String {
        let mut what = self.name.to_string();
        if let Some(strength) = &self.strength {
            what = format!("{what}, {strength}");
        }
        if let Some(bottle) = &self.bottle {
            what = format!("{what}, bottle {bottle}");
        }
        what
    }
}

fn bottle(material: &Material) -> Option<Arc<str>> {
    let named = material.named.as_ref()?;
    Some((&*named.name.text).into())
}

fn added(a: Measure, b: Measure) -> Option<Measure> {
    match (a, b) {
        (Measure::Mass(a), Measure::Mass(b)) => Some(Measure::Mass(a + b)),
        (Measure::Volume(a), Measure::Volume(b)) => Some(Measure::Volume(a + b)),
        _ => None,
    }
}
