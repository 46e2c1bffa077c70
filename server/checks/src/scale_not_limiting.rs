//! A scale that is not what the plan counts on.

use crate::Survey;
use crate::edit::{self, Edit};
use crate::{Check, Finding, Severity};
use plan::rescale::{self, Target};
use plan::{Amounts, At, Material, Plan, equation, show};
use syntax::{AmountKind, Quantity, Role, Span, Statement};

pub(crate) const CHECK: Check = Check {
    name: "scale-not-limiting",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Scale that is not the limiting reagent

**Finds** a scale that is not what 1.00 eq should be: a material that is not 1.00 eq on its own line, a reactant that
runs out before the scale's, and a second `scale` line.

Without a `reaction` line the coefficients are not known, so a reactant below 1 eq is only a remark, and only where its
line says `reactant`.

**Why it matters.** Equivalents are counted against the scale, and a yield against what runs out first. Where these are
two materials, a yield of 100 % means something else than the reader thinks.

**Example**

    scale 5.00 mmol ketone
    reaction ketone + hydrazine -> hydrazone + H2O
    materials
      ketone:    acetone, 1.00 eq
      hydrazine: phenylhydrazine, formula C6H8N2, 0.80 eq
    products
      hydrazone: acetone phenylhydrazone, formula C9H12N2

**Write instead** more of it, or the scale on what runs out first

    materials
      hydrazine: phenylhydrazine, formula C6H8N2, 1.05 eq

**Sources.** The limiting reactant as the one that gives the least product by the equation is general chemistry; that
equivalents are counted against it is common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    second_scales(plan, findings);
    let Some((material, amounts)) = scale_material(plan) else {
        return;
    };
    if let Some(finding) = own_line(plan, material, amounts) {
        findings.push(finding);
    } else if let Some(finding) = runs_out_first(plan) {
        findings.push(finding);
    } else if plan.equation.is_none() {
        findings.extend(stated_reactant(plan, material));
    }
}

/// The material that the scale names, unless it is a product.
fn scale_material(plan: &Plan) -> Option<(&Material, &Amounts)> {
    let scale = plan.ledger.scale.as_ref()?;
    plan.material(scale.key?)
        .filter(|(material, _)| !material.product)
}

fn second_scales(plan: &Plan, findings: &mut Vec<Finding>) {
    let mut first = None;
    for (line, index) in plan.text.lines.iter().zip(0u32..) {
        if !matches!(line.statement, Statement::Scale(_)) {
            continue;
        }
        let whole = At {
            line: index,
            span: Span {
                start: 0,
                end: line.comment.map_or(line.len, |comment| comment.start),
            },
        };
        let text = plan.slice(index, whole.span).unwrap_or("");
        let start = u32::try_from(text.len() - text.trim_start().len()).unwrap_or(0);
        let end = u32::try_from(text.trim_end().len()).unwrap_or(line.len);
        let at = At {
            line: index,
            span: Span { start, end },
        };
        let Some(rules) = first else {
            first = Some(at);
            continue;
        };
        let from = line.start as usize;
        let gone = from..from + (line.len + line.eol) as usize;
        let message = "The plan has a scale already, and the first one rules: keep one of the two.";
        findings.push(
            Finding::new(&CHECK, at, message)
                .related(rules, "the scale that rules")
                .fix("Take this line out", vec![(gone, String::new())]),
        );
    }
}

/// The scale's material on its own line: 1.00 eq, or the amount of the scale.
fn own_line(plan: &Plan, material: &Material, amounts: &Amounts) -> Option<Finding> {
    let scale = plan.ledger.scale.as_ref()?;
    let eq = amounts.equivalents.as_ref().ok()?;
    let off = (eq.value.value - 1.0).abs();
    let stated = material
        .stated_by_rank()
        .into_iter()
        .find(|amount| amount.quantity.is_some())?;
    let quantity = stated.quantity.as_ref()?;
    if off <= eq.half_width.value * 1.000_001 || eq.value.value <= 0.0 {
        return None;
    }
    let key = &material.key.text;
    let written = plan.slice(material.line, stated.span)?;
    let scale_text = plan.slice(scale.at.line, scale.at.span)?;
    let message = format!(
        "The scale makes {scale_text} of {key} 1.00 eq, but its own line says {written}, {}: let one follow the other.",
        show::equivalents(eq.value)
    );
    let at = At {
        line: material.line,
        span: stated.span,
    };
    let mut finding = Finding::new(&CHECK, at, message).related(scale.at, "the scale");
    if let Some(edits) = line_follows(plan, material, eq.value.value) {
        finding = finding.fix("Let this line follow the scale", edits);
    }
    if is_outright(&stated.kind)
        && let Some((title, edits)) = plan_follows(plan, material, quantity)
    {
        finding = finding.fix(title, edits);
    }
    Some(finding.undecided())
}

