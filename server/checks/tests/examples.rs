//! The examples that a newcomer opens first: the careful ones give nothing to say, and the one with slips in it
//! gives each of its slips, at its line.

#![allow(clippy::unwrap_used)]

use plan::inventory::Inventory;
use plan::{Context, Date, Kept, Plan};
use std::path::Path;
use std::sync::Arc;

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
    for example in [
        "methylenation.prep",
        "swern.prep",
        "silyl-ether.prep",
        "ester-series.prep",
    ] {
        assert_eq!(found(example), [], "{example}");
    }
}

/// Five days after the titre, on the day that the plan was written for.
#[test]
fn the_plan_with_bottles_is_left_in_peace() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let read = |file| std::fs::read_to_string(folder.join(file)).unwrap();
    let inventory = Inventory::read(&read("inventory.toml"));
    assert_eq!(inventory.problems, []);
    let context = Context {
        inventory: Some(Arc::new(inventory)),
        today: Date::new(2026, 11, 25),
        ..Context::default()
    };
    let text = Arc::new(syntax::read_plan(&read("ethyl-addition.prep")));
    let plan = Plan::with_context(text, &context);
    assert_eq!(checks::findings(&plan), []);
    let named = plan.materials.iter().filter_map(|m| m.named.as_ref());
    assert_eq!(named.filter(|named| named.bottle().is_some()).count(), 3);
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
