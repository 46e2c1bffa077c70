//! What every stretch of a line is, for colouring it.

use crate::ast::{
    Clause, Entry, Field, FieldKind, KeyId, Modifier, ModifierKind, Portion, PortionKind, Reaction,
    Referent, RemarkKind, Run, Said, Span, Statement, Strength, TemperatureValue, TermReferent,
    Text, Thing,
};
use crate::number::{Number, Quantity};
use crate::plan_text::{Line, PlanText};

/// What a stretch of a line is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TokenKind {
    /// White space between words.
    Space,
    /// From the `#`.
    Comment,
    /// `plan`, `materials`, `scale` … `note`: the word that a line begins with.
    LineWord,
    /// The title of a plan.
    Title,
    /// A verb of a step.
    Verb,
    /// A preposition, an article, `of`, `and`, a label such as `MW`.
    Word,
    /// An adverb, `rt`, `reflux`, `overnight`: a word of the language with a value.
    Value,
    /// A key where it is declared.
    Declaration,
    /// A key where it is used.
    Key(KeyId),
    /// `organics` and its like.
    Standing,
    /// A substance by name, or a formula.
    Substance,
    /// A number with its sign.
    Number,
    /// A unit.
    Unit,
    /// A role, nature, condition or form.
    Property,
    /// Free text.
    Text,
    /// Separators, brackets, the arrow.
    Punctuation,
    /// What could not be read.
    Unread,
}

/// A stretch of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Token {
    /// What it is.
    pub kind: TokenKind,
    /// Where it is, in bytes from the line's start.
    pub span: Span,
}

/// The tokens of a line, which tile it. Empty for a line that is not there.
#[must_use]
pub fn tokens(plan: &PlanText, line: usize) -> Vec<Token> {
    let Some(line) = plan.lines.get(line) else {
        return Vec::new();
    };
    let start = line.start as usize;
    let text = plan
        .text
        .get(start..start + line.len as usize)
        .unwrap_or_default();
    let mut found = Found { marks: Vec::new() };
    found.line(line, text);
    found.tile(line, text)
}

/// Stretches whose kind is known; the innermost rules where they overlap.
struct Found {
    marks: Vec<(Span, TokenKind)>,
}

impl Found {
    fn mark(&mut self, span: Span, kind: TokenKind) {
        if span.start < span.end {
            self.marks.push((span, kind));
        }
    }

    fn text(&mut self, text: &Text, kind: TokenKind) {
        self.mark(text.span, kind);
    }

    fn line(&mut self, line: &Line, text: &str) {
        if let Some(comment) = line.comment {
            self.mark(comment, TokenKind::Comment);
        }
        match &line.statement {
            Statement::Blank => {}
            Statement::Plan(title) => {
                self.first_word(text);
                if let Some(title) = title {
                    self.text(title, TokenKind::Title);
                }
            }
            Statement::Header(_) => self.first_word(text),
            Statement::Scale(scale) => {
                self.first_word(text);
                scale
                    .quantity
                    .iter()
                    .for_each(|quantity| self.quantity(quantity));
                // The key is coloured as one whether it is declared or not: its problem says the rest.
                scale
                    .key
                    .iter()
                    .for_each(|key| self.text(key, TokenKind::Substance));
            }
            Statement::Room(quantities) => {
                self.first_word(text);
                quantities
                    .iter()
                    .for_each(|quantity| self.quantity(quantity));
            }
            Statement::Reaction(reaction) => {
                self.first_word(text);
                self.reaction(reaction);
            }
            Statement::Start(time) => {
                self.first_word(text);
                time.iter()
                    .for_each(|(_, span)| self.mark(*span, TokenKind::Number));
            }
            Statement::Remark(kind, words) => {
                if *kind != RemarkKind::Remark {
                    self.first_word(text);
                }
                words
                    .iter()
                    .for_each(|words| self.text(words, TokenKind::Text));
            }
            Statement::Entry(entry) => self.entry(entry),
            Statement::Run(run) => self.run(run),
            Statement::Equipment(equipment) => {
                self.text(&equipment.text, TokenKind::Text);
                self.text(&equipment.key, TokenKind::Declaration);
                equipment.sizes.iter().for_each(|size| self.quantity(size));
            }
            Statement::Place(place) => {
                self.mark(place.span, TokenKind::Word);
                place.thing.iter().for_each(|thing| self.thing(thing));
            }
            Statement::Step(step) => step.clauses.iter().for_each(|clause| self.clause(clause)),
            Statement::Unread(words) => self.text(words, TokenKind::Unread),
        }
    }

    /// The first word of a line of statements, after the number of a step.
    fn first_word(&mut self, text: &str) {
        let from = text.find(|c: char| c.is_alphabetic()).unwrap_or(text.len());
        let rest = text.get(from..).unwrap_or_default();
        let len = rest
            .find(|c: char| !c.is_alphabetic())
            .unwrap_or(rest.len());
        let span = Span {
            start: crate::fold::offset(from),
            end: crate::fold::offset(from + len),
        };
        self.mark(span, TokenKind::LineWord);
    }

