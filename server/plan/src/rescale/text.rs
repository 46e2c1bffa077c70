//! The edits of a plan's text, number by number.

use super::readings::Readings;
use super::target::{Aim, Held, Written};
use super::units::{self, Move};
use super::{LeftAlone, OptionalEdit, Place};
use crate::convert;
use crate::digits::{self, Factor};
use crate::known::At;
use crate::ledger::basis_of;
use crate::material::Basis;
use crate::{Plan, rescale::target::pair};
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;
use syntax::{
    Amount, AmountKind, Clause, Dimension, Entry, Field, FieldKind, ModifierKind, Number,
    PortionKind, Quantity, Referent, RemarkKind, Span, Statement, Thing, Verb,
};

/// Goes through a plan and collects what to write.
pub(super) struct Writer<'a> {
    plan: &'a Plan,
    factor: Factor,
    scale: &'a Written,
    held: Option<&'a Held>,
    readings: Option<&'a Readings>,
    edits: Vec<(At, String)>,
    optional: Vec<OptionalEdit>,
    left_alone: Vec<LeftAlone>,
    failed: bool,
}

/// What was measured in a run.
fn is_record(field: &Field) -> bool {
    matches!(field.kind, FieldKind::Obtained(_) | FieldKind::Took(_))
}

/// What a writer collected.
pub(super) struct Edits {
    pub(super) edits: Vec<(At, String)>,
    pub(super) optional: Vec<OptionalEdit>,
    pub(super) left_alone: Vec<LeftAlone>,
}

impl<'a> Writer<'a> {
    pub(super) fn new(plan: &'a Plan, aim: &'a Aim) -> Self {
        Writer {
            plan,
            factor: aim.factor,
            scale: &aim.scale,
            held: aim.held.as_ref(),
            readings: None,
            edits: Vec::new(),
            optional: Vec::new(),
            left_alone: Vec::new(),
            failed: false,
        }
    }

    /// To what the tools read.
    pub(super) fn reading(mut self, readings: Option<&'a Readings>) -> Self {
        self.readings = readings;
        self
    }

    /// None where a number became too long.
    pub(super) fn finish(mut self) -> Option<Edits> {
        self.left_alone.sort_by_key(|left| left.at);
        (!self.failed).then_some(Edits {
            edits: self.edits,
            optional: self.optional,
            left_alone: self.left_alone,
        })
    }

    /// Writes these numbers in place of what was to be written there.
    pub(super) fn keep(&mut self, numbers: Vec<(At, String)>) {
        for (at, text) in numbers {
            self.edits.retain(|(other, _)| *other != at);
            if self.plan.slice(at.line, at.span) != Some(&*text) {
                self.edits.push((at, text));
            }
        }
    }

    pub(super) fn lines(&mut self) {
        let plan = self.plan;
        for (line, index) in plan.text.lines.iter().zip(0u32..) {
            match &line.statement {
                Statement::Plan(Some(title)) => self.leave_text(index, title.span, Place::Title),
                Statement::Entry(entry) => self.entry(index, entry),
                Statement::Run(run) => {
                    if let Some(amount) = &run.amount {
                        self.run(index, amount);
                    }
                }
                Statement::Step(step) => {
                    for clause in &step.clauses {
                        self.clause(index, clause);
                    }
                }
                Statement::Remark(RemarkKind::Note, Some(text)) => {
                    self.leave_text(index, text.span, Place::Note);
                }
                Statement::Remark(RemarkKind::Remark, Some(text)) => {
                    self.leave_text(index, text.span, Place::Words);
                }
                _ => {}
            }
            if let Some(comment) = line.comment {
                self.leave_text(index, comment, Place::Comment);
            }
        }
    }

    /// A run at the plan's own scale stays one.
    fn run(&mut self, line: u32, amount: &Quantity) {
        let scale = self.plan.ledger.scale.as_ref();
        let scale = scale.and_then(|scale| scale.key);
        let mut materials = self.plan.materials.iter();
        let own = materials.position(|material| Some(material.id) == scale);
        if self.repeats_scale(own, amount) {
            self.write(line, amount, self.scale);
        } else {
            self.multiply(line, amount);
        }
    }

