//! The equation of a plan: which material each term is, the balance, and who runs out first.

use crate::known::{At, Determined, Gap, Known, Origin};
use crate::material::Material;
use chemistry::{Atom, Balancing, Formula};
use num_rational::Ratio as Fraction;
use std::collections::BTreeMap;
use std::sync::Arc;
use syntax::{KeyId, Reaction, Term, TermReferent};
use uom::si::f64::{AmountOfSubstance, Ratio};

/// The equation, resolved.
#[derive(Clone, Debug)]
pub struct Equation {
    /// Where it stands.
    pub at: At,
    /// Before the arrow.
    pub left: Vec<EquationTerm>,
    /// After it.
    pub right: Vec<EquationTerm>,
}

/// A term, resolved.
#[derive(Clone, Debug)]
pub struct EquationTerm {
    /// Its coefficient.
    pub coefficient: Fraction<i64>,
    /// Where the coefficient is written, if it is.
    pub coefficient_at: Option<At>,
    /// The line of the plan, if it is a key.
    pub material: Option<KeyId>,
    /// Its composition, if known.
    pub formula: Option<Arc<Formula>>,
    /// As written.
    pub name: Arc<str>,
    /// Where.
    pub at: At,
}

/// What the balance of an equation came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Balance {
    /// Every atom and the charge are on both sides.
    Balanced,
    /// What the right side has too few (positive) or too many (negative) of.
    Off {
        /// Atoms by symbol.
        atoms: Vec<(String, Fraction<i64>)>,
        /// Charge missing on the right.
        charge: Fraction<i64>,
    },
    /// The composition of these terms is not known.
    Unknown(Vec<Arc<str>>),
    /// Coefficients or counts are too large to compute with.
    TooLarge,
}

/// The reactant that runs out first, and how far the equation goes with it.
#[derive(Clone, Debug)]
pub struct Limiting {
    /// The material.
    pub key: KeyId,
    /// Its amount over its coefficient.
    pub extent: Known<AmountOfSubstance>,
    /// Its coefficient.
    pub coefficient: Fraction<i64>,
}

impl Equation {
    /// Resolves the terms of a reaction line.
    #[must_use]
    pub fn resolve(line: u32, reaction: &Reaction, materials: &[Material]) -> Equation {
        let terms = |side: &[Term]| {
            side.iter()
                .map(|term| resolve_term(line, term, materials))
                .collect()
        };
        Equation {
            at: At {
                line,
                span: reaction.span,
            },
            left: terms(&reaction.left),
            right: terms(&reaction.right),
        }
    }

    /// Both sides.
    pub fn terms(&self) -> impl Iterator<Item = &EquationTerm> {
        self.left.iter().chain(&self.right)
    }

    /// The term of a material.
    #[must_use]
    pub fn term(&self, key: KeyId) -> Option<&EquationTerm> {
        self.terms().find(|term| term.material == Some(key))
    }

    /// Atoms and charge, side against side.
    #[must_use]
    pub fn balance(&self) -> Balance {
        let unknown: Vec<_> = self
            .terms()
            .filter(|term| term.formula.is_none())
            .map(|term| term.name.clone())
            .collect();
        if !unknown.is_empty() {
            return Balance::Unknown(unknown);
        }
        self.sides().unwrap_or(Balance::TooLarge)
    }

    /// The left side less the right; none where the sums leave the range of the numbers.
    fn sides(&self) -> Option<Balance> {
        let signed = || {
            let right = self.right.iter().map(|term| (term, -1_i128));
            let terms = self.left.iter().map(|term| (term, 1_i128)).chain(right);
            terms.filter_map(|(term, sign)| Some((term, sign, term.formula.as_ref()?)))
        };
        // Counted in a unit that makes everything whole.
        let mut unit = 1_i128;
        for (term, _, formula) in signed() {
            for count in formula
                .counts()
                .map(|(_, count)| count)
                .chain([formula.charge()])
            {
                let parts = i128::from(*count.denom()) * i128::from(*term.coefficient.denom());
                unit = unit.checked_mul(parts / common_divisor(unit, parts))?;
            }
        }
        let whole = |count: Fraction<i64>, term: &EquationTerm, sign: i128| {
            let parts = i128::from(*count.denom()) * i128::from(*term.coefficient.denom());
            let number = i128::from(*count.numer()) * i128::from(*term.coefficient.numer());
            number.checked_mul(unit / parts)?.checked_mul(sign)
        };
        let mut atoms: BTreeMap<Atom, i128> = BTreeMap::new();
        let mut charge = 0_i128;
        for (term, sign, formula) in signed() {
            for (atom, count) in formula.counts() {
                let sum = atoms.entry(atom).or_default();
                *sum = sum.checked_add(whole(count, term, sign)?)?;
            }
            charge = charge.checked_add(whole(formula.charge(), term, sign)?)?;
        }
        let fraction = |sum: i128| {
            let divisor = common_divisor(sum.checked_abs()?, unit);
            let over = i64::try_from(sum / divisor).ok()?;
            Some(Fraction::new(over, i64::try_from(unit / divisor).ok()?))
        };
        let atoms: Option<Vec<_>> = atoms
            .into_iter()
            .filter(|(_, sum)| *sum != 0)
            .map(|(atom, sum)| Some((atom.to_string(), fraction(sum)?)))
            .collect();
        let (atoms, charge) = (atoms?, fraction(charge)?);
        let balanced = atoms.is_empty() && *charge.numer() == 0;
        Some(if balanced {
            Balance::Balanced
        } else {
            Balance::Off { atoms, charge }
        })
    }

