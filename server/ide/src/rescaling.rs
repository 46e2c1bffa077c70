//! Rescaling a plan of a document: the edits in groups, and what will be wrong at the new scale.

use crate::document::{Document, PlanUnit, TextEdit};
use checks::{Severity, is_same};
use plan::rescale::{self, LeftAlone, Rescaling, Target};
use plan::{At, Plan};
use rust_decimal::Decimal;
use std::sync::Arc;
use syntax::{Dimension, Quantity};

/// What a plan is to be rescaled to, in words: of a command line, or of a command of an editor.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TargetText {
    /// What kind of goal.
    pub kind: TargetKind,
    /// `2` for a factor, else a number with a unit: `10 mmol`. For a flask its size, or nothing for the one written.
    pub quantity: Option<String>,
    /// The key of the material, product or vessel that it is about, where there is a choice.
    pub key: Option<String>,
}

impl TargetText {
    /// Reads a goal as a chemist says it: `2x`, `/ 2`, `10 mmol`, `2.0 g of KEY`, `bottles`, `bottle of KEY`, `flask`,
    /// `flask 250 mL`, `smallest`, `smallest 2 %`. Which keys, bottles and vessels there are is not looked at here.
    ///
    /// # Errors
    /// What could be said instead.
    pub fn read(goal: &str) -> Result<TargetText, String> {
        let goal = goal.trim();
        let unread = || {
            format!(
                "`{goal}` is no goal: say a factor (2x, / 2), an amount (10 mmol, 2.0 g of KEY), `bottles`, `bottle of KEY`, `flask 250 mL`, or `smallest 5 %`"
            )
        };
        let (what, key) = match goal.split_once(" of ") {
            Some((what, key)) => (what.trim(), Some(key.trim().to_owned())),
            None => (goal, None),
        };
        if what.is_empty() || what.ends_with(" of") || key.as_deref() == Some("") {
            return Err(unread());
        }
        let told = |kind, quantity: Option<&str>| TargetText {
            kind,
            quantity: quantity.map(str::to_owned),
            key: key.clone(),
        };
        let (first, rest) = what.split_once(' ').unwrap_or((what, ""));
        Ok(match first.to_lowercase().as_str() {
            "bottles" if rest.is_empty() => told(TargetKind::Bottles, None),
            "bottle" if rest.is_empty() => told(TargetKind::Bottle, None),
            "flask" => told(
                TargetKind::Flask,
                Some(rest.trim()).filter(|r| !r.is_empty()),
            ),
            "smallest" => told(
                TargetKind::Smallest,
                Some(rest.trim()).filter(|r| !r.is_empty()),
            ),
            _ => match factor(what) {
                Some(factor) => told(TargetKind::By, Some(&factor.ok_or_else(unread)?)),
                None => told(TargetKind::To, Some(what)),
            },
        })
    }
}

/// `2x`, `x 2`, `× 2`, `/ 2`, `÷ 2`: the number that it multiplies by. None for what is no factor, and a factor that is
/// none where its number cannot be read or does not end.
fn factor(words: &str) -> Option<Option<String>> {
    let words = match words.to_lowercase().as_str() {
        "double" => "2x",
        "half" | "halve" => "0.5x",
        _ => words,
    };
    let times = words
        .strip_prefix("by ")
        .or_else(|| words.strip_prefix(['x', '×', '*']))
        .or_else(|| words.strip_suffix(['x', '×']));
    if let Some(number) = times {
        return Some(number.trim().parse::<Decimal>().ok().map(|n| n.to_string()));
    }
    let number = words.strip_prefix(['/', '÷'])?;
    let number = number.trim().parse::<Decimal>().ok();
    let inverse = number.and_then(|number| Decimal::ONE.checked_div(number));
    Some(
        inverse
            .filter(|inverse| number.and_then(|n| n.checked_mul(*inverse)) == Some(Decimal::ONE))
            .map(|inverse| inverse.normalize().to_string()),
    )
}

