//! Every kind of goal, what is offered beside the edits, and what is refused.

use super::{apply, quantity, rescaled, rescaled_to};
use plan::inventory::Inventory;
use plan::rescale::{self, Place, Target};
use plan::{Context, Kept, Plan};
use rust_decimal::Decimal;
use std::sync::Arc;

/// Molar masses are written, so that everything below is worked by hand: 5.00 mmol of `a` are 1.00 g, 6.00 mmol of
/// `b` 3.00 g and of `p`, in theory, 1.25 g.
const PLAN: &str = "\
plan A
scale 5.00 mmol a
materials
  a:   alpha, MW 200.0, 1.00 eq, 1.00 g, bottle first
  b:   beta, MW 500.0, 1.20 eq, 3.00 g, 6.00 mmol, bottle second
  thf: tetrahydrofuran, 20 mL
products
  p: zeta, MW 250.0, 1.00 eq, expect 80 %
equipment
  flask: 100-mL flask
  syringe: 20 mL syringe
steps
  add a, b
  add thf 20 mL, via syringe
";

fn of(text: &str, key: &str, goal: &str) -> Target {
    let plan = Plan::read(text);
    let material = plan.materials.iter().position(|m| &*m.key.text == key);
    Target::Of {
        material: material.expect(key),
        quantity: quantity(goal),
    }
}

fn shelf(bottles: &str) -> Plan {
    let context = Context {
        inventory: Some(Arc::new(Inventory::read(bottles))),
        ..Context::default()
    };
    Plan::with_context(Arc::new(syntax::read_plan(PLAN)), &context)
}

fn refused(plan: &Plan, target: &Target) -> String {
    rescale::rescale(plan, target)
        .expect_err("a refusal")
        .to_string()
}

#[test]
fn stated_amounts_that_follow_are_computed_anew() {
    let start = "plan A\nscale 5.00 mmol a\nmaterials\n  a: C10H18O, 1.00 eq, 771 mg\n  b: C19H18BrP, 1.20 eq, 2.14 g\n";
    // By hand: 357.231 × 1.20 × 10 mmol = 4.287 g, where twice the written 2.14 g would be 4.28 g.
    let there = rescaled(start, "10.0 mmol");
    assert!(there.contains("1.20 eq, 4.29 g"), "{there}");
    assert!(there.contains("1.00 eq, 1543 mg"), "{there}");
    assert_eq!(rescaled(&there, "5.00 mmol"), start);
    // Ten small moves are one big one.
    let mut text = start.to_owned();
    for step in [
        "5.37", "6.11", "7.77", "3.33", "9.01", "4.2", "8.88", "6.66", "7", "10.0",
    ] {
        text = rescaled(&text, &format!("{step} mmol"));
    }
    assert!(text.contains("1.20 eq, 4.29 g"), "{text}");
}

#[test]
fn a_portion_that_is_all_of_a_line_is_computed_like_the_line() {
    let start = "plan A\nscale 5.00 mmol a\nmaterials\n  a: alpha, MW 200.0, 1.00 eq\n  b: beta, MW 357.231, 1.20 eq, 2.14 g\nsteps\n  add b 2.14 g\n";
    let there = rescaled(start, "10.0 mmol");
    assert!(
        there.contains("1.20 eq, 4.29 g") && there.contains("add b 4.29 g"),
        "{there}"
    );
}

#[test]
fn the_scale_written_on_its_line_stays_the_scale() {
    let start =
        "plan A\nscale 20 mmol a\nmaterials\n  a: acetophenone, 20 mmol\n  b: toluene, 20 mL\n";
    let there = rescaled(start, "41.6 mmol");
    assert!(
        there.contains("scale 41.6 mmol a") && there.contains("acetophenone, 41.6 mmol"),
        "{there}"
    );
    assert!(there.contains("toluene, 42 mL"), "{there}");
}

