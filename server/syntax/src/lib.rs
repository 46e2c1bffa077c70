//! Text to a lossless tree, and a typed view over it. Knows no chemistry.

mod ast;
mod number;
mod plan_text;

pub use ast::*;
pub use number::*;
pub use plan_text::*;
