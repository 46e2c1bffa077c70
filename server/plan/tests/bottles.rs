//! What is on the bottle, in the ways in which chemists write it. Volumes of common acids and bases per litre of 1 M
//! were read in "Composition of concentrated reagent-grade acids" (ACS specifications as reprinted) for `published.prep`;
//! here the same bottle written in other words has to give the same.

use plan::Plan;
use uom::si::mass::milligram;
use uom::si::volume::milliliter;

fn measures(line: &str) -> (Option<f64>, Option<f64>) {
    let plan = Plan::read(&format!(
        "plan A\nscale 20.0 mmol a\nmaterials\n  a: benzaldehyde, 1.00 eq\n  x: {line}\n"
    ));
    let amounts = &plan.ledger.amounts[1];
    let mass = amounts
        .mass
        .as_ref()
        .ok()
        .map(|known| known.value.get::<milligram>());
    let volume = amounts
        .volume
        .as_ref()
        .ok()
        .map(|known| known.value.get::<milliliter>());
    (mass, volume)
}

#[test]
fn percent_alone_is_the_solution_that_the_library_knows() {
    for (percent, by_mass) in [
        ("HCl, 37 %, 1 eq", "HCl, 37 wt% in water, 1 eq"),
        ("HBr, 48 %, 1 eq", "HBr, 48 wt% in water, 1 eq"),
        ("HNO3, 65 %, 1 eq", "HNO3, 65 wt% in water, 1 eq"),
        ("H2O2, 30 %, 1 eq", "H2O2, 30 wt% in water, 1 eq"),
        ("H2SO4, 50 %, 1 eq", "H2SO4, 50 wt% in water, 1 eq"),
    ] {
        let (mass, volume) = measures(percent);
        assert!(volume.is_some() && mass.is_some(), "{percent}");
        assert_eq!((mass, volume), measures(by_mass), "{percent}");
    }
    // By hand: 20 mmol of 36.458 g/mol at 37 % are 1.971 g, at 1.18 g/mL 1.67 mL; 12.0 M gives 1.67 mL.
    let volume = measures("HCl, 37 %, 1 eq").1.unwrap();
    assert!((volume - 1.67).abs() < 0.02, "{volume}");
}

#[test]
fn an_unknown_dilution_has_no_volume() {
    for line in [
        "acetic acid, 50 %, 1 eq",
        "hydrazine, 35 %, 1 eq",
        "methylamine, 40 %, 1 eq",
    ] {
        let (mass, volume) = measures(line);
        assert!(mass.is_some() && volume.is_none(), "{line}");
    }
    assert!(measures("N,N-dimethylformamide, 99.8 %, 1 eq").1.is_some());
}

#[test]
fn brackets_say_the_strength_too() {
    assert_eq!(
        measures("n-BuLi (2.5 M in hexanes), 1.1 eq"),
        measures("n-BuLi, 2.5 M in hexanes, 1.1 eq")
    );
    // By hand: 30 mmol of 23.998 g/mol at 60 % are 1.20 g.
    let mass = measures("NaH (60% in oil), 1.5 eq").0.unwrap();
    assert!((mass - 1200.0).abs() < 1.0, "{mass}");
    assert!(
        measures("2,6-di-tert-butyl-4-methylphenol (BHT), 1 eq")
            .0
            .is_some()
    );
}

#[test]
fn nothing_is_measured_without_a_strength_or_from_a_line_that_does_not_read() {
    for line in [
        "nBuLi, 1.1 eq",
        "PhMgBr, 1.1 eq",
        "LDA, 1.1 eq",
        "nBuLi, 1,6 M in hexane, 1.1 eq",
        "acetic acid, d 1,05, 1 eq",
        "LiHMDS, d 0.89, 1.2 eq",
        "LiEt3BH, 1.2 eq",
        "H2O2, 1.0 eq",
        "TBAF, 1.1 eq",
        "SmI2, 2.2 eq",
        "BH3·THF, 1 eq",
        "Pd/C, 5 mol%",
        // Which of the two was meant nobody knows.
        "benzoic acid, 1.1 eq, 2,5 g",
    ] {
        assert_eq!(measures(line), (None, None), "{line}");
    }
}

/// Normality over acidic protons or hydroxides, by hand: 20.0 mmol at 2 N are 10 mL of a monoprotic acid, and 20 mL of
/// sulfuric acid, which is then 1 M.
#[test]
fn normality_counts_protons() {
    for (line, litres) in [
        ("HCl, 2.0 N, 1 eq", 10.0),
        ("2.0 N sodium hydroxide, 1 eq", 10.0),
        ("sulfuric acid, 2.0 N, 1 eq", 20.0),
        ("sulfuric acid, 2.0 N, found 1.6 N, 1 eq", 25.0),
        ("oxalic acid, 2.0 N, 1 eq", 20.0),
        ("citric acid, 2.0 N, 1 eq", 30.0),
    ] {
        let (_, volume) = measures(line);
        assert!(
            volume.is_some_and(|volume| (volume - litres).abs() < 1e-9),
            "{line}: {volume:?}"
        );
    }
    for line in [
        "phosphoric acid, 2.0 N, 1 eq",
        "frobnitzic acid, MW 200.0, 2.0 N, 1 eq",
        "potassium permanganate, 0.1 N, 1 eq",
        "HCl, 2.0 M, found 1.9 N, 1 eq",
    ] {
        let volume = measures(line).1;
        let known = line.starts_with("HCl");
        assert_eq!(volume.is_some(), known, "{line}: {volume:?}");
    }
}
