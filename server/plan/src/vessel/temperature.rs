//! How hot the contents of a vessel are.

use super::{Content, Simulation, VesselState, What};
use crate::convert;
use crate::material::Material;
use chemistry::{Found, Substance, Tag};
use syntax::{Clause, ModifierKind, Role, TemperatureKind, TemperatureValue, Verb};
use uom::si::f64::ThermodynamicTemperature;
use uom::si::thermodynamic_temperature::degree_celsius;

/// What a clause says of the temperature.
enum Says {
    /// A temperature of the contents.
    Contents(ThermodynamicTemperature),
    /// A limit that they are cooled below.
    Below(ThermodynamicTemperature),
    /// Of the bath; the contents are between it and what they were.
    Bath(ThermodynamicTemperature),
    Reflux,
    /// That it changes, and not to what.
    Changes,
}

impl Simulation<'_> {
    pub(super) fn temperature(&mut self, vessel: usize, clause: &Clause) {
        // `dry flask at 125 °C` heats the glass, not what will be in it.
        if matches!(clause.verb, Verb::Dry | Verb::Bake | Verb::FlameDry) {
            return;
        }
        let (Some(says), Some(state)) = (self.says(vessel, clause), self.states.get(vessel)) else {
            return;
        };
        let known = match says {
            Says::Contents(t) => Some(t),
            Says::Below(t) if state.temperature_known && state.temperature < t => return,
            Says::Below(t) => Some(t),
            Says::Bath(t) => (t <= self.room).then_some(t),
            Says::Reflux => state.boiling_point(self.materials()),
            Says::Changes => None,
        };
        let temperature = known.unwrap_or(state.temperature);
        let now = (known.is_some(), temperature);
        if now != (state.temperature_known, state.temperature) {
            self.change(vessel, |state| {
                (state.temperature_known, state.temperature) = now;
            });
        }
    }

    fn says(&self, vessel: usize, clause: &Clause) -> Option<Says> {
        let (mut reflux, mut bath, mut below) = (clause.verb == Verb::Reflux, None, None);
        let mut contents = None;
        for modifier in &clause.modifiers {
            let ModifierKind::Temperature(kind, value) = &modifier.kind else {
                continue;
            };
            let t = match value {
                TemperatureValue::Quantity(quantity) => convert::temperature(quantity),
                TemperatureValue::Room(_) => Some(self.room),
                TemperatureValue::Reflux(_) => {
                    reflux = true;
                    None
                }
            };
            match kind {
                TemperatureKind::To | TemperatureKind::At => contents = t.or(contents),
                TemperatureKind::Bath => bath = t,
                TemperatureKind::Below => below = t,
                TemperatureKind::From | TemperatureKind::Above => {}
            }
        }
        if let Some(t) = contents {
            return Some(Says::Contents(t));
        }
        if let Some(t) = self.cold_place(clause) {
            return Some(Says::Contents(t));
        }
        if reflux {
            return Some(Says::Reflux);
        }
        if let Some(t) = bath.or_else(|| cold_bath(clause)) {
            return Some(Says::Bath(t));
        }
        if let Some(t) = below.filter(|_| clause.verb == Verb::Cool) {
            return Some(Says::Below(t));
        }
        let state = self.states.get(vessel)?;
        let empty = state.contents.is_empty() && !state.unclear;
        // What stands by itself, or is worked up, is not as hot as it was.
        let hot = state.temperature > self.room;
        let changes = match clause.verb {
            Verb::Cool | Verb::Heat | Verb::Warm => !empty,
            Verb::Remove => names_bath(clause),
            Verb::Wait
            | Verb::Settle
            | Verb::Extract
            | Verb::Separate
            | Verb::Filter
            | Verb::Concentrate
            | Verb::Coevaporate
            | Verb::Distil
            | Verb::Crystallise
            | Verb::Purify => hot,
            _ => false,
        };
        changes.then_some(Says::Changes)
    }
}

impl Simulation<'_> {
    /// A freezer is at about -20 °C, and a refrigerator at 4 °C (common practice). What is kept there by its name or out
    /// of its bottle is no vessel.
    fn cold_place(&self, clause: &Clause) -> Option<ThermodynamicTemperature> {
        let stands = matches!(
            clause.verb,
            Verb::Hold
                | Verb::Wait
                | Verb::Place
                | Verb::Cool
                | Verb::Settle
                | Verb::Stir
                | Verb::Crystallise
        );
        let mut named = clause.objects.iter();
        if !stands || named.any(|thing| self.holder(thing).is_none()) {
            return None;
        }
        let celsius = clause.modifiers.iter().find_map(|modifier| {
            let things = match &modifier.kind {
                ModifierKind::Place(thing) => std::slice::from_ref(&**thing),
                ModifierKind::To(things) => things.as_slice(),
                _ => return None,
            };
            things
                .iter()
                .find_map(|thing| match &*thing.name.text.to_lowercase() {
                    "freezer" => Some(-20.0),
                    "fridge" | "refrigerator" => Some(4.0),
                    _ => None,
                })
        })?;
        Some(ThermodynamicTemperature::new::<degree_celsius>(celsius))
    }
}

