//! A line of equipment: its sizes, how many, and what it can hold.

use crate::ast::{Equipment, EquipmentKind};
use crate::fold::{Folded, Source};
use crate::line::skip_words;
use crate::number::{Bound, Dimension, Quantity};
use crate::numbers::{is_plain_integer, scan_integer, scan_number, scan_times};
use crate::plan_text::Problem;
use crate::quantities::{Scan, Scanned, scan};
use crate::units::scan_unit;
use crate::words::{is_one_of, number_word};
use std::ops::Range;

const VESSELS: &[&str] = &["flask", "tube", "reactor", "autoclave", "vessel"];
const HOLDERS: &[&str] = &[
    "vial", "funnel", "syringe", "trap", "balloon", "beaker", "dish", "bottle", "cylinder",
    "column", "jar", "ampoule",
];

/// Reads a line of equipment.
pub(crate) fn read_equipment(
    source: &Source<'_>,
    key: Range<usize>,
    body: Range<usize>,
    problems: &mut Vec<Problem>,
) -> Equipment {
    let leading = leading_sizes(source, &body);
    let mut sizes = leading.sizes;
    let first = first_volume(source, leading.end..body.end, problems);
    if sizes.is_empty() {
        sizes.extend(first);
    }
    let head = head(source, leading.end..body.end);
    let kind = kind(&head, source.str(body.clone()));
    Equipment {
        key: source.words(key),
        text: source.words(body),
        sizes,
        number: leading.number,
        kind,
        head: head.into(),
    }
}

struct Leading {
    sizes: Vec<Quantity>,
    number: Option<u32>,
    /// Where the words begin.
    end: usize,
}

/// `2 mL, 5 mL and 20 mL`, `2 x 50 mL` or `3` at the start.
fn leading_sizes(source: &Source<'_>, body: &Range<usize>) -> Leading {
    let mut leading = Leading {
        sizes: Vec::new(),
        number: None,
        end: body.start,
    };
    let mut at = body.start;
    if let Some((times, next)) = scan_times(source, at, body.end)
        && let Some((_, stop)) = volume(source, next, body.end)
    {
        leading.number = Some(times);
        leading.end = stop;
        at = next;
    }
    let first = source.word_end(at, body.end);
    if let Some(count) = number_word(source.str(at..first)) {
        leading.number = Some(count);
        leading.end = first;
        at = source.skip_space(first, body.end);
    }
    while let Some((quantity, stop)) = volume(source, at, body.end) {
        leading.sizes.push(quantity);
        leading.end = stop;
        let mut next = source.skip_space(stop, body.end);
        if source.is_separator(next, body.end) {
            next = source.skip_space(next + 1, body.end);
        }
        if let Some(stop) = skip_words(source, next, body.end, "and") {
            next = source.skip_space(stop, body.end);
        }
        if next <= stop {
            break;
        }
        at = next;
    }
    if leading.sizes.is_empty()
        && leading.number.is_none()
        && let Some(stop) = is_plain_integer(source, body.start, body.end)
        && source.byte(stop) == b' '
        && scan(source, body.start, body.end)
            .is_some_and(|scanned| matches!(scanned.scan, Scan::Bare(_, None)))
    {
        leading.number = scan_integer(source, body.start, body.end).map(|(count, _)| count);
        leading.end = stop;
    }
    leading
}

fn volume(source: &Source<'_>, at: usize, end: usize) -> Option<(Quantity, usize)> {
    match scan(source, at, end) {
        Some(Scanned {
            scan: Scan::Quantity(quantity),
            end,
        }) if quantity.unit.dimension == Dimension::Volume => Some((quantity, end)),
        Some(_) => None,
        None => hyphenated(source, at, end),
    }
}

/// `250-mL flask`
fn hyphenated(source: &Source<'_>, at: usize, end: usize) -> Option<(Quantity, usize)> {
    let (number, hyphen) = scan_number(source, at, end)?;
    (source.byte(hyphen) == b'-').then_some(())?;
    let (unit, stop) = scan_unit(source, hyphen + 1, end)?;
    let fits = unit.dimension == Dimension::Volume && source.is_bound(stop, end);
    fits.then(|| {
        let unit_span = source.span(hyphen + 1..stop);
        let span = source.span(at..stop);
        (
            Quantity {
                number,
                to: None,
                unit,
                unit_span,
                bound: Bound::Exact,
                span,
            },
            stop,
        )
    })
}

/// The first volume among the words; numbers whose commas are in the way are reported.
fn first_volume(
    source: &Source<'_>,
    range: Range<usize>,
    problems: &mut Vec<Problem>,
) -> Option<Quantity> {
    let mut found = None;
    let mut at = range.start;
    while at < range.end {
        at = source.skip_space(at, range.end);
        match scan(source, at, range.end).map(|scanned| scanned.scan) {
            Some(Scan::Quantity(quantity)) if quantity.unit.dimension == Dimension::Volume => {
                found = found.or(Some(quantity));
            }
            Some(Scan::Bad(problem)) if matches!(problem.code, "thousands" | "decimal-comma") => {
                problems.push(problem)
            }
            Some(_) => {}
            None => found = found.or_else(|| Some(hyphenated(source, at, range.end)?.0)),
        }
        at = source.word_end(at, range.end);
    }
    found
}

/// The last word of the first field, before `with`, `in` and their like.
fn head(source: &Source<'_>, range: Range<usize>) -> String {
    let stop = source.separator(range.clone());
    let field = source.str(range.start.min(stop)..stop);
    let words = field.split(' ').filter(|word| !word.is_empty());
    let head = words
        .take_while(|word| !is_one_of(word, &["with", "in", "of", "for", "on"]))
        .last();
    head.unwrap_or_default().to_owned()
}

fn kind(head: &str, text: &str) -> EquipmentKind {
    let word = singular(head);
    if text.to_ascii_lowercase().contains("drying tube") {
        EquipmentKind::Tool
    } else if is_one_of(&word, VESSELS) {
        EquipmentKind::Vessel
    } else if is_one_of(&word, HOLDERS) {
        EquipmentKind::Holder
    } else {
        EquipmentKind::Tool
    }
}

impl Equipment {
    /// The words of its first field without sizes: `syringe pump`, `glass syringes`.
    pub(crate) fn description(&self) -> String {
        let folded = Folded::new(&self.text.text);
        let source = folded.source();
        let body = 0..source.text.len();
        let start = leading_sizes(&source, &body).end;
        let stop = source.separator(start..body.end);
        source.str(source.trim(start..stop)).to_owned()
    }
}

/// `syringes` is `syringe`, `dishes` is `dish`.
pub(crate) fn singular(word: &str) -> String {
    let lower = word.to_lowercase();
    match lower.strip_suffix("es") {
        Some(stem) if stem.ends_with("sh") || stem.ends_with('x') || stem.ends_with("ss") => {
            stem.to_owned()
        }
        _ if lower.ends_with("ss") => lower,
        _ => lower.strip_suffix('s').unwrap_or(&lower).to_owned(),
    }
}
