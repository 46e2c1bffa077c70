//! The language server: the protocol's methods over open documents.
//!
//! Every handler does its work before its first await and none awaits the client, so the state of a document
//! is what its edits, in the order of their arrival, make it.

mod abilities;
mod actions;
mod client_process;
mod commands;
mod configuration;
mod documents;
mod publisher;
mod render;
mod tokens;
mod workspace;

use crate::log::{self, Trace};
use crate::positions::{Encoding, to_offset, to_offsets, to_range};
use crate::transport::{self, Ending, Input, Output};
use abilities::Abilities;
use configuration::Configuration;
use documents::{Documents, Due};
use ide::Document;
use publisher::Publisher;
use serde_json::Value;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, OnceLock};
use tokio::sync::Notify;
use tower_lsp::jsonrpc::{Error, ErrorCode, Result};
use tower_lsp::lsp_types::{
    CodeActionParams, CodeActionResponse, CodeLens, CodeLensParams, CompletionParams,
    CompletionResponse, DidChangeConfigurationParams, DidChangeTextDocumentParams,
    DidChangeWatchedFilesParams, DidChangeWatchedFilesRegistrationOptions,
    DidChangeWorkspaceFoldersParams, DidCloseTextDocumentParams, DidOpenTextDocumentParams,
    DidSaveTextDocumentParams, DocumentDiagnosticParams, DocumentDiagnosticReportResult,
    DocumentFormattingParams, DocumentHighlight, DocumentHighlightKind, DocumentHighlightParams,
    DocumentLink, DocumentLinkParams, DocumentOnTypeFormattingParams,
    DocumentRangeFormattingParams, DocumentSymbolParams, DocumentSymbolResponse,
    ExecuteCommandParams, FileSystemWatcher, FoldingRange, FoldingRangeParams, GlobPattern,
    GotoDefinitionParams, GotoDefinitionResponse, Hover, HoverParams, InitializeParams,
    InitializeResult, InitializedParams, InlayHint, InlayHintParams, Location, MessageType,
    PrepareRenameResponse, ReferenceParams, Registration, RenameParams, SelectionRange,
    SelectionRangeParams, SemanticTokens, SemanticTokensDeltaParams, SemanticTokensFullDeltaResult,
    SemanticTokensParams, SemanticTokensRangeParams, SemanticTokensRangeResult,
    SemanticTokensResult, ServerInfo, SetTraceParams, SignatureHelp, SignatureHelpParams,
    SymbolInformation, TextDocumentPositionParams, TextEdit, TraceValue, Url,
    WorkspaceDiagnosticParams, WorkspaceDiagnosticReportResult, WorkspaceEdit, WorkspaceFolder,
    WorkspaceSymbolParams,
};
use tower_lsp::{Client, LanguageServer, LspService};
use workspace::Workspace;

/// The name under which findings appear.
pub(crate) const SOURCE: &str = "meniscus";

/// Serves one client on these streams.
pub(crate) async fn run((input, output): (Input, Output)) -> Ending {
    let client_gone = Arc::new(Notify::new());
    let (service, socket) = LspService::build(|client| Server::new(client, client_gone.clone()))
        .custom_method("$/setTrace", Server::set_trace)
        .finish();
    tokio::select! {
        ending = transport::serve(service, socket, input, output) => ending,
        () = client_gone.notified() => Ending::Abrupt,
    }
}

#[derive(Clone)]
struct Server {
    client: Client,
    documents: Arc<Documents>,
    workspace: Arc<Workspace>,
    abilities: Arc<OnceLock<Abilities>>,
    publisher: Publisher,
    client_gone: Arc<Notify>,
    /// Whether the client wants hints.
    hints: Arc<AtomicBool>,
}

impl Server {
    fn new(client: Client, client_gone: Arc<Notify>) -> Server {
        let documents = Arc::new(Documents::default());
        let abilities = Arc::new(OnceLock::new());
        let publisher = Publisher::start(client.clone(), documents.clone(), abilities.clone());
        Server {
            client,
            documents,
            workspace: Arc::default(),
            abilities,
            publisher,
            client_gone,
            hints: Arc::new(AtomicBool::new(true)),
        }
    }

