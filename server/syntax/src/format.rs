//! The white space of a plan, put in order. Nothing else of it is touched: no word, no digit, no line's place.

use crate::ast::{Block, RemarkKind, Statement, Text};
use crate::fold::fold;
use crate::plan_text::{Line, PlanText};
use crate::tokens::{TokenKind, tokens};
use std::ops::Range;

/// Indentation of the lines of a block.
const INDENT: usize = 2;
/// A longer key does not move what the other lines of its block say.
const LONGEST_KEY: usize = 20;
/// Where comments stand behind short lines.
const COMMENTS: usize = 49;
/// The least that stands between a line and its comment.
const BEFORE_COMMENT: usize = 3;
/// A line that ends beyond this does not move the comments of its neighbours.
const FAR: usize = 80;
/// The most empty lines in a row.
const EMPTY_LINES: usize = 2;

/// What to replace, in bytes of the plan and in order, so that its white space is as it should be: blanks by
/// blanks, and line ends of superfluous empty lines by nothing.
///
/// Lines of a block are indented by two, keys of a block make a column, comments of neighbouring lines make one.
/// A line that does not read, or stands in a block where it does not belong, is left as it is; so are blanks
/// within free text, and white space other than spaces and tabs. What the plan says stays the same, and formatting
/// what was formatted changes nothing.
#[must_use]
pub fn format(plan: &PlanText) -> Vec<(Range<usize>, String)> {
    let bodies = body_columns(plan);
    let mut laid: Vec<Option<Laid<'_>>> = (plan.lines.iter().zip(bodies).enumerate())
        .map(|(index, (line, body))| Laid::new(plan, index, line, body))
        .collect();
    place_comments(&mut laid);
    let mut edits = Vec::new();
    let mut empty = 0;
    let mut cr_before = false;
    for (line, laid) in plan.lines.iter().zip(&laid) {
        let range = line.start as usize..(line.start + line.len) as usize;
        let text = plan.text.get(range.clone()).unwrap_or_default();
        let end = range.end..range.end + line.eol as usize;
        let eol = plan.text.get(end.clone()).unwrap_or_default();
        if let Some(laid) = laid {
            empty = 0;
            edits.extend(laid.edits(range.start));
        } else if text.chars().all(is_blank) {
            empty += 1;
            if empty > EMPTY_LINES {
                if range.start < end.end {
                    edits.push((range.start..end.end, String::new()));
                }
                continue;
            }
            // Without its blanks, this line's LF would join a CR before it to one line end.
            let joins = cr_before && eol.starts_with('\n');
            if !range.is_empty() && !joins {
                edits.push((range, String::new()));
            }
        } else {
            empty = 0;
        }
        cr_before = eol == "\r";
    }
    edits
}

fn is_blank(c: char) -> bool {
    matches!(c, ' ' | '\t')
}

/// How far a line is indented; none for one that is left as it is.
fn indentation(line: &Line) -> Option<usize> {
    let block = match line.block {
        Block::None => 0,
        _ => INDENT,
    };
    match (&line.statement, line.block) {
        (Statement::Blank, _) if line.comment.is_some() => Some(block),
        (
            Statement::Plan(_)
            | Statement::Header(_)
            | Statement::Scale(_)
            | Statement::Room(_)
            | Statement::Reaction(_)
            | Statement::Start(_)
            | Statement::Remark(RemarkKind::Author | RemarkKind::Date | RemarkKind::Source, _),
            _,
        ) => Some(0),
        // A step that does not read.
        (Statement::Remark(RemarkKind::Remark, _), _) if !line.problems.is_empty() => None,
        (Statement::Remark(..), _)
        | (Statement::Entry(_), Block::Materials | Block::Products)
        | (Statement::Equipment(_), Block::Equipment)
        | (Statement::Run(_), Block::Runs)
        | (Statement::Step(_) | Statement::Place(_), Block::Steps) => Some(block),
        _ => None,
    }
}

