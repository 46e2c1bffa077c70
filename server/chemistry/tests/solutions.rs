//! Solutions that go by name or by a word.

#![allow(clippy::panic, clippy::unwrap_used, reason = "a test may fail")]

use chemistry::quantity::MolarConcentration;
use chemistry::quantity::mass_density::gram_per_cubic_centimeter;
use chemistry::quantity::molar_concentration::mole_per_liter;
use chemistry::quantity::molar_mass::gram_per_mole;
use chemistry::quantity::ratio::ratio;
use chemistry::{
    Formula, Solution, SolutionForm, Substance, find_name, find_solution, find_solution_name,
};

fn named(name: &str) -> Substance {
    find_name(name).one().unwrap_or_else(|| panic!("{name}"))
}

fn strength(solution: Option<Solution>) -> Option<&'static str> {
    solution.map(|solution| solution.strength)
}

/// Every row of the table, by its first name.
fn all() -> Vec<Solution> {
    let table = include_str!("../data/solutions.tsv");
    let names = table
        .lines()
        .skip(1)
        .filter_map(|line| line.split('\t').nth(6));
    names
        .filter_map(|names| find_solution_name(names.split(" | ").next()?))
        .collect()
}

#[test]
fn names_of_the_bench() {
    let brine = find_solution_name("brine").unwrap();
    assert_eq!(brine.solute, named("sodium chloride"));
    assert_eq!(brine.carrier, "water");
    assert_eq!(
        Some(brine),
        find_solution(named("NaCl"), SolutionForm::Saturated, None)
    );
    for spelling in [
        "conc. HCl",
        "Conc. HCl",
        "conc. hydrochloric acid",
        "conc.HCl",
    ] {
        let found = find_solution_name(spelling);
        assert_eq!(
            found.as_ref().map(|s| s.solute),
            Some(named("HCl")),
            "{spelling}"
        );
        assert_eq!(strength(found), Some("37 wt%"), "{spelling}");
    }
    for unknown in ["", "no such thing", "conc. brine"] {
        assert_eq!(find_solution_name(unknown), None);
    }
}

#[test]
fn strengths_are_matched_closely_or_not_at_all() {
    let acid = named("hydrogen chloride");
    let by_mass = |w| strength(find_solution(acid, SolutionForm::MassFraction(w), None));
    assert_eq!(by_mass(0.37), Some("37 wt%"));
    assert_eq!(by_mass(0.368), Some("37 wt%"));
    assert_eq!(by_mass(0.36), Some("36 wt%"));
    for unknown in [0.33, 0.4, 0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(by_mass(unknown), None, "{unknown}");
    }
    let molar = |c| SolutionForm::Molarity(MolarConcentration::new::<mole_per_liter>(c));
    assert_eq!(strength(find_solution(acid, molar(2.0), None)), Some("2 M"));
    assert_eq!(find_solution(acid, molar(2.2), None), None);
    assert_eq!(
        find_solution(acid, SolutionForm::Concentrated, None),
        find_solution_name("conc. HCl")
    );
    assert_eq!(find_solution(acid, SolutionForm::Glacial, None), None);
    assert_eq!(
        find_solution(acid, SolutionForm::Concentrated, Some("1,4-dioxane")),
        None
    );
    let undiluted = find_solution(named("AcOH"), SolutionForm::Glacial, None);
    assert_eq!(strength(undiluted), Some("glacial"));
}

/// c = w ρ / M: many rows have density and molarity from publications that print both, so that
/// this holds one against the other.
#[test]
fn molarity_follows_from_density_and_mass_fraction() {
    let mut compared = 0;
    for solution in all() {
        let formula = Formula::parse(solution.solute.formula().unwrap()).unwrap();
        let mass = formula.molar_mass().unwrap().value.get::<gram_per_mole>();
        if let (Some(molarity), Some(density), Some(fraction)) =
            (solution.molarity, solution.density, solution.mass_fraction)
        {
            let density = density.value.get::<gram_per_cubic_centimeter>();
            let expected = 1000.0 * density * fraction.get::<ratio>() / mass;
            let found = molarity.value.get::<mole_per_liter>();
            assert!(
                (found / expected - 1.0).abs() < 0.012,
                "{solution:?} {expected}"
            );
            compared += 1;
        }
    }
    assert!(compared >= 30, "{compared}");
}

#[test]
fn a_defined_strength_is_exact() {
    let solution = find_solution_name("2 M HCl").unwrap();
    let molarity = solution.molarity.unwrap();
    assert_eq!(molarity.value.get::<mole_per_liter>(), 2.0);
    assert_eq!(molarity.half_width.get::<mole_per_liter>(), 0.0);
    let measured = find_solution_name("conc. HCl").unwrap().molarity.unwrap();
    assert!(measured.half_width.get::<mole_per_liter>() > 0.0);
}
