//! A peroxide is still in a mixture that is concentrated or distilled.

use crate::Survey;
use crate::acted_on::substance_of;
use crate::alive;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::{ReagentClass, Substance};
use plan::vessel::{Content, Moment};
use plan::{At, Plan, takes};
use syntax::{Clause, Referent, Thing, Verb};
use uom::si::amount_of_substance::millimole;
use uom::si::f64::AmountOfSubstance;

pub(crate) const CHECK: Check = Check {
    name: "oxidant-before-concentrate",
    severity: Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Peroxide before the evaporation

**Finds** a mixture that is concentrated or distilled while more than 1 mmol of a peroxide is left
in it: hydrogen peroxide, tert-butyl hydroperoxide, m-chloroperbenzoic acid or another of that
class. What is left is what went in less one equivalent for everything else there that could have
used it up (three for a borane). A warning; an error from 10 mmol, and for a distillation. Of
hydrogen peroxide an ether or an ester that extracts it takes a part along: a warning, until water
or a solution washes it.

Silent after a reducing agent (thiosulfate, sulfite, dithionite, ascorbic acid, dimethyl sulfide, a phosphine or
phosphite, iron(II) sulfate, manganese dioxide) anywhere in between, or in a vessel that the mixture is poured into; after
a test for peroxides that the plan writes as `check` or `expect`; for hydrogen peroxide and peroxymonosulfate after an
aqueous wash or an extraction with anything else, and for the peracids after one with a carbonate or hydroxide; for
initiators (20 mol% and
less); where amounts are not known.

**Why it matters.** Peroxides gather in the residue as the solvent goes, and go off from heat, a
knock or a trace of metal.

**Example**

    materials
      alkene: cyclohexene, 1.00 eq
      mcpba:  m-chloroperbenzoic acid, 77 wt%, 1.50 eq
      dcm:    dichloromethane, 80 mL
    steps
      add alkene, dcm
      add mcpba in 5 portions over 30 min
      stir overnight
      concentrate at 40 °C, 100 mbar

**Write instead**

    steps
      add alkene, dcm
      add mcpba in 5 portions over 30 min
      stir overnight
      wash organics with 10 wt% sodium sulfite 20 mL
      check a peroxide test strip reads negative
      concentrate at 40 °C, 100 mbar

Test again before the last of the solvent goes, and work behind a shield. The safety data sheet, the
rules of your laboratory and a trained supervisor decide.

**Sources.** Common practice. The 1 mmol and 10 mmol are assumptions. Sulfite takes one active
oxygen; a solution of 10 wt% holds about 0.86 mol/L of it (126.04 g/mol, density 1.09 g/mL from
memory).
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for (index, moment) in plan.moments.iter().enumerate() {
        for addition in &moment.additions {
            let content = &addition.content;
            if addition.from.is_none()
                && let Some(left) = left(plan, index, moment, content)
                && let Some(finding) = worked_up(plan, index, content, left)
            {
                findings.push(finding);
                return;
            }
        }
    }
}

/// What cannot have been used up, if that is more than 1 mmol.
fn left(
    plan: &Plan,
    index: usize,
    moment: &Moment,
    content: &Content,
) -> Option<AmountOfSubstance> {
    if alive::class(plan, content) != Some(ReagentClass::Peroxide)
        || sensitive::is_catalytic(plan, content)
    {
        return None;
    }
    // The vessel as it is when the reaction is over.
    let last = plan
        .moments
        .iter()
        .skip(index)
        .take_while(|later| {
            std::ptr::eq(*later, moment)
                || sensitive::clause(plan, later).is_some_and(|c| !alive::ends(c.verb))
        })
        .filter(|later| later.vessel == moment.vessel)
        .last()?;
    let state = last
        .after
        .get(moment.vessel)
        .filter(|state| !state.unclear)?;
    let mut left = content.amount?;
    for other in &state.contents {
        let kind = alive::class(plan, other);
        let own = kind == Some(ReagentClass::Peroxide)
            && other.name(&plan.materials) == content.name(&plan.materials);
        let idle = sensitive::is_solvent(plan, other) || alive::is_aid(plan, other);
        if own || idle || kind == Some(ReagentClass::Base) {
            continue;
        }
        let each = if kind == Some(ReagentClass::Borane) {
            3.0
        } else {
            1.0
        };
        left -= other.amount? * each;
    }
    (left.get::<millimole>() > 1.0).then_some(left)
}

