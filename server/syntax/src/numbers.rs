//! Numbers, exact and with the digits that were written.

use crate::fold::Source;
use crate::number::Number;
use rust_decimal::Decimal;
use std::ops::Range;

/// A number's value, or none where it has more digits than can be held.
pub(crate) struct Digits {
    pub(crate) number: Option<Number>,
    pub(crate) start: usize,
    pub(crate) end: usize,
    /// Digits alone, without sign, point and exponent.
    pub(crate) plain: bool,
}

/// The most digits that a decimal holds whatever they are.
pub(crate) const MOST_DIGITS: usize = 28;

/// So many digits fit an `i64`.
const FEW_DIGITS: usize = 18;

pub(crate) fn digits_end(source: &Source<'_>, mut at: usize, end: usize) -> usize {
    while at < end && source.byte(at).is_ascii_digit() {
        at += 1;
    }
    at
}

pub(crate) fn scan_digits(source: &Source<'_>, at: usize, end: usize) -> Option<Digits> {
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
    let number = value(
        source,
        mantissa,
        source.byte(at) == b'-',
        decimals,
        exponent,
    )
    .map(|(value, last_digit)| Number {
        value,
        last_digit,
        span: source.span(at..after),
    });
    let plain = !signed && after == whole;
    Some(Digits {
        number,
        start: at,
        end: after,
        plain,
    })
}

/// The value of a mantissa, and the power of ten of its last digit.
pub(crate) fn value(
    source: &Source<'_>,
    mantissa: Range<usize>,
    negative: bool,
    decimals: usize,
    exponent: Option<i32>,
) -> Option<(Decimal, i32)> {
    if mantissa.len() > MOST_DIGITS * 2 {
        return None;
    }
    let last_digit = exponent?.checked_sub(i32::try_from(decimals).ok()?)?;
    let few = mantissa.len() <= FEW_DIGITS;
    let digits = source.str(mantissa).bytes().filter(u8::is_ascii_digit);
    // Nearly all numbers are short, and small integers are quick.
    if few && (-20..=0).contains(&last_digit) {
        let whole = digits.fold(0, |whole, digit| whole * 10 + i64::from(digit - b'0'));
        let whole = if negative { -whole } else { whole };
        let value = Decimal::try_new(whole, last_digit.unsigned_abs()).ok()?;
        return Some((value, last_digit));
    }
    let mut whole: i128 = 0;
    for digit in digits {
        whole = whole
            .checked_mul(10)?
            .checked_add(i128::from(digit - b'0'))?;
    }
    if last_digit > 0 {
        whole = whole.checked_mul(10i128.checked_pow(u32::try_from(last_digit).ok()?)?)?;
    }
    let scale = u32::try_from(-last_digit.min(0)).ok()?;
    let value =
        Decimal::try_from_i128_with_scale(if negative { -whole } else { whole }, scale).ok()?;
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

/// Whether digits stand alone: `5`, not `-5`, `5.0` or `5e1`.
pub(crate) fn is_plain_integer(source: &Source<'_>, at: usize, end: usize) -> Option<usize> {
    let digits = scan_digits(source, at, end)?;
    digits.plain.then_some(digits.end)
}

/// `4:1`, `80:20:1`: two numbers or more, and where they end.
pub(crate) fn scan_ratio(
    source: &Source<'_>,
    at: usize,
    end: usize,
) -> Option<(Vec<Number>, usize)> {
    let mut numbers = Vec::new();
    let mut stop = at;
    loop {
        if !source.byte(stop).is_ascii_digit() || stop >= end {
            return None;
        }
        let (number, after) = scan_number(source, stop, end)?;
        if numbers.is_empty() && source.byte(after) != b':' {
            return None;
        }
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
