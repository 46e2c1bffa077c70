use super::*;
use crate::Plan;
use uom::si::volume::milliliter;

const HEAD: &str = "plan Test
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq
  thf: tetrahydrofuran, 40 mL
equipment
  flask: 100 mL two-neck flask
  funnel: 50 mL dropping funnel
  vial: 20 mL vial
  bar: stir bar
  sepfunnel: 250 mL separating funnel
steps
";

fn read(steps: &str) -> Plan {
    Plan::read(&format!("{HEAD}{steps}"))
}

/// The state of a vessel after the last step.
fn state<'a>(plan: &'a Plan, name: &str) -> &'a VesselState {
    let index = plan.apparatus.iter().position(|item| &*item.name == name);
    let found = plan
        .moments
        .last()
        .zip(index)
        .and_then(|(moment, index)| moment.after.get(index));
    found.map_or_else(|| panic!("no state of {name}"), |state| &**state)
}

#[track_caller]
fn glass(steps: &str, name: &str, want: impl Fn(&Glass) -> bool) {
    let plan = read(steps);
    let glass = &state(&plan, name).glass;
    assert!(want(glass), "{glass:?} after\n{steps}");
}

#[track_caller]
fn gas(steps: &str, name: &str, want: Option<(&str, Filling)>) {
    let plan = read(steps);
    let have = match &state(&plan, name).gas {
        Gas::Filled { gas, how, .. } => Some((&**gas, *how)),
        _ => None,
    };
    assert_eq!(have, want, "after\n{steps}");
}

#[track_caller]
fn volume(plan: &Plan, name: &str, want: Option<f64>) {
    let have = state(plan, name)
        .volume(&plan.materials)
        .map(|volume| volume.get::<milliliter>());
    let same = match (have, want) {
        (Some(have), Some(want)) => (have - want).abs() < 1e-6,
        (have, want) => have == want,
    };
    assert!(same, "{name} holds {have:?} mL, not {want:?}");
}

#[test]
fn an_oven_dries_what_the_step_names() {
    let steps = "dry flask, bar at 125 °C overnight\n";
    for name in ["flask", "bar"] {
        glass(steps, name, |glass| matches!(glass, Glass::Oven { .. }));
    }
    glass(steps, "vial", |glass| *glass == Glass::Unknown);
    glass("bake at 140 °C for 4 h\n", "flask", |glass| {
        matches!(glass, Glass::Oven { .. })
    });
    glass("heat flask to 150 °C under vacuum\n", "flask", |glass| {
        matches!(glass, Glass::Oven { .. })
    });
}

#[test]
fn drying_a_reagent_dries_no_glass() {
    let steps = "add ketone\ndry ketone under vacuum at 40 °C, for 2 h\n";
    glass(steps, "flask", |glass| *glass == Glass::Unknown);
    assert!(matches!(
        state(&read(steps), "flask").gas,
        Gas::Vacuum { .. }
    ));
    gas(
        &format!("{steps}cool to rt under argon\n"),
        "flask",
        Some(("argon", Filling::Cycles)),
    );
}

#[test]
fn a_flame_dries_and_takes_the_air_out() {
    let steps = "flame-dry flask under argon\n";
    glass(steps, "flask", |glass| matches!(glass, Glass::Flame { .. }));
    gas(steps, "flask", Some(("argon", Filling::Flame)));
    assert!(state(&read("flame-dry flask under vacuum\n"), "flask").is_inert());
    assert!(!state(&read("flame-dry flask\n"), "flask").is_inert());
}

#[test]
fn a_rinse_wets_until_it_is_gone() {
    let rinsed = "dry flask, bar at 125 °C\nwash flask, bar with acetone\n";
    glass(
        rinsed,
        "flask",
        |glass| matches!(glass, Glass::Rinsed(rinse) if &*rinse.solvent == "acetone" && rinse.was_dry),
    );
    glass(rinsed, "bar", |glass| matches!(glass, Glass::Rinsed(_)));
    glass(
        "wash flask with acetone\n",
        "flask",
        |glass| matches!(glass, Glass::Rinsed(rinse) if !rinse.was_dry),
    );
    glass(&format!("{rinsed}drain flask\n"), "flask", |glass| {
        matches!(glass, Glass::Drained(_))
    });
    glass(&format!("{rinsed}drain flask\n"), "bar", |glass| {
        matches!(glass, Glass::Rinsed(_))
    });
    for gone in [
        "air-dry flask for 15 min",
        "purge flask with argon for 5 min",
        "evacuate flask for 10 min",
    ] {
        glass(&format!("{rinsed}{gone}\n"), "flask", |glass| {
            *glass == Glass::AirDried
        });
    }
    let steps = "wash flask with acetone\nadd ketone\ndry ketone under vacuum at 40 °C, for 2 h\n";
    glass(steps, "flask", |glass| *glass == Glass::AirDried);
    for stays in [
        "purge flask with argon for 1 min",
        "evacuate and refill flask with argon, 3 cycles, 1 mbar",
    ] {
        glass(&format!("{rinsed}{stays}\n"), "flask", |glass| {
            matches!(glass, Glass::Rinsed(_))
        });
    }
    glass(
        &format!("{rinsed}dry flask at 125 °C\n"),
        "flask",
        |glass| matches!(glass, Glass::Oven { .. }),
    );
}

#[test]
fn the_gas_is_what_the_steps_say() {
    gas("add bar\n", "flask", None);
    gas(
        "purge with argon for 5 min\n",
        "flask",
        Some(("argon", Filling::Flow)),
    );
    gas(
        "purge flask, vial with argon for 5 min\n",
        "vial",
        Some(("argon", Filling::Flow)),
    );
    gas(
        "purge flask with argon, 3 cycles, 1 mbar\n",
        "flask",
        Some(("argon", Filling::Cycles)),
    );
    gas(
        "evacuate and refill with nitrogen, 3 cycles, 1 mbar\n",
        "flask",
        Some(("nitrogen", Filling::Cycles)),
    );
    gas(
        "stir for 5 min, under argon\n",
        "flask",
        Some(("argon", Filling::Said)),
    );
    // What was purged stays so, whatever gas is named after.
    gas(
        "purge with nitrogen for 5 min\nstir for 5 min, under argon\n",
        "flask",
        Some(("argon", Filling::Flow)),
    );
    gas(
        "evacuate for 5 min\ncool to rt under argon\n",
        "flask",
        Some(("argon", Filling::Cycles)),
    );
    gas("purge with argon for 5 min\nopen flask\n", "flask", None);
    gas(
        "purge with argon for 5 min\nadd ketone in air\n",
        "flask",
        None,
    );
    gas(
        "purge with argon for 5 min\nin air\nadd ketone\n",
        "flask",
        None,
    );
    gas(
        "in glovebox\nadd ketone\nout of glovebox\nstir for 1 h\n",
        "flask",
        Some(("the glovebox's gas", Filling::Flow)),
    );
}

