//! How much of a thing: which thing a portion belongs to is decided by what it touches.

use crate::ast::{Amount, AmountKind, ModifierKind, Portion, PortionKind};
use crate::clause::empty_kind;
use crate::entry::split_fields;
use crate::identity::split_mixture;
use crate::lexer::Tok;
use crate::number::{Dimension, Number};
use crate::numbers::{scan_ratio, scan_times};
use crate::plan_text::{KeyKind, Problem};
use crate::problem::quoted;
use crate::quantities::{Scan, is_relative, scan_whole};
use crate::step::{Open, StepReader};
use crate::strength::amount_kind;
use crate::vocabulary::Use;
use crate::words::{self, Prep};
use std::ops::Range;

impl StepReader<'_, '_> {
    /// `three 50 mL portions of ether` is `3 x 50 mL of ether`.
    pub(crate) fn multiple(&mut self, open: &mut Open) -> bool {
        let Some(times) = self.pieces.known(self.at).number else {
            return false;
        };
        let Some(Tok::Quantity { times: 1, quantity }) = self.pieces.get(self.at + 1) else {
            return false;
        };
        let Some(kind) = amount_kind(quantity.unit.dimension) else {
            return false;
        };
        if !self.pieces.known(self.at + 2).is(Use::Part) {
            return false;
        }
        let amount = Amount {
            kind,
            quantity: Some(**quantity),
            of: None,
            span: quantity.span,
        };
        self.at += 1;
        self.portion(open, times, amount);
        true
    }

    /// `two thirds of`, `a drop of`
    pub(crate) fn parts_of(&mut self, open: &mut Open) -> bool {
        let at = self.at;
        let known = self.pieces.known(at);
        let word = self.pieces.word(at);
        if known.is(Use::Countable) && !word.ends_with('s') && self.pieces.is(at + 1, "of") {
            let amount = Amount {
                kind: AmountKind::Uncounted(1, word.into()),
                quantity: None,
                of: None,
                span: self.pieces.span(self.pieces.range(at)),
            };
            self.portion(open, 1, amount);
            return true;
        }
        // Nobody says how many drops a few are.
        if self.pieces.known(at + 1).is(Use::Countable)
            && words::is_one_of(word, &["few", "several"])
            && self.pieces.is(at + 2, "of")
        {
            let what = self.pieces.word(at + 1);
            let range = self.pieces.range(at).start..self.pieces.range(at + 1).end;
            let amount = Amount {
                kind: AmountKind::Uncounted(3, format!("{what} or so").into()),
                quantity: None,
                of: None,
                span: self.pieces.span(range),
            };
            self.at += 1;
            self.portion(open, 1, amount);
            return true;
        }
        let Some(over) = known.number else {
            return false;
        };
        let under = match self.pieces.word(at + 1) {
            "half" if over == 1 => 2,
            "third" if over == 1 => 3,
            "quarter" if over == 1 => 4,
            "fifth" if over == 1 => 5,
            "tenth" if over == 1 => 10,
            "thirds" => 3,
            "quarters" => 4,
            "fifths" => 5,
            "tenths" => 10,
            _ => return false,
        };
        if !self.pieces.is(at + 2, "of") {
            return false;
        }
        self.share(open, PortionKind::Fraction(over, under), at + 2);
        true
    }

    /// `half`, `rest` and their like before a thing; the ordinals only with `of`.
    pub(crate) fn share_word(&mut self, open: &mut Open, kind: PortionKind, needs_of: bool) {
        if needs_of && !self.pieces.is(self.at + 1, "of") {
            return self.name(open);
        }
        self.share(open, kind, self.at + 1);
    }

    pub(crate) fn share(&mut self, open: &mut Open, kind: PortionKind, next: usize) {
        let range = self.pieces.range(self.at).start..self.pieces.range(next.saturating_sub(1)).end;
        let portion = Portion {
            kind,
            span: self.pieces.span(range.clone()),
        };
        let after = self.skip_noise(next);
        if self.begins_name(after) {
            open.pending.push(portion);
            self.at = after;
        } else {
            self.of_what(open, range);
            self.at = next;
        }
    }

