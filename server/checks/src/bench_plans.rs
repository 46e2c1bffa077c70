//! Whole plans: good ones give no finding of the checks of glass, gas and fill, and a plan with a line
//! taken out gives the finding for that line.

use crate::{
    Check, Finding, Severity, catalyst_loading_slip, hot_limit, miscible_extraction,
    organolithium_too_warm, quench_too_hot, quench_too_little, salt_eats_base, stabiliser_reacts,
    waste_meets,
};
use crate::{
    after_the_quench, atmosphere_missing, azide_and_halogenated, boils_without_condenser,
    closed_and_heated, dry_catalyst_order, drying_agent_reacts, energetic_product,
    evacuated_with_solvent, flame_near_vapour, freeze_degas_condenses, gas_without_vent,
    glass_not_said_dry, inert_gas_without_outlet, initiation_not_confirmed, lithium_under_nitrogen,
    overfilled, oxidant_before_concentrate, pyrophoric_by_syringe, quench_missing,
    quench_wrong_agent, reagent_eats_solvent, reagent_into_protic, solvent_dryness,
    solvent_wet_into_heat, toxic_gas, used_before_made, water_and_oxygen, wet_glass,
};
use plan::Plan;

const CHECKS: &[&Check] = &[
    &glass_not_said_dry::CHECK,
    &atmosphere_missing::CHECK,
    &wet_glass::CHECK,
    &water_and_oxygen::CHECK,
    &solvent_dryness::CHECK,
    &overfilled::CHECK,
    &solvent_wet_into_heat::CHECK,
    &flame_near_vapour::CHECK,
    &inert_gas_without_outlet::CHECK,
    &closed_and_heated::CHECK,
    &gas_without_vent::CHECK,
    &boils_without_condenser::CHECK,
    &used_before_made::CHECK,
    &evacuated_with_solvent::CHECK,
    &energetic_product::CHECK,
    &drying_agent_reacts::CHECK,
    &oxidant_before_concentrate::CHECK,
    &lithium_under_nitrogen::CHECK,
    &toxic_gas::CHECK,
    &azide_and_halogenated::CHECK,
    &dry_catalyst_order::CHECK,
    &initiation_not_confirmed::CHECK,
    &pyrophoric_by_syringe::CHECK,
    &reagent_into_protic::CHECK,
    &reagent_eats_solvent::CHECK,
    &quench_missing::CHECK,
    &quench_wrong_agent::CHECK,
    &after_the_quench::CHECK,
    &freeze_degas_condenses::CHECK,
    &catalyst_loading_slip::CHECK,
    &hot_limit::CHECK,
    &miscible_extraction::CHECK,
    &organolithium_too_warm::CHECK,
    &quench_too_hot::CHECK,
    &quench_too_little::CHECK,
    &salt_eats_base::CHECK,
    &stabiliser_reacts::CHECK,
    &waste_meets::CHECK,
];

/// Plans of the repository's examples that are meant to be good.
const EXAMPLES: [&str; 4] = ["ethyl-addition", "methylenation", "silyl-ether", "swern"];

const PLANS: [&str; 9] = [
    "00-methylenation",
    "01-grignard",
    "02-lda-alkylation",
    "03-lialh4-fieser",
    "04-suzuki",
    "05-nah-alkylation",
    "08-hydrogenation",
    "09-amide",
    "11-syringe-pump-dean-stark",
];

fn bench(name: &str) -> String {
    read(&format!("../syntax/tests/plans/{name}.prep"))
}

