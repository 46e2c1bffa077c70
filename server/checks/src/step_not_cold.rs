//! A step wants it cold, and no step has cooled it.

use crate::quench_too_hot::is_cooled_in_words;
use crate::{Check, Finding, Severity, Survey, edit, sensitive};
use plan::vessel::{Moment, celsius};
use plan::{At, Plan, convert};
use syntax::{
    Clause, ModifierKind, Quantity, Referent, Statement, TemperatureKind, TemperatureValue, Thing,
    Verb,
};
use uom::si::f64::ThermodynamicTemperature;

pub(crate) const CHECK: Check = Check {
    name: "step-not-cold",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Step not cold

**Finds** a step that brings something in `below` a temperature, or goes on `keep below` or `hold
below` one, while its vessel is warmer by more than 5 K as it begins: no step has cooled it, or one
has warmed or boiled it since. Where an addition says `at 0 °C` and nothing has cooled the vessel,
it is an information, for the step may be meant to cool it.

Silent where the step itself cools (`cool`, a bath, ice, something ice-cold), where the plan does
not tell how warm the vessel is, above the room's temperature within 15 K, and for what a quench is
to stay below, which `quench-too-hot` looks at. Once for a vessel until its temperature changes.

**Why it matters.** An addition is kept cold for what happens in its first drops. A flask of 50 mL
takes a quarter of an hour to come from the room's temperature to that of a bath of dry ice, and
who reads `below -65 °C` with the syringe in hand finds out too late.

**Example**

    materials
      base: n-butyllithium, 2.5 M in hexanes, 1.05 eq
    steps
      add thf 20 mL, ketone
      add base dropwise over 20 min, below -65 °C

**Write instead**

    steps
      add thf 20 mL, ketone
      cool flask to -78 °C
      add base dropwise over 20 min, below -65 °C

The bath is colder than the limit: ice for what stays below 5 °C, dry ice in acetone (-78 °C) for
what stays below -65 °C.

**Sources.** The temperatures follow from the steps, and the boiling points at reflux from the
library; the margins of 5 and 15 K and the quarter of an hour are common practice.
";

/// Nobody reads a thermometer in a bath closer than this.
const MARGIN: f64 = 5.0;
/// How close a boiling or heated vessel is known.
const MARGIN_ABOVE_ROOM: f64 = 15.0;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut said: Vec<Option<f64>> = vec![None; plan.apparatus.len()];
    for (index, moment) in plan.moments.iter().enumerate() {
        let Some((finding, t)) = look(plan, index, moment) else {
            continue;
        };
        match said.get_mut(moment.vessel) {
            Some(said) if *said != Some(t) => *said = Some(t),
            _ => continue,
        }
        findings.push(finding);
    }
}

fn look(plan: &Plan, index: usize, moment: &Moment) -> Option<(Finding, f64)> {
    let clause = sensitive::clause(plan, moment)?;
    let (kind, wanted, limit) = coldest(clause)?;
    let begins = if moment.additions.is_empty() {
        kept_during(plan, index, moment, clause)?
    } else {
        moment
    };
    let below = kind == TemperatureKind::Below;
    if moment.unsure
        || below && clause.verb == Verb::Quench
        || names_unknown(clause)
        || cools(plan, moment)
    {
        return None;
    }
    let state = begins.before.get(moment.vessel)?;
    let t = celsius(state.known_temperature().filter(|_| !state.unclear)?);
    let margin = if celsius(limit) < celsius(plan.room.temperature) {
        MARGIN
    } else {
        MARGIN_ABOVE_ROOM
    };
    if t <= celsius(limit) + margin {
        return None;
    }
    let vessel = moment.vessel;
    let mut earlier = plan.moments.iter().take(index).rev();
    let changed = earlier.find(|earlier| {
        let before = earlier.before.get(vessel).map(|state| state.temperature);
        before != earlier.after.get(vessel).map(|state| state.temperature)
    });
    let since = changed.map_or(0, |earlier| earlier.line);
    if is_cooled_in_words(plan, since, moment.line) {
        return None;
    }
    let written = plan.slice(moment.line, wanted.span)?;
    let flask = sensitive::name(plan, moment.vessel);
    let at = At {
        line: moment.line,
        span: wanted.span,
    };
    let word = if below { "below" } else { "at" };
    let message = format!(
        "This is to be {word} {written}, and {flask} is at {t:.0} °C when it begins: cool it first, and wait until it is cold."
    );
    let severity = if below {
        Severity::Warning
    } else {
        Severity::Information
    };
    let finding = Finding::new(&CHECK, at, message).severity(severity);
    let degrees = format!("{} °C", celsius(limit).round());
    let step = match sensitive::listed(plan, moment.vessel) {
        Some(item) => format!("cool {} to {degrees}", item.name),
        None => format!("cool to {degrees}"),
    };
    let finding = match edit::insert_before(plan, moment.line, &[step]) {
        Some(edit) => finding.fix(format!("Cool to {degrees} first"), vec![edit]),
        None => finding,
    };
    Some((finding, t))
}

