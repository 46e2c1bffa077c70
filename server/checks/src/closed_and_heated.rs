//! A closed vessel is heated above the boiling point of what it holds.

use crate::Survey;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::quantity::pressure;
use chemistry::{ReagentClass, State, Substance};
use plan::vessel::{Content, Moment, Opening, VesselState, celsius};
use plan::{At, Plan, convert};
use syntax::{Clause, ModifierKind, Quantity, TemperatureKind, TemperatureValue, Verb};
use uom::si::f64::{Pressure, ThermodynamicTemperature};
use uom::si::thermodynamic_temperature::kelvin;

pub(crate) const CHECK: Check = Check {
    name: "closed-and-heated",
    severity: Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Closed and heated

**Finds** a vessel that the plan has sealed and then heats above the boiling point of the liquid
in it, or under reflux. A warning; an error from about 2 bar above the air outside, and for reflux.
The pressure is estimated from boiling points, by volume share for a mixture, and counts the air
that is heated with it. It leaves out gas that the reaction makes, which comes on top. Also, as a warning, a solution of a gas in what
is not water (ammonia in methanol, hydrogen chloride in dioxane) that is warmed by 20 °C or more in a sealed vessel
which the gas would more than fill.

Silent where the plan does not say that the vessel is closed; after `open` or `vent`; for vessels
made for it (the line says pressure, microwave, autoclave, sealed tube, thick-walled, rated …: then
keep within what the maker states); for a vessel whose line has a balloon or a relief valve; for one whose line has a bubbler, inlet or condenser and
that a septum seals, which closes one neck. Whatever else seals such a vessel may have closed its outlet: a warning.
Silent too where the volumes or the boiling points are not
known.

**Why it matters.** Ordinary flasks and vials are made for no pressure at all. Over its boiling
point a liquid pushes harder than the air outside, and doubles that in about 20 °C; glass gives way
without a sign, with hot solvent behind it.

**Example**

    equipment
      flask: 50 mL round-bottom flask
    steps
      add tetrahydrofuran 20 mL
      seal flask
      heat to 100 °C

**Write instead** a condenser with an outlet, or a vessel that is rated for the pressure, at most half full
and behind a shield

    equipment
      flask: 48 mL pressure tube

The rating of the vessel, the rules of your laboratory and a trained supervisor decide.

**Sources.** No heat on a closed system that is not designed and tested for pressure, and
autoclaves and other pressure vessels no more than half full: National Research Council, *Prudent
Practices in the Laboratory*, 1995, pages 125 and 127. Vapour pressure above the boiling point:
Clausius and Clapeyron with Trouton's entropy of vaporisation, 85 J/(K mol), which is too low for
water and alcohols, so that they give more. That glass without a rating is not for pressure is
common practice.
";

/// Vapour pressure, in atmospheres, from which the check speaks: about 5 °C above the boiling point.
pub(crate) const SPEAKS: f64 = 1.15;

/// Bar above the air outside that make it an error (an assumption).
const BURSTS: f64 = 2.0;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut said = vec![None; plan.apparatus.len()];
    for moment in &plan.moments {
        let Some(clause) = sensitive::clause(plan, moment).filter(|clause| heats(clause)) else {
            continue;
        };
        let Some(state) = moment.before.get(moment.vessel) else {
            continue;
        };
        let Opening::Closed { line } = state.opening else {
            continue;
        };
        let Some(said) = said.get_mut(moment.vessel) else {
            continue;
        };
        if has_balloon(clause) || state.unclear {
            continue;
        }
        let found = match way_out(plan, moment.vessel, line) {
            WayOut::Pressure => None,
            WayOut::Open => stoppered_condenser(plan, moment, clause, state, line),
            WayOut::MayBeShut => stoppered_condenser(plan, moment, clause, state, line)
                .or_else(|| finding(plan, moment, clause, state, line, true)),
            WayOut::None => finding(plan, moment, clause, state, line, false),
        };
        // Once for a closing, and again where it comes to be worse.
        let worse = |finding: &Finding| {
            said.is_none_or(|(before, severity)| before != line || finding.severity < severity)
        };
        if let Some(finding) = found.filter(worse) {
            *said = Some((line, finding.severity));
            findings.push(finding);
        }
    }
}

