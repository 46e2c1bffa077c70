//! Numbers and quantities, looked for at the start of a word.

use crate::ast::Span;
use crate::fold::{Folded, Source};
use crate::number::{Bound, Dimension, Number, Quantity, Unit};
use crate::numbers::scan_number;
use crate::numbers::{Digits, scan_digits};
use crate::odd_numbers::scan_odd;
use crate::plan_text::Problem;
use crate::problem::quoted;
use crate::units::{is_near_unit, letters_end, scan_unit, units_for};
use std::ops::Range;

/// What stands where a quantity may.
#[derive(Debug)]
pub(crate) enum Scan {
    /// Number and unit.
    Quantity(Quantity),
    /// A number or range without a unit.
    Bare(Number, Option<Number>),
    /// Meant as a quantity, but without a value.
    Bad(Problem),
}

/// Something scanned, and where it ends in the folded text.
pub(crate) struct Scanned {
    pub(crate) scan: Scan,
    pub(crate) end: usize,
}

/// `about`, `<` and their like, and where the number begins.
fn scan_bound(source: &Source<'_>, at: usize, end: usize) -> (Bound, usize) {
    let first = source.byte(at);
    if first.is_ascii_digit()
        || first.is_ascii_alphabetic() && !matches!(first, b'a' | b'A' | b'c' | b'C')
    {
        return (Bound::Exact, at);
    }
    let rest = source.str(at..end);
    const SIGNS: &[(&str, Bound)] = &[
        ("~", Bound::About),
        ("≈", Bound::About),
        ("<=", Bound::AtMost),
        (">=", Bound::AtLeast),
        ("≤", Bound::AtMost),
        ("≥", Bound::AtLeast),
        ("<", Bound::AtMost),
        (">", Bound::AtLeast),
    ];
    const WORDS: &[&str] = &["about ", "approx. ", "ca. ", "ca ", "ca."];
    if let Some((sign, bound)) = SIGNS.iter().find(|(sign, _)| rest.starts_with(sign)) {
        return (*bound, source.skip_space(at + sign.len(), end));
    }
    let word = WORDS.iter().find(|word| {
        rest.as_bytes()
            .get(..word.len())
            .is_some_and(|head| head.eq_ignore_ascii_case(word.as_bytes()))
    });
    match word {
        Some(word) => (Bound::About, source.skip_space(at + word.len(), end)),
        None => (Bound::Exact, at),
    }
}

/// Scans a quantity, a bare number, or what was meant as one. None where a word stands: `1,4-dioxane`, `9-BBN`.
pub(crate) fn scan(source: &Source<'_>, at: usize, end: usize) -> Option<Scanned> {
    let (bound, start) = scan_bound(source, at, end);
    if !matches!(source.byte(start), b'0'..=b'9' | b'-' | b'+' | b'.') || start >= end {
        return None;
    }
    if let Some(bad) = scan_odd(source, start, end) {
        return Some(bad);
    }
    let first = scan_digits(source, start, end)?;
    let range = scan_range(source, &first, end);
    let (second, mut stop) = match &range {
        Some((second, _)) => (Some(second), second.end),
        None => (None, first.end),
    };
    let unit_at = source.skip_space(stop, end);
    let unit = scan_unit(source, unit_at, end).filter(|&(_, after)| {
        source.is_bound(after, end) || second.is_none() && range_follows(source, after, end)
    });
    let Some((unit, after)) = unit else {
        return scan_unitless(source, at, start, &first, range.as_ref(), stop, end);
    };
    let unit_span = source.span(unit_at..after);
    stop = after;
    let too_long = |stop: usize| {
        let span = source.span(at..stop);
        let message = "This number has more digits than can be computed with: write at most 28.";
        Scanned {
            scan: Scan::Bad(Problem::new("number-too-long", span, message)),
            end: stop,
        }
    };
    let Some(number) = first.number else {
        return Some(too_long(stop));
    };
    let mut to = None;
    if let Some((second, dash)) = &range {
        let Some(second) = second.number else {
            return Some(too_long(stop));
        };
        if *dash && second.value < number.value {
            return Some(runs_down(source, start..stop, stop));
        }
        to = Some(second);
    } else if let Some((second, same, after)) = scan_second_quantity(source, stop, end, unit) {
        if !same {
            return Some(mixed_units(source, start..after));
        }
        to = Some(second);
        stop = after;
    } else if !source.is_bound(stop, end) {
        return None;
    }
    let span = source.span(at..stop);
    Some(Scanned {
        scan: Scan::Quantity(Quantity {
            number,
            to,
            unit,
            unit_span,
            bound,
            span,
        }),
        end: stop,
    })
}

