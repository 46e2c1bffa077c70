//! `meniscus serve`

use super::{Outcome, complain};
use crate::server;
use crate::transport::{self, Ending};

/// Serves one editor until it leaves.
pub(super) fn serve() -> Outcome {
    let runtime = match tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
    {
        Ok(runtime) => runtime,
        Err(error) => return complain(&format!("cannot start: {error}")),
    };
    let ending = runtime.block_on(async { server::run(transport::stdio()).await });
    // Tokio's own stdin, where it is used, blocks a thread that nothing can end.
    runtime.shutdown_background();
    match ending {
        Ending::Clean => Outcome::Fine,
        Ending::Abrupt => Outcome::Wrong,
    }
}
