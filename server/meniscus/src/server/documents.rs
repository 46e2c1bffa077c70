//! The documents that the client has open, and the files that they are read against.

use super::abilities::Abilities;
use super::{render, tokens};
use crate::positions::{Encoding, to_offset, to_offsets, to_range};
use crate::surroundings::{FILES, InUse, Surroundings};
use ide::{DefinitionFile, Document};
use plan::Context;
use ropey::Rope;
use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tower_lsp::lsp_types::{
    Diagnostic, Location, Position, SemanticTokens, SemanticTokensFullDeltaResult,
    SymbolInformation, TextDocumentContentChangeEvent, Url,
};

/// How long after a look at the files beside plans the next one is worth its time while somebody types.
const LOOK_EVERY: Duration = Duration::from_secs(1);

/// An open document.
pub(super) struct Open {
    /// The client's number for this state of it.
    pub(super) version: i32,
    pub(super) document: Document,
    kind: Kind,
    /// The tokens that the client was last sent.
    tokens: Option<SemanticTokens>,
}

enum Kind {
    /// Plans, with the file of their inventory.
    Plans(Option<PathBuf>),
    /// A file that plans are read against.
    Kept(PathBuf),
}

/// All of them.
#[derive(Default)]
pub(super) struct Documents(Mutex<State>);

#[derive(Default)]
struct State {
    open: HashMap<Url, Open>,
    surroundings: Surroundings,
    /// The files in use, as they were when their findings were last due.
    in_use: BTreeMap<PathBuf, InUse>,
    looked: Option<Instant>,
    /// How many results with a name of their own were sent.
    named: u64,
}

/// What a change of one document changes.
#[derive(Default)]
pub(super) struct Due {
    /// Documents whose findings have changed.
    pub(super) findings: Vec<Url>,
    /// Plans were worked out against other files than before.
    pub(super) read_anew: bool,
}

impl Documents {
    /// Opens a document; one that is open already is replaced.
    pub(super) fn open(&self, uri: Url, version: i32, language: &str, text: &str) -> Due {
        let mut state = self.state();
        let kind = match kept_file(&uri) {
            Some(path) => {
                state.surroundings.edited(path.clone(), text);
                Kind::Kept(path)
            }
            None if language == "toml" => return Due::default(),
            None => Kind::Plans(None),
        };
        let open = Open {
            version,
            document: Document::new(text),
            kind,
            tokens: None,
        };
        state.open.insert(uri.clone(), open);
        state.refresh(Some(uri))
    }

    /// Applies changes in their order. None where the document is not open.
    pub(super) fn change(
        &self,
        uri: &Url,
        version: i32,
        changes: &[TextDocumentContentChangeEvent],
        encoding: Encoding,
    ) -> Option<Due> {
        let mut state = self.state();
        let open = state.open.get_mut(uri)?;
        open.version = version;
        for change in changes {
            match change.range {
                Some(range) => {
                    let range = to_offsets(open.document.rope(), range, encoding);
                    open.document.edit(range, &change.text);
                }
                None => {
                    let context = open.document.context().clone();
                    open.document = Document::with_context(&change.text, context);
                }
            }
        }
        if let Kind::Kept(path) = &open.kind {
            let (path, text) = (path.clone(), open.document.rope().to_string());
            state.surroundings.edited(path, &text);
        } else if state
            .looked
            .is_some_and(|looked| looked.elapsed() < LOOK_EVERY)
        {
            return Some(Due {
                findings: vec![uri.clone()],
                read_anew: false,
            });
        }
        Some(state.refresh(Some(uri.clone())))
    }

    pub(super) fn close(&self, uri: &Url) -> Due {
        let mut state = self.state();
        if let Some(Open {
            kind: Kind::Kept(path),
            ..
        }) = state.open.remove(uri)
        {
            state.surroundings.forget(&path, true);
        }
        state.refresh(Some(uri.clone()))
    }