    fn entry(&mut self, line: u32, entry: &Entry) {
        let material = self.plan.materials.iter().position(|m| m.line == line);
        let mut stated = 0;
        for (index, field) in entry.fields.iter().enumerate() {
            match &field.kind {
                FieldKind::Amount(amount) => {
                    let held = self
                        .held
                        .filter(|held| Some(held.material) == material && held.stated == stated);
                    match held {
                        Some(held) => self.hold(line, amount, held),
                        None => self.stated(line, material, amount),
                    }
                    stated += 1;
                }
                FieldKind::Obtained(quantity) | FieldKind::Took(quantity) => {
                    match self.with_its_comma(line, entry, index) {
                        Some(span) => self.edits.push((convert::at(line, span), String::new())),
                        None => self.leave(line, quantity.span, Place::Measured),
                    }
                }
                _ => {}
            }
        }
    }

    /// A field with the comma that sets it apart from its neighbour; none where something else stands there.
    fn with_its_comma(&self, line: u32, entry: &Entry, index: usize) -> Option<Span> {
        let field = entry.fields.get(index)?.span;
        let (gone, start, end) = match index.checked_sub(1) {
            Some(before) => {
                let before = entry.fields.get(before)?.span;
                let start = before.end;
                (Span { start, ..field }, start, field.start)
            }
            None => {
                // The next field keeps its own comma if it goes, too.
                let next = entry.fields.get(1).filter(|next| !is_record(next))?.span;
                let end = next.start;
                (Span { end, ..field }, field.end, end)
            }
        };
        let between = self.plan.slice(line, Span { start, end })?;
        (between.trim() == ",").then_some(gone)
    }

    fn hold(&mut self, line: u32, amount: &Amount, held: &Held) {
        if let (Some(quantity), Some(text)) = (&amount.quantity, &held.text) {
            self.write(line, quantity, text);
        }
    }

    /// A stated amount: anew where it follows from the scale, times the factor where it stands by itself.
    fn stated(&mut self, line: u32, material: Option<usize>, amount: &Amount) {
        if matches!(amount.kind, AmountKind::Uncounted(..)) {
            self.leave(line, amount.span, Place::Counted);
            return;
        }
        if let Some(text) = material.and_then(|material| self.really(material, amount))
            && let Some(quantity) = &amount.quantity
        {
            self.replace(line, quantity.number.span, Some(&quantity.number), text);
        }
        let Some(quantity) = amount.quantity.as_ref().filter(|quantity| scales(quantity)) else {
            return;
        };
        // The scale's own amount, written again on its line, is the scale and no other number.
        if self.repeats_scale(material, quantity) {
            self.write(line, quantity, self.scale);
            return;
        }
        self.anew_or_multiply(line, material, quantity);
    }

    fn anew_or_multiply(&mut self, line: u32, material: Option<usize>, quantity: &Quantity) {
        let read_off = material.and_then(|material| self.read_off(line, material, quantity));
        match read_off.or_else(|| self.anew(line, material?, quantity)) {
            Some(written) => self.write(line, quantity, &written),
            None => self.multiply(line, quantity),
        }
    }

    /// What is written in place of one number that scales.
    pub(super) fn written(
        &self,
        line: u32,
        material: Option<usize>,
        quantity: &Quantity,
    ) -> Option<Written> {
        if self.repeats_scale(material, quantity) {
            return Some(self.scale.clone());
        }
        let anew = material.and_then(|material| self.anew(line, material, quantity));
        anew.or_else(|| {
            let unit = self.unit(quantity)?;
            let number = digits::multiplied_in(&quantity.number, self.factor, unit.steps)?;
            Some(Written { number, unit })
        })
    }

    /// What the tool reads, and the line's other amounts with it.
    fn read_off(&self, line: u32, index: usize, quantity: &Quantity) -> Option<Written> {
        let rounded = self.readings?.lines.get(index)?.as_ref()?;
        let share = self.agreeing(line, index, quantity)?;
        if quantity.unit.dimension != rounded.dimension {
            return self.anew_times(quantity, share.checked_mul(rounded.ratio)?);
        }
        let value = rounded.value.checked_div(quantity.unit.factor)?;
        let unit = units::readable(&quantity.unit, quantity.number.value, value);
        let step = rounded.step.checked_div(quantity.unit.factor)?;
        let decimals = unit.convert(step)?.normalize().scale();
        let number = digits::round_to_decimals(unit.convert(value)?, decimals)?;
        Some(Written {
            number: number.to_string(),
            unit,
        })
    }

