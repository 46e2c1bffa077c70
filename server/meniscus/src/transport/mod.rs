//! Bytes in, messages through the service, bytes out.
//!
//! The framing and the loop are our own, between tower-lsp's service and the two streams, for three
//! reasons: input that is not a message must not end the session; the handlers must start in the order in
//! which their messages came, each one up to its first wait, so that a change is applied before anything
//! that was asked after it; and nothing that the client is slow to read may stop us from reading.

mod frames;
mod messages;
mod serve;
mod stdio;

pub(crate) use serve::{Ending, serve};
pub(crate) use stdio::{Input, Output, stdio};
