//! TOML files that people keep by hand beside their plans: what is wrong in one table takes no other with it.

use crate::context::Date;
use std::ops::Range;
use std::sync::Arc;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A file that plans are read against.
pub trait Kept: Sized {
    /// Its name; the nearest one upwards from a plan counts.
    const FILE: &str;

    /// Reads it. What cannot be read is a problem, and takes only its own table with it.
    fn read(text: &str) -> Self;

    /// One that is there and could not be read as a text, with the reason and what to do.
    fn unreadable(reason: String) -> Self;

    /// The text that it was read from; every range is bytes of it.
    fn text(&self) -> &Arc<str>;

    /// What is wrong with it.
    fn problems(&self) -> &[Problem];
}

/// Something wrong with such a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Where.
    pub range: Range<usize>,
    /// What is wrong and what to do.
    pub message: String,
}

impl Problem {
    pub(crate) fn of_the_whole(message: String) -> Problem {
        Problem {
            range: 0..0,
            message,
        }
    }
}

/// A stretch of a file: all of it if it is TOML, and its tables one by one if it is not.
pub(crate) struct Part<'a> {
    pub(crate) text: &'a str,
    pub(crate) start: usize,
    pub(crate) root: Result<DeTable<'a>, toml::de::Error>,
}

/// The parts of a file.
pub(crate) fn parts(text: &str) -> Vec<Part<'_>> {
    let part = |range: Range<usize>| {
        let alone = text.get(range.clone())?;
        Some(Part {
            text: alone,
            start: range.start,
            root: DeTable::parse(alone).map(Spanned::into_inner),
        })
    };
    let whole = part(0..text.len());
    if whole.as_ref().is_none_or(|whole| whole.root.is_ok()) {
        return whole.into_iter().collect();
    }
    let mut parts: Vec<Part<'_>> = tables(text).into_iter().filter_map(part).collect();
    // What is wrong only as a whole.
    if parts.iter().all(|part| part.root.is_ok()) {
        parts.extend(whole);
    }
    parts
}

impl Part<'_> {
    /// Why it is no TOML.
    pub(crate) fn problem(&self, error: &toml::de::Error) -> Problem {
        let first_line = 0..self.text.lines().next().map_or(0, str::len);
        let range = error.span().unwrap_or(first_line);
        Problem {
            range: shift(range.start..range.end.max(range.start), self.start),
            message: format!(
                "This table cannot be read as TOML, so it does not count: {}. Mend it here.",
                error.message().trim_end_matches('.').replace('\n', ", ")
            ),
        }
    }
}

/// The stretches from one line that begins a table to the next.
fn tables(text: &str) -> Vec<Range<usize>> {
    let mut starts = vec![0];
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        if line.trim_start().starts_with('[') && at > 0 {
            starts.push(at);
        }
        at += line.len();
    }
    let ends = starts.iter().skip(1).copied().chain([text.len()]);
    starts
        .iter()
        .copied()
        .zip(ends)
        .map(|(start, end)| start..end)
        .collect()
}

pub(crate) fn shift(range: Range<usize>, by: usize) -> Range<usize> {
    range.start + by..range.end + by
}

/// One table, `text` being the whole and `start` the place of what was parsed.
pub(crate) struct Reader<'a> {
    pub(crate) text: &'a str,
    pub(crate) table: &'a DeTable<'a>,
    pub(crate) start: usize,
}

/// A value with its place, if the key is there.
pub(crate) type Read<T> = Result<Option<(T, Range<usize>)>, Problem>;

impl Reader<'_> {
    /// From its first key to its last value.
    pub(crate) fn range(&self) -> Option<Range<usize>> {
        let start = self.table.keys().map(|key| key.span().start).min()?;
        let end = self.table.values().map(|value| value.span().end).max()?;
        Some(shift(start..end, self.start))
    }

    pub(crate) fn value(&self, key: &str) -> Option<&Spanned<DeValue<'_>>> {
        self.table
            .iter()
            .find(|(found, _)| &**found.get_ref() == key)
            .map(|(_, value)| value)
    }

    pub(crate) fn string(&self, key: &str) -> Read<String> {
        let Some(value) = self.value(key) else {
            return Ok(None);
        };
        let range = shift(value.span(), self.start);
        let fault = |message: String| Problem {
            range: range.clone(),
            message,
        };
        let DeValue::String(text) = value.get_ref() else {
            let number = match value.get_ref() {
                DeValue::Integer(number) => number.as_str(),
                DeValue::Float(number) => number.as_str(),
                _ => "98",
            };
            return Err(fault(match key {
                "assay" => format!("`{key}` is a text with a unit: write \"{number} %\"."),
                _ => format!(
                    "`{key}` is a text: write it in quotes, with its unit if it is a quantity."
                ),
            }));
        };
        let text = text.trim();
        if text.is_empty() {
            return Err(fault(format!(
                "`{key}` is empty: fill it in, or delete the line."
            )));
        }
        if text.chars().any(char::is_control) {
            return Err(fault(format!(
                "`{key}` is one line without tabs: write it so."
            )));
        }
        Ok(Some((text.to_owned(), range)))
    }

    pub(crate) fn date(&self, key: &str) -> Result<Option<Date>, Problem> {
        let Some(value) = self.value(key) else {
            return Ok(None);
        };
        let date = match value.get_ref() {
            DeValue::Datetime(at) => at.date,
            _ => None,
        };
        let date = date.and_then(|date| Date::new(date.year, date.month, date.day));
        date.map(Some).ok_or_else(|| Problem {
            range: shift(value.span(), self.start),
            message: format!("`{key}` is a date: write it as 2026-03-02, without quotes."),
        })
    }

    /// Keys that look like one of ours.
    pub(crate) fn misspelt(&self, known: &'static [&'static str]) -> impl Iterator<Item = Problem> {
        self.table.keys().filter_map(move |key| {
            let word = key.get_ref();
            if known.contains(&&**word) {
                return None;
            }
            let lower = word.to_lowercase().replace('_', "-");
            let near = known.iter().find(|near| {
                let far = if near.len() > 5 { 2 } else { 1 };
                strsim::osa_distance(near, &lower) <= far
            })?;
            Some(Problem {
                range: shift(key.span(), self.start),
                message: format!("`{word}` is not read: did you mean `{near}`?"),
            })
        })
    }
}

/// The value; a problem is put with the others.
pub(crate) fn kept<T>(read: Result<Option<T>, Problem>, problems: &mut Vec<Problem>) -> Option<T> {
    read.unwrap_or_else(|problem| {
        problems.push(problem);
        None
    })
}
