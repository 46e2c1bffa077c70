//! Findings of the plans under the client's folders, whether they are open or not.
//!
//! A long look is cut into pieces: between two of them everything else is served, and the client may cancel.

use super::Server;
use super::documents::Documents;
use super::render;
use ide::Document;
use plan::Context;
use serde::Serialize;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::fs::{self, Metadata};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant, SystemTime};
use tower_lsp::lsp_types::notification::Notification;
use tower_lsp::lsp_types::{
    Diagnostic, DiagnosticSeverity, DocumentDiagnosticReport, ProgressToken, Url, WorkDoneProgress,
    WorkDoneProgressBegin, WorkDoneProgressEnd, WorkDoneProgressReport, WorkspaceDiagnosticParams,
    WorkspaceDiagnosticReport, WorkspaceDocumentDiagnosticReport,
    WorkspaceFullDocumentDiagnosticReport, WorkspaceUnchangedDocumentDiagnosticReport,
};

/// More plans than these are for the command line.
const MOST_PLANS: usize = 5_000;
/// Files and folders that are looked at in search of plans.
const MOST_ENTRIES: usize = 50_000;
/// No plan that somebody wrote is as large.
const MOST_BYTES: u64 = 1 << 20;
/// How long a list of plans is good, where nobody tells of files that come and go.
const GOOD_FOR: Duration = Duration::from_secs(30);
/// How long one piece of the work may keep others waiting.
const PIECE: Duration = Duration::from_millis(5);

/// The folders, and what is known of the plans under them.
#[derive(Default)]
pub(super) struct Workspace(Mutex<State>);

#[derive(Default)]
struct State {
    folders: Vec<PathBuf>,
    /// The plans, as found at a time.
    plans: Option<(Instant, Arc<[PathBuf]>)>,
    /// What was reported of each.
    reported: HashMap<PathBuf, Reported>,
}

/// A report, and what it was made from.
struct Reported {
    stamp: Stamp,
    context: Context,
    id: String,
}

type Stamp = (Option<SystemTime>, u64);

impl Workspace {
    pub(super) fn folders(&self, added: impl IntoIterator<Item = Url>, removed: &[Url]) {
        let mut state = self.state();
        for path in removed.iter().filter_map(|uri| uri.to_file_path().ok()) {
            state.folders.retain(|folder| *folder != path);
        }
        for path in added.into_iter().filter_map(|uri| uri.to_file_path().ok()) {
            if !state.folders.contains(&path) {
                state.folders.push(path);
            }
        }
        state.plans = None;
    }

    /// Files have come or gone.
    pub(super) fn look_again(&self) {
        self.state().plans = None;
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn known(&self) -> Option<Arc<[PathBuf]>> {
        let state = self.state();
        let (found, plans) = state.plans.as_ref()?;
        (found.elapsed() < GOOD_FOR).then(|| plans.clone())
    }

    /// The plans under the folders, in order.
    async fn plans(&self, pause: &mut Pause) -> Arc<[PathBuf]> {
        if let Some(plans) = self.known() {
            return plans;
        }
        let mut folders = self.state().folders.clone();
        let mut seen: HashSet<PathBuf> = folders.iter().cloned().collect();
        let (mut plans, mut entries) = (Vec::new(), 0);
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(&folder).into_iter().flatten().flatten() {
                pause.if_due().await;
                entries += 1;
                let path = entry.path();
                let Ok(kind) = entry.file_type() else {
                    continue;
                };
                let hidden = entry.file_name().to_string_lossy().starts_with('.');
                // A folder that is linked may lead in a circle.
                if kind.is_dir() && !hidden {
                    if seen.insert(path.clone()) {
                        folders.push(path);
                    }
                } else if is_plan(&path) && path.is_file() {
                    plans.push(path);
                }
            }
            if entries > MOST_ENTRIES || plans.len() > MOST_PLANS {
                tracing::warn!(
                    "there is more under the client's folders than is looked at: `meniscus check` looks at all"
                );
                plans.truncate(MOST_PLANS);
                break;
            }
        }
        plans.sort();
        plans.dedup();
        let plans: Arc<[PathBuf]> = plans.into();
        self.state().plans = Some((Instant::now(), plans.clone()));
        plans
    }

