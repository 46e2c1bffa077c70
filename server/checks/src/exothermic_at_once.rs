//! A reagent goes all at once onto what it reacts with in heat.

use crate::Survey;
use crate::alive;
use crate::closed_and_heated::vapour;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::ReagentClass;
use chemistry::quantity::volume::milliliter;
use plan::Plan;
use plan::vessel::{Content, Moment, VesselState};
use syntax::{Clause, ModifierKind, Problem, TemperatureKind, Verb};
use uom::si::amount_of_substance::millimole;
use uom::si::f64::{TemperatureInterval, ThermodynamicTemperature};
use uom::si::temperature_interval::kelvin;

pub(crate) const CHECK: Check = Check {
    name: "exothermic-at-once",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# All at once

**Finds** an organolithium, a Grignard reagent or an aluminium hydride that goes onto a ketone, aldehyde, ester, nitrile,
acid chloride, acid or alcohol, or one of these that goes onto such a reagent, with no word of how slowly, where it can
heat the mixture by 20 °C or more: an information, one for a plan; a warning where that takes it to its boiling point.

It counts 5 mmol or more of what is the lesser, two equivalents for an ester or acid chloride and one for the others, and 60 % of the heat, for a bath takes some
of it away. Silent for `dropwise`, `slowly`, `over 20 min`, `in portions`, a rate, a pump, a cannula or a dropping funnel,
where something else may have made a base or an ylide of the reagent, `below`
a temperature and `until` something; where amounts or volumes are not known.

**Why it matters.** A bath takes heat away in minutes, and such a reaction gives it in seconds. What should have stayed
at -78 °C is not cold then, and what stands near its boiling point leaves the flask.

**Example**

    materials
      ester: ethyl benzoate, 1.00 eq
      dibal: diisobutylaluminium hydride, 1.0 M in toluene, 1.20 eq
    steps
      add ester, toluene 5 mL
      cool to -78 °C
      add dibal quickly

**Write instead**

    steps
      add ester, toluene 5 mL
      cool to -78 °C
      add dibal dropwise over 20 min

The safety data sheet, the rules of your laboratory and a trained supervisor decide.

**Sources.** Heats of reaction of 150 kJ/mol for organolithiums and Grignard reagents and 100 kJ/mol for a hydride, and
heat capacities of 1.6 J/(mL K) for what is in the flask: assumptions, the heats on the low side. The 60 % and the 20 °C
are assumptions too.
";

/// Kelvin from which it speaks (an assumption).
const SPEAKS: f64 = 20.0;
/// Millimoles from which it speaks (an assumption).
const MUCH: f64 = 5.0;
/// Share of the heat that a bath does not take away (an assumption).
const STAYS: f64 = 0.6;
/// Heat capacity by volume of what is in the flask, J/(mL K) (an assumption: ethers and hydrocarbons have about 1.5).
const CAPACITY: f64 = 1.6;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut informed = false;
    for moment in &plan.moments {
        let Some(finding) = finding(plan, moment) else {
            continue;
        };
        if finding.severity == Severity::Information && std::mem::replace(&mut informed, true) {
            continue;
        }
        findings.push(finding);
    }
}

