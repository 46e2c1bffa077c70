//! Everything else that the text itself gets wrong.

use crate::Survey;
use crate::{Check, Finding, Severity, decimal_comma, edit, problem, unit, unknown_key};
use chemistry::{ReagentClass, Tag};
use plan::{At, Material};
use syntax::{FieldKind, Span, Statement, StrengthForm};

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
or a strength that cannot be read (`cat.`, `1.6M/Et2O`), a solvent with a molarity that nothing carries, a line that
begins with a misspelt verb.

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
    for material in &plan.materials {
        findings.extend(fill_meant(plan, material));
    }
}

/// `dcm: CH2Cl2, 0.25 M`: no bottle holds a solvent so, and the mixture is meant to come to it. What is sold or made
/// as a solution in water, such as an acid, an amine or an alcohol, may be meant as it stands.
fn fill_meant(plan: &Survey<'_>, material: &Material) -> Option<Finding> {
    let substance = material.identity.substance?;
    let sold_so = substance.has(Tag::Protic)
        || [ReagentClass::Acid, ReagentClass::Amine, ReagentClass::Base]
            .iter()
            .any(|class| substance.class() == Some(*class));
    let line = plan.text.lines.get(material.line as usize)?;
    let Statement::Entry(entry) = &line.statement else {
        return None;
    };
    let fields = &entry.fields;
    let amount = fields
        .iter()
        .any(|field| matches!(field.kind, FieldKind::Amount(_) | FieldKind::Took(_)));
    if material.product || sold_so || amount || !substance.has(Tag::Solvent) {
        return None;
    }
    let mut strengths = fields.iter().filter_map(|field| match &field.kind {
        FieldKind::Strength(strength) => Some(strength),
        _ => None,
    });
    let (Some(strength), None) = (strengths.next(), strengths.next()) else {
        return None;
    };
    if strength.form != StrengthForm::Molar || strength.carrier.is_some() {
        return None;
    }
    let at = At {
        line: material.line,
        span: strength.span,
    };
    let written = plan.slice(at.line, at.span)?;
    let after = Span {
        start: at.span.end,
        end: line.len,
    };
    // `0.25 M CH2Cl2` has its name behind it, where no `to` can stand.
    let behind = plan.slice(at.line, after)?.trim_start();
    let whole = behind.is_empty() || behind.starts_with([',', '#']);
    let message = format!(
        "{written} is read as the strength of {} in its bottle: if the mixture is to come to it, write to {written}.",
        material.key.text
    );
    let finding = Finding::new(&CHECK, at, message).severity(Severity::Warning);
    Some(if whole {
        let meant = format!("to {written}");
        finding.fix(
            format!("Write {meant}"),
            vec![edit::replace(plan, at, meant)],
        )
    } else {
        finding
    })
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
  lyophilise
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
    fn a_solvent_with_a_molarity_is_filled_up_to_it() {
        let plan = "
plan A
scale 1.0 mmol a
materials
  a: benzaldehyde, 1.00 eq
  dcm: CH2Cl2, dry, 0.25 M
                    ^^^^^^ warning: 0.25 M is read as the strength of dcm
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
scale 1.0 mmol a
materials
  a: benzaldehyde, 1.00 eq
  dcm: CH2Cl2, dry, to 0.25 M
",
        );
        expect(
            &CHECK,
            "
plan A
scale 1.0 mmol a
materials
  a: benzaldehyde, 1.00 eq
  acid: acetic acid, 1 M
  amine: triethylamine, 0.5 M in dcm
  b: CH2Cl2, 0.25 M in thf
  c: CH2Cl2, 0.25 M, 2.0 eq
",
        );
    }

    #[test]
    fn a_misspelt_verb_leaves_its_material_uncounted() {
        let plan = "
plan A
materials
  buli: n-butyllithium, 2.5 M in hexanes, 1.1 mmol
steps
  ad buli dropwise over 10 min
  ^^ error: `ad` is no verb that is known
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
materials
  buli: n-butyllithium, 2.5 M in hexanes, 1.1 mmol
steps
  add buli dropwise over 10 min
",
        );
    }

    #[test]
    fn a_percentage_of_a_product_is_more_often_its_yield() {
        let plan = "
plan A
materials
  acid: benzoic acid, 1.0 g
products
  ester: C12H16O2, 1.00 eq, 85 %
                            ^^^^ warning: `85 %` is read as the purity
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
materials
  acid: benzoic acid, 1.0 g
products
  ester: C12H16O2, 1.00 eq, expect 85 %
",
        );
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

    #[test]
    fn a_formula_of_the_same_substance_as_its_key_is_meant() {
        let plan = |reaction: &str, material: &str| {
            format!("\nplan A\n{reaction}materials\n  a: pyridine, 1.0 g\n  {material}\n")
        };
        expect(
            &CHECK,
            &plan(
                "reaction a + HCl -> C5H6ClN\n",
                "hcl: hydrogen chloride, 1.0 M in diethyl ether",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "reaction a + Co -> C6H5NO\n             ^^ hint: `Co` is read as the key `co`\n",
                "co: carbon monoxide",
            ),
        );
    }
}