    /// The report of a plan that is not open; none where the file is gone.
    fn report(
        &self,
        path: &Path,
        client_has: Option<&str>,
        server: &Server,
    ) -> Option<DocumentDiagnosticReport> {
        let uri = Url::from_file_path(path).ok()?;
        let file = fs::metadata(path).ok().filter(Metadata::is_file)?;
        let stamp = (file.modified().ok(), file.len());
        let context = server.documents.context_of(path);
        if let Some(reported) = self.state().reported.get(path)
            && client_has == Some(&*reported.id)
            && reported.stamp == stamp
            && reported.context == context
        {
            return Some(render::unchanged_report(reported.id.clone()));
        }
        let items = match read(path, file.len()) {
            Ok(text) => {
                let document = Document::with_context(&text, context.clone());
                render::diagnostics(
                    &document.findings(),
                    document.rope(),
                    &uri,
                    server.abilities(),
                )
            }
            Err(why) => vec![Diagnostic {
                severity: Some(DiagnosticSeverity::ERROR),
                source: Some(super::SOURCE.to_owned()),
                message: why,
                ..Diagnostic::default()
            }],
        };
        let (id, report) = render::findings_report(items, client_has);
        let reported = Reported { stamp, context, id };
        self.state().reported.insert(path.to_owned(), reported);
        Some(report)
    }
}

fn is_plan(path: &Path) -> bool {
    path.extension()
        .is_some_and(|end| end.eq_ignore_ascii_case("prep"))
}

fn read(path: &Path, bytes: u64) -> Result<String, String> {
    if bytes > MOST_BYTES {
        return Err(format!(
            "This file is {} MB long and was not read: open it, or split it.",
            bytes >> 20
        ));
    }
    let bytes =
        fs::read(path).map_err(|error| format!("This file cannot be read: {error}. See to it."))?;
    String::from_utf8(bytes).map_err(|_| "This file is not UTF-8: save it as UTF-8.".to_owned())
}

/// Lets others have their turn when it is due.
struct Pause(Instant);

impl Pause {
    async fn if_due(&mut self) {
        if self.0.elapsed() > PIECE {
            tokio::task::yield_now().await;
            self.0 = Instant::now();
        }
    }
}

impl Documents {
    /// The open documents of plans by their paths, and those that have none.
    fn open_by_path(&self) -> (BTreeMap<PathBuf, Url>, Vec<Url>) {
        let (mut named, mut nameless) = (BTreeMap::new(), Vec::new());
        for uri in self.of_plans() {
            match uri.to_file_path() {
                Ok(path) => {
                    named.insert(path, uri);
                }
                Err(()) => nameless.push(uri),
            }
        }
        (named, nameless)
    }
}

