//! The bottles at hand: `inventory.toml`, found by whoever knows the file system.
//!
//! ```toml
//! [[bottle]]
//! name = "etmgbr-2"                          # what a plan calls it: `bottle etmgbr-2`
//! substance = "ethylmagnesium bromide"       # name, CAS number, formula, SMILES or InChI
//! strength = "3.0 M in diethyl ether"        # or `assay`: as on a line of a plan
//! titre = "2.87 M"
//! titred = 2026-03-02                        # dates are TOML's own, without quotes
//! density = 1.01                             # g/mL at about 20 °C; or a text, "1.01 g/mL"
//! water = "12 ppm"                           # by Karl Fischer titration, by mass
//! water-measured = 2026-03-02
//! left = "85 mL"                             # of what is in the bottle: a volume or a mass
//! place = "fridge 2, box C"
//! opened = 2026-02-01
//! expires = 2027-02-01
//! ```
//!
//! `name` and `substance` are needed, all else may be left out. Keys of one's own are left alone, but for those
//! that look like a misspelt one: a strength that was overlooked would make every amount wrong. For the same
//! reason a table in which anything is wrong does not count at all, and all others do.

use crate::context::{Context, Date};
use crate::convert::{self, Concentration};
use crate::identity::Identity;
use crate::known::Known;
use crate::material::{self, Material};
use crate::tables::{self, Kept, Part, Problem, Read, Reader, kept, shift};
use std::ops::Range;
use std::sync::Arc;
use syntax::{
    Condition, Dimension, Entry, FieldKind, KeyId, Number, Quantity, Statement, StrengthForm,
};
use toml::de::{DeTable, DeValue};

/// Every key of a bottle.
const KEYS: &[&str] = &[
    "name",
    "substance",
    "strength",
    "assay",
    "titre",
    "titred",
    "density",
    "water",
    "water-measured",
    "left",
    "place",
    "opened",
    "expires",
];

/// An inventory, read.
#[derive(Clone, Debug, Default)]
pub struct Inventory {
    /// The text that it was read from; every range is bytes of it.
    pub text: Arc<str>,
    /// The bottles that count, in the order of the text.
    pub bottles: Vec<Arc<Bottle>>,
    /// The names of bottles that do not count, with the places of their first problems.
    pub broken: Vec<(String, Range<usize>)>,
    /// What is wrong.
    pub problems: Vec<Problem>,
}

/// A bottle.
#[derive(Clone, Debug)]
pub struct Bottle {
    /// What plans call it.
    pub name: Arc<str>,
    /// Where its name stands.
    pub range: Range<usize>,
    /// Substance, strength, titre, density and water as a line of a plan says them.
    pub entry: Arc<Entry>,
    /// What that line comes to.
    pub material: Material,
    /// Its strength or assay as written.
    pub strength: Option<Arc<str>>,
    /// When it was titrated.
    pub titred: Option<Date>,
    /// When its water was measured.
    pub water_measured: Option<Date>,
    /// A volume or a mass of what is in the bottle.
    pub left: Option<Quantity>,
    /// Where it stands.
    pub place: Option<Arc<str>>,
    /// When it was opened.
    pub opened: Option<Date>,
    /// When it expires.
    pub expires: Option<Date>,
}

/// What an inventory says of a name.
#[derive(Clone, Debug)]
pub enum Lookup {
    /// The bottle.
    Found(Arc<Bottle>),
    /// It is there, and something is wrong with it.
    Broken,
    /// It is not there.
    Missing,
}

impl Bottle {
    /// The titre.
    #[must_use]
    pub fn titre(&self) -> Option<&Quantity> {
        self.entry
            .fields
            .iter()
            .find_map(|field| match &field.kind {
                FieldKind::Found(quantity) => Some(quantity),
                _ => None,
            })
    }

    /// Its water, by mass.
    #[must_use]
    pub fn water(&self) -> Option<&Quantity> {
        self.entry
            .fields
            .iter()
            .find_map(|field| match &field.kind {
                FieldKind::Condition(Condition::Water(quantity)) => Some(quantity),
                _ => None,
            })
    }

