//! What stands under the cursor.

use crate::document::PlanUnit;
use plan::takes;
use syntax::{Clause, KeyId, Line, Referent, Span, Statement, TermReferent};

/// Something in a plan that can be asked about.
pub(crate) enum Target<'a> {
    /// A line of materials or products, or a mention of its key, or a key of equipment.
    Key(KeyId, Span),
    /// The verb of a step.
    Clause(&'a Clause, usize),
    /// The scale line.
    Scale(Span),
    /// The title line.
    Title(Span),
}

/// The line at an offset of the document, with the offset within the line.
pub(crate) fn line_at<'a>(unit: &PlanUnit<'a>, offset: usize) -> Option<(u32, &'a Line, u32)> {
    let within = u32::try_from(offset.checked_sub(unit.start)?).ok()?;
    let lines = &unit.plan.text.lines;
    let index = lines
        .partition_point(|line| line.start <= within)
        .checked_sub(1)?;
    let line = lines.get(index)?;
    Some((u32::try_from(index).ok()?, line, within - line.start))
}

/// What stands at an offset of a line.
pub(crate) fn target<'a>(
    unit: &PlanUnit<'a>,
    index: u32,
    line: &'a Line,
    at: u32,
) -> Option<Target<'a>> {
    let text = &unit.plan.text;
    let whole = Span {
        start: 0,
        end: line.comment.map_or(line.len, |comment| comment.start),
    };
    if !holds(whole, at) {
        return None;
    }
    match &line.statement {
        Statement::Plan(_) => Some(Target::Title(whole)),
        Statement::Scale(scale) => match &scale.key {
            Some(key) if holds(key.span, at) => {
                plan::find_key(text, &key.text).map(|id| Target::Key(id, key.span))
            }
            _ => Some(Target::Scale(whole)),
        },
        Statement::Entry(_) | Statement::Equipment(_) => {
            let id = text.keys.iter().position(|key| key.line == index)?;
            Some(Target::Key(
                KeyId(u32::try_from(id).ok()?),
                trimmed(unit, line, whole),
            ))
        }
        Statement::Run(run) => run.changes.iter().find_map(|change| {
            let id = change.id.filter(|_| holds(change.key.span, at))?;
            Some(Target::Key(id, change.key.span))
        }),
        Statement::Reaction(reaction) => {
            reaction
                .left
                .iter()
                .chain(&reaction.right)
                .find_map(|term| match term.referent {
                    TermReferent::Key(id) if holds(term.name.span, at) => {
                        Some(Target::Key(id, term.name.span))
                    }
                    _ => None,
                })
        }
        Statement::Place(place) => place.thing.as_ref().and_then(|thing| match thing.referent {
            Referent::Key(id) if holds(thing.name.span, at) => {
                Some(Target::Key(id, thing.name.span))
            }
            _ => None,
        }),
        Statement::Step(step) => {
            let (number, clause) = step
                .clauses
                .iter()
                .enumerate()
                .rfind(|(_, clause)| clause.span.start <= at)?;
            let key = takes::things(clause).find_map(|(_, thing)| match thing.referent {
                Referent::Key(id) if holds(thing.name.span, at) => {
                    Some(Target::Key(id, thing.name.span))
                }
                _ => None,
            });
            key.or(Some(Target::Clause(clause, number)))
        }
        _ => None,
    }
}

fn holds(span: Span, at: u32) -> bool {
    span.start <= at && at <= span.end
}

/// Without the white space around it.
fn trimmed(unit: &PlanUnit<'_>, line: &Line, span: Span) -> Span {
    let start = (line.start + span.start) as usize;
    let end = (line.start + span.end) as usize;
    let text = unit.plan.text.text.get(start..end).unwrap_or("");
    let cut = |n: usize| u32::try_from(n).unwrap_or(0);
    Span {
        start: span.start + cut(text.len() - text.trim_start().len()),
        end: span.end - cut(text.len() - text.trim_end().len()),
    }
}
