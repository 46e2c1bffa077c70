//! Reagents that water destroys with force, and whether anything has used them up.

use crate::sensitive;
use chemistry::{ReagentClass, Substance};
use plan::Plan;
use plan::vessel::{Addition, Content, Moment, VesselState};
use syntax::{Clause, CountKind, ModifierKind, Role, TimeKind, Verb};
use uom::si::amount_of_substance::millimole;
use uom::si::f64::AmountOfSubstance;

/// The class of a content, if its substance is known.
pub(crate) fn class(plan: &Plan, content: &Content) -> Option<ReagentClass> {
    content
        .substance(&plan.materials)
        .and_then(Substance::class)
}

/// Whether water takes it apart at once, with heat, gas or fire.
pub(crate) fn is_fierce(class: ReagentClass) -> bool {
    use ReagentClass as C;
    matches!(
        class,
        C::AlkaliMetal
            | C::AluminiumHydride
            | C::AmideBase
            | C::Grignard
            | C::MetalHydride
            | C::Organoaluminium
            | C::Organolithium
            | C::Organozinc
    )
}

/// The class of a content that water destroys with force; nothing that comes in water is one.
pub(crate) fn fierce_class(plan: &Plan, content: &Content) -> Option<ReagentClass> {
    class(plan, content).filter(|&class| is_fierce(class) && !content.is_aqueous(&plan.materials))
}

/// Whether something stands there that such a reagent could have been used up by: anything but solvents,
/// amines (which give a base again) and other such reagents.
pub(crate) fn has_partner(plan: &Plan, contents: &[Content]) -> bool {
    contents.iter().any(|content| is_partner(plan, content))
}

pub(crate) fn is_partner(plan: &Plan, content: &Content) -> bool {
    let fierce = fierce_class(plan, content).is_some();
    if fierce || content.is_aqueous(&plan.materials) || is_aid(plan, content) {
        return false;
    }
    let role = sensitive::material(plan, content).and_then(|material| material.role);
    let bystander =
        class(plan, content) == Some(ReagentClass::Amine) || sensitive::is_solvent(plan, content);
    matches!(role, Some(Role::Reactant | Role::Reagent)) || !bystander
}

/// Sieves, Celite, drying agents and inert gases stand by while others react.
pub(crate) fn is_aid(plan: &Plan, content: &Content) -> bool {
    use ReagentClass as C;
    let known = matches!(
        class(plan, content),
        Some(C::Adsorbent | C::DryingAgent | C::InertGas)
    );
    known || plan::measuring::is_aid(content.name(&plan.materials))
}

/// Whether a later step puts something into the vessel for a reagent to react with.
pub(crate) fn partner_comes(plan: &Plan, after: usize, vessel: usize) -> bool {
    plan.moments
        .iter()
        .skip(after + 1)
        .filter(|moment| moment.vessel == vessel)
        .take_while(|moment| sensitive::clause(plan, moment).is_some_and(|c| !ends(c.verb)))
        .flat_map(|moment| &moment.additions)
        .any(|addition| is_partner(plan, &addition.content))
}

/// The reaction is over from such a step on.
pub(crate) fn ends(verb: Verb) -> bool {
    matches!(
        verb,
        Verb::Quench
            | Verb::Acidify
            | Verb::Basify
            | Verb::Extract
            | Verb::Separate
            | Verb::Filter
            | Verb::Concentrate
            | Verb::Discard
    )
}

/// The liquids of a vessel and of what comes with an addition, but not the addition itself.
pub(crate) fn company<'a>(
    moment: &'a Moment,
    addition: &'a Addition,
) -> impl Iterator<Item = &'a Content> {
    let before = moment
        .before
        .get(moment.vessel)
        .map_or([].as_slice(), |state| state.contents.as_slice());
    let with = moment
        .additions
        .iter()
        .filter(|other| !std::ptr::eq(*other, addition))
        .map(|other| &other.content);
    before.iter().chain(with)
}

/// Share by volume of a content among the liquids of a state; none where volumes are not known.
pub(crate) fn volume_share(plan: &Plan, state: &VesselState, content: &Content) -> Option<f64> {
    let mut liquids = state
        .contents
        .iter()
        .filter(|content| content.is_liquid(&plan.materials));
    if liquids.next().is_some() && liquids.next().is_none() {
        return Some(1.0);
    }
    let whole = state.volume(&plan.materials)?;
    let part = content.volume?;
    (whole.value > 0.0).then(|| (part / whole).value)
}

