//! Which tool a chemist takes of those that measure well enough: one that the liquid does not eat, that brings no water
//! to what it destroys, and that nobody would laugh at. Common practice.

use crate::measuring::{Draw, Tool};
use chemistry::{ReagentClass, Sensitivity, Substance, Tag};
use plan::measuring::{self, Way};
use plan::{Bottle, Material, Plan, convert, show};
use syntax::Nature;
use uom::si::f64::{Mass, Volume};
use uom::si::mass::{gram, milligram};
use uom::si::volume::milliliter;

/// How something has to be handled while it is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Handling {
    /// It dissolves glass.
    Fluoride,
    /// A gas, measured as the liquid that it condenses to.
    Condensed,
    /// It catches fire in air.
    Pyrophoric,
    /// Water or air destroys it, and its vapour eats plastic.
    Sensitive,
    /// Kept dry or off the air.
    Closed,
    /// Water, and what is dissolved in it.
    Aqueous,
    /// Anything else.
    Open,
}

/// Hydrogen fluoride, its complexes with pyridine and triethylamine, and potassium hydrogen fluoride.
const FLUORIDES: [&str; 5] = [
    "7664-39-3",
    "32001-55-1",
    "62778-11-4",
    "73602-61-6",
    "7789-29-9",
];

pub(crate) fn dissolves_glass(substance: Substance) -> bool {
    substance.cas().is_some_and(|cas| FLUORIDES.contains(&cas))
}

/// Ice is weighed, though it is water.
pub(crate) fn is_ice(name: &str) -> bool {
    let name = name.to_lowercase();
    name.split_whitespace().next_back() == Some("ice") && !name.contains("dry")
}

impl Handling {
    pub(crate) fn of(plan: &Plan, material: &Material) -> Handling {
        let substance = material.identity.substance;
        let says = |nature| material.stated_nature(nature);
        let mut parts = material.identity.mixture.iter();
        let in_mixture = parts.any(|part| part.substance.is_some_and(dissolves_glass));
        if in_mixture || substance.is_some_and(dissolves_glass) {
            return Handling::Fluoride;
        }
        if measuring::is_in_water(material) {
            return Handling::Aqueous;
        }
        let gas = substance.is_some_and(measuring::condenses);
        if gas && !material.diluted && !matches!(material.bottle, Bottle::Gas) {
            return Handling::Condensed;
        }
        let burns = substance.is_some_and(|substance| substance.has(Tag::Pyrophoric));
        if says(Nature::Pyrophoric).unwrap_or(burns) {
            return Handling::Pyrophoric;
        }
        let destroyed = substance.is_some_and(|substance| {
            substance.destroyed_by_water() == Sensitivity::Destroyed
                || substance.destroyed_by_oxygen() == Sensitivity::Destroyed
        });
        if destroyed || says(Nature::MoistureSensitive) == Some(true) {
            return Handling::Sensitive;
        }
        if measuring::is_kept(material) || plan.is_kept_closed(material) {
            return Handling::Closed;
        }
        Handling::Open
    }

    /// Of what a step names and no line lists.
    pub(crate) fn named(name: &str, in_water: bool) -> Handling {
        let substance = chemistry::find_name(name).one();
        if substance.is_some_and(dissolves_glass) {
            return Handling::Fluoride;
        }
        let first = name.split(' ').next().unwrap_or_default();
        if matches!(first, "dry" | "anhydrous" | "degassed") {
            return Handling::Closed;
        }
        let water = substance.and_then(Substance::class) == Some(ReagentClass::Water);
        if in_water || water || name == "brine" {
            return Handling::Aqueous;
        }
        match substance.is_some_and(measuring::condenses) {
            true => Handling::Condensed,
            false => Handling::Open,
        }
    }
}

/// From this mass on a balance that reads 10 mg is exact enough, and the analytical one is spared.
const BY_COARSE_BALANCE: f64 = 10.0;

/// Changes the tools of what is measured to those that fit it.
pub(crate) fn fit(plan: &Plan, draws: &mut [Draw]) {
    let mut held: Vec<String> = Vec::new();
    for draw in draws.iter() {
        let keeps = matches!(draw.handling, Handling::Pyrophoric | Handling::Sensitive);
        if keeps && is_syringe(draw) && !held.contains(&draw.key) {
            held.push(draw.key.clone());
        }
    }
    for draw in draws {
        match draw.handling {
            Handling::Fluoride => fluoride(draw),
            Handling::Condensed if draw.volume.is_some() && draw.way != Way::Gas => {
                draw.tool = None;
                draw.beside.push(measuring::CONDENSED.to_owned());
            }
            Handling::Condensed => {}
            Handling::Pyrophoric | Handling::Sensitive => {
                by_cannula(draw);
                of_glass(plan, draw);
                if draw.handling == Handling::Pyrophoric && is_syringe(draw) {
                    draw.beside.push(
                        "a dry syringe for this alone, rinsed with dry solvent before air gets in, and the rinsings quenched"
                            .to_owned(),
                    );
                }
            }
            Handling::Aqueous | Handling::Open => {
                if draw.handling == Handling::Aqueous && is_syringe(draw) && !held.is_empty() {
                    let held = held.join(", ");
                    draw.beside
                        .push(format!("not with a syringe that held {held}"));
                }
            }
            Handling::Closed => {}
        }
    }
}

