//! Text to a lossless tree, and a typed view over it. Knows no chemistry.

mod ast;
mod clause;
mod declare;
mod entry;
mod equipment;
mod fold;
mod identity;
mod keys;
mod lexer;
mod line;
mod name;
mod number;
mod numbers;
mod odd_numbers;
mod plan_text;
mod portion;
mod problem;
mod quantities;
mod reaction;
mod read;
mod refer;
mod resolve;
mod statement;
mod step;
mod strength;
mod tokens;
mod units;
mod value;
mod words;

pub use ast::*;
pub use number::*;
pub use plan_text::*;
pub use quantities::{find_quantities, read_quantity};
pub use read::{plan_ranges, read_plan};
pub use tokens::{Token, TokenKind, tokens};
pub use units::units_for;
