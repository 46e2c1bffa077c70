//! Reagents that water or air destroys, at the steps where they enter a vessel; what the checks of
//! dryness and atmosphere share.
//!
//! It tells only of what is sure to be intact as it enters: what comes out of a reaction mixture, or into
//! a quenched one, is passed over.

use crate::acted_on::substance_of;
use chemistry::quantity::volume::milliliter;
use chemistry::{ReagentClass, Sensitivity, Substance, Tag};
use plan::vessel::{Addition, Apparatus, Content, Glass, Moment, What, gas_name};
use plan::{At, Material, Plan, takes};
use std::sync::Arc;
use syntax::{
    Clause, EquipmentKind, ModifierKind, Nature, Referent, Role, Span, Statement, TemperatureValue,
    Verb,
};
use uom::si::amount_of_substance::millimole;
use uom::si::f64::{AmountOfSubstance, Volume};

/// What threatens a reagent.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Threat {
    Water,
    Air,
}

/// A sensitive reagent entering a vessel.
#[derive(Clone)]
pub(crate) struct Entry<'a> {
    /// Index of the moment.
    pub(crate) moment: usize,
    pub(crate) addition: &'a Addition,
    pub(crate) vessel: usize,
    /// Destroyed at once; else slowly or in part.
    pub(crate) hard: bool,
    pub(crate) class: Option<ReagentClass>,
    /// A Grignard reagent that forms here: the addition is the halide or the magnesium.
    pub(crate) made_here: bool,
}

impl<'a> Entry<'a> {
    /// The key or name of the reagent; of a Grignard reagent made here, of its halide.
    pub(crate) fn name(&self, plan: &'a Plan) -> &'a str {
        self.addition.content.name(&plan.materials)
    }

    /// What messages call it.
    pub(crate) fn called(&self, plan: &'a Plan) -> String {
        let name = self.name(plan);
        if self.made_here {
            format!("the Grignard reagent from {name}")
        } else {
            name.to_owned()
        }
    }

    /// What goes in here; of a Grignard reagent, what is to be made.
    pub(crate) fn amount(&self, plan: &Plan) -> Option<AmountOfSubstance> {
        let content = &self.addition.content;
        let amount = if self.made_here {
            line_amount(plan, content)
        } else {
            content.amount
        };
        amount.filter(|amount| amount.value > 0.0)
    }

    pub(crate) fn at(&self, plan: &'a Plan) -> Option<&'a Moment> {
        plan.moments.get(self.moment)
    }
}

/// The clause that a moment is of.
pub(crate) fn clause<'a>(plan: &'a Plan, moment: &Moment) -> Option<&'a Clause> {
    match &plan.text.lines.get(moment.line as usize)?.statement {
        Statement::Step(step) => step.clauses.get(moment.clause),
        _ => None,
    }
}

/// Every entry of a sensitive reagent, in the order of the steps.
pub(crate) fn entries(plan: &Plan, threat: Threat) -> Vec<Entry<'_>> {
    let mut quenched = vec![false; plan.apparatus.len()];
    let mut entries = Vec::new();
    for (index, moment) in plan.moments.iter().enumerate() {
        let Some(clause) = clause(plan, moment) else {
            continue;
        };
        let vessel = moment.vessel;
        let comes_quenched = |addition: &Addition| {
            addition
                .from
                .is_some_and(|from| quenched.get(from).copied().unwrap_or(false))
        };
        let dead = quenched.get(vessel).copied().unwrap_or(true)
            || moment.additions.iter().any(comes_quenched);
        let reacts = || {
            let item = plan.apparatus.get(vessel);
            item.is_some_and(|item| !is_for_work_up(item))
        };
        if !dead && !moment.additions.is_empty() && reacts() {
            for addition in &moment.additions {
                if let Some((class, hard)) = judge(plan, &addition.content, threat)
                    && intact(plan, moment, addition, threat)
                    && !drowned(plan, index, addition, (class, hard), threat)
                    && !shielded(plan, vessel, addition, class)
                {
                    let made_here = false;
                    entries.push(Entry {
                        moment: index,
                        addition,
                        vessel,
                        hard,
                        class,
                        made_here,
                    });
                }
            }
            if threat == Threat::Water {
                entries.extend(grignard(plan, index, moment));
            }
        }
        let ends = matches!(
            clause.verb,
            Verb::Quench | Verb::Acidify | Verb::Basify | Verb::Extract | Verb::Separate
        );
        let wet = threat == Threat::Water
            && moment.additions.iter().any(|addition| {
                let content = &addition.content;
                content.is_aqueous(&plan.materials) && !is_aqueous_by_choice(plan, content)
            });
        let empty = moment
            .after
            .get(vessel)
            .is_some_and(|state| state.contents.is_empty() && !state.unclear);
        if let Some(flag) = quenched.get_mut(vessel) {
            *flag = (dead || ends || wet) && !empty;
        }
    }
    entries
}

