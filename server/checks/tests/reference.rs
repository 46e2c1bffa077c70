//! The page of all checks is what their own documentation says, and what the documentation shows is so: every example
//! has its finding, and what is to be written instead has it not.
//!
//! After a change that is meant, `BLESS=1 cargo test -p checks --test reference` writes the page anew.

#![allow(
    clippy::panic,
    clippy::unwrap_used,
    reason = "a test that cannot go on has failed"
)]

use checks::{Check, Finding, Severity};
use plan::inventory::Inventory;
use plan::settings::Settings;
use plan::{Context, Date, Kept, Plan};
use std::fmt::Write as _;
use std::sync::Arc;

const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/CHECKS.md");

#[test]
fn the_page_is_generated() {
    let page = checks::reference();
    if std::env::var_os("BLESS").is_some() {
        std::fs::write(PAGE, &page).unwrap();
    }
    let kept = std::fs::read_to_string(PAGE).unwrap();
    assert!(
        kept == page,
        "CHECKS.md is not what the checks say: bless it"
    );
}

/// What every check's documentation says, in this order.
const HEADINGS: [&str; 5] = [
    "**Finds** ",
    "**Why it matters.** ",
    "**Example**",
    "**Write instead**",
    "**Sources.** ",
];

/// The text under a heading, up to the next.
fn section<'a>(doc: &'a str, heading: &str) -> Option<&'a str> {
    let at = HEADINGS.iter().position(|&other| other == heading)?;
    let (_, rest) = doc.split_once(&format!("\n\n{heading}"))?;
    let next = HEADINGS.get(at + 1);
    next.map_or(Some(rest), |next| Some(rest.split_once(next)?.0))
}

#[test]
fn every_documentation_has_the_same_headings() {
    for check in checks::ALL {
        let (name, doc) = (check.name, check.doc);
        assert!(doc.starts_with("# "), "{name} has no title");
        let mut from = 0;
        for heading in HEADINGS {
            let at = doc[from..].find(&format!("\n\n{heading}"));
            from += at.unwrap_or_else(|| panic!("{name} has no {heading} in its place")) + 1;
        }
    }
}

/// A plan in parts, as an example shows it.
#[derive(Clone, Default)]
struct Draft {
    head: Vec<String>,
    /// Of materials, products and equipment: the block, the key, the line.
    entries: Vec<(&'static str, String, String)>,
    steps: Vec<String>,
    inventory: String,
    settings: String,
}

const BLOCKS: [&str; 5] = ["materials", "products", "equipment", "steps", "runs"];

impl Draft {
    /// The indented lines of a section; tables are of the inventory or of meniscus.toml.
    fn of(section: &str) -> Draft {
        let mut draft = Draft::default();
        let (mut block, mut table) = ("", "");
        for line in section.lines() {
            let Some(line) = line.strip_prefix("    ") else {
                continue;
            };
            if let Some(found) = BLOCKS.iter().find(|block| **block == line.trim_end()) {
                (block, table) = (found, "");
            } else if line.starts_with('[') {
                table = if line == "[[bottle]]" {
                    "inventory"
                } else {
                    "settings"
                };
            } else if !line.starts_with(' ') && table.is_empty() {
                block = "";
            }
            let key = || line.split(':').next().unwrap_or("").trim().to_owned();
            match (table, block) {
                ("inventory", _) => draft.inventory += &format!("{line}\n"),
                ("settings", _) => draft.settings += &format!("{line}\n"),
                (_, block) if block == line.trim_end() && !block.is_empty() => {}
                (_, "") => draft.head.push(line.to_owned()),
                (_, "steps") => draft.steps.push(line.to_owned()),
                (_, block) => draft.entries.push((block, key(), line.to_owned())),
            }
        }
        draft
    }

    /// This, with what another draft writes instead; a key that stands there twice is two ways to write it.
    fn with(&self, instead: &Draft) -> Vec<Draft> {
        let lines = |key: &str| {
            instead
                .entries
                .iter()
                .filter(|e| e.1 == key)
                .collect::<Vec<_>>()
        };
        let counts = instead.entries.iter().map(|entry| lines(&entry.1).len());
        let ways = 0..counts.max().unwrap_or(1);
        let way = |number: usize| {
            let mut way = self.clone();
            for (_, key, _) in &instead.entries {
                let lines = lines(key);
                let entry = lines[number.min(lines.len() - 1)].clone();
                match way.entries.iter_mut().find(|old| old.1 == *key) {
                    Some(old) => *old = entry,
                    None => way.entries.push(entry),
                }
            }
            let parts = [
                (&mut way.head, &instead.head),
                (&mut way.steps, &instead.steps),
            ];
            for (part, new) in parts.into_iter().filter(|(_, new)| !new.is_empty()) {
                part.clone_from(new);
            }
            let tables = [
                (&mut way.inventory, &instead.inventory),
                (&mut way.settings, &instead.settings),
            ];
            for (table, new) in tables.into_iter().filter(|(_, new)| !new.is_empty()) {
                table.clone_from(new);
            }
            way
        };
        ways.map(way).collect()
    }

