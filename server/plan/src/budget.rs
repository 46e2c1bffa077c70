//! Water and oxygen that meet what is in a vessel, source by source.
//!
//! Every source has three estimates, for hardly any of the figures is known to better than a factor of two
//! ([`Defaults`] says where each comes from): headspace and purging are within 10 %, solvents within a factor of two
//! unless measured, glass and openings within a factor of three, hydrates exact. What nobody can know (a solid that is
//! not said to be hygroscopic) counts as nothing.
//!
//! The steps are gone through forwards, beside the vessels' own states: what a step brings depends on the steps up to it.

mod defaults;
#[cfg(test)]
mod tests;

pub use defaults::Defaults;

use crate::Plan;
use crate::convert;
use crate::known::At;
use crate::material::Material;
use crate::vessel::{Addition, Apparatus, Content, Filling, Gas, Glass, Moment, VesselState, What};
use chemistry::quantity::{mass, volume};
use chemistry::{Formula, Substance, Tag, molar_volume, water_vapour_pressure};
use defaults::{SOLVENTS, Solvent};
use std::ops::{Add, Mul};
use std::sync::Arc;
use syntax::{
    Clause, Condition, CountKind, ModifierKind, Nature, Referent, Sense, Statement, TimeKind, Verb,
};
use uom::si::amount_of_substance::{micromole, mole};
use uom::si::f64::{AmountOfSubstance, Mass, Pressure, Ratio, Time, Volume};
use uom::si::molar_concentration::mole_per_cubic_meter;
use uom::si::pressure::{hectopascal, pascal};
use uom::si::ratio::ratio;
use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::time::{hour, minute, second};
use uom::si::volume_rate::liter_per_minute;

/// What is likely at least, typically, and at most.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Estimate<Q> {
    /// At least.
    pub low: Q,
    /// Typically.
    pub typical: Q,
    /// At most.
    pub high: Q,
}

/// What brings water or oxygen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SourceKind {
    /// A liquid whose water is written as a figure.
    Measured,
    /// A liquid that is said to be dry, distilled or over sieves.
    Dried,
    /// A liquid that is said to be used as received.
    AsReceived,
    /// A liquid of which nothing is said.
    Unstated,
    /// A solid that takes water from the air.
    Hygroscopic,
    /// Water of crystallisation.
    Hydrate,
    /// The film of water on glass.
    Glass,
    /// The gas above the contents.
    GasSpace,
    /// Air let in while the vessel was open.
    Opening,
    /// Air in needles and syringes.
    Tool,
}

/// Something that brought water or oxygen.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// What kind of thing it is.
    pub kind: SourceKind,
    /// What messages call it: a key, `the gas in flask`.
    pub name: Arc<str>,
    /// Where the plan could have kept it out.
    pub at: At,
    /// Its water.
    pub water: Estimate<AmountOfSubstance>,
    /// Its oxygen, as O₂.
    pub oxygen: Estimate<AmountOfSubstance>,
    /// How that is known: `10 ppm, as written`.
    pub basis: Arc<str>,
}

/// What reached the contents of a vessel.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Budget {
    /// The sources, in the order in which they came.
    pub sources: Vec<Source>,
}

impl<Q: Copy> Estimate<Q> {
    /// Known.
    pub fn exact(value: Q) -> Self {
        Estimate {
            low: value,
            typical: value,
            high: value,
        }
    }

    /// The same of something that follows from it and grows with it.
    pub fn map<P>(self, how: impl Fn(Q) -> P) -> Estimate<P> {
        Estimate {
            low: how(self.low),
            typical: how(self.typical),
            high: how(self.high),
        }
    }

    fn with<P: Copy, R>(self, other: Estimate<P>, how: impl Fn(Q, P) -> R) -> Estimate<R> {
        Estimate {
            low: how(self.low, other.low),
            typical: how(self.typical, other.typical),
            high: how(self.high, other.high),
        }
    }
}

impl<Q: Add<Output = Q>> Add for Estimate<Q> {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Estimate {
            low: self.low + other.low,
            typical: self.typical + other.typical,
            high: self.high + other.high,
        }
    }
}

impl<Q: Mul<f64, Output = Q>> Mul<f64> for Estimate<Q> {
    type Output = Self;
    fn mul(self, by: f64) -> Self {
        Estimate {
            low: self.low * by,
            typical: self.typical * by,
            high: self.high * by,
        }
    }
}

impl Budget {
    /// All water.
    #[must_use]
    pub fn water(&self) -> Estimate<AmountOfSubstance> {
        let each = self.sources.iter().map(|source| source.water);
        each.fold(Estimate::default(), Add::add)
    }

