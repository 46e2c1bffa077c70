//! What the steps take from the bottles: every mention of a substance that a step brings in.

use crate::Plan;
use crate::convert;
use crate::known::At;
use syntax::{
    Amount, AmountKind, Clause, Dimension, KeyId, KeyKind, Modifier, ModifierKind, PlanText,
    Portion, PortionKind, Quantity, Referent, Statement, Step, Thing, Verb,
};

/// A substance taken by a step.
#[derive(Clone, Debug)]
pub struct Take<'a> {
    /// The line of the step.
    pub line: u32,
    /// Which clause of it.
    pub clause: &'a Clause,
    /// What is taken.
    pub thing: &'a Thing,
    /// In which slot it stands.
    pub slot: Slot,
    /// It names what an earlier step has put there: `add base to ketone`.
    pub stands: bool,
}

/// The part of a step that a substance stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Slot {
    /// What the verb acts on.
    Object,
    /// `in thf 5 mL`
    DissolvedIn,
    /// `with pentane, 3 x 20 mL`
    With,
    /// `over magnesium sulfate`
    Over,
    /// `on silica`
    On,
    /// `through silica 10 g`
    Through,
    /// `to 10 mL of thf`
    To,
}

impl<'a> Take<'a> {
    /// The key, if the thing is one.
    #[must_use]
    pub fn key(&self) -> Option<KeyId> {
        match self.thing.referent {
            Referent::Key(id) => Some(id),
            _ => None,
        }
    }

    /// Where the thing stands.
    #[must_use]
    pub fn at(&self) -> At {
        convert::at(self.line, self.thing.name.span)
    }

    /// Whether the step draws on what the materials list: `make up` prepares more than is used, and
    /// `dry` or `weigh` only handle.
    #[must_use]
    pub fn draws(&self) -> bool {
        match self.slot {
            Slot::Object => takes_objects(self.clause.verb) && !self.stands,
            Slot::With => self.clause.verb != Verb::MakeUp,
            Slot::DissolvedIn | Slot::To => !self.stands && self.clause.verb != Verb::MakeUp,
            Slot::Over | Slot::On | Slot::Through => true,
        }
    }

    /// The portion that is a quantity, with how often. `base (2.30 mL, 5.75 mmol)` says the same twice: the
    /// first counts.
    #[must_use]
    pub fn quantity(&self) -> Option<(u32, &'a syntax::Amount, &'a Portion)> {
        self.thing
            .portions
            .iter()
            .find_map(|portion| match &portion.kind {
                PortionKind::Amount { times, amount } => {
                    Some((times.saturating_mul(repeats(self.clause)), amount, portion))
                }
                _ => None,
            })
    }
}

/// `extract twice with pentane 20 mL`: the count on the clause multiplies its portion.
fn repeats(clause: &Clause) -> u32 {
    clause
        .modifiers
        .iter()
        .find_map(|modifier| match modifier.kind {
            ModifierKind::Count(syntax::CountKind::Times, times) => Some(times.max(1)),
            _ => None,
        })
        .unwrap_or(1)
}

/// `dilute to 50 mL with thf`: the volume that a step fills up to, and so does not take all that is left.
#[must_use]
pub fn fills_up_to(clause: &Clause) -> Option<&Quantity> {
    let fills = matches!(
        clause.verb,
        Verb::Dilute | Verb::MakeUp | Verb::Add | Verb::Charge | Verb::Fill
    );
    let mut modifiers = clause.modifiers.iter().filter(|_| fills);
    modifiers.find_map(|modifier| match &modifier.kind {
        ModifierKind::Until(quantity) if quantity.unit.dimension == Dimension::Volume => {
            Some(quantity)
        }
        _ => None,
    })
}

/// Verbs whose objects leave their bottle.
#[must_use]
pub fn takes_objects(verb: Verb) -> bool {
    use Verb::{
        Acidify, Add, Charge, Dilute, Dissolve, Fill, Pour, Quench, Seed, Suspend, Titrate,
        Transfer,
    };
    matches!(
        verb,
        Acidify
            | Add
            | Charge
            | Dilute
            | Dissolve
            | Fill
            | Pour
            | Quench
            | Seed
            | Suspend
            | Titrate
            | Transfer
    ) || verb == Verb::Basify
        || verb == Verb::Rinse
}

