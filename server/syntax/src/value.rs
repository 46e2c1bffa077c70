//! Times, temperatures, counts and other values: of the open slot, or of the step by what they measure.

use crate::ast::{
    Amount, CountKind, ModifierKind, PressureKind, Referent, TemperatureKind, TemperatureValue,
    Thing, TimeKind,
};
use crate::lexer::Tok;
use crate::number::{Bound, Dimension, Quantity};
use crate::plan_text::Problem;
use crate::portion::percent;
use crate::problem::quoted;
use crate::quantities::{bare_number, is_portion, list};
use crate::step::{Open, StepReader};
use crate::strength::{amount_kind, strength_form};
use crate::units::units_for;
use crate::vocabulary::Use;
use crate::words::{self, Prep};
use std::ops::Range;

/// The temperature of the room, in words.
const ROOM: &[&str] = &[
    "rt",
    "r.t",
    "room temperature",
    "room temp",
    "ambient temperature",
    "ambient temp",
];

impl StepReader<'_, '_> {
    pub(crate) fn quantity(&mut self, open: &mut Open, times: u32, quantity: Quantity) {
        let dimension = quantity.unit.dimension;
        let at = self.at;
        if dimension == Dimension::Percent
            && (self.pieces.is(at + 1, "of") || self.pieces.is(at + 1, "the"))
            && let Some(kind) = percent(&quantity.number)
        {
            return self.share(open, kind, at + 1);
        }
        // `250 mL flask` names no portion of a flask, but `20 mL syringe` after `via` is its size.
        if let Some(kind) = amount_kind(dimension).filter(|_| is_portion(dimension)) {
            let amount = Amount {
                kind,
                quantity: Some(quantity),
                of: None,
                span: quantity.span,
            };
            return self.portion(open, times, amount);
        }
        if self.begins_name(at) {
            return self.name(open);
        }
        self.value(open, quantity);
    }

    /// A quantity that is no portion: the slot's value, or a modifier by what it measures.
    pub(crate) fn value(&mut self, open: &mut Open, mut quantity: Quantity) {
        use Dimension::{AmountRate, MassRate, Pressure, Stirring, Temperature, Time, VolumeRate};
        let fresh = open.is_fresh();
        let prep = if fresh { open.prep() } else { None };
        let range = self.slot_start(open, self.at)..self.pieces.range(self.at).end;
        let own = self.pieces.range(self.at);
        let temperature = TemperatureValue::Quantity(quantity);
        let mut fills = true;
        let kind = match (prep, quantity.unit.dimension) {
            (None | Some(Prep::For | Prep::Between), Time) => {
                ModifierKind::Time(TimeKind::For, Some(quantity))
            }
            (Some(Prep::Over | Prep::In), Time) => {
                ModifierKind::Time(TimeKind::Over, Some(quantity))
            }
            (None | Some(Prep::At | Prep::Between), Temperature) => {
                ModifierKind::Temperature(TemperatureKind::At, temperature)
            }
            (Some(Prep::To), Temperature) => {
                ModifierKind::Temperature(TemperatureKind::To, temperature)
            }
            (Some(Prep::From), Temperature) => {
                ModifierKind::Temperature(TemperatureKind::From, temperature)
            }
            (Some(Prep::Below), Temperature) => {
                ModifierKind::Temperature(TemperatureKind::Below, temperature)
            }
            (Some(Prep::Above), Temperature) => {
                ModifierKind::Temperature(TemperatureKind::Above, temperature)
            }
            (None | Some(Prep::At), Pressure) => ModifierKind::Pressure(PressureKind::At, quantity),
            (Some(Prep::To), Pressure) => ModifierKind::Pressure(PressureKind::To, quantity),
            (Some(Prep::Below), Pressure) => {
                quantity.bound = Bound::AtMost;
                ModifierKind::Pressure(PressureKind::At, quantity)
            }
            (Some(Prep::Above), Pressure) => {
                quantity.bound = Bound::AtLeast;
                ModifierKind::Pressure(PressureKind::At, quantity)
            }
            // `under 1 bar of hydrogen`: the gas is still to come.
            (Some(Prep::Under | Prep::With), Pressure) => {
                fills = false;
                ModifierKind::Pressure(PressureKind::At, quantity)
            }
            (None | Some(Prep::At), VolumeRate | MassRate | AmountRate) => {
                ModifierKind::Rate(quantity)
            }
            (None | Some(Prep::At), Stirring) => ModifierKind::Stirring(quantity),
            (Some(Prep::To | Prep::At), dimension) if strength_form(dimension).is_some() => {
                ModifierKind::Until(quantity)
            }
            (Some(Prep::Other | Prep::Between), _) => {
                self.words_of_value(open);
                self.at += 1;
                return;
            }
            _ => {
                self.does_not_fit(open, prep);
                return;
            }
        };
        self.push(open, kind, if fills { range } else { own });
        if fills {
            self.fill(open);
        }
        self.at += 1;
    }

