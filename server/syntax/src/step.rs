//! A step: clauses of a verb, what it acts on, and with what, where and how long.
//!
//! The reader goes from left to right with one slot open: first the objects, then what each preposition
//! takes. What stands in a slot is collected as drafts and gets its meaning when the clause is complete.

use crate::ast::{
    Clause, Modifier, ModifierKind, Portion, PortionKind, Step, TemperatureKind, TemperatureValue,
    Text, TimeKind, Verb,
};
use crate::entry::trailing_comma;
use crate::fold::Source;
use crate::keys::Keys;
use crate::lexer::{Pieces, Tok, Token};
use crate::number::{Dimension, Number};
use crate::plan_text::{KeyKind, Problem};
use crate::quantities::is_portion;
use crate::strength::strength_form;
use crate::vocabulary::Use;
use crate::words::{self, Prep};
use smallvec::SmallVec;
use std::ops::Range;

/// Reads a step whose first word is a verb. None if it is not.
pub(crate) fn read_step(
    source: &Source<'_>,
    body: Range<usize>,
    keys: &Keys,
    problems: &mut Vec<Problem>,
    scratch: &mut Scratch,
) -> Option<Step> {
    let pieces = Pieces::new(
        source,
        body.clone(),
        keys,
        std::mem::take(&mut scratch.tokens),
    );
    let before_reading = problems.len();
    let mut reader = StepReader {
        pieces,
        at: 0,
        body,
        problems,
        scratch,
        lead: 0..0,
        done: false,
    };
    reader.skip_order();
    reader.lead = reader.lead();
    let mut before: Vec<Modifier> = reader.leading_phrase().into_iter().collect();
    before.extend(reader.leading_adverbs());
    // Most steps are of one clause.
    let mut clauses: Vec<Clause> = Vec::with_capacity(1);
    while !reader.done {
        match reader.clause() {
            Some(clause) => clauses.push(clause),
            None => break,
        }
    }
    reader.weighed_in(&mut clauses);
    if let Some(first) = clauses.first_mut() {
        // `weigh salt, add to flask` adds what it weighed; a bare `add` is still being written.
        let said_nothing = reader.problems.len() == before_reading;
        if first.verb == Verb::Add
            && first.objects.is_empty()
            && !first.modifiers.is_empty()
            && said_nothing
        {
            let message = "What is added? Name it after the verb, as in `add base dropwise`.";
            reader
                .problems
                .push(Problem::new("missing-object", first.verb_span, message));
        }
        if !before.is_empty() {
            first.modifiers.splice(0..0, before);
            first.modifiers.sort_by_key(|modifier| modifier.span.start);
        }
    }
    let StepReader {
        mut pieces,
        scratch,
        ..
    } = reader;
    pieces.tokens.clear();
    scratch.tokens = pieces.tokens;
    (!clauses.is_empty()).then_some(Step { clauses })
}

/// Vectors that every step needs, kept from one to the next.
#[derive(Default)]
pub(crate) struct Scratch {
    tokens: Vec<Token>,
    slots: Vec<Slot>,
    modifiers: Vec<Modifier>,
    pending: Vec<Portion>,
    bare: Vec<(usize, usize)>,
}

impl Scratch {
    /// Keeps the vectors of a clause that is read.
    pub(crate) fn keep(&mut self, open: Open) {
        let Open {
            mut slots,
            mut modifiers,
            mut pending,
            mut bare,
            ..
        } = open;
        slots.clear();
        modifiers.clear();
        pending.clear();
        bare.clear();
        (self.slots, self.modifiers) = (slots, modifiers);
        (self.pending, self.bare) = (pending, bare);
    }
}

pub(crate) struct StepReader<'a, 'b> {
    pub(crate) pieces: Pieces<'a>,
    pub(crate) at: usize,
    pub(crate) body: Range<usize>,
    pub(crate) problems: &'b mut Vec<Problem>,
    pub(crate) scratch: &'b mut Scratch,
    /// What stands in front of the first verb and belongs to its clause.
    pub(crate) lead: Range<usize>,
    pub(crate) done: bool,
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
    pub(crate) end: usize,
}

/// What a preposition opened; the first slot of a clause holds the objects.
pub(crate) struct Slot {
    pub(crate) prep: Option<Prep>,
    /// The preposition.
    pub(crate) word: Range<usize>,
    pub(crate) things: SmallVec<[Draft; 1]>,
    /// It took a value, or what it took was reported.
    pub(crate) filled: bool,
    /// The end of its last piece.
    pub(crate) end: usize,
}

/// What a clause that begins with `allow` or `let` is about, in pieces.
pub(crate) struct Permitted {
    verb: Verb,
    verb_at: usize,
    /// The piece after the verb.
    next: usize,
    vessel: Option<usize>,
}

