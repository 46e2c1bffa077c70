//! A clause that is complete: every slot gets its meaning.

use crate::ast::{
    Clause, Modifier, ModifierKind, Portion, PortionKind, Referent, Sense, Span, TemperatureKind,
    TemperatureValue, Text, Thing, Verb,
};
use crate::keys::Keys;
use crate::lexer::Tok;
use crate::number::Quantity;
use crate::plan_text::{KeyKind, Problem};
use crate::problem::quoted;
use crate::resolve::senses;
use crate::step::{Draft, Open, StepReader};
use crate::words::{self, Prep};
use rust_decimal::Decimal;
use std::borrow::Cow;
use std::ops::Range;

/// `adjust to pH 9` asks for base, and below for acid.
const NEUTRAL: Decimal = Decimal::from_parts(7, 0, 0, false, 0);

impl StepReader<'_, '_> {
    /// Gives every slot its meaning.
    pub(crate) fn finish(
        &mut self,
        mut open: Open,
        verb_at: Range<usize>,
        text: Option<Text>,
    ) -> Clause {
        let mut objects = Vec::new();
        let dries = open
            .slots
            .iter()
            .any(|slot| slot.prep == Some(Prep::Over) && !slot.things.is_empty());
        let (verb, end) = (open.verb, open.end);
        let word = self.pieces.source.str(verb_at.clone());
        let (partitions, lights) = match verb {
            Verb::Dilute => (word.eq_ignore_ascii_case("partition"), false),
            Verb::Stir => (false, word.eq_ignore_ascii_case("irradiate")),
            _ => (false, false),
        };
        let Open {
            slots, modifiers, ..
        } = &mut open;
        for slot in slots {
            let Some(prep) = slot.prep else {
                objects.reserve_exact(slot.things.len());
                for mut draft in slot.things.drain(..) {
                    // `make up 0.5 M salt in thf 10 mL`: what the solution comes to.
                    if verb == Verb::MakeUp
                        && draft.run.len() == 2
                        && self.pieces.key(draft.run.start + 1).is_some()
                        && let Some(Tok::Quantity { quantity, .. }) =
                            self.pieces.get(draft.run.start)
                    {
                        modifiers.push(Modifier {
                            kind: ModifierKind::Until(**quantity),
                            span: quantity.span,
                        });
                        draft.run.start += 1;
                    }
                    let treated = word.eq_ignore_ascii_case("treat") && self.is_mixture(&draft);
                    if !treated && !self.is_held(&draft, verb) {
                        self.resolve(draft, None, verb, &mut objects);
                    }
                }
                continue;
            };
            if slot.things.is_empty() {
                if !slot.filled {
                    self.incomplete(slot.word.clone());
                    let kind = empty_kind(Some(prep), self.pieces.source.words(slot.word.clone()));
                    modifiers.push(Modifier {
                        kind,
                        span: self.pieces.span(slot.word.clone()),
                    });
                }
                continue;
            }
            let span = self.pieces.span(slot.word.start..slot.end);
            if let Some(thing) = self.vacuum(prep, &slot.things) {
                modifiers.push(Modifier {
                    kind: ModifierKind::Under(vec![thing]),
                    span,
                });
                continue;
            }
            // `add base to the mixture`: the vessel that the step is about anyway.
            if let (Prep::To, [draft]) = (prep, slot.things.as_slice())
                && self.is_mixture_or_rest(draft)
            {
                continue;
            }
            // Between two liquids is with both, and no lamp comes into the flask.
            let prep = match prep {
                Prep::Between if partitions => Prep::With,
                Prep::With if lights => Prep::Other,
                prep => prep,
            };
            let mut things = Vec::with_capacity(slot.things.len());
            for draft in slot.things.drain(..) {
                self.resolve(draft, Some(prep), verb, &mut things);
            }
            if prep == Prep::In {
                let (places, liquids): (Vec<_>, Vec<_>) =
                    things.into_iter().partition(|thing| self.is_place(thing));
                modifiers.extend(places.into_iter().map(|thing| Modifier {
                    kind: ModifierKind::Place(Box::new(thing)),
                    span,
                }));
                if !liquids.is_empty() {
                    modifiers.push(Modifier {
                        kind: ModifierKind::DissolvedIn(liquids),
                        span,
                    });
                }
                continue;
            }
            let word = slot.word.clone();
            modifiers.push(Modifier {
                kind: thing_kind(prep, || self.pieces.source.words(word), things),
                span,
            });
        }
        modifiers.sort_by_key(|modifier| modifier.span.start);
        // The vector that they were read in serves the next clause.
        let mut exact = Vec::with_capacity(modifiers.len());
        exact.append(modifiers);
        let mut clause = Clause {
            verb,
            verb_span: self.pieces.span(verb_at.clone()),
            span: self.pieces.span(verb_at.start..end.max(verb_at.end)),
            senses: Vec::new(),
            objects,
            modifiers: exact,
            text,
        };
        self.scratch.keep(open);
        charge(&mut clause, self.pieces.keys);
        let is_adjusted = word.eq_ignore_ascii_case("adjust");
        let is_basic = |modifier: &Modifier| match modifier.kind {
            ModifierKind::Ph(number) => number.value > NEUTRAL,
            _ => false,
        };
        if is_adjusted && clause.modifiers.iter().any(is_basic) {
            clause.verb = Verb::Basify;
        }
        self.meaning(&mut clause, &verb_at);
        let own = senses(&clause, self.pieces.keys, dries);
        clause.senses.extend(own);
        clause
    }

