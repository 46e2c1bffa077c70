//! What an editor asks for: findings, symbols of every open plan, links, and what a step may still say.

use crate::{PLAN, URI};
use e2e::Client;
use serde_json::{Value, json};

fn at(line: u32, character: u32) -> Value {
    json!({"textDocument": {"uri": URI}, "position": {"line": line, "character": character}})
}

#[test]
fn a_client_that_asks_for_findings_gets_them_when_it_asks_and_not_twice() {
    let mut client = Client::start();
    let offered = client.initialize(&json!({
        "textDocument": {"diagnostic": {}, "publishDiagnostics": {"versionSupport": true}},
    }));
    assert_eq!(offered["diagnosticProvider"]["interFileDependencies"], true);
    client.open(URI, PLAN);
    let ask = |id: &Value| json!({"textDocument": {"uri": URI}, "previousResultId": id});
    let first = client
        .call("textDocument/diagnostic", ask(&Value::Null))
        .unwrap();
    assert_eq!(first["kind"], "full");
    assert_eq!(first["items"][0]["code"], "decimal-comma");
    let again = client
        .call("textDocument/diagnostic", ask(&first["resultId"]))
        .unwrap();
    assert_eq!(
        again,
        json!({"kind": "unchanged", "resultId": first["resultId"]})
    );

    client.change(URI, 2, &[json!({"text": PLAN.replace("2,5", "2.5")})]);
    let mended = client
        .call("textDocument/diagnostic", ask(&first["resultId"]))
        .unwrap();
    assert_eq!(
        (&mended["kind"], &mended["items"]),
        (&json!("full"), &json!([]))
    );
    let unknown = json!({"textDocument": {"uri": "file:///bench/none.prep"}});
    let none = client.call("textDocument/diagnostic", unknown).unwrap();
    assert_eq!(none["items"], json!([]));
    // What was published before it asked is taken back, and nothing is published from then on.
    assert_eq!(client.findings(URI, Value::Null), [0; 0]);
    assert!(!client.versions(URI).contains(&2));
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn a_file_that_changes_has_the_client_ask_anew() {
    let folder = tempfile::tempdir().unwrap();
    let inventory = folder.path().join("inventory.toml");
    std::fs::write(&inventory, "").unwrap();
    let name = |file: &str| format!("file://{}", folder.path().join(file).display());
    let mut client = Client::start();
    client.initialize(&json!({"textDocument": {"diagnostic": {}}}));
    client.open(
        &name("a.prep"),
        &PLAN.replace("pyridine,", "pyridine, bottle p-1,"),
    );
    let ask = json!({"textDocument": {"uri": name("a.prep")}});
    let codes = |client: &mut Client| {
        let found = client.call("textDocument/diagnostic", ask.clone()).unwrap();
        let items = found["items"].as_array().unwrap().iter();
        items
            .map(|item| item["code"].as_str().unwrap().to_owned())
            .collect::<Vec<_>>()
    };
    assert!(codes(&mut client).contains(&"bottle-unknown".to_owned()));
    let bottle = "[[bottle]]\nname = \"p-1\"\nsubstance = \"pyridine\"\nleft = \"90 mL\"\n";
    std::fs::write(&inventory, bottle).unwrap();
    let changes = json!({"changes": [{"uri": name("inventory.toml"), "type": 2}]});
    client.notify("workspace/didChangeWatchedFiles", changes);
    client.asked("workspace/diagnostic/refresh");
    assert!(!codes(&mut client).contains(&"bottle-unknown".to_owned()));
    // What is wrong with the file itself is published: nobody asks about a file that is not open.
    std::fs::write(&inventory, "[[bottle]]\nname = 5\n").unwrap();
    let changes = json!({"changes": [{"uri": name("inventory.toml"), "type": 2}]});
    client.notify("workspace/didChangeWatchedFiles", changes);
    assert!(
        !client
            .findings(&name("inventory.toml"), Value::Null)
            .is_empty()
    );
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn keys_and_plans_of_every_open_document_are_found() {
    let mut client = Client::start();
    client.initialize(&json!({}));
    client.open(URI, PLAN);
    client.open(
        "file:///bench/b.prep",
        &PLAN.replace("Acetylation", "Another"),
    );
    let mut found = |query: &str| {
        let found = client
            .call("workspace/symbol", json!({"query": query}))
            .unwrap();
        let line = |found: &Value| {
            let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
            let uri = text(&found["location"]["uri"]);
            let line = &found["location"]["range"]["start"]["line"];
            format!(
                "{} in {} {}:{line}",
                text(&found["name"]),
                text(&found["containerName"]),
                uri.rsplit('/').next().unwrap()
            )
        };
        found
            .as_array()
            .unwrap()
            .iter()
            .map(line)
            .collect::<Vec<_>>()
    };
    assert_eq!(
        found("ALC"),
        [
            "Acetylation of benzyl alcohol in  a.prep:0",
            "alcohol in Acetylation of benzyl alcohol a.prep:3",
            "Another of benzyl alcohol in  b.prep:0",
            "alcohol in Another of benzyl alcohol b.prep:3",
        ]
    );
    assert_eq!(found("flsk").len(), 2);
    assert_eq!(found("").len(), 12);
    assert_eq!(found("stir"), [""; 0]);
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn links_and_what_a_step_may_still_say() {
    let mut client = Client::start();
    let offered =
        client.initialize(&json!({"textDocument": {"hover": {"contentFormat": ["markdown"]}}}));
    assert_eq!(
        offered["signatureHelpProvider"]["triggerCharacters"],
        json!([" "])
    );
    client.open(
        URI,
        &format!("{PLAN}  cool to \n  note after doi:10.15227/orgsyn.077.0001\n"),
    );
    let help = client
        .call("textDocument/signatureHelp", at(14, 10))
        .unwrap();
    assert_eq!(
        help["signatures"][0]["label"],
        "cool VESSEL, to TEMPERATURE, over TIME, under GAS"
    );
    let part = &help["signatures"][0]["parameters"]
        [usize::try_from(help["activeParameter"].as_u64().unwrap()).unwrap()];
    assert_eq!(part["label"], "to TEMPERATURE");
    assert_eq!(
        client
            .call("textDocument/signatureHelp", at(3, 10))
            .unwrap(),
        Value::Null
    );
    let offered = client.call("textDocument/completion", at(14, 10)).unwrap();
    assert_eq!(offered["items"][0]["label"], "rt");

    let document = json!({"textDocument": {"uri": URI}});
    let links = client
        .call("textDocument/documentLink", document.clone())
        .unwrap();
    assert_eq!(
        links[0]["target"],
        "https://doi.org/10.15227/orgsyn.077.0001"
    );
    assert_eq!(
        links[0]["range"]["start"],
        json!({"line": 15, "character": 17})
    );

    // What the hint says at length is Markdown, and says so.
    let all = json!({"start": {"line": 0, "character": 0}, "end": {"line": 14, "character": 0}});
    let hints = client
        .call(
            "textDocument/inlayHint",
            json!({"textDocument": {"uri": URI}, "range": all}),
        )
        .unwrap();
    assert_eq!(hints[0]["tooltip"]["kind"], "markdown");
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn the_sheet_of_the_plan_at_the_cursor_is_a_page() {
    let uri = "file:///nowhere/a.prep";
    let mut client = Client::start();
    client.initialize(&json!({}));
    let text = "plan One\nscale 5.00 mmol a\nmaterials\n  a: acetone, 1.00 eq\nplan Two\n";
    client.open(uri, text);
    let mut sheet = |line: u32| {
        let at = json!({"uri": uri, "position": {"line": line, "character": 0}});
        let params = json!({"command": "meniscus.sheet", "arguments": [at]});
        let sheet = client.call("workspace/executeCommand", params).unwrap();
        let text = |key: &str| sheet[key].as_str().unwrap_or_default().to_owned();
        (text("title"), text("page"))
    };
    let (title, page) = sheet(3);
    assert_eq!(title, "One");
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("5.00 mmol"));
    assert_eq!(sheet(4).0, "Two");
    let params = json!({"command": "meniscus.sheet", "arguments": []});
    let refused = client.call("workspace/executeCommand", params).unwrap_err();
    let message = refused["message"].as_str().unwrap_or_default();
    assert!(message.contains("uri and position"), "{message}");
    assert_eq!(client.finish().code(), Some(0));
}
