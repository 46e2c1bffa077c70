//! A step: clauses of a verb, what it acts on, and with what, where and how long.
//!
//! The reader goes from left to right with one slot open: first the objects, then what each preposition
//! takes. What stands in a slot is collected as drafts and gets its meaning when the clause is complete.

use crate::ast::{
    Amount, Clause, CountKind, Modifier, ModifierKind, Portion, PortionKind, PressureKind, Referent, Step,
    TemperatureKind, TemperatureValue, Text, Thing, TimeKind, Verb,
};
use crate::entry::{amount_kind, strength_form, trailing_comma};
use crate::fold::Source;
use crate::keys::Keys;
use crate::lexer::{Pieces, Tok, lex};
use crate::number::{Bound, Dimension, Number, Quantity};
use crate::plan_text::{KeyKind, Problem};
use crate::problem::quoted;
use crate::quantities::{bare_number, is_portion, is_relative, list};
use crate::units::units_for;
use crate::words::{self, Prep, preposition};
use std::ops::Range;

/// Reads a step whose first word is a verb. None if it is not.
pub(crate) fn read_step(source: &Source<'_>, body: Range<usize>, keys: &Keys, problems: &mut Vec<Problem>) -> Option<Step> {
    let tokens = lex(source, body.clone(), keys);
    let pieces = Pieces { source, keys, tokens };
    let mut reader = StepReader { pieces, at: 0, body, problems, done: false };
    while reader.pieces.is(reader.at, "then") || reader.pieces.is(reader.at, "and") {
        reader.at += 1;
    }
    let mut clauses = Vec::new();
    while !reader.done {
        match reader.clause() {
            Some(clause) => clauses.push(clause),
            None => break,
        }
    }
    (!clauses.is_empty()).then_some(Step { clauses })
}

pub(crate) struct StepReader<'a, 'b> {
    pub(crate) pieces: Pieces<'a>,
    at: usize,
    body: Range<usize>,
    pub(crate) problems: &'b mut Vec<Problem>,
    done: bool,
}

/// A run of words that names a thing, and what was said of it.
pub(crate) struct Draft {
    /// Its pieces.
    pub(crate) run: Range<usize>,
    pub(crate) portions: Vec<Portion>,
    /// `a flow of`
    pub(crate) flowing: bool,
    /// The vessel in `liquid of flaskB`.
    pub(crate) of: Option<usize>,
    pub(crate) mixture: Option<Vec<(Text, Number)>>,
    pub(crate) kind: Option<KeyKind>,
    /// The piece after it: a portion there touches it.
    end: usize,
}

/// What a preposition opened; the first slot of a clause holds the objects.
struct Slot {
    prep: Option<Prep>,
    /// The preposition.
    word: Range<usize>,
    things: Vec<Draft>,
    /// It took a value, or what it took was reported.
    filled: bool,
    /// The end of its last piece.
    end: usize,
}

/// A clause as it is read.
struct Open {
    verb: Verb,
    slots: Vec<Slot>,
    modifiers: Vec<Modifier>,
    /// Portions that wait for the thing after them.
    pending: Vec<Portion>,
    flowing: bool,
    /// Things without a portion that a later portion may belong to, by slot and place in it.
    bare: Vec<(usize, usize)>,
    /// Whether any thing has a portion.
    portioned: bool,
    /// Whether a comma or `and` stands between here and the slot's last thing.
    parted: bool,
    /// The end of the clause's last piece.
    end: usize,
}

impl Open {
    fn slot(&mut self) -> Option<&mut Slot> {
        self.slots.last_mut()
    }

    fn prep(&self) -> Option<Prep> {
        self.slots.last().and_then(|slot| slot.prep)
    }

    /// Whether the slot has taken nothing yet.
    fn is_fresh(&self) -> bool {
        self.slots.last().is_some_and(|slot| slot.prep.is_some() && slot.things.is_empty() && !slot.filled)
    }
}

impl StepReader<'_, '_> {
    fn clause(&mut self) -> Option<Clause> {
        let (verb, next) = self.pieces.verb(self.at)?;
        let verb_at = self.pieces.range(self.at).start..self.pieces.range(next - 1).end;
        self.at = next;
        let mut open = Open {
            verb,
            slots: vec![Slot { prep: None, word: verb_at.clone(), things: Vec::new(), filled: false, end: verb_at.end }],
            modifiers: Vec::new(),
            pending: Vec::new(),
            flowing: false,
            bare: Vec::new(),
            portioned: false,
            parted: false,
            end: verb_at.end,
        };
        let mut text = None;
        if matches!(verb, Verb::Note | Verb::Expect | Verb::Check) {
            let rest = self.pieces.source.trim(verb_at.end..self.body.end);
            let rest = self.pieces.source.trim(
                rest.start + usize::from(matches!(self.pieces.source.byte(rest.start), b':' | b',') && !rest.is_empty())..rest.end,
            );
            text = (!rest.is_empty()).then(|| self.pieces.source.words(rest.clone()));
            open.end = rest.end.max(verb_at.end);
            self.done = true;
        } else {
            while self.at < self.pieces.tokens.len() && !self.done {
                let before = self.at;
                if self.piece(&mut open) {
                    break;
                }
                debug_assert!(self.at > before || self.done, "every piece moves on");
                if self.at == before {
                    self.at += 1;
                }
            }
            if self.at >= self.pieces.tokens.len() {
                self.done = true;
            }
        }
        self.settle(&mut open);
        Some(self.finish(open, verb_at, text))
    }

