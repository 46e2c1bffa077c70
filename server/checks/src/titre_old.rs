//! Titres and water contents that are too old to be relied on.

use crate::Survey;
use crate::{Check, Finding, Severity, bottles, edit};
use bottles::Use;
use chemistry::ReagentClass;
use plan::{Plan, inventory};
use syntax::{Block, Condition, FieldKind};
use uom::si::ratio::ratio;

pub(crate) const CHECK: Check = Check {
    name: "titre-old",
    severity: Severity::Information,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Titre that is too old

**Finds** a bottle of an organolithium, Grignard or organozinc reagent whose titre is older than 30 days (180
days if the inventory does not say when it was opened) or was never taken, and an opened bottle whose water
was measured more than 90 days ago. `[ages]` in meniscus.toml sets other ages: `titre`, `titre-unopened` and
`water`, in days.

It says nothing from 1.5 eq on, of a bottle that was opened less than 30 days ago, where a note in the steps says to
titrate it or the line says `found 2.87 M`, nor without today's date.

**Why it matters.** A solution of such a reagent loses strength with every needle that goes in, and the label says what
it was when it was made. Equivalents that are counted on it are then too few.

**Example**, on 31 March 2026, the table in `inventory.toml`

    scale 10.0 mmol aldehyde
    materials
      aldehyde: benzaldehyde, 1.00 eq
      reagent:  ethylmagnesium bromide, bottle etmgbr-2, 1.05 eq

    [[bottle]]
    name = \"etmgbr-2\"
    substance = \"ethylmagnesium bromide\"
    strength = \"3.0 M in diethyl ether\"
    titre = \"2.87 M\"
    titred = 2026-01-15
    opened = 2025-12-01

**Write instead** the titre and its day, once it is titrated anew

    [[bottle]]
    name = \"etmgbr-2\"
    substance = \"ethylmagnesium bromide\"
    strength = \"3.0 M in diethyl ether\"
    titre = \"2.81 M\"
    titred = 2026-03-30
    opened = 2025-12-01

**Sources.** Common practice (all ages).
";

/// From so many equivalents on a few per cent of the titre do not matter.
const PLENTY: f64 = 1.5;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for found in bottles::uses(plan) {
        findings.extend(titre(plan, &found));
        findings.extend(water(plan, &found));
    }
}

fn titre(plan: &Plan, found: &Use<'_>) -> Option<Finding> {
    let Use {
        material, bottle, ..
    } = found;
    let loses_strength = matches!(
        material.class(),
        Some(ReagentClass::Organolithium | ReagentClass::Grignard | ReagentClass::Organozinc)
    );
    let states_titre = bottles::entry(plan, material)?
        .fields
        .iter()
        .any(|field| matches!(field.kind, FieldKind::Found(_)));
    let equivalents = found.amounts.equivalents.as_ref().ok();
    let equivalents = equivalents.map(|known| known.value.get::<ratio>());
    // A neat reagent is weighed, and a solution that is there to be titrated is not relied on.
    if !loses_strength
        || !bottle.material.diluted
        || states_titre
        || equivalents.is_some_and(|equivalents| equivalents >= PLENTY)
        || says(plan, found, "titrate")
    {
        return None;
    }
    let today = plan.context.today?;
    let ages = &plan.context.settings.ages;
    let limit = match bottle.opened {
        Some(_) => ages.titre,
        None => ages.titre_unopened,
    };
    let name = &bottle.name;
    let what = match (bottle.titre(), bottle.titred, bottle.opened) {
        (Some(_), Some(titred), _) => {
            let age = today.days_since(titred);
            if age <= limit {
                return None;
            }
            format!("The titre of bottle {name} is {} old", inventory::days(age))
        }
        (Some(_), None, _) => format!("The titre of bottle {name} has no date"),
        (None, _, Some(opened)) => {
            let age = today.days_since(opened);
            if age <= limit {
                return None;
            }
            let days = inventory::days(age);
            format!("Bottle {name} was opened {days} ago and has no titre")
        }
        (None, ..) => format!("Bottle {name} has no titre"),
    };
    let advice = match equivalents {
        Some(equivalents) => {
            let equivalents = plan::show::number(equivalents, 3);
            format!("titrate it before you rely on {equivalents} eq.")
        }
        None => "titrate it before you rely on its strength.".to_owned(),
    };
    let finding = Finding::new(&CHECK, found.named.at, format!("{what}: {advice}"));
    let note = format!("note titrate {name} before use");
    Some(with_note(plan, found, finding, "Note to titrate it", &note))
}

fn water(plan: &Plan, found: &Use<'_>) -> Option<Finding> {
    let bottle = found.bottle;
    bottle.water()?;
    bottle.opened?;
    let states_water = bottles::entry(plan, found.material)?
        .fields
        .iter()
        .any(|field| matches!(field.kind, FieldKind::Condition(Condition::Water(_))));
    let age = plan.context.today?.days_since(bottle.water_measured?);
    if states_water || age <= plan.context.settings.ages.water || says(plan, found, "water") {
        return None;
    }
    let message = format!(
        "The water of bottle {}, which is open, was measured {} ago: measure it again before you rely on it.",
        bottle.name,
        inventory::days(age)
    );
    let finding = Finding::new(&CHECK, found.named.at, message);
    let note = format!("note measure the water of {} before use", bottle.name);
    Some(with_note(plan, found, finding, "Note to measure it", &note))
}