/// The kinds of goal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum TargetKind {
    /// A factor.
    #[default]
    By,
    /// An amount, mass or volume, of the scale's material or another.
    To,
    /// What is expected of a product.
    Product,
    /// All that is left in the bottle of a material.
    Bottle,
    /// The largest scale that every bottle allows.
    Bottles,
    /// A vessel two thirds full.
    Flask,
    /// The smallest scale that the tools can measure.
    Smallest,
}

impl TargetKind {
    /// By its name: `by`, `to`, `product`, `bottle`, `bottles`, `flask`, `smallest`.
    #[must_use]
    pub fn find(name: &str) -> Option<TargetKind> {
        Some(match name {
            "by" => TargetKind::By,
            "to" => TargetKind::To,
            "product" => TargetKind::Product,
            "bottle" => TargetKind::Bottle,
            "bottles" => TargetKind::Bottles,
            "flask" => TargetKind::Flask,
            "smallest" => TargetKind::Smallest,
            _ => return None,
        })
    }
}

/// Groups of edits, for change annotations.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Group {
    /// Numbers that scale, with their units and padding.
    Scales,
    /// Sizes of flasks, funnels and syringes.
    Equipment,
    /// Amounts in the title, in comments and in notes.
    Mentions,
}

impl Group {
    /// A stable name, as an id: `scales`, `equipment`, `mentions`.
    #[must_use]
    pub fn id(self) -> &'static str {
        match self {
            Group::Scales => "scales",
            Group::Equipment => "equipment",
            Group::Mentions => "mentions",
        }
    }

    /// What an editor shows for the group.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Group::Scales => "Amounts",
            Group::Equipment => "Sizes of equipment",
            Group::Mentions => "Amounts in comments and notes",
        }
    }
}

/// Edits that belong together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EditGroup {
    /// Which.
    pub group: Group,
    /// Whether the user should agree first.
    pub optional: bool,
    /// One sentence on what the edits do and why.
    pub description: String,
    /// The edits, in order. Groups do not overlap.
    pub edits: Vec<TextEdit>,
}

/// Something that is not wrong now and will be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewlyWrong {
    /// The name of the check.
    pub check: &'static str,
    /// How bad it is.
    pub severity: Severity,
    /// The line of the document, counted from 0; no rescaling adds or removes a line.
    pub line: usize,
    /// What is wrong, at the new scale, and what to do.
    pub message: String,
    /// Whether the sizes of equipment that are proposed would mend it.
    pub mended_by_equipment: bool,
}

/// A rescaling of a plan of a document, worked out and not yet done.
#[derive(Clone, Debug)]
pub struct Rescaled {
    /// What it comes to.
    pub rescaling: Rescaling,
    /// The edits; empty groups are left out.
    pub groups: Vec<EditGroup>,
    /// What will be newly wrong when the amounts are rescaled and nothing else, the worst first.
    pub newly_wrong: Vec<NewlyWrong>,
    /// Amounts left alone, with their lines of the document, counted from 0, and their words.
    pub left_alone: Vec<(usize, String, LeftAlone)>,
}

impl Rescaled {
    /// The edits that need no agreement.
    #[must_use]
    pub fn edits(&self) -> Vec<TextEdit> {
        self.edits_with(|_| false)
    }

    /// Those and the optional groups that fit, in order.
    #[must_use]
    pub fn edits_with(&self, agreed: impl Fn(Group) -> bool) -> Vec<TextEdit> {
        let groups = self.groups.iter();
        let mut edits: Vec<TextEdit> = groups
            .filter(|group| !group.optional || agreed(group.group))
            .flat_map(|group| group.edits.iter().cloned())
            .collect();
        edits.sort_by_key(|edit| edit.range.start);
        edits
    }
}

