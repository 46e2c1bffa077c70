//! What a substance brings from its bottle: the water of liquids and solids, and oxygen dissolved.

use super::defaults::{self, SOLVENTS, Solvent};
use super::gas::time;
use super::pass::Pass;
use super::{Estimate, Source, SourceKind};
use crate::known::At;
use crate::material::{Bottle, Material};
use crate::takes::Slot;
use crate::vessel::{Addition, Content, What};
use crate::{Plan, convert};
use chemistry::quantity::mass;
use chemistry::{Formula, ReagentClass, Substance, Tag};
use std::sync::Arc;
use syntax::{Clause, Condition, Modifier, ModifierKind, Nature, Verb};
use uom::si::amount_of_substance::mole;
use uom::si::f64::{AmountOfSubstance, Mass, MolarConcentration, Time};
use uom::si::molar_concentration::mole_per_cubic_meter;
use uom::si::ratio::ratio;
use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::time::hour;

impl<'a> Pass<'a> {
    /// A substance from its bottle.
    pub(super) fn bottled(&self, addition: &Addition) -> Option<Source> {
        let content = &addition.content;
        let material = self.material(content);
        let substance = content.substance(&self.plan.materials)?;
        let called = substance.name();
        let known = SOLVENTS.iter().find(|row| row.name == called);
        let name: Arc<str> = content.name(&self.plan.materials).into();
        let at = material.map_or(addition.at, |material| {
            material.identity.at.unwrap_or(At {
                line: material.line,
                span: material.key.span,
            })
        });
        // A solution knows its water: its titre is what is left. Water it is in is there on purpose, unless it is sold
        // without.
        if let Some(material) = material.filter(|material| is_aqueous_by_choice(material)) {
            let dried = is_dried_by_a_step(self.plan, material, addition.at.line);
            return in_water(content, material, name, at).filter(|_| !dried);
        }
        if material.is_some_and(|material| material.diluted) || content.aqueous {
            return None;
        }
        if content.is_liquid(&self.plan.materials) {
            let dried = material
                .is_some_and(|material| is_dried_by_a_step(self.plan, material, addition.at.line));
            return liquid(content, material, substance, known, name, at, dried);
        }
        let dried = material.is_some_and(|material| {
            clauses_before(self.plan, material, addition.at.line).any(dries)
        });
        self.solid(content, material, substance, name, at, dried)
    }
    fn material(&self, content: &Content) -> Option<&'a Material> {
        match content.what {
            What::Material(index) => self.plan.materials.get(index),
            What::Named(..) => None,
        }
    }
    fn solid(
        &self,
        content: &Content,
        material: Option<&Material>,
        substance: Substance,
        name: Arc<str>,
        at: At,
        dried: bool,
    ) -> Option<Source> {
        let waters = substance
            .formula()
            .and_then(|formula| Formula::parse(formula).ok())
            .map_or(chemistry::Ratio::from_integer(0), |formula| {
                formula.crystal_water()
            });
        if waters > chemistry::Ratio::from_integer(0) {
            // Heated under vacuum it may have lost its water.
            let amount = content.amount.filter(|_| !dried)?;
            let waters = *waters.numer() as f64 / *waters.denom() as f64;
            return Some(Source {
                kind: SourceKind::Hydrate,
                name,
                at,
                water: Estimate::exact(amount * waters),
                oxygen: Estimate::default(),
                basis: "water of crystallisation".into(),
            });
        }
        let stated = material.and_then(|material| material.stated_nature(Nature::Hygroscopic));
        let share = if stated == Some(false) {
            return None;
        } else if substance.has(Tag::HygroscopicStrong) {
            defaults::STRONGLY_HYGROSCOPIC
        } else if substance.has(Tag::HygroscopicMild) || stated == Some(true) {
            defaults::MILDLY_HYGROSCOPIC
        } else {
            return None;
        };
        let said_dry = material.is_some_and(|material| {
            let mut conditions = material.conditions.iter();
            conditions.any(|(condition, _)| matches!(condition, Condition::Dry))
        });
        let kept = if dried || said_dry {
            defaults::DRIED
        } else {
            1.0
        };
        let mass = content.mass?;
        Some(Source {
            kind: SourceKind::Hygroscopic,
            name,
            at,
            water: share.map(|share| water_of(mass * share * kept)),
            oxygen: Estimate::default(),
            basis: if kept < 1.0 {
                DRIED_SOLID.into()
            } else {
                "hygroscopic, not said to be dried (an assumption)".into()
            },
        })
    }
}

