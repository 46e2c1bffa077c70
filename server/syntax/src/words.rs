//! The words of the language.

use crate::ast::{Block, Nature, Role, Standing, Verb};
use std::collections::HashMap;
use std::sync::LazyLock;

/// Whether a word is one of these, whatever its case.
pub(crate) fn is_one_of(word: &str, list: &[&str]) -> bool {
    list.iter().any(|other| word.eq_ignore_ascii_case(other))
}

fn look_up<T: Copy>(word: &str, table: &[(&str, T)]) -> Option<T> {
    table
        .iter()
        .find(|(other, _)| word.eq_ignore_ascii_case(other))
        .map(|&(_, value)| value)
}

pub(crate) const HEADERS: &[(&str, Block)] = &[
    ("materials", Block::Materials),
    ("products", Block::Products),
    ("equipment", Block::Equipment),
    ("steps", Block::Steps),
    ("runs", Block::Runs),
];

pub(crate) fn header(word: &str) -> Option<Block> {
    look_up(word, HEADERS)
}

/// The block whose header a word misspells.
pub(crate) fn misspelt_header(word: &str) -> Option<(&'static str, Block)> {
    if !(4..=12).contains(&word.len()) {
        return None;
    }
    let word = word.to_ascii_lowercase();
    HEADERS.iter().copied().find(|(header, _)| {
        // So short a word is as near to others: `rins` is `rinse`.
        if *header == "runs" {
            return false;
        }
        let most = if header.len() > 6 { 2 } else { 1 };
        strsim::osa_distance(&word, header) <= most
    })
}

/// Words that begin a line of their own.
pub(crate) const LINE_WORDS: &[&str] = &[
    "plan",
    "scale",
    "reaction",
    "room",
    "note",
    "author",
    "date",
    "source",
    "start",
    "materials",
    "products",
    "equipment",
    "steps",
    "runs",
];

/// Prepositions, and the words that join and count.
const RESERVED: &[&str] = &[
    "the",
    "and",
    "then",
    "or",
    "of",
    "each",
    "not",
    "an",
    "half",
    "all",
    "rest",
    "remaining",
    "if",
    "meanwhile",
    "rt",
    "until",
    "overnight",
    "once",
    "twice",
    "dropwise",
    "portionwise",
    "slowly",
    "rapidly",
    "quickly",
    "gently",
    "vigorously",
    "carefully",
];

/// Why a word cannot be a key, if it cannot.
pub(crate) fn reserved(word: &str) -> Option<&'static str> {
    if verb(word).is_some() && !is_noun(word) {
        return Some("a verb of the language");
    }
    if preposition(word).is_some() {
        return Some("a preposition");
    }
    if is_one_of(word, LINE_WORDS) {
        return Some("a word that begins a line");
    }
    if standing(word).is_some() {
        return Some("a name that the work-up makes");
    }
    is_one_of(word, RESERVED).then_some("a word of the language")
}

/// Verbs that are as often the name of a thing: declared as a key, such a word is the key.
const NOUNS: &[&str] = &[
    "cap",
    "stopper",
    "column",
    "rotovap",
    "rotavap",
    "centrifuge",
    "TLC",
    "mix",
    "chromatography",
];

/// Whether a verb gives way to a key of the same name.
pub(crate) fn is_noun(word: &str) -> bool {
    is_one_of(word, NOUNS)
}

/// What a verb that the language lacks is called in it.
const OTHER_NAMES: &[(&str, &[&str])] = &[
    ("evacuate/refill", &["evacuate and refill"]),
    ("evacuate/backfill", &["evacuate and refill"]),
    ("setup", &["assemble"]),
    ("build", &["assemble"]),
    ("drip", &["add"]),
    // No slip of `flush`.
    ("flash", &[]),
    ("slurry", &["suspend"]),
    ("basicify", &["basify"]),
    ("alkalinise", &["basify"]),
    ("adjust", &["acidify", "basify"]),
    ("partition", &["extract"]),
    ("lyophilise", &["dry"]),
    ("lyophilize", &["dry"]),
    ("freeze-dry", &["dry"]),
    ("pump", &["evacuate"]),
    ("clean", &["wash"]),
    ("blow", &["concentrate"]),
    ("bring", &["warm", "cool"]),
    ("pressurise", &["fill"]),
    ("pressurize", &["fill"]),
    ("unseal", &["open"]),
    ("uncap", &["open"]),
    ("shut", &["seal"]),
    // No slips of a verb.
    ("work", &[]),
    ("workup", &[]),
    ("prepare", &[]),
];

