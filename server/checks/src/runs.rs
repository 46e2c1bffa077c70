//! What is wrong with runs of a plan: each is a plan of its own, and is looked at as one.

use crate::Survey;
use crate::bottles::{self, Taken};
use crate::{Check, Finding, Fix, Profile, Severity, edit, is_same};
use plan::runs::{RunText, Series};
use plan::{At, Plan};
use syntax::{Block, Line, PlanText, Span, Statement};

pub(crate) const CHECK: Check = Check {
    name: "wrong-in-a-run",
    severity: Severity::Error,
    from: Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Wrong in a run

**Finds** a line of `runs` that no plan can be made of, and an error or a warning that a run has and the plan has not: a
flask that overflows at this run's amount, a substance that destroys the solvent, an equation that does not balance with
another product. Each check speaks once for a run, with the severity that it has there, and the profile and settings hold
as in any plan. It also adds up what all runs take of a bottle of the inventory.

**Why it matters.** The steps were thought through for one substrate at one scale, and the run that differs is the one that
nobody reads.

**Example**

    scale 10.0 mmol ketone
    materials
      ketone: 4-tert-butylcyclohexanone, 1.00 eq
      thf:    tetrahydrofuran, over 3 Å sieves, 100 mL
    equipment
      flask: 250 mL round-bottom flask
    steps
      add thf
      add ketone
    runs
      A: 10.0 mmol
      B: 25.0 mmol

**Write instead** a vessel that holds it, in this run alone; `meniscus runs` writes a run as a plan of its own

    runs
      A: 10.0 mmol
      B: 25.0 mmol, flask is 500 mL round-bottom flask

**Sources.** Those of the check that speaks.
";

/// Runs after all other checks but the last: what they found in the plan is in `findings`.
fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    if !plan.has_runs() {
        return;
    }
    let series = plan.series();
    let mut found = Vec::new();
    let mut unmade: Vec<(String, Finding)> = Vec::new();
    for (run, own) in &series.runs {
        let at = At {
            line: run.line,
            span: run.label.span,
        };
        let label = &run.label.text;
        match (own, &run.text) {
            (Ok(own), Ok(text)) => {
                found.extend(newly_wrong(plan, text, own, findings, at, label));
            }
            // What cannot be read is told where it stands.
            (Err(_), _) if is_unread(plan, run.line) => {}
            // What is wrong with the plan itself is wrong in every run, and said once.
            (Err(cannot), _) => match unmade.iter_mut().find(|(other, _)| *other == cannot.why) {
                Some((_, first)) => first.related.push((at, "nor has this run".to_owned())),
                None => {
                    let message = format!("Run {label} has no plan: {cannot}.");
                    let span = cannot.at.unwrap_or(at.span);
                    let finding = Finding::new(&CHECK, At { span, ..at }, message);
                    unmade.push((cannot.why.clone(), finding));
                }
            },
            _ => {}
        }
    }
    found.extend(unmade.into_iter().map(|(_, finding)| finding));
    found.extend(bottles_short(plan, &series));
    findings.append(&mut found);
}

fn is_unread(plan: &Plan, line: u32) -> bool {
    let line = plan.text.lines.get(line as usize);
    line.is_some_and(syntax::Line::has_error)
}

/// One finding for each check that has more to say of the run than of the plan.
fn newly_wrong(
    plan: &Plan,
    text: &RunText,
    own: &Plan,
    known: &[Finding],
    at: At,
    label: &str,
) -> Vec<Finding> {
    let mut told: Vec<(&str, Finding)> = Vec::new();
    for mut finding in crate::findings(own) {
        if finding.severity > Severity::Warning {
            continue;
        }
        let line = text.line_of_plan(finding.at.line);
        finding.at.line = line.unwrap_or(u32::MAX);
        if known.iter().any(|old| is_same(old, &finding)) {
            continue;
        }
        let there = line.and_then(|line| whole(plan, line));
        match told.iter_mut().find(|(check, _)| *check == finding.check) {
            Some((_, first)) => {
                first.severity = first.severity.min(finding.severity);
                first.related.extend(there.map(|at| (at, finding.message)));
            }
            None => {
                let check = finding.check;
                let message = format!("In run {label} ({check}): {}", finding.message);
                let mut first = Finding::new(&CHECK, at, message).severity(finding.severity);
                first
                    .related
                    .extend(there.map(|at| (at, "here".to_owned())));
                let fixes = finding.fixes.iter();
                let fixes = fixes.filter_map(|fix| in_this_run(plan, own, at.line, fix));
                first.fixes = fixes.collect();
                told.push((check, first));
            }
        }
    }
    told.into_iter().map(|(_, finding)| finding).collect()
}

