//! Whether a plan that was changed has a finding that it had before.

use crate::Finding;

/// The same check, no worse than before, on the same line or in the same words but for numbers.
#[must_use]
pub fn is_same(old: &Finding, new: &Finding) -> bool {
    let words = |finding: &Finding| -> String {
        let wordy = |word: &&str| !word.contains(|c: char| c.is_ascii_digit()) && !is_unit(word);
        let words: Vec<&str> = finding.message.split_whitespace().filter(wordy).collect();
        words.join(" ")
    };
    old.check == new.check
        && old.severity <= new.severity
        && (old.at.line == new.at.line || words(old) == words(new))
}

fn is_unit(word: &str) -> bool {
    let word = word.trim_end_matches([',', '.', ':', ';', ')']);
    [
        "kg", "g", "mg", "µg", "ng", "L", "mL", "µL", "nL", "mol", "mmol", "µmol", "nmol",
    ]
    .contains(&word)
}