fn is_outright(kind: &AmountKind) -> bool {
    matches!(
        kind,
        AmountKind::Amount | AmountKind::Mass | AmountKind::Volume
    )
}

fn line_follows(plan: &Plan, material: &Material, eq: f64) -> Option<Vec<Edit>> {
    let stated = material
        .stated
        .iter()
        .filter_map(|amount| amount.quantity.as_ref());
    let single = stated.filter(|quantity| quantity.to.is_none());
    edit::multiply(
        plan,
        material.line,
        single.map(|quantity| (quantity, 1.0 / eq)),
    )
}

/// The plan rescaled to the amount that the line writes; the line itself is right already.
fn plan_follows(
    plan: &Plan,
    material: &Material,
    quantity: &Quantity,
) -> Option<(String, Vec<Edit>)> {
    let rescaling = rescale::rescale(plan, &Target::To(*quantity)).ok()?;
    let others = rescaling
        .edits
        .iter()
        .filter(|(at, _)| at.line != material.line);
    let edits = others
        .map(|(at, text)| edit::replace(plan, *at, text))
        .collect();
    Some((
        format!("Let the plan follow: scale {}", rescaling.scale),
        edits,
    ))
}

/// A reactant of the equation that runs out before the scale's material.
pub(crate) fn runs_out_first(plan: &Plan) -> Option<Finding> {
    let equation = plan.equation.as_ref()?;
    let limiting = plan.ledger.limiting.as_ref()?;
    let (scale, scale_amounts) = scale_material(plan)?;
    let term = equation
        .left
        .iter()
        .find(|term| term.material == Some(scale.id))?;
    let (first, first_amounts) = plan.material(limiting.key)?;
    let coefficient = equation::float(term.coefficient);
    let amount = scale_amounts.amount.as_ref().ok()?;
    if first.id == scale.id || coefficient <= 0.0 {
        return None;
    }
    let (extent, half_width) = (amount.value / coefficient, amount.half_width / coefficient);
    let slack = (half_width + limiting.extent.half_width) * 1.000_001;
    if extent - limiting.extent.value <= slack {
        return None;
    }
    let first_amount = first_amounts.amount.as_ref().ok()?;
    let at = scale_key(plan)?;
    let (first_key, scale_key) = (&first.key.text, &scale.key.text);
    let message = format!(
        "{first_key} ({}) runs out before {scale_key} ({}): put the scale on {first_key}, or take more of it.",
        show::amount(first_amount.value),
        show::amount(amount.value),
    );
    let mut finding = Finding::new(&CHECK, at, message).related(
        At {
            line: first.line,
            span: first.key.span,
        },
        format!("{first_key} runs out first"),
    );
    let factor = (extent / limiting.extent.value).value;
    let stated = first
        .stated_by_rank()
        .into_iter()
        .find_map(|amount| amount.quantity.as_ref());
    if let Some(quantity) = stated.filter(|quantity| quantity.to.is_none())
        && first.stated.len() == 1
        && let Some(number) = show::scaled(&quantity.number, factor)
    {
        let title = format!(
            "Take more of {first_key}: {number} {}",
            show::unit(&quantity.unit)
        );
        let at = At {
            line: first.line,
            span: quantity.number.span,
        };
        finding = finding.fix(title, vec![edit::replace(plan, at, number)]);
    }
    Some(finding)
}

/// Where the scale's key stands.
fn scale_key(plan: &Plan) -> Option<At> {
    let line = plan.ledger.scale.as_ref()?.at.line;
    match &plan.text.lines.get(line as usize)?.statement {
        Statement::Scale(scale) => scale.key.as_ref().map(|key| At {
            line,
            span: key.span,
        }),
        _ => None,
    }
}

