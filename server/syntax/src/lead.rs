//! What stands in front of a step, as `in a vial, dissolve salt`, and what goes on behind one, as `followed by water
//! 5 mL`.

use crate::ast::Verb;
use crate::lexer::Tok;
use crate::manner::verb_of_stem;
use crate::plan_text::KeyKind;
use crate::step::{Open, Slot, StepReader};
use crate::words::{self, Prep};
use smallvec::SmallVec;
use std::ops::Range;

impl StepReader<'_, '_> {
    /// `in a vial` of `in a vial, dissolve salt`, `to a solution of ketone in thf 5 mL` of what is added to it: its
    /// pieces; reads up to the verb behind them, or the adverb before that.
    pub(crate) fn lead(&mut self) -> Range<usize> {
        let first = self.at;
        let leads = matches!(
            self.pieces.known(first).prep,
            Some(
                Prep::In
                    | Prep::To
                    | Prep::At
                    | Prep::Under
                    | Prep::Over
                    | Prep::With
                    | Prep::Via
                    | Prep::Below
            )
        );
        if !leads && !self.pieces.is(first, "by") {
            return first..first;
        }
        for at in first + 2..self.pieces.tokens.len() {
            let comma = match self.pieces.get(at) {
                Some(Tok::Semicolon | Tok::Stop) => break,
                tok => matches!(tok, Some(Tok::Comma)),
            };
            let then = comma && self.pieces.is(at + 1, "then");
            let next = at + usize::from(comma) + usize::from(then);
            let mut verb = next;
            while self.is_adverb(verb) && self.pieces.verb(verb).is_none() {
                verb += 1;
            }
            let begins = match self.pieces.verb(verb) {
                Some((found, after)) if comma => !self.is_substance(found, after),
                // No other verb is never part of a name.
                Some(_) => self.pieces.is(verb, "add"),
                None => comma && self.permitted(verb).is_some(),
            };
            if begins {
                self.at = next;
                return first..at;
            }
        }
        first..first
    }

    /// Reads what stands in front of the verb as if it stood behind it; the objects are yet to come.
    pub(crate) fn front(&mut self, open: &mut Open, lead: &Range<usize>, verb: Range<usize>) {
        let behind = self.pieces.tokens.split_off(lead.end);
        self.at = lead.start;
        while self.at < lead.end && !self.done {
            let before = self.at;
            if self.piece(open) {
                self.one_step(self.at.min(lead.end - 1));
            }
            self.at = self.at.max(before + 1);
        }
        self.settle(open);
        self.pieces.tokens.extend(behind);
        open.bare.clear();
        (open.portioned, open.parted) = (false, false);
        open.slots.push(Slot {
            prep: None,
            end: verb.end,
            word: verb,
            things: SmallVec::new(),
            filled: false,
        });
    }

    /// `in` of `to a solution of ketone in thf 5 mL`: the solvent stands where its solute does. Its vessel does not.
    pub(crate) fn joins_solution(&self, open: &Open) -> bool {
        let Some(slot) = open.slots.last().filter(|slot| slot.prep == Some(Prep::To)) else {
            return false;
        };
        let Some(draft) = slot.things.first() else {
            return false;
        };
        let is = |at: Option<usize>, words| {
            at.is_some_and(|at| words::is_one_of(self.pieces.word(at), words))
        };
        let start = draft.run.start;
        let made = is(start.checked_sub(1), &["of"])
            && (is(start.checked_sub(2), words::SOLUTIONS)
                || is(start.checked_sub(2), &["mixture"]))
            || is(self.at.checked_sub(2), &["dissolved", "suspended"]);
        let mut at = self.skip_noise(self.at);
        while matches!(self.pieces.get(at), Some(Tok::Quantity { .. })) {
            at = self.skip_noise(at + 1);
        }
        let first = at;
        while self.begins_name(at) {
            at += 1;
        }
        let Some(last) = at.checked_sub(1).filter(|_| at > first) else {
            return false;
        };
        let equipment = self
            .pieces
            .key(last)
            .and_then(|id| self.pieces.keys.kind(id));
        made && !words::is_place(self.pieces.word(last))
            && !words::ends_in_vessel(self.pieces.word(last))
            && !matches!(
                equipment,
                Some(KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool)
            )
    }

    /// `equipped with a stir bar and a septum`: a remark, to the next separator or preposition.
    pub(crate) fn equipped(&mut self, open: &mut Open) {
        let mut stop = self.at + 2;
        while matches!(self.pieces.get(stop), Some(Tok::Word | Tok::Bracket))
            && matches!(self.pieces.known(stop).prep, None | Some(Prep::With))
        {
            stop += 1;
        }
        self.settle(open);
        self.remark(open, stop);
    }

    /// `followed by stirring` begins a clause, which is where this gives true; what else follows joins what stands there.
    pub(crate) fn followed(&mut self, open: &mut Open) -> bool {
        let at = self.at;
        self.settle(open);
        self.at += 2;
        if self.gerund(self.at).is_some() {
            return true;
        }
        if self.pieces.get(self.at).is_none() {
            self.incomplete(self.pieces.range(at).start..self.pieces.range(at + 1).end);
            return false;
        }
        let brings = matches!(
            open.verb,
            Verb::Add
                | Verb::Charge
                | Verb::Dissolve
                | Verb::Suspend
                | Verb::Dilute
                | Verb::Quench
                | Verb::Acidify
                | Verb::Basify
                | Verb::Wash
                | Verb::Rinse
                | Verb::Extract
                | Verb::Transfer
                | Verb::Titrate
        );
        let dissolves = matches!(open.verb, Verb::Dissolve | Verb::Suspend);
        let with = open.prep() == Some(Prep::With) || dissolves && open.prep() == Some(Prep::In);
        self.addition_of(open);
        let treats = with && open.verb == Verb::Stir;
        if !brings && !treats {
            let last = (0..at).rfind(|&at| !matches!(self.pieces.get(at), Some(Tok::Comma)));
            let gap = last.map_or(at, |last| self.pieces.range(last).end)
                ..self.pieces.range(self.at).start;
            self.new_line(self.pieces.range(at).start, gap, "add ");
            return false;
        }
        open.parted = true;
        open.follows = !with;
        false
    }

    /// `stirring` behind `followed by`.
    pub(crate) fn gerund(&self, at: usize) -> Option<(Verb, usize)> {
        let before = |back: usize, word| {
            at.checked_sub(back)
                .is_some_and(|at| self.pieces.is(at, word))
        };
        if !before(1, "by") || !before(2, "followed") {
            return None;
        }
        let stem = self.pieces.word(at).strip_suffix("ing")?;
        Some((verb_of_stem(stem)?, at + 1))
    }
}
