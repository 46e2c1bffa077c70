//! What kind of line a line is, from its text and the block that it stands in alone.

use crate::ast::{Block, PlaceKind, RemarkKind, Verb};
use crate::fold::{Source, fold};
use crate::vocabulary::{Known, known};
use crate::words::{self, is_place, misspelt_header, verb};
use std::ops::Range;

/// The kind of a line. Stretches are of the folded text, without the comment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Blank,
    /// The title, which may be empty.
    Plan {
        title: Range<usize>,
        colon: bool,
    },
    Header {
        block: Block,
        word: Range<usize>,
        colon: bool,
        rest: Range<usize>,
        misspelt: Option<&'static str>,
    },
    Statement {
        word: LineWord,
        at: Range<usize>,
        colon: bool,
        rest: Range<usize>,
    },
    Entry {
        key: Range<usize>,
        colon: Colon,
        body: Range<usize>,
    },
    Place {
        kind: PlaceKind,
        rest: Range<usize>,
        whole: Range<usize>,
        end: PlaceEnd,
    },
    /// From the first word after the step's number; empty after a lone number.
    Step {
        number: bool,
        body: Range<usize>,
    },
    /// `if …`
    Remark,
    Other,
}

/// Words that begin a statement.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum LineWord {
    Note,
    Scale,
    Room,
    Reaction,
    Start,
    Author,
    Date,
    Source,
}

impl LineWord {
    pub(crate) const ALL: &'static [(&'static str, LineWord)] = &[
        ("note", LineWord::Note),
        ("scale", LineWord::Scale),
        ("room", LineWord::Room),
        ("reaction", LineWord::Reaction),
        ("start", LineWord::Start),
        ("author", LineWord::Author),
        ("date", LineWord::Date),
        ("source", LineWord::Source),
    ];

    pub(crate) fn remark(self) -> Option<RemarkKind> {
        match self {
            LineWord::Note => Some(RemarkKind::Note),
            LineWord::Author => Some(RemarkKind::Author),
            LineWord::Date => Some(RemarkKind::Date),
            LineWord::Source => Some(RemarkKind::Source),
            _ => None,
        }
    }
}

/// How the colon of an entry is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Colon {
    /// `key: …`
    Plain,
    /// `key:…`
    Glued,
    /// `two words: …`
    Several,
    /// None: the first word was taken as the key.
    Missing,
}

/// What follows a line's place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum PlaceEnd {
    Alone,
    Colon(usize),
    /// `in vial, dissolve …`: where the rest begins, at the comma.
    More(usize),
}

/// Where a line's comment begins: a `#` at its start, or after white space and not before a digit.
pub(crate) fn comment_start(source: &Source<'_>) -> Option<usize> {
    let bytes = source.text.as_bytes();
    memchr::memchr_iter(b'#', bytes).find(|&at| {
        source.skip_space(0, at) == at
            || source.is_space(at - 1) && !source.byte(at + 1).is_ascii_digit()
    })
}

/// Blocks whose lines read `key: …`.
pub(crate) fn is_entry_block(block: Block) -> bool {
    matches!(
        block,
        Block::Materials | Block::Products | Block::Equipment | Block::Runs
    )
}

/// Whether a raw line begins a plan.
pub(crate) fn is_plan_line(line: &str) -> bool {
    let mut folded = line.chars().map(fold).skip_while(|&c| c == ' ');
    let plan = folded
        .by_ref()
        .take(4)
        .map(|c| c.to_ascii_lowercase())
        .eq("plan".chars());
    plan && matches!(folded.next(), None | Some(' ' | ':'))
}

/// The word at the start of a stretch, up to white space or a colon.
fn first_word(source: &Source<'_>, body: &Range<usize>) -> Range<usize> {
    let end = source.word_end(body.start, body.end);
    let colon = source
        .str(body.start..end)
        .bytes()
        .position(|byte| byte == b':');
    body.start..colon.map_or(end, |at| body.start + at)
}

