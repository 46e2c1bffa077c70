//! What the words of a step mean, now that all keys are known.

use crate::ast::{Clause, KeyId, ModifierKind, Referent, Sense, Standing, Text, Thing, Verb};
use crate::fold::Source;
use crate::keys::Keys;
use crate::lexer::{Pieces, Tok};
use crate::plan_text::{KeyKind, Problem};
use crate::problem::quoted;
use crate::step::{Draft, StepReader};
use crate::strength::{leading_strength, strength_form};
use crate::vocabulary::{Use, known};
use crate::words::{self, Prep};
use std::ops::Range;

/// A word that should be a key and is none, with the nearest keys of a kind that fits.
pub(crate) fn unknown_key(
    source: &Source<'_>,
    range: Range<usize>,
    keys: &Keys,
    fits: impl Fn(KeyKind) -> bool,
) -> Problem {
    let word = source.str(range.clone());
    let span = source.span(range);
    let first = word.split(' ').next().unwrap_or_default();
    if words::verb(first).is_some() {
        let message = format!(
            "`{first}` is a verb: begin a clause with it after a comma, or a line of its own."
        );
        return Problem::new("unknown-key", span, message);
    }
    if word.contains(',') && word.split(',').all(|part| keys.find(part).is_some()) {
        let spaced = word.split(',').collect::<Vec<_>>().join(", ");
        let message = format!("A space follows a comma between keys: `{spaced}`.");
        return Problem::new("unknown-key", span, message).mend(
            format!("Write {spaced}"),
            span,
            spaced,
        );
    }
    // `dropping funnel` says what the line `funnel` is; another line may say the same, so it is only offered.
    // One word, as `flask`, says too little.
    let described = Some(word)
        .filter(|word| word.contains(' '))
        .and_then(|word| keys.find_tool(word))
        .and_then(|id| keys.get(id));
    let nearest = match described.filter(|key| fits(key.kind)) {
        Some(key) => vec![&*key.name.text],
        None => keys.nearest(word, fits),
    };
    // `the flask is flushed`
    let sentence = |word: &str| known(word).is(Use::Remark);
    if word.contains(' ') && nearest.is_empty() && word.split(' ').any(sentence) {
        return Problem::new("unknown-key", span, not_read(word));
    }
    let mut message = format!("{} is not a key of this plan", quoted(word));
    match nearest.first() {
        Some(other) => message.push_str(&format!(": did you mean `{other}`?")),
        None if word.contains(' ') => message.push_str(
            ": declare it in a block, or check its spelling; a remark stands on a line of its own that begins with `note`.",
        ),
        None => message.push_str(": declare it in a block, or check its spelling."),
    }
    let mut problem = Problem::new("unknown-key", span, message);
    for other in nearest {
        problem = problem.mend(format!("Write {other}"), span, other);
    }
    problem
}

/// A vessel of unknown size, of which the simulation has only the name.
pub(crate) fn unlisted_vessel(source: &Source<'_>, range: Range<usize>) -> Problem {
    let text = source.str(range.clone());
    let head = text.rsplit(' ').next().unwrap_or_default();
    let another = words::is_another(text) && head.eq_ignore_ascii_case("flask");
    let (number, size) = if another { ("2", 50) } else { ("", 20) };
    let message = format!(
        "{} has no line, so how full it gets is not told: list it with its size, as in `{head}{number}: {size} mL {head}`.",
        quoted(text)
    );
    Problem::new("unlisted-vessel", source.span(range), message)
}

/// Of a sentence where a thing should be.
pub(crate) fn not_read(words: &str) -> String {
    format!(
        "{} is not read: what is to be done is a step that begins with its verb, and a remark is a line that begins with `note`.",
        quoted(words)
    )
}

/// What is done with glass, whatever stands in the reaction vessel.
fn handles_glass(verb: Verb) -> bool {
    matches!(
        verb,
        Verb::Wash
            | Verb::Rinse
            | Verb::Drain
            | Verb::AirDry
            | Verb::Dry
            | Verb::FlameDry
            | Verb::Bake
            | Verb::Assemble
    )
}