/// How many times the amount of one another is, if both are known.
pub(crate) fn times(of: &Content, over: &Content) -> Option<f64> {
    let (of, over) = (of.amount?, over.amount?);
    (over.value > 0.0).then(|| (of / over).value)
}

/// Little enough that a hazard counts one degree less: below 1 mmol (an assumption).
pub(crate) fn is_small(amount: Option<AmountOfSubstance>) -> bool {
    amount.is_some_and(|amount| amount < AmountOfSubstance::new::<millimole>(1.0))
}

/// The step says that it is done slowly: by drops, in portions, over a time, at a rate or with a tool for it.
pub(crate) fn is_slow(clause: &Clause) -> bool {
    clause
        .modifiers
        .iter()
        .any(|modifier| match &modifier.kind {
            ModifierKind::Adverb(word) => matches!(
                &*word.text,
                "dropwise" | "slowly" | "carefully" | "cautiously" | "portionwise" | "gradually"
            ),
            ModifierKind::Time(TimeKind::Over, _) | ModifierKind::Rate(_) => true,
            ModifierKind::Count(CountKind::Portions, count) => *count > 1,
            ModifierKind::Remark(text) => {
                text.text.contains("slowly") || text.text.contains("dropwise")
            }
            // `via syringe pump`, `from the dropping funnel`, `drop by drop`
            ModifierKind::Via(things)
            | ModifierKind::From(things)
            | ModifierKind::Other(_, things) => things.iter().any(|thing| {
                let words = ["pump", "drop", "addition funnel", "slow"];
                words.iter().any(|word| thing.name.text.contains(word))
            }),
            _ => false,
        })
}

/// What is left of the reagents that water destroys.
pub(crate) struct Left<'a> {
    /// The one that most of it is.
    pub(crate) reagent: &'a Content,
    pub(crate) class: ReagentClass,
    /// Its amount, at most all that went in.
    pub(crate) amount: AmountOfSubstance,
    /// Hydride, carbanion or electron equivalents of it.
    pub(crate) equivalents: AmountOfSubstance,
    /// An organolithium that water sets alight (common practice). What it makes of a halide does not burn so readily,
    /// and is as many equivalents: of two, the tert-butyl halide takes one.
    pub(crate) fiery: bool,
}

/// The name and at most how much of what water destroys with force is in a vessel still; none where that is not sure.
#[must_use]
pub fn reactive<'a>(
    plan: &'a Plan,
    state: &'a VesselState,
) -> Option<(&'a str, AmountOfSubstance)> {
    let left = left(plan, state)?;
    Some((left.reagent.name(&plan.materials), left.amount))
}

/// What is left after everything else in the vessel has taken all that it can, each mol one equivalent, of an
/// aluminium hydride what its class takes. None where nothing is sure to be left: where an amount is unknown, or an alcohol,
/// water or an acid is there.
pub(crate) fn left<'a>(plan: &Plan, state: &'a VesselState) -> Option<Left<'a>> {
    if state.quenched.is_some() || state.unclear {
        return None;
    }
    let mut alive: Vec<(&Content, ReagentClass, f64)> = Vec::new();
    let mut taken = AmountOfSubstance::default();
    for content in &state.contents {
        if let Some(class) = fierce_class(plan, content) {
            let each = equivalents(content.substance(&plan.materials)?, class);
            alive.push((content, class, each));
        }
    }
    let &(reagent, class, each) = alive.iter().max_by(|a, b| {
        let of = |entry: &(&Content, ReagentClass, f64)| {
            entry.0.amount.map_or(0.0, |amount| amount.value * entry.2)
        };
        of(a).total_cmp(&of(b))
    })?;
    let mut all = AmountOfSubstance::default();
    for (content, _, each) in &alive {
        all += content.amount? * *each;
    }
    for content in &state.contents {
        if fierce_class(plan, content).is_some() || !takes(plan, content, class) {
            continue;
        }
        if content.is_protic(&plan.materials) && sensitive::is_solvent(plan, content) {
            return None;
        }
        let most = match class {
            ReagentClass::AluminiumHydride => hydrides_taken(plan, content),
            // A ring that a metal reduces takes two electrons.
            ReagentClass::AlkaliMetal if is_unpolar(self::class(plan, content)) => 2.0,
            _ => 1.0,
        };
        taken += content.amount? * most;
    }
    let equivalents = all - taken;
    let exchanged = state.contents.iter().any(|content| {
        let other = fierce_class(plan, content).is_none() && takes(plan, content, class);
        other && may_be_halide(self::class(plan, content))
    });
    let burns = ["tert-butyllithium", "sec-butyllithium"]
        .iter()
        .any(|name| is_named(plan, reagent, name));
    (equivalents.value > 0.0).then(|| {
        let amount = equivalents / each;
        let whole = reagent.amount.unwrap_or(amount);
        Left {
            reagent,
            class,
            amount: if amount < whole { amount } else { whole },
            equivalents,
            fiery: burns && !exchanged,
        }
    })
}

