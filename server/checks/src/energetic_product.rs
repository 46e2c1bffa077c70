//! An organic azide that is too rich in nitrogen, or too much of it.

use crate::Survey;
use crate::{Check, Finding, Severity};
use chemistry::{Element, Formula};
use plan::{At, Material, Plan, takes};
use syntax::Verb;
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
distils anything, else an information. From three up it is an error
above 20 g.

Silent for azidotrimethylsilane, diphenylphosphoryl azide and inorganic azides, which are bought;
where the formula is not known.

**Why it matters.** Azides give their nitrogen up at once, from heat, light, a knock or metal. What
surrounds the azide takes up the blow, or does not.

**Example**

    products
      azide: 1,2-diazidoethane, formula C2H4N6, 1.00 eq

**Write instead** a route that uses the azide up where it is made, in solution, cold and as the
limiting reagent; or a heavier one. Do not distil azides or take them to dryness, and keep metal
spatulas and ground joints away from them.

These are rules of thumb: aromatic, vinylic and acyl azides are worse than they say. The rules of your
laboratory, and someone who has made such azides, decide.

**Sources.** (N_C + N_O)/N_N of 3 and more: isolable, up to 20 g; from 1 to 3: up to 5 g, cold, 1 M at
most; below 1: never isolated. The university sheet *Azide Compounds* (docslib.org, 6457304);
precautions also from Stanford University, *Information on Azide Compounds*.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for (material, amounts) in plan.materials.iter().zip(&plan.ledger.amounts) {
        let Some(formula) = azide(material) else {
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
            let severity = if taken_to_dryness(plan) {
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
        let figure = crate::sensitive::figures(ratio, 2);
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

/// The composition of a line that is an organic azide.
fn azide(material: &Material) -> Option<&Formula> {
    let bought = material
        .identity
        .substance
        .is_some_and(|substance| substance.class() == Some(chemistry::ReagentClass::Azide));
    let name = material.identity.name.to_lowercase();
    let named = name.contains("azido") || name.contains("azide");
    let smiles = material
        .identity
        .substance
        .and_then(|substance| substance.smiles())
        .is_some_and(|smiles| smiles.contains("N=[N+]=[N-]"));
    let formula = material.identity.formula.as_deref()?;
    let organic = count(formula, "C") > 0.0 && count(formula, "N") >= 3.0;
    (organic && !bought && (named || smiles)).then_some(formula)
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
        expect(&CHECK, &plan("10.0 mmol", "benzyl azide, MW 133.15"));
    }
}