/// Whether a key is equipment.
fn is_equipment(kind: KeyKind) -> bool {
    matches!(kind, KeyKind::Vessel | KeyKind::Holder | KeyKind::Tool)
}

impl Pieces<'_> {
    /// `at once`
    pub(crate) fn is_once(&self, at: usize) -> bool {
        matches!(
            self.get(at),
            Some(Tok::Count(crate::ast::CountKind::Times, 1))
        ) && self.source.str(self.range(at)).eq_ignore_ascii_case("once")
    }

    pub(crate) fn is_adjective(&self, at: usize) -> bool {
        self.known(at).is(Use::Adjective)
    }

    fn text_range(&self, run: &Range<usize>) -> Range<usize> {
        self.range(run.start).start..self.range(run.end.saturating_sub(1)).end
    }
}

impl StepReader<'_, '_> {
    /// The key that a word names, for `of KEY`.
    pub(crate) fn key_reference(&mut self, at: usize) -> (Text, Option<KeyId>) {
        let range = self.pieces.range(at);
        let found = self.pieces.key(at);
        if found.is_none() {
            self.problems.push(unknown_key(
                self.pieces.source,
                range.clone(),
                self.pieces.keys,
                |_| true,
            ));
        }
        (self.pieces.source.words(range), found)
    }

    /// Adds the meaning of a draft: one thing, or several where keys stand side by side.
    pub(crate) fn resolve(
        &mut self,
        draft: Draft,
        prep: Option<Prep>,
        verb: Verb,
        things: &mut Vec<Thing>,
    ) {
        let run = draft.run.clone();
        if let Some(parts) = draft.mixture {
            let name = self.pieces.source.words(self.pieces.text_range(&run));
            return things.push(Thing {
                name,
                referent: Referent::Mixture(parts),
                adjective: None,
                portions: draft.portions,
            });
        }
        if prep == Some(Prep::Via) {
            let range = self.pieces.text_range(&run);
            let name = self.pieces.source.words(range);
            let referent = self
                .pieces
                .keys
                .find_tool(&name.text)
                .map_or(Referent::Words, Referent::Key);
            return things.push(Thing {
                name,
                referent,
                adjective: None,
                portions: draft.portions,
            });
        }
        let mut start = run.start;
        while start + 1 < run.end && self.pieces.is_adjective(start) {
            start += 1;
        }
        if let Some((id, whose)) = self.contents_of(&run) {
            return things.push(Thing {
                name: self.pieces.source.words(whose),
                referent: Referent::Key(id),
                adjective: None,
                portions: draft.portions,
            });
        }
        if prep.is_none()
            && let Some((at, solution)) = self.solution_of(&draft)
            && let Some(id) = self.pieces.key(at)
        {
            return things.push(Thing {
                name: self.pieces.source.words(self.pieces.range(at)),
                referent: Referent::Key(id),
                adjective: self.adjective(&(solution..solution + 1)),
                portions: draft.portions,
            });
        }
        // `another flask` is not the flask.
        let other = (run.start..start)
            .any(|at| words::is_one_of(self.pieces.word(at), words::MORE))
            && self
                .pieces
                .key(start)
                .and_then(|id| self.pieces.keys.kind(id))
                .is_some_and(is_equipment);
        if start + 1 == run.end
            && !other
            && let Some(referent) = self.known(start, &draft, prep, verb)
        {
            let adjective = self.adjective(&(run.start..start));
            let name = self.pieces.source.words(self.pieces.range(start));
            return things.push(Thing {
                name,
                referent,
                adjective,
                portions: draft.portions,
            });
        }
        // `aqueous layer`
        if start + 2 == run.end
            && words::is_one_of(
                self.pieces.word(start + 1),
                &["layer", "layers", "phase", "phases"],
            )
            && let Some(standing) = layer(self.pieces.word(start), verb)
        {
            let adjective = self.adjective(&(run.start..start));
            let name = self
                .pieces
                .source
                .words(self.pieces.text_range(&(start..run.end)));
            return things.push(Thing {
                name,
                referent: Referent::Standing(standing, None),
                adjective,
                portions: draft.portions,
            });
        }
        if !self.side_by_side(&draft, prep, verb, things) {
            things.push(self.substance_or_words(draft, prep, verb));
        }
    }

