//! A quench that does more harm than what it quenches.

use crate::Survey;
use crate::alive::{self, Left};
use crate::edit;
use crate::gas_without_vent::how_much;
use crate::quench_missing::{borane_left, borane_left_by};
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::ReagentClass;
use chemistry::quantity::pressure;
use plan::Plan;
use plan::vessel::{Addition, Content, Moment, VesselState, celsius};
use syntax::{Clause, ModifierKind, Verb};
use uom::si::amount_of_substance::millimole;
use uom::si::f64::{Pressure, Volume};
use uom::si::mass::gram;
use uom::si::volume::milliliter;

pub(crate) const CHECK: Check = Check {
    name: "quench-wrong-agent",
    severity: Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Wrong quench

**Finds** a quench, or water or acid that is added, which the reagent answers with fire or an explosion:

- water, an acid or a solution in water on lithium aluminium hydride, sodium or potassium hydride,
  an alkali metal, an organolithium, a zinc or aluminium alkyl, where the step does not say that it
  goes in slowly (`dropwise`, `over 20 min`, `in 4 portions`, not in one): an error; a warning below 5 mmol of hydride,
  alkyl or metal, and for a solution in water on metal hydrides and alkyls, of which it speaks from 5 mmol on, as it
  does of alkyls at -40 °C or below;
- 5 mL or more of water or a solution in it for each gram of an aluminium hydride, slowly, where 10 mmol of hydride or
  more are left and the vessel by the steps is at 15 °C or more: a warning;
- water on an alkali metal, even slowly: a warning; an alcohol takes it first;
- a halogenated solvent on an alkali metal or an organolithium, also where it is to dilute what is left of them: an
  error;
- dry ice or carbon dioxide on an alkali metal or an aluminium hydride: an error;
- water or a solution in it, all at once, on 10 mmol or more of what is left of a phosphorus or thionyl halide or of a
  small acid chloride or bromide, or on 20 mmol or more of a halide of aluminium, boron, titanium, tin or silicon (50 at
  -40 °C or below; alcohols too for those of boron): a warning;
- water or an alcohol, all at once, on what is left of borane or 9-BBN, from 10 mmol of hydride on: a warning; an error
  from 100 mmol.

Silent for less than 1 mmol left, counted as `quench-missing` does; where amounts are not known;
after a first quench; for ethyl acetate, acetone, alcohols and hydrated salts; for mixtures
that go into the agent instead of the other way round.

**Why it matters.** 10 mmol of lithium aluminium hydride give nearly a litre of hydrogen. All at
once it carries solvent out of the flask with it, and the heat lights both.

**Example**

    materials
      lah:    lithium aluminium hydride, 2.00 eq
    steps
      add lah, thf 40 mL
      cool to 0 °C
      add ketone dropwise over 20 min
      quench with water 20 mL

**Write instead**

    steps
      add lah, thf 40 mL
      cool to 0 °C
      add ketone dropwise over 20 min
      quench with water 0.76 mL dropwise over 20 min, below 5 °C
      add water 20 mL dropwise over 20 min

or ethyl acetate first; isopropanol in toluene for metals and what catches fire in air. The safety
data sheet, the rules of your laboratory and a trained supervisor decide.

**Sources.** Gas: ideal gas law. Alkali metals and halogenated hydrocarbons: letter by J. C. Angus, *Chem.
Eng. News* 1998, 76 (36), 7. Slow addition of water to lithium aluminium hydride: teaching text *LibreTexts
Chemistry*, \"Quenching reactions\". Phosphorus oxychloride that waited in ice water and ran away, and is
quenched at 15 °C since: incident 97 of the UK Chemical Reaction Hazards Forum (crhf.org.uk). The rest, and
the amounts from which it speaks, are common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for moment in &plan.moments {
        let Some(clause) = sensitive::clause(plan, moment).filter(|clause| {
            matches!(
                clause.verb,
                Verb::Quench | Verb::Acidify | Verb::Basify | Verb::Add | Verb::Dilute | Verb::Pour
            )
        }) else {
            continue;
        };
        let Some(state) = moment.before.get(moment.vessel) else {
            continue;
        };
        findings.extend(onto_halide(plan, moment, clause, state));
        findings.extend(onto_lewis_acid(plan, moment, clause, state));
        findings.extend(onto_borane(plan, moment, clause, state));
        let Some(left) =
            alive::left(plan, state).filter(|left| left.amount.get::<millimole>() >= 1.0)
        else {
            continue;
        };
        let found = moment
            .additions
            .iter()
            .filter(|addition| addition.from.is_none())
            .find_map(|addition| judge(plan, moment, clause, &left, addition));
        findings.extend(found);
    }
}

