//! Whatever the text and wherever in it: every question has an answer, in places that the text has.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use ide::{Document, TextEdit};
use proptest::prelude::*;
use std::ops::Range;

fn text() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        4 => proptest::sample::select(&[
            "plan ", "\nsteps\n", "\nmaterials\n", "\nproducts\n", "\nequipment\n", "\n", "\r\n", "\r", "add ", "cool ", "thf", ": ", ", ",
            " 20 mL", "2,5 mL", "µL", " # 😀", "\n# x", "in ", "to ", "keep filtrate as x", "\nin vial\n", "(4:1) ", "a/b 4:1", "sat. aq. ",
            "note x", "half of ", "(", ")", "scale 5 mmol thf\n", "reaction thf + 2 b → c\n", "thf: tetrahydrofuran, 2 mL/g of b\n",
            "10.1021/x", "\u{feff}", "\u{a0}", "  ", "\t", "via syringe",
        ][..]).prop_map(str::to_owned),
        1 => "\\PC{0,4}",
    ];
    proptest::collection::vec(piece, 0..30).prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn every_question_has_an_answer(text in text(), at in 0usize..250, len in 0usize..60) {
        let document = Document::new(&text);
        let has = |range: &Range<usize>| text.get(range.clone()).is_some();
        let fit = |edits: &[TextEdit]| {
            let in_order = edits.windows(2).all(|pair| pair[0].range.end <= pair[1].range.start);
            in_order && edits.iter().all(|edit| has(&edit.range))
        };
        prop_assert!(fit(&document.formatting()));
        prop_assert!(fit(&document.range_formatting(at..at + len)));
        prop_assert!(fit(&document.newline_formatting(at)));
        prop_assert!(document.semantic_tokens(at..at + len).iter().all(|token| has(&token.range)));
        prop_assert!(document.folds().iter().all(|fold| has(&fold.range)));
        prop_assert!(document.selections(at).iter().all(has));
        prop_assert!(document.links().iter().all(|link| has(&link.range)));
        let mentions = document.references(at);
        prop_assert!(mentions.iter().all(|mention| has(&mention.range)));
        prop_assert_eq!(document.renameable(at).is_some(), !mentions.is_empty());
        for name in ["y", "thf", "", "20 mL", "a b", "add"] {
            if let Ok(renaming) = document.rename(at, name) {
                prop_assert!(fit(&renaming.edits) && !renaming.edits.is_empty());
                prop_assert!(renaming.optional.iter().all(|edit| has(&edit.range)));
            }
        }
        if let Some(signature) = document.signature(at) {
            prop_assert!(signature.active < signature.parts.len());
        }
        if let Some(found) = document.completions(at) {
            prop_assert!(has(&found.range));
        }
        for (symbol, _) in document.find_symbols("a") {
            prop_assert!(has(&symbol.selection));
        }
    }
}
