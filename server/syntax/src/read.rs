//! From the text of a file to its plans, and from the text of a plan to its lines.
//!
//! First every line is read alone, given the block that it stands in. Then the keys are collected, and what
//! refers to them is read.

use crate::ast::{Block, EquipmentKind, FieldKind, Place, PlaceKind, Referent, RemarkKind, Role, Scale, Span, Statement, Text, Thing};
use crate::entry::{read_entry, split_fields};
use crate::equipment::read_equipment;
use crate::fold::{Source, offset};
use crate::keys::{Clash, Keys, nearest};
use crate::line::{Colon, Kind, LineWord, PlaceEnd, classify, comment_start, is_plan_line, skip_words};
use crate::number::{Dimension, Quantity};
use crate::plan_text::{Key, KeyKind, Line, PlanText, Problem};
use crate::problem::quoted;
use crate::quantities::{Scan, bare_number, scan, scan_whole};
use crate::reaction::{arrow, read_reaction};
use crate::resolve::unknown_key;
use crate::step::read_step;
use crate::words::{self, is_place, reserved};
use std::ops::Range;
use std::sync::Arc;

/// The lines of a text: where each begins, its length, and the length of its end (LF, CRLF or CR).
fn line_stretches(text: &str) -> impl Iterator<Item = (Range<usize>, usize)> {
    let bytes = text.as_bytes();
    let mut at = 0;
    let mut done = false;
    std::iter::from_fn(move || {
        if done {
            return None;
        }
        let start = at;
        let rest = bytes.get(start..).unwrap_or_default();
        let end = rest.iter().position(|&byte| matches!(byte, b'\n' | b'\r')).map(|n| start + n);
        let Some(end) = end else {
            done = true;
            return Some((start..bytes.len(), 0));
        };
        let eol = if bytes.get(end) == Some(&b'\r') && bytes.get(end + 1) == Some(&b'\n') { 2 } else { 1 };
        at = end + eol;
        Some((start..end, eol))
    })
}

/// The plans of a file: each runs from its plan line to the next. What stands before the first plan line is a
/// plan without a title. The ranges tile the text; an empty file is one empty plan.
#[must_use]
pub fn plan_ranges(text: &str) -> Vec<Range<usize>> {
    let mut ranges = Vec::new();
    let mut start = 0;
    for (line, _) in line_stretches(text) {
        if line.start > start && text.get(line.clone()).is_some_and(is_plan_line) {
            ranges.push(start..line.start);
            start = line.start;
        }
    }
    ranges.push(start..text.len());
    ranges
}

/// A line between the two passes.
struct Draft<'a> {
    source: Source<'a>,
    kind: Kind,
    line: Line,
}

/// Reads one plan. Never fails: what cannot be read is kept as text, with its problem.
#[must_use]
pub fn read_plan(text: &str) -> PlanText {
    let mut block = Block::None;
    let mut drafts: Vec<Draft<'_>> = Vec::new();
    let mut run = Run::default();
    for (range, eol) in line_stretches(text) {
        let mut draft = read_alone(text, range, eol, &mut block);
        run.report(&mut draft);
        drafts.push(draft);
    }
    let keys = collect_keys(&mut drafts);
    for draft in &mut drafts {
        resolve(draft, &keys);
    }
    let mut lines: Vec<Line> = drafts.into_iter().map(|draft| draft.line).collect();
    whole_plan(&mut lines, &keys);
    PlanText { text: Arc::from(text), lines, keys: keys.list }
}

/// What is said once for a run of lines in the wrong block.
#[derive(Default)]
struct Run {
    last: Option<&'static str>,
}

impl Run {
    fn report(&mut self, draft: &mut Draft<'_>) {
        let block = draft.line.block;
        let code = match &draft.kind {
            Kind::Blank => return,
            Kind::Entry { .. } if !is_entry_block(block) => Some("entry-outside-block"),
            Kind::Place { .. } | Kind::Step { .. } if block != Block::Steps => Some("step-outside-steps"),
            _ => None,
        };
        if let Some(code) = code
            && self.last != Some(code)
        {
            let message = match code {
                "entry-outside-block" => "This line belongs below `materials`, `products` or `equipment`.",
                _ => "This line belongs below `steps`.",
            };
            let span = body_span(draft);
            draft.line.problems.push(Problem::new(code, span, message));
        }
        self.last = code;
    }
}