/// Degrees Celsius at which the heat of a few millimoles of an alkyl boils no solvent (an assumption).
const COLD: f64 = -40.0;

/// Millimoles of a phosphorus or thionyl halide from which water belongs under it, not onto it (an assumption).
const MUCH_HALIDE: f64 = 10.0;

/// Water, all at once, on what is left of a phosphorus or thionyl halide when everything else has taken one each.
fn onto_halide(
    plan: &Plan,
    moment: &Moment,
    clause: &Clause,
    state: &VesselState,
) -> Option<Finding> {
    if state.quenched.is_some() || state.unclear || alive::is_slow(clause) {
        return None;
    }
    let halide = state.contents.iter().find(|content| {
        let small = SMALL
            .iter()
            .any(|name| alive::is_named(plan, content, name));
        small
            || matches!(
                alive::class(plan, content),
                Some(ReagentClass::PhosphorusHalide | ReagentClass::ThionylHalide)
            ) && !alive::is_named(plan, content, "chlorodiphenylphosphine")
    })?;
    let mut left = halide.amount?;
    let others = state
        .contents
        .iter()
        .filter(|other| !std::ptr::eq(*other, halide) && !sensitive::is_solvent(plan, other));
    for other in others {
        left -= other.amount?;
    }
    let addition = moment
        .additions
        .iter()
        .find(|addition| addition.from.is_none() && addition.content.is_aqueous(&plan.materials))?;
    if left.get::<millimole>() < MUCH_HALIDE {
        return None;
    }
    let (name, reagent) = (
        addition.content.name(&plan.materials),
        halide.name(&plan.materials),
    );
    let amount = sensitive::amount_text(left, 2);
    let message = format!(
        "{name} all at once on {amount} of {reagent} boils over with acid gas, now or, if it is cold, later: pour it slowly into ice and water instead, and keep that between 10 and 20 °C."
    );
    let finding = Finding::new(&CHECK, addition.at, message)
        .severity(Severity::Warning)
        .related(
            sensitive::line_at(plan, halide.line),
            format!("{reagent} came in here"),
        );
    let slowly = edit::slowly(plan, moment.line, clause, "dropwise over 30 min");
    Some(finding.fix("Add it dropwise over 30 min", vec![slowly]))
}

/// Acyl halides that water takes in seconds.
const SMALL: [&str; 4] = [
    "acetyl bromide",
    "acetyl chloride",
    "oxalyl chloride",
    "propionyl chloride",
];

/// Halides that water takes apart at once, also where they are bound to what they have activated, and their gas.
const LEWIS_ACIDS: [(&str, &str); 6] = [
    ("aluminium chloride", "hydrogen chloride"),
    ("boron tribromide", "hydrogen bromide"),
    ("boron trichloride", "hydrogen chloride"),
    ("silicon tetrachloride", "hydrogen chloride"),
    ("tin(IV) chloride", "hydrogen chloride"),
    ("titanium(IV) chloride", "hydrogen chloride"),
];

/// Millimoles of such a halide from which it speaks, and in a cold bath (assumptions).
const MUCH_ACID: f64 = 20.0;
const MUCH_ACID_COLD: f64 = 50.0;

