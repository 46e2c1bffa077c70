//! The amounts that the comments of the example plans state, against what the ledger computes.
//!
//! The comments were worked independently of this program, with molar masses from the PyPI package
//! periodictable 2.1.0 (CIAAW 2021) and the densities of the library.

mod claims;

use plan::{Plan, takes};
use std::path::Path;
use uom::si::amount_of_substance::millimole;
use uom::si::f64::{AmountOfSubstance, Pressure, Volume};
use uom::si::pressure::pascal;
use uom::si::volume::milliliter;

fn read(name: &str) -> std::io::Result<(String, Plan)> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../syntax/tests/plans")
        .join(name);
    let text = std::fs::read_to_string(&path)?;
    let plan = Plan::read(&text);
    Ok((text, plan))
}

/// What the comments at the head of each plan state, as claims.
const STATED: [(&str, &[&str]); 9] = [
    // It has no comment; worked by hand, to one digit more than the editor shows.
    (
        "00-methylenation.prep",
        &[
            "ketone: amount 5.00 mmol, mass 771.27 mg",
            "salt: amount 6.00 mmol, mass 2.1434 g",
            "base: amount 5.75 mmol, volume 2.300 mL",
            "alkene: theory 761.41 mg, expected 647.19 mg, expected amount 4.25 mmol",
        ],
    ),
    (
        "01-grignard.prep",
        &[
            "ketone: mass 3.64 g",
            "bromide: amount 24.0 mmol, mass 3.77 g, volume 2.52 mL",
            "magnesium: amount 26.0 mmol, mass 632 mg",
            "alcohol: theory 5.21 g, expected 4.43 g",
        ],
    ),
    (
        "02-lda-alkylation.prep",
        &[
            "bnbr: mass 1.71 g, volume 1.19 mL",
            "ester: amount 12.0 mmol, mass 1.23 g, volume 1.38 mL",
            "amine: amount 13.5 mmol, mass 1.37 g, volume 1.91 mL",
            "buli: amount 12.5 mmol, volume 5.19 mL",
            "product: theory 1.92 g, expected 1.63 g",
        ],
    ),
    (
        "03-lialh4-fieser.prep",
        &["acid: mass 1.80 g", "lah: amount 15.0 mmol, mass 599 mg"],
    ),
    (
        "04-suzuki.prep",
        &[
            "bromide: mass 935 mg, volume 0.626 mL",
            "boronic: amount 6.00 mmol, mass 732 mg",
            "catalyst: amount 0.150 mmol, mass 173 mg",
            "base: amount 12.5 mmol, volume 6.25 mL",
            "biaryl: theory 921 mg, expected 829 mg",
        ],
    ),
    (
        "05-nah-alkylation.prep",
        &[
            "alcohol: mass 1.36 g, volume 1.37 mL",
            "nah: amount 15.0 mmol, mass 600 mg",
            "bnbr: amount 11.0 mmol, mass 1.88 g, volume 1.31 mL",
            "tbai: amount 0.500 mmol, mass 185 mg",
            "et2nh: amount 3.00 mmol, mass 219 mg, volume 0.311 mL",
            "ether: theory 2.26 g, expected 2.04 g",
        ],
    ),
    (
        "08-hydrogenation.prep",
        &[
            "alkene: mass 1.76 g, volume 1.68 mL",
            "catalyst: amount 0.100 mmol, pure mass 10.6 mg, mass 213 mg",
            "ester: theory 1.78 g, expected 1.73 g",
        ],
    ),
    (
        "09-amide.prep",
        &[
            "acid: mass 1.33 g",
            "amine: amount 5.50 mmol, mass 589 mg, volume 0.601 mL",
            "edc: amount 6.00 mmol, mass 1.15 g",
            "hobt: amount 6.00 mmol, mass 1.01 g",
            "nmm: amount 7.50 mmol, mass 759 mg, volume 0.838 mL",
            "amide: theory 1.77 g, expected 1.60 g",
        ],
    ),
    (
        "11-syringe-pump-dean-stark.prep",
        &[
            "aldehyde: mass 2.40 g, volume 2.34 mL",
            "morpholine: amount 24.0 mmol, mass 2.09 g, volume 2.09 mL",
            "water: theory amount 20.0 mmol, volume 0.36 mL",
            "enamine: theory 3.79 g, expected 3.22 g",
        ],
    ),
];

/// Plan 03 has no equation: its product is written in equivalents.
const WITHOUT_EQUATION: &str = "alcohol: theory 1.66 g, expected 1.50 g";

/// What the comments state of gas and of portions, which the tests below check.
const ELSEWHERE: [(&str, &[&str]); 3] = [
    (
        "03-lialh4-fieser.prep",
        &[
            "0.60 mL", "0.60 mL", "1.8 mL", "10 mmol", "245 mL", "30 mmol", "730 mL",
        ],
    ),
    (
        "05-nah-alkylation.prep",
        &["10 mmol", "245 mL", "5 mmol", "122 mL"],
    ),
    ("08-hydrogenation.prep", &["10.0 mmol", "245 mL"]),
];

