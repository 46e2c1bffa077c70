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
    /// The composition.
    pub formula: Option<Arc<Formula>>,
    /// Parts of a mixture, with shares by volume that sum to 1.
    pub mixture: Vec<Part>,
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
            mixture: Vec::new(),
        };
        for field in &entry.fields {
            match &field.kind {
                FieldKind::Name(text) => {
                    identity.name = text.text.as_ref().into();
                    identity.at = Some(convert::at(line, text.span));
                    identity.find(&text.text);
                }
                FieldKind::Mixture(parts) => {
                    identity.at = Some(convert::at(line, field.span));
                    identity.mix(parts);
                }
                FieldKind::Cas(text) if identity.substance.is_none() => {
                    let number = text.text.trim_start_matches("CAS").trim();
                    identity.settle(chemistry::find_cas(number));
                    if identity.at.is_none() {
                        identity.at = Some(convert::at(line, text.span));
                        identity.name = identity
                            .substance
                            .map_or_else(|| number.into(), |s| s.name().into());
                    }
                }
                FieldKind::Inchi(_) | FieldKind::Smiles(_) if identity.at.is_none() => {
                    identity.at = Some(convert::at(line, field.span));
                }
                _ => {}
            }
        }
        let written = entry.fields.iter().find_map(|field| match &field.kind {
            FieldKind::Formula(text) => Formula::parse(&text.text).ok(),
            FieldKind::Inchi(text) => inchi_formula(&text.text),
            _ => None,
        });
        if let Some(written) = &written {
            identity.choose(written);
        }
        let library = identity.substance.and_then(Substance::formula);
        identity.formula = written
            .or_else(|| library.and_then(|text| Formula::parse(text).ok()))
            .map(Arc::new)
            .or(identity.formula);
        identity
    }

    /// A name is first the library's, and then a formula: AcOH is not an actinium compound.
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
        if self.substance.is_none() && self.candidates.is_empty() {
            self.formula = Formula::parse(name).ok().map(Arc::new);
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
        self.name = names.join("/").into();
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

/// The formula layer of a standard InChI without charge, proton or isotope layers, which change it.
fn inchi_formula(text: &str) -> Option<Formula> {
    let mut layers = text.strip_prefix("InChI=1S/")?.split('/');
    let formula = layers.next()?;
    let plain = layers.all(|layer| !matches!(layer.chars().next(), Some('q' | 'p' | 'i')));
    if plain {
        Formula::parse(formula).ok()
    } else {
        None
    }
}