    /// Reads one piece or more. True at the end of the clause.
    fn piece(&mut self, open: &mut Open) -> bool {
        let at = self.at;
        let Some(tok) = self.pieces.tokens.get_mut(at) else { return true };
        let taken = match &mut tok.tok {
            Tok::Bad(problem) => Some(problem.take()),
            _ => None,
        };
        if let Some(problem) = taken {
            self.bad(open, problem);
            return false;
        }
        match self.pieces.get(at) {
            Some(Tok::Comma) => return self.comma(open),
            Some(Tok::Semicolon) if self.pieces.verb(at + 1).is_none() => {
                open.parted = true;
                self.settle(open);
                self.at += 1;
            }
            Some(Tok::Semicolon | Tok::Stop) => self.one_step(at),
            Some(Tok::Bracket) => self.bracket(open),
            Some(Tok::Quantity { times, quantity }) => {
                let (times, quantity) = (*times, *quantity);
                self.quantity(open, times, quantity);
            }
            Some(Tok::Uncounted(amount)) => {
                let amount = amount.clone();
                self.portion(open, 1, amount);
            }
            Some(&Tok::Count(kind, count)) => self.count(open, kind, count),
            Some(&Tok::Fraction(over, under)) => self.share(open, PortionKind::Fraction(over, under), at + 1),
            Some(Tok::Bare(..)) => self.bare(open),
            Some(Tok::Ratio(_)) => self.ratio(open),
            Some(Tok::Word) => return self.word(open),
            Some(Tok::Bad(_)) | None => self.at += 1,
        }
        open.end = open.end.max(self.pieces.range(self.at.saturating_sub(1)).end);
        false
    }

    fn comma(&mut self, open: &mut Open) -> bool {
        self.settle(open);
        open.parted = true;
        let comma = self.at;
        self.at += 1;
        if self.at >= self.pieces.tokens.len() {
            self.problems.push(trailing_comma(self.pieces.source, self.pieces.range(comma).start));
            return true;
        }
        if self.pieces.is(self.at, "if") {
            let range = self.pieces.range(self.at).start..self.body.end;
            self.push(open, ModifierKind::Remark(self.pieces.source.words(range.clone())), range);
            self.done = true;
            return true;
        }
        let mut next = self.at;
        if self.pieces.is(next, "then") {
            next += 1;
        }
        if let Some((verb, after)) = self.pieces.verb(next)
            && (next > self.at || !self.is_substance(verb, after))
        {
            self.at = next;
            return true;
        }
        false
    }

    /// `dry thf 20 mL` after a comma is a thing with its portion; `dry flask` is a clause.
    fn is_substance(&self, verb: Verb, mut at: usize) -> bool {
        if !matches!(verb, Verb::Dry | Verb::Warm | Verb::Cool) {
            return false;
        }
        let first = at;
        while !self.pieces.word(at).is_empty() && !self.is_stop(at) {
            at += 1;
        }
        at > first
            && match self.pieces.get(at) {
                Some(Tok::Quantity { quantity, .. }) => is_portion(quantity.unit.dimension),
                Some(Tok::Uncounted(_)) => true,
                _ => false,
            }
    }

    /// Reports what should stand on a line of its own, and leaves the rest of the line.
    fn one_step(&mut self, at: usize) {
        let separator = self.pieces.range(at);
        let next = self.pieces.range(at + 1).start.max(separator.end);
        let before = if at > 0 { self.pieces.range(at - 1).end } else { separator.start };
        let indent = self.pieces.source.skip_space(0, self.body.start);
        let indent = " ".repeat(indent.min(16));
        let span = self.pieces.span(separator.start..self.body.end);
        let mut problem = Problem::new("one-step-a-line", span, "One step a line: begin a new line here.");
        if next < self.body.end {
            let gap = self.pieces.span(before..next);
            problem = problem.mend("Begin a new line", gap, format!("\n{indent}"));
        }
        self.problems.push(problem);
        self.done = true;
    }

    fn push(&self, open: &mut Open, kind: ModifierKind, range: Range<usize>) {
        open.end = open.end.max(range.end);
        open.modifiers.push(Modifier { kind, span: self.pieces.span(range) });
    }

    /// Whether a name cannot go on with this word.
    fn is_stop(&self, at: usize) -> bool {
        let word = self.pieces.word(at);
        if word.is_empty() {
            return true;
        }
        preposition(word).is_some()
            || words::is_one_of(word, &["and", "then", "of", "overnight", "each"])
            || self.is_adverb(at)
    }

    fn is_adverb(&self, at: usize) -> bool {
        let word = self.pieces.word(at);
        if word.eq_ignore_ascii_case("hot") {
            // `assemble flask hot under argon`, but `hot water`.
            return self.pieces.word(at + 1).is_empty() || self.is_stop(at + 1);
        }
        words::is_adverb(word) && self.pieces.keys.find_exact(word).is_none()
    }