    async fn set_trace(&self, params: SetTraceParams) {
        trace(params.value);
    }

    fn abilities(&self) -> &Abilities {
        self.abilities.get_or_init(Abilities::default)
    }

    fn encoding(&self) -> Encoding {
        self.abilities().encoding
    }

    /// Sees to it that the client hears of what has changed.
    fn announce(&self, due: Due) {
        let asks = self.publisher.is_asked();
        for uri in due.findings {
            // One that asks for them would show them twice.
            if !asks || !self.documents.is_of_plans(&uri) {
                self.publisher.due(uri);
            }
        }
        if due.read_anew {
            self.have_findings_asked_anew();
            self.have_hints_asked_anew();
        }
    }

    /// From now on none are published of plans: what was published before would stand there twice.
    fn is_asked_for_findings(&self) {
        if self.publisher.ask() {
            for uri in self.documents.of_plans() {
                self.publisher.due(uri);
            }
        }
    }

    fn have_findings_asked_anew(&self) {
        if self.publisher.is_asked() {
            let client = self.client.clone();
            tokio::spawn(async move {
                if let Err(error) = client.workspace_diagnostic_refresh().await {
                    tracing::debug!("the client does not ask for findings anew: {error}");
                }
            });
        }
    }

    fn have_hints_asked_anew(&self) {
        if self.abilities().hint_refresh {
            let client = self.client.clone();
            tokio::spawn(async move {
                if let Err(error) = client.inlay_hint_refresh().await {
                    tracing::debug!("the client does not ask for its hints anew: {error}");
                }
            });
        }
    }

    /// Asks the client for its settings, and takes them. Its answer may come after the next message to us, so no
    /// handler waits for it.
    fn ask_configuration(&self) {
        let server = self.clone();
        tokio::spawn(async move {
            let asked = server.client.configuration(vec![configuration::item()]);
            match asked.await {
                Ok(answer) => server.configure(answer.first().unwrap_or(&Value::Null)),
                Err(error) => tracing::debug!("the client does not tell its settings: {error}"),
            }
        });
    }

    fn configure(&self, said: &Value) {
        let (configuration, problems) = Configuration::read(said);
        let hinted = self.hints.swap(configuration.hints, Ordering::Relaxed);
        let due = self.documents.configure(configuration.checks);
        if hinted != configuration.hints && !due.read_anew {
            self.have_hints_asked_anew();
        }
        self.announce(due);
        if !problems.is_empty() {
            let client = self.client.clone();
            let message = format!("In the settings of Meniscus: {}", problems.join(" "));
            tokio::spawn(async move { client.show_message(MessageType::WARNING, message).await });
        }
    }

    /// Reads a document; nothing where it is not open.
    fn read<T>(&self, uri: &Url, read: impl FnOnce(&Document) -> T) -> Option<T> {
        let read = self.documents.read(uri, |open| read(&open.document));
        if read.is_none() {
            tracing::debug!("asked about {uri}, which is not open");
        }
        read
    }

    fn rescale(&self, arguments: commands::Arguments) -> Result<Option<Value>> {
        let worked_out = self.documents.read(&arguments.uri, |open| {
            commands::rescale(open, &arguments, self.abilities())
        });
        let (summary, edit) = worked_out.ok_or_else(|| not_open(&arguments.uri))??;
        if !arguments.preview {
            if !self.abilities().applies_edits {
                return Err(Error::invalid_params(
                    "this editor lets no server edit: use the code actions on the scale line",
                ));
            }
            let client = self.client.clone();
            // The answer may come after the next message to us, so no handler waits for it.
            tokio::spawn(async move {
                match client.apply_edit(edit).await {
                    Ok(done) if done.applied => {}
                    Ok(done) => {
                        let why = done.failure_reason.unwrap_or_default();
                        client
                            .show_message(
                                MessageType::WARNING,
                                format!("The plan was not rescaled: the editor did not take the edit. {why}"),
                            )
                            .await;
                    }
                    Err(error) => tracing::warn!("the editor did not answer: {error}"),
                }
            });
        }
        Ok(serde_json::to_value(summary).ok())
    }

