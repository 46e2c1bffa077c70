//! White space put in order: of a document, of some lines of it, of the line that was just left.

use crate::document::{Document, TextEdit};
use std::ops::Range;

impl Document {
    /// What to change so that the white space of the whole is as `syntax::format` wants it.
    #[must_use]
    pub fn formatting(&self) -> Vec<TextEdit> {
        self.formatting_within(0..self.rope().len_bytes())
    }

    /// The same for the lines that a stretch touches, as if the whole were formatted. A stretch that ends where a
    /// line begins does not touch that line.
    #[must_use]
    pub fn range_formatting(&self, range: Range<usize>) -> Vec<TextEdit> {
        let rope = self.rope();
        let line_of = |offset: usize| rope.byte_to_line(offset.min(rope.len_bytes()));
        let first = line_of(range.start);
        let mut after = line_of(range.end);
        if after == first || rope.line_to_byte(after) < range.end {
            after += 1;
        }
        let end = rope.line_to_byte(after.min(rope.len_lines()));
        self.formatting_within(rope.line_to_byte(first)..end)
    }

    /// The same for the line before that of an offset, which was left by a new line. An empty line stays: somebody
    /// may be about to write there.
    #[must_use]
    pub fn newline_formatting(&self, offset: usize) -> Vec<TextEdit> {
        let rope = self.rope();
        let line = rope.byte_to_line(offset.min(rope.len_bytes()));
        let Some(left) = line.checked_sub(1) else {
            return Vec::new();
        };
        let range = rope.line_to_byte(left)..rope.line_to_byte(line);
        let mut edits = self.formatting_within(range.clone());
        // Only a superfluous empty line is replaced to its end.
        edits.retain(|edit| edit.range.end < range.end);
        edits
    }

    fn formatting_within(&self, range: Range<usize>) -> Vec<TextEdit> {
        let touched = self.plans().filter(|unit| {
            unit.start <= range.end && unit.start + unit.plan.text.text.len() >= range.start
        });
        let edits = touched.flat_map(|unit| unit.edits(&syntax::format(&unit.plan.text)));
        edits
            .filter(|edit| range.start <= edit.range.start && edit.range.end <= range.end)
            .collect()
    }
}
