//! The ethanol that keeps chloroform takes the reagent.

use crate::Survey;
use crate::alive;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding};
use chemistry::ReagentClass;
use plan::Plan;
use plan::vessel::{Content, Moment};
use syntax::Condition;
use uom::si::amount_of_substance::millimole;
use uom::si::f64::{AmountOfSubstance, Ratio};
use uom::si::ratio::ratio;

pub(crate) const CHECK: Check = Check {
    name: "stabiliser-reacts",
    severity: crate::Severity::Information,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Ethanol in chloroform

**Finds** an acyl chloride, a silyl triflate or a phosphorus halide in so much chloroform that its usual
stabiliser, about 1 % of ethanol, comes to a fifth of the reagent or more. An information, one a plan.

Silent where the line of the chloroform says `unstabilised`, `distilled` or amylene; beside an amine with
a hydrogen on its nitrogen, which is faster; in water, alcohols and after the quench; where amounts are
not known. Other solvents are stabilised with what is too little to matter here, or in a few brands only.

**Why it matters.** 50 mL of chloroform bring about 16 mmol of ethanol. Ethyl esters and hydrogen chloride
form from it, and the reagent falls short.

**Example**

    materials
      acyl:       benzoyl chloride, 5.00 mmol
      chloroform: chloroform, 30 mL
    steps
      add chloroform
      add acyl

**Write instead** what the label says, or another solvent

    materials
      chloroform: chloroform, unstabilised, 30 mL

Chloroform without ethanol forms phosgene in air and light: buy it stabilised with amylene, or use it up
fresh. The safety data sheet and the rules of your laboratory decide.

**Sources.** 1 % of ethanol: Freie Universität Berlin, safety pages on chloroform; *The Great Soviet
Encyclopedia*, 3rd ed., \"Chloroform\". The fifth is an assumption.
";

/// Share of the reagent from which it speaks (an assumption).
const SHARE: f64 = 0.2;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    if !plan.has("chloroform") {
        return;
    }
    let found = plan.moments.iter().find_map(|moment| finding(plan, moment));
    findings.extend(found);
}

fn finding(plan: &Plan, moment: &Moment) -> Option<Finding> {
    let state = moment.after.get(moment.vessel)?;
    if state.unclear || state.quenched.is_some() {
        return None;
    }
    let contents = &state.contents;
    let reagent = contents.iter().find(|content| is_eaten(plan, content))?;
    let solvent = contents
        .iter()
        .find(|content| brings_ethanol(plan, content))?;
    if contents
        .iter()
        .any(|content| content.is_protic(&plan.materials) && sensitive::is_solvent(plan, content))
        || contents.iter().any(|content| is_faster(plan, content))
    {
        return None;
    }
    let ethanol = ethanol(plan, solvent)?.get::<millimole>();
    let amount = reagent.amount?.get::<millimole>();
    if amount <= 0.0 || ethanol < SHARE * amount {
        return None;
    }
    let names = (reagent.name(&plan.materials), solvent.name(&plan.materials));
    let of_the_pair = |name: &str| name == names.0 || name == names.1;
    let addition = moment
        .additions
        .iter()
        .find(|addition| of_the_pair(addition.content.name(&plan.materials)))?;
    let message = format!(
        "{} may bring about {} mmol of ethanol as its stabiliser, on {} mmol of {}: take chloroform that is stabilised with amylene, or dichloromethane.",
        names.1,
        sensitive::figures(ethanol, 2),
        sensitive::figures(amount, 2),
        names.0
    );
    let mut finding = Finding::new(&CHECK, addition.at, message);
    if let Some(material) = sensitive::material(plan, solvent)
        && let Some(edit) = edit::append(plan, material.line, ", unstabilised")
    {
        finding = finding.fix(format!("Say that {} has no ethanol", names.1), vec![edit]);
    }
    Some(finding)
}

