//! What is taken, in the order in which the steps take it: one line for every time that somebody measures.

use crate::bench::is_in_water;
use crate::fitting::{self, Handling};
use plan::measuring::{self, Way};
use plan::takes::{Slot, Take};
use plan::tools::{Measure, Reading};
use plan::vessel::{Gas, VesselState};
use plan::{Amounts, At, Bottle, Material, Plan, convert, show, takes};
use std::sync::Arc;
use syntax::{Amount, AmountKind, Dimension, Referent, Verb};
use uom::si::f64::{Mass, Volume};
use uom::si::mass::{gram, kilogram, microgram, milligram};
use uom::si::ratio::ratio;
use uom::si::volume::{liter, microliter, milliliter};

/// Something to measure.
#[derive(Debug)]
pub(crate) struct Draw {
    /// The line of the step that takes it; none for what no step takes.
    pub(crate) line: Option<u32>,
    /// Where the step names it.
    pub(crate) at: Option<At>,
    /// The volume of one time, if it is measured by volume.
    pub(crate) volume: Option<Volume>,
    /// How often.
    pub(crate) times: u32,
    /// `2.30 mL`, or a word where nothing is measured.
    pub(crate) take: String,
    /// The key or the name.
    pub(crate) key: String,
    /// Name and strength.
    pub(crate) what: String,
    /// Amount, equivalents, how the portion is written.
    pub(crate) beside: Vec<String>,
    pub(crate) tool: Option<Tool>,
    /// Why there is no amount.
    pub(crate) gap: Option<String>,
    /// Whether the step itself states this very amount.
    pub(crate) stated: bool,
    pub(crate) way: Way,
    pub(crate) handling: Handling,
    /// Whether a few percent matter.
    pub(crate) close: bool,
    /// What was really taken at this one time, as it is written.
    pub(crate) taken: Option<String>,
    /// What that comes to, against what was planned.
    pub(crate) run: Option<String>,
}

/// What it is measured with.
#[derive(Debug)]
pub(crate) struct Tool {
    /// `5 mL glass syringe, filled twice`
    pub(crate) name: String,
    /// `0.1 mL`; none of a balance, whose name says it.
    pub(crate) reads: Option<String>,
    /// `0.05 mL`, where it is known.
    pub(crate) error: Option<String>,
    pub(crate) assumed: bool,
}

/// A mass or a volume that somebody measures.
#[derive(Clone, Copy)]
enum Measured {
    Mass(Mass),
    Volume(Volume),
}

impl Measured {
    fn volume(self) -> Option<Volume> {
        match self {
            Measured::Volume(volume) => Some(volume),
            Measured::Mass(_) => None,
        }
    }
}

/// Everything that is measured, the first first.
pub(crate) fn draws(plan: &Plan) -> Vec<Draw> {
    let all: Vec<Take<'_>> = takes::takes(&plan.text).collect();
    let mut draws: Vec<Draw> = Vec::new();
    for take in &all {
        match take.key() {
            Some(key) => {
                let Some((material, amounts)) = plan.material(key) else {
                    continue;
                };
                if take.clause.verb == Verb::MakeUp && take.slot == Slot::Object {
                    draws.extend(stock(plan, take, material, amounts));
                    continue;
                }
                if material.product || !take.draws() {
                    continue;
                }
                let earlier = || {
                    let drawn = |t: &&Take<'_>| t.key() == Some(key) && t.draws();
                    all.iter().filter(drawn).take_while(|t| t.at() != take.at())
                };
                if take.quantity().is_some() {
                    draws.push(portion(plan, take, material));
                } else if let Some(draw) = share(plan, take, material, amounts) {
                    draws.push(draw);
                } else if takes::fills_up_to(take.clause).is_some() {
                    let mut draw = rest(plan, take, material);
                    draw.at = Some(take.at());
                    draws.push(draw);
                } else if earlier()
                    .all(|t| t.quantity().is_some() || takes::fills_up_to(t.clause).is_some())
                {
                    // What has no quantity is measured once, when it is first taken of.
                    let others = || {
                        let drawn = |t: &&Take<'_>| t.key() == Some(key) && t.draws();
                        all.iter().filter(drawn).filter(|t| t.at() != take.at())
                    };
                    let mut draw = if others()
                        .all(|t| t.quantity().is_none() && takes::fills_up_to(t.clause).is_none())
                    {
                        whole(plan, Some(take.line), material, amounts)
                    } else {
                        rest(plan, take, material)
                    };
                    draw.at = Some(take.at());
                    draws.push(draw);
                }
            }
            None if take.draws() => draws.extend(named(plan, take)),
            None => {}
        }
    }
    for (material, amounts) in plan.materials.iter().zip(&plan.ledger.amounts) {
        let taken = all
            .iter()
            .any(|take| take.key() == Some(material.id) && take.draws());
        let made_up = all
            .iter()
            .any(|take| take.key() == Some(material.id) && take.clause.verb == Verb::MakeUp);
        if material.product || taken || made_up {
            continue;
        }
        let line = atmosphere(plan, material);
        let later = |draw: &Draw| draw.line > line;
        let at = draws.iter().position(|draw| line.is_some() && later(draw));
        let at = at.unwrap_or(draws.len());
        draws.insert(at, whole(plan, line, material, amounts));
    }
    fitting::fit(plan, &mut draws);
    note_what_was_taken(plan, &mut draws);
    draws
}

