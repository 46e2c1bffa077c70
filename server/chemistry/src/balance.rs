//! Balancing a reaction: whole-number coefficients that conserve every kind of atom and the charge.
//!
//! The null space of the composition matrix, found by fraction-free elimination over `i128` with
//! every step checked for overflow. Crates were looked at first: lin_algebra knows only GF(2),
//! bareiss only determinants, nalgebra no exact field; algebraeon, malachite and rug come under
//! copyleft licences, and feanor-math is a framework of rings for these forty lines.

use std::collections::BTreeMap;
use std::fmt;

use num_rational::Ratio;

use crate::element::Atom;
use crate::formula::Formula;

/// What a reaction conserves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Conserved {
    /// Atoms of an element, or of a nuclide where the formulae name one.
    Atom(Atom),
    /// Charge.
    Charge,
}

impl fmt::Display for Conserved {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Conserved::Atom(atom) => atom.fmt(f),
            Conserved::Charge => f.write_str("charge"),
        }
    }
}

/// A side of a reaction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Side {
    /// Starting materials.
    Left,
    /// Products.
    Right,
}

/// What came of balancing. Terms are counted from 0, those of the left first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Balancing {
    /// The smallest whole coefficients, all positive; there are no others but multiples of them.
    Balanced {
        /// Of the terms on the left, in their order.
        left: Vec<u64>,
        /// Of the terms on the right.
        right: Vec<u64>,
    },
    /// More than one independent reaction can run between these terms, so that the coefficients
    /// are open. Whether all of them can be positive at once was not asked.
    NotUnique {
        /// Independent reactions, as many as the null space has dimensions: a coefficient for
        /// every term; a negative one puts the term on the other side.
        independent: Vec<Vec<i64>>,
    },
    /// Impossible: these stand on one side only. For the charge it is the side of the positive
    /// surplus.
    OneSided(Vec<(Conserved, Side)>),
    /// Impossible, though everything stands on both sides.
    NoSolution {
        /// Terms that would balance on the other side.
        wrong_side: Vec<usize>,
        /// Terms that can take no part.
        unused: Vec<usize>,
    },
    /// The coefficients are too large to compute with.
    TooLarge,
}

/// Balances a reaction. Nuclides that the formulae name are conserved for themselves, apart from
/// the natural mixture of their element.
pub fn balance(left: &[&Formula], right: &[&Formula]) -> Balancing {
    let terms = left.len() + right.len();
    let mut rows: BTreeMap<Conserved, Vec<Ratio<i64>>> = BTreeMap::new();
    for (term, formula) in left.iter().chain(right).enumerate() {
        let atoms = formula
            .counts()
            .map(|(atom, count)| (Conserved::Atom(atom), count));
        for (what, amount) in atoms.chain([(Conserved::Charge, formula.charge())]) {
            let row = rows
                .entry(what)
                .or_insert_with(|| vec![Ratio::from_integer(0); terms]);
            if let Some(cell) = row.get_mut(term) {
                *cell = if term < left.len() { amount } else { -amount };
            }
        }
    }
    let zero = Ratio::from_integer(0);
    let one_sided: Vec<(Conserved, Side)> = rows
        .iter()
        .filter_map(|(what, row)| {
            let surplus = row.iter().any(|cell| *cell > zero);
            let deficit = row.iter().any(|cell| *cell < zero);
            match (surplus, deficit) {
                (true, false) => Some((*what, Side::Left)),
                (false, true) => Some((*what, Side::Right)),
                _ => None,
            }
        })
        .collect();
    if !one_sided.is_empty() {
        return Balancing::OneSided(one_sided);
    }
    let Some(space) = rows
        .into_values()
        .map(|row| whole(&row))
        .collect::<Option<Vec<Vec<i128>>>>()
        .and_then(|rows| null_space(rows, terms))
    else {
        return Balancing::TooLarge;
    };
    match space.as_slice() {
        [] => Balancing::NoSolution {
            wrong_side: Vec::new(),
            unused: Vec::new(),
        },
        [only] => unique(only, left.len()),
        _ => Balancing::NotUnique { independent: space },
    }
}