fn is_entry_block(block: Block) -> bool {
    matches!(block, Block::Materials | Block::Products | Block::Equipment)
}

/// The line without comment and outer white space, folded.
fn body(source: &Source<'_>, comment: Option<Span>) -> Range<usize> {
    let end = match comment {
        Some(_) => comment_start(source).unwrap_or(source.text.len()),
        None => source.text.len(),
    };
    source.trim(0..end)
}

fn body_span(draft: &Draft<'_>) -> Span {
    draft.source.span(body(&draft.source, draft.line.comment))
}

/// Reads a line given its block alone; what needs keys is left for `resolve`.
fn read_alone<'a>(text: &'a str, range: Range<usize>, eol: usize, block: &mut Block) -> Draft<'a> {
    let source = Source::new(text.get(range.clone()).unwrap_or_default());
    let comment = comment_start(&source).map(|at| source.span(at..source.text.len()));
    let whole = body(&source, comment);
    let kind = classify(&source, whole.clone(), *block);
    let mut problems = Vec::new();
    if let Some(span) = source.invisible.filter(|span| comment.is_none_or(|comment| span.start < comment.start)) {
        let message = "A character that cannot be seen stands here and is read as a space.";
        problems.push(Problem::new("invisible-character", span, message).mend("Write a space", span, " "));
    }
    let no_colon = |at: usize, word: &Range<usize>| {
        let colon = source.str(at..whole.end).find(':').map_or(at, |n| at + n);
        let span = source.span(colon..colon + 1);
        let message = format!("No colon follows {}.", quoted(source.str(word.clone())));
        Problem::new("no-colon", span, message).mend("Delete the colon", span, "")
    };
    let mut stands_in = *block;
    let statement = match &kind {
        Kind::Blank => Statement::Blank,
        Kind::Plan { title, colon } => {
            if *colon {
                problems.push(no_colon(whole.start, &(whole.start..whole.start + 4)));
            }
            *block = Block::None;
            stands_in = Block::None;
            Statement::Plan((!title.is_empty()).then(|| source.words(title.clone())))
        }
        Kind::Header { block: header, word, colon, rest, misspelt } => {
            *block = *header;
            stands_in = *header;
            if let Some(meant) = misspelt {
                let span = source.span(word.clone());
                let message = format!("{} is read as `{meant}`: correct its spelling.", quoted(source.str(word.clone())));
                problems.push(Problem::new("misspelt-header", span, message).mend(format!("Write {meant}"), span, *meant));
            }
            if *colon {
                problems.push(no_colon(word.end, word));
            }
            if !rest.is_empty() {
                let span = source.span(rest.clone());
                let message = format!("{} stands alone on its line: begin a new line here.", quoted(source.str(word.clone())));
                problems.push(Problem::new("header-stands-alone", span, message).mend("Begin a new line", span_before(span), "\n"));
            }
            Statement::Header(*header)
        }
        Kind::Statement { word, at, colon, rest } => {
            if *colon {
                problems.push(no_colon(at.end, at));
            }
            read_statement(&source, *word, at, rest.clone(), *block, &whole, &mut problems)
        }
        Kind::Entry { key, colon, body } => {
            report_key(&source, key.clone(), *colon, &mut problems);
            if *block == Block::Equipment {
                if body.is_empty() {
                    let message = "Say what it is: `100 mL two-neck flask, septum`.";
                    problems.push(Problem::new("missing-identity", source.span(key.clone()), message));
                }
                Statement::Equipment(read_equipment(&source, key.clone(), body.clone(), &mut problems))
            } else {
                let named = *colon != Colon::Missing;
                Statement::Entry(read_entry(&source, key.clone(), body.clone(), *block, named, &mut problems))
            }
        }
        Kind::Place { kind, whole, end, .. } => {
            match end {
                PlaceEnd::Alone => {}
                PlaceEnd::Colon(at) => {
                    let span = source.span(*at..*at + 1);
                    let message = "No colon follows a place.";
                    problems.push(Problem::new("no-colon", span, message).mend("Delete the colon", span, ""));
                }
                PlaceEnd::More(at) => {
                    let span = source.span(*at..whole.end);
                    let next = source.skip_space(*at + 1, whole.end);
                    let problem = Problem::new("one-step-a-line", span, "A place stands alone on its line: begin a new line here.");
                    problems.push(problem.mend("Begin a new line", source.span(*at..next), "\n"));
                }
            }
            Statement::Place(Place { kind: *kind, thing: None, span: source.span(whole.clone()) })
        }
        Kind::Step { .. } => Statement::Blank,
        Kind::Remark => Statement::Remark(RemarkKind::Remark, Some(source.words(whole.clone()))),
        Kind::Other => {
            let text = source.words(whole.clone());
            problems.push(Problem::new("unknown-line", text.span, unknown_line(*block)));
            Statement::Unread(text)
        }
    };
    let line = Line {
        start: offset(range.start),
        len: offset(range.len()),
        eol: offset(eol),
        block: stands_in,
        statement,
        comment,
        problems,
    };
    Draft { source, kind, line }
}

