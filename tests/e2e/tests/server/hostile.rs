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

/// Texts with more lines, keys or words than anybody writes: read, asked about and changed in bounded time.
#[test]
fn bombs_of_length() {
    let mut client = connect();
    // Code that is not optimised is twenty times as slow.
    let many = if cfg!(debug_assertions) {
        20_000
    } else {
        100_000
    };
    let keys: String = (0..5_000)
        .map(|n| format!("  k{n}: water, 1.00 eq\n"))
        .collect();
    for (number, text) in [
        // 5 MB in one line, of words and of none.
        format!("plan A\nsteps\n  note {}", "a word ".repeat(750_000)),
        format!("plan A\nmaterials\n  a: {}", "1".repeat(many * 50)),
        format!("plan A\nsteps\n  add {}", ", ".repeat(100_000)),
        format!("plan A\nmaterials\n{}", "  k: water\n".repeat(many)),
        format!("plan A\nmaterials\n{keys}"),
        format!(
            "plan A\nsteps\n{}",
            "  in flask: in vial: add a to b to c\n".repeat(5_000)
        ),
        format!("plan A\nreaction {} -> b", "2 a + ".repeat(500)),
        format!("plan A\nallow {}", "titre-old, ".repeat(20_000)),
    ]
    .iter()
    .enumerate()
    {
        let uri = format!("file:///bomb-{number}.prep");
        client.open(&uri, text);
        client.findings(&uri, 1);
        let name = json!({"uri": uri});
        let all =
            json!({"start": {"line": 0, "character": 0}, "end": {"line": 50, "character": 0}});
        for method in [
            "documentSymbol",
            "foldingRange",
            "codeLens",
            "documentLink",
            "semanticTokens/full",
            "formatting",
            "inlayHint",
            "codeAction",
        ] {
            let params = json!({
                "textDocument": name, "range": all, "options": {"tabSize": 2, "insertSpaces": true},
                "context": {"diagnostics": []},
            });
            let answer = client.call(&format!("textDocument/{method}"), params);
            assert!(answer.is_ok(), "{number}, {method}: {answer:?}");
        }
        for method in ["hover", "completion", "references", "signatureHelp"] {
            let place = json!({"textDocument": name, "position": {"line": 2, "character": 4_000_000}, "context": {"includeDeclaration": true, "triggerKind": 1, "isRetrigger": false}});
            let answer = client.call(&format!("textDocument/{method}"), place);
            assert!(answer.is_ok(), "{number}, {method}: {answer:?}");
        }
        client.notify("textDocument/didClose", json!({"textDocument": name}));
    }
    assert_well(client);
}

/// Places that a text does not have are moved to the nearest before them that it has, as the protocol says of columns.
#[test]
fn edits_at_places_that_are_none() {
    let mut client = connect();
    let place = |line: u32, character: u32| json!({"line": line, "character": character});
    let change = |from: Value, to: Value, text: &str| json!({"range": {"start": from, "end": to}, "text": text});
    for (number, (before, change, after)) in [
        // In the middle of a pair of surrogates.
        ("plan 😀", change(place(0, 6), place(0, 6), "x"), "plan x😀"),
        ("plan 😀b", change(place(0, 6), place(0, 7), ""), "plan b"),
        // Between CR and LF; behind the end of a line, of the text, of all numbers.
        (
            "plan a\r\nb",
            change(place(0, 7), place(0, 7), "x"),
            "plan ax\r\nb",
        ),
        (
            "plan a\nb",
            change(place(0, 99), place(0, u32::MAX), "x"),
            "plan ax\nb",
        ),
        (
            "plan a\nb",
            change(place(7, 0), place(u32::MAX, u32::MAX), "x"),
            "plan a\nbx",
        ),
        // From the end to the beginning: what lies between.
        ("plan abc", change(place(0, 7), place(0, 5), "x"), "plan xc"),
        ("", change(place(3, 3), place(1, 1), "plan x"), "plan x"),
    ]
    .into_iter()
    .enumerate()
    {
        let uri = format!("file:///place-{number}.prep");
        client.open(&uri, before);
        client.change(&uri, 2, &[change]);
        // The title of the plan tells its text.
        let symbols = client
            .call(
                "textDocument/documentSymbol",
                json!({"textDocument": {"uri": uri}}),
            )
            .unwrap();
        let title = after
            .strip_prefix("plan ")
            .unwrap()
            .split(['\r', '\n'])
            .next()
            .unwrap();
        assert_eq!(symbols[0]["name"], title, "{before:?} to {after:?}");
    }
    assert_well(client);
}

