//! Equivalents, and nothing that says how much one is.

use crate::{Check, Finding, Severity, Survey, edit};
use plan::{At, Material, Plan, convert};
use syntax::{Amount, AmountKind, Statement};

pub(crate) const CHECK: Check = Check {
    name: "scale-missing",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Scale missing

**Finds** the first material that is counted on the scale (`1.20 eq`, `5 mol%`, `5 mL/mmol`, `to
0.20 M`), where the plan has no `scale` line and nothing else on the line gives its amount.

Silent where such an amount stands against another line (`4.0 mol% of zinc`), where a mass or a
volume beside it tells the amount all the same, and where there is a `scale` line, however it reads.

**Why it matters.** The scale is what 1.00 eq means. Without it no mass and no volume of the plan
is known, and most checks have nothing to look at.

**Example**

    plan Alcohol from a ketone
    materials
      ketone:  acetophenone, 1.00 eq, 1.20 g
      hydride: sodium borohydride, 0.60 eq

**Write instead**

    plan Alcohol from a ketone
    scale 1.20 g ketone
    materials
      ketone:  acetophenone, 1.00 eq, 1.20 g
      hydride: sodium borohydride, 0.60 eq

**Sources.** It follows from what the language means by a scale.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let has_scale = |line: &syntax::Line| matches!(line.statement, Statement::Scale(_));
    if plan.text.lines.iter().any(has_scale) {
        return;
    }
    let materials = || plan.materials.iter().filter(|material| !material.product);
    let counted = plan
        .materials
        .iter()
        .zip(&plan.ledger.amounts)
        .filter(|(material, amounts)| {
            !material.product
                && amounts.amount.is_err()
                && amounts.mass.is_err()
                && amounts.volume.is_err()
        })
        .find_map(|(material, _)| {
            let amount = material.stated.iter().find(|amount| on_scale(amount))?;
            Some((material, amount))
        });
    let Some((material, amount)) = counted else {
        return;
    };
    let Some(written) = plan.slice(material.line, amount.span) else {
        return;
    };
    let measured = materials().find_map(|material| Some((material, measured(material)?)));
    let one = materials()
        .find(|material| material.stated.iter().any(is_one))
        .unwrap_or(material);
    let scale = match measured {
        Some((material, amount)) => plan
            .slice(material.line, amount.span)
            .map(|written| format!("scale {written} {}", material.key.text)),
        None => None,
    };
    let example = match &scale {
        Some(scale) => scale.clone(),
        None => format!("scale 5.00 mmol {}", one.key.text),
    };
    let message = format!(
        "The plan has no scale, so nothing says how much {written} is: write what 1.00 eq means below its title, as in `{example}`."
    );
    let at = At {
        line: material.line,
        span: amount.span,
    };
    let finding = Finding::new(&CHECK, at, message);
    let edit = scale
        .as_ref()
        .and_then(|scale| edit::insert_after(plan, title(plan)?, &[scale]));
    findings.push(match (scale, edit) {
        (Some(scale), Some(edit)) => finding.fix(format!("Write `{scale}`"), vec![edit]),
        _ => finding,
    });
}

/// Counted on the scale, and not on another line.
fn on_scale(amount: &Amount) -> bool {
    let kind = matches!(
        amount.kind,
        AmountKind::Equivalents
            | AmountKind::MolPercent
            | AmountKind::Relative
            | AmountKind::FillTo
    );
    kind && amount.of.is_none() && amount.quantity.is_some()
}

fn is_one(amount: &Amount) -> bool {
    amount.kind == AmountKind::Equivalents
        && amount
            .quantity
            .as_ref()
            .filter(|quantity| quantity.to.is_none())
            .and_then(|quantity| convert::share(quantity, 0))
            .is_some_and(|share| (share.value.value - 1.0).abs() < 1e-9)
}

/// What is written beside `1.00 eq`.
fn measured(material: &Material) -> Option<&Amount> {
    let outright = |amount: &&Amount| {
        matches!(
            amount.kind,
            AmountKind::Amount | AmountKind::Mass | AmountKind::Volume
        ) && amount.quantity.is_some()
    };
    let one = material.stated.iter().any(is_one);
    material.stated.iter().find(outright).filter(|_| one)
}

fn title(plan: &Plan) -> Option<u32> {
    let is_title = |line: &syntax::Line| matches!(line.statement, Statement::Plan(_));
    u32::try_from(plan.text.lines.iter().position(is_title)?).ok()
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{expect, expect_fixed};

    #[test]
    fn asks_once_what_an_equivalent_is() {
        expect(
            &CHECK,
            "
plan A
materials
  ketone: acetophenone, 1.00 eq
                        ^^^^^^^ warning: The plan has no scale, so nothing says how much 1.00 eq is: write what 1.00 eq means below its title, as in `scale 5.00 mmol ketone`
  hydride: sodium borohydride, 0.60 eq
",
        );
        expect(
            &CHECK,
            "
plan A
materials
  solvent: tetrahydrofuran, 5 mL/mmol
                            ^^^^^^^^^ warning: The plan has no scale, so nothing says how much 5 mL/mmol is
  ketone: acetophenone, 1.00 eq
",
        );
    }

    #[test]
    fn what_stands_beside_one_equivalent_is_the_scale() {
        let before = "
plan A
materials
  ketone: acetophenone, 1.00 eq, 1.20 g
  hydride: sodium borohydride, 0.60 eq
                               ^^^^^^^ warning: The plan has no scale, so nothing says how much 0.60 eq is
";
        let after = "
plan A
scale 1.20 g ketone
materials
  ketone: acetophenone, 1.00 eq, 1.20 g
  hydride: sodium borohydride, 0.60 eq
";
        expect_fixed(&CHECK, before, 0, after);
        expect(&CHECK, after);
    }

    #[test]
    fn is_silent_where_nothing_hangs_on_a_scale() {
        for lines in [
            "  ketone: acetophenone, 1.20 g\n  thf: tetrahydrofuran, 20 mL\n",
            "  ketone: acetophenone, 1.00 eq, 1.20 g\n",
            "  zinc: zinc, 1.20 g\n  iodine: iodine, 4.0 mol% of zinc\n",
            "  hydrogen: hydrogen, excess\n",
        ] {
            expect(&CHECK, &format!("\nplan A\nmaterials\n{lines}"));
        }
        expect(
            &CHECK,
            "\nplan A\nproducts\n  alcohol: ethanol, 1.00 eq, expect 85 %\n",
        );
        expect(
            &CHECK,
            "\nplan A\nscale ketone\nmaterials\n  ketone: acetophenone, 1.00 eq\n",
        );
    }
}
