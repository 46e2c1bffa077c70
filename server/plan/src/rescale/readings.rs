//! Rounding to what the tools at hand read.

use super::target::{Aim, pair};
use super::text::Writer;
use super::{CannotRescale, Measured};
use crate::digits;
use crate::known::Known;
use crate::ledger::Amounts;
use crate::material::{Basis, Material};
use crate::measuring::Way;
use crate::tools::{Measure, Reading};
use crate::{Plan, show};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use syntax::Dimension;
use uom::si::f64::{Mass, Ratio, Volume};
use uom::si::mass::gram;
use uom::si::ratio::ratio;
use uom::si::volume::liter;

/// Room for the rounding of `f64`: what is on a mark is not moved to the next.
const FLOAT_NOISE: f64 = 1e-9;

/// What would change by more than this share is not measured by such a tool at all.
const MOST_CHANGE: f64 = 0.1;

/// How often a rounded amount may ask for another tool.
const TOOLS_TRIED: usize = 5;

/// Digits of an amount that the plan does not write.
const UNWRITTEN: i32 = 3;

/// What a line comes to on its tool.
#[derive(Clone, Debug)]
pub(super) struct Rounded {
    pub(super) dimension: Dimension,
    /// In g or L.
    pub(super) value: Decimal,
    /// What it is a multiple of, in g or L.
    pub(super) step: Decimal,
    /// Over what the line would be.
    pub(super) ratio: Decimal,
}

/// What all lines come to.
#[derive(Default)]
pub(super) struct Readings {
    /// One a material; none for what is not measured in one go.
    pub(super) lines: Vec<Option<Rounded>>,
    pub(super) measured: Vec<Measured>,
    pub(super) notes: Vec<String>,
}

/// Rounds every line, and has the scale follow the limiting reagent.
///
/// # Errors
/// When no tool reads the limiting reagent closely enough.
pub(super) fn readings(plan: &Plan, aim: &mut Aim) -> Result<Readings, CannotRescale> {
    // What the goal holds is measured like anything else.
    aim.held = None;
    let mut found = Readings {
        lines: vec![None; plan.materials.len()],
        ..Readings::default()
    };
    let limiting = limiting(plan);
    if let Some(index) = limiting
        && let Some(candidate) = Candidate::of(plan, index, aim)
    {
        let (rounded, reading) = candidate.round(false).ok_or_else(|| {
            CannotRescale(format!(
                "no tool reads {} closely enough: choose a larger scale, or name better tools in meniscus.toml",
                candidate.material.key.text
            ))
        })?;
        follow(plan, aim, index, &rounded)
            .ok_or_else(|| CannotRescale("the new scale is out of range".to_owned()))?;
        let rounded = Rounded {
            ratio: Decimal::ONE,
            ..rounded
        };
        found.add(index, &candidate, rounded, reading);
    }
    let least = limiting
        .and_then(|index| equivalents(plan.ledger.amounts.get(index)?))
        .map(|least| least / coefficient(plan));
    for (index, (material, amounts)) in plan.materials.iter().zip(&plan.ledger.amounts).enumerate()
    {
        if Some(index) == limiting || material.product {
            continue;
        }
        let key = &material.key.text;
        let Some(candidate) = Candidate::of(plan, index, aim) else {
            let measured = matches!(
                plan.way(material, amounts),
                Way::Weigh | Way::Syringe | Way::Cylinder
            );
            if measured && !plan.is_taken_about(material) {
                found.notes.push(format!(
                    "{key} is not rounded to a tool: it is taken in portions, or no tool measures it with a known error."
                ));
            }
            continue;
        };
        let in_excess = match (equivalents(amounts), least) {
            (Some(its), Some(least)) => its > least * (1.0 + FLOAT_NOISE),
            _ => false,
        };
        match candidate.round(in_excess) {
            Some((rounded, reading)) => found.add(index, &candidate, rounded, reading),
            None => found.notes.push(format!(
                "{key} is not rounded to a tool: none reads it closely enough."
            )),
        }
    }
    Ok(found)
}

/// The material that the others are in excess of: the one that runs out first by the equation, or else the scale's.
fn limiting(plan: &Plan) -> Option<usize> {
    let by_equation = plan.ledger.limiting.as_ref().map(|limiting| limiting.key);
    let of_scale = plan.ledger.scale.as_ref().and_then(|scale| scale.key);
    let key = by_equation.or(of_scale)?;
    plan.materials
        .iter()
        .position(|material| material.id == key && !material.product)
}

/// How often the equation takes the limiting reagent.
fn coefficient(plan: &Plan) -> f64 {
    let coefficient = plan.ledger.limiting.as_ref().map(|limiting| {
        let times = limiting.coefficient;
        Decimal::from(*times.numer()).checked_div(Decimal::from(*times.denom()))
    });
    let times = coefficient.flatten().and_then(|times| times.to_f64());
    times.filter(|times| *times > 0.0).unwrap_or(1.0)
}

