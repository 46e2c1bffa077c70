//! A vessel that was closed is opened before it is cold.

use crate::Survey;
use crate::acted_on::acted_on;
use crate::closed_and_heated::vapour;
use crate::edit;
use crate::quench_too_hot::is_cooled_in_words;
use crate::sensitive;
use crate::{Check, Finding};
use plan::vessel::{Opening, celsius};
use syntax::Verb;

pub(crate) const CHECK: Check = Check {
    name: "opened-hot",
    severity: crate::Severity::Warning,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Opened while it is hot

**Finds** `open` of a vessel that the plan has sealed and heated, where the steps leave it at 80 °C or more, or where the
vapour of what it holds comes to half of the pressure of the air or more.

Silent where a step has cooled it, also in words without degrees; for what a microwave reactor heats, which cools it; where nothing liquid is in it; where its temperature is
not known.

**Why it matters.** What was sealed is under pressure as long as it is hot, and boils as the pressure leaves: hot solvent
comes out with it, to the hands that open it.

**Example**

    equipment
      tube: 20 mL pressure tube
    steps
      add toluene 5 mL, ketone to tube
      seal tube
      heat tube to 100 °C for 16 h
      open tube

**Write instead**

    steps
      add toluene 5 mL, ketone to tube
      seal tube
      heat tube to 100 °C for 16 h
      cool tube to rt
      open tube

The rules of your laboratory and a trained supervisor decide.

**Sources.** Common practice. Vapour pressures as in `closed-and-heated`; the 80 °C and the half of the pressure of the
air are assumptions.
";

/// Degrees Celsius from which it speaks, whatever boils (an assumption).
const HOT: f64 = 80.0;

/// Atmospheres of vapour from which it speaks (an assumption).
const VAPOUR: f64 = 0.5;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for moment in &plan.moments {
        let Some(clause) =
            sensitive::clause(plan, moment).filter(|clause| clause.verb == Verb::Open)
        else {
            continue;
        };
        for (vessel, at) in acted_on(plan, moment, clause) {
            let Some(state) = moment.before.get(vessel) else {
                continue;
            };
            let Opening::Closed { line } = state.opening else {
                continue;
            };
            let Some(t) = state.known_temperature() else {
                continue;
            };
            let wet = state.contents.iter().any(|c| c.is_liquid(&plan.materials));
            let steams = vapour(plan, state, t).is_some_and(|(_, vapour)| vapour >= VAPOUR);
            let warm = t > plan.room.temperature && (steams || celsius(t) >= HOT);
            if !wet
                || !warm
                || is_cooled_in_words(plan, line, moment.line)
                || cools_by_itself(plan, vessel)
            {
                continue;
            }
            let flask = sensitive::name(plan, vessel);
            let message = format!(
                "{flask} was sealed and is still at {:.0} °C: it boils over as it is opened; let it cool first.",
                celsius(t)
            );
            let mut finding = Finding::new(&CHECK, at, message)
                .related(sensitive::line_at(plan, line), "closed here");
            if sensitive::listed(plan, vessel).is_some()
                && let Some(edit) =
                    edit::insert_before(plan, moment.line, &[format!("cool {flask} to rt")])
            {
                finding = finding.fix(format!("Cool {flask} first"), vec![edit]);
            }
            findings.push(finding);
        }
    }
}

/// A microwave reactor opens when it has cooled what is in it.
fn cools_by_itself(plan: &Survey<'_>, vessel: usize) -> bool {
    let item = plan.apparatus.get(vessel);
    item.is_some_and(|item| item.lower.contains("microwave"))
        || plan.says("in a microwave")
        || plan.says("in the microwave")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!("\nplan Test\nequipment\n  tube: 20 mL pressure tube\nsteps\n{steps}")
    }

    #[test]
    fn finds_a_hot_tube_that_is_opened() {
        let before = "
  add toluene 5 mL
  seal tube
  heat to 100 °C for 16 h
  open tube
       ^^^^ warning: tube was sealed and is still at 100 °C
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add toluene 5 mL\n  seal tube\n  heat to 100 °C for 16 h\n  cool tube to rt\n  open tube\n",
            ),
        );
        // Below 80 °C, and above its boiling point.
        expect(
            &CHECK,
            &plan(
                "
  add dichloromethane 5 mL
  seal tube
  heat to 50 °C for 16 h
  open tube
       ^^^^ warning: tube was sealed and is still at 50 °C
",
            ),
        );
    }

    #[test]
    fn is_silent_for_what_is_cold_or_was_never_closed() {
        for steps in [
            "add toluene 5 mL\n  seal tube\n  heat to 100 °C for 16 h\n  cool to rt\n  open tube",
            "add toluene 5 mL\n  seal tube\n  heat to 100 °C for 16 h\n  let it cool in ice\n  open tube",
            "add toluene 5 mL\n  seal tube\n  heat to 100 °C for 16 h\n  cool\n  open tube",
            "add toluene 5 mL\n  heat to 100 °C for 16 h\n  open tube",
            "add toluene 5 mL\n  seal tube\n  stir for 16 h\n  open tube",
            "add toluene 5 mL\n  seal tube\n  heat to 60 °C for 16 h\n  open tube",
            "seal tube\n  heat to 120 °C for 16 h\n  open tube",
            "add toluene 5 mL\n  seal tube\n  heat to 100 °C for 30 min in the microwave\n  open tube",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
