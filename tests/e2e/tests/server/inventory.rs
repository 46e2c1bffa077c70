//! The inventory: on the disk, in the editor, and on the command line.

use crate::cli::{out, run};
use e2e::Client;
use serde_json::{Value, json};
use std::fs;
use std::path::Path;

// Old enough to be old on every day on which this is run.
const BOTTLES: &str = r#"[[bottle]]
name = "etmgbr-2"
substance = "ethylmagnesium bromide"
strength = "3.0 M in diethyl ether"
titre = "2.87 M"
titred = 2020-01-02
left = "85 mL"
place = "fridge 2, box C"

[[bottle]]
name = "aldehyde-1"
substance = "benzaldehyde"
"#;

const PLAN: &str = "\
plan A
scale 10.0 mmol aldehyde
materials
  aldehyde: benzaldehyde, bottle aldehyde-1, 1.00 eq
  reagent: ethylmagnesium bromide, bottle etmgbr-2, 1.20 eq
";

/// A folder with a plan and, above it, an inventory.
struct Bench(tempfile::TempDir);

impl Bench {
    fn new() -> Bench {
        let bench = Bench(tempfile::tempdir().unwrap());
        fs::create_dir(bench.path().join("plans")).unwrap();
        fs::write(bench.path().join("plans/a.prep"), PLAN).unwrap();
        bench.write(BOTTLES);
        bench
    }

    /// Without the links that a system may have above its folder of temporary files.
    fn path(&self) -> &Path {
        self.0.path()
    }

    fn write(&self, inventory: &str) {
        fs::write(self.path().join("inventory.toml"), inventory).unwrap();
    }

    fn uri(&self, file: &str) -> String {
        format!("file://{}/{file}", self.path().display())
    }

    /// Writes an inventory and says so.
    fn save(&self, client: &mut Client, inventory: &str) {
        self.write(inventory);
        client.notify(
            "workspace/didChangeWatchedFiles",
            json!({"changes": [{"uri": self.uri("inventory.toml"), "type": 2}]}),
        );
    }
}

fn client(capabilities: &Value) -> Client {
    let mut client = Client::start();
    client.initialize(capabilities);
    client
}

/// The label at the end of the reagent's line.
fn reagent(client: &mut Client, uri: &str) -> String {
    let range = json!({"start": {"line": 4, "character": 0}, "end": {"line": 5, "character": 0}});
    let params = json!({"textDocument": {"uri": uri}, "range": range});
    let hints = client.call("textDocument/inlayHint", params).unwrap();
    hints[0]["label"].as_str().unwrap_or_default().to_owned()
}

fn at(uri: &str, line: u32, character: u32) -> Value {
    json!({"textDocument": {"uri": uri}, "position": {"line": line, "character": character}})
}