/// Answers `workspace/diagnostic`.
pub(super) async fn diagnostic(
    server: &Server,
    params: WorkspaceDiagnosticParams,
) -> WorkspaceDiagnosticReport {
    let client_has: HashMap<Url, String> = (params.previous_result_ids.into_iter())
        .map(|known| (known.uri, known.value))
        .collect();
    let progress = Progress::begin(server, params.work_done_progress_params.work_done_token).await;
    let partial = params.partial_result_params.partial_result_token;
    let mut pause = Pause(Instant::now());
    let (open, nameless) = server.documents.open_by_path();
    let mut told = HashSet::new();
    let mut due = Vec::new();
    for uri in open.values().cloned().chain(nameless) {
        let client_has = client_has.get(&uri).map(String::as_str);
        if let Some((items, version)) = server.documents.findings(&uri, server.abilities()) {
            let (_, report) = render::findings_report(items, client_has);
            due.push(of_workspace(uri.clone(), version, report));
        }
        told.insert(uri);
        pause.if_due().await;
    }
    let plans = server.workspace.plans(&mut pause).await;
    let mut since = Instant::now();
    for (path, number) in plans.iter().zip(0..) {
        pause.if_due().await;
        let Ok(uri) = Url::from_file_path(path) else {
            continue;
        };
        if open.contains_key(path) || told.contains(&uri) {
            continue;
        }
        let has = client_has.get(&uri).map(String::as_str);
        let Some(report) = server.workspace.report(path, has, server) else {
            continue;
        };
        due.push(of_workspace(uri.clone(), None, report));
        told.insert(uri);
        if since.elapsed() > Duration::from_millis(100) {
            since = Instant::now();
            progress.report(number, plans.len()).await;
            if let Some(token) = &partial {
                send(server, token, &Items { items: &due }).await;
                due.clear();
            }
        }
    }
    // Of plans that are gone, nothing is left to tell.
    for uri in client_has.into_keys().filter(|uri| !told.contains(uri)) {
        let (_, report) = render::findings_report(Vec::new(), None);
        due.push(of_workspace(uri, None, report));
    }
    if let Some(token) = &partial
        && !due.is_empty()
    {
        send(server, token, &Items { items: &due }).await;
        due.clear();
    }
    progress.end().await;
    WorkspaceDiagnosticReport { items: due }
}

fn of_workspace(
    uri: Url,
    version: Option<i32>,
    report: DocumentDiagnosticReport,
) -> WorkspaceDocumentDiagnosticReport {
    let version = version.map(i64::from);
    match report {
        DocumentDiagnosticReport::Full(full) => WorkspaceFullDocumentDiagnosticReport {
            uri,
            version,
            full_document_diagnostic_report: full.full_document_diagnostic_report,
        }
        .into(),
        DocumentDiagnosticReport::Unchanged(same) => WorkspaceUnchangedDocumentDiagnosticReport {
            uri,
            version,
            unchanged_document_diagnostic_report: same.unchanged_document_diagnostic_report,
        }
        .into(),
    }
}

#[derive(Serialize)]
struct Items<'a> {
    items: &'a [WorkspaceDocumentDiagnosticReport],
}

/// `$/progress`, which the library knows for work but not for parts of a result.
enum Parts {}

impl Notification for Parts {
    type Params = serde_json::Value;
    const METHOD: &'static str = "$/progress";
}

async fn send(server: &Server, token: &ProgressToken, value: &impl Serialize) {
    let params = serde_json::json!({"token": token, "value": value});
    server.client.send_notification::<Parts>(params).await;
}

/// How far the work is, for a client that asked to know.
struct Progress<'a>(&'a Server, Option<ProgressToken>);

impl Progress<'_> {
    async fn begin(server: &Server, token: Option<ProgressToken>) -> Progress<'_> {
        let progress = Progress(server, token);
        let begin = WorkDoneProgressBegin {
            title: "Checking plans".to_owned(),
            cancellable: Some(false),
            ..WorkDoneProgressBegin::default()
        };
        progress.tell(WorkDoneProgress::Begin(begin)).await;
        progress
    }

    async fn report(&self, done: usize, all: usize) {
        let report = WorkDoneProgressReport {
            message: Some(format!("{done} of {all}")),
            percentage: u32::try_from(done * 100 / all.max(1)).ok(),
            ..WorkDoneProgressReport::default()
        };
        self.tell(WorkDoneProgress::Report(report)).await;
    }

    async fn end(self) {
        let end = WorkDoneProgressEnd::default();
        self.tell(WorkDoneProgress::End(end)).await;
    }

    async fn tell(&self, progress: WorkDoneProgress) {
        if let Some(token) = &self.1 {
            send(self.0, token, &progress).await;
        }
    }
}