/// The second number of a range whose unit comes after it, and whether a dash stands between.
fn scan_range(source: &Source<'_>, first: &Digits, end: usize) -> Option<(Digits, bool)> {
    let at = first.end;
    if source.byte(at) == b'-' && at < end {
        return Some((scan_digits(source, at + 1, end)?, true));
    }
    let word = source.skip_space(at, end);
    if word == at {
        return None;
    }
    if source.byte(word) == b'-' && word + 1 < end && source.byte(word + 1) == b' ' {
        return Some((scan_digits(source, word + 2, end)?, true));
    }
    let next = after_to(source, word, end).or_else(|| after_and(source, first, word, end))?;
    Some((scan_digits(source, next, end)?, false))
}

/// Where the second number begins after `to`.
fn after_to(source: &Source<'_>, at: usize, end: usize) -> Option<usize> {
    let is_to = source
        .str(at..end)
        .as_bytes()
        .get(..3)
        .is_some_and(|word| word.eq_ignore_ascii_case(b"to "));
    is_to.then(|| source.skip_space(at + 3, end))
}

/// Where the second number begins in `between 0 and 5 °C`.
fn after_and(source: &Source<'_>, first: &Digits, at: usize, end: usize) -> Option<usize> {
    let before = source.str(0..first.start).as_bytes();
    let between = before
        .len()
        .checked_sub(8)
        .and_then(|from| before.get(from..))?;
    let and = source.str(at..end).as_bytes().get(..4)?;
    (between.eq_ignore_ascii_case(b"between ") && and.eq_ignore_ascii_case(b"and "))
        .then(|| source.skip_space(at + 4, end))
}

/// Whether a dash and a number follow the unit, as in `2 h-3 h`.
fn range_follows(source: &Source<'_>, at: usize, end: usize) -> bool {
    source.byte(at) == b'-' && at + 1 < end && source.byte(at + 1).is_ascii_digit()
}

/// The rest of `2 h to 3 h`, and whether its unit is the same: with `to` only for what is no portion, since `base 5 mL to 10 mL of thf` says where the base goes.
fn scan_second_quantity(
    source: &Source<'_>,
    at: usize,
    end: usize,
    unit: Unit,
) -> Option<(Number, bool, usize)> {
    let next = if range_follows(source, at, end) {
        at + 1
    } else {
        let word = source.skip_space(at, end);
        if source.byte(word) == b'-' && word > at && word + 1 < end && source.byte(word + 1) == b' '
        {
            word + 2
        } else if is_portion(unit.dimension) {
            return None;
        } else {
            after_to(source, word, end)?
        }
    };
    let digits = scan_digits(source, next, end)?;
    let (second, after) = scan_unit(source, source.skip_space(digits.end, end), end)?;
    (second.dimension == unit.dimension && source.is_bound(after, end)).then_some(())?;
    Some((digits.number?, second == unit, after))
}

/// Whether a quantity says how much of a thing.
pub(crate) fn is_portion(dimension: Dimension) -> bool {
    use Dimension::{Amount, Equivalents, Mass, MolPercent, Volume};
    matches!(dimension, Mass | Volume | Amount | Equivalents | MolPercent) || is_relative(dimension)
}

