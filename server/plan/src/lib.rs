//! From the typed view of a plan to what it means: resolved materials, the ledger of their amounts, the
//! state of every vessel after every step, and rescaling.
//!
//! Nothing here fails: what cannot be determined is a [`Gap`] with its reason.

pub mod actuals;
pub mod budget;
mod context;
pub mod convert;
pub mod digits;
pub mod equation;
mod identity;
pub mod inventory;
mod known;
mod ledger;
mod material;
pub mod measuring;
pub mod rescale;
pub mod runs;
pub mod settings;
pub mod show;
mod tables;
pub mod takes;
pub mod time;
pub mod tools;
pub mod vessel;

pub use context::{Context, Date};
pub use identity::{CasNumber, Composition, Identity, Part, one};
pub use known::{At, Computed, Determined, Gap, Known, Origin, unity};
pub use ledger::{Amounts, Ledger, ScaleAmount, none_of};
pub use material::{Basis, Bottle, Material, NamedBottle, Resolved};
pub use tables::{Kept, Problem};

use equation::{Balance, Equation};
use ledger::Reckoner;
use std::ops::Range;
use std::sync::{Arc, OnceLock};
use syntax::{KeyId, PlanText, Quantity, Span, Statement, Text};
use uom::si::f64::{Ratio, ThermodynamicTemperature};
use uom::si::ratio::percent;
use uom::si::thermodynamic_temperature::degree_celsius;
use vessel::{Apparatus, Course, Earlier, Moment, Simulation};

/// A plan, worked out.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The text that it was read from.
    pub text: Arc<PlanText>,
    /// What it was read against.
    pub context: Context,
    /// `plan TITLE`
    pub title: Option<Text>,
    /// Lines of materials and products, in the order of the text.
    pub materials: Vec<Material>,
    /// The amounts of each.
    pub ledger: Ledger,
    /// `reaction`, if there is one.
    pub equation: Option<Equation>,
    /// The room.
    pub room: Room,
    /// Equipment; the flask that a plan without equipment needs is its last item.
    pub apparatus: Vec<Apparatus>,
    /// Every clause of the steps, with the vessels before and after it.
    pub moments: Vec<Moment>,
    lines_of_keys: takes::LinesOfKeys,
    balance: OnceLock<Balance>,
    course: Course,
}

/// What a plan after an edit takes over from the same plan before it.
#[derive(Debug, Default)]
pub struct Before {
    materials: Vec<Material>,
    ledger: Option<Ledger>,
    equation: Option<Equation>,
    balance: OnceLock<Balance>,
    room: Option<Room>,
    apparatus: Vec<Apparatus>,
    moments: Vec<Moment>,
    course: Course,
    /// How many lines are the same from the first on.
    kept: usize,
}

/// The air of the room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    /// `room 21 °C`; 21 °C unless written.
    pub temperature: ThermodynamicTemperature,
    /// Relative humidity; 50 % unless written.
    pub humidity: Ratio,
}

impl Plan {
    /// Works out a plan, without an inventory.
    #[must_use]
    pub fn new(text: Arc<PlanText>) -> Plan {
        Plan::with_context(text, &Context::default())
    }

    /// Works out a plan against its surroundings.
    #[must_use]
    pub fn with_context(text: Arc<PlanText>, context: &Context) -> Plan {
        Plan::again(text, context, &mut Before::default())
    }

    /// The text, and what the plan after an edit may take over.
    #[must_use]
    pub fn leave(self) -> (Arc<PlanText>, Before) {
        let before = Before {
            materials: self.materials,
            ledger: Some(self.ledger),
            equation: self.equation,
            balance: self.balance,
            room: Some(self.room),
            apparatus: self.apparatus,
            moments: self.moments,
            course: self.course,
            kept: self.text.lines.len(),
        };
        (self.text, before)
    }

