//! Reagents that water destroys with force, and whether anything has used them up.

use crate::sensitive;
use chemistry::{ReagentClass, Substance};
use plan::Plan;
use plan::vessel::{Addition, Content, Moment, VesselState};
use syntax::{Role, Verb};
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
    if fierce_class(plan, content).is_some() || content.is_aqueous(&plan.materials) {
        return false;
    }
    let role = sensitive::material(plan, content).and_then(|material| material.role);
    let bystander =
        class(plan, content) == Some(ReagentClass::Amine) || sensitive::is_solvent(plan, content);
    matches!(role, Some(Role::Reactant | Role::Reagent)) || !bystander
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
