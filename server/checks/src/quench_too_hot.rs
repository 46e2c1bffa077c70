//! A quench of much reagent that was not cooled first.

use crate::Survey;
use crate::alive;
use crate::closed_and_heated::hottest;
use crate::edit;
use crate::quench_missing::borane_left;
use crate::sensitive;
use crate::{Check, Finding};
use chemistry::ReagentClass;
use plan::vessel::{Moment, celsius};
use plan::{At, Plan};
use syntax::{Block, ModifierKind, Statement, TemperatureKind, TemperatureValue, Verb};
use uom::si::amount_of_substance::millimole;

pub(crate) const CHECK: Check = Check {
    name: "quench-too-hot",
    severity: crate::Severity::Warning,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Quench without cooling

**Finds** a `quench` of at least 10 mmol of hydride (of borane, too), alkyl or amide that is sure to be left, in a vessel
at 15 °C or more (alkali metals, which alcohols take slowly, above 30 °C) that does not say that it goes
in slowly; straight from reflux, also one that does, and water or alcohol that is added without that word
(but for a metal, which that reduces with). And any quench that is to stay below a temperature
(`below 5 °C`) in a vessel that the steps before leave 10 °C warmer or more, or boiling.

Silent where the step says at what temperature it is done, speaks of ice or cold, or the vessel was cooled in
words without degrees; without a limit of its own also for less; where everything else in the vessel could
have used the reagent up; where amounts are not known.

**Why it matters.** The heat and the gas of a quench come as fast as the agent goes in. From room
temperature an ether is at its boiling point after a few degrees, and the gas carries it out of the
flask.

**Example**

    materials
      lah:    lithium aluminium hydride, 2.00 eq
    steps
      add lah, thf 40 mL
      cool to 0 °C
      add ketone dropwise over 20 min
      reflux for 4 h
      quench with ethyl acetate 10 mL dropwise

**Write instead**

    steps
      add lah, thf 40 mL
      cool to 0 °C
      add ketone dropwise over 20 min
      reflux for 4 h
      cool to 0 °C
      quench with ethyl acetate 10 mL dropwise over 20 min, below 10 °C

The safety data sheet, the rules of your laboratory and a trained supervisor decide.

**Sources.** Common practice. How much is left is counted as `quench-missing` does it; the 10 mmol, and
the degrees from which it speaks, are assumptions.
";

/// Millimoles of hydride, alkyl or electrons (an assumption).
const MUCH: f64 = 10.0;

/// Degrees above the limit of a step from which on it was forgotten rather than rounded (an assumption).
const WARMER: f64 = 10.0;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for (index, moment) in plan.moments.iter().enumerate() {
        findings.extend(finding(plan, index, moment));
    }
}

fn finding(plan: &Plan, index: usize, moment: &Moment) -> Option<Finding> {
    let clause = sensitive::clause(plan, moment)?;
    let quench = clause.verb == Verb::Quench;
    if !quench && !is_wetted(plan, moment, clause.verb) {
        return None;
    }
    let state = moment.before.get(moment.vessel)?;
    let line = sensitive::line_at(plan, moment.line);
    let words = plan.slice(line.line, line.span)?.to_lowercase();
    let temperatures = |wanted: &dyn Fn(TemperatureKind) -> bool| {
        clause.modifiers.iter().any(
            |modifier| matches!(modifier.kind, ModifierKind::Temperature(kind, _) if wanted(kind)),
        )
    };
    let says_how_cold = temperatures(&|kind| kind != TemperatureKind::Below)
        || words.split_whitespace().any(|word| word == "ice")
        || ["ice-", "cold", "icy"]
            .iter()
            .any(|word| words.contains(word));
    if says_how_cold {
        return None;
    }
    let at = At {
        line: moment.line,
        span: clause.verb_span,
    };
    if temperatures(&|_| true) {
        // Of other steps that are to stay below a temperature `step-not-cold` speaks.
        if !quench {
            return None;
        }
        let (stay, t) = hottest(clause, &[TemperatureKind::Below])?;
        let how_hot = match heat(plan, index, moment.vessel) {
            Heat::Boiling => "boiling".to_owned(),
            Heat::Degrees if celsius(state.temperature) >= celsius(t) + WARMER => {
                format!("at {:.0} °C", celsius(state.temperature))
            }
            Heat::Degrees | Heat::Unsaid => return None,
        };
        let flask = sensitive::name(plan, moment.vessel);
        let written = plan.slice(moment.line, stay.span)?;
        let message = format!(
            "This is to stay below {written}, and {flask} is {how_hot}: cool it first, and wait until it is cold."
        );
        let finding = Finding::new(&CHECK, at, message);
        return Some(match bath_below(celsius(t)) {
            Some(bath) => cooled_first(plan, moment, finding, bath),
            None => finding,
        });
    }
    let left = alive::left(plan, state)
        .or_else(|| borane_left(plan, state))
        .filter(|left| left.equivalents.get::<millimole>() >= MUCH)?;
    // Of borane that is quenched at once, `quench-wrong-agent` speaks.
    if left.class == ReagentClass::Borane && !alive::is_slow(clause) {
        return None;
    }
    // Alcohol on a metal in boiling toluene is a reduction.
    let boiling = matches!(heat(plan, index, moment.vessel), Heat::Boiling);
    if !quench && (!boiling || left.class == ReagentClass::AlkaliMetal) {
        return None;
    }
    let limit = if left.class == ReagentClass::AlkaliMetal {
        30.0
    } else {
        15.0
    };
    let how_hot = match heat(plan, index, moment.vessel) {
        Heat::Boiling => "boiling".to_owned(),
        Heat::Degrees if celsius(state.temperature) >= limit && !alive::is_slow(clause) => {
            format!("at {:.0} °C", celsius(state.temperature))
        }
        Heat::Degrees | Heat::Unsaid => return None,
    };
    let reagent = left.reagent.name(&plan.materials);
    let message = format!(
        "{} of {reagent} is left, and {} is {how_hot}: cool it to 0 °C, and add the quench slowly.",
        sensitive::amount_text(left.amount, 2),
        sensitive::name(plan, moment.vessel)
    );
    let finding = Finding::new(&CHECK, at, message).related(
        sensitive::line_at(plan, left.reagent.line),
        format!("{reagent} came in here"),
    );
    Some(cooled_first(plan, moment, finding, 0))
}

