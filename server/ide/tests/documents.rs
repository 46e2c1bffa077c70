//! A document that was edited is the document that a fresh read of its text gives.

use ide::Document;
use proptest::prelude::*;

const PIECES: &[&str] = &[
    "plan A\n",
    "plan",
    "\n",
    "\r",
    "\r\n",
    " ",
    "scale 5.00 mmol ketone\n",
    "materials\n",
    "  ketone: acetone, 1.00 eq\n",
    "  thf: tetrahydrofuran, 20 mL # °\n",
    "steps\n",
    "  add thf 5 mL\n",
    "µ→·",
    "\u{1F9EA}",
    "x",
    "add",
    "5",
    ",",
    "#",
    "of",
    "equipment\n",
    "  flask: 25 mL flask\n",
    "products\n",
];

fn pieces() -> impl Strategy<Value = String> {
    prop::collection::vec(prop::sample::select(PIECES), 0..12).prop_map(|pieces| pieces.concat())
}

/// Some of the plans that the language is shown with.
const SHOWN: [&str; 4] = [
    include_str!("../../syntax/tests/plans/00-methylenation.prep"),
    include_str!("../../syntax/tests/plans/01-grignard.prep"),
    include_str!("../../syntax/tests/plans/03-lialh4-fieser.prep"),
    include_str!("../../syntax/tests/plans/11-syringe-pump-dean-stark.prep"),
];

/// A line is left out, doubled, put in, replaced, or written on.
fn edit_of_a_line(
    text: &str,
    (line, kind, other): (usize, usize, usize),
    lines: &[&str],
) -> (std::ops::Range<usize>, String) {
    let mut starts: Vec<usize> = text.match_indices('\n').map(|(at, _)| at + 1).collect();
    starts.insert(0, 0);
    let line = line % starts.len();
    let start = starts[line];
    let end = starts.get(line + 1).copied().unwrap_or(text.len());
    let own = text[start..end].trim_end();
    let other = lines[other % lines.len()];
    match kind % 6 {
        0 => (start..end, String::new()),
        1 => (start..start, format!("{own}\n")),
        2 => (start..start, format!("{other}\n")),
        3 => (start..end, format!("{other}\n")),
        4 => (start + own.len()..start + own.len(), "x".to_owned()),
        _ => (
            start + own.len()..start + own.len(),
            " 2 mL to flask".to_owned(),
        ),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// What is taken over from before an edit, materials, amounts and the steps in front of it, is what a fresh plan has.
    #[test]
    fn steps_in_front_of_an_edit_go_as_in_a_fresh_plan(
        start in any::<usize>(),
        edits in prop::collection::vec(any::<(usize, usize, usize, bool)>(), 1..8),
    ) {
        let lines: Vec<&str> = SHOWN.iter().flat_map(|plan| plan.lines()).collect();
        let mut text = SHOWN[start % SHOWN.len()].to_owned();
        let mut document = Document::new(&text);
        let states = |document: &Document| -> Vec<String> {
            let plans = document.plans();
            plans.map(|unit| format!("{:?} {:?} {:?}", unit.plan.moments, unit.plan.ledger, unit.findings)).collect()
        };
        prop_assert!(!states(&document).is_empty());
        for (line, kind, other, is_asked) in edits {
            let (range, new) = edit_of_a_line(&text, (line, kind, other), &lines);
            document.edit(range.clone(), &new);
            text.replace_range(range, &new);
            if is_asked {
                prop_assert_eq!(states(&document), states(&Document::new(&text)));
            }
        }
        prop_assert_eq!(states(&document), states(&Document::new(&text)));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn edits_in_order_give_what_a_fresh_read_gives(
        start in pieces(),
        edits in prop::collection::vec((any::<prop::sample::Index>(), any::<prop::sample::Index>(), pieces()), 1..12),
    ) {
        let mut document = Document::new(&start);
        let mut text = start;
        for (a, b, new) in edits {
            let mut boundaries: Vec<usize> = text.char_indices().map(|(at, _)| at).collect();
            boundaries.push(text.len());
            let (a, b) = (boundaries[a.index(boundaries.len())], boundaries[b.index(boundaries.len())]);
            let range = a.min(b)..a.max(b);
            document.edit(range.clone(), &new);
            text.replace_range(range, &new);
            let fresh = Document::new(&text);
            prop_assert_eq!(document.rope().to_string(), text.clone());
            prop_assert_eq!(document.findings(), fresh.findings());
            prop_assert_eq!(document.symbols(), fresh.symbols());
            prop_assert_eq!(document.inlay_hints(0..text.len()), fresh.inlay_hints(0..text.len()));
        }
    }

    #[test]
    fn plans_of_a_document_do_not_touch_each_other(a in pieces(), b in pieces()) {
        let apart = |text: &str| Document::new(text).findings();
        let (a, b) = (format!("plan A\n{a}\n"), format!("plan B\n{b}\n"));
        let moved = apart(&b).into_iter().map(|finding| (finding.range.start + a.len(), finding.message));
        let expected = apart(&a).into_iter().map(|finding| (finding.range.start, finding.message)).chain(moved);
        let both = apart(&format!("{a}{b}")).into_iter().map(|finding| (finding.range.start, finding.message));
        prop_assert_eq!(both.collect::<Vec<_>>(), expected.collect::<Vec<_>>());
    }

    #[test]
    fn any_place_can_be_asked_about(text in pieces(), at in 0usize..400) {
        let document = Document::new(&text);
        let _ = document.hover(at);
        let _ = document.actions(at..at);
    }
}