#[test]
fn a_cool_after_the_oven_means_all_that_was_in_it() {
    let steps = "dry flask, vial, bar at 125 °C overnight\ncool to rt under argon\n";
    for name in ["flask", "vial"] {
        gas(steps, name, Some(("argon", Filling::Said)));
    }
    // The next one is about the flask alone.
    let more = format!("{steps}cool to 0 °C under nitrogen\n");
    gas(&more, "vial", Some(("argon", Filling::Said)));
    gas(
        "dry flask, vial at 125 °C\ncool vial to rt under argon\n",
        "flask",
        None,
    );
}

#[test]
fn what_is_assembled_shares_its_gas() {
    let steps = "assemble flask, funnel hot under argon\n";
    gas(steps, "funnel", Some(("argon", Filling::Said)));
    gas(
        &format!("{steps}evacuate and refill with argon, 3 cycles, 1 mbar\n"),
        "funnel",
        Some(("argon", Filling::Cycles)),
    );
    gas(&format!("{steps}open flask\n"), "funnel", None);
    gas(steps, "vial", None);
}

#[test]
fn openings_follow_the_steps() {
    let opening = |steps: &str| state(&read(steps), "flask").opening;
    assert_eq!(opening("add bar\n"), Opening::Unsaid);
    assert_eq!(opening("vent through bubbler\n"), Opening::Vented);
    assert!(matches!(opening("seal flask\n"), Opening::Closed { .. }));
    assert!(matches!(opening("close flask\n"), Opening::Closed { .. }));
    assert!(!matches!(opening("close bar\n"), Opening::Closed { .. }));
    assert_eq!(opening("seal flask\nopen flask\n"), Opening::Open);
}

#[test]
fn transfers_move_contents() {
    let plan = read(
        "in vial\ndissolve ketone in thf 4 mL\nin flask\nadd thf 20 mL\ntransfer vial to flask\n",
    );
    volume(&plan, "vial", Some(0.0));
    volume(&plan, "flask", Some(24.0));
    let names: Vec<_> = state(&plan, "flask")
        .contents
        .iter()
        .map(|content| content.name(&plan.materials))
        .collect();
    assert_eq!(names, ["thf", "ketone"]);
    let moved = plan.moments.last().map(|moment| moment.additions.len());
    assert_eq!(moved, Some(2));
}

#[test]
fn a_transfer_that_names_no_source_is_from_the_vessel_in_hand() {
    for step in ["transfer to sepfunnel", "pour into sepfunnel"] {
        let plan = read(&format!("in flask\nadd thf 20 mL, ketone\n{step}\n"));
        volume(&plan, "flask", Some(0.0));
        volume(&plan, "sepfunnel", Some(20.0));
        assert_eq!(state(&plan, "sepfunnel").contents.len(), 2, "{step}");
        // What is unclear stays so.
        let plan = read(&format!("in flask\nadd thf 20 mL\nseparate\n{step}\n"));
        volume(&plan, "sepfunnel", None);
    }
    // Nothing but liquid goes through a filter, and how much of it is not told.
    for step in ["filter into vial", "filter flask into vial"] {
        let plan = read(&format!("in flask\nadd thf 12 mL, ketone\n{step}\n"));
        volume(&plan, "vial", None);
        let names = |name| {
            let contents = state(&plan, name).contents.iter();
            let names = contents.map(|content| content.name(&plan.materials).to_owned());
            names.collect::<Vec<_>>()
        };
        assert_eq!(
            (names("vial"), names("flask")),
            (vec!["thf".into()], vec!["ketone".into()])
        );
        let peak = plan.moments.last().and_then(|moment| moment.peak);
        assert!(peak.is_some_and(|peak| (peak.get::<milliliter>() - 12.0).abs() < 1e-9));
    }
    // After a washing, which layer is still there is not known.
    let plan = read("in flask\nadd thf 20 mL\nwash organics with water 5 mL\nfilter into vial\n");
    assert_eq!(
        plan.moments.last().map(|moment| moment.peak.is_none()),
        Some(true)
    );
    // What is transferred is named, or no vessel is.
    let plan = read("in flask\nadd thf 20 mL\ntransfer base to vial\nstir\n");
    volume(&plan, "flask", Some(20.0));
    let plan = read("in flask\nadd thf 20 mL\npour flask into water 10 mL in sepfunnel\n");
    volume(&plan, "sepfunnel", Some(30.0));
    volume(&plan, "flask", Some(0.0));
}

#[test]
fn parts_of_a_vessel_are_parts_of_its_contents() {
    let plan = read("in funnel\nadd thf 20 mL\nin flask\ntransfer tenth of funnel to flask\n");
    volume(&plan, "funnel", Some(18.0));
    volume(&plan, "flask", Some(2.0));
    let plan = read(
        "in funnel\nadd thf 20 mL\nin flask\ntransfer tenth of funnel to flask\ntransfer rest of funnel to flask\n",
    );
    volume(&plan, "funnel", Some(0.0));
    volume(&plan, "flask", Some(20.0));
    let plan =
        read("in vial\nadd thf 10 mL\nin flask\ntransfer vial 6.25 mL to flask via syringe\n");
    volume(&plan, "vial", Some(3.75));
    volume(&plan, "flask", Some(6.25));
}

#[test]
fn a_rinse_into_a_vessel_brings_the_rinse() {
    let plan = read(
        "in vial\nadd thf 4 mL\nin flask\ntransfer vial to flask\nrinse vial with thf 1 mL into flask\n",
    );
    volume(&plan, "flask", Some(5.0));
    volume(&plan, "vial", Some(0.0));
}