/// The key of an entry and the place of its colon, where white space or nothing follows that.
fn key<'a>(line: &'a Line, text: &str) -> Option<(&'a Text, Range<usize>)> {
    let key = match &line.statement {
        Statement::Entry(entry) => &entry.key,
        Statement::Equipment(equipment) => &equipment.key,
        Statement::Run(run) => &run.label,
        _ => return None,
    };
    let after = key.span.end as usize;
    let mut rest = text.get(after..)?.char_indices();
    let (at, colon) = rest.find(|&(_, c)| fold(c) != ' ')?;
    let stop = after + at + colon.len_utf8();
    let spaced = rest.next().is_none_or(|(_, c)| fold(c) == ' ');
    (fold(colon) == ':' && spaced).then_some((key, after + at..stop))
}

/// For every line the column at which entries of its block say what they are.
fn body_columns(plan: &PlanText) -> Vec<usize> {
    let mut columns = vec![0; plan.lines.len()];
    let is_header = |line: &Line| matches!(line.statement, Statement::Header(_));
    let mut at = 0;
    for block in plan.lines.split_inclusive(is_header) {
        let widths = block.iter().filter_map(|line| {
            let (start, end) = (line.start as usize, (line.start + line.len) as usize);
            let (key, _) = key(line, plan.text.get(start..end)?)?;
            indentation(line)?;
            Some(key.text.chars().count()).filter(|&width| width <= LONGEST_KEY)
        });
        let column = INDENT + widths.max().unwrap_or(0) + 2;
        let end = at + block.len();
        columns
            .get_mut(at..end)
            .into_iter()
            .for_each(|of_block| of_block.fill(column));
        at = end;
    }
    columns
}

/// A line and where its white space changes.
struct Laid<'a> {
    text: &'a str,
    /// Stretches of blanks of the line, and how many spaces to write there; in order.
    gaps: Vec<(Range<usize>, usize)>,
    indent: usize,
    /// Characters before the blanks before its comment, when that is done; none where the comment is all.
    width: usize,
    /// The blanks before its comment, where it has one.
    before_comment: Option<Range<usize>>,
    /// The column of the comment as written.
    comment_column: usize,
}

