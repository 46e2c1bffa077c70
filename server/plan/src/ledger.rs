//! The amounts of every material: what is written, and what follows from it.

use crate::Plan;
use crate::convert;
use crate::equation::{self, Equation, Limiting};
use crate::known::{At, Determined, Gap, Known, Origin};
use crate::material::{Basis, Bottle, Material};
use crate::takes::{LinesOfKeys, Take};
use std::borrow::Cow;
use std::sync::Arc;
use syntax::{Amount, AmountKind, Dimension, KeyId, PlanText, PortionKind, Scale};
use uom::si::amount_of_substance::mole;
use uom::si::f64::{
    AmountOfSubstance, Mass, MolarVolume, Pressure, Ratio, ThermodynamicTemperature, Volume,
};
use uom::si::pressure::pascal;

/// The amounts of one line.
#[derive(Clone, Debug)]
pub struct Amounts {
    /// Of the pure substance.
    pub amount: Determined<AmountOfSubstance>,
    /// Against the scale.
    pub equivalents: Determined<Ratio>,
    /// Of the pure substance.
    pub pure_mass: Determined<Mass>,
    /// Of what is weighed: the solution, dispersion or hydrate as it is in the bottle.
    pub mass: Determined<Mass>,
    /// Of what is measured, as it is in the bottle.
    pub volume: Determined<Volume>,
    /// A product's expected mass and amount, where an expectation is written.
    pub expected: Option<(Determined<Mass>, Determined<AmountOfSubstance>)>,
}

impl Amounts {
    /// Whether the amount, mass and volume are known and unknown alike, and the same.
    pub(crate) fn is_as_much_as(&self, other: &Amounts) -> bool {
        fn value<Q: Copy>(known: &Determined<Q>) -> Option<Q> {
            known.as_ref().ok().map(|known| known.value)
        }
        (value(&self.amount), value(&self.mass), value(&self.volume))
            == (
                value(&other.amount),
                value(&other.mass),
                value(&other.volume),
            )
    }
}

/// What 1.00 eq is.
#[derive(Clone, Debug)]
pub struct ScaleAmount {
    /// The material or product of the scale line.
    pub key: Option<KeyId>,
    /// Its line and the whole quantity.
    pub at: At,
    /// The amount.
    pub amount: Determined<AmountOfSubstance>,
}

/// Amounts of all materials, in their order.
#[derive(Clone, Debug)]
pub struct Ledger {
    /// The scale.
    pub scale: Option<ScaleAmount>,
    /// One a material or product.
    pub amounts: Vec<Amounts>,
    /// Who runs out first, if there is an equation.
    pub limiting: Option<Limiting>,
}

/// What the ledger is reckoned from.
pub(crate) struct Reckoner<'a> {
    pub(crate) text: &'a PlanText,
    pub(crate) materials: &'a [Material],
    pub(crate) room: ThermodynamicTemperature,
    pub(crate) equation: Option<&'a Equation>,
    lines_of_keys: &'a LinesOfKeys,
    scale: Option<Cow<'a, ScaleAmount>>,
    /// One a material, where any was reckoned.
    memo: Vec<Memo>,
}

#[derive(Clone)]
enum Memo {
    Open,
    /// Being reckoned: to come here again is a circle.
    Busy,
    Done(Arc<Amounts>),
}

impl Memo {
    fn amounts(self) -> Amounts {
        match self {
            Memo::Done(done) => Arc::unwrap_or_clone(done),
            Memo::Open | Memo::Busy => in_a_circle(),
        }
    }
}

impl<'a> Reckoner<'a> {
    pub(crate) fn new(
        text: &'a PlanText,
        materials: &'a [Material],
        equation: Option<&'a Equation>,
        lines_of_keys: &'a LinesOfKeys,
        room: ThermodynamicTemperature,
    ) -> Self {
        Reckoner {
            text,
            materials,
            room,
            equation,
            lines_of_keys,
            scale: None,
            memo: Vec::new(),
        }
    }

    /// With the scale as the ledger has found it.
    pub(crate) fn with_scale(mut self, scale: Option<&'a ScaleAmount>) -> Self {
        self.scale = scale.map(Cow::Borrowed);
        self
    }

