//! Gases and the vapour of water.

use crate::quantity::{
    MolarVolume, Pressure, ThermodynamicTemperature, molar_volume, pressure,
    thermodynamic_temperature,
};

/// Molar gas constant in J/(mol K): the product of the Avogadro and Boltzmann constants, exact
/// since 2019 (CODATA 2018, 2022).
pub const GAS_CONSTANT: f64 = 8.314_462_618_153_24;

/// Volume of one mole of ideal gas. Within about 1 % for the permanent gases at room conditions.
pub fn molar_volume(temperature: ThermodynamicTemperature, pressure: Pressure) -> MolarVolume {
    let kelvin = temperature.get::<thermodynamic_temperature::kelvin>();
    let pascal = pressure.get::<pressure::pascal>();
    MolarVolume::new::<molar_volume::cubic_meter_per_mole>(GAS_CONSTANT * kelvin / pascal)
}

/// Saturation vapour pressure of water over the liquid.
///
/// Magnus formula of WMO-No. 8, *Guide to Meteorological Instruments and Methods of Observation*
/// (2008), annex 4.B; meant for −45 to 60 °C, where it is within 0.5 % of the reference equation.
pub fn water_vapour_pressure(temperature: ThermodynamicTemperature) -> Pressure {
    let celsius = temperature.get::<thermodynamic_temperature::degree_celsius>();
    Pressure::new::<pressure::hectopascal>(6.112 * (17.62 * celsius / (243.12 + celsius)).exp())
}
