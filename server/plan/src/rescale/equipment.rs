//! Which flasks, funnels and syringes a plan needs at its new scale.
//!
//! A size is in its working range where it is a common one and no smaller one would do. What is in it goes up when it
//! would be too full, and down when a smaller one does; so up and back by the same factor is the very same equipment. What
//! is roomier than that stays until it is too full, or all but empty. Nothing goes down where not all that is in it is
//! known.

use super::EquipmentEdit;
use crate::known::At;
use crate::takes::{self, Slot};
use crate::vessel::{Apparatus, Moment, leaves_unclear};
use crate::{Plan, convert, show};
use chemistry::next_size;
use syntax::{
    Clause, EquipmentKind, ModifierKind, Quantity, Referent, Sense, Span, Statement, Verb,
};
use uom::si::f64::Volume;
use uom::si::volume::milliliter;

/// A flask works up to two thirds full; common practice.
pub(super) const FULL: f64 = 2.0 / 3.0;

/// A separating funnel is shaken up to three quarters full; common practice.
const FULL_FUNNEL: f64 = 0.75;

/// Below this part of its size a vessel is too large to stir or to drain well; common practice.
const LOW: f64 = 0.1;

/// Sizes of vials in mL; common practice.
const VIALS: &[f64] = &[2.0, 4.0, 8.0, 20.0, 40.0, 60.0];

/// Sizes of syringes in mL; common practice.
const SYRINGES: &[f64] = &[1.0, 2.0, 5.0, 10.0, 20.0, 50.0];

/// What a vessel holds at its fullest.
pub(super) struct Fullest {
    /// The largest volume that is certain: all that is in it where that is known, and else what the steps visibly bring
    /// in since it last became unknown.
    pub(super) volume: Volume,
    /// The first line from which on a liquid of unknown volume is in it.
    pub(super) unknown_from: Option<u32>,
    /// It was followed to the end: no work-up made its contents unclear.
    followed: bool,
}

/// The vessel that the reaction stands in, by its place in `Plan::apparatus`.
pub(super) fn reaction_vessel(plan: &Plan) -> usize {
    let is_vessel = |item: &Apparatus| item.kind == EquipmentKind::Vessel;
    plan.apparatus.iter().position(is_vessel).unwrap_or(0)
}

pub(super) fn fullest(plan: &Plan, vessel: usize) -> Fullest {
    let mut fullest = Fullest {
        volume: Volume::default(),
        unknown_from: None,
        followed: true,
    };
    for (moment, least) in plan.moments.iter().zip(least(plan)) {
        if moment.vessel != vessel {
            continue;
        }
        if least > fullest.volume {
            fullest.volume = least;
        }
        let unclear = [&moment.before, &moment.after]
            .iter()
            .any(|states| states.get(vessel).is_none_or(|state| state.unclear));
        match moment.peak {
            Some(peak) if peak > fullest.volume => fullest.volume = peak,
            Some(_) => {}
            None if unclear => fullest.followed = false,
            None => {
                fullest.unknown_from.get_or_insert(moment.line);
            }
        }
    }
    fullest
}

/// What is certainly in a vessel that the simulation no longer follows.
#[derive(Clone, Copy, Default)]
struct Held {
    /// All of it.
    volume: Volume,
    /// Of this the extracts, which later washings and filters leave.
    extracts: Volume,
}

