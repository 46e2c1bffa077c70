//! A rescaling never makes portions of more than their line lists, in the plan or in one of its runs, and every number
//! of it is close to the exact one.

#![allow(clippy::expect_used, clippy::unwrap_used)]

use plan::rescale::{Target, rescale};
use plan::{Plan, takes};
use proptest::prelude::{ProptestConfig, prop_assert, prop_assert_eq, proptest};
use rust_decimal::Decimal;
use std::path::Path;
use std::sync::OnceLock;
use syntax::Quantity;

/// 45 times 0.37 is 16.65 and 15 times it 5.55: rounded alone, 5.6 + 2 × 5.6 are more than 16.7.
const WITH_RUNS: &str = "\
plan A
scale 5.00 mmol a
materials
  a: benzyl alcohol, 1.00 eq
  dcm: dichloromethane, 45 mL
  w: water, 7 mL
equipment
  flask: 100 mL flask
  funnel: 100 mL separatory funnel
steps
  charge flask with a, dcm 15 mL and w 3 mL
  transfer flask to funnel
  in funnel
  extract aqueous with dcm, 2 x 15 mL
  wash organics with w, 2 x 2 mL
runs
  A: 2.00 mmol
  B: 20.0 mmol
";

fn plans() -> &'static [String] {
    static PLANS: OnceLock<Vec<String>> = OnceLock::new();
    PLANS.get_or_init(|| {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let folders = ["../../examples", "../syntax/tests/plans"];
        let files = folders
            .iter()
            .flat_map(|folder| std::fs::read_dir(root.join(folder)).unwrap())
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|ext| ext == "prep"));
        let read = files.map(|path| std::fs::read_to_string(path).unwrap());
        let mut plans: Vec<String> = read.chain([WITH_RUNS.to_owned()]).collect();
        plans.sort();
        plans.retain(|text| Plan::read(text).scale_quantity().is_some());
        plans
    })
}

fn rescaled(plan: &Plan, factor: Decimal) -> Option<String> {
    let rescaling = rescale(plan, &Target::By(factor)).ok()?;
    let mut text = plan.text.text.to_string();
    for (at, new) in rescaling.edits.iter().rev() {
        text.replace_range(plan.range(*at), new);
    }
    Some(text)
}

fn exceeding(plan: &Plan) -> usize {
    let found = checks::findings(plan).into_iter();
    let too_much = |finding: &checks::Finding| {
        finding.check == "portion-exceeds" || finding.message.contains("portion-exceeds")
    };
    found.filter(too_much).count()
}

/// The amounts of lines and portions, and whether one follows from others rather than standing by itself.
fn amounts(plan: &Plan) -> Vec<(Quantity, bool)> {
    let follows = |material: &plan::Material| material.stated.len() > 1;
    let lines = plan.materials.iter().flat_map(|material| {
        let stated = material.stated.iter().filter_map(|amount| amount.quantity);
        stated.map(move |quantity| (quantity, follows(material)))
    });
    let portions = takes::takes(&plan.text).filter_map(|take| {
        let (material, _) = plan.material(take.key()?)?;
        let quantity = take.quantity()?.1.quantity?;
        Some((quantity, follows(material)))
    });
    lines.chain(portions).collect()
}

fn half_digit(quantity: &Quantity) -> Decimal {
    let digit = 10f64.powi(quantity.number.last_digit) / 2.0;
    Decimal::try_from(digit).unwrap() * quantity.unit.factor
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn no_line_is_too_short_and_no_number_far_off(plan in 0..plans().len(), hundredths in 5i64..2000) {
        let before = Plan::read(&plans()[plan]);
        let factor = Decimal::new(hundredths, 2);
        let text = rescaled(&before, factor).expect("a rescaling");
        let after = Plan::read(&text);
        prop_assert!(exceeding(&after) <= exceeding(&before), "{}\n{}", factor, text);
        let (old, new) = (amounts(&before), amounts(&after));
        prop_assert_eq!(old.len(), new.len());
        for ((old, follows), (new, _)) in old.iter().zip(&new) {
            let base = |quantity: &Quantity| quantity.number.value * quantity.unit.factor;
            // Equivalents and the like do not scale.
            if base(old) == base(new) || old.unit.dimension != new.unit.dimension {
                continue;
            }
            let exact = base(old) * factor;
            let mut within = exact * Decimal::new(2, 2) + half_digit(new);
            if *follows {
                within += half_digit(old) * factor;
            }
            prop_assert!((base(new) - exact).abs() <= within, "{}: {:?} {:?}\n{}", factor, old, new, text);
        }
    }
}

#[test]
fn portions_that_are_taken_several_times_count_as_often() {
    let text = rescaled(&Plan::read(WITH_RUNS), Decimal::new(37, 2)).unwrap();
    assert!(text.contains("dichloromethane, 16.8 mL"), "{text}");
    assert!(text.contains("dcm, 2 x 5.6 mL"), "{text}");
    assert_eq!(exceeding(&Plan::read(&text)), 0, "{text}");
}
