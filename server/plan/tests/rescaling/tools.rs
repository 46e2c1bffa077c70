//! Rounding to what the tools read: worked by hand, and the promise over generated plans and tools.

use super::generated::{Random, plan as generated};
use super::{apply, quantity};
use plan::rescale::{self, Rescaling, Target};
use plan::settings::Settings;
use plan::tools::Measure;
use plan::{Context, Kept, Plan};
use rust_decimal::Decimal;
use std::sync::Arc;
use syntax::Dimension;
use uom::si::mass::gram;
use uom::si::ratio::ratio;
use uom::si::volume::liter;

fn with_tools(text: &str, tools: &str) -> Plan {
    let settings = Settings::read(tools);
    assert!(
        settings.problems().is_empty(),
        "{tools}: {:?}",
        settings.problems()
    );
    let context = Context {
        settings: Arc::new(settings),
        ..Context::default()
    };
    Plan::with_context(Arc::new(syntax::read_plan(text)), &context)
}

fn measured(plan: &Plan, target: &Target) -> (String, Rescaling) {
    let rescaling = rescale::rescale_to_tools(plan, target).expect("a rescaling");
    (apply(&plan.text.text, plan, &rescaling.edits), rescaling)
}

const TEXT: &str = "\
plan A
scale 5.00 mmol a
materials
  a:    alpha, MW 154.253, 1.00 eq, 771 mg
  b:    beta, MW 357.231, 1.20 eq, 2.14 g, 6.00 mmol
  base: gamma, 2.50 M in hexanes, 1.35 eq, 2.70 mL
  cat:  delta, MW 100.0, 15.0 mol%
  dab:  epsilon, MW 100.0, 5.0 mol%
  thf:  tetrahydrofuran, 25 mL
  wash: water, 60 mL
steps
  add a, b, cat, dab
  add base 2.70 mL
  add thf
  wash with wash 30 mL
  wash with wash 30 mL
";

/// A balance that reads 10 mg; plastic syringes of 5 mL have a mark every 0.2 mL, cylinders of 50 mL one a mL.
const TOOLS: &str =
    "[tools]\nbalances = [\"10 mg\"]\nsyringes = [\"5 mL\"]\ncylinders = [\"50 mL\", \"100 mL\"]\n";

#[test]
fn amounts_worked_by_hand() {
    let (there, rescaling) = measured(&with_tools(TEXT, TOOLS), &Target::By(Decimal::ONE));
    // 771.265 mg are 770 mg, that is 4.9918 mmol, and 4.99 to the decimals of 5.00.
    assert!(there.contains("scale 4.99 mmol a"), "{there}");
    assert!(there.contains("1.00 eq, 770 mg"), "{there}");
    // 357.231 × 1.20 × 4.9918 mmol = 2.1399 g, up to 2.14 g; 2.14 g are 5.9905 mmol, and 5.99 over 4.9918 is 1.20.
    assert!(there.contains("1.20 eq, 2.14 g, 5.99 mmol"), "{there}");
    // 1.35 × 4.9918 mmol / 2.50 M = 2.696 mL, up to the next mark, 2.8 mL: 7.00 mmol, 1.402 eq.
    assert!(there.contains("1.40 eq, 2.8 mL"), "{there}");
    assert!(there.contains("add base 2.8 mL"), "{there}");
    // 15 mol% of 100.0 g/mol are 74.88 mg, and 70 mg are nearer than 80 mg: 0.700 mmol of 4.9918.
    // For 5 mol%, 24.96 mg, both 20 mg and 30 mg would be another loading.
    assert!(there.contains("14.0 mol%"), "{there}");
    assert!(there.contains("5.0 mol%"), "{there}");
    // What is taken twice is named and left to the digits.
    let notes = rescaling.notes.join("\n");
    assert!(notes.contains("wash is not rounded to a tool"), "{notes}");
    assert!(there.contains("wash with wash 30 mL"), "{there}");
    assert!(
        notes.contains("base 2.8 mL (5 mL plastic syringe): 1.402 eq"),
        "{notes}"
    );
}

#[test]
fn a_scale_in_grams_is_what_the_balance_reads() {
    let text = "plan A\nscale 1.234 g a\nmaterials\n  a: alpha, MW 100.0, 1.234 g\n  b: beta, MW 100.0, 2.0 eq, 2.468 g\n";
    let (there, _) = measured(&with_tools(text, TOOLS), &Target::By(Decimal::ONE));
    assert!(there.contains("scale 1.23 g a"), "{there}");
    assert!(there.contains("MW 100.0, 1.23 g"), "{there}");
    assert!(there.contains("2.0 eq, 2.46 g"), "{there}");
}

