//! CAS numbers that cannot be right, or that are of another substance than the name.

use crate::Survey;
use crate::{Check, Finding, Severity, edit};
use chemistry::{Formula, Substance};
use plan::{Material, Plan};

pub(crate) const CHECK: Check = Check {
    name: "cas-number",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# CAS number that cannot be right

**Finds** a CAS number whose check digit does not fit, and one that the library has for another substance than the name
on the line. Until it is mended the name rules. Where both are of one composition, as isomers are, it is a warning.
Silent for an isomer of which the name leaves open which it is, and for hexane and hexanes.

**Why it matters.** A bottle is ordered and labelled by its number. A wrong digit brings another substance or none; a
number of another substance means that either the name or the number is of a bottle that the plan does not mean.

**Example**

    materials
      acid:   benzoic acid, CAS 65-85-1, 1.0 g
      ketone: acetone, CAS 64-17-5, 1.0 g

**Write instead** the number of the substance

    materials
      acid:   benzoic acid, CAS 65-85-0, 1.0 g
      ketone: acetone, CAS 67-64-1, 1.0 g

**Sources.** The rule of the registry itself: the digits before the last, each times its place counted from the right,
summed, modulo ten, give the last.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for material in &plan.materials {
        findings.extend(check_digit(plan, material).or_else(|| other_substance(plan, material)));
    }
}

fn check_digit(plan: &Plan, material: &Material) -> Option<Finding> {
    let cas = material.identity.cas.as_ref().filter(|cas| !cas.valid)?;
    let message = format!(
        "{} is no CAS number, for its last digit does not fit the others: compare it with the label.",
        cas.text
    );
    let finding = Finding::new(&CHECK, cas.at, message);
    Some(with_number(
        plan,
        material,
        finding,
        material.identity.substance,
    ))
}

fn other_substance(plan: &Plan, material: &Material) -> Option<Finding> {
    let identity = &material.identity;
    let cas = identity.cas.as_ref()?;
    let (named, numbered) = identity.named_and_numbered()?;
    // A structure that agrees with the number contradicts the name, which is the finding of `structure`.
    let (ours, theirs) = (composition(named), composition(numbered));
    let ruling = identity.compositions.first().map(|ruling| &ruling.formula);
    let is_ruling = |own: &Formula| ruling.is_some_and(|ruling| own.same_composition(ruling));
    if theirs.as_ref().is_some_and(is_ruling) && !ours.as_ref().is_none_or(is_ruling) {
        return None;
    }
    let isomers = ours
        .zip(theirs)
        .is_some_and(|(ours, theirs)| ours.same_composition(&theirs));
    // `camphor` with the number of one enantiomer: the number says more than the name.
    if isomers
        && (has_stereo_marks(named) != has_stereo_marks(numbered) || is_form_of(numbered, named))
        || is_technical(named, numbered)
    {
        return None;
    }
    let severity = if isomers {
        Severity::Warning
    } else {
        Severity::Error
    };
    let message = format!(
        "CAS {} is {}, but the name means {}: which is in the bottle?",
        cas.text,
        described(numbered),
        described(named),
    );
    let finding = Finding::new(&CHECK, cas.at, message).severity(severity);
    let finding = match identity.at {
        Some(at) => finding.related(at, "the name rules until then"),
        None => finding,
    };
    let mut finding = with_number(plan, material, finding, Some(named));
    if let Some(at) = identity.at {
        let name = numbered.name();
        if chemistry::find_name(name).one() == Some(numbered) {
            let title = format!("Write {name}");
            finding = finding.fix(title, vec![edit::replace(plan, at, name)]);
        }
    }
    Some(finding.undecided())
}

/// With the fix that writes the number of the row.
fn with_number(
    plan: &Plan,
    material: &Material,
    finding: Finding,
    row: Option<Substance>,
) -> Finding {
    let cas = material.identity.cas.as_ref();
    let written = cas.and_then(|cas| Some((cas.at, plan.slice(cas.at.line, cas.at.span)?, cas)));
    let Some(((at, text, cas), number)) = written.zip(row.and_then(Substance::cas)) else {
        return finding;
    };
    let new = text.replacen(&*cas.text, number, 1);
    finding.fix(
        format!("Write {number}"),
        vec![edit::replace(plan, at, new)],
    )
}

fn has_stereo_marks(row: Substance) -> bool {
    row.smiles()
        .is_some_and(|smiles| smiles.contains(['@', '/', '\\']))
}

/// `BINAP` with the number of `(R)-BINAP`, whose chirality its structure does not show.
fn is_form_of(numbered: Substance, named: Substance) -> bool {
    let own = numbered.name().split_once(")-");
    own.is_some_and(|(form, name)| form.starts_with('(') && name == named.name())
}

/// `hexanes` with the number of hexane, as bottles of it are labelled, or the other way round.
fn is_technical(named: Substance, numbered: Substance) -> bool {
    let is_mixture_of = |many: &str, one: &str| many.strip_suffix('s') == Some(one);
    let (one, other) = (named.name(), numbered.name());
    is_mixture_of(one, other) || is_mixture_of(other, one)
}

fn composition(row: Substance) -> Option<Formula> {
    Formula::parse(row.formula()?).ok()
}

fn described(row: Substance) -> String {
    match composition(row) {
        Some(formula) => format!("{}, {}", row.name(), crate::structure::described(&formula)),
        None => row.name().to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{expect, expect_fixed};

    // CAS numbers by the CRC Handbook, Physical Constants of Organic Compounds: benzoic acid 65-85-0, acetone
    // 67-64-1, ethanol 64-17-5, o-xylene 95-47-6, p-xylene 106-42-3.

    #[test]
    fn a_check_digit_that_does_not_fit() {
        let plan = "
plan A
materials
  a: benzoic acid, CAS 65-85-1, 1 mmol
                   ^^^^^^^^^^^ error: 65-85-1 is no CAS number
  b: 67-64-2, 1 mmol
     ^^^^^^^ error: 67-64-2 is no CAS number
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
materials
  a: benzoic acid, CAS 65-85-0, 1 mmol
  b: 67-64-2, 1 mmol
",
        );
    }

    #[test]
    fn a_number_of_another_substance() {
        let plan = "
plan A
materials
  a: acetone, 64-17-5, 1 mmol
              ^^^^^^^ error: CAS 64-17-5 is ethanol, C2H6O (46.07 g/mol), but the name means acetone, C3H6O (58.08 g/mol)
  b: o-xylene, 106-42-3, 1 mmol
               ^^^^^^^^ warning: CAS 106-42-3 is p-xylene
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
materials
  a: acetone, 67-64-1, 1 mmol
  b: o-xylene, 106-42-3, 1 mmol
",
        );
        expect_fixed(
            &CHECK,
            plan,
            1,
            "
plan A
materials
  a: ethanol, 64-17-5, 1 mmol
  b: o-xylene, 106-42-3, 1 mmol
",
        );
    }

    #[test]
    fn agreement_and_what_the_library_does_not_know_are_silent() {
        expect(
            &CHECK,
            "
plan A
materials
  a: acetone, 67-64-1, 1 mmol
  b: our ketone 7, 67-64-1, 1 mmol
  c: acetone, 67-63-0, formula C3H8O, 1 mmol
  d: C3H8O, 67-63-0, 1 mmol
  e: acetone, 1234-56-6, 1 mmol
  f: camphene, 5794-03-6, 1 mmol
  g: BINAP, 76189-55-4, 1 mmol
  h: hexanes, 110-54-3, 10 mL
  i: hexane, 92112-69-1, 10 mL
",
        );
    }
}
