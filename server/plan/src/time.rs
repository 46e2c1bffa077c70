//! How long a plan takes, as far as it says so: what it does not say is not guessed.
//!
//! A step without a time counts as no time and is counted as such, so that every sum is the least that the plan takes.
//! Steps follow each other, whatever vessel they are about. What stands below `meanwhile in vial` begins with the step
//! above that line and runs beside it; a step that touches vessels of both waits for both. `the day before` and
//! `on the day` divide a plan into parts, and each begins anew.
//!
//! Nobody has to stand by where the plan says to stir, heat, hold, cool, wait, dry, evacuate or pass a gas for a time,
//! overnight, and while a pump adds. All else that takes a stated time is hands-on, an addition above all.

use crate::Plan;
use crate::convert;
use crate::known::{At, Determined, Gap, Known, Origin};
use crate::vessel::{Apparatus, Moment, VesselState};
use rust_decimal::prelude::ToPrimitive;
use std::collections::HashMap;
use std::ops::Add;
use std::sync::Arc;
use syntax::{
    Bound, Clause, CountKind, Dimension, EquipmentKind, ModifierKind, PlaceKind, Quantity,
    Referent, Statement, Step, TemperatureKind, Thing, TimeKind, Verb,
};
use uom::si::f64::{Time, Volume};
use uom::si::time::{hour, minute, second};
use uom::si::volume::liter;

/// A length of time between two bounds, which are the same where one number is written.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lasts {
    /// At least.
    pub least: Time,
    /// At most.
    pub most: Time,
}

/// When the steps of a plan begin and end, by what it states.
#[derive(Clone, Debug)]
pub struct Times {
    /// Every clause of the steps, in the order of [`Plan::moments`].
    pub steps: Vec<StepTime>,
    /// The parts into which `the day before` and `on the day` divide the plan; most plans have one.
    pub parts: Vec<Part>,
    /// `start 9:00` in minutes after midnight: when the last part begins.
    pub start: Option<u16>,
}

/// The steps of one day, or of a plan that names none.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Part {
    /// From its first step to the end of its last, at least.
    pub total: Lasts,
    /// Of the total: when nothing that is stated to last needs anyone's hands.
    pub waiting: Lasts,
    /// The sum over its steps: more than the total where steps run beside each other.
    pub sum: Lasts,
    /// Clauses that do something and say not, or not wholly, how long.
    pub unstated: usize,
}

/// When a clause begins and ends, from the beginning of its part.
#[derive(Clone, Debug)]
pub struct StepTime {
    /// The line.
    pub line: u32,
    /// Which clause of the line.
    pub clause: usize,
    /// Which of [`Times::parts`].
    pub part: usize,
    /// The vessel that it is about, by its position in [`Plan::apparatus`].
    pub about: usize,
    /// The equipment that it touches, that vessel included, by its position in [`Plan::apparatus`].
    pub vessels: Vec<usize>,
    /// How long it takes, or why that is not determined. A step that only records takes none.
    pub duration: Determined<Time>,
    /// What it states, or what follows from that: less than the whole where there is a gap.
    pub stated: Lasts,
    /// Of what is stated: when nobody has to stand by.
    pub waiting: Lasts,
    /// When it begins, at the earliest.
    pub begins: Lasts,
    /// When it ends, at the earliest.
    pub ends: Lasts,
    /// Whether a step that says no time comes before its end, so that it may well end later.
    pub or_later: bool,
}

/// A time of day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Clock {
    /// Days after the day of the start.
    pub day: u32,
    /// Hours after midnight.
    pub hour: u32,
    /// Minutes after the hour.
    pub minute: u32,
}

/// `overnight`, by the language.
const OVERNIGHT_HOURS: f64 = 16.0;

impl Lasts {
    fn exactly(time: Time) -> Lasts {
        Lasts {
            least: time,
            most: time,
        }
    }

    fn times(self, factor: f64) -> Lasts {
        Lasts {
            least: self.least * factor,
            most: self.most * factor,
        }
    }

    /// Whether it is no time at all.
    #[must_use]
    pub fn is_none(&self) -> bool {
        self.most <= Time::default()
    }
}

impl Add for Lasts {
    type Output = Lasts;

    fn add(self, other: Lasts) -> Lasts {
        Lasts {
            least: self.least + other.least,
            most: self.most + other.most,
        }
    }
}

