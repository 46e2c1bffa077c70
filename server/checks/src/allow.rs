//! Comments that allow a finding: `# allow CHECK: why`, at the end of its line or alone above it.

use crate::Survey;
use crate::policy::{is_unread, unknown};
use crate::{Check, Finding, Fix, Profile, Severity, allow_not_needed, edit};
use plan::{At, Plan};
use syntax::{Span, Statement};

pub(crate) const CHECK: Check = Check {
    name: "allow-unclear",
    severity: Severity::Warning,
    from: Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Comment that allows nothing

**Finds** an `# allow CHECK` without a reason, and one whose check does not exist.

A comment `# allow CHECK: why` takes a finding away, at the end of the line that the finding is about or on lines of its
own above it; several checks are separated by commas. What cannot be read (the errors of `unit`, `decimal-comma`,
`unknown-key` and `reading`) has no value, and cannot be allowed.

**Why it matters.** Whoever reads the plan next should not have to guess why: without a reason nothing is taken away.

**Example**

    steps
      heat to 80 °C   # allow hot-limit

**Write instead** the reason, after a colon

    steps
      heat to 80 °C   # allow hot-limit: 5 mg, behind the shield, as agreed with the safety officer

**Sources.** Common practice.
";

/// A comment that allows something.
pub(crate) struct Allow<'a> {
    /// The line of the comment.
    pub(crate) line: u32,
    /// The line that it is about, if there is one.
    pub(crate) about: Option<u32>,
    /// The whole comment.
    pub(crate) span: Span,
    /// The checks, with the places of their names.
    pub(crate) names: Vec<(&'a str, Span)>,
    /// Whether it says why.
    pub(crate) has_reason: bool,
}

/// The comments of a plan that allow something.
pub(crate) fn allows(plan: &Plan) -> Vec<Allow<'_>> {
    let lines = plan.text.lines.iter().zip(0u32..);
    lines
        .filter_map(|(line, index)| {
            let span = line.comment?;
            let (names, has_reason) = read(plan.slice(index, span)?, span.start)?;
            Some(Allow {
                line: index,
                about: about(plan, index),
                span,
                names,
                has_reason,
            })
        })
        .collect()
}

/// Its own line, or the next below that is not a comment alone.
fn about(plan: &Plan, line: u32) -> Option<u32> {
    let lines = plan.text.lines.iter().zip(0u32..).skip(line as usize);
    for (found, index) in lines {
        match (&found.statement, found.comment) {
            (Statement::Blank, Some(_)) => {}
            (Statement::Blank, None) => return None,
            _ => return Some(index),
        }
    }
    None
}

/// The names in a comment, and whether a reason follows. `# allow to warm up` is a remark like any other, so a word
/// that is no check has to look like one.
fn read(comment: &str, start: u32) -> Option<(Vec<(&str, Span)>, bool)> {
    let body = comment.trim_start_matches('#').trim_start();
    let (word, rest) = body.split_once(' ')?;
    if !word.eq_ignore_ascii_case("allow") {
        return None;
    }
    let (list, reason) = match rest.split_once(':') {
        Some((list, reason)) => (list, Some(reason)),
        // `# allow hot-limit because …` lacks its colon; `# allow unit` is whole, `# allow reading of …` is not ours.
        None => {
            let first = rest.split_whitespace().next()?;
            let whole = rest.trim() == first || first.contains('-') || rest.contains(',');
            let list = if rest.contains(',') { rest } else { first };
            (whole.then_some(list)?, None)
        }
    };
    let place = |name: &str| {
        let before = name.as_ptr().addr() - comment.as_ptr().addr();
        let from = start + u32::try_from(before).ok()?;
        let len = u32::try_from(name.len()).ok()?;
        Some(Span {
            start: from,
            end: from + len,
        })
    };
    let names: Option<Vec<_>> = list
        .split(',')
        .map(str::trim)
        .filter(|name| !name.is_empty())
        .map(|name| Some((name, place(name)?)))
        .collect();
    let names = names?;
    let exists = |name: &str| crate::find(name).is_some();
    let seems = |name: &str| {
        exists(name) || reason.is_some() && name.contains('-') && crate::nearest(name).is_some()
    };
    let ours = names.iter().all(|(name, _)| !name.contains(' '))
        && names.iter().any(|(name, _)| seems(name));
    let has_reason = reason.is_some_and(|why| why.chars().any(char::is_alphanumeric));
    ours.then_some((names, has_reason))
}

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for allow in allows(plan) {
        let at = |span| At {
            line: allow.line,
            span,
        };
        for &(name, span) in &allow.names {
            if crate::find(name).is_none() {
                let mut finding = Finding::new(&CHECK, at(span), unknown(name));
                if let Some(near) = crate::nearest(name) {
                    let edits = vec![edit::replace(plan, at(span), near.name)];
                    finding = finding.fix(format!("Write {}", near.name), edits);
                }
                findings.push(finding);
            }
        }
        if !allow.has_reason
            && let Some((name, _)) = allow.names.first()
        {
            let message = format!(
                "Without a reason nothing is allowed: write why after a colon, `# allow {name}: …`."
            );
            findings.push(Finding::new(&CHECK, at(allow.span), message));
        }
    }
}

