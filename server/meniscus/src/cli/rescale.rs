//! `meniscus rescale`

use super::{Outcome, Rescale, complain, files, print};
use ide::{Document, PlanUnit, TextEdit};
use plan::rescale::{Rescaling, Target};
use rust_decimal::Decimal;
use std::io::Write as _;

/// Prints or writes a plan with every amount rescaled.
pub(super) fn rescale(arguments: &Rescale) -> Outcome {
    match try_rescale(arguments) {
        Ok(outcome) => outcome,
        Err(complaint) => complain(&complaint),
    }
}

fn try_rescale(arguments: &Rescale) -> Result<Outcome, String> {
    let target = target(&arguments.target)?;
    let text = files::read(&arguments.file)?;
    let document = files::document(&arguments.file, &text);
    let unit = choose(&document, arguments)?;
    let (edits, rescaling) = document
        .rescale(unit.start, &target)
        .map_err(|why| format!("cannot rescale {}: {why}", arguments.file.display()))?;
    let new = apply(&text, &edits)
        .ok_or("the edits of the rescaling overlap: this is a defect of meniscus")?;
    let outcome = if arguments.write {
        files::replace(&arguments.file, &new)?;
        Outcome::Fine
    } else {
        print(&new)
    };
    report(&document, &unit, &rescaling);
    Ok(outcome)
}

fn target(target: &super::Target) -> Result<Target, String> {
    match (&target.to, &target.by) {
        (Some(quantity), _) => syntax::read_quantity(quantity)
            .map(Target::To)
            .ok_or_else(|| {
                format!("`{quantity}` is no quantity: write a number and a unit, as in \"10 mmol\"")
            }),
        (None, Some(factor)) => factor
            .trim()
            .parse::<Decimal>()
            .map(Target::By)
            .map_err(|_| format!("`{factor}` is no factor: write a number, as in 2 or 0.5")),
        (None, None) => Err("say --to QUANTITY or --by FACTOR".to_owned()),
    }
}

/// The plan that was asked for, or the only one.
fn choose<'a>(document: &'a Document, arguments: &Rescale) -> Result<PlanUnit<'a>, String> {
    let file = arguments.file.display();
    let plans: Vec<_> = files::written_plans(document).collect();
    let titles = || {
        let title = |unit: &PlanUnit<'_>| {
            unit.plan
                .title
                .as_ref()
                .map_or("without a title".into(), |t| t.text.clone())
        };
        let titles = plans
            .iter()
            .zip(1..)
            .map(|(unit, number)| format!("\n  --plan {number}  {}", title(unit)));
        titles.collect::<String>()
    };
    match (arguments.plan, plans.as_slice()) {
        (_, []) => Err(format!("{file} holds no plan")),
        (None, [only]) => Ok(*only),
        (None, _) => Err(format!(
            "{file} holds several plans; say which:{}",
            titles()
        )),
        (Some(number), plans) => number
            .checked_sub(1)
            .and_then(|index| plans.get(index).copied())
            .ok_or_else(|| format!("{file} has no plan {number}:{}", titles())),
    }
}

/// The text with the edits made; none if two of them overlap.
fn apply(text: &str, edits: &[TextEdit]) -> Option<String> {
    let mut edits: Vec<_> = edits.iter().collect();
    edits.sort_by_key(|edit| edit.range.start);
    let mut new = String::with_capacity(text.len());
    let mut done = 0;
    for edit in edits {
        new.push_str(text.get(done..edit.range.start)?);
        new.push_str(&edit.new_text);
        done = edit.range.end;
    }
    new.push_str(text.get(done..)?);
    Some(new)
}

/// Says on standard error, apart from the new text, what was done and what was left alone.
fn report(document: &Document, unit: &PlanUnit<'_>, rescaling: &Rescaling) {
    let mut lines = format!(
        "rescaled to {} (× {}): {} numbers changed\n",
        rescaling.scale,
        rescaling.factor.normalize(),
        rescaling.edits.len()
    );
    for at in &rescaling.left_alone {
        let range = unit.range(*at);
        let line = document.rope().byte_to_line(range.start) + 1;
        let words = document.rope().byte_slice(range);
        lines.push_str(&format!("left alone on line {line}: {words}\n"));
    }
    // The work is done whether or not this can be said.
    let _ = anstream::stderr().write_all(lines.as_bytes());
}

#[cfg(test)]
mod tests {
    use super::*;

    fn edit(range: std::ops::Range<usize>, new_text: &str) -> TextEdit {
        TextEdit {
            range,
            new_text: new_text.to_owned(),
        }
    }

    #[test]
    fn edits_are_made_from_the_original_text() {
        assert_eq!(
            apply("5.00 mmol\r\n", &[edit(5..6, "k"), edit(0..4, "10.0")]).as_deref(),
            Some("10.0 kmol\r\n")
        );
        assert_eq!(apply("abc", &[edit(0..2, ""), edit(1..3, "")]), None);
        assert_eq!(apply("abc", &[edit(0..9, "")]), None);
    }
}