    /// Whether it had expired by a day.
    #[must_use]
    pub fn has_expired(&self, today: Option<Date>) -> bool {
        today
            .zip(self.expires)
            .is_some_and(|(today, expires)| today > expires)
    }
}

/// Whether two identities are one substance; none where that cannot be told.
#[must_use]
pub fn same_substance(a: &Identity, b: &Identity) -> Option<bool> {
    if let (Some(a), Some(b)) = (a.substance, b.substance)
        && a == b
    {
        return Some(true);
    }
    if a.name.eq_ignore_ascii_case(&b.name) {
        return Some(true);
    }
    match (&a.formula, &b.formula) {
        (Some(a), Some(b)) if !a.same_composition(b) => Some(false),
        _ => None,
    }
}

/// Whether two lines state the same strength.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Agreement {
    /// Both state the same within their digits, or both state none.
    Same,
    /// They state different ones.
    Differ,
    /// One states none, or they are stated in ways that cannot be compared.
    Unclear,
}

/// A strength in M or N of an entry's substance.
fn concentration(quantity: &Quantity, entry: &Entry) -> Option<Known<Concentration>> {
    let substance = match quantity.unit.dimension {
        Dimension::Normality => Identity::of(entry, 0).substance,
        _ => None,
    };
    material::molarity(quantity, 0, substance).ok()
}

/// Compares the strength of a line of a plan with that of a bottle. A bottle without a label is known by its
/// titre, which may be off by a quarter.
#[must_use]
pub fn compare(line: &Entry, bottle: &Entry) -> Agreement {
    /// A titre that is further off is of another bottle; common practice.
    const FAR: f64 = 0.25;
    let label = |entry: &Entry| {
        entry.fields.iter().find_map(|field| match &field.kind {
            FieldKind::Strength(strength) => Some((
                strength.form,
                strength.quantity,
                strength.carrier.as_ref().map(|(text, _)| text.text.clone()),
            )),
            FieldKind::Assay(quantity) => Some((StrengthForm::MassFraction, Some(*quantity), None)),
            _ => None,
        })
    };
    let titre = |entry: &Entry| {
        entry.fields.iter().find_map(|field| match field.kind {
            FieldKind::Found(quantity) => Some(quantity),
            _ => None,
        })
    };
    let of_line = |quantity: &Quantity| concentration(quantity, line);
    let of_bottle = |quantity: &Quantity| concentration(quantity, bottle);
    match (label(line), label(bottle)) {
        (None, None) if titre(line).is_none() && titre(bottle).is_none() => Agreement::Same,
        (None, _) => Agreement::Unclear,
        (Some((_, strength, _)), None) => {
            let titre = titre(bottle).as_ref().and_then(of_bottle);
            match (strength.as_ref().and_then(of_line), titre) {
                (Some(line), Some(titre)) => {
                    agreement((line.value - titre.value).abs() <= line.value * FAR)
                }
                _ => Agreement::Unclear,
            }
        }
        (Some((form, a, in_a)), Some((other, b, in_b))) => {
            let carriers = in_a.zip(in_b).and_then(|(a, b)| {
                let named = |name: &str| entry(name).ok().map(|entry| Identity::of(&entry, 0));
                same_substance(&named(&a)?, &named(&b)?)
            });
            if carriers == Some(false) {
                return Agreement::Differ;
            }
            match (a, b) {
                (None, None) if form == other => Agreement::Same,
                (Some(a), Some(b)) => {
                    let pair = of_line(&a).zip(of_bottle(&b)).map(|(a, b)| near(&a, &b));
                    let shares = convert::share(&a, 0).zip(convert::share(&b, 0));
                    let shares = shares.filter(|_| form == other).map(|(a, b)| near(&a, &b));
                    pair.or(shares).map_or(Agreement::Unclear, agreement)
                }
                _ => Agreement::Unclear,
            }
        }
    }
}

