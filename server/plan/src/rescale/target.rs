//! From what a plan is rescaled to, to its new scale.

use super::units::{self, Move};
use super::{CannotRescale, Target, equipment, smallest};
use crate::convert;
use crate::digits::{self, Factor};
use crate::ledger::basis_of;
use crate::material::Basis;
use crate::{Amounts, Determined, Gap, Known, Material, Plan, inventory};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use syntax::{Dimension, Number, Quantity};
use uom::si::f64::Volume;
use uom::si::mass::gram;
use uom::si::volume::{liter, milliliter};

/// A number and unit to write.
#[derive(Clone, Debug)]
pub(super) struct Written {
    pub(super) number: String,
    pub(super) unit: Move,
}

/// A stated amount that the plan follows: it stays as it is, or gets this text.
#[derive(Clone, Debug)]
pub(super) struct Held {
    pub(super) material: usize,
    pub(super) stated: usize,
    pub(super) text: Option<Written>,
}

/// The new scale.
#[derive(Clone, Debug)]
pub(super) struct Aim {
    pub(super) scale: Written,
    /// Between the numbers of the scale line, in one unit.
    pub(super) factor: Factor,
    pub(super) held: Option<Held>,
    pub(super) limit: Option<String>,
    pub(super) notes: Vec<String>,
}

/// What the new scale must be, over the present one.
enum Wanted {
    /// A decimal in the scale's unit, with at least so many digits, or without decimals.
    Exactly {
        value: Decimal,
        digits: u32,
        whole: bool,
    },
    /// As near as this many digits, or this relative width, need.
    Near {
        ratio: f64,
        digits: u32,
        within: Decimal,
    },
    /// Not more than this.
    AtMost(f64),
    /// Not less than this.
    AtLeast(f64),
}

/// What a limit may leave unused by rounding the scale down; one part in a thousand.
const UNUSED: Decimal = Decimal::from_parts(1, 0, 0, false, 3);

/// Room for the rounding of `f64`, so that twice as much is twice as much.
const FLOAT_NOISE: f64 = 1e-9;

fn fail<T>(message: impl Into<String>) -> Result<T, CannotRescale> {
    Err(CannotRescale(message.into()))
}

fn too_long() -> CannotRescale {
    CannotRescale("the new scale is out of range".to_owned())
}

pub(super) fn aim(plan: &Plan, old: &Quantity, target: &Target) -> Result<Aim, CannotRescale> {
    let mut held = None;
    let mut limit = None;
    let mut notes = Vec::new();
    let wanted = match target {
        Target::By(factor) => by(&old.number, *factor)?,
        Target::To(quantity) => to(plan, old, quantity)?,
        Target::Of { material, quantity } => {
            let ratio = ratio_of(plan, *material, single(quantity)?)?;
            held = hold(plan, *material, quantity);
            near(ratio, quantity)
        }
        Target::Line { material, stated } => {
            held = Some(Held {
                material: *material,
                stated: *stated,
                text: None,
            });
            follow(plan, *material, *stated)?
        }
        Target::Bottle { material } => {
            let name = plan
                .materials
                .get(*material)
                .and_then(|material| material.named.as_ref())
                .map(|named| named.name.text.clone());
            let Some(name) = name else {
                return fail("this line names no bottle: write `bottle NAME` on it");
            };
            let bottle = bottle(plan, &name).map_err(CannotRescale)?;
            limit = Some(bottle.words);
            Wanted::AtMost(bottle.ratio)
        }
        Target::Bottles => {
            let (least, unknown) = bottles(plan)?;
            limit = Some(least.words);
            notes.extend(unknown);
            Wanted::AtMost(least.ratio)
        }
        Target::Smallest { error } => {
            let error = error.to_f64().filter(|error| *error > 0.0);
            let Some(error) = error else {
                return fail("the error must be greater than zero");
            };
            let least = smallest::smallest(plan, error).map_err(CannotRescale)?;
            limit = Some(least.limit);
            notes.extend(least.notes);
            Wanted::AtLeast(least.factor)
        }
        Target::Fill { vessel, capacity } => {
            let (ratio, words) = fill(plan, *vessel, capacity.as_ref())?;
            limit = Some(words);
            Wanted::AtMost(ratio)
        }
    };
    let (scale, factor) = scale(old, &wanted)?;
    Ok(Aim {
        scale,
        factor,
        held,
        limit,
        notes,
    })
}

