//! The loop between the streams and the service.

use super::frames::{Frame, Frames};
use super::messages::{self, Message};
use super::stdio::{Input, Output};
use futures::future::{BoxFuture, FutureExt};
use futures::stream::{FuturesUnordered, Stream, StreamExt};
use futures::{SinkExt, poll};
use serde::Serialize;
use std::io;
use std::panic::AssertUnwindSafe;
use std::pin::pin;
use std::task::Poll;
use std::time::Duration;
use tokio::io::{AsyncWrite, AsyncWriteExt};
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};
use tower_lsp::jsonrpc::{Error, ErrorCode, Id, Request, Response};
use tower_lsp::{ClientSocket, LanguageServer, LspService};
use tower_service::Service;
use tracing::{Instrument, debug, error, info_span};

/// How a session ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ending {
    /// `exit` after `shutdown`.
    Clean,
    /// `exit` without `shutdown`, or a stream that closed.
    Abrupt,
}

/// How long the last answers may take to be read by the client.
const LAST_WORDS: Duration = Duration::from_secs(2);

/// Answers messages until the client says `exit` or its stream ends.
pub(crate) async fn serve<S: LanguageServer>(
    mut service: LspService<S>,
    socket: ClientSocket,
    input: Input,
    output: Output,
) -> Ending {
    let (requests, mut replies) = socket.split();
    let (answers, due) = unbounded_channel();
    let mut writer = pin!(tokio::spawn(write(output, due, requests)).fuse());
    let mut frames = Frames::new(input);
    let mut waiting = FuturesUnordered::new();
    let mut shut_down = false;

    loop {
        let frame = tokio::select! {
            biased;
            Some(answer) = waiting.next() => {
                send(&answers, answer);
                continue;
            }
            _ = &mut writer => return Ending::Abrupt,
            frame = frames.next() => frame,
        };
        let body = match frame {
            Ok(Some(Frame::Body(body))) if body.is_empty() => continue,
            Ok(Some(Frame::Body(body))) => body,
            Ok(Some(Frame::Garbage)) => {
                send(
                    &answers,
                    Some(Response::from_error(Id::Null, Error::parse_error())),
                );
                continue;
            }
            Ok(None) => break,
            Err(error) => {
                error!("cannot read from the client: {error}");
                break;
            }
        };
        match messages::read(&body) {
            Ok(Message::Request(request)) => {
                match request.method() {
                    "exit" => break,
                    "shutdown" => shut_down = true,
                    _ => {}
                }
                let mut handler = handle(&mut service, request).await;
                // Up to its first wait, before the next message is looked at.
                match poll!(&mut handler) {
                    Poll::Ready(answer) => send(&answers, answer),
                    Poll::Pending => waiting.push(handler),
                }
            }
            Ok(Message::Response(response)) => {
                if replies.send(response).await.is_err() {
                    break;
                }
            }
            Err(answer) => {
                if answer
                    .error()
                    .is_some_and(|error| error.code == ErrorCode::ParseError)
                {
                    frames.put_back(body);
                }
                send(&answers, Some(answer));
            }
        }
    }

    drop(answers);
    if tokio::time::timeout(LAST_WORDS, writer).await.is_err() {
        debug!("the client does not read its last answers");
    }
    if shut_down {
        Ending::Clean
    } else {
        Ending::Abrupt
    }
}

/// The work that a request asks for, which always ends in the answer that it is due.
async fn handle<S: LanguageServer>(
    service: &mut LspService<S>,
    request: Request,
) -> BoxFuture<'static, Option<Response>> {
    let id = request.id().cloned();
    let ready = poll!(std::future::poll_fn(|context| service.poll_ready(context)));
    if !matches!(ready, Poll::Ready(Ok(()))) {
        return std::future::ready(id.map(|id| Response::from_error(id, Error::invalid_request())))
            .boxed();
    }
    let method = request.method().to_owned();
    let span = info_span!(
        "message",
        method,
        id = id.as_ref().map(tracing::field::display)
    );
    let work = AssertUnwindSafe(service.call(request)).catch_unwind();
    async move {
        match work.await {
            Ok(Ok(Some(answer))) => Some(answer),
            // The service swallows what it does not know of the `$/` family; a request is still due an answer.
            Ok(Ok(None)) => id.map(|id| Response::from_error(id, Error::method_not_found())),
            Ok(Err(_)) => id.map(|id| Response::from_error(id, Error::invalid_request())),
            Err(_) => {
                error!("{method} failed: this is a defect of the server");
                id.map(|id| Response::from_error(id, failed()))
            }
        }
    }
    .instrument(span)
    .boxed()
}

fn failed() -> Error {
    Error {
        code: ErrorCode::InternalError,
        message: "a defect of the server: its log has the details".into(),
        data: None,
    }
}

/// An unbounded queue, because a client that is busy writing to us may not be reading; it holds one answer
/// for each request of the client at most.
fn send(answers: &UnboundedSender<Response>, answer: Option<Response>) {
    if let Some(answer) = answer {
        // Fails only when the writer has ended, which the loop sees by itself.
        let _ = answers.send(answer);
    }
}

/// Writes answers and our own messages until both have ended or the output has. Our own are taken one at a
/// time, so that a slow client makes their senders wait.
async fn write(
    mut output: Output,
    mut answers: UnboundedReceiver<Response>,
    requests: impl Stream<Item = Request>,
) {
    let mut requests = pin!(requests.fuse());
    loop {
        let written = tokio::select! {
            biased;
            answer = answers.recv() => match answer {
                Some(answer) => write_message(&mut output, &answer).await,
                None => return,
            },
            Some(request) = requests.next() => write_message(&mut output, &request).await,
        };
        if let Err(error) = written {
            debug!("cannot write to the client: {error}");
            return;
        }
    }
}