impl Document {
    /// Works out a rescaling of the plan around an offset.
    ///
    /// # Errors
    /// Why it cannot be rescaled, in plain words.
    pub fn rescale(&self, offset: usize, target: &Target) -> Result<Rescaled, String> {
        let unit = self.plan_at(offset).ok_or("there is no plan here")?;
        self.rescale_unit(&unit, target)
    }

    /// The same by words.
    ///
    /// # Errors
    /// Which word cannot be read, or why the plan cannot be rescaled.
    pub fn rescale_target(&self, offset: usize, target: &TargetText) -> Result<Rescaled, String> {
        let unit = self.plan_at(offset).ok_or("there is no plan here")?;
        self.rescale_unit(&unit, &read_target(unit.plan, target)?)
    }

    /// The same, with what is measured rounded to what the tools at hand read.
    ///
    /// # Errors
    /// As [`Document::rescale_target`], and when no tool reads the limiting reagent closely enough.
    pub fn rescale_target_to_tools(
        &self,
        offset: usize,
        target: &TargetText,
    ) -> Result<Rescaled, String> {
        let unit = self.plan_at(offset).ok_or("there is no plan here")?;
        let target = read_target(unit.plan, target)?;
        self.rescaled(&unit, rescale::rescale_to_tools(unit.plan, &target))
    }

    pub(crate) fn rescale_unit(
        &self,
        unit: &PlanUnit<'_>,
        target: &Target,
    ) -> Result<Rescaled, String> {
        self.rescaled(unit, rescale::rescale(unit.plan, target))
    }

    pub(crate) fn rescaled(
        &self,
        unit: &PlanUnit<'_>,
        rescaling: Result<Rescaling, rescale::CannotRescale>,
    ) -> Result<Rescaled, String> {
        let rescaling = rescaling.map_err(|error| error.to_string())?;
        let first_line = self
            .rope()
            .byte_to_line(unit.start.min(self.rope().len_bytes()));
        let newly_wrong = newly_wrong(unit, &rescaling, first_line);
        let left_alone = rescaling.left_alone.iter().map(|left| {
            let words = unit.plan.slice(left.at.line, left.at.span).unwrap_or("");
            (first_line + left.at.line as usize, words.to_owned(), *left)
        });
        Ok(Rescaled {
            groups: groups(unit, &rescaling),
            newly_wrong,
            left_alone: left_alone.collect(),
            rescaling,
        })
    }
}

fn groups(unit: &PlanUnit<'_>, rescaling: &Rescaling) -> Vec<EditGroup> {
    let edit = |(at, text): (At, &String)| TextEdit {
        range: unit.range(at),
        new_text: text.clone(),
    };
    let equipment = |optional: bool| {
        let of_kind = rescaling
            .equipment
            .iter()
            .filter(move |edit| edit.optional == optional);
        let why: Vec<&str> = of_kind.clone().map(|edit| &*edit.why).collect();
        EditGroup {
            group: Group::Equipment,
            optional,
            description: format!("{}.", why.join("; ")),
            edits: of_kind.map(|found| edit((found.at, &found.text))).collect(),
        }
    };
    let mut groups = vec![
        EditGroup {
            group: Group::Scales,
            optional: false,
            description: format!(
                "Amounts, masses and volumes times {}.",
                factor_text(rescaling.factor)
            ),
            edits: rescaling
                .edits
                .iter()
                .map(|(at, text)| edit((*at, text)))
                .collect(),
        },
        equipment(false),
        equipment(true),
        EditGroup {
            group: Group::Mentions,
            optional: true,
            description: "They may be meant to follow, or not.".to_owned(),
            edits: rescaling
                .optional
                .iter()
                .map(|found| edit((found.at, &found.text)))
                .collect(),
        },
    ];
    groups.retain(|group| !group.edits.is_empty());
    groups
}

/// A factor for people: four significant digits.
#[must_use]
pub fn factor_text(factor: Decimal) -> String {
    let rounded = factor.round_sf(4).unwrap_or(factor);
    rounded.normalize().to_string()
}

