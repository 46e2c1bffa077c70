//! `meniscus doctor`

use super::{Outcome, complain, files, print};
use crate::positions::{Encoding, to_position};
use crate::surroundings::{FILES, Found, Surroundings};
use chemistry::{Formula, Substance};
use plan::Kept;
use plan::inventory::Inventory;
use ropey::Rope;
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// Where the clients say of which version they are, and what they need.
const VS_CODE: &str = include_str!("../../../../editor-clients/vscode/package.json");
const NEOVIM: &str = include_str!("../../../../editor-clients/neovim/lua/meniscus/health.lua");
const EMACS: &str = include_str!("../../../../editor-clients/emacs/meniscus.el");

/// Says what a plan here is read against and by what; the outcome is wrong if anything of it is.
pub(super) fn doctor(path: Option<&Path>) -> Outcome {
    let here = PathBuf::from(".");
    let path = path.unwrap_or(&here);
    if let Err(error) = std::fs::metadata(path) {
        return complain(&format!(
            "cannot look at {}: {}",
            path.display(),
            files::reason(&error)
        ));
    }
    let absolute = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    // Of a folder, what a plan in it would be read against.
    let plan = match absolute.is_dir() {
        true => absolute.join("plan.prep"),
        false => absolute.clone(),
    };
    let mut report = Report::default();
    report.line("meniscus", env!("CARGO_PKG_VERSION"));
    report.line(
        "program",
        &std::env::current_exe().map_or_else(
            |error| format!("not to be told: {error}"),
            |path| path.display().to_string(),
        ),
    );
    report.line("system", &system());
    report.line("looked from", &absolute.display().to_string());
    if !absolute.is_dir()
        && let Err(why) = files::read(&absolute)
    {
        report.wrong(&why);
    }
    let found = Surroundings::default().for_plan(&plan);
    for file in FILES {
        report.file(file, &found);
    }
    report.line("library", &library());
    report.line(
        "protocol",
        "Language Server Protocol 3.17, on standard input and output",
    );
    report.line("clients", &clients().join("; "));
    let problems = report.problems;
    report.line("problems", &problems.to_string());
    match (print(&report.text), problems) {
        (Outcome::Fine, 0) => Outcome::Fine,
        (Outcome::Fine, _) => Outcome::Wrong,
        (misuse, _) => misuse,
    }
}

#[derive(Default)]
struct Report {
    text: String,
    problems: usize,
}

impl Report {
    fn line(&mut self, what: &str, says: &str) {
        // Writing to a string does not fail.
        let _ = writeln!(self.text, "{what:<16}{says}");
    }

    fn wrong(&mut self, why: &str) {
        self.problems += 1;
        self.line("", &format!("problem: {why}"));
    }

    /// A file that plans are read against: where it is and what of it reads.
    fn file(&mut self, name: &str, found: &Found) {
        let Some(file) = found.files.iter().find(|file| file.path.ends_with(name)) else {
            self.line(name, "none in this folder or above it");
            return;
        };
        let mut says = file.path.display().to_string();
        if name == Inventory::FILE
            && let Some(inventory) = &found.context.inventory
        {
            let (read, broken) = (inventory.bottles.len(), inventory.broken.len());
            let _ = write!(says, ": {read} bottles read");
            if broken > 0 {
                let _ = write!(says, ", {broken} not");
            }
        }
        self.line(name, &says);
        let text = Rope::from_str(&file.text);
        for problem in &file.problems {
            let at = to_position(&text, problem.range.start, Encoding::Utf32);
            self.wrong(&format!(
                "line {}:{}: {}",
                at.line + 1,
                at.character + 1,
                problem.message
            ));
        }
    }
}

fn system() -> String {
    format!("{} on {}", std::env::consts::OS, std::env::consts::ARCH)
}

fn library() -> String {
    let mut all = 0;
    let mut having = [0; 4];
    for substance in Substance::all() {
        all += 1;
        let mass = substance
            .formula()
            .and_then(|formula| Formula::parse(formula).ok());
        let has = [
            mass.is_some_and(|formula| formula.molar_mass().is_ok()),
            substance.density().is_some(),
            substance.class().is_some(),
            substance.hazards().next().is_some(),
        ];
        for (count, has) in having.iter_mut().zip(has) {
            *count += usize::from(has);
        }
    }
    let [mass, density, class, hazards] = having;
    format!(
        "{all} substances; {mass} with a molar mass, {density} with a density, {class} with a class of reagent, {hazards} with hazards; {} checks",
        checks::ALL.len()
    )
}

/// The clients that come with this version, and the editors that they need.
fn clients() -> Vec<String> {
    let package: serde_json::Value = serde_json::from_str(VS_CODE).unwrap_or_default();
    let vs_code = package["engines"]["vscode"].as_str().unwrap_or_default();
    let between = |text: &str, before: &str, after: &str| {
        let (_, rest) = text.split_once(before)?;
        Some(rest.split_once(after)?.0.to_owned())
    };
    let neovim = between(NEOVIM, "has('nvim-", "')").unwrap_or_default();
    let emacs = between(EMACS, "(emacs \"", "\")").unwrap_or_default();
    vec![
        format!("VS Code {} or later", vs_code.trim_start_matches('^')),
        format!("Neovim {neovim} or later"),
        format!("Emacs {emacs} or later"),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The clients' own files are read, so a change of their form must not leave a gap.
    #[test]
    fn every_client_says_which_editor_it_needs() {
        for client in clients() {
            let number = client
                .split(' ')
                .find(|word| word.starts_with(|c: char| c.is_ascii_digit()));
            assert!(
                number.is_some_and(|number| number.contains('.')),
                "{client}"
            );
        }
    }
}