impl<'a> Laid<'a> {
    fn new(plan: &'a PlanText, index: usize, line: &Line, body: usize) -> Option<Laid<'a>> {
        let indent = indentation(line)?;
        let start = line.start as usize;
        let text = plan.text.get(start..start + line.len as usize)?;
        let comment = line.comment.map(|comment| comment.start as usize);
        let before = text.get(..comment.unwrap_or(text.len()))?;
        let content = before.trim_end_matches(is_blank);
        let lead = content.len() - content.trim_start_matches(is_blank).len();
        let mut gaps = Vec::new();
        // A byte order mark and its like are not ours to move, and neither is what follows them.
        let odd_start = begins_with_space(content.get(lead..)?);
        if odd_start && line.statement == Statement::Blank {
            return None;
        }
        if !content.is_empty() && !odd_start {
            gaps.push((0..lead, indent));
        }
        let key = key(line, content);
        let free = FreeText::of(plan, index, line);
        for run in blank_runs(content, lead) {
            let blanks = match &key {
                Some((key, colon)) if run.start == colon.end => body
                    .saturating_sub(INDENT + key.text.chars().count() + 1)
                    .max(1),
                // A key of several words may hold colons, and then the blank says which one ends it.
                Some((key, colon))
                    if run == (key.span.end as usize..colon.start) && !key.text.contains(' ') =>
                {
                    0
                }
                _ if free.holds(&run) => continue,
                _ => 1,
            };
            gaps.push((run, blanks));
        }
        let removed: usize = gaps.iter().map(|(run, _)| run.len()).sum();
        let written: usize = gaps.iter().map(|(_, blanks)| blanks).sum();
        let width = content.chars().count() + written - removed;
        let before_comment = comment.map(|comment| content.len()..comment);
        if before_comment.is_none() {
            gaps.push((content.len()..text.len(), 0));
        }
        Some(Laid {
            text,
            gaps,
            indent,
            width,
            before_comment,
            comment_column: before.chars().count(),
        })
    }

    /// What to replace, where the line begins at this byte.
    fn edits(&self, start: usize) -> impl Iterator<Item = (Range<usize>, String)> {
        self.gaps.iter().filter_map(move |(run, blanks)| {
            let written = self.text.get(run.clone())?;
            let same = written.bytes().take_while(|&byte| byte == b' ').count();
            let same = same.min(*blanks);
            let changed = same < run.len() || same < *blanks;
            changed.then(|| {
                (
                    start + run.start + same..start + run.end,
                    " ".repeat(blanks - same),
                )
            })
        })
    }
}

fn begins_with_space(text: &str) -> bool {
    text.starts_with(|c| fold(c) == ' ')
}

/// Runs of spaces and tabs that touch no other white space, from a place on.
fn blank_runs(text: &str, from: usize) -> Vec<Range<usize>> {
    let mut runs = Vec::new();
    let mut at = from;
    while let Some(n) = text.get(at..).and_then(|rest| rest.find(is_blank)) {
        let (before, rest) = text.split_at(at + n);
        let stop = text.len() - rest.trim_start_matches(is_blank).len();
        let alone = !before.ends_with(|c| fold(c) == ' ')
            && !begins_with_space(text.get(stop..).unwrap_or_default());
        if alone {
            runs.push(at + n..stop);
        }
        at = stop;
    }
    runs
}

/// Stretches of a line whose blanks are the author's.
struct FreeText(Vec<Range<usize>>);

impl FreeText {
    fn of(plan: &PlanText, index: usize, line: &Line) -> FreeText {
        let equipment = matches!(line.statement, Statement::Equipment(_));
        let is_free = |kind| match kind {
            TokenKind::Title | TokenKind::Unread | TokenKind::Declaration => true,
            TokenKind::Text => !equipment,
            _ => false,
        };
        let tokens = tokens(plan, index).into_iter();
        let free = tokens.filter(|token| is_free(token.kind));
        FreeText(
            free.map(|token| token.span.start as usize..token.span.end as usize)
                .collect(),
        )
    }

    fn holds(&self, run: &Range<usize>) -> bool {
        // The stretches are in order: the first that does not end before the run is the only one to ask.
        let at = self.0.partition_point(|free| free.end <= run.start);
        self.0.get(at).is_some_and(|free| free.start < run.end)
    }
}

/// Comments behind neighbouring lines begin at one column. One alone on its line stays below the comment that it
/// goes on with, or at the start of the line; else it is indented as its block is.
fn place_comments(laid: &mut [Option<Laid<'_>>]) {
    let has_comment = |line: &Option<Laid<'_>>| {
        line.as_ref()
            .is_some_and(|line| line.before_comment.is_some())
    };
    for run in laid.chunk_by_mut(|a, b| has_comment(a) && has_comment(b)) {
        let behind = run.iter().flatten().filter(|line| line.width > 0);
        let ends = behind.map(|line| line.width + BEFORE_COMMENT);
        let widest = ends.filter(|&end| end <= FAR).max();
        let common = widest.unwrap_or(0).max(COMMENTS);
        // Where the comment above was, and where it is now.
        let mut above = None;
        for line in run.iter_mut().flatten() {
            let Some(before) = line.before_comment.clone() else {
                continue;
            };
            let column = match above {
                _ if line.width > 0 => {
                    let column = common.max(line.width + BEFORE_COMMENT);
                    above = Some((line.comment_column, column));
                    column
                }
                _ if line.comment_column == 0 => 0,
                Some((was, is)) if was == line.comment_column => is,
                _ => line.indent,
            };
            line.gaps.push((before, column - line.width));
            let end = line.text.trim_end_matches(is_blank).len();
            line.gaps.push((end..line.text.len(), 0));
        }
    }
}