/// What follows a word: whether a colon does, and the rest.
fn after_word(source: &Source<'_>, word: &Range<usize>, end: usize) -> (bool, Range<usize>) {
    let at = source.skip_space(word.end, end);
    let colon = at < end && source.byte(at) == b':';
    let rest = source.trim(if colon { at + 1 } else { at }..end);
    (colon, rest)
}

/// Classifies a line by its body: its text without comment and outer white space.
pub(crate) fn classify(source: &Source<'_>, body: Range<usize>, block: Block) -> Kind {
    if body.is_empty() {
        return Kind::Blank;
    }
    let end = body.end;
    let word = first_word(source, &body);
    let text = source.str(word.clone());
    let (colon, rest) = after_word(source, &word, end);
    if text.eq_ignore_ascii_case("plan") {
        return Kind::Plan { title: rest, colon };
    }
    let known = known(text);
    if let Some(block) = known.header {
        return Kind::Header {
            block,
            word,
            colon,
            rest,
            misspelt: None,
        };
    }
    let steps = block == Block::Steps;
    let in_entries = is_entry_block(block);
    let (number, after_number) = step_number(source, &body);
    let statement = known
        .line
        .map(|found| (found, word.clone(), colon, rest.clone()))
        .or_else(|| {
            // `3. note see the notebook`
            let word = number.then(|| first_word(source, &(after_number..end)))?;
            let is_note = source.str(word.clone()).eq_ignore_ascii_case("note");
            let (colon, rest) = after_word(source, &word, end);
            is_note.then_some((LineWord::Note, word, colon, rest))
        });
    if let Some((found, at, colon, rest)) = statement {
        let may_be_key = matches!(
            found,
            LineWord::Start | LineWord::Author | LineWord::Date | LineWord::Source
        );
        if !(colon && in_entries && may_be_key) {
            return Kind::Statement {
                word: found,
                at,
                colon,
                rest,
            };
        }
    }
    if steps {
        let first = source.word_end(after_number, end);
        let second = (first + 1).min(end);
        let second = second..source.word_end(second, end);
        if words::begins_remark(source.str(after_number..first), source.str(second)) {
            return Kind::Remark;
        }
    }
    let colon = colon.then(|| source.skip_space(word.end, end));
    if let Some(entry) = entry(source, &body, colon, block) {
        return entry;
    }
    let numbered = after_number..end;
    if let Some(place) = place(source, &numbered)
        && !(steps && leads_step(source, &place, end))
    {
        return place;
    }
    let lone = word.end == end;
    if lone
        && known.verb.is_none()
        && let Some((meant, block)) = misspelt_header(text)
    {
        return Kind::Header {
            block,
            word,
            colon: false,
            rest: end..end,
            misspelt: Some(meant),
        };
    }
    if steps {
        return if text.eq_ignore_ascii_case("if") {
            Kind::Remark
        } else {
            Kind::Step {
                number,
                body: numbered,
            }
        };
    }
    // `add base dropwise` among the products is a step that was typed in the wrong place.
    let verb_at = first_word(source, &numbered);
    if let Some((_, stop)) = verb_at_start(source, &numbered)
        && stop < end
        && !source.str(verb_at.clone()).is_empty()
        && !words::is_noun(source.str(verb_at))
    {
        return Kind::Step {
            number,
            body: numbered,
        };
    }
    if in_entries && key_shaped(text) && !text.is_empty() {
        let end_of_key = source.word_end(body.start, end);
        let key =
            body.start..end_of_key - usize::from(source.is_separator(end_of_key - 1, end_of_key));
        if !key.is_empty() {
            let body = source.trim(skip_comma(source, key.end, end)..end);
            return Kind::Entry {
                key,
                colon: Colon::Missing,
                body,
            };
        }
    }
    Kind::Other
}

fn skip_comma(source: &Source<'_>, at: usize, end: usize) -> usize {
    if at < end && source.byte(at) == b',' {
        at + 1
    } else {
        at
    }
}