    /// `ketone solution`, `the solution of ketone`: where the key stands, and where the word for what it is in.
    fn solution_of(&self, draft: &Draft) -> Option<(usize, usize)> {
        let is_solution = |at| words::is_one_of(self.pieces.word(at), words::SOLUTIONS);
        let at = draft.run.start;
        let id = self.pieces.key(at)?;
        let solution = match draft.run.len() {
            1 => at.checked_sub(2).filter(|_| self.pieces.is(at - 1, "of"))?,
            2 => at + 1,
            _ => return None,
        };
        let substance = self.pieces.keys.kind(id) == Some(KeyKind::Material);
        (substance && is_solution(solution)).then_some((at, solution))
    }

    /// `flask's contents`: the vessel, and its word.
    fn contents_of(&self, run: &Range<usize>) -> Option<(KeyId, Range<usize>)> {
        if run.len() != 2 || !self.pieces.is(run.start + 1, "contents") {
            return None;
        }
        let whose = self.pieces.word(run.start).strip_suffix("'s")?;
        let id = self.pieces.keys.find(whose)?;
        let start = self.pieces.range(run.start).start;
        let holds = matches!(
            self.pieces.keys.kind(id),
            Some(KeyKind::Vessel | KeyKind::Holder)
        );
        holds.then(|| (id, start..start + whose.len()))
    }

    fn adjective(&self, run: &Range<usize>) -> Option<Text> {
        (!run.is_empty()).then(|| self.pieces.source.words(self.pieces.text_range(run)))
    }

    /// A key or a standing name.
    fn known(
        &mut self,
        at: usize,
        draft: &Draft,
        prep: Option<Prep>,
        verb: Verb,
    ) -> Option<Referent> {
        if let Some(id) = self.pieces.key(at) {
            return match self.pieces.keys.kind(id) {
                // What the reaction gives off is no bottle to pour from.
                Some(KeyKind::ByProduct) if brings_in(prep, verb) => None,
                Some(KeyKind::Kept) => Some(Referent::Kept(id)),
                _ => Some(Referent::Key(id)),
            };
        }
        let standing = self.pieces.known(at).standing?;
        let vessel = draft.of.and_then(|of| {
            let (_, found) = self.key_reference(of);
            found
        });
        Some(Referent::Standing(standing, vessel))
    }

    /// `salt base`: keys without the comma between them. False where they are something else.
    fn side_by_side(
        &mut self,
        draft: &Draft,
        prep: Option<Prep>,
        verb: Verb,
        things: &mut Vec<Thing>,
    ) -> bool {
        let run = draft.run.clone();
        if run.len() < 2 || !run.clone().all(|at| self.pieces.key(at).is_some()) {
            return false;
        }
        for at in run.clone() {
            let range = self.pieces.range(at);
            if at > run.start {
                let gap = self.pieces.range(at - 1).end;
                let span = self.pieces.span(gap..gap);
                let message = "A comma is missing between these keys.";
                self.problems
                    .push(Problem::new("missing-comma", span, message).mend(
                        "Insert the comma",
                        span,
                        ",",
                    ));
            }
            let referent = self
                .known(at, draft, prep, verb)
                .unwrap_or(Referent::Substance(None));
            let portions = if at + 1 == run.end {
                draft.portions.clone()
            } else {
                Vec::new()
            };
            things.push(Thing {
                name: self.pieces.source.words(range),
                referent,
                adjective: None,
                portions,
            });
        }
        true
    }

