//! White space put in order, by an editor and on the command line.

use crate::URI;
use crate::cli::{err, out, run};
use e2e::Client;
use serde_json::{Value, json};
use std::fs;

const UNTIDY: &str = "\
plan 😀 A
materials
  thf: tetrahydrofuran,  25 mL\t# µ
  ketone: cyclohexanone
steps
 add thf
";

const TIDY: &str = "\
plan 😀 A
materials
  thf:    tetrahydrofuran, 25 mL                 # µ
  ketone: cyclohexanone
steps
  add thf
";

fn edit(line: u32, from: u32, to: u32, text: &str) -> Value {
    let range =
        json!({"start": {"line": line, "character": from}, "end": {"line": line, "character": to}});
    json!({"range": range, "newText": text})
}

#[test]
fn an_editor_formats_a_document_some_lines_and_the_line_just_left() {
    for encoding in ["utf-8", "utf-16", "utf-32"] {
        let mut client = Client::start();
        let offered = client.initialize(&json!({"general": {"positionEncodings": [encoding]}}));
        assert_eq!(offered["documentFormattingProvider"], true);
        assert_eq!(offered["documentRangeFormattingProvider"], true);
        assert_eq!(
            offered["documentOnTypeFormattingProvider"]["firstTriggerCharacter"],
            "\n"
        );
        client.open(URI, UNTIDY);
        let document = json!({"uri": URI});
        let options = json!({"tabSize": 4, "insertSpaces": true});
        let whole = json!({"textDocument": document, "options": options});
        let thf = [
            edit(2, 7, 7, "   "),
            edit(2, 24, 25, ""),
            edit(2, 30, 31, &" ".repeat(17)),
        ];
        let step = edit(5, 1, 1, " ");
        let all: Vec<_> = thf.iter().cloned().chain([step.clone()]).collect();
        assert_eq!(
            client
                .call("textDocument/formatting", whole.clone())
                .unwrap(),
            json!(all)
        );
        let range =
            json!({"start": {"line": 2, "character": 9}, "end": {"line": 3, "character": 0}});
        let some = json!({"textDocument": document, "range": range, "options": options});
        assert_eq!(
            client.call("textDocument/rangeFormatting", some).unwrap(),
            json!(thf)
        );
        let typed = json!({
            "textDocument": document, "position": {"line": 6, "character": 0}, "ch": "\n", "options": options,
        });
        assert_eq!(
            client.call("textDocument/onTypeFormatting", typed).unwrap(),
            json!([step])
        );

        // The edits, made from the last to the first as their places are those of one text.
        let changes: Vec<_> = all
            .iter()
            .rev()
            .map(|edit| json!({"range": edit["range"], "text": edit["newText"]}))
            .collect();
        client.change(URI, 2, &changes);
        assert_eq!(
            client
                .call("textDocument/formatting", whole.clone())
                .unwrap(),
            json!([])
        );
        client.change(URI, 3, &[json!({"text": TIDY})]);
        assert_eq!(
            client.call("textDocument/formatting", whole).unwrap(),
            json!([])
        );
        assert_eq!(client.finish().code(), Some(0));
    }
}

#[test]
fn the_command_line_formats_files_or_checks_that_they_are() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    fs::write(path("a.prep"), UNTIDY.replace('\n', "\r\n")).unwrap();
    fs::write(path("b.prep"), TIDY).unwrap();
    let before = fs::metadata(path("b.prep")).unwrap().modified().unwrap();

    let output = run(folder.path(), &["format", "--check", "."]);
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(
        out(&output),
        format!(
            "not formatted: {}\n",
            std::path::Path::new(".").join("a.prep").display()
        )
    );
    assert_eq!(
        fs::read_to_string(path("a.prep")).unwrap(),
        UNTIDY.replace('\n', "\r\n")
    );

    let output = run(folder.path(), &["format", "a.prep", "b.prep"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    assert_eq!(out(&output), "formatted: a.prep\n");
    assert_eq!(
        fs::read_to_string(path("a.prep")).unwrap(),
        TIDY.replace('\n', "\r\n")
    );
    assert_eq!(
        fs::metadata(path("b.prep")).unwrap().modified().unwrap(),
        before
    );

    let output = run(folder.path(), &["format", "--check", "."]);
    assert_eq!((output.status.code(), out(&output).as_str()), (Some(0), ""));
    let output = run(folder.path(), &["format", "none.prep"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        err(&output).contains("there is no such file"),
        "{}",
        err(&output)
    );
}
