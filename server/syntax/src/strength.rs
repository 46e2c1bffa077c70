//! Strengths, and amounts that need more than a quantity.

use crate::ast::{Amount, AmountKind, Strength, StrengthForm, Text};
use crate::fold::Source;
use crate::line::skip_words;
use crate::number::{Dimension, Quantity};
use crate::numbers::scan_integer;
use crate::plan_text::Problem;
use crate::quantities::{Scan, is_portion, scan};
use crate::units::letters_end;
use crate::words;
use std::ops::Range;

/// How an amount of this dimension is meant.
pub(crate) fn amount_kind(dimension: Dimension) -> Option<AmountKind> {
    Some(match dimension {
        Dimension::Equivalents => AmountKind::Equivalents,
        Dimension::MolPercent => AmountKind::MolPercent,
        Dimension::Amount => AmountKind::Amount,
        Dimension::Mass => AmountKind::Mass,
        Dimension::Volume => AmountKind::Volume,
        _ if is_portion(dimension) => AmountKind::Relative,
        _ => return None,
    })
}

/// Which strength a quantity of this dimension is.
pub(crate) fn strength_form(dimension: Dimension) -> Option<StrengthForm> {
    Some(match dimension {
        Dimension::Molarity => StrengthForm::Molar,
        Dimension::Normality => StrengthForm::Normal,
        Dimension::Molality => StrengthForm::Molal,
        Dimension::MassPercent => StrengthForm::MassFraction,
        Dimension::VolumePercent => StrengthForm::VolumeFraction,
        Dimension::MassPerVolumePercent => StrengthForm::MassPerVolumePercent,
        Dimension::MassConcentration => StrengthForm::MassConcentration,
        Dimension::AmountPerMass => StrengthForm::Loading,
        Dimension::Percent => StrengthForm::UnclearPercent,
        _ => return None,
    })
}

/// `2 drops`, `one crystal`, the whole stretch.
pub(crate) fn uncounted(source: &Source<'_>, range: Range<usize>) -> Option<Amount> {
    let (amount, end) = scan_uncounted(source, range.start, range.end)?;
    (end == range.end).then_some(amount)
}

/// `2 drops` at `at`, and where it ends.
pub(crate) fn scan_uncounted(
    source: &Source<'_>,
    at: usize,
    end: usize,
) -> Option<(Amount, usize)> {
    let (count, stop) = scan_integer(source, at, end).or_else(|| {
        let stop = letters_end(source, at, end);
        words::number_word(source.str(at..stop)).map(|count| (count, stop))
    })?;
    let word = source.skip_space(stop, end);
    (word > stop).then_some(())?;
    let close = ["spatula tips", "spatula tip"]
        .into_iter()
        .find_map(|words| skip_words(source, word, end, words))
        .or_else(|| {
            let close = letters_end(source, word, end);
            words::is_countable(source.str(word..close)).then_some(close)
        })?;
    source.is_bound(close, end).then_some(())?;
    let what = source.str(word..close).into();
    let span = source.span(at..close);
    Some((
        Amount {
            kind: AmountKind::Uncounted(count, what),
            quantity: None,
            of: None,
            span,
        },
        close,
    ))
}

/// `in hexanes`, `on carbon`, `solution in THF` or `aq.` after a strength: what carries it.
pub(crate) fn carrier(source: &Source<'_>, at: usize, end: usize) -> Option<Text> {
    let at = source.skip_space(at, end);
    if let Some(stop) = water(source, at, end) {
        return (stop == end).then(|| in_water(source, at, stop));
    }
    let at = medium(source, at, end).map_or(at, |stop| source.skip_space(stop, end));
    let after = skip_words(source, at, end, "in").or_else(|| skip_words(source, at, end, "on"))?;
    let carrier = source.trim(after..end);
    (!carrier.is_empty()).then(|| source.words(carrier))
}

/// `aq.`, `aqueous solution` at `at`, and where it ends.
fn water(source: &Source<'_>, at: usize, end: usize) -> Option<usize> {
    let stop = ["aq.", "aq", "aqueous"]
        .into_iter()
        .find_map(|words| skip_words(source, at, end, words))?;
    Some(medium(source, source.skip_space(stop, end), end).unwrap_or(stop))
}