/// Water, all at once, on much of a Lewis acid.
fn onto_lewis_acid(
    plan: &Plan,
    moment: &Moment,
    clause: &Clause,
    state: &VesselState,
) -> Option<Finding> {
    if moment.additions.is_empty()
        || state.quenched.is_some()
        || state.unclear
        || alive::is_slow(clause)
        || state.contents.iter().any(|c| c.is_aqueous(&plan.materials))
    {
        return None;
    }
    let (acid, gas) = state.contents.iter().find_map(|content| {
        let name = content.substance(&plan.materials)?.name();
        let (_, gas) = LEWIS_ACIDS.iter().find(|(acid, _)| *acid == name)?;
        Some((content, *gas))
    })?;
    let of_boron = alive::is_named(plan, acid, "boron tribromide")
        || alive::is_named(plan, acid, "boron trichloride");
    let addition = moment.additions.iter().find(|addition| {
        let agent = &addition.content;
        let wet = agent.is_aqueous(&plan.materials)
            || of_boron && alive::class(plan, agent) == Some(ReagentClass::Alcohol);
        let name = agent.name(&plan.materials);
        addition.from.is_none()
            && wet
            && agent.is_liquid(&plan.materials)
            && sensitive::words(name).all(|word| word != "ice")
    })?;
    // A substrate that is an alcohol takes its share at once, and is no quench.
    let agent = &addition.content;
    if clause.verb != Verb::Quench
        && !agent.is_aqueous(&plan.materials)
        && !sensitive::is_solvent(plan, agent)
    {
        return None;
    }
    let cold = state
        .known_temperature()
        .is_some_and(|t| celsius(t) <= COLD);
    let much = if cold { MUCH_ACID_COLD } else { MUCH_ACID };
    let amount = acid.amount.filter(|n| n.get::<millimole>() >= much)?;
    let (name, reagent) = (
        addition.content.name(&plan.materials),
        acid.name(&plan.materials),
    );
    let message = format!(
        "{name} all at once on {} of {reagent} boils the solvent over with {gas}: cool it to 0 °C and add it dropwise, or pour the mixture slowly onto ice.",
        sensitive::amount_text(amount, 2)
    );
    let finding = Finding::new(&CHECK, addition.at, message)
        .severity(Severity::Warning)
        .related(
            sensitive::line_at(plan, acid.line),
            format!("{reagent} came in here"),
        );
    Some(slowly_and_cold(plan, moment, clause, finding))
}

/// Millimoles of hydride of borane from which it is an error (an assumption): more than 2 L of hydrogen.
const MUCH_BORANE: f64 = 100.0;

/// Water or an alcohol, all at once, on what is left of a borane.
fn onto_borane(
    plan: &Plan,
    moment: &Moment,
    clause: &Clause,
    state: &VesselState,
) -> Option<Finding> {
    if moment.additions.is_empty() || alive::is_slow(clause) {
        return None;
    }
    let left =
        borane_left(plan, state).filter(|left| left.equivalents.get::<millimole>() >= WARM)?;
    let addition = moment.additions.iter().find(|addition| {
        let agent = &addition.content;
        let solvent = sensitive::is_solvent(plan, agent) && agent.is_protic(&plan.materials);
        addition.from.is_none() && (agent.is_aqueous(&plan.materials) || solvent)
    })?;
    let severity = if left.equivalents.get::<millimole>() >= MUCH_BORANE {
        Severity::Error
    } else {
        Severity::Warning
    };
    // What is certain decides, and what may be there is told.
    let left = borane_left_by(plan, state, alive::hydrides_at_most).unwrap_or(left);
    let room = Pressure::new::<pressure::atmosphere>(1.0);
    let gas = chemistry::molar_volume(plan.room.temperature, room) * left.equivalents;
    let reagent = left.reagent.name(&plan.materials);
    let message = format!(
        "All at once, {} on {} of {reagent} gives {} {} of hydrogen and boils over: cool it to 0 °C, give it an outlet through a bubbler, and add methanol dropwise.",
        addition.content.name(&plan.materials),
        sensitive::amount_text(left.amount, 2),
        how_much(plan, state),
        sensitive::volume_text(gas)
    );
    let finding = Finding::new(&CHECK, addition.at, message)
        .severity(severity)
        .related(
            sensitive::line_at(plan, left.reagent.line),
            format!("{reagent} came in here"),
        );
    Some(slowly_and_cold(plan, moment, clause, finding))
}

