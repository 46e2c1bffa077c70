//! Portions that came to no more than their line lists still do when all of them are rounded: the line is written with a
//! digit more, and rounded up, and the portions with more digits where that is not enough.

use super::target::{Written, pair};
use super::text::Writer;
use crate::digits::{self, Factor};
use crate::known::At;
use crate::material::Material;
use crate::{Plan, convert};
use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy::{AwayFromZero, ToZero};
use rust_decimal::prelude::FromPrimitive;
use syntax::{Dimension, Quantity};

/// More digits than these are not added to a portion.
const MOST_DIGITS: u32 = 3;

/// Room for the rounding of `f64` in what a line comes to.
const FLOAT_NOISE: Decimal = Decimal::from_parts(1, 0, 0, false, 9);

/// A portion of a step: `times` of it.
struct Portion {
    at: At,
    times: Decimal,
    quantity: Quantity,
    new: Written,
    /// The new number, and what it would be unrounded, in the new unit.
    value: Decimal,
    exact: Decimal,
}

impl Portion {
    /// What a number of the new unit is in all, in the base unit.
    fn total(&self, value: Decimal) -> Option<Decimal> {
        self.new
            .unit
            .back(value)?
            .checked_mul(self.quantity.unit.factor)?
            .checked_mul(self.times)
    }

    fn old_total(&self) -> Option<Decimal> {
        let one = self
            .quantity
            .number
            .value
            .checked_mul(self.quantity.unit.factor)?;
        one.checked_mul(self.times)
    }

    /// One portion of what is left in all, in the new unit.
    fn one_of(&self, total: Decimal) -> Option<Decimal> {
        let one = total
            .checked_div(self.times)?
            .checked_div(self.quantity.unit.factor)?;
        self.new.unit.convert(one)
    }
}

/// The edits of numbers that keep the portions of every line within it.
pub(super) fn within(plan: &Plan, writer: &Writer<'_>, factor: Factor) -> Vec<(At, String)> {
    let mut edits = Vec::new();
    for (index, material) in plan.materials.iter().enumerate() {
        if material.product {
            continue;
        }
        for dimension in [Dimension::Volume, Dimension::Mass, Dimension::Amount] {
            let narrowed = narrowed(plan, writer, factor, (index, material), dimension);
            edits.extend(narrowed.unwrap_or_default());
        }
    }
    edits
}

/// None where nothing can or has to be done.
fn narrowed(
    plan: &Plan,
    writer: &Writer<'_>,
    factor: Factor,
    (index, material): (usize, &Material),
    dimension: Dimension,
) -> Option<Vec<(At, String)>> {
    let mut portions = Vec::new();
    for take in plan.takes_of(material.id).filter(|take| take.draws()) {
        let Some((times, amount, _)) = take.quantity() else {
            continue;
        };
        // One that is measured in another way says nothing of the sum.
        let quantity = amount
            .quantity
            .filter(|quantity| quantity.unit.dimension == dimension && quantity.to.is_none())?;
        let new = writer.written(take.line, Some(index).filter(|_| times == 1), &quantity)?;
        portions.push(Portion {
            at: convert::at(take.line, quantity.number.span),
            times: Decimal::from(times),
            value: new.number.parse().ok()?,
            exact: new.unit.convert(factor.times(quantity.number.value)?)?,
            quantity,
            new,
        });
    }
    let (was, listed, line) = listed(plan, writer, factor, index, dimension)?;
    let sum = |of: &dyn Fn(&Portion) -> Option<Decimal>| {
        portions
            .iter()
            .try_fold(Decimal::ZERO, |sum, portion| sum.checked_add(of(portion)?))
    };
    if portions.len() < 2 && portions.first()?.times == Decimal::ONE
        || sum(&Portion::old_total)? > was
    {
        return None;
    }
    if sum(&|portion| portion.total(portion.value))? <= listed {
        return None;
    }
    // The portions with as many digits more as they need for the line to be still what it is.
    let finer = |portion: &Portion, more| match more {
        0 => Some(portion.value),
        more => digits::round_to_decimals(portion.exact, portion.value.scale() + more),
    };
    let numbers = |values: Vec<Decimal>| {
        let edits = portions.iter().zip(values);
        edits.map(|(portion, value)| match value == portion.value {
            true => (portion.at, portion.new.number.clone()),
            false => (portion.at, value.to_string()),
        })
    };
    let with_line = line.and_then(|line| {
        (0..=MOST_DIGITS).find_map(|more| {
            let needed = sum(&|portion| portion.total(finer(portion, more)?))?;
            let line = line.with_room_for(needed, factor)?;
            let values = portions.iter().map(|portion| finer(portion, more));
            let edits = numbers(values.collect::<Option<_>>()?);
            Some(edits.chain([line]).collect())
        })
    });
    if with_line.is_some() {
        return with_line;
    }
    let largest = (0..portions.len()).max_by_key(|&at| {
        let portion = portions.get(at);
        portion.map(|portion| (portion.times == Decimal::ONE, portion.exact))
    })?;
    (0..=MOST_DIGITS).find_map(|more| {
        let values = portions.iter().map(|portion| finer(portion, more));
        let mut values = values.collect::<Option<Vec<_>>>()?;
        let totals = portions.iter().zip(&values);
        let sum = totals.map(|(portion, value)| portion.total(*value));
        let over = sum.sum::<Option<Decimal>>()?.checked_sub(listed)?;
        if over > Decimal::ZERO {
            let (portion, value) = (portions.get(largest)?, values.get_mut(largest)?);
            let room = portion.one_of(portion.total(*value)?.checked_sub(over)?)?;
            let decimals = value.scale();
            let mut less = room.round_dp_with_strategy(decimals, ToZero);
            less.rescale(decimals);
            let claim = digits::claim(
                &portion.quantity.number,
                factor.in_unit(portion.new.unit.steps)?,
            )?;
            if less <= Decimal::ZERO || (less - portion.exact).abs() > claim {
                return None;
            }
            *value = less;
        }
        Some(numbers(values).collect())
    })
}

