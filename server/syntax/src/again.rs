//! A plan read again after an edit: only the lines that changed, where no other line can read otherwise for it.
//!
//! What a line says depends on its text, on the block that it stands in and on the keys of the plan. Where blocks and keys
//! stay what they were, so do all other lines.

use crate::ast::Statement;
use crate::declare::collect_keys;
use crate::fold::offset;
use crate::keys::Keys;
use crate::plan_text::{Key, KeyKind, Line, PlanText};
use crate::read::{Draft, MOST_PROBLEMS, line_stretches, read_alone, read_plan};
use crate::refer::resolve;
use crate::step::Scratch;
use std::sync::Arc;

/// More changed lines than this are read with the whole.
const MOST_LINES: usize = 64;

/// Reads a plan that was read before with another text. It comes to the same as [`read_plan`].
#[must_use]
pub fn read_plan_again(text: &str, before: PlanText) -> PlanText {
    let Some(change) = Change::between(&before, text) else {
        return read_plan(text);
    };
    match change.read(&before, text) {
        Some(new) => change.put_in(new, before, text),
        None => read_plan(text),
    }
}

/// The lines that an edit may have changed.
struct Change {
    /// The first of them.
    first: usize,
    /// The first line behind them, in the old text.
    end: usize,
    /// Bytes of the new text that they are.
    start: usize,
    stop: usize,
}

/// What is new in the changed lines.
struct New {
    lines: Vec<Line>,
    keys: Vec<Key>,
}

impl Change {
    /// One line more to each side than the bytes say, for a line end may be of two characters.
    fn between(before: &PlanText, text: &str) -> Option<Change> {
        let (old, new) = (before.text.as_bytes(), text.as_bytes());
        let head = alike_in_front(old, new);
        let (old_rest, new_rest) = (old.get(head..)?, new.get(head..)?);
        let tail = alike_behind(old_rest, new_rest);
        let lines = &before.lines;
        let kept = lines.partition_point(|line| end_of(line) <= head);
        let first = kept.checked_sub(1)?;
        let behind = lines.partition_point(|line| (line.start as usize) < old.len() - tail);
        let end = (behind + 1).min(lines.len()).max(first);
        if first == 0 || end - first > MOST_LINES {
            return None;
        }
        let start = lines.get(first)?.start as usize;
        let from_end = match lines.get(end) {
            Some(line) => old.len() - line.start as usize,
            None => 0,
        };
        let stop = new.len().checked_sub(from_end)?;
        (start <= stop && text.is_char_boundary(start) && text.is_char_boundary(stop)).then_some(
            Change {
                first,
                end,
                start,
                stop,
            },
        )
    }

