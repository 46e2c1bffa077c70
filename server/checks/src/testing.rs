//! Tests of checks are small plans with the findings drawn under the text:
//!
//! ```text
//! steps
//!   add thf 20 mL
//!       ^^^ warning: …
//! ```
//!
//! A line of carets and a message is an expectation about the line above it, and no part of the plan.

use crate::{Check, Finding, Fix};
use plan::inventory::Inventory;
use plan::settings::Settings;
use plan::{Context, Date, Kept, Plan};
use std::sync::Arc;

/// A plan without its expectations, and the expectations: line, first and last column, words.
fn split(drawn: &str) -> (String, Vec<(usize, usize, usize, String)>) {
    let drawn = drawn.strip_prefix('\n').unwrap_or(drawn);
    let mut text = String::new();
    let mut expected = Vec::new();
    let mut line = 0;
    for row in drawn.lines() {
        let trimmed = row.trim_start();
        if trimmed.starts_with('^') {
            let start = row.chars().count() - trimmed.chars().count();
            let carets = trimmed.chars().take_while(|&c| c == '^').count();
            let words = trimmed.trim_start_matches('^').trim().to_owned();
            expected.push((line - 1, start, start + carets, words));
        } else {
            text.push_str(row);
            text.push('\n');
            line += 1;
        }
    }
    (text, expected)
}

/// An inventory, on the last of March 2026.
pub(crate) fn bench(inventory: &str) -> Context {
    let inventory = Inventory::read(inventory);
    assert_eq!(inventory.problems, []);
    Context {
        inventory: Some(Arc::new(inventory)),
        today: Date::new(2026, 3, 31),
        ..Context::default()
    }
}

/// A bench with these tools and ages.
pub(crate) fn settings(text: &str) -> Context {
    let settings = Settings::read(text);
    assert_eq!(settings.problems(), []);
    Context {
        settings: Arc::new(settings),
        today: Date::new(2026, 3, 31),
        ..Context::default()
    }
}

/// The plan with a finding drawn under the first line that holds these words.
pub(crate) fn drawn(text: &str, words: &str, said: &str) -> String {
    let mut done = false;
    text.lines()
        .map(|line| match line.find(words) {
            Some(at) if !std::mem::replace(&mut done, true) => {
                let (before, carets) = (
                    line[..at].chars().count(),
                    "^".repeat(words.chars().count()),
                );
                format!("{line}\n{}{carets} {said}\n", " ".repeat(before))
            }
            _ => format!("{line}\n"),
        })
        .collect()
}

pub(crate) fn run(check: &Check, text: &str, context: &Context) -> (Plan, Vec<Finding>) {
    let plan = Plan::with_context(Arc::new(syntax::read_plan(text)), context);
    let mut findings = Vec::new();
    (check.run)(&crate::Survey::new(&plan), &mut findings);
    findings.sort_by_key(|finding| finding.at);
    (plan, findings)
}

/// Holds the findings of a check on a plan against those drawn into it. An expectation's words must begin
/// the finding, after its severity: `warning: The plan does not say`.
#[track_caller]
pub(crate) fn expect(check: &Check, drawn: &str) {
    expect_at(&Context::default(), check, drawn);
}

/// The same with an inventory.
#[track_caller]
pub(crate) fn expect_at(context: &Context, check: &Check, drawn: &str) {
    let (text, expected) = split(drawn);
    let (plan, findings) = run(check, &text, context);
    let found: Vec<_> = findings
        .iter()
        .map(|finding| {
            let line = finding.at.line as usize;
            let row = text.lines().nth(line).unwrap_or("");
            let column = |byte: u32| {
                row.get(..byte as usize)
                    .map_or(0, |part| part.chars().count())
            };
            let words = format!("{}: {}", finding.severity.word(), finding.message);
            (
                line,
                column(finding.at.span.start),
                column(finding.at.span.end),
                words,
            )
        })
        .collect();
    let same = expected.len() == found.len()
        && expected.iter().zip(&found).all(|(want, have)| {
            (want.0, want.1, want.2) == (have.0, have.1, have.2) && have.3.starts_with(&want.3)
        });
    assert!(
        same,
        "\nexpected {expected:#?}\nfound {found:#?}\nin\n{}",
        plan.text.text
    );
}

/// The plan after fix number `which` of the check's first finding.
#[track_caller]
pub(crate) fn fixed(check: &Check, drawn: &str, which: usize) -> String {
    fixed_at(&Context::default(), check, drawn, which)
}

#[track_caller]
fn fixed_at(context: &Context, check: &Check, drawn: &str, which: usize) -> String {
    let (text, _) = split(drawn);
    let (_, findings) = run(check, &text, context);
    let finding = findings.first().expect("a finding");
    let fix = finding.fixes.get(which).expect("a fix");
    apply(&text, fix)
}

/// Holds the plan after a fix against what it should be, and sees that the finding is gone.
#[track_caller]
pub(crate) fn expect_fixed(check: &Check, drawn: &str, which: usize, want: &str) {
    expect_fixed_at(&Context::default(), check, drawn, which, want);
}

/// The same with an inventory.
#[track_caller]
pub(crate) fn expect_fixed_at(
    context: &Context,
    check: &Check,
    drawn: &str,
    which: usize,
    want: &str,
) {
    let have = fixed_at(context, check, drawn, which);
    let want = want.strip_prefix('\n').unwrap_or(want);
    assert_eq!(have.trim_end(), want.trim_end());
    let (_, before) = run(check, &split(drawn).0, context);
    let (_, after) = run(check, &have, context);
    assert!(after.len() < before.len(), "the fix leaves {after:#?}");
}

fn apply(text: &str, fix: &Fix) -> String {
    let mut text = text.to_owned();
    for (range, new) in fix.edits.iter().rev() {
        text.replace_range(range.clone(), new);
    }
    text
}
