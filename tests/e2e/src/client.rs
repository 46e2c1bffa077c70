//! The client's end of a session.

use crate::binary::meniscus;
use serde_json::{Value, json};
use std::collections::HashMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread;
use std::time::{Duration, Instant};

/// How long the server may take for anything; generous, because debug builds on busy machines are slow.
const PATIENCE: Duration = Duration::from_secs(60);

/// What the server's standard streams are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Streams {
    /// Two pipes.
    Pipes,
    /// Two socket pairs, as editors that run on Node make them.
    #[cfg(unix)]
    Sockets,
}

/// A session with a server of its own.
pub struct Client {
    server: Child,
    to_server: Option<Box<dyn Write + Send>>,
    from_server: Receiver<Value>,
    last_id: i64,
    answers: HashMap<i64, Value>,
    /// Answers to what the server could not tell the id of.
    strays: Vec<Value>,
    /// The last published findings of each document.
    published: HashMap<String, Value>,
    /// The versions published, in the order of arrival.
    versions: HashMap<String, Vec<i64>>,
    /// What the server asked of us, in the order of arrival; every request was answered with null, but for settings.
    asked: Vec<Value>,
    /// What the server told us besides findings.
    told: Vec<Value>,
    /// Our settings, for a server that asks for them.
    pub settings: Value,
}

impl Client {
    /// Starts a server on pipes.
    #[must_use]
    pub fn start() -> Client {
        Client::start_on(Streams::Pipes)
    }

    /// Starts a server.
    ///
    /// # Panics
    /// When it does not start.
    #[must_use]
    pub fn start_on(streams: Streams) -> Client {
        Client::start_with(streams, &[])
    }

    /// Starts a server with further arguments.
    ///
    /// # Panics
    /// When it does not start.
    #[must_use]
    pub fn start_with(streams: Streams, arguments: &[&str]) -> Client {
        let mut command = Command::new(meniscus());
        command
            .arg("serve")
            .args(arguments)
            .env("RUST_LOG", "error");
        let (server, input, output): (Child, Box<dyn Write + Send>, Box<dyn Read + Send>) =
            match streams {
                Streams::Pipes => {
                    let mut server = command
                        .stdin(Stdio::piped())
                        .stdout(Stdio::piped())
                        .spawn()
                        .expect("the server starts");
                    let input = server.stdin.take().expect("stdin");
                    let output = server.stdout.take().expect("stdout");
                    (server, Box::new(input), Box::new(output))
                }
                #[cfg(unix)]
                Streams::Sockets => {
                    use std::os::{fd::OwnedFd, unix::net::UnixStream};
                    let (input, theirs) = UnixStream::pair().expect("a pair of sockets");
                    command.stdin(OwnedFd::from(theirs));
                    let (output, theirs) = UnixStream::pair().expect("a pair of sockets");
                    command.stdout(OwnedFd::from(theirs));
                    let server = command.spawn().expect("the server starts");
                    // The command keeps our copies of the server's ends open until it is dropped.
                    drop(command);
                    (server, Box::new(input), Box::new(output))
                }
            };
        let (sender, from_server) = channel();
        thread::spawn(move || {
            let mut output = BufReader::new(output);
            while let Some(message) = read_message(&mut output) {
                if sender.send(message).is_err() {
                    return;
                }
            }
        });
        Client {
            server,
            to_server: Some(input),
            from_server,
            last_id: 0,
            answers: HashMap::new(),
            strays: Vec::new(),
            published: HashMap::new(),
            versions: HashMap::new(),
            asked: Vec::new(),
            told: Vec::new(),
            settings: Value::Null,
        }
    }

    /// The most memory that the server has held so far, in kB; none where the system does not say.
    #[must_use]
    pub fn peak_memory(&self) -> Option<u64> {
        self.status("VmHWM:")
    }

    /// The memory that the server holds now, in kB; none where the system does not say.
    #[must_use]
    pub fn memory(&self) -> Option<u64> {
        self.status("VmRSS:")
    }

