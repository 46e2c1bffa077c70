//! What a line is: a row of the library, a composition, or a mixture.

use crate::convert;
use crate::known::At;
use chemistry::{Formula, Found, Ratio, Substance};
use std::sync::Arc;
use syntax::{Entry, FieldKind, Text};

/// What a line is.
#[derive(Clone, Debug)]
pub struct Identity {
    /// The name shown.
    pub name: Arc<str>,
    /// Where the identity stands, if the line has one.
    pub at: Option<At>,
    /// The library's row.
    pub substance: Option<Substance>,
    /// Rows that fit equally well, when more than one does.
    pub candidates: Vec<Substance>,
    /// The composition: what is written before what the name says.
    pub formula: Option<Arc<Formula>>,
    /// Every composition that the line states, in the order in which they rule.
    pub compositions: Vec<Composition>,
    /// The CAS number that the line states.
    pub cas: Option<CasNumber>,
    /// What could not be read as the formula, SMILES or InChI that it is meant to be: where it breaks, and why.
    pub faults: Vec<(At, String)>,
    /// Parts of a mixture, with shares by volume that sum to 1.
    pub mixture: Vec<Part>,
}

/// A composition that a line states.
#[derive(Clone, Debug)]
pub struct Composition {
    /// What states it: `formula`, `SMILES`, `InChI`, `name`, `CAS number`.
    pub by: &'static str,
    /// Where.
    pub at: At,
    /// The composition.
    pub formula: Arc<Formula>,
}

/// A CAS number that a line states.
#[derive(Clone, Debug)]
pub struct CasNumber {
    /// Where.
    pub at: At,
    /// Its digits and hyphens, as written.
    pub text: Arc<str>,
    /// Whether its check digit is right.
    pub valid: bool,
    /// The library's row.
    pub substance: Option<Substance>,
}

/// A part of a mixture.
#[derive(Clone, Debug)]
pub struct Part {
    /// As written.
    pub name: Arc<str>,
    /// The library's row, if it has one.
    pub substance: Option<Substance>,
    /// Share by volume.
    pub share: f64,
}

impl Identity {
    pub(crate) fn of(entry: &Entry, line: u32) -> Identity {
        let mut identity = Identity {
            name: entry.key.text.as_ref().into(),
            at: None,
            substance: None,
            candidates: Vec::new(),
            formula: None,
            compositions: Vec::new(),
            cas: None,
            faults: Vec::new(),
            mixture: Vec::new(),
        };
        for field in &entry.fields {
            match &field.kind {
                FieldKind::Name(text) => identity.by_name(text, line),
                FieldKind::Mixture(parts) => {
                    identity.at = Some(convert::at(line, field.span));
                    identity.mix(parts);
                }
                FieldKind::Cas(text) => identity.by_number(text, line),
                FieldKind::Formula(text) => {
                    let read = Formula::parse(&text.text).map_err(|e| (e.at, e.len, e.message));
                    identity.written("formula", text, line, read);
                }
                FieldKind::Smiles(Some(text)) => {
                    let read =
                        chemistry::smiles_formula(&text.text).map_err(|e| (e.at, e.len, e.message));
                    identity.written("SMILES", text, line, read);
                }
                FieldKind::Inchi(text) => {
                    let read =
                        chemistry::inchi_formula(&text.text).map_err(|e| (e.at, e.len, e.message));
                    identity.written("InChI", text, line, read);
                }
                _ => {}
            }
        }
        identity.settle_by_number();
        // What is written rules over what a name or number stands for.
        identity
            .compositions
            .sort_by_key(|composition| match composition.by {
                "formula" => 0,
                "SMILES" | "InChI" => 1,
                "name" => 2,
                _ => 3,
            });
        identity.formula = identity
            .compositions
            .first()
            .map(|first| first.formula.clone());
        identity
    }

