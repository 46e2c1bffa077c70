//! A vacuum is drawn on a solvent that boils under it.

use crate::Survey;
use crate::acted_on::acted_on;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use plan::Plan;
use plan::vessel::{VesselState, celsius};
use syntax::{ModifierKind, TimeKind, Verb};

pub(crate) const CHECK: Check = Check {
    name: "evacuated-with-solvent",
    severity: Severity::Warning,
    from: crate::Profile::Strict,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Vacuum on a solvent

**Finds** an `evacuate` on a vessel that holds a solvent boiling below 120 °C and is neither cold nor
frozen.

Silent for `evacuate and refill`, which is short; below 0 °C; where the step or the plan before it
concentrates; for solids and solvents that boil higher, and where the boiling point or the
temperature is not known.

**Why it matters.** The solvent boils, foams into the line and takes volatile reagents with it; what
is left has another concentration.

**Example**

    steps
      add thf 20 mL
      evacuate flask for 5 min

**Write instead** the vacuum before the solvent, or a stream of gas through it

    steps
      add thf 20 mL
      sparge flask with argon for 15 min

To degas by freezing, freeze first: `seal`, `cool to -196 °C`, `evacuate`.

**Sources.** Common practice. The limits of 120 °C and 0 °C are assumptions.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for moment in &plan.moments {
        let Some(clause) = sensitive::clause(plan, moment).filter(|c| c.verb == Verb::Evacuate)
        else {
            continue;
        };
        for (index, at) in acted_on(plan, moment, clause) {
            let Some(name) = moment
                .before
                .get(index)
                .and_then(|state| boiling_solvent(plan, state))
            else {
                continue;
            };
            let flask = sensitive::name(plan, index);
            let message = format!(
                "{name} boils under vacuum in {flask}: evacuate before it goes in, or sparge it instead."
            );
            let mut finding = Finding::new(&CHECK, at, message);
            let gas = sensitive::inert_gas(plan);
            let one = clause.objects.len() <= 1
                && clause.modifiers.iter().all(|modifier| {
                    matches!(
                        modifier.kind,
                        ModifierKind::Time(TimeKind::For, _) | ModifierKind::Pressure(..)
                    )
                });
            if let Some(item) = sensitive::listed(plan, index).filter(|_| one) {
                let whole = plan::At {
                    line: moment.line,
                    span: clause.span,
                };
                let way_out = sensitive::outlet(item);
                let step = format!("sparge {flask} with {gas} for 15 min{way_out}");
                finding = finding.fix(
                    format!("Sparge {flask} with {gas} instead"),
                    vec![edit::replace(plan, whole, step)],
                );
            }
            findings.push(finding);
        }
    }
}

/// The name of a solvent in it that boils at the vacuum of a pump.
fn boiling_solvent<'a>(plan: &'a Plan, state: &'a VesselState) -> Option<&'a str> {
    if state.unclear || celsius(state.temperature) <= 0.0 {
        return None;
    }
    state.contents.iter().find_map(|content| {
        let boiling = content.substance(&plan.materials)?.boiling()?.value;
        let solvent = content.is_liquid(&plan.materials) && sensitive::is_solvent(plan, content);
        (solvent && celsius(boiling) < 120.0).then(|| content.name(&plan.materials))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!("\nplan Test\nequipment\n  flask: 100 mL Schlenk flask\nsteps\n{steps}")
    }

    #[test]
    fn finds_a_solvent_under_vacuum() {
        let before = "
  add tetrahydrofuran 20 mL
  evacuate flask for 5 min    # at the line
           ^^^^^ warning: tetrahydrofuran boils under vacuum in flask
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add tetrahydrofuran 20 mL\n  sparge flask with argon for 15 min    # at the line\n",
            ),
        );
    }

    #[test]
    fn is_silent_where_nothing_boils_over() {
        for steps in [
            "evacuate flask for 5 min\n  add tetrahydrofuran 20 mL",
            "add tetrahydrofuran 20 mL\n  evacuate and refill with argon, 3 cycles, 60 mbar",
            "add tetrahydrofuran 20 mL\n  cool to -78 °C\n  evacuate flask",
            "add tetrahydrofuran 20 mL\n  seal flask\n  cool to -196 °C\n  evacuate flask",
            "add dimethyl sulfoxide 20 mL\n  evacuate flask for 5 min",
            "add tetrahydrofuran 20 mL\n  concentrate\n  evacuate flask for 5 min",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