/// The line of the step that fills a vessel with a gas, by its name and not by its key.
fn atmosphere(plan: &Plan, material: &Material) -> Option<u32> {
    let substance = material.identity.substance?;
    let is_it = |state: &Arc<VesselState>| match &state.gas {
        Gas::Filled { gas, .. } => chemistry::find_name(gas).one() == Some(substance),
        _ => false,
    };
    let mut moments = plan.moments.iter();
    let fills = moments.find(|moment| moment.after.iter().any(is_it))?;
    matches!(material.bottle, Bottle::Gas).then_some(fills.line)
}

/// Writes into the boxes what the plan says was taken: at each time its own, where it says one for every time.
fn note_what_was_taken(plan: &Plan, draws: &mut [Draw]) {
    let Some(run) = plan.record() else {
        return;
    };
    for (index, material) in plan.materials.iter().enumerate() {
        let written = material.took.iter();
        let written = written.filter_map(|quantity| plan.slice(material.line, quantity.span));
        let written: Vec<&str> = written.collect();
        let of_line = |draw: &&mut Draw| *draw.key == *material.key.text && draw.times == 1;
        let mut own: Vec<&mut Draw> = draws.iter_mut().filter(of_line).collect();
        if own.len() == written.len() {
            for (draw, written) in own.iter_mut().zip(&written) {
                draw.taken = Some((*written).to_owned());
            }
        }
        let several = own.len() > 1;
        if let (Some(first), Some(words)) = (own.first_mut(), run.words(plan, index)) {
            first.run = Some(if several {
                format!("in all {words}")
            } else {
                words
            });
        }
    }
}

fn what(material: &Material) -> String {
    match &material.strength_text {
        Some(strength) => format!("{}, {strength}", material.identity.name),
        None => material.identity.name.to_string(),
    }
}

/// Ice has the volume of water and is weighed all the same, by no balance that matters.
fn way_of(plan: &Plan, material: &Material, amounts: &Amounts) -> Way {
    match plan.way(material, amounts) {
        Way::Syringe | Way::Cylinder
            if fitting::is_ice(&material.identity.name) && amounts.mass.is_ok() =>
        {
            Way::Weigh
        }
        way => way,
    }
}

fn measured(way: Way, amounts: &Amounts) -> Option<Measured> {
    match (way, &amounts.mass, &amounts.volume) {
        (Way::Weigh, Ok(mass), _) => Some(Measured::Mass(mass.value)),
        (Way::Syringe | Way::Cylinder | Way::Gas | Way::Condense, _, Ok(volume)) => {
            Some(Measured::Volume(volume.value))
        }
        _ => None,
    }
}

fn text(measured: Measured) -> String {
    match measured {
        Measured::Mass(mass) => show::mass(mass),
        Measured::Volume(volume) => show::volume(volume),
    }
}

