//! Acidic hydrogens, gases, limits of temperature and what else a flask has to know of a substance.

#![allow(clippy::panic, clippy::unwrap_used, reason = "a test may fail")]

use chemistry::quantity::{ratio, thermodynamic_temperature::degree_celsius};
use chemistry::{
    Balancing, Element, Formula, Found, GasAgent, LimitWhen, Miscibility, PeroxideHazard, Ratio,
    ReagentClass, State, Substance, Tag, balance, find_cas, find_name,
};

fn named(name: &str) -> Substance {
    match find_name(name) {
        Found::One(substance) => substance,
        other => panic!("{name}: {other:?}"),
    }
}

fn formula(substance: Substance) -> Option<Formula> {
    Formula::parse(substance.formula()?).ok()
}

/// Hydrogens of a formula, deuterium among them.
fn hydrogens(formula: &Formula) -> Ratio<i64> {
    let hydrogen = Element::from_symbol("H").unwrap();
    formula
        .counts()
        .filter(|(atom, _)| atom.element == hydrogen)
        .map(|(_, count)| count)
        .sum()
}

#[test]
fn no_more_acidic_hydrogens_than_hydrogens() {
    let mut counted = 0;
    for substance in Substance::all() {
        let Some(protic) = substance.protic_equivalents() else {
            assert!(substance.smiles().is_none(), "{substance:?}");
            continue;
        };
        let base = substance.base_equivalents().unwrap().value;
        assert!(protic.at_once() <= protic.at_most(), "{substance:?}");
        assert!(base <= f64::from(protic.acid), "{substance:?}");
        if let Some(formula) = formula(substance) {
            let all = hydrogens(&formula);
            let acidic = Ratio::from_integer(i64::from(protic.hydrogens));
            assert!(acidic <= all, "{substance:?}: {acidic} of {all}");
            let water = formula.crystal_water();
            let groups = Ratio::from_integer(i64::from(protic.acid));
            assert!(groups >= water, "{substance:?}: crystal water");
        }
        counted += usize::from(protic.hydrogens > 0);
    }
    assert!(counted > 3000, "{counted}");
}

/// Open Babel's count on the same structures, written by `data/make_protons.py`.
const COUNTED: &str = include_str!("data/protons.tsv");

#[test]
fn another_library_counts_the_same_hydrogens() {
    let mut compared = 0;
    for line in COUNTED.lines().skip(1) {
        let [cas, name, hydrogens] = line.split('\t').collect::<Vec<_>>().try_into().unwrap();
        let substance = find_cas(cas)
            .one()
            .unwrap_or_else(|| panic!("{name} is gone: run make_protons.py"));
        let protic = substance.protic_equivalents().unwrap();
        assert_eq!(protic.at_most().to_string(), hydrogens, "{name}");
        compared += 1;
    }
    assert!(compared > 2000, "{compared}");
}

#[test]
fn classes_agree_with_the_count() {
    for substance in Substance::all() {
        let Some(protic) = substance.protic_equivalents() else {
            continue;
        };
        let protic_tag = substance.has(Tag::Protic);
        assert!(
            !protic_tag || protic.hydrogens > 0,
            "{substance:?}: run protons.py"
        );
        match substance.class() {
            Some(ReagentClass::Alcohol | ReagentClass::Water | ReagentClass::Thiol) => {
                assert!(protic.acid > 0, "{substance:?}");
            }
            Some(
                ReagentClass::Organolithium
                | ReagentClass::Grignard
                | ReagentClass::AmideBase
                | ReagentClass::MetalHydride
                | ReagentClass::AluminiumHydride
                | ReagentClass::Ether
                | ReagentClass::Hydrocarbon
                | ReagentClass::HalogenatedSolvent,
            ) => assert_eq!(protic.acid, 0, "{substance:?}"),
            _ => {}
        }
    }
}

