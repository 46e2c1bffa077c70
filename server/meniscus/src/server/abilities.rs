//! What the client can do, as it said when it connected, and what we answer.

use super::commands::RESCALE;
use super::tokens;
use crate::positions::Encoding;
use serde_json::Value;
use tower_lsp::lsp_types::{
    ClientCapabilities, CodeActionKind, CodeActionOptions, CodeActionProviderCapability,
    CodeLensOptions, CompletionOptions, DiagnosticOptions, DiagnosticServerCapabilities,
    DocumentLinkOptions, DocumentOnTypeFormattingOptions, ExecuteCommandOptions,
    FoldingRangeProviderCapability, HoverProviderCapability, MarkupKind, OneOf, RenameOptions,
    SelectionRangeProviderCapability, ServerCapabilities, SignatureHelpOptions,
    TextDocumentSyncCapability, TextDocumentSyncKind, TextDocumentSyncOptions,
    TextDocumentSyncSaveOptions, Url, WorkDoneProgressOptions, WorkspaceFoldersServerCapabilities,
    WorkspaceServerCapabilities,
};

/// The parts of the client's capabilities that change what we send.
#[derive(Clone, Debug)]
pub(super) struct Abilities {
    pub(super) encoding: Encoding,
    /// Shows Markdown, rather than plain text only.
    pub(super) markdown: bool,
    /// A finding may point at further places.
    pub(super) related_information: bool,
    /// A finding may say that its text could as well be gone.
    pub(super) finding_tags: bool,
    /// Findings may say which version of the document they are of.
    pub(super) diagnostic_version: bool,
    /// Asks for the findings of documents itself, so that none are published.
    pub(super) pulls: bool,
    /// An action may carry its edits, rather than only name a command.
    pub(super) action_literals: bool,
    /// An action may be marked as the one to take.
    pub(super) preferred_actions: bool,
    /// Edits may say which version of the document they are for.
    pub(super) versioned_edits: bool,
    /// Edits may say what they are about, and be agreed to apart.
    pub(super) annotations: bool,
    /// The server may have edits applied.
    pub(super) applies_edits: bool,
    /// The client asks for a goal to rescale to when it is told to.
    pub(super) asks: bool,
    /// Asks where something can be renamed before it asks for a name.
    pub(super) prepares_rename: bool,
    /// Symbols may be a tree.
    pub(super) symbol_tree: bool,
    /// Files may be watched for us.
    pub(super) watched_files: bool,
    /// Hints may be asked for anew.
    pub(super) hint_refresh: bool,
    /// The client tells its settings when it is asked.
    pub(super) configuration: bool,
    /// It can be told to say when they change.
    pub(super) configuration_told: bool,
    /// Where the checks are described, each under its name: a finding may lead there.
    pub(super) reference: Option<Url>,
}

impl Default for Abilities {
    /// What a client that says nothing can do.
    fn default() -> Self {
        Abilities::of(&ClientCapabilities::default(), None)
    }
}

impl Abilities {
    /// From what the client can do, and its initialization options.
    pub(super) fn of(client: &ClientCapabilities, options: Option<&Value>) -> Abilities {
        let general = client.general.as_ref();
        let workspace = client.workspace.as_ref();
        let document = client.text_document.as_ref();
        let hover = document.and_then(|document| document.hover.as_ref());
        let findings = document.and_then(|document| document.publish_diagnostics.as_ref());
        let action = document.and_then(|document| document.code_action.as_ref());
        let rename = document.and_then(|document| document.rename.as_ref());
        let symbol = document.and_then(|document| document.document_symbol.as_ref());
        let edit = workspace.and_then(|workspace| workspace.workspace_edit.as_ref());
        let yes = |ability: Option<bool>| ability.unwrap_or(false);
        Abilities {
            encoding: Encoding::negotiate(
                general.and_then(|general| general.position_encodings.as_deref()),
            ),
            markdown: hover
                .and_then(|hover| hover.content_format.as_ref())
                .is_some_and(|formats| formats.contains(&MarkupKind::Markdown)),
            related_information: yes(findings.and_then(|findings| findings.related_information)),
            finding_tags: findings.is_some_and(|findings| findings.tag_support.is_some()),
            diagnostic_version: yes(findings.and_then(|findings| findings.version_support)),
            pulls: document.is_some_and(|document| document.diagnostic.is_some()),
            action_literals: action
                .is_some_and(|action| action.code_action_literal_support.is_some()),
            preferred_actions: yes(action.and_then(|action| action.is_preferred_support)),
            versioned_edits: yes(edit.and_then(|edit| edit.document_changes)),
            annotations: yes(edit.and_then(|edit| edit.document_changes))
                && edit.is_some_and(|edit| edit.change_annotation_support.is_some()),
            applies_edits: yes(workspace.and_then(|workspace| workspace.apply_edit)),
            asks: yes(options.and_then(|options| options.get("asks")?.as_bool())),
            watched_files: yes(workspace
                .and_then(|workspace| workspace.did_change_watched_files)
                .and_then(|watched| watched.dynamic_registration)),
            hint_refresh: yes(workspace
                .and_then(|workspace| workspace.inlay_hint.as_ref())
                .and_then(|hints| hints.refresh_support)),
            configuration: yes(workspace.and_then(|workspace| workspace.configuration)),
            configuration_told: yes(workspace
                .and_then(|workspace| workspace.did_change_configuration)
                .and_then(|changes| changes.dynamic_registration)),
            reference: findings
                .filter(|findings| findings.code_description_support == Some(true))
                .and_then(|_| options?.get("reference")?.as_str()?.parse().ok()),
            prepares_rename: yes(rename.and_then(|rename| rename.prepare_support)),
            symbol_tree: yes(symbol.and_then(|symbol| symbol.hierarchical_document_symbol_support)),
        }
    }

