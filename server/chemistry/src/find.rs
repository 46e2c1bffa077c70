//! From what a chemist writes to a substance.

use std::collections::HashMap;
use std::sync::{LazyLock, RwLock};

use foldhash::fast::RandomState;

use crate::fold::fold;
use crate::formula::Formula;
use crate::slip::Written;
use crate::substance::{State, Substance};
use crate::table;

const NAMES: &str = include_str!(concat!(env!("OUT_DIR"), "/names.tsv"));
const CAS: &str = include_str!(concat!(env!("OUT_DIR"), "/cas.tsv"));
const COMPOSITIONS: &str = include_str!(concat!(env!("OUT_DIR"), "/compositions.tsv"));

/// What a name, a number or a formula stands for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    /// Nothing that the tables know.
    None,
    /// One substance.
    One(Substance),
    /// More than one: the writer has to choose.
    Several(Vec<Substance>),
}

impl Found {
    /// The substance, if there is just one.
    pub fn one(&self) -> Option<Substance> {
        match self {
            Found::One(substance) => Some(*substance),
            _ => None,
        }
    }

    fn from_all(substances: impl IntoIterator<Item = Substance>) -> Found {
        let mut all: Vec<Substance> = substances.into_iter().collect();
        all.sort();
        all.dedup();
        match all.as_slice() {
            [] => Found::None,
            [one] => Found::One(*one),
            _ => Found::Several(all),
        }
    }
}

/// A line of the index of names.
#[derive(Clone, Copy)]
struct Entry {
    substance: Substance,
    /// Hand-checked name 0, synonym 1; imported name 2, synonym 3.
    rank: u8,
    spelling: &'static str,
}

fn entry(rest: &'static str) -> Option<Entry> {
    let mut cells = rest.splitn(3, '\t');
    Some(Entry {
        substance: Substance::at(cells.next()?)?,
        rank: cells.next()?.parse().ok()?,
        spelling: cells.next()?,
    })
}

/// Forms in which solids are sold; the substance is the same.
///
/// `sponge` is missing on purpose, since nickel sponge is Raney nickel, and so is `dispersion`,
/// which has a carrier.
const SOLID_FORMS: &[&str] = &[
    "beads", "chips", "chunks", "crystals", "dust", "filings", "flakes", "foil", "granules",
    "grit", "lump", "lumps", "pellets", "pieces", "powder", "prills", "ribbon", "rod", "rods",
    "shavings", "shot", "sticks", "tablets", "turnings", "wire",
];

/// Finds a substance by its name or a synonym.
///
/// A name of which the tables know nothing may end in the form in which the substance is sold:
/// `Mg turnings`, `zinc, dust`, `HCl gas`, `Cl2 (g)`. The form has to fit its state at 20 °C.
///
/// A spelling that stands in the tables beats one that agrees only when case, spaces, hyphens,
/// dashes, primes, brackets, Greek letters and digits raised or lowered are set aside. The case of
/// a formula is part of it: `Co` never finds carbon monoxide. Nothing is guessed.
pub fn find_name(name: &str) -> Found {
    static ASKED: Asked<Found> = LazyLock::new(RwLock::default);
    remembered(&ASKED, name, search)
}

/// What was asked before: a plan asks for the same few names at every keystroke.
pub(crate) type Asked<T> = LazyLock<RwLock<HashMap<Box<str>, T, RandomState>>>;

pub(crate) fn remembered<T: Clone>(asked: &Asked<T>, name: &str, search: impl Fn(&str) -> T) -> T {
    let known = asked.read().ok();
    if let Some(found) = known.and_then(|asked| asked.get(name).cloned()) {
        return found;
    }
    let found = search(name);
    if name.len() <= MAX_NAME
        && let Ok(mut asked) = asked.write()
    {
        if asked.len() >= MOST_ASKED {
            asked.clear();
        }
        asked.insert(name.into(), found.clone());
    }
    found
}

/// Names beyond these are looked up anew.
const MOST_ASKED: usize = 2048;

fn search(name: &str) -> Found {
    let found = find_whole_name(name);
    if found != Found::None {
        return found;
    }
    let Some((rest, state)) = without_form(name) else {
        return Found::None;
    };
    let fits = |substance: &Substance| substance.state() == Some(state);
    match find_whole_name(rest) {
        Found::One(substance) if fits(&substance) => Found::One(substance),
        Found::Several(all) if all.iter().all(fits) => Found::Several(all),
        _ => Found::None,
    }
}

