//! Rescaling as edits of the text: only numbers that scale change.

use crate::Plan;
use crate::convert;
use crate::digits::{self, Factor};
use crate::known::At;
use crate::ledger::basis_of;
use crate::material::{Basis, Material};
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;
use std::fmt;
use syntax::{
    Amount, AmountKind, Clause, Dimension, FieldKind, ModifierKind, Number, PortionKind, Quantity,
    Span, Statement, Thing,
};

/// What a plan is rescaled to.
#[derive(Clone, Debug)]
pub enum Target {
    /// Every amount times this.
    By(Decimal),
    /// The scale becomes this amount, mass or volume of its material.
    To(Quantity),
    /// This stated amount of this material holds, and the plan follows.
    Line {
        /// The material, by its place in `Plan::materials`.
        material: usize,
        /// The stated amount, by its place on the line.
        stated: usize,
    },
}

/// A rescaling, worked out and not yet done.
#[derive(Clone, Debug)]
pub struct Rescaling {
    /// The factor, for display.
    pub factor: Decimal,
    /// The new text of the scale's quantity.
    pub scale: String,
    /// The edits, in order.
    pub edits: Vec<(At, String)>,
    /// Amounts that look like the old scale's and were left alone: in comments, notes, `until`, `expect`,
    /// measured values, rates.
    pub left_alone: Vec<At>,
}

/// Why a plan could not be rescaled.
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
/// the scale's material, or a number would leave what 28 digits hold.
pub fn rescale(plan: &Plan, target: &Target) -> Result<Rescaling, CannotRescale> {
    let fail = |message: &str| CannotRescale(message.to_owned());
    let (line, quantity) = plan
        .scale_quantity()
        .ok_or_else(|| fail("the plan has no scale to start from: write `scale 5.00 mmol KEY`"))?;
    if quantity.to.is_some() {
        return Err(fail("the scale is a range: write one number"));
    }
    let (scale, factor) = new_scale(plan, quantity, target)?;
    let mut writer = Writer {
        plan,
        factor,
        edits: Vec::new(),
        left_alone: Vec::new(),
        failed: false,
    };
    writer.replace(line, &quantity.number, scale.clone());
    writer.lines(match target {
        Target::Line { material, stated } => Some((*material, *stated)),
        _ => None,
    });
    if writer.failed {
        return Err(fail("a number of the plan would become too long to write"));
    }
    writer.edits.sort_by_key(|(at, _)| *at);
    let value = factor
        .value()
        .ok_or_else(|| fail("the factor is out of range"))?;
    Ok(Rescaling {
        factor: value,
        scale: format!("{scale} {}", unit_text(quantity)),
        edits: writer.edits,
        left_alone: writer.left_alone,
    })
}

fn unit_text(quantity: &Quantity) -> String {
    match quantity.unit.per {
        Some(per) => format!("{}/{per}", quantity.unit.symbol),
        None => quantity.unit.symbol.to_owned(),
    }
}

