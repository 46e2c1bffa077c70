//! Lines that say something else than the bottle that they name.

use crate::Survey;
use crate::{Check, Finding, Severity, bottles, edit};
use bottles::Use;
use plan::inventory::{self, Agreement};
use plan::{At, Plan, convert};
use syntax::FieldKind;

pub(crate) const CHECK: Check = Check {
    name: "bottle-differs",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Bottle of something else

**Finds** a line whose substance is not that of the bottle that it names, and a line whose strength is not the bottle's.
A substance differs where its composition does; strengths differ by more than their digits, or by their solvent. Until
it is mended the line rules, and neither titre nor density are taken from the bottle.

**Why it matters.** The plan would be reckoned with one bottle and poured from another.

**Example**, the table in `inventory.toml`

    materials
      reagent: ethylmagnesium bromide, 1.0 M in tetrahydrofuran, bottle etmgbr-2, 12.0 mmol

    [[bottle]]
    name = \"etmgbr-2\"
    substance = \"ethylmagnesium bromide\"
    strength = \"3.0 M in diethyl ether\"

**Write instead** the bottle that is meant, or leave the strength out: the line then takes it from the bottle

    materials
      reagent: ethylmagnesium bromide, bottle etmgbr-2, 12.0 mmol

**Sources.** A rule of the language.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for found in bottles::uses(plan) {
        findings.extend(substance(plan, &found).or_else(|| strength(plan, &found)));
    }
}

fn substance(plan: &Plan, found: &Use<'_>) -> Option<Finding> {
    let (line, bottle) = (&found.material.identity, &found.bottle.material.identity);
    if inventory::same_substance(line, bottle) != Some(false) {
        return None;
    }
    let message = format!(
        "Bottle {} holds {}, but the line says {}: which is meant?",
        found.bottle.name, bottle.name, line.name
    );
    let finding = Finding::new(&CHECK, found.named.at, message);
    let finding = match line.at {
        Some(at) => finding.related(at, "the line's substance"),
        None => finding,
    };
    Some(bottles::with_others(plan, found, finding))
}

fn strength(plan: &Plan, found: &Use<'_>) -> Option<Finding> {
    let entry = bottles::entry(plan, found.material)?;
    if inventory::compare(entry, &found.bottle.entry) != Agreement::Differ {
        return None;
    }
    let at: At = entry.fields.iter().find_map(|field| {
        let is_strength = matches!(field.kind, FieldKind::Strength(_) | FieldKind::Assay(_));
        is_strength.then(|| convert::at(found.material.line, field.span))
    })?;
    let theirs = match (&found.bottle.strength, found.bottle.titre()) {
        (Some(strength), _) => strength.to_string(),
        (None, Some(titre)) => inventory::written(titre),
        (None, None) => return None,
    };
    let ours = plan.slice(at.line, at.span).unwrap_or("another strength");
    let message = format!(
        "The line says {ours}, but bottle {} is {theirs}: which is meant?",
        found.bottle.name
    );
    let mut finding = Finding::new(&CHECK, at, message)
        .severity(Severity::Warning)
        .related(found.named.at, "the bottle");
    if found.bottle.strength.is_some() {
        let edit = edit::replace(plan, at, theirs.as_str());
        finding = finding.fix(format!("Write {theirs}"), vec![edit]);
    }
    Some(bottles::with_others(plan, found, finding).undecided())
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{bench, expect_at, expect_fixed_at};

    const BOTTLES: &str = r#"
[[bottle]]
name = "etmgbr-2"
substance = "ethylmagnesium bromide"
strength = "3.0 M in diethyl ether"
titre = "2.87 M"
[[bottle]]
name = "mtbe"
substance = "MTBE"
"#;

    const WEAK: &str = "
plan A
materials
  a: ethylmagnesium bromide, 1.0 M in THF, bottle etmgbr-2, 2 mmol
                             ^^^^^^^^^^^^ warning: The line says 1.0 M in THF, but bottle etmgbr-2 is 3.0 M in diethyl ether
";

    #[test]
    fn another_strength_and_another_substance() {
        expect_at(&bench(BOTTLES), &CHECK, WEAK);
        expect_fixed_at(
            &bench(BOTTLES),
            &CHECK,
            WEAK,
            0,
            "
plan A
materials
  a: ethylmagnesium bromide, 3.0 M in diethyl ether, bottle etmgbr-2, 2 mmol
",
        );
        expect_at(
            &bench(BOTTLES),
            &CHECK,
            "
plan A
materials
  a: methylmagnesium bromide, 3.0 M in diethyl ether, bottle etmgbr-2, 2 mmol
                                                      ^^^^^^^^^^^^^^^ error: Bottle etmgbr-2 holds ethylmagnesium bromide, but the line says methylmagnesium bromide
",
        );
    }

    #[test]
    fn other_words_for_the_same_are_silent() {
        expect_at(
            &bench(BOTTLES),
            &CHECK,
            "
plan A
materials
  a: EtMgBr, 3.00 M in ether, bottle etmgbr-2, 2 mmol
  b: ethylmagnesium bromide, found 2.80 M, bottle etmgbr-2, 2 mmol
  c: ethylmagnesium bromide, bottle etmgbr-2, 2 mmol
  d: tert-butyl methyl ether, dry, bottle mtbe, 2 mL
",
        );
    }
}
