//! `meniscus sheet`

use super::{Outcome, Sheet, complain, files, print, runs};
use plan::{Date, Plan};

/// Prints or writes the bench sheet of a plan.
pub(super) fn sheet(arguments: &Sheet) -> Outcome {
    match try_sheet(arguments) {
        Ok(outcome) => outcome,
        Err(complaint) => complain(&complaint),
    }
}

fn try_sheet(arguments: &Sheet) -> Result<Outcome, String> {
    let text = files::read(&arguments.file)?;
    let document = files::document(&arguments.file, &text);
    let unit = files::choose(&document, &arguments.file, arguments.plan)?;
    let printed = arguments.date.or(document.context().today);
    let of_run = |plan: &Plan| sheet::page(plan, &checks::findings(plan), printed);
    let folder = arguments.output.as_deref().filter(|path| {
        let name = path.as_os_str().to_string_lossy();
        path.is_dir() || name.ends_with(std::path::is_separator)
    });
    let page = match (&arguments.run, folder) {
        (None, Some(folder)) if unit.plan.has_runs() => {
            let runs = runs::chosen(&unit, &arguments.file, None)?;
            let pages = runs.iter();
            let pages = pages.map(|(run, plan)| (run.label.text.to_string(), of_run(plan)));
            let pages: Vec<(String, String)> = pages.collect();
            return runs::write_each(&arguments.file, folder, "html", &pages);
        }
        (Some(label), _) => {
            let runs = runs::chosen(&unit, &arguments.file, Some(label))?;
            runs.iter().map(|(_, plan)| of_run(plan)).collect()
        }
        (None, _) => sheet::page(unit.plan, unit.findings, printed),
    };
    match &arguments.output {
        Some(path) => {
            files::write(path, &page)?;
            Ok(Outcome::Fine)
        }
        None => Ok(print(&page)),
    }
}

/// A day as `2026-11-25`.
pub(super) fn date(text: &str) -> Result<Date, String> {
    let mut parts = text.split('-');
    let date = match [(); 3].map(|()| parts.next()) {
        [Some(year), Some(month), Some(day)] if parts.next().is_none() => {
            let read = (year.parse().ok(), month.parse().ok(), day.parse().ok());
            match read {
                (Some(year), Some(month), Some(day)) => Date::new(year, month, day),
                _ => None,
            }
        }
        _ => None,
    };
    date.ok_or_else(|| "write a day that exists as year-month-day, as in 2026-11-25".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_date_is_a_day_that_exists() {
        assert_eq!(
            date("2026-11-25").map(|d| d.to_string()).as_deref(),
            Ok("2026-11-25")
        );
        for wrong in ["2026-02-30", "25.11.2026", "2026-11", "2026-11-25-1", ""] {
            assert!(date(wrong).is_err(), "{wrong}");
        }
    }
}