    fn sheet(&self, at: &commands::PlanAt) -> Result<Option<Value>> {
        let sheet = self
            .documents
            .read(&at.uri, |open| commands::sheet(open, at, self.abilities()));
        let sheet = sheet.ok_or_else(|| not_open(&at.uri))??;
        Ok(serde_json::to_value(sheet).ok())
    }
}

fn not_open(uri: &Url) -> Error {
    Error::invalid_params(format!("{uri} is not open"))
}

fn trace(value: TraceValue) {
    log::set(match value {
        TraceValue::Off => Trace::Off,
        TraceValue::Messages => Trace::Messages,
        TraceValue::Verbose => Trace::Verbose,
    });
}

/// Plans too, where the client shows what is found in those that are not open.
fn watched_files(plans: bool) -> Registration {
    let names = crate::surroundings::FILES
        .into_iter()
        .chain(plans.then_some("*.prep"));
    let watchers = names.map(|file| FileSystemWatcher {
        glob_pattern: GlobPattern::String(format!("**/{file}")),
        kind: None,
    });
    let options = DidChangeWatchedFilesRegistrationOptions {
        watchers: watchers.collect(),
    };
    Registration {
        id: "surroundings".to_owned(),
        method: "workspace/didChangeWatchedFiles".to_owned(),
        register_options: serde_json::to_value(options).ok(),
    }
}

#[tower_lsp::async_trait]
impl LanguageServer for Server {
    async fn initialize(&self, params: InitializeParams) -> Result<InitializeResult> {
        let abilities = self.abilities.get_or_init(|| {
            Abilities::of(&params.capabilities, params.initialization_options.as_ref())
        });
        if let Some(value) = params.trace {
            trace(value);
        }
        if let Some(process) = params.process_id {
            tokio::spawn(client_process::watch(process, self.client_gone.clone()));
        }
        let folders = params.workspace_folders.unwrap_or_default().into_iter();
        let mut folders: Vec<Url> = folders.map(|folder| folder.uri).collect();
        #[allow(deprecated, reason = "what clients say that know one folder only")]
        if folders.is_empty() {
            folders.extend(params.root_uri);
        }
        self.workspace.folders(folders, &[]);
        Ok(InitializeResult {
            capabilities: abilities.answer(),
            server_info: Some(ServerInfo {
                name: SOURCE.to_owned(),
                version: Some(env!("CARGO_PKG_VERSION").to_owned()),
            }),
        })
    }

    async fn initialized(&self, _: InitializedParams) {
        if self.abilities().configuration {
            self.ask_configuration();
        }
        let mut registrations = Vec::new();
        if self.abilities().watched_files {
            registrations.push(watched_files(self.abilities().pulls));
        }
        if self.abilities().configuration_told {
            registrations.push(configuration::registration());
        }
        if registrations.is_empty() {
            return;
        }
        let client = self.client.clone();
        // Its answer may come after the next message to us, so no handler waits for it.
        tokio::spawn(async move {
            let registered = client.register_capability(registrations).await;
            if let Err(error) = registered {
                tracing::warn!("the client does not tell of changes: {error}");
            }
        });
    }

    async fn shutdown(&self) -> Result<()> {
        Ok(())
    }

    async fn did_open(&self, params: DidOpenTextDocumentParams) {
        let document = params.text_document;
        self.announce(self.documents.open(
            document.uri,
            document.version,
            &document.language_id,
            &document.text,
        ));
    }

    async fn did_change(&self, params: DidChangeTextDocumentParams) {
        let document = params.text_document;
        let due = self.documents.change(
            &document.uri,
            document.version,
            &params.content_changes,
            self.encoding(),
        );
        match due {
            Some(due) => self.announce(due),
            None => tracing::warn!("a change of {}, which is not open", document.uri),
        }
    }

