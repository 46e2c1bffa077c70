//! What the client's settings say, and that a `meniscus.toml` rules over them.

use crate::PLAN;
use e2e::Client;
use serde_json::{Value, json};
use std::fs;

/// The catalyst comes to 0.12 mg, too little to weigh well, which the profile `quiet` does not say.
const SMALL: &str = "\
plan Small
scale 0.100 mmol alcohol
materials
  alcohol: benzyl alcohol, 1.00 eq
  catalyst: 4-dimethylaminopyridine, 0.0100 eq
";

fn hints(client: &mut Client, uri: &str) -> usize {
    let all = json!({"start": {"line": 0, "character": 0}, "end": {"line": 20, "character": 0}});
    let params = json!({"textDocument": {"uri": uri}, "range": all});
    let hints = client.call("textDocument/inlayHint", params).unwrap();
    hints.as_array().map_or(0, Vec::len)
}

fn changed(client: &mut Client, settings: &Value) {
    client.notify(
        "workspace/didChangeConfiguration",
        json!({"settings": settings}),
    );
}

#[test]
fn a_client_that_is_asked() {
    let folder = tempfile::tempdir().unwrap();
    let uri = format!("file://{}/a.prep", folder.path().display());
    let mut client = Client::start();
    client.settings = json!({"profile": "quiet"});
    client.initialize(&json!({"workspace": {
        "configuration": true,
        "didChangeConfiguration": {"dynamicRegistration": true},
        "inlayHint": {"refreshSupport": true},
    }}));
    let asked = client.asked("workspace/configuration");
    assert_eq!(asked["items"], json!([{"section": "meniscus"}]));
    let registered = client.asked("client/registerCapability");
    assert_eq!(
        registered["registrations"][0]["method"],
        "workspace/didChangeConfiguration"
    );
    client.open(&uri, SMALL);
    client.findings_become(&uri, &[]);
    assert_ne!(hints(&mut client, &uri), 0);

    client.settings = json!({"profile": "normal", "hints": false, "server": {"path": ""}});
    changed(&mut client, &Value::Null);
    client.findings_become(&uri, &["too-small-to-measure"]);
    client.asked("workspace/inlayHint/refresh");
    assert_eq!(hints(&mut client, &uri), 0);

    // The settings that are kept with the plans rule, and what they leave open is the client's.
    fs::write(folder.path().join("meniscus.toml"), "[ages]\ntitre = 14\n").unwrap();
    client.settings = json!({"checks": {"too-small-to-measure": "off"}});
    changed(&mut client, &Value::Null);
    client.findings_become(&uri, &[]);
    fs::write(
        folder.path().join("meniscus.toml"),
        "[checks]\ntoo-small-to-measure = \"warning\"\n",
    )
    .unwrap();
    client.notify(
        "textDocument/didSave",
        json!({"textDocument": {"uri": uri}}),
    );
    client.findings_become(&uri, &["too-small-to-measure"]);
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn a_client_that_only_tells_and_its_mistakes() {
    let uri = "file:///bench/a.prep";
    let mut client = Client::start();
    client.initialize(&json!({}));
    client.open(uri, PLAN);
    client.findings_become(uri, &["decimal-comma"]);
    client.open("file:///bench/small.prep", SMALL);
    client.findings_become("file:///bench/small.prep", &["too-small-to-measure"]);
    // What cannot be read is never wished away.
    let said = json!({"meniscus": {"profile": "quiet", "checks": {"decimal-comma": "off"}, "hints": "no"}});
    changed(&mut client, &said);
    client.findings_become("file:///bench/small.prep", &[]);
    let told = client.told("window/showMessage");
    let message = told["message"].as_str().unwrap();
    assert!(
        message.contains("meniscus.checks.decimal-comma") && message.contains("meniscus.hints"),
        "{message}"
    );
    client.findings_become(uri, &["decimal-comma"]);
    for nonsense in [json!(5), json!([]), json!({"meniscus": []}), Value::Null] {
        changed(&mut client, &nonsense);
    }
    client.findings_become("file:///bench/small.prep", &["too-small-to-measure"]);
    assert_eq!(client.finish().code(), Some(0));
}
