//! Words that should be keys of the plan and are none.

use crate::Survey;
use crate::{Check, Finding, Severity, edit, problem};
use chemistry::{State, Substance};
use plan::{Plan, takes};
use syntax::{Referent, Statement};

pub(crate) const CHECK: Check = Check {
    name: "unknown-key",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Word that names no line

**Finds** a word of a step, an amount or a place line that should name a line of the plan and does not: `add keton`,
`in vail`, `4.0 mol% of zinc` where no line is called zinc. It also looks at substances that a step brings in by name
when neither the library nor the rules for formulae know the name and a key of the plan is one letter away.

**Why it matters.** What is not found is not computed with: its amount is not counted, and a vessel of that name is not
followed.

**Example**

    materials
      ketone: acetone, 1.00 eq
    steps
      add keton

**Write instead** the key as it stands before the colon, or the line that is missing

    steps
      add ketone

A substance with no line of its own can be named in a step if its portion is written: `add water 40 mL`.

**Sources.** A rule of the language.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let first = findings.len();
    problem::report(&CHECK, plan, findings, is_of_this_check);
    // Terms of the equation may be substances: the check of the equation looks them up.
    let of_equation = |finding: &Finding| {
        let line = plan.text.lines.get(finding.at.line as usize);
        line.is_some_and(|line| matches!(line.statement, Statement::Reaction(_)))
    };
    let reported = findings.split_off(first);
    // `add one tenth of the solution` needs no vessel where the one that it waits in is known.
    let followed = |finding: &Finding| {
        let word = plan.slice(finding.at.line, finding.at.span).unwrap_or("");
        let last = word.rsplit(' ').next().unwrap_or_default();
        let held = ["solution", "mixture", "suspension"];
        held.iter().any(|held| last.eq_ignore_ascii_case(held))
            && plan.moments.iter().any(|moment| {
                let mut additions = moment.additions.iter();
                additions.any(|addition| addition.from.is_some() && addition.at == finding.at)
            })
    };
    let reported = reported
        .into_iter()
        .filter(|finding| !of_equation(finding) && !followed(finding));
    findings.extend(reported.map(|finding| no_portion(plan, &finding).unwrap_or(finding)));
    mistyped_substances(plan, findings);
}

/// `add celite`: a substance without a line that has no portion.
fn no_portion(plan: &Plan, finding: &Finding) -> Option<Finding> {
    let name = plan.slice(finding.at.line, finding.at.span)?;
    let line = plan.text.lines.get(finding.at.line as usize)?;
    let Statement::Step(step) = &line.statement else {
        return None;
    };
    let taken = step
        .clauses
        .iter()
        .flat_map(takes::things)
        .any(|(_, thing)| thing.name.span == finding.at.span && thing.portions.is_empty());
    let found = chemistry::find_name(name);
    if !taken || !finding.fixes.is_empty() || found == chemistry::Found::None {
        return None;
    }
    let liquid = found.one().and_then(Substance::state) == Some(State::Liquid);
    let portion = if liquid { "10 mL" } else { "1 g" };
    let message = format!(
        "No line of the plan is called {name}: list it, or write its portion here, as in `{name} {portion}`."
    );
    Some(Finding::new(&CHECK, finding.at, message).severity(finding.severity))
}

pub(crate) fn is_of_this_check(code: &str) -> bool {
    code == "unknown-key"
}

/// `quench with nh4c 15 mL` reads as a substance by name: if nobody knows the name, it was a key.
fn mistyped_substances(plan: &Plan, findings: &mut Vec<Finding>) {
    for take in takes::takes(&plan.text) {
        if !matches!(take.thing.referent, Referent::Substance(_)) {
            continue;
        }
        let name = &*take.thing.name.text;
        if is_known(name) {
            continue;
        }
        let near = nearest(plan, name);
        let Some(key) = near
            .first()
            .filter(|key| name.strip_suffix('s') != Some(key))
        else {
            continue;
        };
        let at = take.at();
        let message = format!(
            "The library has no {name}, so it is not counted: if the line {key} is meant, write {key}."
        );
        findings.push(
            Finding::new(&CHECK, at, message)
                .severity(Severity::Warning)
                .fix(
                    format!("Write {key}"),
                    vec![edit::replace(plan, at, key.as_str())],
                ),
        );
    }
}

