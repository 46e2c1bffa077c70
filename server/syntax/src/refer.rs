//! Lines that refer to keys, read once all keys are known.

use crate::ast::{
    Block, FieldKind, KeyId, PlaceKind, Referent, RemarkKind, Scale, Span, Statement, Step, Thing,
};
use crate::fold::Source;
use crate::keys::Keys;
use crate::lexer::{Pieces, Tok};
use crate::line::{Kind, LineWord};
use crate::plan_text::{KeyKind, Problem};
use crate::problem::quoted;
use crate::quantities::is_portion;
use crate::reaction::read_reaction;
use crate::read::Draft;
use crate::resolve::{unknown_key, unlisted_vessel};
use crate::runs::read_run;
use crate::step::{Scratch, read_step};
use crate::vocabulary::Use;
use crate::words::{self, is_place};
use std::ops::Range;
use std::sync::Arc;

/// Reads what refers to keys.
pub(crate) fn resolve(draft: &mut Draft<'_>, keys: &Keys, scratch: &mut Scratch) {
    let Draft { source, kind, line } = draft;
    let problems = &mut line.problems;
    match kind {
        Kind::Statement {
            word: LineWord::Reaction,
            rest,
            ..
        } if line.statement == Statement::Blank => {
            line.statement =
                Statement::Reaction(read_reaction(source, rest.clone(), keys, problems));
        }
        Kind::Statement {
            word: LineWord::Scale,
            ..
        } => {
            if let Statement::Scale(Scale { key: Some(key), .. }) = &line.statement
                && keys
                    .find(&key.text)
                    .is_none_or(|id| !is_substance_key(keys, id))
            {
                let range = find_word(source, key.span);
                problems.push(unknown_key(source, range, keys, |kind| {
                    matches!(
                        kind,
                        KeyKind::Material | KeyKind::Product | KeyKind::ByProduct
                    )
                }));
            }
        }
        Kind::Entry { key, colon, body } if line.block == Block::Runs => {
            line.statement = read_run(source, key.clone(), *colon, body.clone(), keys, problems);
        }
        Kind::Entry { .. } => {
            if let Statement::Entry(entry) = &mut line.statement {
                let own = keys.find_exact(&entry.key.text);
                for field in &mut Arc::make_mut(entry).fields {
                    resolve_field(source, &mut field.kind, own, keys, problems);
                }
            }
        }
        Kind::Place { kind, rest, .. } => {
            if let Statement::Place(place) = &mut line.statement {
                place.thing =
                    place_thing(source, rest.clone(), *kind, keys, problems).map(Box::new);
            }
        }
        Kind::Step { number, body } => {
            line.statement = step(source, *number, body.clone(), keys, problems, scratch);
        }
        _ => {}
    }
}

pub(crate) fn is_substance_key(keys: &Keys, id: KeyId) -> bool {
    matches!(
        keys.kind(id),
        Some(KeyKind::Material | KeyKind::Product | KeyKind::ByProduct)
    )
}

/// The folded stretch that was written at a span.
pub(crate) fn find_word(source: &Source<'_>, span: Span) -> Range<usize> {
    source.folded(span.start)..source.folded(span.end)
}

pub(crate) fn resolve_field(
    source: &Source<'_>,
    kind: &mut FieldKind,
    own: Option<KeyId>,
    keys: &Keys,
    problems: &mut Vec<Problem>,
) {
    match kind {
        FieldKind::Amount(amount) => {
            if let Some((name, id)) = &mut amount.of {
                *id = keys.find(&name.text);
                if id.is_none() {
                    let range = find_word(source, name.span);
                    problems.push(unknown_key(source, range, keys, |kind| {
                        matches!(
                            kind,
                            KeyKind::Material | KeyKind::Product | KeyKind::ByProduct
                        )
                    }));
                }
            }
        }
        FieldKind::Strength(strength) => {
            if let Some((name, id)) = &mut strength.carrier {
                // Only an exact key, and of another line: `THF` beside a key `thf` is the solvent by name.
                *id = keys
                    .find_exact(&name.text)
                    .filter(|id| Some(*id) != own && keys.kind(*id) == Some(KeyKind::Material));
            }
        }
        _ => {}
    }
}