/// A fix that changes one line of the equipment and nothing else, said in the line of the run.
fn in_this_run(plan: &Plan, own: &Plan, line: u32, fix: &Fix) -> Option<Fix> {
    let mut text = own.text.text.to_string();
    for (range, new) in fix.edits.iter().rev() {
        text.get(range.clone())?;
        text.replace_range(range.clone(), new);
    }
    let new = syntax::read_plan(&text);
    if new.lines.len() != own.text.lines.len() {
        return None;
    }
    let words = |text: &PlanText, line: &Line| {
        let start = line.start as usize;
        text.text
            .get(start..start + line.len as usize)
            .map(str::to_owned)
    };
    let lines = own.text.lines.iter().zip(&new.lines);
    let mut changed = lines.filter(|(a, b)| words(&own.text, a) != words(&new, b));
    let (Some((_, now)), None) = (changed.next(), changed.next()) else {
        return None;
    };
    let (Statement::Equipment(item), Statement::Run(run)) = (
        &now.statement,
        &plan.text.lines.get(line as usize)?.statement,
    ) else {
        return None;
    };
    let (key, said) = (&item.key.text, &item.text.text);
    let id = plan::find_key(&plan.text, key)?;
    let mut others = run.changes.iter();
    let edit = match others.find(|change| change.id == Some(id)) {
        Some(change) => {
            let span = change.said_span;
            edit::replace(plan, At { line, span }, &**said)
        }
        None => edit::append(plan, line, &format!(", {key} is {said}"))?,
    };
    Some(Fix {
        title: format!("{}, in run {} alone", fix.title, run.label.text),
        edits: vec![edit],
        preferred: false,
    })
}

/// What a line says, without its comment and the white space around it.
fn whole(plan: &Plan, line: u32) -> Option<At> {
    let found = plan.text.lines.get(line as usize)?;
    let end = found.comment.map_or(found.len, |comment| comment.start);
    let text = plan.slice(line, Span { start: 0, end })?;
    let bytes = |text: &str| u32::try_from(text.len()).unwrap_or(0);
    let span = Span {
        start: end - bytes(text.trim_start()),
        end: bytes(text.trim_end()),
    };
    Some(At { line, span })
}