    /// All oxygen.
    #[must_use]
    pub fn oxygen(&self) -> Estimate<AmountOfSubstance> {
        let each = self.sources.iter().map(|source| source.oxygen);
        each.fold(Estimate::default(), Add::add)
    }
}

impl Plan {
    /// What meets a reagent that one moment brings into its vessel, up to and with a later moment; both by their
    /// positions in [`Plan::moments`].
    #[must_use]
    pub fn budget(&self, entry: usize, last: usize) -> Budget {
        let Some(vessel) = self.moments.get(entry).map(|moment| moment.vessel) else {
            return Budget::default();
        };
        let mut pass = Pass::new(self);
        let mut after_entry = Vec::new();
        for (index, moment) in self.moments.iter().enumerate().take(last + 1) {
            let opened = pass.step(moment);
            if index == entry {
                after_entry.extend(pass.gas_space(moment, vessel));
            } else if index > entry && moment.vessel == vessel {
                after_entry.extend(opened);
            }
        }
        let mut sources = pass.met.swap_remove(vessel).sources;
        sources.extend(after_entry);
        Budget { sources }
    }

    /// How much of the gas in a vessel is room air after a moment, by its position in [`Plan::moments`].
    #[must_use]
    pub fn air_left(&self, moment: usize, vessel: usize) -> Option<Estimate<Ratio>> {
        let mut pass = Pass::new(self);
        for moment in self.moments.iter().take(moment + 1) {
            pass.step(moment);
        }
        Some(pass.met.get(vessel)?.air.map(Ratio::new::<ratio>))
    }
}

/// Glass that the contents of a flask can touch. A sphere has 4.84 V^(2/3); neck and shoulder come to it (an
/// assumption, within 25 %).
#[must_use]
pub fn glass_area(capacity: Volume) -> uom::si::f64::Area {
    let side = capacity.get::<volume::milliliter>().powf(2.0 / 3.0);
    uom::si::f64::Area::new::<uom::si::area::square_centimeter>(6.0 * side)
}

/// The gas above the contents: a flask holds 1.25 times its nominal volume to the brim, and a condenser or funnel adds
/// 100 mL (assumptions).
#[must_use]
pub fn gas_space(item: &Apparatus, state: &VesselState, materials: &[Material]) -> Option<Volume> {
    let fitted = item.text.contains("condenser") || item.text.contains("funnel");
    let more = Volume::new::<volume::milliliter>(if fitted { 100.0 } else { 0.0 });
    let space = item.capacity? * 1.25 + more - state.volume(materials)?;
    (space > Volume::default()).then_some(space)
}

/// Oxygen in a volume of dry room air: 20.95 % of it (U.S. Standard Atmosphere, 1976).
#[must_use]
pub fn oxygen_of_air(air: Volume, room: &crate::Room) -> AmountOfSubstance {
    air / molar_volume(room.temperature, atmosphere()) * 0.2095
}

/// Water in a volume of room air, from its relative humidity.
#[must_use]
pub fn water_of_air(air: Volume, room: &crate::Room) -> AmountOfSubstance {
    let part = water_vapour_pressure(room.temperature) / atmosphere() * room.humidity;
    (air / molar_volume(room.temperature, atmosphere())) * part.value
}

fn atmosphere() -> Pressure {
    Pressure::new::<hectopascal>(1013.25)
}

/// What one vessel has met.
#[derive(Clone)]
struct Met {
    sources: Vec<Source>,
    /// Share of room air in its gas.
    air: Estimate<f64>,
    /// The step that last changed its gas.
    gas_at: Option<At>,
}

/// Goes through the moments.
struct Pass<'a> {
    plan: &'a Plan,
    defaults: &'a Defaults,
    met: Vec<Met>,
}

impl<'a> Pass<'a> {
    fn new(plan: &'a Plan) -> Self {
        let start = Met {
            sources: Vec::new(),
            air: Estimate::exact(1.0),
            gas_at: None,
        };
        Pass {
            plan,
            defaults: &plan.context.settings.budget,
            met: vec![start; plan.apparatus.len()],
        }
    }

    /// One moment; the air that it lets into an inert vessel comes back as a source of its own, for it counts only for
    /// what is in the vessel already.
    fn step(&mut self, moment: &Moment) -> Option<Source> {
        let clause = clause(self.plan, moment)?;
        self.dry(clause);
        self.bring(moment, clause);
        for (index, (before, after)) in moment.before.iter().zip(&moment.after).enumerate() {
            if Arc::ptr_eq(before, after) {
                continue;
            }
            if before.gas != after.gas {
                self.change_gas(moment, clause, index, before, after);
            }
            if after.contents.is_empty() && !after.unclear && !before.contents.is_empty() {
                self.met[index].sources.clear();
            }
        }
        self.open(moment, clause)
    }