pub(crate) fn place_thing(
    source: &Source<'_>,
    range: Range<usize>,
    kind: PlaceKind,
    keys: &Keys,
    problems: &mut Vec<Problem>,
) -> Option<Thing> {
    if range.is_empty() {
        if matches!(
            kind,
            PlaceKind::In | PlaceKind::Meanwhile | PlaceKind::OutOf
        ) {
            let end = source.text.trim_end().len();
            let start = source
                .text
                .get(..end)
                .and_then(|text| text.rfind(' '))
                .map_or(0, |at| at + 1);
            let word = quoted(source.str(start..end));
            let message = format!("Write a vessel or a place after {word}.");
            problems.push(Problem::new("incomplete", source.span(start..end), message));
        }
        return None;
    }
    let text = source.str(range.clone());
    let equipment = |kind| matches!(kind, KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool);
    // Of a funnel it says which, and of a flask or a vial only what kind.
    let described = || words::is_funnel(text).then(|| keys.find_tool(text))?;
    let referent = match keys.find(text).or_else(described) {
        Some(id) if keys.kind(id).is_some_and(equipment) => Referent::Key(id),
        Some(_) => {
            let message = format!(
                "{} is no vessel: name equipment, or a place such as `glovebox`.",
                quoted(text)
            );
            problems.push(Problem::new(
                "not-a-vessel",
                source.span(range.clone()),
                message,
            ));
            Referent::Unknown
        }
        None if text.rsplit(' ').next().is_some_and(is_place) => Referent::Place,
        // Followed as a vessel of unknown size, where it is no slip of a key.
        None if words::is_small_vessel(text)
            && !keys.is_near(text)
            && !keys.lists_one(text)
            && keys.nearest(text, equipment).is_empty()
            || keys.lacks_flask(text) =>
        {
            problems.push(unlisted_vessel(source, range.clone()));
            Referent::Unknown
        }
        None => {
            problems.push(unknown_key(source, range.clone(), keys, equipment));
            Referent::Unknown
        }
    };
    Some(Thing {
        name: source.words(range),
        referent,
        adjective: None,
        portions: Vec::new(),
    })
}

pub(crate) fn step(
    source: &Source<'_>,
    number: bool,
    body: Range<usize>,
    keys: &Keys,
    problems: &mut Vec<Problem>,
    scratch: &mut Scratch,
) -> Statement {
    if body.is_empty() && number {
        let whole = source.trim(0..body.start.max(1));
        let message = "A verb is missing after the number of the step.";
        problems.push(Problem::new("missing-verb", source.span(whole), message));
        return Statement::Step(Step {
            clauses: Vec::new(),
        });
    }
    let before = problems.len();
    if let Some(step) = read_step(source, body.clone(), keys, problems, scratch) {
        return Statement::Step(step);
    }
    problems.truncate(before);
    let first = body.start..source.word_end(body.start, body.end);
    let word = source
        .str(first.clone())
        .trim_end_matches([',', '.', ';', ':']);
    let first = first.start..first.start + word.len();
    let span = source.span(first.clone());
    let no_verb = word.is_empty()
        || word.starts_with(|c: char| !c.is_alphabetic())
        || words::preposition(word).is_some()
        || word.eq_ignore_ascii_case("meanwhile")
        || words::is_adverb(word)
        || keys.find(word).is_some();
    if no_verb {
        let message = match word.to_ascii_lowercase().as_str() {
            "to" => {
                "A step begins with its verb, as in `add base to flask`; as it stands, this line is kept as a remark."
            }
            "after" => {
                "A step begins with its verb, and a time before it is a step of its own, `wait for 30 min`; as it stands, this line is kept as a remark."
            }
            _ => "A step begins with its verb; as it stands, this line is kept as a remark.",
        };
        problems.push(Problem::new("verb-first", span, message));
    } else {
        problems.push(unknown_verb(source, first, body.clone(), keys));
    }
    Statement::Remark(RemarkKind::Remark, Some(source.words(body)))
}

