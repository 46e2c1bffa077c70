//! The physical constants of the library against sources that they were not taken from. The data files are written by
//! `data/make_densities.py`, which says which sources these are.
//!
//! The import leaves out densities that every correlation contradicts by more than 1.5 %, so for imported rows this
//! holds the reading of the table and the second and third correlation; curated rows were not chosen so.

#![allow(clippy::panic, clippy::unwrap_used, reason = "a test may fail")]

use std::collections::{BTreeMap, BTreeSet};

use chemistry::quantity::mass_density::gram_per_cubic_centimeter;
use chemistry::quantity::thermodynamic_temperature::degree_celsius;
use chemistry::{Substance, find_cas};

const DENSITIES: &str = include_str!("data/densities.tsv");
const POINTS: &str = include_str!("data/points.tsv");

/// Largest deviation of a density from a correlation, as a share.
const DENSITY_SLACK: f64 = 0.02;
/// Densities further apart than that: CAS number, source, reason. There are none.
const DENSITY_OUTLIERS: &[(&str, &str, &str)] = &[];

/// Largest difference of melting and boiling points, in kelvin.
const POINT_SLACK: f64 = 3.000_001;
/// Points further apart than that, and what speaks for the table: the other sources of the package chemicals 1.5.2
/// under the names that `sources.tsv` gives them, in °C.
const POINT_OUTLIERS: &[(&str, &str, &str)] = &[
    (
        "100-52-7",
        "melting",
        "CRC -57.1, ON -56.2; WD and WB have -26",
    ),
    (
        "10028-15-6",
        "melting",
        "CRCI -193.0, WD -192.8, ON -193.0; CS alone has -251",
    ),
    (
        "102-71-6",
        "boiling",
        "YAWS 335.4, WB 335.4; CS alone has 339.9",
    ),
    (
        "102-82-9",
        "boiling",
        "CRC 207.0, WB 206.9; YAWS alone has 214",
    ),
    (
        "105-36-2",
        "boiling",
        "CRC 159.0, WB 158.0; YAWS alone has 168.5",
    ),
    (
        "106-89-8",
        "melting",
        "ON -57.1, WB -58.1; WD alone has -47.8",
    ),
    (
        "108-18-9",
        "melting",
        "open: CRC and ON -61.0; CS, WD and WB -96",
    ),
    (
        "108-32-7",
        "melting",
        "CRC -48.8, WD and ON -49.0; CS alone has -54.5",
    ),
    (
        "108-94-1",
        "melting",
        "CRC -27.9, ON -30.0; a plastic crystal that freezes poorly: CS -31.1, WD -45",
    ),
    (
        "110-89-4",
        "melting",
        "CRC -11.0, WB -11.1, ON -9; WD alone has -7",
    ),
    (
        "112-55-0",
        "boiling",
        "CRC 277.0, YAWS and WB 274.6; WD alone has 247.8",
    ),
    (
        "121-43-7",
        "melting",
        "CRC -29.3, WB -29.9; WD and ON -34, to the degree",
    ),
    (
        "123-75-1",
        "melting",
        "CRC -57.8, ON -60.0, WB -61.2; WD alone has -63",
    ),
    (
        "123-86-4",
        "melting",
        "CRC -77.0, WD -77.2, ON -78; CS and WB -73.5",
    ),
    (
        "1310-58-3",
        "boiling",
        "CRCI 1327, YAWS 1326.8; 3 K in 1600",
    ),
    (
        "149-73-5",
        "boiling",
        "CRC 100, to the ten degrees; WB 102.8, YAWS 104",
    ),
    ("150-76-5", "melting", "CRC 54, WB 52.9, ON 56; WD 57.2"),
    ("32315-10-9", "melting", "CRC 79, ON 81.5; WD 84"),
    ("616-38-6", "melting", "open: CRC and WD -1; CS and ON 3"),
    ("623-73-4", "melting", "CRC and ON -22.0; WD has 154"),
    (
        "7429-90-5",
        "boiling",
        "CRCI 2519, YAWS 2517.7, WB 2519.8; WD alone has 2327",
    ),
    (
        "7439-93-2",
        "boiling",
        "CRCI 1342, YAWS 1341.8; WD alone has 1317",
    ),
    (
        "7439-95-4",
        "boiling",
        "CRCI, YAWS and WB 1090; WD alone has 1100",
    ),
    (
        "7439-96-5",
        "boiling",
        "CRCI and YAWS 2061; WD alone has 1962",
    ),
    (
        "7440-02-0",
        "boiling",
        "CRCI and YAWS 2913; WD alone has 2837",
    ),
    (
        "7440-09-7",
        "boiling",
        "CRCI 759, YAWS 757.9, WB 763.9; WD alone has 774",
    ),
    (
        "7440-50-8",
        "boiling",
        "CRCI 2560, YAWS 2562; WD alone has 2595",
    ),
    (
        "7647-14-5",
        "boiling",
        "CRCI 1465, YAWS 1465.1; WD alone has 1413",
    ),
    (
        "75-31-0",
        "melting",
        "CRC and ON -95.1, WB -95.2; WD alone has -101.1",
    ),
    (
        "79-34-5",
        "melting",
        "CRC -42.3, ON and WB -43.4; WD alone has -36",
    ),
    (
        "85-44-9",
        "boiling",
        "CRC 285.3, YAWS 284.5, WB 284.1; WD alone has 295",
    ),
];

