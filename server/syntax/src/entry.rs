//! The fields of a line of materials or products.
//!
//! Every field is tried whole against each form, and the first that no form fits is the identity. Names
//! of keys stay unresolved here: `resolve` finds them when all keys are known.

use crate::ast::{Amount, AmountKind, Block, Condition, Entry, Field, FieldKind, Strength, Text};
use crate::fold::Source;
use crate::identity::{begins_with_locant, cas_number, is_locants, mixture};
use crate::line::skip_words;
use crate::number::{Dimension, Number, Quantity};
use crate::numbers::scan_number;
use crate::plan_text::Problem;
use crate::problem::quoted;
use crate::quantities::{
    Scan, bare_number, is_relative, join, list, scan, scan_whole, unknown_unit,
};
use crate::strength::{
    amount_kind, carrier, leading_amount, leading_strength, strength, strength_form, uncounted,
};
use crate::units::is_near_unit;
use crate::words;
use std::ops::Range;

/// What a bare number in a field may have been meant as.
const FIELD_DIMENSIONS: &[Dimension] = &[
    Dimension::Equivalents,
    Dimension::Amount,
    Dimension::Mass,
    Dimension::Volume,
];

/// Reads the body of an entry. `named` is false for a line without its colon, of which nothing is demanded.
pub(crate) fn read_entry(
    source: &Source<'_>,
    key: Range<usize>,
    body: Range<usize>,
    block: Block,
    named: bool,
    problems: &mut Vec<Problem>,
) -> Entry {
    let mut reader = Reader {
        source,
        block,
        fields: Vec::new(),
        problems,
        identified: false,
    };
    reader.read(body);
    let identified = reader.identified;
    let fields = reader.fields;
    let key = source.words(key);
    if named && !identified {
        let message = format!(
            "{} has no identity: write a name, a formula, a CAS number, `SMILES …` or `InChI=…`.",
            quoted(&key.text)
        );
        problems.push(Problem::new("missing-identity", key.span, message));
    }
    Entry {
        key,
        product: block == Block::Products,
        fields,
    }
}

struct Reader<'a, 'b> {
    source: &'a Source<'a>,
    block: Block,
    fields: Vec<Field>,
    problems: &'b mut Vec<Problem>,
    identified: bool,
}

/// The stretches between separators. A comma at the end is reported.
pub(crate) fn split_fields(
    source: &Source<'_>,
    body: &Range<usize>,
    problems: &mut Vec<Problem>,
) -> Vec<Range<usize>> {
    let mut fields = Vec::new();
    let mut start = body.start;
    for at in body.clone() {
        if source.is_separator(at, body.end) {
            let field = source.trim(start..at);
            if !field.is_empty() {
                fields.push(field);
            }
            start = at + 1;
            if source.trim(start..body.end).is_empty() {
                problems.push(trailing_comma(source, at));
            }
        }
    }
    let field = source.trim(start..body.end);
    if !field.is_empty() {
        fields.push(field);
    }
    fields
}

pub(crate) fn trailing_comma(source: &Source<'_>, at: usize) -> Problem {
    let span = source.span(at..at + 1);
    Problem::new(
        "trailing-comma",
        span,
        "Nothing follows this comma: write the next part, or delete the comma.",
    )
    .mend("Delete the comma", span, "")
}

