//! The units of the language. They exist only after a number.

use crate::fold::Source;
use crate::number::{Dimension, Unit};
use foldhash::fast::RandomState;
use rust_decimal::Decimal;
use std::collections::HashMap;
use std::sync::LazyLock;

struct Row {
    symbol: &'static str,
    others: &'static [&'static str],
    /// Compared with its case: one letter, or told from another unit by case alone.
    exact: bool,
    dimension: Dimension,
    factor: Decimal,
}

impl Row {
    fn spellings(&self) -> impl Iterator<Item = &'static str> {
        std::iter::once(self.symbol).chain(self.others.iter().copied())
    }
}

/// `mantissa` over ten to the `scale`.
const fn dec(mantissa: u128, scale: u32) -> Decimal {
    Decimal::from_parts(
        (mantissa & 0xffff_ffff) as u32,
        (mantissa >> 32 & 0xffff_ffff) as u32,
        (mantissa >> 64 & 0xffff_ffff) as u32,
        false,
        scale,
    )
}

macro_rules! units {
    ($($dimension:ident: $($symbol:literal $([$($other:literal),*])? $(= $exact:ident)? $mantissa:literal e $scale:literal),+;)*) => {
        /// Conversion factors are exact by definition (SI Brochure, 9th edition; NIST SP 811, appendix B), but
        /// for Torr (101 325/760 Pa), °F and psi, which are rounded to the digits that fit.
        static UNITS: &[Row] = &[$($(Row {
            symbol: $symbol,
            others: &[$($($other),*)?],
            exact: units!(@ $($exact)?),
            dimension: Dimension::$dimension,
            factor: dec($mantissa, $scale),
        }),+),*];
    };
    (@ exact) => { true };
    (@) => { false };
}

units! {
    Equivalents: "eq" ["equiv", "equivs", "equivalents", "equivalent", "eqs"] 1 e 0;
    Amount: "mmol" ["mmols"] 1 e 3, "mol" ["mols", "mole", "moles"] 1 e 0, "µmol" ["umol"] 1 e 6, "nmol" 1 e 9, "kmol" 1000 e 0;
    Mass: "g" ["grams", "gram"] = exact 1 e 0, "mg" 1 e 3, "kg" 1000 e 0, "µg" ["ug"] 1 e 6, "ng" 1 e 9;
    Volume: "mL" ["millilitres", "milliliters"] 1 e 3, "L" ["l", "litres", "liters", "litre", "liter"] = exact 1 e 0,
        "µL" ["uL"] 1 e 6, "nL" 1 e 9, "dL" 1 e 1, "cL" 1 e 2;
    Time: "min" ["mins", "minutes", "minute"] 60 e 0, "h" ["hours", "hour", "hr", "hrs"] = exact 3600 e 0,
        "s" ["sec", "secs", "seconds", "second"] = exact 1 e 0, "d" ["days", "day"] = exact 86400 e 0,
        "weeks" ["week"] 604_800 e 0;
    Temperature: "°C" ["C", "℃", "degC", "oC"] = exact 1 e 0, "K" = exact 1 e 0, "°F" ["℉"] = exact 5_555_555_555_555_555_555_555_555_556 e 28;
    Pressure: "mbar" 100 e 0, "bar" 100_000 e 0, "µbar" ["ubar"] 1 e 1, "Pa" = exact 1 e 0, "hPa" = exact 100 e 0,
        "kPa" = exact 1000 e 0, "MPa" = exact 1_000_000 e 0, "mPa" = exact 1 e 3, "atm" 101_325 e 0,
        "Torr" 1_333_223_684_210_526_315_789_473_684 e 25, "mmHg" 133_322_387_415 e 9, "psi" 6_894_757_293_168 e 9;
    Molarity: "M" = exact 1 e 0, "mM" = exact 1 e 3, "µM" ["uM"] = exact 1 e 6, "nM" = exact 1 e 9;
    Normality: "N" = exact 1 e 0;
    Ppm: "ppm" 1 e 6;
    Length: "Å" ["A"] = exact 1 e 10, "mm" = exact 1 e 3, "cm" 1 e 2, "nm" = exact 1 e 9, "µm" ["um"] = exact 1 e 6;
    Stirring: "rpm" 1 e 0;
}