impl std::fmt::Display for Lasts {
    /// `4 h 35 min`, `30 s`, `2 h to 2 h 30 min`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (least, most) = (words(self.least), words(self.most));
        if least == most {
            f.write_str(&least)
        } else {
            write!(f, "{least} to {most}")
        }
    }
}

/// To the minute from ten minutes on, else to the second.
fn words(time: Time) -> String {
    let seconds = time.get::<second>().round();
    let seconds = if seconds < 600.0 {
        seconds
    } else {
        time.get::<minute>().round() * 60.0
    };
    let parts = [
        ((seconds / 3600.0).floor(), "h"),
        ((seconds % 3600.0 / 60.0).floor(), "min"),
        (seconds % 60.0, "s"),
    ];
    let parts = parts.iter().filter(|(number, _)| *number > 0.0);
    let parts: Vec<String> = parts
        .map(|(number, unit)| format!("{number} {unit}"))
        .collect();
    if parts.is_empty() {
        "0 min".to_owned()
    } else {
        parts.join(" ")
    }
}

impl Plan {
    /// When its steps begin and end.
    #[must_use]
    pub fn times(&self) -> Times {
        let mut lines = Lines::default();
        let mut steps = Vec::with_capacity(self.moments.len());
        let mut part = 0;
        for (line, index) in self.text.lines.iter().zip(0u32..) {
            match &line.statement {
                Statement::Place(place)
                    if matches!(place.kind, PlaceKind::DayBefore | PlaceKind::OnTheDay) =>
                {
                    part += usize::from(!steps.is_empty());
                }
                Statement::Step(step) => {
                    let taken = self.step(index, step, part, &lines);
                    lines.0.push(taken.iter().map(Repeated::of).collect());
                    steps.extend(taken);
                }
                _ => {}
            }
        }
        let [least, most] = [Bounds::Least, Bounds::Most].map(|bounds| {
            let mut schedule = Schedule::new(bounds);
            schedule.run(self, &steps);
            schedule
        });
        for (step, (least, most)) in steps.iter_mut().zip(least.steps.iter().zip(&most.steps)) {
            let lasts = |least, most| Lasts { least, most };
            step.begins = lasts(least.begins, most.begins);
            step.ends = lasts(least.ends, most.ends);
            step.or_later = least.or_later;
        }
        let parts = (0..=part).map(|part| {
            let of_part = || steps.iter().filter(move |step| step.part == part);
            let totals = [&least, &most].map(|schedule| schedule.total(&steps, part));
            let waiting = [&least, &most].map(|schedule| schedule.waiting(&steps, part));
            Part {
                total: between(totals),
                waiting: between(waiting),
                sum: of_part().fold(Lasts::default(), |sum, step| sum + step.stated),
                unstated: of_part().filter(|step| step.duration.is_err()).count(),
            }
        });
        Times {
            parts: parts.collect(),
            start: self
                .text
                .lines
                .iter()
                .find_map(|line| match line.statement {
                    Statement::Start(Some((minutes, _))) => Some(minutes),
                    _ => None,
                }),
            steps,
        }
    }

    fn step(&self, line: u32, step: &Step, part: usize, lines: &Lines) -> Vec<StepTime> {
        let clauses = step.clauses.iter().enumerate();
        clauses
            .filter_map(|(number, clause)| {
                let moment = self.moment(line, number)?;
                let taken = if clause.verb == Verb::Repeat {
                    lines.repeated(clause)
                } else {
                    self.taken(line, moment, clause)
                };
                Some(StepTime {
                    line,
                    clause: number,
                    part,
                    about: moment.vessel,
                    vessels: self.touched(moment, clause),
                    duration: taken.duration,
                    stated: taken.stated,
                    waiting: taken.waiting,
                    begins: Lasts::default(),
                    ends: Lasts::default(),
                    or_later: false,
                })
            })
            .collect()
    }

    fn moment(&self, line: u32, clause: usize) -> Option<&Moment> {
        let at = self
            .moments
            .binary_search_by_key(&(line, clause), |moment| (moment.line, moment.clause));
        self.moments.get(at.ok()?)
    }

    fn holder(&self, thing: &Thing) -> Option<usize> {
        let (Referent::Key(id) | Referent::Standing(_, Some(id))) = thing.referent else {
            return None;
        };
        let holds = |item: &Apparatus| item.id == Some(id) && item.kind != EquipmentKind::Tool;
        self.apparatus.iter().position(holds)
    }

