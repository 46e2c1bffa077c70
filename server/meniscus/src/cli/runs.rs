//! `meniscus runs`, and what other commands say of runs.

use super::{Outcome, Runs, complain, files, print};
use ide::PlanUnit;
use plan::Plan;
use plan::runs::{Drawn, Run, Series, Total};
use plan::tools::Measure;
use serde::Serialize;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use uom::si::mass::milligram;
use uom::si::volume::milliliter;

/// Prints the plan of every run, or writes each to a file.
pub(super) fn runs(arguments: &Runs) -> Outcome {
    match try_runs(arguments) {
        Ok(outcome) => outcome,
        Err(complaint) => complain(&complaint),
    }
}

fn try_runs(arguments: &Runs) -> Result<Outcome, String> {
    let text = files::read(&arguments.file)?;
    let document = files::document(&arguments.file, &text);
    let unit = files::choose(&document, &arguments.file, arguments.plan)?;
    let chosen = chosen(&unit, &arguments.file, arguments.run.as_deref())?;
    let texts = chosen
        .into_iter()
        .map(|(run, plan)| (run.label.text.to_string(), plan.text.text.to_string()));
    let texts: Vec<(String, String)> = texts.collect();
    match &arguments.output {
        Some(folder) => write_each(&arguments.file, folder, "prep", &texts),
        None => {
            let mut all = String::new();
            for (_, text) in &texts {
                let eol = if text.contains("\r\n") { "\r\n" } else { "\n" };
                if !all.is_empty() {
                    all.push_str(eol);
                }
                all.push_str(text);
                if !text.ends_with('\n') {
                    all.push_str(eol);
                }
            }
            Ok(print(&all))
        }
    }
}

/// The run that was asked for, or all of them, each with its plan.
pub(super) fn chosen(
    unit: &PlanUnit<'_>,
    file: &Path,
    label: Option<&str>,
) -> Result<Vec<(Run, Plan)>, String> {
    let file = file.display();
    let plan = unit.plan;
    let runs = match label {
        Some(label) => vec![plan.run(label).ok_or_else(|| no_such_run(plan, label))?],
        None => plan.runs(),
    };
    if runs.is_empty() {
        return Err(format!(
            "{file} has no runs: write them below `runs`, a line each, as in `A: 5.00 mmol`"
        ));
    }
    let plans = runs.into_iter().map(|run| match plan.of_run(&run) {
        Ok(plan) => Ok((run, plan)),
        Err(why) => Err(format!(
            "cannot work out run {} of {file}: {why}",
            run.label.text
        )),
    });
    plans.collect()
}

fn no_such_run(plan: &Plan, label: &str) -> String {
    let runs = plan.runs();
    let labels: Vec<&str> = runs.iter().map(|run| &*run.label.text).collect();
    match labels.as_slice() {
        [] => format!("the plan has no run {label}: it has no block `runs`"),
        labels => format!("the plan has no run {label}: it has {}", labels.join(", ")),
    }
}

/// Writes a file for each run, named after the plan's file and the run. Where one of them exists nothing is written.
pub(super) fn write_each(
    file: &Path,
    folder: &Path,
    ending: &str,
    texts: &[(String, String)],
) -> Result<Outcome, String> {
    fs::create_dir_all(folder).map_err(|error| {
        let why = files::reason(&error);
        format!("cannot make the folder {}: {why}", folder.display())
    })?;
    let stem = file.file_stem().unwrap_or_default().to_string_lossy();
    let path = |label: &str| folder.join(format!("{stem}-{label}.{ending}"));
    let paths: Vec<PathBuf> = texts.iter().map(|(label, _)| path(label)).collect();
    let there: Vec<String> = paths
        .iter()
        .filter(|path| path.symlink_metadata().is_ok())
        .map(|path| path.display().to_string())
        .collect();
    if !there.is_empty() {
        return Err(format!(
            "nothing was written, for there is already {}: delete it, or choose another folder",
            there.join(", ")
        ));
    }
    let mut written = String::new();
    for (path, (_, text)) in paths.iter().zip(texts) {
        files::write(path, text)?;
        let _ = writeln!(written, "{}", path.display());
    }
    Ok(print(&written))
}

