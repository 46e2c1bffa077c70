//! Moves substances from bottle to vessel and from vessel to vessel.

use super::{Addition, Content, Simulation, What, gas_name};
use crate::known::At;
use crate::ledger::Amounts;
use crate::material::Material;
use crate::takes::{self, Slot};
use chemistry::{Found, ReagentClass, Substance, Tag};
use std::sync::Arc;
use syntax::{Clause, PortionKind, Referent, Strength, StrengthForm, Thing, Verb};
use uom::si::f64::{AmountOfSubstance, Mass, Volume};

impl Simulation<'_> {
    pub(super) fn extract(&mut self, line: u32, vessel: usize, clause: &Clause) -> Option<Volume> {
        let peak = self.passing(line, vessel, clause);
        self.make_unclear(vessel);
        peak
    }

    /// The volume while one portion of what the clause brings is in the vessel; it does not stay.
    pub(super) fn passing(&mut self, line: u32, vessel: usize, clause: &Clause) -> Option<Volume> {
        let mut volume = self.states[vessel].volume(self.materials())?;
        for (slot, thing) in takes::things(clause) {
            if slot == Slot::With {
                volume += self.portion_volume(line, thing)?;
            }
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
                        self.reckoner
                            .complete(material, basis)
                            .volume
                            .ok()
                            .map(|known| known.value)
                    }
                    None => self.reckoner.stated_volume(line, amount),
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
        for (slot, thing) in takes::things(clause).filter(|(slot, _)| slots.contains(slot)) {
            match self.holder(thing) {
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
        if from.quenched.is_some() {
            self.change(vessel, |state| {
                state.quenched = state.quenched.or(from.quenched)
            });
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
        self.change(vessel, |state| {
            match state.contents.iter_mut().find(|held| held.is_of(&content)) {
                Some(held) => held.grow(&content),
                None => state.contents.push(content),
            }
        });
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
            }
            let no_substance = matches!(
                thing.referent,
                Referent::Unknown | Referent::Value | Referent::Words | Referent::Place
            );
            if is_gas || no_substance {
                return;
            }
            let (name, substance) = self.named(thing);
            let volume = self
                .portion_volume(line, thing)
                .map(|one| one * f64::from(times(thing)));
            let aqueous = in_water_as_named(thing, &name, substance);
            let what = What::Named(name, substance);
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
        let there = self.states[vessel]
            .contents
            .iter()
            .any(|c| matches!(c.what, What::Material(i) if i == index));
        let handled = slot == Slot::Object && thing.portions.is_empty() && there;
        if handled && matches!(clause.verb, Verb::Dissolve | Verb::Suspend) {
            return;
        }
        let content = self.draw(line, index, thing);
        additions.push(Addition {
            content: content.clone(),
            at,
            from: None,
        });
        self.put(vessel, content);
    }

    /// A portion of a material, or all that is left of it.
    fn draw(&mut self, line: u32, index: usize, thing: &Thing) -> Content {
        let material = &self.materials()[index];
        let total = &self.amounts[index];
        let taken = self.taken[index];
        let aqueous = is_aqueous(material);
        let of = |amount: Option<AmountOfSubstance>, volume: Option<Volume>, mass: Option<Mass>| {
            Content {
                what: What::Material(index),
                amount,
                volume,
                mass,
                aqueous,
                line,
            }
        };
        let known = |amounts: &Amounts| {
            let Amounts {
                amount,
                volume,
                mass,
                ..
            } = amounts;
            of(
                amount.as_ref().ok().map(|known| known.value),
                volume.as_ref().ok().map(|known| known.value),
                mass.as_ref().ok().map(|known| known.value),
            )
        };
        let content = match thing.portions.first().map(|portion| &portion.kind) {
            None | Some(PortionKind::Rest) => {
                let whole = known(total);
                of(
                    whole.amount.map(|all| at_least_none(all, taken.amount)),
                    whole.volume.map(|all| at_least_none(all, taken.volume)),
                    whole.mass.map(|all| at_least_none(all, taken.mass)),
                )
            }
            Some(PortionKind::Fraction(over, under)) => {
                known(total).share(f64::from(*over) / f64::from((*under).max(1)))
            }
            Some(PortionKind::Amount { times, amount }) => {
                match self.reckoner.portion(line, *times, amount) {
                    Ok(basis) => known(&self.reckoner.complete(material, basis)),
                    Err(_) => of(None, None, None),
                }
            }
        };
        // A solid's volume is not a liquid's.
        let content = if material.is_liquid() {
            content
        } else {
            Content {
                volume: None,
                ..content
            }
        };
        let taken = &mut self.taken[index];
        taken.amount += content.amount.unwrap_or_default();
        taken.volume += content.volume.unwrap_or_default();
        taken.mass += content.mass.unwrap_or_default();
        content
    }

    /// Water, or a solution in it.
    pub(super) fn is_water(&self, thing: &Thing) -> bool {
        let (name, substance) = self.named(thing);
        let itself = substance.and_then(Substance::class) == Some(ReagentClass::Water);
        let listed = self
            .material(thing)
            .is_some_and(|index| is_aqueous(&self.materials()[index]));
        itself || listed || in_water_as_named(thing, &name, substance)
    }

    pub(super) fn named(&self, thing: &Thing) -> (Arc<str>, Option<Substance>) {
        match self.material(thing).map(|index| &self.materials()[index]) {
            Some(material) => (material.identity.name.clone(), material.identity.substance),
            None => {
                let substance = match chemistry::find_name(&thing.name.text) {
                    Found::One(substance) => Some(substance),
                    _ => None,
                };
                (thing.name.text.as_ref().into(), substance)
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

/// The same of a line of the plan.
fn is_aqueous(material: &Material) -> bool {
    let Some(text) = material.strength_text.as_deref() else {
        return false;
    };
    let words = text.to_ascii_lowercase();
    let carried = words.contains(" in ") || words.contains(" on ");
    words.ends_with(" in water")
        || words.contains("aq")
        || words.contains("conc")
        || !carried && !words.contains("glacial") && material.identity.substance.is_some_and(ionic)
}

fn ionic(substance: Substance) -> bool {
    let salt = matches!(
        substance.class(),
        Some(ReagentClass::Acid | ReagentClass::Base | ReagentClass::Salt | ReagentClass::Oxidant)
    );
    salt || substance.class() == Some(ReagentClass::Water) || substance.has(Tag::Protic)
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

fn at_least_none<Q: PartialOrd + Default + std::ops::Sub<Output = Q> + Copy>(
    total: Q,
    taken: Q,
) -> Q {
    let left = total - taken;
    if left > Q::default() {
        left
    } else {
        Q::default()
    }
}
