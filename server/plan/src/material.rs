//! What a line of materials or products stands for: its substance, and how strong it is as it stands in its bottle.

use crate::context::Context;
use crate::convert::{self, Concentration, Loading};
use crate::identity::Identity;
use crate::inventory::{self, Agreement, Lookup};
use crate::known::{At, Determined, Gap, Known, Origin, unity};
use crate::show;
use chemistry::{ReagentClass, Solution, SolutionForm, State, Substance, Tag};
use std::ops::{Deref, DerefMut};
use std::sync::Arc;
use syntax::{
    Amount, AmountKind, Condition, Entry, FieldKind, KeyId, Nature, Quantity, Role, Strength,
    StrengthForm, Text,
};
use uom::si::f64::{Mass, MassDensity, MolarMass, Pressure, Ratio, Volume};
use uom::si::ratio::ratio;

/// A line of `materials` or `products`, resolved; shared by the plans before and after an edit of another line.
#[derive(Clone, Debug)]
pub struct Material(Arc<Resolved>);

/// What a line of `materials` or `products` came to.
#[derive(Clone, Debug)]
pub struct Resolved {
    /// The line that it was read from, without what could not be read.
    pub(crate) entry: Arc<Entry>,
    /// Whether a number of the line could not be read.
    pub(crate) unread: bool,
    /// Its key.
    pub id: KeyId,
    /// The key as written.
    pub key: Text,
    /// Its line.
    pub line: u32,
    /// True in `products`.
    pub product: bool,
    /// What it is.
    pub identity: Identity,
    /// The role it is given.
    pub role: Option<Role>,
    /// Natures that the line states (true) or denies (false).
    pub natures: Vec<(Nature, bool)>,
    /// Conditions that the line states, with their places.
    pub conditions: Vec<(Condition, At)>,
    /// Molar mass of the pure substance.
    pub molar_mass: Determined<MolarMass>,
    /// Density of what is measured: of the solution, where the line is one.
    pub density: Determined<MassDensity>,
    /// How strong it is.
    pub bottle: Bottle,
    /// `bottle NAME`: which bottle of the inventory it comes from.
    pub named: Option<NamedBottle>,
    /// A solution, dispersion or wet solid: what is measured is more than the substance.
    pub diluted: bool,
    /// Words of the strength, as in `2.5 M in hexanes`.
    pub strength_text: Option<Arc<str>>,
    /// Whether by these words it comes with water.
    pub(crate) aqueous: bool,
    /// `4.0 bar`: the absolute pressure at which a gas fills the volume of its line.
    pub pressure: Option<Known<Pressure>>,
    /// What it is dissolved, dispersed or supported in or on.
    pub carrier: Option<Arc<str>>,
    /// It is on a support (`on carbon`), so a solid whatever the substance is.
    pub supported: bool,
    /// The amounts that the line states.
    pub stated: Vec<Amount>,
    /// `expect 85 %`
    pub expected_yield: Option<Known<Ratio>>,
    /// `took 768 mg`, as often as it is written.
    pub took: Vec<Quantity>,
    /// `obtained 5.62 g`
    pub obtained: Option<Quantity>,
}

/// The bottle that a line names.
#[derive(Clone, Debug)]
pub struct NamedBottle {
    /// As written.
    pub name: Text,
    /// Where the field stands.
    pub at: At,
    /// What the inventory says of the name; none where there is no inventory.
    pub found: Option<Lookup>,
}

impl NamedBottle {
    /// The inventory's bottle.
    #[must_use]
    pub fn bottle(&self) -> Option<&Arc<inventory::Bottle>> {
        match &self.found {
            Some(Lookup::Found(bottle)) => Some(bottle),
            _ => None,
        }
    }
}

/// How the amount of the pure substance follows from what is measured.
#[derive(Clone, Debug)]
pub enum Bottle {
    /// A share by mass: 1 for what is neat.
    MassFraction(Known<Ratio>),
    /// Amount per volume of solution.
    Molar(Known<Concentration>),
    /// Mass per volume of solution.
    MassPerVolume(Known<MassDensity>),
    /// Volume of the pure liquid per volume of solution, with the pure liquid's density.
    VolumeFraction(Known<Ratio>, Determined<MassDensity>),
    /// Amount per mass of support.
    Loading(Known<Loading>),
    /// A gas, measured by volume at the room's temperature, and 101.325 kPa unless the line says another pressure.
    Gas,
    /// Cannot be computed with.
    Unknown(Gap),
}

