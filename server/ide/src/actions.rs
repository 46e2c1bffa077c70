//! What an editor offers to do at a place: the fixes of findings, and rescaling.

use crate::cursor;
use crate::document::{Document, PlanUnit, TextEdit};
use crate::rescaling::{EditGroup, Rescaled, factor_text};
use crate::runs;
use checks::Severity;
use plan::rescale::{self, Target};
use plan::vessel::Apparatus;
use plan::{Material, Plan, show};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use std::ops::Range;
use syntax::{AmountKind, EquipmentKind, Statement};

/// Something an editor can do to the text.
#[derive(Clone, Debug, PartialEq)]
pub struct Action {
    /// What it does.
    pub title: String,
    /// What kind of action it is.
    pub kind: ActionKind,
    /// The edits that need no agreement, in order.
    pub edits: Vec<TextEdit>,
    /// Of a rescaling, all edits by what they are about: `edits` and those that somebody has to agree with.
    pub groups: Vec<EditGroup>,
    /// The finding that it mends, by its place in [`Document::findings`].
    pub fixes: Option<usize>,
    /// Whether an editor may apply it without asking which.
    pub preferred: bool,
}

/// Kinds of action.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ActionKind {
    /// Mends a finding.
    Fix,
    /// Begins the comment that allows a finding.
    Allow,
    /// Rescales the plan.
    Rescale,
    /// Writes a run as a plan of its own.
    Run,
}

/// The factors offered on the scale line.
const FACTORS: [(i64, u32, &str); 6] = [
    (2, 0, "× 2"),
    (5, 0, "× 5"),
    (10, 0, "× 10"),
    (5, 1, "÷ 2"),
    (2, 1, "÷ 5"),
    (1, 1, "÷ 10"),
];

impl Document {
    /// The actions for a stretch of the document.
    #[must_use]
    pub fn actions(&self, range: Range<usize>) -> Vec<Action> {
        let mut actions = Vec::new();
        let mut allowing = Vec::new();
        let found = self.plans().flat_map(|unit| {
            let findings = unit.findings.iter();
            findings.map(move |finding| (unit, finding))
        });
        for (index, (unit, raw)) in found.enumerate() {
            let finding = unit.finding(raw);
            if finding.range.start > range.end || finding.range.end < range.start {
                continue;
            }
            allowing.extend(allow(&unit, raw, index));
            for fix in finding.fixes {
                actions.push(Action {
                    title: fix.title,
                    kind: ActionKind::Fix,
                    edits: fix.edits,
                    groups: Vec::new(),
                    fixes: Some(index),
                    preferred: fix.preferred,
                });
            }
        }
        actions.append(&mut allowing);
        if let Some(unit) = self.plan_at(range.start)
            && let Some((index, line, _)) = cursor::line_at(&unit, range.start)
        {
            let goals = match line.statement {
                Statement::Scale(_) => scale_goals(unit.plan),
                Statement::Entry(_) => entry_goals(unit.plan, index),
                Statement::Equipment(_) => equipment_goals(unit.plan, index),
                _ => Vec::new(),
            };
            let rescalings = goals.into_iter().filter_map(|goal| {
                let rescaled = self.rescale_unit(&unit, &goal.target).ok()?;
                let action = rescale_action(&unit, rescaled, &goal);
                // A fix of a finding may say the same.
                let is_new = !action.edits.is_empty()
                    && actions.iter().all(|other| other.edits != action.edits);
                is_new.then_some(action)
            });
            let rescalings: Vec<Action> = rescalings.collect();
            actions.extend(rescalings);
            if let Statement::Run(_) = line.statement {
                actions.extend(runs::write_out(&unit, index));
            }
            if let Statement::Scale(_) = line.statement {
                actions.extend(self.round_to_tools(&unit));
                actions.extend(let_lines_follow(&unit));
            }
        }
        actions
    }
}

/// The comment that allows a finding.
fn allow(unit: &PlanUnit<'_>, finding: &checks::Finding, index: usize) -> Option<Action> {
    let fix = checks::allow_here(unit.plan, finding)?;
    Some(Action {
        title: fix.title,
        kind: ActionKind::Allow,
        edits: unit.edits(&fix.edits),
        groups: Vec::new(),
        fixes: Some(index),
        preferred: false,
    })
}