    fn is_article(&self, at: usize) -> bool {
        let word = self.pieces.word(at);
        if word.eq_ignore_ascii_case("the") || word.eq_ignore_ascii_case("an") {
            return true;
        }
        if !word.eq_ignore_ascii_case("a") {
            return false;
        }
        self.pieces.keys.find_exact(word).is_none()
            || match self.pieces.get(at + 1) {
                Some(Tok::Word) => !self.is_stop(at + 1),
                Some(Tok::Ratio(_)) => true,
                Some(Tok::Quantity { .. }) => !self.pieces.word(at + 2).is_empty() && !self.is_stop(at + 2),
                _ => false,
            }
    }

    /// The piece after articles, `of`, `from` and words like `solution of`.
    fn skip_noise(&self, mut at: usize) -> usize {
        loop {
            if self.is_article(at) || self.pieces.is(at, "of") || self.pieces.is(at, "portion") || self.pieces.is(at, "portions") {
                at += 1;
            } else if words::is_one_of(self.pieces.word(at), words::FORMS_OF) && self.pieces.is(at + 1, "of") {
                at += 2;
            } else {
                return at;
            }
        }
    }

    /// Whether the name of a thing begins here.
    fn begins_name(&self, at: usize) -> bool {
        match self.pieces.get(at) {
            Some(Tok::Word) => !self.is_stop(at),
            Some(Tok::Quantity { times: 1, quantity }) => {
                let dimension = quantity.unit.dimension;
                (strength_form(dimension).is_some() || dimension == Dimension::Length)
                    && !self.pieces.word(at + 1).is_empty()
                    && !self.is_stop(at + 1)
            }
            Some(Tok::Ratio(_)) => !self.pieces.word(at + 1).is_empty() && !self.is_stop(at + 1),
            _ => false,
        }
    }

    fn word(&mut self, open: &mut Open) -> bool {
        let at = self.at;
        let word = self.pieces.word(at);
        if let Some(prep) = preposition(word) {
            self.settle(open);
            self.preposition(open, prep);
            return false;
        }
        let ahead = at + 1;
        match word.to_ascii_lowercase().as_str() {
            "and" => {
                if self.pieces.verb(ahead).is_some() {
                    self.one_step(at);
                    return true;
                }
                self.settle(open);
                open.parted = true;
                self.at = ahead;
            }
            "then" => {
                if self.pieces.verb(ahead).is_some() {
                    self.one_step(at);
                    return true;
                }
                self.at = ahead;
            }
            "of" | "each" => self.at = ahead,
            "overnight" => {
                self.push(open, ModifierKind::Time(TimeKind::Overnight, None), self.pieces.range(at));
                self.fill(open);
                self.at = ahead;
            }
            "ph" if self.ph(open) => {}
            "found" if self.found(open) => {}
            "last" if open.verb == Verb::Repeat && self.last_steps(open) => {}
            "half" => self.share_word(open, PortionKind::Fraction(1, 2), false),
            "all" | "rest" | "remaining" => self.share_word(open, PortionKind::Rest, false),
            "third" => self.share_word(open, PortionKind::Fraction(1, 3), true),
            "quarter" => self.share_word(open, PortionKind::Fraction(1, 4), true),
            "fifth" => self.share_word(open, PortionKind::Fraction(1, 5), true),
            "tenth" => self.share_word(open, PortionKind::Fraction(1, 10), true),
            "flow" | "stream" | "blanket" if self.pieces.is(ahead, "of") => {
                open.flowing = true;
                self.at = ahead + 1;
            }
            _ if self.is_adverb(at) => {
                self.settle(open);
                let range = self.pieces.range(at);
                self.push(open, ModifierKind::Adverb(self.pieces.source.words(range.clone())), range);
                self.at = ahead;
            }
            _ if self.skip_noise(at) > at => self.at = self.skip_noise(at),
            _ => self.name(open),
        }
        open.end = open.end.max(self.pieces.range(self.at.saturating_sub(1)).end);
        false
    }

    /// The open slot needs nothing more.
    fn fill(&self, open: &mut Open) {
        if open.is_fresh()
            && let Some(slot) = open.slot()
        {
            slot.filled = true;
        }
    }

    fn preposition(&mut self, open: &mut Open, prep: Prep) {
        let range = self.pieces.range(self.at);
        self.at += 1;
        open.end = open.end.max(range.end);
        match prep {
            Prep::Until => {
                let stop = self.until_end();
                let start = self.pieces.range(self.at).start;
                let end = if stop > self.at { self.pieces.range(stop - 1).end } else { range.end };
                let text = (stop > self.at).then(|| self.pieces.source.words(start..end));
                if text.is_none() {
                    self.incomplete(range.clone());
                }
                self.push(open, ModifierKind::UntilText(text), range.start..end);
                self.at = stop;
                return;
            }
            Prep::As => {
                let start = self.at;
                while !self.pieces.word(self.at).is_empty() && preposition(self.pieces.word(self.at)).is_none() {
                    self.at += 1;
                }
                if self.at > start {
                    let words = self.pieces.range(start).start..self.pieces.range(self.at - 1).end;
                    let text = self.pieces.source.words(words.clone());
                    self.push(open, ModifierKind::As(text), range.start..words.end);
                    return;
                }
            }
            Prep::At if self.pieces.is_once(self.at) => {
                let range = range.start..self.pieces.range(self.at).end;
                self.push(open, ModifierKind::Adverb(self.pieces.source.words(range.clone())), range);
                self.at += 1;
                return;
            }
            _ => {}
        }
        open.parted = false;
        let end = range.end;
        open.slots.push(Slot { prep: Some(prep), word: range, things: Vec::new(), filled: false, end });
    }

