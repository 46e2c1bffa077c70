//! What encloses a place of the text: the word, what it belongs to, the clause, the line, the block, the plan.

use crate::cursor;
use crate::document::{Document, PlanUnit};
use std::ops::Range;
use syntax::{Clause, Line, Span, Statement, Thing};

impl Document {
    /// The stretches around an offset, the narrowest first; each holds the one before it. The last is the whole text.
    #[must_use]
    pub fn selections(&self, offset: usize) -> Vec<Range<usize>> {
        let offset = offset.min(self.rope().len_bytes());
        let mut found: Vec<Range<usize>> = Vec::new();
        if let Some(unit) = self.plan_at(offset) {
            if let Some((index, line, _)) = cursor::line_at(&unit, offset) {
                let start = unit.start + line.start as usize;
                let of_line = spans(&unit, index as usize, line);
                let spans = of_line.iter();
                found.extend(
                    spans.map(|span| start + span.start as usize..start + span.end as usize),
                );
            }
            found.extend(unit.folds().into_iter().map(|fold| fold.range));
            found.push(unit.shift(0..unit.plan.text.text.len()));
        }
        found.push(0..self.rope().len_bytes());
        found.retain(|range| range.start <= offset && offset <= range.end && !range.is_empty());
        found.sort_by_key(|range| range.len());
        let mut chain: Vec<Range<usize>> = Vec::new();
        for range in found {
            let holds = |inner: &Range<usize>| {
                range.start <= inner.start && inner.end <= range.end && *inner != range
            };
            if chain.last().is_none_or(holds) {
                chain.push(range);
            }
        }
        if chain.is_empty() {
            chain.push(offset..offset);
        }
        chain
    }
}

/// What a line is made of: its words, what they belong to, what stands before the comment, the comment, the line.
fn spans(unit: &PlanUnit<'_>, index: usize, line: &Line) -> Vec<Span> {
    let mut spans: Vec<Span> = Vec::new();
    let text = unit
        .plan
        .text
        .text
        .get(line.start as usize..(line.start + line.len) as usize);
    let text = text.unwrap_or_default();
    for token in syntax::tokens(&unit.plan.text, index) {
        spans.extend(trimmed(text, token.span));
    }
    match &line.statement {
        Statement::Entry(entry) => spans.extend(entry.fields.iter().map(|field| field.span)),
        Statement::Reaction(reaction) => spans.push(reaction.span),
        Statement::Place(place) => spans.push(place.span),
        Statement::Step(step) => step
            .clauses
            .iter()
            .for_each(|clause| of_clause(clause, &mut spans)),
        _ => {}
    }
    let end = line.comment.map_or(line.len, |comment| comment.start);
    spans.extend(trimmed(text, Span { start: 0, end }));
    spans.push(Span {
        start: 0,
        end: line.len,
    });
    spans
}

fn of_clause(clause: &Clause, spans: &mut Vec<Span>) {
    spans.push(clause.span);
    clause
        .objects
        .iter()
        .for_each(|thing| of_thing(thing, spans));
    for modifier in &clause.modifiers {
        spans.push(modifier.span);
        let things = modifier.kind.things();
        things.iter().for_each(|thing| of_thing(thing, spans));
    }
}

/// A thing alone, each of its portions, and all together.
fn of_thing(thing: &Thing, spans: &mut Vec<Span>) {
    let portions = thing.portions.iter().map(|portion| portion.span);
    let adjective = thing.adjective.iter().map(|text| text.span);
    let parts: Vec<Span> = portions.chain(adjective).chain([thing.name.span]).collect();
    let start = parts.iter().map(|span| span.start).min();
    let end = parts.iter().map(|span| span.end).max();
    spans.extend(start.zip(end).map(|(start, end)| Span { start, end }));
    spans.extend(parts);
}

/// A stretch without the white space around it; none where it is white space alone.
fn trimmed(text: &str, span: Span) -> Option<Span> {
    let written = text.get(span.start as usize..span.end as usize)?;
    let lead = u32::try_from(written.len() - written.trim_start().len()).ok()?;
    let len = u32::try_from(written.trim().len()).ok()?;
    (len > 0).then_some(Span {
        start: span.start + lead,
        end: span.start + lead + len,
    })
}
