//! Properties of the formula reader that hold for every input.

#![allow(clippy::panic, clippy::unwrap_used, reason = "a test may fail")]

use chemistry::quantity::molar_mass::gram_per_mole;
use chemistry::{Element, Formula, find_cas, find_name, names_starting_with, nearest_names};
use proptest::prelude::*;

fn mass(formula: &Formula) -> f64 {
    formula.molar_mass().unwrap().value.get::<gram_per_mole>()
}

/// Text of a formula: atoms and groups with counts, at most three deep.
fn formula() -> impl Strategy<Value = String> {
    let symbols: Vec<&str> = Element::all()
        .filter(|element| element.standard_weight().is_some())
        .map(Element::symbol)
        .chain(["D", "[13C]", "Me", "Ph"])
        .collect();
    let count = prop_oneof![Just(String::new()), (2..40_u32).prop_map(|n| n.to_string())];
    let atom = (prop::sample::select(symbols), count.clone()).prop_map(|(s, n)| format!("{s}{n}"));
    let group = atom.prop_recursive(3, 12, 4, move |inner| {
        (prop::collection::vec(inner, 1..4), count.clone())
            .prop_map(|(inside, n)| format!("({}){n}", inside.concat()))
    });
    prop::collection::vec(group, 1..5).prop_map(|parts| parts.concat())
}

proptest! {
    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,60}") {
        if let Err(error) = Formula::parse(&text) {
            prop_assert!(error.at + error.len <= text.len());
            prop_assert!(text.get(error.at..error.at + error.len).is_some());
        }
        find_cas(&text);
        find_name(&text);
        nearest_names(&text, 3);
        names_starting_with(&text, 3);
    }

    #[test]
    fn nearly_a_formula_is_read_or_refused(text in "[A-Zaxn0-9()\\[\\].·^+⁺²₂½/ -]{0,40}") {
        match Formula::parse(&text) {
            Ok(formula) => {
                let again = Formula::parse(&formula.to_string()).unwrap();
                prop_assert!(again.same_composition(&formula), "{text} {formula} {again}");
            }
            Err(error) => prop_assert!(text.get(error.at..error.at + error.len).is_some()),
        }
    }

    #[test]
    fn hill_text_keeps_composition_and_mass(text in formula()) {
        let first = Formula::parse(&text).unwrap();
        let second = Formula::parse(&first.to_string()).unwrap();
        prop_assert!(first.same_composition(&second));
        prop_assert!((mass(&first) / mass(&second) - 1.0).abs() < 1e-12);
        prop_assert_eq!(first.to_string(), second.to_string());
    }

    #[test]
    fn mass_is_additive(a in formula(), b in formula(), n in 2..20_u32) {
        let sum = mass(&Formula::parse(&a).unwrap())
            + f64::from(n) * mass(&Formula::parse(&b).unwrap());
        for text in [format!("{a}({b}){n}"), format!("{a}·{n} {b}")] {
            let whole = mass(&Formula::parse(&text).unwrap());
            prop_assert!((whole / sum - 1.0).abs() < 1e-12, "{}", text);
        }
    }
}
