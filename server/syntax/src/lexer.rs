//! A step as a row of words, quantities and commas.

use crate::ast::{Amount, CountKind, KeyId, Span, Verb};
use crate::fold::Source;
use crate::keys::{Keys, Named};
use crate::line::{longest_verb, skip_words, verb_at_start};
use crate::number::{Number, Quantity};
use crate::numbers::{digits_end, scan_integer, scan_ratio, scan_times};
use crate::plan_text::Problem;
use crate::problem::quoted;
use crate::quantities::{Scan, bare_number, scan};
use crate::strength::{scan_uncounted, word_strength};
use crate::units::letters_end;
use crate::vocabulary::{Known, Use, known};
use std::borrow::Cow;
use std::ops::Range;

/// A piece of a step.
#[derive(Debug)]
pub(crate) enum Tok {
    Word,
    Comma,
    Semicolon,
    /// The end of a sentence before another.
    Stop,
    /// Something in brackets that a word does not touch.
    Bracket,
    /// `20 mL`, `3 x 20 mL`
    Quantity {
        times: u32,
        quantity: Box<Quantity>,
    },
    /// A number without a unit, and whether it is the first of two.
    Bare(Number, bool),
    Bad(Option<Box<Problem>>),
    Uncounted(Box<Amount>),
    /// `3x`, `2 times`, `3 portions`; `as_times` where it is written after an object as `x 3`.
    Count(CountKind, u32),
    Ratio(Vec<Number>),
    Fraction(u32, u32),
}

/// A piece with its place in the folded text.
#[derive(Debug)]
pub(crate) struct Token {
    pub(crate) tok: Tok,
    pub(crate) start: usize,
    pub(crate) end: usize,
    /// Of a word what the language knows of it, and the keys that it names.
    known: &'static Known,
    named: Named,
}

/// Splits a step into its pieces.
fn lex(source: &Source<'_>, body: Range<usize>, keys: &Keys, mut tokens: Vec<Token>) -> Vec<Token> {
    /// Most steps have fewer pieces.
    const PIECES: usize = 12;
    tokens.reserve(PIECES);
    let mut lexer = Lexer {
        source,
        keys,
        end: body.end,
        tokens,
        closings: None,
    };
    let mut at = body.start;
    while at < body.end {
        at = source.skip_space(at, body.end);
        if at >= body.end {
            break;
        }
        at = lexer.piece(at).max(at + 1);
    }
    lexer.tokens
}

/// Every opening bracket with the place of its closing one, found in one pass.
fn closings(source: &Source<'_>, body: Range<usize>) -> Vec<(usize, usize)> {
    let (mut open, mut pairs) = (Vec::new(), Vec::new());
    for n in memchr::memchr2_iter(b'(', b')', source.str(body.clone()).as_bytes()) {
        let at = body.start + n;
        match source.byte(at) {
            b'(' => open.push(at),
            _ => pairs.extend(open.pop().map(|start| (start, at))),
        }
    }
    pairs.sort_unstable();
    pairs
}

/// No word for what a number may count is shorter, and nearly all units are.
const SHORTEST_COUNTED: usize = 4;

struct Lexer<'a> {
    source: &'a Source<'a>,
    keys: &'a Keys,
    end: usize,
    tokens: Vec<Token>,
    /// Asked for by the first bracket.
    closings: Option<Vec<(usize, usize)>>,
}