    pub(crate) fn reckon(mut self, scale: Option<(u32, &Scale)>) -> Ledger {
        let scale = scale.and_then(|(line, scale)| self.scale_amount(line, scale));
        self.scale = scale.map(Cow::Owned);
        for index in 0..self.materials.len() {
            self.amounts(index);
        }
        let amounts = std::mem::take(&mut self.memo).into_iter();
        let mut amounts: Vec<Amounts> = amounts.map(Memo::amounts).collect();
        let limiting = self.limiting(&amounts);
        for (material, amounts) in self.materials.iter().zip(&mut amounts) {
            if material.product {
                self.product(material, amounts, &limiting);
            }
        }
        Ledger {
            scale: self.scale.map(Cow::into_owned),
            amounts,
            limiting: limiting.ok().flatten(),
        }
    }

    /// Who runs out first of these amounts, one a material, or why nobody knows.
    pub(crate) fn limiting(&self, amounts: &[Amounts]) -> Result<Option<Limiting>, Gap> {
        self.equation.map_or(Ok(None), |equation| {
            equation.limiting(|key| {
                let index = self.index(key)?;
                let material = self.materials.get(index)?;
                let excess = |amount: &Amount| amount.kind == AmountKind::Excess;
                if material.stated.iter().any(excess) || self.is_atmosphere(material) {
                    return None;
                }
                Some(amounts.get(index)?.amount.as_ref().map_err(Gap::clone))
            })
        })
    }

    /// A gas that neither its line nor a step measures: as much as the reaction takes.
    pub(crate) fn is_atmosphere(&self, material: &Material) -> bool {
        matches!(material.bottle, Bottle::Gas)
            && material
                .stated
                .iter()
                .all(|amount| amount.quantity.is_none())
            && self
                .takes_of(material)
                .all(|take| take.quantity().is_none())
    }

    fn takes_of(&self, material: &Material) -> impl Iterator<Item = Take<'a>> + use<'a> {
        self.lines_of_keys.takes_of(self.text, material.id)
    }

    fn index(&self, key: KeyId) -> Option<usize> {
        self.materials
            .iter()
            .position(|material| material.id == key)
    }

    fn scale_amount(&self, line: u32, scale: &Scale) -> Option<ScaleAmount> {
        let quantity = scale.quantity.as_ref()?;
        let at = convert::at(line, quantity.span);
        let material = scale
            .key
            .as_ref()
            .and_then(|key| find_material(self.text, self.materials, &key.text));
        let key = material.map(|material| material.id);
        let basis = basis_of(quantity, line);
        let amount = match (material, basis) {
            (_, None) => Err(Gap::new(
                "the scale is an amount (mmol), a mass or a volume",
            )),
            (None, Some(Basis::Amount(amount))) => Ok(amount),
            (None, Some(_)) => Err(Gap::new("the scale names no line of materials or products")),
            (Some(material), Some(basis)) => {
                let taken = self.complete(material, basis).amount;
                if material.product {
                    taken.and_then(|n| self.back_from_product(material, &n))
                } else {
                    taken
                }
            }
        };
        Some(ScaleAmount { key, at, amount })
    }

    /// The amount that is 1.00 eq when a product of this amount is to come out.
    fn back_from_product(
        &self,
        product: &Material,
        amount: &Known<AmountOfSubstance>,
    ) -> Determined<AmountOfSubstance> {
        let theory = match &product.expected_yield {
            Some(part) => {
                if part.value.value <= 0.0 {
                    return Err(Gap::new("an expected yield of nothing gives no scale"));
                }
                amount.over(part, "amount of product over expected yield")
            }
            None => amount.clone(),
        };
        if let Some(per_scale) = self.extent_per_scale()
            && let Some(term) = self.equation.and_then(|equation| equation.term(product.id))
        {
            let factor = per_scale * equation::float(term.coefficient);
            nonzero(factor)?;
            return Ok(Known {
                value: theory.value / factor,
                half_width: theory.half_width / factor,
                origin: Origin::computed("back through the equation", &[&theory.origin]),
            });
        }
        Ok(match stated_equivalents(product) {
            Some(eq) if eq.value.value > 0.0 => theory.over(&eq, "amount over equivalents"),
            _ => theory,
        })
    }

    /// How far the equation goes for one unit of the scale, by the equivalents of its reactants.
    fn extent_per_scale(&self) -> Option<f64> {
        let equation = self.equation?;
        let extents = equation.left.iter().filter_map(|term| {
            let material = self.materials.get(self.index(term.material?)?)?;
            Some(stated_equivalents(material)?.value.value / equation::float(term.coefficient))
        });
        extents.reduce(f64::min)
    }