fn rows(table: &'static str) -> impl Iterator<Item = [&'static str; 6]> {
    let cells = |line: &'static str| line.split('\t').collect::<Vec<_>>().try_into().unwrap();
    table.lines().skip(1).map(cells)
}

fn number(cell: &str) -> f64 {
    cell.parse()
        .unwrap_or_else(|_| panic!("{cell:?} is no number"))
}

/// Median, 90 %, 99 % and largest of the deviations.
fn distribution(mut all: Vec<f64>) -> String {
    all.sort_by(f64::total_cmp);
    let at = |share: f64| all.get(((all.len() - 1) as f64 * share) as usize).unwrap();
    format!(
        "{} values: half within {:.3}, 90 % within {:.3}, 99 % within {:.3}, all within {:.3}",
        all.len(),
        at(0.5),
        at(0.9),
        at(0.99),
        at(1.0)
    )
}

/// Every outlier is in the list with its reason, and the list has no others.
fn hold(found: &[(&str, &str)], listed: &[(&str, &str, &str)]) {
    let found: BTreeSet<_> = found.iter().copied().collect();
    let listed: BTreeSet<_> = listed.iter().map(|(cas, what, _)| (*cas, *what)).collect();
    let unlisted: Vec<_> = found.difference(&listed).collect();
    assert!(unlisted.is_empty(), "not listed: {unlisted:?}");
    let needless: Vec<_> = listed.difference(&found).collect();
    assert!(needless.is_empty(), "listed without need: {needless:?}");
}

#[test]
fn densities_agree_with_correlations_of_the_liquid() {
    let (mut outliers, mut by_source) = (Vec::new(), BTreeMap::<_, Vec<f64>>::new());
    let mut compared = BTreeSet::new();
    for [cas, name, density, celsius, correlation, source] in rows(DENSITIES) {
        let row = find_cas(cas)
            .one()
            .unwrap_or_else(|| panic!("{name} is gone: run make_densities.py"));
        let own = row.density().unwrap();
        let value = own.value.get::<gram_per_cubic_centimeter>();
        assert!(
            (value - number(density)).abs() < 1e-9,
            "{name} has changed: run make_densities.py"
        );
        let at = own.at.map(|at| at.get::<degree_celsius>());
        let same_at = at.map_or(celsius.is_empty(), |at| (at - number(celsius)).abs() < 1e-6);
        assert!(same_at, "{name} has changed: run make_densities.py");
        let apart = (value / number(correlation) - 1.0).abs();
        if apart > DENSITY_SLACK {
            println!("{name}: {density} at {celsius} °C, {source} {correlation}");
            outliers.push((cas, source));
        }
        by_source.entry(source).or_default().push(100.0 * apart);
        compared.insert(cas);
    }
    for (source, all) in by_source {
        println!("{source}, %: {}", distribution(all));
    }
    hold(&outliers, DENSITY_OUTLIERS);
    assert!(compared.len() >= 380, "{}", compared.len());
    // What the tables call twice confirmed is among them.
    for row in Substance::all() {
        if row
            .density()
            .is_some_and(|density| density.agrees.is_some())
        {
            assert!(
                row.cas().is_none_or(|cas| compared.contains(cas)),
                "{row:?}"
            );
        }
    }
}

#[test]
fn melting_and_boiling_points_agree_with_another_source() {
    let (mut outliers, mut all) = (Vec::new(), Vec::new());
    let mut compared = BTreeSet::new();
    for [cas, name, property, celsius, other, source] in rows(POINTS) {
        let row = find_cas(cas)
            .one()
            .unwrap_or_else(|| panic!("{name} is gone: run make_densities.py"));
        let own = match property {
            "melting" => row.melting(),
            _ => row.boiling(),
        };
        let value = own.unwrap().value.get::<degree_celsius>();
        assert!(
            (value - number(celsius)).abs() < 1e-6,
            "{name} has changed: run make_densities.py"
        );
        assert_ne!(
            row.source_of(property).map(|first| first.key),
            Some(source),
            "{name}"
        );
        let apart = (value - number(other)).abs();
        if apart > POINT_SLACK {
            println!("{name}, {property}: {celsius}, {source} {other}");
            outliers.push((cas, property));
        }
        all.push(apart);
        compared.insert(cas);
    }
    println!("K: {}", distribution(all));
    hold(&outliers, POINT_OUTLIERS);
    assert!(compared.len() >= 100, "{}", compared.len());
}