async fn write_message(
    output: &mut (impl AsyncWrite + Unpin),
    message: &impl Serialize,
) -> io::Result<()> {
    let body = serde_json::to_vec(message)?;
    let mut bytes = format!("Content-Length: {}\r\n\r\n", body.len()).into_bytes();
    bytes.extend_from_slice(&body);
    output.write_all(&bytes).await?;
    output.flush().await
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};
    use std::collections::HashMap;
    use std::sync::atomic::{AtomicI32, Ordering};
    use tower_lsp::jsonrpc::Result;
    use tower_lsp::lsp_types as lsp;

    /// Counts changes; a hover tells the count, after a pause, as an error code.
    #[derive(Default)]
    struct Counter(AtomicI32);

    #[tower_lsp::async_trait]
    impl LanguageServer for Counter {
        async fn initialize(&self, _: lsp::InitializeParams) -> Result<lsp::InitializeResult> {
            Ok(lsp::InitializeResult::default())
        }

        async fn shutdown(&self) -> Result<()> {
            Ok(())
        }

        async fn did_change(&self, _: lsp::DidChangeTextDocumentParams) {
            self.0.fetch_add(1, Ordering::Relaxed);
        }

        async fn hover(&self, _: lsp::HoverParams) -> Result<Option<lsp::Hover>> {
            let count = self.0.load(Ordering::Relaxed);
            tokio::time::sleep(Duration::from_millis(5)).await;
            Err(Error::new(ErrorCode::ServerError(count.into())))
        }

        async fn code_lens(&self, _: lsp::CodeLensParams) -> Result<Option<Vec<lsp::CodeLens>>> {
            std::future::pending().await
        }

        async fn document_symbol(
            &self,
            _: lsp::DocumentSymbolParams,
        ) -> Result<Option<lsp::DocumentSymbolResponse>> {
            panic!("as a defect would")
        }
    }

    fn request(id: i64, method: &str) -> Value {
        let document = json!({"uri": "file:///a", "version": 1});
        let params = json!({"textDocument": document, "position": {"line": 0, "character": 0}});
        json!({"jsonrpc": "2.0", "id": id, "method": method, "params": params})
    }

    fn notification(method: &str, params: Value) -> Value {
        json!({"jsonrpc": "2.0", "method": method, "params": params})
    }

    /// A session that ends after so many answers: how it ended, and its answers by id.
    fn session(messages: &[Value], expected: usize) -> (Ending, HashMap<i64, Value>) {
        let initialize = json!({"jsonrpc": "2.0", "id": 0, "method": "initialize", "params": {"capabilities": {}}});
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_time()
            .build()
            .expect("a runtime");
        runtime.block_on(async {
            let (mut client, input) = tokio::io::duplex(1 << 20);
            let (output, answers) = tokio::io::duplex(1 << 20);
            let (service, socket) = LspService::new(|_| Counter::default());
            let serve = tokio::spawn(serve(service, socket, Box::new(input), Box::new(output)));
            for message in [&initialize].into_iter().chain(messages) {
                write_message(&mut client, message)
                    .await
                    .expect("the server listens");
            }
            let mut frames = Frames::new(answers);
            let mut found = HashMap::new();
            while let Ok(Some(Frame::Body(body))) = frames.next().await {
                let answer: Value = serde_json::from_slice(&body).expect("JSON");
                found.insert(answer["id"].as_i64().expect("an id"), answer);
                if found.len() == expected {
                    let exit = notification("exit", Value::Null);
                    write_message(&mut client, &exit)
                        .await
                        .expect("the server listens");
                }
            }
            (serve.await.expect("the loop does not panic"), found)
        })
    }

    #[test]
    fn a_change_is_seen_by_what_follows_it_and_not_by_what_came_before() {
        let change =
            json!({"textDocument": {"uri": "file:///a", "version": 1}, "contentChanges": []});
        let messages: Vec<Value> = (1..=50)
            .flat_map(|id| {
                [
                    notification("textDocument/didChange", change.clone()),
                    request(id, "textDocument/hover"),
                ]
            })
            .collect();
        let (_, answers) = session(&messages, 51);
        for id in 1..=50 {
            assert_eq!(answers[&id]["error"]["code"], id);
        }
    }

    #[test]
    fn handlers_that_wait_hold_up_nothing() {
        let mut messages: Vec<Value> = (1..=20)
            .map(|id| request(id, "textDocument/codeLens"))
            .collect();
        messages.push(request(21, "textDocument/hover"));
        messages.push(notification("$/cancelRequest", json!({"id": 7})));
        // To initialize, to the hover and to the cancelled request.
        let (ending, answers) = session(&messages, 3);
        assert_eq!(answers[&21]["error"]["code"], 0);
        assert_eq!(answers[&7]["error"]["code"], -32800);
        assert_eq!(answers.len(), 3);
        assert_eq!(ending, Ending::Abrupt);
    }

    #[test]
    fn a_handler_that_panics_ends_nothing_else() {
        let shutdown = json!({"jsonrpc": "2.0", "id": 3, "method": "shutdown", "params": null});
        let messages = [
            request(1, "textDocument/documentSymbol"),
            request(2, "textDocument/hover"),
            shutdown,
        ];
        let (ending, answers) = session(&messages, 4);
        assert_eq!(answers[&1]["error"]["code"], -32603);
        assert_eq!(answers[&2]["error"]["code"], 0);
        assert_eq!(answers[&3]["result"], Value::Null);
        assert_eq!(ending, Ending::Clean);
    }
}
