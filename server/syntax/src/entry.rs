//! The fields of a line of materials or products.
//!
//! Every field is tried whole against each form, and the first that no form fits is the identity. Names
//! of keys stay unresolved here: `resolve` finds them when all keys are known.

use crate::ast::{
    Amount, AmountKind, Block, Condition, Entry, Field, FieldKind, Role, Strength, Text,
};
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
    word_strength,
};
use crate::units::is_near_unit;
use crate::vocabulary::{Use, known};
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
        depth: 0,
    };
    reader.read(body);
    reader.catalytic_without_amount();
    reader.percent_of_product();
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
    /// How many parts were split off the field that is read.
    depth: usize,
}

/// The stretches between separators. A comma at the end is reported.
pub(crate) fn split_fields(
    source: &Source<'_>,
    body: &Range<usize>,
    problems: &mut Vec<Problem>,
) -> Vec<Range<usize>> {
    let mut fields = Vec::new();
    let mut start = body.start;
    loop {
        let at = source.separator(start..body.end);
        let field = source.trim(start..at);
        if !field.is_empty() {
            fields.push(field);
        }
        if at >= body.end {
            break;
        }
        start = at + 1;
        if source.trim(start..body.end).is_empty() {
            problems.push(trailing_comma(source, at));
        }
    }
    fields
}

