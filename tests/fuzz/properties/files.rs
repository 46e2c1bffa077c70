//! Inventories and settings: problems have a place and words, and a plan can be worked out against what was read.

use ide::Document;
use plan::inventory::Inventory;
use plan::settings::Settings;
use plan::{Context, Date, Kept, Problem};
use std::sync::Arc;

pub fn holds(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    let inventory = Inventory::read(text);
    let settings = Settings::read(text);
    assert_eq!(**inventory.text(), *text);
    assert_eq!(**settings.text(), *text);
    let problems = [
        inventory.problems().to_vec(),
        settings.problems().to_vec(),
        checks::problems(&settings),
    ];
    for Problem { range, message } in problems.iter().flatten() {
        assert!(text.get(range.clone()).is_some(), "{range:?} of {text:?}");
        assert!(!message.is_empty());
    }
    let mut plan = String::from("plan A\nscale 1.00 mmol b0\nmaterials\n");
    for (bottle, number) in inventory.bottles.iter().zip(0..4) {
        plan += &format!("  b{number}: water, bottle {}, 1.00 eq\n", bottle.name);
        let _ = (
            inventory.find(&bottle.name),
            inventory.nearest(&bottle.name),
        );
    }
    plan += "equipment\n  flask: 50 mL flask\nsteps\n  add b0, b1 in flask via syringe\n  stir for 2 h\n";
    let context = Context {
        inventory: (!inventory.bottles.is_empty()).then(|| Arc::new(inventory)),
        settings: Arc::new(settings),
        today: Date::new(2026, 1, 2),
    };
    let document = Document::with_context(&plan, context);
    let _ = (
        document.findings(),
        document.inlay_hints(0..plan.len()),
        document.lenses(true),
    );
    for at in 0..plan.len() {
        if plan.is_char_boundary(at) && at % 7 == 0 {
            let _ = document.hover(at);
        }
    }
}