/// `add water 2 mL dropwise`: a quench by another verb.
fn is_wetted(plan: &Plan, moment: &Moment, verb: Verb) -> bool {
    let adds = matches!(
        verb,
        Verb::Add | Verb::Dilute | Verb::Acidify | Verb::Basify
    );
    let materials = &plan.materials;
    adds && moment.additions.iter().any(|addition| {
        let content = &addition.content;
        addition.from.is_none()
            && (content.is_aqueous(materials)
                || content.is_protic(materials) && sensitive::is_solvent(plan, content))
    })
}

/// Ice, or dry ice in acetone.
fn bath_below(limit: f64) -> Option<i32> {
    [0, -78].into_iter().find(|&bath| f64::from(bath) < limit)
}

fn cooled_first(plan: &Plan, moment: &Moment, finding: Finding, bath: i32) -> Finding {
    let step = match sensitive::listed(plan, moment.vessel) {
        Some(item) => format!("cool {} to {bath} °C", item.name),
        None => format!("cool to {bath} °C"),
    };
    match edit::insert_before(plan, moment.line, &[step]) {
        Some(edit) => finding.fix(format!("Cool to {bath} °C first"), vec![edit]),
        None => finding,
    }
}

enum Heat {
    /// As the vessel's temperature says.
    Degrees,
    /// At reflux, and nothing since.
    Boiling,
    /// Cooled, but not to a number.
    Unsaid,
}

/// Whether a step between two lines speaks of ice or cold, or is kept as text and speaks of cooling: `let it cool`,
/// `immerse flask in ice`. How cold it gets is then not known.
pub(crate) fn is_cooled_in_words(plan: &Plan, from: u32, to: u32) -> bool {
    (from + 1..to).any(|index| {
        let Some(found) = plan.text.lines.get(index as usize) else {
            return false;
        };
        let kept = matches!(
            found.statement,
            Statement::Remark(..) | Statement::Unread(_)
        );
        let line = sensitive::line_at(plan, index);
        let text = plan
            .slice(line.line, line.span)
            .unwrap_or("")
            .to_lowercase();
        let mut words = text.split(|c: char| !c.is_alphabetic());
        found.block == Block::Steps
            && words.any(|word| {
                matches!(word, "ice" | "cold" | "chill" | "chilled")
                    || kept && word.starts_with("cool")
            })
    })
}