/// Every thing that a step names, with its slot.
pub fn things(clause: &Clause) -> impl Iterator<Item = (Slot, &Thing)> {
    let objects = clause.objects.iter().map(|thing| (Slot::Object, thing));
    let modifiers = clause.modifiers.iter().filter_map(slot_of);
    let modifiers =
        modifiers.flat_map(|(slot, things)| things.iter().map(move |thing| (slot, thing)));
    objects.chain(modifiers)
}

/// The things in one slot of a step, which is not that of its objects.
pub(crate) fn in_slot(clause: &Clause, slot: Slot) -> impl Iterator<Item = &Thing> {
    let modifiers = clause.modifiers.iter().filter_map(slot_of);
    let own = modifiers.filter(move |(other, _)| *other == slot);
    own.flat_map(|(_, things)| things)
}

/// Where a step goes or is done: `to flask`, `in flask`.
pub(crate) fn places(clause: &Clause) -> impl Iterator<Item = &Thing> {
    clause
        .modifiers
        .iter()
        .flat_map(|modifier| match &modifier.kind {
            ModifierKind::To(things) => things.as_slice(),
            ModifierKind::Place(thing) => std::slice::from_ref(&**thing),
            _ => &[],
        })
}

/// The things of a modifier that have a slot.
pub(crate) fn slot_of(modifier: &Modifier) -> Option<(Slot, &[Thing])> {
    Some(match &modifier.kind {
        ModifierKind::DissolvedIn(things) => (Slot::DissolvedIn, things),
        ModifierKind::With(things) => (Slot::With, things),
        ModifierKind::OverAgent(things) => (Slot::Over, things),
        ModifierKind::On(things) => (Slot::On, things),
        ModifierKind::Through(things) => (Slot::Through, things),
        ModifierKind::To(things) => (Slot::To, things),
        _ => return None,
    })
}

/// Every mention of a thing by a step, in the order of the plan.
pub fn takes(text: &PlanText) -> impl Iterator<Item = Take<'_>> {
    steps(text).flat_map(move |(line, step)| of_step(text, line, step))
}

/// Takes of a step.
fn of_step<'a>(
    text: &'a PlanText,
    line: u32,
    step: &'a Step,
) -> impl Iterator<Item = Take<'a>> + use<'a> {
    step.clauses.iter().flat_map(move |clause| {
        things(clause).map(move |(slot, thing)| Take {
            line,
            clause,
            thing,
            slot,
            stands: stands(text, line, clause, slot, thing),
        })
    })
}

/// Nobody goes back over more lines than this to what a step names; a plan of very many such steps is worked out all the
/// same.
const FAR: usize = 200;

/// Whether a step only names what an earlier one has put in a vessel: `add base to ketone`, all of `to a solution of ketone
/// in thf 20 mL`, and the solvent of `add the solution of ketone in thf to flask`. Where none did, this step takes it.
pub(crate) fn stands(
    text: &PlanText,
    line: u32,
    clause: &Clause,
    slot: Slot,
    thing: &Thing,
) -> bool {
    let named = |thing: &&Thing| match thing.referent {
        Referent::Key(id) => {
            let key = text.keys.get(id.0 as usize);
            key.is_some_and(|key| key.kind == KeyKind::Material)
        }
        Referent::Substance(_) => true,
        _ => false,
    };
    let solution = slot == Slot::Object && thing.is_solution() && !thing.portions.is_empty();
    if !(solution || matches!(slot, Slot::To | Slot::DissolvedIn))
        || !matches!(clause.verb, Verb::Add | Verb::Transfer | Verb::Pour)
        || !named(&thing)
    {
        return false;
    }
    let brought = |wanted: &Thing, enough: &dyn Fn(&Clause, &Thing) -> bool| {
        let above = line as usize;
        let lines = text.lines.get(above.saturating_sub(FAR)..above);
        let earlier = lines.unwrap_or_default().iter().rev();
        let mut clauses = earlier.flat_map(|line| match &line.statement {
            Statement::Step(step) => step.clauses.as_slice(),
            _ => &[],
        });
        clauses.any(|other| {
            brings(other.verb)
                && things(other).any(|(slot, earlier)| {
                    let held = !matches!(slot, Slot::Over | Slot::On | Slot::Through);
                    held && is_same(earlier, wanted) && enough(other, earlier)
                })
        })
    };
    match slot {
        Slot::To => {
            let mut all = in_slot(clause, Slot::To).filter(named);
            let Some(first) = all.next() else {
                return false;
            };
            // `add salt to thf 10 mL`: so much of a liquid alone describes nothing that stands there.
            let measured = |portion: &Portion| {
                let amount = amount(portion);
                amount.is_some_and(|(.., amount)| amount.kind == AmountKind::Volume)
            };
            let alone = all.next().is_none();
            !(alone && first.portions.iter().any(measured))
                && brought(first, &|_, earlier| covers(earlier, first))
                && (std::ptr::eq(first, thing) || brought(thing, &|_, _| true))
        }
        Slot::DissolvedIn => {
            let object = clause.objects.first();
            let Some(solute) = object.filter(|solute| solute.is_solution()) else {
                return false;
            };
            let whole = |_: &Clause, earlier: &Thing| earlier.portions.is_empty();
            brought(solute, &whole) && brought(thing, &|_, earlier| covers(earlier, thing))
        }
        // `add 5 mL of the ketone solution`, which was made up above.
        Slot::Object => {
            let dissolved = |other: &Clause, _: &Thing| {
                matches!(other.verb, Verb::Dissolve | Verb::Suspend | Verb::MakeUp)
                    || in_slot(other, Slot::DissolvedIn).next().is_some()
            };
            brought(thing, &dissolved)
        }
        _ => false,
    }
}

