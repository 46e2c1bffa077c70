//! What every word of a text is, for colouring it.

use crate::document::{Document, PlanUnit};
use std::ops::Range;
use syntax::{KeyId, KeyKind, Line, Statement, TokenKind};

/// A word of the text, or a few; never more than one line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SemanticToken {
    /// Where.
    pub range: Range<usize>,
    /// What it is.
    pub kind: SemanticKind,
    /// Whether a key is declared here.
    pub declaration: bool,
}

/// What a word is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SemanticKind {
    /// A comment.
    Comment,
    /// The word that a line begins with: `materials`, `scale`, `note`.
    LineWord,
    /// The title of a plan.
    Title,
    /// A verb.
    Verb,
    /// A preposition, an article, a label.
    Word,
    /// A key of materials or products, or what a step makes: `organics`.
    Substance,
    /// A key of equipment.
    Equipment,
    /// A substance by name, or a formula.
    Name,
    /// A number.
    Number,
    /// A unit, or a word with a value: `rt`, `dropwise`.
    Value,
    /// A role, nature, condition or form.
    Property,
    /// The arrow and plus signs of an equation.
    Operator,
}

impl Document {
    /// The tokens of the lines that a stretch touches, in order. Free text, commas and what cannot be read have none.
    #[must_use]
    pub fn semantic_tokens(&self, range: Range<usize>) -> Vec<SemanticToken> {
        let mut found = Vec::new();
        for unit in self.plans() {
            let text = &unit.plan.text;
            for (index, line) in text.lines.iter().enumerate() {
                let start = unit.start + line.start as usize;
                if start > range.end {
                    return found;
                }
                if start + line.len as usize >= range.start {
                    found.extend(of_line(&unit, index, line));
                }
            }
        }
        found
    }
}

fn of_line<'a>(
    unit: &'a PlanUnit<'_>,
    index: usize,
    line: &'a Line,
) -> impl Iterator<Item = SemanticToken> + use<'a> {
    let text = &unit.plan.text.text;
    let tokens = syntax::tokens(&unit.plan.text, index).into_iter();
    tokens.filter_map(move |token| {
        let at = (line.start + token.span.start) as usize;
        let written = text.get(at..(line.start + token.span.end) as usize)?;
        // The blank between a number and its unit, too, is part of a quantity.
        let lead = written.len() - written.trim_start().len();
        let begin = unit.start + at + lead;
        let range = begin..begin + written.trim().len();
        (!range.is_empty()).then_some(())?;
        Some(SemanticToken {
            range,
            kind: kind(unit, line, token.kind)?,
            declaration: token.kind == TokenKind::Declaration,
        })
    })
}

fn kind(unit: &PlanUnit<'_>, line: &Line, token: TokenKind) -> Option<SemanticKind> {
    Some(match token {
        TokenKind::Comment => SemanticKind::Comment,
        TokenKind::LineWord => SemanticKind::LineWord,
        TokenKind::Title => SemanticKind::Title,
        TokenKind::Verb => SemanticKind::Verb,
        TokenKind::Word => SemanticKind::Word,
        TokenKind::Declaration => match line.statement {
            Statement::Equipment(_) => SemanticKind::Equipment,
            _ => SemanticKind::Substance,
        },
        TokenKind::Key(id) => of_key(unit, id),
        // The scale names its material without resolving it.
        TokenKind::Substance if matches!(line.statement, Statement::Scale(_)) => {
            SemanticKind::Substance
        }
        TokenKind::Standing => SemanticKind::Substance,
        TokenKind::Substance => SemanticKind::Name,
        TokenKind::Number => SemanticKind::Number,
        TokenKind::Unit | TokenKind::Value => SemanticKind::Value,
        TokenKind::Property => SemanticKind::Property,
        TokenKind::Punctuation if matches!(line.statement, Statement::Reaction(_)) => {
            SemanticKind::Operator
        }
        TokenKind::Space | TokenKind::Text | TokenKind::Punctuation | TokenKind::Unread => {
            return None;
        }
    })
}

fn of_key(unit: &PlanUnit<'_>, id: KeyId) -> SemanticKind {
    match unit.plan.text.key(id).map(|key| key.kind) {
        Some(KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool) => SemanticKind::Equipment,
        _ => SemanticKind::Substance,
    }
}