fn finding(
    plan: &Plan,
    moment: &Moment,
    clause: &Clause,
    state: &VesselState,
    closed: u32,
    may_be_shut: bool,
) -> Option<Finding> {
    let flask = sensitive::name(plan, moment.vessel);
    let holds_liquid = state.contents.iter().any(|c| c.is_liquid(&plan.materials));
    let advice = if may_be_shut {
        "write that it is vented, or use a pressure-rated vessel at most half full, behind a shield."
    } else {
        "use a pressure-rated vessel at most half full, behind a shield, or a condenser with an outlet."
    };
    let (span, severity, message) = if sensitive::boils(clause) && holds_liquid {
        let message =
            format!("{flask} is sealed, and boiling in a closed vessel bursts it: {advice}");
        (clause.verb_span, Severity::Error, message)
    } else {
        let (quantity, t) = hottest(
            clause,
            &[
                TemperatureKind::At,
                TemperatureKind::To,
                TemperatureKind::Bath,
            ],
        )?;
        let pressure = vapour(plan, state, t).filter(|(_, vapour)| *vapour >= SPEAKS);
        let Some((first, vapour)) = pressure else {
            let gas = dissolved_gas(plan, moment.vessel, state, t)?;
            let message = format!(
                "{flask} is sealed, and at {:.0} °C {} comes out of its solution and raises the pressure: use a pressure-rated vessel at most half full, behind a shield.",
                celsius(t),
                gas.name()
            );
            let at = At {
                line: moment.line,
                span: quantity.span,
            };
            // A condenser would let it out.
            let finding = Finding::new(&CHECK, at, message)
                .severity(Severity::Warning)
                .related(sensitive::line_at(plan, closed), "closed here");
            return Some(finding);
        };
        // What was air or gas in it at the room's temperature is heated with it.
        let gauge =
            vapour * 1.013 + t.get::<kelvin>() / plan.room.temperature.get::<kelvin>() - 1.0;
        let severity = if gauge < BURSTS {
            Severity::Warning
        } else {
            Severity::Error
        };
        let boiling = celsius(first.boiling()?.value);
        let message = format!(
            "{flask} is sealed, and at {:.0} °C {} (bp {boiling:.0} °C) brings it to about {} bar above the air outside: {advice}",
            celsius(t),
            first.name(),
            sensitive::figures(gauge, 2),
        );
        (quantity.span, severity, message)
    };
    let at = At {
        line: moment.line,
        span,
    };
    let mut finding = Finding::new(&CHECK, at, message)
        .severity(if may_be_shut {
            Severity::Warning
        } else {
            severity
        })
        .related(sensitive::line_at(plan, closed), "closed here");
    let vent = format!("vent {flask} through bubbler");
    if may_be_shut {
        if let Some(vent) = edit::insert_before(plan, moment.line, &[vent]) {
            finding = finding.fix(format!("Vent {flask} through a bubbler"), vec![vent]);
        }
    } else if let Some(item) = sensitive::listed(plan, moment.vessel)
        && sensitive::is_flask(plan, moment.vessel)
        && let Some(line) = item.line
        && let Some(condenser) = edit::append(plan, line, ", reflux condenser")
        && let Some(vent) = edit::insert_before(plan, moment.line, &[vent])
    {
        let mut edits = vec![condenser, vent];
        edits.sort_by_key(|(range, _)| range.start);
        finding = finding.fix(
            format!("Put a condenser on {flask} and vent it through a bubbler"),
            edits,
        );
    }
    Some(finding)
}

/// Degrees above the room's temperature from which a gas is said to come out of its solution (an assumption).
const WARMER: f64 = 20.0;

/// A gas in a solvent that is not water, as 7 M ammonia in methanol: more than fills the vessel, when all else has
/// taken one equivalent of it.
fn dissolved_gas(
    plan: &Plan,
    vessel: usize,
    state: &VesselState,
    t: ThermodynamicTemperature,
) -> Option<Substance> {
    let room = plan.room.temperature;
    if t.get::<kelvin>() < room.get::<kelvin>() + WARMER {
        return None;
    }
    let dissolved = |content: &Content| {
        let gas = content.substance(&plan.materials)?;
        let in_solvent = sensitive::material(plan, content).is_some_and(|m| m.diluted);
        (gas.state() == Some(State::Gas) && in_solvent && !content.is_aqueous(&plan.materials))
            .then_some(gas)
    };
    let (content, gas) = state
        .contents
        .iter()
        .find_map(|content| Some((content, dissolved(content)?)))?;
    let mut left = content.amount?;
    for other in &state.contents {
        if dissolved(other).is_none() && !sensitive::is_solvent(plan, other) {
            left -= other.amount?;
        }
    }
    let volume = chemistry::molar_volume(room, Pressure::new::<pressure::atmosphere>(1.0)) * left;
    (volume > plan.apparatus.get(vessel)?.capacity?).then_some(gas)
}