/// A name less the form at its end, and the state in which the substance has to be.
fn without_form(name: &str) -> Option<(&str, State)> {
    let name = name.trim_end();
    for (mark, state) in [
        ("(s)", State::Solid),
        ("(l)", State::Liquid),
        ("(g)", State::Gas),
    ] {
        if let Some(rest) = name.strip_suffix(mark) {
            return Some((rest, state));
        }
    }
    let (rest, form) = name.rsplit_once(char::is_whitespace)?;
    let form = form.to_ascii_lowercase();
    let state = match form.as_str() {
        "gas" => State::Gas,
        form if SOLID_FORMS.contains(&form) => State::Solid,
        _ => return None,
    };
    Some((rest.trim_end().trim_end_matches(','), state))
}

fn find_whole_name(name: &str) -> Found {
    let name = name.trim();
    let folded = fold(name);
    if folded.is_empty() {
        return Found::None;
    }
    let mut entries: Vec<Entry> = table::lookup(NAMES, &folded).filter_map(entry).collect();
    if entries.iter().any(|entry| entry.spelling == name) {
        entries.retain(|entry| entry.spelling == name);
    } else if let Ok(written) = Formula::parse(name) {
        entries.retain(|entry| may_be_meant(entry, name, &written));
    }
    // A name of one substance outranks the same word as a synonym of another, and the
    // hand-checked list outranks the import.
    let best = entries.iter().map(|entry| entry.rank).min();
    Found::from_all(
        entries
            .iter()
            .filter(|entry| Some(entry.rank) == best)
            .map(|entry| entry.substance),
    )
}

/// Whether a text that reads as a formula may mean an entry that is spelt in another case. Long
/// texts are formulae by accident (TPSCl), short ones on purpose.
fn may_be_meant(entry: &Entry, name: &str, written: &Formula) -> bool {
    match (Formula::parse(entry.spelling), entry.substance.formula()) {
        (Ok(known), _) => known.same_composition(written),
        (Err(_), Some(formula)) if name.len() <= 4 => {
            Formula::parse(formula).is_ok_and(|known| known.same_composition(written))
        }
        (Err(_), _) => true,
    }
}

/// Finds a substance by its CAS registry number.
pub fn find_cas(cas: &str) -> Found {
    Found::from_all(table::lookup(CAS, cas.trim()).filter_map(Substance::at))
}

/// Finds the substances of a composition and charge; isomers are several.
pub fn find_formula(formula: &Formula) -> Found {
    Found::from_all(
        table::lookup(COMPOSITIONS, &formula.composition_key())
            .flat_map(|rest| rest.split('\t'))
            .filter_map(Substance::at),
    )
}

/// Names that a misspelt name may have meant, those that are nearest: at most a quarter of the letters
/// differ, and no more than three (a swap of neighbours counts once; two in a word), in each word as in the whole.
/// A name that tells another isomer, or another substance, is none; nor is one in which a comma is
/// followed by a blank, as in a list.
pub fn nearest_names(name: &str, limit: usize) -> Vec<&'static str> {
    static ASKED: Asked<Vec<&'static str>> = LazyLock::new(RwLock::default);
    let mut near = remembered(&ASKED, name, look_for_nearest);
    near.truncate(limit);
    near
}

/// More names than these nobody wants to choose from.
const MOST_NEAR: usize = 8;

fn look_for_nearest(name: &str) -> Vec<&'static str> {
    let wanted: Vec<char> = fold(name).chars().take(MAX_NAME + 1).collect();
    if wanted.is_empty() || wanted.len() > MAX_NAME {
        return Vec::new();
    }
    let allowed = (wanted.len() / 4).clamp(1, 3);
    let letters = letter_counts(wanted.iter().copied());
    let written = Written::new(name);
    let mut near = Vec::new();
    for line in NAMES.lines() {
        let Some((folded, rest)) = line.split_once('\t') else {
            continue;
        };
        if folded.len().abs_diff(wanted.len()) > allowed + 2 {
            continue;
        }
        if letters_apart(&letters, &letter_counts(folded.chars())) > allowed {
            continue;
        }
        if let Some(distance) = distance(&wanted, folded, allowed)
            && let Some(entry) = entry(rest)
            && written.may_mean(entry.spelling)
            && let Some(entry) = without_list(entry)
        {
            let same_start = wanted.first() == folded.chars().next().as_ref();
            near.push(((distance, !same_start, entry.rank), entry));
        }
    }
    near.sort_by_key(|(order, entry)| (*order, entry.spelling));
    // What is farther is another substance where something nearer explains the slip.
    let nearest = near.first().map(|((distance, ..), _)| *distance);
    near.retain(|((distance, ..), _)| Some(*distance) == nearest);
    // A word that other names have is spelt right, and says another thing.
    near.retain(|(_, entry)| !written.changed(entry.spelling).any(is_word_of_a_name));
    distinct(near.into_iter().map(|(_, entry)| entry), MOST_NEAR)
}

