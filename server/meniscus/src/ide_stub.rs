//! Stands in for the `ide` crate until it is there.
#![allow(missing_docs, dead_code, unreachable_pub)]
use ropey::Rope;
use std::ops::Range;

pub struct Document { rope: Rope }
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Severity { Error, Warning, Information, Hint }
#[derive(Clone, Debug)]
pub struct TextEdit { pub range: Range<usize>, pub new_text: String }
#[derive(Clone, Debug)]
pub struct Fix { pub title: String, pub edits: Vec<TextEdit>, pub preferred: bool }
#[derive(Clone, Debug)]
pub struct Finding { pub check: &'static str, pub severity: Severity, pub range: Range<usize>, pub message: String, pub related: Vec<(Range<usize>, String)>, pub fixes: Vec<Fix> }
pub struct Hover { pub range: Range<usize>, pub markdown: String }
pub struct Hint { pub at: usize, pub label: String, pub tooltip: Option<String> }
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum ActionKind { Fix, Rescale }
pub struct Action { pub title: String, pub kind: ActionKind, pub edits: Vec<TextEdit>, pub fixes: Option<usize>, pub preferred: bool }
#[derive(Clone, Copy)]
pub enum SymbolKind { Plan, Block, Material, Product, Equipment, Step }
pub struct Symbol { pub name: String, pub detail: Option<String>, pub kind: SymbolKind, pub range: Range<usize>, pub selection: Range<usize>, pub children: Vec<Symbol> }

impl Document {
    pub fn new(text: &str) -> Document { Document { rope: Rope::from_str(text) } }
    pub fn edit(&mut self, range: Range<usize>, new_text: &str) {
        let s = self.rope.byte_to_char(range.start); let e = self.rope.byte_to_char(range.end);
        self.rope.remove(s..e); self.rope.insert(s, new_text);
    }
    pub fn rope(&self) -> &Rope { &self.rope }
    pub fn findings(&self) -> Vec<Finding> {
        let text = self.rope.to_string();
        text.match_indices(',').filter(|(at, _)| text[..*at].ends_with(|c: char| c.is_ascii_digit()) && text[at + 1..].starts_with(|c: char| c.is_ascii_digit())).map(|(at, s)| Finding { check: "decimal-comma", severity: Severity::Error, range: at - 1..at + 2,
            message: format!("byte {at} of {} is {s}", text.len()), related: vec![(0..0, "start".into())],
            fixes: vec![Fix { title: "Write a point".into(), edits: vec![TextEdit { range: at..at + s.len(), new_text: ".".into() }], preferred: true }] }).collect()
    }
    pub fn hover(&self, at: usize) -> Option<Hover> { Some(Hover { range: at..at, markdown: format!("byte {at}") }) }
    pub fn inlay_hints(&self, range: Range<usize>) -> Vec<Hint> {
        let text = self.rope.to_string();
        text.match_indices('\n').filter(|(at, _)| range.contains(at)).map(|(at, _)| Hint { at, label: format!("{at}"), tooltip: None }).collect()
    }
    pub fn actions(&self, range: Range<usize>) -> Vec<Action> {
        self.findings().into_iter().enumerate().filter(|(_, f)| f.range.start <= range.end && range.start <= f.range.end)
            .flat_map(|(i, f)| f.fixes.into_iter().map(move |x| Action { title: x.title, kind: ActionKind::Fix, edits: x.edits, fixes: Some(i), preferred: x.preferred })).collect()
    }
    pub fn symbols(&self) -> Vec<Symbol> {
        let text = self.rope.to_string();
        text.match_indices("plan").map(|(at, s)| Symbol { name: s.into(), detail: None, kind: SymbolKind::Plan, range: at..at + 4, selection: at..at + 4, children: vec![] }).collect()
    }
}