/// The least that is in the vessel of every moment during it. Extracts stay together until they are concentrated, each
/// is shaken by itself, and so is each washing.
fn least(plan: &Plan) -> Vec<Volume> {
    let mut held = vec![Held::default(); plan.apparatus.len()];
    let mut in_hand: Option<usize> = None;
    let mut all = Vec::with_capacity(plan.moments.len());
    for moment in &plan.moments {
        let state = moment.after.get(moment.vessel);
        let known = state.and_then(|state| state.volume(&plan.materials));
        let verb = clause(plan, moment).map(|clause| clause.verb);
        let from = poured_from(moment, verb, in_hand);
        let came = from.and_then(|from| held.get_mut(from)).map(std::mem::take);
        let came = came.unwrap_or_default();
        let shaken = match verb {
            Some(Verb::Extract | Verb::Wash) => portion(plan, moment),
            _ => None,
        };
        in_hand = Some(moment.vessel);
        let Some(own) = held.get_mut(moment.vessel) else {
            all.push(Volume::default());
            continue;
        };
        let mut most = Volume::default();
        match verb {
            Some(Verb::Extract) => {
                let (times, once) = shaken.unwrap_or_default();
                most = own.volume + once;
                own.extracts = once * f64::from(times);
                own.volume = own.extracts;
            }
            Some(Verb::Wash) => most = own.volume + shaken.unwrap_or_default().1,
            Some(Verb::Filter | Verb::Decant) => {
                own.extracts = came.extracts;
                own.volume = came.extracts;
            }
            Some(verb) if leaves_unclear(verb) || verb == Verb::Discard => *own = Held::default(),
            _ => {
                let fresh = moment.additions.iter().filter(|a| a.from.is_none());
                let fresh = fresh.filter_map(|addition| addition.content.volume);
                if !moment.unsure {
                    own.volume = fresh.fold(own.volume + came.volume, |sum, volume| sum + volume);
                    own.extracts += came.extracts;
                }
            }
        }
        if let Some(known) = known {
            own.volume = known;
        }
        all.push(if own.volume > most { own.volume } else { most });
    }
    all
}

/// The vessel whose contents a step moves: the one that it says, or else the one in hand.
fn poured_from(moment: &Moment, verb: Option<Verb>, in_hand: Option<usize>) -> Option<usize> {
    let said = moment.additions.iter().find_map(|addition| addition.from);
    let pours = matches!(
        verb,
        Some(Verb::Transfer | Verb::Pour | Verb::Filter | Verb::Decant)
    );
    let source = said.or(in_hand.filter(|_| pours));
    source.filter(|source| *source != moment.vessel)
}

/// How often a step extracts or washes, and with how much at a time.
fn portion(plan: &Plan, moment: &Moment) -> Option<(u32, Volume)> {
    let own = clause(plan, moment)?;
    if own.senses.contains(&Sense::Glass) {
        return None;
    }
    let mut takes = takes::takes(&plan.text).filter(|take| {
        take.line == moment.line && std::ptr::eq(take.clause, own) && take.slot == Slot::With
    });
    takes.find_map(|take| {
        let (times, amount, _) = take.quantity()?;
        let volume = convert::volume(amount.quantity.as_ref()?, take.line)?;
        Some((times, volume.value))
    })
}

/// What to change, and what cannot be said as a change of a size. `given` is a vessel that was given a size.
pub(super) fn edits(
    plan: &Plan,
    factor: f64,
    given: Option<(usize, &Quantity)>,
) -> (Vec<EquipmentEdit>, Vec<String>) {
    let mut edits = Vec::new();
    let mut notes = Vec::new();
    for (index, item) in plan.apparatus.iter().enumerate() {
        let sizes = sizes(plan, item);
        if let Some((_, size)) = given.filter(|(vessel, _)| *vessel == index) {
            edits.extend(resized_as_asked(plan, item, sizes, size));
            continue;
        }
        let change = match measuring(item) {
            Some(tool) => syringe(plan, item, sizes, tool, factor),
            None => vessel(plan, index, item, factor),
        };
        match change {
            Some(Change::Size(size, why)) => {
                let place = sizes
                    .iter()
                    .max_by(|a, b| millilitres(a).total_cmp(&millilitres(b)));
                edits.extend(
                    place
                        .zip(item.line)
                        .and_then(|(place, line)| edit(plan, item, line, place, size, why, true)),
                );
            }
            Some(Change::Note(note)) => notes.push(note),
            None => {}
        }
    }
    (edits, notes)
}

enum Change {
    Size(f64, String),
    Note(String),
}

fn sizes<'a>(plan: &'a Plan, item: &Apparatus) -> &'a [Quantity] {
    let line = item
        .line
        .and_then(|line| plan.text.lines.get(line as usize));
    match line.map(|line| &line.statement) {
        Some(Statement::Equipment(equipment)) => &equipment.sizes,
        _ => &[],
    }
}

