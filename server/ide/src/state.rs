//! The vessel at a step: what is in it and how it stands, as hover on the step and as a hint at its end.

use crate::document::PlanUnit;
use crate::hover::escape;
use chemistry::{Miscibility, Substance};
use plan::budget::{Budget, Estimate};
use plan::time::StepTime;
use plan::vessel::{Content, Filling, Gas, Glass, Moment, Opening, VesselState, What, celsius};
use plan::{Material, Plan, show};
use std::fmt::Write as _;
use std::ops::{Add, Mul, Sub};
use uom::si::amount_of_substance::{micromole, millimole};
use uom::si::f64::{AmountOfSubstance, Ratio, Volume};
use uom::si::ratio::{part_per_million, percent};
use uom::si::volume::milliliter;

/// What hover on a step says.
pub(crate) fn hover(
    unit: &PlanUnit<'_>,
    line: u32,
    clause: usize,
    first_line: usize,
) -> Option<String> {
    let plan = unit.plan;
    if !plan.context.settings.shown.step_states {
        return None;
    }
    let is_it = |moment: &Moment| moment.line == line && moment.clause == clause;
    let index = plan.moments.iter().position(is_it)?;
    let moment = plan.moments.get(index)?;
    let item = plan.apparatus.get(moment.vessel)?;
    let state = moment.after.get(moment.vessel)?;
    let mut out = format!("**{}** after this step", escape(&item.name));
    let _ = write!(
        out,
        "\n\n{}",
        escape(&stands(plan, index, moment, state).join(" · "))
    );
    if !state.unclear {
        for content in &state.contents {
            let name = content.name(&plan.materials);
            let amounts = [
                content.amount.map(show::amount),
                content.volume.map(show::volume),
            ];
            let amounts: Vec<String> = amounts.into_iter().flatten().collect();
            let _ = write!(out, "\n- {} {}", escape(name), amounts.join(", "));
        }
    }
    let more = [
        layers(plan, state),
        reactive(plan, state),
        left_in_bottles(plan, index, moment),
        dryness(&state.glass, first_line),
        met(plan, index, moment, state),
        clock(plan, line, clause),
    ];
    for line in more.into_iter().flatten() {
        let _ = write!(out, "\n\n{}", escape(&line));
    }
    Some(out)
}

/// `flask 24 mL, 24 % full, 0.20 M ketone`, for a step that brings something in.
pub(crate) fn label(plan: &Plan, moment: &Moment) -> Option<String> {
    let state = moment.after.get(moment.vessel)?;
    let item = plan.apparatus.get(moment.vessel)?;
    if moment.additions.is_empty() || state.quenched.is_some() {
        return None;
    }
    let volume = state.volume(&plan.materials)?;
    if volume <= Volume::default() {
        return None;
    }
    let mut out = format!("{} {}", item.name, show::volume(volume));
    if let Some(capacity) = item.capacity {
        let _ = write!(out, ", {} full", share((volume / capacity).value));
    }
    if let Some(strength) = concentration(plan, state, volume) {
        let _ = write!(out, ", {strength}");
    }
    Some(out)
}

fn share(of: f64) -> String {
    format!(
        "{:.0} %",
        Ratio::new::<uom::si::ratio::ratio>(of).get::<percent>()
    )
}

/// Volume, temperature, gas, opening, in a few words each.
fn stands(plan: &Plan, index: usize, moment: &Moment, state: &VesselState) -> Vec<String> {
    let mut parts = Vec::new();
    match state.volume(&plan.materials) {
        Some(volume) if volume.value > 0.0 => {
            let item = plan.apparatus.get(moment.vessel);
            let capacity = item.and_then(|item| item.capacity);
            let full = capacity.map_or(String::new(), |capacity| {
                let full = share((volume / capacity).value);
                format!(" in {}, {full} full", show::volume(capacity))
            });
            parts.push(format!("{}{full}", show::volume(volume)));
            parts.extend(concentration(plan, state, volume));
        }
        Some(_) => parts.push("no liquid".to_owned()),
        None => parts.push("volume not known from here on".to_owned()),
    }
    parts.push(match state.known_temperature() {
        Some(t) => format!("{:.0} °C", celsius(t)),
        None => "temperature not known".to_owned(),
    });
    parts.push(gas(plan, index, moment.vessel, state));
    match state.opening {
        Opening::Unsaid | Opening::Open => {}
        Opening::Vented => parts.push("vented".to_owned()),
        Opening::Closed { .. } => parts.push("closed".to_owned()),
    }
    parts
}