    /// What the server offers this client.
    pub(super) fn answer(&self) -> ServerCapabilities {
        ServerCapabilities {
            position_encoding: Some(self.encoding.kind()),
            text_document_sync: Some(TextDocumentSyncCapability::Options(
                TextDocumentSyncOptions {
                    open_close: Some(true),
                    change: Some(TextDocumentSyncKind::INCREMENTAL),
                    save: Some(TextDocumentSyncSaveOptions::Supported(true)),
                    ..TextDocumentSyncOptions::default()
                },
            )),
            hover_provider: Some(HoverProviderCapability::Simple(true)),
            inlay_hint_provider: Some(OneOf::Left(true)),
            code_action_provider: Some(self.code_actions()),
            document_symbol_provider: Some(OneOf::Left(true)),
            completion_provider: Some(CompletionOptions {
                // What fits changes behind a space or a comma, not only with a first letter.
                trigger_characters: Some(vec![" ".to_owned(), ",".to_owned(), ":".to_owned()]),
                ..CompletionOptions::default()
            }),
            code_lens_provider: Some(CodeLensOptions {
                resolve_provider: Some(false),
            }),
            execute_command_provider: Some(ExecuteCommandOptions {
                commands: vec![RESCALE.to_owned()],
                ..ExecuteCommandOptions::default()
            }),
            definition_provider: Some(OneOf::Left(true)),
            document_formatting_provider: Some(OneOf::Left(true)),
            document_range_formatting_provider: Some(OneOf::Left(true)),
            document_on_type_formatting_provider: Some(DocumentOnTypeFormattingOptions {
                first_trigger_character: "\n".to_owned(),
                more_trigger_character: None,
            }),
            folding_range_provider: Some(FoldingRangeProviderCapability::Simple(true)),
            selection_range_provider: Some(SelectionRangeProviderCapability::Simple(true)),
            document_highlight_provider: Some(OneOf::Left(true)),
            references_provider: Some(OneOf::Left(true)),
            rename_provider: Some(match self.prepares_rename {
                true => OneOf::Right(RenameOptions {
                    prepare_provider: Some(true),
                    work_done_progress_options: WorkDoneProgressOptions::default(),
                }),
                false => OneOf::Left(true),
            }),
            workspace_symbol_provider: Some(OneOf::Left(true)),
            document_link_provider: Some(DocumentLinkOptions {
                resolve_provider: Some(false),
                work_done_progress_options: WorkDoneProgressOptions::default(),
            }),
            signature_help_provider: Some(SignatureHelpOptions {
                trigger_characters: Some(vec![" ".to_owned()]),
                ..SignatureHelpOptions::default()
            }),
            diagnostic_provider: self.pulls.then_some(DiagnosticServerCapabilities::Options(
                DiagnosticOptions {
                    identifier: None,
                    // An inventory or settings that change give other findings.
                    inter_file_dependencies: true,
                    workspace_diagnostics: true,
                    work_done_progress_options: WorkDoneProgressOptions {
                        work_done_progress: Some(true),
                    },
                },
            )),
            semantic_tokens_provider: Some(tokens::options().into()),
            workspace: Some(WorkspaceServerCapabilities {
                workspace_folders: Some(WorkspaceFoldersServerCapabilities {
                    supported: Some(true),
                    change_notifications: Some(OneOf::Left(true)),
                }),
                file_operations: None,
            }),
            ..ServerCapabilities::default()
        }
    }

    fn code_actions(&self) -> CodeActionProviderCapability {
        if !self.action_literals {
            return CodeActionProviderCapability::Simple(true);
        }
        CodeActionProviderCapability::Options(CodeActionOptions {
            code_action_kinds: Some(vec![
                CodeActionKind::QUICKFIX,
                CodeActionKind::REFACTOR_REWRITE,
            ]),
            ..CodeActionOptions::default()
        })
    }
}
