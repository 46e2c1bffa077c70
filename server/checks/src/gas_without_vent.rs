//! A reaction makes gas in a closed vessel.

use crate::Survey;
use crate::acted_on::substance_of;
use crate::alive;
use crate::closed_and_heated::{WayOut, has_outlet, way_out};
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::quantity::pressure;
use chemistry::{GasAgent, ReagentClass, SolutionForm, State, Substance};
use plan::equation::{EquationTerm, float};
use plan::takes::{self, Slot};
use plan::vessel::{Content, Moment, Opening, States, VesselState, What};
use plan::{At, Plan, convert};
use std::cell::OnceCell;
use syntax::{
    Modifier, ModifierKind, PortionKind, Referent, Statement, Strength, StrengthForm, Text, Thing,
    Verb,
};
use uom::si::amount_of_substance::mole;
use uom::si::f64::{AmountOfSubstance, Pressure, Volume};
use uom::si::ratio::ratio;

pub(crate) const CHECK: Check = Check {
    name: "gas-without-vent",
    severity: Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Gas in a closed vessel

**Finds** what makes gas meeting in a vessel that the plan has sealed: a metal hydride, an aluminium
hydride or an alkali metal with water, an alcohol or an acid (hydrogen), sodium or potassium hydride with an amide,
imide, sulfonamide, pyrrole or indole that has its hydrogen (the same), a methyl or ethyl metal with
the same where nothing else is there for it (methane, ethane), a carbonate with an acid (carbon dioxide),
oxalyl chloride with dimethyl sulfoxide, or with a carboxylic acid and dimethylformamide (carbon monoxide and dioxide), a
borohydride in methanol or an acid and borane in anything protic (hydrogen), a Boc group with hydrogen
chloride or trifluoroacetic acid (carbon dioxide), di-tert-butyl dicarbonate with a primary or secondary amine and
carbonyldiimidazole with a carboxylic acid, where neither water nor a mineral base holds the carbon dioxide, also where the vessel is closed before a step has given them time; and what is a gas on the right
side of the equation, where all that stands on its left has come together (hydrogen chloride, hydrogen bromide and ammonia
not in ethers and alcohols, which dissolve them, and acid gases not over a base). A warning from 0.5 bar, an error from
2 bar above the air outside. As information the same in a vessel that is not said to be sealed, if its line
has a septum or a stopper and the plan names nothing that gas could leave by; and a separating funnel in which
what holds a mineral or sulfonic acid, trifluoroacetic, acetic or formic acid is washed with hydrogen carbonate or
carbonate, from a fifth of its free volume of gas.

Silent where the plan does not say that the vessel is closed; after `open` or `vent`; for vessels
made for pressure or with a balloon, and for those whose line has an outlet or a condenser and that a septum
seals; where a vial is emptied through an open neck; where amounts or the size of the vessel are not known. Where the
line has a bubbler or an inlet that the seal may have shut, a warning at most.

**Why it matters.** 1 mmol of gas fills 24 mL. A septum lifts at a few tenths of a bar, and
plain glass is made for none.

**Example**

    materials
      alcohol: benzyl alcohol, 1.00 eq
      nah:     sodium hydride, 60 wt% in mineral oil, 1.20 eq
    equipment
      flask: 100 mL flask, septum
    steps
      add nah, thf 20 mL
      seal flask
      add alcohol via syringe

**Write instead**

    steps
      add nah, thf 20 mL
      vent flask through bubbler
      add alcohol dropwise over 15 min, via syringe

The rules of your laboratory and a trained supervisor decide.

Butane and isobutane, which butyllithium gives, stay in solution for the most part and are not counted.

**Sources.** Ideal gas law at the room's temperature; one H₂ for each hydride, half a one for each atom of
an alkali metal, four for a borohydride, three for a borane, one CO₂ for each carbonate or Boc group, the coefficients of
the plan's equation, one CO₂ for each dicarbonate and amine or carbonyldiimidazole and acid, CO and CO₂ for each oxalyl chloride that meets dimethyl sulfoxide
(A. J. Mancuso, D. Swern, *Synthesis* 1981, 165, from memory). The gas space is taken as 1.25 times the nominal volume less the liquid, each
alcohol as one proton (assumptions). The limits are common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let outlet = OnceCell::new();
    let can_leave = || *outlet.get_or_init(|| names_an_outlet(plan));
    let mut said = vec![None; plan.apparatus.len()];
    let vessels = 0..plan.apparatus.len();
    let stoppers: Vec<bool> = vessels.map(|vessel| has_stopper(plan, vessel)).collect();
    for (index, moment) in plan.moments.iter().enumerate() {
        if !may_be_closed(moment, &stoppers) {
            continue;
        }
        let Some(said) = said.get_mut(moment.vessel) else {
            continue;
        };
        // Once for a vessel, and again where it comes to be worse.
        let worse = |finding: &Finding| said.is_none_or(|before| finding.severity < before);
        if let Some(finding) = finding(plan, index, moment, &can_leave).filter(worse) {
            *said = Some(finding.severity);
            findings.push(finding);
        }
    }
    findings.extend(
        (0..)
            .zip(&plan.moments)
            .find_map(|(index, moment)| shaken(plan, index, moment)),
    );
}

/// Litres of gas for each litre of free space that make shaking a matter of care (an assumption).
const SHAKEN: f64 = 0.2;

/// Acids that a reaction seldom uses up.
const WORKED_UP: [&str; 9] = [
    "acetic acid",
    "formic acid",
    "hydrogen bromide",
    "hydrogen chloride",
    "methanesulfonic acid",
    "phosphoric acid",
    "sulfuric acid",
    "trifluoroacetic acid",
    "trifluoromethanesulfonic acid",
];

/// A mixture with acid in it is shaken with hydrogen carbonate or carbonate.
fn shaken(plan: &Plan, index: usize, moment: &Moment) -> Option<Finding> {
    let clause = sensitive::clause(plan, moment)
        .filter(|clause| matches!(clause.verb, Verb::Wash | Verb::Extract))?;
    let item = plan.apparatus.get(moment.vessel)?;
    let state = moment.before.get(moment.vessel)?;
    // What an earlier washing took with it is not known.
    let washed = plan.moments.iter().take(index).any(|earlier| {
        let clause = sensitive::clause(plan, earlier).map(|clause| clause.verb);
        earlier.vessel == moment.vessel
            && matches!(clause, Some(Verb::Wash | Verb::Extract | Verb::Separate))
    });
    if !item.lower.contains("separat") || state.unclear || washed {
        return None;
    }
    let (thing, each) = takes::things(clause)
        .filter(|(slot, _)| *slot == Slot::With)
        .find_map(|(_, thing)| {
            let name = substance_of(plan, thing)?.name();
            let hydrogen = name.ends_with("hydrogen carbonate");
            let each = if hydrogen { 1.0 } else { 0.5 };
            name.ends_with(" carbonate").then_some((thing, each))
        })?;
    let (volume, amount) = washing(plan, moment.line, thing)?;
    let acid = sum(state, |content| {
        WORKED_UP
            .iter()
            .any(|name| alive::is_named(plan, content, name))
    })?;
    let base = sum(state, |content| {
        is_base(plan, content) || alive::class(plan, content) == Some(ReagentClass::Amine)
    })?;
    let acid = acid - base;
    let made = if acid * each < amount {
        acid * each
    } else {
        amount
    };
    let atmosphere = Pressure::new::<pressure::atmosphere>(1.0);
    let gas: Volume = chemistry::molar_volume(plan.room.temperature, atmosphere) * made;
    let free = item.capacity? * 1.25 - state.volume(&plan.materials)? - volume;
    if gas <= free * SHAKEN {
        return None;
    }
    let at = At {
        line: moment.line,
        span: thing.name.span,
    };
    let message = format!(
        "This gives up to {} of carbon dioxide in {}: swirl it open until it stops fizzing, then shake it and vent it often.",
        sensitive::volume_text(gas),
        item.name
    );
    Some(Finding::new(&CHECK, at, message).severity(Severity::Information))
}

