//! What a line is, said in different ways, gives one and the same plan; and nothing that stands for an identity
//! makes the reader panic.

#![allow(clippy::unwrap_used)]

use plan::Plan;
use plan::equation::Balance;
use proptest::prelude::*;
use uom::si::amount_of_substance::millimole;
use uom::si::mass::milligram;
use uom::si::molar_mass::gram_per_mole;

/// Methylenation of 4-tert-butylcyclohexanone, with whatever identifies ketone, salt and alkene.
fn methylenation(ketone: &str, salt: &str, alkene: &str) -> Plan {
    Plan::read(&format!(
        "plan Methylenation
scale 5.00 mmol ketone
reaction ketone + salt + base -> alkene + C18H15OP + LiBr + C4H10
materials
  ketone: {ketone}, 1.00 eq
  salt: {salt}, 1.20 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq
products
  alkene: {alkene}, 1.00 eq, expect 85 %
"
    ))
}

/// Amount and mass of every line, to a millionth of a gram and a mole.
fn amounts(plan: &Plan) -> Vec<(String, Option<i64>, Option<i64>)> {
    let rounded = |value: f64| (value * 1000.0).round() as i64;
    let lines = plan.materials.iter().zip(&plan.ledger.amounts);
    lines
        .map(|(material, amounts)| {
            let amount = amounts.amount.as_ref().ok();
            let mass = amounts.pure_mass.as_ref().ok();
            (
                material.key.text.to_string(),
                amount.map(|known| rounded(known.value.get::<millimole>())),
                mass.map(|known| rounded(known.value.get::<milligram>())),
            )
        })
        .collect()
}

#[test]
fn smiles_inchi_formula_and_name_give_the_same_amounts() {
    let named = methylenation(
        "4-tert-butylcyclohexanone",
        "methyltriphenylphosphonium bromide",
        "C11H20",
    );
    // By standard atomic weights 2021: C10H18O 154.253, C19H18BrP 357.230, C11H20 152.281 g/mol.
    let masses: Vec<f64> = amounts(&named)
        .iter()
        .filter_map(|(_, _, mass)| Some(mass.as_ref().copied()? as f64 / 1000.0))
        .collect();
    for (found, expected) in masses.iter().zip([5.0 * 154.253, 6.0 * 357.230]) {
        assert!((found / expected - 1.0).abs() < 1e-5, "{masses:?}");
    }
    for (ketone, salt, alkene) in [
        (
            "SMILES CC(C)(C)C1CCC(=O)CC1",
            "SMILES C[P+](c1ccccc1)(c1ccccc1)c1ccccc1.[Br-]",
            "SMILES C=C1CCC(CC1)C(C)(C)C",
        ),
        (
            "InChI=1S/C10H18O/c1-10(2,3)8-4-6-9(11)7-5-8/h8H,4-7H2,1-3H3",
            "our salt, formula C19H18PBr",
            "InChI=1S/C11H20/c1-9-5-7-10(8-6-9)11(2,3)4/h10H,1,5-8H2,2-4H3",
        ),
        ("98-53-3", "CAS 1779-49-3", "our alkene, formula C11H20"),
    ] {
        let other = methylenation(ketone, salt, alkene);
        assert_eq!(amounts(&other), amounts(&named), "{ketone}");
        let equation = other.equation.as_ref().unwrap();
        assert_eq!(equation.balance(), Balance::Balanced, "{ketone}");
    }
}

#[test]
fn a_structure_is_not_taken_for_a_row_of_the_library() {
    // Propan-1-ol and propan-2-ol have one composition; so do many others that the library may not have.
    let plan = Plan::read(
        "plan a\nmaterials\n  a: SMILES CC(C)O, 1 mmol\n  b: InChI=1S/H2O/h1H2, 1 mmol\n",
    );
    for material in &plan.materials {
        assert_eq!(material.identity.substance, None);
        assert!(material.identity.candidates.is_empty());
        assert!(material.molar_mass.is_ok());
    }
}

#[test]
fn the_molar_mass_says_what_it_was_computed_over() {
    for (identity, origin) in [
        ("acetone", "C3H6O, the library's formula of acetone"),
        ("67-64-1", "C3H6O, the library's formula of acetone"),
        (
            "ketone 7, formula C3H6O",
            "C3H6O, by the formula on its line",
        ),
        ("SMILES CC(C)=O", "C3H6O, by the SMILES on its line"),
        (
            "acetone, InChI=1S/C3H6O/c1-3(2)4/h1-2H3",
            "C3H6O, by the InChI on its line",
        ),
        ("osmium", "Os"),
    ] {
        let plan = Plan::read(&format!("plan a\nmaterials\n  a: {identity}, 1 mmol\n"));
        let known = plan.materials[0].molar_mass.as_ref().unwrap();
        let text = known.origin.describe(0);
        let expected = format!("standard atomic weights (CIAAW 2021) over {origin}");
        assert!(text.starts_with(&expected), "{identity}: {text}");
    }
}

