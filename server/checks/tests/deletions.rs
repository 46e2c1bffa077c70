//! Every line of every careful plan, but for the headings, is taken out in turn, and what is then found is held against
//! a file a plan in `tests/deletions`: a finding that comes, goes, moves or says something else shows as a difference to
//! be judged.
//!
//! After a change that is meant, `BLESS=1 cargo test -p checks --test deletions` writes the files anew; read the
//! difference before it is committed.

#![allow(clippy::panic, clippy::unwrap_used)]

mod careful;

use careful::{Careful, careful, folder, read, steps_and_entries};
use plan::{Context, Kept, Plan};
use std::fmt::Write as _;
use std::sync::Arc;

/// How much of a message is held: enough to know it, not so much that every betterment of words is a difference.
const HELD: usize = 70;

/// What is found after each line's deletion, with the line numbers of the whole plan.
fn told(text: &str, context: &Context) -> String {
    let lines: Vec<&str> = text.lines().collect();
    let mut told = String::new();
    for gone in steps_and_entries(text) {
        let words = lines[gone].split('#').next().unwrap_or("").trim();
        writeln!(told, "{}  {words}", gone + 1).unwrap();
        let rest: String = lines
            .iter()
            .enumerate()
            .filter(|(at, _)| *at != gone)
            .map(|(_, line)| format!("{line}\n"))
            .collect();
        let plan = Plan::with_context(Arc::new(syntax::read_plan(&rest)), context);
        for finding in checks::findings(&plan) {
            let at = finding.at.line as usize;
            let at = if at < gone { at + 1 } else { at + 2 };
            let message: String = finding.message.chars().take(HELD).collect();
            let severity = finding.severity.word();
            writeln!(told, "    {at} {severity} {}: {message}", finding.check).unwrap();
        }
    }
    told
}

#[test]
fn findings_after_each_deletion_are_as_judged() {
    let bless = std::env::var_os("BLESS").is_some();
    let plans = careful();
    assert!(plans.len() >= 12, "{} plans", plans.len());
    let mut differing = Vec::new();
    for Careful {
        name,
        text,
        context,
    } in plans
    {
        let path = folder("tests/deletions").join(format!("{name}.txt"));
        let told = told(&text, &context);
        if bless {
            std::fs::write(&path, told).unwrap();
            continue;
        }
        let held = read(&path);
        if let Some((at, (want, have))) = held
            .lines()
            .chain(std::iter::repeat("(no more)"))
            .zip(told.lines().chain(std::iter::repeat("(no more)")))
            .enumerate()
            .take(held.lines().count().max(told.lines().count()))
            .find(|(_, (want, have))| want != have)
        {
            differing.push(format!(
                "{name}.txt line {}:\n  held  {want}\n  found {have}",
                at + 1
            ));
        }
    }
    assert!(
        differing.is_empty(),
        "{}\nIf these are meant: BLESS=1 cargo test -p checks --test deletions",
        differing.join("\n")
    );
}
