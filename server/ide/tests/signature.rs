//! What a step may still say: `|` is the cursor.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use ide::Document;

const KEYS: &str = "\
materials
  thf: tetrahydrofuran
equipment
  flask: 100 mL flask
steps
";

/// All of it, with the active part in brackets.
fn help(line: &str) -> Option<String> {
    let at = KEYS.len() + line.find('|').unwrap();
    let text = format!("{KEYS}{}\n", line.replace('|', ""));
    let found = Document::new(&text).signature(at)?;
    let active = found.parts[found.active].0;
    for (part, about) in &found.parts {
        assert!(found.label.contains(part) && !about.is_empty(), "{found:?}");
    }
    Some(
        found
            .label
            .replacen(&format!(" {active}"), &format!(" [{active}]"), 1),
    )
}

#[track_caller]
fn shows(line: &str, expected: &str) {
    assert_eq!(help(line).as_deref(), Some(expected), "{line}");
}

#[test]
fn the_part_that_is_written_or_missing_is_marked() {
    shows(
        "  cool |",
        "cool [VESSEL], to TEMPERATURE, over TIME, under GAS",
    );
    shows(
        "  cool to |",
        "cool VESSEL, [to TEMPERATURE], over TIME, under GAS",
    );
    shows(
        "  cool flask to 0 °C over| ",
        "cool VESSEL, to TEMPERATURE, [over TIME], under GAS",
    );
    shows(
        "  cool to 0 °C, |",
        "cool VESSEL, to TEMPERATURE, [over TIME], under GAS",
    );
    shows(
        "  add thf 20 mL to flask, |",
        "add THING AMOUNT, to VESSEL, [dropwise], in NUMBER portions, over TIME, via TOOL, at TEMPERATURE, below TEMPERATURE, under GAS",
    );
    shows(
        "  add thf, over 10 min| via syringe",
        "add THING AMOUNT, to VESSEL, dropwise, in NUMBER portions, [over TIME], via TOOL, at TEMPERATURE, below TEMPERATURE, under GAS",
    );
}

#[test]
fn it_is_of_the_part_of_the_step_at_the_cursor() {
    shows(
        "  add thf, cool |",
        "cool [VESSEL], to TEMPERATURE, over TIME, under GAS",
    );
    shows(
        "  heat up | to 50 °C, cool to rt",
        "heat up [VESSEL], to TEMPERATURE, over TIME, for TIME, under GAS",
    );
}

#[test]
fn elsewhere_there_is_none() {
    for line in [
        "  co|",
        "  cool|",
        "  |",
        "  cool to 0 °C # ice |",
        "  note cool |",
        "  expect a |",
        "  in flask |",
        "  frobnicate |",
    ] {
        assert_eq!(help(line), None, "{line}");
    }
}
