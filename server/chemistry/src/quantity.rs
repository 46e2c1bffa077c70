//! The physical quantities of the project: SI values in `f64`, from [uom](https://docs.rs/uom).
//!
//! Values go in and out through the unit modules, for example
//! `Mass::new::<mass::gram>(2.14)` and `m.get::<mass::milligram>()`.

pub use uom::si::f64::{
    AmountOfSubstance, Mass, MassConcentration, MassDensity, Molality, MolarConcentration,
    MolarMass, MolarVolume, Pressure, Ratio, TemperatureInterval, ThermodynamicTemperature, Time,
    Volume, VolumeRate,
};
pub use uom::si::{
    amount_of_substance, mass, mass_concentration, mass_density, molality, molar_concentration,
    molar_mass, molar_volume, pressure, ratio, temperature_interval, thermodynamic_temperature,
    time, volume, volume_rate,
};