    /// Where the text after `until` ends: at a comma before a verb, preposition, adverb, `if` or number.
    fn until_end(&self) -> usize {
        let mut at = self.at;
        while at < self.pieces.tokens.len() {
            let next = at + 1;
            let ends = match self.pieces.get(at) {
                Some(Tok::Comma) => match self.pieces.get(next) {
                    Some(Tok::Word) => {
                        let word = self.pieces.word(next);
                        preposition(word).is_some()
                            || word.eq_ignore_ascii_case("if")
                            || word.eq_ignore_ascii_case("overnight")
                            || word.eq_ignore_ascii_case("then")
                            || self.is_adverb(next)
                            || self.pieces.verb(next).is_some()
                    }
                    Some(Tok::Comma | Tok::Semicolon | Tok::Stop | Tok::Bracket) => false,
                    Some(_) | None => true,
                },
                Some(Tok::Semicolon | Tok::Stop) => self.pieces.verb(next).is_some(),
                _ => false,
            };
            if ends {
                return at;
            }
            at = next;
        }
        at
    }

    fn incomplete(&mut self, range: Range<usize>) {
        let word = quoted(self.pieces.source.str(range.clone()));
        let message = format!("Something is missing after {word}.");
        self.problems.push(Problem::new("incomplete", self.pieces.span(range), message));
    }

    /// `pH 7`
    fn ph(&mut self, open: &mut Open) -> bool {
        let Some(&Tok::Bare(number, _)) = self.pieces.get(self.at + 1) else { return false };
        let start = self.slot_start(open, self.at);
        let range = start..self.pieces.range(self.at + 1).end;
        self.push(open, ModifierKind::Ph(number), range);
        self.fill(open);
        self.at += 2;
        true
    }

    /// Where a value begins: at the preposition that it fills.
    fn slot_start(&self, open: &Open, at: usize) -> usize {
        match open.slots.last() {
            Some(slot) if open.is_fresh() => slot.word.start,
            _ => self.pieces.range(at).start,
        }
    }

    /// `found 0.78 M`
    fn found(&mut self, open: &mut Open) -> bool {
        let Some(Tok::Quantity { times: 1, quantity }) = self.pieces.get(self.at + 1) else { return false };
        if strength_form(quantity.unit.dimension).is_none() {
            return false;
        }
        let kind = ModifierKind::Found(*quantity);
        self.push(open, kind, self.pieces.range(self.at).start..self.pieces.range(self.at + 1).end);
        self.at += 2;
        true
    }

    /// `last step`, `last 2 steps`
    fn last_steps(&mut self, open: &mut Open) -> bool {
        let mut next = self.at + 1;
        let mut count = Some(1);
        if let Some(Tok::Bare(number, None)) = self.pieces.get(next) {
            count = u32::try_from(number.value).ok().filter(|count| *count > 0);
            next += 1;
        } else if let Some(found) = words::number_word(self.pieces.word(next)) {
            count = Some(found);
            next += 1;
        }
        let (true, Some(count)) = (self.pieces.is(next, "step") || self.pieces.is(next, "steps"), count) else { return false };
        let range = self.pieces.range(self.at).start..self.pieces.range(next).end;
        self.push(open, ModifierKind::LastSteps(count), range);
        self.at = next + 1;
        true
    }

    fn count(&mut self, open: &mut Open, kind: CountKind, count: u32) {
        let start = if open.prep() == Some(Prep::In) { self.slot_start(open, self.at) } else { self.pieces.range(self.at).start };
        self.push(open, ModifierKind::Count(kind, count), start..self.pieces.range(self.at).end);
        if open.prep() == Some(Prep::In) {
            self.fill(open);
        }
        self.at += 1;
    }

    /// What was meant as a value and has none: reported, and kept as words where a preposition waits for it.
    fn bad(&mut self, open: &mut Open, problem: Option<Box<Problem>>) {
        self.problems.extend(problem.map(|problem| *problem));
        self.words_of_value(open);
        self.at += 1;
    }

    fn words_of_value(&self, open: &mut Open) {
        let range = self.pieces.range(self.at);
        open.end = open.end.max(range.end);
        if !open.is_fresh() {
            return;
        }
        let Some(slot) = open.slot() else { return };
        slot.filled = true;
        let word = slot.word.clone();
        let thing = Thing {
            name: self.pieces.source.words(range.clone()),
            referent: Referent::Words,
            adjective: None,
            portions: Vec::new(),
        };
        let kind = ModifierKind::Other(self.pieces.source.words(word.clone()), vec![thing]);
        self.push(open, kind, word.start..range.end);
    }

    /// A number without a unit.
    fn bare(&mut self, open: &mut Open) {
        let range = self.pieces.range(self.at);
        let fit: &[Dimension] = match open.prep() {
            Some(Prep::For | Prep::Over) if open.is_fresh() => &[Dimension::Time],
            Some(Prep::At | Prep::To | Prep::From | Prep::Below | Prep::Above) if open.is_fresh() => {
                &[Dimension::Temperature, Dimension::Volume, Dimension::Pressure]
            }
            _ => &[Dimension::Volume, Dimension::Mass, Dimension::Amount, Dimension::Time],
        };
        self.problems.push(bare_number(self.pieces.source, range.clone(), fit));
        open.end = open.end.max(range.end);
        let value_follows = matches!(self.pieces.get(self.at + 1), Some(Tok::Quantity { .. }));
        if open.is_fresh()
            && !value_follows
            && let Some(slot) = open.slot()
        {
            slot.filled = true;
            let word = slot.word.clone();
            let kind = ModifierKind::Other(self.pieces.source.words(word.clone()), Vec::new());
            self.push(open, kind, word);
        }
        self.at += 1;
    }

