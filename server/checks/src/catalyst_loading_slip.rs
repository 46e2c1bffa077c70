//! A catalyst in the amount of a reactant.

use crate::Survey;
use crate::edit;
use crate::{Check, Finding, Severity};
use chemistry::{Element, ReagentClass};
use plan::{At, Known, Material};
use syntax::{AmountKind, Role};
use uom::si::f64::Ratio;
use uom::si::ratio::ratio;

pub(crate) const CHECK: Check = Check {
    name: "catalyst-loading-slip",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Catalyst in equivalents

**Finds** a compound of palladium, platinum, rhodium, iridium or ruthenium of which the line says two
equivalents or more, and what a line calls a catalyst or a ligand and takes in five or more: most
likely mol% is meant. An information from half an equivalent of such a metal.

Silent where the line gives mol%, a mass or a volume; for a metal on a support; where the scale counts
on it, the line says reactant or a product holds the metal, since a complex is then made of it; where
the title says stoichiometric.

**Why it matters.** `10 eq` for `10 mol%` is a hundred times as much: an expensive weighing at best,
another reaction and a vessel full of gas or heat at worst.

**Example**

    materials
      bromide:  4-bromoanisole, 1.00 eq
      catalyst: tetrakis(triphenylphosphine)palladium(0), 5.0 eq

**Write instead**

    materials
      catalyst: tetrakis(triphenylphosphine)palladium(0), 5.0 mol%

Where so much is meant, leave it, and write `stoichiometric` into the title.

**Sources.** Common practice; the amounts from which it speaks are assumptions.
";

/// Equivalents of a precious metal that are a remark and a warning, and of what the line calls a catalyst.
const REMARK: f64 = 0.5;
const METAL: f64 = 2.0;
const CALLED: f64 = 5.0;

const METALS: [&str; 5] = ["Pd", "Pt", "Rh", "Ir", "Ru"];

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let title = plan
        .title
        .as_ref()
        .map_or(String::new(), |title| title.text.to_lowercase());
    if title.contains("stoichiometric") {
        return;
    }
    let mut informed = false;
    for (material, amounts) in plan.materials.iter().zip(&plan.ledger.amounts) {
        let scale = plan.ledger.scale.as_ref().and_then(|scale| scale.key);
        if material.product || material.supported || scale == Some(material.id) {
            continue;
        }
        let metal = metal(material);
        let made = metal.is_some_and(|metal| {
            plan.materials
                .iter()
                .any(|other| other.product && holds(other, metal))
        });
        let called = matches!(material.role, Some(Role::Catalyst | Role::Ligand));
        let reactant = material.role == Some(Role::Reactant);
        let on_support = material.class() == Some(ReagentClass::HydrogenationCatalyst);
        if made || on_support || reactant {
            continue;
        }
        let Some(quantity) = material.stated.iter().find_map(|amount| {
            (amount.kind == AmountKind::Equivalents && amount.of.is_none())
                .then_some(amount.quantity.as_ref())
                .flatten()
        }) else {
            continue;
        };
        let Some(equivalents) = equivalents(amounts.equivalents.as_ref().ok()) else {
            continue;
        };
        let severity = if metal.is_some() && equivalents >= METAL || called && equivalents >= CALLED
        {
            Severity::Warning
        } else if metal.is_some() && equivalents >= REMARK && !informed {
            informed = true;
            Severity::Information
        } else {
            continue;
        };
        let at = At {
            line: material.line,
            span: quantity.span,
        };
        let number = &quantity.number;
        let written = plan.slice(material.line, number.span).unwrap_or("that");
        let key = &material.key.text;
        let what = match metal {
            Some(metal) => format!("{key} brings {metal}, which"),
            None if material.role == Some(Role::Ligand) => format!("{key} is a ligand, which"),
            None => format!("{key} is a catalyst, which"),
        };
        let mass = amounts.mass.as_ref().ok();
        let mass = mass.map_or(String::new(), |mass| {
            format!(" ({})", plan::show::mass(mass.value))
        });
        let message =
            format!("{what} is seldom taken in {written} eq{mass}: is {written} mol% meant?");
        let unit = At {
            line: material.line,
            span: quantity.unit_span,
        };
        let finding = Finding::new(&CHECK, at, message).severity(severity).fix(
            format!("Take {written} mol%"),
            vec![edit::replace(plan, unit, "mol%")],
        );
        findings.push(finding);
    }
}

fn equivalents(known: Option<&Known<Ratio>>) -> Option<f64> {
    known.map(|known| known.value.get::<ratio>())
}

/// The precious metal of a line, by its formula.
fn metal(material: &Material) -> Option<&'static str> {
    METALS.into_iter().find(|metal| holds(material, metal))
}

fn holds(material: &Material, metal: &str) -> bool {
    let Some(element) = Element::from_symbol(metal) else {
        return false;
    };
    material
        .identity
        .formula
        .as_deref()
        .is_some_and(|formula| *formula.count(element).numer() > 0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(title: &str, material: &str) -> String {
        let material = material.strip_prefix('\n').unwrap_or(material);
        format!(
            "\nplan {title}\nscale 1.00 mmol bromide\nmaterials\n  bromide: 4-bromoanisole, 1.00 eq\n{material}\n"
        )
    }

    #[test]
    fn finds_equivalents_for_mole_percent() {
        let before = "
  catalyst: tetrakis(triphenylphosphine)palladium(0), 5.0 eq
                                                      ^^^^^^ warning: catalyst brings Pd, which is seldom taken in 5.0 eq (5.78 g): is 5.0 mol% meant?
";
        expect(&CHECK, &plan("Test", before));
        expect_fixed(
            &CHECK,
            &plan("Test", before),
            0,
            &plan(
                "Test",
                "  catalyst: tetrakis(triphenylphosphine)palladium(0), 5.0 mol%\n",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "Test",
                "  dmap: 4-dimethylaminopyridine, catalyst, 10 eq\n                                           ^^^^^ warning: dmap is a catalyst, which is seldom taken in 10 eq",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "Test",
                "  tmeda: TMEDA, ligand, 10 eq\n                        ^^^^^ warning: tmeda is a ligand, which is seldom taken in 10 eq",
            ),
        );
    }

    #[test]
    fn remarks_on_half_an_equivalent() {
        expect(
            &CHECK,
            &plan(
                "Test",
                "  pd: palladium(II) acetate, 1.0 eq\n                             ^^^^^^ information: pd brings Pd",
            ),
        );
    }

    #[test]
    fn is_silent_where_it_is_meant() {
        for material in [
            "  pd: palladium(II) acetate, 5.0 mol%",
            "  pd: palladium(II) acetate, 0.05 eq",
            "  pd: palladium(II) acetate, 22 mg",
            "  pd: palladium(II) acetate, reactant, 1.0 eq",
            "  pd: palladium, 10 wt% on carbon, 1.0 eq",
            "  pd: palladium(II) acetate, 1.0 eq\nproducts\n  complex: C8H9OPdBr, 1.00 eq",
            "  dmap: 4-dimethylaminopyridine, 10 eq",
            "  acid: aluminium chloride, catalyst, 1.1 eq",
        ] {
            expect(&CHECK, &plan("Test", material));
        }
        expect(
            &CHECK,
            &plan(
                "Stoichiometric palladium",
                "  pd: palladium(II) acetate, 2.0 eq",
            ),
        );
    }
}
