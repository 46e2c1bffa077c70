//! The text of a document and what its plans come to, kept up to date edit by edit.

use plan::{At, Before, Context, Plan};
use ropey::Rope;
use std::ops::Range;
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};
use syntax::PlanText;

/// An open document.
///
/// Every plan in it is worked out by itself; an edit works out anew only the plans that it touches.
#[derive(Clone, Debug)]
pub struct Document {
    rope: Rope,
    units: Vec<Unit>,
    context: Context,
}

/// One plan of a document. It is worked out when somebody asks: of a batch of edits, only the last counts.
#[derive(Clone, Debug)]
struct Unit {
    text: Arc<str>,
    /// The text read line by line, where that was done while it was edited.
    read: OnceLock<Arc<PlanText>>,
    /// What is left of the plan before the edits since it was last worked out.
    before: Left,
    worked_out: OnceLock<(Arc<Plan>, Arc<[checks::Finding]>)>,
}

/// What is left of a plan, for the plan after an edit to take what still holds.
#[derive(Debug, Default)]
struct Left(Mutex<Before>);

impl Left {
    fn of(before: Before) -> Left {
        Left(Mutex::new(before))
    }

    /// What a panic left half taken still holds, or is not taken.
    fn lock(&self) -> MutexGuard<'_, Before> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn take(&mut self) -> Before {
        std::mem::take(&mut *self.lock())
    }
}

impl Clone for Left {
    /// It can be taken once only.
    fn clone(&self) -> Left {
        Left::default()
    }
}

/// A plan and where it begins.
#[derive(Clone, Copy, Debug)]
pub struct PlanUnit<'a> {
    /// First byte in the document.
    pub start: usize,
    /// The plan.
    pub plan: &'a Plan,
    /// What was found in it.
    pub findings: &'a [checks::Finding],
}

/// A finding, in offsets of the document.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The name of the check.
    pub check: &'static str,
    /// How bad it is.
    pub severity: checks::Severity,
    /// Where.
    pub range: Range<usize>,
    /// What is wrong and what to do next.
    pub message: String,
    /// Other places that belong to it, and why.
    pub related: Vec<(Range<usize>, String)>,
    /// Ways to mend it.
    pub fixes: Vec<Fix>,
}

/// A way to mend a finding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fix {
    /// What it does.
    pub title: String,
    /// The edits, in order.
    pub edits: Vec<TextEdit>,
    /// Whether an editor may apply it without asking which.
    pub preferred: bool,
}

/// A stretch of the document and what to write there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TextEdit {
    /// What is replaced.
    pub range: Range<usize>,
    /// By what.
    pub new_text: String,
}

impl Unit {
    fn new(text: &str) -> Unit {
        Unit {
            text: text.into(),
            read: OnceLock::new(),
            before: Left::default(),
            worked_out: OnceLock::new(),
        }
    }

    /// The same plan with another text, of which only the lines that changed are read.
    fn edited(&mut self, text: &str) -> Unit {
        // Nobody else reads it most of the time: then it need not be copied.
        let plan = self.worked_out.take();
        let plan = plan.map(|(plan, _)| Arc::unwrap_or_clone(plan));
        let (mut left, read) = match plan {
            Some(plan) => {
                let (text, before) = plan.leave();
                (before, Some(text))
            }
            None => (self.before.take(), None),
        };
        let own = self.read.take();
        let Some(before) = read.or(own) else {
            left.keep(0);
            return Unit {
                before: Left::of(left),
                ..Unit::new(text)
            };
        };
        let read = syntax::read_plan_again(text, Arc::unwrap_or_clone(before));
        left.keep(read.kept);
        Unit {
            text: read.text.clone(),
            read: OnceLock::from(Arc::new(read)),
            before: Left::of(left),
            worked_out: OnceLock::new(),
        }
    }

    fn worked_out(&self, context: &Context) -> &(Arc<Plan>, Arc<[checks::Finding]>) {
        self.worked_out.get_or_init(|| {
            let read = || Arc::new(syntax::read_plan(&self.text));
            let text = self.read.get_or_init(read).clone();
            let plan = Arc::new(Plan::again(text, context, &mut self.before.lock()));
            let findings = checks::findings(&plan).into();
            (plan, findings)
        })
    }
}