/// An amount as it is measured from its bottle, or as amount of the pure substance.
#[derive(Clone, Debug)]
pub enum Basis {
    /// Amount of the pure substance.
    Amount(Known<uom::si::f64::AmountOfSubstance>),
    /// Mass of what is in the bottle.
    Mass(Known<Mass>),
    /// Volume of what is in the bottle.
    Volume(Known<Volume>),
}

impl Deref for Material {
    type Target = Resolved;

    fn deref(&self) -> &Resolved {
        &self.0
    }
}

impl DerefMut for Material {
    /// A copy where another plan shares it.
    fn deref_mut(&mut self) -> &mut Resolved {
        Arc::make_mut(&mut self.0)
    }
}

impl Material {
    /// Whether it is the other, and not only like it.
    pub(crate) fn is_shared_with(&self, other: &Material) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }

    /// Whether it is what would come of this line.
    pub(crate) fn is_of(&self, id: KeyId, line: u32, entry: &Arc<Entry>, unread: bool) -> bool {
        Arc::ptr_eq(&self.entry, entry) && (self.id, self.line, self.unread) == (id, line, unread)
    }

    /// Resolves an entry of the plan. Strength, titre, density and water that the line leaves out are those of
    /// the bottle that it names.
    #[must_use]
    pub fn resolve(
        id: KeyId,
        line: u32,
        entry: &Arc<Entry>,
        unread: bool,
        context: &Context,
    ) -> Material {
        let identity = Identity::of(entry, line);
        let mut written = Written::collect(entry, line);
        let named = named_bottle(entry, line, context);
        if let Some(bottle) = named.as_ref().and_then(NamedBottle::bottle) {
            written.fill_from(entry, bottle);
        }
        let molar_mass = molar_mass(&identity, &written);
        let (mut bottle, solution) = if unread {
            let gap = "a part of this line could not be read: mend it first";
            (Bottle::Unknown(Gap::new(gap)), None)
        } else {
            bottle(&identity, &written, line)
        };
        if let Some(gap) = named.as_ref().and_then(|named| written.lacks(named)) {
            bottle = Bottle::Unknown(gap);
        }
        let diluted = written.strength.is_some()
            || written.found.is_some()
            || written.wet.is_some()
            || written.is_impure();
        let is_solution = solution
            .as_ref()
            .is_some_and(|s| s.strength != "glacial" && s.carrier == "water");
        let density = density(&identity, &written, solution, diluted);
        let strength_text = written.strength_text();
        let mut material = Resolved {
            entry: entry.clone(),
            unread,
            id,
            key: entry.key.clone(),
            line,
            product: entry.product,
            molar_mass,
            density,
            bottle,
            named: None,
            diluted,
            aqueous: is_solution
                || is_named_in_water(&identity.name)
                || is_aqueous(strength_text.as_deref(), identity.substance)
                    && !written.is_only_assayed(),
            strength_text,
            carrier: written.carrier().map(|text| text.text.as_ref().into()),
            supported: written.is_supported(),
            identity,
            role: None,
            natures: Vec::new(),
            conditions: Vec::new(),
            stated: Vec::new(),
            pressure: None,
            expected_yield: None,
            took: Vec::new(),
            obtained: None,
        };
        if let Some(named) = &named
            && let Some(quantity) = named.bottle().and_then(|bottle| bottle.water())
            && !entry
                .fields
                .iter()
                .any(|field| matches!(field.kind, FieldKind::Condition(Condition::Water(_))))
        {
            material
                .conditions
                .push((Condition::Water(*quantity), named.at));
        }
        material.named = named;
        for field in &entry.fields {
            match &field.kind {
                FieldKind::Role(role) => material.role = Some(*role),
                FieldKind::Nature { nature, denied } => material.natures.push((*nature, !denied)),
                FieldKind::Condition(condition) => {
                    material
                        .conditions
                        .push((condition.clone(), convert::at(line, field.span)));
                }
                FieldKind::Amount(amount) => material.stated.push(amount.clone()),
                FieldKind::Pressure(quantity) => {
                    material.pressure = convert::pressure(quantity, line)
                        .filter(|pressure| pressure.value > Pressure::default());
                }
                FieldKind::Expect(quantity) => {
                    material.expected_yield = convert::share(quantity, line);
                }
                FieldKind::Took(quantity) => material.took.push(*quantity),
                FieldKind::Obtained(quantity) => {
                    material.obtained.get_or_insert(*quantity);
                }
                _ => {}
            }
        }
        Material(Arc::new(material))
    }

    /// The stated amounts, the one that rules the line first: what follows from the scale rules before what
    /// is stated outright.
    #[must_use]
    pub fn stated_by_rank(&self) -> Vec<&Amount> {
        let mut stated: Vec<&Amount> = self.stated.iter().collect();
        stated.sort_by_key(|amount| match amount.kind {
            AmountKind::Equivalents | AmountKind::MolPercent => 0,
            AmountKind::Relative | AmountKind::FillTo => 1,
            AmountKind::Amount => 2,
            AmountKind::Mass => 3,
            AmountKind::Volume => 4,
            AmountKind::Excess | AmountKind::Uncounted(..) => 5,
        });
        stated
    }

    /// Whether the line states or denies a nature.
    #[must_use]
    pub fn stated_nature(&self, nature: Nature) -> Option<bool> {
        self.natures
            .iter()
            .rev()
            .find(|(n, _)| *n == nature)
            .map(|(_, holds)| *holds)
    }

    /// The library's reagent class, unless the line denies what it implies.
    #[must_use]
    pub fn class(&self) -> Option<ReagentClass> {
        self.identity.substance.and_then(Substance::class)
    }

    /// Whether the library gives the substance this tag.
    #[must_use]
    pub fn has(&self, tag: Tag) -> bool {
        self.identity
            .substance
            .is_some_and(|substance| substance.has(tag))
    }

    /// What to write of a gas of no stated strength, density or pressure that may well be measured as a liquid or in
    /// solution; none where it can only be a gas.
    #[must_use]
    pub fn may_be_no_gas(&self) -> Option<String> {
        let substance = self.identity.substance?;
        let name = &self.identity.name;
        let unclear = substance.state() == Some(State::Gas)
            && condenses(substance)
            && self.strength_text.is_none()
            && self.density.is_err()
            && self.pressure.is_none()
            && !is_named_in_water(name)
            && !name.to_ascii_lowercase().contains("gas");
        unclear.then(|| may_be_no_gas(name, Some(substance)))
    }

    /// Whether the line calls it by a name that means its solution in water: `hydrochloric acid`, `aqueous ammonia`.
    #[must_use]
    pub fn is_named_in_water(&self) -> bool {
        is_named_in_water(&self.identity.name)
    }

    /// Whether what is measured is a liquid or a solution, so that a volume means something.
    #[must_use]
    pub fn measured_by_volume(&self) -> bool {
        match &self.bottle {
            Bottle::Molar(_)
            | Bottle::MassPerVolume(_)
            | Bottle::VolumeFraction(..)
            | Bottle::Gas => true,
            Bottle::Loading(_) => false,
            Bottle::MassFraction(_) | Bottle::Unknown(_) => self.density.is_ok(),
        }
    }

    /// Whether it is a liquid as it stands in its bottle, as far as can be told.
    #[must_use]
    pub fn is_liquid(&self) -> bool {
        match &self.bottle {
            Bottle::Molar(_) | Bottle::MassPerVolume(_) | Bottle::VolumeFraction(..) => true,
            Bottle::Loading(_) | Bottle::Gas => false,
            Bottle::MassFraction(_) | Bottle::Unknown(_) => {
                self.density.is_ok()
                    || self.identity.mixture.iter().any(|part| part.share > 0.0)
                    || self.identity.substance.and_then(Substance::state) == Some(State::Liquid)
                        && !self.supported
            }
        }
    }
}