/// Whether a quantity is stated against an amount of something else.
pub(crate) fn is_relative(dimension: Dimension) -> bool {
    use Dimension::{
        AmountPerMass, MassPerAmount, MassPerMass, VolumePerAmount, VolumePerMass, VolumePerVolume,
    };
    matches!(
        dimension,
        VolumePerAmount
            | VolumePerMass
            | MassPerAmount
            | MassPerMass
            | AmountPerMass
            | VolumePerVolume
    )
}

fn mixed_units(source: &Source<'_>, range: Range<usize>) -> Scanned {
    let end = range.end;
    let words = quoted(source.str(range.clone()));
    let message = format!("{words} has two units: write both ends of the range in one.");
    Scanned {
        scan: Scan::Bad(Problem::new(
            "range-units-differ",
            source.span(range),
            message,
        )),
        end,
    }
}

fn runs_down(source: &Source<'_>, range: Range<usize>, end: usize) -> Scanned {
    let words = quoted(source.str(range.clone()));
    let message = format!(
        "{words} runs from the larger number to the smaller: write the smaller first, `to` between them, or a power of ten as `1e-3`."
    );
    Scanned {
        scan: Scan::Bad(Problem::new("range-runs-down", source.span(range), message)),
        end,
    }
}

/// A number whose unit is missing or unknown; None where it is only the start of a word.
fn scan_unitless(
    source: &Source<'_>,
    at: usize,
    start: usize,
    first: &Digits,
    range: Option<&(Digits, bool)>,
    stop: usize,
    end: usize,
) -> Option<Scanned> {
    let word_at = source.skip_space(stop, end);
    let word_end = letters_end(source, word_at, end);
    let word = source.str(word_at..word_end);
    if word == "°" && source.is_bound(word_end, end) {
        return Some(bare_degrees(source, start..stop, word_end));
    }
    if !word.is_empty()
        && source.is_bound(word_end, end)
        && (is_near_unit(word) || meant_unit(word).is_some())
    {
        return Some(Scanned {
            scan: Scan::Bad(unknown_unit(source, start..word_end)),
            end: word_end,
        });
    }
    // `5 K/min`: a unit over what it is not divided by.
    if source.byte(word_end) == b'/'
        && word_end < end
        && scan_unit(source, word_at, word_end).is_some()
    {
        let close = letters_end(source, word_end + 1, end);
        if close > word_end + 1 && source.is_bound(close, end) {
            let problem = unknown_unit(source, start..close);
            return Some(Scanned {
                scan: Scan::Bad(problem),
                end: close,
            });
        }
    }
    if !source.is_bound(stop, end) {
        return None;
    }
    let (Some(number), second) = (first.number, range.map(|(second, _)| second.number)) else {
        return Some(long_number(source, at..stop));
    };
    match second {
        Some(None) => Some(long_number(source, at..stop)),
        Some(Some(to)) => Some(Scanned {
            scan: Scan::Bare(number, Some(to)),
            end: stop,
        }),
        None => Some(Scanned {
            scan: Scan::Bare(number, None),
            end: stop,
        }),
    }
}

/// `0°`: of which scale.
fn bare_degrees(source: &Source<'_>, number: Range<usize>, end: usize) -> Scanned {
    let span = source.span(number.start..end);
    let meant = format!("{} °C", source.str(number.clone()));
    let message = format!(
        "{} is a temperature of no scale: write `{meant}`.",
        quoted(source.str(number.start..end))
    );
    let problem = Problem::new("unknown-unit", span, message);
    Scanned {
        scan: Scan::Bad(problem.mend(format!("Write {meant}"), span, meant)),
        end,
    }
}

fn long_number(source: &Source<'_>, range: Range<usize>) -> Scanned {
    let end = range.end;
    let message = "This number has more digits than can be computed with: write at most 28.";
    Scanned {
        scan: Scan::Bad(Problem::new("number-too-long", source.span(range), message)),
        end,
    }
}

