//! Several documents at once, with everything that changes under a server: edits, cancels, files on the disk and in the
//! editor, settings of the client. Every answer is held against that of a server which has just read the same text.
//!
//! `MODEL_SEED` is another course of events; `MODEL_SECONDS` is how long, and from five minutes on a soak: the server's
//! memory is told every minute, and must not grow.

use e2e::{Client, Encoding, Model, Random};
use serde_json::{Value, json};
use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

const PIECES: &[&str] = &[
    "a",
    "5",
    ",",
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
    "#",
    "plan B\n",
    "materials\n",
    "steps\n",
    "equipment\n  flask: 25 mL flask\n",
    "  base: pyridine, 2,5 mL\n",
    "  salt: C19H18PBr, bottle salt-1, 1.20 eq\r\n",
    "  add base in flask dropwise over 10 min\n",
    "  stir for 2 h at 0 °C\n",
    "scale 5.00 mmol alcohol\n",
    "runs\n",
    "  A: 2.00 mmol, alcohol is ethanol, 95 %\n",
    " is ",
    "reaction alcohol -> ester\n",
    "doi:10.15227/orgsyn.077.0001",
    ", 1.20 eq",
    "20 mL/g of alcohol",
];

const PLAN: &str = "\
plan A
scale 5.00 mmol alcohol
materials
  alcohol: benzyl alcohol, bottle alcohol-1, 1.00 eq
  base: pyridine, bottle base-1, 2.50 mL # 😀 µ
  thf: tetrahydrofuran, 25 mL
products
  ester: C9H10O2, 1.00 eq, expect 85 %
equipment
  flask: 100 mL round-bottom flask
steps
  add alcohol, thf in flask
  add base dropwise over 10 min
  stir for 2 h
";

const INVENTORIES: &[&str] = &[
    "",
    "[[bottle]]\nname = \"alcohol-1\"\nsubstance = \"benzyl alcohol\"\nleft = \"5 g\"\n",
    "[[bottle]]\nname = \"alcohol-1\"\nsubstance = \"benzyl alcohol\"\nleft = \"5 mg\"\n[[bottle]]\nname = \"base-1\"\nsubstance = \"pyridine\"\nleft = \"90 mL\"\n",
    "[[bottle]]\nname = \"base-1\"\nsubstance = \"water\"\n[[bottle]]\nname = \"salt-1\n",
    "= 😀\n[[[",
];

const SETTINGS: &[&str] = &[
    "",
    "[checks]\nprofile = \"strict\"\n",
    "[checks]\nprofile = \"loud\"\n[shown]\nstep-hints = false\n",
    "[tools]\nsyringes = [\"5 mL\"]\n[ages]\ntitre = 1\n",
];

const METHODS: &[&str] = &[
    "textDocument/hover",
    "textDocument/completion",
    "textDocument/inlayHint",
    "textDocument/codeAction",
    "textDocument/codeLens",
    "textDocument/documentSymbol",
    "textDocument/formatting",
    "textDocument/rangeFormatting",
    "textDocument/onTypeFormatting",
    "textDocument/foldingRange",
    "textDocument/selectionRange",
    "textDocument/semanticTokens/full",
    "textDocument/semanticTokens/range",
    "textDocument/references",
    "textDocument/documentHighlight",
    "textDocument/definition",
    "textDocument/prepareRename",
    "textDocument/rename",
    "textDocument/signatureHelp",
    "textDocument/documentLink",
    "workspace/symbol",
    "workspace/executeCommand",
    "textDocument/diagnostic",
];

/// They stay open, and stand first among what is open.
const PLANS: [&str; 3] = ["a.prep", "b.prep", "sub/c.prep"];

/// A document that is open in the client.
struct Open {
    uri: String,
    model: Model,
    /// Plans, or a file that they are read against.
    plans: bool,
}