fn named_bottle(entry: &Entry, line: u32, context: &Context) -> Option<NamedBottle> {
    entry.fields.iter().find_map(|field| match &field.kind {
        FieldKind::Bottle(name) => Some(NamedBottle {
            name: name.clone(),
            at: convert::at(line, field.span),
            found: context
                .inventory
                .as_ref()
                .map(|inventory| inventory.find(&name.text)),
        }),
        _ => None,
    })
}

/// What a line writes of its strength and properties, and what its bottle adds.
#[derive(Default)]
struct Written<'a> {
    strength: Option<&'a Strength>,
    found: Option<&'a syntax::Quantity>,
    assay: Option<Known<Ratio>>,
    wet: Option<Known<Ratio>>,
    assay_quantity: Option<&'a syntax::Quantity>,
    wet_text: Option<(&'a syntax::Quantity, &'a Text)>,
    /// The line states a mass, or the form of a solid.
    weighed: bool,
    /// The line states only a volume in mL or less, as it does of a liquid, and no pressure.
    in_millilitres: bool,
    /// The line states no amount: the steps measure it.
    uncounted: bool,
    molar_mass: Option<Known<MolarMass>>,
    density: Option<Known<MassDensity>>,
    /// Where the strength came from, if not from the line.
    strength_from: Option<Origin>,
    /// Where the titre came from, if not from the line.
    found_from: Option<Origin>,
}