/// The verbs that may be meant by a word that is none: by meaning, else by spelling.
pub(crate) fn meant_verbs(word: &str) -> Vec<&'static str> {
    if let Some(verbs) = look_up(word, OTHER_NAMES) {
        return verbs.to_vec();
    }
    // Long words are no slips of the finger, and cost time.
    if word.len() > 20 {
        return Vec::new();
    }
    let word = word.to_lowercase();
    let mut found: Vec<(usize, &str)> = Verb::SPELLINGS
        .iter()
        .filter(|(verb, _)| verb.len().abs_diff(word.len()) <= 2)
        .filter_map(|&(verb, _)| {
            let distance = strsim::osa_distance(&word, &verb.to_lowercase());
            is_slip(&word, verb, distance).then_some((distance, verb))
        })
        .collect();
    found.sort_by_key(|&(distance, _)| distance);
    found.truncate(3);
    found.into_iter().map(|(_, verb)| verb).collect()
}

/// Whether a word that is no verb is one but for a single slip of the finger.
pub(crate) fn is_misspelt_verb(word: &str) -> bool {
    let lower = word.to_lowercase();
    look_up(word, OTHER_NAMES).is_none()
        && meant_verbs(word)
            .iter()
            .any(|verb| strsim::osa_distance(&lower, &verb.to_lowercase()) == 1)
}

/// Whether a word is a verb with a slip of the finger in it. The first letter is rarely wrong, and in a short
/// word another letter makes another word: there only swapped, lost or doubled letters count.
fn is_slip(word: &str, verb: &str, distance: usize) -> bool {
    let (mut a, mut b) = (word.chars(), verb.chars());
    let starts = a.next() == b.next();
    let sorted = |text: &str| {
        let mut letters: Vec<char> = text.chars().collect();
        letters.sort_unstable();
        letters
    };
    match verb.len() {
        0..=4 => {
            distance == 1 && (sorted(word) == sorted(verb) || starts && word.len() != verb.len())
        }
        5..=6 => distance == 1 && (starts || sorted(word) == sorted(verb)),
        _ => distance <= 2 && starts,
    }
}

/// The verb that a single word is.
pub(crate) fn verb(word: &str) -> Option<Verb> {
    begun(word)?.alone
}

/// Verbs of several words that begin with this one.
pub(crate) fn verbs_begun(word: &str) -> &'static [(&'static str, Verb)] {
    begun(word).map_or(&[], |begun| &begun.longer)
}

/// The verbs that begin with a word.
#[derive(Default)]
struct Begun {
    alone: Option<Verb>,
    longer: Vec<(&'static str, Verb)>,
}

fn begun(word: &str) -> Option<&'static Begun> {
    // Every step asks several times.
    static VERBS: LazyLock<HashMap<String, Begun>> = LazyLock::new(|| {
        let mut verbs: HashMap<String, Begun> = HashMap::new();
        for &(spelling, verb) in Verb::SPELLINGS {
            let first = spelling.split(' ').next().unwrap_or_default();
            let begun = verbs.entry(first.to_ascii_lowercase()).or_default();
            if first.len() == spelling.len() {
                begun.alone.get_or_insert(verb);
            } else {
                begun.longer.push((spelling, verb));
            }
        }
        verbs
    });
    if word.bytes().any(|byte| byte.is_ascii_uppercase()) {
        VERBS.get(&word.to_ascii_lowercase())
    } else {
        VERBS.get(word)
    }
}

/// Prepositions, by what they open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Prep {
    In,
    To,
    From,
    With,
    Without,
    Over,
    On,
    Through,
    Under,
    Via,
    At,
    For,
    Below,
    Above,
    Until,
    As,
    Between,
    Other,
}

pub(crate) fn preposition(word: &str) -> Option<Prep> {
    // The commonest question of the step reader: most words are told by their length alone.
    if word.len() > 7 {
        return None;
    }
    look_up(
        word,
        &[
            ("in", Prep::In),
            ("to", Prep::To),
            ("into", Prep::To),
            ("onto", Prep::To),
            ("from", Prep::From),
            ("with", Prep::With),
            ("using", Prep::With),
            ("w/", Prep::With),
            ("w/o", Prep::Without),
            ("@", Prep::At),
            ("without", Prep::Without),
            ("over", Prep::Over),
            ("on", Prep::On),
            ("through", Prep::Through),
            ("under", Prep::Under),
            ("against", Prep::Under),
            ("via", Prep::Via),
            ("at", Prep::At),
            ("for", Prep::For),
            ("below", Prep::Below),
            ("above", Prep::Above),
            ("until", Prep::Until),
            ("as", Prep::As),
            ("by", Prep::Other),
            ("per", Prep::Other),
            ("between", Prep::Between),
            ("after", Prep::Other),
            ("before", Prep::Other),
            ("during", Prep::Other),
        ],
    )
}