    pub(crate) fn of_what(&mut self, open: &mut Open, range: Range<usize>) {
        let words = quoted(self.pieces.source.str(range.clone()));
        let message = format!("{words} of what? Name the thing that it is a portion of.");
        self.problems.push(Problem::new(
            "portion-of-what",
            self.pieces.span(range.clone()),
            message,
        ));
        open.end = open.end.max(range.end);
        if open.is_fresh()
            && let Some(slot) = open.slot()
        {
            slot.filled = true;
            slot.end = range.end;
            let (prep, word) = (slot.prep, slot.word.clone());
            let text = self.pieces.source.words(word.clone());
            self.push(open, empty_kind(prep, text), word);
        }
    }

    /// A quantity that says how much of a thing: which thing is decided by what it touches.
    pub(crate) fn portion(&mut self, open: &mut Open, times: u32, mut amount: Amount) {
        let at = self.at;
        let mut range = self.pieces.range(at);
        let mut next = at + 1;
        let relative = amount
            .quantity
            .is_some_and(|quantity| is_relative(quantity.unit.dimension));
        let touched = self.touched(open, at);
        let by_scale = amount.quantity.is_some_and(|q| {
            matches!(
                q.unit.dimension,
                Dimension::Equivalents | Dimension::MolPercent
            )
        });
        if (relative || by_scale && touched.is_some_and(|(_, _, portions)| portions == 0))
            && self.pieces.is(next, "of")
        {
            let mut key = next + 1;
            while self.is_article(key) {
                key += 1;
            }
            if !self.pieces.word(key).is_empty() && !self.is_stop(key) {
                range.end = self.pieces.range(key).end;
                amount.of = Some(self.key_reference(key));
                amount.span = self.pieces.span(range.clone());
                next = key + 1;
            }
        }
        open.end = open.end.max(range.end);
        let portion = Portion {
            kind: PortionKind::Amount { times, amount },
            span: self.pieces.span(range.clone()),
        };
        if self.pieces.is(next, "each") {
            self.at = next + 1;
            return self.each(open, portion, range);
        }
        if let Some((slot, thing, portions)) = touched
            && portions == 0
        {
            self.at = next;
            return self.give(open, slot, thing, portion, range);
        }
        let mut after = self.skip_noise(next);
        // `5 mL from vial`
        if self.pieces.is(after, "from")
            && self.begins_name(self.skip_noise(after + 1))
            && touched.is_none()
        {
            after = self.skip_noise(after + 1);
        }
        if self.begins_name(after) {
            open.pending.push(portion);
            self.at = after;
            return;
        }
        self.at = next;
        let fresh = open.is_fresh();
        if fresh
            && times == 1
            && matches!(
                open.prep(),
                Some(Prep::To | Prep::From | Prep::Below | Prep::Above)
            )
            && let PortionKind::Amount {
                amount:
                    Amount {
                        quantity: Some(quantity),
                        ..
                    },
                ..
            } = portion.kind
        {
            let start = self.slot_start(open, at);
            self.push(open, ModifierKind::Until(quantity), start..range.end);
            return self.fill(open);
        }
        if !fresh && let Some((slot, thing)) = open.bare.pop() {
            return self.attach(open, slot, thing, portion, range.end);
        }
        if !fresh && open.portioned {
            let words = quoted(self.pieces.source.str(range.clone()));
            let message = format!(
                "{words} is a second amount for one thing: put both in brackets after it, or delete one."
            );
            self.problems.push(Problem::new(
                "second-portion",
                self.pieces.span(range),
                message,
            ));
        } else {
            self.of_what(open, range);
        }
    }

    /// The last thing of the open slot, if it touches a piece: its slot, its place there and how many portions it has.
    pub(crate) fn touched(&self, open: &Open, at: usize) -> Option<(usize, usize, usize)> {
        let slot = open.slots.len().checked_sub(1)?;
        let things = &open.slots.get(slot)?.things;
        let draft = things.last().filter(|draft| draft.end == at)?;
        Some((slot, things.len() - 1, draft.portions.len()))
    }

    /// A portion that touches a thing; tools and the vessels that something goes to take none.
    pub(crate) fn give(
        &mut self,
        open: &mut Open,
        slot: usize,
        thing: usize,
        portion: Portion,
        range: Range<usize>,
    ) {
        let Some(found) = open.slots.get(slot) else {
            return;
        };
        let kind = found.things.get(thing).and_then(|draft| draft.kind);
        let goes_there = matches!(found.prep, Some(Prep::To | Prep::In | Prep::On))
            && matches!(kind, Some(KeyKind::Vessel | KeyKind::Holder));
        let takes_none = goes_there || found.prep == Some(Prep::Via) || kind == Some(KeyKind::Tool);
        if takes_none {
            return self.of_what(open, range);
        }
        if open.bare.last() == Some(&(slot, thing)) {
            open.bare.pop();
        }
        self.attach(open, slot, thing, portion, range.end);
    }