fn millilitres(size: &Quantity) -> f64 {
    convert::volume(size, 0).map_or(0.0, |known| known.value.get::<milliliter>())
}

fn resized_as_asked(
    plan: &Plan,
    item: &Apparatus,
    sizes: &[Quantity],
    size: &Quantity,
) -> Option<EquipmentEdit> {
    let [written] = sizes else { return None };
    let (new, old) = (millilitres(size), millilitres(written));
    if (new - old).abs() <= old * 1e-9 {
        return None;
    }
    let why = "the size that the plan is scaled to".to_owned();
    edit(plan, item, item.line?, written, new, why, false)
}

fn vessel(plan: &Plan, index: usize, item: &Apparatus, factor: f64) -> Option<Change> {
    let capacity = item.capacity?.get::<milliliter>();
    let (full, vial) = working_range(item)?;
    let fullest = fullest(plan, index);
    let needed = fullest.volume.get::<milliliter>() * factor;
    if needed <= 0.0 || capacity <= 0.0 {
        return None;
    }
    let name = &item.name;
    let known = fullest.followed && fullest.unknown_from.is_none();
    let at_least = if known { "" } else { "at least " };
    let held = format!("{at_least}{}", show::volume(fullest.volume * factor));
    let smallest = |held: f64| smallest(held / full, vial);
    let size = smallest(needed);
    let chosen = is_size(smallest(fullest.volume.get::<milliliter>()), capacity);
    if factor > 1.0 && needed > capacity * full {
        return Some(match size {
            Some(size) => Change::Size(
                size,
                format!(
                    "{name} holds {held} at its fullest, too much for {}",
                    size_text(capacity)
                ),
            ),
            None => Change::Note(format!(
                "{name} would hold {held}, more than the largest common size takes: split the batch, or plan for a reactor."
            )),
        });
    }
    if factor < 1.0 && known && (chosen || needed < capacity * LOW) {
        let size = size.filter(|size| *size < capacity)?;
        return Some(Change::Size(
            size,
            format!(
                "{name} holds no more than {held}, little for {}",
                size_text(capacity)
            ),
        ));
    }
    None
}

fn smallest(needed: f64, vial: bool) -> Option<f64> {
    if vial {
        next_of(VIALS, needed)
    } else {
        next_size(Volume::new::<milliliter>(needed)).map(|size| size.get::<milliliter>())
    }
}

/// The smallest common size of a vessel of its kind that is no fuller than it works with, and than `most`, a share of
/// the size, where it holds this volume: how glass is labelled. None above the largest.
#[must_use]
pub fn vessel_for(item: &Apparatus, held: Volume, most: f64) -> Option<String> {
    let (full, vial) = working_range(item).unwrap_or((FULL, false));
    let needed = held.get::<milliliter>() / full.min(most);
    smallest(needed, vial).map(size_text)
}

