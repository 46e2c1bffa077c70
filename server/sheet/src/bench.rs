//! What every part of the sheet asks of the plan: its steps by number, and the points that matter.

use crate::measuring::{self, Draw};
use checks::Finding;
use chemistry::{ReagentClass, Sensitivity, State, Substance, Tag};
use plan::time::Times;
use plan::vessel::{Addition, Content, Gas, Glass, Moment, VesselState, What, celsius};
use plan::{Material, Plan, show, takes};
use syntax::{
    AmountKind, Clause, EquipmentKind, ModifierKind, Nature, Referent, Statement, Step, Strength,
    TemperatureValue, Verb,
};
use uom::si::f64::Volume;

/// A plan, with what was worked out of it once.
pub(crate) struct Bench<'a> {
    pub(crate) plan: &'a Plan,
    pub(crate) findings: &'a [Finding],
    pub(crate) times: Times,
    pub(crate) draws: Vec<Draw>,
    /// The vessel that the reaction is carried out in, by its position in `Plan::apparatus`.
    pub(crate) flask: usize,
    /// The moment at which the first reagent goes in that air or water destroys.
    pub(crate) first_sensitive: Option<usize>,
    /// The moment of the first quench.
    pub(crate) quench: Option<usize>,
    /// How hot the flask is after every moment.
    heats: Vec<Heat>,
}

/// How hot a vessel is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Heat {
    /// In °C.
    At(f64),
    /// It boils, at a temperature that the plan does not say.
    Reflux,
}

/// Of a vessel after every moment: a reflux lasts until a step says another temperature.
fn heats(plan: &Plan, vessel: usize) -> Vec<Heat> {
    let mut boils = false;
    let heats = plan.moments.iter().map(|moment| {
        let here = |states: &[std::sync::Arc<VesselState>]| {
            states.get(vessel).map(|state| celsius(state.temperature))
        };
        let (before, after) = (here(&moment.before), here(&moment.after));
        if moment.vessel == vessel
            && let Some(clause) = clause(plan, moment)
        {
            let says = |reflux: bool| {
                clause
                    .modifiers
                    .iter()
                    .any(|modifier| match &modifier.kind {
                        ModifierKind::Temperature(_, value) => {
                            matches!(value, TemperatureValue::Reflux(_)) == reflux
                        }
                        _ => false,
                    })
            };
            let cools = matches!(clause.verb, Verb::Cool | Verb::Concentrate | Verb::Distil);
            if clause.verb == Verb::Reflux || says(true) {
                boils = true;
            } else if cools || says(false) || before != after {
                boils = false;
            }
        }
        match after {
            Some(t) if !boils => Heat::At(t),
            _ => Heat::Reflux,
        }
    });
    heats.collect()
}