    /// Whether a draft is what the vessel holds, as in `stir the reaction mixture`, which says nothing; but what
    /// is moved has to be named.
    fn is_held(&self, draft: &Draft, verb: Verb) -> bool {
        let moves = matches!(
            verb,
            Verb::Add
                | Verb::Charge
                | Verb::Combine
                | Verb::Decant
                | Verb::Discard
                | Verb::Dissolve
                | Verb::Keep
                | Verb::Place
                | Verb::Remove
                | Verb::Titrate
        );
        let parts = verb == Verb::Separate
            && words::is_one_of(&self.draft_text(draft), &["layers", "phases"]);
        parts || !moves && self.is_mixture(draft)
    }

    fn is_mixture(&self, draft: &Draft) -> bool {
        draft.portions.is_empty() && self.is_mixture_or_rest(draft)
    }

    /// `the remaining mixture` is all that the vessel holds, too.
    fn is_mixture_or_rest(&self, draft: &Draft) -> bool {
        let rest = |portion: &Portion| portion.kind == PortionKind::Rest;
        draft.kind.is_none()
            && draft.portions.iter().all(rest)
            && draft.mixture.is_none()
            && draft.of.is_none()
            && words::is_mixture(&self.draft_text(draft))
    }

    fn draft_text(&self, draft: &Draft) -> Cow<'_, str> {
        let last = draft.run.end.saturating_sub(1);
        let range = self.pieces.range(draft.run.start).start..self.pieces.range(last).end;
        self.pieces.spaced(range)
    }

    /// `in vacuo`, `on high vac`: under vacuum.
    fn vacuum(&self, prep: Prep, things: &[Draft]) -> Option<Thing> {
        let [draft] = things else { return None };
        if !matches!(prep, Prep::In | Prep::On | Prep::Under) || draft.kind.is_some() {
            return None;
        }
        let text = words::vacuum(&self.draft_text(draft))?;
        let last = draft.run.end.saturating_sub(1);
        let range = self.pieces.range(draft.run.start).start..self.pieces.range(last).end;
        Some(Thing {
            name: Text {
                text: text.into(),
                span: self.pieces.span(range),
            },
            referent: Referent::Value,
            adjective: None,
            portions: draft.portions.clone(),
        })
    }

    /// Verbs of several meanings, of which the things of the clause choose one.
    fn meaning(&self, clause: &mut Clause, verb_at: &Range<usize>) {
        let word = self.pieces.source.str(verb_at.clone());
        let is_gas = |thing: &Thing| {
            matches!(thing.referent, Referent::Gas { .. }) || words::is_gas(&thing.name.text)
        };
        let is_substance = |thing: &Thing| match thing.referent {
            Referent::Key(_) => !self.is_place(thing),
            Referent::Substance(_)
            | Referent::Mixture(_)
            | Referent::Standing(..)
            | Referent::Kept(_) => true,
            _ => false,
        };
        match clause.verb {
            // With a gas it is a purge, with a liquid a rinse.
            Verb::Rinse if word.eq_ignore_ascii_case("flush") => {
                let gas = clause
                    .modifiers
                    .iter()
                    .any(|modifier| match &modifier.kind {
                        ModifierKind::With(things) | ModifierKind::Under(things) => {
                            things.iter().any(is_gas)
                        }
                        _ => false,
                    });
                if gas {
                    clause.verb = Verb::Purge;
                }
            }
            // `bubble argon through flask` is `sparge flask with argon`.
            Verb::Sparge | Verb::Purge if clause.objects.iter().any(is_gas) => {
                let objects = std::mem::take(&mut clause.objects);
                let (gases, rest): (Vec<_>, Vec<_>) = objects.into_iter().partition(is_gas);
                clause.objects = rest;
                let mut kept = Vec::with_capacity(clause.modifiers.len());
                for modifier in std::mem::take(&mut clause.modifiers) {
                    match modifier.kind {
                        ModifierKind::Through(things)
                        | ModifierKind::To(things)
                        | ModifierKind::DissolvedIn(things) => clause.objects.extend(
                            things
                                .into_iter()
                                .filter(|thing| matches!(thing.referent, Referent::Key(_))),
                        ),
                        ModifierKind::Place(thing) => clause.objects.push(*thing),
                        kind => kept.push(Modifier { kind, ..modifier }),
                    }
                }
                clause.modifiers = kept;
                if let Some(span) = gases.first().map(|thing| thing.name.span) {
                    clause.modifiers.push(Modifier {
                        kind: ModifierKind::With(gases),
                        span,
                    });
                }
                clause.modifiers.sort_by_key(|modifier| modifier.span.start);
            }
            Verb::Warm
                if word
                    .get(..5)
                    .is_some_and(|word| word.eq_ignore_ascii_case("bring")) =>
            {
                clause.verb = brought(clause);
            }
            Verb::Stir if word.eq_ignore_ascii_case("hydrogenate") => {
                let named = clause
                    .modifiers
                    .iter()
                    .flat_map(|modifier| modifier.kind.things())
                    .any(is_hydrogen);
                if !named {
                    let end = clause.verb_span.end;
                    let span = Span { start: end, end };
                    let kind = ModifierKind::Under(vec![gas_named("hydrogen", span)]);
                    clause.modifiers.insert(0, Modifier { kind, span });
                }
            }
            // `combine ketone, salt, thf 10 mL` brings them together, and `combine organics` what is there.
            Verb::Combine
                if clause.objects.iter().any(|thing| self.is_material(thing))
                    || clause
                        .objects
                        .iter()
                        .all(|thing| self.is_from_a_bottle(thing)) =>
            {
                clause.verb = Verb::Add;
            }
            // `weigh salt into flask`
            Verb::Weigh
                if clause
                    .objects
                    .iter()
                    .any(|thing| self.is_from_a_bottle(thing))
                    && self.is_into_a_vessel(clause) =>
            {
                clause.verb = Verb::Add;
                clause.senses.push(Sense::Weighed);
            }
            // What is taken of a line comes from its bottle.
            Verb::Remove
                if word.eq_ignore_ascii_case("take")
                    && clause.objects.iter().any(|thing| self.is_material(thing)) =>
            {
                clause.verb = match self.is_into_a_vessel(clause) {
                    true => Verb::Add,
                    false => Verb::Weigh,
                };
            }
            // A balloon of hydrogen on the flask; one of argon says nothing of the air in it.
            Verb::Attach => {
                let span = clause.span;
                let gases = clause.objects.iter().filter_map(|thing| {
                    let name = &*thing.name.text;
                    let gas = words::gas_of(name).or_else(|| words::is_gas(name).then_some(name));
                    let gas = gas.filter(|gas| !words::is_inert(gas))?;
                    Some(gas_named(gas, thing.name.span))
                });
                let gases: Vec<Thing> = gases.collect();
                if !gases.is_empty() {
                    let kind = ModifierKind::Under(gases);
                    clause.modifiers.push(Modifier { kind, span });
                    clause.modifiers.sort_by_key(|modifier| modifier.span.start);
                }
            }
            // `fill funnel with thf 10 mL`
            Verb::Fill if self.fills(clause) => {
                clause.verb = Verb::Charge;
                charge(clause, self.pieces.keys);
            }
            // What is treated stands there already; only what it is treated with comes in.
            Verb::Charge if word.eq_ignore_ascii_case("treat") => clause.verb = Verb::Stir,
            // `keep in the freezer overnight`; `keep filtrate` names what is not thrown away.
            Verb::Keep if self.stands_somewhere(clause) => clause.verb = Verb::Hold,
            Verb::Place if clause.objects.iter().any(is_substance) => clause.verb = Verb::Add,
            // A flask that is taken from its bath keeps what it holds.
            Verb::Remove if clause.objects.iter().any(is_substance) => {
                clause.verb = Verb::Separate;
            }
            _ => {}
        }
    }

    /// A line of the materials, or so much of a substance that the work-up does not make.
    pub(crate) fn is_from_a_bottle(&self, thing: &Thing) -> bool {
        const WORKED_UP: &[&str] = &[
            "extracts",
            "fractions",
            "layers",
            "phases",
            "washings",
            "washes",
            "filtrates",
            "organics",
            "solutions",
            "residues",
            "crops",
        ];
        let last = thing.name.text.rsplit(' ').next().unwrap_or_default();
        let named = matches!(thing.referent, Referent::Substance(_)) && !thing.portions.is_empty();
        self.is_material(thing) || named && !words::is_one_of(last, WORKED_UP)
    }

    fn is_into_a_vessel(&self, clause: &Clause) -> bool {
        let holds = |thing: &Thing| match thing.referent {
            Referent::Key(id) => matches!(
                self.pieces.keys.kind(id),
                Some(KeyKind::Vessel | KeyKind::Holder)
            ),
            _ => thing.referent == Referent::Unknown && words::ends_in_vessel(&thing.name.text),
        };
        clause
            .modifiers
            .iter()
            .any(|modifier| match &modifier.kind {
                ModifierKind::To(things) => things.iter().any(holds),
                ModifierKind::Place(thing) => holds(thing),
                _ => false,
            })
    }

    /// Whether a vessel is left in a place, or for a time.
    fn stands_somewhere(&self, clause: &Clause) -> bool {
        let mut kinds = clause.modifiers.iter().map(|modifier| &modifier.kind);
        kinds.any(|kind| match kind {
            ModifierKind::Place(thing) => thing.referent == Referent::Place,
            ModifierKind::Time(..) => true,
            _ => false,
        }) && clause.objects.iter().all(|thing| match thing.referent {
            Referent::Key(_) => self.is_place(thing),
            _ => false,
        })
    }

    fn is_material(&self, thing: &Thing) -> bool {
        match thing.referent {
            Referent::Key(id) => self.pieces.keys.kind(id) == Some(KeyKind::Material),
            _ => false,
        }
    }

    /// Whether a vessel is filled with what is no gas.
    fn fills(&self, clause: &Clause) -> bool {
        let holds = |thing: &Thing| match thing.referent {
            Referent::Key(id) => matches!(
                self.pieces.keys.kind(id),
                Some(KeyKind::Vessel | KeyKind::Holder)
            ),
            _ => thing.referent == Referent::Unknown,
        };
        let with = clause
            .modifiers
            .iter()
            .flat_map(|modifier| match &modifier.kind {
                ModifierKind::With(things) => things.as_slice(),
                _ => &[],
            });
        let mut with = with.peekable();
        with.peek().is_some()
            && with.all(|thing| self.is_material(thing) || !thing.portions.is_empty())
            && clause.objects.iter().all(holds)
    }

    pub(crate) fn is_place(&self, thing: &Thing) -> bool {
        match thing.referent {
            Referent::Key(id) => {
                matches!(
                    self.pieces.keys.kind(id),
                    Some(KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool)
                )
            }
            Referent::Place => true,
            Referent::Unknown => words::ends_in_vessel(&thing.name.text),
            _ => false,
        }
    }

    pub(crate) fn incomplete(&mut self, range: Range<usize>) {
        let word = quoted(self.pieces.source.str(range.clone()));
        let message = format!("Something is missing after {word}.");
        self.problems
            .push(Problem::new("incomplete", self.pieces.span(range), message));
    }
}