/// Shares that are written with a percent sign, the longer spelling before the shorter.
static PERCENTS: &[(&str, &str, Dimension)] = &[
    ("% (w/w)", "wt%", Dimension::MassPercent),
    ("% (v/v)", "vol%", Dimension::VolumePercent),
    ("% (w/v)", "w/v%", Dimension::MassPerVolumePercent),
    ("mass %", "wt%", Dimension::MassPercent),
    ("% w/w", "wt%", Dimension::MassPercent),
    ("% v/v", "vol%", Dimension::VolumePercent),
    ("% w/v", "w/v%", Dimension::MassPerVolumePercent),
    ("w/w %", "wt%", Dimension::MassPercent),
    ("v/v %", "vol%", Dimension::VolumePercent),
    ("w/v %", "w/v%", Dimension::MassPerVolumePercent),
    ("wt. %", "wt%", Dimension::MassPercent),
    ("mass%", "wt%", Dimension::MassPercent),
    ("mol %", "mol%", Dimension::MolPercent),
    ("mol-%", "mol%", Dimension::MolPercent),
    ("vol %", "vol%", Dimension::VolumePercent),
    ("vol-%", "vol%", Dimension::VolumePercent),
    ("%w/w", "wt%", Dimension::MassPercent),
    ("%v/v", "vol%", Dimension::VolumePercent),
    ("%w/v", "w/v%", Dimension::MassPerVolumePercent),
    ("w/w%", "wt%", Dimension::MassPercent),
    ("v/v%", "vol%", Dimension::VolumePercent),
    ("w/v%", "w/v%", Dimension::MassPerVolumePercent),
    ("wt.%", "wt%", Dimension::MassPercent),
    ("mol%", "mol%", Dimension::MolPercent),
    ("vol%", "vol%", Dimension::VolumePercent),
    ("% rh", "% RH", Dimension::Humidity),
    ("wt %", "wt%", Dimension::MassPercent),
    ("wt-%", "wt%", Dimension::MassPercent),
    ("%rh", "% RH", Dimension::Humidity),
    ("wt%", "wt%", Dimension::MassPercent),
    ("%", "%", Dimension::Percent),
];

/// Reads the unit that begins at `at`, and where it ends; what may follow is for the caller to see.
pub(crate) fn scan_unit(source: &Source<'_>, at: usize, end: usize) -> Option<(Unit, usize)> {
    if matches!(
        source.byte(at),
        b'%' | b'w' | b'W' | b'm' | b'M' | b'v' | b'V'
    ) && let Some(found) = scan_percent(source, at, end)
    {
        return Some(found);
    }
    let (row, after) = scan_row(source, at, end)?;
    let single = Unit {
        symbol: row.symbol,
        per: None,
        dimension: row.dimension,
        factor: row.factor,
    };
    if after < end && source.byte(after) == b'/' {
        let (below, after) =
            scan_row(source, after + 1, end).or_else(|| scan_cubic(source, after + 1, end))?;
        return Some((quotient(row, below)?, after));
    }
    if row.symbol == "Å" && source.str(at..after) == "A" && !before_sieves(source, after, end) {
        return None;
    }
    Some((single, after))
}

fn scan_percent(source: &Source<'_>, at: usize, end: usize) -> Option<(Unit, usize)> {
    const LONGEST: usize = 7;
    let rest = source.text.as_bytes().get(at..end)?;
    if !rest.iter().take(LONGEST).any(|&byte| byte == b'%') {
        return None;
    }
    let &(spelling, symbol, dimension) = PERCENTS.iter().find(|(spelling, ..)| {
        rest.get(..spelling.len())
            .is_some_and(|head| head.eq_ignore_ascii_case(spelling.as_bytes()))
    })?;
    Some((
        Unit {
            symbol,
            per: None,
            dimension,
            factor: dec(1, 2),
        },
        at + spelling.len(),
    ))
}

