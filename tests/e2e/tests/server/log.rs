//! The log: every request with its time, for who asks for it.

use crate::{PLAN, URI};
use e2e::{Client, Streams};
use serde_json::json;
use std::fs;
use std::process::Command;

#[test]
fn a_client_that_traces_finds_its_requests_with_their_times_in_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("log");
    let mut client = Client::start_with(Streams::Pipes, &["--log-file", file.to_str().unwrap()]);
    client.initialize(&json!({}));
    client.open(URI, PLAN);
    let place = json!({"textDocument": {"uri": URI}, "position": {"line": 3, "character": 4}});
    client.call("textDocument/hover", place.clone()).unwrap();
    client.notify("$/setTrace", json!({"value": "messages"}));
    client
        .call("textDocument/documentHighlight", place)
        .unwrap();
    client.notify("$/setTrace", json!({"value": "off"}));
    client.notify("$/setTrace", json!({"value": "loud"}));
    client
        .call(
            "textDocument/documentSymbol",
            json!({"textDocument": {"uri": URI}}),
        )
        .unwrap();
    assert_eq!(client.finish().code(), Some(0));
    let log = fs::read_to_string(&file).unwrap();
    let traced: Vec<&str> = log
        .lines()
        .filter(|line| line.contains("textDocument/"))
        .collect();
    let [highlight] = traced[..] else {
        panic!("{log}")
    };
    assert!(
        highlight.contains("documentHighlight") && highlight.contains("id=3"),
        "{log}"
    );
    assert!(highlight.contains("time.busy="), "{log}");
    assert!(
        !log.contains('\u{1b}') && !log.contains("pyridine"),
        "{log}"
    );
}

#[test]
fn a_log_that_cannot_be_written_is_told_and_not_served_without() {
    let folder = tempfile::tempdir().unwrap();
    let output = Command::new(e2e::meniscus())
        .args(["serve", "--log-file"])
        .arg(folder.path())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("cannot write the log"));
}
