//! What measuring leaves of an amount, as hover says it.

#![allow(clippy::unwrap_used)]

use ide::Document;
use plan::settings::Settings;
use plan::{Context, Kept};
use std::sync::Arc;

const PLAN: &str = "\
plan A
scale 5.00 mmol ketone
materials
  ketone: cyclohexanone, MW 98.145, 1.00 eq
  base: n-BuLi, 2.5 M in hexanes, 1.20 eq
  salt: lithium chloride, MW 42.39, 0.500 eq
steps
  add base via syringe
  add salt
";

fn line(settings: &str, key: &str) -> Option<String> {
    let settings = Settings::read(settings);
    assert_eq!(settings.problems(), []);
    let context = Context {
        settings: Arc::new(settings),
        ..Context::default()
    };
    let document = Document::with_context(PLAN, context);
    let hover = document.hover(PLAN.find(key).unwrap())?;
    let found = hover.markdown.lines().find(|line| line.starts_with('±'));
    found.map(|line| line.replace('\\', ""))
}

#[test]
fn digits_and_the_tool_that_is_there_make_the_uncertainty() {
    // 6.00 mmol over 2.5 mol/L are 2.40 mL. Half a digit of 2.5 M is 2 %, a plastic syringe may be 5 % off
    // (ISO 7886-1): twice the root of (2/√3)² + (5/√3)² is 6.2 % (JCGM 100:2008, 4.3.7, 5.1.6 and 6.2.1). With the
    // ketone, 0.518 mL in a 1 mL syringe and half a digit of its density, the equivalents carry 8.5 %.
    assert_eq!(
        line("[tools]\nsyringes = [\"1 mL\", \"3 mL\"]\n", "base:").as_deref(),
        Some(
            "±6.2 % (k = 2): digits of the bottle 2.0 %, 3 mL plastic syringe 5.0 %; 1.20 ± 0.10 eq"
        )
    );
    // Two readings of ± 0.2 mg over 106 mg.
    let salt = line("[tools]\nbalances = [\"0.1 mg\"]\n", "salt:").unwrap();
    assert!(salt.contains("balance that reads 0.1 mg 0.27 %"), "{salt}");
    assert!(!salt.contains("assumed"), "{salt}");
}

#[test]
fn tools_that_nobody_named_are_said_to_be_assumed() {
    let base = line("", "base:").unwrap();
    assert!(
        base.contains("2.5 mL glass syringe 1.0 % (assumed)"),
        "{base}"
    );
}

#[test]
fn what_no_tool_measures_has_none() {
    // 2.40 mL in no more than five fillings.
    assert_eq!(line("[tools]\nsyringes = [\"0.1 mL\"]\n", "base:"), None);
}

#[test]
fn a_gas_that_is_taken_as_a_liquid_has_no_tool_and_says_how() {
    let text = "plan A\nscale 50 mmol a\nmaterials\n  a: anisole, 1.00 eq\n  nh3: ammonia, d 0.68, 150 mL\n";
    let document = Document::new(text);
    let hover = document.hover(text.find("nh3:").unwrap()).unwrap();
    let words = hover.markdown;
    assert!(words.contains("condensed from the gas"), "{words}");
}
