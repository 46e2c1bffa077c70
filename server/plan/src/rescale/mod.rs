//! Rescaling as edits of the text: only numbers that scale change, with their units and the spaces behind them.
//!
//! **What scales:** amounts, masses and volumes, on lines, in portions, and as what a step brings the contents to.
//! Equivalents, relative amounts, concentrations, temperatures, times, rates, pressures and all else that is
//! intensive stays to the letter. So does what is counted (`2 drops`) and free text; amounts in these are named in
//! [`Rescaling::left_alone`].
//!
//! **What goes:** `took` and `obtained`. A plan with them is a record of a run, and at another scale it is the plan of a
//! run that is still to come; a note says so.
//!
//! **Digits.** A number that stands by itself is multiplied, with the digits that [`crate::digits`] promises: there
//! and back it is the old value to its last written digit. An amount that follows from the scale (its line has
//! equivalents or a relative amount, and agrees with them) is computed anew from the scale, with as many digits
//! as stood there: many small moves are one big one, to the last digit of the coarser text. So is a portion that
//! is all of such a line.
//!
//! **Portions** that come to no more than their line lists do so at every scale: where rounding would bring their sum above
//! it, they get a digit more, or the largest of them is rounded down, within what its digits claimed.
//!
//! **Units.** A number moves to the next larger unit of the same kind when it would be 2000 or more, and to the next
//! smaller one when it would be below 0.1, until it is between (`2143 mg` times 10 is `21.43 g`). One that was written
//! outside of this range stays as long as it comes nearer to it. The two ends are a factor of 20 apart in one
//! unit, so no number changes its unit back and forth; one that has changed it keeps the new one on the way back,
//! if that is readable. Ranges keep their unit.
//!
//! **Tools.** [`rescale_to_tools`] rounds to what can be measured. It promises of every line of `materials` that is
//! weighed, or measured by volume, in one go (no step takes a part of it):
//!
//! - It comes to a multiple of what the tool reads that measures it best ([`crate::tools::Reading::division`]), and is
//!   written so where the plan states its mass or volume. It has no more digits than a rescaling without tools would
//!   write, or three where the plan states none (2.14 g on a balance that reads 0.1 mg do not become 2.1434 g), and
//!   a digit more where its last one would be more than a tenth of it.
//! - The limiting reagent (by the equation, or else the scale's material) is the nearest such multiple by the marks of its
//!   tool. The scale, with
//!   the decimals that it would have, and all else follow what it really is.
//! - What has more equivalents than the limiting reagent (over its coefficient) is rounded up, so that no excess falls below what was written.
//!   Everything else is the nearest multiple.
//! - Equivalents that the plan states are written as they really are, with the decimals that they have.
//!
//! What is in portions, what no tool measures with a known error, and what rounding would change by more than a tenth
//! is rescaled as without tools, and named in the notes; where that is the limiting reagent, the plan is not rescaled.
//!
//! **Runs.** The amount of a line of `runs` scales, and what it says of other lines stays.
//!
//! **Columns.** Words that stand in one column on several lines, behind two spaces or more, stay there while the
//! spaces allow it.

mod columns;
mod disagree;
mod equipment;
mod notes;
mod portions;
mod readings;
mod smallest;
mod target;
mod text;
pub(crate) mod units;

pub use disagree::disagreeing;

use crate::Plan;
use crate::known::At;
use crate::tools::Measure;
pub use equipment::vessel_for;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use std::fmt;
use std::sync::Arc;
use syntax::Quantity;
use uom::si::f64::Ratio;

