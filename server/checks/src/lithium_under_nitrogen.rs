//! Lithium metal stands under nitrogen.

use crate::Survey;
use crate::alive;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use plan::Plan;
use plan::vessel::{Content, Gas, Moment, gas_name};
use syntax::Verb;

pub(crate) const CHECK: Check = Check {
    name: "lithium-under-nitrogen",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Lithium metal under nitrogen

**Finds** lithium metal that is stirred, heated or brought together with other things in a vessel
that the plan fills with nitrogen.

Silent for argon and helium; for liquid ammonia; for organolithium reagents and lithium salts; for
a metal that is only weighed or washed there.

**Why it matters.** Lithium takes up nitrogen at room temperature. The nitride coats it, so that it
starts late or not at all, and gives ammonia with water.

**Example**

    materials
      chloride: 1-chlorobutane, 1.00 eq
      lithium:  lithium, wire, 2.50 eq
    steps
      purge flask with nitrogen for 5 min
      add lithium, ether 40 mL
      add chloride dropwise over 30 min

**Write instead**

    steps
      purge flask with argon for 5 min
      add lithium, ether 40 mL
      add chloride dropwise over 30 min

**Sources.** Common practice; that lithium forms its nitride at room temperature is textbook
knowledge (N. N. Greenwood and A. Earnshaw, *Chemistry of the Elements*, from memory).
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    if !plan.has("lithium") {
        return;
    }
    findings.extend(plan.moments.iter().find_map(|moment| finding(plan, moment)));
}

fn finding(plan: &Plan, moment: &Moment) -> Option<Finding> {
    let clause = sensitive::clause(plan, moment)?;
    let works = matches!(
        clause.verb,
        Verb::Stir
            | Verb::Heat
            | Verb::Reflux
            | Verb::Add
            | Verb::Charge
            | Verb::Transfer
            | Verb::Warm
    );
    let state = moment.after.get(moment.vessel)?;
    let Gas::Filled { gas, line, .. } = &state.gas else {
        return None;
    };
    let is = |content: &Content, name| alive::is_named(plan, content, name);
    let metal = state
        .contents
        .iter()
        .find(|content| is(content, "lithium"))?;
    let ammonia = state.contents.iter().any(|content| is(content, "ammonia"));
    // Alone it is only being got ready.
    if !works || ammonia || state.contents.len() < 2 || !gas.eq_ignore_ascii_case("nitrogen") {
        return None;
    }
    let name = metal.name(&plan.materials);
    let flask = sensitive::name(plan, moment.vessel);
    let message =
        format!("Lithium metal takes up nitrogen, and {flask} is filled with it: use argon.");
    let here = moment
        .additions
        .iter()
        .find(|addition| addition.content.name(&plan.materials) == name)
        .map(|addition| addition.at);
    let at = here.unwrap_or(plan::At {
        line: moment.line,
        span: clause.verb_span,
    });
    let mut finding = Finding::new(&CHECK, at, message);
    let filled = sensitive::line_at(plan, *line);
    if *line != moment.line {
        finding = finding.related(filled, "filled with nitrogen here");
    }
    let mut edits = Vec::new();
    for step in steps_with_nitrogen(plan) {
        edits.push(edit::replace(plan, step, "argon"));
    }
    if !edits.is_empty() {
        finding = finding.fix("Use argon throughout", edits);
    }
    Some(finding)
}

/// Every place in the steps that names nitrogen as a gas.
fn steps_with_nitrogen(plan: &Plan) -> Vec<plan::At> {
    let mut places = Vec::new();
    for (line, step) in plan::takes::steps(&plan.text) {
        for clause in &step.clauses {
            for modifier in &clause.modifiers {
                let (syntax::ModifierKind::Under(things) | syntax::ModifierKind::With(things)) =
                    &modifier.kind
                else {
                    continue;
                };
                let named = things.iter().filter(|thing| {
                    matches!(thing.referent, syntax::Referent::Gas { .. })
                        && gas_name(thing, &plan.materials).as_deref() == Some("nitrogen")
                });
                places.extend(named.map(|thing| plan::At {
                    line,
                    span: thing.name.span,
                }));
            }
        }
    }
    places
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
scale 10.0 mmol chloride
materials
  chloride: tert-butyl chloride, 1.00 eq
  lithium: lithium, granules, 4.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.1 eq
  ammonia: ammonia, 40 mL
  ether: diethyl ether, 20 mL
equipment
  flask: 100 mL flask
steps
{steps}"
        )
    }

    #[test]
    fn finds_lithium_in_nitrogen() {
        let before = "
  purge flask with nitrogen for 5 min
  add ether
  add lithium under nitrogen
      ^^^^^^^ warning: Lithium metal takes up nitrogen, and flask is filled with it: use argon.
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan("  purge flask with argon for 5 min\n  add ether\n  add lithium under argon\n"),
        );
    }

    #[test]
    fn is_silent_under_argon_and_for_other_lithium() {
        for steps in [
            "purge flask with argon for 5 min\n  add ether, lithium\n  stir for 1 h",
            "purge flask with nitrogen for 5 min\n  add ether\n  add base",
            "purge flask with nitrogen for 5 min\n  add lithium",
            "purge flask with nitrogen for 5 min\n  add ammonia, lithium",
            "add ether, lithium",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
