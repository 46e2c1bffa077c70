//! `meniscus check`

use super::sarif::Log;
use super::{CheckFormat, Denied, Outcome, complain, crew, drawing, files, print, print_json};
use crate::positions::{Encoding, to_position};
use crate::surroundings::Surroundings;
use checks::Profile;
use ide::{Document, Finding, Severity};
use ropey::Rope;
use serde::Serialize;
use std::collections::BTreeMap;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// The findings of all files, as programs read them.
#[derive(Serialize)]
struct Report {
    /// Number of this form of the report.
    schema: u32,
    findings: Vec<Record>,
}

/// One finding; lines and columns count from 1, columns in characters, and the end is exclusive.
#[derive(Serialize)]
struct Record {
    file: String,
    line: u32,
    column: u32,
    end_line: u32,
    end_column: u32,
    check: &'static str,
    severity: &'static str,
    message: String,
    fixes: Vec<String>,
}

/// Reports the findings of every plan under these paths.
pub(super) fn check(
    paths: &[PathBuf],
    format: CheckFormat,
    profile: Option<Profile>,
    denied: Option<Denied>,
) -> Outcome {
    let (files, complaints) = files::plans(paths);
    let mut outcome = Outcome::Fine;
    for complaint in complaints {
        outcome = complain(&complaint);
    }
    let mut records = Vec::new();
    let mut log = Log::default();
    let mut drawn = String::new();
    let mut count = Count::default();
    let surroundings = Mutex::new(Surroundings::with_profile(profile));
    let mut read_against = BTreeMap::new();
    let mut report = |file: &Path, findings: Vec<Finding>, text: &Rope, count: &mut Count| {
        for finding in findings {
            count.add(finding.severity);
            match format {
                CheckFormat::Json => records.push(record(file, &finding, text)),
                CheckFormat::Sarif => log.add(file, &finding, text),
                CheckFormat::Text => drawn.push_str(&drawing::draw(file, &finding, text)),
            }
        }
    };
    let looked = crew::each(&files, |file| -> Result<_, String> {
        let text = files::read(file)?;
        let found = {
            let mut surroundings = surroundings.lock().unwrap_or_else(PoisonError::into_inner);
            surroundings.for_plan(file)
        };
        let document = Document::with_context(&text, found.context);
        let findings = document.findings();
        // What nothing was found in is not kept.
        let text = match findings.is_empty() {
            true => Rope::new(),
            false => document.rope().clone(),
        };
        Ok((findings, text, found.files))
    });
    for (file, looked) in files.iter().zip(looked) {
        let (findings, text, kept) = match looked {
            Ok(looked) => looked,
            Err(complaint) => {
                outcome = complain(&complaint);
                continue;
            }
        };
        count.files += 1;
        read_against.extend(kept.into_iter().map(|kept| (kept.path.clone(), kept)));
        report(file, findings, &text, &mut count);
    }
    for (path, kept) in &read_against {
        let text = Rope::from_str(&kept.text);
        report(&files::shown(path), kept.findings(), &text, &mut count);
    }
    let printed = match format {
        CheckFormat::Json => print_json(&Report {
            schema: 1,
            findings: records,
        }),
        CheckFormat::Sarif => print_json(&log.document()),
        CheckFormat::Text => print(&(drawn + &count.summary())),
    };
    match (printed, outcome) {
        (Outcome::Misuse, _) | (_, Outcome::Misuse) => Outcome::Misuse,
        _ if count.errors > 0 => Outcome::Wrong,
        _ if denied.is_some() && count.warnings > 0 => Outcome::Wrong,
        _ => Outcome::Fine,
    }
}

fn record(file: &Path, finding: &Finding, text: &Rope) -> Record {
    let (start, end) = place(&finding.range, text);
    Record {
        file: file.display().to_string(),
        line: start.0,
        column: start.1,
        end_line: end.0,
        end_column: end.1,
        check: finding.check,
        severity: finding.severity.word(),
        message: finding.message.clone(),
        fixes: finding.fixes.iter().map(|fix| fix.title.clone()).collect(),
    }
}

/// Line and column of both ends, from 1 and in characters; the end is exclusive.
pub(super) fn place(range: &Range<usize>, text: &Rope) -> ((u32, u32), (u32, u32)) {
    let from_one = |offset| {
        let position = to_position(text, offset, Encoding::Utf32);
        (position.line + 1, position.character + 1)
    };
    (from_one(range.start), from_one(range.end))
}

#[derive(Default)]
struct Count {
    files: usize,
    errors: usize,
    warnings: usize,
    others: usize,
}

impl Count {
    fn add(&mut self, severity: Severity) {
        match severity {
            Severity::Error => self.errors += 1,
            Severity::Warning => self.warnings += 1,
            Severity::Information | Severity::Hint => self.others += 1,
        }
    }

    fn summary(&self) -> String {
        let number = |number: usize, one: &str, many: &str| match number {
            1 => format!("1 {one}"),
            _ => format!("{number} {many}"),
        };
        format!(
            "{}, {}, {} in {}\n",
            number(self.errors, "error", "errors"),
            number(self.warnings, "warning", "warnings"),
            number(self.others, "remark", "remarks"),
            number(self.files, "file", "files"),
        )
    }
}
