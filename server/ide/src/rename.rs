//! Another name for a key, wherever it stands.

use crate::document::{Document, PlanUnit, TextEdit};
use crate::mentions::{Mention, key_at, mentions};
use std::ops::Range;
use syntax::{KeyId, PlanText, Statement, TokenKind};

/// The edits that give a key another name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Renaming {
    /// Where the key stands as one.
    pub edits: Vec<TextEdit>,
    /// Where its word stands in the title, in comments and in free text: `until no ketone by TLC`.
    pub optional: Vec<TextEdit>,
}

impl Document {
    /// The key at an offset that could be renamed.
    #[must_use]
    pub fn renameable(&self, offset: usize) -> Option<Range<usize>> {
        let unit = self.plan_at(offset)?;
        Some(key_at(&unit, offset)?.1.range)
    }

    /// Renames the key at an offset, in its plan.
    ///
    /// # Errors
    /// Why it cannot have the name, in words for the user: it is no word for a key, or something in the plan would
    /// then be read otherwise.
    pub fn rename(&self, offset: usize, name: &str) -> Result<Renaming, String> {
        let unit = self.plan_at(offset);
        let found = unit.and_then(|unit| Some((unit, key_at(&unit, offset)?.0)));
        let (unit, key) = found.ok_or("There is no key here to rename.")?;
        may_be_key(name)?;
        let renaming = unit.renaming(key, name);
        let first_line = self.rope().byte_to_line(unit.start);
        reads_the_same(&unit, &renaming.edits, name)
            .map_err(|(line, why)| format!("Line {} {why}", first_line + line + 1))?;
        Ok(renaming)
    }
}

/// Whether a word can be a key of any plan.
fn may_be_key(name: &str) -> Result<(), String> {
    let odd = |c: char| c.is_whitespace() || c.is_control() || ",:;#>()".contains(c);
    if name.is_empty() || name.contains(odd) {
        return Err(format!(
            "A key is one word, without blanks, commas, colons or brackets: `{name}` is none."
        ));
    }
    // What the reader says of it, in a plan with nothing else.
    let alone = syntax::read_plan(&format!("materials\n{name}: water"));
    if let Some(line) = alone.lines.get(1) {
        if !matches!(&line.statement, Statement::Entry(entry) if *entry.key.text == *name) {
            return Err(format!(
                "`{name}` begins a line of its own and cannot be a key: choose another word."
            ));
        }
        if let Some(problem) = line.problems.first() {
            return Err(problem.message.clone());
        }
    }
    if syntax::read_quantity(&format!("1 {name}")).is_some() {
        return Err(format!(
            "`{name}` is a unit: choose another word for a key."
        ));
    }
    Ok(())
}

impl PlanUnit<'_> {
    fn renaming(&self, key: KeyId, name: &str) -> Renaming {
        let text = &self.plan.text;
        let declared = text.key(key).map_or("", |key| &key.name.text);
        let edit = |range: Range<usize>| TextEdit {
            range,
            new_text: name.to_owned(),
        };
        let of_key = mentions(self)
            .into_iter()
            .filter(|(id, mention)| *id == key && !self.is_description(mention, declared));
        Renaming {
            edits: of_key.map(|(_, mention)| edit(mention.range)).collect(),
            optional: self.prose(declared).into_iter().map(edit).collect(),
        }
    }

    /// `via syringe pump` means `pump: syringe pump` by its description, which a new key leaves as it is.
    fn is_description(&self, mention: &Mention, declared: &str) -> bool {
        let range = mention.range.start - self.start..mention.range.end - self.start;
        let written = self.plan.text.text.get(range).unwrap_or_default();
        let stem = |word: &str| word.to_lowercase().trim_end_matches('s').to_owned();
        stem(written) != stem(declared)
    }

    /// Where a word stands in free text.
    fn prose(&self, word: &str) -> Vec<Range<usize>> {
        let text = &self.plan.text;
        let mut found = Vec::new();
        for (index, line) in text.lines.iter().enumerate() {
            let said = matches!(
                line.statement,
                Statement::Step(_) | Statement::Remark(..) | Statement::Plan(_)
            );
            for token in syntax::tokens(text, index) {
                let free = match token.kind {
                    TokenKind::Comment => true,
                    TokenKind::Text | TokenKind::Title => said,
                    _ => false,
                };
                let start = (line.start + token.span.start) as usize;
                let end = (line.start + token.span.end) as usize;
                let written = text.text.get(start..end).unwrap_or_default();
                if free && !word.is_empty() {
                    let places = written.match_indices(word);
                    let whole = places.filter(|(at, _)| is_whole_word(written, *at, word.len()));
                    found.extend(
                        whole.map(|(at, _)| self.shift(start + at..start + at + word.len())),
                    );
                }
            }
        }
        found
    }
}

fn is_whole_word(text: &str, at: usize, len: usize) -> bool {
    let joins = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_');
    let (before, rest) = text.split_at(at);
    !before.ends_with(joins)
        && !rest
            .get(len..)
            .is_some_and(|after| after.starts_with(joins))
}

/// Whether every word of the plan still means what it means now; else the first line where it does not, and why.
fn reads_the_same(
    unit: &PlanUnit<'_>,
    edits: &[TextEdit],
    name: &str,
) -> Result<(), (usize, String)> {
    let before = &unit.plan.text;
    let mut text = before.text.to_string();
    for edit in edits.iter().rev() {
        let range = edit.range.start - unit.start..edit.range.end - unit.start;
        text.replace_range(range, &edit.new_text);
    }
    let after = syntax::read_plan(&text);
    let lines = || before.lines.iter().zip(&after.lines).enumerate();
    // A clash is reported where it is declared, and that says more than what follows from it.
    for (index, (old, new)) in lines() {
        let had = |code| old.problems.iter().any(|problem| problem.code == code);
        if let Some(problem) = new.problems.iter().find(|problem| !had(problem.code)) {
            return Err((index, format!("would be wrong: {}", problem.message)));
        }
    }
    if let Some((index, _)) =
        lines().find(|(index, _)| meanings(before, *index) != meanings(&after, *index))
    {
        let why =
            format!("would be read otherwise with `{name}` as this key: choose another word.");
        return Err((index, why));
    }
    Ok(())
}

/// What the words of a line are, one after the other.
fn meanings(plan: &PlanText, line: usize) -> Vec<TokenKind> {
    let tokens = syntax::tokens(plan, line).into_iter();
    tokens
        .map(|token| token.kind)
        .filter(|kind| *kind != TokenKind::Space)
        .collect()
}