impl Document {
    /// The plan at its own scale, with what is measured rounded to what the tools read; nothing where none are stated.
    fn round_to_tools(&self, unit: &PlanUnit<'_>) -> Option<Action> {
        let own = Target::By(Decimal::ONE);
        let rescaling = rescale::rescale_to_tools(unit.plan, &own);
        let rescaled = self.rescaled(unit, rescaling).ok()?;
        let measured = &rescaled.rescaling.measured;
        if measured.iter().all(|found| found.assumed) {
            return None;
        }
        let moved = measured.len();
        let goal = Goal::new(own, format!("Round {moved} measured amounts to the tools"));
        let action = rescale_action(unit, rescaled, &goal);
        (!action.edits.is_empty()).then_some(action)
    }
}

/// After the scale was edited: every stated amount that disagrees with its equivalents is written anew.
fn let_lines_follow(unit: &PlanUnit<'_>) -> Option<Action> {
    let findings = unit.findings.iter();
    let follows = findings
        .filter(|finding| finding.check == "amounts-disagree")
        .filter_map(|finding| finding.fixes.first());
    let mut edits: Vec<TextEdit> = follows
        .flat_map(|fix| &fix.edits)
        .map(|(range, text)| TextEdit {
            range: unit.shift(range.clone()),
            new_text: text.clone(),
        })
        .collect();
    edits.sort_by_key(|edit| edit.range.start);
    edits.dedup();
    let apart = edits
        .windows(2)
        .all(|pair| pair[0].range.end <= pair[1].range.start);
    (edits.len() > 1 && apart).then(|| Action {
        title: format!("Let {} stated amounts follow the scale", edits.len()),
        kind: ActionKind::Fix,
        edits,
        groups: Vec::new(),
        fixes: None,
        preferred: false,
    })
}

/// A rescaling to offer.
struct Goal {
    target: Target,
    /// What it does, where the line says more than the factor does.
    verb: Option<String>,
    /// How the factor is written, where it is a plain one.
    factor: Option<&'static str>,
}

impl Goal {
    fn new(target: Target, verb: impl Into<String>) -> Goal {
        Goal {
            target,
            verb: Some(verb.into()),
            factor: None,
        }
    }
}

fn scale_goals(plan: &Plan) -> Vec<Goal> {
    let factors = FACTORS.iter().map(|&(mantissa, decimals, words)| Goal {
        target: Target::By(Decimal::new(mantissa, decimals)),
        verb: None,
        factor: Some(words),
    });
    let bottles = plan
        .materials
        .iter()
        .any(has_left)
        .then(|| Goal::new(Target::Bottles, "Rescale plan as far as the bottles go"));
    factors.chain(bottles).collect()
}

/// What is left in the line's bottle is known.
fn has_left(material: &Material) -> bool {
    let bottle = material.named.as_ref().and_then(|named| named.bottle());
    bottle.is_some_and(|bottle| bottle.left.is_some())
}

fn entry_goals(plan: &Plan, line: u32) -> Vec<Goal> {
    let found = plan.materials.iter().enumerate();
    let Some((index, material)) = found.into_iter().find(|(_, m)| m.line == line) else {
        return Vec::new();
    };
    let mut goals = Vec::new();
    if material.product {
        let masses = material.stated.iter().filter_map(|amount| {
            let mass = amount.kind == AmountKind::Mass;
            amount
                .quantity
                .filter(|quantity| mass && quantity.to.is_none())
        });
        let expected = material.expected_yield.is_some();
        goals.extend(masses.filter(|_| expected).map(|quantity| {
            let words = plan.slice(line, quantity.span).unwrap_or("this mass");
            let target = Target::Of {
                material: index,
                quantity,
            };
            Goal::new(target, format!("Rescale plan to expect {words}"))
        }));
        return goals;
    }
    for stated in rescale::disagreeing(plan, index) {
        let amount = material.stated.get(stated);
        let words = amount.and_then(|amount| plan.slice(line, amount.span));
        let target = Target::Line {
            material: index,
            stated,
        };
        let words = words.unwrap_or("this amount");
        goals.push(Goal::new(target, format!("Let the plan follow {words}")));
    }
    if has_left(material)
        && let Some(named) = &material.named
    {
        let target = Target::Bottle { material: index };
        let verb = format!("Rescale plan to use all of bottle {}", named.name.text);
        goals.push(Goal::new(target, verb));
    }
    goals
}

