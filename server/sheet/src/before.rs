//! What is prepared before the day of the reaction.

use crate::bench::{self, Bench, degrees};
use chemistry::ReagentClass;
use plan::vessel::{Apparatus, celsius};
use plan::{Material, convert};
use syntax::{
    Clause, Condition, EquipmentKind, ModifierKind, PlaceKind, Referent, Sense, Statement,
    TemperatureKind, TemperatureValue, TimeKind, Verb,
};
use uom::si::time::hour;

/// Something to prepare.
pub(crate) struct Task {
    /// What to do.
    pub(crate) what: String,
    /// How, by common practice.
    pub(crate) practice: Option<String>,
    /// The steps that it is about.
    pub(crate) steps: Vec<usize>,
}

impl Task {
    fn new(what: impl Into<String>) -> Task {
        Task {
            what: what.into(),
            practice: None,
            steps: Vec::new(),
        }
    }

    fn practice(mut self, how: &str) -> Task {
        self.practice = Some(how.to_owned());
        self
    }

    fn steps(mut self, steps: Vec<usize>) -> Task {
        self.steps = steps;
        self
    }
}

/// From this time on glass is not dried on the day itself; common practice.
const LONG_HOURS: f64 = 4.0;

/// What to prepare.
pub(crate) fn tasks(bench: &Bench<'_>) -> Vec<Task> {
    let mut tasks = Vec::new();
    let before = day_before(bench);
    tasks.extend(glass(
        bench,
        before.as_ref().map_or(&[], |task| &task.steps),
    ));
    tasks.extend(before);
    for material in &bench.plan.materials {
        tasks.extend(reagent(material));
    }
    tasks.extend(baths(bench));
    tasks
}

/// What the plan itself puts on the day before.
fn day_before(bench: &Bench<'_>) -> Option<Task> {
    let mut before = false;
    let mut steps = Vec::new();
    for (line, index) in bench.plan.text.lines.iter().zip(0u32..) {
        match &line.statement {
            Statement::Place(place) if place.kind == PlaceKind::DayBefore => before = true,
            Statement::Place(place) if place.kind == PlaceKind::OnTheDay => before = false,
            Statement::Step(_) if before => steps.extend(bench.number(index)),
            _ => {}
        }
    }
    let what = "Do what the plan puts on the day before";
    (!steps.is_empty()).then(|| Task::new(what).steps(steps))
}

/// Glass to wash and to dry, but for what the plan itself does on the day before.
fn glass(bench: &Bench<'_>, before: &[usize]) -> Vec<Task> {
    let plan = bench.plan;
    let mut names: Vec<&str> = Vec::new();
    let mut drying = Vec::new();
    let mut washed = false;
    for moment in &plan.moments {
        let Some(clause) = bench::clause(plan, moment) else {
            continue;
        };
        washed |= clause.verb == Verb::Wash && clause.senses.contains(&Sense::Glass);
        let dries = match clause.verb {
            Verb::Dry => clause.senses.contains(&Sense::Glass),
            Verb::Bake | Verb::FlameDry => true,
            _ => false,
        };
        if !dries {
            continue;
        }
        for thing in &clause.objects {
            let item = |item: &&Apparatus| matches!(thing.referent, Referent::Key(id) if item.id == Some(id));
            let item = plan.apparatus.iter().find(item);
            if item.is_some() && !names.contains(&&*thing.name.text) {
                names.push(&thing.name.text);
            }
        }
        let step = bench.number(moment.line);
        if clause.verb != Verb::FlameDry
            && !step.is_some_and(|step| before.contains(&step))
            && is_long(moment.line, clause)
            && let Some(words) = plan.slice(moment.line, clause.span)
        {
            let steps = step.into_iter().collect();
            drying.push(Task::new(format!("Start: {words}")).steps(steps));
        }
    }
    if names.is_empty() {
        let vessels = plan.apparatus.iter();
        names.extend(
            vessels
                .filter(|item| item.kind == EquipmentKind::Vessel && item.line.is_some())
                .map(|item| &*item.name),
        );
    }
    let mut tasks = Vec::new();
    if !names.is_empty() && !washed {
        let wash = format!("Wash {}", names.join(", "));
        tasks.push(Task::new(wash).practice(
            "with a polar and then a non-polar solvent, two or three times each; drain, and let it dry in air before any heat",
        ));
    }
    tasks.extend(drying);
    tasks
}

fn is_long(line: u32, clause: &Clause) -> bool {
    clause
        .modifiers
        .iter()
        .any(|modifier| match &modifier.kind {
            ModifierKind::Time(TimeKind::Overnight, _) => true,
            ModifierKind::Time(_, Some(quantity)) => convert::time(quantity, line)
                .is_some_and(|time| time.value.get::<hour>() >= LONG_HOURS),
            _ => false,
        })
}

