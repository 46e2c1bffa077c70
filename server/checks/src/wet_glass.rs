//! Glass that was rinsed and not dried gets a reagent that water destroys.

use crate::Survey;
use crate::edit::{self, Edit};
use crate::sensitive::{self, Entry, Threat};
use crate::{Check, Finding, Severity};
use chemistry::quantity::{mass_density, molar_mass};
use chemistry::{Formula, ReagentClass, Substance, Tag};
use plan::Plan;
use plan::budget::glass_area;
use plan::vessel::{Glass, Rinse};
use uom::si::amount_of_substance::mole;
use uom::si::area::square_centimeter;
use uom::si::f64::AmountOfSubstance;

pub(crate) const CHECK: Check = Check {
    name: "wet-glass",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Wet glass

**Finds** a vessel that the plan rinses and does not dry, and then charges with a reagent that
water destroys. A warning for organolithiums, Grignard reagents, metal hydrides and amides,
boranes, alkali metals, zinc and aluminium alkyls; for milder reagents an information, once for a
plan.

Silent where no step rinses the glass; where the rinse was an ether or a hydrocarbon, or the
aprotic solvent of the reaction itself; after an oven, a flame, 5 min of vacuum, a stream of gas
or standing in air (what is then still to be said is `glassware-dryness`); in the glovebox.

**Why it matters.** A drained flask keeps a film of about 0.46 mg/cm² of an organic solvent (0.9
mg/cm² of water) and a puddle of about 0.1 mL (0.2 mL). The acetone from a wash bottle is worse
than its water: it reacts itself, one for one. In a flask of 100 mL that is up to 2.4 mmol.

**Example**

    materials
      base: n-butyllithium, 2.5 M in hexanes, 1.10 eq
    steps
      wash flask with acetone
      evacuate and refill flask with argon, 3 cycles, 1 mbar
      add thf 40 mL, ketone
      add base dropwise over 10 min, via syringe

**Write instead**

    steps
      wash flask with acetone
      drain flask
      air-dry flask for 15 min
      dry flask at 125 °C overnight
      cool flask under argon
      evacuate and refill flask with argon, 3 cycles, 1 mbar
      add thf 40 mL, ketone
      add base dropwise over 10 min, via syringe

Never put glass that is wet with a flammable solvent into an oven or a flame.

**Sources.** Film: the drainage of a vertical plate after a minute (H. Jeffreys, *Proc. Camb.
Phil. Soc.* 1930, 26, 204, from memory), computed for acetone and water; puddle and glass area are
assumptions.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let entries = plan.entries(Threat::Water);
    let mut mild_said = false;
    for vessel in 0..plan.apparatus.len() {
        let here = || {
            let mine = entries.iter().filter(|entry| entry.vessel == vessel);
            mine.filter_map(|entry| Some((entry, rinse(plan, entry)?)))
        };
        let first = here()
            .find(|(entry, _)| is_fierce(entry))
            .or_else(|| here().next());
        let Some((entry, rinse)) = first else {
            continue;
        };
        if !is_fierce(entry) && std::mem::replace(&mut mild_said, true) {
            continue;
        }
        findings.push(finding(plan, entry, rinse));
    }
}

fn rinse<'a>(plan: &'a Plan, entry: &Entry<'_>) -> Option<&'a Rinse> {
    match sensitive::glass(plan, entry)? {
        Glass::Rinsed(rinse) | Glass::Drained(rinse) => {
            (!is_harmless(plan, rinse, entry)).then_some(rinse)
        }
        _ => None,
    }
}

/// Whether the rinse is one that the reagent does not mind: an ether, a hydrocarbon, or the aprotic
/// solvent of the reaction. A rinse that the library does not know may be one.
pub(crate) fn is_harmless(plan: &Plan, rinse: &Rinse, entry: &Entry<'_>) -> bool {
    let Some(substance) = rinse.substance else {
        return true;
    };
    let inert = matches!(
        substance.class(),
        Some(ReagentClass::Ether | ReagentClass::Hydrocarbon)
    );
    let states = entry
        .at(plan)
        .and_then(|moment| moment.after.get(entry.vessel));
    let in_it = states.is_some_and(|state| {
        state
            .contents
            .iter()
            .any(|content| content.substance(&plan.materials) == Some(substance))
    });
    inert || in_it && !substance.has(Tag::Protic)
}