/// The first evaporation after it, with nothing between that takes the peroxide away.
fn worked_up(
    plan: &Plan,
    index: usize,
    content: &Content,
    left: AmountOfSubstance,
) -> Option<Finding> {
    let substance = content.substance(&plan.materials)?;
    let (mut dried, mut extracted, mut in_water) = (None, false, false);
    for moment in plan.moments.iter().skip(index + 1) {
        let clause = sensitive::clause(plan, moment)?;
        extracted |= takes_it_along(plan, clause);
        let parts = is_hydrogen_peroxide(substance)
            && matches!(clause.verb, Verb::Extract | Verb::Separate)
            && !reduces(plan, clause);
        // Once parted it is in the water, out of which an ether may take it yet.
        in_water = !extracted && (in_water || parts);
        if !parts && takes_it_away(plan, clause, substance) {
            return None;
        }
        let state = moment.before.get(moment.vessel)?;
        let name = content.name(&plan.materials);
        if meets_reducing(plan, moment, name) {
            return None;
        }
        let holds = state.unclear
            || state
                .contents
                .iter()
                .any(|held| held.name(&plan.materials) == name);
        let evaporates = matches!(
            clause.verb,
            Verb::Concentrate | Verb::Coevaporate | Verb::Distil
        );
        if evaporates && in_water {
            return None;
        }
        if evaporates && holds {
            let wash_before = dried.unwrap_or(moment.line);
            let partly = extracted && is_hydrogen_peroxide(substance);
            let found = finding(plan, moment, clause, content, left, partly, wash_before);
            return Some(found);
        }
        let is_organics = |thing: &Thing| matches!(thing.referent, Referent::Standing(..));
        if clause.verb == Verb::Dry && clause.objects.iter().any(is_organics) {
            dried.get_or_insert(moment.line);
        }
    }
    None
}

/// It is poured onto a reducing agent that waits in another vessel.
fn meets_reducing(plan: &Plan, moment: &Moment, name: &str) -> bool {
    let poured = moment
        .additions
        .iter()
        .any(|addition| addition.from.is_some() && addition.content.name(&plan.materials) == name);
    let mut waiting = moment.before.get(moment.vessel).into_iter();
    poured
        && waiting.any(|state| {
            let mut held = state.contents.iter();
            held.any(|held| held.substance(&plan.materials).is_some_and(is_reducing))
        })
}

fn finding(
    plan: &Plan,
    moment: &Moment,
    clause: &Clause,
    content: &Content,
    left: AmountOfSubstance,
    partly: bool,
    wash_before: u32,
) -> Finding {
    let name = content.name(&plan.materials);
    let much = left.get::<millimole>() >= 10.0 || clause.verb == Verb::Distil;
    let severity = if much && !partly {
        Severity::Error
    } else {
        Severity::Warning
    };
    // Half as much again as is needed, 0.86 mol/L.
    let volume = sensitive::plain((1.5 * left.get::<millimole>() / 0.86).max(5.0), 2);
    let amount = sensitive::amount_text(left, 2);
    let message = format!(
        "{} {amount} of {name} may still be there: destroy it with sulfite or thiosulfate, and test for peroxides, before the solvent goes.",
        if partly { "A part of the" } else { "About" }
    );
    let at = At {
        line: moment.line,
        span: clause.verb_span,
    };
    let steps = [
        format!("wash organics with 10 wt% sodium sulfite {volume} mL"),
        "check a peroxide test strip reads negative".to_owned(),
    ];
    let mut finding = Finding::new(&CHECK, at, message)
        .severity(severity)
        .related(
            sensitive::line_at(plan, content.line),
            format!("{name} came in here"),
        );
    if let Some(edit) = edit::insert_before(plan, wash_before, &steps) {
        finding = finding.fix("Reduce the peroxide and test for it", vec![edit]);
    }
    finding
}

fn is_hydrogen_peroxide(substance: Substance) -> bool {
    substance.name() == "hydrogen peroxide"
}

