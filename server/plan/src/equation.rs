//! The equation of a plan: which material each term is, the balance, and who runs out first.

use crate::known::{At, Gap, Known, Origin};
use crate::material::Material;
use chemistry::{Atom, Formula};
use num_rational::Ratio as Fraction;
use std::collections::BTreeMap;
use std::sync::Arc;
use syntax::{KeyId, Reaction, Term, TermReferent};
use uom::si::f64::AmountOfSubstance;

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
        let mut atoms: BTreeMap<Atom, Fraction<i64>> = BTreeMap::new();
        let mut charge = Fraction::from_integer(0);
        let signed = self
            .left
            .iter()
            .map(|term| (term, 1))
            .chain(self.right.iter().map(|term| (term, -1)));
        for (term, sign) in signed {
            let Some(formula) = &term.formula else {
                continue;
            };
            let times = term.coefficient * sign;
            for (atom, count) in formula.counts() {
                *atoms
                    .entry(atom)
                    .or_insert_with(|| Fraction::from_integer(0)) += count * times;
            }
            charge += formula.charge() * times;
        }
        let zero = Fraction::from_integer(0);
        let atoms: Vec<_> = atoms
            .into_iter()
            .filter(|(_, missing)| *missing != zero)
            .map(|(atom, missing)| (atom.to_string(), missing))
            .collect();
        if atoms.is_empty() && charge == zero {
            Balance::Balanced
        } else {
            Balance::Off { atoms, charge }
        }
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

fn resolve_term(line: u32, term: &Term, materials: &[Material]) -> EquationTerm {
    let (over, under) = term.coefficient;
    let material = match &term.referent {
        TermReferent::Key(id) => materials.iter().find(|material| material.id == *id),
        TermReferent::Other => None,
    };
    let formula = match material {
        Some(material) => material.identity.formula.clone(),
        None => {
            // A library name before a formula, as everywhere.
            let library = crate::identity::one(chemistry::find_name(&term.name.text));
            library
                .and_then(|substance| Formula::parse(substance.formula()?).ok())
                .or_else(|| Formula::parse(&term.name.text).ok())
                .map(Arc::new)
        }
    };
    EquationTerm {
        coefficient: Fraction::new(i64::from(over), i64::from(under.max(1))),
        material: material.map(|material| material.id),
        formula,
        name: term.name.text.as_ref().into(),
        at: At {
            line,
            span: term.name.span,
        },
    }
}