#[test]
fn the_plan_follows_any_material() {
    // 2.0 g of b are 4.00 mmol, for a scale of 3.333 mmol; 3.33 is off by less than a quarter of the last digit.
    let (there, rescaling) = rescaled_to(PLAN, &of(PLAN, "b", "2.0 g"));
    assert_eq!(rescaling.scale, "3.33 mmol");
    assert!(there.contains("1.20 eq, 2.00 g, 4.00 mmol"), "{there}");
    // By amount, and where the line has no such amount: 12 mmol of b are 6.00 g, for 10.0 mmol.
    assert_eq!(
        rescaled_to(PLAN, &of(PLAN, "b", "12 mmol")).1.scale,
        "10.0 mmol"
    );
    let (there, rescaling) = rescaled_to(PLAN, &of(PLAN, "thf", "50 mL"));
    assert_eq!(rescaling.scale, "12.5 mmol");
    assert!(there.contains("tetrahydrofuran, 50 mL"), "{there}");
    assert!(there.contains("add thf 50 mL"), "{there}");
    // A quarter of a gram of the scale's own material.
    assert_eq!(
        rescaled_to(PLAN, &of(PLAN, "a", "0.250 g")).1.scale,
        "1.25 mmol"
    );
    for (key, goal, words) in [
        ("b", "5 min", "an amount, a mass or a volume"),
        ("b", "2-3 g", "one number"),
        ("b", "0 g", "greater than zero"),
        ("b", "2 mL", "the amount of b is not known"),
    ] {
        let why = refused(&Plan::read(PLAN), &of(PLAN, key, goal));
        assert!(why.contains(words), "{goal}: {why}");
    }
}

#[test]
fn one_stated_amount_leads_and_the_others_of_its_line_follow() {
    let changed = PLAN.replace("3.00 g, 6.00 mmol", "4.50 g, 6.00 mmol");
    let target = Target::Line {
        material: 1,
        stated: 1,
    };
    let (there, rescaling) = rescaled_to(&changed, &target);
    assert_eq!(rescaling.scale, "7.50 mmol");
    assert!(there.contains("1.20 eq, 4.50 g, 9.00 mmol"), "{there}");
}

#[test]
fn a_product_is_expected_by_its_yield() {
    // 1.00 g of p, at 80 %, are 5.00 mmol in theory; 5.0 g are 25.0 mmol.
    let (_, rescaling) = rescaled_to(PLAN, &of(PLAN, "p", "5.0 g"));
    assert_eq!(rescaling.scale, "25.0 mmol");
    assert_eq!(
        rescaled_to(PLAN, &of(PLAN, "p", "20 mmol")).1.scale,
        "25.0 mmol"
    );
    assert_eq!(rescale::only_product(&Plan::read(PLAN)), Ok(3));
    let without = PLAN.replace(", expect 80 %", "");
    let why = refused(&Plan::read(&without), &of(&without, "p", "5.0 g"));
    assert!(why.contains("`expect 80 %`"), "{why}");
    let none = Plan::read("plan A\nscale 5 mmol a\nmaterials\n  a: alpha, 1 eq\n");
    assert!(rescale::only_product(&none).is_err());
}

