//! From a SMILES text to the composition that it stands for.
//!
//! The rules are those of the OpenSMILES specification, version 1.0 (opensmiles.org), with two
//! additions that keep a slip of the pen from passing as another substance: aromatic atoms have to
//! lie in rings and to take alternating double bonds, and neutral B, C, O and F keep their valence.
//!
//! Crates that read SMILES were tried first, on the 6,500 lines of `tests/data/smiles.tsv` and on
//! hostile text. opensmiles 0.1.3 panicked on 636 lines (an index in ring closures) and was wrong
//! on 188; purr 0.9.0 took caesium for actinium and overflowed the stack on a chain of a million
//! atoms; smiles-parser 0.4.1, only read, panics on the bonds that its graph does not know.
//! smiles-rs 0.2.1 and chematic-smiles 1.2.1 had every line right and never panicked, but bring 35
//! crates and 76,000 lines (100 s of compilation) for what is done here, and of what is written
//! below they leave the messages, the places and the check of missing hydrogens to the caller.

use std::collections::{BTreeMap, BTreeSet};

use crate::element::{Atom, Element};
use crate::formula::{Formula, FormulaError};

/// Longest SMILES that is read, in bytes.
const MAX_LENGTH: usize = 20_000;
/// Largest charge of an atom, either way.
const MAX_CHARGE: i64 = 15;

/// Why a text is no SMILES from which a composition can be read, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SmilesError {
    /// Byte at which the trouble begins.
    pub at: usize,
    /// Its length in bytes; 0 where something is missing.
    pub len: usize,
    /// What is wrong and what to do, as a sentence.
    pub message: String,
}

impl std::fmt::Display for SmilesError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for SmilesError {}

/// Reads the composition, with isotopes and charge, from a SMILES text of at most 20,000 bytes.
///
/// Hydrogens that the text implies are added by the valence rules of OpenSMILES. Water that stands
/// apart, as in `[Na+].[Cl-].O`, counts as [crystal water](Formula::crystal_water). Stereo marks
/// and atom classes are read over. Wildcards, reactions and query notation are errors.
pub fn smiles_formula(text: &str) -> Result<Formula, SmilesError> {
    let smiles = text.trim();
    let start = text.len() - text.trim_start().len();
    let read = || {
        if smiles.len() > MAX_LENGTH {
            return error(
                0,
                smiles.len(),
                format!("This SMILES is longer than {MAX_LENGTH} characters; write the formula."),
            );
        }
        let mut reader = Reader::new(smiles);
        reader.read()?;
        reader.check_aromatic()?;
        reader.formula()
    };
    read().map_err(|mut error| {
        error.at += start;
        error
    })
}

/// The formula of a composition, in Hill order, with so much water set apart as an adduct.
pub(crate) fn formula_of(
    counts: &BTreeMap<Atom, i64>,
    charge: i64,
    water: i64,
) -> Result<Formula, FormulaError> {
    let mut text = String::new();
    for (atom, count) in counts.iter().filter(|(_, count)| **count > 0) {
        text.push_str(&format!("{atom}{count}"));
    }
    if charge != 0 {
        let sign = if charge > 0 { '+' } else { '-' };
        text.push_str(&format!("^{}{sign}", charge.abs()));
    }
    let mut hill = Formula::parse(&text)?.to_string();
    match water {
        0 => {}
        1 => hill.push_str("·H2O"),
        more => hill.push_str(&format!("·{more}H2O")),
    }
    Formula::parse(&hill)
}

/// Whether an element may have a nuclide of this mass number: none is known outside these bounds.
pub(crate) fn nuclide_is_possible(element: Element, mass_number: i64) -> bool {
    let number = i64::from(element.atomic_number());
    (number..=3 * number + 4).contains(&mass_number)
}