/// Whether the library or the rules for formulae know a name.
pub(crate) fn is_known(name: &str) -> bool {
    chemistry::find_name(name) != chemistry::Found::None
        || chemistry::find_solution_name(name).is_some()
        || chemistry::Formula::parse(name).is_ok()
}

/// The keys that a word may have meant, nearest first: one letter away, or two for a long word.
pub(crate) fn nearest(plan: &Plan, word: &str) -> Vec<String> {
    let word = word.to_lowercase();
    let allowed = if word.chars().count() > 6 { 2 } else { 1 };
    let mut near: Vec<(usize, String)> = plan
        .text
        .keys
        .iter()
        .map(|key| {
            (
                strsim::osa_distance(&word, &key.name.text.to_lowercase()),
                key.name.text.to_string(),
            )
        })
        .filter(|(distance, key)| *distance <= allowed && key.chars().count() > *distance)
        .collect();
    near.sort();
    near.into_iter().map(|(_, key)| key).take(3).collect()
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{expect, expect_fixed};

    #[test]
    fn a_mistyped_key_is_found_and_the_nearest_is_offered() {
        let plan = "
plan A
materials
  ketone: acetone, 1.00 eq
steps
  add keton
      ^^^^^ error:
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "plan A\nmaterials\n  ketone: acetone, 1.00 eq\nsteps\n  add ketone",
        );
    }

    #[test]
    fn a_mistyped_place_is_found() {
        let plan = "
plan A
materials
  ketone: acetone, 1.00 eq
equipment
  vial: 10 mL vial
steps
  in vail
     ^^^^ error:
  add ketone
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
materials
  ketone: acetone, 1.00 eq
equipment
  vial: 10 mL vial
steps
  in vial
  add ketone
",
        );
    }

    #[test]
    fn a_substance_without_a_line_needs_a_portion() {
        expect(
            &CHECK,
            "
plan A
materials
  ketone: acetone, 5.0 mmol
steps
  add ketone, celite
              ^^^^^^ error: No line of the plan is called celite: list it, or write its portion here, as in `celite 1 g`.
  add celite 1 g
",
        );
    }

    #[test]
    fn a_name_that_nobody_knows_may_be_a_key() {
        let plan = "
plan A
materials
  nhcl: ammonium chloride, sat. aq., 15 mL
steps
  quench with nhcli 15 mL
              ^^^^^ warning: The library has no nhcli
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
materials
  nhcl: ammonium chloride, sat. aq., 15 mL
steps
  quench with nhcl 15 mL
",
        );
    }

    #[test]
    fn keys_in_any_case_and_substances_of_the_library_are_known() {
        expect(
            &CHECK,
            "
plan A
materials
  THF: tetrahydrofuran
  pentane: pentane
steps
  add thf 20 mL
  quench with sat. aq. NH4Cl 15 mL
  extract with pentanes, 3 x 20 mL
  wash organics with brine 20 mL
",
        );
    }

    #[test]
    fn a_solution_that_waits_in_a_funnel_needs_no_vessel() {
        let plan = |steps: &str| {
            format!(
                "
plan A
materials
  ketone: acetone, 1.0 g
  thf: tetrahydrofuran
equipment
  flask: 100 mL flask, dropping funnel
steps
{steps}"
            )
        };
        expect(
            &CHECK,
            &plan(
                "  charge dropping funnel with ketone and thf 20 mL
  add one tenth of the solution
  add rest of the solution dropwise over 40 min
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "  add ketone, thf 20 mL
  add half of the solution
                  ^^^^^^^^ error: Say where it comes from
",
            ),
        );
    }
}
