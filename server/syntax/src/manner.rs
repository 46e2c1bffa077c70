//! How something is added and why, as procedures say it: `in small portions`, `drop by drop`, `to destroy excess
//! nitrite`, and remarks behind a comma. None of these names a thing.

use crate::ast::{CountKind, Modifier, ModifierKind, Text, Verb};
use crate::lexer::Tok;
use crate::number::Dimension;
use crate::plan_text::{KeyKind, Problem};
use crate::quantities::is_portion;
use crate::resolve::not_read;
use crate::step::{Open, Slot, StepReader};
use crate::vocabulary::{Use, known};
use crate::words::{self, Prep};
use smallvec::SmallVec;
use std::ops::Range;

impl StepReader<'_, '_> {
    fn manner(&mut self, open: &mut Open, how: &str, range: Range<usize>, next: usize) {
        let text = Text {
            text: how.into(),
            span: self.pieces.span(range.clone()),
        };
        self.push(open, ModifierKind::Adverb(text), range);
        self.at = next;
    }

    /// `small portions`, `one go`, `a thin stream`, `100 mg portions` behind `in`, which stands at `word`.
    pub(crate) fn in_portions(&mut self, open: &mut Open, word: &Range<usize>) -> bool {
        let mut at = self.at;
        if let Some(Tok::Quantity { times: 1, quantity }) = self.pieces.get(at) {
            if !is_portion(quantity.unit.dimension) || !self.is_parts(at + 1) {
                return false;
            }
            let range = word.start..self.pieces.range(at + 1).end;
            self.manner(open, "portionwise", range, at + 2);
            return true;
        }
        // `in two 10 mL portions`
        if let Some(count) = self.pieces.known(at).number
            && matches!(self.pieces.get(at + 1), Some(Tok::Quantity { .. }))
            && self.is_parts(at + 2)
        {
            let range = word.start..self.pieces.range(at + 2).end;
            if self.multiple(open) {
                self.push(open, ModifierKind::Count(CountKind::Portions, count), range);
                return true;
            }
        }
        let (mut one, mut thin) = (false, false);
        while self.pieces.known(at).is(Use::Size) || self.is_article(at) {
            one |= words::is_one_of(self.pieces.word(at), &["one", "single"]);
            thin |= words::is_one_of(
                self.pieces.word(at),
                &["thin", "slow", "steady", "fine", "slender"],
            );
            at += 1;
        }
        if self.pieces.key(at).is_some() {
            return false;
        }
        let mut range = word.start..self.pieces.range(at).end;
        if self.is_parts(at) {
            let mut next = at + 1;
            // `in portions of 0.5 g` does not say how much there is of it all.
            if self.pieces.is(next, "of")
                && let Some(Tok::Quantity { quantity, .. }) = self.pieces.get(next + 1)
                && is_portion(quantity.unit.dimension)
            {
                range.end = self.pieces.range(next + 1).end;
                next += 2;
            }
            self.manner(open, "portionwise", range, next);
        } else if one && words::is_one_of(self.pieces.word(at), words::WHOLES) {
            self.push(open, ModifierKind::Count(CountKind::Portions, 1), range);
            self.at = at + 1;
        } else if thin && self.pieces.is(at, "stream") {
            self.manner(open, "slowly", range, at + 1);
        } else {
            return false;
        }
        true
    }

    fn is_parts(&self, at: usize) -> bool {
        self.pieces.known(at).is(Use::Part) && self.pieces.key(at).is_none()
    }

    /// `caution`, `great care` behind `with`.
    pub(crate) fn with_care(&mut self, open: &mut Open, word: &Range<usize>) -> bool {
        let mut at = self.at;
        while self.pieces.known(at).is(Use::Great) || self.pieces.is(at, "the") {
            at += 1;
        }
        if !self.pieces.is(at, "care") && !self.pieces.is(at, "caution") {
            return false;
        }
        self.manner(
            open,
            "carefully",
            word.start..self.pieces.range(at).end,
            at + 1,
        );
        true
    }