fn finding(plan: &Plan, moment: &Moment) -> Option<Finding> {
    let adds = [Verb::Add, Verb::Charge, Verb::Transfer, Verb::Pour];
    let clause = sensitive::clause(plan, moment)
        .filter(|clause| adds.contains(&clause.verb) && !is_held_back(clause))?;
    // How slowly may stand in what could not be read: `in portions`.
    let line = plan.text.lines.get(moment.line as usize)?;
    let unread = |problem: &Problem| problem.severity == syntax::Severity::Error;
    if line.problems.iter().any(unread) {
        return None;
    }
    let takes_part = |content: &Content| {
        alive::fierce_class(plan, content).is_some() || is_partner(plan, content)
    };
    let mut additions = moment.additions.iter();
    let addition = additions.find(|addition| takes_part(&addition.content))?;
    // What stands in a dropping funnel comes out of it slowly.
    let in_funnel = |from: usize| {
        let item = plan.apparatus.get(from);
        item.is_some_and(|item| item.lower.contains("funnel"))
    };
    if addition.from.is_some_and(in_funnel) {
        return None;
    }
    let before = moment.before.get(moment.vessel)?;
    let after = moment.after.get(moment.vessel)?;
    if before.unclear || after.unclear || after.quenched.is_some() {
        return None;
    }
    let (reacts, heat) = reacts(plan, after)?;
    // There, or in the vessel that it comes from.
    let sources = moment.additions.iter().filter_map(|addition| addition.from);
    let mut vessels: Vec<usize> = sources.chain([moment.vessel]).collect();
    vessels.sort_unstable();
    vessels.dedup();
    let reacted = vessels
        .iter()
        .filter_map(|&vessel| moment.before.get(vessel));
    let reacted: f64 = reacted
        .filter_map(|state| Some(self::reacts(plan, state)?.0))
        .sum();
    let millimoles = reacts - reacted;
    let volume = after.volume(&plan.materials)?.get::<milliliter>();
    let rise = STAYS * millimoles * heat / (volume * CAPACITY);
    if !(millimoles >= MUCH && rise.is_finite() && rise >= SPEAKS) {
        return None;
    }
    let from = before.known_temperature()?;
    let hot = from + TemperatureInterval::new::<kelvin>(rise);
    let boils = boils_at(plan, after, hot);
    let severity = match boils {
        true => Severity::Warning,
        false => Severity::Information,
    };
    let minutes = (rise / 2.0).max(5.0).ceil();
    let name = addition.content.name(&plan.materials);
    let past = if boils { ", to its boiling point" } else { "" };
    let message = format!(
        "All at once, {name} can heat this by {} °C or more{past}: add it dropwise, over {minutes:.0} min or longer.",
        sensitive::figures(rise, 2)
    );
    let mut finding = Finding::new(&CHECK, addition.at, message).severity(severity);
    if let [_] = clause.objects.as_slice() {
        let how = format!("dropwise over {minutes:.0} min");
        let edit = edit::slowly(plan, moment.line, clause, &how);
        finding = finding.fix("Add it dropwise", vec![edit]);
    }
    Some(finding)
}

/// Slowly, or as the temperature or something else allows.
fn is_held_back(clause: &Clause) -> bool {
    alive::is_slow(clause)
        || clause
            .modifiers
            .iter()
            .any(|modifier| match &modifier.kind {
                ModifierKind::UntilText(_)
                | ModifierKind::Temperature(TemperatureKind::Below, _) => true,
                ModifierKind::Via(things) => things
                    .iter()
                    .any(|thing| thing.name.text.contains("cannula")),
                _ => false,
            })
}

/// Millimoles of a reagent and of what it reacts with that have met there, and the heat of one in kilojoules; none
/// where an amount is not known.
fn reacts(plan: &Plan, state: &VesselState) -> Option<(f64, f64)> {
    use ReagentClass as C;
    let (mut reagent, mut partner, mut heat) = (0.0, 0.0, f64::INFINITY);
    for content in &state.contents {
        // What goes into water or alcohol is another matter.
        let drowns = content.is_protic(&plan.materials) && sensitive::is_solvent(plan, content);
        if drowns || content.is_aqueous(&plan.materials) {
            return None;
        }
        let class = alive::fierce_class(plan, content);
        let each = match class {
            Some(C::Organolithium | C::Grignard) => 150.0,
            Some(C::AluminiumHydride) => 100.0,
            _ if is_partner(plan, content) => {
                let each = match alive::class(plan, content) {
                    Some(C::Ester | C::AcylChloride) => 2.0,
                    _ => 1.0,
                };
                partner += content.amount?.get::<millimole>() * each;
                continue;
            }
            _ if stands_by(plan, content) => continue,
            // A base or an ylide has been made of it, which gives less heat.
            _ => {
                reagent -= content.amount?.get::<millimole>();
                continue;
            }
        };
        let equivalents = alive::equivalents(content.substance(&plan.materials)?, class?);
        reagent += content.amount?.get::<millimole>() * equivalents;
        heat = heat.min(each);
    }
    let met = f64::min(reagent, partner);
    (met > 0.0).then_some((met, heat))
}