/// Without an equation: a line that says `reactant` and takes less than 1 eq.
fn stated_reactant(plan: &Plan, scale: &Material) -> Option<Finding> {
    plan.materials.iter().zip(&plan.ledger.amounts).find_map(|(material, amounts)| {
        let eq = amounts.equivalents.as_ref().ok()?;
        let less = 1.0 - eq.value.value > eq.half_width.value * 1.000_001;
        if material.role != Some(Role::Reactant) || material.id == scale.id || !less {
            return None;
        }
        let stated = material.stated_by_rank().into_iter().next()?;
        let (key, of) = (&material.key.text, &scale.key.text);
        let message = format!(
            "{key} is a reactant at {}: if one of it goes with one of {of}, it runs out first; a `reaction` line would tell.",
            show::equivalents(eq.value)
        );
        let at = At { line: material.line, span: stated.span };
        Some(Finding::new(&CHECK, at, message).severity(Severity::Information))
    })
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{expect, expect_fixed};

    #[test]
    fn a_reactant_that_runs_out_before_the_scale() {
        let plan = "
plan A
scale 5.00 mmol ketone
                ^^^^^^ warning: amine (4.00 mmol) runs out before ketone (5.00 mmol)
reaction ketone + amine -> imine + H2O
materials
  ketone: acetone, 1.00 eq
  amine: benzylamine, 0.80 eq
products
  imine: C10H13N, expect 85 %
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
scale 5.00 mmol ketone
reaction ketone + amine -> imine + H2O
materials
  ketone: acetone, 1.00 eq
  amine: benzylamine, 1.0 eq
products
  imine: C10H13N, expect 85 %
",
        );
    }

    #[test]
    fn coefficients_count() {
        // Two of the hydride for one of the ester: 1.5 eq are not enough.
        expect(
            &CHECK,
            "
plan A
scale 5.00 mmol ester
                ^^^^^ warning: base (7.50 mmol) runs out before ester (5.00 mmol)
reaction ester + 2 base -> product
materials
  ester: methyl isobutyrate, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.5 eq
",
        );
        expect(
            &CHECK,
            "
plan A
scale 5.00 mmol ester
reaction ester + 2 base -> product
materials
  ester: methyl isobutyrate, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 2.0 eq
",
        );
    }

    #[test]
    fn the_scale_is_one_equivalent_on_its_own_line() {
        let plan = "
plan A
scale 5.00 mmol ketone
materials
  ketone: acetone, 0.95 eq
                   ^^^^^^^ warning: The scale makes 5.00 mmol of ketone 1.00 eq, but its own line says 0.95 eq
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "plan A\nscale 5.00 mmol ketone\nmaterials\n  ketone: acetone, 1.0 eq",
        );
    }

    #[test]
    fn the_scale_and_the_mass_on_its_line_are_compared() {
        // C10H18O, 154.253 g/mol (CIAAW 2021): 5.00 mmol is 771 mg, 800 mg is 5.19 mmol.
        let plan = "
plan A
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 800 mg
                                     ^^^^^^ warning: The scale makes 5.00 mmol of ketone 1.00 eq, but its own line says 800 mg, 1.04 eq
  salt: sodium chloride, 1.20 eq
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
  ketone: 4-tert-butylcyclohexanone, 771 mg
  salt: sodium chloride, 1.20 eq
",
        );
        expect_fixed(
            &CHECK,
            plan,
            1,
            "
plan A
scale 5.186 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 800 mg
  salt: sodium chloride, 1.20 eq
",
        );
    }

    #[test]
    fn a_second_scale_is_taken_out() {
        let plan = "
plan A
scale 5.00 mmol ketone
scale 2.00 mmol ketone
^^^^^^^^^^^^^^^^^^^^^^ warning: The plan has a scale already
materials
  ketone: acetone, 1.00 eq
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "plan A\nscale 5.00 mmol ketone\nmaterials\n  ketone: acetone, 1.00 eq",
        );
    }

    #[test]
    fn without_an_equation_only_a_stated_reactant_is_remarked_on() {
        expect(
            &CHECK,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: acetone, 1.00 eq
  amine: benzylamine, reactant, 0.80 eq
                                ^^^^^^^ information: amine is a reactant at 0.800 eq
  acid: acetic acid, 0.10 eq
",
        );
    }

    #[test]
    fn what_is_limiting_or_not_known_is_silent() {
        expect(
            &CHECK,
            "
plan A
scale 5.00 mmol ketone
reaction ketone + amine + hydrogen -> product + H2O
materials
  ketone: acetone, 1.00 eq, 290 mg
  amine: benzylamine, 1.0 eq
  hydrogen: hydrogen, excess
  catalyst: palladium, 10 wt% on carbon, 5 mol%
",
        );
        expect(
            &CHECK,
            "
plan A
scale 4.25 mmol alkene
reaction ketone -> alkene
materials
  ketone: acetone, 1.00 eq
products
  alkene: C11H20, 1.00 eq, expect 85 %
",
        );
    }
}
