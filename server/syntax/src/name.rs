//! Runs of words that name a thing, and the slot that each belongs to.

use crate::ast::{ModifierKind, Text};
use crate::identity::split_mixture;
use crate::lexer::Tok;
use crate::number::{Dimension, Number};
use crate::plan_text::{KeyKind, Problem};
use crate::problem::quoted;
use crate::quantities::is_relative;
use crate::step::{Draft, Open, StepReader};
use crate::strength::strength_form;
use crate::vocabulary::Use;
use crate::words::{self, Prep};
use std::ops::Range;

impl StepReader<'_, '_> {
    /// `4:1 mixture of pentane and ethyl acetate`, `4:1 hexanes/ethyl acetate`
    pub(crate) fn ratio(&mut self, open: &mut Open) {
        let at = self.at;
        let Some(Tok::Ratio(numbers)) = self.pieces.get(at) else {
            return;
        };
        let numbers = numbers.clone();
        let listed = self.pieces.known(at + 1).is(Use::FormOf) && self.pieces.is(at + 2, "of");
        let mut next = if listed { at + 3 } else { at + 1 };
        let start = next;
        let mut parts = Vec::new();
        while listed && parts.len() < numbers.len() {
            let first = next;
            while !self.pieces.word(next).is_empty() && !self.is_stop(next) {
                next += 1;
            }
            if next == first {
                break;
            }
            let words = self.pieces.range(first).start..self.pieces.range(next - 1).end;
            if let Some(number) = numbers.get(parts.len()) {
                parts.push((self.pieces.source.words(words), *number));
            }
            let joins =
                matches!(self.pieces.get(next), Some(Tok::Comma)) || self.pieces.is(next, "and");
            if !joins || parts.len() == numbers.len() {
                break;
            }
            next += 1;
        }
        if listed && parts.len() == numbers.len() {
            self.at = next;
            return self.add(open, start..next, Some(parts));
        }
        if !listed {
            while !self.pieces.word(next).is_empty() && !self.is_stop(next) {
                next += 1;
            }
            if next > start {
                let names = self.pieces.range(start).start..self.pieces.range(next - 1).end;
                if let Some(parts) = split_mixture(self.pieces.source, names, &numbers) {
                    self.at = next;
                    return self.add(open, start..next, Some(parts));
                }
            }
        }
        let range = self.pieces.range(at);
        let message = format!(
            "{} is a ratio: write it after the things that it mixes, as in `hexanes/ethyl acetate 4:1`.",
            quoted(self.pieces.source.str(range.clone()))
        );
        self.problems.push(Problem::new(
            "ratio-of-what",
            self.pieces.span(range),
            message,
        ));
        self.words_of_value(open);
        self.at += 1;
    }

    /// A run of words that names a thing.
    pub(crate) fn name(&mut self, open: &mut Open) {
        let start = self.at;
        let mut next = start;
        let mut plain = true;
        let mut key = None;
        let via = open.prep() == Some(Prep::Via);
        let mut mixture = None;
        let mut slashed = false;
        loop {
            let include = match self.pieces.get(next) {
                Some(Tok::Word) => next == start || !self.is_stop(next),
                _ if via && next > start => false,
                Some(Tok::Bare(..)) => next > start && key.is_none(),
                Some(Tok::Quantity { times: 1, quantity }) => {
                    let dimension = quantity.unit.dimension;
                    let strength = strength_form(dimension).is_some() && !is_relative(dimension);
                    let boiling = dimension == Dimension::Temperature && quantity.to.is_some();
                    match next == start {
                        true => strength || dimension == Dimension::Length,
                        false => key.is_none() && (strength || boiling),
                    }
                }
                _ => false,
            };
            if !include {
                break;
            }
            let word = self.pieces.word(next);
            slashed |= word.contains('/');
            // A key, or a standing name, behind adjectives alone: the name is complete with it.
            if self.pieces.is(next + 1, "of") && self.is_removed(next) {
                next += 1;
            }
            key = if plain && self.is_known(next) {
                Some(next)
            } else {
                None
            };
            plain &= self.pieces.is_adjective(next) || self.is_known(next);
            next += 1;
        }
        if slashed && let Some(Tok::Ratio(numbers)) = self.pieces.get(next) {
            let names = self.pieces.range(start).start..self.pieces.range(next - 1).end;
            mixture = split_mixture(self.pieces.source, names, numbers);
            let gradient = self
                .pieces
                .is(next + 1, "to")
                .then(|| self.pieces.get(next + 2))
                .flatten();
            let gradient = match gradient {
                Some(Tok::Ratio(numbers)) => Some(numbers.clone()),
                _ => None,
            };
            self.at = next + 1;
            if let Some(numbers) = gradient {
                let range = self.pieces.range(next + 1).start..self.pieces.range(next + 2).end;
                self.push(open, ModifierKind::Gradient(numbers), range);
                self.at = next + 3;
            }
            return self.add(open, start..next, mixture);
        }
        self.at = next;
        self.add(open, start..next, mixture);
    }

