//! Semantic tokens in the protocol's five numbers, and what changed since the last ones.

use crate::positions::{Encoding, Walk};
use ide::SemanticKind;
use ropey::Rope;
use tower_lsp::lsp_types::{
    Position, SemanticToken, SemanticTokenModifier, SemanticTokenType, SemanticTokens,
    SemanticTokensDelta, SemanticTokensEdit, SemanticTokensFullDeltaResult,
    SemanticTokensFullOptions, SemanticTokensLegend, SemanticTokensOptions,
};

/// The protocol's own types, which every theme has colours for.
const TYPES: [SemanticTokenType; 12] = [
    SemanticTokenType::COMMENT,
    SemanticTokenType::KEYWORD,
    SemanticTokenType::STRING,
    SemanticTokenType::FUNCTION,
    SemanticTokenType::MODIFIER,
    SemanticTokenType::VARIABLE,
    SemanticTokenType::PARAMETER,
    SemanticTokenType::TYPE,
    SemanticTokenType::NUMBER,
    SemanticTokenType::ENUM_MEMBER,
    SemanticTokenType::PROPERTY,
    SemanticTokenType::OPERATOR,
];

/// The place of a kind in the list above.
fn place(kind: SemanticKind) -> u32 {
    match kind {
        SemanticKind::Comment => 0,
        SemanticKind::LineWord => 1,
        SemanticKind::Title => 2,
        SemanticKind::Verb => 3,
        SemanticKind::Word => 4,
        SemanticKind::Substance => 5,
        SemanticKind::Equipment => 6,
        SemanticKind::Name => 7,
        SemanticKind::Number => 8,
        SemanticKind::Value => 9,
        SemanticKind::Property => 10,
        SemanticKind::Operator => 11,
    }
}

/// What the server offers.
pub(super) fn options() -> SemanticTokensOptions {
    SemanticTokensOptions {
        legend: SemanticTokensLegend {
            token_types: TYPES.to_vec(),
            token_modifiers: vec![SemanticTokenModifier::DECLARATION],
        },
        range: Some(true),
        full: Some(SemanticTokensFullOptions::Delta { delta: Some(true) }),
        ..SemanticTokensOptions::default()
    }
}

/// Every token by its distance from the one before it.
pub(super) fn encoded(
    tokens: &[ide::SemanticToken],
    text: &Rope,
    encoding: Encoding,
) -> Vec<SemanticToken> {
    let text = text.to_string();
    let mut walk = Walk::new(&text, encoding);
    let mut before = Position::default();
    let tokens = tokens.iter().map(|token| {
        let start = walk.to(token.range.start);
        let end = walk.to(token.range.end);
        let same_line = start.line == before.line;
        let since = if same_line { before.character } else { 0 };
        let encoded = SemanticToken {
            delta_line: start.line - before.line,
            delta_start: start.character - since,
            length: end.character - start.character,
            token_type: place(token.kind),
            token_modifiers_bitset: token.declaration.into(),
        };
        before = start;
        encoded
    });
    tokens.collect()
}

