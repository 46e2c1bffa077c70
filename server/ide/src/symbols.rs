//! The outline of a document: plans, their blocks, their lines.

use crate::document::{Document, PlanUnit};
use std::ops::Range;
use syntax::{Block, Line, Span, Statement};

/// An entry of the outline.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Symbol {
    /// Its name.
    pub name: String,
    /// More about it.
    pub detail: Option<String>,
    /// What it is.
    pub kind: SymbolKind,
    /// The whole of it.
    pub range: Range<usize>,
    /// Its name in the text.
    pub selection: Range<usize>,
    /// What it contains.
    pub children: Vec<Symbol>,
}

/// What an entry of the outline is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SymbolKind {
    /// A plan.
    Plan,
    /// A block of it.
    Block,
    /// A line of materials.
    Material,
    /// A line of products.
    Product,
    /// A line of equipment.
    Equipment,
    /// A step.
    Step,
    /// A line of runs.
    Run,
}

impl Document {
    /// The outline.
    #[must_use]
    pub fn symbols(&self) -> Vec<Symbol> {
        self.plans()
            .filter(|unit| !unit.plan.text.text.trim().is_empty())
            .map(|unit| plan(&unit))
            .collect()
    }
}

impl Document {
    /// The plans and keys whose name holds the letters of a query in their order, each with the title of its plan.
    #[must_use]
    pub fn find_symbols(&self, query: &str) -> Vec<(Symbol, Option<String>)> {
        let mut found = Vec::new();
        for mut plan in self.symbols() {
            let blocks = std::mem::take(&mut plan.children);
            let title = plan.name.clone();
            let keys = blocks.into_iter().flat_map(|block| block.children);
            let is_key = |kind| !matches!(kind, SymbolKind::Step | SymbolKind::Run);
            let keys = keys.filter(|symbol| is_key(symbol.kind));
            let keys = keys.map(|symbol| (symbol, Some(title.clone())));
            let all = std::iter::once((plan, None)).chain(keys);
            found.extend(all.filter(|(symbol, _)| holds_in_order(&symbol.name, query)));
        }
        found
    }
}

/// Whether a name has the letters of a query, in their order and with others between them, in any case.
fn holds_in_order(name: &str, query: &str) -> bool {
    let mut letters = name.chars().flat_map(char::to_lowercase);
    let mut wanted = query.chars().flat_map(char::to_lowercase);
    wanted.all(|wanted| letters.any(|letter| letter == wanted))
}

fn plan(unit: &PlanUnit<'_>) -> Symbol {
    let text = &unit.plan.text;
    let mut symbol = Symbol {
        name: unit
            .plan
            .title
            .as_ref()
            .map_or_else(|| "Plan without a title".to_owned(), |t| t.text.to_string()),
        detail: unit.plan.scale_quantity().and_then(|(line, quantity)| {
            unit.plan.slice(line, quantity.span).map(ToOwned::to_owned)
        }),
        kind: SymbolKind::Plan,
        range: unit.shift(0..text.text.len()),
        selection: unit.shift(0..text.lines.first().map_or(0, |line| line.len as usize)),
        children: Vec::new(),
    };
    let mut block: Option<Symbol> = None;
    for line in &text.lines {
        let range = whole(unit, line);
        if let Statement::Header(which) = line.statement {
            symbol.children.extend(block.take());
            block = Some(Symbol {
                name: word(which).to_owned(),
                detail: None,
                kind: SymbolKind::Block,
                selection: range.clone(),
                range,
                children: Vec::new(),
            });
            continue;
        }
        let Some(entry) = entry(unit, line) else {
            continue;
        };
        match &mut block {
            Some(block) => {
                block.range.end = entry.range.end;
                block.children.push(entry);
            }
            None => symbol.children.push(entry),
        }
    }
    symbol.children.extend(block);
    symbol
}

fn entry(unit: &PlanUnit<'_>, line: &Line) -> Option<Symbol> {
    let slice = |span: Span| {
        let start = line.start as usize;
        unit.plan
            .text
            .text
            .get(start + span.start as usize..start + span.end as usize)
    };
    let (name, detail, kind, selection) = match &line.statement {
        Statement::Entry(entry) => {
            let first = entry
                .fields
                .first()
                .and_then(|field| slice(field.span))
                .map(ToOwned::to_owned);
            let kind = if entry.product {
                SymbolKind::Product
            } else {
                SymbolKind::Material
            };
            (entry.key.text.to_string(), first, kind, entry.key.span)
        }
        Statement::Equipment(item) => (
            item.key.text.to_string(),
            Some(item.text.text.to_string()),
            SymbolKind::Equipment,
            item.key.span,
        ),
        Statement::Run(run) => {
            let said = run.amount.iter().map(|amount| amount.span);
            let said = said.chain(run.changes.iter().map(|change| change.span));
            let said = said.reduce(|a, b| Span {
                start: a.start,
                end: b.end,
            });
            let said = said.and_then(slice).map(ToOwned::to_owned);
            let label = &run.label;
            (label.text.to_string(), said, SymbolKind::Run, label.span)
        }
        Statement::Step(step) => {
            let (first, last) = (step.clauses.first()?, step.clauses.last()?);
            let span = Span {
                start: first.span.start,
                end: last.span.end,
            };
            (slice(span)?.to_owned(), None, SymbolKind::Step, span)
        }
        Statement::Place(place) => (
            slice(place.span)?.to_owned(),
            None,
            SymbolKind::Step,
            place.span,
        ),
        _ => return None,
    };
    let start = line.start as usize;
    let selection = unit.shift(start + selection.start as usize..start + selection.end as usize);
    Some(Symbol {
        name,
        detail,
        kind,
        range: whole(unit, line),
        selection,
        children: Vec::new(),
    })
}

/// A line without its line end.
fn whole(unit: &PlanUnit<'_>, line: &Line) -> Range<usize> {
    unit.shift(line.start as usize..(line.start + line.len) as usize)
}

fn word(block: Block) -> &'static str {
    match block {
        Block::None => "",
        Block::Materials => "materials",
        Block::Products => "products",
        Block::Equipment => "equipment",
        Block::Steps => "steps",
        Block::Runs => "runs",
    }
}
