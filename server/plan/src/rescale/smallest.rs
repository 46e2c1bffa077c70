//! The smallest scale that can be measured.

use crate::ledger::Amounts;
use crate::material::{Basis, Material};
use crate::measuring::Way;
use crate::{Known, Plan};
use uom::si::ratio::ratio;

/// How finely the scale is searched; a percent is less than any tool tells.
const STEP: f64 = 0.99;
/// A hundred-thousandth of the plan; nobody scales down further.
const LEAST: f64 = 1e-5;

/// The smallest factor at which every amount is measured to this share, what sets it, and what was left out.
pub(super) struct Smallest {
    pub(super) factor: f64,
    pub(super) limit: String,
    pub(super) notes: Vec<String>,
}

/// # Errors
/// The amount that is too small already, or that there is nothing to measure.
pub(super) fn smallest(plan: &Plan, error: f64) -> Result<Smallest, String> {
    let mut notes = Vec::new();
    let mut counted: Vec<(&Material, Amounts)> = Vec::new();
    for (material, amounts) in plan.materials.iter().zip(&plan.ledger.amounts) {
        let way = plan.way(material, amounts);
        if !plan.is_measured_closely(material, amounts) || !matches!(way, Way::Weigh | Way::Syringe)
        {
            continue;
        }
        let amounts = plan
            .smallest_portion(material)
            .unwrap_or_else(|| amounts.clone());
        if plan.reading(material, &amounts).is_some() {
            counted.push((material, amounts));
        } else {
            let key = &material.key.text;
            notes.push(format!(
                "no tool measures {key} with a known error: it is left out"
            ));
        }
    }
    if counted.is_empty() {
        return Err("the plan has no amount whose measuring has a known error".to_owned());
    }
    let mut factor = 1.0;
    let mut limit = None;
    while factor > LEAST {
        let worst = counted
            .iter()
            .filter_map(|(material, amounts)| {
                let measured = at(plan, material, amounts, factor)?;
                // 5 % as f64 is a hair more or less than 5 %.
                (measured > error * (1.0 + 1e-9)).then_some((*material, measured))
            })
            .next();
        if let Some((material, measured)) = worst {
            limit = Some((material, measured));
            break;
        }
        factor *= STEP;
    }
    let percent = |share: f64| crate::show::number(share * 100.0, 2);
    let Some((material, measured)) = limit else {
        return Err("everything can be measured at any scale: name a smaller error".to_owned());
    };
    let key = &material.key.text;
    if factor >= 1.0 {
        if measured.is_infinite() {
            return Err(format!(
                "no tool measures {key} with a known error at this scale already: name better tools in meniscus.toml"
            ));
        }
        return Err(format!(
            "{key} is measured to {} % already at this scale: name a larger error, or name better tools in meniscus.toml",
            percent(measured)
        ));
    }
    notes.extend(smaller_runs(plan));
    Ok(Smallest {
        factor: factor / STEP,
        limit: match measured.is_infinite() {
            true => {
                format!("{key} sets the limit: below this no tool measures it with a known error")
            }
            false => format!(
                "{key} sets the limit: below this it is measured to more than {} %",
                percent(error)
            ),
        },
        notes,
    })
}

/// The limit is that of the plan's own amounts, and a run below it is measured less closely.
fn smaller_runs(plan: &Plan) -> Option<String> {
    let scale = |plan: &Plan| {
        let amount = plan.ledger.scale.as_ref()?.amount.as_ref();
        Some(amount.ok()?.value)
    };
    let own = scale(plan)?;
    let runs = plan.runs().into_iter().filter_map(|run| {
        let text = run.text.ok()?.text;
        let is_smaller = scale(&crate::runs::read(plan, &text))? < own * (1.0 - 1e-9);
        is_smaller.then(|| run.label.text.to_string())
    });
    let labels: Vec<String> = runs.collect();
    (!labels.is_empty()).then(|| {
        format!(
            "the limit is that of the plan's own scale: smaller runs ({}) are measured less closely",
            labels.join(", ")
        )
    })
}

/// The greatest error of the best tool at another scale, over what is measured. What no tool measures there is off by
/// nobody knows how much.
fn at(plan: &Plan, material: &Material, amounts: &Amounts, factor: f64) -> Option<f64> {
    let amount = amounts.amount.as_ref().ok()?;
    let scaled = Known::new(
        amount.value * factor,
        amount.half_width * factor,
        amount.origin.clone(),
    );
    let amounts = plan.amounts_from(material, Basis::Amount(scaled));
    let reading = plan.reading(material, &amounts);
    Some(reading.map_or(f64::INFINITY, |reading| {
        reading.greatest_error.get::<ratio>()
    }))
}