    pub(crate) fn is_known(&self, at: usize) -> bool {
        self.pieces.key(at).is_some() || self.pieces.known(at).standing.is_some()
    }

    /// Puts a named thing where it belongs: in the open slot, or among the objects if the slot is full.
    pub(crate) fn add(
        &mut self,
        open: &mut Open,
        run: Range<usize>,
        mixture: Option<Vec<(Text, Number)>>,
    ) {
        let last = run.end.saturating_sub(1);
        let range = self.pieces.range(run.start).start..self.pieces.range(last).end;
        let single_key = self.pieces.key(last).filter(|_| {
            run.len() == 1
                || self.pieces.is_adjective(run.start)
                    && !words::is_one_of(self.pieces.word(run.start), words::MORE)
        });
        let kind = single_key.and_then(|id| self.pieces.keys.kind(id));
        if kind.is_none() && mixture.is_none() && self.value_word(open, &run, &range) {
            return;
        }
        let mut draft = Draft {
            run: run.clone(),
            portions: std::mem::take(&mut open.pending),
            flowing: std::mem::take(&mut open.flowing),
            of: None,
            mixture,
            kind,
            end: self.at,
        };
        // `liquid of flaskB`
        let standing = self.pieces.known(last).standing.is_some();
        if self.pieces.is(self.at, "of")
            && (standing || words::work_up_name(self.pieces.source.str(range.clone())).is_some())
        {
            let mut of = self.at + 1;
            while self.is_article(of) {
                of += 1;
            }
            let vessel = || {
                let id = self.pieces.key(of);
                let kind = id.and_then(|id| self.pieces.keys.kind(id));
                matches!(kind, Some(KeyKind::Vessel | KeyKind::Holder))
            };
            if (standing || vessel()) && !self.pieces.word(of).is_empty() && !self.is_stop(of) {
                draft.of = Some(of);
                self.at = of + 1;
                draft.end = self.at;
            }
        }
        let end = self.pieces.range(self.at - 1).end;
        let equipment = matches!(
            kind,
            Some(KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool)
        );
        let mut slot = open.slots.len().saturating_sub(1);
        if open.follows {
            slot = open
                .slots
                .iter()
                .rposition(|slot| slot.prep.is_none())
                .unwrap_or(slot);
        } else if let Some(found) = open.slots.get(slot) {
            let goes_on = match found.prep {
                None => true,
                Some(
                    Prep::Via | Prep::Under | Prep::At | Prep::For | Prep::Below | Prep::Above,
                ) => found.things.is_empty() && !found.filled,
                Some(Prep::To | Prep::In) => {
                    let holds = found.things.first().is_some_and(|first| {
                        matches!(
                            first.kind,
                            Some(KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool)
                        )
                    });
                    !found.filled && (!holds || equipment)
                }
                Some(_) => !found.filled,
            };
            if !goes_on {
                slot = 0;
                let message = format!(
                    "{} is read as an object of the step: write it before the first preposition.",
                    quoted(self.pieces.source.str(range.clone()))
                );
                self.problems.push(Problem::new(
                    "object-after-modifier",
                    self.pieces.span(range.clone()),
                    message,
                ));
            }
        }
        if draft.portions.is_empty() {
            let prep = open.slots.get(slot).and_then(|slot| slot.prep);
            let never = match prep {
                Some(Prep::Via | Prep::Under | Prep::As) => true,
                Some(Prep::To | Prep::In | Prep::On) => equipment,
                _ => matches!(kind, Some(KeyKind::Tool | KeyKind::Vessel)),
            };
            if !never {
                let place = open.slots.get(slot).map_or(0, |slot| slot.things.len());
                open.bare.push((slot, place));
            }
        } else {
            open.portioned = true;
        }
        open.end = open.end.max(end);
        if let Some(slot) = open.slots.get_mut(slot) {
            slot.end = slot.end.max(end);
            slot.things.push(draft);
        }
        (open.parted, open.follows) = (false, false);
    }
}
