//! Everything else that the text itself gets wrong.

use crate::Survey;
use crate::{Check, Finding, Severity, decimal_comma, problem, unit, unknown_key};

pub(crate) const CHECK: Check = Check {
    name: "reading",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Line that does not read

**Finds** lines that do not read, or read otherwise than they look: a missing colon or comma, a step outside `steps`,
two steps on one line, a portion of nothing, a key that is a word of the language, a space in `1, 4-dioxane`, an amount
or a strength that cannot be read (`cat.`, `1.6M/Et2O`).

**Why it matters.** A line is read alone, so a broken line harms no other; but what it would have said is missing from
the plan: its amount is not counted and its step is not followed. An error says that something was lost, a warning that
the line was read in a way that may not be meant, a hint that it was read as meant and is written otherwise than the
language writes it.

**Example**

    materials
      diox: 1, 4-dioxane, 20 mL
    steps
      stir; cool to 0 °C

**Write instead** locants without spaces, and one step a line

    materials
      diox: 1,4-dioxane, 20 mL
    steps
      stir
      cool to 0 °C

**Sources.** The rules of the language.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    problem::report(&CHECK, plan, findings, |code| {
        let elsewhere = [
            decimal_comma::is_of_this_check,
            unit::is_of_this_check,
            unknown_key::is_of_this_check,
        ];
        !elsewhere.iter().any(|is_theirs| is_theirs(code))
    });
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{expect, expect_fixed};

    #[test]
    fn a_missing_comma_is_put_in() {
        let plan = "
plan A
materials
  ketone: 4-tert-butylcyclohexanone 1.00 eq
                                    ^^^^ warning:
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "plan A\nmaterials\n  ketone: 4-tert-butylcyclohexanone, 1.00 eq",
        );
    }

    #[test]
    fn each_problem_is_one_finding_of_its_own_severity() {
        expect(
            &CHECK,
            "
plan A
materials
  salt: sodium chloride, 2.0 g
  diox: 1, 4-dioxane, 20 mL
        ^^^^^^^^^^^^ warning:
steps
  add 5 mL
      ^^^^ error:
  pressurise
  ^^^^^^^^^^ hint:
",
        );
    }

    #[test]
    fn a_strength_that_cannot_be_read_is_an_error() {
        let plan = "
plan A
materials
  buli: n-butyllithium (2.5 M hexanes), 1.1 eq
                        ^^^^^^^^^^^^^ error:
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "plan A\nmaterials\n  buli: n-butyllithium (2.5 M in hexanes), 1.1 eq",
        );
    }

    #[test]
    fn a_line_of_materials_needs_its_key() {
        let plan = "
plan A
materials
  1 M HCl, 20 mL
  ^^^^^^^ error: A line here begins with a key
";
        expect(&CHECK, plan);
        expect_fixed(&CHECK, plan, 0, "plan A\nmaterials\n  hcl: 1 M HCl, 20 mL");
    }

    #[test]
    fn what_other_checks_report_is_left_to_them() {
        expect(
            &CHECK,
            "
plan A
materials
  thf: tetrahydrofuran, 2,5 mL
  salt: sodium chloride, 20
steps
  add slat
",
        );
    }
}
