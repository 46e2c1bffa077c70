//! Making problems: every code has one severity, every message names what was written.

use crate::ast::Span;
use crate::plan_text::{Mend, Problem, Severity};

impl Problem {
    pub(crate) fn new(code: &'static str, span: Span, message: impl Into<String>) -> Self {
        Problem {
            code,
            severity: severity(code),
            span,
            message: message.into(),
            fixes: Vec::new(),
        }
    }

    /// With a way to mend it that replaces one stretch.
    pub(crate) fn mend(
        mut self,
        title: impl Into<String>,
        span: Span,
        text: impl Into<String>,
    ) -> Self {
        self.fixes.push(Mend {
            title: title.into(),
            edits: vec![(span, text.into())],
        });
        self
    }
}

/// How grave a problem is. What has no value, or a reading that was not meant, is an error; what was
/// read as it was meant is at most a warning.
fn severity(code: &str) -> Severity {
    match code {
        "no-colon"
        | "no-space-after-colon"
        | "trailing-comma"
        | "unknown-verb"
        | "unlisted-vessel"
        | "key-or-formula" => Severity::Hint,
        "no-plan-line" | "no-entries" => Severity::Information,
        "missing-comma"
        | "which-percent"
        | "space-in-locants"
        | "header-stands-alone"
        | "unknown-field"
        | "expect-outside-products"
        | "step-outside-steps"
        | "entry-outside-block"
        | "bad-field"
        | "key-differs-by-case"
        | "object-after-modifier"
        | "verb-first"
        | "percent-of-product"
        | "misspelt-verb"
        | "unread-line"
        | "missing-text"
        | "invisible-character"
        | "start-needs-time" => Severity::Warning,
        _ => Severity::Error,
    }
}

/// Words of the plan for a message: in backticks, and cut where they are long.
pub(crate) fn quoted(words: &str) -> String {
    const LONGEST: usize = 60;
    match words.char_indices().nth(LONGEST) {
        Some((at, _)) => format!("`{}…`", words.get(..at).unwrap_or_default()),
        None => format!("`{words}`"),
    }
}