    async fn did_save(&self, params: DidSaveTextDocumentParams) {
        self.announce(self.documents.files_changed([&params.text_document.uri]));
    }

    async fn did_close(&self, params: DidCloseTextDocumentParams) {
        self.announce(self.documents.close(&params.text_document.uri));
    }

    async fn did_change_watched_files(&self, params: DidChangeWatchedFilesParams) {
        let files = params.changes.iter().map(|change| &change.uri);
        let due = self.documents.files_changed(files.clone());
        let kept = |uri: &Url| {
            crate::surroundings::FILES
                .iter()
                .any(|file| uri.path().ends_with(file))
        };
        if !files.clone().all(kept) {
            self.workspace.look_again();
            if !due.read_anew {
                self.have_findings_asked_anew();
            }
        }
        self.announce(due);
    }

    async fn did_change_workspace_folders(&self, params: DidChangeWorkspaceFoldersParams) {
        let uris = |folders: Vec<WorkspaceFolder>| folders.into_iter().map(|folder| folder.uri);
        let removed: Vec<Url> = uris(params.event.removed).collect();
        self.workspace.folders(uris(params.event.added), &removed);
        self.have_findings_asked_anew();
    }

    async fn did_change_configuration(&self, params: DidChangeConfigurationParams) {
        if self.abilities().configuration {
            // It tells that they have changed, and often not how.
            self.ask_configuration();
        } else {
            self.configure(params.settings.get(SOURCE).unwrap_or(&Value::Null));
        }
    }

    async fn goto_definition(
        &self,
        params: GotoDefinitionParams,
    ) -> Result<Option<GotoDefinitionResponse>> {
        let at = params.text_document_position_params;
        let found = self
            .documents
            .definition(&at.text_document.uri, at.position, self.encoding());
        Ok(found.map(GotoDefinitionResponse::Scalar))
    }

    async fn completion(&self, params: CompletionParams) -> Result<Option<CompletionResponse>> {
        let at = params.text_document_position;
        let found = self.read(&at.text_document.uri, |document| {
            let offset = to_offset(document.rope(), at.position, self.encoding());
            let found = document.completions(offset)?;
            Some(render::completions(found, document.rope(), self.encoding()))
        });
        Ok(found.flatten())
    }

    async fn hover(&self, params: HoverParams) -> Result<Option<Hover>> {
        let at = params.text_document_position_params;
        let hover = self.read(&at.text_document.uri, |document| {
            let hover = document.hover(to_offset(document.rope(), at.position, self.encoding()))?;
            Some(render::hover(hover, document.rope(), self.abilities()))
        });
        Ok(hover.flatten())
    }

    async fn inlay_hint(&self, params: InlayHintParams) -> Result<Option<Vec<InlayHint>>> {
        if !self.hints.load(Ordering::Relaxed) {
            return Ok(Some(Vec::new()));
        }
        Ok(self.read(&params.text_document.uri, |document| {
            let range = to_offsets(document.rope(), params.range, self.encoding());
            let hints = document.inlay_hints(range).into_iter();
            hints
                .map(|hint| render::hint(hint, document.rope(), self.abilities()))
                .collect()
        }))
    }

    async fn code_action(&self, params: CodeActionParams) -> Result<Option<CodeActionResponse>> {
        let uri = &params.text_document.uri;
        let actions = self.documents.read(uri, |open| {
            actions::actions(open, &params, self.abilities())
        });
        Ok(actions)
    }

    async fn code_lens(&self, params: CodeLensParams) -> Result<Option<Vec<CodeLens>>> {
        let uri = &params.text_document.uri;
        Ok(self
            .documents
            .read(uri, |open| commands::lenses(open, uri, self.abilities())))
    }

