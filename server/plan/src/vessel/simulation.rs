//! Goes through the steps and changes the vessels.

use super::course::{Course, Earlier, Outset};
use super::{Addition, Apparatus, Content, Gas, Glass, Moment, Opening, States, VesselState, What};
use crate::known::At;
use crate::ledger::{Amounts, Reckoner};
use crate::material::Material;
use crate::takes::{self, Slot};
use smallvec::{SmallVec, smallvec};
use std::sync::Arc;
use syntax::{
    Clause, EquipmentKind, KeyId, ModifierKind, PlaceKind, Referent, Sense, Standing, Statement,
    Step, Thing, Verb,
};
use uom::si::f64::{AmountOfSubstance, Mass, ThermodynamicTemperature, Volume};

/// How much of a material is spoken for: by every step that writes a portion, earlier or later, and by what took the
/// rest so far.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Taken {
    /// A step has taken the rest.
    pub(super) rest: bool,
    pub(super) amount: AmountOfSubstance,
    pub(super) volume: Volume,
    pub(super) mass: Mass,
}

/// After it nobody knows how much is left in its vessel.
pub(crate) fn leaves_unclear(verb: Verb) -> bool {
    matches!(
        verb,
        Verb::Separate
            | Verb::Combine
            | Verb::Concentrate
            | Verb::Coevaporate
            | Verb::Distil
            | Verb::Crystallise
            | Verb::Purify
            | Verb::Repeat
    )
}

/// Items of the equipment, by their places in it; few.
pub(super) type Places = SmallVec<[usize; 8]>;

pub(crate) struct Simulation<'a> {
    pub(super) reckoner: Reckoner<'a>,
    pub(super) amounts: &'a [Amounts],
    pub(super) apparatus: &'a [Apparatus],
    pub(super) room: ThermodynamicTemperature,
    pub(super) states: Vec<Arc<VesselState>>,
    /// As they were when they were last put down, and whether any has changed since.
    pub(super) put_down: States,
    pub(super) changed: bool,
    pub(super) taken: Vec<Taken>,
    /// What the steps take in written portions, how often, and where they say so, in the order of the lines.
    pub(super) claimed: Vec<(At, u32, Content)>,
    /// Came out of the oven and was not cooled yet: a `cool` that names nothing means all of it.
    pub(super) hot: Vec<usize>,
    pub(super) current: usize,
    /// Words that are no key and mean a vessel all the same.
    unlisted: Vec<(&'a str, usize)>,
    /// The item and the material of each key.
    items_of_keys: Vec<Option<usize>>,
    materials_of_keys: Vec<Option<usize>>,
    /// What the steps have shown of which vessel they mean where they name none.
    pub(super) hand: Hand,
    pub(super) glovebox: bool,
    /// Where a filtration goes that does not say it itself.
    filtered_into: Option<usize>,
    pub(super) moments: Vec<Moment>,
}

/// The vessel in hand, until a place line names it.
pub(super) struct Hand {
    /// A place line has named a vessel, or all went from what was in hand into another.
    pub(super) placed: bool,
    /// Vessels that some step of the plan names as a place, or as where things go.
    receive: Vec<bool>,
    /// Vessels that the steps so far have named.
    pub(super) handled: Vec<bool>,
    /// The step began with its place, `in a vial, dissolve salt`, which holds for all of it.
    led: bool,
    /// Where the last such step was, until a step says where it goes on.
    pub(super) elsewhere: Option<usize>,
}

impl Hand {
    /// Whether a step that names no vessel can mean only this one: there is no other, its key is the plain word for
    /// what it is, every other is named wherever it is meant, or this is the only one that was handled.
    fn is_sure(&self, vessel: usize, apparatus: &[Apparatus]) -> bool {
        let mut others = (0..apparatus.len()).filter(|&other| {
            other != vessel
                && apparatus
                    .get(other)
                    .is_some_and(|item| item.kind == EquipmentKind::Vessel)
        });
        let is = |list: &[bool], index: usize| list.get(index).copied().unwrap_or(false);
        let handled = is(&self.handled, vessel);
        // Beside `rotflask` and `killpot`, what is called `flask` is the flask.
        let called_so = apparatus
            .get(vessel)
            .is_some_and(|item| item.name.eq_ignore_ascii_case(&item.head));
        if self.led || self.elsewhere.is_some() {
            return self.led;
        }
        self.placed
            || called_so
            || others.all(|other| is(&self.receive, other) || handled && !is(&self.handled, other))
    }
}

