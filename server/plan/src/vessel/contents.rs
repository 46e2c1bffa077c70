//! Moves substances from bottle to vessel and from vessel to vessel.

use super::simulation::Taken;
use super::{Addition, Apparatus, Content, Simulation, What, gas_name};
use crate::known::{At, Determined, Known, Origin};
use crate::material::{Basis, ionic};
use crate::takes::{self, Slot, Take};
use chemistry::{Found, ReagentClass, Substance};
use syntax::{
    Amount, AmountKind, Clause, EquipmentKind, ModifierKind, PortionKind, Referent, Sense,
    Standing, Statement, Strength, StrengthForm, Thing, Verb,
};
use uom::si::f64::{AmountOfSubstance, Mass, Volume};
use uom::si::volume::milliliter;

impl<'a> Simulation<'a> {
    pub(super) fn extract(&mut self, line: u32, vessel: usize, clause: &Clause) -> Option<Volume> {
        let peak = self.passing(line, vessel, clause);
        self.make_unclear(vessel);
        peak
    }

    /// The volume while one portion of what the clause brings is in the vessel; it does not stay.
    pub(super) fn passing(&mut self, line: u32, vessel: usize, clause: &Clause) -> Option<Volume> {
        let mut volume = self.states[vessel].volume(self.materials())?;
        for thing in takes::in_slot(clause, Slot::With) {
            volume += self.portion_volume(line, thing)?;
        }
        Some(volume)
    }

    /// The volume of one portion of a thing.
    fn portion_volume(&mut self, line: u32, thing: &Thing) -> Option<Volume> {
        let material = self.material(thing);
        thing
            .portions
            .iter()
            .find_map(|portion| match &portion.kind {
                PortionKind::Amount { amount, .. } => match material {
                    Some(index) => {
                        let material = &self.materials()[index];
                        let basis = self.reckoner.portion(line, 1, amount).ok()?;
                        let (.., volume) = self.reckoner.measured(material, basis);
                        volume.ok().map(|known| known.value)
                    }
                    None => {
                        let stated = self.reckoner.stated_volume(line, amount);
                        stated.or_else(|| drops(amount))
                    }
                },
                _ => None,
            })
    }
    /// Everything that the clause names goes into the vessel.
    pub(super) fn bring(
        &mut self,
        line: u32,
        vessel: usize,
        clause: &Clause,
        additions: &mut Vec<Addition>,
    ) {
        let slots: &[Slot] = match clause.verb {
            Verb::Stir => &[Slot::With],
            _ => &[Slot::Object, Slot::DissolvedIn, Slot::With],
        };
        self.bring_onto(line, vessel, clause, additions);
        for (slot, thing) in takes::things(clause).filter(|(slot, _)| slots.contains(slot)) {
            if slot == Slot::DissolvedIn
                && takes::stands(self.reckoner.text, line, clause, slot, thing)
            {
                continue;
            }
            if slot == Slot::Object
                && matches!(thing.referent, Referent::Standing(Standing::Liquid, _))
                && let Some(source) = self.holder(thing).filter(|&source| source != vessel)
            {
                self.pour_supernatant(line, source, vessel, clause, additions);
                continue;
            }
            if slot == Slot::Object && self.weighed_in(line, vessel, thing, additions) {
                continue;
            }
            match self
                .holder(thing)
                .or_else(|| self.solution_of(line, vessel, clause, slot, thing))
                .or_else(|| self.waiting_solution(vessel, clause, slot, thing))
                .or_else(|| self.drawn_from(clause, slot, thing))
            {
                Some(source) if source != vessel => {
                    let part = self.part(line, source, thing);
                    match part {
                        Some(part) => {
                            let at = At {
                                line,
                                span: thing.name.span,
                            };
                            self.pour(line, source, vessel, part, at, additions);
                        }
                        None => {
                            self.make_unclear(source);
                            self.make_unclear(vessel);
                        }
                    }
                }
                Some(_) => {}
                None if self.item(thing).is_some() => {}
                None if matches!(thing.referent, Referent::Standing(..) | Referent::Kept(_)) => {
                    if slot == Slot::Object
                        && matches!(clause.verb, Verb::Transfer | Verb::Add | Verb::Dissolve)
                    {
                        self.make_unclear(vessel);
                    }
                }
                None => self.take(line, vessel, clause, slot, thing, additions),
            }
        }
    }

