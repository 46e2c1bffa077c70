//! Links out of a text: articles by their digital object identifier, in comments and free text.

use crate::document::Document;
use std::fmt::Write as _;
use std::ops::Range;
use syntax::TokenKind;

/// A stretch of the text that leads somewhere.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Link {
    /// Where.
    pub range: Range<usize>,
    /// The address.
    pub target: String,
}

impl Document {
    /// The links, in the order of the text. Addresses that are written out are the editor's own to find.
    #[must_use]
    pub fn links(&self) -> Vec<Link> {
        let mut links = Vec::new();
        for unit in self.plans() {
            let text = &unit.plan.text;
            for (index, line) in text.lines.iter().enumerate() {
                let start = line.start as usize;
                let written = text.text.get(start..start + line.len as usize);
                // Most lines have none, and say so faster than their tokens do.
                if !written.is_some_and(|written| written.contains("10.")) {
                    continue;
                }
                for token in syntax::tokens(text, index) {
                    let range = start + token.span.start as usize..start + token.span.end as usize;
                    let prose = matches!(
                        token.kind,
                        TokenKind::Comment | TokenKind::Text | TokenKind::Title
                    );
                    let written = text.text.get(range.clone()).filter(|_| prose);
                    let found = written.into_iter().flat_map(identifiers);
                    links.extend(found.map(|(at, identifier)| Link {
                        range: unit.shift(range.start + at..range.start + at + identifier.len()),
                        target: format!("https://doi.org/{}", encoded(identifier)),
                    }));
                }
            }
        }
        links
    }
}

/// The identifiers in a text, with their places: `10.`, four to nine digits, a slash, and what follows up to a blank
/// (DOI Handbook, section 2.2; the digits by common practice).
fn identifiers(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.match_indices("10.").filter_map(|(at, _)| {
        let (before, rest) = text.split_at(at);
        let whole = before.is_empty()
            || before.ends_with(|c: char| c.is_whitespace() || ":([<".contains(c));
        let (registrant, suffix) = rest.get(3..)?.split_once('/')?;
        let digits = registrant.bytes().all(|byte| byte.is_ascii_digit());
        let known = whole && digits && (4..=9).contains(&registrant.len());
        let suffix = suffix
            .split(char::is_whitespace)
            .next()
            .map(closed)
            .filter(|suffix| known && !suffix.is_empty())?;
        Some((at, rest.get(..3 + registrant.len() + 1 + suffix.len())?))
    })
}

/// Without the punctuation of the sentence around it: a bracket at the end belongs to it only if it opened one.
fn closed(mut suffix: &str) -> &str {
    loop {
        let count = |c| suffix.matches(c).count();
        let shorter = match suffix.chars().next_back() {
            Some('.' | ',' | ';' | ':' | '"' | '\'') => suffix.len() - 1,
            Some(')') if count(')') > count('(') => suffix.len() - 1,
            Some(']') if count(']') > count('[') => suffix.len() - 1,
            Some('>') if count('>') > count('<') => suffix.len() - 1,
            _ => return suffix,
        };
        suffix = suffix.get(..shorter).unwrap_or_default();
    }
}

/// As an address has it (RFC 3986): what is neither a letter, a digit nor one of a few signs, as its bytes.
fn encoded(identifier: &str) -> String {
    let mut address = String::with_capacity(identifier.len());
    for byte in identifier.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/:;()".contains(&byte) {
            address.push(char::from(byte));
        } else {
            // Writing to a string does not fail.
            let _ = write!(address, "%{byte:02X}");
        }
    }
    address
}
