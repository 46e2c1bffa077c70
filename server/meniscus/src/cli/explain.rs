//! `meniscus explain`

use super::{Outcome, complain, print};
use checks::{Profile, Severity};

/// Prints what a check says of itself, or a list of all.
pub(super) fn explain(name: Option<&str>, page_of_all: bool) -> Outcome {
    match name {
        _ if page_of_all => print(&checks::reference()),
        None => print(&list()),
        Some(name) => match checks::find(name) {
            Some(check) => print(&page(check)),
            None => complain(&unknown(name)),
        },
    }
}

/// The documentation of a check as a terminal shows it: without the marks that are there for a browser.
fn page(check: &checks::Check) -> String {
    let mut out = format!(
        "{} ({}; {})\n\n",
        check.name,
        check.severity.word(),
        spoken(check)
    );
    let body = check.doc.trim();
    let body = match body.split_once('\n') {
        Some((heading, rest)) if heading.starts_with('#') => rest.trim_start(),
        _ => body,
    };
    for line in body.lines().filter(|line| !line.starts_with("```")) {
        out.push_str(&line.replace("**", ""));
        out.push('\n');
    }
    out
}

/// In which profiles a check says all that it finds.
fn spoken(check: &checks::Check) -> String {
    let profiles = match check.from {
        Profile::Quiet => return "in every profile".to_owned(),
        Profile::Normal => "in the profiles normal and strict",
        Profile::Strict => "in the profile strict",
    };
    match check.severity {
        Severity::Error => format!("{profiles}; its errors in every one"),
        _ => profiles.to_owned(),
    }
}

/// One line a check: its name, the worst that it reports, and what it finds.
fn list() -> String {
    let width = checks::ALL
        .iter()
        .map(|check| check.name.len())
        .max()
        .unwrap_or(0);
    let line = |check: &&checks::Check| {
        format!(
            "{:width$}  {:11}  {}\n",
            check.name,
            check.severity.word(),
            headline(check.doc)
        )
    };
    checks::ALL.iter().map(line).collect()
}

/// The first sentence below the heading, without the word that every one of them begins with.
fn headline(doc: &str) -> String {
    let paragraph = doc
        .split("\n\n")
        .map(str::trim)
        .find(|paragraph| !paragraph.is_empty() && !paragraph.starts_with('#'))
        .unwrap_or_default();
    let words = paragraph.split_whitespace().collect::<Vec<_>>().join(" ");
    let words = words.replace("**", "");
    let words = words.strip_prefix("Finds ").unwrap_or(&words);
    let end = [": ", ". ", ", and says", "; "]
        .iter()
        .filter_map(|mark| words.find(mark))
        .min()
        .unwrap_or(words.trim_end_matches('.').len());
    words[..end].to_owned()
}

fn unknown(name: &str) -> String {
    match checks::nearest(name) {
        Some(check) => format!("there is no check {name}; did you mean {}?", check.name),
        None => format!("there is no check {name}; `meniscus explain` lists them"),
    }
}