/// The empty stretch before a span.
fn span_before(span: Span) -> Span {
    Span { start: span.start, end: span.start }
}

fn unknown_line(block: Block) -> &'static str {
    match block {
        Block::None => "This line says nothing that a plan begins with: write `scale`, `reaction`, `room`, `note`, or a header such as `materials`.",
        Block::Steps => "This line is no step: begin with a verb.",
        _ => "A line here reads `key: what it is, …`.",
    }
}

/// What is wrong with a key as a word, and with its colon.
fn report_key(source: &Source<'_>, key: Range<usize>, colon: Colon, problems: &mut Vec<Problem>) {
    let span = source.span(key.clone());
    let word = source.str(key.clone());
    let shown = quoted(word);
    match colon {
        Colon::Plain => {}
        Colon::Glued => {
            let after = source.text.get(key.end..).and_then(|rest| rest.find(':')).map_or(key.end, |n| key.end + n + 1);
            let gap = source.span(after..after);
            problems.push(Problem::new("no-space-after-colon", gap, "A space follows the colon.").mend("Insert a space", gap, " "));
        }
        Colon::Several => {
            let joined: String = word.split(' ').collect();
            let message = format!("A key is one word: write {shown} as `{joined}`.");
            problems.push(Problem::new("key-of-several-words", span, message).mend(format!("Write {joined}"), span, joined));
            return;
        }
        Colon::Missing => {
            let gap = source.span(key.end..key.end);
            let message = format!("A colon is missing: write `{word}: what it is, …`.");
            problems.push(Problem::new("missing-colon", gap, message).mend("Insert the colon", gap, ":"));
        }
    }
    if !word.chars().any(char::is_alphabetic) {
        let message = format!("The key {shown} needs a letter.");
        problems.push(Problem::new("key-needs-letter", span, message));
    } else if let Some(what) = reserved(word) {
        let message = format!("{shown} is {what} and cannot be a key: choose another word.");
        problems.push(Problem::new("reserved-key", span, message));
    } else if matches!(scan_whole(source, key.clone()), Some(Scan::Quantity(_))) || is_count(word) {
        let message = format!("The key {shown} reads as a quantity: choose another word.");
        problems.push(Problem::new("key-reads-as-quantity", span, message));
    }
}

/// `2x`
fn is_count(word: &str) -> bool {
    word.strip_suffix(['x', 'X']).is_some_and(|digits| !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit()))
}

fn read_statement(
    source: &Source<'_>,
    word: LineWord,
    at: &Range<usize>,
    rest: Range<usize>,
    block: Block,
    whole: &Range<usize>,
    problems: &mut Vec<Problem>,
) -> Statement {
    let span = source.span(at.clone());
    if let Some(kind) = word.remark() {
        if rest.is_empty() {
            let message = format!("Text is missing after {}.", quoted(source.str(at.clone())));
            problems.push(Problem::new("missing-text", span, message));
            return Statement::Remark(kind, None);
        }
        return Statement::Remark(kind, Some(source.words(rest)));
    }
    let remark = || Statement::Remark(RemarkKind::Remark, Some(source.words(whole.clone())));
    match word {
        LineWord::Start => {
            let time = clock(source.str(rest.clone()));
            if time.is_none() {
                let message = "Write the time of day after `start`, as in `start 9:00`.";
                problems.push(Problem::new("start-needs-time", source.span(whole.clone()), message));
                if block == Block::Steps {
                    return remark();
                }
            }
            Statement::Start(time.map(|minutes| (minutes, source.span(rest))))
        }
        LineWord::Reaction if block == Block::Steps && arrow(source, &rest).is_none() => {
            let message = "An equation needs an arrow, as in `a + b -> c`; a remark begins with `note`.";
            problems.push(Problem::new("reaction-needs-arrow", source.span(whole.clone()), message));
            remark()
        }
        LineWord::Scale => Statement::Scale(read_scale(source, rest, span, problems)),
        LineWord::Room => Statement::Room(read_room(source, rest, problems)),
        // The equation is read against the keys.
        _ => Statement::Blank,
    }
}

