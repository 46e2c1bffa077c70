//! Which unit a rescaled number is written in.

use crate::digits;
use rust_decimal::Decimal;
use syntax::{Dimension, Unit};

/// Units that are a thousand apart, the smallest first. Any other unit (`dL`) is kept.
const MASSES: &[&str] = &["ng", "µg", "mg", "g", "kg"];
const VOLUMES: &[&str] = &["nL", "µL", "mL", "L"];
const AMOUNTS: &[&str] = &["nmol", "µmol", "mmol", "mol"];

/// From here on a number moves to the larger unit, where it is 2 or more.
const MOST: Decimal = Decimal::from_parts(2000, 0, 0, false, 0);

/// Below this a number moves to the smaller unit, where it is below 100.
const LEAST: Decimal = Decimal::from_parts(1, 0, 0, false, 1);

/// A unit to write a number in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Move {
    /// Steps of a thousand, upwards.
    pub(crate) steps: i32,
    pub(crate) symbol: &'static str,
}

/// The unit for a number that was `old` in a unit and would be `new` in it.
pub(crate) fn readable(unit: &Unit, old: Decimal, new: Decimal) -> Move {
    let stay = Move {
        steps: 0,
        symbol: unit.symbol,
    };
    let ladder = match (unit.dimension, unit.per) {
        (Dimension::Mass, None) => MASSES,
        (Dimension::Volume, None) => VOLUMES,
        (Dimension::Amount, None) => AMOUNTS,
        _ => return stay,
    };
    let Some(mut rung) = ladder.iter().position(|symbol| *symbol == unit.symbol) else {
        return stay;
    };
    let comes_nearer = (old >= MOST && new <= old) || (old < LEAST && new >= old);
    let still_outside = (old >= MOST) == (new >= MOST) && (old < LEAST) == (new < LEAST);
    if new <= Decimal::ZERO || comes_nearer && still_outside {
        return stay;
    }
    let (mut value, mut steps) = (new, 0);
    while value >= MOST && rung + 1 < ladder.len() {
        value /= Decimal::ONE_THOUSAND;
        rung += 1;
        steps += 1;
    }
    while value < LEAST && rung > 0 {
        value *= Decimal::ONE_THOUSAND;
        rung -= 1;
        steps -= 1;
    }
    ladder
        .get(rung)
        .map_or(stay, |&symbol| Move { steps, symbol })
}

impl Move {
    /// A value of the old unit, in this one.
    pub(crate) fn convert(self, value: Decimal) -> Option<Decimal> {
        let thousands = digits::thousand_to(self.steps.unsigned_abs())?;
        if self.steps < 0 {
            value.checked_mul(thousands)
        } else {
            value.checked_div(thousands)
        }
    }

    /// A value of this unit, in the old one.
    pub(crate) fn back(self, value: Decimal) -> Option<Decimal> {
        let back = Move {
            steps: -self.steps,
            ..self
        };
        back.convert(value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moved(old: &str, factor: &str) -> String {
        let quantity = syntax::read_quantity(old).expect("a quantity");
        let new = quantity.number.value * factor.parse::<Decimal>().expect("a factor");
        let unit = readable(&quantity.unit, quantity.number.value, new);
        let value = unit.convert(new).expect("in range").normalize();
        assert_eq!(
            unit.back(value).expect("in range").normalize(),
            new.normalize()
        );
        format!("{value} {}", unit.symbol)
    }

    #[test]
    fn a_number_that_leaves_the_readable_range_moves_to_the_next_unit() {
        for (old, factor, new) in [
            ("2143 mg", "10", "21.43 g"),
            ("0.0428 g", "0.5", "21.4 mg"),
            ("1250 mL", "2", "2.5 L"),
            ("771 mg", "2", "1542 mg"),
            ("5.00 mmol", "1000", "5 mol"),
            ("5.00 mmol", "0.00001", "50 nmol"),
            ("3 kg", "1000", "3000 kg"),
            ("2 dL", "1000", "2000 dL"),
        ] {
            assert_eq!(moved(old, factor), new, "{old} times {factor}");
        }
    }

    #[test]
    fn what_was_written_outside_of_it_stays_while_it_comes_nearer() {
        assert_eq!(moved("2500 mL", "0.9"), "2250 mL");
        assert_eq!(moved("2500 mL", "1.1"), "2.75 L");
        assert_eq!(moved("0.05 mmol", "1.2"), "0.06 mmol");
        assert_eq!(moved("0.05 mmol", "0.5"), "25 µmol");
        assert_eq!(moved("0 mL", "2"), "0 mL");
    }
}