impl<'a> Written<'a> {
    fn collect(entry: &'a Entry, line: u32) -> Self {
        let mut written = Written {
            uncounted: true,
            ..Written::default()
        };
        let mut said_otherwise = false;
        for field in &entry.fields {
            match &field.kind {
                FieldKind::Strength(strength) => written.strength = Some(strength),
                FieldKind::Form(_) => written.weighed = true,
                FieldKind::Amount(amount) => {
                    written.uncounted = false;
                    written.weighed |= amount.kind == syntax::AmountKind::Mass;
                    match convert::is_in_millilitres(amount) {
                        true => written.in_millilitres = true,
                        false => said_otherwise |= amount.quantity.is_some(),
                    }
                }
                FieldKind::Pressure(_) => said_otherwise = true,
                FieldKind::Found(quantity) => written.found = Some(quantity),
                FieldKind::Assay(quantity) => {
                    written.assay = convert::share(quantity, line);
                    written.assay_quantity = Some(quantity);
                }
                FieldKind::Wet(quantity, with) => {
                    written.wet = convert::share(quantity, line);
                    written.wet_text = Some((quantity, with));
                }
                FieldKind::MolarMass(number) => {
                    written.molar_mass = Some(convert::molar_mass(number, line));
                }
                FieldKind::Density(number, None) => {
                    written.density = Some(convert::density(number, line));
                }
                FieldKind::Density(_, Some(quantity)) => {
                    written.density = convert::grams_per_volume(quantity, line);
                }
                _ => {}
            }
        }
        written.in_millilitres &= !said_otherwise;
        written
    }

    /// Takes from the bottle what the line does not state. A line whose strength is not the bottle's rules alone:
    /// it is about another bottle.
    fn fill_from(&mut self, entry: &Entry, bottle: &'a inventory::Bottle) {
        let labelled = self.strength.is_some() || self.assay.is_some() || self.wet.is_some();
        if labelled && inventory::compare(entry, &bottle.entry) != Agreement::Same {
            return;
        }
        let from = |field| Origin::Bottle {
            name: bottle.name.clone(),
            field,
        };
        let theirs = Written::collect(&bottle.entry, 0);
        if !labelled {
            self.strength = theirs.strength;
            self.strength_from = theirs.strength.map(|_| from("strength"));
            self.assay = theirs.assay.map(|assay| assay.from(Some(&from("assay"))));
            self.assay_quantity = theirs.assay_quantity;
            self.wet = theirs.wet.map(|wet| wet.from(Some(&from("strength"))));
            self.wet_text = theirs.wet_text;
        }
        if self.found.is_none() && theirs.found.is_some() {
            self.found = theirs.found;
            self.found_from = Some(from("titre"));
        }
        if self.density.is_none() {
            self.density = theirs
                .density
                .map(|density| density.from(Some(&from("density"))));
        }
    }

    fn states_strength(&self) -> bool {
        self.strength.is_some()
            || self.found.is_some()
            || self.assay.is_some()
            || self.wet.is_some()
    }

    /// Why the strength is not known, where it is to come from a bottle that the inventory does not give.
    fn lacks(&self, named: &NamedBottle) -> Option<Gap> {
        let name = &named.name.text;
        let reason = match &named.found {
            Some(Lookup::Missing) => format!("the inventory has no bottle {name}"),
            Some(Lookup::Broken) => format!("the inventory's bottle {name} cannot be read"),
            Some(Lookup::Found(_)) | None => return None,
        };
        (!self.states_strength()).then(|| {
            Gap::new(format!(
                "{reason}: mend it there, or write the strength here"
            ))
        })
    }

    /// How strong, as a label on a bottle says it: `2.5 M in hexanes (found 2.41 M)`, `95 %`,
    /// `10 wt% on carbon, wet with 50 wt% water`.
    fn strength_text(&self) -> Option<Arc<str>> {
        let quantity = |q: &syntax::Quantity| format!("{} {}", q.number.value, show::unit(&q.unit));
        let mut parts = Vec::new();
        if let Some(strength) = self.strength {
            let head = match (&strength.quantity, strength.form) {
                (Some(q), _) => quantity(q),
                (None, StrengthForm::SaturatedAqueous) => "sat. aq.".to_owned(),
                (None, StrengthForm::Glacial) => "glacial".to_owned(),
                (None, StrengthForm::Concentrated) => "conc.".to_owned(),
                (None, _) => "aq.".to_owned(),
            };
            let on = if self.is_supported() { "on" } else { "in" };
            let carrier = strength.carrier.as_ref();
            parts.push(carrier.map_or_else(
                || head.clone(),
                |(text, _)| format!("{head} {on} {}", text.text),
            ));
        }
        parts.extend(self.found.map(|q| format!("found {}", quantity(q))));
        parts.extend(self.assay_quantity.map(quantity));
        parts.extend(
            self.wet_text
                .map(|(q, with)| format!("wet with {} {}", quantity(q), with.text)),
        );
        (!parts.is_empty()).then(|| parts.join(", ").into())
    }

