//! The state of every vessel after every step.
//!
//! A step that the simulation cannot follow leaves its vessel's contents marked `unclear`, and what is
//! unclear is not spoken of: a volume after a work-up step is unknown, not wrong.

mod contents;
mod course;
mod simulation;
mod surroundings;
mod temperature;
#[cfg(test)]
mod tests;

pub(crate) use course::{Course, Earlier};
pub(crate) use simulation::{Simulation, leaves_unclear};
pub use temperature::cold_bath;

use crate::known::At;
use crate::material::Material;
use chemistry::{ReagentClass, State, Substance, Tag};
use std::fmt;
use std::ops::Deref;
use std::sync::Arc;
use syntax::{EquipmentKind, KeyId, ModifierKind, PlanText, Referent, Statement, Thing, Verb};
use uom::si::f64::{AmountOfSubstance, Mass, ThermodynamicTemperature, Volume};
use uom::si::thermodynamic_temperature::degree_celsius;

/// A line of equipment, or the flask that a plan without one is carried out in.
#[derive(Clone, Debug, PartialEq)]
pub struct Apparatus {
    /// Its key; none for the flask that is not listed.
    pub id: Option<KeyId>,
    /// The key as written, or `the flask`.
    pub name: Arc<str>,
    /// Its line, if it has one.
    pub line: Option<u32>,
    /// What it can do.
    pub kind: EquipmentKind,
    /// What it holds, if one size is written.
    pub capacity: Option<Volume>,
    /// Its description.
    pub text: Arc<str>,
    /// The same in lower case, to look for words in.
    pub lower: Arc<str>,
    /// The last word of its head, in lower case: `flask`, `bar`.
    pub head: Arc<str>,
}

/// The state of a piece of equipment.
#[derive(Clone, Debug)]
pub struct VesselState {
    /// What is in it.
    pub contents: Contents,
    /// A step was taken that the simulation cannot follow: amounts and volume are unknown from here.
    pub unclear: bool,
    /// How dry the glass is, and why.
    pub glass: Glass,
    /// The line of a step that dries the glass at a temperature that leaves its film of water.
    pub dried_too_cool: Option<u32>,
    /// What gas is in it.
    pub gas: Gas,
    /// Open, closed or vented.
    pub opening: Opening,
    /// Temperature of the contents: what a step says, at reflux the boiling point of the lowest-boiling solvent.
    pub temperature: ThermodynamicTemperature,
    /// False where a step changed the temperature to one that the plan does not tell; `temperature` is the last known.
    pub temperature_known: bool,
    /// The line of the step since which what water destroys is taken to be gone from it: a quench, an
    /// addition of water or of a solution in it, a wash or an extraction.
    pub quenched: Option<u32>,
    /// Vessels that it was assembled with share its gas.
    pub joined: Vec<usize>,
}

/// What is in a vessel, shared by the states between which nothing came or went.
#[derive(Clone, Default)]
pub struct Contents(Arc<[Content]>);

/// Something in a vessel: all portions of it together.
#[derive(Clone, Debug)]
pub struct Content {
    /// What it is.
    pub what: What,
    /// How much, if known.
    pub amount: Option<AmountOfSubstance>,
    /// Its volume, if it is a liquid of known volume.
    pub volume: Option<Volume>,
    /// Its mass, if known.
    pub mass: Option<Mass>,
    /// A solution in water.
    pub aqueous: bool,
    /// The line of the step that brought its first portion in.
    pub line: u32,
}

/// A substance in a vessel.
#[derive(Clone, Debug)]
pub enum What {
    /// A line of the plan, by its place in `Plan::materials`.
    Material(usize),
    /// A substance by name.
    Named(Arc<str>, Option<Substance>),
}

/// How dry glass is.
#[derive(Clone, Debug, PartialEq)]
pub enum Glass {
    /// The plan does not say.
    Unknown,
    /// Wet with what it was rinsed with.
    Rinsed(Rinse),
    /// Rinsed, and drained.
    Drained(Rinse),
    /// Rinsed, and then left in air, blown out with gas or evacuated: no liquid is left on it.
    AirDried,
    /// Dried in an oven.
    Oven {
        /// The line.
        line: u32,
    },
    /// Dried by flame.
    Flame {
        /// The line.
        line: u32,
    },
    /// Kept in a glovebox.
    Glovebox,
}

