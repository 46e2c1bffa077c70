//! Every line of `conformance.txt` has the reading and the problems that stand below it.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::single_range_in_vec_init,
    reason = "a test that cannot go on has failed"
)]

use syntax::{
    Amount, AmountKind, Clause, CountKind, Entry, Equipment, EquipmentKind, Field, FieldKind,
    KeyKind, Modifier, ModifierKind, Number, Place, PlaceKind, PlanText, Portion, Problem,
    Quantity, Reaction, Referent, RemarkKind, Run, Said, Sense, Span, Standing, Statement,
    Strength, TemperatureKind, TemperatureValue, Term, TermReferent, Text, Thing, TimeKind, Verb,
};

const CASES: &str = include_str!("conformance.txt");

struct Case {
    number: usize,
    block: String,
    extra: Vec<(KeyKind, String)>,
    line: String,
    reading: String,
    problems: String,
}

fn cases() -> Vec<Case> {
    let mut cases: Vec<Case> = Vec::new();
    let (mut block, mut extra) = (String::new(), Vec::new());
    for (number, line) in (1..).zip(CASES.lines()) {
        match line.split_at_checked(1) {
            Some(("@", rest)) => {
                let (name, keys) = rest.split_once('+').unwrap_or((rest, ""));
                block = name.trim().to_owned();
                extra = keys.split_whitespace().map(extra_key).collect();
            }
            Some((">", rest)) => {
                let line = unescape(rest.strip_prefix(' ').unwrap_or(rest));
                let (block, extra) = (block.clone(), extra.clone());
                cases.push(Case {
                    number,
                    block,
                    extra,
                    line,
                    reading: String::new(),
                    problems: String::new(),
                });
            }
            Some(("=", rest)) => cases.last_mut().unwrap().reading = unescape(rest.trim()),
            Some(("!", rest)) => cases.last_mut().unwrap().problems = rest.trim().to_owned(),
            Some(("#", _)) | None => {}
            Some(_) => panic!("line {number} of conformance.txt is not in its notation: {line}"),
        }
    }
    cases
}

fn extra_key(word: &str) -> (KeyKind, String) {
    let (kind, name) = match word.split_once(':') {
        Some(("p", name)) => (KeyKind::Product, name),
        Some(("b", name)) => (KeyKind::ByProduct, name),
        Some(("v", name)) => (KeyKind::Vessel, name),
        Some(("h", name)) => (KeyKind::Holder, name),
        Some(("e", name)) => (KeyKind::Tool, name),
        Some(("s", name)) => (KeyKind::Kept, name),
        Some(("m", name)) => (KeyKind::Material, name),
        _ => (KeyKind::Material, word),
    };
    (kind, name.to_owned())
}

fn unescape(text: &str) -> String {
    let mut out = String::new();
    let mut chars = text.chars();
    while let Some(c) = chars.next() {
        match (c, c == '\\') {
            (_, false) => out.push(c),
            _ => match chars.next() {
                Some('u') => {
                    let code: String = chars.by_ref().take(4).collect();
                    out.push(char::from_u32(u32::from_str_radix(&code, 16).unwrap()).unwrap());
                }
                Some('t') => out.push('\t'),
                Some('\\') => out.push('\\'),
                other => {
                    out.push('\\');
                    out.extend(other);
                }
            },
        }
    }
    out
}

