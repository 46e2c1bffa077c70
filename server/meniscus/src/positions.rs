//! Positions of an editor and offsets of a text: the one place that converts between them.
//!
//! An editor counts lines and columns, and a column in UTF-8, UTF-16 or UTF-32 units, as agreed when it
//! connects. Everything else here counts bytes from the start of the text. A position that the text does
//! not have is moved to the nearest one that it has: a column past the end of its line to that end (as the
//! protocol says), a column inside a character to that character's start, a line past the last one to the
//! end of the text.

use ropey::Rope;
use std::ops::Range;
use tower_lsp::lsp_types::{self as lsp, Position, PositionEncodingKind};

/// What a column counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Encoding {
    /// Bytes of UTF-8.
    Utf8,
    /// Code units of UTF-16: what the protocol means where nothing was agreed.
    Utf16,
    /// Characters.
    Utf32,
}

impl Encoding {
    /// The first of the client's encodings, which it lists in its order of preference, that is known here.
    pub(crate) fn negotiate(offered: Option<&[PositionEncodingKind]>) -> Encoding {
        offered
            .unwrap_or_default()
            .iter()
            .find_map(|kind| match kind.as_str() {
                "utf-8" => Some(Encoding::Utf8),
                "utf-16" => Some(Encoding::Utf16),
                "utf-32" => Some(Encoding::Utf32),
                _ => None,
            })
            .unwrap_or(Encoding::Utf16)
    }

    /// Its name in the protocol.
    pub(crate) fn kind(self) -> PositionEncodingKind {
        match self {
            Encoding::Utf8 => PositionEncodingKind::UTF8,
            Encoding::Utf16 => PositionEncodingKind::UTF16,
            Encoding::Utf32 => PositionEncodingKind::UTF32,
        }
    }

    /// Units between the start of the text and this character.
    fn units(self, text: &Rope, char: usize) -> usize {
        match self {
            Encoding::Utf8 => text.char_to_byte(char),
            Encoding::Utf16 => text.char_to_utf16_cu(char),
            Encoding::Utf32 => char,
        }
    }

    /// The character that holds this unit, counted from the start of the text.
    fn char(self, text: &Rope, unit: usize) -> usize {
        match self {
            Encoding::Utf8 => text.byte_to_char(unit),
            Encoding::Utf16 => text.utf16_cu_to_char(unit),
            Encoding::Utf32 => unit,
        }
    }
}

/// The byte that a position names.
pub(crate) fn to_offset(text: &Rope, position: Position, encoding: Encoding) -> usize {
    let line = position.line as usize;
    if line >= text.len_lines() {
        return text.len_bytes();
    }
    let Range { start, end } = line_chars(text, line);
    let unit = encoding.units(text, start) + position.character as usize;
    let unit = unit.min(encoding.units(text, end));
    text.char_to_byte(encoding.char(text, unit))
}

/// The position of a byte; one inside a character or a line end moves to its start.
pub(crate) fn to_position(text: &Rope, offset: usize, encoding: Encoding) -> Position {
    let char = text.byte_to_char(offset.min(text.len_bytes()));
    let line = text.char_to_line(char);
    let Range { start, end } = line_chars(text, line);
    let column = encoding.units(text, char.min(end)) - encoding.units(text, start);
    Position::new(saturate(line), saturate(column))
}

/// Positions of many places of one text, each behind the one before it: every stretch of text is looked at once.
pub(crate) struct Walk<'a> {
    text: &'a str,
    encoding: Encoding,
    at: usize,
    position: Position,
}

