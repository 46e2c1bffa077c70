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

/// A longer identifier is none.
const LONGEST: usize = 200;

/// The identifiers in a text, with their places: `10.`, a registrant of four to nine digits, a slash, and what follows
/// up to a blank (ISO 26324; how many digits, and that blanks end it, is common practice).
fn identifiers(text: &str) -> Vec<(usize, &str)> {
    let mut found = Vec::new();
    let mut done = 0;
    for (at, _) in text.match_indices("10.") {
        let (before, rest) = text.split_at(at);
        let begins = before.is_empty()
            || before.ends_with(|c: char| c.is_whitespace() || ":([<".contains(c));
        if at >= done
            && begins
            && let Some(identifier) = identifier(rest)
        {
            found.push((at, identifier));
            done = at + identifier.len();
        }
    }
    found
}

/// The identifier at the start of a text.
fn identifier(text: &str) -> Option<&str> {
    let registrant = text
        .get(3..)?
        .bytes()
        .take(10)
        .take_while(u8::is_ascii_digit)
        .count();
    let slash = 3 + registrant;
    if !(4..=9).contains(&registrant) || text.as_bytes().get(slash) != Some(&b'/') {
        return None;
    }
    let end = text
        .char_indices()
        .take(LONGEST + 1)
        .find(|(_, c)| c.is_whitespace());
    let end = match end {
        Some((end, _)) => end,
        None if text.len() <= LONGEST => text.len(),
        None => return None,
    };
    let identifier = closed(text.get(..end)?);
    (identifier.len() > slash + 1).then_some(identifier)
}

/// Without the punctuation of the sentence around it: a bracket at the end belongs to it only if it opened one.
fn closed(mut identifier: &str) -> &str {
    loop {
        let count = |c| identifier.matches(c).count();
        let cut = match identifier.chars().next_back() {
            Some('.' | ',' | ';' | ':' | '"' | '\'') => true,
            Some(')') => count(')') > count('('),
            Some(']') => count(']') > count('['),
            Some('>') => count('>') > count('<'),
            _ => false,
        };
        match identifier
            .len()
            .checked_sub(1)
            .and_then(|end| identifier.get(..end))
        {
            Some(shorter) if cut => identifier = shorter,
            _ => return identifier,
        }
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