impl Reader<'_, '_> {
    fn read(&mut self, body: Range<usize>) {
        let fields = split_fields(self.source, &body, self.problems);
        let mut at = 0;
        while let Some(field) = fields.get(at) {
            let mut whole = field.clone();
            at += 1;
            // `1, 4-dioxane`: locants that lost the rest of their name.
            let mut parts = Vec::new();
            while is_locants(self.source.str(whole.clone()))
                && let Some(next) = fields.get(at)
                && begins_with_locant(self.source.str(next.clone()))
            {
                parts.push(whole);
                whole = next.clone();
                at += 1;
            }
            if parts.is_empty() {
                // `benzene, 1,2-dichloro-`: a name as indexes write it.
                if self.source.str(whole.clone()).ends_with('-')
                    && matches!(
                        self.fields.last(),
                        Some(Field {
                            kind: FieldKind::Name(_),
                            ..
                        })
                    )
                {
                    while let Some(next) = fields
                        .get(at)
                        .filter(|next| self.source.str((*next).clone()).ends_with('-'))
                    {
                        whole.end = next.end;
                        at += 1;
                    }
                    self.inverted(whole);
                } else {
                    self.field(whole);
                }
            } else {
                self.joined(&parts, whole);
            }
        }
    }

    /// The rest of a name whose parent stands first.
    fn inverted(&mut self, range: Range<usize>) {
        let (rest, end) = (
            self.source.str(range.clone()),
            self.source.span(range.clone()),
        );
        if let Some(Field {
            kind: FieldKind::Name(name),
            span,
        }) = self.fields.last_mut()
        {
            *span = join(*span, end);
            *name = Text {
                text: format!("{}, {rest}", name.text).into(),
                span: *span,
            };
        }
    }

    fn joined(&mut self, locants: &[Range<usize>], name: Range<usize>) {
        let Some(first) = locants.first() else { return };
        let span = self.source.span(first.start..name.end);
        let mut text = String::new();
        for part in locants {
            text.push_str(self.source.str(part.clone()));
            text.push(',');
        }
        text.push_str(self.source.str(name.clone()));
        let written = quoted(self.source.str(first.start..name.end));
        let message = format!("{written} was read as one name: write `{text}` without the space.");
        self.problems
            .push(Problem::new("space-in-locants", span, message).mend(
                format!("Write {text}"),
                span,
                text.clone(),
            ));
        self.name(Text {
            text: text.into(),
            span,
        });
    }

    fn name(&mut self, text: Text) {
        let span = text.span;
        if self.identified
            && self
                .fields
                .iter()
                .any(|field| matches!(field.kind, FieldKind::Name(_) | FieldKind::Mixture(_)))
        {
            let message = format!(
                "{} is no form that a field can have, and the line has its name already: check the spelling, or write it as a comment after `#`.",
                quoted(&text.text)
            );
            self.problems
                .push(Problem::new("unknown-field", span, message));
            self.push(FieldKind::Other(text), span);
        } else {
            self.identified = true;
            self.push(FieldKind::Name(text), span);
        }
    }

    fn push(&mut self, kind: FieldKind, span: crate::ast::Span) {
        self.fields.push(Field { kind, span });
    }

    fn push_at(&mut self, kind: FieldKind, range: Range<usize>) {
        let span = self.source.span(range);
        self.push(kind, span);
    }

    fn field(&mut self, range: Range<usize>) {
        let source = self.source;
        if let Some(kind) = self.labelled(&range) {
            if let Some(kind) = kind {
                self.push_at(kind, range);
            }
            return;
        }
        if let Some(amount) = uncounted(source, range.clone()).or_else(|| self.word_amount(&range))
        {
            self.push_at(FieldKind::Amount(amount), range);
            return;
        }
        match scan_whole(source, range.clone()) {
            Some(Scan::Quantity(quantity)) => return self.quantity(quantity, range),
            Some(Scan::Bare(..)) => {
                return self
                    .problems
                    .push(bare_number(source, range, FIELD_DIMENSIONS));
            }
            Some(Scan::Bad(problem)) => return self.problems.push(problem),
            None => {}
        }
        if let Some(strength) = strength(source, range.clone(), self.problems) {
            if let Some(strength) = strength {
                self.push_at(FieldKind::Strength(strength), range);
            }
            return;
        }
        self.text(range);
    }