/// `9:00` as minutes after midnight.
fn clock(text: &str) -> Option<u16> {
    let (hours, minutes) = text.split_once(':')?;
    let shape = (1..=2).contains(&hours.len()) && minutes.len() == 2;
    let digits = hours.bytes().chain(minutes.bytes()).all(|byte| byte.is_ascii_digit());
    let (hours, minutes) = (hours.parse::<u16>().ok()?, minutes.parse::<u16>().ok()?);
    (shape && digits && hours < 24 && minutes < 60).then_some(hours * 60 + minutes)
}

fn read_scale(source: &Source<'_>, rest: Range<usize>, word: Span, problems: &mut Vec<Problem>) -> Scale {
    let mut scale = Scale { quantity: None, key: None };
    // `scale ketone 5.00 mmol` reads too.
    let first = source.word_end(rest.start, rest.end);
    let (mut at, mut key) = (rest.start, None);
    if scan(source, at, rest.end).is_none() {
        key = Some(rest.start..first).filter(|key| !key.is_empty());
        at = source.skip_space(first, rest.end);
    }
    let mut tail = at..rest.end;
    let mut reported = false;
    if let Some(scanned) = scan(source, at, rest.end) {
        let range = at..scanned.end;
        tail = source.trim(scanned.end..rest.end);
        match scanned.scan {
            Scan::Quantity(quantity) => {
                if matches!(quantity.unit.dimension, Dimension::Amount | Dimension::Mass | Dimension::Volume) {
                    scale.quantity = Some(quantity);
                } else {
                    let message = format!("{} is no amount, mass or volume: write the scale as in `scale 5.00 mmol ketone`.", quoted(source.str(range)));
                    problems.push(Problem::new("unit-does-not-fit", quantity.span, message));
                    reported = true;
                }
            }
            Scan::Bare(..) => {
                problems.push(bare_number(source, range, &[Dimension::Amount, Dimension::Mass, Dimension::Volume]));
                reported = true;
            }
            Scan::Bad(problem) => {
                problems.push(problem);
                reported = true;
            }
        }
    }
    if let Some(stop) = skip_words(source, tail.start, tail.end, "of") {
        tail = source.trim(stop..tail.end);
    }
    if key.is_none() && !tail.is_empty() {
        key = Some(tail.start..source.word_end(tail.start, tail.end));
        tail = source.trim(source.word_end(tail.start, tail.end)..tail.end);
    }
    if !tail.is_empty() {
        let message = format!("{} is not read: the scale is a quantity and a key, as in `scale 5.00 mmol ketone`.", quoted(source.str(tail.clone())));
        problems.push(Problem::new("bad-field", source.span(tail), message));
    }
    if scale.quantity.is_none() && !reported {
        let message = "Write how much after `scale`, as in `scale 5.00 mmol ketone`.";
        problems.push(Problem::new("scale-needs-quantity", word, message));
    }
    if key.is_none() {
        let message = "Write whose amount this is, as in `scale 5.00 mmol ketone`.";
        problems.push(Problem::new("scale-needs-key", word, message));
    }
    scale.key = key.map(|key| source.words(key));
    scale
}

fn read_room(source: &Source<'_>, rest: Range<usize>, problems: &mut Vec<Problem>) -> Vec<Quantity> {
    let mut quantities = Vec::new();
    for field in split_fields(source, &rest, problems) {
        let problem = match scan_whole(source, field.clone()) {
            Some(Scan::Quantity(quantity))
                if matches!(quantity.unit.dimension, Dimension::Temperature | Dimension::Humidity | Dimension::Pressure) =>
            {
                quantities.push(quantity);
                continue;
            }
            Some(Scan::Bad(problem)) => problem,
            _ => {
                let message = format!("{} does not describe the room: write `room 21 °C, 45 % RH`.", quoted(source.str(field.clone())));
                Problem::new("bad-field", source.span(field), message)
            }
        };
        problems.push(problem);
    }
    quantities
}