fn gas(plan: &Plan, index: usize, vessel: usize, state: &VesselState) -> String {
    match &state.gas {
        Gas::Air { said: true, .. } => "open to air".to_owned(),
        Gas::Air { said: false, .. } => "gas not stated".to_owned(),
        Gas::Vacuum { .. } => "under vacuum".to_owned(),
        Gas::Filled { gas, how, .. } => {
            let how = match how {
                Filling::Flow => ", purged",
                Filling::Cycles => ", evacuated and refilled",
                Filling::Flame | Filling::Said => "",
            };
            let air = plan.air_left(index, vessel).map(|air| air.typical);
            let oxygen = air.filter(|_| state.is_inert()).map(|air| {
                let ppm = air.get::<part_per_million>() * OXYGEN_IN_AIR
                    + plan.context.settings.budget.gas_oxygen.typical;
                if ppm < 1e4 {
                    format!(", about {} ppm of oxygen", show::number(ppm, 1))
                } else {
                    format!(", about {} % of oxygen", show::number(ppm / 1e4, 1))
                }
            });
            format!("under {gas}{how}{}", oxygen.unwrap_or_default())
        }
    }
}

/// By volume (U.S. Standard Atmosphere, 1976).
const OXYGEN_IN_AIR: f64 = 0.2095;

/// Of the scale's material, once it is in there.
fn concentration(plan: &Plan, state: &VesselState, volume: Volume) -> Option<String> {
    let key = plan.ledger.scale.as_ref()?.key?;
    let content = state.contents.iter().find(|content| match content.what {
        What::Material(index) => plan.materials.get(index).is_some_and(|m| m.id == key),
        What::Named(..) => false,
    })?;
    let per_litre = content.amount?.get::<millimole>() / volume.get::<milliliter>();
    let name = content.name(&plan.materials);
    (per_litre > 0.0).then(|| format!("{} M {name}", show::number(per_litre, 2)))
}

/// Water beside a liquid that does not mix with it.
fn layers(plan: &Plan, state: &VesselState) -> Option<String> {
    let materials = &plan.materials;
    let liquid = |content: &&Content| content.is_liquid(materials);
    let mut liquids = state.contents.iter().filter(liquid);
    let wet = state
        .contents
        .iter()
        .any(|content| content.is_aqueous(materials));
    let apart = liquids.any(|content| {
        let miscibility = content
            .substance(materials)
            .and_then(Substance::miscibility_with_water);
        matches!(miscibility, Some((Miscibility::Immiscible, _))) && !content.is_aqueous(materials)
    });
    (wet && apart && !state.unclear).then(|| "Two liquid layers.".to_owned())
}

fn reactive(plan: &Plan, state: &VesselState) -> Option<String> {
    let (name, amount) = checks::reactive(plan, state)?;
    Some(format!(
        "Not quenched: up to {} of {name} is there still.",
        show::amount(amount)
    ))
}

/// `thf: 20 mL used, 5.0 mL left`, of what this step took from a line of the plan.
fn left_in_bottles(plan: &Plan, index: usize, moment: &Moment) -> Option<String> {
    let mut said: Vec<String> = Vec::new();
    for addition in moment.additions.iter().filter(|a| a.from.is_none()) {
        let What::Material(material) = addition.content.what else {
            continue;
        };
        let moments = plan.moments.iter().take(index + 1);
        let drawn: Vec<&Content> = moments
            .flat_map(|moment| &moment.additions)
            .filter(|a| a.from.is_none())
            .map(|a| &a.content)
            .filter(|content| matches!(content.what, What::Material(m) if m == material))
            .collect();
        let all = plan.ledger.amounts.get(material)?;
        let found: &Material = plan.materials.get(material)?;
        let left = if found.measured_by_volume() {
            let all = all.volume.as_ref().ok().map(|known| known.value);
            used_and_left(all, drawn.iter().map(|c| c.volume), show::volume)
        } else {
            let all = all.amount.as_ref().ok().map(|known| known.value);
            used_and_left(all, drawn.iter().map(|c| c.amount), show::amount)
        };
        if let Some((used, left)) = left {
            said.push(format!("{}: {used} used, {left} left", found.key.text));
        }
    }
    (!said.is_empty()).then(|| format!("{}.", said.join("; ")))
}

/// Nothing where all is used, or an amount is not known.
fn used_and_left<Q>(
    all: Option<Q>,
    drawn: impl Iterator<Item = Option<Q>>,
    show: impl Fn(Q) -> String,
) -> Option<(String, String)>
where
    Q: Copy + Default + PartialOrd + Add<Output = Q> + Sub<Output = Q> + Mul<f64, Output = Q>,
{
    let all = all?;
    let used = drawn
        .into_iter()
        .try_fold(Q::default(), |sum, one| Some(sum + one?))?;
    (used < all * NEARLY_ALL).then(|| (show(used), show(all - used)))
}