impl VesselState {
    /// Of the lowest-boiling solvent in it; of what reagents are dissolved in only where there is no other.
    fn boiling_point(&self, materials: &[Material]) -> Option<ThermodynamicTemperature> {
        if self.unclear {
            return None;
        }
        let lowest = |points: Option<Vec<ThermodynamicTemperature>>| {
            points?
                .into_iter()
                .min_by(|a, b| a.value.total_cmp(&b.value))
        };
        let solvents = || {
            self.contents
                .iter()
                .filter(|content| content.is_solvent(materials))
        };
        if solvents().next().is_some() {
            let points = solvents().flat_map(|content| content.boiling(materials));
            return lowest(points.collect());
        }
        let carriers = self
            .contents
            .iter()
            .filter_map(|content| match content.what {
                What::Material(index) => materials.get(index)?.carrier.as_deref(),
                What::Named(..) => None,
            });
        let points = carriers.map(|name| match chemistry::find_name(name) {
            Found::One(substance) => substance.boils_at(),
            _ => None,
        });
        lowest(points.collect())
    }
}

impl Content {
    /// A line with that role, a mixture, or what the library calls a solvent and nothing dilutes.
    fn is_solvent(&self, materials: &[Material]) -> bool {
        let material = match self.what {
            What::Material(index) => materials.get(index),
            What::Named(..) => None,
        };
        let said = material.is_some_and(|material| {
            material.role == Some(Role::Solvent) || !material.identity.mixture.is_empty()
        });
        let diluted = material.is_some_and(|material| material.diluted);
        let solvent = |substance: Substance| substance.has(Tag::Solvent);
        self.is_liquid(materials)
            && (said || !diluted && self.substance(materials).is_some_and(solvent))
    }

    /// The boiling points of it, or of its parts.
    fn boiling(&self, materials: &[Material]) -> Vec<Option<ThermodynamicTemperature>> {
        let parts: Vec<_> = self
            .parts(materials)
            .map(|(part, _)| part.and_then(Substance::boils_at))
            .collect();
        if parts.is_empty() {
            vec![self.substance(materials).and_then(Substance::boils_at)]
        } else {
            parts
        }
    }
}

fn names_bath(clause: &Clause) -> bool {
    let named = clause
        .modifiers
        .iter()
        .flat_map(|modifier| modifier.kind.things());
    clause.objects.iter().chain(named).any(|thing| {
        let name = thing.name.text.to_lowercase();
        let places = ["bath", "freezer", "fridge", "refrigerator"];
        places.iter().any(|place| name.ends_with(place))
    })
}

/// What an ice bath, or one of dry ice, holds by itself (common practice): 0 °C, and -78 °C in acetone or an alcohol;
/// liquid nitrogen, at its boiling point, -196 °C.
#[must_use]
pub fn cold_bath(clause: &Clause) -> Option<ThermodynamicTemperature> {
    if clause.verb == Verb::Remove {
        return None;
    }
    let things = clause
        .modifiers
        .iter()
        .flat_map(|modifier| match &modifier.kind {
            ModifierKind::Place(thing) => std::slice::from_ref(&**thing),
            ModifierKind::With(things) | ModifierKind::DissolvedIn(things) => things.as_slice(),
            _ => &[],
        });
    let celsius = things.into_iter().find_map(|thing| {
        let name = thing.name.text.to_lowercase();
        // `cool in dry ice/acetone`
        let mixed = match name.strip_suffix("bath") {
            Some(mixed) => mixed.trim_end(),
            None if clause.verb == Verb::Cool => &*name,
            None => return None,
        };
        if ["liquid nitrogen", "liquid n2", "ln2"].contains(&mixed) {
            return Some(-196.0);
        }
        let others = mixed.replace("dry ice", "").replace(['/', '-'], " ");
        let only = |known: &[&str]| others.split_whitespace().all(|word| known.contains(&word));
        if mixed.contains("dry ice") {
            only(&[
                "acetone",
                "isopropanol",
                "propan",
                "2",
                "ol",
                "iproh",
                "ethanol",
            ])
            .then_some(-78.0)
        } else {
            (mixed.contains("ice") && only(&["ice", "water", "cold"])).then_some(0.0)
        }
    })?;
    Some(ThermodynamicTemperature::new::<degree_celsius>(celsius))
}
