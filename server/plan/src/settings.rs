//! How a group works, as far as plans are read by it: `meniscus.toml`, found by whoever knows the file system.
//!
//! ```toml
//! [ages]                                     # days from which on a value is measured anew
//! titre = 30                                 # of a bottle that is open
//! titre-unopened = 180                       # of one that is not said to be
//! water = 90                                 # by Karl Fischer titration, of an open bottle
//!
//! [tools]                                    # what there is to measure with
//! balances = ["0.1 mg to 120 g", "10 mg"]    # readability, and the most that it carries
//! glass-syringes = ["100 µL", "1 mL"]
//! syringes = ["1 mL", "5 mL", "20 mL"]       # of plastic, for single use
//! piston-pipettes = ["200 µL", "1 mL"]
//! pipettes = ["1 mL A", "10 mL B"]           # one mark, with the class
//! cylinders = ["10 mL", "100 mL A"]          # class B unless written
//!
//! [checks]                                   # how much is to be said of a plan
//! profile = "quiet"
//! too-small-to-measure = "off"
//!
//! [budget]                                   # of water and oxygen: what is known better here than assumed
//! glass-oven = 3                             # nmol/cm²; the other keys are those of `budget::Defaults`
//! line-flow = 300                            # mL/min
//!
//! [shown]                                    # in an editor
//! step-hints = false                         # what a vessel holds, at the end of a step
//! step-states = false                        # how a vessel stands, on hover
//!
//! [budget.worry]                             # per cent that water and oxygen take: information from, warning from
//! organolithium = [1, 3]
//! ```
//!
//! Everything may be left out. A tool whose error is not in the library's table brings it along: `"3 mL ± 0.1 mL"`,
//! and so may a balance, `"0.01 mg ± 0.02 mg"`.

use crate::budget::{Defaults, Estimate};
use crate::convert;
use crate::tables::{self, Kept, Problem, Reader, kept, shift};
use crate::tools::{Balance, Tools, Volumetric};
use chemistry::{Class, ReagentClass, Tool};
use std::ops::Range;
use std::sync::Arc;
use syntax::Quantity;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The settings that plans are read by.
#[derive(Clone, Debug, Default)]
pub struct Settings {
    text: Arc<str>,
    problems: Vec<Problem>,
    /// How old is old.
    pub ages: Ages,
    /// What there is to measure with.
    pub tools: Tools,
    /// What `[checks]` says, as written: what it means, whoever has the checks knows.
    pub checks: Vec<Written>,
    /// What the budget of water and oxygen takes for granted.
    pub budget: Defaults,
    /// What an editor shows.
    pub shown: Shown,
}

/// What an editor shows of the steps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shown {
    /// What a vessel holds, at the end of a step that brings something in.
    pub step_hints: bool,
    /// How a vessel stands after a step, on hover.
    pub step_states: bool,
}

impl Default for Shown {
    fn default() -> Self {
        Shown {
            step_hints: true,
            step_states: true,
        }
    }
}

/// A key and its text, as written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// The key.
    pub key: String,
    /// Where the key stands.
    pub key_range: Range<usize>,
    /// The text, without outer white space.
    pub value: String,
    /// Where the text stands, with its quotes.
    pub range: Range<usize>,
}

/// Ages in days from which on a measured value is to be measured again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ages {
    /// Of the titre of a bottle that is open; common practice.
    pub titre: i64,
    /// Of the titre of a bottle that is not said to be open; common practice.
    pub titre_unopened: i64,
    /// Of a Karl Fischer value of a bottle that is open; common practice.
    pub water: i64,
}

impl Default for Ages {
    fn default() -> Self {
        Ages {
            titre: 30,
            titre_unopened: 180,
            water: 90,
        }
    }
}

const TABLES: &[&str] = &["ages", "tools", "checks", "budget", "shown"];
const SHOWN: &[&str] = &["step-hints", "step-states"];
const AGES: &[&str] = &["titre", "titre-unopened", "water"];
const TOOLS: &[&str] = &[
    "balances",
    "glass-syringes",
    "syringes",
    "piston-pipettes",
    "pipettes",
    "cylinders",
];