#[test]
fn acidic_hydrogens() {
    // Numbers of exchangeable hydrogens and of acid functions: general chemistry.
    for (name, acid, weak, most, base) in [
        ("water", 1, 0, 2, 0.0),
        ("D2O", 1, 0, 2, 0.0),
        ("methanol", 1, 0, 1, 0.0),
        ("glycerol", 3, 0, 3, 0.0),
        ("acetic acid", 1, 0, 1, 1.0),
        ("citric acid", 4, 0, 4, 3.0),
        ("sulfuric acid", 2, 0, 2, 2.0),
        ("phosphoric acid", 3, 0, 3, 2.0),
        ("KH2PO4", 2, 0, 2, 1.0),
        ("NaHCO3", 1, 0, 1, 0.0),
        ("triethylamine hydrochloride", 1, 0, 1, 1.0),
        ("P(tBu)3·HBF4", 1, 0, 1, 1.0),
        ("diisopropylamine", 0, 1, 1, 0.0),
        ("aniline", 0, 1, 2, 0.0),
        ("phenylacetylene", 0, 1, 1, 0.0),
        ("acetylene", 0, 2, 2, 0.0),
        ("CeCl3·7H2O", 7, 0, 14, 0.0),
        ("p-TsOH·H2O", 2, 0, 3, 1.0),
        ("THF", 0, 0, 0, 0.0),
        ("n-butyllithium", 0, 0, 0, 0.0),
        ("sodium borohydride", 0, 0, 0, 0.0),
    ] {
        let substance = named(name);
        let protic = substance.protic_equivalents().unwrap();
        assert_eq!(
            (protic.acid, protic.weak, protic.at_most()),
            (acid, weak, most),
            "{name}"
        );
        let taken = substance.base_equivalents().unwrap();
        assert!((taken.value - base).abs() < 1e-9, "{name}: {taken:?}");
    }
    // Not known is not none.
    assert_eq!(named("Celite").protic_equivalents(), None);
}

/// pKa in dimethyl sulfoxide, F. G. Bordwell, Acc. Chem. Res. 1988, 21, 456, from memory: sodium hydride takes what is
/// well below 30.
#[test]
fn sodium_hydride_takes_the_hydrogen_of_amides_and_not_of_amines() {
    for (name, pka, hydrogens) in [
        ("acetamide", 25.5, 1),
        ("succinimide", 14.7, 1),
        ("urea", 26.9, 2),
        ("p-toluenesulfonamide", 16.1, 1),
        ("pyrrole", 23.0, 1),
        ("indole", 21.0, 1),
        ("imidazole", 18.6, 1),
        ("carbazole", 19.9, 1),
        ("aniline", 30.6, 0),
        ("pyrrolidine", 44.0, 0),
        ("diisopropylamine", 36.0, 0),
        ("N,N-dimethylformamide", 40.0, 0),
    ] {
        let protic = named(name).protic_equivalents().unwrap();
        assert_eq!(protic.amide, hydrogens, "{name}");
        assert_eq!(pka < 30.0, hydrogens > 0, "{name}");
        assert!(protic.amide <= protic.weak, "{name}");
    }
}

/// Coefficients and formulae of a side.
fn side(text: &str) -> Vec<(u64, Formula)> {
    text.split(" + ")
        .map(|term| {
            let (count, formula) = match term.split_once(' ') {
                Some((count, formula)) => (count.parse().unwrap(), formula),
                None => (1, term),
            };
            (count, Formula::parse(formula).unwrap())
        })
        .collect()
}