/// How full it may be, and whether it comes in the sizes of vials. None for what no reaction is judged in: traps, columns, balloons.
fn working_range(item: &Apparatus) -> Option<(f64, bool)> {
    let head = &item.head;
    let is = |words: &[&str]| words.iter().any(|word| head.trim_end_matches('s') == *word);
    if item.kind == EquipmentKind::Tool || is(&["trap", "balloon", "column", "ampoule", "jar"]) {
        None
    } else if is(&["vial"]) {
        Some((1.0, true))
    } else if is(&["tube", "beaker", "dish", "dishe", "bottle"]) {
        Some((1.0, false))
    } else if item.lower.contains("separat") {
        Some((FULL_FUNNEL, false))
    } else {
        Some((FULL, false))
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Measuring {
    Syringe,
    Cylinder,
}

fn measuring(item: &Apparatus) -> Option<Measuring> {
    match item.head.trim_end_matches('s') {
        "syringe" => Some(Measuring::Syringe),
        "cylinder" => Some(Measuring::Cylinder),
        _ => None,
    }
}

/// A syringe that took its largest portion in one filling, and at the new scale does not, or hardly shows it.
fn syringe(
    plan: &Plan,
    item: &Apparatus,
    sizes: &[Quantity],
    tool: Measuring,
    factor: f64,
) -> Option<Change> {
    let largest = sizes.iter().map(millilitres).fold(0.0, f64::max);
    let drawn = drawn(plan, item)?;
    let needed = drawn.get::<milliliter>() * factor;
    let name = &item.name;
    let words = show::volume(drawn * factor);
    let smallest = |held: f64| match tool {
        Measuring::Syringe => next_of(SYRINGES, held),
        Measuring::Cylinder => {
            next_size(Volume::new::<milliliter>(held)).map(|size| size.get::<milliliter>())
        }
    };
    let size = smallest(needed);
    let chosen = is_size(smallest(drawn.get::<milliliter>()), largest);
    if factor > 1.0 && needed > largest && drawn.get::<milliliter>() <= largest {
        return Some(match size {
            Some(size) => Change::Size(size, format!("{words} at once via {name}")),
            None => Change::Note(format!(
                "{words} via {name} is more than one filling: use a cannula or a dropping funnel."
            )),
        });
    }
    let hardly_shown = sizes.len() == 1 && needed < largest * LOW;
    if factor < 1.0 && needed > 0.0 && (chosen || hardly_shown) {
        let others = sizes
            .iter()
            .map(millilitres)
            .filter(|other| *other < largest);
        let second = others.fold(0.0, f64::max);
        let size = size.filter(|size| *size < largest && *size > second)?;
        return Some(Change::Size(
            size,
            format!("no more than {words} at once via {name}"),
        ));
    }
    None
}

/// The largest volume that a step moves with a tool; none where one of them is unknown.
fn drawn(plan: &Plan, item: &Apparatus) -> Option<Volume> {
    let id = item.id?;
    let mut largest: Option<Volume> = None;
    for moment in &plan.moments {
        let uses = clause(plan, moment).is_some_and(|clause| {
            clause.modifiers.iter().any(|modifier| {
                matches!(&modifier.kind, ModifierKind::Via(things)
                    if things.iter().any(|thing| thing.referent == Referent::Key(id)))
            })
        });
        if !uses || moment.additions.is_empty() {
            continue;
        }
        let mut sum = Volume::default();
        for addition in &moment.additions {
            match addition.content.volume {
                Some(volume) => sum += volume,
                None if addition.content.is_liquid(&plan.materials) => return None,
                None => {}
            }
        }
        if largest.is_none_or(|largest| sum > largest) {
            largest = Some(sum);
        }
    }
    largest
}

fn clause<'a>(plan: &'a Plan, moment: &Moment) -> Option<&'a Clause> {
    match &plan.text.lines.get(moment.line as usize)?.statement {
        Statement::Step(step) => step.clauses.get(moment.clause),
        _ => None,
    }
}

fn is_size(size: Option<f64>, written: f64) -> bool {
    size.is_some_and(|size| (size - written).abs() <= written * 1e-6)
}

fn next_of(sizes: &[f64], needed: f64) -> Option<f64> {
    sizes
        .iter()
        .copied()
        .find(|size| needed <= size * (1.0 + 1e-9))
}

fn edit(
    plan: &Plan,
    item: &Apparatus,
    line: u32,
    written: &Quantity,
    size: f64,
    why: String,
    optional: bool,
) -> Option<EquipmentEdit> {
    let span = Span {
        start: written.number.span.start,
        end: written.unit_span.end,
    };
    // `250-mL flask` keeps its hyphen.
    let between = Span {
        start: written.number.span.end,
        end: written.unit_span.start,
    };
    let between = plan.slice(line, between)?;
    let new = size_text(size);
    let (number, unit) = new.split_once(' ')?;
    Some(EquipmentEdit {
        at: At { line, span },
        text: format!("{number}{between}{unit}"),
        name: item.name.clone(),
        size: new.clone(),
        why,
        optional,
    })
}

/// A size as glass is labelled: `250 mL`, `2 L`.
pub(super) fn size_text(millilitres: f64) -> String {
    let plain = |value: f64| {
        let text = format!("{value:.3}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    if millilitres < 1000.0 {
        format!("{} mL", plain(millilitres))
    } else {
        format!("{} L", plain(millilitres / 1000.0))
    }
}
