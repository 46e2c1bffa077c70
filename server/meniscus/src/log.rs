//! The log: where it goes and how much it says. Never of what a plan says, only of what was done.

use std::fs::OpenOptions;
use std::io::IsTerminal;
use std::path::Path;
use std::sync::{Arc, OnceLock};
use tracing_subscriber::EnvFilter;
use tracing_subscriber::filter::LevelFilter;
use tracing_subscriber::fmt::format::FmtSpan;
use tracing_subscriber::fmt::writer::BoxMakeWriter;

/// Sets another filter.
static FILTER: OnceLock<Box<dyn Fn(EnvFilter) + Send + Sync>> = OnceLock::new();

/// How much a client wants to know of what the server does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Trace {
    /// What RUST_LOG says; warnings without it.
    Off,
    /// Every message, with the time that it took.
    Messages,
    /// All that there is.
    Verbose,
}

/// Begins the log: on standard error, because standard output carries the protocol or a command's result, or at the end of
/// a file.
///
/// # Errors
/// Why there can be none.
pub(crate) fn start(file: Option<&Path>) -> Result<(), String> {
    let writer = match file {
        Some(path) => {
            let file = OpenOptions::new().create(true).append(true).open(path);
            let file =
                file.map_err(|error| format!("cannot write the log {}: {error}", path.display()))?;
            BoxMakeWriter::new(Arc::new(file))
        }
        None => BoxMakeWriter::new(std::io::stderr),
    };
    let log = tracing_subscriber::fmt()
        .with_writer(writer)
        .with_ansi(file.is_none() && std::io::stderr().is_terminal())
        .with_env_filter(filter(Trace::Off))
        // The time that a span took is told at its end.
        .with_span_events(FmtSpan::CLOSE)
        .log_internal_errors(false)
        .with_filter_reloading();
    let handle = log.reload_handle();
    let set = move |filter| {
        // Fails only when the log is gone.
        let _ = handle.reload(filter);
    };
    let begun = log.try_init().is_ok();
    if begun {
        let _ = FILTER.set(Box::new(set));
    }
    Ok(())
}

/// Says as much as the client asks for.
pub(crate) fn set(trace: Trace) {
    if let Some(set) = FILTER.get() {
        set(filter(trace));
    }
}

fn filter(trace: Trace) -> EnvFilter {
    let filter = EnvFilter::builder()
        .with_default_directive(LevelFilter::WARN.into())
        .from_env_lossy();
    let more = match trace {
        Trace::Off => return filter,
        Trace::Messages => "meniscus=info",
        Trace::Verbose => "meniscus=trace",
    };
    match more.parse() {
        Ok(directive) => filter.add_directive(directive),
        Err(_) => filter,
    }
}
