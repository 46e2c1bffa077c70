//! Quantities as words for people: rounded, and in the unit that a balance or a syringe would show.

use crate::digits;
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;
use syntax::{Number, Unit};
use uom::si::amount_of_substance::mole;
use uom::si::f64::{AmountOfSubstance, Mass, Ratio, Volume};
use uom::si::mass::gram;
use uom::si::ratio::ratio;
use uom::si::volume::liter;

/// Significant digits unless the caller knows better.
pub const DIGITS: usize = 3;

/// A mass: `771 mg`, `2.14 g`.
#[must_use]
pub fn mass(mass: Mass) -> String {
    mass_to(mass, DIGITS)
}

/// A mass, to so many significant digits.
#[must_use]
pub fn mass_to(mass: Mass, digits: usize) -> String {
    with_unit(
        mass.get::<gram>(),
        digits,
        &[
            (1e3, 1.0, "kg"),
            (1.0, 1.0, "g"),
            (1e-3, 0.1, "mg"),
            (1e-6, 0.0, "µg"),
        ],
    )
}

/// A volume: `2.30 mL`, `0.642 mL`, `50.0 µL`.
#[must_use]
pub fn volume(volume: Volume) -> String {
    volume_to(volume, DIGITS)
}

/// A volume, to so many significant digits.
#[must_use]
pub fn volume_to(volume: Volume, digits: usize) -> String {
    with_unit(
        volume.get::<liter>(),
        digits,
        &[(1.0, 1.0, "L"), (1e-3, 0.1, "mL"), (1e-6, 0.0, "µL")],
    )
}

/// An amount of substance: `5.00 mmol`, `0.150 mmol`, `50.0 µmol`.
#[must_use]
pub fn amount(amount: AmountOfSubstance) -> String {
    amount_to(amount, DIGITS)
}

/// An amount of substance, to so many significant digits.
#[must_use]
pub fn amount_to(amount: AmountOfSubstance, digits: usize) -> String {
    let units = [(1.0, 1.0, "mol"), (1e-3, 0.1, "mmol"), (1e-6, 0.0, "µmol")];
    with_unit(amount.get::<mole>(), digits, &units)
}

/// Equivalents: `1.20 eq`.
#[must_use]
pub fn equivalents(equivalents: Ratio) -> String {
    format!("{} eq", number(equivalents.get::<ratio>(), DIGITS))
}

/// A plain number, to so many significant digits: never in powers of ten.
#[must_use]
pub fn number(value: f64, digits: usize) -> String {
    let (rounded, decimals) = round(value, digits);
    format!("{rounded:.decimals$}")
}

/// A value and its uncertainty to the same decimals: two digits of the uncertainty if they begin with 1 or 2, else one,
/// so that rounding takes little from it (JCGM 100:2008, 7.2.6).
#[must_use]
pub fn with_uncertainty(value: f64, uncertainty: f64) -> (String, String) {
    let two = number(uncertainty, 2);
    let leading = two.chars().find(|c| ('1'..='9').contains(c));
    let digits = if matches!(leading, Some('1' | '2')) {
        2
    } else {
        1
    };
    let (rounded, decimals) = round(uncertainty, digits);
    (
        format!("{value:.decimals$}"),
        format!("{rounded:.decimals$}"),
    )
}