    /// `98 %` and nothing else: what it is but a few percent, unless the library knows it as a solution, as sulfuric acid.
    fn is_only_assayed(&self) -> bool {
        let states = self.strength.is_some() || self.found.is_some() || self.wet.is_some();
        self.assay.is_some() && !states && !self.is_impure()
    }

    /// An assay so low that the density of the neat liquid is not that of what is in the bottle.
    fn is_impure(&self) -> bool {
        let assay = self.assay.as_ref();
        assay.is_some_and(|assay| assay.value.get::<ratio>() < NEARLY_PURE)
    }

    fn carrier(&self) -> Option<&'a Text> {
        self.strength
            .and_then(|strength| strength.carrier.as_ref())
            .map(|(text, _)| text)
    }

    fn is_supported(&self) -> bool {
        self.carrier().is_some_and(|text| {
            matches!(
                &*text.text.to_ascii_lowercase(),
                "carbon" | "charcoal" | "alumina" | "silica" | "c"
            )
        })
    }
}

fn molar_mass(identity: &Identity, written: &Written<'_>) -> Determined<MolarMass> {
    if let Some(known) = &written.molar_mass {
        if known.value.value <= 0.0 {
            return Err(Gap::new("a molar mass must be greater than zero"));
        }
        return Ok(known.clone());
    }
    if !identity.mixture.is_empty() {
        return Err(Gap::new("a mixture has no molar mass"));
    }
    let Some(formula) = &identity.formula else {
        return Err(Gap::new(if identity.candidates.is_empty() {
            format!(
                "the molar mass of {} is not known: add `formula …` or `MW …`",
                identity.name
            )
        } else {
            format!("{} can mean more than one substance", identity.name)
        }));
    };
    match formula.molar_mass() {
        Ok(mass) => {
            let text = identity.provenance().unwrap_or_else(|| formula.to_string());
            let origin = Origin::AtomicWeights(text.into());
            Ok(Known::new(mass.value, mass.half_width, origin))
        }
        Err(gap) => Err(Gap::new(format!("{gap}: add `MW …`"))),
    }
}