/// Labels are nominal: one says the same as another that lies within its digits.
fn near<Q>(a: &Known<Q>, b: &Known<Q>) -> bool
where
    Q: Copy + PartialOrd + std::ops::Sub<Output = Q> + std::ops::Mul<f64, Output = Q>,
{
    let apart = if a.value < b.value {
        b.value - a.value
    } else {
        a.value - b.value
    };
    let digits = if a.half_width < b.half_width {
        b.half_width
    } else {
        a.half_width
    };
    apart <= digits * 1.000_001
}

fn agreement(same: bool) -> Agreement {
    if same {
        Agreement::Same
    } else {
        Agreement::Differ
    }
}

impl Kept for Inventory {
    const FILE: &str = "inventory.toml";

    fn read(text: &str) -> Inventory {
        let mut inventory = Inventory {
            text: text.into(),
            ..Inventory::default()
        };
        for part in tables::parts(text) {
            match &part.root {
                Ok(root) => inventory.root(text, root, part.start),
                Err(error) => inventory.unread(&part, error),
            }
        }
        inventory
            .problems
            .sort_by_key(|problem| problem.range.start);
        inventory
    }

    fn unreadable(reason: String) -> Inventory {
        Inventory {
            problems: vec![Problem::of_the_whole(reason)],
            ..Inventory::default()
        }
    }

    fn text(&self) -> &Arc<str> {
        &self.text
    }

    fn problems(&self) -> &[Problem] {
        &self.problems
    }
}

impl Inventory {
    /// The bottle of this name: exactly, or else ignoring case if only one fits.
    #[must_use]
    pub fn find(&self, name: &str) -> Lookup {
        if let Some(bottle) = self.bottles.iter().find(|bottle| &*bottle.name == name) {
            return Lookup::Found(bottle.clone());
        }
        let lower = name.to_lowercase();
        let mut fits = self
            .bottles
            .iter()
            .filter(|bottle| bottle.name.to_lowercase() == lower);
        match (fits.next(), fits.next()) {
            (Some(only), None) => Lookup::Found(only.clone()),
            (None, _)
                if self
                    .broken
                    .iter()
                    .any(|(broken, _)| broken.to_lowercase() == lower) =>
            {
                Lookup::Broken
            }
            _ => Lookup::Missing,
        }
    }

    /// Names that are near to this one, the nearest first.
    #[must_use]
    pub fn nearest(&self, name: &str) -> Vec<&str> {
        /// Below this similarity two names have little in common.
        const NEAR: f64 = 0.8;
        let name = name.to_lowercase();
        let mut near: Vec<(f64, &str)> = self
            .bottles
            .iter()
            .map(|bottle| {
                let likeness = strsim::jaro_winkler(&bottle.name.to_lowercase(), &name);
                (likeness, &*bottle.name)
            })
            .filter(|(likeness, _)| *likeness >= NEAR)
            .collect();
        near.sort_by(|a, b| b.0.total_cmp(&a.0));
        near.into_iter().map(|(_, name)| name).take(3).collect()
    }

    fn problem(&mut self, range: Range<usize>, message: impl Into<String>) {
        self.problems.push(Problem {
            range,
            message: message.into(),
        });
    }

    fn unread(&mut self, part: &Part<'_>, error: &toml::de::Error) {
        let problem = part.problem(error);
        if let Some(name) = name_in_broken(part.text) {
            self.broken.push((name, problem.range.clone()));
        }
        self.problems.push(problem);
    }