#[test]
fn bottles_set_the_limit() {
    // 2.5 g of a go 2.5 times as far, 6.3 g of b 2.1 times.
    let bottles = "[[bottle]]\nname = \"first\"\nsubstance = \"alpha\"\nleft = \"2.5 g\"\n[[bottle]]\nname = \"second\"\nsubstance = \"beta\"\nleft = \"6.3 g\"\n";
    let plan = shelf(bottles);
    let of_first = rescale::rescale(&plan, &Target::Bottle { material: 0 }).expect("a rescaling");
    assert_eq!(of_first.scale, "12.5 mmol");
    let most = rescale::rescale(&plan, &Target::Bottles).expect("a rescaling");
    assert_eq!(most.scale, "10.5 mmol");
    assert_eq!(
        most.limit.as_deref(),
        Some("bottle second sets the limit: 6.3 g left")
    );
    // Never more than there is: 3.333 mmol, not 3.334.
    let plan = shelf(&bottles.replace("6.3 g", "2.0003 g"));
    let most = rescale::rescale(&plan, &Target::Bottles).expect("a rescaling");
    assert_eq!(most.scale, "3.333 mmol");
    // What is not known is said.
    let plan = shelf(&bottles.replace("left = \"6.3 g\"\n", ""));
    let most = rescale::rescale(&plan, &Target::Bottles).expect("a rescaling");
    assert_eq!(most.scale, "12.5 mmol");
    assert!(
        most.notes[0].contains("bottle second is not known"),
        "{most:?}"
    );
    assert!(refused(&plan, &Target::Bottle { material: 1 }).contains("add `left`"));
    assert!(refused(&plan, &Target::Bottle { material: 2 }).contains("names no bottle"));
    let none = Plan::read(PLAN);
    assert!(refused(&none, &Target::Bottles).contains("does not have bottle first"));
}

#[test]
fn a_flask_is_filled_two_thirds() {
    // 20 mL of liquid at 5.00 mmol: 66.7 mL of 100 mL hold 16.67 mmol.
    let own = Target::Fill {
        vessel: None,
        capacity: None,
    };
    let (there, rescaling) = rescaled_to(PLAN, &own);
    assert_eq!(rescaling.scale, "16.66 mmol");
    assert!(there.contains("100-mL flask"), "{there}");
    let given = Target::Fill {
        vessel: None,
        capacity: Some(quantity("60 mL")),
    };
    let plan = Plan::read(PLAN);
    let rescaling = rescale::rescale(&plan, &given).expect("a rescaling");
    assert_eq!(rescaling.scale, "10.0 mmol");
    let edit = &rescaling.equipment[0];
    assert_eq!((&*edit.text, edit.optional), ("60-mL", false));
    let sizeless = PLAN.replace("100-mL flask", "flask");
    assert!(refused(&Plan::read(&sizeless), &own).contains("size of flask is not known"));
    // How much b2 adds is not known, so nothing is said of the flask.
    let unknown = PLAN.replace("  add a, b\n", "  add a, b, water\n");
    let unknown = unknown.replace("materials\n", "materials\n  water: water\n");
    assert!(refused(&Plan::read(&unknown), &own).contains("line 14"));
}

#[test]
fn equipment_gets_the_next_size() {
    let plan = Plan::read(PLAN);
    let at = |factor: &str| {
        let target = Target::By(factor.parse().expect("a factor"));
        let rescaling = rescale::rescale(&plan, &target).expect("a rescaling");
        let edits = rescaling.equipment.iter();
        let sizes: Vec<String> = edits
            .map(|edit| format!("{} {}", edit.name, edit.size))
            .collect();
        sizes.join(", ")
    };
    assert_eq!(at("1"), "");
    assert_eq!(at("3.3"), "");
    // 70 mL in 100 mL.
    assert_eq!(at("3.5"), "flask 250 mL");
    assert_eq!(at("2"), "syringe 50 mL");
    // 20 mL are all that the syringe takes, and 10 mL all that a smaller one does; the flask was roomy before.
    assert_eq!(at("0.5"), "syringe 10 mL");
    // 9 mL in 100 mL, two thirds of 25 mL.
    assert_eq!(at("0.45"), "flask 25 mL, syringe 10 mL");
    assert_eq!(at("0.095"), "flask 5 mL, syringe 2 mL");
    let large = rescale::rescale(&plan, &Target::By(10_000.into())).expect("a rescaling");
    assert!(large.equipment.is_empty());
    assert!(
        large
            .notes
            .iter()
            .any(|note| note.contains("split the batch"))
    );
    assert!(large.notes.iter().any(|note| note.contains("cannula")));
}