fn scan_row(source: &Source<'_>, at: usize, end: usize) -> Option<(&'static Row, usize)> {
    let after = letters_end(source, at, end);
    let word = source.str(at..after);
    // `30'`: the tick of a minute touches its number.
    if word.is_empty() && source.byte(at) == b'\'' && at > 0 && source.byte(at - 1) != b' ' {
        return Some((find_row("min")?, at + 1));
    }
    // `0 ° C`
    if word == "°" {
        let letter = source.skip_space(after, end);
        let stop = letters_end(source, letter, end);
        return Some((
            find_row("°C").filter(|_| source.str(letter..stop) == "C")?,
            stop,
        ));
    }
    Some((find_row(word)?, after))
}

/// `g/cm3` is g/mL.
fn scan_cubic(source: &Source<'_>, at: usize, end: usize) -> Option<(&'static Row, usize)> {
    let rest = source.str(at..end);
    let spelling = ["cm3", "cm³", "cm^3"]
        .into_iter()
        .find(|spelling| rest.starts_with(spelling))?;
    Some((find_row("mL")?, at + spelling.len()))
}

/// The end of the letters that a unit is written with.
pub(crate) fn letters_end(source: &Source<'_>, at: usize, end: usize) -> usize {
    let mut stop = at;
    while stop < end && source.byte(stop).is_ascii_alphabetic() {
        stop += 1;
    }
    if stop >= end {
        return end;
    }
    if source.byte(stop).is_ascii() {
        return stop;
    }
    source
        .str(stop..end)
        .char_indices()
        .find(|(_, c)| !(c.is_alphabetic() || matches!(c, '°' | '℃' | '℉')))
        .map_or(end, |(n, _)| stop + n)
}

fn find_row(word: &str) -> Option<&'static Row> {
    if word.is_empty() || word.len() > 12 {
        return None;
    }
    static LISTED: LazyLock<HashMap<&str, &Row, RandomState>> = LazyLock::new(|| {
        let rows = UNITS.iter().rev();
        rows.flat_map(|row| row.spellings().map(move |spelling| (spelling, row)))
            .collect()
    });
    /// In lower case, but for what is told by its case.
    static FOLDED: LazyLock<HashMap<String, &Row, RandomState>> = LazyLock::new(|| {
        let rows = UNITS.iter().rev();
        rows.flat_map(|row| row.spellings().map(move |spelling| (spelling, row)))
            .filter(|(spelling, row)| !row.exact || spelling.len() > 3)
            .map(|(spelling, row)| (spelling.to_ascii_lowercase(), row))
            .collect()
    });
    let one_case = || {
        let mut bytes = word.bytes();
        !bytes.clone().any(|b| b.is_ascii_uppercase()) || !bytes.any(|b| b.is_ascii_lowercase())
    };
    match LISTED.get(word) {
        Some(row) => Some(row),
        None if one_case() => FOLDED.get(&word.to_ascii_lowercase()).copied(),
        None => None,
    }
}

fn before_sieves(source: &Source<'_>, at: usize, end: usize) -> bool {
    let rest = source.str(at..end).trim_start();
    let rest = rest.strip_prefix("molecular ").unwrap_or(rest);
    rest.starts_with("sieve") || rest.starts_with("MS")
}

