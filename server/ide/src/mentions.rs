//! Where a key of a plan stands: its declaration and every use that the reader resolved.

use crate::document::{Document, PlanUnit};
use std::collections::HashMap;
use std::ops::Range;
use syntax::{KeyId, Statement, TokenKind};

/// A place where a key stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mention {
    /// Where.
    pub range: Range<usize>,
    /// Whether the key is declared here.
    pub declaration: bool,
}

impl Document {
    /// Every place of the key at an offset, in the order of the text; none where no key stands.
    #[must_use]
    pub fn references(&self, offset: usize) -> Vec<Mention> {
        let found = self.plan_at(offset).and_then(|unit| {
            let (key, _) = key_at(&unit, offset)?;
            let all = mentions(&unit).into_iter();
            Some(
                all.filter(|(id, _)| *id == key)
                    .map(|(_, mention)| mention)
                    .collect(),
            )
        });
        found.unwrap_or_default()
    }
}

/// The key that stands at an offset.
pub(crate) fn key_at(unit: &PlanUnit<'_>, offset: usize) -> Option<(KeyId, Mention)> {
    let holds = |range: &Range<usize>| range.start <= offset && offset <= range.end;
    mentions(unit)
        .into_iter()
        .find(|(_, mention)| holds(&mention.range))
}

/// Every key where it stands, in the order of the text.
pub(crate) fn mentions(unit: &PlanUnit<'_>) -> Vec<(KeyId, Mention)> {
    let text = &unit.plan.text;
    let keys = text.keys.iter().zip(0..);
    let declared: HashMap<&str, KeyId> =
        keys.map(|(key, id)| (&*key.name.text, KeyId(id))).collect();
    let mut found = Vec::new();
    for (index, line) in text.lines.iter().enumerate() {
        for token in syntax::tokens(text, index) {
            let range =
                (line.start + token.span.start) as usize..(line.start + token.span.end) as usize;
            let written = text.text.get(range.clone()).unwrap_or_default();
            let key = match token.kind {
                TokenKind::Key(id) => Some(id),
                TokenKind::Declaration => declared.get(written).copied(),
                // The scale names its material without resolving it.
                TokenKind::Substance if matches!(line.statement, Statement::Scale(_)) => {
                    plan::find_key(text, written)
                }
                _ => None,
            };
            found.extend(key.map(|id| {
                let mention = Mention {
                    range: unit.shift(range),
                    declaration: token.kind == TokenKind::Declaration,
                };
                (id, mention)
            }));
        }
    }
    found
}
