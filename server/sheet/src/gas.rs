//! The way of the inert gas, from the cylinder to where it leaves.

use crate::bench::{self, Bench};
use plan::vessel::{Filling, Gas};
use syntax::Verb;

/// The gas line of a plan.
pub(crate) struct GasPath<'a> {
    /// The inert gases, in the order of their use.
    pub(crate) gases: Vec<String>,
    /// The first vessel that gets it.
    pub(crate) vessel: &'a str,
    /// The plan has a bubbler.
    pub(crate) bubbler: bool,
    /// The steps that let gas in or out.
    pub(crate) steps: Vec<usize>,
}

/// None where the plan passes no inert gas.
pub(crate) fn path<'a>(bench: &Bench<'a>) -> Option<GasPath<'a>> {
    let plan = bench.plan;
    let mut gases: Vec<String> = Vec::new();
    let mut steps = Vec::new();
    let mut vessels = Vec::new();
    for moment in &plan.moments {
        for (index, state) in moment.after.iter().enumerate() {
            let Gas::Filled { gas, how, line } = &state.gas else {
                continue;
            };
            if *line != moment.line || !bench::is_inert_gas(gas) {
                continue;
            }
            if !gases.iter().any(|known| **known == **gas) {
                gases.push(gas.to_string());
            }
            vessels.push((index, *how));
        }
        let moves = bench::clause(plan, moment).is_some_and(|clause| {
            matches!(
                clause.verb,
                Verb::Purge | Verb::Sparge | Verb::EvacuateAndRefill | Verb::Fill | Verb::Vent
            )
        });
        if moves {
            steps.extend(bench.number(moment.line));
        }
    }
    // What the reaction is carried out in, if it gets the gas; not the glass that only cools under it.
    let gets_it = |vessel: usize| {
        let by = |how| vessels.contains(&(vessel, how));
        by(Filling::Cycles) || by(Filling::Flow) || by(Filling::Flame) || by(Filling::Said)
    };
    let vessel = if gets_it(bench.flask) {
        bench.flask
    } else {
        vessels.first()?.0
    };
    let words = plan.text.text.to_lowercase();
    Some(GasPath {
        gases,
        vessel: bench.name(vessel),
        bubbler: words.contains("bubbler"),
        steps,
    })
}