/// How water or air deals with it: its class, and whether it is destroyed or only harmed.
fn judge(plan: &Plan, content: &Content, threat: Threat) -> Option<(Option<ReagentClass>, bool)> {
    let material = material(plan, content);
    let substance = content.substance(&plan.materials);
    let class = substance.and_then(Substance::class);
    let stated = |nature| material.and_then(|material: &Material| material.stated_nature(nature));
    let own = match threat {
        Threat::Water => Nature::MoistureSensitive,
        Threat::Air => Nature::AirSensitive,
    };
    if stated(own) == Some(false) || content.is_aqueous(&plan.materials) {
        return None;
    }
    if stated(own) == Some(true) || stated(Nature::Pyrophoric) == Some(true) {
        return Some((class, true));
    }
    let substance = substance?;
    let sensitivity = match threat {
        Threat::Water => by_water(substance, class),
        Threat::Air => by_air(substance, class, stated(Nature::Pyrophoric) == Some(false)),
    };
    match sensitivity {
        Sensitivity::No => None,
        Sensitivity::Slowly => Some((class, false)),
        Sensitivity::Destroyed => Some((class, true)),
    }
}

/// Chlorides of phosphorus and of thionyl are used in an excess that hides a little water, and the
/// alkoxides of titanium work wet: they are milder than their chemistry says (common practice).
fn by_water(substance: Substance, class: Option<ReagentClass>) -> Sensitivity {
    let mild = matches!(
        class,
        Some(ReagentClass::ThionylHalide | ReagentClass::PhosphorusHalide)
    ) || substance.name().ends_with("oxide");
    match substance.destroyed_by_water() {
        Sensitivity::Destroyed if mild => Sensitivity::Slowly,
        sensitivity => sensitivity,
    }
}

/// Catalysts that are used in air, and copper with ascorbate, are left alone (common practice).
fn by_air(substance: Substance, class: Option<ReagentClass>, not_pyrophoric: bool) -> Sensitivity {
    use ReagentClass as C;
    match class {
        Some(C::HydrogenationCatalyst | C::RobustPalladium | C::TolerantLewisAcid) => {
            Sensitivity::No
        }
        _ if substance.has(Tag::Pyrophoric) && !not_pyrophoric => Sensitivity::Destroyed,
        Some(C::AmideBase | C::AlkaliMetal | C::Ylide) => substance.destroyed_by_oxygen(),
        _ if substance.destroyed_by_oxygen() == Sensitivity::Destroyed => Sensitivity::Destroyed,
        _ => Sensitivity::No,
    }
}

/// A separating funnel holds what is spent; a syringe or balloon is a tool.
fn is_for_work_up(item: &Apparatus) -> bool {
    let tools = ["syringe", "syringes", "balloon", "balloons", "trap"];
    item.lower.contains("separat")
        || tools
            .iter()
            .any(|head| item.head.eq_ignore_ascii_case(head))
}

/// Whether a clause brings its vessel to the boil.
pub(crate) fn boils(clause: &Clause) -> bool {
    clause.verb == Verb::Reflux
        || clause.modifiers.iter().any(|modifier| {
            matches!(
                &modifier.kind,
                ModifierKind::Temperature(_, TemperatureValue::Reflux(_))
            )
        })
}