    async fn execute_command(&self, params: ExecuteCommandParams) -> Result<Option<Value>> {
        match &*params.command {
            commands::RESCALE => self.rescale(commands::argument(params)?),
            commands::SHEET => self.sheet(&commands::argument(params)?),
            other => {
                let mut error = Error::invalid_params(format!("there is no command {other}"));
                error.code = ErrorCode::MethodNotFound;
                Err(error)
            }
        }
    }
    async fn document_symbol(
        &self,
        params: DocumentSymbolParams,
    ) -> Result<Option<DocumentSymbolResponse>> {
        let uri = params.text_document.uri;
        Ok(self.read(&uri, |document| {
            render::symbols(document.symbols(), document.rope(), &uri, self.abilities())
        }))
    }

    async fn formatting(&self, params: DocumentFormattingParams) -> Result<Option<Vec<TextEdit>>> {
        Ok(self.read(&params.text_document.uri, |document| {
            render::edits(&document.formatting(), document.rope(), self.encoding())
        }))
    }

    async fn range_formatting(
        &self,
        params: DocumentRangeFormattingParams,
    ) -> Result<Option<Vec<TextEdit>>> {
        Ok(self.read(&params.text_document.uri, |document| {
            let range = to_offsets(document.rope(), params.range, self.encoding());
            let edits = document.range_formatting(range);
            render::edits(&edits, document.rope(), self.encoding())
        }))
    }

    async fn on_type_formatting(
        &self,
        params: DocumentOnTypeFormattingParams,
    ) -> Result<Option<Vec<TextEdit>>> {
        let at = params.text_document_position;
        Ok(self.read(&at.text_document.uri, |document| {
            let offset = to_offset(document.rope(), at.position, self.encoding());
            let edits = document.newline_formatting(offset);
            render::edits(&edits, document.rope(), self.encoding())
        }))
    }

    async fn semantic_tokens_full(
        &self,
        params: SemanticTokensParams,
    ) -> Result<Option<SemanticTokensResult>> {
        let uri = &params.text_document.uri;
        let found = self.documents.tokens(uri, None, self.encoding());
        Ok(found.and_then(|found| match found {
            SemanticTokensFullDeltaResult::Tokens(tokens) => Some(tokens.into()),
            _ => None,
        }))
    }

    async fn semantic_tokens_full_delta(
        &self,
        params: SemanticTokensDeltaParams,
    ) -> Result<Option<SemanticTokensFullDeltaResult>> {
        let uri = &params.text_document.uri;
        let client_has = Some(params.previous_result_id.as_str());
        Ok(self.documents.tokens(uri, client_has, self.encoding()))
    }

    async fn semantic_tokens_range(
        &self,
        params: SemanticTokensRangeParams,
    ) -> Result<Option<SemanticTokensRangeResult>> {
        Ok(self.read(&params.text_document.uri, |document| {
            let range = to_offsets(document.rope(), params.range, self.encoding());
            let found = document.semantic_tokens(range);
            SemanticTokensRangeResult::Tokens(SemanticTokens {
                result_id: None,
                data: tokens::encoded(&found, document.rope(), self.encoding()),
            })
        }))
    }

    async fn folding_range(&self, params: FoldingRangeParams) -> Result<Option<Vec<FoldingRange>>> {
        Ok(self.read(&params.text_document.uri, |document| {
            render::folds(document.folds(), document.rope(), self.encoding())
        }))
    }

    async fn selection_range(
        &self,
        params: SelectionRangeParams,
    ) -> Result<Option<Vec<SelectionRange>>> {
        Ok(self.read(&params.text_document.uri, |document| {
            let around = |position| {
                let offset = to_offset(document.rope(), position, self.encoding());
                render::selection(
                    document.selections(offset),
                    document.rope(),
                    self.encoding(),
                )
            };
            params.positions.into_iter().map(around).collect()
        }))
    }

