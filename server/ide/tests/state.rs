//! The vessel at a step: hover on it, and the hint at its end.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use ide::Document;
use plan::settings::Settings;
use plan::{Context, Kept};
use std::sync::Arc;

const PLAN: &str = "\
plan Test
scale 5.00 mmol ketone
start 9:00
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.20 eq
  thf: tetrahydrofuran, over 3 Å sieves, 10 ppm water, 25 mL
equipment
  flask: 100 mL flask, septum, argon inlet
steps
  dry flask at 125 °C for 2 h
  cool flask under argon for 30 min
  evacuate and refill flask with argon, 3 cycles, 1 mbar
  add thf 20 mL
  cool to -78 °C
  add base dropwise over 10 min
  add ketone
  quench with water 10 mL
  add dichloromethane 20 mL
";

fn hover(document: &Document, step: &str) -> Option<String> {
    let at = PLAN.find(&format!("  {step}")).unwrap() + 3;
    document.hover(at).map(|hover| hover.markdown)
}

#[track_caller]
fn says(step: &str, words: &[&str]) {
    let document = Document::new(PLAN);
    let said = hover(&document, step).unwrap();
    for words in words {
        assert!(said.contains(words), "{words} is not in\n{said}");
    }
}

#[test]
fn hover_tells_how_the_vessel_stands() {
    says(
        "cool flask under argon",
        &[
            "no liquid",
            "under argon, about 2 % of oxygen",
            "Glass dried in the oven (line 11)",
            "Done at 11:30",
        ],
    );
    says(
        "add thf",
        &[
            "20.0 mL in 100 mL, 20 % full · 21 °C · under argon, evacuated and refilled, about 5 ppm of oxygen",
            "- thf 245 mmol, 20.0 mL",
            "thf: 20.0 mL used, 5.00 mL left.",
        ],
    );
    // 6.00 mmol of a solution of 2.5 mol/L: 2.40 mL. Nothing to react with is there yet. 20 mL × 0.89 g/mL × 10 ppm: 9.9 µmol
    // of water.
    says(
        "add base",
        &[
            "22.4 mL in 100 mL, 22 % full · -78 °C",
            "Not quenched: up to 6.00 mmol of base is there still.",
            "Met so far: 10 µmol (",
            "of water and",
        ],
    );
}

#[test]
fn layers_are_told() {
    says("add dichloromethane", &["Two liquid layers."]);
}

#[test]
fn a_hint_says_what_is_in_the_flask() {
    let document = Document::new(PLAN);
    let hints = document.inlay_hints(0..PLAN.len());
    let at = |step: &str| {
        let at = PLAN.find(step).unwrap() + step.len();
        let found = hints.iter().find(|hint| hint.at == at);
        found.map(|hint| &*hint.label)
    };
    assert_eq!(at("add thf 20 mL"), Some("flask 20.0 mL, 20 % full"));
    assert_eq!(at("cool to -78 °C"), None);
    // 5.00 mmol in 22.4 mL: a solid adds no volume.
    let said = at("add ketone\n".trim_end());
    assert_eq!(said, Some("flask 22.4 mL, 22 % full, 0.22 M ketone"));
    assert_eq!(at("quench with water 10 mL"), None);
}

#[test]
fn settings_turn_both_off() {
    let settings = "[shown]\nstep-hints = false\nstep-states = false\n";
    let settings = Settings::read(settings);
    assert_eq!(settings.problems(), []);
    let context = Context {
        settings: Arc::new(settings),
        ..Context::default()
    };
    let document = Document::with_context(PLAN, context);
    assert_eq!(hover(&document, "add thf"), None);
    let hints = document.inlay_hints(0..PLAN.len());
    assert!(hints.iter().all(|hint| !hint.label.contains("full")));
    let wrong = Settings::read("[shown]\nstep-hints = \"no\"\n");
    assert_eq!(wrong.problems().len(), 1);
}

/// What has been met does not go down while nothing is taken out.
#[test]
fn what_is_met_stays_met() {
    let plan = "plan Test
materials
  thf: tetrahydrofuran, over 3 Å sieves, 10 ppm water, 25 mL
equipment
  flask: 100 mL flask, septum, argon inlet
steps
  dry flask at 125 °C for 2 h
  cool flask under argon
  add thf 20 mL
  cool to 0 °C
  stir for 1 h
  add thf 5 mL
";
    let document = Document::new(plan);
    let oxygen = |step: &str| -> f64 {
        let at = plan.find(&format!("  {step}")).unwrap() + 3;
        let said = document.hover(at).unwrap().markdown;
        let (_, met) = said.split_once("of water and ").unwrap();
        let (number, unit) = met.split_once(' ').unwrap();
        assert!(unit.starts_with("µmol"), "{said}");
        number.parse().unwrap()
    };
    let steps = [
        "add thf 20 mL",
        "cool to 0 °C",
        "stir for 1 h",
        "add thf 5 mL",
    ];
    let met = steps.map(oxygen);
    assert!(met[0] > 10.0 && met.is_sorted(), "{met:?}");
}