    /// `add salt` after `weigh salt into vial` takes it from there. False where nothing was weighed in so.
    fn weighed_in(
        &mut self,
        line: u32,
        vessel: usize,
        thing: &Thing,
        additions: &mut Vec<Addition>,
    ) -> bool {
        let Some(index) = self.material(thing).filter(|_| thing.portions.is_empty()) else {
            return false;
        };
        let Some(source) = self.holder_of(index, Some(vessel)) else {
            return false;
        };
        let all = self.states[source].contents.clone();
        let is_it = |one: &&Content| matches!(one.what, What::Material(own) if own == index);
        let Some(content) = all
            .iter()
            .find(is_it)
            .filter(|one| self.is_weighed(one.line))
        else {
            return false;
        };
        self.change(source, |state| {
            state.contents = all.iter().filter(|one| !is_it(one)).cloned().collect();
        });
        let moved = Content {
            line,
            ..content.clone()
        };
        let at = At {
            line,
            span: thing.name.span,
        };
        additions.push(Addition {
            content: moved.clone(),
            at,
            from: Some(source),
        });
        self.put(vessel, moved);
        true
    }

    /// Whether a step weighs into a vessel, which reads as an addition to it.
    fn is_weighed(&self, line: u32) -> bool {
        let line = self.reckoner.text.lines.get(line as usize);
        let Some(Statement::Step(step)) = line.map(|line| &line.statement) else {
            return false;
        };
        let mut clauses = step.clauses.iter();
        clauses.any(|clause| clause.senses.contains(&Sense::Weighed))
    }

    /// `add the ketone solution to flask`, and `5 mL of` it: it was dissolved in the one other vessel that holds it.
    fn solution_of(
        &self,
        line: u32,
        vessel: usize,
        clause: &Clause,
        slot: Slot,
        thing: &Thing,
    ) -> Option<usize> {
        let named = slot == Slot::Object && thing.is_solution();
        let index = self.material(thing).filter(|_| named)?;
        let made = match thing.portions.is_empty() {
            true => self.taken[index].rest,
            false => takes::stands(self.reckoner.text, line, clause, slot, thing),
        };
        let there = || Some(vessel).filter(|_| self.states[vessel].contents.has(index));
        let holder = self.holder_of(index, Some(vessel)).or_else(there);
        holder.filter(|_| made)
    }

    /// `add one tenth of the solution`: the one that waits in a funnel, where no other does.
    fn waiting_solution(
        &self,
        vessel: usize,
        clause: &Clause,
        slot: Slot,
        thing: &Thing,
    ) -> Option<usize> {
        let last = thing.name.text.rsplit(' ').next()?;
        let named = matches!(thing.referent, Referent::Unknown)
            && ["solution", "mixture", "suspension"]
                .iter()
                .any(|word| last.eq_ignore_ascii_case(word));
        let part = !thing.portions.is_empty();
        if !named || !part || slot != Slot::Object || clause.verb != Verb::Add {
            return None;
        }
        let mut waiting = (0..self.states.len()).filter(|&index| {
            index != vessel
                && self.apparatus[index].kind == EquipmentKind::Holder
                && self.is(index, |state| !state.contents.is_empty())
        });
        match (waiting.next(), waiting.next()) {
            (Some(only), None) if self.apparatus[only].lower.contains("funnel") => Some(only),
            _ => None,
        }
    }

    /// `add base from funnel`: what stands there, where base is in it.
    fn drawn_from(&self, clause: &Clause, slot: Slot, thing: &Thing) -> Option<usize> {
        let index = self.material(thing).filter(|_| {
            slot == Slot::Object && clause.verb == Verb::Add && thing.portions.is_empty()
        })?;
        let from = clause
            .modifiers
            .iter()
            .find_map(|modifier| match &modifier.kind {
                ModifierKind::From(things) => things.iter().find_map(|thing| self.holder_by(thing)),
                _ => None,
            })?;
        self.is(from, |state| state.contents.has(index))
            .then_some(from)
    }