/// By hand: after the evaporation nothing is known of flask but 100 mL of water; three portions of 80 mL of ether are
/// 240 mL, and with 50 mL of brine 290 mL, ten times that in a funnel up to three quarters full is 3.9 L.
#[test]
fn what_comes_in_after_a_concentration_counts() {
    let plan = Plan::read(
        "plan A\nscale 5.00 mmol a\nmaterials\n  a: alpha, MW 200.0, 1.00 eq\n  ether: diethyl ether\n  thf: tetrahydrofuran, 40 mL\nequipment\n  flask: 500 mL flask\n  sepfunnel: 500 mL separating funnel\n  rotflask: 500 mL round-bottom flask\nsteps\n  dissolve a in thf\n  concentrate at 30 °C\n  add water 100 mL\n  transfer flask to sepfunnel\n  in sepfunnel\n  extract with ether, 3 x 80 mL\n  wash organics with brine 50 mL\n  dry organics over Na2SO4\n  filter into rotflask\n  in rotflask\n  concentrate at 25 °C\n",
    );
    let rescaling = rescale::rescale(&plan, &Target::By(10.into())).expect("a rescaling");
    let sizes = rescaling.equipment.iter();
    let sizes: Vec<String> = sizes
        .map(|edit| format!("{} {}", edit.name, edit.size))
        .collect();
    assert_eq!(sizes, ["flask 2 L", "sepfunnel 5 L", "rotflask 5 L"]);
    let funnel = &rescaling.equipment[1].why;
    assert!(funnel.contains("at least 2.90 L"), "{funnel}");
    // Nothing goes down where it is not followed.
    let down = rescale::rescale(&plan, &Target::By("0.1".parse().unwrap())).expect("a rescaling");
    let down: Vec<&str> = down.equipment.iter().map(|edit| &*edit.name).collect();
    assert!(!down.contains(&"sepfunnel"), "{down:?}");
}

#[test]
fn a_work_up_too_small_to_handle_is_told() {
    let plan = Plan::read(
        "plan A\nscale 5.00 mmol a\nmaterials\n  a: alpha, MW 200.0, 1.00 eq\nequipment\n  sepfunnel: 500 mL separating funnel\nsteps\n  in sepfunnel\n  extract with ethyl acetate, 2 x 25 mL\n  wash organics with brine 250 mL\n",
    );
    let notes = |factor: &str| {
        let target = Target::By(factor.parse().unwrap());
        let rescaling = rescale::rescale(&plan, &target).expect("a rescaling");
        rescaling.notes.join("\n")
    };
    // A four-hundredth of 25 mL is 62.5 µL, of 250 mL 0.6 mL.
    let small = notes("0.0025");
    assert!(
        small.contains("ethyl acetate 2 × 62.5 µL: too little"),
        "{small}"
    );
    assert!(!small.contains("brine"), "{small}");
    assert!(!notes("0.1").contains("too little"));
    assert!(!notes("10").contains("too little"));
}

