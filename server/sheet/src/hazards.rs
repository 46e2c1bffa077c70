//! What may hurt somebody, in the official words, and what protects from it.

use crate::bench::{self, Bench, Named};
use crate::fitting;
use chemistry::ReagentClass;
use plan::vessel::{Glass, celsius};
use std::collections::BTreeSet;
use syntax::Verb;

/// The hazard statements of Regulation (EC) No 1272/2008, Annex III, in English, for every code of the library: without
/// the full stop and without what a label adds (route, organs). Taken over from the package ghsystem of 2020-02-17.
const STATEMENTS: &str = include_str!("statements.tsv");

/// The official words of a code.
pub(crate) fn statement(code: &str) -> Option<&'static str> {
    let rows = STATEMENTS.lines().filter_map(|row| row.split_once('\t'));
    rows.filter(|(own, _)| *own == code)
        .map(|(_, words)| words)
        .next()
}

/// What kind of harm it is.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Harm {
    Fire,
    Burns,
    Poison,
    Lasting,
    Environment,
}

impl Harm {
    pub(crate) const ALL: [Harm; 5] = [
        Harm::Fire,
        Harm::Burns,
        Harm::Poison,
        Harm::Lasting,
        Harm::Environment,
    ];

    pub(crate) fn name(self) -> &'static str {
        match self {
            Harm::Fire => "Fire, pressure and violent reaction",
            Harm::Burns => "Skin, eyes and airways",
            Harm::Poison => "Poison",
            Harm::Lasting => "Lasting harm",
            Harm::Environment => "Environment",
        }
    }

    fn of(code: &str) -> Harm {
        match code {
            "EUH014" | "EUH019" => Harm::Fire,
            "EUH029" | "EUH031" | "EUH032" => Harm::Poison,
            "EUH066" | "EUH071" | "H314" | "H315" | "H317" | "H318" | "H319" | "H334" | "H335" => {
                Harm::Burns
            }
            _ if code.starts_with("H2") => Harm::Fire,
            _ if code.starts_with("H4") => Harm::Environment,
            _ if code.starts_with("H34") || code.starts_with("H35") => Harm::Lasting,
            _ if code.starts_with("H36") || code.starts_with("H37") => Harm::Lasting,
            _ => Harm::Poison,
        }
    }
}

/// A statement, with those that it holds for.
pub(crate) struct Hazard {
    pub(crate) code: &'static str,
    pub(crate) harm: Harm,
    pub(crate) words: &'static str,
    pub(crate) of: Vec<String>,
}

/// What the library says of the plan's substances.
pub(crate) struct Hazards {
    pub(crate) all: Vec<Hazard>,
    /// Those of which it has no statements, by key.
    pub(crate) silent: Vec<String>,
    /// Those whose codes nobody has held against a source.
    pub(crate) from_memory: Vec<String>,
    pub(crate) sources: BTreeSet<&'static str>,
}

pub(crate) fn hazards(bench: &Bench<'_>) -> Hazards {
    let mut found = Hazards {
        all: Vec::new(),
        silent: Vec::new(),
        from_memory: Vec::new(),
        sources: BTreeSet::new(),
    };
    let substances = bench::substances(bench.plan);
    for Named {
        name,
        substance,
        gas_in_water,
    } in &substances
    {
        let mut any = false;
        for code in substance.hazards().filter(|_| !gas_in_water) {
            let Some(words) = statement(code) else {
                continue;
            };
            any = true;
            match found.all.iter_mut().find(|hazard| hazard.code == code) {
                Some(hazard) => hazard.of.push(name.clone()),
                None => found.all.push(Hazard {
                    code,
                    harm: Harm::of(code),
                    words,
                    of: vec![name.clone()],
                }),
            }
        }
        if !any {
            if substance.class() == Some(ReagentClass::Water) {
                continue;
            }
            found.silent.push(if *gas_in_water {
                format!("{name} in water")
            } else {
                name.clone()
            });
            continue;
        }
        let mut seen = false;
        for source in substance
            .sources_of("hazards")
            .filter(|s| s.key != "memory")
        {
            found.sources.insert(source.citation);
            seen = true;
        }
        if !seen {
            found.from_memory.push(name.clone());
        }
    }
    let known = |material: &&plan::Material| {
        material.identity.substance.is_none() && material.identity.mixture.is_empty()
    };
    let unknown = bench.plan.materials.iter().filter(known);
    found.silent.extend(unknown.map(|m| m.key.text.to_string()));
    found.all.sort_by_key(|hazard| (hazard.harm, hazard.code));
    found
}

/// What sets hydrazoic acid free: sodium and trimethylsilyl azide.
pub(crate) fn azides(substances: &[Named]) -> impl Iterator<Item = &str> {
    const AZIDES: [&str; 2] = ["26628-22-8", "4648-54-8"];
    let is_one = |named: &&Named| {
        let cas = named.substance.cas();
        cas.is_some_and(|cas| AZIDES.contains(&cas))
    };
    substances.iter().filter(is_one).map(|named| &*named.name)
}