/// All of a line, measured at once.
fn whole(plan: &Plan, line: Option<u32>, material: &Material, amounts: &Amounts) -> Draw {
    let way = way_of(plan, material, amounts);
    let counted = material
        .stated
        .iter()
        .find_map(|stated| match &stated.kind {
            AmountKind::Uncounted(count, what) => Some(format!("{count} {what}")),
            _ => None,
        });
    let value = measured(way, amounts);
    let (take, gap) = match (way, value, &amounts.mass) {
        (Way::Count, ..) => (counted.unwrap_or_default(), None),
        (Way::Excess, ..) => ("in excess".to_owned(), None),
        (_, Some(value), _) => (text(value), None),
        (_, None, Err(gap)) => ("not known".to_owned(), Some(gap.to_string())),
        (_, None, Ok(_)) => ("not known".to_owned(), None),
    };
    let mut beside = amount_and_equivalents(material, amounts);
    if let (Way::Syringe, Ok(mass), false) = (way, &amounts.mass, material.diluted) {
        beside.push(show::mass(mass.value));
    }
    if line.is_none() {
        beside.push("no step takes it".to_owned());
    }
    let reading = plan.reading(material, amounts);
    let reading = reading.filter(|_| way == plan.way(material, amounts));
    Draw {
        line,
        at: None,
        volume: value.and_then(Measured::volume),
        times: 1,
        handling: Handling::of(plan, material),
        close: plan.is_measured_closely(material, amounts),
        tool: value
            .zip(reading)
            .map(|(value, reading)| tool(value, &reading, &take)),
        take,
        key: material.key.text.to_string(),
        what: what(material),
        beside,
        gap,
        stated: false,
        way,
        taken: None,
        run: None,
    }
}

/// The part of a line that a step takes by words: `two thirds of hbr`, and later `rest of hbr`.
fn share(plan: &Plan, take: &Take<'_>, material: &Material, of_line: &Amounts) -> Option<Draw> {
    let takes = || plan.takes_of(material.id).filter(Take::draws);
    if takes().count() < 2 || takes().any(|take| take.quantity().is_some()) {
        return None;
    }
    let amounts = plan.left_for(material, take)?;
    let size = |amounts: &Amounts| match (&amounts.volume, &amounts.mass) {
        (Ok(volume), _) if material.measured_by_volume() => Some(volume.value.value),
        (_, Ok(mass)) => Some(mass.value.value),
        _ => None,
    };
    let part = size(&amounts)? / size(of_line)?;
    if part > 1.0 - SAME {
        return None;
    }
    let mut draw = whole(plan, Some(take.line), material, &amounts);
    draw.at = Some(take.at());
    let all = whole(plan, None, material, of_line).take;
    draw.beside.push(format!("of {all} in all"));
    Some(draw)
}

/// Parts that differ by less than this are the same.
const SAME: f64 = 1e-6;

/// What other steps, which state what they take, leave of a line, or what fills up to a volume.
fn rest(plan: &Plan, take: &Take<'_>, material: &Material) -> Draw {
    let mut draw = match plan.left_for(material, take) {
        Some(amounts) => whole(plan, Some(take.line), material, &amounts),
        None => nothing(plan, take, material),
    };
    let up_to = takes::fills_up_to(take.clause);
    let up_to = up_to.and_then(|volume| plan.slice(take.line, volume.span));
    draw.beside.push(match up_to {
        Some(volume) => format!("up to {volume}"),
        None => "the rest".to_owned(),
    });
    draw
}

/// Where the line counts in moles: what that is.
fn amount_and_equivalents(material: &Material, amounts: &Amounts) -> Vec<String> {
    let counts = material.stated.iter().any(|stated| {
        matches!(
            stated.kind,
            AmountKind::Equivalents | AmountKind::MolPercent | AmountKind::Amount
        )
    });
    if !counts {
        return Vec::new();
    }
    let amount = amounts
        .amount
        .as_ref()
        .map(|known| show::amount(known.value));
    let equivalents = amounts.equivalents.as_ref();
    let equivalents = equivalents.map(|known| show::equivalents(known.value));
    amount.into_iter().chain(equivalents).collect()
}

/// What a step takes, before it is known how much.
fn nothing(plan: &Plan, take: &Take<'_>, material: &Material) -> Draw {
    Draw {
        line: Some(take.line),
        at: Some(take.at()),
        volume: None,
        times: 1,
        take: "not known".to_owned(),
        key: material.key.text.to_string(),
        what: what(material),
        beside: Vec::new(),
        tool: None,
        gap: None,
        stated: false,
        way: Way::Open,
        handling: Handling::of(plan, material),
        close: false,
        taken: None,
        run: None,
    }
}