/// Fields that a comma in brackets split, as in `THF (dry, 20 mL)`, joined again.
pub(crate) fn close_brackets(source: &Source<'_>, fields: Vec<Range<usize>>) -> Vec<Range<usize>> {
    let depth = |range: &Range<usize>| {
        source
            .str(range.clone())
            .bytes()
            .fold(0_i32, |depth, byte| match byte {
                b'(' => depth + 1,
                b')' => depth - 1,
                _ => depth,
            })
    };
    let mut joined: Vec<Range<usize>> = Vec::with_capacity(fields.len());
    // The first of the fields since a bracket opened, and how deep they are in it.
    let mut open: Option<(usize, i32)> = None;
    for field in fields {
        let change = depth(&field);
        let end = field.end;
        joined.push(field);
        let last = joined.len() - 1;
        let (first, before) = open.unwrap_or((last, 0));
        let now = before + change;
        open = (now > 0).then_some((first, now));
        if now == 0 && first < last {
            joined.truncate(first + 1);
            if let Some(whole) = joined.last_mut() {
                whole.end = end;
            }
        }
    }
    joined
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
        let fields = close_brackets(self.source, fields);
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

    /// `DMAP, cat.` alone says that there is an amount, and not which.
    fn catalytic_without_amount(&mut self) {
        let counted =
            |field: &Field| matches!(field.kind, FieldKind::Amount(_) | FieldKind::Took(_));
        if self.fields.iter().any(counted) {
            return;
        }
        for field in &self.fields {
            let range = self.source.folded(field.span.start)..self.source.folded(field.span.end);
            if matches!(field.kind, FieldKind::Role(_))
                && catalytic(self.source.str(range.clone())).is_some()
            {
                self.problems.extend(unread(self.source, range));
            }
        }
    }

    /// `85 %` of a product is more often its yield than its purity, which nothing is reckoned with.
    fn percent_of_product(&mut self) {
        let known =
            |field: &Field| matches!(field.kind, FieldKind::Expect(_) | FieldKind::Obtained(_));
        if self.block != Block::Products || self.fields.iter().any(known) {
            return;
        }
        for field in &self.fields {
            let FieldKind::Assay(quantity) = field.kind else {
                continue;
            };
            let range =
                self.source.folded(quantity.span.start)..self.source.folded(quantity.span.end);
            let meant = format!("expect {}", self.source.str(range.clone()));
            let message = format!(
                "{} is read as the purity of the product: for the yield that is expected write `{meant}`.",
                quoted(self.source.str(range))
            );
            self.problems.push(
                Problem::new("percent-of-product", quantity.span, message).mend(
                    format!("Write {meant}"),
                    quantity.span,
                    meant,
                ),
            );
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
        if self.is_named() {
            if is_sum_formula(&text.text) {
                return self.push(FieldKind::Formula(text), span);
            }
            if !is_kept(&text.text) {
                let folded = self.source.folded(span.start)..self.source.folded(span.end);
                let problem = unread(self.source, folded).unwrap_or_else(|| {
                    let message = format!(
                        "{} is no form that a field can have, and the line has its name already: check the spelling, or write it as a comment after `#`.",
                        quoted(&text.text)
                    );
                    Problem::new("unknown-field", span, message)
                });
                self.problems.push(problem);
            }
            self.push(FieldKind::Other(text), span);
        } else {
            self.identified = true;
            self.push(FieldKind::Name(text), span);
        }
    }

    /// Whether the line has a name already; another identity may stand beside it.
    fn is_named(&self) -> bool {
        let is_name =
            |field: &Field| matches!(field.kind, FieldKind::Name(_) | FieldKind::Mixture(_));
        self.identified && self.fields.iter().any(is_name)
    }

    fn push(&mut self, kind: FieldKind, span: crate::ast::Span) {
        self.fields.push(Field { kind, span });
    }

    fn push_at(&mut self, kind: FieldKind, range: Range<usize>) {
        let span = self.source.span(range);
        self.push(kind, span);
    }

    fn field(&mut self, range: Range<usize>) {
        // More parts than this in one field are no plan, and each takes a turn of its own.
        const MOST_PARTS: usize = 16;
        if self.depth >= MOST_PARTS {
            return self.name(self.source.words(range));
        }
        self.depth += 1;
        self.part(range);
        self.depth -= 1;
    }

    fn part(&mut self, range: Range<usize>) {
        let source = self.source;
        if let Some(parts) = self.conditions(&range) {
            for (condition, part) in parts {
                self.push_at(FieldKind::Condition(condition), part);
            }
            return;
        }
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
            // No amount is so many grams for a mole of another thing.
            Dimension::MassPerAmount if self.source.str(range.clone()).ends_with("g/mol") => {
                FieldKind::MolarMass(quantity.number)
            }
            Dimension::Pressure => FieldKind::Pressure(quantity),
            // How coarse it is.
            Dimension::Length => FieldKind::Other(self.source.words(range.clone())),
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
        if words::is_one_of(source.str(range.clone()), &["excess", "xs", "xs."]) {
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
        let mut first_end = source.word_end(range.start, range.end);
        let mut rest = source.trim(first_end..range.end);
        // `MW = 108.64`, `d=0.726`
        if let Some(equals) = source.find(range.clone(), b'=')
            && equals > range.start
            && (equals < first_end || equals == rest.start)
        {
            first_end = source.trim(range.start..equals).end;
            rest = source.trim(equals + 1..range.end);
        }
        let first = source.str(range.start..first_end);
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
        for stored in ["stored over", "kept over", "dried over"] {
            if let Some(stop) = skip_words(source, range.start, range.end, stored)
                && stop < range.end
            {
                let over = source.words(source.trim(stop..range.end));
                return Some(Some(FieldKind::Condition(Condition::Over(over))));
            }
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

    /// `dry`, `dry and degassed`, `dry/degassed`
    fn conditions(&self, range: &Range<usize>) -> Option<Vec<(Condition, Range<usize>)>> {
        const JOINTS: [&str; 3] = [" and ", " & ", "/"];
        // All the conditions that there are take less, and this is asked at every word of a long field.
        const LONGEST: usize = 120;
        let source = self.source;
        let text = source.str(range.clone());
        if text.len() > LONGEST {
            return None;
        }
        if let Some(condition) = condition(text) {
            return Some(vec![(condition, range.clone())]);
        }
        // No condition begins with a number.
        if text.starts_with(|c: char| !c.is_ascii_alphabetic()) {
            return None;
        }
        let joint_at = |at: usize| {
            let rest = text.as_bytes().get(at..)?;
            let may_join = matches!(rest, [b' ' | b'/', ..]);
            let mut joints = JOINTS.iter().filter(|_| may_join);
            joints.find(|joint| rest.starts_with(joint.as_bytes()))
        };
        let mut parts = Vec::new();
        let mut start = 0;
        while start < text.len() {
            let joint = (start..text.len()).find_map(|at| Some((at, joint_at(at)?.len())));
            let (stop, joint) = joint.unwrap_or((text.len(), 0));
            let part = source.trim(range.start + start..range.start + stop);
            parts.push((condition(source.str(part.clone()))?, part));
            start = stop + joint;
        }
        Some(parts)
    }

    fn single_word(&self, text: &str, range: &Range<usize>) -> Option<FieldKind> {
        let known = known(text);
        if let Some(role) = known.role.or_else(|| catalytic(text)) {
            return Some(FieldKind::Role(role));
        }
        if let Some(nature) = known.nature {
            return Some(FieldKind::Nature {
                nature,
                denied: false,
            });
        }
        if known.is(Use::Form) {
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
            self.field(name);
            return inside.into_iter().for_each(|part| self.field(part));
        }
        if let Some((kind, name)) = leading_word(source, &range) {
            let stop = source.trim(range.start..name.start).end;
            self.push_at(kind, range.start..stop);
            return self.field(name);
        }
        // Beside the name, what begins like a strength is one, or nothing that can be told.
        if self.is_named() {
            if is_kept(source.str(range.clone())) {
                return self.name(source.words(range));
            }
            if let Some(problem) = lacks_in(source, &range) {
                return self.problems.push(problem);
            }
            if leading_strength(source, range.clone(), &mut Vec::new()).is_some() {
                return self.name(source.words(range));
            }
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
            let name = name_before(source, range.start..at);
            let between = source.trim(name.end..at);
            self.field(name.clone());
            if between.is_empty() {
                self.missing_comma(name.end);
            } else {
                let span = source.span(name.end..between.end);
                let message = "A comma separates the name from what follows it.";
                let problem = Problem::new("missing-comma", source.span(between), message);
                self.problems.push(problem.mend("Write a comma", span, ","));
            }
            return self.field(at..range.end);
        }
        if let Some(problem) = strength_in_name(source, &range) {
            self.problems.push(problem);
        }
        if let Some(problem) = lone_unknown_unit(source, range.clone()) {
            return self.problems.push(problem);
        }
        self.name(source.words(range));
    }

    /// `n-BuLi (2.5 M in hexanes)`, `NaH (60% in oil)`, `THF (dry, 20 mL)`: strengths, amounts, assays and conditions
    /// in brackets behind the name, and anything in them that was meant as one. Other brackets are part of the name.
    fn bracketed(&self, range: &Range<usize>) -> Option<(Range<usize>, Vec<Range<usize>>)> {
        let source = self.source;
        let text = source.str(range.clone());
        let open = text.strip_suffix(')')?.rfind(" (")?;
        let name = source.trim(range.start..range.start + open);
        let inside = source.trim(range.start + open + 2..range.end - 1);
        if name.is_empty() || inside.is_empty() {
            return None;
        }
        let parts = split_fields(source, &inside, &mut Vec::new());
        let fits = parts.iter().any(|part| self.fits_bracket(part));
        fits.then_some((name, parts))
    }

    fn fits_bracket(&self, part: &Range<usize>) -> bool {
        let source = self.source;
        match scan_whole(source, part.clone()) {
            Some(Scan::Quantity(quantity)) => {
                let dimension = quantity.unit.dimension;
                dimension == Dimension::Percent
                    || amount_kind(dimension).is_some()
                    || strength_form(dimension).is_some()
            }
            Some(Scan::Bare(..)) => false,
            Some(Scan::Bad(_)) => true,
            None => {
                let text = source.str(part.clone());
                self.conditions(part).is_some()
                    || catalytic(text).is_some()
                    || is_kept(text)
                    || strength(source, part.clone(), &mut Vec::new()).is_some()
                    || speaks_of_strength(source, part)
            }
        }
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
            let strong =
                word_strength(source, at, range.end).is_some_and(|(_, stop)| stop == range.end);
            if at < range.end
                && (strong
                    || self.conditions(&tail).is_some()
                    || is_grade(source.str(tail.clone())))
            {
                return Some(at);
            }
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
    ("FW", Label::MolarMass),
    ("d", Label::Density),
    ("density", Label::Density),
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
    ("dried", Condition::Dry),
    ("extra dry", Condition::Dry),
    ("oven-dried", Condition::Dry),
    ("flame-dried", Condition::Dry),
    ("anhydrous", Condition::Dry),
    ("anh.", Condition::Dry),
    ("abs.", Condition::Dry),
    ("absolute", Condition::Dry),
    ("degassed", Condition::Degassed),
    ("sparged", Condition::Degassed),
    ("deoxygenated", Condition::Degassed),
    ("unstabilised", Condition::Unstabilised),
    ("unstabilized", Condition::Unstabilised),
    ("uninhibited", Condition::Unstabilised),
    ("inhibitor-free", Condition::Unstabilised),
    ("stabiliser-free", Condition::Unstabilised),
    ("stabilizer-free", Condition::Unstabilised),
    ("distilled", Condition::Distilled),
    ("dist.", Condition::Distilled),
    ("freshly distilled", Condition::Distilled),
    ("redistilled", Condition::Distilled),
    ("activated", Condition::Activated),
    ("freshly activated", Condition::Activated),
    ("used as received", Condition::AsReceived),
];

/// Conditions that may stand before a name as they do after it. `activated carbon` and `distilled water` are
/// names of their own.
const LEADING: &[&str] = &[
    "dry",
    "extra dry",
    "anhydrous",
    "anh.",
    "abs.",
    "absolute",
    "degassed",
    "freshly distilled",
];

/// Fields that are kept as they are: how pure a thing was bought, and what was done to it.
fn is_kept(text: &str) -> bool {
    let text = text.to_ascii_lowercase();
    let first = text.split(' ').next().unwrap_or_default();
    let done = [
        "recrystallised",
        "recrystallized",
        "sublimed",
        "purified",
        "filtered",
        "washed",
        "crushed",
        "ground",
        "titrated",
        "fresh",
        "freshly",
        "neat",
        "commercial",
        "stored",
        "deionised",
        "deionized",
    ];
    let grades = ["p.a.", "puriss.", "tech.", "technical", "racemic"];
    done.contains(&first)
        || grades.contains(&&*text)
        || ["ee", "de", "proof"].contains(&text.rsplit(' ').next().unwrap_or_default())
        || is_grade(&text)
        || text.ends_with(" grade")
        || text.ends_with(" mesh")
}

/// `C12H16O2` beside a name, and no silica `C18`: a formula of several elements with a count.
fn is_sum_formula(text: &str) -> bool {
    let elements = text.bytes().filter(u8::is_ascii_uppercase).count();
    elements > 1 && text.bytes().any(|byte| byte.is_ascii_digit()) && words::is_formula(text)
}

/// Why a field that no form fits is worse than an unknown word: it speaks of an amount or of a strength.
fn unread(source: &Source<'_>, range: Range<usize>) -> Option<Problem> {
    let number = scan_number(source, number_start(source, &range), range.end).is_some();
    let text = source.str(range.clone());
    if speaks_of_strength(source, &range) {
        let message = format!(
            "The strength {} is not read: write it as in `1.6 M in hexanes`, `60 wt% in mineral oil` or `sat. aq.`.",
            quoted(text)
        );
        return Some(Problem::new("unread-strength", source.span(range), message));
    }
    let mut words = text.split(' ');
    (number || words.any(|word| words::is_one_of(word, AMOUNT_WORDS))).then(|| {
        let message = format!(
            "The amount {} is not read: write it as in `1.20 eq`, `5 mol%`, `2.14 g`, `20 mL` or `2 drops`.",
            quoted(text)
        );
        Problem::new("unread-amount", source.span(range), message)
    })
}

const AMOUNT_WORDS: &[&str] = &[
    "amount",
    "cat",
    "cat.",
    "catalytic",
    "crystal",
    "crystals",
    "drop",
    "drops",
    "eq",
    "eq.",
    "equiv",
    "equiv.",
    "equivalent",
    "equivalents",
    "equimolar",
    "few",
    "pinch",
    "spatula",
    "trace",
    "traces",
];

/// Past brackets and signs that a number may stand behind.
fn number_start(source: &Source<'_>, range: &Range<usize>) -> usize {
    let text = source.str(range.clone());
    let before = text.len()
        - text
            .trim_start_matches(['(', '[', '~', '<', '>', '=', ';', '/', ' '])
            .len();
    range.start + before
}

/// `1.0 M THF`, `1.6M/Et2O`, `[0.2 M]`, `60% dispersion`, `solution in THF`, `in hexanes`
fn speaks_of_strength(source: &Source<'_>, range: &Range<usize>) -> bool {
    const WORDS: &[&str] = &[
        "solution",
        "soln.",
        "soln",
        "dispersion",
        "suspension",
        "sat",
        "sat.",
        "saturated",
        "conc",
        "conc.",
        "concentrated",
        "dil",
        "dil.",
        "dilute",
        "aq",
        "aq.",
        "aqueous",
    ];
    let start = number_start(source, range);
    if let Some(Scan::Quantity(quantity)) = scan(source, start, range.end).map(|found| found.scan) {
        return strength_form(quantity.unit.dimension).is_some();
    }
    if let Some((_, stop)) = scan_number(source, start, range.end) {
        let unit = source.str(source.skip_space(stop, range.end)..range.end);
        let rest = unit.strip_prefix('m').unwrap_or(unit);
        let rest = rest.strip_prefix(['M', 'N', '%']);
        return rest.is_some_and(|rest| !rest.starts_with(char::is_alphanumeric));
    }
    let first = source.word_end(start, range.end);
    let word = source.str(start..first);
    let rest = source.str(source.trim(first..range.end));
    let carried = word.eq_ignore_ascii_case("in")
        && !rest.is_empty()
        && (!rest.contains(' ') || rest.ends_with(" oil"));
    carried || words::is_one_of(word, WORDS)
}

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

/// A strength that could not be told from the name: `DIBAL-H 1.0 M hexanes`, `BuLi solution in hexanes`, `dil. HCl`.
fn strength_in_name(source: &Source<'_>, range: &Range<usize>) -> Option<Problem> {
    let mut at = range.start;
    while at < range.end {
        let stop = source.word_end(at, range.end);
        let word = source.str(at..stop);
        let first = at == range.start;
        let strong = if first {
            words::is_one_of(word, &["dil.", "dil", "dilute"]) && stop < range.end
        } else {
            source.byte(at).is_ascii_digit() && speaks_of_strength(source, &(at..range.end))
                || words::is_one_of(word, &["solution", "soln.", "soln", "dispersion"])
                    && carrier(source, at, range.end).is_some()
        };
        if strong {
            return unread(source, if first { at..stop } else { at..range.end });
        }
        at = source.skip_space(stop, range.end);
    }
    None
}

/// The name in `NBS; ` and `NBS - `. A dash that a name touches is its own.
fn name_before(source: &Source<'_>, range: Range<usize>) -> Range<usize> {
    let name = source.trim(range);
    let text = source.str(name.clone());
    let bare = text
        .strip_suffix([';', ':'])
        .or_else(|| text.strip_suffix(" -"))
        .unwrap_or(text);
    source.trim(name.start..name.start + bare.len())
}

/// `anhydrous` in `anhydrous DMF`, `cat.` in `cat. DMAP`, `HPLC grade` in `HPLC grade THF`, and the name after it.
fn leading_word(source: &Source<'_>, range: &Range<usize>) -> Option<(FieldKind, Range<usize>)> {
    let split = |stop: usize| {
        let name = source.trim(stop..range.end);
        (!name.is_empty()).then_some((source.str(range.start..stop), name))
    };
    if let Some((words, name)) = LEADING
        .iter()
        .find_map(|word| skip_words(source, range.start, range.end, word))
        .and_then(split)
    {
        let kept = source.str(name.clone()).eq_ignore_ascii_case("ice");
        return Some((FieldKind::Condition(condition(words)?), name)).filter(|_| !kept);
    }
    let first = source.word_end(range.start, range.end);
    let (word, name) = split(first)?;
    if let Some(role) = catalytic(word) {
        return Some((FieldKind::Role(role), name));
    }
    let grade = if word.to_ascii_lowercase().ends_with("-grade") {
        first
    } else {
        skip_words(
            source,
            source.skip_space(first, range.end),
            range.end,
            "grade",
        )?
    };
    let (_, name) = split(grade)?;
    Some((FieldKind::Other(source.words(range.start..grade)), name))
}

/// `cat.` says what a thing is for, and how little of it there is, but not how much.
fn catalytic(text: &str) -> Option<Role> {
    words::is_one_of(text, &["cat.", "cat", "catalytic", "catalytic amount"])
        .then_some(Role::Catalyst)
}

/// `HPLC grade` or `balloon` at the end of a name.
fn is_grade(text: &str) -> bool {
    // This is asked at every word of a long field.
    const LONGEST: usize = 40;
    let ends = |tail: &str| {
        let start = text.len().checked_sub(tail.len());
        start
            .and_then(|start| text.get(start..))
            .is_some_and(|end| end.eq_ignore_ascii_case(tail))
    };
    text.len() <= LONGEST
        && (text.eq_ignore_ascii_case("balloon")
            || ends("-grade") && !text.contains(' ')
            || ends(" grade") && text.matches(' ').count() == 1)
}

/// `1.0 M THF`, `1.6M/Et2O` beside the name: the strength is meant in the liquid.
fn lacks_in(source: &Source<'_>, range: &Range<usize>) -> Option<Problem> {
    let (_, stop) = scan_number(source, range.start, range.end)?;
    let unit = source.skip_space(stop, range.end);
    let stop = unit + usize::from(matches!(source.byte(unit), b'M' | b'N'));
    let rest = source.trim(stop..range.end);
    let liquid = source.str(rest).trim_start_matches('/').trim_start();
    let plain = liquid.starts_with(char::is_alphanumeric) && !liquid.contains(' ');
    if stop == unit || !plain || !matches!(source.byte(stop), b' ' | b'/') {
        return None;
    }
    let meant = format!("{} in {liquid}", source.str(range.start..stop));
    let problem = unread(source, range.clone())?;
    Some(problem.mend(format!("Write {meant}"), source.span(range.clone()), meant))
}

/// The condition that a field states with words alone.
fn condition(text: &str) -> Option<Condition> {
    const LONGEST: usize = 80;
    // The most fields begin with a number.
    if text.len() > LONGEST || !text.starts_with(|c: char| c.is_ascii_alphabetic()) {
        return None;
    }
    let found = CONDITIONS
        .iter()
        .find(|(word, _)| text.eq_ignore_ascii_case(word));
    if let Some((_, condition)) = found {
        return Some(condition.clone());
    }
    let behind = |text: &str, start: &str| {
        let begins = text.get(..start.len())?.eq_ignore_ascii_case(start);
        begins.then_some(start.len())
    };
    let rest = behind(text, "freshly ").and_then(|at| text.get(at..));
    let rest = rest.unwrap_or(text);
    [
        ("distilled from ", Condition::Distilled),
        ("distilled over ", Condition::Distilled),
        ("distilled under ", Condition::Distilled),
        ("dist. from ", Condition::Distilled),
        ("dist. over ", Condition::Distilled),
        ("activated with ", Condition::Activated),
        ("activated by ", Condition::Activated),
        ("dried at ", Condition::Dry),
        ("dried under ", Condition::Dry),
        ("dried in ", Condition::Dry),
        ("flame-dried under ", Condition::Dry),
        ("oven-dried at ", Condition::Dry),
    ]
    .into_iter()
    .find_map(|(start, condition)| {
        behind(rest, start).filter(|at| *at < rest.len())?;
        Some(condition)
    })
}

/// `20 m` where no such unit is.
fn lone_unknown_unit(source: &Source<'_>, range: Range<usize>) -> Option<Problem> {
    let (_, stop) = scan_number(source, range.start, range.end)?;
    let word = source.trim(stop..range.end);
    let text = source.str(word);
    (is_near_unit(text) || text.contains('%') && text.len() < 6)
        .then(|| unknown_unit(source, range))
}