    /// A name is first the library's, and then a formula: AcOH is not an actinium compound. The names of the
    /// elements come last.
    fn by_name(&mut self, text: &Text, line: u32) {
        let at = convert::at(line, text.span);
        self.name = text.text.as_ref().into();
        self.at = Some(at);
        self.find(&text.text);
        let formula = match self.substance {
            Some(row) => composition_as_named(row, &text.text),
            None if self.candidates.is_empty() => Formula::parse(&text.text)
                .ok()
                .or_else(|| element(&text.text)),
            None => None,
        };
        self.state("name", at, formula);
    }

    fn by_number(&mut self, text: &Text, line: u32) {
        let at = convert::at(line, text.span);
        let number = text.text.trim_start_matches("CAS").trim();
        let substance = one(chemistry::find_cas(number));
        if self.at.is_none() {
            self.at = Some(at);
            self.name = substance.map_or_else(|| number.into(), |row| row.name().into());
        }
        self.cas = Some(CasNumber {
            at,
            text: number.into(),
            valid: chemistry::cas_is_valid(number),
            substance,
        });
        let formula = substance.and_then(composition);
        self.state("CAS number", at, formula);
    }

    /// The number chooses its row unless the name has a row of its own: a name that two substances share means
    /// the one of the number.
    fn settle_by_number(&mut self) {
        let Some(row) = self.cas.as_ref().and_then(|cas| cas.substance) else {
            return;
        };
        if self.substance.is_none() || self.is_called(row) {
            self.settle(Found::One(row));
        }
    }

    /// Whether the library has the name as written for this row, be it for others too.
    fn is_called(&self, row: Substance) -> bool {
        let mut names = row.synonyms().chain([row.name()]);
        names.any(|name| name.eq_ignore_ascii_case(&self.name))
    }

    /// The rows that the name and the CAS number have, if they are two.
    #[must_use]
    pub fn named_and_numbered(&self) -> Option<(Substance, Substance)> {
        let numbered = self.cas.as_ref()?.substance?;
        self.substance
            .filter(|named| *named != numbered)
            .map(|named| (named, numbered))
    }

    /// Whether the library's row is of the composition that rules, so that its density may stand for the line.
    #[must_use]
    pub fn row_fits(&self) -> bool {
        let Some(formula) = &self.formula else {
            return true;
        };
        self.substance
            .and_then(composition)
            .is_none_or(|row| row.same_composition(formula))
    }

    /// The composition that rules and where the line has it from: `C3H6O, the library's formula of acetone`.
    #[must_use]
    pub fn provenance(&self) -> Option<String> {
        let ruling = self.compositions.first()?;
        let formula = &ruling.formula;
        Some(match (ruling.by, self.substance) {
            ("name" | "CAS number", Some(row)) => {
                format!("{formula}, the library's formula of {}", row.name())
            }
            (by, _) => format!("{formula}, by the {by} on its line"),
        })
    }

    /// A composition that the line writes out, or the place in it that could not be read.
    fn written(
        &mut self,
        by: &'static str,
        text: &Text,
        line: u32,
        read: Result<Formula, (usize, usize, String)>,
    ) {
        let at = convert::at(line, text.span);
        if self.at.is_none() && by != "formula" {
            self.at = Some(at);
        }
        match read {
            Ok(formula) => {
                self.choose(&formula);
                self.state(by, at, Some(formula));
            }
            Err((start, len, message)) => {
                // Whole characters, and one at least where something is missing before it.
                let start = text.text.floor_char_boundary(start);
                let end = text.text.ceil_char_boundary(start + len.max(1));
                let place = |bytes: usize| {
                    let place =
                        u32::try_from(bytes).map_or(u32::MAX, |bytes| text.span.start + bytes);
                    place.min(text.span.end)
                };
                // Signs that are read as others (`×` as `x`) may have other lengths.
                let folded = text.text.len() != (text.span.end - text.span.start) as usize;
                let span = match folded {
                    true => text.span,
                    false => syntax::Span {
                        start: place(start),
                        end: place(end),
                    },
                };
                self.faults.push((convert::at(line, span), message));
            }
        }
    }

    fn state(&mut self, by: &'static str, at: At, formula: Option<Formula>) {
        let formula = formula.map(Arc::new);
        self.compositions
            .extend(formula.map(|formula| Composition { by, at, formula }));
    }

