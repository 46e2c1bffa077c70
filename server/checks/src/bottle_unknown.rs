//! Bottles that the inventory does not have.

use crate::Survey;
use crate::{Check, Finding, Severity, bottles, edit};
use plan::inventory::Lookup;
use plan::{Material, NamedBottle, Plan};

pub(crate) const CHECK: Check = Check {
    name: "bottle-unknown",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Bottle that the inventory does not have

**Finds** a `bottle NAME` that the inventory does not have, or has with a mistake in it. Where there is no inventory at
all, one remark says where it would be looked for.

**Why it matters.** A line that names its bottle takes strength, titre, density and water from it. Without the bottle,
an amount that depends on them is not known.

**Example**, the table in `inventory.toml`

    materials
      base: ethylmagnesium bromide, bottle etmgrb-2, 12.0 mmol

    [[bottle]]
    name = \"etmgbr-2\"
    substance = \"ethylmagnesium bromide\"
    strength = \"3.0 M in diethyl ether\"

**Write instead** the name as it stands in the inventory, or the strength on the line

    materials
      base: ethylmagnesium bromide, bottle etmgbr-2, 12.0 mmol

The inventory is the file `inventory.toml` in the folder of the plan or in the nearest folder above it; each bottle is a
table `[[bottle]]` with a `name` and a `substance`.

**Sources.** A rule of the language.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut named = plan
        .materials
        .iter()
        .filter_map(|material| Some((material, material.named.as_ref()?)));
    if plan.context.inventory.is_none() {
        findings.extend(named.next().map(|(_, named)| no_inventory(named)));
        return;
    }
    findings.extend(named.filter_map(|(material, named)| unknown(plan, material, named)));
}

fn no_inventory(named: &NamedBottle) -> Finding {
    let message = format!(
        "There is no inventory, so bottle {} is a remark only: a file inventory.toml would be looked for in the folder of this plan, and then in every folder above it.",
        named.name.text
    );
    Finding::new(&CHECK, named.at, message).severity(Severity::Information)
}

fn unknown(plan: &Plan, material: &Material, named: &NamedBottle) -> Option<Finding> {
    let name = &named.name.text;
    let inventory = plan.context.inventory.as_ref()?;
    match named.found.as_ref()? {
        Lookup::Found(_) => None,
        Lookup::Broken => {
            let message = format!(
                "Something is wrong with bottle {name} in the inventory, so it does not count: mend it there."
            );
            Some(Finding::new(&CHECK, named.at, message))
        }
        Lookup::Missing => {
            let near = inventory.nearest(name);
            let advice = match near.first() {
                Some(near) => format!("did you mean {near}?"),
                None => "add it there, or take its name out here.".to_owned(),
            };
            let message = format!("The inventory has no bottle {name}: {advice}");
            let at = bottles::name_at(named);
            let of_substance = plan.material(material.id).map(|(_, amounts)| {
                let fitting = bottles::fitting(plan, material, amounts);
                fitting.into_iter().map(|(bottle, _)| &*bottle.name)
            });
            let mut names = near;
            for name in of_substance.into_iter().flatten() {
                if !names.contains(&name) {
                    names.push(name);
                }
            }
            let finding = Finding::new(&CHECK, at, message);
            Some(names.into_iter().fold(finding, |finding, name| {
                finding.fix(format!("Write {name}"), vec![edit::replace(plan, at, name)])
            }))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{bench, expect, expect_at, expect_fixed_at};
    use plan::Context;
    use plan::Kept;
    use plan::inventory::Inventory;
    use std::sync::Arc;

    const BOTTLES: &str = r#"
[[bottle]]
name = "etmgbr-2"
substance = "ethylmagnesium bromide"
strength = "3.0 M in diethyl ether"
[[bottle]]
name = "red"
substance = "benzaldehyde"
"#;

    #[test]
    fn a_name_that_is_near_is_offered() {
        let plan = "
plan A
materials
  base: ethylmagnesium bromide, bottle etmgrb-2, 2 mmol
                                       ^^^^^^^^ error: The inventory has no bottle etmgrb-2: did you mean etmgbr-2?
  acid: benzoic acid, bottle 14, 1 g
                             ^^ error: The inventory has no bottle 14: add it there
";
        expect_at(&bench(BOTTLES), &CHECK, plan);
        let mended = plan.replace("etmgrb-2, 2", "etmgbr-2, 2");
        let lines = mended.lines().filter(|line| !line.trim().starts_with('^'));
        let mended: Vec<&str> = lines.collect();
        expect_fixed_at(&bench(BOTTLES), &CHECK, plan, 0, &mended.join("\n"));
    }

    #[test]
    fn a_bottle_of_the_substance_is_offered_whatever_its_name() {
        let plan = "
plan A
materials
  aldehyde: benzaldehyde, bottle 7, 1 g
                                 ^ error: The inventory has no bottle 7
";
        let mended = "
plan A
materials
  aldehyde: benzaldehyde, bottle red, 1 g
";
        expect_at(&bench(BOTTLES), &CHECK, plan);
        expect_fixed_at(&bench(BOTTLES), &CHECK, plan, 0, mended);
    }

    #[test]
    fn one_remark_where_there_is_no_inventory() {
        expect(
            &CHECK,
            "
plan A
materials
  acid: benzoic acid, bottle 14, 1 g
                      ^^^^^^^^^ information: There is no inventory, so bottle 14 is a remark only
  base: pyridine, bottle 15, 1 g
",
        );
    }

    #[test]
    fn a_bottle_that_is_broken_is_told_so() {
        let context = Context {
            inventory: Some(Arc::new(Inventory::read(
                "[[bottle]]\nname = \"red\"\nsubstance = \"benzaldehyde\"\nleft = 3\n",
            ))),
            ..Context::default()
        };
        expect_at(
            &context,
            &CHECK,
            "
plan A
materials
  aldehyde: benzaldehyde, bottle red, 1 g
                          ^^^^^^^^^^ error: Something is wrong with bottle red
",
        );
    }

    #[test]
    fn bottles_that_are_there_and_lines_without_one_are_silent() {
        let plan = "
plan A
materials
  base: ethylmagnesium bromide, bottle etmgbr-2, 2 mmol
  aldehyde: benzaldehyde, bottle RED, 1 g
  acid: benzoic acid, 1 g
";
        expect_at(&bench(BOTTLES), &CHECK, plan);
        expect(&CHECK, "\nplan A\nmaterials\n  acid: benzoic acid, 1 g\n");
    }
}