    pub(crate) fn does_not_fit(&mut self, open: &mut Open, prep: Option<Prep>) {
        let range = self.pieces.range(self.at);
        let words = quoted(self.pieces.source.str(range.clone()));
        let fit: &[Dimension] = match prep {
            Some(Prep::For | Prep::Over) => &[Dimension::Time],
            Some(Prep::At | Prep::To | Prep::From | Prep::Below | Prep::Above) => &[
                Dimension::Temperature,
                Dimension::Pressure,
                Dimension::VolumeRate,
            ],
            _ => &[
                Dimension::Volume,
                Dimension::Mass,
                Dimension::Time,
                Dimension::Temperature,
            ],
        };
        let units: Vec<&str> = fit
            .iter()
            .flat_map(|&dimension| units_for(dimension).into_iter().take(2))
            .collect();
        let message = format!(
            "{words} does not fit here; units that do are {}.",
            list(&units)
        );
        self.problems.push(Problem::new(
            "unit-does-not-fit",
            self.pieces.span(range),
            message,
        ));
        self.words_of_value(open);
        self.at += 1;
    }

    /// What was meant as a value and has none: reported, and kept as words where a preposition waits for it.
    pub(crate) fn bad(&mut self, open: &mut Open, problem: Option<Box<Problem>>) {
        self.problems.extend(problem.map(|problem| *problem));
        self.words_of_value(open);
        self.at += 1;
    }

    /// A number without a unit.
    pub(crate) fn bare(&mut self, open: &mut Open) {
        // `a 300 W lamp`: nothing is reckoned with the power.
        if matches!(self.pieces.word(self.at + 1), "W" | "kW") {
            self.at += 2;
            return;
        }
        let range = self.pieces.range(self.at);
        let fit: &[Dimension] = match open.prep() {
            Some(Prep::For | Prep::Over) if open.is_fresh() => &[Dimension::Time],
            Some(Prep::At | Prep::To | Prep::From | Prep::Below | Prep::Above)
                if open.is_fresh() =>
            {
                &[
                    Dimension::Temperature,
                    Dimension::Volume,
                    Dimension::Pressure,
                ]
            }
            _ => &[
                Dimension::Volume,
                Dimension::Mass,
                Dimension::Amount,
                Dimension::Time,
            ],
        };
        self.problems
            .push(bare_number(self.pieces.source, range.clone(), fit));
        open.end = open.end.max(range.end);
        let value_follows = matches!(self.pieces.get(self.at + 1), Some(Tok::Quantity { .. }));
        if open.is_fresh()
            && !value_follows
            && let Some(slot) = open.slot()
        {
            slot.filled = true;
            let word = slot.word.clone();
            let kind = ModifierKind::Other(self.pieces.source.words(word.clone()), Vec::new());
            self.push(open, kind, word);
        }
        self.at += 1;
    }

    pub(crate) fn words_of_value(&self, open: &mut Open) {
        let range = self.pieces.range(self.at);
        open.end = open.end.max(range.end);
        if !open.is_fresh() {
            return;
        }
        let Some(slot) = open.slot() else { return };
        slot.filled = true;
        let word = slot.word.clone();
        let thing = Thing {
            name: self.pieces.source.words(range.clone()),
            referent: Referent::Words,
            adjective: None,
            portions: Vec::new(),
        };
        let kind = ModifierKind::Other(self.pieces.source.words(word.clone()), vec![thing]);
        self.push(open, kind, word.start..range.end);
    }

    /// Where a value begins: at the preposition that it fills.
    pub(crate) fn slot_start(&self, open: &Open, at: usize) -> usize {
        match open.slots.last() {
            Some(slot) if open.is_fresh() => slot.word.start,
            _ => self.pieces.range(at).start,
        }
    }

    /// The open slot needs nothing more.
    pub(crate) fn fill(&self, open: &mut Open) {
        if open.is_fresh()
            && let Some(slot) = open.slot()
        {
            slot.filled = true;
        }
    }

    /// `pH 7`, and `pH to 7`
    pub(crate) fn ph(&mut self, open: &mut Open) -> bool {
        let at = self.at + 1 + usize::from(self.pieces.is(self.at + 1, "to"));
        let Some(&Tok::Bare(number, _)) = self.pieces.get(at) else {
            return false;
        };
        let start = self.slot_start(open, self.at);
        let range = start..self.pieces.range(at).end;
        self.push(open, ModifierKind::Ph(number), range);
        self.fill(open);
        self.at = at + 1;
        true
    }