/// What glass was rinsed with.
#[derive(Clone, Debug, PartialEq)]
pub struct Rinse {
    /// The line.
    pub line: u32,
    /// The last solvent's name.
    pub solvent: Arc<str>,
    /// Its row.
    pub substance: Option<Substance>,
    /// The glass was known to be dry before.
    pub was_dry: bool,
}

/// The gas in a vessel.
#[derive(Clone, Debug, PartialEq)]
pub enum Gas {
    /// Room air, as far as the plan says.
    Air {
        /// The plan says so (`open flask`, `in air`).
        said: bool,
        /// The line that says so.
        line: Option<u32>,
    },
    /// A gas that the plan names.
    Filled {
        /// Its name.
        gas: Arc<str>,
        /// How it got there.
        how: Filling,
        /// The line.
        line: u32,
    },
    /// Under vacuum.
    Vacuum {
        /// The line.
        line: u32,
    },
}

/// How a gas got into a vessel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Filling {
    /// Purged by flow, sparged, or filled after evacuating.
    Flow,
    /// Evacuated and refilled.
    Cycles,
    /// Flame-dried under it.
    Flame,
    /// `under argon`, and nothing else.
    Said,
}

/// Whether gas can get out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Opening {
    /// The plan does not say.
    Unsaid,
    /// Opened.
    Open,
    /// Vented through a bubbler or needle.
    Vented,
    /// Sealed or stoppered.
    Closed {
        /// The line.
        line: u32,
    },
}

/// One clause of the steps, simulated.
#[derive(Clone, Debug)]
pub struct Moment {
    /// The line.
    pub line: u32,
    /// Which clause of the line.
    pub clause: usize,
    /// The vessel that the clause is about.
    pub vessel: usize,
    /// What it brought into the vessel.
    pub additions: Vec<Addition>,
    /// Every piece of equipment before it.
    pub before: States,
    /// Every piece of equipment after it.
    pub after: States,
    /// The largest volume in the vessel during the clause, if known.
    pub peak: Option<Volume>,
    /// The clause brings something in or passes a gas, names no vessel, and which of several it means is not determined:
    /// the first was taken.
    pub unsure: bool,
    /// It is done in the glovebox.
    pub glovebox: bool,
}

/// The states of all equipment at one time; shared where nothing happened in between.
pub type States = Arc<[Arc<VesselState>]>;

/// Something that a clause brought into its vessel.
#[derive(Clone, Debug)]
pub struct Addition {
    /// What and how much.
    pub content: Content,
    /// Where the step names it.
    pub at: At,
    /// The vessel it came from; none for a bottle.
    pub from: Option<usize>,
}

impl VesselState {
    fn new(room: ThermodynamicTemperature) -> Self {
        VesselState {
            contents: Contents::default(),
            unclear: false,
            glass: Glass::Unknown,
            dried_too_cool: None,
            gas: Gas::Air {
                said: false,
                line: None,
            },
            opening: Opening::Unsaid,
            temperature: room,
            temperature_known: true,
            quenched: None,
            joined: Vec::new(),
        }
    }

    /// Volume of the liquids, none when it cannot be told.
    #[must_use]
    pub fn volume(&self, materials: &[Material]) -> Option<Volume> {
        if self.unclear {
            return None;
        }
        let mut sum = Volume::default();
        for content in &self.contents {
            match content.volume {
                Some(volume) => sum += volume,
                None if content.is_liquid(materials) => return None,
                None => {}
            }
        }
        Some(sum)
    }

    /// Volume of those liquids whose volume is known, none when it is unclear what is left of them.
    #[must_use]
    pub fn least_volume(&self) -> Option<Volume> {
        let known = self.contents.iter().filter_map(|content| content.volume);
        (!self.unclear).then(|| known.fold(Volume::default(), |sum, volume| sum + volume))
    }