    /// A solid that is dried where it is.
    fn dry(&mut self, clause: &Clause) {
        for thing in &clause.objects {
            let Referent::Key(id) = thing.referent else {
                continue;
            };
            let Some((material, _)) = self.plan.material(id) else {
                continue;
            };
            if !dries(clause, material) {
                continue;
            }
            let sources = self.met.iter_mut().flat_map(|met| &mut met.sources);
            for source in sources.filter(|source| *source.name == *material.key.text) {
                match source.kind {
                    SourceKind::Hygroscopic => {
                        source.water = source.water * defaults::DRIED;
                        source.basis = DRIED_SOLID.into();
                    }
                    // It may have lost all of it.
                    SourceKind::Hydrate => source.water = Estimate::default(),
                    _ => {}
                }
            }
        }
    }

    fn item(&self, vessel: usize) -> Option<&'a Apparatus> {
        self.plan.apparatus.get(vessel)
    }

    fn push(&mut self, vessel: usize, source: Source) {
        let sources = &mut self.met[vessel].sources;
        let same = |other: &&mut Source| other.kind == source.kind && other.name == source.name;
        match sources.iter_mut().find(same) {
            Some(held) => {
                held.water = held.water + source.water;
                held.oxygen = held.oxygen + source.oxygen;
            }
            None => sources.push(source),
        }
    }

    fn bring(&mut self, moment: &Moment, clause: &Clause) {
        let vessel = moment.vessel;
        let Some(before) = moment.before.get(vessel) else {
            return;
        };
        if moment.additions.is_empty() {
            return;
        }
        if before.contents.is_empty() && !before.unclear {
            self.met[vessel].sources.clear();
            if let Some(glass) = self.glass(moment, vessel, before) {
                self.push(vessel, glass);
            }
        }
        let mut poured = None;
        for addition in &moment.additions {
            match addition.from {
                None => {
                    if let Some(source) = self.bottled(addition) {
                        self.push(vessel, source);
                    }
                }
                Some(from) if poured != Some(from) => {
                    poured = Some(from);
                    self.pour(moment, addition, from, vessel);
                }
                Some(_) => {}
            }
        }
        if clause
            .modifiers
            .iter()
            .any(|modifier| is_syringe(&modifier.kind))
        {
            let dead = Estimate {
                low: 0.0,
                typical: 0.1,
                high: 0.2,
            };
            let air = dead.map(Volume::new::<volume::milliliter>);
            self.push(
                vessel,
                self.air(
                    SourceKind::Tool,
                    "needles and syringes".into(),
                    at_verb(moment, clause),
                    air,
                    "0.1 mL of air in each needle that was not flushed (an assumption)",
                ),
            );
        }
    }

    fn air(
        &self,
        kind: SourceKind,
        name: Arc<str>,
        at: At,
        air: Estimate<Volume>,
        basis: &str,
    ) -> Source {
        let room = &self.plan.room;
        Source {
            kind,
            name,
            at,
            water: air.map(|air| water_of_air(air, room)),
            oxygen: air.map(|air| oxygen_of_air(air, room)),
            basis: basis.into(),
        }
    }

    /// What a part of another vessel's contents had met comes along.
    fn pour(&mut self, moment: &Moment, addition: &Addition, from: usize, to: usize) {
        let part = moment
            .before
            .get(from)
            .and_then(|state| part_of(state, &addition.content, &self.plan.materials))
            .unwrap_or(1.0);
        let Some(source) = self.met.get_mut(from) else {
            return;
        };
        let mut moved = Vec::new();
        for held in &mut source.sources {
            moved.push(Source {
                water: held.water * part,
                oxygen: held.oxygen * part,
                ..held.clone()
            });
            held.water = held.water * (1.0 - part);
            held.oxygen = held.oxygen * (1.0 - part);
        }
        for source in moved {
            self.push(to, source);
        }
    }

    /// The film on the glass, where it is not wet with what it was rinsed with.
    fn glass(&self, moment: &Moment, vessel: usize, state: &VesselState) -> Option<Source> {
        let item = self.item(vessel)?;
        let (film, basis, line) = match &state.glass {
            Glass::Unknown | Glass::AirDried => (
                self.defaults.glass_unknown,
                "glass that looks dry, history unknown (an estimate)",
                None,
            ),
            Glass::Oven { line } => (
                self.defaults.glass_oven,
                "glass from the oven (an assumption)",
                Some(*line),
            ),
            Glass::Flame { line } => (
                self.defaults.glass_flame,
                "flame-dried glass (an assumption)",
                Some(*line),
            ),
            Glass::Glovebox => (
                self.defaults.glass_flame,
                "glass kept in a glovebox (an assumption)",
                None,
            ),
            Glass::Rinsed(_) | Glass::Drained(_) => return None,
        };
        let area = glass_area(item.capacity?).get::<uom::si::area::square_centimeter>();
        let at = match line {
            Some(line) => verb_at(self.plan, line),
            None => moment.additions.first()?.at,
        };
        Some(Source {
            kind: SourceKind::Glass,
            name: format!("the glass of {}", item.name).into(),
            at,
            water: film.map(|film| AmountOfSubstance::new::<micromole>(film * 1e-3) * area),
            oxygen: Estimate::default(),
            basis: basis.into(),
        })
    }

    /// A substance from its bottle.
    fn bottled(&self, addition: &Addition) -> Option<Source> {
        let content = &addition.content;
        let material = self.material(content);
        let substance = content.substance(&self.plan.materials)?;
        let known = SOLVENTS.iter().find(|row| row.name == substance.name());
        let name: Arc<str> = content.name(&self.plan.materials).into();
        let at = material.map_or(addition.at, |material| {
            material.identity.at.unwrap_or(At {
                line: material.line,
                span: material.key.span,
            })
        });
        // A solution knows its water: its titre is what is left.
        if material.is_some_and(|material| material.diluted) || content.aqueous {
            return None;
        }
        if content.is_liquid(&self.plan.materials) {
            let dried = material
                .is_some_and(|material| is_dried_by_a_step(self.plan, material, addition.at.line));
            return liquid(content, material, substance, known, name, at, dried);
        }
        let dried = material.is_some_and(|material| {
            clauses_before(self.plan, addition.at.line).any(|clause| dries(clause, material))
        });
        self.solid(content, material, substance, name, at, dried)
    }

    fn material(&self, content: &Content) -> Option<&'a Material> {
        match content.what {
            What::Material(index) => self.plan.materials.get(index),
            What::Named(..) => None,
        }
    }

    fn solid(
        &self,
        content: &Content,
        material: Option<&Material>,
        substance: Substance,
        name: Arc<str>,
        at: At,
        dried: bool,
    ) -> Option<Source> {
        let waters = substance
            .formula()
            .and_then(|formula| Formula::parse(formula).ok())
            .map_or(chemistry::Ratio::from_integer(0), |formula| {
                formula.crystal_water()
            });
        if waters > chemistry::Ratio::from_integer(0) {
            // Heated under vacuum it may have lost its water.
            let amount = content.amount.filter(|_| !dried)?;
            let waters = *waters.numer() as f64 / *waters.denom() as f64;
            return Some(Source {
                kind: SourceKind::Hydrate,
                name,
                at,
                water: Estimate::exact(amount * waters),
                oxygen: Estimate::default(),
                basis: "water of crystallisation".into(),
            });
        }
        let stated = material.and_then(|material| material.stated_nature(Nature::Hygroscopic));
        let share = if stated == Some(false) {
            return None;
        } else if substance.has(Tag::HygroscopicStrong) {
            defaults::STRONGLY_HYGROSCOPIC
        } else if substance.has(Tag::HygroscopicMild) || stated == Some(true) {
            defaults::MILDLY_HYGROSCOPIC
        } else {
            return None;
        };
        let said_dry = material.is_some_and(|material| {
            let mut conditions = material.conditions.iter();
            conditions.any(|(condition, _)| matches!(condition, Condition::Dry))
        });
        let kept = if dried || said_dry {
            defaults::DRIED
        } else {
            1.0
        };
        let mass = content.mass?;
        Some(Source {
            kind: SourceKind::Hygroscopic,
            name,
            at,
            water: share.map(|share| water_of(mass * share * kept)),
            oxygen: Estimate::default(),
            basis: if kept < 1.0 {
                DRIED_SOLID.into()
            } else {
                "hygroscopic, not said to be dried (an assumption)".into()
            },
        })
    }

    /// The gas of a vessel is another one after a moment.
    fn change_gas(
        &mut self,
        moment: &Moment,
        clause: &Clause,
        vessel: usize,
        before: &VesselState,
        after: &VesselState,
    ) {
        let at = at_verb(moment, clause);
        let air = self.met[vessel].air;
        let liquid = after
            .contents
            .iter()
            .any(|c| c.is_liquid(&self.plan.materials));
        let left = match (&before.gas, &after.gas) {
            (_, Gas::Air { .. }) => Estimate::exact(1.0),
            (_, Gas::Vacuum { .. }) | (Gas::Vacuum { .. }, Gas::Filled { .. }) => {
                Estimate::exact(0.0)
            }
            (_, Gas::Filled { gas, .. }) if &**gas == "the glovebox's gas" => Estimate::exact(0.0),
            (_, Gas::Filled { how, .. }) => match how {
                Filling::Cycles => air.with(cycles(clause), |air, left| air * left),
                Filling::Flame => air * 1e-3,
                Filling::Said => {
                    // Counted as five volumes (an assumption).
                    let said = self.defaults.purge_efficiency.map(|e| (-5.0 * e).exp());
                    air.with(said, |air, left| air * left)
                }
                Filling::Flow => {
                    let gas = self
                        .item(vessel)
                        .and_then(|item| gas_space(item, after, &self.plan.materials));
                    air.with(self.flow(clause, gas), |air, left| air * left)
                }
            },
        };
        if liquid {
            self.degas(clause, vessel, after);
        }
        let met = &mut self.met[vessel];
        met.air = left;
        met.gas_at = Some(at);
    }

    /// What a flow leaves of a gas: e^(−ε Q t/V), for a well-mixed vessel.
    fn flow(&self, clause: &Clause, space: Option<Volume>) -> Estimate<f64> {
        // A vessel of unknown size is taken as 100 mL (an assumption).
        let space = space.map_or(125.0, |space| space.get::<volume::milliliter>());
        let volumes = self.gas_passed(clause).map(|gas| gas / space);
        volumes.with(self.defaults.purge_efficiency, |volumes, e| {
            (-e * volumes).exp()
        })
    }

    /// Gas that a clause passes through its vessel, in mL.
    fn gas_passed(&self, clause: &Clause) -> Estimate<f64> {
        let minutes = match time(clause) {
            Some(time) => Estimate::exact(time.get::<minute>()),
            // Not written (an assumption).
            None => Estimate {
                low: 10.0,
                typical: 5.0,
                high: 2.0,
            },
        };
        let flow = clause
            .modifiers
            .iter()
            .find_map(|modifier| match &modifier.kind {
                ModifierKind::Rate(quantity) => convert::volume_rate(quantity, 0),
                _ => None,
            });
        let flow = flow.map_or(self.defaults.line_flow, |rate| {
            Estimate::exact(rate.value.get::<liter_per_minute>() * 1000.0)
        });
        minutes.with(flow, |minutes, flow| minutes * flow)
    }

    /// What sparging, freezing and pumping, or a vacuum over it leave of the oxygen in a liquid.
    fn degas(&mut self, clause: &Clause, vessel: usize, state: &VesselState) {
        let Some(liquid) = state.volume(&self.plan.materials) else {
            return;
        };
        let millilitres = liquid.get::<volume::milliliter>();
        if millilitres <= 0.0 {
            return;
        }
        let bubbles = matches!(clause.verb, Verb::Sparge | Verb::Degas)
            && !clause.senses.contains(&Sense::Cycles);
        let frozen = clause.verb == Verb::Degas && clause.senses.contains(&Sense::Cycles);
        let space = self
            .item(vessel)
            .and_then(|item| gas_space(item, state, &self.plan.materials));
        let passed = self
            .gas_passed(clause)
            .with(self.defaults.sparge_efficiency, |gas, e| {
                gas * e / millilitres
            });
        // Oxygen in a volume of air over that in a volume of toluene: about 5 for most solvents.
        let times_in_gas = 4.8;
        let left = if bubbles {
            passed.map(|volumes| (-times_in_gas * volumes).exp().max(0.005))
        } else if frozen {
            let over = space.map_or(1.0, |space| (space / liquid).value);
            let each = 1.0 / (1.0 + times_in_gas * over);
            let cycles = i32::try_from(count(clause).unwrap_or(3)).unwrap_or(i32::MAX);
            Estimate::exact(each.powi(cycles))
        } else if matches!(state.gas, Gas::Vacuum { .. })
            || matches!(
                &state.gas,
                Gas::Filled {
                    how: Filling::Cycles,
                    ..
                }
            )
        {
            // Headspace gone, the liquid in part (an assumption).
            Estimate {
                low: 0.1,
                typical: 0.3,
                high: 1.0,
            }
        } else {
            return;
        };
        for source in &mut self.met[vessel].sources {
            source.oxygen = source.oxygen.with(left, |oxygen, left| oxygen * left);
        }
    }

    /// Air that comes into an inert vessel while it is open.
    fn open(&mut self, moment: &Moment, clause: &Clause) -> Option<Source> {
        let vessel = moment.vessel;
        let before = moment.before.get(vessel)?;
        let Gas::Filled { gas, .. } = &before.gas else {
            return None;
        };
        let state = moment.after.get(vessel)?;
        if !before.is_inert() || state.glass == Glass::Glovebox {
            return None;
        }
        let opened = clause.verb == Verb::Open;
        let by_hand = matches!(clause.verb, Verb::Add | Verb::Charge)
            && !clause
                .modifiers
                .iter()
                .any(|modifier| matches!(modifier.kind, ModifierKind::Via(_)))
            && moment.additions.iter().any(|addition| {
                addition.from.is_none() && !addition.content.is_liquid(&self.plan.materials)
            });
        if !opened && !by_hand {
            return None;
        }
        let item = self.item(vessel)?;
        let space = gas_space(item, state, &self.plan.materials)?;
        let flow = by_hand
            || clause.modifiers.iter().any(|modifier| {
                matches!(&modifier.kind, ModifierKind::Under(things)
                    if things.iter().any(|t| crate::vessel::gas_name(t, &self.plan.materials).is_some()))
            });
        let rate = if gas.eq_ignore_ascii_case("argon") {
            self.defaults.opening_argon
        } else {
            self.defaults.opening_nitrogen
        };
        // Small flasks have narrow necks: 1.0 cm up to 25 mL, 2.0 cm above (an assumption).
        let narrow = item
            .capacity
            .is_some_and(|capacity| capacity <= Volume::new::<volume::milliliter>(25.0));
        let neck = if narrow { 0.5f64.powf(2.5) } else { 1.0 };
        let seconds = self.seconds_open(moment, clause, opened);
        let held = space.get::<volume::milliliter>();
        let kept_out = if flow {
            self.defaults.counter_flow
        } else {
            Estimate::exact(1.0)
        };
        let air = rate
            .with(seconds, |rate, seconds| rate * neck * seconds)
            .with(kept_out, |air, share| (air * share).min(held));
        let met = &mut self.met[vessel];
        if !opened || flow {
            met.air = met.air.with(air, |own, air| (own + air / held).min(1.0));
        }
        let basis = if flow {
            "air against a flow of gas (an assumption)"
        } else {
            "air through the open neck (an assumption)"
        };
        Some(self.air(
            SourceKind::Opening,
            format!("opening {}", item.name).into(),
            at_verb(moment, clause),
            air.map(Volume::new::<volume::milliliter>),
            basis,
        ))
    }

    /// How long a vessel stands open: as written, or 15 s for 1 g of a solid and 10 s for each further one, a minute
    /// at most (an assumption).
    fn seconds_open(&self, moment: &Moment, clause: &Clause, opened: bool) -> Estimate<f64> {
        if opened {
            return match time(clause) {
                Some(time) => Estimate::exact(time.get::<second>()),
                None => Estimate {
                    low: 10.0,
                    typical: 60.0,
                    high: f64::MAX,
                },
            };
        }
        let grams: f64 = moment
            .additions
            .iter()
            .filter_map(|addition| addition.content.mass)
            .map(|mass| mass.get::<mass::gram>())
            .sum();
        Estimate::exact((15.0 + 10.0 * (grams - 1.0).max(0.0)).min(60.0))
    }

    /// The gas that stands above a reagent as it comes in.
    fn gas_space(&self, moment: &Moment, vessel: usize) -> Option<Source> {
        let item = self.item(vessel)?;
        let state = moment.after.get(vessel)?;
        let space = gas_space(item, state, &self.plan.materials)?;
        let met = self.met.get(vessel)?;
        let air = met.air.map(|share| space * share);
        let gas = space / molar_volume(self.plan.room.temperature, atmosphere());
        let impurity = |ppm: Estimate<f64>| ppm.map(|ppm| gas * (ppm * 1e-6));
        let name = format!("the gas in {}", item.name).into();
        let at = met.gas_at.unwrap_or(moment.additions.first()?.at);
        let mut source = self.air(SourceKind::GasSpace, name, at, air, "room air that is left");
        if state.is_inert() {
            source.water = source.water + impurity(self.defaults.gas_water);
            source.oxygen = source.oxygen + impurity(self.defaults.gas_oxygen);
        }
        Some(source)
    }
}

