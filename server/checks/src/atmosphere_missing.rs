//! A reagent that air destroys enters a vessel of which the plan does not say how its air was removed.

use crate::Survey;
use crate::edit::{self, Edit};
use crate::sensitive::{self, Entry, Threat};
use crate::{Check, Finding, Severity};
use chemistry::ReagentClass;
use plan::budget;
use plan::vessel::{Content, Filling, Gas, VesselState};
use plan::{Plan, takes};
use syntax::{ModifierKind, Nature, Verb};
use uom::si::f64::AmountOfSubstance;

pub(crate) const CHECK: Check = Check {
    name: "atmosphere-missing",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Atmosphere missing

**Finds** a vessel that gets a reagent which the oxygen of air destroys, while no step says how
the air was taken out. Such reagents are organolithiums, Grignard reagents, zinc and aluminium
alkyls, palladium(0) and nickel(0) complexes, trialkylphosphines, low-valent metals, whatever
catches fire in air, and any line that says `air-sensitive` or `pyrophoric`. It is a warning, once
for a vessel; metal amides, alkali metals and ylides give an information, once for a plan. `not
air-sensitive` turns it off for a line. A Grignard reagent that is made from magnesium counts from where
it forms: a warning where the plan keeps its ether dry, an information otherwise.

Where a step only says `under argon`, that is taken as an inert line and gives no warning; before
an organolithium, a Grignard reagent or a pyrophoric reagent it gives an information, since a flow
over the neck does not empty a flask.

Silent: purged, sparged, evacuated, evacuated and refilled, or flame-dried under vacuum or gas, also where a note tells it;
the glovebox; a solid that is weighed in and purged afterwards, before liquid or heat; a flask
that boiled before the reagent came, or in which a Grignard reagent is made under a drying tube; catalysts that are used in air; plans that want oxygen (air,
oxygen, ozone or a peroxide in them).

**Why it matters.** The gas above the liquid holds more oxygen than most solvents hold water: 8.68
µmol in each mL of air at 21 °C. One O₂ takes up to two of an organolithium or Grignard reagent.

**Example**: the flask is full of air

    materials
      base: n-butyllithium, 2.5 M in hexanes, 1.10 eq
    steps
      dry flask, bar at 125 °C overnight
      add thf 40 mL, ketone
      add base dropwise over 10 min, via syringe

**Write instead**

    steps
      dry flask, bar at 125 °C overnight
      evacuate and refill flask with argon, 3 cycles, 1 mbar
      add thf 40 mL, ketone
      add base dropwise over 10 min, via syringe

or `purge flask with argon for 5 min`, before the liquid goes in.

**Sources.** The oxygen follows from the ideal gas law and 20.95 % of O₂ in dry air; the gas space
is taken as 1.25 times the nominal volume less the liquid (an assumption). The list of reagents
and the number of cycles are common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    if plan.oxygen_wanted() {
        return;
    }
    // A drying tube says that it is made under the vapour of its ether, on purpose.
    let drying_tube = plan.says("drying tube");
    let made_here = plan
        .entries(Threat::Water)
        .iter()
        .filter(|entry| entry.made_here && !drying_tube);
    let entries: Vec<&Entry<'_>> = plan.entries(Threat::Air).iter().chain(made_here).collect();
    let mut mild_said = false;
    for vessel in 0..plan.apparatus.len() {
        let graded = || {
            entries
                .iter()
                .filter(|entry| entry.vessel == vessel)
                .filter_map(|&entry| Some((entry, grade(plan, entry)?)))
        };
        let Some((entry, severity)) =
            graded().min_by_key(|(entry, severity)| (*severity, entry.moment))
        else {
            continue;
        };
        if severity != Severity::Warning && std::mem::replace(&mut mild_said, true) {
            continue;
        }
        findings.push(finding(plan, entry, severity));
    }
}