/// A plan around the line, and the line's place in it. A key that the line declares itself is left out.
fn context(case: &Case) -> (String, usize) {
    let declares = case
        .line
        .split_once([':', '\u{ff1a}'])
        .map_or(case.line.trim(), |(key, _)| key.trim());
    let mut keys: Vec<(KeyKind, &str)> = Vec::new();
    keys.extend(
        ["ketone", "salt", "base", "thf", "nh4cl", "pentane"].map(|key| (KeyKind::Material, key)),
    );
    keys.extend([
        (KeyKind::Product, "alkene"),
        (KeyKind::Vessel, "flask"),
        (KeyKind::Tool, "bar"),
        (KeyKind::Tool, "needles"),
    ]);
    keys.push((KeyKind::Holder, "syringe"));
    for (kind, name) in &case.extra {
        keys.retain(|(_, other)| other != name);
        keys.push((*kind, name));
    }
    keys.retain(|(_, key)| !key.eq_ignore_ascii_case(declares));
    let mut text = String::from("plan context\n");
    if case.block == "none" {
        text.push_str(&case.line);
        text.push('\n');
    }
    let blocks: &[(&str, &[(KeyKind, &str)])] = &[
        ("materials", &[(KeyKind::Material, "sodium chloride")]),
        (
            "products",
            &[
                (KeyKind::Product, "sodium chloride"),
                (KeyKind::ByProduct, "water, by-product"),
            ],
        ),
        (
            "equipment",
            &[
                (KeyKind::Vessel, "flask"),
                (KeyKind::Holder, "vial"),
                (KeyKind::Tool, "tool"),
            ],
        ),
    ];
    for (block, kinds) in blocks {
        text.push_str(block);
        text.push('\n');
        for (kind, what) in *kinds {
            for (_, key) in keys.iter().filter(|(other, _)| other == kind) {
                text.push_str(&format!("{key}: {what}\n"));
            }
        }
    }
    text.push_str("steps\n");
    for (_, key) in keys.iter().filter(|(kind, _)| *kind == KeyKind::Kept) {
        text.push_str(&format!("keep solid as {key}\n"));
    }
    if case.block == "none" {
        return (text, 1);
    }
    if case.block != "steps" {
        text.push_str(&case.block);
        text.push('\n');
    }
    let line = text.lines().count();
    text.push_str(&case.line);
    (text, line)
}

#[test]
fn every_line_has_its_reading() {
    let cases = cases();
    let mut wrong = 0;
    for case in &cases {
        let (text, number) = context(case);
        let plan = syntax::read_plan(&text);
        let line = &plan.lines[number];
        let printer = Printer {
            plan: &plan,
            line: &case.line,
            problems: &line.problems,
        };
        let reading = printer.statement(&line.statement, line.comment.is_some());
        let same = parts(&reading) == parts(&case.reading);
        let codes = printer.matches(&case.problems);
        if !same || !codes {
            wrong += 1;
            println!("{}: > {}", case.number, case.line);
            println!("   wanted {}\n   got    {reading}", case.reading);
            println!(
                "   wanted ! {}\n   got    ! {}",
                case.problems,
                printer.codes()
            );
        }
    }
    assert_eq!(wrong, 0, "of {} lines", cases.len());
}

/// The reading as its parts, whose order does not matter.
fn parts(reading: &str) -> Vec<Vec<&str>> {
    reading
        .split(" || ")
        .map(|clause| {
            let mut parts: Vec<&str> = clause.split(" | ").map(str::trim).collect();
            parts.sort_unstable();
            parts
        })
        .collect()
}

struct Printer<'a> {
    plan: &'a PlanText,
    line: &'a str,
    problems: &'a [Problem],
}

/// Look-alikes as the readings write them.
fn plain(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\u{2212}' => '-',
            '\u{a0}' => ' ',
            '\u{d7}' => 'x',
            '\u{2032}' => '\'',
            c => c,
        })
        .collect()
}

