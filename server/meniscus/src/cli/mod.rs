//! The command line.

mod check;
mod drawing;
mod files;
mod serve;

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;

/// Check, complete and rescale reaction plans, on the command line or in an editor.
#[derive(Parser)]
#[command(name = "meniscus", version, arg_required_else_help = true, args_conflicts_with_subcommands = true)]
struct Cli {
    #[command(subcommand)]
    command: Option<Command>,
    #[command(flatten)]
    serve: Serve,
}

#[derive(Subcommand)]
enum Command {
    /// Serve an editor on standard input and output, by the Language Server Protocol.
    Serve(Serve),
    /// Report what is wrong with plans; the exit code is 1 if there is an error among the findings.
    Check(Check),
}

#[derive(Args)]
struct Serve {
    /// Use standard input and output, which is also the default.
    #[arg(long)]
    stdio: bool,
}

#[derive(Args)]
struct Check {
    /// Plans, or folders to search for files that end in .prep.
    #[arg(required = true, value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// How to write the findings.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
}

/// Ways to write a result.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For people.
    Text,
    /// For programs.
    Json,
}

/// How a command ended.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Outcome {
    /// It did what was asked, and nothing is wrong with the plans.
    Fine,
    /// It did what was asked, and something is wrong with the plans.
    Wrong,
    /// It could not do what was asked; the reason is on standard error.
    Misuse,
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> ExitCode {
        match outcome {
            Outcome::Fine => ExitCode::SUCCESS,
            Outcome::Wrong => ExitCode::from(1),
            Outcome::Misuse => ExitCode::from(2),
        }
    }
}

/// Runs what the arguments ask for.
pub(crate) fn run() -> ExitCode {
    let cli = Cli::parse();
    let outcome = match cli.command {
        None | Some(Command::Serve(_)) => serve::serve(),
        Some(Command::Check(arguments)) => check::check(&arguments.paths, arguments.format),
    };
    outcome.into()
}

/// Writes a result to standard output, with its colours where that is a terminal.
fn print(text: &str) -> Outcome {
    let mut out = anstream::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => Outcome::Fine,
        // The reader has seen enough, as `head` does.
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Outcome::Fine,
        Err(error) => complain(&format!("cannot write the result: {error}")),
    }
}

/// Writes a result as JSON.
fn print_json(result: &impl serde::Serialize) -> Outcome {
    match serde_json::to_string_pretty(result) {
        Ok(text) => print(&(text + "\n")),
        Err(error) => complain(&format!("cannot write the result: {error}")),
    }
}

/// Says on standard error why a command cannot go on.
fn complain(why: &str) -> Outcome {
    // With standard error gone, the exit code is all that is left to say it.
    let _ = writeln!(anstream::stderr(), "meniscus: {why}");
    Outcome::Misuse
}
