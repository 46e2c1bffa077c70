//! From the text of a file to its plans, and from the text of a plan to its lines.
//!
//! First every line is read alone, given the block that it stands in. Then the keys are collected, and what
//! refers to them is read.

use crate::ast::{Block, Place, RemarkKind, Span, Statement};
use crate::declare::{begins_with_quantity, collect_keys, missing_key, report_key};
use crate::entry::read_entry;
use crate::equipment::read_equipment;
use crate::fold::{Folded, Source, offset};
use crate::keys::Keys;
use crate::line::{Colon, Kind, PlaceEnd, classify, comment_start, is_entry_block, is_plan_line};
use crate::plan_text::{KeyKind, Line, PlanText, Problem};
use crate::problem::quoted;
use crate::refer::resolve;
use crate::statement::read_statement;
use crate::step::Scratch;
use std::ops::Range;
use std::sync::Arc;

/// More problems than this on one line help nobody.
pub(crate) const MOST_PROBLEMS: usize = 100;

/// The lines of a text: where each begins, its length, and the length of its end (LF, CRLF or CR).
pub(crate) fn line_stretches(text: &str) -> impl Iterator<Item = (Range<usize>, usize)> {
    let bytes = text.as_bytes();
    let mut at = 0;
    let mut done = false;
    std::iter::from_fn(move || {
        if done {
            return None;
        }
        let start = at;
        let rest = bytes.get(start..).unwrap_or_default();
        let Some(end) = memchr::memchr2(b'\n', b'\r', rest).map(|n| start + n) else {
            done = true;
            return Some((start..bytes.len(), 0));
        };
        let eol = if bytes.get(end) == Some(&b'\r') && bytes.get(end + 1) == Some(&b'\n') {
            2
        } else {
            1
        };
        at = end + eol;
        Some((start..end, eol))
    })
}

/// The plans of a file: each runs from its plan line to the next. What stands before the first plan line is a
/// plan without a title. The ranges tile the text; an empty file is one empty plan.
#[must_use]
pub fn plan_ranges(text: &str) -> Vec<Range<usize>> {
    let mut ranges = Vec::new();
    let mut start = 0;
    for (line, _) in line_stretches(text) {
        if line.start > start && text.get(line.clone()).is_some_and(is_plan_line) {
            ranges.push(start..line.start);
            start = line.start;
        }
    }
    ranges.push(start..text.len());
    ranges
}

/// A line as it stands in its plan.
pub(crate) struct Stretch<'a> {
    range: Range<usize>,
    /// Bytes of its line end.
    pub(crate) eol: usize,
    folded: Folded<'a>,
}

/// The lines of a part of a plan.
pub(crate) fn stretches(text: &str, part: Range<usize>) -> Vec<Stretch<'_>> {
    let read = text.get(part.clone()).unwrap_or_default();
    /// Most lines are longer.
    const LENGTH: usize = 32;
    let mut stretches = Vec::with_capacity(read.len() / LENGTH + 1);
    stretches.extend(line_stretches(read).map(|(range, eol)| Stretch {
        folded: Folded::new(read.get(range.clone()).unwrap_or_default()),
        range: range.start + part.start..range.end + part.start,
        eol,
    }));
    stretches
}

/// A line between the two passes.
pub(crate) struct Draft<'a> {
    pub(crate) source: Source<'a>,
    pub(crate) kind: Kind,
    pub(crate) line: Line,
}

impl Draft<'_> {
    /// What is wrong with the block that it stands in.
    pub(crate) fn misplaced(&self) -> Option<&'static str> {
        let block = self.line.block;
        match &self.kind {
            Kind::Entry { .. } if !is_entry_block(block) => Some("entry-outside-block"),
            Kind::Place { .. } | Kind::Step { .. } if block != Block::Steps => {
                Some("step-outside-steps")
            }
            _ => None,
        }
    }
}

/// Reads one plan. Never fails: what cannot be read is kept as text, with its problem.
#[must_use]
pub fn read_plan(text: &str) -> PlanText {
    let mut block = Block::None;
    let stretches = stretches(text, 0..text.len());
    let read = stretches.iter();
    let mut drafts: Vec<Draft<'_>> = read.map(|line| read_alone(line, &mut block)).collect();
    let mut run = Run::default();
    for draft in &mut drafts {
        run.report(draft);
    }
    let keys = collect_keys(&mut drafts);
    let mut scratch = Scratch::default();
    for draft in &mut drafts {
        resolve(draft, &keys, &mut scratch);
        draft.line.problems.truncate(MOST_PROBLEMS);
    }
    let mut lines: Vec<Line> = Vec::with_capacity(drafts.len());
    lines.extend(drafts.into_iter().map(|draft| draft.line));
    whole_plan(&mut lines, &keys);
    PlanText {
        text: Arc::from(text),
        lines,
        keys: keys.list,
        index: keys.index,
        kept: 0,
    }
}

