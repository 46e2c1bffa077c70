//! One stock solution for several runs, where each alone takes too little to be measured well.

use super::Series;
use crate::measuring::Way;
use crate::{Amounts, Bottle, Material, Plan, show, takes};
use std::fmt;
use std::sync::Arc;
use syntax::{AmountKind, KeyId, Role};
use takes::Slot;
use uom::si::amount_of_substance::millimole;
use uom::si::f64::{Mass, Volume};
use uom::si::mass::milligram;
use uom::si::molar_mass::gram_per_mole;
use uom::si::ratio::ratio;
use uom::si::volume::milliliter;

/// A stock solution of which every run takes a part.
#[derive(Clone, Debug)]
pub struct Stock {
    /// The key of what is dissolved.
    pub key: Arc<str>,
    /// The key of the solvent.
    pub solvent: Arc<str>,
    /// What is weighed.
    pub mass: Mass,
    /// The volumetric flask that it is filled up in.
    pub flask: Volume,
    /// mol/L
    pub strength: f64,
    /// By how much the worst of the runs may be off without it, over what it takes.
    pub error: f64,
    /// What each run takes, by its label.
    pub parts: Vec<(Arc<str>, Volume)>,
}

impl fmt::Display for Stock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parts = self.parts.iter();
        let parts = parts.map(|(label, part)| format!("{} for {label}", show::volume(*part)));
        let parts: Vec<String> = parts.collect();
        write!(
            f,
            "{key} by itself may be {} % off: one stock for all, {} filled up to {:.0} mL with {solvent} ({} M); of it {}, in place of as much {solvent}",
            show::number(self.error * 100.0, 2),
            show::mass(self.mass),
            self.flask.get::<milliliter>(),
            show::shortest(self.strength),
            parts.join(", "),
            key = self.key,
            solvent = self.solvent,
        )
    }
}

/// mol/L, of stocks that are easy to reckon with.
const STRENGTHS: [f64; 9] = [0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0];

/// Volumetric flasks, in mL.
const FLASKS: [f64; 7] = [5.0, 10.0, 25.0, 50.0, 100.0, 250.0, 500.0];

/// The least part in mL, and the most of a flask and of a run's own solvent that goes into parts; common practice.
const LEAST_PART_ML: f64 = 0.2;
const MOST_OF_FLASK: f64 = 0.9;
const MOST_OF_SOLVENT: f64 = 0.8;

/// What one run takes of a line.
struct Need<'a> {
    label: Arc<str>,
    plan: &'a Plan,
    material: &'a Material,
    amounts: &'a Amounts,
}

impl Series {
    /// A stock solution for each material that is too little to be measured well in a run and enough in all of them, in a
    /// solvent that the plan has for it. Whether it dissolves and keeps there is for the chemist to know.
    #[must_use]
    pub fn stocks(&self) -> Vec<Stock> {
        let mut known: Vec<(KeyId, Arc<str>)> = Vec::new();
        let mut stocks = Vec::new();
        for (_, plan) in self.plans() {
            for material in &plan.materials {
                let own = (material.id, material.identity.name.clone());
                if !known.contains(&own) {
                    stocks.extend(self.stock(&own));
                    known.push(own);
                }
            }
        }
        stocks
    }

