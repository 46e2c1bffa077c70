//! A step that names no vessel, where several are meant by turns.

use crate::{Check, Finding, Severity, Survey, edit, sensitive};
use syntax::EquipmentKind;

pub(crate) const CHECK: Check = Check {
    name: "which-vessel",
    severity: Severity::Information,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Which vessel?

**Finds** the first step that brings something in, or passes a gas, and names no vessel, while the
plan lists several flasks, tubes or reactors and nothing says which of them is meant.

Silent below a line `in flask`; where there is only one; where its key is the plain word for it
(`flask` beside `killpot`), unless the last step began with another place; where every other one is named at the steps that mean it (`in rotflask`,
`filter into rotflask`); and where the steps above have handled this one and no other.

**Why it matters.** The first vessel of the equipment is taken, and whatever is said of dryness,
atmosphere and filling is said of that one. Who follows the plan has the same question.

**Example**

    equipment
      flaskA: 100 mL flask
      flaskB: 50 mL flask
    steps
      add ketone

**Write instead**

    steps
      in flaskA
      add ketone

or `add ketone to flaskA`.

**Sources.** It follows from the steps.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    const MOST_OFFERED: usize = 3;
    let Some(moment) = plan.moments.iter().find(|moment| moment.unsure) else {
        return;
    };
    let (Some(clause), Some(taken)) = (
        sensitive::clause(plan, moment),
        plan.apparatus.get(moment.vessel),
    ) else {
        return;
    };
    let vessels = plan
        .apparatus
        .iter()
        .filter(|item| item.kind == EquipmentKind::Vessel && item.id.is_some());
    let message = format!(
        "Which vessel is meant is not said, and {} was taken: write `in {}` on a line above, or name it here.",
        taken.name, taken.name
    );
    let at = plan::At {
        line: moment.line,
        span: clause.verb_span,
    };
    let finding =
        vessels
            .take(MOST_OFFERED)
            .fold(
                Finding::new(&CHECK, at, message),
                |finding, item| match edit::insert_before(
                    plan,
                    moment.line,
                    &[format!("in {}", item.name)],
                ) {
                    Some(edit) => finding.fix(format!("It happens in {}", item.name), vec![edit]),
                    None => finding,
                },
            );
    findings.push(finding);
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{expect, expect_fixed};

    const PLAN: &str = "
plan A
materials
  salt: sodium chloride, 1.0 g
  thf: tetrahydrofuran, 20 mL
equipment
  flaskA: 50 mL flask
  flaskB: 50 mL flask
steps
  dry flaskA, flaskB at 125 °C for 4 h
  add salt
  ^^^ information: Which vessel is meant is not said, and flaskA was taken: write `in flaskA`
  add thf
";

    #[test]
    fn it_is_asked_once_and_a_place_answers() {
        expect(&CHECK, PLAN);
        let line = "  ^^^ information: Which vessel is meant is not said, and flaskA was taken: write `in flaskA`\n";
        let mended = PLAN
            .replace(line, "")
            .replace("  add salt", "  in flaskB\n  add salt");
        expect_fixed(&CHECK, PLAN, 1, &mended);
        expect(&CHECK, &mended);
    }

    #[test]
    fn one_flask_or_a_receiver_asks_nothing() {
        let line = "  ^^^ information: Which vessel is meant is not said, and flaskA was taken: write `in flaskA`\n";
        let plain = PLAN.replace(line, "");
        expect(
            &CHECK,
            &plain.replace("  flaskB: 50 mL flask\n", "  flaskB: septum\n"),
        );
        expect(&CHECK, &format!("{plain}  filter into flaskB\n"));
    }

    #[test]
    fn a_place_in_front_of_a_step_is_that_of_no_other() {
        let plan = |steps: &str| {
            format!(
                "
plan A
materials
  salt: sodium chloride, 1.0 g
  thf: tetrahydrofuran, 20 mL
equipment
  flask: 50 mL flask
steps
{steps}"
            )
        };
        let asked = "  ^^^ information: Which vessel is meant is not said, and flask was taken: write `in flask`\n";
        let front = "  in a vial, dissolve salt in thf 5 mL, add thf 1 mL\n";
        expect(&CHECK, &plan(&format!("{front}  add thf 2 mL\n{asked}")));
        for next in [
            "  in flask, add thf 2 mL\n",
            "  transfer vial to flask\n  add thf 2 mL\n",
        ] {
            expect(&CHECK, &plan(&format!("{front}{next}")));
        }
    }
}
