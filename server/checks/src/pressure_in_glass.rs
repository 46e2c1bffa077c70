//! Gas is pressed into glass that is made for no pressure.

use crate::Survey;
use crate::acted_on::acted_on;
use crate::closed_and_heated::{WayOut, way_out};
use crate::sensitive;
use crate::{Check, Finding};
use chemistry::quantity::pressure;
use plan::vessel::gas_name;
use plan::{At, Plan, convert, takes};
use syntax::{Clause, ModifierKind, PressureKind, Quantity, Verb};

pub(crate) const CHECK: Check = Check {
    name: "pressure-in-glass",
    severity: crate::Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Pressure in plain glass

**Finds** a flask, vial, Schlenk tube or beaker that is brought to more than 1.5 bar of a gas, or kept under it.

Silent where the line of the vessel says what it is made for (pressure, autoclave, reactor, thick-walled, rated, sealed
tube …: then keep within what the maker states), where the plan speaks of an autoclave or a hydrogenator in which it may
stand, and for vessels of which the line does not tell that they are glass.

**Why it matters.** Flat-bottomed and thin glass gives way at a bar or two above the air outside, without a sign, and a
litre of hydrogen at 30 bar throws it as far as the room is wide. Hydrogen burns with it.

**Example**

    materials
      pdc:  palladium, 10 wt% on carbon, 5 mol%
      meoh: methanol, 40 mL
    steps
      purge flask with argon for 5 min
      add pdc, meoh, ketone
      fill flask with hydrogen to 30 bar

**Write instead** a vessel that is rated for the pressure

    equipment
      flask: 300 mL steel autoclave

and test it, put it behind a shield, and let it down slowly before it is opened. With a balloon the hydrogen stays at the
pressure of the room. The rating of the vessel, the rules of your laboratory and a trained supervisor decide.

**Sources.** No pressure on vessels that are not designed and tested for it: National Research Council, *Prudent
Practices in the Laboratory*, 1995, pages 125 and 127. The 1.5 bar are an assumption, which leaves room for a pressure
that is written as an absolute one, or as that of the room.
";

/// Bar from which it is no pressure of the room (an assumption).
const MOST: f64 = 1.5;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut said = vec![false; plan.apparatus.len()];
    for moment in &plan.moments {
        let Some((clause, pressed, bar)) = sensitive::clause(plan, moment)
            .filter(|clause| takes_gas(clause.verb))
            .and_then(|clause| {
                let (quantity, bar) = pressed(plan, clause, moment.line)?;
                Some((clause, quantity, bar))
            })
        else {
            continue;
        };
        let named = acted_on(plan, moment, clause).into_iter();
        let mut vessels: Vec<usize> = named.map(|(index, _)| index).collect();
        if vessels.is_empty() {
            vessels.push(moment.vessel);
        }
        for vessel in vessels {
            let Some(said) = said.get_mut(vessel).filter(|said| !**said) else {
                continue;
            };
            if !is_plain_glass(plan, vessel) {
                continue;
            }
            *said = true;
            let flask = sensitive::name(plan, vessel);
            let message = format!(
                "{flask} is not said to be made for pressure, and glass that is not bursts at {} bar: use an autoclave or a vessel that is rated for it, behind a shield.",
                sensitive::figures(bar, 2)
            );
            let at = At {
                line: moment.line,
                span: pressed.span,
            };
            let mut finding = Finding::new(&CHECK, at, message);
            if let Some(line) = sensitive::listed(plan, vessel).and_then(|item| item.line) {
                finding = finding.related(sensitive::line_at(plan, line), "listed here");
            }
            findings.push(finding);
        }
    }
}

/// Gas goes in, or the vessel stands under it; not what is pressed through a filter or a column.
fn takes_gas(verb: Verb) -> bool {
    matches!(
        verb,
        Verb::Fill
            | Verb::Purge
            | Verb::Charge
            | Verb::Add
            | Verb::EvacuateAndRefill
            | Verb::Stir
            | Verb::Hold
            | Verb::Heat
            | Verb::Warm
            | Verb::Wait
    )
}