/// What the checks find at the new scale and not at the present one, the worst first.
fn newly_wrong(unit: &PlanUnit<'_>, rescaling: &Rescaling, first_line: usize) -> Vec<NewlyWrong> {
    let scaled = rescaling.edits.iter().map(|(at, text)| (*at, &**text));
    let asked_for = rescaling.equipment.iter().filter(|edit| !edit.optional);
    let asked_for = asked_for.map(|edit| (edit.at, &*edit.text));
    let certain: Vec<(At, &str)> = scaled.chain(asked_for).collect();
    let found = found_after(unit.plan, &certain);
    let new = |finding: &checks::Finding| !unit.findings.iter().any(|old| is_same(old, finding));
    if !found.iter().any(new) {
        return Vec::new();
    }
    let optional = rescaling.equipment.iter().filter(|edit| edit.optional);
    let optional = optional.map(|edit| (edit.at, &*edit.text));
    let all: Vec<(At, &str)> = certain.iter().copied().chain(optional).collect();
    let with_equipment = (all.len() > certain.len()).then(|| found_after(unit.plan, &all));
    let mended = |finding: &checks::Finding| {
        with_equipment
            .as_ref()
            .is_some_and(|found| !found.iter().any(|other| is_same(other, finding)))
    };
    let mut wrong: Vec<NewlyWrong> = found
        .iter()
        .filter(|finding| new(finding))
        .map(|finding| NewlyWrong {
            check: finding.check,
            severity: finding.severity,
            line: first_line + finding.at.line as usize,
            message: finding.message.clone(),
            mended_by_equipment: mended(finding),
        })
        .collect();
    wrong.sort_by_key(|wrong| (wrong.severity, wrong.line));
    wrong
}

/// What the checks find when the edits are made, read against the same surroundings.
fn found_after(plan: &Plan, edits: &[(At, &str)]) -> Vec<checks::Finding> {
    let mut edits = edits.to_vec();
    edits.sort_by_key(|(at, _)| *at);
    let mut text = plan.text.text.to_string();
    for (at, new) in edits.iter().rev() {
        let range = plan.range(*at);
        if text.get(range.clone()).is_some() {
            text.replace_range(range, new);
        }
    }
    let text = Arc::new(syntax::read_plan(&text));
    checks::findings(&Plan::with_context(text, &plan.context))
}

