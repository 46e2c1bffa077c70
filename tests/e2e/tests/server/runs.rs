//! One plan with several runs: on the command line, and in an editor.

use crate::URI;
use crate::cli::{err, out, run};
use e2e::Client;
use serde_json::{Value, json};
use std::fs;

const PLAN: &str = "\
plan Esters
scale 2.00 mmol acid
materials
  acid:    benzoic acid, 1.00 eq
  alcohol: benzyl alcohol, 1.10 eq
  dmap:    4-dimethylaminopyridine, 10 mol%
  dcm:     dichloromethane, solvent, 10 mL
products
  ester: benzyl benzoate, 1.00 eq, expect 85 %
equipment
  flask: 50 mL round-bottom flask
steps
  add acid, dmap, dcm
  add alcohol
  stir for 16 h

runs
  A: 2.00 mmol
  B: 0.500 mmol, acid is 4-methoxybenzoic acid, 98 %, ester is C15H14O3
  c: 3.00 mmol
";

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("e.prep"), PLAN).unwrap();
    folder
}

fn of(lines: &Value, fits: impl Fn(&Value) -> bool) -> &Value {
    let mut lines = lines.as_array().unwrap().iter();
    lines.find(|line| fits(line)).unwrap()
}

fn assert_close(found: &Value, expected: f64, within: f64) {
    let found = found
        .as_f64()
        .unwrap_or_else(|| panic!("{found} for {expected}"));
    assert!(
        (found / expected - 1.0).abs() < within,
        "{found} for {expected}"
    );
}

