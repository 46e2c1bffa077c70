//! The bottle that a line names, and what is wrong with the files that plans are read against.

use crate::document::{Finding, PlanUnit};
use crate::hover::escape;
use checks::Severity;
use plan::inventory::{self, Bottle};
use plan::{NamedBottle, Problem};
use std::fmt::Write as _;
use syntax::Span;

/// The bottle that stands at a place of a line.
pub(crate) fn named<'a>(unit: &PlanUnit<'a>, line: u32, at: u32) -> Option<&'a NamedBottle> {
    let materials = &unit.plan.materials;
    let material = materials.iter().find(|material| material.line == line)?;
    let named = material.named.as_ref()?;
    let span = named.at.span;
    (span.start <= at && at <= span.end).then_some(named)
}

/// What is to be said of a bottle at a place of a line.
pub(crate) fn hover(unit: &PlanUnit<'_>, line: u32, at: u32) -> Option<(Span, String)> {
    let named = named(unit, line, at)?;
    let bottle = named.bottle()?;
    Some((named.at.span, describe(unit, bottle)))
}

fn describe(unit: &PlanUnit<'_>, bottle: &Bottle) -> String {
    let today = unit.plan.context.today;
    let mut out = format!(
        "**bottle {}** {}",
        escape(&bottle.name),
        escape(&bottle.material.identity.name)
    );
    if let Some(strength) = &bottle.strength {
        let _ = write!(out, ", {}", escape(strength));
    }
    let stands = [
        bottle.place.as_deref().map(str::to_owned),
        bottle
            .left
            .as_ref()
            .map(|left| format!("{} left", inventory::written(left))),
    ];
    let stands: Vec<String> = stands.into_iter().flatten().collect();
    if !stands.is_empty() {
        let _ = write!(out, "\n\n**{}**", escape(&stands.join(" · ")));
    }
    let aged = |date: plan::Date| match today.map(|today| today.days_since(date)) {
        Some(days) if days >= 0 => format!("{date}, {} ago", inventory::days(days)),
        _ => date.to_string(),
    };
    let measured = |what: &str, value: String, on: Option<plan::Date>| match on {
        Some(date) => format!("{what}: {value} ({})", aged(date)),
        None => format!("{what}: {value} (no date)"),
    };
    let lines = [
        bottle
            .titre()
            .map(|titre| measured("titre", inventory::written(titre), bottle.titred)),
        bottle
            .water()
            .map(|water| measured("water", inventory::written(water), bottle.water_measured)),
        bottle.opened.map(|date| format!("opened {}", aged(date))),
        bottle.expires.map(|date| {
            let word = if bottle.has_expired(today) {
                "expired"
            } else {
                "expires"
            };
            format!("{word} {date}")
        }),
    ];
    for line in lines.into_iter().flatten() {
        let _ = write!(out, "\n- {}", escape(&line));
    }
    out
}

/// What is wrong with a file that plans are read against, in offsets of its text.
#[must_use]
pub fn file_findings(name: &'static str, problems: &[Problem]) -> Vec<Finding> {
    let finding = |problem: &Problem| Finding {
        check: name,
        severity: Severity::Error,
        range: problem.range.clone(),
        message: problem.message.clone(),
        related: Vec::new(),
        fixes: Vec::new(),
    };
    problems.iter().map(finding).collect()
}