/// How bad it is that this reagent goes in here, if at all.
fn grade(plan: &Survey<'_>, entry: &Entry<'_>) -> Option<Severity> {
    let moment = entry.at(plan)?;
    // What the step itself says of its gas counts: the state after it.
    let after = moment.after.get(entry.vessel)?;
    let before = moment.before.get(entry.vessel)?;
    let gas = if after.is_inert() {
        &after.gas
    } else {
        &before.gas
    };
    match gas {
        Gas::Vacuum { .. } => None,
        Gas::Filled { how, .. } if before.is_inert() || after.is_inert() => {
            let words_only = *how == Filling::Said && entry.hard && is_fierce(plan, entry);
            (words_only
                && !entry.made_here
                && !swept_or_purged(plan, entry)
                && !is_told(plan, entry))
            .then_some(Severity::Information)
        }
        _ if swept_or_purged(plan, entry) || is_told(plan, entry) => None,
        _ if entry.hard => Some(Severity::Warning),
        _ => Some(Severity::Information),
    }
}

/// A note, or a step with a verb that is not known, tells how the air was taken out.
fn is_told(plan: &Survey<'_>, entry: &Entry<'_>) -> bool {
    const TAKEN_OUT: [&str; 5] = ["purg", "evacuat", "backfill", "refill", "glovebox"];
    let line = entry.at(plan).map_or(0, |moment| moment.line);
    let told = plan.told_above(line);
    let may_tell = told.filter(|text| TAKEN_OUT.iter().any(|start| text.contains(start)));
    let mut words = may_tell.flat_map(sensitive::words);
    words.any(|word| TAKEN_OUT.iter().any(|start| word.starts_with(start)))
}

/// Reagents that deserve more than words.
fn is_fierce(plan: &Plan, entry: &Entry<'_>) -> bool {
    use ReagentClass as C;
    let stated = sensitive::material(plan, &entry.addition.content)
        .and_then(|material| material.stated_nature(Nature::Pyrophoric));
    let known = entry.addition.content.substance(&plan.materials);
    let catches_fire = known.is_some_and(|substance| substance.has(chemistry::Tag::Pyrophoric));
    stated.unwrap_or(catches_fire) || matches!(entry.class, Some(C::Organolithium | C::Grignard))
}

/// The vessel boiled before, or is purged after a solid went in and before liquid or heat.
pub(crate) fn swept_or_purged(plan: &Plan, entry: &Entry<'_>) -> bool {
    let verb = |moment| sensitive::clause(plan, moment).map(|clause| clause.verb);
    let here = |moment: &&plan::vessel::Moment| moment.vessel == entry.vessel;
    let boils = |moment| sensitive::clause(plan, moment).is_some_and(sensitive::boils);
    let boiled = plan
        .moments
        .iter()
        .take(entry.moment)
        .filter(here)
        .any(boils);
    if boiled {
        return true;
    }
    let is_solid = !entry.addition.content.is_liquid(&plan.materials);
    if !is_solid || is_fierce(plan, entry) {
        return false;
    }
    let slow = matches!(
        entry.class,
        None | Some(
            ReagentClass::Palladium0 | ReagentClass::Nickel0 | ReagentClass::Trialkylphosphine
        )
    );
    let with_it = plan
        .moments
        .get(entry.moment)
        .map_or([].as_slice(), |moment| moment.additions.as_slice());
    let wetted = with_it
        .iter()
        .any(|addition| addition.content.is_liquid(&plan.materials));
    if wetted && !slow {
        return false;
    }
    for moment in plan.moments.iter().skip(entry.moment + 1) {
        let Some(state) = moment.after.get(entry.vessel) else {
            return false;
        };
        let proven = matches!(&state.gas, Gas::Filled { how, .. } if *how != Filling::Said);
        if (proven && state.is_inert()) || matches!(state.gas, Gas::Vacuum { .. }) {
            return true;
        }
        if moment.vessel != entry.vessel {
            continue;
        }
        let liquid = moment
            .additions
            .iter()
            .any(|addition| addition.content.is_liquid(&plan.materials));
        let works = matches!(
            verb(moment),
            Some(Verb::Stir | Verb::Heat | Verb::Reflux | Verb::Hold | Verb::Warm)
        );
        if works || liquid && !slow {
            return false;
        }
    }
    false
}