/// A halide, or what the library does not know.
fn may_be_halide(class: Option<ReagentClass>) -> bool {
    use ReagentClass as C;
    matches!(class, None | Some(C::ArylHalide | C::AlkylHalide))
}

/// Whether the library's name of a content is this.
pub(crate) fn is_named(plan: &Plan, content: &Content, name: &str) -> bool {
    content
        .substance(&plan.materials)
        .is_some_and(|substance| substance.name() == name)
}

/// Azides whose anion water takes out, and acid frees.
pub(crate) const METAL_AZIDES: [&str; 2] = ["lithium azide", "sodium azide"];

/// A chlorinated or brominated alkane that is a solvent; not an arene.
pub(crate) fn is_halogenated_alkane(substance: Substance) -> bool {
    substance.class() == Some(ReagentClass::HalogenatedSolvent)
        && !substance.name().contains("benz")
}

/// Hydrogen peroxide and peracids, which make explosive peroxides of ketones. tert-Butyl hydroperoxide and
/// peroxymonosulfate, which makes a dioxirane that is wanted, do not.
pub(crate) fn makes_ketone_peroxides(substance: Substance) -> bool {
    let acids = ["perbenzoic", "carboperoxoic", "peroxyacetic"];
    substance.name() == "hydrogen peroxide"
        || acids.iter().any(|acid| substance.name().contains(acid))
}

/// Hydrides that a mol takes at most, by what it is: a carbonyl group one or two, an acid its proton as well, of a hydrocarbon
/// each double bond one and each triple bond two. None where that is not known.
pub(crate) fn known_hydrides(plan: &Plan, content: &Content) -> Option<f64> {
    use ReagentClass as C;
    let taken = match class(plan, content) {
        // Of the ethers an epoxide.
        Some(C::Ketone | C::Aldehyde | C::Alcohol | C::AlkylHalide | C::Ether) => 1.0,
        Some(C::Ester | C::AcylChloride | C::Chloroformate | C::Nitrile | C::AmideSolvent) => 2.0,
        Some(C::Acid) => 3.0,
        Some(C::Hydrocarbon) => {
            let smiles = content.substance(&plan.materials)?.smiles()?;
            let count = |sign: &str| smiles.matches(sign).count();
            // May be a benzene ring, written with its bonds.
            if count("=") > 2 && smiles.contains('1') {
                return None;
            }
            let (double, triple) = (count("="), count("#"));
            f64::from(u32::try_from(double + 2 * triple).ok()?)
        }
        _ => return None,
    };
    Some(taken)
}

/// The same; what is not known may take all four.
pub(crate) fn hydrides_at_most(plan: &Plan, content: &Content) -> f64 {
    known_hydrides(plan, content).unwrap_or(4.0)
}

/// The same with room to spare: a hydrocarbon four as well, since what an alkene makes of borane is mild.
pub(crate) fn hydrides_taken(plan: &Plan, content: &Content) -> f64 {
    match class(plan, content) {
        Some(ReagentClass::Hydrocarbon) => 4.0,
        _ => hydrides_at_most(plan, content),
    }
}

fn is_unpolar(class: Option<ReagentClass>) -> bool {
    matches!(class, Some(ReagentClass::Hydrocarbon | ReagentClass::Ether))
}

/// Whether such a reagent adds to a content although it is called a solvent or an ether: to the carbonyl or nitrile group
/// of dimethylformamide, acetonitrile or acetone, and to an epoxide. A work-up is diluted with an ester, which is no
/// quench. The hydride of sodium or potassium is a base only.
pub(crate) fn adds_to(plan: &Plan, content: &Content, by: ReagentClass) -> bool {
    use ReagentClass as C;
    let solvent = sensitive::is_solvent(plan, content);
    let phosphoramide = || is_named(plan, content, "hexamethylphosphoramide");
    let meets = match class(plan, content) {
        Some(C::AmideSolvent) => solvent && !phosphoramide(),
        Some(C::Nitrile | C::Ketone) => solvent,
        Some(C::Ether) => !solvent && !is_crown(plan, content),
        _ => false,
    };
    meets && !matches!(by, C::MetalHydride | C::AlkaliMetal)
}

