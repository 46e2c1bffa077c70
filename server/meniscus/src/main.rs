//! Meniscus: the language server and the command line.

mod cli;
mod log;
mod positions;
mod server;
mod surroundings;
mod transport;

fn main() -> std::process::ExitCode {
    cli::run()
}