    /// A vessel behind `from`, where one without a line is only words.
    fn holder_by(&self, thing: &Thing) -> Option<usize> {
        let named = |item: &Apparatus| {
            thing.referent == Referent::Words
                && item.kind != EquipmentKind::Tool
                && super::is_same_vessel(&item.name, &thing.name.text)
        };
        self.holder(thing)
            .or_else(|| self.apparatus.iter().position(named))
    }

    /// `add salt to thf 10 mL`, `add base to a solution of ketone in thf 5 mL`: what no earlier step has put there goes in
    /// first.
    fn bring_onto(
        &mut self,
        line: u32,
        vessel: usize,
        clause: &Clause,
        additions: &mut Vec<Addition>,
    ) {
        let itself = clause
            .objects
            .iter()
            .any(|thing| self.holder(thing) == Some(vessel));
        if clause.verb != Verb::Add || itself {
            return;
        }
        for thing in takes::in_slot(clause, Slot::To) {
            let listed = self.material(thing);
            if self.item(thing).is_some()
                || listed.is_none() && !matches!(thing.referent, Referent::Substance(_))
            {
                continue;
            }
            if !takes::stands(self.reckoner.text, line, clause, Slot::To, thing) {
                self.take(line, vessel, clause, Slot::To, thing, additions);
            } else if !self.is(vessel, |state| match listed {
                Some(index) => state.contents.has(index),
                None => state.contents.iter().any(|content| {
                    content
                        .name(self.reckoner.materials)
                        .eq_ignore_ascii_case(&thing.name.text)
                }),
            }) {
                self.make_unclear(vessel);
            }
        }
    }

    /// `pour flask into water 50 mL in beaker`: the water was in the beaker.
    pub(super) fn bring_receiving(
        &mut self,
        line: u32,
        vessel: usize,
        clause: &Clause,
        additions: &mut Vec<Addition>,
    ) {
        let placed = clause.modifiers.iter().any(|modifier| {
            matches!(&modifier.kind, ModifierKind::Place(thing) if self.holder(thing) == Some(vessel))
        });
        if !placed {
            return;
        }
        for thing in takes::in_slot(clause, Slot::To) {
            let receives = !thing.portions.is_empty() && self.item(thing).is_none();
            if receives && !matches!(thing.referent, Referent::Standing(..) | Referent::Kept(_)) {
                self.take(line, vessel, clause, Slot::To, thing, additions);
            }
        }
    }

    /// `remove 0.1 mL of the mixture for GC` leaves the rest; a sample without an amount is next to nothing.
    pub(super) fn sample(&mut self, line: u32, vessel: usize, clause: &Clause) {
        /// Of so small a share nothing depends (an assumption).
        const LITTLE: f64 = 0.05;
        let Some(thing) = clause.objects.first() else {
            return;
        };
        let held = self.holder(thing) == Some(vessel) || thing.referent == Referent::Words;
        let (true, Some(portion)) = (held, thing.portions.first()) else {
            return;
        };
        if let Some(part) = self.part(line, vessel, thing) {
            let kept = (1.0 - part).max(0.0);
            self.change(vessel, |state| {
                state.contents = state.contents.iter().map(|one| one.share(kept)).collect();
            });
            return;
        }
        let taken = match &portion.kind {
            PortionKind::Amount { times, amount } => amount
                .quantity
                .as_ref()
                .and_then(|quantity| crate::convert::volume(quantity, line))
                .map(|volume| volume.value * f64::from(*times)),
            _ => None,
        };
        let known = self.states[vessel].contents.iter();
        let least: Volume = known
            .filter_map(|one| one.volume)
            .fold(Volume::default(), |sum, one| sum + one);
        if taken.is_none_or(|taken| taken > least * LITTLE) {
            self.make_unclear(vessel);
        }
    }

    /// Which part of a vessel's contents a portion of it is.
    fn part(&mut self, line: u32, source: usize, thing: &Thing) -> Option<f64> {
        let Some(portion) = thing.portions.first() else {
            return Some(1.0);
        };
        match &portion.kind {
            PortionKind::Rest => Some(1.0),
            PortionKind::Fraction(over, under) if *under > 0 => {
                Some(f64::from(*over) / f64::from(*under))
            }
            PortionKind::Fraction(..) => None,
            PortionKind::Amount { times, amount } => {
                let wanted = crate::convert::volume(amount.quantity.as_ref()?, line)?.value
                    * f64::from(*times);
                let held = self.states[source].volume(self.materials())?;
                (held > Volume::default()).then(|| (wanted / held).value.min(1.0))
            }
        }
    }

