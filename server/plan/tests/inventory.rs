//! A line that names a bottle takes from it what it does not state itself.

#![allow(clippy::unwrap_used, clippy::panic)]

use plan::inventory::Inventory;
use plan::{Amounts, Context, Determined, Kept, Plan};
use std::sync::Arc;
use syntax::Condition;
use uom::si::f64::Volume;
use uom::si::mass::gram;
use uom::si::volume::milliliter;

const BOTTLES: &str = r#"
[[bottle]]
name = "base-1"
substance = "n-butyllithium"
strength = "2.5 M in hexanes"
titre = "2.41 M"
density = 0.693
[[bottle]]
name = "acid-3"
substance = "benzoic acid"
assay = "98 %"
[[bottle]]
name = "thf-1"
substance = "tetrahydrofuran"
water = "12 ppm"
[[bottle]]
name = "broken"
substance = "n-butyllithium"
strength = "2.5"
"#;

fn plan(line: &str) -> Plan {
    let context = Context {
        inventory: Some(Arc::new(Inventory::read(BOTTLES))),
        ..Context::default()
    };
    let text = format!("plan A\nscale 10.0 mmol x\nmaterials\n  {line}\n");
    Plan::with_context(Arc::new(syntax::read_plan(&text)), &context)
}

fn amounts(line: &str) -> Amounts {
    plan(line).ledger.amounts.remove(0)
}

fn millilitres(volume: &Determined<Volume>) -> f64 {
    volume.as_ref().unwrap().value.get::<milliliter>()
}

/// 10.0 mmol is 10.0 / 2.41 mL of a solution of 2.41 mol/L, by the definition of concentration, and 0.693 g/mL
/// times that in grams.
#[test]
fn titre_and_density_come_from_the_bottle_and_say_so() {
    for line in [
        "x: n-butyllithium, bottle base-1, 1.00 eq",
        "x: n-butyllithium, 2.5 M in hexanes, bottle base-1, 1.00 eq",
    ] {
        let amounts = amounts(line);
        assert!(
            (millilitres(&amounts.volume) - 10.0 / 2.41).abs() < 1e-9,
            "{line}"
        );
        let mass = amounts.mass.as_ref().unwrap().value.get::<gram>();
        assert!((mass - 10.0 / 2.41 * 0.693).abs() < 1e-9, "{line}");
        let origin = amounts.volume.unwrap().origin.describe(0);
        assert!(origin.contains("titre of bottle base-1"), "{origin}");
        let origin = amounts.mass.unwrap().origin.describe(0);
        assert!(origin.contains("density of bottle base-1"), "{origin}");
    }
    let named = plan("x: n-butyllithium, bottle base-1, 1.00 eq");
    let material = named.materials.first().unwrap();
    assert_eq!(material.carrier.as_deref(), Some("hexanes"));
    assert!(material.diluted);
}

#[test]
fn what_the_line_states_rules() {
    let found = amounts("x: n-butyllithium, found 2.50 M, bottle base-1, 1.00 eq");
    assert!((millilitres(&found.volume) - 4.0).abs() < 1e-9);
    // Another strength is another bottle: neither its titre nor its density is taken.
    let other = amounts("x: n-butyllithium, 1.6 M in hexanes, bottle base-1, 1.00 eq");
    assert!((millilitres(&other.volume) - 6.25).abs() < 1e-9);
    let own = amounts("x: n-butyllithium, bottle base-1, d 0.70, 1.00 eq");
    let mass = own.mass.unwrap().value.get::<gram>();
    assert!((mass - 10.0 / 2.41 * 0.70).abs() < 1e-9);
}

/// A molar mass cancels: what is weighed of a bottle of 98 % is 1/0.98 of what is weighed of a pure one.
#[test]
fn an_assay_comes_from_the_bottle() {
    let mass = |line| amounts(line).mass.unwrap().value.get::<gram>();
    let pure = mass("x: benzoic acid, 1.00 eq");
    assert!((mass("x: benzoic acid, bottle acid-3, 1.00 eq") * 0.98 - pure).abs() < 1e-12);
    assert!((mass("x: benzoic acid, 99 %, bottle acid-3, 1.00 eq") * 0.99 - pure).abs() < 1e-12);
}

#[test]
fn water_comes_from_the_bottle() {
    let water = |line: &str| -> Vec<String> {
        let plan = plan(line);
        let conditions = plan.materials.first().unwrap().conditions.iter();
        conditions
            .filter_map(|(condition, at)| match condition {
                Condition::Water(quantity) => {
                    let place = plan.slice(at.line, at.span).unwrap();
                    Some(format!("{} at {place}", quantity.number.value))
                }
                _ => None,
            })
            .collect()
    };
    assert_eq!(
        water("x: tetrahydrofuran, bottle thf-1, 20 mL"),
        ["12 at bottle thf-1"]
    );
    assert_eq!(
        water("x: tetrahydrofuran, 8 ppm water, bottle thf-1, 20 mL"),
        ["8 at 8 ppm water"]
    );
}

/// A reagent is not taken as pure because its bottle cannot be found.
#[test]
fn a_bottle_that_is_not_there_gives_no_amount() {
    for (line, reason) in [
        (
            "x: n-butyllithium, bottle base-9, 1.00 eq",
            "the inventory has no bottle base-9",
        ),
        (
            "x: n-butyllithium, bottle broken, 1.00 eq",
            "bottle broken cannot be read",
        ),
    ] {
        let gap = amounts(line).volume.unwrap_err();
        assert!(gap.0.contains(reason), "{gap}");
    }
    let stated = amounts("x: n-butyllithium, 2.50 M in hexanes, bottle base-9, 1.00 eq");
    assert!((millilitres(&stated.volume) - 4.0).abs() < 1e-9);
    let alone =
        Plan::read("plan A\nscale 10.0 mmol x\nmaterials\n  x: benzoic acid, bottle 7, 1.00 eq\n");
    assert!(alone.ledger.amounts.first().unwrap().mass.is_ok());
}
