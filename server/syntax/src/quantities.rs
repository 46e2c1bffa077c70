//! Numbers and quantities, looked for at the start of a word.

use crate::ast::Span;
use crate::fold::Source;
use crate::number::{Bound, Dimension, Number, Quantity, Unit};
use crate::plan_text::Problem;
use crate::problem::quoted;
use crate::units::{is_near_unit, letters_end, scan_unit, units_for};
use rust_decimal::Decimal;
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

/// A number's value, or none where it has more digits than can be held.
struct Digits {
    number: Option<Number>,
    end: usize,
    /// Digits alone, without sign, point and exponent.
    plain: bool,
}

/// The most digits that a decimal holds whatever they are.
const MOST_DIGITS: usize = 28;

/// Groups of three digits after the first, at most: more would not fit a decimal.
const MOST_GROUPS: usize = 9;

fn digits_end(source: &Source<'_>, mut at: usize, end: usize) -> usize {
    while at < end && source.byte(at).is_ascii_digit() {
        at += 1;
    }
    at
}

fn scan_digits(source: &Source<'_>, at: usize, end: usize) -> Option<Digits> {
    let signed = at < end && matches!(source.byte(at), b'-' | b'+');
    let first = at + usize::from(signed);
    let whole = digits_end(source, first, end);
    let mut after = whole;
    let mut decimals = 0;
    if whole < end && source.byte(whole) == b'.' {
        let fraction = digits_end(source, whole + 1, end);
        decimals = fraction - whole - 1;
        if decimals > 0 {
            after = fraction;
        }
    }
    if after == first {
        return None;
    }
    let mantissa = first..after;
    let mut exponent = Some(0);
    if after < end && matches!(source.byte(after), b'e' | b'E') {
        let sign = usize::from(after + 1 < end && matches!(source.byte(after + 1), b'-' | b'+'));
        let digits = after + 1 + sign;
        let stop = digits_end(source, digits, end);
        if stop > digits && (stop == end || !source.byte(stop).is_ascii_alphanumeric()) {
            exponent = source.str(after + 1..stop).parse::<i32>().ok();
            after = stop;
        }
    }
    let number = value(source, mantissa, source.byte(at) == b'-', decimals, exponent).map(|(value, last_digit)| Number {
        value,
        last_digit,
        span: source.span(at..after),
    });
    let plain = !signed && after == whole;
    Some(Digits { number, end: after, plain })
}

/// The value of a mantissa, and the power of ten of its last digit.
fn value(
    source: &Source<'_>,
    mantissa: Range<usize>,
    negative: bool,
    decimals: usize,
    exponent: Option<i32>,
) -> Option<(Decimal, i32)> {
    if mantissa.len() > MOST_DIGITS * 2 {
        return None;
    }
    let mut whole: i128 = 0;
    for digit in source.str(mantissa).bytes().filter(u8::is_ascii_digit) {
        whole = whole.checked_mul(10)?.checked_add(i128::from(digit - b'0'))?;
    }
    let last_digit = exponent?.checked_sub(i32::try_from(decimals).ok()?)?;
    if last_digit > 0 {
        whole = whole.checked_mul(10i128.checked_pow(u32::try_from(last_digit).ok()?)?)?;
    }
    let scale = u32::try_from(-last_digit.min(0)).ok()?;
    let value = Decimal::try_from_i128_with_scale(if negative { -whole } else { whole }, scale).ok()?;
    Some((value, last_digit))
}

/// A number at `at`, wherever it ends.
pub(crate) fn scan_number(source: &Source<'_>, at: usize, end: usize) -> Option<(Number, usize)> {
    let digits = scan_digits(source, at, end)?;
    Some((digits.number?, digits.end))
}

/// An integer at `at`, wherever it ends.
pub(crate) fn scan_integer(source: &Source<'_>, at: usize, end: usize) -> Option<(u32, usize)> {
    let stop = digits_end(source, at, end);
    let value = source.str(at..stop).parse().ok()?;
    Some((value, stop))
}