/// Whether a folded word stands in a name of the library, as a word of its own.
fn is_word_of_a_name(word: &str) -> bool {
    let mut letters = word.chars();
    let capital = letters
        .next()
        .map(|first| format!("{}{}", first.to_uppercase(), letters.as_str()));
    let stands = |word: &str| {
        NAMES.match_indices(word).any(|(at, _)| {
            let before = NAMES.get(..at).and_then(|text| text.chars().next_back());
            let after = NAMES.get(at + word.len()..);
            let after = after.and_then(|text| text.chars().next());
            let parts = |c: Option<char>| c.is_some_and(|c| c == ' ' || c == '-');
            let ends = |c: Option<char>| c.is_none_or(|c| !c.is_alphabetic());
            // Folded names have neither blanks nor hyphens, and no slip of theirs is to count.
            (parts(before) || parts(after)) && ends(before) && ends(after)
        })
    };
    word.len() > 3 && (stands(word) || capital.is_some_and(|word| stands(&word)))
}

/// The same substance by a name that can stand in a list.
fn without_list(entry: Entry) -> Option<Entry> {
    let alone = |spelling: &&'static str| !spelling.contains(", ");
    let mut own = [entry.spelling, entry.substance.name()].into_iter();
    let spelling = own
        .find(alone)
        .or_else(|| entry.substance.synonyms().find(alone))?;
    Some(Entry { spelling, ..entry })
}

/// Names that begin like this, hand-checked and short ones first.
pub fn names_starting_with(prefix: &str, limit: usize) -> Vec<&'static str> {
    let folded = fold(prefix);
    let mut entries: Vec<Entry> = table::from_key(NAMES, &folded)
        .take_while(|line| line.starts_with(&folded))
        .filter_map(|line| entry(line.split_once('\t')?.1))
        .collect();
    entries.sort_by_key(|entry| (entry.rank, entry.spelling.len(), entry.spelling));
    distinct(entries, limit)
}

/// The spellings, one for each substance.
fn distinct(entries: impl IntoIterator<Item = Entry>, limit: usize) -> Vec<&'static str> {
    let mut seen = Vec::new();
    let mut names = Vec::new();
    for entry in entries {
        if names.len() == limit {
            break;
        }
        if !seen.contains(&entry.substance) {
            seen.push(entry.substance);
            names.push(entry.spelling);
        }
    }
    names
}

/// Longest name for which a near one is sought.
const MAX_NAME: usize = 60;

fn letter_counts(letters: impl Iterator<Item = char>) -> [i16; 64] {
    let mut counts = [0; 64];
    for c in letters {
        if let Some(count) = counts.get_mut((u32::from(c) % 64) as usize) {
            *count += 1;
        }
    }
    counts
}

/// A lower bound of the edit distance, from which letters occur how often: an edit adds one, takes
/// one away, or both.
fn letters_apart(a: &[i16; 64], b: &[i16; 64]) -> usize {
    let (mut more, mut less) = (0, 0);
    for (a, b) in a.iter().zip(b) {
        more += (a - b).max(0);
        less += (b - a).max(0);
    }
    usize::from(more.max(less).unsigned_abs())
}

/// Edit distance (insertion, deletion, substitution, swap of neighbours) up to a bound.
pub(crate) fn distance(a: &[char], b: &str, allowed: usize) -> Option<usize> {
    let b: Vec<char> = b.chars().collect();
    if a.len().abs_diff(b.len()) > allowed {
        return None;
    }
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut row = Vec::with_capacity(b.len() + 1);
        row.push(i + 1);
        for (j, y) in b.iter().enumerate() {
            let at = |row: &[usize], index: usize| row.get(index).copied().unwrap_or(usize::MAX);
            let mut cost = at(&last, j).saturating_add(usize::from(x != y));
            cost = cost.min(at(&last, j + 1).saturating_add(1));
            cost = cost.min(at(&row, j).saturating_add(1));
            let swapped = i > 0 && j > 0 && a.get(i - 1) == Some(y) && b.get(j - 1) == Some(x);
            if swapped {
                cost = cost.min(at(&before, j - 1).saturating_add(1));
            }
            row.push(cost);
        }
        if row.iter().min().is_none_or(|least| *least > allowed) {
            return None;
        }
        before = std::mem::replace(&mut last, row);
    }
    last.last().copied().filter(|distance| *distance <= allowed)
}
