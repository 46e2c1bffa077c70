//! Runs of a plan in the editor: what each comes to, all of them together, and one as a plan of its own.

use crate::actions::{Action, ActionKind};
use crate::document::{PlanUnit, TextEdit};
use crate::hover::{escape, prose};
use plan::measuring::Way;
use plan::runs::Drawn;
use plan::{Amounts, Material, Plan, show};
use std::fmt::Write as _;
use syntax::{Block, Line, Span, Statement};

/// What is to be said of a line of `runs`, or of its header.
pub(crate) fn hover(unit: &PlanUnit<'_>, index: u32, line: &Line) -> Option<(Span, String)> {
    let whole = Span {
        start: 0,
        end: line.comment.map_or(line.len, |comment| comment.start),
    };
    match &line.statement {
        Statement::Run(_) => Some((whole, of_run(unit.plan, index)?)),
        Statement::Header(Block::Runs) => Some((whole, together(unit.plan)?)),
        _ => None,
    }
}

fn of_run(plan: &Plan, line: u32) -> Option<String> {
    let run = plan.run_of_line(line)?;
    let own = match plan.of_run(&run) {
        Ok(own) => own,
        Err(why) => return Some(format!("No amounts: {}.", prose(&why.to_string()))),
    };
    let mut out = format!("**run {}**", escape(&run.label.text));
    if let Some(scale) = scale(&own) {
        let _ = write!(out, " {}", escape(&scale));
    }
    out.push_str("\n\n| | | |\n| ---: | --- | --- |");
    for (material, amounts) in own.materials.iter().zip(&own.ledger.amounts) {
        let _ = write!(
            out,
            "\n| {} | {} | {} |",
            escape(&measure(&own, material, amounts)),
            escape(&material.key.text),
            escape(&material.identity.name)
        );
    }
    Some(out)
}

fn scale(plan: &Plan) -> Option<String> {
    let (line, quantity) = plan.scale_quantity()?;
    let amount = plan.slice(line, quantity.span)?;
    let key = plan.ledger.scale.as_ref().and_then(|scale| scale.key);
    let key = key.and_then(|key| plan.material(key));
    Some(match key {
        Some((material, _)) => format!("{amount} {}", material.key.text),
        None => amount.to_owned(),
    })
}

/// What is measured of a line, or expected.
fn measure(plan: &Plan, material: &Material, amounts: &Amounts) -> String {
    if material.product {
        return match (&amounts.expected, &amounts.pure_mass) {
            (Some((Ok(mass), _)), _) => format!("{} expected", show::mass(mass.value)),
            (_, Ok(mass)) => format!("{} in theory", show::mass(mass.value)),
            _ => "?".to_owned(),
        };
    }
    match (plan.way(material, amounts), &amounts.mass, &amounts.volume) {
        (Way::Excess, ..) => "excess".to_owned(),
        (Way::Weigh, Ok(mass), _) => show::mass(mass.value),
        (_, _, Ok(volume)) => show::volume(volume.value),
        (_, Ok(mass), _) => show::mass(mass.value),
        _ => "?".to_owned(),
    }
}

/// What all runs draw, a row a bottle.
fn together(plan: &Plan) -> Option<String> {
    if !plan.has_runs() {
        return None;
    }
    let series = plan.series();
    let labels: Vec<String> = series
        .plans()
        .map(|(run, _)| escape(&run.label.text))
        .collect();
    let mut out = String::from("**All runs together**");
    if !labels.is_empty() {
        let _ = write!(out, "\n\n| | {} | all | |", labels.join(" | "));
        let _ = write!(
            out,
            "\n| --- |{} ---: | --- |",
            " ---: |".repeat(labels.len())
        );
    }
    for total in series.totals() {
        let keys = total.keys.join(", ");
        let cells: Vec<String> = total.drawn.iter().map(Drawn::words).collect();
        let cells = std::iter::once(keys).chain(cells);
        let cells = cells.chain([total.sum_words(), total.what()]);
        let cells: Vec<String> = cells.map(|cell| escape(&cell)).collect();
        let _ = write!(out, "\n| {} |", cells.join(" | "));
    }
    for stock in series.stocks() {
        let _ = write!(out, "\n\n{}", escape(&stock.to_string()));
    }
    for (run, plan) in &series.runs {
        if let Err(why) = plan {
            let label = escape(&run.label.text);
            let _ = write!(
                out,
                "\n\nrun {label} is not counted: {}.",
                prose(&why.to_string())
            );
        }
    }
    Some(out)
}

/// The run of a line, written as a plan behind its own.
pub(crate) fn write_out(unit: &PlanUnit<'_>, line: u32) -> Option<Action> {
    let run = unit.plan.run_of_line(line)?;
    let text = &run.text.as_ref().ok()?.text;
    let own = &unit.plan.text.text;
    let eol = if own.contains("\r\n") { "\r\n" } else { "\n" };
    let end = unit.start + own.len();
    let before = match own.ends_with(['\n', '\r']) {
        true => "",
        false => eol,
    };
    // An empty line sets it off from the plan before it, and from the one behind.
    let new_text = format!("{before}{eol}{}{eol}", text.trim_end());
    Some(Action {
        title: format!("Write run {} as a plan of its own", run.label.text),
        kind: ActionKind::Run,
        edits: vec![TextEdit {
            range: end..end,
            new_text,
        }],
        groups: Vec::new(),
        fixes: None,
        preferred: false,
    })
}
