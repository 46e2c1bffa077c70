//! What `ide` says, in the protocol's words.

use super::abilities::Abilities;
use crate::positions::{Encoding, to_position, to_range};
use ide::{CompletionKind, Finding, Severity, Symbol, TextEdit};
use ropey::Rope;
use std::hash::{DefaultHasher, Hash, Hasher};
use tower_lsp::lsp_types::{
    self as lsp, CodeDescription, CompletionItem, CompletionItemKind, CompletionList,
    CompletionResponse, CompletionTextEdit, Diagnostic, DiagnosticRelatedInformation,
    DiagnosticSeverity, DiagnosticTag, DocumentDiagnosticReport, DocumentLink,
    DocumentSymbolResponse, Documentation, FoldingRange, FoldingRangeKind,
    FullDocumentDiagnosticReport, HoverContents, InlayHintLabel, InlayHintTooltip, Location,
    MarkupContent, MarkupKind, NumberOrString, ParameterInformation, ParameterLabel,
    RelatedFullDocumentDiagnosticReport, RelatedUnchangedDocumentDiagnosticReport, SelectionRange,
    SignatureHelp, SignatureInformation, SymbolKind, UnchangedDocumentDiagnosticReport, Url,
};

/// Findings of a text.
pub(super) fn diagnostics(
    findings: &[Finding],
    text: &Rope,
    uri: &Url,
    abilities: &Abilities,
) -> Vec<Diagnostic> {
    findings
        .iter()
        .map(|finding| diagnostic(finding, text, uri, abilities))
        .collect()
}

/// One finding.
pub(super) fn diagnostic(
    finding: &Finding,
    text: &Rope,
    uri: &Url,
    abilities: &Abilities,
) -> Diagnostic {
    let related = finding
        .related
        .iter()
        .map(|(range, message)| DiagnosticRelatedInformation {
            location: Location::new(uri.clone(), to_range(text, range, abilities.encoding)),
            message: message.clone(),
        });
    let unnecessary = abilities.finding_tags && checks::is_unnecessary(finding.check);
    let related: Option<Vec<_>> = abilities.related_information.then(|| related.collect());
    let described = || {
        // A mistake in a file beside the plans is no check.
        checks::find(finding.check)?;
        let mut href = abilities.reference.clone()?;
        href.set_fragment(Some(finding.check));
        Some(CodeDescription { href })
    };
    Diagnostic {
        code_description: described(),
        range: to_range(text, &finding.range, abilities.encoding),
        severity: Some(severity(finding.severity)),
        code: Some(NumberOrString::String(finding.check.to_owned())),
        source: Some(super::SOURCE.to_owned()),
        message: finding.message.clone(),
        related_information: related.filter(|related| !related.is_empty()),
        tags: unnecessary.then(|| vec![DiagnosticTag::UNNECESSARY]),
        ..Diagnostic::default()
    }
}

/// What could stand at a place, in the order in which it is to be shown.
pub(super) fn completions(
    found: ide::Completions,
    text: &Rope,
    encoding: Encoding,
) -> CompletionResponse {
    let range = to_range(text, &found.range, encoding);
    let typed = text.byte_slice(found.range).to_string();
    let items = found.items.into_iter().zip(0..);
    let items = items.map(|(item, place)| CompletionItem {
        kind: Some(match item.kind {
            CompletionKind::Word => CompletionItemKind::KEYWORD,
            CompletionKind::Verb => CompletionItemKind::FUNCTION,
            CompletionKind::Key => CompletionItemKind::VARIABLE,
            CompletionKind::Substance => CompletionItemKind::CLASS,
            CompletionKind::Strength => CompletionItemKind::VALUE,
            CompletionKind::Bottle => CompletionItemKind::REFERENCE,
            CompletionKind::Unit => CompletionItemKind::UNIT,
        }),
        detail: (!item.detail.is_empty()).then_some(item.detail),
        sort_text: Some(format!("{place:03}")),
        // `nbuli` finds `n-BuLi`, which an editor that compares letters would drop again.
        filter_text: found.incomplete.then(|| typed.clone()),
        text_edit: Some(CompletionTextEdit::Edit(lsp::TextEdit {
            range,
            new_text: item.text.clone(),
        })),
        label: item.text,
        ..CompletionItem::default()
    });
    CompletionResponse::List(CompletionList {
        is_incomplete: found.incomplete,
        items: items.collect(),
    })
}

fn severity(severity: Severity) -> DiagnosticSeverity {
    match severity {
        Severity::Error => DiagnosticSeverity::ERROR,
        Severity::Warning => DiagnosticSeverity::WARNING,
        Severity::Information => DiagnosticSeverity::INFORMATION,
        Severity::Hint => DiagnosticSeverity::HINT,
    }
}