/// A question on its way.
struct Asked {
    id: i64,
    cancelled: bool,
    method: &'static str,
    params: Value,
    uri: String,
    version: i32,
    text: String,
}

struct World {
    random: Random,
    encoding: Encoding,
    pulls: bool,
    folder: tempfile::TempDir,
    /// What the client's settings are.
    settings: Value,
    client: Client,
    open: Vec<Open>,
    /// Questions that were put, and that were answered rather than cancelled.
    asked: usize,
    compared: usize,
}

#[test]
fn every_answer_is_that_of_a_fresh_server() {
    let number = |variable: &str| std::env::var(variable).ok()?.parse::<u64>().ok();
    let seed = number("MODEL_SEED").unwrap_or(1);
    let seconds = number("MODEL_SECONDS").unwrap_or(20);
    let mut world = World::new(seed);
    let begun = Instant::now();
    let mut memory = Vec::new();
    let mut batch = 0;
    while begun.elapsed() < Duration::from_secs(seconds) {
        batch += 1;
        world.batch(&format!("seed {seed}, batch {batch}"));
        world.change_surroundings();
        let minute = begun.elapsed().as_secs() / 60;
        if memory.len() < usize::try_from(minute).unwrap() {
            let held = world.client.memory().unwrap_or(0);
            eprintln!("{minute} min: {held} kB, {} questions", world.asked);
            memory.push(held);
        }
    }
    eprintln!(
        "seed {seed}: {} questions in {batch} batches, {} answers compared, {:?} kB at most",
        world.asked,
        world.compared,
        world.client.peak_memory()
    );
    assert!(world.compared > 0);
    if seconds >= 300 {
        // The first minutes fill what is kept on purpose.
        let (early, late) = (memory[memory.len() / 3], memory[memory.len() - 1]);
        assert!(
            late <= early + early / 10 + 1024,
            "memory grows: {memory:?}"
        );
    }
    assert_eq!(world.client.finish().code(), Some(0));
}