impl<'a> Bench<'a> {
    pub(crate) fn new(plan: &'a Plan, findings: &'a [Finding]) -> Bench<'a> {
        let quench = plan.moments.iter().position(|moment| {
            clause(plan, moment).is_some_and(|clause| clause.verb == Verb::Quench)
        });
        let first_sensitive = plan.moments.iter().position(|moment| {
            let fresh = |addition: &&Addition| addition.from.is_none();
            let mut fresh = moment.additions.iter().filter(fresh);
            fresh.any(|addition| is_sensitive(plan, &addition.content))
                || makes_organometallic(plan, moment)
        });
        let flask = quench
            .and_then(|index| plan.moments.get(index))
            .map(|moment| moment.vessel)
            .or_else(|| busiest(plan))
            .unwrap_or(0);
        Bench {
            plan,
            findings,
            times: plan.times(),
            draws: measuring::draws(plan),
            flask,
            first_sensitive: first_sensitive.filter(|first| quench.is_none_or(|q| *first < q)),
            quench,
            heats: heats(plan, flask),
        }
    }

    /// How hot the flask is after a moment.
    pub(crate) fn heat(&self, moment: usize) -> Heat {
        self.heats.get(moment).copied().unwrap_or(Heat::Reflux)
    }

    /// The number of the step on a line, counted from 1.
    pub(crate) fn number(&self, line: u32) -> Option<usize> {
        let at = takes::steps(&self.plan.text).position(|(own, _)| own == line)?;
        Some(at + 1)
    }

    /// The line from which on the reaction is over: of the quench, or else of the first step of a work-up, which a separating
    /// funnel is for. To concentrate or filter ends no reaction where something by equivalents goes in later.
    pub(crate) fn work_up(&self) -> u32 {
        let quench = self.quench.and_then(|index| self.plan.moments.get(index));
        let by_equivalents = |addition: &&Addition| {
            let material = material(self.plan, &addition.content);
            let stated = material.into_iter().flat_map(|material| &material.stated);
            let mut kinds = stated.map(|amount| &amount.kind);
            addition.from.is_none()
                && kinds
                    .any(|kind| matches!(kind, AmountKind::Equivalents | AmountKind::MolPercent))
        };
        let mut moments = self.plan.moments.iter().rev();
        let last_reagent = moments
            .find(|moment| moment.additions.iter().any(|a| by_equivalents(&a)))
            .map(|moment| moment.line);
        let ends = |moment: &&Moment| {
            let item = self.plan.apparatus.get(moment.vessel);
            let funnel = item.is_some_and(|item| item.text.contains("separat"));
            let verb = clause(self.plan, moment).map(|clause| clause.verb);
            let between = matches!(verb, Some(Verb::Filter | Verb::Concentrate))
                && last_reagent.is_none_or(|last| last < moment.line);
            let work_up = matches!(verb, Some(Verb::Extract | Verb::Separate));
            work_up || between || funnel && !moment.additions.is_empty()
        };
        let first = || self.plan.moments.iter().find(ends);
        quench.or_else(first).map_or(u32::MAX, |moment| moment.line)
    }

    /// The words of a step, without its comment.
    pub(crate) fn words(&self, line: u32, step: &Step) -> &'a str {
        let span = step.clauses.first().zip(step.clauses.last());
        span.and_then(|(first, last)| {
            let span = syntax::Span {
                start: first.span.start,
                end: last.span.end,
            };
            self.plan.slice(line, span)
        })
        .unwrap_or_default()
    }

    /// The comment of a line, without its sign.
    pub(crate) fn comment(&self, line: u32) -> Option<&'a str> {
        let span = self.plan.text.lines.get(line as usize)?.comment?;
        let words = self.plan.slice(line, span)?.trim_start_matches('#').trim();
        (!words.is_empty()).then_some(words)
    }

    pub(crate) fn name(&self, vessel: usize) -> &'a str {
        let item = self.plan.apparatus.get(vessel);
        item.map_or("the flask", |item| &item.name)
    }

    /// The free text of `author` and the like.
    pub(crate) fn remark(&self, kind: syntax::RemarkKind) -> Vec<&'a str> {
        let lines = self.plan.text.lines.iter();
        lines
            .filter_map(|line| match &line.statement {
                Statement::Remark(found, Some(text)) if *found == kind => Some(&*text.text),
                _ => None,
            })
            .collect()
    }

    /// A state in a few words each: fill, temperature, gas, glass.
    pub(crate) fn describe(&self, moment: usize) -> Option<(usize, &VesselState, Vec<String>)> {
        let vessel = self.plan.moments.get(moment)?.vessel;
        let state = self.plan.moments.get(moment)?.before.get(vessel)?;
        let capacity = self.capacity(vessel).map(show::volume);
        let fill = match state.volume(&self.plan.materials) {
            Some(volume) if volume > Volume::default() => match capacity {
                Some(capacity) => format!("{} in {capacity}", show::volume(volume)),
                None => show::volume(volume),
            },
            Some(_) => "no liquid yet".to_owned(),
            None => "volume not known".to_owned(),
        };
        let gas = match &state.gas {
            Gas::Air { said: true, .. } => "open to air".to_owned(),
            Gas::Air { said: false, .. } => "gas not stated".to_owned(),
            Gas::Filled { gas, .. } => format!("under {gas}"),
            Gas::Vacuum { .. } => "under vacuum".to_owned(),
        };
        let glass = match &state.glass {
            Glass::Unknown => None,
            Glass::Rinsed(_) | Glass::Drained(_) => Some("glass wet from rinsing"),
            Glass::AirDried => Some("glass dried in air"),
            Glass::Oven { .. } => Some("glass dried in the oven"),
            Glass::Flame { .. } => Some("glass dried by flame"),
            Glass::Glovebox => Some("glass from the glovebox"),
        };
        let before = moment.checked_sub(1).map(|before| self.heat(before));
        let temperature = match before {
            Some(Heat::Reflux) if vessel == self.flask => "at reflux".to_owned(),
            _ => state.known_temperature().map_or_else(
                || "temperature not known".to_owned(),
                |temperature| degrees(celsius(temperature)),
            ),
        };
        let mut words = vec![fill, temperature, gas];
        words.extend(glass.map(str::to_owned));
        Some((vessel, state, words))
    }

    pub(crate) fn capacity(&self, vessel: usize) -> Option<Volume> {
        self.plan.apparatus.get(vessel)?.capacity
    }
}

