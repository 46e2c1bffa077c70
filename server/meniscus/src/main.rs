//! Meniscus: the language server and the command line.

mod cli;
mod positions;
mod server;
mod surroundings;
mod transport;

use std::io::IsTerminal;

fn main() -> std::process::ExitCode {
    // Standard output carries the protocol or a command's result, so the log goes to standard error.
    tracing_subscriber::fmt()
        .with_env_filter(
            tracing_subscriber::EnvFilter::builder()
                .with_default_directive(tracing_subscriber::filter::LevelFilter::WARN.into())
                .from_env_lossy(),
        )
        .with_writer(std::io::stderr)
        .with_ansi(std::io::stderr().is_terminal())
        .log_internal_errors(false)
        .init();
    cli::run()
}
