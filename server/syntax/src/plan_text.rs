//! A plan's text with its lines read.

use crate::ast::{Block, KeyId, Span, Statement, Text};
use crate::keys::Index;
use std::sync::Arc;

/// One plan of a file, read. Offsets are bytes from the plan's start.
#[derive(Clone, Debug)]
pub struct PlanText {
    /// The text of the plan, to the byte.
    pub text: Arc<str>,
    /// Its lines; their stretches tile `text`.
    pub lines: Vec<Line>,
    /// Every key that it declares, in the order of the lines.
    pub keys: Vec<Key>,
    pub(crate) index: Arc<Index>,
    /// How many lines from the first on were taken over from the text that it was read again from; none where it was
    /// read as a whole.
    pub kept: usize,
}

impl PartialEq for PlanText {
    fn eq(&self, other: &Self) -> bool {
        // The index follows from the keys.
        (&self.text, &self.lines, &self.keys) == (&other.text, &other.lines, &other.keys)
    }
}

/// One line.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Offset of its first byte in the plan.
    pub start: u32,
    /// Bytes without the line end.
    pub len: u32,
    /// Bytes of its line end: 0, 1 or 2.
    pub eol: u32,
    /// The block that it stands in.
    pub block: Block,
    /// What it says.
    pub statement: Statement,
    /// Its comment, from the `#`.
    pub comment: Option<Span>,
    /// What was wrong with it.
    pub problems: Vec<Problem>,
}

/// A key of the plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Key {
    /// As declared.
    pub name: Text,
    /// The line that declares it.
    pub line: u32,
    /// What it stands for.
    pub kind: KeyKind,
}

/// What a key stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum KeyKind {
    /// A line of `materials`.
    Material,
    /// A line of `products`.
    Product,
    /// A line of `products` with the role by-product.
    ByProduct,
    /// Equipment that a reaction can stand in.
    Vessel,
    /// Equipment that holds things.
    Holder,
    /// Other equipment.
    Tool,
    /// A name that `keep … as NAME` gave.
    Kept,
}

/// Something wrong with a line as text.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// Which, as in `decimal-comma`.
    pub code: &'static str,
    /// How grave it is.
    pub severity: Severity,
    /// Where.
    pub span: Span,
    /// What is wrong and what to do, in one plain sentence.
    pub message: String,
    /// Ways to mend it.
    pub fixes: Vec<Mend>,
}

/// How grave a problem is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Severity {
    /// Something has no value, or no reading.
    Error,
    /// It was read, but may not be what was meant.
    Warning,
    /// Good to know.
    Information,
    /// A matter of style, or a guess.
    Hint,
}

/// A way to mend a problem.
#[derive(Clone, Debug, PartialEq)]
pub struct Mend {
    /// What it does: `Write 2.5 mL`.
    pub title: String,
    /// The stretches of this line to replace, in order, and by what.
    pub edits: Vec<(Span, String)>,
}

impl Line {
    /// Whether a part of it has no value or no reading, so that nothing is to be concluded from the rest.
    #[must_use]
    pub fn has_error(&self) -> bool {
        let mut problems = self.problems.iter();
        problems.any(|problem| problem.severity == Severity::Error)
    }
}

impl PlanText {
    /// The key with this id.
    #[must_use]
    pub fn key(&self, id: KeyId) -> Option<&Key> {
        self.keys.get(id.0 as usize)
    }
}
