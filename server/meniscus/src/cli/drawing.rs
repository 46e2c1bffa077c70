//! A finding drawn under the line that it is about.

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use ide::{Finding, Severity};
use ropey::Rope;
use std::ops::Range;
use std::path::Path;

/// The finding with its lines, marks under them, and the titles of its fixes; ends in an empty line.
pub(super) fn draw(file: &Path, finding: &Finding, text: &Rope) -> String {
    let level = match finding.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Information => Level::INFO.with_name(finding.severity.word()),
        Severity::Hint => Level::HELP.with_name(finding.severity.word()),
    };
    // A related place far away would drag everything between into the drawing.
    let snippets = std::iter::once((&finding.range, AnnotationKind::Primary, ""))
        .chain(
            finding
                .related
                .iter()
                .map(|(range, label)| (range, AnnotationKind::Context, label.as_str())),
        )
        .map(|(range, kind, label)| snippet(file, text, range, kind, label));
    let fixes = finding
        .fixes
        .iter()
        .map(|fix| Level::HELP.with_name("fix").message(fix.title.as_str()));
    let group: Group<'_> = level
        .primary_title(finding.message.as_str())
        .id(finding.check)
        .elements(snippets)
        .elements(fixes);
    Renderer::styled().render(&[group]) + "\n\n"
}

/// The lines of a range with a mark under it.
fn snippet<'a>(
    file: &Path,
    text: &Rope,
    range: &Range<usize>,
    kind: AnnotationKind,
    label: &'a str,
) -> Snippet<'a, annotate_snippets::Annotation<'a>> {
    let start = text.byte_to_char(range.start.min(text.len_bytes()));
    let end = text
        .byte_to_char(range.end.min(text.len_bytes()))
        .max(start);
    let (first, last) = (text.char_to_line(start), text.char_to_line(end));
    let lines = text.line_to_char(first)..text.line_to_char(last + 1);
    // The drawing knows only line feeds, and marks by bytes of what it is given.
    let clean = |chars: Range<usize>| {
        text.slice(chars)
            .to_string()
            .replace("\r\n", "\n")
            .replace('\r', "\n")
    };
    let before = clean(lines.start..start).len();
    let marked = clean(start..end).len();
    let mark = kind.span(before..before + marked);
    Snippet::source(clean(lines))
        .line_start(first + 1)
        .path(file.display().to_string())
        .annotation(if label.is_empty() {
            mark
        } else {
            mark.label(label)
        })
}
