//! An organolithium waits alone in an ether that it eats.

use crate::Survey;
use crate::alive;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::{ReagentClass, Substance};
use plan::vessel::{Content, Moment, VesselState, celsius};
use plan::{At, Plan, convert};
use syntax::{Clause, ModifierKind, TimeKind, Verb};
use uom::si::time::minute;

pub(crate) const CHECK: Check = Check {
    name: "organolithium-too-warm",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Organolithium alone in a warm ether

**Finds** an organolithium in an ether with nothing there to react with, where something comes later:

- tert-butyllithium held in tetrahydrofuran at -20 °C, in diethyl ether at 0 °C or in
  1,2-dimethoxyethane at -70 °C and above for so long that a fifth of it is gone, or put in 20 °C warmer
  than that; n-butyllithium held so in tetrahydrofuran at 20 °C and above;
- sec-butyllithium in one of these ethers above 0 °C, and n-butyllithium in tetrahydrofuran or
  dimethoxyethane above 30 °C.

Silent as soon as anything but ethers and hydrocarbons is in the vessel (the usual order: the
substrate or the amine first); where nothing comes to react with it, as it is then being destroyed;
in hydrocarbons; where the ether is less than a fifth of the liquid, or volumes are not known.

**Why it matters.** Organolithiums take a proton from ethers and break them open. What is lost is
missing in the reaction, and the ethylene and enolate that tetrahydrofuran gives go along with it.

**Example**

    materials
      base: tert-butyllithium, 1.7 M in pentane, 1.10 eq
    steps
      add thf 40 mL
      cool to 0 °C
      add base dropwise over 10 min
      stir for 30 min
      add ketone

**Write instead**

    steps
      add thf 40 mL, ketone
      cool to -78 °C
      add base dropwise over 10 min

**Sources.** Half-lives of tert-butyllithium, 40 min in tetrahydrofuran at -20 °C, 60 min in diethyl ether at
0 °C, about 11 min in dimethoxyethane at -70 °C; minutes for sec-butyllithium in diethyl ether at room
temperature: encyclopaedia articles on the two. 107 min for n-butyllithium in tetrahydrofuran at 20 °C: P.
Stanetty, M. D. Mihovilovic, *J. Org. Chem.* 1997, 62, 1514, from memory. Warmer is faster, so the loss is
rather more than is said. The temperatures for n-butyllithium and from which the addition alone is reported
are common practice.
";

/// What of an organolithium is lost in an ether.
struct Loss {
    /// Degrees Celsius from which a hold loses it.
    from: f64,
    /// Half-life there, in minutes; none where only practice is known.
    half_life: Option<f64>,
    /// Degrees Celsius from which the addition alone is too warm.
    entry: f64,
}

/// The share of the reagent from whose loss the check speaks (an assumption).
const SHARE: f64 = 0.2;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    if !plan.has_class(|class| class == ReagentClass::Organolithium) {
        return;
    }
    let mut said = vec![false; plan.apparatus.len()];
    for (index, moment) in plan.moments.iter().enumerate() {
        let Some(said) = said.get_mut(moment.vessel).filter(|said| !**said) else {
            continue;
        };
        if let Some(clause) = sensitive::clause(plan, moment)
            && let Some(finding) = look(plan, index, moment, clause)
        {
            *said = true;
            findings.push(finding);
        }
    }
}

fn look(plan: &Plan, index: usize, moment: &Moment, clause: &Clause) -> Option<Finding> {
    let state = moment.after.get(moment.vessel)?;
    let (reagent, ether, loss) = alone(plan, state)?;
    let t = celsius(state.temperature);
    let enters = !moment.additions.is_empty();
    let warms = matches!(clause.verb, Verb::Heat | Verb::Warm);
    let lost = loss
        .half_life
        .zip(held(clause))
        .map(|(half, minutes)| 1.0 - 0.5_f64.powf(minutes / half))
        .filter(|lost| t >= loss.from && *lost > SHARE);
    if lost.is_none() && !(t >= loss.entry && (enters || warms || loss.half_life.is_none()))
        || !(alive::partner_comes(plan, index, moment.vessel)
            || goes_to_partner(plan, index, moment.vessel))
    {
        return None;
    }
    let name = reagent.name(&plan.materials);
    let minus = |value: f64| format!("{value:.0} °C");
    let gone = match (lost, loss.half_life) {
        (Some(lost), _) => format!(
            "at least {} of it is gone after this step",
            sensitive::percent_text(lost)
        ),
        (None, Some(half)) => format!(
            "half of it is gone in about {half:.0} min at {} already",
            minus(loss.from)
        ),
        (None, None) => format!("it eats {ether}"),
    };
    let message = format!(
        "{name} is alone in {ether} at {}: {gone}. Cool to -78 °C before it goes in, or add what it is to react with first.",
        minus(t)
    );
    let span = moment
        .additions
        .first()
        .map_or(clause.verb_span, |addition| addition.at.span);
    let at = At {
        line: moment.line,
        span,
    };
    let mut finding = Finding::new(&CHECK, at, message);
    if reagent.line != moment.line {
        finding = finding.related(
            sensitive::line_at(plan, reagent.line),
            format!("{name} came in here"),
        );
    }
    let step = match sensitive::listed(plan, moment.vessel) {
        Some(item) => format!("cool {} to -78 °C", item.name),
        None => "cool to -78 °C".to_owned(),
    };
    if enters && let Some(edit) = edit::insert_before(plan, moment.line, &[step]) {
        finding = finding.fix("Cool to -78 °C first", vec![edit]);
    }
    Some(finding)
}

