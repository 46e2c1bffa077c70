//! LANGUAGE.md, read as its readers would type it.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on has failed"
)]

use syntax::{PlanText, Statement, Verb, read_plan};

const PAGE: &str = include_str!("../LANGUAGE.md");

/// What stands in the blocks, one below the other.
fn plan() -> String {
    let mut inside = false;
    let mut text = String::new();
    for line in PAGE.lines() {
        match line {
            "```prep" => inside = true,
            "```" => inside = false,
            line if inside => text.extend([line, "\n"]),
            _ => {}
        }
    }
    text
}

/// The first cells of the table under this heading, without their backticks.
fn rows(heading: &str) -> Vec<&'static str> {
    let head = format!("| {heading} | says |");
    let lines = PAGE.lines().skip_while(|line| *line != head).skip(2);
    let rows = lines.take_while(|line| line.starts_with('|'));
    rows.map(|line| line.split('`').nth(1).unwrap_or_else(|| panic!("{line}")))
        .collect()
}

#[track_caller]
fn has_no_fault(plan: &PlanText, what: &str) {
    for line in &plan.lines {
        assert!(line.problems.is_empty(), "{what}: {:?}", line.problems);
    }
}

#[test]
fn the_blocks_are_one_plan_without_a_fault() {
    let text = plan();
    let plan = read_plan(&text);
    has_no_fault(&plan, "the blocks");
    let steps = plan.lines.iter();
    let steps = steps.filter(|line| matches!(line.statement, Statement::Step(_)));
    assert!(steps.count() > 20);
}

#[test]
fn every_field_of_the_table_is_read() {
    let rows = rows("field of a material");
    assert!(rows.len() > 20);
    for field in rows {
        let line = format!("  extra: cyclohexanone, {field}\nproducts\n");
        let text = plan().replace("products\n", &line);
        let read = read_plan(&text);
        has_no_fault(&read, field);
        let entries = read.lines.iter().filter_map(|line| match &line.statement {
            Statement::Entry(entry) if *entry.key.text == *"extra" => Some(entry),
            _ => None,
        });
        let other = |field: &&syntax::Field| matches!(field.kind, syntax::FieldKind::Other(_));
        for entry in entries {
            assert_eq!(entry.fields.iter().filter(other).count(), 0, "{field}");
        }
    }
}

#[test]
fn every_step_of_the_table_is_read() {
    let rows = rows("step");
    assert!(rows.len() > 10);
    for step in rows {
        let text = format!("{}steps\n  in flask\n  {step}\n", plan());
        has_no_fault(&read_plan(&text), step);
    }
}

/// A verb that the page leaves out is one that nobody finds.
#[test]
fn every_verb_is_named() {
    for (_, verb) in Verb::SPELLINGS {
        let word = verb.word();
        assert!(PAGE.contains(&format!("`{word}`")), "{word}");
    }
}