/// Bottles that are enough for each run, and not for all.
fn bottles_short(plan: &Plan, series: &Series) -> Vec<Finding> {
    let header = plan.text.lines.iter().zip(0u32..);
    let mut header = header.filter(|(line, _)| line.statement == Statement::Header(Block::Runs));
    let Some(at) = header.next().and_then(|(_, line)| whole(plan, line)) else {
        return Vec::new();
    };
    let uses: Vec<_> = series
        .plans()
        .flat_map(|(run, own)| bottles::uses(own).map(move |one| (run.line, one)))
        .collect();
    let mut found = Vec::new();
    for (index, (_, first)) in uses.iter().enumerate() {
        let all = || {
            uses.iter()
                .filter(|(_, other)| other.bottle.name == first.bottle.name)
        };
        let is_first = uses
            .iter()
            .position(|(_, one)| one.bottle.name == first.bottle.name);
        if is_first != Some(index) {
            continue;
        }
        let Some((most, dimension)) = bottles::at_most(first.bottle) else {
            continue;
        };
        let taken: Option<Vec<(u32, Taken)>> = all()
            .map(|(run, one)| Some((*run, bottles::taken(one.amounts, dimension)?)))
            .collect();
        let (Some(taken), Some(left)) = (taken, &first.bottle.left) else {
            continue;
        };
        let least = |of: &mut dyn Iterator<Item = &(u32, Taken)>| {
            let (mut sum, mut width) = (0.0, 0.0_f64);
            for (_, taken) in of {
                sum += taken.value;
                width = width.hypot(taken.half_width);
            }
            (sum, sum - width)
        };
        let too_much = |least: f64| least > most * 1.000_001;
        let (sum, all_least) = least(&mut taken.iter());
        let one_is_too_much = taken.iter().any(|(run, _)| {
            let mut own = taken.iter().filter(|(other, _)| other == run);
            too_much(least(&mut own).1)
        });
        if !too_much(all_least) || one_is_too_much {
            continue;
        }
        let message = format!(
            "All runs together take {} from bottle {}, which holds {}: have another bottle ready, or make less.",
            bottles::shown(sum, dimension),
            first.bottle.name,
            plan::inventory::written(left),
        );
        found.push(Finding::new(&CHECK, at, message).severity(Severity::Warning));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::bench;
    use crate::{Finding, Severity, findings};
    use plan::{Context, Plan};
    use std::sync::Arc;

    fn found_at(context: &Context, text: &str) -> Vec<Finding> {
        let plan = Plan::with_context(Arc::new(syntax::read_plan(text)), context);
        let found = findings(&plan).into_iter();
        found.filter(|f| f.check == CHECK.name).collect()
    }

    fn found(text: &str) -> Vec<Finding> {
        found_at(&Context::default(), text)
    }

    const PLAN: &str = "\
plan A
scale 10.0 mmol ketone
materials
  ketone: cyclohexanone, 1.00 eq
  thf: tetrahydrofuran, over 3 Å sieves, 100 mL
equipment
  flask: 250 mL round-bottom flask
steps
  add thf
  add ketone
runs
";

    #[test]
    fn a_run_that_overflows_is_told_at_its_line() {
        let text = format!("{PLAN}  A: 10.0 mmol\n  B: 30.0 mmol\n");
        let found = found(&text);
        assert_eq!(found.len(), 1, "{found:#?}");
        let first = &found[0];
        assert_eq!((first.at.line, first.severity), (12, Severity::Warning));
        assert!(
            first.message.starts_with("In run B (overfilled): "),
            "{}",
            first.message
        );
    }

    #[test]
    fn what_the_plan_has_wrong_itself_is_not_told_again() {
        let text = PLAN.replace("250 mL", "50 mL") + "  A: 10.0 mmol\n  B: 20.0 mmol\n";
        let all = findings(&Plan::read(&text));
        assert!(all.iter().any(|f| f.check == "overfilled"), "{all:#?}");
        assert_eq!(found(&text), []);
    }

    #[test]
    fn a_larger_flask_in_the_run_mends_it() {
        let text = format!("{PLAN}  A: 10.0 mmol\n  B: 30.0 mmol   # twice\n");
        let fix = found(&text).remove(0).fixes.remove(0);
        let mut mended = text;
        for (range, new) in fix.edits {
            mended.replace_range(range, &new);
        }
        let line = mended.lines().last().unwrap_or_default();
        assert!(line.starts_with("  B: 30.0 mmol, flask is "), "{line}");
        assert!(line.ends_with(" mL round-bottom flask   # twice"), "{line}");
        assert_eq!(found(&mended), []);
        let text = format!("{PLAN}  B: 30.0 mmol, flask is 1000 mL round-bottom flask\n");
        assert_eq!(found(&text), []);
    }

    #[test]
    fn labels_are_told_apart_and_scales_need_a_molar_mass() {
        let told = |line: &str| {
            let found = found(&format!("{PLAN}  A: 5.0 mmol\n  {line}\n"));
            let found: Vec<_> = found.into_iter().map(|f| (f.at.line, f.message)).collect();
            assert_eq!(found.len(), 1, "{line}: {found:?}");
            found[0].1.clone()
        };
        assert!(told("a: 2.0 mmol").contains("another run is called a already"));
        assert!(told("B: 0 mmol").contains("greater than zero"));
        assert!(told("B: 2.0 g, ketone is xyzzyl ketone").contains("no plan"));
    }

    #[test]
    fn a_bottle_that_is_enough_for_each_run_and_not_for_all_is_told() {
        let bottles =
            "[[bottle]]\nname = \"k\"\nsubstance = \"cyclohexanone\"\nleft = \"2.5 mL\"\n";
        let context = bench(bottles);
        let text = PLAN.replace("cyclohexanone,", "cyclohexanone, bottle k,");
        // 10.0 mmol × 98.145 g/mol over 0.948 g/mL (CRC Handbook) are 1.04 mL.
        let two = found_at(&context, &format!("{text}  A: 10.0 mmol\n  B: 9.0 mmol\n"));
        assert_eq!(two, []);
        let three = format!("{text}  A: 10.0 mmol\n  B: 9.0 mmol\n  C: 8.0 mmol\n");
        let three = found_at(&context, &three);
        assert_eq!(three.len(), 1, "{three:#?}");
        assert_eq!(
            (three[0].at.line, three[0].severity),
            (10, Severity::Warning)
        );
    }

    /// A comment on the line of the run allows what is known and meant.
    #[test]
    fn it_can_be_allowed() {
        let text = format!("{PLAN}  B: 30.0 mmol   # allow wrong-in-a-run: in the large flask\n");
        assert_eq!(found(&text), []);
    }
}
