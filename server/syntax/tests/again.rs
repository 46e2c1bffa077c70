//! A plan read again after an edit is what a fresh read of its text gives.

use proptest::prelude::*;
use syntax::{read_plan, read_plan_again};

const PLAN: &str = "\
plan A
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq
  thf: tetrahydrofuran, over 3 Å sieves, 20 mL

equipment
  flask: 100 mL flask
  syringes: 5 mL glass syringes
  drip: 50 mL dropping funnel, argon inlet
steps
  dry flask at 125 °C overnight
  add thf 15 mL, via syringe
  # remark

  in flask
  add base dropwise over 10 min
  keep filtrate as liquor
  add ketone in thf 5 mL
  quench with water 10 mL from dropping funnel
  repeat last 2 steps
  extract with pentane, 3 x 20 mL, keep organics as extract
  keep residue as liquor
  combine liquor, extract, via glass syringe
runs
  A: 2.50 mmol
  B: base is LDA, 1.0 M in thf, thf is toluene, 99 %
";

const PIECES: &[&str] = &[
    "x",
    " ",
    "\n",
    "\r",
    "\r\n",
    "\n\n",
    "  add thf 2 mL\n",
    "thf",
    "ketone",
    "5",
    ",",
    ":",
    "#",
    "of",
    "µ",
    "steps\n",
    "materials\n",
    "equipment\n",
    "products\n",
    "runs\n",
    "  C: 1 mmol, thf is 2-methyltetrahydrofuran\n",
    " is ",
    "  salt: LiCl, 1 g\n",
    "  vial: 20 mL vial\n",
    "  thf: toluene\n",
    "  THF: toluene\n",
    "  keep filtrate as liquor\n",
    "  keep organics as Liquor\n",
    "keep ",
    " as liquor",
    "separating ",
    ", septum",
    "glass syringe",
    "organics",
    "  repeat\n",
    "  repeat last 3 steps\n",
    "plan B\n",
    "plan",
    "scale 2 g thf\n",
    "reaction ketone + base -> thf\n",
    "  in vial\n",
    "    ",
];

fn edit() -> impl Strategy<Value = (f64, usize, Vec<&'static str>)> {
    let pieces = prop::collection::vec(prop::sample::select(PIECES), 0..4);
    (
        0.0..1.0,
        prop_oneof![3 => 0usize..3, 1 => 0usize..60],
        pieces,
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn an_edit_comes_to_a_fresh_read(
        edits in prop::collection::vec(edit(), 1..12),
        line_end in prop::sample::select(&["\n", "\n", "\r\n", "\r"][..]),
    ) {
        let mut text = PLAN.replace('\n', line_end);
        let mut plan = read_plan(&text);
        for (at, length, pieces) in edits {
            let boundaries: Vec<usize> = text.char_indices().map(|(at, _)| at).chain([text.len()]).collect();
            #[allow(clippy::cast_possible_truncation, clippy::cast_precision_loss, clippy::cast_sign_loss)]
            let first = (at * boundaries.len() as f64) as usize;
            let last = (first + length).min(boundaries.len() - 1);
            text.replace_range(boundaries[first]..boundaries[last], &pieces.concat());
            plan = read_plan_again(&text, plan);
            prop_assert_eq!(&plan, &read_plan(&text));
        }
    }
}

/// Typing in a step reads that step only; what is typed letter by letter comes to the same.
#[test]
fn typing_comes_to_a_fresh_read() {
    let typed = "  warm to 20 °C, stir for 2 h, until no ketone by TLC\n  add thf 1 mL\n";
    let at = PLAN.find("  quench").unwrap_or_default();
    let mut plan = read_plan(PLAN);
    for (end, _) in typed.char_indices().skip(1).chain([(typed.len(), ' ')]) {
        let text = format!("{}{}{}", &PLAN[..at], &typed[..end], &PLAN[at..]);
        plan = read_plan_again(&text, plan);
        assert_eq!(plan, read_plan(&text));
    }
}

/// A line feed behind a carriage return at the end of the text is of the same line end.
#[test]
fn a_line_feed_behind_the_last_carriage_return_comes_to_a_fresh_read() {
    let text = PLAN.replace('\n', "\r");
    let plan = read_plan(&text);
    let longer = format!("{text}\n");
    assert_eq!(read_plan_again(&longer, plan), read_plan(&longer));
}