    /// A quantity that is the whole field.
    fn quantity(&mut self, quantity: Quantity, range: Range<usize>) {
        let kind = match quantity.unit.dimension {
            Dimension::Percent => FieldKind::Assay(quantity),
            dimension => match (amount_kind(dimension), strength_form(dimension)) {
                (_, Some(form)) => FieldKind::Strength(Strength {
                    form,
                    quantity: Some(quantity),
                    carrier: None,
                    span: quantity.span,
                }),
                (Some(kind), _) => FieldKind::Amount(Amount {
                    kind,
                    quantity: Some(quantity),
                    of: None,
                    span: quantity.span,
                }),
                _ => {
                    let message = format!(
                        "{} is neither an amount nor a strength: say what it is, as in `bp 116 °C`, or delete it.",
                        quoted(self.source.str(range.clone()))
                    );
                    self.problems.push(Problem::new(
                        "unit-does-not-fit",
                        self.source.span(range),
                        message,
                    ));
                    return;
                }
            },
        };
        self.push_at(kind, range);
    }

    /// `excess`, `to 0.20 M`, `1.0 mL/g of lah`
    fn word_amount(&mut self, range: &Range<usize>) -> Option<Amount> {
        let source = self.source;
        let span = source.span(range.clone());
        if source.str(range.clone()).eq_ignore_ascii_case("excess") {
            return Some(Amount {
                kind: AmountKind::Excess,
                quantity: None,
                of: None,
                span,
            });
        }
        if let Some(stop) = skip_words(source, range.start, range.end, "to")
            && let Some(Scan::Quantity(quantity)) =
                scan_whole(source, source.skip_space(stop, range.end)..range.end)
            && quantity.unit.dimension == Dimension::Molarity
        {
            return Some(Amount {
                kind: AmountKind::FillTo,
                quantity: Some(quantity),
                of: None,
                span,
            });
        }
        let scanned = scan(source, range.start, range.end)?;
        let Scan::Quantity(quantity) = scanned.scan else {
            return None;
        };
        let dimension = quantity.unit.dimension;
        let kind = amount_kind(dimension).filter(|_| {
            is_relative(dimension)
                || matches!(dimension, Dimension::Equivalents | Dimension::MolPercent)
        })?;
        let of = skip_words(
            source,
            source.skip_space(scanned.end, range.end),
            range.end,
            "of",
        )?;
        let mut at = source.skip_space(of, range.end);
        if let Some(stop) = skip_words(source, at, range.end, "the") {
            at = source.skip_space(stop, range.end);
        }
        let key = at..range.end;
        (!key.is_empty() && !source.str(key.clone()).contains(' ')).then_some(())?;
        Some(Amount {
            kind,
            quantity: Some(quantity),
            of: Some((source.words(key), None)),
            span,
        })
    }