fn error<T>(at: usize, len: usize, message: impl Into<String>) -> Result<T, SmilesError> {
    Err(SmilesError {
        at,
        len,
        message: message.into(),
    })
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Order {
    Single,
    Double,
    Triple,
    Quadruple,
    Aromatic,
}

impl Order {
    fn of(byte: u8) -> Option<Order> {
        Some(match byte {
            b'-' | b'/' | b'\\' => Order::Single,
            b'=' => Order::Double,
            b'#' => Order::Triple,
            b'$' => Order::Quadruple,
            b':' => Order::Aromatic,
            _ => return None,
        })
    }

    /// What it takes of a valence; the double bonds of aromatic rings are counted apart.
    fn valence(self) -> usize {
        match self {
            Order::Single | Order::Aromatic => 1,
            Order::Double => 2,
            Order::Triple => 3,
            Order::Quadruple => 4,
        }
    }
}

/// An atom as written.
struct Written {
    atom: Atom,
    aromatic: bool,
    /// Hydrogens that a bracket states; without a bracket they follow from the valence.
    stated: Option<usize>,
    charge: i64,
    at: usize,
    len: usize,
}

impl Written {
    /// The valences of OpenSMILES, smallest first.
    fn valences(&self) -> &'static [usize] {
        match self.atom.element.symbol() {
            "B" => &[3],
            "C" => &[4],
            "N" | "P" => &[3, 5],
            "O" => &[2],
            "S" => &[2, 4, 6],
            _ => &[1],
        }
    }

    /// What the next valence leaves free once the bonds have taken `used`.
    fn free(&self, used: usize) -> usize {
        let valence = self.valences().iter().find(|valence| **valence >= used);
        valence.map_or(0, |valence| valence - used)
    }
}

/// Where the one end of a ring bond stands.
struct OpenRing {
    atom: usize,
    order: Option<Order>,
    at: usize,
    len: usize,
}

struct Reader<'a> {
    text: &'a str,
    at: usize,
    atoms: Vec<Written>,
    bonds: Vec<(usize, usize, Order)>,
    bonded: BTreeSet<(usize, usize)>,
    rings: BTreeMap<usize, OpenRing>,
}

impl<'a> Reader<'a> {
    fn new(text: &'a str) -> Reader<'a> {
        Reader {
            text,
            at: 0,
            atoms: Vec::new(),
            bonds: Vec::new(),
            bonded: BTreeSet::new(),
            rings: BTreeMap::new(),
        }
    }

    fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    fn take(&mut self, byte: u8) -> bool {
        let found = self.peek() == Some(byte);
        self.at += usize::from(found);
        found
    }

    fn written(&self, from: usize) -> &'a str {
        self.text.get(from..self.at).unwrap_or_default()
    }

    /// A whole number of at most `digits` digits.
    fn number(&mut self, digits: usize) -> Option<i64> {
        let from = self.at;
        while self.at - from < digits && self.peek().is_some_and(|byte| byte.is_ascii_digit()) {
            self.at += 1;
        }
        self.written(from).parse().ok()
    }

