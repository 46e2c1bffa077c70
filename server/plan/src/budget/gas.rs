//! The gas above the contents: purged, evacuated, let in.

use super::pass::{Pass, at_verb};
use super::{Estimate, Source, SourceKind, atmosphere, gas_space};
use crate::convert;
use crate::vessel::{Filling, Gas, Moment, VesselState};
use chemistry::molar_volume;
use chemistry::quantity::{mass, volume};
use syntax::{Clause, CountKind, ModifierKind, Sense, TimeKind, Verb};
use uom::si::f64::{Time, Volume};
use uom::si::pressure::pascal;
use uom::si::time::{hour, minute, second};
use uom::si::volume_rate::liter_per_minute;

impl Pass<'_> {
    /// The gas of a vessel is another one after a moment.
    pub(super) fn change_gas(
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
    pub(super) fn open(&mut self, moment: &Moment, clause: &Clause) -> Option<Source> {
        let vessel = moment.vessel;
        let before = moment.before.get(vessel)?;
        let Gas::Filled { gas, .. } = &before.gas else {
            return None;
        };
        let state = moment.after.get(vessel)?;
        if !before.is_inert() || moment.glovebox {
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
    pub(super) fn gas_space(&self, moment: &Moment, vessel: usize) -> Option<Source> {
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
pub(super) fn time(clause: &Clause) -> Option<Time> {
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
