//! Substances without a molar mass where an amount needs one.

use crate::Survey;
use crate::{Check, Finding, Severity, edit};
use plan::{Amounts, At, Material, Plan, takes};
use syntax::{AmountKind, KeyId, Role};

pub(crate) const CHECK: Check = Check {
    name: "unknown-substance",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Substance of which the molar mass is not known

**Finds** a material or product that neither the library nor a formula on its line identifies, where an amount depends
on its molar mass: equivalents to be weighed, grams to be counted against the equation, the theory of a product.

Of what is measured without a molar mass, such as a solvent by volume, it speaks only where the name is a slip of one that
the library knows: no other check knows then what is in the flask. It says nothing of mixtures.

**Why it matters.** Without a molar mass nothing can be weighed from `1.20 eq`, and the plan would show a gap instead of
a mass.

**Example**

    scale 5.00 mmol ketone
    materials
      ketone: 4-tert-butylcyclohexanon, 1.00 eq

**Write instead** the name as it is spelt, or what the line is: `formula C10H18O`, `MW 154.25`

    materials
      ketone: 4-tert-butylcyclohexanone, 1.00 eq

A CAS number also identifies what the library has.

**Sources.** Common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for (material, amounts) in plan.materials.iter().zip(&plan.ledger.amounts) {
        let identity = &material.identity;
        let Some(at) = identity.at else { continue };
        if material.molar_mass.is_ok()
            || !identity.candidates.is_empty()
            || !identity.mixture.is_empty()
            // What is meant to say what it is cannot be read: that is the one finding.
            || !identity.faults.is_empty()
            || identity.cas.as_ref().is_some_and(|cas| !cas.valid)
        {
            continue;
        }
        let written = plan.slice(at.line, at.span).unwrap_or(&identity.name);
        let Some(what) = missing(plan, material, amounts) else {
            findings.extend(misspelt(plan, material, at, written));
            continue;
        };
        let message = if identity.is_unknown() {
            format!(
                "The library does not know {written}, so {what} cannot be computed: check the spelling, or add `formula …` or `MW …`."
            )
        } else {
            format!(
                "The library has no molar mass for {written}, so {what} cannot be computed: add `formula …` or `MW …`."
            )
        };
        let mut finding = Finding::new(&CHECK, at, message);
        if identity.is_unknown() && *written == *identity.name {
            for name in meant(written, 3) {
                finding = finding.fix(format!("Write {name}"), vec![edit::replace(plan, at, name)]);
            }
        }
        findings.push(finding.undecided());
    }
}

/// A name that is a slip of one in the library: its amounts are complete, but no check knows what it is.
fn misspelt(plan: &Plan, material: &Material, at: At, written: &str) -> Option<Finding> {
    let identity = &material.identity;
    if !identity.is_unknown() || *written != *identity.name || material.product {
        return None;
    }
    let names: Vec<&str> = meant(written, 3).collect();
    if names.is_empty() {
        return None;
    }
    let message = format!(
        "The library does not know {written}, so nothing is checked of it: is {} meant?",
        names.join(" or ")
    );
    let mut finding = Finding::new(&CHECK, at, message).severity(Severity::Warning);
    for name in names {
        finding = finding.fix(format!("Write {name}"), vec![edit::replace(plan, at, name)]);
    }
    Some(finding)
}

/// Names that may have been meant, and that a line reads as the substance that they name.
fn meant(written: &str, most: usize) -> impl Iterator<Item = &'static str> {
    let near = chemistry::nearest_names(written, NEAR).into_iter();
    near.filter(|name| reads_back(name)).take(most)
}

/// So many near names are looked at.
const NEAR: usize = 8;

fn reads_back(name: &str) -> bool {
    let plan = Plan::read(&format!("plan A\nmaterials\n  a: {name}, 1.00 eq\n"));
    let substance = plan.materials.first().map(|own| own.identity.substance);
    let named = chemistry::find_name(name).one();
    named.is_some() && substance == Some(named)
}

/// What cannot be computed for want of a molar mass, if anything that the plan needs.
fn missing(plan: &Plan, material: &Material, amounts: &Amounts) -> Option<&'static str> {
    if material.product {
        let wanted = material.role != Some(Role::ByProduct) && amounts.amount.is_ok();
        return (wanted && amounts.pure_mass.is_err()).then_some("its theory in grams");
    }
    let measured = material
        .stated
        .iter()
        .any(|amount| matches!(amount.kind, AmountKind::Mass | AmountKind::Volume))
        || takes::takes(&plan.text).any(|take| {
            let quantity = take.quantity().map(|(_, amount, _)| &amount.kind);
            take.key() == Some(material.id)
                && matches!(quantity, Some(AmountKind::Mass | AmountKind::Volume))
        });
    if amounts.amount.is_ok() {
        let unmeasured = !measured && amounts.mass.is_err() && amounts.volume.is_err();
        return unmeasured.then_some("what to weigh");
    }
    let known = amounts.mass.is_ok() || amounts.volume.is_ok();
    let is_scale = plan
        .ledger
        .scale
        .as_ref()
        .is_some_and(|scale| scale.key == Some(material.id));
    if is_scale
        && plan
            .ledger
            .scale
            .as_ref()
            .is_some_and(|scale| scale.amount.is_err())
    {
        return Some("what 1.00 eq is");
    }
    let reacts = plan
        .equation
        .as_ref()
        .is_some_and(|equation| equation.term(material.id).is_some());
    (known && (reacts || counted_by_others(plan, material.id))).then_some("how many mmol it is")
}