fn equipment_goals(plan: &Plan, line: u32) -> Vec<Goal> {
    let fits = |item: &Apparatus| item.line == Some(line) && item.kind == EquipmentKind::Vessel;
    let Some(vessel) = plan.apparatus.iter().position(fits) else {
        return Vec::new();
    };
    let name = plan.apparatus.get(vessel).map_or("it", |item| &item.name);
    let target = Target::Fill {
        vessel: Some(vessel),
        capacity: None,
    };
    vec![Goal::new(
        target,
        format!("Rescale plan to fill {name} two thirds"),
    )]
}

impl Document {
    /// A rescaling in a few words, what would be newly wrong first.
    #[must_use]
    pub fn rescaling_title(&self, offset: usize, rescaled: &Rescaled) -> Option<String> {
        let goal = Goal {
            target: Target::By(rescaled.rescaling.factor),
            verb: None,
            factor: None,
        };
        Some(title(&self.plan_at(offset)?, rescaled, &goal))
    }
}

fn rescale_action(unit: &PlanUnit<'_>, rescaled: Rescaled, goal: &Goal) -> Action {
    Action {
        title: title(unit, &rescaled, goal),
        kind: ActionKind::Rescale,
        edits: rescaled.edits(),
        groups: rescaled.groups,
        fixes: None,
        preferred: false,
    }
}

/// `Rescale plan to 10.0 mmol (× 2): ketone 1.54 g, needs flask 250 mL`; what would be newly wrong comes first.
fn title(unit: &PlanUnit<'_>, rescaled: &Rescaled, goal: &Goal) -> String {
    let rescaling = &rescaled.rescaling;
    let factor = match goal.factor {
        Some(words) => words.to_owned(),
        None => format!("× {}", factor_text(rescaling.factor)),
    };
    let scale = &rescaling.scale;
    let mut title = match &goal.verb {
        Some(verb) => format!("{verb}: scale {scale} ({factor})"),
        None => format!("Rescale plan to {scale} ({factor})"),
    };
    let ledger = &unit.plan.ledger;
    let material = ledger
        .scale
        .as_ref()
        .and_then(|scale| unit.plan.material(scale.key?));
    let mut more = Vec::new();
    if let Some((material, amounts)) = material
        && let Ok(mass) = &amounts.mass
    {
        let factor = rescaling.factor.to_f64().unwrap_or(1.0);
        more.push(format!(
            "{} {}",
            material.key.text,
            show::mass(mass.value * factor)
        ));
    }
    let sizes = rescaling.equipment.iter();
    let sizes: Vec<String> = sizes
        .map(|edit| format!("{} {}", edit.name, edit.size))
        .collect();
    if !sizes.is_empty() {
        more.push(format!("needs {}", sizes.join(", ")));
    }
    if !more.is_empty() {
        let separator = if goal.verb.is_some() { ", " } else { ": " };
        title = format!("{title}{separator}{}", more.join(", "));
    }
    match newly_wrong(rescaled) {
        Some(wrong) => format!("{wrong}: {}", uncapitalised(&title)),
        None => title,
    }
}

/// Errors and warnings that no proposed size of equipment mends.
fn newly_wrong(rescaled: &Rescaled) -> Option<String> {
    let serious = rescaled
        .newly_wrong
        .iter()
        .filter(|wrong| wrong.severity <= Severity::Warning && !wrong.mended_by_equipment);
    let mut serious = serious.peekable();
    let worst = *serious.peek()?;
    let (kind, check, line) = (worst.severity.word(), worst.check, worst.line + 1);
    Some(match serious.count() {
        1 => format!("New {kind} ({check}, line {line})"),
        several => format!("{several} new findings (first {check}, line {line})"),
    })
}

fn uncapitalised(title: &str) -> String {
    let mut letters = title.chars();
    let first = letters.next().map(char::to_lowercase);
    first.into_iter().flatten().chain(letters).collect()
}