/// The lowest temperature that a clause says its contents stay at or below.
fn coldest(clause: &Clause) -> Option<(TemperatureKind, &Quantity, ThermodynamicTemperature)> {
    let stated = clause
        .modifiers
        .iter()
        .filter_map(|modifier| match &modifier.kind {
            ModifierKind::Temperature(
                kind @ (TemperatureKind::Below | TemperatureKind::At),
                TemperatureValue::Quantity(quantity),
            ) => Some((*kind, quantity, convert::temperature(quantity)?)),
            _ => None,
        });
    stated.min_by(|a, b| a.2.value.total_cmp(&b.2.value))
}

/// `add base dropwise, keep below 5 °C`: the addition that is kept cold.
fn kept_during<'a>(
    plan: &'a Plan,
    index: usize,
    moment: &Moment,
    clause: &Clause,
) -> Option<&'a Moment> {
    if !matches!(clause.verb, Verb::Keep | Verb::Hold) {
        return None;
    }
    plan.moments
        .iter()
        .take(index)
        .rev()
        .take_while(|before| before.line == moment.line)
        .find(|before| before.vessel == moment.vessel && !before.additions.is_empty())
}

/// It goes into something that is no line of the plan, and not into the vessel that was taken.
fn names_unknown(clause: &Clause) -> bool {
    let unknown = |thing: &Thing| thing.referent == Referent::Unknown;
    let mut modifiers = clause.modifiers.iter();
    modifiers.any(|modifier| modifier.kind.things().iter().any(unknown))
}