impl Lexer<'_> {
    fn push(&mut self, tok: Tok, start: usize, end: usize) -> usize {
        self.tokens.push(Token {
            tok,
            start,
            end,
            known: Known::nothing(),
            named: Named::default(),
        });
        end
    }

    /// Reads the piece that begins at a word's start, and gives where it ends.
    fn piece(&mut self, at: usize) -> usize {
        let source = self.source;
        match source.byte(at) {
            b',' if source.is_separator(at, self.end) => return self.push(Tok::Comma, at, at + 1),
            b';' if source.is_bound(at, self.end) => return self.push(Tok::Semicolon, at, at + 1),
            b'.' if source.is_bound(at, self.end) => return self.full_stop(at),
            b'(' => {
                if let Some(close) = self.closing(at)
                    && source.is_bound(close + 1, self.end)
                {
                    return self.push(Tok::Bracket, at, close + 1);
                }
            }
            _ => {}
        }
        let word_end = self.word_end(at);
        let word = source.str(at..word_end);
        let (known, named) = (known(word), self.keys.named(word));
        if named.exact.is_none()
            && let Some(stop) = self.number(at, word_end, known)
        {
            return stop;
        }
        self.tokens.push(Token {
            tok: Tok::Word,
            start: at,
            end: word_end,
            known,
            named,
        });
        word_end
    }

    /// After a full stop: a new sentence if another word follows.
    fn full_stop(&mut self, at: usize) -> usize {
        let next = self.source.skip_space(at + 1, self.end);
        if next < self.end && (self.source.byte(next).is_ascii_alphabetic()) {
            self.push(Tok::Stop, at, at + 1);
        }
        at + 1
    }

    fn closing(&mut self, open: usize) -> Option<usize> {
        let (source, end) = (self.source, self.end);
        let closings = self
            .closings
            .get_or_insert_with(|| closings(source, open..end));
        let found = closings.binary_search_by_key(&open, |&(start, _)| start);
        closings.get(found.ok()?).map(|&(_, close)| close)
    }

    /// The end of a word, without the comma, semicolon or full stop that closes it.
    fn word_end(&self, at: usize) -> usize {
        let source = self.source;
        if let Some((_, stop)) = word_strength(source, at, self.end) {
            let first = source.word_end(at, stop);
            return if source.byte(first - 1) == b',' {
                first - 1
            } else {
                first
            };
        }
        let end = source.word_end(at, self.end);
        let last = source.byte(end - 1);
        if end - at > 1 && matches!(last, b',' | b';' | b'.') {
            end - 1
        } else {
            end
        }
    }

    fn number(&mut self, at: usize, word_end: usize, known: &Known) -> Option<usize> {
        let source = self.source;
        let end = self.end;
        let first = source.byte(at);
        if first.is_ascii_alphabetic() && !matches!(first, b'a' | b'A' | b'c' | b'C' | b'x' | b'X')
        {
            return self.word_count(at, word_end, known);
        }
        if matches!(first, b'x' | b'X')
            && let Some((count, stop)) = scan_integer(source, source.skip_space(at + 1, end), end)
            && source.is_bound(stop, end)
            && scan(source, source.skip_space(at + 1, end), end)
                .is_some_and(|found| matches!(found.scan, Scan::Bare(_, None)))
        {
            return Some(self.push(Tok::Count(CountKind::Times, count), at, stop));
        }
        if first.is_ascii_digit() {
            let stop = digits_end(source, at, end);
            let next = source.skip_space(stop, end);
            let word = next..letters_end(source, next, end);
            if next > stop
                && word.len() >= SHORTEST_COUNTED
                && self::known(source.str(word)).is(Use::Counted)
            {
                if let Some((amount, stop)) = scan_uncounted(source, at, end) {
                    return Some(self.push(Tok::Uncounted(Box::new(amount)), at, stop));
                }
                if let Some(stop) = self.count(at) {
                    return Some(stop);
                }
            }
            let special = match source.byte(next) {
                b'x' | b'X' => self.count(at).or_else(|| self.times(at)),
                b'-' | b't' | b'o' => self.range_count(at, stop, number_at(source, at, stop)),
                b':' | b'.' | b'e' | b'E' => self.ratio(at),
                b'/' => self.fraction(at),
                _ => None,
            };
            if special.is_some() {
                return special;
            }
        }
        let scanned = scan(source, at, end)?;
        let stop = scanned.end;
        Some(match scanned.scan {
            Scan::Quantity(quantity) => {
                let (times, stop) = self.times_after(stop).unwrap_or((1, stop));
                self.push(quantities(times, quantity), at, stop)
            }
            Scan::Bare(number, to) => self.push(Tok::Bare(number, to.is_some()), at, stop),
            Scan::Bad(problem) => self.push(Tok::Bad(Some(Box::new(problem))), at, stop),
        })
    }

    /// `twice`, `three portions`
    fn word_count(&mut self, at: usize, word_end: usize, known: &Known) -> Option<usize> {
        let word = self.source.str(at..word_end);
        let count = match word.len() {
            4 if word.eq_ignore_ascii_case("once") => Some(1),
            5 if word.eq_ignore_ascii_case("twice") => Some(2),
            _ => None,
        };
        if let Some(count) = count {
            return Some(self.push(Tok::Count(CountKind::Times, count), at, word_end));
        }
        let count = known.number?;
        if let Some((amount, stop)) = scan_uncounted(self.source, at, self.end) {
            return Some(self.push(Tok::Uncounted(Box::new(amount)), at, stop));
        }
        if let Some(stop) = self.range_count(at, word_end, Some(count)) {
            return Some(stop);
        }
        let (kind, stop) = self.counted(word_end)?;
        Some(self.push(Tok::Count(kind, count), at, stop))
    }

    /// `3-4 portions`, `two or three batches`: at least as many as the first.
    fn range_count(&mut self, at: usize, stop: usize, count: Option<u32>) -> Option<usize> {
        let (source, end) = (self.source, self.end);
        let next = source.skip_space(stop, end);
        let second = match next < end && source.byte(next) == b'-' {
            true => next + 1,
            false => {
                let joint = skip_words(source, next, end, "to")
                    .or_else(|| skip_words(source, next, end, "or"));
                joint.filter(|_| next > stop)?
            }
        };
        let second = source.skip_space(second, end);
        let letters = letters_end(source, second, end);
        let after = match known(source.str(second..letters)).number {
            Some(_) => letters,
            None => Some(digits_end(source, second, end)).filter(|&stop| stop > second)?,
        };
        let (kind, stop) = self.counted(after)?;
        Some(self.push(Tok::Count(kind, count?), at, stop))
    }

    /// `cycles`, `more times` and their like after a number.
    fn counted(&self, at: usize) -> Option<(CountKind, usize)> {
        const WORDS: &[(&str, CountKind)] = &[
            ("cycles", CountKind::Cycles),
            ("cycle", CountKind::Cycles),
            ("more times", CountKind::MoreTimes),
            ("more time", CountKind::MoreTimes),
            ("more cycles", CountKind::MoreTimes),
            ("times", CountKind::Times),
            ("time", CountKind::Times),
            ("portions", CountKind::Portions),
            ("portion", CountKind::Portions),
            ("equal portions", CountKind::Portions),
            ("small portions", CountKind::Portions),
            ("small pieces", CountKind::Portions),
            ("small piece", CountKind::Portions),
            ("batches", CountKind::Portions),
            ("aliquots", CountKind::Portions),
            ("lots", CountKind::Portions),
            ("pieces", CountKind::Portions),
            ("increments", CountKind::Portions),
        ];
        let next = self.source.skip_space(at, self.end);
        if next == at {
            return None;
        }
        WORDS.iter().find_map(|&(words, kind)| {
            let stop = skip_words(self.source, next, self.end, words)?;
            Some((kind, stop))
        })
    }

    /// `3 cycles`, `3x`
    fn count(&mut self, at: usize) -> Option<usize> {
        let (count, stop) = scan_integer(self.source, at, self.end)?;
        if let Some((kind, stop)) = self.counted(stop) {
            return Some(self.push(Tok::Count(kind, count), at, stop));
        }
        let glued = matches!(self.source.byte(stop), b'x' | b'X') && stop < self.end;
        if glued && self.source.is_bound(stop + 1, self.end) {
            // `3x 20 mL` is a multiple.
            let next = self.source.skip_space(stop + 1, self.end);
            if scan(self.source, next, self.end).is_none() {
                return Some(self.push(Tok::Count(CountKind::Times, count), at, stop + 1));
            }
        }
        None
    }

    /// `3 x 20 mL`, and what of it is not finished.
    fn times(&mut self, at: usize) -> Option<usize> {
        let source = self.source;
        let (times, next) = scan_times(source, at, self.end)?;
        if times == 0 || next >= self.end || source.is_bound(next, self.end) {
            let stop = source.trim(at..next).end;
            let message = format!(
                "{} needs the size of a portion after it: `3 x 20 mL`.",
                quoted(source.str(at..stop))
            );
            let problem = Problem::new("incomplete-count", source.span(at..stop), message);
            return Some(self.push(Tok::Bad(Some(Box::new(problem))), at, stop));
        }
        let scanned = scan(source, next, self.end)?;
        let stop = scanned.end;
        Some(match scanned.scan {
            Scan::Quantity(quantity) => self.push(quantities(times, quantity), at, stop),
            Scan::Bare(..) => {
                let fit = &[
                    crate::number::Dimension::Volume,
                    crate::number::Dimension::Mass,
                ];
                let problem = bare_number(source, at..stop, fit);
                self.push(Tok::Bad(Some(Box::new(problem))), at, stop)
            }
            Scan::Bad(problem) => self.push(Tok::Bad(Some(Box::new(problem))), at, stop),
        })
    }

    /// `20 mL x 3`
    fn times_after(&self, at: usize) -> Option<(u32, usize)> {
        let x = self.source.skip_space(at, self.end);
        if x >= self.end || !matches!(self.source.byte(x), b'x' | b'X') {
            return None;
        }
        let (times, stop) = scan_integer(
            self.source,
            self.source.skip_space(x + 1, self.end),
            self.end,
        )?;
        (times > 0 && self.source.is_bound(stop, self.end)).then_some((times, stop))
    }

    fn ratio(&mut self, at: usize) -> Option<usize> {
        let (numbers, stop) = scan_ratio(self.source, at, self.end)?;
        self.source.is_bound(stop, self.end).then_some(())?;
        Some(self.push(Tok::Ratio(numbers), at, stop))
    }

    /// `1/3 of`
    fn fraction(&mut self, at: usize) -> Option<usize> {
        let source = self.source;
        let (over, slash) = scan_integer(source, at, self.end)?;
        (source.byte(slash) == b'/' && slash < self.end).then_some(())?;
        let (under, stop) = scan_integer(source, slash + 1, self.end)?;
        (under > 0 && source.is_bound(stop, self.end)).then_some(())?;
        Some(self.push(Tok::Fraction(over, under), at, stop))
    }
}