/// Ethers and esters take a part of hydrogen peroxide out of water.
fn takes_it_along(plan: &Plan, clause: &Clause) -> bool {
    let mut with = takes::things(clause).filter(|(slot, _)| *slot == takes::Slot::With);
    let along = with.any(|(_, thing)| {
        matches!(
            substance_of(plan, thing).and_then(Substance::class),
            Some(ReagentClass::Ether | ReagentClass::Ester)
        )
    });
    clause.verb == Verb::Extract && along
}

/// A reducing agent, a test, or a wash that takes this peroxide with it.
fn takes_it_away(plan: &Plan, clause: &Clause, peroxide: Substance) -> bool {
    if matches!(clause.verb, Verb::Check | Verb::Expect | Verb::Note) {
        return clause
            .text
            .as_ref()
            .is_some_and(|text| text.text.to_lowercase().contains("peroxide"));
    }
    let named: Vec<Substance> = takes::things(clause)
        .filter_map(|(_, thing)| substance_of(plan, thing))
        .collect();
    let washes = matches!(clause.verb, Verb::Extract | Verb::Separate | Verb::Wash);
    let basic = named.iter().any(|substance| {
        ["carbonate", "hydroxide"]
            .iter()
            .any(|word| substance.name().contains(word))
    });
    let goes_into_water = matches!(
        peroxide.name(),
        "hydrogen peroxide" | "potassium peroxymonosulfate"
    );
    let acid = matches!(
        peroxide.name(),
        "m-chloroperbenzoic acid" | "peroxyacetic acid"
    );
    reduces(plan, clause) || washes && (goes_into_water || basic && acid)
}

fn reduces(plan: &Plan, clause: &Clause) -> bool {
    let mut named = takes::things(clause).filter_map(|(_, thing)| substance_of(plan, thing));
    named.any(is_reducing)
}

