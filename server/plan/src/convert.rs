//! From a quantity of the text to a quantity of physics. The only place that reads `Unit::factor`.

use crate::known::{At, Known, Origin};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use syntax::{Dimension, Number, Quantity, Span};
use uom::si::amount_of_substance::mole;
use uom::si::f64::{
    AmountOfSubstance, Mass, MassDensity, MolarMass, MolarVolume, Pressure, Ratio,
    ThermodynamicTemperature, Time, Volume, VolumeRate,
};
use uom::si::mass::gram;
use uom::si::mass_density::gram_per_cubic_centimeter;
use uom::si::molar_mass::gram_per_mole;
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::thermodynamic_temperature::{degree_celsius, kelvin};
use uom::si::time::second;
use uom::si::volume::liter;
use uom::si::volume_rate::liter_per_second;

/// Amount of substance per volume.
pub type Concentration = <AmountOfSubstance as std::ops::Div<Volume>>::Output;
/// Volume per mass.
pub type VolumePerMass = <Volume as std::ops::Div<Mass>>::Output;
/// Amount of substance per mass, as of a supported reagent.
pub type Loading = <AmountOfSubstance as std::ops::Div<Mass>>::Output;

/// A number of the text as f64. A decimal that f64 cannot hold does not exist at 28 digits.
#[must_use]
pub fn float(number: &Number) -> f64 {
    of_decimal(number.value)
}

/// The nearest f64. Where f64 holds the digits and the power of ten exactly, as it does of nearly all that people
/// write, their quotient is that, and the quicker way to it.
fn of_decimal(decimal: Decimal) -> f64 {
    const POWERS: [f64; 16] = [
        1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
    ];
    match (
        i32::try_from(decimal.mantissa()),
        POWERS.get(decimal.scale() as usize),
    ) {
        // Zero may have a sign.
        (Ok(digits), Some(power)) if digits != 0 => f64::from(digits) / power,
        _ => decimal.to_f64().unwrap_or(f64::NAN),
    }
}

/// Half of the last digit that was written.
#[must_use]
pub fn half_digit(number: &Number) -> f64 {
    0.5 * 10f64.powi(number.last_digit)
}

/// The middle of a quantity and half its width, both times the unit's factor.
fn interval(quantity: &Quantity) -> (f64, f64) {
    let factor = of_decimal(quantity.unit.factor);
    let low = float(&quantity.number);
    let (middle, half) = match &quantity.to {
        None => (low, half_digit(&quantity.number)),
        Some(to) => {
            let high = float(to);
            (
                f64::midpoint(low, high),
                (high - low).abs() / 2.0 + half_digit(to),
            )
        }
    };
    (middle * factor, half * factor)
}

fn written<Q: Copy>(quantity: &Quantity, line: u32, make: impl Fn(f64) -> Q) -> Known<Q> {
    let (value, half) = interval(quantity);
    let origin = Origin::Written(At {
        line,
        span: quantity.span,
    });
    Known::new(make(value), make(half), origin)
}