/// Air or oxygen belongs to the reaction.
pub(crate) fn oxygen_wanted(plan: &Plan) -> bool {
    let oxidises = |name: &str| {
        let mut words = ["ozone", "peroxide", "tempo"].into_iter();
        name.eq_ignore_ascii_case("oxygen")
            || name.eq_ignore_ascii_case("air")
            || words.any(|word| sensitive::contains(name, word))
    };
    let listed = plan
        .materials
        .iter()
        .filter(|material| !material.product)
        .any(|material| {
            let known = material
                .identity
                .substance
                .map_or(&*material.identity.name, |substance| substance.name());
            oxidises(known)
        });
    let clauses = || takes::steps(&plan.text).flat_map(|(_, step)| &step.clauses);
    listed
        || clauses().any(|clause| {
            clause
                .modifiers
                .iter()
                .any(|modifier| match &modifier.kind {
                    ModifierKind::Under(things) | ModifierKind::With(things) => {
                        things.iter().any(|thing| oxidises(&thing.name.text))
                    }
                    ModifierKind::Place(thing) => {
                        &*thing.name.text == "air"
                            && matches!(
                                clause.verb,
                                Verb::Stir | Verb::Hold | Verb::Heat | Verb::Reflux
                            )
                    }
                    ModifierKind::To(things) => {
                        clause.verb == Verb::Open
                            && things.iter().any(|thing| &*thing.name.text == "air")
                    }
                    _ => false,
                })
        })
}

fn finding(plan: &Plan, entry: &Entry<'_>, severity: Severity) -> Finding {
    let flask = sensitive::name(plan, entry.vessel);
    let name = entry.called(plan);
    let verb = if entry.made_here { "forms" } else { "goes in" };
    let state = entry
        .at(plan)
        .and_then(|moment| moment.before.get(entry.vessel));
    let opened = match state.map(|state| &state.gas) {
        Some(Gas::Air {
            said: true,
            line: Some(line),
        }) => Some(*line),
        _ => None,
    };
    let said = entry
        .at(plan)
        .and_then(|moment| moment.after.get(entry.vessel))
        .and_then(|state| match &state.gas {
            Gas::Filled { gas, .. } if state.is_inert() => Some(gas.clone()),
            _ => None,
        });
    let mut message = match (&said, opened) {
        (Some(gas), _) => format!(
            "`under {gas}` alone does not take the air out of {flask} before {name} {verb}: write how it was purged."
        ),
        (None, Some(_)) => format!(
            "The plan does not say how the air of {flask} was removed after it was opened and before {name} {verb}."
        ),
        (None, None) => {
            format!(
                "The plan does not say how the air of {flask} was removed before {name} {verb}."
            )
        }
    };
    if said.is_none()
        && let Some(oxygen) = state.and_then(|state| oxygen(plan, entry.vessel, state))
    {
        let oxygen = sensitive::amount_text(oxygen, 2);
        message.push_str(&format!(
            " Air above the liquid would bring about {oxygen} of oxygen"
        ));
        match entry.amount(plan) {
            Some(amount) => {
                let amount = sensitive::amount_text(amount, 3);
                message.push_str(&format!(", against {amount} of {name}."));
            }
            None => message.push('.'),
        }
    }
    let mut finding = Finding::new(&CHECK, entry.addition.at, message).severity(severity);
    if let Some(line) = opened {
        finding = finding.related(crate::sensitive::line_at(plan, line), "opened here");
    }
    for (title, edits) in fixes(plan, entry) {
        finding = finding.fix(title, edits);
    }
    finding
}

/// Oxygen of the air above the liquid.
fn oxygen(plan: &Plan, vessel: usize, state: &VesselState) -> Option<AmountOfSubstance> {
    let space = budget::gas_space(plan.apparatus.get(vessel)?, state, &plan.materials)?;
    Some(budget::oxygen_of_air(space, &plan.room))
}

fn fixes(plan: &Plan, entry: &Entry<'_>) -> Vec<(String, Vec<Edit>)> {
    let Some(item) = sensitive::listed(plan, entry.vessel) else {
        return Vec::new();
    };
    let (flask, gas) = (&item.name, sensitive::inert_gas(plan));
    let Some(line) = before_liquid(plan, entry) else {
        return Vec::new();
    };
    let way_out = sensitive::outlet(item);
    let cycles = (
        format!("Evacuate and refill {flask} first"),
        format!("evacuate and refill {flask} with {gas}, 3 cycles, 1 mbar"),
    );
    let flow = (
        format!("Purge {flask} first"),
        format!("purge {flask} with {gas} for 5 min{way_out}"),
    );
    let both = if sensitive::is_flask(plan, entry.vessel) {
        [cycles, flow]
    } else {
        [flow, cycles]
    };
    both.into_iter()
        .filter_map(|(title, step)| Some((title, vec![edit::insert_before(plan, line, &[step])?])))
        .collect()
}