    /// Files have changed, or may have.
    pub(super) fn files_changed<'a>(&self, files: impl IntoIterator<Item = &'a Url>) -> Due {
        let mut state = self.state();
        for path in files.into_iter().filter_map(kept_file) {
            state.surroundings.forget(&path, false);
        }
        state.refresh(None)
    }

    /// The client prefers this of checks, where a file of settings does not say.
    pub(super) fn configure(&self, checks: Vec<(String, String)>) -> Due {
        let mut state = self.state();
        match state.surroundings.prefer(checks) {
            true => state.refresh(None),
            false => Due::default(),
        }
    }

    /// What a plan that is not open is read against.
    pub(super) fn context_of(&self, path: &Path) -> Context {
        self.state().surroundings.for_plan(path).context
    }

    /// Reads a document of plans; nothing where it is not open.
    pub(super) fn read<T>(&self, uri: &Url, read: impl FnOnce(&Open) -> T) -> Option<T> {
        let state = self.state();
        let open = state.open.get(uri)?;
        matches!(open.kind, Kind::Plans(_)).then(|| read(open))
    }

    /// The findings of a document or of a file in use, and of which version of it.
    pub(super) fn findings(
        &self,
        uri: &Url,
        abilities: &Abilities,
    ) -> Option<(Vec<Diagnostic>, Option<i32>)> {
        let state = self.state();
        let open = state.open.get(uri);
        let version = open.map(|open| open.version);
        let path = match open {
            Some(Open {
                kind: Kind::Plans(_),
                document,
                ..
            }) => {
                let findings = document.findings();
                let rendered = render::diagnostics(&findings, document.rope(), uri, abilities);
                return Some((rendered, version));
            }
            Some(Open {
                kind: Kind::Kept(path),
                ..
            }) => path.clone(),
            None => uri.to_file_path().ok()?,
        };
        let kept = state.in_use.get(&path)?;
        let text = Rope::from_str(&kept.text);
        Some((
            render::diagnostics(&kept.findings(), &text, uri, abilities),
            version,
        ))
    }

    /// Lets go of what only the findings of a document were waiting for.
    pub(super) fn tidy(&self, uri: &Url) {
        if let Some(open) = self.state().open.get_mut(uri) {
            open.document.tidy();
        }
    }

    /// Whether a document is open and has plans, so that a client may ask for its findings.
    pub(super) fn is_of_plans(&self, uri: &Url) -> bool {
        self.read(uri, |_| ()).is_some()
    }

    /// The documents that are of plans.
    pub(super) fn of_plans(&self) -> Vec<Url> {
        let state = self.state();
        let open = state.open.iter();
        let plans = open.filter(|(_, open)| matches!(open.kind, Kind::Plans(_)));
        plans.map(|(uri, _)| uri.clone()).collect()
    }

    /// The plans and keys of every open document that a query finds.
    pub(super) fn symbols(&self, query: &str, encoding: Encoding) -> Vec<SymbolInformation> {
        let state = self.state();
        let mut open: Vec<_> = state.open.iter().collect();
        open.sort_by_key(|(uri, _)| *uri);
        let plans = open
            .into_iter()
            .filter(|(_, open)| matches!(open.kind, Kind::Plans(_)));
        let found = plans.flat_map(|(uri, open)| {
            let found = open.document.find_symbols(query);
            render::found_symbols(found, open.document.rope(), uri, encoding)
        });
        found.collect()
    }

    /// Where what stands at a position is defined.
    pub(super) fn definition(
        &self,
        uri: &Url,
        position: Position,
        encoding: Encoding,
    ) -> Option<Location> {
        let state = self.state();
        let open = state.open.get(uri)?;
        let Kind::Plans(inventory) = &open.kind else {
            return None;
        };
        let text = open.document.rope();
        let definition = open
            .document
            .definition(to_offset(text, position, encoding))?;
        match definition.file {
            DefinitionFile::Here => Some(Location::new(
                uri.clone(),
                to_range(text, &definition.range, encoding),
            )),
            DefinitionFile::Inventory => {
                let found = open.document.context().inventory.as_ref()?;
                let text = Rope::from_str(&found.text);
                let range = to_range(&text, &definition.range, encoding);
                Some(Location::new(state.name_of(inventory.as_deref()?)?, range))
            }
        }
    }

    /// The tokens of a document, as changes of those that the client has where it names them.
    pub(super) fn tokens(
        &self,
        uri: &Url,
        client_has: Option<&str>,
        encoding: Encoding,
    ) -> Option<SemanticTokensFullDeltaResult> {
        let mut state = self.state();
        state.named += 1;
        let named = state.named;
        let open = state.open.get_mut(uri)?;
        if !matches!(open.kind, Kind::Plans(_)) {
            return None;
        }
        let text = open.document.rope();
        let found = open.document.semantic_tokens(0..text.len_bytes());
        let now = SemanticTokens {
            result_id: Some(named.to_string()),
            data: tokens::encoded(&found, text, encoding),
        };
        let before = open.tokens.replace(now);
        let now = open.tokens.as_ref()?;
        Some(tokens::delta(
            before.as_ref(),
            client_has.unwrap_or_default(),
            now,
        ))
    }

    /// A handler that panicked has been reported; the others go on.
    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl State {
    /// Reads every document against its surroundings as they are now.
    fn refresh(&mut self, changed: Option<Url>) -> Due {
        self.looked = Some(Instant::now());
        let mut in_use = BTreeMap::new();
        let mut due = Due::default();
        for (uri, open) in &mut self.open {
            let path = match &open.kind {
                Kind::Plans(_) => uri.to_file_path().ok(),
                // Its own folder is where the search for it begins.
                Kind::Kept(path) => Some(path.clone()),
            };
            let found = match &path {
                Some(path) => self.surroundings.for_plan(path),
                None => self.surroundings.without(),
            };
            for kept in found.files {
                in_use.insert(kept.path.clone(), kept);
            }
            if let Kind::Plans(inventory) = &mut open.kind {
                *inventory = found.inventory;
                if open.document.set_context(found.context) && changed.as_ref() != Some(uri) {
                    due.findings.push(uri.clone());
                    due.read_anew = true;
                }
            }
        }
        let troubled = |kept: Option<&InUse>| kept.is_some_and(|kept| !kept.problems.is_empty());
        let paths = self.in_use.keys().chain(in_use.keys());
        for path in paths.collect::<std::collections::BTreeSet<_>>() {
            let (before, now) = (self.in_use.get(path), in_use.get(path));
            let same = before.zip(now).is_some_and(|(a, b)| a.is_same(b));
            if !same && (troubled(before) || troubled(now)) {
                due.findings.extend(self.name_of(path));
            }
        }
        self.in_use = in_use;
        due.findings.extend(changed);
        due
    }

    /// The client's name of a file that plans are read against.
    fn name_of(&self, path: &Path) -> Option<Url> {
        let open = self
            .open
            .iter()
            .find(|(_, open)| matches!(&open.kind, Kind::Kept(kept) if kept == path));
        open.map(|(uri, _)| uri.clone())
            .or_else(|| Url::from_file_path(path).ok())
    }
}

/// The path of a document that plans are read against.
fn kept_file(uri: &Url) -> Option<PathBuf> {
    let path = uri.to_file_path().ok()?;
    FILES
        .iter()
        .any(|file| path.ends_with(file))
        .then_some(path)
}
