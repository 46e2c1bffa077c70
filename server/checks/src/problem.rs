//! Findings from what the reader of the text reports.

use crate::{Check, Finding, Severity, edit};
use plan::{At, Plan};

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
            let at = At { line: index, span: problem.span };
            let mut finding = Finding::new(check, at, problem.message.clone()).severity(severity(problem.severity));
            for mend in &problem.fixes {
                let edits = mend.edits.iter();
                let edits = edits.map(|(span, text)| edit::replace(plan, At { line: index, span: *span }, text));
                finding = finding.fix(mend.title.clone(), edits.collect());
            }
            findings.push(finding);
        }
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