/// What comes from another vessel is taken for the reagent itself only where nothing stood in it that
/// the reagent could have reacted with.
fn intact(plan: &Plan, moment: &Moment, addition: &Addition, threat: Threat) -> bool {
    let Some(from) = addition.from else {
        return true;
    };
    let Some(state) = moment.before.get(from) else {
        return false;
    };
    state.contents.iter().all(|content| {
        is_solvent(plan, content)
            || judge(plan, content, threat).is_some()
            || content
                .substance(&plan.materials)
                .and_then(Substance::class)
                == Some(ReagentClass::Amine)
    })
}

/// A line with that role, a mixture, or what the library calls a solvent.
pub(crate) fn is_solvent(plan: &Plan, content: &Content) -> bool {
    material(plan, content).is_some_and(|material| {
        material.role == Some(Role::Solvent) || !material.identity.mixture.is_empty()
    }) || content
        .substance(&plan.materials)
        .is_some_and(|substance| substance.has(Tag::Solvent))
        && !material(plan, content).is_some_and(|material| material.diluted)
}

/// It goes where water or alcohol is wanted. What air destroys and water does not may do so; what water
/// destroys as well is poured away there.
fn drowned(
    plan: &Plan,
    index: usize,
    addition: &Addition,
    judged: (Option<ReagentClass>, bool),
    threat: Threat,
) -> bool {
    let water_kills =
        threat == Threat::Water || judge(plan, &addition.content, Threat::Water).is_some();
    water_kills && wanted_wet(plan, index, addition, judged)
}

fn is_aqueous_by_choice(plan: &Plan, content: &Content) -> bool {
    material(plan, content).is_some_and(plan::budget::is_aqueous_by_choice)
}

/// Whether water comes with it that is meant to be there. That of aqueous tert-butyl hydroperoxide is not, beside the
/// alkoxide of titanium that it is to react with.
pub(crate) fn brings_water(
    plan: &Plan,
    content: &Content,
    class: Option<ReagentClass>,
    hard: bool,
) -> bool {
    let alkoxide = class == Some(ReagentClass::StrongLewisAcid) && !hard;
    content.is_aqueous(&plan.materials) && !(alkoxide && is_aqueous_by_choice(plan, content))
}

/// Water or alcohol that is there on purpose: dryness is no concern of that vessel.
fn wanted_wet(
    plan: &Plan,
    index: usize,
    addition: &Addition,
    (class, hard): (Option<ReagentClass>, bool),
) -> bool {
    let Some(moment) = plan.moments.get(index) else {
        return false;
    };
    let materials = &plan.materials;
    if material(plan, &addition.content).is_some_and(carried_in_alcohol) {
        return true;
    }
    let before = moment
        .before
        .get(moment.vessel)
        .map_or([].as_slice(), |state| state.contents.as_slice());
    let with = moment
        .additions
        .iter()
        .filter(|other| other.at != addition.at)
        .map(|other| &other.content);
    let company: Vec<&Content> = before.iter().chain(with).collect();
    let brings = |content: &Content| brings_water(plan, content, class, hard);
    if company
        .iter()
        .any(|content| brings(content) && is_much(plan, content))
    {
        return true;
    }
    let (mut protic, mut other) = (0.0, 0.0);
    for content in company
        .iter()
        .filter(|content| content.is_liquid(materials))
    {
        // A liquid of unknown volume is a solvent more likely than not.
        let volume = content
            .volume
            .map_or(10.0, |volume| volume.get::<milliliter>());
        *(if content.is_protic(materials) {
            &mut protic
        } else {
            &mut other
        }) += volume;
    }
    if protic > 0.0 && protic >= other {
        return true;
    }
    // Milder reagents are also used with water that comes after them.
    !hard
        && plan
            .moments
            .iter()
            .skip(index)
            .filter(|later| later.vessel == moment.vessel)
            .take_while(|later| {
                clause(plan, later).is_some_and(|c| {
                    !matches!(c.verb, Verb::Quench | Verb::Extract | Verb::Transfer)
                })
            })
            .any(|later| {
                later
                    .additions
                    .iter()
                    .any(|addition| brings(&addition.content))
            })
}

/// From 0.3 eq up water is a reagent; of unknown amount it counts as one.
fn is_much(plan: &Plan, content: &Content) -> bool {
    let scale = plan
        .ledger
        .scale
        .as_ref()
        .and_then(|scale| scale.amount.as_ref().ok());
    match (content.amount, scale) {
        (Some(amount), Some(scale)) if scale.value.value > 0.0 => {
            (amount / scale.value).value >= 0.3
        }
        _ => true,
    }
}