/// `−78 °C`, with a minus sign.
pub(crate) fn degrees(celsius: f64) -> String {
    let rounded = celsius.round();
    let sign = if rounded < 0.0 { "−" } else { "" };
    format!("{sign}{:.0} °C", rounded.abs())
}

/// The clause that a moment is of.
pub(crate) fn clause<'a>(plan: &'a Plan, moment: &Moment) -> Option<&'a Clause> {
    match &plan.text.lines.get(moment.line as usize)?.statement {
        Statement::Step(step) => step.clauses.get(moment.clause),
        _ => None,
    }
}

/// The vessel that most is put into.
fn busiest(plan: &Plan) -> Option<usize> {
    let additions = |vessel: usize| {
        let of_vessel = |moment: &&Moment| moment.vessel == vessel && !moment.additions.is_empty();
        plan.moments.iter().filter(of_vessel).count()
    };
    let items = plan.apparatus.iter().enumerate();
    items
        .filter(|(_, item)| item.kind == EquipmentKind::Vessel)
        .map(|(index, _)| index)
        // Of several the first.
        .rev()
        .max_by_key(|index| additions(*index))
}

pub(crate) fn material<'a>(plan: &'a Plan, content: &Content) -> Option<&'a Material> {
    match &content.what {
        What::Material(index) => plan.materials.get(*index),
        What::Named(..) => None,
    }
}

/// Whether air or water destroys it, by its line or by the library.
pub(crate) fn is_sensitive(plan: &Plan, content: &Content) -> bool {
    let says = |nature| material(plan, content)?.stated_nature(nature);
    let natures = [
        Nature::MoistureSensitive,
        Nature::AirSensitive,
        Nature::Pyrophoric,
    ];
    if natures.iter().any(|nature| says(*nature) == Some(true)) {
        return true;
    }
    let destroyed = |substance: Substance| {
        substance.destroyed_by_water() == Sensitivity::Destroyed
            && says(Nature::MoistureSensitive) != Some(false)
            || substance.destroyed_by_oxygen() == Sensitivity::Destroyed
                && says(Nature::AirSensitive) != Some(false)
    };
    !content.is_aqueous(&plan.materials)
        && content.substance(&plan.materials).is_some_and(destroyed)
}

/// Whether a halide meets magnesium, or another metal that makes of it what water destroys.
fn makes_organometallic(plan: &Plan, moment: &Moment) -> bool {
    let class = |content: &Content| {
        content
            .substance(&plan.materials)
            .and_then(Substance::class)
    };
    let is_halide = |addition: &Addition| {
        matches!(
            class(&addition.content),
            Some(ReagentClass::AlkylHalide | ReagentClass::ArylHalide)
        )
    };
    let is_metal = |content: &Content| {
        matches!(
            class(content),
            Some(ReagentClass::AlkalineEarthMetal | ReagentClass::AlkaliMetal)
        )
    };
    let before = moment.before.get(moment.vessel);
    before.is_some_and(|state| state.contents.iter().any(is_metal))
        && moment.additions.iter().any(is_halide)
}

