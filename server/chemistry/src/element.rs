//! Elements, nuclides and their masses.

use std::fmt;

use crate::isotope;

/// A chemical element, known by its atomic number (1 to 118).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Element(u8);

/// A standard atomic weight in g/mol with its uncertainty.
///
/// Source: T. Prohaska et al., *Standard atomic weights of the elements 2021*, Pure Appl. Chem.
/// 2022, 94, 573 (doi 10.1515/pac-2019-0603). Where that table gives an interval, this is its
/// abridged single value, whose uncertainty covers the interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weight {
    /// g/mol.
    pub value: f64,
    /// Half-width of the interval that normal material keeps to, g/mol.
    pub uncertainty: f64,
}

pub(crate) struct ElementRow {
    symbol: &'static str,
    name: &'static str,
    weight: Option<Weight>,
}

include!(concat!(env!("OUT_DIR"), "/elements.rs"));

impl Element {
    /// Hydrogen.
    pub const HYDROGEN: Element = Element(1);
    /// Carbon.
    pub const CARBON: Element = Element(6);

    /// The element of an atomic number, 1 to 118.
    pub fn from_atomic_number(number: u8) -> Option<Element> {
        ELEMENTS
            .get(usize::from(number.checked_sub(1)?))
            .map(|_| Element(number))
    }

    /// The element of a symbol as IUPAC writes it; case counts (`Co`, not `CO`).
    pub fn from_symbol(symbol: &str) -> Option<Element> {
        let (first, second) = match *symbol.as_bytes() {
            [first] => (first, 0),
            [first, second] => (first, second.checked_sub(b'a')? + 1),
            _ => return None,
        };
        let of_first = NUMBERS.get(usize::from(first.checked_sub(b'A')?))?;
        Element::from_atomic_number(*of_first.get(usize::from(second))?)
    }

    /// Atomic number, 1 to 118.
    pub fn atomic_number(self) -> u8 {
        self.0
    }

    fn row(self) -> Option<&'static ElementRow> {
        ELEMENTS.get(usize::from(self.0).checked_sub(1)?)
    }

    /// Symbol.
    pub fn symbol(self) -> &'static str {
        self.row().map_or("", |row| row.symbol)
    }

    /// Name, as IUPAC spells it (aluminium, caesium, sulfur), in lower case.
    pub fn name(self) -> &'static str {
        self.row().map_or("", |row| row.name)
    }

    /// Standard atomic weight; `None` for an element that has no characteristic isotopic
    /// composition on Earth, such as technetium.
    pub fn standard_weight(self) -> Option<Weight> {
        self.row().and_then(|row| row.weight)
    }

    /// Every element, by atomic number.
    pub fn all() -> impl Iterator<Item = Element> {
        (1..=118).filter_map(Element::from_atomic_number)
    }
}

impl fmt::Display for Element {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

/// An element in its natural composition, or one of its nuclides.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Atom {
    /// The element.
    pub element: Element,
    /// Mass number of the nuclide; `None` for the natural mixture.
    pub mass_number: Option<u16>,
}

impl Atom {
    /// Standard atomic weight, or the mass of the nuclide (AME 2020), which is as good as exact
    /// here; `None` where there is neither.
    pub fn weight(self) -> Option<Weight> {
        match self.mass_number {
            None => self.element.standard_weight(),
            Some(mass_number) => isotope::mass(self.element.0, mass_number).map(|value| Weight {
                value,
                uncertainty: 0.0,
            }),
        }
    }
}

impl fmt::Display for Atom {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.element.0, self.mass_number) {
            (1, Some(2)) => f.write_str("D"),
            (1, Some(3)) => f.write_str("T"),
            (_, Some(mass_number)) => write!(f, "[{mass_number}{}]", self.element),
            (_, None) => f.write_str(self.element.symbol()),
        }
    }
}
