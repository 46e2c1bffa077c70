//! JSON-RPC messages: what a body says, and what a broken one is answered.

use serde::Deserialize;
use serde::de::IgnoredAny;
use serde_json::Value;
use tower_lsp::jsonrpc::{Error, Id, Request, Response};

/// A message of the client.
pub(super) enum Message {
    /// A request or notification.
    Request(Request),
    /// Its answer to a request of ours.
    Response(Response),
}

#[derive(Deserialize)]
struct Parts {
    jsonrpc: Option<String>,
    method: Option<String>,
    params: Option<Value>,
    #[serde(default, deserialize_with = "present")]
    id: Option<Value>,
    #[serde(default, deserialize_with = "present")]
    result: Option<Value>,
    error: Option<Error>,
}

/// Tells `null` from nothing.
fn present<'de, D: serde::Deserializer<'de>>(value: D) -> Result<Option<Value>, D::Error> {
    Value::deserialize(value).map(Some)
}

/// Reads a body; the error is the answer that the protocol asks for.
pub(super) fn read(body: &[u8]) -> Result<Message, Response> {
    // An array would be taken for the fields of the message in their order.
    let object = body.trim_ascii_start().starts_with(b"{");
    let parts = if object {
        serde_json::from_slice(body).ok()
    } else {
        None
    };
    let parts: Parts = parts.ok_or_else(|| {
        let json = std::str::from_utf8(body)
            .is_ok_and(|text| serde_json::from_str::<IgnoredAny>(text).is_ok());
        Response::from_error(
            Id::Null,
            if json {
                Error::invalid_request()
            } else {
                Error::parse_error()
            },
        )
    })?;
    let id = match parts.id {
        None => None,
        Some(id) => Some(serde_json::from_value(id).map_err(|_| invalid(Id::Null))?),
    };
    if parts.jsonrpc.as_deref() != Some("2.0") {
        return Err(invalid(id.unwrap_or_default()));
    }
    match (parts.method, id) {
        (Some(method), id) => {
            // Clients write "no parameters" as nothing, as null and, for these two, as an empty object.
            let bare = matches!(method.as_str(), "shutdown" | "exit");
            let params = parts.params.filter(|params| !bare && !params.is_null());
            let mut request = Request::build(method);
            if let Some(params) = params {
                request = request.params(params);
            }
            if let Some(id) = id {
                request = request.id(id);
            }
            Ok(Message::Request(request.finish()))
        }
        (None, Some(id)) => match (parts.result, parts.error) {
            (_, Some(error)) => Ok(Message::Response(Response::from_error(id, error))),
            (Some(result), None) => Ok(Message::Response(Response::from_ok(id, result))),
            (None, None) => Err(invalid(id)),
        },
        (None, None) => Err(invalid(Id::Null)),
    }
}

fn invalid(id: Id) -> Response {
    Response::from_error(id, Error::invalid_request())
}
