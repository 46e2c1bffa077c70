//! Watches the client's process, for clients that die without closing the pipe.

use std::sync::Arc;
use std::time::Duration;
use tokio::sync::Notify;

const EVERY: Duration = Duration::from_secs(5);

/// Tells when the process has ended. One that cannot be seen from here, as across containers, is not watched.
pub(super) async fn watch(process: u32, gone: Arc<Notify>) {
    if !alive(process) {
        return;
    }
    while alive(process) {
        tokio::time::sleep(EVERY).await;
    }
    tracing::info!("the client's process {process} has ended");
    gone.notify_one();
}

/// Whether the process lives, as far as can be told without asking the system by unsafe means: it is our
/// parent, or Linux lists it.
#[cfg(unix)]
fn alive(process: u32) -> bool {
    std::os::unix::process::parent_id() == process
        || std::path::Path::new(&format!("/proc/{process}")).exists()
}

#[cfg(not(unix))]
fn alive(_: u32) -> bool {
    false
}
