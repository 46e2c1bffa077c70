//! The promise of digits, units and columns, over generated plans.

use super::apply;
use super::generated::{Found, Generated, Part, Random, dissect, plan};
use plan::Plan;
use plan::rescale::{self, Target};
use rust_decimal::Decimal;

/// Of each of two tests, which run side by side: 10,000 cases together.
const PLANS: usize = 500;

/// For each plan.
const GOALS: usize = 10;

/// What was written, and whether it follows from the scale; the scale is the first.
fn written(plan: &Generated) -> Vec<(Found, bool)> {
    let found = |part: &Part| match part {
        Part::Letters(_) => None,
        Part::Alone(number, unit) | Part::Scale(number, unit) => {
            Some((Found::new(number, unit), false))
        }
        Part::Follows(number, unit) => Some((Found::new(number, unit), true)),
    };
    plan.parts.iter().filter_map(found).collect()
}

/// Decimals hold 28 digits, and a quotient has one rounding.
fn close(a: Decimal, b: Decimal, within: Decimal) -> bool {
    (a - b).abs() <= within + within * Decimal::new(1, 9)
}

/// A plan, and what becomes of it there, back, over a second scale, and directly to that.
struct Case {
    old: Vec<(Found, bool)>,
    text: String,
    there: String,
    /// There, and for every second case back, on and at once.
    numbers: Vec<Vec<Found>>,
}

fn rescaled(plan: &Plan, target: &Target) -> String {
    let rescaling = rescale::rescale(plan, target).expect("a rescaling");
    apply(&plan.text.text, plan, &rescaling.edits)
}

/// One plan and a round of goals: reading the plan is what takes the time.
fn cases(random: &mut Random) -> Vec<Case> {
    let start = plan(random, false);
    let old = written(&start);
    let text = start.text();
    let to = |number: &str| Target::To(super::quantity(&format!("{number} mmol")));
    let found = |new: &str| dissect(&start, new).unwrap_or_else(|| panic!("{text}\n{new}"));
    let before = Plan::read(&text);
    let goals: Vec<Decimal> = (0..GOALS).map(|_| random.number()).collect();
    let targets: Vec<Target> = goals.iter().map(|goal| to(&goal.to_string())).collect();
    let direct: Vec<String> = targets.iter().map(|goal| rescaled(&before, goal)).collect();
    let mut cases = Vec::new();
    for (index, there) in direct.iter().enumerate() {
        let mut numbers = vec![found(there)];
        assert_eq!(numbers[0][0].base(), goals[index] / Decimal::ONE_THOUSAND);
        if index % 2 == 0 {
            let next = (index + 1) % direct.len();
            let after = Plan::read(there);
            numbers.push(found(&rescaled(&after, &to(&old[0].0.text))));
            numbers.push(found(&rescaled(&after, &targets[next])));
            numbers.push(found(&direct[next]));
        }
        cases.push(Case {
            old: old.clone(),
            text: text.clone(),
            there: there.clone(),
            numbers,
        });
    }
    cases
}

#[test]
fn the_promise_holds() {
    run(1);
}

#[test]
fn the_promise_holds_of_other_plans() {
    run(2);
}

fn run(seed: u64) {
    let mut random = Random(seed);
    let all = (0..PLANS).flat_map(|_| cases(&mut random));
    for (number, case) in all.enumerate() {
        let there = &case.numbers[0];
        let scales = (there[0].base(), case.old[0].0.base());
        for (index, (old, follows)) in case.old.iter().enumerate() {
            let all: Vec<&Found> = case.numbers.iter().map(|found| &found[index]).collect();
            let words = || {
                format!(
                    "case {number}: {old:?} {all:#?}\n{}\n{}",
                    case.text, case.there
                )
            };
            if index > 0 {
                readable(all[0], old, &words);
                if *follows {
                    anew(old, all[0], scales, &words);
                } else {
                    multiplied(old, all[0], scales, &words);
                }
            }
            if let [new, back, on, direct] = all[..] {
                if *follows {
                    let within = on.half_digit() + direct.half_digit();
                    assert!(close(on.base(), direct.base(), within), "{}", words());
                    let within = old.half_digit() + back.half_digit();
                    assert!(close(old.base(), back.base(), within), "{}", words());
                } else if index > 0 {
                    there_and_back(old, new, back, scales, &words);
                }
            }
        }
        aligned(&case.text, &case.there);
    }
}

