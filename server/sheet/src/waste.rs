//! What is left over, by stream.

use crate::bench::{Bench, is_in_water};
use chemistry::{ReagentClass, State, Substance, Tag};
use plan::takes::{Slot, Take};
use plan::{Material, show, takes};
use syntax::{AmountKind, CountKind, ModifierKind, Referent, Role, Sense, Thing, Verb};
use uom::si::f64::Volume;

/// A bottle that waste goes into.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Stream {
    Halogenated,
    NonHalogenated,
    Aqueous,
    Solids,
}

impl Stream {
    pub(crate) fn name(self) -> &'static str {
        match self {
            Stream::Halogenated => "Halogenated",
            Stream::NonHalogenated => "Non-halogenated",
            Stream::Aqueous => "Aqueous",
            Stream::Solids => "Solids",
        }
    }
}

/// What one stream gets.
pub(crate) struct Waste {
    pub(crate) stream: Stream,
    /// Name, and volume where it is known, of all times together.
    pub(crate) parts: Vec<Part>,
    /// The sum of the volumes that are known.
    pub(crate) volume: Volume,
}

/// A liquid or solid of a stream.
pub(crate) struct Part {
    pub(crate) name: String,
    pub(crate) volume: Option<Volume>,
    /// Rinses of glass that the plan counts and does not measure.
    pub(crate) rinses: u32,
}