    /// `text` is the whole, whose part from `start` on was read as `root`.
    fn root(&mut self, text: &str, root: &DeTable<'_>, start: usize) {
        for (key, value) in root {
            let range = shift(key.span(), start);
            match (&**key.get_ref(), value.get_ref()) {
                ("bottle", DeValue::Array(bottles)) => {
                    for bottle in bottles {
                        match bottle.get_ref() {
                            DeValue::Table(table) => self.bottle(text, table, start, range.clone()),
                            _ => self.problem(
                                shift(bottle.span(), start),
                                "A bottle is a table: write `[[bottle]]` and its fields below.",
                            ),
                        }
                    }
                }
                ("bottle", _) => self.problem(
                    range,
                    "Bottles are a list: write `[[bottle]]`, with two brackets on either side.",
                ),
                (other, DeValue::Array(_) | DeValue::Table(_))
                    if strsim::osa_distance(other, "bottle") <= 2 =>
                {
                    let message = format!("`{other}` is not looked at: did you mean `[[bottle]]`?");
                    self.problem(range, message);
                }
                _ => {}
            }
        }
    }

    fn bottle(&mut self, text: &str, table: &DeTable<'_>, start: usize, header: Range<usize>) {
        let reader = Reader { text, table, start };
        let whole = reader.range().unwrap_or(header);
        let name = reader.string("name");
        match reader.bottle(&whole) {
            Ok(bottle) => {
                let first = self.bottles.iter().find(|other| other.name == bottle.name);
                if let Some(first) = first {
                    let line = |range: &Range<usize>| {
                        let before = self.text.get(..range.start).unwrap_or_default();
                        before.matches('\n').count() + 1
                    };
                    let message = format!(
                        "There is a bottle {} on line {} already, and that one counts, not this on line {}: give this one another name.",
                        bottle.name,
                        line(&first.range),
                        line(&bottle.range)
                    );
                    self.problem(bottle.range.clone(), message);
                } else {
                    self.bottles.push(Arc::new(bottle));
                }
            }
            Err(problems) => {
                if let (Ok(Some((name, _))), Some(first)) = (name, problems.first()) {
                    self.broken.push((name, first.range.clone()));
                }
                self.problems.extend(problems);
            }
        }
    }
}