/// Whether the vessel is next poured into one where something waits for the reagent.
fn goes_to_partner(plan: &Plan, index: usize, vessel: usize) -> bool {
    let mut later = plan.moments.iter().skip(index + 1);
    let poured = later.find(|moment| {
        let mut additions = moment.additions.iter();
        additions.any(|addition| addition.from == Some(vessel))
    });
    poured.is_some_and(|moment| {
        let receiver = moment.before.get(moment.vessel);
        receiver.is_some_and(|state| {
            state.quenched.is_none() && alive::has_partner(plan, &state.contents)
        })
    })
}

/// An organolithium with an ether that it does not last in, and nothing else but ethers and hydrocarbons.
fn alone<'a>(plan: &'a Plan, state: &'a VesselState) -> Option<(&'a Content, &'a str, Loss)> {
    use ReagentClass as C;
    if state.unclear || state.quenched.is_some() {
        return None;
    }
    let class = |content: &Content| alive::class(plan, content);
    let quiet = |content: &&Content| {
        matches!(
            class(content),
            Some(C::Organolithium | C::Ether | C::Hydrocarbon)
        )
    };
    if !state.contents.iter().all(|content| quiet(&content)) {
        return None;
    }
    let reagent = state
        .contents
        .iter()
        .find(|content| class(content) == Some(C::Organolithium))?;
    let substance = reagent.substance(&plan.materials)?;
    state.contents.iter().find_map(|ether| {
        let share = alive::volume_share(plan, state, ether)?;
        let loss = loss(substance, ether.substance(&plan.materials)?)?;
        (share >= 0.2).then_some((reagent, ether.name(&plan.materials), loss))
    })
}

fn loss(reagent: Substance, ether: Substance) -> Option<Loss> {
    let known = |from, half_life| {
        Some(Loss {
            from,
            half_life: Some(half_life),
            entry: from + 20.0,
        })
    };
    let practice = |entry| {
        Some(Loss {
            from: entry,
            half_life: None,
            entry,
        })
    };
    match (reagent.name(), ether.name()) {
        ("tert-butyllithium", "tetrahydrofuran") => known(-20.0, 40.0),
        ("tert-butyllithium", "diethyl ether") => known(0.0, 60.0),
        ("tert-butyllithium", "1,2-dimethoxyethane") => known(-70.0, 11.0),
        ("sec-butyllithium", "tetrahydrofuran" | "diethyl ether" | "1,2-dimethoxyethane") => {
            practice(1.0)
        }
        ("n-butyllithium", "tetrahydrofuran") => Some(Loss {
            entry: 30.0,
            ..known(20.0, 107.0)?
        }),
        ("n-butyllithium", "1,2-dimethoxyethane") => practice(30.0),
        _ => None,
    }
}

