//! From an InChI to the composition that it stands for.
//!
//! Layers as described by S. R. Heller et al., *InChI, the IUPAC International Chemical
//! Identifier*, J. Cheminform. 2015, 7, 23 (doi 10.1186/s13321-015-0068-4). No crate reads InChI
//! without the C library.

use std::collections::{BTreeMap, BTreeSet};

use crate::element::{Atom, Element};
use crate::formula::Formula;
use crate::smiles::{formula_of, nuclide_is_possible};

/// Longest InChI that is read, in bytes.
const MAX_LENGTH: usize = 20_000;
/// Largest number of components, multipliers counted.
const MAX_COMPONENTS: usize = 1_000;
/// Largest number of atoms of an element in a component, and largest charge.
const MAX_NUMBER: i64 = 9_999;

/// Why a text is no InChI from which a composition can be read, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InchiError {
    /// Byte at which the trouble begins.
    pub at: usize,
    /// Its length in bytes; 0 where something is missing.
    pub len: usize,
    /// What is wrong and what to do, as a sentence.
    pub message: String,
}

impl std::fmt::Display for InchiError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for InchiError {}

/// Reads the composition, with isotopes and charge, from an InChI of at most 20,000 bytes.
///
/// Formula, charge (`/q`), protons (`/p`) and isotopes (`/i`, and the exchangeable hydrogens that
/// follow it) count; layers of structure and stereochemistry are read over. A fixed-hydrogen layer
/// or a reconnected one, which a standard InChI does not have, repeats the substance in another
/// form and adds nothing. An InChIKey is a digest and cannot be read.
pub fn inchi_formula(text: &str) -> Result<Formula, InchiError> {
    let inchi = text.trim();
    let start = text.len() - text.trim_start().len();
    read(inchi).map_err(|mut error| {
        error.at += start;
        error
    })
}

/// A piece of the text and where it begins.
#[derive(Clone, Copy)]
struct Piece<'a> {
    at: usize,
    text: &'a str,
}

impl<'a> Piece<'a> {
    fn error<T>(self, message: impl Into<String>) -> Result<T, InchiError> {
        Err(InchiError {
            at: self.at,
            len: self.text.len(),
            message: message.into(),
        })
    }

    fn without(self, length: usize) -> Piece<'a> {
        Piece {
            at: self.at + length,
            text: self.text.get(length..).unwrap_or_default(),
        }
    }

    fn split(self, separator: char) -> impl Iterator<Item = Piece<'a>> {
        let mut at = self.at;
        self.text.split(separator).map(move |text| {
            let piece = Piece { at, text };
            at += text.len() + separator.len_utf8();
            piece
        })
    }

    /// A number at the beginning, and what follows it.
    fn number(self) -> Result<(Option<i64>, Piece<'a>), InchiError> {
        let digits = self.text.bytes().take_while(u8::is_ascii_digit).count();
        let rest = self.without(digits);
        match self.text.get(..digits).map(str::parse::<i64>) {
            Some(Ok(number)) if number <= MAX_NUMBER => Ok((Some(number), rest)),
            _ if digits == 0 => Ok((None, rest)),
            _ => self.error(format!(
                "This number is larger than {MAX_NUMBER}; check it."
            )),
        }
    }

    /// The same with a sign before it.
    fn signed(self) -> Result<(Option<i64>, Piece<'a>), InchiError> {
        let sign = match self.text.bytes().next() {
            Some(b'+') => 1,
            Some(b'-') => -1,
            _ => return Ok((None, self)),
        };
        match self.without(1).number()? {
            (Some(number), rest) => Ok((Some(sign * number), rest)),
            (None, _) => self.error("A number is missing after the sign."),
        }
    }

    /// Whether it begins with this letter, and what follows.
    fn after(self, letter: &str) -> Option<Piece<'a>> {
        self.text
            .starts_with(letter)
            .then(|| self.without(letter.len()))
    }
}

/// A component: its elements in the order in which InChI numbers the atoms (that of the formula,
/// hydrogen last).
type Component = Vec<(Element, i64)>;

#[derive(Default)]
struct Total {
    counts: BTreeMap<Atom, i64>,
    charge: i64,
}

impl Total {
    /// Adds atoms and gives the number that there are now.
    fn add(&mut self, element: Element, mass_number: Option<u16>, count: i64) -> i64 {
        let atom = Atom {
            element,
            mass_number,
        };
        let total = self.counts.entry(atom).or_default();
        *total += count;
        *total
    }

