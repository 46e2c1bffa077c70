//! The command line: bench sheets, and what other programs read.

use crate::PLAN;
use crate::cli::{err, out, run};
use serde_json::Value;
use std::fs;

/// A folder with a plan that has a warning and no error, and a file with two plans.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let good = PLAN.replace("2,5", "2.5");
    fs::write(folder.path().join("one.prep"), &good).unwrap();
    fs::write(folder.path().join("two.prep"), format!("{good}\nplan B\n")).unwrap();
    fs::write(folder.path().join("none.prep"), "\n").unwrap();
    fs::write(
        folder.path().join("warns.prep"),
        "plan A\nmaterials\n  base: n-butyllithium, 2.5 M in hexanes, 2 mL\nequipment\n  flask: 50 mL flask\nsteps\n  add base\n",
    )
    .unwrap();
    folder
}

#[test]
fn a_sheet_is_printed_or_written_and_is_the_same_each_time() {
    let folder = folder();
    let arguments = ["sheet", "one.prep", "--date", "2026-11-25"];
    let printed = run(folder.path(), &arguments);
    assert_eq!(printed.status.code(), Some(0), "{}", err(&printed));
    let page = out(&printed);
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("2026-11-25"));
    for _ in 0..2 {
        let arguments = [&arguments[..], &["-o", "sheet.html"]].concat();
        let written = run(folder.path(), &arguments);
        assert_eq!(written.status.code(), Some(0), "{}", err(&written));
        assert_eq!(out(&written), "");
        let file = fs::read_to_string(folder.path().join("sheet.html")).unwrap();
        assert_eq!(file, page);
    }
}

#[test]
fn a_sheet_that_cannot_be_made_says_why() {
    let folder = folder();
    for (arguments, why) in [
        (&["two.prep"][..], "say which:\n  --plan 1  "),
        (&["two.prep", "--plan", "3"], "has no plan 3:"),
        (&["none.prep"], "holds no plan"),
        (&["missing.prep"], "there is no such file"),
        (&["one.prep", "--date", "2026-02-30"], "a day that exists"),
        (&["one.prep", "-o", "no/such/folder.html"], "cannot write"),
    ] {
        let output = run(folder.path(), &[&["sheet"][..], arguments].concat());
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(err(&output).contains(why), "{}", err(&output));
    }
    let second = run(folder.path(), &["sheet", "two.prep", "--plan", "2"]);
    assert!(out(&second).contains("<h1>B</h1>"), "{}", err(&second));
}

#[test]
fn warnings_are_let_through_unless_they_are_denied() {
    let folder = folder();
    let check = |more: &[&str]| {
        run(
            folder.path(),
            &[&["check", "warns.prep"][..], more].concat(),
        )
    };
    let free = check(&[]);
    assert_eq!(free.status.code(), Some(0), "{}", out(&free));
    assert!(out(&free).contains("warning["), "{}", out(&free));
    assert_eq!(check(&["--deny", "warnings"]).status.code(), Some(1));
    let sarif = check(&["--format", "sarif", "--deny", "warnings"]);
    assert_eq!(sarif.status.code(), Some(1));
    let log: Value = serde_json::from_slice(&sarif.stdout).unwrap();
    assert_eq!(log["version"], "2.1.0");
    let results = log["runs"][0]["results"].as_array().unwrap();
    assert!(results.iter().any(|result| result["level"] == "warning"));
}

#[test]
fn amounts_go_into_a_table() {
    let folder = folder();
    let output = run(folder.path(), &["amounts", "--format", "csv", "one.prep"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let table = out(&output);
    let lines: Vec<&str> = table.lines().collect();
    assert!(lines[0].starts_with("plan,line,key,name,"));
    // Three materials and a product, below the names of the columns.
    assert_eq!(lines.len(), 5, "{table}");
    assert!(lines[4].contains(",product,ester,"));
}
