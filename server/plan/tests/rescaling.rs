//! Rescaling keeps its promise on plans made of awkward numbers: only numbers that scale change, everything
//! intensive stays to the letter, and there and back is the old value to its last written digit.

use plan::Plan;
use plan::rescale::{self, Target};
use proptest::prelude::*;
use rust_decimal::Decimal;
use syntax::{Dimension, Quantity, find_quantities};

/// Numbers that are easy to get wrong, and any others.
fn number() -> impl Strategy<Value = String> {
    let awkward = prop::sample::select(vec![
        "5.01", "8", "0.097", "1250", "1000", "9.97", "20", "3", "0.10", "99.5", "1",
    ]);
    let any = (1u32..50_000, 0u32..5)
        .prop_map(|(mantissa, scale)| Decimal::new(mantissa.into(), scale).to_string());
    prop_oneof![awkward.prop_map(str::to_owned), any]
}

/// A plan with every kind of number that scales, and every kind that does not.
fn plan_text(n: &[String]) -> String {
    let [scale, eq, mass, volume, ratio, first, second, times, end] = n else {
        return String::new();
    };
    format!(
        "plan A 12 mmol run # 12 mmol\n\
         scale {scale} mmol a\n\
         materials\n\
         \x20 a: benzophenone, 1.00 eq\n\
         \x20 b: benzyl bromide, {eq} eq, d 1.44   # {eq} mmol\n\
         \x20 c: sodium chloride, {mass} g\n\
         \x20 d: tetrahydrofuran, {volume} mL, 10 ppm water\n\
         \x20 e: toluene, {ratio} mL/g\n\
         \x20 f: n-butyllithium, 2.5 M in hexanes, 10 mol%, took 5.01 mL\n\
         steps\n\
         \x20 add d {first} mL over 10 min, at 22 °C\n\
         \x20 evacuate and refill with argon, 3 cycles, 1 mbar\n\
         \x20 wash organics with water, 3 x {second} mL, until 2 mL of foam\n\
         \x20 add {times} mL of d via syringe pump at 5.0 mL/h\n\
         \x20 concentrate to {end} mL\n\
         \x20 note keep 5 mL aside\n"
    )
}

fn apply(text: &str, plan: &Plan, edits: &[(plan::At, String)]) -> String {
    let mut text = text.to_owned();
    for (at, new) in edits.iter().rev() {
        text.replace_range(plan.range(*at), new);
    }
    text
}

fn rescaled(text: &str, to: &str) -> Option<String> {
    let plan = Plan::read(text);
    let target = Target::To(syntax::read_quantity(&format!("{to} mmol"))?);
    let rescaling = rescale::rescale(&plan, &target).ok()?;
    Some(apply(text, &plan, &rescaling.edits))
}

fn quantities(text: &str) -> Vec<(Quantity, String)> {
    text.lines()
        .flat_map(|line| {
            let words = |q: &Quantity| line[q.span.start as usize..q.span.end as usize].to_owned();
            find_quantities(line)
                .into_iter()
                .map(move |q| (q, words(&q)))
        })
        .collect()
}

