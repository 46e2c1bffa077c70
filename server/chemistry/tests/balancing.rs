//! Balancing against printed answers; each is also held against conservation, common divisors and
//! the rank of its matrix, found here in another way.

#![allow(clippy::panic, clippy::unwrap_used, reason = "a test may fail")]

use chemistry::{Balancing, Conserved, Element, Formula, Ratio, Side, balance};
use proptest::prelude::*;

/// Answers of the tests of the Python library `chemicals` (tests/test_reaction.py), which took the
/// large ones from chembuddy.com.
const CHEMICALS: &[&str] = &[
    "4 Al2O3 + 9 Fe = 3 Fe3O4 + 8 Al",
    "2 KClO3 = 2 KCl + 3 O2",
    "NH4NO3 = N2O + 2 H2O",
    "2 NaHCO3 = Na2CO3 + H2O + CO2",
    "P4O10 + 6 H2O = 4 H3PO4",
    "Be2C + 4 H2O = 2 Be(OH)2 + CH4",
    "2 Al + 3 H2SO4 = Al2(SO4)3 + 3 H2",
    "S + 6 HNO3 = H2SO4 + 6 NO2 + 2 H2O",
    "2 NH3 + 3 CuO = 3 Cu + N2 + 3 H2O",
    "3 Cu + 8 HNO3 = 3 Cu(NO3)2 + 2 NO + 4 H2O",
    "10 K4Fe(CN)6 + 122 KMnO4 + 299 H2SO4 = \
     162 KHSO4 + 5 Fe2(SO4)3 + 122 MnSO4 + 60 HNO3 + 60 CO2 + 188 H2O",
    "K3Fe(SCN)6 + 16 Na2Cr2O7 + 58 H2SO4 = \
     Fe(NO3)3 + 16 Cr2(SO4)3 + 6 CO2 + 58 H2O + 16 Na2SO4 + 3 KNO3",
    "6 K4Fe(SCN)6 + 97 K2Cr2O7 + 355 H2SO4 = \
     3 Fe2(SO4)3 + 97 Cr2(SO4)3 + 36 CO2 + 355 H2O + 91 K2SO4 + 36 KNO3",
    "2 Ca5F(PO4)3 + 7 H2SO4 = 3 Ca(H2PO4)2 + 7 CaSO4 + 2 HF",
    "12 HClO4 + P4O10 = 4 H3PO4 + 6 Cl2O7",
    "4 Au + 8 KCN + O2 + 2 H2O = 4 K[Au(CN)2] + 4 KOH",
    "4 FeS2 + 11 O2 = 2 Fe2O3 + 8 SO2",
    "2 Ca3(PO4)2 + 6 SiO2 + 10 C = 6 CaSiO3 + P4 + 10 CO",
    "48 KNO3 + 5 C12H22O11 = 24 N2 + 36 CO2 + 55 H2O + 24 K2CO3",
    "3 K2MnO4 + 2 H2SO4 = 2 KMnO4 + MnO2 + 2 K2SO4 + 2 H2O",
    "4 H3BO3 + Na2CO3 = Na2B4O7 + CO2 + 6 H2O",
    "Pb + 4 Na + 4 C2H5Cl = Pb(C2H5)4 + 4 NaCl",
    "2 Al + 2 NaOH + 6 H2O = 2 NaAl(OH)4 + 3 H2",
    "3 Al + 3 NH4ClO4 = Al2O3 + AlCl3 + 3 NO + 6 H2O",
    "U3O8 + 8 HNO3 = 3 UO2(NO3)2 + 2 NO2 + 4 H2O",
    "Pb3(VO4)2·PbCl2 + 8 HCl = 2 VO2Cl + 4 PbCl2 + 4 H2O",
    "CaHPO4(H2O)2 + 2 NaOH + 10 H2O = Na2HPO4(H2O)12 + Ca(OH)2",
    "2 FeC2O4·2H2O + H2C2O4 + H2O2 + 3 K2C2O4 = 2 K3Fe(C2O4)3·3H2O",
    "2 MgNH4AsO4·6H2O = Mg2As2O7 + 2 NH3 + 13 H2O",
];