    /// Temperature of the contents, where the plan tells it.
    #[must_use]
    pub fn known_temperature(&self) -> Option<ThermodynamicTemperature> {
        self.temperature_known.then_some(self.temperature)
    }

    /// Whether the glass is known to be dry.
    #[must_use]
    pub fn is_dry(&self) -> bool {
        matches!(
            self.glass,
            Glass::Oven { .. } | Glass::Flame { .. } | Glass::Glovebox
        )
    }

    /// Whether the plan says how its air was removed.
    #[must_use]
    pub fn is_inert(&self) -> bool {
        match &self.gas {
            Gas::Air { .. } => false,
            Gas::Vacuum { .. } => true,
            Gas::Filled { gas, .. } => !matches!(&**gas, "air" | "oxygen"),
        }
    }
}

impl Contents {
    /// All of them, in the order in which they came.
    #[must_use]
    pub fn as_slice(&self) -> &[Content] {
        &self.0
    }

    /// Whether a line of the plan is among them.
    fn has(&self, material: usize) -> bool {
        let is = |content: &Content| matches!(content.what, What::Material(own) if own == material);
        self.iter().any(is)
    }

    /// Adds a portion to what is there of the same thing.
    fn put(&mut self, portion: Content) {
        match self.iter().position(|held| held.is_of(&portion)) {
            Some(place) => {
                if let Some(held) = Arc::make_mut(&mut self.0).get_mut(place) {
                    held.grow(&portion);
                }
            }
            None => *self = self.iter().cloned().chain([portion]).collect(),
        }
    }
}

impl Deref for Contents {
    type Target = [Content];

    fn deref(&self) -> &[Content] {
        &self.0
    }
}

impl<'a> IntoIterator for &'a Contents {
    type Item = &'a Content;
    type IntoIter = std::slice::Iter<'a, Content>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl FromIterator<Content> for Contents {
    fn from_iter<I: IntoIterator<Item = Content>>(contents: I) -> Self {
        Contents(contents.into_iter().collect())
    }
}

impl fmt::Debug for Contents {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl Content {
    /// The library's row.
    #[must_use]
    pub fn substance(&self, materials: &[Material]) -> Option<Substance> {
        match &self.what {
            What::Material(index) => materials.get(*index)?.identity.substance,
            What::Named(_, substance) => *substance,
        }
    }

    /// Whether it is a liquid, as far as can be told.
    #[must_use]
    pub fn is_liquid(&self, materials: &[Material]) -> bool {
        match &self.what {
            What::Material(index) => {
                self.aqueous && self.volume.is_some()
                    || materials.get(*index).is_some_and(Material::is_liquid)
            }
            What::Named(_, substance) => {
                self.volume.is_some() || substance.and_then(Substance::state) == Some(State::Liquid)
            }
        }
    }

    /// Whether it is water or a solution in water.
    #[must_use]
    pub fn is_aqueous(&self, materials: &[Material]) -> bool {
        let water = |substance: Option<Substance>| {
            substance.and_then(Substance::class) == Some(ReagentClass::Water)
        };
        self.aqueous
            || water(self.substance(materials))
            || self.parts(materials).any(|(s, _)| water(s))
    }

    /// Whether it is water, an alcohol, an acid or a solution in one of them.
    #[must_use]
    pub fn is_protic(&self, materials: &[Material]) -> bool {
        let protic = |substance: Option<Substance>| substance.is_some_and(|s| s.has(Tag::Protic));
        self.is_aqueous(materials)
            || protic(self.substance(materials))
            || self
                .parts(materials)
                .any(|(substance, _)| protic(substance))
    }