/// What the runs of a plan come to, as text; nothing where there are none.
pub(super) fn section(plan: &Plan) -> String {
    if !plan.has_runs() {
        return String::new();
    }
    let series = plan.series();
    let labels: Vec<&str> = series.plans().map(|(run, _)| &*run.label.text).collect();
    let mut rows = vec![row("", &labels, "all", "")];
    let scale = |plan: &Plan| {
        let (line, quantity) = plan.scale_quantity()?;
        plan.slice(line, quantity.span).map(str::to_owned)
    };
    let scales: Vec<String> = series
        .plans()
        .map(|(_, plan)| scale(plan).unwrap_or_default())
        .collect();
    let scales: Vec<&str> = scales.iter().map(String::as_str).collect();
    rows.push(row("scale", &scales, "", ""));
    for total in series.totals() {
        let cells: Vec<String> = total.drawn.iter().map(Drawn::words).collect();
        let cells: Vec<&str> = cells.iter().map(String::as_str).collect();
        let keys = total.keys.join(", ");
        rows.push(row(&keys, &cells, &total.sum_words(), &total.what()));
    }
    let mut out = String::from("\nAll runs together\n");
    if !labels.is_empty() {
        out.push_str(&table(&rows));
    }
    for (run, plan) in &series.runs {
        if let Err(why) = plan {
            let _ = writeln!(out, "  run {} is not counted: {why}", run.label.text);
        }
    }
    for stock in series.stocks() {
        let _ = writeln!(out, "  {stock}");
    }
    out
}

/// Key, a cell a run, the sum, and what it is.
fn row(key: &str, cells: &[&str], sum: &str, what: &str) -> Vec<String> {
    let cells = std::iter::once(key).chain(cells.iter().copied());
    cells.chain([sum, what]).map(str::to_owned).collect()
}

/// Numbers to the right, words to the left.
fn table(rows: &[Vec<String>]) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut out = String::new();
    for row in rows {
        let mut line = String::from(" ");
        for (column, (cell, width)) in row.iter().zip(&widths).enumerate() {
            let words = column == 0 || column + 1 == columns;
            let _ = match words {
                true => write!(line, " {cell:width$}"),
                false => write!(line, "  {cell:>width$}"),
            };
            if column + 2 == columns {
                line.push(' ');
            }
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// What the runs draw from one bottle, as programs read it.
#[derive(Serialize)]
pub(super) struct TotalRecord {
    keys: Vec<String>,
    name: String,
    strength: Option<String>,
    bottle: Option<String>,
    mass_mg: Option<f64>,
    #[serde(rename = "volume_mL")]
    volume_ml: Option<f64>,
    /// By the labels of the runs that take some of it.
    runs: std::collections::BTreeMap<String, DrawnRecord>,
}

#[derive(Serialize)]
struct DrawnRecord {
    mass_mg: Option<f64>,
    #[serde(rename = "volume_mL")]
    volume_ml: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    undetermined: Option<String>,
}

/// The totals of a plan's runs.
pub(super) fn totals(series: &Series) -> Vec<TotalRecord> {
    let labels: Vec<String> = series
        .plans()
        .map(|(run, _)| run.label.text.to_string())
        .collect();
    let totals = series.totals().into_iter();
    totals.map(|total| total_record(total, &labels)).collect()
}

fn total_record(total: Total, labels: &[String]) -> TotalRecord {
    let drawn = labels.iter().cloned().zip(&total.drawn);
    let runs = drawn.filter(|(_, drawn)| **drawn != Drawn::Nothing);
    let runs = runs.map(|(label, drawn)| {
        let (measure, undetermined) = match drawn {
            Drawn::Measured(measure) => (Some(*measure), None),
            Drawn::Unknown(why) => (None, Some(why.to_string())),
            other => (None, Some(other.words())),
        };
        let [mass_mg, volume_ml] = sizes(measure);
        let record = DrawnRecord {
            mass_mg,
            volume_ml,
            undetermined,
        };
        (label, record)
    });
    let [mass_mg, volume_ml] = sizes(total.sum);
    TotalRecord {
        runs: runs.collect(),
        keys: total.keys.iter().map(ToString::to_string).collect(),
        name: total.name.to_string(),
        strength: total.strength.as_deref().map(str::to_owned),
        bottle: total.bottle.as_deref().map(str::to_owned),
        mass_mg,
        volume_ml,
    }
}

fn sizes(measure: Option<Measure>) -> [Option<f64>; 2] {
    match measure {
        Some(Measure::Mass(mass)) => [Some(mass.get::<milligram>()), None],
        Some(Measure::Volume(volume)) => [None, Some(volume.get::<milliliter>())],
        None => [None, None],
    }
}