/// A clause as it is read.
pub(crate) struct Open {
    pub(crate) verb: Verb,
    pub(crate) slots: Vec<Slot>,
    pub(crate) modifiers: Vec<Modifier>,
    /// Portions that wait for the thing after them.
    pub(crate) pending: Vec<Portion>,
    pub(crate) flowing: bool,
    /// Things without a portion that a later portion may belong to, by slot and place in it.
    pub(crate) bare: Vec<(usize, usize)>,
    /// Whether any thing has a portion.
    pub(crate) portioned: bool,
    /// Whether a comma or `and` stands between here and the slot's last thing.
    pub(crate) parted: bool,
    /// What comes next goes on behind `followed by`, wherever the preposition before it stands.
    pub(crate) follows: bool,
    /// The end of the clause's last piece.
    pub(crate) end: usize,
}

impl Open {
    pub(crate) fn slot(&mut self) -> Option<&mut Slot> {
        self.slots.last_mut()
    }

    pub(crate) fn prep(&self) -> Option<Prep> {
        self.slots.last().and_then(|slot| slot.prep)
    }

    /// Whether the slot has taken nothing yet.
    pub(crate) fn is_fresh(&self) -> bool {
        self.slots
            .last()
            .is_some_and(|slot| slot.prep.is_some() && slot.things.is_empty() && !slot.filled)
    }
}

impl StepReader<'_, '_> {
    /// `weigh salt and add to flask` adds the salt, as `weigh salt into flask` does.
    fn weighed_in(&self, clauses: &mut Vec<Clause>) {
        let [first, second, ..] = clauses.as_mut_slice() else {
            return;
        };
        let verb = match second.verb {
            Verb::Add | Verb::Charge | Verb::Transfer => Verb::Add,
            Verb::Dissolve | Verb::Suspend => second.verb,
            _ => return,
        };
        let taken = first
            .objects
            .iter()
            .any(|thing| self.is_from_a_bottle(thing));
        if first.verb != Verb::Weigh || !taken || !second.objects.is_empty() {
            return;
        }
        first.verb = verb;
        first.span.end = second.span.end;
        first.modifiers.append(&mut second.modifiers);
        clauses.remove(1);
    }

    /// `then`, `next,` and `now` in front of a step.
    fn skip_order(&mut self) {
        let order = |at| {
            words::is_one_of(self.pieces.word(at), words::NEXT) && self.pieces.key(at).is_none()
        };
        let mut at = self.at;
        while order(at) {
            at += 1;
            if matches!(self.pieces.get(at), Some(Tok::Comma)) {
                at += 1;
            }
        }
        self.at = at;
    }

    /// `slowly` in `slowly add base`: adverbs before the verb, if a verb comes after them.
    fn leading_adverbs(&mut self) -> Vec<Modifier> {
        let adverb = |at| self.is_adverb(at) && self.pieces.verb(at).is_none();
        // `very slowly add base`
        let phrase = self.pieces.known(self.at).is(Use::Phrase);
        let start = self.at + usize::from(phrase && self.pieces.is(self.at, "very"));
        if !adverb(start) {
            return Vec::new();
        }
        let mut end = start;
        while adverb(end) {
            end += 1;
        }
        if self.pieces.verb(end).is_none() {
            return Vec::new();
        }
        let adverbs = (start..end).map(|at| {
            let range = self.pieces.range(at);
            Modifier {
                kind: ModifierKind::Adverb(self.pieces.source.words(range.clone())),
                span: self.pieces.span(range),
            }
        });
        let adverbs = adverbs.collect();
        self.at = end;
        adverbs
    }

