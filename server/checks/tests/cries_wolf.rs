//! Good practice that a careless check would warn of, none of which is warned of; and mistakes of practice, each of which
//! is. Both are written as a chemist writes them, from memory: with two flasks, transfers, portions and other words. More
//! of the first is in the plans that `mutations.rs` reads, and in the unit tests of whole plans.
//!
//! A plan in `practices.txt` and `mistakes.txt` is its name, its materials (the scale is 5 mmol of the first, unless that
//! says its own), its equipment and its steps; a mistake's name comes with the finding, and with what its line says.

#![allow(clippy::panic, reason = "a test may fail")]

use checks::{Finding, Profile, Severity};
use plan::settings::Settings;
use plan::{Context, Plan};
use std::sync::Arc;

const FLASK: &str = "flask: 100 mL two-neck flask, reflux condenser, septum, argon inlet, bubbler";

const DRY: &str = "dry flask at 125 °C overnight
cool to rt under argon
evacuate and refill with argon, 3 cycles";

/// The name of every plan of a file, and its text.
fn plans(file: &str) -> impl Iterator<Item = (&str, String)> {
    file.split("== ").skip(1).map(|written| {
        let (name, rest) = written.split_once('\n').unwrap_or_default();
        let parts: Vec<&str> = rest.split("\n--\n").collect();
        let [materials, equipment, steps] = parts.as_slice() else {
            panic!("{name} has {} parts", parts.len());
        };
        let first = materials.lines().next().unwrap_or("");
        let key = first.split(':').next().unwrap_or("");
        let mut text = "plan Practice\n".to_owned();
        if first.contains(" eq") {
            text += &format!("scale 5.00 mmol {key}\n");
        }
        for (block, lines) in [
            ("materials", (*materials).to_owned()),
            ("equipment", equipment.replace("FLASK", FLASK)),
            ("steps", steps.replace("DRY\n", &format!("{DRY}\n"))),
        ] {
            text += &format!("{block}\n");
            for line in lines.lines().filter(|line| !line.is_empty()) {
                text += &format!("  {line}\n");
            }
        }
        (name, text)
    })
}

fn findings(text: &str, profile: Profile) -> Vec<Finding> {
    let settings = Settings::default().with_check(checks::PROFILE, profile.word());
    let context = Context {
        settings: Arc::new(settings),
        ..Context::default()
    };
    checks::findings(&Plan::with_context(
        Arc::new(syntax::read_plan(text)),
        &context,
    ))
}

/// Severity, check, line and message of a finding.
fn told(text: &str, finding: &Finding) -> String {
    let line = text.lines().nth(finding.at.line as usize).unwrap_or("");
    let severity = finding.severity.word();
    format!(
        "{severity} {} in `{}`: {}",
        finding.check,
        line.trim(),
        finding.message
    )
}

#[test]
fn there_are_many_of_both() {
    assert!(plans(include_str!("practices.txt")).count() >= 60);
    assert!(plans(include_str!("mistakes.txt")).count() >= 55);
}

/// What is found is gone after each of its fixes, which bring no error.
#[test]
fn every_fix_of_a_mistake_mends_it() {
    let (mut fixes, mut wrong) = (0, Vec::new());
    for (heading, text) in plans(include_str!("mistakes.txt")) {
        let found = findings(&text, Profile::Strict);
        for finding in &found {
            for fix in &finding.fixes {
                fixes += 1;
                let mut mended = text.clone();
                for (range, new) in fix.edits.iter().rev() {
                    mended.replace_range(range.clone(), new);
                }
                let left = findings(&mended, Profile::Strict);
                let same = |f: &&Finding| f.check == finding.check && f.message == finding.message;
                let error = |f: &&Finding| {
                    f.severity == Severity::Error && !found.iter().any(|old| old.check == f.check)
                };
                if let Some(bad) = left.iter().find(|f| same(f) || error(f)) {
                    wrong.push(format!("{heading}, {}: {}", fix.title, told(&mended, bad)));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(fixes > 60, "{fixes} fixes");
}

#[test]
fn good_practice_gives_no_warning() {
    let mut wrong = Vec::new();
    for (name, text) in plans(include_str!("practices.txt")) {
        let found = findings(&text, Profile::Normal);
        let bad = found.iter().filter(|f| f.severity != Severity::Information);
        wrong.extend(bad.map(|finding| format!("{name}: {}", told(&text, finding))));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn mistakes_of_practice_are_found() {
    let mut missed = Vec::new();
    for (heading, text) in plans(include_str!("mistakes.txt")) {
        let parts: Vec<&str> = heading.split(" | ").collect();
        let [name, what, line] = parts.as_slice() else {
            panic!("{heading} has {} parts", parts.len());
        };
        let found = findings(&text, Profile::Strict);
        let told: Vec<String> = found.iter().map(|finding| told(&text, finding)).collect();
        let is_it = |told: &String| {
            let place = told.split('`').nth(1).unwrap_or("");
            told.starts_with(&format!("{what} in ")) && place.contains(line)
        };
        if !told.iter().any(is_it) {
            missed.push(format!(
                "{name} is not {what} in `{line}`\n  {}",
                told.join("\n  ")
            ));
        }
    }
    assert!(missed.is_empty(), "{}", missed.join("\n"));
}
