//! Tolerances of measuring tools and the uncertainties that follow.

#![allow(clippy::panic, clippy::unwrap_used, reason = "a test may fail")]

use chemistry::quantity::mass::{gram, milligram};
use chemistry::quantity::volume::{microliter, milliliter};
use chemistry::quantity::{Mass, Volume};
use chemistry::{
    Basis, Class, STANDARD_FLASKS, Tool, combine, next_size, standard_uncertainty, strokes,
    tolerance, tolerance_at, weighing,
};
use proptest::prelude::*;

fn ml(value: f64) -> Volume {
    Volume::new::<milliliter>(value)
}

fn ul(value: f64) -> Volume {
    Volume::new::<microliter>(value)
}

fn half_width(tool: Tool, nominal: f64) -> Option<f64> {
    tolerance(tool, ml(nominal)).map(|found| found.half_width.get::<milliliter>())
}

fn at(tool: Tool, nominal: f64, volume: f64) -> Option<f64> {
    tolerance_at(tool, ml(nominal), ml(volume)).map(|found| found.half_width.get::<milliliter>())
}

fn close(found: Option<f64>, expected: f64) -> bool {
    found.is_some_and(|found| (found - expected).abs() < 1e-9 * expected)
}

#[test]
fn volumetric_flasks() {
    // Eichordnung, Anlage 12, 3.2 (class A), read apart from the limits of ISO 1042:1998 that the
    // table also cites; both agree in every size. EURACHEM/CITAC QUAM, example A1: 100 mL ± 0.1 mL.
    for (nominal, limit) in [
        (10.0, 0.025),
        (20.0, 0.04),
        (25.0, 0.04),
        (50.0, 0.06),
        (100.0, 0.10),
        (200.0, 0.15),
        (250.0, 0.15),
        (500.0, 0.25),
        (1000.0, 0.4),
        (2000.0, 0.6),
        (3000.0, 0.8),
        (5000.0, 1.2),
        (10_000.0, 2.0),
    ] {
        let found = half_width(Tool::VolumetricFlask(Class::A), nominal);
        assert!(close(found, limit), "{nominal} mL: {found:?}");
        // ASTM E288, 1.1.2: class B within twice class A.
        let found = half_width(Tool::VolumetricFlask(Class::B), nominal);
        assert!(close(found, 2.0 * limit), "{nominal} mL, B: {found:?}");
    }
    let flask = tolerance(Tool::VolumetricFlask(Class::A), ml(100.0)).unwrap();
    assert_eq!(flask.basis, Basis::Limit);
    assert_eq!(flask.source.key, "ISO1042");
    assert_eq!(flask.second.map(|source| source.key), Some("EICHO"));
}

#[test]
fn pipettes_and_burettes() {
    // ISO 648:2008, class A and AS. The free textbook lesmanuelslibres (chemistry, terminale) also
    // reads ± 0.02 mL off a 10 mL pipette.
    assert!(close(half_width(Tool::BulbPipette(Class::A), 1.0), 0.008));
    assert!(close(half_width(Tool::BulbPipette(Class::A), 10.0), 0.02));
    assert!(close(half_width(Tool::BulbPipette(Class::A), 25.0), 0.03));
    // ISO 835:2007, class A and AS.
    let graduated = Tool::GraduatedPipette(Class::A);
    assert!(close(half_width(graduated, 5.0), 0.03));
    assert!(close(half_width(graduated, 10.0), 0.05));
    // ISO 385:2005; niito.kz, burette accuracy guide: 50 mL ± 0.05 mL (A), ± 0.10 mL (B).
    assert!(close(half_width(Tool::Burette(Class::A), 50.0), 0.05));
    assert!(close(half_width(Tool::Burette(Class::B), 50.0), 0.10));
    // The notes on UNE-EN ISO 385 give the finer scales 0.02 and 0.03 mL: none is promised too much.
    for (nominal, finer) in [(10.0, 0.02), (25.0, 0.03)] {
        assert!(half_width(Tool::Burette(Class::A), nominal).is_some_and(|wide| wide >= finer));
    }
}

#[test]
fn cylinders_are_no_narrower_than_either_source() {
    // ASTM E1272-02(2012), table 1: limits of class A and B, and the coarsest division, half of
    // which the Eichordnung (Anlage 12, 5.2) allows.
    for (nominal, a, b, division) in [
        (5.0, 0.05, 0.10, 0.1),
        (10.0, 0.10, 0.20, 0.2),
        (25.0, 0.17, 0.34, 0.5),
        (50.0, 0.25, 0.50, 1.0),
        (100.0, 0.50, 1.00, 1.0),
        (250.0, 1.00, 2.00, 2.0),
        (500.0, 2.00, 4.00, 5.0),
    ] {
        let found = half_width(Tool::Cylinder(Class::A), nominal);
        assert!(
            close(found, f64::max(a, division / 2.0)),
            "{nominal}: {found:?}"
        );
        assert!(half_width(Tool::Cylinder(Class::B), nominal).is_some_and(|wide| wide > b - 1e-9));
    }
}

