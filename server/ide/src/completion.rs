//! What could stand at the cursor: words of the language, keys, substances, strengths and bottles.

use crate::cursor;
use crate::document::{Document, PlanUnit};
use crate::forms::{self, Form};
use crate::hints;
use plan::inventory;
use plan::{Material, show};
use std::ops::Range;
use syntax::{Block, Clause, Dimension, KeyKind, Line, Statement, Verb};

/// Something that could be written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Completion {
    /// What is written.
    pub text: String,
    /// What kind of thing it is.
    pub kind: CompletionKind,
    /// What there is to know of it, in a few words.
    pub detail: String,
}

/// Kinds of things that could be written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CompletionKind {
    /// A word of the language.
    Word,
    /// A verb.
    Verb,
    /// A key of the plan.
    Key,
    /// A substance of the library.
    Substance,
    /// A strength in which the substance is sold.
    Strength,
    /// A bottle of the inventory.
    Bottle,
    /// A unit.
    Unit,
}

/// What could stand in place of a stretch of the document, the likeliest first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Completions {
    /// What is replaced.
    pub range: Range<usize>,
    /// By what.
    pub items: Vec<Completion>,
    /// There are more, or others as soon as another letter is typed.
    pub incomplete: bool,
}

/// More substances than these nobody reads.
const MOST_SUBSTANCES: usize = 40;

const STATEMENTS: &[(&str, &str)] = &[
    ("plan ", "title of a plan"),
    ("scale ", "what 1.00 eq is: `scale 5.00 mmol KEY`"),
    ("reaction ", "equation over keys: `reaction a + b -> c`"),
    ("room ", "temperature and humidity: `room 21 °C, 45 % RH`"),
    ("materials", "what goes in, a line each"),
    ("products", "what comes out, a line each"),
    ("equipment", "flasks and tools, a line each"),
    ("steps", "what is done, a line each"),
    (
        "runs",
        "the plan several times, a line each: `A: 2.50 mmol`",
    ),
];

/// What a line of materials may say besides its substance and amounts.
const FIELDS: &[(&str, &str)] = &[
    ("dry", "condition"),
    ("degassed", "condition"),
    ("distilled", "condition"),
    ("over 3 Å sieves", "condition"),
    ("10 ppm water", "condition: water by mass"),
    ("sat. aq.", "saturated solution in water"),
    (
        "to 0.20 M",
        "as much solvent as gives the scale this concentration",
    ),
    ("excess", "an amount that nobody counts"),
    ("moisture-sensitive", "nature"),
    ("air-sensitive", "nature"),
    ("pyrophoric", "nature"),
    ("light-sensitive", "nature"),
    ("hygroscopic", "nature"),
    ("volatile", "nature"),
    ("catalyst", "role"),
    ("solvent", "role"),
    ("bottle ", "which bottle of the inventory"),
    ("found ", "titre: `found 2.41 M`"),
    ("formula ", "composition: `formula C5H11NO`"),
    ("MW ", "molar mass in g/mol"),
    ("d ", "density in g/mL"),
    ("expect ", "expected yield: `expect 85 %`"),
    ("took ", "what was really taken: `took 768 mg`"),
    ("obtained ", "what came out: `obtained 562 mg`"),
];

/// The forms that fit most steps, behind those of the step's verb.
const COMMON: [&Form; 10] = [
    &forms::IN_PLACE,
    &forms::TO_VESSEL,
    &forms::VIA,
    &forms::UNDER,
    &forms::HOW,
    &forms::OVER,
    &forms::FOR,
    &forms::AT,
    &forms::BELOW,
    &forms::UNTIL,
];

/// Temperatures that a bath holds by itself.
const TEMPERATURES: &[(&str, &str)] = &[
    ("rt", "room temperature"),
    ("0 °C", "ice and water"),
    ("-78 °C", "dry ice in acetone"),
    ("reflux", "its boiling point"),
];

const ENDS: &[(&str, &str)] = &[
    ("dryness", "until nothing evaporates any more"),
    ("constant mass", "until it weighs the same twice"),
];

