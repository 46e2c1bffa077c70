//! `meniscus format`

use super::{Outcome, complain, files, print};
use ide::Document;
use std::path::PathBuf;

/// Puts the white space of every plan under these paths in order, or says which are not.
pub(super) fn format(paths: &[PathBuf], check: bool) -> Outcome {
    let (files, complaints) = files::plans(paths);
    let mut outcome = Outcome::Fine;
    for complaint in complaints {
        outcome = complain(&complaint);
    }
    let mut report = String::new();
    for file in &files {
        let changed = files::read(file).and_then(|text| match formatted(&text) {
            Some(new) if !check => files::replace(file, &new).map(|()| true),
            new => Ok(new.is_some()),
        });
        match changed {
            Ok(true) => {
                let done = if check { "not formatted" } else { "formatted" };
                report.push_str(&format!("{done}: {}\n", file.display()));
            }
            Ok(false) => {}
            Err(complaint) => outcome = complain(&complaint),
        }
    }
    match (print(&report), outcome) {
        (Outcome::Misuse, _) | (_, Outcome::Misuse) => Outcome::Misuse,
        _ if check && !report.is_empty() => Outcome::Wrong,
        _ => Outcome::Fine,
    }
}

/// The text with its white space in order; none where it is.
fn formatted(text: &str) -> Option<String> {
    let mut document = Document::new(text);
    let edits = document.formatting();
    for edit in edits.iter().rev() {
        document.edit(edit.range.clone(), &edit.new_text);
    }
    (!edits.is_empty()).then(|| document.rope().to_string())
}