/// The volume of a solution that is washed with, in all its portions, and the base in it.
fn washing(plan: &Plan, line: u32, thing: &Thing) -> Option<(Volume, AmountOfSubstance)> {
    let portion = thing
        .portions
        .iter()
        .find_map(|portion| match &portion.kind {
            PortionKind::Amount { times, amount } => Some((*times, amount)),
            _ => None,
        });
    match &thing.referent {
        Referent::Key(id) => {
            let index = plan.materials.iter().position(|m| m.id == *id)?;
            let amounts = match portion {
                Some((times, amount)) => plan
                    .portion(plan.materials.get(index)?, line, times, amount)
                    .ok()?,
                None => plan.ledger.amounts.get(index)?.clone(),
            };
            Some((amounts.volume.ok()?.value, amounts.amount.ok()?.value))
        }
        Referent::Substance(Some(strength)) => {
            let (times, amount) = portion?;
            let volume = convert::volume(amount.quantity.as_ref()?, line)?.value * f64::from(times);
            let substance = substance_of(plan, thing)?;
            Some((volume, in_solution(substance, strength, line, volume)?))
        }
        _ => None,
    }
}

/// Somewhere in its words the plan speaks of a way out, or of inert gas, which comes from a line with a bubbler.
fn names_an_outlet(plan: &Survey<'_>) -> bool {
    const WORDS: [&str; 19] = [
        "argon",
        "ar",
        "balloon",
        "bubbler",
        "condenser",
        "exhaust",
        "glovebox",
        "inert",
        "inlet",
        "line",
        "manifold",
        "nitrogen",
        "open",
        "outlet",
        "schlenk",
        "scrubber",
        "vent",
        "vented",
        "venting",
    ];
    let mut words = plan.lower().split(|c: char| !c.is_ascii_alphabetic());
    words.any(|word| WORDS.contains(&word))
}

fn has_stopper(plan: &Plan, vessel: usize) -> bool {
    let item = sensitive::listed(plan, vessel);
    item.is_some_and(|item| {
        ["sept", "stopper"]
            .iter()
            .any(|word| item.lower.contains(word))
    })
}

/// A line with a septum or a stopper, and nothing that gas could leave by.
fn is_stoppered(plan: &Plan, vessel: usize) -> bool {
    has_stopper(plan, vessel)
        // No step has closed it, so that its line decides.
        && matches!(way_out(plan, vessel, u32::MAX), WayOut::None)
}

/// Its vessel is closed after it, or has a stopper and nobody says how it stands.
fn may_be_closed(moment: &Moment, stoppers: &[bool]) -> bool {
    let opening = |states: &States| Some(states.get(moment.vessel)?.opening);
    match (opening(&moment.before), opening(&moment.after)) {
        (_, Some(Opening::Closed { .. })) => true,
        // It was opened for what goes in, and the plan does not say how it stands then.
        (Some(Opening::Closed { .. }), Some(Opening::Unsaid)) => true,
        (Some(Opening::Unsaid), Some(Opening::Unsaid)) => {
            stoppers.get(moment.vessel).copied().unwrap_or(false)
        }
        _ => false,
    }
}

fn finding(
    plan: &Plan,
    index: usize,
    moment: &Moment,
    can_leave: &dyn Fn() -> bool,
) -> Option<Finding> {
    let before = moment.before.get(moment.vessel)?;
    let after = moment.after.get(moment.vessel)?;
    let sealed_on = (is_sealed_on_a_deprotection(plan, before, after)
        || is_sealed_on_the_reaction(plan, index, moment))
        && !is_opened_at_once(plan, index, moment.vessel);
    if moment.additions.is_empty() && !sealed_on || after.unclear {
        return None;
    }
    let (now, name) = gas(plan, after)?;
    let closed = match (before.opening, after.opening) {
        (_, Opening::Closed { line }) if sealed_on => Some(line),
        (Opening::Closed { line }, Opening::Closed { .. }) => Some(line),
        (Opening::Closed { .. }, Opening::Unsaid) if !can_leave() => None,
        (Opening::Unsaid, Opening::Unsaid) if is_stoppered(plan, moment.vessel) && !can_leave() => {
            None
        }
        _ => return None,
    };
    let verb = || At {
        line: moment.line,
        span: sensitive::clause(plan, moment)
            .map_or_else(Default::default, |clause| clause.verb_span),
    };
    let at = match moment.additions.first() {
        Some(addition) => addition.at,
        None if sealed_on => verb(),
        None => return None,
    };
    let out = closed.map(|line| way_out(plan, moment.vessel, line));
    if matches!(out, Some(WayOut::Pressure | WayOut::Open)) || is_opened_for_it(plan, moment) {
        return None;
    }
    // What the step makes is what can form after it, less what could have formed before.
    let earlier = gas(plan, before)
        .filter(|_| !sealed_on)
        .map_or(AmountOfSubstance::default(), |(n, _)| n);
    let made = now - earlier;
    let room = plan.room.temperature;
    let atmosphere = Pressure::new::<pressure::atmosphere>(1.0);
    let volume: Volume = chemistry::molar_volume(room, atmosphere) * made;
    let capacity = plan.apparatus.get(moment.vessel)?.capacity?;
    // Where a volume is not known, there is less space than without it.
    let known = after.volume(&plan.materials);
    let space = capacity * 1.25 - known.or_else(|| after.least_volume())?;
    // Where next to none is left, the pressure is more than can be told.
    let least = capacity * 0.1;
    let (space, about) = match known {
        Some(_) if space > least => (space, "about"),
        _ if space > least => (space, "more than"),
        _ => (least, "more than"),
    };
    let bar = (volume / space).value * 1.013;
    let severity = if closed.is_none() && bar > 0.5 {
        Severity::Information
    } else if bar > 2.0 && !has_outlet(plan, moment.vessel) {
        Severity::Error
    } else if bar > 0.5 {
        Severity::Warning
    } else {
        return None;
    };
    let flask = sensitive::name(plan, moment.vessel);
    let made = format!(
        "This gives {} {} of {name} in {flask}",
        how_much(plan, after),
        sensitive::volume_text(volume)
    );
    let celsius = plan::vessel::celsius(room);
    let ideal = format!("as an ideal gas at {celsius:.0} °C");
    let message = match closed {
        Some(_) => format!(
            "{made}, which is sealed: {about} {} bar {ideal}. Give it an outlet through a bubbler first.",
            sensitive::figures(bar, 2)
        ),
        None => format!(
            "{made}, {ideal}, and the plan does not say how gas leaves it: write it, as in `vent {flask} through bubbler`."
        ),
    };
    let mut finding = Finding::new(&CHECK, at, message).severity(severity);
    if let Some(line) = closed.filter(|_| !sealed_on) {
        finding = finding.related(sensitive::line_at(plan, line), "closed here");
    }
    let vent = format!("vent {flask} through bubbler");
    let edit = match sealed_on {
        // What a step closes is not open for having been vented before.
        true => edit::insert_after(plan, moment.line, &[vent]),
        false => edit::insert_before(plan, moment.line, &[vent]),
    };
    if sensitive::listed(plan, moment.vessel).is_some()
        && let Some(edit) = edit
    {
        finding = finding.fix(format!("Vent {flask} through a bubbler"), vec![edit]);
    }
    Some(finding)
}