const DRYING_AGENTS: &[(&str, &str)] = &[
    ("magnesium sulfate", "drying agent"),
    ("sodium sulfate", "drying agent"),
];

const FILTERS: &[(&str, &str)] = &[("Celite", "filter aid"), ("silica ", "adsorbent")];

const GASES: &[(&str, &str)] = &[
    ("argon", "inert gas"),
    ("nitrogen", "inert gas"),
    ("vacuum", "pumped"),
    ("air", "open to air"),
];

const TOOLS: &[(&str, &str)] = &[
    ("syringe", "tool"),
    ("cannula", "tool"),
    ("syringe pump at ", "tool with its rate"),
];

impl Document {
    /// What could stand at an offset. None where nothing is known to fit.
    #[must_use]
    pub fn completions(&self, offset: usize) -> Option<Completions> {
        let unit = self.plan_at(offset)?;
        let (_, line, at) = cursor::line_at(&unit, offset)?;
        let start = line.start as usize;
        let before = unit.plan.text.text.get(start..start + at as usize)?;
        if let Some(comment) = line.comment.filter(|comment| at > comment.start) {
            let end = start + comment.end as usize;
            let after = unit.plan.text.text.get(start + at as usize..end)?;
            let (items, typed) =
                allowed(&unit, line, before.get(comment.start as usize..)?, after)?;
            return (!items.is_empty()).then_some(Completions {
                range: offset - typed..offset,
                items,
                incomplete: false,
            });
        }
        let place = Place {
            unit: &unit,
            line,
            before,
        };
        let (items, typed, incomplete) = match line.block {
            Block::Materials | Block::Products => place.entry()?,
            Block::Steps => place.step(),
            Block::Runs => place.run()?,
            Block::None | Block::Equipment => place.statement()?,
        };
        (!items.is_empty()).then_some(Completions {
            range: offset - typed..offset,
            items,
            incomplete,
        })
    }
}

/// A line up to the cursor.
struct Place<'a> {
    unit: &'a PlanUnit<'a>,
    line: &'a Line,
    before: &'a str,
}

/// The items, how many bytes of them are typed already, and whether there are more.
type Found = (Vec<Completion>, usize, bool);

