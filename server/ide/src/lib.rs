//! What an editor asks for, in an editor's terms: offsets, edits, labels, markdown.
//!
//! Offsets are bytes of the whole document. No protocol, no JSON and no files are known here.

mod actions;
mod bottle;
mod completion;
mod cursor;
mod definition;
mod document;
mod folding;
mod formatting;
mod forms;
mod hints;
mod hover;
mod lenses;
mod links;
mod mentions;
mod rename;
mod rescaling;
mod runs;
mod selection;
mod semantics;
mod signature;
mod state;
mod symbols;

pub use actions::{Action, ActionKind};
pub use bottle::file_findings;
pub use checks::Severity;
pub use completion::{Completion, CompletionKind, Completions};
pub use definition::{Definition, DefinitionFile};
pub use document::{Document, Finding, Fix, PlanUnit, TextEdit};
pub use folding::Fold;
pub use hints::Hint;
pub use hover::Hover;
pub use lenses::Lens;
pub use links::Link;
pub use mentions::Mention;
pub use rename::Renaming;
pub use rescaling::{EditGroup, Group, NewlyWrong, Rescaled, TargetKind, TargetText, factor_text};
pub use semantics::{SemanticKind, SemanticToken};
pub use signature::Signature;
pub use symbols::{Symbol, SymbolKind};