fn half_digit(quantity: &Quantity) -> Decimal {
    let last = quantity.number.last_digit;
    assert!(last <= 0);
    Decimal::new(5, last.unsigned_abs() + 1)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn there_and_back(numbers in prop::collection::vec(number(), 9), to in number()) {
        let text = plan_text(&numbers);
        let Some(there) = rescaled(&text, &to) else { return Ok(()) };
        let again = rescaled(&there, &numbers[0]).expect("the way back");
        let (start, there_q, again_q) = (quantities(&text), quantities(&there), quantities(&again));
        prop_assert_eq!(start.len(), there_q.len(), "{}\n{}", text, there);
        prop_assert_eq!(start.len(), again_q.len());
        let old: Decimal = numbers[0].parse().unwrap();
        let new = Plan::read(&there).scale_quantity().expect("a scale").1.number.value;
        for ((a, a_text), ((b, b_text), (c, c_text))) in start.iter().zip(there_q.iter().zip(&again_q)) {
            prop_assert_eq!(a.unit, b.unit);
            let scales = matches!(a.unit.dimension, Dimension::Amount | Dimension::Mass | Dimension::Volume);
            if !scales {
                prop_assert_eq!(a_text, b_text, "intensive, in\n{}", there);
                continue;
            }
            prop_assert!((a.number.value - c.number.value).abs() <= half_digit(a), "{a_text} {b_text} {c_text}\n{text}");
            // The very text, wherever the way there needed no digit more, lost nothing, and did not make a
            // whole number of a decimal one (137.0 times 20 is 2740, and that is 20 times 137).
            let same_form = (a.number.value.scale() == 0) == (b.number.value.scale() == 0);
            let exact = same_form && b.number.value * old == a.number.value * new;
            if exact && plan::digits::significant(&a.number) == plan::digits::significant(&b.number) {
                prop_assert_eq!(a_text, c_text);
            }
        }
    }

    #[test]
    fn only_numbers_that_scale_differ(numbers in prop::collection::vec(number(), 9), to in number()) {
        let text = plan_text(&numbers);
        let plan = Plan::read(&text);
        let target = Target::To(syntax::read_quantity(&format!("{to} mmol")).unwrap());
        let Ok(rescaling) = rescale::rescale(&plan, &target) else { return Ok(()) };
        let there = apply(&text, &plan, &rescaling.edits);
        // Comments, notes, `until`, measured values and rates stay, and are named.
        let named: Vec<&str> = rescaling.left_alone.iter().filter_map(|at| plan.slice(at.line, at.span)).collect();
        for words in ["12 mmol", "5.01 mL", "2 mL", "5.0 mL/h", "5 mL"] {
            prop_assert!(named.contains(&words), "{words} in {named:?}");
        }
        let after = Plan::read(&there);
        for (old, new) in plan.ledger.amounts.iter().zip(&after.ledger.amounts).take(2) {
            let (Ok(old), Ok(new)) = (&old.equivalents, &new.equivalents) else { continue };
            prop_assert!((old.value.value - new.value.value).abs() < 1e-12 * old.value.value.abs().max(1.0));
        }
        prop_assert_eq!(there.lines().count(), text.lines().count());
        for (a, b) in text.lines().zip(there.lines()) {
            let strip = |line: &str| line.chars().filter(|c| !c.is_ascii_digit() && *c != '.').collect::<String>();
            prop_assert_eq!(strip(a), strip(b));
        }
    }
}

#[test]
fn stated_amounts_that_follow_are_computed_anew() {
    let start = "plan A\nscale 5.00 mmol a\nmaterials\n  a: C10H18O, 1.00 eq, 771 mg\n  b: C19H18BrP, 1.20 eq, 2.14 g\n";
    // By hand: 357.231 × 1.20 × 10 mmol = 4.287 g, where twice the written 2.14 g would be 4.28 g.
    let there = rescaled(start, "10.0").unwrap();
    assert!(there.contains("1.20 eq, 4.29 g"), "{there}");
    assert!(there.contains("1.00 eq, 1543 mg"), "{there}");
    assert_eq!(rescaled(&there, "5.00").unwrap(), start);
    // Ten small moves are one big one.
    let mut text = start.to_owned();
    for step in [
        "5.37", "6.11", "7.77", "3.33", "9.01", "4.2", "8.88", "6.66", "7", "10.0",
    ] {
        text = rescaled(&text, step).unwrap();
    }
    assert!(text.contains("1.20 eq, 4.29 g"), "{text}");
}

#[test]
fn the_scale_written_on_its_line_stays_the_scale() {
    let start =
        "plan A\nscale 20 mmol a\nmaterials\n  a: acetophenone, 20 mmol\n  b: toluene, 20 mL\n";
    let there = rescaled(start, "41.6").unwrap();
    assert!(
        there.contains("scale 41.6 mmol a") && there.contains("acetophenone, 41.6 mmol"),
        "{there}"
    );
    assert!(there.contains("toluene, 42 mL"), "{there}");
}

#[test]
fn what_cannot_be_rescaled_says_why() {
    for (text, words) in [
        ("plan A\nmaterials\n  a: water, 5 mL\n", "no scale"),
        (
            "plan A\nscale 5 mmol a\nmaterials\n  a: unobtainium, 1.0 eq\n",
            "",
        ),
    ] {
        let plan = Plan::read(text);
        let target = Target::To(syntax::read_quantity("2 g").unwrap());
        let error = rescale::rescale(&plan, &target).unwrap_err().to_string();
        assert!(error.contains(words) && !error.is_empty(), "{error}");
    }
    for factor in ["0", "-2"] {
        let plan = Plan::read("plan A\nscale 5 mmol a\nmaterials\n  a: water, 1 eq\n");
        let target = Target::By(factor.parse().unwrap());
        assert!(rescale::rescale(&plan, &target).is_err());
    }
}