/// Solvents, and halides, of which an organolithium makes another.
fn stands_by(plan: &Plan, content: &Content) -> bool {
    use ReagentClass as C;
    let class = alive::class(plan, content);
    let inert = matches!(
        class,
        Some(
            C::Ether | C::Hydrocarbon | C::InertGas | C::Adsorbent | C::ArylHalide | C::AlkylHalide
        )
    );
    inert || sensitive::is_solvent(plan, content)
}

fn is_partner(plan: &Plan, content: &Content) -> bool {
    use ReagentClass as C;
    let meets = matches!(
        alive::class(plan, content),
        Some(
            C::Ketone
                | C::Aldehyde
                | C::Ester
                | C::AcylChloride
                | C::Nitrile
                | C::Acid
                | C::Alcohol
        )
    );
    meets && !sensitive::is_solvent(plan, content)
}

fn boils_at(plan: &Plan, state: &VesselState, t: ThermodynamicTemperature) -> bool {
    vapour(plan, state, t).is_some_and(|(_, pressure)| pressure >= 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 20.0 mmol ester
materials
  ester: ethyl benzoate, 1.00 eq
  dibal: diisobutylaluminium hydride, 1.0 M in toluene, 1.20 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.20 eq
  ketone: cyclohexanone, 1.00 eq
  toluene: toluene, 60 mL
  ether: diethyl ether, 10 mL
equipment
  flask: 250 mL flask
  vial: 40 mL vial
  funnel: 50 mL dropping funnel
steps
{steps}"
        )
    }

    #[test]
    fn finds_what_is_added_at_once() {
        // 0.6 × 24 mmol × 100 J/mmol over 36.9 mL × 1.6 J/(mL K): 24 K.
        let before = "
  add ester, toluene 10 mL
  cool to -78 °C
  add dibal quickly
      ^^^^^ information: All at once, dibal can heat this by 24 °C or more: add it dropwise, over 13 min or longer.
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add ester, toluene 10 mL\n  cool to -78 °C\n  add dibal dropwise over 13 min\n",
            ),
        );
    }

    #[test]
    fn warns_where_it_boils() {
        let before = "
  add ketone, ether
  add base
      ^^^^ warning: All at once, base can heat this by 52 °C or more, to its boiling point
";
        expect(&CHECK, &plan(before));
        // The other way round.
        let before = "
  add base, ether
  add ketone via syringe
      ^^^^^^ warning: All at once, ketone can heat this by 52 °C or more, to its boiling point
";
        expect(&CHECK, &plan(before));
    }

    #[test]
    fn is_silent_where_it_is_slow_or_little() {
        for steps in [
            "add ester, toluene 10 mL\n  cool to -78 °C\n  add dibal dropwise",
            "add ester, toluene 10 mL\n  cool to -78 °C\n  add dibal over 20 min",
            "add ester, toluene 10 mL\n  cool to -78 °C\n  add dibal, below -70 °C",
            "add ester, toluene 10 mL\n  cool to -78 °C\n  add dibal via syringe pump",
            "add ester, toluene 10 mL\n  cool to -78 °C\n  add dibal via cannula",
            "add ester, toluene 60 mL\n  cool to -78 °C\n  add dibal",
            "add ester, toluene 10 mL\n  cool to -78 °C\n  add dibal 4 mL",
            "add ketone, ether\n  add base in portions",
            "add toluene 10 mL\n  add base",
            "add ketone, ether\n  add base dropwise\n  transfer flask to vial",
            "add ketone, ether, ethanol 20 mL\n  add base",
            "add diisopropylamine 2.5 g, ether\n  add base dropwise\n  add ketone",
            "in funnel\n  dissolve ketone in ether\n  in flask\n  add base\n  transfer funnel to flask",
            "add ketone, ether\n  quench with water 1 mL\n  add base",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
