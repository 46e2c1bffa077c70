//! A vessel is poured from before anything is in it.

use crate::Survey;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use plan::vessel::Moment;
use plan::{At, Plan, takes};
use syntax::{EquipmentKind, Referent, Statement, Thing, Verb};

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
is in it yet: an error where a later step fills it, a warning where none does.

Silent where something was in it before; where the plan says something of it that cannot be followed, in a note or in
a step of another kind; for syringes, balloons, columns and traps.

**Why it matters.** Mostly two lines have changed places, or one was forgotten. On the bench it is noticed when the rest of
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
            if let Some(said) = said.get_mut(source) {
                *said = true;
            }
            let at = At {
                line: moment.line,
                span: thing.name.span,
            };
            let name = sensitive::name(plan, source);
            let later = plan.moments.iter().skip(index + 1);
            if let Some(filled) = later.into_iter().find(|m| fills(m, source)) {
                let message = format!(
                    "Nothing is in {name} yet; line {} fills it: move this step below that one.",
                    filled.line + 1
                );
                findings.push(
                    Finding::new(&CHECK, at, message)
                        .related(sensitive::line_at(plan, filled.line), "filled here"),
                );
            } else if is_followed(plan, index, source) {
                let message = format!(
                    "Nothing is in {name}, and no step fills it: write the step that does above this one."
                );
                findings.push(Finding::new(&CHECK, at, message).severity(Severity::Warning));
            }
        }
    }
}

fn holds(moment: &Moment, vessel: usize) -> bool {
    moment
        .after
        .get(vessel)
        .is_some_and(|state| !state.contents.is_empty() || state.unclear)
}

fn fills(moment: &Moment, vessel: usize) -> bool {
    let states = moment.before.get(vessel).zip(moment.after.get(vessel));
    states.is_some_and(|(before, after)| before.contents.is_empty() && !after.contents.is_empty())
}

/// Whether all that was said of the vessel so far is known to put nothing in.
fn is_followed(plan: &Plan, until: usize, vessel: usize) -> bool {
    let Some(item) = sensitive::listed(plan, vessel) else {
        return false;
    };
    if [" with ", " of ", " containing "]
        .iter()
        .any(|word| item.text.contains(word))
    {
        return false;
    }
    let Some(here) = plan.moments.get(until).map(|moment| moment.line) else {
        return false;
    };
    let lines_read = plan
        .text
        .lines
        .iter()
        .take(here as usize)
        .all(|line| match &line.statement {
            Statement::Unread(_) => false,
            Statement::Remark(_, text) => !text
                .as_ref()
                .is_some_and(|text| text.text.contains(&*item.name)),
            Statement::Place(place) => !place
                .thing
                .as_ref()
                .is_some_and(|thing| thing.referent == Referent::Unknown),
            _ => true,
        });
    lines_read
        && plan.moments.iter().take(until).all(|moment| {
            let Some(clause) = sensitive::clause(plan, moment) else {
                return false;
            };
            let things = || takes::things(clause).map(|(_, thing)| thing);
            let concerned = moment.vessel == vessel
                || things().any(|thing| holder(plan, thing) == Some(vessel));
            things().all(|thing| thing.referent != Referent::Unknown)
                && (!concerned || brings_nothing(clause.verb))
        })
}

/// Verbs that leave an empty vessel empty.
fn brings_nothing(verb: Verb) -> bool {
    matches!(
        verb,
        Verb::Wash
            | Verb::Rinse
            | Verb::Drain
            | Verb::AirDry
            | Verb::Dry
            | Verb::FlameDry
            | Verb::Bake
            | Verb::Assemble
            | Verb::Attach
            | Verb::Cool
            | Verb::Warm
            | Verb::Heat
            | Verb::Evacuate
            | Verb::EvacuateAndRefill
            | Verb::Purge
            | Verb::Sparge
            | Verb::Vent
            | Verb::Open
            | Verb::Seal
            | Verb::Stir
            | Verb::Wait
    )
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
    fn finds_a_vessel_that_is_never_filled() {
        expect(
            &CHECK,
            &plan(
                "
  in vial
  purge with argon for 5 min
  in flask
  transfer vial 3 mL to flask dropwise
           ^^^^ warning: Nothing is in vial, and no step fills it
  add thf 20 mL
  transfer vial to flask
",
            ),
        );
    }

    #[test]
    fn is_silent_where_it_was_filled_or_never_is() {
        for steps in [
            "in vial\n  add ketone, thf 4 mL\n  in flask\n  transfer vial to flask",
            "note weigh the ketone into vial\n  transfer vial to flask",
            "in vial\n  weigh ketone\n  in flask\n  transfer vial to flask",
            "in vail\n  add ketone\n  in flask\n  transfer vial to flask",
            "in vial\n  dissolve keton in thf 4 mL\n  in flask\n  transfer vial to flask",
            "in vial\n  add thf 4 mL\n  in flask\n  transfer vial to flask\n  transfer vial to flask\n  in vial\n  add thf 4 mL",
            "add syringe to flask\n  add thf 4 mL to syringe",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