impl Reader<'_> {
    /// Fields in the language's own words, each tried alone so that a problem is told at its place.
    fn fields(
        &self,
        key: &'static str,
        wrap: impl Fn(&str) -> String,
        fits: fn(&FieldKind) -> bool,
        example: &str,
    ) -> Read<String> {
        let Some((text, range)) = self.string(key)? else {
            return Ok(None);
        };
        if text.starts_with(|c: char| c.is_ascii_digit()) && text.parse::<f64>().is_ok() {
            let unit = match key {
                "assay" => "%",
                "water" => "ppm",
                _ => "M",
            };
            return Err(Problem {
                message: format!(
                    "{key} {text} has no unit: write \"{text} {unit}\", if that is meant."
                ),
                range,
            });
        }
        let field = wrap(&text);
        let line = format!("water, {field}");
        let read = entry(&line).map(|entry| {
            let fields = entry.fields.get(1..).unwrap_or_default();
            !fields.is_empty() && fields.iter().all(|field| fits(&field.kind))
        });
        match read {
            Ok(true) => Ok(Some((field, range))),
            Ok(false) => Err(Problem {
                message: format!("`{text}` is no {key}: write it as in {example}."),
                range,
            }),
            Err(reason) => Err(Problem {
                message: format!(
                    "`{text}` cannot be read as {key}: {reason} It is written as in {example}."
                ),
                range,
            }),
        }
    }

    fn substance(&self) -> Read<String> {
        let Some((text, range)) = self.string("substance")? else {
            return Ok(None);
        };
        let is_identity = |kind: &FieldKind| {
            matches!(
                kind,
                FieldKind::Name(_)
                    | FieldKind::Mixture(_)
                    | FieldKind::Cas(_)
                    | FieldKind::Smiles(Some(_))
                    | FieldKind::Inchi(_)
                    | FieldKind::Formula(_)
            )
        };
        let message = match entry(&text) {
            Ok(entry) if entry.fields.iter().all(|field| is_identity(&field.kind)) => {
                return Ok(Some((text, range)));
            }
            Ok(_) => format!(
                "`{text}` says more than the substance: write how strong it is under `strength`."
            ),
            Err(reason) => format!("`{text}` cannot be read as a substance: {reason}"),
        };
        Err(Problem { range, message })
    }

    fn density(&self) -> Read<String> {
        let fits = |kind: &FieldKind| matches!(kind, FieldKind::Density(..));
        let number = self
            .value("density")
            .filter(|value| matches!(value.get_ref(), DeValue::Float(_) | DeValue::Integer(_)));
        let Some(value) = number else {
            let wrap = |text: &str| format!("d {text}");
            return self.fields("density", wrap, fits, "0.693 or \"0.693 g/mL\"");
        };
        let range = shift(value.span(), self.start);
        let field = format!("d {}", self.text.get(range.clone()).unwrap_or_default());
        match entry(&format!("water, {field}")) {
            Ok(read) if read.fields.get(1).is_some_and(|field| fits(&field.kind)) => {
                Ok(Some((field, range)))
            }
            _ => Err(Problem {
                range,
                message: "This is no density: write it in g/mL, as in 0.693.".to_owned(),
            }),
        }
    }

    fn left(&self) -> Result<Option<Quantity>, Problem> {
        let Some((text, range)) = self.string("left")? else {
            return Ok(None);
        };
        let quantity = syntax::read_quantity(&text).filter(|quantity| {
            matches!(quantity.unit.dimension, Dimension::Volume | Dimension::Mass)
        });
        quantity.map(Some).ok_or_else(|| Problem {
            range,
            message: format!(
                "`{text}` is no volume and no mass: write what is left as in \"85 mL\" or \"12 g\"."
            ),
        })
    }

    fn bottle(&self, whole: &Range<usize>) -> Result<Bottle, Vec<Problem>> {
        let mut problems: Vec<Problem> = self.misspelt(KEYS).collect();
        let name = kept(self.string("name"), &mut problems);
        let substance = kept(self.substance(), &mut problems);
        let is_strength = |kind: &FieldKind| {
            matches!(
                kind,
                FieldKind::Strength(_) | FieldKind::Assay(_) | FieldKind::Wet(..)
            )
        };
        let same = |text: &str| text.to_owned();
        let strengths = ["strength", "assay"].map(|key| {
            let example = "\"2.5 M in hexanes\", \"98 %\" or \"60 wt% in mineral oil\"";
            kept(self.fields(key, same, is_strength, example), &mut problems)
        });
        let titre = self.fields(
            "titre",
            |text| format!("found {text}"),
            |kind| matches!(kind, FieldKind::Found(_)),
            "\"2.41 M\"",
        );
        let titre = kept(titre, &mut problems);
        let density = kept(self.density(), &mut problems);
        let water = self.fields(
            "water",
            |text| format!("{text} water"),
            |kind| matches!(kind, FieldKind::Condition(Condition::Water(_))),
            "\"12 ppm\"",
        );
        let water = kept(water, &mut problems);
        let left = kept(self.left(), &mut problems);
        let place = kept(self.string("place"), &mut problems);
        let [titred, water_measured, opened, expires] =
            ["titred", "water-measured", "opened", "expires"]
                .map(|key| kept(self.date(key), &mut problems));
        for (key, missing) in [
            ("name", self.value("name").is_none()),
            ("substance", self.value("substance").is_none()),
        ] {
            if missing {
                problems.push(Problem {
                    range: whole.clone(),
                    message: format!("This bottle has no `{key}`: add it."),
                });
            }
        }
        if let ([Some(_), Some((_, range))], true) = (&strengths, problems.is_empty()) {
            problems.push(Problem {
                range: range.clone(),
                message: "`strength` and `assay` are two words for one thing: keep one.".to_owned(),
            });
        }
        let (Some((name, range)), Some((substance, at)), true) =
            (name, substance, problems.is_empty())
        else {
            for problem in &mut problems {
                problem
                    .message
                    .push_str(" The bottle does not count until then.");
            }
            return Err(problems);
        };
        let mut line = substance;
        let strength = strengths
            .iter()
            .flatten()
            .next()
            .map(|(text, _)| text.as_str().into());
        let parts = strengths.into_iter().chain([titre, density, water]);
        for (field, _) in parts.flatten() {
            line.push_str(", ");
            line.push_str(&field);
        }
        let entry = entry(&line).map_err(|reason| {
            vec![Problem {
                range: at,
                message: format!("The fields of this bottle do not fit together: {reason}"),
            }]
        })?;
        if let Some(message) = unlikely_titre(&entry) {
            return Err(vec![Problem {
                range: whole.clone(),
                message,
            }]);
        }
        let material = Material::resolve(KeyId(0), 0, &entry, false, &Context::default());
        Ok(Bottle {
            name: name.into(),
            range,
            material,
            entry,
            strength,
            titred,
            water_measured,
            left,
            place: place.map(|(place, _)| place.into()),
            opened,
            expires,
        })
    }
}

