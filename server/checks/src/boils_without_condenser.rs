//! A solvent boils in an open vessel, and nothing sends it back.

use crate::Survey;
use crate::closed_and_heated::{SPEAKS, hottest, vapour};
use crate::sensitive;
use crate::{Check, Finding, Severity};
use plan::vessel::{Apparatus, Moment, Opening, celsius};
use plan::{At, Plan};
use syntax::{Clause, ModifierKind, TemperatureKind, TimeKind, Verb};

pub(crate) const CHECK: Check = Check {
    name: "boils-without-condenser",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Boils without a condenser

**Finds** a flask that is kept more than 5 °C above the boiling point of what it holds, in a plan
that lists equipment and in it no condenser nor anything that does its work: a warning. A `reflux` in a flask whose
line lists fittings but none of these: an information, for `reflux` means a condenser.

Silent for vials and tubes; for the temperature of a bath; for a plan without the flask among its equipment; where a condenser,
Dean-Stark trap, Soxhlet, cold finger or a pressure-rated vessel stands anywhere in the plan; for a sealed
vessel (of that `closed-and-heated` speaks); for a step of less than 10 min; for distilling and concentrating;
where a boiling point or a volume is not known.

**Why it matters.** A flask of 50 mL loses its solvent in an hour or less. What is left gets hotter
and more concentrated than it was meant to be, and a flammable vapour stands in the hood.

**Example**

    equipment
      flask: 100 mL flask, septum, argon inlet, bubbler
    steps
      add thf 40 mL, ketone
      stir at 80 °C overnight

**Write instead**

    equipment
      flask: 100 mL two-neck flask, reflux condenser, argon inlet, bubbler

**Sources.** Common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut found = Vec::new();
    let mut informed = false;
    let mut said = vec![false; plan.apparatus.len()];
    for moment in &plan.moments {
        let Some(clause) = sensitive::clause(plan, moment) else {
            continue;
        };
        let Some(said) = said.get_mut(moment.vessel).filter(|said| !**said) else {
            continue;
        };
        if let Some(finding) = finding(plan, moment, clause) {
            *said = true;
            found.push(finding);
        } else if !informed && let Some(finding) = reflux(plan, moment, clause) {
            informed = true;
            found.push(finding);
        }
    }
    if !found.is_empty() && !sends_back(plan) {
        findings.append(&mut found);
    }
}

/// `reflux` means a condenser; a flask whose line lists what is on it should list that too.
fn reflux(plan: &Plan, moment: &Moment, clause: &Clause) -> Option<Finding> {
    let state = moment.before.get(moment.vessel)?;
    let item = sensitive::listed(plan, moment.vessel)?;
    let fitted = item.text.contains(',') && item.head.ends_with("flask");
    let has_one = || item.lower.contains("condenser");
    let holds_liquid = state.contents.iter().any(|c| c.is_liquid(&plan.materials));
    if !sensitive::boils(clause) || !fitted || !holds_liquid || has_one() {
        return None;
    }
    let at = At {
        line: moment.line,
        span: clause.verb_span,
    };
    let message = format!(
        "{} boils here, and its line lists no condenser: fit one, and list it.",
        item.name
    );
    let finding = Finding::new(&CHECK, at, message).severity(Severity::Information);
    Some(with_condenser(plan, finding, item))
}

fn with_condenser(plan: &Plan, finding: Finding, item: &Apparatus) -> Finding {
    match item
        .line
        .and_then(|line| crate::edit::append(plan, line, ", reflux condenser"))
    {
        Some(edit) => finding.fix(format!("Put a condenser on {}", item.name), vec![edit]),
        None => finding,
    }
}

fn finding(plan: &Plan, moment: &Moment, clause: &Clause) -> Option<Finding> {
    let state = moment.before.get(moment.vessel)?;
    let item = sensitive::listed(plan, moment.vessel)?;
    let heats = matches!(
        clause.verb,
        Verb::Heat | Verb::Warm | Verb::Stir | Verb::Hold
    ) && !sensitive::boils(clause);
    // What stands in a vial or a tube is capped more likely than open, with nowhere to fit a condenser.
    let small = ["vial", "vials", "tube", "tubes"].contains(&&*item.head);
    if !heats
        || small
        || state.unclear
        || is_short(clause)
        || matches!(state.opening, Opening::Closed { .. })
    {
        return None;
    }
    // A bath is hotter than what is in it.
    let (quantity, t) = hottest(clause, &[TemperatureKind::At, TemperatureKind::To])?;
    let (first, pressure) = vapour(plan, state, t)?;
    if pressure < SPEAKS {
        return None;
    }
    let boiling = celsius(first.boiling()?.value);
    let what = format!(
        "At {:.0} °C {} (bp {boiling:.0} °C) boils",
        celsius(t),
        first.name()
    );
    let message = format!(
        "{what}, and the equipment has no condenser: fit one, or stay below the boiling point."
    );
    let at = At {
        line: moment.line,
        span: quantity.span,
    };
    Some(with_condenser(
        plan,
        Finding::new(&CHECK, at, message),
        item,
    ))
}