const DRIED_SOLID: &str = "hygroscopic, dried (an assumption)";

/// A liquid that is no solution, with its water and dissolved oxygen.
fn liquid(
    content: &Content,
    material: Option<&Material>,
    substance: Substance,
    known: Option<&Solvent>,
    name: Arc<str>,
    at: At,
    dried: bool,
) -> Option<Source> {
    let conditions = material.map_or([].as_slice(), |material| material.conditions.as_slice());
    let has = |is: fn(&Condition) -> bool| conditions.iter().any(|(condition, _)| is(condition));
    let measured = conditions
        .iter()
        .find_map(|(condition, at)| match condition {
            Condition::Water(quantity) => Some((convert::share(quantity, 0)?.value.value, *at)),
            _ => None,
        });
    let doubtful = |ppm: f64| Estimate {
        low: ppm / 2.0,
        typical: ppm,
        high: ppm * 2.0,
    };
    let is_thf = substance.name() == "tetrahydrofuran";
    let over_sieves = dried || has(|c| matches!(c, Condition::Over(_)));
    let dry = has(|c| matches!(c, Condition::Dry));
    let distilled = has(|c| matches!(c, Condition::Distilled));
    let received = has(|c| matches!(c, Condition::AsReceived));
    let mut place = at;
    let source = if is_thf {
        "J. Org. Chem. 2010, 75, 8351"
    } else {
        "an assumption"
    };
    let (kind, ppm, basis) = if let Some((share, at)) = measured {
        place = at;
        let ppm = Estimate::exact(share * 1e6);
        (SourceKind::Measured, ppm, "as written".to_owned())
    } else {
        let known = known?;
        if over_sieves {
            let ppm = known.over_sieves;
            let basis = format!("about {ppm} ppm over sieves ({source})");
            (SourceKind::Dried, doubtful(ppm), basis)
        } else if distilled {
            let ppm = defaults::DISTILLED;
            let basis = format!("about {ppm} ppm distilled ({source})");
            (SourceKind::Dried, doubtful(ppm), basis)
        } else if dry {
            let ppm = known.dry;
            let basis = format!("about {ppm} ppm, as sold dry (common practice)");
            (SourceKind::Dried, doubtful(ppm), basis)
        } else {
            let kind = if received {
                SourceKind::AsReceived
            } else {
                SourceKind::Unstated
            };
            let Estimate { low, typical, high } = known.as_bought;
            let basis = format!("{low} to {high} ppm as bought, typically {typical} ({source})");
            // Only what was measured may fire a warning.
            let low = if is_thf { low } else { 0.0 };
            (
                kind,
                Estimate {
                    low,
                    ..known.as_bought
                },
                basis,
            )
        }
    };
    let mass = mass_of(content, material, substance)?;
    let degassed = has(|c| matches!(c, Condition::Degassed));
    let dissolved = known.map_or(0.0, |known| known.oxygen);
    let oxygen = content
        .volume
        .map_or(AmountOfSubstance::default(), |volume| {
            volume * uom::si::f64::MolarConcentration::new::<mole_per_cubic_meter>(dissolved)
        });
    let left = if degassed {
        defaults::OXYGEN_IF_DEGASSED
    } else if dry || over_sieves || distilled || measured.is_some() {
        defaults::OXYGEN_IF_DRY
    } else {
        Estimate {
            low: 0.0,
            ..Estimate::exact(1.0)
        }
    };
    Some(Source {
        kind,
        name,
        at: place,
        water: ppm.map(|ppm| water_of(mass * (ppm * 1e-6))),
        oxygen: left.map(|left| oxygen * left),
        basis: basis.into(),
    })
}

