//! Lines of `runs`: the label of a run, its own amount, and what is other in it.

use crate::ast::{AmountKind, Block, Change, FieldKind, Run, Said, Span, Statement};
use crate::declare::{begins_with_quantity, report_colon};
use crate::entry::{close_brackets, read_entry, split_fields};
use crate::equipment::read_equipment;
use crate::fold::Source;
use crate::keys::Keys;
use crate::line::Colon;
use crate::number::{Dimension, Quantity};
use crate::plan_text::{KeyKind, Problem};
use crate::problem::quoted;
use crate::quantities::{Scan, bare_number, scan_whole};
use crate::refer::resolve_field;
use crate::resolve::unknown_key;
use std::ops::Range;

/// Longer labels make no name of a file.
const LONGEST_LABEL: usize = 40;

/// What a run's own amount may be.
const AMOUNTS: [Dimension; 3] = [Dimension::Amount, Dimension::Mass, Dimension::Volume];

/// Reads a line of `runs`.
pub(crate) fn read_run(
    source: &Source<'_>,
    label: Range<usize>,
    colon: Colon,
    body: Range<usize>,
    keys: &Keys,
    problems: &mut Vec<Problem>,
) -> Statement {
    if colon == Colon::Missing && begins_with_quantity(source, label.start).is_some() {
        let whole = source.span(label.start..body.end.max(label.end));
        let start = Span {
            end: whole.start,
            ..whole
        };
        let message = "A run begins with a label of your choice and a colon: `A: 5.00 mmol`.";
        problems.push(Problem::new("missing-key", whole, message).mend(
            "Write A: before it",
            start,
            "A: ",
        ));
        return Statement::Unread(source.words(label.start..body.end.max(label.end)));
    }
    report_label(source, label.clone(), colon, problems);
    let mut run = Run {
        label: source.words(label),
        amount: None,
        changes: Vec::new(),
    };
    let before = problems.len();
    let fields = split_fields(source, &body, problems);
    let mut own: Vec<Range<usize>> = Vec::new();
    let mut changes: Vec<(Range<usize>, Range<usize>)> = Vec::new();
    for field in close_brackets(source, fields) {
        match (change(source, &field), changes.last_mut()) {
            (Some(found), _) => changes.push(found),
            (None, Some((_, said))) => said.end = field.end,
            (None, None) => own.push(field),
        }
    }
    for (field, first) in own
        .into_iter()
        .zip(std::iter::once(true).chain(std::iter::repeat(false)))
    {
        match amount(source, field, first) {
            Ok(quantity) => run.amount = Some(quantity),
            Err(problem) => problems.push(problem),
        }
    }
    for (key, said) in changes {
        if let Some(change) = read_change(source, key, said, keys, problems) {
            let twice = run.changes.iter().any(|other| other.id == change.id);
            if twice && change.id.is_some() {
                let message = format!(
                    "What {} is in this run is said already: say it once.",
                    quoted(&change.key.text)
                );
                problems.push(Problem::new("bad-run", change.key.span, message));
            } else {
                run.changes.push(change);
            }
        }
    }
    if run.amount.is_none() && run.changes.is_empty() && problems.len() == before {
        let message = format!(
            "{} has nothing of its own: write its amount or what is other in it, as in `A: 2.50 mmol` or `A: KEY is NAME`.",
            quoted(&run.label.text)
        );
        problems.push(Problem::new("bad-run", run.label.span, message));
    }
    Statement::Run(Box::new(run))
}

/// A label names a run in titles and the file that it is written to.
fn report_label(
    source: &Source<'_>,
    label: Range<usize>,
    colon: Colon,
    problems: &mut Vec<Problem>,
) {
    if !report_colon(source, label.clone(), colon, "label", problems) {
        return;
    }
    let text = source.str(label.clone());
    let fits = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_');
    if !text.chars().all(fits) || text.chars().count() > LONGEST_LABEL {
        let message = format!(
            "{} cannot be a label: write letters and digits, with - or _ between them, {LONGEST_LABEL} at most.",
            quoted(text)
        );
        problems.push(Problem::new("bad-run", source.span(label), message));
    }
}