    /// Moves a part of one vessel's contents into another.
    pub(super) fn pour(
        &mut self,
        line: u32,
        source: usize,
        vessel: usize,
        part: f64,
        at: At,
        additions: &mut Vec<Addition>,
    ) {
        let from = self.states[source].clone();
        let kept = (part < 1.0).then_some(1.0 - part);
        self.change(source, |state| {
            state.contents = kept
                .map(|kept| {
                    state
                        .contents
                        .iter()
                        .map(|content| content.share(kept))
                        .collect()
                })
                .unwrap_or_default();
            if kept.is_none() {
                state.unclear = false;
            }
        });
        if from.unclear {
            self.make_unclear(vessel);
        }
        if from.quenched.is_some() && self.is(vessel, |state| state.quenched.is_none()) {
            self.change(vessel, |state| state.quenched = from.quenched);
        }
        for content in &from.contents {
            let moved = Content {
                line,
                ..content.share(part)
            };
            additions.push(Addition {
                content: moved.clone(),
                at,
                from: Some(source),
            });
            self.put(vessel, moved);
        }
    }

    fn put(&mut self, vessel: usize, content: Content) {
        self.change(vessel, |state| state.contents.put(content));
    }

    /// A substance from its bottle.
    pub(super) fn take(
        &mut self,
        line: u32,
        vessel: usize,
        clause: &Clause,
        slot: Slot,
        thing: &Thing,
        additions: &mut Vec<Addition>,
    ) {
        let at = At {
            line,
            span: thing.name.span,
        };
        let Some(index) = self.material(thing) else {
            let is_gas = gas_name(thing, self.materials()).is_some();
            if thing.referent == Referent::Unknown && slot == Slot::Object {
                self.make_unclear(vessel);
                // `transfer half of the mixture to vial`
                if !thing.portions.is_empty() {
                    self.make_unclear(self.current);
                }
            }
            let no_substance = matches!(
                thing.referent,
                Referent::Unknown | Referent::Value | Referent::Words | Referent::Place
            );
            if is_gas || no_substance {
                return;
            }
            let (name, substance) = self.named(thing);
            let volume = match self.filled_up(line, vessel, clause, slot, thing) {
                Some(volume) => volume,
                None => self
                    .portion_volume(line, thing)
                    .map(|one| one * f64::from(times(thing))),
            };
            let aqueous = in_water_as_named(thing, name, substance);
            let what = What::Named(name.into(), substance);
            let content = Content {
                what,
                amount: None,
                volume,
                mass: None,
                aqueous,
                line,
            };
            additions.push(Addition {
                content: content.clone(),
                at,
                from: None,
            });
            self.put(vessel, content);
            return;
        };
        let material = &self.materials()[index];
        if material.product {
            return;
        }
        let there = self.states[vessel].contents.has(index);
        let handled = slot == Slot::Object && thing.portions.is_empty() && there;
        if handled && matches!(clause.verb, Verb::Dissolve | Verb::Suspend) {
            return;
        }
        let liquid = material.is_liquid() || material.aqueous;
        let up_to = self
            .filled_up(line, vessel, clause, slot, thing)
            .filter(|_| liquid);
        let content = match up_to {
            Some(volume) => self.draw_volume(line, index, volume),
            None => self.draw(line, index, thing),
        };
        additions.push(Addition {
            content: content.clone(),
            at,
            from: None,
        });
        self.put(vessel, content);
    }

    /// Sets aside what the steps take in written portions: a step without one takes what these leave, the later ones
    /// as well.
    pub(super) fn claim(&mut self) {
        let takes = takes::takes(self.reckoner.text).filter(Take::draws);
        takes.for_each(|take| {
            if let Some(index) = self.material(take.thing)
                && let Some(claimed) = self.portion_taken(index, &take)
            {
                self.taken[index].add(&claimed);
            }
        });
    }