    /// `10 min intervals`, `intervals of 10 min` behind `at`.
    pub(crate) fn at_intervals(&mut self, open: &mut Open, word: &Range<usize>) -> bool {
        let at = self.at;
        let time = |at| match self.pieces.get(at) {
            Some(Tok::Quantity { quantity, .. }) => quantity.unit.dimension == Dimension::Time,
            _ => false,
        };
        let interval = |at| words::is_one_of(self.pieces.word(at), &["interval", "intervals"]);
        let last = match interval(at) {
            true if self.pieces.is(at + 1, "of") && time(at + 2) => at + 2,
            false if time(at) && interval(at + 1) => at + 1,
            _ => return false,
        };
        self.manner(
            open,
            "portionwise",
            word.start..self.pieces.range(last).end,
            last + 1,
        );
        true
    }

    /// `by the slow addition of water 10 mL` is `with water 10 mL slowly`: reads up to what is added.
    pub(crate) fn by_addition(&mut self, open: &mut Open) -> bool {
        if !self.pieces.is(self.at.saturating_sub(1), "by") {
            return false;
        }
        self.adding(open) || self.addition_of(open)
    }

    /// `slowly adding` before what is added.
    fn adding(&mut self, open: &mut Open) -> bool {
        let mut at = self.at;
        while self.is_adverb(at) {
            at += 1;
        }
        if !self.pieces.is(at, "adding") || self.pieces.known(at + 1).prep.is_some() {
            return false;
        }
        for how in self.at..at {
            let word = self.pieces.word(how);
            self.manner(open, word, self.pieces.range(how), how + 1);
        }
        self.at = at + 1;
        true
    }

    /// `the slow addition of` before what is added.
    pub(crate) fn addition_of(&mut self, open: &mut Open) -> bool {
        const HOW: &[(&str, &str)] = &[
            ("slow", "slowly"),
            ("careful", "carefully"),
            ("cautious", "cautiously"),
            ("gradual", "gradually"),
            ("dropwise", "dropwise"),
            ("portionwise", "portionwise"),
        ];
        let how = |at| {
            let word = self.pieces.word(at);
            HOW.iter().find(|(how, _)| word.eq_ignore_ascii_case(how))
        };
        let mut at = self.at;
        while self.is_article(at) || how(at).is_some() || self.pieces.is(at, "very") {
            at += 1;
        }
        if !self.pieces.is(at, "addition") || !self.pieces.is(at + 1, "of") {
            return false;
        }
        let said: Vec<(usize, &str)> = (self.at..at)
            .filter_map(|at| how(at).map(|&(_, adverb)| (at, adverb)))
            .collect();
        for (place, adverb) in said {
            self.manner(open, adverb, self.pieces.range(place), place + 1);
        }
        self.at = at + 2;
        true
    }

    /// Words that say how and that a name does not go on with: `very slowly`, `drop by drop`, `all at once`.
    pub(crate) fn opens_manner(&self, at: usize) -> bool {
        let word = self.pieces.word(at);
        match word.len() {
            1 => {
                self.pieces.is(at + 1, "little")
                    && self.pieces.is(at + 2, "at")
                    && self.pieces.is(at + 3, "a")
            }
            3 if word.eq_ignore_ascii_case("all") => {
                self.pieces.is(at + 1, "at") && self.pieces.is_once(at + 2)
            }
            _ if words::is_one_of(word, &["very", "quite", "rather"]) => self.is_adverb(at + 1),
            _ => self.pieces.is(at + 1, "by") && self.pieces.is(at + 2, word),
        }
    }

    pub(crate) fn manner_phrase(&mut self, open: &mut Open) {
        let at = self.at;
        let word = self.pieces.word(at);
        let (how, last) = match word.to_ascii_lowercase().as_str() {
            "very" | "quite" | "rather" => (self.pieces.word(at + 1), at + 1),
            "all" => ("at once", at + 2),
            // `a little at a time`
            "a" => ("portionwise", at + 4),
            "drop" => ("dropwise", at + 2),
            _ => ("portionwise", at + 2),
        };
        self.settle(open);
        let range = self.pieces.range(at).start..self.pieces.range(last).end;
        self.manner(open, how, range, last + 1);
    }

