//! What the step at the cursor may still say.

use crate::cursor;
use crate::document::Document;
use crate::forms::{Form, forms};
use syntax::Statement;

/// A verb and what may stand behind it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signature {
    /// All of it: `cool VESSEL, to TEMPERATURE, over TIME, under GAS`.
    pub label: String,
    /// The parts behind the verb, each with what it says.
    pub parts: Vec<(&'static str, &'static str)>,
    /// Which of the parts is being written, or is the first that is missing.
    pub active: usize,
}

impl Document {
    /// The parts of the step at an offset, once its verb is written.
    #[must_use]
    pub fn signature(&self, offset: usize) -> Option<Signature> {
        let unit = self.plan_at(offset)?;
        let (_, line, at) = cursor::line_at(&unit, offset)?;
        if line.comment.is_some_and(|comment| at > comment.start) {
            return None;
        }
        let Statement::Step(step) = &line.statement else {
            return None;
        };
        let clause = step
            .clauses
            .iter()
            .rfind(|clause| clause.verb_span.end < at)?;
        let parts = forms(clause.verb);
        if parts.is_empty() {
            return None;
        }
        let text = |from: u32, to: u32| {
            unit.plan
                .text
                .text
                .get((line.start + from) as usize..(line.start + to) as usize)
        };
        let verb = text(clause.verb_span.start, clause.verb_span.end)?;
        let written = text(clause.verb_span.end, at)?;
        let shown = parts.iter().map(|form| form.shown);
        Some(Signature {
            label: format!("{verb} {}", shown.collect::<Vec<_>>().join(", ")),
            parts: parts.iter().map(|form| (form.shown, form.about)).collect(),
            active: active(parts, written),
        })
    }
}

/// The part that is being written: the one whose first word was written last, since the last comma. Behind a comma,
/// the first part that is missing.
fn active(parts: &[&Form], written: &str) -> usize {
    let begins = |form: &Form, word: &str| {
        let first = |text: &str| text.split(' ').next().is_some_and(|first| first == word);
        first(form.example) || form.begins.iter().any(|begins| first(begins))
    };
    let place = |word: &str| parts.iter().position(|form| begins(form, word));
    let since_comma = written.rsplit_once(", ").map_or(written, |(_, tail)| tail);
    if let Some(found) = since_comma.split_whitespace().rev().find_map(place) {
        return found;
    }
    if !written.contains(", ") {
        return 0;
    }
    let missing = |form: &&Form| !written.split([' ', ',']).any(|word| begins(form, word));
    parts
        .iter()
        .skip(1)
        .position(missing)
        .map_or(0, |at| at + 1)
}