/// What a plan is rescaled to.
#[derive(Clone, Debug)]
pub enum Target {
    /// Every amount times this.
    By(Decimal),
    /// The scale becomes this amount, mass or volume of its material.
    To(Quantity),
    /// The plan takes this amount, mass or volume of a material, or is expected to give it of a product.
    Of {
        /// The material or product, by its place in `Plan::materials`.
        material: usize,
        /// How much: one number, greater than zero.
        quantity: Quantity,
    },
    /// This stated amount of this material holds, and the plan follows, other amounts of its line included.
    Line {
        /// The material, by its place in `Plan::materials`.
        material: usize,
        /// The stated amount, by its place in `Material::stated`.
        stated: usize,
    },
    /// All that is left in the bottle of this material, but for what rounding the scale down leaves.
    Bottle {
        /// The material, by its place in `Plan::materials`.
        material: usize,
    },
    /// The largest scale for which every bottle of known content holds enough.
    Bottles,
    /// A vessel is two thirds full at its fullest moment.
    Fill {
        /// By its place in `Plan::apparatus`; none for the vessel that the reaction stands in.
        vessel: Option<usize>,
        /// Its size; none for the one that the plan writes. Another size is written into the plan.
        capacity: Option<Quantity>,
    },
    /// The smallest scale at which the best tool for each amount errs by no more than this share of it. Solvents and
    /// what is used in excess are left out.
    Smallest {
        /// Greater than zero; 0.05 is 5 %.
        error: Decimal,
    },
}

/// A rescaling, worked out and not yet done.
#[derive(Clone, Debug)]
pub struct Rescaling {
    /// The factor, for display.
    pub factor: Decimal,
    /// The new text of the scale's quantity.
    pub scale: String,
    /// The edits of numbers, units and the spaces behind them, in order and without overlap.
    pub edits: Vec<(At, String)>,
    /// Sizes of equipment that the new scale needs. They overlap neither each other nor `edits`.
    pub equipment: Vec<EquipmentEdit>,
    /// Amounts in titles, comments and notes that may be meant to follow. No overlap with any other edit.
    pub optional: Vec<OptionalEdit>,
    /// Amounts that were left alone, in order, those of `optional` among them.
    pub left_alone: Vec<LeftAlone>,
    /// What does not scale and has to be thought of, as sentences.
    pub notes: Vec<String>,
    /// What set the scale, where a bottle or a vessel did: `bottle a-1 sets the limit: 85 mL left`.
    pub limit: Option<String>,
    /// What was rounded to a tool; empty unless that was asked for.
    pub measured: Vec<Measured>,
}

/// An amount that was rounded to what its tool reads.
#[derive(Clone, Debug)]
pub struct Measured {
    /// The material, by its place in `Plan::materials`.
    pub material: usize,
    /// What the plan would take of it.
    pub exact: Measure,
    /// What is measured.
    pub rounded: Measure,
    /// What the tool reads to.
    pub division: Measure,
    /// The tool.
    pub tool: String,
    /// Nobody has said that there is such a tool.
    pub assumed: bool,
    /// The equivalents before, where they are known.
    pub written: Option<Ratio>,
    /// The equivalents that really result, over what there really is of the limiting reagent.
    pub equivalents: Option<Ratio>,
}

/// Another size for a vessel or a tool.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EquipmentEdit {
    /// The size as it stands.
    pub at: At,
    /// What to write there.
    pub text: String,
    /// The key.
    pub name: Arc<str>,
    /// The new size, for display: `250 mL`.
    pub size: String,
    /// Why, in a few words.
    pub why: String,
    /// False only where the size was asked for.
    pub optional: bool,
}

/// An edit that somebody has to agree with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OptionalEdit {
    /// The amount as it stands.
    pub at: At,
    /// What to write there.
    pub text: String,
    /// What kind of text it stands in.
    pub place: Place,
}

/// An amount that stays as it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LeftAlone {
    /// Where it stands.
    pub at: At,
    /// In what.
    pub place: Place,
}

/// Where an amount stands that is not rescaled.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Place {
    /// `plan TITLE`
    Title,
    /// Behind `#`.
    Comment,
    /// `note TEXT`
    Note,
    /// `until TEXT`, `expect TEXT`, a remark in brackets, a step that is kept as text.
    Words,
    /// `obtained`, `took`
    Measured,
    /// `at 5.0 mL/h`
    Rate,
    /// `2 drops`
    Counted,
}