/// A step opens it before any lets time pass: `seal flask`, `vent flask through bubbler`.
fn is_opened_at_once(plan: &Plan, index: usize, vessel: usize) -> bool {
    let waits = |moment: &&Moment| {
        sensitive::clause(plan, moment).is_some_and(|clause| {
            matches!(
                clause.verb,
                Verb::Stir | Verb::Hold | Verb::Wait | Verb::Heat | Verb::Warm | Verb::Reflux
            )
        })
    };
    let mut next = plan
        .moments
        .iter()
        .skip(index + 1)
        .take_while(|moment| !waits(moment));
    next.any(|moment| {
        let state = moment.after.get(vessel);
        state.is_some_and(|state| matches!(state.opening, Opening::Open | Opening::Vented))
    })
}

/// A group that takes hours to come off, in a vessel that is closed as soon as the acid is in it.
fn is_sealed_on_a_deprotection(plan: &Plan, before: &VesselState, after: &VesselState) -> bool {
    !matches!(before.opening, Opening::Closed { .. })
        && matches!(after.opening, Opening::Closed { .. })
        && gas(plan, before).is_some_and(|(made, _)| deprotection(plan, before) == Some(made))
}

/// It is closed before any step has given the reaction time.
fn is_sealed_on_the_reaction(plan: &Plan, index: usize, moment: &Moment) -> bool {
    let vessel = moment.vessel;
    let (Some(before), Some(after)) = (moment.before.get(vessel), moment.after.get(vessel)) else {
        return false;
    };
    let closes = !matches!(before.opening, Opening::Closed { .. })
        && matches!(after.opening, Opening::Closed { .. });
    let last = plan.moments.iter().take(index).rev();
    let mut last = last.take_while(|other| {
        sensitive::clause(plan, other).is_some_and(|clause| {
            !matches!(
                clause.verb,
                Verb::Stir | Verb::Hold | Verb::Wait | Verb::Heat | Verb::Warm | Verb::Reflux
            )
        })
    });
    let last = last.find(|other| other.vessel == vessel && !other.additions.is_empty());
    let (true, Some(last), Some(made)) = (closes, last, gas(plan, before)) else {
        return false;
    };
    // What comes off for hours; all else is gone as fast as it is added.
    let lasts = by_the_equation(plan, before) == Some(made)
        || activation(plan, before) == Some(made.0)
        || borane(plan, before) == Some(made.0);
    let slowly = || sensitive::clause(plan, last).is_none_or(alive::is_slow);
    lasts || !slowly()
}

/// What comes from a vial and through no needle or funnel comes through an open neck.
fn is_opened_for_it(plan: &Plan, moment: &Moment) -> bool {
    let needle = sensitive::clause(plan, moment).is_some_and(|clause| {
        let via = |modifier: &Modifier| matches!(modifier.kind, ModifierKind::Via(_));
        clause.modifiers.iter().any(via)
    });
    let mut sources = moment.additions.iter().filter_map(|addition| addition.from);
    let open = sources.any(|source| {
        let item = plan.apparatus.get(source);
        item.is_some_and(|item| !item.lower.contains("funnel"))
    });
    open && !needle
}

/// The gas that can form from what is in the vessel, and its name.
fn gas(plan: &Plan, state: &VesselState) -> Option<(AmountOfSubstance, &'static str)> {
    let hydrogen = hydrogen(plan, state).map(|n| (n, "hydrogen"));
    hydrogen
        .or_else(|| borane(plan, state).map(|n| (n, "hydrogen")))
        .or_else(|| alkane(plan, state))
        .or_else(|| swern(plan, state).map(|n| (n, "carbon monoxide and dioxide")))
        .or_else(|| acyl_chloride(plan, state).map(|n| (n, "carbon monoxide and dioxide")))
        .or_else(|| carbon_dioxide(plan, state).map(|n| (n, "carbon dioxide")))
        .or_else(|| deprotection(plan, state).map(|n| (n, "carbon dioxide")))
        .or_else(|| activation(plan, state).map(|n| (n, "carbon dioxide")))
        .or_else(|| by_the_equation(plan, state))
}

/// A gas on the right side of the equation, as far as that goes with what has come together of its left side.
fn by_the_equation(plan: &Plan, state: &VesselState) -> Option<(AmountOfSubstance, &'static str)> {
    let equation = plan.equation.as_ref()?;
    let substance = |term: &EquationTerm| match term.material {
        Some(id) => plan.material(id)?.0.identity.substance,
        None => chemistry::find_name(&term.name).one(),
    };
    let (gas, each) = equation.right.iter().find_map(|term| {
        let found = substance(term)?;
        let is_gas = found.state() == Some(State::Gas) && !stays_dissolved(plan, state, found);
        is_gas.then(|| (found.name(), float(term.coefficient)))
    })?;
    let mut extent: Option<AmountOfSubstance> = None;
    for term in &equation.left {
        let is_it = |content: &Content| {
            let material = sensitive::material(plan, content).map(|material| material.id);
            material.is_some() && material == term.material
        };
        let there = sum(state, is_it)?;
        let most = there / float(term.coefficient);
        extent = Some(match extent {
            Some(extent) if extent < most => extent,
            _ => most,
        });
    }
    let made = extent? * each;
    (made.value > 0.0 && made.is_finite()).then_some((made, gas))
}

/// Butanes stay in solution for the most part, what ethers and alcohols dissolve much of does, and acid gases in a base.
fn stays_dissolved(plan: &Plan, state: &VesselState, gas: Substance) -> bool {
    use ReagentClass as C;
    let has = |is: &dyn Fn(&Content) -> bool| state.contents.iter().any(is);
    let base = || {
        has(&|content| {
            matches!(
                alive::class(plan, content),
                Some(C::Amine | C::Base | C::AmideBase)
            ) || content.is_aqueous(&plan.materials)
                || alive::is_named(plan, content, "pyridine")
        })
    };
    let holds = || {
        has(&|content| {
            let class = alive::class(plan, content);
            let reacts = sensitive::material(plan, content).is_some_and(|material| {
                let equation = plan.equation.as_ref();
                equation.is_some_and(|equation| equation.term(material.id).is_some())
            });
            sensitive::is_solvent(plan, content)
                && !reacts
                && !matches!(class, Some(C::Hydrocarbon | C::HalogenatedSolvent))
        })
    };
    match gas.name() {
        "butane" | "isobutane" | "isobutylene" => true,
        // Of a hydride or a metal it comes as soon as that meets a proton, whatever the equation takes besides.
        "hydrogen" => has(&|content| {
            matches!(
                alive::fierce_class(plan, content),
                Some(C::MetalHydride | C::AluminiumHydride | C::AlkaliMetal)
            )
        }),
        "hydrogen chloride" | "hydrogen bromide" | "ammonia" => base() || holds(),
        "sulfur dioxide" | "hydrogen sulfide" | "carbon dioxide" => base(),
        _ => false,
    }
}