/// A titre that is no titre of this label: a solution loses strength, and gains little by drying out.
fn unlikely_titre(entry: &Entry) -> Option<String> {
    /// Times the label; common practice.
    const MOST: f64 = 1.5;
    let of = |wanted: fn(&FieldKind) -> Option<&Quantity>| {
        let quantity = entry.fields.iter().find_map(|field| wanted(&field.kind))?;
        Some((quantity, concentration(quantity, entry)?.value))
    };
    let (label, nominal) = of(|kind| match kind {
        FieldKind::Strength(strength) => strength.quantity.as_ref(),
        _ => None,
    })?;
    let (titre, found) = of(|kind| match kind {
        FieldKind::Found(quantity) => Some(quantity),
        _ => None,
    })?;
    (found > nominal * MOST).then(|| {
        format!(
            "The titre, {}, is far above the strength, {}: one of them is a slip. The bottle does not count until then.",
            written(titre),
            written(label)
        )
    })
}

/// A line of materials with this body, or why it cannot be one.
fn entry(body: &str) -> Result<Arc<Entry>, String> {
    let plan = syntax::read_plan(&format!("materials\nbottle-line: {body}\n"));
    let line = plan.lines.into_iter().nth(1);
    let Some(line) = line else {
        return Err("it is empty.".to_owned());
    };
    if let Some(problem) = line.problems.into_iter().next() {
        return Err(problem.message);
    }
    match line.statement {
        Statement::Entry(entry) if line.comment.is_none() => Ok(entry),
        _ => Err("a `#` would begin a comment.".to_owned()),
    }
}

/// The name of a bottle whose table is not TOML, as far as its line is.
fn name_in_broken(part: &str) -> Option<String> {
    part.lines().find_map(|line| {
        let (key, value) = line.split_once('=')?;
        let name = DeValue::parse(value.trim()).ok()?;
        (key.trim() == "name").then(|| name.get_ref().as_str().map(str::to_owned))?
    })
}

/// A number of days ago, in words.
#[must_use]
pub fn days(days: i64) -> String {
    match days {
        1 => "1 day".to_owned(),
        _ => format!("{days} days"),
    }
}

