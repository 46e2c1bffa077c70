//! A plan read again after an edit: only the lines that changed, where no other line can read otherwise for it.
//!
//! What a line says depends on its text, on the block that it stands in and on the keys of the plan. Where blocks and keys
//! stay what they were, so do all other lines.

use crate::ast::Statement;
use crate::declare::collect_keys;
use crate::fold::offset;
use crate::keys::Keys;
use crate::plan_text::{Key, KeyKind, Line, PlanText};
use crate::read::{Draft, MOST_PROBLEMS, read_alone, read_plan, stretches};
use crate::refer::resolve;
use crate::step::Scratch;
use std::sync::Arc;

/// More changed lines than this are read with the whole.
const MOST_LINES: usize = 64;

/// Reads a plan that was read before with another text. It comes to the same as [`read_plan`].
#[must_use]
pub fn read_plan_again(text: &str, before: PlanText) -> PlanText {
    let change = Change::between(&before, text);
    let again = change.and_then(|change| change.read(before, text));
    again.unwrap_or_else(|| read_plan(text))
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

impl Change {
    fn between(before: &PlanText, text: &str) -> Option<Change> {
        let (old, new) = (before.text.as_bytes(), text.as_bytes());
        let head = alike_in_front(old, new);
        let (old_rest, new_rest) = (old.get(head..)?, new.get(head..)?);
        let tail = old.len() - alike_behind(old_rest, new_rest);
        let lines = &before.lines;
        let kept = lines.partition_point(|line| end_of(line) <= head);
        // The last line may go on, and the end of a line too: a carriage return that a line feed follows.
        let goes_on = kept == lines.len()
            || kept > 0 && old.get(end_of(lines.get(kept - 1)?) - 1) == Some(&b'\r');
        let mut first = if goes_on { kept.checked_sub(1)? } else { kept };
        // Behind the last line's end stands an empty line, and a line feed there belongs to that end.
        let begins = lines.get(first).map_or(0, |line| line.start as usize);
        if begins == head && begins > 0 && old.get(begins - 1) == Some(&b'\r') {
            first = first.checked_sub(1)?;
        }
        // A line that begins where the change ends may no longer begin there.
        let end = lines
            .partition_point(|line| line.start as usize <= tail)
            .max(first);
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

    /// The plan with the changed lines read, where no other line can read otherwise for them.
    fn read(&self, before: PlanText, text: &str) -> Option<PlanText> {
        let mut lines = before.lines;
        let says_something = |line: &&Line| !matches!(line.statement, Statement::Blank);
        let opening = lines.get(..self.first)?.iter().find(says_something)?;
        let titled = matches!(opening.statement, Statement::Plan(_));
        let has_entries = before.keys.iter().any(|key| key.kind != KeyKind::Kept);
        if !titled || !has_entries || lines.iter().any(speaks_of_the_whole) {
            return None;
        }
        let old = lines.get(self.first..self.end)?;
        let entered = lines.get(self.first - 1)?.block;
        let mut block = entered;
        let mut stretches = stretches(text, self.start..self.stop);
        if self.end < lines.len() {
            // What follows a line end begins with the next line, which is kept.
            stretches.pop();
        }
        let read = stretches.iter();
        let mut drafts: Vec<Draft<'_>> = read.map(|line| read_alone(line, &mut block)).collect();
        let left = old.last().map_or(entered, |line| line.block);
        let fits = |draft: &Draft<'_>| {
            draft.misplaced().is_none() && !matches!(draft.line.statement, Statement::Plan(_))
        };
        let descriptions = drafts.iter().filter_map(|draft| description(&draft.line));
        if block != left
            || !drafts.iter().all(fits)
            || !descriptions.eq(old.iter().filter_map(description))
        {
            return None;
        }
        let own = collect_keys(&mut drafts).list;
        let (list, index) = (before.keys, before.index);
        let list = self.keys(list, &own, drafts.len())?;
        let keys = Keys { list, index };
        let mut scratch = Scratch::default();
        for draft in &mut drafts {
            resolve(draft, &keys, &mut scratch);
            draft.line.problems.truncate(MOST_PROBLEMS);
        }
        if drafts.iter().any(|draft| speaks_of_the_whole(&draft.line)) {
            return None;
        }
        for line in lines.iter_mut().skip(self.end) {
            line.start = offset(line.start as usize + text.len() - before.text.len());
        }
        lines.splice(
            self.first..self.end,
            drafts.into_iter().map(|draft| draft.line),
        );
        Some(PlanText {
            text: Arc::from(text),
            lines,
            keys: keys.list,
            index: keys.index,
            kept: self.first,
        })
    }

    /// The keys of the plan, where they are those of before but for their places.
    fn keys(&self, mut list: Vec<Key>, own: &[Key], added: usize) -> Option<Vec<Key>> {
        let first = list.partition_point(|key| (key.line as usize) < self.first);
        let behind = list.partition_point(|key| (key.line as usize) < self.end);
        let (in_front, rest) = list.split_at_mut_checked(first)?;
        let (old, rest) = rest.split_at_mut_checked(behind - first)?;
        let same = |a: &Key, b: &Key| a.name.text == b.name.text && a.kind == b.kind;
        // A name may be kept again.
        let is_new =
            |key: &&Key| key.kind != KeyKind::Kept || !in_front.iter().any(|old| same(old, key));
        let mut own = own.iter().filter(is_new);
        for key in old {
            let own = own.next().filter(|own| same(key, own))?;
            key.name.span = own.name.span;
            key.line = own.line + offset(self.first);
        }
        for key in rest {
            key.line = offset(key.line as usize + added + self.first - self.end);
        }
        own.next().is_none().then_some(list)
    }
}

/// Bytes are compared a block at a time while they are the same.
const BLOCK: usize = 64;

/// How many bytes two texts begin with alike.
fn alike_in_front(a: &[u8], b: &[u8]) -> usize {
    let blocks = a.chunks_exact(BLOCK).zip(b.chunks_exact(BLOCK));
    let alike = BLOCK * blocks.take_while(|(a, b)| a == b).count();
    let [a, b] = [a, b].map(|text| text.get(alike..).unwrap_or_default());
    alike + a.iter().zip(b).take_while(|(a, b)| a == b).count()
}

/// How many bytes two texts end with alike.
fn alike_behind(a: &[u8], b: &[u8]) -> usize {
    let blocks = a.rchunks_exact(BLOCK).zip(b.rchunks_exact(BLOCK));
    let alike = BLOCK * blocks.take_while(|(a, b)| a == b).count();
    let [a, b] = [a, b].map(|text| text.get(..text.len() - alike).unwrap_or_default());
    let rest = a.iter().rev().zip(b.iter().rev());
    alike + rest.take_while(|(a, b)| a == b).count()
}

fn end_of(line: &Line) -> usize {
    (line.start + line.len + line.eol) as usize
}

/// What a line says that a tool is, by which others may call it.
fn description(line: &Line) -> Option<String> {
    match &line.statement {
        Statement::Equipment(equipment) => Some(equipment.description()),
        _ => None,
    }
}

/// Whether a problem of a line stands for more than the line.
fn speaks_of_the_whole(line: &Line) -> bool {
    const WHOLE: [&str; 6] = [
        "no-plan-line",
        "no-entries",
        "entry-outside-block",
        "step-outside-steps",
        "duplicate-key",
        "key-differs-by-case",
    ];
    let mut problems = line.problems.iter();
    problems.any(|problem| WHOLE.contains(&problem.code))
}
