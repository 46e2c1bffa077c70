//! Opening, changing and mending a document.

use crate::{PLAN, URI};
use e2e::Client;
use serde_json::{Value, json};

/// A client that can do everything.
fn able(encoding: &str) -> Client {
    let mut client = Client::start();
    client.initialize(&json!({
        "general": {"positionEncodings": [encoding]},
        "workspace": {"workspaceEdit": {"documentChanges": true}},
        "textDocument": {
            "hover": {"contentFormat": ["markdown", "plaintext"]},
            "publishDiagnostics": {"versionSupport": true, "relatedInformation": true},
            "codeAction": {
                "isPreferredSupport": true,
                "codeActionLiteralSupport": {"codeActionKind": {"valueSet": ["quickfix", "refactor"]}},
            },
            "documentSymbol": {"hierarchicalDocumentSymbolSupport": true},
        },
    }));
    client
}

fn codes(findings: &[Value]) -> Vec<&str> {
    findings
        .iter()
        .filter_map(|finding| finding["code"].as_str())
        .collect()
}

fn range(line: u32, from: u32, to: u32) -> Value {
    json!({"start": {"line": line, "character": from}, "end": {"line": line, "character": to}})
}

#[test]
fn findings_follow_the_text() {
    let mut client = able("utf-16");
    client.open(URI, PLAN);
    let findings = client.findings(URI, 1);
    assert_eq!(codes(&findings), ["decimal-comma"]);
    assert_eq!(findings[0]["source"], "meniscus");
    assert_eq!(findings[0]["severity"], 1);
    assert_eq!(findings[0]["range"]["start"]["line"], 4);

    client.change(URI, 2, &[json!({"range": range(4, 19, 20), "text": "."})]);
    assert_eq!(codes(&client.findings(URI, 2)), [""; 0]);
    // Two changes in one message, the second in terms of the first's result.
    client.change(
        URI,
        3,
        &[
            json!({"range": range(0, 0, 0), "text": "# 😀\n"}),
            json!({"range": range(5, 19, 20), "text": ","}),
        ],
    );
    let findings = client.findings(URI, 3);
    assert_eq!(codes(&findings), ["decimal-comma"]);
    assert_eq!(findings[0]["range"]["start"]["line"], 5);

    client.change(URI, 4, &[json!({"text": "plan Another\n"})]);
    assert_eq!(codes(&client.findings(URI, 4)), [""; 0]);
    assert!(client.versions(URI).is_sorted());

    // Opened again without having been closed, as some editors do after a reload.
    client.open(URI, PLAN);
    assert_eq!(codes(&client.findings(URI, 1)), ["decimal-comma"]);
    client.notify(
        "textDocument/didClose",
        json!({"textDocument": {"uri": URI}}),
    );
    assert_eq!(codes(&client.findings(URI, Value::Null)), [""; 0]);
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn a_fix_mends_what_it_says() {
    let mut client = able("utf-8");
    client.open(URI, PLAN);
    let findings = client.findings(URI, 1);
    let mut params = json!({
        "textDocument": {"uri": URI},
        "range": findings[0]["range"],
        "context": {"diagnostics": findings, "only": ["quickfix"]},
    });
    let actions = client
        .call("textDocument/codeAction", params.clone())
        .unwrap();
    let fix = &actions[0];
    assert_eq!(fix["kind"], "quickfix");
    assert_eq!(fix["diagnostics"], json!([findings[0]]));
    let change = &fix["edit"]["documentChanges"][0];
    assert_eq!(change["textDocument"], json!({"uri": URI, "version": 1}));
    let edits: Vec<Value> = change["edits"]
        .as_array()
        .unwrap()
        .iter()
        .map(|edit| json!({"range": edit["range"], "text": edit["newText"]}))
        .collect();
    assert_eq!(edits.len(), 1);
    client.change(URI, 2, &edits);
    assert_eq!(codes(&client.findings(URI, 2)), [""; 0]);

    params["context"]["only"] = json!(["source"]);
    assert_eq!(
        client.call("textDocument/codeAction", params).unwrap(),
        json!([])
    );
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn symbols_are_a_tree() {
    let mut client = able("utf-16");
    client.open(URI, PLAN);
    let symbols = client
        .call(
            "textDocument/documentSymbol",
            json!({"textDocument": {"uri": URI}}),
        )
        .unwrap();
    let plan = &symbols[0];
    assert_eq!(plan["name"], "Acetylation of benzyl alcohol");
    let children = |symbol: &Value| symbol["children"].as_array().unwrap().clone();
    let names = |symbol: &Value| {
        children(symbol)
            .iter()
            .map(|child| child["name"].clone())
            .collect::<Vec<_>>()
    };
    assert_eq!(names(plan), ["materials", "products", "equipment", "steps"]);
    assert_eq!(names(&children(plan)[0]), ["alcohol", "base", "thf"]);
    assert_eq!(children(plan)[0]["selectionRange"], range(2, 0, 9));
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn nothing_is_said_of_a_document_that_is_not_open() {
    let mut client = able("utf-16");
    let at = json!({"textDocument": {"uri": URI}, "position": {"line": 0, "character": 0}});
    assert_eq!(client.call("textDocument/hover", at).unwrap(), Value::Null);
    client.change(URI, 7, &[json!({"range": range(0, 0, 0), "text": "x"})]);
    client.notify(
        "textDocument/didClose",
        json!({"textDocument": {"uri": URI}}),
    );
    // The unknown document has not come to life, nor the server to grief.
    let symbols = client.call(
        "textDocument/documentSymbol",
        json!({"textDocument": {"uri": URI}}),
    );
    assert_eq!(symbols.unwrap(), Value::Null);
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn a_position_past_the_text_is_its_end() {
    let mut client = able("utf-16");
    client.open(URI, "plan A\r\n");
    let far = json!({"start": {"line": 900, "character": 4_000_000_000_u32}, "end": {"line": 0, "character": 99}});
    client.change(URI, 2, &[json!({"range": far, "text": ""})]);
    // The reversed range from the end of the file to the end of the first line is gone: the line end.
    client.change(
        URI,
        3,
        &[json!({"range": range(0, 6, 6), "text": "\nmaterials\n  a: toluene, 2,5 mL"})],
    );
    let findings = client.findings(URI, 3);
    assert_eq!(codes(&findings), ["decimal-comma"]);
    assert_eq!(findings[0]["range"]["start"]["line"], 2);
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn a_column_inside_a_character_is_its_start() {
    let mut client = able("utf-16");
    client.open(URI, "plan 😀\nmaterials\n  a: toluene, 2😀5 mL\n");
    // The emoji is two units wide, 14 and 15; the range from its middle takes it whole.
    client.change(URI, 2, &[json!({"range": range(2, 16, 17), "text": ","})]);
    assert_eq!(codes(&client.findings(URI, 2)), ["decimal-comma"]);
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn what_could_stand_at_the_cursor_is_offered() {
    let mut client = able("utf-16");
    client.open(URI, &PLAN.replace("add alcohol, thf", "add alc"));
    let at = json!({"textDocument": {"uri": URI}, "position": {"line": 11, "character": 9}});
    let offered = client.call("textDocument/completion", at).unwrap();
    let first = &offered["items"][0];
    assert_eq!(first["label"], "alcohol");
    assert_eq!(
        first["textEdit"],
        json!({"range": range(11, 6, 9), "newText": "alcohol"})
    );
    assert!(
        first["detail"]
            .as_str()
            .unwrap()
            .starts_with("benzyl alcohol")
    );
    assert_eq!(client.finish().code(), Some(0));
}