/// What is said once for a run of lines in the wrong block.
#[derive(Default)]
struct Run {
    last: Option<&'static str>,
}

impl Run {
    fn report(&mut self, draft: &mut Draft<'_>) {
        if matches!(draft.kind, Kind::Blank) {
            return;
        }
        let code = draft.misplaced();
        if let Some(code) = code
            && self.last != Some(code)
        {
            let message = match code {
                "entry-outside-block" => {
                    "This line belongs below `materials`, `products` or `equipment`."
                }
                _ => "This line belongs below `steps`.",
            };
            let span = body_span(draft);
            draft.line.problems.push(Problem::new(code, span, message));
        }
        self.last = code;
    }
}

/// The line without comment and outer white space, folded.
fn body(source: &Source<'_>, comment: Option<usize>) -> Range<usize> {
    source.trim(0..comment.unwrap_or(source.text.len()))
}

fn body_span(draft: &Draft<'_>) -> Span {
    let source = &draft.source;
    source.span(body(source, comment_start(source)))
}

/// Reads a line given its block alone; what needs keys is left for `resolve`.
pub(crate) fn read_alone<'a>(stretch: &'a Stretch<'_>, block: &mut Block) -> Draft<'a> {
    let source = stretch.folded.source();
    let comment_at = comment_start(&source);
    let whole = body(&source, comment_at);
    let comment = comment_at.map(|at| source.span(at..source.text.len()));
    let kind = classify(&source, whole.clone(), *block);
    let mut problems = Vec::new();
    if let Some(span) = source
        .invisible
        .filter(|span| comment.is_none_or(|comment| span.start < comment.start))
    {
        let message = "A character that cannot be seen stands here and is read as a space.";
        problems.push(Problem::new("invisible-character", span, message).mend(
            "Write a space",
            span,
            " ",
        ));
    }
    let no_colon = |at: usize, word: &Range<usize>| {
        let colon = source.str(at..whole.end).find(':').map_or(at, |n| at + n);
        let span = source.span(colon..colon + 1);
        let message = format!("No colon follows {}.", quoted(source.str(word.clone())));
        Problem::new("no-colon", span, message).mend("Delete the colon", span, "")
    };
    let mut stands_in = *block;
    let statement = match &kind {
        Kind::Blank => Statement::Blank,
        Kind::Plan { title, colon } => {
            if *colon {
                problems.push(no_colon(whole.start, &(whole.start..whole.start + 4)));
            }
            *block = Block::None;
            stands_in = Block::None;
            Statement::Plan((!title.is_empty()).then(|| source.words(title.clone())))
        }
        Kind::Header {
            block: header,
            word,
            colon,
            rest,
            misspelt,
        } => {
            *block = *header;
            stands_in = *header;
            if let Some(meant) = misspelt {
                let span = source.span(word.clone());
                let message = format!(
                    "{} is read as `{meant}`: correct its spelling.",
                    quoted(source.str(word.clone()))
                );
                problems.push(Problem::new("misspelt-header", span, message).mend(
                    format!("Write {meant}"),
                    span,
                    *meant,
                ));
            }
            if *colon {
                problems.push(no_colon(word.end, word));
            }
            if !rest.is_empty() {
                let span = source.span(rest.clone());
                let message = format!(
                    "{} stands alone on its line: begin a new line here.",
                    quoted(source.str(word.clone()))
                );
                problems.push(Problem::new("header-stands-alone", span, message).mend(
                    "Begin a new line",
                    span_before(span),
                    "\n",
                ));
            }
            Statement::Header(*header)
        }
        Kind::Statement {
            word,
            at,
            colon,
            rest,
        } => {
            if *colon {
                problems.push(no_colon(at.end, at));
            }
            read_statement(
                &source,
                *word,
                at,
                rest.clone(),
                *block,
                &whole,
                &mut problems,
            )
        }
        // What is other in a run is read against the keys.
        Kind::Entry { .. } if *block == Block::Runs => Statement::Blank,
        Kind::Entry {
            key,
            colon: Colon::Missing,
            ..
        } if let Some(stop) = begins_with_quantity(&source, key.start) => {
            problems.push(missing_key(&source, key.start, stop));
            Statement::Unread(source.words(whole.clone()))
        }
        Kind::Entry { key, colon, body } => {
            report_key(&source, key.clone(), *colon, &mut problems);
            if *block == Block::Equipment {
                if body.is_empty() {
                    let message = "Say what it is: `100 mL two-neck flask, septum`.";
                    problems.push(Problem::new(
                        "missing-identity",
                        source.span(key.clone()),
                        message,
                    ));
                }
                Statement::Equipment(read_equipment(
                    &source,
                    key.clone(),
                    body.clone(),
                    &mut problems,
                ))
            } else {
                let named = *colon != Colon::Missing;
                Statement::Entry(Arc::new(read_entry(
                    &source,
                    key.clone(),
                    body.clone(),
                    *block,
                    named,
                    &mut problems,
                )))
            }
        }
        Kind::Place {
            kind, whole, end, ..
        } => {
            match end {
                PlaceEnd::Alone => {}
                PlaceEnd::Colon(at) => {
                    let span = source.span(*at..*at + 1);
                    let message = "No colon follows a place.";
                    problems.push(Problem::new("no-colon", span, message).mend(
                        "Delete the colon",
                        span,
                        "",
                    ));
                }
                PlaceEnd::More(at) => {
                    let span = source.span(*at..whole.end);
                    let next = source.skip_space(*at + 1, whole.end);
                    let problem = Problem::new(
                        "one-step-a-line",
                        span,
                        "A place stands alone on its line: begin a new line here.",
                    );
                    problems.push(problem.mend("Begin a new line", source.span(*at..next), "\n"));
                }
            }
            Statement::Place(Place {
                kind: *kind,
                thing: None,
                span: source.span(whole.clone()),
            })
        }
        Kind::Step { .. } => Statement::Blank,
        Kind::Remark => Statement::Remark(RemarkKind::Remark, Some(source.words(whole.clone()))),
        Kind::Other => {
            let text = source.words(whole.clone());
            problems.push(Problem::new(
                "unknown-line",
                text.span,
                unknown_line(*block),
            ));
            Statement::Unread(text)
        }
    };
    let line = Line {
        start: offset(stretch.range.start),
        len: offset(stretch.range.len()),
        eol: offset(stretch.eol),
        block: stands_in,
        statement,
        comment,
        problems,
    };
    Draft { source, kind, line }
}

