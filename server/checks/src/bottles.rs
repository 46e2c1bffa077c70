//! What the checks of the inventory share: the bottles that lines name, and those that they could name.

use crate::{Finding, edit};
use plan::inventory::{self, Agreement, Bottle};
use plan::{Amounts, At, Material, NamedBottle, Plan, convert, show};
use std::sync::Arc;
use syntax::{Bound, Dimension, Entry, Statement};

/// A line that names a bottle of the inventory.
pub(crate) struct Use<'a> {
    pub(crate) material: &'a Material,
    pub(crate) amounts: &'a Amounts,
    pub(crate) named: &'a NamedBottle,
    pub(crate) bottle: &'a Arc<Bottle>,
}

/// Every such line.
pub(crate) fn uses(plan: &Plan) -> impl Iterator<Item = Use<'_>> {
    let lines = plan.materials.iter().zip(&plan.ledger.amounts);
    lines.filter_map(|(material, amounts)| {
        let named = material.named.as_ref()?;
        let bottle = named.bottle()?;
        Some(Use {
            material,
            amounts,
            named,
            bottle,
        })
    })
}

/// The line as it was read.
pub(crate) fn entry<'a>(plan: &'a Plan, material: &Material) -> Option<&'a Entry> {
    match &plan.text.lines.get(material.line as usize)?.statement {
        Statement::Entry(entry) => Some(entry),
        _ => None,
    }
}

/// Where the name of the bottle stands, without the word before it.
pub(crate) fn name_at(named: &NamedBottle) -> At {
    convert::at(named.at.line, named.name.span)
}

/// So many bottles are a choice; more are a list that nobody reads.
const MOST: usize = 6;

/// The first few bottles of the line's substance that have not expired, are not known to hold too little, and whose strength
/// does not contradict the line.
pub(crate) fn fitting<'a>(
    plan: &'a Plan,
    material: &Material,
    amounts: &Amounts,
) -> Vec<(&'a Arc<Bottle>, Agreement)> {
    let Some(entry) = entry(plan, material) else {
        return Vec::new();
    };
    let bottles = plan.context.inventory.iter().flat_map(|all| &all.bottles);
    bottles
        .filter(|bottle| {
            inventory::same_substance(&material.identity, &bottle.material.identity) == Some(true)
                && !bottle.has_expired(plan.context.today)
                && missing(amounts, bottle).is_none()
        })
        .map(|bottle| (bottle, inventory::compare(entry, &bottle.entry)))
        .filter(|(_, agreement)| *agreement != Agreement::Differ)
        .take(MOST)
        .collect()
}

/// With a fix for every other bottle that would do.
pub(crate) fn with_others(plan: &Plan, found: &Use<'_>, finding: Finding) -> Finding {
    let others = fitting(plan, found.material, found.amounts);
    let others = others.into_iter().filter(|(other, agreement)| {
        other.name != found.bottle.name && *agreement == Agreement::Same
    });
    others.fold(finding, |finding, (other, _)| {
        let edit = edit::replace(plan, name_at(found.named), &*other.name);
        finding.fix(format!("Take {}", label(other)), vec![edit])
    })
}

/// A bottle's name with where it stands and what is left.
pub(crate) fn label(bottle: &Bottle) -> String {
    let left = bottle
        .left
        .as_ref()
        .map(|left| format!("{} left", inventory::written(left)));
    let place = bottle.place.as_deref().map(str::to_owned);
    let more: Vec<String> = place.into_iter().chain(left).collect();
    if more.is_empty() {
        bottle.name.to_string()
    } else {
        format!("{} ({})", bottle.name, more.join(", "))
    }
}

/// An amount as the inventory measures what is left of it: litres or grams.
#[derive(Clone, Copy)]
pub(crate) struct Taken {
    pub(crate) value: f64,
    pub(crate) half_width: f64,
}

/// What of these amounts leaves a bottle whose rest is measured so.
pub(crate) fn taken(amounts: &Amounts, dimension: Dimension) -> Option<Taken> {
    use chemistry::quantity::{mass::gram, volume::liter};
    match dimension {
        Dimension::Volume => amounts.volume.as_ref().ok().map(|known| Taken {
            value: known.value.get::<liter>(),
            half_width: known.half_width.get::<liter>(),
        }),
        Dimension::Mass => amounts.mass.as_ref().ok().map(|known| Taken {
            value: known.value.get::<gram>(),
            half_width: known.half_width.get::<gram>(),
        }),
        _ => None,
    }
}

/// Litres or grams in words.
pub(crate) fn shown(value: f64, dimension: Dimension) -> String {
    use chemistry::quantity::{Mass, Volume, mass::gram, volume::liter};
    match dimension {
        Dimension::Volume => show::volume(Volume::new::<liter>(value)),
        _ => show::mass(Mass::new::<gram>(value)),
    }
}

/// What is left, at most.
pub(crate) fn at_most(bottle: &Bottle) -> Option<(f64, Dimension)> {
    use chemistry::quantity::{mass::gram, volume::liter};
    let left = bottle.left.as_ref()?;
    if left.bound == Bound::AtLeast {
        return None;
    }
    let most = match left.unit.dimension {
        Dimension::Volume => {
            let known = convert::volume(left, 0)?;
            (known.value + known.half_width).get::<liter>()
        }
        Dimension::Mass => {
            let known = convert::mass(left, 0)?;
            (known.value + known.half_width).get::<gram>()
        }
        _ => return None,
    };
    Some((most, left.unit.dimension))
}

/// What is taken, where that is more than is left for certain.
pub(crate) fn missing(amounts: &Amounts, bottle: &Bottle) -> Option<f64> {
    let (most, dimension) = at_most(bottle)?;
    let taken = taken(amounts, dimension)?;
    (taken.value - taken.half_width > most * 1.000_001).then_some(taken.value)
}
