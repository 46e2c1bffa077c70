//! What was really taken and obtained, beside what was planned.

use plan::actuals::{Line, Record};
use plan::{Amounts, Determined, Plan};
use serde::Serialize;
use std::fmt::Write as _;
use uom::si::amount_of_substance::millimole;
use uom::si::mass::milligram;
use uom::si::ratio::{percent, ratio};
use uom::si::volume::milliliter;

/// The run as a section of the list of amounts; nothing where the plan does not say how it went.
pub(super) fn section(plan: &Plan) -> String {
    let Some(record) = plan.record() else {
        return String::new();
    };
    let said = |index: usize| Some((plan.materials.get(index)?, record.words(plan, index)?));
    let rows: Vec<_> = (0..plan.materials.len()).filter_map(said).collect();
    let keys = rows
        .iter()
        .map(|(material, _)| material.key.text.chars().count());
    let wide = keys.max().unwrap_or(0);
    let mut out = String::from("\nAs it was done\n");
    for (material, words) in &rows {
        let _ = writeln!(out, "  {:wide$}  {words}", &*material.key.text);
    }
    if let Some((first, _)) = record
        .limiting
        .as_ref()
        .and_then(|first| plan.material(first.key))
    {
        let _ = writeln!(out, "  {} ran out first", first.key.text);
    }
    out
}

/// What was taken of a material, and what follows.
#[derive(Serialize)]
pub(super) struct Taken {
    pub(super) mass_mg: Option<f64>,
    #[serde(rename = "volume_mL")]
    volume_ml: Option<f64>,
    pub(super) amount_mmol: Option<f64>,
    pub(super) equivalents: Option<f64>,
    pub(super) deviation_percent: Option<f64>,
}

/// What was obtained of a product, of what the materials that were taken could give.
#[derive(Serialize)]
pub(super) struct Yield {
    theory_mass_mg: Option<f64>,
    pub(super) obtained_mass_mg: Option<f64>,
    pub(super) yield_percent: Option<f64>,
}

fn value<Q: Copy>(known: &Determined<Q>, number: impl Fn(Q) -> f64) -> Option<f64> {
    let number = number(known.as_ref().ok()?.value);
    number.is_finite().then_some(number)
}

fn line(record: Option<&Record>, index: usize) -> Option<&Line> {
    record?.lines.get(index)
}

pub(super) fn taken(record: Option<&Record>, index: usize) -> Option<Taken> {
    let line = line(record, index).filter(|line| line.taken)?;
    let Amounts {
        mass,
        volume,
        amount,
        equivalents,
        ..
    } = &line.amounts;
    Some(Taken {
        mass_mg: value(mass, |mass| mass.get::<milligram>()),
        volume_ml: value(volume, |volume| volume.get::<milliliter>()),
        amount_mmol: value(amount, |amount| amount.get::<millimole>()),
        equivalents: value(equivalents, |equivalents| equivalents.get::<ratio>()),
        deviation_percent: line.deviation.map(|more| more.get::<percent>()),
    })
}

pub(super) fn obtained(record: Option<&Record>, index: usize) -> Option<Yield> {
    let line = line(record, index)?;
    let obtained = line.obtained.as_ref()?;
    Some(Yield {
        theory_mass_mg: value(&line.amounts.pure_mass, |mass| mass.get::<milligram>()),
        obtained_mass_mg: value(&obtained.amounts.mass, |mass| mass.get::<milligram>()),
        yield_percent: value(&obtained.part, |part| part.get::<percent>()),
    })
}