/// Boiling in a sealed vessel whose line has a condenser, and nothing that leads out of it.
fn stoppered_condenser(
    plan: &Plan,
    moment: &Moment,
    clause: &Clause,
    state: &VesselState,
    closed: u32,
) -> Option<Finding> {
    let item = sensitive::listed(plan, moment.vessel)?;
    let text = &item.lower;
    let condenser = text.contains("condenser");
    let way_out = OUTLETS.iter().any(|word| text.contains(word)) || is_rated(text);
    let holds_liquid = state.contents.iter().any(|c| c.is_liquid(&plan.materials));
    if !condenser || way_out || !holds_liquid || !sensitive::boils(clause) {
        return None;
    }
    let flask = &item.name;
    let message = format!(
        "{flask} is sealed before it boils, and its line has no outlet above the condenser: leave the top open to a bubbler or a drying tube."
    );
    let at = At {
        line: moment.line,
        span: clause.verb_span,
    };
    let mut finding = Finding::new(&CHECK, at, message)
        .severity(Severity::Warning)
        .related(sensitive::line_at(plan, closed), "closed here");
    let vent = format!("vent {flask} through bubbler");
    if let Some(edit) = edit::insert_before(plan, moment.line, &[vent]) {
        finding = finding.fix(format!("Vent {flask} through a bubbler"), vec![edit]);
    }
    Some(finding)
}

/// The vapour pressure of the liquids at a temperature, in atmospheres, and the one that gives most of it.
/// None where volumes are not known. Liquids of unknown boiling point are left out, so that it is rather
/// too low.
pub(crate) fn vapour(
    plan: &Plan,
    state: &VesselState,
    t: ThermodynamicTemperature,
) -> Option<(Substance, f64)> {
    let materials = &plan.materials;
    let liquids: Vec<&Content> = state
        .contents
        .iter()
        .filter(|content| content.is_liquid(materials))
        .collect();
    let whole = match liquids.as_slice() {
        [_] => None,
        _ => Some(state.volume(materials)?),
    };
    let mut sum = 0.0;
    let mut most: Option<(Substance, f64)> = None;
    for content in liquids {
        let share = match (whole, content.volume) {
            (None, _) => 1.0,
            (Some(whole), Some(volume)) if whole.value > 0.0 => (volume / whole).value,
            _ => return None,
        };
        for (substance, part) in volatile_parts(plan, content) {
            let Some(boiling) = substance.boiling() else {
                continue;
            };
            let pressure = share * part * over_boiling_point(boiling.value, t);
            sum += pressure;
            if most.is_none_or(|(_, largest)| pressure > largest) {
                most = Some((substance, pressure));
            }
        }
    }
    most.map(|(substance, _)| (substance, sum))
}

/// What of a liquid evaporates, with its share by volume.
fn volatile_parts(plan: &Plan, content: &Content) -> Vec<(Substance, f64)> {
    let parts: Vec<_> = content
        .parts(&plan.materials)
        .filter_map(|(substance, share)| Some((substance?, share)))
        .collect();
    if !parts.is_empty() {
        return parts;
    }
    let diluted = sensitive::material(plan, content).is_some_and(|material| material.diluted);
    if content.aqueous {
        let water = chemistry::find_name("water").one();
        water.into_iter().map(|water| (water, 1.0)).collect()
    } else if diluted {
        Vec::new()
    } else {
        content
            .substance(&plan.materials)
            .filter(|substance| substance.class() != Some(ReagentClass::Adsorbent))
            .map(|substance| (substance, 1.0))
            .into_iter()
            .collect()
    }
}

