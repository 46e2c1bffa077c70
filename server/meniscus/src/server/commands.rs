//! Commands that an editor can have executed: rescaling to a goal in words, and the bench sheet.

use super::abilities::Abilities;
use super::actions::rescaling_edit;
use super::documents::Open;
use crate::positions::to_offset;
use ide::{Group, Rescaled, TargetText};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use tower_lsp::jsonrpc::{Error, ErrorCode};
use tower_lsp::lsp_types::{CodeLens, Command, ExecuteCommandParams, Position, Url, WorkspaceEdit};

/// Rescales a plan; its one argument is an object, see [`Arguments`].
pub(super) const RESCALE: &str = "meniscus.rescale";

/// The bench sheet of a plan as it is now; its one argument is an object, see [`PlanAt`].
pub(super) const SHEET: &str = "meniscus.sheet";

/// Asks for a goal and then rescales: for the client to provide, where it says `"asks": true` in its
/// initialization options. Its argument has `uri` and `position`.
const ASK: &str = "meniscus.rescaleTo";

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Arguments {
    pub(super) uri: Url,
    /// Anywhere in the plan.
    pub(super) position: Position,
    /// `2x`, `/ 2`, `10 mmol`, `2.0 g of KEY`, `bottles`, `bottle of KEY`, `flask 250 mL`.
    goal: String,
    /// The version that the client means; another one is refused.
    version: Option<i32>,
    /// Write the sizes of equipment that the new scale needs.
    #[serde(default)]
    equipment: bool,
    /// Rescale the amounts in comments and notes too.
    #[serde(default)]
    mentions: bool,
    /// Round what is measured to what the tools read.
    #[serde(default)]
    to_tools: bool,
    /// Say what would come of it, and change nothing.
    #[serde(default)]
    pub(super) preview: bool,
}

/// A plan of an open document.
#[derive(Deserialize)]
pub(super) struct PlanAt {
    pub(super) uri: Url,
    /// Anywhere in the plan.
    position: Position,
}

/// A bench sheet, to be shown.
#[derive(Serialize)]
pub(super) struct Sheet {
    title: String,
    /// A whole page of HTML, which loads nothing and runs nothing.
    page: String,
}

/// What comes of a rescaling.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Summary {
    title: String,
    scale: String,
    /// What is not wrong now and will be, the worst first; lines count from 0.
    newly_wrong: Vec<Wrong>,
    /// What does not scale and has to be thought of; what was rounded to a tool, with the equivalents that result.
    notes: Vec<String>,
    /// What set the scale, where a bottle or a flask did.
    limit: Option<String>,
    /// Amounts that stay as they are; lines count from 0.
    left_alone: Vec<Left>,
    equipment: Vec<String>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Wrong {
    check: &'static str,
    severity: &'static str,
    line: usize,
    message: String,
    mended_by_equipment: bool,
}

#[derive(Serialize)]
struct Left {
    line: usize,
    text: String,
    place: &'static str,
}

/// The one argument of a command.
///
/// # Errors
/// What is missing.
pub(super) fn argument<T: DeserializeOwned>(params: ExecuteCommandParams) -> Result<T, Error> {
    let first = params.arguments.into_iter().next().unwrap_or_default();
    serde_json::from_value(first).map_err(|error| {
        let takes = match &*params.command {
            SHEET => "uri and position",
            _ => "uri, position and goal",
        };
        refused(format!(
            "{} takes an object with {takes}: {error}",
            params.command
        ))
    })
}

/// # Errors
/// That there is no plan.
pub(super) fn sheet(open: &Open, at: &PlanAt, abilities: &Abilities) -> Result<Sheet, Error> {
    let document = &open.document;
    let offset = to_offset(document.rope(), at.position, abilities.encoding);
    let unit = document.plan_at(offset);
    let unit = unit.filter(|unit| !unit.plan.text.text.trim().is_empty());
    let unit = unit.ok_or_else(|| refused("there is no plan here: put the cursor into one"))?;
    let title = unit.plan.title.as_ref().map_or("", |title| &title.text);
    Ok(Sheet {
        title: title.to_owned(),
        page: sheet::page(unit.plan, unit.findings, document.context().today),
    })
}

fn refused(message: impl Into<std::borrow::Cow<'static, str>>) -> Error {
    Error {
        code: ErrorCode::InvalidParams,
        message: message.into(),
        data: None,
    }
}

/// Works out what is asked for: what comes of it, and the edit.
///
/// # Errors
/// Why it cannot be done.
pub(super) fn rescale(
    open: &Open,
    arguments: &Arguments,
    abilities: &Abilities,
) -> Result<(Summary, WorkspaceEdit), Error> {
    if arguments
        .version
        .is_some_and(|version| version != open.version)
    {
        return Err(refused(
            "the plan has changed since it was asked for: ask again",
        ));
    }
    let document = &open.document;
    let offset = to_offset(document.rope(), arguments.position, abilities.encoding);
    let target = TargetText::read(&arguments.goal).map_err(refused)?;
    let rescaled = match arguments.to_tools {
        true => document.rescale_target_to_tools(offset, &target),
        false => document.rescale_target(offset, &target),
    };
    let rescaled = rescaled.map_err(|why| refused(format!("cannot rescale: {why}")))?;
    let title = document.rescaling_title(offset, &rescaled);
    let agreed = |group| match group {
        Group::Scales => true,
        Group::Equipment => arguments.equipment,
        Group::Mentions => arguments.mentions,
    };
    let edit = rescaling_edit(open, &arguments.uri, &rescaled.groups, agreed, abilities);
    Ok((summary(title.unwrap_or_default(), rescaled), edit))
}

fn summary(title: String, rescaled: Rescaled) -> Summary {
    let wrong = rescaled.newly_wrong.into_iter().map(|wrong| Wrong {
        check: wrong.check,
        severity: wrong.severity.word(),
        line: wrong.line,
        message: wrong.message,
        mended_by_equipment: wrong.mended_by_equipment,
    });
    let left = rescaled.left_alone.into_iter();
    let left = left.map(|(line, text, left)| Left {
        line,
        text,
        place: left.place.words(),
    });
    let equipment = rescaled.rescaling.equipment.iter();
    Summary {
        title,
        scale: rescaled.rescaling.scale,
        newly_wrong: wrong.collect(),
        left_alone: left.collect(),
        equipment: equipment
            .map(|edit| format!("{} {}: {}", edit.name, edit.size, edit.why))
            .collect(),
        notes: rescaled.rescaling.notes,
        limit: rescaled.rescaling.limit,
    }
}

/// What stands above the scale lines.
pub(super) fn lenses(open: &Open, uri: &Url, abilities: &Abilities) -> Vec<CodeLens> {
    let text = open.document.rope();
    let lenses = open.document.lenses(abilities.asks).into_iter();
    lenses
        .map(|lens| {
            let range = crate::positions::to_range(text, &lens.range, abilities.encoding);
            let place = serde_json::json!({"uri": uri, "position": range.start});
            let (command, argument) = match lens.goal {
                Some(goal) => (
                    RESCALE,
                    serde_json::json!({"uri": uri, "position": range.start, "goal": goal}),
                ),
                None => (ASK, place),
            };
            CodeLens {
                range,
                command: Some(Command::new(
                    lens.title,
                    command.to_owned(),
                    Some(vec![argument]),
                )),
                data: None,
            }
        })
        .collect()
}