/// From the tokens that the client has to the new ones: one edit between what both begin and end with. All of them
/// where the client has others than we know of.
pub(super) fn delta(
    before: Option<&SemanticTokens>,
    client_has: &str,
    now: &SemanticTokens,
) -> SemanticTokensFullDeltaResult {
    let known = before.filter(|before| before.result_id.as_deref() == Some(client_has));
    let Some(before) = known else {
        return SemanticTokensFullDeltaResult::Tokens(now.clone());
    };
    let (old, new) = (before.data.as_slice(), now.data.as_slice());
    let same = |pairs: &mut dyn Iterator<Item = (&SemanticToken, &SemanticToken)>| {
        pairs.take_while(|(a, b)| a == b).count()
    };
    let head = same(&mut old.iter().zip(new));
    let (old, new) = (&old[head..], &new[head..]);
    let tail = same(&mut old.iter().rev().zip(new.iter().rev()));
    let (old, new) = (&old[..old.len() - tail], &new[..new.len() - tail]);
    let numbers = |tokens: usize| u32::try_from(tokens * 5).unwrap_or(u32::MAX);
    let edit = SemanticTokensEdit {
        start: numbers(head),
        delete_count: numbers(old.len()),
        data: Some(new.to_vec()),
    };
    let changed = !old.is_empty() || !new.is_empty();
    SemanticTokensFullDeltaResult::TokensDelta(SemanticTokensDelta {
        result_id: now.result_id.clone(),
        edits: changed.then_some(edit).into_iter().collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::positions::to_offset;
    use ide::Document;
    use proptest::prelude::*;

    fn tokens(text: &str, encoding: Encoding, id: &str) -> SemanticTokens {
        let document = Document::new(text);
        let found = document.semantic_tokens(0..text.len());
        SemanticTokens {
            result_id: Some(id.to_owned()),
            data: encoded(&found, document.rope(), encoding),
        }
    }

    /// The stretches that the numbers mean, as a client works them out.
    fn decoded(
        data: &[SemanticToken],
        text: &str,
        encoding: Encoding,
    ) -> Vec<std::ops::Range<usize>> {
        let rope = Rope::from_str(text);
        let mut at = Position::default();
        let stretch = |token: &SemanticToken| {
            if token.delta_line > 0 {
                at.character = 0;
            }
            at.line += token.delta_line;
            at.character += token.delta_start;
            let end = Position::new(at.line, at.character + token.length);
            to_offset(&rope, at, encoding)..to_offset(&rope, end, encoding)
        };
        data.iter().map(stretch).collect()
    }

    fn applied(before: &SemanticTokens, delta: SemanticTokensFullDeltaResult) -> Vec<u32> {
        let numbers = |data: &[SemanticToken]| -> Vec<u32> {
            let five = |t: &SemanticToken| {
                [
                    t.delta_line,
                    t.delta_start,
                    t.length,
                    t.token_type,
                    t.token_modifiers_bitset,
                ]
            };
            data.iter().flat_map(five).collect()
        };
        let mut data = numbers(&before.data);
        match delta {
            SemanticTokensFullDeltaResult::TokensDelta(delta) => {
                for edit in delta.edits {
                    let start = edit.start as usize;
                    data.splice(
                        start..start + edit.delete_count as usize,
                        numbers(&edit.data.unwrap_or_default()),
                    );
                }
                data
            }
            SemanticTokensFullDeltaResult::Tokens(tokens) => numbers(&tokens.data),
            SemanticTokensFullDeltaResult::PartialTokensDelta { .. } => Vec::new(),
        }
    }

    fn text() -> impl Strategy<Value = String> {
        let piece = prop::sample::select(vec![
            "plan 😀 ",
            "\nsteps\n",
            "\nmaterials\n",
            "  add ",
            "thf ",
            "20 µL",
            " # 😀 x",
            "\r\n",
            "\r",
            ": ",
            "°C ",
        ]);
        prop::collection::vec(piece, 0..16).prop_map(|pieces| pieces.concat())
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(100))]

        #[test]
        fn the_numbers_mean_the_tokens(text in text(), other in text()) {
            for encoding in [Encoding::Utf8, Encoding::Utf16, Encoding::Utf32] {
                let now = tokens(&text, encoding, "2");
                let found = Document::new(&text).semantic_tokens(0..text.len());
                let ranges: Vec<_> = found.into_iter().map(|token| token.range).collect();
                prop_assert_eq!(decoded(&now.data, &text, encoding), ranges);
                let before = tokens(&other, encoding, "1");
                let whole = applied(&now, delta(None, "1", &now));
                prop_assert_eq!(&applied(&before, delta(Some(&before), "1", &now)), &whole);
                prop_assert_eq!(&applied(&before, delta(Some(&before), "0", &now)), &whole);
            }
        }
    }

    #[test]
    fn a_small_change_is_a_small_delta() {
        let text = "plan a\nsteps\n  stir for 5 min\n  stir for 2 h\n";
        let before = tokens(text, Encoding::Utf16, "1");
        let now = tokens(&text.replace("5 min", "15 min"), Encoding::Utf16, "2");
        let SemanticTokensFullDeltaResult::TokensDelta(delta) = delta(Some(&before), "1", &now)
        else {
            unreachable!("the client has what it was sent");
        };
        // The number is longer, and its unit stands further from it.
        assert_eq!(delta.edits.len(), 1);
        assert_eq!(delta.edits[0].data.as_ref().map(Vec::len), Some(2));
    }
}
