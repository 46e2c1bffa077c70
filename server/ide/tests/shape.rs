//! The shape of a text: what folds, and what encloses a place.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use ide::Document;
use proptest::prelude::*;

const PLAN: &str = "\
# one
# two
plan A
scale 5.00 mmol a

materials
  a: water

steps
  # three
  # four
  stir
  in vial
  add a 5 mL, stir for 2 h   # slow
  stir

plan B
steps
";

#[test]
fn plans_blocks_places_and_comments_fold() {
    let document = Document::new(PLAN);
    let folds = document.folds().into_iter().map(|fold| {
        let text = &PLAN[fold.range];
        let first = text.lines().next().unwrap().trim();
        let last = text.lines().last().unwrap().trim();
        format!(
            "{first} .. {last}{}",
            if fold.comment { " (comment)" } else { "" }
        )
    });
    assert_eq!(
        folds.collect::<Vec<_>>(),
        [
            "# one .. # two (comment)",
            "plan A .. stir",
            "materials .. a: water",
            "steps .. stir",
            "# three .. # four (comment)",
            "in vial .. stir",
            "plan B .. steps",
        ]
    );
}

/// What encloses a place, each as far as its first line goes.
fn around(before: &str) -> Vec<String> {
    let at = PLAN.find(before).unwrap() + before.len();
    let ranges = Document::new(PLAN).selections(at).into_iter();
    ranges
        .map(|range| PLAN[range].lines().next().unwrap().to_owned())
        .collect()
}

#[test]
fn a_selection_grows_from_the_word_to_the_text() {
    assert_eq!(
        around("add a 5"),
        [
            "5",
            "5 mL",
            "a 5 mL",
            "add a 5 mL",
            "add a 5 mL, stir for 2 h",
            "  add a 5 mL, stir for 2 h   # slow",
            "  in vial",
            "steps",
            "plan A",
            "plan A",
            "# one",
        ]
    );
    assert_eq!(around("for 2 ")[..3], ["h", "for 2 h", "stir for 2 h"]);
    assert_eq!(
        around("# sl")[..2],
        ["# slow", "  add a 5 mL, stir for 2 h   # slow"]
    );
    assert_eq!(around("a: wat")[..3], ["water", "a: water", "  a: water"]);
    assert_eq!(Document::new("").selections(9), vec![0..0; 1]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn selections_nest_and_folds_are_of_several_lines(pieces in proptest::collection::vec(
        proptest::sample::select(&[
            "plan ", "\nsteps\n", "\nmaterials\n", "\nequipment\n", "\r\n", "\r", "add ", "thf", ": ", ", ", " 20 mL", "µL",
            " # 😀", "\n# x", "in ", "\nin vial\n", "(4:1) ", "a/b 4:1", "sat. aq. ", "note x", "half of ", "(", ")",
        ][..]), 0..30,
    ), at in 0usize..200) {
        let text = pieces.concat();
        let document = Document::new(&text);
        let chain = document.selections(at);
        prop_assert_eq!(chain.last().unwrap(), &(0..text.len()));
        for pair in chain.windows(2) {
            prop_assert!(pair[1].start <= pair[0].start && pair[0].end <= pair[1].end && pair[0] != pair[1]);
        }
        for range in &chain {
            prop_assert!(text.get(range.clone()).is_some());
        }
        for fold in document.folds() {
            prop_assert!(text[fold.range].contains(['\n', '\r']));
        }
    }
}
