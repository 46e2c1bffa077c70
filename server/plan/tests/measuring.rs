//! What each thing is measured with and in which portions. The sums are simple enough to be done in the head.

#![allow(clippy::panic, reason = "a test may fail")]

use plan::measuring::Way;
use plan::{Amounts, Material, Plan, show};

fn plan(materials: &str, equipment: &str, steps: &str) -> Plan {
    Plan::read(&format!(
        "plan A\nscale 10.0 mmol a\nmaterials\n  a: benzaldehyde, 1.00 eq\n{materials}\nequipment\n{equipment}\nsteps\n{steps}\n"
    ))
}

fn line<'a>(plan: &'a Plan, key: &str) -> (&'a Material, &'a Amounts) {
    let index = plan.materials.iter().position(|m| &*m.key.text == key);
    let found =
        index.and_then(|index| Some((&plan.materials[index], plan.ledger.amounts.get(index)?)));
    found.unwrap_or_else(|| panic!("no {key}"))
}

fn tool(plan: &Plan, key: &str) -> Option<String> {
    let (material, amounts) = line(plan, key);
    plan.reading(material, amounts)
        .map(|reading| reading.tool.to_string())
}

#[test]
fn what_a_step_takes_without_a_portion_is_what_the_others_leave() {
    let plan = plan(
        "  thf: tetrahydrofuran, 25 mL\n  salt: sodium chloride, 6.0 g\n  base: pyridine, 3.0 mL",
        "  flask: 100 mL flask",
        "  add thf 15 mL\n  add salt\n  add thf 4 mL\n  add thf\n  add half of base\n  add rest of base",
    );
    let portions = |key: &str| -> Vec<String> {
        let portions = plan.portions(line(&plan, key).0).into_iter();
        let volume = |amounts: Amounts| show::volume(amounts.volume.expect("a volume").value);
        portions.map(volume).collect()
    };
    assert_eq!(portions("thf"), ["15.0 mL", "4.00 mL", "6.00 mL"]);
    // Both halves are measured at once.
    assert_eq!(portions("base"), Vec::<String>::new());
    assert_eq!(portions("salt"), Vec::<String>::new());
}

#[test]
fn a_second_step_that_finds_nothing_has_no_portion() {
    let plan = plan(
        "  thf: tetrahydrofuran, 25 mL",
        "  flask: 100 mL flask",
        "  add thf 15 mL\n  add thf\n  add thf",
    );
    assert!(plan.portions(line(&plan, "thf").0).is_empty());
}

#[test]
fn what_dries_and_filters_has_no_tolerance() {
    let plan = plan(
        "  mgso4: magnesium sulfate, 5 g\n  celite: Celite, 10 g\n  gel: silica gel, 50 g\n  ms: 4 Å molecular sieves, 1 g\n  salt: sodium chloride, 5 g\n  silica: silica gel, 2.0 eq",
        "  flask: 100 mL flask",
        "  dry organics over mgso4\n  filter through celite",
    );
    for key in ["mgso4", "celite", "gel", "ms"] {
        assert_eq!(tool(&plan, key), None, "{key}");
    }
    for key in ["salt", "silica"] {
        assert!(tool(&plan, key).is_some(), "{key}");
    }
}

#[test]
fn the_equipment_of_the_plan_comes_first() {
    let with = |equipment: &str, volume: &str| {
        let plan = plan(
            &format!("  x: pyridine, {volume}"),
            equipment,
            "  add x via syringe",
        );
        tool(&plan, "x").expect("a tool")
    };
    // Without a list, the smallest that holds it.
    assert_eq!(
        with("  flask: 100 mL flask", "2.3 mL"),
        "2.5 mL glass syringe"
    );
    let syringes = "  syringes: 2 mL, 5 mL and 20 mL glass syringes";
    assert_eq!(with(syringes, "3.0 mL"), "5 mL glass syringe");
    // Less than half of it, to 1 % of its size: once is better than 2 mL twice.
    assert_eq!(with(syringes, "2.3 mL"), "5 mL glass syringe");
    let listed = plan("  x: pyridine, 2.0 mL", syringes, "  add x via syringe");
    let (material, amounts) = line(&listed, "x");
    let error = |plan: &Plan| {
        let reading = plan.reading(material, amounts).expect("a tool");
        reading.greatest_error.value
    };
    // 2.0 mL fill the small one, which is good to 1 % (UKAS LAB15).
    assert!((error(&listed) - 0.01).abs() < 1e-9);
    assert_eq!(
        with("  syringe: 5 mL plastic syringe", "4.0 mL"),
        "5 mL plastic syringe"
    );
    // Of one that says no more than its size, what there is.
    assert_eq!(
        with("  syringe: 5 mL syringe", "3.0 mL"),
        "5 mL glass syringe"
    );
    // 1 % of 20 mL are 20 % of 1 mL.
    assert_eq!(
        with("  syringe: 20 mL glass syringe", "1.0 mL"),
        "1 mL glass syringe"
    );
    assert_eq!(
        with("  syringe: 1 mL glass syringe", "5.0 mL"),
        "5 mL glass syringe"
    );
    let plan = plan(
        "  x: toluene, 40 mL",
        "  cylinder: 100 mL graduated cylinder\n  argon: 50 mL gas cylinder",
        "  add x",
    );
    assert_eq!(tool(&plan, "x").as_deref(), Some("100 mL cylinder"));
}

#[test]
fn what_a_work_up_takes_is_poured() {
    let plan = plan(
        "  nh4cl: ammonium chloride, sat. aq., 50 mL\n  nacl: brine, 8 mL\n  drop: brine, 2 mL\n  etoac: ethyl acetate, 40 mL\n  thf: tetrahydrofuran, dry, 25 mL\n  base: pyridine, 0.20 mol\n  buli: n-butyllithium, 2.5 M in hexanes, 20 mL\n  k2co3: potassium carbonate, 2.0 M in water, 5.0 mL",
        "  flask: 100 mL flask",
        "  add a",
    );
    for (key, wanted) in [
        ("nh4cl", "50 mL cylinder"),
        ("nacl", "10 mL cylinder"),
        ("drop", "2.5 mL glass syringe"),
        ("etoac", "50 mL cylinder"),
        // Kept dry, and measured closely.
        ("thf", "25 mL glass syringe"),
        ("buli", "25 mL glass syringe"),
        // 10 mmol of base for 10 mmol.
        ("k2co3", "5 mL glass syringe"),
    ] {
        assert_eq!(tool(&plan, key).as_deref(), Some(wanted), "{key}");
    }
}

/// Ammonia boils at -33 °C, ethylene oxide at 11 °C, hydrogen chloride at -85 °C.
#[test]
fn a_gas_that_is_taken_as_a_liquid_is_condensed() {
    let plan = plan(
        "  nh3: ammonia, d 0.68, 60 mL\n  eo: ethylene oxide, d 0.88, 5 mL\n  aq: ammonia, 28 wt% in water, 20 mL\n  gas: ammonia gas, 240 mL\n  dma: dimethylamine, 2.0 M in THF, 20 mL",
        "  flask: 100 mL flask",
        "  cool flask to -78 °C\n  add nh3",
    );
    let way = |key: &str| {
        let (material, amounts) = line(&plan, key);
        plan.way(material, amounts)
    };
    for (key, wanted) in [
        ("nh3", Way::Condense),
        ("eo", Way::Condense),
        ("aq", Way::Cylinder),
        ("gas", Way::Gas),
        ("dma", Way::Cylinder),
    ] {
        assert_eq!(way(key), wanted, "{key}");
    }
    assert_eq!(tool(&plan, "nh3"), None);
}