#[test]
fn the_rest_of_a_reagent_is_what_is_left() {
    // 5.75 mmol at 2.5 M are 2.30 mL.
    let plan = read("add base 1.00 mL\nadd rest of base\n");
    let drawn: Vec<_> = plan
        .moments
        .iter()
        .flat_map(|moment| &moment.additions)
        .filter_map(|addition| addition.content.volume)
        .map(|volume| volume.get::<milliliter>())
        .collect();
    assert_eq!(drawn.len(), 2);
    assert!(
        drawn
            .iter()
            .zip([1.0, 1.3])
            .all(|(have, want)| (have - want).abs() < 1e-9),
        "{drawn:?}"
    );
    // One reagent is one thing in the flask, however often it was added.
    assert_eq!(state(&plan, "flask").contents.len(), 1);
    volume(&plan, "flask", Some(2.3));
}

#[test]
fn what_cannot_be_followed_is_unknown() {
    for step in [
        "extract with pentane, 3 x 20 mL",
        "separate",
        "concentrate at 40 °C, 50 mbar",
        "add nothingknown",
    ] {
        volume(&read(&format!("add thf 20 mL\n{step}\n")), "flask", None);
    }
    // And goes with the contents.
    let plan = read("add thf 20 mL\nseparate\ntransfer flask to sepfunnel\n");
    volume(&plan, "sepfunnel", None);
    volume(&plan, "flask", Some(0.0));
}

#[test]
fn a_washing_passes_through() {
    let plan = read("add thf 10 mL\nextract with pentane, 3 x 20 mL\n");
    let peak = plan
        .moments
        .last()
        .and_then(|moment| moment.peak)
        .map(|volume| volume.get::<milliliter>());
    assert!(
        peak.is_some_and(|peak| (peak - 30.0).abs() < 1e-9),
        "{peak:?}"
    );
    let plan = read(
        "add base\nwash ketone with pentane, 3 x 5 mL, settle for 2 min, decant into vial\nadd thf 20 mL\n",
    );
    volume(&plan, "flask", Some(22.3));
    volume(&plan, "vial", None);
}

#[test]
fn water_is_seen_in_its_solutions() {
    let aqueous = |steps: &str| {
        let plan = read(steps);
        state(&plan, "flask")
            .contents
            .iter()
            .any(|content| content.is_aqueous(&plan.materials))
    };
    for yes in [
        "add water 5 mL",
        "quench with sat. aq. NaHCO3 20 mL",
        "add brine 5 mL",
        "add 1 M HCl 5 mL",
        "add 15 wt% NaOH in water 5 mL",
    ] {
        assert!(aqueous(&format!("{yes}\n")), "{yes}");
    }
    for no in ["add thf 5 mL", "add base", "add ethanol 5 mL"] {
        assert!(!aqueous(&format!("{no}\n")), "{no}");
    }
}

#[test]
fn a_plan_without_equipment_has_a_flask() {
    let plan = Plan::read("plan Test\nmaterials\n  thf: tetrahydrofuran, 5 mL\nsteps\n  add thf\n");
    assert_eq!(&*plan.apparatus[0].name, "the flask");
    volume(&plan, "the flask", Some(5.0));
}

#[test]
fn what_met_water_is_quenched_until_it_is_emptied() {
    let quenched = |steps: &str, name: &str| state(&read(steps), name).quenched;
    assert_eq!(quenched("  add thf 20 mL\n  add base\n", "flask"), None);
    assert_eq!(
        quenched("  add base\n  quench with methanol 5 mL\n", "flask"),
        Some(14)
    );
    assert_eq!(
        quenched("  add base\n  add water 5 mL\n", "flask"),
        Some(14)
    );
    assert_eq!(
        quenched("  add base\n  wash organics with brine 5 mL\n", "flask"),
        Some(14)
    );
    assert_eq!(
        quenched("  add base\n  wash flask with water\n", "flask"),
        None
    );
    let poured = "  add water 5 mL\n  transfer flask to sepfunnel\n";
    assert_eq!(quenched(poured, "flask"), None);
    assert_eq!(quenched(poured, "sepfunnel"), Some(13));
}

#[test]
fn a_sealed_vessel_stays_so_until_it_is_opened() {
    let opening = |step: &str| state(&read(&format!("  seal flask\n{step}")), "flask").opening;
    assert_eq!(
        opening("  add thf 5 mL, via syringe\n"),
        Opening::Closed { line: 13 }
    );
    assert_eq!(opening("  heat to 50 °C\n"), Opening::Closed { line: 13 });
    assert_eq!(opening("  add ketone\n"), Opening::Unsaid);
    assert_eq!(opening("  filter into vial\n"), Opening::Unsaid);
    assert_eq!(opening("  vent flask\n"), Opening::Vented);
}

#[test]
fn what_is_poured_onto_ice_has_met_water() {
    for (step, quenched) in [
        ("pour onto ice", true),
        ("pour onto crushed ice 50 g", true),
        ("pour into ice water", true),
        ("pour into water 20 mL", true),
        ("pour onto dry ice 50 g", false),
        ("pour onto thf 20 mL", false),
    ] {
        let plan = read(&format!("  add ketone, base\n  {step}\n"));
        assert_eq!(state(&plan, "flask").quenched.is_some(), quenched, "{step}");
    }
}

/// Which vessel the last step brings things into, and whether that is sure.
fn in_hand(equipment: &str, steps: &str) -> Option<(String, bool)> {
    let materials = "materials\n  thf: tetrahydrofuran, 40 mL\n  salt: sodium chloride, 1 g\n";
    let plan = Plan::read(&format!(
        "plan Test\n{materials}equipment\n{equipment}steps\n{steps}"
    ));
    let moment = plan.moments.last()?;
    let name = plan.apparatus.get(moment.vessel)?.name.to_string();
    Some((name, !moment.unsure))
}

