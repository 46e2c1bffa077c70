//! Goes through the steps and keeps what every vessel has met.

use super::bottle::{DRIED_SOLID, dries};
use super::defaults::DRIED;
use super::{Defaults, Estimate, Source, SourceKind, glass_area, oxygen_of_air, water_of_air};
use crate::Plan;
use crate::known::At;
use crate::material::Material;
use crate::vessel::{Addition, Apparatus, Content, Glass, Moment, VesselState};
use std::sync::Arc;
use syntax::{Clause, Referent, Statement};
use uom::si::amount_of_substance::micromole;
use uom::si::area::square_centimeter;
use uom::si::f64::{AmountOfSubstance, Volume};

/// What one vessel has met.
pub(super) struct Met {
    pub(super) sources: Vec<Source>,
    /// Share of room air in its gas.
    pub(super) air: Estimate<f64>,
    /// The step that last changed its gas.
    pub(super) gas_at: Option<At>,
    /// For how many hours a balloon of inert gas has been on it.
    pub(super) balloon: Option<f64>,
    /// Whether its line lists a balloon.
    pub(super) has_balloon: bool,
}

/// Goes through the moments.
pub(super) struct Pass<'a> {
    pub(super) plan: &'a Plan,
    pub(super) defaults: &'a Defaults,
    pub(super) met: Vec<Met>,
}

impl<'a> Pass<'a> {
    pub(super) fn new(plan: &'a Plan) -> Self {
        let start = |item: &Apparatus| Met {
            sources: Vec::new(),
            air: Estimate::exact(1.0),
            gas_at: None,
            balloon: None,
            has_balloon: item.text.contains("balloon"),
        };
        Pass {
            plan,
            defaults: &plan.context.settings.budget,
            met: plan.apparatus.iter().map(start).collect(),
        }
    }

    /// One moment; what it lets into an inert vessel comes back as sources of their own, for it counts only for what is in
    /// the vessel already.
    pub(super) fn step(&mut self, moment: &Moment) -> Vec<Source> {
        let Some(clause) = clause(self.plan, moment) else {
            return Vec::new();
        };
        self.dry(clause);
        self.bring(moment, clause);
        let same = Arc::ptr_eq(&moment.before, &moment.after);
        let after = if same { &[][..] } else { &moment.after[..] };
        for (index, (before, after)) in moment.before.iter().zip(after).enumerate() {
            if Arc::ptr_eq(before, after) {
                continue;
            }
            if before.gas != after.gas {
                self.change_gas(moment, clause, index, before, after);
            }
            if after.contents.is_empty() && !after.unclear && !before.contents.is_empty() {
                self.met[index].sources.clear();
            }
        }
        let opened = self.open(moment, clause);
        let breathed = self.balloon(moment, clause);
        match (opened, breathed) {
            (None, None) => Vec::new(),
            (opened, breathed) => opened.into_iter().chain(breathed).collect(),
        }
    }

    /// A solid that is dried where it is.
    fn dry(&mut self, clause: &Clause) {
        if !dries(clause) {
            return;
        }
        for thing in &clause.objects {
            let Referent::Key(id) = thing.referent else {
                continue;
            };
            let Some((material, _)) = self.plan.material(id) else {
                continue;
            };
            let sources = self.met.iter_mut().flat_map(|met| &mut met.sources);
            for source in sources.filter(|source| *source.name == *material.key.text) {
                match source.kind {
                    SourceKind::Hygroscopic => {
                        source.water = source.water * DRIED;
                        source.basis = DRIED_SOLID.into();
                    }
                    // It may have lost all of it.
                    SourceKind::Hydrate => source.water = Estimate::default(),
                    _ => {}
                }
            }
        }
    }

