//! What a line is: a row of the library, a composition, or a mixture.

use crate::convert;
use crate::known::At;
use chemistry::{Formula, Found, Substance};
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
    /// What could not be read as the formula, SMILES, InChI or CAS number that it is meant to be, and why.
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
                    let read = chemistry::smiles_formula(&text.text);
                    identity.written(
                        "SMILES",
                        text,
                        line,
                        read.map_err(|e| (e.at, e.len, e.message)),
                    );
                }
                FieldKind::Inchi(text) => {
                    let read = chemistry::inchi_formula(&text.text);
                    identity.written(
                        "InChI",
                        text,
                        line,
                        read.map_err(|e| (e.at, e.len, e.message)),
                    );
                }
                _ => {}
            }
        }
        // What is written rules over what a name or number stands for.
        identity
            .compositions
            .sort_by_key(|composition| match composition.by {
                "formula" => 0,
                "SMILES" | "InChI" => 1,
                _ => 2,
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
        let element = || {
            let named =
                |element: &chemistry::Element| element.name().eq_ignore_ascii_case(&text.text);
            let element = chemistry::Element::all().find(named)?;
            Formula::parse(element.symbol()).ok()
        };
        let formula = match self.substance {
            Some(substance) => substance
                .formula()
                .and_then(|text| Formula::parse(text).ok()),
            None if self.candidates.is_empty() => Formula::parse(&text.text).ok().or_else(element),
            None => None,
        };
        self.state("name", at, formula);
    }

    fn by_number(&mut self, text: &Text, line: u32) {
        let at = convert::at(line, text.span);
        let number = text.text.trim_start_matches("CAS").trim();
        if !chemistry::cas_is_valid(number) {
            let reason =
                format!("{number} is no CAS number, for its last digit does not fit: check it.");
            self.faults.push((at, reason));
            return;
        }
        let found = chemistry::find_cas(number);
        let row = one(found.clone()).and_then(Substance::formula);
        self.state(
            "CAS number",
            at,
            row.and_then(|text| Formula::parse(text).ok()),
        );
        if self.substance.is_none() {
            self.settle(found);
        }
        if self.at.is_none() {
            self.at = Some(at);
            self.name = self
                .substance
                .map_or_else(|| number.into(), |row| row.name().into());
        }
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
                let place = |bytes: usize| text.span.start + u32::try_from(bytes).unwrap_or(0);
                let end = place(start + len.max(1)).min(text.span.end);
                let span = syntax::Span {
                    start: place(start).min(end),
                    end,
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
        }
    }

    /// A written formula chooses between substances of one name.
    fn choose(&mut self, written: &Formula) {
        let same = |substance: &Substance| {
            let formula = substance
                .formula()
                .and_then(|text| Formula::parse(text).ok());
            formula.is_some_and(|formula| formula.same_composition(written))
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