impl<'a> Simulation<'a> {
    pub(crate) fn new(
        reckoner: Reckoner<'a>,
        amounts: &'a [Amounts],
        apparatus: &'a [Apparatus],
        unlisted: Vec<(&'a str, usize)>,
        room: ThermodynamicTemperature,
    ) -> Self {
        let first = apparatus
            .iter()
            .position(|item| item.kind == EquipmentKind::Vessel)
            .unwrap_or(0);
        let keys = reckoner.text.keys.len();
        let materials = reckoner.materials.iter().map(|material| Some(material.id));
        Simulation {
            claimed: Vec::new(),
            taken: vec![Taken::default(); reckoner.materials.len()],
            states: apparatus
                .iter()
                .map(|_| Arc::new(VesselState::new(room)))
                .collect(),
            put_down: Arc::default(),
            changed: true,
            reckoner,
            amounts,
            apparatus,
            room,
            hot: Vec::new(),
            current: first,
            unlisted,
            items_of_keys: by_key(keys, apparatus.iter().map(|item| item.id)),
            materials_of_keys: by_key(keys, materials),
            hand: Hand {
                placed: false,
                receive: vec![false; apparatus.len()],
                handled: vec![false; apparatus.len()],
                led: false,
                elsewhere: None,
            },
            glovebox: false,
            filtered_into: None,
            moments: Vec::new(),
        }
    }

    /// Every clause of the steps; those before an edit as they were found earlier.
    pub(crate) fn run(mut self, earlier: Option<Earlier<'_>>) -> (Vec<Moment>, Course) {
        let text = self.reckoner.text;
        self.hand.receive = self.receivers();
        self.claim();
        let unlisted = self.unlisted.iter();
        let mut course = Course::new(Outset {
            taken: self.taken.clone(),
            receive: self.hand.receive.clone(),
            unlisted: unlisted.map(|&(name, item)| (name.into(), item)).collect(),
        });
        let clauses = takes::steps(text).map(|(_, step)| step.clauses.len());
        self.moments.reserve(clauses.sum());
        let first = earlier.map_or(0, |earlier| course.resume(&mut self, earlier));
        for (line, index) in text.lines.iter().zip(0u32..).skip(first) {
            match &line.statement {
                Statement::Place(place) => self.place(index, place),
                Statement::Step(step) => {
                    course.mark(index, &self);
                    let current = self.current;
                    let emptied = self.lead(step);
                    for (number, clause) in step.clauses.iter().enumerate() {
                        self.filtered_into = self.rinsed_into(step, number);
                        self.clause(index, number, clause);
                    }
                    self.filtered_into = None;
                    if self.hand.led && !emptied {
                        self.current = current;
                    }
                    self.hand.led = false;
                }
                _ => {}
            }
        }
        (self.moments, course)
    }

    /// Goes where a step is that begins with its place, and tells whether it goes on there: what was in hand is empty, and
    /// has been poured out.
    fn lead(&mut self, step: &Step) -> bool {
        let Some(clause) = step.clauses.first() else {
            return false;
        };
        let mut ahead = clause
            .modifiers
            .iter()
            .take_while(|modifier| modifier.span.start < clause.verb_span.start);
        let place = ahead.find_map(|modifier| match &modifier.kind {
            ModifierKind::Place(thing) => self.holder(thing),
            _ => None,
        });
        let Some(place) = place else {
            return false;
        };
        let home = std::mem::replace(&mut self.current, place);
        self.hand.led = true;
        let poured = |moment: &Moment| {
            let mut sources = moment.additions.iter().map(|addition| addition.from);
            sources.any(|from| from == Some(home))
        };
        let emptied = home != place
            && self.is(home, |state| state.contents.is_empty() && !state.unclear)
            && self.moments.iter().any(poured);
        self.hand.elsewhere = Some(place).filter(|_| home != place && !emptied);
        self.hand.placed |= emptied;
        emptied
    }

    /// `filter through Celite, rinse with ether 30 mL, into rotflask`: what goes through goes where the rinse goes.
    fn rinsed_into(&self, step: &Step, number: usize) -> Option<usize> {
        let vessel_of = |clause: &Clause| {
            let mut to = takes::in_slot(clause, Slot::To);
            to.find_map(|thing| self.holder(thing))
        };
        let filter = step.clauses.get(number)?;
        let rinse = step.clauses.get(number + 1)?;
        let rinses = matches!(rinse.verb, Verb::Rinse | Verb::Wash)
            && !rinse
                .objects
                .iter()
                .any(|thing| self.holder(thing).is_some());
        if filter.verb != Verb::Filter || !rinses || vessel_of(filter).is_some() {
            return None;
        }
        vessel_of(rinse)
    }

    /// Which vessels the plan names as a place, or as where things go.
    fn receivers(&self) -> Vec<bool> {
        let mut receive = vec![false; self.apparatus.len()];
        let mut note = |thing: &Thing| {
            if let Some(known) = self.holder(thing).and_then(|index| receive.get_mut(index)) {
                *known = true;
            }
        };
        for line in &self.reckoner.text.lines {
            match &line.statement {
                Statement::Place(place) => place.thing.as_deref().into_iter().for_each(&mut note),
                Statement::Step(step) => {
                    let modifiers = step.clauses.iter().flat_map(|clause| &clause.modifiers);
                    for modifier in modifiers {
                        match &modifier.kind {
                            ModifierKind::To(things) => things.iter().for_each(&mut note),
                            ModifierKind::Place(thing) => note(thing),
                            _ => {}
                        }
                    }
                }
                _ => {}
            }
        }
        receive
    }

    pub(super) fn materials(&self) -> &'a [Material] {
        self.reckoner.materials
    }

