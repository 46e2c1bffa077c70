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
use tracing::{debug, error};

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
                send(&answers, Some(Response::from_error(Id::Null, Error::parse_error())));
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
                if answer.error().is_some_and(|error| error.code == ErrorCode::ParseError) {
                    frames.put_back(&body);
                }
                send(&answers, Some(answer));
            }
        }
    }

    drop(answers);
    if tokio::time::timeout(LAST_WORDS, writer).await.is_err() {
        debug!("the client does not read its last answers");
    }
    if shut_down { Ending::Clean } else { Ending::Abrupt }
}

/// The work that a request asks for, which always ends in the answer that it is due.
async fn handle<S: LanguageServer>(
    service: &mut LspService<S>,
    request: Request,
) -> BoxFuture<'static, Option<Response>> {
    let id = request.id().cloned();
    let ready = poll!(std::future::poll_fn(|context| service.poll_ready(context)));
    if !matches!(ready, Poll::Ready(Ok(()))) {
        return std::future::ready(id.map(|id| Response::from_error(id, Error::invalid_request()))).boxed();
    }
    let method = request.method().to_owned();
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
async fn write(mut output: Output, mut answers: UnboundedReceiver<Response>, requests: impl Stream<Item = Request>) {
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

async fn write_message(output: &mut (impl AsyncWrite + Unpin), message: &impl Serialize) -> io::Result<()> {
    let body = serde_json::to_vec(message)?;
    let mut bytes = format!("Content-Length: {}\r\n\r\n", body.len()).into_bytes();
    bytes.extend_from_slice(&body);
    output.write_all(&bytes).await?;
    output.flush().await
}
