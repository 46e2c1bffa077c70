//! A halide goes onto magnesium before the Grignard reaction has been seen to start.

use crate::Survey;
use crate::alive;
use crate::edit;
use crate::sensitive::{self, Entry, Threat};
use crate::{Check, Finding, Severity};
use plan::vessel::Moment;
use plan::{At, Plan};
use syntax::{Clause, ModifierKind, Statement, TemperatureValue, Verb};
use uom::si::amount_of_substance::millimole;

pub(crate) const CHECK: Check = Check {
    name: "initiation-not-confirmed",
    severity: Severity::Warning,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Initiation not confirmed

**Finds** magnesium and an organic halide, 5 mmol of it or more, of which a first step brings more
than a fifth, before any step that sees the reaction start. A warning where it comes at once, an
information where it comes slowly (`dropwise`, `over 30 min`).

Silent for a first portion of a fifth or less; where the halide goes in slowly at reflux, or
`until` something, or the next step is an `expect` or a `check`; for Grignard reagents that are
bought or made by exchange; for zinc; in alcohol or water.

**Why it matters.** The reaction may wait for minutes and then start at once. With all the halide
in, it cannot be held: reactions of this kind have emptied their flasks into the hood.

**Example**

    materials
      bromide:   bromobenzene, 1.00 eq
      magnesium: magnesium, turnings, 1.10 eq
    steps
      add magnesium, ether 20 mL
      add bromide

**Write instead**

    steps
      add magnesium, ether 20 mL
      add tenth of bromide
      check it has started: it warms, and boils without the bath
      add rest of bromide dropwise over 30 min

If it does not start, warm it a little, or add a crystal of iodine or 2 drops of
1,2-dibromoethane, but never more halide. Keep an ice bath ready. The rules of your laboratory and a
trained supervisor decide.

**Sources.** No more than 20 wt% of the halide before initiation is confirmed: *Handbook of Grignard
Reagents*, chapter abstract, doi 10.1201/b16932-5. Contents thrown out after 20 to 30 % of a
halide: incident 144 of the UK Chemical Reaction Hazards Forum (crhf.org.uk). The 5 mmol are an
assumption.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let entries = plan.entries(Threat::Water);
    let made = entries.iter().filter(|entry| entry.made_here);
    findings.extend(made.filter_map(|entry| finding(plan, entry)));
}

fn finding(plan: &Plan, entry: &Entry<'_>) -> Option<Finding> {
    let moment = entry.at(plan)?;
    let clause = sensitive::clause(plan, moment)?;
    let state = moment.before.get(moment.vessel)?;
    let whole = entry.amount(plan)?;
    // The halide may have waited in the vessel for the magnesium.
    let added = entry.addition.content.amount?;
    let waited = state
        .contents
        .iter()
        .filter(|content| content.name(&plan.materials) == entry.name(plan))
        .filter_map(|content| content.amount);
    let there = waited.fold(added, |sum, amount| sum + amount);
    let small = whole.get::<millimole>() < 5.0;
    if small || there <= whole * 0.2 || is_watched(plan, entry.moment, clause) {
        return None;
    }
    let slow = alive::is_slow(clause);
    let severity = if slow {
        Severity::Information
    } else {
        Severity::Warning
    };
    let name = entry.name(plan);
    let tenth = sensitive::amount_text(whole * 0.1, 2);
    if alive::is_named(plan, &entry.addition.content, "magnesium") {
        let message = format!(
            "{name} goes onto all of the halide before the reaction is seen to start: put the magnesium in first, add a tenth of the halide, wait until it warms by itself, then the rest slowly. A late start can empty the flask."
        );
        return Some(Finding::new(&CHECK, entry.addition.at, message).severity(severity));
    }
    let message = format!(
        "More than a fifth of {name} goes onto the magnesium before the reaction is seen to start: add a tenth ({tenth}), wait until it warms by itself, then the rest slowly. A late start can empty the flask."
    );
    let mut finding = Finding::new(&CHECK, entry.addition.at, message).severity(severity);
    if let Some(edits) = split(plan, moment, clause, entry.addition.at, slow) {
        finding = finding.fix("Start with a tenth, and go on when it has started", edits);
    }
    Some(finding)
}

/// The step goes on only as the reaction does, or a look at it comes next.
fn is_watched(plan: &Plan, index: usize, clause: &Clause) -> bool {
    let paced = clause
        .modifiers
        .iter()
        .any(|modifier| match &modifier.kind {
            ModifierKind::UntilText(_)
            | ModifierKind::Temperature(_, TemperatureValue::Reflux(_)) => true,
            ModifierKind::Remark(text) => text.text.contains("reflux"),
            _ => false,
        });
    let next = plan
        .moments
        .get(index + 1)
        .and_then(|moment| sensitive::clause(plan, moment));
    let looks = next.is_some_and(|clause| matches!(clause.verb, Verb::Expect | Verb::Check));
    alive::is_slow(clause) && (paced || looks)
}