    /// Works out a plan after edits, against the same surroundings: a line that was not read again is what it was, and
    /// steps before the edits go as they went. It comes to the same as [`Plan::with_context`].
    #[must_use]
    pub fn again(text: Arc<PlanText>, context: &Context, before: &mut Before) -> Plan {
        let mut materials = Vec::with_capacity(text.keys.len());
        let mut title = None;
        let mut scale = None;
        let mut reaction = None;
        let mut room = Room {
            temperature: ThermodynamicTemperature::new::<degree_celsius>(21.0),
            humidity: Ratio::new::<percent>(50.0),
        };
        for (line, index) in text.lines.iter().zip(0u32..) {
            match &line.statement {
                Statement::Plan(text) => title.clone_from(text),
                // The first of each rules; a second one is a finding.
                Statement::Scale(found) if scale.is_none() => scale = Some((index, found)),
                Statement::Reaction(found) if reaction.is_none() => reaction = Some((index, found)),
                Statement::Room(quantities) => {
                    for quantity in quantities {
                        if let Some(t) = convert::temperature(quantity) {
                            room.temperature = t;
                        } else if let Some(share) = convert::share(quantity, index) {
                            room.humidity = share.value;
                        }
                    }
                }
                Statement::Entry(entry) => {
                    if let Some(id) = key_on_line(&text, index) {
                        let unread = has_unread_number(line);
                        let same = before
                            .materials
                            .iter()
                            .find(|known| known.is_of(id, index, entry, unread));
                        materials.push(match same {
                            Some(known) => known.clone(),
                            None => Material::resolve(id, index, entry, unread, context),
                        });
                    }
                }
                _ => {}
            }
        }
        let same_materials = before.has(&materials);
        let (equation, balance, same_equation) = match before.equation(same_materials) {
            Some((equation, balance)) => (Some(equation), balance, true),
            None => {
                let resolve = |(line, reaction)| Equation::resolve(line, reaction, &materials);
                let neither = reaction.is_none() && before.equation.is_none();
                (reaction.map(resolve), OnceLock::new(), neither)
            }
        };
        let lines_of_keys = takes::LinesOfKeys::of(&text);
        let reckoner = || {
            Reckoner::new(
                &text,
                &materials,
                equation.as_ref(),
                &lines_of_keys,
                room.temperature,
            )
        };
        let ledger = reckoner().reckon(scale);
        let (apparatus, words) = vessel::equipment(&text);
        let (moments, course) = {
            let base = Base {
                same_materials,
                same_equation,
                ledger: &ledger,
                room: &room,
                apparatus: &apparatus,
            };
            let earlier = before.earlier(&base);
            let reckoner = reckoner().with_scale(ledger.scale.as_ref());
            Simulation::new(
                reckoner,
                &ledger.amounts,
                &apparatus,
                words,
                room.temperature,
            )
            .run(earlier)
        };
        Plan {
            context: context.clone(),
            title,
            ledger,
            equation,
            room,
            apparatus,
            moments,
            materials,
            lines_of_keys,
            balance,
            course,
            text,
        }
    }

    /// What the balance of its equation comes to, if it has one.
    #[must_use]
    pub fn balance(&self) -> Option<&Balance> {
        let equation = self.equation.as_ref()?;
        Some(self.balance.get_or_init(|| equation.balance()))
    }

    /// Reads and works out one plan, without an inventory.
    #[must_use]
    pub fn read(text: &str) -> Plan {
        Plan::new(Arc::new(syntax::read_plan(text)))
    }

    /// The material or product of a key.
    #[must_use]
    pub fn material(&self, key: KeyId) -> Option<(&Material, &Amounts)> {
        let index = self
            .materials
            .iter()
            .position(|material| material.id == key)?;
        Some((self.materials.get(index)?, self.ledger.amounts.get(index)?))
    }

    /// The scale's quantity as written, with its line.
    #[must_use]
    pub fn scale_quantity(&self) -> Option<(u32, &Quantity)> {
        self.text
            .lines
            .iter()
            .zip(0u32..)
            .find_map(|(line, index)| match &line.statement {
                Statement::Scale(scale) => {
                    scale.quantity.as_ref().map(|quantity| (index, quantity))
                }
                _ => None,
            })
    }

    /// An amount, mass or volume of the scale's material over what the scale is now.
    ///
    /// # Errors
    /// Why it could not be converted, in plain words.
    pub fn ratio_to_scale(&self, quantity: &Quantity) -> Result<f64, String> {
        let scale = self.ledger.scale.as_ref().ok_or("the plan has no scale")?;
        let now = scale.amount.as_ref().map_err(ToString::to_string)?;
        let wanted = ledger::basis_of(quantity, scale.at.line)
            .ok_or("the new scale must be an amount, a mass or a volume")?;
        let (material, _) = scale
            .key
            .and_then(|key| self.material(key))
            .ok_or("the scale names no line of materials or products")?;
        let reckoner = Reckoner::new(
            &self.text,
            &self.materials,
            self.equation.as_ref(),
            &self.lines_of_keys,
            self.room.temperature,
        );
        let amounts = reckoner.complete(material, wanted);
        let now_of_material = if material.product {
            let (_, amounts) = self
                .material(material.id)
                .ok_or("the product has no amount")?;
            match &amounts.expected {
                Some((_, Ok(expected))) => expected.value,
                _ => amounts.amount.as_ref().map_err(ToString::to_string)?.value,
            }
        } else {
            now.value
        };
        let wanted = amounts.amount.map_err(|gap| gap.to_string())?;
        Ok((wanted.value / now_of_material).value)
    }

