//! Whether a name may be another one with a slip of the pen, and not the name of another substance.

use crate::fold::fold;

/// Prefixes that tell isomers apart, where they stand as words of their own.
const DESCRIPTORS: &[&str] = &[
    "ac", "all", "allo", "alpha", "anti", "ar", "as", "beta", "cis", "d", "delta", "dl", "e",
    "endo", "epi", "epsilon", "erythro", "exo", "gamma", "i", "iso", "l", "ld", "m", "meso",
    "meta", "n", "neo", "o", "omega", "ortho", "p", "para", "r", "rac", "s", "sec", "syn", "t",
    "tert", "threo", "trans", "vic", "z",
];

/// The same where they are run into a word.
const RUN_IN: &[&str] = &["cyclo", "iso", "neo", "tert"];

/// Parts that names of organic substances are made of: what consists of these alone is spelt right.
const PARTS: &[&str] = &[
    "acet",
    "aceto",
    "acetyl",
    "acid",
    "acrylate",
    "al",
    "alcohol",
    "aldehyde",
    "allyl",
    "amide",
    "amine",
    "amino",
    "ane",
    "an",
    "anil",
    "anhydride",
    "anisole",
    "ate",
    "azide",
    "azido",
    "benz",
    "benzo",
    "benzoate",
    "benzoic",
    "benzoyl",
    "benzyl",
    "boronic",
    "bromide",
    "bromo",
    "but",
    "butyl",
    "carbox",
    "carbonyl",
    "chloride",
    "chloro",
    "cyano",
    "cyclo",
    "dec",
    "di",
    "diol",
    "dione",
    "dodec",
    "ene",
    "en",
    "ester",
    "eth",
    "ether",
    "ethoxy",
    "ethyl",
    "fluoride",
    "fluoro",
    "formyl",
    "furan",
    "hept",
    "hex",
    "hydr",
    "hydrazine",
    "hydro",
    "hydroxy",
    "ic",
    "ide",
    "imid",
    "imine",
    "indole",
    "iodide",
    "iodo",
    "isocyanate",
    "ketone",
    "mercapto",
    "meth",
    "methoxy",
    "methyl",
    "mono",
    "morpholine",
    "naphth",
    "naphthyl",
    "nitrile",
    "nitro",
    "non",
    "oate",
    "oct",
    "oic",
    "ol",
    "one",
    "ous",
    "oxal",
    "oxazole",
    "oxide",
    "oxo",
    "oxy",
    "oyl",
    "penta",
    "pent",
    "phen",
    "phenol",
    "phenone",
    "phenyl",
    "phosphate",
    "phosphine",
    "phosphite",
    "piperazine",
    "piperidine",
    "prop",
    "propan",
    "propargyl",
    "pyr",
    "pyrazole",
    "pyridine",
    "pyridyl",
    "pyrrole",
    "pyrrolidine",
    "quin",
    "quinoline",
    "salicyl",
    "silane",
    "silyl",
    "styr",
    "succin",
    "sulfate",
    "sulfide",
    "sulfite",
    "sulfon",
    "sulfone",
    "sulfonyl",
    "sulfoxide",
    "tetra",
    "thiazole",
    "thio",
    "thiol",
    "thiophene",
    "tolu",
    "toluene",
    "toluate",
    "tri",
    "triol",
    "undec",
    "urea",
    "vinyl",
    "xylene",
    "yl",
    "ylate",
    "yne",
    "yn",
];

/// More of them, which tell substances apart where one stands and the other does not, or another in its place.
const TELLING: &[&str] = &[
    "acryl", "adip", "aldo", "allo", "anhydro", "ant", "aza", "azo", "bi", "bis", "borin", "boron",
    "bora", "bromi", "but", "capro", "capryl", "chrom", "cinnam", "citr", "croton", "de", "deca",
    "deoxy", "deutero", "epi", "eryth", "ferri", "ferro", "form", "fumar", "glutar", "hemi",
    "hepta", "hexa", "homo", "hypo", "imino", "ine", "iso", "ite", "ketal", "keto", "lact", "laur",
    "lin", "mal", "male", "malon", "meta", "nitroso", "nor", "octa", "ole", "oligo", "ortho",
    "oxa", "palmit", "para", "per", "peroxy", "phospha", "phosphin", "phosphon", "phthal", "poly",
    "propion", "pyro", "pyruv", "seco", "seleno", "semi", "sesqui", "sila", "stear", "sulf",
    "sulfin", "tartr", "telluro", "tetrakis", "thia", "tris", "uro", "valer",
];