    /// What a clause happens in, and where it takes from and puts to; a syringe that it goes through is neither.
    fn touched(&self, moment: &Moment, clause: &Clause) -> Vec<usize> {
        let named = clause.objects.iter().chain(crate::takes::places(clause));
        let named = named.filter_map(|thing| self.holder(thing));
        let from = moment.additions.iter().filter_map(|addition| addition.from);
        let mut touched: Vec<usize> = named.chain(from).chain([moment.vessel]).collect();
        touched.sort_unstable();
        touched.dedup();
        touched
    }

    fn taken(&self, line: u32, moment: &Moment, clause: &Clause) -> Taken {
        if is_record(clause.verb) {
            let none = Origin::Convention("writing down takes no time");
            return Taken {
                duration: Ok(Known::new(Time::default(), Time::default(), none)),
                stated: Lasts::default(),
                waiting: Lasts::default(),
            };
        }
        let mut stated: Vec<(TimeKind, Known<Time>, Lasts)> = Vec::new();
        let mut gap = None;
        for modifier in &clause.modifiers {
            let ModifierKind::Time(kind, quantity) = &modifier.kind else {
                continue;
            };
            match (kind, quantity) {
                (TimeKind::Overnight, _) => {
                    let time = Time::new::<hour>(OVERNIGHT_HOURS);
                    let origin = Origin::Convention("overnight is 16 h");
                    let known = Known::new(time, Time::default(), origin);
                    stated.push((*kind, known, Lasts::exactly(time)));
                }
                (_, Some(quantity)) => match convert::time(quantity, line) {
                    Some(known) => {
                        let lasts = bounds(quantity);
                        if quantity.bound == Bound::AtLeast {
                            gap = Some("only the least time is stated: say how long");
                        }
                        stated.push((*kind, known, lasts));
                    }
                    None => gap = Some("the time has no unit of time: write it as in 30 min"),
                },
                (_, None) => gap = Some("the time could not be read: write it as in 30 min"),
            }
        }
        if stated.is_empty() && gap.is_none() {
            match self.by_rate(line, moment, clause) {
                Some((known, lasts)) => stated.push((TimeKind::Over, known, lasts)),
                None => gap = Some(why_none(clause)),
            }
        }
        let kinds = |wanted: TimeKind| stated.iter().filter(|s| s.0 == wanted).count();
        if kinds(TimeKind::For) + kinds(TimeKind::Overnight) > 1 || kinds(TimeKind::Over) > 1 {
            return Taken::nothing("more than one time is stated: which counts is not clear");
        }
        let cycles = clause.modifiers.iter().any(|modifier| {
            matches!(
                modifier.kind,
                ModifierKind::Count(
                    CountKind::Cycles | CountKind::Times | CountKind::MoreTimes,
                    2..
                )
            )
        });
        if cycles && !stated.is_empty() {
            return Taken::nothing("whether the time is of each cycle or of all is not said");
        }
        let lasts = stated
            .iter()
            .fold(Lasts::default(), |sum, (_, _, lasts)| sum + *lasts);
        let sum = stated
            .iter()
            .map(|(_, known, _)| known.clone())
            .reduce(|a, b| a.plus(&b, "sum of the times"));
        let alone = stated.iter().filter(|(kind, ..)| {
            *kind == TimeKind::Overnight || goes_alone(clause.verb) || self.is_pumped(clause)
        });
        let waiting = alone.fold(Lasts::default(), |sum, (_, _, lasts)| sum + *lasts);
        let duration = match (gap, sum) {
            (None, Some(sum)) => Ok(sum),
            (gap, _) => Err(Gap::new(gap.unwrap_or("no time is stated"))),
        };
        Taken {
            duration,
            stated: lasts,
            waiting,
        }
    }