/// The pressure that the clause brings its vessel to, and how many bar that is.
fn pressed<'a>(plan: &Plan, clause: &'a Clause, line: u32) -> Option<(&'a Quantity, f64)> {
    let feeds = clause.verb == Verb::Fill
        || takes::things(clause).any(|(_, thing)| gas_name(thing, &plan.materials).is_some());
    let modifiers = clause.modifiers.iter();
    let found = modifiers.filter_map(|modifier| match &modifier.kind {
        ModifierKind::Pressure(kind, quantity)
            if feeds || *kind == PressureKind::To || clause.verb == Verb::Stir =>
        {
            let pressure = convert::pressure(quantity, line)?.value;
            Some((quantity, pressure.get::<pressure::bar>()))
        }
        _ => None,
    });
    found
        .filter(|(_, bar)| *bar > MOST)
        .max_by(|a, b| a.1.total_cmp(&b.1))
}

/// Its line calls it glassware, and neither it nor the plan speaks of what is made for pressure.
fn is_plain_glass(plan: &Survey<'_>, vessel: usize) -> bool {
    let Some(item) = sensitive::listed(plan, vessel) else {
        return false;
    };
    let glass = ["flask", "vial", "schlenk", "beaker", "ampoule", "glass"];
    let metal = ["steel", "metal", "lined", "liner"];
    glass.iter().any(|word| item.lower.contains(word))
        && !metal.iter().any(|word| item.lower.contains(word))
        && way_out(plan, vessel, u32::MAX) != WayOut::Pressure
        && !may_stand_in_another(plan)
}

/// The plan speaks of an autoclave, or lists a hydrogenator: the glass may stand in it.
fn may_stand_in_another(plan: &Survey<'_>) -> bool {
    let words = ["autoclave", "pressure vessel", "pressure reactor"];
    let listed = |item: &plan::vessel::Apparatus| item.lower.contains("hydrogenat");
    words.iter().any(|word| plan.says(word)) || plan.apparatus.iter().any(listed)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::expect;

    fn plan(flask: &str, steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!("\nplan Test of a hydrogenation\nequipment\n  flask: {flask}\nsteps\n{steps}")
    }

    #[test]
    fn finds_glass_under_pressure() {
        for (flask, steps) in [
            (
                "100 mL round-bottom flask, stir bar",
                "  fill with hydrogen to 30 bar\n                        ^^^^^^ error: flask is not said to be made for pressure, and glass that is not bursts at 30 bar: use an autoclave\n",
            ),
            (
                "20 mL vial, septum",
                "  fill flask with hydrogen to 5 bar\n                              ^^^^^ error: flask is not said\n",
            ),
            (
                "50 mL Schlenk flask",
                "  stir under hydrogen at 20 bar for 4 h\n                         ^^^^^^ error: flask is not said\n  fill with hydrogen to 30 bar\n",
            ),
        ] {
            expect(&CHECK, &plan(flask, steps));
        }
    }

    #[test]
    fn is_silent_for_vessels_that_are_made_for_it_and_for_the_pressure_of_the_room() {
        for (flask, steps) in [
            ("100 mL autoclave", "fill with hydrogen to 30 bar"),
            (
                "100 mL steel pressure reactor",
                "fill with hydrogen to 30 bar",
            ),
            (
                "100 mL flask, rated to 10 bar",
                "fill with hydrogen to 5 bar",
            ),
            (
                "100 mL thick-walled glass vessel",
                "fill with hydrogen to 3 bar",
            ),
            (
                "20 mL vial, in an autoclave",
                "fill with hydrogen to 30 bar",
            ),
            ("500 mL hydrogenation flask", "fill with hydrogen to 3 bar"),
            ("100 mL flask", "fill with hydrogen to 1 bar"),
            ("100 mL flask", "fill with hydrogen to 1.01 bar"),
            ("100 mL flask", "stir under hydrogen for 4 h"),
            ("100 mL flask", "concentrate at 40 °C, 100 mbar"),
        ] {
            expect(&CHECK, &plan(flask, &format!("  {steps}\n")));
        }
    }
}