impl Place<'_> {
    fn statement(&self) -> Option<Found> {
        let typed = self.before.trim_start();
        let is_word = typed.chars().all(char::is_alphabetic);
        (is_word).then(|| {
            let items = words(STATEMENTS, CompletionKind::Word);
            (starting_with(items, typed), typed.len(), false)
        })
    }

    fn entry(&self) -> Option<Found> {
        let Some((_, body)) = self.before.split_once(':') else {
            return self.statement();
        };
        let (first, field) = match body.rsplit_once(", ") {
            Some((_, field)) => (false, field),
            None => (true, body),
        };
        let typed = field.trim_start();
        if first {
            if typed.is_empty() {
                return None;
            }
            let names = chemistry::names_starting_with(typed, MOST_SUBSTANCES);
            let items = names.into_iter().map(substance).collect();
            // Spellings differ (`nbuli`, `n-BuLi`): what fits is for us to say at every letter.
            return Some((items, typed.len(), true));
        }
        if let Some(name) = typed.strip_prefix("bottle ") {
            return Some((starting_with(self.bottles(""), name), name.len(), false));
        }
        if let Some(unit) = behind_number(typed) {
            let dimensions = [
                Dimension::Equivalents,
                Dimension::MolPercent,
                Dimension::Amount,
                Dimension::Mass,
                Dimension::Volume,
            ];
            return Some((starting_with(units(&dimensions), unit), unit.len(), false));
        }
        let mut items: Vec<Completion> = self.strengths();
        items.extend(self.bottles("bottle "));
        items.extend(words(FIELDS, CompletionKind::Word));
        Some((starting_with(items, typed), typed.len(), false))
    }

    /// Behind the label an amount, or a key and what it is in this run.
    fn run(&self) -> Option<Found> {
        let Some((_, body)) = self.before.split_once(':') else {
            return self.statement();
        };
        let field = body.rsplit_once(", ").map_or(body, |(_, field)| field);
        let typed = field.trim_start();
        if let Some((_, name)) = typed.split_once(" is ") {
            let names = chemistry::names_starting_with(name, MOST_SUBSTANCES);
            let items = names.into_iter().map(substance).collect();
            return (!name.is_empty()).then_some((items, name.len(), true));
        }
        if let Some(unit) = behind_number(typed) {
            let dimensions = [Dimension::Amount, Dimension::Mass, Dimension::Volume];
            return Some((starting_with(units(&dimensions), unit), unit.len(), false));
        }
        if let Some(name) = typed.strip_prefix("bottle ") {
            return Some((starting_with(self.bottles(""), name), name.len(), false));
        }
        let mut items = self.keys(|kind| kind != KeyKind::Kept);
        for item in &mut items {
            item.text.push_str(" is ");
        }
        if body.contains(" is ") {
            items.extend(words(FIELDS, CompletionKind::Word));
        }
        Some((starting_with(items, typed), typed.len(), false))
    }

    fn step(&self) -> Found {
        let clause = self
            .before
            .rsplit_once(", then ")
            .map_or(self.before, |(_, clause)| clause);
        let clause = clause.trim_start();
        let typed = clause
            .rsplit(|c: char| c.is_whitespace() || c == ',')
            .next()
            .unwrap_or_default();
        let earlier = clause[..clause.len() - typed.len()].trim_end();
        let mut words_before = earlier.split_whitespace();
        let last = words_before.next_back();
        let items = match last {
            None => verbs()
                .into_iter()
                .chain(words(
                    &[("in ", "where the next steps happen")],
                    CompletionKind::Word,
                ))
                .chain(words(STATEMENTS, CompletionKind::Word))
                .collect(),
            Some(number) if is_number(number) => units(&[
                Dimension::Volume,
                Dimension::Mass,
                Dimension::Amount,
                Dimension::Temperature,
                Dimension::Time,
                Dimension::Pressure,
            ]),
            Some(word) => self.behind(word),
        };
        (starting_with(items, typed), typed.len(), false)
    }

    /// What may follow a word of a step that is no number.
    fn behind(&self, word: &str) -> Vec<Completion> {
        let verb = self.verb();
        let forms = verb.map_or(&[][..], forms::forms);
        let takes = |form: &Form| forms.contains(&form);
        let word_list = |list: &[(&str, &str)]| words(list, CompletionKind::Word);
        let mut items = Vec::new();
        match word {
            "in" => return self.keys(|kind| kind != KeyKind::Product),
            "into" | "onto" | "from" => return self.keys(is_vessel),
            "under" => return word_list(GASES),
            "via" => return word_list(TOOLS),
            "to" => {
                if takes(&forms::TO_TEMPERATURE) {
                    items.extend(word_list(TEMPERATURES));
                }
                if takes(&forms::TO_END) {
                    items.extend(word_list(ENDS));
                }
                if takes(&forms::TO_PH) {
                    items.extend(word_list(&[("pH ", "acidity")]));
                }
                if takes(&forms::TO_VESSEL) || items.is_empty() {
                    items.extend(self.keys(is_vessel));
                }
                return items;
            }
            "at" | "below" | "above" => return word_list(TEMPERATURES),
            // A number, or words of the author's own.
            "for" | "until" | "as" => return items,
            "over" if takes(&forms::OVER_AGENT) => return word_list(DRYING_AGENTS),
            "over" => return items,
            "with" if takes(&forms::WITH_GAS) => return word_list(GASES),
            "with" => return self.keys(|kind| kind == KeyKind::Material),
            "through" => {
                items.extend(word_list(FILTERS));
                items.extend(self.keys(|kind| kind == KeyKind::Tool));
                return items;
            }
            _ => {}
        }
        for form in forms.iter().chain(&COMMON) {
            for begins in form.begins {
                if items.iter().all(|item| item.text != *begins) {
                    items.extend(word_list(&[(begins, form.about)]));
                }
            }
        }
        // A step that changes the temperature acts on the vessel at hand, which it need not name.
        if takes(&forms::TO_TEMPERATURE) {
            items.extend(self.keys(is_vessel));
            return items;
        }
        let mut keys = self.keys(|_| true);
        keys.extend(items);
        keys
    }

    /// The verb of the step, or of its part, at the cursor.
    fn verb(&self) -> Option<Verb> {
        let Statement::Step(step) = &self.line.statement else {
            return None;
        };
        let begun = |clause: &&Clause| (clause.span.start as usize) < self.before.len();
        step.clauses.iter().rfind(begun).map(|clause| clause.verb)
    }

    fn material(&self) -> Option<&Material> {
        let lines = &self.unit.plan.text.lines;
        let index = lines.partition_point(|line| line.start < self.line.start);
        let mut materials = self.unit.plan.materials.iter();
        materials.find(|material| material.line as usize == index)
    }

    fn strengths(&self) -> Vec<Completion> {
        let substance = self
            .material()
            .and_then(|material| material.identity.substance);
        let strengths = substance
            .into_iter()
            .flat_map(chemistry::Substance::strengths);
        let item = |strength: &str| Completion {
            text: strength.to_owned(),
            kind: CompletionKind::Strength,
            detail: "strength in which it is sold".to_owned(),
        };
        strengths.map(item).collect()
    }

    /// The bottles that hold the substance of the line, or all if none does.
    fn bottles(&self, before: &str) -> Vec<Completion> {
        let Some(inventory) = &self.unit.plan.context.inventory else {
            return Vec::new();
        };
        let identity = self.material().map(|material| &material.identity);
        let fits = |bottle: &inventory::Bottle| {
            identity.is_some_and(|identity| {
                inventory::same_substance(identity, &bottle.material.identity) == Some(true)
            })
        };
        let any = inventory.bottles.iter().any(|bottle| fits(bottle));
        let bottles = inventory
            .bottles
            .iter()
            .filter(|bottle| !any || fits(bottle));
        bottles
            .map(|bottle| {
                let mut parts = vec![bottle.material.identity.name.to_string()];
                parts.extend(bottle.material.strength_text.as_deref().map(str::to_owned));
                let left = bottle.left.as_ref().map(inventory::written);
                parts.extend(left.map(|left| format!("{left} left")));
                parts.extend(bottle.place.as_deref().map(str::to_owned));
                Completion {
                    text: format!("{before}{}", bottle.name),
                    kind: CompletionKind::Bottle,
                    detail: parts.join(", "),
                }
            })
            .collect()
    }

    fn keys(&self, wanted: impl Fn(KeyKind) -> bool) -> Vec<Completion> {
        let plan = self.unit.plan;
        let keys = plan.text.keys.iter().zip(0u32..);
        keys.filter(|(key, _)| wanted(key.kind))
            .map(|(key, index)| {
                let detail = match plan.material(syntax::KeyId(index)) {
                    Some((material, amounts)) => {
                        let label = hints::label(material, amounts);
                        let name = material.identity.name.to_string();
                        label.map_or(name.clone(), |label| format!("{name}, {label}"))
                    }
                    None => plan
                        .apparatus
                        .iter()
                        .find(|item| item.id == Some(syntax::KeyId(index)))
                        .map_or_else(String::new, |item| item.text.to_string()),
                };
                Completion {
                    text: key.name.text.to_string(),
                    kind: CompletionKind::Key,
                    detail,
                }
            })
            .collect()
    }
}

