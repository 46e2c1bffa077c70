//! Rescaling from an editor: by code action, by code lens, and by a goal in words.

use crate::URI;
use e2e::Client;
use serde_json::{Value, json};

const PLAN: &str = "\
plan A
scale 5.00 mmol alcohol
materials
  alcohol: benzyl alcohol, 1.00 eq    # 541 mg
  base: pyridine, 1.50 eq
  thf: tetrahydrofuran, 60 mL
equipment
  flask: 100 mL round-bottom flask
steps
  add alcohol, base, thf
";

fn client(capabilities: &Value) -> Client {
    let mut client = Client::start();
    client.initialize(capabilities);
    client.open(URI, PLAN);
    client
}

fn editing() -> Value {
    json!({"workspace": {
        "applyEdit": true,
        "workspaceEdit": {"documentChanges": true, "changeAnnotationSupport": {}},
    }, "textDocument": {"codeAction": {
        "codeActionLiteralSupport": {"codeActionKind": {"valueSet": ["refactor"]}},
    }}})
}

fn rescale(client: &mut Client, more: &Value) -> Result<Value, Value> {
    let mut argument = json!({"uri": URI, "position": {"line": 9, "character": 3}});
    for (key, value) in more.as_object().unwrap() {
        argument[key] = value.clone();
    }
    client.call(
        "workspace/executeCommand",
        json!({"command": "meniscus.rescale", "arguments": [argument]}),
    )
}

#[test]
fn a_goal_in_words_is_one_versioned_edit_with_its_parts_named() {
    let mut client = client(&editing());
    let summary = rescale(&mut client, &json!({"goal": "10 mmol", "version": 1})).unwrap();
    assert_eq!(summary["scale"], "10.0 mmol");
    let title = summary["title"].as_str().unwrap();
    assert!(
        title.contains("10.0 mmol (× 2)") && title.contains("flask 250 mL"),
        "{title}"
    );
    // 60 mL in 100 mL are 120 mL at twice the scale.
    let wrong = &summary["newlyWrong"][0];
    assert_eq!(wrong["check"], "overfilled", "{summary}");
    assert_eq!(wrong["mendedByEquipment"], true);
    assert_eq!(summary["leftAlone"][0]["text"], "541 mg");

    let edit = client.asked("workspace/applyEdit")["edit"].clone();
    let change = &edit["documentChanges"][0];
    assert_eq!(change["textDocument"], json!({"uri": URI, "version": 1}));
    let texts: Vec<_> = change["edits"]
        .as_array()
        .unwrap()
        .iter()
        .map(|edit| {
            (
                edit["newText"].as_str().unwrap(),
                edit["annotationId"].as_str().unwrap(),
            )
        })
        .collect();
    assert_eq!(
        texts,
        [
            ("10.0", "scales"),
            ("1082", "mentions-optional"),
            ("120", "scales"),
            ("250 mL", "equipment-optional"),
        ],
        "{edit}"
    );
    let annotations = &edit["changeAnnotations"];
    assert_eq!(annotations["scales"]["needsConfirmation"], false);
    assert_eq!(annotations["equipment-optional"]["needsConfirmation"], true);
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn what_cannot_be_done_is_refused_with_its_reason() {
    let mut client = client(&editing());
    for (more, says) in [
        (json!({"goal": "by a lot"}), "`by a lot`"),
        (json!({"goal": "2.0 g of nothing"}), "nothing is no line"),
        (json!({"goal": "bottles"}), "bottle"),
        (json!({"goal": "0x"}), "greater than zero"),
        (json!({"goal": "2x", "version": 7}), "has changed"),
        (json!({}), "goal"),
    ] {
        let error = rescale(&mut client, &more).unwrap_err();
        let message = error["message"].as_str().unwrap();
        assert!(message.contains(says), "{more}: {message}");
    }
    let preview = rescale(&mut client, &json!({"goal": "2x", "preview": true})).unwrap();
    assert_eq!(preview["scale"], "10.0 mmol");
    let unknown = json!({"command": "meniscus.weigh", "arguments": []});
    assert!(client.call("workspace/executeCommand", unknown).is_err());
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn an_editor_that_takes_no_edits_is_told_what_to_use() {
    let mut client = client(&json!({}));
    let error = rescale(&mut client, &json!({"goal": "2x"})).unwrap_err();
    let message = error["message"].as_str().unwrap();
    assert!(message.contains("code actions"), "{message}");
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn a_lens_above_the_scale_does_what_it_says() {
    let mut client = client(&editing());
    let lenses = client
        .call(
            "textDocument/codeLens",
            json!({"textDocument": {"uri": URI}}),
        )
        .unwrap();
    let titles: Vec<_> = lenses
        .as_array()
        .unwrap()
        .iter()
        .map(|lens| lens["command"]["title"].as_str().unwrap())
        .collect();
    assert_eq!(titles, ["× 2", "÷ 2"]);
    assert_eq!(lenses[0]["range"]["start"]["line"], 1);
    let command = &lenses[1]["command"];
    let done = client.call(
        "workspace/executeCommand",
        json!({"command": command["command"], "arguments": command["arguments"]}),
    );
    assert_eq!(done.unwrap()["scale"], "2.50 mmol");
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn amounts_are_rounded_to_the_tools_when_asked() {
    let mut client = client(&editing());
    let preview = json!({"goal": "10 mmol", "toTools": true, "preview": true});
    let summary = rescale(&mut client, &preview).unwrap();
    // 10.0 mmol × 108.14 g/mol of alcohol, 1.04 g/mL, are 1.04 mL; what results of each is said with its equivalents.
    let notes = summary["notes"].as_array().unwrap();
    let says = |key: &str, eq: &str| {
        let fits = |note: &&str| note.starts_with(key) && note.ends_with(eq);
        notes
            .iter()
            .filter_map(Value::as_str)
            .any(|note| fits(&note))
    };
    assert!(says("alcohol 1.0", "1.000 eq"), "{summary}");
    assert!(says("base 1.2", "eq"), "{summary}");
    let without = rescale(&mut client, &json!({"goal": "10 mmol", "preview": true})).unwrap();
    assert!(
        without["notes"].as_array().unwrap().len() < notes.len(),
        "{without}"
    );
}