impl Kept for Settings {
    const FILE: &str = "meniscus.toml";

    fn read(text: &str) -> Settings {
        let mut settings = Settings {
            text: text.into(),
            ..Settings::default()
        };
        for part in tables::parts(text) {
            match &part.root {
                Ok(root) => settings.root(text, root, part.start),
                Err(error) => settings.problems.push(part.problem(error)),
            }
        }
        settings.problems.sort_by_key(|problem| problem.range.start);
        settings
    }

    fn unreadable(reason: String) -> Settings {
        Settings {
            problems: vec![Problem::of_the_whole(reason)],
            ..Settings::default()
        }
    }

    fn text(&self) -> &Arc<str> {
        &self.text
    }

    fn problems(&self) -> &[Problem] {
        &self.problems
    }
}

impl Settings {
    fn root(&mut self, text: &str, root: &DeTable<'_>, start: usize) {
        let whole = Reader {
            text,
            table: root,
            start,
        };
        self.problems.extend(whole.misspelt(TABLES));
        for (key, value) in root {
            if !TABLES.contains(&&**key.get_ref()) {
                continue;
            }
            let DeValue::Table(table) = value.get_ref() else {
                let name = key.get_ref();
                self.problems.push(Problem {
                    range: shift(key.span(), start),
                    message: format!("`{name}` is a table: write `[{name}]` and its keys below."),
                });
                continue;
            };
            let reader = Reader { text, table, start };
            match &**key.get_ref() {
                "ages" => self.ages(&reader),
                "tools" => self.tools(&reader),
                "budget" => self.budget(&reader),
                "shown" => self.shown(&reader),
                _ => self.checks(&reader),
            }
        }
    }

    fn checks(&mut self, reader: &Reader<'_>) {
        for key in reader.table.keys() {
            let name = key.get_ref();
            if let Some((value, range)) = kept(reader.string(name), &mut self.problems) {
                self.checks.push(Written {
                    key: name.to_string(),
                    key_range: shift(key.span(), reader.start),
                    value,
                    range,
                });
            }
        }
    }

    /// With another value in `[checks]`, said elsewhere than in the file.
    #[must_use]
    pub fn with_check(mut self, key: &str, value: &str) -> Settings {
        self.checks.retain(|written| written.key != key);
        self.checks.push(Written {
            key: key.to_owned(),
            key_range: 0..0,
            value: value.to_owned(),
            range: 0..0,
        });
        self
    }

    fn shown(&mut self, reader: &Reader<'_>) {
        self.problems.extend(reader.misspelt(SHOWN));
        let shown = &mut self.shown;
        for (key, flag) in [
            ("step-hints", &mut shown.step_hints),
            ("step-states", &mut shown.step_states),
        ] {
            match reader
                .value(key)
                .map(|value| (value.get_ref(), value.span()))
            {
                Some((DeValue::Boolean(on), _)) => *flag = *on,
                Some((_, span)) => self.problems.push(Problem {
                    range: shift(span, reader.start),
                    message: format!("`{key}` is true or false, without quotes."),
                }),
                None => {}
            }
        }
    }