#[test]
fn equipment_in_its_working_range_comes_back() {
    // Two thirds of 50 mL are 33 mL, and of 25 mL 17 mL; a syringe of 5 mL is in its range above 2 mL.
    let text = |first: u32, in_syringe: &str| {
        format!(
            "plan A\nscale 5.00 mmol a\nmaterials\n  a: alpha, MW 200.0, 1.00 eq\n  thf: tetrahydrofuran, {first}.0 mL\n  base: toluene, {in_syringe} mL\nequipment\n  flask: 50 mL flask\n  rotary: 50-mL evaporating flask\n  syringe: 5 mL syringe\nsteps\n  add a to flask\n  add thf {first}.0 mL to flask\n  add base {in_syringe} mL to rotary via syringe\n  add thf {first}.0 mL to rotary\n"
        )
    };
    let all = |text: &str, factor: Decimal| {
        let plan = Plan::read(text);
        let rescaling = rescale::rescale(&plan, &Target::By(factor)).expect("a rescaling");
        let sizes = rescaling.equipment.iter();
        let sizes = sizes.map(|edit| (edit.at, edit.text.clone()));
        let edits: Vec<_> = rescaling.edits.iter().cloned().chain(sizes).collect();
        apply(text, &plan, &edits)
    };
    let mut changed = 0;
    for first in [18, 20, 24, 28] {
        for in_syringe in ["2.40", "3.00", "5.00"] {
            for factor in ["1.25", "2", "4", "5", "8", "10", "20", "40", "100"] {
                let factor: Decimal = factor.parse().expect("a factor");
                let start = text(first, in_syringe);
                let there = all(&start, factor);
                let back = all(&there, Decimal::ONE / factor);
                changed += usize::from(!there.contains("50 mL flask"));
                changed += usize::from(!there.contains("50-mL evaporating"));
                changed += usize::from(!there.contains(": 5 mL syringe"));
                for (was, is) in start.lines().zip(back.lines()).skip(6).take(4) {
                    assert_eq!(was, is, "times {factor}\n{there}");
                }
            }
        }
    }
    assert!(changed > 200, "{changed}");
    // What was roomy stays: 10 mL of 250 mL would be too little, 26 mL are not.
    let roomy = text(52, "3.00").replace("flask: 50 mL", "flask: 250 mL");
    assert_eq!(
        all(&roomy, Decimal::ONE / Decimal::TWO).lines().nth(7),
        Some("  flask: 250 mL flask")
    );
}

#[test]
fn the_notes_of_a_large_step_up_are_for_what_the_plan_does() {
    let text = PLAN.replace(
        "  add thf 20 mL, via syringe\n",
        "  add thf 20 mL over 10 min, at 5 mL/h\n  stir for 2 h\n",
    );
    let notes = |factor: i64| {
        let target = Target::By(factor.into());
        rescale::rescale(&Plan::read(&text), &target)
            .expect("a rescaling")
            .notes
    };
    assert_eq!(notes(1), Vec::<String>::new());
    assert_eq!(notes(9).len(), 1, "{:?}", notes(9));
    let large = notes(10).join("\n");
    for words in [
        "Rates stay",
        "Heat does not scale",
        "supervised",
        "Addition times",
        "Stirring",
    ] {
        assert!(large.contains(words), "{large}");
    }
    assert!(!large.contains("degassing"), "{large}");
}

#[test]
fn amounts_in_words_are_offered_apart() {
    let text = "plan A run of 12 mmol\nscale 5.00 mmol a\nmaterials\n  a: alpha, MW 200.0, 1.00 eq, took 1.01 g   # from 5 mL, 4-6 mL or 2 h\nequipment\n  flask: 50 mL flask   # or 100 mL\nsteps\n  note keep 250 mL of ether\n  stir until 2 mL are left, expect 3 g\n";
    let plan = Plan::read(text);
    let rescaling = rescale::rescale(&plan, &Target::By(10.into())).expect("a rescaling");
    let optional = rescaling.optional.iter();
    let edits: Vec<_> = optional.map(|edit| (edit.at, edit.text.clone())).collect();
    let there = apply(text, &plan, &edits);
    assert!(there.contains("run of 120 mmol"), "{there}");
    assert!(there.contains("# from 50 mL, 40-60 mL or 2 h"), "{there}");
    assert!(there.contains("note keep 2.50 L of ether"), "{there}");
    assert!(there.contains("# or 100 mL"), "{there}");
    assert!(there.contains("until 2 mL are left"), "{there}");
    let places: Vec<Place> = rescaling.left_alone.iter().map(|left| left.place).collect();
    assert_eq!(places.iter().filter(|p| **p == Place::Comment).count(), 3);
    assert_eq!(places.iter().filter(|p| **p == Place::Measured).count(), 0);
}