/// Below this bare hands freeze to what is cold; common practice.
const COLD: f64 = -40.0;

/// What protects, by common practice, and only where the plan has what it protects from.
pub(crate) fn protection(bench: &Bench<'_>, hazards: &Hazards, inert_gas: bool) -> Vec<String> {
    let plan = bench.plan;
    let has = |codes: &[&str]| {
        hazards
            .all
            .iter()
            .any(|hazard| codes.contains(&hazard.code))
    };
    let of = |codes: &[&str]| {
        let mut names: Vec<&str> = Vec::new();
        for hazard in hazards.all.iter().filter(|h| codes.contains(&h.code)) {
            for name in &hazard.of {
                if !names.contains(&&**name) {
                    names.push(name);
                }
            }
        }
        names.join(", ")
    };
    let verb = |wanted: &[Verb]| {
        plan.moments.iter().any(|moment| {
            bench::clause(plan, moment).is_some_and(|clause| wanted.contains(&clause.verb))
        })
    };
    let states = || plan.moments.iter().flat_map(|moment| moment.after.iter());
    let mut rules = vec![
        "Safety glasses, buttoned lab coat, closed shoes; gloves that stand what is handled, changed as soon as they are wetted. Work in the hood, sash down.".to_owned(),
    ];
    let catches_fire = ["H250", "H260"];
    if has(&catches_fire) {
        rules.push(format!(
            "{}: flame-resistant coat, no synthetic fibres, a second person present; dry sand or a class D extinguisher at hand; no open solvent in the hood.",
            of(&catches_fire)
        ));
    }
    let burns = ["H314", "H318"];
    if has(&burns) {
        rules.push(format!(
            "{}: face shield while it is drawn up, added and quenched; know the way to the eyewash and the shower.",
            of(&burns)
        ));
    }
    let poison = ["H300", "H310", "H330", "H331", "EUH029", "EUH031", "EUH032"];
    if has(&poison) {
        rules.push(format!(
            "{}: only in a hood that has been seen to draw; never alone.",
            of(&poison)
        ));
    }
    let substances = bench::substances(plan);
    let azides: Vec<&str> = azides(&substances).collect();
    if !azides.is_empty() {
        rules.push(format!(
            "{}: no metal spatula, no acid, no halogenated solvent and no salts of heavy metals near it: what forms explodes or is a poisonous gas.",
            azides.join(", ")
        ));
    }
    let fluorides = substances.into_iter();
    let fluorides: Vec<String> = fluorides
        .filter(|named| fitting::dissolves_glass(named.substance))
        .map(|named| named.name)
        .collect();
    if !fluorides.is_empty() {
        rules.push(format!(
            "{}: it dissolves glass and burns without pain at first. Vessels, syringes and waste bottles are of polyethylene or PTFE, never of glass; so is {}. Calcium gluconate gel at hand and in date, and who else is there knows how it is used. Its safety data sheet and a trained supervisor come first; never alone.",
            fluorides.join(", "),
            bench.name(bench.flask)
        ));
    }
    let unborn = ["H360", "H361"];
    if has(&unborn) {
        rules.push(format!(
            "{}: who is, or may be, or wishes to be with child asks first.",
            of(&unborn)
        ));
    }
    let lasting = ["H340", "H350", "H372"];
    if has(&lasting) {
        rules.push(format!(
            "{}: weighed and measured in the hood, and nothing of it leaves the hood open.",
            of(&lasting)
        ));
    }
    if has(&["H220", "H224", "H225"]) {
        rules
            .push("Flammable vapour and gas: no flame, no spark and no bare hot plate.".to_owned());
    }
    let oven = states().any(|state| matches!(state.glass, Glass::Oven { .. }));
    let flame = verb(&[Verb::FlameDry]);
    if oven || flame {
        rules.push("Hot glass looks like cold glass: heat-resistant gloves.".to_owned());
    }
    if flame {
        rules.push(
            "The flame stays off septa and rubber-coated clamps; no solvent in the hood while it burns."
                .to_owned(),
        );
    }
    if states().any(|state| celsius(state.temperature) <= COLD) {
        rules.push(
            "Dry ice and what it cools: gloves against the cold, and fresh air; never in a closed vessel."
                .to_owned(),
        );
    }
    let vacuum = [
        Verb::Evacuate,
        Verb::EvacuateAndRefill,
        Verb::Concentrate,
        Verb::Coevaporate,
        Verb::Distil,
        Verb::Degas,
    ];
    if verb(&vacuum) {
        rules.push("Vacuum: look for star cracks first; sash or shield in front.".to_owned());
    }
    if inert_gas {
        rules.push("The gas cylinder is chained.".to_owned());
    }
    if has(&["EUH019"]) && verb(&[Verb::Concentrate, Verb::Distil]) {
        rules.push(format!(
            "{}: test for peroxides before anything is concentrated.",
            of(&["EUH019"])
        ));
    }
    rules
}