fn single(quantity: &Quantity) -> Result<&Quantity, CannotRescale> {
    if quantity.to.is_some() {
        return fail("a range is no goal: say one number");
    }
    if quantity.number.value <= Decimal::ZERO {
        return fail("the new amount must be greater than zero");
    }
    Ok(quantity)
}

fn by(old: &Number, factor: Decimal) -> Result<Wanted, CannotRescale> {
    let Some(factor) = Factor::new(factor, Decimal::ONE) else {
        return fail("the new scale must be greater than zero");
    };
    let exact = factor.times(old.value).ok_or_else(too_long)?;
    let text = digits::multiplied(old, factor).ok_or_else(too_long)?;
    let value: Decimal = text.parse().map_err(|_| too_long())?;
    Ok(Wanted::Exactly {
        value: exact,
        digits: digits::significant_of(value).max(digits::significant(old)),
        whole: old.value.scale() == 0,
    })
}

fn to(plan: &Plan, old: &Quantity, quantity: &Quantity) -> Result<Wanted, CannotRescale> {
    single(quantity)?;
    if quantity.unit.dimension == old.unit.dimension {
        let exact = in_unit_of(old, quantity).ok_or_else(too_long)?;
        // What was asked for is written as it was, but `10 mmol` in place of `5.00 mmol` keeps three digits.
        let digits = digits::significant(&quantity.number);
        return Ok(Wanted::Exactly {
            value: exact,
            digits: digits.max(digits::significant(&old.number).min(3)),
            whole: old.number.value.scale() == 0 && quantity.number.value.scale() == 0,
        });
    }
    let ratio = plan.ratio_to_scale(quantity).map_err(CannotRescale)?;
    Ok(near(ratio, quantity))
}

/// A quantity's value in the unit of another.
fn in_unit_of(unit: &Quantity, quantity: &Quantity) -> Option<Decimal> {
    let value = quantity.number.value.checked_mul(quantity.unit.factor)?;
    value.checked_div(unit.unit.factor)
}

/// The scale is rounded by no more than half of what the last digit of the goal claims.
fn near(ratio: f64, goal: &Quantity) -> Wanted {
    let digits = digits::significant(&goal.number);
    let last = convert::half_digit(&goal.number) / 2.0;
    let within = Decimal::from_f64(last / convert::float(&goal.number)).unwrap_or(UNUSED);
    Wanted::Near {
        ratio,
        digits,
        within,
    }
}

/// The scale's new text, and the exact factor between the numbers that are written.
fn scale(old: &Quantity, wanted: &Wanted) -> Result<(Written, Factor), CannotRescale> {
    let old_value = old.number.value;
    let written = digits::significant(&old.number);
    let ratio = match wanted {
        Wanted::Exactly { .. } => Decimal::ONE,
        Wanted::Near { ratio, .. } | Wanted::AtMost(ratio) | Wanted::AtLeast(ratio) => {
            Decimal::from_f64(*ratio).ok_or_else(too_long)?
        }
    };
    let exact = match wanted {
        Wanted::Exactly { value, .. } => *value,
        _ => old_value.checked_mul(ratio).ok_or_else(too_long)?,
    };
    if exact <= Decimal::ZERO || old_value <= Decimal::ZERO {
        return fail("the new scale must be greater than zero");
    }
    let unit = units::readable(&old.unit, old_value, exact);
    let value = unit.convert(exact).ok_or_else(too_long)?;
    let kept = match wanted {
        Wanted::Exactly { digits, whole, .. } => {
            let digits = *digits;
            // The scale is the one number that is what was asked for: digits are added until it is.
            let needed = (digits..28)
                .find(|&digits| digits::round(value, digits) == Some(value))
                .unwrap_or(digits);
            if *whole && unit.steps == 0 && value.fract().is_zero() {
                Some(value.trunc())
            } else {
                digits::round(value, needed.min(digits.max(6)))
            }
        }
        Wanted::Near { digits, within, .. } => {
            let digits = written.max(*digits).max(3);
            nearest(value, digits, *within, digits::round)
        }
        Wanted::AtMost(_) => nearest(value, written.max(3), UNUSED, round_down),
        Wanted::AtLeast(_) => round_up(value, written.max(2)),
    };
    let kept = kept.ok_or_else(too_long)?;
    let new = unit.back(kept).ok_or_else(too_long)?;
    let factor = Factor::new(new, old_value).ok_or_else(too_long)?;
    let number = kept.to_string();
    Ok((Written { number, unit }, factor))
}

