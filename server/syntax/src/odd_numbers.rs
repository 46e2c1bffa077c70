//! Numbers that the language does not write so: decimal commas, thousands, a sign apart. They are reported with
//! what they were probably meant as, and have no value.

use crate::fold::Source;
use crate::number::Dimension;
use crate::numbers::{digits_end, scan_digits};
use crate::plan_text::Problem;
use crate::problem::quoted;
use crate::quantities::{Scan, Scanned};
use crate::units::scan_unit;

/// Groups of three digits after the first, at most: more would not fit a decimal.
pub(crate) const MOST_GROUPS: usize = 9;

/// Where a number with an odd separator ends with its unit, or without one before a separator.
pub(crate) fn odd_number_end(
    source: &Source<'_>,
    stop: usize,
    end: usize,
    needs_unit: bool,
) -> Option<usize> {
    let unit_at = source.skip_space(stop, end);
    if let Some((_, after)) =
        scan_unit(source, unit_at, end).filter(|&(_, after)| source.is_bound(after, end))
    {
        return Some(after);
    }
    let ends = stop >= end || source.byte(stop) != b' ' && source.is_bound(stop, end);
    (!needs_unit && ends).then_some(stop)
}

/// A number in any of these ways; what follows its first digits says in which.
pub(crate) fn scan_odd(source: &Source<'_>, at: usize, end: usize) -> Option<Scanned> {
    let signed = matches!(source.byte(at), b'-' | b'+');
    let whole = digits_end(source, at + usize::from(signed), end);
    match source.byte(whole) {
        b',' => scan_commas(source, at, end),
        b' ' if signed => scan_spaced_sign(source, at, end),
        b' ' if source.byte(whole + 1).is_ascii_digit() => scan_spaced_groups(source, at, end),
        _ => None,
    }
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
        let message = format!(
            "Numbers are written without commas: {} is `{pointless}{rest}`.",
            quoted(words)
        );
        Problem::new("thousands", span, message).mend(
            format!("Write {pointless}{rest}"),
            number,
            pointless,
        )
    } else if threes {
        let message = format!(
            "{} has two readings: write `{pointless}{rest}` or `{point}{rest}`.",
            quoted(words)
        );
        Problem::new("thousands", span, message)
            .mend(format!("Write {point}{rest}"), number, point)
            .mend(format!("Write {pointless}{rest}"), number, pointless)
    } else {
        let message = format!("Decimals are written with a point: `{point}{rest}`.");
        Problem::new("decimal-comma", span, message).mend(
            format!("Write {point}{rest}"),
            number,
            point,
        )
    };
    Some(Scanned {
        scan: Scan::Bad(problem),
        end: close,
    })
}

/// `1 000 mL`; only before a unit, since two numbers may stand side by side elsewhere.
fn scan_spaced_groups(source: &Source<'_>, at: usize, end: usize) -> Option<Scanned> {
    let whole = digits_end(source, at, end);
    if whole == at || whole - at > 3 || source.byte(at) == b'0' {
        return None;
    }
    let mut stop = whole;
    for _ in 0..MOST_GROUPS {
        if stop < end && source.byte(stop) == b' ' && digits_end(source, stop + 1, end) == stop + 4
        {
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
    let problem = Problem::new("thousands", source.span(at..close), message).mend(
        format!("Write {joined}{rest}"),
        source.span(at..stop),
        joined,
    );
    Some(Scanned {
        scan: Scan::Bad(problem),
        end: close,
    })
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
    let problem = Problem::new("space-after-sign", source.span(at..after), message).mend(
        format!("Write {mended}"),
        source.span(at..first),
        "-",
    );
    Some(Scanned {
        scan: Scan::Bad(problem),
        end: after,
    })
}