/// A way to allow a finding where it is. None for what cannot be allowed, and where it is being allowed already.
#[must_use]
pub fn allow_here(plan: &Plan, finding: &Finding) -> Option<Fix> {
    let check = finding.check;
    if is_unread(finding) || [CHECK.name, allow_not_needed::CHECK.name].contains(&check) {
        return None;
    }
    let index = finding.at.line;
    let line = plan.text.lines.get(index as usize)?;
    let begun = |allow: &Allow<'_>| {
        allow.about == Some(index) && allow.names.iter().any(|(name, _)| *name == check)
    };
    if line.statement == Statement::Blank || allows(plan).iter().any(begun) {
        return None;
    }
    let comment = format!("# allow {check}: ");
    let edit = match line.comment {
        Some(_) => edit::insert_before(plan, index, &[comment])?,
        None => edit::append(plan, index, &format!("  {comment}"))?,
    };
    Some(Fix {
        title: format!("Allow this here, with a reason: # allow {check}"),
        edits: vec![edit],
        preferred: false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    #[test]
    fn a_reason_is_asked_for() {
        expect(
            &CHECK,
            "
plan A
steps
  stir for 1 h   # allow hot-limit
                 ^^^^^^^^^^^^^^^^^ warning: Without a reason
  stir for 2 h   # allow hot-limit because it is small
                 ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ warning: Without a reason
  stir for 3 h   # allow hot-limit: …
                 ^^^^^^^^^^^^^^^^^^^^ warning: Without a reason
  stir for 4 h   # allow hot-limit, toxic-gas,: 5 mg, in the hood
",
        );
    }

    #[test]
    fn a_check_that_does_not_exist_is_named() {
        let plan = "
plan A
steps
  stir for 1 h   # allow hot-limmit: 5 mg
                         ^^^^^^^^^^ warning: There is no check `hot-limmit`: did you mean `hot-limit`?
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "plan A\nsteps\n  stir for 1 h   # allow hot-limit: 5 mg",
        );
    }

    #[test]
    fn remarks_that_begin_alike_are_remarks() {
        expect(
            &CHECK,
            "
plan A
steps
  stir for 1 h   # allow to warm up slowly: it foams
  stir for 1 h   # allow heating: 2 h
  stir for 1 h   # allow
  stir for 1 h   # allow ring-closure: 2 h
  stir for 1 h   # allow reading of the meter
  stir for 1 h   # allowed hot-limit
",
        );
    }

    proptest::proptest! {
        #[test]
        fn names_stand_where_they_are_said_to(rest in "[ ,:#a-zµ\u{a0}…-]{0,12}(hot-limit|toxic-gas|unit)[ ,:#a-zµ…-]{0,12}") {
            let text = format!("plan A\nsteps\n  stir für 1 h  # allow {rest}\n");
            let plan = Plan::read(&text);
            for allow in allows(&plan) {
                for (name, span) in allow.names {
                    proptest::prop_assert_eq!(plan.slice(allow.line, span), Some(name));
                }
            }
        }
    }
}