    /// `at 5.0 mL/h`: what comes into the vessel, over the rate. The width is the rate's alone, for the volumes of the
    /// vessels have none.
    fn by_rate(&self, line: u32, moment: &Moment, clause: &Clause) -> Option<(Known<Time>, Lasts)> {
        let rate = clause.modifiers.iter().find_map(|modifier| {
            let ModifierKind::Rate(rate) = &modifier.kind else {
                return None;
            };
            let wanted = rate.unit.dimension == Dimension::VolumeRate && rate.to.is_none();
            (wanted && rate.bound != Bound::AtMost && rate.bound != Bound::AtLeast).then_some(rate)
        })?;
        let adds = matches!(
            clause.verb,
            Verb::Add | Verb::Charge | Verb::Transfer | Verb::Quench | Verb::Dilute
        );
        let volume =
            |states: &[Arc<VesselState>]| states.get(moment.vessel)?.volume(&self.materials);
        let volume: Volume = volume(&moment.after)? - volume(&moment.before)?;
        let factor = rate.unit.factor.to_f64()?;
        let per_second = convert::float(&rate.number) * factor;
        let time = Time::new::<second>(volume.get::<liter>() / per_second);
        let relative = convert::half_digit(&rate.number) / convert::float(&rate.number);
        let sound = adds && per_second > 0.0 && time > Time::default() && time.is_finite();
        let at = At {
            line,
            span: rate.span,
        };
        let origin = Origin::computed("volume over rate", &[&Origin::Written(at)]);
        sound.then(|| {
            let known = Known::new(time, time * relative, origin);
            (known, Lasts::exactly(time))
        })
    }

    /// Whether a pump does it: by name, or by the description of a piece of equipment.
    fn is_pumped(&self, clause: &Clause) -> bool {
        let has_pump = |text: &str| {
            let mut words = text.split(|c: char| !c.is_alphanumeric());
            words.any(|word| word.eq_ignore_ascii_case("pump"))
        };
        clause.modifiers.iter().any(|modifier| {
            let (ModifierKind::Via(things)
            | ModifierKind::With(things)
            | ModifierKind::Other(_, things)) = &modifier.kind
            else {
                return false;
            };
            things.iter().any(|thing| {
                let item = match thing.referent {
                    Referent::Key(id) => self.apparatus.iter().find(|item| item.id == Some(id)),
                    _ => None,
                };
                has_pump(&thing.name.text) || item.is_some_and(|item| has_pump(&item.text))
            })
        })
    }
}

/// What a quantity of the text claims, without the half of its last digit.
fn bounds(quantity: &Quantity) -> Lasts {
    let factor = quantity.unit.factor.to_f64().unwrap_or(0.0);
    let time = |number| Time::new::<second>((convert::float(number) * factor).max(0.0));
    let from = time(&quantity.number);
    let to = quantity.to.as_ref().map_or(from, time);
    let (least, most) = (from.min(to), from.max(to));
    match quantity.bound {
        Bound::AtMost => Lasts {
            least: Time::default(),
            most,
        },
        _ => Lasts { least, most },
    }
}

/// What a clause comes to.
struct Taken {
    duration: Determined<Time>,
    stated: Lasts,
    waiting: Lasts,
}

impl Taken {
    fn nothing(why: &'static str) -> Taken {
        Taken {
            duration: Err(Gap::new(why)),
            stated: Lasts::default(),
            waiting: Lasts::default(),
        }
    }
}

/// Words that are written down and nothing that is done.
fn is_record(verb: Verb) -> bool {
    matches!(verb, Verb::Note | Verb::Expect | Verb::Check | Verb::Keep)
}

/// What goes on by itself once it is set up.
fn goes_alone(verb: Verb) -> bool {
    matches!(
        verb,
        Verb::Stir
            | Verb::Heat
            | Verb::Reflux
            | Verb::Hold
            | Verb::Cool
            | Verb::Warm
            | Verb::Wait
            | Verb::Settle
            | Verb::Bake
            | Verb::Dry
            | Verb::AirDry
            | Verb::Evacuate
            | Verb::Purge
            | Verb::Sparge
            | Verb::Crystallise
    )
}

fn why_none(clause: &Clause) -> &'static str {
    let is = |wanted: fn(&ModifierKind) -> bool| clause.modifiers.iter().any(|m| wanted(&m.kind));
    if is(|kind| matches!(kind, ModifierKind::UntilText(_))) {
        "it ends when what it waits for has come: how long that takes is not said"
    } else if is(|kind| matches!(kind, ModifierKind::Rate(_))) {
        "a rate is stated, and not what it takes to divide by it"
    } else if is(|kind| matches!(kind, ModifierKind::Temperature(TemperatureKind::To, _))) {
        "how long it takes to get to the temperature is not said"
    } else {
        "no time is stated"
    }
}

/// The lines of steps so far, by what repeating them comes to.
#[derive(Default)]
struct Lines(Vec<Vec<Repeated>>);

/// What a repeat needs of a clause.
struct Repeated {
    duration: Determined<Time>,
    stated: Lasts,
    waiting: Lasts,
}

impl Repeated {
    fn of(step: &StepTime) -> Repeated {
        Repeated {
            duration: step.duration.clone(),
            stated: step.stated,
            waiting: step.waiting,
        }
    }
}