    pub(crate) fn clause(&mut self) -> Option<Clause> {
        let first = self.at;
        let lead = std::mem::take(&mut self.lead);
        let plain = self.pieces.verb(first).or_else(|| self.gerund(first));
        let (verb, next, permitted) = match plain {
            Some((verb, next)) => (verb, next, None),
            None => self
                .permitted(first)
                .map(|found| (found.verb, found.next, Some(found)))?,
        };
        let verb_from = permitted.as_ref().map_or(first, |found| found.verb_at);
        let mut verb_at = self.pieces.range(verb_from).start..self.pieces.range(next - 1).end;
        let colon = verb_at.end - 1;
        if self.pieces.source.byte(colon) == b':' {
            verb_at.end = colon;
            let span = self.pieces.span(colon..colon + 1);
            let problem = Problem::new("no-colon", span, "No colon follows a verb.");
            self.problems
                .push(problem.mend("Delete the colon", span, ""));
        }
        self.at = next;
        let mut open = Open {
            verb,
            slots: std::mem::take(&mut self.scratch.slots),
            modifiers: std::mem::take(&mut self.scratch.modifiers),
            pending: std::mem::take(&mut self.scratch.pending),
            flowing: false,
            bare: std::mem::take(&mut self.scratch.bare),
            portioned: false,
            parted: false,
            follows: false,
            end: verb_at.end,
        };
        open.slots.push(Slot {
            prep: None,
            word: verb_at.clone(),
            things: SmallVec::new(),
            filled: false,
            end: verb_at.end,
        });
        if let Some(vessel) = permitted.and_then(|found| found.vessel) {
            self.at = vessel + 1;
            self.add(&mut open, vessel..vessel + 1, None);
            self.at = next;
        }
        if !lead.is_empty() {
            self.front(&mut open, &lead, verb_at.clone());
            self.at = next;
        }
        let mut text = None;
        if matches!(verb, Verb::Note | Verb::Expect | Verb::Check) {
            let rest = self.pieces.source.trim(verb_at.end..self.body.end);
            let rest = self.pieces.source.trim(
                rest.start
                    + usize::from(
                        matches!(self.pieces.source.byte(rest.start), b':' | b',')
                            && !rest.is_empty(),
                    )..rest.end,
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
        let mut clause = self.finish(open, verb_at, text);
        let first = if lead.is_empty() { first } else { lead.start };
        clause.span.start = self.pieces.span(self.pieces.range(first)).start;
        Some(clause)
    }

    /// `allow the reaction mixture to warm`, `let flask stir`: what is done is named behind what it happens to.
    pub(crate) fn permitted(&self, at: usize) -> Option<Permitted> {
        const MOST_WORDS: usize = 4;
        let let_it = self.pieces.is(at, "let");
        if !let_it && !self.pieces.is(at, "allow") {
            return None;
        }
        let mut start = at + 1;
        while self.is_article(start) {
            start += 1;
        }
        let ends = |at: usize| self.is_stop(at) || self.pieces.verb(at).is_some();
        let end = (start..start + MOST_WORDS).find(|&at| ends(at))?;
        let words = self.pieces.range(start).start..self.pieces.range(end.checked_sub(1)?).end;
        let verb_at = match self.pieces.is(end, "to") {
            true => end + 1,
            false if let_it => end,
            false => return None,
        };
        let (verb, next) = match self.pieces.verb(verb_at) {
            Some(found) => found,
            None if words::is_one_of(self.pieces.word(verb_at), &["stand", "sit", "rest"]) => {
                (Verb::Wait, verb_at + 1)
            }
            None => return None,
        };
        let key = self.pieces.key(start).filter(|_| end == start + 1);
        let vessel = match key {
            // `let the ether evaporate`
            Some(_) if verb == Verb::Concentrate => Some(start),
            Some(id) => match self.pieces.keys.kind(id)? {
                KeyKind::Vessel | KeyKind::Holder => Some(start),
                _ => return None,
            },
            None if end == start || verb == Verb::Concentrate => None,
            None if words::is_mixture(self.pieces.source.str(words)) => None,
            None => return None,
        };
        let happens = matches!(
            verb,
            Verb::Warm
                | Verb::Cool
                | Verb::Stir
                | Verb::Settle
                | Verb::Reflux
                | Verb::Wait
                | Verb::Drain
                | Verb::AirDry
                | Verb::Crystallise
                | Verb::Concentrate
        );
        happens.then_some(Permitted {
            verb,
            verb_at,
            next,
            vessel,
        })
    }

    pub(crate) fn begins_clause(&self, at: usize) -> bool {
        self.pieces.verb(at).is_some() || self.permitted(at).is_some()
    }

    /// `dry flask, pipette at 125 °C`: a tool, where nothing follows that would be taken up with it.
    fn is_pipette(&self, at: usize) -> bool {
        self.pieces.is(at, "pipette") && self.is_stop(at + 1)
    }

    /// Whether a verb after `and` may as well describe a thing: `and dry ether`, but `and dry over MgSO4`.
    fn may_be_thing(&self, at: usize) -> bool {
        // `assemble flask and stopper`
        if self.pieces.known(at).is(Use::Noun) {
            return true;
        }
        let Some((Verb::Dry | Verb::Warm | Verb::Cool, next)) = self.pieces.verb(at) else {
            return false;
        };
        let equipment = self
            .pieces
            .key(next)
            .and_then(|id| self.pieces.keys.kind(id))
            .is_some_and(|kind| matches!(kind, KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool));
        let standing = self.pieces.known(next).standing.is_some() || self.pieces.is(next, "it");
        !self.is_stop(next) && !self.is_article(next) && !equipment && !standing
    }

    /// `down the wall of the flask`, `along the cold wall`: how something runs in.
    fn down_the_wall(&mut self, open: &mut Open) -> bool {
        let mut last = self.at + 1;
        while self.is_article(last)
            || words::is_one_of(
                self.pieces.word(last),
                &["inner", "inside", "cold", "cooled"],
            )
        {
            last += 1;
        }
        if !words::is_one_of(self.pieces.word(last), &["wall", "walls", "side", "sides"]) {
            return false;
        }
        if self.pieces.is(last + 1, "of") {
            let mut whose = last + 2;
            while self.is_article(whose) {
                whose += 1;
            }
            if !self.is_stop(whose) {
                last = whose;
            }
        }
        self.settle(open);
        let range = self.pieces.range(self.at).start..self.pieces.range(last).end;
        let text = self.pieces.source.words(range.clone());
        self.push(open, ModifierKind::Adverb(text), range);
        self.at = last + 1;
        true
    }

    /// `a total volume of 50 mL` behind `to`: where the volume stands.
    fn total_volume(&self) -> Option<usize> {
        let mut at = self.at;
        while self.is_article(at)
            || words::is_one_of(self.pieces.word(at), &["total", "final", "overall"])
        {
            at += 1;
        }
        let volume = match self.pieces.get(at + 2) {
            Some(Tok::Quantity { times: 1, quantity }) => {
                quantity.unit.dimension == Dimension::Volume
            }
            _ => false,
        };
        let said = self.pieces.is(at, "volume") && self.pieces.is(at + 1, "of");
        (said && volume).then_some(at + 2)
    }

    /// `in` of `1.6 M n-butyllithium in hexanes 6 mL`: what the solution that stands before it is in.
    fn strength_in(&mut self, open: &mut Open) -> bool {
        let makes = matches!(open.verb, Verb::Dissolve | Verb::Suspend | Verb::MakeUp);
        let (before, first) = (self.at - 1, self.at);
        let Some(draft) = open.slot().and_then(|slot| slot.things.last()) else {
            return false;
        };
        let strength = match self.pieces.get(draft.run.start) {
            Some(Tok::Quantity { times: 1, quantity }) => matches!(
                quantity.unit.dimension,
                Dimension::Molarity | Dimension::Normality | Dimension::Molality
            ),
            _ => false,
        };
        let named = draft.run.len() > 1 && self.pieces.key(draft.run.end - 1).is_none();
        if makes || !strength || !named || draft.end != before {
            return false;
        }
        let mut end = first;
        while !self.pieces.word(end).is_empty() && !self.is_stop(end) {
            end += 1;
        }
        let Some(last) = end.checked_sub(1).filter(|_| end > first) else {
            return false;
        };
        let words = self.pieces.range(first).start..self.pieces.range(last).end;
        let kind = self
            .pieces
            .key(last)
            .and_then(|id| self.pieces.keys.kind(id));
        let place = words::is_place(self.pieces.word(last))
            || words::ends_in_vessel(self.pieces.source.str(words.clone()))
            || matches!(
                kind,
                Some(KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool)
            );
        if place || self.is_article(first) {
            return false;
        }
        if let Some(slot) = open.slot() {
            slot.end = slot.end.max(words.end);
            if let Some(draft) = slot.things.last_mut() {
                draft.run.end = end;
                draft.end = end;
            }
        }
        self.at = end;
        open.end = open.end.max(words.end);
        true
    }

    /// `hot` behind `while`: how it is done.
    fn while_hot(&mut self, open: &mut Open, word: &Range<usize>) -> bool {
        const HOW: &[&str] = &["hot", "warm", "cold", "wet", "moist"];
        let at = self.at + usize::from(self.pieces.is(self.at, "still"));
        let before = self.pieces.source.str(word.clone());
        let ends = self.pieces.word(at + 1).is_empty() || self.is_stop(at + 1);
        if !words::is_one_of(before, &["while", "whilst"])
            || !words::is_one_of(self.pieces.word(at), HOW)
            || !ends
        {
            return false;
        }
        let range = word.start..self.pieces.range(at).end;
        let text = self.pieces.source.words(range.clone());
        self.push(open, ModifierKind::Adverb(text), range);
        self.at = at + 1;
        true
    }

    /// `slow` of `a slow, steady stream of argon`: where the stream stands.
    fn described_flow(&self, at: usize) -> Option<usize> {
        const HOW: &[&str] = &[
            "slow",
            "gentle",
            "steady",
            "constant",
            "continuous",
            "positive",
            "strong",
            "light",
            "slight",
            "rapid",
            "fast",
            "brisk",
            "moderate",
            "vigorous",
            "good",
        ];
        const FLOWS: &[&str] = &[
            "flow",
            "counterflow",
            "counter-flow",
            "stream",
            "blanket",
            "pressure",
        ];
        let mut next = at;
        while words::is_one_of(self.pieces.word(next), HOW) {
            next += 1;
            let comma = matches!(self.pieces.get(next), Some(Tok::Comma));
            next += usize::from(comma && words::is_one_of(self.pieces.word(next + 1), HOW));
        }
        let flows = words::is_one_of(self.pieces.word(next), FLOWS)
            && self.pieces.is(next + 1, "of")
            && self.pieces.key(at).is_none();
        (next > at && flows).then_some(next)
    }

    /// `keeping the temperature below 5 °C` says `below 5 °C`, and `so that it just refluxes` says `at reflux`.
    fn kept_at(&mut self, open: &mut Open) -> bool {
        const MOST_WORDS: usize = 12;
        let first = self.at;
        let that = (first + 1..first + 4).any(|at| self.pieces.is(at, "that"));
        if !that && (self.pieces.is(first, "so") || self.pieces.is(first, "such")) {
            return false;
        }
        let (mut warmth, mut denied) = (false, false);
        for at in first + 1..first + MOST_WORDS {
            let word = self.pieces.word(at);
            warmth |= words::is_one_of(word, &["temperature", "temp", "temp."]);
            let said = match self.pieces.get(at + 1) {
                Some(Tok::Quantity { quantity, .. }) => {
                    quantity.unit.dimension == Dimension::Temperature
                }
                _ => false,
            };
            let bounds = matches!(
                self.pieces.known(at).prep,
                Some(Prep::Below | Prep::Above | Prep::At | Prep::Between)
            ) && (warmth || said);
            let exceeds = words::is_one_of(word, &["exceed", "exceeds", "above"]);
            if denied && exceeds && said {
                self.settle(open);
                self.at_such_a_rate(open);
                self.below(open, self.pieces.range(at));
                self.at = at + 1;
                return true;
            }
            if bounds && !denied {
                self.settle(open);
                self.at_such_a_rate(open);
                self.at = at;
                return true;
            }
            if words::is_one_of(word, &["reflux", "refluxes", "refluxing"]) && !denied {
                // `is maintained` and its like.
                let end = (at..first + MOST_WORDS)
                    .take_while(|&at| !self.pieces.word(at).is_empty())
                    .last()
                    .filter(|_| that)
                    .unwrap_or(at);
                self.settle(open);
                self.at_such_a_rate(open);
                let span = self.pieces.span(self.pieces.range(at));
                let kind =
                    ModifierKind::Temperature(TemperatureKind::At, TemperatureValue::Reflux(span));
                self.push(
                    open,
                    kind,
                    self.pieces.range(first).start..self.pieces.range(end).end,
                );
                self.at = end + 1;
                return true;
            }
            denied |= words::is_one_of(word, &["not", "never"]) && that;
            if word.is_empty()
                || words::is_one_of(word, &["no", "without", "until"])
                || words::is_one_of(word, &["not", "never"]) && !that
            {
                return false;
            }
        }
        false
    }

    /// `internal temperature below -65 °C` says `below -65 °C`: the piece that says it.
    fn bounded_temperature(&self, mut at: usize) -> Option<usize> {
        if words::is_one_of(self.pieces.word(at), &["internal", "inside"]) {
            at += 1;
        }
        let known = self.pieces.key(at).is_none();
        let bound = match self.pieces.get(at + 1) {
            Some(Tok::Quantity { quantity, .. }) => {
                quantity.unit.dimension == Dimension::Temperature
            }
            _ => matches!(
                self.pieces.known(at + 1).prep,
                Some(Prep::Below | Prep::Above | Prep::At | Prep::Between)
            ),
        };
        let temperature = words::is_one_of(self.pieces.word(at), &["temperature", "temp"]);
        (temperature && known && bound).then_some(at + 1)
    }

    /// `at` of `at such a rate that …`, `while` of `while keeping …` and `with` of `with the temperature below …` take
    /// nothing themselves.
    fn at_such_a_rate(&self, open: &mut Open) {
        if open.is_fresh() && matches!(open.prep(), Some(Prep::At | Prep::With | Prep::Other)) {
            open.slots.pop();
        }
    }

    /// Reads one piece or more. True at the end of the clause.
    pub(crate) fn piece(&mut self, open: &mut Open) -> bool {
        let at = self.at;
        let Some(tok) = self.pieces.tokens.get_mut(at) else {
            return true;
        };
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
                if let Some(stop) = self.remark_tail(self.at) {
                    self.remark(open, stop);
                }
            }
            Some(Tok::Semicolon | Tok::Stop) => self.one_step(at),
            Some(Tok::Bracket) => self.bracket(open),
            Some(Tok::Quantity { times, quantity }) => {
                let (times, quantity) = (*times, **quantity);
                self.quantity(open, times, quantity);
            }
            Some(Tok::Uncounted(amount)) => {
                let amount = (**amount).clone();
                self.portion(open, 1, amount);
            }
            Some(&Tok::Count(kind, count)) => self.count(open, kind, count),
            Some(&Tok::Fraction(over, under)) => {
                self.share(open, PortionKind::Fraction(over, under), at + 1)
            }
            Some(Tok::Bare(..)) => self.bare(open),
            Some(Tok::Ratio(_)) => self.ratio(open),
            Some(Tok::Word) => return self.word(open),
            Some(Tok::Bad(_)) | None => self.at += 1,
        }
        open.end = open
            .end
            .max(self.pieces.range(self.at.saturating_sub(1)).end);
        false
    }

