//! Runs of a plan in the editor.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use ide::{ActionKind, Document, SemanticKind, SymbolKind};

const PLAN: &str = "\
plan Esters
scale 2.00 mmol acid
materials
  acid:    benzoic acid, 1.00 eq
  dcm:     dichloromethane, solvent, 10 mL
equipment
  flask: 50 mL flask
steps
  add acid, dcm
runs
  A: 2.00 mmol
  B: 0.500 mmol, acid is nicotinic acid, 98 %
plan Next
";

fn place(words: &str) -> usize {
    PLAN.find(words).unwrap()
}

#[test]
fn hover_has_the_amounts_of_a_run_and_the_totals_of_all() {
    let document = Document::new(PLAN);
    let hover = |words| document.hover(place(words) + 1).unwrap().markdown;
    // 123.111 g/mol: 0.500 mmol are 61.6 mg, 62.8 mg at 98 %.
    let b = hover("  B: 0.500");
    assert!(b.contains("| 62.8 mg | acid | nicotinic acid |"), "{b}");
    assert!(b.contains("| 2.50 mL | dcm |"), "{b}");
    let all = hover("runs\n");
    assert!(
        all.contains("| dcm | 10.0 mL | 2.50 mL | 12.5 mL | dichloromethane |"),
        "{all}"
    );
}

#[test]
fn a_run_is_written_behind_its_plan() {
    let document = Document::new(PLAN);
    let at = place("  A: 2.00");
    let actions = document.actions(at..at);
    let action = actions.iter().find(|a| a.kind == ActionKind::Run).unwrap();
    assert_eq!(action.title, "Write run A as a plan of its own");
    let edit = &action.edits[0];
    assert_eq!(edit.range, place("plan Next")..place("plan Next"));
    let mut text = PLAN.to_owned();
    text.replace_range(edit.range.clone(), &edit.new_text);
    let new = Document::new(&text);
    let titles: Vec<String> = new
        .plans()
        .map(|unit| unit.plan.title.as_ref().unwrap().text.to_string())
        .collect();
    assert_eq!(titles, ["Esters", "Esters (run A)", "Next"]);
}

#[test]
fn keys_of_a_run_are_keys() {
    let document = Document::new(PLAN);
    let at = place("acid is") + 1;
    let definition = document.definition(at).unwrap();
    assert_eq!(definition.range.start, place("acid:    "));
    assert!(
        document
            .references(place("acid:    "))
            .iter()
            .any(|m| m.range.contains(&at))
    );
    let renaming = document.rename(at, "substrate").unwrap();
    assert_eq!(renaming.edits.len(), 4);
    let tokens = document.semantic_tokens(at..at);
    let kind = |words: &str| {
        let at = place(words);
        tokens.iter().find(|t| t.range.start == at).map(|t| t.kind)
    };
    assert_eq!(kind("acid is"), Some(SemanticKind::Substance));
    assert_eq!(kind("nicotinic"), Some(SemanticKind::Name));
    assert_eq!(kind("B: "), Some(SemanticKind::Title));
    let plans = document.symbols();
    let block = plans[0].children.last().unwrap();
    assert_eq!((&*block.name, block.children.len()), ("runs", 2));
    assert_eq!(block.children[1].kind, SymbolKind::Run);
    assert!(
        document
            .folds()
            .iter()
            .any(|fold| fold.range.start == place("runs\n"))
    );
}

#[test]
fn what_can_stand_in_a_run_is_offered() {
    for (typed, offered) in [
        ("  C: ac", "acid is "),
        ("  C: 1 mmol, fl", "flask is "),
        ("  C: acid is nicotin", "nicotinic acid"),
        ("  C: acid is nicotinic acid, dr", "dry"),
        ("  C: 2.0 mm", "mmol"),
        ("ru", "runs"),
    ] {
        let text = PLAN.replace("plan Next\n", typed);
        let found = Document::new(&text).completions(text.len()).unwrap();
        let items: Vec<&str> = found.items.iter().map(|item| &*item.text).collect();
        assert!(items.contains(&offered), "{typed}: {items:?}");
    }
}

/// A plan that is rescaled takes its runs along.
#[test]
fn runs_follow_the_plan() {
    let document = Document::new(PLAN);
    let target = ide::TargetText::read("2x").unwrap();
    let rescaled = document.rescale_target(0, &target).unwrap();
    let edits = rescaled.edits();
    let new: Vec<&str> = edits
        .iter()
        .filter(|edit| edit.range.start > place("runs\n"))
        .map(|edit| &*edit.new_text)
        .collect();
    assert_eq!(new, ["4.00", "1.00"]);
}