fn read(path: &str) -> String {
    let path = format!("{}/{path}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

fn found(text: &str) -> (Plan, Vec<Finding>) {
    let plan = Plan::read(text);
    let mut findings = Vec::new();
    for check in CHECKS {
        (check.run)(&crate::Survey::new(&plan), &mut findings);
    }
    (plan, findings)
}

/// The findings as `check severity "line"`.
fn told(text: &str) -> Vec<String> {
    let (plan, findings) = found(text);
    findings
        .iter()
        .map(|finding| {
            let line = text
                .lines()
                .nth(finding.at.line as usize)
                .unwrap_or("")
                .trim();
            let words = plan.slice(finding.at.line, finding.at.span).unwrap_or("");
            format!(
                "{} {} `{words}` in `{line}`: {}",
                finding.check,
                finding.severity.word(),
                finding.message
            )
        })
        .collect()
}

/// The plan without the lines that hold one of these.
fn without(name: &str, gone: &[&str]) -> String {
    let text = bench(name);
    for words in gone {
        assert!(text.contains(words), "{name} does not say {words:?}");
    }
    text.lines()
        .filter(|line| !gone.iter().any(|words| line.contains(words)))
        .map(|line| format!("{line}\n"))
        .collect()
}

/// One finding, of this check, severity and word, on a line that begins so.
#[track_caller]
fn one(text: &str, check: &str, severity: Severity, words: &str, line: &str) -> String {
    let told = told(text);
    let want = format!("{check} {} `{words}` in `{line}", severity.word());
    assert!(
        told.len() == 1 && told[0].starts_with(&want),
        "wanted {want}, found {told:#?}"
    );
    told[0].clone()
}

#[track_caller]
fn silent(text: &str) {
    let told = told(text);
    assert!(told.is_empty(), "{told:#?} in\n{text}");
}

#[test]
fn good_plans_give_no_finding() {
    for name in PLANS {
        let told = told(&bench(name));
        assert!(told.is_empty(), "{name}: {told:#?}");
    }
    for name in EXAMPLES {
        let told = told(&read(&format!("../../examples/{name}.prep")));
        assert!(told.is_empty(), "{name}: {told:#?}");
    }
}

#[test]
fn a_missing_drying_line_is_found() {
    let dry = ["  dry flask"];
    let line = "add base dropwise over 10 min";
    let said = one(
        &without("00-methylenation", &dry),
        "glassware-dryness",
        Severity::Warning,
        "base",
        line,
    );
    assert!(
        said.contains("about 0.04 % of base, 0.1 % at most"),
        "{said}"
    );
    let line = "add buli dropwise over 10 min";
    one(
        &without("02-lda-alkylation", &dry),
        "glassware-dryness",
        Severity::Warning,
        "buli",
        line,
    );
    one(
        &without("03-lialh4-fieser", &dry),
        "glassware-dryness",
        Severity::Warning,
        "lah",
        "add lah quickly",
    );
    one(
        &without("05-nah-alkylation", &dry),
        "glassware-dryness",
        Severity::Warning,
        "nah",
        "add nah quickly",
    );
    let line = "transfer tenth of funnel to flask";
    let said = one(
        &without("01-grignard", &dry),
        "glassware-dryness",
        Severity::Warning,
        "funnel",
        line,
    );
    assert!(
        said.contains("the Grignard reagent from bromide forms"),
        "{said}"
    );
    // Nothing in these minds a film of water.
    silent(&without("11-syringe-pump-dean-stark", &dry));
}

#[test]
fn the_fix_restores_the_drying_line() {
    let text = without("00-methylenation", &["  dry flask"]);
    let (_, findings) = found(&text);
    let mut fixed = text.clone();
    for (range, new) in findings[0].fixes[0].edits.iter().rev() {
        fixed.replace_range(range.clone(), new);
    }
    let want = bench("00-methylenation").replace("dry flask, bar, vial,", "dry flask, bar,");
    assert_eq!(fixed, want);
    silent(&fixed);
}

#[test]
fn a_missing_purge_is_found() {
    // `cool to rt under argon` is left: words, and no purge.
    let purge = ["evacuate and refill", "dry salt under vacuum"];
    let line = "add base dropwise over 10 min";
    one(
        &without("00-methylenation", &purge),
        "atmosphere-missing",
        Severity::Information,
        "base",
        line,
    );
    let text = without(
        "00-methylenation",
        &[
            "evacuate and refill",
            "dry salt under vacuum",
            "cool to rt under argon",
        ],
    );
    let said = one(&text, "atmosphere-missing", Severity::Warning, "base", line);
    // 1.25 × 100 mL less 20 mL of tetrahydrofuran.
    assert!(
        said.contains("0.91 mmol of oxygen, against 5.75 mmol of base"),
        "{said}"
    );
    let text = without("04-suzuki", &["evacuate and refill"]).replace(" under argon", "");
    one(
        &text,
        "atmosphere-missing",
        Severity::Warning,
        "catalyst",
        "add catalyst quickly",
    );
    let text = without("11-syringe-pump-dean-stark", &["purge with nitrogen"]);
    one(
        &text.replace(" under nitrogen", ""),
        "atmosphere-missing",
        Severity::Warning,
        "aldehyde",
        "dissolve aldehyde",
    );
}

#[test]
fn missing_drying_and_purge_are_two_findings() {
    let gone = [
        "  dry flask",
        "evacuate and refill",
        "dry salt under vacuum",
        "cool to rt under argon",
    ];
    let text = without("00-methylenation", &gone);
    let told = told(&text);
    assert_eq!(told.len(), 2, "{told:#?}");
    assert!(
        told[0].starts_with("glassware-dryness warning `base`"),
        "{told:#?}"
    );
    assert!(
        told[1].starts_with("atmosphere-missing warning `base`"),
        "{told:#?}"
    );
}

#[test]
fn a_wash_without_drying_names_the_solvent() {
    let dry = "dry flask, bar, vial, needles, syringes at 125 °C overnight";
    let washed = |text: &str| text.replace(dry, "wash flask, bar with acetone");
    let line = "add base dropwise over 10 min";
    let text = washed(&without("00-methylenation", &["dry salt under vacuum"]));
    let said = one(&text, "wet-glass", Severity::Warning, "base", line);
    assert!(
        said.contains("up to 2.4 mmol of it meets 5.75 mmol of base"),
        "{said}"
    );
    // Two hours of vacuum over the salt take the acetone off the walls as well.
    let text = washed(&bench("00-methylenation"));
    one(&text, "glassware-dryness", Severity::Warning, "base", line);
}

#[test]
fn an_unstated_solvent_is_asked_for() {
    let text = bench("00-methylenation").replace(", over 3 Å sieves, 10 ppm water", "");
    one(
        &text,
        "solvent-dryness",
        Severity::Information,
        "tetrahydrofuran",
        "thf:     tetrahydrofuran, 25 mL",
    );
}

#[test]
fn a_wet_solvent_is_reckoned() {
    // 26 mL of tetrahydrofuran (25 and none beside) at 500 ppm: 25 × 0.889 × 500 / 18.015 = 617 µmol, 11 %
    // of 5.75 mmol, within the surplus of 13 %.
    let text = bench("00-methylenation").replace("10 ppm water", "500 ppm water");
    one(
        &text,
        "water-and-oxygen",
        Severity::Information,
        "500 ppm water",
        "thf:",
    );
    let text = bench("00-methylenation").replace("10 ppm water", "900 ppm water");
    let said = one(
        &text,
        "water-and-oxygen",
        Severity::Warning,
        "900 ppm water",
        "thf:",
    );
    assert!(said.contains("about 20 % of base"), "{said}");
}

#[test]
fn a_flask_too_small_is_found() {
    let text = bench("00-methylenation").replace("100 mL two-neck", "25 mL two-neck");
    let said = one(
        &text,
        "overfilled",
        Severity::Error,
        "nh4cl",
        "quench with nh4cl",
    );
    assert!(said.contains("use a 100 mL flask"), "{said}");
    let text = bench("01-grignard").replace("250 mL three-neck", "50 mL three-neck");
    assert!(
        told(&text)
            .iter()
            .any(|said| said.starts_with("overfilled error")),
        "{:#?}",
        told(&text)
    );
}

/// A short plan around materials and steps, the scale on its first line.
fn short(materials: &str, equipment: &str, steps: &str) -> String {
    let key = materials.split(':').next().unwrap_or("").trim();
    format!(
        "plan Short\nscale 5.00 mmol {key}\nmaterials\n{materials}\nequipment\n{equipment}\nsteps\n{steps}\n"
    )
}

const FLASK: &str = "  flask: 100 mL two-neck flask, septum, argon inlet, bubbler\n  bar: stir bar";

#[test]
fn good_published_practice_is_left_alone() {
    let buli = "  ketone: 4-tert-butylcyclohexanone, 1.00 eq\n  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq\n  thf: tetrahydrofuran, dry, 20 mL";
    let rows = [
        // Flame-dried under vacuum and backfilled: one verb sets dry and inert.
        short(
            buli,
            FLASK,
            "  flame-dry flask under vacuum\n  fill with nitrogen\n  add bar, thf\n  add base",
        ),
        // Oven-dried, cooled under nitrogen, solids added, then purged.
        short(
            buli,
            FLASK,
            "  dry flask, bar at 125 °C overnight\n  cool to rt under nitrogen\n  add bar, ketone\n  purge with nitrogen for 5 min\n  add thf\n  add base",
        ),
        // A solid added under a flow without the word counter-flow.
        short(
            buli,
            FLASK,
            "  dry flask, bar at 125 °C overnight\n  purge with argon for 5 min\n  add thf\n  add ketone\n  add base",
        ),
        // A charge in the glovebox.
        short(
            "  bromide: 4-bromoanisole, 1.00 eq\n  catalyst: bis(1,5-cyclooctadiene)nickel(0), 5 mol%\n  base: sodium tert-butoxide, 1.2 eq\n  toluene: toluene, 10 mL",
            "  vial: 20 mL vial, septum",
            "  in glovebox\n  in vial\n  add catalyst, base, toluene\n  add bromide\n  seal vial\n  out of glovebox\n  heat to 100 °C",
        ),
        // Borohydride in methanol; the Luche reduction with its heptahydrate.
        short(
            "  ketone: 4-tert-butylcyclohexanone, 1.00 eq\n  cecl3: cerium(III) chloride heptahydrate, 1.0 eq\n  nabh4: sodium borohydride, 1.1 eq\n  methanol: methanol, 20 mL",
            FLASK,
            "  add ketone, cecl3, methanol\n  cool to 0 °C\n  add nabh4 in 5 portions\n  stir for 15 min\n  quench with water 10 mL",
        ),
        // Sodium in dry ethanol makes its ethoxide.
        short(
            "  sodium: sodium, 1.00 eq\n  ethanol: ethanol, 20 mL",
            FLASK,
            "  add ethanol\n  add sodium in 3 portions\n  stir until no metal is left",
        ),
        // Water wanted: titanium and tartrate in the sulfoxidation.
        short(
            "  sulfide: thioanisole, 1.00 eq\n  ti: titanium(IV) isopropoxide, 50 mol%\n  tbhp: tert-butyl hydroperoxide, 5.5 M in decane, 1.1 eq\n  dcm: dichloromethane, 20 mL",
            FLASK,
            "  add dcm, ti\n  add water 0.05 mL\n  stir for 20 min\n  add sulfide\n  add tbhp",
        ),
        // Dess-Martin with an equivalent of water.
        short(
            "  alcohol: benzyl alcohol, 1.00 eq\n  dmp: Dess-Martin periodinane, 1.2 eq\n  dcm: dichloromethane, 20 mL",
            FLASK,
            "  add alcohol, dmp, dcm\n  add water 0.09 mL\n  stir for 1 h",
        ),
        // Indium allylation in aqueous tetrahydrofuran.
        short(
            "  aldehyde: benzaldehyde, 1.00 eq\n  indium: indium, 1.2 eq\n  bromide: allyl bromide, 1.5 eq\n  thf: tetrahydrofuran, 10 mL",
            FLASK,
            "  add aldehyde, indium, thf, water 10 mL\n  add bromide\n  stir for 2 h",
        ),
        // Suzuki with ligandless palladium in air.
        short(
            "  bromide: 4-bromoanisole, 1.00 eq\n  boronic: phenylboronic acid, 1.2 eq\n  pd: palladium(II) acetate, 1 mol%\n  base: potassium carbonate, 2.0 eq",
            FLASK,
            "  add bromide, boronic, pd, base, propan-2-ol 10 mL, water 10 mL\n  stir for 2 h at 60 °C",
        ),
        // Copper click with ascorbate.
        short(
            "  alkyne: phenylacetylene, 1.00 eq\n  cu: copper(I) iodide, 5 mol%",
            FLASK,
            "  add alkyne, cu, tert-butanol 10 mL, water 10 mL\n  stir overnight",
        ),
        // Glaser coupling: air is wanted.
        short(
            "  alkyne: phenylacetylene, 1.00 eq\n  cu: copper(I) chloride, 10 mol%\n  acetone: acetone, 20 mL",
            FLASK,
            "  add alkyne, cu, acetone\n  stir overnight, under oxygen",
        ),
        // Butoxide with water as anhydrous hydroxide.
        short(
            "  ester: methyl benzoate, 1.00 eq\n  butoxide: potassium tert-butoxide, 8 eq\n  ether: diethyl ether, 20 mL",
            FLASK,
            "  add butoxide, ether\n  add water 0.18 mL\n  stir for 5 min\n  add ester",
        ),
        // Schotten-Baumann.
        short(
            "  amine: aniline, 1.00 eq\n  chloride: benzoyl chloride, 1.1 eq\n  naoh: sodium hydroxide, 2.0 M in water, 10 mL",
            FLASK,
            "  add amine, naoh\n  cool to 0 °C\n  add chloride dropwise over 10 min",
        ),
        // Acyl chloride in methanol makes hydrogen chloride and ester.
        short(
            "  acid: benzoic acid, 1.00 eq\n  accl: acetyl chloride, 3 eq\n  methanol: methanol, 20 mL",
            FLASK,
            "  add acid, methanol\n  add accl dropwise over 10 min",
        ),
        // Silylation in reagent solvent, with a surplus.
        short(
            "  alcohol: benzyl alcohol, 1.00 eq\n  imidazole: imidazole, 2.5 eq\n  tbscl: tert-butyldimethylsilyl chloride, 1.2 eq\n  dmf: N,N-dimethylformamide, 10 mL",
            FLASK,
            "  dry flask, bar at 125 °C for 2 h\n  add alcohol, imidazole, dmf\n  add tbscl\n  stir overnight",
        ),
        // Electrophile before base.
        short(
            "  bromide: 4-bromoanisole, 1.00 eq\n  borate: triisopropyl borate, 1.3 eq\n  buli: n-butyllithium, 2.5 M in hexanes, 1.2 eq\n  thf: tetrahydrofuran, dry, 20 mL",
            FLASK,
            "  flame-dry flask under argon\n  add bromide, borate, thf\n  cool to -78 °C\n  add buli dropwise over 20 min",
        ),
        // An inverse quench: the mixture goes into the acid.
        short(
            buli,
            "  flask: 100 mL flask, septum, bubbler\n  pot: 250 mL flask",
            "  dry flask at 125 °C overnight\n  cool to rt under argon\n  purge with argon for 5 min\n  add thf, base\n  in pot\n  add sat. aq. NH4Cl 30 mL\n  transfer flask to pot",
        ),
        // Thionyl chloride neat, evaporated and used crude: a thought at most.
        short(
            "  acid: benzoic acid, 1.00 eq\n  socl2: thionyl chloride, 5 mL",
            "  flask: 100 mL flask, reflux condenser, bubbler",
            "  dry flask at 125 °C for 2 h\n  add acid, socl2\n  reflux for 2 h\n  concentrate at 40 °C, 50 mbar",
        ),
        // Reaction solvent through to the separating funnel without a quench line.
        short(
            "  amine: aniline, 1.00 eq\n  chloride: benzoyl chloride, 1.1 eq\n  dcm: dichloromethane, 20 mL",
            "  flask: 100 mL flask\n  sepfunnel: 250 mL separating funnel",
            "  dry flask at 125 °C for 2 h\n  add amine, dcm\n  add chloride dropwise over 10 min\n  transfer flask to sepfunnel\n  in sepfunnel\n  add water 20 mL",
        ),
    ];
    for text in &rows {
        let bad: Vec<String> = told(text)
            .into_iter()
            .filter(|said| !said.starts_with("solvent-dryness information"))
            .collect();
        assert!(bad.is_empty(), "{bad:#?} in\n{text}");
    }
}

#[test]
fn an_oxygen_budget_follows_the_purge() {
    // 2 mol% of palladium(0) in 5 mL of toluene, the vial purged or not.
    let purged = "plan Short
scale 1.00 mmol bromide
materials
  bromide: 4-bromoanisole, 1.00 eq
  catalyst: tetrakis(triphenylphosphine)palladium(0), 2 mol%
  toluene: toluene, 5 mL
equipment
  flask: 20 mL reaction vial, septum, bubbler
  tube: 20 mL tube
steps
  in tube
  purge with argon for 5 min
  add toluene, bromide
  add catalyst
  heat to 90 °C
";
    silent(purged);
    let told = told(&purged.replace("  purge with argon for 5 min\n", ""));
    assert!(
        told.len() == 1 && told[0].starts_with("atmosphere-missing warning `catalyst`"),
        "{told:#?}"
    );
}

#[test]
fn nothing_panics_on_half_a_plan() {
    for name in PLANS {
        let text = bench(name);
        for (end, _) in text.char_indices().step_by(173) {
            let _ = found(&text[..end]);
        }
        let lines: Vec<&str> = text.lines().collect();
        for gone in (0..lines.len()).step_by(5) {
            let rest: Vec<&str> = lines
                .iter()
                .enumerate()
                .filter(|(index, _)| *index != gone)
                .map(|(_, line)| *line)
                .collect();
            let _ = found(&rest.join("\n"));
        }
    }
}

#[test]
fn a_missing_or_hasty_quench_is_found() {
    let gone = ["  quench with water", "  add naoh", "  add water 3.0"];
    // 60 mmol of hydride less three for each of the acid's 10 mmol: 30 hydrides, 7.5 mmol.
    let said = one(
        &without("03-lialh4-fieser", &gone),
        "quench-missing",
        Severity::Error,
        "filter",
        "filter through Celite",
    );
    assert!(said.contains("About 7.5 mmol of lah"), "{said}");
    let hasty = bench("03-lialh4-fieser").replace("lah, dropwise over 20 min,", "lah,");
    one(
        &hasty,
        "quench-wrong-agent",
        Severity::Error,
        "water",
        "quench with water",
    );
}

#[test]
fn a_solvent_that_does_not_fit_is_found() {
    // The cold keeps butyllithium from dichloromethane for as long as it lasts.
    let text = without("02-lda-alkylation", &["# acetone and dry ice"])
        .replace("thf:   tetrahydrofuran,", "thf:   dichloromethane,");
    let said = one(
        &text,
        "reagent-eats-solvent",
        Severity::Error,
        "buli",
        "add buli dropwise",
    );
    assert!(said.contains("thf (dichloromethane)"), "{said}");
}
