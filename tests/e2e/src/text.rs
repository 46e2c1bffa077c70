//! A document as an editor holds it, with positions counted by the standard library's encoders.

use crate::Random;
use serde_json::{Value, json};

/// What columns count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Encoding {
    /// Bytes.
    Utf8,
    /// Code units.
    Utf16,
    /// Characters.
    Utf32,
}

impl Encoding {
    /// Its name in the protocol.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Encoding::Utf8 => "utf-8",
            Encoding::Utf16 => "utf-16",
            Encoding::Utf32 => "utf-32",
        }
    }
}

/// The protocol's position of a byte of the text.
#[must_use]
pub fn position(text: &str, at: usize, encoding: Encoding) -> Value {
    let before = text[..at].replace("\r\n", "\n").replace('\r', "\n");
    let line = before.rsplit('\n').next().unwrap_or_default();
    let column = match encoding {
        Encoding::Utf8 => line.len(),
        Encoding::Utf16 => line.encode_utf16().count(),
        Encoding::Utf32 => line.chars().count(),
    };
    json!({"line": before.matches('\n').count(), "character": column})
}

/// From this many bytes on a text is cut rather than grown.
const LONG: usize = 2000;

/// A document of the client.
pub struct Model {
    /// Its text.
    pub text: String,
    /// The version that the server was last told.
    pub version: i32,
    encoding: Encoding,
}

impl Model {
    /// A document just opened.
    #[must_use]
    pub fn new(text: &str, encoding: Encoding) -> Model {
        Model {
            text: text.to_owned(),
            version: 1,
            encoding,
        }
    }

    /// Makes an edit somewhere and returns the change that tells the server.
    pub fn edit(&mut self, random: &mut Random, pieces: &[&str]) -> Value {
        if random.once_in(200) {
            self.text = random.pick(pieces).repeat(random.below(20));
            return json!({"text": self.text});
        }
        let start = self.boundary(random.below(self.text.len() + 1));
        // Short cuts mostly, as typing makes them; long ones now and then, and where the text has grown long.
        let longest = if random.once_in(20) || self.text.len() > LONG {
            LONG / 8
        } else {
            4
        };
        let end = self
            .boundary((start + random.below(longest)).min(self.text.len()))
            .max(start);
        let new = if random.once_in(4) {
            ""
        } else {
            random.pick(pieces)
        };
        let range = json!({
            "start": position(&self.text, start, self.encoding),
            "end": position(&self.text, end, self.encoding),
        });
        self.text.replace_range(start..end, new);
        json!({"range": range, "text": new})
    }

    /// Somewhere in the text.
    pub fn somewhere(&self, random: &mut Random) -> Value {
        position(
            &self.text,
            self.boundary(random.below(self.text.len() + 1)),
            self.encoding,
        )
    }

    /// The last place at or before a byte that a position can name.
    fn boundary(&self, mut at: usize) -> usize {
        while !self.text.is_char_boundary(at)
            || (self.text[..at].ends_with('\r') && self.text[at..].starts_with('\n'))
        {
            at -= 1;
        }
        at
    }
}