/// The number of a step, `3.` or `3)`, and where the step begins.
fn step_number(source: &Source<'_>, body: &Range<usize>) -> (bool, usize) {
    let mut at = body.start;
    while at < body.end && source.byte(at).is_ascii_digit() {
        at += 1;
    }
    let mark = at > body.start && at < body.end && matches!(source.byte(at), b'.' | b')');
    let after = at + 1;
    if mark
        && (after >= body.end
            || source.byte(after) == b' '
            || source.byte(after).is_ascii_alphabetic())
    {
        (true, source.skip_space(after, body.end))
    } else {
        (false, body.start)
    }
}

/// Whether a word may stand for a thing, reserved or not.
fn key_shaped(word: &str) -> bool {
    !word.contains([',', ':', '#', '>'])
}

/// `key: …`; the colon is the one that follows the first word.
fn entry(
    source: &Source<'_>,
    body: &Range<usize>,
    colon: Option<usize>,
    block: Block,
) -> Option<Kind> {
    let end = body.end;
    let steps = block == Block::Steps;
    let in_entries = is_entry_block(block);
    if let Some(at) = colon {
        let key = source.trim(body.start..at);
        let text = source.str(key.clone());
        if key.is_empty() || !key_shaped(text) || steps && verb(text).is_some() {
            return None;
        }
        let spaced = at + 1 >= end || source.byte(at + 1) == b' ';
        if spaced || in_entries {
            let colon = if spaced { Colon::Plain } else { Colon::Glued };
            return Some(Kind::Entry {
                key,
                colon,
                body: source.trim(at + 1..end),
            });
        }
        return None;
    }
    if !in_entries {
        return None;
    }
    // Up to three words before a colon that stands before the first comma, and not inside a ratio.
    let mut at = body.start;
    for _ in 0..3 {
        let stop = source.word_end(at, end);
        let word = source.str(at..stop);
        if let Some(found) = word.find(':').map(|n| at + n)
            && !(found > at
                && source.byte(found - 1).is_ascii_digit()
                && source.byte(found + 1).is_ascii_digit())
        {
            let key = source.trim(body.start..found);
            return Some(Kind::Entry {
                key,
                colon: Colon::Several,
                body: source.trim(found + 1..end),
            });
        }
        if word.contains(',') {
            return None;
        }
        at = source.skip_space(stop, end);
    }
    (at < end && source.byte(at) == b':').then(|| Kind::Entry {
        key: source.trim(body.start..at),
        colon: Colon::Several,
        body: source.trim(at + 1..end),
    })
}

/// `in vial`, `meanwhile in flaskB`, `out of glovebox`, `the day before`, `on the day`, alone on a line.
fn place(source: &Source<'_>, body: &Range<usize>) -> Option<Kind> {
    let end = body.end;
    let whole = body.clone();
    if !matches!(
        source.byte(body.start).to_ascii_lowercase(),
        b't' | b'o' | b'm' | b'i'
    ) {
        return None;
    }
    let closed = |stop: usize| match stop {
        stop if stop >= end => Some(PlaceEnd::Alone),
        stop if source.byte(stop) == b':' && stop + 1 == end => Some(PlaceEnd::Colon(stop)),
        _ => None,
    };
    for (words, kind) in [
        ("the day before", PlaceKind::DayBefore),
        ("on the day", PlaceKind::OnTheDay),
    ] {
        if let Some(stop) = skip_words(source, body.start, end, words)
            && let Some(close) = closed(source.skip_space(stop, end))
        {
            return Some(Kind::Place {
                kind,
                rest: end..end,
                whole,
                end: close,
            });
        }
    }
    let (kind, after) = if let Some(stop) = skip_words(source, body.start, end, "meanwhile") {
        let stop = skip_comma(source, stop, end);
        (
            PlaceKind::Meanwhile,
            skip_words(source, source.skip_space(stop, end), end, "in")?,
        )
    } else if let Some(stop) = skip_words(source, body.start, end, "out of") {
        (PlaceKind::OutOf, stop)
    } else {
        (PlaceKind::In, skip_words(source, body.start, end, "in")?)
    };
    let mut at = source.skip_space(after, end);
    for article in ["the", "a", "an"] {
        let stop = skip_words(source, at, end, article);
        let next = stop.map(|stop| source.skip_space(stop, end));
        // `in a`, of a flask that is called so.
        if let Some(next) = next.filter(|next| *next < end || article == "the") {
            at = next;
            break;
        }
    }
    if at >= end {
        return Some(Kind::Place {
            kind,
            rest: end..end,
            whole,
            end: PlaceEnd::Alone,
        });
    }
    // `in vial: dissolve ketone`
    let stop = source.separator(at..end);
    let stop = source
        .find(at..stop, b':')
        .filter(|&colon| colon + 1 < end && source.is_space(colon + 1))
        .unwrap_or(stop);
    let comma = (stop < end).then_some(stop);
    let colon = comma.is_none() && source.byte(end - 1) == b':';
    let rest = source.trim(at..if colon { end - 1 } else { stop });
    let text = source.str(rest.clone());
    let one = !text.contains(' ') && !text.starts_with(|c: char| c.is_ascii_digit());
    let last = text.rsplit(' ').next().unwrap_or_default();
    if text.is_empty()
        || !one
            && !is_place(last)
            && !words::is_funnel(text)
            && !words::is_small_vessel(text)
            && !words::is_flask(text)
    {
        return None;
    }
    let close = match comma {
        Some(at) => PlaceEnd::More(at),
        None if colon => PlaceEnd::Colon(end - 1),
        None => PlaceEnd::Alone,
    };
    Some(Kind::Place {
        kind,
        rest,
        whole,
        end: close,
    })
}