fn mass_of(content: &Content, material: Option<&Material>, substance: Substance) -> Option<Mass> {
    content.mass.or_else(|| {
        let density = match material {
            Some(material) => material.density.as_ref().ok()?.value,
            None => substance.density()?.value,
        };
        Some(content.volume? * density)
    })
}

fn water_of(mass: Mass) -> AmountOfSubstance {
    // 18.015 g/mol: CIAAW standard atomic weights, abridged.
    AmountOfSubstance::new::<mole>(mass.get::<mass::gram>() / 18.015)
}

/// Which part of a vessel's contents an addition from it is.
fn part_of(state: &VesselState, moved: &Content, materials: &[Material]) -> Option<f64> {
    let held = state
        .contents
        .iter()
        .find(|held| held.name(materials) == moved.name(materials))?;
    let part = match (moved.volume, held.volume) {
        (Some(moved), Some(held)) if held > Volume::default() => (moved / held).value,
        _ => match (moved.amount, held.amount) {
            (Some(moved), Some(held)) if held > AmountOfSubstance::default() => {
                (moved / held).value
            }
            _ => return None,
        },
    };
    Some(part.clamp(0.0, 1.0))
}

fn clauses_before(plan: &Plan, line: u32) -> impl Iterator<Item = &Clause> {
    crate::takes::steps(&plan.text)
        .take_while(move |(index, _)| *index < line)
        .flat_map(|(_, step)| &step.clauses)
}

