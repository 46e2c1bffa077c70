//! A comma or a space inside a number.

use crate::Survey;
use crate::{Check, Finding, Severity, problem};

pub(crate) const CHECK: Check = Check {
    name: "decimal-comma",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Comma or space in a number

**Finds** a number with a comma or a space in it: `2,5 mL`, `1,000 mL`, `1 000 mL`.

**Why it matters.** A comma separates the fields of a line, and one reader's decimal comma is another's thousands:
`1,000 mL` is one millilitre in Berlin and one litre in Boston. A slip by a factor of a thousand is not left to a
guess, so the number has no value until it is written anew.

**Example**

    materials
      thf: tetrahydrofuran, 2,5 mL

**Write instead** a point for decimals, and nothing between thousands

    materials
      thf: tetrahydrofuran, 2.5 mL

Where two readings are possible both are offered, and neither is chosen for you.

**Sources.** The SI Brochure (BIPM, 9th edition, 5.4.4) allows the point or the comma as decimal marker and no comma
between thousands; that the language takes the point only is its own rule.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    problem::report(&CHECK, plan, findings, is_of_this_check);
}

pub(crate) fn is_of_this_check(code: &str) -> bool {
    matches!(code, "decimal-comma" | "thousands")
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{expect, expect_fixed};

    #[test]
    fn a_decimal_comma_is_mended_with_a_point() {
        let plan = "
plan A
materials
  thf: tetrahydrofuran, 2,5 mL
                        ^^^^^^ error:
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "plan A\nmaterials\n  thf: tetrahydrofuran, 2.5 mL",
        );
    }

    #[test]
    fn thousands_have_two_readings_and_none_is_preferred() {
        let plan = "
plan A
materials
  thf: tetrahydrofuran, 1,000 mL
                        ^^^^^^^^ error:
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "plan A\nmaterials\n  thf: tetrahydrofuran, 1.000 mL",
        );
        expect_fixed(
            &CHECK,
            plan,
            1,
            "plan A\nmaterials\n  thf: tetrahydrofuran, 1000 mL",
        );
        let mut findings = Vec::new();
        let plan = plan::Plan::read("materials\n  thf: tetrahydrofuran, 1,000 mL\n");
        super::run(&crate::Survey::new(&plan), &mut findings);
        assert!(
            findings
                .iter()
                .all(|finding| finding.fixes.iter().all(|fix| !fix.preferred))
        );
    }

    #[test]
    fn names_with_commas_are_no_numbers() {
        expect(
            &CHECK,
            "
plan A
materials
  bipy: 2,2'-bipyridine, 5 mol%
  diox: 1,4-dioxane, 20 mL
",
        );
    }
}