/// What the last step that heated or cooled the vessel says of its temperature.
fn heat(plan: &Plan, index: usize, vessel: usize) -> Heat {
    let here = plan.moments.get(index).map_or(0, |moment| moment.line);
    let since = |line: u32, heat: Heat| {
        if is_cooled_in_words(plan, line, here) {
            Heat::Unsaid
        } else {
            heat
        }
    };
    let before = plan.moments.iter().take(index).rev();
    for moment in before.filter(|moment| moment.vessel == vessel) {
        let Some(clause) = sensitive::clause(plan, moment) else {
            return Heat::Unsaid;
        };
        if sensitive::boils(clause) {
            return since(moment.line, Heat::Boiling);
        }
        let degrees = clause.modifiers.iter().any(|modifier| {
            matches!(
                &modifier.kind,
                ModifierKind::Temperature(
                    _,
                    TemperatureValue::Quantity(_) | TemperatureValue::Room(_)
                )
            )
        });
        if degrees {
            return since(moment.line, Heat::Degrees);
        }
        if matches!(clause.verb, Verb::Cool | Verb::Heat | Verb::Warm) {
            return Heat::Unsaid;
        }
    }
    since(0, Heat::Degrees)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    // The library does not know the ketone, which may take all four hydrides then.
    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 10.0 mmol ketone
materials
  ketone: a ketone of our own, MW 154.25, 1.00 eq
  lah: lithium aluminium hydride, 2.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.50 eq
  thf: tetrahydrofuran, 40 mL
equipment
  flask: 250 mL two-neck flask
steps
  add thf 20 mL, ketone
{steps}"
        )
    }

    #[test]
    fn finds_a_quench_at_room_temperature_or_reflux() {
        let before = "
  add lah
  quench with ethyl acetate 10 mL
  ^^^^^^ warning: 10 mmol of lah is left, and flask is at 21 °C: cool it to 0 °C
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan("  add lah\n  cool flask to 0 °C\n  quench with ethyl acetate 10 mL\n"),
        );
        expect(
            &CHECK,
            &plan(
                "
  add lah
  reflux for 4 h
  quench with ethyl acetate 10 mL dropwise
  ^^^^^^ warning: 10 mmol of lah is left, and flask is boiling
",
            ),
        );
    }

    #[test]
    fn finds_water_that_is_added_to_what_boils() {
        expect(
            &CHECK,
            &plan(
                "
  add lah
  reflux for 4 h
  add water 1.0 mL dropwise
  ^^^ warning: 10 mmol of lah is left, and flask is boiling
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "
  add lah 100 mmol
  reflux for 4 h
  quench with methanol 20 mL dropwise
  ^^^^^^ warning: 87 mmol of lah is left, and flask is boiling
",
            )
            .replace(
                "lah: lithium aluminium hydride, 2.00 eq",
                "lah: borane dimethyl sulfide complex, 100 mmol",
            ),
        );
        for steps in [
            "add lah\n  reflux for 4 h\n  let it cool to rt\n  add water 1.0 mL dropwise",
            "add lah\n  reflux for 4 h\n  cool to 0 °C\n  add water 1.0 mL dropwise",
            "add lah\n  stir for 4 h\n  add water 1.0 mL dropwise",
            "add lah\n  reflux for 4 h\n  add thf 20 mL",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }

    #[test]
    fn a_limit_wants_cooling() {
        let before = "
  add base
  quench with sat. aq. NH4Cl 20 mL dropwise, below 5 °C
  ^^^^^^ warning: This is to stay below 5 °C, and flask is at 21 °C: cool it first
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add base\n  cool flask to 0 °C\n  quench with sat. aq. NH4Cl 20 mL dropwise, below 5 °C\n",
            ),
        );
    }

    #[test]
    fn is_silent_for_little_or_cold() {
        for steps in [
            "add base\n  quench with sat. aq. NH4Cl 20 mL dropwise",
            "add lah\n  cool to 0 °C\n  quench with ethyl acetate 10 mL",
            "add lah\n  cool to 0 °C\n  quench with ethyl acetate 10 mL, below 5 °C",
            "add lah\n  quench with ethyl acetate 10 mL, below 30 °C",
            "add lah\n  heat to 60 °C for 2 h\n  let it cool in ice\n  quench with ethyl acetate 10 mL",
            "add lah\n  immerse flask in ice\n  quench with ethyl acetate 10 mL, below 5 °C",
            "add lah\n  cool in ice bath\n  quench with ethyl acetate 10 mL, below 5 °C",
            "add lah\n  quench with ice-cold ethyl acetate 10 mL, below 5 °C",
            "add lah\n  quench with ethyl acetate 10 mL dropwise over 20 min",
            "add lah\n  cool in ice bath\n  quench with ethyl acetate 10 mL",
            "add lah 10 mmol\n  quench with ethyl acetate 10 mL",
            "cool to 0 °C\n  add lah\n  stir for 1 h\n  quench with ethyl acetate 10 mL",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