#[test]
fn one_of_several_flasks_is_meant_only_where_the_plan_says_so() {
    let two = "  flaskA: 50 mL flask\n  flaskB: 50 mL flask\n  funnel: 20 mL dropping funnel\n";
    let sure = |name: &str, sure| Some((name.to_owned(), sure));
    assert_eq!(
        in_hand("  flask: 50 mL flask\n", "add salt\n"),
        sure("flask", true)
    );
    assert_eq!(in_hand(two, "add salt\n"), sure("flaskA", false));
    assert_eq!(
        in_hand(two, "dry flaskA, flaskB at 125 °C\nadd salt\n"),
        sure("flaskA", false)
    );
    let plain = "  flask: 50 mL flask\n  rotflask: 100 mL flask\n";
    assert_eq!(in_hand(plain, "add salt\n"), sure("flask", true));
    assert_eq!(
        in_hand(two, "purge with argon for 5 min\n"),
        sure("flaskA", false)
    );
    assert_eq!(
        in_hand(two, "purge flaskA with argon for 5 min\n"),
        sure("flaskA", true)
    );
    assert_eq!(in_hand(two, "stir for 1 h\n"), sure("flaskA", true));
    // Only one was handled.
    assert_eq!(
        in_hand(two, "dry flaskA at 125 °C\nadd salt\n"),
        sure("flaskA", true)
    );
    assert_eq!(
        in_hand(two, "dry flaskB at 125 °C\nadd salt\n"),
        sure("flaskA", false)
    );
    // The other is named wherever it is meant.
    assert_eq!(
        in_hand(two, "in flaskB\nadd thf 5 mL\nin flaskA\nadd salt\n"),
        sure("flaskA", true)
    );
    assert_eq!(
        in_hand(two, "add salt to flaskB\nadd thf 5 mL\n"),
        sure("flaskA", true)
    );
    assert_eq!(
        in_hand(two, "add salt to flaskA\nadd thf 5 mL\n"),
        sure("flaskA", true)
    );
}

#[test]
fn a_bath_of_ice_has_its_temperature() {
    for (step, want) in [
        ("cool in ice bath", 0.0),
        ("cool with an ice/water bath", 0.0),
        ("cool in a dry ice/acetone bath", -78.0),
        ("cool in dry ice bath", -78.0),
        ("cool to -20 °C in an ice bath", -20.0),
        // Too many liquids to know.
        ("cool in a dry ice/acetonitrile bath", 21.0),
        ("stir in an oil bath", 21.0),
        ("remove flask from ice bath", 21.0),
    ] {
        let plan = read(&format!("{step}\n"));
        let have = crate::vessel::celsius(state(&plan, "flask").temperature);
        assert!((have - want).abs() < 1e-9, "{step}: {have}");
    }
}

/// °C after the last step; none where the plan does not tell.
fn degrees(steps: &str) -> Option<f64> {
    let plan = read(steps);
    state(&plan, "flask").known_temperature().map(celsius)
}

#[test]
fn at_reflux_it_has_the_boiling_point_of_its_solvent() {
    // Tetrahydrofuran boils at 66 °C and hexane at 69 °C (CRC Handbook).
    let near = |steps: &str, want: f64| {
        let t = degrees(steps).unwrap_or_else(|| panic!("unknown after\n{steps}"));
        assert!((t - want).abs() < 1.0, "{t} °C after\n{steps}");
    };
    near("add thf 20 mL, ketone\nreflux for 2 h\n", 66.0);
    near("add thf 20 mL, ketone\nstir at reflux for 2 h\n", 66.0);
    near("add thf 20 mL\nreflux for 2 h\nadd ketone\n", 66.0);
    near("add thf 20 mL\nreflux for 2 h\ncool to 0 °C\n", 0.0);
    near("add thf 20 mL\nreflux for 2 h\ncool to rt\n", 21.0);
    near("add thf 20 mL, toluene 20 mL\nreflux for 2 h\n", 66.0);
    for steps in [
        // Nothing boils that is known.
        "add ketone\nreflux for 2 h\n",
        "add thf 20 mL\nconcentrate\nreflux for 2 h\n",
        // It cools, and the plan does not say to what.
        "add thf 20 mL\nreflux for 2 h\ncool\n",
        "add thf 20 mL\nreflux for 2 h\nlet stand for 1 h\n",
        "add thf 20 mL\nreflux for 2 h\nfilter\n",
    ] {
        assert_eq!(degrees(steps), None, "after\n{steps}");
    }
    // A solution in hexanes that the library has no boiling point for.
    assert_eq!(degrees("add base\nreflux for 2 h\n"), None);
}

#[test]
fn a_bath_or_a_limit_tells_the_temperature_where_it_cools() {
    for (steps, want) in [
        ("add thf 20 mL\ncool below -70 °C\n", Some(-70.0)),
        (
            "add thf 20 mL\ncool to -78 °C\ncool below -70 °C\n",
            Some(-78.0),
        ),
        ("add thf 20 mL, below 10 °C\n", Some(21.0)),
        ("add thf 20 mL\nstir for 1 h, bath -40 °C\n", Some(-40.0)),
        ("add thf 20 mL\nheat, bath 95 °C\n", None),
        ("add thf 20 mL\nheat for 1 h\n", None),
        ("cool under argon\n", Some(21.0)),
        ("add thf 20 mL\ncool in ice bath\nremove ice bath\n", None),
    ] {
        let have = degrees(steps);
        let same = match (have, want) {
            (Some(have), Some(want)) => (have - want).abs() < 1e-9,
            (have, want) => have == want,
        };
        assert!(same, "{have:?} after\n{steps}");
    }
}

#[test]
fn a_volume_against_a_mass_is_in_the_vessel() {
    // 5.00 mmol of 154.25 g/mol (CIAAW 2021) are 0.771 g.
    for (step, want) in [
        ("add water 10.0 mL/g of ketone", 7.713),
        ("add water, 10.0 mL/g of ketone", 7.713),
        ("add water 2 x 10.0 mL/g of ketone", 15.425),
        ("add thf 10.0 mL/g of ketone", 7.713),
        ("add water 2.0 mL/mmol", 10.0),
    ] {
        let plan = read(&format!("{step}\n"));
        let have = state(&plan, "flask")
            .volume(&plan.materials)
            .unwrap_or_default();
        let have = have.get::<milliliter>();
        assert!((have - want).abs() < 2e-3, "{step}: {have} mL");
    }
    volume(
        &read("add water 10 mL/g of thf\nadd water 1 mL/g of nothing\n"),
        "flask",
        None,
    );
}

