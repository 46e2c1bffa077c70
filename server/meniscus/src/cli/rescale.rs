//! `meniscus rescale`

use super::{Outcome, Rescale, complain, files, print};
use ide::{Document, Group, PlanUnit, Rescaled, TargetKind, TargetText, TextEdit};
use std::io::Write as _;

/// Prints or writes a plan with every amount rescaled.
pub(super) fn rescale(arguments: &Rescale) -> Outcome {
    match try_rescale(arguments) {
        Ok(outcome) => outcome,
        Err(complaint) => complain(&complaint),
    }
}

fn try_rescale(arguments: &Rescale) -> Result<Outcome, String> {
    let target = target(arguments)?;
    let text = files::read(&arguments.file)?;
    let document = files::document(&arguments.file, &text);
    let unit = files::choose(&document, &arguments.file, arguments.plan)?;
    let rescaled = match arguments.to_tools {
        true => document.rescale_target_to_tools(unit.start, &target),
        false => document.rescale_target(unit.start, &target),
    };
    let rescaled =
        rescaled.map_err(|why| format!("cannot rescale {}: {why}", arguments.file.display()))?;
    let edits = rescaled.edits_with(|group| match group {
        Group::Scales => true,
        Group::Equipment => arguments.equipment,
        Group::Mentions => arguments.mentions,
    });
    let new = apply(&text, &edits)
        .ok_or("the edits of the rescaling overlap: this is a defect of meniscus")?;
    let report = report(&document, &unit, &rescaled, arguments);
    let outcome = if arguments.write {
        files::replace(&arguments.file, &new)?;
        Outcome::Fine
    } else {
        print(&new)
    };
    // The work is done whether or not this can be said.
    let _ = anstream::stderr().write_all(report.as_bytes());
    Ok(outcome)
}

/// The goal among the arguments, of which the parser lets through just one.
fn target(arguments: &Rescale) -> Result<TargetText, String> {
    let goal = &arguments.target;
    let (kind, quantity) = if let Some(quantity) = &goal.to {
        (TargetKind::To, Some(quantity))
    } else if let Some(factor) = &goal.by {
        (TargetKind::By, Some(factor))
    } else if let Some(quantity) = &goal.product {
        (TargetKind::Product, Some(quantity))
    } else if goal.bottle_of.is_some() {
        (TargetKind::Bottle, None)
    } else if goal.bottles {
        (TargetKind::Bottles, None)
    } else if let Some(size) = &goal.flask {
        (TargetKind::Flask, size.as_ref())
    } else if let Some(error) = &goal.smallest {
        (TargetKind::Smallest, error.as_ref())
    } else {
        return Err("say --to QUANTITY or --by FACTOR".to_owned());
    };
    let key = match (&goal.bottle_of, &arguments.of) {
        (Some(_), Some(_)) => return Err("--bottle-of names its line: leave out --of".to_owned()),
        (bottle, of) => bottle.as_ref().or(of.as_ref()),
    };
    Ok(TargetText {
        kind,
        quantity: quantity.cloned(),
        key: key.cloned(),
    })
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

/// What goes to standard error, apart from the new text: what will be newly wrong, what was done, what was not.
fn report(
    document: &Document,
    unit: &PlanUnit<'_>,
    rescaled: &Rescaled,
    arguments: &Rescale,
) -> String {
    let rescaling = &rescaled.rescaling;
    let line_of = |at| document.rope().byte_to_line(unit.range(at).start) + 1;
    let mut lines = Vec::new();
    for wrong in &rescaled.newly_wrong {
        let mends = match (wrong.mended_by_equipment, arguments.equipment) {
            (true, true) => continue,
            (true, false) => " (--equipment mends it)",
            (false, _) => "",
        };
        lines.push(format!(
            "newly wrong on line {}{mends}: {} [{}]: {}",
            wrong.line + 1,
            wrong.severity.word(),
            wrong.check,
            wrong.message
        ));
    }
    let limit = rescaling.limit.as_ref();
    lines.push(format!(
        "rescaled to {} (× {}): {} edits{}",
        rescaling.scale,
        ide::factor_text(rescaling.factor),
        rescaling.edits.len(),
        limit.map_or_else(String::new, |limit| format!("; {limit}"))
    ));
    for edit in &rescaling.equipment {
        let done = if !edit.optional || arguments.equipment {
            "made"
        } else {
            "not made (--equipment makes it)"
        };
        lines.push(format!(
            "{} on line {}, {done}: {}",
            edit.size,
            line_of(edit.at),
            edit.why
        ));
    }
    let offered = |at: plan::At| {
        let mut offered = rescaling.optional.iter();
        offered.any(|edit| {
            edit.at.line == at.line
                && edit.at.span.start >= at.span.start
                && edit.at.span.end <= at.span.end
        })
    };
    for (line, words, left) in &rescaled.left_alone {
        let place = left.place.words();
        let (line, offered) = (line + 1, offered(left.at));
        lines.push(match (offered, arguments.mentions) {
            (true, true) => format!("rescaled on line {line}: {words}, {place}"),
            (true, false) => {
                format!("left alone on line {line}: {words}, {place} (--mentions rescales it)")
            }
            (false, _) => format!("left alone on line {line}: {words}, {place}"),
        });
    }
    lines.extend(rescaling.notes.iter().map(|note| format!("note: {note}")));
    lines.join("\n") + "\n"
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
