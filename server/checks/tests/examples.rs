//! The examples that a newcomer opens first: the careful ones give nothing to say, and the one with slips in it
//! gives each of its slips, at its line.

#![allow(clippy::unwrap_used)]

use plan::Plan;
use std::path::Path;

fn found(example: &str) -> Vec<(u32, &'static str)> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../examples")
        .join(example);
    let plan = Plan::read(&std::fs::read_to_string(path).unwrap());
    checks::findings(&plan)
        .into_iter()
        .map(|finding| (finding.at.line + 1, finding.check))
        .collect()
}

#[test]
fn careful_plans_are_left_in_peace() {
    for example in ["methylenation.prep", "swern.prep", "silyl-ether.prep"] {
        assert_eq!(found(example), [], "{example}");
    }
}

#[test]
fn every_slip_is_found() {
    assert_eq!(
        found("slips.prep"),
        [
            (2, "scale-not-limiting"),
            (3, "equation"),
            (6, "amounts-disagree"),
            (9, "solvent-dryness"),
            (10, "decimal-comma"),
            (11, "never-used"),
            (23, "solvent-wet-into-heat"),
            (27, "atmosphere-missing"),
            (27, "overfilled"),
            (29, "portion-exceeds"),
            (31, "unknown-key"),
            (32, "unit"),
        ]
    );
}