/// Letters that a slip may change in a word of so many: none of what is too short to tell, but the order of two.
fn allowed(letters: usize) -> usize {
    match letters {
        0..=3 => 0,
        more => (more / 4).min(2),
    }
}

/// A name as it is written, ready to be held against others.
pub(crate) struct Written {
    pub(crate) words: Vec<String>,
    digits: String,
    /// Its parts are all known, so that nothing is misspelt.
    spelt_right: bool,
}

impl Written {
    pub(crate) fn new(name: &str) -> Written {
        let words = words(name);
        Written {
            digits: digits(name),
            spelt_right: words
                .iter()
                .all(|word| is_descriptor(word) || is_of_parts(word)),
            words,
        }
    }

    /// Whether somebody who meant `other` may have written this by a slip. A name with other locants, other
    /// descriptors of stereochemistry or branching, or other parts is that of another substance.
    pub(crate) fn may_mean(&self, other: &str) -> bool {
        if self.spelt_right || self.digits != digits(other) {
            return false;
        }
        let others = words(other);
        let descriptors = |words: &[String]| -> Vec<String> {
            let of = |word: &&String| is_descriptor(word);
            words.iter().filter(of).cloned().collect()
        };
        if descriptors(&self.words) != descriptors(&others) {
            return false;
        }
        let run_in = |words: &[String], part: &str| {
            let counts = words.iter().map(|word| word.matches(part).count());
            counts.sum::<usize>()
        };
        if RUN_IN
            .iter()
            .any(|part| run_in(&self.words, part) != run_in(&others, part))
        {
            return false;
        }
        // Where a space or a hyphen is missing, the words do not pair.
        if self.words.len() != others.len() {
            return !differ_by_parts(&self.words.concat(), &others.concat());
        }
        let mut pairs = self.words.iter().zip(&others);
        pairs.all(|(own, other)| is_slip(own, other) && !differ_by_parts(own, other))
    }

    /// The words that are others there, if the words pair.
    pub(crate) fn changed<'a>(&'a self, other: &str) -> impl Iterator<Item = &'a str> {
        let others = words(other);
        let pairs = self.words.len() == others.len();
        let pairs = self.words.iter().zip(others).filter(move |_| pairs);
        pairs.filter_map(|(own, other)| {
            (without_end(own) != without_end(&other)).then_some(own.as_str())
        })
    }
}

/// Digits in their order, raised and lowered ones as plain ones, and charges and signs of rotation.
fn digits(name: &str) -> String {
    let mut found = String::new();
    let mut letters = name.chars().peekable();
    while let Some(c) = letters.next() {
        let plain = fold(c.encode_utf8(&mut [0; 4]));
        let is_number = plain.starts_with(|c: char| c.is_ascii_digit());
        if is_number || c == '+' {
            found.push_str(&plain);
        } else if plain.is_empty() && letters.peek() == Some(&')') {
            found.push('-');
        }
    }
    found
}

/// Stretches of letters, folded.
fn words(name: &str) -> Vec<String> {
    let words = name.split(|c: char| !c.is_alphabetic()).map(fold);
    let short = |word: String| match word.as_str() {
        "tert" => "t".to_owned(),
        "sec" => "s".to_owned(),
        _ => word,
    };
    words.filter(|word| !word.is_empty()).map(short).collect()
}

fn is_descriptor(word: &str) -> bool {
    DESCRIPTORS.contains(&word)
}

/// `furane` is no other word than `furan`.
fn without_end(word: &str) -> &str {
    word.strip_suffix('e').unwrap_or(word)
}