    fn read(&mut self) -> Result<(), SmilesError> {
        // The atom to which the next one binds, and those to which closing brackets lead back.
        let mut last: Option<usize> = None;
        let mut branches: Vec<(usize, usize)> = Vec::new();
        let mut bond: Option<(Order, usize)> = None;
        let mut wants_atom = true;
        while let Some(byte) = self.peek() {
            let from = self.at;
            if let Some(order) = Order::of(byte) {
                if last.is_none() || bond.is_some() {
                    return error(from, 1, "A bond stands between two atoms; one is missing.");
                }
                bond = Some((order, from));
                wants_atom = true;
                self.at += 1;
                continue;
            }
            match byte {
                b'(' => match last {
                    Some(atom) if !wants_atom => {
                        branches.push((atom, from));
                        wants_atom = true;
                        self.at += 1;
                    }
                    _ => return error(from, 1, "A branch begins after an atom, as in CC(=O)O."),
                },
                b')' => match branches.pop() {
                    Some((atom, _)) if !wants_atom => {
                        last = Some(atom);
                        self.at += 1;
                    }
                    Some((_, open)) => {
                        return error(
                            open,
                            from + 1 - open,
                            "This branch ends without an atom; write one or leave it out.",
                        );
                    }
                    None => return error(from, 1, "Nothing opens this bracket; take it away."),
                },
                b'.' => {
                    if wants_atom && !(last.is_some() && bond.is_none() && self.opens_branch()) {
                        return error(from, 1, "A dot stands between two parts; one is missing.");
                    }
                    last = None;
                    wants_atom = true;
                    self.at += 1;
                }
                b'0'..=b'9' | b'%' => {
                    let Some(atom) = last else {
                        return error(from, 1, "A ring number stands after its atom, as in C1CC1.");
                    };
                    if wants_atom && bond.is_none() {
                        return error(from, 1, "A ring number stands after its atom, as in C1CC1.");
                    }
                    self.ring(atom, bond.take().map(|(order, _)| order))?;
                    wants_atom = false;
                }
                _ => {
                    let atom = self.atom()?;
                    let index = self.atoms.len();
                    self.atoms.push(atom);
                    if let Some(before) = last {
                        self.bind(before, index, bond.take().map(|(order, _)| order), from)?;
                    }
                    last = Some(index);
                    wants_atom = false;
                }
            }
        }
        let end = self.text.len();
        if let Some((_, open)) = branches.pop() {
            return error(open, 1, "Nothing closes this bracket; write `)`.");
        }
        if let Some((_, at)) = bond {
            return error(at, 1, "A bond stands between two atoms; one is missing.");
        }
        if let Some(ring) = self.rings.values().next() {
            return error(
                ring.at,
                ring.len,
                format!(
                    "Ring number {} is opened but not closed; write it at the second atom too.",
                    self.text
                        .get(ring.at..ring.at + ring.len)
                        .unwrap_or_default()
                ),
            );
        }
        if wants_atom {
            return error(end, 0, "An atom is missing here.");
        }
        Ok(())
    }

    /// Whether a branch has just been opened, where a dot may follow.
    fn opens_branch(&self) -> bool {
        self.text
            .get(..self.at)
            .is_some_and(|before| before.ends_with('('))
    }

    fn bind(
        &mut self,
        a: usize,
        b: usize,
        order: Option<Order>,
        at: usize,
    ) -> Result<(), SmilesError> {
        let aromatic = |index: usize| self.atoms.get(index).is_some_and(|atom| atom.aromatic);
        let both = aromatic(a) && aromatic(b);
        let len = self.at - at;
        if order == Some(Order::Aromatic) && !both {
            return error(
                at,
                len,
                "`:` is a bond between aromatic atoms, which are written in lower case.",
            );
        }
        if a == b || !self.bonded.insert((a.min(b), a.max(b))) {
            return error(
                at,
                len,
                "This binds an atom to itself or two atoms twice; check the ring numbers.",
            );
        }
        let implied = if both { Order::Aromatic } else { Order::Single };
        self.bonds.push((a, b, order.unwrap_or(implied)));
        Ok(())
    }

    fn ring(&mut self, atom: usize, order: Option<Order>) -> Result<(), SmilesError> {
        let from = self.at;
        let digits = if self.take(b'%') { 2 } else { 1 };
        let Some(number) = self
            .number(digits)
            .filter(|_| digits == 1 || self.at == from + 3)
        else {
            return error(
                from,
                self.at - from,
                "`%` stands before a ring number of two digits, as in C%12.",
            );
        };
        let number = number as usize;
        let len = self.at - from;
        let Some(open) = self.rings.remove(&number) else {
            let ring = OpenRing {
                atom,
                order,
                at: from,
                len,
            };
            self.rings.insert(number, ring);
            return Ok(());
        };
        if let (Some(one), Some(other)) = (open.order, order)
            && one != other
        {
            return error(
                from,
                len,
                "The two ends of this ring bond disagree about the bond; write it once.",
            );
        }
        self.bind(open.atom, atom, open.order.or(order), from)
    }