/// Cooled first where it is warm, and dropwise over half an hour.
fn slowly_and_cold(plan: &Plan, moment: &Moment, clause: &Clause, finding: Finding) -> Finding {
    let slowly = edit::slowly(plan, moment.line, clause, "dropwise over 30 min");
    let cooled = is_warm(plan, moment, clause)
        .then(|| edit::insert_before(plan, moment.line, &[cool(plan, moment)]))
        .flatten();
    let title = match cooled {
        Some(_) => "Cool to 0 °C, and add it dropwise over 30 min",
        None => "Add it dropwise over 30 min",
    };
    finding.fix(title, cooled.into_iter().chain([slowly]).collect())
}

/// A halogenated solvent that dilutes what a reaction left over; not the carbenoid that is made of it in the cold. Before
/// the reagent had anything to react with, `reagent-eats-solvent` speaks.
fn is_diluted_warm(plan: &Plan, moment: &Moment, left: &Left<'_>, agent: &Content) -> bool {
    let Some(state) = moment.before.get(moment.vessel) else {
        return false;
    };
    let substance = agent.substance(&plan.materials);
    let warm = state
        .known_temperature()
        .is_some_and(|t| celsius(t) > -60.0);
    // The moles of what is only named are not counted.
    let much = match alive::times(agent, left.reagent) {
        Some(times) => times >= 10.0,
        None => moment.after.get(moment.vessel).is_some_and(|after| {
            alive::volume_share(plan, after, agent).is_some_and(|share| share >= 0.2)
        }),
    };
    warm && much
        && substance.is_some_and(alive::is_halogenated_alkane)
        && alive::has_partner(plan, &state.contents)
}

fn judge(
    plan: &Plan,
    moment: &Moment,
    clause: &Clause,
    left: &Left<'_>,
    addition: &Addition,
) -> Option<Finding> {
    use ReagentClass as C;
    let agent = &addition.content;
    let name = agent.name(&plan.materials);
    let reagent = left.reagent.name(&plan.materials);
    let amount = sensitive::amount_text(left.amount, 2);
    let quench = clause.verb == Verb::Quench;
    let kind = alive::class(plan, agent);
    let error = |message: String| Some(Finding::new(&CHECK, addition.at, message));
    let violent = matches!(left.class, C::AlkaliMetal | C::Organolithium);
    if kind == Some(C::HalogenatedSolvent) && violent {
        if quench {
            return error(format!(
                "{name} can explode with {reagent} ({amount} left): use isopropanol in toluene, dropwise."
            ));
        } else if is_diluted_warm(plan, moment, left, agent) {
            return error(format!(
                "{name} can explode with {reagent} ({amount} left): quench that first, with isopropanol in toluene, dropwise."
            ));
        }
    }
    let carbonic = name.contains("dry ice") || alive::is_named(plan, agent, "carbon dioxide");
    if quench && carbonic && matches!(left.class, C::AlkaliMetal | C::AluminiumHydride) {
        return error(format!(
            "Carbon dioxide feeds the fire of {reagent} ({amount} left): use {}.",
            remedy(left)
        ));
    }
    let wet = agent.is_aqueous(&plan.materials);
    if !agent.is_liquid(&plan.materials) || !(wet || kind == Some(C::Acid)) {
        return None;
    }
    let slow = alive::is_slow(clause);
    let fierce = match left.class {
        C::AluminiumHydride => {
            alive::equivalents(left.reagent.substance(&plan.materials)?, left.class) > 1.0
        }
        C::AlkaliMetal
        | C::MetalHydride
        | C::Organolithium
        | C::Organozinc
        | C::Organoaluminium => true,
        _ => false,
    };
    let warm = left.class == C::AluminiumHydride && is_warm(plan, moment, clause);
    if slow
        && warm
        && wet
        && is_more_than_measured(left, agent)
        && left.equivalents.get::<millimole>() >= WARM
    {
        let flask = sensitive::name(plan, moment.vessel);
        let message = format!(
            "{name} on {amount} of {reagent} gives hydrogen and heat even by drops, and {flask} is not cold: cool it to 0 °C first."
        );
        let finding = Finding::new(&CHECK, addition.at, message).severity(Severity::Warning);
        return Some(
            match edit::insert_before(plan, moment.line, &[cool(plan, moment)]) {
                Some(edit) => finding.fix("Cool to 0 °C first", vec![edit]),
                None => finding,
            },
        );
    }
    if !fierce || slow && left.class != C::AlkaliMetal {
        return None;
    }
    // A few drops of a solution more than the vessel can warm by.
    let much = left.equivalents.get::<millimole>() >= 5.0;
    let neat = kind == Some(C::Water) && !agent.aqueous || !wet;
    let severe = matches!(left.class, C::AlkaliMetal | C::AluminiumHydride) || neat;
    // A little of what gives no hydrogen warms a dry ice bath by a few degrees.
    let cold = moment
        .before
        .get(moment.vessel)
        .and_then(|state| state.known_temperature())
        .is_some_and(|t| celsius(t) <= COLD);
    let calm = cold && hydrogen(plan, left).is_none();
    if !much && (!severe || calm) {
        return None;
    }
    let severity = if much && severe && !slow {
        Severity::Error
    } else {
        Severity::Warning
    };
    let message = match (slow, hydrogen(plan, left)) {
        (true, _) => format!(
            "{name} on {reagent} ({amount} left) sets it alight: take isopropanol first, dropwise, and {name} when it is gone."
        ),
        (false, Some(gas)) => format!(
            "All at once, {name} on {amount} of {reagent} gives up to {} of hydrogen and can set it alight: use {}.",
            sensitive::volume_text(gas),
            remedy(left)
        ),
        (false, None) => format!(
            "All at once, {name} on {amount} of {reagent} boils the solvent over and can set it alight: use {}.",
            remedy(left)
        ),
    };
    let mut finding = Finding::new(&CHECK, addition.at, message)
        .severity(severity)
        .related(
            sensitive::line_at(plan, left.reagent.line),
            format!("{reagent} came in here"),
        );
    if left.class == C::AlkaliMetal {
        if plan.slice(addition.at.line, addition.at.span) == Some("water") {
            finding = finding.fix(
                "Quench with isopropanol",
                vec![edit::replace(plan, addition.at, "isopropanol")],
            );
        }
    } else {
        let slowly = edit::slowly(plan, moment.line, clause, "dropwise over 20 min");
        let cooled = warm
            .then(|| edit::insert_before(plan, moment.line, &[cool(plan, moment)]))
            .flatten();
        let title = match cooled {
            Some(_) => "Cool to 0 °C, and add it dropwise over 20 min",
            None => "Add it dropwise over 20 min",
        };
        finding = finding.fix(title, cooled.into_iter().chain([slowly]).collect());
    }
    Some(finding)
}

