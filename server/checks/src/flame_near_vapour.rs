//! A flame on a vessel that holds flammable liquid or vapour, or that nothing can leave.

use crate::Survey;
use crate::acted_on::acted_on;
use crate::sensitive;
use crate::wet_glass::is_flammable;
use crate::{Check, Finding, Severity};
use chemistry::Tag;
use plan::vessel::{Gas, Glass, Moment, Opening};
use plan::{At, Plan};
use syntax::{Clause, ModifierKind, Verb};

pub(crate) const CHECK: Check = Check {
    name: "flame-near-vapour",
    severity: Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Flame near vapour

**Finds** `flame-dry` on a vessel that holds a flammable liquid or an organic solvent, on one that was rinsed with such
a solvent and only drained, and on one that is sealed and under no vacuum: an error each. A warning where the step
names neither a vacuum nor a gas that flows while the glass is heated.

Glass that is still wet from a rinse is the business of `solvent-wet-into-heat`.

**Why it matters.** Vapour and air make a mixture that a flame or a heat gun lights, and a closed
vessel under heat bursts. Without vacuum or a flow the water that leaves the hot wall settles on
the cold one.

**Example**

    steps
      add thf 20 mL
      flame-dry flask

**Write instead**, before anything goes in

    steps
      flame-dry flask under vacuum
      cool flask to rt under argon

Keep the flame or heat gun away from septa, rubber tubing, plastic clips and joints with grease,
and from every solvent on the bench; let the glass cool before a solvent comes near. The safety
data sheet, the rules of your laboratory (many forbid open flames) and a trained supervisor
decide.

**Sources.** Hazard statements H224, H225, H226: Regulation (EC) 1272/2008, Annex VI. The rest is common
practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for moment in &plan.moments {
        let Some(clause) = sensitive::clause(plan, moment).filter(|c| c.verb == Verb::FlameDry)
        else {
            continue;
        };
        let found = acted_on(plan, moment, clause)
            .into_iter()
            .find_map(|(index, at)| Some((index, at, danger(plan, moment, clause, index)?)));
        if let Some((_, at, message)) = found {
            findings.push(Finding::new(&CHECK, at, message));
        } else if let Some(finding) = no_way_out(plan, moment, clause) {
            findings.push(finding);
        }
    }
}

fn danger(plan: &Plan, moment: &Moment, clause: &Clause, index: usize) -> Option<String> {
    let state = moment.before.get(index)?;
    let flask = sensitive::name(plan, index);
    let liquid = state.contents.iter().find_map(|content| {
        let substance = content.substance(&plan.materials)?;
        let burns = is_flammable(substance) || substance.hazards().any(|code| code == "H226");
        let organic = !state.unclear
            && !content.is_aqueous(&plan.materials)
            && (burns || substance.has(Tag::Solvent));
        let found = content.is_liquid(&plan.materials) && (is_flammable(substance) || organic);
        found.then_some((content, burns))
    });
    if let Some((liquid, burns)) = liquid {
        let name = liquid.name(&plan.materials);
        let which = if burns { ", which is flammable" } else { "" };
        return Some(format!(
            "{flask} holds {name}{which}: no flame or heat gun on it. Dry the empty flask, and add {name} when it is cold."
        ));
    }
    if let Glass::Drained(rinse) = &state.glass
        && rinse.substance.is_some_and(is_flammable)
        && matches!(state.gas, Gas::Air { .. })
    {
        let solvent = &rinse.solvent;
        return Some(format!(
            "Vapour of {solvent} stands in {flask}: air-dry it until the solvent is gone before a flame comes near."
        ));
    }
    // What is evacuated has nothing in it to burst it.
    let vacuum = matches!(state.gas, Gas::Vacuum { .. })
        || clause.modifiers.iter().any(|modifier| {
            matches!(&modifier.kind, ModifierKind::Under(things)
                if things.iter().any(|thing| thing.name.text.contains("vacuum")))
        });
    (matches!(state.opening, Opening::Closed { .. }) && !vacuum).then(|| {
        format!("{flask} is sealed: open it, or put it on vacuum, before it is flame-dried. A closed vessel under heat bursts.")
    })
}

fn no_way_out(plan: &Plan, moment: &Moment, clause: &Clause) -> Option<Finding> {
    let under = clause
        .modifiers
        .iter()
        .any(|modifier| matches!(modifier.kind, ModifierKind::Under(_)));
    let (index, at) = acted_on(plan, moment, clause).into_iter().next()?;
    let state = moment.before.get(index)?;
    if under || !matches!(state.gas, Gas::Air { .. }) {
        return None;
    }
    let flask = sensitive::name(plan, index);
    let message = format!(
        "Nothing carries the water off while {flask} is flame-dried: draw a vacuum, or let gas flow through it."
    );
    let gas = sensitive::inert_gas(plan);
    let mut finding = Finding::new(&CHECK, at, message).severity(Severity::Warning);
    for (title, text) in [
        (
            "Flame-dry under vacuum".to_owned(),
            " under vacuum".to_owned(),
        ),
        (
            format!("Flame-dry under a flow of {gas}"),
            format!(" under a flow of {gas}"),
        ),
    ] {
        let end = plan
            .range(At {
                line: moment.line,
                span: clause.span,
            })
            .end;
        finding = finding.fix(title, vec![(end..end, text)]);
    }
    Some(finding)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!("\nplan Test\nequipment\n  flask: 100 mL flask\n  bar: stir bar\nsteps\n{steps}")
    }

    #[test]
    fn finds_flammable_liquid_and_vapour() {
        expect(
            &CHECK,
            &plan(
                "
  add tetrahydrofuran 20 mL
  flame-dry flask under argon
            ^^^^^ error: flask holds tetrahydrofuran, which is flammable
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "
  add N,N-dimethylformamide 20 mL
  flame-dry flask under argon
            ^^^^^ error: flask holds N,N-dimethylformamide, which is flammable
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "
  add dimethyl sulfoxide 20 mL
  flame-dry flask under argon
            ^^^^^ error: flask holds dimethyl sulfoxide: no flame
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "
  wash flask with acetone
  drain flask
  flame-dry flask
            ^^^^^ error: Vapour of acetone stands in flask
",
            ),
        );
    }

    #[test]
    fn finds_a_sealed_vessel() {
        expect(
            &CHECK,
            &plan(
                "
  seal flask
  flame-dry flask under argon
            ^^^^^ error: flask is sealed
",
            ),
        );
    }

    #[test]
    fn asks_for_vacuum_or_a_flow() {
        expect(
            &CHECK,
            &plan(
                "
  flame-dry flask
            ^^^^^ warning: Nothing carries the water off while flask is flame-dried
",
            ),
        );
        expect_fixed(
            &CHECK,
            &plan("  flame-dry flask   # twice\n"),
            0,
            &plan("  flame-dry flask under vacuum   # twice\n"),
        );
        expect_fixed(
            &CHECK,
            &plan("  flame-dry flask\n"),
            1,
            &plan("  flame-dry flask under a flow of argon\n"),
        );
    }

    #[test]
    fn is_silent_for_an_empty_flask_under_vacuum_or_gas() {
        for steps in [
            "flame-dry flask under vacuum",
            "flame-dry under argon",
            "seal flask\n  flame-dry flask under vacuum",
            "evacuate flask\n  seal flask\n  flame-dry flask",
            "purge flask with argon for 5 min\n  flame-dry flask",
            "add water 5 mL\n  flame-dry flask under vacuum",
            "wash flask with acetone\n  air-dry flask\n  flame-dry flask under vacuum",
            "dry flask at 125 °C overnight",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