    /// `do not exceed 5 °C`, `not exceeding 5 °C`, `not above 5 °C`: where the temperature stands.
    pub(crate) fn not_exceeding(&self, at: usize) -> Option<usize> {
        let denied = at + usize::from(self.pieces.is(at, "do"));
        let exceeds = words::is_one_of(
            self.pieces.word(denied + 1),
            &["exceed", "exceeding", "above", "over"],
        );
        let said = match self.pieces.get(denied + 2) {
            Some(Tok::Quantity { quantity, .. }) => {
                quantity.unit.dimension == Dimension::Temperature
            }
            _ => false,
        };
        let denies = words::is_one_of(self.pieces.word(denied), &["not", "never"]);
        (denies && exceeds && said).then_some(denied + 2)
    }

    /// A limit whose temperature comes next.
    pub(crate) fn below(&self, open: &mut Open, word: Range<usize>) {
        open.slots.push(Slot {
            prep: Some(Prep::Below),
            end: word.end,
            word,
            things: SmallVec::new(),
            filled: false,
        });
    }

    /// `to adjust the pH to 2`: where `pH` stands.
    pub(crate) fn adjusting(&self) -> Option<usize> {
        let at = self.at + 1;
        let at = at + usize::from(self.is_article(at));
        let adjusts = words::is_one_of(self.pieces.word(self.at), &["adjust", "bring", "set"]);
        (adjusts && self.pieces.is(at, "ph")).then_some(at)
    }

    /// `after the addition is complete, stir for 1 h`: when a step is done, where no number says it.
    pub(crate) fn leading_phrase(&mut self) -> Option<Modifier> {
        let first = self.pieces.range(self.at);
        if self.pieces.known(self.at).verb.is_some() {
            return None;
        }
        if !words::is_one_of(
            self.pieces.source.str(first.clone()),
            &["after", "when", "once", "upon", "following"],
        ) {
            return None;
        }
        let mut at = self.at + 1;
        let mut passive = false;
        while !self.pieces.word(at).is_empty() {
            let word = self.pieces.word(at);
            if passive && is_done(word) {
                return None;
            }
            passive |= is_passive(word);
            at += 1;
        }
        if !matches!(self.pieces.get(at), Some(Tok::Comma)) || at < self.at + 2 {
            return None;
        }
        let step = at + 1 + usize::from(self.pieces.is(at + 1, "then"));
        self.pieces.verb(step)?;
        let range = first.start..self.pieces.range(at - 1).end;
        self.at = step;
        Some(Modifier {
            kind: ModifierKind::Remark(self.pieces.source.words(range.clone())),
            span: self.pieces.span(range),
        })
    }

    /// `to destroy excess nitrite`: what a step is for asks for nothing more to be done.
    pub(crate) fn purpose(&mut self, open: &mut Open, word: &Range<usize>) -> bool {
        if !self.pieces.known(self.at).is(Use::Purpose)
            || self.pieces.key(self.at).is_some()
            || !self
                .pieces
                .source
                .str(word.clone())
                .eq_ignore_ascii_case("to")
        {
            return false;
        }
        let mut at = self.at + 1;
        loop {
            let ends = match self.pieces.get(at) {
                Some(Tok::Word) => {
                    let known = self.pieces.known(at);
                    let joins = self.pieces.is(at, "and") || self.pieces.is(at, "then");
                    let goes_on = matches!(
                        known.prep,
                        None | Some(Prep::In | Prep::From | Prep::With | Prep::On | Prep::To)
                    );
                    joins && self.begins_clause(at + 1) || !goes_on || self.is_adverb(at)
                }
                // How much of a thing is never said in passing.
                Some(Tok::Quantity { quantity, .. }) => match quantity.unit.dimension {
                    Dimension::Time | Dimension::Temperature | Dimension::Pressure => true,
                    _ => return false,
                },
                Some(Tok::Bare(..) | Tok::Bad(_) | Tok::Uncounted(_) | Tok::Ratio(_)) => {
                    return false;
                }
                _ => true,
            };
            if ends {
                break;
            }
            at += 1;
        }
        let range = word.start..self.pieces.range(at - 1).end;
        let text = self.pieces.source.words(range.clone());
        self.push(open, ModifierKind::Remark(text), range);
        self.at = at;
        true
    }