    fn budget(&mut self, reader: &Reader<'_>) {
        const WORRY: &str = "worry";
        let Settings {
            budget, problems, ..
        } = self;
        let worry = reader.value(WORRY);
        for (key, estimate) in budget.named() {
            let positive = |n: &f64| *n > 0.0;
            let why = "a number above 0, without quotes";
            if let Some(n) = kept(reader.number(key, positive, why), problems) {
                *estimate = Estimate::exact(n);
            }
        }
        let keys = || budget_keys().chain([WORRY]);
        for key in reader.table.keys() {
            let word = key.get_ref();
            if keys().all(|known| known != &**word) {
                let known: Vec<&str> = keys().collect();
                problems.push(Problem {
                    range: shift(key.span(), reader.start),
                    message: format!(
                        "`{word}` is not read: the keys of `[budget]` are {}.",
                        known.join(", ")
                    ),
                });
            }
        }
        let Some(worry) = worry else {
            return;
        };
        let DeValue::Table(table) = worry.get_ref() else {
            problems.push(Problem {
                range: shift(worry.span(), reader.start),
                message: "`worry` is a table: write `[budget.worry]` and its keys below."
                    .to_owned(),
            });
            return;
        };
        for (key, value) in table {
            let word = key.get_ref();
            let Some(class) = ReagentClass::from_tag(word) else {
                problems.push(Problem {
                    range: shift(key.span(), reader.start),
                    message: format!(
                        "`{word}` is no class of reagents: write one such as organolithium, grignard or metal-hydride."
                    ),
                });
                continue;
            };
            match percents(value.get_ref()) {
                Some((low, high)) => budget.worry.push((class, low / 100.0, high / 100.0)),
                None => problems.push(Problem {
                    range: shift(value.span(), reader.start),
                    message: format!(
                        "`{word}` is two percentages above 0, the lower first: write it as [2, 5]."
                    ),
                }),
            }
        }
    }

    fn ages(&mut self, reader: &Reader<'_>) {
        self.problems.extend(reader.misspelt(AGES));
        let ages = &mut self.ages;
        for (key, age) in [
            ("titre", &mut ages.titre),
            ("titre-unopened", &mut ages.titre_unopened),
            ("water", &mut ages.water),
        ] {
            if let Some(days) = kept(reader.days(key), &mut self.problems) {
                *age = days;
            }
        }
    }

    fn tools(&mut self, reader: &Reader<'_>) {
        self.problems.extend(reader.misspelt(TOOLS));
        let mut balances = Vec::new();
        for (text, range) in reader.list("balances", &mut self.problems) {
            match balance(&text) {
                Ok(balance) => balances.push(balance),
                Err(message) => self.problems.push(Problem { range, message }),
            }
        }
        let kinds: [(&str, Kind); 5] = [
            ("glass-syringes", |_| Tool::GlassSyringe),
            ("syringes", |_| Tool::DisposableSyringe),
            ("piston-pipettes", |_| Tool::PistonPipette),
            ("pipettes", Tool::BulbPipette),
            ("cylinders", Tool::Cylinder),
        ];
        let mut volumetric = Vec::new();
        for (key, kind) in kinds {
            for (text, range) in reader.list(key, &mut self.problems) {
                match vessel(&text, kind) {
                    Ok(tool) => volumetric.push(tool),
                    Err(message) => self.problems.push(Problem { range, message }),
                }
            }
        }
        self.tools.take(balances, volumetric);
    }
}

fn budget_keys() -> impl Iterator<Item = &'static str> {
    Defaults::default().named().map(|(key, _)| key).into_iter()
}

fn percents(value: &DeValue<'_>) -> Option<(f64, f64)> {
    let DeValue::Array(list) = value else {
        return None;
    };
    match list
        .iter()
        .map(|one| float(one.get_ref()))
        .collect::<Vec<_>>()[..]
    {
        [Some(low), Some(high)] if low > 0.0 && low <= high => Some((low, high)),
        _ => None,
    }
}

/// A finite number, with or without a decimal point.
fn float(value: &DeValue<'_>) -> Option<f64> {
    let number: f64 = match value {
        DeValue::Float(number) => number.as_str().parse().ok()?,
        DeValue::Integer(number) => i32::from_str_radix(number.as_str(), number.radix())
            .ok()?
            .into(),
        _ => return None,
    };
    number.is_finite().then_some(number)
}