#[test]
fn piston_pipettes_keep_the_limit_of_their_nominal_volume() {
    // Gilson Guide to Pipetting on ISO 8655: a 10-100 µL pipette, 0.8 µL and 0.3 µL throughout.
    // Calibration of micropipettes, tsijournals.com 2019, table 2: 8 µL and 3 µL for 200, 500 and
    // 1000 µL of a 1000 µL pipette.
    for (nominal, set, systematic, random) in [
        (100.0, 100.0, 0.8, 0.3),
        (100.0, 10.0, 0.8, 0.3),
        (1000.0, 1000.0, 8.0, 3.0),
        (1000.0, 500.0, 8.0, 3.0),
        (1000.0, 200.0, 8.0, 3.0),
    ] {
        let found = tolerance_at(Tool::PistonPipette, ul(nominal), ul(set)).unwrap();
        let in_microlitres = |volume: Volume| volume.get::<microliter>();
        assert!(close(Some(in_microlitres(found.half_width)), systematic));
        assert!(close(found.repeatability.map(in_microlitres), random));
        // a/√3 and the standard deviation in quadrature (JCGM 100:2008, 4.3.7 and 5.1.2).
        let expected = (systematic * systematic / 3.0 + random * random).sqrt();
        let combined = in_microlitres(found.standard_uncertainty());
        assert!(close(Some(combined), expected), "{combined}");
    }
}

#[test]
fn syringes() {
    let disposable = Tool::DisposableSyringe;
    // P. Phillips, Surgical Materials Testing Laboratory, on ISO 7886-1, table 1: 4 mL out of a
    // 10 mL syringe is 1.5 % of 10 mL and 1 % of 4 mL; 1 mL syringes 1.5 % and 2 % below half,
    // 5 % of the volume from half on.
    assert!(close(at(disposable, 10.0, 4.0), 0.19));
    assert!(close(at(disposable, 1.0, 0.2), 0.015 + 0.004));
    assert!(close(at(disposable, 1.0, 0.5), 0.025));
    assert!(close(at(disposable, 1.0, 1.0), 0.05));
    // UKAS LAB15, 3.2.5: plastic typically 5 %, high-precision glass better than 1 %.
    let plastic = tolerance_at(disposable, ml(20.0), ml(15.0)).unwrap();
    assert_eq!(plastic.basis, Basis::Typical);
    assert!(close(at(disposable, 20.0, 15.0), 0.75));
    assert!(close(at(Tool::GlassSyringe, 5.0, 2.5), 0.025));
    // No source read says anything of a nearly empty one.
    assert_eq!(at(disposable, 20.0, 5.0), None);
    assert_eq!(at(Tool::GlassSyringe, 5.0, 1.0), None);
}

#[test]
fn no_claim_without_a_source() {
    assert_eq!(half_width(Tool::VolumetricFlask(Class::A), 75.0), None);
    assert_eq!(half_width(Tool::Cylinder(Class::A), 2000.0), None);
    assert_eq!(at(Tool::BulbPipette(Class::A), 10.0, 5.0), None);
    assert_eq!(at(Tool::Burette(Class::A), 50.0, 51.0), None);
    assert!(close(at(Tool::Burette(Class::A), 50.0, 18.64), 0.05));
    for odd in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(half_width(Tool::PistonPipette, odd), None, "{odd}");
        assert_eq!(half_width(Tool::GlassSyringe, odd), None, "{odd}");
        assert_eq!(at(Tool::Burette(Class::A), 50.0, odd), None, "{odd}");
    }
    assert_eq!(weighing(Mass::new::<gram>(0.1)), None);
}

#[test]
fn balances() {
    // Torbal Scales, Range of balances and scales: ± 0.2 mg and ± 2.0 mg; Shimadzu, balance FAQ 8:
    // 0.01 g with linearity ± 0.02 g and σ = 0.01 g.
    for (readability, linearity) in [(0.1, 0.2), (1.0, 2.0), (10.0, 20.0)] {
        let found = weighing(Mass::new::<milligram>(readability)).unwrap();
        assert!(close(Some(found.half_width.get::<milligram>()), linearity));
        assert_eq!(found.basis, Basis::Typical);
    }
    let coarse = weighing(Mass::new::<gram>(0.01)).unwrap();
    assert!(close(
        coarse.repeatability.map(|random| random.get::<gram>()),
        0.01
    ));
}

/// Half-width over √6: the triangular distribution, which QUAM takes for glassware.
fn triangular(half_width: f64) -> f64 {
    half_width / 6_f64.sqrt()
}