/// The amount that a line states.
struct Stated {
    at: At,
    quantity: Quantity,
    new: Written,
    /// Unrounded, in the new unit.
    exact: Decimal,
}

impl Stated {
    /// With a digit more and room for so much in the base unit, where that is no other amount by the digits of before.
    fn with_room_for(&self, needed: Decimal, factor: Factor) -> Option<(At, String)> {
        let number: Decimal = self.new.number.parse().ok()?;
        let needed = needed.checked_div(self.quantity.unit.factor)?;
        let needed = self.new.unit.convert(needed)?;
        let up = needed.round_dp_with_strategy(number.scale() + 1, AwayFromZero);
        let text = match up <= number {
            true => self.new.number.clone(),
            false => up.to_string(),
        };
        let claim = digits::claim(&self.quantity.number, factor.in_unit(self.new.unit.steps)?)?;
        ((up - self.exact).abs() <= claim).then_some((self.at, text))
    }
}

/// What the line comes to, before and after, in the base unit: as it is written, or else as it is shown.
fn listed(
    plan: &Plan,
    writer: &Writer<'_>,
    factor: Factor,
    index: usize,
    dimension: Dimension,
) -> Option<(Decimal, Decimal, Option<Stated>)> {
    let material = plan.materials.get(index)?;
    let mut stated = material.stated.iter().filter_map(|amount| amount.quantity);
    if let Some(quantity) = stated.find(|quantity| quantity.unit.dimension == dimension) {
        let new = writer.written(material.line, Some(index), &quantity)?;
        let number = new.unit.back(new.number.parse().ok()?)?;
        let base = |value: Decimal| value.checked_mul(quantity.unit.factor);
        let (was, now) = (base(quantity.number.value)?, base(number)?);
        let stated = Stated {
            at: convert::at(material.line, quantity.number.span),
            exact: new.unit.convert(factor.times(quantity.number.value)?)?,
            quantity,
            new,
        };
        return quantity.to.is_none().then_some((was, now, Some(stated)));
    }
    let amounts = plan.ledger.amounts.get(index)?;
    if material.stated.is_empty() {
        return None;
    }
    let base = match dimension {
        Dimension::Volume => pair(amounts.volume.as_ref().ok()?).0 * 1e3,
        Dimension::Mass => pair(amounts.mass.as_ref().ok()?).0 * 1e3,
        _ => pair(amounts.amount.as_ref().ok()?).0,
    };
    let was = Decimal::from_f64(base)?;
    let was = was.checked_add(was.checked_mul(FLOAT_NOISE)?)?;
    Some((was, factor.times(was)?, None))
}