    /// What was set aside for a portion.
    fn claimed_at(&self, line: u32, thing: &Thing, times: u32) -> Option<&Content> {
        let first = self.claimed.partition_point(|(at, ..)| at.line < line);
        let of_line = self.claimed.get(first..)?.iter();
        of_line
            .take_while(|(at, ..)| at.line == line)
            .find(|(at, often, _)| (at.span, *often) == (thing.name.span, times))
            .map(|(.., claimed)| claimed)
    }

    /// What a step takes of a material by a portion that it writes.
    fn portion_taken(&mut self, index: usize, take: &Take<'_>) -> Option<Content> {
        if let Some((times, amount, _)) = take.quantity() {
            let basis = self.reckoner.portion(take.line, times, amount).ok()?;
            let content = self.portion_of(take.line, index, basis);
            self.claimed.push((take.at(), times, content.clone()));
            return Some(content);
        }
        match take.thing.portions.first()?.kind {
            PortionKind::Fraction(over, under) => {
                let part = f64::from(over) / f64::from(under.max(1));
                Some(self.whole(take.line, index).share(part))
            }
            _ => None,
        }
    }

    /// All that is listed of a material.
    fn whole(&self, line: u32, index: usize) -> Content {
        let amounts = &self.amounts[index];
        let mut whole = self.content(line, index, &amounts.amount, &amounts.mass, &amounts.volume);
        if whole.volume.is_none() {
            whole.volume = self.materials()[index].stated.iter().find_map(drops);
        }
        whole
    }

    /// A portion of a material.
    fn portion_of(&self, line: u32, index: usize, basis: Basis) -> Content {
        let (amount, mass, volume) = self.reckoner.measured(&self.materials()[index], basis);
        self.content(line, index, &amount, &mass, &volume)
    }

    fn content(
        &self,
        line: u32,
        index: usize,
        amount: &Determined<AmountOfSubstance>,
        mass: &Determined<Mass>,
        volume: &Determined<Volume>,
    ) -> Content {
        Content {
            what: What::Material(index),
            amount: amount.as_ref().ok().map(|known| known.value),
            volume: volume.as_ref().ok().map(|known| known.value),
            mass: mass.as_ref().ok().map(|known| known.value),
            aqueous: self.materials()[index].aqueous,
            line,
        }
    }

    /// A portion of a material, or all that the portions of other steps leave of it.
    fn draw(&mut self, line: u32, index: usize, thing: &Thing) -> Content {
        let material = &self.materials()[index];
        let whole = self.whole(line, index);
        let taken = self.taken[index];
        let content = match thing.portions.first().map(|portion| &portion.kind) {
            None | Some(PortionKind::Rest) => {
                let rest = Content {
                    amount: left(whole.amount, taken.amount, taken.rest),
                    volume: left(whole.volume, taken.volume, taken.rest),
                    mass: left(whole.mass, taken.mass, taken.rest),
                    ..whole
                };
                self.taken[index].add(&rest);
                self.taken[index].rest = true;
                rest
            }
            Some(PortionKind::Fraction(over, under)) => {
                whole.share(f64::from(*over) / f64::from((*under).max(1)))
            }
            Some(PortionKind::Amount { times, amount }) => {
                match self.claimed_at(line, thing, *times) {
                    Some(claimed) => claimed.clone(),
                    None => match self.reckoner.portion(line, *times, amount) {
                        Ok(basis) => self.portion_of(line, index, basis),
                        Err(_) => Content {
                            amount: None,
                            volume: drops(amount),
                            mass: None,
                            ..whole
                        },
                    },
                }
            }
        };
        // A solid's volume is not a liquid's, but that of its solution in water is.
        if material.is_liquid() || content.aqueous {
            content
        } else {
            Content {
                volume: None,
                ..content
            }
        }
    }

    /// `dilute to 50 mL with thf`: as much as brings the volume to that, where the present one is known.
    fn filled_up(
        &self,
        line: u32,
        vessel: usize,
        clause: &Clause,
        slot: Slot,
        thing: &Thing,
    ) -> Option<Option<Volume>> {
        let wanted = takes::fills_up_to(clause)?;
        let wanted = crate::convert::volume(wanted, line)?.value;
        let with = takes::in_slot(clause, Slot::With).next().is_some();
        let fills = slot == if with { Slot::With } else { Slot::Object };
        if !fills || !thing.portions.is_empty() {
            return None;
        }
        let fillers = takes::things(clause)
            .filter(|(other, thing)| *other == slot && self.item(thing).is_none())
            .count();
        let held = self.states.get(vessel)?.volume(self.materials());
        let held = held.filter(|held| fillers == 1 && *held < wanted);
        Some(held.map(|held| wanted - held))
    }