/// What our own Markdown says, without its marks: stars that are the plan's are escaped.
fn plain(markdown: &str) -> String {
    let mut out = String::with_capacity(markdown.len());
    let mut chars = markdown.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '\\' => out.extend(chars.next()),
            '*' if chars.peek() == Some(&'*') => {
                chars.next();
            }
            _ => out.push(c),
        }
    }
    out
}

fn markup(markdown: String, abilities: &Abilities) -> MarkupContent {
    let (kind, value) = if abilities.markdown {
        (MarkupKind::Markdown, markdown)
    } else {
        (MarkupKind::PlainText, plain(&markdown))
    };
    MarkupContent { kind, value }
}

/// A hover. A client that shows plain text only gets the Markdown as it stands, which reads well enough.
pub(super) fn hover(hover: ide::Hover, text: &Rope, abilities: &Abilities) -> lsp::Hover {
    lsp::Hover {
        contents: HoverContents::Markup(markup(hover.markdown, abilities)),
        range: Some(to_range(text, &hover.range, abilities.encoding)),
    }
}

/// A hint between the words of a line.
pub(super) fn hint(hint: ide::Hint, text: &Rope, abilities: &Abilities) -> lsp::InlayHint {
    lsp::InlayHint {
        position: to_position(text, hint.at, abilities.encoding),
        label: InlayHintLabel::String(hint.label),
        kind: None,
        text_edits: None,
        tooltip: hint
            .tooltip
            .map(|tooltip| InlayHintTooltip::MarkupContent(markup(tooltip, abilities))),
        padding_left: Some(true),
        padding_right: None,
        data: None,
    }
}

/// Edits of one document.
pub(super) fn edits(edits: &[TextEdit], text: &Rope, encoding: Encoding) -> Vec<lsp::TextEdit> {
    edits
        .iter()
        .map(|edit| {
            lsp::TextEdit::new(to_range(text, &edit.range, encoding), edit.new_text.clone())
        })
        .collect()
}

/// Lines that fold. An end at column 0 would be of the next line, so columns are left out.
pub(super) fn folds(folds: Vec<ide::Fold>, text: &Rope, encoding: Encoding) -> Vec<FoldingRange> {
    let fold = |fold: ide::Fold| {
        let range = to_range(text, &fold.range, encoding);
        FoldingRange {
            start_line: range.start.line,
            end_line: range.end.line,
            kind: fold.comment.then_some(FoldingRangeKind::Comment),
            ..FoldingRange::default()
        }
    };
    folds.into_iter().map(fold).collect()
}

/// What encloses a place, from the inside out.
pub(super) fn selection(
    ranges: Vec<std::ops::Range<usize>>,
    text: &Rope,
    encoding: Encoding,
) -> SelectionRange {
    let outer = |parent: Option<Box<SelectionRange>>, range: std::ops::Range<usize>| {
        let range = to_range(text, &range, encoding);
        Some(Box::new(SelectionRange { range, parent }))
    };
    let whole = SelectionRange {
        range: lsp::Range::default(),
        parent: None,
    };
    ranges
        .into_iter()
        .rev()
        .fold(None, outer)
        .map_or(whole, |range| *range)
}

/// The outline of a document, as a tree or, for a client that cannot show one, as a list.
pub(super) fn symbols(
    symbols: Vec<Symbol>,
    text: &Rope,
    uri: &Url,
    abilities: &Abilities,
) -> DocumentSymbolResponse {
    if abilities.symbol_tree {
        let nested = symbols
            .into_iter()
            .map(|symbol| nested(symbol, text, abilities.encoding));
        return DocumentSymbolResponse::Nested(nested.collect());
    }
    let mut list = Vec::new();
    flatten(symbols, None, text, uri, abilities.encoding, &mut list);
    DocumentSymbolResponse::Flat(list)
}

#[expect(
    deprecated,
    reason = "the protocol's type cannot be built without its deprecated field"
)]
fn nested(symbol: Symbol, text: &Rope, encoding: Encoding) -> lsp::DocumentSymbol {
    let children = symbol
        .children
        .into_iter()
        .map(|child| nested(child, text, encoding));
    lsp::DocumentSymbol {
        range: to_range(text, &symbol.range, encoding),
        selection_range: to_range(text, &symbol.selection, encoding),
        kind: symbol_kind(symbol.kind),
        name: name(symbol.name),
        detail: symbol.detail,
        tags: None,
        deprecated: None,
        children: Some(children.collect()),
    }
}