/// Whether two words are the same but for parts of a name, which the one has and the other lacks, or has others
/// in their place: `diallylmalonate` and `allylmalonate`.
fn differ_by_parts(own: &str, other: &str) -> bool {
    if without_end(own) == without_end(other) {
        return false;
    }
    let same = |pairs: &mut dyn Iterator<Item = (char, char)>| {
        let same = pairs.take_while(|(a, b)| a == b);
        same.map(|(a, _)| a.len_utf8()).collect::<Vec<_>>()
    };
    // The lengths that both can begin and end with.
    let ends = |letters: Vec<usize>| {
        let mut sum = 0;
        let mut ends = vec![0];
        ends.extend(letters.into_iter().map(|letter| {
            sum += letter;
            sum
        }));
        ends
    };
    let starts = ends(same(&mut own.chars().zip(other.chars())));
    let tails = ends(same(&mut own.chars().rev().zip(other.chars().rev())));
    let is_part = |part: &str| is_made_of(part, &[PARTS, TELLING]);
    starts.iter().any(|start| {
        tails.iter().any(|tail| {
            let middle = |word: &'_ str| -> Option<bool> {
                Some(is_part(word.get(*start..word.len().checked_sub(*tail)?)?))
            };
            middle(own) == Some(true) && middle(other) == Some(true)
        })
    })
}

/// Whether a word can be taken apart into known parts without a rest.
fn is_of_parts(word: &str) -> bool {
    is_made_of(word, &[PARTS])
}

fn is_made_of(word: &str, parts: &[&[&str]]) -> bool {
    // The ends up to which it can.
    let mut ends = vec![false; word.len() + 1];
    if let Some(start) = ends.first_mut() {
        *start = true;
    }
    for start in 0..word.len() {
        if ends.get(start) != Some(&true) {
            continue;
        }
        let Some(rest) = word.get(start..) else {
            continue;
        };
        for part in parts
            .iter()
            .copied()
            .flatten()
            .filter(|part| rest.starts_with(**part))
        {
            if let Some(end) = ends.get_mut(start + part.len()) {
                *end = true;
            }
        }
    }
    ends.last() == Some(&true)
}

fn is_slip(own: &str, other: &str) -> bool {
    let own: Vec<char> = own.chars().collect();
    let letters = |mut all: Vec<char>| {
        all.sort_unstable();
        all
    };
    let same_letters = letters(own.clone()) == letters(other.chars().collect());
    let allowed = allowed(own.len()).max(usize::from(same_letters));
    crate::find::distance(&own, other, allowed).is_some()
}

#[cfg(test)]
mod tests {
    use super::Written;

    #[test]
    fn a_slip_is_not_another_substance() {
        for (written, other) in [
            ("D-proline", "L-proline"),
            ("D-proline", "duromine"),
            ("D-proline", "apioline"),
            ("methyl 4-methylbenzoate", "methyl 2-methylbenzoate"),
            ("methyl 4-methylbenzoate", "methyl 3-methylbenzoate"),
            ("methyl 4-ethylbenzoate", "methyl 4-methylbenzoate"),
            ("Tebbe reagent", "gibbs reagent"),
            ("(R)-carvone", "(S)-carvone"),
            ("(+)-pinene", "(-)-pinene"),
            ("(+)-pinene", "pinene"),
            ("α-pinene", "β-pinene"),
            ("cis-stilbene", "trans-stilbene"),
            ("o-xylene", "p-xylene"),
            ("isobutyl chloride", "n-butyl chloride"),
            ("butan-2-ol", "butan-1-ol"),
            ("2,3-dimethylbutane", "2,2-dimethylbutane"),
            ("butanal", "butanol"),
            ("DMX", "DMF"),
            ("chloroform-d", "chloroform"),
            ("diethyl diallylmalonate", "diethyl allylmalonate"),
            ("diethyldiallylmalonate", "diethyl allylmalonate"),
            ("dibutyl malonate", "dibutyl maleate"),
            ("norephedrine", "ephedrine"),
            ("isosorbide", "sorbide"),
            ("homoveratrol", "veratrol"),
            ("bisabolol", "abolol"),
            ("ethyl sorbate", "methyl sorbate"),
            ("trimyristin", "myristin"),
            ("dichlorvos", "chlorvos"),
            ("thiocholine", "choline"),
            ("deoxyadenosine", "adenosine"),
            ("sodium picrite", "sodium picrate"),
            ("dimethyl itaconate", "diethyl itaconate"),
            ("camphene", "camphane"),
        ] {
            assert!(!Written::new(written).may_mean(other), "{written}: {other}");
        }
    }