fn in_water(source: &Source<'_>, at: usize, stop: usize) -> Text {
    Text {
        text: "water".into(),
        span: source.span(at..stop),
    }
}

/// `solution`, `dispersion` at `at`, and where it ends.
fn medium(source: &Source<'_>, at: usize, end: usize) -> Option<usize> {
    [
        "solution",
        "soln.",
        "soln",
        "dispersion",
        "suspension",
        "slurry",
    ]
    .into_iter()
    .find_map(|words| skip_words(source, at, end, words))
}

/// `dispersion`, `dispersion in mineral oil` to the end, and what carries it.
fn dispersion(source: &Source<'_>, at: usize, end: usize) -> Option<Option<Text>> {
    let at = source.skip_space(at, end);
    let stop = skip_words(source, at, end, "dispersion")?;
    let found = carrier(source, stop, end);
    (found.is_some() || stop == end).then_some(found)
}

/// A whole field that is a strength. `Some(None)`: it was meant as one, and reported.
pub(crate) fn strength(
    source: &Source<'_>,
    range: Range<usize>,
    problems: &mut Vec<Problem>,
) -> Option<Option<Strength>> {
    if let Some((form, stop)) = word_strength(source, range.start, range.end)
        && (stop == range.end || carrier(source, stop, range.end).is_some())
    {
        let carrier = carrier(source, stop, range.end).map(|text| (text, None));
        return Some(Some(Strength {
            form,
            quantity: None,
            carrier,
            span: source.span(range),
        }));
    }
    let scanned = scan(source, range.start, range.end);
    match scanned.map(|scanned| (scanned.scan, scanned.end)) {
        Some((Scan::Quantity(quantity), stop)) => {
            let form = strength_form(quantity.unit.dimension)?;
            // What is dispersed is a solid, sold by mass (common practice).
            if let Some(dispersed) = dispersion(source, stop, range.end)
                && matches!(
                    form,
                    StrengthForm::UnclearPercent | StrengthForm::MassFraction
                )
            {
                return Some(Some(Strength {
                    form: StrengthForm::MassFraction,
                    quantity: Some(quantity),
                    carrier: dispersed.map(|text| (text, None)),
                    span: source.span(range),
                }));
            }
            let carrier = Some((carrier(source, stop, range.end)?, None));
            // `%` alone is a share by mass.
            let form = match form {
                StrengthForm::UnclearPercent => StrengthForm::MassFraction,
                form => form,
            };
            Some(Some(Strength {
                form,
                quantity: Some(quantity),
                carrier,
                span: source.span(range),
            }))
        }
        Some((Scan::Bad(problem), stop)) if carrier(source, stop, range.end).is_some() => {
            problems.push(problem);
            Some(None)
        }
        _ => None,
    }
}

pub(crate) fn which_percent(quantity: &Quantity) -> Problem {
    let message = "By mass or by volume? Write `wt%` or `vol%`; it is read as by mass.";
    let unit = quantity.unit_span;
    Problem::new("which-percent", quantity.span, message)
        .mend("Write wt%", unit, " wt%")
        .mend("Write vol%", unit, " vol%")
}

/// `sat. aq.`, `conc.`, `aq.`, `glacial` at `at`, and where they end.
#[inline]
pub(crate) fn word_strength(
    source: &Source<'_>,
    at: usize,
    end: usize,
) -> Option<(StrengthForm, usize)> {
    // Most words of a step are none of these, and their first letters say so.
    let letter = |n| source.byte(at + n).to_ascii_lowercase();
    let may_be = match letter(0) {
        b's' => letter(1) == b'a' && letter(2) == b't',
        b'c' => letter(1) == b'o' && letter(2) == b'n',
        b'a' => letter(1) == b'q',
        b'g' => letter(1) == b'l',
        _ => false,
    };
    may_be.then(|| listed_strength(source, at, end))?
}