    fn status(&self, what: &str) -> Option<u64> {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.server.id())).ok()?;
        let line = status.lines().find_map(|line| line.strip_prefix(what))?;
        line.trim().strip_suffix(" kB")?.parse().ok()
    }

    /// Shakes hands, and returns the server's capabilities.
    ///
    /// # Panics
    /// When the server does not answer as it should.
    pub fn initialize(&mut self, capabilities: &Value) -> Value {
        self.initialize_in(&[], capabilities)
    }

    /// The same, with folders.
    ///
    /// # Panics
    /// When the server does not answer as it should.
    pub fn initialize_in(&mut self, folders: &[&str], capabilities: &Value) -> Value {
        let folder = |uri: &&str| json!({"uri": uri, "name": "a folder"});
        let folders: Vec<Value> = folders.iter().map(folder).collect();
        let params = json!({
            "processId": null, "rootUri": null, "capabilities": capabilities, "workspaceFolders": folders,
        });
        let answer = self
            .call("initialize", params)
            .expect("initialize succeeds");
        self.notify("initialized", json!({}));
        answer["capabilities"].clone()
    }

    /// Sends these bytes. A server that has ended does not take them, which is no error here.
    pub fn send_bytes(&mut self, bytes: &[u8]) {
        if let Some(input) = &mut self.to_server {
            let _ = input.write_all(bytes).and_then(|()| input.flush());
        }
    }

    /// Sends a message.
    pub fn send(&mut self, message: &Value) {
        self.send_bytes(&frame(message));
    }

    /// Sends a notification.
    pub fn notify(&mut self, method: &str, params: Value) {
        self.send(&json!({"jsonrpc": "2.0", "method": method, "params": params}));
    }

    /// Sends a request and returns its id.
    pub fn request(&mut self, method: &str, params: Value) -> i64 {
        self.last_id += 1;
        self.send(
            &json!({"jsonrpc": "2.0", "id": self.last_id, "method": method, "params": params}),
        );
        self.last_id
    }

    /// Waits for the answer to a request: its result, or its error.
    ///
    /// # Errors
    /// What the server answered.
    ///
    /// # Panics
    /// When it does not answer.
    pub fn answer(&mut self, id: i64) -> Result<Value, Value> {
        self.until(&format!("the answer to request {id}"), |client| {
            client.answers.remove(&id)
        })
        .and_then(|mut answer| match answer.get_mut("error") {
            Some(error) => Err(error.take()),
            None => Ok(answer["result"].take()),
        })
    }

    /// Sends a request and waits for its answer.
    ///
    /// # Errors
    /// What the server answered.
    ///
    /// # Panics
    /// When it does not answer.
    pub fn call(&mut self, method: &str, params: Value) -> Result<Value, Value> {
        let id = self.request(method, params);
        self.answer(id)
    }

    /// The code of the error that a request is answered with.
    ///
    /// # Panics
    /// When it is not answered with an error.
    pub fn error_code(&mut self, method: &str, params: Value) -> i64 {
        let error = self.call(method, params).expect_err("an error");
        error["code"].as_i64().expect("a code")
    }

    /// Waits for an error whose request the server could not tell, and returns its code.
    ///
    /// # Panics
    /// When none comes.
    pub fn stray_error(&mut self) -> i64 {
        let answer = self
            .until("an error without an id", |client| client.strays.pop())
            .expect("an answer");
        answer["error"]["code"].as_i64().expect("a code")
    }

    /// Waits until the findings of this version, or of none where the server leaves it out, are published.
    ///
    /// # Panics
    /// When they are not.
    pub fn findings(&mut self, uri: &str, version: impl Into<Value>) -> Vec<Value> {
        let version = version.into();
        let findings = self
            .until(
                &format!("the findings of {uri}, version {version}"),
                |client| {
                    let published = client.published.get(uri)?;
                    (published["version"] == version).then(|| published["diagnostics"].clone())
                },
            )
            .expect("findings");
        findings.as_array().expect("a list").clone()
    }

    /// Waits until the findings of a document are these checks, whichever version they are of.
    ///
    /// # Panics
    /// When they do not become so.
    pub fn findings_become(&mut self, uri: &str, checks: &[&str]) -> Vec<Value> {
        let findings = self
            .until(&format!("{checks:?} in {uri}"), |client| {
                let findings = &client.published.get(uri)?["diagnostics"];
                let codes = findings.as_array()?.iter().map(|finding| &finding["code"]);
                codes.eq(checks.iter()).then(|| findings.clone())
            })
            .expect("findings");
        findings.as_array().expect("a list").clone()
    }

    /// Waits until the server asks this of us, and returns with what; each request is returned once.
    ///
    /// # Panics
    /// When it does not.
    pub fn asked(&mut self, method: &str) -> Value {
        let request = self.until(&format!("a request for {method}"), |client| {
            let asked = &mut client.asked;
            let at = asked
                .iter()
                .position(|request| request["method"] == method)?;
            Some(asked.remove(at))
        });
        request.expect("a request")["params"].take()
    }

    /// Waits until the server tells us this, and returns what; each message is returned once.
    ///
    /// # Panics
    /// When it does not.
    pub fn told(&mut self, method: &str) -> Value {
        let message = self.until(&format!("a message {method}"), |client| {
            let told = &mut client.told;
            let at = told
                .iter()
                .position(|message| message["method"] == method)?;
            Some(told.remove(at))
        });
        message.expect("a message")["params"].take()
    }

    /// Waits until the last published findings of a document are these.
    ///
    /// # Panics
    /// When they do not become so.
    pub fn findings_equal(&mut self, uri: &str, version: i32, expected: &Value) {
        let found = self.until(&format!("{expected} as findings of {uri}"), |client| {
            let published = client.published.get(uri)?;
            (published["version"] == version && published["diagnostics"] == *expected)
                .then_some(Value::Null)
        });
        found.expect("findings");
    }

    /// Every version of this document that findings were published for, in the order of arrival.
    #[must_use]
    pub fn versions(&self, uri: &str) -> &[i64] {
        self.versions.get(uri).map_or(&[], Vec::as_slice)
    }

    /// Opens a document as version 1.
    pub fn open(&mut self, uri: &str, text: &str) {
        self.open_version(uri, 1, text);
    }

    /// Opens a document.
    pub fn open_version(&mut self, uri: &str, version: i32, text: &str) {
        let document = json!({"uri": uri, "languageId": "prep", "version": version, "text": text});
        self.notify("textDocument/didOpen", json!({"textDocument": document}));
    }

    /// Sends changes.
    pub fn change(&mut self, uri: &str, version: i32, changes: &[Value]) {
        let document = json!({"uri": uri, "version": version});
        self.notify(
            "textDocument/didChange",
            json!({"textDocument": document, "contentChanges": changes}),
        );
    }

    /// Says `shutdown` and `exit`, and waits for the end.
    ///
    /// # Panics
    /// When the server does not answer or end.
    pub fn finish(mut self) -> ExitStatus {
        self.call("shutdown", Value::Null)
            .expect("shutdown succeeds");
        self.send(&json!({"jsonrpc": "2.0", "method": "exit"}));
        self.end()
    }

    /// Closes the server's input.
    pub fn hang_up(&mut self) {
        self.to_server = None;
    }

    /// Waits for the server to end.
    ///
    /// # Panics
    /// When it does not.
    pub fn end(mut self) -> ExitStatus {
        let deadline = Instant::now() + PATIENCE;
        loop {
            if let Some(status) = self.server.try_wait().expect("its status") {
                return status;
            }
            assert!(Instant::now() < deadline, "the server does not end");
            thread::sleep(Duration::from_millis(5));
        }
    }

    /// Takes messages until this finds what it looks for.
    fn until(
        &mut self,
        what: &str,
        found: impl Fn(&mut Client) -> Option<Value>,
    ) -> Result<Value, Value> {
        let deadline = Instant::now() + PATIENCE;
        loop {
            if let Some(found) = found(self) {
                return Ok(found);
            }
            match self
                .from_server
                .recv_timeout(deadline.saturating_duration_since(Instant::now()))
            {
                Ok(message) => self.take(message),
                Err(RecvTimeoutError::Timeout) => panic!("no sign of {what}"),
                Err(RecvTimeoutError::Disconnected) => panic!("the server ended before {what}"),
            }
        }
    }

    fn take(&mut self, message: Value) {
        if message["method"] == "textDocument/publishDiagnostics" {
            let params = &message["params"];
            let uri = params["uri"].as_str().expect("a name").to_owned();
            if let Some(version) = params["version"].as_i64() {
                self.versions.entry(uri.clone()).or_default().push(version);
            }
            self.published.insert(uri, params.clone());
        } else if message["method"].is_string() && !message["id"].is_null() {
            let result = match message["method"] == "workspace/configuration" {
                true => json!([self.settings]),
                false => Value::Null,
            };
            self.send(&json!({"jsonrpc": "2.0", "id": message["id"], "result": result}));
            self.asked.push(message);
        } else if message["method"].is_string() {
            self.told.push(message);
        } else if let Some(id) = message["id"].as_i64() {
            let earlier = self.answers.insert(id, message);
            assert!(earlier.is_none(), "request {id} was answered twice");
        } else {
            self.strays.push(message);
        }
    }
}

impl Drop for Client {
    fn drop(&mut self) {
        // It has ended already, but for a test that failed.
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

/// A message as it goes over the wire.
#[must_use]
pub fn frame(message: &Value) -> Vec<u8> {
    let body = message.to_string();
    format!("Content-Length: {}\r\n\r\n{body}", body.len()).into_bytes()
}

fn read_message(input: &mut impl BufRead) -> Option<Value> {
    let mut length = None;
    loop {
        let mut line = String::new();
        if input.read_line(&mut line).ok()? == 0 {
            return None;
        }
        match line.trim_end().split_once(": ") {
            Some(("Content-Length", number)) => length = number.parse().ok(),
            Some(_) => {}
            None => break,
        }
    }
    let mut body = vec![0; length.expect("a length")];
    input.read_exact(&mut body).ok()?;
    Some(serde_json::from_slice(&body).expect("the server writes JSON"))
}