/// A portion that a step states.
fn portion(plan: &Plan, take: &Take<'_>, material: &Material) -> Draw {
    let mut draw = nothing(plan, take, material);
    let Some((times, amount, _)) = take.quantity() else {
        return draw;
    };
    draw.times = times;
    let written = plan.slice(take.line, amount.span).unwrap_or_default();
    let amounts = match plan.portion(material, take.line, 1, amount) {
        Ok(amounts) => amounts,
        Err(gap) => {
            written.clone_into(&mut draw.take);
            draw.gap = Some(gap.to_string());
            return draw;
        }
    };
    draw.way = way_of(plan, material, &amounts);
    draw.close = plan.is_measured_closely(material, &amounts);
    let Some(value) = measured(draw.way, &amounts) else {
        written.clone_into(&mut draw.take);
        return draw;
    };
    draw.volume = value.volume();
    draw.stated = states(amount, value);
    draw.take = if draw.stated {
        written.to_owned()
    } else {
        draw.beside.push(written.to_owned());
        text(value)
    };
    let reading = plan.reading(material, &amounts);
    let reading = reading.filter(|_| draw.way == plan.way(material, &amounts));
    draw.tool = reading.map(|reading| tool(value, &reading, &draw.take));
    draw
}

/// Whether the words of an amount are of what is measured.
fn states(amount: &Amount, value: Measured) -> bool {
    let dimension = amount
        .quantity
        .as_ref()
        .map(|quantity| quantity.unit.dimension);
    match value {
        Measured::Mass(_) => dimension == Some(Dimension::Mass),
        Measured::Volume(_) => dimension == Some(Dimension::Volume),
    }
}

/// A substance that a step names and the materials do not list.
fn named(plan: &Plan, take: &Take<'_>) -> Option<Draw> {
    if !matches!(
        take.thing.referent,
        Referent::Substance(_) | Referent::Mixture(_)
    ) {
        return None;
    }
    let (times, amount, _) = take.quantity()?;
    let quantity = amount.quantity.as_ref()?;
    let written = plan.slice(take.line, amount.span)?.to_owned();
    let stated = convert::mass(quantity, take.line).map(|mass| Measured::Mass(mass.value));
    let stated = stated.or_else(|| {
        let volume = convert::volume(quantity, take.line)?;
        Some(Measured::Volume(volume.value))
    });
    let value = stated.or_else(|| relative(plan, take, amount))?;
    let in_water = match &take.thing.referent {
        Referent::Substance(strength) => strength.as_deref().is_some_and(is_in_water),
        _ => false,
    };
    let handling = Handling::named(&take.thing.name.text, in_water);
    let tools = &plan.context.settings.tools;
    let (reading, way) = match value {
        Measured::Mass(mass) => {
            // Nobody weighs silica or a drying agent closely.
            let about = matches!(take.slot, Slot::On | Slot::Over | Slot::Through)
                || measuring::is_aid(&take.thing.name.text)
                || fitting::is_ice(&take.thing.name.text);
            (tools.weigh(mass).filter(|_| !about), Way::Weigh)
        }
        Measured::Volume(volume) => {
            let much = volume.get::<milliliter>() >= measuring::WATER_BY_CYLINDER_ML;
            let poured = much && matches!(handling, Handling::Aqueous | Handling::Open);
            let cylinder = poured.then(|| tools.pour(volume)).flatten();
            let reading = cylinder.or_else(|| tools.measure(volume, Way::Cylinder, false));
            (reading, Way::Cylinder)
        }
    };
    let (words, beside) = match stated {
        Some(_) => (written, Vec::new()),
        None => (text(value), vec![written]),
    };
    Some(Draw {
        line: Some(take.line),
        at: Some(take.at()),
        volume: value.volume(),
        times,
        tool: reading.map(|reading| tool(value, &reading, &words)),
        take: words,
        beside,
        key: name(plan, take),
        what: String::new(),
        gap: None,
        stated: stated.is_some(),
        way,
        handling,
        close: false,
        taken: None,
        run: None,
    })
}

