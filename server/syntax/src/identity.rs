//! Names as they are written: mixtures with their ratio, locants, CAS numbers.

use crate::ast::Text;
use crate::fold::Source;
use crate::line::skip_words;
use crate::number::Number;
use crate::numbers::scan_ratio;
use std::ops::Range;

/// `1,4-dioxane/water 4:1`, or with the ratio first or in brackets: as many names as numbers.
pub(crate) fn mixture(source: &Source<'_>, range: Range<usize>) -> Option<Vec<(Text, Number)>> {
    if !source.str(range.clone()).contains('/') {
        return None;
    }
    let (names, numbers) = ratio_first(source, &range).or_else(|| ratio_last(source, &range))?;
    split_mixture(source, names, &numbers)
}

/// The names of a mixture, one for each number of its ratio.
pub(crate) fn split_mixture(
    source: &Source<'_>,
    names: Range<usize>,
    numbers: &[Number],
) -> Option<Vec<(Text, Number)>> {
    let mut parts = Vec::with_capacity(numbers.len());
    let mut start = names.start;
    for name in source.str(names).split('/') {
        let range = source.trim(start..start + name.len());
        start += name.len() + 1;
        let number = numbers.get(parts.len())?;
        if range.is_empty() {
            return None;
        }
        parts.push((source.words(range), *number));
    }
    (parts.len() == numbers.len()).then_some(parts)
}

pub(crate) fn ratio_first(
    source: &Source<'_>,
    range: &Range<usize>,
) -> Option<(Range<usize>, Vec<Number>)> {
    let (numbers, stop) = scan_ratio(source, range.start, range.end)?;
    (source.byte(stop) == b' ').then(|| (source.trim(stop..range.end), numbers))
}

pub(crate) fn ratio_last(
    source: &Source<'_>,
    range: &Range<usize>,
) -> Option<(Range<usize>, Vec<Number>)> {
    let last = source
        .str(range.clone())
        .rfind(' ')
        .map(|at| range.start + at + 1)?;
    let bracket = source.byte(last) == b'(' && source.byte(range.end - 1) == b')';
    let ratio = last + usize::from(bracket)..range.end - usize::from(bracket);
    let (numbers, stop) = scan_ratio(source, ratio.start, ratio.end)?;
    (stop == ratio.end).then(|| (source.trim(range.start..last), numbers))
}

/// `1`, `1,1`, `N`: locants and nothing else.
pub(crate) fn is_locants(text: &str) -> bool {
    text.len() <= 24 && text.split(',').all(is_locant)
}

pub(crate) fn is_locant(text: &str) -> bool {
    let body = text.trim_end_matches('\'');
    let digits = body.trim_end_matches(|c: char| c.is_ascii_lowercase());
    matches!(body, "N" | "O" | "S" | "P" | "C")
        || !digits.is_empty()
            && digits.len() <= 3
            && body.len() - digits.len() <= 1
            && digits.bytes().all(|byte| byte.is_ascii_digit())
}

pub(crate) fn begins_with_locant(text: &str) -> bool {
    text.split_once('-').is_some_and(|(head, rest)| {
        is_locants(head) && rest.starts_with(|c: char| c.is_alphabetic() || matches!(c, '(' | '['))
    }) || is_locants(text)
}

/// `98-53-3`, `CAS 98-53-3`: the shape only; the check digit is for the library.
pub(crate) fn cas_number(source: &Source<'_>, range: &Range<usize>) -> Option<Text> {
    let at = match skip_words(source, range.start, range.end, "CAS") {
        Some(stop) => source.skip_space(stop, range.end),
        None => range.start,
    };
    let mut parts = source.str(at..range.end).split('-');
    let lengths = [parts.next()?, parts.next()?, parts.next()?];
    let digits = lengths
        .iter()
        .all(|part| part.bytes().all(|byte| byte.is_ascii_digit()));
    let shape =
        (2..=7).contains(&lengths[0].len()) && lengths[1].len() == 2 && lengths[2].len() == 1;
    (digits && shape && parts.next().is_none()).then(|| source.words(range.clone()))
}