#[test]
fn less_of_the_limiting_reagent_than_the_balance_tells_is_refused() {
    let plan = with_tools(TEXT, TOOLS);
    let target = Target::To(quantity("0.02 mmol"));
    let why = rescale::rescale_to_tools(&plan, &target).expect_err("3 mg on 10 mg");
    assert!(why.to_string().contains("no tool reads a closely"), "{why}");
}

/// Balances and vessels in any number.
fn tools(random: &mut Random) -> String {
    let some = |random: &mut Random, of: &[&str]| {
        let mut chosen: Vec<String> = Vec::new();
        for words in of {
            if random.below(2) == 0 {
                chosen.push(format!("\"{words}\""));
            }
        }
        if chosen.is_empty() {
            chosen.push(format!("\"{}\"", random.one_of(of)));
        }
        chosen.join(", ")
    };
    format!(
        "[tools]\nbalances = [{}]\nglass-syringes = [{}]\nsyringes = [{}]\ncylinders = [{}]\n",
        some(
            random,
            &["0.1 mg to 220 g", "1 mg", "10 mg", "0.3 mg ± 0.6 mg"]
        ),
        some(
            random,
            &[
                "10 µL", "100 µL", "250 µL", "1 mL", "2.5 mL", "10 mL", "20 mL"
            ]
        ),
        some(random, &["1 mL", "2 mL", "5 mL", "10 mL", "20 mL", "50 mL"]),
        some(
            random,
            &["10 mL", "25 mL", "50 mL", "100 mL", "250 mL", "1 L"]
        ),
    )
}

fn base(measure: Measure) -> f64 {
    match measure {
        Measure::Mass(mass) => mass.get::<gram>(),
        Measure::Volume(volume) => volume.get::<liter>(),
    }
}

#[test]
fn the_promise_of_tools_holds() {
    let mut random = Random(7);
    let (mut checked, mut refused, mut in_excess, mut written, mut far) = (0, 0, 0, 0, 0);
    for number in 0..1000 {
        let text = generated(&mut random, false).text();
        let tools = tools(&mut random);
        let plan = with_tools(&text, &tools);
        let target = Target::To(quantity(&format!("{} mmol", random.number())));
        let Ok(rescaling) = rescale::rescale_to_tools(&plan, &target) else {
            refused += 1;
            continue;
        };
        let there = apply(&text, &plan, &rescaling.edits);
        let words = || {
            format!(
                "case {number}: {:?}\n{tools}\n{text}\n{there}",
                rescaling.measured
            )
        };
        let after = with_tools(&there, &tools);
        for found in &rescaling.measured {
            checked += 1;
            let marks = base(found.rounded) / base(found.division);
            assert!(
                (marks - marks.round()).abs() < 1e-6 && marks > 0.5,
                "{}",
                words()
            );
            let material = &plan.materials[found.material];
            let is_limiting = &*material.key.text == "a";
            let (was, is) = match (found.written, found.equivalents) {
                (Some(was), Some(is)) => (was.get::<ratio>(), is.get::<ratio>()),
                _ => (0.0, 0.0),
            };
            if is_limiting {
                assert!((is - was).abs() < 1e-9, "{}", words());
            } else if was > 1.0 {
                in_excess += 1;
                assert!(is >= was * (1.0 - 1e-8), "{}", words());
            }
            // What is written is what is measured, and the tool that measures it best reads it.
            let material = &after.materials[found.material];
            let stated = material
                .stated
                .iter()
                .filter_map(|amount| amount.quantity.as_ref());
            let of_kind = match found.rounded {
                Measure::Mass(_) => Dimension::Mass,
                Measure::Volume(_) => Dimension::Volume,
            };
            for stated in stated.filter(|stated| stated.unit.dimension == of_kind) {
                written += 1;
                let value = stated.number.value * stated.unit.factor;
                let off = f64::try_from(value).unwrap() / base(found.rounded) - 1.0;
                assert!(off.abs() < 1e-9, "{}", words());
            }
            if let Some(amounts) = after.ledger.amounts.get(found.material)
                && material
                    .stated
                    .iter()
                    .all(|amount| amount.quantity.is_some_and(|q| q.unit.dimension == of_kind))
                && let Some(reading) = after.reading(material, amounts)
            {
                assert_eq!(reading.tool.to_string(), found.tool, "{}", words());
            }
            // Nothing is moved by more than a tenth, nor further than to the next of its marks or written digits.
            let off = (base(found.rounded) - base(found.exact)).abs();
            let tenth = 0.1 * base(found.exact);
            assert!(off <= tenth * 1.000_001, "{}", words());
            // Two tools may each leave an amount to the other, as at the end of what a balance carries.
            far += usize::from(off > base(found.division).max(tenth / 2.0) * 1.000_001);
        }
    }
    assert!(
        checked > 2000 && in_excess > 170 && written > 1300 && refused < 200 && far * 100 < checked,
        "{checked} {in_excess} {written} {refused} {far}"
    );
}