    pub(super) fn item(&self, thing: &Thing) -> Option<usize> {
        match thing.referent {
            Referent::Key(id) | Referent::Standing(_, Some(id)) => {
                *self.items_of_keys.get(id.0 as usize)?
            }
            // With a portion, what is no key is read as a substance.
            Referent::Unknown | Referent::Substance(None) => {
                if self.unlisted.is_empty() {
                    return None;
                }
                let own = &*thing.name.text;
                let named = |(name, _): &&(&str, usize)| super::is_same_vessel(name, own);
                self.unlisted.iter().find(named).map(|&(_, index)| index)
            }
            _ => None,
        }
    }

    pub(super) fn holder(&self, thing: &Thing) -> Option<usize> {
        self.item(thing)
            .filter(|&index| self.apparatus[index].kind != EquipmentKind::Tool)
    }

    pub(super) fn material(&self, thing: &Thing) -> Option<usize> {
        let Referent::Key(id) = thing.referent else {
            return None;
        };
        *self.materials_of_keys.get(id.0 as usize)?
    }

    /// The vessels that a clause acts on: all that it names, or the one that it is about.
    pub(super) fn acted_on(&self, clause: &Clause, vessel: usize) -> Places {
        let things = clause.objects.iter();
        let named: Places = things.filter_map(|thing| self.holder(thing)).collect();
        if named.is_empty() {
            smallvec![vessel]
        } else {
            named
        }
    }

    fn place(&mut self, line: u32, place: &syntax::Place) {
        let thing = place.thing.as_ref();
        let is = |word: &str| thing.is_some_and(|thing| thing.name.text.eq_ignore_ascii_case(word));
        match place.kind {
            PlaceKind::In | PlaceKind::Meanwhile => {
                if is("glovebox") {
                    self.glovebox = true;
                } else if is("air") {
                    self.set_gas(
                        self.current,
                        &Gas::Air {
                            said: true,
                            line: Some(line),
                        },
                    );
                } else if let Some(index) = thing.and_then(|thing| self.holder(thing)) {
                    self.current = index;
                    self.hand.placed = true;
                    self.hand.elsewhere = None;
                }
            }
            PlaceKind::OutOf if is("glovebox") => self.glovebox = false,
            _ => {}
        }
    }

