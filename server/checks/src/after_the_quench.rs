//! A reagent that water destroys is added after the quench.

use crate::Survey;
use crate::alive;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::ReagentClass;
use plan::Plan;
use plan::vessel::Moment;
use syntax::{Statement, Verb};

pub(crate) const CHECK: Check = Check {
    name: "after-the-quench",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Added after the quench

**Finds** an organolithium or Grignard reagent, a zinc or aluminium alkyl, an aluminium or metal
hydride, a metal amide, an alkali metal or a silyl triflate that a step adds to a vessel after it
was quenched, with what it was quenched with still in it.

Silent for a quench with what brings no acidic hydrogen; once the mixture was transferred, extracted,
filtered, concentrated or otherwise worked up; where water is there without a quench (of that
`reagent-into-protic` speaks).

**Why it matters.** It meets the water first, which takes all of it, with heat and gas. Mostly two
lines have changed places.

**Example**

    materials
      base: n-butyllithium, 2.5 M in hexanes, 1.10 eq
    steps
      dry flask at 125 °C overnight
      evacuate and refill flask with argon, 3 cycles
      add thf 40 mL, ketone
      quench with sat. aq. NH4Cl 20 mL
      add base via syringe

**Write instead**

    steps
      dry flask at 125 °C overnight
      evacuate and refill flask with argon, 3 cycles
      add thf 40 mL, ketone
      add base via syringe
      quench with sat. aq. NH4Cl 20 mL

**Sources.** Common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for (index, moment) in plan.moments.iter().enumerate() {
        let Some(quench) = quenched_by(plan, index, moment) else {
            continue;
        };
        let mixes = sensitive::clause(plan, moment).is_some_and(|clause| {
            matches!(
                clause.verb,
                Verb::Add | Verb::Charge | Verb::Dissolve | Verb::Suspend | Verb::Transfer
            )
        });
        let reagent = moment.additions.iter().find(|addition| {
            let class = alive::class(plan, &addition.content);
            addition.from.is_none()
                && (alive::fierce_class(plan, &addition.content).is_some()
                    || class == Some(ReagentClass::SilylTriflate))
        });
        if let Some(addition) = reagent.filter(|_| mixes) {
            let name = addition.content.name(&plan.materials);
            let message = format!(
                "{name} is added after the quench in line {}, and would only react with that: add it before.",
                quench + 1
            );
            let mut finding = Finding::new(&CHECK, addition.at, message)
                .related(sensitive::line_at(plan, quench), "quenched here");
            if let Some(edits) = moved(plan, moment.line, quench) {
                finding = finding.fix("Move this step above the quench", edits);
            }
            findings.push(finding);
        }
    }
}

/// The line of the quench that the vessel has seen, if the mixture is still as the quench left it.
fn quenched_by(plan: &Plan, index: usize, moment: &Moment) -> Option<u32> {
    let state = moment.before.get(moment.vessel)?;
    let line = state.quenched.filter(|_| !state.unclear)?;
    plan.moments
        .iter()
        .take(index)
        .any(|other| {
            other.line == line
                && other.vessel == moment.vessel
                && sensitive::clause(plan, other).is_some_and(|c| c.verb == Verb::Quench)
                && is_protic(plan, other)
        })
        .then_some(line)
}

/// Not with iodine or dimethylformamide, which the next reagent may well follow.
fn is_protic(plan: &Plan, quench: &Moment) -> bool {
    let additions = &quench.additions;
    additions.is_empty()
        || additions
            .iter()
            .any(|addition| addition.content.is_protic(&plan.materials))
}

/// A step of one clause, taken out of its line and put in before another.
fn moved(plan: &Plan, line: u32, before: u32) -> Option<Vec<edit::Edit>> {
    let found = plan.text.lines.get(line as usize)?;
    let Statement::Step(step) = &found.statement else {
        return None;
    };
    let start = found.start as usize;
    let end = start + (found.len + found.eol) as usize;
    let words = plan.text.text.get(start..start + found.len as usize)?;
    let mut between = plan.text.lines.get(before as usize..line as usize)?.iter();
    let elsewhere = between.any(|line| matches!(line.statement, Statement::Place(_)));
    if step.clauses.len() != 1 || found.eol == 0 || elsewhere {
        return None;
    }
    let insert = edit::insert_before(plan, before, &[words.trim_start()])?;
    Some(vec![insert, (start..end, String::new())])
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
  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq
  boro: sodium borohydride, 1.5 eq
  thf: tetrahydrofuran, 40 mL
equipment
  flask: 100 mL two-neck flask
  vial: 20 mL vial
steps
  add thf 20 mL, ketone
{steps}"
        )
    }

    #[test]
    fn finds_a_reagent_after_the_quench() {
        let before = "
  quench with sat. aq. NH4Cl 20 mL
  add base via syringe    # cold
      ^^^^ error: base is added after the quench in line 13, and would only react with that
  stir for 1 h
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add base via syringe    # cold\n  quench with sat. aq. NH4Cl 20 mL\n  stir for 1 h\n",
            ),
        );
    }

    #[test]
    fn is_silent_in_another_vessel_after_work_up_and_for_what_bears_water() {
        for steps in [
            "add base\n  quench with water 5 mL",
            "quench with water 5 mL\n  in vial\n  add base",
            "quench with water 5 mL\n  extract with pentane 20 mL\n  concentrate\n  add base",
            "quench with water 5 mL\n  transfer flask to vial\n  add base",
            "quench with water 5 mL\n  add boro",
            "add water 5 mL\n  add base",
            "quench with iodine 1.5 g\n  add base",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