impl Reader<'_> {
    fn number(
        &self,
        key: &str,
        fits: impl Fn(&f64) -> bool,
        what: &str,
    ) -> Result<Option<f64>, Problem> {
        let Some(value) = self.value(key) else {
            return Ok(None);
        };
        float(value.get_ref())
            .filter(fits)
            .map(Some)
            .ok_or_else(|| Problem {
                range: shift(value.span(), self.start),
                message: format!("`{key}` is {what}."),
            })
    }

    fn days(&self, key: &str) -> Result<Option<i64>, Problem> {
        let Some(value) = self.value(key) else {
            return Ok(None);
        };
        let days = match value.get_ref() {
            DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix()).ok(),
            _ => None,
        };
        days.filter(|days| *days > 0)
            .map(Some)
            .ok_or_else(|| Problem {
                range: shift(value.span(), self.start),
                message: format!("`{key}` is a number of days: write it as 30, without quotes."),
            })
    }

    /// The texts of a list, each with its place.
    fn list(&self, key: &str, problems: &mut Vec<Problem>) -> Vec<(String, Range<usize>)> {
        let at = |value: &Spanned<DeValue<'_>>| shift(value.span(), self.start);
        let mut texts = Vec::new();
        let Some(value) = self.value(key) else {
            return texts;
        };
        let DeValue::Array(list) = value.get_ref() else {
            problems.push(Problem {
                range: at(value),
                message: format!("`{key}` is a list: write it in brackets, as in [\"1 mL\"]."),
            });
            return texts;
        };
        for entry in list {
            match entry.get_ref() {
                DeValue::String(text) => texts.push((text.trim().to_owned(), at(entry))),
                _ => problems.push(Problem {
                    range: at(entry),
                    message: "Write a size with its unit, in quotes: \"1 mL\".".to_owned(),
                }),
            }
        }
        texts
    }
}

/// A tool of a class, where it has one.
type Kind = fn(Class) -> Tool;

/// `0.1 mg ± 0.2 mg to 120 g`
fn balance(text: &str) -> Result<Balance, String> {
    let mass = |text: &str| quantity(text).and_then(|read| Some(convert::mass(&read, 0)?.value));
    let (rest, capacity) = match text.split_once(" to ") {
        Some((rest, capacity)) => (rest, Some(mass(capacity))),
        None => (text, None),
    };
    let (readability, error) = match rest.split_once('±') {
        Some((readability, error)) => (readability, Some(mass(error))),
        None => (rest, None),
    };
    let example = "\"0.1 mg\" or \"0.1 mg to 120 g\"";
    let unread = || format!("`{text}` is no balance: write its readability, as in {example}.");
    let Some(readability) = mass(readability) else {
        return Err(unread());
    };
    if capacity == Some(None) || error == Some(None) {
        return Err(unread());
    }
    Balance::new(
        readability,
        error.flatten(),
        capacity.flatten(),
    )
    .ok_or_else(|| {
        format!(
            "What a balance that reads `{text}` may be wrong by is not known here: add it from its data sheet, as in \"0.01 mg ± 0.02 mg\"."
        )
    })
}

/// `10 mL`, `10 mL A`, `3 mL ± 0.1 mL`
fn vessel(text: &str, kind: Kind) -> Result<Volumetric, String> {
    let volume =
        |text: &str| quantity(text).and_then(|read| Some(convert::volume(&read, 0)?.value));
    let (rest, error) = match text.split_once('±') {
        Some((rest, error)) => (rest, Some(volume(error))),
        None => (text, None),
    };
    let rest = rest.trim();
    let (rest, class) = match rest.rsplit_once(' ') {
        Some((rest, "A" | "AS")) => (rest, Class::A),
        Some((rest, "B")) => (rest, Class::B),
        _ => (rest, Class::B),
    };
    let (Some(size), false) = (volume(rest), error == Some(None)) else {
        return Err(format!(
            "`{text}` is no size: write it as in \"10 mL\", \"10 mL A\" or \"3 mL ± 0.1 mL\"."
        ));
    };
    Volumetric::new(
        kind(class),
        size,
        error.flatten(),
    )
    .ok_or_else(|| {
        format!("What one of `{text}` may be wrong by is not known here: add it, as in \"3 mL ± 0.1 mL\".")
    })
}