impl Lines {
    /// `repeat last 2 steps, 2 more times`
    fn repeated(&self, clause: &Clause) -> Taken {
        let mut last = 1;
        let mut times = 1;
        for modifier in &clause.modifiers {
            match &modifier.kind {
                ModifierKind::LastSteps(count) => last = *count,
                ModifierKind::Count(_, count) => times = *count,
                ModifierKind::UntilText(_) => {
                    return Taken::nothing("how often it is repeated is not said");
                }
                ModifierKind::Time(..) => {
                    return Taken::nothing("whether the time is of each repeat is not said");
                }
                _ => {}
            }
        }
        let first = usize::try_from(last)
            .ok()
            .and_then(|last| self.0.len().checked_sub(last));
        let Some(again) = first.and_then(|first| self.0.get(first..)) else {
            return Taken::nothing("there are fewer steps above than it repeats");
        };
        let factor = f64::from(times);
        let again = || again.iter().flatten();
        let sum = |of: fn(&Repeated) -> Lasts| {
            let once = again().fold(Lasts::default(), |sum, step| sum + of(step));
            once.times(factor)
        };
        let known = |of: fn(&Known<Time>) -> Time| {
            let times = again().map(|step| step.duration.as_ref().ok().map(of));
            times
                .collect::<Option<Vec<Time>>>()
                .map(|times| times.into_iter().fold(Time::default(), Add::add) * factor)
        };
        let both = known(|time| time.value).zip(known(|time| time.half_width));
        Taken {
            // No chain of origins: repeats of repeats would double it each time.
            duration: both
                .map(|(value, half)| {
                    let origin = Origin::Convention("what the repeated steps take");
                    Known::new(value, half, origin)
                })
                .ok_or_else(|| Gap::new("a step that is repeated states no time")),
            stated: sum(|step| step.stated),
            waiting: sum(|step| step.waiting),
        }
    }
}

/// Which bound of every stated time counts.
#[derive(Clone, Copy)]
enum Bounds {
    Least,
    Most,
}

impl Bounds {
    fn of(self, lasts: Lasts) -> Time {
        match self {
            Bounds::Least => lasts.least,
            Bounds::Most => lasts.most,
        }
    }
}

/// Steps that follow each other: those of the plan, and those below each `meanwhile`.
#[derive(Clone, Copy, Default)]
struct Track {
    ends: Time,
    /// When its last step begins.
    last: Time,
    or_later: bool,
    /// The same of its beginning.
    last_or_later: bool,
}

/// When a step begins and ends, by one bound.
#[derive(Clone, Copy)]
struct Placed {
    begins: Time,
    ends: Time,
    or_later: bool,
}

/// What the steps so far did with a vessel.
#[derive(Clone, Copy, Default)]
struct Held {
    /// The track whose steps are about it; being dried along with others does not count.
    track: Option<usize>,
    /// When it is free.
    free: Time,
    or_later: bool,
}

struct Schedule {
    bounds: Bounds,
    tracks: Vec<Track>,
    current: usize,
    /// By vessel.
    vessels: HashMap<usize, Held>,
    steps: Vec<Placed>,
}

impl Schedule {
    fn new(bounds: Bounds) -> Schedule {
        Schedule {
            bounds,
            tracks: vec![Track::default()],
            current: 0,
            vessels: HashMap::new(),
            steps: Vec::new(),
        }
    }

    fn run(&mut self, plan: &Plan, steps: &[StepTime]) {
        let mut rest = steps.iter().peekable();
        for (line, index) in plan.text.lines.iter().zip(0u32..) {
            if let Statement::Place(place) = &line.statement {
                let vessel = place.thing.as_ref().and_then(|thing| plan.holder(thing));
                self.place(place.kind, vessel);
            }
            while let Some(step) = rest.next_if(|step| step.line == index) {
                self.put(step);
            }
        }
    }

    fn track(&self, index: usize) -> Track {
        self.tracks.get(index).copied().unwrap_or_default()
    }

