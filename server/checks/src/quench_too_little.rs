//! A quench with less than what it should destroy.

use crate::Survey;
use crate::alive;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding};
use chemistry::ReagentClass;
use plan::vessel::{Addition, Moment};
use plan::{Plan, takes};
use syntax::{Block, Clause, PortionKind, Referent, RemarkKind, Severity, Statement, Verb};
use uom::si::amount_of_substance::millimole;

pub(crate) const CHECK: Check = Check {
    name: "quench-too-little",
    severity: crate::Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Too little of a quench

**Finds** a quench with an alcohol, water or an acid that has fewer acidic hydrogens than there is
hydride, alkyl or metal sure to be left, short by 2 mmol or more, where water, alcohol or acid comes in
next without a word of slowly, or not at all.

Silent for solutions in water, which bring much water; for esters, ketones and salts; where the rest
goes in slowly, as in a quench of several stages, also in the vessel that it is poured into; where a note, or a line
that could not be read, may tell of more; where amounts are not known.

**Why it matters.** The flask looks quenched and is not: what is left meets the water of the work-up at
once.

**Example**

    materials
      lah:    lithium aluminium hydride, 2.00 eq
    steps
      add lah, thf 40 mL
      cool to 0 °C
      add ketone dropwise over 20 min
      quench with methanol 0.5 mL dropwise      # 12 mmol, on 70 mmol of hydride
      add water 40 mL

**Write instead**

    steps
      add lah, thf 40 mL
      cool to 0 °C
      add ketone dropwise over 20 min
      quench with methanol 4.5 mL dropwise
      add water 40 mL dropwise over 20 min

The safety data sheet, the rules of your laboratory and a trained supervisor decide.

**Sources.** Stoichiometry: one acidic hydrogen for each hydride, alkyl or electron, as the library counts
them; the fix takes half as much again (common practice). The 2 mmol are an assumption.
";

/// Millimoles that must be missing (an assumption).
const MISSING: f64 = 2.0;

/// What a fix takes of what is needed (common practice).
const SURPLUS: f64 = 1.5;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for (index, moment) in plan.moments.iter().enumerate() {
        findings.extend(finding(plan, index, moment));
    }
}

fn finding(plan: &Plan, index: usize, moment: &Moment) -> Option<Finding> {
    let clause = sensitive::clause(plan, moment).filter(|clause| clause.verb == Verb::Quench)?;
    let state = moment.before.get(moment.vessel)?;
    let left = alive::left(plan, state)?;
    let needed = left.equivalents.get::<millimole>();
    let mut brought = 0.0;
    for addition in &moment.additions {
        brought += hydrogens(plan, clause, addition)?;
    }
    let addition = moment.additions.first()?;
    if brought <= 0.0 || needed - brought < MISSING {
        return None;
    }
    let rest = rest(plan, index, moment.vessel);
    let slowly = rest.is_some_and(|rest| sensitive::clause(plan, rest).is_none_or(alive::is_slow));
    if slowly || is_told_in_words(plan, moment.line, rest.map(|rest| rest.line)) {
        return None;
    }
    let name = addition.content.name(&plan.materials);
    let reagent = left.reagent.name(&plan.materials);
    let factor = SURPLUS * needed / brought;
    let message = format!(
        "{name} brings {} mmol of acidic hydrogen, and {reagent} has up to {} mmol left for it: take {} times as much.",
        sensitive::figures(brought, 2),
        sensitive::figures(needed, 2),
        sensitive::figures(factor, 2)
    );
    let mut finding = Finding::new(&CHECK, addition.at, message);
    if let Some(rest) = rest {
        finding = finding.related(
            sensitive::line_at(plan, rest.line),
            "what is left meets this at once",
        );
    }
    let quantity = takes::things(clause)
        .filter(|(_, thing)| thing.name.span == addition.at.span)
        .flat_map(|(_, thing)| &thing.portions)
        .find_map(|portion| match &portion.kind {
            PortionKind::Amount { amount, .. } => amount.quantity.as_ref(),
            _ => None,
        });
    if moment.additions.len() == 1
        && let Some(quantity) = quantity
        && let Some(edits) = edit::multiply(plan, moment.line, [(quantity, factor)])
    {
        finding = finding.fix(format!("Take enough of {name}"), edits);
    }
    Some(finding)
}

/// Millimoles of acidic hydrogen that an alcohol, water or an acid brings; none of anything else, and
/// where its amount is not known.
fn hydrogens(plan: &Plan, clause: &Clause, addition: &Addition) -> Option<f64> {
    let content = &addition.content;
    let substance = content.substance(&plan.materials)?;
    let plain = matches!(
        substance.class(),
        Some(ReagentClass::Alcohol | ReagentClass::Water | ReagentClass::Acid)
    );
    if content.aqueous || !plain || addition.from.is_some() {
        return None;
    }
    let each = f64::from(substance.protic_equivalents()?.at_most());
    let amount = match content.amount {
        Some(amount) => amount,
        None => {
            // `4 M HCl in dioxane`: its volume is not the acid's.
            let dissolved = takes::things(clause).any(|(_, thing)| {
                thing.name.span == addition.at.span
                    && matches!(thing.referent, Referent::Substance(Some(_)))
            });
            if dissolved {
                return None;
            }
            let formula = chemistry::Formula::parse(substance.formula()?).ok()?;
            let molar_mass = formula.molar_mass().ok()?.value;
            content.volume? * substance.density()?.value / molar_mass
        }
    };
    Some(amount.get::<millimole>() * each)
}