    /// What is no key: a gas, a place, a substance by name, words, or unknown.
    fn substance_or_words(&mut self, mut draft: Draft, prep: Option<Prep>, verb: Verb) -> Thing {
        let source = self.pieces.source;
        let range = self.pieces.text_range(&draft.run);
        let spaced = self.pieces.spaced(range.clone());
        let text = &*spaced;
        // `in a 20 mL vial`: its size.
        if matches!(prep, Some(Prep::In | Prep::To)) && words::ends_in_vessel(text) {
            let start = self.pieces.span(range.clone()).start;
            draft.portions.retain(|portion| portion.span.start > start);
        }
        let last = self.pieces.word(draft.run.end.saturating_sub(1));
        let has_portion = !draft.portions.is_empty();
        let plain = |referent| Thing {
            name: source.words(range.clone()),
            referent,
            adjective: None,
            portions: Vec::new(),
        };
        let thing = |referent| Thing {
            portions: draft.portions.clone(),
            ..plain(referent)
        };
        let is_gas = words::is_gas(text);
        match prep {
            Some(Prep::Under) if is_gas => {
                return thing(Referent::Gas {
                    flowing: draft.flowing,
                });
            }
            // `under a hydrogen balloon`
            Some(Prep::Under) if let Some(gas) = words::gas_of(text) => {
                let mut thing = thing(Referent::Gas {
                    flowing: draft.flowing,
                });
                thing.name.text = gas.into();
                return thing;
            }
            Some(Prep::With) if is_gas && !has_portion => {
                return thing(Referent::Gas {
                    flowing: draft.flowing,
                });
            }
            None if is_gas && matches!(verb, Verb::Sparge | Verb::Purge) => {
                return thing(Referent::Gas { flowing: false });
            }
            Some(Prep::On) if !has_portion && words::is_support(text) => {
                return thing(Referent::Words);
            }
            // No vessel is a solvent.
            Some(Prep::In | Prep::From) if !has_portion && self.is_unlisted_vessel(text) => {
                return thing(match prep {
                    Some(Prep::In) if words::is_plain_tool(text) => Referent::Place,
                    Some(Prep::In) => Referent::Unknown,
                    _ => Referent::Words,
                });
            }
            None | Some(Prep::In | Prep::To | Prep::From)
                if !has_portion && self.pieces.keys.lacks_flask(text) =>
            {
                // Where something goes it is said how full it gets.
                if prep.is_some() {
                    self.unread(unlisted_vessel(source, range.clone()));
                }
                return thing(Referent::Unknown);
            }
            // `take a 0.1 mL sample`
            None if verb == Verb::Remove && words::is_one_of(last, words::SAMPLES) => {
                return thing(Referent::Words);
            }
            // A condenser is no substance, whether it has a line or not.
            None if matches!(verb, Verb::Remove | Verb::Attach) && !has_portion => {
                return thing(Referent::Words);
            }
            Some(Prep::With) if matches!(verb, Verb::Assemble | Verb::Attach) && !has_portion => {
                return thing(Referent::Words);
            }
            // `cool with ice`
            Some(Prep::With)
                if !has_portion
                    && (words::is_plain_tool(text)
                        || matches!(verb, Verb::Cool | Verb::Heat | Verb::Warm)
                        || self.is_removal(&draft.run)) =>
            {
                return thing(Referent::Words);
            }
            // `grind salt to fine powder`
            Some(Prep::To) if verb == Verb::Grind => return thing(Referent::Words),
            _ if draft.flowing => return thing(Referent::Gas { flowing: true }),
            Some(Prep::Under) if words::is_one_of(text, &["gentle reflux", "vigorous reflux"]) => {
                let mut thing = thing(Referent::Value);
                thing.name.text = "reflux".into();
                return thing;
            }
            Some(Prep::Under) => {
                let value = [
                    "vacuum",
                    "high vacuum",
                    "reduced pressure",
                    "reflux",
                    "static vacuum",
                    "dynamic vacuum",
                ];
                return thing(if words::is_one_of(text, &value) {
                    Referent::Value
                } else {
                    Referent::Words
                });
            }
            Some(Prep::With)
                if words::is_one_of(
                    last,
                    &[
                        "people",
                        "person",
                        "hands",
                        "hand",
                        "stirring",
                        "shaking",
                        "care",
                        "cooling",
                        "heating",
                        "warming",
                        "agitation",
                        "swirling",
                        "mixing",
                        "sonication",
                        "irradiation",
                        "light",
                        "lamp",
                        "lamps",
                        "led",
                        "leds",
                        "gun",
                        "mantle",
                        "exclusion",
                        "protection",
                        "ventilation",
                        "caution",
                    ],
                ) =>
            {
                return thing(Referent::Words);
            }
            _ => {}
        }
        if words::is_place(last) && !has_portion {
            return thing(Referent::Place);
        }
        // `with pentane, and siphon off what stays`: a sentence is no substance.
        if matches!(prep, Some(Prep::With | Prep::In | Prep::Over | Prep::On)) && !has_portion {
            // `bisphenol A` ends in no article.
            let inside = (draft.run.start + 1..draft.run.end).any(|at| {
                at + 1 < draft.run.end && self.is_article(at)
                    || words::is_one_of(self.pieces.word(at), &["off", "out", "away"])
            });
            let says = |at| self.pieces.known(at).is(Use::Remark);
            if inside || draft.run.len() > 1 && draft.run.clone().any(says) {
                let span = self.pieces.span(range.clone());
                self.unread(Problem::new("unknown-key", span, not_read(text)));
                return thing(Referent::Unknown);
            }
        }
        // `half of the mixture` is no substance.
        if has_portion && prep.is_none() && words::is_mixture(text) {
            if !matches!(verb, Verb::Add | Verb::Transfer | Verb::Pour | Verb::Decant) {
                return thing(Referent::Words);
            }
            let problem = self.unnamed_mixture(range.clone());
            self.unread(problem);
            return thing(Referent::Unknown);
        }
        // Of a funnel it says which.
        if matches!(prep, None | Some(Prep::In | Prep::To | Prep::From))
            && let Some(id) = self.pieces.keys.funnel(text)
        {
            return thing(Referent::Key(id));
        }
        let known_by_key = draft.run.len() == 1 && self.pieces.key(draft.run.start).is_some();
        // `rest of addition funnel`
        let is_vessel =
            matches!(prep, None | Some(Prep::In | Prep::To)) && words::ends_in_vessel(text);
        if has_portion && !is_vessel
            || known_by_key
            || prep == Some(Prep::To) && words::is_poured_onto(text)
            || !is_vessel
                && matches!(
                    prep,
                    Some(Prep::With | Prep::In | Prep::Over | Prep::On | Prep::From)
                )
        {
            return self.substance(draft);
        }
        if matches!(
            prep,
            Some(
                Prep::Through
                    | Prep::Without
                    | Prep::As
                    | Prep::At
                    | Prep::For
                    | Prep::Below
                    | Prep::Above
                    | Prep::Between
                    | Prep::Other
            )
        ) {
            return thing(Referent::Words);
        }
        if let Some(referent) = self.unlisted(&draft.run, text, prep, verb) {
            let vessel = draft.of.and_then(|of| self.pieces.key(of));
            return thing(match referent {
                Referent::Standing(standing, None) => Referent::Standing(standing, vessel),
                other => other,
            });
        }
        let problem = if words::is_mixture(text) {
            self.unnamed_mixture(range.clone())
        } else {
            unknown_key(source, range.clone(), self.pieces.keys, |kind| {
                prep != Some(Prep::To) || is_equipment(kind)
            })
        };
        self.unread(problem);
        thing(Referent::Unknown)
    }