/// The strength, and the library's solution where the strength is one that it knows.
fn bottle(identity: &Identity, written: &Written<'_>, line: u32) -> (Bottle, Option<Solution>) {
    let substance = identity.substance;
    if let Some(quantity) = written.found {
        let bottle = match molarity(quantity, line, substance) {
            Ok(found) => Bottle::Molar(found.from(written.found_from.as_ref())),
            Err(gap) => Bottle::Unknown(gap),
        };
        return (bottle, None);
    }
    let Some(strength) = written.strength else {
        if let Some(solution) = chemistry::find_solution_name(&identity.name) {
            return (molar(&solution), Some(solution));
        }
        // `HCl, 37 %`: a share by mass that the library knows as a solution in water.
        let assay = written.assay.clone();
        let known = assay.as_ref().and_then(|assay| {
            let form = SolutionForm::MassFraction(assay.value.get::<ratio>());
            substance.and_then(|s| chemistry::find_solution(s, form, None))
        });
        let is_gas = substance.and_then(Substance::state) == Some(State::Gas);
        let in_water = is_named_in_water(&identity.name);
        // With a density it is a liquid, condensed.
        if is_gas && !in_water && !written.is_impure() && written.density.is_none() {
            let unclear = written.in_millilitres
                && !identity.name.to_ascii_lowercase().contains("gas")
                && substance.is_some_and(condenses);
            let bottle = match unclear {
                true => Bottle::Unknown(Gap::new(may_be_no_gas(&identity.name, substance))),
                false => Bottle::Gas,
            };
            return (bottle, None);
        }
        // `Pd/C`: the metal of the library, named as what it is on.
        let on_carbon = identity
            .name
            .to_ascii_lowercase()
            .replace(' ', "")
            .ends_with("/c")
            || identity.name.to_ascii_lowercase().ends_with("on carbon")
            || identity.name.to_ascii_lowercase().ends_with("on charcoal");
        if on_carbon && assay.is_none() {
            let name = &identity.name;
            let gap = format!(
                "how much metal is on {name} is not written: add it, as in `10 wt% on carbon`"
            );
            return (Bottle::Unknown(Gap::new(gap)), None);
        }
        if let (true, Some(sold)) = (
            assay.is_none() && !written.weighed,
            sold_as(substance, in_water),
        ) {
            let name = &identity.name;
            let gap = format!("the strength of {name} is not written: add it, as in {sold}");
            return (Bottle::Unknown(Gap::new(gap)), None);
        }
        let pure = assay.unwrap_or_else(|| unity("taken as pure"));
        return (Bottle::MassFraction(dry_share(pure, written)), known);
    };
    let carrier = strength.carrier.as_ref().map(|(text, _)| &*text.text);
    let solution = |form| substance.and_then(|s| chemistry::find_solution(s, form, carrier));
    let Some(quantity) = &strength.quantity else {
        let (form, word) = match strength.form {
            StrengthForm::SaturatedAqueous => (SolutionForm::Saturated, "saturated"),
            StrengthForm::Glacial => {
                return (Bottle::MassFraction(unity("glacial: taken as pure")), None);
            }
            StrengthForm::Concentrated => (SolutionForm::Concentrated, "concentrated"),
            _ => {
                return (
                    Bottle::Unknown(Gap::new("the strength of the solution is not written")),
                    None,
                );
            }
        };
        let gap = || {
            Gap::new(format!(
                "the strength of {word} {} is not in the library",
                identity.name
            ))
        };
        return match solution(form) {
            Some(found) => (molar(&found), Some(found)),
            None => (Bottle::Unknown(gap()), None),
        };
    };
    let unreadable = || Bottle::Unknown(Gap::new("the strength cannot be computed with"));
    let from = written.strength_from.as_ref();
    let made = match strength.form {
        StrengthForm::Molar | StrengthForm::Normal => {
            Some(match molarity(quantity, line, substance) {
                Ok(known) => Bottle::Molar(known.from(from)),
                Err(gap) => Bottle::Unknown(gap),
            })
        }
        StrengthForm::MassFraction | StrengthForm::UnclearPercent => convert::share(quantity, line)
            .map(|share| Bottle::MassFraction(dry_share(share.from(from), written))),
        StrengthForm::MassConcentration => convert::grams_per_volume(quantity, line)
            .map(|known| Bottle::MassPerVolume(known.from(from))),
        StrengthForm::MassPerVolumePercent => convert::percent_of_volume(quantity, line)
            .map(|known| Bottle::MassPerVolume(known.from(from))),
        StrengthForm::VolumeFraction => convert::share(quantity, line)
            .map(|share| Bottle::VolumeFraction(share.from(from), neat_density(identity, true))),
        StrengthForm::Loading => {
            convert::loading(quantity, line).map(|known| Bottle::Loading(known.from(from)))
        }
        StrengthForm::Molal => Some(molal(identity, written, quantity, line)),
        _ => None,
    };
    let known = match &made {
        Some(Bottle::MassFraction(share)) => {
            solution(SolutionForm::MassFraction(share.value.get::<ratio>()))
        }
        _ => None,
    };
    (made.unwrap_or_else(unreadable), known)
}

/// A gas that is as often taken as a liquid or a solution: it is sold in solution, or boils at a temperature at which it
/// is condensed (common practice).
fn condenses(substance: Substance) -> bool {
    const CELSIUS: f64 = -50.0;
    use uom::si::thermodynamic_temperature::degree_celsius;
    let boiling = substance.boiling();
    substance.strengths().next().is_some()
        || boiling.is_some_and(|boiling| boiling.value.get::<degree_celsius>() > CELSIUS)
}

/// What to write where a gas is measured as liquids are.
fn may_be_no_gas(name: &str, substance: Option<Substance>) -> String {
    let sold = substance.and_then(|substance| substance.strengths().next());
    let strength = match sold {
        Some(sold) => format!("add its strength, as in `{sold}`"),
        None => "add the strength of its solution".to_owned(),
    };
    format!(
        "{name} is a gas, and whether it is measured as gas, as liquid or in solution is not written: {strength}, `d …` (g/mL) if it is condensed, or name it `{name} gas`"
    )
}

