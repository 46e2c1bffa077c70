//! The steps as rows of the sheet: boxes, times, who is needed, and what to expect at the points that matter.

use crate::bench::{self, Bench};
use chemistry::ReagentClass;
use plan::measuring::Way;
use plan::time::{Lasts, StepTime};
use plan::vessel::{Addition, Gas, Moment, VesselState};
use syntax::{ModifierKind, PlaceKind, Statement, Step, Verb};
use uom::si::f64::Time;

/// A row of the steps.
pub(crate) enum Row<'a> {
    /// Where the next steps happen, or on which day.
    Place(&'a str),
    /// A step.
    Step(StepRow<'a>),
    /// Words that are no step.
    Remark(&'a str),
    /// What to see before going on.
    State(StateRow<'a>),
}

/// A step.
pub(crate) struct StepRow<'a> {
    pub(crate) number: usize,
    pub(crate) words: &'a str,
    pub(crate) comment: Option<&'a str>,
    /// Key and amount of what the step takes and does not state.
    pub(crate) takes: Vec<(String, String)>,
    /// `10 min`
    pub(crate) lasts: Option<String>,
    /// When it begins: a time of day, or the time since the start.
    pub(crate) begins: Option<String>,
    /// Why two people do it.
    pub(crate) two: Option<&'static str>,
    /// Something is done, so there is a box to tick.
    pub(crate) done: bool,
}

/// The state of a vessel before a step.
pub(crate) struct StateRow<'a> {
    pub(crate) before: &'static str,
    pub(crate) vessel: &'a str,
    pub(crate) words: Vec<String>,
    /// Part of the vessel that is full, if known.
    pub(crate) fill: Option<f64>,
}

/// The rows, in the order of the plan.
pub(crate) fn rows<'a>(bench: &Bench<'a>) -> Vec<Row<'a>> {
    let plan = bench.plan;
    let mut rows = Vec::new();
    let mut told = None;
    let mut number = 0;
    for (line, index) in plan.text.lines.iter().zip(0u32..) {
        match &line.statement {
            Statement::Place(place) => {
                if let Some(words) = plan.slice(index, place.span) {
                    let day = matches!(place.kind, PlaceKind::DayBefore | PlaceKind::OnTheDay);
                    if day {
                        told = None;
                    }
                    rows.push(Row::Place(words));
                }
            }
            Statement::Step(step) => {
                number += 1;
                rows.extend(states(bench, index).map(Row::State));
                rows.push(Row::Step(row(bench, index, step, number, &mut told)));
            }
            Statement::Remark(_, Some(text)) if line.block == syntax::Block::Steps => {
                rows.push(Row::Remark(&text.text));
            }
            Statement::Unread(text) if line.block == syntax::Block::Steps => {
                rows.push(Row::Remark(&text.text));
            }
            _ => {}
        }
    }
    rows
}

fn row<'a>(
    bench: &Bench<'a>,
    line: u32,
    step: &Step,
    number: usize,
    told: &mut Option<String>,
) -> StepRow<'a> {
    let draws = bench.draws.iter();
    let takes = draws
        .filter(|draw| draw.line == Some(line) && !draw.stated && draw.gap.is_none())
        .filter(|draw| !matches!(draw.way, Way::Excess | Way::Open | Way::Count))
        .map(|draw| {
            let amount = match draw.times {
                1 => draw.take.clone(),
                times => format!("{times} × {}", draw.take),
            };
            (draw.key.clone(), amount)
        });
    let of_line = || bench.times.steps.iter().filter(|time| time.line == line);
    let stated = of_line().fold(Lasts::default(), |sum, time| sum + time.stated);
    let begins = of_line().next().map(|time| begins(bench, time));
    // Said anew only where it moves on.
    let begins = begins.filter(|begins| told.as_ref() != Some(begins));
    if begins.is_some() {
        told.clone_from(&begins);
    }
    let is_note = |verb| matches!(verb, Verb::Note | Verb::Expect);
    StepRow {
        number,
        words: bench.words(line, step),
        comment: bench.comment(line),
        takes: takes.collect(),
        lasts: (!stated.is_none()).then(|| stated.to_string()),
        begins,
        two: two_people(bench, line, step),
        done: !step.clauses.iter().all(|clause| is_note(clause.verb)),
    }
}