    /// Reports what is not read, which was then no misplaced object either.
    fn unread(&mut self, problem: Problem) {
        self.problems
            .retain(|other| other.code != "object-after-modifier" || other.span != problem.span);
        self.problems.push(problem);
    }

    /// `azeotropic removal of water`
    fn is_removal(&self, run: &Range<usize>) -> bool {
        run.clone().any(|at| self.is_removed(at))
    }

    /// Whether what follows is what goes away.
    pub(crate) fn is_removed(&self, at: usize) -> bool {
        words::is_one_of(
            self.pieces.word(at),
            &["removal", "exclusion", "distillation"],
        )
    }

    /// What every hood has and what every work-up makes, where it cannot be a misspelt key or what a line describes.
    fn unlisted(
        &self,
        run: &Range<usize>,
        text: &str,
        prep: Option<Prep>,
        verb: Verb,
    ) -> Option<Referent> {
        let article = |article| text.strip_prefix(article);
        let text = ["a ", "an ", "the "]
            .into_iter()
            .find_map(article)
            .unwrap_or(text);
        let keys = self.pieces.keys;
        // What gas goes out through, and what is weighed in, whatever line describes it.
        if matches!(verb, Verb::Vent | Verb::Weigh)
            && prep == Some(Prep::To)
            && words::is_plain_tool(text)
        {
            return Some(Referent::Words);
        }
        if !matches!(prep, None | Some(Prep::To))
            || keys.find_tool(text).is_some()
            || keys.is_near(text)
        {
            return None;
        }
        if words::is_small_vessel(text) {
            return (!keys.lists_one(text)).then_some(Referent::Unknown);
        }
        if words::is_funnel(text) {
            // A vessel without a line: what is in it is followed.
            let held = prep.is_some()
                || matches!(verb, Verb::Add | Verb::Charge | Verb::Fill | Verb::Transfer);
            return (held || handles_glass(verb)).then_some(Referent::Unknown);
        }
        if prep.is_some() {
            return None;
        }
        let handled = handles_glass(verb) || matches!(verb, Verb::Add | Verb::Charge);
        if handled && words::is_plain_tool(text)
            || matches!(verb, Verb::Wash | Verb::Rinse) && words::is_filter(text)
        {
            return Some(Referent::Words);
        }
        let goes = match verb {
            Verb::Concentrate | Verb::Distil | Verb::Coevaporate => &[
                "solvent",
                "solvents",
                "volatiles",
                "excess solvent",
                "bulk solvent",
                "water",
            ][..],
            Verb::Filter => &[
                "drying agent",
                "desiccant",
                "molecular sieves",
                "sieves",
                "salts",
                "inorganic salts",
                "catalyst",
            ],
            Verb::Weigh => &[
                "product",
                "products",
                "crude product",
                "dry product",
                "dried product",
            ],
            _ => &[],
        };
        // `product` alone may be a key that is missing.
        let article = run
            .start
            .checked_sub(1)
            .is_some_and(|at| self.is_article(at));
        if words::is_one_of(text, goes) && (article || verb != Verb::Weigh) {
            return Some(Referent::Words);
        }
        words::work_up_name(text).map(|standing| Referent::Standing(standing, None))
    }