/// A first word that is no verb, with the verb that is meant where that can be told.
fn unknown_verb(
    source: &Source<'_>,
    first: Range<usize>,
    body: Range<usize>,
    keys: &Keys,
) -> Problem {
    let word = source.str(first.clone());
    let kept = format!(
        "{} is no verb that is known, so the line is kept as a remark",
        quoted(word)
    );
    if words::is_one_of(word, &["allow", "let", "leave"])
        && let Some((until, meant)) = permitted(source, first.end..body.end, keys)
    {
        let span = source.span(first.start..until);
        let message = format!("{kept}: write `{meant}`.");
        return Problem::new("unknown-verb", source.span(first), message).mend(
            format!("Write {meant}"),
            span,
            meant,
        );
    }
    let near = words::meant_verbs(word);
    let message = match near.first() {
        Some(other) => format!("{kept}: did you mean `{other}`?"),
        None => format!("{kept}; if it is one, begin it with `note`."),
    };
    let span = source.span(first.clone());
    let slip = words::is_misspelt_verb(word);
    let named = named(source, body.clone(), keys);
    let code = match (slip, named) {
        (_, Named::WithPortion) | (true, Named::Alone | Named::Material) => "unread-step",
        (false, Named::Material) => "unread-line",
        (true, Named::No) => "misspelt-verb",
        (false, _) => "unknown-verb",
    };
    let message = match (code, near.first()) {
        ("unread-step", _) | ("unread-line", Some(_)) => {
            format!("{message} Nothing of it is counted as it stands.")
        }
        ("unread-line", None) => format!(
            "{kept}, and nothing of it is counted: begin it with a verb such as `add`, or with `note` if it is a remark."
        ),
        _ => message,
    };
    let problem = Problem::new(code, span, message);
    if matches!(code, "unread-step" | "unread-line") && near.is_empty() {
        let start = source.span(first.start..first.start);
        return problem.mend("Keep it as a note", start, "note ");
    }
    near.into_iter().fold(problem, |problem, other| {
        problem.mend(format!("Write {other}"), span, other)
    })
}

/// What a line that is no step says of the keys of the plan.
enum Named {
    No,
    Alone,
    /// A line of the materials, in what is no sentence.
    Material,
    WithPortion,
}

fn named(source: &Source<'_>, body: Range<usize>, keys: &Keys) -> Named {
    let pieces = Pieces::new(source, body, keys, Vec::new());
    let is_portion = |at: usize| match pieces.get(at) {
        Some(Tok::Quantity { quantity, .. }) => is_portion(quantity.unit.dimension),
        Some(Tok::Uncounted(_)) => true,
        _ => false,
    };
    let substance = |id| {
        let kind = keys.kind(id);
        kind.is_some_and(|kind| {
            matches!(kind, KeyKind::Material | KeyKind::Product | KeyKind::Kept)
        })
    };
    let mut found = Named::No;
    let sentence = (0..pieces.tokens.len()).any(|at| pieces.known(at).is(Use::Remark));
    for at in 0..pieces.tokens.len() {
        let Some(id) = pieces.key(at) else { continue };
        let before = match at.checked_sub(1) {
            Some(of) if pieces.is(of, "of") => of.checked_sub(1),
            before => before,
        };
        if substance(id) && (is_portion(at + 1) || before.is_some_and(is_portion)) {
            return Named::WithPortion;
        }
        let article = pieces.is(at, "a") && matches!(pieces.get(at + 1), Some(Tok::Word));
        let material = keys.kind(id) == Some(KeyKind::Material) && !sentence && !article;
        found = match found {
            Named::Material => found,
            _ if material => Named::Material,
            _ => Named::Alone,
        };
    }
    found
}

/// `the mixture to warm` after `allow`: where it ends, and `warm`; a key in it is kept, as in `warm flask`.
fn permitted(source: &Source<'_>, range: Range<usize>, keys: &Keys) -> Option<(usize, String)> {
    const MOST_WORDS: usize = 6;
    let (mut at, mut things) = (range.start, Vec::new());
    for _ in 0..MOST_WORDS {
        at = source.skip_space(at, range.end);
        let stop = source.word_end(at, range.end);
        let word = source.str(at..stop);
        if words::verb(word).is_some() {
            let meant = std::iter::once(word).chain(things).collect::<Vec<_>>();
            return Some((stop, meant.join(" ")));
        }
        if word.is_empty() || word.ends_with(',') {
            return None;
        }
        if keys.find(word).is_some() {
            things.push(word);
        }
        at = stop;
    }
    None
}