impl Place {
    /// In a few words: `in a comment`.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Place::Title => "in the title",
            Place::Comment => "in a comment",
            Place::Note => "in a note",
            Place::Words => "in free text",
            Place::Measured => "measured",
            Place::Rate => "a rate",
            Place::Counted => "counted",
        }
    }
}

/// Why a plan could not be rescaled, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CannotRescale(pub String);

impl fmt::Display for CannotRescale {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for CannotRescale {}

/// Works out a rescaling of a plan.
///
/// # Errors
/// When the plan has no scale with a value, the target is not greater than zero or cannot be converted to
/// the scale's material, what it goes by (an expected yield, a bottle, a volume) is not known, or a number would leave
/// what 28 digits hold.
pub fn rescale(plan: &Plan, target: &Target) -> Result<Rescaling, CannotRescale> {
    rescaled(plan, target, false)
}

/// The same, with what is measured rounded to what the tools of the plan's settings read (see the head of the module).
///
/// # Errors
/// As [`rescale`], and when no tool reads the limiting reagent closely enough.
pub fn rescale_to_tools(plan: &Plan, target: &Target) -> Result<Rescaling, CannotRescale> {
    rescaled(plan, target, true)
}

fn rescaled(plan: &Plan, target: &Target, to_tools: bool) -> Result<Rescaling, CannotRescale> {
    let fail = |message: &str| CannotRescale(message.to_owned());
    let (line, quantity) = plan
        .scale_quantity()
        .ok_or_else(|| fail("the plan has no scale to start from: write `scale 5.00 mmol KEY`"))?;
    if quantity.to.is_some() {
        return Err(fail("the scale is a range: write one number"));
    }
    let mut aim = target::aim(plan, quantity, target)?;
    let readings = match to_tools {
        true => Some(readings::readings(plan, &mut aim)?),
        false => None,
    };
    let factor = aim
        .factor
        .value()
        .and_then(|factor| match to_tools {
            true => factor.round_sf(6),
            false => Some(factor),
        })
        .ok_or_else(|| fail("the factor is out of range"))?;
    let mut writer = text::Writer::new(plan, &aim).reading(readings.as_ref());
    writer.write(line, quantity, &aim.scale);
    writer.lines();
    writer.keep(portions::within(plan, &writer, aim.factor));
    let mut written = writer
        .finish()
        .ok_or_else(|| fail("a number of the plan would become too long to write"))?;
    columns::keep(plan, &mut written.edits);
    written.edits.sort_by_key(|(at, _)| *at);
    let given = match target {
        Target::Fill {
            vessel,
            capacity: Some(capacity),
        } => {
            let vessel = vessel.unwrap_or_else(|| equipment::reaction_vessel(plan));
            Some((vessel, capacity))
        }
        _ => None,
    };
    let (equipment, too_large) = equipment::edits(plan, factor.to_f64().unwrap_or(1.0), given);
    let mut notes = aim.notes.clone();
    notes.extend(too_large);
    notes.extend(notes::notes(plan, factor));
    let readings = readings.unwrap_or_default();
    notes.extend(readings.notes);
    Ok(Rescaling {
        factor,
        scale: format!("{} {}", aim.scale.number, aim.scale.unit.symbol),
        edits: written.edits,
        equipment,
        optional: written.optional,
        left_alone: written.left_alone,
        notes,
        limit: aim.limit,
        measured: readings.measured,
    })
}

/// The product whose expected mass a plan can be rescaled to: the only one that is no by-product.
///
/// # Errors
/// When there is none, or several.
pub fn only_product(plan: &Plan) -> Result<usize, CannotRescale> {
    let by_product = Some(syntax::Role::ByProduct);
    let mut products = plan
        .materials
        .iter()
        .enumerate()
        .filter(|(_, material)| material.product && material.role != by_product);
    match (products.next(), products.next()) {
        (Some((only, _)), None) => Ok(only),
        (None, _) => Err(CannotRescale(
            "the plan lists no product: write one under `products`".to_owned(),
        )),
        (Some((_, first)), Some((_, second))) => Err(CannotRescale(format!(
            "the plan lists several products: say which, {} or {}",
            first.key.text, second.key.text
        ))),
    }
}