/// Printed answers, read on the pages and in the test files named.
const PRINTED: &[(&str, &str)] = &[
    // chem.libretexts.org, Worksheets: General Chemistry, Balancing Redox Solutions.
    (
        "libretexts",
        "2 Bi(OH)3 + 3 SnO2^2- = 2 Bi + 3 SnO3^2- + 3 H2O",
    ),
    ("libretexts", "2 S2O3^2- + I2 = 2 I^- + S4O6^2-"),
    // byjus.com, on the titration of iron with permanganate and dichromate.
    ("byjus", "8 H+ + 5 Fe^2+ + MnO4^- = 5 Fe^3+ + Mn^2+ + 4 H2O"),
    (
        "byjus",
        "6 Fe^2+ + Cr2O7^2- + 14 H+ = 6 Fe^3+ + 2 Cr^3+ + 7 H2O",
    ),
    // jiskha.com, display 1220420172.
    (
        "jiskha",
        "Cr2O7^2- + 14 H+ + 3 C2O4^2- = 2 Cr^3+ + 7 H2O + 6 CO2",
    ),
    // newmkf-consultweb.blogspot.com, question 13959538.
    (
        "newmkf",
        "5 BiO3^- + 14 H+ + 2 Mn^2+ = 5 Bi^3+ + 7 H2O + 2 MnO4^-",
    ),
    ("newmkf", "Mn^2+ + 2 OH^- + H2O2 = MnO2 + 2 H2O"),
    // archive.laminart.com, dudas 27063757.
    (
        "laminart",
        "6 ClO^- + 2 Cr(OH)3 = 3 Cl2 + 2 OH^- + 2 CrO4^2- + 2 H2O",
    ),
    // README of knutsa/chembalancer.
    (
        "chembalancer",
        "5 NH3 + 7 MnO4^- + 21 H+ = 5 NO2 + 7 Mn^2+ + 18 H2O",
    ),
    // enotes.com, homework help 253381.
    (
        "enotes",
        "K4Fe(CN)6 + 6 H2SO4 + 6 H2O = 2 K2SO4 + FeSO4 + 3 (NH4)2SO4 + 6 CO",
    ),
    // chemequations.com.
    ("chemequations", "5 P4O6 + 4 I2 = 4 P2I2 + 3 P4O10"),
    (
        "chemequations",
        "20 HCl + 4 K2CrO4 + 3 P2O3 = H2O + 8 KCl + 6 H3PO4 + 4 CrCl3",
    ),
    // A question of Chemistry Stack Exchange in the Nemotron-CC-Math collection.
    (
        "chemistry.se",
        "K4Fe(CN)6 + 61 Ce(NO3)4 + 258 KOH = \
         61 Ce(OH)3 + Fe(OH)3 + 36 H2O + 6 K2CO3 + 250 KNO3",
    ),
    // Test files of public repositories on GitHub, found by their text.
    (
        "sergey.chembalancer",
        "10 P2I4 + 13 P4 + 128 H2O = 40 PH4I + 32 H3PO4",
    ),
    (
        "sergey.chembalancer",
        "15 Pb(N3)2 + 44 Cr(MnO4)2 = 5 Pb3O4 + 90 NO + 22 Cr2O3 + 88 MnO2",
    ),
    (
        "sergey.chembalancer",
        "88 H2 + 15 Ca(CN)2 + 6 NaAlF4 + 10 FeSO4 + 3 MgSiO3 + 6 KI + 2 H3PO4 + 6 PbCrO4 + \
         12 BrCl + 3 CF2Cl2 + 20 SO2 = 6 PbBr2 + 6 CrCl3 + 3 MgCO3 + 6 KAl(OH)4 + 10 Fe(SCN)3 + \
         2 PI3 + 3 Na2SiO3 + 15 CaF2 + 79 H2O",
    ),
    (
        "sergey.chembalancer",
        "10 [Cr(N2H4CO)6]4[Cr(CN)6]3 + 1176 KMnO4 + 1399 H2SO4 = \
         35 K2Cr2O7 + 1176 MnSO4 + 420 CO2 + 660 KNO3 + 223 K2SO4 + 1879 H2O",
    ),
    (
        "chemical balancer",
        "5 PhCH3 + 6 KMnO4 + 9 H2SO4 = 5 PhCO2H + 3 K2SO4 + 6 MnSO4 + 14 H2O",
    ),
    // Counts that are not whole, from the definition: two half waters make one.
    ("definition", "2 CaSO4·2H2O = 2 CaSO4·0.5H2O + 3 H2O"),
    // A labelled reagent, conserved for itself.
    ("definition", "C4H9Li + D2O = C4H9D + LiOD"),
];

/// Coefficients and formulae of a side.
fn side(text: &str) -> (Vec<u64>, Vec<Formula>) {
    text.split(" + ")
        .map(|term| {
            let term = term.trim();
            let (number, formula) = term.split_once(' ').unwrap_or(("1", term));
            let formula = Formula::parse(formula).unwrap_or_else(|e| panic!("{formula}: {e}"));
            (number.parse::<u64>().unwrap(), formula)
        })
        .unzip()
}

fn run(left: &[Formula], right: &[Formula]) -> Balancing {
    balance(
        &left.iter().collect::<Vec<_>>(),
        &right.iter().collect::<Vec<_>>(),
    )
}

