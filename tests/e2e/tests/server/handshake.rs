//! Connecting, and what is offered to clients of different ability.

use crate::{PLAN, URI};
use e2e::{Client, Streams};
use serde_json::{Value, json};

#[test]
fn a_client_that_says_nothing_gets_the_least() {
    let mut client = Client::start();
    let offered = client.initialize(&json!({}));
    assert_eq!(offered["positionEncoding"], "utf-16");
    assert_eq!(
        offered["textDocumentSync"],
        json!({"openClose": true, "change": 2, "save": true})
    );
    assert_eq!(offered["codeActionProvider"], true);
    client.open(URI, PLAN);
    // Nothing that it did not ask for: no version, no related places, no tree, no literal actions.
    let findings = client.findings(URI, Value::Null);
    assert_eq!(findings.len(), 1);
    assert_eq!(findings[0]["relatedInformation"], Value::Null);
    let symbols = client
        .call(
            "textDocument/documentSymbol",
            json!({"textDocument": {"uri": URI}}),
        )
        .unwrap();
    assert_eq!(symbols[0]["location"]["uri"], URI);
    let all = json!({"start": {"line": 0, "character": 0}, "end": {"line": 99, "character": 0}});
    let params =
        json!({"textDocument": {"uri": URI}, "range": all, "context": {"diagnostics": []}});
    assert_eq!(
        client.call("textDocument/codeAction", params).unwrap(),
        json!([])
    );
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn the_first_known_encoding_is_taken() {
    for (offer, taken) in [
        (json!(["utf-8", "utf-16"]), "utf-8"),
        (json!(["utf-16", "utf-8"]), "utf-16"),
        (json!(["ebcdic", "utf-32"]), "utf-32"),
        (json!([]), "utf-16"),
    ] {
        let mut client = Client::start();
        let offered = client.initialize(&json!({"general": {"positionEncodings": offer}}));
        assert_eq!(offered["positionEncoding"], taken);
    }
}

#[cfg(unix)]
#[test]
fn sockets_serve_as_well_as_pipes() {
    let mut client = Client::start_on(Streams::Sockets);
    client.initialize(&json!({}));
    client.open(URI, PLAN);
    assert_eq!(client.findings(URI, Value::Null).len(), 1);
    assert_eq!(client.finish().code(), Some(0));
}