    fn atom(&mut self) -> Result<Written, SmilesError> {
        if self.peek() == Some(b'[') {
            return self.bracket();
        }
        let from = self.at;
        let rest = self.text.get(from..).unwrap_or_default();
        let Some(letter) = rest.chars().next() else {
            return error(from, 0, "An atom is missing here.");
        };
        self.at += letter.len_utf8();
        if letter.is_ascii_uppercase()
            && self.peek().is_some_and(|byte| byte.is_ascii_lowercase())
            && rest
                .get(..2)
                .is_some_and(|two| matches!(two, "Cl" | "Br") || self.needs_bracket(two))
        {
            self.at += 1;
        }
        let symbol = self.written(from);
        let aromatic = matches!(symbol, "b" | "c" | "n" | "o" | "p" | "s");
        let known = matches!(
            symbol,
            "B" | "C" | "N" | "O" | "P" | "S" | "F" | "Cl" | "Br" | "I"
        );
        let element = Element::from_symbol(&symbol.to_ascii_uppercase())
            .filter(|_| aromatic)
            .or_else(|| Element::from_symbol(symbol));
        match element {
            Some(element) if aromatic || known => Ok(Written {
                atom: natural(element),
                aromatic,
                stated: None,
                charge: 0,
                at: from,
                len: symbol.len(),
            }),
            Some(_) => error(
                from,
                symbol.len(),
                format!("`{symbol}` has to stand in square brackets: [{symbol}]."),
            ),
            None => error(from, symbol.len(), no_atom(symbol)),
        }
    }

    /// Whether two letters are an element that can stand only in brackets, and not an atom of the
    /// organic subset followed by an aromatic one, as in `Cn1cccc1` or `Sc1ccccc1`.
    fn needs_bracket(&self, two: &str) -> bool {
        let (first, second) = two.split_at(1);
        Element::from_symbol(two).is_some()
            && !(matches!(first, "B" | "C" | "N" | "O" | "P" | "S" | "F" | "I")
                && matches!(second, "b" | "c" | "n" | "o" | "p" | "s"))
    }

    fn bracket(&mut self) -> Result<Written, SmilesError> {
        let from = self.at;
        self.at += 1;
        let labelled = self.peek().is_some_and(|byte| byte.is_ascii_digit());
        let mass_number = self.number(4);
        let (element, aromatic) = self.symbol()?;
        let mut atom = natural(element);
        if labelled {
            let mass_number = mass_number.filter(|mass| nuclide_is_possible(element, *mass));
            atom.mass_number = mass_number.and_then(|mass| u16::try_from(mass).ok());
            if atom.mass_number.is_none() {
                let written = self.written(from + 1);
                return error(
                    from + 1,
                    written.len(),
                    format!("There is no nuclide `{written}`; check the mass number."),
                );
            }
        }
        self.chirality();
        let hydrogens = if self.take(b'H') {
            self.number(2).unwrap_or(1)
        } else {
            0
        };
        let charge = self.charge()?;
        if self.take(b':') && self.number(9).is_none() {
            return error(self.at, 0, "The number of the atom class is missing.");
        }
        if !self.take(b']') {
            let rest = self.text.get(self.at..).unwrap_or_default();
            let len = rest.chars().next().map_or(0, char::len_utf8);
            return error(
                self.at,
                len,
                "A bracket holds mass number, symbol, stereo mark, hydrogens, charge and class, \
                 in this order, as in [13C@H2+:1], and ends with `]`.",
            );
        }
        Ok(Written {
            atom,
            aromatic,
            stated: usize::try_from(hydrogens).ok(),
            charge,
            at: from,
            len: self.at - from,
        })
    }