/// A tenth first, a hold point, and the rest in the old step. Only for a step that brings nothing else.
fn split(
    plan: &Plan,
    moment: &Moment,
    clause: &Clause,
    at: At,
    slow: bool,
) -> Option<Vec<edit::Edit>> {
    let Statement::Step(step) = &plan.text.lines.get(moment.line as usize)?.statement else {
        return None;
    };
    let [object] = clause.objects.as_slice() else {
        return None;
    };
    if step.clauses.len() != 1
        || object.name.span != at.span
        || !object.portions.is_empty()
        || !matches!(clause.verb, Verb::Add | Verb::Transfer)
    {
        return None;
    }
    let name = plan.slice(at.line, at.span)?;
    let verb = clause.verb.word();
    let to = clause.modifiers.iter().find_map(|modifier| {
        let text = plan.slice(moment.line, modifier.span)?;
        matches!(modifier.kind, ModifierKind::To(_)).then(|| format!(" {text}"))
    });
    let first = format!("{verb} tenth of {name}{}", to.unwrap_or_default());
    let check = "check it has started: it warms, and boils without the bath".to_owned();
    let mut edits = vec![
        edit::insert_before(plan, moment.line, &[first, check])?,
        edit::replace(plan, at, format!("rest of {name}")),
    ];
    if !slow {
        edits.push(edit::slowly(
            plan,
            moment.line,
            clause,
            "dropwise over 30 min",
        ));
    }
    Some(edits)
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
scale 20.0 mmol bromide
materials
  bromide: bromobenzene, 1.00 eq
  magnesium: magnesium, turnings, 1.10 eq
  ether: diethyl ether, 40 mL
  bought: phenylmagnesium bromide, 3.0 M in diethyl ether, 1.0 eq
  zinc: zinc, dust, 1.5 eq
equipment
  flask: 100 mL three-neck flask
  funnel: 50 mL dropping funnel
steps
  add magnesium, ether 10 mL
{steps}"
        )
    }

    #[test]
    fn finds_the_whole_halide_at_once() {
        let before = "
  add bromide    # in the hood
      ^^^^^^^ warning: More than a fifth of bromide goes onto the magnesium before the reaction is seen to start: add a tenth (2.0 mmol)
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add tenth of bromide
  check it has started: it warms, and boils without the bath
  add rest of bromide dropwise over 30 min    # in the hood
",
            ),
        );
    }

    #[test]
    fn finds_the_magnesium_that_comes_last() {
        let plan = |solvent: &str, found: &str| {
            format!(
                "
plan Test
scale 20.0 mmol bromide
materials
  bromide: bromobenzene, 1.00 eq
  magnesium: magnesium, turnings, 1.10 eq
steps
  add bromide, {solvent} 40 mL
  add magnesium
{found}"
            )
        };
        let found = "      ^^^^^^^^^ warning: magnesium goes onto all of the halide before\n";
        expect(&CHECK, &plan("diethyl ether", found));
        // A reduction.
        expect(&CHECK, &plan("methanol", ""));
    }

    #[test]
    fn informs_where_it_goes_in_slowly() {
        let before = "
  in funnel
  dissolve bromide in ether 20 mL
  in flask
  transfer funnel to flask dropwise over 30 min
           ^^^^^^ information: More than a fifth of bromide
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  in funnel
  dissolve bromide in ether 20 mL
  in flask
  transfer tenth of funnel to flask
  check it has started: it warms, and boils without the bath
  transfer rest of funnel to flask dropwise over 30 min
",
            ),
        );
    }

    #[test]
    fn is_silent_where_the_start_is_seen() {
        for steps in [
            "add tenth of bromide\n  stir for 10 min\n  add rest of bromide dropwise over 30 min",
            "add bromide 0.4 mL\n  add rest of bromide",
            "add bromide dropwise over 30 min, at reflux",
            "add bromide dropwise, until it boils by itself",
            "add bromide dropwise over 30 min\n  expect it boils by itself",
            "add bought",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
        let small = plan("  add bromide\n").replace("scale 20.0 mmol", "scale 2.00 mmol");
        expect(&CHECK, &small);
        let zinc = plan("  add bromide\n").replace("add magnesium", "add zinc");
        expect(&CHECK, &zinc);
    }
}