/// What rounding leaves is nothing.
const NEARLY_ALL: f64 = 0.995;

fn dryness(glass: &Glass, first_line: usize) -> Option<String> {
    let at = |line: u32| format!("line {}", first_line + line as usize + 1);
    match glass {
        Glass::Unknown => None,
        Glass::Rinsed(rinse) | Glass::Drained(rinse) => Some(format!(
            "Glass wet with {} ({}).",
            rinse.solvent,
            at(rinse.line)
        )),
        Glass::AirDried => Some("Glass rinsed and dried in air.".to_owned()),
        Glass::Oven { line } => Some(format!("Glass dried in the oven ({}).", at(*line))),
        Glass::Flame { line } => Some(format!("Glass dried by flame ({}).", at(*line))),
        Glass::Glovebox => Some("Glass from the glovebox.".to_owned()),
    }
}

/// The water and oxygen that reached the contents, where something in there minds.
fn met(plan: &Plan, index: usize, moment: &Moment, state: &VesselState) -> Option<String> {
    let minds = |content: &Content| {
        content.substance(&plan.materials).is_some_and(|substance| {
            use chemistry::Sensitivity::No;
            substance.destroyed_by_water() != No || substance.destroyed_by_oxygen() != No
        })
    };
    let liquid = |content: &Content| content.is_liquid(&plan.materials);
    let inert = state.is_inert() && state.contents.iter().any(liquid);
    if state.unclear || state.quenched.is_some() {
        return None;
    }
    let entry = plan
        .moments
        .iter()
        .take(index + 1)
        .position(|earlier| {
            earlier.vessel == moment.vessel && earlier.additions.iter().any(|a| minds(&a.content))
        })
        .filter(|_| state.contents.iter().any(minds));
    if entry.is_none() && !inert {
        return None;
    }
    let budget = plan.budget(entry.unwrap_or_else(|| inert_since(plan, index)), index);
    let (water, oxygen) = (about(budget.water()), about(budget.oxygen()));
    let mut out = format!("Met so far: {water} of water and {oxygen} of oxygen");
    if let Some(most) = largest(&budget) {
        let _ = write!(out, "; most of it from {most}");
    }
    out.push('.');
    Some(out)
}

/// From which moment on the liquid of a vessel stands under inert gas: what it met then stays met.
fn inert_since(plan: &Plan, index: usize) -> usize {
    let vessel = plan.moments.get(index).map(|moment| moment.vessel);
    let liquid = |content: &Content| content.is_liquid(&plan.materials);
    let mut since = index;
    let earlier = plan.moments.iter().enumerate().take(index).rev();
    for (place, moment) in earlier.filter(|(_, moment)| Some(moment.vessel) == vessel) {
        let stood = moment.after.get(moment.vessel).is_some_and(|state| {
            state.is_inert() && state.contents.iter().any(liquid) && !state.unclear
        });
        if !stood {
            break;
        }
        since = place;
    }
    since
}

/// `22 µmol (10 to 71)`
fn about(n: Estimate<AmountOfSubstance>) -> String {
    let unit = if n.typical < AmountOfSubstance::new::<millimole>(1.0) {
        1.0
    } else {
        1e-3
    };
    let text = |n: AmountOfSubstance| {
        let n = n.get::<micromole>();
        // Less than that nobody can tell.
        if n < 0.05 {
            "0".to_owned()
        } else {
            show::number(n * unit, 2)
        }
    };
    let name = if unit < 1.0 { "mmol" } else { "µmol" };
    let (low, typical, high) = (text(n.low), text(n.typical), text(n.high));
    if low == high {
        format!("{typical} {name}")
    } else {
        format!("{typical} {name} ({low} to {high})")
    }
}

fn largest(budget: &Budget) -> Option<&str> {
    let of = |source: &&plan::budget::Source| (source.water.typical + source.oxygen.typical).value;
    let most = budget
        .sources
        .iter()
        .max_by(|a, b| of(a).total_cmp(&of(b)))?;
    (of(&most) > 0.0).then_some(&*most.name)
}

/// `Done at 11:10 or later`, or how long after the beginning.
fn clock(plan: &Plan, line: u32, clause: usize) -> Option<String> {
    let times = plan.times();
    let found = |step: &&StepTime| step.line == line && step.clause == clause;
    let step = times.steps.iter().find(found)?;
    let later = if step.or_later || step.ends.least < step.ends.most {
        " or later"
    } else {
        ""
    };
    match times.clock(step.part, step.ends.least) {
        Some(clock) => Some(format!(
            "Done at {clock}{later}, by the times that are stated."
        )),
        None if !step.ends.is_none() => Some(format!(
            "Done {} after the beginning{later}, by the times that are stated.",
            step.ends
        )),
        None => None,
    }
}