    fn quantity(&mut self, open: &mut Open, times: u32, quantity: Quantity) {
        let dimension = quantity.unit.dimension;
        let at = self.at;
        if dimension == Dimension::Percent && (self.pieces.is(at + 1, "of") || self.pieces.is(at + 1, "the")) {
            if let Some(kind) = percent(&quantity.number) {
                return self.share(open, kind, at + 1);
            }
        }
        // `250 mL flask` names no portion of a flask, but `20 mL syringe` after `via` is its size.
        if let Some(kind) = amount_kind(dimension).filter(|_| is_portion(dimension)) {
            let amount = Amount { kind, quantity: Some(quantity), of: None, span: quantity.span };
            return self.portion(open, times, amount);
        }
        if self.begins_name(at) {
            return self.name(open);
        }
        self.value(open, quantity);
    }

    /// A quantity that is no portion: the slot's value, or a modifier by what it measures.
    fn value(&mut self, open: &mut Open, mut quantity: Quantity) {
        use Dimension::{AmountRate, MassRate, Pressure, Stirring, Temperature, Time, VolumeRate};
        let fresh = open.is_fresh();
        let prep = if fresh { open.prep() } else { None };
        let range = self.slot_start(open, self.at)..self.pieces.range(self.at).end;
        let own = self.pieces.range(self.at);
        let temperature = TemperatureValue::Quantity(quantity);
        let mut fills = true;
        let kind = match (prep, quantity.unit.dimension) {
            (None | Some(Prep::For), Time) => ModifierKind::Time(TimeKind::For, Some(quantity)),
            (Some(Prep::Over | Prep::In), Time) => ModifierKind::Time(TimeKind::Over, Some(quantity)),
            (None | Some(Prep::At), Temperature) => ModifierKind::Temperature(TemperatureKind::At, temperature),
            (Some(Prep::To), Temperature) => ModifierKind::Temperature(TemperatureKind::To, temperature),
            (Some(Prep::From), Temperature) => ModifierKind::Temperature(TemperatureKind::From, temperature),
            (Some(Prep::Below), Temperature) => ModifierKind::Temperature(TemperatureKind::Below, temperature),
            (Some(Prep::Above), Temperature) => ModifierKind::Temperature(TemperatureKind::Above, temperature),
            (None | Some(Prep::At), Pressure) => ModifierKind::Pressure(PressureKind::At, quantity),
            (Some(Prep::To), Pressure) => ModifierKind::Pressure(PressureKind::To, quantity),
            (Some(Prep::Below), Pressure) => {
                quantity.bound = Bound::AtMost;
                ModifierKind::Pressure(PressureKind::At, quantity)
            }
            (Some(Prep::Above), Pressure) => {
                quantity.bound = Bound::AtLeast;
                ModifierKind::Pressure(PressureKind::At, quantity)
            }
            // `under 1 bar of hydrogen`: the gas is still to come.
            (Some(Prep::Under | Prep::With), Pressure) => {
                fills = false;
                ModifierKind::Pressure(PressureKind::At, quantity)
            }
            (None | Some(Prep::At), VolumeRate | MassRate | AmountRate) => ModifierKind::Rate(quantity),
            (None | Some(Prep::At), Stirring) => ModifierKind::Stirring(quantity),
            (Some(Prep::To | Prep::At), dimension) if strength_form(dimension).is_some() => ModifierKind::Until(quantity),
            (Some(Prep::Other), _) => {
                self.words_of_value(open);
                self.at += 1;
                return;
            }
            _ => {
                self.does_not_fit(open, prep);
                return;
            }
        };
        self.push(open, kind, if fills { range } else { own });
        if fills {
            self.fill(open);
        }
        self.at += 1;
    }

    fn does_not_fit(&mut self, open: &mut Open, prep: Option<Prep>) {
        let range = self.pieces.range(self.at);
        let words = quoted(self.pieces.source.str(range.clone()));
        let fit: &[Dimension] = match prep {
            Some(Prep::For | Prep::Over) => &[Dimension::Time],
            Some(Prep::At | Prep::To | Prep::From | Prep::Below | Prep::Above) => {
                &[Dimension::Temperature, Dimension::Pressure, Dimension::VolumeRate]
            }
            _ => &[Dimension::Volume, Dimension::Mass, Dimension::Time, Dimension::Temperature],
        };
        let units: Vec<&str> = fit.iter().flat_map(|&dimension| units_for(dimension).into_iter().take(2)).collect();
        let message = format!("{words} does not fit here; units that do are {}.", list(&units));
        self.problems.push(Problem::new("unit-does-not-fit", self.pieces.span(range), message));
        self.words_of_value(open);
        self.at += 1;
    }