/// `about`, `<` and their like, and where the number begins.
fn scan_bound(source: &Source<'_>, at: usize, end: usize) -> (Bound, usize) {
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
    let word = WORDS
        .iter()
        .find(|word| rest.as_bytes().get(..word.len()).is_some_and(|head| head.eq_ignore_ascii_case(word.as_bytes())));
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
    if let Some(bad) = scan_commas(source, start, end)
        .or_else(|| scan_spaced_groups(source, start, end))
        .or_else(|| scan_spaced_sign(source, start, end))
    {
        return Some(bad);
    }
    let first = scan_digits(source, start, end)?;
    let range = scan_range(source, &first, end);
    let (second, mut stop) = match &range {
        Some((second, _)) => (Some(second), second.end),
        None => (None, first.end),
    };
    let unit_at = source.skip_space(stop, end);
    let unit = scan_unit(source, unit_at, end)
        .filter(|&(_, after)| source.is_bound(after, end) || second.is_none() && range_follows(source, after, end));
    let Some((unit, after)) = unit else {
        return scan_unitless(source, at, start, &first, range.as_ref(), stop, end);
    };
    let unit_span = source.span(unit_at..after);
    stop = after;
    let too_long = |stop: usize| {
        let span = source.span(at..stop);
        let message = "This number has more digits than can be computed with: write at most 28.";
        Scanned { scan: Scan::Bad(Problem::new("number-too-long", span, message)), end: stop }
    };
    let Some(number) = first.number else { return Some(too_long(stop)) };
    let mut to = None;
    if let Some((second, dash)) = &range {
        let Some(second) = second.number else { return Some(too_long(stop)) };
        if *dash && second.value < number.value {
            return Some(runs_down(source, start..stop, stop));
        }
        to = Some(second);
    } else if let Some((second, after)) = scan_second_quantity(source, stop, end, unit) {
        to = Some(second);
        stop = after;
    } else if !source.is_bound(stop, end) {
        return None;
    }
    let span = source.span(at..stop);
    Some(Scanned { scan: Scan::Quantity(Quantity { number, to, unit, unit_span, bound, span }), end: stop })
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
    Some((scan_digits(source, after_to(source, word, end)?, end)?, false))
}

/// Where the second number begins after `to`.
fn after_to(source: &Source<'_>, at: usize, end: usize) -> Option<usize> {
    let is_to = source.str(at..end).as_bytes().get(..3).is_some_and(|word| word.eq_ignore_ascii_case(b"to "));
    is_to.then(|| source.skip_space(at + 3, end))
}

/// Whether a dash and a number follow the unit, as in `2 h-3 h`.
fn range_follows(source: &Source<'_>, at: usize, end: usize) -> bool {
    source.byte(at) == b'-' && at + 1 < end && source.byte(at + 1).is_ascii_digit()
}

/// The rest of `2 h to 3 h`: only where the unit is the same, and with `to` only for what is no portion,
/// since `base 5 mL to 10 mL of thf` says where the base goes.
fn scan_second_quantity(source: &Source<'_>, at: usize, end: usize, unit: Unit) -> Option<(Number, usize)> {
    let next = if range_follows(source, at, end) {
        at + 1
    } else {
        let word = source.skip_space(at, end);
        if source.byte(word) == b'-' && word > at && word + 1 < end && source.byte(word + 1) == b' ' {
            word + 2
        } else if is_portion(unit.dimension) {
            return None;
        } else {
            after_to(source, word, end)?
        }
    };
    let digits = scan_digits(source, next, end)?;
    let (second, after) = scan_unit(source, source.skip_space(digits.end, end), end)?;
    (second == unit && source.is_bound(after, end)).then_some(())?;
    Some((digits.number?, after))
}

/// Whether a quantity says how much of a thing.
pub(crate) fn is_portion(dimension: Dimension) -> bool {
    use Dimension::{Amount, Equivalents, Mass, MolPercent, Volume};
    matches!(dimension, Mass | Volume | Amount | Equivalents | MolPercent) || is_relative(dimension)
}

/// Whether a quantity is stated against an amount of something else.
pub(crate) fn is_relative(dimension: Dimension) -> bool {
    use Dimension::{AmountPerMass, MassPerAmount, MassPerMass, VolumePerAmount, VolumePerMass, VolumePerVolume};
    matches!(
        dimension,
        VolumePerAmount | VolumePerMass | MassPerAmount | MassPerMass | AmountPerMass | VolumePerVolume
    )
}

