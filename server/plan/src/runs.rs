//! One plan, several runs: every line of `runs` is worked out as the text of a plan of its own.
//!
//! **What a run is.** The plan's text without the block `runs` and with the label in its title. What a line says in the run
//! stands in place of what the plan says of it: name, strength, conditions, bottle. Its role, the expected yield and its
//! amounts stay, but for a mass or volume that follows from an amount beside it (or from the scale): that is left out, to be
//! reckoned anew. A portion of the steps keeps its share of the line. Then the text is rescaled to the run's own amount as
//! any plan is ([`crate::rescale`]), so a plan that is a record becomes the plan of a run to come.
//!
//! **What it is not.** Equipment does not grow with a run; what overflows is for the checks to say.

mod stock;
mod totals;

pub use stock::Stock;
pub use totals::{Drawn, Series, Total};

use crate::rescale::{self, Target, units};
use crate::{Amounts, Determined, Plan, convert, digits};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use std::cell::OnceCell;
use std::collections::HashSet;
use std::fmt;
use std::ops::Range;
use std::sync::Arc;
use syntax::{
    AmountKind, Block, Dimension, Entry, Field, FieldKind, KeyId, Quantity, RemarkKind, Said, Span,
    Statement, Text,
};
use uom::si::amount_of_substance::mole;
use uom::si::mass::gram;
use uom::si::volume::liter;

/// As many as a plate has wells; what is more is not worked out.
pub const MOST_RUNS: usize = 96;

/// A share of a line is the same share, but for the rounding of `f64` and of written digits.
const SAME: f64 = 1e-6;

/// A line of `runs`, worked out.
#[derive(Clone, Debug)]
pub struct Run {
    /// What it is called.
    pub label: Text,
    /// Its line in the plan.
    pub line: u32,
    /// The text of its plan, or why there is none.
    pub text: Result<RunText, CannotRun>,
}

/// The text of a run's plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunText {
    /// A plan as any other.
    pub text: String,
    /// For every line of it the line of the plan that it comes from; none for a title that the plan has not.
    lines: Vec<Option<u32>>,
}

impl RunText {
    /// The line of the plan that a line of the run comes from.
    #[must_use]
    pub fn line_of_plan(&self, line: u32) -> Option<u32> {
        self.lines.get(line as usize).copied().flatten()
    }
}

/// Why a run has no plan, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CannotRun {
    /// In plain words.
    pub why: String,
    /// Where in its line, if not the label.
    pub at: Option<Span>,
}

impl CannotRun {
    fn new(why: impl Into<String>) -> CannotRun {
        CannotRun {
            why: why.into(),
            at: None,
        }
    }
}

impl fmt::Display for CannotRun {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.why)
    }
}

impl Plan {
    /// Whether it has a line of `runs`.
    #[must_use]
    pub fn has_runs(&self) -> bool {
        lines_of_runs(self).next().is_some()
    }

    /// The runs, in the order of their lines.
    #[must_use]
    pub fn runs(&self) -> Vec<Run> {
        self.runs_that(|_, _| true)
    }

    /// The run with this label, whatever its case.
    #[must_use]
    pub fn run(&self, label: &str) -> Option<Run> {
        let label = label.to_lowercase();
        let mut runs = self.runs_that(|_, own| own == label).into_iter();
        runs.next()
    }

    /// The run of a line.
    #[must_use]
    pub fn run_of_line(&self, line: u32) -> Option<Run> {
        let mut runs = self.runs_that(|own, _| own == line).into_iter();
        runs.next()
    }