/// M as it is written, N over the equivalents in a mole.
pub(crate) fn molarity(
    quantity: &syntax::Quantity,
    line: u32,
    substance: Option<Substance>,
) -> Determined<Concentration> {
    if let Some(known) = convert::concentration(quantity, line) {
        return Ok(known);
    }
    let Some(normality) = convert::normality(quantity, line) else {
        return Err(Gap::new("the strength cannot be computed with"));
    };
    match substance.map_or(&[][..], Substance::equivalents_per_mole) {
        [1] => Ok(normality),
        [several] => {
            let each = Known::new(
                Ratio::new::<ratio>(f64::from(*several)),
                Ratio::default(),
                Origin::Convention("equivalents of acid or base in a mole"),
            );
            Ok(normality.over(&each, "normality over equivalents in a mole"))
        }
        _ => Err(Gap::new(
            "what N counts of it is not certain: write its strength in M",
        )),
    }
}

/// Amount per mass of solvent is a share by mass: b·M over 1 + b·M.
fn molal(
    identity: &Identity,
    written: &Written<'_>,
    quantity: &syntax::Quantity,
    line: u32,
) -> Bottle {
    let molar_mass = match molar_mass(identity, written) {
        Ok(known) => known,
        Err(gap) => return Bottle::Unknown(gap),
    };
    let Some(molality) = convert::molality(quantity, line) else {
        return Bottle::Unknown(Gap::new("the strength cannot be computed with"));
    };
    let per_solvent: Known<Ratio> = molality
        .from(written.strength_from.as_ref())
        .times(&molar_mass, "amount per mass of solvent × molar mass");
    let of_all = per_solvent.value + Ratio::new::<ratio>(1.0);
    Bottle::MassFraction(Known {
        value: per_solvent.value / of_all,
        half_width: per_solvent.half_width / (of_all * of_all),
        origin: Origin::computed("share by mass of the solution", &[&per_solvent.origin]),
    })
}

/// From this share by mass on, the density of the neat liquid is taken for the bottle's: below it water or solvent
/// may change it by more than a percent or two. An assumption.
const NEARLY_PURE: f64 = 0.95;

/// Names of gases that mean their solutions in water (common practice).
fn is_named_in_water(name: &str) -> bool {
    const NAMES: [&str; 9] = [
        "hydrochloric acid",
        "muriatic acid",
        "hydrobromic acid",
        "hydroiodic acid",
        "hydriodic acid",
        "hydrofluoric acid",
        "ammonium hydroxide",
        "ammonia solution",
        "formalin",
    ];
    // `aqueous ammonia`, `aq. HCl`
    let first = name.split([' ', '.']).next().unwrap_or_default();
    let said = |word: &&str| first.eq_ignore_ascii_case(word);
    ["aqueous", "aq"].iter().any(said) || NAMES.iter().any(|other| name.eq_ignore_ascii_case(other))
}

/// How a reagent is sold that comes as a solution, or on a support, unless the line says otherwise (common practice):
/// without a strength nobody knows how much to measure. Of hydrides, metal amides and solid acids, which can be had neat
/// as well, the one that is usual and the neat one; of all others the first two that are sold.
fn sold_as(substance: Option<Substance>, in_water: bool) -> Option<String> {
    use ReagentClass as C;
    let substance = substance?;
    let class = substance.class();
    let reactive = matches!(class, Some(C::Organolithium | C::Grignard | C::AmideBase));
    if !(reactive || in_water || substance.has(Tag::SoldDiluted)) {
        return None;
    }
    let is_mixed = |sold: &&str| sold.contains(" in ") || sold.contains(" on ");
    let usable = |sold: &&str| !in_water || sold.ends_with(" in water");
    let sold: Vec<_> = substance.strengths().filter(usable).collect();
    let (first, others) = sold.split_first()?;
    let solid = !in_water && substance.state() == Some(State::Solid);
    let neat = match class {
        Some(C::MetalHydride) if solid => others.iter().find(|sold| !is_mixed(sold)).copied(),
        Some(C::AluminiumHydride | C::AmideBase | C::Acid) if solid => Some("98 %"),
        _ => None,
    };
    if let Some(neat) = neat {
        return Some(format!("`{first}`, or `{neat}` if it is weighed neat"));
    }
    Some(match others.first() {
        Some(second) => format!("`{first}` or `{second}`"),
        None => format!("`{first}`"),
    })
}

