//! Rescaling keeps its promise on plans made of awkward numbers: only numbers that scale change, everything
//! intensive stays to the letter, and there and back is the old value to its last written digit.

#![allow(
    clippy::expect_used,
    clippy::panic,
    clippy::unwrap_used,
    reason = "a test may fail"
)]

mod generated;
mod promise;
mod published;
mod targets;
mod tools;

use plan::Plan;
use plan::rescale::{self, Rescaling, Target};
use rust_decimal::Decimal;

fn apply(text: &str, plan: &Plan, edits: &[(plan::At, String)]) -> String {
    let mut edits: Vec<_> = edits.to_vec();
    edits.sort_by_key(|(at, _)| *at);
    let mut text = text.to_owned();
    for (at, new) in edits.iter().rev() {
        text.replace_range(plan.range(*at), new);
    }
    text
}

fn quantity(text: &str) -> syntax::Quantity {
    syntax::read_quantity(text).expect(text)
}

fn rescaled_to(text: &str, target: &Target) -> (String, Rescaling) {
    let plan = Plan::read(text);
    let rescaling = rescale::rescale(&plan, target).expect(text);
    (apply(text, &plan, &rescaling.edits), rescaling)
}

fn rescaled(text: &str, to: &str) -> String {
    rescaled_to(text, &Target::To(quantity(to))).0
}

/// By hand: 25.0 × 0.373 is 9.325, and rounded alone 20, 4 and 1 mL become 7.5, 1.5 and 0.37, which are 9.37.
#[test]
fn portions_come_to_no_more_than_their_line() {
    let plan = |listed: &str, portions: [&str; 3]| {
        let [a, b, c] = portions;
        format!(
            "plan A\nscale 10.00 mmol a\nmaterials\n  a: benzaldehyde, 1.00 eq\n  thf: tetrahydrofuran, {listed}\nsteps\n  add thf {a}\n  add thf {b}\n  add thf {c}\n"
        )
    };
    let portions = |text: &str, word: &str| -> Vec<Decimal> {
        let numbers = text.lines().filter_map(|line| line.split_once(word));
        let number = |(_, number): (&str, &str)| number.split(' ').next().unwrap().parse().unwrap();
        numbers.map(number).collect()
    };
    let start = plan("25.0 mL", ["20 mL", "4 mL", "1 mL"]);
    let mut higher = 0;
    for scale in 101..999 {
        let to = format!("{}.{} mmol", scale / 100, scale % 100);
        let text = rescaled(&start, &to);
        let listed = portions(&text, "tetrahydrofuran, ")[0];
        let sum: Decimal = portions(&text, "add thf ").iter().sum();
        // In µL where the numbers are small.
        let (listed, sum) = match text.contains("µL") {
            true => continue,
            false => (listed, sum),
        };
        assert!(sum <= listed, "{to}: {sum} of {listed}\n{text}");
        higher += usize::from(sum == listed);
    }
    assert!(higher > 0);
    // What was too much before is no rounding of ours.
    let text = rescaled(&plan("25.0 mL", ["20 mL", "4 mL", "2 mL"]), "20.00 mmol");
    assert_eq!(
        portions(&text, "add thf ").iter().sum::<Decimal>(),
        Decimal::from(52)
    );
}
