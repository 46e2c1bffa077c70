//! What every word of a plan is.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use ide::{Document, SemanticToken};
use proptest::prelude::*;

fn listed(text: &str, tokens: &[SemanticToken]) -> String {
    let word = |token: &SemanticToken| {
        let declared = if token.declaration { "!" } else { "" };
        format!("{}={:?}{declared}", &text[token.range.clone()], token.kind)
    };
    tokens.iter().map(word).collect::<Vec<_>>().join(" ")
}

const KEYS: &str = "\
materials
  thf: tetrahydrofuran, 25 mL
equipment
  flask: 100 mL flask
";

#[track_caller]
fn are(line: &str, expected: &str) {
    let text = format!("{KEYS}steps\n{line}\n");
    let at = text.find(line).unwrap();
    let tokens = Document::new(&text).semantic_tokens(at..at + line.len());
    assert_eq!(listed(&text, &tokens), expected);
}

#[test]
fn words_of_steps() {
    are(
        "  add thf 20 mL to flask dropwise, at -78 °C # slow",
        "add=Verb thf=Substance 20=Number mL=Value to=Word flask=Equipment dropwise=Value at=Word -78=Number °C=Value # slow=Comment",
    );
    are("  in flask", "in=Word flask=Equipment");
    are(
        "  extract with pentane",
        "extract=Verb with=Word pentane=Name",
    );
    are("  combine organics", "combine=Verb organics=Substance");
    are("  note 5 mL is too much", "note=LineWord");
    are("  frobnicate the flask", "");
}

#[test]
fn words_of_entries_and_statements() {
    let text = "plan A title\nscale 5.00 mmol a\nreaction a + 2 b -> c\nmaterials\n  a: pyridine, dry, 98 %\nequipment\n  v: 5 mL vial\n";
    let tokens = Document::new(text).semantic_tokens(0..text.len());
    assert_eq!(
        listed(text, &tokens),
        "plan=LineWord A title=Title \
         scale=LineWord 5.00=Number mmol=Value a=Substance \
         reaction=LineWord a=Substance +=Operator 2=Number b=Name ->=Operator c=Name \
         materials=LineWord a=Substance! pyridine=Name dry=Property 98=Number %=Value \
         equipment=LineWord v=Equipment! 5=Number mL=Value"
    );
}

#[test]
fn only_the_lines_of_the_stretch() {
    let text = "plan A\nsteps\n  stir\nplan B\nsteps\n";
    let document = Document::new(text);
    let shown = |range| listed(text, &document.semantic_tokens(range));
    assert_eq!(shown(text.find("stir").unwrap()..18), "stir=Verb");
    assert_eq!(
        shown(text.find("stir").unwrap()..text.find("lan B").unwrap()),
        "stir=Verb plan=LineWord B=Title"
    );
    assert_eq!(shown(text.len()..text.len()), "");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn tokens_are_in_order_apart_and_within_their_lines(pieces in proptest::collection::vec(
        proptest::sample::select(&[
            "plan ", "\nsteps\n", "\nmaterials\n", "\nequipment\n", "\r\n", "\r", "add ", "thf", ": ", ", ", " 20 mL", "µL",
            " # 😀", "reaction a + ½ b → c", "\u{a0}", "in ", "flask", "(4:1) ", "a/b 4:1", "sat. aq. ", "note x", "2,5 mL",
        ][..]), 0..40,
    )) {
        let text = pieces.concat();
        let mut end = 0;
        for token in Document::new(&text).semantic_tokens(0..text.len()) {
            prop_assert!(end <= token.range.start && token.range.start < token.range.end);
            let written = text.get(token.range.clone()).unwrap();
            prop_assert!(!written.contains(['\n', '\r']), "{:?}", written);
            end = token.range.end;
        }
    }
}