fn gas_named(gas: &str, span: Span) -> Thing {
    Thing {
        name: Text {
            text: gas.into(),
            span,
        },
        referent: Referent::Gas { flowing: false },
        adjective: None,
        portions: Vec::new(),
    }
}

fn is_hydrogen(thing: &Thing) -> bool {
    words::is_one_of(&thing.name.text, &["hydrogen", "H2"])
}

/// What `bring` does: `bring to pH 9`, `bring to 0 °C`, `bring to rt`, `bring into the glovebox`.
fn brought(clause: &Clause) -> Verb {
    // Below the temperature of the room it is cooled, whatever it was before.
    const COOL: Decimal = Decimal::from_parts(15, 0, 0, false, 0);
    let mut kinds = clause.modifiers.iter().map(|modifier| &modifier.kind);
    let found = kinds.find_map(|kind| match kind {
        ModifierKind::Ph(number) if number.value > NEUTRAL => Some(Verb::Basify),
        ModifierKind::Ph(_) => Some(Verb::Acidify),
        ModifierKind::Temperature(
            TemperatureKind::To,
            TemperatureValue::Quantity(Quantity { number, unit, .. }),
        ) if unit.symbol != "K" && number.value < COOL => Some(Verb::Cool),
        ModifierKind::Temperature(..) => Some(Verb::Warm),
        ModifierKind::To(_) | ModifierKind::Place(_) => Some(Verb::Place),
        ModifierKind::Until(_) => Some(Verb::Dilute),
        _ => None,
    });
    found.unwrap_or(Verb::Warm)
}