/// How long a step holds the vessel, in minutes.
fn held(clause: &Clause) -> Option<f64> {
    let waits = matches!(
        clause.verb,
        Verb::Stir | Verb::Hold | Verb::Wait | Verb::Add | Verb::Warm
    );
    clause
        .modifiers
        .iter()
        .filter(|_| waits)
        .find_map(|modifier| match &modifier.kind {
            ModifierKind::Time(TimeKind::Overnight, _) => Some(16.0 * 60.0),
            ModifierKind::Time(TimeKind::For, Some(quantity)) => {
                Some(convert::time(quantity, 0)?.value.get::<minute>())
            }
            _ => None,
        })
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
scale 5.00 mmol ketone
materials
  ketone: cyclohexanone, 1.00 eq
  amine: diisopropylamine, 1.15 eq
  tbuli: tert-butyllithium, 1.7 M in pentane, 1.10 eq
  sbuli: sec-butyllithium, 1.4 M in cyclohexane, 1.10 eq
  nbuli: n-butyllithium, 2.5 M in hexanes, 1.10 eq
  thf: tetrahydrofuran, 60 mL
  ether: diethyl ether, 60 mL
  pentane: pentane, 60 mL
equipment
  flask: 100 mL flask
steps
{steps}"
        )
    }

    #[test]
    fn finds_an_addition_to_a_warm_ether() {
        let before = "
  add thf 20 mL
  cool to 0 °C
  add tbuli via syringe
      ^^^^^ warning: tbuli is alone in thf at 0 °C: half of it is gone in about 40 min at -20 °C already
  add ketone dropwise over 10 min
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "
  add thf 20 mL
  cool to 0 °C
  cool flask to -78 °C
  add tbuli via syringe
  add ketone dropwise over 10 min
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "  add thf 20 mL\n  add nbuli\n  stir for 5 min\n  warm to 40 °C\n  ^^^^ warning: nbuli is alone in thf at 40 °C: half of it is gone in about 107 min at 20 °C already\n  add ketone\n",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "  add ether 20 mL\n  add sbuli\n      ^^^^^ warning: sbuli is alone in ether at 21 °C: it eats ether\n  add ketone\n",
            ),
        );
    }

    #[test]
    fn counts_what_a_hold_loses() {
        // 1 - 2^(-30/40) is 41 %.
        expect(
            &CHECK,
            &plan(
                "
  add thf 20 mL
  cool to -20 °C
  add tbuli
  stir for 30 min
  ^^^^ warning: tbuli is alone in thf at -20 °C: at least 40 % of it is gone after this step
  add ketone
",
            ),
        );
    }

    #[test]
    fn a_flask_that_is_poured_onto_the_ketone_counts_and_one_that_is_destroyed_does_not() {
        let text = plan(
            "
  in vial
  add ether 20 mL, tbuli
      ^^^^^ warning: tbuli is alone in ether at 21 °C: half of it is gone
  in flask
  add ketone
  transfer vial to flask dropwise over 10 min
",
        );
        let text = text.replace("steps\n", "  vial: 40 mL vial\nsteps\n");
        expect(&CHECK, &text);
        let destroyed = "  in vial\n  add ether 20 mL, tbuli\n  in flask\n  add water 20 mL\n  transfer vial to flask dropwise\n";
        expect(
            &CHECK,
            &plan(destroyed).replace("steps\n", "  vial: 40 mL vial\nsteps\n"),
        );
    }

    #[test]
    fn butyllithium_does_not_last_the_night_in_tetrahydrofuran() {
        // 1 - 2^(-60/107) is 32 %; of 30 min it is 18 %.
        let held = |time: &str| format!("  add thf 20 mL\n  add nbuli\n  stir for {time}\n");
        let found = "  ^^^^ warning: nbuli is alone in thf at 21 °C: at least 30 % of it is gone\n";
        expect(
            &CHECK,
            &plan(&format!("{}{found}  add ketone\n", held("1 h"))),
        );
        expect(&CHECK, &plan(&format!("{}  add ketone\n", held("30 min"))));
    }

    #[test]
    fn is_silent_cold_or_in_company() {
        for steps in [
            "add thf 20 mL\n  cool to -78 °C\n  add tbuli\n  stir for 30 min\n  add ketone",
            "add thf 20 mL\n  cool to -20 °C\n  add tbuli\n  stir for 10 min\n  add ketone",
            "add thf 20 mL, ketone\n  add tbuli\n  stir for 30 min",
            "add thf 20 mL, amine\n  cool to 0 °C\n  add nbuli\n  warm to 35 °C\n  add ketone",
            "add pentane 20 mL\n  add tbuli\n  stir overnight\n  add ketone",
            "add thf 20 mL\n  add nbuli\n  stir for 30 min\n  add ketone",
            "add thf 20 mL\n  add tbuli\n  stir overnight",
            "add pentane 50 mL, thf 2 mL\n  add tbuli\n  stir for 1 h\n  add ketone",
            "add thf 20 mL\n  quench with water 5 mL\n  add tbuli\n  add ketone",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
