//! What the language knows of a word, found in one step: the reader asks it of every word of a plan.

use crate::ast::{Block, Nature, Role, Standing, Verb};
use crate::line::LineWord;
use crate::words::{
    ADJECTIVES, COUNTABLES, COUNTED, DEGREES, FORMS, FORMS_OF, GASES, GREAT, HEADERS, JOINTS,
    LINE_WORDS, MANNERS, NATURES, NOUN_PHRASES, NOUNS, NUMBERS, OPENERS, PARTICLES, PARTS, PLACES,
    POURED_ONTO, PREPOSITIONS, PURPOSES, Prep, REMARKS, RESERVED, ROLES, SIZES, STANDING, SUPPORTS,
    THERMAL, VACUUMS,
};
use foldhash::fast::RandomState;
use std::collections::HashMap;
use std::sync::LazyLock;

/// What the language knows of a word, or of a few words that stand for one thing.
#[derive(Debug)]
pub(crate) struct Known {
    /// The verb that it is.
    pub(crate) verb: Option<Verb>,
    /// Verbs of several words that begin with it.
    pub(crate) longer: Vec<(&'static str, Verb)>,
    /// What makes the name of a thing of a verb, as `bar` of `stir`.
    pub(crate) nouns: Vec<&'static str>,
    pub(crate) prep: Option<Prep>,
    pub(crate) standing: Option<Standing>,
    pub(crate) number: Option<u32>,
    pub(crate) role: Option<Role>,
    pub(crate) nature: Option<Nature>,
    pub(crate) vacuum: Option<&'static str>,
    /// The block whose header it is.
    pub(crate) header: Option<Block>,
    /// What line it begins.
    pub(crate) line: Option<LineWord>,
    /// The word in lower case, where the reader of a step has a reading of its own for it.
    pub(crate) particle: &'static str,
    /// A bit for each of its uses.
    uses: u32,
}

/// What a word may be used as.
#[derive(Clone, Copy)]
pub(crate) enum Use {
    /// A verb that is as often the name of a thing.
    Noun,
    Adjective,
    /// An adjective that no name of a substance begins with.
    Thermal,
    /// A word before `of` that says only how a thing comes.
    FormOf,
    Article,
    /// A word that no name goes on with.
    Joint,
    /// A word that may open a phrase which no name goes on with.
    Opener,
    Support,
    /// The first word of a phrase that says how something is done.
    Phrase,
    /// What comes in several of its kind, as `portions`.
    Part,
    /// What may stand before these, as `small`.
    Size,
    /// What may stand before `care`.
    Great,
    /// A word in -ly that belongs to the adjective behind it.
    Degree,
    /// What a step may be for, behind `to`.
    Purpose,
    /// A word that makes a remark of a tail.
    Remark,
    /// `hot` and `neat`, which may say how something is done.
    Manner,
    /// A word that says nothing between a portion and its thing.
    Noise,
    PouredOnto,
    Place,
    Gas,
    Form,
    Countable,
    /// The first word of what a number may count.
    Counted,
    /// A word that begins a line.
    Line,
    /// Another word that cannot be a key.
    Reserved,
}

const USES: &[(Use, &[&str])] = &[
    (Use::Noun, NOUNS),
    (Use::Adjective, ADJECTIVES),
    (Use::Thermal, THERMAL),
    (Use::FormOf, FORMS_OF),
    (Use::Article, &["a", "an", "the"]),
    (Use::Joint, JOINTS),
    (Use::Opener, OPENERS),
    (Use::Manner, &["hot", "neat"]),
    (Use::Noise, &["of", "portion", "portions"]),
    (Use::Phrase, MANNERS),
    (Use::Part, PARTS),
    (Use::Size, SIZES),
    (Use::Great, GREAT),
    (Use::Degree, DEGREES),
    (Use::Purpose, PURPOSES),
    (Use::Remark, REMARKS),
    (Use::Support, SUPPORTS),
    (Use::PouredOnto, POURED_ONTO),
    (Use::Place, PLACES),
    (Use::Gas, GASES),
    (Use::Form, FORMS),
    (Use::Countable, COUNTABLES),
    (Use::Counted, COUNTABLES),
    (Use::Counted, COUNTED),
    (Use::Line, LINE_WORDS),
    (Use::Reserved, RESERVED),
];

impl Known {
    /// Of most words.
    const NOTHING: Known = Known {
        verb: None,
        longer: Vec::new(),
        nouns: Vec::new(),
        prep: None,
        standing: None,
        number: None,
        role: None,
        nature: None,
        vacuum: None,
        header: None,
        line: None,
        particle: "",
        uses: 0,
    };

