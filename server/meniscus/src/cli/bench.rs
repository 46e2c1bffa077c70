//! The amounts as they are measured at the bench: what goes on the balance, into a syringe, into a cylinder,
//! each in the order in which the steps call for it.

use plan::measuring::Way;
use plan::takes::{Slot, Take};
use plan::{Amounts, Material, Plan, show, takes};
use std::fmt::Write as _;
use syntax::{AmountKind, KeyId, PortionKind, Verb};
use uom::si::ratio::ratio;

/// The sections of the list, in their order.
const SECTIONS: [(Way, &str); 8] = [
    (Way::Weigh, "Weigh"),
    (Way::Syringe, "By syringe, cannula or pipette"),
    (Way::Cylinder, "By cylinder"),
    (Way::Condense, "Condense from the gas, up to a mark"),
    (Way::Gas, "Gas"),
    (Way::Count, "Count out"),
    (Way::Excess, "In excess"),
    (Way::Open, "Not determined"),
];

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
    for (way, heading) in SECTIONS {
        let rows: Vec<&Row> = materials
            .iter()
            .map(|(_, row)| row)
            .filter(|row| row.way == way)
            .collect();
        section(heading, &rows);
    }
    let rows: Vec<&Row> = stocks.iter().collect();
    section("Make up", &rows);
    let rows: Vec<&Row> = products.iter().map(|(_, row)| row).collect();
    section("To come out", &rows);
    out + &super::record::section(plan)
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
    let way = plan.way(material, amounts);
    let measure = match (way, &amounts.mass, &amounts.volume) {
        (Way::Count, ..) => counted.unwrap_or_default(),
        (Way::Excess, ..) => String::new(),
        (Way::Weigh, Ok(mass), _) => show::mass(mass.value),
        (_, _, Ok(volume)) => show::volume(volume.value),
        _ => "-".to_owned(),
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
    let drawn = || plan.takes_of(material.id).filter(Take::draws);
    let left = |take: &Take<'_>| {
        let rest = plan.left_for(material, take)?;
        let size = match (way, rest.mass, rest.volume) {
            (Way::Weigh, Ok(mass), _) => show::mass(mass.value),
            (_, _, Ok(volume)) => show::volume(volume.value),
            _ => return None,
        };
        let shares = take.thing.portions.iter();
        let mut shares = shares.map(|portion| &portion.kind);
        Some(
            match shares.any(|kind| matches!(kind, PortionKind::Fraction(..))) {
                true => size,
                false => format!("{size} (the rest)"),
            },
        )
    };
    let portions: Vec<String> = drawn()
        .filter_map(|take| {
            let Some((times, amount, _)) = take.quantity() else {
                return left(&take);
            };
            let one = plan.slice(take.line, amount.span)?;
            Some(if times > 1 {
                format!("{times} × {one}")
            } else {
                one.to_owned()
            })
        })
        .filter(|_| drawn().any(|take| take.quantity().is_some()))
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