fn unique(coefficients: &[i64], left: usize) -> Balancing {
    if let Ok(all) = coefficients
        .iter()
        .map(|value| u64::try_from(*value))
        .collect::<Result<Vec<u64>, _>>()
        && !all.contains(&0)
    {
        let (left, right) = all.split_at(left);
        return Balancing::Balanced {
            left: left.to_vec(),
            right: right.to_vec(),
        };
    }
    let those = |wanted: fn(i64) -> bool| {
        let terms = coefficients.iter().enumerate();
        terms
            .filter(|(_, value)| wanted(**value))
            .map(|(term, _)| term)
            .collect()
    };
    Balancing::NoSolution {
        wrong_side: those(|value| value < 0),
        unused: those(|value| value == 0),
    }
}

/// A row times its common denominator.
fn whole(row: &[Ratio<i64>]) -> Option<Vec<i128>> {
    let mut multiple = 1_i128;
    for cell in row {
        let denominator = i128::from(*cell.denom());
        multiple = multiple.checked_mul(denominator / gcd(multiple, denominator))?;
    }
    row.iter()
        .map(|cell| i128::from(*cell.numer()).checked_mul(multiple / i128::from(*cell.denom())))
        .collect()
}

fn gcd(a: i128, b: i128) -> i128 {
    let (mut a, mut b) = (a.unsigned_abs(), b.unsigned_abs());
    while b != 0 {
        (a, b) = (b, a % b);
    }
    i128::try_from(a).unwrap_or(1).max(1)
}

fn reduce(row: &mut [i128]) {
    let divisor = row.iter().fold(0, |divisor, cell| match (divisor, *cell) {
        (divisor, 0) => divisor,
        (0, cell) => gcd(cell, 0),
        (divisor, cell) => gcd(divisor, cell),
    });
    if divisor > 1 {
        for cell in row {
            *cell /= divisor;
        }
    }
}

/// A basis of whole numbers without common divisors, most of each positive; `None` on overflow.
fn null_space(mut rows: Vec<Vec<i128>>, terms: usize) -> Option<Vec<Vec<i64>>> {
    let cell = |row: &[i128], column: usize| row.get(column).copied().unwrap_or(0);
    // Rows that are done, each with the column that it alone holds among the pivots.
    let mut done: Vec<(usize, Vec<i128>)> = Vec::new();
    for column in 0..terms {
        let Some(found) = rows.iter().position(|row| cell(row, column) != 0) else {
            continue;
        };
        let mut pivot = rows.swap_remove(found);
        reduce(&mut pivot);
        let head = cell(&pivot, column);
        for row in rows.iter_mut().chain(done.iter_mut().map(|(_, row)| row)) {
            let factor = cell(row, column);
            if factor == 0 {
                continue;
            }
            for (value, above) in row.iter_mut().zip(&pivot) {
                *value = value
                    .checked_mul(head)?
                    .checked_sub(factor.checked_mul(*above)?)?;
            }
            reduce(row);
        }
        done.push((column, pivot));
    }
    let free = (0..terms).filter(|column| done.iter().all(|(pivot, _)| pivot != column));
    free.map(|column| {
        let mut multiple = 1_i128;
        for (pivot, row) in &done {
            let head = cell(row, *pivot);
            let needed = head / gcd(head, cell(row, column));
            multiple = multiple.checked_mul(needed / gcd(multiple, needed))?;
        }
        let multiple = multiple.checked_abs()?;
        let mut vector = vec![0_i128; terms];
        *vector.get_mut(column)? = multiple;
        for (pivot, row) in &done {
            *vector.get_mut(*pivot)? =
                multiple.checked_mul(cell(row, column))?.checked_neg()? / cell(row, *pivot);
        }
        reduce(&mut vector);
        let negative = vector.iter().filter(|value| **value < 0).count();
        let positive = vector.iter().filter(|value| **value > 0).count();
        let sign = if negative > positive { -1 } else { 1 };
        vector
            .iter()
            .map(|value| i64::try_from(sign * value).ok())
            .collect()
    })
    .collect()
}