/// A preposition with nothing after it.
pub(crate) fn empty_kind(prep: Option<Prep>, word: Text) -> ModifierKind {
    match prep {
        Some(Prep::In) => ModifierKind::DissolvedIn(Vec::new()),
        Some(prep) => thing_kind(prep, || word, Vec::new()),
        None => ModifierKind::Other(word, Vec::new()),
    }
}

pub(crate) fn thing_kind(
    prep: Prep,
    word: impl FnOnce() -> Text,
    things: Vec<Thing>,
) -> ModifierKind {
    match prep {
        Prep::To => ModifierKind::To(things),
        Prep::From => ModifierKind::From(things),
        Prep::With => ModifierKind::With(things),
        Prep::Without => ModifierKind::Without(things),
        Prep::Over if !things.is_empty() => ModifierKind::OverAgent(things),
        Prep::On => ModifierKind::On(things),
        Prep::Through => ModifierKind::Through(things),
        Prep::Under => ModifierKind::Under(things),
        Prep::Via => ModifierKind::Via(things),
        _ => ModifierKind::Other(word(), things),
    }
}

/// `charge flask with salt` is `add salt to flask`.
pub(crate) fn charge(clause: &mut Clause, keys: &Keys) {
    let holds = |thing: &Thing| match thing.referent {
        Referent::Key(id) => matches!(keys.kind(id), Some(KeyKind::Vessel | KeyKind::Holder)),
        _ => false,
    };
    if clause.verb != Verb::Charge || clause.objects.is_empty() || !clause.objects.iter().all(holds)
    {
        return;
    }
    let with = clause.modifiers.iter_mut().find(
        |modifier| matches!(&modifier.kind, ModifierKind::With(things) if !things.is_empty()),
    );
    if let Some(modifier) = with
        && let ModifierKind::With(things) =
            std::mem::replace(&mut modifier.kind, ModifierKind::To(Vec::new()))
    {
        modifier.kind = ModifierKind::To(std::mem::replace(&mut clause.objects, things));
        clause.verb = Verb::Add;
    }
}