    /// What whole coefficients the terms as they stand can take; none where a composition is not known.
    #[must_use]
    pub fn balancing(&self) -> Option<Balancing> {
        let side = |terms: &[EquationTerm]| -> Option<Vec<Arc<Formula>>> {
            terms.iter().map(|term| term.formula.clone()).collect()
        };
        let (left, right) = (side(&self.left)?, side(&self.right)?);
        let left: Vec<&Formula> = left.iter().map(Arc::as_ref).collect();
        let right: Vec<&Formula> = right.iter().map(Arc::as_ref).collect();
        Some(chemistry::balance(&left, &right))
    }

    /// The share of the mass on the left that a product keeps if all goes as the equation says: its molar mass
    /// times its coefficient, over the sum of the same on the left (B. M. Trost, Science 1991, 254, 1471).
    ///
    /// # Errors
    /// The equation does not balance or does not have the product, or a molar mass is not known.
    pub fn atom_economy(&self, product: KeyId) -> Determined<Ratio> {
        if self.balance() != Balance::Balanced {
            return Err(Gap::new("the equation is not known to balance"));
        }
        let mass = |term: &EquationTerm| {
            let unknown = || Gap::new(format!("the molar mass of {} is not known", term.name));
            let formula = term.formula.as_ref().ok_or_else(unknown)?;
            let molar = formula.molar_mass().map_err(|_| unknown())?;
            let times = float(term.coefficient);
            let origin = Origin::AtomicWeights(formula.to_string().into());
            Ok(Known::new(
                molar.value * times,
                molar.half_width * times,
                origin,
            ))
        };
        let product = self
            .right
            .iter()
            .find(|term| term.material == Some(product))
            .ok_or_else(|| Gap::new("the equation does not have it on its right"))?;
        let reactants = self
            .left
            .iter()
            .map(mass)
            .reduce(|sum, term| Ok(sum?.plus(&term?, "sum of the molar masses on the left")));
        let reactants = reactants
            .ok_or_else(|| Gap::new("the equation has nothing on its left"))?
            .and_then(|sum| match sum.value.value > 0.0 {
                true => Ok(sum),
                false => Err(Gap::new("the left side has no mass")),
            })?;
        Ok(mass(product)?.over(
            &reactants,
            "molar mass of the product over those on the left",
        ))
    }

    /// The reactant that runs out first. A reactant in excess, or one without a line, does not.
    ///
    /// # Errors
    /// Why the amount of a reactant could not be determined: then nobody knows who is first.
    pub fn limiting<'a>(
        &self,
        amount: impl Fn(KeyId) -> Option<Result<&'a Known<AmountOfSubstance>, Gap>>,
    ) -> Result<Option<Limiting>, Gap> {
        let mut first: Option<Limiting> = None;
        for term in &self.left {
            let Some((key, known)) = term.material.and_then(|key| Some((key, amount(key)?))) else {
                continue;
            };
            let known = known.map_err(|gap| {
                Gap::new(format!(
                    "without the amount of {}, theory is not known: {gap}",
                    term.name
                ))
            })?;
            let coefficient = float(term.coefficient);
            if coefficient <= 0.0 {
                continue;
            }
            let extent = Known {
                value: known.value / coefficient,
                half_width: known.half_width / coefficient,
                origin: Origin::computed("amount over coefficient", &[&known.origin]),
            };
            if first
                .as_ref()
                .is_none_or(|least| extent.value < least.extent.value)
            {
                first = Some(Limiting {
                    key,
                    extent,
                    coefficient: term.coefficient,
                });
            }
        }
        Ok(first)
    }
}

/// A coefficient as a float; coefficients are small.
#[must_use]
pub fn float(fraction: Fraction<i64>) -> f64 {
    #[allow(clippy::cast_precision_loss)]
    let value = *fraction.numer() as f64 / *fraction.denom() as f64;
    value
}

/// Greatest common divisor of two numbers that are not negative; 1 where both are nothing.
fn common_divisor(a: i128, b: i128) -> i128 {
    let (mut a, mut b) = (a, b);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a.max(1)
}

fn resolve_term(line: u32, term: &Term, materials: &[Material]) -> EquationTerm {
    let (over, under) = term.coefficient;
    let material = match &term.referent {
        TermReferent::Key(id) => materials.iter().find(|material| material.id == *id),
        TermReferent::Other => None,
    };
    let formula = match material {
        Some(material) => material.identity.formula.clone(),
        None => crate::identity::composition_of(&term.name.text).map(Arc::new),
    };
    EquationTerm {
        coefficient: Fraction::new(i64::from(over), i64::from(under.max(1))),
        coefficient_at: term.coefficient_span.map(|span| At { line, span }),
        material: material.map(|material| material.id),
        formula,
        name: term.name.text.as_ref().into(),
        at: At {
            line,
            span: term.name.span,
        },
    }
}