    fn symbol(&mut self) -> Result<(Element, bool), SmilesError> {
        let from = self.at;
        let rest = self.text.get(from..).unwrap_or_default();
        for length in [2, 1] {
            let Some(symbol) = rest.get(..length) else {
                continue;
            };
            let element = match symbol {
                "se" => Element::from_symbol("Se"),
                "as" => Element::from_symbol("As"),
                // Not in the specification, but in use.
                "te" => Element::from_symbol("Te"),
                "si" => Element::from_symbol("Si"),
                "b" | "c" | "n" | "o" | "p" | "s" => {
                    Element::from_symbol(&symbol.to_ascii_uppercase())
                }
                _ => Element::from_symbol(symbol),
            };
            if let Some(element) = element {
                self.at += length;
                return Ok((
                    element,
                    symbol.starts_with(|c: char| c.is_ascii_lowercase()),
                ));
            }
        }
        let len = rest
            .find(|c: char| !c.is_ascii_alphabetic())
            .unwrap_or(rest.len())
            .max(rest.chars().next().map_or(0, char::len_utf8));
        error(from, len, no_atom(rest.get(..len).unwrap_or_default()))
    }

    fn chirality(&mut self) {
        if !self.take(b'@') || self.take(b'@') {
            return;
        }
        let rest = self.text.get(self.at..).unwrap_or_default();
        let class = rest
            .get(..2)
            .filter(|class| ["TH", "AL", "SP", "TB", "OH"].contains(class));
        if class.is_some() && rest.as_bytes().get(2).is_some_and(u8::is_ascii_digit) {
            self.at += 2;
            self.number(2);
        }
    }

    /// `+`, `-2`, or the older `++`.
    fn charge(&mut self) -> Result<i64, SmilesError> {
        let from = self.at;
        let Some(sign @ (b'+' | b'-')) = self.peek() else {
            return Ok(0);
        };
        while self.take(sign) {}
        let signs = self.at - from;
        let size = match (signs, self.number(3)) {
            (1, Some(number)) => number,
            (_, None) => signs as i64,
            _ => i64::MAX,
        };
        if size > MAX_CHARGE {
            return error(
                from,
                self.at - from,
                format!("A charge is written as +, -, +2 or -2, up to {MAX_CHARGE}."),
            );
        }
        Ok(if sign == b'+' { size } else { -size })
    }

    /// The valence that the bonds of every atom take.
    fn used(&self) -> Vec<usize> {
        let mut used = vec![0_usize; self.atoms.len()];
        for (a, b, order) in &self.bonds {
            for end in [a, b] {
                if let Some(sum) = used.get_mut(*end) {
                    *sum += order.valence();
                }
            }
        }
        used
    }

    /// Refuses aromatic atoms outside rings, and atoms whose hydrogens are not stated and that
    /// cannot all take part in alternating double bonds: then the hydrogens would be wrong.
    ///
    /// Only what is sure is refused: a chain that has to pair from its end and fails, and a system
    /// with an odd number of atoms. An atom in brackets states its hydrogens and may stay single.
    fn check_aromatic(&self) -> Result<(), SmilesError> {
        let in_ring = ring_bonds(self.atoms.len(), &self.bonds);
        let mut ring_atom = vec![false; self.atoms.len()];
        for ((a, b, _), in_ring) in self.bonds.iter().zip(&in_ring) {
            for end in [a, b] {
                if let Some(mark) = ring_atom.get_mut(*end) {
                    *mark |= in_ring;
                }
            }
        }
        if let Some((atom, _)) = self
            .atoms
            .iter()
            .zip(&ring_atom)
            .find(|(atom, in_ring)| atom.aromatic && !**in_ring)
        {
            return error(
                atom.at,
                atom.len,
                "Lower case means an aromatic atom, which lies in a ring; write it in upper case, a \
                 metal in square brackets.",
            );
        }
        let used = self.used();
        let state: Vec<Pairing> = self
            .atoms
            .iter()
            .zip(&used)
            .map(|(atom, used)| match atom.stated {
                _ if !atom.aromatic => Pairing::Closed,
                None if atom.free(*used) > 0 => Pairing::Required,
                None => Pairing::Closed,
                Some(_) => Pairing::Optional,
            })
            .collect();
        let edges = self
            .bonds
            .iter()
            .zip(&in_ring)
            .filter(|((_, _, order), in_ring)| *order == Order::Aromatic && **in_ring)
            .map(|((a, b, _), _)| (*a, *b));
        let Some(stuck) = unpaired(state, edges) else {
            return Ok(());
        };
        // A nitrogen without its hydrogen is the usual reason.
        let culprit = stuck
            .iter()
            .filter_map(|index| self.atoms.get(*index))
            .min_by_key(|atom| (atom.atom.element.symbol() != "N", atom.at));
        let (at, len) = culprit.map_or((0, self.text.len()), |atom| (atom.at, atom.len));
        error(
            at,
            len,
            "The double bonds of this aromatic ring do not come out even, so its hydrogens are in \
             doubt; a nitrogen that carries one is written [nH].",
        )
    }

