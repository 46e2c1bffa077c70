//! What the simulation of the steps keeps to, over generated steps: nothing is lost between vessels, and no step knows
//! what comes after it or stands in another plan.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use plan::Plan;
use plan::vessel::{Moment, VesselState};
use proptest::prelude::*;
use std::sync::Arc;
use uom::si::amount_of_substance::millimole;
use uom::si::volume::milliliter;

const HEAD: &str = "\
plan A
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 40 mL
  thf: tetrahydrofuran, 500 mL
  salt: lithium chloride, 1.0 g
  toluene: toluene, 500 mL
equipment
  flask: 1 L flask
  vial: 20 mL vial
  other: 100 mL vial
  funnel: 250 mL dropping funnel
steps
";

const VESSELS: [&str; 4] = ["flask", "vial", "other", "funnel"];

fn vessel() -> impl Strategy<Value = &'static str> {
    prop::sample::select(VESSELS.to_vec())
}

/// Steps that bring things in and move them; of each, all is known.
fn moving() -> impl Strategy<Value = String> {
    let liquid = prop::sample::select(vec!["thf", "toluene", "base"]);
    prop_oneof![
        3 => (liquid, 1..40u32, vessel()).prop_map(|(what, tenths, to)| format!(
            "add {what} {}.{} mL to {to}", tenths / 10, tenths % 10
        )),
        1 => vessel().prop_map(|to| format!("add ketone 0.10 mmol to {to}")),
        2 => (vessel(), vessel()).prop_map(|(from, to)| format!("transfer {from} to {to}")),
        2 => (vessel(), vessel()).prop_map(|(from, to)| format!("transfer half of {from} to {to}")),
        1 => (vessel(), vessel()).prop_map(|(from, to)| format!(
            "rinse {from} with thf 0.5 mL into {to}"
        )),
    ]
}

/// Any steps, those that make a vessel unclear among them.
fn any_step() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => moving(),
        1 => vessel().prop_map(|v| format!("purge {v} with argon for 5 min")),
        1 => vessel().prop_map(|v| format!("evacuate and refill {v} with argon, 3 cycles, 1 mbar")),
        1 => vessel().prop_map(|v| format!("open {v}")),
        1 => vessel().prop_map(|v| format!("in {v}")),
        1 => vessel().prop_map(|v| format!("meanwhile in {v}")),
        1 => vessel().prop_map(|v| format!("dry {v} at 125 °C for 2 h")),
        1 => vessel().prop_map(|v| format!("wash {v} with acetone")),
        1 => vessel().prop_map(|v| format!("filter into {v}, keep filtrate")),
        1 => Just("quench with water 10 mL".to_owned()),
        1 => Just("concentrate at 40 °C, 50 mbar".to_owned()),
        1 => Just("cool to 0 °C".to_owned()),
        1 => Just("dry thf over 3 Å sieves for 24 h".to_owned()),
        1 => vessel().prop_map(|to| format!("add salt to {to}")),
        1 => Just("dry salt under vacuum at 80 °C, 1 mbar, for 2 h".to_owned()),
    ]
}

fn read(steps: &[String]) -> Plan {
    let steps: String = steps.iter().map(|step| format!("  {step}\n")).collect();
    Plan::read(&format!("{HEAD}{steps}"))
}

fn held(states: &[Arc<VesselState>], of: impl Fn(&plan::vessel::Content) -> f64) -> f64 {
    let contents = states.iter().flat_map(|state| &state.contents);
    contents.map(of).sum()
}

/// Everything that a moment says, but for its places in the text.
fn said(moment: &Moment) -> String {
    format!("{moment:?}")
}

fn millilitres(materials: &str, steps: &str) -> Option<f64> {
    let text =
        format!("plan A\nmaterials\n{materials}equipment\n  flask: 100 mL flask\nsteps\n{steps}");
    let plan = Plan::read(&text);
    let state = plan.moments.last()?.after.first()?;
    Some(state.volume(&plan.materials)?.get::<milliliter>())
}

