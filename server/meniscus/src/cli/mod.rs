//! The command line.

mod amounts;
mod bench;
mod check;
mod crew;
mod doctor;
mod drawing;
mod explain;
mod files;
mod format;
mod record;
mod rescale;
mod runs;
mod sarif;
mod serve;
mod sheet;

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;

/// Check, complete and rescale reaction plans, on the command line or in an editor.
#[derive(Parser)]
#[command(
    name = "meniscus",
    version,
    arg_required_else_help = true,
    args_conflicts_with_subcommands = true
)]
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
    /// Print what to weigh and measure for every line of the materials, and what to expect of the products.
    Amounts(Amounts),
    /// Print a plan with every amount rescaled, or write it back to its file.
    Rescale(Rescale),
    /// Put the white space of plans in order, in their files.
    Format(Formatting),
    /// Print the bench sheet of a plan, a page of HTML to be printed on paper, or write it to a file.
    Sheet(Sheet),
    /// Print the plan of every line of `runs`, or write each to a file of its own.
    Runs(Runs),
    /// Explain a check, or list them all.
    Explain(Explain),
    /// Say which version this is, what it finds to read plans against, and what is wrong with that.
    Doctor(Doctor),
}

#[derive(Args)]
struct Serve {
    /// Use standard input and output, which is also the default.
    #[arg(long)]
    stdio: bool,
    /// Write the log to the end of this file, instead of to standard error; RUST_LOG says how much, as in
    /// "meniscus=info" for every request with its time.
    #[arg(long, value_name = "FILE")]
    log_file: Option<PathBuf>,
}

#[derive(Args)]
struct Check {
    /// Plans, or folders to search for files that end in .prep.
    #[arg(required = true, value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// How to write the findings.
    #[arg(long, value_enum, default_value_t = CheckFormat::Text)]
    format: CheckFormat,
    /// How much to say, whatever meniscus.toml says.
    #[arg(long, value_enum)]
    profile: Option<Profile>,
    /// What else than errors makes the exit code 1.
    #[arg(long, value_enum)]
    deny: Option<Denied>,
}

/// Ways to write findings.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum CheckFormat {
    /// For people.
    Text,
    /// For programs.
    Json,
    /// For programs that show what any checker finds: SARIF 2.1.0.
    Sarif,
}

/// What is let through no more.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Denied {
    /// Warnings.
    Warnings,
}

/// How much to say of a plan.
#[derive(Clone, Copy, ValueEnum)]
enum Profile {
    /// Errors, and warnings of what may hurt someone.
    Quiet,
    /// What makes a reaction fail, too.
    Normal,
    /// What only the careful ask for, too.
    Strict,
}

impl From<Profile> for checks::Profile {
    fn from(profile: Profile) -> checks::Profile {
        match profile {
            Profile::Quiet => checks::Profile::Quiet,
            Profile::Normal => checks::Profile::Normal,
            Profile::Strict => checks::Profile::Strict,
        }
    }
}

#[derive(Args)]
struct Amounts {
    /// The plan.
    file: PathBuf,
    /// How to write the amounts.
    #[arg(long, value_enum, default_value_t = AmountsFormat::Text)]
    format: AmountsFormat,
}

#[derive(Args)]
struct Rescale {
    /// The plan.
    file: PathBuf,
    #[command(flatten)]
    target: Target,
    /// Which material `--to` is about, which product `--product`, or which vessel `--flask`.
    #[arg(long, value_name = "KEY")]
    of: Option<String>,
    /// Also write the sizes of flasks, funnels and syringes that the new scale needs.
    #[arg(long)]
    equipment: bool,
    /// Also rescale the amounts in the title, in comments and in notes.
    #[arg(long)]
    mentions: bool,
    /// Round what is weighed, or measured by volume, to what the tools of meniscus.toml read, and no excess below what is
    /// written.
    #[arg(long)]
    to_tools: bool,
    /// Which plan, counted from 1, where the file holds several.
    #[arg(long, value_name = "NUMBER")]
    plan: Option<usize>,
    /// Replace the file, instead of printing the new text.
    #[arg(long)]
    write: bool,
}

