//! What can be folded away: plans, their blocks, what is done in one place, and comments of several lines.

use crate::document::{Document, PlanUnit};
use std::ops::Range;
use syntax::{Line, Statement};

/// Lines that belong together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fold {
    /// From the start of the first line to the end of the last, without its line end.
    pub range: Range<usize>,
    /// Whether they are comments alone.
    pub comment: bool,
}

impl Document {
    /// The folds, in the order of their first lines, the outer ones first.
    #[must_use]
    pub fn folds(&self) -> Vec<Fold> {
        self.plans().flat_map(|unit| unit.folds()).collect()
    }
}

impl PlanUnit<'_> {
    pub(crate) fn folds(&self) -> Vec<Fold> {
        let lines = &self.plan.text.lines;
        let is = |wanted: fn(&Statement) -> bool| move |line: &Line| wanted(&line.statement);
        let plan = is(|statement| matches!(statement, Statement::Plan(_)));
        let header = is(|statement| matches!(statement, Statement::Header(_)));
        let place = is(|statement| matches!(statement, Statement::Place(_)));
        let mut folds = Vec::new();
        folds.extend(sections(lines, plan, |_| false));
        folds.extend(sections(lines, header, |_| false));
        folds.extend(sections(lines, place, header));
        let mut folds: Vec<_> = folds
            .into_iter()
            .map(|lines| self.fold(lines, false))
            .chain(self.comments())
            .collect();
        folds.sort_by_key(|fold| (fold.range.start, std::cmp::Reverse(fold.range.end)));
        folds
    }

    /// Neighbouring lines that hold comments alone.
    fn comments(&self) -> impl Iterator<Item = Fold> {
        let lines = &self.plan.text.lines;
        let alone = |line: &Line| line.statement == Statement::Blank && line.comment.is_some();
        let runs = lines.chunk_by(move |a, b| alone(a) && alone(b));
        let runs = runs.scan(0, |at, run| {
            let first = *at;
            *at += run.len();
            Some(first..*at)
        });
        runs.filter(|run| run.len() > 1)
            .map(|run| self.fold(run.start..run.end - 1, true))
            .collect::<Vec<_>>()
            .into_iter()
    }

    /// From the first line to the last, which it holds.
    fn fold(&self, lines: Range<usize>, comment: bool) -> Fold {
        let all = &self.plan.text.lines;
        let start = all.get(lines.start).map_or(0, |line| line.start);
        let end = all.get(lines.end).map_or(0, |line| line.start + line.len);
        Fold {
            range: self.shift(start as usize..end as usize),
            comment,
        }
    }
}

/// From every line that opens a section to the last that says something before the next, or before what ends it.
fn sections(
    lines: &[Line],
    opens: impl Fn(&Line) -> bool,
    ends: impl Fn(&Line) -> bool,
) -> Vec<Range<usize>> {
    let mut found: Vec<Range<usize>> = Vec::new();
    let mut open: Option<Range<usize>> = None;
    for (index, line) in lines.iter().enumerate() {
        if opens(line) {
            found.extend(open.replace(index..index));
        } else if ends(line) {
            found.extend(open.take());
        } else if let Some(open) = &mut open
            && (line.statement != Statement::Blank || line.comment.is_some())
        {
            open.end = index;
        }
    }
    found.extend(open);
    found.retain(|section| section.start < section.end);
    found
}
