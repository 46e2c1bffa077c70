//! How sessions end.

use crate::{PLAN, URI};
use e2e::{Client, frame};
use serde_json::{Value, json};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

#[test]
fn exit_after_shutdown_is_success() {
    let mut client = Client::start();
    client.initialize(&json!({}));
    client.call("shutdown", Value::Null).unwrap();
    let symbols = json!({"textDocument": {"uri": URI}});
    assert_eq!(
        client.error_code("textDocument/documentSymbol", symbols),
        -32600
    );
    client.notify("exit", Value::Null);
    assert_eq!(client.end().code(), Some(0));
}

#[test]
fn exit_without_shutdown_is_failure() {
    let mut client = Client::start();
    client.initialize(&json!({}));
    client.notify("exit", Value::Null);
    assert_eq!(client.end().code(), Some(1));
}

#[test]
fn exit_before_anything_is_failure() {
    let mut client = Client::start();
    client.notify("exit", Value::Null);
    assert_eq!(client.end().code(), Some(1));
}

#[test]
fn the_server_ends_with_its_input() {
    let mut client = Client::start();
    client.initialize(&json!({}));
    client.open(URI, PLAN);
    client.hang_up();
    assert_eq!(client.end().code(), Some(1));
}

/// A second is long for a program that has nothing left to do, and short for one that an editor waits for; a build
/// machine may be busy, so the quickest of three counts.
#[test]
fn it_ends_within_a_second_of_its_input() {
    let quickest = (0..3).map(|_| {
        let mut client = Client::start();
        client.initialize(&json!({}));
        client.open(URI, &PLAN.repeat(20));
        let name = json!({"textDocument": {"uri": URI}});
        client.call("textDocument/documentSymbol", name).unwrap();
        let hung_up = Instant::now();
        client.hang_up();
        assert_eq!(client.end().code(), Some(1));
        hung_up.elapsed()
    });
    assert!(quickest.min().unwrap() < Duration::from_secs(1));
}

#[test]
fn the_server_ends_with_its_input_in_the_middle_of_a_message() {
    let mut client = Client::start();
    client.initialize(&json!({}));
    client.send_bytes(b"Content-Length: 100\r\n\r\n{");
    client.hang_up();
    assert_eq!(client.end().code(), Some(1));
}

#[cfg(unix)]
#[test]
fn the_server_ends_with_its_client() {
    let mut client = Client::start();
    let mut editor = Command::new("sleep")
        .arg("100")
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    client
        .call(
            "initialize",
            json!({"processId": editor.id(), "capabilities": {}}),
        )
        .unwrap();
    editor.kill().unwrap();
    editor.wait().unwrap();
    // Its input stays open, as when another process of the editor holds it.
    assert_eq!(client.end().code(), Some(1));
}

/// A whole session from a file into a file: neither can be registered with the reactor.
#[test]
fn files_serve_as_well_as_pipes() {
    let folder = tempfile::tempdir().unwrap();
    let (input, output) = (folder.path().join("in"), folder.path().join("out"));
    let session: Vec<u8> = [
        json!({"jsonrpc": "2.0", "id": 1, "method": "initialize", "params": {"capabilities": {}}}),
        json!({"jsonrpc": "2.0", "id": 2, "method": "shutdown"}),
        json!({"jsonrpc": "2.0", "method": "exit"}),
    ]
    .iter()
    .flat_map(frame)
    .collect();
    std::fs::write(&input, session).unwrap();
    let status = Command::new(e2e::meniscus())
        .arg("--stdio")
        .stdin(Stdio::from(std::fs::File::open(&input).unwrap()))
        .stdout(Stdio::from(std::fs::File::create(&output).unwrap()))
        .status()
        .unwrap();
    assert_eq!(status.code(), Some(0));
    assert_eq!(
        std::fs::read_to_string(&output)
            .unwrap()
            .matches("Content-Length")
            .count(),
        2
    );
}
