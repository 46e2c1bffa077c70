//! Gas volumes and vapour pressures.

use chemistry::quantity::thermodynamic_temperature::degree_celsius;
use chemistry::quantity::{Pressure, ThermodynamicTemperature, molar_volume as volume, pressure};
use chemistry::{molar_volume, water_vapour_pressure};

#[test]
fn molar_volumes() {
    // pV = nRT with the exact gas constant (CODATA 2018); 22.7110 and 22.4140 L/mol at 0 °C are
    // also CODATA's own molar volumes at 100 and 101.325 kPa.
    for (celsius, kilopascal, litre) in [
        (25.0, 101.325, 24.4654),
        (21.0, 101.325, 24.1372),
        (20.0, 101.325, 24.0551),
        (0.0, 101.325, 22.4140),
        (0.0, 100.0, 22.7110),
    ] {
        let found = molar_volume(
            ThermodynamicTemperature::new::<degree_celsius>(celsius),
            Pressure::new::<pressure::kilopascal>(kilopascal),
        )
        .get::<volume::cubic_decimeter_per_mole>();
        assert!((found - litre).abs() < 6e-5, "{celsius} °C: {found}");
    }
}

#[test]
fn vapour_pressure_of_water() {
    // Magnus formula of WMO-No. 8 worked by hand, and the reference equation of state IAPWS-95 as
    // computed by chemicals 1.5.2, which it stays within 0.4 % of.
    for (celsius, magnus, reference) in [
        (20.0, 23.326, 23.393),
        (21.0, 24.809, 24.882),
        (25.0, 31.601, 31.699),
    ] {
        let found = water_vapour_pressure(ThermodynamicTemperature::new::<degree_celsius>(celsius))
            .get::<pressure::hectopascal>();
        assert!((found - magnus).abs() < 1e-3, "{celsius} °C: {found}");
        assert!((found / reference - 1.0).abs() < 4e-3);
    }
    let freezing = water_vapour_pressure(ThermodynamicTemperature::new::<degree_celsius>(0.0));
    assert!((freezing.get::<pressure::hectopascal>() - 6.112).abs() < 1e-9);
}