/// Whether a clause of the line cools, or brings in something cold.
fn cools(plan: &Plan, moment: &Moment) -> bool {
    let Some(Statement::Step(step)) = plan
        .text
        .lines
        .get(moment.line as usize)
        .map(|line| &line.statement)
    else {
        return true;
    };
    let is_cold = |words: &str| {
        let words = words.to_lowercase();
        words
            .split(|c: char| !c.is_alphabetic())
            .any(|word| matches!(word, "ice" | "cold" | "icy" | "bath" | "cooled" | "cooling"))
    };
    step.clauses.iter().any(|clause| {
        let things = clause
            .modifiers
            .iter()
            .flat_map(|modifier| modifier.kind.things());
        clause.verb == Verb::Cool
            || clause.objects.iter().chain(things).any(|thing| {
                is_cold(&thing.name.text)
                    || thing
                        .adjective
                        .as_ref()
                        .is_some_and(|adjective| is_cold(&adjective.text))
            })
            || clause
                .modifiers
                .iter()
                .any(|modifier| match &modifier.kind {
                    ModifierKind::Temperature(kind, _) => *kind == TemperatureKind::Bath,
                    ModifierKind::Remark(text) => is_cold(&text.text),
                    _ => false,
                })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan A
materials
  acid: acetyl chloride, 1.0 g
  base: triethylamine, 2.0 g
  thf: tetrahydrofuran, 40 mL
equipment
  flask: 100 mL flask
  vial: 20 mL vial
steps
{steps}"
        )
    }

    #[test]
    fn finds_an_addition_below_what_the_vessel_is_at() {
        let before = "
  add thf 20 mL, base
  add acid dropwise over 10 min, below 5 °C
                                       ^^^^ warning: This is to be below 5 °C, and flask is at 21 °C when it begins
  add thf 5 mL, below 5 °C
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "
  add thf 20 mL, base
  cool flask to 5 °C
  add acid dropwise over 10 min, below 5 °C
  add thf 5 mL, below 5 °C
",
            ),
        );
    }

    #[test]
    fn finds_what_is_said_of_an_addition_behind_it() {
        expect(
            &CHECK,
            &plan(
                "
  add thf 20 mL, base
  add acid dropwise over 10 min, keep below 5 °C
                                            ^^^^ warning: This is to be below 5 °C
",
            ),
        );
    }

    // Tetrahydrofuran boils at 66 °C (CRC Handbook).
    #[test]
    fn finds_what_was_warmed_or_boiled_since() {
        expect(
            &CHECK,
            &plan(
                "
  add thf 20 mL, base
  cool to 0 °C
  add acid dropwise, below 5 °C
  warm to rt
  add thf 5 mL, below 5 °C
                      ^^^^ warning: This is to be below 5 °C, and flask is at 21 °C
  reflux for 2 h
  transfer vial to flask, below 30 °C
  add thf 5 mL, below 30 °C
                      ^^^^^ warning: This is to be below 30 °C, and flask is at 66 °C
",
            )
            .replace("  transfer vial to flask, below 30 °C\n", ""),
        );
    }

    #[test]
    fn what_is_said_to_be_at_a_temperature_may_be_meant_to_cool() {
        expect(
            &CHECK,
            &plan(
                "
  add thf 20 mL, base
  add acid dropwise over 10 min, at 0 °C
                                    ^^^^ information: This is to be at 0 °C, and flask is at 21 °C
  add thf 5 mL, at 0 °C
",
            ),
        );
    }

    #[test]
    fn is_silent_where_it_is_cold_or_nobody_knows() {
        for steps in [
            "cool to 0 °C\n  add acid dropwise, below 5 °C",
            "cool below 5 °C\n  add acid dropwise, below 5 °C",
            "cool in ice bath\n  add acid dropwise, below 5 °C",
            "add acid dropwise in ice bath, below 5 °C",
            "add acid dropwise, below 5 °C (ice bath)",
            "add acid dropwise, bath -20 °C, below 5 °C",
            "cool to 0 °C, add acid dropwise, below 5 °C",
            "add ice-cold thf 10 mL, below 5 °C",
            // It is cooled, and not to what.
            "cool\n  add acid dropwise, below 5 °C",
            "reflux for 2 h\n  let stand for 1 h\n  add acid, below 30 °C",
            "reflux for 2 h\n  let it cool\n  add acid, below 30 °C",
            "immerse flask in ice\n  add acid dropwise, below 5 °C",
            // The room is no warmer.
            "add acid dropwise, below 25 °C",
            "add acid dropwise, below 20 °C",
            "add acid dropwise, at rt",
            // Nothing goes in.
            "stir for 1 h, below 5 °C",
            "keep flask below 5 °C",
            // The check of quenches.
            "quench with water 10 mL, below 5 °C",
            // It goes elsewhere.
            "add acid to flusk, below 5 °C",
            // What the vessel holds was not followed.
            "concentrate\n  add acid dropwise, below 5 °C",
        ] {
            expect(
                &CHECK,
                &plan(&format!("  add thf 20 mL, base\n  {steps}\n")),
            );
        }
    }
}
