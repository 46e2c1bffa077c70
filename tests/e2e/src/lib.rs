//! A client of the server for tests: plain threads and JSON, and nothing shared with the server's own code,
//! so that a mistake in one does not hide in the other.
#![allow(
    clippy::expect_used,
    clippy::panic,
    reason = "a test that cannot go on says so by panicking"
)]

mod binary;
mod client;
mod random;
mod text;

pub use binary::meniscus;
pub use client::{Client, Streams, frame};
pub use random::Random;
pub use text::{Encoding, Model, position};
