//! The way of the gas: of an inert gas from the cylinder to where it leaves, or into a vessel that is closed for pressure.

use crate::bench::{self, Bench};
use plan::convert;
use plan::vessel::{Apparatus, Filling, Gas};
use syntax::{ModifierKind, Verb};
use uom::si::pressure::bar;

/// The gas line of a plan.
pub(crate) struct GasPath<'a> {
    /// The gases, in the order of their use: of a vessel without pressure the inert ones.
    pub(crate) gases: Vec<String>,
    /// The first vessel that gets it.
    pub(crate) vessel: &'a str,
    /// Where the gas leaves.
    pub(crate) outlet: Outlet,
    /// The vessel is closed and holds pressure: the highest that the plan says, where it says one.
    pub(crate) pressure: Option<Option<String>>,
    /// The steps that let gas in or out.
    pub(crate) steps: Vec<usize>,
}

/// Where the gas leaves.
pub(crate) struct Outlet {
    /// For the picture: `bubbler`.
    pub(crate) short: &'static str,
    /// For a sentence: `the outlet to a potassium iodide trap`.
    pub(crate) words: String,
}

/// From this pressure on glass with a bubbler is not meant, in bar; common practice.
const PRESSURE: f64 = 1.5;

/// None where the plan passes no inert gas and holds none under pressure.
pub(crate) fn path<'a>(bench: &Bench<'a>) -> Option<GasPath<'a>> {
    let plan = bench.plan;
    let mut gases: Vec<String> = Vec::new();
    let mut steps = Vec::new();
    let mut vessels = Vec::new();
    let under_pressure = pressure_vessel(bench);
    for moment in &plan.moments {
        for (index, state) in moment.after.iter().enumerate() {
            let Gas::Filled { gas, how, line } = &state.gas else {
                continue;
            };
            let known = || chemistry::find_name(gas).one().is_some();
            let counts = bench::is_inert_gas(gas) || under_pressure == Some(index) && known();
            if *line != moment.line || !counts {
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
    let vessel = match under_pressure {
        Some(vessel) => vessel,
        None if gets_it(bench.flask) => bench.flask,
        None => vessels.first()?.0,
    };
    Some(GasPath {
        gases,
        vessel: bench.name(vessel),
        outlet: outlet(bench, vessel),
        pressure: under_pressure.map(|_| highest(bench).map(|(_, words)| words)),
        steps,
    })
}

/// The vessel that is closed for pressure: by its name, or because a step fills it to more than a bubbler lets out.
fn pressure_vessel(bench: &Bench<'_>) -> Option<usize> {
    let named = |item: &Apparatus| {
        // A pressure tube is of glass, and mostly closed under an atmosphere of inert gas.
        let words = ["autoclave", "pressure vessel", "pressure reactor"];
        words.iter().any(|word| item.lower.contains(word))
    };
    let plan = bench.plan;
    let by_name = plan.apparatus.iter().position(named);
    let by_name = by_name.filter(|vessel| {
        let holds = |state: &plan::vessel::VesselState| matches!(state.gas, Gas::Filled { .. });
        let mut moments = plan.moments.iter();
        moments.any(|moment| moment.after.get(*vessel).is_some_and(|state| holds(state)))
    });
    by_name.or_else(|| {
        let (line, _) = highest(bench)?;
        let mut moments = plan.moments.iter();
        moments
            .find(|moment| moment.line == line)
            .map(|moment| moment.vessel)
    })
}

/// The highest pressure that a step fills to, with its line, from where on glass is not meant.
fn highest(bench: &Bench<'_>) -> Option<(u32, String)> {
    let plan = bench.plan;
    let mut highest: Option<(f64, u32, String)> = None;
    for moment in &plan.moments {
        let Some(clause) = bench::clause(plan, moment) else {
            continue;
        };
        if !matches!(
            clause.verb,
            Verb::Fill | Verb::Purge | Verb::Hold | Verb::Stir | Verb::Heat | Verb::Add
        ) {
            continue;
        }
        for modifier in &clause.modifiers {
            let ModifierKind::Pressure(_, quantity) = &modifier.kind else {
                continue;
            };
            let value = convert::pressure(quantity, moment.line);
            let Some(value) = value.map(|known| known.value.get::<bar>()) else {
                continue;
            };
            let words = plan.slice(moment.line, quantity.span);
            let above = highest.as_ref().is_none_or(|(most, ..)| value > *most);
            if value >= PRESSURE && above {
                highest = Some((value, moment.line, words.unwrap_or_default().to_owned()));
            }
        }
    }
    highest.map(|(_, line, words)| (line, words))
}

/// What the equipment lists to let the gas out, and else a needle.
fn outlet(bench: &Bench<'_>, vessel: usize) -> Outlet {
    let plan = bench.plan;
    let own = plan.apparatus.get(vessel).into_iter();
    let texts = own.chain(&plan.apparatus).map(|item| &*item.text);
    let parts = texts.flat_map(|text| text.split(", "));
    for part in parts {
        let lower = part.to_lowercase();
        let cold = ["cold trap", "vacuum", "dry ice", "dean"];
        if cold.iter().any(|word| lower.contains(word)) {
            continue;
        }
        let short = ["trap", "scrubber"]
            .into_iter()
            .find(|kind| lower.contains(kind));
        if let Some(short) = short {
            let article = match lower.split(' ').next() {
                Some("a" | "an" | "the") => "",
                _ => "the ",
            };
            let words = format!("{article}{}", part.trim());
            return Outlet { short, words };
        }
    }
    if plan.text.text.to_lowercase().contains("bubbler") {
        return Outlet {
            short: "bubbler",
            words: "the bubbler".to_owned(),
        };
    }
    Outlet {
        short: "outlet needle",
        words: "an outlet needle that leads to a bubbler".to_owned(),
    }
}