/// With so many digits, and up to three more until it is near enough.
fn nearest(
    value: Decimal,
    digits: u32,
    within: Decimal,
    round: fn(Decimal, u32) -> Option<Decimal>,
) -> Option<Decimal> {
    let wide = value.checked_mul(within)?;
    (digits..digits + 3)
        .filter_map(|digits| round(value, digits))
        .find(|rounded| (rounded - value).abs() <= wide)
        .or_else(|| round(value, digits + 3))
}

fn round_down(value: Decimal, digits: u32) -> Option<Decimal> {
    let rounded = digits::round(value, digits)?;
    let noise = value.checked_mul(Decimal::from_f64(1.0 + FLOAT_NOISE)?)?;
    if rounded <= noise {
        return Some(rounded);
    }
    rounded.checked_sub(Decimal::try_new(1, rounded.scale()).ok()?)
}

fn round_up(value: Decimal, digits: u32) -> Option<Decimal> {
    let rounded = digits::round(value, digits)?;
    if rounded >= value {
        return Some(rounded);
    }
    rounded.checked_add(Decimal::try_new(1, rounded.scale()).ok()?)
}

/// A material's amount over what it is now, or a product's over what is expected of it.
fn ratio_of(plan: &Plan, index: usize, quantity: &Quantity) -> Result<f64, CannotRescale> {
    let (Some(material), Some(amounts)) =
        (plan.materials.get(index), plan.ledger.amounts.get(index))
    else {
        return fail("there is no such line");
    };
    let key = &material.key.text;
    let Some(basis) = basis_of(quantity, material.line) else {
        return fail("the goal must be an amount, a mass or a volume");
    };
    let unknown = |gap: Gap| CannotRescale(format!("the amount of {key} is not known: {gap}"));
    if material.product {
        let Some((mass, amount)) = &amounts.expected else {
            return fail(format!(
                "what will come out of {key} is not known: add the expected yield to its line, as in `expect 80 %`"
            ));
        };
        // An expectation is of the pure product.
        let wanted = plan.amounts_from(material, basis.clone());
        return match (basis, mass) {
            (Basis::Mass(wanted), Ok(now)) => positive(key, (wanted.value / now.value).value),
            _ => over(&wanted.amount, amount)
                .map_err(unknown)
                .and_then(|ratio| positive(key, ratio)),
        };
    }
    let wanted = plan.amounts_from(material, basis.clone());
    let ratio = match basis {
        Basis::Mass(_) if amounts.mass.is_ok() => over(&wanted.mass, &amounts.mass),
        Basis::Volume(_) if amounts.volume.is_ok() => over(&wanted.volume, &amounts.volume),
        _ => over(&wanted.amount, &amounts.amount),
    };
    positive(key, ratio.map_err(unknown)?)
}