    fn stock(&self, (key, name): &(KeyId, Arc<str>)) -> Option<Stock> {
        let needs: Vec<Need<'_>> = self
            .plans()
            .filter_map(|(run, plan)| {
                let (material, amounts) = plan.material(*key)?;
                (material.identity.name == *name).then(|| Need {
                    label: (&*run.label.text).into(),
                    plan,
                    material,
                    amounts,
                })
            })
            .collect();
        let errors: Option<Vec<f64>> = needs.iter().map(Need::excess_error).collect();
        let error = errors?.into_iter().fold(0.0, f64::max);
        let first = needs.first().filter(|_| needs.len() > 1 && error > 0.0)?;
        let solvent = first.solvent()?;
        let amounts: Option<Vec<f64>> = needs.iter().map(Need::millimoles).collect();
        let amounts = amounts?;
        let room: Option<Vec<f64>> = needs.iter().map(|need| need.room(solvent)).collect();
        let room = room?;
        let Bottle::MassFraction(share) = &first.material.bottle else {
            return None;
        };
        let molar_mass = first.material.molar_mass.as_ref().ok()?.value;
        let per_mmol = molar_mass.get::<gram_per_mole>() / share.value.get::<ratio>();
        let tools = &first.plan.context.settings.tools;
        let closed = first.plan.is_kept_closed(first.material);
        let fits = |strength: f64, flask: f64| {
            let parts: Vec<f64> = amounts.iter().map(|amount| amount / strength).collect();
            let weighed = tools.weigh(Mass::new::<milligram>(strength * flask * per_mmol))?;
            let is_good = |(part, room): (&f64, &f64)| {
                let volume = Volume::new::<milliliter>(*part);
                let reading = tools.measure(volume, Way::Syringe, closed);
                let close = |error: f64| error <= crate::measuring::TOLERATED_OF_PARTS;
                let close = reading.is_some_and(|found| close(found.greatest_error.get::<ratio>()));
                close && *part >= LEAST_PART_ML && *part <= room * MOST_OF_SOLVENT
            };
            let good = weighed.greatest_error.get::<ratio>() <= crate::measuring::TOLERATED
                && parts.iter().sum::<f64>() <= flask * MOST_OF_FLASK
                && parts.iter().zip(&room).all(is_good);
            good.then_some(parts)
        };
        // The least material.
        let mut all: Vec<(f64, f64)> = STRENGTHS
            .iter()
            .flat_map(|strength| FLASKS.iter().map(move |flask| (*strength, *flask)))
            .collect();
        all.sort_by(|a, b| (a.0 * a.1).total_cmp(&(b.0 * b.1)));
        let (strength, flask, parts) = all
            .into_iter()
            .find_map(|(strength, flask)| Some((strength, flask, fits(strength, flask)?)))?;
        let (solvent, _) = first.plan.material(solvent)?;
        let parts = needs.iter().zip(parts);
        let parts = parts.map(|(need, part)| (need.label.clone(), Volume::new::<milliliter>(part)));
        Some(Stock {
            key: (&*first.material.key.text).into(),
            solvent: (&*solvent.key.text).into(),
            mass: Mass::new::<milligram>(strength * flask * per_mmol),
            flask: Volume::new::<milliliter>(flask),
            strength,
            error,
            parts: parts.collect(),
        })
    }
}

impl Need<'_> {
    /// By how much the measurement may be off, or 0 where that is tolerated. None for what no stock is made of: what is
    /// a solution already, measured loosely or in portions.
    fn excess_error(&self) -> Option<f64> {
        let (plan, material) = (self.plan, self.material);
        let neat = matches!(material.bottle, Bottle::MassFraction(_)) && !material.diluted;
        let once = plan.portions(material).is_empty();
        if !neat || !once || !plan.is_measured_closely(material, self.amounts) {
            return None;
        }
        let equivalents = self.amounts.equivalents.as_ref().ok()?.value.get::<ratio>();
        let error = plan
            .reading(material, self.amounts)?
            .greatest_error
            .get::<ratio>();
        let way = plan.way(material, self.amounts);
        Some(if error > crate::measuring::tolerated(way, equivalents) {
            error
        } else {
            0.0
        })
    }

    /// The line that a step dissolves it in; else the only solvent that the plan lists as one.
    fn solvent(&self) -> Option<KeyId> {
        let plan = self.plan;
        let mut dissolving = plan.takes_of(self.material.id).filter_map(|take| {
            let mut things = takes::things(take.clause);
            let (_, thing) = things.find(|(slot, _)| *slot == Slot::DissolvedIn)?;
            match thing.referent {
                syntax::Referent::Key(id) => Some(id),
                _ => None,
            }
        });
        if let Some(id) = dissolving.next() {
            return plan.material(id).map(|_| id);
        }
        let mut solvents = plan.materials.iter().filter(|other| {
            let fills = |amount: &syntax::Amount| amount.kind == AmountKind::FillTo;
            other.role == Some(Role::Solvent) || other.stated.iter().any(fills)
        });
        match (solvents.next(), solvents.next()) {
            (Some(only), None) => Some(only.id),
            _ => None,
        }
    }

    fn millimoles(&self) -> Option<f64> {
        Some(self.amounts.amount.as_ref().ok()?.value.get::<millimole>())
    }

    /// How much of a solvent the run takes, in mL.
    fn room(&self, solvent: KeyId) -> Option<f64> {
        let (_, amounts) = self.plan.material(solvent)?;
        Some(amounts.volume.as_ref().ok()?.value.get::<milliliter>())
    }
}