/// `in a vial, dissolve salt`: the place of one step. Into the glovebox leads only a line of its own.
fn leads_step(source: &Source<'_>, place: &Kind, end: usize) -> bool {
    let Kind::Place {
        kind: PlaceKind::In,
        rest,
        end: PlaceEnd::More(comma),
        ..
    } = place
    else {
        return false;
    };
    let next = source.skip_space(comma + 1, end);
    let word = source.str(next..source.word_end(next, end));
    source.byte(*comma) == b','
        && !source.str(rest.clone()).eq_ignore_ascii_case("glovebox")
        && (verb_at_start(source, &(next..end)).is_some()
            || words::is_adverb(word)
            || words::is_one_of(word, &["then", "let", "allow"]))
}

/// Where these words end, if the stretch begins with them and a word ends there.
pub(crate) fn skip_words(source: &Source<'_>, at: usize, end: usize, words: &str) -> Option<usize> {
    let mut at = at;
    for letter in words.bytes() {
        match at < end {
            true if letter == b' ' && source.is_space(at) => at = source.skip_space(at, end),
            true if letter.eq_ignore_ascii_case(&source.byte(at)) => at += 1,
            _ => return None,
        }
    }
    (at >= end || matches!(source.byte(at), b' ' | b',' | b':' | b';')).then_some(at)
}

/// The longest verb at the start of a stretch, and where it ends.
pub(crate) fn verb_at_start(source: &Source<'_>, body: &Range<usize>) -> Option<(Verb, usize)> {
    let stop = source.word_end(body.start, body.end);
    let first = source
        .str(body.start..stop)
        .trim_end_matches([',', ';', ':', '.']);
    if first.is_empty() || first.len() > 16 {
        return None;
    }
    let known = known(first);
    let end = body.start + first.len();
    if end < stop {
        return known.verb.map(|verb| (verb, end));
    }
    longest_verb(source, body, end, known)
}

/// The longest verb that begins with a word of which this is known, and where it ends.
pub(crate) fn longest_verb(
    source: &Source<'_>,
    body: &Range<usize>,
    end: usize,
    known: &Known,
) -> Option<(Verb, usize)> {
    let mut found = known.verb.map(|verb| (verb, end));
    for &(spelling, verb) in &known.longer {
        if let Some(stop) = skip_words(source, body.start, body.end, spelling)
            && found.is_none_or(|(_, before)| stop > before)
        {
            found = Some((verb, stop));
        }
    }
    found
}