/// The goal that the words mean in a plan.
fn read_target(plan: &Plan, target: &TargetText) -> Result<Target, String> {
    let key = target.key.as_deref();
    let no_key = |words: &str| match key {
        Some(_) => Err(format!(
            "{words} is about the whole plan: leave out the key"
        )),
        None => Ok(()),
    };
    let needed = |example: &str| {
        let words = target.quantity.as_deref();
        words.ok_or_else(|| format!("say how much, as in \"{example}\""))
    };
    let material = |name: &str| {
        let found = plan::find_key(&plan.text, name)
            .and_then(|id| plan.materials.iter().position(|material| material.id == id));
        found.ok_or_else(|| no_such_line(plan, name))
    };
    match target.kind {
        TargetKind::By => {
            no_key("a factor")?;
            let words = needed("2")?;
            let factor = words.trim().parse::<Decimal>();
            factor
                .map(Target::By)
                .map_err(|_| format!("`{words}` is no factor: write a number, as in 2 or 0.5"))
        }
        TargetKind::To => {
            let quantity = quantity(needed("10 mmol")?, "10 mmol")?;
            Ok(match key {
                None => Target::To(quantity),
                Some(name) => Target::Of {
                    material: material(name)?,
                    quantity,
                },
            })
        }
        TargetKind::Product => {
            let quantity = quantity(needed("5.0 g")?, "5.0 g")?;
            let index = match key {
                None => rescale::only_product(plan).map_err(|error| error.to_string())?,
                Some(name) => material(name)?,
            };
            match plan.materials.get(index) {
                Some(material) if material.product => Ok(Target::Of {
                    material: index,
                    quantity,
                }),
                _ => Err(format!(
                    "{} is no product of the plan",
                    key.unwrap_or("this line")
                )),
            }
        }
        TargetKind::Bottle => {
            let name = key.ok_or("say which line's bottle is to be used")?;
            Ok(Target::Bottle {
                material: material(name)?,
            })
        }
        TargetKind::Bottles => {
            no_key("the limit of all bottles")?;
            Ok(Target::Bottles)
        }
        TargetKind::Smallest => {
            no_key("the smallest scale")?;
            let words = target.quantity.as_deref().unwrap_or("5 %");
            let read = quantity(words, "5 %")?;
            match read.unit.dimension {
                Dimension::Percent if read.to.is_none() => Ok(Target::Smallest {
                    error: read.number.value * read.unit.factor,
                }),
                _ => Err(format!("`{words}` is no error: write it as in \"5 %\"")),
            }
        }
        TargetKind::Flask => {
            let capacity = target
                .quantity
                .as_deref()
                .map(|words| quantity(words, "250 mL"));
            let vessel = |name: &str| {
                let id = plan::find_key(&plan.text, name);
                let found = plan
                    .apparatus
                    .iter()
                    .position(|item| item.id.is_some() && item.id == id);
                found.ok_or_else(|| format!("{name} is no line of the equipment"))
            };
            Ok(Target::Fill {
                vessel: key.map(vessel).transpose()?,
                capacity: capacity.transpose()?,
            })
        }
    }
}

fn no_such_line(plan: &Plan, name: &str) -> String {
    let keys: Vec<&str> = plan
        .materials
        .iter()
        .map(|material| &*material.key.text)
        .collect();
    if keys.is_empty() {
        return format!("{name} is no line of the plan, which lists no materials");
    }
    format!(
        "{name} is no line of the materials or products, which are {}",
        keys.join(", ")
    )
}

fn quantity(words: &str, example: &str) -> Result<Quantity, String> {
    syntax::read_quantity(words).ok_or_else(|| {
        format!("`{words}` is no quantity: write a number and a unit, as in \"{example}\"")
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn goals_are_read_as_a_chemist_says_them() {
        let told = |kind, quantity: Option<&str>, key: Option<&str>| TargetText {
            kind,
            quantity: quantity.map(str::to_owned),
            key: key.map(str::to_owned),
        };
        for (goal, expected) in [
            ("2x", told(TargetKind::By, Some("2"), None)),
            ("× 2.5", told(TargetKind::By, Some("2.5"), None)),
            ("by 3", told(TargetKind::By, Some("3"), None)),
            ("half", told(TargetKind::By, Some("0.5"), None)),
            ("/ 4", told(TargetKind::By, Some("0.25"), None)),
            ("÷ 5", told(TargetKind::By, Some("0.2"), None)),
            (" 10 mmol ", told(TargetKind::To, Some("10 mmol"), None)),
            (
                "2.0 g of salt",
                told(TargetKind::To, Some("2.0 g"), Some("salt")),
            ),
            ("bottles", told(TargetKind::Bottles, None, None)),
            (
                "bottle of base",
                told(TargetKind::Bottle, None, Some("base")),
            ),
            ("flask", told(TargetKind::Flask, None, None)),
            (
                "flask 250 mL",
                told(TargetKind::Flask, Some("250 mL"), None),
            ),
        ] {
            assert_eq!(TargetText::read(goal).unwrap(), expected, "{goal}");
        }
        // A third has no last digit; an amount that is none is told when the plan is known.
        for goal in ["/ 3", "/ 0", "2.0 g of ", "", "xx", "x"] {
            assert!(TargetText::read(goal).is_err(), "{goal}");
        }
    }
}