    fn number(&mut self, number: &Number) {
        self.mark(number.span, TokenKind::Number);
    }

    fn quantity(&mut self, quantity: &Quantity) {
        self.number(&quantity.number);
        quantity.to.iter().for_each(|number| self.number(number));
        self.mark(quantity.unit_span, TokenKind::Unit);
    }

    fn reference(&mut self, name: &Text, id: Option<KeyId>) {
        self.text(name, id.map_or(TokenKind::Substance, TokenKind::Key));
    }

    fn reaction(&mut self, reaction: &Reaction) {
        for term in reaction.left.iter().chain(&reaction.right) {
            term.coefficient_span
                .iter()
                .for_each(|span| self.mark(*span, TokenKind::Number));
            let id = match term.referent {
                TermReferent::Key(id) => Some(id),
                TermReferent::Other => None,
            };
            self.reference(&term.name, id);
        }
        reaction
            .arrow
            .iter()
            .for_each(|arrow| self.mark(*arrow, TokenKind::Punctuation));
    }

    fn entry(&mut self, entry: &Entry) {
        entry.fields.iter().for_each(|field| self.field(field));
        self.text(&entry.key, TokenKind::Declaration);
    }

    fn run(&mut self, run: &Run) {
        self.text(&run.label, TokenKind::Title);
        run.amount.iter().for_each(|amount| self.quantity(amount));
        for change in &run.changes {
            match change.id {
                Some(id) => self.text(&change.key, TokenKind::Key(id)),
                None => self.mark(change.span, TokenKind::Unread),
            }
            match &change.said {
                Some(Said::Entry(entry)) => entry.fields.iter().for_each(|field| self.field(field)),
                Some(Said::Equipment(equipment)) => {
                    self.text(&equipment.text, TokenKind::Text);
                    equipment.sizes.iter().for_each(|size| self.quantity(size));
                }
                None => {}
            }
        }
    }

    fn field(&mut self, field: &Field) {
        match &field.kind {
            FieldKind::Name(name) => self.text(name, TokenKind::Substance),
            FieldKind::Mixture(parts) => self.mixture(parts),
            FieldKind::Cas(text) | FieldKind::Inchi(text) | FieldKind::Formula(text) => {
                self.text(text, TokenKind::Substance)
            }
            FieldKind::Smiles(text) => text
                .iter()
                .for_each(|text| self.text(text, TokenKind::Substance)),
            FieldKind::MolarMass(number) => self.number(number),
            FieldKind::Density(number, quantity) => {
                self.number(number);
                quantity.iter().for_each(|quantity| self.quantity(quantity));
            }
            FieldKind::Boiling(quantity)
            | FieldKind::Melting(quantity)
            | FieldKind::Found(quantity)
            | FieldKind::Pressure(quantity)
            | FieldKind::Assay(quantity)
            | FieldKind::Expect(quantity)
            | FieldKind::Obtained(quantity)
            | FieldKind::Took(quantity) => self.quantity(quantity),
            FieldKind::Amount(amount) => {
                if amount.quantity.is_none() {
                    self.mark(amount.span, TokenKind::Number);
                }
                amount
                    .quantity
                    .iter()
                    .for_each(|quantity| self.quantity(quantity));
                amount
                    .of
                    .iter()
                    .for_each(|(name, id)| self.reference(name, *id));
            }
            FieldKind::Strength(strength) => self.strength(strength),
            FieldKind::Wet(quantity, with) => {
                self.quantity(quantity);
                self.text(with, TokenKind::Substance);
            }
            FieldKind::Role(_)
            | FieldKind::Nature { .. }
            | FieldKind::Condition(_)
            | FieldKind::Form(_) => {
                self.mark(field.span, TokenKind::Property);
            }
            FieldKind::Bottle(text) | FieldKind::Other(text) => self.text(text, TokenKind::Text),
        }
    }

    fn mixture(&mut self, parts: &[(Text, Number)]) {
        for (name, number) in parts {
            self.text(name, TokenKind::Substance);
            self.number(number);
        }
    }

    fn strength(&mut self, strength: &Strength) {
        match &strength.quantity {
            Some(quantity) => self.quantity(quantity),
            None => self.mark(strength.span, TokenKind::Property),
        }
        strength
            .carrier
            .iter()
            .for_each(|(name, id)| self.reference(name, *id));
    }

    fn clause(&mut self, clause: &Clause) {
        self.mark(clause.verb_span, TokenKind::Verb);
        clause
            .text
            .iter()
            .for_each(|text| self.text(text, TokenKind::Text));
        clause.objects.iter().for_each(|thing| self.thing(thing));
        clause
            .modifiers
            .iter()
            .for_each(|modifier| self.modifier(modifier));
    }

