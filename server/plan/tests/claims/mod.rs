//! Claims about the amounts of a line: `FIELD VALUE UNIT, FIELD VALUE UNIT ± VALUE UNIT`.

use plan::{Amounts, Determined, Known, Plan};
use uom::si::amount_of_substance::mole;
use uom::si::f64::{AmountOfSubstance, Mass, Volume};
use uom::si::mass::gram;
use uom::si::volume::liter;

/// A printed number in the base unit (mol, g, L), and half of its last digit.
pub(crate) fn quantity(text: &str) -> Option<(f64, f64, &str)> {
    let (number, unit) = text.trim().split_once(' ')?;
    let decimals = number
        .split_once('.')
        .map_or(0, |(_, decimals)| decimals.len());
    let factor = match unit {
        "mmol" | "mg" | "mL" => 1e-3,
        "kg" => 1e3,
        "mol" | "g" | "L" => 1.0,
        _ => return None,
    };
    let half_digit = 0.5 * 10f64.powi(-i32::try_from(decimals).ok()?);
    let base = unit.trim_start_matches(['m', 'k']);
    let base = if unit.ends_with("mol") { "mol" } else { base };
    Some((
        number.parse::<f64>().ok()? * factor,
        half_digit * factor,
        base,
    ))
}

fn amount(value: &Determined<AmountOfSubstance>) -> Result<f64, String> {
    value
        .as_ref()
        .map(|n: &Known<_>| n.value.get::<mole>())
        .map_err(ToString::to_string)
}

fn mass(value: &Determined<Mass>) -> Result<f64, String> {
    value
        .as_ref()
        .map(|m: &Known<_>| m.value.get::<gram>())
        .map_err(ToString::to_string)
}

fn volume(value: &Determined<Volume>) -> Result<f64, String> {
    value
        .as_ref()
        .map(|v: &Known<_>| v.value.get::<liter>())
        .map_err(ToString::to_string)
}

/// The computed value of a field, with the unit that it must be printed in.
fn computed(amounts: &Amounts, field: &str) -> Result<(f64, &'static str), String> {
    let expected = || {
        amounts
            .expected
            .as_ref()
            .ok_or_else(|| "no expectation".to_owned())
    };
    Ok(match field {
        "amount" | "theory amount" => (amount(&amounts.amount)?, "mol"),
        "mass" => (mass(&amounts.mass)?, "g"),
        "pure mass" | "theory" => (mass(&amounts.pure_mass)?, "g"),
        "volume" => (volume(&amounts.volume)?, "L"),
        "expected" => (mass(&expected()?.0)?, "g"),
        "expected amount" => (amount(&expected()?.1)?, "mol"),
        _ => return Err(format!("unknown field {field}")),
    })
}

/// `FIELD VALUE UNIT ± VALUE UNIT` against the amounts of its line.
pub(crate) fn check(amounts: &Amounts, claim: &str) -> Result<(), String> {
    let (claim, wider) = claim
        .split_once('±')
        .map_or((claim, None), |(claim, wider)| (claim, Some(wider)));
    let claim = claim.trim();
    let digit = claim
        .find(|c: char| c.is_ascii_digit())
        .ok_or("no number")?;
    let (field, printed) = claim.split_at(digit);
    let (printed, half_digit, unit) = quantity(printed).ok_or("unreadable number")?;
    let tolerance = match wider {
        Some(wider) => quantity(wider).ok_or("unreadable ±")?.0,
        None => half_digit,
    };
    let (value, base) = computed(amounts, field.trim())?;
    if base != unit {
        return Err(format!("{field} is in {base}, printed in {unit}"));
    }
    // Rounding of the floats at the edge of the last digit is no disagreement.
    if (value - printed).abs() <= tolerance * (1.0 + 1e-9) {
        Ok(())
    } else {
        Err(format!("computed {value} {base}"))
    }
}

/// Checks `KEY: CLAIM, CLAIM`; gives the number of claims and what disagrees.
pub(crate) fn check_line(plan: &Plan, line: &str) -> (usize, Vec<String>) {
    let Some((key, listed)) = line.split_once(": ") else {
        return (0, vec![format!("unreadable claim: {line}")]);
    };
    let found = plan::find_key(&plan.text, key).and_then(|key| plan.material(key));
    let results = listed.split(", ").map(|claim| {
        let (_, amounts) = found.ok_or_else(|| format!("{key}: no such line"))?;
        check(amounts, claim).map_err(|reason| format!("{key}: {claim}: {reason}"))
    });
    let disagreements = results.filter_map(Result::err).collect();
    (listed.split(", ").count(), disagreements)
}