/// Whether another line is stated against its amount: `4.0 mol% of zinc`.
fn counted_by_others(plan: &Plan, key: KeyId) -> bool {
    plan.materials
        .iter()
        .flat_map(|material| &material.stated)
        .any(|amount| {
            let of_it = amount.of.as_ref().is_some_and(|(_, of)| *of == Some(key));
            let per_amount = amount.quantity.is_some_and(|quantity| {
                use syntax::Dimension::{Equivalents, MassPerAmount, MolPercent, VolumePerAmount};
                matches!(
                    quantity.unit.dimension,
                    Equivalents | MolPercent | MassPerAmount | VolumePerAmount
                )
            });
            of_it && per_amount
        })
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use super::meant;
    use crate::testing::{expect, expect_fixed};
    use plan::Plan;

    #[test]
    fn a_misspelt_solvent_is_told() {
        expect(
            &CHECK,
            r"
plan A
materials
  thf: tetrahydrofurane, 20 mL
       ^^^^^^^^^^^^^^^^ warning: The library does not know tetrahydrofurane, so nothing is checked of it: is tetrahydrofuran meant?
  oil: vacuum pump oil, 20 mL
",
        );
    }

    #[test]
    fn a_misspelt_name_cannot_be_weighed() {
        let plan = "
plan A
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanon, 1.00 eq
          ^^^^^^^^^^^^^^^^^^^^^^^^ warning: The library does not know 4-tert-butylcyclohexanon, so what to weigh
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
",
        );
    }

    #[test]
    fn another_isomer_is_not_offered() {
        for name in [
            "L-allo-proline",
            "methyl 5-methylbenzoate",
            "2-chlorocyclohexanone-d3",
            "butan-4-ol",
        ] {
            let offered: Vec<&str> = meant(name, 3).collect();
            assert!(offered.is_empty(), "{name}: {offered:?}");
        }
    }

    /// Every name in the library, with its last letter forgotten: each fix makes a plan that has the substance named.
    #[test]
    fn every_name_that_is_offered_reads_back() {
        let mut offered = 0;
        for substance in chemistry::Substance::all().step_by(7) {
            let mut written = substance.name().to_owned();
            written.pop();
            let text = format!("plan A\nscale 5 mmol a\nmaterials\n  a: {written}, 1.00 eq\n");
            let plan = Plan::read(&text);
            let mut findings = Vec::new();
            super::run(&crate::Survey::new(&plan), &mut findings);
            for fix in findings.iter().flat_map(|finding| &finding.fixes) {
                let (range, name) = &fix.edits[0];
                let mut mended = text.clone();
                mended.replace_range(range.clone(), name);
                let mended = Plan::read(&mended);
                let read = mended.materials[0].identity.substance;
                assert_eq!(read, chemistry::find_name(name).one(), "{name}");
                let mut lines = mended.text.lines.iter();
                assert!(lines.all(|line| line.problems.is_empty()), "{name}");
                assert!(read.is_some(), "{name}");
                assert_eq!(mended.materials[0].conditions, [], "{name}");
                offered += 1;
            }
        }
        assert!(offered > 400, "{offered}");
    }

    #[test]
    fn a_name_with_a_comma_in_it_is_offered_by_another() {
        let offered: Vec<&str> = meant("Grubs catalyst, 2nd generation", 3).collect();
        assert_eq!(offered.len(), 1, "{offered:?}");
        let plan = Plan::read(&format!(
            "plan A\nmaterials\n  a: {}, 1.00 eq\n",
            offered[0]
        ));
        let read = plan.materials[0].identity.substance;
        // CAS registry number of the catalyst, as suppliers print it (from memory).
        let cas = read.and_then(chemistry::Substance::cas);
        assert_eq!(cas, Some("246047-72-3"));
    }

    #[test]
    fn a_product_needs_a_molar_mass_for_its_theory() {
        expect(
            &CHECK,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: acetone, 1.00 eq
products
  alcohol: compound 7b, 1.00 eq, expect 85 %
           ^^^^^^^^^^^ warning: The library does not know compound 7b, so its theory
",
        );
    }

    #[test]
    fn a_scale_in_grams_needs_a_molar_mass() {
        expect(
            &CHECK,
            "
plan A
scale 1.00 g acid
materials
  acid: compound 12, 1.00 eq
        ^^^^^^^^^^^ warning: The library does not know compound 12, so what 1.00 eq is
  amine: benzylamine, 1.1 eq
",
        );
    }

    #[test]
    fn what_is_complete_without_a_molar_mass_is_silent() {
        expect(
            &CHECK,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: compound 7a, formula C10H18O, 1.00 eq
  acid: compound 7c, MW 233.3, 1.1 eq
  base: lithium zincate 3, 1.0 M in THF, 1.2 eq
  resin: our scavenger resin, 2.0 g
  resin2: our other resin, 1.1 mmol/g on polystyrene, 2.0 eq
  oil: house solvent 7, 20 mL
  mix: house solvent 7/water 4:1, 20 mL
  salt: house salt, 1.2 eq, 2.14 g
  aid: filter stuff
steps
  filter through aid 10 g
",
        );
    }
}