/// The checks that a comment `# allow ` may name, those that found something in its line or the next first.
fn allowed(
    unit: &PlanUnit<'_>,
    line: &Line,
    comment: &str,
    after: &str,
) -> Option<(Vec<Completion>, usize)> {
    let list = comment
        .trim_start_matches('#')
        .trim_start()
        .strip_prefix("allow ")?;
    if list.contains(':') {
        return None;
    }
    let typed = list.rsplit(',').next()?.trim_start();
    if typed.contains(' ') {
        return None;
    }
    let lines = &unit.plan.text.lines;
    let own = lines.partition_point(|other| other.start < line.start);
    let last = lines
        .iter()
        .zip(0..)
        .skip(own)
        .find(|(line, _)| line.statement != Statement::Blank)
        .map_or(own, |(_, index)| index);
    let finds = |name: &str| {
        let mut findings = unit.findings.iter();
        findings.any(|found| found.check == name && found.at.line as usize == last)
    };
    let colon = if after.trim_start().starts_with([':', ',']) {
        ""
    } else {
        ": "
    };
    let mut checks: Vec<_> = checks::ALL
        .iter()
        .filter(|check| !check.name.starts_with("allow-"))
        .map(|check| (!finds(check.name), check))
        .collect();
    checks.sort_by_key(|(elsewhere, _)| *elsewhere);
    let item = |(_, check): (bool, &&checks::Check)| Completion {
        text: format!("{}{colon}", check.name),
        kind: CompletionKind::Word,
        detail: check.title().to_owned(),
    };
    let items = checks.into_iter().map(item).collect();
    Some((starting_with(items, typed), typed.len()))
}