    /// The vessel a clause is about: where it puts things, or what it acts on, or none, which is the current one.
    fn target(&self, line: u32, clause: &Clause) -> Option<usize> {
        if self.filtered_into.is_some() {
            return self.filtered_into;
        }
        for modifier in &clause.modifiers {
            match &modifier.kind {
                ModifierKind::To(things) => {
                    if let Some(index) = things.iter().find_map(|thing| self.holder(thing)) {
                        return Some(index);
                    }
                }
                ModifierKind::Place(thing) => {
                    if let Some(index) = self.holder(thing) {
                        return Some(index);
                    }
                }
                _ => {}
            }
        }
        let moves = matches!(
            clause.verb,
            Verb::Transfer | Verb::Pour | Verb::Add | Verb::Decant
        );
        let object = clause.objects.iter().find_map(|thing| self.holder(thing));
        object
            .filter(|_| !moves)
            .or_else(|| self.only_holder(line, clause))
    }

    /// `add base to ketone`, `dissolve ketone`: the one vessel that holds it.
    fn only_holder(&self, line: u32, clause: &Clause) -> Option<usize> {
        if matches!(clause.verb, Verb::Dissolve | Verb::Suspend) {
            let thing = clause.objects.first()?;
            let all = self.material(thing).filter(|_| thing.portions.is_empty())?;
            return self.holder_of(all, None).filter(|_| self.taken[all].rest);
        }
        if clause.verb != Verb::Add {
            return None;
        }
        let thing =
            takes::in_slot(clause, Slot::To).find(|thing| self.material(thing).is_some())?;
        if !takes::stands(self.reckoner.text, line, clause, Slot::To, thing) {
            return None;
        }
        self.holder_of(self.material(thing)?, None)
    }

    /// The one vessel that holds a material, besides one that may hold it too.
    pub(super) fn holder_of(&self, material: usize, besides: Option<usize>) -> Option<usize> {
        let mut holders = (0..self.states.len()).filter(|&index| {
            Some(index) != besides && self.is(index, |state| state.contents.has(material))
        });
        match (holders.next(), holders.next()) {
            (Some(only), None) => Some(only),
            _ => None,
        }
    }

    /// Where all that was in hand was poured by the step before, if this one needs what it is done to.
    fn poured_into(&self, clause: &Clause) -> Option<usize> {
        let needs = match clause.verb {
            Verb::Wash => !clause.senses.contains(&Sense::Glass),
            verb => matches!(
                verb,
                Verb::Extract
                    | Verb::Separate
                    | Verb::Dilute
                    | Verb::Quench
                    | Verb::Acidify
                    | Verb::Basify
                    | Verb::Stir
                    | Verb::Settle
                    | Verb::Cool
                    | Verb::Warm
                    | Verb::Heat
                    | Verb::Reflux
                    | Verb::Concentrate
            ),
        };
        let last = self.moments.last().filter(|_| needs)?;
        let mut sources = last.additions.iter().map(|addition| addition.from);
        let poured = last.vessel != self.current
            && sources.any(|from| from == Some(self.current))
            && self.is(self.current, |state| {
                state.contents.is_empty() && !state.unclear
            });
        poured.then_some(last.vessel)
    }

    /// The states as they are now.
    fn put_down(&mut self) -> States {
        if std::mem::take(&mut self.changed) {
            self.put_down = self.states.as_slice().into();
        }
        self.put_down.clone()
    }

    fn clause(&mut self, line: u32, number: usize, clause: &Clause) {
        let named = self.target(line, clause);
        if named.is_none()
            && let Some(next) = self.poured_into(clause)
        {
            self.current = next;
            self.hand.placed = true;
        }
        let vessel = named.unwrap_or(self.current);
        let before = self.put_down();
        if self.glovebox {
            self.change(vessel, |state| {
                state.glass = Glass::Glovebox;
                state.gas = Gas::Filled {
                    gas: "the glovebox's gas".into(),
                    how: super::Filling::Flow,
                    line,
                };
            });
        }
        self.said_dried(line, clause);
        self.gas_before(line, vessel, clause);
        let mut additions = Vec::new();
        let peak = self.act(line, vessel, clause, &mut additions);
        self.temperature(vessel, clause);
        self.quench(line, vessel, clause, &additions);
        self.unseal(vessel, clause, &additions);
        let acts = !additions.is_empty() || clause.objects.is_empty() && passes_gas(clause.verb);
        let poured = additions.iter().filter_map(|addition| addition.from);
        let back =
            named == Some(self.current) || poured.map(Some).any(|from| from == self.hand.elsewhere);
        if back && !self.hand.led {
            self.hand.elsewhere = None;
        }
        let unsure = named.is_none() && acts && !self.hand.is_sure(vessel, self.apparatus);
        if unsure && !additions.is_empty() {
            self.make_unclear(vessel);
        }
        clause.objects.iter().for_each(|thing| self.handle(thing));
        for (_, things) in clause.modifiers.iter().filter_map(takes::slot_of) {
            things.iter().for_each(|thing| self.handle(thing));
        }
        let volume = self.states[vessel].volume(self.materials());
        let peak = match (peak, volume) {
            (Some(peak), Some(volume)) => Some(if peak > volume { peak } else { volume }),
            (peak, volume) => peak.or(volume),
        };
        let after = self.put_down();
        self.moments.push(Moment {
            line,
            clause: number,
            vessel,
            additions,
            before,
            after,
            peak,
            unsure,
            glovebox: self.glovebox,
        });
    }

