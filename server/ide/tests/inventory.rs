//! Bottles in an editor's terms.

#![allow(clippy::unwrap_used)]

use ide::{DefinitionFile, Document};
use plan::inventory::Inventory;
use plan::{Context, Date, Kept};
use std::sync::Arc;

const BOTTLES: &str = r#"[[bottle]]
name = "etmgbr-2"
substance = "ethylmagnesium bromide"
strength = "3.0 M in diethyl ether"
titre = "2.87 M"
titred = 2026-03-21
left = "85 mL"
place = "fridge 2, box C"
opened = 2026-02-01
"#;

const PLAN: &str = "\
plan A
scale 10.0 mmol ketone
materials
  ketone: acetone, 1.00 eq
  reagent: ethylmagnesium bromide, bottle etmgbr-2, 1.20 eq
steps
  add reagent
";

fn context(inventory: &str) -> Context {
    Context {
        inventory: Some(Arc::new(Inventory::read(inventory))),
        today: Date::new(2026, 3, 31),
        ..Context::default()
    }
}

fn hint(document: &Document) -> String {
    let hints = document.inlay_hints(0..PLAN.len());
    hints.into_iter().nth(1).unwrap().label
}

#[test]
fn other_surroundings_work_every_plan_out_anew() {
    let mut document = Document::new(PLAN);
    let codes = |document: &Document| -> Vec<&str> {
        document
            .findings()
            .iter()
            .map(|finding| finding.check)
            .collect()
    };
    assert!(codes(&document).contains(&"bottle-unknown"));
    let bench = context(BOTTLES);
    assert!(document.set_context(bench.clone()));
    assert!(!document.set_context(bench));
    assert!(!codes(&document).contains(&"bottle-unknown"));
    // 12.0 mmol over 2.87 mol/L, and over 2.00 mol/L.
    assert!(
        hint(&document).starts_with("4.18 mL"),
        "{}",
        hint(&document)
    );
    assert!(document.set_context(context(&BOTTLES.replace("2.87", "2.00"))));
    assert!(
        hint(&document).starts_with("6.00 mL"),
        "{}",
        hint(&document)
    );
    // An edit keeps the surroundings.
    let at = PLAN.find("1.20").unwrap();
    document.edit(at..at + 4, "2.40");
    assert!(
        hint(&document).starts_with("12.0 mL"),
        "{}",
        hint(&document)
    );
}

#[test]
fn a_bottle_is_shown_and_found() {
    let document = Document::with_context(PLAN, context(BOTTLES));
    let at = PLAN.find("etmgbr-2").unwrap() + 2;
    let hover = document.hover(at).unwrap();
    assert_eq!(&PLAN[hover.range], "bottle etmgbr-2");
    for part in [
        "fridge 2, box C",
        "85 mL left",
        "2.87 M (2026-03-21, 10 days ago)",
        "opened 2026-02-01, 58 days ago",
    ] {
        assert!(hover.markdown.contains(part), "{}", hover.markdown);
    }
    let definition = document.definition(at).unwrap();
    assert_eq!(definition.file, DefinitionFile::Inventory);
    assert_eq!(&BOTTLES[definition.range], "\"etmgbr-2\"");
    assert_eq!(Document::new(PLAN).definition(at), None);
}

#[test]
fn a_key_is_found_on_its_line() {
    let text = format!("# one\n{PLAN}");
    let document = Document::new(&text);
    let step = text.find("add reagent").unwrap() + 6;
    let definition = document.definition(step).unwrap();
    assert_eq!(definition.file, DefinitionFile::Here);
    let line = text.find("reagent:").unwrap();
    assert_eq!(definition.range, line..line + 7);
    assert_eq!(document.definition(0), None);
}

#[test]
fn what_is_wrong_with_an_inventory_has_its_place() {
    let text = BOTTLES.replace("\"85 mL\"", "85");
    let findings = ide::file_findings("inventory", Inventory::read(&text).problems());
    assert_eq!(findings.len(), 1);
    assert_eq!(&text[findings[0].range.clone()], "85");
}