/// A quantity as an inventory writes it.
#[must_use]
pub fn written(quantity: &Quantity) -> String {
    let about = match quantity.bound {
        syntax::Bound::Exact => "",
        syntax::Bound::About => "about ",
        syntax::Bound::AtMost => "< ",
        syntax::Bound::AtLeast => "> ",
    };
    let number = |number: &Number| number.value.to_string();
    let to = quantity
        .to
        .as_ref()
        .map_or_else(String::new, |to| format!(" to {}", number(to)));
    format!(
        "{about}{}{to} {}",
        number(&quantity.number),
        crate::show::unit(&quantity.unit)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const TWO: &str = r#"
# The fridge.
[[bottle]]
name = "etmgbr-2"
substance = "ethylmagnesium bromide"
strength = "3.0 M in diethyl ether"
titre = "2.87 M"
titred = 2026-03-02
left = "85 mL"
supplier = "our own"

[[bottle]]
name = "mtbe-7"
substance = "1634-04-4"
density = 0.740
water = "12 ppm"
water-measured = 2026-03-02
place = "bench 3 # left"
opened = 2026-02-01
expires = 2028-02-29
"#;

    fn names(inventory: &Inventory) -> Vec<&str> {
        inventory
            .bottles
            .iter()
            .map(|bottle| &*bottle.name)
            .collect()
    }

    fn shown<'a>(inventory: &'a Inventory, problem: &'a Problem) -> (&'a str, &'a str) {
        (&inventory.text[problem.range.clone()], &problem.message)
    }

    #[test]
    fn every_field_is_read() {
        let inventory = Inventory::read(TWO);
        assert_eq!(inventory.problems, []);
        assert_eq!(names(&inventory), ["etmgbr-2", "mtbe-7"]);
        let [first, second] = inventory.bottles.as_slice() else {
            panic!("two bottles");
        };
        assert_eq!(&inventory.text[first.range.clone()], "\"etmgbr-2\"");
        assert_eq!(written(first.titre().expect("a titre")), "2.87 M");
        assert_eq!(first.titred, Date::new(2026, 3, 2));
        assert_eq!(written(first.left.as_ref().expect("what is left")), "85 mL");
        assert_eq!(
            first.material.strength_text.as_deref(),
            Some("3.0 M in diethyl ether, found 2.87 M")
        );
        assert_eq!(written(second.water().expect("water")), "12 ppm");
        assert_eq!(second.place.as_deref(), Some("bench 3 # left"));
        assert_eq!(second.expires, Date::new(2028, 2, 29));
        let density = second.material.density.as_ref().expect("a density");
        assert!(
            (density.value.value - 740.0).abs() < 1e-9
                && (density.half_width.value - 0.5).abs() < 1e-9
        );
        assert!(second.has_expired(Date::new(2028, 3, 1)) && !second.has_expired(second.expires));
        assert!(!second.has_expired(None));
    }

    #[test]
    fn a_broken_table_takes_no_other_with_it() {
        for (broken, at) in [
            (TWO.replace("\"2.87 M\"", "\"2.87 M"), "2.87"),
            (TWO.replace("titre =", "titre"), "titre"),
            (
                TWO.replace("2026-03-02\nleft", "2026-02-30\nleft"),
                "2026-02-30",
            ),
            (TWO.replacen("[[bottle]]", "[[bottle]", 1), "[[bottle]"),
            (TWO.replace("\"2.87 M\"", "\"2.87 mL\""), "2.87 mL"),
            (TWO.replace("\"2.87 M\"", "2.87"), "2.87"),
            (TWO.replace("titre =", "titer ="), "titer"),
            (TWO.replace("2.87 M", "28.7 M"), "name = \"etmgbr-2\""),
            (
                TWO.replace("3.0 M in diethyl ether", "3.0 M in diethyl ether, 2 mL"),
                "3.0 M",
            ),
            (TWO.replace("\"85 mL\"", "\"a little\""), "a little"),
            (
                TWO.replace("= 2026-03-02\nleft", "= \"2026-03-02\"\nleft"),
                "2026-03-02",
            ),
            (
                TWO.replace("ethylmagnesium bromide", "ethylmagnesium bromide, 1 g"),
                "ethyl",
            ),
        ] {
            let inventory = Inventory::read(&broken);
            assert_eq!(names(&inventory), ["mtbe-7"], "{broken}");
            let problem = inventory.problems.first().expect("a problem");
            let line = broken[..problem.range.start].matches('\n').count();
            let expected = broken.find(at).map(|at| broken[..at].matches('\n').count());
            assert_eq!(Some(line), expected, "{:?}", shown(&inventory, problem));
            assert!(
                matches!(inventory.find("etmgbr-2"), Lookup::Broken),
                "{broken}"
            );
        }
    }

    #[test]
    fn what_is_missing_or_twice_is_told() {
        let inventory =
            Inventory::read("[[bottle]]\nname = \"a\"\n[[bottle]]\nsubstance = \"water\"\n");
        let told: Vec<_> = inventory
            .problems
            .iter()
            .map(|p| shown(&inventory, p))
            .collect();
        assert_eq!(told.len(), 2, "{told:?}");
        assert!(
            told[0].1.contains("no `substance`") && told[1].1.contains("no `name`"),
            "{told:?}"
        );
        let twice = format!("{TWO}{TWO}");
        let inventory = Inventory::read(&twice);
        assert_eq!((inventory.bottles.len(), inventory.problems.len()), (2, 2));
        // The first bottle's name stands on the fourth line of 18, which begin with an empty one.
        let again = &inventory.problems[0];
        let lines = TWO.matches('\n').count();
        assert!(
            again.message.contains("bottle etmgbr-2 on line 4 already")
                && again.message.contains(&format!("line {}:", lines + 4)),
            "{again:?}"
        );
        for (field, write) in [
            ("assay = \"98\"", "write \"98 %\""),
            ("assay = 98", "write \"98 %\""),
            ("assay = 97.5", "write \"97.5 %\""),
            ("strength = \"2.5\"", "write \"2.5 M\""),
            ("titre = \"2.41\"", "write \"2.41 M\""),
            ("water = \"12\"", "write \"12 ppm\""),
        ] {
            let text = format!("[[bottle]]\nname = \"a\"\nsubstance = \"benzaldehyde\"\n{field}\n");
            let inventory = Inventory::read(&text);
            let [problem] = inventory.problems.as_slice() else {
                panic!("{field}: {:?}", inventory.problems);
            };
            assert!(problem.message.contains(write), "{field}: {problem:?}");
        }
        for wrong in [
            "[bottle]\nname = \"a\"",
            "bottle = 3",
            "[[bottles]]",
            "bottle = [1]",
        ] {
            assert_eq!(Inventory::read(wrong).problems.len(), 1, "{wrong}");
        }
        assert_eq!(Inventory::read("[bench]\nnumber = 3\n").problems, []);
    }

    #[test]
    fn names_are_found_as_keys_are() {
        let inventory = Inventory::read(TWO);
        assert!(matches!(inventory.find("EtMgBr-2"), Lookup::Found(_)));
        assert!(matches!(inventory.find("etmgbr-3"), Lookup::Missing));
        assert_eq!(inventory.nearest("etmgbr-3"), ["etmgbr-2"]);
    }

    #[test]
    fn strengths_are_compared_within_their_digits() {
        let line =
            |fields: &str| entry(&format!("ethylmagnesium bromide{fields}")).expect("a line");
        for (a, b, expected) in [
            (
                ", 3.0 M in diethyl ether",
                ", 3.00 M in ether",
                Agreement::Same,
            ),
            (
                ", 3.0 M in diethyl ether",
                ", 3.0 M in THF",
                Agreement::Differ,
            ),
            (", 3.0 M", ", 2.0 M", Agreement::Differ),
            (", 3.0 M", ", found 2.87 M", Agreement::Same),
            (", 1.0 M", ", found 2.87 M", Agreement::Differ),
            (", 98 %", ", 99 %", Agreement::Differ),
            (", 98 %", ", 3.0 M", Agreement::Unclear),
            ("", ", 3.0 M", Agreement::Unclear),
            ("", "", Agreement::Same),
        ] {
            assert_eq!(compare(&line(a), &line(b)), expected, "{a} against {b}");
        }
    }

    #[test]
    fn nothing_makes_it_fall() {
        for text in [
            "[",
            "[[",
            "=",
            "\u{feff}[[bottle]]",
            "[[bottle]]\nname = \"\"\"\n[x\n",
            "a = [\n[1],\n",
            "[[bottle]]\nname=\"µ\u{1F9EA}",
        ] {
            let inventory = Inventory::read(text);
            for problem in &inventory.problems {
                assert!(
                    text.get(problem.range.clone()).is_some(),
                    "{text:?}: {problem:?}"
                );
            }
        }
    }
}