    /// Fields that begin with a word that says what they are, or are such a word. `Some(None)` was reported.
    fn labelled(&mut self, range: &Range<usize>) -> Option<Option<FieldKind>> {
        let source = self.source;
        let text = source.str(range.clone());
        let first_end = source.word_end(range.start, range.end);
        let first = source.str(range.start..first_end);
        let rest = source.trim(first_end..range.end);
        if let Some(kind) = self.single_word(text, range) {
            return Some(Some(kind));
        }
        if let Some(cas) = cas_number(source, range) {
            self.identified = true;
            return Some(Some(FieldKind::Cas(cas)));
        }
        let label = LABELS
            .iter()
            .find(|(label, _)| first.eq_ignore_ascii_case(label))
            .map(|&(_, label)| label);
        if text.starts_with("InChI=") && !text.contains(' ') {
            self.identified = true;
            return Some(Some(FieldKind::Inchi(source.words(range.clone()))));
        }
        let label = label?;
        if rest.is_empty() && !matches!(label, Label::Smiles) {
            return None;
        }
        Some(match label {
            Label::Smiles => {
                self.identified = true;
                let missing = rest.is_empty();
                if source.str(rest.clone()).contains(' ') {
                    return None;
                }
                Some(FieldKind::Smiles((!missing).then(|| source.words(rest))))
            }
            Label::Formula => {
                self.identified = true;
                Some(FieldKind::Formula(source.words(rest)))
            }
            Label::MolarMass => self
                .number(rest, Dimension::MassPerAmount)
                .map(|(number, _)| FieldKind::MolarMass(number)),
            Label::Density if scan(source, rest.start, rest.end).is_none() => return None,
            Label::Density => self
                .number(rest, Dimension::MassConcentration)
                .map(|(number, unit)| FieldKind::Density(number, unit)),
            Label::Boiling => self
                .labelled_quantity(rest, &[Dimension::Temperature])?
                .map(FieldKind::Boiling),
            Label::Melting => self
                .labelled_quantity(rest, &[Dimension::Temperature])?
                .map(FieldKind::Melting),
            Label::Found => self
                .labelled_quantity(rest, STRENGTHS)?
                .map(FieldKind::Found),
            Label::Obtained => self
                .labelled_quantity(rest, MEASURED)?
                .map(FieldKind::Obtained),
            Label::Took => self.labelled_quantity(rest, MEASURED)?.map(FieldKind::Took),
            Label::Expect => {
                let kind = self
                    .labelled_quantity(rest, &[Dimension::Percent])?
                    .map(FieldKind::Expect);
                if kind.is_some() && self.block == Block::Materials {
                    let message = "An expected yield belongs to a line of `products`.";
                    self.problems.push(Problem::new(
                        "expect-outside-products",
                        source.span(range.clone()),
                        message,
                    ));
                }
                kind
            }
            Label::Bottle => Some(FieldKind::Bottle(source.words(rest))),
            Label::Over => Some(FieldKind::Condition(Condition::Over(source.words(rest)))),
            Label::Not => {
                let nature = words::nature(source.str(rest))?;
                Some(FieldKind::Nature {
                    nature,
                    denied: true,
                })
            }
            Label::Wet => {
                let with = skip_words(source, rest.start, rest.end, "with")?;
                let at = source.skip_space(with, rest.end);
                let scanned = scan(source, at, rest.end)?;
                let Scan::Quantity(quantity) = scanned.scan else {
                    return None;
                };
                let liquid = source.trim(scanned.end..rest.end);
                let is_share = matches!(
                    quantity.unit.dimension,
                    Dimension::MassPercent | Dimension::Percent
                );
                (is_share && !liquid.is_empty()).then_some(())?;
                Some(FieldKind::Wet(quantity, source.words(liquid)))
            }
        })
    }

    fn single_word(&self, text: &str, range: &Range<usize>) -> Option<FieldKind> {
        if let Some(role) = words::role(text) {
            return Some(FieldKind::Role(role));
        }
        if let Some(nature) = words::nature(text) {
            return Some(FieldKind::Nature {
                nature,
                denied: false,
            });
        }
        let condition = CONDITIONS
            .iter()
            .find(|(word, _)| text.eq_ignore_ascii_case(word));
        if let Some((_, condition)) = condition {
            return Some(FieldKind::Condition(condition.clone()));
        }
        if words::is_form(text) {
            return Some(FieldKind::Form(self.source.words(range.clone())));
        }
        let (source, scanned) = (self.source, scan(self.source, range.start, range.end)?);
        match scanned.scan {
            Scan::Quantity(quantity) if quantity.unit.dimension == Dimension::Ppm => {
                let water = skip_words(
                    source,
                    source.skip_space(scanned.end, range.end),
                    range.end,
                    "water",
                )?;
                (water == range.end).then_some(FieldKind::Condition(Condition::Water(quantity)))
            }
            _ => None,
        }
    }

