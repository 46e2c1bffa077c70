//! The words of the language.

use crate::ast::{Block, Nature, Role, Standing, Verb};
use crate::vocabulary::{Use, known};

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
pub(crate) const RESERVED: &[&str] = &[
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
    let known = known(word);
    if known.verb.is_some() && !known.is(Use::Noun) {
        return Some("a verb of the language");
    }
    if known.prep.is_some() {
        return Some("a preposition");
    }
    if known.is(Use::Line) {
        return Some("a word that begins a line");
    }
    if known.standing.is_some() {
        return Some("a name that the work-up makes");
    }
    known.is(Use::Reserved).then_some("a word of the language")
}

/// Verbs that are as often the name of a thing: declared as a key, such a word is the key.
pub(crate) const NOUNS: &[&str] = &[
    "cap",
    "stopper",
    "column",
    "rotovap",
    "rotavap",
    "centrifuge",
    "TLC",
    "mix",
    "layer",
    "chromatography",
    "pipette",
    "dose",
    "feed",
    "tip",
];

/// Names of things that begin with a verb.
pub(crate) const NOUN_PHRASES: &[(&str, &str)] = &[
    ("reflux", "condenser"),
    ("stir", "bar"),
    ("stir", "bars"),
    ("stir", "plate"),
    ("heat", "gun"),
    ("seed", "crystal"),
    ("seed", "crystals"),
    ("filter", "paper"),
    ("wash", "bottle"),
    ("take", "care"),
];

/// Whether a verb gives way to a key of the same name.
pub(crate) fn is_noun(word: &str) -> bool {
    known(word).is(Use::Noun)
}