/// Whether a line of the steps has this word and the bottle or the key.
fn says(plan: &Plan, found: &Use<'_>, word: &str) -> bool {
    let names = [&*found.bottle.name, &*found.material.key.text].map(str::to_lowercase);
    let steps = plan
        .text
        .lines
        .iter()
        .zip(0u32..)
        .filter(|(line, _)| line.block == Block::Steps);
    steps.into_iter().any(|(line, index)| {
        let end = line.comment.map_or(line.len, |comment| comment.start);
        let text = plan.slice(index, syntax::Span { start: 0, end });
        let text = text.unwrap_or("").to_lowercase();
        text.contains(word) && names.iter().any(|name| text.contains(name.as_str()))
    })
}

/// A note before the first step that takes from the bottle.
fn with_note(plan: &Plan, found: &Use<'_>, finding: Finding, title: &str, note: &str) -> Finding {
    let id = Some(found.material.id);
    let first = id.and_then(|id| plan.takes_of(id).next());
    match first.and_then(|take| edit::insert_before(plan, take.line, &[note])) {
        Some(edit) => finding.fix(title, vec![edit]),
        None => finding,
    }
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{bench, expect, expect_at, expect_fixed_at, settings};

    // Seen from 2026-03-31.
    const BOTTLES: &str = r#"
[[bottle]]
name = "old"
substance = "ethylmagnesium bromide"
strength = "3.0 M in diethyl ether"
titre = "2.87 M"
titred = 2026-02-28
opened = 2026-02-01
[[bottle]]
name = "kept"
substance = "ethylmagnesium bromide"
strength = "3.0 M in diethyl ether"
titre = "2.87 M"
titred = 2025-10-02
[[bottle]]
name = "kept-long"
substance = "ethylmagnesium bromide"
strength = "3.0 M in diethyl ether"
titre = "2.87 M"
titred = 2025-10-01
[[bottle]]
name = "fresh"
substance = "ethylmagnesium bromide"
strength = "3.0 M in diethyl ether"
titre = "2.87 M"
titred = 2026-03-01
[[bottle]]
name = "never"
substance = "n-butyllithium"
strength = "2.5 M in hexanes"
opened = 2026-01-30
[[bottle]]
name = "new"
substance = "n-butyllithium"
strength = "2.5 M in hexanes"
opened = 2026-03-20
[[bottle]]
name = "thf"
substance = "tetrahydrofuran"
water = "12 ppm"
water-measured = 2025-12-30
opened = 2025-11-01
[[bottle]]
name = "sealed"
substance = "tetrahydrofuran"
water = "12 ppm"
water-measured = 2025-12-30
[[bottle]]
name = "amine"
substance = "diisopropylamine"
"#;

    const OLD: &str = "
plan A
scale 10.0 mmol ketone
materials
  ketone: acetone, 1.00 eq
  reagent: ethylmagnesium bromide, bottle old, 1.05 eq
                                   ^^^^^^^^^^ information: The titre of bottle old is 31 days old: titrate it before you rely on 1.05 eq.
steps
  add ketone
  add reagent dropwise
";

    #[test]
    fn an_old_titre_is_told_and_a_note_settles_it() {
        expect_at(&bench(BOTTLES), &CHECK, OLD);
        expect_fixed_at(
            &bench(BOTTLES),
            &CHECK,
            OLD,
            0,
            "
plan A
scale 10.0 mmol ketone
materials
  ketone: acetone, 1.00 eq
  reagent: ethylmagnesium bromide, bottle old, 1.05 eq
steps
  add ketone
  note titrate old before use
  add reagent dropwise
",
        );
    }

    #[test]
    fn ages_are_set_in_the_settings() {
        let patient = settings("[ages]\ntitre = 31\n");
        let context = plan::Context {
            settings: patient.settings,
            ..bench(BOTTLES)
        };
        let (before, after) = OLD
            .split_once("                 ")
            .expect("the expectation");
        let (_, after) = after.split_once('\n').expect("the next line");
        expect_at(&context, &CHECK, &format!("{before}{after}"));
    }

    #[test]
    fn a_missing_titre_and_old_water_are_told() {
        expect_at(
            &bench(BOTTLES),
            &CHECK,
            "
plan A
materials
  base: n-butyllithium, bottle never, 2 mmol
                        ^^^^^^^^^^^^ information: Bottle never was opened 60 days ago and has no titre
  reagent: ethylmagnesium bromide, bottle kept-long, 2 mmol
                                   ^^^^^^^^^^^^^^^^ information: The titre of bottle kept-long is 181 days old
  thf: tetrahydrofuran, bottle thf, 20 mL
                        ^^^^^^^^^^ information: The water of bottle thf, which is open, was measured 91 days ago
",
        );
    }

    #[test]
    fn fresh_values_plenty_and_a_written_titre_are_silent() {
        expect_at(
            &bench(BOTTLES),
            &CHECK,
            "
plan A
scale 10.0 mmol ketone
materials
  ketone: acetone, 1.00 eq
  a: ethylmagnesium bromide, bottle fresh, 1.05 eq
  b: n-butyllithium, bottle new, 1.05 eq
  h: ethylmagnesium bromide, bottle kept, 1.05 eq
  c: ethylmagnesium bromide, bottle old, 1.50 eq
  d: ethylmagnesium bromide, found 2.80 M, bottle old, 1.05 eq
  e: tetrahydrofuran, bottle sealed, 20 mL
  f: tetrahydrofuran, 8 ppm water, bottle thf, 20 mL
  g: diisopropylamine, bottle amine, 1.05 eq
",
        );
        let (plan, _) = OLD
            .split_once("                 ")
            .expect("the expectation");
        expect(&CHECK, plan);
    }
}
