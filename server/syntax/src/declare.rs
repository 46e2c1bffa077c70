//! The keys that the lines of a plan declare.

use crate::ast::{EquipmentKind, FieldKind, Role, Statement, Text};
use crate::fold::Source;
use crate::keys::{Clash, Keys};
use crate::line::{Colon, Kind, skip_words};
use crate::plan_text::{Key, KeyKind, Problem};
use crate::problem::quoted;
use crate::quantities::{Scan, scan, scan_whole};
use crate::read::Draft;
use crate::strength::word_strength;
use crate::words::reserved;
use std::ops::Range;

/// What is wrong with a key as a word, and with its colon.
pub(crate) fn report_key(
    source: &Source<'_>,
    key: Range<usize>,
    colon: Colon,
    problems: &mut Vec<Problem>,
) {
    if !report_colon(source, key.clone(), colon, "key", problems) {
        return;
    }
    let span = source.span(key.clone());
    let word = source.str(key.clone());
    let shown = || quoted(word);
    if !word.chars().any(char::is_alphabetic) {
        let message = format!("The key {} needs a letter.", shown());
        problems.push(Problem::new("key-needs-letter", span, message));
    } else if let Some(what) = reserved(word) {
        let message = format!(
            "{} is {what} and cannot be a key: choose another word.",
            shown()
        );
        problems.push(Problem::new("reserved-key", span, message));
    } else if matches!(scan_whole(source, key.clone()), Some(Scan::Quantity(_))) || is_count(word) {
        let message = format!(
            "The key {} reads as a quantity: choose another word.",
            shown()
        );
        problems.push(Problem::new("key-reads-as-quantity", span, message));
    }
}

/// What is wrong with the colon behind a key or label. False where it is no single word.
pub(crate) fn report_colon(
    source: &Source<'_>,
    key: Range<usize>,
    colon: Colon,
    what: &str,
    problems: &mut Vec<Problem>,
) -> bool {
    let span = source.span(key.clone());
    let word = source.str(key.clone());
    let shown = || quoted(word);
    match colon {
        Colon::Plain => {}
        Colon::Glued => {
            let after = source
                .text
                .get(key.end..)
                .and_then(|rest| rest.find(':'))
                .map_or(key.end, |n| key.end + n + 1);
            let gap = source.span(after..after);
            problems.push(
                Problem::new("no-space-after-colon", gap, "A space follows the colon.").mend(
                    "Insert a space",
                    gap,
                    " ",
                ),
            );
        }
        Colon::Several => {
            let joined: String = word.split(' ').collect();
            let message = format!("A {what} is one word: write {} as `{joined}`.", shown());
            problems.push(Problem::new("key-of-several-words", span, message).mend(
                format!("Write {joined}"),
                span,
                joined,
            ));
            return false;
        }
        Colon::Missing => {
            let gap = source.span(key.end..key.end);
            let message = format!("A colon is missing: write `{word}: what it is, …`.");
            problems.push(Problem::new("missing-colon", gap, message).mend(
                "Insert the colon",
                gap,
                ":",
            ));
        }
    }
    true
}

/// `1 M HCl, 20 mL` without a key: where what belongs after the key ends.
pub(crate) fn begins_with_quantity(source: &Source<'_>, at: usize) -> Option<usize> {
    let end = source.text.len();
    if let Some((_, stop)) = word_strength(source, at, end) {
        return Some(stop);
    }
    let scanned = scan(source, at, end)?;
    matches!(scanned.scan, Scan::Quantity(_)).then_some(scanned.end)
}

/// The key that such a line lacks, with a proposal from the name.
pub(crate) fn missing_key(source: &Source<'_>, at: usize, stop: usize) -> Problem {
    let end = source.text.len();
    let name = source.skip_space(stop, end);
    let name = name..source.word_end(name, end);
    let word = source.str(name.clone()).trim_end_matches([',', ';', '.']);
    let key: String = word
        .to_lowercase()
        .chars()
        .filter(char::is_ascii_alphanumeric)
        .collect();
    let fits = key.contains(char::is_alphabetic) && reserved(&key).is_none();
    let key = if fits { key } else { "key".to_owned() };
    let first = source.str(at..stop);
    let aqueous = if first.ends_with(['M', 'N']) {
        " in water"
    } else {
        ""
    };
    let message = format!(
        "A line here begins with a key of your choice and a colon, then says what it is: `{key}: {word}, {first}{aqueous}`."
    );
    let end = (name.start + word.len()).max(stop);
    Problem::new("missing-key", source.span(at..end), message).mend(
        format!("Write {key}: before it"),
        source.span(at..at),
        format!("{key}: "),
    )
}