#[test]
fn a_change_on_the_disk_reaches_every_open_plan() {
    let bench = Bench::new();
    let mut client = client(&json!({"workspace": {
        "didChangeWatchedFiles": {"dynamicRegistration": true},
        "inlayHint": {"refreshSupport": true},
    }}));
    let registered = client.asked("client/registerCapability");
    let registration = &registered["registrations"][0];
    assert_eq!(registration["method"], "workspace/didChangeWatchedFiles");
    assert_eq!(
        registration["registerOptions"]["watchers"][0]["globPattern"],
        "**/inventory.toml"
    );

    let plan = bench.uri("plans/a.prep");
    client.open(&plan, PLAN);
    client.findings_become(&plan, &["titre-old"]);
    // 12.0 mmol over 2.87 mol/L, and over 2.00 mol/L.
    assert!(reagent(&mut client, &plan).starts_with("4.18 mL"));

    bench.save(
        &mut client,
        &BOTTLES.replace("2.87 M", "2.00 M").replace("85 mL", "1 mL"),
    );
    client.findings_become(&plan, &["bottle-not-enough", "titre-old"]);
    client.asked("workspace/inlayHint/refresh");
    assert!(reagent(&mut client, &plan).starts_with("6.00 mL"));

    bench.save(&mut client, &BOTTLES.replace("2020-01-02", "9999-01-02"));
    client.findings_become(&plan, &[]);
    fs::remove_file(bench.path().join("inventory.toml")).unwrap();
    client.notify(
        "workspace/didChangeWatchedFiles",
        json!({"changes": [{"uri": bench.uri("inventory.toml"), "type": 3}]}),
    );
    client.findings_become(&plan, &["bottle-unknown", "strength-missing"]);
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn a_client_that_does_not_watch_files_says_when_it_saves() {
    let bench = Bench::new();
    let mut client = client(&json!({}));
    let plan = bench.uri("plans/a.prep");
    client.open(&plan, PLAN);
    client.findings_become(&plan, &["titre-old"]);
    bench.write(&BOTTLES.replace("85 mL", "1 mL"));
    client.notify(
        "textDocument/didSave",
        json!({"textDocument": {"uri": plan}}),
    );
    client.findings_become(&plan, &["bottle-not-enough", "titre-old"]);
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn a_broken_inventory_keeps_its_good_bottles() {
    let bench = Bench::new();
    let mut client = client(&json!({}));
    let (plan, inventory) = (bench.uri("plans/a.prep"), bench.uri("inventory.toml"));
    client.open(&plan, PLAN);
    client.findings_become(&plan, &["titre-old"]);

    bench.save(&mut client, &BOTTLES.replace("\"2.87 M\"", "\"2.87 M"));
    let findings = client.findings_become(&plan, &["bottle-unknown"]);
    assert_eq!(findings[0]["range"]["start"]["line"], 4, "{findings:?}");
    let problems = client.findings_become(&inventory, &["inventory"]);
    assert_eq!(problems[0]["range"]["start"]["line"], 4, "{problems:?}");
    assert_eq!(problems[0]["severity"], 1);

    bench.save(&mut client, BOTTLES);
    client.findings_become(&plan, &["titre-old"]);
    client.findings_become(&inventory, &[]);

    // What is wrong with it leaves the client's list with the last plan that is read against it.
    bench.save(&mut client, "[[bottle]]\n");
    client.findings_become(&inventory, &["inventory", "inventory"]);
    client.notify(
        "textDocument/didClose",
        json!({"textDocument": {"uri": plan}}),
    );
    client.findings_become(&inventory, &[]);
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn an_inventory_that_is_open_rules_over_its_file() {
    let bench = Bench::new();
    let mut client =
        client(&json!({"textDocument": {"publishDiagnostics": {"versionSupport": true}}}));
    let (plan, inventory) = (bench.uri("plans/a.prep"), bench.uri("inventory.toml"));
    client.open(&plan, PLAN);
    client.findings_become(&plan, &["titre-old"]);
    let document = json!({"uri": inventory, "languageId": "toml", "version": 1, "text": BOTTLES});
    client.notify("textDocument/didOpen", json!({"textDocument": document}));
    assert_eq!(client.findings(&inventory, 1).len(), 0);

    let line = json!({"start": {"line": 6, "character": 8}, "end": {"line": 6, "character": 10}});
    client.change(&inventory, 2, &[json!({"range": line, "text": "1"})]);
    client.findings_become(&plan, &["bottle-not-enough", "titre-old"]);
    client.change(
        &inventory,
        3,
        &[json!({"text": BOTTLES.replace("85 mL", "85")})],
    );
    assert_eq!(client.findings(&inventory, 3).len(), 1);
    client.findings_become(&plan, &["bottle-unknown"]);
    // It is no plan.
    let nothing = client.call("textDocument/hover", at(&inventory, 1, 2));
    assert_eq!(nothing.unwrap(), Value::Null);

    client.notify(
        "textDocument/didClose",
        json!({"textDocument": {"uri": inventory}}),
    );
    client.findings_become(&plan, &["titre-old"]);
    client.findings_become(&inventory, &[]);
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn settings_rule_the_ages_and_what_is_wrong_with_them_is_told_in_their_file() {
    let bench = Bench::new();
    let mut client = client(&json!({}));
    let (plan, settings) = (bench.uri("plans/a.prep"), bench.uri("meniscus.toml"));
    client.open(&plan, PLAN);
    client.findings_become(&plan, &["titre-old"]);

    let save = |client: &mut Client, text: &str| {
        fs::write(bench.path().join("meniscus.toml"), text).unwrap();
        client.notify(
            "workspace/didChangeWatchedFiles",
            json!({"changes": [{"uri": settings, "type": 2}]}),
        );
    };
    save(&mut client, "[ages]\ntitre-unopened = 99999\n");
    client.findings_become(&plan, &[]);
    save(&mut client, "[ages]\ntitre-unopened = \"long\"\n");
    client.findings_become(&plan, &["titre-old"]);
    let problems = client.findings_become(&settings, &["settings"]);
    assert_eq!(problems[0]["range"]["start"]["line"], 1, "{problems:?}");
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn a_bottle_leads_to_the_inventory_and_a_key_to_its_line() {
    let bench = Bench::new();
    let mut client = client(&json!({}));
    let plan = bench.uri("plans/a.prep");
    client.open(&plan, &format!("{PLAN}steps\n  add reagent 2 mL\n"));
    let bottle = client
        .call("textDocument/definition", at(&plan, 4, 44))
        .unwrap();
    assert_eq!(bottle["uri"], json!(bench.uri("inventory.toml")));
    let name = json!({"start": {"line": 1, "character": 7}, "end": {"line": 1, "character": 17}});
    assert_eq!(bottle["range"], name);
    let hover = client.call("textDocument/hover", at(&plan, 4, 44)).unwrap();
    let text = hover["contents"]["value"].as_str().unwrap_or_default();
    assert!(
        text.contains("fridge 2, box C") && text.contains("85 mL left"),
        "{text}"
    );

    let key = client
        .call("textDocument/definition", at(&plan, 6, 8))
        .unwrap();
    assert_eq!(key["uri"], json!(plan));
    let place = json!({"start": {"line": 4, "character": 2}, "end": {"line": 4, "character": 9}});
    assert_eq!(key["range"], place);
    assert_eq!(
        client
            .call("textDocument/definition", at(&plan, 0, 2))
            .unwrap(),
        Value::Null
    );
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn the_command_line_reads_it_too() {
    let bench = Bench::new();
    let amounts = run(bench.path(), &["amounts", "plans/a.prep"]);
    assert!(out(&amounts).contains("4.18 mL"), "{}", out(&amounts));
    let rescaled = run(bench.path(), &["rescale", "plans/a.prep", "--by", "2"]);
    assert!(
        out(&rescaled).contains("bottle etmgbr-2, 1.20 eq"),
        "{}",
        out(&rescaled)
    );

    let checked = run(bench.path(), &["check", "plans"]);
    assert_eq!(checked.status.code(), Some(0), "{}", out(&checked));
    assert!(
        out(&checked).contains("information[titre-old]"),
        "{}",
        out(&checked)
    );

    // Its own problems are told once, however many plans are read against it.
    fs::write(bench.path().join("plans/b.prep"), PLAN).unwrap();
    bench.write(&BOTTLES.replace("\"85 mL\"", "85"));
    let checked = run(bench.path(), &["check", "plans"]);
    let text = out(&checked);
    assert_eq!(checked.status.code(), Some(1), "{text}");
    assert_eq!(text.matches("error[inventory]").count(), 1, "{text}");
    assert!(
        text.contains("inventory.toml:7:8") && text.contains("7 | left = 85"),
        "{text}"
    );
    assert_eq!(text.matches("error[bottle-unknown]").count(), 2, "{text}");
    let checked = run(bench.path(), &["check", "--format", "json", "plans"]);
    let report: Value = serde_json::from_slice(&checked.stdout).unwrap();
    let last = report["findings"]
        .as_array()
        .and_then(|all| all.last())
        .unwrap();
    assert_eq!(
        (&last["check"], &last["line"]),
        (&"inventory".into(), &7.into())
    );
}
