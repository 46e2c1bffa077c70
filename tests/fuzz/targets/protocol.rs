//! The whole server, on streams in memory: it answers in whole messages and ends with its input.
#![no_main]
#![allow(dead_code, reason = "the program uses more of its modules")]

#[path = "../../../server/meniscus/src/log.rs"]
mod log;
#[path = "../../../server/meniscus/src/positions.rs"]
mod positions;
#[path = "../properties/protocol.rs"]
mod property;
#[path = "../../../server/meniscus/src/server/mod.rs"]
mod server;
#[path = "../../../server/meniscus/src/surroundings.rs"]
mod surroundings;
#[path = "../../../server/meniscus/src/transport/mod.rs"]
mod transport;

use tokio::io::{AsyncReadExt, AsyncWriteExt};

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .build()
        .expect("a runtime");
    let answers = runtime.block_on(async {
        let (mut client, input) = tokio::io::duplex(1 << 16);
        let (output, mut listener) = tokio::io::duplex(1 << 16);
        let session = server::run((Box::new(input), Box::new(output)));
        let send = async {
            // It may have been told to exit.
            let _ = client.write_all(&property::stream(bytes)).await;
            drop(client);
        };
        let mut answers = Vec::new();
        let listen = async { listener.read_to_end(&mut answers).await };
        let (_, _, read) = tokio::join!(session, send, listen);
        read.expect("the output");
        answers
    });
    let mut rest = &answers[..];
    while !rest.is_empty() {
        let head = rest.windows(4).position(|four| four == b"\r\n\r\n").expect("a header");
        let length = std::str::from_utf8(&rest[..head]).ok();
        let length = length.and_then(|line| line.strip_prefix("Content-Length: ")?.parse::<usize>().ok());
        let (body, after) = rest[head + 4..].split_at(length.expect("a length"));
        serde_json::from_slice::<serde_json::Value>(body).expect("JSON");
        rest = after;
    }
});
