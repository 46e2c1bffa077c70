//! Lines that could name a bottle of the inventory.

use crate::Survey;
use crate::{Check, Finding, Severity, bottles, edit};
use plan::inventory::Agreement;
use plan::{Amounts, At, Bottle, Material, Plan};
use syntax::{FieldKind, Role};

pub(crate) const CHECK: Check = Check {
    name: "bottles-fit",
    severity: Severity::Information,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Bottles that fit

**Finds** a line of the materials that names no bottle while the inventory has two or more that fit it, or exactly one
of the strength that the line states. A bottle fits if it is the same substance, its strength does not contradict the
line, and it has neither expired nor too little left.

**Why it matters.** With the bottle on its line the plan says where it stands, reckons with its titre and its water, and
sees that enough is left. The remark is no fault of the plan.

**Example**, the tables in `inventory.toml`

    materials
      ether: diethyl ether, 40 mL

    [[bottle]]
    name = \"ether-1\"
    substance = \"diethyl ether\"
    [[bottle]]
    name = \"ether-2\"
    substance = \"diethyl ether\"

**Write instead** which one, or leave it

    materials
      ether: diethyl ether, bottle ether-1, 40 mL

**Sources.** Common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for (material, amounts) in plan.materials.iter().zip(&plan.ledger.amounts) {
        findings.extend(fit(plan, material, amounts));
    }
}

fn fit(plan: &Plan, material: &Material, amounts: &Amounts) -> Option<Finding> {
    let made_here = bottles::entry(plan, material)?.fields.iter().any(|field| {
        matches!(&field.kind, FieldKind::Strength(strength)
            if strength.carrier.as_ref().is_some_and(|(_, key)| key.is_some()))
    });
    if material.product
        || material.named.is_some()
        || made_here
        || material.role == Some(Role::ByProduct)
        || matches!(material.bottle, Bottle::Gas)
    {
        return None;
    }
    let fitting = bottles::fitting(plan, material, amounts);
    let labels: Vec<String> = fitting
        .iter()
        .map(|(bottle, _)| bottles::label(bottle))
        .collect();
    let (severity, message) = match (fitting.as_slice(), labels.as_slice()) {
        ([(_, Agreement::Same)], [label]) => (
            Severity::Hint,
            format!("Bottle {label} is of this substance: name it on the line."),
        ),
        (_, [others @ .., last]) if !others.is_empty() => (
            Severity::Information,
            format!(
                "Bottles {} and {last} are of this substance: name the one that you take.",
                others.join(", ")
            ),
        ),
        _ => return None,
    };
    let at = At {
        line: material.line,
        span: material.key.span,
    };
    let mut finding = Finding::new(&CHECK, at, message).severity(severity);
    for (bottle, _) in &fitting {
        let edit = edit::append(plan, material.line, &format!(", bottle {}", bottle.name))?;
        finding = finding.fix(format!("Name bottle {}", bottle.name), vec![edit]);
    }
    Some(finding.undecided())
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{bench, expect, expect_at, expect_fixed_at};

    const BOTTLES: &str = r#"
[[bottle]]
name = "ether-1"
substance = "diethyl ether"
place = "cabinet 4"
left = "500 mL"
[[bottle]]
name = "ether-2"
substance = "60-29-7"
[[bottle]]
name = "ether-0"
substance = "diethyl ether"
expires = 2020-01-01
[[bottle]]
name = "base"
substance = "n-butyllithium"
strength = "2.5 M in hexanes"
[[bottle]]
name = "drops"
substance = "imidazole"
left = "1 g"
"#;

    const TWO: &str = "
plan A
materials
  ether: diethyl ether, 40 mL    # dry
  ^^^^^ information: Bottles ether-1 (cabinet 4, 500 mL left) and ether-2 are of this substance
";

    #[test]
    fn two_bottles_are_both_offered() {
        expect_at(&bench(BOTTLES), &CHECK, TWO);
        expect_fixed_at(
            &bench(BOTTLES),
            &CHECK,
            TWO,
            1,
            "
plan A
materials
  ether: diethyl ether, 40 mL, bottle ether-2    # dry
",
        );
    }

    #[test]
    fn one_bottle_is_offered_where_its_strength_is_the_lines() {
        expect_at(
            &bench(BOTTLES),
            &CHECK,
            "
plan A
materials
  a: n-butyllithium, 2.5 M in hexanes, 2 mmol
  ^ hint: Bottle base is of this substance
  b: n-butyllithium, 1.6 M in hexanes, 2 mmol
  c: n-butyllithium, 2 mmol
  d: imidazole, 2.0 g
  e: imidazole, 0.5 g, bottle drops
  f: diethyl ether, 600 mL
  ^ hint: Bottle ether-2 is of this substance
  g: acetone, 20 mL
products
  h: diethyl ether, 1.00 eq
",
        );
    }

    #[test]
    fn without_an_inventory_it_is_silent() {
        expect(
            &CHECK,
            "\nplan A\nmaterials\n  ether: diethyl ether, 40 mL\n",
        );
    }
}