    /// The parts of a mixture, with their shares by volume; none of a pure substance.
    pub fn parts<'a>(
        &self,
        materials: &'a [Material],
    ) -> impl Iterator<Item = (Option<Substance>, f64)> + 'a {
        let material = match &self.what {
            What::Material(index) => materials.get(*index),
            What::Named(..) => None,
        };
        let parts = material.map_or([].as_slice(), |material| {
            material.identity.mixture.as_slice()
        });
        parts.iter().map(|part| (part.substance, part.share))
    }

    /// The key or name, for messages.
    #[must_use]
    pub fn name<'a>(&'a self, materials: &'a [Material]) -> &'a str {
        match &self.what {
            What::Material(index) => materials
                .get(*index)
                .map_or("it", |material| &material.key.text),
            What::Named(name, _) => name,
        }
    }

    /// Whether a portion of this and of that are portions of the same thing.
    fn is_of(&self, other: &Content) -> bool {
        let same = match (&self.what, &other.what) {
            (What::Material(own), What::Material(other)) => own == other,
            (What::Named(own, _), What::Named(other, _)) => own == other,
            _ => false,
        };
        same && self.aqueous == other.aqueous
    }

    /// With another portion, unknown where one of the two is.
    fn grow(&mut self, portion: &Content) {
        fn sum<Q: std::ops::Add<Output = Q>>(own: Option<Q>, other: Option<Q>) -> Option<Q> {
            Some(own? + other?)
        }
        self.amount = sum(self.amount, portion.amount);
        self.volume = sum(self.volume, portion.volume);
        self.mass = sum(self.mass, portion.mass);
    }

    fn share(&self, part: f64) -> Content {
        Content {
            what: self.what.clone(),
            amount: self.amount.map(|amount| amount * part),
            volume: self.volume.map(|volume| volume * part),
            mass: self.mass.map(|mass| mass * part),
            aqueous: self.aqueous,
            line: self.line,
        }
    }
}

/// The equipment of a plan, and the vessels that its steps name and it does not list; the first item is never missing.
#[must_use]
pub fn apparatus(text: &PlanText) -> Vec<Apparatus> {
    equipment(text).0
}

