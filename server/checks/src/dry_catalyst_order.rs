//! A dry hydrogenation catalyst meets solvent vapour and air.

use crate::Survey;
use crate::alive;
use crate::edit;
use crate::sensitive;
use crate::wet_glass::is_flammable;
use crate::{Check, Finding, Severity};
use chemistry::ReagentClass;
use plan::vessel::{Content, Gas, Moment, VesselState, gas_name};
use plan::{At, Plan};
use syntax::{FieldKind, ModifierKind, Statement, Verb};
use uom::si::f64::Mass;
use uom::si::mass::milligram;

pub(crate) const CHECK: Check = Check {
    name: "dry-catalyst-order",
    severity: Severity::Warning,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Dry catalyst, solvent and air

**Finds** a hydrogenation catalyst (palladium, palladium hydroxide or platinum oxide, Raney nickel)
that goes dry into a flask in which a flammable solvent stands under air; such a solvent that is
poured onto it under air; and a mixture under hydrogen that is opened or filtered before the
hydrogen was taken out (under nitrogen, an information).

Silent under nitrogen or argon, as far as the plan says so; for a catalyst that its line says is
wet; for 20 mg and less; for water alone as the solvent; for palladium that is no hydrogenation catalyst.

**Why it matters.** The dry metal sets fire to the vapour of methanol, ethanol or ethers in air;
loaded with hydrogen it does so more easily, on the filter most of all.

**Example**

    materials
      nitro:    nitrobenzene, 1.00 eq
      catalyst: palladium, 10 wt% on carbon, 5 mol%
    steps
      add methanol 40 mL, nitro
      add catalyst

**Write instead**

    steps
      purge flask with nitrogen for 5 min
      add catalyst under nitrogen
      add methanol 40 mL slowly under nitrogen
      add nitro

and after the reaction take the hydrogen out (`evacuate and refill with nitrogen, 3 cycles`), filter
under nitrogen, never suck the cake dry, and wet it with water. Catalyst that is sold wet with water
is the safer one. The safety data sheet, the rules of your laboratory and a trained supervisor decide.

**Sources.** Care with filtering a spent catalyst, which can ignite in air: National Research
Council, *Prudent Practices in the Laboratory*, 1995, page 102. The order, and the 20 mg, are common
practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut said = false;
    for moment in &plan.moments {
        let Some(finding) = meeting(plan, moment).or_else(|| under_hydrogen(plan, moment)) else {
            continue;
        };
        if !std::mem::replace(&mut said, true) {
            findings.push(finding);
        }
    }
}

/// The catalyst goes into the solvent, or the solvent onto the catalyst, under air.
fn meeting(plan: &Plan, moment: &Moment) -> Option<Finding> {
    let before = moment.before.get(moment.vessel)?;
    let after = moment.after.get(moment.vessel)?;
    if is_safe(before) || is_safe(after) || before.quenched.is_some() {
        return None;
    }
    let of = |content: &Content| content.name(&plan.materials).to_owned();
    let (addition, message) = moment.additions.iter().find_map(|addition| {
        let content = &addition.content;
        let solvent_there = || before.contents.iter().find(|other| burns(plan, other));
        let catalyst_there = || before.contents.iter().find(|other| is_dry_catalyst(plan, other));
        if is_dry_catalyst(plan, content) && addition.from.is_none() {
            let solvent = solvent_there()?;
            let message = format!(
                "Dry {} can set the vapour of {} alight in air: put the catalyst in first, under nitrogen, and wet it then.",
                of(content), of(solvent)
            );
            Some((addition, message))
        } else if burns(plan, content) {
            let catalyst = catalyst_there()?;
            let message = format!(
                "{} comes onto dry {} in air, which can set its vapour alight: purge the flask with nitrogen first.",
                of(content), of(catalyst)
            );
            Some((addition, message))
        } else {
            None
        }
    })?;
    let finding = Finding::new(&CHECK, addition.at, message);
    Some(with_purge(plan, moment, finding))
}

/// Opened or filtered with hydrogen still in it.
fn under_hydrogen(plan: &Plan, moment: &Moment) -> Option<Finding> {
    let clause = sensitive::clause(plan, moment)?;
    if !matches!(clause.verb, Verb::Open | Verb::Filter) {
        return None;
    }
    let mut vessels = moment.before.iter().enumerate();
    let (index, _) = vessels.find(|(index, state)| {
        let concerned = *index == moment.vessel
            || moment
                .after
                .get(*index)
                .is_some_and(|after| after.unclear && !state.unclear);
        let hydrogen =
            matches!(&state.gas, Gas::Filled { gas, .. } if gas.eq_ignore_ascii_case("hydrogen"));
        concerned
            && hydrogen
            && state
                .contents
                .iter()
                .any(|content| is_catalyst(plan, content) && !is_little(content))
    })?;
    let under_inert = clause
        .modifiers
        .iter()
        .any(|modifier| match &modifier.kind {
            ModifierKind::Under(things) => things.iter().any(|thing| {
                gas_name(thing, &plan.materials)
                    .is_some_and(|gas| !gas.eq_ignore_ascii_case("hydrogen"))
            }),
            _ => false,
        });
    let flask = sensitive::name(plan, index);
    let message = format!(
        "{flask} is still full of hydrogen, and the catalyst is loaded with it: evacuate and refill with nitrogen before air comes in."
    );
    let at = At {
        line: moment.line,
        span: clause.verb_span,
    };
    let mut finding = Finding::new(&CHECK, at, message);
    if under_inert {
        finding = finding.severity(Severity::Information);
    }
    if sensitive::listed(plan, index).is_some()
        && let Some(edit) = edit::insert_before(
            plan,
            moment.line,
            &[format!(
                "evacuate and refill {flask} with nitrogen, 3 cycles"
            )],
        )
    {
        finding = finding.fix("Take the hydrogen out first", vec![edit]);
    }
    Some(finding)
}