/// The scale's new number as text, and the exact factor between the numbers that are written.
fn new_scale(
    plan: &Plan,
    old: &Quantity,
    target: &Target,
) -> Result<(String, Factor), CannotRescale> {
    let fail = |message: &str| CannotRescale(message.to_owned());
    let positive = || fail("the new scale must be greater than zero");
    let long = || fail("the new scale is out of range");
    let old_value = old.number.value;
    let (exact, at_least) = match target {
        Target::By(factor) => {
            let factor = Factor::new(*factor, Decimal::ONE).ok_or_else(positive)?;
            let text = digits::multiplied(&old.number, factor).ok_or_else(long)?;
            (
                factor.times(old_value).ok_or_else(long)?,
                significant_of(&text),
            )
        }
        Target::To(quantity) if quantity.unit.dimension == old.unit.dimension => {
            let value = quantity
                .number
                .value
                .checked_mul(quantity.unit.factor)
                .ok_or_else(long)?;
            (
                value.checked_div(old.unit.factor).ok_or_else(long)?,
                digits::significant(&quantity.number),
            )
        }
        Target::To(quantity) => {
            let ratio = plan.ratio_to_scale(quantity).map_err(CannotRescale)?;
            let ratio = Decimal::from_f64(ratio).ok_or_else(long)?;
            let exact = old_value.checked_mul(ratio).ok_or_else(long)?;
            let digits = digits::significant(&old.number)
                .max(digits::significant(&quantity.number))
                .max(3);
            (digits::round(exact, digits).ok_or_else(long)?, digits)
        }
        Target::Line { material, stated } => {
            let factor = line_factor(plan, *material, *stated).ok_or_else(|| {
                fail("this amount does not follow from the scale, so the plan cannot follow it")
            })?;
            let exact = factor.times(old_value).ok_or_else(long)?;
            let digits = digits::significant(&old.number).max(3);
            (digits::round(exact, digits).ok_or_else(long)?, digits)
        }
    };
    if exact <= Decimal::ZERO {
        return Err(positive());
    }
    let digits = at_least.max(digits::significant(&old.number));
    // The scale is the one number that is what was asked for: digits are added until it is.
    let needed = (digits..28)
        .find(|&d| digits::round(exact, d) == Some(exact))
        .unwrap_or(digits);
    let kept = if exact.fract().is_zero() && old.number.value.scale() == 0 {
        exact.trunc()
    } else {
        digits::round(exact, needed.min(digits.max(12))).ok_or_else(long)?
    };
    let factor = Factor::new(kept, old_value).ok_or_else(positive)?;
    Ok((kept.to_string(), factor))
}

fn significant_of(text: &str) -> u32 {
    let value: Decimal = text.parse().unwrap_or(Decimal::ONE);
    let last_digit = -i32::try_from(value.scale()).unwrap_or(0);
    digits::significant(&Number {
        value,
        last_digit,
        span: Span::default(),
    })
}

/// What a stated amount is, over what the plan makes of its line.
fn line_factor(plan: &Plan, material: usize, stated: usize) -> Option<Factor> {
    let amounts = plan.ledger.amounts.get(material)?;
    let material = plan.materials.get(material)?;
    let quantity = material.stated.get(stated)?.quantity.as_ref()?;
    let (wanted, have) = match basis_of(quantity, material.line)? {
        Basis::Amount(known) => (known.value.value, amounts.amount.as_ref().ok()?.value.value),
        Basis::Mass(known) => (known.value.value, amounts.mass.as_ref().ok()?.value.value),
        Basis::Volume(known) => (known.value.value, amounts.volume.as_ref().ok()?.value.value),
    };
    Factor::new(Decimal::from_f64(wanted / have)?, Decimal::ONE)
}

struct Writer<'a> {
    plan: &'a Plan,
    factor: Factor,
    edits: Vec<(At, String)>,
    left_alone: Vec<At>,
    failed: bool,
}

