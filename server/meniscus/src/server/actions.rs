//! Code actions: what the editor offers to do for the place at the cursor.

use super::abilities::Abilities;
use super::documents::Open;
use super::render;
use crate::positions::to_offsets;
use ide::{Action, ActionKind, EditGroup, Group, Renaming};
use std::collections::HashMap;
use tower_lsp::lsp_types::{
    AnnotatedTextEdit, ChangeAnnotation, CodeAction, CodeActionKind, CodeActionOrCommand,
    CodeActionParams, CodeActionResponse, Diagnostic, DocumentChanges, OneOf,
    OptionalVersionedTextDocumentIdentifier, TextDocumentEdit, TextEdit, Url, WorkspaceEdit,
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
    let sent = &params.context.diagnostics;
    let takes_all = takes_all_that_it_is_offered(params);
    let mut mended_already = Vec::new();
    document
        .actions(range)
        .into_iter()
        .filter(wanted)
        .filter_map(|action| {
            let finding = action.fixes.and_then(|index| findings.get(index));
            let mended = finding.map(|finding| {
                let diagnostic = render::diagnostic(finding, document.rope(), uri, abilities);
                as_the_client_has_it(diagnostic, sent)
            });
            if takes_all {
                let mended = mended.as_ref()?;
                let is_second = mended_already.contains(mended);
                if !sent.contains(mended) || is_second || action.kind == ActionKind::Allow {
                    return None;
                }
                mended_already.push(mended.clone());
            }
            Some((action, mended))
        })
        .map(|(action, mended)| {
            let edit = match action.kind {
                ActionKind::Fix | ActionKind::Allow | ActionKind::Run => {
                    let edits = render::edits(&action.edits, document.rope(), abilities.encoding);
                    workspace_edit(uri, open.version, edits, abilities)
                }
                ActionKind::Rescale => {
                    rescaling_edit(open, uri, &action.groups, |_| false, abilities)
                }
            };
            CodeActionOrCommand::CodeAction(CodeAction {
                title: action.title,
                kind: Some(kind(action.kind)),
                diagnostics: mended.map(|mended| vec![mended]),
                edit: Some(edit),
                is_preferred: (abilities.preferred_actions && action.preferred).then_some(true),
                ..CodeAction::default()
            })
        })
        .collect()
}

/// Whether the client asks for fixes of findings over a stretch far beyond them, as one does that takes whatever comes
/// back: it is given the first fix of each, and nothing else.
fn takes_all_that_it_is_offered(params: &CodeActionParams) -> bool {
    let lines = params.context.diagnostics.iter().map(|sent| sent.range);
    let around = lines
        .map(|range| (range.start.line, range.end.line))
        .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
    around.is_some_and(|(first, last)| {
        params.range.start.line < first || params.range.end.line > last + 1
    })
}

fn kind(kind: ActionKind) -> CodeActionKind {
    match kind {
        ActionKind::Fix | ActionKind::Allow => CodeActionKind::QUICKFIX,
        ActionKind::Rescale | ActionKind::Run => CodeActionKind::REFACTOR_REWRITE,
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
    versioned(uri, version, edits.into_iter().map(OneOf::Left).collect())
}

fn versioned(
    uri: &Url,
    version: i32,
    edits: Vec<OneOf<TextEdit, AnnotatedTextEdit>>,
) -> WorkspaceEdit {
    WorkspaceEdit {
        document_changes: Some(DocumentChanges::Edits(vec![TextDocumentEdit {
            text_document: OptionalVersionedTextDocumentIdentifier {
                uri: uri.clone(),
                version: Some(version),
            },
            edits,
        }])),
        ..WorkspaceEdit::default()
    }
}

/// The edit of a rescaling. Where the client knows annotations, the groups that nobody has agreed to are in it, and
/// it asks about them; elsewhere they are left out.
pub(super) fn rescaling_edit(
    open: &Open,
    uri: &Url,
    groups: &[EditGroup],
    agreed: impl Fn(Group) -> bool,
    abilities: &Abilities,
) -> WorkspaceEdit {
    let text = open.document.rope();
    let asked = |group: &EditGroup| group.optional && !agreed(group.group);
    if !abilities.annotations {
        let certain = groups.iter().filter(|group| !asked(group));
        let mut edits: Vec<_> = certain.flat_map(|group| group.edits.clone()).collect();
        edits.sort_by_key(|edit| edit.range.start);
        let edits = render::edits(&edits, text, abilities.encoding);
        return workspace_edit(uri, open.version, edits, abilities);
    }
    let mut edits = Vec::new();
    let mut annotations = HashMap::new();
    for group in groups {
        let id = match asked(group) {
            true => format!("{}-optional", group.group.id()),
            false => group.group.id().to_owned(),
        };
        let annotation = ChangeAnnotation {
            label: group.group.label().to_owned(),
            needs_confirmation: Some(asked(group)),
            description: Some(group.description.clone()),
        };
        annotations.insert(id.clone(), annotation);
        let of_group = render::edits(&group.edits, text, abilities.encoding);
        edits.extend(of_group.into_iter().map(|text_edit| AnnotatedTextEdit {
            text_edit,
            annotation_id: id.clone(),
        }));
    }
    edits.sort_by_key(|edit| edit.text_edit.range.start);
    WorkspaceEdit {
        change_annotations: Some(annotations),
        ..versioned(
            uri,
            open.version,
            edits.into_iter().map(OneOf::Right).collect(),
        )
    }
}

/// The edit of a renaming. Words of free text are renamed only where the client can ask about them.
pub(super) fn renaming_edit(
    open: &Open,
    uri: &Url,
    renaming: &Renaming,
    abilities: &Abilities,
) -> WorkspaceEdit {
    let edits = |edits| render::edits(edits, open.document.rope(), abilities.encoding);
    if !abilities.annotations || renaming.optional.is_empty() {
        return workspace_edit(uri, open.version, edits(&renaming.edits), abilities);
    }
    const MENTIONS: &str = "mentions";
    let annotation = ChangeAnnotation {
        label: "In the title, comments and free text".to_owned(),
        needs_confirmation: Some(true),
        description: Some("Where the word may mean this key, or something else".to_owned()),
    };
    let optional = edits(&renaming.optional).into_iter();
    let optional = optional.map(|text_edit| {
        OneOf::Right(AnnotatedTextEdit {
            text_edit,
            annotation_id: MENTIONS.to_owned(),
        })
    });
    let certain = edits(&renaming.edits).into_iter().map(OneOf::Left);
    WorkspaceEdit {
        change_annotations: Some(HashMap::from([(MENTIONS.to_owned(), annotation)])),
        ..versioned(uri, open.version, certain.chain(optional).collect())
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
