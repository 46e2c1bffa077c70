//! A line with its look-alike characters folded, so that the readers see one minus, one prime, one space.

use crate::ast::{Span, Text};
use std::ops::Range;

/// A line, and how the readers see it where that is another text.
///
/// Every character folds to one character, so only the byte offsets differ.
pub(crate) struct Folded<'a> {
    written: &'a str,
    other: Option<Box<Other>>,
}

struct Other {
    text: String,
    /// For each folded byte (and the end) the byte of the line it came from.
    map: Vec<u32>,
    invisible: Option<Span>,
}

/// A line as the readers see it, and the way back to what was written.
pub(crate) struct Source<'a> {
    /// The folded text: every kind of white space is a plain space.
    pub(crate) text: &'a str,
    /// For each folded byte (and the end) the byte of the line it came from; empty where both agree.
    map: &'a [u32],
    /// The first character that cannot be seen, past the start of the line.
    pub(crate) invisible: Option<Span>,
}

impl<'a> Folded<'a> {
    pub(crate) fn new(written: &'a str) -> Self {
        let other = (!is_as_folded(written)).then(|| Box::new(Other::new(written)));
        Folded { written, other }
    }

    pub(crate) fn source(&self) -> Source<'_> {
        match &self.other {
            None => Source {
                text: self.written,
                map: &[],
                invisible: None,
            },
            Some(other) => Source {
                text: &other.text,
                map: &other.map,
                invisible: other.invisible,
            },
        }
    }
}

/// Whether every character folds to itself.
fn is_as_folded(text: &str) -> bool {
    let is_plain = |byte: u8| matches!(byte, b' '..=b'~');
    // Without a way out of the loop, many bytes are looked at in one step.
    if text.bytes().fold(true, |all, byte| all & is_plain(byte)) {
        return true;
    }
    let mut rest = text;
    while let Some(at) = rest.bytes().position(|byte| !is_plain(byte)) {
        let mut chars = rest.get(at..).unwrap_or_default().chars();
        if chars.next().is_some_and(|c| fold(c) != c) {
            return false;
        }
        rest = chars.as_str();
    }
    true
}

impl Other {
    fn new(written: &str) -> Self {
        let mut text = String::with_capacity(written.len());
        let mut map = Vec::with_capacity(written.len() + 1);
        let mut invisible = None;
        for (at, c) in written.char_indices() {
            if is_invisible(c) && at > 0 && invisible.is_none() {
                invisible = Some(Span {
                    start: offset(at),
                    end: offset(at + c.len_utf8()),
                });
            }
            let start = text.len();
            text.push(fold(c));
            map.resize(map.len() + text.len() - start, offset(at));
        }
        map.push(offset(written.len()));
        Other {
            text,
            map,
            invisible,
        }
    }
}

impl<'a> Source<'a> {
    /// Where folded bytes were written.
    pub(crate) fn span(&self, range: Range<usize>) -> Span {
        Span {
            start: self.written(range.start),
            end: self.written(range.end),
        }
    }

    fn written(&self, at: usize) -> u32 {
        if self.map.is_empty() {
            offset(at)
        } else {
            self.map.get(at).copied().unwrap_or_default()
        }
    }

    /// The folded place of a byte of the line.
    pub(crate) fn folded(&self, written: u32) -> usize {
        if self.map.is_empty() {
            written as usize
        } else {
            self.map.partition_point(|&at| at < written)
        }
    }