#[test]
fn a_record_becomes_a_fresh_plan() {
    let text = "plan A\nscale 5.00 mmol a\nmaterials\n  a: alpha, MW 200.0, 1.00 eq, took 1.01 g   # pure\n  b: took 5.0 g, beta, took 2 g, MW 100.0, 1.10 eq\nproducts\n  p: gamma, obtained 0.8 g, MW 300.0, 1.00 eq\n";
    let plan = Plan::read(text);
    let rescaling = rescale::rescale(&plan, &Target::By(2.into())).expect("a rescaling");
    let there = apply(text, &plan, &rescaling.edits);
    assert_eq!(
        there,
        text.replace("5.00 mmol", "10.0 mmol")
            .replace(", took 1.01 g", "")
            .replace("took 5.0 g, ", "")
            .replace(", took 2 g", "")
            .replace(", obtained 0.8 g", "")
    );
    assert_eq!(
        rescaling.notes,
        [
            "This is the plan of a run to come: what was taken of a, b, and what was obtained of p is left out. Keep the record in a file of its own."
        ]
    );
    assert!(rescaling.left_alone.is_empty());
}

#[test]
fn columns_stay_where_they_were() {
    let start = "plan A\nscale 5.00 mmol a\nmaterials\n  a: alpha, MW 200.0, 1.00 eq\n  b: water, 9 mL      # one\n  c: water, 90 mL     # two\n  d: water, 900 mL  # not in the column\n\n  e: water, 9 mL      # alone\n";
    let there = rescaled(start, "10.0 mmol");
    let expected = start
        .replace("5.00 mmol", "10.0 mmol")
        .replace("b: water, 9 mL      # one", "b: water, 18 mL     # one")
        .replace("c: water, 90 mL     #", "c: water, 180 mL    #")
        .replace("900 mL  #", "1800 mL  #")
        .replace("e: water, 9 mL ", "e: water, 18 mL ");
    assert_eq!(there, expected);
    assert_eq!(rescaled(&there, "5.00 mmol"), start);
}

#[test]
fn what_cannot_be_rescaled_says_why() {
    for (text, words) in [
        ("plan A\nmaterials\n  a: water, 5 mL\n", "no scale"),
        (
            "plan A\nscale 5 mmol a\nmaterials\n  a: unobtainium, 1.0 eq\n",
            "unobtainium",
        ),
        (
            "plan A\nscale 5-6 mmol a\nmaterials\n  a: water, 1.0 eq\n",
            "range",
        ),
    ] {
        let why = refused(&Plan::read(text), &Target::To(quantity("2 g")));
        assert!(why.contains(words), "{why}");
    }
    let plan = Plan::read("plan A\nscale 5 mmol a\nmaterials\n  a: water, 1 eq\n");
    for factor in ["0", "-2"] {
        let target = Target::By(factor.parse().expect("a number"));
        assert!(refused(&plan, &target).contains("greater than zero"));
    }
    for material in [1, usize::MAX] {
        let quantity = quantity("1 g");
        refused(&plan, &Target::Of { material, quantity });
        refused(&plan, &Target::Bottle { material });
        let stated = material;
        refused(
            &plan,
            &Target::Line {
                material: 0,
                stated,
            },
        );
    }
    let vessel = Some(usize::MAX);
    let capacity = None;
    refused(&plan, &Target::Fill { vessel, capacity });
}

