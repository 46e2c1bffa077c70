//! An organic azide that is too rich in nitrogen, or too much of it.

use crate::Survey;
use crate::bottles;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::{Element, Formula, Substance};
use plan::vessel::Content;
use plan::{At, Material, Plan, takes};
use syntax::{FieldKind, Verb};
use uom::si::f64::Mass;
use uom::si::mass::gram;

pub(crate) const CHECK: Check = Check {
    name: "energetic-product",
    severity: Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Energetic azide

**Finds** a line of an organic azide, by its name or SMILES and its formula, in which the atoms of
carbon and oxygen are fewer than three for each nitrogen. An error below one for each nitrogen, and
between one and three above 5 g; a warning between one and three, where the plan evaporates or
distils anything and the azide met nothing that could have used it up, else an information. From three up it is an error
above 20 g.

Silent for azidotrimethylsilane, diphenylphosphoryl azide, p-acetamidobenzenesulfonyl azide and inorganic azides,
which are bought;
where the formula is not known.

**Why it matters.** Azides give their nitrogen up at once, from heat, light, a knock or metal. What
surrounds the azide takes up the blow, or does not.

**Example**

    products
      azide: 1,2-diazidoethane, formula C2H4N6, 1.00 eq

**Write instead** a heavier one, or a route that uses the azide up where it is made, in solution, cold and as
the limiting reagent

    products
      azide: dodecyl azide, formula C12H25N3, 1.00 eq

Do not distil azides or take them to dryness, and keep metal spatulas and ground joints away from them.
These are rules of thumb: aromatic, vinylic and acyl azides are worse than they say. The rules of your
laboratory, and someone who has made such azides, decide.

**Sources.** (N_C + N_O)/N_N of 3 and more: isolable, up to 20 g; from 1 to 3: up to 5 g, cold, 1 M at
most; below 1: never isolated. The university sheet *Azide Compounds* (docslib.org, 6457304);
precautions also from Stanford University, *Information on Azide Compounds*.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for (material, amounts) in plan.materials.iter().zip(&plan.ledger.amounts) {
        let Some(formula) = azide(plan, material) else {
            continue;
        };
        let Some(ratio) = ratio(formula) else {
            continue;
        };
        let expected = amounts.expected.as_ref();
        let mass = expected
            .and_then(|(mass, _)| mass.as_ref().ok())
            .or(amounts.pure_mass.as_ref().ok())
            .map(|known| known.value);
        let over = |grams: f64| mass.is_some_and(|mass| mass > Mass::new::<gram>(grams));
        let (severity, advice) = if ratio < 1.0 {
            let advice = "never isolate it, and make no more than it takes at once.";
            (Severity::Error, advice)
        } else if ratio < 3.0 && over(5.0) {
            (
                Severity::Error,
                "make 5 g at most, and keep it cold and in solution.",
            )
        } else if ratio < 3.0 {
            let severity = if taken_to_dryness(plan) && !is_used_up(plan, material) {
                Severity::Warning
            } else {
                Severity::Information
            };
            (
                severity,
                "keep it cold and in solution, 1 M at most, and never take it to dryness.",
            )
        } else if over(20.0) {
            (Severity::Error, "make 20 g at most at a time.")
        } else {
            continue;
        };
        let key = &material.key.text;
        let figure = sensitive::figures(ratio, 2);
        let message = format!(
            "{key} has {figure} atoms of carbon and oxygen for each nitrogen, and may explode: {advice}"
        );
        let at = At {
            line: material.line,
            span: material.key.span,
        };
        findings.push(Finding::new(&CHECK, at, message).severity(severity));
    }
}

/// Organic azides that come in bottles, and are no more dangerous there than other reagents.
const BOUGHT: [&str; 2] = ["azidotrimethylsilane", "diphenylphosphoryl azide"];

/// The plan evaporates or distils something, which may be the azide.
fn taken_to_dryness(plan: &Plan) -> bool {
    takes::steps(&plan.text)
        .flat_map(|(_, step)| &step.clauses)
        .any(|clause| {
            matches!(
                clause.verb,
                Verb::Concentrate | Verb::Coevaporate | Verb::Distil
            )
        })
}

/// It came in with at least as much of something for it to react with, as in a Staudinger reaction or a click.
fn is_used_up(plan: &Plan, azide: &Material) -> bool {
    let Some(amount) = plan.moments.iter().find_map(|moment| {
        let mut additions = moment.additions.iter();
        additions.find_map(|addition| {
            let is_it = sensitive::material(plan, &addition.content)?.id == azide.id;
            is_it.then_some(addition.content.amount)?
        })
    }) else {
        return false;
    };
    // What comes together does so in the vessel of a moment.
    let mut states = plan
        .moments
        .iter()
        .filter_map(|moment| moment.after.get(moment.vessel));
    states.any(|state| {
        let of =
            |content: &&Content| sensitive::material(plan, content).map(|material| material.id);
        let mut contents = state.contents.iter();
        contents.any(|content| of(&content) == Some(azide.id))
            && state.contents.iter().any(|content| {
                of(&content) != Some(azide.id)
                    && !sensitive::is_solvent(plan, content)
                    && content.amount.is_some_and(|other| other >= amount * 0.999)
            })
    })
}