/// Whether it catches fire in air, by its line or by the library.
pub(crate) fn is_pyrophoric(plan: &Plan, content: &Content) -> bool {
    let stated = material(plan, content).and_then(|m| m.stated_nature(Nature::Pyrophoric));
    let known = content.substance(&plan.materials);
    let known = known.is_some_and(|substance| substance.has(Tag::Pyrophoric));
    stated.unwrap_or(known) && !content.is_aqueous(&plan.materials)
}

/// A substance of the plan.
pub(crate) struct Named {
    /// The first word for it: its key, or its name in a step.
    pub(crate) name: String,
    pub(crate) substance: Substance,
    /// A gas that is there in water only, so that what is said of the gas does not hold.
    pub(crate) gas_in_water: bool,
}

/// Every substance that the plan names and the library knows, each once.
pub(crate) fn substances(plan: &Plan) -> Vec<Named> {
    let mut found: Vec<Named> = Vec::new();
    let mut put = |name: &str, substance: Option<Substance>, in_water: bool| {
        let Some(substance) = substance else {
            return;
        };
        let gas_in_water = in_water && substance.state() == Some(State::Gas);
        let same =
            |known: &Named| known.substance == substance && known.gas_in_water == gas_in_water;
        if !found.iter().any(same) {
            found.push(Named {
                name: name.to_owned(),
                substance,
                gas_in_water,
            });
        }
    };
    let by_name = |name: &str| chemistry::find_name(name).one();
    for material in &plan.materials {
        let in_water = material.diluted
            && material
                .carrier
                .as_ref()
                .is_none_or(|carrier| &**carrier == "water");
        put(&material.key.text, material.identity.substance, in_water);
        for part in &material.identity.mixture {
            put(&part.name, part.substance, false);
        }
        if let Some(carrier) = &material.carrier {
            put(carrier, by_name(carrier), false);
        }
    }
    for take in takes::takes(&plan.text) {
        let name = &take.thing.name.text;
        match &take.thing.referent {
            Referent::Substance(strength) => {
                put(
                    name,
                    by_name(name),
                    strength.as_deref().is_some_and(is_in_water),
                );
            }
            Referent::Gas { .. } => put(name, by_name(name), false),
            Referent::Mixture(parts) => {
                for (name, _) in parts {
                    put(&name.text, by_name(&name.text), false);
                }
            }
            _ => {}
        }
    }
    found
}

/// Whether a solution is one in water, which it is where no other solvent is named.
pub(crate) fn is_in_water(strength: &Strength) -> bool {
    let carrier = strength.carrier.as_ref();
    carrier.is_none_or(|(carrier, _)| &*carrier.text == "water")
}

pub(crate) fn is_inert_gas(name: &str) -> bool {
    let substance = chemistry::find_name(name).one();
    substance.and_then(Substance::class) == Some(ReagentClass::InertGas)
}

/// `1, 4–6, 9`
pub(crate) fn ranges(numbers: &[usize]) -> String {
    let mut sorted = numbers.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for number in sorted {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == number => *last = number,
            _ => runs.push((number, number)),
        }
    }
    let runs = runs.iter().map(|(first, last)| match last - first {
        0 => first.to_string(),
        1 => format!("{first}, {last}"),
        _ => format!("{first}–{last}"),
    });
    runs.collect::<Vec<_>>().join(", ")
}

/// `step 3`, `steps 3, 5–7`
pub(crate) fn steps(numbers: &[usize]) -> String {
    let word = if numbers.len() == 1 { "step" } else { "steps" };
    format!("{word} {}", ranges(numbers))
}