    /// `exothermic`, `hydrogen is evolved` behind a comma: where the remark ends. What has no word of a remark, what
    /// names a line of the plan, or nearly does, and what has a number, is none.
    pub(crate) fn remark_tail(&self, first: usize) -> Option<usize> {
        let known = self.pieces.known(first);
        let particle = matches!(known.particle, "" | "internal" | "temperature");
        if known.prep.is_some() || !particle {
            return None;
        }
        let (mut says, mut stop) = (false, first);
        loop {
            match self.pieces.get(stop) {
                Some(Tok::Word) => {
                    let known = self.pieces.known(stop);
                    says |= known.is(Use::Remark);
                    if matches!(known.prep, Some(Prep::Until | Prep::Via)) {
                        return None;
                    }
                }
                Some(Tok::Bracket) => {}
                Some(Tok::Comma | Tok::Semicolon | Tok::Stop) | None => break,
                Some(_) => return None,
            }
            stop += 1;
        }
        // `nutil it boils`, `sitr until it is clear`
        let slip = || {
            let word = self.pieces.word(first);
            let near = |other: &&str| strsim::osa_distance(word, other) == 1;
            known.is_nothing()
                && (words::MODIFIERS.iter().any(near) || words::is_misspelt_verb(word))
        };
        (says && !self.begins_clause(first) && !slip()).then_some(())?;
        let mut passive = false;
        for at in first..stop {
            let known = self.pieces.known(at);
            let joins = self.pieces.is(at, "and") || self.pieces.is(at, "then");
            if at > first && joins && self.begins_clause(at + 1) {
                return Some(at);
            }
            let word = self.pieces.word(at);
            match self.pieces.key(at) {
                Some(id) => {
                    let kind = self.pieces.keys.kind(id);
                    (kind == Some(KeyKind::ByProduct)).then_some(())?;
                }
                None if known.is(Use::Remark) => passive |= is_passive(word),
                // `water is added` is done by somebody.
                None if passive && is_done(word) => return None,
                None if word.len() > 2 && known.is_nothing() && self.pieces.keys.is_near(word) => {
                    return None;
                }
                None => {}
            }
        }
        Some(stop)
    }

    /// `water is added` behind a comma: what somebody does, and no step. Reported whole; where it ends.
    pub(crate) fn sentence_tail(&mut self, first: usize) -> Option<usize> {
        let (mut passive, mut done, mut at) = (false, false, first);
        if self.pieces.known(first).prep.is_some() {
            return None;
        }
        while !self.pieces.word(at).is_empty() {
            let word = self.pieces.word(at);
            done |= passive && is_done(word);
            passive |= self.pieces.known(at).is(Use::Remark) && is_passive(word);
            at += 1;
        }
        let ends = matches!(
            self.pieces.get(at),
            None | Some(Tok::Comma | Tok::Semicolon)
        );
        if !done || !ends {
            return None;
        }
        let range = self.pieces.range(first).start..self.pieces.range(at - 1).end;
        let message = not_read(self.pieces.source.str(range.clone()));
        let span = self.pieces.span(range);
        self.problems
            .push(Problem::new("unknown-key", span, message));
        Some(at)
    }

    /// Keeps words as a remark.
    pub(crate) fn remark(&mut self, open: &mut Open, stop: usize) {
        let start = self.pieces.range(self.at).start;
        let range = start..self.pieces.range(stop - 1).end;
        let text = self.pieces.source.words(range.clone());
        self.push(open, ModifierKind::Remark(text), range);
        self.at = stop;
    }
}

fn is_passive(word: &str) -> bool {
    words::is_one_of(word, &["is", "are", "was", "were", "be", "being", "been"])
}

/// `added`, `stirred`, `dried`: what a verb of the language was done to.
fn is_done(word: &str) -> bool {
    let stem = word.strip_suffix("ed");
    stem.is_some_and(|stem| verb_of_stem(stem).is_some())
}

/// The verb that `stirr`, `dri` and `settl` are of, as `stirring` and `dried` have them.
pub(crate) fn verb_of_stem(stem: &str) -> Option<Verb> {
    let verb = |word: &str| known(word).verb;
    let mut letters = stem.chars().rev();
    let doubled = matches!((letters.next(), letters.next()), (Some(a), Some(b)) if a == b);
    let single = stem.get(..stem.len().saturating_sub(1));
    verb(stem)
        .or_else(|| verb(&format!("{stem}e")))
        .or_else(|| verb(single.filter(|_| doubled)?))
        .or_else(|| verb(&format!("{}y", stem.strip_suffix('i')?)))
}