/// The composition of a line that is an organic azide.
fn azide<'a>(plan: &Plan, material: &'a Material) -> Option<&'a Formula> {
    let formula = material.identity.formula.as_deref()?;
    if count(formula, "N") < 3.0 || count(formula, "C") <= 0.0 {
        return None;
    }
    let bought = material
        .identity
        .substance
        .is_some_and(|substance| BOUGHT.contains(&substance.name()));
    let name = material.identity.name.to_lowercase();
    // Made to be the azide that does not go off (Org. Synth. 1992, 70, 93, from memory).
    let bought = bought || name.contains("acetamidobenzenesulfonyl azide");
    let named = name.contains("azido") || name.contains("azide");
    let drawn = |smiles: &str| smiles.contains("N=[N+]=[N-]") || smiles.contains("[N-]=[N+]=N");
    let known = material.identity.substance.and_then(Substance::smiles);
    let written = bottles::entry(plan, material).is_some_and(|entry| {
        let mut fields = entry.fields.iter();
        fields
            .any(|field| matches!(&field.kind, FieldKind::Smiles(Some(text)) if drawn(&text.text)))
    });
    (!bought && (named || written || known.is_some_and(drawn))).then_some(formula)
}

fn ratio(formula: &Formula) -> Option<f64> {
    let nitrogen = count(formula, "N");
    (nitrogen > 0.0).then(|| (count(formula, "C") + count(formula, "O")) / nitrogen)
}

fn count(formula: &Formula, symbol: &str) -> f64 {
    Element::from_symbol(symbol).map_or(0.0, |element| {
        let count = formula.count(element);
        let part = |value: i64| i32::try_from(value).map_or(0.0, f64::from);
        part(*count.numer()) / part(*count.denom())
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::expect;

    fn plan(scale: &str, product: &str) -> String {
        format!("\nplan Test\nscale {scale} azide\nproducts\n  azide: {product}, 1.00 eq\n")
    }

    #[test]
    fn finds_small_azides() {
        // (2 + 0)/6; (7 + 0)/3.
        expect(
            &CHECK,
            "\nplan Test\nscale 10.0 mmol azide\nproducts\n  azide: 1,2-diazidoethane, formula C2H4N6, 1.00 eq\n  ^^^^^ error: azide has 0.33 atoms of carbon and oxygen for each nitrogen\n",
        );
        expect(
            &CHECK,
            "\nplan Test\nscale 10.0 mmol azide\nproducts\n  azide: benzyl azide, formula C7H7N3, 1.00 eq\n  ^^^^^ information: azide has 2.3 atoms\n",
        );
        expect(
            &CHECK,
            "\nplan Test\nscale 10.0 mmol azide\nproducts\n  azide: benzyl azide, formula C7H7N3, 1.00 eq\n  ^^^^^ warning: azide has 2.3 atoms\nsteps\n  concentrate\n",
        );
    }

    #[test]
    fn finds_too_much_of_them() {
        // Benzyl azide is 133 g/mol: 50 mmol are 6.7 g; dodecyl azide is 211 g/mol: 100 mmol are 21 g.
        expect(
            &CHECK,
            "\nplan Test\nscale 50.0 mmol azide\nproducts\n  azide: benzyl azide, formula C7H7N3, 1.00 eq\n  ^^^^^ error: azide has 2.3 atoms of carbon and oxygen for each nitrogen, and may explode: make 5 g at most\n",
        );
        expect(
            &CHECK,
            "\nplan Test\nscale 100 mmol azide\nproducts\n  azide: dodecyl azide, formula C12H25N3, 1.00 eq\n  ^^^^^ error: azide has 4.0 atoms of carbon and oxygen for each nitrogen, and may explode: make 20 g at most\n",
        );
    }

    #[test]
    fn what_reacts_before_the_solvent_goes_is_not_taken_to_dryness() {
        let text = |severity: &str, phosphine: &str| {
            format!(
                "
plan Test
scale 10.0 mmol azide
materials
  azide: benzyl azide, formula C7H7N3, 1.00 eq
  ^^^^^ {severity}: azide has 2.3 atoms
  phosphine: triphenylphosphine, {phosphine}
  thf: tetrahydrofuran, 20 mL
equipment
  flask: 100 mL flask
steps
  add azide, thf
  add phosphine
  concentrate
"
            )
        };
        expect(&CHECK, &text("information", "1.10 eq"));
        expect(&CHECK, &text("warning", "10 mol%"));
    }

    #[test]
    fn a_structure_and_a_bought_sulfonyl_azide_count() {
        // Tosyl azide is C7H7N3O2, 197 g/mol: 150 mmol are 30 g.
        expect(
            &CHECK,
            "\nplan Test\nscale 150 mmol azide\nmaterials\n  azide: tosyl azide, 1.00 eq\n  ^^^^^ error: azide has 3.0 atoms of carbon and oxygen for each nitrogen, and may explode: make 20 g at most\n",
        );
        expect(
            &CHECK,
            "\nplan Test\nscale 10.0 mmol a\nproducts\n  a: SMILES OCCN=[N+]=[N-], 1.00 eq\n  ^ information: a has 1.0 atoms of carbon and oxygen\n",
        );
    }

    #[test]
    fn is_silent_for_large_ones_and_for_others() {
        expect(
            &CHECK,
            &plan("10.0 mmol", "dodecyl azide, formula C12H25N3"),
        );
        expect(
            &CHECK,
            &plan("10.0 mmol", "1-benzyl-1,2,3-triazole, formula C9H9N3"),
        );
        expect(&CHECK, &plan("10.0 mmol", "sodium azide"));
        expect(&CHECK, &plan("10.0 mmol", "azidotrimethylsilane"));
        let sulfonyl = "4-acetamidobenzenesulfonyl azide, formula C8H8N4O3S";
        expect(&CHECK, &plan("50.0 mmol", sulfonyl));
        expect(
            &CHECK,
            &plan("10.0 mmol", "4-methylbenzyl azide, MW 147.18"),
        );
    }
}