/// The same, and the words that are no key and mean an item of it all the same.
pub(crate) fn equipment<'a>(text: &'a PlanText) -> (Vec<Apparatus>, Vec<(&'a str, usize)>) {
    let mut items: Vec<Apparatus> = Vec::new();
    for (line, index) in text.lines.iter().zip(0u32..) {
        let Statement::Equipment(equipment) = &line.statement else {
            continue;
        };
        let capacity = match equipment.sizes.as_slice() {
            [one] => crate::convert::volume(one, index).map(|known| known.value),
            _ => None,
        };
        items.push(Apparatus {
            id: crate::find_key(text, &equipment.key.text),
            name: equipment.key.text.as_ref().into(),
            line: Some(index),
            kind: equipment.kind,
            capacity,
            text: equipment.text.text.as_ref().into(),
            lower: lower_case(&equipment.text.text),
            head: lower_case(&equipment.head),
        });
    }
    let mut words = Vec::new();
    let written = unlisted(text);
    let names: Vec<&str> = written.iter().map(|name| plain(name)).collect();
    for (&name, written) in names.iter().zip(written) {
        let slip = misspelt(text, &items, name);
        if slip.is_none() && described(&names, name).is_none() {
            items.push(Apparatus::unlisted(name, written));
        }
        words.push((name, slip));
    }
    let has_vessel =
        |items: &[Apparatus]| items.iter().any(|item| item.kind == EquipmentKind::Vessel);
    // A plan with one vial and no flask is carried out in the vial.
    if !has_vessel(&items) {
        let is_vial = |item: &&mut Apparatus| item.head.eq_ignore_ascii_case("vial");
        let mut vials = items.iter_mut().filter(is_vial);
        if let (Some(only), None) = (vials.next(), vials.next()) {
            only.kind = EquipmentKind::Vessel;
        }
    }
    if !has_vessel(&items) {
        items.push(Apparatus {
            id: None,
            name: "the flask".into(),
            line: None,
            kind: EquipmentKind::Vessel,
            capacity: None,
            text: "".into(),
            lower: "".into(),
            head: "flask".into(),
        });
    }
    let meant = |(name, slip): (&'a str, Option<usize>)| {
        let called = slip.map_or_else(|| described(&names, name), |_| None);
        let called = called.unwrap_or(name);
        let own = |item: &Apparatus| item.id.is_none() && *item.name == *called;
        Some((name, items.iter().position(own).or(slip)?))
    };
    let words = words.into_iter().filter_map(meant).collect();
    (items, words)
}

fn lower_case(text: &str) -> Arc<str> {
    if !text.is_ascii() {
        return text.to_lowercase().into();
    }
    let mut lower: Arc<str> = text.into();
    Arc::make_mut(&mut lower).make_ascii_lowercase();
    lower
}

/// Words for vessels.
const HEADS: [&str; 8] = [
    "flask", "tube", "reactor", "vial", "funnel", "trap", "bottle", "beaker",
];

impl Apparatus {
    /// A vessel of which there is only a name, and how the plan first writes it.
    fn unlisted(name: &str, written: &str) -> Apparatus {
        let lower = name.to_lowercase();
        let head = HEADS.into_iter().find(|head| lower.contains(head));
        // Where a sample goes no reaction is carried out.
        let sample = ["nmr ", "test "].iter().any(|what| lower.contains(what));
        let text = match head {
            Some("funnel") if lower.starts_with("sep") => "separating funnel",
            Some(_) if written.contains("dried") => written,
            head => head.unwrap_or_default(),
        };
        Apparatus {
            id: None,
            name: name.into(),
            line: None,
            kind: match head {
                None | Some("flask" | "tube" | "reactor") if !sample => EquipmentKind::Vessel,
                _ => EquipmentKind::Holder,
            },
            capacity: None,
            text: text.into(),
            lower: lower_case(text),
            head: head.unwrap_or("flask").into(),
        }
    }
}

/// Words that place lines or steps name as a vessel, and that are no key: a place, where things go, and what is handled.
/// What is only poured out of has never been filled.
fn unlisted<'a>(text: &'a PlanText) -> Vec<&'a str> {
    const MOST: usize = 8;
    let mut names: Vec<&str> = Vec::new();
    let mut note = |thing: &'a Thing| {
        // Every vessel has a state after every step, so that very many of them would cost much.
        if thing.referent != Referent::Unknown || names.len() >= MOST {
            return;
        }
        let name = &*thing.name.text;
        if !names.iter().any(|other| is_same_vessel(other, name)) {
            names.push(name);
        }
    };
    let is_vessel =
        |thing: &Thing| thing.referent == Referent::Unknown && head(&thing.name.text).is_some();
    for line in &text.lines {
        match &line.statement {
            Statement::Place(place) => {
                if let Some(thing) = &place.thing {
                    note(thing);
                }
            }
            Statement::Step(step) => {
                for clause in &step.clauses {
                    let moves = matches!(
                        clause.verb,
                        Verb::Transfer
                            | Verb::Pour
                            | Verb::Decant
                            | Verb::Filter
                            | Verb::Add
                            | Verb::Rinse
                    );
                    for modifier in &clause.modifiers {
                        match &modifier.kind {
                            ModifierKind::To(things) => {
                                let goes = |thing: &&Thing| {
                                    thing.portions.is_empty() && (moves || is_vessel(thing))
                                };
                                things.iter().filter(goes).for_each(&mut note);
                            }
                            ModifierKind::Place(thing) => note(thing),
                            _ => {}
                        }
                    }
                    if !moves {
                        let held = clause.objects.iter();
                        // `open the bottle` is of one that the stock has, which is not empty.
                        let of_stock = |thing: &Thing| head(&thing.name.text) == Some("bottle");
                        held.filter(|thing| is_vessel(thing) && !of_stock(thing))
                            .for_each(&mut note);
                    }
                }
            }
            _ => {}
        }
    }
    names
}

/// Words for the state of a vessel, which are no part of its name.
fn is_of_state(word: &str) -> bool {
    const STATES: [&str; 10] = [
        "dry",
        "clean",
        "oven-dried",
        "flame-dried",
        "tared",
        "preweighed",
        "pre-weighed",
        "capped",
        "small",
        "large",
    ];
    STATES.iter().any(|state| word.eq_ignore_ascii_case(state))
}

/// A vessel's name without the words for its state in front: `Schlenk tube` of `dry Schlenk tube`.
fn plain(name: &str) -> &str {
    match name.split_once(' ') {
        Some((first, rest)) if is_of_state(first) && rest.contains(' ') => plain(rest),
        _ => name,
    }
}

