//! Lines that begin with a word of the language: scale, room, start and the remarks.

use crate::ast::{Block, RemarkKind, Scale, Span, Statement};
use crate::entry::split_fields;
use crate::fold::Source;
use crate::line::{LineWord, skip_words};
use crate::number::{Dimension, Quantity};
use crate::plan_text::Problem;
use crate::problem::quoted;
use crate::quantities::{Scan, bare_number, scan, scan_whole};
use crate::reaction::arrow;
use std::ops::Range;

pub(crate) fn read_statement(
    source: &Source<'_>,
    word: LineWord,
    at: &Range<usize>,
    rest: Range<usize>,
    block: Block,
    whole: &Range<usize>,
    problems: &mut Vec<Problem>,
) -> Statement {
    let span = source.span(at.clone());
    if let Some(kind) = word.remark() {
        if rest.is_empty() {
            let message = format!("Text is missing after {}.", quoted(source.str(at.clone())));
            problems.push(Problem::new("missing-text", span, message));
            return Statement::Remark(kind, None);
        }
        return Statement::Remark(kind, Some(source.words(rest)));
    }
    let remark = || Statement::Remark(RemarkKind::Remark, Some(source.words(whole.clone())));
    match word {
        LineWord::Start => {
            let time = clock(source.str(rest.clone()));
            if time.is_none() {
                let message = "Write the time of day after `start`, as in `start 9:00`.";
                problems.push(Problem::new(
                    "start-needs-time",
                    source.span(whole.clone()),
                    message,
                ));
                if block == Block::Steps {
                    return remark();
                }
            }
            Statement::Start(time.map(|minutes| (minutes, source.span(rest))))
        }
        LineWord::Reaction if block == Block::Steps && arrow(source, &rest).is_none() => {
            let message =
                "An equation needs an arrow, as in `a + b -> c`; a remark begins with `note`.";
            problems.push(Problem::new(
                "reaction-needs-arrow",
                source.span(whole.clone()),
                message,
            ));
            remark()
        }
        LineWord::Scale => Statement::Scale(read_scale(source, rest, span, problems)),
        LineWord::Room => Statement::Room(read_room(source, rest, problems)),
        // The equation is read against the keys.
        _ => Statement::Blank,
    }
}

/// `9:00` as minutes after midnight.
pub(crate) fn clock(text: &str) -> Option<u16> {
    let (hours, minutes) = text.split_once(':')?;
    let shape = (1..=2).contains(&hours.len()) && minutes.len() == 2;
    let digits = hours
        .bytes()
        .chain(minutes.bytes())
        .all(|byte| byte.is_ascii_digit());
    let (hours, minutes) = (hours.parse::<u16>().ok()?, minutes.parse::<u16>().ok()?);
    (shape && digits && hours < 24 && minutes < 60).then_some(hours * 60 + minutes)
}

pub(crate) fn read_scale(
    source: &Source<'_>,
    rest: Range<usize>,
    word: Span,
    problems: &mut Vec<Problem>,
) -> Scale {
    let mut scale = Scale {
        quantity: None,
        key: None,
    };
    // `scale ketone 5.00 mmol` reads too.
    let first = source.word_end(rest.start, rest.end);
    let (mut at, mut key) = (rest.start, None);
    if scan(source, at, rest.end).is_none() {
        key = Some(rest.start..first).filter(|key| !key.is_empty());
        at = source.skip_space(first, rest.end);
    }
    let mut tail = at..rest.end;
    let mut reported = false;
    if let Some(scanned) = scan(source, at, rest.end) {
        let range = at..scanned.end;
        tail = source.trim(scanned.end..rest.end);
        match scanned.scan {
            Scan::Quantity(quantity) => {
                if matches!(
                    quantity.unit.dimension,
                    Dimension::Amount | Dimension::Mass | Dimension::Volume
                ) {
                    scale.quantity = Some(quantity);
                } else {
                    let message = format!(
                        "{} is no amount, mass or volume: write the scale as in `scale 5.00 mmol ketone`.",
                        quoted(source.str(range))
                    );
                    problems.push(Problem::new("unit-does-not-fit", quantity.span, message));
                    reported = true;
                }
            }
            Scan::Bare(..) => {
                problems.push(bare_number(
                    source,
                    range,
                    &[Dimension::Amount, Dimension::Mass, Dimension::Volume],
                ));
                reported = true;
            }
            Scan::Bad(problem) => {
                problems.push(problem);
                reported = true;
            }
        }
    }
    if let Some(stop) = skip_words(source, tail.start, tail.end, "of") {
        tail = source.trim(stop..tail.end);
    }
    if key.is_none() && !tail.is_empty() {
        key = Some(tail.start..source.word_end(tail.start, tail.end));
        tail = source.trim(source.word_end(tail.start, tail.end)..tail.end);
    }
    if !tail.is_empty() {
        let message = format!(
            "{} is not read: the scale is a quantity and a key, as in `scale 5.00 mmol ketone`.",
            quoted(source.str(tail.clone()))
        );
        problems.push(Problem::new("bad-field", source.span(tail), message));
    }
    if scale.quantity.is_none() && !reported {
        let message = "Write how much after `scale`, as in `scale 5.00 mmol ketone`.";
        problems.push(Problem::new("scale-needs-quantity", word, message));
    }
    if key.is_none() {
        let message = "Write whose amount this is, as in `scale 5.00 mmol ketone`.";
        problems.push(Problem::new("scale-needs-key", word, message));
    }
    scale.key = key.map(|key| source.words(key));
    scale
}

pub(crate) fn read_room(
    source: &Source<'_>,
    rest: Range<usize>,
    problems: &mut Vec<Problem>,
) -> Vec<Quantity> {
    let mut quantities = Vec::new();
    for field in split_fields(source, &rest, problems) {
        let problem = match scan_whole(source, field.clone()) {
            Some(Scan::Quantity(quantity))
                if matches!(
                    quantity.unit.dimension,
                    Dimension::Temperature | Dimension::Humidity | Dimension::Pressure
                ) =>
            {
                quantities.push(quantity);
                continue;
            }
            Some(Scan::Bad(problem)) => problem,
            _ => {
                let message = format!(
                    "{} does not describe the room: write `room 21 °C, 45 % RH`.",
                    quoted(source.str(field.clone()))
                );
                Problem::new("bad-field", source.span(field), message)
            }
        };
        problems.push(problem);
    }
    quantities
}
