//! How dry the glass is and what gas stands in it.

use super::simulation::Places;
use super::{Addition, Filling, Gas, Glass, Rinse, Simulation, VesselState, celsius, gas_name};
use crate::convert;
use crate::known::At;
use crate::takes::{self, Slot};
use smallvec::smallvec;
use std::sync::Arc;
use syntax::{
    Clause, Modifier, ModifierKind, Referent, Sense, TemperatureValue, Thing, TimeKind, Verb,
};
use uom::si::f64::{Time, Volume};
use uom::si::time::{hour, minute};

impl Simulation<'_> {
    /// Sets the gas of a vessel and of all that it was assembled with.
    pub(super) fn set_gas(&mut self, index: usize, gas: &Gas) {
        let joined = self.states[index].joined.clone();
        for index in joined.into_iter().chain([index]) {
            if self.is(index, |state| state.gas != *gas) {
                self.change(index, |state| state.gas = gas.clone());
            }
        }
    }

    /// `under argon` holds while the step is done; alone it says that the air is out, not how. Let into
    /// a vacuum, it is a refill.
    pub(super) fn gas_before(&mut self, line: u32, vessel: usize, clause: &Clause) {
        let says = |modifier: &Modifier| match &modifier.kind {
            ModifierKind::Under(_) => true,
            ModifierKind::Place(thing) => &*thing.name.text == "air",
            _ => false,
        };
        if !clause.modifiers.iter().any(says) {
            return;
        }
        let mut vessels = self.acted_on(clause, vessel);
        if clause.verb == Verb::Cool {
            vessels.extend(self.hot_ones(clause));
        }
        if moves_contents(clause.verb) {
            vessels = smallvec![vessel];
        }
        for modifier in &clause.modifiers {
            match &modifier.kind {
                ModifierKind::Under(things) => {
                    for thing in things {
                        if let Some(gas) = gas_name(thing, self.materials()) {
                            for &index in &vessels {
                                self.keep_under(line, index, &gas, clause.verb);
                            }
                        } else if is_vacuum(thing) && clause.verb != Verb::Filter {
                            for &index in &vessels {
                                self.pump(line, index, clause);
                            }
                        }
                    }
                }
                ModifierKind::Place(thing) if &*thing.name.text == "air" => {
                    for &index in &vessels {
                        self.set_gas(
                            index,
                            &Gas::Air {
                                said: true,
                                line: Some(line),
                            },
                        );
                    }
                }
                _ => {}
            }
        }
    }

    fn keep_under(&mut self, line: u32, vessel: usize, gas: &Arc<str>, verb: Verb) {
        let how = match &self.states[vessel].gas {
            Gas::Filled { gas: held, .. } if held == gas && verb != Verb::FlameDry => return,
            _ if verb == Verb::FlameDry => Filling::Flame,
            Gas::Vacuum { .. } => Filling::Cycles,
            Gas::Filled { how, .. } if self.states[vessel].is_inert() => *how,
            _ => Filling::Said,
        };
        self.set_gas(
            vessel,
            &Gas::Filled {
                gas: gas.clone(),
                how,
                line,
            },
        );
    }

    pub(super) fn each_item(
        &mut self,
        clause: &Clause,
        vessel: usize,
        how: impl Fn(&mut VesselState),
    ) {
        for index in self.items_or(clause, vessel) {
            self.change(index, &how);
        }
    }

    /// All equipment that a clause names, or the vessel that it is about.
    fn items_or(&self, clause: &Clause, vessel: usize) -> Places {
        let things = clause.objects.iter();
        let items: Places = things.filter_map(|thing| self.item(thing)).collect();
        if items.is_empty() {
            smallvec![vessel]
        } else {
            items
        }
    }

    pub(super) fn dry(&mut self, line: u32, vessel: usize, clause: &Clause) {
        let names_things = !clause.objects.is_empty();
        let glass = clause.verb != Verb::Dry || clause.senses.contains(&Sense::Glass);
        if !glass
            || names_things
                && clause
                    .objects
                    .iter()
                    .all(|thing| self.item(thing).is_none())
        {
            return;
        }
        let flame = clause.verb == Verb::FlameDry;
        let dried = if flame {
            Glass::Flame { line }
        } else {
            Glass::Oven { line }
        };
        if !flame && self.is_too_cool(clause) {
            self.each_item(clause, vessel, |state| {
                no_liquid_left(state);
                if !state.is_dry() {
                    state.dried_too_cool = Some(line);
                }
            });
            return;
        }
        self.each_item(clause, vessel, |state| {
            state.glass = dried.clone();
            state.dried_too_cool = None;
        });
        self.hot = self.items_or(clause, vessel).into_vec();
    }

    /// Water stays on glass at 60 °C and below (common practice: an oven has 110 °C and more), but for an hour or more
    /// under vacuum.
    fn is_too_cool(&self, clause: &Clause) -> bool {
        const TOO_COOL: f64 = 60.0;
        let hottest = clause
            .modifiers
            .iter()
            .filter_map(|modifier| match &modifier.kind {
                ModifierKind::Temperature(_, TemperatureValue::Quantity(quantity)) => {
                    convert::temperature(quantity)
                }
                ModifierKind::Temperature(_, TemperatureValue::Room(_)) => Some(self.room),
                _ => None,
            })
            .map(celsius)
            .reduce(f64::max);
        let pumped = under_vacuum(clause)
            && duration(clause).is_none_or(|time| time >= Time::new::<hour>(1.0));
        hottest.is_some_and(|t| t <= TOO_COOL) && !pumped
    }

    /// An empty vessel that is heated under vacuum is dried, whatever the verb.
    pub(super) fn bake_out(&mut self, line: u32, vessel: usize, clause: &Clause) {
        for index in self.acted_on(clause, vessel) {
            if under_vacuum(clause) && self.states[index].contents.is_empty() {
                if self.is_too_cool(clause) {
                    self.leave_no_liquid(index);
                    continue;
                }
                self.change(index, |state| state.glass = Glass::Oven { line });
                self.hot.push(index);
            }
        }
    }

    pub(super) fn cool(&mut self, clause: &Clause) {
        let cooled = self.hot_ones(clause);
        self.hot.retain(|index| !cooled.contains(index));
    }

    /// The hot equipment that a `cool` means.
    fn hot_ones(&self, clause: &Clause) -> Vec<usize> {
        let named: Vec<usize> = clause
            .objects
            .iter()
            .filter_map(|thing| self.item(thing))
            .collect();
        let meant = |index: &usize| named.is_empty() || named.contains(index);
        self.hot.iter().copied().filter(meant).collect()
    }

    /// Washing glass wets it; rinsing a vessel into another brings the rinse there; washing a solid or a
    /// liquid passes through the vessel.
    pub(super) fn wash(
        &mut self,
        line: u32,
        vessel: usize,
        clause: &Clause,
        additions: &mut Vec<Addition>,
    ) -> Option<Volume> {
        let into = clause.modifiers.iter().any(|modifier| {
            matches!(&modifier.kind, ModifierKind::To(things) if things.iter().any(|t| self.holder(t).is_some()))
        });
        // What runs down the walls stays in the vessel.
        let down = clause.verb == Verb::Rinse
            && clause.modifiers.iter().any(|modifier| {
                matches!(&modifier.kind, ModifierKind::Adverb(text) if text.text.starts_with("down "))
            });
        let source = clause.objects.iter().find_map(|thing| self.holder(thing));
        let with = || takes::in_slot(clause, Slot::With);
        if into || down {
            if let Some(source) = source.filter(|&source| source != vessel) {
                self.pour(
                    line,
                    source,
                    vessel,
                    1.0,
                    At {
                        line,
                        span: clause.verb_span,
                    },
                    additions,
                );
            }
            for thing in with() {
                self.take(line, vessel, clause, Slot::With, thing, additions);
            }
            return None;
        }
        let names_glass = clause
            .objects
            .iter()
            .any(|thing| self.item(thing).is_some());
        // A frit that is not listed is glass, and none whose state is followed.
        let followed = names_glass || clause.objects.is_empty();
        let glass = clause.senses.contains(&Sense::Glass) && followed
            || clause.verb == Verb::Rinse && names_glass;
        if !glass {
            return self.passing(line, vessel, clause);
        }
        let (solvent, substance) = self.named(with().last()?);
        self.each_item(clause, vessel, |state| {
            let was_dry = match &state.glass {
                Glass::Rinsed(rinse) | Glass::Drained(rinse) => rinse.was_dry,
                _ => state.is_dry(),
            };
            state.glass = Glass::Rinsed(Rinse {
                line,
                solvent: solvent.into(),
                substance,
                was_dry,
            });
            if state.contents.is_empty() {
                state.gas = Gas::Air {
                    said: false,
                    line: None,
                };
            }
        });
        None
    }

    pub(super) fn drain(&mut self, vessel: usize, clause: &Clause) {
        self.each_item(clause, vessel, |state| {
            if let Glass::Rinsed(rinse) = &state.glass {
                state.glass = Glass::Drained(rinse.clone());
            }
        });
    }

    pub(super) fn air_dry(&mut self, vessel: usize, clause: &Clause) {
        self.each_item(clause, vessel, no_liquid_left);
    }

    pub(super) fn assemble(&mut self, clause: &Clause) {
        let items: Vec<usize> = clause
            .objects
            .iter()
            .filter_map(|thing| self.holder(thing))
            .collect();
        for &index in &items {
            let others = items
                .iter()
                .copied()
                .filter(|&other| other != index)
                .collect();
            self.change(index, |state| state.joined = others);
        }
        let gas = items
            .iter()
            .find_map(|&index| match &self.states[index].gas {
                gas @ Gas::Filled { .. } => Some(gas.clone()),
                _ => None,
            });
        if let (Some(gas), Some(&first)) = (gas, items.first()) {
            self.set_gas(first, &gas);
        }
    }

    /// A stream of gas, or a vacuum let down with gas. Where the gas is not named, it is inert: nobody
    /// purges or degasses with air.
    pub(super) fn refill(&mut self, line: u32, vessel: usize, clause: &Clause) {
        let cycles =
            clause.verb == Verb::EvacuateAndRefill || clause.senses.contains(&Sense::Cycles);
        let how = if cycles {
            Filling::Cycles
        } else {
            Filling::Flow
        };
        let named =
            takes::in_slot(clause, Slot::With).find_map(|thing| gas_name(thing, self.materials()));
        let gas = match named {
            Some(gas) => gas,
            None if clause.verb == Verb::Fill => return,
            None => self
                .kept_under(clause)
                .unwrap_or_else(|| "inert gas".into()),
        };
        // A stream takes the liquid off the walls in minutes (common practice: five); cycles do not.
        let stream = !cycles
            && matches!(clause.verb, Verb::Purge)
            && duration(clause).is_none_or(|time| time >= Time::new::<minute>(5.0));
        for index in self.acted_on(clause, vessel) {
            self.set_gas(
                index,
                &Gas::Filled {
                    gas: gas.clone(),
                    how,
                    line,
                },
            );
            if stream {
                self.leave_no_liquid(index);
            }
        }
    }

    fn kept_under(&self, clause: &Clause) -> Option<Arc<str>> {
        clause
            .modifiers
            .iter()
            .find_map(|modifier| match &modifier.kind {
                ModifierKind::Under(things) => things
                    .iter()
                    .find_map(|thing| gas_name(thing, self.materials())),
                _ => None,
            })
    }

    pub(super) fn evacuate(&mut self, line: u32, vessel: usize, clause: &Clause) {
        for index in self.acted_on(clause, vessel) {
            self.pump(line, index, clause);
        }
    }

    /// A vacuum of some minutes takes the liquid off the walls (an assumption: five).
    fn pump(&mut self, line: u32, vessel: usize, clause: &Clause) {
        self.set_gas(vessel, &Gas::Vacuum { line });
        if duration(clause).is_some_and(|time| time >= Time::new::<minute>(5.0)) {
            self.leave_no_liquid(vessel);
        }
    }

    fn leave_no_liquid(&mut self, vessel: usize) {
        if self.is(vessel, |state| {
            matches!(state.glass, Glass::Rinsed(_) | Glass::Drained(_))
        }) {
            self.change(vessel, no_liquid_left);
        }
    }
}