    fn formula(&self) -> Result<Formula, SmilesError> {
        let mut counts: BTreeMap<Atom, i64> = BTreeMap::new();
        let mut charge = 0;
        for (atom, used) in self.atoms.iter().zip(self.used()) {
            let hydrogens = match atom.stated {
                Some(stated) => stated,
                None => {
                    let free = atom.free(used);
                    self.check_valence(atom, used)?;
                    free.saturating_sub(usize::from(atom.aromatic))
                }
            };
            *counts.entry(atom.atom).or_default() += 1;
            *counts.entry(natural(Element::HYDROGEN)).or_default() += hydrogens as i64;
            charge += atom.charge;
        }
        let (water, other): (Vec<&str>, Vec<&str>) = self
            .text
            .split('.')
            .partition(|part| matches!(*part, "O" | "[OH2]"));
        let mut water = water.len() as i64;
        if other.is_empty() {
            water = 0;
        }
        for (symbol, each) in [("H", 2), ("O", 1)] {
            if let Some(count) =
                Element::from_symbol(symbol).and_then(|element| counts.get_mut(&natural(element)))
            {
                *count -= each * water;
            }
        }
        formula_of(&counts, charge, water).or_else(|inner| error(0, self.text.len(), inner.message))
    }

    fn check_valence(&self, atom: &Written, used: usize) -> Result<(), SmilesError> {
        let element = atom.atom.element;
        let strict = matches!(element.symbol(), "B" | "C" | "O" | "F");
        match atom.valences().last() {
            Some(most) if strict && used > *most => error(
                atom.at,
                atom.len,
                format!(
                    "This {} has {used} bonds; it takes {most}. Check the structure, or write \
                     charge and hydrogens in brackets.",
                    element.name()
                ),
            ),
            _ => Ok(()),
        }
    }
}

fn natural(element: Element) -> Atom {
    Atom {
        element,
        mass_number: None,
    }
}

fn no_atom(symbol: &str) -> String {
    match symbol {
        "*" => "`*` stands for any atom, so the composition is open; write the atom.".to_owned(),
        "" => "An atom is missing here.".to_owned(),
        "D" => "Deuterium is written [2H] in SMILES.".to_owned(),
        "T" => "Tritium is written [3H] in SMILES.".to_owned(),
        ">" => "This is a reaction; write the SMILES of one substance.".to_owned(),
        _ if symbol.trim().is_empty() => "A SMILES has no spaces; take them away.".to_owned(),
        _ => format!("`{symbol}` is no atom of a SMILES; check its letters and their case."),
    }
}

/// How an atom takes part in the double bonds of an aromatic ring.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Pairing {
    Closed,
    Required,
    Optional,
}