fn is_short(clause: &Clause) -> bool {
    clause
        .modifiers
        .iter()
        .any(|modifier| match &modifier.kind {
            ModifierKind::Time(TimeKind::For, Some(quantity)) => plan::convert::time(quantity, 0)
                .is_some_and(|time| {
                    time.value < uom::si::f64::Time::new::<uom::si::time::minute>(10.0)
                }),
            _ => false,
        })
}

/// Something in the plan's words condenses the vapour, or is made to hold it.
fn sends_back(plan: &Survey<'_>) -> bool {
    const WORDS: [&str; 12] = [
        "condenser",
        "dean-stark",
        "dean stark",
        "soxhlet",
        "cold finger",
        "microwave",
        "autoclave",
        "sealed tube",
        "reflux head",
        "reactor",
        "carousel",
        "heating block",
    ];
    // The title is what the plan makes, not what it makes it in.
    let lines = plan.text.lines.iter();
    let mut said = lines
        .filter(|line| line.block != syntax::Block::None)
        .filter_map(|line| {
            let start = line.start as usize;
            plan.lower().get(start..start + line.len as usize)
        });
    said.any(|words| {
        // A funnel that equals the pressure holds none.
        let mut pressures = words.match_indices("pressure");
        WORDS.iter().any(|word| words.contains(word))
            || pressures.any(|(at, word)| {
                let after = words.get(at + word.len()..).unwrap_or_default();
                !after.starts_with("-equal") && !after.starts_with(" equal")
            })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(flask: &str, steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!("\nplan Test\nequipment\n  flask: {flask}\nsteps\n{steps}")
    }

    #[test]
    fn finds_heat_without_a_condenser() {
        let before = "
  add tetrahydrofuran 40 mL
  stir at 80 °C for 2 h
          ^^^^^ warning: At 80 °C tetrahydrofuran (bp 66 °C) boils, and the equipment has no condenser
";
        expect(&CHECK, &plan("100 mL flask, septum", before));
        expect_fixed(
            &CHECK,
            &plan("100 mL flask, septum", before),
            0,
            &plan(
                "100 mL flask, septum, reflux condenser",
                "  add tetrahydrofuran 40 mL\n  stir at 80 °C for 2 h\n",
            ),
        );
    }

    #[test]
    fn a_vial_takes_no_condenser() {
        for vial in ["20 mL vial, PTFE-lined cap", "25 mL Schlenk tube"] {
            let steps = "  add tetrahydrofuran 5 mL\n  stir at 80 °C overnight\n";
            expect(&CHECK, &plan(vial, steps));
        }
    }

    #[test]
    fn a_reflux_wants_its_condenser_listed() {
        let before = "
  add toluene 40 mL
  reflux overnight
  ^^^^^^ information: flask boils here, and its line lists no condenser
  reflux for 2 h
";
        expect(&CHECK, &plan("100 mL flask, septum, argon inlet", before));
        expect_fixed(
            &CHECK,
            &plan("100 mL flask, septum, argon inlet", before),
            0,
            &plan(
                "100 mL flask, septum, argon inlet, reflux condenser",
                "  add toluene 40 mL\n  reflux overnight\n  reflux for 2 h\n",
            ),
        );
    }

    #[test]
    fn is_silent_where_it_comes_back_or_does_not_boil() {
        for (flask, steps) in [
            (
                "100 mL flask, reflux condenser",
                "add toluene 40 mL\n  reflux overnight",
            ),
            ("100 mL flask", "add toluene 40 mL\n  heat to 100 °C"),
            (
                "100 mL flask",
                "add tetrahydrofuran 40 mL\n  stir at 60 °C, bath 80 °C",
            ),
            (
                "100 mL flask",
                "add ethanol 40 mL\n  stir at 100 °C for 5 min",
            ),
            ("20 mL pressure tube", "add ethanol 10 mL\n  heat to 100 °C"),
            (
                "100 mL flask",
                "add ethanol 40 mL\n  seal flask\n  heat to 100 °C",
            ),
            ("100 mL flask", "add ethanol 40 mL\n  distil at 90 °C"),
        ] {
            expect(&CHECK, &plan(flask, &format!("  {steps}\n")));
        }
        // Nothing is said of what is on it.
        expect(
            &CHECK,
            &plan("100 mL flask", "  add toluene 40 mL\n  reflux overnight\n"),
        );
        expect(
            &CHECK,
            "\nplan Test\nsteps\n  add toluene 40 mL\n  reflux overnight\n",
        );
    }
}