    pub(crate) fn amounts(&mut self, index: usize) -> Arc<Amounts> {
        if self.memo.is_empty() {
            self.memo = vec![Memo::Open; self.materials.len()];
        }
        match self.memo.get(index) {
            Some(Memo::Done(done)) => return done.clone(),
            Some(Memo::Busy) | None => return Arc::new(in_a_circle()),
            Some(Memo::Open) => {}
        }
        self.memo[index] = Memo::Busy;
        let amounts = Arc::new(match self.materials.get(index) {
            Some(material) => match self.basis(material) {
                Ok(basis) => self.complete(material, basis),
                Err(gap) => nothing(&gap),
            },
            None => nothing(&Gap::new("no such line")),
        });
        self.memo[index] = Memo::Done(amounts.clone());
        amounts
    }

    /// The amount that rules the line: what follows from the scale before what is stated outright, and
    /// the sum of the steps where nothing is stated.
    fn basis(&mut self, material: &Material) -> Determined1<Basis> {
        let stated = material.stated_by_rank();
        let Some((first, others)) = stated.split_first() else {
            return self.taken_by_steps(material);
        };
        // Equivalents without a scale leave a mass that is written beside them as it is.
        self.stated(material.line, first).or_else(|gap| {
            others
                .iter()
                .find_map(|amount| self.stated(material.line, amount).ok())
                .ok_or(gap)
        })
    }

    /// What one stated amount says by itself.
    pub(crate) fn stated(&mut self, line: u32, amount: &Amount) -> Determined1<Basis> {
        let quantity = match (&amount.kind, &amount.quantity) {
            (AmountKind::Excess, _) => return Err(Gap::new("written as `excess`")),
            (AmountKind::Uncounted(count, what), _) => {
                return Err(Gap::new(format!("written as {count} {what}: no quantity")));
            }
            (_, None) => return Err(Gap::new("the amount could not be read")),
            (_, Some(quantity)) => quantity,
        };
        match amount.kind {
            AmountKind::Equivalents | AmountKind::MolPercent => {
                let share = convert::share(quantity, line).ok_or_else(unreadable)?;
                let against = self.amount_against(amount)?;
                Ok(Basis::Amount(share.times(&against, "equivalents × scale")))
            }
            AmountKind::Relative => self.relative(amount, quantity, line),
            AmountKind::FillTo => {
                let target = convert::concentration(quantity, line).ok_or_else(unreadable)?;
                if target.value.value <= 0.0 {
                    return Err(Gap::new("a concentration of nothing gives no volume"));
                }
                let against = self.amount_against(amount)?;
                Ok(Basis::Volume(
                    against.over(&target, "scale over concentration"),
                ))
            }
            _ => basis_of(quantity, line).ok_or_else(unreadable),
        }
    }

    /// The amount of substance that an amount is stated against.
    fn amount_against(&mut self, amount: &Amount) -> Determined<AmountOfSubstance> {
        match (&amount.of, &self.scale) {
            (None, Some(scale)) => scale.amount.clone(),
            _ => self.against(amount)?.amount.clone(),
        }
    }

    /// The amounts of what a relative amount is stated against: another line, or the scale's.
    fn against(&mut self, amount: &Amount) -> Determined1<Arc<Amounts>> {
        match &amount.of {
            Some((name, None)) => Err(Gap::new(format!("{} is no line of this plan", name.text))),
            Some((_, Some(key))) => {
                let index = self
                    .index(*key)
                    .ok_or_else(|| Gap::new("what it is stated against has no amount"))?;
                Ok(self.amounts(index))
            }
            None => {
                let scale = self.scale.as_ref().ok_or_else(|| {
                    Gap::new("the plan has no scale: write `scale 5.00 mmol KEY`")
                })?;
                if scale.amount.is_ok()
                    && let Some(index) = scale.key.and_then(|key| self.index(key))
                    && let Some(material) = self.materials.get(index)
                    && !material.product
                {
                    let amount = scale.amount.clone()?;
                    return Ok(Arc::new(self.complete(material, Basis::Amount(amount))));
                }
                let gap = Gap::new("the scale's line has no mass");
                Ok(Arc::new(Amounts {
                    amount: scale.amount.clone(),
                    ..nothing(&gap)
                }))
            }
        }
    }

