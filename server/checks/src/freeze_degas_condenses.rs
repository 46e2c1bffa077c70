//! Liquid nitrogen around a vessel that air or argon can enter.

use crate::Survey;
use crate::acted_on::acted_on;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use plan::vessel::{Gas, Moment, Opening, VesselState, celsius};
use plan::{Plan, convert};
use syntax::{Clause, ModifierKind, TemperatureKind, TemperatureValue, Verb};

pub(crate) const CHECK: Check = Check {
    name: "freeze-degas-condenses",
    severity: Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Liquid nitrogen condenses air or argon

**Finds** a vessel or a trap that goes into liquid nitrogen (the step says so, or a temperature of
-183 °C or below) while it is open to air or on a line of argon: an error. Where the plan does not
say how the vessel stands, a warning.

Silent for a vessel that is under vacuum or sealed, or under nitrogen or helium; for a step that
says freeze, pump, thaw; for any warmer bath.

**Why it matters.** Liquid nitrogen boils at -196 °C, oxygen at -183 °C, argon at -186 °C: both run
into the cold vessel as long as there is more of them. Liquid oxygen on organic matter can go off.
Liquid argon, once the tap is closed and the bath is away, turns into over 800 times its volume
of gas and bursts the flask.

**Example**

    steps
      add thf 20 mL
      purge flask with argon for 5 min
      cool flask to -196 °C
      evacuate flask

**Write instead**

    steps
      add thf 20 mL
      purge flask with argon for 5 min
      seal flask
      cool flask to -196 °C
      evacuate flask
      seal flask
      warm flask to rt

Close the tap before the bath comes, pump only when all is frozen, and thaw closed with room to
expand. On a vacuum line, start the pump first, cool the trap then; take the bath away before air
is let in. A light blue liquid in the trap is oxygen: leave the bath and the pump on, clear the
room, and fetch your supervisor. The rules of your laboratory and trained supervision decide.

**Sources.** Normal boiling points: *CRC Handbook of Chemistry and Physics*, from memory. Ratio of
volumes for argon: density of the liquid 1.40 g/mL over that of the gas at 21 °C, 1.65 g/L, both
from memory. The order of the steps is common practice.
";

/// Boiling point of oxygen, °C.
const OXYGEN_BOILS: f64 = -183.0;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut said = vec![false; plan.apparatus.len()];
    for moment in &plan.moments {
        let Some(clause) = sensitive::clause(plan, moment).filter(|c| freezes(c)) else {
            continue;
        };
        for (index, at) in acted_on(plan, moment, clause) {
            let Some((state, said)) = moment.before.get(index).zip(said.get_mut(index)) else {
                continue;
            };
            let Some(severity) =
                danger(state).filter(|_| !*said && !is_pumped_frozen(plan, moment, state))
            else {
                continue;
            };
            *said = true;
            let message = message(plan, index, state);
            let mut finding = Finding::new(&CHECK, at, message).severity(severity);
            if sensitive::listed(plan, index).is_some() {
                let flask = sensitive::name(plan, index);
                let (title, step) = if is_trap(plan, index) {
                    (
                        format!("Evacuate {flask} first"),
                        format!("evacuate {flask}"),
                    )
                } else {
                    (format!("Seal {flask} first"), format!("seal {flask}"))
                };
                if let Some(edit) = edit::insert_before(plan, moment.line, &[step]) {
                    finding = finding.fix(title, vec![edit]);
                }
            }
            findings.push(finding);
        }
    }
}

/// Freezing, pumping and thawing by its name is done closed, unless the plan has the vessel open.
fn is_pumped_frozen(plan: &Plan, moment: &Moment, state: &VesselState) -> bool {
    let line = sensitive::line_at(plan, moment.line);
    let words = plan
        .slice(line.line, line.span)
        .unwrap_or("")
        .to_lowercase();
    let open = matches!(state.gas, Gas::Air { said: true, .. }) || state.opening == Opening::Open;
    words.contains("freeze") && words.contains("thaw") && !open
}

fn danger(state: &VesselState) -> Option<Severity> {
    if matches!(state.opening, Opening::Closed { .. }) {
        return None;
    }
    match &state.gas {
        Gas::Vacuum { .. } => None,
        Gas::Filled { gas, .. } => {
            matches!(&*gas.to_lowercase(), "argon" | "air" | "oxygen").then_some(Severity::Error)
        }
        Gas::Air { said: true, .. } => Some(Severity::Error),
        Gas::Air { said: false, .. } if state.opening == Opening::Open => Some(Severity::Error),
        Gas::Air { said: false, .. } => Some(Severity::Warning),
    }
}