fn is_eaten(plan: &Plan, content: &Content) -> bool {
    use ReagentClass as C;
    matches!(
        alive::class(plan, content),
        Some(C::AcylChloride | C::SilylTriflate | C::PhosphorusHalide)
    )
}

/// An amine with a hydrogen on its nitrogen, known by its structure or by its name.
fn is_faster(plan: &Plan, content: &Content) -> bool {
    match content.substance(&plan.materials) {
        Some(substance) => {
            substance.class() == Some(ReagentClass::Amine)
                && substance
                    .protic_equivalents()
                    .is_none_or(|protic| protic.at_once() > 0)
        }
        None => {
            let name = content.name(&plan.materials);
            let identity =
                sensitive::material(plan, content).map_or("", |material| &material.identity.name);
            [name, identity]
                .iter()
                .any(|name| name.contains("amin") || name.contains("anilin"))
        }
    }
}

fn brings_ethanol(plan: &Plan, content: &Content) -> bool {
    let chloroform = alive::is_named(plan, content, "chloroform");
    let said = sensitive::material(plan, content).is_some_and(|material| {
        let line = sensitive::line_at(plan, material.line);
        let amylene = plan
            .slice(line.line, line.span)
            .is_some_and(|text| text.contains("amylene") || text.contains("pentene"));
        amylene
            || material.conditions.iter().any(|(condition, _)| {
                matches!(condition, Condition::Unstabilised | Condition::Distilled)
            })
    });
    chloroform && !said
}

/// The ethanol in a volume of chloroform, as the library's rows have it.
fn ethanol(plan: &Plan, content: &Content) -> Option<AmountOfSubstance> {
    let solvent = content.substance(&plan.materials)?;
    let stabiliser = solvent
        .stabilisers()
        .find(|stabiliser| stabiliser.stabiliser.class() == Some(ReagentClass::Alcohol))?;
    let share: Ratio = stabiliser.share?;
    let formula = chemistry::Formula::parse(stabiliser.stabiliser.formula()?).ok()?;
    let mass = content.volume? * solvent.density()?.value * share.get::<ratio>();
    Some(mass / formula.molar_mass().ok()?.value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(solvent: &str, steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 5.00 mmol acyl
materials
  acyl: benzoyl chloride, 1.00 eq
  alcohol: geraniol, 1.00 eq
  amine: benzylamine, 1.00 eq
  base: triethylamine, 1.50 eq
  solvent: {solvent}
equipment
  flask: 100 mL flask
steps
{steps}"
        )
    }

    #[test]
    fn finds_an_acid_chloride_in_chloroform() {
        // 30 mL × 1.48 g/mL × 1 % / 46.07 g/mol = 9.6 mmol.
        let before = "
  add solvent, alcohol
  add base, acyl
            ^^^^ information: solvent may bring about 9.6 mmol of ethanol as its stabiliser, on 5.0 mmol of acyl
";
        expect(&CHECK, &plan("chloroform, 30 mL", before));
        expect_fixed(
            &CHECK,
            &plan("chloroform, 30 mL", before),
            0,
            &plan(
                "chloroform, 30 mL, unstabilised",
                "  add solvent, alcohol\n  add base, acyl\n",
            ),
        );
    }

    #[test]
    fn is_silent_without_ethanol_or_where_it_is_slower() {
        let steps = "  add solvent, alcohol, base\n  add acyl\n";
        for solvent in [
            "dichloromethane, 30 mL",
            "chloroform, unstabilised, 30 mL",
            "chloroform, amylene grade, 30 mL",
            "chloroform, distilled, 30 mL",
            "chloroform, 2 mL",
        ] {
            expect(&CHECK, &plan(solvent, steps));
        }
        for steps in [
            "  add solvent, amine, base\n  add acyl\n",
            "  add solvent, alcohol\n  quench with water 5 mL\n  add acyl\n",
            "  add solvent, alcohol, base\n",
        ] {
            expect(&CHECK, &plan("chloroform, 30 mL", steps));
        }
    }
}