    /// Makes atoms of the natural mixture into those of a nuclide.
    fn label(
        &mut self,
        element: Element,
        mass_number: i64,
        count: i64,
        piece: Piece<'_>,
    ) -> Result<(), InchiError> {
        match u16::try_from(mass_number) {
            Ok(mass) if nuclide_is_possible(element, mass_number) => {
                if self.add(element, None, -count) < 0 {
                    let name = element.name();
                    return piece.error(format!("This labels more {name} than there is."));
                }
                self.add(element, Some(mass), count);
                Ok(())
            }
            _ => piece.error(format!("There is no nuclide {element}-{mass_number}.")),
        }
    }
}

fn read(inchi: &str) -> Result<Formula, InchiError> {
    let whole = Piece { at: 0, text: inchi };
    if inchi.len() > MAX_LENGTH {
        return whole.error(format!(
            "This InChI is longer than {MAX_LENGTH} characters; write the formula."
        ));
    }
    let Some(body) = whole.after("InChI=1S/").or(whole.after("InChI=1/")) else {
        return whole.error(if is_key(inchi) {
            "This is an InChIKey, a digest from which no composition can be read; write the InChI."
        } else {
            "An InChI begins with InChI=1S/."
        });
    };
    if let Some(found) = body.text.find(|c: char| !c.is_ascii_graphic()) {
        return Piece {
            at: body.at + found,
            text: "",
        }
        .error("An InChI has no spaces and no letters beyond ASCII; end it here.");
    }
    let mut layers = body.split('/').peekable();
    let formula = layers.next_if(|layer| {
        let first = layer.text.bytes().next();
        first.is_none_or(|byte| byte.is_ascii_uppercase() || byte.is_ascii_digit())
    });
    let components = match formula {
        Some(layer) if !layer.text.is_empty() => components(layer)?,
        _ => Vec::new(),
    };
    let mut total = Total::default();
    for (element, count) in components.iter().flatten() {
        total.add(*element, None, *count);
    }
    let mut seen = BTreeSet::new();
    for layer in layers {
        let Some(letter) = layer.text.chars().next() else {
            return layer.error("A layer is missing between two slashes.");
        };
        let content = layer.without(1);
        let isotopic = seen.contains(&'i');
        // After the isotopes the layers of hydrogen and stereochemistry may come again.
        if matches!(letter, 'q' | 'p' | 'i') && !seen.insert(letter) {
            return layer.error(format!("The layer /{letter} stands here twice."));
        }
        match letter {
            'q' => total.charge += charge(content)?,
            'p' => match content.signed()? {
                (Some(protons), rest) if rest.text.is_empty() => {
                    total.add(Element::HYDROGEN, None, protons);
                    total.charge += protons;
                }
                _ => return layer.error("The layer /p is a number of protons, as in /p-1."),
            },
            'i' => isotopes(content, &components, &mut total)?,
            'h' if isotopic => hydrogens(content, 1, &mut total)?,
            'c' | 'h' | 'b' | 't' | 'm' | 's' => {}
            'f' | 'r' => break,
            _ => {
                return layer.error(format!(
                    "The layer /{letter} is not known; check the InChI."
                ));
            }
        }
    }
    if let Some((atom, _)) = total.counts.iter().find(|(_, count)| **count < 0) {
        return whole.error(format!(
            "The layer /p takes away more {} than there is.",
            atom.element.name()
        ));
    }
    if total.counts.values().all(|count| *count == 0) {
        return whole.error("There are no atoms in this InChI.");
    }
    formula_of(&total.counts, total.charge, 0).or_else(|inner| whole.error(inner.message))
}

/// Fourteen letters, ten, one.
fn is_key(text: &str) -> bool {
    let text = text.strip_prefix("InChIKey=").unwrap_or(text);
    let letters = |part: &str| part.bytes().all(|byte| byte.is_ascii_uppercase());
    let lengths: Vec<usize> = text.split('-').map(str::len).collect();
    lengths == [14, 10, 1] && text.split('-').all(letters)
}

fn components(layer: Piece<'_>) -> Result<Vec<Component>, InchiError> {
    let mut components = Vec::new();
    for piece in layer.split('.') {
        let (times, mut rest) = piece.number()?;
        let mut component = Component::new();
        while !rest.text.is_empty() {
            let second = rest.text.as_bytes().get(1);
            let lower = second.is_some_and(u8::is_ascii_lowercase);
            let length = 1 + usize::from(lower);
            let symbol = rest.text.get(..length).unwrap_or_default();
            let Some(element) = Element::from_symbol(symbol) else {
                return piece.error("This is no formula; an InChI has one such as C2H6O here.");
            };
            let (count, after) = rest.without(length).number()?;
            component.push((element, count.unwrap_or(1)));
            rest = after;
        }
        component.sort_by_key(|(element, _)| *element == Element::HYDROGEN);
        let times = usize::try_from(times.unwrap_or(1)).unwrap_or(0);
        if component.is_empty() || times == 0 || components.len() + times > MAX_COMPONENTS {
            return piece.error(format!(
                "A formula is missing here, or there are more than {MAX_COMPONENTS} of them."
            ));
        }
        components.extend(std::iter::repeat_n(component, times));
    }
    Ok(components)
}

