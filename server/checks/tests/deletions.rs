//! Every line of every careful plan, but for the headings, is taken out in turn, and what is then found is held against
//! a file a plan in `tests/deletions`: a finding that comes, goes, moves or says something else shows as a difference to
//! be judged.
//!
//! After a change that is meant, `BLESS=1 cargo test -p checks --test deletions` writes the files anew; read the
//! difference before it is committed.

#![allow(clippy::panic, clippy::unwrap_used)]

use plan::inventory::Inventory;
use plan::{Context, Date, Kept, Plan};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How much of a message is held: enough to know it, not so much that every betterment of words is a difference.
const HELD: usize = 70;

/// A plan without one of these is no plan with a step forgotten.
const HEADINGS: [&str; 4] = ["materials", "products", "equipment", "steps"];

/// A plan with slips in it on purpose.
const NOT_CAREFUL: &str = "slips";

fn folder(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Name and text of every plan, and what it is read against.
fn plans() -> Vec<(String, String, Context)> {
    let mut plans = Vec::new();
    for place in ["../syntax/tests/plans", "../../examples"] {
        for entry in std::fs::read_dir(folder(place)).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
            if path.extension().is_some_and(|ext| ext == "prep") && name != NOT_CAREFUL {
                let text = read(&path);
                let context = context(&text);
                plans.push((name, text, context));
            }
        }
    }
    plans.sort_by(|a, b| (&a.1, &a.0).cmp(&(&b.1, &b.0)));
    // An example may be one of the plans of the language.
    plans.dedup_by(|a, b| a.1 == b.1);
    plans
}

/// A plan that names bottles is read against the examples' inventory, on the day that it was written for.
fn context(text: &str) -> Context {
    if !text.contains(", bottle ") {
        return Context::default();
    }
    let inventory = Inventory::read(&read(&folder("../../examples/inventory.toml")));
    assert_eq!(inventory.problems, []);
    Context {
        inventory: Some(Arc::new(inventory)),
        today: Date::new(2026, 11, 25),
        ..Context::default()
    }
}

/// What is found after each line's deletion, with the line numbers of the whole plan.
fn told(text: &str, context: &Context) -> String {
    let lines: Vec<&str> = text.lines().collect();
    let mut told = String::new();
    for (gone, line) in lines.iter().enumerate() {
        let words = line.split('#').next().unwrap_or("").trim();
        if words.is_empty() || HEADINGS.contains(&words) {
            continue;
        }
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
    let plans = plans();
    assert!(plans.len() >= 12, "{} plans", plans.len());
    let mut differing = Vec::new();
    for (name, text, context) in plans {
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