/// The step that brings the first liquid since the vessel was last open: a vacuum belongs before it.
fn before_liquid(plan: &Plan, entry: &Entry<'_>) -> Option<u32> {
    let until = plan.moments.get(..=entry.moment)?;
    let opened = until.iter().rposition(|moment| {
        let verb = sensitive::clause(plan, moment).map(|clause| clause.verb);
        let aired = moment.after.get(entry.vessel).map(|state| &state.gas)
            != moment.before.get(entry.vessel).map(|state| &state.gas);
        let dried = matches!(
            verb,
            Some(Verb::Dry | Verb::Bake | Verb::FlameDry | Verb::Assemble | Verb::Cool)
        );
        // Glass that cools after it was dried, and not a solution that is cooled.
        let wet = moment.after.get(entry.vessel).is_some_and(|state| {
            let liquid = |content: &Content| content.is_liquid(&plan.materials);
            state.contents.iter().any(liquid)
        });
        moment
            .after
            .get(entry.vessel)
            .is_some_and(|state| matches!(state.gas, Gas::Air { said: true, .. }))
            && aired
            || dried && !wet && sensitive::touches(plan, moment, entry.vessel)
    });
    let start = opened.map_or(0, |index| index + 1).min(entry.moment);
    until
        .iter()
        .skip(start)
        .find(|moment| {
            moment.vessel == entry.vessel
                && moment.additions.iter().any(|addition| {
                    addition.content.is_liquid(&plan.materials) || addition.at == entry.addition.at
                })
        })
        .map(|moment| moment.line)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    const BASE: &str = "base: n-butyllithium, 2.5 M in hexanes, 1.15 eq";

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  {BASE}
  thf: tetrahydrofuran, dry, 20 mL
equipment
  flask: 100 mL two-neck flask, septum, argon inlet, bubbler
  vial: 20 mL vial, septum
  bar: stir bar
steps
{steps}"
        )
    }

    #[test]
    fn finds_a_grignard_reagent_made_in_air() {
        let text = |flask: &str, first: &str, found: &str| {
            format!(
                "
plan Test
materials
  bromide: 4-bromoanisole, 20.0 mmol
  mg: magnesium, turnings, 22.0 mmol
  thf: tetrahydrofuran, dry, 40 mL
equipment
  flask: {flask}
steps
  {first}
  add mg, thf
  add bromide dropwise over 30 min
{found}"
            )
        };
        let found = "      ^^^^^^^ warning: The plan does not say how the air of flask was removed before the Grignard reagent from bromide forms\n";
        let (flask, dry) = ("100 mL flask", "dry flask at 125 °C overnight");
        expect(&CHECK, &text(flask, dry, found));
        expect(&CHECK, &text("100 mL flask, drying tube", dry, ""));
        expect(&CHECK, &text(flask, "cool flask under argon", ""));
    }

    #[test]
    fn asks_how_the_air_was_removed() {
        // 1.25 × 100 mL of air less 20 mL of liquid: 105 mL × 8.68 µmol/mL = 0.91 mmol.
        expect(
            &CHECK,
            &plan(
                "
  dry flask, bar at 125 °C overnight
  add bar
  add thf via syringe
  add base dropwise over 10 min, via syringe
      ^^^^ warning: The plan does not say how the air of flask was removed before base goes in. Air above the liquid would bring about 0.91 mmol of oxygen, against 5.75 mmol of base.
",
            ),
        );
    }

    #[test]
    fn purges_before_the_liquid() {
        let before = "
  add bar
  add thf via syringe
  add base
  stir for 1 h, under nitrogen
";
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(&before.replace(
                "  add thf",
                "  evacuate and refill flask with nitrogen, 3 cycles, 1 mbar\n  add thf",
            )),
        );
        expect_fixed(
            &CHECK,
            &plan(before),
            1,
            &plan(&before.replace(
                "  add thf",
                "  purge flask with nitrogen for 5 min\n  add thf",
            )),
        );
        // Also where the solvent is cooled: a vacuum would draw it off.
        let cooled = before.replace("  add base", "  cool to 0 °C\n  add base");
        expect_fixed(
            &CHECK,
            &plan(&cooled),
            0,
            &plan(&cooled.replace(
                "  add thf",
                "  evacuate and refill flask with nitrogen, 3 cycles, 1 mbar\n  add thf",
            )),
        );
    }

    #[test]
    fn is_silent_where_the_air_is_out() {
        for steps in [
            "purge with argon for 5 min",
            "evacuate and refill with argon, 3 cycles, 1 mbar",
            "purge flask, vial with argon, 3 cycles",
            "flame-dry flask under vacuum",
            "flame-dry flask under argon",
            "evacuate for 5 min\n  fill with argon",
            "in glovebox",
            "sparge with argon for 10 min",
            "note the flask was evacuated and refilled with argon three times",
        ] {
            expect(
                &CHECK,
                &plan(&format!("  add bar\n  {steps}\n  add thf\n  add base\n")),
            );
        }
    }

    #[test]
    fn words_alone_are_worth_a_thought_before_fierce_reagents() {
        expect(
            &CHECK,
            &plan(
                "
  cool flask to rt under argon
  add thf
  add base
      ^^^^ information: `under argon` alone does not take the air out of flask before base goes in
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "
  add base under argon
      ^^^^ information: `under argon` alone
",
            ),
        );
        let mild = plan("  cool flask to rt under argon\n  add base\n")
            .replace(BASE, "base: tricyclohexylphosphine, 1.15 eq");
        expect(&CHECK, &mild);
    }

    #[test]
    fn sees_that_the_flask_was_opened() {
        expect(
            &CHECK,
            &plan(
                "
  add bar
  evacuate and refill with argon, 3 cycles, 1 mbar
  add thf
  open flask
  add base
      ^^^^ warning: The plan does not say how the air of flask was removed after it was opened
",
            ),
        );
    }

    #[test]
    fn a_solid_may_be_purged_after_it_is_weighed_in() {
        let catalyst = "base: tetrakis(triphenylphosphine)palladium(0), 2 mol%";
        let good = plan(
            "  add base, bar\n  evacuate and refill with argon, 3 cycles, 1 mbar\n  add thf\n",
        );
        expect(&CHECK, &good.replace(BASE, catalyst));
        let degassed =
            plan("  add base, bar, thf\n  sparge with argon for 10 min\n  heat to 60 °C\n");
        expect(&CHECK, &degassed.replace(BASE, catalyst));
        let bad = plan(
            "
  add base, bar, thf
      ^^^^ warning: The plan does not say how the air of flask
  heat to 60 °C
",
        );
        expect(&CHECK, &bad.replace(BASE, catalyst));
    }

    #[test]
    fn is_silent_where_oxygen_is_wanted_or_harmless() {
        for (line, steps) in [
            (
                "base: palladium(II) chloride, 10 mol%",
                "  add base, bar, thf\n  stir overnight\n",
            ),
            ("base: palladium, 10 wt% on carbon, 1 mol%", "  add base\n"),
            (
                "base: copper(I) iodide, 5 mol%",
                "  add base, thf\n  stir for 1 h\n",
            ),
            (
                "base: n-butyllithium, 2.5 M in hexanes, not air-sensitive, not pyrophoric, 1.15 eq",
                "  add base\n",
            ),
            (
                "base: tributylphosphine, 1.15 eq",
                "  add base\n  stir for 1 h, under oxygen\n",
            ),
        ] {
            expect(&CHECK, &plan(steps).replace(BASE, line));
        }
    }

    #[test]
    fn believes_the_line() {
        let text = plan(
            "
  add base
      ^^^^ warning: The plan does not say
",
        );
        expect(
            &CHECK,
            &text.replace(BASE, "base: phenylacetaldehyde, air-sensitive, 1.15 eq"),
        );
        expect(
            &CHECK,
            &plan("  add base\n").replace(BASE, "base: phenylacetaldehyde, 1.15 eq"),
        );
    }

    #[test]
    fn the_smallest_purge_is_offered_first_for_a_vial() {
        let before = "  in vial\n  add base 1 mL\n";
        let after =
            "  in vial\n  purge vial with argon for 5 min, with outlet needle\n  add base 1 mL\n";
        expect_fixed(&CHECK, &plan(before), 0, &plan(after));
    }
}
