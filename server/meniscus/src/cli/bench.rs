//! The amounts as they are measured at the bench: what goes on the balance, into a syringe, into a cylinder,
//! each in the order in which the steps call for it.

use plan::takes::Slot;
use plan::{Amounts, Material, Plan, show, takes};
use std::fmt::Write as _;
use syntax::{AmountKind, KeyId, ModifierKind, Verb};
use uom::si::ratio::ratio;
use uom::si::volume::milliliter;

/// How something is measured.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Way {
    Weigh,
    Syringe,
    Cylinder,
    Gas,
    Count,
    Excess,
    Open,
}

impl Way {
    const ALL: [Way; 7] = [
        Way::Weigh,
        Way::Syringe,
        Way::Cylinder,
        Way::Gas,
        Way::Count,
        Way::Excess,
        Way::Open,
    ];

    fn heading(self) -> &'static str {
        match self {
            Way::Weigh => "Weigh",
            Way::Syringe => "By syringe, cannula or pipette",
            Way::Cylinder => "By cylinder",
            Way::Gas => "Gas",
            Way::Count => "Count out",
            Way::Excess => "In excess",
            Way::Open => "Not determined",
        }
    }
}

/// A line of the list.
struct Row {
    way: Way,
    measure: String,
    key: String,
    what: String,
    /// Amount and equivalents, or portions.
    beside: String,
}

/// A column is no wider than this; what is longer sticks out.
const WIDEST: usize = 60;

/// Above this a liquid goes into a cylinder unless a step says syringe.
const BY_CYLINDER_ML: f64 = 10.0;

/// The list of a plan, as text.
pub(super) fn list(plan: &Plan) -> String {
    let mut materials: Vec<(u32, Row)> = Vec::new();
    let mut products: Vec<(u32, Row)> = Vec::new();
    for (material, amounts) in plan.materials.iter().zip(&plan.ledger.amounts) {
        let first = first_use(plan, material.id);
        if material.product {
            products.push((first, product(material, amounts)));
        } else {
            materials.push((first, row(plan, material, amounts)));
        }
    }
    materials.sort_by_key(|(line, _)| *line);
    let stocks = stocks(plan);
    let title = plan
        .title
        .as_ref()
        .map_or("Plan without a title", |title| &title.text);
    let mut out = title.to_owned();
    if let Some((line, quantity)) = plan.scale_quantity() {
        let scale = plan.slice(line, quantity.span).unwrap_or_default();
        let key = plan
            .ledger
            .scale
            .as_ref()
            .and_then(|scale| plan.material(scale.key?));
        let _ = write!(out, "\nat {scale}");
        if let Some((material, _)) = key {
            let _ = write!(out, " of {}", material.key.text);
        }
    }
    out.push('\n');
    let rows: Vec<&Row> = materials
        .iter()
        .chain(&products)
        .map(|(_, row)| row)
        .chain(&stocks)
        .collect();
    let width = |cell: fn(&Row) -> &str| {
        rows.iter()
            .map(|row| cell(row).chars().count())
            .max()
            .unwrap_or(0)
            .min(WIDEST)
    };
    let (measure, key, what) = (
        width(|row| &row.measure),
        width(|row| &row.key),
        width(|row| &row.what),
    );
    let mut section = |heading: &str, rows: &[&Row]| {
        if rows.is_empty() {
            return;
        }
        let _ = write!(out, "\n{heading}");
        for row in rows {
            let line = format!(
                "\n  {:>measure$}  {:key$}  {:what$}  {}",
                row.measure, row.key, row.what, row.beside
            );
            out.push_str(line.trim_end());
        }
        out.push('\n');
    };
    for way in Way::ALL {
        let rows: Vec<&Row> = materials
            .iter()
            .map(|(_, row)| row)
            .filter(|row| row.way == way)
            .collect();
        section(way.heading(), &rows);
    }
    let rows: Vec<&Row> = stocks.iter().collect();
    section("Make up", &rows);
    let rows: Vec<&Row> = products.iter().map(|(_, row)| row).collect();
    section("To come out", &rows);
    out
}

/// The line of the first step that takes a material.
fn first_use(plan: &Plan, id: KeyId) -> u32 {
    takes::takes(&plan.text)
        .find(|take| take.key() == Some(id))
        .map_or(u32::MAX, |take| take.line)
}

fn row(plan: &Plan, material: &Material, amounts: &Amounts) -> Row {
    let mut what = material.identity.name.to_string();
    if let Some(strength) = &material.strength_text {
        let _ = write!(what, ", {strength}");
    }
    let counted = material
        .stated
        .iter()
        .find_map(|amount| match &amount.kind {
            AmountKind::Uncounted(count, what) => Some(format!("{count} {what}")),
            _ => None,
        });
    let (way, measure) = match (counted, &amounts.mass, &amounts.volume) {
        (Some(count), ..) => (Way::Count, count),
        (_, _, Ok(volume)) => {
            let measure = show::volume(volume.value);
            if matches!(material.bottle, plan::Bottle::Gas) {
                (Way::Gas, measure)
            } else if is_kept_closed(material)
                || by_syringe(plan, material.id)
                || volume.value.get::<milliliter>() <= BY_CYLINDER_ML
            {
                (Way::Syringe, measure)
            } else {
                (Way::Cylinder, measure)
            }
        }
        (_, Ok(mass), Err(_)) => (Way::Weigh, show::mass(mass.value)),
        (_, Err(_), Err(_))
            if material
                .stated
                .iter()
                .any(|amount| amount.kind == AmountKind::Excess) =>
        {
            (Way::Excess, String::new())
        }
        (_, Err(_), Err(_)) => (Way::Open, "-".to_owned()),
    };
    let beside = match &amounts.mass {
        Err(gap) if way == Way::Open => gap.to_string(),
        mass => beside(plan, material, amounts, way, mass.is_ok()),
    };
    Row {
        way,
        measure,
        key: material.key.text.to_string(),
        what,
        beside,
    }
}