    fn relative(
        &mut self,
        amount: &Amount,
        quantity: &syntax::Quantity,
        line: u32,
    ) -> Determined1<Basis> {
        let against = self.against(amount)?;
        let fits = match quantity.unit.dimension {
            Dimension::VolumePerAmount => convert::volume_per_amount(quantity, line).map(|per| {
                Ok(Basis::Volume(per.times(
                    against.amount.as_ref().map_err(Gap::clone)?,
                    "volume per amount × amount",
                )))
            }),
            Dimension::VolumePerMass => convert::volume_per_mass(quantity, line).map(|per| {
                Ok(Basis::Volume(per.times(
                    against.mass.as_ref().map_err(Gap::clone)?,
                    "volume per mass × mass as weighed",
                )))
            }),
            Dimension::MassPerAmount => convert::mass_per_amount(quantity, line).map(|per| {
                Ok(Basis::Mass(per.times(
                    against.amount.as_ref().map_err(Gap::clone)?,
                    "mass per amount × amount",
                )))
            }),
            Dimension::AmountPerMass => convert::loading(quantity, line).map(|per| {
                Ok(Basis::Amount(per.times(
                    against.mass.as_ref().map_err(Gap::clone)?,
                    "amount per mass × mass as weighed",
                )))
            }),
            Dimension::MassPerMass => convert::per_like(quantity, line).map(|per| {
                Ok(Basis::Mass(per.times(
                    against.mass.as_ref().map_err(Gap::clone)?,
                    "mass per mass × mass as weighed",
                )))
            }),
            Dimension::VolumePerVolume => convert::per_like(quantity, line).map(|per| {
                Ok(Basis::Volume(per.times(
                    against.volume.as_ref().map_err(Gap::clone)?,
                    "volume per volume × volume",
                )))
            }),
            _ => None,
        };
        fits.unwrap_or_else(|| Err(unreadable()))
    }

    /// The sum of what the steps take, where the line states nothing.
    fn taken_by_steps(&mut self, material: &Material) -> Determined1<Basis> {
        let takes: Vec<Take<'a>> = self.takes_of(material).filter(Take::draws).collect();
        let mut sum: Option<Basis> = None;
        for take in &takes {
            if let Some((times, amount, _)) = take.quantity() {
                let portion = self.portion(take.line, times, amount)?;
                sum = Some(match (sum, portion) {
                    (None, first) => first,
                    (Some(Basis::Amount(a)), Basis::Amount(b)) => {
                        Basis::Amount(a.plus(&b, "sum of the steps"))
                    }
                    (Some(Basis::Mass(a)), Basis::Mass(b)) => {
                        Basis::Mass(a.plus(&b, "sum of the steps"))
                    }
                    (Some(Basis::Volume(a)), Basis::Volume(b)) => {
                        Basis::Volume(a.plus(&b, "sum of the steps"))
                    }
                    _ => {
                        return Err(Gap::new(
                            "the steps take it by mass and by volume: write an amount on its line",
                        ));
                    }
                });
            }
        }
        let takes_all = takes.iter().any(|take| {
            take.thing.portions.is_empty()
                || take
                    .thing
                    .portions
                    .iter()
                    .any(|p| matches!(p.kind, PortionKind::Fraction(..)))
        });
        match sum {
            Some(basis) if !takes_all => Ok(basis),
            Some(_) => Err(Gap::new(
                "a step takes it without a portion: write an amount on its line",
            )),
            None if self.is_atmosphere(material) => Err(Gap::new(
                "no amount is written: taken as an atmosphere, in excess",
            )),
            None => Err(Gap::new("no amount is written, on its line or in a step")),
        }
    }

    /// A portion of a step as a basis, times its count.
    pub(crate) fn portion(&mut self, line: u32, times: u32, amount: &Amount) -> Determined1<Basis> {
        if times == 1 {
            return self.stated(line, amount);
        }
        let times = Known::new(
            Ratio::new::<uom::si::ratio::ratio>(f64::from(times)),
            Ratio::new::<uom::si::ratio::ratio>(0.0),
            Origin::Convention("number of portions"),
        );
        let rule = "portions × size";
        Ok(match self.stated(line, amount)? {
            Basis::Amount(one) => Basis::Amount(one.times(&times, rule)),
            Basis::Mass(one) => Basis::Mass(one.times(&times, rule)),
            Basis::Volume(one) => Basis::Volume(one.times(&times, rule)),
        })
    }

