//! How each amount is measured at the bench, and what that leaves of it.

use crate::Plan;
use crate::known::{Known, Origin};
use crate::ledger::Amounts;
use crate::material::{Basis, Bottle, Material};
use crate::takes::{Slot, Take};
use crate::tools::Reading;
use chemistry::{ReagentClass, Sensitivity, State, Substance, combine, standard_uncertainty};
use syntax::{AmountKind, Condition, ModifierKind, Nature, Role, Statement};
use uom::si::f64::Ratio;
use uom::si::ratio::ratio;
use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::volume::milliliter;

/// How something is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Way {
    /// On a balance.
    Weigh,
    /// Into a syringe, off the air, or a pipette.
    Syringe,
    /// Into a cylinder.
    Cylinder,
    /// As a gas.
    Gas,
    /// Condensed from a gas, up to a mark in the cold vessel.
    Condense,
    /// Piece by piece.
    Count,
    /// By eye.
    Excess,
    /// Nobody knows yet how much.
    Open,
}

/// Above this a liquid goes into a cylinder unless a step says syringe or air would destroy it; common practice.
const BY_CYLINDER_ML: f64 = 10.0;

/// The same of water and what is dissolved in it, where a few percent do not matter; common practice.
pub const WATER_BY_CYLINDER_ML: f64 = 5.0;

/// Below this boiling point nobody condenses a gas to measure it, in °C: a name as `HCl 10 mL` means a solution then.
const COLDEST: f64 = -50.0;

/// How a gas is measured that is handled as a liquid, as it is said beside its volume; common practice.
pub const CONDENSED: &str = "condensed from the gas into the cold vessel, up to a mark set beforehand; as a liquid it goes into no syringe and no cylinder";

/// Equivalents from which on a few percent do not matter; common practice.
const PLENTY: f64 = 1.5;

/// The greatest error, over a mass, that goes without a word; common practice.
pub const TOLERATED: f64 = 0.02;
/// Of a volume: at the bottom of a syringe nobody promises 2 % (ISO 7886-1).
const TOLERATED_OF_VOLUMES: f64 = 0.10;
/// Of a mass that is used at [`CATALYTIC`] or less; common practice.
const TOLERATED_OF_CATALYSTS: f64 = 0.10;
/// Of the part of a stock solution: plastic syringes are no better (ISO 7886-1).
pub const TOLERATED_OF_PARTS: f64 = 0.05;
/// Equivalents.
const CATALYTIC: f64 = 0.05;

/// The greatest error of a measurement, over what is measured, that goes without a word.
#[must_use]
pub fn tolerated(way: Way, equivalents: f64) -> f64 {
    match way {
        Way::Weigh if equivalents > CATALYTIC => TOLERATED,
        Way::Weigh => TOLERATED_OF_CATALYSTS,
        _ => TOLERATED_OF_VOLUMES,
    }
}

/// What is left of an amount after it was measured (JCGM 100:2008).
#[derive(Clone, Debug)]
pub struct Uncertainty {
    /// Half the width of what the digits of strength, density and molar mass leave, over the amount.
    pub digits: Ratio,
    /// The tool.
    pub reading: Reading,
    /// Expanded uncertainty of the amount, over the amount.
    pub of_amount: Ratio,
    /// Expanded uncertainty of the equivalents, the measuring of the scale's material included. None for that
    /// material itself, and where either is unknown.
    pub of_equivalents: Option<Ratio>,
}

/// Coverage factor: about 95 % of a normal distribution (JCGM 100:2008, 6.3.3).
pub const COVERAGE: f64 = 2.0;