/// Hydrogen of a borohydride in methanol or an acid, of borane with anything protic, when all else has taken the hydrides
/// that it can.
fn borane(plan: &Plan, state: &VesselState) -> Option<AmountOfSubstance> {
    let mut most = AmountOfSubstance::default();
    let mut of_borane = false;
    for content in &state.contents {
        let name = content
            .substance(&plan.materials)
            .map_or("", Substance::name);
        let each = match name {
            "sodium borohydride" | "lithium borohydride" | "potassium borohydride" => 4.0,
            _ if name.starts_with("borane") => 3.0,
            _ => continue,
        };
        of_borane |= name.starts_with("borane");
        most += content.amount? * each;
    }
    if most.value <= 0.0 {
        return None;
    }
    let gives = |content: &Content| {
        let strong = alive::class(plan, content) == Some(ReagentClass::Acid)
            || alive::is_named(plan, content, "methanol");
        strong || of_borane && content.is_protic(&plan.materials)
    };
    let own = |content: &Content| {
        matches!(
            alive::class(plan, content),
            Some(ReagentClass::Borohydride | ReagentClass::Borane)
        )
    };
    let mut protons = AmountOfSubstance::default();
    let mut enough = false;
    for content in state.contents.iter().filter(|content| !own(content)) {
        if gives(content) {
            enough |= sensitive::is_solvent(plan, content)
                || of_borane && content.is_aqueous(&plan.materials);
            match content.amount {
                Some(amount) => protons += amount,
                None if enough => {}
                None => return None,
            }
        } else if alive::is_partner(plan, content) {
            most -= content.amount? * alive::hydrides_at_most(plan, content);
        }
    }
    let made = if enough || protons > most {
        most
    } else {
        protons
    };
    (made.value > 0.0).then_some(made)
}

/// Of borane as little is reckoned as what else is there may leave, where it is not known what that takes.
pub(crate) fn how_much(plan: &Plan, state: &VesselState) -> &'static str {
    let is_borane = |content: &Content| {
        let substance = content.substance(&plan.materials);
        substance.is_some_and(|substance| {
            let name = substance.name();
            name.starts_with("borane") || name.starts_with("9-bora")
        })
    };
    let takes_some = |content: &Content| {
        !is_borane(content)
            && !content.is_protic(&plan.materials)
            && alive::is_partner(plan, content)
            && alive::known_hydrides(plan, content).is_none()
    };
    match state.contents.iter().any(is_borane) && state.contents.iter().any(takes_some) {
        true => "at least",
        false => "up to",
    }
}

/// Two of gas for each oxalyl chloride that meets a carboxylic acid where dimethylformamide is.
pub(crate) fn acyl_chloride(plan: &Plan, state: &VesselState) -> Option<AmountOfSubstance> {
    let has = |name| {
        state
            .contents
            .iter()
            .any(|content| alive::is_named(plan, content, name))
    };
    if !has("oxalyl chloride") || !has("N,N-dimethylformamide") {
        return None;
    }
    let oxalyl = sum(state, |content| {
        alive::is_named(plan, content, "oxalyl chloride")
    })?;
    let acid = sum(state, |content| is_carboxylic(plan, content))?;
    let made = if oxalyl < acid { oxalyl } else { acid };
    (made.value > 0.0).then_some(made * 2.0)
}

fn is_carboxylic(plan: &Plan, content: &Content) -> bool {
    let name = content
        .substance(&plan.materials)
        .map_or("", Substance::name);
    name.ends_with("oic acid") || name.ends_with("acetic acid") || name.ends_with("carboxylic acid")
}

/// A tert-butoxycarbonyl group that a strong acid takes off gives carbon dioxide; the isobutene stays, for the most part.
fn deprotection(plan: &Plan, state: &VesselState) -> Option<AmountOfSubstance> {
    let acid = sum(state, |content| {
        ["hydrogen chloride", "trifluoroacetic acid"]
            .iter()
            .any(|name| alive::is_named(plan, content, name))
    })?;
    if acid.value <= 0.0 {
        return None;
    }
    let carbamate = sum(state, |content| is_carbamate(plan, content))?;
    // A tenth of acid takes off little of it, and slowly.
    (carbamate.value > 0.0 && acid > carbamate * 2.0).then_some(carbamate)
}

/// Rings whose first place is a nitrogen.
const RINGS: [&str; 8] = [
    "aziridine-1-",
    "azetidine-1-",
    "pyrrolidine-1-",
    "piperidine-1-",
    "piperazine-1-",
    "azepane-1-",
    "indole-1-",
    "pyrrole-1-",
];

fn is_carbamate(plan: &Plan, content: &Content) -> bool {
    let written = sensitive::material(plan, content).map(|material| &*material.identity.name);
    let library = content.substance(&plan.materials).map(Substance::name);
    [written, library].into_iter().flatten().any(|name| {
        let amine =
            name.starts_with("Boc-") || name.starts_with("N-Boc-") || name.starts_with("1-Boc-");
        let one = || name.matches("Boc").count() == 1;
        let side_chain = name.contains("(Boc)");
        // `tert-butyl piperidine-1-carboxylate`: on the nitrogen of a ring.
        let systematic = name.starts_with("tert-butyl ")
            && (name.ends_with("carbamate")
                || name.ends_with("-1-carboxylate")
                    && RINGS.iter().any(|ring| name.contains(ring)));
        ((amine || side_chain)
            && one()
            && !name.contains("anhydride")
            && !name.contains("chloride"))
            || systematic
    })
}

/// What a metal hydride takes a proton of at once, between two groups that draw.
fn is_carbon_acid(plan: &Plan, content: &Content) -> bool {
    content.substance(&plan.materials).is_some_and(|substance| {
        ["phosphonoacetate", "malonate", "acetoacetate"]
            .iter()
            .any(|name| substance.name().ends_with(name))
    })
}

/// Amides, sulfonamides, pyrroles, indoles: as many hydrogens as sodium hydride takes of them.
fn nitrogen_acids(plan: &Plan, content: &Content) -> f64 {
    let substance = content.substance(&plan.materials);
    let protic = substance.and_then(Substance::protic_equivalents);
    protic.map_or(0.0, |protic| f64::from(protic.amide))
}