    /// A stretch of a line.
    #[must_use]
    pub fn slice(&self, line: u32, span: Span) -> Option<&str> {
        let start = self.text.lines.get(line as usize)?.start;
        self.text
            .text
            .get((start + span.start) as usize..(start + span.end) as usize)
    }

    /// A place as bytes of the plan's text.
    #[must_use]
    pub fn range(&self, at: At) -> Range<usize> {
        let start = self
            .text
            .lines
            .get(at.line as usize)
            .map_or(0, |line| line.start) as usize;
        start + at.span.start as usize..start + at.span.end as usize
    }
}

/// What the steps of a plan are simulated with.
struct Base<'a> {
    same_materials: bool,
    same_equation: bool,
    ledger: &'a Ledger,
    room: &'a Room,
    apparatus: &'a [Apparatus],
}

impl Before {
    /// Only so many lines are the same from the first on.
    pub fn keep(&mut self, lines: usize) {
        self.kept = self.kept.min(lines);
    }

    /// Whether these are the materials of before.
    fn has(&self, materials: &[Material]) -> bool {
        let pairs = self.materials.iter().zip(materials);
        self.materials.len() == materials.len()
            && pairs.into_iter().all(|(a, b)| a.is_shared_with(b))
    }

    /// Whether a place lies in front of the edits.
    fn is_kept(&self, at: At) -> bool {
        (at.line as usize) < self.kept
    }

    /// The equation, with its balance, where neither it nor what it is of was edited.
    fn equation(&mut self, same_materials: bool) -> Option<(Equation, OnceLock<Balance>)> {
        let kept = same_materials && self.is_kept(self.equation.as_ref()?.at);
        let equation = self.equation.take_if(|_| kept)?;
        Some((equation, std::mem::take(&mut self.balance)))
    }

    /// The steps that go as they went: those before the edits, where what they are simulated with is the same.
    fn earlier(&mut self, now: &Base<'_>) -> Option<Earlier<'_>> {
        let ledger = self.ledger.as_ref()?;
        let scale = |ledger: &Ledger| {
            let scale = ledger.scale.as_ref()?;
            let amount = scale.amount.as_ref().ok().map(|known| known.value);
            Some((scale.at, scale.key, amount))
        };
        let scales = (scale(ledger), scale(now.ledger));
        let amounts = ledger.amounts.iter().zip(&now.ledger.amounts);
        let same = now.same_materials
            && amounts.into_iter().all(|(a, b)| a.is_as_much_as(b))
            && scales.0 == scales.1
            && scales.1.is_none_or(|(at, ..)| self.is_kept(at))
            && now.same_equation
            && self.room.as_ref() == Some(now.room)
            && self.apparatus == now.apparatus;
        same.then_some(Earlier {
            moments: &mut self.moments,
            course: &mut self.course,
            // What is taken once is not there a second time.
            kept: std::mem::take(&mut self.kept),
        })
    }
}

/// The key with this name: exactly, or else ignoring case if only one fits.
#[must_use]
pub fn find_key(text: &PlanText, name: &str) -> Option<KeyId> {
    let keys = || text.keys.iter().zip(0u32..);
    if let Some((_, index)) = keys().find(|(key, _)| *key.name.text == *name) {
        return Some(KeyId(index));
    }
    let mut fits = keys().filter(|(key, _)| key.name.text.to_lowercase() == name.to_lowercase());
    match (fits.next(), fits.next()) {
        (Some((_, index)), None) => Some(KeyId(index)),
        _ => None,
    }
}

/// Whether a number of the line could not be read: it may be the strength, so nothing is measured by the others.
fn has_unread_number(line: &syntax::Line) -> bool {
    const CODES: [&str; 9] = [
        "bare-number",
        "range-units-differ",
        "unread-strength",
        "unread-amount",
        "decimal-comma",
        "thousands",
        "unknown-unit",
        "number-too-long",
        "unit-does-not-fit",
    ];
    line.problems
        .iter()
        .any(|problem| problem.severity == syntax::Severity::Error && CODES.contains(&problem.code))
}

/// The key that a line declares.
fn key_on_line(text: &PlanText, line: u32) -> Option<KeyId> {
    let index = text.keys.iter().position(|key| key.line == line)?;
    u32::try_from(index).ok().map(KeyId)
}