/// Verbs after which what they name is in a vessel.
fn brings(verb: Verb) -> bool {
    takes_objects(verb) && verb != Verb::Rinse || verb == Verb::MakeUp
}

fn is_same(a: &Thing, b: &Thing) -> bool {
    match (&a.referent, &b.referent) {
        (Referent::Key(a), Referent::Key(b)) => a == b,
        (Referent::Substance(_), Referent::Substance(_)) => {
            a.name.text.eq_ignore_ascii_case(&b.name.text)
        }
        _ => false,
    }
}

/// Whether a portion that was taken is the one that is named: the same, or one of the two is not written.
fn covers(earlier: &Thing, wanted: &Thing) -> bool {
    let measure = |portion: &Portion| {
        let (times, amount) = amount(portion)?;
        let quantity = amount.quantity?;
        Some((times, quantity.number.value, quantity.unit.symbol))
    };
    match (earlier.portions.first(), wanted.portions.first()) {
        (_, None) => true,
        (None, Some(portion)) => measure(portion).is_some(),
        (Some(first), Some(second)) => {
            measure(first).is_some() && measure(first) == measure(second)
        }
    }
}

fn amount(portion: &Portion) -> Option<(u32, &Amount)> {
    match &portion.kind {
        PortionKind::Amount { times, amount } => Some((*times, amount)),
        _ => None,
    }
}

/// The keys that the steps name, each with every line that names it, sorted: a long plan is not read through for every
/// material.
#[derive(Clone, Debug)]
pub(crate) struct LinesOfKeys(Vec<(KeyId, u32)>);

impl LinesOfKeys {
    pub(crate) fn of(text: &PlanText) -> LinesOfKeys {
        let mut lines = Vec::with_capacity(text.lines.len());
        takes(text).for_each(|take| lines.extend(take.key().map(|key| (key, take.line))));
        lines.sort_unstable();
        lines.dedup();
        LinesOfKeys(lines)
    }

    /// What the steps take of a key, in the order of the plan.
    pub(crate) fn takes_of<'a>(
        &self,
        text: &'a PlanText,
        key: KeyId,
    ) -> impl Iterator<Item = Take<'a>> + use<'_, 'a> {
        let first = self.0.partition_point(|(other, _)| *other < key);
        let rest = self.0.get(first..).unwrap_or_default();
        let lines = rest.iter().take_while(move |(other, _)| *other == key);
        let steps =
            lines.filter_map(
                |&(_, line)| match &text.lines.get(line as usize)?.statement {
                    Statement::Step(step) => Some((line, step)),
                    _ => None,
                },
            );
        steps
            .flat_map(move |(line, step)| of_step(text, line, step))
            .filter(move |take| take.key() == Some(key))
    }
}

impl Plan {
    /// What the steps take of a key, in the order of the plan.
    pub fn takes_of(&self, key: KeyId) -> impl Iterator<Item = Take<'_>> {
        self.lines_of_keys.takes_of(&self.text, key)
    }
}

/// The steps, with their lines.
pub fn steps(text: &PlanText) -> impl Iterator<Item = (u32, &Step)> {
    text.lines
        .iter()
        .zip(0u32..)
        .filter_map(|(line, index)| match &line.statement {
            Statement::Step(step) => Some((index, step)),
            _ => None,
        })
}