fn runs_down(source: &Source<'_>, range: Range<usize>, end: usize) -> Scanned {
    let words = quoted(source.str(range.clone()));
    let message = format!("{words} runs from the larger number to the smaller: write the smaller first, `to` between them, or a power of ten as `1e-3`.");
    Scanned { scan: Scan::Bad(Problem::new("range-runs-down", source.span(range), message)), end }
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
    if !word.is_empty() && source.is_bound(word_end, end) && is_near_unit(word) {
        return Some(Scanned { scan: Scan::Bad(unknown_unit(source, start..word_end)), end: word_end });
    }
    if !source.is_bound(stop, end) {
        // `20 mL to flask` and `5 to flask`: the number alone.
        return None;
    }
    let (Some(number), second) = (first.number, range.map(|(second, _)| second.number)) else {
        return Some(long_number(source, at..stop));
    };
    match second {
        Some(None) => Some(long_number(source, at..stop)),
        Some(Some(to)) => Some(Scanned { scan: Scan::Bare(number, Some(to)), end: stop }),
        None => Some(Scanned { scan: Scan::Bare(number, None), end: stop }),
    }
}

fn long_number(source: &Source<'_>, range: Range<usize>) -> Scanned {
    let end = range.end;
    let message = "This number has more digits than can be computed with: write at most 28.";
    Scanned { scan: Scan::Bad(Problem::new("number-too-long", source.span(range), message)), end }
}

pub(crate) fn unknown_unit(source: &Source<'_>, range: Range<usize>) -> Problem {
    let words = quoted(source.str(range.clone()));
    let message = format!(
        "The unit in {words} is not known. Units are written as in {}; letters that stand alone, and `mM`, keep their case.",
        list(&["mL", "g", "mg", "mmol", "eq", "mol%", "M", "°C", "min", "h", "mbar"])
    );
    Problem::new("unknown-unit", source.span(range), message)
}