    /// The changed lines, where no other line can read otherwise for them.
    fn read(&self, before: &PlanText, text: &str) -> Option<New> {
        let lines = &before.lines;
        let is_plan = |line: &&Line| line.statement != Statement::Blank;
        let opening = lines.get(..self.first)?.iter().find(is_plan)?;
        let titled = matches!(opening.statement, Statement::Plan(_));
        let said_of_the_whole = lines
            .iter()
            .flat_map(|line| &line.problems)
            .any(|problem| WHOLE.contains(&problem.code));
        let has_entries = before.keys.iter().any(|key| key.kind != KeyKind::Kept);
        let old = lines.get(self.first..self.end)?;
        if !titled || said_of_the_whole || !has_entries || old.iter().any(is_equipment) {
            return None;
        }
        let entered = lines.get(self.first - 1)?.block;
        let mut block = entered;
        let mut drafts: Vec<Draft<'_>> = Vec::new();
        let last = self.end == lines.len();
        for (range, eol) in line_stretches(text.get(self.start..self.stop)?) {
            // What follows a line end begins with the next line, which is kept.
            if !last && eol == 0 {
                break;
            }
            let range = range.start + self.start..range.end + self.start;
            drafts.push(read_alone(text, range, eol, &mut block));
        }
        let left = old.last().map_or(entered, |line| line.block);
        let fits = |draft: &Draft<'_>| {
            let line = &draft.line;
            !is_equipment(line)
                && draft.misplaced().is_none()
                && !matches!(line.statement, Statement::Plan(_))
        };
        if block != left || !drafts.iter().all(fits) {
            return None;
        }
        let own = collect_keys(&mut drafts).list;
        let keys = self.keys(before, &own, drafts.len())?;
        for draft in &mut drafts {
            resolve(draft, &keys, &mut Scratch::default());
            draft.line.problems.truncate(MOST_PROBLEMS);
        }
        let lines: Vec<Line> = drafts.into_iter().map(|draft| draft.line).collect();
        let clash = lines
            .iter()
            .flat_map(|line| &line.problems)
            .any(|problem| WHOLE.contains(&problem.code));
        (!clash).then_some(New {
            lines,
            keys: keys.list,
        })
    }

    /// The keys of the plan, where they are those of before but for their places.
    fn keys(&self, before: &PlanText, own: &[Key], added: usize) -> Option<Keys> {
        let first = before
            .keys
            .partition_point(|key| (key.line as usize) < self.first);
        let behind = before
            .keys
            .partition_point(|key| (key.line as usize) < self.end);
        let old = before.keys.get(first..behind)?;
        let same = |a: &Key, b: &Key| a.name.text == b.name.text && a.kind == b.kind;
        // A name may be kept again.
        let kept_in_front = |key: &&Key| {
            key.kind == KeyKind::Kept && before.keys.iter().take(first).any(|old| same(old, key))
        };
        let own: Vec<&Key> = own.iter().filter(|key| !kept_in_front(key)).collect();
        if old.len() != own.len() || !old.iter().zip(&own).all(|(a, b)| same(a, b)) {
            return None;
        }
        let mut list = before.keys.clone();
        for (key, own) in list.iter_mut().skip(first).zip(own) {
            key.name.span = own.name.span;
            key.line = own.line + offset(self.first);
        }
        for key in list.iter_mut().skip(behind) {
            key.line = offset(key.line as usize + added + self.first - self.end);
        }
        let index = before.index.clone();
        Some(Keys { list, index })
    }

    fn put_in(&self, new: New, before: PlanText, text: &str) -> PlanText {
        let old = before.text.len();
        let mut lines = before.lines;
        for line in lines.iter_mut().skip(self.end) {
            line.start = offset(line.start as usize + text.len() - old);
        }
        lines.splice(self.first..self.end, new.lines);
        PlanText {
            text: Arc::from(text),
            lines,
            keys: new.keys,
            index: before.index,
        }
    }
}

/// Bytes are compared a block at a time while they are the same.
const BLOCK: usize = 64;

/// How many bytes two texts begin with alike.
fn alike_in_front(a: &[u8], b: &[u8]) -> usize {
    let blocks = a.chunks_exact(BLOCK).zip(b.chunks_exact(BLOCK));
    let alike = BLOCK * blocks.take_while(|(a, b)| a == b).count();
    let rest = a.iter().zip(b).skip(alike);
    alike + rest.take_while(|(a, b)| a == b).count()
}

/// How many bytes two texts end with alike.
fn alike_behind(a: &[u8], b: &[u8]) -> usize {
    let blocks = a.rchunks_exact(BLOCK).zip(b.rchunks_exact(BLOCK));
    let alike = BLOCK * blocks.take_while(|(a, b)| a == b).count();
    let rest = a.iter().rev().zip(b.iter().rev()).skip(alike);
    alike + rest.take_while(|(a, b)| a == b).count()
}

fn end_of(line: &Line) -> usize {
    (line.start + line.len + line.eol) as usize
}

fn is_equipment(line: &Line) -> bool {
    matches!(line.statement, Statement::Equipment(_))
}

/// Problems that stand for more than their line.
const WHOLE: [&str; 6] = [
    "no-plan-line",
    "no-entries",
    "entry-outside-block",
    "step-outside-steps",
    "duplicate-key",
    "key-differs-by-case",
];
