//! What an editor offers to do at a place: the fixes of findings, and rescaling.

use crate::cursor;
use crate::document::{Document, PlanUnit, TextEdit};
use plan::rescale::{self, Rescaling, Target};
use plan::show;
use rust_decimal::Decimal;
use std::ops::Range;
use syntax::Statement;

/// Something an editor can do to the text.
#[derive(Clone, Debug, PartialEq)]
pub struct Action {
    /// What it does.
    pub title: String,
    /// What kind of action it is.
    pub kind: ActionKind,
    /// The edits, in order.
    pub edits: Vec<TextEdit>,
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
    /// Rescales the plan.
    Rescale,
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
        for (index, finding) in self.findings().into_iter().enumerate() {
            if finding.range.start > range.end || finding.range.end < range.start {
                continue;
            }
            for fix in finding.fixes {
                actions.push(Action {
                    title: fix.title,
                    kind: ActionKind::Fix,
                    edits: fix.edits,
                    fixes: Some(index),
                    preferred: fix.preferred,
                });
            }
        }
        if let Some(unit) = self.plan_at(range.start)
            && let Some((_, line, _)) = cursor::line_at(&unit, range.start)
            && matches!(line.statement, Statement::Scale(_))
        {
            actions.extend(FACTORS.iter().filter_map(|&(mantissa, decimals, words)| {
                let target = Target::By(Decimal::new(mantissa, decimals));
                let rescaling = rescale::rescale(unit.plan, &target).ok()?;
                Some(rescale_action(&unit, &rescaling, words))
            }));
        }
        actions
    }

    /// Rescales the plan around an offset.
    ///
    /// # Errors
    /// Why it cannot be rescaled, in plain words.
    pub fn rescale(
        &self,
        offset: usize,
        target: &Target,
    ) -> Result<(Vec<TextEdit>, Rescaling), String> {
        let unit = self.plan_at(offset).ok_or("there is no plan here")?;
        let rescaling = rescale::rescale(unit.plan, target).map_err(|error| error.to_string())?;
        Ok((text_edits(&unit, &rescaling), rescaling))
    }
}

fn text_edits(unit: &PlanUnit<'_>, rescaling: &Rescaling) -> Vec<TextEdit> {
    rescaling
        .edits
        .iter()
        .map(|(at, new_text)| TextEdit {
            range: unit.range(*at),
            new_text: new_text.clone(),
        })
        .collect()
}

fn rescale_action(unit: &PlanUnit<'_>, rescaling: &Rescaling, words: &str) -> Action {
    let mut title = format!("Rescale plan to {} ({words})", rescaling.scale);
    let material = unit
        .plan
        .ledger
        .scale
        .as_ref()
        .and_then(|scale| unit.plan.material(scale.key?));
    if let Some((material, amounts)) = material
        && let Ok(mass) = &amounts.mass
    {
        let factor = rescaling.factor.to_string().parse::<f64>().unwrap_or(1.0);
        title = format!(
            "{title}: {} {}",
            material.key.text,
            show::mass(mass.value * factor)
        );
    }
    if !rescaling.left_alone.is_empty() {
        title = format!("{title}; leaves {}", left_alone(unit, rescaling));
    }
    Action {
        title,
        kind: ActionKind::Rescale,
        edits: text_edits(unit, rescaling),
        fixes: None,
        preferred: false,
    }
}

/// The amounts that stay as they are, the first few by name.
fn left_alone(unit: &PlanUnit<'_>, rescaling: &Rescaling) -> String {
    const NAMED: usize = 2;
    let named = rescaling.left_alone.iter().take(NAMED).map(|at| {
        let text = unit.plan.slice(at.line, at.span).unwrap_or("an amount");
        format!("{text} (line {})", at.line + 1)
    });
    let named: Vec<String> = named.collect();
    match rescaling.left_alone.len().saturating_sub(NAMED) {
        0 => named.join(", "),
        more => format!("{} and {more} more", named.join(", ")),
    }
}