impl Writer<'_> {
    fn lines(&mut self, held: Option<(usize, usize)>) {
        let text = self.plan.text.clone();
        for (line, index) in text.lines.iter().zip(0u32..) {
            match &line.statement {
                Statement::Entry(entry) => {
                    let material = self.plan.materials.iter().position(|m| m.line == index);
                    let mut stated = 0;
                    for field in &entry.fields {
                        match &field.kind {
                            FieldKind::Amount(amount) => {
                                if material.is_none() || held != material.map(|m| (m, stated)) {
                                    self.stated(index, material, amount);
                                }
                                stated += 1;
                            }
                            FieldKind::Obtained(quantity) | FieldKind::Took(quantity) => {
                                self.leave(index, quantity.span);
                            }
                            _ => {}
                        }
                    }
                }
                Statement::Step(step) => {
                    for clause in &step.clauses {
                        self.clause(index, clause);
                    }
                }
                Statement::Remark(_, Some(text)) => self.leave_text(index, text.span),
                _ => {}
            }
            if let Some(comment) = line.comment {
                self.leave_text(index, comment);
            }
        }
    }

    /// A stated amount: anew where it follows from the scale, times the factor where it stands by itself.
    fn stated(&mut self, line: u32, material: Option<usize>, amount: &Amount) {
        if matches!(amount.kind, AmountKind::Uncounted(..)) {
            self.leave(line, amount.span);
            return;
        }
        let Some(quantity) = &amount.quantity else {
            return;
        };
        if !scales(quantity) {
            return;
        }
        // The scale's own amount, written again on its line, is the scale and no other number.
        if self.repeats_scale(material, quantity)
            && let Some((_, scale)) = self.plan.scale_quantity()
            && let Some(exact) = self.factor.times(scale.number.value)
            && exact.scale() > 0
        {
            self.replace(line, &quantity.number, exact.normalize().to_string());
            return;
        }
        match material.and_then(|material| self.anew(material, quantity)) {
            Some(text) => self.replace(line, &quantity.number, text),
            None => self.multiply(line, quantity),
        }
    }

    fn repeats_scale(&self, material: Option<usize>, quantity: &Quantity) -> bool {
        let key = material
            .and_then(|index| self.plan.materials.get(index))
            .map(|m| m.id);
        let scale = self.plan.ledger.scale.as_ref();
        key.is_some()
            && key == scale.and_then(|scale| scale.key)
            && self.plan.scale_quantity().is_some_and(|(_, scale)| {
                scale.unit == quantity.unit
                    && scale.number.value == quantity.number.value
                    && scale.number.last_digit == quantity.number.last_digit
            })
    }

    /// The amount that equivalents (or a relative amount) of the line give at the new scale, if the written
    /// one agrees with them.
    fn anew(&self, index: usize, quantity: &Quantity) -> Option<String> {
        let material = self.plan.materials.get(index)?;
        let follows = material.stated.iter().any(|amount| {
            matches!(
                amount.kind,
                AmountKind::Equivalents | AmountKind::MolPercent | AmountKind::Relative
            )
        });
        if !follows || quantity.to.is_some() {
            return None;
        }
        let amounts = self.plan.ledger.amounts.get(index)?;
        let written = basis_of(quantity, material.line)?;
        let (old, half) = match &written {
            Basis::Amount(known) => (
                amounts.amount.as_ref().ok()?.value.value,
                (known.value.value, known.half_width.value),
            ),
            Basis::Mass(known) => (
                amounts.mass.as_ref().ok()?.value.value,
                (known.value.value, known.half_width.value),
            ),
            Basis::Volume(known) => (
                amounts.volume.as_ref().ok()?.value.value,
                (known.value.value, known.half_width.value),
            ),
        };
        let agrees = (old - half.0).abs() <= half.1 * 1.000_001;
        // The computed amount is in the base unit of f64; the factor to the written unit is exact.
        let ratio = Decimal::from_f64(old / half.0)?;
        let now = self
            .factor
            .times(quantity.number.value.checked_mul(ratio)?)?;
        agrees.then(|| digits::anew(&quantity.number, now))?
    }

    fn clause(&mut self, line: u32, clause: &Clause) {
        for thing in &clause.objects {
            self.thing(line, thing);
        }
        for modifier in &clause.modifiers {
            match &modifier.kind {
                ModifierKind::DissolvedIn(things)
                | ModifierKind::To(things)
                | ModifierKind::From(things)
                | ModifierKind::With(things)
                | ModifierKind::OverAgent(things)
                | ModifierKind::On(things)
                | ModifierKind::Through(things)
                | ModifierKind::Other(_, things) => {
                    for thing in things {
                        self.thing(line, thing);
                    }
                }
                ModifierKind::Until(quantity) if scales(quantity) => self.multiply(line, quantity),
                ModifierKind::Rate(quantity) => self.leave(line, quantity.span),
                ModifierKind::UntilText(Some(text)) | ModifierKind::Remark(text) => {
                    self.leave_text(line, text.span);
                }
                _ => {}
            }
        }
        if let Some(text) = &clause.text {
            self.leave_text(line, text.span);
        }
    }

    fn thing(&mut self, line: u32, thing: &Thing) {
        for portion in &thing.portions {
            let PortionKind::Amount { amount, .. } = &portion.kind else {
                continue;
            };
            match &amount.quantity {
                _ if matches!(amount.kind, AmountKind::Uncounted(..)) => {
                    self.leave(line, amount.span)
                }
                Some(quantity) if scales(quantity) => self.multiply(line, quantity),
                _ => {}
            }
        }
    }

    fn multiply(&mut self, line: u32, quantity: &Quantity) {
        for number in [Some(&quantity.number), quantity.to.as_ref()]
            .into_iter()
            .flatten()
        {
            match digits::multiplied(number, self.factor) {
                Some(text) => self.replace(line, number, text),
                None => self.failed = true,
            }
        }
    }

    fn replace(&mut self, line: u32, number: &Number, text: String) {
        if number.value.to_string() != text {
            self.edits.push((convert::at(line, number.span), text));
        }
    }

    fn leave(&mut self, line: u32, span: Span) {
        self.left_alone.push(convert::at(line, span));
    }

    fn leave_text(&mut self, line: u32, span: Span) {
        let Some(text) = self.plan.slice(line, span) else {
            return;
        };
        for quantity in syntax::find_quantities(text) {
            if scales(&quantity) {
                let found = Span {
                    start: span.start + quantity.span.start,
                    end: span.start + quantity.span.end,
                };
                self.leave(line, found);
            }
        }
    }
}