#[expect(
    deprecated,
    reason = "the protocol's type cannot be built without its deprecated field"
)]
fn flatten(
    symbols: Vec<Symbol>,
    container: Option<&str>,
    text: &Rope,
    uri: &Url,
    encoding: Encoding,
    list: &mut Vec<lsp::SymbolInformation>,
) {
    for symbol in symbols {
        list.push(lsp::SymbolInformation {
            location: Location::new(uri.clone(), to_range(text, &symbol.range, encoding)),
            kind: symbol_kind(symbol.kind),
            name: name(symbol.name.clone()),
            container_name: container.map(str::to_owned),
            tags: None,
            deprecated: None,
        });
        flatten(
            symbol.children,
            Some(&symbol.name),
            text,
            uri,
            encoding,
            list,
        );
    }
}

/// What a query found, with the plan that it stands in.
#[expect(
    deprecated,
    reason = "the protocol's type cannot be built without its deprecated field"
)]
pub(super) fn found_symbols(
    found: Vec<(Symbol, Option<String>)>,
    text: &Rope,
    uri: &Url,
    encoding: Encoding,
) -> Vec<lsp::SymbolInformation> {
    let found = found
        .into_iter()
        .map(|(symbol, plan)| lsp::SymbolInformation {
            location: Location::new(uri.clone(), to_range(text, &symbol.selection, encoding)),
            kind: symbol_kind(symbol.kind),
            name: name(symbol.name),
            container_name: plan,
            tags: None,
            deprecated: None,
        });
    found.collect()
}

/// The findings as an answer, or that they are those which the client has; a name for them says which they are.
pub(super) fn findings_report(
    items: Vec<Diagnostic>,
    client_has: Option<&str>,
) -> (String, DocumentDiagnosticReport) {
    let mut hasher = DefaultHasher::new();
    serde_json::to_string(&items)
        .unwrap_or_default()
        .hash(&mut hasher);
    let id = format!("{:016x}", hasher.finish());
    if client_has == Some(id.as_str()) {
        return (id.clone(), unchanged_report(id));
    }
    let report = RelatedFullDocumentDiagnosticReport {
        related_documents: None,
        full_document_diagnostic_report: FullDocumentDiagnosticReport {
            result_id: Some(id.clone()),
            items,
        },
    };
    (id, report.into())
}

/// That the client has the findings already.
pub(super) fn unchanged_report(result_id: String) -> DocumentDiagnosticReport {
    let report = UnchangedDocumentDiagnosticReport { result_id };
    RelatedUnchangedDocumentDiagnosticReport {
        related_documents: None,
        unchanged_document_diagnostic_report: report,
    }
    .into()
}

/// What a step may still say.
pub(super) fn signature(signature: ide::Signature) -> SignatureHelp {
    let part = |(shown, about): (&str, &str)| ParameterInformation {
        label: ParameterLabel::Simple(shown.to_owned()),
        documentation: Some(Documentation::String(about.to_owned())),
    };
    let active = u32::try_from(signature.active).ok();
    SignatureHelp {
        signatures: vec![SignatureInformation {
            label: signature.label,
            documentation: None,
            parameters: Some(signature.parts.into_iter().map(part).collect()),
            active_parameter: active,
        }],
        active_signature: Some(0),
        active_parameter: active,
    }
}

/// Links out of a text; what no address can hold is left out.
pub(super) fn links(links: Vec<ide::Link>, text: &Rope, encoding: Encoding) -> Vec<DocumentLink> {
    let link = |link: ide::Link| {
        Some(DocumentLink {
            range: to_range(text, &link.range, encoding),
            target: Some(Url::parse(&link.target).ok()?),
            tooltip: None,
            data: None,
        })
    };
    links.into_iter().filter_map(link).collect()
}

/// The protocol wants a name that is neither empty nor white space.
fn name(name: String) -> String {
    if name.trim().is_empty() {
        "untitled".to_owned()
    } else {
        name
    }
}

/// The protocol has no chemistry; these give each kind an icon of its own.
fn symbol_kind(kind: ide::SymbolKind) -> SymbolKind {
    match kind {
        ide::SymbolKind::Plan => SymbolKind::MODULE,
        ide::SymbolKind::Block => SymbolKind::NAMESPACE,
        ide::SymbolKind::Material => SymbolKind::VARIABLE,
        ide::SymbolKind::Product => SymbolKind::CONSTANT,
        ide::SymbolKind::Equipment => SymbolKind::OBJECT,
        ide::SymbolKind::Step => SymbolKind::EVENT,
        ide::SymbolKind::Run => SymbolKind::ENUM_MEMBER,
    }
}

#[cfg(test)]
mod tests {
    use super::plain;

    #[test]
    fn marks_are_left_out_and_signs_of_the_plan_are_kept() {
        assert_eq!(plain("**a\\*b** 2\\_3 · **1.20 g**"), "a*b 2_3 · 1.20 g");
        assert_eq!(plain("a\\"), "a");
    }
}
