//! The keys of a plan, found by name.

use crate::ast::KeyId;
use crate::equipment::singular;
use crate::plan_text::{Key, KeyKind};
use crate::words::{is_another, is_flask, is_funnel};
use foldhash::fast::RandomState;
use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::sync::Arc;

/// Keys beyond these are not compared with a misspelt word: the nearest of thousands helps nobody.
const MOST_COMPARED: usize = 256;
/// Longer words are not misspelt keys.
const LONGEST_COMPARED: usize = 32;

/// The keys, with the ways to find one.
#[derive(Default)]
pub(crate) struct Keys {
    pub(crate) list: Vec<Key>,
    pub(crate) index: Arc<Index>,
}

/// Where to find the keys in their list.
#[derive(Clone, Debug, Default)]
pub(crate) struct Index {
    /// By lower case; none where two keys differ only by case.
    folded: HashMap<Box<str>, Option<KeyId>, RandomState>,
    /// Those that differ only by case.
    alike: HashMap<Box<str>, KeyId, RandomState>,
    /// Equipment by its description: `syringe pump`, in the singular; and whether no other line says the same.
    described: HashMap<String, (KeyId, bool), RandomState>,
    sieve: Sieve,
}

/// The keys that a word names.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Named {
    /// The key with exactly this name.
    pub(crate) exact: Option<KeyId>,
    /// The key with this name, or with this name in another case if only one fits.
    pub(crate) any: Option<KeyId>,
}

impl Keys {
    /// Adds a key. Gives the one that has this name already, or that differs only by case.
    pub(crate) fn declare(&mut self, key: Key) -> Result<(), Clash> {
        let index = Arc::make_mut(&mut self.index);
        let id = KeyId(crate::fold::offset(self.list.len()));
        let name = &key.name.text;
        let lower = name.to_lowercase().into_boxed_str();
        index.sieve.add(&lower);
        let clash = match index.folded.entry(lower) {
            Entry::Vacant(free) => {
                free.insert(Some(id));
                Ok(())
            }
            Entry::Occupied(mut taken) => {
                let other = taken
                    .get()
                    .and_then(|id| Some((id, self.list.get(id.0 as usize)?)));
                let same = match other {
                    Some((id, other)) => Some(id).filter(|_| other.name.text == *name),
                    None => index.alike.get(name).copied(),
                };
                if let Some(same) = same {
                    return Err(Clash::Same(same));
                }
                if let Some((id, other)) = other {
                    index.alike.insert(other.name.text.clone(), id);
                }
                index.alike.insert(name.clone(), id);
                taken.insert(None);
                Err(Clash::Case(other.map(|(id, _)| id)))
            }
        };
        self.list.push(key);
        clash
    }

    /// The key with exactly this name.
    pub(crate) fn find_exact(&self, name: &str) -> Option<KeyId> {
        self.named(name).exact
    }

    /// The key with this name, or with this name in another case if only one fits.
    pub(crate) fn find(&self, name: &str) -> Option<KeyId> {
        self.named(name).any
    }

    /// The keys that a word names, exactly and in any case.
    pub(crate) fn named(&self, name: &str) -> Named {
        if !self.index.sieve.may_have(name) {
            return Named::default();
        }
        let folded = &self.index.folded;
        let in_lower_case = || {
            let has_case = |byte: u8| byte.is_ascii_uppercase() || !byte.is_ascii();
            let lower = name.bytes().any(has_case).then(|| name.to_lowercase())?;
            folded.get(&*lower)
        };
        match folded.get(name).or_else(in_lower_case) {
            None => Named::default(),
            Some(&Some(id)) => Named {
                exact: self
                    .get(id)
                    .is_some_and(|key| *key.name.text == *name)
                    .then_some(id),
                any: Some(id),
            },
            Some(None) => {
                let exact = self.index.alike.get(name).copied();
                Named { exact, any: exact }
            }
        }
    }

    /// Remembers a description of equipment; the first line that has it keeps it.
    pub(crate) fn describe(&mut self, words: &str, key: &str) {
        if let Some(id) = self.find_exact(key)
            && !words.is_empty()
        {
            let index = Arc::make_mut(&mut self.index);
            let described = index.described.entry(described(words));
            described
                .and_modify(|(_, alone)| *alone = false)
                .or_insert((id, true));
        }
    }

    /// The tool that these words name: its key, that key's singular or plural, or its description.
    pub(crate) fn find_tool(&self, words: &str) -> Option<KeyId> {
        self.find(words).or_else(|| {
            let one = singular(words);
            self.find(&one)
                .or_else(|| self.find(&format!("{one}s")))
                .or_else(|| Some(self.index.described.get(&described(words))?.0))
        })
    }

    /// The one funnel that is described so, by whichever of its names: `separatory funnel`.
    pub(crate) fn funnel(&self, words: &str) -> Option<KeyId> {
        let described = || self.index.described.get(&described(words));
        let (id, alone) = is_funnel(words).then(described)??;
        alone.then_some(*id)
    }

    /// Whether a line of equipment is what the last of these words says: a vial, for `second vial`.
    pub(crate) fn lists_one(&self, words: &str) -> bool {
        let one = singular(words.rsplit(' ').next().unwrap_or_default());
        let mut described = self.index.described.keys();
        self.find_tool(words).is_some()
            || described.any(|other| other.rsplit(' ').next() == Some(&*one))
    }

    /// Whether these words are of a flask that no line describes: `second flask`, or `Schlenk flask` where no flask is listed.
    pub(crate) fn lacks_flask(&self, words: &str) -> bool {
        is_flask(words)
            && self.find_tool(words).is_none()
            && (is_another(words) || !self.lists_one(words))
    }