// Oven temperatures for glass are 110 °C and more (common practice).
#[test]
fn a_cool_oven_dries_no_glass() {
    let oven = |glass: &Glass| matches!(glass, Glass::Oven { .. });
    for step in [
        "dry flask at 25 °C",
        "dry flask at rt",
        "bake flask at 60 °C for 4 h",
    ] {
        let plan = read(&format!("{step}\n"));
        assert_eq!(state(&plan, "flask").glass, Glass::Unknown, "{step}");
        assert_eq!(state(&plan, "flask").dried_too_cool, Some(13), "{step}");
        glass(
            &format!("wash flask with acetone\n{step}\n"),
            "flask",
            |glass| *glass == Glass::AirDried,
        );
    }
    let mended = read("dry flask at 25 °C\ndry flask at 125 °C for 4 h\n");
    assert!(state(&mended, "flask").is_dry());
    assert_eq!(state(&mended, "flask").dried_too_cool, None);
    let after = read("dry flask at 125 °C for 4 h\ndry flask at 25 °C\n");
    assert!(state(&after, "flask").is_dry());
    glass(
        "heat flask to 40 °C under vacuum for 10 min\n",
        "flask",
        |glass| !oven(glass),
    );
    glass("dry flask under vacuum at 40 °C overnight\n", "flask", oven);
    glass("dry flask under vacuum\n", "flask", oven);
    glass("dry flask\n", "flask", oven);
    glass("dry flask at 80 °C\n", "flask", oven);
}

#[test]
fn a_vessel_that_is_not_listed_is_no_other() {
    for steps in [
        "in vial\nadd thf 5 mL\nin pot\nadd thf 10 mL\n",
        "in vial\nadd thf 5 mL\nadd thf 10 mL to pot\n",
        "in vial\nadd thf 5 mL\nin pot\nadd thf 10 mL\ncool pot to 0 °C\n",
    ] {
        let plan = read(steps);
        volume(&plan, "vial", Some(5.0));
        volume(&plan, "pot", Some(10.0));
    }
    let plan = read("in vial\nadd thf 5 mL\nin pot\ncool pot to 0 °C\n");
    let degrees = |name| celsius(state(&plan, name).temperature);
    assert!((degrees("vial") - 21.0).abs() < 1e-9);
    assert!(degrees("pot").abs() < 1e-9);
    let plan = read("in pot\nadd thf 5 mL\ntransfer half of pot to flask\n");
    for name in ["pot", "flask"] {
        volume(&plan, name, Some(2.5));
    }
    let plan = read("in vial\nadd thf 5 mL\nin flask\ntransfer vial to pot\nadd thf 3 mL\n");
    for (name, want) in [("vial", 0.0), ("flask", 3.0), ("pot", 5.0)] {
        volume(&plan, name, Some(want));
    }
}

#[test]
fn a_slip_in_the_name_of_a_vessel_is_that_vessel() {
    volume(&read("in flusk\nadd thf 3 mL\n"), "flask", Some(3.0));
    // Twice the same is another name, and so is another number.
    volume(
        &read("in flusk\nadd thf 3 mL\nadd thf 1 mL to flusk\n"),
        "flusk",
        Some(4.0),
    );
    volume(&read("in viak\nadd thf 3 mL\n"), "viak", Some(3.0));
}

#[test]
fn a_bare_key_takes_what_the_portions_of_all_steps_leave() {
    let plan = read("  add thf to flask\n  in vial\n  add thf 8 mL\n  wash flask with thf 2 mL\n");
    volume(&plan, "flask", Some(30.0));
    volume(&plan, "vial", Some(8.0));
    // Nothing is left to take: how much was meant is not known.
    let plan = read("  add thf to flask\n  in vial\n  add thf 40 mL\n");
    volume(&plan, "flask", None);
}

#[test]
fn a_solution_of_a_solid_in_water_fills_a_vessel() {
    let text = HEAD.replace(
        "equipment",
        "  salt: potassium sodium tartrate, sat. aq., 40 mL\n  nah: sodium hydride, 60 wt% in mineral oil, 1.0 g\nequipment",
    );
    let plan = Plan::read(&format!("{text}  add thf 30 mL\n  add salt\n"));
    volume(&plan, "flask", Some(70.0));
    let plan = Plan::read(&format!("{text}  add thf 30 mL\n  add nah\n"));
    volume(&plan, "flask", Some(30.0));
}

#[test]
fn what_runs_in_from_another_vessel_leaves_a_seal() {
    let steps = "  in funnel\n  dissolve ketone in thf 5 mL\n  in flask\n  seal flask\n";
    let closed = |more: &str| {
        let plan = read(&format!("{steps}{more}"));
        matches!(state(&plan, "flask").opening, Opening::Closed { .. })
    };
    assert!(closed("  transfer funnel to flask\n"));
    assert!(!closed("  pour funnel into flask\n"));
    assert!(!closed("  open flask\n  transfer funnel to flask\n"));
}

#[test]
fn equipment_without_a_line_changes_no_vessel_and_funnels_hold_what_is_put_in() {
    let dried = "dry flask at 125 °C overnight\n";
    for step in [
        "wash frit with acetone",
        "rinse condenser with acetone 2 mL",
        "dry needles at 40 °C",
    ] {
        glass(&format!("{dried}{step}\n"), "flask", |glass| {
            matches!(glass, Glass::Oven { .. })
        });
    }
    let plan = read("add stir bar, thf 10 mL\nwash frit with thf 5 mL\n");
    volume(&plan, "flask", Some(10.0));
    assert!(!state(&plan, "flask").unclear);
    let other = "add thf 10 mL to addition funnel\nadd addition funnel to flask dropwise\n";
    let unlisted = HEAD.replace("  funnel: 50 mL dropping funnel\n", "");
    for (head, name) in [(HEAD, "funnel"), (&unlisted, "addition funnel")] {
        let (first, both) = (other.split('\n').next().unwrap_or_default(), other);
        let plan = |steps: &str| Plan::read(&format!("{head}{steps}\n"));
        volume(&plan(first), name, Some(10.0));
        volume(&plan(both), name, Some(0.0));
        volume(&plan(both), "flask", Some(10.0));
    }
}

#[test]
fn a_place_in_front_of_a_step_holds_for_its_line() {
    let plan = read(
        "in a beaker, dissolve ketone in thf 5 mL, add base\nin flask, cool to 0 °C\nadd thf 10 mL\n",
    );
    volume(&plan, "beaker", Some(7.3));
    volume(&plan, "flask", Some(10.0));
    assert!(celsius(state(&plan, "flask").temperature).abs() < 1e-9);
    assert!((celsius(state(&plan, "beaker").temperature) - 21.0).abs() < 1e-9);
    // Behind the verb it is as good.
    volume(
        &read("dissolve ketone in thf 5 mL in a beaker\n"),
        "beaker",
        Some(5.0),
    );
    // From the place to elsewhere.
    let plan = read("in a beaker, dissolve ketone in thf 5 mL, transfer to flask\n");
    volume(&plan, "flask", Some(5.0));
    volume(&plan, "beaker", Some(0.0));
}