/// How a thing is done.
pub(crate) fn is_adverb(word: &str) -> bool {
    word.len() > 3
        && word
            .get(word.len() - 2..)
            .is_some_and(|tail| tail.eq_ignore_ascii_case("ly"))
        && word.bytes().all(|byte| byte.is_ascii_alphabetic())
        || word.len() > 5
            && word
                .get(word.len() - 4..)
                .is_some_and(|tail| tail.eq_ignore_ascii_case("wise"))
            && word
                .bytes()
                .all(|byte| byte.is_ascii_alphabetic() || byte == b'-')
}

pub(crate) fn standing(word: &str) -> Option<Standing> {
    look_up(
        word,
        &[
            ("organics", Standing::Organics),
            ("aqueous", Standing::Aqueous),
            ("filtrate", Standing::Filtrate),
            ("solid", Standing::Solid),
            ("liquid", Standing::Liquid),
            ("residue", Standing::Residue),
        ],
    )
}

pub(crate) const ADJECTIVES: &[&str] = &[
    "cold", "ice-cold", "hot", "warm", "boiling", "dry", "cool", "combined", "minimal",
];

/// Adjectives that no name of a substance begins with, as `dry ice` does.
pub(crate) const THERMAL: &[&str] = &["cold", "ice-cold", "hot", "warm", "boiling", "minimal"];

/// Words before `of` that say only how a thing comes.
pub(crate) const FORMS_OF: &[&str] = &[
    "mixture",
    "solution",
    "suspension",
    "slurry",
    "contents",
    "atmosphere",
    "minimum",
    "pad",
    "plug",
    "portion",
    "portions",
];

/// What a vacuum is called, as the language writes it.
pub(crate) fn vacuum(words: &str) -> Option<&'static str> {
    look_up(
        words,
        &[
            ("vacuum", "vacuum"),
            ("vacuo", "vacuum"),
            ("vac", "vacuum"),
            ("high vacuum", "high vacuum"),
            ("high vac", "high vacuum"),
            ("hi-vac", "high vacuum"),
            ("hivac", "high vacuum"),
            ("house vacuum", "house vacuum"),
            ("house vac", "house vacuum"),
        ],
    )
}

/// What work is done on that is no substance.
pub(crate) fn is_support(words: &str) -> bool {
    is_one_of(
        words,
        &[
            "rotovap",
            "rotavap",
            "rotary evaporator",
            "schlenk line",
            "vacuum line",
            "manifold",
            "stir plate",
            "stirrer plate",
            "hotplate",
            "hot plate",
            "steam bath",
            "balance",
            "ice",
        ],
    )
}

/// Water by whatever name, which nobody measures where a mixture is poured onto it.
pub(crate) fn is_poured_onto(words: &str) -> bool {
    is_one_of(
        words,
        &[
            "ice",
            "crushed ice",
            "cracked ice",
            "ice water",
            "ice-water",
            "ice/water",
            "ice-cold water",
            "cold water",
            "water",
        ],
    )
}

/// What stands in the vessel that the step is about: `stir the reaction mixture`.
pub(crate) fn is_mixture(words: &str) -> bool {
    let words = words.to_ascii_lowercase();
    let (first, last) = words.rsplit_once(' ').unwrap_or(("", &words));
    let noun = matches!(
        last,
        "mixture" | "reaction" | "solution" | "suspension" | "slurry" | "contents"
    );
    noun && matches!(
        first,
        "" | "reaction"
            | "resulting"
            | "crude"
            | "whole"
            | "clear"
            | "entire"
            | "resulting reaction"
    )
}

pub(crate) fn is_place(word: &str) -> bool {
    is_one_of(
        word,
        &[
            "air",
            "dark",
            "hood",
            "fume-hood",
            "oven",
            "fridge",
            "refrigerator",
            "freezer",
            "desiccator",
            "glovebox",
            "bath",
            "waste",
            "darkness",
            "sonicator",
            "microwave",
            "centrifuge",
        ],
    )
}

pub(crate) fn is_gas(words: &str) -> bool {
    is_one_of(
        words,
        &[
            "argon",
            "nitrogen",
            "hydrogen",
            "air",
            "oxygen",
            "helium",
            "carbon monoxide",
            "carbon dioxide",
            "ethylene",
            "ammonia",
            "chlorine",
            "hydrogen chloride",
            "methane",
            "ethyne",
            "acetylene",
            "ozone",
            "deuterium",
            "N2",
            "Ar",
            "H2",
            "O2",
            "He",
            "CO",
            "CO2",
            "dry air",
            "inert gas",
            "dry argon",
            "dry nitrogen",
            "forming gas",
        ],
    )
}