    fn find(&mut self, name: &str) {
        self.settle(chemistry::find_name(name));
        if self.substance.is_none() && self.candidates.is_empty() {
            // `2,6-di-tert-butyl-4-methylphenol (BHT)`: a name with its abbreviation.
            if let Some((long, _)) = name
                .strip_suffix(')')
                .and_then(|rest| rest.rsplit_once(" ("))
            {
                self.settle(chemistry::find_name(long));
            }
            // `liquid ammonia` is ammonia; its density says that it is condensed.
            if let Some(plain) = name.strip_prefix("liquid ") {
                self.settle(chemistry::find_name(plain));
            }
        }
    }

    /// A written formula chooses between substances of one name.
    fn choose(&mut self, written: &Formula) {
        let same = |substance: &Substance| {
            composition(*substance).is_some_and(|formula| formula.same_composition(written))
        };
        let mut fits = self.candidates.iter().copied().filter(same);
        if let (Some(only), None) = (fits.next(), fits.next()) {
            self.settle(Found::One(only));
        }
    }

    fn settle(&mut self, found: Found) {
        match found {
            Found::One(substance) => {
                self.substance = Some(substance);
                self.candidates.clear();
            }
            Found::Several(candidates) => self.candidates = candidates,
            Found::None => {}
        }
    }

    fn mix(&mut self, parts: &[(Text, syntax::Number)]) {
        let total: f64 = parts.iter().map(|(_, share)| convert::float(share)).sum();
        if !total.is_normal() {
            return;
        }
        let names: Vec<&str> = parts.iter().map(|(name, _)| &*name.text).collect();
        let shares: Vec<String> = parts
            .iter()
            .map(|(_, share)| share.value.to_string())
            .collect();
        self.name = format!("{} {}", names.join("/"), shares.join(":")).into();
        self.mixture = parts
            .iter()
            .map(|(name, share)| Part {
                name: name.text.as_ref().into(),
                substance: one(chemistry::find_name(&name.text)),
                share: convert::float(share) / total,
            })
            .collect();
    }

    /// Nothing is known of it: neither library row nor formula nor parts.
    #[must_use]
    pub fn is_unknown(&self) -> bool {
        self.substance.is_none() && self.formula.is_none() && self.mixture.is_empty()
    }
}

/// The row, if exactly one fits.
#[must_use]
pub fn one(found: Found) -> Option<Substance> {
    match found {
        Found::One(substance) => Some(substance),
        _ => None,
    }
}

fn composition(row: Substance) -> Option<Formula> {
    Formula::parse(row.formula()?).ok()
}

/// The composition of a row under one of its names. `P4O10` is a name of the row of P2O5, and says twice as much.
fn composition_as_named(row: Substance, name: &str) -> Option<Formula> {
    let own = composition(row)?;
    let written = Formula::parse(name).ok();
    Some(
        written
            .filter(|written| is_multiple(written, &own))
            .unwrap_or(own),
    )
}

/// Whether the one is some number of times the other, atom by atom.
fn is_multiple(a: &Formula, b: &Formula) -> bool {
    let total = |formula: &Formula| formula.counts().map(|(_, count)| count).sum::<Ratio<i64>>();
    let (all, part) = (total(a), total(b));
    let zero = Ratio::from_integer(0);
    part != zero
        && a.charge() * part == b.charge() * all
        && a.counts().count() == b.counts().count()
        && a.counts()
            .zip(b.counts())
            .all(|((x, n), (y, m))| x == y && n * part == m * all)
}

fn element(name: &str) -> Option<Formula> {
    let element =
        chemistry::Element::all().find(|element| element.name().eq_ignore_ascii_case(name))?;
    Formula::parse(element.symbol()).ok()
}

/// The composition of what a term of an equation or a part of a mixture names. A library name comes before a
/// formula, as everywhere.
pub(crate) fn composition_of(name: &str) -> Option<Formula> {
    match chemistry::find_name(name) {
        Found::One(row) => composition_as_named(row, name).or_else(|| Formula::parse(name).ok()),
        _ => Formula::parse(name).ok(),
    }
}
