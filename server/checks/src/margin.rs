//! Equivalents that leave less to spare than their measuring may take.

use crate::Survey;
use crate::{Check, Finding, Severity};
use plan::{Amounts, Material, Plan, show};
use syntax::AmountKind;
use uom::si::ratio::ratio;

pub(crate) const CHECK: Check = Check {
    name: "margin-unmeasurable",
    severity: Severity::Information,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Margin that cannot be measured

**Finds** equivalents close to 1, above or below, that the best tool at hand may miss by more than they differ from 1.

It speaks only where `[tools]` in meniscus.toml names the tools, and not of 1.00 eq, which says what it means, nor
beyond 0.8 and 1.2 eq.

**Why it matters.** Who writes 1.03 eq wants a little more than 1, and who writes 0.97 eq a little less. A plastic
syringe may be 5 % off (ISO 7886-1), and then nobody knows on which side of 1 the flask is.

**Example**, the table in `meniscus.toml`

    scale 5.00 mmol ketone
    materials
      ketone: cyclohexanone, 1.00 eq
      base:   lithium diisopropylamide, 1.0 M in THF, 1.03 eq

    [tools]
    syringes = [\"5 mL\", \"10 mL\"]

**Write instead** a wider margin where the chemistry allows it

    materials
      base:   lithium diisopropylamide, 1.0 M in THF, 1.10 eq

or measure it with a better tool, or weigh the syringe before and after where the density is known.

**Sources.** The errors are those of the library (ISO 8655-2, ISO 7886-1, makers' data sheets); JCGM 100:2008, 4.3.7,
for what a limit says.
";

/// Equivalents that are further from 1 than this have room enough.
const CLOSE: f64 = 0.2;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    if !plan.context.settings.tools.are_stated() {
        return;
    }
    let materials = plan.materials.iter().zip(&plan.ledger.amounts);
    let mut found = materials.filter_map(|(material, amounts)| look(plan, material, amounts));
    if let Some(mut first) = found.next() {
        first.related = found.map(|other| (other.at, other.message)).collect();
        findings.push(first);
    }
}

fn look(plan: &Plan, material: &Material, amounts: &Amounts) -> Option<Finding> {
    let counted = material
        .stated
        .iter()
        .any(|amount| amount.kind == AmountKind::Equivalents);
    let equivalents = amounts.equivalents.as_ref().ok()?.value.get::<ratio>();
    let margin = (equivalents - 1.0).abs() / equivalents;
    // What rounding leaves of 1 is no margin.
    if material.product || !counted || !(1e-6..=CLOSE).contains(&(equivalents - 1.0).abs()) {
        return None;
    }
    let reading = plan.reading(material, amounts)?;
    let error = reading.greatest_error.get::<ratio>();
    if reading.assumed || error <= margin || !plan.portions(material).is_empty() {
        return None;
    }
    let percent = |share: f64| show::number(share * 100.0, 2);
    let message = format!(
        "A {} may be {} % off, and {} eq of {} is only {} % away from 1: measure it with a better tool, or leave a wider margin if the chemistry allows it.",
        reading.tool,
        percent(error),
        show::number(equivalents, 3),
        material.key.text,
        percent(margin),
    );
    Some(Finding::new(&CHECK, material.identity.at?, message))
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{expect, expect_at, settings};

    const PLASTIC: &str = "[tools]\nsyringes = [\"5 mL\", \"10 mL\"]\n";

    #[test]
    fn a_margin_below_the_error_of_the_tool_is_told() {
        expect_at(
            &settings(PLASTIC),
            &CHECK,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: cyclohexanone, 1.00 eq
  base: n-BuLi, 1.6 M in hexanes, 1.03 eq
        ^^^^^^ information: A 5 mL plastic syringe may be 5.0 % off, and 1.03 eq of base is only 2.9 % away from 1
",
        );
    }

    #[test]
    fn wide_margins_one_and_unnamed_tools_are_silent() {
        let plan = "
plan A
scale 5.00 mmol ketone
materials
  ketone: cyclohexanone, 1.00 eq
  base: n-BuLi, 1.6 M in hexanes, 1.10 eq
  other: n-BuLi, 1.6 M in hexanes, 1.00 eq
  third: n-BuLi, 1.6 M in hexanes, 1.4 eq
";
        expect_at(&settings(PLASTIC), &CHECK, plan);
        expect(&CHECK, &plan.replace("1.10 eq", "1.001 eq"));
        let glass = settings("[tools]\nglass-syringes = [\"5 mL\"]\n");
        expect_at(&glass, &CHECK, &plan.replace("1.10 eq", "1.03 eq"));
    }
}
