//! What every word is, for colouring it.

use crate::{PLAN, URI};
use e2e::Client;
use serde_json::{Value, json};

fn numbers(result: &Value) -> Vec<u64> {
    let data = result["data"].as_array().unwrap();
    data.iter().filter_map(Value::as_u64).collect()
}

#[test]
fn words_are_told_apart_and_changes_of_them_sent_alone() {
    let mut client = Client::start();
    let offered = client.initialize(&json!({}));
    let legend = offered["semanticTokensProvider"]["legend"]["tokenTypes"].clone();
    let text = PLAN.replace("Acetylation", "😀");
    client.open(URI, &text);
    let document = json!({"uri": URI});
    let whole = client
        .call(
            "textDocument/semanticTokens/full",
            json!({"textDocument": document}),
        )
        .unwrap();
    let first = numbers(&whole);
    let kind = |token: usize| &legend[usize::try_from(first[token * 5 + 3]).unwrap()];
    assert_eq!(
        (kind(0), kind(1), kind(2), kind(3)),
        (
            &json!("keyword"),
            &json!("string"),
            &json!("keyword"),
            &json!("number")
        )
    );
    // The title has two units of UTF-16 for its first character.
    assert_eq!(first[5..8], [0, 5, 20]);

    client.change(
        URI,
        2,
        &[json!({
            "range": {"start": {"line": 1, "character": 6}, "end": {"line": 1, "character": 10}}, "text": "15.0",
        })],
    );
    let since = json!({"textDocument": document, "previousResultId": whole["resultId"]});
    let delta = client
        .call("textDocument/semanticTokens/full/delta", since)
        .unwrap();
    assert_eq!(
        delta["edits"],
        json!([]),
        "a number of the same length stands there"
    );
    client.change(URI, 3, &[json!({"text": format!("{text}  stir\n")})]);
    let since = json!({"textDocument": document, "previousResultId": delta["resultId"]});
    let delta = client
        .call("textDocument/semanticTokens/full/delta", since)
        .unwrap();
    assert_eq!(
        delta["edits"],
        json!([{"start": first.len(), "deleteCount": 0, "data": [1, 2, 4, 3, 0]}])
    );
    let since = json!({"textDocument": document, "previousResultId": "of another server"});
    let all = client
        .call("textDocument/semanticTokens/full/delta", since)
        .unwrap();
    assert_eq!(numbers(&all).len(), first.len() + 5);

    let last = json!({"start": {"line": 14, "character": 0}, "end": {"line": 14, "character": 6}});
    let some = json!({"textDocument": document, "range": last});
    let some = client
        .call("textDocument/semanticTokens/range", some)
        .unwrap();
    assert_eq!(numbers(&some), [14, 2, 4, 3, 0]);
    assert_eq!(client.finish().code(), Some(0));
}