/// A plain number as short as its first three digits allow: `2.5`, `10`, `0.1`.
#[must_use]
pub fn shortest(value: f64) -> String {
    let whole = value.round();
    // In whole numbers the hundreds are all of its digits.
    if (1.0..1000.0).contains(&whole) && (value - whole).abs() < 1e-3 {
        return format!("{}", whole as u16);
    }
    let text = number(value, DIGITS);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// A unit as it is written: `mL`, `mol/kg`.
#[must_use]
pub fn unit(unit: &Unit) -> String {
    match unit.per {
        Some(per) => format!("{}/{per}", unit.symbol),
        None => unit.symbol.to_owned(),
    }
}

/// A number of the text times a factor, with the digits that it was written with (see [`digits::anew`]).
/// None where the result cannot be held.
#[must_use]
pub fn scaled(written: &Number, factor: f64) -> Option<String> {
    let exact = written.value.checked_mul(Decimal::from_f64(factor)?)?;
    digits::anew(written, exact)
}

/// In the first unit (its size, and from how many of it on it is used) that the rounded value reaches.
fn with_unit(value: f64, digits: usize, units: &[(f64, f64, &str)]) -> String {
    let fits = units
        .iter()
        .find(|(size, from, _)| round(value / size, digits).0.abs() >= *from);
    match fits {
        Some((size, _, symbol)) if value != 0.0 => {
            format!("{} {symbol}", number(value / size, digits))
        }
        _ => units
            .iter()
            .rev()
            .nth(1)
            .map_or_else(String::new, |(_, _, symbol)| format!("0 {symbol}")),
    }
}

/// Rounded to significant digits, and how many decimals show them.
fn round(value: f64, digits: usize) -> (f64, usize) {
    let last = digits.saturating_sub(1);
    let scientific = format!("{value:.last$e}");
    let parsed = scientific
        .split_once('e')
        .and_then(|(_, exponent)| exponent.parse::<i64>().ok());
    let Some(exponent) = parsed else {
        return (value, 0);
    };
    let decimals = (i64::try_from(last).unwrap_or(0) - exponent).max(0);
    (
        scientific.parse().unwrap_or(value),
        usize::try_from(decimals).unwrap_or(0),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use syntax::Span;

    #[test]
    fn masses_read_as_on_a_balance() {
        let grams = |g: f64| mass(Mass::new::<gram>(g));
        assert_eq!(grams(0.771_275), "771 mg");
        assert_eq!(grams(2.143_5), "2.14 g");
        assert_eq!(grams(0.999_6), "1.00 g");
        assert_eq!(grams(1250.0), "1.25 kg");
        assert_eq!(grams(0.000_2), "0.200 mg");
        assert_eq!(grams(0.000_05), "50.0 µg");
        assert_eq!(grams(0.0), "0 mg");
        assert_eq!(mass_to(Mass::new::<gram>(2.143_5), 5), "2.1435 g");
    }

    #[test]
    fn volumes_and_amounts_read_as_in_a_syringe() {
        let litres = |l: f64| volume(Volume::new::<liter>(l));
        assert_eq!(litres(0.002_3), "2.30 mL");
        assert_eq!(litres(0.000_642), "0.642 mL");
        assert_eq!(litres(0.000_05), "50.0 µL");
        assert_eq!(litres(1.2), "1.20 L");
        let moles = |n: f64| amount(AmountOfSubstance::new::<mole>(n));
        assert_eq!(moles(0.005), "5.00 mmol");
        assert_eq!(moles(0.000_15), "0.150 mmol");
        assert_eq!(moles(0.000_05), "50.0 µmol");
        assert_eq!(equivalents(Ratio::new::<ratio>(1.2)), "1.20 eq");
    }

    #[test]
    fn an_uncertainty_gives_the_value_its_decimals() {
        // JCGM 100:2008, 7.2.6: 10.057 62 Ω with 27 mΩ is rounded to 10.058 Ω.
        let pair = |value, uncertainty| with_uncertainty(value, uncertainty);
        assert_eq!(pair(10.057_62, 0.027), ("10.058".into(), "0.027".into()));
        assert_eq!(pair(1.2, 0.0364), ("1.20".into(), "0.04".into()));
        assert_eq!(pair(12.0, 14.0), ("12".into(), "14".into()));
    }

    #[test]
    fn what_is_no_number_does_no_harm() {
        for value in [f64::NAN, f64::INFINITY, -1e300, 1e300, 5e-324] {
            assert!(!number(value, DIGITS).is_empty());
            let _ = mass(Mass::new::<gram>(value));
        }
    }

    #[test]
    fn a_rewritten_number_keeps_its_digits() {
        let written = Number {
            value: Decimal::new(241, 2),
            last_digit: -2,
            span: Span::default(),
        };
        assert_eq!(scaled(&written, 2.143_5 / 2.41).as_deref(), Some("2.14"));
        assert_eq!(scaled(&written, f64::NAN), None);
    }
}