/// Whether a line takes a peroxide as its solution in water that is also sold in a dry solvent: tert-butyl hydroperoxide,
/// but not hydrogen peroxide, whose water nobody can leave out. What the line says to be dried is dry.
#[must_use]
pub fn is_aqueous_by_choice(material: &Material) -> bool {
    let sold_dry = |substance: Substance| {
        substance.class() == Some(ReagentClass::Peroxide)
            && substance
                .strengths()
                .any(|sold| sold.contains(" in ") && !sold.ends_with(" in water"))
    };
    let dry = |condition: &Condition| {
        matches!(
            condition,
            Condition::Dry | Condition::Over(_) | Condition::Water(_) | Condition::Distilled
        )
    };
    material.carrier.as_deref() == Some("water")
        && material.identity.substance.is_some_and(sold_dry)
        && !material
            .conditions
            .iter()
            .any(|(condition, _)| dry(condition))
}

/// All of a solution by mass that is not the solute; some of it may be other than water.
fn in_water(content: &Content, material: &Material, name: Arc<str>, at: At) -> Option<Source> {
    let Bottle::MassFraction(share) = &material.bottle else {
        return None;
    };
    let rest = mass_of(content, Some(material), material.identity.substance?)?
        * (1.0 - share.value.get::<ratio>());
    Some(Source {
        kind: SourceKind::Solution,
        name,
        at,
        water: defaults::WATER_OF_THE_REST.map(|part| water_of(rest * part)),
        oxygen: Estimate::default(),
        basis: "what is not the solute in its bottle".into(),
    })
}

pub(super) const DRIED_SOLID: &str = "hygroscopic, dried (an assumption)";

