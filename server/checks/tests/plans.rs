//! Whole plans of a careful chemist: the checks of text and amounts have nothing to say about them.

#![allow(clippy::unwrap_used)]

use checks::Finding;
use plan::Plan;
use std::path::Path;

const OF_TEXT_AND_AMOUNTS: &[&str] = &[
    "decimal-comma",
    "unit",
    "unknown-key",
    "reading",
    "unknown-substance",
    "ambiguous-substance",
    "cas-number",
    "structure",
    "amounts-disagree",
    "scale-not-limiting",
    "equation",
    "portion-exceeds",
    "never-used",
];

fn plans() -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../syntax/tests/plans");
    let files = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path());
    files
        .filter(|path| path.extension().is_some_and(|ext| ext == "prep"))
        .map(|path| {
            (
                path.display().to_string(),
                std::fs::read_to_string(&path).unwrap(),
            )
        })
        .collect()
}

fn findings(text: &str) -> Vec<Finding> {
    let findings = checks::findings(&Plan::read(text));
    findings
        .into_iter()
        .filter(|finding| OF_TEXT_AND_AMOUNTS.contains(&finding.check))
        .collect()
}

#[test]
fn good_plans_are_silent() {
    let plans = plans();
    assert!(plans.len() >= 9, "{} plans", plans.len());
    for (name, text) in plans {
        let findings = findings(&text);
        assert!(findings.is_empty(), "{name}: {findings:#?}");
    }
}

#[test]
fn the_checks_of_text_and_amounts_exist() {
    let missing = |name: &&&str| checks::find(name).is_none();
    assert_eq!(OF_TEXT_AND_AMOUNTS.iter().find(missing), None);
}

/// A fix edits the text that it was made for: in order, without overlap, on whole characters.
#[test]
fn fixes_of_broken_plans_can_be_applied() {
    let slips = [
        (" mL", ""),
        (" eq", ""),
        ("0 ", ",0 "),
        (": ", " "),
        ("5", "7"),
        ("a", "e"),
        (", ", ","),
    ];
    let mut fixes = 0;
    for (name, text) in plans() {
        for (old, new) in slips {
            for (at, _) in text.match_indices(old).step_by(7) {
                let mut broken = text.clone();
                broken.replace_range(at..at + old.len(), new);
                for finding in findings(&broken) {
                    for fix in finding.fixes {
                        let mut end = 0;
                        for (range, _) in &fix.edits {
                            assert!(
                                end <= range.start && range.start <= range.end,
                                "{name}: {fix:?}"
                            );
                            assert!(broken.get(range.clone()).is_some(), "{name}: {fix:?}");
                            end = range.end;
                        }
                        fixes += 1;
                    }
                }
            }
        }
    }
    assert!(fixes > 100, "{fixes} fixes");
}
