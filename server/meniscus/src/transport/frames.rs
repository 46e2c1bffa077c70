//! The base protocol: headers and bodies, read so that no input ends or wedges the stream.

use std::io;
use tokio::io::{AsyncRead, AsyncReadExt};

/// More header than any client sends; past it the input is garbage.
const LONGEST_HEADER: usize = 8 * 1024;
/// A body beyond this is a wrong number, not a document.
const LONGEST_BODY: usize = 256 * 1024 * 1024;
/// Bytes asked of the input in one read, at least.
const AT_ONCE: usize = 16 * 1024;
const LENGTH: &[u8] = b"content-length:";

/// A stretch of input.
#[derive(Debug, PartialEq)]
pub(super) enum Frame {
    /// A message's body.
    Body(Vec<u8>),
    /// Bytes that are no message, skipped up to the next header.
    Garbage,
}

/// The frames of a stream.
pub(super) struct Frames<R> {
    input: R,
    buffer: Vec<u8>,
    /// Looking for the next header, the garbage before it already reported.
    lost: bool,
}

/// What the start of the buffer holds.
enum Header {
    /// Not all of it yet.
    Partial,
    /// Bytes of header, bytes of body.
    Complete(usize, usize),
    Malformed,
}

impl<R: AsyncRead + Unpin> Frames<R> {
    pub(super) fn new(input: R) -> Self {
        Frames {
            input,
            buffer: Vec::new(),
            lost: false,
        }
    }

    /// The next frame; none at the end of the input. Dropping the future loses nothing.
    pub(super) async fn next(&mut self) -> io::Result<Option<Frame>> {
        loop {
            if let Some(frame) = self.buffered() {
                return Ok(Some(frame));
            }
            self.buffer.reserve(AT_ONCE);
            if self.input.read_buf(&mut self.buffer).await? == 0 {
                return Ok(None);
            }
        }
    }

    /// Looks again at a body that is no JSON: where its announced length was too long, the next header began
    /// inside of it.
    pub(super) fn put_back(&mut self, mut body: Vec<u8>) {
        let length = body.len();
        body.append(&mut self.buffer);
        let header = find_header(&body, 1)
            .filter(|&at| at < length && !matches!(header(&body[at..]), Header::Malformed));
        self.buffer = body.split_off(header.unwrap_or(length));
    }

    fn buffered(&mut self) -> Option<Frame> {
        if self.lost {
            match find_header(&self.buffer, 0) {
                Some(at) => {
                    self.buffer.drain(..at);
                    self.lost = false;
                }
                None => {
                    // The last bytes may be the beginning of a header.
                    let keep = self.buffer.len().min(LENGTH.len() - 1);
                    self.buffer.drain(..self.buffer.len() - keep);
                    return None;
                }
            }
        }
        match header(&self.buffer) {
            Header::Partial => None,
            Header::Complete(head, body) => {
                if self.buffer.len() < head + body {
                    // Room for the whole body at once, up to a size that a wrong number cannot abuse.
                    self.buffer
                        .reserve((head + body - self.buffer.len()).min(1 << 20));
                    return None;
                }
                let rest = self.buffer.split_off(head + body);
                let mut frame = std::mem::replace(&mut self.buffer, rest);
                frame.drain(..head);
                Some(Frame::Body(frame))
            }
            Header::Malformed => {
                // A header may stand right behind the garbage, but not where this one began.
                match find_header(&self.buffer, 1) {
                    Some(at) => drop(self.buffer.drain(..at)),
                    None => {
                        let keep = (self.buffer.len().saturating_sub(1)).min(LENGTH.len() - 1);
                        self.buffer.drain(..self.buffer.len() - keep);
                        self.lost = true;
                    }
                }
                Some(Frame::Garbage)
            }
        }
    }
}

