//! Hints at the end of the lines: what to measure, where the line does not say it.

use crate::document::{Document, PlanUnit};
use crate::state;
use plan::{Amounts, Material, show};
use std::ops::Range;
use syntax::AmountKind;

/// A hint between the words of the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hint {
    /// Where.
    pub at: usize,
    /// What it says.
    pub label: String,
    /// More of it, in markdown.
    pub tooltip: Option<String>,
}

impl Document {
    /// The hints of a stretch of the document.
    #[must_use]
    pub fn inlay_hints(&self, range: Range<usize>) -> Vec<Hint> {
        let mut hints = Vec::new();
        for unit in self.plans() {
            let end = unit.start + unit.plan.text.text.len();
            if unit.start > range.end || end < range.start {
                continue;
            }
            for (material, amounts) in unit.plan.materials.iter().zip(&unit.plan.ledger.amounts) {
                if let Some(at) = end_of_words(&unit, material.line)
                    && range.start <= at
                    && at <= range.end
                    && let Some(label) = label(material, amounts)
                {
                    let tooltip = self.hover(at).map(|hover| hover.markdown);
                    hints.push(Hint { at, label, tooltip });
                }
            }
            if unit.plan.context.settings.shown.step_hints {
                hints.extend(step_hints(&unit, &range));
            }
        }
        hints
    }
}

/// What the vessel holds after each line that brings something in.
fn step_hints(unit: &PlanUnit<'_>, range: &Range<usize>) -> Vec<Hint> {
    let mut hints: Vec<Hint> = Vec::new();
    for moment in &unit.plan.moments {
        let Some(at) = end_of_words(unit, moment.line) else {
            continue;
        };
        if !(range.start..=range.end).contains(&at) {
            continue;
        }
        let Some(label) = state::label(unit.plan, moment) else {
            continue;
        };
        let hint = Hint {
            at,
            label,
            tooltip: None,
        };
        match hints.last_mut() {
            // The last clause of a line has the last word.
            Some(last) if last.at == at => *last = hint,
            _ => hints.push(hint),
        }
    }
    hints
}

/// Behind the last word of a line, before its comment.
fn end_of_words(unit: &PlanUnit<'_>, line: u32) -> Option<usize> {
    let found = unit.plan.text.lines.get(line as usize)?;
    let start = found.start as usize;
    let end = start + found.comment.map_or(found.len, |comment| comment.start) as usize;
    let words = unit.plan.text.text.get(start..end)?;
    Some(unit.start + start + words.trim_end().len())
}

/// What to measure and the amount, without what the line states itself.
pub(crate) fn label(material: &Material, amounts: &Amounts) -> Option<String> {
    let states = |kind: &AmountKind| material.stated.iter().any(|amount| amount.kind == *kind);
    if material.product {
        let theory = amounts
            .pure_mass
            .as_ref()
            .ok()
            .map(|known| show::mass(known.value));
        let expected = amounts
            .expected
            .as_ref()
            .and_then(|(mass, _)| mass.as_ref().ok())
            .map(|known| show::mass(known.value));
        return match (expected, theory) {
            (Some(expected), Some(theory)) => {
                Some(format!("{expected} expected · {theory} in theory"))
            }
            (None, Some(theory)) => Some(format!("{theory} in theory")),
            _ => None,
        };
    }
    let mass = amounts
        .mass
        .as_ref()
        .ok()
        .filter(|_| !states(&AmountKind::Mass))
        .map(|known| show::mass(known.value));
    let volume = amounts
        .volume
        .as_ref()
        .ok()
        .filter(|_| !states(&AmountKind::Volume))
        .map(|known| show::volume(known.value));
    let amount = amounts
        .amount
        .as_ref()
        .ok()
        .filter(|_| !states(&AmountKind::Amount))
        .map(|known| show::amount(known.value));
    // A solvent is measured by volume, and its millimoles say nothing.
    if is_solvent(material) {
        return volume;
    }
    let measures = if material.measured_by_volume() {
        [volume, mass, amount]
    } else {
        [mass, volume, amount]
    };
    let parts: Vec<String> = measures.into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join(" · "))
}

/// By its role, or because its line counts it neither in equivalents nor in moles nor by mass.
fn is_solvent(material: &Material) -> bool {
    let counted = material.stated.iter().any(|amount| {
        matches!(
            amount.kind,
            AmountKind::Equivalents
                | AmountKind::MolPercent
                | AmountKind::Amount
                | AmountKind::Mass
        )
    });
    material.role == Some(syntax::Role::Solvent) || (!counted && material.is_liquid())
}