/// Whether something dries, filters or adsorbs by its name.
#[must_use]
pub fn is_aid(name: &str) -> bool {
    const NAMES: [&str; 17] = [
        "celite",
        "kieselguhr",
        "diatomaceous earth",
        "silica",
        "silica gel",
        "alumina",
        "aluminium oxide",
        "activated charcoal",
        "charcoal",
        "activated carbon",
        "sand",
        "florisil",
        "magnesium sulfate",
        "sodium sulfate",
        "MgSO4",
        "Na2SO4",
        "molecular sieves",
    ];
    let name = name.to_ascii_lowercase();
    let name = name.strip_prefix("anhydrous ").unwrap_or(&name);
    NAMES.iter().any(|aid| name.eq_ignore_ascii_case(aid))
        || name.ends_with(" molecular sieves")
        || name.starts_with("celite ")
}

/// Whether a gas is handled as a liquid. Formaldehyde is not: without its solution it polymerises.
#[must_use]
pub fn condenses(substance: Substance) -> bool {
    let boils = substance.boils_at();
    substance.state() == Some(State::Gas)
        && substance.cas() != Some("50-00-0")
        && boils.is_none_or(|boils| boils.get::<degree_celsius>() > COLDEST)
}

/// Whether it is water, or comes dissolved in it.
#[must_use]
pub fn is_in_water(material: &Material) -> bool {
    let class = material.identity.substance.and_then(Substance::class);
    class == Some(ReagentClass::Water) || material.aqueous
}

/// Whether the line says that it was dried, degassed or else kept from what would spoil it.
#[must_use]
pub fn is_kept(material: &Material) -> bool {
    let mut conditions = material.conditions.iter();
    conditions
        .any(|(condition, _)| !matches!(condition, Condition::AsReceived | Condition::Unstabilised))
}

fn is_condensed(material: &Material) -> bool {
    !material.diluted
        && !is_in_water(material)
        && material.identity.substance.is_some_and(condenses)
}

impl Plan {
    /// How a line is measured.
    #[must_use]
    pub fn way(&self, material: &Material, amounts: &Amounts) -> Way {
        let states =
            |kind: fn(&AmountKind) -> bool| material.stated.iter().any(|amount| kind(&amount.kind));
        if states(|kind| matches!(kind, AmountKind::Uncounted(..))) {
            return Way::Count;
        }
        match (&amounts.mass, &amounts.volume) {
            (_, Ok(_)) if matches!(material.bottle, Bottle::Gas) => Way::Gas,
            (_, Ok(_)) if is_condensed(material) => Way::Condense,
            (_, Ok(volume)) => {
                let volume = volume.value.get::<milliliter>();
                let roughly =
                    || is_in_water(material) && !self.is_measured_closely(material, amounts);
                let much = volume > BY_CYLINDER_ML || volume >= WATER_BY_CYLINDER_ML && roughly();
                if much && !self.is_kept_closed(material) {
                    Way::Cylinder
                } else {
                    Way::Syringe
                }
            }
            (Ok(_), Err(_)) => Way::Weigh,
            (Err(_), Err(_)) if states(|kind| *kind == AmountKind::Excess) => Way::Excess,
            // An atmosphere, as much as the reaction takes.
            (Err(_), Err(_)) if self.reckoner().is_atmosphere(material) => Way::Excess,
            (Err(_), Err(_)) => Way::Open,
        }
    }

    /// What air or water destroys does not go into an open cylinder, whatever its volume, nor what a step takes
    /// through a syringe.
    #[must_use]
    pub fn is_kept_closed(&self, material: &Material) -> bool {
        let destroyed = |by: fn(Substance) -> Sensitivity| {
            let substance = material.identity.substance;
            substance.is_some_and(|substance| by(substance) == Sensitivity::Destroyed)
        };
        let says = |nature| material.stated_nature(nature) == Some(true);
        destroyed(Substance::destroyed_by_water)
            || destroyed(Substance::destroyed_by_oxygen)
            || says(Nature::MoistureSensitive)
            || says(Nature::AirSensitive)
            || says(Nature::Pyrophoric)
            || self.goes_by_syringe(material)
    }