    /// A volume of a material that was worked out and not written; unknown is unknown.
    fn draw_volume(&mut self, line: u32, index: usize, volume: Option<Volume>) -> Content {
        let content = match volume {
            Some(volume) => {
                let origin = Origin::Convention("what is missing to the volume");
                let basis = Basis::Volume(Known::new(volume, Volume::default(), origin));
                self.portion_of(line, index, basis)
            }
            None => Content {
                amount: None,
                volume: None,
                mass: None,
                ..self.whole(line, index)
            },
        };
        self.taken[index].add(&content);
        content
    }

    /// Water, or a solution in it.
    pub(super) fn is_water(&self, thing: &Thing) -> bool {
        let (name, substance) = self.named(thing);
        let itself = substance.and_then(Substance::class) == Some(ReagentClass::Water);
        let listed = self
            .material(thing)
            .is_some_and(|index| self.materials()[index].aqueous);
        itself || listed || in_water_as_named(thing, name, substance)
    }

    pub(super) fn named<'t>(&self, thing: &'t Thing) -> (&'t str, Option<Substance>)
    where
        'a: 't,
    {
        match self.material(thing).map(|index| &self.materials()[index]) {
            Some(material) => (&material.identity.name, material.identity.substance),
            None => {
                let substance = match chemistry::find_name(&thing.name.text) {
                    Found::One(substance) => Some(substance),
                    _ => None,
                };
                (&thing.name.text, substance)
            }
        }
    }
}

/// Brine, or a solution whose strength says so.
fn in_water_as_named(thing: &Thing, name: &str, substance: Option<Substance>) -> bool {
    name.eq_ignore_ascii_case("brine")
        || matches!(&thing.referent, Referent::Substance(Some(strength)) if in_water(strength, substance))
}

/// A strength without a carrier is one in water where the solute is a salt, an acid or a base.
fn in_water(strength: &Strength, solute: Option<Substance>) -> bool {
    match (&strength.carrier, strength.form) {
        (Some((carrier, _)), _) => carrier.text.eq_ignore_ascii_case("water"),
        (None, StrengthForm::Glacial) => false,
        (
            None,
            StrengthForm::SaturatedAqueous | StrengthForm::Concentrated | StrengthForm::Aqueous,
        ) => true,
        (None, _) => solute.is_some_and(ionic),
    }
}

/// Drops are 0.05 mL each (common practice), so that what holds some more is not of unknown volume.
fn drops(amount: &Amount) -> Option<Volume> {
    match &amount.kind {
        AmountKind::Uncounted(count, what) if what.starts_with("drop") => {
            Some(Volume::new::<milliliter>(0.05) * f64::from(*count))
        }
        _ => None,
    }
}

fn times(thing: &Thing) -> u32 {
    thing
        .portions
        .iter()
        .find_map(|portion| match portion.kind {
            PortionKind::Amount { times, .. } => Some(times),
            _ => None,
        })
        .unwrap_or(1)
}

impl Taken {
    fn add(&mut self, content: &Content) {
        self.amount += content.amount.unwrap_or_default();
        self.volume += content.volume.unwrap_or_default();
        self.mass += content.mass.unwrap_or_default();
    }
}

/// What portions leave of all that is listed. Where they leave nothing for a step that takes the rest, how much that
/// takes is not known; where an earlier step took the rest, it is nothing.
fn left<Q>(all: Option<Q>, taken: Q, rest_is_gone: bool) -> Option<Q>
where
    Q: PartialOrd + Default + std::ops::Sub<Output = Q> + std::ops::Mul<f64, Output = Q> + Copy,
{
    let all = all?;
    let left = all - taken;
    if left > all * 1e-9 {
        Some(left)
    } else {
        (rest_is_gone || taken == Q::default()).then(Q::default)
    }
}