    /// `MW 101.15`, `d 0.905`: a number that needs no unit.
    fn number(
        &mut self,
        range: Range<usize>,
        dimension: Dimension,
    ) -> Option<(Number, Option<Quantity>)> {
        match scan_whole(self.source, range.clone()) {
            Some(Scan::Bare(number, None)) => return Some((number, None)),
            Some(Scan::Quantity(quantity)) if quantity.unit.dimension == dimension => {
                return Some((quantity.number, Some(quantity)));
            }
            Some(Scan::Bad(problem)) => {
                self.problems.push(problem);
                return None;
            }
            // `g/mol` is no unit of the language but here.
            _ => {}
        }
        let found = scan_number(self.source, range.start, range.end);
        if let Some((number, stop)) = found
            && dimension == Dimension::MassPerAmount
            && self
                .source
                .str(self.source.trim(stop..range.end))
                .eq_ignore_ascii_case("g/mol")
        {
            return Some((number, None));
        }
        let message = format!(
            "{} is no number here: write one with a point, as in `0.905`.",
            quoted(self.source.str(range.clone()))
        );
        self.problems.push(Problem::new(
            "unit-does-not-fit",
            self.source.span(range),
            message,
        ));
        None
    }

    /// The quantity after a label. None: no quantity at all, so the field is text; `Some(None)` was reported.
    fn labelled_quantity(
        &mut self,
        range: Range<usize>,
        fit: &[Dimension],
    ) -> Option<Option<Quantity>> {
        let source = self.source;
        Some(match scan_whole(source, range.clone())? {
            Scan::Quantity(quantity) if fit.contains(&quantity.unit.dimension) => Some(quantity),
            Scan::Quantity(quantity) => {
                let units: Vec<&str> = fit
                    .iter()
                    .flat_map(|&dimension| crate::units::units_for(dimension).into_iter().take(2))
                    .collect();
                let message = format!(
                    "{} does not fit here: write {}.",
                    quoted(source.str(range)),
                    list(&units)
                );
                self.problems
                    .push(Problem::new("unit-does-not-fit", quantity.span, message));
                None
            }
            Scan::Bare(..) => {
                self.problems.push(bare_number(source, range, fit));
                None
            }
            Scan::Bad(problem) => {
                self.problems.push(problem);
                None
            }
        })
    }

    /// A field of no other form: a name, perhaps with a strength or amount that lacks its comma.
    fn text(&mut self, range: Range<usize>) {
        let source = self.source;
        if let Some(parts) = mixture(source, range.clone()) {
            self.identified = true;
            return self.push_at(FieldKind::Mixture(parts), range);
        }
        if let Some((name, inside)) = self.bracketed(&range) {
            self.name(source.words(name));
            return self.field(inside);
        }
        if let Some((strength, name)) = leading_strength(source, range.clone(), self.problems) {
            self.name(source.words(name));
            let span = strength.span;
            return self.push(FieldKind::Strength(strength), span);
        }
        if let Some((amount, name)) = leading_amount(source, range.clone()) {
            self.missing_comma(source.trim(range.start..name.start).end);
            self.push(FieldKind::Amount(amount.clone()), amount.span);
            return self.name(source.words(name));
        }
        if let Some(at) = self.trailing_part(&range) {
            let name = source.trim(range.start..at);
            self.name(source.words(name.clone()));
            self.missing_comma(name.end);
            return self.field(at..range.end);
        }
        if let Some(problem) = lone_unknown_unit(source, range.clone()) {
            return self.problems.push(problem);
        }
        self.name(source.words(range));
    }

    /// `n-BuLi (2.5 M in hexanes)`, `NaH (60% in oil)`: a strength, amount or assay in brackets behind the name, and
    /// anything in them that was meant as a number. Other brackets are part of the name.
    fn bracketed(&self, range: &Range<usize>) -> Option<(Range<usize>, Range<usize>)> {
        let source = self.source;
        let text = source.str(range.clone());
        let open = text.strip_suffix(')')?.rfind(" (")?;
        let name = source.trim(range.start..range.start + open);
        let inside = source.trim(range.start + open + 2..range.end - 1);
        if name.is_empty() || inside.is_empty() {
            return None;
        }
        let fits = match scan_whole(source, inside.clone()) {
            Some(Scan::Quantity(quantity)) => {
                let dimension = quantity.unit.dimension;
                dimension == Dimension::Percent
                    || amount_kind(dimension).is_some()
                    || strength_form(dimension).is_some()
            }
            Some(Scan::Bare(..)) => false,
            Some(Scan::Bad(_)) => true,
            None => strength(source, inside.clone(), &mut Vec::new()).is_some(),
        };
        fits.then_some((name, inside))
    }