/// Vapour pressure in atmospheres: ln p = ΔS/R (1 − T_b/T), with Trouton's 85 J/(K mol).
fn over_boiling_point(boiling: ThermodynamicTemperature, t: ThermodynamicTemperature) -> f64 {
    const TROUTON: f64 = 85.0;
    let ratio = boiling.get::<kelvin>() / t.get::<kelvin>();
    (TROUTON / chemistry::GAS_CONSTANT * (1.0 - ratio)).exp()
}

/// The highest temperature of these kinds that the clause sets.
pub(crate) fn hottest<'a>(
    clause: &'a Clause,
    kinds: &[TemperatureKind],
) -> Option<(&'a Quantity, ThermodynamicTemperature)> {
    clause
        .modifiers
        .iter()
        .filter_map(|modifier| match &modifier.kind {
            ModifierKind::Temperature(kind, TemperatureValue::Quantity(quantity))
                if kinds.contains(kind) =>
            {
                Some((quantity, convert::temperature(quantity)?))
            }
            _ => None,
        })
        .max_by(|a, b| a.1.value.total_cmp(&b.1.value))
}

pub(crate) fn heats(clause: &Clause) -> bool {
    matches!(
        clause.verb,
        Verb::Heat | Verb::Warm | Verb::Reflux | Verb::Stir | Verb::Hold | Verb::Wait
    )
}

/// Whether gas can get out of a vessel that a step has sealed.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum WayOut {
    /// Made for pressure, or with something that takes it up.
    Pressure,
    /// A septum has closed one neck, and another has an outlet.
    Open,
    /// Its line has an outlet or a condenser, which the seal may have closed.
    MayBeShut,
    /// None.
    None,
}

/// The same for a vessel that the step of this line has closed.
pub(crate) fn way_out(plan: &Plan, vessel: usize, closed: u32) -> WayOut {
    let Some(item) = plan.apparatus.get(vessel) else {
        return WayOut::Pressure;
    };
    let has = |words: &[&str]| words.iter().any(|word| item.lower.contains(word));
    let at = sensitive::line_at(plan, closed);
    let step = plan.slice(at.line, at.span).unwrap_or_default();
    if is_rated(&item.lower) || has(&["balloon", "relief"]) {
        WayOut::Pressure
    } else if !has(&OUTLETS) && !has(&["condenser"]) {
        WayOut::None
    } else if step.to_lowercase().contains("sept") {
        WayOut::Open
    } else {
        WayOut::MayBeShut
    }
}

/// Its line has what lets gas out; a condenser alone does not.
pub(crate) fn has_outlet(plan: &Plan, vessel: usize) -> bool {
    let item = plan.apparatus.get(vessel);
    item.is_some_and(|item| OUTLETS.iter().any(|word| item.lower.contains(word)))
}

/// A vessel that is made for pressure: not `pressure-equalising funnel`, `sealed with a septum`, `calibrated`.
fn is_rated(line: &str) -> bool {
    let made_for = |(at, word): (usize, &str)| {
        let (before, after) = (&line[..at], &line[at + word.len()..]);
        let after = after.trim_start_matches(['-', ' ']);
        let other = match word {
            "pressure" => after.starts_with("equali"),
            "sealed" => after.starts_with("with") || after.starts_with("by"),
            "rated" | "bomb" => before.ends_with(char::is_alphabetic),
            _ => false,
        };
        !other
    };
    let mut found = RATED.iter().flat_map(|word| line.match_indices(word));
    found.any(made_for)
}

/// Words for a vessel that is made for pressure.
const RATED: [&str; 11] = [
    "pressure",
    "microwave",
    "autoclave",
    "reactor",
    "bomb",
    "sealed",
    "sealable",
    "thick-walled",
    "heavy-walled",
    "rated",
    "young",
];

/// Words for what lets gas out of a vessel with one neck closed.
const OUTLETS: [&str; 6] = [
    "bubbler",
    "inlet",
    "outlet",
    "balloon",
    "relief",
    "drying tube",
];