/// Millimoles of hydride from which drops of water want a cold flask (an assumption).
const WARM: f64 = 10.0;

/// Water that is measured out to the hydride is a mL or two for each gram; that little goes in at the room's temperature in
/// published procedures. Five and more are not (an assumption).
fn is_more_than_measured(left: &Left<'_>, agent: &Content) -> bool {
    let grams = left.reagent.mass.map(|mass| mass.get::<gram>());
    let water = agent.volume.map(|volume| volume.get::<milliliter>());
    water
        .zip(grams)
        .is_some_and(|(water, grams)| water >= 5.0 * grams)
}

/// By the steps at 15 °C or more, and this one says nothing of how cold it is or what it adds.
fn is_warm(plan: &Plan, moment: &Moment, clause: &Clause) -> bool {
    let state = moment.before.get(moment.vessel);
    let at = state.and_then(|state| state.known_temperature());
    let says = clause
        .modifiers
        .iter()
        .any(|modifier| matches!(modifier.kind, ModifierKind::Temperature(..)));
    let line = sensitive::line_at(plan, moment.line);
    let words = plan.slice(line.line, line.span).unwrap_or_default();
    let words = words.to_lowercase();
    let cold = ["ice", "icy", "cold"]
        .iter()
        .any(|word| words.contains(word));
    !says && !cold && at.is_some_and(|t| celsius(t) >= 15.0)
}

fn cool(plan: &Plan, moment: &Moment) -> String {
    match sensitive::listed(plan, moment.vessel) {
        Some(item) => format!("cool {} to 0 °C", item.name),
        None => "cool to 0 °C".to_owned(),
    }
}