fn carried_in_alcohol(material: &Material) -> bool {
    let carrier = material.carrier.as_deref().map(chemistry::find_name);
    carrier
        .and_then(plan::one)
        .is_some_and(|substance| substance.has(Tag::Protic))
}

/// A catalytic Lewis acid beside a bulk of anhydride, silylating agent, acid chloride or orthoester:
/// water goes to the bulk.
fn shielded(plan: &Plan, vessel: usize, addition: &Addition, class: Option<ReagentClass>) -> bool {
    use ReagentClass as C;
    if !matches!(class, Some(C::StrongLewisAcid | C::SilylTriflate))
        || !is_catalytic(plan, &addition.content)
    {
        return false;
    }
    let into = plan.moments.iter().filter(|moment| moment.vessel == vessel);
    into.flat_map(|moment| &moment.additions).any(|other| {
        other
            .content
            .substance(&plan.materials)
            .is_some_and(|substance| {
                matches!(
                    substance.class(),
                    Some(C::Anhydride | C::AcylChloride | C::SilylChloride | C::Chloroformate)
                ) || substance.name().contains("ortho")
            })
    })
}

/// The amount of the line that a content comes from.
pub(crate) fn line_amount(plan: &Plan, content: &Content) -> Option<AmountOfSubstance> {
    let What::Material(index) = content.what else {
        return content.amount;
    };
    plan.ledger
        .amounts
        .get(index)?
        .amount
        .as_ref()
        .ok()
        .map(|known| known.value)
}

/// The line is of 20 mol% of the scale at most.
pub(crate) fn is_catalytic(plan: &Plan, content: &Content) -> bool {
    let scale = plan
        .ledger
        .scale
        .as_ref()
        .and_then(|scale| scale.amount.as_ref().ok());
    match (line_amount(plan, content), scale) {
        (Some(amount), Some(scale)) => amount <= scale.value * 0.2,
        _ => false,
    }
}

/// Magnesium and an organic halide meet.
fn grignard<'a>(plan: &'a Plan, index: usize, moment: &'a Moment) -> Option<Entry<'a>> {
    let is_magnesium = |content: &Content| {
        content
            .substance(&plan.materials)
            .is_some_and(|substance| substance.name() == "magnesium")
    };
    let is_halide = |content: &Content| {
        let class = content
            .substance(&plan.materials)
            .and_then(Substance::class);
        matches!(
            class,
            Some(ReagentClass::AlkylHalide | ReagentClass::ArylHalide)
        ) && matches!(content.what, What::Material(_))
            && !is_catalytic(plan, content)
    };
    let comes = |is: &dyn Fn(&Content) -> bool| {
        let mut additions = moment.additions.iter();
        additions.find(|addition| is(&addition.content))
    };
    let addition = comes(&is_halide).or_else(|| comes(&is_magnesium))?;
    let before = &moment.before.get(moment.vessel)?.contents;
    let added = || moment.additions.iter().map(|addition| &addition.content);
    if before.iter().any(is_magnesium) && before.iter().any(is_halide) {
        return None;
    }
    let both = before.iter().chain(added()).any(is_magnesium)
        && before.iter().chain(added()).any(is_halide);
    // In alcohol and water magnesium reduces, and no Grignard reagent is meant.
    let protic = before.iter().chain(added()).any(|content| {
        content.is_aqueous(&plan.materials)
            || content.is_protic(&plan.materials) && is_solvent(plan, content)
    });
    // A plan that takes care of its ether means to keep water out; one that takes it from the can means
    // the metal to dry it.
    let company = before.iter().chain(added());
    let cared_for = company
        .filter_map(|content| material(plan, content))
        .any(|material| {
            use syntax::Condition as C;
            let means_dry = |condition: &C| {
                matches!(condition, C::Dry | C::Water(_) | C::Over(_) | C::Distilled)
            };
            material
                .conditions
                .iter()
                .any(|(condition, _)| means_dry(condition))
        });
    let class = Some(ReagentClass::Grignard);
    (both && !protic).then_some(Entry {
        moment: index,
        addition,
        vessel: moment.vessel,
        hard: cared_for,
        class,
        made_here: true,
    })
}