pub(crate) fn role(word: &str) -> Option<Role> {
    look_up(
        word,
        &[
            ("reactant", Role::Reactant),
            ("reagent", Role::Reagent),
            ("catalyst", Role::Catalyst),
            ("additive", Role::Additive),
            ("ligand", Role::Ligand),
            ("scavenger", Role::Scavenger),
            ("solvent", Role::Solvent),
            ("by-product", Role::ByProduct),
            ("byproduct", Role::ByProduct),
        ],
    )
}

pub(crate) fn nature(word: &str) -> Option<Nature> {
    look_up(
        word,
        &[
            ("moisture-sensitive", Nature::MoistureSensitive),
            ("air-sensitive", Nature::AirSensitive),
            ("pyrophoric", Nature::Pyrophoric),
            ("light-sensitive", Nature::LightSensitive),
            ("hygroscopic", Nature::Hygroscopic),
            ("volatile", Nature::Volatile),
        ],
    )
}

pub(crate) fn is_form(word: &str) -> bool {
    is_one_of(
        word,
        &[
            "powder", "powdered", "turnings", "dust", "granules", "pellets", "chips", "wire",
            "foil", "flakes", "beads", "ribbon",
        ],
    )
}

/// What is counted and not measured.
pub(crate) fn is_countable(words: &str) -> bool {
    is_one_of(
        words,
        &[
            "drops", "drop", "crystals", "crystal", "grains", "grain", "pellets", "pellet",
            "pinches", "pinch", "balloons", "balloon",
        ],
    )
}

pub(crate) fn number_word(word: &str) -> Option<u32> {
    look_up(
        word,
        &[
            ("one", 1),
            ("two", 2),
            ("three", 3),
            ("four", 4),
            ("five", 5),
            ("six", 6),
            ("seven", 7),
            ("eight", 8),
            ("nine", 9),
            ("ten", 10),
        ],
    )
}

/// The symbols of the elements, 1 to 118 (IUPAC periodic table).
const ELEMENTS: &[&str] = &[
    "H", "He", "Li", "Be", "B", "C", "N", "O", "F", "Ne", "Na", "Mg", "Al", "Si", "P", "S", "Cl",
    "Ar", "K", "Ca", "Sc", "Ti", "V", "Cr", "Mn", "Fe", "Co", "Ni", "Cu", "Zn", "Ga", "Ge", "As",
    "Se", "Br", "Kr", "Rb", "Sr", "Y", "Zr", "Nb", "Mo", "Tc", "Ru", "Rh", "Pd", "Ag", "Cd", "In",
    "Sn", "Sb", "Te", "I", "Xe", "Cs", "Ba", "La", "Ce", "Pr", "Nd", "Pm", "Sm", "Eu", "Gd", "Tb",
    "Dy", "Ho", "Er", "Tm", "Yb", "Lu", "Hf", "Ta", "W", "Re", "Os", "Ir", "Pt", "Au", "Hg", "Tl",
    "Pb", "Bi", "Po", "At", "Rn", "Fr", "Ra", "Ac", "Th", "Pa", "U", "Np", "Pu", "Am", "Cm", "Bk",
    "Cf", "Es", "Fm", "Md", "No", "Lr", "Rf", "Db", "Sg", "Bh", "Hs", "Mt", "Ds", "Rg", "Cn", "Nh",
    "Fl", "Mc", "Lv", "Ts", "Og", "D", "T",
];

/// Whether a word has the shape of a formula: symbols of elements, counts, brackets that close, a charge,
/// adducts after a point in the middle. What it weighs is for others to say.
pub(crate) fn is_formula(word: &str) -> bool {
    let body = word.trim_end_matches(['+', '-']);
    let bytes = body.as_bytes();
    let (mut at, mut depth, mut atoms) = (0, 0_usize, false);
    while let Some(&byte) = bytes.get(at) {
        match byte {
            b'(' | b'[' => depth += 1,
            b')' | b']' => match depth.checked_sub(1) {
                Some(less) => depth = less,
                None => return false,
            },
            // A count, but for the multiplier of the first part, which is the equation's coefficient.
            b'0'..=b'9' | b'*' | b'.' | b'^' if at > 0 => {}
            // `·` is two bytes.
            0xc2 if bytes.get(at + 1) == Some(&0xb7) && at > 0 => at += 1,
            b'A'..=b'Z' => {
                let two = body
                    .get(at..at + 2)
                    .filter(|symbol| ELEMENTS.contains(symbol));
                let one = body
                    .get(at..at + 1)
                    .filter(|symbol| ELEMENTS.contains(symbol));
                match two.or(one) {
                    Some(symbol) => at += symbol.len() - 1,
                    None => return false,
                }
                atoms = true;
            }
            _ => return false,
        }
        at += 1;
    }
    atoms && depth == 0
}