/// Every key of the plan. Names that two lines share are reported on the second.
fn collect_keys(drafts: &mut [Draft<'_>]) -> Keys {
    let mut keys = Keys::default();
    for (draft, index) in drafts.iter_mut().zip(0u32..) {
        let declared: Vec<(Text, KeyKind)> = match &draft.line.statement {
            Statement::Entry(entry) => {
                let by_product = entry.fields.iter().any(|field| field.kind == FieldKind::Role(Role::ByProduct));
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
                Kind::Step { body, .. } => kept_names(&draft.source, body).into_iter().map(|name| (name, KeyKind::Kept)).collect(),
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

fn declare(keys: &mut Keys, problems: &mut Vec<Problem>, name: Text, line: u32, kind: KeyKind) {
    let span = name.span;
    let shown = quoted(&name.text);
    match keys.declare(Key { name, line, kind }) {
        Ok(()) => {}
        // A name may be kept again: it then stands for the later thing.
        Err(Clash::Same(id)) if kind == KeyKind::Kept && keys.kind(id) == Some(KeyKind::Kept) => {}
        Err(Clash::Same(_)) => {
            let message = format!("The key {shown} is declared already: every key of a plan is declared once.");
            problems.push(Problem::new("duplicate-key", span, message));
        }
        Err(Clash::Case(other)) => {
            let other = other.and_then(|id| keys.get(id)).map_or_else(String::new, |key| format!(" from `{}`", key.name.text));
            let message = format!("The key {shown} differs{other} only by capital letters: choose another word.");
            problems.push(Problem::new("key-differs-by-case", span, message));
        }
    }
}

/// The names that `keep … as NAME` gives in a step.
fn kept_names(source: &Source<'_>, body: &Range<usize>) -> Vec<Text> {
    let mut names = Vec::new();
    let mut start = body.start;
    // One clause at a time: `as` gives a name only in a clause that begins with `keep`.
    while start < body.end {
        let stop = (start..body.end).find(|&at| source.is_separator(at, body.end)).unwrap_or(body.end);
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

/// Reads what refers to keys.
fn resolve(draft: &mut Draft<'_>, keys: &Keys) {
    let Draft { source, kind, line } = draft;
    let problems = &mut line.problems;
    match kind {
        Kind::Statement { word: LineWord::Reaction, rest, .. } if line.statement == Statement::Blank => {
            line.statement = Statement::Reaction(read_reaction(source, rest.clone(), keys, problems));
        }
        Kind::Statement { word: LineWord::Scale, .. } => {
            if let Statement::Scale(Scale { key: Some(key), .. }) = &line.statement
                && keys.find(&key.text).is_none_or(|id| !is_substance_key(keys, id))
            {
                let range = find_word(source, key.span);
                problems.push(unknown_key(source, range, keys, |kind| {
                    matches!(kind, KeyKind::Material | KeyKind::Product | KeyKind::ByProduct)
                }));
            }
        }
        Kind::Entry { .. } => {
            if let Statement::Entry(entry) = &mut line.statement {
                let own = keys.find_exact(&entry.key.text);
                for field in &mut entry.fields {
                    resolve_field(source, &mut field.kind, own, keys, problems);
                }
            }
        }
        Kind::Place { kind, rest, .. } => {
            if let Statement::Place(place) = &mut line.statement {
                place.thing = place_thing(source, rest.clone(), *kind, keys, problems);
            }
        }
        Kind::Step { number, body } => {
            line.statement = step(source, *number, body.clone(), line.block, keys, problems);
        }
        _ => {}
    }
}

fn is_substance_key(keys: &Keys, id: crate::ast::KeyId) -> bool {
    matches!(keys.kind(id), Some(KeyKind::Material | KeyKind::Product | KeyKind::ByProduct))
}

/// The folded stretch that was written at a span.
fn find_word(source: &Source<'_>, span: Span) -> Range<usize> {
    source.folded(span.start)..source.folded(span.end)
}

fn resolve_field(
    source: &Source<'_>,
    kind: &mut FieldKind,
    own: Option<crate::ast::KeyId>,
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
                        matches!(kind, KeyKind::Material | KeyKind::Product | KeyKind::ByProduct)
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

fn place_thing(
    source: &Source<'_>,
    range: Range<usize>,
    kind: PlaceKind,
    keys: &Keys,
    problems: &mut Vec<Problem>,
) -> Option<Thing> {
    if range.is_empty() {
        if matches!(kind, PlaceKind::In | PlaceKind::Meanwhile | PlaceKind::OutOf) {
            let end = source.text.trim_end().len();
            let start = source.text.get(..end).and_then(|text| text.rfind(' ')).map_or(0, |at| at + 1);
            let word = quoted(source.str(start..end));
            let message = format!("Write a vessel or a place after {word}.");
            problems.push(Problem::new("incomplete", source.span(start..end), message));
        }
        return None;
    }
    let text = source.str(range.clone());
    let equipment = |kind| matches!(kind, KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool);
    let referent = match keys.find(text) {
        Some(id) if keys.kind(id).is_some_and(equipment) => Referent::Key(id),
        Some(_) => {
            let message = format!("{} is no vessel: name equipment, or a place such as `glovebox`.", quoted(text));
            problems.push(Problem::new("not-a-vessel", source.span(range.clone()), message));
            Referent::Unknown
        }
        None if text.rsplit(' ').next().is_some_and(is_place) => Referent::Place,
        None => {
            problems.push(unknown_key(source, range.clone(), keys, equipment));
            Referent::Unknown
        }
    };
    Some(Thing { name: source.words(range), referent, adjective: None, portions: Vec::new() })
}

fn step(
    source: &Source<'_>,
    number: bool,
    body: Range<usize>,
    block: Block,
    keys: &Keys,
    problems: &mut Vec<Problem>,
) -> Statement {
    if body.is_empty() && number {
        let whole = source.trim(0..body.start.max(1));
        let message = "A verb is missing after the number of the step.";
        problems.push(Problem::new("missing-verb", source.span(whole), message));
        return Statement::Step(crate::ast::Step { clauses: Vec::new() });
    }
    let before = problems.len();
    if let Some(step) = read_step(source, body.clone(), keys, problems) {
        return Statement::Step(step);
    }
    problems.truncate(before);
    let _ = block;
    let first = body.start..source.word_end(body.start, body.end);
    let word = source.str(first.clone()).trim_end_matches([',', '.', ';', ':']);
    let first = first.start..first.start + word.len();
    let span = source.span(first.clone());
    let no_verb = word.is_empty()
        || word.starts_with(|c: char| !c.is_alphabetic())
        || words::preposition(word).is_some()
        || word.eq_ignore_ascii_case("meanwhile")
        || words::is_adverb(word)
        || keys.find(word).is_some();
    if no_verb {
        let message = "A step begins with its verb; as it stands, this line is kept as a remark.";
        problems.push(Problem::new("verb-first", span, message));
    } else {
        let near = nearest(word, crate::ast::Verb::SPELLINGS.iter().map(|(spelling, _)| *spelling));
        let mut message = format!("{} is no verb that is known, so the line is kept as a remark", quoted(word));
        if let Some(other) = near.first() {
            message.push_str(&format!(": did you mean `{other}`?"));
        } else {
            message.push('.');
        }
        let mut problem = Problem::new("unknown-verb", span, message);
        for other in near {
            problem = problem.mend(format!("Write {other}"), span, other);
        }
        problems.push(problem);
    }
    Statement::Remark(RemarkKind::Remark, Some(source.words(body)))
}

/// What is said once of a whole plan.
fn whole_plan(lines: &mut [Line], keys: &Keys) {
    let says_something = |line: &&mut Line| line.statement != Statement::Blank;
    if let Some(line) = lines.iter_mut().find(says_something)
        && !matches!(line.statement, Statement::Plan(_))
    {
        let span = Span { start: 0, end: line.len };
        let message = "A plan begins with `plan TITLE`.";
        line.problems.insert(0, Problem::new("no-plan-line", span, message));
    }
    // Without any entry every name would be unknown: one remark says it better than many.
    if keys.list.iter().all(|key| key.kind == KeyKind::Kept) {
        let mut said = false;
        for line in lines {
            let unknown = line.problems.iter().position(|problem| problem.code == "unknown-key");
            line.problems.retain(|problem| problem.code != "unknown-key");
            if unknown.is_some() && !said {
                said = true;
                let span = Span { start: 0, end: line.len };
                let message = "This plan has no materials and no equipment yet, so the names in it mean nothing: declare them below `materials` and `equipment`.";
                line.problems.push(Problem::new("no-entries", span, message));
            }
        }
    }
}