    /// What the language knows of no word.
    pub(crate) fn nothing() -> &'static Known {
        static NOTHING: Known = Known::NOTHING;
        &NOTHING
    }

    /// Whether the language does not have the word.
    pub(crate) fn is_nothing(&self) -> bool {
        std::ptr::eq(self, Known::nothing())
    }

    /// Whether a verb begins with it.
    pub(crate) fn begins_verb(&self) -> bool {
        self.verb.is_some() || !self.longer.is_empty()
    }

    pub(crate) fn is(&self, one: Use) -> bool {
        self.uses & 1 << one as u32 != 0
    }
}

/// About as many words as there are.
const WORDS: usize = 1100;

/// No entry of the vocabulary is longer.
const LONGEST: usize = 24;

type Vocabulary = HashMap<Box<str>, Known, RandomState>;

/// What the language knows of a word, whatever its case; of most words nothing.
pub(crate) fn known(word: &str) -> &'static Known {
    static VOCABULARY: LazyLock<Vocabulary> = LazyLock::new(vocabulary);
    if word.is_empty() || word.len() > LONGEST {
        return Known::nothing();
    }
    let folded = || {
        word.bytes().find(u8::is_ascii_uppercase)?;
        let mut lower = [0; LONGEST];
        let lower = lower.get_mut(..word.len())?;
        lower.copy_from_slice(word.as_bytes());
        lower.make_ascii_lowercase();
        VOCABULARY.get(std::str::from_utf8(lower).ok()?)
    };
    let found = VOCABULARY.get(word).or_else(folded);
    found.unwrap_or(Known::nothing())
}

/// Of two meanings of a word the first that is listed rules.
fn vocabulary() -> Vocabulary {
    let mut words = Vocabulary::with_capacity_and_hasher(WORDS, RandomState::default());
    let mut of = |word: &str, set: &dyn Fn(&mut Known)| {
        let word = word.to_ascii_lowercase().into();
        set(words.entry(word).or_insert(Known::NOTHING));
    };
    for &(word, prep) in PREPOSITIONS {
        of(word, &|known| known.prep = known.prep.or(Some(prep)));
    }
    for &(word, standing) in STANDING {
        of(word, &|known| {
            known.standing = known.standing.or(Some(standing));
        });
    }
    for &(word, number) in NUMBERS {
        of(word, &|known| known.number = Some(number));
    }
    for &(word, role) in ROLES {
        of(word, &|known| known.role = Some(role));
    }
    for &(word, nature) in NATURES {
        of(word, &|known| known.nature = Some(nature));
    }
    for &(word, vacuum) in VACUUMS {
        of(word, &|known| known.vacuum = Some(vacuum));
    }
    for &(spelling, verb) in Verb::SPELLINGS {
        match spelling.split_once(' ') {
            Some((first, _)) => of(first, &|known| known.longer.push((spelling, verb))),
            None => of(spelling, &|known| known.verb = known.verb.or(Some(verb))),
        }
    }
    for &(word, block) in HEADERS {
        of(word, &|known| known.header = Some(block));
    }
    for &(word, line) in LineWord::ALL {
        of(word, &|known| known.line = Some(line));
    }
    for &word in PARTICLES {
        of(word, &|known| known.particle = word);
    }
    for &(verb, noun) in NOUN_PHRASES {
        of(verb, &|known| known.nouns.push(noun));
    }
    for &(one, list) in USES {
        for word in list {
            of(word, &|known| known.uses |= 1 << one as u32);
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_that_is_listed_is_found() {
        for (one, list) in USES {
            for word in *list {
                assert!(known(word).is(*one), "{word}");
                assert!(known(&word.to_uppercase()).is(*one), "{word}");
            }
        }
        for (word, prep) in PREPOSITIONS {
            assert_eq!(known(word).prep, Some(*prep), "{word}");
        }
        for (spelling, _) in Verb::SPELLINGS {
            let first = spelling.split(' ').next().unwrap_or_default();
            let known = known(first);
            assert!(
                known.verb.is_some() || !known.longer.is_empty(),
                "{spelling}"
            );
        }
    }
}