pub(crate) fn material<'a>(plan: &'a Plan, content: &Content) -> Option<&'a Material> {
    match content.what {
        What::Material(index) => plan.materials.get(index),
        What::Named(..) => None,
    }
}

/// The glass as the reagent finds it: as the step before left it, but for a glovebox around the step.
pub(crate) fn glass<'a>(plan: &'a Plan, entry: &Entry<'_>) -> Option<&'a Glass> {
    let moment = plan.moments.get(entry.moment)?;
    let after = &moment.after.get(entry.vessel)?.glass;
    if *after == Glass::Glovebox {
        Some(after)
    } else {
        Some(&moment.before.get(entry.vessel)?.glass)
    }
}

/// Whether one of these verbs acts, before the entry, on something of unknown name: `all glassware`.
pub(crate) fn names_unknown(plan: &Plan, entry: &Entry<'_>, verbs: &[Verb]) -> bool {
    let before = plan
        .moments
        .iter()
        .take(entry.moment + 1)
        .filter_map(|moment| clause(plan, moment));
    before
        .filter(|clause| verbs.contains(&clause.verb))
        .flat_map(|clause| &clause.objects)
        .any(|thing| match thing.referent {
            Referent::Key(_) | Referent::Standing(..) | Referent::Kept(_) => false,
            _ => substance_of(plan, thing).is_none(),
        })
}

/// Whether a text has this ASCII word, in whatever case.
pub(crate) fn contains(text: &str, word: &str) -> bool {
    let mut parts = text.as_bytes().windows(word.len());
    parts.any(|part| part.eq_ignore_ascii_case(word.as_bytes()))
}

/// The words of a note, or of a line that is kept as text.
pub(crate) fn words(text: &str) -> impl Iterator<Item = &str> + Clone {
    text.split(|c: char| !c.is_alphanumeric())
}

/// The words of a line, for a related place.
pub(crate) fn line_at(plan: &Plan, line: u32) -> At {
    let words = plan.text.lines.get(line as usize).map_or((0, 0), |found| {
        let end = found.comment.map_or(found.len, |comment| comment.start);
        let text = plan
            .text
            .text
            .get(found.start as usize..(found.start + end) as usize)
            .unwrap_or("");
        let indent = text.len() - text.trim_start().len();
        (indent, text.trim_end().len())
    });
    let start = u32::try_from(words.0.min(words.1)).unwrap_or(0);
    let end = u32::try_from(words.1).unwrap_or(0);
    At {
        line,
        span: Span { start, end },
    }
}

/// The inert gas that the plan works with; argon, where it names none.
pub(crate) fn inert_gas(plan: &Plan) -> Arc<str> {
    let clauses = takes::steps(&plan.text).flat_map(|(_, step)| &step.clauses);
    clauses
        .flat_map(|clause| &clause.modifiers)
        .filter_map(|modifier| match &modifier.kind {
            ModifierKind::Under(things) | ModifierKind::With(things) => Some(things),
            _ => None,
        })
        .flatten()
        .filter_map(|thing| gas_name(thing, &plan.materials))
        .find(|gas| matches!(&*gas.to_lowercase(), "argon" | "nitrogen" | "helium"))
        .unwrap_or_else(|| "argon".into())
}

/// A vessel in a message: its key, or its description.
pub(crate) fn name(plan: &Plan, vessel: usize) -> &str {
    plan.apparatus
        .get(vessel)
        .map_or("the flask", |item| &item.name)
}

/// Bars, needles and glass syringes of the plan, which are dried with a flask.
pub(crate) fn small_ware(plan: &Plan) -> impl Iterator<Item = usize> + '_ {
    plan.apparatus
        .iter()
        .enumerate()
        .filter_map(|(index, item)| {
            let kind =
                ["bar", "bars", "needle", "needles", "syringe", "syringes"].contains(&&*item.head);
            let text = &item.lower;
            let plastic = ["plastic", "disposable", "polypropylene"]
                .iter()
                .any(|word| text.contains(word));
            (kind && !plastic && item.id.is_some()).then_some(index)
        })
}