#[test]
fn drops_make_no_volume_unknown() {
    // 0.05 mL each.
    let thf = "  thf: tetrahydrofuran, 50 mL\n  dmf: DMF, 2 drops\n  acid: acetic acid\n";
    for (steps, wanted) in [
        ("  add thf, dmf\n", 50.1),
        ("  add thf\n  add acid 4 drops\n", 50.2),
        ("  add thf, dmf\n  add pyridine 1 drop\n", 50.15),
    ] {
        let volume = millilitres(thf, steps);
        assert!(
            volume.is_some_and(|v| (v - wanted).abs() < 1e-9),
            "{steps}: {volume:?}"
        );
    }
}

#[test]
fn what_rinses_down_the_walls_stays() {
    let thf = "  thf: tetrahydrofuran\n";
    for (rinse, wanted) in [
        ("rinse down the walls with thf 2 mL", 12.0),
        ("rinse down the walls of the flask with thf 2 mL", 12.0),
        ("rinse the flask with thf 2 mL", 10.0),
    ] {
        let volume = millilitres(thf, &format!("  add thf 10 mL\n  {rinse}\n"));
        assert!(
            volume.is_some_and(|v| (v - wanted).abs() < 1e-9),
            "{rinse}: {volume:?}"
        );
    }
}

#[test]
fn what_melts_in_the_hand_is_poured_where_it_is_measured_by_volume() {
    for (line, taken, wanted) in [
        ("tert-butanol, 40 mL", "add a", 60.0),
        ("tert-butanol", "add a 40 mL", 60.0),
        // Weighed, it is a solid.
        ("tert-butanol, 32 g", "add a", 20.0),
        ("naphthalene, 40 mL", "add a", 20.0),
    ] {
        let steps = format!("  {taken}\n  add water 20 mL\n");
        let volume = millilitres(&format!("  a: {line}\n"), &steps);
        assert!(
            volume.is_some_and(|v| (v - wanted).abs() < 1e-9),
            "{line}: {volume:?}"
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn nothing_is_lost_between_vessels(steps in prop::collection::vec(moving(), 1..40)) {
        let plan = read(&steps);
        let amount = |content: &plan::vessel::Content| content.amount.unwrap().get::<millimole>();
        let volume = |content: &plan::vessel::Content| {
            content.volume.map_or(0.0, |volume| volume.get::<milliliter>())
        };
        let drawn = |of: &dyn Fn(&plan::vessel::Content) -> f64| -> f64 {
            let additions = plan.moments.iter().flat_map(|moment| &moment.additions);
            additions.filter(|a| a.from.is_none()).map(|a| of(&a.content)).sum()
        };
        let last = &plan.moments.last().unwrap().after;
        prop_assert!(last.iter().all(|state| !state.unclear));
        for of in [&amount as &dyn Fn(&_) -> f64, &volume] {
            let (came, is) = (drawn(of), held(last, of));
            prop_assert!((came - is).abs() <= 1e-9 * came.max(1.0), "{came} came and {is} is there");
        }
    }

    #[test]
    fn a_step_knows_only_those_before_it(
        steps in prop::collection::vec(any_step(), 1..25),
        more in prop::collection::vec(any_step(), 1..5),
    ) {
        let short = read(&steps);
        let long = read(&[steps, more].concat());
        prop_assert!(long.moments.len() >= short.moments.len());
        for (index, (a, b)) in short.moments.iter().zip(&long.moments).enumerate() {
            prop_assert_eq!(said(a), said(b));
            prop_assert_eq!(short.air_left(index, a.vessel), long.air_left(index, a.vessel));
        }
        if let Some(last) = short.moments.len().checked_sub(1) {
            prop_assert_eq!(short.budget(last, last), long.budget(last, last));
        }
    }
}