impl Printer<'_> {
    fn slice(&self, span: Span) -> String {
        plain(&self.line[span.start as usize..span.end as usize])
    }

    fn codes(&self) -> String {
        let codes: Vec<String> = self
            .problems
            .iter()
            .map(|p| format!("{} {}", p.code, self.slice(p.span)))
            .collect();
        codes.join("; ")
    }

    /// Whether the problems are these, where each is a code and perhaps the text that it points at.
    fn matches(&self, wanted: &str) -> bool {
        let mut left: Vec<&Problem> = self.problems.iter().collect();
        for problem in wanted
            .split(';')
            .map(str::trim)
            .filter(|problem| !problem.is_empty())
        {
            let (code, text) = problem.split_once(' ').unwrap_or((problem, ""));
            let found = left
                .iter()
                .position(|p| p.code == code && (text.is_empty() || self.slice(p.span) == text));
            let Some(found) = found else { return false };
            left.remove(found);
        }
        left.is_empty()
    }

    fn statement(&self, statement: &Statement, comment: bool) -> String {
        let optional = |text: &Option<Text>| {
            text.as_ref()
                .map_or(String::new(), |text| format!(" {}", text.text))
        };
        match statement {
            Statement::Blank => {
                if comment {
                    "comment".into()
                } else {
                    String::new()
                }
            }
            Statement::Plan(title) => format!("plan{}", optional(title)),
            Statement::Header(block) => format!("header {}", format!("{block:?}").to_lowercase()),
            Statement::Scale(scale) => {
                let quantity = scale
                    .quantity
                    .as_ref()
                    .map_or(String::new(), |q| format!(" {}", self.slice(q.span)));
                let key = if scale.quantity.is_some() {
                    optional(&scale.key)
                } else {
                    String::new()
                };
                format!("scale{quantity}{key}")
            }
            Statement::Room(quantities) => {
                let all: Vec<String> = quantities.iter().map(|q| self.slice(q.span)).collect();
                format!("room {}", all.join(" | "))
            }
            Statement::Reaction(reaction) => self.reaction(reaction),
            Statement::Start(time) => match time {
                Some((minutes, span)) => {
                    assert_eq!(
                        format!("{}:{:02}", minutes / 60, minutes % 60),
                        self.slice(*span)
                    );
                    format!("start {}", self.slice(*span))
                }
                None => "start".into(),
            },
            Statement::Remark(kind, text) => {
                let word = match kind {
                    RemarkKind::Author => "author",
                    RemarkKind::Date => "date",
                    RemarkKind::Source => "source",
                    RemarkKind::Note => "note",
                    RemarkKind::Remark => "remark",
                };
                format!("{word}{}", optional(text))
            }
            Statement::Entry(entry) => self.entry(entry),
            Statement::Equipment(equipment) => self.equipment(equipment),
            Statement::Run(run) => self.run(run),
            Statement::Place(place) => self.place(place),
            Statement::Step(step) => {
                if step.clauses.is_empty() {
                    return "step ?".into();
                }
                let clauses: Vec<String> = step
                    .clauses
                    .iter()
                    .map(|clause| self.clause(clause))
                    .collect();
                let step = if clauses[0].starts_with("expect ") || clauses[0].starts_with("check ")
                {
                    ""
                } else {
                    "step "
                };
                format!("{step}{}", clauses.join(" || "))
            }
            Statement::Unread(text) => format!("unread {}", text.text),
        }
    }

    fn reaction(&self, reaction: &Reaction) -> String {
        let term = |term: &Term| {
            let (over, under) = term.coefficient;
            let factor = if under == 1 {
                over.to_string()
            } else {
                format!("{over}/{under}")
            };
            let unknown = self
                .problems
                .iter()
                .any(|p| p.code == "unknown-key" && p.span == term.name.span);
            let name = match term.referent {
                TermReferent::Key(id) => self.key(id),
                TermReferent::Other if unknown => format!("?{}", term.name.text),
                TermReferent::Other => format!("formula:{}", term.name.text),
            };
            format!("{factor} {name}")
        };
        let side = |terms: &[Term]| terms.iter().map(term).collect::<Vec<_>>().join(" + ");
        match reaction.arrow {
            Some(_) => format!(
                "reaction {} -> {}",
                side(&reaction.left),
                side(&reaction.right)
            ),
            None if !reaction.right.is_empty() => {
                format!(
                    "reaction {} = {}",
                    side(&reaction.left),
                    side(&reaction.right)
                )
            }
            None => format!("reaction {}", side(&reaction.left)),
        }
    }

    fn key(&self, id: syntax::KeyId) -> String {
        self.plan.key(id).unwrap().name.text.to_string()
    }

    /// What is said of a line follows its key.
    fn run(&self, run: &Run) -> String {
        let mut parts = vec![format!("run {}", run.label.text)];
        parts.extend(
            run.amount
                .map(|amount| format!("amount {}", self.slice(amount.span))),
        );
        for change in &run.changes {
            let said = match &change.said {
                Some(Said::Entry(entry)) => self.entry(entry),
                Some(Said::Equipment(equipment)) => self.equipment(equipment),
                None => format!("entry ?{}", change.key.text),
            };
            parts.extend(said.split(" | ").map(str::to_owned));
        }
        parts.join(" | ")
    }

    fn entry(&self, entry: &Entry) -> String {
        let mut parts = vec![format!("entry {}", entry.key.text)];
        parts.extend(entry.fields.iter().filter_map(|field| self.field(field)));
        parts.join(" | ")
    }

    fn field(&self, field: &Field) -> Option<String> {
        let whole = self.slice(field.span);
        Some(match &field.kind {
            FieldKind::Name(text) => format!("id {}", text.text),
            FieldKind::Mixture(parts) => format!("mix {}", mixture(parts)),
            FieldKind::Cas(text) => format!("cas {}", text.text),
            FieldKind::Smiles(text) => text
                .as_ref()
                .map_or("smiles".into(), |text| format!("smiles {}", text.text)),
            FieldKind::Inchi(text) => format!("inchi {}", text.text),
            FieldKind::Formula(text) => format!("formula {}", text.text),
            FieldKind::MolarMass(number) => format!("mw {}", self.slice(number.span)),
            FieldKind::Density(number, _) => format!("d {}", self.slice(number.span)),
            FieldKind::Boiling(q) => format!("bp {}", self.slice(q.span)),
            FieldKind::Pressure(q) => format!("pressure {}", self.slice(q.span)),
            FieldKind::Melting(q) => format!("mp {}", self.slice(q.span)),
            FieldKind::Amount(Amount {
                kind: AmountKind::FillTo,
                quantity,
                ..
            }) => {
                format!("fill-to {}", self.slice(quantity.unwrap().span))
            }
            FieldKind::Amount(amount) => format!("amount {}", self.amount(amount)),
            FieldKind::Strength(strength) => format!("strength {}", self.strength(strength)),
            FieldKind::Found(q) => format!("found {}", self.slice(q.span)),
            FieldKind::Assay(q) => format!("assay {}", self.slice(q.span)),
            FieldKind::Wet(q, text) => format!("wet {} {}", self.slice(q.span), text.text),
            FieldKind::Role(_) => format!("role {whole}"),
            FieldKind::Nature { .. } => format!("nature {whole}"),
            FieldKind::Condition(_) => format!("condition {whole}"),
            FieldKind::Form(text) => format!("form {}", text.text),
            FieldKind::Bottle(text) => format!("bottle {}", text.text),
            FieldKind::Expect(q) => format!("expect {}", self.slice(q.span)),
            FieldKind::Obtained(q) => format!("obtained {}", self.slice(q.span)),
            FieldKind::Took(q) => format!("took {}", self.slice(q.span)),
            // Reported as unknown-field.
            FieldKind::Other(_) => return None,
        })
    }

    fn amount(&self, amount: &Amount) -> String {
        let Some(quantity) = &amount.quantity else {
            return self.slice(amount.span);
        };
        let of = amount
            .of
            .as_ref()
            .map_or(String::new(), |(name, id)| match id {
                Some(id) => format!(" of {}", self.key(*id)),
                None => format!(" of ?{}", name.text),
            });
        format!("{}{of}", self.slice(quantity.span))
    }

    fn strength(&self, strength: &Strength) -> String {
        let head = strength
            .quantity
            .map_or_else(|| self.slice(strength.span), |q| self.slice(q.span));
        strength
            .carrier
            .as_ref()
            .map_or(head.clone(), |(text, id)| {
                let before = self.line[..text.span.start as usize].trim_end();
                let word = if before.ends_with("on") { "on" } else { "in" };
                let key = if id.is_some() { "key " } else { "" };
                format!("{head} {word} {key}{}", text.text)
            })
    }

    fn equipment(&self, equipment: &Equipment) -> String {
        let mut parts = vec![
            format!("entry {}", equipment.key.text),
            format!("text {}", equipment.text.text),
        ];
        let sizes: Vec<String> = equipment.sizes.iter().map(|q| self.slice(q.span)).collect();
        if !sizes.is_empty() {
            parts.push(format!("capacity {}", sizes.join(" & ")));
        }
        if let Some(number) = equipment.number {
            parts.push(format!("number {number}"));
        }
        parts.push(
            match equipment.kind {
                EquipmentKind::Vessel => "vessel",
                EquipmentKind::Holder => "holder",
                EquipmentKind::Tool => "tool",
            }
            .into(),
        );
        parts.join(" | ")
    }

    fn place(&self, place: &Place) -> String {
        let word = match place.kind {
            PlaceKind::In => "place",
            PlaceKind::Meanwhile => "meanwhile",
            PlaceKind::OutOf => "leave",
            PlaceKind::DayBefore => "the day before",
            PlaceKind::OnTheDay => "on the day",
        };
        place
            .thing
            .as_ref()
            .map_or(word.into(), |thing| match thing.referent {
                Referent::Key(id) => format!("{word} {}", self.key(id)),
                Referent::Place => format!("{word} {}", thing.name.text),
                _ => format!("{word} ?{}", thing.name.text),
            })
    }

    fn clause(&self, clause: &Clause) -> String {
        if matches!(clause.verb, Verb::Expect | Verb::Check | Verb::Note) {
            let text = clause
                .text
                .as_ref()
                .map_or(String::new(), |text| format!(" {}", text.text));
            return format!("{}{text}", clause.verb.word());
        }
        let senses: Vec<&str> = clause
            .senses
            .iter()
            .map(|sense| match sense {
                Sense::Glass => "glass",
                Sense::Solid => "solid",
                Sense::Liquid => "liquid",
                Sense::Contents => "contents",
                Sense::Flow => "flow",
                Sense::Cycles => "cycles",
                Sense::Weighed => "weighed",
            })
            .collect();
        let colon = if senses.is_empty() { "" } else { ":" };
        let mut parts = vec![format!("{}{colon}{}", clause.verb.word(), senses.join(","))];
        if !clause.objects.is_empty() {
            parts.push(format!("obj {}", self.things(&clause.objects)));
        }
        parts.extend(
            clause
                .modifiers
                .iter()
                .map(|modifier| self.modifier(modifier)),
        );
        parts.join(" | ")
    }

    fn things(&self, things: &[Thing]) -> String {
        things
            .iter()
            .map(|thing| self.thing(thing))
            .collect::<Vec<_>>()
            .join(" & ")
    }

    fn thing(&self, thing: &Thing) -> String {
        let adjective = thing
            .adjective
            .as_ref()
            .map_or(String::new(), |text| format!("{} ", text.text));
        let name = &thing.name.text;
        let text = match &thing.referent {
            Referent::Key(id) | Referent::Kept(id) => format!("{adjective}{}", self.key(*id)),
            Referent::Standing(standing, vessel) => {
                let word = match standing {
                    Standing::Organics => "organics",
                    Standing::Aqueous => "aqueous",
                    Standing::Filtrate => "filtrate",
                    Standing::Solid => "solid",
                    Standing::Liquid => "liquid",
                    Standing::Residue => "residue",
                };
                let of = vessel.map_or(String::new(), |id| format!(" of {}", self.key(id)));
                format!("{adjective}{word}{of}")
            }
            Referent::Gas { flowing: true } => format!("flow of gas:{name}"),
            Referent::Gas { flowing: false } => format!("gas:{name}"),
            Referent::Substance(strength) => {
                let strength = strength
                    .as_ref()
                    .map(|strength| (strength.span, self.strength(strength)));
                match strength {
                    Some((span, strength)) if span.start < thing.name.span.start => {
                        format!("name:{adjective}{strength} {name}")
                    }
                    Some((_, strength)) => format!("name:{adjective}{name} {strength}"),
                    None => format!("name:{adjective}{name}"),
                }
            }
            Referent::Mixture(parts) => format!("mix:{}", mixture(parts)),
            Referent::Place | Referent::Words => format!("word:{name}"),
            Referent::Value => name.to_string(),
            Referent::Unknown => format!("?{name}"),
        };
        if thing.portions.is_empty() {
            return text;
        }
        let portions: Vec<String> = thing
            .portions
            .iter()
            .map(|portion: &Portion| self.slice(portion.span))
            .collect();
        format!("{text} [{}]", portions.join(", "))
    }

    fn modifier(&self, modifier: &Modifier) -> String {
        let whole = self.slice(modifier.span);
        let first = whole.split(' ').next().unwrap_or_default().to_owned();
        let quantity = |q: &Quantity| self.slice(q.span);
        let list = |word: &str, things: &[Thing]| {
            format!("{word} {}", self.things(things)).trim().to_owned()
        };
        match &modifier.kind {
            ModifierKind::DissolvedIn(things) => list("in", things),
            ModifierKind::Place(thing) => format!("place {}", self.thing(thing)),
            ModifierKind::To(things) if matches!(&*first, "into" | "onto") => list(&first, things),
            ModifierKind::To(things) => list("to", things),
            ModifierKind::From(things) => list("from", things),
            ModifierKind::With(things) => list("with", things),
            ModifierKind::Without(things) => list("without", things),
            ModifierKind::OverAgent(things) => list("over", things),
            ModifierKind::On(things) => list("on", things),
            ModifierKind::Through(things) => list("through", things),
            ModifierKind::Under(things) => list("under", things),
            ModifierKind::Via(things) => list("via", things),
            ModifierKind::Other(word, things) => {
                let words: Vec<&str> = things.iter().map(|thing| &*thing.name.text).collect();
                format!("{} {}", word.text, words.join(" & "))
                    .trim()
                    .to_owned()
            }
            ModifierKind::As(text) => format!("as {}", text.text),
            ModifierKind::Time(TimeKind::For, q) => {
                format!("for {}", q.as_ref().map_or(String::new(), quantity))
            }
            ModifierKind::Time(TimeKind::Over, q) => {
                format!("over {}", q.as_ref().map_or(String::new(), quantity))
            }
            ModifierKind::Time(TimeKind::Overnight, _) => "overnight".into(),
            ModifierKind::Temperature(kind, value) => {
                let word = match kind {
                    TemperatureKind::At => "at",
                    TemperatureKind::To => "to",
                    TemperatureKind::From => "from",
                    TemperatureKind::Below => "below",
                    TemperatureKind::Above => "above",
                    TemperatureKind::Bath => "bath",
                };
                match value {
                    TemperatureValue::Quantity(q) => format!("{word} {}", quantity(q)),
                    TemperatureValue::Room(_) => format!("{word} rt"),
                    TemperatureValue::Reflux(_) => format!("{word} reflux"),
                }
            }
            ModifierKind::Pressure(syntax::PressureKind::At, q) => format!("at {}", quantity(q)),
            ModifierKind::Pressure(syntax::PressureKind::To, q) => format!("to {}", quantity(q)),
            ModifierKind::Rate(q) | ModifierKind::Stirring(q) => format!("at {}", quantity(q)),
            ModifierKind::Ph(number) => format!("to pH {}", self.slice(number.span)),
            ModifierKind::Until(q) => format!("to {}", quantity(q)),
            ModifierKind::End(text) => format!("to {}", text.text),
            ModifierKind::Count(CountKind::Times, count) if whole.starts_with('x') => {
                format!("{count}x")
            }
            ModifierKind::Found(q) => format!("found {}", quantity(q)),
            ModifierKind::UntilText(None) => "until".into(),
            ModifierKind::UntilText(Some(text)) => format!("until {}", text.text),
            ModifierKind::Remark(_) if !whole.starts_with('(') => format!("({whole})"),
            ModifierKind::Adverb(_)
            | ModifierKind::Count(..)
            | ModifierKind::LastSteps(_)
            | ModifierKind::Gradient(_)
            | ModifierKind::Remark(_) => whole,
        }
    }
}

fn mixture(parts: &[(Text, Number)]) -> String {
    let names: Vec<&str> = parts.iter().map(|(name, _)| &*name.text).collect();
    let numbers: Vec<String> = parts
        .iter()
        .map(|(_, number)| number.value.to_string())
        .collect();
    format!("{} {}", names.join("/"), numbers.join(":"))
}
