//! A material whose amount is known and that nobody can measure, because its bottle does not say how strong it is.

use crate::Survey;
use crate::{Check, Finding, Severity};
use plan::Bottle;
use syntax::Severity as Reading;

pub(crate) const CHECK: Check = Check {
    name: "strength-missing",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Strength missing

**Finds** a material that is counted in equivalents or moles and whose strength the plan needs and does not have: an \\
organolithium, Grignard or metal amide without a strength, a concentrated or saturated solution that the library does \\
not know, `aq.` with no number.

**Why it matters.** These reagents are bought as solutions of several strengths. 11 mmol of butyllithium are 4.4 mL at \\
2.5 M and 6.9 mL at 1.6 M, and nobody weighs the 0.7 g of it that are in there.

**Example**

    materials
      acid: benzoic acid, 1.00 eq
      base: n-butyllithium, 1.1 eq

**Write instead**

    materials
      base: n-butyllithium, 2.5 M in hexanes, 1.1 eq

**Sources.** Which reagents come as solutions is common practice; what is on the bottle counts.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for (material, amounts) in plan.materials.iter().zip(&plan.ledger.amounts) {
        let Bottle::Unknown(gap) = &material.bottle else {
            continue;
        };
        // A part that could not be read is a finding already.
        let unread = plan
            .text
            .lines
            .get(material.line as usize)
            .is_none_or(|line| line.problems.iter().any(|p| p.severity == Reading::Error));
        // So is a bottle that the inventory does not give.
        let lost = material
            .named
            .as_ref()
            .is_some_and(|named| named.found.is_some() && named.bottle().is_none());
        let (Some(at), false, Ok(_), Err(_), Err(_)) = (
            material.identity.at,
            material.product || unread || lost,
            &amounts.amount,
            &amounts.mass,
            &amounts.volume,
        ) else {
            continue;
        };
        let message = format!("Nobody can measure {}: {gap}.", material.key.text);
        findings.push(Finding::new(&CHECK, at, message));
    }
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::expect;

    #[test]
    fn what_comes_in_solution_needs_a_strength() {
        expect(
            &CHECK,
            r"
plan A
scale 10 mmol a
materials
  a: benzaldehyde, 1.00 eq
  b: nBuLi, 1.1 eq
     ^^^^^ warning: Nobody can measure b: the strength of nBuLi is not written
  c: PhMgBr, 1.1 eq
     ^^^^^^ warning: Nobody can measure c
  e: NaH, 1.2 eq
     ^^^ warning: Nobody can measure e: the strength of NaH is not written: add it, as in `60 wt% in mineral oil`, or `98 %` if it is weighed neat
  f: hydrochloric acid, 2 eq
     ^^^^^^^^^^^^^^^^^ warning: Nobody can measure f: the strength of hydrochloric acid is not written: add it, as in `37 wt% in water`.
  g: HCl, 2 eq
  d: LDA, aq., 1.1 eq
     ^^^ warning: Nobody can measure d: the strength of the solution is not written
",
        );
    }

    #[test]
    fn what_can_be_measured_is_silent() {
        expect(
            &CHECK,
            r"
plan A
scale 10 mmol a
materials
  a: benzaldehyde, 1.00 eq
  b: n-BuLi (2.5 M in hexanes), 1.1 eq
  c: LiHMDS, 97 %, 1.1 eq
  d: LiHMDS, 1.67 g
  e: NaH, 60 wt% in mineral oil, 1.5 eq
  f: nBuLi, 1,6 M in hexanes, 1.1 eq
",
        );
    }
}