impl World {
    fn new(seed: u64) -> World {
        let random = Random::new(seed);
        let encoding = [Encoding::Utf16, Encoding::Utf8, Encoding::Utf32][(seed % 3) as usize];
        let pulls = seed.is_multiple_of(2);
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("sub")).unwrap();
        let client = connect(encoding, pulls, &Value::Null);
        let mut world = World {
            random,
            encoding,
            pulls,
            folder,
            settings: Value::Null,
            client,
            open: Vec::new(),
            asked: 0,
            compared: 0,
        };
        for file in PLANS {
            world.open(file, PLAN);
        }
        world
    }

    fn uri(&self, file: &str) -> String {
        format!("file://{}/{file}", self.folder.path().display())
    }

    fn open(&mut self, file: &str, text: &str) {
        let uri = self.uri(file);
        self.client.open_version(&uri, 1, text);
        self.open.push(Open {
            uri,
            model: Model::new(text, self.encoding),
            plans: Path::new(file).extension().is_some_and(|end| end == "prep"),
        });
    }

    /// Edits and questions without a pause, and then what came of them.
    fn batch(&mut self, what: &str) {
        let mut asked = Vec::new();
        for _ in 0..10 + self.random.below(20) {
            let index = self.random.below(PLANS.len());
            self.edit(index);
            if !self.random.once_in(3) {
                let index = self.random.below(PLANS.len());
                asked.push(self.ask(index));
            }
        }
        let mut fresh = self.fresh();
        for asked in asked {
            let found = self.client.answer(asked.id);
            if asked.cancelled && found.as_ref().is_err_and(|error| error["code"] == -32800) {
                continue;
            }
            fresh.open_version(&asked.uri, asked.version, &asked.text);
            let expected = fresh.call(asked.method, asked.params.clone());
            let close = json!({"textDocument": {"uri": asked.uri}});
            fresh.notify("textDocument/didClose", close);
            let plain = |answer: Result<Value, Value>| answer.map(|answer| of(&asked.uri, answer));
            assert_eq!(
                plain(found),
                plain(expected),
                "{what}: {} with {} of {:?}",
                asked.method,
                asked.params,
                asked.text
            );
            self.compared += 1;
        }
        if !self.pulls {
            for open in self.open.iter().filter(|open| open.plans) {
                fresh.open_version(&open.uri, open.model.version, &open.model.text);
                let expected = fresh.findings(&open.uri, open.model.version);
                // Said once more where it does not become so, because the text is what one needs to know then.
                eprint_on_panic(what, &open.model.text, || {
                    let expected = Value::Array(expected.clone());
                    self.client
                        .findings_equal(&open.uri, open.model.version, &expected);
                });
                self.compared += 1;
            }
        }
        assert_eq!(fresh.finish().code(), Some(0));
    }

    fn edit(&mut self, index: usize) {
        let open = &mut self.open[index];
        let changes: Vec<Value> = (0..=self.random.below(3))
            .map(|_| open.model.edit(&mut self.random, PIECES))
            .collect();
        open.model.version += 1;
        self.client.change(&open.uri, open.model.version, &changes);
        if open.plans && self.random.once_in(40) {
            let close = json!({"textDocument": {"uri": open.uri}});
            self.client.notify("textDocument/didClose", close);
            if self.random.once_in(2) {
                open.model = Model::new(PLAN, self.encoding);
            }
            // A number that was not used before, so that findings can be told apart.
            open.model.version += 1000;
            self.client
                .open_version(&open.uri, open.model.version, &open.model.text);
        }
    }

    /// Asks something about a document of plans.
    fn ask(&mut self, index: usize) -> Asked {
        let open = &self.open[index];
        let random = &mut self.random;
        let name = json!({"uri": open.uri});
        // At times a place that the document does not have.
        let place = |random: &mut Random| match random.once_in(12) {
            true => json!({"line": random.below(60), "character": random.below(200)}),
            false => open.model.somewhere(random),
        };
        let at = place(random);
        let range = json!({"start": at, "end": place(random)});
        let options = json!({"tabSize": 2, "insertSpaces": true});
        // A client that asks for findings is published none from then on.
        let methods = METHODS.len() - usize::from(!self.pulls);
        let method = METHODS[random.below(methods)];
        let params = match method {
            "workspace/symbol" => json!({"query": random.pick(&["", "a", "fl"])}),
            "workspace/executeCommand" => {
                let goal = random.pick(&[
                    "2x",
                    "/ 3",
                    "10 mmol",
                    "2.5 g of ester",
                    "flask",
                    "bottles",
                    "smallest",
                ]);
                let argument =
                    json!({"uri": open.uri, "position": at, "goal": goal, "preview": true});
                json!({"command": "meniscus.rescale", "arguments": [argument]})
            }
            // Everything that any of the others takes.
            _ => json!({
                "textDocument": name, "position": at, "range": range, "positions": [at, range["end"]],
                "context": {"diagnostics": [], "includeDeclaration": true, "triggerKind": 1, "isRetrigger": false}, "options": options, "ch": "\n",
                "newName": random.pick(&["base", "new", "a b", "5"]),
            }),
        };
        let id = self.client.request(method, params.clone());
        let cancelled = random.once_in(5);
        if cancelled {
            self.client.notify("$/cancelRequest", json!({"id": id}));
        }
        self.asked += 1;
        Asked {
            id,
            cancelled,
            method,
            params,
            uri: open.uri.clone(),
            version: open.model.version,
            text: open.model.text.clone(),
        }
    }

    /// A server that has read nothing yet but what is open and no plan.
    fn fresh(&self) -> Client {
        let mut fresh = connect(self.encoding, self.pulls, &self.settings);
        for open in self.open.iter().filter(|open| !open.plans) {
            fresh.open_version(&open.uri, open.model.version, &open.model.text);
        }
        fresh
    }

    /// Changes something that plans are read against. Nothing is on its way meanwhile: when a file is looked at is the
    /// server's to choose.
    fn change_surroundings(&mut self) {
        let file = self
            .random
            .pick(&["inventory.toml", "sub/inventory.toml", "meniscus.toml"])
            .to_owned();
        let file = &*file;
        let texts = match file {
            "meniscus.toml" => SETTINGS,
            _ => INVENTORIES,
        };
        let text = self.random.pick(texts);
        let path = self.folder.path().join(file);
        let uri = self.uri(file);
        let at = self.open.iter().position(|open| open.uri == uri);
        match self.random.below(6) {
            0 | 1 => {
                fs::write(&path, text).unwrap();
                self.tell_of(&uri);
            }
            2 => {
                let _ = fs::remove_file(&path);
                self.tell_of(&uri);
            }
            3 => match at {
                Some(at) if self.random.once_in(2) => self.edit(at),
                Some(at) => {
                    self.open.remove(at);
                    let close = json!({"textDocument": {"uri": uri}});
                    self.client.notify("textDocument/didClose", close);
                }
                None => self.open(file, text),
            },
            _ => {
                let profile = ["quiet", "normal", "strict", "loud"][self.random.below(4)];
                let severity = ["off", "warning"][self.random.below(2)];
                self.settings = json!({
                    "profile": profile,
                    "hints": !self.random.once_in(4),
                    "checks": {"bottle-unknown": severity},
                });
                self.client.settings = self.settings.clone();
                let nothing = json!({"settings": null});
                self.client
                    .notify("workspace/didChangeConfiguration", nothing);
                self.client.asked("workspace/configuration");
            }
        }
        settle(&mut self.client);
    }

    fn tell_of(&mut self, uri: &str) {
        let changes = json!({"changes": [{"uri": uri, "type": 2}]});
        self.client
            .notify("workspace/didChangeWatchedFiles", changes);
    }
}