/// Amounts, masses and volumes scale; everything intensive does not.
fn scales(quantity: &Quantity) -> bool {
    matches!(
        quantity.unit.dimension,
        Dimension::Amount | Dimension::Mass | Dimension::Volume
    )
}

/// The stated amounts of a line that disagree with what rules it, as places in `Material::stated`.
#[must_use]
pub fn disagreeing(plan: &Plan, index: usize) -> Vec<usize> {
    let (Some(material), Some(amounts)) =
        (plan.materials.get(index), plan.ledger.amounts.get(index))
    else {
        return Vec::new();
    };
    (0..material.stated.len())
        .filter(|&stated| disagrees(material, amounts, stated))
        .collect()
}

fn disagrees(material: &Material, amounts: &crate::Amounts, stated: usize) -> bool {
    /// Further apart than both claim together.
    fn apart(written: (f64, f64), computed: (f64, f64)) -> bool {
        (written.0 - computed.0).abs() > (written.1 + computed.1) * 1.000_001
    }
    fn pair<D, U>(known: &crate::Known<uom::si::Quantity<D, U, f64>>) -> (f64, f64)
    where
        D: uom::si::Dimension + ?Sized,
        U: uom::si::Units<f64> + ?Sized,
    {
        (known.value.value, known.half_width.value)
    }
    let Some(quantity) = material
        .stated
        .get(stated)
        .and_then(|amount| amount.quantity.as_ref())
    else {
        return false;
    };
    match basis_of(quantity, material.line) {
        Some(Basis::Amount(known)) => amounts
            .amount
            .as_ref()
            .is_ok_and(|computed| apart(pair(&known), pair(computed))),
        Some(Basis::Mass(known)) => amounts
            .mass
            .as_ref()
            .is_ok_and(|computed| apart(pair(&known), pair(computed))),
        Some(Basis::Volume(known)) => amounts
            .volume
            .as_ref()
            .is_ok_and(|computed| apart(pair(&known), pair(computed))),
        None => false,
    }
}