macro_rules! readers {
    ($($(#[$doc:meta])* $name:ident: $quantity:ty = $make:expr, $($dimension:ident)|+;)*) => {
        $($(#[$doc])*
        #[must_use]
        pub fn $name(quantity: &Quantity, line: u32) -> Option<Known<$quantity>> {
            matches!(quantity.unit.dimension, $(Dimension::$dimension)|+)
                .then(|| written(quantity, line, $make))
        })*
    };
}

readers! {
    /// mol, mmol …
    amount: AmountOfSubstance = AmountOfSubstance::new::<mole>, Amount;
    /// g, mg …
    mass: Mass = Mass::new::<gram>, Mass;
    /// L, mL …
    volume: Volume = Volume::new::<liter>, Volume;
    /// min, h …
    time: Time = Time::new::<second>, Time;
    /// mL/min, L/h …
    volume_rate: VolumeRate = VolumeRate::new::<liter_per_second>, VolumeRate;
    /// bar, mbar …
    pressure: Pressure = Pressure::new::<pascal>, Pressure;
    /// Equivalents and shares, as a fraction.
    share: Ratio = Ratio::new::<ratio>, Equivalents | MolPercent | MassPercent | VolumePercent | Percent | Ppm | Humidity;
    /// M
    concentration: Concentration = molar, Molarity;
    /// N, as equivalents per volume.
    normality: Concentration = molar, Normality;
    /// g/L
    grams_per_volume: MassDensity = grams_per_litre, MassConcentration;
    /// g per 100 mL, as a fraction of 1 g/mL.
    percent_of_volume: MassDensity = MassDensity::new::<gram_per_cubic_centimeter>, MassPerVolumePercent;
    /// mmol/g
    loading: Loading = mol_per_gram, AmountPerMass;
    /// mol per kg of solvent
    molality: Loading = |v| mol_per_gram(v / 1000.0), Molality;
    /// mL/mmol
    volume_per_amount: MolarVolume = |v| Volume::new::<liter>(v) / AmountOfSubstance::new::<mole>(1.0), VolumePerAmount;
    /// mL/g
    volume_per_mass: VolumePerMass = |v| Volume::new::<liter>(v) / Mass::new::<gram>(1.0), VolumePerMass;
    /// g/mmol
    mass_per_amount: MolarMass = MolarMass::new::<gram_per_mole>, MassPerAmount;
    /// g/g, mL/mL
    per_like: Ratio = Ratio::new::<ratio>, MassPerMass | VolumePerVolume;
}

/// Whether an amount is a volume in mL or less, as that of a liquid.
#[must_use]
pub fn is_in_millilitres(amount: &syntax::Amount) -> bool {
    amount.kind == syntax::AmountKind::Volume
        && amount
            .quantity
            .is_some_and(|quantity| matches!(quantity.unit.symbol, "mL" | "µL"))
}

/// mol/L
#[must_use]
pub fn molar(value: f64) -> Concentration {
    AmountOfSubstance::new::<mole>(value) / Volume::new::<liter>(1.0)
}

fn grams_per_litre(value: f64) -> MassDensity {
    Mass::new::<gram>(value) / Volume::new::<liter>(1.0)
}

fn mol_per_gram(value: f64) -> Loading {
    AmountOfSubstance::new::<mole>(value) / Mass::new::<gram>(1.0)
}

/// A bare number in g/mL.
#[must_use]
pub fn density(number: &Number, line: u32) -> Known<MassDensity> {
    let make = MassDensity::new::<gram_per_cubic_centimeter>;
    let origin = Origin::Written(At {
        line,
        span: number.span,
    });
    Known::new(make(float(number)), make(half_digit(number)), origin)
}

/// A bare number in g/mol.
#[must_use]
pub fn molar_mass(number: &Number, line: u32) -> Known<MolarMass> {
    let make = MolarMass::new::<gram_per_mole>;
    let origin = Origin::Written(At {
        line,
        span: number.span,
    });
    Known::new(make(float(number)), make(half_digit(number)), origin)
}

/// °C, K or °F; the middle of a range.
#[must_use]
pub fn temperature(quantity: &Quantity) -> Option<ThermodynamicTemperature> {
    if quantity.unit.dimension != Dimension::Temperature {
        return None;
    }
    let low = float(&quantity.number);
    let value = quantity
        .to
        .as_ref()
        .map_or(low, |to| f64::midpoint(low, float(to)));
    Some(match quantity.unit.symbol {
        "K" => ThermodynamicTemperature::new::<kelvin>(value),
        "°F" => ThermodynamicTemperature::new::<degree_celsius>((value - 32.0) / 1.8),
        _ => ThermodynamicTemperature::new::<degree_celsius>(value),
    })
}

/// Where a span of a line is.
#[must_use]
pub fn at(line: u32, span: Span) -> At {
    At { line, span }
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        /// The reader of the standard library gives the nearest f64.
        #[test]
        fn a_decimal_is_read_as_the_nearest_float(mantissa: i32, more: i64, scale in 0u32..19) {
            for mantissa in [i64::from(mantissa), more >> 14] {
                let decimal = Decimal::new(mantissa, scale);
                let nearest: f64 = decimal.to_string().parse().expect("a number");
                proptest::prop_assert_eq!(of_decimal(decimal), nearest, "{}", decimal);
            }
        }
    }
}
