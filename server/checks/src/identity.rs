//! What a line says it is, in one form that cannot be read or in two that contradict each other.

use crate::{Check, Finding, Severity};
use plan::{Material, Plan};
use uom::si::molar_mass::gram_per_mole;

pub(crate) const CHECK: Check = Check {
    name: "identity",
    severity: Severity::Error,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Identity

**Finds** a formula, SMILES, InChI or CAS number that cannot be read, with the place in it and the reason; and a line \
whose name, CAS number, formula, SMILES or InChI stand for different compositions, or whose `MW` is not that of its \
composition by more than its digits and 0.5 %.

**Why it matters.** Every mass follows from the molar mass. Two identities that contradict each other mean that one \
of them is another bottle: the anhydrous salt for the hydrate, the acid for its chloride.

**Example**

    materials
      salt: sodium carbonate, formula Na2CO3·10H2O, 1.0 eq     # the name means the anhydrous salt
      acid: benzoic acid, CAS 65-85-1, 1.0 eq                  # the last digit of the number does not fit

**Write instead**

    materials
      salt: sodium carbonate decahydrate, formula Na2CO3·10H2O, 1.0 eq
      acid: benzoic acid, CAS 65-85-0, 1.0 eq

Until it is mended a written formula rules over SMILES and InChI, and these rule over name and CAS number.

**Sources.** The check digit of a CAS number is CAS's own rule: each digit times its place from the right, summed, \
modulo ten. SMILES are read as OpenSMILES has them, InChI as the InChI Trust's technical manual.";

fn run(plan: &Plan, findings: &mut Vec<Finding>) {
    for material in &plan.materials {
        for (at, reason) in &material.identity.faults {
            findings.push(Finding::new(&CHECK, *at, reason.clone()));
        }
        findings.extend(contradiction(material));
        findings.extend(molar_mass(material));
    }
}

/// The first statement of the line that another contradicts.
fn contradiction(material: &Material) -> Option<Finding> {
    let mut stated = material.identity.compositions.iter();
    let ruling = stated.next()?;
    let other = stated.find(|other| !other.formula.same_composition(&ruling.formula))?;
    let mass = |formula: &chemistry::Formula| {
        let mass = formula
            .molar_mass()
            .ok()
            .map(|mass| mass.value.get::<gram_per_mole>());
        mass.map_or_else(String::new, |mass| format!(" ({mass:.2} g/mol)"))
    };
    let message = format!(
        "The {} means {}{}, but the {} means {}{}: which is in the bottle?",
        other.by,
        other.formula,
        mass(&other.formula),
        ruling.by,
        ruling.formula,
        mass(&ruling.formula),
    );
    let finding = Finding::new(&CHECK, other.at, message);
    Some(finding.related(ruling.at, format!("the {} rules until then", ruling.by)))
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
        "MW {} is not that of {}, {:.2} g/mol: which is in the bottle?",
        written.value.get::<gram_per_mole>(),
        ruling.formula,
        computed.get::<gram_per_mole>(),
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
  c: benzoic acid, CAS 65-85-1, 1 mmol
                   ^^^^^^^^^^^ error: 65-85-1 is no CAS number
",
        );
    }

    #[test]
    fn two_identities_that_differ_are_both_shown() {
        expect(
            &CHECK,
            r"
plan A
materials
  a: acetone, formula C3H8O, 1 mmol
     ^^^^^^^ error: The name means C3H6O (58.08 g/mol), but the formula means C3H8O (60.10 g/mol)
  b: ethanol, SMILES CO, 1 mmol
     ^^^^^^^ error: The name means C2H6O (46.07 g/mol), but the SMILES means CH4O (32.04 g/mol)
  c: acetone, MW 60.1, 1 mmol
                 ^^^^ warning: MW 60.1 is not that of C3H6O, 58.08 g/mol
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
  c: InChI=1S/C2H6O/c1-2-3/h3H,2H2,1H3, 1 mmol
  d: osmium, 1 mmol
  e: mystery, MW 123.4, 1 mmol
",
        );
    }
}