fn is_reducing(substance: Substance) -> bool {
    matches!(
        substance.class(),
        Some(ReagentClass::Triarylphosphine | ReagentClass::Trialkylphosphine)
    ) || [
        "thiosulfate",
        "sulfite",
        "dithionite",
        "dimethyl sulfide",
        "manganese dioxide",
        "iron(II)",
        "ascorb",
        "phosphite",
    ]
    .iter()
    .any(|word| substance.name().contains(word))
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
scale 10.0 mmol alkene
materials
  alkene: styrene, 1.00 eq
  mcpba: m-chloroperbenzoic acid, 1.50 eq
  tbhp: tert-butyl hydroperoxide, 2.50 eq
  h2o2: hydrogen peroxide, 30 wt% in water, 3.0 eq
  peracid: peracetic acid, 32 wt% in acetic acid, 2.0 eq
  initiator: benzoyl peroxide, 5 mol%
  borane: borane tetrahydrofuran complex, 1.0 M in THF, 1.0 eq
  dcm: dichloromethane, 40 mL
equipment
  flask: 250 mL flask
  rotflask: 250 mL flask
steps
  add dcm, alkene
{steps}"
        )
    }

    #[test]
    fn finds_peroxide_that_is_left() {
        let before = "
  add mcpba in 5 portions over 30 min
  filter into rotflask
  in rotflask
  concentrate
  ^^^^^^^^^^^ warning: About 5.0 mmol of mcpba may still be there
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add mcpba in 5 portions over 30 min
  filter into rotflask
  in rotflask
  wash organics with 10 wt% sodium sulfite 8.7 mL
  check a peroxide test strip reads negative
  concentrate
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "  add tbhp\n  wash organics with water 20 mL\n  concentrate\n  ^^^^^^^^^^^ error: About 15 mmol of tbhp\n",
            ),
        );
    }

    #[test]
    fn what_dries_or_filters_uses_nothing_up() {
        for aid in [
            "4 Å molecular sieves 3 g",
            "Celite 2 g",
            "sodium sulfate 3 g",
        ] {
            let steps = format!(
                "  add {aid}\n  add tbhp over 20 min\n  concentrate\n  ^^^^^^^^^^^ error: About 15 mmol of tbhp\n"
            );
            expect(&CHECK, &plan(&steps));
        }
    }

    #[test]
    fn the_fix_washes_before_the_drying() {
        let before = "
  add mcpba
  wash organics with water 20 mL
  dry organics over sodium sulfate
  filter into rotflask
  in rotflask
  concentrate
";
        let fixed = crate::testing::fixed(&CHECK, &plan(before), 0);
        assert!(
            fixed.contains(
                "sulfite 8.7 mL\n  check a peroxide test strip reads negative\n  dry organics"
            ),
            "{fixed}"
        );
        expect(&CHECK, &fixed);
    }

    #[test]
    fn an_ether_takes_hydrogen_peroxide_along() {
        for steps in [
            "add h2o2\n  extract with diethyl ether 20 mL\n  dry organics over sodium sulfate\n  concentrate\n  ^^^^^^^^^^^ warning: A part of the 20 mmol of h2o2 may still be there\n",
            "add h2o2\n  extract with ethyl acetate 20 mL\n  separate\n  concentrate\n  ^^^^^^^^^^^ warning: A part of the 20 mmol\n",
            "add h2o2\n  extract with diethyl ether 20 mL\n  wash organics with brine 10 mL\n  concentrate\n",
            "add h2o2\n  extract with diethyl ether 20 mL\n  wash organics with 10 wt% sodium sulfite 10 mL\n  concentrate\n",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}")));
        }
    }

    #[test]
    fn an_ether_takes_hydrogen_peroxide_out_of_the_water() {
        for steps in [
            "add h2o2\n  separate\n  extract aqueous with diethyl ether, 3 x 15 mL\n  combine organics\n  dry organics over MgSO4\n  concentrate at 40 °C\n  ^^^^^^^^^^^ warning: A part of the 20 mmol of h2o2\n",
            "add h2o2\n  extract with pentane 20 mL\n  extract aqueous with ethyl acetate 20 mL\n  concentrate\n  ^^^^^^^^^^^ warning: A part of the 20 mmol\n",
            "add h2o2\n  separate\n  dry organics over MgSO4\n  concentrate at 40 °C\n",
            "add h2o2\n  separate\n  extract aqueous with dichloromethane, 3 x 15 mL\n  concentrate at 40 °C\n",
            "add h2o2\n  separate\n  extract aqueous with diethyl ether 15 mL\n  wash organics with 10 wt% sodium sulfite 10 mL\n  concentrate at 40 °C\n",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}")));
        }
    }

    #[test]
    fn iron_sulfate_that_waits_reduces_it() {
        for salt in [
            "iron(II) sulfate 12 g",
            "iron(II) sulfate heptahydrate 12 g",
        ] {
            let steps = format!(
                "  in rotflask\n  dissolve {salt} in water 20 mL\n  in flask\n  add tbhp\n  stir overnight\n  pour flask into rotflask\n  in rotflask\n  separate\n  concentrate\n"
            );
            expect(&CHECK, &plan(&steps));
        }
    }

    #[test]
    fn is_silent_once_it_is_gone() {
        for steps in [
            "add mcpba\n  wash organics with sat. aq. NaHCO3 20 mL\n  concentrate",
            "add mcpba\n  wash organics with 10 wt% sodium thiosulfate 20 mL\n  concentrate",
            "add tbhp\n  quench with dimethyl sulfide 2 mL\n  concentrate",
            "add tbhp\n  quench with 10 wt% ascorbic acid 40 mL\n  concentrate",
            "add tbhp\n  add triethyl phosphite 3 mL dropwise\n  concentrate",
            "add peracid\n  wash organics with sat. aq. NaHCO3 20 mL\n  concentrate",
            "add tbhp\n  check a peroxide strip is negative\n  concentrate",
            "add h2o2\n  extract with pentane 20 mL\n  concentrate",
            "add borane\n  add h2o2\n  concentrate",
            "add initiator\n  concentrate",
            "add mcpba 10.5 mmol\n  concentrate",
            "add tbhp\n  stir overnight",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }

    #[test]
    fn what_it_is_poured_onto_may_reduce_it() {
        let poured = |waits: &str| {
            plan(&format!(
                "
  in rotflask
  add {waits} 60 mL
  in flask
  add tbhp
  stir overnight
  pour flask into rotflask
  in rotflask
  separate
  concentrate
"
            ))
        };
        expect(&CHECK, &poured("10 wt% sodium thiosulfate"));
        let said = "  ^^^^^^^^^^^ error: About 15 mmol of tbhp\n";
        expect(&CHECK, &(poured("water") + said));
    }
}
