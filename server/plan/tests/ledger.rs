//! What the ledger makes of amounts that are missing, circular or impossible. The sums are simple enough
//! to be done in the head.

use plan::Plan;
use uom::si::amount_of_substance::millimole;

fn amount(plan: &Plan, key: &str) -> Result<f64, String> {
    let index = plan.materials.iter().position(|m| &*m.key.text == key);
    let amounts = index.and_then(|index| plan.ledger.amounts.get(index));
    match amounts.map(|amounts| &amounts.amount) {
        Some(Ok(known)) => Ok(known.value.get::<millimole>()),
        Some(Err(gap)) => Err(gap.to_string()),
        None => Err("no such line".to_owned()),
    }
}

#[test]
fn theory_is_not_known_where_a_reactant_is_not() {
    let plan = Plan::read(
        "plan a\nreaction a + b -> c\nmaterials\n  a: unobtainium, 2.00 g\n  b: nitrogen, 1.50 g\nproducts\n  c: ammonia\n",
    );
    assert!(amount(&plan, "b").is_ok());
    let gap = amount(&plan, "c").unwrap_err();
    assert!(gap.contains("without the amount of a"), "{gap}");
}

#[test]
fn what_is_in_excess_does_not_run_out() {
    let plan = Plan::read(
        "plan a\nscale 10.0 mmol b\nreaction a + b -> c\nmaterials\n  a: hydrogen, excess\n  b: ethylene, 1.00 eq\nproducts\n  c: ethane\n",
    );
    assert!((amount(&plan, "c").unwrap() - 10.0).abs() < 1e-9);
}

/// Nobody weighs the hydrogen of a balloon; what is measured counts.
#[test]
fn an_atmosphere_does_not_run_out() {
    let theory = |hydrogen: &str, step: &str| {
        let plan = Plan::read(&format!(
            "plan a\nscale 10.0 mmol b\nreaction a + b -> c\nmaterials\n  a: {hydrogen}\n  b: ethylene, 1.00 eq\nproducts\n  c: ethane\nsteps\n  {step}\n"
        ));
        amount(&plan, "c")
    };
    for hydrogen in [
        "hydrogen",
        "H2",
        "hydrogen, 1 balloon",
        "hydrogen balloon",
        "hydrogen, balloon",
        "hydrogen, 1 atm",
    ] {
        let theory = theory(hydrogen, "fill flask with a");
        assert!((theory.unwrap() - 10.0).abs() < 1e-9, "{hydrogen}");
    }
    assert!((theory("hydrogen, 4.00 mmol", "stir").unwrap() - 4.0).abs() < 1e-9);
    assert!(theory("hydrogen", "add a 20 mL").unwrap() < 1.0);
}

#[test]
fn a_scale_in_product_is_counted_back_through_yield_and_coefficients() {
    let plan = Plan::read(
        "plan a\nscale 2.00 mmol b\nreaction a -> 2 b\nmaterials\n  a: C2H4, 1.00 eq\nproducts\n  b: CH2, expect 80 %\n",
    );
    // 2.00 mmol at 80 % are 2.50 mmol in theory, from 1.25 mmol of a.
    assert!((amount(&plan, "a").unwrap() - 1.25).abs() < 1e-9);
    assert!((amount(&plan, "b").unwrap() - 2.50).abs() < 1e-9);
}

#[test]
fn impossible_numbers_give_no_amount() {
    for line in [
        "a: water, MW 0, 5 g",
        "a: water, d 0, 5 mL",
        "a: water, 0 M in thf, 5 mmol",
        "a: water, 1.0 eq of a",
    ] {
        let plan = Plan::read(&format!("plan a\nmaterials\n  {line}\n"));
        for amounts in &plan.ledger.amounts {
            for value in [
                amounts.amount.as_ref().map(|known| known.value.value).ok(),
                amounts.mass.as_ref().map(|known| known.value.value).ok(),
                amounts.volume.as_ref().map(|known| known.value.value).ok(),
                amounts
                    .pure_mass
                    .as_ref()
                    .map(|known| known.value.value)
                    .ok(),
            ] {
                assert!(value.is_none_or(f64::is_finite), "{line}");
            }
        }
    }
}