fn begins(bench: &Bench<'_>, time: &StepTime) -> String {
    match bench.times.clock(time.part, time.begins.least) {
        Some(clock) => clock.to_string(),
        None if time.begins.least <= Time::default() => "start".to_owned(),
        None => {
            let after = Lasts {
                least: time.begins.least,
                most: time.begins.least,
            };
            format!("+ {after}")
        }
    }
}

/// Common practice: a second pair of hands where the septum is off over an inert flask, and a second person where what
/// is moved catches fire in air.
fn two_people(bench: &Bench<'_>, line: u32, step: &Step) -> Option<&'static str> {
    let plan = bench.plan;
    let says = step.clauses.iter().any(|clause| {
        clause.modifiers.iter().any(|modifier| {
            matches!(&modifier.kind, ModifierKind::With(things)
                if things.iter().any(|thing| thing.name.text.contains("people")))
        })
    });
    if says {
        return Some("as the plan says");
    }
    let moments = || plan.moments.iter().filter(|moment| moment.line == line);
    let fresh = |moment: &&'_ Moment| moment.additions.iter().any(|a| a.from.is_none());
    for moment in moments().filter(fresh) {
        let fresh = || moment.additions.iter().filter(|a| a.from.is_none());
        if fresh().any(|addition| bench::is_pyrophoric(plan, &addition.content)) {
            return Some("it catches fire in air, so one stands by");
        }
        let before = moment.before.get(moment.vessel);
        let kept_inert = before.is_some_and(
            |state| matches!(&state.gas, Gas::Filled { gas, .. } if bench::is_inert_gas(gas)),
        );
        let quenched = before.is_some_and(|state| state.quenched.is_some());
        let solid = |addition: &Addition| {
            let content = &addition.content;
            let substance = content.substance(&plan.materials);
            // What is in no table may well be a liquid.
            content.mass.is_some()
                && substance.and_then(chemistry::Substance::state) == Some(chemistry::State::Solid)
                && substance.and_then(chemistry::Substance::class)
                    != Some(ReagentClass::DryingAgent)
                && !content.is_liquid(&plan.materials)
                && (moment.vessel == bench.flask || bench::is_sensitive(plan, content))
        };
        if kept_inert
            && !quenched
            && !moment.glovebox
            && line < bench.work_up()
            && !is_dissolved(bench, moment)
            && fresh().any(solid)
        {
            let item = plan.apparatus.get(moment.vessel);
            let septum = item.is_some_and(|item| item.lower.contains("sept"));
            return Some(if septum {
                "solid through the open neck: one adds, one lifts the septum and puts it back at once"
            } else {
                "solid through the open neck: one adds, one lifts the stopper and puts it back at once"
            });
        }
    }
    None
}

/// A solution goes in through what it is dropped from, and the neck stays closed.
fn is_dissolved(bench: &Bench<'_>, moment: &Moment) -> bool {
    let Some(clause) = bench::clause(bench.plan, moment) else {
        return false;
    };
    let words = bench.plan.slice(moment.line, clause.span);
    let words = words.unwrap_or_default().to_lowercase();
    words.contains("solution of")
        || words.contains("dropwise")
        || clause
            .modifiers
            .iter()
            .any(|modifier| matches!(modifier.kind, ModifierKind::Via(_)))
}

/// What to see before the step on a line.
fn states<'a>(bench: &Bench<'a>, line: u32) -> impl Iterator<Item = StateRow<'a>> {
    let points = [
        (bench.first_sensitive, "before the first sensitive reagent"),
        (bench.quench, "before the quench"),
    ];
    let moments = &bench.plan.moments;
    let rows = points.map(|(point, before)| {
        let moment = moments.get(point?).filter(|moment| moment.line == line)?;
        let (vessel, state, words) = bench.describe(point?)?;
        Some(StateRow {
            before,
            vessel: bench.name(moment.vessel),
            words,
            fill: fill(bench, vessel, state),
        })
    });
    rows.into_iter().flatten()
}

fn fill(bench: &Bench<'_>, vessel: usize, state: &VesselState) -> Option<f64> {
    let volume = state.volume(&bench.plan.materials)?;
    let part = (volume / bench.capacity(vessel)?).value;
    part.is_finite().then_some(part)
}