    /// Whether nobody takes a syringe for a volume that goes into a cylinder: of water and what is dissolved in it, and of
    /// what need not be exact, unless it is to stay dry.
    fn is_poured(&self, material: &Material, amounts: &Amounts) -> bool {
        is_in_water(material) || !self.is_measured_closely(material, amounts) && !is_kept(material)
    }

    fn goes_by_syringe(&self, material: &Material) -> bool {
        let named = |things: &[syntax::Thing]| {
            things
                .iter()
                .any(|thing| thing.name.text.contains("syringe"))
        };
        self.takes_of(material.id)
            .flat_map(|take| &take.clause.modifiers)
            .any(|modifier| matches!(&modifier.kind, ModifierKind::Via(things) if named(things)))
    }

    /// The portions in which the steps take a material, where they take more than one; each is measured by itself. What
    /// a step takes without a portion is what the others leave. Empty where one of them is not known.
    #[must_use]
    pub fn portions(&self, material: &Material) -> Vec<Amounts> {
        let takes: Vec<_> = self.takes_of(material.id).filter(Take::draws).collect();
        if takes.len() < 2 || takes.iter().all(|take| take.quantity().is_none()) {
            return Vec::new();
        }
        let portion = |take: &Take<'_>| match take.quantity() {
            Some((_, amount, _)) => self.portion(material, take.line, 1, amount).ok(),
            None => self.left_for(material, take),
        };
        takes
            .iter()
            .map(portion)
            .collect::<Option<_>>()
            .unwrap_or_default()
    }

    /// What the portions of other steps leave for one that states none, or the share that it states; none where nothing
    /// is left, and where nobody knows.
    #[must_use]
    pub fn left_for(&self, material: &Material, take: &Take<'_>) -> Option<Amounts> {
        let mut additions = self.moments.iter().flat_map(|moment| &moment.additions);
        let content = &additions.find(|addition| addition.at == take.at())?.content;
        let origin = || Origin::Convention("what is left of its line");
        let basis = if material.measured_by_volume() {
            let volume = content.volume.filter(|volume| volume.value > 0.0)?;
            Basis::Volume(Known::new(volume, volume * 0.0, origin()))
        } else {
            let mass = content.mass.filter(|mass| mass.value > 0.0)?;
            Basis::Mass(Known::new(mass, mass * 0.0, origin()))
        };
        Some(self.amounts_from(material, basis))
    }

    /// Whether nobody weighs it closely: what dries, filters or adsorbs, and salts that a work-up is shaken with (common
    /// practice).
    #[must_use]
    pub fn is_taken_about(&self, material: &Material) -> bool {
        let helps = |take: &Take<'_>| matches!(take.slot, Slot::Over | Slot::On | Slot::Through);
        let mut takes = self.takes_of(material.id).filter(Take::draws).peekable();
        let counted = material.stated.iter().any(|amount| {
            matches!(
                amount.kind,
                AmountKind::Equivalents | AmountKind::MolPercent | AmountKind::Amount
            )
        });
        let substance = material.identity.substance.map(Substance::name);
        !counted
            && (takes.peek().is_some() && takes.all(|take| helps(&take))
                || is_aid(&material.identity.name)
                || substance.is_some_and(is_aid))
    }

    /// Whether a few percent of the amount matter: not of a product or a solvent, nor of what is in plenty.
    #[must_use]
    pub fn is_measured_closely(&self, material: &Material, amounts: &Amounts) -> bool {
        let is_solvent = material.role == Some(Role::Solvent)
            || material.stated.iter().any(|amount| {
                matches!(
                    amount.kind,
                    AmountKind::FillTo | AmountKind::Relative | AmountKind::Excess
                )
            });
        let equivalents = amounts.equivalents.as_ref();
        let needed = equivalents.is_ok_and(|known| known.value.get::<ratio>() < PLENTY);
        !material.product && !is_solvent && needed
    }

    /// The smallest portion that the steps take, where they take more than one: what is hardest to measure.
    #[must_use]
    pub fn smallest_portion(&self, material: &Material) -> Option<Amounts> {
        let size = |amounts: &Amounts| {
            let amount = amounts.amount.as_ref().map(|known| known.value.value);
            amount.unwrap_or(f64::INFINITY)
        };
        let portions = self.portions(material).into_iter();
        portions.min_by(|a, b| size(a).total_cmp(&size(b)))
    }

    /// The tool that measures an amount of a material best: for a volume one that the plan's equipment lists, where one
    /// fits.
    #[must_use]
    pub fn reading(&self, material: &Material, amounts: &Amounts) -> Option<Reading> {
        let tools = &self.context.settings.tools;
        match self.way(material, amounts) {
            Way::Weigh if self.is_taken_about(material) => None,
            Way::Weigh => tools.weigh(amounts.mass.as_ref().ok()?.value),
            way @ (Way::Syringe | Way::Cylinder) => {
                let volume = amounts.volume.as_ref().ok()?.value;
                let lines = || {
                    let lines = self.text.lines.iter();
                    lines.filter_map(|line| match &line.statement {
                        Statement::Equipment(equipment) => Some(equipment),
                        _ => None,
                    })
                };
                let poured = way == Way::Cylinder && self.is_poured(material, amounts);
                let poured = poured.then(|| tools.pour_by(lines(), volume)).flatten();
                poured.or_else(|| {
                    tools.measure_by(lines(), volume, way, self.is_kept_closed(material))
                })
            }
            _ => None,
        }
    }

    /// What the digits of its bottle and the best tool leave of an amount that is measured in one go. None for what
    /// is not measured, is measured in portions, or that no tool measures with a known error.
    #[must_use]
    pub fn uncertainty(&self, material: &Material, amounts: &Amounts) -> Option<Uncertainty> {
        let (digits, reading, standard) = self.standard(material, amounts)?;
        let scale = self.ledger.scale.as_ref().and_then(|scale| scale.key);
        let of_equivalents = scale
            .filter(|key| *key != material.id)
            .and_then(|key| self.material(key))
            .filter(|(scale, _)| !scale.product)
            .and_then(|(scale, its)| {
                let (_, _, of_scale) = self.standard(scale, its)?;
                let equivalents = amounts.equivalents.as_ref().ok()?.value;
                Some(equivalents * combine(&[standard, of_scale]) * COVERAGE)
            });
        Some(Uncertainty {
            digits: Ratio::new::<ratio>(digits),
            reading,
            of_amount: Ratio::new::<ratio>(standard * COVERAGE),
            of_equivalents,
        })
    }

    /// Half-width from digits, the tool, and the standard uncertainty of both, relative. What was written of the
    /// amount itself is what is aimed at, and has no part in it.
    fn standard(&self, material: &Material, amounts: &Amounts) -> Option<(f64, Reading, f64)> {
        if !self.portions(material).is_empty() {
            return None;
        }
        let reading = self.reading(material, amounts)?;
        let written = |origin: &Origin| origin.clone();
        let measured = match self.way(material, amounts) {
            Way::Weigh => {
                let mass = amounts.mass.as_ref().ok()?;
                Basis::Mass(Known::new(
                    mass.value,
                    mass.value * 0.0,
                    written(&mass.origin),
                ))
            }
            _ => {
                let volume = amounts.volume.as_ref().ok()?;
                let origin = written(&volume.origin);
                Basis::Volume(Known::new(volume.value, volume.value * 0.0, origin))
            }
        };
        let amount = self.amounts_from(material, measured).amount.ok()?;
        let digits = (amount.half_width / amount.value).get::<ratio>();
        let parts = [
            standard_uncertainty(digits),
            reading.uncertainty.get::<ratio>(),
        ];
        Some((digits, reading, combine(&parts)))
    }
}