#[test]
fn every_stated_amount_is_computed() {
    let mut wrong = Vec::new();
    for (name, lines) in STATED {
        let (_, plan) = read(name).unwrap();
        for line in lines {
            wrong.extend(
                claims::check_line(&plan, line)
                    .1
                    .iter()
                    .map(|reason| format!("{name}: {reason}")),
            );
        }
    }
    let (_, plan) = read("03-lialh4-fieser.prep").unwrap();
    wrong.extend(claims::check_line(&plan, WITHOUT_EQUATION).1);
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

/// The amounts of the comments that stand alone on their line.
fn stated(text: &str) -> Vec<String> {
    let comments: Vec<&str> = text
        .lines()
        .filter_map(|line| line.strip_prefix("# "))
        .flat_map(str::split_whitespace)
        .collect();
    let units = ["mmol", "g", "mg", "mL"];
    comments
        .windows(2)
        .map(|pair| (pair[0], pair[1].trim_end_matches([',', ';', '.'])))
        .filter(|(number, unit)| number.parse::<f64>().is_ok() && units.contains(unit))
        .map(|(number, unit)| format!("{number} {unit}"))
        .collect()
}

#[test]
fn no_stated_amount_is_left_out() {
    for (name, lines) in STATED.iter().skip(1) {
        let (text, _) = read(name).unwrap();
        let elsewhere = ELSEWHERE
            .iter()
            .find(|(other, _)| other == name)
            .map_or(&[][..], |(_, list)| list);
        let extra = if name.starts_with("03") {
            WITHOUT_EQUATION
        } else {
            ""
        };
        let mut claimed: Vec<String> = lines
            .iter()
            .chain([&extra])
            .flat_map(|line| line.split([':', ',']))
            .filter_map(|claim| {
                claim
                    .find(|c: char| c.is_ascii_digit())
                    .map(|at| claim[at..].to_owned())
            })
            .filter(|claim| claims::quantity(claim).is_some())
            .chain(elsewhere.iter().map(|&amount| amount.to_owned()))
            .collect();
        let mut stated = stated(&text);
        claimed.sort();
        stated.sort();
        assert_eq!(stated, claimed, "{name}");
    }
}

/// Volume of a gas at the room's temperature and 101.325 kPa.
fn gas(plan: &Plan, millimoles: f64) -> f64 {
    let molar = chemistry::molar_volume(plan.room.temperature, Pressure::new::<pascal>(101_325.0));
    let volume: Volume = AmountOfSubstance::new::<millimole>(millimoles) * molar;
    volume.get::<milliliter>()
}

#[test]
fn hydrogen() {
    let (_, plan) = read("03-lialh4-fieser.prep").unwrap();
    assert!((gas(&plan, 10.0) - 245.0).abs() <= 0.5);
    // 15 mmol of hydride bring 60 mmol of H; 10 go to gas with the acid and 20 to its carbon.
    assert!((gas(&plan, 60.0 - 10.0 - 20.0) - 730.0).abs() <= 5.0);
    let (_, plan) = read("05-nah-alkylation.prep").unwrap();
    assert!((gas(&plan, 10.0) - 245.0).abs() <= 0.5);
    assert!((gas(&plan, 15.0 - 10.0) - 122.0).abs() <= 0.5);
    // `excess` has no amount; what the alkene takes up is 1 H2.
    let (_, plan) = read("08-hydrogenation.prep").unwrap();
    let line = |name| {
        plan::find_key(&plan.text, name)
            .and_then(|key| plan.material(key))
            .unwrap()
    };
    let (alkene, (hydrogen, amounts)) =
        (line("alkene").1.amount.clone().unwrap(), line("hydrogen"));
    assert!(amounts.amount.is_err());
    let taken = plan.amounts_from(hydrogen, plan::Basis::Amount(alkene));
    assert!((taken.volume.unwrap().value.get::<milliliter>() - 245.0).abs() <= 0.5);
}

#[test]
fn fieser_portions() {
    let (_, plan) = read("03-lialh4-fieser.prep").unwrap();
    let (lah, _) = plan::find_key(&plan.text, "lah")
        .and_then(|key| plan.material(key))
        .unwrap();
    let portions: Vec<f64> = takes::takes(&plan.text)
        .filter_map(|take| {
            let (times, amount, _) = take.quantity()?;
            amount.of.as_ref()?;
            plan.portion(lah, take.line, times, amount)
                .ok()?
                .volume
                .ok()
        })
        .map(|volume| volume.value.get::<milliliter>())
        .collect();
    let printed = [(0.60, 0.005), (0.60, 0.005), (1.8, 0.05)];
    assert_eq!(portions.len(), printed.len(), "{portions:?}");
    for (portion, (value, half_digit)) in portions.iter().zip(printed) {
        assert!(
            (portion - value).abs() <= half_digit,
            "{portion} for {value}"
        );
    }
}