    /// A vessel or a tool by its word, no line of the equipment, and no slip of a key.
    fn is_unlisted_vessel(&self, text: &str) -> bool {
        (words::is_small_vessel(text) || words::is_funnel(text) || words::is_plain_tool(text))
            && !self.pieces.keys.lists_one(text)
            && !self.pieces.keys.is_near(text)
    }

    /// `transfer the mixture to funnel`: from which vessel, the step has to say.
    fn unnamed_mixture(&self, range: Range<usize>) -> Problem {
        const MOST_OFFERED: usize = 3;
        let span = self.pieces.span(range.clone());
        let message = format!(
            "Say where it comes from: write the vessel that holds it in place of {}.",
            quoted(self.pieces.source.str(range))
        );
        let keys = self.pieces.keys.list.iter();
        let vessels = keys.filter(|key| key.kind == KeyKind::Vessel);
        vessels.take(MOST_OFFERED).fold(
            Problem::new("unknown-key", span, message),
            |problem, key| {
                let name = &key.name.text;
                problem.mend(format!("Write {name}"), span, &**name)
            },
        )
    }

    /// A substance by name; its strength and the adjectives of its temperature are told from the name.
    fn substance(&mut self, draft: Draft) -> Thing {
        let source = self.pieces.source;
        let mut run = draft.run;
        let first = run.start;
        while run.len() > 1 && self.pieces.known(run.start).is(Use::Thermal) {
            let degree = self.pieces.known(run.start).is(Use::Degree);
            run.start += if degree && run.len() > 2 { 2 } else { 1 };
        }
        let adjective = self.adjective(&(first..run.start));
        let mut range = self.pieces.text_range(&run);
        let mut strength = None;
        if let Some((found, name)) = leading_strength(source, range.clone(), self.problems) {
            strength = Some(found);
            range = name;
        } else if run.len() > 1
            && let Some(Tok::Quantity { quantity, .. }) = self.pieces.get(run.end - 1)
            && let Some(form) = strength_form(quantity.unit.dimension)
        {
            strength = Some(crate::ast::Strength {
                form,
                quantity: Some(**quantity),
                carrier: None,
                span: quantity.span,
            });
            range = self.pieces.text_range(&(run.start..run.end - 1));
        }
        Thing {
            name: source.words(range),
            referent: Referent::Substance(strength.map(Box::new)),
            adjective,
            portions: draft.portions,
        }
    }
}