pub(crate) fn unknown_unit(source: &Source<'_>, range: Range<usize>) -> Problem {
    let words = quoted(source.str(range.clone()));
    let message = format!(
        "The unit in {words} is not known. Units are written as in {}; letters that stand alone, and `mM`, keep their case.",
        list(&[
            "mL", "g", "mg", "mmol", "eq", "mol%", "M", "°C", "min", "h", "mbar"
        ])
    );
    let problem = Problem::new("unknown-unit", source.span(range.clone()), message);
    let Some((_, stop)) = scan_number(source, range.start, range.end) else {
        return problem;
    };
    let unit = source.trim(stop..range.end);
    match meant_unit(source.str(unit.clone())) {
        Some(meant) => problem.mend(format!("Write {meant}"), source.span(unit), meant),
        None => problem,
    }
}

/// Units with one other meaning only: a degree in lower case, and the German for an equivalent.
fn meant_unit(written: &str) -> Option<&'static str> {
    match written.to_lowercase().as_str() {
        "°c" => Some("°C"),
        "°f" => Some("°F"),
        "äq" | "äq." | "äquiv" | "äquiv." => Some("eq"),
        _ => None,
    }
}

/// A number without a unit where one of these is needed.
pub(crate) fn bare_number(source: &Source<'_>, range: Range<usize>, fit: &[Dimension]) -> Problem {
    let words = quoted(source.str(range.clone()));
    let units: Vec<&str> = fit
        .iter()
        .flat_map(|&dimension| units_for(dimension).into_iter().take(2))
        .collect();
    let message = format!("{words} needs a unit: {}.", list(&units));
    Problem::new("bare-number", source.span(range), message)
}

/// `a, b or c`, in backticks.
pub(crate) fn list(words: &[&str]) -> String {
    let mut text = String::new();
    for (n, word) in words.iter().enumerate() {
        text.push_str(match n {
            0 => "",
            _ if n + 1 == words.len() => " or ",
            _ => ", ",
        });
        text.push('`');
        text.push_str(word);
        text.push('`');
    }
    text
}

/// The whole of a stretch as one quantity, bare number or failed quantity.
pub(crate) fn scan_whole(source: &Source<'_>, range: Range<usize>) -> Option<Scan> {
    let scanned = scan(source, range.start, range.end)?;
    let mut stop = scanned.end;
    if source.byte(stop) == b'.' && stop + 1 == range.end {
        stop += 1;
    }
    (stop == range.end).then_some(scanned.scan)
}

/// Every quantity in free text, with spans relative to it.
#[must_use]
pub fn find_quantities(text: &str) -> Vec<Quantity> {
    let folded = Folded::new(text);
    let source = folded.source();
    let end = source.text.len();
    let mut found = Vec::new();
    let mut at = 0;
    while at < end {
        at = source.skip_space(at, end);
        while at < end && source.byte(at) == b'(' {
            at += 1;
        }
        match scan(&source, at, end) {
            Some(Scanned {
                scan: Scan::Quantity(quantity),
                end: stop,
            }) => {
                found.push(quantity);
                at = stop.max(at + 1);
            }
            Some(Scanned { end: stop, .. }) => at = stop.max(at + 1),
            None => at = source.word_end(at, end).max(at + 1),
        }
        // The end of a quantity is the end of a word but for what closes it.
        at = source.word_end(at.min(end), end);
    }
    found
}

/// The whole text as one quantity: `10 mmol`.
#[must_use]
pub fn read_quantity(text: &str) -> Option<Quantity> {
    let folded = Folded::new(text);
    let source = folded.source();
    match scan_whole(&source, source.trim(0..source.text.len()))? {
        Scan::Quantity(quantity) => Some(quantity),
        Scan::Bare(..) | Scan::Bad(_) => None,
    }
}

/// A span from the start of one to the end of another.
pub(crate) fn join(a: Span, b: Span) -> Span {
    Span {
        start: a.start,
        end: b.end,
    }
}