fn is_crown(plan: &Plan, content: &Content) -> bool {
    let substance = content.substance(&plan.materials);
    substance.is_some_and(|substance| substance.name().contains("-crown-"))
}

/// Whether a content may use the reagent up. Most solvents do not; a metal hydride leaves halides alone.
fn takes(plan: &Plan, content: &Content, by: ReagentClass) -> bool {
    use ReagentClass as C;
    let class = class(plan, content);
    let aprotic_solvent =
        sensitive::is_solvent(plan, content) && !content.is_protic(&plan.materials);
    let inert = is_unpolar(class) && by != C::AlkaliMetal || is_aid(plan, content);
    // Liquid ammonia dissolves the metal, and takes days to use it up (common practice).
    let dissolves = by == C::AlkaliMetal && is_named(plan, content, "ammonia");
    let halide = matches!(
        class,
        Some(C::AlkylHalide | C::ArylHalide | C::SilylChloride)
    );
    adds_to(plan, content, by)
        || !(aprotic_solvent || inert || dissolves || halide && by == C::MetalHydride)
}

/// Equivalents of hydride, alkyl or electrons in a mol: what its formula holds.
pub(crate) fn equivalents(substance: Substance, class: ReagentClass) -> f64 {
    match (class, substance.name()) {
        (_, "lithium aluminium hydride") => 4.0,
        (_, "sodium bis(2-methoxyethoxy)aluminium dihydride" | "diethylaluminium chloride") => 2.0,
        (_, "ethylaluminium dichloride") => 1.0,
        (ReagentClass::Organozinc, _) => 2.0,
        (ReagentClass::Organoaluminium, _) => 3.0,
        _ => 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ammonia_dissolves_a_metal_and_does_not_use_it_up() {
        let plan = Plan::read(
            "plan Test\nscale 50.0 mmol anisole\nmaterials\n  anisole: 3-methylanisole, 1.00 eq\n  lithium: lithium, wire, 4.0 eq\n  ammonia: ammonia, d 0.68, 150 mL\nsteps\n  add ammonia, lithium\n  add anisole\n",
        );
        let state = &plan.moments.last().expect("a step").after[0];
        // 200 mmol of lithium, of which the ring of the anisole takes two each.
        let left = left(&plan, state).expect("lithium is left");
        let millimoles = left.equivalents.get::<millimole>();
        assert!((millimoles - 100.0).abs() < 1e-6, "{millimoles}");
    }

    #[test]
    fn an_epoxide_and_dimethylformamide_take_what_adds_to_them() {
        let left_of = |reagent: &str, other: &str| {
            let text = format!(
                "plan Test\nmaterials\n  reagent: {reagent}, 20.0 mmol\n  other: {other}, 12.0 mmol\n  thf: tetrahydrofuran, 40 mL\n  crown: 18-crown-6, 1.0 mmol\nsteps\n  add thf, reagent\n  add other\n"
            );
            let plan = Plan::read(&text);
            let state = &plan.moments.last().expect("a step").after[0];
            left(&plan, state).map_or(0.0, |left| left.equivalents.get::<millimole>())
        };
        // One for each epoxide or carbonyl group, of an aluminium hydride two for the latter: 80 mmol less 12 or 24.
        for (reagent, other, equivalents) in [
            ("n-butyllithium, 2.5 M in hexanes", "styrene oxide", 8.0),
            (
                "ethylmagnesium bromide, 3.0 M in diethyl ether",
                "N,N-dimethylformamide",
                8.0,
            ),
            ("lithium aluminium hydride", "styrene oxide", 68.0),
            ("lithium aluminium hydride", "N,N-dimethylformamide", 56.0),
            ("LDA, 2.0 M in THF", "propylene oxide", 8.0),
            // A base only.
            (
                "sodium hydride, 60 wt% in mineral oil",
                "styrene oxide",
                20.0,
            ),
            (
                "sodium hydride, 60 wt% in mineral oil",
                "N,N-dimethylformamide",
                20.0,
            ),
            // No electrophiles.
            ("n-butyllithium, 2.5 M in hexanes", "HMPA", 20.0),
            ("n-butyllithium, 2.5 M in hexanes", "diethyl ether", 20.0),
        ] {
            let found = left_of(reagent, other);
            assert!(
                (found - equivalents).abs() < 1e-6,
                "{reagent}, {other}: {found}"
            );
        }
    }
}
