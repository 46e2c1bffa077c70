//! Input that no honest client sends. Whatever it is, the next honest request is answered.

use crate::{PLAN, URI};
use e2e::{Client, Random, frame};
use serde_json::{Value, json};

const PARSE_ERROR: i64 = -32700;
const INVALID_REQUEST: i64 = -32600;
const METHOD_NOT_FOUND: i64 = -32601;
const INVALID_PARAMS: i64 = -32602;
const NOT_INITIALIZED: i64 = -32002;

fn connect() -> Client {
    let mut client = Client::start();
    client.initialize(&json!({"textDocument": {"publishDiagnostics": {"versionSupport": true}}}));
    client
}

/// The server answers, knows its documents, and ends as it should.
fn assert_well(mut client: Client) {
    client.open("file:///well.prep", PLAN);
    assert_eq!(client.findings("file:///well.prep", 1).len(), 1);
    assert_eq!(client.finish().code(), Some(0));
}

#[test]
fn garbage_between_messages() {
    let mut client = connect();
    for garbage in [
        &b"GET / HTTP/1.1\r\nHost: x\r\n\r\n"[..],
        b"\0\xff\xfe\x80\n",
        b"\r\n\r\n",
        b"Content-Length: many\r\n\r\n",
        b"Content-Length: -5\r\n\r\n",
        b"Content-Length: 123456789012345678901234567890\r\n\r\n",
        b"Content-Length: 99999999999\r\n\r\n",
        b"Content-Type: text/plain\r\n\r\n",
    ] {
        client.send_bytes(garbage);
        client.send(&json!({"jsonrpc": "2.0", "method": "$/nothing"}));
        assert_eq!(client.stray_error(), PARSE_ERROR, "{garbage:?}");
    }
    assert_well(client);
}

#[test]
fn random_bytes() {
    let mut random = Random::new(7);
    let mut client = connect();
    for _ in 0..300 {
        let length = random.below(400);
        let mut bytes: Vec<u8> = (0..length).map(|_| random.below(256) as u8).collect();
        bytes.extend_from_slice(b"\n\n");
        client.send_bytes(&bytes);
        let id = client.request(
            "textDocument/documentSymbol",
            json!({"textDocument": {"uri": URI}}),
        );
        assert_eq!(client.answer(id), Ok(Value::Null));
    }
    assert_well(client);
}

#[test]
fn bodies_that_are_no_messages() {
    let mut client = connect();
    let deep = "[".repeat(10_000);
    for (body, code) in [
        (&b"{"[..], PARSE_ERROR),
        (b"{\"jsonrpc\":\"2.0\",\"method\":\"\xc3\"}", PARSE_ERROR),
        (
            b"{\"jsonrpc\":\"2.0\",\"method\":\"a\xf0\x9f\"}",
            PARSE_ERROR,
        ),
        (deep.as_bytes(), PARSE_ERROR),
        (b"null", INVALID_REQUEST),
        (b"[]", INVALID_REQUEST),
        (b"{}", INVALID_REQUEST),
        (b"{\"jsonrpc\":\"1.0\",\"method\":\"x\"}", INVALID_REQUEST),
        (b"{\"jsonrpc\":\"2.0\",\"method\":5}", INVALID_REQUEST),
        (
            b"{\"jsonrpc\":\"2.0\",\"id\":{},\"method\":\"x\"}",
            INVALID_REQUEST,
        ),
    ] {
        client.send_bytes(format!("Content-Length: {}\r\n\r\n", body.len()).as_bytes());
        client.send_bytes(body);
        assert_eq!(
            client.stray_error(),
            code,
            "{:?}",
            String::from_utf8_lossy(&body[..body.len().min(60)])
        );
    }
    // Answers to questions that were never asked.
    client.send(&json!({"jsonrpc": "2.0", "id": 77, "result": null}));
    client.send(&json!({"jsonrpc": "2.0", "id": "x", "error": {"code": 1, "message": "no"}}));
    assert_well(client);
}

#[test]
fn a_length_that_is_wrong() {
    let mut client = connect();
    let body = json!({"jsonrpc": "2.0", "method": "$/nothing"}).to_string();
    // Too short: the rest of the body is garbage. Too long: the next header was taken for body.
    for length in [body.len() - 5, body.len() + 9, body.len() + 30] {
        client.send_bytes(format!("Content-Length: {length}\r\n\r\n{body}").as_bytes());
        let id = client.request(
            "textDocument/documentSymbol",
            json!({"textDocument": {"uri": URI}}),
        );
        assert_eq!(
            client.answer(id),
            Ok(Value::Null),
            "{length} for {}",
            body.len()
        );
        assert_eq!(client.stray_error(), PARSE_ERROR);
    }
    assert_well(client);
}

#[test]
fn headers_in_other_dress() {
    let mut client = connect();
    let body = json!({"jsonrpc": "2.0", "id": "s", "method": "x/y"}).to_string();
    for header in [
        format!("content-length:{}\r\n\r\n", body.len()),
        format!(
            "Content-Type: application/vscode-jsonrpc\r\nContent-Length: {}\r\n\r\n",
            body.len()
        ),
        format!("Content-Length: {}\n\n", body.len()),
    ] {
        client.send_bytes((header + &body).as_bytes());
        assert_eq!(client.stray_error(), METHOD_NOT_FOUND);
    }
    assert_well(client);
}