fn equivalents(amounts: &Amounts) -> Option<f64> {
    let known = amounts.equivalents.as_ref().ok()?;
    Some(known.value.get::<ratio>())
}

/// The scale, and the factor for all that is not rounded, by what the limiting reagent really is. The scale keeps its
/// decimals, but for a mass or volume that is what the tool reads.
fn follow(plan: &Plan, aim: &mut Aim, index: usize, rounded: &Rounded) -> Option<()> {
    let (_, old) = plan.scale_quantity()?;
    aim.factor = aim.factor.scaled(rounded.ratio)?;
    let of_scale = plan.ledger.scale.as_ref().and_then(|scale| scale.key);
    let is_scale = plan.materials.get(index).map(|material| material.id) == of_scale;
    let written: Decimal = aim.scale.number.parse().ok()?;
    let unit = aim.scale.unit;
    let in_unit = |value: Decimal| unit.convert(value.checked_div(old.unit.factor)?);
    let (value, decimals) = if is_scale && old.unit.dimension == rounded.dimension {
        let decimals = in_unit(rounded.step)?.normalize().scale();
        (in_unit(rounded.value)?, decimals)
    } else {
        (written.checked_mul(rounded.ratio)?, written.scale())
    };
    let mut value = digits::round_to_decimals(value, decimals)?;
    if value <= Decimal::ZERO {
        value = written;
    }
    aim.scale.number = value.to_string();
    Some(())
}

/// A line that is measured in one go, at the new scale.
struct Candidate<'a> {
    plan: &'a Plan,
    material: &'a Material,
    amounts: &'a Amounts,
    /// In g or L.
    exact: f64,
    dimension: Dimension,
    /// One of the last digit that would be written, in g or L.
    digit: Decimal,
}