fn no_liquid_left(state: &mut VesselState) {
    if matches!(state.glass, Glass::Rinsed(_) | Glass::Drained(_)) {
        state.glass = Glass::AirDried;
    }
}

fn moves_contents(verb: Verb) -> bool {
    matches!(
        verb,
        Verb::Transfer | Verb::Pour | Verb::Add | Verb::Decant | Verb::Charge
    )
}

fn is_vacuum(thing: &Thing) -> bool {
    let names = |name: &str| name.contains("vacuum") || name.contains("reduced pressure");
    matches!(
        thing.referent,
        Referent::Value | Referent::Words | Referent::Place
    ) && names(&thing.name.text.to_lowercase())
}

fn under_vacuum(clause: &Clause) -> bool {
    clause.modifiers.iter().any(
        |modifier| matches!(&modifier.kind, ModifierKind::Under(things) if things.iter().any(is_vacuum)),
    )
}

/// `for 5 min`, `overnight`.
fn duration(clause: &Clause) -> Option<Time> {
    clause
        .modifiers
        .iter()
        .find_map(|modifier| match &modifier.kind {
            ModifierKind::Time(TimeKind::Overnight, _) => Some(Time::new::<minute>(16.0 * 60.0)),
            ModifierKind::Time(_, Some(quantity)) => {
                convert::time(quantity, 0).map(|known| known.value)
            }
            _ => None,
        })
}
