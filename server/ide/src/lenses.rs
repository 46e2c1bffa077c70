//! What stands above the scale line: rescaling in one click.

use crate::document::Document;
use plan::Plan;
use std::ops::Range;

/// Something to click above a line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lens {
    /// The quantity that it stands above.
    pub range: Range<usize>,
    /// What it says.
    pub title: String,
    /// The goal, as [`crate::TargetText::read`] reads it; none for one that is to be asked for.
    pub goal: Option<String>,
}

impl Document {
    /// What stands above the scale lines of all plans that can be rescaled; `asks` where the editor can ask for a goal.
    #[must_use]
    pub fn lenses(&self, asks: bool) -> Vec<Lens> {
        let mut lenses = Vec::new();
        for unit in self.plans() {
            let Some((line, quantity)) = unit.plan.scale_quantity() else {
                continue;
            };
            let scale = unit.plan.ledger.scale.as_ref();
            if quantity.to.is_some() || scale.is_none_or(|scale| scale.amount.is_err()) {
                continue;
            }
            let range = unit.range(plan::At {
                line,
                span: quantity.span,
            });
            let asked = asks.then_some(("Rescale to …", None)).into_iter();
            let goals = goals(unit.plan).into_iter();
            let offered = asked.chain(goals.map(|(title, goal)| (title, Some(goal))));
            lenses.extend(offered.map(|(title, goal)| Lens {
                range: range.clone(),
                title: title.to_owned(),
                goal: goal.map(str::to_owned),
            }));
        }
        lenses
    }
}

fn goals(plan: &Plan) -> Vec<(&'static str, &'static str)> {
    let mut goals = vec![("× 2", "2x"), ("÷ 2", "/ 2")];
    let named = |material: &plan::Material| {
        let bottle = material.named.as_ref().and_then(plan::NamedBottle::bottle);
        bottle.is_some_and(|bottle| bottle.left.is_some())
    };
    if plan.materials.iter().any(named) {
        goals.push(("as far as the bottles go", "bottles"));
    }
    goals
}