fn is_fierce(entry: &Entry<'_>) -> bool {
    use ReagentClass as C;
    matches!(
        entry.class,
        Some(
            C::AlkaliMetal
                | C::AluminiumHydride
                | C::AmideBase
                | C::Borane
                | C::Grignard
                | C::MetalHydride
                | C::Organoaluminium
                | C::Organolithium
                | C::Organozinc
        )
    ) || entry.hard && entry.class.is_none()
}

fn finding(plan: &Plan, entry: &Entry<'_>, rinse: &Rinse) -> Finding {
    let flask = sensitive::name(plan, entry.vessel);
    let (solvent, called) = (&rinse.solvent, entry.called(plan));
    let left = left_on_glass(plan, entry, rinse).map(|n| sensitive::amount_text(n, 2));
    let meets = match (left, entry.amount(plan)) {
        (Some(left), Some(amount)) => {
            let amount = sensitive::amount_text(amount, 3);
            format!("up to {left} of it meets {amount} of {called}")
        }
        (Some(left), None) => format!("up to {left} of it meets {called}"),
        (None, _) => format!("what is left of it meets {called}"),
    };
    let message = format!(
        "{flask} was rinsed with {solvent} and not dried: {meets}. Dry it at 125 °C or flame-dry it first, once it is drained."
    );
    let severity = if is_fierce(entry) {
        Severity::Warning
    } else {
        Severity::Information
    };
    let finding = Finding::new(&CHECK, entry.addition.at, message)
        .severity(severity)
        .related(sensitive::line_at(plan, rinse.line), "rinsed here");
    match fix(plan, entry, rinse) {
        Some(edits) => finding.fix(format!("Drain, air-dry and dry {flask}"), edits),
        None => finding,
    }
}

/// Film and puddle of the rinse on the glass (see the documentation).
fn left_on_glass(plan: &Plan, entry: &Entry<'_>, rinse: &Rinse) -> Option<AmountOfSubstance> {
    let substance = rinse.substance?;
    let area = glass_area(plan.apparatus.get(entry.vessel)?.capacity?).get::<square_centimeter>();
    let (film, puddle) = match substance.class() {
        Some(ReagentClass::Water) => (0.9e-3, 0.2),
        _ => (0.46e-3, 0.1),
    };
    let density = substance
        .density()?
        .value
        .get::<mass_density::gram_per_cubic_centimeter>();
    let molar = Formula::parse(substance.formula()?)
        .ok()?
        .molar_mass()
        .ok()?;
    let grams = film * area + puddle * density;
    Some(AmountOfSubstance::new::<mole>(
        grams / molar.value.get::<molar_mass::gram_per_mole>(),
    ))
}

fn fix(plan: &Plan, entry: &Entry<'_>, rinse: &Rinse) -> Option<Vec<Edit>> {
    let flask = &sensitive::listed(plan, entry.vessel)?.name;
    let state = &plan.moments.get(entry.moment)?.before;
    let same = |glass: &Glass| match glass {
        Glass::Rinsed(other) | Glass::Drained(other) => other.line == rinse.line,
        _ => false,
    };
    let with: Vec<&str> = plan
        .apparatus
        .iter()
        .zip(state.iter())
        .enumerate()
        .filter(|(index, (item, state))| {
            *index != entry.vessel && item.id.is_some() && same(&state.glass)
        })
        .map(|(_, (item, _))| &*item.name)
        .collect();
    let all = [&[&**flask], with.as_slice()].concat().join(", ");
    let gas = sensitive::inert_gas(plan);
    let mut steps = Vec::new();
    let drained = matches!(state.get(entry.vessel)?.glass, Glass::Drained(_));
    if !drained {
        steps.push(format!("drain {all}"));
    }
    steps.push(format!("air-dry {all} for 15 min"));
    steps.push(format!("dry {all} at 125 °C overnight"));
    steps.push(format!("cool {flask} under {gas}"));
    let line = if drained {
        drain_line(plan, entry).unwrap_or(rinse.line)
    } else {
        rinse.line
    };
    Some(vec![edit::insert_after(plan, line, &steps)?])
}