fn balanced(text: &str) -> Balancing {
    let (left, right) = text.split_once(" = ").unwrap();
    run(&side(left).1, &side(right).1)
}

/// Rank of the composition matrix modulo a prime, which is at most the true one.
fn rank(left: &[Formula], right: &[Formula]) -> usize {
    const PRIME: i128 = 2_147_483_647;
    let terms: Vec<&Formula> = left.iter().chain(right).collect();
    // Twice every count, since some formulae hold half a water.
    let twice = |count: Ratio<i64>| i128::from((count * 2).to_integer()).rem_euclid(PRIME);
    let mut keys: Vec<_> = terms.iter().flat_map(|f| f.counts().map(|c| c.0)).collect();
    keys.sort();
    keys.dedup();
    let mut rows: Vec<Vec<i128>> = keys
        .iter()
        .map(|key| {
            let of = |f: &&Formula| f.counts().find(|c| c.0 == *key).map_or(0, |c| twice(c.1));
            terms.iter().map(of).collect()
        })
        .collect();
    rows.push(terms.iter().map(|f| twice(f.charge())).collect());
    let inverse = |value: i128| {
        let (mut result, mut base, mut power) = (1, value, PRIME - 2);
        while power > 0 {
            if power % 2 == 1 {
                result = result * base % PRIME;
            }
            base = base * base % PRIME;
            power /= 2;
        }
        result
    };
    let mut rank = 0;
    for column in 0..terms.len() {
        let Some(pivot) = (rank..rows.len()).find(|row| rows[*row][column] != 0) else {
            continue;
        };
        rows.swap(rank, pivot);
        for row in rank + 1..rows.len() {
            let factor = rows[row][column] * inverse(rows[rank][column]) % PRIME;
            let above = rows[rank].clone();
            for (cell, above) in rows[row].iter_mut().zip(above) {
                *cell = (*cell - factor * above).rem_euclid(PRIME);
            }
        }
        rank += 1;
    }
    rank
}

fn conserves(left: &[(u64, &Formula)], right: &[(u64, &Formula)]) -> bool {
    let sum = |side: &[(u64, &Formula)], of: &dyn Fn(&Formula) -> Ratio<i64>| {
        side.iter()
            .map(|(number, formula)| of(formula) * i64::try_from(*number).unwrap())
            .sum::<Ratio<i64>>()
    };
    let same = |of: &dyn Fn(&Formula) -> Ratio<i64>| sum(left, of) == sum(right, of);
    Element::all().all(|element| same(&|f| f.count(element))) && same(&|f| f.charge())
}

#[test]
fn printed_answers_come_out() {
    let equations: Vec<&str> = CHEMICALS
        .iter()
        .copied()
        .chain(PRINTED.iter().map(|(_, equation)| *equation))
        .collect();
    assert!(equations.len() >= 40);
    for equation in equations {
        let (left, right) = equation.split_once(" = ").unwrap();
        let ((left, first), (right, second)) = (side(left), side(right));
        let expected = Balancing::Balanced {
            left: left.clone(),
            right: right.clone(),
        };
        assert_eq!(run(&first, &second), expected, "{equation}");
        // The other way round too.
        let reverse = Balancing::Balanced {
            left: right.clone(),
            right: left.clone(),
        };
        assert_eq!(run(&second, &first), reverse, "{equation}");
        let terms = first.len() + second.len();
        assert_eq!(rank(&first, &second), terms - 1, "{equation}");
        let first: Vec<_> = left.into_iter().zip(&first).collect();
        let second: Vec<_> = right.into_iter().zip(&second).collect();
        assert!(conserves(&first, &second), "{equation}");
    }
}

#[test]
fn what_has_many_solutions_says_so() {
    for (equation, dimensions) in [
        // Peroxide falls apart beside the redox reaction.
        ("KMnO4 + H2O2 + H2SO4 = MnSO4 + K2SO4 + H2O + O2", 2),
        ("C + O2 = CO + CO2", 2),
        // Something that only stands by.
        ("H2 + O2 + Pt = H2O + Pt", 2),
        ("Fe2O3 + C = Fe3O4 + FeO + Fe + Fe3C + CO + CO2", 5),
    ] {
        let (left, right) = equation.split_once(" = ").unwrap();
        let (first, second) = (side(left).1, side(right).1);
        let Balancing::NotUnique { independent } = run(&first, &second) else {
            panic!("{equation}");
        };
        assert_eq!(independent.len(), dimensions, "{equation}");
        assert_eq!(
            first.len() + second.len() - rank(&first, &second),
            dimensions
        );
        for reaction in &independent {
            let all = first.iter().chain(&second).zip(reaction).enumerate();
            let of = |positive: bool| -> Vec<(u64, &Formula)> {
                all.clone()
                    .filter(|(term, (_, n))| (**n > 0) == ((*term < first.len()) == positive))
                    .map(|(_, (formula, n))| (n.unsigned_abs(), formula))
                    .collect()
            };
            assert!(conserves(&of(true), &of(false)), "{equation} {reaction:?}");
        }
    }
}