/// Carbon dioxide of di-tert-butyl dicarbonate with an amine that has a hydrogen, and of carbonyldiimidazole with a
/// carboxylic acid: one for each pair. None in water or with a mineral base, which hold it.
fn activation(plan: &Plan, state: &VesselState) -> Option<AmountOfSubstance> {
    let holds = |content: &Content| content.is_aqueous(&plan.materials) || is_base(plan, content);
    if state.contents.iter().any(holds) {
        return None;
    }
    let pairs = |reagent: &str, partner: &dyn Fn(&Content) -> bool| {
        let reagent = sum(state, |content| alive::is_named(plan, content, reagent))?;
        if reagent.value <= 0.0 {
            return None;
        }
        let partner = sum(state, partner)?;
        let made = if reagent < partner { reagent } else { partner };
        (made.value > 0.0).then_some(made)
    };
    let amine = |content: &Content| {
        let substance = content.substance(&plan.materials);
        let hydrogens = substance.and_then(Substance::protic_equivalents);
        alive::class(plan, content) == Some(ReagentClass::Amine)
            && hydrogens.is_some_and(|protic| protic.weak > 0)
    };
    pairs("di-tert-butyl dicarbonate", &amine).or_else(|| {
        pairs("1,1'-carbonyldiimidazole", &|content| {
            is_carboxylic(plan, content)
        })
    })
}

/// Two of gas for each oxalyl chloride that meets dimethyl sulfoxide.
pub(crate) fn swern(plan: &Plan, state: &VesselState) -> Option<AmountOfSubstance> {
    let amount = |name: &str| {
        let content = state.contents.iter();
        let mut content = content.filter(|content| alive::is_named(plan, content, name));
        content.next()?.amount
    };
    let (oxalyl, dmso) = (amount("oxalyl chloride")?, amount("dimethyl sulfoxide")?);
    let both = if oxalyl < dmso { oxalyl } else { dmso };
    (both.value > 0.0).then_some(both * 2.0)
}

/// Methane or ethane of a metal alkyl that has only protons to react with.
fn alkane(plan: &Plan, state: &VesselState) -> Option<(AmountOfSubstance, &'static str)> {
    let is_protic = |content: &Content| {
        content.is_aqueous(&plan.materials) || content.is_protic(&plan.materials)
    };
    let mut most = AmountOfSubstance::default();
    let mut name = None;
    for content in &state.contents {
        let organometallic = matches!(
            alive::fierce_class(plan, content),
            Some(
                ReagentClass::Organolithium
                    | ReagentClass::Grignard
                    | ReagentClass::Organozinc
                    | ReagentClass::Organoaluminium
            )
        );
        if !organometallic {
            if alive::is_partner(plan, content) && !is_protic(content) {
                return None;
            }
            continue;
        }
        let substance = content.substance(&plan.materials)?;
        let mut gases = substance.gas_on_quench();
        let gas = gases.find(|made| {
            made.agent == GasAgent::Water && matches!(made.gas.name(), "methane" | "ethane")
        });
        let Some(gas) = gas else { continue };
        most += content.amount? * gas.per_mole;
        name = Some(gas.gas.name());
    }
    let enough = state
        .contents
        .iter()
        .any(|content| is_protic(content) && sensitive::is_solvent(plan, content));
    let protons = sum(state, |content| {
        is_protic(content) && !sensitive::is_solvent(plan, content)
    });
    let made = match protons {
        _ if enough => most,
        Some(protons) if protons < most => protons,
        Some(_) => most,
        None => return None,
    };
    name.filter(|_| made.value > 0.0).map(|name| (made, name))
}

fn hydrogen(plan: &Plan, state: &VesselState) -> Option<AmountOfSubstance> {
    let mut most = AmountOfSubstance::default();
    for content in &state.contents {
        let each = match alive::fierce_class(plan, content) {
            Some(class @ (ReagentClass::MetalHydride | ReagentClass::AluminiumHydride)) => {
                alive::equivalents(content.substance(&plan.materials)?, class)
            }
            Some(ReagentClass::AlkaliMetal) => 0.5,
            _ => continue,
        };
        most += content.amount? * each;
    }
    // Water and alcoholic solvents have protons enough.
    let enough = state.contents.iter().any(|content| {
        content.is_aqueous(&plan.materials)
            || content.is_protic(&plan.materials) && sensitive::is_solvent(plan, content)
    });
    let only_metal_hydrides = state.contents.iter().all(|content| {
        alive::fierce_class(plan, content).is_none_or(|class| class == ReagentClass::MetalHydride)
    });
    let takes_nitrogen = only_metal_hydrides
        && state.contents.iter().any(|content| {
            ["sodium hydride", "potassium hydride"]
                .iter()
                .any(|name| alive::is_named(plan, content, name))
        });
    let mut protons = AmountOfSubstance::default();
    for content in &state.contents {
        if content.is_aqueous(&plan.materials) || sensitive::is_solvent(plan, content) {
            continue;
        }
        let one = content.is_protic(&plan.materials)
            || only_metal_hydrides && is_carbon_acid(plan, content);
        let each = match one {
            true => 1.0,
            false if takes_nitrogen => nitrogen_acids(plan, content),
            false => 0.0,
        };
        if each > 0.0 {
            protons += content.amount? * each;
        }
    }
    let made = if enough || protons > most {
        most
    } else {
        protons
    };
    (made.value > 0.0).then_some(made)
}

fn carbon_dioxide(plan: &Plan, state: &VesselState) -> Option<AmountOfSubstance> {
    let named = |content: &Content| {
        content
            .substance(&plan.materials)
            .map_or("", Substance::name)
    };
    let mut hydrogen_carbonate = AmountOfSubstance::default();
    for content in &state.contents {
        if named(content).ends_with("hydrogen carbonate") {
            hydrogen_carbonate += in_all(plan, content)?;
        }
    }
    let mut carbonate = AmountOfSubstance::default();
    let mut acid = AmountOfSubstance::default();
    for content in &state.contents {
        let name = named(content);
        if name.ends_with(" carbonate") && !name.contains("hydrogen") && is_base(plan, content) {
            carbonate += in_all(plan, content)?;
        } else if alive::class(plan, content) == Some(ReagentClass::Acid) {
            acid += in_all(plan, content)?;
        }
    }
    let zero = AmountOfSubstance::default();
    let first = if acid < hydrogen_carbonate {
        acid
    } else {
        hydrogen_carbonate
    };
    let rest = (acid - first) * 0.5;
    let second = if rest < carbonate { rest } else { carbonate };
    let made = first + if second > zero { second } else { zero };
    (made > zero).then_some(made)
}

/// The amount of a content, of what a step names by its strength as well.
fn in_all(plan: &Plan, content: &Content) -> Option<AmountOfSubstance> {
    content.amount.or_else(|| named_in_step(plan, content))
}

/// What a solution holds that a step names and no line lists.
fn named_in_step(plan: &Plan, content: &Content) -> Option<AmountOfSubstance> {
    let What::Named(name, Some(substance)) = &content.what else {
        return None;
    };
    let Statement::Step(step) = &plan.text.lines.get(content.line as usize)?.statement else {
        return None;
    };
    let mut things = step.clauses.iter().flat_map(takes::things);
    let strength = things.find_map(|(_, thing)| match &thing.referent {
        Referent::Substance(Some(strength)) if *thing.name.text == **name => Some(strength),
        _ => None,
    })?;
    in_solution(*substance, strength, content.line, content.volume?)
}