    /// Whether a word is a key but for one letter.
    pub(crate) fn is_near(&self, word: &str) -> bool {
        let word = word.to_lowercase();
        let letters = letters(&word);
        let mut keys = self.list.iter().take(MOST_COMPARED);
        keys.any(|key| {
            let name = &key.name.text;
            name.len().abs_diff(word.len()) <= 1
                && differ_by(letters, self::letters(name)) <= 1
                && strsim::osa_distance(&word, &name.to_lowercase()) <= 1
        })
    }

    pub(crate) fn get(&self, id: KeyId) -> Option<&Key> {
        self.list.get(id.0 as usize)
    }

    pub(crate) fn kind(&self, id: KeyId) -> Option<KeyKind> {
        self.get(id).map(|key| key.kind)
    }

    /// The keys that a misspelt word may mean, nearest first.
    pub(crate) fn nearest(&self, word: &str, fits: impl Fn(KeyKind) -> bool) -> Vec<&str> {
        if word.len() > LONGEST_COMPARED {
            return Vec::new();
        }
        let keys = self
            .list
            .iter()
            .take(MOST_COMPARED)
            .filter(|key| fits(key.kind));
        nearest(word, keys.map(|key| &*key.name.text))
    }
}

/// Which words may be keys, by their ends and length: most words of a plan are none, and this says so at once.
#[derive(Clone, Debug, Default)]
struct Sieve([u64; 4]);

impl Sieve {
    /// Adds a word in lower case.
    fn add(&mut self, word: &str) {
        if let Some((place, bit)) = Self::place(word)
            && let Some(part) = self.0.get_mut(place)
        {
            *part |= bit;
        }
    }

    /// Whether a word, whatever its case, may be one that was added. Of one that is not ASCII nothing is known.
    fn may_have(&self, word: &str) -> bool {
        !word.is_ascii()
            || Self::place(word)
                .is_none_or(|(place, bit)| self.0.get(place).is_some_and(|part| part & bit != 0))
    }

    fn place(word: &str) -> Option<(usize, u64)> {
        let [first, last] = [word.bytes().next()?, word.bytes().next_back()?]
            .map(|byte| usize::from(byte.to_ascii_lowercase()));
        let hash = first * 37 + last * 11 + word.len();
        Some((hash / 64 % 4, 1 << (hash % 64)))
    }
}

/// Why a name cannot be a key of its own.
pub(crate) enum Clash {
    /// This key has the name already.
    Same(KeyId),
    /// Another key in another case; none if there are several.
    Case(Option<KeyId>),
}

/// A description in the singular; a funnel by one of its names.
fn described(words: &str) -> String {
    let one = singular(words);
    match is_funnel(&one) {
        true if one.starts_with("sep") => "separating funnel".to_owned(),
        true => "dropping funnel".to_owned(),
        false => one,
    }
}

/// The words within two letters of a word (one, for short words), nearest first, three at most.
pub(crate) fn nearest<'a>(word: &str, candidates: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    let word = word.to_lowercase();
    let letters = letters(&word);
    let most = if word.chars().count() < 4 { 1 } else { 2 };
    let mut found: Vec<(usize, &str)> = candidates
        .filter(|other| other.len().abs_diff(word.len()) <= 2 && other.len() <= LONGEST_COMPARED)
        .filter(|other| differ_by(letters, self::letters(other)) <= most)
        .map(|other| (strsim::osa_distance(&word, &other.to_lowercase()), other))
        .filter(|(distance, _)| *distance <= most)
        .collect();
    found.sort_by_key(|(distance, _)| *distance);
    found.into_iter().map(|(_, other)| other).take(3).collect()
}

/// The letters of a word, a bit for each whatever its case; none where they are not all ASCII.
fn letters(word: &str) -> Option<u64> {
    let mut letters = 0;
    for byte in word.bytes() {
        letters |= 1 << (byte.to_ascii_lowercase() & 63);
    }
    word.is_ascii().then_some(letters)
}

/// As many slips at least make one word of another: each brings in one letter that the other has not.
/// It costs far less to tell than the distance itself.
fn differ_by(a: Option<u64>, b: Option<u64>) -> usize {
    let (Some(a), Some(b)) = (a, b) else { return 0 };
    (a & !b).count_ones().max((b & !a).count_ones()) as usize
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ast::{Span, Text};
    use proptest::prelude::*;

    proptest! {
        /// The measure is the distance of `strsim`.
        #[test]
        fn letters_ask_for_no_more_slips_than_there_are(a in "[a-e0-2é-]{0,7}", b in "[a-eA-E0-2é-]{0,7}") {
            let distance = strsim::osa_distance(&a, &b.to_lowercase());
            prop_assert!(differ_by(letters(&a), letters(&b)) <= distance);
        }

        /// The kelvin sign is `k` in lower case.
        #[test]
        fn a_key_is_found_in_every_case(name in "[a-zA-Z0-9éÉ\u{212a}]{1,9}", others in prop::collection::vec("[a-z]{1,4}", 0..9)) {
            let mut keys = Keys::default();
            for name in others.iter().chain([&name]) {
                let name = Text { text: name.as_str().into(), span: Span::default() };
                let _ = keys.declare(Key { name, line: 0, kind: KeyKind::Material });
            }
            let declared = keys.find_exact(&name).and_then(|id| keys.get(id));
            prop_assert_eq!(declared.map(|key| &*key.name.text), Some(&*name));
            let alike = keys.list.iter().filter(|key| key.name.text.to_lowercase() == name.to_lowercase());
            if alike.count() == 1 {
                prop_assert_eq!(keys.find(&name.to_lowercase()), keys.find_exact(&name));
            }
        }
    }
}
