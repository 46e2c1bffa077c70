use super::*;
use crate::Kept;
use crate::settings::Settings;
use uom::si::amount_of_substance::micromole;

fn plan(steps: &str) -> Plan {
    Plan::read(&format!(
        "\
plan Test
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  salt: methyltriphenylphosphonium bromide, hygroscopic, 1.20 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq
  thf: tetrahydrofuran, 10 ppm water, 25 mL
  raw: tetrahydrofuran, 25 mL
  ether: diethyl ether, 25 mL
  cerium: CeCl3·7H2O, 1.00 eq
  catalyst: tetrakis(triphenylphosphine)palladium(0), 2 mol%
  toluene: toluene, 5 mL
equipment
  flask: 100 mL flask, septum, argon inlet
  vial: 20 mL vial, septum
  small: 10 mL flask, septum
  syringe: 5 mL syringe
steps
{steps}"
    ))
}

/// The budget of the last step's addition.
fn budget(steps: &str) -> Budget {
    let plan = plan(steps);
    let last = plan.moments.len() - 1;
    plan.budget(last, last)
}

fn micromoles(estimate: Estimate<AmountOfSubstance>) -> [f64; 3] {
    let Estimate { low, typical, high } = estimate.map(|n| n.get::<micromole>());
    [low, typical, high]
}

fn of(budget: &Budget, kind: SourceKind) -> ([f64; 3], [f64; 3]) {
    let source = budget.sources.iter().find(|source| source.kind == kind);
    let source = source.unwrap_or_else(|| panic!("no {kind:?} in {budget:#?}"));
    (micromoles(source.water), micromoles(source.oxygen))
}

#[track_caller]
fn near(value: f64, wanted: f64, within: f64) {
    assert!(
        (value - wanted).abs() <= within,
        "{value} is not {wanted} ± {within}"
    );
}

const INERT: &str = "  dry flask at 125 °C overnight\n  cool flask under argon\n  evacuate and refill flask with argon, 3 cycles, 1 mbar\n";

#[test]
fn a_solvent_brings_what_is_written() {
    // 25 mL × 0.889 g/mL × 10 ppm / 18.015 g/mol; density as the library has it, within 1 %.
    let budget = budget(&format!("{INERT}  add thf\n  add base\n"));
    let (water, _) = of(&budget, SourceKind::Measured);
    near(water[0], 12.34, 0.12);
    assert_eq!(water[0], water[2]);
}

#[test]
fn a_solvent_as_bought_has_the_published_range() {
    // The same at 50, 107 (Williams and Lawton 2010) and 300 ppm.
    let budget = budget(&format!("{INERT}  add raw\n  add base\n"));
    let (water, oxygen) = of(&budget, SourceKind::Unstated);
    near(water[0], 61.7, 0.7);
    near(water[1], 132.0, 1.4);
    near(water[2], 370.0, 4.0);
    // 25 mL of 2.1 mM.
    near(oxygen[1], 52.5, 0.1);
}

#[test]
fn an_assumed_figure_is_never_the_low_estimate() {
    let budget = budget(&format!("{INERT}  add ether\n  add base\n"));
    let (water, _) = of(&budget, SourceKind::Unstated);
    assert_eq!(water[0], 0.0);
    near(water[1], 25.0 * 0.7134 * 200.0 / 18.015, 1.5);
}

#[test]
fn room_air_stands_above_the_liquid() {
    // 1.25 × 100 mL less 25 mL of liquid and 2.3 mL of butyllithium, at 8.68 µmol/mL of oxygen and 0.507 µmol/mL of water
    // (21 °C, 50 % of humidity: Magnus formula of WMO-No. 8).
    let budget = budget("  dry flask at 125 °C overnight\n  add thf\n  add base\n");
    let (water, oxygen) = of(&budget, SourceKind::GasSpace);
    near(oxygen[1], 97.7 * 8.68, 2.0);
    near(water[1], 97.7 * 0.507, 0.4);
}

#[test]
fn humid_air_holds_the_water_of_the_tables() {
    // 100 mL at 21 °C and 45 %: 45.65 µmol (Magnus formula of WMO-No. 8 and the ideal gas law).
    let room = Plan::read("plan A\nroom 21 °C, 45 % RH\n").room;
    let air = Volume::new::<volume::milliliter>(100.0);
    near(water_of_air(air, &room).get::<micromole>(), 45.65, 0.05);
}

#[test]
fn three_cycles_to_a_millibar_leave_a_billionth() {
    let plan = plan("  evacuate and refill flask with argon, 3 cycles, 1 mbar\n");
    let left = plan.air_left(0, 0).unwrap().typical.value;
    near(left, 9.61e-10, 0.01e-10);
}