/// `1.0 mL/g of lah`: how much that is does not depend on whose it is, so that any line serves to reckon it.
fn relative(plan: &Plan, take: &Take<'_>, amount: &Amount) -> Option<Measured> {
    let amounts = plan
        .portion(plan.materials.first()?, take.line, 1, amount)
        .ok()?;
    match amount.quantity.as_ref()?.unit.dimension {
        Dimension::VolumePerMass | Dimension::VolumePerAmount | Dimension::VolumePerVolume => {
            Some(Measured::Volume(amounts.volume.ok()?.value))
        }
        Dimension::MassPerMass | Dimension::MassPerAmount => {
            Some(Measured::Mass(amounts.mass.ok()?.value))
        }
        _ => None,
    }
}

/// The words of a thing, its strength included.
fn name(plan: &Plan, take: &Take<'_>) -> String {
    let name = &take.thing.name;
    let Referent::Substance(Some(strength)) = &take.thing.referent else {
        return name.text.to_string();
    };
    let strength = plan.slice(take.line, strength.span).unwrap_or_default();
    if name.text.contains(strength) {
        return name.text.to_string();
    }
    format!("{strength} {}", name.text)
}

/// A solution that a step makes up: what goes in before it is filled up.
fn stock(plan: &Plan, take: &Take<'_>, material: &Material, of_line: &Amounts) -> Option<Draw> {
    let (times, amount, _) = take.quantity()?;
    let amounts = plan.portion(material, take.line, times, amount).ok()?;
    let mass = amounts.pure_mass.ok()?.value;
    let volume = show::volume(amounts.volume.ok()?.value);
    let carrier = material.carrier.as_deref().unwrap_or("solvent");
    let reading = plan.context.settings.tools.weigh(mass);
    let words = show::mass(mass);
    let mut beside = vec![format!("filled up to {volume} with {carrier}")];
    if let Ok(needed) = &of_line.volume {
        beside.push(format!("{} of it goes in", show::volume(needed.value)));
    }
    Some(Draw {
        line: Some(take.line),
        at: Some(take.at()),
        volume: None,
        times: 1,
        tool: reading.map(|reading| tool(Measured::Mass(mass), &reading, &words)),
        take: words,
        key: material.key.text.to_string(),
        what: material.identity.name.to_string(),
        beside,
        gap: None,
        stated: false,
        way: Way::Weigh,
        handling: Handling::of(plan, material),
        close: true,
        taken: None,
        run: None,
    })
}

fn tool(value: Measured, reading: &Reading, shown: &str) -> Tool {
    let error = reading.greatest_error.get::<ratio>();
    if let Measured::Mass(mass) = value
        && let Some((name, error)) = fitting::coarse_balance(mass, reading.assumed)
    {
        return Tool {
            name,
            reads: None,
            error: Some(format!("{} g", show::number(error.get::<gram>(), 1))),
            assumed: true,
        };
    }
    let unit = shown.rsplit(' ').next().unwrap_or_default();
    let in_unit = |value: Measured| match value {
        Measured::Mass(mass) => match unit {
            "kg" => mass.get::<kilogram>(),
            "g" => mass.get::<gram>(),
            "µg" => mass.get::<microgram>(),
            _ => mass.get::<milligram>(),
        },
        Measured::Volume(volume) => match unit {
            "L" => volume.get::<liter>(),
            "µL" => volume.get::<microliter>(),
            _ => volume.get::<milliliter>(),
        },
    };
    let shown_unit = match (value, unit) {
        (_, "kg" | "g" | "mg" | "µg" | "L" | "mL" | "µL") => unit,
        (Measured::Mass(_), _) => "mg",
        (Measured::Volume(_), _) => "mL",
    };
    let reads = match reading.division {
        Measure::Mass(_) => None,
        Measure::Volume(volume) => {
            let marks = in_unit(Measured::Volume(volume));
            Some(format!("{} {shown_unit}", show::shortest(marks)))
        }
    };
    let name = match reading.strokes {
        1 => reading.tool.to_string(),
        2 => format!("{}, filled twice", reading.tool),
        strokes => format!("{}, filled {strokes} times", reading.tool),
    };
    Tool {
        name,
        reads,
        error: Some(format!(
            "{} {shown_unit}",
            show::number(in_unit(value) * error, 1)
        )),
        assumed: reading.assumed,
    }
}
