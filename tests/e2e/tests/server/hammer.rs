//! Thousands of random edits among requests and cancels, after which the server must know exactly the text
//! that the client has.

use crate::PLAN;
use e2e::{Client, Encoding, Model, Random};
use serde_json::{Value, json};

const PIECES: &[&str] = &[
    "a",
    "5",
    ",",
    ".",
    " ",
    "\n",
    "\r\n",
    "\r",
    "µL",
    "😀",
    "𝛼",
    "e\u{301}",
    "\u{feff}",
    "\u{2028}",
    "→",
    "#",
    ":",
    "plan B\n",
    "materials\n",
    "steps\n",
    "  base: pyridine, 2,5 mL\n",
    "  salt: C19H18PBr, 1.20 eq\n",
    "2,5 mL",
    "  add base dropwise over 10 min\n",
    "  cool to 0 °C\r\n",
    "scale 5.00 mmol alcohol\n",
    "((((",
    "1,000 mL",
    "50 %",
];

const DOCUMENTS: usize = 3;

#[test]
fn utf_8() {
    hammer(Encoding::Utf8);
}

#[test]
fn utf_16() {
    hammer(Encoding::Utf16);
}

#[test]
fn utf_32() {
    hammer(Encoding::Utf32);
}

fn hammer(encoding: Encoding) {
    // Two or three edits a round.
    let rounds = number("HAMMER_ROUNDS").unwrap_or(1500);
    let seed = number("HAMMER_SEED").unwrap_or(1);
    let mut random = Random::new(seed as u64);
    let mut client = connect(encoding);
    let uris: Vec<String> = (0..DOCUMENTS)
        .map(|number| format!("file:///bench/{number}.prep"))
        .collect();
    let mut documents: Vec<Model> = uris.iter().map(|_| Model::new(PLAN, encoding)).collect();
    for uri in &uris {
        client.open(uri, PLAN);
    }
    let mut asked = Vec::new();
    for _ in 0..rounds {
        let index = random.below(DOCUMENTS);
        let (uri, document) = (&uris[index], &mut documents[index]);
        let changes: Vec<Value> = (0..=random.below(3))
            .map(|_| document.edit(&mut random, PIECES))
            .collect();
        document.version += 1;
        client.change(uri, document.version, &changes);
        if random.once_in(2) {
            let (method, params) = question(uri, document, &mut random);
            let id = client.request(method, params);
            asked.push(id);
            if random.once_in(3) {
                client.notify("$/cancelRequest", json!({"id": id}));
            }
        }
        if random.once_in(300) {
            client.notify(
                "textDocument/didClose",
                json!({"textDocument": {"uri": uri}}),
            );
            client.open(uri, &document.text);
            document.version = 1;
        }
    }
    for id in asked {
        if let Err(error) = client.answer(id) {
            assert_eq!(
                error["code"], -32800,
                "seed {seed}: only a cancelled request may fail"
            );
        }
    }
    for (uri, document) in uris.iter().zip(&documents) {
        let mut fresh = connect(encoding);
        fresh.open(uri, &document.text);
        let expected = knowledge(&mut fresh, uri, document, 1);
        let found = knowledge(&mut client, uri, document, document.version);
        assert_eq!(
            found, expected,
            "seed {seed}, {uri}, of the text {:?}",
            document.text
        );
        assert_eq!(fresh.finish().code(), Some(0));
    }
    assert_eq!(client.finish().code(), Some(0));
}

fn number(variable: &str) -> Option<usize> {
    std::env::var(variable).ok()?.parse().ok()
}

fn connect(encoding: Encoding) -> Client {
    let mut client = Client::start();
    let offered = client.initialize(&json!({
        "general": {"positionEncodings": [encoding.name()]},
        "textDocument": {
            "publishDiagnostics": {"versionSupport": true, "relatedInformation": true},
            "codeAction": {"codeActionLiteralSupport": {"codeActionKind": {"valueSet": ["quickfix", "refactor"]}}},
            "documentSymbol": {"hierarchicalDocumentSymbolSupport": true},
        },
    }));
    assert_eq!(offered["positionEncoding"], encoding.name());
    client
}

/// A request about the document, at times about places that it does not have.
fn question(uri: &str, document: &Model, random: &mut Random) -> (&'static str, Value) {
    let name = json!({"uri": uri});
    let nowhere = json!({"line": random.below(1000), "character": random.below(1000)});
    let place = if random.once_in(10) {
        nowhere
    } else {
        document.somewhere(random)
    };
    let range = json!({"start": place, "end": document.somewhere(random)});
    match random.below(4) {
        0 => (
            "textDocument/hover",
            json!({"textDocument": name, "position": place}),
        ),
        1 => (
            "textDocument/inlayHint",
            json!({"textDocument": name, "range": range}),
        ),
        2 => ("textDocument/documentSymbol", json!({"textDocument": name})),
        _ => (
            "textDocument/codeAction",
            json!({"textDocument": name, "range": range, "context": {"diagnostics": []}}),
        ),
    }
}

/// Everything that the server says of a document.
fn knowledge(client: &mut Client, uri: &str, document: &Model, version: i32) -> Value {
    let name = json!({"uri": uri});
    let end = e2e::position(&document.text, document.text.len(), Encoding::Utf8);
    let all = json!({"start": {"line": 0, "character": 0}, "end": end});
    let findings = client.findings(uri, version);
    let mut ask = |method, params| client.call(method, params).expect("an answer");
    let hovers: Vec<Value> = (0..document.text.lines().count())
        .flat_map(|line| [0, 4, 12, 1000].map(|column| json!({"line": line, "character": column})))
        .map(|place| {
            ask(
                "textDocument/hover",
                json!({"textDocument": name, "position": place}),
            )
        })
        .collect();
    let params = json!({"textDocument": name, "range": all, "context": {"diagnostics": findings}});
    json!({
        "symbols": ask("textDocument/documentSymbol", json!({"textDocument": name})),
        "hints": ask("textDocument/inlayHint", json!({"textDocument": name, "range": all})),
        "actions": ask("textDocument/codeAction", params),
        "hovers": hovers,
        "findings": findings,
    })
}