/// Outside of the readable range only where no unit is left or it came nearer.
fn readable(new: &Found, old: &Found, words: &dyn Fn() -> String) {
    let inside = new.number < Decimal::from(2001) && new.number >= Decimal::new(99, 3);
    let outside = old.number >= Decimal::from(2000) || old.number < Decimal::new(1, 1);
    let kept = new.unit == old.unit && outside;
    let end = ["kg", "mol", "L", "ng", "nmol", "nL"].contains(&&*new.unit);
    assert!(inside || kept || end, "{}", words());
}

/// The old text and the new one are two roundings of amounts in the ratio of the scales.
fn anew(old: &Found, new: &Found, (after, before): (Decimal, Decimal), words: &dyn Fn() -> String) {
    let exact = old.base() * after / before;
    let claim = old.half_digit() * after / before;
    assert!(
        close(new.base(), exact, claim + new.half_digit()),
        "{}",
        words()
    );
}

fn multiplied(
    old: &Found,
    new: &Found,
    (after, before): (Decimal, Decimal),
    words: &dyn Fn() -> String,
) {
    let exact = old.base() * after / before;
    let claim = old.half_digit() * after / before;
    let fiftieth = exact * Decimal::new(2, 2);
    let within = claim.min(fiftieth);
    assert!(close(new.base(), exact, within), "{}", words());
    let whole = old.number.scale() == 0 || new.number.scale() == 0;
    assert!(
        new.significant() >= old.significant() || whole,
        "{}",
        words()
    );
    // No digit more than are needed, but for one that brings the text back.
    if new.number.scale() > 1 && old.number.scale() > 0 && new.significant() > old.significant() + 1
    {
        let fewer = new.number.round_dp(new.number.scale() - 2) * new.base() / new.number;
        let most = (claim * Decimal::new(88, 2)).min(fiftieth);
        assert!((fewer - exact).abs() > most, "{}", words());
    }
}

fn there_and_back(
    old: &Found,
    new: &Found,
    back: &Found,
    (after, before): (Decimal, Decimal),
    words: &dyn Fn() -> String,
) {
    assert!(
        close(old.base(), back.base(), old.half_digit()),
        "{}",
        words()
    );
    // The very text, where the number was readable, the way there kept the unit, needed no digit more, lost nothing
    // and did not make a whole number of a decimal one (137.0 times 20 is 2740, and that is 20 times 137).
    let was_readable = old.number < Decimal::from(2000) && old.number >= Decimal::new(1, 1);
    let same_form = (old.number.scale() == 0) == (new.number.scale() == 0);
    let exact = new.base() * before == old.base() * after;
    let kept = old.unit == new.unit && old.significant() == new.significant() && same_form;
    if was_readable && exact && kept {
        assert_eq!(
            (&old.text, &old.unit),
            (&back.text, &back.unit),
            "{}",
            words()
        );
    }
}

/// A comment that shared its column stays in it, or is two spaces behind what has grown into it.
fn aligned(old: &str, new: &str) {
    let column = |line: &str| {
        line.split_once("  #")
            .map(|(head, _)| head.chars().count() + 2)
    };
    let at: Vec<Option<usize>> = old.lines().map(column).collect();
    for ((line, was), new_line) in old.lines().zip(&at).zip(new.lines()) {
        let (Some(was), Some(now)) = (was, column(new_line)) else {
            continue;
        };
        if at.iter().filter(|other| **other == Some(*was)).count() > 1 {
            let head = new_line.split("  #").next().unwrap();
            let two = now == head.trim_end().chars().count() + 2;
            assert!(now == *was || now > *was && two, "{line}\n{new_line}");
        }
    }
}

#[test]
fn what_is_intensive_comes_out_the_same() {
    let mut random = Random(4);
    for _ in 0..200 {
        let text = plan(&mut random, true).text();
        let before = Plan::read(&text);
        let rescaling = rescale::rescale(&before, &Target::By(random.number())).unwrap();
        let there = apply(&text, &before, &rescaling.edits);
        let after = Plan::read(&there);
        for (old, new) in before.ledger.amounts.iter().zip(&after.ledger.amounts) {
            let (Ok(old), Ok(new)) = (&old.equivalents, &new.equivalents) else {
                continue;
            };
            let claim = (old.half_width + new.half_width).value + 1e-12;
            assert!(
                (old.value - new.value).value.abs() <= claim,
                "{text}\n{there}"
            );
        }
        let named: Vec<&str> = rescaling
            .left_alone
            .iter()
            .filter_map(|left| before.slice(left.at.line, left.at.span))
            .collect();
        assert_eq!(
            named,
            [
                "12 mmol", "25.0 g", "20 mL", "1250 mL", "5.0 mL/h", "2 mL", "2 drops", "5 mL"
            ]
        );
    }
}