    /// `half`, `rest` and their like before a thing; the ordinals only with `of`.
    fn share_word(&mut self, open: &mut Open, kind: PortionKind, needs_of: bool) {
        if needs_of && !self.pieces.is(self.at + 1, "of") {
            return self.name(open);
        }
        self.share(open, kind, self.at + 1);
    }

    fn share(&mut self, open: &mut Open, kind: PortionKind, next: usize) {
        let range = self.pieces.range(self.at);
        let portion = Portion { kind, span: self.pieces.span(range.clone()) };
        let after = self.skip_noise(next);
        if self.begins_name(after) {
            open.pending.push(portion);
            self.at = after;
        } else {
            self.of_what(open, range);
            self.at = next;
        }
    }

    fn of_what(&mut self, open: &mut Open, range: Range<usize>) {
        let words = quoted(self.pieces.source.str(range.clone()));
        let message = format!("{words} of what? Name the thing that it is a portion of.");
        self.problems.push(Problem::new("portion-of-what", self.pieces.span(range.clone()), message));
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
    fn portion(&mut self, open: &mut Open, times: u32, mut amount: Amount) {
        let at = self.at;
        let mut range = self.pieces.range(at);
        let mut next = at + 1;
        let relative = amount.quantity.is_some_and(|quantity| is_relative(quantity.unit.dimension));
        let touched = self.touched(open, at);
        let by_scale = amount.quantity.is_some_and(|q| matches!(q.unit.dimension, Dimension::Equivalents | Dimension::MolPercent));
        if (relative || by_scale && touched.is_some_and(|(_, _, portions)| portions == 0)) && self.pieces.is(next, "of") {
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
        let portion = Portion { kind: PortionKind::Amount { times, amount }, span: self.pieces.span(range.clone()) };
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
        if self.pieces.is(after, "from") && self.begins_name(self.skip_noise(after + 1)) && touched.is_none() {
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
            && matches!(open.prep(), Some(Prep::To | Prep::From | Prep::Below | Prep::Above))
            && let PortionKind::Amount { amount: Amount { quantity: Some(quantity), .. }, .. } = portion.kind
        {
            let start = self.slot_start(open, at);
            self.push(open, ModifierKind::Until(quantity), start..range.end);
            return self.fill(open);
        }
        if !fresh
            && let Some((slot, thing)) = open.bare.pop()
        {
            return self.attach(open, slot, thing, portion, range.end);
        }
        if !fresh && open.portioned {
            let words = quoted(self.pieces.source.str(range.clone()));
            let message = format!("{words} is a second amount for one thing: put both in brackets after it, or delete one.");
            self.problems.push(Problem::new("second-portion", self.pieces.span(range), message));
        } else {
            self.of_what(open, range);
        }
    }

    /// The last thing of the open slot, if it touches a piece: its slot, its place there and how many portions it has.
    fn touched(&self, open: &Open, at: usize) -> Option<(usize, usize, usize)> {
        let slot = open.slots.len().checked_sub(1)?;
        let things = &open.slots.get(slot)?.things;
        let draft = things.last().filter(|draft| draft.end == at)?;
        Some((slot, things.len() - 1, draft.portions.len()))
    }

    /// A portion that touches a thing; tools and the vessels that something goes to take none.
    fn give(&mut self, open: &mut Open, slot: usize, thing: usize, portion: Portion, range: Range<usize>) {
        let Some(found) = open.slots.get(slot) else { return };
        let kind = found.things.get(thing).and_then(|draft| draft.kind);
        let takes_none = match (found.prep, kind) {
            (Some(Prep::Via), _) | (_, Some(KeyKind::Tool)) => true,
            (Some(Prep::To | Prep::In | Prep::On), Some(KeyKind::Vessel | KeyKind::Holder)) => true,
            _ => false,
        };
        if takes_none {
            return self.of_what(open, range);
        }
        if open.bare.last() == Some(&(slot, thing)) {
            open.bare.pop();
        }
        self.attach(open, slot, thing, portion, range.end);
    }

    fn attach(&self, open: &mut Open, slot: usize, thing: usize, portion: Portion, end: usize) {
        open.portioned = true;
        open.end = open.end.max(end);
        let Some(slot) = open.slots.get_mut(slot) else { return };
        slot.end = slot.end.max(end);
        if let Some(draft) = slot.things.get_mut(thing) {
            draft.portions.push(portion);
        }
    }

    /// `20 mL each`
    fn each(&mut self, open: &mut Open, portion: Portion, range: Range<usize>) {
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
    fn settle(&mut self, open: &mut Open) {
        open.flowing = false;
        for portion in std::mem::take(&mut open.pending) {
            let message = "A portion of what? Name the thing after it.";
            self.problems.push(Problem::new("portion-of-what", portion.span, message));
        }
    }

    /// `(ice bath)`; `(20 mL)`, `(2.30 mL, 5.75 mmol)` and `(4:1)` after a thing.
    fn bracket(&mut self, open: &mut Open) {
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
            && let Some((numbers, stop)) = crate::quantities::scan_ratio(self.pieces.source, inside.start, inside.end)
            && stop == inside.end
            && let Some(draft) = open.slots.get_mut(slot).and_then(|slot| slot.things.get_mut(thing))
        {
            let names = self.pieces.range(draft.run.start).start..self.pieces.range(draft.run.end - 1).end;
            if let Some(parts) = crate::entry::split_mixture(self.pieces.source, names, &numbers) {
                draft.mixture = Some(parts);
                draft.end = self.at + 1;
                self.at += 1;
                return;
            }
        }
        self.push(open, ModifierKind::Remark(self.pieces.source.words(range.clone())), range);
        self.at += 1;
    }

    fn bracketed(&self, inside: &Range<usize>) -> Option<Vec<Portion>> {
        let source = self.pieces.source;
        let mut portions = Vec::new();
        let mut ignored = Vec::new();
        for field in crate::entry::split_fields(source, inside, &mut ignored) {
            let (times, at) = match crate::quantities::scan_times(source, field.start, field.end) {
                Some((times, at)) if times > 0 => (times, at),
                _ => (1, field.start),
            };
            let Some(crate::quantities::Scan::Quantity(quantity)) = crate::quantities::scan_whole(source, at..field.end) else {
                return None;
            };
            let kind = amount_kind(quantity.unit.dimension)?;
            let amount = Amount { kind, quantity: Some(quantity), of: None, span: quantity.span };
            portions.push(Portion { kind: PortionKind::Amount { times, amount }, span: source.span(field) });
        }
        (!portions.is_empty()).then_some(portions)
    }

    /// `4:1 mixture of pentane and ethyl acetate`, `4:1 hexanes/ethyl acetate`
    fn ratio(&mut self, open: &mut Open) {
        let at = self.at;
        let Some(Tok::Ratio(numbers)) = self.pieces.get(at) else { return };
        let numbers = numbers.clone();
        let listed = words::is_one_of(self.pieces.word(at + 1), words::FORMS_OF) && self.pieces.is(at + 2, "of");
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
            let joins = matches!(self.pieces.get(next), Some(Tok::Comma)) || self.pieces.is(next, "and");
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
                if let Some(parts) = crate::entry::split_mixture(self.pieces.source, names, &numbers) {
                    self.at = next;
                    return self.add(open, start..next, Some(parts));
                }
            }
        }
        let range = self.pieces.range(at);
        let message = format!("{} is a ratio: write it after the things that it mixes, as in `hexanes/ethyl acetate 4:1`.", quoted(self.pieces.source.str(range.clone())));
        self.problems.push(Problem::new("ratio-of-what", self.pieces.span(range), message));
        self.words_of_value(open);
        self.at += 1;
    }

    /// A run of words that names a thing.
    fn name(&mut self, open: &mut Open) {
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
                _ if via => false,
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
            key = if plain && self.is_known(next) { Some(next) } else { None };
            plain &= words::is_one_of(word, words::ADJECTIVES) || self.is_known(next);
            next += 1;
        }
        if slashed
            && let Some(Tok::Ratio(numbers)) = self.pieces.get(next)
        {
            let names = self.pieces.range(start).start..self.pieces.range(next - 1).end;
            mixture = crate::entry::split_mixture(self.pieces.source, names, numbers);
            let gradient = self.pieces.is(next + 1, "to").then(|| self.pieces.get(next + 2)).flatten();
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

    fn is_known(&self, at: usize) -> bool {
        self.pieces.key(at).is_some() || words::standing(self.pieces.word(at)).is_some()
    }

    /// Puts a named thing where it belongs: in the open slot, or among the objects if the slot is full.
    fn add(&mut self, open: &mut Open, run: Range<usize>, mixture: Option<Vec<(Text, Number)>>) {
        let last = run.end.saturating_sub(1);
        let range = self.pieces.range(run.start).start..self.pieces.range(last).end;
        let single_key = self.pieces.key(last).filter(|_| run.len() == 1 || self.pieces.is_adjective(run.start));
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
        if words::standing(self.pieces.word(last)).is_some() && self.pieces.is(self.at, "of") {
            let mut of = self.at + 1;
            while self.is_article(of) {
                of += 1;
            }
            if !self.pieces.word(of).is_empty() && !self.is_stop(of) {
                draft.of = Some(of);
                self.at = of + 1;
                draft.end = self.at;
            }
        }
        let end = self.pieces.range(self.at - 1).end;
        let equipment = matches!(kind, Some(KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool));
        let mut slot = open.slots.len().saturating_sub(1);
        if let Some(found) = open.slots.get(slot) {
            let goes_on = match found.prep {
                None => true,
                Some(Prep::Via | Prep::Under | Prep::At | Prep::For | Prep::Below | Prep::Above) => {
                    found.things.is_empty() && !found.filled
                }
                Some(Prep::To | Prep::In) => {
                    let holds = found.things.first().is_some_and(|first| {
                        matches!(first.kind, Some(KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool))
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
                self.problems.push(Problem::new("object-after-modifier", self.pieces.span(range.clone()), message));
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
        open.parted = false;
    }

    /// Words that are a value and no thing: `rt`, `reflux`, `dryness`, `ice bath`, `bath 95 °C`.
    fn value_word(&mut self, open: &mut Open, run: &Range<usize>, range: &Range<usize>) -> bool {
        let last = run.end - 1;
        let text = self.pieces.source.str(range.clone()).to_ascii_lowercase();
        let fresh = open.is_fresh();
        let start = self.slot_start(open, run.start);
        let whole = start..range.end;
        let span = self.pieces.span(range.clone());
        if self.pieces.is(last, "bath")
            && let Some(Tok::Quantity { times: 1, quantity }) = self.pieces.get(self.at)
            && quantity.unit.dimension == Dimension::Temperature
        {
            let kind = ModifierKind::Temperature(TemperatureKind::Bath, TemperatureValue::Quantity(*quantity));
            self.push(open, kind, start..self.pieces.range(self.at).end);
            self.fill(open);
            self.at += 1;
            return true;
        }
        if fresh && matches!(open.prep(), Some(Prep::To | Prep::At | Prep::From)) {
            let kind = match open.prep() {
                Some(Prep::To) => TemperatureKind::To,
                Some(Prep::From) => TemperatureKind::From,
                _ => TemperatureKind::At,
            };
            let value = match text.as_str() {
                "rt" | "r.t" | "room temperature" | "ambient temperature" => Some(TemperatureValue::Room(span)),
                "reflux" | "gentle reflux" | "vigorous reflux" => Some(TemperatureValue::Reflux(span)),
                _ => None,
            };
            let kind = match (value, text.as_str()) {
                (Some(value), _) => ModifierKind::Temperature(kind, value),
                (None, "dryness" | "constant mass" | "constant weight" | "constant volume") => {
                    ModifierKind::End(self.pieces.source.words(range.clone()))
                }
                _ => return false,
            };
            self.push(open, kind, whole);
            self.fill(open);
            return true;
        }
        // `cool to 0 °C, ice bath`: a place, wherever it stands but in a slot that it fills itself.
        if open.pending.is_empty() && !fresh && words::is_place(self.pieces.word(last)) && !(open.parted && words::is_gas(&text)) {
            let thing = Thing {
                name: self.pieces.source.words(range.clone()),
                referent: Referent::Place,
                adjective: None,
                portions: Vec::new(),
            };
            self.push(open, ModifierKind::Place(thing), range.clone());
            return true;
        }
        if !fresh && matches!(text.as_str(), "rt" | "room temperature") {
            self.push(open, ModifierKind::Temperature(TemperatureKind::At, TemperatureValue::Room(span)), range.clone());
            return true;
        }
        false
    }

    /// Gives every slot its meaning.
    fn finish(&mut self, mut open: Open, verb_at: Range<usize>, text: Option<Text>) -> Clause {
        let mut objects = Vec::new();
        let mut modifiers = std::mem::take(&mut open.modifiers);
        let dries = open.slots.iter().any(|slot| slot.prep == Some(Prep::Over) && !slot.things.is_empty());
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
                    modifiers.push(Modifier { kind, span: self.pieces.span(slot.word) });
                }
                continue;
            }
            let span = self.pieces.span(slot.word.start..slot.end);
            let mut things = Vec::with_capacity(slot.things.len());
            for draft in slot.things {
                things.extend(self.resolve(draft, Some(prep), open.verb));
            }
            if prep == Prep::In {
                let (places, liquids): (Vec<_>, Vec<_>) = things.into_iter().partition(|thing| self.is_place(thing));
                modifiers.extend(places.into_iter().map(|thing| Modifier { kind: ModifierKind::Place(thing), span }));
                if !liquids.is_empty() {
                    modifiers.push(Modifier { kind: ModifierKind::DissolvedIn(liquids), span });
                }
                continue;
            }
            let word = self.pieces.source.words(slot.word);
            modifiers.push(Modifier { kind: thing_kind(prep, word, things), span });
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
        clause.senses = crate::resolve::senses(&clause, self.pieces.keys, dries);
        clause
    }

    fn is_place(&self, thing: &Thing) -> bool {
        match thing.referent {
            Referent::Key(id) => {
                matches!(self.pieces.keys.kind(id), Some(KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool))
            }
            Referent::Place => true,
            _ => false,
        }
    }
}

/// `50 %` as a share.
fn percent(number: &Number) -> Option<PortionKind> {
    let value = number.value.normalize();
    let under = 100u32.checked_mul(10u32.checked_pow(value.scale())?)?;
    let over = u32::try_from(value.mantissa()).ok()?;
    Some(PortionKind::Fraction(over, under))
}

/// A preposition with nothing after it.
fn empty_kind(prep: Option<Prep>, word: Text) -> ModifierKind {
    match prep {
        Some(Prep::In) => ModifierKind::DissolvedIn(Vec::new()),
        Some(prep) => thing_kind(prep, word, Vec::new()),
        None => ModifierKind::Other(word, Vec::new()),
    }
}

fn thing_kind(prep: Prep, word: Text, things: Vec<Thing>) -> ModifierKind {
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
fn charge(clause: &mut Clause, keys: &Keys) {
    let holds = |thing: &Thing| match thing.referent {
        Referent::Key(id) => matches!(keys.kind(id), Some(KeyKind::Vessel | KeyKind::Holder)),
        _ => false,
    };
    if clause.verb != Verb::Charge || clause.objects.is_empty() || !clause.objects.iter().all(holds) {
        return;
    }
    let with = clause.modifiers.iter_mut().find(|modifier| matches!(&modifier.kind, ModifierKind::With(things) if !things.is_empty()));
    if let Some(modifier) = with
        && let ModifierKind::With(things) = std::mem::replace(&mut modifier.kind, ModifierKind::To(Vec::new()))
    {
        modifier.kind = ModifierKind::To(std::mem::replace(&mut clause.objects, things));
        clause.verb = Verb::Add;
    }
}
