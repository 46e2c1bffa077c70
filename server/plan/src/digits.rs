//! How a number is written after it was multiplied.
//!
//! The promise: as many significant digits as were written, and more only where rounding would change the number by
//! more than its last digit claims, or by more than 2 % (8 mL times 0.85 are 6.8 mL, not 7 mL), or where one more brings
//! the very text back on the way back. A whole number
//! that stays whole in the unit that it was written in keeps all its digits, and nothing is rounded to tens.
//!
//! A number that was multiplied by a factor and then by its inverse is the old one to its last written digit. It is
//! the very text if the way there needed no digit more, lost nothing, did not make a whole number of a decimal, and
//! kept the unit. (Which unit a number gets, [`crate::rescale`] says.)
//!
//! A number that is computed anew ([`anew`]) depends on what it is computed from and on the number of digits that
//! stood there, not on the value that stood there: many small moves are one big one, to the last digit.

use rust_decimal::{Decimal, RoundingStrategy};
use syntax::Number;

/// An exact factor: a quotient of decimals.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Factor {
    /// Numerator, greater than zero.
    over: Decimal,
    /// Denominator, greater than zero.
    under: Decimal,
}

impl Factor {
    /// The quotient, if both are greater than zero.
    #[must_use]
    pub fn new(over: Decimal, under: Decimal) -> Option<Factor> {
        (over > Decimal::ZERO && under > Decimal::ZERO).then_some(Factor { over, under })
    }

    /// One over it.
    #[must_use]
    pub fn inverse(self) -> Factor {
        Factor {
            over: self.under,
            under: self.over,
        }
    }

    /// As a decimal, to 28 digits.
    #[must_use]
    pub fn value(self) -> Option<Decimal> {
        self.over.checked_div(self.under)
    }

    /// Times another; none where that leaves what 28 digits hold.
    #[must_use]
    pub fn scaled(self, by: Decimal) -> Option<Factor> {
        Factor::new(self.over.checked_mul(by)?, self.under)
    }

    /// The factor for the same number in a unit that is so many steps of a thousand larger.
    #[must_use]
    pub fn in_unit(self, steps: i32) -> Option<Factor> {
        let thousands = thousand_to(steps.unsigned_abs())?;
        if steps < 0 {
            Factor::new(self.over.checked_mul(thousands)?, self.under)
        } else {
            Factor::new(self.over, self.under.checked_mul(thousands)?)
        }
    }

    /// A number times the factor; none where it leaves what 28 digits hold.
    #[must_use]
    pub fn times(self, value: Decimal) -> Option<Decimal> {
        value.checked_mul(self.over)?.checked_div(self.under)
    }
}

/// Nine tenths of what the last digit claims: the rest is left for the rounding on the way back.
const CLAIM: Decimal = Decimal::from_parts(9, 0, 0, false, 1);

/// However little a single digit claims, an amount is not rounded by more than this share of it.
const MOST_ROUNDING: Decimal = Decimal::from_parts(2, 0, 0, false, 2);

/// A number of the text times a factor, as text. None where the result cannot be held.
#[must_use]
pub fn multiplied(number: &Number, factor: Factor) -> Option<String> {
    let fewest = fewest_digits(number, factor)?;
    let written = number.value.to_string();
    // One digit more is worth it where it brings the very text back.
    [fewest, fewest + 1]
        .into_iter()
        .filter_map(|digits| rounded(number, factor, digits))
        .find(|there| {
            let there = Number {
                value: *there,
                last_digit: last_digit(*there),
                ..*number
            };
            let inverse = factor.inverse();
            let back =
                fewest_digits(&there, inverse).and_then(|digits| rounded(&there, inverse, digits));
            back.is_some_and(|back| back.to_string() == written)
        })
        .or_else(|| rounded(number, factor, fewest))
        .map(|value| value.to_string())
}

/// A number of the text times a factor, as text in a unit that is so many steps of a thousand larger. A whole
/// number that would stay whole in its own unit keeps its digits, but for zeros at the end. None where the result
/// cannot be held.
#[must_use]
pub fn multiplied_in(number: &Number, factor: Factor, steps: i32) -> Option<String> {
    let exact = factor.times(number.value)?;
    if steps <= 0 || !is_whole(number) || !exact.fract().is_zero() {
        return multiplied(number, factor.in_unit(steps)?);
    }
    let thousands = thousand_to(steps.unsigned_abs())?;
    let moved = exact.trunc().checked_div(thousands)?.normalize();
    let digits = significant(number).max(significant_of(moved));
    round(moved, digits).map(|value| value.to_string())
}