#[test]
fn after_a_place_of_one_step_it_is_asked_where_the_next_one_is() {
    let flask = "  flask: 50 mL flask\n  vial: 20 mL vial\n";
    let sure = |steps: &str| in_hand(flask, steps);
    let is = |name: &str, sure| Some((name.to_owned(), sure));
    let front = "in vial, dissolve salt in thf 5 mL\n";
    assert_eq!(sure(front), is("vial", true));
    assert_eq!(sure(&format!("{front}add thf 1 mL\n")), is("flask", false));
    assert_eq!(
        sure(&format!("{front}transfer vial to flask\nadd thf 1 mL\n")),
        is("flask", true)
    );
    assert_eq!(
        sure(&format!("{front}in flask\nadd thf 1 mL\n")),
        is("flask", true)
    );
    assert_eq!(
        sure(&format!("{front}in flask, add salt\nadd thf 1 mL\n")),
        is("flask", true)
    );
    // What was in hand is in the vial, all of it.
    let moved = "add salt, thf 2 mL\ntransfer to vial\nin vial, add thf 5 mL\nadd thf 1 mL\n";
    assert_eq!(sure(moved), is("vial", true));
}

#[test]
fn what_a_thing_is_added_to_goes_in_where_nothing_has_put_it_there() {
    for step in [
        "to a solution of ketone in thf 20 mL add base\n",
        "add base to a stirred suspension of ketone in thf 20 mL\n",
        "add base to ketone dissolved in thf 20 mL\n",
        "dissolve ketone in thf 20 mL\nadd base to a solution of ketone in thf 20 mL\n",
        "dissolve ketone in thf 20 mL\nto the solution of ketone in thf add base\n",
        "add ketone\nadd base to a suspension of ketone in thf 20 mL\n",
        "to a solution of ketone in thf 20 mL add base 1.0 mL\nadd rest of base to ketone\n",
    ] {
        let plan = read(step);
        volume(&plan, "flask", Some(22.3));
        let ketone = state(&plan, "flask")
            .contents
            .iter()
            .find(|c| c.name(&plan.materials) == "ketone");
        let amount = ketone.and_then(|ketone| ketone.amount);
        let amount = amount.map(|amount| amount.get::<uom::si::amount_of_substance::millimole>());
        assert!(
            amount.is_some_and(|amount| (amount - 5.0).abs() < 1e-9),
            "{step}: {amount:?}"
        );
    }
    // So much of a liquid goes in, and what is poured onto water is not in it.
    volume(
        &read("add thf 5 mL\nadd ketone to thf 5 mL\n"),
        "flask",
        Some(10.0),
    );
    volume(
        &read("add thf 5 mL\npour flask onto water 5 mL\n"),
        "flask",
        Some(5.0),
    );
    // It is added where that stands.
    let plan =
        read("in vial\ndissolve ketone in thf 5 mL\nin flask\nadd thf 20 mL\nadd base to ketone\n");
    volume(&plan, "vial", Some(7.3));
    volume(&plan, "flask", Some(20.0));
    // Another volume than stands there: how much there is, nobody knows.
    let plan = read(
        "in vial\nadd thf 5 mL\nin flask\nadd ketone\nadd base to a solution of ketone in thf 20 mL\n",
    );
    volume(&plan, "flask", None);
}

#[test]
fn a_solution_that_is_added_comes_from_where_it_was_made() {
    for step in [
        "add the ketone solution to flask\n",
        "add the solution of ketone in thf to flask\n",
        "transfer the solution of ketone to flask\n",
    ] {
        let plan = read(&format!(
            "in vial\ndissolve ketone in thf 5 mL\nin flask\nadd thf 20 mL\n{step}"
        ));
        volume(&plan, "flask", Some(25.0));
        volume(&plan, "vial", Some(0.0));
    }
    // One that nothing has made is made now.
    volume(
        &read("add a solution of ketone in thf 5 mL to flask\n"),
        "flask",
        Some(5.0),
    );
    let plan = read("add thf 20 mL\ntransfer half of the mixture to vial\n");
    volume(&plan, "vial", None);
    volume(&plan, "flask", None);
}

#[test]
fn what_follows_a_step_is_a_step_or_comes_in_with_it() {
    let plan = read("add base to vial, followed by thf 2 mL\n");
    volume(&plan, "vial", Some(4.3));
    let plan = read("add thf 2 mL, followed by cooling to 0 °C\n");
    assert!(celsius(state(&plan, "flask").temperature).abs() < 1e-9);
}

#[test]
fn a_vessel_is_followed_by_whatever_it_is_called() {
    let plan = read(
        "in funnel\nadd thf 20 mL\nin flask\ntransfer half of funnel to flask\ntransfer rest of funnel to a second flask\ncool the second flask to 0 °C\n",
    );
    for name in ["flask", "second flask"] {
        volume(&plan, name, Some(10.0));
    }
    assert!(celsius(state(&plan, "second flask").temperature).abs() < 1e-9);
    assert!((celsius(state(&plan, "flask").temperature) - 21.0).abs() < 1e-9);
    let plan = read("in a second flame-dried flask, add thf 5 mL\nadd base to the second flask\n");
    volume(&plan, "second flame-dried flask", Some(7.3));
    // `dry` says how it is, and `tube` alone can be no other.
    let plan = read(
        "add thf 5 mL to a dry Schlenk tube\ncool the Schlenk tube to 0 °C\nadd base to the tube\n",
    );
    volume(&plan, "Schlenk tube", Some(7.3));
    assert!(celsius(state(&plan, "Schlenk tube").temperature).abs() < 1e-9);
    let plan =
        read("in a bottle\nadd water 5 mL\nin flask\nadd thf 20 mL\nquench into the bottle\n");
    volume(&plan, "bottle", Some(25.0));
    volume(&plan, "flask", Some(0.0));
    // A bottle that nothing goes into is one of the stock: what comes out of it, nobody knows.
    let plan = read("open the bottle\nadd thf 5 mL\nadd 5 mL from the bottle to flask\n");
    assert!(plan.apparatus.iter().all(|item| &*item.name != "bottle"));
    volume(&plan, "flask", None);
    // A funnel that is listed has its line, whatever it is called.
    volume(
        &read("add thf 5 mL\npour into a separatory funnel\n"),
        "sepfunnel",
        Some(5.0),
    );
}

