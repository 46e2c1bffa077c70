//! Published procedures, told in the plan's own words: the checks of hazards have nothing to say of them.

use crate::{
    Check, Finding, catalyst_loading_slip, hot_limit, miscible_extraction, organolithium_too_warm,
    quench_too_hot, quench_too_little, salt_eats_base, stabiliser_reacts, waste_meets,
};
use crate::{
    after_the_quench, azide_and_halogenated, boils_without_condenser, closed_and_heated,
    dry_catalyst_order, drying_agent_reacts, evacuated_with_solvent, freeze_degas_condenses,
    gas_without_vent, initiation_not_confirmed, lithium_under_nitrogen, oxidant_before_concentrate,
    pyrophoric_by_syringe, quench_missing, quench_wrong_agent, reagent_eats_solvent,
    reagent_into_protic, toxic_gas, used_before_made,
};
use plan::Plan;

const CHECKS: &[&Check] = &[
    &after_the_quench::CHECK,
    &azide_and_halogenated::CHECK,
    &boils_without_condenser::CHECK,
    &closed_and_heated::CHECK,
    &dry_catalyst_order::CHECK,
    &drying_agent_reacts::CHECK,
    &evacuated_with_solvent::CHECK,
    &freeze_degas_condenses::CHECK,
    &gas_without_vent::CHECK,
    &initiation_not_confirmed::CHECK,
    &lithium_under_nitrogen::CHECK,
    &oxidant_before_concentrate::CHECK,
    &pyrophoric_by_syringe::CHECK,
    &quench_missing::CHECK,
    &quench_wrong_agent::CHECK,
    &reagent_eats_solvent::CHECK,
    &reagent_into_protic::CHECK,
    &toxic_gas::CHECK,
    &used_before_made::CHECK,
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

#[track_caller]
fn silent(text: &str) {
    let plan = Plan::read(text);
    let mut findings: Vec<Finding> = Vec::new();
    for check in CHECKS {
        (check.run)(&crate::Survey::new(&plan), &mut findings);
    }
    assert!(findings.is_empty(), "{findings:#?} in\n{text}");
}

/// Patent text in the USPTO collection (reaction data set yuyuc/chem-uspto): the ester into the hydride, then
/// 2 mL of water, 2 mL of 15 % sodium hydroxide and 7 mL of water, carefully; filtered and concentrated.
#[test]
fn an_ester_reduced_with_lithium_aluminium_hydride() {
    silent(
        "plan Pyrimidinemethanol
scale 19.3 mmol ester
materials
  ester: ethyl 4-(methylamino)-2-(methylsulfanyl)pyrimidine-5-carboxylate, MW 227.28, 1.00 eq
  lah: lithium aluminium hydride, 1.10 g
  thf: tetrahydrofuran, 100 mL
equipment
  flask: 250 mL flask, dropping funnel, nitrogen inlet, bubbler
  vial: 100 mL flask
  rotflask: 250 mL flask
steps
  add lah, thf 40 mL
  in vial
  dissolve ester in thf 60 mL
  in flask
  transfer vial to flask dropwise
  stir for 10 min
  quench with water 2 mL, slowly
  add 15 wt% NaOH 2 mL, slowly
  add water 7 mL
  stir for 1 h
  filter into rotflask
  in rotflask
  concentrate
",
    );
}

/// The same collection: vinylmagnesium bromide, 2 eq, and phenylacetaldehyde at 0 °C; saturated ammonium
/// chloride is added at the end.
#[test]
fn an_aldehyde_and_vinylmagnesium_bromide() {
    silent(
        "plan 1-Phenylbut-3-en-2-ol
scale 5.00 mmol aldehyde
materials
  aldehyde: phenylacetaldehyde, 1.00 eq
  reagent: vinylmagnesium bromide, 1.0 M in THF, 10 mL
  thf: tetrahydrofuran, 24 mL
equipment
  flask: 100 mL flask, septum, nitrogen inlet, bubbler
  vial: 40 mL vial
steps
  add reagent, thf 12 mL
  cool to 0 °C
  in vial
  dissolve aldehyde in thf 12 mL
  in flask
  transfer vial to flask dropwise over 10 min, below 5 °C
  stir for 1 h at 0 °C
  quench with sat. aq. NH4Cl 25 mL
  extract with diethyl ether 100 mL
  wash organics with brine 50 mL
  dry organics over magnesium sulfate
  concentrate
",
    );
}

/// Open notebook of K. Burrell-Sander (University of Sydney, 2021): a hydride solution, reflux, then ethyl
/// acetate and Rochelle salt.
#[test]
fn a_ferrocenyl_ester_reduced_and_quenched_with_ethyl_acetate() {
    silent(
        "plan Ferrocenylmethanol
scale 1.23 mmol ester
materials
  ester: methyl ferrocenecarboxylate, MW 244.07, 1.00 eq
  lah: lithium aluminium hydride, 1.0 M in THF, 1.90 mL
  thf: tetrahydrofuran, dry, 8 mL
equipment
  flask: 50 mL flask, reflux condenser, septum, nitrogen inlet, bubbler
steps
  add ester, thf
  cool to 0 °C
  add lah dropwise
  reflux for 1 h
  cool to rt
  add ethyl acetate 10 mL
  add sat. aq. potassium sodium tartrate 20 mL
  extract with ethyl acetate, 4 x 30 mL
  dry organics over magnesium sulfate
  concentrate
",
    );
}

/// The patent collection again: dimethyl sulfoxide and trifluoroacetic anhydride in dichloromethane at -60 °C.
#[test]
fn an_oxidation_with_activated_dimethyl_sulfoxide() {
    silent(
        "plan Enone
scale 4.78 mmol alcohol
materials
  alcohol: the allylic alcohol, MW 418.60, 1.00 eq
  tfaa: trifluoroacetic anhydride, 1.6 mL
  dmso: dimethyl sulfoxide, 1.05 mL
  amine: triethylamine, 10 mL
  dcm: dichloromethane, 17 mL
equipment
  flask: 100 mL flask, septum, nitrogen inlet, bubbler
  vialA: 20 mL vial
  vialB: 20 mL vial
steps
  add dmso, dcm 7.5 mL
  cool to -60 °C
  in vialA
  dissolve tfaa in dcm 3.6 mL
  in flask
  transfer vialA to flask dropwise over 5 min
  stir for 30 min
  in vialB
  dissolve alcohol in dcm 6 mL
  in flask
  transfer vialB to flask dropwise over 15 min
  warm to -40 °C over 1 h
  cool to -70 °C
  add amine
  warm to rt
  dilute with ethyl acetate 40 mL
  wash organics with brine 20 mL
  concentrate
",
    );
}