/// The fewest significant digits that keep what was written and do not change the number by more than its
/// last digit claims, nor by more than [`MOST_ROUNDING`].
fn fewest_digits(number: &Number, factor: Factor) -> Option<u32> {
    let exact = factor.times(number.value)?;
    let claim = claim(number, factor)?;
    (significant(number)..27)
        .find(|&digits| round(exact, digits).is_some_and(|r| (r - exact).abs() <= claim))
}

/// How far a number times a factor may be rounded: what it claims is left of it on the way back, and it is no more than
/// [`MOST_ROUNDING`] of it.
pub(crate) fn claim(number: &Number, factor: Factor) -> Option<Decimal> {
    let claim = factor.times(half_digit(number)?)?.checked_mul(CLAIM)?;
    let most = factor
        .times(number.value)?
        .abs()
        .checked_mul(MOST_ROUNDING)?;
    Some(claim.min(most))
}

fn rounded(number: &Number, factor: Factor, digits: u32) -> Option<Decimal> {
    let exact = factor.times(number.value)?;
    if is_whole(number) && exact.fract().is_zero() {
        return Some(exact.trunc());
    }
    round(exact, digits)
}

fn is_whole(number: &Number) -> bool {
    number.value.scale() == 0 && number.last_digit == 0
}

fn last_digit(value: Decimal) -> i32 {
    -i32::try_from(value.scale()).unwrap_or(0)
}

/// A value computed anew in place of a number of the text: with as many significant digits as that had,
/// and one more where it had fewer than three and they would change the value by more than they claimed.
/// A whole number stays whole while three digits are left of it.
#[must_use]
pub fn anew(number: &Number, exact: Decimal) -> Option<String> {
    if is_whole(number) && magnitude(exact) >= 2 {
        return round_at(exact, 0).map(|value| value.to_string());
    }
    anew_in_other_unit(number, exact)
}

/// The same where the value is in another unit than the number that it replaces, so that nothing is whole.
#[must_use]
pub fn anew_in_other_unit(number: &Number, exact: Decimal) -> Option<String> {
    let digits = significant(number);
    let rounded = round(exact, digits)?;
    if digits < 3 && !number.value.is_zero() {
        let claimed = half_digit(number)?.checked_div(number.value)?.abs();
        if (rounded - exact).abs() > claimed.checked_mul(exact.abs())? {
            return round(exact, digits + 1).map(|value| value.to_string());
        }
    }
    Some(rounded.to_string())
}

/// Significant digits as written; trailing zeros count.
#[must_use]
pub fn significant(number: &Number) -> u32 {
    digits_between(number.value, number.last_digit)
}

/// Significant digits of a value, its trailing zeros included.
pub(crate) fn significant_of(value: Decimal) -> u32 {
    digits_between(value, last_digit(value))
}

fn digits_between(value: Decimal, last_digit: i32) -> u32 {
    u32::try_from(magnitude(value) - last_digit + 1)
        .unwrap_or(1)
        .max(1)
}

/// The power of ten of the first digit that is not zero.
fn magnitude(value: Decimal) -> i32 {
    let value = value.abs();
    if value.is_zero() {
        return 0;
    }
    let digits = i32::try_from(value.mantissa().unsigned_abs().ilog10()).unwrap_or(0);
    digits - i32::try_from(value.scale()).unwrap_or(0)
}

fn half_digit(number: &Number) -> Option<Decimal> {
    power_of_ten(number.last_digit)?.checked_div(Decimal::TWO)
}

/// A thousand to a power; none where that leaves what a decimal holds.
pub(crate) fn thousand_to(power: u32) -> Option<Decimal> {
    (0..power).try_fold(Decimal::ONE, |product, _| {
        product.checked_mul(Decimal::ONE_THOUSAND)
    })
}

fn power_of_ten(exponent: i32) -> Option<Decimal> {
    if exponent < 0 {
        return Decimal::try_new(1, exponent.unsigned_abs()).ok();
    }
    (0..exponent).try_fold(Decimal::ONE, |power, _| power.checked_mul(Decimal::TEN))
}

/// Rounds to a number of significant digits, half away from zero, with trailing zeros shown. Nothing is rounded
/// to tens: a whole number claims its last digit, so 1540 would say more than 1543 rounded to three digits knows.
#[must_use]
pub fn round(value: Decimal, digits: u32) -> Option<Decimal> {
    let last = magnitude(value) - i32::try_from(digits).ok()? + 1;
    let mut rounded = round_at(value, last.min(0))?;
    // 9.996 to three digits is 10.0, not 10.00.
    if magnitude(rounded) > magnitude(value) && !value.is_zero() {
        rounded = round_at(value, (last + 1).min(0))?;
    }
    Some(rounded)
}