fn number_at(source: &Source<'_>, at: usize, stop: usize) -> Option<u32> {
    source.str(at..stop).parse().ok()
}

fn quantities(times: u32, quantity: Quantity) -> Tok {
    let quantity = Box::new(quantity);
    Tok::Quantity { times, quantity }
}

/// The reader's view of the pieces: words compared, and the key that one is.
pub(crate) struct Pieces<'a> {
    pub(crate) source: &'a Source<'a>,
    pub(crate) keys: &'a Keys,
    pub(crate) tokens: Vec<Token>,
}

impl<'a> Pieces<'a> {
    /// The pieces of a step, in an empty vector that may have served before.
    pub(crate) fn new(
        source: &'a Source<'a>,
        body: Range<usize>,
        keys: &'a Keys,
        tokens: Vec<Token>,
    ) -> Self {
        Pieces {
            source,
            keys,
            tokens: lex(source, body, keys, tokens),
        }
    }

    pub(crate) fn get(&self, at: usize) -> Option<&Tok> {
        self.tokens.get(at).map(|token| &token.tok)
    }

    pub(crate) fn range(&self, at: usize) -> Range<usize> {
        self.tokens
            .get(at)
            .map_or(0..0, |token| token.start..token.end)
    }

    /// The text of a word; empty for any other piece.
    pub(crate) fn word(&self, at: usize) -> &'a str {
        match self.tokens.get(at) {
            Some(Token {
                tok: Tok::Word,
                start,
                end,
                ..
            }) => self.source.str(*start..*end),
            _ => "",
        }
    }

    /// A stretch with one space between its words, however many are written.
    pub(crate) fn spaced(&self, range: Range<usize>) -> Cow<'a, str> {
        let text = self.source.str(range);
        if text.as_bytes().windows(2).any(|two| two == b"  ") {
            text.split_whitespace().collect::<Vec<_>>().join(" ").into()
        } else {
            text.into()
        }
    }

    #[inline]
    pub(crate) fn is(&self, at: usize, word: &str) -> bool {
        // Most words differ in length, which is told without their letters.
        self.tokens.get(at).is_some_and(|token| {
            token.end - token.start == word.len()
                && matches!(token.tok, Tok::Word)
                && self
                    .source
                    .str(token.start..token.end)
                    .eq_ignore_ascii_case(word)
        })
    }

    /// What the language knows of a word; nothing of any other piece.
    pub(crate) fn known(&self, at: usize) -> &'static Known {
        self.tokens
            .get(at)
            .map_or(Known::nothing(), |token| token.known)
    }

    /// The key that a word names.
    pub(crate) fn key(&self, at: usize) -> Option<KeyId> {
        self.tokens.get(at)?.named.any
    }

    /// Whether a word is a key, in its own case.
    pub(crate) fn is_key(&self, at: usize) -> bool {
        self.tokens
            .get(at)
            .is_some_and(|token| token.named.exact.is_some())
    }

    pub(crate) fn span(&self, range: Range<usize>) -> Span {
        self.source.span(range)
    }

    /// Things whose names begin with a verb: nobody stirs a bar.
    pub(crate) fn is_noun_phrase(&self, at: usize) -> bool {
        self.known(at)
            .nouns
            .iter()
            .any(|noun| self.is(at + 1, noun))
    }

    /// `freeze, pump, thaw`: the piece behind it.
    fn freeze_pump_thaw(&self, at: usize) -> Option<usize> {
        let mut next = at;
        for word in ["freeze", "pump", "thaw"] {
            let parted = matches!(self.get(next), Some(Tok::Comma)) || self.is(next, "and");
            next += usize::from(next > at && parted);
            next = self.is(next, word).then_some(next + 1)?;
        }
        Some(next)
    }

    /// The longest verb that begins at a piece, and the first piece after it.
    pub(crate) fn verb(&self, at: usize) -> Option<(Verb, usize)> {
        let token = self.tokens.get(at)?;
        if let Some(next) = self.freeze_pump_thaw(at) {
            return Some((Verb::Degas, next));
        }
        // `take 3 samples`
        if self.is(at, "take") && matches!(self.get(at + 1), Some(Tok::Bare(..))) {
            return None;
        }
        let closed = !self.source.is_space(token.end) || self.ends_in_a_point(token);
        if !closed && !token.known.begins_verb()
            || token.known.is(Use::Noun) && token.named.any.is_some()
            || !matches!(token.tok, Tok::Word)
            || self.is_noun_phrase(at)
        {
            return None;
        }
        if !closed && token.known.longer.is_empty() {
            return token.known.verb.map(|verb| (verb, at + 1));
        }
        let last = self.tokens.last()?.end;
        let body = token.start..last;
        let (verb, stop) = match closed {
            true => verb_at_start(self.source, &body),
            false => longest_verb(self.source, &body, token.end, token.known),
        }?;
        let rest = self.tokens.get(at..)?;
        Some((verb, at + rest.partition_point(|token| token.start < stop)))
    }

    /// `cool:`, whose colon is no letter of it.
    fn ends_in_a_point(&self, token: &Token) -> bool {
        let last = self.source.byte(token.end.saturating_sub(1));
        matches!(last, b',' | b';' | b':' | b'.')
    }
}