/// `2x`
pub(crate) fn is_count(word: &str) -> bool {
    word.strip_suffix(['x', 'X'])
        .is_some_and(|digits| !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit()))
}

/// Every key of the plan. Names that two lines share are reported on the second.
pub(crate) fn collect_keys(drafts: &mut [Draft<'_>]) -> Keys {
    let mut keys = Keys::default();
    for (draft, index) in drafts.iter_mut().zip(0u32..) {
        let declared: Vec<(Text, KeyKind)> = match &draft.line.statement {
            Statement::Entry(entry) => {
                let by_product = entry
                    .fields
                    .iter()
                    .any(|field| field.kind == FieldKind::Role(Role::ByProduct));
                let kind = match (entry.product, by_product) {
                    (true, true) => KeyKind::ByProduct,
                    (true, false) => KeyKind::Product,
                    (false, _) => KeyKind::Material,
                };
                vec![(entry.key.clone(), kind)]
            }
            Statement::Equipment(equipment) => {
                let kind = match equipment.kind {
                    EquipmentKind::Vessel => KeyKind::Vessel,
                    EquipmentKind::Holder => KeyKind::Holder,
                    EquipmentKind::Tool => KeyKind::Tool,
                };
                vec![(equipment.key.clone(), kind)]
            }
            _ => match &draft.kind {
                Kind::Step { body, .. } => kept_names(&draft.source, body)
                    .into_iter()
                    .map(|name| (name, KeyKind::Kept))
                    .collect(),
                _ => Vec::new(),
            },
        };
        for (name, kind) in declared {
            declare(&mut keys, &mut draft.line.problems, name, index, kind);
        }
        if let Statement::Equipment(equipment) = &draft.line.statement {
            let words = equipment.description();
            keys.describe(&words, &equipment.key.text);
        }
    }
    keys
}

pub(crate) fn declare(
    keys: &mut Keys,
    problems: &mut Vec<Problem>,
    name: Text,
    line: u32,
    kind: KeyKind,
) {
    let span = name.span;
    match keys.declare(Key { name, line, kind }) {
        Ok(()) => {}
        // A name may be kept again: it then stands for the later thing.
        Err(Clash::Same(id)) if kind == KeyKind::Kept && keys.kind(id) == Some(KeyKind::Kept) => {}
        Err(Clash::Same(id)) => {
            let shown = keys.get(id).map(|key| quoted(&key.name.text));
            let shown = shown.unwrap_or_default();
            let message = format!(
                "The key {shown} is declared already: every key of a plan is declared once."
            );
            problems.push(Problem::new("duplicate-key", span, message));
        }
        Err(Clash::Case(other)) => {
            let shown = keys.list.last().map(|key| quoted(&key.name.text));
            let shown = shown.unwrap_or_default();
            let other = other
                .and_then(|id| keys.get(id))
                .map_or_else(String::new, |key| format!(" from `{}`", key.name.text));
            let message = format!(
                "The key {shown} differs{other} only by capital letters: choose another word."
            );
            problems.push(Problem::new("key-differs-by-case", span, message));
        }
    }
}

/// The names that `keep … as NAME` gives in a step.
pub(crate) fn kept_names(source: &Source<'_>, body: &Range<usize>) -> Vec<Text> {
    let mut names = Vec::new();
    let mut start = body.start;
    // One clause at a time: `as` gives a name only in a clause that begins with `keep`.
    while start < body.end {
        let stop = source.separator(start..body.end);
        let clause = source.trim(start..stop);
        if let Some(keep) = skip_words(source, clause.start, clause.end, "keep") {
            let mut at = source.skip_space(keep, clause.end);
            while at < clause.end {
                if let Some(after) = skip_words(source, at, clause.end, "as") {
                    let first = source.skip_space(after, clause.end);
                    let name = first..source.word_end(first, clause.end);
                    if !name.is_empty() && reserved(source.str(name.clone())).is_none() {
                        names.push(source.words(name));
                    }
                    break;
                }
                at = source.skip_space(source.word_end(at, clause.end), clause.end);
            }
        }
        start = stop + 1;
    }
    names
}