    /// `add thf to the oven-dried flask`
    fn said_dried(&mut self, line: u32, clause: &Clause) {
        for thing in clause.objects.iter().chain(takes::places(clause)) {
            let Some(adjective) = &thing.adjective else {
                continue;
            };
            let glass = match &*adjective.text {
                "oven-dried" => Glass::Oven { line },
                "flame-dried" => Glass::Flame { line },
                _ => continue,
            };
            let unsaid =
                |state: &VesselState| matches!(state.glass, Glass::Unknown | Glass::AirDried);
            if let Some(index) = self.item(thing).filter(|&index| self.is(index, unsaid)) {
                self.change(index, |state| state.glass = glass);
            }
        }
    }

    fn handle(&mut self, thing: &Thing) {
        let index = self.item(thing);
        if let Some(handled) = index.and_then(|index| self.hand.handled.get_mut(index)) {
            *handled = true;
        }
    }

    pub(super) fn change(&mut self, index: usize, how: impl FnOnce(&mut VesselState)) {
        if let Some(state) = self.states.get_mut(index) {
            self.changed = true;
            how(Arc::make_mut(state));
        }
    }

    /// Whether something is so of an item: what is as it should be is not changed, and so is shared.
    pub(super) fn is(&self, index: usize, what: impl FnOnce(&VesselState) -> bool) -> bool {
        self.states.get(index).is_some_and(|state| what(state))
    }

    fn act(
        &mut self,
        line: u32,
        vessel: usize,
        clause: &Clause,
        additions: &mut Vec<Addition>,
    ) -> Option<Volume> {
        match clause.verb {
            Verb::Dry | Verb::Bake | Verb::FlameDry => self.dry(line, vessel, clause),
            Verb::Heat | Verb::Warm => self.bake_out(line, vessel, clause),
            Verb::Cool => self.cool(clause),
            Verb::Wash | Verb::Rinse => return self.wash(line, vessel, clause, additions),
            Verb::Drain => self.drain(vessel, clause),
            Verb::AirDry => self.air_dry(vessel, clause),
            Verb::Assemble => self.assemble(clause),
            Verb::Purge | Verb::Sparge | Verb::Degas | Verb::EvacuateAndRefill | Verb::Fill => {
                self.refill(line, vessel, clause);
            }
            Verb::Evacuate => self.evacuate(line, vessel, clause),
            Verb::Open if self.is_about_a_tool(clause) => {}
            Verb::Open => {
                for index in self.acted_on(clause, vessel) {
                    self.set_gas(
                        index,
                        &Gas::Air {
                            said: true,
                            line: Some(line),
                        },
                    );
                    self.open(index, Opening::Open);
                }
            }
            Verb::Seal => self.set_opening(vessel, clause, Opening::Closed { line }),
            Verb::Vent => self.set_opening(vessel, clause, Opening::Vented),
            Verb::Add
            | Verb::Charge
            | Verb::Dissolve
            | Verb::Suspend
            | Verb::Dilute
            | Verb::Acidify
            | Verb::Basify
            | Verb::MakeUp
            | Verb::Seed
            | Verb::Titrate
            | Verb::Stir => self.bring(line, vessel, clause, additions),
            Verb::Transfer | Verb::Pour | Verb::Quench => {
                self.bring_receiving(line, vessel, clause, additions);
                self.bring(line, vessel, clause, additions);
                match self.source_in_hand(vessel, clause) {
                    Some(source) if clause.objects.is_empty() => {
                        self.pour(line, source, vessel, 1.0, at_verb(line, clause), additions);
                    }
                    // `transfer the supernatant to rbf`
                    Some(source) => {
                        self.pour_supernatant(line, source, vessel, clause, additions);
                    }
                    None => {}
                }
            }
            Verb::Decant => return self.decant(line, vessel, clause, additions),
            Verb::Filter => return self.filter(line, vessel, clause, additions),
            Verb::Extract => return self.extract(line, vessel, clause),
            Verb::Remove if is_from_the_oven(clause) => self.out_of_the_oven(line, clause),
            Verb::Remove => self.sample(line, vessel, clause),
            verb if leaves_unclear(verb) => self.make_unclear(vessel),
            _ => {}
        }
        None
    }