    /// The equivalents of a line as it is really measured, with the decimals that they are written with.
    fn really(&self, index: usize, amount: &Amount) -> Option<String> {
        let rounded = self.readings?.lines.get(index)?.as_ref()?;
        let quantity = amount.quantity.as_ref()?;
        let is_share = matches!(
            amount.kind,
            AmountKind::Equivalents | AmountKind::MolPercent
        );
        if !is_share || quantity.to.is_some() {
            return None;
        }
        let line = self.plan.materials.get(index)?.line;
        let (stated, half) = pair(&convert::share(quantity, line)?);
        let known = self
            .plan
            .ledger
            .amounts
            .get(index)?
            .equivalents
            .as_ref()
            .ok()?;
        if (pair(known).0 - stated).abs() > half.max(1e-9) * 1.000_001 {
            return None;
        }
        let number = &quantity.number;
        let real = number.value.checked_mul(rounded.ratio)?;
        let kept = digits::round_to_decimals(real, number.value.scale())?;
        (kept > Decimal::ZERO).then(|| kept.to_string())
    }

    fn repeats_scale(&self, material: Option<usize>, quantity: &Quantity) -> bool {
        let key = material
            .and_then(|index| self.plan.materials.get(index))
            .map(|m| m.id);
        let scale = self.plan.ledger.scale.as_ref();
        key.is_some()
            && quantity.to.is_none()
            && key == scale.and_then(|scale| scale.key)
            && self.plan.scale_quantity().is_some_and(|(_, scale)| {
                scale.unit == quantity.unit
                    && scale.number.value == quantity.number.value
                    && scale.number.last_digit == quantity.number.last_digit
            })
    }

    /// The amount that equivalents (or a relative amount) of the line give at the new scale, if the written
    /// one agrees with them.
    fn anew(&self, line: u32, index: usize, quantity: &Quantity) -> Option<Written> {
        let material = self.plan.materials.get(index)?;
        let follows = material.stated.iter().any(|amount| {
            matches!(
                amount.kind,
                AmountKind::Equivalents
                    | AmountKind::MolPercent
                    | AmountKind::Relative
                    | AmountKind::FillTo
            )
        });
        if !follows || quantity.to.is_some() {
            return None;
        }
        self.anew_times(quantity, self.agreeing(line, index, quantity)?)
    }

    /// What the plan makes of a line over what is stated of it, if the two agree.
    fn agreeing(&self, line: u32, index: usize, quantity: &Quantity) -> Option<Decimal> {
        if quantity.to.is_some() {
            return None;
        }
        let amounts = self.plan.ledger.amounts.get(index)?;
        let (computed, (stated, half)) = match basis_of(quantity, line)? {
            Basis::Amount(known) => (pair(amounts.amount.as_ref().ok()?).0, pair(&known)),
            Basis::Mass(known) => (pair(amounts.mass.as_ref().ok()?).0, pair(&known)),
            Basis::Volume(known) => (pair(amounts.volume.as_ref().ok()?).0, pair(&known)),
        };
        if (computed - stated).abs() > half * 1.000_001 {
            return None;
        }
        // The computed amount is in the base unit of f64; the factor to the written unit is exact.
        Decimal::from_f64(computed / stated)
    }