/// Expected values by hand from the abridged standard atomic weights of CIAAW (2021; Pure Appl. Chem. 2022, 94, 573), in
/// g/mol: H 1.008, C 12.011, N 14.007, O 15.999.
#[test]
fn totals_are_the_sums_of_what_each_run_takes_by_hand() {
    let folder = folder();
    let output = run(folder.path(), &["amounts", "--format", "json", "e.prep"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let report: Value = serde_json::from_slice(&output.stdout).unwrap();
    let plan = &report["plans"][0];
    let molar = |c: u32, h: u32, n: u32, o: u32| {
        f64::from(c) * 12.011 + f64::from(h) * 1.008 + f64::from(n) * 14.007 + f64::from(o) * 15.999
    };
    let mmol = [2.00, 0.500, 3.00];
    let (benzoic, other) = (molar(7, 6, 0, 2), molar(8, 8, 0, 3));
    let acids = [mmol[0] * benzoic, mmol[1] * other / 0.98, mmol[2] * benzoic];
    let labels = ["A", "B", "c"];
    assert_eq!(plan["runs"].as_array().unwrap().len(), 3);
    for ((label, acid), amount) in labels.iter().zip(acids).zip(mmol) {
        let run = of(&plan["runs"], |run| run["label"] == *label);
        assert_eq!(run["title"], format!("Esters (run {label})"));
        let line = |key: &str| of(&run["materials"], |line| line["key"] == key);
        assert_close(&line("acid")["mass_mg"], acid, 1e-4);
        assert_close(
            &line("dmap")["mass_mg"],
            0.1 * amount * molar(7, 10, 2, 0),
            1e-4,
        );
        assert_close(&line("dcm")["volume_mL"], 10.0 * amount / 2.0, 1e-9);
    }
    let total = |key: &str, name: &str| {
        of(&plan["totals"], |total| {
            total["keys"][0] == key && total["name"] == name
        })
    };
    let own = total("acid", "benzoic acid");
    assert_close(&own["mass_mg"], acids[0] + acids[2], 1e-4);
    assert_close(&own["runs"]["c"]["mass_mg"], acids[2], 1e-4);
    assert_eq!(own["runs"]["B"], Value::Null);
    assert_close(
        &total("acid", "4-methoxybenzoic acid")["mass_mg"],
        acids[1],
        1e-4,
    );
    let sum: f64 = mmol.iter().sum();
    assert_close(
        &total("dmap", "4-dimethylaminopyridine")["mass_mg"],
        0.1 * sum * molar(7, 10, 2, 0),
        1e-4,
    );
    assert_close(
        &total("dcm", "dichloromethane")["volume_mL"],
        5.0 * sum,
        1e-9,
    );
    // The table has a column a run, and what is common to all is in one row.
    let text = out(&run(folder.path(), &["amounts", "e.prep"]));
    let (_, together) = text.split_once("\nAll runs together\n").unwrap();
    let row = |key: &str| {
        together
            .lines()
            .filter(|line| line.trim_start().starts_with(key))
            .count()
    };
    assert_eq!(
        (row("acid "), row("alcohol "), row("dcm ")),
        (2, 1, 1),
        "{text}"
    );
    // A line of the table a material and product of the plan and of each run, and the names of the columns.
    let csv = out(&run(
        folder.path(),
        &["amounts", "--format", "csv", "e.prep"],
    ));
    assert_eq!(csv.lines().count(), 1 + 4 * 5, "{csv}");
}

#[test]
fn every_run_is_a_plan_that_reads_cleanly_and_nothing_is_replaced() {
    let folder = folder();
    let printed = run(folder.path(), &["runs", "e.prep"]);
    assert_eq!(printed.status.code(), Some(0), "{}", err(&printed));
    assert_eq!(out(&printed).matches("plan Esters (run ").count(), 3);
    let written = run(folder.path(), &["runs", "e.prep", "-o", "each"]);
    assert_eq!(written.status.code(), Some(0), "{}", err(&written));
    for label in ["A", "B", "c"] {
        let file = format!("each/e-{label}.prep");
        assert!(
            out(&written).contains(&format!("e-{label}.prep")),
            "{}",
            out(&written)
        );
        let text = fs::read_to_string(folder.path().join(&file)).unwrap();
        let one = run(folder.path(), &["runs", "e.prep", "--run", label]);
        assert_eq!(out(&one), text);
        let check = run(folder.path(), &["check", &file]);
        assert!(
            out(&check).contains("0 errors, 0 warnings"),
            "{}",
            out(&check)
        );
        let twice = run(folder.path(), &["runs", &file]);
        assert!(err(&twice).contains("has no runs"), "{}", err(&twice));
    }
    fs::write(folder.path().join("each/e-B.prep"), "mine").unwrap();
    fs::remove_file(folder.path().join("each/e-A.prep")).unwrap();
    let again = run(folder.path(), &["runs", "e.prep", "-o", "each"]);
    assert_eq!(again.status.code(), Some(2));
    assert!(err(&again).contains("nothing was written") && err(&again).contains("e-B.prep"));
    let kept = fs::read_to_string(folder.path().join("each/e-B.prep")).unwrap();
    assert_eq!(kept, "mine");
    assert!(!folder.path().join("each/e-A.prep").exists());
}

#[test]
fn a_run_has_a_sheet_of_its_own() {
    let folder = folder();
    let one = run(
        folder.path(),
        &["sheet", "e.prep", "--run", "b", "--date", "2026-11-25"],
    );
    assert!(
        out(&one).contains("<h1>Esters (run B)</h1>"),
        "{}",
        err(&one)
    );
    let arguments = ["sheet", "e.prep", "--date", "2026-11-25", "-o", "pages/"];
    let all = run(folder.path(), &arguments);
    assert_eq!(all.status.code(), Some(0), "{}", err(&all));
    let page = fs::read_to_string(folder.path().join("pages/e-B.html")).unwrap();
    assert_eq!(page, out(&one));
    assert!(folder.path().join("pages/e-c.html").exists());
    assert_eq!(run(folder.path(), &arguments).status.code(), Some(2));
    let none = run(folder.path(), &["sheet", "e.prep", "--run", "Z"]);
    assert!(
        err(&none).contains("no run Z: it has A, B, c"),
        "{}",
        err(&none)
    );
}

#[test]
fn what_is_newly_wrong_in_a_run_stands_at_its_line() {
    let folder = folder();
    let large = PLAN.replace("c: 3.00 mmol", "c: 30.0 mmol");
    fs::write(folder.path().join("large.prep"), &large).unwrap();
    let output = run(
        folder.path(),
        &["check", "large.prep", "--deny", "warnings"],
    );
    assert_eq!(output.status.code(), Some(1));
    let text = out(&output);
    assert!(
        text.contains("[wrong-in-a-run]: In run c (overfilled): "),
        "{text}"
    );
    assert!(text.contains("large.prep:20:3"), "{text}");
    let mended = large.replace("30.0 mmol", "30.0 mmol, flask is 500 mL round-bottom flask");
    fs::write(folder.path().join("large.prep"), mended).unwrap();
    let output = run(
        folder.path(),
        &["check", "large.prep", "--deny", "warnings"],
    );
    assert_eq!(output.status.code(), Some(0), "{}", out(&output));
}

fn at(line: u32, character: u32) -> Value {
    json!({"textDocument": {"uri": URI}, "position": {"line": line, "character": character}})
}

#[test]
fn an_editor_shows_a_run_renames_its_keys_and_writes_it_out() {
    let mut client = Client::start();
    client.initialize(&json!({"textDocument": {
        "codeAction": {"codeActionLiteralSupport": {"codeActionKind": {"valueSet": ["refactor"]}}},
        "documentSymbol": {"hierarchicalDocumentSymbolSupport": true},
    }}));
    client.open(URI, PLAN);
    let hover = |client: &mut Client, line| {
        let hover = client.call("textDocument/hover", at(line, 3)).unwrap();
        hover["contents"]["value"].as_str().unwrap().to_owned()
    };
    let b = hover(&mut client, 18);
    // 0.500 mmol of C8H8O3, 152.149 g/mol, are 76.1 mg, and 77.6 mg at 98 %.
    assert!(
        b.contains("run B") && b.contains("77.6 mg") && b.contains("2.50 mL"),
        "{b}"
    );
    let all = hover(&mut client, 16);
    assert!(
        all.contains("27.5 mL") && all.contains("4-methoxybenzoic acid"),
        "{all}"
    );

    let range = json!({"start": {"line": 18, "character": 3}, "end": {"line": 18, "character": 3}});
    let asked =
        json!({"textDocument": {"uri": URI}, "range": range, "context": {"diagnostics": []}});
    let actions = client.call("textDocument/codeAction", asked).unwrap();
    let action = of(&actions, |action| {
        action["title"] == "Write run B as a plan of its own"
    });
    let edit = &action["edit"]["changes"][URI][0];
    assert_eq!(edit["range"]["start"], json!({"line": 20, "character": 0}));
    let text = edit["newText"].as_str().unwrap();
    assert!(
        text.starts_with("\nplan Esters (run B)\nscale 0.500 mmol acid\n"),
        "{text}"
    );

    let renamed = json!({"textDocument": {"uri": URI}, "position": {"line": 3, "character": 3}, "newName": "substrate"});
    let renamed = client.call("textDocument/rename", renamed).unwrap();
    let edits = renamed["changes"][URI].as_array().unwrap();
    let lines: Vec<u64> = edits
        .iter()
        .map(|edit| edit["range"]["start"]["line"].as_u64().unwrap())
        .collect();
    assert!(lines.contains(&18), "{lines:?}");

    let symbols = json!({"textDocument": {"uri": URI}});
    let symbols = client.call("textDocument/documentSymbol", symbols).unwrap();
    assert!(symbols.to_string().contains("\"runs\""), "{symbols}");

    let typing = PLAN.replace("c: 3.00 mmol", "c: 3.00 mmol, al");
    client.change(URI, 2, &[json!({"text": typing})]);
    let offered = client.call("textDocument/completion", at(19, 18)).unwrap();
    assert!(offered.to_string().contains("alcohol is "), "{offered}");
    assert_eq!(client.finish().code(), Some(0));
}