fn names(clause: &Clause, material: &Material) -> bool {
    let mut things = clause.objects.iter();
    things.any(|thing| thing.referent == Referent::Key(material.id))
}

/// `dry salt under vacuum at 80 °C for 2 h`: at least an hour at 40 °C or more; or `coevaporate salt with toluene`.
fn dries(clause: &Clause, material: &Material) -> bool {
    let long = || time(clause).is_some_and(|time| time >= Time::new::<hour>(1.0));
    let mut modifiers = clause.modifiers.iter();
    let warm = modifiers.any(|modifier| match &modifier.kind {
        ModifierKind::Temperature(_, syntax::TemperatureValue::Quantity(quantity)) => {
            convert::temperature(quantity).is_some_and(|t| t.get::<degree_celsius>() >= 40.0)
        }
        _ => false,
    });
    let done = match clause.verb {
        Verb::Coevaporate => true,
        Verb::Dry | Verb::Bake | Verb::Heat => warm && long(),
        _ => false,
    };
    done && names(clause, material)
}

/// `dry thf over 3 Å sieves for 24 h`, `distil thf`, above a line of the plan.
#[must_use]
pub fn is_dried_by_a_step(plan: &Plan, material: &Material, line: u32) -> bool {
    clauses_before(plan, line)
        .any(|clause| matches!(clause.verb, Verb::Dry | Verb::Distil) && names(clause, material))
}