/// The step that brings more of what destroys the reagent, to where the mixture is by then.
fn rest(plan: &Plan, index: usize, vessel: usize) -> Option<&Moment> {
    let mut vessel = vessel;
    plan.moments.iter().skip(index + 1).find(|later| {
        let mut sources = later.additions.iter().filter_map(|addition| addition.from);
        if sources.any(|from| from == vessel) {
            vessel = later.vessel;
            let into = later.before.get(vessel);
            return into.is_some_and(|state| {
                let mut contents = state.contents.iter();
                contents.any(|content| content.is_protic(&plan.materials))
            });
        }
        later.vessel == vessel && ends_it(plan, later)
    })
}

/// Between a quench and what comes next stands a line that could not be read, a repeat, or a note of more to quench with.
fn is_told_in_words(plan: &Plan, after: u32, before: Option<u32>) -> bool {
    const WORDS: [&str; 12] = [
        "quench",
        "water",
        "alcohol",
        "methanol",
        "ethanol",
        "isopropanol",
        "propan",
        "acid",
        "nh4cl",
        "hcl",
        "rochelle",
        "gas",
    ];
    let lines = (0u32..).zip(&plan.text.lines);
    let mut between =
        lines.filter(|(line, _)| *line > after && before.is_none_or(|before| *line < before));
    between.any(|(_, line)| match &line.statement {
        Statement::Unread(_) => line.block == Block::Steps,
        Statement::Remark(RemarkKind::Note | RemarkKind::Remark, Some(text)) => {
            let text = text.text.to_lowercase();
            WORDS.iter().any(|word| text.contains(word))
        }
        Statement::Step(step) => {
            let mut problems = line.problems.iter();
            problems.any(|problem| problem.severity == Severity::Error)
                || step
                    .clauses
                    .iter()
                    .any(|clause| clause.verb == Verb::Repeat)
        }
        _ => false,
    })
}

/// A step that brings more of what destroys the reagent.
fn ends_it(plan: &Plan, moment: &Moment) -> bool {
    let wet = moment
        .additions
        .iter()
        .any(|addition| addition.from.is_none() && addition.content.is_protic(&plan.materials));
    wet || sensitive::clause(plan, moment).is_some_and(|clause| {
        matches!(
            clause.verb,
            Verb::Quench | Verb::Acidify | Verb::Basify | Verb::Wash | Verb::Extract
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    // The library does not know the ketone, which may take all four hydrides then.
    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 10.0 mmol ketone
materials
  ketone: a ketone of our own, MW 154.25, 1.00 eq
  lah: lithium aluminium hydride, 2.00 eq
  thf: tetrahydrofuran, 40 mL
equipment
  flask: 250 mL two-neck flask
  rotflask: 250 mL flask
steps
  add thf 20 mL, ketone
  add lah
  cool to 0 °C
{steps}"
        )
    }

    #[test]
    fn finds_an_alcohol_that_does_not_reach() {
        // 0.5 mL of methanol are 0.5 × 0.791/32.04 = 12.3 mmol; the hydride left is 80 - 40 mmol.
        let before = "
  quench with methanol 0.50 mL dropwise
              ^^^^^^^^ warning: methanol brings 12 mmol of acidic hydrogen, and lah has up to 40 mmol left for it: take 4.9 times
  add water 40 mL
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan("  quench with methanol 2.43 mL dropwise\n  add water 40 mL\n"),
        );
        expect(
            &CHECK,
            &plan(
                "
  quench with methanol 0.50 mL dropwise
              ^^^^^^^^ warning: methanol brings 12 mmol
  filter through Celite, into rotflask, keep filtrate
",
            ),
        );
    }

    #[test]
    fn follows_the_mixture_and_reads_the_notes() {
        let quench = "  quench with methanol 0.50 mL dropwise\n";
        let found = "              ^^^^^^^^ warning: methanol brings 12 mmol of acidic hydrogen\n";
        for rest in [
            "  in rotflask\n  add water 40 mL\n  in flask\n  add water 20 mL dropwise\n",
            "  in rotflask\n  add water 40 mL\n  transfer flask to rotflask dropwise over 30 min\n",
            "  transfer flask to rotflask\n  in rotflask\n  add water 40 mL dropwise\n",
            "  stir for 10 min\n  repeat last 2 steps, 4 more times\n  add water 40 mL\n",
            "  note then the rest of the methanol, until no more gas comes\n  add water 40 mL\n",
            "  ever so gently let some water run down the wall\n  add water 40 mL\n",
        ] {
            expect(&CHECK, &plan(&format!("{quench}{rest}")));
        }
        for rest in [
            "  in rotflask\n  add water 40 mL\n  transfer flask to rotflask\n",
            "  transfer flask to rotflask\n  in rotflask\n  add water 40 mL\n",
            "  note two people\n  add water 40 mL\n",
        ] {
            expect(&CHECK, &plan(&format!("{quench}{found}{rest}")));
        }
    }

    #[test]
    fn is_silent_where_it_reaches_or_the_rest_is_slow() {
        for steps in [
            "quench with methanol 2.5 mL dropwise\n  add water 40 mL",
            "quench with methanol 0.50 mL dropwise\n  add water 40 mL dropwise over 20 min",
            "quench with water 0.76 mL dropwise\n  add 15 wt% NaOH 0.76 mL\n  add water 2.3 mL",
            "quench with ethyl acetate 1 mL dropwise\n  add water 40 mL",
            "quench with sat. aq. NH4Cl 1 mL dropwise\n  add water 40 mL",
            "quench with methanol dropwise\n  add water 40 mL",
            "quench with 1 M acetic acid in THF 1 mL dropwise\n  add water 40 mL",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