impl Document {
    /// Reads a text alone.
    #[must_use]
    pub fn new(text: &str) -> Document {
        Document::with_context(text, Context::default())
    }

    /// Reads a text against its surroundings.
    #[must_use]
    pub fn with_context(text: &str, context: Context) -> Document {
        let units = syntax::plan_ranges(text)
            .into_iter()
            .filter_map(|range| text.get(range))
            .map(Unit::new);
        Document {
            units: units.collect(),
            rope: Rope::from_str(text),
            context,
        }
    }

    /// What it is read against.
    #[must_use]
    pub fn context(&self) -> &Context {
        &self.context
    }

    /// Sets other surroundings: every plan is worked out anew when it is asked for. False where they are the same.
    pub fn set_context(&mut self, context: Context) -> bool {
        if self.context == context {
            return false;
        }
        self.context = context;
        for unit in &mut self.units {
            unit.worked_out = OnceLock::new();
            unit.before = Left::default();
        }
        true
    }

    /// Lets go of what is left of plans before the last edits, which takes time: for when nobody waits.
    pub fn tidy(&mut self) {
        let done = |unit: &&mut Unit| unit.worked_out.get().is_some();
        for unit in self.units.iter_mut().filter(done) {
            unit.before.take();
        }
    }

    /// The text.
    #[must_use]
    pub fn rope(&self) -> &Rope {
        &self.rope
    }

    /// Replaces a stretch of bytes; what lies past the end of the text, or inside of a character, is moved
    /// to the next boundary before it.
    pub fn edit(&mut self, range: Range<usize>, new_text: &str) {
        let start = self
            .rope
            .byte_to_char(range.start.min(self.rope.len_bytes()));
        let end = self
            .rope
            .byte_to_char(range.end.min(self.rope.len_bytes()))
            .max(start);
        let bytes = self.rope.char_to_byte(start)..self.rope.char_to_byte(end);
        if start < end {
            self.rope.remove(start..end);
        }
        self.rope.insert(start, new_text);
        if self.edit_inside(&bytes, new_text) {
            return;
        }
        let (units, stretch) = self.touched(&bytes);
        let grown = stretch.end + new_text.len() - bytes.len();
        let text = self.slice(stretch.start..grown);
        let old = &mut self.units[units.clone()];
        let ranges = syntax::plan_ranges(&text);
        let alike = ranges.len() == old.len();
        let new: Vec<Unit> = ranges
            .into_iter()
            .filter_map(|range| text.get(range))
            .zip(0..)
            .map(
                |(part, place)| match old.iter().find(|unit| *unit.text == *part) {
                    Some(same) => same.clone(),
                    None => match old.get_mut(place).filter(|_| alike) {
                        Some(unit) => unit.edited(part),
                        None => Unit::new(part),
                    },
                },
            )
            .collect();
        self.units.splice(units, new);
    }

    /// Edits one unit, where all plans begin where they did. False where another may begin or end.
    fn edit_inside(&mut self, edit: &Range<usize>, new_text: &str) -> bool {
        let mut start = 0;
        let last = self.units.len().saturating_sub(1);
        for (index, unit) in self.units.iter_mut().enumerate() {
            let end = start + unit.text.len();
            if edit.start <= start || edit.end > end {
                start = end;
                continue;
            }
            let (head, rest) = unit.text.split_at(edit.start - start);
            let (old, tail) = rest.split_at(edit.len());
            let ends_line = |c| matches!(c, '\n' | '\r');
            // The lines that the edit touches; the first of a plan is what begins it.
            let Some(line) = head.rfind(ends_line).map(|at| at + 1) else {
                return false;
            };
            let Some(close) = tail
                .find(ends_line)
                .or((index == last).then_some(tail.len()))
            else {
                return false;
            };
            let (before, behind) = (&head[line..], &tail[..close]);
            let begins_plan = |text: &str| {
                let lines = ["\n", before, text, behind].concat();
                syntax::plan_ranges(&lines).len() > 1
            };
            if begins_plan(old) || begins_plan(new_text) {
                return false;
            }
            let text = [head, new_text, tail].concat();
            *unit = unit.edited(&text);
            return true;
        }
        false
    }