#[test]
fn what_needs_its_contents_goes_on_where_all_of_them_were_poured() {
    let work_up = "add thf 20 mL\npour into sepfunnel\nquench with water 10 mL\nstir for 1 min\n";
    let plan = read(work_up);
    volume(&plan, "sepfunnel", Some(30.0));
    volume(&plan, "flask", Some(0.0));
    let plan = read("add thf 20 mL\npour into sepfunnel, cool to 0 °C\n");
    assert!(celsius(state(&plan, "sepfunnel").temperature).abs() < 1e-9);
    // What brings something in, and what is done with glass, says nothing of the kind; nor is half of it all.
    for steps in [
        "add thf 20 mL\npour into sepfunnel\nadd base\n",
        "add thf 20 mL\npour into sepfunnel\nwash flask with water 2 mL\nadd base\n",
        "add thf 20 mL\ntransfer half of flask to sepfunnel\nquench with base\n",
    ] {
        let plan = read(steps);
        let base = |name| {
            let contents = state(&plan, name).contents.iter();
            contents
                .filter(|content| content.name(&plan.materials) == "base")
                .count()
        };
        assert_eq!((base("flask"), base("sepfunnel")), (1, 0), "{steps}");
    }
}

#[test]
fn what_is_dissolved_is_dissolved_where_it_is() {
    let plan = read("add ketone to vial\ndissolve ketone in thf 5 mL\n");
    volume(&plan, "vial", Some(5.0));
    volume(&plan, "flask", Some(0.0));
    let plan = read("add half of ketone to vial\ndissolve ketone in thf 5 mL\n");
    volume(&plan, "flask", Some(5.0));
}

#[test]
fn a_step_may_say_in_passing_how_its_glass_was_dried() {
    let oven = |glass: &Glass| matches!(glass, Glass::Oven { .. });
    glass("add thf 5 mL to an oven-dried flask\n", "flask", oven);
    glass(
        "to the flame-dried flask, add thf 5 mL\n",
        "flask",
        |glass| matches!(glass, Glass::Flame { .. }),
    );
    glass("add thf 5 mL to a dry flask\n", "flask", |glass| {
        *glass == Glass::Unknown
    });
    // It is still wet.
    glass(
        "rinse flask with acetone\nadd thf 5 mL to the oven-dried flask\n",
        "flask",
        |glass| matches!(glass, Glass::Rinsed(_)),
    );
    let plan = read("to an oven-dried Schlenk tube add thf 5 mL\n");
    let tube = plan
        .apparatus
        .iter()
        .find(|item| &*item.name == "Schlenk tube");
    assert_eq!(
        tube.map(|item| &*item.lower),
        Some("oven-dried schlenk tube")
    );
}

#[test]
fn combining_and_filling_bring_in_what_they_name() {
    let plan = read("combine ketone, base and thf 10 mL\n");
    volume(&plan, "flask", Some(12.3));
    volume(&read("add thf 10 mL\ncombine organics\n"), "flask", None);
    let plan = read("fill funnel with a solution of ketone in thf 10 mL\nadd funnel to flask\n");
    volume(&plan, "flask", Some(10.0));
    gas(
        "fill flask with argon\n",
        "flask",
        Some(("argon", Filling::Flow)),
    );
}

#[test]
fn what_is_weighed_into_a_vessel_is_in_it() {
    let holds = |steps: &str, name: &str| state(&read(steps), name).contents.len();
    assert_eq!(holds("weigh ketone into flask\n", "flask"), 1);
    assert_eq!(holds("weigh ketone\n", "flask"), 0);
    assert_eq!(
        holds("weigh out ketone (0.50 g) and add to vial\n", "vial"),
        1
    );
    // It goes on from there.
    let both = "weigh ketone into vial\nadd ketone to flask\n";
    assert_eq!((holds(both, "vial"), holds(both, "flask")), (0, 1));
    let plan = read(both);
    let amount = state(&plan, "flask").contents[0].amount;
    assert!(amount.is_some_and(|amount| amount.value > 0.004));
}

#[test]
fn what_comes_out_of_the_oven_is_dry() {
    let oven = |glass: &Glass| matches!(glass, Glass::Oven { .. });
    glass("take the flask from the oven\n", "flask", oven);
    glass("remove flask from the drying oven\n", "flask", oven);
}

#[test]
fn a_sample_leaves_the_rest() {
    let steps = "add thf 10 mL\nremove 1 mL of the mixture for GC\n";
    volume(&read(steps), "flask", Some(9.0));
    volume(
        &read("add thf 10 mL\ntake half of flask\n"),
        "flask",
        Some(5.0),
    );
    volume(
        &read("add thf 10 mL\ntake an aliquot for NMR\n"),
        "flask",
        Some(10.0),
    );
    volume(
        &read("add thf 10 mL\nremove flask from ice bath\n"),
        "flask",
        Some(10.0),
    );
}

#[test]
fn the_supernatant_goes_and_the_solid_stays() {
    let salt = "add sodium chloride 1 g, thf 10 mL to vial\n";
    for step in [
        "transfer supernatant of vial to flask",
        "transfer liquid of vial to flask",
        "in vial\ntransfer the supernatant to flask",
    ] {
        let plan = read(&format!("{salt}{step}\n"));
        let (vial, flask) = (state(&plan, "vial"), state(&plan, "flask"));
        let name = |state: &VesselState| {
            let names = state.contents.iter().map(|one| one.name(&plan.materials));
            names.map(str::to_owned).collect::<Vec<_>>()
        };
        assert_eq!(name(vial), ["sodium chloride"], "{step}");
        assert_eq!(name(flask), ["thf"], "{step}");
        assert!(vial.unclear && flask.unclear, "{step}");
    }
}

#[test]
fn what_was_dissolved_goes_with_the_supernatant() {
    let dissolved = "in vial\ndissolve sodium chloride 1 g in thf 10 mL\n";
    let plan = read(&format!("{dissolved}transfer the supernatant to flask\n"));
    assert_eq!(state(&plan, "vial").contents.len(), 0);
    assert_eq!(state(&plan, "flask").contents.len(), 2);
}