#[test]
fn gases_follow_from_balanced_equations() {
    let mut equations = 0;
    for substance in Substance::all() {
        for made in substance.gas_on_quench() {
            let (left, right) = made.equation.split_once(" = ").unwrap();
            let (left, right) = (side(left), side(right));
            let formulae = |side: &[(u64, Formula)]| {
                side.iter()
                    .map(|(_, formula)| formula.clone())
                    .collect::<Vec<_>>()
            };
            let (terms_left, terms_right) = (formulae(&left), formulae(&right));
            let balanced = balance(
                &terms_left.iter().collect::<Vec<_>>(),
                &terms_right.iter().collect::<Vec<_>>(),
            );
            let written: Vec<u64> = left.iter().chain(&right).map(|(count, _)| *count).collect();
            match balanced {
                Balancing::Balanced { left, right } => {
                    assert_eq!([left, right].concat(), written, "{}", made.equation);
                }
                // More than one reaction can run: what is written has to be one of them.
                Balancing::NotUnique { .. } => {
                    let sum = |side: &[(u64, Formula)]| {
                        let mut all: Vec<String> = Vec::new();
                        for (count, formula) in side {
                            for (atom, number) in formula.counts() {
                                let total = number * Ratio::from_integer(*count as i64);
                                all.extend((0..*total.numer()).map(|_| format!("{atom:?}")));
                            }
                        }
                        all.sort();
                        all
                    };
                    assert_eq!(sum(&left), sum(&right), "{}", made.equation);
                }
                other => panic!("{}: {other:?}", made.equation),
            }
            let own = formula(substance).unwrap();
            let gas = formula(made.gas).unwrap();
            let count = |side: &[(u64, Formula)], wanted: &Formula| {
                side.iter()
                    .filter(|(_, formula)| formula.same_composition(wanted))
                    .map(|(count, _)| *count as f64)
                    .sum::<f64>()
            };
            let per_mole = count(&right, &gas) / count(&left, &own);
            assert!(
                (per_mole - made.per_mole).abs() < 1e-3,
                "{substance:?}: {made:?}"
            );
            equations += 1;
        }
    }
    assert!(equations > 100, "{equations}");
}

#[test]
fn what_is_quenched_makes_gas() {
    // Gas per mole of the reagent as in textbooks of the quench: hydrogen from hydrides, alkanes
    // from organometallics.
    for (name, agent, gas, per_mole) in [
        ("NaH", GasAgent::Water, "hydrogen", 1.0),
        ("LiAlH4", GasAgent::Water, "hydrogen", 4.0),
        ("NaBH4", GasAgent::Acid, "hydrogen", 4.0),
        ("sodium", GasAgent::Water, "hydrogen", 0.5),
        ("CaH2", GasAgent::Water, "hydrogen", 2.0),
        ("DIBAL-H", GasAgent::Water, "isobutane", 2.0),
        ("Me3Al", GasAgent::Water, "methane", 3.0),
        ("SOCl2", GasAgent::Water, "sulfur dioxide", 1.0),
        ("(COCl)2", GasAgent::Water, "carbon monoxide", 1.0),
        ("K2CO3", GasAgent::Acid, "carbon dioxide", 1.0),
        ("NaHCO3", GasAgent::Acid, "carbon dioxide", 1.0),
        ("NaN3", GasAgent::NitrousAcid, "nitrogen", 1.5),
        ("AIBN", GasAgent::Heat, "nitrogen", 1.0),
    ] {
        let gas = named(gas);
        let found = named(name)
            .gas_on_quench()
            .find(|made| made.agent == agent && made.gas == gas)
            .unwrap_or_else(|| panic!("{name}"));
        assert!(
            (found.per_mole - per_mole).abs() < 1e-9,
            "{name}: {found:?}"
        );
    }
    for class in [ReagentClass::MetalHydride, ReagentClass::AluminiumHydride] {
        for substance in Substance::all().filter(|row| row.class() == Some(class)) {
            assert!(substance.gas_on_quench().count() > 0, "{substance:?}");
        }
    }
    assert_eq!(named("THF").gas_on_quench().count(), 0);
}

#[test]
fn gases_are_gases_or_boil_at_body_heat() {
    for substance in Substance::all() {
        for made in substance.gas_on_quench() {
            let boiling = made
                .gas
                .boiling()
                .map(|point| point.value.get::<degree_celsius>());
            let gas = made.gas.state() == Some(State::Gas) || boiling.is_some_and(|t| t < 38.0);
            assert!(gas, "{:?}", made.gas);
        }
    }
}