    /// The volume that one portion of a substance without a line states, outright or against a line.
    pub(crate) fn stated_volume(&mut self, line: u32, amount: &Amount) -> Option<Volume> {
        let quantity = amount.quantity.as_ref()?;
        let basis = match amount.kind {
            AmountKind::Relative => self.relative(amount, quantity, line).ok(),
            _ => basis_of(quantity, line),
        };
        match basis? {
            Basis::Volume(volume) => Some(volume.value),
            Basis::Amount(_) | Basis::Mass(_) => None,
        }
    }

    /// Amount of substance, mass and volume as measured that follow from one of them.
    pub(crate) fn measured(&self, material: &Material, basis: Basis) -> Measured {
        match basis {
            Basis::Amount(amount) => {
                let (mass, volume) = self.measures(material, &amount);
                (Ok(amount), mass, volume)
            }
            Basis::Mass(mass) => {
                let volume = match &material.density {
                    Ok(density) if positive(density.value.value) => {
                        Ok(mass.over(density, "mass over density"))
                    }
                    Ok(_) => Err(Gap::new("a density of nothing gives no volume")),
                    Err(gap) => Err(gap.clone()),
                };
                (
                    self.amount_from_mass(material, &mass, &volume),
                    Ok(mass),
                    volume,
                )
            }
            Basis::Volume(volume) => {
                let mass = match &material.density {
                    Ok(density) => Ok(volume.times(density, "volume × density")),
                    Err(gap) => Err(gap.clone()),
                };
                (
                    self.amount_from_volume(material, &volume, &mass),
                    mass,
                    Ok(volume),
                )
            }
        }
    }

    /// All amounts that follow from one.
    pub(crate) fn complete(&self, material: &Material, basis: Basis) -> Amounts {
        let (amount, mass, volume) = self.measured(material, basis);
        let pure_mass = match (&amount, &material.molar_mass) {
            (Ok(n), Ok(molar)) => Ok(n.times(molar, "amount × molar mass")),
            (Err(gap), _) | (_, Err(gap)) => Err(gap.clone()),
        };
        let equivalents = match (&amount, self.scale.as_ref().map(|scale| &scale.amount)) {
            (Ok(n), Some(Ok(scale))) if scale.value.value > 0.0 => {
                Ok(n.over(scale, "amount over scale"))
            }
            (Err(gap), _) | (_, Some(Err(gap))) => Err(gap.clone()),
            _ => Err(Gap::new("the plan has no scale")),
        };
        Amounts {
            amount,
            equivalents,
            pure_mass,
            mass,
            volume,
            expected: None,
        }
    }

    fn measures(
        &self,
        material: &Material,
        n: &Known<AmountOfSubstance>,
    ) -> (Determined<Mass>, Determined<Volume>) {
        let pure = || match &material.molar_mass {
            Ok(molar) => Ok(n.times(molar, "amount × molar mass")),
            Err(gap) => Err(gap.clone()),
        };
        let weigh = |volume: &Determined<Volume>| match (volume, &material.density) {
            (Ok(volume), Ok(density)) => Ok(volume.times(density, "volume × density")),
            (Err(gap), _) | (_, Err(gap)) => Err(gap.clone()),
        };
        match &material.bottle {
            Bottle::MassFraction(share) => {
                let mass: Determined<Mass> = pure().and_then(|pure: Known<Mass>| {
                    nonzero(share.value.value)?;
                    if is_exactly_one(share) {
                        return Ok(pure);
                    }
                    Ok(pure.over(share, "mass of pure substance over its share"))
                });
                let volume = match (&mass, &material.density) {
                    (Ok(mass), Ok(density)) if positive(density.value.value) => {
                        Ok(mass.over(density, "mass over density"))
                    }
                    (Err(gap), _) | (_, Err(gap)) => Err(gap.clone()),
                    _ => Err(Gap::new("a density of nothing gives no volume")),
                };
                (mass, volume)
            }
            Bottle::Molar(strength) => {
                let volume = nonzero(strength.value.value)
                    .map(|()| n.over(strength, "amount over concentration"));
                (weigh(&volume), volume)
            }
            Bottle::MassPerVolume(strength) => {
                let volume = pure().and_then(|pure: Known<Mass>| {
                    nonzero(strength.value.value)?;
                    Ok(pure.over(strength, "mass over mass concentration"))
                });
                (weigh(&volume), volume)
            }
            Bottle::VolumeFraction(share, density) => {
                let volume = pure().and_then(|pure: Known<Mass>| {
                    nonzero(share.value.value)?;
                    let density = density.clone()?;
                    nonzero(density.value.value)?;
                    let liquid: Known<Volume> = pure.over(&density, "mass over density");
                    Ok(liquid.over(share, "volume of pure liquid over its share"))
                });
                (weigh(&volume), volume)
            }
            Bottle::Loading(loading) => {
                let mass =
                    nonzero(loading.value.value).map(|()| n.over(loading, "amount over loading"));
                (mass, Err(Gap::new("a supported reagent is weighed")))
            }
            Bottle::Gas => (
                pure(),
                Ok(n.times(&self.molar_volume(material), "amount × molar volume")),
            ),
            Bottle::Unknown(gap) => (Err(gap.clone()), Err(gap.clone())),
        }
    }

