//! Names that more than one substance has.

use crate::Survey;
use crate::edit::{self, Edit};
use crate::{Check, Finding, Severity};
use chemistry::{Found, Substance};
use plan::{Amounts, At, Material, Plan};
use syntax::Span;

pub(crate) const CHECK: Check = Check {
    name: "ambiguous-substance",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Name of more than one substance

**Finds** a name that the library has for more than one substance, and a bare formula of several isomers where the line
is measured by volume and a density is needed. It shows the substances that fit.

**Why it matters.** A molar mass, a density or a hazard of the wrong one would be worse than none, so nothing is taken
from the library until the line says which is meant.

**Example**

    scale 5.2 mmol alcohol
    materials
      alcohol: C3H8O, 0.40 mL

**Write instead** the CAS number of the one that is meant, or its name

    materials
      alcohol: C3H8O, 67-63-0, 0.40 mL

A formula is enough where only mass and amount are wanted, as for a product.

**Sources.** Common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for (material, amounts) in plan.materials.iter().zip(&plan.ledger.amounts) {
        let identity = &material.identity;
        let Some(at) = identity.at else { continue };
        let candidates = match &identity.candidates {
            _ if identity.substance.is_some() => continue,
            several if !several.is_empty() => several.clone(),
            _ if needs_density(material, amounts) => isomers(material),
            _ => continue,
        };
        if candidates.is_empty() {
            continue;
        }
        let severity = if material.molar_mass.is_ok() {
            Severity::Information
        } else {
            Severity::Warning
        };
        let message = format!(
            "{} can mean {}: add the CAS number of the one that is meant.",
            identity.name,
            any_of(&candidates)
        );
        let mut finding = Finding::new(&CHECK, at, message).severity(severity);
        for &substance in candidates.iter().take(MOST) {
            if let Some((title, edit)) = choice(plan, at, substance) {
                finding = finding.fix(title, vec![edit]);
            }
        }
        findings.push(finding.undecided());
    }
}

/// More are not shown one by one.
const MOST: usize = 8;

/// Measured by volume, and the mass is not known for want of a density.
fn needs_density(material: &Material, amounts: &Amounts) -> bool {
    !material.product && !material.diluted && amounts.volume.is_ok() && amounts.mass.is_err()
}

/// The liquids of the formula that stands in the place of a name.
fn isomers(material: &Material) -> Vec<Substance> {
    let formula = material.identity.formula.as_ref();
    match formula
        .filter(|formula| formula.text() == &*material.identity.name)
        .map(|f| chemistry::find_formula(f))
    {
        Some(Found::Several(mut several)) => {
            several.retain(|substance| substance.density().is_some());
            several
        }
        _ => Vec::new(),
    }
}

/// The edit that says which substance is meant: its CAS number after the name, or else its own name.
fn choice(plan: &Plan, at: At, substance: Substance) -> Option<(String, Edit)> {
    let name = substance.name();
    if let Some(cas) = substance.cas() {
        let end = At {
            line: at.line,
            span: Span {
                start: at.span.end,
                end: at.span.end,
            },
        };
        return Some((
            format!("Add {cas} ({name})"),
            edit::replace(plan, end, format!(", {cas}")),
        ));
    }
    let alone = !name.contains(", ") && chemistry::find_name(name) == Found::One(substance);
    alone.then(|| (format!("Write {name}"), edit::replace(plan, at, name)))
}

fn describe(substance: Substance) -> String {
    let about: Vec<&str> = [substance.formula(), substance.cas()]
        .into_iter()
        .flatten()
        .collect();
    if about.is_empty() {
        substance.name().to_owned()
    } else {
        format!("{} ({})", substance.name(), about.join(", "))
    }
}

fn any_of(candidates: &[Substance]) -> String {
    let shown: Vec<String> = candidates
        .iter()
        .take(MOST)
        .map(|&substance| describe(substance))
        .collect();
    match (shown.as_slice(), candidates.len().saturating_sub(MOST)) {
        ([first @ .., last], 0) if !first.is_empty() => format!("{} or {last}", first.join(", ")),
        (shown, 0) => shown.join(", "),
        (shown, more) => format!("{} or {more} others", shown.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::{CHECK, run};
    use crate::Severity;
    use crate::testing::{expect, fixed};
    use plan::Plan;

    #[test]
    fn a_name_of_several_substances_shows_them_all() {
        let plan = Plan::read("plan A\nmaterials\n  x: DMS, 1.00 eq\n");
        let mut findings = Vec::new();
        run(&crate::Survey::new(&plan), &mut findings);
        let finding = &findings[0];
        assert_eq!(finding.severity, Severity::Warning);
        // CAS registry numbers of dimethyl sulfide and dimethyl sulfate: CRC Handbook, Physical Constants of Organic
        // Compounds.
        for cas in ["75-18-3", "77-78-1"] {
            assert!(finding.message.contains(cas), "{}", finding.message);
            let written = format!(", {cas}");
            let mut edits = finding.fixes.iter().flat_map(|fix| &fix.edits);
            assert!(edits.any(|(_, text)| *text == written), "{cas}");
        }
        assert!(finding.fixes.iter().all(|fix| !fix.preferred));
    }

    /// A plan with the fix reads as the substance that the fix names.
    #[test]
    fn every_choice_reads_back() {
        for name in ["DMS", "TEA", "DMP", "EDA", "DMA"] {
            let text = format!("plan A\nmaterials\n  x: {name}, 1.00 eq\n");
            let plan = Plan::read(&text);
            let mut findings = Vec::new();
            run(&crate::Survey::new(&plan), &mut findings);
            let candidates = &plan.materials[0].identity.candidates;
            let fixes = &findings[0].fixes;
            assert_eq!(fixes.len(), candidates.len(), "{name}");
            for (fix, meant) in fixes.iter().zip(candidates) {
                let (range, written) = &fix.edits[0];
                let mut mended = text.clone();
                mended.replace_range(range.clone(), written);
                let read = Plan::read(&mended).materials[0].identity.substance;
                assert_eq!(read, Some(*meant), "{mended}");
            }
        }
    }

    #[test]
    fn isomers_matter_where_a_density_is_needed() {
        let plan = "
plan A
scale 5.00 mmol alcohol
materials
  alcohol: C3H8O, 0.40 mL
           ^^^^^ information: C3H8O can mean
";
        expect(&CHECK, plan);
        let mended = fixed(&CHECK, plan, 0);
        expect(&CHECK, &mended);
        let plan = Plan::read(&mended);
        assert!(plan.ledger.amounts[0].amount.is_ok(), "{mended}");
    }

    #[test]
    fn a_formula_is_enough_to_weigh_by() {
        expect(
            &CHECK,
            "
plan A
scale 5.00 mmol alcohol
materials
  alcohol: C3H8O, 1.00 eq
  acid: C2H4O2, 500 mg
  thf: tetrahydrofuran, 20 mL
products
  ester: C5H10O2, 1.00 eq, expect 85 %
",
        );
    }
}
