//! Balancing against printed answers; each is also held against conservation, common divisors and
//! the rank of its matrix, found here in another way.

#![allow(clippy::panic, clippy::unwrap_used, reason = "a test may fail")]

use chemistry::{Balancing, Conserved, Element, Formula, Ratio, Side, balance};
use proptest::prelude::*;

/// Printed answers with where each was read:
///
/// - `chemicals`: tests of the Python library chemicals (tests/test_reaction.py), which took the large ones from
///   chembuddy.com;
/// - `libretexts`: chem.libretexts.org, Worksheets: General Chemistry, Balancing Redox Solutions;
/// - `byjus`: byjus.com, on the titration of iron with permanganate and dichromate;
/// - `jiskha`: jiskha.com, display 1220420172;
/// - `newmkf`: newmkf-consultweb.blogspot.com, question 13959538;
/// - `laminart`: archive.laminart.com, dudas 27063757;
/// - `chembalancer`: README of knutsa/chembalancer;
/// - `enotes`: enotes.com, homework help 253381;
/// - `chemequations`: chemequations.com;
/// - `chemistry.se`: a question of Chemistry Stack Exchange in the Nemotron-CC-Math collection;
/// - `sergey.chembalancer`, `chemical balancer`: test files of public repositories on GitHub, found by their text;
/// - `definition`: counts that are not whole (two half waters make one), and a labelled reagent, conserved for
///   itself.
const PRINTED: &str = include_str!("data/equations.tsv");

fn printed() -> impl Iterator<Item = &'static str> {
    PRINTED
        .lines()
        .skip(1)
        .map(|line| line.split_once('\t').unwrap().1)
}

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
    assert!(printed().count() >= 40);
    for equation in printed() {
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