    /// A group or a multiplying prefix more, or another one, in front of any name that the library has, is another
    /// substance: that name is never offered.
    #[test]
    fn a_group_more_is_never_a_slip() {
        const GROUPS: &[&str] = &[
            "di", "tri", "tetra", "bis", "iso", "nor", "homo", "allyl", "diallyl", "methyl",
            "dimethyl", "ethyl", "thio", "oxo", "nitro", "bromo", "chloro", "fluoro", "iodo",
            "amino", "hydroxy", "deoxy", "cyclo", "epi", "neo",
        ];
        let names = [
            "menthol",
            "camphor",
            "adenosine",
            "geraniol",
            "coumarin",
            "carvone",
            "malononitrile",
            "squalene",
            "ephedrine",
            "anthracene",
            "fluorene",
            "caffeine",
        ];
        let known = |name: &&str| crate::find_name(name).one().is_some();
        assert!(names.iter().filter(|name| known(name)).count() > 8);
        for name in names {
            for group in GROUPS {
                let written = format!("{group}{name}");
                if crate::find_name(&written).one().is_none() {
                    let near = crate::nearest_names(&written, 8);
                    assert!(!near.contains(&name), "{written}: {near:?}");
                }
                for other in GROUPS.iter().filter(|other| *other != group) {
                    let other = format!("{other}{name}");
                    assert!(
                        !Written::new(&written).may_mean(&other),
                        "{written}: {other}"
                    );
                }
            }
        }
    }

    /// What is told apart only by descriptors or locants is never near, whatever the table lacks.
    #[test]
    fn isomers_in_the_library_are_not_near_each_other() {
        for (written, not) in [
            ("D-allo-proline", "D-proline"),
            ("L-camphor", "D-camphor"),
            ("methyl 5-methylbenzoate", "methyl 4-methylbenzoate"),
            ("Tebbi's reagents", "gibbs reagent"),
        ] {
            let near = crate::nearest_names(written, 8);
            assert!(!near.contains(&not), "{written}: {near:?}");
        }
        // CAS registry numbers: PubChem.
        for (name, cas) in [
            ("D-proline", "344-25-2"),
            ("methyl 4-methylbenzoate", "99-75-2"),
            ("Grubbs catalyst 2nd generation", "246047-72-3"),
        ] {
            let found = crate::find_name(name).one();
            assert_eq!(found.and_then(crate::Substance::cas), Some(cas), "{name}");
        }
    }

    #[test]
    fn what_is_farther_than_the_nearest_is_not_meant() {
        assert_eq!(crate::nearest_names("trietylamine", 8), ["triethylamine"]);
    }

    #[test]
    fn a_near_name_has_no_comma_of_a_list() {
        let near = crate::nearest_names("Grubs catalyst, 2nd generation", 8);
        assert!(!near.is_empty());
        assert!(near.iter().all(|name| !name.contains(", ")), "{near:?}");
    }

    #[test]
    fn a_slip_of_the_pen_is_one() {
        for (written, other) in [
            ("tetrahydrofurane", "tetrahydrofuran"),
            ("D-prolin", "D-proline"),
            ("4-tert-butylcyclohexanon", "4-tert-butylcyclohexanone"),
            ("4-t-butylcyclohexanon", "4-tert-butylcyclohexanone"),
            ("dichlormethane", "dichloromethane"),
            ("TFH", "THF"),
            ("methyl 4-metylbenzoate", "methyl 4-methylbenzoate"),
            ("methyl4-methylbenzoat", "methyl 4-methylbenzoate"),
            ("Tebe reagent", "Tebbe reagent"),
        ] {
            assert!(Written::new(written).may_mean(other), "{written}: {other}");
        }
    }
}
