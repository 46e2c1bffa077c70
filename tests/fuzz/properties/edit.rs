//! A document that was edited is the document that a fresh read of its text gives.

use ide::Document;

/// The bytes are a text and, behind the character 01, edits of it: a byte for where, one for how much, and text.
pub fn holds(bytes: &[u8]) {
    let mut parts = bytes.split(|&byte| byte == 1);
    let Some(Ok(start)) = parts.next().map(std::str::from_utf8) else {
        return;
    };
    if start.len() > 1000 {
        return;
    }
    let mut text = start.to_owned();
    let mut document = Document::new(start);
    for (part, number) in parts.take(8).zip(0..) {
        let [place, length, new @ ..] = part else {
            continue;
        };
        let Ok(new) = std::str::from_utf8(new) else {
            continue;
        };
        let from = boundary(&text, text.len() * usize::from(*place) / 255);
        let to = boundary(&text, from + usize::from(*length)).max(from);
        document.edit(from..to, new);
        text.replace_range(from..to, new);
        // Now and then nothing is worked out between two edits.
        if number % 2 == 0 {
            let _ = document.findings();
        }
    }
    let fresh = Document::new(&text);
    assert_eq!(document.rope().to_string(), text);
    assert_eq!(document.findings(), fresh.findings(), "{text:?}");
    assert_eq!(document.symbols(), fresh.symbols(), "{text:?}");
    let all = 0..text.len();
    assert_eq!(
        document.inlay_hints(all.clone()),
        fresh.inlay_hints(all.clone()),
        "{text:?}"
    );
    assert_eq!(
        document.semantic_tokens(all.clone()),
        fresh.semantic_tokens(all),
        "{text:?}"
    );
    assert_eq!(document.formatting(), fresh.formatting(), "{text:?}");
}

fn boundary(text: &str, mut at: usize) -> usize {
    at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}