    /// The whole plan: what the example speaks of and does not list is that of the bench.
    fn text(&self) -> String {
        let mut entries = self.entries.clone();
        let said = self.steps.join("\n");
        let mut words = said.split(|c: char| !(c.is_alphanumeric() || c == '_'));
        let spoken: Vec<&str> = words.by_ref().collect();
        for (block, key, line) in BENCH {
            let listed = entries.iter().any(|entry| entry.1 == key);
            if spoken.contains(&key) && !listed {
                entries.push((block, key.to_owned(), format!("  {key}: {line}")));
            }
        }
        // One that begins with its own title says all that there is.
        let begins = |word: &str| self.head.iter().any(|line| line.starts_with(word));
        let whole = begins("plan ");
        let mut text = if whole { "" } else { "plan Example\n" }.to_owned();
        let scaled = whole || begins("scale");
        let one = entries.iter().find(|entry| entry.2.contains(" 1.00 eq"));
        if let Some((_, key, _)) = one.filter(|_| !scaled) {
            writeln!(text, "scale 10.0 mmol {key}").unwrap();
        }
        for line in &self.head {
            writeln!(text, "{line}").unwrap();
        }
        for block in ["materials", "products", "equipment"] {
            let mut lines = entries.iter().filter(|entry| entry.0 == block).peekable();
            if lines.peek().is_some() {
                writeln!(text, "{block}").unwrap();
            }
            lines.for_each(|(_, _, line)| writeln!(text, "{line}").unwrap());
        }
        if !self.steps.is_empty() {
            writeln!(text, "steps\n{said}").unwrap();
        }
        let runs: Vec<&str> = entries
            .iter()
            .filter(|e| e.0 == "runs")
            .map(|e| &*e.2)
            .collect();
        if !runs.is_empty() {
            writeln!(text, "runs\n{}", runs.join("\n")).unwrap();
        }
        text
    }

    fn context(&self) -> Context {
        let inventory = Inventory::read(&self.inventory);
        let settings = Settings::read(&self.settings);
        assert!(inventory.problems.is_empty(), "{:?}", inventory.problems);
        assert_eq!(settings.problems(), []);
        Context {
            inventory: (!self.inventory.is_empty()).then(|| Arc::new(inventory)),
            settings: Arc::new(settings),
            today: Date::new(2026, 3, 31),
        }
    }

    /// Everything that every check finds, whatever the profile.
    fn findings(&self) -> Vec<Finding> {
        let read = Arc::new(syntax::read_plan(&self.text()));
        let plan = Plan::with_context(read, &self.context());
        let survey = checks::Survey::new(&plan);
        let mut findings = Vec::new();
        for check in checks::ALL {
            (check.run)(&survey, &mut findings);
        }
        findings
    }
}

/// What stands on the bench of an example that does not list it.
const BENCH: [(&str, &str, &str); 10] = [
    ("materials", "ketone", "4-tert-butylcyclohexanone, 1.00 eq"),
    ("materials", "thf", "tetrahydrofuran, over 3 Å sieves"),
    ("materials", "ether", "diethyl ether, over 3 Å sieves"),
    (
        "equipment",
        "flask",
        "250 mL three-neck flask, reflux condenser, septum, argon inlet, bubbler",
    ),
    ("equipment", "vial", "40 mL vial, septum"),
    ("equipment", "funnel", "100 mL addition funnel"),
    ("equipment", "sepfunnel", "500 mL separating funnel"),
    ("equipment", "rotflask", "500 mL round-bottom flask"),
    ("equipment", "bar", "stir bar"),
    ("equipment", "syringes", "5 mL and 20 mL glass syringes"),
];

/// What is wrong with the example or what is to be written instead of it.
fn faults(check: &Check) -> Vec<String> {
    let (name, mut faults) = (check.name, Vec::new());
    let shown = |heading| Draft::of(section(check.doc, heading).unwrap_or_default());
    let (example, instead) = (shown("**Example**"), shown("**Write instead**"));
    let before = example.findings();
    if !before.iter().any(|finding| finding.check == name) {
        faults.push(format!(
            "{name}: the example has no finding\n{}",
            example.text()
        ));
    }
    for way in example.with(&instead) {
        let left = way.findings().into_iter().filter(|finding| {
            let bad = finding.severity <= Severity::Warning;
            let new = !before.iter().any(|old| old.check == finding.check);
            finding.check == name || bad && new
        });
        for finding in left {
            let (check, message) = (finding.check, finding.message);
            faults.push(format!(
                "{name}: instead has {check}: {message}\n{}",
                way.text()
            ));
        }
    }
    faults
}

#[test]
fn every_example_is_found_and_what_to_write_instead_is_not() {
    let faults: Vec<String> = checks::ALL.iter().flat_map(|check| faults(check)).collect();
    assert!(
        faults.is_empty(),
        "{} faults\n{}",
        faults.len(),
        faults.join("\n")
    );
}
