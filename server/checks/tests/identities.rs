//! Identities: whatever stands in their place no check panics, and what is found and mended lies within the text; and
//! what the library says of one substance is no contradiction.

#![allow(clippy::unwrap_used)]

use chemistry::{Formula, Substance};
use plan::Plan;
use proptest::prelude::*;

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_identity_can_be_checked(
        before in prop::sample::select(vec!["", "SMILES ", "InChI=1S/", "formula ", "CAS ", "acetone, formula ", "acetone, CAS ", "acetone, MW "]),
        text in prop_oneof![
            "\\PC{0,30}",
            "[A-Zabclnos0-9()=#@+\\[\\]./%·^-]{0,30}",
            "[CHONDPSd0-9/(),;+a-z-]{0,30}",
            "[0-9]{2,7}-[0-9]{2}-[0-9]",
        ],
        coefficient in any::<u32>(),
    ) {
        let text = format!(
            "plan a\nscale 1 mmol x\nreaction {coefficient} x + 1/{coefficient} {text} -> 2 y\nmaterials\n  x: {before}{text}, 1.0 eq\nproducts\n  y: {text}\n"
        );
        for finding in checks::findings(&Plan::read(&text)) {
            prop_assert!(!finding.message.is_empty());
            for (range, _) in finding.fixes.iter().flat_map(|fix| &fix.edits) {
                prop_assert!(text.get(range.clone()).is_some(), "{finding:?}");
            }
        }
    }
}

#[test]
fn what_the_library_says_of_a_substance_agrees() {
    let mut lines = Vec::new();
    for row in Substance::all() {
        let (Some(cas), Some(formula)) = (row.cas(), row.formula()) else {
            continue;
        };
        let smiles = row
            .smiles()
            .map_or_else(String::new, |smiles| format!(", SMILES {smiles}"));
        // Of the other names those that read as formulae are the ones that could say something else.
        let names = row
            .synonyms()
            .filter(|name| Formula::parse(name).is_ok())
            .chain([row.name()]);
        lines.extend(names.map(|name| format!("{name}, CAS {cas}, formula {formula}{smiles}")));
    }
    assert!(lines.len() > 7_000, "{}", lines.len());
    let mut contradicted = Vec::new();
    for lines in lines.chunks(50) {
        let lines = lines.iter().enumerate();
        let materials: String = lines.map(|(n, line)| format!("  x{n}: {line}\n")).collect();
        let plan = Plan::read(&format!("plan a\nmaterials\n{materials}"));
        let mut findings = Vec::new();
        for check in ["cas-number", "structure"] {
            (checks::find(check).unwrap().run)(&checks::Survey::new(&plan), &mut findings);
        }
        contradicted.extend(findings.into_iter().map(|finding| finding.message));
    }
    // The library has these as names of the rows of P2O5 and of S; as formulae they say more.
    let expected = ["The name means O10P4 ", "The name means S8 "];
    assert_eq!(contradicted.len(), expected.len(), "{contradicted:#?}");
    for (found, expected) in contradicted.iter().zip(expected) {
        assert!(found.starts_with(expected), "{found}");
    }
}