#[test]
fn elements_by_their_names() {
    // Standard atomic weights 2021 (abridged): doi 10.1515/pac-2019-0603.
    for (name, weight) in [("osmium", 190.23), ("Rhenium", 186.21), ("carbon", 12.011)] {
        let plan = Plan::read(&format!("plan a\nmaterials\n  a: {name}, 1 mmol\n"));
        let known = plan.materials[0].molar_mass.as_ref().unwrap();
        assert!(
            (known.value.get::<gram_per_mole>() - weight).abs() < 0.01,
            "{name}"
        );
    }
}

#[test]
fn a_formula_in_place_of_a_name_counts_as_it_is_written() {
    // The library calls the row of P2O5 by both names; CIAAW 2021: P 30.974, O 15.999.
    for (name, mass) in [("P4O10", 283.886), ("P2O5", 141.943)] {
        let plan = Plan::read(&format!("plan a\nmaterials\n  a: {name}, 1 mmol\n"));
        let known = plan.materials[0].molar_mass.as_ref().unwrap();
        assert!(
            (known.value.get::<gram_per_mole>() - mass).abs() < 0.01,
            "{name}"
        );
    }
}

#[test]
fn a_density_of_another_composition_is_not_taken() {
    let plan = Plan::read(
        "plan a\nmaterials\n  a: toluene, 1 mL\n  b: toluene, formula C7D8, 1 mL\n  c: toluene, formula C7D8, d 0.943, 1 mL\n",
    );
    let densities: Vec<bool> = plan.materials.iter().map(|m| m.density.is_ok()).collect();
    assert_eq!(densities, [true, false, true]);
}

#[test]
fn atom_economies() {
    // Molar masses by CIAAW 2021. Wittig: 152.281 of 154.253 + 357.230 + 64.055. Addition: all of it.
    let plan = methylenation("C10H18O", "C19H18PBr", "C11H20");
    let economy = |plan: &Plan, index: usize| {
        let key = plan.materials[index].id;
        plan.equation.as_ref().unwrap().atom_economy(key)
    };
    let wittig = economy(&plan, 3).unwrap().value.value;
    assert!(
        (wittig - 152.281 / (154.253 + 357.230 + 64.055)).abs() < 1e-4,
        "{wittig}"
    );
    assert!(economy(&plan, 0).is_err());
    let plan = Plan::read(
        "plan a\nreaction diene + 1 C2H4 -> ene\nmaterials\n  diene: C4H6, 1 mmol\nproducts\n  ene: C6H10\n",
    );
    assert!((economy(&plan, 1).unwrap().value.value - 1.0).abs() < 1e-12);
    let plan = Plan::read(
        "plan a\nreaction 2 a -> b\nmaterials\n  a: C2H4O, 1 mmol\nproducts\n  b: C4H6O\n",
    );
    assert!(
        economy(&plan, 1)
            .unwrap_err()
            .to_string()
            .contains("balance")
    );
}

#[test]
fn huge_equations_have_an_outcome() {
    let term = "4294967295 C999999999H999999999";
    let plan = Plan::read(&format!(
        "plan a\nreaction {} -> CH\n",
        [term; 40].join(" + ")
    ));
    assert!(matches!(
        plan.equation.unwrap().balance(),
        Balance::Off { .. } | Balance::TooLarge
    ));
    let fractions: Vec<String> = (0..40)
        .map(|n| format!("1/{} CH", 4_294_967_291_u32 - 2 * n))
        .collect();
    let plan = Plan::read(&format!(
        "plan a\nreaction {} -> CH\n",
        fractions.join(" + ")
    ));
    assert_eq!(plan.equation.unwrap().balance(), Balance::TooLarge);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_identity_is_read_or_refused(
        label in prop::sample::select(vec!["", "SMILES ", "InChI=", "InChI=1S/", "formula ", "CAS ", "benzene, formula ", "MW "]),
        text in prop_oneof![
            "\\PC{0,40}",
            "[A-Zabclnos0-9()=#@+\\[\\]./%·^-]{0,40}",
            "[CHONDPSd0-9/(),;+a-z-]{0,40}",
            "[0-9]{1,8}-[0-9]{1,3}-[0-9]{1,2}",
        ],
    ) {
        let text = format!(
            "plan a\nscale 1 mmol x\nreaction x + {text} -> 2 y\nmaterials\n  x: {label}{text}, 1.0 eq\nproducts\n  y: {text}\n"
        );
        let plan = Plan::read(&text);
        for material in &plan.materials {
            for (at, reason) in &material.identity.faults {
                prop_assert!(plan.slice(at.line, at.span).is_some(), "{at:?}");
                prop_assert!(!reason.is_empty());
            }
        }
        if let Some(equation) = &plan.equation {
            let _ = (equation.balance(), equation.balancing());
            for material in &plan.materials {
                let _ = equation.atom_economy(material.id);
            }
        }
    }
}

#[test]
fn a_fault_beside_signs_of_other_lengths_has_a_place() {
    let plan = Plan::read("materials\n  x: SMILES ×, 1.0 eq\n");
    let (at, _) = &plan.materials[0].identity.faults[0];
    assert_eq!(plan.slice(at.line, at.span), Some("×"));
}
