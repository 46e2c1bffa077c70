//! What needles, syringes and balloons let in.

use super::defaults::{BALLOON_HUMIDITY, BALLOON_OXYGEN, NEEDLE_AIR, NEEDLE_EXCHANGE};
use super::pass::{Pass, at_verb};
use super::{Source, SourceKind, gas_space, oxygen_of_air, water_of_air};
use crate::vessel::{Gas, Moment};
use crate::{Plan, convert};
use chemistry::quantity::volume::milliliter;
use syntax::{
    Clause, Modifier, ModifierKind, PortionKind, Quantity, Referent, Statement, Thing, Verb,
};
use uom::si::f64::Volume;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::time::hour;

impl Plan {
    /// The modifier of a clause that names a syringe, and what the syringe holds at most: as the clause or the equipment
    /// says; of several the largest. A syringe pump is not meant.
    #[must_use]
    pub fn syringe<'a>(&self, clause: &'a Clause) -> Option<(&'a Modifier, Option<Volume>)> {
        let is_syringe = |thing: &&Thing| {
            let names = |word| contains(&thing.name.text, word);
            names("syringe") && !names("pump")
                || matches!(thing.referent, Referent::Key(id)
                    if self.apparatus.iter().any(|item| item.id == Some(id) && item.head.starts_with("syringe")))
        };
        clause.modifiers.iter().find_map(|modifier| {
            // `via syringe`, `with a 10 mL syringe`, `from the syringe`, `by syringe`
            let (ModifierKind::Via(things)
            | ModifierKind::With(things)
            | ModifierKind::From(things)
            | ModifierKind::Other(_, things)) = &modifier.kind
            else {
                return None;
            };
            let tool = things.iter().find(is_syringe)?;
            let written = tool
                .portions
                .iter()
                .find_map(|portion| match &portion.kind {
                    PortionKind::Amount { amount, .. } => holds(amount.quantity.as_ref()?),
                    _ => None,
                });
            Some((modifier, written.or_else(|| self.largest_syringe(tool))))
        })
    }

    /// The largest syringe of the line that is meant: the named one, or all that the plan lists.
    fn largest_syringe(&self, tool: &Thing) -> Option<Volume> {
        let named = match tool.referent {
            Referent::Key(id) => Some(id),
            _ => None,
        };
        let syringes = self.apparatus.iter().filter(|item| {
            item.head.starts_with("syringe") && (named.is_none() || item.id == named)
        });
        let sizes = syringes.filter_map(|item| {
            match &self.text.lines.get(item.line? as usize)?.statement {
                Statement::Equipment(equipment) => Some(&equipment.sizes),
                _ => None,
            }
        });
        let sizes = sizes.flatten().filter_map(holds);
        sizes.max_by(|a, b| a.value.total_cmp(&b.value))
    }
}

/// Whether a word in lower case stands in a text in any case.
fn contains(text: &str, word: &str) -> bool {
    let mut stretches = text.as_bytes().windows(word.len());
    stretches.any(|stretch| stretch.eq_ignore_ascii_case(word.as_bytes()))
}

fn holds(quantity: &Quantity) -> Option<Volume> {
    let volume = convert::volume(quantity, 0)?.value;
    (volume.value > 0.0).then_some(volume)
}

fn pumps(clause: &Clause) -> bool {
    clause.modifiers.iter().any(|modifier| {
        matches!(&modifier.kind, ModifierKind::Via(things)
            if things.iter().any(|thing| thing.name.text.contains("syringe")))
    })
}

impl Pass<'_> {
    /// Air in the needle, at every stroke that it takes to bring what a step brings.
    pub(super) fn needles(&self, moment: &Moment, clause: &Clause) -> Option<Source> {
        let capacity = match self.plan.syringe(clause) {
            Some((_, capacity)) => capacity,
            // A pump has one needle, and no second stroke.
            None if pumps(clause) => None,
            None => return None,
        };
        let strokes: f64 = moment
            .additions
            .iter()
            .filter(|addition| addition.content.is_liquid(&self.plan.materials))
            .map(|addition| {
                let strokes = addition.content.volume.zip(capacity);
                // A stroke is not begun for what the digits do not claim.
                strokes.map_or(1.0, |(volume, capacity)| {
                    ((volume / capacity).value * 0.999).ceil().max(1.0)
                })
            })
            .sum();
        let air = NEEDLE_AIR * strokes.max(1.0);
        Some(self.air(
            SourceKind::Tool,
            "needles and syringes".into(),
            at_verb(moment, clause),
            air.map(Volume::new::<milliliter>),
            "0.1 mL of air in the needle at every stroke, where it is not flushed (an assumption)",
        ))
    }

    /// What a vessel breathes in from a balloon as it is cooled: gas that has taken up water and oxygen through the rubber.
    /// Counts only for what is in the vessel already; what comes later meets it as the gas above the contents.
    pub(super) fn balloon(&mut self, moment: &Moment, clause: &Clause) -> Option<Source> {
        let vessel = moment.vessel;
        let (before, after) = (moment.before.get(vessel)?, moment.after.get(vessel)?);
        let item = self.item(vessel)?;
        let inert = |gas: &Gas| {
            matches!(gas, Gas::Filled { gas, .. }
            if ["argon", "nitrogen", "helium"].iter().any(|inert| gas.eq_ignore_ascii_case(inert)))
        };
        if !inert(&after.gas) || moment.glovebox {
            self.met[vessel].balloon = None;
            return None;
        }
        let words = convert::at(moment.line, clause.span);
        let named = || {
            let words = self.plan.slice(words.line, words.span);
            clause.verb != Verb::Fill && words.is_some_and(|text| text.contains("balloon"))
        };
        if matches!(
            clause.verb,
            Verb::Purge | Verb::EvacuateAndRefill | Verb::Vent
        ) {
            self.met[vessel].balloon = None;
        }
        let since = match self.met[vessel].balloon {
            Some(since) => since,
            None if self.met[vessel].has_balloon || named() => 0.0,
            None => return None,
        };
        let hours = super::gas::time(clause).map_or(0.0, |time| time.get::<hour>());
        self.met[vessel].balloon = Some(since + hours);
        let space = gas_space(item, after, &self.plan.materials)?;
        let (warm, cold) = (
            before.temperature.get::<kelvin>(),
            after.temperature.get::<kelvin>(),
        );
        let drawn = space * (1.0 - cold / warm).max(0.0);
        let exchanged = NEEDLE_EXCHANGE.map(|each| drawn + Volume::new::<milliliter>(each * hours));
        if exchanged.high <= Volume::default() {
            return None;
        }
        let of_air = BALLOON_OXYGEN.map(|each| (each * (since + hours) / 0.2095).min(1.0));
        let oxygen = exchanged.with(of_air, |gas, share| gas * share);
        let water = exchanged.with(BALLOON_HUMIDITY, |gas, share| gas * share);
        let met = &mut self.met[vessel];
        met.air = met
            .air
            .with(oxygen, |own, air| (own + (air / space).value).min(1.0));
        let room = &self.plan.room;
        Some(Source {
            kind: SourceKind::Balloon,
            name: format!("the balloon on {}", item.name).into(),
            at: at_verb(moment, clause),
            water: water.map(|air| water_of_air(air, room)),
            oxygen: oxygen.map(|air| oxygen_of_air(air, room)),
            basis: "breathed in from a balloon, which lets water and oxygen through (an estimate)"
                .into(),
        })
    }
}