    fn amount_from_mass(
        &self,
        material: &Material,
        mass: &Known<Mass>,
        volume: &Determined<Volume>,
    ) -> Determined<AmountOfSubstance> {
        let molar = || material.molar_mass.clone();
        match &material.bottle {
            Bottle::MassFraction(share) => {
                let pure: Known<Mass> = if is_exactly_one(share) {
                    mass.clone()
                } else {
                    mass.times(share, "mass × share")
                };
                Ok(pure.over(&molar()?, "mass over molar mass"))
            }
            Bottle::Loading(loading) => Ok(mass.times(loading, "mass × loading")),
            Bottle::Gas => Ok(mass.over(&molar()?, "mass over molar mass")),
            _ => match volume {
                Ok(volume) => self.amount_from_volume(material, volume, &Ok(mass.clone())),
                Err(gap) => Err(gap.clone()),
            },
        }
    }

    fn amount_from_volume(
        &self,
        material: &Material,
        volume: &Known<Volume>,
        mass: &Determined<Mass>,
    ) -> Determined<AmountOfSubstance> {
        let molar = || material.molar_mass.clone();
        match &material.bottle {
            Bottle::Molar(strength) => Ok(volume.times(strength, "volume × concentration")),
            Bottle::MassPerVolume(strength) => {
                let pure: Known<Mass> = volume.times(strength, "volume × mass concentration");
                Ok(pure.over(&molar()?, "mass over molar mass"))
            }
            Bottle::VolumeFraction(share, density) => {
                let liquid: Known<Volume> = volume.times(share, "volume × share");
                let pure: Known<Mass> = liquid.times(&density.clone()?, "volume × density");
                Ok(pure.over(&molar()?, "mass over molar mass"))
            }
            Bottle::Gas => {
                Ok(volume.over(&self.molar_volume(material), "volume over molar volume"))
            }
            Bottle::MassFraction(_) => match mass {
                Ok(mass) => self.amount_from_mass(material, mass, &Ok(volume.clone())),
                Err(gap) => Err(gap.clone()),
            },
            Bottle::Loading(_) => Err(Gap::new("a supported reagent is weighed")),
            Bottle::Unknown(gap) => Err(gap.clone()),
        }
    }

    fn molar_volume(&self, material: &Material) -> Known<MolarVolume> {
        let Some(pressure) = &material.pressure else {
            let value = chemistry::molar_volume(self.room, Pressure::new::<pascal>(101_325.0));
            let what = "ideal gas at the room's temperature and 101.325 kPa, R of CODATA 2018";
            return Known::new(value, value * 0.0, Origin::Convention(what));
        };
        let value = chemistry::molar_volume(self.room, pressure.value);
        let gas = Origin::Convention("ideal gas at the room's temperature, R of CODATA 2018");
        let rule = "molar volume at the pressure, absolute";
        Known {
            value,
            half_width: value * (pressure.half_width / pressure.value),
            origin: Origin::computed(rule, &[&gas, &pressure.origin]),
        }
    }