fn listed_strength(source: &Source<'_>, at: usize, end: usize) -> Option<(StrengthForm, usize)> {
    const FORMS: &[(&str, StrengthForm)] = &[
        ("sat. aq.", StrengthForm::SaturatedAqueous),
        ("sat aq.", StrengthForm::SaturatedAqueous),
        ("sat aq", StrengthForm::SaturatedAqueous),
        ("saturated aqueous", StrengthForm::SaturatedAqueous),
        ("saturated aq.", StrengthForm::SaturatedAqueous),
        ("satd. aq.", StrengthForm::SaturatedAqueous),
        ("sat'd aq.", StrengthForm::SaturatedAqueous),
        // What is saturated and names no liquid is so in water (common practice).
        ("sat.", StrengthForm::SaturatedAqueous),
        ("sat", StrengthForm::SaturatedAqueous),
        ("satd.", StrengthForm::SaturatedAqueous),
        ("sat'd", StrengthForm::SaturatedAqueous),
        ("saturated", StrengthForm::SaturatedAqueous),
        ("conc. aq.", StrengthForm::Concentrated),
        ("conc.", StrengthForm::Concentrated),
        ("conc", StrengthForm::Concentrated),
        ("concentrated", StrengthForm::Concentrated),
        ("aq.", StrengthForm::Aqueous),
        ("aq", StrengthForm::Aqueous),
        ("glacial", StrengthForm::Glacial),
    ];
    FORMS
        .iter()
        .find_map(|&(words, form)| skip_words(source, at, end, words).map(|stop| (form, stop)))
}

/// `2 M HCl`, `2.5 M n-butyllithium in hexanes`, `sat. aq. NaHCO3`: the strength, and the name after it.
pub(crate) fn leading_strength(
    source: &Source<'_>,
    range: Range<usize>,
    problems: &mut Vec<Problem>,
) -> Option<(Strength, Range<usize>)> {
    if let Some((form, stop)) = word_strength(source, range.start, range.end) {
        let name = source.trim(stop..range.end);
        let span = source.span(range.start..stop);
        // `sat. ammonia in methanol` names its liquid.
        let named =
            form == StrengthForm::SaturatedAqueous && source.str(name.clone()).contains(" in ");
        return (!name.is_empty() && !named).then_some((
            Strength {
                form,
                quantity: None,
                carrier: None,
                span,
            },
            name,
        ));
    }
    let scanned = scan(source, range.start, range.end)?;
    let Scan::Quantity(quantity) = scanned.scan else {
        return None;
    };
    let form = strength_form(quantity.unit.dimension)?;
    let mut name = source.trim(scanned.end..range.end);
    if name.is_empty() || skip_words(source, name.start, name.end, "of").is_some() {
        return None;
    }
    let (mut found, mut aqueous) = (None, false);
    if let Some(stop) = water(source, name.start, name.end).filter(|&stop| stop < name.end) {
        found = Some((in_water(source, name.start, stop), None));
        name = source.trim(stop..name.end);
        aqueous = true;
    } else if let Some(at) = source
        .str(name.clone())
        .find(" in ")
        .map(|at| name.start + at)
    {
        found = carrier(source, at, name.end).map(|text| (text, None));
        name = source.trim(name.start..at);
    }
    let form = match (form, &found) {
        (StrengthForm::UnclearPercent, None) => StrengthForm::MassFraction,
        (StrengthForm::UnclearPercent, Some(_)) if aqueous => StrengthForm::MassFraction,
        // `5 % methanol in dichloromethane` is mixed by volume as often.
        (StrengthForm::UnclearPercent, Some(_)) => {
            problems.push(which_percent(&quantity));
            form
        }
        _ => form,
    };
    Some((
        Strength {
            form,
            quantity: Some(quantity),
            carrier: found,
            span: quantity.span,
        },
        name,
    ))
}

/// `2 drops of N,N-dimethylformamide`, `5 mL tetrahydrofuran`
pub(crate) fn leading_amount(
    source: &Source<'_>,
    range: Range<usize>,
) -> Option<(Amount, Range<usize>)> {
    let (amount, stop) = match scan_uncounted(source, range.start, range.end) {
        Some(found) => found,
        None => {
            let scanned = scan(source, range.start, range.end)?;
            let Scan::Quantity(quantity) = scanned.scan else {
                return None;
            };
            let kind = amount_kind(quantity.unit.dimension)?;
            (
                Amount {
                    kind,
                    quantity: Some(quantity),
                    of: None,
                    span: quantity.span,
                },
                scanned.end,
            )
        }
    };
    let mut at = source.skip_space(stop, range.end);
    if let Some(stop) = skip_words(source, at, range.end, "of") {
        at = source.skip_space(stop, range.end);
    }
    (at < range.end).then_some((amount, at..range.end))
}
