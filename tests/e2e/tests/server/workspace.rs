//! Findings of plans that are not open.

use crate::PLAN;
use e2e::Client;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

fn uri(folder: &Path, file: &str) -> String {
    format!("file://{}/{file}", folder.display())
}

fn connect(folder: &Path) -> Client {
    let mut client = Client::start();
    let folder = format!("file://{}", folder.display());
    let offered = client.initialize_in(&[&folder], &json!({"textDocument": {"diagnostic": {}}}));
    assert_eq!(offered["diagnosticProvider"]["workspaceDiagnostics"], true);
    client
}

/// Kinds, checks and result ids by file.
fn reports(answer: &Value) -> BTreeMap<String, (String, Vec<String>, Value)> {
    let report = |item: &Value| {
        let name = item["uri"].as_str().unwrap().rsplit('/').next().unwrap();
        let found = item["items"].as_array().into_iter().flatten();
        let codes = found.map(|found| found["code"].as_str().unwrap_or_default().to_owned());
        let kind = item["kind"].as_str().unwrap().to_owned();
        (
            name.to_owned(),
            (kind, codes.collect(), item["resultId"].clone()),
        )
    };
    answer["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(report)
        .collect()
}

fn told<'a>(kind: &str, codes: impl IntoIterator<Item = &'a str>) -> (String, Vec<String>) {
    (
        kind.to_owned(),
        codes.into_iter().map(str::to_owned).collect(),
    )
}

#[test]
fn plans_that_are_not_open_are_checked_and_only_what_changed_is_told_again() {
    let bench = tempfile::tempdir().unwrap();
    let folder = bench.path();
    fs::create_dir_all(folder.join("sub/.hidden")).unwrap();
    for file in ["open.prep", "sub/wrong.prep", "sub/.hidden/no.prep"] {
        fs::write(folder.join(file), PLAN).unwrap();
    }
    fs::write(folder.join("good.PREP"), PLAN.replace("2,5", "2.5")).unwrap();
    fs::write(folder.join("sub/binary.prep"), b"\xff\xfe").unwrap();
    let mut client = connect(folder);
    let open = uri(folder, "open.prep");
    client.open(&open, &PLAN.replace("2,5", "2.5"));
    let mut known: BTreeMap<String, (String, Value)> = BTreeMap::new();
    let mut ask = |client: &mut Client| {
        let has: Vec<Value> = (known.values())
            .map(|(uri, id)| json!({"uri": uri, "value": id}))
            .collect();
        let answer = client
            .call("workspace/diagnostic", json!({"previousResultIds": has}))
            .unwrap();
        for item in answer["items"].as_array().unwrap() {
            let uri = item["uri"].as_str().unwrap().to_owned();
            known.insert(uri.clone(), (uri, item["resultId"].clone()));
        }
        let reports = reports(&answer).into_iter();
        let short = reports.map(|(name, (kind, codes, _))| (name, (kind, codes)));
        short.collect::<BTreeMap<_, _>>()
    };
    let first = ask(&mut client);
    assert_eq!(first.len(), 4, "{first:?}");
    assert_eq!(first["open.prep"], told("full", []));
    assert_eq!(first["good.PREP"], told("full", []));
    assert_eq!(first["wrong.prep"], told("full", ["decimal-comma"]));
    assert_eq!(first["binary.prep"].1.len(), 1);
    assert!(
        ask(&mut client)
            .values()
            .all(|(kind, _)| kind == "unchanged")
    );

    fs::write(folder.join("sub/wrong.prep"), PLAN.replace("2,5", "2.50")).unwrap();
    fs::remove_file(folder.join("good.PREP")).unwrap();
    client.change(&open, 2, &[json!({"text": PLAN})]);
    let then = ask(&mut client);
    assert_eq!(then["wrong.prep"], told("full", []));
    assert_eq!(then["good.PREP"], told("full", []));
    assert_eq!(then["open.prep"], told("full", ["decimal-comma"]));
    assert_eq!(then["binary.prep"].0, "unchanged");

    // What plans are read against counts here too; a plan that is new is found when the client tells of it.
    fs::write(
        folder.join("sub/meniscus.toml"),
        "[checks]\nprofile = \"strict\"\n",
    )
    .unwrap();
    fs::write(folder.join("new.prep"), PLAN).unwrap();
    let changes = json!({"changes": [{"uri": uri(folder, "new.prep"), "type": 1}]});
    client.notify("workspace/didChangeWatchedFiles", changes);
    client.asked("workspace/diagnostic/refresh");
    assert_eq!(
        ask(&mut client)["new.prep"],
        told("full", ["decimal-comma"])
    );

    let folders = json!({"event": {"added": [], "removed": [{"uri": format!("file://{}", folder.display()), "name": ""}]}});
    client.notify("workspace/didChangeWorkspaceFolders", folders);
    let last = ask(&mut client);
    assert_eq!(last["new.prep"], told("full", []));
    assert_eq!(last["open.prep"].0, "unchanged");
    assert_eq!(client.finish().code(), Some(0));
}

/// So many plans that the answer takes long.
const MANY: usize = 400;

fn many() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for number in 0..MANY {
        fs::write(folder.path().join(format!("{number}.prep")), PLAN).unwrap();
    }
    folder
}

#[test]
fn a_long_look_holds_up_nothing_and_can_be_cancelled() {
    let bench = many();
    let mut client = connect(bench.path());
    let open = uri(bench.path(), "0.prep");
    client.open(&open, PLAN);
    let id = client.request("workspace/diagnostic", json!({"previousResultIds": []}));
    let place = json!({"textDocument": {"uri": open}, "position": {"line": 3, "character": 4}});
    assert_ne!(
        client.call("textDocument/hover", place).unwrap(),
        Value::Null
    );
    // Only what is not answered yet can be cancelled.
    client.notify("$/cancelRequest", json!({"id": id}));
    assert_eq!(client.answer(id).unwrap_err()["code"], -32800);
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn a_long_look_is_told_in_parts_with_its_progress() {
    let bench = many();
    let mut client = connect(bench.path());
    let params = json!({"previousResultIds": [], "workDoneToken": "work", "partialResultToken": 7});
    let answer = client.call("workspace/diagnostic", params).unwrap();
    assert_eq!(answer["items"], json!([]), "all of it was told in parts");
    let (mut plans, mut parts, mut last) = (0, 0, 0);
    assert_eq!(client.told("$/progress")["value"]["kind"], "begin");
    loop {
        let progress = client.told("$/progress");
        if progress["token"] == 7 {
            parts += 1;
            plans += progress["value"]["items"].as_array().unwrap().len();
        } else if progress["value"]["kind"] == "end" {
            break;
        } else {
            let now = progress["value"]["percentage"].as_u64().unwrap();
            assert!(last <= now && now <= 100);
            last = now;
        }
    }
    assert_eq!(plans, MANY);
    assert!(parts > 1);
    assert_eq!(client.finish().code(), Some(0));
}