    fn thing(&mut self, thing: &Thing) {
        thing
            .adjective
            .iter()
            .for_each(|text| self.text(text, TokenKind::Word));
        match &thing.referent {
            Referent::Key(id) | Referent::Kept(id) => self.text(&thing.name, TokenKind::Key(*id)),
            Referent::Standing(..) => self.text(&thing.name, TokenKind::Standing),
            Referent::Mixture(parts) => self.mixture(parts),
            Referent::Gas { .. } => self.text(&thing.name, TokenKind::Substance),
            Referent::Substance(strength) => {
                self.text(&thing.name, TokenKind::Substance);
                strength.iter().for_each(|strength| self.strength(strength));
            }
            Referent::Place | Referent::Value => self.text(&thing.name, TokenKind::Value),
            Referent::Words => self.text(&thing.name, TokenKind::Text),
            Referent::Unknown => self.text(&thing.name, TokenKind::Unread),
        }
        thing
            .portions
            .iter()
            .for_each(|portion| self.portion(portion));
    }

    fn portion(&mut self, portion: &Portion) {
        self.mark(portion.span, TokenKind::Number);
        if let PortionKind::Amount { amount, .. } = &portion.kind {
            amount
                .quantity
                .iter()
                .for_each(|quantity| self.quantity(quantity));
            amount
                .of
                .iter()
                .for_each(|(name, id)| self.reference(name, *id));
        }
    }

    fn modifier(&mut self, modifier: &Modifier) {
        for thing in modifier.kind.things() {
            self.thing(thing);
        }
        match &modifier.kind {
            ModifierKind::As(text) => self.text(text, TokenKind::Declaration),
            ModifierKind::Time(_, Some(quantity))
            | ModifierKind::Temperature(_, TemperatureValue::Quantity(quantity))
            | ModifierKind::Pressure(_, quantity)
            | ModifierKind::Rate(quantity)
            | ModifierKind::Stirring(quantity)
            | ModifierKind::Until(quantity)
            | ModifierKind::Found(quantity) => self.quantity(quantity),
            ModifierKind::Time(_, None) => self.mark(modifier.span, TokenKind::Value),
            ModifierKind::Temperature(
                _,
                TemperatureValue::Room(span) | TemperatureValue::Reflux(span),
            ) => {
                self.mark(*span, TokenKind::Value);
            }
            ModifierKind::Ph(number) => self.number(number),
            ModifierKind::End(text) | ModifierKind::Adverb(text) => {
                self.text(text, TokenKind::Value)
            }
            ModifierKind::Count(..) | ModifierKind::LastSteps(_) => {
                self.mark(modifier.span, TokenKind::Number)
            }
            ModifierKind::Gradient(numbers) => {
                numbers.iter().for_each(|number| self.number(number))
            }
            ModifierKind::UntilText(text) => text
                .iter()
                .for_each(|text| self.text(text, TokenKind::Text)),
            ModifierKind::Remark(text) => self.text(text, TokenKind::Text),
            // Those that hold things.
            _ => {}
        }
    }

    /// Paints the marks over one another, the wider first, and fills what is left by its characters.
    fn tile(mut self, line: &Line, text: &str) -> Vec<Token> {
        self.marks
            .sort_by_key(|(span, _)| (span.start, std::cmp::Reverse(span.end)));
        let rest = match line.statement {
            Statement::Step(_) | Statement::Entry(_) | Statement::Place(_) | Statement::Run(_) => {
                TokenKind::Word
            }
            _ => TokenKind::Text,
        };
        let mut painter = Painter {
            tokens: Vec::new(),
            text,
            rest,
            at: 0,
        };
        // The marks that are open, outermost first.
        let mut open: Vec<(u32, TokenKind)> = Vec::new();
        for (span, kind) in self.marks {
            while let Some(&(end, outer)) = open.last() {
                if end > span.start {
                    painter.paint(span.start, outer);
                    break;
                }
                painter.paint(end, outer);
                open.pop();
            }
            if open.is_empty() {
                painter.gap(span.start);
            }
            let end = open.last().map_or(span.end, |(end, _)| span.end.min(*end));
            open.push((end, kind));
        }
        while let Some((end, kind)) = open.pop() {
            painter.paint(end, kind);
        }
        painter.gap(line.len);
        painter.tokens
    }
}

struct Painter<'a> {
    tokens: Vec<Token>,
    text: &'a str,
    /// What unmarked letters are.
    rest: TokenKind,
    at: u32,
}

impl Painter<'_> {
    fn paint(&mut self, end: u32, kind: TokenKind) {
        if end > self.at {
            self.tokens.push(Token {
                kind,
                span: Span {
                    start: self.at,
                    end,
                },
            });
            self.at = end;
        }
    }

    /// Fills up to a place by what its characters are.
    fn gap(&mut self, end: u32) {
        while self.at < end {
            let rest = self
                .text
                .get(self.at as usize..end as usize)
                .unwrap_or_default();
            let Some(first) = rest.chars().next() else {
                let rest = self.rest;
                return self.paint(end, rest);
            };
            let kind = self.class(first);
            let len = rest
                .find(|c: char| self.class(c) != kind)
                .unwrap_or(rest.len());
            self.paint(self.at + crate::fold::offset(len), kind);
        }
    }

    fn class(&self, c: char) -> TokenKind {
        match c {
            _ if crate::fold::fold(c) == ' ' => TokenKind::Space,
            ',' | ';' | ':' | '(' | ')' | '+' => TokenKind::Punctuation,
            _ => self.rest,
        }
    }
}