    /// So many times the stated amount, at the new scale.
    fn anew_times(&self, quantity: &Quantity, ratio: Decimal) -> Option<Written> {
        let number = &quantity.number;
        let now = self.factor.times(number.value.checked_mul(ratio)?)?;
        let unit = units::readable(&quantity.unit, number.value, now);
        let number = if unit.steps == 0 {
            digits::anew(number, now)
        } else {
            digits::anew_in_other_unit(number, unit.convert(now)?)
        };
        Some(Written {
            number: number?,
            unit,
        })
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
                ModifierKind::Rate(quantity) => self.leave(line, quantity.span, Place::Rate),
                ModifierKind::UntilText(Some(text)) | ModifierKind::Remark(text) => {
                    self.leave_text(line, text.span, Place::Words);
                }
                _ => {}
            }
        }
        if let Some(text) = &clause.text {
            let place = match clause.verb {
                Verb::Note => Place::Note,
                _ => Place::Words,
            };
            self.leave_text(line, text.span, place);
        }
    }

    fn thing(&mut self, line: u32, thing: &Thing) {
        let material = match thing.referent {
            Referent::Key(id) => self.plan.materials.iter().position(|m| m.id == id),
            _ => None,
        };
        for portion in &thing.portions {
            let PortionKind::Amount { times, amount } = &portion.kind else {
                continue;
            };
            match &amount.quantity {
                _ if matches!(amount.kind, AmountKind::Uncounted(..)) => {
                    self.leave(line, amount.span, Place::Counted);
                }
                Some(quantity) if scales(quantity) => {
                    self.anew_or_multiply(line, material.filter(|_| *times == 1), quantity);
                }
                _ => {}
            }
        }
    }

    fn multiply(&mut self, line: u32, quantity: &Quantity) {
        let Some(unit) = self.unit(quantity) else {
            self.failed = true;
            return;
        };
        for number in [Some(&quantity.number), quantity.to.as_ref()]
            .into_iter()
            .flatten()
        {
            match digits::multiplied_in(number, self.factor, unit.steps) {
                Some(text) => self.replace(line, number.span, Some(number), text),
                None => self.failed = true,
            }
        }
        self.write_unit(line, quantity, unit);
    }

    /// Ranges keep their unit, which may stand on both sides.
    fn unit(&self, quantity: &Quantity) -> Option<Move> {
        if quantity.to.is_some() {
            return Some(Move {
                steps: 0,
                symbol: quantity.unit.symbol,
            });
        }
        let old = quantity.number.value;
        Some(units::readable(
            &quantity.unit,
            old,
            self.factor.times(old)?,
        ))
    }

    pub(super) fn write(&mut self, line: u32, quantity: &Quantity, written: &Written) {
        let number = (written.unit.steps == 0).then_some(&quantity.number);
        self.replace(line, quantity.number.span, number, written.number.clone());
        self.write_unit(line, quantity, written.unit);
    }

    fn write_unit(&mut self, line: u32, quantity: &Quantity, unit: Move) {
        if unit.steps != 0 {
            let at = convert::at(line, quantity.unit_span);
            self.edits.push((at, unit.symbol.to_owned()));
        }
    }

    /// Nothing is edited where the number is the same to its last digit, however it is written.
    fn replace(&mut self, line: u32, span: Span, number: Option<&Number>, text: String) {
        if number.is_none_or(|number| number.value.to_string() != text) {
            self.edits.push((convert::at(line, span), text));
        }
    }

    fn leave(&mut self, line: u32, span: Span, place: Place) {
        let at = convert::at(line, span);
        self.left_alone.push(LeftAlone { at, place });
    }

    fn leave_text(&mut self, line: u32, span: Span, place: Place) {
        let Some(text) = self.plan.slice(line, span) else {
            return;
        };
        for quantity in syntax::find_quantities(text) {
            if !scales(&quantity) {
                continue;
            }
            let here = |found: Span| Span {
                start: span.start + found.start,
                end: span.start + found.end,
            };
            self.leave(line, here(quantity.span), place);
            let about_equipment = self
                .plan
                .text
                .lines
                .get(line as usize)
                .is_some_and(|line| matches!(line.statement, Statement::Equipment(_)));
            if about_equipment || matches!(place, Place::Words) {
                continue;
            }
            self.offer(
                line,
                here(quantity.number.span),
                here(quantity.unit_span),
                &quantity,
                place,
            );
        }
    }

    /// An amount in free text, times the factor.
    fn offer(&mut self, line: u32, number: Span, unit: Span, quantity: &Quantity, place: Place) {
        let offered = || {
            let moved = self.unit(quantity)?;
            let mut text = digits::multiplied_in(&quantity.number, self.factor, moved.steps)?;
            if let Some(to) = &quantity.to {
                let end = number.start + (to.span.start - quantity.number.span.start);
                let between = Span {
                    start: number.end,
                    end,
                };
                text.push_str(self.plan.slice(line, between)?);
                text.push_str(&digits::multiplied_in(to, self.factor, moved.steps)?);
                let end = number.start + (to.span.end - quantity.number.span.start);
                return Some((Span { end, ..number }, text));
            }
            if moved.steps == 0 {
                return Some((number, text));
            }
            let between = Span {
                start: number.end,
                end: unit.start,
            };
            text.push_str(self.plan.slice(line, between)?);
            text.push_str(moved.symbol);
            Some((
                Span {
                    end: unit.end,
                    ..number
                },
                text,
            ))
        };
        if let Some((span, text)) = offered() {
            let at = convert::at(line, span);
            if self.plan.slice(line, span) != Some(&*text) {
                self.optional.push(OptionalEdit { at, text, place });
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