fn quotient(above: &Row, below: &Row) -> Option<Unit> {
    use Dimension::{Amount, Mass, Time, Volume};
    let dimension = match (above.dimension, below.dimension) {
        (Volume, Time) => Dimension::VolumeRate,
        (Mass, Time) => Dimension::MassRate,
        (Amount, Time) => Dimension::AmountRate,
        (Volume, Amount) => Dimension::VolumePerAmount,
        (Volume, Mass) => Dimension::VolumePerMass,
        (Mass, Amount) => Dimension::MassPerAmount,
        (Mass, Mass) => Dimension::MassPerMass,
        (Amount, Mass) if below.symbol == "kg" => Dimension::Molality,
        (Amount, Mass) => Dimension::AmountPerMass,
        (Volume, Volume) => Dimension::VolumePerVolume,
        (Amount, Volume) => Dimension::Molarity,
        (Mass, Volume) => Dimension::MassConcentration,
        _ => return None,
    };
    let factor = match dimension {
        Dimension::Molality => Some(above.factor),
        _ => above.factor.checked_div(below.factor),
    }?;
    Some(Unit {
        symbol: above.symbol,
        per: Some(below.symbol),
        dimension,
        factor,
    })
}

/// Whether a word is a unit but for its case or one letter, so that a unit was meant.
pub(crate) fn is_near_unit(word: &str) -> bool {
    if word.len() > 12 {
        return false;
    }
    let near = |listed: &str| {
        word.eq_ignore_ascii_case(listed)
            || listed.len() > 2
                && word.len() > 2
                && differs_by_one(word.as_bytes(), listed.as_bytes())
    };
    UNITS
        .iter()
        .any(|row| near(row.symbol) || row.others.iter().any(|other| near(other)))
}

/// Whether one letter more, less, other or changed with its neighbour makes one word of the other, whatever
/// their case. Asked of every word after a number, so it must cost nothing.
fn differs_by_one(a: &[u8], b: &[u8]) -> bool {
    let same = a
        .iter()
        .zip(b)
        .take_while(|(a, b)| a.eq_ignore_ascii_case(b))
        .count();
    let (a, b) = (
        a.get(same..).unwrap_or_default(),
        b.get(same..).unwrap_or_default(),
    );
    match (a, b) {
        ([_, rest @ ..], other) | (other, [_, rest @ ..]) if rest.len() == other.len() => {
            rest.eq_ignore_ascii_case(other)
        }
        ([a1, a2, a @ ..], [b1, b2, b @ ..])
            if a1.eq_ignore_ascii_case(b2) && a2.eq_ignore_ascii_case(b1) =>
        {
            a.eq_ignore_ascii_case(b)
        }
        ([_, a @ ..], [_, b @ ..]) => a.eq_ignore_ascii_case(b),
        _ => false,
    }
}

/// The symbols that measure a dimension, the usual ones first.
#[must_use]
pub fn units_for(dimension: Dimension) -> Vec<&'static str> {
    match dimension {
        Dimension::MolPercent => vec!["mol%"],
        Dimension::MassPercent => vec!["wt%"],
        Dimension::VolumePercent => vec!["vol%"],
        Dimension::MassPerVolumePercent => vec!["w/v%"],
        Dimension::Percent => vec!["%"],
        Dimension::Humidity => vec!["% RH"],
        Dimension::Molality => vec!["mol/kg"],
        Dimension::MassConcentration => vec!["g/L", "mg/mL"],
        Dimension::VolumeRate => vec!["mL/h", "mL/min"],
        Dimension::MassRate => vec!["g/h", "g/min"],
        Dimension::AmountRate => vec!["mmol/h", "mmol/min"],
        Dimension::VolumePerAmount => vec!["mL/mmol"],
        Dimension::VolumePerMass => vec!["mL/g"],
        Dimension::MassPerAmount => vec!["g/mmol"],
        Dimension::MassPerMass => vec!["g/g"],
        Dimension::AmountPerMass => vec!["mmol/g"],
        Dimension::VolumePerVolume => vec!["mL/mL"],
        _ => UNITS
            .iter()
            .filter(|row| row.dimension == dimension)
            .map(|row| row.symbol)
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn near_units_are_one_letter_off() {
        for word in ["mmoll", "mbarr", "mbra", "mba", "Mg", "MM", "m", "equvi"] {
            assert!(is_near_unit(word), "{word}");
        }
        for word in ["drops", "BBN", "Celite", "flask", "b", "x"] {
            assert!(!is_near_unit(word), "{word}");
        }
    }
}
