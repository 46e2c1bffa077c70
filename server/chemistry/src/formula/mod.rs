//! Chemical formulae: composition, charge and molar mass.

pub(crate) mod parse;

use std::collections::BTreeMap;
use std::fmt;
use std::sync::{Arc, LazyLock, OnceLock, RwLock};

use num_rational::Ratio;

pub use self::parse::FormulaError;
use self::parse::{Kind, Part};
use crate::element::{Atom, Element};
use crate::find::{Asked, remembered};
use crate::quantity::{MolarMass, molar_mass};

/// Molar mass of the electron in g/mol (CODATA 2018: 5.485 799 0888e-7 kg/mol).
const ELECTRON: f64 = 5.485_799_088_8e-4;

/// A chemical formula with exact counts.
///
/// Reads nested groups `()`, `[]`, `{}`; hydrates and other adducts after `·`, `.`, `*` or ` x `
/// with a multiplier before each part (`CuSO4·5H2O`, `0.5 H2O`, `1/2 H2O`); charges (`Na+`,
/// `SO4^2-`, `[Fe(CN)6]4-`, `Ca2+`, `SO₄²⁻`); nuclides (`D2O`, `[13C]H4`, `¹³CH4`); subscript
/// digits; the residues Me, Et, Bu, Ph, Cy, Cp, Bn and Bz. Element counts are whole numbers. A text with two readings, such as `SO42-`, is an
/// error, never a guess. At most 1,000 bytes, 32 brackets deep, fewer
/// than 10⁹ atoms of a kind.
#[derive(Clone)]
pub struct Formula(Arc<Read>);

/// A formula as it was read.
struct Read {
    text: String,
    parts: Vec<Part>,
    totals: BTreeMap<Kind, Ratio<i64>>,
    /// What every line with this formula asks for, once it was asked.
    molar_mass: OnceLock<Result<MolarMassValue, NoStandardWeight>>,
    in_hill_order: OnceLock<String>,
}

/// A molar mass and what the standard atomic weights leave open.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MolarMassValue {
    /// The mass of one mole of formula units; for ions less or more the electrons.
    pub value: MolarMass,
    /// Half-width of the interval for normal material: the uncertainties of the standard atomic
    /// weights times their counts, added up, since they are bounds and not deviations.
    pub half_width: MolarMass,
}

/// An element without a standard atomic weight, or a nuclide whose mass is not in the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NoStandardWeight {
    /// The kind of atom in question.
    pub atom: Atom,
}

impl fmt::Display for NoStandardWeight {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} has no standard atomic weight; write the molar mass.",
            self.atom
        )
    }
}

impl std::error::Error for NoStandardWeight {}

impl Formula {
    /// Reads a formula; the error says where and why not.
    pub fn parse(text: &str) -> Result<Formula, FormulaError> {
        static ASKED: Asked<Result<Formula, FormulaError>> = LazyLock::new(RwLock::default);
        remembered(&ASKED, text, Formula::read)
    }

    fn read(text: &str) -> Result<Formula, FormulaError> {
        let parts = parse::parse(text, &|symbol| {
            Element::from_symbol(symbol).map(Element::atomic_number)
        })?;
        Ok(Formula(Arc::new(Read {
            text: text.trim().to_owned(),
            totals: parse::totals(&parts),
            parts,
            molar_mass: OnceLock::new(),
            in_hill_order: OnceLock::new(),
        })))
    }

    /// The formula as it was written, without white space around it.
    pub fn text(&self) -> &str {
        &self.0.text
    }

    /// Molar mass by the standard atomic weights of 2021; named nuclides count with their own mass.
    pub fn molar_mass(&self) -> Result<MolarMassValue, NoStandardWeight> {
        *self.0.molar_mass.get_or_init(|| self.weigh())
    }

    fn weigh(&self) -> Result<MolarMassValue, NoStandardWeight> {
        let mut value = -float(self.charge()) * ELECTRON;
        let mut half_width = 0.0;
        for (atom, count) in self.counts() {
            let weight = atom.weight().ok_or(NoStandardWeight { atom })?;
            value += float(count) * weight.value;
            half_width += float(count) * weight.uncertainty;
        }
        Ok(MolarMassValue {
            value: MolarMass::new::<molar_mass::gram_per_mole>(value),
            half_width: MolarMass::new::<molar_mass::gram_per_mole>(half_width),
        })
    }