    /// Theory and expectation of a product.
    pub(crate) fn product(
        &self,
        material: &Material,
        amounts: &mut Amounts,
        limiting: &Result<Option<Limiting>, Gap>,
    ) {
        let term = self
            .equation
            .and_then(|equation| equation.term(material.id));
        if let (Some(_), Err(gap)) = (term, limiting) {
            *amounts = nothing(gap);
        }
        if let (Some(term), Ok(Some(limiting))) = (term, limiting) {
            let coefficient = equation::float(term.coefficient);
            let theory = Known {
                value: limiting.extent.value * coefficient,
                half_width: limiting.extent.half_width * coefficient,
                origin: Origin::computed(
                    "what the limiting reactant gives",
                    &[&limiting.extent.origin],
                ),
            };
            *amounts = self.complete(material, Basis::Amount(theory));
        }
        if let Some(part) = &material.expected_yield {
            let mass = amounts
                .pure_mass
                .clone()
                .map(|mass| mass.times(part, "theory × expected yield"));
            let amount = amounts
                .amount
                .clone()
                .map(|n| n.times(part, "theory × expected yield"));
            amounts.expected = Some((mass, amount));
        }
    }
}

impl Plan {
    /// All amounts of a line that follow from one.
    #[must_use]
    pub fn amounts_from(&self, material: &Material, basis: Basis) -> Amounts {
        self.reckoner().complete(material, basis)
    }

    /// The amounts of a portion that a step takes of a material, times its count.
    ///
    /// # Errors
    /// Why the portion has no quantity.
    pub fn portion(
        &self,
        material: &Material,
        line: u32,
        times: u32,
        amount: &Amount,
    ) -> Result<Amounts, Gap> {
        let mut reckoner = self.reckoner();
        let basis = reckoner.portion(line, times, amount)?;
        Ok(reckoner.complete(material, basis))
    }

    pub(crate) fn reckoner(&self) -> Reckoner<'_> {
        Reckoner::new(
            &self.text,
            &self.materials,
            self.equation.as_ref(),
            &self.lines_of_keys,
            self.room.temperature,
        )
        .with_scale(self.ledger.scale.as_ref())
    }
}

/// Amount of substance, mass and volume.
pub(crate) type Measured = (
    Determined<AmountOfSubstance>,
    Determined<Mass>,
    Determined<Volume>,
);

/// A result whose value is not a quantity.
pub(crate) type Determined1<T> = Result<T, Gap>;

fn unreadable() -> Gap {
    Gap::new("the amount could not be read")
}

/// An outright amount, mass or volume.
pub(crate) fn basis_of(quantity: &syntax::Quantity, line: u32) -> Option<Basis> {
    convert::amount(quantity, line)
        .map(Basis::Amount)
        .or_else(|| convert::mass(quantity, line).map(Basis::Mass))
        .or_else(|| convert::volume(quantity, line).map(Basis::Volume))
}

fn stated_equivalents(material: &Material) -> Option<Known<Ratio>> {
    material.stated.iter().find_map(|amount| match amount.kind {
        AmountKind::Equivalents => convert::share(amount.quantity.as_ref()?, material.line),
        _ => None,
    })
}

/// The material of a key: exactly, or else ignoring case if only one fits.
pub(crate) fn find_material<'a>(
    text: &PlanText,
    materials: &'a [Material],
    name: &str,
) -> Option<&'a Material> {
    let id = crate::find_key(text, name)?;
    materials.iter().find(|material| material.id == id)
}

fn in_a_circle() -> Amounts {
    nothing(&Gap::new("this amount is stated against itself"))
}

fn nothing(gap: &Gap) -> Amounts {
    Amounts {
        amount: Err(gap.clone()),
        equivalents: Err(gap.clone()),
        pure_mass: Err(gap.clone()),
        mass: Err(gap.clone()),
        volume: Err(gap.clone()),
        expected: None,
    }
}

fn positive(value: f64) -> bool {
    value.is_finite() && value > 0.0
}

fn nonzero(value: f64) -> Result<(), Gap> {
    if positive(value) {
        Ok(())
    } else {
        Err(Gap::new("a strength or density of nothing gives no amount"))
    }
}

fn is_exactly_one(share: &Known<Ratio>) -> bool {
    (share.value.value - 1.0).abs() < f64::EPSILON && share.half_width.value == 0.0
}

/// An amount of nothing.
#[must_use]
pub fn none_of() -> AmountOfSubstance {
    AmountOfSubstance::new::<mole>(0.0)
}