fn over<Q>(wanted: &Determined<Q>, now: &Determined<Q>) -> Result<f64, Gap>
where
    Q: Copy + std::ops::Div<Q, Output = uom::si::f64::Ratio>,
{
    match (wanted, now) {
        (Ok(wanted), Ok(now)) => Ok((wanted.value / now.value).value),
        (Err(gap), _) | (_, Err(gap)) => Err(gap.clone()),
    }
}

fn positive(key: &str, ratio: f64) -> Result<f64, CannotRescale> {
    if ratio.is_finite() && ratio > 0.0 {
        Ok(ratio)
    } else {
        fail(format!("the plan takes nothing of {key}"))
    }
}

/// The stated amount of the line that is of the goal's kind.
fn hold(plan: &Plan, index: usize, goal: &Quantity) -> Option<Held> {
    let material = plan.materials.get(index)?;
    let (stated, quantity) = material
        .stated
        .iter()
        .enumerate()
        .filter_map(|(place, amount)| Some((place, amount.quantity.as_ref()?)))
        .find(|(_, quantity)| {
            quantity.to.is_none() && quantity.unit.dimension == goal.unit.dimension
        })?;
    if material.product {
        return None;
    }
    let exact = in_unit_of(quantity, goal)?;
    let unit = units::readable(&quantity.unit, quantity.number.value, exact);
    let value = unit.convert(exact)?;
    let digits = digits::significant(&goal.number).max(digits::significant(&quantity.number));
    let number = (digits..28)
        .filter_map(|digits| digits::round(value, digits))
        .find(|rounded| *rounded == value)?
        .to_string();
    Some(Held {
        material: index,
        stated,
        text: Some(Written { number, unit }),
    })
}

/// What a stated amount is, over what the plan makes of its line.
fn follow(plan: &Plan, index: usize, stated: usize) -> Result<Wanted, CannotRescale> {
    let follows = || {
        let amounts = plan.ledger.amounts.get(index)?;
        let material = plan.materials.get(index)?;
        let quantity = material.stated.get(stated)?.quantity.as_ref()?;
        let ratio = match basis_of(quantity, material.line)? {
            Basis::Amount(known) => over(&Ok(known), &amounts.amount),
            Basis::Mass(known) => over(&Ok(known), &amounts.mass),
            Basis::Volume(known) => over(&Ok(known), &amounts.volume),
        };
        let ratio = ratio.ok().filter(|ratio| *ratio > 0.0)?;
        Some(near(ratio, quantity))
    };
    follows().ok_or_else(|| {
        CannotRescale(
            "this amount does not follow from the scale, so the plan cannot follow it".to_owned(),
        )
    })
}

/// How far a bottle goes.
struct Limit {
    ratio: f64,
    words: String,
}

/// What is left in a bottle over what all lines take from it.
fn bottle(plan: &Plan, name: &str) -> Result<Limit, String> {
    let lines: Vec<(&Material, &Amounts)> = named_bottles(plan)
        .filter(|(_, _, other)| same_bottle(plan, name, other))
        .map(|(material, amounts, _)| (material, amounts))
        .collect();
    let bottle = lines
        .iter()
        .find_map(|(material, _)| material.named.as_ref()?.bottle())
        .ok_or_else(|| format!("the inventory does not have bottle {name}, or cannot be read"))?;
    let left = bottle.left.as_ref().ok_or_else(|| {
        format!("what is left in bottle {name} is not known: add `left` to it in the inventory")
    })?;
    let measured = |known: Result<f64, &Gap>| {
        known.map_err(|gap| format!("what the plan takes from bottle {name} is not known: {gap}"))
    };
    let mut taken = 0.0;
    for (_, amounts) in lines {
        taken += match left.unit.dimension {
            Dimension::Volume => measured(amounts.volume.as_ref().map(|v| v.value.get::<liter>()))?,
            _ => measured(amounts.mass.as_ref().map(|m| m.value.get::<gram>()))?,
        };
    }
    let held = left
        .number
        .value
        .checked_mul(left.unit.factor)
        .and_then(|value| value.to_f64())
        .unwrap_or(0.0);
    let ratio = held / taken;
    if !ratio.is_finite() {
        return Err(format!("the plan takes nothing from bottle {name}"));
    }
    if ratio <= 0.0 {
        return Err(format!("bottle {name} is empty, by the inventory"));
    }
    Ok(Limit {
        ratio,
        words: format!(
            "bottle {name} sets the limit: {} left",
            inventory::written(left)
        ),
    })
}