/// Until the server has taken what it was told.
fn settle(client: &mut Client) {
    for _ in 0..2 {
        client
            .call("workspace/symbol", json!({"query": "no such key"}))
            .unwrap();
    }
}

fn connect(encoding: Encoding, pulls: bool, settings: &Value) -> Client {
    let mut client = Client::start();
    client.settings = settings.clone();
    let mut capabilities = json!({
        "general": {"positionEncodings": [encoding.name()]},
        "workspace": {
            "configuration": true,
            "applyEdit": true,
            "workspaceEdit": {"documentChanges": true},
        },
        "textDocument": {
            "hover": {"contentFormat": ["markdown"]},
            "publishDiagnostics": {"versionSupport": true, "relatedInformation": true},
            "codeAction": {"codeActionLiteralSupport": {"codeActionKind": {"valueSet": ["quickfix", "refactor"]}}},
            "documentSymbol": {"hierarchicalDocumentSymbolSupport": true},
            "rename": {"prepareSupport": true},
        },
    });
    if pulls {
        capabilities["textDocument"]["diagnostic"] = json!({});
    }
    client.initialize(&capabilities);
    client.asked("workspace/configuration");
    settle(&mut client);
    client
}

/// What an answer says of one document, without the numbers that name it.
fn of(uri: &str, mut answer: Value) -> Value {
    if let Some(all) = answer.as_array_mut()
        && all.iter().any(|one| one["location"]["uri"].is_string())
    {
        all.retain(|one| one["location"]["uri"] == uri);
    }
    if let Some(members) = answer.as_object_mut()
        && members.contains_key("data")
    {
        members.remove("resultId");
    }
    answer
}

fn eprint_on_panic(what: &str, text: &str, work: impl FnOnce()) {
    let done = std::panic::catch_unwind(std::panic::AssertUnwindSafe(work));
    if let Err(panic) = done {
        eprintln!("{what}: the findings of {text:?}");
        std::panic::resume_unwind(panic);
    }
}