    /// The folded words of a stretch.
    #[inline]
    pub(crate) fn str(&self, range: Range<usize>) -> &'a str {
        self.text.get(range).unwrap_or_default()
    }

    pub(crate) fn words(&self, range: Range<usize>) -> Text {
        Text {
            text: self.str(range.clone()).into(),
            span: self.span(range),
        }
    }

    /// The byte at a place, or a space past the end: white space bounds every form.
    pub(crate) fn byte(&self, at: usize) -> u8 {
        self.text.as_bytes().get(at).copied().unwrap_or(b' ')
    }

    pub(crate) fn is_space(&self, at: usize) -> bool {
        self.byte(at) == b' '
    }

    /// The first place from `at` that is not white space, at most `end`.
    pub(crate) fn skip_space(&self, mut at: usize, end: usize) -> usize {
        while at < end && self.byte(at) == b' ' {
            at += 1;
        }
        at
    }

    /// The stretch without white space at its ends.
    pub(crate) fn trim(&self, range: Range<usize>) -> Range<usize> {
        let start = self.skip_space(range.start, range.end);
        let mut end = range.end;
        while end > start && self.byte(end - 1) == b' ' {
            end -= 1;
        }
        start..end
    }

    /// The end of the word that begins at `at`.
    pub(crate) fn word_end(&self, at: usize, end: usize) -> usize {
        self.text
            .as_bytes()
            .get(at..end)
            .and_then(|rest| rest.iter().position(|&b| b == b' '))
            .map_or(end, |n| at + n)
    }

    /// The first place of a byte in a stretch.
    pub(crate) fn find(&self, range: Range<usize>, byte: u8) -> Option<usize> {
        let start = range.start;
        let stretch = self.text.as_bytes().get(range)?;
        memchr::memchr(byte, stretch).map(|at| start + at)
    }

    /// The first comma of a stretch that separates, or the end of the stretch.
    pub(crate) fn separator(&self, range: Range<usize>) -> usize {
        let mut at = range.start;
        while let Some(comma) = self.find(at..range.end, b',') {
            if self.is_separator(comma, range.end) {
                return comma;
            }
            at = comma + 1;
        }
        range.end
    }

    /// Whether a comma separates here: only before white space or at the end, as in `a, b` but not `1,4-dioxane`.
    pub(crate) fn is_separator(&self, at: usize, end: usize) -> bool {
        self.byte(at) == b',' && (at + 1 >= end || self.byte(at + 1) == b' ')
    }

    /// Whether a form may end here.
    pub(crate) fn is_bound(&self, at: usize, end: usize) -> bool {
        if at >= end {
            return true;
        }
        let last = at + 1 >= end || self.byte(at + 1) == b' ';
        match self.byte(at) {
            b' ' | b')' => true,
            b',' | b'.' | b';' => last,
            _ => false,
        }
    }
}

/// A byte offset; a plan beyond 4 GiB is cut off there rather than wrapped.
pub(crate) fn offset(at: usize) -> u32 {
    u32::try_from(at).unwrap_or(u32::MAX)
}

/// Characters without width, which stand in for white space.
fn is_invisible(c: char) -> bool {
    matches!(c, '\u{feff}' | '\u{200b}' | '\u{2060}')
}

/// The character that the readers see.
pub(crate) fn fold(c: char) -> char {
    match c {
        ' '..='~' => c,
        '\u{2212}' | '\u{2013}' | '\u{2010}' | '\u{2011}' | '\u{fe63}' => '-',
        '\u{2019}' | '\u{2018}' | '\u{2032}' | '\u{2b9}' => '\'',
        '\u{d7}' => 'x',
        '\u{3bc}' => '\u{b5}',
        '\u{212b}' => '\u{c5}',
        '\u{ba}' | '\u{2da}' => '\u{b0}',
        '\u{27f6}' => '\u{2192}',
        '\u{22c5}' | '\u{2219}' | '\u{2022}' | '\u{30fb}' => '\u{b7}',
        '\u{ff01}'..='\u{ff5e}' => char::from_u32(c as u32 - 0xfee0).unwrap_or(c),
        _ if c.is_whitespace() || is_invisible(c) => ' ',
        _ => c,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_lead_back_to_what_was_written() {
        let raw = "−78\u{a0}°C, ｔｈｆ";
        let folded = Folded::new(raw);
        let source = folded.source();
        assert_eq!(source.text, "-78 °C, thf");
        let span = source.span(9..12);
        assert_eq!(
            raw.get(span.start as usize..span.end as usize),
            Some("ｔｈｆ")
        );
    }
}