/// What a solution in water holds whose strength a step writes.
fn in_solution(
    substance: Substance,
    strength: &Strength,
    line: u32,
    volume: Volume,
) -> Option<AmountOfSubstance> {
    let in_water = |(carrier, _): &(Text, _)| carrier.text.eq_ignore_ascii_case("water");
    if !strength.carrier.as_ref().is_none_or(in_water) {
        return None;
    }
    let quantity = strength.quantity.as_ref();
    let form = match strength.form {
        StrengthForm::Molar => {
            let molarity = convert::concentration(quantity?, line)?.value;
            return Some(AmountOfSubstance::new::<mole>((molarity * volume).value));
        }
        StrengthForm::Concentrated => SolutionForm::Concentrated,
        StrengthForm::SaturatedAqueous => SolutionForm::Saturated,
        StrengthForm::MassFraction | StrengthForm::UnclearPercent => {
            SolutionForm::MassFraction(convert::share(quantity?, line)?.value.get::<ratio>())
        }
        _ => return None,
    };
    let molarity = chemistry::find_solution(substance, form, None)?.molarity?;
    let held = molarity.value * volume;
    Some(AmountOfSubstance::new::<mole>(held.value))
}

fn is_base(plan: &Plan, content: &Content) -> bool {
    alive::class(plan, content) == Some(ReagentClass::Base)
}