/// Reads the header that the bytes begin with. Names are taken in any case, and a bare line feed for a line end.
fn header(bytes: &[u8]) -> Header {
    let mut length = None;
    let mut at = 0;
    loop {
        let Some(end) = bytes[at..].iter().position(|&byte| byte == b'\n') else {
            return if bytes.len() - at > LONGEST_HEADER {
                Header::Malformed
            } else {
                Header::Partial
            };
        };
        let line = bytes[at..at + end].trim_ascii();
        at += end + 1;
        if line.is_empty() {
            return length.map_or(Header::Malformed, |length| Header::Complete(at, length));
        }
        if at > LONGEST_HEADER || !line.is_ascii() || !line.contains(&b':') {
            return Header::Malformed;
        }
        if starts_with_length(line) {
            let number = std::str::from_utf8(&line[LENGTH.len()..]).unwrap_or_default();
            match number.trim().parse() {
                Ok(number) if number <= LONGEST_BODY => length = Some(number),
                _ => return Header::Malformed,
            }
        }
    }
}

fn starts_with_length(bytes: &[u8]) -> bool {
    bytes
        .get(..LENGTH.len())
        .is_some_and(|start| start.eq_ignore_ascii_case(LENGTH))
}

fn find_header(bytes: &[u8], from: usize) -> Option<usize> {
    (from..bytes.len()).find(|&at| starts_with_length(&bytes[at..]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Every frame of these bytes, given in pieces of this size.
    fn frames(bytes: &[u8], piece: usize) -> Vec<Frame> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .build()
            .expect("runtime");
        runtime.block_on(async {
            let (mut client, server) = tokio::io::duplex(piece);
            let mut frames = Frames::new(server);
            let write = async {
                tokio::io::AsyncWriteExt::write_all(&mut client, bytes)
                    .await
                    .expect("write");
                drop(client);
            };
            let read = async {
                let mut all = Vec::new();
                while let Some(frame) = frames.next().await.expect("read") {
                    all.push(frame);
                }
                all
            };
            tokio::join!(write, read).1
        })
    }

    fn body(text: &str) -> Frame {
        Frame::Body(text.as_bytes().to_vec())
    }

    #[test]
    fn bodies() {
        let input = b"Content-Length: 2\r\n\r\n{}content-length:1\nX-Other: y\n\n1Content-Type: a; charset=utf-8\r\nContent-Length: 0\r\n\r\n";
        for piece in [1, 7, 4096] {
            assert_eq!(frames(input, piece), [body("{}"), body("1"), body("")]);
        }
    }

    #[test]
    fn garbage_is_reported_once_and_skipped() {
        let good = "Content-Length: 2\r\n\r\n{}";
        for garbage in [
            "foobar",
            "\r\n\r\n",
            "no colon\r\n",
            "Content-Length: x\r\n\r\n",
            "Content-Length: -1\r\n\r\n",
            "Content-Length: 99999999999999999999999\r\n\r\n",
            "Content-Length: 999999999999\r\n\r\n",
            "X: y\r\n\r\n",
            "\u{fffd}\0\0: \n",
        ] {
            for piece in [1, 4096] {
                let found = frames(format!("{good}{garbage}{good}").as_bytes(), piece);
                assert_eq!(
                    found,
                    [body("{}"), Frame::Garbage, body("{}")],
                    "{garbage:?}"
                );
            }
        }
    }

    #[test]
    fn a_header_that_never_ends_is_garbage() {
        let found = frames(
            format!("{}Content-Length: 1\r\n\r\n1", "x".repeat(100_000)).as_bytes(),
            4096,
        );
        assert_eq!(found, [Frame::Garbage, body("1")]);
    }

    proptest! {
        #[test]
        fn a_message_after_any_garbage_is_read(garbage in prop::collection::vec(any::<u8>(), 0..200), piece in 1_usize..64) {
            let mut input = garbage;
            input.extend_from_slice(b"\n\nContent-Length: 7\r\n\r\n\"hello\"");
            prop_assert_eq!(frames(&input, piece).pop(), Some(body("\"hello\"")));
        }
    }
}