    fn missing_comma(&mut self, at: usize) {
        let span = self.source.span(at..at);
        let message = "A comma is missing between the name and what follows it.";
        self.problems
            .push(Problem::new("missing-comma", span, message).mend("Insert the comma", span, ","));
    }

    /// Where an amount or a strength begins that ends the name's field.
    fn trailing_part(&self, range: &Range<usize>) -> Option<usize> {
        let source = self.source;
        let mut at = source.word_end(range.start, range.end);
        while at < range.end {
            at = source.skip_space(at, range.end);
            let tail = at..range.end;
            if matches!(source.byte(at), b'0'..=b'9' | b'.' | b'~' | b'<' | b'>') {
                match scan(source, at, range.end).map(|scanned| (scanned.scan, scanned.end)) {
                    Some((Scan::Quantity(quantity), stop)) => {
                        let dimension = quantity.unit.dimension;
                        let whole = stop == range.end
                            && (amount_kind(dimension).is_some()
                                || strength_form(dimension).is_some());
                        if whole
                            || carrier(source, stop, range.end).is_some()
                                && strength_form(dimension).is_some()
                        {
                            return Some(at);
                        }
                    }
                    _ if uncounted(source, tail).is_some() => return Some(at),
                    _ => {}
                }
            }
            at = source.word_end(at, range.end);
        }
        None
    }
}

#[derive(Clone, Copy)]
enum Label {
    Smiles,
    Formula,
    MolarMass,
    Density,
    Boiling,
    Melting,
    Found,
    Obtained,
    Took,
    Expect,
    Bottle,
    Over,
    Not,
    Wet,
}

const LABELS: &[(&str, Label)] = &[
    ("SMILES", Label::Smiles),
    ("formula", Label::Formula),
    ("MW", Label::MolarMass),
    ("d", Label::Density),
    ("bp", Label::Boiling),
    ("mp", Label::Melting),
    ("found", Label::Found),
    ("obtained", Label::Obtained),
    ("took", Label::Took),
    ("expect", Label::Expect),
    ("bottle", Label::Bottle),
    ("over", Label::Over),
    ("not", Label::Not),
    ("wet", Label::Wet),
];

const CONDITIONS: &[(&str, Condition)] = &[
    ("dry", Condition::Dry),
    ("anhydrous", Condition::Dry),
    ("degassed", Condition::Degassed),
    ("unstabilised", Condition::Unstabilised),
    ("unstabilized", Condition::Unstabilised),
    ("distilled", Condition::Distilled),
    ("activated", Condition::Activated),
    ("used as received", Condition::AsReceived),
];

const STRENGTHS: &[Dimension] = &[
    Dimension::Molarity,
    Dimension::Normality,
    Dimension::Molality,
    Dimension::MassPercent,
    Dimension::VolumePercent,
    Dimension::MassPerVolumePercent,
    Dimension::MassConcentration,
    Dimension::AmountPerMass,
];

const MEASURED: &[Dimension] = &[Dimension::Mass, Dimension::Volume, Dimension::Amount];

/// `20 m` where no such unit is.
fn lone_unknown_unit(source: &Source<'_>, range: Range<usize>) -> Option<Problem> {
    let (_, stop) = scan_number(source, range.start, range.end)?;
    let word = source.trim(stop..range.end);
    let text = source.str(word);
    (is_near_unit(text) || text.contains('%') && text.len() < 6)
        .then(|| unknown_unit(source, range))
}