fn remedy(left: &Left<'_>) -> &'static str {
    match left.class {
        ReagentClass::AluminiumHydride => {
            "ethyl acetate first, or a little water dropwise below 5 °C"
        }
        ReagentClass::AlkaliMetal => "isopropanol in toluene, dropwise",
        ReagentClass::MetalHydride => "isopropanol dropwise below 5 °C, then water",
        ReagentClass::Organozinc | ReagentClass::Organoaluminium => FIERY,
        ReagentClass::Organolithium if left.fiery => FIERY,
        _ => "isopropanol in toluene or sat. aq. NH4Cl, dropwise and cold",
    }
}

const FIERY: &str = "isopropanol in toluene, dropwise and cold, then water";

/// Hydrogen from a hydride or a metal: one H₂ for each hydride, half a one for each metal atom.
fn hydrogen(plan: &Plan, left: &Left<'_>) -> Option<Volume> {
    let per = match left.class {
        ReagentClass::AluminiumHydride | ReagentClass::MetalHydride => 1.0,
        ReagentClass::AlkaliMetal => 0.5,
        _ => return None,
    };
    let room = Pressure::new::<pressure::atmosphere>(1.0);
    Some(chemistry::molar_volume(plan.room.temperature, room) * left.equivalents * per)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 10.0 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 2.00 eq
  lah: lithium aluminium hydride, 2.00 eq
  nah: sodium hydride, 60 wt% in mineral oil, 2.00 eq
  na: sodium, 3.00 eq
  dibal: diisobutylaluminium hydride, 1.0 M in toluene, 6.00 eq
  thf: tetrahydrofuran, 40 mL
equipment
  flask: 250 mL two-neck flask
  beaker: 500 mL beaker
steps
  add thf 20 mL, ketone
{steps}"
        )
    }

    #[test]
    fn finds_water_at_once_on_much_of_a_lewis_acid() {
        let with = |steps: &str| {
            plan(steps)
                .replace("scale 10.0", "scale 50.0")
                .replace("na: sodium, 3.00 eq", "na: boron tribromide, 2.00 eq")
        };
        let before = "  add na\n  quench with water 100 mL\n              ^^^^^ warning: water all at once on 100 mmol of na boils the solvent over with hydrogen bromide\n";
        expect(&CHECK, &with(before));
        expect_fixed(
            &CHECK,
            &with(before),
            0,
            &with(
                "  add na\n  cool flask to 0 °C\n  quench with water 100 mL dropwise over 30 min\n",
            ),
        );
        expect(
            &CHECK,
            &with(
                "  add na\n  cool to -78 °C\n  add methanol 50 mL\n      ^^^^^^^^ warning: methanol all at once on 100 mmol of na\n",
            ),
        );
        expect(
            &CHECK,
            &with(
                "  add na\n  add 2 M HCl 100 mL\n          ^^^ warning: HCl all at once on 100 mmol of na\n",
            ),
        );
        for steps in [
            "add na\n  quench with water 100 mL dropwise",
            "add na\n  quench with water 100 mL over 20 min",
            "add na\n  quench with ice 100 g",
            "add na\n  add 3-phenylpropan-1-ol 5 g",
            "add na 15 mmol\n  quench with water 20 mL",
            "add na 40 mmol\n  cool to -78 °C\n  quench with water 20 mL",
            "add na\n  in beaker\n  add water 200 mL\n  transfer flask to beaker",
            "add water 5 mL\n  add na\n  quench with water 50 mL",
        ] {
            expect(&CHECK, &with(&format!("  {steps}\n")));
        }
    }

    #[test]
    fn finds_methanol_at_once_on_borane() {
        let with = |steps: &str| {
            plan(steps).replace(
                "na: sodium, 3.00 eq",
                "na: borane tetrahydrofuran complex, 1.0 M in THF, 5.00 eq",
            )
        };
        // 150 mmol of hydride less the one that the ketone takes: 140 mmol × 24.1 mL/mmol at 21 °C = 3.38 L.
        let before = "  add na\n  reflux for 2 h\n  quench with methanol 50 mL\n              ^^^^^^^^ error: All at once, methanol on 47 mmol of na gives up to 3.38 L of hydrogen\n";
        expect(&CHECK, &with(before));
        expect_fixed(
            &CHECK,
            &with(before),
            0,
            &with(
                "  add na\n  reflux for 2 h\n  cool flask to 0 °C\n  quench with methanol 50 mL dropwise over 30 min\n",
            ),
        );
        expect(
            &CHECK,
            &with(
                "  add na 20 mmol\n  cool to 0 °C\n  add 6 M HCl 20 mL\n          ^^^ warning: All at once",
            ),
        );
        // An alkene takes one of three.
        let alkene = with(
            "  add na\n  quench with water 50 mL\n              ^^^^^ error: All at once, water on 47 mmol of na gives up to 3.38 L of hydrogen\n",
        );
        expect(
            &CHECK,
            &alkene.replace("ketone: cyclohexanone", "ketone: 1-octene"),
        );
        for steps in [
            "add na\n  cool to 0 °C\n  quench with methanol 50 mL dropwise",
            "add na 5 mmol\n  quench with methanol 50 mL",
            "add na\n  quench with methanol 50 mL dropwise\n  add water 50 mL",
        ] {
            expect(&CHECK, &with(&format!("  {steps}\n")));
        }
    }

    #[test]
    fn finds_water_at_once() {
        // 80 mmol of hydride less 10 at most: 70 mmol × 24.1 mL/mmol at 21 °C = 1.69 L of hydrogen.
        let before = "
  add lah
  quench with water 20 mL
              ^^^^^ error: All at once, water on 18 mmol of lah gives up to 1.69 L of hydrogen
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add lah\n  cool flask to 0 °C\n  quench with water 20 mL dropwise over 20 min\n",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "  add nah\n  add water 20 mL\n      ^^^^^ error: All at once, water on 10 mmol of nah gives up to 241 mL\n",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "  add base\n  quench with sat. aq. NH4Cl 20 mL\n                       ^^^^^ warning: All at once, NH4Cl on 10 mmol of base boils\n",
            ),
        );
    }

    #[test]
    fn a_word_of_haste_makes_way_for_the_drops() {
        expect_fixed(
            &CHECK,
            &plan("  add lah\n  quench with water 20 mL at once\n"),
            0,
            &plan(
                "  add lah\n  cool flask to 0 °C\n  quench with water 20 mL dropwise over 20 min\n",
            ),
        );
    }

    #[test]
    fn drops_of_much_water_want_a_cold_flask() {
        let before = "  add lah\n  quench with water 20 mL dropwise over 20 min\n              ^^^^^ warning: water on 18 mmol of lah gives hydrogen and heat even by drops, and flask is not cold\n";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add lah\n  cool flask to 0 °C\n  quench with water 20 mL dropwise over 20 min\n",
            ),
        );
    }

    #[test]
    fn one_portion_and_acid_are_as_bad() {
        expect_fixed(
            &CHECK,
            &plan("  add lah\n  add water 20 mL in one portion\n"),
            0,
            &plan("  add lah\n  cool flask to 0 °C\n  add water 20 mL dropwise over 20 min\n"),
        );
        expect(
            &CHECK,
            &plan(
                "  add lah\n  acidify with 1 M HCl 40 mL\n                   ^^^ error: All at once, HCl on 18 mmol of lah\n",
            ),
        );
        expect(
            &CHECK,
            &plan("  add lah\n  cool to 0 °C\n  add water 20 mL in 10 portions\n"),
        );
    }

    #[test]
    fn a_little_in_dry_ice_is_quenched_at_once() {
        let plan = |cool: &str, found: &str| {
            let steps =
                format!("  {cool}\n  add base 12.0 mmol dropwise\n  add D2O 1.0 mL\n{found}");
            plan(&steps)
        };
        expect(&CHECK, &plan("cool to -78 °C", ""));
        let found = "      ^^^ warning: All at once, D2O on 2.0 mmol of base boils\n";
        expect(&CHECK, &plan("cool to 0 °C", found));
    }

    #[test]
    fn what_drops_from_a_tool_is_slow() {
        for how in [
            "via syringe pump",
            "via dropping funnel",
            "from dropping funnel",
            "drop by drop",
            "by slow addition",
        ] {
            expect(
                &CHECK,
                &plan(&format!(
                    "  add lah\n  cool to 0 °C\n  quench with water 20 mL {how}\n"
                )),
            );
        }
    }

    /// 2.10 eq of tert-butyllithium make an aryllithium, of which as much is left.
    #[test]
    fn what_an_exchange_makes_is_no_tert_butyllithium() {
        let text = plan(
            "  cool to -78 °C\n  add base 2.10 eq dropwise\n  quench with sat. aq. NH4Cl 20 mL\n                       ^^^^^ warning: All at once, NH4Cl on 11 mmol of base boils the solvent over and can set it alight: use isopropanol in toluene or sat. aq. NH4Cl, dropwise and cold.\n",
        )
        .replace("4-tert-butylcyclohexanone", "4-bromoanisole")
        .replace("n-butyllithium", "tert-butyllithium");
        expect(&CHECK, &text);
    }

    #[test]
    fn what_burns_gets_no_water_first() {
        let text = plan(
            "  add base\n  quench with water 20 mL\n              ^^^^^ error: All at once, water on 10 mmol of base boils the solvent over and can set it alight: use isopropanol in toluene, dropwise and cold, then water.\n",
        );
        expect(&CHECK, &text.replace("n-butyllithium", "tert-butyllithium"));
    }

    #[test]
    fn metals_want_an_alcohol_first() {
        let before = "
  add na
  quench with water 20 mL dropwise over 20 min
              ^^^^^ warning: water on na (20 mmol left) sets it alight: take isopropanol first
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan("  add na\n  quench with isopropanol 20 mL dropwise over 20 min\n"),
        );
    }

    #[test]
    fn finds_agents_that_explode_or_feed_the_fire() {
        expect(
            &CHECK,
            &plan(
                "  add na\n  quench with chloroform 20 mL\n              ^^^^^^^^^^ error: chloroform can explode with na (20 mmol left)\n",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "  add na\n  dilute with dichloromethane 40 mL\n              ^^^^^^^^^^^^^^^ error: dichloromethane can explode with na (20 mmol left): quench that first\n",
            ),
        );
        expect(
            &CHECK,
            &plan("  add na 10.0 mmol\n  dilute with dichloromethane 40 mL\n"),
        );
        expect(
            &CHECK,
            &plan(
                "  add lah\n  quench with dry ice 5 g\n              ^^^^^^^ error: Carbon dioxide feeds the fire of lah\n",
            ),
        );
    }

    #[test]
    fn a_halide_of_phosphorus_goes_into_water_and_not_the_other_way_round() {
        let with = |steps: &str| {
            plan(steps).replace("na: sodium, 3.00 eq", "na: phosphorus oxychloride, 3.00 eq")
        };
        let before = "  add na\n  add water 50 mL\n      ^^^^^ warning: water all at once on 20 mmol of na boils over with acid gas\n";
        expect(&CHECK, &with(before));
        expect_fixed(
            &CHECK,
            &with(before),
            0,
            &with("  add na\n  add water 50 mL dropwise over 30 min\n"),
        );
        for steps in [
            "add na 1.50 eq\n  add water 50 mL",
            "add na\n  concentrate\n  add water 50 mL",
            "add na\n  in beaker\n  add water 200 mL\n  transfer flask to beaker",
        ] {
            expect(&CHECK, &with(&format!("  {steps}\n")));
        }
    }

    #[test]
    fn is_silent_for_good_quenches() {
        for steps in [
            "add lah\n  quench with water 0.8 mL dropwise over 20 min\n  add water 3 mL",
            "add lah\n  quench with ethyl acetate 10 mL",
            "add lah\n  quench with sodium sulfate decahydrate 5 g",
            "add na\n  quench with isopropanol 10 mL\n  add water 20 mL",
            "add base\n  quench with sat. aq. NH4Cl 20 mL, over 10 min",
            "add base\n  quench with methanol 5 mL",
            "add dibal\n  quench with water 5 mL",
            // The other way round.
            "add lah\n  in beaker\n  add water 200 mL\n  transfer flask to beaker",
            // Used up, or too little.
            "add nah 9.5 mmol\n  quench with water 20 mL",
            "add base 1.05 eq\n  quench with water 20 mL",
            "add base 1.30 eq\n  quench with sat. aq. NH4Cl 20 mL",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