/// Where the glass was last drained.
fn drain_line(plan: &Plan, entry: &Entry<'_>) -> Option<u32> {
    let is_drained = |glass: Option<&Glass>| matches!(glass, Some(Glass::Drained(_)));
    let found = plan
        .moments
        .get(..entry.moment)?
        .iter()
        .rev()
        .find(|moment| {
            is_drained(moment.after.get(entry.vessel).map(|state| &state.glass))
                && !is_drained(moment.before.get(entry.vessel).map(|state| &state.glass))
        });
    found.map(|moment| moment.line)
}

/// GHS H224 and H225: a liquid whose vapour catches fire at room temperature.
pub(crate) fn is_flammable(substance: Substance) -> bool {
    substance
        .hazards()
        .any(|code| matches!(code, "H224" | "H225"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    const BASE: &str = "base: n-butyllithium, 2.5 M in hexanes, 1.15 eq";

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  {BASE}
  thf: tetrahydrofuran, dry, 20 mL
equipment
  flask: 100 mL two-neck flask, septum, argon inlet, bubbler
  bar: stir bar
steps
{steps}"
        )
    }

    #[test]
    fn counts_the_rinse_against_the_reagent() {
        // 0.46 mg/cm² × 129 cm² + 0.1 mL × 0.79 g/mL of acetone (58.08 g/mol): 1.02 + 1.36 mmol.
        expect(
            &CHECK,
            &plan(
                "
  wash flask, bar with acetone
  evacuate and refill with argon, 3 cycles, 1 mbar
  add thf
  add base
      ^^^^ warning: flask was rinsed with acetone and not dried: up to 2.4 mmol of it meets 5.75 mmol of base.
",
            ),
        );
    }

    #[test]
    fn drains_before_the_oven() {
        expect_fixed(
            &CHECK,
            &plan("  wash flask, bar with acetone\n  add base\n"),
            0,
            &plan(
                "
  wash flask, bar with acetone
  drain flask, bar
  air-dry flask, bar for 15 min
  dry flask, bar at 125 °C overnight
  cool flask under argon
  add base
",
            ),
        );
        expect_fixed(
            &CHECK,
            &plan("  wash flask with acetone\n  drain flask\n  add bar\n  add base\n"),
            0,
            &plan(
                "
  wash flask with acetone
  drain flask
  air-dry flask for 15 min
  dry flask at 125 °C overnight
  cool flask under argon
  add bar
  add base
",
            ),
        );
    }

    #[test]
    fn is_silent_where_the_rinse_is_gone_or_harmless() {
        for steps in [
            "",
            "wash flask with acetone\n  dry flask at 125 °C overnight\n  ",
            "wash flask with acetone\n  flame-dry flask under vacuum\n  ",
            "wash flask with acetone\n  evacuate for 10 min\n  ",
            "wash flask with acetone\n  purge with argon for 5 min\n  ",
            "wash flask with acetone\n  air-dry flask\n  ",
            "rinse flask with pentane\n  ",
            "rinse flask with thf\n  ",
            "wash flask with acetone\n  in glovebox\n  ",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}add thf\n  add base\n")));
        }
        expect(
            &CHECK,
            &plan("  wash flask with acetone\n  add base\n")
                .replace(BASE, "base: triethylamine, 1 eq"),
        );
    }

    #[test]
    fn says_less_of_milder_reagents() {
        let text = plan(
            "
  wash flask with water
  add base
      ^^^^ information: flask was rinsed with water and not dried
",
        );
        expect(
            &CHECK,
            &text.replace(BASE, "base: acetic anhydride, 1.15 eq"),
        );
    }

    #[test]
    fn cleaning_afterwards_is_no_concern() {
        expect(
            &CHECK,
            &plan(
                "  dry flask at 125 °C overnight\n  add base\n  quench with water 5 mL\n  wash flask with acetone\n",
            ),
        );
    }
}