    pub(crate) fn comma(&mut self, open: &mut Open) -> bool {
        self.settle(open);
        open.parted = true;
        let comma = self.at;
        self.at += 1;
        if self.at >= self.pieces.tokens.len() {
            self.problems.push(trailing_comma(
                self.pieces.source,
                self.pieces.range(comma).start,
            ));
            return true;
        }
        if self.pieces.is(self.at, "if") {
            let range = self.pieces.range(self.at).start..self.body.end;
            self.push(
                open,
                ModifierKind::Remark(self.pieces.source.words(range.clone())),
                range,
            );
            self.done = true;
            return true;
        }
        if words::begins_remark(self.pieces.word(self.at), self.pieces.word(self.at + 1)) {
            self.remark(open, self.until_end());
            return false;
        }
        let mut next = self.at;
        if self.pieces.is(next, "then") {
            next += 1;
        }
        if let Some((verb, after)) = self.pieces.verb(next)
            && (next > self.at || !self.is_substance(verb, after))
            && !self.is_pipette(next)
        {
            self.at = next;
            return true;
        }
        if self.permitted(next).is_some() {
            self.at = next;
            return true;
        }
        if let Some(stop) = self.remark_tail(self.at) {
            self.remark(open, stop);
            return false;
        }
        if let Some(stop) = self.sentence_tail(self.at) {
            self.at = stop;
            return false;
        }
        false
    }