impl<'a> Candidate<'a> {
    fn of(plan: &'a Plan, index: usize, aim: &Aim) -> Option<Candidate<'a>> {
        let material = plan.materials.get(index)?;
        let amounts = plan.ledger.amounts.get(index)?;
        let now = match plan.way(material, amounts) {
            Way::Weigh => amounts.mass.as_ref().ok()?.value.get::<gram>(),
            Way::Syringe | Way::Cylinder => amounts.volume.as_ref().ok()?.value.get::<liter>(),
            _ => return None,
        };
        let dimension = match plan.way(material, amounts) {
            Way::Weigh => Dimension::Mass,
            _ => Dimension::Volume,
        };
        if material.product || !is_one_go(plan, material, amounts) {
            return None;
        }
        let exact = now * aim.factor.value()?.to_f64()?;
        let candidate = Candidate {
            plan,
            material,
            amounts,
            exact,
            dimension,
            digit: digit(plan, index, aim, dimension, exact)?,
        };
        candidate.reading(exact).is_some().then_some(candidate)
    }

    fn reading(&self, base: f64) -> Option<Reading> {
        let basis = match (self.dimension, &self.amounts.mass, &self.amounts.volume) {
            (Dimension::Mass, Ok(known), _) => Basis::Mass(Known::new(
                Mass::new::<gram>(base),
                Mass::default(),
                known.origin.clone(),
            )),
            (Dimension::Volume, _, Ok(known)) => Basis::Volume(Known::new(
                Volume::new::<liter>(base),
                Volume::default(),
                known.origin.clone(),
            )),
            _ => return None,
        };
        let amounts = self.plan.amounts_from(self.material, basis);
        self.plan.reading(self.material, &amounts)
    }

    /// To a multiple of what the tool reads, by the tool that measures the rounded amount. None where that is another
    /// amount altogether, or no tool can be settled on.
    fn round(&self, up: bool) -> Option<(Rounded, Reading)> {
        let mut reading = self.reading(self.exact)?;
        let mut readable = None;
        for _ in 0..TOOLS_TRIED {
            let division = division(&reading)?;
            let step = step(division, self.digit)?;
            let count = self.exact / step.to_f64()?;
            let count = if up {
                (count * (1.0 - FLOAT_NOISE)).ceil()
            } else {
                count.round()
            };
            let value = Decimal::from_f64(count)?.checked_mul(step)?;
            let change = (value.to_f64()? / self.exact - 1.0).abs();
            if value <= Decimal::ZERO || change > MOST_CHANGE {
                return None;
            }
            let by = self.reading(value.to_f64()?)?;
            if value.checked_rem(self::division(&by)?)?.is_zero() {
                let over = Decimal::from_f64(value.to_f64()? / self.exact)?;
                let rounded = Rounded {
                    dimension: self.dimension,
                    value,
                    step,
                    ratio: over,
                };
                if by.division == reading.division {
                    return Some((rounded, by));
                }
                // Another tool that reads it, and might have come nearer by its own marks.
                readable.get_or_insert((rounded, by.clone()));
            }
            reading = by;
        }
        readable
    }

    fn measure(&self, base: f64) -> Measure {
        match self.dimension {
            Dimension::Mass => Measure::Mass(Mass::new::<gram>(base)),
            _ => Measure::Volume(Volume::new::<liter>(base)),
        }
    }
}

impl Readings {
    fn add(&mut self, index: usize, candidate: &Candidate<'_>, rounded: Rounded, by: Reading) {
        let base = rounded.value.to_f64().unwrap_or(candidate.exact);
        let written = equivalents(candidate.amounts).map(Ratio::new::<ratio>);
        let real = written.map(|written| written * rounded.ratio.to_f64().unwrap_or(1.0));
        let digits = usize::try_from(digits::significant_of(rounded.value)).unwrap_or(3);
        let value = candidate.measure(base);
        let words = match value {
            Measure::Mass(mass) => show::mass_to(mass, digits),
            Measure::Volume(volume) => show::volume_to(volume, digits),
        };
        let times = match by.strokes {
            1 => String::new(),
            strokes => format!(", {strokes} times"),
        };
        let eq = real.map_or_else(String::new, |real| {
            format!(": {} eq", show::number(real.get::<ratio>(), 4))
        });
        let key = &candidate.material.key.text;
        self.notes
            .push(format!("{key} {words} ({}{times}){eq}", by.tool));
        self.measured.push(Measured {
            material: index,
            exact: candidate.measure(candidate.exact),
            rounded: value,
            division: by.division,
            tool: by.tool.to_string(),
            assumed: by.assumed,
            written,
            equivalents: real,
        });
        if let Some(line) = self.lines.get_mut(index) {
            *line = Some(rounded);
        }
    }
}

/// No step takes it, or one does, and all of it.
fn is_one_go(plan: &Plan, material: &Material, amounts: &Amounts) -> bool {
    let taken = plan.takes_of(material.id).filter(|take| take.draws());
    let taken: Vec<_> = taken.collect();
    let [only] = taken.as_slice() else {
        return taken.is_empty();
    };
    let Some((times, amount, _)) = only.quantity() else {
        return true;
    };
    let Ok(portion) = plan.portion(material, only.line, times, amount) else {
        return false;
    };
    let is_all = |part: (f64, f64), all: (f64, f64)| (part.0 - all.0).abs() <= part.1 * 1.000_001;
    times == 1
        && match (
            &portion.volume,
            &amounts.volume,
            &portion.mass,
            &amounts.mass,
        ) {
            (Ok(part), Ok(all), ..) => is_all(pair(part), pair(all)),
            (_, _, Ok(part), Ok(all)) => is_all(pair(part), pair(all)),
            _ => false,
        }
}

/// One of the last digit that would be written of a line, in g or L.
fn digit(
    plan: &Plan,
    index: usize,
    aim: &Aim,
    dimension: Dimension,
    exact: f64,
) -> Option<Decimal> {
    let material = plan.materials.get(index)?;
    let writer = Writer::new(plan, aim);
    let of_kind = |quantity: &&syntax::Quantity| {
        quantity.unit.dimension == dimension && quantity.to.is_none()
    };
    let stated = material.stated.iter();
    let written = stated
        .filter_map(|amount| amount.quantity.as_ref())
        .find(of_kind);
    if let Some(quantity) = written {
        let written = writer.written(material.line, Some(index), quantity)?;
        let one = Decimal::try_new(1, written.number.parse::<Decimal>().ok()?.scale()).ok()?;
        let digit = written.unit.back(one)?.checked_mul(quantity.unit.factor)?;
        // A single digit would make two of one.
        let most = Decimal::from_f64(exact * MOST_CHANGE)?;
        let finer = |digit: &Decimal| digit.checked_div(Decimal::TEN);
        let mut digits = std::iter::successors(Some(digit), finer).take(3);
        return digits.find(|digit| *digit <= most).or(Some(digit));
    }
    let last = exact.log10().floor() - f64::from(UNWRITTEN - 1);
    Decimal::from_f64(10_f64.powf(last))?.round_sf(1)
}

/// What a tool reads to, in g or L.
fn division(reading: &Reading) -> Option<Decimal> {
    let base = match reading.division {
        Measure::Mass(mass) => mass.get::<gram>(),
        Measure::Volume(volume) => volume.get::<liter>(),
    };
    let exact = Decimal::from_f64(base)?.round_sf(6)?.normalize();
    (exact > Decimal::ZERO).then_some(exact)
}

/// The smallest multiple of what the tool reads that is not below the digit.
fn step(division: Decimal, digit: Decimal) -> Option<Decimal> {
    let times = digit.checked_div(division)?.ceil().max(Decimal::ONE);
    Some(division.checked_mul(times)?.normalize())
}