#[derive(Args)]
#[group(required = true, multiple = false)]
struct Target {
    /// The new amount, mass or volume of the scale's material, or of another with --of, as in "10 mmol".
    #[arg(long, value_name = "QUANTITY")]
    to: Option<String>,
    /// What to multiply every amount by, as in 2 or 0.5.
    #[arg(long, value_name = "FACTOR")]
    by: Option<String>,
    /// How much of the product to expect, by its expected yield, as in "5.0 g".
    #[arg(long, value_name = "QUANTITY")]
    product: Option<String>,
    /// Use all that is left in the bottle of this material, by the inventory.
    #[arg(long, value_name = "KEY")]
    bottle_of: Option<String>,
    /// Go as far as the bottles of all materials allow, by the inventory.
    #[arg(long)]
    bottles: bool,
    /// Fill the flask two thirds at its fullest: one of this size, as in "250 mL", or else the plan's own.
    #[arg(long, value_name = "VOLUME")]
    flask: Option<Option<String>>,
    /// Go down to the smallest scale at which each amount is measured to this error; 5 % unless said.
    #[arg(long, value_name = "ERROR")]
    smallest: Option<Option<String>>,
}

#[derive(Args)]
struct Formatting {
    /// Plans, or folders to search for files that end in .prep.
    #[arg(required = true, value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// Write nothing, and say which files are not formatted; the exit code is 1 if there is one.
    #[arg(long)]
    check: bool,
}

#[derive(Args)]
struct Sheet {
    /// The plan.
    file: PathBuf,
    /// The file to write, instead of printing the page. A folder (new ones end with /) gets PLAN-RUN.html for every run of the
    /// plan, and no file that is there is replaced.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Which run of the plan, by its label.
    #[arg(long, value_name = "LABEL")]
    run: Option<String>,
    /// The day that the sheet says it was printed on, instead of today.
    #[arg(long, value_name = "DATE", value_parser = sheet::date)]
    date: Option<plan::Date>,
    /// Which plan, counted from 1, where the file holds several.
    #[arg(long, value_name = "NUMBER")]
    plan: Option<usize>,
}

#[derive(Args)]
struct Runs {
    /// The plan.
    file: PathBuf,
    /// The folder to write PLAN-RUN.prep to for every run, instead of printing; it is made where there is none, and no file
    /// that is there is replaced.
    #[arg(short, long, value_name = "FOLDER")]
    output: Option<PathBuf>,
    /// One run alone, by its label.
    #[arg(long, value_name = "LABEL")]
    run: Option<String>,
    /// Which plan, counted from 1, where the file holds several.
    #[arg(long, value_name = "NUMBER")]
    plan: Option<usize>,
}

#[derive(Args)]
struct Explain {
    /// The name of the check, as a finding shows it.
    check: Option<String>,
    /// All checks, as one page of Markdown.
    #[arg(long, conflicts_with = "check")]
    all: bool,
}

#[derive(Args)]
struct Doctor {
    /// A plan, or a folder of plans; unless said, the folder in which you are.
    path: Option<PathBuf>,
}

/// Ways to write amounts.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum AmountsFormat {
    /// For people.
    Text,
    /// For programs.
    Json,
    /// For spreadsheets: comma-separated values, a line a material or product.
    Csv,
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
    let log_file = match &cli.command {
        None => cli.serve.log_file,
        Some(Command::Serve(serve)) => serve.log_file.clone(),
        Some(_) => None,
    };
    if let Err(why) = crate::log::start(log_file.as_deref()) {
        return complain(&why).into();
    }
    let outcome = match cli.command {
        None | Some(Command::Serve(_)) => serve::serve(),
        Some(Command::Check(arguments)) => {
            let profile = arguments.profile.map(Into::into);
            check::check(&arguments.paths, arguments.format, profile, arguments.deny)
        }
        Some(Command::Amounts(arguments)) => amounts::amounts(&arguments.file, arguments.format),
        Some(Command::Rescale(arguments)) => rescale::rescale(&arguments),
        Some(Command::Format(arguments)) => format::format(&arguments.paths, arguments.check),
        Some(Command::Sheet(arguments)) => sheet::sheet(&arguments),
        Some(Command::Runs(arguments)) => runs::runs(&arguments),
        Some(Command::Explain(arguments)) => {
            explain::explain(arguments.check.as_deref(), arguments.all)
        }
        Some(Command::Doctor(arguments)) => doctor::doctor(arguments.path.as_deref()),
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