/// Which bonds lie in a ring: those that are no bridge of the graph (Tarjan's low link).
fn ring_bonds(atoms: usize, bonds: &[(usize, usize, Order)]) -> Vec<bool> {
    let mut neighbours: Vec<Vec<(usize, usize)>> = vec![Vec::new(); atoms];
    for (index, (a, b, _)) in bonds.iter().enumerate() {
        for (from, to) in [(a, b), (b, a)] {
            if let Some(list) = neighbours.get_mut(*from) {
                list.push((*to, index));
            }
        }
    }
    let mut in_ring = vec![true; bonds.len()];
    let mut seen = vec![0_usize; atoms];
    let mut low = vec![usize::MAX; atoms];
    let mut clock = 0;
    for root in 0..atoms {
        if seen.get(root) != Some(&0) {
            continue;
        }
        // The atom, the bond that led to it, and how many of its neighbours are done.
        let mut path = vec![(root, usize::MAX, 0_usize)];
        while let Some((atom, via, done)) = path.last_mut() {
            let (atom, via) = (*atom, *via);
            if *done == 0 {
                clock += 1;
                set(&mut seen, atom, clock);
                set(&mut low, atom, clock);
            }
            let next = neighbours.get(atom).and_then(|list| list.get(*done));
            *done += 1;
            match next {
                Some((_, bond)) if *bond == via => {}
                Some((other, bond)) => match get(&seen, *other) {
                    0 => path.push((*other, *bond, 0)),
                    time => {
                        let least = get(&low, atom).min(time);
                        set(&mut low, atom, least);
                    }
                },
                None => {
                    path.pop();
                    if let Some((parent, _, _)) = path.last() {
                        let least = get(&low, *parent).min(get(&low, atom));
                        if get(&low, atom) > get(&seen, *parent)
                            && let Some(mark) = in_ring.get_mut(via)
                        {
                            *mark = false;
                        }
                        set(&mut low, *parent, least);
                    }
                }
            }
        }
    }
    in_ring
}

fn get(list: &[usize], index: usize) -> usize {
    list.get(index).copied().unwrap_or_default()
}

fn set(list: &mut [usize], index: usize, value: usize) {
    if let Some(place) = list.get_mut(index) {
        *place = value;
    }
}

/// Atoms that certainly cannot be paired along these bonds, if there are any.
fn unpaired(
    mut state: Vec<Pairing>,
    edges: impl Iterator<Item = (usize, usize)>,
) -> Option<Vec<usize>> {
    let mut neighbours: Vec<Vec<usize>> = vec![Vec::new(); state.len()];
    for (a, b) in edges {
        for (from, to) in [(a, b), (b, a)] {
            if let Some(list) = neighbours.get_mut(from) {
                list.push(to);
            }
        }
    }
    let open = |state: &[Pairing], index: usize| {
        neighbours.get(index).map_or(Vec::new(), |list| {
            let free = |other: &&usize| state.get(**other) != Some(&Pairing::Closed);
            list.iter().filter(free).copied().collect::<Vec<usize>>()
        })
    };
    let is = |state: &[Pairing], index: usize, wanted| state.get(index) == Some(&wanted);
    // An atom with one free neighbour has no choice.
    let mut forced: Vec<usize> = (0..state.len()).collect();
    while let Some(index) = forced.pop() {
        if !is(&state, index, Pairing::Required) {
            continue;
        }
        match open(&state, index).as_slice() {
            [] => return Some(vec![index]),
            [partner] => {
                for closed in [index, *partner] {
                    if let Some(place) = state.get_mut(closed) {
                        *place = Pairing::Closed;
                    }
                }
                forced.extend(open(&state, *partner));
            }
            _ => {}
        }
    }
    // What is left falls into systems; an odd one cannot be paired.
    let mut seen = vec![false; state.len()];
    for root in 0..state.len() {
        let mut system = Vec::new();
        let mut waiting = vec![root];
        while let Some(index) = waiting.pop() {
            match seen.get_mut(index) {
                Some(mark) if !*mark && !is(&state, index, Pairing::Closed) => *mark = true,
                _ => continue,
            }
            system.push(index);
            waiting.extend(open(&state, index));
        }
        let all_required = system
            .iter()
            .all(|index| is(&state, *index, Pairing::Required));
        if system.len() % 2 == 1 && all_required {
            return Some(system);
        }
    }
    None
}
