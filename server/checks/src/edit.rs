//! Edits that fixes are made of: in the plan's own indentation and line ends, touching nothing else.

use plan::{At, Plan, show};
use std::ops::Range;
use syntax::{Clause, CountKind, FieldKind, Modifier, ModifierKind, Quantity, Statement};

/// An edit: a stretch of the plan's text in bytes, and what to write there.
pub(crate) type Edit = (Range<usize>, String);

/// Replaces what stands at a place.
pub(crate) fn replace(plan: &Plan, at: At, text: impl Into<String>) -> Edit {
    (plan.range(at), text.into())
}

/// Numbers of a line, each times its factor, with the digits that they were written with. None where a range
/// is among them or a result cannot be held, or where there is nothing to write.
pub(crate) fn multiply<'a>(
    plan: &Plan,
    line: u32,
    quantities: impl IntoIterator<Item = (&'a Quantity, f64)>,
) -> Option<Vec<Edit>> {
    let mut edits = Vec::new();
    for (quantity, factor) in quantities {
        if quantity.to.is_some() {
            return None;
        }
        let number = show::scaled(&quantity.number, factor)?;
        let span = quantity.number.span;
        edits.push(replace(plan, At { line, span }, number));
    }
    edits.sort_by_key(|(range, _)| range.start);
    (!edits.is_empty()).then_some(edits)
}

/// New lines before a line, indented as that line is.
pub(crate) fn insert_before<S: AsRef<str>>(plan: &Plan, line: u32, steps: &[S]) -> Option<Edit> {
    let at = plan.text.lines.get(line as usize)?.start as usize;
    let indent = indent(plan, line);
    let eol = line_end(plan);
    let text = steps
        .iter()
        .map(|step| format!("{indent}{}{eol}", step.as_ref()))
        .collect();
    Some((at..at, text))
}

/// New lines after a line, indented as that line is.
pub(crate) fn insert_after<S: AsRef<str>>(plan: &Plan, line: u32, steps: &[S]) -> Option<Edit> {
    let found = plan.text.lines.get(line as usize)?;
    let at = (found.start + found.len) as usize;
    let indent = indent(plan, line);
    let eol = line_end(plan);
    let text = steps
        .iter()
        .map(|step| format!("{eol}{indent}{}", step.as_ref()))
        .collect();
    Some((at..at, text))
}

/// Text after the last word of a line, before its comment.
pub(crate) fn append(plan: &Plan, line: u32, text: &str) -> Option<Edit> {
    let found = plan.text.lines.get(line as usize)?;
    let start = found.start as usize;
    let end = start + found.comment.map_or(found.len, |comment| comment.start) as usize;
    let words = plan.text.text.get(start..end)?.trim_end();
    let at = start + words.len();
    Some((at..at, text.to_owned()))
}

/// How slowly a clause is to be done: in the place of a word of haste, else after its last word.
pub(crate) fn slowly(plan: &Plan, line: u32, clause: &Clause, how: &str) -> Edit {
    let hasty = clause
        .modifiers
        .iter()
        .find(|modifier| match &modifier.kind {
            ModifierKind::Adverb(word) => {
                ["at once", "quickly", "rapidly", "fast"].contains(&&*word.text)
            }
            ModifierKind::Count(CountKind::Portions, count) => *count == 1,
            _ => false,
        });
    match hasty {
        Some(Modifier { span, .. }) => replace(plan, At { line, span: *span }, how),
        None => {
            let span = clause.span;
            let end = plan.range(At { line, span }).end;
            (end..end, format!(" {how}"))
        }
    }
}

/// Another substance on a line of materials, where the name is all that says which it is.
pub(crate) fn rename(plan: &Plan, line: u32, name: &str) -> Option<Edit> {
    let Statement::Entry(entry) = &plan.text.lines.get(line as usize)?.statement else {
        return None;
    };
    let mut names = entry.fields.iter().filter_map(|field| match field.kind {
        FieldKind::Name(_) => Some(field.span),
        _ => None,
    });
    let tied = entry.fields.iter().any(|field| {
        matches!(
            field.kind,
            FieldKind::Bottle(_)
                | FieldKind::Formula(_)
                | FieldKind::Cas(_)
                | FieldKind::Smiles(_)
                | FieldKind::Inchi(_)
                | FieldKind::MolarMass(_)
                | FieldKind::Density(..)
        )
    });
    let span = names.next()?;
    (!tied).then(|| replace(plan, At { line, span }, name))
}

fn indent(plan: &Plan, line: u32) -> &str {
    let Some(found) = plan.text.lines.get(line as usize) else {
        return "  ";
    };
    let text = plan
        .text
        .text
        .get(found.start as usize..(found.start + found.len) as usize)
        .unwrap_or("");
    &text[..text.len() - text.trim_start().len()]
}

/// The line end that the plan uses first; a plan of one line gets a line feed.
fn line_end(plan: &Plan) -> &str {
    let found = plan.text.lines.iter().find(|line| line.eol > 0);
    found
        .and_then(|line| {
            let start = (line.start + line.len) as usize;
            plan.text.text.get(start..start + line.eol as usize)
        })
        .unwrap_or("\n")
}