#[test]
fn cycles_leave_the_power_of_the_pressure() {
    // One cycle to 100 mbar leaves 100/1013.25 of the air.
    let one = "  evacuate and refill flask with argon, 1 cycle, 100 mbar\n  add base\n";
    let (_, oxygen) = of(&budget(one), SourceKind::GasSpace);
    near(oxygen[1], 122.7 * 8.68 * 100.0 / 1013.25, 0.6);
    let two = "  evacuate and refill flask with argon, 2 cycles, 100 mbar\n  add base\n";
    let (_, oxygen) = of(&budget(two), SourceKind::GasSpace);
    near(oxygen[1], 122.7 * 8.68 * (100.0f64 / 1013.25).powi(2), 0.1);
}

#[test]
fn a_flow_leaves_the_exponential_of_its_volumes() {
    // 50 mL/min for 5 min through 125 mL: two volumes, mixing half.
    let purged = "  purge flask with argon for 5 min at 50 mL/min\n  add base\n";
    let plan = plan(purged);
    let left = plan.air_left(0, 0).unwrap().map(|left| left.value);
    near(left.low, (-2.0f64).exp(), 1e-9);
    near(left.typical, (-1.0f64).exp(), 1e-9);
}

#[test]
fn words_count_as_five_volumes() {
    // exp(−2.5) of 20.95 %: 17,000 ppm.
    let plan = plan("  cool flask under argon\n  add base\n");
    let left = plan.air_left(0, 0).unwrap();
    near(left.typical.value * 0.2095, 0.0172, 0.0001);
}

#[test]
fn a_step_knows_only_those_before_it() {
    let until = plan(&format!("{INERT}  add thf\n  add base\n"));
    let more = plan(&format!(
        "{INERT}  add thf\n  add base\n  open flask\n  add raw\n"
    ));
    assert_eq!(until.budget(4, 4), more.budget(4, 4));
    assert_eq!(until.air_left(4, 0), more.air_left(4, 0));
}

#[test]
fn what_is_moved_keeps_its_water() {
    let steps = "  in vial\n  purge with argon for 5 min\n  add thf\n  in flask\n  purge with argon for 5 min\n  transfer half of vial to flask\n  add base\n";
    let (water, _) = of(&budget(steps), SourceKind::Measured);
    near(water[1], 12.34 / 2.0, 0.06);
}

#[test]
fn crystal_water_is_counted_exactly() {
    let (water, _) = of(
        &budget(&format!("{INERT}  add cerium\n  add thf\n  add base\n")),
        SourceKind::Hydrate,
    );
    near(water[0], 7.0 * 5000.0, 1e-6);
}

#[test]
fn a_hygroscopic_solid_is_dried_to_a_tenth() {
    let moist = budget(&format!("{INERT}  add salt\n  add thf\n  add base\n"));
    let (water, _) = of(&moist, SourceKind::Hygroscopic);
    // 6.00 mmol of 357.2 g/mol: 2.143 g with 0.1 % of water.
    near(water[1], 2143.0 * 0.001 / 18.015 * 1000.0, 1.0);
    assert_eq!(water[0], 0.0);
    let dried = budget(&format!(
        "{INERT}  add salt\n  dry salt under vacuum at 80 °C, 1 mbar, for 2 h\n  fill flask with argon\n  add thf\n  add base\n"
    ));
    let (less, _) = of(&dried, SourceKind::Hygroscopic);
    near(less[1], water[1] / 10.0, 0.1);
}

#[test]
fn an_open_neck_lets_air_in() {
    // 1.5 mL/s through 2.0 cm for 10 s: 15 mL, 130 µmol of oxygen and 7.6 µmol of water.
    let plan = plan(
        "  purge flask with nitrogen for 30 min\n  add thf via syringe\n  add base via syringe\n  open flask for 10 s\n",
    );
    let met = plan.budget(2, 3);
    let (water, oxygen) = of(&met, SourceKind::Opening);
    near(oxygen[1], 130.0, 1.0);
    near(water[1], 7.6, 0.1);
}

#[test]
fn a_flow_keeps_most_of_it_out() {
    // 1.0 cm: 2.65 mL in 10 s, a twentieth of it: 1.15 µmol of oxygen.
    let plan = plan(
        "  in small\n  purge with nitrogen for 30 min\n  add base via syringe\n  open small for 10 s under nitrogen\n",
    );
    let (_, oxygen) = of(&plan.budget(1, 2), SourceKind::Opening);
    near(oxygen[1], 1.15, 0.02);
}

