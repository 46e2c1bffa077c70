//! Glass that is wet with a flammable solvent goes into an oven or a flame.

use crate::Survey;
use crate::acted_on::acted_on;
use crate::edit;
use crate::sensitive;
use crate::wet_glass::is_flammable;
use crate::{Check, Finding, Severity};
use plan::vessel::{Glass, Moment, Rinse};
use plan::{At, Plan, convert};
use syntax::{Clause, ModifierKind, Sense, TemperatureValue, Verb};
use uom::si::thermodynamic_temperature::degree_celsius;

pub(crate) const CHECK: Check = Check {
    name: "solvent-wet-into-heat",
    severity: Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Solvent-wet glass into heat

**Finds** glass or a tool that was last rinsed with a flammable solvent (GHS H224 or H225) and
goes into an oven, under a heat gun or into a flame, with nothing in between that takes the
solvent off: `drain`, `air-dry`, a stream of gas of 5 min or a vacuum.

Silent for water and other solvents that do not catch fire so easily, for a solvent that is not
known, and for `dry` without an oven or a temperature above 40 °C.

**Why it matters.** The vapour in an oven needs only the heating wire to catch fire. Drain it, let
it stand in air until it is dry and does not smell, and only then heat it.

**Example**

    steps
      wash flask, bar with acetone
      dry flask, bar at 125 °C overnight

**Write instead**

    steps
      wash flask, bar with acetone
      drain flask, bar
      air-dry flask, bar for 15 min
      dry flask, bar at 125 °C overnight

This reminds, and no more: the safety data sheet of the solvent, the rules of your laboratory and
a trained supervisor decide.

**Sources.** Hazard statements: Regulation (EC) 1272/2008, Annex VI. Draining and drying in air
first is common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for moment in &plan.moments {
        let Some(clause) = sensitive::clause(plan, moment) else {
            continue;
        };
        if !heats_glass(clause) {
            continue;
        }
        let mut wet = wet_items(plan, moment, clause);
        // `wash flask with acetone, dry at 125 °C`; `dry` alone on its line may mean what is in it.
        if clause.verb == Verb::Dry && clause.objects.is_empty() {
            wet.retain(|(.., rinse)| rinse.line == moment.line);
        }
        let Some((_, at, rinse)) = wet.first() else {
            continue;
        };
        let names: Vec<&str> = wet
            .iter()
            .map(|(index, ..)| sensitive::name(plan, *index))
            .collect();
        let all = names.join(", ");
        let is = if wet.len() == 1 { "is" } else { "are" };
        let them = if wet.len() == 1 { "it" } else { "them" };
        let solvent = &rinse.solvent;
        let message = format!(
            "{all} {is} still wet with {solvent}: drain {them}, and let {them} dry in air, before the heat. Flammable vapour in an oven or a flame catches fire."
        );
        let mut finding = Finding::new(&CHECK, *at, message)
            .related(sensitive::line_at(plan, rinse.line), "rinsed here");
        let listed = wet
            .iter()
            .all(|(index, ..)| sensitive::listed(plan, *index).is_some());
        let steps = [format!("drain {all}"), format!("air-dry {all} for 15 min")];
        if listed
            && rinse.line != moment.line
            && let Some(edit) = edit::insert_before(plan, moment.line, &steps)
        {
            finding = finding.fix(format!("Drain and air-dry {all} first"), vec![edit]);
        }
        findings.push(finding);
    }
}

fn heats_glass(clause: &Clause) -> bool {
    let place = |word: &str| {
        clause
            .modifiers
            .iter()
            .any(|modifier| match &modifier.kind {
                ModifierKind::Place(thing) => thing.name.text.contains(word),
                ModifierKind::With(things) | ModifierKind::Via(things) => {
                    things.iter().any(|thing| thing.name.text.contains(word))
                }
                _ => false,
            })
    };
    let hot_place = || place("heat gun") || place("flame") || place("oven");
    match clause.verb {
        Verb::FlameDry | Verb::Bake => true,
        Verb::Dry => {
            let glass = clause.senses.contains(&Sense::Glass) || clause.objects.is_empty();
            glass && (hot_place() || is_hot(clause))
        }
        Verb::Heat | Verb::Warm => hot_place(),
        _ => false,
    }
}

