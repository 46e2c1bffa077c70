//! The command line.

use crate::PLAN;
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

/// Runs `meniscus` in a folder.
pub(crate) fn run(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(e2e::meniscus())
        .current_dir(folder)
        .args(arguments)
        .output()
        .unwrap()
}

/// What it wrote to standard output.
pub(crate) fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

/// What it wrote to standard error.
pub(crate) fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// A folder with a plan that has an error, one that has none, and what is no plan.
fn bench() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("sub")).unwrap();
    fs::create_dir(folder.path().join("empty")).unwrap();
    fs::write(
        folder.path().join("sub/good.prep"),
        PLAN.replace("2,5", "2.5"),
    )
    .unwrap();
    fs::write(folder.path().join("wrong.prep"), PLAN).unwrap();
    fs::write(folder.path().join("list.txt"), "2,5 mL").unwrap();
    folder
}

#[test]
fn check_draws_findings_and_fails_on_errors() {
    let folder = bench();
    let output = run(folder.path(), &["check", "wrong.prep"]);
    assert_eq!(output.status.code(), Some(1));
    let text = out(&output);
    assert!(text.starts_with("error[decimal-comma]: "), "{text}");
    assert!(text.contains("--> wrong.prep:5:19"), "{text}");
    assert!(text.contains("5 |   base: pyridine, 2,5 mL\n"), "{text}");
    assert!(text.contains("^^^"), "{text}");
    assert!(!text.contains('\u{1b}'), "no colours but on a terminal");
    assert_eq!(err(&output), "");

    let output = run(folder.path(), &["check", "sub/good.prep"]);
    assert_eq!(output.status.code(), Some(0), "{}", out(&output));
    assert!(out(&output).contains("0 errors"));
}

#[test]
fn check_searches_folders() {
    let folder = bench();
    let output = run(folder.path(), &["check", "."]);
    assert_eq!(output.status.code(), Some(1));
    assert!(out(&output).ends_with("in 2 files\n"), "{}", out(&output));
}

#[test]
fn check_writes_json() {
    let folder = bench();
    fs::write(
        folder.path().join("wide.prep"),
        "plan 😀\r\nmaterials\r\n  µ: toluene, 2,5 mL\r\n",
    )
    .unwrap();
    let output = run(folder.path(), &["check", "--format", "json", "wide.prep"]);
    assert_eq!(output.status.code(), Some(1));
    let report: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(report["schema"], 1);
    let finding = &report["findings"][0];
    assert_eq!(finding["file"], "wide.prep");
    assert_eq!(finding["check"], "decimal-comma");
    assert_eq!(finding["severity"], "error");
    assert_eq!(
        (&finding["line"], &finding["column"]),
        (&3.into(), &15.into())
    );
    assert_eq!(finding["end_line"], 3);
    assert!(finding["message"].is_string() && finding["fixes"][0].is_string());

    let output = run(folder.path(), &["check", "--format", "json", "sub"]);
    let report: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(report["findings"].as_array().map(Vec::len), Some(0));
}

#[test]
fn what_cannot_be_read_is_said_and_the_rest_is_checked() {
    let folder = bench();
    fs::write(folder.path().join("latin.prep"), b"plan A\nat 20 \xb0C\n").unwrap();
    let output = run(
        folder.path(),
        &["check", "latin.prep", "gone.prep", "empty", "wrong.prep"],
    );
    assert_eq!(output.status.code(), Some(2));
    let complaints = err(&output);
    for complaint in [
        "cannot read latin.prep: line 2 is not UTF-8",
        "cannot read gone.prep: there is no such file",
        "no plan in empty",
    ] {
        assert!(complaints.contains(complaint), "{complaints}");
    }
    assert!(out(&output).contains("decimal-comma"));
}

#[test]
fn misuse_is_told() {
    let folder = bench();
    for arguments in [
        &[][..],
        &["check"],
        &["chekc"],
        &["check", "--format", "xml", "."],
    ] {
        let output = run(folder.path(), arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(
            err(&output).contains("--help"),
            "{arguments:?}: {}",
            err(&output)
        );
        assert_eq!(out(&output), "");
    }
}