/// What evacuating and refilling leaves: (p/p₀)ⁿ. Three cycles and 10 mbar, where nothing is written (an assumption).
fn cycles(clause: &Clause) -> Estimate<f64> {
    let n = i32::try_from(count(clause).unwrap_or(3)).unwrap_or(i32::MAX);
    let low = clause
        .modifiers
        .iter()
        .find_map(|modifier| match &modifier.kind {
            ModifierKind::Pressure(_, quantity) => convert::pressure(quantity, 0),
            _ => None,
        });
    let low = match low {
        Some(low) => Estimate::exact(low.value.get::<pascal>()),
        None => Estimate {
            low: 100.0,
            typical: 1000.0,
            high: 5000.0,
        },
    };
    low.map(|low| (low / atmosphere().get::<pascal>()).min(1.0).powi(n))
}

fn count(clause: &Clause) -> Option<u32> {
    clause
        .modifiers
        .iter()
        .find_map(|modifier| match modifier.kind {
            ModifierKind::Count(CountKind::Cycles | CountKind::Times, n) => Some(n),
            _ => None,
        })
}

/// `for 5 min`, `overnight` (16 h).
fn time(clause: &Clause) -> Option<Time> {
    clause
        .modifiers
        .iter()
        .find_map(|modifier| match &modifier.kind {
            ModifierKind::Time(TimeKind::Overnight, _) => Some(Time::new::<hour>(16.0)),
            ModifierKind::Time(_, Some(quantity)) => {
                convert::time(quantity, 0).map(|known| known.value)
            }
            _ => None,
        })
}

fn is_syringe(kind: &ModifierKind) -> bool {
    matches!(kind, ModifierKind::Via(things)
        if things.iter().any(|thing| thing.name.text.contains("syringe")))
}

fn clause<'a>(plan: &'a Plan, moment: &Moment) -> Option<&'a Clause> {
    match &plan.text.lines.get(moment.line as usize)?.statement {
        Statement::Step(step) => step.clauses.get(moment.clause),
        _ => None,
    }
}

fn at_verb(moment: &Moment, clause: &Clause) -> At {
    At {
        line: moment.line,
        span: clause.verb_span,
    }
}

/// The first verb of a line.
fn verb_at(plan: &Plan, line: u32) -> At {
    let span = match plan
        .text
        .lines
        .get(line as usize)
        .map(|line| &line.statement)
    {
        Some(Statement::Step(step)) => step.clauses.first().map(|clause| clause.verb_span),
        _ => None,
    };
    At {
        line,
        span: span.unwrap_or_default(),
    }
}
