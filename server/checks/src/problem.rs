//! Findings from what the reader of the text reports.

use crate::{Check, Finding, Severity, edit};
use plan::{At, Material, Plan};
use syntax::Span;

/// One finding for each problem of the text that is wanted, with its ways to mend it as fixes.
pub(crate) fn report(
    check: &Check,
    plan: &Plan,
    findings: &mut Vec<Finding>,
    wanted: impl Fn(&str) -> bool,
) {
    for (line, index) in plan.text.lines.iter().zip(0u32..) {
        for problem in &line.problems {
            if !wanted(problem.code) {
                continue;
            }
            let at = At {
                line: index,
                span: visible(plan, index, problem.span),
            };
            if problem.code == "key-or-formula" && is_the_same(plan, at) {
                continue;
            }
            let mut finding = Finding::new(check, at, problem.message.clone())
                .severity(severity(problem.severity));
            for mend in &problem.fixes {
                let edits = mend.edits.iter();
                let edits = edits.map(|(span, text)| {
                    edit::replace(
                        plan,
                        At {
                            line: index,
                            span: *span,
                        },
                        text,
                    )
                });
                finding = finding.fix(mend.title.clone(), edits.collect());
            }
            findings.push(if finding.fixes.len() > 1 {
                finding.undecided()
            } else {
                finding
            });
        }
    }
}

/// `HCl` in the equation beside a key `hcl` for hydrogen chloride: key and formula mean one substance.
fn is_the_same(plan: &Plan, at: At) -> bool {
    let Some(word) = plan.slice(at.line, at.span) else {
        return false;
    };
    let named = |material: &&Material| material.key.text.eq_ignore_ascii_case(word);
    let own = plan.materials.iter().find(named);
    let own = own.and_then(|material| material.identity.formula.as_ref());
    let written = chemistry::Formula::parse(word).ok();
    own.zip(written)
        .is_some_and(|(own, written)| own.same_composition(&written))
}

impl Finding {
    /// Whose fixes mean different things: the writer has to choose.
    pub(crate) fn undecided(mut self) -> Finding {
        self.fixes.iter_mut().for_each(|fix| fix.preferred = false);
        self
    }
}

fn severity(severity: syntax::Severity) -> Severity {
    match severity {
        syntax::Severity::Error => Severity::Error,
        syntax::Severity::Warning => Severity::Warning,
        syntax::Severity::Information => Severity::Information,
        syntax::Severity::Hint => Severity::Hint,
    }
}

/// A gap where something is missing cannot be seen: the word after it stands for it, or the word before.
fn visible(plan: &Plan, line: u32, span: Span) -> Span {
    if span.start < span.end {
        return span;
    }
    let whole = |start, end| plan.slice(line, Span { start, end }).unwrap_or("");
    let length = plan
        .text
        .lines
        .get(line as usize)
        .map_or(0, |line| line.len);
    let (before, after) = (whole(0, span.start), whole(span.start, length));
    let bytes = |text: &str| u32::try_from(text.len()).unwrap_or(0);
    let next = after.trim_start();
    let start = span.start + bytes(after) - bytes(next);
    match next.split_whitespace().next() {
        Some(word) => Span {
            start,
            end: start + bytes(word),
        },
        None => {
            let end = bytes(before.trim_end());
            let word = before.split_whitespace().next_back().unwrap_or("");
            Span {
                start: end - bytes(word),
                end,
            }
        }
    }
}