#[test]
fn a_gas_has_one_name() {
    let purged = |gas: &str| format!("purge flask with {gas}\n");
    for (written, name) in [
        ("N2", "nitrogen"),
        ("Ar", "argon"),
        ("H2", "hydrogen"),
        ("O2", "oxygen"),
        ("argon", "argon"),
    ] {
        gas(&purged(written), "flask", Some((name, Filling::Flow)));
        gas(
            &format!("{}stir under {written}\n", purged("helium")),
            "flask",
            Some((name, Filling::Flow)),
        );
    }
    let plan = read(&purged("O2"));
    assert!(!state(&plan, "flask").is_inert());
    let nitrogen = "evacuate and refill with nitrogen\n";
    for step in [
        "heat to 60 °C under a hydrogen balloon for 4 h",
        "attach a balloon of hydrogen",
        "attach a hydrogen balloon to flask",
    ] {
        let steps = format!("{nitrogen}{step}\n");
        gas(&steps, "flask", Some(("hydrogen", Filling::Cycles)));
    }
    // It says nothing of the air in the flask.
    gas("attach an argon balloon\n", "flask", None);
}

#[test]
fn a_filtrate_goes_where_its_rinse_goes() {
    let steps = "add ketone, thf 10 mL to flask\nin flask\n";
    let filter = "filter through Celite, rinse with pentane 5 mL, into sepfunnel\n";
    let plan = read(&format!("{steps}{filter}"));
    let names: Vec<_> = state(&plan, "sepfunnel")
        .contents
        .iter()
        .map(|one| one.name(&plan.materials).to_owned())
        .collect();
    assert!(names.contains(&"thf".to_owned()), "{names:?}");
    assert!(names.contains(&"pentane".to_owned()), "{names:?}");
    assert!(state(&plan, "sepfunnel").unclear);
}

#[test]
fn steps_are_in_the_glovebox_until_it_is_left() {
    let plan =
        read("in glovebox\nadd ketone\nseal flask\nout of glovebox\nopen flask\nadd thf 10 mL\n");
    let inside: Vec<bool> = plan.moments.iter().map(|moment| moment.glovebox).collect();
    assert_eq!(inside, [true, true, false, false]);
}

#[test]
fn a_cold_bath_is_as_cold_as_its_name_says() {
    let cold = |step: &str| {
        let plan = read(&format!("add thf 10 mL\n{step}\n"));
        state(&plan, "flask").known_temperature().map(celsius)
    };
    let near = |have: Option<f64>, want: f64| have.is_some_and(|have| (have - want).abs() < 0.01);
    assert!(near(cold("cool in dry ice/acetone"), -78.0));
    assert!(near(cold("freeze in liquid nitrogen"), -196.0));
    assert!(near(cold("cool in LN2"), -196.0));
    assert_eq!(cold("freeze in liquid nitrogen\nthaw"), None);
}

/// Worked out by hand: `thf` is 40 mL, of which 10 mL are there.
#[test]
fn filling_up_to_a_volume_adds_what_is_missing() {
    for step in [
        "dilute to 30 mL with thf",
        "make up to 30 mL with thf",
        "top up with thf to 30 mL",
        "add thf to a total volume of 30 mL",
        "dilute to 30 mL with water",
        "dilute flask to 30 mL with thf",
    ] {
        let plan = read(&format!("add thf 10 mL\n{step}\n"));
        volume(&plan, "flask", Some(30.0));
        let added = plan.moments.last().and_then(|last| last.additions.last());
        let added = added.and_then(|addition| addition.content.volume);
        let millilitres = added.map(|volume| volume.get::<milliliter>().round());
        assert_eq!(millilitres, Some(20.0), "{step}");
    }
    // The rest is what that has left.
    let plan = read("add thf 10 mL\ndilute to 30 mL with thf\nin vial\nadd thf\n");
    volume(&plan, "vial", Some(10.0));
    // What is there is not known, or is more already.
    volume(
        &read("add thf 10 mL\nconcentrate\ndilute to 30 mL with thf\n"),
        "flask",
        None,
    );
    volume(
        &read("add thf 35 mL\ndilute to 30 mL with thf\n"),
        "flask",
        None,
    );
    // Nobody knows how much of each.
    volume(
        &read("add thf 10 mL\ndilute to 30 mL with thf, water\n"),
        "flask",
        None,
    );
}

#[test]
fn a_freezer_is_cold() {
    let celsius_after = |steps: &str| {
        let plan = read(steps);
        state(&plan, "flask").known_temperature().map(celsius)
    };
    for (step, want) in [
        ("keep in the freezer overnight", -20.0),
        ("leave in the freezer overnight", -20.0),
        ("leave flask in the fridge for 2 h", 4.0),
        ("store flask in the refrigerator overnight", 4.0),
        ("put flask in the freezer for 1 h", -20.0),
        ("keep in the freezer at -25 °C overnight", -25.0),
        // What is in its bottle there is in no flask.
        ("store base in the freezer", 21.0),
        ("keep base in the freezer", 21.0),
    ] {
        let found = celsius_after(&format!("add thf 10 mL\n{step}\n"));
        assert!(
            found.is_some_and(|t| (t - want).abs() < 0.01),
            "{step}: {found:?}"
        );
    }
    let out = "add thf 10 mL\nleave in the freezer overnight\nremove from the freezer\n";
    assert_eq!(celsius_after(out), None);
}

#[test]
fn what_waits_in_a_funnel_is_poured_from_it() {
    let steps = "charge funnel with ketone and thf 20 mL\nadd one tenth of the solution\n";
    let plan = read(steps);
    volume(&plan, "flask", Some(2.0));
    volume(&plan, "funnel", Some(18.0));
    let plan = read(&format!("{steps}add rest of the solution over 40 min\n"));
    volume(&plan, "flask", Some(20.0));
    volume(&plan, "funnel", Some(0.0));
    // Two solutions wait.
    let plan = read(&format!("add thf 10 mL to sepfunnel\n{steps}"));
    volume(&plan, "funnel", Some(20.0));
    volume(&plan, "flask", None);
    let plan = read("transfer base to funnel\nadd thf 10 mL\nadd base from funnel dropwise\n");
    volume(&plan, "flask", Some(12.3));
    volume(&plan, "funnel", Some(0.0));
}
