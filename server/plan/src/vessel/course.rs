//! Where the simulation of a plan stood between its steps, so that after an edit it goes on from there.

use super::Moment;
use super::simulation::{Simulation, Taken};
use std::cell::OnceCell;
use syntax::PlanText;

/// So many clauses lie between two marks at least.
const APART: usize = 8;

/// The simulation of a plan, as that of the same plan after an edit takes it up.
#[derive(Clone, Debug, Default)]
pub(crate) struct Course {
    outset: Outset,
    marks: Vec<Mark>,
}

/// What all steps of a plan together decide before the first of them.
#[derive(Clone, Debug, Default)]
pub(super) struct Outset {
    pub(super) taken: Vec<Taken>,
    pub(super) receive: Vec<bool>,
    pub(super) unlisted: Vec<(Box<str>, usize)>,
}

/// What a simulation holds before a line, besides the states that the last moment before it left.
#[derive(Clone, Debug)]
struct Mark {
    line: u32,
    moments: usize,
    taken: Vec<Taken>,
    hot: Vec<usize>,
    current: usize,
    placed: bool,
    elsewhere: Option<usize>,
    handled: Vec<bool>,
    glovebox: bool,
}

/// An earlier simulation with the same materials, amounts and equipment.
pub(crate) struct Earlier<'a> {
    /// Its moments and marks: those that still hold are taken out.
    pub(crate) moments: &'a mut Vec<Moment>,
    pub(crate) course: &'a mut Course,
    /// How many lines are the same from the first on.
    pub(crate) kept: usize,
}

impl Outset {
    /// Whether steps of this text go the same with both: a word that is a vessel in one of them is none of theirs.
    fn is_alike(&self, other: &Outset, steps: &str) -> bool {
        let lower = OnceCell::new();
        let steps = || lower.get_or_init(|| steps.to_ascii_lowercase());
        // What else they call it ends in the same word.
        let names = |word: &str| {
            let last = word.rsplit(' ').next().unwrap_or(word);
            !last.is_ascii() || steps().contains(&last.to_ascii_lowercase())
        };
        let strange = |a: &Outset, b: &Outset| {
            let mut words = a.unlisted.iter().filter(|word| !b.unlisted.contains(word));
            words.any(|(word, _)| names(word))
        };
        (&self.taken, &self.receive) == (&other.taken, &other.receive)
            && !strange(self, other)
            && !strange(other, self)
    }
}

impl Course {
    pub(super) fn new(outset: Outset) -> Course {
        let marks = Vec::new();
        Course { outset, marks }
    }

    /// Notes where the simulation stands before a line, if that is far enough from the last mark.
    pub(super) fn mark(&mut self, line: u32, simulation: &Simulation<'_>) {
        let last = self.marks.last().map_or(0, |mark| mark.moments);
        if simulation.changed || simulation.moments.len() < last + APART {
            return;
        }
        self.marks.push(Mark {
            line,
            moments: simulation.moments.len(),
            taken: simulation.taken.clone(),
            hot: simulation.hot.clone(),
            current: simulation.current,
            placed: simulation.hand.placed,
            elsewhere: simulation.hand.elsewhere,
            handled: simulation.hand.handled.clone(),
            glovebox: simulation.glovebox,
        });
    }

    /// Puts a simulation where the earlier one stood at its last mark that still holds; the line to go on with.
    pub(super) fn resume(
        &mut self,
        simulation: &mut Simulation<'_>,
        earlier: Earlier<'_>,
    ) -> usize {
        let Earlier {
            moments,
            course,
            kept,
        } = earlier;
        let holds = |mark: &Mark| mark.line as usize <= kept;
        course.marks.truncate(course.marks.partition_point(holds));
        let Some(mark) = course.marks.last() else {
            return 0;
        };
        let done = mark.moments.checked_sub(1);
        let Some(last) = done.and_then(|last| moments.get(last)) else {
            return 0;
        };
        let steps = above(simulation.reckoner.text, mark.line);
        if !course.outset.is_alike(&self.outset, steps) {
            return 0;
        }
        simulation.states = last.after.to_vec();
        simulation.put_down = last.after.clone();
        simulation.changed = false;
        simulation.taken.clone_from(&mark.taken);
        simulation.hot.clone_from(&mark.hot);
        simulation.current = mark.current;
        simulation.hand.placed = mark.placed;
        simulation.hand.elsewhere = mark.elsewhere;
        simulation.hand.handled.clone_from(&mark.handled);
        simulation.glovebox = mark.glovebox;
        simulation.moments.extend(moments.drain(..mark.moments));
        let line = mark.line as usize;
        self.marks = std::mem::take(&mut course.marks);
        line
    }
}

/// The text of the lines before a line.
fn above(text: &PlanText, line: u32) -> &str {
    let end = text
        .lines
        .get(line as usize)
        .map(|line| line.start as usize);
    let whole = &*text.text;
    end.and_then(|end| whole.get(..end)).unwrap_or(whole)
}