    fn place(&mut self, kind: PlaceKind, vessel: Option<usize>) {
        match kind {
            PlaceKind::In => {
                let held = vessel.and_then(|vessel| self.vessels.get(&vessel));
                self.current = held.and_then(|held| held.track).unwrap_or(self.current);
            }
            PlaceKind::Meanwhile => {
                let above = self.track(self.current);
                self.current = self.tracks.len();
                self.tracks.push(Track {
                    ends: above.last,
                    last: above.last,
                    or_later: above.last_or_later,
                    last_or_later: above.last_or_later,
                });
                if let Some(vessel) = vessel {
                    self.vessels.entry(vessel).or_default().track = Some(self.current);
                }
            }
            PlaceKind::DayBefore | PlaceKind::OnTheDay => {
                self.tracks = vec![Track::default()];
                self.current = 0;
                self.vessels.clear();
            }
            PlaceKind::OutOf => {}
        }
    }

    fn put(&mut self, step: &StepTime) {
        let mut track = self.track(self.current);
        let (mut begins, mut or_later) = (track.ends, track.or_later);
        let mut into = self.current;
        for held in step.vessels.iter().filter_map(|v| self.vessels.get(v)) {
            begins = begins.max(held.free);
            or_later |= held.or_later;
            // What touches vessels of two tracks goes on in the older.
            into = into.min(held.track.unwrap_or(into));
        }
        let last_or_later = or_later;
        let ends = begins + self.bounds.of(step.stated);
        or_later |= step.duration.is_err();
        if into != self.current {
            track = self.track(into);
            self.current = into;
        }
        track.ends = track.ends.max(ends);
        track.or_later |= or_later;
        // Nobody works beside what is only written down.
        if step.duration.is_err() || !step.stated.is_none() {
            track.last = begins;
            track.last_or_later = last_or_later;
        }
        if let Some(place) = self.tracks.get_mut(into) {
            *place = track;
        }
        for &vessel in &step.vessels {
            let held = self.vessels.entry(vessel).or_default();
            held.free = ends;
            held.or_later = or_later;
            if vessel == step.about {
                held.track = Some(into);
            }
        }
        self.steps.push(Placed {
            begins,
            ends,
            or_later,
        });
    }

    fn of_part<'a>(
        &'a self,
        steps: &'a [StepTime],
        part: usize,
    ) -> impl Iterator<Item = (&'a StepTime, &'a Placed)> {
        let placed = steps.iter().zip(&self.steps);
        placed.filter(move |(step, _)| step.part == part)
    }

    fn total(&self, steps: &[StepTime], part: usize) -> Time {
        self.of_part(steps, part)
            .fold(Time::default(), |total, (_, placed)| total.max(placed.ends))
    }

    /// The total without every stretch in which a step is hands-on. Of a repeat, which has both, the hands-on time is
    /// taken first.
    fn waiting(&self, steps: &[StepTime], part: usize) -> Time {
        let hands_on = self
            .of_part(steps, part)
            .map(|(step, placed)| (placed.begins, placed.ends - self.bounds.of(step.waiting)));
        let mut stretches: Vec<(Time, Time)> = hands_on.filter(|(from, to)| from < to).collect();
        stretches.sort_by(|a, b| a.0.get::<second>().total_cmp(&b.0.get::<second>()));
        let mut busy = Time::default();
        let mut done = Time::default();
        for (from, to) in stretches {
            let from = from.max(done);
            if to > from {
                busy += to - from;
                done = to;
            }
        }
        let free = self.total(steps, part) - busy;
        free.max(Time::default())
    }
}

fn between([a, b]: [Time; 2]) -> Lasts {
    Lasts {
        least: a.min(b),
        most: a.max(b),
    }
}

impl Times {
    /// What is stated of all parts; the nights between them are not counted.
    #[must_use]
    pub fn whole(&self) -> Part {
        self.parts.iter().fold(Part::default(), |sum, part| Part {
            total: sum.total + part.total,
            waiting: sum.waiting + part.waiting,
            sum: sum.sum + part.sum,
            unstated: sum.unstated + part.unstated,
        })
    }

    /// The time of day after a time from the beginning of a part; only the last part begins at `start`.
    #[must_use]
    pub fn clock(&self, part: usize, after: Time) -> Option<Clock> {
        let start = u64::from(self.start?);
        let minutes = after.get::<minute>().round();
        let in_range = (0.0..=f64::from(u32::MAX)).contains(&minutes);
        if part + 1 != self.parts.len() || !in_range {
            return None;
        }
        // In range, and whole.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let minutes = start + minutes as u64;
        let whole = |number: u64| u32::try_from(number).ok();
        Some(Clock {
            day: whole(minutes / 1440)?,
            hour: whole(minutes % 1440 / 60)?,
            minute: whole(minutes % 60)?,
        })
    }
}