    /// `dry thf 20 mL` after a comma is a thing with its portion; `dry flask` is a clause.
    pub(crate) fn is_substance(&self, verb: Verb, mut at: usize) -> bool {
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
    pub(crate) fn one_step(&mut self, at: usize) {
        let separator = self.pieces.range(at);
        let next = self.pieces.range(at + 1).start.max(separator.end);
        let before = if at > 0 {
            self.pieces.range(at - 1).end
        } else {
            separator.start
        };
        self.new_line(separator.start, before..next, "");
    }

    /// Reports that a new line begins here, and leaves the rest of this one: the mend puts the break and a verb in place
    /// of the gap.
    pub(crate) fn new_line(&mut self, from: usize, gap: Range<usize>, verb: &str) {
        let indent = self.pieces.source.skip_space(0, self.body.start);
        let indent = " ".repeat(indent.min(16));
        let span = self.pieces.span(from..self.body.end);
        let mut problem = Problem::new(
            "one-step-a-line",
            span,
            "One step a line: begin a new line here.",
        );
        if gap.end < self.body.end {
            let gap = self.pieces.span(gap);
            problem = problem.mend("Begin a new line", gap, format!("\n{indent}{verb}"));
        }
        self.problems.push(problem);
        self.done = true;
    }

    pub(crate) fn push(&self, open: &mut Open, kind: ModifierKind, range: Range<usize>) {
        open.end = open.end.max(range.end);
        open.modifiers.push(Modifier {
            kind,
            span: self.pieces.span(range),
        });
    }

    /// Whether a name cannot go on with this word.
    pub(crate) fn is_stop(&self, at: usize) -> bool {
        let known = self.pieces.known(at);
        !matches!(self.pieces.get(at), Some(Tok::Word))
            || known.prep.is_some()
            || known.is(Use::Joint)
            || self.is_adverb(at)
            || self.opens_phrase(at)
    }

    /// `so that …`, `keeping …`, `back to …`, `down the wall`: words that no name goes on with.
    fn opens_phrase(&self, at: usize) -> bool {
        let known = self.pieces.known(at);
        if known.is(Use::Phrase) && self.opens_manner(at) && !self.pieces.is_key(at) {
            return true;
        }
        if !known.is(Use::Opener) {
            return false;
        }
        let next = |other: &str| self.pieces.is(at + 1, other);
        let opens = match self.pieces.word(at).to_ascii_lowercase().as_str() {
            "so" if self.is_adverb(at + 1) => self.pieces.is(at + 2, "that"),
            "so" | "such" => next("that"),
            "keeping" | "maintaining" => true,
            "dissolved" | "suspended" => next("in"),
            "followed" => next("by"),
            "equipped" | "fitted" => next("with"),
            "not" | "do" | "never" => self.not_exceeding(at).is_some(),
            // `add base - exothermic`
            "-" => self.remark_tail(at + 1).is_some(),
            "back" | "up" => next("to"),
            "down" => next("to") || next("the"),
            "along" => next("the"),
            _ => false,
        };
        opens && !self.pieces.is_key(at)
    }

    pub(crate) fn is_adverb(&self, at: usize) -> bool {
        let manner = self.pieces.known(at).is(Use::Manner);
        if manner && self.pieces.is(at, "hot") {
            // `assemble flask hot under argon`, but `hot water`.
            return self.pieces.word(at + 1).is_empty() || self.is_stop(at + 1);
        }
        (manner || words::is_adverb(self.pieces.word(at)))
            && !self.pieces.is_key(at)
            && !self.is_degree(at)
    }

    /// `freshly` of `freshly distilled thf`, `vigorously` of `the vigorously stirred mixture`.
    fn is_degree(&self, at: usize) -> bool {
        self.pieces.known(at).is(Use::Degree) && self.pieces.is_adjective(at + 1)
    }

    pub(crate) fn is_article(&self, at: usize) -> bool {
        if !self.pieces.known(at).is(Use::Article) {
            return false;
        }
        if !self.pieces.is(at, "a") {
            return true;
        }
        !self.pieces.is_key(at)
            || match self.pieces.get(at + 1) {
                Some(Tok::Word) => !self.is_stop(at + 1),
                Some(Tok::Ratio(_)) => true,
                Some(Tok::Quantity { .. }) => {
                    !self.pieces.word(at + 2).is_empty() && !self.is_stop(at + 2)
                }
                _ => false,
            }
    }

    /// `another` of `another 10 mL of thf`, `single` of `a single crystal of alkene`.
    fn says_nothing(&self, at: usize) -> bool {
        let counts = self.pieces.known(at + 1).is(Use::Countable) && self.pieces.is(at + 2, "of");
        let measures = matches!(self.pieces.get(at + 1), Some(Tok::Quantity { .. }));
        counts || measures && words::is_one_of(self.pieces.word(at), words::MORE)
    }

    /// The piece after articles, `of`, `from` and words like `solution of`.
    pub(crate) fn skip_noise(&self, mut at: usize) -> usize {
        loop {
            let known = self.pieces.known(at);
            // `the above solution`
            let above = self.pieces.is(at, "above")
                && at
                    .checked_sub(1)
                    .is_some_and(|the| self.pieces.is(the, "the"))
                && words::is_mixture(self.pieces.word(at + 1));
            if above || known.is(Use::Noise) || self.is_article(at) {
                at += 1;
            } else if known.is(Use::FormOf) && self.pieces.is(at + 1, "of") {
                at += 2;
            } else if self.pieces.known(at + 1).is(Use::FormOf)
                && self.pieces.is(at + 2, "of")
                && (known.is(Use::Adjective)
                    || words::is_one_of(
                        self.pieces.word(at),
                        &["positive", "second", "third", "final", "last"],
                    ))
            {
                // `a stirred solution of ketone`
                at += 3;
            } else {
                return at;
            }
        }
    }

    /// Whether the name of a thing begins here.
    pub(crate) fn begins_name(&self, at: usize) -> bool {
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

    pub(crate) fn word(&mut self, open: &mut Open) -> bool {
        let at = self.at;
        let known = self.pieces.known(at);
        if let Some(prep) = known.prep {
            self.settle(open);
            self.preposition(open, prep);
            return false;
        }
        let ahead = at + 1;
        if known.is(Use::Phrase) && self.opens_manner(at) && !self.pieces.is_key(at) {
            self.manner_phrase(open);
            return false;
        }
        match known.particle {
            "and" => {
                let next = ahead + usize::from(self.pieces.is(ahead, "then"));
                if self.begins_clause(next) && !self.is_pipette(next) {
                    if self.may_be_thing(next) {
                        self.one_step(at);
                    } else {
                        self.at = next;
                    }
                    return true;
                }
                self.settle(open);
                open.parted = true;
                self.at = ahead;
            }
            "then" => {
                self.at = ahead;
                if self.pieces.verb(ahead).is_some() {
                    return true;
                }
            }
            // `cool back to -78 °C`
            "back" | "up" | "down"
                if self.pieces.is(ahead, "to") && self.pieces.key(at).is_none() =>
            {
                self.at = ahead;
            }
            "down" | "along" if self.down_the_wall(open) => {}
            "-" if self.opens_phrase(at) => {
                self.settle(open);
                self.at = ahead;
                if let Some(stop) = self.remark_tail(ahead) {
                    self.remark(open, stop);
                }
            }
            "followed" if self.pieces.is(ahead, "by") => return self.followed(open),
            "equipped" | "fitted" if self.pieces.is(ahead, "with") => self.equipped(open),
            // `so slowly that the temperature stays below 5 °C`
            "so" if self.is_adverb(ahead) && self.pieces.is(ahead + 1, "that") => {
                let range = self.pieces.range(ahead);
                let text = self.pieces.source.words(range.clone());
                self.push(open, ModifierKind::Adverb(text), range);
                if !self.kept_at(open) {
                    self.at = ahead + 1;
                }
            }
            "keeping" | "maintaining" | "so" | "such" if self.kept_at(open) => {}
            // `so that it does not boil over`
            "so" | "such"
                if self.pieces.is(ahead, "that") && self.remark_tail(ahead + 1).is_some() =>
            {
                self.settle(open);
                if let Some(stop) = self.remark_tail(ahead + 1) {
                    self.remark(open, stop);
                }
            }
            "internal" | "inside" | "temperature" if self.bounded_temperature(at).is_some() => {
                self.settle(open);
                self.at = self.bounded_temperature(at).unwrap_or(ahead);
                if !self.pieces.word(self.at).is_empty() {
                    self.at_such_a_rate(open);
                }
            }
            "of" | "each" | "throughout" => self.at = ahead,
            // `ester, dissolved in thf 20 mL`
            "dissolved" | "suspended" if self.pieces.is(ahead, "in") => self.at = ahead,
            "not" | "do" | "never" if self.not_exceeding(at).is_some() => {
                self.settle(open);
                let quantity = self.not_exceeding(at).unwrap_or(ahead);
                let range = self.pieces.range(at).start..self.pieces.range(quantity - 1).end;
                self.below(open, range);
                self.at = quantity;
            }
            "overnight" | "o/n" => {
                self.push(
                    open,
                    ModifierKind::Time(TimeKind::Overnight, None),
                    self.pieces.range(at),
                );
                self.fill(open);
                self.at = ahead;
            }
            "ph" if self.ph(open) => {}
            "found" if self.found(open) => {}
            "last" if open.verb == Verb::Repeat && self.last_steps(open) => {}
            _ if known.number.is_some() && self.multiple(open) => {}
            _ if self.parts_of(open) => {}
            "half" => self.share_word(open, PortionKind::Fraction(1, 2), false),
            "all" | "rest" | "remaining" => self.share_word(open, PortionKind::Rest, false),
            "third" => self.share_word(open, PortionKind::Fraction(1, 3), true),
            "quarter" => self.share_word(open, PortionKind::Fraction(1, 4), true),
            "fifth" => self.share_word(open, PortionKind::Fraction(1, 5), true),
            "tenth" => self.share_word(open, PortionKind::Fraction(1, 10), true),
            "flow" | "counterflow" | "counter-flow" | "stream" | "blanket"
                if self.pieces.is(ahead, "of") =>
            {
                open.flowing = true;
                self.at = ahead + 1;
            }
            _ if self.is_adverb(at) => {
                self.settle(open);
                let range = self.pieces.range(at);
                self.push(
                    open,
                    ModifierKind::Adverb(self.pieces.source.words(range.clone())),
                    range,
                );
                self.at = ahead;
            }
            // `another 10 mL of thf`
            _ if known.is(Use::Adjective) && self.says_nothing(at) => self.at = ahead,
            _ if self.described_flow(at).is_some() => {
                self.at = self.described_flow(at).unwrap_or(ahead);
            }
            _ if self.skip_noise(at) > at => self.at = self.skip_noise(at),
            // `flask and stir bar`, whose key is `bar`.
            "stir" if self.pieces.is_noun_phrase(at) && self.pieces.key(ahead).is_some() => {
                self.at = ahead;
            }
            _ => self.name(open),
        }
        open.end = open
            .end
            .max(self.pieces.range(self.at.saturating_sub(1)).end);
        false
    }

    pub(crate) fn preposition(&mut self, open: &mut Open, prep: Prep) {
        let range = self.pieces.range(self.at);
        self.at += 1;
        open.end = open.end.max(range.end);
        match prep {
            Prep::Until => {
                let stop = self.until_end();
                let start = self.pieces.range(self.at).start;
                let end = if stop > self.at {
                    self.pieces.range(stop - 1).end
                } else {
                    range.end
                };
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
                while !self.pieces.word(self.at).is_empty()
                    && self.pieces.known(self.at).prep.is_none()
                {
                    self.at += 1;
                }
                if self.at > start {
                    let words = self.pieces.range(start).start..self.pieces.range(self.at - 1).end;
                    let text = self.pieces.source.words(words.clone());
                    self.push(open, ModifierKind::As(text), range.start..words.end);
                    return;
                }
            }
            Prep::In if self.in_portions(open, &range) => return,
            Prep::In if self.joins_solution(open) => {
                open.parted = true;
                return;
            }
            Prep::With if self.with_care(open, &range) => return,
            Prep::To if self.adjusting().is_some() => {
                self.at = self.adjusting().unwrap_or(self.at);
                return;
            }
            Prep::To if self.purpose(open, &range) => return,
            Prep::To if self.total_volume().is_some() => {
                self.at = self.total_volume().unwrap_or(self.at);
            }
            Prep::In if self.strength_in(open) => return,
            Prep::Other if self.while_hot(open, &range) => return,
            Prep::At if self.at_intervals(open, &range) => return,
            Prep::Other if self.by_addition(open) => {
                open.parted = false;
                open.slots.push(Slot {
                    prep: Some(Prep::With),
                    end: range.end,
                    word: range,
                    things: SmallVec::new(),
                    filled: false,
                });
                return;
            }
            Prep::At if self.pieces.is_once(self.at) => {
                let range = range.start..self.pieces.range(self.at).end;
                self.push(
                    open,
                    ModifierKind::Adverb(self.pieces.source.words(range.clone())),
                    range,
                );
                self.at += 1;
                return;
            }
            _ => {}
        }
        open.parted = false;
        let end = range.end;
        open.slots.push(Slot {
            prep: Some(prep),
            word: range,
            things: SmallVec::new(),
            filled: false,
            end,
        });
    }

    /// Where the text after `until` ends: at a comma before a verb, preposition, adverb, `if` or number.
    pub(crate) fn until_end(&self) -> usize {
        let mut at = self.at;
        while at < self.pieces.tokens.len() {
            let next = at + 1;
            let ends = match self.pieces.get(at) {
                Some(Tok::Comma) => match self.pieces.get(next) {
                    Some(Tok::Word) => {
                        let word = self.pieces.word(next);
                        self.pieces.known(next).prep.is_some()
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
}
