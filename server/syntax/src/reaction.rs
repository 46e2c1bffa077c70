//! The equation. It has a reader of its own: no units, no signs, and `+` only between white space.

use crate::ast::{Reaction, Span, Term, TermReferent};
use crate::fold::Source;
use crate::keys::Keys;
use crate::plan_text::{KeyKind, Problem};
use crate::problem::quoted;
use crate::resolve::unknown_key;
use crate::words::is_formula;
use std::ops::Range;

/// Where the arrow of an equation stands.
pub(crate) fn arrow(source: &Source<'_>, range: &Range<usize>) -> Option<Range<usize>> {
    let text = source.str(range.clone());
    let plain = text.find("->").map(|at| at..at + 2);
    let sign = text.find('→').map(|at| at..at + '→'.len_utf8());
    let first = match (plain, sign) {
        (Some(plain), Some(sign)) => {
            if plain.start < sign.start {
                plain
            } else {
                sign
            }
        }
        (plain, sign) => plain.or(sign)?,
    };
    Some(range.start + first.start..range.start + first.end)
}

/// Where an equals sign stands for the arrow.
fn equals(source: &Source<'_>, range: &Range<usize>) -> Option<Range<usize>> {
    let at = range.start + source.str(range.clone()).find(" = ")? + 1;
    Some(at..at + 1)
}

/// Reads an equation against the keys.
pub(crate) fn read_reaction(
    source: &Source<'_>,
    range: Range<usize>,
    keys: &Keys,
    problems: &mut Vec<Problem>,
) -> Reaction {
    let arrow = arrow(source, &range);
    let equals = equals(source, &range);
    let mut reader = Reader {
        source,
        keys,
        problems,
    };
    let (left, right) = match &arrow {
        Some(arrow) => (range.start..arrow.start, arrow.end..range.end),
        None if let Some(equals) = &equals => {
            let span = source.span(equals.clone());
            let message = "The equation is written with an arrow: `a + b -> c`.";
            let problem = Problem::new("reaction-needs-arrow", span, message);
            reader.problems.push(problem.mend("Write ->", span, "->"));
            (range.start..equals.start, equals.end..range.end)
        }
        None => {
            let message = "The equation needs an arrow between what goes in and what comes out: `a + b -> c`.";
            reader.problems.push(Problem::new(
                "reaction-needs-arrow",
                source.span(range.clone()),
                message,
            ));
            (range.clone(), range.end..range.end)
        }
    };
    let left = reader.side(left);
    let right = if arrow.is_some() || equals.is_some() {
        reader.side(right)
    } else {
        Vec::new()
    };
    Reaction {
        left,
        right,
        span: source.span(range),
        arrow: arrow.map(|arrow| source.span(arrow)),
    }
}

struct Reader<'a> {
    source: &'a Source<'a>,
    keys: &'a Keys,
    problems: &'a mut Vec<Problem>,
}