    /// Those of which the line and the label in lower case are wanted; the others are not worked out.
    fn runs_that(&self, wanted: impl Fn(u32, &str) -> bool) -> Vec<Run> {
        let mut labels: HashSet<String> = HashSet::new();
        let mut runs = Vec::new();
        let base = OnceCell::new();
        for (number, (line, run)) in lines_of_runs(self).enumerate() {
            let own = run.label.text.to_lowercase();
            let is_wanted = wanted(line, &own);
            let is_first = labels.insert(own);
            if !is_wanted {
                continue;
            }
            let text = if !is_first {
                Err(CannotRun::new(format!(
                    "another run is called {} already: give it another label",
                    run.label.text
                )))
            } else if number >= MOST_RUNS {
                Err(CannotRun::new(format!(
                    "a plan has {MOST_RUNS} runs at most: write the others below another plan"
                )))
            } else if is_unread(self, line) {
                Err(CannotRun::new(
                    "a part of its line cannot be read: mend it first",
                ))
            } else {
                text_of(self, base.get_or_init(|| Base::of(self)), line, run)
            };
            runs.push(Run {
                label: run.label.clone(),
                line,
                text,
            });
        }
        runs
    }

    /// A run, worked out against the surroundings of the plan.
    ///
    /// # Errors
    /// Why there is none.
    pub fn of_run(&self, run: &Run) -> Result<Plan, CannotRun> {
        let text = run.text.as_ref().map_err(CannotRun::clone)?;
        Ok(read(self, &text.text))
    }
}

fn lines_of_runs(plan: &Plan) -> impl Iterator<Item = (u32, &syntax::Run)> {
    let lines = plan.text.lines.iter().zip(0u32..);
    lines.filter_map(|(line, index)| match &line.statement {
        Statement::Run(run) => Some((index, &**run)),
        _ => None,
    })
}

fn is_unread(plan: &Plan, line: u32) -> bool {
    let line = plan.text.lines.get(line as usize);
    line.is_some_and(syntax::Line::has_error)
}

pub(crate) fn read(plan: &Plan, text: &str) -> Plan {
    Plan::with_context(Arc::new(syntax::read_plan(text)), &plan.context)
}

/// What a line says in a run.
struct Other<'a> {
    id: KeyId,
    said: &'a Said,
    /// As written.
    text: &'a str,
}

/// The text of a run's plan.
fn text_of(plan: &Plan, base: &Base, line: u32, run: &syntax::Run) -> Result<RunText, CannotRun> {
    let others: Vec<Other<'_>> = run
        .changes
        .iter()
        .filter_map(|change| {
            Some(Other {
                id: change.id?,
                said: change.said.as_ref()?,
                text: plan.slice(line, change.said_span)?,
            })
        })
        .collect();
    let other = match others.is_empty() {
        true => None,
        false => Some(with_others(&base.plan, &others)?),
    };
    let now = other.as_ref().unwrap_or(&base.plan);
    let mut materials = now.materials.iter();
    let is_record = materials.any(|m| !m.took.is_empty() || m.obtained.is_some());
    let target = match &run.amount {
        Some(amount) if !is_scale(now, amount) => Some(Target::To(*amount)),
        _ => is_record.then_some(Target::By(Decimal::ONE)),
    };
    let text = match target {
        Some(target) => rescaled(now, &target).map_err(|why| CannotRun {
            at: run.amount.as_ref().map(|amount| amount.span),
            ..why
        })?,
        None => now.text.text.to_string(),
    };
    Ok(base.titled(&text, &run.label.text))
}

fn rescaled(plan: &Plan, target: &Target) -> Result<String, CannotRun> {
    let rescaling = rescale::rescale(plan, target).map_err(|why| CannotRun::new(why.0))?;
    let edits = rescaling.edits.into_iter();
    Ok(edited(
        &plan.text.text,
        edits.map(|(at, text)| (plan.range(at), text)).collect(),
    ))
}

fn is_scale(plan: &Plan, amount: &Quantity) -> bool {
    plan.scale_quantity().is_some_and(|(_, scale)| {
        scale.unit == amount.unit
            && scale.to.is_none()
            && amount.to.is_none()
            && scale.number.value == amount.number.value
            && scale.number.last_digit == amount.number.last_digit
    })
}

/// A text with stretches replaced.
fn edited(text: &str, mut edits: Vec<(Range<usize>, String)>) -> String {
    edits.sort_by_key(|(range, _)| (range.start, range.end));
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    for (range, new) in edits {
        // What overlaps an edit before it is part of that.
        let Some(between) = text.get(at..range.start) else {
            continue;
        };
        out.push_str(between);
        out.push_str(&new);
        at = range.end;
    }
    out.push_str(text.get(at..).unwrap_or_default());
    out
}