/// What an editor that lost count may say of documents.
#[test]
fn documents_opened_twice_closed_twice_and_changed_when_closed() {
    let mut client = connect();
    let name = json!({"textDocument": {"uri": URI}});
    client.notify("textDocument/didClose", name.clone());
    client.change(URI, 5, &[json!({"text": "plan B"})]);
    client.notify("textDocument/didSave", name.clone());
    let symbols = |client: &mut Client| client.call("textDocument/documentSymbol", name.clone());
    assert_eq!(symbols(&mut client).unwrap(), Value::Null);
    client.open(URI, PLAN);
    client.open(URI, "plan The second\n");
    assert_eq!(symbols(&mut client).unwrap()[0]["name"], "The second");
    // Versions that go backwards, no changes at all, and changes of nothing.
    client.change(URI, -3, &[]);
    client.change(URI, 0, &[json!({"text": ""}), json!({"text": "plan C\n"})]);
    assert_eq!(symbols(&mut client).unwrap()[0]["name"], "C");
    client.notify("textDocument/didClose", name.clone());
    client.notify("textDocument/didClose", name.clone());
    assert_eq!(symbols(&mut client).unwrap(), Value::Null);
    assert_well(client);
}

/// Every method that is served, with parameters of every wrong kind: an error that says so, or an answer.
#[test]
fn parameters_of_the_wrong_kind() {
    let mut client = connect();
    client.open(URI, PLAN);
    let methods = [
        "hover",
        "completion",
        "definition",
        "references",
        "documentHighlight",
        "prepareRename",
        "rename",
        "signatureHelp",
        "documentSymbol",
        "foldingRange",
        "selectionRange",
        "codeLens",
        "codeAction",
        "documentLink",
        "formatting",
        "rangeFormatting",
        "onTypeFormatting",
        "inlayHint",
        "semanticTokens/full",
        "semanticTokens/full/delta",
        "semanticTokens/range",
        "diagnostic",
    ]
    .map(|method| format!("textDocument/{method}"));
    let others = [
        "workspace/symbol",
        "workspace/executeCommand",
        "workspace/diagnostic",
    ]
    .map(str::to_owned);
    for method in methods.iter().chain(&others) {
        for params in [
            Value::Null,
            json!([]),
            json!({}),
            json!([{"textDocument": 5}]),
            json!({"textDocument": []}),
            json!({"textDocument": {"uri": URI}, "position": {"line": "0", "character": 0}}),
            json!({"textDocument": {"uri": URI}, "position": {"line": 1.5, "character": 1e300}}),
            json!({"textDocument": {"uri": URI}, "range": [1, 2], "positions": {"line": 1}}),
            json!({"textDocument": {"uri": "\0:"}, "query": 7, "command": {}, "arguments": "all"}),
            json!({"command": "meniscus.rescale", "arguments": [{"uri": URI, "position": 5, "goal": []}]}),
        ] {
            if let Err(error) = client.call(method, params.clone()) {
                let code = error["code"].as_i64().unwrap();
                assert!(
                    [INVALID_PARAMS, METHOD_NOT_FOUND].contains(&code),
                    "{method} {params}: {error}"
                );
            }
        }
    }
    for method in ["didOpen", "didChange", "didClose", "didSave", "willSave"] {
        for params in [
            json!(null),
            json!([]),
            json!({"textDocument": {"uri": 5}}),
            json!({"contentChanges": {}}),
        ] {
            client.notify(&format!("textDocument/{method}"), params);
        }
    }
    for method in [
        "workspace/didChangeWatchedFiles",
        "workspace/didChangeConfiguration",
        "workspace/didChangeWorkspaceFolders",
        "$/setTrace",
        "$/cancelRequest",
        "initialized",
    ] {
        client.notify(
            method,
            json!({"changes": [{"uri": "no"}], "event": [], "value": 5, "id": []}),
        );
    }
    // Nothing of it changed the document.
    let symbols = client
        .call(
            "textDocument/documentSymbol",
            json!({"textDocument": {"uri": URI}}),
        )
        .unwrap();
    assert_eq!(symbols[0]["name"], "Acetylation of benzyl alcohol");
    // A client that has asked for findings is published none, so what it knows is asked for.
    let ask = json!({"textDocument": {"uri": URI}});
    let found = client.call("textDocument/diagnostic", ask).unwrap();
    assert_eq!(found["items"][0]["code"], "decimal-comma");
    assert_eq!(client.finish().code(), Some(0));
}