/// A temperature above 40 °C.
fn is_hot(clause: &Clause) -> bool {
    clause
        .modifiers
        .iter()
        .any(|modifier| match &modifier.kind {
            ModifierKind::Temperature(_, TemperatureValue::Quantity(quantity)) => {
                convert::temperature(quantity).is_some_and(|t| t.get::<degree_celsius>() > 40.0)
            }
            _ => false,
        })
}

/// `rinse flask with acetone, dry with a stream of nitrogen`: without heat, and what was rinsed is meant.
fn is_dried_since(plan: &Plan, rinse: &Rinse, moment: &Moment) -> bool {
    let place = |moment: &Moment| (moment.line, moment.clause);
    let between = plan
        .moments
        .iter()
        .filter(|other| other.line >= rinse.line && place(other) < place(moment));
    between
        .filter_map(|other| sensitive::clause(plan, other))
        .any(|clause| {
            matches!(clause.verb, Verb::Dry | Verb::AirDry)
                && clause.objects.is_empty()
                && !heats_glass(clause)
        })
}

/// What the clause heats that is wet with a flammable solvent, with its place and its rinse.
fn wet_items<'a>(plan: &Plan, moment: &'a Moment, clause: &Clause) -> Vec<(usize, At, &'a Rinse)> {
    acted_on(plan, moment, clause)
        .into_iter()
        .filter_map(|(index, at)| match &moment.before.get(index)?.glass {
            Glass::Rinsed(rinse)
                if rinse.substance.is_some_and(is_flammable)
                    && !is_dried_since(plan, rinse, moment) =>
            {
                Some((index, at, rinse))
            }
            _ => None,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!("\nplan Test\nequipment\n  flask: 100 mL flask\n  bar: stir bar\nsteps\n{steps}")
    }

    #[test]
    fn finds_acetone_on_its_way_to_the_oven() {
        expect(
            &CHECK,
            &plan(
                "
  wash flask, bar with acetone
  dry flask, bar at 125 °C overnight
      ^^^^^ error: flask, bar are still wet with acetone: drain them
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "
  rinse flask with ethanol
  flame-dry flask under vacuum
            ^^^^^ error: flask is still wet with ethanol: drain it
",
            ),
        );
    }

    #[test]
    fn finds_it_under_a_heat_gun_and_in_one_step() {
        expect(
            &CHECK,
            &plan(
                "
  rinse flask with ethanol
  dry flask with a heat gun
      ^^^^^ error: flask is still wet with ethanol: drain it
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "
  rinse flask with acetone, dry at 125 °C overnight
                            ^^^ error: flask is still wet with acetone: drain it
",
            ),
        );
        // A line above the step would drain it before it is rinsed.
        let text = plan("  rinse flask with acetone, dry at 125 °C overnight\n");
        let (_, found) = crate::testing::run(&CHECK, &text, &plan::Context::default());
        assert!(found.iter().all(|finding| finding.fixes.is_empty()));
    }

    #[test]
    fn drains_it_first() {
        expect_fixed(
            &CHECK,
            &plan("  wash flask, bar with acetone\n  dry flask, bar at 125 °C overnight\n"),
            0,
            &plan(
                "
  wash flask, bar with acetone
  drain flask, bar
  air-dry flask, bar for 15 min
  dry flask, bar at 125 °C overnight
",
            ),
        );
    }

    #[test]
    fn is_silent_where_nothing_can_burn() {
        for steps in [
            "dry flask, bar at 125 °C overnight",
            "wash flask with water\n  dry flask at 125 °C overnight",
            "wash flask with acetone\n  drain flask\n  dry flask at 125 °C overnight",
            "wash flask with acetone\n  air-dry flask for 15 min\n  flame-dry flask under vacuum",
            "wash flask with acetone\n  purge flask with nitrogen for 5 min\n  dry flask at 125 °C overnight",
            "wash flask with acetone\n  dry flask at 25 °C overnight",
            "wash flask with dichloromethane\n  dry flask at 125 °C overnight",
            "wash flask with acetone\n  dry bar at 125 °C overnight",
            "rinse flask with acetone, dry with a stream of nitrogen\n  dry flask at 125 °C overnight",
            "rinse flask with acetone\n  dry with nitrogen\n  dry flask at 125 °C overnight",
            "rinse flask with acetone, drain, dry at 125 °C overnight",
            "rinse flask with acetone\n  add phenol 2 g\n  dry at 60 °C under vacuum",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