fn molar(solution: &Solution) -> Bottle {
    match &solution.molarity {
        Some(sourced) => {
            use chemistry::quantity::molar_concentration::mole_per_liter;
            let what = format!(
                "strength of {} {}",
                solution.strength,
                solution.solute.name()
            )
            .into();
            let origin = Origin::Library {
                what,
                source: sourced.source,
            };
            let value = convert::molar(sourced.value.get::<mole_per_liter>());
            let half = convert::molar(sourced.half_width.get::<mole_per_liter>());
            Bottle::Molar(Known::new(value, half, origin))
        }
        None => Bottle::Unknown(Gap::new(
            "the library does not know the strength of this solution",
        )),
    }
}

/// The share of a solid that is wet: 20 wt% water leaves 80 % of the dry share.
fn dry_share(share: Known<Ratio>, written: &Written<'_>) -> Known<Ratio> {
    let Some(wet) = &written.wet else {
        return share;
    };
    let dry = Known::new(
        Ratio::new::<ratio>(1.0) - wet.value,
        wet.half_width,
        wet.origin.clone(),
    );
    share.times(&dry, "share of the dry solid × what is not water")
}

/// A solid that melts so low that it is poured as a liquid where it is measured by volume: tert-butanol (common practice).
fn is_melted(substance: Substance) -> bool {
    const CELSIUS: f64 = 30.0;
    use uom::si::thermodynamic_temperature::degree_celsius;
    let melting = substance.melting();
    melting.is_some_and(|melting| melting.value.get::<degree_celsius>() < CELSIUS)
}

/// `poured` where the line measures it as a liquid.
fn neat_density(identity: &Identity, poured: bool) -> Determined<MassDensity> {
    let name = &identity.name;
    let Some(substance) = identity.substance else {
        return Err(Gap::new(format!(
            "the density of {name} is not known: add `d …` (g/mL)"
        )));
    };
    if !identity.row_fits() {
        return Err(Gap::new(format!(
            "the density of {name} in the library is of another composition: add `d …` (g/mL)"
        )));
    }
    if substance.state() == Some(State::Solid) && !(poured && is_melted(substance)) {
        return Err(Gap::new(format!("{name} is a solid: weigh it")));
    }
    if substance.state() == Some(State::Gas) {
        return Err(Gap::new(format!("{name} is a gas")));
    }
    let Some(sourced) = substance.density() else {
        return Err(Gap::new(format!(
            "the density of {name} is not known: add `d …` (g/mL)"
        )));
    };
    let what = match sourced.at {
        Some(t) => {
            let celsius = t.get::<uom::si::thermodynamic_temperature::degree_celsius>();
            format!("density of {} at {celsius:.0} °C", substance.name())
        }
        None => format!("density of {}", substance.name()),
    };
    let origin = Origin::Library {
        what: what.into(),
        source: sourced.source,
    };
    Ok(Known::new(sourced.value, sourced.half_width, origin))
}

fn density(
    identity: &Identity,
    written: &Written<'_>,
    solution: Option<Solution>,
    diluted: bool,
) -> Determined<MassDensity> {
    if let Some(known) = &written.density {
        return Ok(known.clone());
    }
    if let Some((solution, sourced)) = solution.and_then(|s| Some((s.clone(), s.density?))) {
        let what = format!(
            "density of {} {}",
            solution.strength,
            solution.solute.name()
        )
        .into();
        let origin = Origin::Library {
            what,
            source: sourced.source,
        };
        return Ok(Known::new(sourced.value, sourced.half_width, origin));
    }
    let glacial = written
        .strength
        .is_some_and(|s| s.form == StrengthForm::Glacial);
    if diluted && !glacial {
        let what = if written.wet.is_some() || written.is_supported() {
            "a solid is weighed"
        } else {
            "the density of the solution is not known: add `d …` (g/mL) to get mass and volume both"
        };
        return Err(Gap::new(what));
    }
    neat_density(identity, written.in_millilitres || written.uncounted)
}

/// Whether what is sold in this strength comes with water.
fn is_aqueous(strength: Option<&str>, substance: Option<Substance>) -> bool {
    let Some(words) = strength.map(str::to_ascii_lowercase) else {
        return false;
    };
    let carried = words.contains(" in ") || words.contains(" on ");
    words.ends_with(" in water")
        || words.contains("aq")
        || words.contains("conc")
        || !carried && !words.contains("glacial") && substance.is_some_and(ionic)
}

pub(crate) fn ionic(substance: Substance) -> bool {
    let salt = matches!(
        substance.class(),
        Some(ReagentClass::Acid | ReagentClass::Base | ReagentClass::Salt | ReagentClass::Oxidant)
    );
    salt || substance.class() == Some(ReagentClass::Water) || substance.has(Tag::Protic)
}