#[test]
fn calibration_standard_of_cadmium() {
    // EURACHEM/CITAC QUAM, example A1, as computed by GTC (MSLNZ), docs/API/CITAC_A1.rst:
    // u(c) = 0.835199 mg/L, of which purity 0.0578967 and flask 0.40935; the guide rounds to 0.9.
    let (purity, mass, volume) = (0.9999, 100.28, 100.0);
    let c = 1000.0 * mass * purity / volume;
    let flask = half_width(Tool::VolumetricFlask(Class::A), volume).unwrap();
    let filled = combine(&[triangular(flask), 0.02, standard_uncertainty(0.084)]);
    let relative = combine(&[
        standard_uncertainty(0.0001) / purity,
        0.05 / mass,
        filled / volume,
    ]);
    assert!((c * relative - 0.835_199).abs() < 5e-7, "{}", c * relative);
    assert!((c * standard_uncertainty(0.0001) / purity - 0.057_896_7).abs() < 5e-8);
    assert!((c * triangular(flask) / volume - 0.409_35).abs() < 5e-6);
    // Its table A1.1, with the rounded contributions 0.000058, 0.0005 and 0.0007: 0.0009.
    assert!((combine(&[0.000_058, 0.0005, 0.0007]) - 0.0009).abs() < 5e-5);
}

#[test]
fn standardised_sodium_hydroxide() {
    // EURACHEM/CITAC QUAM, example A2, as computed by GTC (MSLNZ), docs/API/CITAC_A2.rst:
    // u(c) = 0.000 100 500 722 mol/L; the guide's table A2.1 gives 0.00010 and relative 0.00097.
    let (mass, molar_mass, volume) = (0.3888_f64, 204.2212, 18.64);
    let c = 1000.0 * mass / (molar_mass * volume);
    assert!((c - 0.102_136_159_7).abs() < 5e-11);
    let weighed = combine(&[standard_uncertainty(0.15e-3), standard_uncertainty(0.15e-3)]);
    let elements = combine(&[
        8.0 * standard_uncertainty(0.0008),
        5.0 * standard_uncertainty(0.000_07),
        4.0 * standard_uncertainty(0.0003),
        standard_uncertainty(0.0001),
    ]);
    let titrated = combine(&[triangular(0.03), 0.006]);
    let relative = combine(&[
        weighed / mass,
        standard_uncertainty(0.0005),
        elements / molar_mass,
        titrated / volume,
        0.0005,
    ]);
    assert!(
        (c * relative - 0.000_100_500_722_124).abs() < 5e-16,
        "{}",
        c * relative
    );
    let table = combine(&[0.0005, 0.000_33, 0.000_29, 0.000_019, 0.0007]);
    assert!((table - 0.000_97).abs() < 5e-6, "{table}");
}

#[test]
fn strokes_of_a_syringe() {
    assert_eq!(strokes(ml(2.30), ml(5.0)), Some(1));
    assert_eq!(strokes(ml(20.0), ml(5.0)), Some(4));
    assert_eq!(strokes(ml(20.1), ml(5.0)), Some(5));
    // 0.3/0.1 is not 3 in binary.
    assert_eq!(strokes(ml(0.3), ul(100.0)), Some(3));
    assert_eq!(strokes(ml(0.0), ml(5.0)), Some(0));
    for (volume, capacity) in [
        (1.0, 0.0),
        (1.0, -1.0),
        (-1.0, 5.0),
        (f64::NAN, 5.0),
        (1.0, f64::NAN),
        (1e12, 1e-9),
        (f64::INFINITY, 5.0),
    ] {
        assert_eq!(strokes(ml(volume), ml(capacity)), None);
    }
}

#[test]
fn flask_sizes() {
    let size = |volume| next_size(ml(volume)).map(|size| size.get::<milliliter>().round());
    // ISO 24450 sizes: 50, 100, 250, 500, 1000, 2000 and 10 000 mL.
    for iso in [50.0, 100.0, 250.0, 500.0, 1000.0, 2000.0, 10_000.0] {
        assert_eq!(size(iso), Some(iso));
    }
    assert_eq!(size(0.0), Some(5.0));
    assert_eq!(size(101.0), Some(250.0));
    assert_eq!(size(1e6), None);
    assert_eq!(size(-1.0), None);
    assert_eq!(size(f64::NAN), None);
    assert!(STANDARD_FLASKS.is_sorted());
}

proptest! {
    #[test]
    fn fillings_hold_the_volume_and_one_less_does_not(
        volume in 1e-3..1e4_f64, capacity in 1e-3..1e4_f64,
    ) {
        let count = f64::from(strokes(ml(volume), ml(capacity)).unwrap());
        prop_assert!(count * capacity >= volume * (1.0 - 2e-6));
        prop_assert!((count - 1.0) * capacity < volume);
    }

    #[test]
    fn a_class_b_tool_is_never_promised_more(nominal in prop::sample::select(STANDARD_FLASKS)) {
        for tool in [Tool::VolumetricFlask, Tool::BulbPipette, Tool::GraduatedPipette,
                     Tool::Burette, Tool::Cylinder] {
            let (a, b) = (half_width(tool(Class::A), nominal), half_width(tool(Class::B), nominal));
            prop_assert_eq!(a.is_some(), b.is_some());
            prop_assert!(a <= b);
        }
    }
}