fn has_balloon(clause: &Clause) -> bool {
    clause
        .modifiers
        .iter()
        .any(|modifier| match &modifier.kind {
            ModifierKind::From(things)
            | ModifierKind::With(things)
            | ModifierKind::Under(things) => things.iter().any(|thing| {
                ["balloon", "condenser", "bubbler"]
                    .iter()
                    .any(|word| thing.name.text.contains(word))
            }),
            _ => false,
        })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};
    use uom::si::thermodynamic_temperature::degree_celsius;

    fn plan(flask: &str, steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!("\nplan Test\nequipment\n  flask: {flask}\nsteps\n{steps}")
    }

    #[test]
    fn finds_a_sealed_flask_above_the_boiling_point() {
        // 10.22 (1 − 339.1/373.2) = 0.93: 2.5 atm, and 0.27 bar from the gas that is heated.
        expect(
            &CHECK,
            &plan(
                "50 mL flask",
                "
  add tetrahydrofuran 20 mL
  seal flask
  heat to 100 °C, for 2 h
          ^^^^^^ error: flask is sealed, and at 100 °C tetrahydrofuran (bp 66 °C) brings it to about 2.8 bar
  stir at 100 °C overnight
",
            ),
        );
    }

    #[test]
    fn vapour_pressures_are_those_of_the_handbooks() {
        // Temperatures of 5 atm: toluene 178.0 °C, diethyl ether 90.0 °C (Stull, Ind. Eng. Chem. 1947, 39, 517,
        // from memory, so held to a tenth).
        for (boiling, t, atmospheres) in [(110.6, 178.0, 5.0), (34.5, 90.0, 5.0)] {
            let of = ThermodynamicTemperature::new::<degree_celsius>;
            let estimate = over_boiling_point(of(boiling), of(t));
            assert!((estimate / atmospheres - 1.0).abs() < 0.1, "{estimate}");
        }
    }

    #[test]
    fn says_again_what_becomes_worse() {
        expect(
            &CHECK,
            &plan(
                "50 mL flask",
                "
  add tetrahydrofuran 20 mL
  seal flask
  heat to 75 °C
          ^^^^^ warning: flask is sealed, and at 75 °C
  stir at 78 °C
  heat to 120 °C
          ^^^^^^ error: flask is sealed, and at 120 °C
",
            ),
        );
    }

    #[test]
    fn a_word_alone_makes_no_vessel_for_pressure() {
        let heated = |found: &str| {
            format!("  add tetrahydrofuran 20 mL\n  seal flask\n  heat to 100 °C\n{found}")
        };
        let error = "          ^^^^^^ error: flask is sealed, and at 100 °C tetrahydrofuran\n";
        for flask in [
            "100 mL flask, pressure-equalising dropping funnel",
            "100 mL flask, pressure equalizing funnel",
            "100 mL flask, sealed with a septum",
            "100 mL calibrated flask",
        ] {
            expect(&CHECK, &plan(flask, &heated(error)));
        }
        for flask in [
            "100 mL flask, rated to 10 bar",
            "35 mL sealed tube",
            "35 mL tube, pressure-tight",
        ] {
            expect(&CHECK, &plan(flask, &heated("")));
        }
    }

    #[test]
    fn a_dissolved_gas_comes_out() {
        let text = |steps: &str| {
            plan("50 mL flask", steps).replace(
                "equipment",
                "materials
  ester: ethyl benzoate, 5.0 mmol
  nh3: ammonia, 7.0 M in methanol, 20 mL
equipment",
            )
        };
        // 135 mmol × 24.1 mL/mmol at 21 °C are 3.3 L.
        expect(
            &CHECK,
            &text(
                "  add ester, nh3\n  seal flask\n  stir overnight at 50 °C\n                    ^^^^^ warning: flask is sealed, and at 50 °C ammonia comes out of its solution\n",
            ),
        );
        for steps in [
            "  add ester, nh3\n  seal flask\n  stir overnight at 35 °C\n",
            "  add ester, nh3 0.5 mL, ethanol 20 mL\n  seal flask\n  stir overnight at 50 °C\n",
            "  add ester, nh3\n  stir overnight at 50 °C\n",
        ] {
            expect(&CHECK, &text(steps));
        }
    }

    #[test]
    fn warns_below_two_bar_and_of_the_bath() {
        expect(
            &CHECK,
            &plan(
                "20 mL tube, septum",
                "
  add tetrahydrofuran 5 mL
  seal flask
  stir at 60 °C, bath 80 °C, overnight
                      ^^^^^ warning: flask is sealed, and at 80 °C tetrahydrofuran (bp 66 °C)
",
            ),
        );
    }

    #[test]
    fn counts_a_mixture_by_its_parts() {
        let text = |steps: &str| {
            plan("50 mL flask", steps).replace(
                "equipment",
                "materials\n  solvent: 1,4-dioxane/diethyl ether 1:1, 20 mL\nequipment",
            )
        };
        expect(
            &CHECK,
            &text(
                "  add solvent\n  seal flask\n  heat to 90 °C\n          ^^^^^ error: flask is sealed, and at 90 °C diethyl ether\n",
            ),
        );
        expect(
            &CHECK,
            &text("  add solvent\n  seal flask\n  heat to 40 °C\n"),
        );
    }

    #[test]
    fn reflux_needs_a_way_out() {
        let before = "
  add toluene 20 mL
  seal flask
  reflux for 2 h
  ^^^^^^ error: flask is sealed, and boiling in a closed vessel bursts it
";
        expect(&CHECK, &plan("50 mL flask", before));
        expect_fixed(
            &CHECK,
            &plan("50 mL flask", before),
            0,
            &plan(
                "50 mL flask, reflux condenser",
                "  add toluene 20 mL\n  seal flask\n  vent flask through bubbler\n  reflux for 2 h\n",
            ),
        );
    }

    #[test]
    fn a_condenser_needs_an_open_top() {
        let before = "
  add toluene 20 mL
  seal flask
  reflux for 2 h
  ^^^^^^ warning: flask is sealed before it boils, and its line has no outlet above the condenser
";
        let flask = "50 mL flask, reflux condenser, thermometer";
        expect(&CHECK, &plan(flask, before));
        expect_fixed(
            &CHECK,
            &plan(flask, before),
            0,
            &plan(
                flask,
                "  add toluene 20 mL\n  seal flask\n  vent flask through bubbler\n  reflux for 2 h\n",
            ),
        );
    }

    #[test]
    fn a_seal_may_shut_the_outlet_that_is_listed() {
        let before = "
  add toluene 20 mL
  seal flask
  heat to 150 °C
          ^^^^^^ warning: flask is sealed, and at 150 °C toluene
";
        for flask in ["50 mL flask, bubbler", "50 mL flask, reflux condenser"] {
            expect(&CHECK, &plan(flask, before));
            expect_fixed(
                &CHECK,
                &plan(flask, before),
                0,
                &plan(
                    flask,
                    "  add toluene 20 mL\n  seal flask\n  vent flask through bubbler\n  heat to 150 °C\n",
                ),
            );
        }
    }

    #[test]
    fn drops_hide_nothing() {
        let text = plan(
            "100 mL flask",
            "  add DMF 2 drops, tetrahydrofuran 50 mL\n  seal flask\n  heat to 100 °C\n          ^^^^^^ error: flask is sealed, and at 100 °C tetrahydrofuran\n",
        );
        expect(&CHECK, &text);
    }

    #[test]
    fn is_silent_where_nothing_can_burst() {
        for (flask, steps) in [
            ("50 mL flask", "add toluene 20 mL\n  heat to 150 °C"),
            (
                "50 mL flask",
                "add toluene 20 mL\n  seal flask\n  heat to 100 °C",
            ),
            (
                "50 mL flask",
                "add toluene 20 mL\n  seal flask\n  open flask\n  reflux for 2 h",
            ),
            (
                "50 mL flask",
                "add toluene 20 mL\n  seal flask\n  vent flask\n  reflux for 2 h",
            ),
            (
                "50 mL flask, reflux condenser, bubbler",
                "add toluene 20 mL\n  seal flask with septum\n  reflux for 2 h",
            ),
            (
                "50 mL flask, balloon",
                "add toluene 20 mL\n  seal flask\n  heat to 130 °C",
            ),
            (
                "48 mL pressure tube",
                "add toluene 20 mL\n  seal flask\n  heat to 150 °C",
            ),
            (
                "10 mL microwave vial",
                "add ethanol 2 mL\n  seal flask\n  heat to 150 °C",
            ),
            ("50 mL flask", "seal flask\n  heat to 150 °C"),
            (
                "50 mL flask",
                "add toluene\n  add tetrahydrofuran 5 mL\n  seal flask\n  heat to 80 °C",
            ),
            (
                "50 mL flask",
                "add methanol 5 mL\n  seal flask\n  heat to 90 °C, under hydrogen from balloon",
            ),
        ] {
            expect(&CHECK, &plan(flask, &format!("  {steps}\n")));
        }
    }
}
