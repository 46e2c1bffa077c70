//! What reaches each sensitive reagent of a plan, whether or not it is worth a finding.

use crate::sensitive;
use crate::survey::Survey;
use crate::water_and_oxygen::{self as budget, Victim};
use plan::Plan;
use plan::budget::{Estimate, Source, SourceKind};
use std::collections::HashSet;
use uom::si::f64::AmountOfSubstance;

/// A reagent that water or oxygen destroys, and what brings them to it.
#[derive(Clone, Debug)]
pub struct Exposure {
    /// What messages call it.
    pub name: String,
    /// The line of the step that brings it in first.
    pub line: u32,
    /// How much of it is in the vessel.
    pub amount: AmountOfSubstance,
    /// The same over the scale, where that is known.
    pub equivalents: Option<f64>,
    /// Every source that counts for it, in the order in which they came.
    pub sources: Vec<Source>,
    /// Part of the reagent that each of the sources takes by its water.
    pub by_water: Vec<Estimate<f64>>,
    /// Part of the reagent that each of the sources takes by its oxygen.
    pub by_oxygen: Vec<Estimate<f64>>,
    /// Part of it from which on `water-and-oxygen` gives a thought to it, and from which on it warns, its surplus aside.
    pub worry: (f64, f64),
}

impl Exposure {
    /// Part of the reagent that is lost to all sources together.
    #[must_use]
    pub fn lost(&self) -> Estimate<f64> {
        let parts = self.by_water.iter().chain(&self.by_oxygen);
        parts.fold(Estimate::default(), |sum, part| sum + *part)
    }
}

/// Of every sensitive reagent whose amount is known, in the order of the steps. A reagent is left out where sieves or a
/// faster reagent take the water first.
#[must_use]
pub fn exposures(plan: &Plan) -> Vec<Exposure> {
    let survey = Survey::new(plan);
    let mut seen = HashSet::new();
    let met: Vec<_> = budget::victims(&survey)
        .into_iter()
        .filter(|victim| victim.per_water > 0.0 || victim.per_oxygen > 0.0)
        .filter(|victim| seen.insert(victim.entry.called(plan)))
        .filter_map(|victim| budget::company(plan, &victim.entry).map(|company| (victim, company)))
        .collect();
    let spans: Vec<(usize, usize)> = met
        .iter()
        .map(|(victim, (last, _))| (victim.entry.moment, *last))
        .collect();
    let budgets = plan.budgets(&spans);
    let exposures = met.iter().zip(budgets);
    exposures
        .filter_map(|((victim, (_, contents)), reached)| {
            if budget::holds_sieves(plan, contents)
                || budget::takes_it_first(plan, &victim.entry, contents, reached.water().typical)
            {
                return None;
            }
            let amount = budget::total(plan, &victim.entry, contents)?;
            exposure(plan, victim, amount, reached.sources)
        })
        .collect()
}

fn exposure(
    plan: &Plan,
    victim: &Victim<'_>,
    amount: AmountOfSubstance,
    mut sources: Vec<Source>,
) -> Option<Exposure> {
    let entry = &victim.entry;
    let partner = budget::partner_line(plan, entry);
    sources.retain(|source| {
        source.kind != SourceKind::Opening || partner.is_none_or(|line| source.at.line < line)
    });
    let pool = amount * budget::phosphines(plan, entry);
    let part = |brought: Estimate<AmountOfSubstance>, per_mole: f64| {
        brought.map(|brought| (brought * per_mole / pool).value)
    };
    let by_water = sources.iter().map(|s| part(s.water, victim.per_water));
    let by_oxygen = sources.iter().map(|s| part(s.oxygen, victim.per_oxygen));
    let (by_water, by_oxygen) = (by_water.collect(), by_oxygen.collect());
    let scale = plan.ledger.scale.as_ref();
    let scale = scale.and_then(|scale| scale.amount.as_ref().ok());
    Some(Exposure {
        name: entry.called(plan),
        line: entry.at(plan)?.line,
        amount,
        equivalents: scale
            .filter(|scale| scale.value.value > 0.0)
            .map(|scale| (amount / scale.value).value),
        sources,
        by_water,
        by_oxygen,
        worry: budget::worry(plan, entry),
    })
}

/// A share of a reagent for messages, with as many digits as it deserves.
#[must_use]
pub fn share_text(share: f64) -> String {
    sensitive::percent_text(share)
}

/// An amount for messages.
#[must_use]
pub fn amount_text(amount: AmountOfSubstance, digits: i32) -> String {
    sensitive::amount_text(amount, digits)
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::amount_of_substance::millimole;

    const PLAN: &str = "\
plan Test
scale 0.500 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.00 eq
  thf: tetrahydrofuran, over 3 Å sieves, 200 ppm water, 40 mL
equipment
  flask: 100 mL flask, septum
steps
  dry flask at 125 °C overnight
  evacuate and refill flask with argon, 3 cycles, 1 mbar
  add thf
  add base
";

    /// 40 mL × 0.889 g/mL × 200 ppm / 18.015 g/mol are 395 µmol, 79 % of 0.500 mmol: by hand; density as the library
    /// has it, within 1 %.
    #[test]
    fn wet_solvent_takes_four_fifths_of_a_small_amount() {
        let plan = Plan::read(PLAN);
        let [base] = &exposures(&plan)[..] else {
            panic!("one sensitive reagent");
        };
        assert_eq!(base.name, "base");
        assert!((base.amount.get::<millimole>() - 0.5).abs() < 1e-9);
        let thf = base
            .sources
            .iter()
            .position(|source| &*source.name == "thf");
        let by_thf = base.by_water[thf.expect("thf")];
        assert!((by_thf.typical - 0.79).abs() < 0.01, "{by_thf:?}");
        let (low, high) = (base.lost().low, base.lost().high);
        assert!(low > 0.78 && high > low, "{low} {high}");
    }

    #[test]
    fn what_nothing_destroys_is_left_out() {
        let plan = Plan::read(&PLAN.replace("n-butyllithium, 2.5 M in hexanes", "morpholine"));
        assert!(exposures(&plan).is_empty());
    }
}