#[test]
fn limits_of_temperature() {
    let limit = |name: &str, with: Option<&str>| {
        let with = with.map(named);
        let limits = named(name).thermal_limits();
        limits.into_iter().find(|limit| limit.with == with).unwrap()
    };
    // A German encyclopaedia article: decomposes from about 50 °C.
    let dast = limit("DAST", None);
    assert!((dast.temperature.get::<degree_celsius>() - 50.0).abs() < 1e-6);
    assert_eq!(dast.when, LimitWhen::Neat);
    assert!(limit("NaH", Some("DMF")).temperature < limit("NaH", Some("DMSO")).temperature);
    let mut all = 0;
    for substance in Substance::all() {
        for limit in substance.thermal_limits() {
            let celsius = limit.temperature.get::<degree_celsius>();
            assert!((0.0..=200.0).contains(&celsius), "{substance:?}");
            assert!(!limit.effect.is_empty(), "{substance:?}");
            all += 1;
        }
    }
    assert!(all >= 25, "{all}");
}

#[test]
fn peroxides() {
    // Cornell University's list, after Prudent Practices.
    for (name, hazard) in [
        ("diisopropyl ether", PeroxideHazard::OnStorage),
        ("sodium amide", PeroxideHazard::OnStorage),
        ("THF", PeroxideHazard::OnConcentration),
        ("diethyl ether", PeroxideHazard::OnConcentration),
        ("styrene", PeroxideHazard::Polymerising),
        ("acrolein", PeroxideHazard::Unclassed),
    ] {
        assert_eq!(named(name).peroxide_hazard().unwrap().0, hazard, "{name}");
    }
    for substance in Substance::all().filter(|row| row.has(Tag::PeroxideFormer)) {
        assert!(substance.peroxide_hazard().is_some(), "{substance:?}");
    }
    assert_eq!(named("toluene").peroxide_hazard(), None);
}

#[test]
fn mixing_with_water() {
    for (name, wanted) in [
        ("methanol", Miscibility::Miscible),
        ("DMF", Miscibility::Miscible),
        ("THF", Miscibility::Miscible),
        ("ethyl acetate", Miscibility::Partly),
        ("diethyl ether", Miscibility::Partly),
        ("toluene", Miscibility::Immiscible),
        ("dichloromethane", Miscibility::Immiscible),
    ] {
        assert_eq!(
            named(name).miscibility_with_water().unwrap().0,
            wanted,
            "{name}"
        );
    }
    // The tag says less than the table, never the opposite.
    for substance in Substance::all() {
        if let Some((found, _)) = substance.miscibility_with_water() {
            let never = match found {
                Miscibility::Miscible => Tag::WaterImmiscible,
                Miscibility::Partly | Miscibility::Immiscible => Tag::WaterMiscible,
            };
            assert!(!substance.has(never), "{substance:?}");
        }
        if substance.has(Tag::Solvent) && substance.state() == Some(State::Liquid) {
            let water = substance.class() == Some(ReagentClass::Water);
            let known = substance.miscibility_with_water().is_some();
            assert!(water || known, "{substance:?}");
        }
    }
}

#[test]
fn stabilisers() {
    let names = |name: &str| -> Vec<&str> {
        named(name)
            .stabilisers()
            .map(|found| found.stabiliser.name())
            .collect()
    };
    assert_eq!(names("THF"), ["2,6-di-tert-butyl-4-methylphenol"]);
    assert_eq!(names("chloroform"), ["2-methylbut-2-ene", "ethanol"]);
    for substance in Substance::all() {
        assert!(
            !substance.has(Tag::Stabilised) || substance.stabilisers().count() > 0,
            "{substance:?}"
        );
        for found in substance.stabilisers() {
            let share = found.share.map(|share| share.get::<ratio::percent>());
            assert!(share.is_none_or(|percent| percent < 5.0), "{substance:?}");
        }
    }
}

#[test]
fn nitrogen_and_air() {
    assert!(named("lithium").reacts_with_nitrogen().is_some());
    assert!(named("sodium").reacts_with_nitrogen().is_none());
    assert!(named("tBuLi").pyrophoric().is_some());
    assert!(named("THF").pyrophoric().is_none());
    for substance in Substance::all().filter(|row| row.has(Tag::Pyrophoric)) {
        assert!(
            substance.hazards().any(|code| code == "H250"),
            "{substance:?}"
        );
        assert!(substance.pyrophoric().is_some(), "{substance:?}");
    }
}