/// Whether two names are of one vessel: `second flask` and `second flame-dried flask`. `clean flask` is not `flask`.
pub(crate) fn is_same_vessel(a: &str, b: &str) -> bool {
    if a.eq_ignore_ascii_case(b) {
        return true;
    }
    let words = |name: &'_ str| name.split(' ').filter(|word| !is_of_state(word)).count();
    let mut own = a.split(' ').filter(|word| !is_of_state(word));
    let mut other = b.split(' ').filter(|word| !is_of_state(word));
    words(a) > 1
        && words(a) == words(b)
        && own.all(|word| {
            other
                .next()
                .is_some_and(|other| word.eq_ignore_ascii_case(other))
        })
}

/// What a bare word is called elsewhere, if one name alone ends in it: `Schlenk tube` of `tube`.
fn described<'a>(names: &[&'a str], name: &str) -> Option<&'a str> {
    head(name).filter(|_| !name.contains(' '))?;
    let fuller = |other: &&&str| other.contains(' ') && head(other) == head(name);
    let mut fuller = names.iter().filter(fuller);
    match (fuller.next(), fuller.next()) {
        (Some(only), None) => Some(only),
        _ => None,
    }
}

/// The vessel that words end in: `tube` of `Schlenk tube`.
fn head(words: &str) -> Option<&'static str> {
    let last = words.rsplit(' ').next()?;
    HEADS
        .into_iter()
        .find(|head| last.eq_ignore_ascii_case(head))
}

/// The item whose key is meant by a word that is used once. `vialA` beside `vialB` is another vial, and no slip.
fn misspelt(text: &PlanText, items: &[Apparatus], name: &str) -> Option<usize> {
    const SHORT: usize = 4;
    let stem = |word: &str| {
        let mut letters = word.chars();
        letters.next_back();
        letters.as_str().to_lowercase()
    };
    let most = if name.len() > SHORT { 2 } else { 1 };
    let lower = name.to_lowercase();
    let letters = lower.chars().count();
    let mut near = items.iter().enumerate().filter(|(_, item)| {
        let other = &item.name;
        // The distance is no less than the difference of the lengths.
        let far = other.is_ascii() && other.len().abs_diff(letters) > most;
        if far || item.id.is_none() || item.kind == EquipmentKind::Tool {
            return false;
        }
        let distance = strsim::osa_distance(&lower, &other.to_lowercase());
        distance <= most && (stem(name) != stem(other) || distance == 0)
    });
    match (near.next(), near.next()) {
        (Some((index, _)), None) => Some(index),
        _ => None,
    }
    .filter(|_| text.text.matches(name).nth(1).is_none())
}

/// The gas that a thing names, if it is one.
#[must_use]
pub fn gas_name(thing: &Thing, materials: &[Material]) -> Option<Arc<str>> {
    match &thing.referent {
        Referent::Gas { .. } => Some(by_its_name(&thing.name.text).into()),
        Referent::Key(id) => {
            let material = materials.iter().find(|material| material.id == *id)?;
            let substance = material.identity.substance?;
            (substance.state() == Some(State::Gas)).then(|| substance.name().into())
        }
        _ => None,
    }
}

/// `hydrogen` for `H2`: gases are compared by their names.
fn by_its_name(gas: &str) -> &str {
    const NAMES: &[(&str, &str)] = &[
        ("N2", "nitrogen"),
        ("dry nitrogen", "nitrogen"),
        ("Ar", "argon"),
        ("dry argon", "argon"),
        ("H2", "hydrogen"),
        ("O2", "oxygen"),
        ("He", "helium"),
        ("CO", "carbon monoxide"),
        ("CO2", "carbon dioxide"),
    ];
    let mut names = NAMES.iter();
    let found = names.find(|(written, _)| gas.eq_ignore_ascii_case(written));
    found.map_or(gas, |(_, name)| name)
}

/// A temperature in °C, for messages.
#[must_use]
pub fn celsius(t: ThermodynamicTemperature) -> f64 {
    t.get::<degree_celsius>()
}
