//! A clause that is complete: every slot gets its meaning.

use crate::ast::{Clause, Modifier, ModifierKind, Referent, Text, Thing, Verb};
use crate::keys::Keys;
use crate::plan_text::{KeyKind, Problem};
use crate::problem::quoted;
use crate::resolve::senses;
use crate::step::{Open, StepReader};
use crate::words::Prep;
use std::ops::Range;

impl StepReader<'_, '_> {
    /// Gives every slot its meaning.
    pub(crate) fn finish(
        &mut self,
        mut open: Open,
        verb_at: Range<usize>,
        text: Option<Text>,
    ) -> Clause {
        let mut objects = Vec::new();
        let mut modifiers = std::mem::take(&mut open.modifiers);
        let dries = open
            .slots
            .iter()
            .any(|slot| slot.prep == Some(Prep::Over) && !slot.things.is_empty());
        for slot in std::mem::take(&mut open.slots) {
            let Some(prep) = slot.prep else {
                objects.reserve(slot.things.len());
                for draft in slot.things {
                    objects.extend(self.resolve(draft, None, open.verb));
                }
                continue;
            };
            if slot.things.is_empty() {
                if !slot.filled {
                    self.incomplete(slot.word.clone());
                    let kind = empty_kind(Some(prep), self.pieces.source.words(slot.word.clone()));
                    modifiers.push(Modifier {
                        kind,
                        span: self.pieces.span(slot.word),
                    });
                }
                continue;
            }
            let span = self.pieces.span(slot.word.start..slot.end);
            let mut things = Vec::with_capacity(slot.things.len());
            for draft in slot.things {
                things.extend(self.resolve(draft, Some(prep), open.verb));
            }
            if prep == Prep::In {
                let (places, liquids): (Vec<_>, Vec<_>) =
                    things.into_iter().partition(|thing| self.is_place(thing));
                modifiers.extend(places.into_iter().map(|thing| Modifier {
                    kind: ModifierKind::Place(thing),
                    span,
                }));
                if !liquids.is_empty() {
                    modifiers.push(Modifier {
                        kind: ModifierKind::DissolvedIn(liquids),
                        span,
                    });
                }
                continue;
            }
            let word = self.pieces.source.words(slot.word);
            modifiers.push(Modifier {
                kind: thing_kind(prep, word, things),
                span,
            });
        }
        modifiers.sort_by_key(|modifier| modifier.span.start);
        let mut clause = Clause {
            verb: open.verb,
            verb_span: self.pieces.span(verb_at.clone()),
            span: self.pieces.span(verb_at.start..open.end.max(verb_at.end)),
            senses: Vec::new(),
            objects,
            modifiers,
            text,
        };
        charge(&mut clause, self.pieces.keys);
        clause.senses = senses(&clause, self.pieces.keys, dries);
        clause
    }

    pub(crate) fn is_place(&self, thing: &Thing) -> bool {
        match thing.referent {
            Referent::Key(id) => {
                matches!(
                    self.pieces.keys.kind(id),
                    Some(KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool)
                )
            }
            Referent::Place => true,
            _ => false,
        }
    }

    pub(crate) fn incomplete(&mut self, range: Range<usize>) {
        let word = quoted(self.pieces.source.str(range.clone()));
        let message = format!("Something is missing after {word}.");
        self.problems
            .push(Problem::new("incomplete", self.pieces.span(range), message));
    }
}

/// A preposition with nothing after it.
pub(crate) fn empty_kind(prep: Option<Prep>, word: Text) -> ModifierKind {
    match prep {
        Some(Prep::In) => ModifierKind::DissolvedIn(Vec::new()),
        Some(prep) => thing_kind(prep, word, Vec::new()),
        None => ModifierKind::Other(word, Vec::new()),
    }
}

pub(crate) fn thing_kind(prep: Prep, word: Text, things: Vec<Thing>) -> ModifierKind {
    match prep {
        Prep::To => ModifierKind::To(things),
        Prep::From => ModifierKind::From(things),
        Prep::With => ModifierKind::With(things),
        Prep::Without => ModifierKind::Without(things),
        Prep::Over if !things.is_empty() => ModifierKind::OverAgent(things),
        Prep::On => ModifierKind::On(things),
        Prep::Through => ModifierKind::Through(things),
        Prep::Under => ModifierKind::Under(things),
        Prep::Via => ModifierKind::Via(things),
        _ => ModifierKind::Other(word, things),
    }
}

/// `charge flask with salt` is `add salt to flask`.
pub(crate) fn charge(clause: &mut Clause, keys: &Keys) {
    let holds = |thing: &Thing| match thing.referent {
        Referent::Key(id) => matches!(keys.kind(id), Some(KeyKind::Vessel | KeyKind::Holder)),
        _ => false,
    };
    if clause.verb != Verb::Charge || clause.objects.is_empty() || !clause.objects.iter().all(holds)
    {
        return;
    }
    let with = clause.modifiers.iter_mut().find(
        |modifier| matches!(&modifier.kind, ModifierKind::With(things) if !things.is_empty()),
    );
    if let Some(modifier) = with
        && let ModifierKind::With(things) =
            std::mem::replace(&mut modifier.kind, ModifierKind::To(Vec::new()))
    {
        modifier.kind = ModifierKind::To(std::mem::replace(&mut clause.objects, things));
        clause.verb = Verb::Add;
    }
}