#[test]
fn every_stroke_brings_a_needle_of_air() {
    // 20 mL are four strokes of 5 mL, and 2.3 mL of butyllithium a fifth: 0.5 mL of air.
    let met = budget(&format!(
        "{INERT}  add thf 20 mL, via syringe\n  add base via syringe\n"
    ));
    let (water, oxygen) = of(&met, SourceKind::Tool);
    near(oxygen[1], 0.5 * 8.68, 0.01);
    near(water[1], 0.5 * 0.507, 0.01);
    assert_eq!(oxygen[0], 0.0);
    let pumped = budget(&format!("{INERT}  add thf 20 mL, via syringe pump\n"));
    near(of(&pumped, SourceKind::Tool).1[1], 0.1 * 8.68, 0.01);
}

#[test]
fn a_vessel_breathes_from_its_balloon_as_it_is_cooled() {
    // From 21 to -78 °C a gas shrinks by a third: 33 mL of 98 mL, with half the room's humidity and 0.5 % of oxygen after
    // an hour.
    let steps = |balloon: &str| {
        plan(&format!(
            "{INERT}  add thf\n  add base\n  stir for 1 h{balloon}\n  cool to -78 °C\n"
        ))
    };
    let on = steps(", under argon from balloon");
    let last = on.moments.len() - 1;
    let met = on.budget(last - 2, last);
    // At rest next to nothing comes through the needle; the cooling is a source of its own.
    let met = Budget {
        sources: met
            .sources
            .into_iter()
            .filter(|s| s.kind == SourceKind::Balloon)
            .collect(),
    };
    let (water, oxygen) = (micromoles(met.water()), micromoles(met.oxygen()));
    near(water[1], 97.7 * 0.3366 * 0.507 / 2.0, 0.2);
    near(oxygen[1], 97.7 * 0.3366 * 0.005 / 0.02414, 0.2);
    assert_eq!((water[0], oxygen[0]), (0.0, 0.0));
    assert!(oxygen[1] < oxygen[2] && oxygen[2] < 3.0 * oxygen[1]);
    let line = steps(", under argon").budget(last - 2, last);
    assert!(line.sources.iter().all(|s| s.kind != SourceKind::Balloon));
    // What comes in later meets it above the liquid.
    let later = plan(&format!(
        "{INERT}  add thf\n  stir for 1 h, under argon from balloon\n  cool to -78 °C\n  add base\n"
    ));
    let (_, gas) = of(&later.budget(6, 6), SourceKind::GasSpace);
    near(gas[1], oxygen[1], 0.5);
}

/// 23 barrer, 1e-10 cm³(STP) cm/(cm² s cmHg) each: natural rubber, Polymer Handbook, from memory.
#[test]
fn a_balloon_of_latex_lets_in_what_rubber_lets_through() {
    let (area, thick, oxygen) = (480.0, 0.01, 0.2095 * 76.0);
    let millilitres = 23.0 * 1e-10 * area / thick * oxygen * 3600.0;
    let share = millilitres / 1000.0;
    let estimate = super::defaults::BALLOON_OXYGEN;
    assert!(estimate.low <= share && share <= estimate.high, "{share}");
    near(share, estimate.typical, estimate.typical / 2.0);
}

#[test]
fn bubbles_take_the_oxygen_along() {
    // 5 mL of toluene, 1.8 mM: 9.0 µmol; a stream of argon leaves the floor of 0.5 %.
    let bubbled = "  in vial\n  add toluene\n  sparge vial with argon for 15 min\n  add catalyst\n";
    let (_, oxygen) = of(&budget(bubbled), SourceKind::Unstated);
    near(oxygen[1], 9.0 * 0.005, 1e-3);
    let not = "  in vial\n  purge with argon for 15 min\n  add toluene\n  add catalyst\n";
    let (_, oxygen) = of(&budget(not), SourceKind::Unstated);
    near(oxygen[1], 9.0, 0.01);
}

#[test]
fn settings_replace_what_is_assumed() {
    let settings =
        Settings::read("[budget]\nglass-oven = 3\n[budget.worry]\norganolithium = [1, 2.5]\n");
    assert_eq!(settings.problems(), []);
    assert_eq!(settings.budget.glass_oven, Estimate::exact(3.0));
    let worry = (chemistry::ReagentClass::Organolithium, 0.01, 0.025);
    assert_eq!(settings.budget.worry, [worry]);
    for wrong in [
        "[budget]\nglass-oven = \"3\"\n",
        "[budget]\nglass-oven = -3\n",
        "[budget]\nglas-oven = 3\n",
        "[budget]\nworry = 3\n",
        "[budget.worry]\norganolithium = [5, 2]\n",
        "[budget.worry]\nbutyllithium = [2, 5]\n",
    ] {
        assert_eq!(Settings::read(wrong).problems().len(), 1, "{wrong}");
    }
}