/// The entries of a layer, one for every component, each with the number of components it is for.
fn entries(layer: Piece<'_>) -> impl Iterator<Item = Result<(usize, Piece<'_>), InchiError>> {
    layer.split(';').map(|piece| {
        let (number, rest) = piece.number()?;
        match (number, rest.after("*")) {
            (Some(times @ 1..), Some(rest)) => Ok((usize::try_from(times).unwrap_or(0), rest)),
            (_, Some(_)) => piece.error("A number is missing before the asterisk."),
            _ => Ok((1, piece)),
        }
    })
}

fn charge(layer: Piece<'_>) -> Result<i64, InchiError> {
    let mut charge = 0;
    for entry in entries(layer) {
        let (times, piece) = entry?;
        match piece.signed()? {
            (value, rest) if rest.text.is_empty() => charge += value.unwrap_or(0) * times as i64,
            _ => return piece.error("A charge in the layer /q is a signed number, as in /q+1;-1."),
        }
    }
    Ok(charge)
}

/// `1+1D2,3-1;2*1T`: number of the atom, shift of its mass, hydrogen isotopes that it carries.
fn isotopes(
    layer: Piece<'_>,
    components: &[Component],
    total: &mut Total,
) -> Result<(), InchiError> {
    let mut rest = components;
    for entry in entries(layer) {
        let (times, piece) = entry?;
        if piece.text.is_empty() {
            rest = rest.get(times..).unwrap_or_default();
            continue;
        }
        let Some((these, others)) = rest.split_at_checked(times) else {
            return piece.error("The layer /i has more parts than the formula.");
        };
        rest = others;
        // A part may be for components that are not alike, such as HNO3 and NH3, both with 1+1.
        for alike in these.chunk_by(|one, other| one == other) {
            for label in piece.split(',') {
                isotope(label, alike, total)?;
            }
        }
    }
    Ok(())
}

fn isotope(label: Piece<'_>, alike: &[Component], total: &mut Total) -> Result<(), InchiError> {
    let (Some(number @ 1..), rest) = label.number()? else {
        return label
            .error("The number of an atom is missing; an isotope is written as 1+1 or 2D.");
    };
    let (shift, rest) = rest.signed()?;
    let mut before = 0;
    let times = alike.len() as i64;
    let element = alike.iter().take(1).flatten().find_map(|(element, count)| {
        before += count;
        (number <= before).then_some(*element)
    });
    let Some(element) = element else {
        return label.error("The formula has no atom of this number.");
    };
    if shift.is_none() && rest.text.is_empty() {
        return label.error("An isotope is written as 1+1 or 2D.");
    }
    if let Some(shift) = shift {
        total.label(element, reference_mass(element) + shift, times, label)?;
    }
    hydrogens(rest, times, total)
}

/// `D2T`, and `H` for protium.
fn hydrogens(mut piece: Piece<'_>, times: i64, total: &mut Total) -> Result<(), InchiError> {
    while !piece.text.is_empty() {
        let mass = match piece.text.bytes().next() {
            Some(b'H') => 1,
            Some(b'D') => 2,
            Some(b'T') => 3,
            _ => return piece.error("An isotope is written as 1+1 or 2D."),
        };
        let (count, rest) = piece.without(1).number()?;
        total.label(Element::HYDROGEN, mass, times * count.unwrap_or(1), piece)?;
        piece = rest;
    }
    Ok(())
}

/// The mass number from which InChI counts the shift: the rounded atomic weight. For the elements
/// without one it is what the InChI library 1.07.3 uses, asked element by element.
fn reference_mass(element: Element) -> i64 {
    if let Some(weight) = element.standard_weight() {
        return weight.value.round() as i64;
    }
    match element.symbol() {
        "Tc" => 98,
        "Pm" => 145,
        "Po" => 209,
        "At" => 210,
        "Rn" => 222,
        "Fr" => 223,
        "Ra" => 226,
        "Ac" => 227,
        "Np" => 237,
        "Pu" => 244,
        "Am" => 243,
        "Cm" | "Bk" => 247,
        "Cf" => 251,
        "Es" => 252,
        "Fm" => 257,
        "Md" => 258,
        "No" => 259,
        "Lr" => 262,
        "Rf" => 267,
        "Db" => 268,
        "Sg" | "Hs" => 269,
        "Bh" => 270,
        "Mt" => 278,
        "Ds" | "Rg" => 281,
        "Cn" => 285,
        "Nh" => 284,
        "Fl" => 289,
        "Mc" => 288,
        "Lv" => 293,
        "Ts" => 292,
        _ => 294,
    }
}
