//! What fuzzing found worth keeping, held to the same properties with every compiler.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    unreachable_pub,
    missing_docs,
    reason = "a failing test panics; the properties are shared with the fuzz targets"
)]

#[path = "../../fuzz/properties/edit.rs"]
mod edit;
#[path = "../../fuzz/properties/files.rs"]
mod files;
#[path = "../../fuzz/properties/formula.rs"]
mod formula;
#[path = "../../fuzz/properties/protocol.rs"]
mod protocol;
#[path = "../../fuzz/properties/rescale.rs"]
mod rescale;
#[path = "../../fuzz/properties/smiles.rs"]
mod smiles;
#[path = "../../fuzz/properties/syntax.rs"]
mod syntax_text;

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

fn corpus(target: &str) -> Vec<(PathBuf, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../fuzz/corpus")
        .join(target);
    let files = fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().path());
    let all: Vec<_> = files
        .map(|path| (path.clone(), fs::read(path).unwrap()))
        .collect();
    assert!(!all.is_empty(), "{}", folder.display());
    all
}

fn replay(target: &str, holds: fn(&[u8])) {
    for (path, bytes) in corpus(target) {
        if let Err(panic) = std::panic::catch_unwind(|| holds(&bytes)) {
            eprintln!("{}", path.display());
            std::panic::resume_unwind(panic);
        }
    }
}

#[test]
fn of_texts() {
    replay("syntax", syntax_text::holds);
}

#[test]
fn of_formulae() {
    replay("formula", formula::holds);
}

#[test]
fn of_structures() {
    replay("smiles", smiles::holds);
}

#[test]
fn of_inventories_and_settings() {
    replay("files", files::holds);
}

#[test]
fn of_rescaling() {
    replay("rescale", rescale::holds);
}

#[test]
fn of_edits() {
    replay("edit", edit::holds);
}

/// The program itself ends as one that was hung up on or told to exit, and reports no defect.
#[test]
fn of_sessions() {
    for (path, bytes) in corpus("protocol") {
        let mut server = Command::new(e2e::meniscus())
            .arg("serve")
            .env("RUST_LOG", "error")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut input = server.stdin.take().unwrap();
        let session = protocol::stream(&bytes);
        let writer = std::thread::spawn(move || {
            // It may have been told to exit.
            let _ = input.write_all(&session);
        });
        let output = server.wait_with_output().unwrap();
        writer.join().unwrap();
        let log = String::from_utf8_lossy(&output.stderr);
        assert!(
            matches!(output.status.code(), Some(0 | 1)),
            "{}: {log}",
            path.display()
        );
        assert!(!log.contains("defect"), "{}: {log}", path.display());
    }
}
