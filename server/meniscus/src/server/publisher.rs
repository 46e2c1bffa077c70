//! Findings on their way to the client: one task sends them all, so that they never arrive out of order.

use super::abilities::Abilities;
use super::documents::Documents;
use std::collections::BTreeSet;
use std::panic::AssertUnwindSafe;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, OnceLock};
use tokio::sync::mpsc::{UnboundedSender, unbounded_channel};
use tower_lsp::Client;
use tower_lsp::lsp_types::Url;

/// Takes the names of documents whose findings are due.
///
/// Many clients say that they could ask for findings and never do; so they are published until the first one asks.
#[derive(Clone)]
pub(super) struct Publisher {
    due: UnboundedSender<Url>,
    asked: Arc<AtomicBool>,
}

impl Publisher {
    /// Starts the task, which ends with its last publisher.
    pub(super) fn start(
        client: Client,
        documents: Arc<Documents>,
        abilities: Arc<OnceLock<Abilities>>,
    ) -> Publisher {
        let (sender, mut receiver) = unbounded_channel();
        let asked = Arc::new(AtomicBool::new(false));
        let asks = asked.clone();
        tokio::spawn(async move {
            while let Some(uri) = receiver.recv().await {
                let mut due: BTreeSet<Url> = BTreeSet::from([uri]);
                // Several changes of a document that came in one go are answered once.
                while let Ok(uri) = receiver.try_recv() {
                    due.insert(uri);
                }
                let abilities = abilities.get().cloned().unwrap_or_default();
                for uri in &due {
                    let asks = asks.load(Ordering::Relaxed);
                    publish(&client, &documents, uri.clone(), &abilities, asks).await;
                }
                // What was sent is written first.
                tokio::task::yield_now().await;
                due.iter().for_each(|uri| documents.tidy(uri));
            }
        });
        Publisher { due: sender, asked }
    }

    /// The client asks for findings itself; whether it is the first time.
    pub(super) fn ask(&self) -> bool {
        !self.asked.swap(true, Ordering::Relaxed)
    }

    /// Whether the client has asked for findings itself.
    pub(super) fn is_asked(&self) -> bool {
        self.asked.load(Ordering::Relaxed)
    }

    /// The findings of this document have changed.
    pub(super) fn due(&self, uri: Url) {
        // Fails only when the session is over.
        let _ = self.due.send(uri);
    }
}

async fn publish(
    client: &Client,
    documents: &Documents,
    uri: Url,
    abilities: &Abilities,
    asks: bool,
) {
    if asks && documents.is_of_plans(&uri) {
        client.publish_diagnostics(uri, Vec::new(), None).await;
        return;
    }
    let found = std::panic::catch_unwind(AssertUnwindSafe(|| documents.findings(&uri, abilities)));
    let Ok(found) = found else {
        tracing::error!("the findings of {uri} failed: this is a defect of the server");
        return;
    };
    // Closed meanwhile: its findings leave the client's list.
    let (diagnostics, version) = found.unwrap_or_default();
    let version = version.filter(|_| abilities.diagnostic_version);
    client.publish_diagnostics(uri, diagnostics, version).await;
}