/// `KEY is NAME` at the start of a field: the key, and what is said of it.
fn change(source: &Source<'_>, field: &Range<usize>) -> Option<(Range<usize>, Range<usize>)> {
    let key = field.start..source.word_end(field.start, field.end);
    let verb = source.skip_space(key.end, field.end);
    let verb = verb..source.word_end(verb, field.end);
    source
        .str(verb.clone())
        .eq_ignore_ascii_case("is")
        .then(|| (key, source.skip_space(verb.end, field.end)..field.end))
}

/// The amount of a run, which stands first.
fn amount(source: &Source<'_>, field: Range<usize>, first: bool) -> Result<Quantity, Problem> {
    let span = source.span(field.clone());
    let shown = quoted(source.str(field.clone()));
    match scan_whole(source, field.clone()) {
        Some(Scan::Bad(problem)) => Err(problem),
        Some(Scan::Bare(..)) => Err(bare_number(source, field, &AMOUNTS)),
        Some(Scan::Quantity(quantity)) if first && AMOUNTS.contains(&quantity.unit.dimension) => {
            Ok(quantity)
        }
        Some(Scan::Quantity(quantity)) if !AMOUNTS.contains(&quantity.unit.dimension) => {
            let message = format!(
                "{shown} is no amount, mass or volume: the amount of a run is one of the scale's material, as in `A: 5.00 mmol`."
            );
            Err(Problem::new("unit-does-not-fit", span, message))
        }
        _ => {
            let message = format!(
                "{shown} is not read: a run has its amount first and then what is other in it, as in `A: 2.50 mmol, KEY is NAME, 98 %`."
            );
            Err(Problem::new("bad-run", span, message))
        }
    }
}

fn read_change(
    source: &Source<'_>,
    key: Range<usize>,
    said: Range<usize>,
    keys: &Keys,
    problems: &mut Vec<Problem>,
) -> Option<Change> {
    let is_line = |kind: KeyKind| kind != KeyKind::Kept;
    let span = source.span(key.start..said.end);
    let found = keys.find(source.str(key.clone()));
    let found = found.and_then(|id| Some((id, keys.kind(id).filter(|kind| is_line(*kind))?)));
    let Some((id, kind)) = found else {
        problems.push(unknown_key(source, key.clone(), keys, is_line));
        return Some(Change {
            key: source.words(key),
            id: None,
            said: None,
            span,
            said_span: source.span(said),
        });
    };
    let said_span = source.span(said.clone());
    let block = match kind {
        KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool => Block::Equipment,
        KeyKind::Product | KeyKind::ByProduct => Block::Products,
        KeyKind::Material | KeyKind::Kept => Block::Materials,
    };
    if said.is_empty() {
        let name = source.str(key.clone());
        let message = format!(
            "Say what {} is in this run: `{name} is NAME`.",
            quoted(name)
        );
        problems.push(Problem::new("missing-identity", span, message));
        return None;
    }
    let said = if block == Block::Equipment {
        Said::Equipment(read_equipment(source, key.clone(), said, problems))
    } else {
        let mut entry = read_entry(source, key.clone(), said, block, true, problems);
        for field in &mut entry.fields {
            resolve_field(source, &mut field.kind, Some(id), keys, problems);
            problems.extend(misplaced(&field.kind, field.span, source.str(key.clone())));
        }
        Said::Entry(entry)
    };
    Some(Change {
        key: source.words(key),
        id: Some(id),
        said: Some(said),
        span,
        said_span,
    })
}

/// What a run cannot say of a line: outright amounts, which are the plan's, and what was measured.
fn misplaced(kind: &FieldKind, span: Span, key: &str) -> Option<Problem> {
    let message = match kind {
        FieldKind::Amount(amount)
            if matches!(
                amount.kind,
                AmountKind::Amount | AmountKind::Mass | AmountKind::Volume
            ) =>
        {
            format!(
                "How much of `{key}` a run takes follows from the line in the plan: write equivalents, or leave it out. The run's own amount stands first, as in `A: 5.00 mmol`."
            )
        }
        FieldKind::Took(_) | FieldKind::Obtained(_) => {
            "What was measured belongs to a plan of its own: write this run as one first."
                .to_owned()
        }
        _ => return None,
    };
    Some(Problem::new("bad-run", span, message))
}
