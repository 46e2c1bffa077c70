//! Water and oxygen that meet what is in a vessel, source by source.
//!
//! Every source has three estimates, for hardly any of the figures is known to better than a factor of two
//! ([`Defaults`] says where each comes from): headspace and purging are within 10 %, solvents within a factor of two
//! unless measured, glass and openings within a factor of three, hydrates exact. What nobody can know (a solid that is
//! not said to be hygroscopic) counts as nothing.
//!
//! The steps are gone through forwards, beside the vessels' own states: what a step brings depends on the steps up to it.

mod bottle;
mod defaults;
mod gas;
mod pass;
#[cfg(test)]
mod tests;
mod tool;

pub use bottle::{is_aqueous_by_choice, is_dried_by_a_step};
pub use defaults::Defaults;

use crate::known::At;
use crate::material::Material;
use crate::vessel::{Apparatus, VesselState};
use crate::{Plan, Room};
use chemistry::quantity::volume;
use chemistry::{molar_volume, water_vapour_pressure};
use pass::Pass;
use std::ops::{Add, Mul};
use std::sync::Arc;
use uom::si::f64::{AmountOfSubstance, Area, Pressure, Ratio, Volume};
use uom::si::pressure::hectopascal;
use uom::si::ratio::ratio;

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
    /// The water of a reagent that is taken dissolved in it and is sold without it, too.
    Solution,
    /// The film of water on glass.
    Glass,
    /// The gas above the contents.
    GasSpace,
    /// Air let in while the vessel was open.
    Opening,
    /// Gas from a balloon of rubber, breathed in.
    Balloon,
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
        self.budgets(&[(entry, last)]).pop().unwrap_or_default()
    }

    /// The same for several reagents at once.
    #[must_use]
    pub fn budgets(&self, asked: &[(usize, usize)]) -> Vec<Budget> {
        let mut budgets = vec![Budget::default(); asked.len()];
        // What counts only for what is in the vessel already comes behind.
        let mut behind = vec![Vec::new(); asked.len()];
        let end = asked.iter().map(|(_, last)| last + 1).max().unwrap_or(0);
        let mut pass = Pass::new(self);
        for (index, moment) in self.moments.iter().enumerate().take(end) {
            let opened = pass.step(moment);
            for (place, &(entry, last)) in asked.iter().enumerate() {
                let Some(vessel) = self.moments.get(entry).map(|moment| moment.vessel) else {
                    continue;
                };
                if index == entry {
                    behind[place].extend(pass.gas_space(moment, vessel));
                } else if index > entry && index <= last && moment.vessel == vessel {
                    behind[place].extend(opened.clone());
                }
                if index == last {
                    budgets[place].sources.clone_from(&pass.met[vessel].sources);
                    budgets[place].sources.append(&mut behind[place]);
                }
            }
        }
        budgets
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
pub fn glass_area(capacity: Volume) -> Area {
    let side = capacity.get::<volume::milliliter>().powf(2.0 / 3.0);
    Area::new::<uom::si::area::square_centimeter>(6.0 * side)
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
pub fn oxygen_of_air(air: Volume, room: &Room) -> AmountOfSubstance {
    air / molar_volume(room.temperature, atmosphere()) * 0.2095
}

/// Water in a volume of room air, from its relative humidity.
#[must_use]
pub fn water_of_air(air: Volume, room: &Room) -> AmountOfSubstance {
    let part = water_vapour_pressure(room.temperature) / atmosphere() * room.humidity;
    (air / molar_volume(room.temperature, atmosphere())) * part.value
}

fn atmosphere() -> Pressure {
    Pressure::new::<hectopascal>(1013.25)
}
