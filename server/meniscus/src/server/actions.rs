//! Code actions: what the editor offers to do for the place at the cursor.

use super::abilities::Abilities;
use super::documents::Open;
use super::render;
use crate::positions::to_offsets;
use ide::{Action, ActionKind};
use std::collections::HashMap;
use tower_lsp::lsp_types::{
    CodeAction, CodeActionKind, CodeActionOrCommand, CodeActionParams, CodeActionResponse,
    Diagnostic, DocumentChanges, OneOf, OptionalVersionedTextDocumentIdentifier, TextDocumentEdit,
    TextEdit, Url, WorkspaceEdit,
};

/// The actions for a range. None for a client that knows commands only: ours carry their edits.
pub(super) fn actions(
    open: &Open,
    params: &CodeActionParams,
    abilities: &Abilities,
) -> CodeActionResponse {
    if !abilities.action_literals {
        return Vec::new();
    }
    let document = &open.document;
    let uri = &params.text_document.uri;
    let range = to_offsets(document.rope(), params.range, abilities.encoding);
    let findings = document.findings();
    let wanted = |action: &Action| match &params.context.only {
        Some(only) => only.iter().any(|only| includes(only, &kind(action.kind))),
        None => true,
    };
    document
        .actions(range)
        .into_iter()
        .filter(wanted)
        .map(|action| {
            let finding = action.fixes.and_then(|index| findings.get(index));
            let mended = finding.map(|finding| {
                let diagnostic = render::diagnostic(finding, document.rope(), uri, abilities);
                vec![as_the_client_has_it(
                    diagnostic,
                    &params.context.diagnostics,
                )]
            });
            let edits = render::edits(&action.edits, document.rope(), abilities.encoding);
            CodeActionOrCommand::CodeAction(CodeAction {
                title: action.title,
                kind: Some(kind(action.kind)),
                diagnostics: mended,
                edit: Some(workspace_edit(uri, open.version, edits, abilities)),
                is_preferred: (abilities.preferred_actions && action.preferred).then_some(true),
                ..CodeAction::default()
            })
        })
        .collect()
}

fn kind(kind: ActionKind) -> CodeActionKind {
    match kind {
        ActionKind::Fix => CodeActionKind::QUICKFIX,
        ActionKind::Rescale => CodeActionKind::REFACTOR_REWRITE,
    }
}

/// Kinds are a hierarchy: `refactor` includes `refactor.rewrite`, and the empty kind everything.
fn includes(only: &CodeActionKind, kind: &CodeActionKind) -> bool {
    let only = only.as_str();
    match kind.as_str().strip_prefix(only) {
        Some(rest) => only.is_empty() || rest.is_empty() || rest.starts_with('.'),
        None => false,
    }
}

/// The client recognises its own copy of a finding, to which it may have added fields.
fn as_the_client_has_it(diagnostic: Diagnostic, sent: &[Diagnostic]) -> Diagnostic {
    sent.iter()
        .find(|sent| {
            sent.range == diagnostic.range
                && sent.code == diagnostic.code
                && sent.message == diagnostic.message
        })
        .cloned()
        .unwrap_or(diagnostic)
}

fn workspace_edit(
    uri: &Url,
    version: i32,
    edits: Vec<TextEdit>,
    abilities: &Abilities,
) -> WorkspaceEdit {
    if !abilities.versioned_edits {
        return WorkspaceEdit::new(HashMap::from([(uri.clone(), edits)]));
    }
    WorkspaceEdit {
        document_changes: Some(DocumentChanges::Edits(vec![TextDocumentEdit {
            text_document: OptionalVersionedTextDocumentIdentifier {
                uri: uri.clone(),
                version: Some(version),
            },
            edits: edits.into_iter().map(OneOf::Left).collect(),
        }])),
        ..WorkspaceEdit::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_are_a_hierarchy() {
        for (only, kind, expected) in [
            ("", CodeActionKind::QUICKFIX, true),
            ("quickfix", CodeActionKind::QUICKFIX, true),
            ("refactor", CodeActionKind::REFACTOR_REWRITE, true),
            ("refactor.rewrite", CodeActionKind::REFACTOR_REWRITE, true),
            (
                "refactor.rewrite.x",
                CodeActionKind::REFACTOR_REWRITE,
                false,
            ),
            ("refactor.re", CodeActionKind::REFACTOR_REWRITE, false),
            ("source", CodeActionKind::QUICKFIX, false),
        ] {
            assert_eq!(
                includes(&CodeActionKind::from(only), &kind),
                expected,
                "{only}"
            );
        }
    }
}