fn is_syringe(draw: &Draw) -> bool {
    let tool = draw.tool.as_ref();
    tool.is_some_and(|tool| tool.name.contains("syringe"))
}

fn fluoride(draw: &mut Draw) {
    if draw.volume.is_none() {
        draw.beside
            .push("in polyethylene or PTFE, never in glass".to_owned());
        return;
    }
    draw.tool = Some(Tool {
        name: "polyethylene or PTFE syringe or cylinder, never glass".to_owned(),
        reads: None,
        error: None,
        assumed: false,
    });
}

/// The smallest tool of a kind that holds a volume.
fn smallest(plan: &Plan, kind: &str, volume: Volume) -> Option<(String, Volume)> {
    let tools = plan.context.settings.tools.volumetric().iter();
    let sized = tools.filter_map(|tool| {
        let name = tool.to_string();
        let size = name.strip_suffix(kind)?.trim_end();
        // `graduated pipette` is no `pipette`: what is left has to be a size.
        let size = convert::volume(&syntax::read_quantity(size)?, 0)?.value;
        Some((name, size))
    });
    sized
        .filter(|(_, size)| *size >= volume)
        .min_by(|(_, a), (_, b)| a.value.total_cmp(&b.value))
}

/// More than this, in mL, of what air or water destroys goes through no syringe.
const BY_SYRINGE: f64 = 50.0;

fn by_cannula(draw: &mut Draw) {
    let much = |volume: Volume| volume.get::<milliliter>() > BY_SYRINGE;
    if draw.volume.is_some_and(much) {
        draw.tool = Some(Tool {
            name: "cannula into a dry, graduated dropping funnel under inert gas".to_owned(),
            reads: None,
            error: None,
            assumed: false,
        });
    }
}

/// Vapour of what hydrolyses to acid eats plastic, and its plunger sticks.
fn of_glass(plan: &Plan, draw: &mut Draw) {
    let plastic = |tool: &Tool| tool.name.contains("plastic");
    if !draw.tool.as_ref().is_some_and(plastic) {
        return;
    }
    let Some(volume) = draw.volume else { return };
    let Some((name, size)) = smallest(plan, "glass syringe", volume) else {
        draw.beside
            .push("it may eat plastic: glass, or a cannula into a marked vessel".to_owned());
        return;
    };
    replace(
        plan,
        draw,
        name,
        chemistry::Tool::GlassSyringe,
        size,
        volume,
    );
}

fn replace(
    plan: &Plan,
    draw: &mut Draw,
    name: String,
    tool: chemistry::Tool,
    size: Volume,
    volume: Volume,
) {
    let assumed = !plan.context.settings.tools.are_stated();
    // Of one that a file states, the file may say another error.
    let error = chemistry::tolerance_at(tool, size, volume).filter(|_| assumed);
    let error = error.map(|error| {
        let ml = error.half_width.get::<milliliter>();
        format!("{} mL", show::number(ml, 1))
    });
    let marks = marks(size.get::<milliliter>());
    draw.tool = Some(Tool {
        name,
        reads: Some(format!("{} mL", show::shortest(marks))),
        error,
        assumed,
    });
}

/// Good glass has marks of 1, 2 or 5, at least fifty of them: how far apart, in mL.
fn marks(size: f64) -> f64 {
    let most = size / 50.0;
    let decade = 10_f64.powf(most.log10().floor());
    let fits = |mark: &&f64| **mark * decade <= most * (1.0 + 1e-9);
    [10.0, 5.0, 2.0].iter().find(fits).unwrap_or(&1.0) * decade
}

/// The balance for what needs no analytical one, where nobody has said which balances there are: its name and its
/// greatest error, of the difference of two readings.
pub(crate) fn coarse_balance(mass: Mass, assumed: bool) -> Option<(String, Mass)> {
    if !assumed || mass.get::<gram>() < BY_COARSE_BALANCE {
        return None;
    }
    let reads = Mass::new::<milligram>(10.0);
    let error = chemistry::weighing(reads)?.half_width * chemistry::combine(&[1.0, 1.0]);
    Some(("balance that reads 10 mg".to_owned(), error))
}
