//! A structure that cannot be read, and a line whose name, structure, formula and molar mass contradict each other.

use crate::Survey;
use crate::{Check, Finding, Severity};
use chemistry::{Element, Formula, Ratio};
use plan::{Composition, Material};
use uom::si::molar_mass::gram_per_mole;

pub(crate) const CHECK: Check = Check {
    name: "structure",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Structures that contradict each other

**Finds** a formula, SMILES or InChI that cannot be read, with the place in it and the reason; a line whose name,
formula, SMILES and InChI stand for different compositions; and a written `MW` that is not that of the composition by
more than its digits and 0.5 %. Until it is mended a written formula rules over SMILES and InChI, and these rule over
the name.

A formula may say more than the name: the crystal water of a salt (`sodium carbonate, formula Na2CO3·10H2O`) and
labels (`toluene, formula C7D8`) are no contradiction.

**Why it matters.** Every mass follows from the molar mass. Two statements that contradict each other mean that one of
them is another bottle: the acid for its chloride, the free base for its salt.

**Example**

    materials
      amine:  benzylamine, formula C7H9N·HCl, 1.0 g
      ketone: SMILES CC(=O, 1.0 g

**Write instead** what is in the bottle

    materials
      amine:  benzylamine hydrochloride, formula C7H9N·HCl, 1.0 g
      ketone: SMILES CC(C)=O, 1.0 g

**Sources.** OpenSMILES 1.0; S. R. Heller et al., *J. Cheminform.* 2015, 7, 23, for InChI; standard atomic weights 2021
(CIAAW). 0.5 % of slack is common practice: older tables and rounded sums stay below it.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for material in &plan.materials {
        for (at, reason) in &material.identity.faults {
            findings.push(Finding::new(&CHECK, *at, reason.clone()));
        }
        findings.extend(contradiction(material));
        findings.extend(molar_mass(material));
    }
}

/// The first statement of the line that another contradicts. A CAS number beside a name of another row is the
/// finding of `cas-number`.
fn contradiction(material: &Material) -> Option<Finding> {
    let identity = &material.identity;
    let apart = identity.named_and_numbered().is_some();
    let mut stated = identity
        .compositions
        .iter()
        .filter(|stated| !(apart && stated.by == "CAS number"));
    let ruling = stated.next()?;
    let other = stated.find(|other| !agrees(other, ruling))?;
    let message = format!(
        "The {} means {}, but the {} means {}: which is in the bottle?",
        other.by,
        described(&other.formula),
        ruling.by,
        described(&ruling.formula),
    );
    let finding = Finding::new(&CHECK, other.at, message);
    Some(finding.related(ruling.at, format!("the {} rules until then", ruling.by)))
}

/// The composition with its molar mass.
pub(crate) fn described(formula: &Formula) -> String {
    match formula.molar_mass() {
        Ok(mass) => format!("{formula} ({:.2} g/mol)", mass.value.get::<gram_per_mole>()),
        Err(_) => formula.to_string(),
    }
}

fn agrees(other: &Composition, ruling: &Composition) -> bool {
    other.formula.same_composition(&ruling.formula)
        || other.by == "name" && specifies(&ruling.formula, &other.formula)
}

/// Whether the one is the other with crystal water or labels that the other does not mention.
fn specifies(written: &Formula, named: &Formula) -> bool {
    let zero = Ratio::from_integer(0);
    let labelled = |formula: &Formula| formula.counts().any(|(atom, _)| atom.mass_number.is_some());
    if labelled(named) && !labelled(written) || written.charge() != named.charge() {
        return false;
    }
    let water = match named.crystal_water() {
        none if none == zero => written.crystal_water(),
        _ => zero,
    };
    let of_water = |element: Element| match element.atomic_number() {
        1 => water * 2,
        8 => water,
        _ => zero,
    };
    Element::all().all(|element| written.count(element) == named.count(element) + of_water(element))
}

/// A written molar mass that is not that of the composition.
fn molar_mass(material: &Material) -> Option<Finding> {
    /// Older tables of atomic weights and rounded sums stay below this.
    const SLACK: f64 = 0.005;
    let written = material.molar_mass.as_ref().ok()?;
    let plan::Origin::Written(at) = written.origin else {
        return None;
    };
    let ruling = material.identity.compositions.first()?;
    let computed = ruling.formula.molar_mass().ok()?.value;
    let apart = (written.value - computed).abs();
    if apart <= written.half_width + computed * SLACK {
        return None;
    }
    let message = format!(
        "MW {} is not that of {}: which is in the bottle?",
        written.value.get::<gram_per_mole>(),
        described(&ruling.formula),
    );
    let finding = Finding::new(&CHECK, at, message).severity(Severity::Warning);
    Some(finding.related(ruling.at, format!("the {} says what it is", ruling.by)))
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::expect;

    #[test]
    fn what_cannot_be_read_is_shown_where_it_breaks() {
        expect(
            &CHECK,
            r"
plan A
materials
  a: amine, formula C5H11Qq, 1 mmol
                         ^^ error:
  b: SMILES CC(C, 1 mmol
              ^ error:
  c: SMILES CC(=O)(C)C=X, 1 mmol
                       ^ error:
  d: InChI=1S/C2H6O, InChI=1S/Qq, 1 mmol
                              ^^ error:
",
        );
    }

    #[test]
    fn two_statements_that_differ_are_both_shown() {
        // Molar masses by CIAAW 2021: C 12.011, H 1.008, O 15.999, Cl 35.45, Na 22.990.
        expect(
            &CHECK,
            r"
plan A
materials
  a: acetone, formula C3H8O, 1 mmol
     ^^^^^^^ error: The name means C3H6O (58.08 g/mol), but the formula means C3H8O (60.10 g/mol)
  b: ethanol, SMILES CO, 1 mmol
     ^^^^^^^ error: The name means C2H6O (46.07 g/mol), but the SMILES means CH4O (32.04 g/mol)
  c: our acid, SMILES CC(=O)O, InChI=1S/C3H6O2/c1-2-3(4)5/h2H2,1H3,(H,4,5), 1 mmol
                               ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error: The InChI means C3H6O2 (74.08 g/mol), but the SMILES means C2H4O2 (60.05 g/mol)
  d: 67-64-1, formula C3H8O, 1 mmol
     ^^^^^^^ error: The CAS number means C3H6O (58.08 g/mol), but the formula means C3H8O
  e: benzylamine, formula C7H9N·HCl, 1 mmol
     ^^^^^^^^^^^ error: The name means C7H9N
",
        );
    }

    #[test]
    fn a_molar_mass_of_something_else() {
        // 249.68: copper(II) sulfate pentahydrate beside the anhydrous salt, 159.60.
        expect(
            &CHECK,
            r"
plan A
materials
  a: acetone, MW 60.1, 1 mmol
                 ^^^^ warning: MW 60.1 is not that of C3H6O (58.08 g/mol)
  b: copper sulfate, formula CuSO4, MW 249.68, 1 mmol
                                       ^^^^^^ warning: MW 249.68 is not that of
",
        );
    }

    #[test]
    fn agreement_is_silent() {
        expect(
            &CHECK,
            r"
plan A
materials
  a: acetone, CAS 67-64-1, formula C3H6O, SMILES CC(C)=O, MW 58.08, 1 mmol
  b: deuterochloroform, formula CDCl3, 1 mL
  b2: CDCl3, SMILES [2H]C(Cl)(Cl)Cl, 1 mL
  b3: D2O, InChI=1S/H2O/h1H2/i/hD2, 1 mL
  c: InChI=1S/C2H6O/c1-2-3/h3H,2H2,1H3, 1 mmol
  d: osmium, 1 mmol
  e: mystery, MW 123.4, 1 mmol
  f: acetone, MW 58, 1 mmol
  g: acetone, MW 58.3, 1 mmol
",
        );
    }

    #[test]
    fn a_formula_may_say_more_than_the_name() {
        expect(
            &CHECK,
            r"
plan A
materials
  a: sodium carbonate, formula Na2CO3·10H2O, 1 mmol
  b: toluene, formula C7D8, 1 mmol
  c: sodium carbonate, SMILES [Na+].[Na+].[O-]C([O-])=O.O, 1 mmol
",
        );
        // But not less.
        expect(
            &CHECK,
            r"
plan A
materials
  a: copper(II) sulfate pentahydrate, formula CuSO4, 1 mmol
     ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error: The name means
  b: CDCl3, formula CHCl3, 1 mmol
     ^^^^^ error: The name means
",
        );
    }
}