fn message(plan: &Plan, index: usize, state: &VesselState) -> String {
    let flask = sensitive::name(plan, index);
    let remedy = if is_trap(plan, index) {
        "start the pump first, cool it then, and take the bath away before air is let in."
    } else {
        "close it before the bath comes, pump only when all is frozen, and thaw it closed with room to expand."
    };
    match &state.gas {
        Gas::Filled { gas, .. } => format!(
            "Liquid nitrogen condenses {gas}, and {flask} is filled with it and not closed: {remedy}"
        ),
        Gas::Air { said: false, .. } if state.opening != Opening::Open => format!(
            "Liquid nitrogen condenses the oxygen of air, and the plan does not say that {flask} is closed or under vacuum: {remedy}"
        ),
        _ => format!(
            "Liquid nitrogen condenses the oxygen of air, and {flask} is open to it: {remedy}"
        ),
    }
}

fn is_trap(plan: &Plan, index: usize) -> bool {
    plan.apparatus
        .get(index)
        .is_some_and(|item| item.head.contains("trap"))
}

/// Into liquid nitrogen, by its name or by the temperature.
fn freezes(clause: &Clause) -> bool {
    if !matches!(
        clause.verb,
        Verb::Cool | Verb::Hold | Verb::Keep | Verb::Degas | Verb::Stir
    ) {
        return false;
    }
    clause
        .modifiers
        .iter()
        .any(|modifier| match &modifier.kind {
            ModifierKind::Temperature(
                TemperatureKind::At | TemperatureKind::To | TemperatureKind::Bath,
                TemperatureValue::Quantity(quantity),
            ) => convert::temperature(quantity).is_some_and(|t| celsius(t) <= OXYGEN_BOILS),
            ModifierKind::DissolvedIn(things) | ModifierKind::With(things) => things
                .iter()
                .any(|thing| is_liquid_nitrogen(&thing.name.text)),
            ModifierKind::Place(thing) => is_liquid_nitrogen(&thing.name.text),
            ModifierKind::Remark(text) => is_liquid_nitrogen(&text.text),
            _ => false,
        })
}

fn is_liquid_nitrogen(text: &str) -> bool {
    let text = text.to_lowercase();
    let names = [
        "liquid nitrogen",
        "liquid n2",
        "liquid n₂",
        "liq. n2",
        "ln2",
    ];
    names.iter().any(|name| text.contains(name))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "\nplan Test\nequipment\n  flask: 100 mL Schlenk flask\n  trap: cold trap\nsteps\n  add toluene 20 mL\n{steps}"
        )
    }

    #[test]
    fn finds_argon_and_air() {
        let before = "
  purge flask with argon for 5 min
  cool flask to -196 °C
       ^^^^^ error: Liquid nitrogen condenses argon, and flask is filled with it
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan("  purge flask with argon for 5 min\n  seal flask\n  cool flask to -196 °C\n"),
        );
        expect(
            &CHECK,
            &plan(
                "
  open flask
  cool flask in liquid nitrogen
       ^^^^^ error: Liquid nitrogen condenses the oxygen of air, and flask is open
",
            ),
        );
    }

    #[test]
    fn finds_a_flask_that_is_kept_in_it() {
        expect(
            &CHECK,
            &plan(
                "
  purge flask with argon for 5 min
  keep flask in liquid nitrogen for 10 min
       ^^^^^ error: Liquid nitrogen condenses argon
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "
  open flask
  degas flask by freeze-pump-thaw in liquid nitrogen, 3 cycles
        ^^^^^ error: Liquid nitrogen condenses the oxygen of air
",
            ),
        );
    }

    #[test]
    fn asks_where_nothing_is_said() {
        expect(
            &CHECK,
            &plan(
                "
  cool, liquid nitrogen bath
  ^^^^ warning: Liquid nitrogen condenses the oxygen of air, and the plan does not say that flask
",
            ),
        );
    }

    #[test]
    fn a_trap_is_evacuated_first() {
        let before = "
  cool trap with liquid nitrogen
       ^^^^ warning: Liquid nitrogen condenses
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan("  evacuate trap\n  cool trap with liquid nitrogen\n"),
        );
    }

    #[test]
    fn is_silent_for_closed_and_pumped_vessels_and_warmer_baths() {
        for steps in [
            "seal flask\n  cool flask to -196 °C\n  evacuate flask\n  warm to rt",
            "purge flask with argon for 5 min\n  seal flask\n  cool flask in liquid nitrogen",
            "evacuate flask\n  cool flask to -196 °C",
            "purge flask with nitrogen for 5 min\n  cool flask to -196 °C",
            "purge flask with argon for 5 min\n  cool flask to -78 °C",
            "evacuate trap\n  cool trap in liquid nitrogen",
            "note liquid nitrogen is delivered on Mondays",
            "purge flask with argon for 5 min\n  degas flask by freeze-pump-thaw in liquid nitrogen, 3 cycles",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