    /// `take flask from the oven`
    fn out_of_the_oven(&mut self, line: u32, clause: &Clause) {
        let things = clause.objects.iter();
        let items: Places = things.filter_map(|thing| self.item(thing)).collect();
        for index in items {
            self.change(index, |state| state.glass = Glass::Oven { line });
            self.hot.push(index);
        }
    }

    /// `transfer to sepfunnel`: what no step names as the source is the vessel in hand, where it is sure which that is
    /// and it holds something.
    fn source_in_hand(&self, vessel: usize, clause: &Clause) -> Option<usize> {
        let to_a_vessel = clause.modifiers.iter().any(|modifier| {
            matches!(&modifier.kind, ModifierKind::To(things)
                if things.iter().any(|thing| self.holder(thing) == Some(vessel)))
        });
        let named = clause.modifiers.iter().any(|modifier| {
            matches!(&modifier.kind, ModifierKind::Place(thing) if self.holder(thing).is_some())
        });
        let state = self.states.get(self.current)?;
        let holds = state.unclear || !state.contents.is_empty();
        let sure = self.hand.is_sure(self.current, self.apparatus);
        // `decant the liquid into rbf`
        let liquid = |thing: &Thing| match thing.referent {
            Referent::Standing(Standing::Liquid, None) => {
                matches!(clause.verb, Verb::Decant | Verb::Transfer | Verb::Pour)
            }
            Referent::Standing(Standing::Liquid, _) => clause.verb == Verb::Decant,
            _ => false,
        };
        let unnamed = clause.objects.iter().all(liquid);
        let told = to_a_vessel || named || self.filtered_into.is_some();
        (unnamed && told && vessel != self.current)
            .then_some(self.current)
            .filter(|_| holds && sure)
    }

    /// Liquid goes through the filter into the vessel that the step names. How much the solid keeps, no plan tells.
    fn filter(
        &mut self,
        line: u32,
        vessel: usize,
        clause: &Clause,
        additions: &mut Vec<Addition>,
    ) -> Option<Volume> {
        let source = clause.objects.iter().find_map(|thing| self.holder(thing));
        let source = source
            .filter(|&source| source != vessel)
            .or_else(|| self.source_in_hand(vessel, clause));
        let peak =
            source.and_then(|source| self.pour_liquids(line, source, vessel, clause, additions));
        self.make_unclear(vessel);
        self.make_unclear(self.current);
        peak
    }

    fn is_washing(&self, moment: &Moment) -> bool {
        let line = self.reckoner.text.lines.get(moment.line as usize);
        let Some(Statement::Step(step)) = line.map(|line| &line.statement) else {
            return false;
        };
        let clause = step.clauses.get(moment.clause);
        clause.is_some_and(|clause| {
            clause.verb == Verb::Wash && !clause.senses.contains(&Sense::Glass)
        })
    }

    /// What is above a solid goes elsewhere; of a solid that was never dissolved nobody knows how much goes with it.
    pub(super) fn pour_supernatant(
        &mut self,
        line: u32,
        source: usize,
        vessel: usize,
        clause: &Clause,
        additions: &mut Vec<Addition>,
    ) {
        let unclear = self.is(source, |state| state.unclear);
        self.pour_liquids(line, source, vessel, clause, additions);
        if unclear || self.is(source, |state| !state.contents.is_empty()) {
            self.make_unclear(vessel);
        }
        self.make_unclear(source);
    }