fn is_vessel(kind: KeyKind) -> bool {
    matches!(kind, KeyKind::Vessel | KeyKind::Holder)
}

fn substance(name: &str) -> Completion {
    let found = match chemistry::find_name(name) {
        chemistry::Found::One(substance) => Some(substance),
        _ => None,
    };
    let formula = found.and_then(|substance| substance.formula());
    let molar_mass = formula
        .and_then(|formula| chemistry::Formula::parse(formula).ok())
        .and_then(|formula| formula.molar_mass().ok());
    let mut parts = Vec::new();
    parts.extend(formula.map(str::to_owned));
    parts.extend(molar_mass.map(|mass| {
        let grams = mass.value.get::<uom::si::molar_mass::gram_per_mole>();
        format!("{} g/mol", show::number(grams, 5))
    }));
    Completion {
        text: name.to_owned(),
        kind: CompletionKind::Substance,
        detail: parts.join(", "),
    }
}

fn verbs() -> Vec<Completion> {
    let first_spelling =
        |(word, verb): &(&'static str, Verb)| (verb.word() == *word).then_some(*word);
    Verb::SPELLINGS
        .iter()
        .filter_map(first_spelling)
        .map(|word| Completion {
            text: word.to_owned(),
            kind: CompletionKind::Verb,
            detail: "step".to_owned(),
        })
        .collect()
}

fn units(dimensions: &[Dimension]) -> Vec<Completion> {
    let units = dimensions
        .iter()
        .flat_map(|&dimension| syntax::units_for(dimension));
    let item = |unit: &str| Completion {
        text: unit.to_owned(),
        kind: CompletionKind::Unit,
        detail: "unit".to_owned(),
    };
    units.map(item).collect()
}

fn words(words: &[(&str, &str)], kind: CompletionKind) -> Vec<Completion> {
    let item = |(text, detail): &(&str, &str)| Completion {
        text: (*text).to_owned(),
        kind,
        detail: (*detail).to_owned(),
    };
    words.iter().map(item).collect()
}

fn starting_with(items: Vec<Completion>, typed: &str) -> Vec<Completion> {
    let typed = typed.to_lowercase();
    let fits = |item: &Completion| item.text.to_lowercase().starts_with(&typed);
    items.into_iter().filter(fits).collect()
}

/// What is typed of a unit behind a number: nothing of it in `2.5 `.
fn behind_number(field: &str) -> Option<&str> {
    let (number, unit) = field.split_once(' ')?;
    (is_number(number) && !unit.contains(' ')).then_some(unit)
}

fn is_number(word: &str) -> bool {
    word.starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '−')
        && word
            .chars()
            .all(|c| c.is_ascii_digit() || matches!(c, '.' | '-' | '−'))
}
