//! Gas goes into a vessel, and the plan says of nothing that lets it out.

use crate::Survey;
use crate::acted_on::acted_on;
use crate::closed_and_heated::{WayOut, way_out};
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use plan::vessel::{Gas, Moment, Opening, gas_name};
use plan::{At, Plan, takes};
use std::cell::OnceCell;
use syntax::{Clause, ModifierKind, Sense, Verb};

pub(crate) const CHECK: Check = Check {
    name: "inert-gas-without-outlet",
    severity: Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Gas without an outlet

**Finds** `purge`, `sparge`, `degas` or `fill` with a gas on a vessel that the plan has sealed: an
error. A warning where gas flows into a vessel with a septum or a cap, or through a needle, and no
bubbler, outlet, vent, relief, open neck or Schlenk line stands anywhere in the plan, nor a condenser on the vessel.

Silent for evacuating and refilling, for filling what is under vacuum, after `open` or `vent`, and for autoclaves and other
vessels that are made for pressure, which are filled and let down.

**Why it matters.** A cylinder has a hundred times the pressure that a flask bears. A flask with a
needle in and none out goes up to what the regulator gives, and bursts or throws its septum, with
what is in it.

**Example**

    steps
      seal vial
      purge vial with argon for 5 min

**Write instead**

    steps
      seal vial
      vent vial through bubbler
      purge vial with argon for 5 min

Put the outlet on first, then open the tap; close the tap first, then take the outlet off. The
rules of your laboratory and a trained supervisor decide.

**Sources.** Common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut warned = vec![false; plan.apparatus.len()];
    let relief = OnceCell::new();
    for moment in &plan.moments {
        let Some(clause) = sensitive::clause(plan, moment) else {
            continue;
        };
        if !feeds_gas(plan, clause) {
            continue;
        }
        for (index, at) in fed(plan, moment, clause) {
            let Some(state) = moment.before.get(index) else {
                continue;
            };
            let Some(warned) = warned.get_mut(index) else {
                continue;
            };
            if *warned
                || matches!(state.gas, Gas::Vacuum { .. })
                || has_outlet(clause)
                || is_pressed(plan, index, clause)
            {
                continue;
            }
            let severity = match state.opening {
                Opening::Closed { .. } => Severity::Error,
                Opening::Unsaid
                    if is_plugged(plan, index, clause)
                        && !*relief.get_or_init(|| relief_in_plan(plan)) =>
                {
                    Severity::Warning
                }
                _ => continue,
            };
            *warned = true;
            let flask = sensitive::name(plan, index);
            let message = format!(
                "Gas goes into {flask} and nothing lets it out: put an outlet needle or a bubbler on it before opening the tap."
            );
            let mut finding = Finding::new(&CHECK, at, message).severity(severity);
            if let Opening::Closed { line } = state.opening {
                finding = finding.related(sensitive::line_at(plan, line), "closed here");
            }
            let steps = [format!("vent {flask} through bubbler")];
            if sensitive::listed(plan, index).is_some()
                && let Some(edit) = edit::insert_before(plan, moment.line, &steps)
            {
                finding = finding.fix(format!("Vent {flask} through a bubbler"), vec![edit]);
            }
            findings.push(finding);
        }
    }
}

/// A flow of gas under pressure; a vacuum that is let down with gas is none.
fn feeds_gas(plan: &Plan, clause: &Clause) -> bool {
    let gas = || takes::things(clause).any(|(_, thing)| gas_name(thing, &plan.materials).is_some());
    let flow = !clause.senses.contains(&Sense::Cycles);
    let feeds = matches!(
        clause.verb,
        Verb::Purge | Verb::Sparge | Verb::Degas | Verb::Fill
    );
    feeds && flow && gas()
}

/// An autoclave is filled and let down; a tube that is made for pressure is, where the step says to what.
fn is_pressed(plan: &Plan, index: usize, clause: &Clause) -> bool {
    let text = plan.apparatus.get(index).map_or("", |item| &item.lower);
    let made_for_it = ["autoclave", "reactor", "bomb", "pressure vessel"];
    let says = clause
        .modifiers
        .iter()
        .any(|modifier| matches!(modifier.kind, ModifierKind::Pressure(..)));
    made_for_it.iter().any(|word| text.contains(word))
        || says && way_out(plan, index, u32::MAX) == WayOut::Pressure
}

/// What gets the gas. A balloon that is filled is meant to keep it.
fn fed(plan: &Plan, moment: &Moment, clause: &Clause) -> Vec<(usize, At)> {
    let is_balloon = |index: usize| {
        plan.apparatus
            .get(index)
            .is_some_and(|item| item.text.contains("balloon"))
    };
    let mut items = acted_on(plan, moment, clause);
    if !clause.objects.is_empty() {
        items.retain(|(index, _)| !is_balloon(*index));
    }
    items
}

