//! The documents that the client has open.

use crate::positions::{Encoding, to_offsets};
use ide::Document;
use std::collections::HashMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use tower_lsp::lsp_types::{TextDocumentContentChangeEvent, Url};

/// An open document.
pub(super) struct Open {
    /// The client's number for this state of it.
    pub(super) version: i32,
    pub(super) document: Document,
}

/// All of them.
#[derive(Default)]
pub(super) struct Documents(Mutex<HashMap<Url, Open>>);

impl Documents {
    /// Opens a document; one that is open already is replaced.
    pub(super) fn open(&self, uri: Url, version: i32, text: &str) {
        self.all().insert(
            uri,
            Open {
                version,
                document: Document::new(text),
            },
        );
    }

    /// Applies changes in their order. False where the document is not open.
    pub(super) fn change(
        &self,
        uri: &Url,
        version: i32,
        changes: &[TextDocumentContentChangeEvent],
        encoding: Encoding,
    ) -> bool {
        let mut all = self.all();
        let Some(open) = all.get_mut(uri) else {
            return false;
        };
        open.version = version;
        for change in changes {
            match change.range {
                Some(range) => {
                    let range = to_offsets(open.document.rope(), range, encoding);
                    open.document.edit(range, &change.text);
                }
                None => open.document = Document::new(&change.text),
            }
        }
        true
    }

    pub(super) fn close(&self, uri: &Url) {
        self.all().remove(uri);
    }

    /// Reads a document; nothing where it is not open.
    pub(super) fn read<T>(&self, uri: &Url, read: impl FnOnce(&Open) -> T) -> Option<T> {
        self.all().get(uri).map(read)
    }

    /// A handler that panicked has been reported; the others go on.
    fn all(&self) -> MutexGuard<'_, HashMap<Url, Open>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
