//! A vessel is poured from before anything is in it.

use crate::Survey;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use plan::vessel::Moment;
use plan::{At, Plan};
use syntax::{EquipmentKind, Referent, Thing, Verb};

pub(crate) const CHECK: Check = Check {
    name: "used-before-made",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Used before it is made

**Finds** a step that transfers, pours or adds what is in a flask, a vial or a funnel while nothing
is in it yet, and a later step fills it.

Silent where no later step puts anything in; for syringes, balloons, columns and traps; where a step
before could not be followed.

**Why it matters.** Mostly two lines have changed places. On the bench it is noticed when the rest of
the mixture waits.

**Example**

    steps
      transfer vial to flask
      in vial
      dissolve ketone in thf 4 mL

**Write instead** the steps that fill the vial above the one that empties it.

**Sources.** It follows from the steps.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut said = vec![false; plan.apparatus.len()];
    for (index, moment) in plan.moments.iter().enumerate() {
        let Some(clause) = sensitive::clause(plan, moment) else {
            continue;
        };
        if !matches!(clause.verb, Verb::Transfer | Verb::Pour | Verb::Add) {
            continue;
        }
        for thing in &clause.objects {
            let Some(source) = holder(plan, thing).filter(|&source| source != moment.vessel) else {
                continue;
            };
            let empty = moment
                .before
                .get(source)
                .is_some_and(|state| state.contents.is_empty() && !state.unclear);
            // Once something was in it, what is empty was emptied.
            let ever = plan
                .moments
                .iter()
                .take(index)
                .any(|earlier| holds(earlier, source));
            if !empty || ever || said.get(source).copied().unwrap_or(true) {
                continue;
            }
            let Some(filled) = plan
                .moments
                .iter()
                .skip(index + 1)
                .find(|m| holds(m, source))
            else {
                continue;
            };
            if let Some(said) = said.get_mut(source) {
                *said = true;
            }
            let name = sensitive::name(plan, source);
            let message = format!(
                "Nothing is in {name} yet; line {} fills it: move this step below that one.",
                filled.line + 1
            );
            let at = At {
                line: moment.line,
                span: thing.name.span,
            };
            findings.push(
                Finding::new(&CHECK, at, message)
                    .related(sensitive::line_at(plan, filled.line), "filled here"),
            );
        }
    }
}

fn holds(moment: &Moment, vessel: usize) -> bool {
    moment
        .after
        .get(vessel)
        .is_some_and(|state| !state.contents.is_empty() || state.unclear)
}

/// A flask, vial, funnel or beaker that the thing names.
fn holder(plan: &Plan, thing: &Thing) -> Option<usize> {
    let Referent::Key(id) = thing.referent else {
        return None;
    };
    plan.apparatus.iter().position(|item| {
        let head = item.head.to_lowercase();
        let pours = item.kind == EquipmentKind::Vessel
            || ["vial", "funnel", "beaker", "bottle"]
                .iter()
                .any(|kind| head.starts_with(kind));
        item.id == Some(id) && pours
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::expect;

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  thf: tetrahydrofuran, 40 mL
equipment
  flask: 100 mL flask
  vial: 20 mL vial
  syringe: 5 mL syringe
steps
{steps}"
        )
    }

    #[test]
    fn finds_a_vessel_that_is_filled_later() {
        expect(
            &CHECK,
            &plan(
                "
  add thf 20 mL
  transfer vial to flask dropwise
           ^^^^ error: Nothing is in vial yet; line 14 fills it
  in vial
  dissolve ketone in thf 4 mL
",
            ),
        );
    }

    #[test]
    fn is_silent_where_it_was_filled_or_never_is() {
        for steps in [
            "in vial\n  add ketone, thf 4 mL\n  in flask\n  transfer vial to flask",
            "transfer vial to flask",
            "in vial\n  add thf 4 mL\n  in flask\n  transfer vial to flask\n  transfer vial to flask\n  in vial\n  add thf 4 mL",
            "add syringe to flask\n  add thf 4 mL to syringe",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