    /// `dissolve salt in thf 5 mL` brought it in.
    fn is_dissolved(&self, content: &Content) -> bool {
        let line = self.reckoner.text.lines.get(content.line as usize);
        let Some(Statement::Step(step)) = line.map(|line| &line.statement) else {
            return false;
        };
        let is_it = |thing: &Thing| match content.what {
            What::Material(index) => self.material(thing) == Some(index),
            What::Named(ref name, _) => thing.name.text.eq_ignore_ascii_case(name),
        };
        step.clauses
            .iter()
            .any(|clause| clause.verb == Verb::Dissolve && clause.objects.iter().any(is_it))
    }

    /// The volume after all liquids of one vessel went into another. Nothing is moved where it is unclear what the vessel
    /// holds, or where a washing has shown that a layer of it went elsewhere.
    fn pour_liquids(
        &mut self,
        line: u32,
        source: usize,
        vessel: usize,
        clause: &Clause,
        additions: &mut Vec<Addition>,
    ) -> Option<Volume> {
        let mut earlier = self.moments.iter().filter(|moment| moment.vessel == source);
        if self.states.get(source)?.unclear || earlier.any(|moment| self.is_washing(moment)) {
            return None;
        }
        let materials = self.materials();
        let all = self.states.get(source)?.contents.clone();
        // What stays in a filter may have come out of its solution.
        let above = clause.verb != Verb::Filter;
        let (liquids, solids): (Vec<Content>, Vec<Content>) =
            all.iter().cloned().partition(|content| {
                content.is_liquid(materials) || above && self.is_dissolved(content)
            });
        let solids = solids.into_iter().collect();
        self.change(source, |state| {
            state.contents = liquids.into_iter().collect();
        });
        self.pour(line, source, vessel, 1.0, at_verb(line, clause), additions);
        self.change(source, |state| state.contents = solids);
        self.states.get(vessel)?.volume(materials)
    }

    /// The liquid above a solid goes elsewhere. After a washing of the same step it is the washing, which
    /// never was counted in.
    fn decant(
        &mut self,
        line: u32,
        vessel: usize,
        clause: &Clause,
        additions: &mut Vec<Addition>,
    ) -> Option<Volume> {
        self.bring(line, vessel, clause, additions);
        let washing = self
            .moments
            .iter()
            .rev()
            .take_while(|moment| moment.line == line)
            .any(|moment| self.is_washing(moment));
        let source = self.source_in_hand(vessel, clause).filter(|_| !washing);
        let peak = match source {
            Some(source) => self.pour_liquids(line, source, vessel, clause, additions),
            None => self.states.get(vessel)?.volume(self.materials()),
        };
        if !washing {
            self.make_unclear(self.current);
        }
        if vessel != self.current {
            self.make_unclear(vessel);
        }
        peak
    }

    pub(super) fn make_unclear(&mut self, vessel: usize) {
        if self.is(vessel, |state| !state.unclear) {
            self.change(vessel, |state| state.unclear = true);
        }
    }

    /// Notes that water met the contents, or that a vessel was emptied of what it had met.
    fn quench(&mut self, line: u32, vessel: usize, clause: &Clause, additions: &[Addition]) {
        let materials = self.materials();
        let wetted = matches!(
            clause.verb,
            Verb::Quench | Verb::Acidify | Verb::Basify | Verb::Extract | Verb::Separate
        ) || clause.verb == Verb::Wash
            && !clause.senses.contains(&Sense::Glass)
            && self.washes_with_water(clause)
            || self.is_poured_onto_water(clause)
            || additions
                .iter()
                .any(|addition| addition.content.is_aqueous(materials));
        if wetted && self.is(vessel, |state| state.quenched.is_none()) {
            self.change(vessel, |state| state.quenched = Some(line));
        }
        // Nothing was emptied where nothing has changed.
        let places = if self.changed { self.states.len() } else { 0 };
        for index in 0..places {
            let state = &self.states[index];
            if state.quenched.is_some() && state.contents.is_empty() && !state.unclear {
                self.change(index, |state| state.quenched = None);
            }
        }
    }