fn layer(word: &str, verb: Verb) -> Option<Standing> {
    match word.to_ascii_lowercase().as_str() {
        // Which of them it is, the plan does not say.
        "upper" | "lower" | "top" | "bottom" if verb != Verb::Decant => Some(Standing::Liquid),
        "organic" | "organics" => Some(Standing::Organics),
        "aqueous" => Some(Standing::Aqueous),
        _ => None,
    }
}

/// Whether a thing in this slot comes from a bottle.
fn brings_in(prep: Option<Prep>, verb: Verb) -> bool {
    match prep {
        None => matches!(
            verb,
            Verb::Add
                | Verb::Charge
                | Verb::Dissolve
                | Verb::Quench
                | Verb::Acidify
                | Verb::Basify
                | Verb::Dilute
                | Verb::Pour
        ),
        Some(prep) => matches!(prep, Prep::With | Prep::In | Prep::Over | Prep::On),
    }
}

/// What `dry`, `wash` and `purge` mean, from their objects. `dries`: a drying agent is named.
pub(crate) fn senses(clause: &Clause, keys: &Keys, dries: bool) -> Vec<Sense> {
    match clause.verb {
        Verb::Purge => {
            let cycles = clause.modifiers.iter().any(|modifier| {
                matches!(
                    modifier.kind,
                    ModifierKind::Count(crate::ast::CountKind::Cycles, _)
                )
            });
            vec![if cycles { Sense::Cycles } else { Sense::Flow }]
        }
        Verb::Dry | Verb::Wash if clause.objects.is_empty() => vec![Sense::Contents],
        Verb::Dry | Verb::Wash => {
            let mut senses = Vec::new();
            for thing in &clause.objects {
                let sense = sense(thing, clause.verb, keys, dries);
                if !senses.contains(&sense) {
                    senses.push(sense);
                }
            }
            senses
        }
        _ => Vec::new(),
    }
}

fn sense(thing: &Thing, verb: Verb, keys: &Keys, dries: bool) -> Sense {
    let over = dries && verb == Verb::Dry;
    match thing.referent {
        Referent::Key(id) => match keys.kind(id) {
            Some(kind) if is_equipment(kind) => {
                if over {
                    Sense::Contents
                } else {
                    Sense::Glass
                }
            }
            _ if over => Sense::Liquid,
            _ => Sense::Solid,
        },
        Referent::Standing(
            Standing::Organics | Standing::Aqueous | Standing::Filtrate | Standing::Liquid,
            _,
        ) => Sense::Liquid,
        _ if over => Sense::Liquid,
        Referent::Words => Sense::Glass,
        Referent::Unknown if words::is_funnel(&thing.name.text) => Sense::Glass,
        _ => Sense::Solid,
    }
}