#[test]
fn a_message_in_single_bytes() {
    let mut client = connect();
    let request = json!({"jsonrpc": "2.0", "id": 900, "method": "textDocument/documentSymbol",
        "params": {"textDocument": {"uri": "file:///µ😀.prep"}}});
    for byte in frame(&request) {
        client.send_bytes(&[byte]);
    }
    assert_eq!(client.answer(900), Ok(Value::Null));
    assert_well(client);
}

#[test]
fn requests_that_cannot_be_met() {
    let mut client = Client::start();
    let symbols = json!({"textDocument": {"uri": URI}});
    assert_eq!(
        client.error_code("textDocument/documentSymbol", symbols.clone()),
        NOT_INITIALIZED
    );
    assert_eq!(
        client.error_code("initialize", json!({"capabilities": 5})),
        INVALID_PARAMS
    );
    client.initialize(&json!({"textDocument": {"publishDiagnostics": {"versionSupport": true}}}));
    assert_eq!(
        client.error_code("initialize", json!({"capabilities": {}})),
        INVALID_REQUEST
    );
    assert_eq!(client.error_code("no/such", json!({})), METHOD_NOT_FOUND);
    assert_eq!(client.error_code("$/such", json!({})), METHOD_NOT_FOUND);
    assert_eq!(
        client.error_code("textDocument/hover", json!({"position": "here"})),
        INVALID_PARAMS
    );
    assert_eq!(
        client.error_code("textDocument/hover", Value::Null),
        INVALID_PARAMS
    );
    let place =
        json!({"textDocument": {"uri": "not a name"}, "position": {"line": 0, "character": 0}});
    assert_eq!(
        client.error_code("textDocument/hover", place),
        INVALID_PARAMS
    );
    let place = json!({"textDocument": {"uri": URI}, "position": {"line": -1, "character": 0}});
    assert_eq!(
        client.error_code("textDocument/hover", place),
        INVALID_PARAMS
    );
    client.notify("no/such", json!([1, 2]));
    client.notify("textDocument/didOpen", json!({}));
    client.notify(
        "textDocument/didChange",
        json!({"textDocument": {"uri": 5}}),
    );
    client.notify("$/cancelRequest", json!({"id": "never sent"}));
    assert_well(client);
}

/// A client that writes everything before it reads anything: far more answers than a pipe holds.
#[test]
fn a_client_that_does_not_listen() {
    use std::io::Write;
    use std::process::{Command, Stdio};
    let mut server = Command::new(e2e::meniscus())
        .arg("serve")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = server.stdin.take().unwrap();
    let mut send = |message: Value| input.write_all(&frame(&message)).unwrap();
    send(
        json!({"jsonrpc": "2.0", "id": 0, "method": "initialize", "params": {"capabilities": {}}}),
    );
    for id in 1..=20_000 {
        send(json!({"jsonrpc": "2.0", "id": id, "method": "no/such"}));
    }
    send(json!({"jsonrpc": "2.0", "id": 20_001, "method": "shutdown"}));
    send(json!({"jsonrpc": "2.0", "method": "exit"}));
    let output = server.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(
        String::from_utf8(output.stdout)
            .unwrap()
            .matches("Content-Length")
            .count(),
        20_002
    );
}

/// Texts that are too much of something; each must be read, and changed at its end, in bounded time.
#[test]
fn monstrous_documents() {
    let mut client = connect();
    for (number, text) in [
        "x".repeat(1 << 20),
        format!("plan A\nsteps\n  add {}", "a, ".repeat(100_000)),
        format!("plan A\nmaterials\n  a: {}", "(".repeat(10_000)),
        format!("plan A\nreaction a -> {}", "[({".repeat(10_000)),
        format!("plan A\nmaterials\n  a: SMILES {}", "C(".repeat(10_000)),
        "plan A\n".repeat(20_000),
        "\r".repeat(100_000),
        "\u{feff}\0\u{202e}e\u{301}\u{301}".repeat(10_000),
        format!("scale {} mmol a", "9".repeat(10_000)),
    ]
    .iter()
    .enumerate()
    {
        let uri = format!("file:///{number}.prep");
        client.open(&uri, text);
        client.findings(&uri, 1);
        let end = json!({"line": u32::MAX, "character": 0});
        client.change(
            &uri,
            2,
            &[json!({"range": {"start": end, "end": end}, "text": "9"})],
        );
        client.findings(&uri, 2);
        let place = json!({"line": 2, "character": 500});
        let hover = client.call(
            "textDocument/hover",
            json!({"textDocument": {"uri": uri}, "position": place}),
        );
        assert!(hover.is_ok());
        client.notify(
            "textDocument/didClose",
            json!({"textDocument": {"uri": uri}}),
        );
    }
    assert_well(client);
}
