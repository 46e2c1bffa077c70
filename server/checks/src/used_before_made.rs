//! A vessel is poured from before anything is in it.

use crate::Survey;
use crate::{Check, Finding, Severity};
use crate::{edit, sensitive};
use plan::vessel::{Content, Moment, What};
use plan::{At, Plan, takes};
use syntax::{Clause, EquipmentKind, Referent, Standing, Statement, Thing, Verb};

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
is in it yet: an error where a later step fills it, a warning where none does. A warning too where
a vessel is rinsed into another one before anything of what it holds was transferred, and where what
is made up in one vessel is used nowhere else and never taken out of it; for an extraction, a wash of
layers and an evaporation in a vessel that no step fills.

Silent where something was in it before; where the plan says something of it that cannot be followed, in a note or in
a step of another kind; for syringes, balloons, columns and traps.

**Why it matters.** Mostly two lines have changed places, or one was forgotten. On the bench it is noticed
when the rest of the mixture waits.

**Example**

    steps
      transfer vial to flask
      in vial
      dissolve ketone in thf 4 mL

**Write instead** the steps that fill the vial above the one that empties it

    steps
      in vial
      dissolve ketone in thf 4 mL
      in flask
      transfer vial to flask

**Sources.** It follows from the steps.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    findings.extend((0..plan.apparatus.len()).filter_map(|vessel| left_behind(plan, vessel)));
    let mut said = vec![false; plan.apparatus.len()];
    for (index, moment) in plan.moments.iter().enumerate() {
        let Some(clause) = sensitive::clause(plan, moment) else {
            continue;
        };
        findings.extend(rinsed_full(plan, index, moment, clause));
        if let Some(finding) = worked_up_empty(plan, index, moment, clause)
            && let Some(said) = said.get_mut(moment.vessel).filter(|said| !**said)
        {
            *said = true;
            findings.push(finding);
        }
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
            if !empty {
                continue;
            }
            // Once something was in it, what is empty was emptied.
            let ever = plan
                .moments
                .iter()
                .take(index)
                .any(|earlier| holds(earlier, source));
            if ever || said.get(source).copied().unwrap_or(true) {
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

/// More than this share of it is not what a transfer leaves (an assumption).
const MOSTLY: f64 = 0.6;

/// Of the same line of materials.
fn is_same(one: &Content, other: &Content) -> bool {
    matches!((&one.what, &other.what), (What::Material(a), What::Material(b)) if a == b)
}

fn takes_from(moment: &Moment, source: usize) -> bool {
    let mut additions = moment.additions.iter();
    additions.any(|addition| addition.from == Some(source))
}

/// A material that goes into one vessel only, which is made ready and then never spoken of again.
fn left_behind(plan: &Plan, vessel: usize) -> Option<Finding> {
    let item = sensitive::listed(plan, vessel)?;
    let text = &item.lower;
    let is_pot = ["flask", "vial", "tube", "funnel", "beaker"]
        .iter()
        .any(|kind| item.head.ends_with(kind));
    if !is_pot || plan.moments.last()?.after.get(vessel)?.unclear {
        return None;
    }
    let verbs = |moment: &Moment| sensitive::clause(plan, moment).map(|clause| clause.verb);
    let makes_ready = |verb: Verb| {
        brings_nothing(verb) && !matches!(verb, Verb::Stir | Verb::Heat | Verb::Warm | Verb::Wait)
            || matches!(
                verb,
                Verb::Add | Verb::Charge | Verb::Dissolve | Verb::Suspend | Verb::MakeUp
            )
    };
    let mut own = plan.moments.iter().filter(|m| m.vessel == vessel);
    let only_made_ready = own.clone().all(|moment| {
        verbs(moment).is_some_and(makes_ready)
            && moment
                .additions
                .iter()
                .all(|addition| addition.from.is_none())
    });
    let name = item.name.to_lowercase();
    let kept = || {
        let words = [
            "scrub", "trap", "bath", "waste", "kill", "quench", "separat",
        ];
        let mut words = words.iter();
        words.any(|word| text.contains(word) || name.contains(word))
    };
    if !only_made_ready || kept() {
        return None;
    }
    let worked_elsewhere = plan.moments.iter().any(|moment| {
        moment.vessel != vessel
            && verbs(moment)
                .is_some_and(|verb| matches!(verb, Verb::Stir | Verb::Heat | Verb::Reflux))
    });
    // Steps of other kinds, notes and what was not read may say what becomes of it.
    let spoken_of = plan.moments.iter().any(|moment| {
        let Some(clause) = sensitive::clause(plan, moment) else {
            return true;
        };
        takes_from(moment, vessel)
            || !makes_ready(clause.verb)
                && takes::things(clause)
                    .any(|(_, thing)| Some(&thing.referent) == item.id.map(Referent::Key).as_ref())
    });
    if !worked_elsewhere || spoken_of || !lines_read(plan, plan.text.lines.len(), &item.name) {
        return None;
    }
    let addition = own.find_map(|moment| {
        moment.additions.iter().find(|addition| {
            let content = &addition.content;
            let elsewhere = plan
                .moments
                .iter()
                .filter(|m| m.vessel != vessel)
                .flat_map(|m| &m.additions)
                .any(|other| is_same(&other.content, content));
            matches!(content.what, What::Material(_)) && !elsewhere
        })
    })?;
    let (what, name) = (addition.content.name(&plan.materials), &item.name);
    let message = format!(
        "{what} goes into {name}, and no step takes it out: write the step that transfers {name}."
    );
    Some(Finding::new(&CHECK, addition.at, message).severity(Severity::Warning))
}

/// An extraction, a wash of layers or an evaporation in a vessel that nothing was poured into.
fn worked_up_empty(plan: &Plan, index: usize, moment: &Moment, clause: &Clause) -> Option<Finding> {
    let layers = |thing: &Thing| {
        matches!(
            thing.referent,
            Referent::Standing(Standing::Organics | Standing::Aqueous, _)
        )
    };
    let works_up = match clause.verb {
        Verb::Extract | Verb::Separate | Verb::Concentrate => true,
        Verb::Wash => clause.objects.iter().any(layers),
        _ => false,
    };
    let of_others = clause.objects.iter().any(|thing| !layers(thing));
    let empty = moment
        .before
        .get(moment.vessel)
        .is_some_and(|state| state.contents.is_empty() && !state.unclear);
    let mut earlier = plan.moments.iter().take(index);
    let elsewhere = moment.before.iter().any(|state| !state.contents.is_empty());
    if !works_up
        || of_others
        || !empty
        || !elsewhere
        || earlier.any(|earlier| holds(earlier, moment.vessel))
        || !is_followed(plan, index, moment.vessel)
    {
        return None;
    }
    let at = At {
        line: moment.line,
        span: clause.verb_span,
    };
    let message = format!(
        "Nothing is in {}: write the step that fills it above this one.",
        sensitive::name(plan, moment.vessel)
    );
    Some(Finding::new(&CHECK, at, message).severity(Severity::Warning))
}

/// A rinse that would carry over what a transfer should have.
fn rinsed_full(plan: &Plan, index: usize, moment: &Moment, clause: &Clause) -> Option<Finding> {
    if clause.verb != Verb::Rinse {
        return None;
    }
    let reagent = moment.additions.iter().find(|addition| {
        addition.from.is_some() && !sensitive::is_solvent(plan, &addition.content)
    })?;
    let source = reagent.from?;
    let taken_before = plan
        .moments
        .iter()
        .take(index)
        .any(|earlier| takes_from(earlier, source));
    let most = plan
        .moments
        .iter()
        .take(index)
        .filter_map(|earlier| earlier.after.get(source))
        .flat_map(|state| &state.contents)
        .filter(|content| is_same(content, &reagent.content))
        .filter_map(|content| content.amount)
        .max_by(|a, b| a.value.total_cmp(&b.value));
    let mostly_there = reagent
        .content
        .amount
        .zip(most)
        .is_some_and(|(now, most)| now > most * MOSTLY);
    let thing = clause
        .objects
        .iter()
        .find(|thing| holder(plan, thing) == Some(source))?;
    if taken_before && !mostly_there {
        return None;
    }
    let at = At {
        line: moment.line,
        span: thing.name.span,
    };
    let name = sensitive::name(plan, source);
    let what = reagent.content.name(&plan.materials);
    let rest = if taken_before { "rest of " } else { "" };
    let message = if taken_before {
        format!(
            "{name} is rinsed while most of it is still there: write the step that transfers the rest above this one."
        )
    } else {
        format!(
            "{name} is rinsed before anything was transferred from it: write the step that transfers {name} above this one."
        )
    };
    let finding = Finding::new(&CHECK, at, message)
        .severity(Severity::Warning)
        .related(
            sensitive::line_at(plan, reagent.content.line),
            format!("{what} came in here"),
        );
    let into = sensitive::listed(plan, moment.vessel)?;
    let step = format!("transfer {rest}{name} to {} dropwise", into.name);
    Some(match edit::insert_before(plan, moment.line, &[step]) {
        Some(edit) => finding.fix(format!("Transfer {rest}{name} first"), vec![edit]),
        None => finding,
    })
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
    lines_read(plan, here as usize, &item.name)
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

/// The first lines are read, and no note among them is about this vessel.
fn lines_read(plan: &Plan, lines: usize, name: &str) -> bool {
    let mut lines = plan.text.lines.iter().take(lines);
    lines.all(|line| match &line.statement {
        Statement::Unread(_) => false,
        Statement::Remark(_, text) => !text.as_ref().is_some_and(|text| text.text.contains(name)),
        Statement::Place(place) => !place
            .thing
            .as_ref()
            .is_some_and(|thing| thing.referent == Referent::Unknown),
        _ => true,
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
        let pours = || {
            let mut kinds = ["vial", "funnel", "beaker", "bottle"].iter();
            item.kind == EquipmentKind::Vessel || kinds.any(|kind| item.head.starts_with(kind))
        };
        item.id == Some(id) && pours()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

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
    fn finds_a_rinse_of_what_was_never_transferred() {
        let before = "
  in vial
  dissolve ketone in thf 4 mL
  in flask
  rinse vial with thf 1 mL into flask
        ^^^^ warning: vial is rinsed before anything was transferred from it
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "
  in vial
  dissolve ketone in thf 4 mL
  in flask
  transfer vial to flask dropwise
  rinse vial with thf 1 mL into flask
",
            ),
        );
        for steps in [
            "in vial\n  dissolve ketone in thf 4 mL\n  in flask\n  transfer half of vial to flask\n  rinse vial with thf 1 mL into flask",
            "in vial\n  add thf 4 mL\n  in flask\n  rinse vial with thf 1 mL into flask",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }

    #[test]
    fn finds_a_work_up_of_nothing() {
        expect(
            &CHECK,
            &plan(
                "
  add ketone, thf 20 mL
  in vial
  extract with pentane, 3 x 5 mL
  ^^^^^^^ warning: Nothing is in vial
  wash organics with water 5 mL
",
            ),
        );
        for steps in [
            "add ketone, thf 20 mL\n  extract with pentane, 3 x 5 mL",
            "add ketone, thf 20 mL\n  filter into vial\n  in vial\n  concentrate",
            "add ketone, thf 20 mL\n  in vial\n  concentrate flask",
            "add ketone, thf 20 mL\n  note pour it all into vial\n  in vial\n  concentrate",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }

    #[test]
    fn finds_what_is_left_behind() {
        expect(
            &CHECK,
            &plan(
                "
  in vial
  dissolve ketone in thf 4 mL
           ^^^^^^ warning: ketone goes into vial, and no step takes it out
  in flask
  add thf 20 mL
  stir for 1 h
",
            ),
        );
        for steps in [
            "in vial\n  dissolve ketone in thf 4 mL\n  in flask\n  add thf 20 mL",
            "in vial\n  dissolve ketone in thf 4 mL\n  in flask\n  add vial\n  stir for 1 h",
            "in vial\n  dissolve ketone in thf 4 mL\n  in flask\n  add ketone 1 mmol, thf 10 mL\n  stir for 1 h",
            "in vial\n  dissolve ketone in thf 4 mL\n  note keep the vial for the titration\n  in flask\n  stir for 1 h",
            "in vial\n  dissolve ketone in thf 4 mL\n  stir for 1 h\n  in flask\n  add thf 4 mL\n  stir for 1 h",
            "add ketone, thf\n  stir for 1 h",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
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