/// What a verb that the language lacks is called in it.
const OTHER_NAMES: &[(&str, &[&str])] = &[
    ("evacuate/refill", &["evacuate and refill"]),
    ("evacuate/backfill", &["evacuate and refill"]),
    ("setup", &["assemble"]),
    ("build", &["assemble"]),
    ("drop", &["add"]),
    ("load", &["add"]),
    // No slips of `flush`, `bring` and `condense`.
    ("flash", &[]),
    ("brine", &[]),
    ("condenser", &[]),
    ("slurry", &["suspend"]),
    ("basicify", &["basify"]),
    ("alkalinise", &["basify"]),
    ("lyophilise", &["dry"]),
    ("lyophilize", &["dry"]),
    ("freeze-dry", &["dry"]),
    ("pump", &["evacuate"]),
    ("clean", &["wash"]),
    ("blow", &["concentrate"]),
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
    known(word).verb
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

pub(crate) const PREPOSITIONS: &[(&str, Prep)] = &[
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
    ("containing", Prep::With),
    ("behind", Prep::Other),
    ("while", Prep::Other),
    ("whilst", Prep::Other),
];

pub(crate) fn preposition(word: &str) -> Option<Prep> {
    known(word).prep
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

pub(crate) const STANDING: &[(&str, Standing)] = &[
    ("organics", Standing::Organics),
    ("aqueous", Standing::Aqueous),
    ("filtrate", Standing::Filtrate),
    ("solid", Standing::Solid),
    ("liquid", Standing::Liquid),
    ("residue", Standing::Residue),
];

/// Words that no name goes on with.
pub(crate) const JOINTS: &[&str] = &[
    "and",
    "then",
    "of",
    "overnight",
    "o/n",
    "each",
    "throughout",
];

/// Words that the reader of a step has a reading of its own for.
pub(crate) const PARTICLES: &[&str] = &[
    "and",
    "then",
    "back",
    "up",
    "down",
    "along",
    "keeping",
    "maintaining",
    "followed",
    "equipped",
    "fitted",
    "so",
    "such",
    "internal",
    "inside",
    "temperature",
    "of",
    "each",
    "overnight",
    "o/n",
    "ph",
    "found",
    "last",
    "half",
    "all",
    "rest",
    "remaining",
    "third",
    "quarter",
    "fifth",
    "tenth",
    "flow",
    "counterflow",
    "counter-flow",
    "stream",
    "blanket",
    "stir",
    "-",
    "throughout",
    "dissolved",
    "suspended",
    "not",
    "do",
    "never",
];

/// First words of phrases that no name goes on with, `so that` and its like.
pub(crate) const OPENERS: &[&str] = &[
    "so",
    "such",
    "keeping",
    "maintaining",
    "back",
    "up",
    "down",
    "along",
    "-",
    "dissolved",
    "suspended",
    "followed",
    "equipped",
    "fitted",
    "not",
    "do",
    "never",
];

/// First words of phrases that say how, `very slowly`, `drop by drop` and their like.
pub(crate) const MANNERS: &[&str] = &[
    "very", "quite", "rather", "all", "a", "drop", "portion", "batch", "bit", "piece", "little",
    "spoon",
];

/// Words for what comes in several of its kind, behind `in`.
pub(crate) const PARTS: &[&str] = &[
    "portions",
    "batches",
    "aliquots",
    "pieces",
    "lots",
    "increments",
    "chunks",
    "charges",
    "doses",
    "amounts",
];

/// Words for all of it, behind `in one` or `in a single`.
pub(crate) const WHOLES: &[&str] = &[
    "portion", "batch", "aliquot", "piece", "lot", "go", "shot", "charge", "addition", "dose",
];

/// What may stand before these.
pub(crate) const SIZES: &[&str] = &[
    "small", "smaller", "tiny", "large", "several", "equal", "multiple", "many", "few", "numerous",
    "some", "single", "one", "thin", "slow", "steady", "fine", "slender",
];

/// What may stand before `care` and `caution`.
pub(crate) const GREAT: &[&str] = &["great", "extreme", "due", "much", "utmost"];

/// Words in -ly before an adjective that belong to the name with it.
pub(crate) const DEGREES: &[&str] = &[
    "freshly",
    "finely",
    "coarsely",
    "newly",
    "previously",
    "vigorously",
    "rapidly",
    "magnetically",
    "mechanically",
    "efficiently",
];

/// What may stand before a key without changing what it names.
pub(crate) const ADJECTIVES: &[&str] = &[
    "cold",
    "ice-cold",
    "hot",
    "warm",
    "boiling",
    "dry",
    "cool",
    "combined",
    "minimal",
    "cooled",
    "chilled",
    "precooled",
    "pre-cooled",
    "fresh",
    "freshly",
    "finely",
    "coarsely",
    "newly",
    "previously",
    "distilled",
    "recrystallised",
    "recrystallized",
    "sublimed",
    "purified",
    "prepared",
    "ground",
    "powdered",
    "pulverised",
    "pulverized",
    "crushed",
    "sieved",
    "molten",
    "activated",
    "dried",
    "oven-dried",
    "flame-dried",
    "anhydrous",
    "degassed",
    "deoxygenated",
    "solid",
    "liquid",
    "gaseous",
    "pure",
    "crude",
    "undiluted",
    "additional",
    "another",
    "further",
    "extra",
    "more",
    "stirred",
    "wet",
    "moist",
    "hydrated",
    "granular",
    "small",
    "single",
];

/// Adjectives before a quantity that say that it is not the first.
pub(crate) const MORE: &[&str] = &["another", "additional", "further", "extra", "more"];

/// Adjectives that no name of a substance begins with, as `dry ice` does.
pub(crate) const THERMAL: &[&str] = &[
    "cold",
    "ice-cold",
    "hot",
    "warm",
    "boiling",
    "minimal",
    "chilled",
    "precooled",
    "pre-cooled",
    "fresh",
    "freshly",
    "finely",
    "coarsely",
    "newly",
    "solid",
    "powdered",
    "additional",
    "another",
    "further",
    "extra",
    "more",
];

/// What a step may be for, behind `to`.
pub(crate) const PURPOSES: &[&str] = &[
    "absorb",
    "achieve",
    "activate",
    "afford",
    "aid",
    "allow",
    "avoid",
    "break",
    "complete",
    "consume",
    "control",
    "convert",
    "deactivate",
    "decompose",
    "destroy",
    "dissolve",
    "drive",
    "ensure",
    "exclude",
    "expel",
    "facilitate",
    "form",
    "furnish",
    "generate",
    "give",
    "help",
    "hydrolyse",
    "hydrolyze",
    "induce",
    "initiate",
    "keep",
    "leave",
    "liberate",
    "maintain",
    "make",
    "minimise",
    "minimize",
    "moderate",
    "neutralise",
    "neutralize",
    "obtain",
    "precipitate",
    "prevent",
    "produce",
    "promote",
    "protect",
    "provide",
    "purge",
    "quench",
    "release",
    "remove",
    "rinse",
    "saturate",
    "scavenge",
    "start",
    "stop",
    "suppress",
    "yield",
];

/// What most often follows a comma, and is misspelt there.
pub(crate) const MODIFIERS: &[&str] = &[
    "until", "below", "above", "over", "under", "with", "from", "dropwise", "slowly",
];

/// Words that no name of a substance has and a remark has: verbs of what happens, and warnings.
pub(crate) const REMARKS: &[&str] = &[
    "appear",
    "appears",
    "appeared",
    "are",
    "attention",
    "avoid",
    "be",
    "because",
    "become",
    "becomes",
    "becoming",
    "been",
    "begins",
    "being",
    "beware",
    "boils",
    "bubbles",
    "can",
    "cannot",
    "careful",
    "caution",
    "ceases",
    "changes",
    "corrosive",
    "could",
    "crystallises",
    "crystallizes",
    "danger",
    "dangerous",
    "deposits",
    "did",
    "disappears",
    "dissolves",
    "do",
    "does",
    "effervescence",
    "endothermic",
    "evolution",
    "evolve",
    "evolved",
    "evolves",
    "evolving",
    "exotherm",
    "exothermic",
    "expected",
    "explosive",
    "fades",
    "flammable",
    "foaming",
    "foams",
    "formed",
    "forms",
    "froths",
    "frothing",
    "gets",
    "given",
    "gives",
    "goes",
    "had",
    "has",
    "have",
    "important",
    "is",
    "it",
    "may",
    "melts",
    "might",
    "must",
    "necessary",
    "needed",
    "never",
    "not",
    "observed",
    "occur",
    "occurs",
    "otherwise",
    "precipitates",
    "remains",
    "required",
    "rises",
    "seen",
    "separates",
    "should",
    "smells",
    "solidifies",
    "stays",
    "stench",
    "stinks",
    "subsides",
    "there",
    "thickens",
    "toxic",
    "turned",
    "turns",
    "usually",
    "violent",
    "visible",
    "warning",
    "was",
    "were",
    "when",
    "which",
    "will",
    "would",
    "cools",
    "darkens",
    "decreases",
    "heats",
    "increases",
    "reacts",
    "settles",
    "starts",
    "warms",
];

/// Words before `of` that say only how a thing comes.
pub(crate) const FORMS_OF: &[&str] = &[
    "mixture",
    "solution",
    "suspension",
    "slurry",
    "contents",
    "content",
    "atmosphere",
    "minimum",
    "pad",
    "plug",
    "portion",
    "portions",
    "period",
    "course",
    "walls",
    "sides",
    "pressure",
    "piece",
    "pieces",
    "batch",
    "batches",
    "lumps",
];

/// What a vacuum is called, as the language writes it.
pub(crate) const VACUUMS: &[(&str, &str)] = &[
    ("vacuum", "vacuum"),
    ("vacuo", "vacuum"),
    ("vac", "vacuum"),
    ("high vacuum", "high vacuum"),
    ("high vac", "high vacuum"),
    ("hi-vac", "high vacuum"),
    ("hivac", "high vacuum"),
    ("house vacuum", "house vacuum"),
    ("house vac", "house vacuum"),
];

pub(crate) fn vacuum(words: &str) -> Option<&'static str> {
    known(words).vacuum
}

/// What work is done on that is no substance.
pub(crate) const SUPPORTS: &[&str] = &[
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
];

pub(crate) fn is_support(words: &str) -> bool {
    known(words).is(Use::Support)
}

/// What a filtration or a washing leaves, by other names than those of the language.
pub(crate) fn work_up_name(words: &str) -> Option<Standing> {
    look_up(
        words,
        &[
            ("cake", Standing::Solid),
            ("filter cake", Standing::Solid),
            ("filtercake", Standing::Solid),
            ("solids", Standing::Solid),
            ("crystals", Standing::Solid),
            ("precipitate", Standing::Solid),
            ("filtrates", Standing::Filtrate),
            ("extracts", Standing::Organics),
            ("combined extracts", Standing::Organics),
            ("organic extracts", Standing::Organics),
            ("combined organic extracts", Standing::Organics),
            ("washings", Standing::Liquid),
            ("supernatant", Standing::Liquid),
            ("supernatants", Standing::Liquid),
            ("clear supernatant", Standing::Liquid),
            ("supernatant liquid", Standing::Liquid),
            ("supernatant solution", Standing::Liquid),
            ("mother liquor", Standing::Filtrate),
            ("mother liquors", Standing::Filtrate),
        ],
    )
}

/// Whether the last of these words is in the first list, and all before it in the second.
fn is_phrase(words: &str, heads: &[&str], before: &[&str]) -> bool {
    let mut words = words.split(' ').rev();
    words.next().is_some_and(|head| is_one_of(head, heads))
        && words.all(|word| is_one_of(word, before))
}

/// Whether words are said to the reader and ask for nothing to be done: `careful: hydrogen`, `gas evolves`.
pub(crate) fn begins_remark(first: &str, second: &str) -> bool {
    let warns = first.strip_suffix(':').is_some_and(|word| {
        is_one_of(
            word,
            &["careful", "caution", "warning", "danger", "attention"],
        )
    });
    warns
        || is_one_of(second, &["evolves", "evolution", "escapes"])
            && (first.eq_ignore_ascii_case("gas") || is_gas(first))
}

/// Equipment that nobody lists, and that holds no contents.
pub(crate) fn is_plain_tool(words: &str) -> bool {
    // A trap alone may be a line that is missing.
    is_one_of(
        words,
        &["Dean-Stark trap", "Dean-Stark apparatus", "water trap"],
    ) || is_phrase(
        words,
        &[
            "bar",
            "bars",
            "septum",
            "septa",
            "stopper",
            "stoppers",
            "bubbler",
            "condenser",
            "thermometer",
            "thermocouple",
            "syringe",
            "syringes",
            "needle",
            "needles",
            "cannula",
            "cannulas",
            "frit",
            "sinter",
            "adapter",
            "adapters",
            "stirrer",
            "glassware",
            "spatula",
            "boat",
            "pump",
            "pipette",
            "dropper",
        ],
        &[
            "weighing",
            "syringe",
            "peristaltic",
            "pasteur",
            "stir",
            "stirring",
            "stirrer",
            "magnetic",
            "overhead",
            "mechanical",
            "reflux",
            "rubber",
            "glass",
            "metal",
            "steel",
            "sintered",
            "oven-dried",
            "flame-dried",
            "dry",
            "clean",
        ],
    )
}

/// What a solution or a rinse is run through.
pub(crate) fn is_filter(words: &str) -> bool {
    is_phrase(
        words,
        &["pad", "plug", "celite", "filter", "frit", "sinter"],
        &["celite", "silica", "alumina", "sintered", "glass", "filter"],
    )
}

/// A funnel that nobody lists: it holds contents.
pub(crate) fn is_funnel(words: &str) -> bool {
    is_phrase(
        words,
        &["funnel"],
        &[
            "dropping",
            "addition",
            "separatory",
            "separating",
            "sep",
            "pressure-equalising",
            "pressure-equalizing",
        ],
    ) && words.contains(' ')
}

/// What may stand before a vessel's word.
const OF_VESSELS: &[&str] = &[
    "tared",
    "preweighed",
    "pre-weighed",
    "schlenk",
    "nmr",
    "second",
    "third",
    "separate",
    "another",
    "other",
    "small",
    "glass",
    "plastic",
    "polyethylene",
    "pe",
    "test",
    "scintillation",
    "screw-cap",
    "screw-capped",
    "dry",
    "oven-dried",
    "flame-dried",
    "clean",
    "large",
    "capped",
    "septum-capped",
    "brown",
    "amber",
    "dark",
    "storage",
];

/// A small vessel that nobody lists: it holds contents.
pub(crate) fn is_small_vessel(words: &str) -> bool {
    is_phrase(
        words,
        &[
            "vial", "vials", "beaker", "tube", "ampoule", "dish", "jar", "bottle",
        ],
        OF_VESSELS,
    )
}

/// A flask by what it looks like or is for, as `second flask`; `flask` alone says too little.
pub(crate) fn is_flask(words: &str) -> bool {
    let is = |word: &str| {
        is_one_of(word, OF_VESSELS)
            || is_one_of(
                word,
                &[
                    "round-bottom",
                    "round-bottomed",
                    "two-neck",
                    "two-necked",
                    "three-neck",
                    "three-necked",
                    "conical",
                    "erlenmeyer",
                    "receiving",
                    "volumetric",
                    "new",
                ],
            )
    };
    let before = words.rsplit_once(' ');
    before.is_some_and(|(before, head)| {
        head.eq_ignore_ascii_case("flask") && before.split(' ').all(is)
    })
}

/// A flask that is none of those above: `second flask`.
pub(crate) fn is_another(words: &str) -> bool {
    words.split(' ').any(|word| {
        is_one_of(
            word,
            &[
                "second",
                "third",
                "separate",
                "another",
                "other",
                "new",
                "receiving",
            ],
        )
    })
}

/// What something is dissolved or suspended in comes to.
pub(crate) const SOLUTIONS: &[&str] = &["solution", "suspension", "slurry"];

/// Whether the last of these words is a vessel's: no substance is called so.
pub(crate) fn ends_in_vessel(words: &str) -> bool {
    let last = words.rsplit(' ').next().unwrap_or_default();
    let heads = [
        "flask", "funnel", "vial", "beaker", "tube", "ampoule", "jar", "bottle", "reactor",
    ];
    is_one_of(last, &heads)
}

/// Water by whatever name, which nobody measures where a mixture is poured onto it.
pub(crate) const POURED_ONTO: &[&str] = &[
    "ice",
    "crushed ice",
    "cracked ice",
    "ice water",
    "ice-water",
    "ice/water",
    "ice-cold water",
    "cold water",
    "water",
];

pub(crate) fn is_poured_onto(words: &str) -> bool {
    known(words).is(Use::PouredOnto)
}

/// What stands in the vessel that the step is about: `stir the reaction mixture`.
pub(crate) fn is_mixture(words: &str) -> bool {
    const NOUNS: &[&str] = &[
        "mixture",
        "reaction",
        "solution",
        "suspension",
        "slurry",
        "contents",
        "it",
        "this",
    ];
    const BEFORE: &[&str] = &[
        "reaction",
        "resulting",
        "crude",
        "whole",
        "clear",
        "entire",
        "stirred",
        "stirring",
        "well-stirred",
        "vigorously",
        "rapidly",
        "magnetically",
        "mechanically",
        "efficiently",
        "cold",
        "ice-cold",
        "cooled",
        "chilled",
        "warm",
        "hot",
        "refluxing",
        "boiling",
        "homogeneous",
        "heterogeneous",
        "combined",
        "this",
        "yellow",
        "orange",
        "red",
        "brown",
        "black",
        "blue",
        "green",
        "purple",
        "white",
        "colourless",
        "colorless",
        "pale",
        "dark",
        "deep",
        "light",
        "thick",
        "turbid",
        "cloudy",
        "biphasic",
    ];
    // `product` alone may be a key that is missing.
    is_phrase(words, NOUNS, BEFORE) || is_one_of(words, &["crude product", "resulting oil"])
}

pub(crate) const PLACES: &[&str] = &[
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
    "room",
    "darkness",
    "sonicator",
    "microwave",
    "centrifuge",
];

pub(crate) fn is_place(word: &str) -> bool {
    known(word).is(Use::Place)
}

pub(crate) const GASES: &[&str] = &[
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
];

pub(crate) fn is_gas(words: &str) -> bool {
    known(words).is(Use::Gas)
}

/// The gas of `hydrogen balloon`, `balloon of H2`, `argon atmosphere`.
pub(crate) fn gas_of(words: &str) -> Option<&str> {
    const HOLDERS: &[&str] = &["balloon", "balloons", "atmosphere", "blanket", "line"];
    let (first, rest) = words.split_once(' ')?;
    let behind = || {
        let (gas, last) = words.rsplit_once(' ')?;
        is_one_of(last, HOLDERS).then_some(gas)
    };
    let of = || {
        rest.strip_prefix("of ")
            .filter(|_| is_one_of(first, HOLDERS))
    };
    of().or_else(behind).filter(|gas| is_gas(gas))
}

/// A gas that keeps air out and does nothing else.
pub(crate) fn is_inert(gas: &str) -> bool {
    let inert = ["argon", "nitrogen", "helium", "N2", "Ar", "He", "inert gas"];
    is_one_of(gas.strip_prefix("dry ").unwrap_or(gas), &inert)
}

/// A part of what the vessel holds, taken to see how far it is.
pub(crate) const SAMPLES: &[&str] = &["aliquot", "aliquots", "sample", "samples"];

/// What an order of steps begins with.
pub(crate) const NEXT: &[&str] = &[
    "then",
    "and",
    "next",
    "now",
    "first",
    "finally",
    "afterwards",
];

/// What else a number counts begins with one of these.
pub(crate) const COUNTED: &[&str] = &[
    "cycles",
    "cycle",
    "times",
    "time",
    "portions",
    "portion",
    "more",
    "spatula",
    "batches",
    "aliquots",
    "lots",
    "pieces",
    "increments",
    "equal",
    "small",
];

pub(crate) const ROLES: &[(&str, Role)] = &[
    ("reactant", Role::Reactant),
    ("reagent", Role::Reagent),
    ("catalyst", Role::Catalyst),
    ("additive", Role::Additive),
    ("ligand", Role::Ligand),
    ("scavenger", Role::Scavenger),
    ("solvent", Role::Solvent),
    ("by-product", Role::ByProduct),
    ("byproduct", Role::ByProduct),
];

pub(crate) const NATURES: &[(&str, Nature)] = &[
    ("moisture-sensitive", Nature::MoistureSensitive),
    ("air-sensitive", Nature::AirSensitive),
    ("pyrophoric", Nature::Pyrophoric),
    ("light-sensitive", Nature::LightSensitive),
    ("hygroscopic", Nature::Hygroscopic),
    ("volatile", Nature::Volatile),
];

pub(crate) fn nature(word: &str) -> Option<Nature> {
    known(word).nature
}

pub(crate) const FORMS: &[&str] = &[
    "powder", "powdered", "turnings", "dust", "granules", "pellets", "chips", "wire", "foil",
    "flakes", "beads", "ribbon", "liquid",
];

/// What is counted and not measured.
pub(crate) const COUNTABLES: &[&str] = &[
    "drops", "drop", "crystals", "crystal", "grains", "grain", "pellets", "pellet", "pinches",
    "pinch", "balloons", "balloon",
];

pub(crate) fn is_countable(words: &str) -> bool {
    known(words).is(Use::Countable)
}

pub(crate) const NUMBERS: &[(&str, u32)] = &[
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
];

pub(crate) fn number_word(word: &str) -> Option<u32> {
    known(word).number
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