impl std::fmt::Display for Clock {
    /// `13:35`, `9:05 (+1 day)`
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}:{:02}", self.hour, self.minute)?;
        match self.day {
            0 => Ok(()),
            1 => f.write_str(" (+1 day)"),
            days => write!(f, " (+{days} days)"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn plan(steps: &str) -> Plan {
        Plan::read(&format!(
            "plan A
start 9:00
materials
  base: n-butyllithium, 2.5 M in hexanes, 2.30 mL
  thf: tetrahydrofuran, 60 mL
equipment
  flask: 100 mL flask
  vial: 20 mL vial
  flaskB: 50 mL flask
steps
{steps}"
        ))
    }

    /// Begin, end and whether it may be later, of every clause.
    fn placed(steps: &str) -> Vec<String> {
        let times = plan(steps).times();
        let placed = times.steps.iter().map(|step| {
            let later = if step.or_later { " or later" } else { "" };
            format!("{} - {}{later}", step.begins, step.ends)
        });
        placed.collect()
    }

    fn whole(steps: &str) -> (String, String, usize) {
        let whole = plan(steps).times().whole();
        (
            whole.total.to_string(),
            whole.waiting.to_string(),
            whole.unstated,
        )
    }

    fn is(total: &str, waiting: &str, unstated: usize) -> (String, String, usize) {
        (total.to_owned(), waiting.to_owned(), unstated)
    }

    #[test]
    fn steps_follow_each_other_and_what_is_not_said_is_not_guessed() {
        let steps = "  add thf 20 mL
  add base dropwise over 10 min
  expect a yellow solution
  stir for 2 h, until no ketone by TLC
";
        assert_eq!(
            placed(steps),
            [
                "0 min - 0 min or later",
                "0 min - 10 min or later",
                "10 min - 10 min or later",
                "10 min - 2 h 10 min or later"
            ]
        );
        assert_eq!(whole(steps), is("2 h 10 min", "2 h", 1));
    }

    #[test]
    fn each_gap_has_its_reason() {
        for (step, why) in [
            ("add thf 20 mL", "no time is stated"),
            ("stir until no ketone by TLC", "ends when"),
            ("cool to 0 °C", "get to the temperature"),
            ("concentrate at 40 °C", "no time is stated"),
            ("stir for > 2 h", "least"),
            (
                "evacuate and refill with argon, 3 cycles, for 5 min",
                "each cycle",
            ),
            ("repeat last 2 steps", "fewer steps above"),
        ] {
            let times = plan(&format!("  {step}\n")).times();
            let gap = times.steps[0].duration.as_ref().err();
            let gap = gap.map(ToString::to_string).unwrap_or_default();
            assert!(gap.contains(why), "{step}: {gap}");
        }
        assert_eq!(whole("  stir for > 2 h\n"), is("2 h", "2 h", 1));
    }

    #[test]
    fn a_range_stays_a_range_and_overnight_is_sixteen_hours() {
        let steps = "  add base over 10-15 min\n  stir overnight\n";
        assert_eq!(whole(steps), is("16 h 10 min to 16 h 15 min", "16 h", 0));
        assert_eq!(
            whole("  stir for < 2 h\n"),
            is("0 min to 2 h", "0 min to 2 h", 0)
        );
    }

    #[test]
    fn a_pump_takes_the_volume_over_its_rate_and_leaves_the_hands_free() {
        let steps = "  in vial\n  dissolve base in thf 7.7 mL\n  in flask
  transfer vial to flask via syringe pump at 5.0 mL/h\n";
        // 10.0 mL at 5.0 mL/h.
        let found = plan(steps).times();
        let step = &found.steps[1];
        assert_eq!(step.stated.to_string(), "2 h");
        assert_eq!(found.whole().waiting.to_string(), "2 h");
        let by_hand = steps.replace(" via syringe pump", "");
        assert_eq!(whole(&by_hand), is("2 h", "0 min", 1));
    }

    #[test]
    fn what_stands_below_meanwhile_runs_beside_the_step_above() {
        let steps = "  stir for 2 h
  meanwhile in vial
  stir for 30 min
  add thf 5 mL over 10 min
  in flask
  stir for 5 min
  transfer vial to flask over 10 min
  stir for 1 h
";
        assert_eq!(
            placed(steps),
            [
                "0 min - 2 h",
                "0 min - 30 min",
                "30 min - 40 min",
                "2 h - 2 h 5 min",
                "2 h 5 min - 2 h 15 min",
                "2 h 15 min - 3 h 15 min"
            ]
        );
        let part = plan(steps).times().whole();
        // Two additions of ten minutes need hands; 40 min run beside the first step.
        assert_eq!(part.waiting.to_string(), "2 h 55 min");
        assert_eq!(part.sum.to_string(), "3 h 55 min");
    }

    #[test]
    fn what_touches_both_waits_for_both() {
        let steps = "  stir for 30 min
  meanwhile in flaskB
  stir for 2 h
  in flask
  transfer flaskB to flask over 10 min
";
        assert_eq!(
            placed(steps),
            ["0 min - 30 min", "0 min - 2 h", "2 h - 2 h 10 min"]
        );
    }

    #[test]
    fn a_repeat_takes_what_it_repeats() {
        let steps =
            "  add base over 10 min\n  stir for 20 min\n  repeat last 2 steps, 2 more times\n";
        assert_eq!(whole(steps), is("1 h 30 min", "1 h", 0));
        let steps = "  add base\n  stir for 20 min\n  repeat last 2 steps\n";
        assert_eq!(whole(steps), is("40 min", "40 min", 2));
    }

    #[test]
    fn the_clock_counts_on_the_day() {
        let plan = plan(
            "  the day before\n  dry flask at 125 °C overnight\n  on the day\n  stir for 35 min\n  stir for 16 h\n",
        );
        let times = plan.times();
        let clock = |part, after: Time| times.clock(part, after).map(|clock| clock.to_string());
        let ends: Vec<_> = times
            .steps
            .iter()
            .map(|step| clock(step.part, step.ends.least))
            .collect();
        let at = |text: &str| Some(text.to_owned());
        assert_eq!(ends, [None, at("9:35"), at("1:35 (+1 day)")]);
        assert_eq!(times.parts.len(), 2);
        assert_eq!(times.whole().total.to_string(), "32 h 35 min");
    }

    /// Added up by hand: overnight, 2 h of drying, 45 min and 3 h of stirring and 5 min under argon by themselves;
    /// 10, 5 and 5 min of adding by hand.
    #[test]
    fn an_example_adds_up() {
        let plan = Plan::read(include_str!("../../../examples/methylenation.prep"));
        let whole = plan.times().whole();
        assert_eq!(whole.total.to_string(), "22 h 10 min");
        assert_eq!(whole.waiting.to_string(), "21 h 50 min");
    }

    fn step() -> impl Strategy<Value = String> {
        let vessel = prop::sample::select(vec!["flask", "vial", "flaskB"]);
        let other = vessel.clone();
        (0..9, vessel, other, 1..200u32).prop_map(|(kind, a, b, n)| match kind {
            0 => format!("  in {a}"),
            1 => format!("  meanwhile in {a}"),
            2 => format!("  transfer {a} to {b} over {n} min"),
            3 => format!("  stir for {n} min"),
            4 => format!("  add thf 1 mL over {n}-{} min", n + 5),
            5 => "  cool to 0 °C".to_owned(),
            6 => format!("  dry {a}, {b} at 125 °C for {n} min"),
            7 => "  on the day".to_owned(),
            _ => "  repeat last step".to_owned(),
        })
    }

    proptest! {
        #[test]
        fn a_vessel_never_goes_back_in_time(steps in prop::collection::vec(step(), 0..20)) {
            let text = steps.join("\n") + "\n";
            let plan = plan(&text);
            let times = plan.times();
            let order: Vec<_> = times.steps.iter().map(|step| (step.line, step.clause)).collect();
            let moments: Vec<_> = plan.moments.iter().map(|m| (m.line, m.clause)).collect();
            prop_assert_eq!(order, moments);
            let mut free = HashMap::new();
            for step in &times.steps {
                prop_assert!(step.begins.least <= step.ends.least);
                prop_assert!(step.ends.least <= step.ends.most);
                for vessel in &step.vessels {
                    let before = free.insert((step.part, *vessel), step.ends.least);
                    prop_assert!(before.is_none_or(|before| before <= step.begins.least));
                }
            }
            let slack = Time::new::<second>(1e-6);
            for part in &times.parts {
                for (total, sum, waiting) in [
                    (part.total.least, part.sum.least, part.waiting.least),
                    (part.total.most, part.sum.most, part.waiting.most),
                ] {
                    prop_assert!(total <= sum + slack, "{}", text);
                    prop_assert!(waiting <= total + slack, "{}", text);
                }
            }
        }
    }
}