/// A plan without its runs.
struct Base {
    plan: Plan,
    /// The lines that are left.
    lines: Vec<u32>,
}

impl Base {
    fn of(plan: &Plan) -> Base {
        let lines = lines_without_runs(plan);
        let gone = plan.text.lines.iter().zip(0u32..);
        let gone = gone.filter(|(_, index)| lines.binary_search(index).is_err());
        let gone = gone.map(|(line, _)| {
            let start = line.start as usize;
            (start..start + (line.len + line.eol) as usize, String::new())
        });
        let text = edited(&plan.text.text, gone.collect());
        Base {
            plan: read(plan, &text),
            lines,
        }
    }

    /// A text that the plan has become, with the label of a run in its title.
    fn titled(&self, text: &str, label: &str) -> RunText {
        let lines: Vec<Option<u32>> = self.lines.iter().copied().map(Some).collect();
        let mut titles = self.plan.text.lines.iter().zip(0u32..);
        let title = titles.find_map(|(line, index)| match &line.statement {
            Statement::Plan(title) => Some((line, index, title)),
            _ => None,
        });
        let Some((line, index, title)) = title else {
            let eol = if text.contains("\r\n") { "\r\n" } else { "\n" };
            return RunText {
                text: format!("plan run {label}{eol}{text}"),
                lines: std::iter::once(None).chain(lines).collect(),
            };
        };
        let (at, words) = match title {
            Some(title) => (title.span.end as usize, format!(" (run {label})")),
            None => {
                let end = line.comment.map_or(line.len, |comment| comment.start);
                let word = self.plan.slice(index, Span { start: 0, end });
                let end = word.map_or(0, |word| word.trim_end().len());
                (end, format!(" run {label}"))
            }
        };
        // Nothing before the title changes with the scale or with what lines say.
        let at = line.start as usize + at;
        RunText {
            text: edited(text, vec![(at..at, words)]),
            lines,
        }
    }
}

/// The lines of a plan, in order, but for those of its runs: with the header go the runs, and the empty lines, comments
/// and notes among them. A statement that stands there, such as `scale`, is the plan's.
fn lines_without_runs(plan: &Plan) -> Vec<u32> {
    let mut kept: Vec<u32> = Vec::new();
    let mut within = false;
    for (line, index) in plan.text.lines.iter().zip(0u32..) {
        within = line.block == Block::Runs
            && match &line.statement {
                Statement::Header(Block::Runs) | Statement::Run(_) => true,
                Statement::Blank
                | Statement::Unread(_)
                | Statement::Remark(RemarkKind::Note | RemarkKind::Remark, _) => within,
                _ => false,
            };
        if !within {
            kept.push(index);
        }
    }
    // What set off a block at the end goes with it.
    let is_empty = |index: &u32| {
        let line = plan.text.lines.get(*index as usize);
        line.is_some_and(|line| line.statement == Statement::Blank && line.comment.is_none())
    };
    while within && kept.last().is_some_and(is_empty) {
        kept.pop();
    }
    kept
}

