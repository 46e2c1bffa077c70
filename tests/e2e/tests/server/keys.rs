//! Keys and the shape of a text: where a key stands, another name for it, what folds, what encloses a place.

use crate::{PLAN, URI};
use e2e::Client;
use serde_json::{Value, json};

fn at(line: u32, character: u32) -> Value {
    json!({"textDocument": {"uri": URI}, "position": {"line": line, "character": character}})
}

fn range(line: u32, from: u32, to: u32) -> Value {
    json!({"start": {"line": line, "character": from}, "end": {"line": line, "character": to}})
}

fn with(mut params: Value, name: &str, value: Value) -> Value {
    params[name] = value;
    params
}

fn text() -> String {
    PLAN.replace("Acetylation", "😀") + "  stir until no alcohol by TLC\n"
}

#[test]
fn a_key_is_found_and_renamed() {
    let mut client = Client::start();
    let offered = client.initialize(&json!({"textDocument": {"rename": {"prepareSupport": true}}}));
    assert_eq!(offered["renameProvider"], json!({"prepareProvider": true}));
    client.open(URI, &text());
    let places = [range(1, 16, 23), range(3, 2, 9), range(11, 6, 13)];

    let found = client
        .call("textDocument/documentHighlight", at(11, 8))
        .unwrap();
    assert_eq!(
        found,
        json!([
            {"range": places[0], "kind": 2},
            {"range": places[1], "kind": 3},
            {"range": places[2], "kind": 2},
        ])
    );
    for declaration in [true, false] {
        let context = json!({"includeDeclaration": declaration});
        let found = client
            .call(
                "textDocument/references",
                with(at(1, 16), "context", context),
            )
            .unwrap();
        let found: Vec<_> = found
            .as_array()
            .unwrap()
            .iter()
            .map(|found| &found["range"])
            .collect();
        let expected: Vec<_> = places
            .iter()
            .filter(|place| declaration || **place != places[1])
            .collect();
        assert_eq!(found, expected);
    }

    assert_eq!(
        client.call("textDocument/prepareRename", at(3, 9)).unwrap(),
        places[1]
    );
    assert_eq!(
        client
            .call("textDocument/prepareRename", at(3, 12))
            .unwrap(),
        Value::Null
    );
    let edit = client
        .call(
            "textDocument/rename",
            with(at(3, 4), "newName", json!("substrate")),
        )
        .unwrap();
    // This client cannot be asked about free text, so that stays.
    let edits: Vec<_> = places
        .iter()
        .map(|place| json!({"range": place, "newText": "substrate"}))
        .collect();
    assert_eq!(edit["changes"][URI], json!(edits));
    let refused = client
        .call(
            "textDocument/rename",
            with(at(3, 4), "newName", json!("base")),
        )
        .unwrap_err();
    assert!(
        refused["message"]
            .as_str()
            .unwrap()
            .contains("`base` is declared already"),
        "{refused}"
    );
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn an_editor_asks_before_free_text_is_renamed() {
    let mut client = Client::start();
    client.initialize(&json!({"workspace": {"workspaceEdit": {
        "documentChanges": true, "changeAnnotationSupport": {"groupsOnLabel": true},
    }}}));
    client.open(URI, &text());
    let edit = client
        .call(
            "textDocument/rename",
            with(at(3, 4), "newName", json!("substrate")),
        )
        .unwrap();
    let change = &edit["documentChanges"][0];
    assert_eq!(change["textDocument"]["version"], 1);
    let edits = change["edits"].as_array().unwrap();
    let asked: Vec<_> = edits
        .iter()
        .filter(|edit| edit["annotationId"] == "mentions")
        .map(|edit| &edit["range"])
        .collect();
    assert_eq!(asked, [&range(0, 18, 25), &range(14, 16, 23)]);
    assert_eq!(edits.len(), 5);
    assert_eq!(
        edit["changeAnnotations"]["mentions"]["needsConfirmation"],
        true
    );
}

#[test]
fn a_text_folds_and_a_selection_grows() {
    let mut client = Client::start();
    client.initialize(&json!({}));
    client.open(URI, &text());
    let document = json!({"textDocument": {"uri": URI}});
    let folds = client
        .call("textDocument/foldingRange", document.clone())
        .unwrap();
    let lines: Vec<_> = folds
        .as_array()
        .unwrap()
        .iter()
        .map(|fold| (fold["startLine"].as_u64(), fold["endLine"].as_u64()))
        .collect();
    let fold = |from, to| (Some(from), Some(to));
    assert_eq!(
        lines,
        [
            fold(0, 14),
            fold(2, 5),
            fold(6, 7),
            fold(8, 9),
            fold(10, 14)
        ]
    );

    let positions = json!([{"line": 3, "character": 27}, {"line": 99, "character": 0}]);
    let found = client
        .call(
            "textDocument/selectionRange",
            with(document, "positions", positions),
        )
        .unwrap();
    let inner = &found[0];
    assert_eq!(inner["range"], range(3, 27, 31));
    assert_eq!(inner["parent"]["range"], range(3, 27, 34));
    assert_eq!(inner["parent"]["parent"]["range"], range(3, 2, 34));
    assert_eq!(found.as_array().unwrap().len(), 2);
    assert_eq!(client.finish().code(), Some(0));
}
