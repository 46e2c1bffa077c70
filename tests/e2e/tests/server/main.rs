//! The server over standard input and output, and the command line, as a user's editor and shell meet them.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a failing test panics"
)]

mod asking;
mod cli;
mod cli_amounts;
mod cli_sheet;
mod configuration;
mod doctor;
mod editing;
mod formatting;
mod git;
mod hammer;
mod handshake;
mod hostile;
mod inventory;
mod keys;
mod lifecycle;
mod log;
mod model;
mod readme;
mod rescaling;
mod runs;
mod saying;
mod startup;
mod tokens;
mod workspace;

/// A small plan with one mistake: a decimal comma, on line 4.
const PLAN: &str = "\
plan Acetylation of benzyl alcohol
scale 5.00 mmol alcohol
materials
  alcohol: benzyl alcohol, 1.00 eq
  base: pyridine, 2,5 mL
  thf: tetrahydrofuran, 25 mL
products
  ester: C9H10O2, 1.00 eq, expect 85 %
equipment
  flask: 100 mL round-bottom flask
steps
  add alcohol, thf
  add base dropwise over 10 min
  stir for 2 h
";

/// A name for a document.
const URI: &str = "file:///bench/a.prep";