/// A number without a unit where one of these is needed.
pub(crate) fn bare_number(source: &Source<'_>, range: Range<usize>, fit: &[Dimension]) -> Problem {
    let words = quoted(source.str(range.clone()));
    let units: Vec<&str> = fit.iter().flat_map(|&dimension| units_for(dimension).into_iter().take(2)).collect();
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

/// Where a number with an odd separator ends with its unit, or without one before a separator.
fn odd_number_end(source: &Source<'_>, stop: usize, end: usize, needs_unit: bool) -> Option<usize> {
    let unit_at = source.skip_space(stop, end);
    if let Some((_, after)) = scan_unit(source, unit_at, end).filter(|&(_, after)| source.is_bound(after, end)) {
        return Some(after);
    }
    let ends = stop >= end || source.byte(stop) != b' ' && source.is_bound(stop, end);
    (!needs_unit && ends).then_some(stop)
}

/// `2,5 mL` and `1,000 mL`.
fn scan_commas(source: &Source<'_>, at: usize, end: usize) -> Option<Scanned> {
    let first = at + usize::from(matches!(source.byte(at), b'-' | b'+'));
    let whole = digits_end(source, first, end);
    if whole == first || whole >= end || source.byte(whole) != b',' {
        return None;
    }
    let mut stop = whole;
    let (mut groups, mut threes) = (0, whole - first <= 3 && source.byte(first) != b'0');
    while stop < end && source.byte(stop) == b',' && groups <= MOST_GROUPS {
        let group = digits_end(source, stop + 1, end);
        if group == stop + 1 {
            break;
        }
        threes &= group - stop == 4;
        groups += 1;
        stop = group;
    }
    if groups == 0 || groups > 1 && !threes {
        return None;
    }
    let mut pointed = false;
    if threes && stop < end && source.byte(stop) == b'.' {
        let decimals = digits_end(source, stop + 1, end);
        pointed = decimals > stop + 1;
        if pointed {
            stop = decimals;
        }
    }
    let close = odd_number_end(source, stop, end, false)?;
    let span = source.span(at..close);
    let words = source.str(at..close);
    let number = source.span(at..stop);
    let written = source.str(at..stop);
    let rest = source.str(stop..close);
    let (pointless, point) = (written.replace(',', ""), written.replace(',', "."));
    let problem = if threes && (groups > 1 || pointed) {
        let message = format!("Numbers are written without commas: {} is `{pointless}{rest}`.", quoted(words));
        Problem::new("thousands", span, message).mend(format!("Write {pointless}{rest}"), number, pointless)
    } else if threes {
        let message =
            format!("{} has two readings: write `{pointless}{rest}` or `{point}{rest}`.", quoted(words));
        Problem::new("thousands", span, message)
            .mend(format!("Write {point}{rest}"), number, point)
            .mend(format!("Write {pointless}{rest}"), number, pointless)
    } else {
        let message = format!("Decimals are written with a point: `{point}{rest}`.");
        Problem::new("decimal-comma", span, message).mend(format!("Write {point}{rest}"), number, point)
    };
    Some(Scanned { scan: Scan::Bad(problem), end: close })
}

/// `1 000 mL`; only before a unit, since two numbers may stand side by side elsewhere.
fn scan_spaced_groups(source: &Source<'_>, at: usize, end: usize) -> Option<Scanned> {
    let whole = digits_end(source, at, end);
    if whole == at || whole - at > 3 || source.byte(at) == b'0' {
        return None;
    }
    let mut stop = whole;
    for _ in 0..MOST_GROUPS {
        if stop < end && source.byte(stop) == b' ' && digits_end(source, stop + 1, end) == stop + 4 {
            stop += 4;
        } else {
            break;
        }
    }
    if stop == whole {
        return None;
    }
    let close = odd_number_end(source, stop, end, true)?;
    let joined = source.str(at..stop).replace(' ', "");
    let rest = source.str(stop..close);
    let message = format!("Numbers are written without spaces: `{joined}{rest}`.");
    let problem = Problem::new("thousands", source.span(at..close), message)
        .mend(format!("Write {joined}{rest}"), source.span(at..stop), joined);
    Some(Scanned { scan: Scan::Bad(problem), end: close })
}

/// `- 78 °C`
fn scan_spaced_sign(source: &Source<'_>, at: usize, end: usize) -> Option<Scanned> {
    if source.byte(at) != b'-' || source.byte(at + 1) != b' ' {
        return None;
    }
    let first = source.skip_space(at + 1, end);
    source.byte(first).is_ascii_digit().then_some(())?;
    let digits = scan_digits(source, first, end)?;
    let (unit, after) = scan_unit(source, source.skip_space(digits.end, end), end)?;
    if unit.dimension != Dimension::Temperature || !source.is_bound(after, end) {
        return None;
    }
    let mended = format!("-{}", source.str(first..after));
    let message = format!("The sign belongs to its number, without a space: `{mended}`.");
    let problem = Problem::new("space-after-sign", source.span(at..after), message)
        .mend(format!("Write {mended}"), source.span(at..first), "-");
    Some(Scanned { scan: Scan::Bad(problem), end: after })
}

/// `4:1`, `80:20:1`: two numbers or more, and where they end.
pub(crate) fn scan_ratio(source: &Source<'_>, at: usize, end: usize) -> Option<(Vec<Number>, usize)> {
    let mut numbers = Vec::new();
    let mut stop = at;
    loop {
        if !source.byte(stop).is_ascii_digit() || stop >= end {
            return None;
        }
        let (number, after) = scan_number(source, stop, end)?;
        numbers.push(number);
        stop = after;
        if source.byte(stop) != b':' || stop >= end {
            break;
        }
        stop += 1;
    }
    (numbers.len() > 1).then_some((numbers, stop))
}

/// A count before `x` and the quantity after it, as in `3 x 20 mL`.
pub(crate) fn scan_times(source: &Source<'_>, at: usize, end: usize) -> Option<(u32, usize)> {
    let (times, stop) = scan_integer(source, at, end)?;
    let x = source.skip_space(stop, end);
    (x < end && matches!(source.byte(x), b'x' | b'X')).then_some(())?;
    let next = source.skip_space(x + 1, end);
    // `3xylene` is no count: a number or a space comes after the x.
    (next > x + 1 || next >= end || source.byte(next).is_ascii_digit()).then_some((times, next))
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
    let source = Source::new(text);
    let end = source.text.len();
    let mut found = Vec::new();
    let mut at = 0;
    while at < end {
        at = source.skip_space(at, end);
        while at < end && source.byte(at) == b'(' {
            at += 1;
        }
        match scan(&source, at, end) {
            Some(Scanned { scan: Scan::Quantity(quantity), end: stop }) => {
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
    let source = Source::new(text);
    match scan_whole(&source, source.trim(0..source.text.len()))? {
        Scan::Quantity(quantity) => Some(quantity),
        Scan::Bare(..) | Scan::Bad(_) => None,
    }
}

/// Whether digits stand alone: `5`, not `-5`, `5.0` or `5e1`.
pub(crate) fn is_plain_integer(source: &Source<'_>, at: usize, end: usize) -> Option<usize> {
    let digits = scan_digits(source, at, end)?;
    digits.plain.then_some(digits.end)
}

/// A span from the start of one to the end of another.
pub(crate) fn join(a: Span, b: Span) -> Span {
    Span { start: a.start, end: b.end }
}