    pub(super) fn item(&self, vessel: usize) -> Option<&'a Apparatus> {
        self.plan.apparatus.get(vessel)
    }

    fn push(&mut self, vessel: usize, source: Source) {
        let sources = &mut self.met[vessel].sources;
        let same = |other: &&mut Source| other.kind == source.kind && other.name == source.name;
        match sources.iter_mut().find(same) {
            Some(held) => {
                held.water = held.water + source.water;
                held.oxygen = held.oxygen + source.oxygen;
            }
            None => sources.push(source),
        }
    }

    fn bring(&mut self, moment: &Moment, clause: &Clause) {
        let vessel = moment.vessel;
        let Some(before) = moment.before.get(vessel) else {
            return;
        };
        if moment.additions.is_empty() {
            return;
        }
        if before.contents.is_empty() && !before.unclear {
            self.met[vessel].sources.clear();
            if let Some(glass) = self.glass(moment, vessel, before) {
                self.push(vessel, glass);
            }
        }
        let mut poured = None;
        for addition in &moment.additions {
            match addition.from {
                None => {
                    if let Some(source) = self.bottled(addition) {
                        self.push(vessel, source);
                    }
                }
                Some(from) if poured != Some(from) => {
                    poured = Some(from);
                    self.pour(moment, addition, from, vessel);
                }
                Some(_) => {}
            }
        }
        if let Some(needles) = self.needles(moment, clause) {
            self.push(vessel, needles);
        }
    }

    pub(super) fn air(
        &self,
        kind: SourceKind,
        name: Arc<str>,
        at: At,
        air: Estimate<Volume>,
        basis: &str,
    ) -> Source {
        let room = &self.plan.room;
        Source {
            kind,
            name,
            at,
            water: air.map(|air| water_of_air(air, room)),
            oxygen: air.map(|air| oxygen_of_air(air, room)),
            basis: basis.into(),
        }
    }

    /// What a part of another vessel's contents had met comes along.
    fn pour(&mut self, moment: &Moment, addition: &Addition, from: usize, to: usize) {
        let part = moment
            .before
            .get(from)
            .and_then(|state| part_of(state, &addition.content, &self.plan.materials))
            .unwrap_or(1.0);
        let Some(source) = self.met.get_mut(from) else {
            return;
        };
        // Of what was extracted or dried there nobody knows how much water is left of a solution.
        if moment.before.get(from).is_some_and(|state| state.unclear) {
            let sources = &mut source.sources;
            sources.retain(|held| held.kind != SourceKind::Solution);
        }
        let mut moved = Vec::new();
        for held in &mut source.sources {
            moved.push(Source {
                water: held.water * part,
                oxygen: held.oxygen * part,
                ..held.clone()
            });
            held.water = held.water * (1.0 - part);
            held.oxygen = held.oxygen * (1.0 - part);
        }
        for source in moved {
            self.push(to, source);
        }
    }

    /// The film on the glass, where it is not wet with what it was rinsed with.
    fn glass(&self, moment: &Moment, vessel: usize, state: &VesselState) -> Option<Source> {
        let item = self.item(vessel)?;
        let (film, basis, line) = match &state.glass {
            Glass::Unknown | Glass::AirDried => (
                self.defaults.glass_unknown,
                "glass that looks dry, history unknown (an estimate)",
                None,
            ),
            Glass::Oven { line } => (
                self.defaults.glass_oven,
                "glass from the oven (an assumption)",
                Some(*line),
            ),
            Glass::Flame { line } => (
                self.defaults.glass_flame,
                "flame-dried glass (an assumption)",
                Some(*line),
            ),
            Glass::Glovebox => (
                self.defaults.glass_flame,
                "glass kept in a glovebox (an assumption)",
                None,
            ),
            Glass::Rinsed(_) | Glass::Drained(_) => return None,
        };
        let area = glass_area(item.capacity?).get::<square_centimeter>();
        let at = match line {
            Some(line) => verb_at(self.plan, line),
            None => moment.additions.first()?.at,
        };
        Some(Source {
            kind: SourceKind::Glass,
            name: format!("the glass of {}", item.name).into(),
            at,
            water: film.map(|film| AmountOfSubstance::new::<micromole>(film * 1e-3) * area),
            oxygen: Estimate::default(),
            basis: basis.into(),
        })
    }
}

/// Which part of a vessel's contents an addition from it is.
fn part_of(state: &VesselState, moved: &Content, materials: &[Material]) -> Option<f64> {
    let held = state
        .contents
        .iter()
        .find(|held| held.name(materials) == moved.name(materials))?;
    let part = match (moved.volume, held.volume) {
        (Some(moved), Some(held)) if held > Volume::default() => (moved / held).value,
        _ => match (moved.amount, held.amount) {
            (Some(moved), Some(held)) if held > AmountOfSubstance::default() => {
                (moved / held).value
            }
            _ => return None,
        },
    };
    Some(part.clamp(0.0, 1.0))
}

fn clause<'a>(plan: &'a Plan, moment: &Moment) -> Option<&'a Clause> {
    match &plan.text.lines.get(moment.line as usize)?.statement {
        Statement::Step(step) => step.clauses.get(moment.clause),
        _ => None,
    }
}

pub(super) fn at_verb(moment: &Moment, clause: &Clause) -> At {
    At {
        line: moment.line,
        span: clause.verb_span,
    }
}

/// The first verb of a line.
fn verb_at(plan: &Plan, line: u32) -> At {
    let span = match plan
        .text
        .lines
        .get(line as usize)
        .map(|line| &line.statement)
    {
        Some(Statement::Step(step)) => step.clauses.first().map(|clause| clause.verb_span),
        _ => None,
    };
    At {
        line,
        span: span.unwrap_or_default(),
    }
}