#[test]
fn the_smallest_scale_is_set_by_the_worst_measured_amount() {
    let text = "plan A\nscale 5.00 mmol a\nmaterials\n  a: cyclohexanone, MW 98.145, d 0.948, 1.00 eq\n  b: lithium chloride, MW 42.39, 0.100 eq\n";
    let tools = "[tools]\nbalances = [\"1 mg ± 1 mg\"]\nglass-syringes = [\"1 mL\", \"100 µL\", \"10 µL\"]\n";
    let context = Context {
        settings: Arc::new(plan::settings::Settings::read(tools)),
        ..Context::default()
    };
    let at = |percent: i64| {
        let plan = Plan::with_context(Arc::new(syntax::read_plan(text)), &context);
        let error = Decimal::new(percent, 2);
        rescale::rescale(&plan, &Target::Smallest { error })
    };
    // 0.500 mmol of b are 21.2 mg; two readings of ± 1 mg are ± 1.41 mg (JCGM 100:2008, 5.1.2), 10 % of 14.1 mg:
    // 3.34 mmol. The syringes bear less: 0.259 mL of a are no half of 1 mL.
    let found = at(10).expect("a rescaling");
    assert!(
        found
            .limit
            .as_deref()
            .is_some_and(|limit| limit.starts_with("b ")),
        "{found:?}"
    );
    let scale: f64 = found
        .scale
        .trim_end_matches(" mmol")
        .parse()
        .expect("a number");
    assert!((3.33..3.40).contains(&scale), "{found:?}");
    // With one syringe, below whose half nobody knows its error, it is the same for every error that it keeps.
    let one = Context {
        settings: Arc::new(plan::settings::Settings::read(
            "[tools]\nbalances = [\"0.1 mg\"]\nglass-syringes = [\"1 mL\"]\n",
        )),
        ..Context::default()
    };
    let plan = Plan::with_context(Arc::new(syntax::read_plan(text)), &one);
    let limits = [2, 5].map(|percent| {
        let error = Decimal::new(percent, 2);
        let found = rescale::rescale(&plan, &Target::Smallest { error }).expect("a rescaling");
        let limit = found.limit.expect("a limit");
        assert!(
            limit.starts_with("a sets the limit: below this no tool"),
            "{limit}"
        );
        found.scale
    });
    assert_eq!(limits[0], limits[1]);
    let why = at(5).expect_err("6.7 % already").to_string();
    assert!(why.contains("b is measured to 6.7 % already"), "{why}");
}

#[test]
fn the_smallest_scale_says_which_runs_are_below_it() {
    let text = "plan A\nscale 5.00 mmol a\nmaterials\n  a: lithium chloride, 1.00 eq\nruns\n  A: 5.00 mmol\n  E: 0.50 mmol\n";
    let notes = |text: &str| {
        let target = Target::Smallest {
            error: Decimal::new(5, 2),
        };
        let plan = Plan::read(text);
        rescale::rescale(&plan, &target)
            .expect("a rescaling")
            .notes
            .join("; ")
    };
    assert!(
        notes(text).contains("smaller runs (E) are"),
        "{}",
        notes(text)
    );
    let none = text.replace("0.50 mmol", "9.0 mmol");
    assert!(!notes(&none).contains("runs"), "{}", notes(&none));
}

/// 2.30 mL of base are 5.00 mmol, and 1.25 mL 2.72 mmol, half of 2.5 mL, from which on a glass syringe is good to 1 %. Below that
/// a plastic one of 2 mL is good to 5 % down to 1 mL, which is 2.17 mmol (ISO 7886-1, and UKAS LAB15 for glass).
#[test]
fn the_smallest_scale_at_five_percent_is_smaller_than_at_two() {
    let plan = Plan::read(
        "plan A\nscale 5.00 mmol a\nmaterials\n  a: frobnitzine, MW 154.25, 1.00 eq\n  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq\n",
    );
    let at = |percent: i64| {
        let error = Decimal::new(percent, 2);
        let found = rescale::rescale(&plan, &Target::Smallest { error }).expect("a rescaling");
        let (number, unit) = found.scale.split_once(' ').expect("a unit");
        let number: f64 = number.parse().expect("a number");
        if unit == "µmol" {
            number / 1000.0
        } else {
            number
        }
    };
    let two = at(2);
    assert!((2.71..2.76).contains(&two), "{two}");
    assert!(at(5) < 2.2, "{}", at(5));
}
