//! Numbers as written, and units.

use crate::ast::Span;
use rust_decimal::Decimal;

/// A number of the text: exact, with the digits that were written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Number {
    /// Its value. `Decimal::scale` holds the decimals that were written, trailing zeros included.
    pub value: Decimal,
    /// The power of ten of the last digit written: -2 for `5.00`, 0 for `1250`, -3 for `1e-3`.
    pub last_digit: i32,
    /// Where it stands, sign included.
    pub span: Span,
}

/// A number or range with its unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Quantity {
    /// The number, or the range's first.
    pub number: Number,
    /// The range's second number.
    pub to: Option<Number>,
    /// The unit.
    pub unit: Unit,
    /// Where the unit stands.
    pub unit_span: Span,
    /// `about`, `<` and the like.
    pub bound: Bound,
    /// From the first sign to the end of the unit.
    pub span: Span,
}

/// How a quantity is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Bound {
    /// As written.
    #[default]
    Exact,
    /// `about`, `ca.`, `~`
    About,
    /// `<`, `<=`
    AtMost,
    /// `>`, `>=`
    AtLeast,
}

/// What a unit measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Dimension {
    /// `eq`
    Equivalents,
    /// `mol%`
    MolPercent,
    /// mol
    Amount,
    /// g
    Mass,
    /// L
    Volume,
    /// s
    Time,
    /// °C, K, °F
    Temperature,
    /// Pa
    Pressure,
    /// mol/L
    Molarity,
    /// N
    Normality,
    /// mol/kg
    Molality,
    /// g/L
    MassConcentration,
    /// `wt%`
    MassPercent,
    /// `vol%`
    VolumePercent,
    /// `w/v%`
    MassPerVolumePercent,
    /// `%`
    Percent,
    /// `% RH`
    Humidity,
    /// `ppm`
    Ppm,
    /// m (Å, mm, cm)
    Length,
    /// rpm
    Stirring,
    /// volume per time
    VolumeRate,
    /// mass per time
    MassRate,
    /// amount per time
    AmountRate,
    /// `mL/mmol`
    VolumePerAmount,
    /// `mL/g`
    VolumePerMass,
    /// `g/mmol`
    MassPerAmount,
    /// `g/g`
    MassPerMass,
    /// `mmol/g`
    AmountPerMass,
    /// `mL/mL`
    VolumePerVolume,
}

/// A unit, or a quotient of two.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Unit {
    /// The symbol as the language writes it: `mL`, `mmol`, `°C`, `mol%`.
    pub symbol: &'static str,
    /// What it is divided by: `mmol` in `mL/mmol`.
    pub per: Option<&'static str>,
    /// What the whole measures.
    pub dimension: Dimension,
    /// Times this it is in the base unit of its dimension: mol, g, L, s, Pa, mol/L, g/L, and fractions
    /// (not percent) for shares. Temperatures are scaled to kelvin without the offset.
    pub factor: Decimal,
}