impl<'a> Walk<'a> {
    pub(crate) fn new(text: &'a str, encoding: Encoding) -> Walk<'a> {
        Walk {
            text,
            encoding,
            at: 0,
            position: Position::default(),
        }
    }

    /// The position of a character's first byte; one that was passed already gets the last position again.
    pub(crate) fn to(&mut self, offset: usize) -> Position {
        let mut rest = self.text.get(self.at..offset).unwrap_or_default();
        while let Some(end) = rest.find(['\n', '\r']) {
            let eol = if rest[end..].starts_with("\r\n") {
                2
            } else {
                1
            };
            rest = &rest[end + eol..];
            self.position = Position::new(self.position.line + 1, 0);
        }
        self.position.character += saturate(match self.encoding {
            Encoding::Utf8 => rest.len(),
            Encoding::Utf16 => rest.encode_utf16().count(),
            Encoding::Utf32 => rest.chars().count(),
        });
        self.at = self.at.max(offset.min(self.text.len()));
        self.position
    }
}

/// The bytes that a range names, its ends put in order.
pub(crate) fn to_offsets(text: &Rope, range: lsp::Range, encoding: Encoding) -> Range<usize> {
    let start = to_offset(text, range.start, encoding);
    let end = to_offset(text, range.end, encoding);
    start.min(end)..start.max(end)
}

/// The range of these bytes.
pub(crate) fn to_range(text: &Rope, offsets: &Range<usize>, encoding: Encoding) -> lsp::Range {
    lsp::Range::new(
        to_position(text, offsets.start, encoding),
        to_position(text, offsets.end, encoding),
    )
}

/// A line's characters without its line end. The line must be one of the text's.
fn line_chars(text: &Rope, line: usize) -> Range<usize> {
    let start = text.line_to_char(line);
    let mut end = text.line_to_char(line + 1);
    if end > start && text.char(end - 1) == '\n' {
        end -= 1;
    }
    if end > start && text.char(end - 1) == '\r' {
        end -= 1;
    }
    start..end
}

fn saturate(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const ALL: [Encoding; 3] = [Encoding::Utf8, Encoding::Utf16, Encoding::Utf32];

    fn offset(text: &str, line: u32, column: u32, encoding: Encoding) -> usize {
        to_offset(&Rope::from_str(text), Position::new(line, column), encoding)
    }

    /// The protocol's own example (LSP 3.17, "Text Documents"): in `a𐐀b` the offset of `b` is 3 in UTF-16
    /// units; it is 5 in bytes of UTF-8 and 2 in characters.
    #[test]
    fn example_of_the_specification() {
        let text = Rope::from_str("a𐐀b");
        for (encoding, column) in ALL.into_iter().zip([5, 3, 2]) {
            assert_eq!(to_position(&text, 5, encoding), Position::new(0, column));
            assert_eq!(to_offset(&text, Position::new(0, column), encoding), 5);
        }
    }

    /// LSP 3.17, "Position": `\n`, `\r\n` and `\r` each end a line, and nothing else does.
    #[test]
    fn line_ends_of_the_specification() {
        let text = "a\rb\r\nc\nd\u{2028}e\u{b}f";
        assert_eq!(offset(text, 1, 0, Encoding::Utf16), 2);
        assert_eq!(offset(text, 2, 0, Encoding::Utf16), 5);
        assert_eq!(offset(text, 3, 0, Encoding::Utf16), 7);
        assert_eq!(offset(text, 4, 0, Encoding::Utf16), text.len());
    }

    #[test]
    fn columns_past_the_end_stop_before_the_line_end() {
        for encoding in ALL {
            assert_eq!(offset("µL\r\nx", 0, 99, encoding), 3);
            assert_eq!(offset("µL\r\nx", 0, u32::MAX, encoding), 3);
            assert_eq!(offset("µL\r\nx", 7, 0, encoding), 6);
            assert_eq!(offset("", 0, 5, encoding), 0);
        }
    }

    #[test]
    fn columns_inside_a_character_move_to_its_start() {
        assert_eq!(offset("a𝛼b", 0, 2, Encoding::Utf16), 1);
        for column in 2..5 {
            assert_eq!(offset("a𝛼b", 0, column, Encoding::Utf8), 1);
        }
    }

    #[test]
    fn reversed_ranges_are_put_in_order() {
        let range = lsp::Range::new(Position::new(0, 3), Position::new(0, 1));
        assert_eq!(
            to_offsets(&Rope::from_str("abcd"), range, Encoding::Utf16),
            1..3
        );
    }

    #[test]
    fn the_clients_preference_decides() {
        let offer = |names: &[&'static str]| {
            let kinds: Vec<_> = names
                .iter()
                .map(|name| PositionEncodingKind::new(name))
                .collect();
            Encoding::negotiate(Some(&kinds))
        };
        assert_eq!(offer(&["utf-32", "utf-8"]), Encoding::Utf32);
        assert_eq!(offer(&["utf-7", "utf-8"]), Encoding::Utf8);
        assert_eq!(offer(&["utf-7"]), Encoding::Utf16);
        assert_eq!(Encoding::negotiate(None), Encoding::Utf16);
    }

    /// The same by the standard library's encoders, on lines split by hand.
    fn plainly(text: &str, offset: usize, encoding: Encoding) -> Position {
        let before = text[..offset].replace("\r\n", "\n").replace('\r', "\n");
        let line = before.rsplit('\n').next().unwrap_or_default();
        let column = match encoding {
            Encoding::Utf8 => line.len(),
            Encoding::Utf16 => line.encode_utf16().count(),
            Encoding::Utf32 => line.chars().count(),
        };
        Position::new(before.matches('\n').count() as u32, column as u32)
    }

    fn text() -> impl Strategy<Value = String> {
        let piece = prop::sample::select(vec![
            "a", "µ", "→", "𝛼", "😀", "\r\n", "\r", "\n", "\u{feff}", "\u{2028}", "e\u{301}",
            "5.00 mL",
        ]);
        prop::collection::vec(piece, 0..40).prop_map(|pieces| pieces.concat())
    }

    proptest! {
        #[test]
        fn round_trip(text in text()) {
            let rope = Rope::from_str(&text);
            for encoding in ALL {
                for (offset, _) in text.char_indices().chain([(text.len(), ' ')]) {
                    let inside_line_end = text[..offset].ends_with('\r') && text[offset..].starts_with('\n');
                    let position = to_position(&rope, offset, encoding);
                    if inside_line_end {
                        prop_assert_eq!(to_offset(&rope, position, encoding), offset - 1);
                    } else {
                        prop_assert_eq!(position, plainly(&text, offset, encoding));
                        prop_assert_eq!(to_offset(&rope, position, encoding), offset);
                    }
                }
            }
        }

        /// Not within a line end, where no word begins.
        #[test]
        fn a_walk_comes_by_the_same_positions(text in text()) {
            let rope = Rope::from_str(&text);
            for encoding in ALL {
                let mut walk = Walk::new(&text, encoding);
                for (offset, c) in text.char_indices() {
                    if !text[..offset].ends_with('\r') || c != '\n' {
                        prop_assert_eq!(walk.to(offset), to_position(&rope, offset, encoding));
                    }
                }
                prop_assert_eq!(walk.to(text.len()), to_position(&rope, text.len(), encoding));
            }
        }

        #[test]
        fn any_position_is_a_character_boundary(text in text(), line: u8, column: u8) {
            let rope = Rope::from_str(&text);
            for encoding in ALL {
                let position = Position::new(line.into(), column.into());
                prop_assert!(text.is_char_boundary(to_offset(&rope, position, encoding)));
            }
        }
    }
}
