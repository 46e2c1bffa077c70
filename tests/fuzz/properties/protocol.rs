//! What a client may send: messages and things that are none.

/// The bytes are pieces, apart by the character 01. One that begins with `{` is the body of a message, to which a header
/// is written, and the others are sent as they are.
pub fn stream(bytes: &[u8]) -> Vec<u8> {
    let hello =
        br#"{"jsonrpc":"2.0","id":"hello","method":"initialize","params":{"capabilities":{}}}"#;
    let mut stream = Vec::new();
    for piece in [&hello[..]]
        .into_iter()
        .chain(bytes.split(|&byte| byte == 1))
    {
        if piece.starts_with(b"{") {
            stream.extend_from_slice(format!("Content-Length: {}\r\n\r\n", piece.len()).as_bytes());
        }
        stream.extend_from_slice(piece);
    }
    stream
}