/// The amount of all contents of a kind; none where one is not known.
fn sum(state: &VesselState, kind: impl Fn(&Content) -> bool) -> Option<AmountOfSubstance> {
    let mut sum = AmountOfSubstance::default();
    for content in state.contents.iter().filter(|content| kind(content)) {
        sum += content.amount?;
    }
    Some(sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(flask: &str, steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 10.0 mmol alcohol
materials
  alcohol: 3-phenylpropan-1-ol, 1.00 eq
  nah: sodium hydride, 60 wt% in mineral oil, 1.50 eq
  carbonate: sodium hydrogen carbonate, 1.0 M in water, 20 mL
  hcl: hydrogen chloride, 1.0 M in water, 15 mL
  thf: tetrahydrofuran, 40 mL
equipment
  flask: {flask}
steps
{steps}"
        )
    }

    #[test]
    fn finds_the_gas_of_the_equation() {
        let with = |solvent: &str, steps: &str| {
            format!(
                "
plan Test
scale 50.0 mmol azide
reaction azide + pph3 -> C26H32NP + N2
materials
  azide: 1-azidooctane, formula C8H17N3, 1.00 eq
  pph3: triphenylphosphine, 1.10 eq
  thf: {solvent}, 100 mL
equipment
  flask: 250 mL flask
steps
{steps}"
            )
        };
        // 50.0 mmol × 24.1 mL/mmol at 21 °C: 1.21 L.
        let before = "  add azide, thf\n  add pph3\n  seal flask\n  ^^^^ error: This gives up to 1.21 L of nitrogen in flask, which is sealed: about\n  stir for 2 h\n";
        expect(&CHECK, &with("tetrahydrofuran", before));
        expect_fixed(
            &CHECK,
            &with("tetrahydrofuran", before),
            0,
            &with(
                "tetrahydrofuran",
                "  add azide, thf\n  add pph3\n  seal flask\n  vent flask through bubbler\n  stir for 2 h\n",
            ),
        );
        let hydrogen_chloride = |solvent: &str, steps: &str| {
            with(solvent, steps).replace("C26H32NP + N2", "ketone + HCl")
        };
        let sealed = "  add pph3, thf\n  seal flask\n  add azide via syringe\n";
        expect(
            &CHECK,
            &hydrogen_chloride(
                "dichloromethane",
                &format!(
                    "{sealed}      ^^^^^ error: This gives up to 1.21 L of hydrogen chloride\n"
                ),
            ),
        );
        expect(&CHECK, &hydrogen_chloride("1,4-dioxane", sealed));
        expect(
            &CHECK,
            &hydrogen_chloride(
                "dichloromethane",
                "  add pph3, thf, triethylamine 8 mL\n  seal flask\n  add azide via syringe\n",
            ),
        );
        for steps in [
            "add azide, thf\n  add pph3\n  stir for 2 h\n  seal flask",
            "add azide, thf\n  seal flask\n  stir for 2 h",
            "add azide, thf\n  add pph3\n  seal flask\n  vent flask\n  stir for 2 h",
            "add azide, thf\n  add pph3\n  stir for 2 h",
        ] {
            expect(&CHECK, &with("tetrahydrofuran", &format!("  {steps}\n")));
        }
    }

    #[test]
    fn finds_hydrogen_in_a_sealed_flask() {
        // 10.0 mmol × 24.1 mL/mmol at 21 °C: 241 mL into 62.5 mL less 21.4 mL of liquid.
        let before = "
  add nah, thf 20 mL
  seal flask
  add alcohol via syringe
      ^^^^^^^ error: This gives up to 241 mL of hydrogen in flask, which is sealed: about
";
        expect(&CHECK, &plan("50 mL flask", before));
        expect_fixed(
            &CHECK,
            &plan("50 mL flask", before),
            0,
            &plan(
                "50 mL flask",
                "  add nah, thf 20 mL\n  seal flask\n  vent flask through bubbler\n  add alcohol via syringe\n",
            ),
        );
    }

    #[test]
    fn finds_what_else_gives_gas() {
        let plan = |steps: &str| {
            format!(
                "
plan Test
scale 10.0 mmol acid
materials
  acid: benzoic acid, 1.00 eq
  ketone: cyclohexanone, 10.0 mmol
  nah: sodium hydride, 60 wt% in mineral oil, 15.0 mmol
  borohydride: sodium borohydride, 15.0 mmol
  borane: borane tetrahydrofuran complex, 1.0 M in THF, 15.0 mmol
  phosphonate: triethyl phosphonoacetate, 12.0 mmol
  oxalyl: oxalyl chloride, 12.0 mmol
  carbamate: Boc-L-phenylalanine, 10.0 mmol
  tfa: trifluoroacetic acid, 50.0 mmol
  thf: tetrahydrofuran, 40 mL
  dcm: dichloromethane, 20 mL
  methanol: methanol, 20 mL
  indole: indole, 10.0 mmol
  urea: urea, 15.0 mmol
  aniline: aniline, 10.0 mmol
  boc2o: di-tert-butyl dicarbonate, 11.0 mmol
  cdi: 1,1'-carbonyldiimidazole, 11.0 mmol
  et3n: triethylamine, 12.0 mmol
  k2co3: potassium carbonate, 20.0 mmol
  octene: 1-octene, 10.0 mmol
  unknown: the substrate, formula C12H14, 5.00 mmol
equipment
  flask: 100 mL flask
steps
{steps}"
            )
        };
        // One mmol is 24.1 mL at 21 °C.
        for steps in [
            "  add borohydride\n  seal flask\n  add methanol via syringe\n      ^^^^^^^^ error: This gives up to 1.45 L of hydrogen\n",
            "  add borohydride, ketone\n  seal flask\n  add methanol via syringe\n      ^^^^^^^^ error: This gives up to 1.21 L of hydrogen\n",
            "  add borane\n  seal flask\n  quench with methanol\n              ^^^^^^^^ error: This gives up to 1.09 L of hydrogen\n",
            "  add nah, thf\n  seal flask\n  add phosphonate via syringe\n      ^^^^^^^^^^^ error: This gives up to 290 mL of hydrogen\n",
            "  add nah, thf\n  seal flask\n  add indole via syringe\n      ^^^^^^ error: This gives up to 241 mL of hydrogen\n",
            "  add nah, thf\n  seal flask\n  add urea via syringe\n      ^^^^ error: This gives up to 362 mL of hydrogen\n",
            "  add nah, thf\n  seal flask\n  add aniline via syringe\n",
            "  add boc2o, thf\n  seal flask\n  add aniline via syringe\n      ^^^^^^^ error: This gives up to 241 mL of carbon dioxide\n",
            "  add cdi, thf\n  seal flask\n  add acid via syringe\n      ^^^^ error: This gives up to 241 mL of carbon dioxide\n",
            "  add boc2o, thf, k2co3\n  seal flask\n  add aniline via syringe\n",
            "  add boc2o, thf, et3n\n  seal flask\n  add ketone via syringe\n",
            "  add cdi, thf\n  seal flask\n  add aniline via syringe\n",
            "  add nah\n  seal flask\n  add methanol via syringe\n      ^^^^^^^^ error: This gives up to 362 mL of hydrogen\n",
            "  add acid, dcm, DMF 0.1 mL\n  seal flask\n  add oxalyl via syringe\n      ^^^^^^ error: This gives up to 483 mL of carbon monoxide and dioxide\n",
            "  add carbamate, dcm\n  seal flask\n  add tfa via syringe\n      ^^^ error: This gives up to 241 mL of carbon dioxide\n",
            "  add carbamate, dcm, tfa\n  seal flask\n  ^^^^ error: This gives up to 241 mL of carbon dioxide\n  stir for 3 h\n",
            "  add dcm, tfa\n  seal flask\n  quench with sat. aq. NaHCO3 30 mL\n                       ^^^^^^ error: This gives up to\n",
            "  add borohydride, thf\n  seal flask\n  add ketone via syringe\n",
            "  add borohydride, methanol\n  seal flask\n  ^^^^ error: This gives up to 1.45 L of hydrogen\n  stir for 1 h\n",
            "  add borohydride, methanol\n  stir for 1 h\n  seal flask\n",
            "  add boc2o, thf, aniline\n  seal flask\n  ^^^^ error: This gives up to 241 mL of carbon dioxide\n  stir overnight\n",
            "  add cdi, thf\n  add acid dropwise\n  seal flask\n  ^^^^ error: This gives up to 241 mL of carbon dioxide\n  stir overnight\n",
            "  add boc2o, thf, aniline\n  stir overnight\n  seal flask\n",
            "  add boc2o, thf, aniline\n  seal flask\n  vent flask through bubbler\n  stir overnight\n",
            "  add k2co3\n  add 6 M HCl 7 mL\n  seal flask\n  ^^^^ error: This gives up to 483 mL of carbon dioxide\n  stir overnight\n",
            "  add k2co3\n  add 6 M HCl 7 mL dropwise over 10 min\n  seal flask\n  stir overnight\n",
            "  add k2co3, water 10 mL\n  seal flask\n  add 6 M HCl 7 mL via syringe\n          ^^^ error: This gives up to 483 mL of carbon dioxide\n",
            "  add k2co3, water 10 mL\n  seal flask\n  add 10 wt% HCl 7 mL via syringe\n             ^^^ error: This gives up to 243 mL of carbon dioxide\n",
            "  add k2co3, water 10 mL\n  seal flask\n  add conc. HCl 3.33 mL via syringe\n            ^^^ error: This gives up to 483 mL of carbon dioxide\n",
            "  add octene, thf\n  add borane dropwise over 20 min\n  seal flask\n  add water 10 mL via syringe\n      ^^^^^ error: This gives up to 845 mL of hydrogen\n",
            "  add unknown, thf\n  add borane dropwise over 20 min\n  seal flask\n  add water 10 mL via syringe\n      ^^^^^ error: This gives at least 603 mL of hydrogen\n",
            "  add carbamate, dcm\n  seal flask\n  add ketone via syringe\n",
            "  add acid, dcm\n  seal flask\n  add ketone via syringe\n",
        ] {
            expect(&CHECK, &plan(steps));
        }
    }

    #[test]
    fn what_is_closed_and_vented_is_open() {
        let text = |carbamate: &str, steps: &str| {
            format!(
                "
plan Test
materials
  carbamate: {carbamate}, 10.0 mmol
  hcl: HCl, 4.0 M in dioxane, 20 mL
equipment
  flask: 50 mL flask
steps
  add carbamate, hcl
{steps}"
            )
        };
        let before = "  seal flask\n  ^^^^ error: This gives up to 241 mL of carbon dioxide\n  stir for 3 h\n";
        let after = "  seal flask\n  vent flask through bubbler\n  stir for 3 h\n";
        for carbamate in [
            "Boc-L-phenylalanine",
            "tert-butyl phenylcarbamate, formula C11H15NO2",
            "tert-butyl 4-cyanopiperidine-1-carboxylate, formula C11H18N2O2",
            "H-Lys(Boc)-OMe, formula C12H24N2O4",
        ] {
            expect(&CHECK, &text(carbamate, before));
            expect_fixed(&CHECK, &text(carbamate, before), 0, &text(carbamate, after));
            expect(&CHECK, &text(carbamate, after));
        }
        // An ester.
        let ester = "tert-butyl cyclohexane-1-carboxylate, formula C11H20O2";
        expect(&CHECK, &text(ester, "  seal flask\n  stir for 3 h\n"));
    }

    #[test]
    fn a_full_vial_has_no_room_for_gas() {
        // 15.0 mmol of each, 362 mL; 35 mL of solutions in a vial of 20 mL.
        expect(
            &CHECK,
            &plan(
                "20 mL vial",
                "  add carbonate\n  seal flask\n  add hcl\n      ^^^ error: This gives up to 362 mL of carbon dioxide in flask, which is sealed: more than 180 bar\n",
            ),
        );
    }

    /// 241 mL into 62.5 mL at most, less what is known to be there.
    #[test]
    fn an_unknown_volume_leaves_less_room() {
        let steps = "  add nah, thf 20 mL, ether\n  seal flask\n  add alcohol via syringe\n      ^^^^^^^ error: This gives up to 241 mL of hydrogen in flask, which is sealed: more than 5.9 bar\n";
        let text = plan("50 mL flask", steps);
        expect(
            &CHECK,
            &text.replace("  thf: tetra", "  ether: diethyl ether\n  thf: tetra"),
        );
    }

    #[test]
    fn a_separating_funnel_is_vented() {
        let text = |wash: &str| {
            format!(
                "
plan Test
materials
  acid: benzoic acid, 10.0 mmol
  tfa: trifluoroacetic acid, 50.0 mmol
  dcm: dichloromethane, 20 mL
  nahco3: sodium hydrogen carbonate, 1.0 M in water, 50 mL
equipment
  flask: 100 mL flask
  funnel: 250 mL separating funnel
steps
  add acid, tfa, dcm
  transfer flask to funnel
  in funnel
{wash}"
            )
        };
        // 50 mmol × 24.1 mL/mmol; the benzoic acid may be used up.
        for wash in [
            "  wash with nahco3\n            ^^^^^^ information: This gives up to 1.21 L of carbon dioxide in funnel: swirl it open\n  wash organics with nahco3\n",
            "  wash with sat. aq. NaHCO3 100 mL\n                     ^^^^^^ information: This gives up to 1.21 L of carbon dioxide in funnel\n",
            "  wash with water 50 mL\n",
            "  wash with nahco3 1.0 mL\n",
            "  add triethylamine 10 mL\n  wash with nahco3\n",
            "  wash with 1 M NaOH 50 mL\n  wash with sat. aq. NaHCO3 50 mL\n",
        ] {
            expect(&CHECK, &text(wash));
        }
    }

    #[test]
    fn a_funnel_does_not_open_the_flask() {
        let text = |warning: &str| {
            plan(
                "50 mL flask",
                &format!(
                    "  in funnel\n  dissolve alcohol in thf 10 mL\n  in flask\n  add nah, thf 10 mL\n  seal flask\n  transfer funnel to flask dropwise\n{warning}"
                ),
            )
        };
        let warning = "           ^^^^^^ error: This gives up to 241 mL of hydrogen in flask, which is sealed\n";
        let funnel = |text: &str| text.replace("steps", "  funnel: 50 mL dropping funnel\nsteps");
        let vial = |text: &str| text.replace("steps", "  funnel: 50 mL vial\nsteps");
        expect(&CHECK, &funnel(&text(warning)));
        expect(&CHECK, &vial(&text("")));
    }

    #[test]
    fn a_condenser_is_no_outlet_and_a_bubbler_may_be_shut() {
        let steps = "  add nah, thf 20 mL\n  seal flask\n  add alcohol via syringe\n      ^^^^^^^ ";
        let found = ": This gives up to 241 mL of hydrogen in flask, which is sealed\n";
        for (flask, severity) in [
            ("50 mL flask, reflux condenser", "error"),
            ("50 mL flask, bubbler", "warning"),
        ] {
            expect(&CHECK, &plan(flask, &format!("{steps}{severity}{found}")));
        }
    }

    #[test]
    fn finds_carbon_dioxide() {
        // 15 mmol of acid and 20 mmol of hydrogen carbonate: 15 × 24.1 mL into 312.5 − 35 mL, 1.3 bar.
        expect(
            &CHECK,
            &plan(
                "250 mL flask",
                "  add carbonate\n  seal flask\n  add hcl\n      ^^^ warning: This gives up to 362 mL of carbon dioxide in flask, which is sealed: about 1.3 bar\n",
            ),
        );
    }

    #[test]
    fn finds_the_gases_of_a_swern_activation_and_of_a_methyl_grignard() {
        let other = |materials: &str, flask: &str, steps: &str| {
            format!(
                "
plan Test
scale 10.0 mmol alcohol
materials
  alcohol: 3-phenylpropan-1-ol, 1.00 eq
{materials}
  dcm: dichloromethane, 40 mL
equipment
  flask: {flask}
steps
{steps}"
            )
        };
        let swern = "  oxalyl: oxalyl chloride, 1.20 eq\n  dmso: dimethyl sulfoxide, 2.40 eq";
        // 2 × 12 mmol × 24.1 mL/mmol at 21 °C, by the ideal gas law: 579 mL.
        expect(
            &CHECK,
            &other(
                swern,
                "100 mL flask",
                "  add dcm 20 mL, oxalyl
  seal flask
  cool to -78 °C
  add dmso dropwise via syringe
      ^^^^ error: This gives up to 579 mL of carbon monoxide and dioxide in flask, which is sealed: about
",
            ),
        );
        let grignard = "  memgbr: methylmagnesium bromide, 3.0 M in diethyl ether, 1.50 eq";
        // The alcohol has 10 mmol of protons for 15 mmol of it.
        expect(
            &CHECK,
            &other(
                grignard,
                "100 mL flask",
                "  add memgbr, dcm 20 mL
  seal flask
  add alcohol via syringe
      ^^^^^^^ error: This gives up to 241 mL of methane in flask, which is sealed: about
",
            ),
        );
        // The ketone may have taken all of it.
        let ketone = format!("{grignard}\n  ketone: cyclohexanone, 1.50 eq");
        expect(
            &CHECK,
            &other(
                &ketone,
                "100 mL flask",
                "  add memgbr, dcm 20 mL\n  seal flask\n  add ketone via syringe\n  add alcohol via syringe\n",
            ),
        );
        // Not said to be sealed, and nothing to leave by.
        let open = |flask: &str, found: &str| {
            other(
                swern,
                flask,
                &format!("  add dcm 20 mL, oxalyl\n  add dmso dropwise via syringe\n{found}"),
            )
        };
        expect(
            &CHECK,
            &open(
                "100 mL flask, septum",
                "      ^^^^ information: This gives up to 579 mL of carbon monoxide and dioxide in flask, as an ideal gas at 21 °C, and the plan does not say how gas leaves it\n",
            ),
        );
        for flask in [
            "100 mL flask",
            "100 mL flask, septum, bubbler",
            "100 mL flask, septum, argon inlet",
            "100 mL pressure flask, septum",
        ] {
            expect(&CHECK, &open(flask, ""));
        }
    }

    #[test]
    fn is_silent_where_gas_can_leave_or_is_little() {
        for (flask, steps) in [
            (
                "50 mL flask",
                "add nah, thf 20 mL\n  add alcohol via syringe",
            ),
            (
                "50 mL flask, septum, bubbler",
                "add nah, thf 20 mL\n  seal flask with septum\n  add alcohol via syringe",
            ),
            (
                "50 mL flask",
                "add nah, thf 20 mL\n  seal flask\n  vent flask\n  add alcohol via syringe",
            ),
            (
                "100 mL autoclave",
                "add nah, thf 20 mL\n  seal flask\n  add alcohol via syringe",
            ),
            (
                "flask",
                "add nah, thf 20 mL\n  seal flask\n  add alcohol via syringe",
            ),
            (
                "500 mL flask",
                "add carbonate\n  seal flask\n  add hcl 2 mL",
            ),
            (
                "50 mL flask",
                "add nah, alcohol, thf 20 mL\n  stir for 1 h\n  seal flask\n  add thf 2 mL via syringe",
            ),
        ] {
            expect(&CHECK, &plan(flask, &format!("  {steps}\n")));
        }
    }

    #[test]
    fn what_was_opened_for_a_solid_is_not_said_to_be_open() {
        let plan = |open: &str| {
            format!(
                "
plan A
scale 50 mmol na
materials
  na: sodium, 1.00 eq
  e: ethanol, 50 mL
equipment
  flask: 250 mL flask, septum
steps
  add e
  seal flask
{open}  add na
"
            )
        };
        let found = "      ^^ information: This gives up to 603 mL of hydrogen in flask\n";
        expect(&CHECK, &format!("{}{found}", plan("")));
        expect(&CHECK, &plan("  open flask\n"));
        expect(&CHECK, &plan("  vent flask\n"));
    }
}
