//! Meniscus: the language server and the command line.

mod cli;
mod log;
mod positions;
mod server;
mod surroundings;
mod transport;

/// A keystroke makes and drops a thousand small values; this one takes less time for them than many systems' own.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> std::process::ExitCode {
    cli::run()
}