fn reagent(material: &Material) -> Option<Task> {
    if material.product {
        return None;
    }
    let key = &material.key.text;
    let mut says = Vec::new();
    let mut practice = Vec::new();
    for (condition, _) in &material.conditions {
        match condition {
            Condition::Dry => says.push("dry".to_owned()),
            Condition::Water(quantity) => {
                says.push(format!("{} water", plan::inventory::written(quantity)));
            }
            Condition::Over(agent) => {
                says.push(format!("over {}", agent.text));
                practice.push(if agent.text.contains("sieve") {
                    "on the sieves since yesterday at the latest, and its water measured"
                } else {
                    "its water measured"
                });
            }
            Condition::Degassed => says.push("degassed".to_owned()),
            Condition::Distilled => says.push("distilled".to_owned()),
            Condition::Activated => says.push("activated".to_owned()),
            Condition::Unstabilised | Condition::AsReceived => {}
        }
    }
    let titrated = matches!(
        material.class(),
        Some(
            ReagentClass::Organolithium
                | ReagentClass::Grignard
                | ReagentClass::Organozinc
                | ReagentClass::AmideBase
        )
    );
    if titrated && let plan::Bottle::Molar(strength) = &material.bottle {
        let molar = strength.value / convert::molar(1.0);
        let molar = plan::show::shortest(molar.value);
        says.push(format!("{molar} M is what the plan reckons with"));
        practice.insert(
            0,
            "titrate it, and write the titre into the plan if it differs",
        );
    }
    let bottle = material.named.as_ref().and_then(|named| named.bottle());
    if let Some(bottle) = bottle {
        let place = bottle.place.as_ref();
        let place = place.map_or(String::new(), |place| format!(", {place}"));
        says.push(format!("bottle {}{place}", bottle.name));
        if let Some(date) = bottle.titred {
            says.push(format!("titrated {date}"));
        }
    }
    if says.is_empty() {
        return None;
    }
    let mut task = Task::new(format!("Have {key} ready: {}", says.join(", ")));
    if !practice.is_empty() {
        task = task.practice(&practice.join("; "));
    }
    Some(task)
}

/// What each bath is made of; common practice.
fn cooling(celsius: f64) -> Option<&'static str> {
    match celsius {
        c if (-3.0..=5.0).contains(&c) => Some("ice and water"),
        c if (-20.0..-3.0).contains(&c) => Some("ice and salt"),
        c if (-80.0..=-70.0).contains(&c) => Some("dry ice and acetone"),
        _ => None,
    }
}

/// No bath holds what is the temperature of the room, in °C.
const ROOM: std::ops::RangeInclusive<f64> = 18.0..=27.0;

/// Below this tap water condenses nothing, in °C.
const COLD_CONDENSER: f64 = 10.0;

/// The temperatures to which something is brought, the coldest first.
fn baths(bench: &Bench<'_>) -> Vec<Task> {
    let plan = bench.plan;
    let mut found: Vec<(f64, Vec<usize>)> = Vec::new();
    let mut boil = Vec::new();
    for moment in &plan.moments {
        let Some(clause) = bench::clause(plan, moment) else {
            continue;
        };
        if moment.line >= bench.work_up() && !matches!(clause.verb, Verb::Cool)
            || !matches!(
                clause.verb,
                Verb::Cool | Verb::Heat | Verb::Warm | Verb::Reflux | Verb::Hold | Verb::Stir
            )
        {
            continue;
        }
        for modifier in &clause.modifiers {
            let ModifierKind::Temperature(kind, TemperatureValue::Quantity(quantity)) =
                &modifier.kind
            else {
                continue;
            };
            // What boils has the temperature of its boiling, and no bath has it.
            let boils = clause.verb == Verb::Reflux && *kind != TemperatureKind::Bath;
            if let Some(t) = convert::temperature(quantity)
                .map(celsius)
                .filter(|_| boils)
            {
                if t < COLD_CONDENSER {
                    boil.push((t, bench.number(moment.line)));
                }
                continue;
            }
            let at = matches!(
                kind,
                TemperatureKind::To | TemperatureKind::At | TemperatureKind::Bath
            );
            let Some(t) = convert::temperature(quantity).filter(|_| at) else {
                continue;
            };
            let t = celsius(t);
            if ROOM.contains(&t) {
                continue;
            }
            let step = bench.number(moment.line);
            match found.iter_mut().find(|(known, _)| (known - t).abs() < 0.5) {
                Some((_, steps)) => steps.extend(step),
                None => found.push((t, step.into_iter().collect())),
            }
        }
    }
    found.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    let tasks = found.into_iter().map(|(t, steps)| {
        let task = Task::new(format!("Bath at {}", degrees(t))).steps(steps);
        match cooling(t) {
            Some(with) => task.practice(with),
            None => task,
        }
    });
    let cold = boil.into_iter().map(|(t, step)| {
        let what = format!("Cold condenser for the reflux at {}", degrees(t));
        Task::new(what).steps(step.into_iter().collect()).practice(
            "dry ice and acetone in the condenser; no bath: it boils by the warmth of the room",
        )
    });
    tasks.chain(cold).collect()
}
