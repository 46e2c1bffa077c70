//! How many equivalents of acid or base a mole is, for strengths in N.

use crate::substance::Substance;

/// By name of the library: equivalents that a mole may count for, the usual first. Several where the trade counts by
/// what it titrates to. As one proton or hydroxide each, by the definition of the equivalent (E. R. Cohen *et al.*,
/// IUPAC, Quantities, Units and Symbols in Physical Chemistry, 2008, 2.10, from memory).
const EQUIVALENTS: &[(&str, &[u8])] = &[
    ("acetic acid", &[1]),
    ("ammonia", &[1]),
    ("citric acid", &[3]),
    ("formic acid", &[1]),
    ("hydrogen bromide", &[1]),
    ("hydrogen chloride", &[1]),
    ("hydrogen fluoride", &[1]),
    ("hydrogen iodide", &[1]),
    ("lithium hydroxide", &[1]),
    ("methanesulfonic acid", &[1]),
    ("nitric acid", &[1]),
    ("oxalic acid", &[2]),
    ("perchloric acid", &[1]),
    ("phosphoric acid", &[3, 2, 1]),
    ("potassium carbonate", &[2, 1]),
    ("potassium hydroxide", &[1]),
    ("sodium carbonate", &[2, 1]),
    ("sodium hydrogen carbonate", &[1]),
    ("sodium hydroxide", &[1]),
    ("sulfuric acid", &[2]),
    ("trifluoroacetic acid", &[1]),
];

impl Substance {
    /// Equivalents of acid or base in a mole: normality over molarity. None where it is not known, and several, the
    /// usual first, where it depends on what is meant.
    pub fn equivalents_per_mole(self) -> &'static [u8] {
        let row = EQUIVALENTS.iter().find(|(name, _)| *name == self.name());
        row.map_or(&[], |(_, equivalents)| equivalents)
    }
}

#[cfg(test)]
mod tests {
    use super::EQUIVALENTS;
    use crate::{Found, find_name};

    #[test]
    fn every_name_is_a_row_of_the_library() {
        for (name, equivalents) in EQUIVALENTS {
            let found = match find_name(name) {
                Found::One(substance) => substance.equivalents_per_mole(),
                _ => &[],
            };
            assert_eq!(&found, equivalents, "{name}");
        }
    }
}