    /// Every kind of atom with its number in the formula unit, by atomic number.
    pub fn counts(&self) -> impl Iterator<Item = (Atom, Ratio<i64>)> + '_ {
        self.0
            .totals
            .iter()
            .filter_map(|(kind, count)| Some((atom(*kind)?, *count)))
    }

    /// Atoms of an element in the formula unit, all its nuclides together.
    pub fn count(&self, element: Element) -> Ratio<i64> {
        self.counts()
            .filter(|(atom, _)| atom.element == element)
            .fold(Ratio::from_integer(0), |sum, (_, count)| sum + count)
    }

    /// Net charge in elementary charges.
    pub fn charge(&self) -> Ratio<i64> {
        parse::charge(&self.0.parts)
    }

    /// Water written as an adduct, in mol per mol of formula units: 5 for `CuSO4·5H2O`.
    pub fn crystal_water(&self) -> Ratio<i64> {
        self.0
            .parts
            .iter()
            .skip(1)
            .filter(|part| part.counts == BTreeMap::from([((1, 0), 2), ((8, 0), 1)]))
            .fold(Ratio::from_integer(0), |sum, part| sum + part.multiplier)
    }

    /// Whether both hold the same atoms (nuclides told apart) and the same charge.
    pub fn same_composition(&self, other: &Formula) -> bool {
        self.0.totals == other.0.totals && self.charge() == other.charge()
    }

    pub(crate) fn composition_key(&self) -> String {
        parse::composition_key(&self.0.parts)
    }
}

impl fmt::Debug for Formula {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Formula")
            .field("text", &self.0.text)
            .field("parts", &self.0.parts)
            .field("totals", &self.0.totals)
            .finish()
    }
}

fn float(ratio: Ratio<i64>) -> f64 {
    *ratio.numer() as f64 / *ratio.denom() as f64
}

fn atom((number, mass): Kind) -> Option<Atom> {
    Some(Atom {
        element: Element::from_atomic_number(number)?,
        mass_number: (mass != 0).then_some(mass),
    })
}

/// The formula in Hill order, as plain text that reads back to the same composition. Where a part
/// has a broken multiplier the parts stay apart, since element counts are whole.
impl fmt::Display for Formula {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = || format!("{}", fmt::from_fn(|f| self.in_hill_order(f)));
        f.write_str(self.0.in_hill_order.get_or_init(text))
    }
}

impl Formula {
    fn in_hill_order(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.totals.values().all(Ratio::is_integer) && self.charge().is_integer() {
            let counts = self
                .0
                .totals
                .iter()
                .map(|(kind, count)| (*kind, count.to_integer()))
                .collect();
            return hill(f, &counts, self.charge().to_integer());
        }
        for (index, part) in self.0.parts.iter().enumerate() {
            if index > 0 {
                f.write_str("·")?;
            }
            multiplier(f, part.multiplier)?;
            // Set apart, since `2H2O` alone could be labelled hydrogen.
            if index == 0 && part.multiplier != Ratio::from_integer(1) {
                f.write_str(" ")?;
            }
            hill(f, &part.counts, part.charge)?;
        }
        Ok(())
    }
}

fn multiplier(f: &mut fmt::Formatter<'_>, value: Ratio<i64>) -> fmt::Result {
    let denom = *value.denom();
    if value == Ratio::from_integer(1) {
        Ok(())
    } else if 10_000 % denom == 0 {
        let whole = value.to_integer();
        let decimals = (value.fract() * 10_000).to_integer();
        let text = format!("{whole}.{decimals:04}");
        f.write_str(text.trim_end_matches('0').trim_end_matches('.'))
    } else {
        write!(f, "{}/{denom}", value.numer())
    }
}

/// Carbon, hydrogen, then by symbol; without carbon everything by symbol (E. A. Hill, J. Am. Chem.
/// Soc. 1900, 22, 478). A nuclide follows its element.
fn hill(f: &mut fmt::Formatter<'_>, counts: &BTreeMap<Kind, i64>, charge: i64) -> fmt::Result {
    let mut atoms: Vec<(Atom, i64)> = counts
        .iter()
        .filter_map(|(kind, count)| Some((atom(*kind)?, *count)))
        .collect();
    let organic = atoms
        .iter()
        .any(|(atom, _)| atom.element == Element::CARBON);
    atoms.sort_by_key(|(atom, _)| {
        let rank = match atom.element {
            Element::CARBON if organic => 0,
            Element::HYDROGEN if organic => 1,
            _ => 2,
        };
        (rank, atom.element.symbol(), atom.mass_number)
    });
    for (atom, count) in atoms {
        write!(f, "{atom}")?;
        if count != 1 {
            write!(f, "{count}")?;
        }
    }
    match charge {
        0 => Ok(()),
        1 => f.write_str("^+"),
        -1 => f.write_str("^-"),
        charge if charge > 0 => write!(f, "^{charge}+"),
        charge => write!(f, "^{}-", -charge),
    }
}