/// A plan in which lines say something else.
fn with_others(plan: &Plan, others: &[Other<'_>]) -> Result<Plan, CannotRun> {
    let new = read(plan, &changed(plan, others));
    let Some(factor) = other_scale(plan, &new, others) else {
        return Ok(portions_follow(plan, new, others));
    };
    // As much by mass or volume of another substance is another amount of it, which everything follows.
    let scaled = read(plan, &rescaled(plan, &Target::By(factor))?);
    let words = |plan: &Plan| {
        let (line, quantity) = plan.scale_quantity()?;
        let range = plan.range(convert::at(line, quantity.span));
        Some((range.clone(), plan.text.text.get(range)?.to_owned()))
    };
    let text = match (words(plan), words(&scaled)) {
        (Some((_, was)), Some((now, _))) => edited(&scaled.text.text, vec![(now, was)]),
        _ => scaled.text.text.to_string(),
    };
    let new = read(plan, &changed(&read(plan, &text), others));
    Ok(portions_follow(&scaled, new, others))
}

/// By how much the scale's amount changes where it is a mass or volume of what is another substance now.
fn other_scale(plan: &Plan, new: &Plan, others: &[Other<'_>]) -> Option<Decimal> {
    let (was, is) = (plan.ledger.scale.as_ref()?, new.ledger.scale.as_ref()?);
    let is_other = others.iter().any(|other| Some(other.id) == was.key);
    let (_, quantity) = plan.scale_quantity()?;
    let ratio = (is.amount.as_ref().ok()?.value / was.amount.as_ref().ok()?.value).value;
    let by_amount = quantity.unit.dimension == Dimension::Amount;
    let wanted = is_other && !by_amount && (ratio - 1.0).abs() > SAME;
    Decimal::from_f64(ratio)?.round_sf(9).filter(|_| wanted)
}

/// The text with what the lines say instead; the portions of the steps are as they were.
fn changed(plan: &Plan, others: &[Other<'_>]) -> String {
    let edits = others.iter().filter_map(|other| {
        let line = plan.text.key(other.id)?.line;
        let (span, said) = match (&plan.text.lines.get(line as usize)?.statement, other.said) {
            (Statement::Entry(entry), Said::Entry(said)) => {
                let (span, kept) = kept(plan, line, other.id, entry, said)?;
                (span, [&[other.text], &*kept].concat().join(", "))
            }
            (Statement::Equipment(item), Said::Equipment(_)) => {
                (item.text.span, other.text.to_owned())
            }
            _ => return None,
        };
        Some((plan.range(convert::at(line, span)), said))
    });
    edited(&plan.text.text, edits.collect())
}

/// What stands behind the colon of an entry, and the parts of it that stay.
fn kept<'a>(
    plan: &'a Plan,
    line: u32,
    id: KeyId,
    entry: &Entry,
    said: &Entry,
) -> Option<(Span, Vec<&'a str>)> {
    let written = plan.text.lines.get(line as usize)?;
    let end = written.comment.map_or(written.len, |comment| comment.start);
    let after = Span {
        start: entry.key.span.end,
        end,
    };
    let rest = plan.slice(line, after)?;
    let colon = rest.find([':', '\u{ff1a}']).map_or(0, |at| at + 1);
    let lead = rest.get(colon..)?.trim_start_matches([':', '\u{ff1a}']);
    let bytes = |text: &str| u32::try_from(text.len()).unwrap_or(u32::MAX);
    let span = Span {
        start: end - bytes(lead.trim_start()),
        end: end - bytes(lead) + bytes(lead.trim_end()),
    };
    let counts = |amount: &syntax::Amount| {
        matches!(
            amount.kind,
            AmountKind::Equivalents | AmountKind::MolPercent | AmountKind::Amount
        )
    };
    let amounts = |entry: &Entry, fits: &dyn Fn(&syntax::Amount) -> bool| {
        let mut fields = entry.fields.iter();
        fields.any(|field| matches!(&field.kind, FieldKind::Amount(amount) if fits(amount)))
    };
    let scale = plan.ledger.scale.as_ref();
    let follows = amounts(entry, &counts) || scale.is_some_and(|scale| scale.key == Some(id));
    let restated = amounts(said, &|_| true);
    let says = |is: fn(&FieldKind) -> bool| said.fields.iter().any(|field| is(&field.kind));
    let stays = |field: &&Field| match &field.kind {
        FieldKind::Amount(amount) => {
            let by_size = matches!(amount.kind, AmountKind::Mass | AmountKind::Volume);
            !(restated || by_size && follows)
        }
        FieldKind::Role(_) => !says(|kind| matches!(kind, FieldKind::Role(_))),
        FieldKind::Expect(_) => !says(|kind| matches!(kind, FieldKind::Expect(_))),
        _ => false,
    };
    let fields = entry.fields.iter().filter(stays);
    let kept = fields.filter_map(|field| plan.slice(line, field.span));
    Some((span, kept.collect()))
}

/// The new plan, with portions that are the share of their lines that they were.
fn portions_follow(plan: &Plan, new: Plan, others: &[Other<'_>]) -> Plan {
    let mut edits = Vec::new();
    // As much solvent for each gram is more of it for a heavier substance.
    for material in &plan.materials {
        let id = material.id;
        let (Some(was), Some(is)) = (plan.material(id), new.material(id)) else {
            continue;
        };
        let is_other = others.iter().any(|other| other.id == id);
        for take in new.takes_of(id) {
            let Some((times, amount, _)) = take.quantity() else {
                continue;
            };
            let Some(quantity) = amount.quantity.as_ref().filter(|q| q.to.is_none()) else {
                continue;
            };
            let Some((was, is)) = sizes(was.1, is.1, quantity.unit.dimension) else {
                continue;
            };
            let line = take.line;
            let is_all = is_all(quantity, times, was);
            match is {
                Some(is) if (is / was - 1.0).abs() > SAME => {
                    // Not twice rounded.
                    let was = match is_all {
                        true => size(quantity) * f64::from(times),
                        false => was,
                    };
                    edits.extend(portion(&new, line, quantity, is / was));
                }
                None if is_all && is_other => {
                    edits.extend(without(&new, line, amount.span));
                }
                _ => {}
            }
        }
    }
    match edits.is_empty() {
        true => new,
        false => read(&new, &edited(&new.text.text, edits)),
    }
}

/// How much a line came to and comes to, in the base unit of what a portion is measured in.
fn sizes(was: &Amounts, is: &Amounts, dimension: Dimension) -> Option<(f64, Option<f64>)> {
    fn both<Q: Copy>(
        was: &Determined<Q>,
        is: &Determined<Q>,
        size: impl Fn(Q) -> f64,
    ) -> Option<(f64, Option<f64>)> {
        let size = |known: &Determined<Q>| known.as_ref().ok().map(|known| size(known.value));
        size(was)
            .filter(|was| *was > 0.0)
            .map(|was| (was, size(is)))
    }
    match dimension {
        Dimension::Mass => both(&was.mass, &is.mass, |mass| mass.get::<gram>()),
        Dimension::Volume => both(&was.volume, &is.volume, |volume| volume.get::<liter>()),
        Dimension::Amount => both(&was.amount, &is.amount, |amount| amount.get::<mole>()),
        _ => None,
    }
}

/// A portion times a ratio, with the digits that it has.
fn portion(
    plan: &Plan,
    line: u32,
    quantity: &Quantity,
    ratio: f64,
) -> Option<(Range<usize>, String)> {
    let number = &quantity.number;
    let exact = number.value.checked_mul(Decimal::from_f64(ratio)?)?;
    let unit = units::readable(&quantity.unit, number.value, exact);
    let written = match unit.steps {
        0 => digits::anew(number, exact),
        _ => digits::anew_in_other_unit(number, unit.convert(exact)?),
    };
    let at = convert::at(line, quantity.span);
    Some((plan.range(at), format!("{} {}", written?, unit.symbol)))
}

/// Whether a portion is all that there is of a line, to its last digit.
fn is_all(quantity: &Quantity, times: u32, whole: f64) -> bool {
    let size = size(quantity) * f64::from(times);
    let number = &quantity.number;
    let half = size / convert::float(number) * convert::half_digit(number);
    (size - whole).abs() <= half * (1.0 + SAME)
}

/// In the base unit of its dimension.
fn size(quantity: &Quantity) -> f64 {
    let factor = quantity.unit.factor.to_f64().unwrap_or(f64::NAN);
    convert::float(&quantity.number) * factor
}

/// A step without the size of a portion that is all there is: that goes without saying.
fn without(plan: &Plan, line: u32, span: Span) -> Option<(Range<usize>, String)> {
    let range = plan.range(convert::at(line, span));
    let text = &plan.text.text;
    let (before, after) = (text.get(..range.start)?, text.get(range.end..)?);
    // `2.30 mL of base`
    if let Some(name) = after.strip_prefix(" of ") {
        let end = text.len() - name.len();
        return Some((range.start..end, String::new()));
    }
    let lead = before.trim_end_matches([' ', ',']).len();
    Some((lead..range.end, String::new()))
}