/// The clause itself names a way out.
fn has_outlet(clause: &Clause) -> bool {
    let words = ["outlet", "vent", "bubbler", "exit", "relief", "two needles"];
    clause.modifiers.iter().any(|modifier| {
        let things = match &modifier.kind {
            ModifierKind::Via(things)
            | ModifierKind::With(things)
            | ModifierKind::Through(things)
            | ModifierKind::Under(things)
            | ModifierKind::Other(_, things) => things.as_slice(),
            ModifierKind::Remark(text) => return words.iter().any(|word| text.text.contains(word)),
            _ => return false,
        };
        things
            .iter()
            .any(|thing| words.iter().any(|word| thing.name.text.contains(word)))
    })
}

/// A septum or cap closes the vessel, or the gas comes through a needle.
fn is_plugged(plan: &Plan, index: usize, clause: &Clause) -> bool {
    let text = plan.apparatus.get(index).map_or("", |item| &item.lower);
    // Its upper end is open.
    if text.contains("condenser") {
        return false;
    }
    let needle = clause
        .modifiers
        .iter()
        .any(|modifier| match &modifier.kind {
            ModifierKind::Via(things) => things
                .iter()
                .any(|thing| thing.name.text.contains("needle")),
            _ => false,
        });
    needle
        || ["septum", "septa", "stopper", "cap"]
            .iter()
            .any(|word| text.split(|c: char| !c.is_alphabetic()).any(|w| w == *word))
}

/// A bubbler, outlet or line with its own relief stands somewhere in the plan.
fn relief_in_plan(plan: &Survey<'_>) -> bool {
    let text = plan.lower();
    let is_word = |(at, word): (usize, &str)| {
        let letter = |c: char| c.is_alphabetic();
        let (before, after) = (&text[..at], &text[at + word.len()..]);
        !before.ends_with(letter) && !after.starts_with(letter)
    };
    let ways = [
        "bubbler", "outlet", "vent", "vented", "relief", "schlenk", "manifold",
    ];
    ways.iter().any(|way| text.match_indices(way).any(is_word))
        || ["gas line", "open neck", "drying tube"]
            .iter()
            .any(|way| text.contains(way))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(flask: &str, steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!("\nplan Test\nequipment\n  flask: {flask}\nsteps\n{steps}")
    }

    #[test]
    fn finds_gas_into_a_sealed_vessel() {
        let before = "
  seal flask
  purge flask with argon for 5 min
        ^^^^^ error: Gas goes into flask and nothing lets it out
";
        expect(&CHECK, &plan("100 mL flask, bubbler", before));
        expect_fixed(
            &CHECK,
            &plan("100 mL flask", before),
            0,
            &plan(
                "100 mL flask",
                "  seal flask\n  vent flask through bubbler\n  purge flask with argon for 5 min\n",
            ),
        );
    }

    #[test]
    fn asks_for_an_outlet_at_a_septum() {
        expect(
            &CHECK,
            &plan(
                "20 mL vial, septum",
                "
  purge flask with argon for 5 min
        ^^^^^ warning: Gas goes into flask
  sparge flask with argon for 5 min
",
            ),
        );
    }

    #[test]
    fn is_silent_where_gas_can_leave() {
        for (flask, steps) in [
            ("100 mL flask", "purge flask with argon for 5 min"),
            (
                "100 mL flask, septum, bubbler",
                "purge flask with argon for 5 min",
            ),
            (
                "100 mL flask, septum, outlet needle",
                "purge flask with argon for 5 min",
            ),
            (
                "100 mL flask, septum",
                "vent flask through bubbler\n  purge flask with argon for 5 min",
            ),
            (
                "100 mL flask, septum",
                "open flask\n  purge flask with argon for 5 min",
            ),
            (
                "100 mL three-neck flask, condenser, septum",
                "sparge flask with nitrogen for 20 min",
            ),
            (
                "100 mL Schlenk flask, septum",
                "purge flask with argon for 5 min",
            ),
            (
                "100 mL flask, septum",
                "evacuate and refill flask with argon, 3 cycles, 1 mbar",
            ),
            (
                "100 mL flask, septum",
                "seal flask\n  evacuate flask for 5 min\n  fill flask with argon",
            ),
            (
                "100 mL flask, septum",
                "seal flask\n  open flask\n  purge flask with argon for 5 min",
            ),
            (
                "100 mL steel autoclave",
                "seal flask\n  purge flask with hydrogen, 3 x 5 bar\n  fill flask with hydrogen to 30 bar",
            ),
            (
                "100 mL pressure tube, septum",
                "seal flask\n  fill flask with hydrogen to 3 bar",
            ),
        ] {
            expect(&CHECK, &plan(flask, &format!("  {steps}\n")));
        }
    }

    #[test]
    fn a_solvent_is_no_vent() {
        let text = plan(
            "20 mL reaction flask, septum",
            "  add solvent\n  purge with argon for 5 min\n",
        )
        .replace(
            "equipment",
            "materials\n  solvent: toluene, solvent, 5 mL\nequipment",
        )
        .replace("5 min\n", "5 min\n  ^^^^^ warning: Gas goes into flask\n");
        expect(&CHECK, &text);
    }
}