/// One exact quantity, no range.
fn quantity(text: &str) -> Option<Quantity> {
    syntax::read_quantity(text)
        .filter(|read| read.to.is_none() && read.bound == syntax::Bound::Exact)
        .filter(|read| read.number.value > rust_decimal::Decimal::ZERO)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(text: &str) -> Vec<(String, String)> {
        let settings = Settings::read(text);
        let told = settings.problems().iter();
        told.map(|problem| {
            let at = text[problem.range.clone()].to_owned();
            (at, problem.message.clone())
        })
        .collect()
    }

    #[test]
    fn what_is_written_counts_and_the_rest_is_common_practice() {
        let settings = Settings::read("[ages]\ntitre = 14\n");
        let expected = Ages {
            titre: 14,
            ..Ages::default()
        };
        assert_eq!((settings.ages, settings.problems().len()), (expected, 0));
        assert_eq!(Settings::read("").ages, Ages::default());
    }

    #[test]
    fn what_is_said_of_checks_is_kept_with_its_places() {
        let text = "[checks]\nprofile = \"quiet\"\nhot-limit = false\ntitre-old = \"off\"\n";
        let settings = Settings::read(text);
        assert_eq!(settings.problems().len(), 1);
        let written = settings.checks.iter().map(|written| {
            let at = |range: &Range<usize>| &text[range.clone()];
            (at(&written.key_range), at(&written.range))
        });
        let mut written: Vec<_> = written.collect();
        written.sort_unstable();
        assert_eq!(
            written,
            [("profile", "\"quiet\""), ("titre-old", "\"off\"")]
        );
        let settings = settings.with_check("profile", "strict");
        let profiles = settings.checks.iter().filter(|w| w.key == "profile");
        assert_eq!(profiles.map(|w| &*w.value).collect::<Vec<_>>(), ["strict"]);
    }

    #[test]
    fn every_mistake_is_told_at_its_place_and_takes_nothing_else_with_it() {
        for (text, at, says) in [
            ("[ages]\ntitre = \"30\"", "\"30\"", "number of days"),
            ("[ages]\ntitre = 0", "0", "number of days"),
            ("[ages]\ntiter = 30", "titer", "did you mean `titre`"),
            ("[age]\ntitre = 30", "age", "did you mean `ages`"),
            ("ages = 3", "ages", "`[ages]`"),
            ("[check]\nprofile = \"quiet\"", "check", "`checks`"),
            ("[checks]\nprofile = 3", "3", "in quotes"),
            ("[tools]\nsyringes = \"1 mL\"", "\"1 mL\"", "in brackets"),
            ("[tools]\nsyringes = [1]", "1", "in quotes"),
            ("[tools]\nsyringes = [\"1 mg\"]", "\"1 mg\"", "no size"),
            ("[tools]\nsyringes = [\"0 mL\"]", "\"0 mL\"", "no size"),
            ("[tools]\ncylinders = [\"33 mL\"]", "\"33 mL\"", "± 0.1 mL"),
            ("[tools]\nbalances = [\"1 mL\"]", "\"1 mL\"", "readability"),
            (
                "[tools]\nbalances = [\"0.3 mg\"]",
                "\"0.3 mg\"",
                "data sheet",
            ),
            (
                "[tools]\nbalances = [\"1 mg to x\"]",
                "\"1 mg to x\"",
                "readability",
            ),
        ] {
            let text = format!("{text}\n");
            let found = told(&text);
            assert!(
                matches!(&found[..], [(place, message)] if place == at && message.contains(says)),
                "{text}: {found:?}"
            );
        }
        let broken = "[ages]\ntitre = 14\nwater = \n[tools]\nsyringes = [\"1 mL\"]\n";
        let settings = Settings::read(broken);
        assert_eq!(settings.problems().len(), 1);
        assert_eq!(settings.tools.volumetric().len(), 1);
    }
}