/// What a step that feeds gas to a vessel says besides, where a septum lets nothing out.
pub(crate) fn outlet(item: &Apparatus) -> &'static str {
    let plugged = item.lower.contains("septum") && !item.lower.contains("bubbler");
    if plugged { ", with outlet needle" } else { "" }
}

/// The plan lists this piece, so that a step can name it.
pub(crate) fn listed(plan: &Plan, vessel: usize) -> Option<&Apparatus> {
    plan.apparatus.get(vessel).filter(|item| item.id.is_some())
}

/// Whether a step names or fills this vessel.
pub(crate) fn touches(plan: &Plan, moment: &Moment, vessel: usize) -> bool {
    let Some(clause) = clause(plan, moment) else {
        return false;
    };
    if matches!(
        clause.verb,
        Verb::Note | Verb::Expect | Verb::Check | Verb::Wait
    ) {
        return false;
    }
    let id = plan.apparatus.get(vessel).and_then(|item| item.id);
    let names = |thing: &syntax::Thing| id.is_some_and(|id| thing.referent == Referent::Key(id));
    let mut equipment = clause.objects.iter().filter(|thing| match thing.referent {
        Referent::Key(id) => plan.apparatus.iter().any(|item| item.id == Some(id)),
        _ => false,
    });
    let only_others = matches!(
        clause.verb,
        Verb::Dry | Verb::Bake | Verb::FlameDry | Verb::Wash | Verb::Assemble
    ) && equipment.next().is_some();
    clause.objects.iter().any(names) || moment.vessel == vessel && !only_others
}

/// Whether a reaction can stand in it.
pub(crate) fn is_flask(plan: &Plan, vessel: usize) -> bool {
    plan.apparatus
        .get(vessel)
        .is_some_and(|item| item.kind == EquipmentKind::Vessel)
}

/// An amount for messages: `5.75 mmol`, `12 µmol`.
pub(crate) fn amount_text(amount: AmountOfSubstance, digits: i32) -> String {
    let value = amount.get::<millimole>();
    if value < 0.1 {
        format!("{} µmol", figures(value * 1e3, digits))
    } else {
        format!("{} mmol", figures(value, digits))
    }
}

/// A volume for messages.
pub(crate) fn volume_text(volume: Volume) -> String {
    let value = volume.get::<milliliter>();
    if value < 1000.0 {
        format!("{} mL", figures(value, 3))
    } else {
        format!("{} L", figures(value / 1000.0, 3))
    }
}

/// A share in percent: to 5 % above 10 %, two figures below at most.
pub(crate) fn percent_text(share: f64) -> String {
    let percent = share * 100.0;
    if percent > 10.0 {
        format!("{} %", (percent / 5.0).round() * 5.0)
    } else {
        format!("{} %", plain(percent, 2))
    }
}

/// So many significant figures, trailing zeros kept.
pub(crate) fn figures(value: f64, digits: i32) -> String {
    if value == 0.0 || !value.is_finite() {
        return "0".to_owned();
    }
    let last = digits - 1 - exponent(value, digits);
    let unit = 10f64.powi(last);
    format!(
        "{:.*}",
        usize::try_from(last).unwrap_or(0),
        (value * unit).round() / unit
    )
}

/// The same without trailing zeros.
pub(crate) fn plain(value: f64, digits: i32) -> String {
    let text = figures(value, digits);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// The power of ten of the first digit, once rounded.
#[allow(clippy::cast_possible_truncation)]
fn exponent(value: f64, digits: i32) -> i32 {
    let power = value.abs().log10().floor() as i32;
    let unit = 10f64.powi(digits - 1 - power);
    if (value.abs() * unit).round() >= 10f64.powi(digits) {
        power + 1
    } else {
        power
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_rounded_to_figures() {
        assert_eq!(figures(5.75, 3), "5.75");
        assert_eq!(figures(6.0, 3), "6.00");
        assert_eq!(figures(0.0996, 2), "0.10");
        assert_eq!(figures(131.7, 2), "130");
        assert_eq!(plain(0.0996, 2), "0.1");
        assert_eq!(percent_text(0.789), "80 %");
        assert_eq!(percent_text(0.0234), "2.3 %");
    }
}