    pub(crate) fn attach(
        &self,
        open: &mut Open,
        slot: usize,
        thing: usize,
        portion: Portion,
        end: usize,
    ) {
        open.portioned = true;
        open.end = open.end.max(end);
        let Some(slot) = open.slots.get_mut(slot) else {
            return;
        };
        slot.end = slot.end.max(end);
        if let Some(draft) = slot.things.get_mut(thing) {
            // A second one is rare.
            draft.portions.reserve_exact(1);
            draft.portions.push(portion);
        }
    }

    /// `20 mL each`
    pub(crate) fn each(&mut self, open: &mut Open, portion: Portion, range: Range<usize>) {
        let current = open.slots.len().saturating_sub(1);
        let mut given = false;
        while let Some(&(slot, thing)) = open.bare.last() {
            if slot != current {
                break;
            }
            open.bare.pop();
            self.attach(open, slot, thing, portion.clone(), range.end);
            given = true;
        }
        if !given {
            self.of_what(open, range);
        }
    }

    /// Portions that found no thing.
    pub(crate) fn settle(&mut self, open: &mut Open) {
        open.flowing = false;
        if open.pending.is_empty() {
            return;
        }
        for portion in open.pending.drain(..) {
            let message = "A portion of what? Name the thing after it.";
            self.problems
                .push(Problem::new("portion-of-what", portion.span, message));
        }
    }

    /// `(ice bath)`; `(20 mL)`, `(2.30 mL, 5.75 mmol)` and `(4:1)` after a thing.
    pub(crate) fn bracket(&mut self, open: &mut Open) {
        let range = self.pieces.range(self.at);
        let inside = range.start + 1..range.end - 1;
        let touched = self.touched(open, self.at);
        if let Some((slot, thing, 0)) = touched
            && let Some(portions) = self.bracketed(&inside)
        {
            if open.bare.last() == Some(&(slot, thing)) {
                open.bare.pop();
            }
            for portion in portions {
                self.attach(open, slot, thing, portion, range.end);
            }
            self.at += 1;
            return;
        }
        if let Some((slot, thing, _)) = touched
            && let Some((numbers, stop)) = scan_ratio(self.pieces.source, inside.start, inside.end)
            && stop == inside.end
            && let Some(draft) = open
                .slots
                .get_mut(slot)
                .and_then(|slot| slot.things.get_mut(thing))
        {
            let names =
                self.pieces.range(draft.run.start).start..self.pieces.range(draft.run.end - 1).end;
            if let Some(parts) = split_mixture(self.pieces.source, names, &numbers) {
                draft.mixture = Some(parts);
                draft.end = self.at + 1;
                self.at += 1;
                return;
            }
        }
        self.push(
            open,
            ModifierKind::Remark(self.pieces.source.words(range.clone())),
            range,
        );
        self.at += 1;
    }

    pub(crate) fn bracketed(&self, inside: &Range<usize>) -> Option<Vec<Portion>> {
        let source = self.pieces.source;
        let mut portions = Vec::new();
        let mut ignored = Vec::new();
        for field in split_fields(source, inside, &mut ignored) {
            let (times, at) = match scan_times(source, field.start, field.end) {
                Some((times, at)) if times > 0 => (times, at),
                _ => (1, field.start),
            };
            let Some(Scan::Quantity(quantity)) = scan_whole(source, at..field.end) else {
                return None;
            };
            let kind = amount_kind(quantity.unit.dimension)?;
            let amount = Amount {
                kind,
                quantity: Some(quantity),
                of: None,
                span: quantity.span,
            };
            portions.push(Portion {
                kind: PortionKind::Amount { times, amount },
                span: source.span(field),
            });
        }
        (!portions.is_empty()).then_some(portions)
    }
}

/// `50 %` as a share.
pub(crate) fn percent(number: &Number) -> Option<PortionKind> {
    let value = number.value.normalize();
    let under = 100u32.checked_mul(10u32.checked_pow(value.scale())?)?;
    let over = u32::try_from(value.mantissa()).ok()?;
    Some(PortionKind::Fraction(over, under))
}