    /// `found 0.78 M`
    pub(crate) fn found(&mut self, open: &mut Open) -> bool {
        let Some(Tok::Quantity { times: 1, quantity }) = self.pieces.get(self.at + 1) else {
            return false;
        };
        if strength_form(quantity.unit.dimension).is_none() {
            return false;
        }
        let kind = ModifierKind::Found(**quantity);
        self.push(
            open,
            kind,
            self.pieces.range(self.at).start..self.pieces.range(self.at + 1).end,
        );
        self.at += 2;
        true
    }

    /// `last step`, `last 2 steps`
    pub(crate) fn last_steps(&mut self, open: &mut Open) -> bool {
        let mut next = self.at + 1;
        let mut count = Some(1);
        if let Some(Tok::Bare(number, false)) = self.pieces.get(next) {
            count = u32::try_from(number.value).ok().filter(|count| *count > 0);
            next += 1;
        } else if let Some(found) = self.pieces.known(next).number {
            count = Some(found);
            next += 1;
        }
        let (true, Some(count)) = (
            self.pieces.is(next, "step") || self.pieces.is(next, "steps"),
            count,
        ) else {
            return false;
        };
        let range = self.pieces.range(self.at).start..self.pieces.range(next).end;
        self.push(open, ModifierKind::LastSteps(count), range);
        self.at = next + 1;
        true
    }

    pub(crate) fn count(&mut self, open: &mut Open, kind: CountKind, count: u32) {
        let start = if open.prep() == Some(Prep::In) {
            self.slot_start(open, self.at)
        } else {
            self.pieces.range(self.at).start
        };
        self.push(
            open,
            ModifierKind::Count(kind, count),
            start..self.pieces.range(self.at).end,
        );
        let portions = open.prep() == Some(Prep::In) && kind == CountKind::Portions;
        if open.prep() == Some(Prep::In) {
            self.fill(open);
        }
        self.at += 1;
        // `in 3 portions of 0.5 g` is three times that.
        if portions
            && self.pieces.is(self.at, "of")
            && let Some(Tok::Quantity { times: 1, quantity }) = self.pieces.get(self.at + 1)
            && let Some(kind) = amount_kind(quantity.unit.dimension)
        {
            let amount = Amount {
                kind,
                quantity: Some(**quantity),
                of: None,
                span: quantity.span,
            };
            self.at += 1;
            self.portion(open, count, amount);
        }
    }

    /// Words that are a value and no thing: `rt`, `reflux`, `dryness`, `ice bath`, `bath 95 °C`.
    pub(crate) fn value_word(
        &mut self,
        open: &mut Open,
        run: &Range<usize>,
        range: &Range<usize>,
    ) -> bool {
        let last = run.end - 1;
        let text = self.pieces.spaced(range.clone());
        let is = |list: &[&str]| words::is_one_of(&text, list);
        let fresh = open.is_fresh();
        let start = self.slot_start(open, run.start);
        let whole = start..range.end;
        let span = self.pieces.span(range.clone());
        if self.pieces.is(last, "bath")
            && let Some(Tok::Quantity { times: 1, quantity }) = self.pieces.get(self.at)
            && quantity.unit.dimension == Dimension::Temperature
        {
            let kind = ModifierKind::Temperature(
                TemperatureKind::Bath,
                TemperatureValue::Quantity(**quantity),
            );
            self.push(open, kind, start..self.pieces.range(self.at).end);
            self.fill(open);
            self.at += 1;
            return true;
        }
        if fresh && matches!(open.prep(), Some(Prep::To | Prep::At | Prep::From)) {
            let kind = match open.prep() {
                Some(Prep::To) => TemperatureKind::To,
                Some(Prep::From) => TemperatureKind::From,
                _ => TemperatureKind::At,
            };
            let kind = if is(ROOM) {
                ModifierKind::Temperature(kind, TemperatureValue::Room(span))
            } else if is(&["reflux", "gentle reflux", "vigorous reflux"]) {
                ModifierKind::Temperature(kind, TemperatureValue::Reflux(span))
            } else if is(&[
                "dryness",
                "constant mass",
                "constant weight",
                "constant volume",
            ]) {
                ModifierKind::End(self.pieces.source.words(range.clone()))
            } else {
                return false;
            };
            self.push(open, kind, whole);
            self.fill(open);
            return true;
        }
        // `cool to 0 °C, ice bath`: a place, wherever it stands but in a slot that it fills itself.
        if open.pending.is_empty()
            && !fresh
            && self.pieces.known(last).is(Use::Place)
            && !(open.parted && words::is_gas(&text))
        {
            let thing = Thing {
                name: self.pieces.source.words(range.clone()),
                referent: Referent::Place,
                adjective: None,
                portions: Vec::new(),
            };
            self.push(open, ModifierKind::Place(Box::new(thing)), range.clone());
            return true;
        }
        if !fresh && is(&["rt", "room temperature"]) {
            self.push(
                open,
                ModifierKind::Temperature(TemperatureKind::At, TemperatureValue::Room(span)),
                range.clone(),
            );
            return true;
        }
        false
    }
}