/// What the steps make up: how much of it, and what goes in before it is filled up.
fn stocks(plan: &Plan) -> Vec<Row> {
    takes::takes(&plan.text)
        .filter(|take| take.clause.verb == Verb::MakeUp && take.slot == Slot::Object)
        .filter_map(|take| {
            let (material, _) = plan.material(take.key()?)?;
            let (times, amount, _) = take.quantity()?;
            let amounts = plan.portion(material, take.line, times, amount).ok()?;
            let mass = show::mass(amounts.pure_mass.ok()?.value);
            let carrier = material.carrier.as_deref().unwrap_or("solvent");
            Some(Row {
                way: Way::Cylinder,
                measure: show::volume(amounts.volume.ok()?.value),
                key: material.key.text.to_string(),
                what: format!("{mass} of {}", material.identity.name),
                beside: format!("filled up with {carrier}"),
            })
        })
        .collect()
}

/// What else is good to know while measuring: the mass of a liquid, the amount, the portions.
fn beside(plan: &Plan, material: &Material, amounts: &Amounts, way: Way, has_mass: bool) -> String {
    let portions: Vec<String> = takes::takes(&plan.text)
        .filter(|take| take.key() == Some(material.id) && take.draws())
        .filter_map(|take| {
            let (times, amount, _) = take.quantity()?;
            let one = plan.slice(take.line, amount.span)?;
            Some(if times > 1 {
                format!("{times} × {one}")
            } else {
                one.to_owned()
            })
        })
        .collect();
    if portions.len() > 1 {
        return format!("in portions: {}", portions.join(", "));
    }
    let counted = material.stated.iter().any(|amount| {
        matches!(
            amount.kind,
            AmountKind::Equivalents | AmountKind::MolPercent | AmountKind::Amount
        )
    });
    let mut parts = Vec::new();
    if counted {
        parts.extend(
            amounts
                .amount
                .as_ref()
                .ok()
                .map(|known| show::amount(known.value)),
        );
        let eq = amounts
            .equivalents
            .as_ref()
            .ok()
            .map(|known| known.value.get::<ratio>());
        parts.extend(eq.map(|eq| format!("{} eq", show::number(eq, 3))));
    }
    if has_mass && way == Way::Syringe && !material.diluted {
        parts.extend(
            amounts
                .mass
                .as_ref()
                .ok()
                .map(|known| show::mass(known.value)),
        );
    }
    parts.join(", ")
}

/// What air or water destroys does not go into an open cylinder, whatever its volume.
fn is_kept_closed(material: &Material) -> bool {
    let substance = material.identity.substance;
    let destroyed = |by: fn(chemistry::Substance) -> chemistry::Sensitivity| {
        substance.is_some_and(|substance| by(substance) == chemistry::Sensitivity::Destroyed)
    };
    let says = |nature| material.stated_nature(nature) == Some(true);
    destroyed(chemistry::Substance::destroyed_by_water)
        || destroyed(chemistry::Substance::destroyed_by_oxygen)
        || says(syntax::Nature::MoistureSensitive)
        || says(syntax::Nature::AirSensitive)
        || says(syntax::Nature::Pyrophoric)
}

/// Whether a step takes it through a syringe.
fn by_syringe(plan: &Plan, id: KeyId) -> bool {
    takes::takes(&plan.text).any(|take| {
        take.key() == Some(id)
            && take
                .clause
                .modifiers
                .iter()
                .any(|modifier| match &modifier.kind {
                    ModifierKind::Via(things) => things
                        .iter()
                        .any(|thing| thing.name.text.contains("syringe")),
                    _ => false,
                })
    })
}

fn product(material: &Material, amounts: &Amounts) -> Row {
    let theory = amounts
        .pure_mass
        .as_ref()
        .map(|known| show::mass(known.value));
    let (measure, beside) = match (&amounts.expected, theory) {
        (Some((Ok(expected), _)), Ok(theory)) => {
            let part = material
                .expected_yield
                .as_ref()
                .map_or(0.0, |part| part.value.get::<ratio>() * 100.0);
            (
                show::mass(expected.value),
                format!("{} % of {theory}", show::number(part, 2)),
            )
        }
        (_, Ok(theory)) => (theory, "in theory".to_owned()),
        (_, Err(gap)) => ("-".to_owned(), gap.to_string()),
    };
    Row {
        way: Way::Weigh,
        measure,
        key: material.key.text.to_string(),
        what: material.identity.name.to_string(),
        beside,
    }
}