fn named_bottles(plan: &Plan) -> impl Iterator<Item = (&Material, &Amounts, &str)> {
    let lines = plan.materials.iter().zip(&plan.ledger.amounts);
    lines.filter_map(|(material, amounts)| {
        Some((material, amounts, &*material.named.as_ref()?.name.text))
    })
}

/// A name means the bottle that the inventory finds under it, whatever its case.
fn same_bottle(plan: &Plan, a: &str, b: &str) -> bool {
    let found = |name: &str| {
        named_bottles(plan)
            .find(|(_, _, named)| *named == name)
            .and_then(|(material, ..)| material.named.as_ref()?.bottle())
            .map(|bottle| bottle.name.clone())
    };
    a == b || found(a).is_some() && found(a) == found(b)
}

/// The bottle that is empty first, and those that nothing can be said of.
fn bottles(plan: &Plan) -> Result<(Limit, Vec<String>), CannotRescale> {
    let mut unknown = Vec::new();
    let mut least: Option<Limit> = None;
    for (_, _, name) in named_bottles(plan) {
        match bottle(plan, name) {
            Ok(limit) if least.as_ref().is_none_or(|least| limit.ratio < least.ratio) => {
                least = Some(limit);
            }
            Ok(_) => {}
            Err(why) => {
                let note = format!("Not counted: {why}.");
                if !unknown.contains(&note) {
                    unknown.push(note);
                }
            }
        }
    }
    match (least, unknown.first()) {
        (Some(limit), _) => Ok((limit, unknown)),
        (None, Some(first)) => fail(format!("no bottle sets a limit. {first}")),
        (None, None) => fail("no line names a bottle: write `bottle NAME` on one"),
    }
}

/// Two thirds of a vessel over what it holds at its fullest.
fn fill(
    plan: &Plan,
    vessel: Option<usize>,
    capacity: Option<&Quantity>,
) -> Result<(f64, String), CannotRescale> {
    let vessel = vessel.unwrap_or_else(|| equipment::reaction_vessel(plan));
    let Some(item) = plan.apparatus.get(vessel) else {
        return fail("there is no such vessel");
    };
    let name = &item.name;
    let given = match capacity {
        Some(quantity) => match convert::volume(single(quantity)?, 0) {
            Some(known) => Some(known.value),
            None => return fail("a vessel's size is a volume, as in \"250 mL\""),
        },
        None => item.capacity,
    };
    let Some(capacity) = given.filter(|capacity| *capacity > Volume::default()) else {
        return fail(format!(
            "the size of {name} is not known: say it, or write it in the equipment, as in `flask: 250 mL flask`"
        ));
    };
    let fullest = equipment::fullest(plan, vessel);
    if let Some(line) = fullest.unknown_from {
        return fail(format!(
            "what {name} holds cannot be told from line {} of the plan on: give the liquids there a volume",
            line + 1
        ));
    }
    if fullest.volume <= Volume::default() {
        return fail(format!(
            "the plan puts no liquid of known volume into {name}"
        ));
    }
    let ratio = (capacity / fullest.volume).value * equipment::FULL;
    let size = equipment::size_text(capacity.get::<milliliter>());
    Ok((
        ratio,
        format!("{name} of {size} two thirds full at its fullest"),
    ))
}

/// What a known value is and claims, in the base unit.
pub(super) fn pair<D, U>(known: &Known<uom::si::Quantity<D, U, f64>>) -> (f64, f64)
where
    D: uom::si::Dimension + ?Sized,
    U: uom::si::Units<f64> + ?Sized,
{
    (known.value.value, known.half_width.value)
}