impl Reader<'_> {
    fn side(&mut self, range: Range<usize>) -> Vec<Term> {
        let mut terms = Vec::new();
        let mut start = range.start;
        let mut at = range.start;
        while at < range.end {
            let stop = self.source.word_end(at, range.end);
            if self.source.str(at..stop) == "+" {
                terms.extend(self.term(start..at, at..stop));
                start = stop;
            }
            at = self
                .source
                .skip_space(stop.max(at + 1).min(range.end), range.end);
        }
        let last = start..range.end;
        terms.extend(self.term(last.clone(), last));
        terms
    }

    /// A term between two plus signs; `near` is what to point at if nothing stands there.
    fn term(&mut self, range: Range<usize>, near: Range<usize>) -> Option<Term> {
        let source = self.source;
        let words = source.trim(range);
        if words.is_empty() {
            let near = if source.trim(near.clone()).is_empty() {
                near.start.saturating_sub(1)..near.start
            } else {
                near
            };
            let message = "A term is missing here: write a key or a formula, or delete the sign.";
            self.problems
                .push(Problem::new("empty-term", source.span(near), message));
            return None;
        }
        if let Some(id) = self.keys.find_exact(source.str(words.clone())) {
            return Some(self.make((1, 1), None, words, TermReferent::Key(id)));
        }
        let (coefficient, name) = self.coefficient(&words);
        let span = coefficient.as_ref().map(|(_, span)| *span);
        let factor = match coefficient {
            None => (1, 1),
            Some((Some(factor), _)) => factor,
            Some((None, span)) => {
                let message = "This coefficient is zero or too long: write a whole number or a fraction of two.";
                self.problems
                    .push(Problem::new("bad-coefficient", span, message));
                (1, 1)
            }
        };
        if name.is_empty() {
            let message = "A key or a formula is missing after this number.";
            self.problems
                .push(Problem::new("empty-term", source.span(words), message));
            return None;
        }
        let referent = self.referent(&name);
        Some(self.make(factor, span, name, referent))
    }

    fn make(
        &self,
        coefficient: (u32, u32),
        span: Option<Span>,
        name: Range<usize>,
        referent: TermReferent,
    ) -> Term {
        Term {
            coefficient,
            coefficient_span: span,
            name: self.source.words(name),
            referent,
        }
    }

    fn referent(&mut self, name: &Range<usize>) -> TermReferent {
        let text = self.source.str(name.clone());
        if let Some(id) = self.keys.find(text) {
            if self.keys.find_exact(text).is_none() && is_formula(text) {
                let key = self
                    .keys
                    .get(id)
                    .map_or_else(String::new, |key| key.name.text.to_string());
                let span = self.source.span(name.clone());
                let message = format!(
                    "{} is read as the key `{key}`; as a formula it would be something else.",
                    quoted(text)
                );
                self.problems
                    .push(Problem::new("key-or-formula", span, message).mend(
                        format!("Write {key}"),
                        span,
                        key,
                    ));
            }
            return TermReferent::Key(id);
        }
        if !is_formula(text) {
            self.problems
                .push(unknown_key(self.source, name.clone(), self.keys, |kind| {
                    matches!(
                        kind,
                        KeyKind::Material | KeyKind::Product | KeyKind::ByProduct
                    )
                }));
        }
        TermReferent::Other
    }

    /// The coefficient before a name, if it has one: none where it cannot be held.
    #[allow(clippy::type_complexity, reason = "read once, just below its only use")]
    fn coefficient(
        &self,
        words: &Range<usize>,
    ) -> (Option<(Option<(u32, u32)>, Span)>, Range<usize>) {
        let source = self.source;
        let text = source.str(words.clone());
        const SIGNS: &[(char, (u32, u32))] = &[
            ('½', (1, 2)),
            ('⅓', (1, 3)),
            ('⅔', (2, 3)),
            ('¼', (1, 4)),
            ('¾', (3, 4)),
            ('⅕', (1, 5)),
        ];
        if let Some(&(sign, factor)) = SIGNS.iter().find(|(sign, _)| text.starts_with(*sign)) {
            let stop = words.start + sign.len_utf8();
            return (
                Some((Some(factor), source.span(words.start..stop))),
                source.trim(stop..words.end),
            );
        }
        let digits = text
            .find(|c: char| !c.is_ascii_digit() && c != '.' && c != '/')
            .unwrap_or(text.len());
        let number = text.get(..digits).unwrap_or_default();
        if !number.starts_with(|c: char| c.is_ascii_digit()) {
            return (None, words.clone());
        }
        let stop = words.start + digits;
        (
            Some((fraction(number), source.span(words.start..stop))),
            source.trim(stop..words.end),
        )
    }
}

/// `2`, `1/2`, `0.5` as a fraction in lowest terms.
fn fraction(text: &str) -> Option<(u32, u32)> {
    let (over, under) = match text.split_once('/') {
        Some((over, under)) => (over.parse::<u64>().ok()?, under.parse::<u64>().ok()?),
        None => {
            let (whole, decimals) = text.split_once('.').unwrap_or((text, ""));
            let under = 10u64.checked_pow(u32::try_from(decimals.len()).ok()?)?;
            (format!("{whole}{decimals}").parse::<u64>().ok()?, under)
        }
    };
    if over == 0 || under == 0 {
        return None;
    }
    let (mut a, mut b) = (over, under);
    while b > 0 {
        (a, b) = (b, a % b);
    }
    Some((
        u32::try_from(over / a).ok()?,
        u32::try_from(under / a).ok()?,
    ))
}