fn with_purge(plan: &Plan, moment: &Moment, finding: Finding) -> Finding {
    let Some(item) = sensitive::listed(plan, moment.vessel) else {
        return finding;
    };
    let way_out = sensitive::outlet(item);
    let step = format!("purge {} with nitrogen for 5 min{way_out}", item.name);
    match edit::insert_before(plan, moment.line, &[step]) {
        Some(edit) => finding.fix(
            format!("Purge {} with nitrogen first", item.name),
            vec![edit],
        ),
        None => finding,
    }
}

/// No air and no hydrogen in it.
fn is_safe(state: &VesselState) -> bool {
    let hydrogen =
        matches!(&state.gas, Gas::Filled { gas, .. } if gas.eq_ignore_ascii_case("hydrogen"));
    state.is_inert() && !hydrogen
}

fn is_catalyst(plan: &Plan, content: &Content) -> bool {
    alive::class(plan, content) == Some(ReagentClass::HydrogenationCatalyst)
}

fn is_dry_catalyst(plan: &Plan, content: &Content) -> bool {
    is_catalyst(plan, content) && !is_little(content) && !is_wet(plan, content)
}

fn is_little(content: &Content) -> bool {
    content
        .mass
        .is_some_and(|mass| mass <= Mass::new::<milligram>(20.0))
}

/// The line says that it is wet, or comes as a slurry.
fn is_wet(plan: &Plan, content: &Content) -> bool {
    let Some(material) = sensitive::material(plan, content) else {
        return false;
    };
    let Some(line) = plan.text.lines.get(material.line as usize) else {
        return false;
    };
    let text = plan.slice(
        material.line,
        syntax::Span {
            start: 0,
            end: line.len,
        },
    );
    let slurry = text.is_some_and(|text| {
        let text = text.to_lowercase();
        ["slurry", "wet", "water", "paste"]
            .iter()
            .any(|word| text.contains(word))
    });
    let stated = matches!(&line.statement, Statement::Entry(entry)
        if entry.fields.iter().any(|field| matches!(field.kind, FieldKind::Wet(..))));
    slurry || stated
}

/// A flammable solvent; water in it does not put it out.
fn burns(plan: &Plan, content: &Content) -> bool {
    content.is_liquid(&plan.materials)
        && sensitive::is_solvent(plan, content)
        && (content.substance(&plan.materials).is_some_and(is_flammable)
            || content
                .parts(&plan.materials)
                .any(|(substance, _)| substance.is_some_and(is_flammable)))
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
scale 10.0 mmol alkene
materials
  alkene: ethyl cinnamate, 1.00 eq
  catalyst: palladium, 10 wt% on carbon, 1.0 mol%
  wet: palladium, 10 wt% on carbon, wet with 50 wt% water, 1.0 mol%
  hydrogen: hydrogen, excess
  methanol: methanol, 40 mL
equipment
  flask: 100 mL two-neck flask
  rotflask: 250 mL round-bottom flask
steps
{steps}"
        )
    }

    #[test]
    fn finds_the_catalyst_in_solvent_under_air() {
        let before = "
  add methanol
  add catalyst
      ^^^^^^^^ warning: Dry catalyst can set the vapour of methanol alight in air
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan("  add methanol\n  purge flask with nitrogen for 5 min\n  add catalyst\n"),
        );
        expect(
            &CHECK,
            &plan(
                "
  add catalyst
  add methanol slowly
      ^^^^^^^^ warning: methanol comes onto dry catalyst in air
",
            ),
        );
    }

    #[test]
    fn finds_hydrogen_that_meets_air() {
        let before = "
  purge flask with nitrogen for 5 min
  add catalyst, methanol, alkene
  evacuate and refill with hydrogen, 3 cycles
  stir overnight
  filter through Celite, into rotflask
  ^^^^^^ warning: flask is still full of hydrogen
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  purge flask with nitrogen for 5 min
  add catalyst, methanol, alkene
  evacuate and refill with hydrogen, 3 cycles
  stir overnight
  evacuate and refill flask with nitrogen, 3 cycles
  filter through Celite, into rotflask
",
            ),
        );
    }

    #[test]
    fn nitrogen_around_the_filter_does_not_take_the_hydrogen_out() {
        expect(
            &CHECK,
            &plan(
                "
  purge flask with nitrogen for 5 min
  add catalyst, methanol, alkene
  evacuate and refill with hydrogen, 3 cycles
  filter under nitrogen into rotflask
  ^^^^^^ information: flask is still full of hydrogen
",
            ),
        );
    }

    #[test]
    fn is_silent_under_nitrogen_and_for_wet_catalyst() {
        for steps in [
            "purge flask with nitrogen for 5 min\n  add catalyst\n  add methanol slowly",
            "add catalyst under nitrogen\n  add methanol under nitrogen",
            "add methanol\n  add wet",
            "add methanol\n  add catalyst 15 mg",
            "add water 20 mL\n  add catalyst",
            "add methanol\n  purge flask with nitrogen for 5 min\n  add catalyst\n  evacuate and refill with hydrogen, 3 cycles\n  evacuate and refill with nitrogen, 3 cycles\n  filter into rotflask",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
