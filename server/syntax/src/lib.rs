//! Text to a lossless tree, and a typed view over it. Knows no chemistry.

mod ast;
mod entry;
mod equipment;
mod fold;
mod keys;
mod lexer;
mod line;
mod number;
mod plan_text;
mod problem;
mod quantities;
mod reaction;
mod read;
mod resolve;
mod step;
mod tokens;
mod units;
mod words;

pub use ast::*;
pub use number::*;
pub use plan_text::*;
pub use quantities::{find_quantities, read_quantity};
pub use read::{plan_ranges, read_plan};
pub use tokens::{Token, TokenKind, tokens};
pub use units::units_for;