    async fn document_highlight(
        &self,
        params: DocumentHighlightParams,
    ) -> Result<Option<Vec<DocumentHighlight>>> {
        let at = params.text_document_position_params;
        Ok(self.read(&at.text_document.uri, |document| {
            let offset = to_offset(document.rope(), at.position, self.encoding());
            let mentions = document.references(offset).into_iter();
            let highlight = mentions.map(|mention| DocumentHighlight {
                range: to_range(document.rope(), &mention.range, self.encoding()),
                kind: Some(match mention.declaration {
                    true => DocumentHighlightKind::WRITE,
                    false => DocumentHighlightKind::READ,
                }),
            });
            highlight.collect()
        }))
    }

    async fn references(&self, params: ReferenceParams) -> Result<Option<Vec<Location>>> {
        let at = params.text_document_position;
        let uri = at.text_document.uri;
        Ok(self.read(&uri, |document| {
            let offset = to_offset(document.rope(), at.position, self.encoding());
            let mentions = document.references(offset).into_iter();
            let wanted = mentions
                .filter(|mention| params.context.include_declaration || !mention.declaration);
            let place =
                |mention: ide::Mention| to_range(document.rope(), &mention.range, self.encoding());
            wanted
                .map(|mention| Location::new(uri.clone(), place(mention)))
                .collect()
        }))
    }

    async fn prepare_rename(
        &self,
        params: TextDocumentPositionParams,
    ) -> Result<Option<PrepareRenameResponse>> {
        let range = self.read(&params.text_document.uri, |document| {
            let offset = to_offset(document.rope(), params.position, self.encoding());
            let range = document.renameable(offset)?;
            Some(to_range(document.rope(), &range, self.encoding()))
        });
        Ok(range.flatten().map(PrepareRenameResponse::Range))
    }

    async fn rename(&self, params: RenameParams) -> Result<Option<WorkspaceEdit>> {
        let at = params.text_document_position;
        let uri = at.text_document.uri;
        let edit = self.documents.read(&uri, |open| {
            let text = open.document.rope();
            let offset = to_offset(text, at.position, self.encoding());
            let renaming = open.document.rename(offset, params.new_name.trim())?;
            Ok(actions::renaming_edit(
                open,
                &uri,
                &renaming,
                self.abilities(),
            ))
        });
        let edit: Option<std::result::Result<_, String>> = edit;
        edit.transpose().map_err(Error::invalid_params)
    }

    async fn diagnostic(
        &self,
        params: DocumentDiagnosticParams,
    ) -> Result<DocumentDiagnosticReportResult> {
        let uri = &params.text_document.uri;
        self.is_asked_for_findings();
        // Those of the files that plans are read against are published, whether they are open or not.
        let found = self
            .documents
            .is_of_plans(uri)
            .then(|| self.documents.findings(uri, self.abilities()));
        let (items, _) = found.flatten().unwrap_or_default();
        let client_has = params.previous_result_id.as_deref();
        let (_, report) = render::findings_report(items, client_has);
        Ok(report.into())
    }

    async fn workspace_diagnostic(
        &self,
        params: WorkspaceDiagnosticParams,
    ) -> Result<WorkspaceDiagnosticReportResult> {
        self.is_asked_for_findings();
        Ok(workspace::diagnostic(self, params).await.into())
    }

    async fn symbol(
        &self,
        params: WorkspaceSymbolParams,
    ) -> Result<Option<Vec<SymbolInformation>>> {
        Ok(Some(self.documents.symbols(&params.query, self.encoding())))
    }

    async fn document_link(&self, params: DocumentLinkParams) -> Result<Option<Vec<DocumentLink>>> {
        Ok(self.read(&params.text_document.uri, |document| {
            render::links(document.links(), document.rope(), self.encoding())
        }))
    }

    async fn signature_help(&self, params: SignatureHelpParams) -> Result<Option<SignatureHelp>> {
        let at = params.text_document_position_params;
        let found = self.read(&at.text_document.uri, |document| {
            let offset = to_offset(document.rope(), at.position, self.encoding());
            document.signature(offset).map(render::signature)
        });
        Ok(found.flatten())
    }
}