    fn washes_with_water(&self, clause: &Clause) -> bool {
        takes::in_slot(clause, Slot::With).any(|thing| self.is_water(thing))
    }

    /// `pour onto ice`: whatever was in the vessel meets water.
    fn is_poured_onto_water(&self, clause: &Clause) -> bool {
        let is_ice = |thing: &Thing| {
            let name = &thing.name.text;
            let mut words = name.split(|c: char| !c.is_alphabetic());
            let is_dry = |start: &str| start.eq_ignore_ascii_case("dry ");
            matches!(thing.referent, Referent::Substance(_))
                && !name.get(..4).is_some_and(is_dry)
                && words.any(|word| word.eq_ignore_ascii_case("ice"))
        };
        takes::in_slot(clause, Slot::To).any(|thing| is_ice(thing) || self.is_water(thing))
    }

    /// What a closed vessel gets of solids from a bottle, and what is poured out of it, opens it. What runs in from
    /// another vessel or a funnel leaves it as it was.
    fn unseal(&mut self, vessel: usize, clause: &Clause, additions: &[Addition]) {
        let through_needle = clause
            .modifiers
            .iter()
            .any(|modifier| matches!(modifier.kind, ModifierKind::Via(_)));
        let works_up = matches!(
            clause.verb,
            Verb::Assemble
                | Verb::Filter
                | Verb::Concentrate
                | Verb::Coevaporate
                | Verb::Distil
                | Verb::Pour
                | Verb::Decant
                | Verb::Separate
                | Verb::Extract
        );
        let is_solid = |addition: &&Addition| !addition.content.is_liquid(self.materials());
        let solids = additions.iter().any(|addition| is_solid(&addition));
        let from_bottle = additions
            .iter()
            .filter(is_solid)
            .any(|addition| addition.from.is_none());
        if through_needle || !(works_up || solids) {
            return;
        }
        let sources = additions.iter().filter_map(|addition| addition.from);
        let current = works_up.then_some(self.current);
        let target = (works_up || from_bottle).then_some(vessel);
        for index in sources.chain(current).chain(target) {
            if self.is(index, |state| {
                matches!(state.opening, Opening::Closed { .. })
            }) {
                self.open(index, Opening::Unsaid);
            }
        }
    }

    /// `close stopcock` says nothing of the vessel.
    fn is_about_a_tool(&self, clause: &Clause) -> bool {
        let items = clause.objects.iter().filter_map(|thing| self.item(thing));
        let mut kinds = items.map(|index| self.apparatus[index].kind).peekable();
        kinds.peek().is_some() && kinds.all(|kind| kind == EquipmentKind::Tool)
    }

    fn set_opening(&mut self, vessel: usize, clause: &Clause, opening: Opening) {
        if self.is_about_a_tool(clause) {
            return;
        }
        for index in self.acted_on(clause, vessel) {
            self.open(index, opening);
        }
    }

    fn open(&mut self, index: usize, opening: Opening) {
        if self.is(index, |state| state.opening != opening) {
            self.change(index, |state| state.opening = opening);
        }
    }
}

/// The first place that has each key.
fn by_key(keys: usize, ids: impl Iterator<Item = Option<KeyId>>) -> Vec<Option<usize>> {
    let mut places = vec![None; keys];
    for (place, id) in ids.enumerate() {
        if let Some(own) = id.and_then(|id| places.get_mut(id.0 as usize)) {
            own.get_or_insert(place);
        }
    }
    places
}

fn at_verb(line: u32, clause: &Clause) -> At {
    At {
        line,
        span: clause.verb_span,
    }
}

fn is_from_the_oven(clause: &Clause) -> bool {
    let mut modifiers = clause.modifiers.iter();
    modifiers.any(|modifier| match &modifier.kind {
        ModifierKind::From(things) => things
            .iter()
            .any(|thing| thing.name.text.to_ascii_lowercase().ends_with("oven")),
        _ => false,
    })
}

/// What is done with a gas or a vacuum, and with the air of a vessel.
fn passes_gas(verb: Verb) -> bool {
    matches!(
        verb,
        Verb::Purge
            | Verb::Sparge
            | Verb::Degas
            | Verb::Evacuate
            | Verb::EvacuateAndRefill
            | Verb::Fill
    )
}