/// The solvents and washings of the steps by stream, and what the plan itself says of discarding.
pub(crate) fn wastes<'a>(bench: &Bench<'a>) -> (Vec<Waste>, Vec<(usize, &'a str)>) {
    let plan = bench.plan;
    let mut wastes: Vec<Waste> = Vec::new();
    for take in takes::takes(&plan.text) {
        let rinses = rinses(&take);
        if rinses == 0 && !take.draws() {
            continue;
        }
        let material = take.key().and_then(|key| plan.material(key));
        if material.is_some_and(|(material, _)| material.product) {
            continue;
        }
        let spent = material.is_some_and(|(material, _)| is_filtered_off(bench, &take, material));
        // Of what reacts one for one little is left, though it is a solvent elsewhere.
        let reacts = material.is_some_and(|(material, amounts)| {
            let by_volume = |amount: &syntax::Amount| matches!(amount.kind, AmountKind::Volume);
            !material.diluted
                && plan.is_measured_closely(material, amounts)
                && !material.stated.iter().any(by_volume)
        });
        let stream = match spent {
            true => Some(Stream::Solids),
            false if reacts => None,
            false => stream(&take, material.map(|(material, _)| material)),
        };
        let Some(stream) = stream else {
            continue;
        };
        let draw = bench.draws.iter().find(|draw| draw.at == Some(take.at()));
        if draw.is_none() && material.is_some() && rinses == 0 {
            // It was measured when an earlier step first took of it.
            continue;
        }
        let volume = draw.and_then(|draw| Some(draw.volume? * f64::from(draw.times)));
        let name = material.map_or(&*take.thing.name.text, |(material, _)| &material.key.text);
        if spent {
            let name = format!(
                "{name}, which may catch fire once dry: keep it wet, in a container of its own"
            );
            put(&mut wastes, stream, &name, None, rinses);
        } else {
            put(&mut wastes, stream, name, volume, rinses);
        }
    }
    wastes.sort_by_key(|waste| waste.stream);
    let mut discards = Vec::new();
    for (line, step) in takes::steps(&plan.text) {
        if step
            .clauses
            .iter()
            .any(|clause| clause.verb == Verb::Discard)
        {
            discards.extend(
                bench
                    .number(line)
                    .map(|number| (number, bench.words(line, step))),
            );
        }
    }
    (wastes, discards)
}

/// How often a step rinses glass with it, where the washings are thrown away.
fn rinses(take: &Take<'_>) -> u32 {
    let clause = take.clause;
    let glass = clause.verb == Verb::Wash && clause.senses.contains(&Sense::Glass);
    if !glass || take.slot != Slot::With {
        return 0;
    }
    let count = clause
        .modifiers
        .iter()
        .find_map(|modifier| match modifier.kind {
            ModifierKind::Count(CountKind::Times, times) => Some(times),
            _ => None,
        });
    let pieces = u32::try_from(clause.objects.len()).unwrap_or(1).max(1);
    count.unwrap_or(1).saturating_mul(pieces)
}

/// A metal that hydrogenates, in a flask that is filtered later: spent, it is pyrophoric (common practice).
fn is_filtered_off(bench: &Bench<'_>, take: &Take<'_>, material: &Material) -> bool {
    let substance = material.identity.substance;
    let is_metal = substance.and_then(Substance::class)
        == Some(ReagentClass::HydrogenationCatalyst)
        && substance.and_then(Substance::state) == Some(State::Solid);
    let mut later = takes::steps(&bench.plan.text).skip_while(|(line, _)| *line <= take.line);
    is_metal
        && later.any(|(_, step)| {
            step.clauses
                .iter()
                .any(|clause| clause.verb == Verb::Filter)
        })
}

fn stream(take: &Take<'_>, material: Option<&Material>) -> Option<Stream> {
    if matches!(take.slot, Slot::Over | Slot::On | Slot::Through) {
        // A gas goes through a bubbler, and nothing of it is waste.
        let gas = matches!(
            take.clause.verb,
            Verb::Vent | Verb::Purge | Verb::Sparge | Verb::Fill | Verb::Degas
        );
        let equipment = material.is_none() && is_equipment(take.thing);
        return (!gas && !equipment).then_some(Stream::Solids);
    }
    let named = || chemistry::find_name(&take.thing.name.text).one();
    match (material, &take.thing.referent) {
        (Some(material), _) => of_material(material),
        (None, Referent::Mixture(parts)) => {
            let halogenated = parts.iter().any(|(name, _)| {
                let part = chemistry::find_name(&name.text).one();
                part.is_some_and(|part| part.has(Tag::Halogenated))
            });
            Some(if halogenated {
                Stream::Halogenated
            } else {
                Stream::NonHalogenated
            })
        }
        (None, Referent::Substance(strength)) => {
            let in_water = strength.as_deref().is_some_and(is_in_water);
            let brine = &*take.thing.name.text == "brine";
            if in_water || brine {
                return Some(Stream::Aqueous);
            }
            of_substance(named()?)
        }
        _ => None,
    }
}

/// What a solution runs through and is washed: a frit, with a line or without.
fn is_equipment(thing: &Thing) -> bool {
    const HEADS: [&str; 6] = ["frit", "sinter", "funnel", "cannula", "needle", "tube"];
    let last = thing.name.text.rsplit(' ').next().unwrap_or_default();
    matches!(thing.referent, Referent::Key(_))
        || HEADS.iter().any(|head| last.eq_ignore_ascii_case(head))
}

fn of_material(material: &Material) -> Option<Stream> {
    let by_name = |name: &str| chemistry::find_name(name).one();
    if let Some(carrier) = &material.carrier {
        return match &**carrier {
            "water" => Some(Stream::Aqueous),
            // The oil of a dispersion is weighed with it, and is no solvent.
            name if material.measured_by_volume() => of_substance(by_name(name)?),
            _ => None,
        };
    }
    if material
        .strength_text
        .as_deref()
        .is_some_and(|words| words.contains("aq."))
    {
        return Some(Stream::Aqueous);
    }
    if !material.identity.mixture.is_empty() {
        let parts = || {
            material
                .identity
                .mixture
                .iter()
                .filter_map(|part| part.substance)
        };
        return Some(if parts().any(|part| part.has(Tag::Halogenated)) {
            Stream::Halogenated
        } else {
            Stream::NonHalogenated
        });
    }
    let substance = material.identity.substance?;
    if material.role == Some(Role::Solvent) || substance.has(Tag::Solvent) {
        return of_substance(substance);
    }
    match substance.class() {
        Some(ReagentClass::Water) => Some(Stream::Aqueous),
        Some(ReagentClass::DryingAgent | ReagentClass::Adsorbent) => Some(Stream::Solids),
        _ => None,
    }
}

fn of_substance(substance: Substance) -> Option<Stream> {
    let class = substance.class();
    if matches!(
        class,
        Some(ReagentClass::DryingAgent | ReagentClass::Adsorbent)
    ) {
        return Some(Stream::Solids);
    }
    if class == Some(ReagentClass::Water) {
        return Some(Stream::Aqueous);
    }
    // tert-Butanol is a solvent, and melts a little above room temperature.
    if substance.state() != Some(State::Liquid) && !substance.has(Tag::Solvent) {
        return None;
    }
    Some(if substance.has(Tag::Halogenated) {
        Stream::Halogenated
    } else {
        Stream::NonHalogenated
    })
}

fn put(wastes: &mut Vec<Waste>, stream: Stream, name: &str, volume: Option<Volume>, rinses: u32) {
    let index = match wastes.iter().position(|waste| waste.stream == stream) {
        Some(index) => index,
        None => {
            wastes.push(Waste {
                stream,
                parts: Vec::new(),
                volume: Volume::default(),
            });
            wastes.len() - 1
        }
    };
    let Some(waste) = wastes.get_mut(index) else {
        return;
    };
    waste.volume += volume.unwrap_or_default();
    match waste.parts.iter_mut().find(|part| part.name == name) {
        Some(part) => {
            part.volume = match (part.volume, volume) {
                (Some(a), Some(b)) => Some(a + b),
                (a, b) => a.or(b),
            };
            part.rinses += rinses;
        }
        None => waste.parts.push(Part {
            name: name.to_owned(),
            volume,
            rinses,
        }),
    }
}

impl Part {
    /// `pentane 90.0 mL`, `acetone, 4 rinses`
    pub(crate) fn words(&self) -> String {
        let mut out = self.name.clone();
        if let Some(volume) = self.volume {
            out.push(' ');
            out.push_str(&show::volume(volume));
        }
        match self.rinses {
            0 => {}
            1 => out.push_str(", 1 rinse"),
            several => out.push_str(&format!(", {several} rinses")),
        }
        out
    }
}