#[test]
fn what_is_impossible_says_why() {
    let atom = |symbol: &str| {
        let formula = Formula::parse(symbol).unwrap();
        Conserved::Atom(formula.counts().next().unwrap().0)
    };
    for (equation, expected) in [
        ("H2 + O2 = H2O + CO2", vec![(atom("C"), Side::Right)]),
        (
            "NaCl + H2O = KCl + H2O",
            vec![(atom("Na"), Side::Left), (atom("K"), Side::Right)],
        ),
        ("Fe^2+ = Fe", vec![(Conserved::Charge, Side::Left)]),
        (
            "MnO4^- + H2O = MnO2 + H2O",
            vec![(Conserved::Charge, Side::Right)],
        ),
        ("Ag+ + Cl2 = AgCl", vec![(Conserved::Charge, Side::Left)]),
        ("NaBD4 + H2O = NaBO2 + H2", vec![(atom("D"), Side::Left)]),
    ] {
        assert_eq!(
            balanced(equation),
            Balancing::OneSided(expected),
            "{equation}"
        );
    }
    for (equation, wrong_side, unused) in [
        // Oxygen is given off, not taken up.
        ("CO2 + H2O + O2 = C6H12O6", vec![2], vec![]),
        ("C6H12O6 = CO2 + H2O + O2", vec![3], vec![]),
        // Chlorine for one sodium on the left, for two on the right.
        ("H2 + O2 + NaCl = H2O + NaCl2", vec![], vec![2, 4]),
        ("CH4 + D2 = CH3D", vec![], vec![]),
    ] {
        let expected = Balancing::NoSolution { wrong_side, unused };
        assert_eq!(balanced(equation), expected, "{equation}");
    }
}

#[test]
fn nothing_and_huge_numbers_have_an_outcome() {
    assert!(matches!(balance(&[], &[]), Balancing::NoSolution { .. }));
    let water = Formula::parse("H2O").unwrap();
    assert!(matches!(balance(&[&water], &[]), Balancing::OneSided(_)));
    // Coprime counts without end, so that the elimination leaves the range of i128.
    let symbols = ["C", "H", "N", "O", "S", "F", "P", "I", "B", "K"];
    let mut state = 7_u64;
    let terms: Vec<Formula> = (0..=symbols.len())
        .map(|_| {
            let text: String = symbols
                .iter()
                .map(|symbol| {
                    state = state
                        .wrapping_mul(6_364_136_223_846_793_005)
                        .wrapping_add(1);
                    format!("{symbol}{}", state >> 35)
                })
                .collect();
            Formula::parse(&text).unwrap()
        })
        .collect();
    let (left, right) = terms.split_at(5);
    assert_eq!(run(left, right), Balancing::TooLarge);
    assert_eq!(
        balance(&[&water], &[&water]),
        Balancing::Balanced {
            left: vec![1],
            right: vec![1]
        }
    );
}

prop_compose! {
    fn formula()(counts in prop::collection::vec(0..1_000_000_u32, 6), n in 1..9_u32) -> Formula {
        let symbols = ["C", "H", "N", "O", "S", "Cl"];
        let atoms = symbols.iter().zip(counts).filter(|(_, count)| *count > 0);
        let text: String = atoms.map(|(symbol, count)| format!("{symbol}{count}")).collect();
        Formula::parse(&format!("P{n}{text}")).unwrap()
    }
}

proptest! {
    #[test]
    fn any_terms_have_a_right_outcome(
        left in prop::collection::vec(formula(), 0..5),
        right in prop::collection::vec(formula(), 0..5),
    ) {
        if let Balancing::Balanced { left: l, right: r } = run(&left, &right) {
            let first: Vec<_> = l.into_iter().zip(&left).collect();
            let second: Vec<_> = r.into_iter().zip(&right).collect();
            prop_assert!(conserves(&first, &second));
        }
    }

    #[test]
    fn a_sum_is_balanced_by_its_parts(
        a in formula(), b in formula(), n in 1..50_u64, m in 1..50_u64,
    ) {
        prop_assume!(!a.same_composition(&b));
        let sum = Formula::parse(&format!("({a}){n}({b}){m}")).unwrap();
        match balance(&[&a, &b], &[&sum]) {
            Balancing::Balanced { left, right } => {
                prop_assert_eq!(left, vec![n, m]);
                prop_assert_eq!(right, vec![1]);
            }
            // Multiples of one another.
            other => {
                let multiples = matches!(other, Balancing::NotUnique { .. });
                prop_assert!(multiples);
            }
        }
    }
}
