//! Portions that came to no more than their line lists still do when all of them are rounded.

use super::target::{Written, pair};
use super::text::Writer;
use crate::digits::{self, Factor};
use crate::known::At;
use crate::material::Material;
use crate::{Plan, convert};
use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy::ToZero;
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
    let (was, listed) = listed(plan, writer, factor, index, dimension)?;
    let sum = |of: &dyn Fn(&Portion) -> Option<Decimal>| {
        portions
            .iter()
            .try_fold(Decimal::ZERO, |sum, portion| sum.checked_add(of(portion)?))
    };
    if portions.len() < 2 && portions.first()?.times == Decimal::ONE
        || sum(&Portion::old_total)? > was
        || sum(&|portion| portion.total(portion.value))? <= listed
    {
        return None;
    }
    let largest = (0..portions.len()).max_by_key(|&at| {
        let portion = portions.get(at);
        portion.map(|portion| (portion.times == Decimal::ONE, portion.exact))
    })?;
    (0..=MOST_DIGITS).find_map(|more| {
        let finer = |portion: &Portion| match more {
            0 => Some(portion.value),
            more => digits::round_to_decimals(portion.exact, portion.value.scale() + more),
        };
        let mut values = portions.iter().map(finer).collect::<Option<Vec<_>>>()?;
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
        let edits = portions.iter().zip(values);
        Some(
            edits
                .map(|(portion, value)| (portion.at, value.to_string()))
                .collect(),
        )
    })
}

/// What the line comes to, before and after, in the base unit: as it is written, or else as it is shown.
fn listed(
    plan: &Plan,
    writer: &Writer<'_>,
    factor: Factor,
    index: usize,
    dimension: Dimension,
) -> Option<(Decimal, Decimal)> {
    let material = plan.materials.get(index)?;
    let mut stated = material.stated.iter().filter_map(|amount| amount.quantity);
    if let Some(quantity) = stated.find(|quantity| quantity.unit.dimension == dimension) {
        let new = writer.written(material.line, Some(index), &quantity)?;
        let number = new.unit.back(new.number.parse().ok()?)?;
        let base = |value: Decimal| value.checked_mul(quantity.unit.factor);
        return (quantity.to.is_none()).then_some((base(quantity.number.value)?, base(number)?));
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
    Some((was, factor.times(was)?))
}