/// To so many decimals, half away from zero, with trailing zeros shown.
pub(crate) fn round_to_decimals(value: Decimal, decimals: u32) -> Option<Decimal> {
    round_at(value, -i32::try_from(decimals).ok()?)
}

/// Rounds to a power of ten that is not above one.
fn round_at(value: Decimal, last: i32) -> Option<Decimal> {
    let decimals = last.unsigned_abs().min(28);
    let mut rounded =
        value.round_dp_with_strategy(decimals, RoundingStrategy::MidpointAwayFromZero);
    rounded.rescale(decimals);
    (rounded.scale() == decimals).then_some(rounded)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(text: &str) -> Number {
        let value: Decimal = text.parse().unwrap();
        let last_digit = -i32::try_from(value.scale()).unwrap();
        Number {
            value,
            last_digit,
            span: syntax::Span::default(),
        }
    }

    fn times(text: &str, over: i64, under: i64) -> String {
        let factor = Factor::new(Decimal::from(over), Decimal::from(under)).unwrap();
        multiplied(&number(text), factor).unwrap()
    }

    #[test]
    fn precision_is_kept_and_a_digit_is_added_where_rounding_would_lie() {
        assert_eq!(times("8", 1, 4), "2");
        assert_eq!(times("8", 1, 3), "2.7");
        assert_eq!(times("8", 17, 20), "6.8");
        assert_eq!(times("5.00", 2, 1), "10.0");
        assert_eq!(times("10.0", 1, 2), "5.00");
        assert_eq!(times("5.01", 2, 1), "10.02");
        assert_eq!(times("0.097", 2, 1), "0.194");
        assert_eq!(times("1250", 1, 2), "625");
        assert_eq!(times("25", 1, 3), "8.3");
        assert_eq!(times("5.00", 1, 3), "1.667");
        assert_eq!(times("9.996", 1, 1), "9.996");
        assert_eq!(times("1000", 1, 2), "500");
        assert_eq!(times("8", 1000, 3), "2667");
    }

    #[test]
    fn in_a_larger_unit_a_whole_number_keeps_its_digits() {
        let moved = |text: &str, over: i64, under: i64| {
            let factor = Factor::new(Decimal::from(over), Decimal::from(under)).unwrap();
            multiplied_in(&number(text), factor, 1).unwrap()
        };
        assert_eq!(moved("2143", 10, 1), "21.43");
        assert_eq!(moved("1250", 2, 1), "2.500");
        assert_eq!(moved("8", 1000, 1), "8");
        assert_eq!(moved("8", 2143, 8), "2.143");
        assert_eq!(moved("20", 1000, 3), "6.7");
    }

    #[test]
    fn computed_anew_keeps_the_digits_of_what_it_replaces() {
        let value = |text: &str| text.parse::<Decimal>().unwrap();
        assert_eq!(anew(&number("2.14"), value("4.28676")).unwrap(), "4.29");
        assert_eq!(anew(&number("4.29"), value("2.14338")).unwrap(), "2.14");
        assert_eq!(anew(&number("8"), value("1.4")).unwrap(), "1.4");
        assert_eq!(anew(&number("771"), value("1542.54")).unwrap(), "1543");
        assert_eq!(anew(&number("1543"), value("771.27")).unwrap(), "771");
    }

    proptest::proptest! {
        #[test]
        fn there_and_back_is_the_old_value_to_its_last_digit(
            mantissa in 1i64..2_000_000, scale in 0u32..6, over in 1i64..5000, under in 1i64..5000,
        ) {
            let value = Decimal::new(mantissa, scale);
            let start = number(&value.to_string());
            let factor = Factor::new(Decimal::from(over), Decimal::from(under)).unwrap();
            let back = Factor::new(Decimal::from(under), Decimal::from(over)).unwrap();
            let there = number(&multiplied(&start, factor).unwrap());
            let again = number(&multiplied(&there, back).unwrap());
            let half = half_digit(&start).unwrap();
            proptest::prop_assert!((again.value - start.value).abs() <= half, "{start:?} {there:?} {again:?}");
            // "The very text wherever the digits allow it": no digit was added, and both ways are in the
            // same form.
            if significant(&there) == significant(&start) && again.value == start.value
                && significant(&again) == significant(&start) {
                proptest::prop_assert_eq!(again.value.to_string(), start.value.to_string());
            }
        }
    }
}