/// A liquid that is no solution, with its water and dissolved oxygen.
fn liquid(
    content: &Content,
    material: Option<&Material>,
    substance: Substance,
    known: Option<&Solvent>,
    name: Arc<str>,
    at: At,
    dried: bool,
) -> Option<Source> {
    let conditions = material.map_or([].as_slice(), |material| material.conditions.as_slice());
    let has = |is: fn(&Condition) -> bool| conditions.iter().any(|(condition, _)| is(condition));
    let measured = conditions
        .iter()
        .find_map(|(condition, at)| match condition {
            Condition::Water(quantity) => Some((convert::share(quantity, 0)?.value.value, *at)),
            _ => None,
        });
    let doubtful = |ppm: f64| Estimate {
        low: ppm / 2.0,
        typical: ppm,
        high: ppm * 2.0,
    };
    let is_thf = substance.name() == "tetrahydrofuran";
    let over_sieves = dried || has(|c| matches!(c, Condition::Over(_)));
    let dry = has(|c| matches!(c, Condition::Dry));
    let distilled = has(|c| matches!(c, Condition::Distilled));
    let received = has(|c| matches!(c, Condition::AsReceived));
    let mut place = at;
    let source = if is_thf {
        "J. Org. Chem. 2010, 75, 8351"
    } else {
        "an assumption"
    };
    let (kind, ppm, basis) = if let Some((share, at)) = measured {
        place = at;
        let ppm = Estimate::exact(share * 1e6);
        (SourceKind::Measured, ppm, "as written".to_owned())
    } else {
        let known = known?;
        if over_sieves {
            let ppm = known.over_sieves;
            let basis = format!("about {ppm} ppm over sieves ({source})");
            (SourceKind::Dried, doubtful(ppm), basis)
        } else if distilled {
            let ppm = defaults::DISTILLED;
            let basis = format!("about {ppm} ppm distilled ({source})");
            (SourceKind::Dried, doubtful(ppm), basis)
        } else if dry {
            let ppm = known.dry;
            let basis = format!("about {ppm} ppm, as sold dry (common practice)");
            (SourceKind::Dried, doubtful(ppm), basis)
        } else {
            let kind = if received {
                SourceKind::AsReceived
            } else {
                SourceKind::Unstated
            };
            let Estimate { low, typical, high } = known.as_bought;
            let basis = format!("{low} to {high} ppm as bought, typically {typical} ({source})");
            // Only what was measured may fire a warning.
            let low = if is_thf { low } else { 0.0 };
            (
                kind,
                Estimate {
                    low,
                    ..known.as_bought
                },
                basis,
            )
        }
    };
    let mass = mass_of(content, material, substance)?;
    let degassed = has(|c| matches!(c, Condition::Degassed));
    let dissolved = known.map_or(0.0, |known| known.oxygen);
    let oxygen = content
        .volume
        .map_or(AmountOfSubstance::default(), |volume| {
            volume * MolarConcentration::new::<mole_per_cubic_meter>(dissolved)
        });
    let left = if degassed {
        defaults::OXYGEN_IF_DEGASSED
    } else if dry || over_sieves || distilled || measured.is_some() {
        defaults::OXYGEN_IF_DRY
    } else {
        Estimate {
            low: 0.0,
            ..Estimate::exact(1.0)
        }
    };
    Some(Source {
        kind,
        name,
        at: place,
        water: ppm.map(|ppm| water_of(mass * (ppm * 1e-6))),
        oxygen: left.map(|left| oxygen * left),
        basis: basis.into(),
    })
}

fn mass_of(content: &Content, material: Option<&Material>, substance: Substance) -> Option<Mass> {
    content.mass.or_else(|| {
        let density = match material {
            Some(material) => material.density.as_ref().ok()?.value,
            None => substance.density()?.value,
        };
        Some(content.volume? * density)
    })
}

fn water_of(mass: Mass) -> AmountOfSubstance {
    // 18.015 g/mol: CIAAW standard atomic weights, abridged.
    AmountOfSubstance::new::<mole>(mass.get::<mass::gram>() / 18.015)
}
/// The clauses above a line that act on a material.
fn clauses_before<'a>(
    plan: &'a Plan,
    material: &Material,
    line: u32,
) -> impl Iterator<Item = &'a Clause> {
    plan.takes_of(material.id)
        .take_while(move |take| take.line < line)
        .filter(|take| take.slot == Slot::Object)
        .map(|take| take.clause)
}

/// `dry salt under vacuum at 80 °C for 2 h`: at least an hour at 40 °C or more; or `coevaporate salt with toluene`.
pub(super) fn dries(clause: &Clause) -> bool {
    let long = || time(clause).is_some_and(|time| time >= Time::new::<hour>(1.0));
    let warm = |modifier: &Modifier| match &modifier.kind {
        ModifierKind::Temperature(_, syntax::TemperatureValue::Quantity(quantity)) => {
            convert::temperature(quantity).is_some_and(|t| t.get::<degree_celsius>() >= 40.0)
        }
        _ => false,
    };
    match clause.verb {
        Verb::Coevaporate => true,
        Verb::Dry | Verb::Bake | Verb::Heat => clause.modifiers.iter().any(warm) && long(),
        _ => false,
    }
}

/// `dry thf over 3 Å sieves for 24 h`, `distil thf`, above a line of the plan.
#[must_use]
pub fn is_dried_by_a_step(plan: &Plan, material: &Material, line: u32) -> bool {
    clauses_before(plan, material, line)
        .any(|clause| matches!(clause.verb, Verb::Dry | Verb::Distil))
}