/// The empty stretch before a span.
fn span_before(span: Span) -> Span {
    Span {
        start: span.start,
        end: span.start,
    }
}

fn unknown_line(block: Block) -> &'static str {
    match block {
        Block::None => {
            "This line says nothing that a plan begins with: write `scale`, `reaction`, `room`, `note`, or a header such as `materials`."
        }
        Block::Steps => "This line is no step: begin with a verb.",
        Block::Runs => "A line here reads `LABEL: 5.00 mmol` or `LABEL: KEY is NAME`.",
        _ => "A line here reads `key: what it is, …`.",
    }
}

/// What is said once of a whole plan.
fn whole_plan(lines: &mut [Line], keys: &Keys) {
    let says_something = |line: &&mut Line| line.statement != Statement::Blank;
    if let Some(line) = lines.iter_mut().find(says_something)
        && !matches!(line.statement, Statement::Plan(_))
    {
        let span = Span {
            start: 0,
            end: line.len,
        };
        let message = "A plan begins with `plan TITLE`.";
        line.problems
            .insert(0, Problem::new("no-plan-line", span, message));
    }
    // Without any entry every name would be unknown: one remark says it better than many.
    if keys.list.iter().all(|key| key.kind == KeyKind::Kept) {
        let mut said = false;
        for line in lines {
            let unknown = line
                .problems
                .iter()
                .position(|problem| problem.code == "unknown-key");
            line.problems
                .retain(|problem| problem.code != "unknown-key");
            if unknown.is_some() && !said {
                said = true;
                let span = Span {
                    start: 0,
                    end: line.len,
                };
                let message = "This plan has no materials and no equipment yet, so the names in it mean nothing: declare them below `materials` and `equipment`.";
                line.problems
                    .push(Problem::new("no-entries", span, message));
            }
        }
    }
}