    /// The units that an edit may change, and the bytes that they cover: the line that it touches may have
    /// begun a plan, or begin one now, so the neighbours belong to it.
    fn touched(&self, edit: &Range<usize>) -> (Range<usize>, Range<usize>) {
        let mut start = 0;
        let mut first = None;
        let mut last = (0, 0);
        let mut starts = Vec::with_capacity(self.units.len() + 1);
        for (index, unit) in self.units.iter().enumerate() {
            starts.push(start);
            let end = start + unit.text.len();
            if end >= edit.start && first.is_none() {
                first = Some(index);
            }
            if start <= edit.end {
                last = (index, end);
            }
            start = end;
        }
        starts.push(start);
        let first = first.unwrap_or(0).saturating_sub(1);
        let last = (last.0 + 1).min(self.units.len().saturating_sub(1));
        let end = starts.get(last + 1).copied().unwrap_or(start);
        let begin = starts.get(first).copied().unwrap_or(0);
        (first..(last + 1).min(self.units.len()), begin..end)
    }

    fn slice(&self, bytes: Range<usize>) -> String {
        self.rope.byte_slice(bytes).to_string()
    }

    /// The plans, in the order of the text.
    pub fn plans(&self) -> impl Iterator<Item = PlanUnit<'_>> {
        self.units()
            .map(|(start, unit)| PlanUnit::new(start, unit, &self.context))
    }

    /// The units with their first bytes.
    fn units(&self) -> impl Iterator<Item = (usize, &Unit)> {
        let mut start = 0;
        self.units.iter().map(move |unit| {
            let begins = start;
            start += unit.text.len();
            (begins, unit)
        })
    }

    /// The plan around an offset; between two plans, the one that begins there.
    #[must_use]
    pub fn plan_at(&self, offset: usize) -> Option<PlanUnit<'_>> {
        let (start, unit) = self.units().filter(|(start, _)| *start <= offset).last()?;
        Some(PlanUnit::new(start, unit, &self.context))
    }

    /// Everything found in the document, in its order.
    #[must_use]
    pub fn findings(&self) -> Vec<Finding> {
        self.plans()
            .flat_map(|unit| {
                unit.findings
                    .iter()
                    .map(move |finding| unit.finding(finding))
            })
            .collect()
    }
}

impl<'a> PlanUnit<'a> {
    fn new(start: usize, unit: &'a Unit, context: &Context) -> Self {
        let (plan, findings) = unit.worked_out(context);
        PlanUnit {
            start,
            plan,
            findings,
        }
    }

    /// A place of the plan as bytes of the document.
    #[must_use]
    pub fn range(&self, at: At) -> Range<usize> {
        self.shift(self.plan.range(at))
    }

    pub(crate) fn shift(&self, range: Range<usize>) -> Range<usize> {
        range.start + self.start..range.end + self.start
    }

    pub(crate) fn edits(&self, edits: &[(Range<usize>, String)]) -> Vec<TextEdit> {
        edits
            .iter()
            .map(|(range, new_text)| TextEdit {
                range: self.shift(range.clone()),
                new_text: new_text.clone(),
            })
            .collect()
    }

    pub(crate) fn finding(&self, finding: &checks::Finding) -> Finding {
        Finding {
            check: finding.check,
            severity: finding.severity,
            range: self.range(finding.at),
            message: finding.message.clone(),
            related: finding
                .related
                .iter()
                .map(|(at, why)| (self.range(*at), why.clone()))
                .collect(),
            fixes: finding
                .fixes
                .iter()
                .map(|fix| Fix {
                    title: fix.title.clone(),
                    edits: self.edits(&fix.edits),
                    preferred: fix.preferred,
                })
                .collect(),
        }
    }
}
