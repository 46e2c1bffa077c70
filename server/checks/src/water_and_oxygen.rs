//! What the water and oxygen of all sources together take of a reagent.

use crate::Survey;
use crate::alive;
use crate::atmosphere_missing::{self, swept_or_purged};
use crate::sensitive::{self, Entry, Threat, amount_text, percent_text};
use crate::{Check, Finding, Severity};
use crate::{glass_not_said_dry, wet_glass};
use chemistry::{Element, Formula, ReagentClass, Substance};
use plan::Plan;
use plan::budget::{Budget, Estimate, Source, SourceKind};
use plan::vessel::{Content, Moment};
use std::collections::HashSet;
use syntax::Verb;
use uom::si::amount_of_substance::mole;
use uom::si::f64::{AmountOfSubstance, Mass};
use uom::si::mass::gram;

pub(crate) const CHECK: Check = Check {
    name: "water-and-oxygen",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Water and oxygen

**Finds** a reagent of which water and oxygen take a noticeable part, all sources added up: the water of
solvents and solids, the film on the glass, the air above the contents, air let in while the flask stood open,
what is breathed in from a balloon, and air in needles at every stroke. It is an error where they take all of
it; a warning where they take more than the worry fraction of its class and more than its surplus, or three
times the worry fraction; an information from the lower fraction on and half the surplus. The surplus is what
is there beyond the equation, or beyond 1.00 eq where there is none.

| reagent | information from | warning from |
|---|---|---|
| organolithium, metal amide | 2 % | 5 % |
| trialkylphosphine | 2 % | 10 % |
| Grignard reagent, zinc and aluminium alkyl | 3 % | 8 % |
| silyl triflate, ylide | 3 % | 10 % |
| Grignard reagent being made; hydrides, boranes, alkali metals | 5 % | 15 % |
| acyl, silyl and sulfonyl chlorides, anhydrides, isocyanates | 5 % | 15 % |
| alkoxide, low-valent metal | 5 % | 20 % |
| nickel(0), palladium with trialkylphosphines | 5 % | 30 % |
| Lewis acid or silyl triflate, catalytic (20 mol% at most) | 20 % | 100 % |
| palladium(0) with triarylphosphines, copper(I) | 20 % | 100 % |

Every source has a low, a typical and a high estimate. A warning holds for the low ones, so that
what is only assumed never makes one; an information holds for the typical ones. What nobody can
know counts as nothing: a solid that is not said to be hygroscopic, a liquid that the library has
no figure for. `meniscus.toml` can replace the assumptions (`[budget]`) and the fractions
(`[budget.worry]`).

It stands at the largest source that a step could have kept out. Silent where `wet-glass`,
`glassware-dryness` or `atmosphere-missing` speaks of that source already, and where only the
question of `solvent-dryness` is open; for water or alcohol that is there on purpose; with sieves in
the vessel; for a slower reagent beside ten times the water's amount of a faster one; in plans that
want oxygen; for openings once there is something in the flask for the reagent to react with.
The water of a solution counts as meant, but for tert-butyl hydroperoxide taken in water beside a
titanium alkoxide, as in an asymmetric epoxidation: that is also sold in decane (a warning at most,
and with sieves only for what is more than they hold, 25 % of their mass).

**Why it matters.** A ratio of equivalents is what is weighed, not what is left. 40 mL of
tetrahydrofuran with 200 ppm of water take four fifths of 0.50 mmol of butyllithium, and 1 % of 50
mmol: dryness is a question of scale.

**Example**

    scale 0.500 mmol ketone
    materials
      base: n-butyllithium, 2.5 M in hexanes, 1.00 eq
      thf:  tetrahydrofuran, 200 ppm water, 40 mL
    steps
      dry flask at 125 °C overnight
      evacuate and refill flask with argon, 3 cycles, 1 mbar
      add thf
      cool to -78 °C
      add base
      add ketone

**Write instead** less solvent and a drier one, or more of the reagent

    materials
      thf:  tetrahydrofuran, over 3 Å sieves, 10 ppm water, 5 mL

**Sources.** Water from mass and the figure that is written, over 18.015 g/mol; air from the ideal
gas law, 20.95 % of oxygen and the Magnus formula of WMO-No. 8; purging by (p/p₀)ⁿ for cycles and
e^(−Qt/V) for flow. Tetrahydrofuran as received: D. B. G. Williams, M. Lawton, *J. Org. Chem.* 2010,
75, 8351 (by its abstract). Film on glass: A. Verdaguer et al., *Langmuir* 2007, 23, 9699. Dissolved
oxygen: C. Franco, J. Olmsted, *Talanta* 1990, 37, 905. Rubber of balloons, 2,000 barrer of
water and 23 of oxygen: from memory. How much a reagent loses is in the library.
How an epoxidation with titanium alkoxides and tartrate is kept dry: Y. Gao et al., *J. Am. Chem.
Soc.* 1987, 109, 5765, from memory. All other figures are assumptions, within a factor of two for solvents and three for glass and
openings; so are the worry fractions, argued from the 3 to 5 % by which titres and syringes scatter
(ISO 7886-1).
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut worst: Vec<Loss<'_>> = Vec::new();
    let mut seen = HashSet::new();
    let met: Vec<_> = victims(plan)
        .into_iter()
        // Of several portions the first is told, for all of them are counted.
        .filter(|victim| seen.insert((victim.entry.vessel, victim.entry.name(plan))))
        .filter_map(|victim| company(plan, &victim.entry).map(|company| (victim, company)))
        .collect();
    let spans: Vec<(usize, usize)> = met
        .iter()
        .map(|(victim, (last, _))| (victim.entry.moment, *last))
        .collect();
    for ((victim, (_, contents)), budget) in met.into_iter().zip(plan.budgets(&spans)) {
        let Some(loss) = loss(plan, victim, contents, budget, findings) else {
            continue;
        };
        let name = loss.victim.entry.name(plan);
        match worst.iter_mut().find(|o| o.victim.entry.name(plan) == name) {
            Some(other) if other.share.typical >= loss.share.typical => {}
            Some(other) => *other = loss,
            None => worst.push(loss),
        }
    }
    let mut informed = false;
    for loss in &worst {
        let Some(severity) = loss.severity() else {
            continue;
        };
        let asks = loss
            .worst_source()
            .is_some_and(|s| s.kind == SourceKind::Unstated);
        if severity == Severity::Information && (asks || std::mem::replace(&mut informed, true)) {
            continue;
        }
        findings.extend(finding(plan, loss, severity));
    }
}

/// A reagent as it enters, and how much of it is lost to a mole of water and of oxygen.
pub(crate) struct Victim<'a> {
    pub(crate) entry: Entry<'a>,
    pub(crate) per_water: f64,
    pub(crate) per_oxygen: f64,
}

pub(crate) fn victims<'a>(plan: &Survey<'a>) -> Vec<Victim<'a>> {
    let by_air = if plan.oxygen_wanted() {
        &[]
    } else {
        plan.entries(Threat::Air)
    };
    let per_oxygen = |entry: &Entry<'_>| {
        let substance = entry.addition.content.substance(&plan.materials);
        substance
            .and_then(Substance::oxygen_equivalents)
            .unwrap_or(0.0)
    };
    let same =
        |a: &Entry<'_>, b: &Entry<'_>| a.moment == b.moment && a.addition.at == b.addition.at;
    let mut victims: Vec<Victim<'a>> = Vec::new();
    for entry in plan.entries(Threat::Water) {
        let in_air = !entry.made_here && by_air.iter().any(|other| same(other, entry));
        victims.push(Victim {
            per_water: lost_per_water(plan, entry),
            per_oxygen: if in_air { per_oxygen(entry) } else { 0.0 },
            entry: entry.clone(),
        });
    }
    for entry in by_air {
        if !victims.iter().any(|victim| same(&victim.entry, entry)) {
            victims.push(Victim {
                per_water: 0.0,
                per_oxygen: per_oxygen(entry),
                entry: entry.clone(),
            });
        }
    }
    victims
}

/// Water and oxygen against a reagent.
struct Loss<'a> {
    victim: Victim<'a>,
    amount: AmountOfSubstance,
    /// Part of the pool that is lost, and of it to oxygen.
    share: Estimate<f64>,
    to_oxygen: f64,
    surplus: f64,
    worry: (f64, f64),
    /// The sources, the worst first.
    budget: Budget,
}

impl Loss<'_> {
    fn severity(&self) -> Option<Severity> {
        let (low, high) = self.worry;
        let share = self.share;
        // How fast water takes an alkoxide is not known.
        let slowly = self
            .worst_source()
            .is_some_and(|source| source.kind == SourceKind::Solution);
        if share.low >= 1.0 && !slowly {
            Some(Severity::Error)
        } else if share.low >= high && share.low > self.surplus || share.low >= 3.0 * high {
            Some(Severity::Warning)
        } else if share.typical >= low && share.typical > self.surplus / 2.0 {
            Some(Severity::Information)
        } else {
            None
        }
    }

    /// The worst one that a step could have kept out.
    fn worst_source(&self) -> Option<&Source> {
        let mut sources = self.budget.sources.iter();
        sources.find(|source| source.kind != SourceKind::Tool)
    }

    fn lost_to(&self, source: &Source) -> f64 {
        let water = source.water.typical.value * self.victim.per_water;
        water + source.oxygen.typical.value * self.victim.per_oxygen
    }
}

fn loss<'a>(
    plan: &Survey<'a>,
    victim: Victim<'a>,
    contents: &[Content],
    mut budget: Budget,
    findings: &[Finding],
) -> Option<Loss<'a>> {
    let entry = &victim.entry;
    if holds_sieves(plan, contents) {
        // Traces they take.
        budget.sources.retain_mut(|source| {
            source.kind == SourceKind::Solution && beyond_sieves(plan, contents, source)
        });
    }
    let amount = total(plan, entry, contents)?;
    let swept = swept_or_purged(plan, entry);
    let partner = partner_line(plan, entry);
    budget.sources.retain(|source| match source.kind {
        SourceKind::Glass => {
            let checks = [glass_not_said_dry::CHECK.name, wet_glass::CHECK.name];
            !glass_not_said_dry::is_told(plan, entry)
                && !is_spoken_of(plan, entry, findings, &checks)
        }
        SourceKind::GasSpace => {
            !swept && !is_spoken_of(plan, entry, findings, &[atmosphere_missing::CHECK.name])
        }
        SourceKind::Opening | SourceKind::Balloon => {
            partner.is_none_or(|line| source.at.line < line)
        }
        _ => true,
    });
    let (water, oxygen) = (budget.water(), budget.oxygen());
    if takes_it_first(plan, entry, contents, water.typical) {
        return None;
    }
    let pool = amount * phosphines(plan, entry);
    let lost = water * victim.per_water + oxygen * victim.per_oxygen;
    let share = lost.map(|lost| (lost / pool).value);
    let mut loss = Loss {
        to_oxygen: (oxygen.typical * victim.per_oxygen / pool).value,
        surplus: surplus(plan, entry, amount),
        worry: worry(plan, entry),
        victim,
        amount,
        share,
        budget,
    };
    let mut sources = std::mem::take(&mut loss.budget.sources);
    sources.sort_by(|a, b| loss.lost_to(b).total_cmp(&loss.lost_to(a)));
    loss.budget.sources = sources;
    Some(loss)
}

/// Whether one of these checks has spoken of the vessel that this reagent enters.
fn is_spoken_of(plan: &Plan, entry: &Entry<'_>, findings: &[Finding], checks: &[&str]) -> bool {
    let mut said = findings.iter().filter(|f| checks.contains(&f.check));
    said.any(|finding| {
        let mut moments = plan.moments.iter();
        moments.any(|moment| {
            let mut additions = moment.additions.iter();
            moment.vessel == entry.vessel && additions.any(|a| a.at == finding.at)
        })
    })
}

/// Where something comes in for the reagent to react with.
pub(crate) fn partner_line(plan: &Plan, entry: &Entry<'_>) -> Option<u32> {
    let mut moments = plan.moments.iter().skip(entry.moment);
    let found = moments.find(|moment| {
        moment.vessel == entry.vessel
            && moment
                .after
                .get(entry.vessel)
                .is_some_and(|state| alive::has_partner(plan, &state.contents))
    });
    found.map(|moment| moment.line)
}

/// What stands in the vessel with the reagent at the last step before the quench, and which moment that is.
pub(crate) fn company<'a>(plan: &'a Plan, entry: &Entry<'_>) -> Option<(usize, &'a [Content])> {
    let mut last = (entry.moment, plan.moments.get(entry.moment)?);
    for (index, moment) in plan.moments.iter().enumerate().skip(entry.moment + 1) {
        let from_here = moment
            .additions
            .iter()
            .any(|addition| addition.from == Some(entry.vessel));
        if from_here {
            break;
        }
        if moment.vessel != entry.vessel {
            continue;
        }
        if ends(plan, moment, entry) {
            break;
        }
        last = (index, moment);
    }
    Some((last.0, &last.1.after.get(entry.vessel)?.contents))
}

fn ends(plan: &Plan, moment: &Moment, entry: &Entry<'_>) -> bool {
    let verb = sensitive::clause(plan, moment).map(|clause| clause.verb);
    matches!(
        verb,
        Some(
            Verb::Quench
                | Verb::Acidify
                | Verb::Basify
                | Verb::Extract
                | Verb::Separate
                | Verb::Concentrate
                | Verb::Filter
        )
    ) || moment
        .additions
        .iter()
        .any(|addition| sensitive::brings_water(plan, &addition.content, entry.class, entry.hard))
}

/// Moles of the reagent that a mole of water takes.
pub(crate) fn lost_per_water(plan: &Plan, entry: &Entry<'_>) -> f64 {
    if entry.made_here {
        return 1.0;
    }
    let substance = entry.addition.content.substance(&plan.materials);
    substance
        .and_then(Substance::water_equivalents)
        .unwrap_or(1.0)
}

/// A palladium or nickel complex and half of its phosphines, which oxygen takes as well (an assumption), over the
/// complex.
pub(crate) fn phosphines(plan: &Plan, entry: &Entry<'_>) -> f64 {
    use ReagentClass as C;
    let complex = matches!(
        entry.class,
        Some(C::Palladium0 | C::PalladiumPhosphine | C::Nickel0)
    );
    let count = || {
        let substance = entry.addition.content.substance(&plan.materials)?;
        let formula = Formula::parse(substance.formula()?).ok()?;
        let atoms = formula.count(Element::from_symbol("P")?);
        #[allow(clippy::cast_precision_loss)]
        Some(*atoms.numer() as f64 / *atoms.denom() as f64)
    };
    1.0 + complex.then(count).flatten().unwrap_or(0.0) / 2.0
}

/// All of the reagent that is in the vessel.
pub(crate) fn total(
    plan: &Plan,
    entry: &Entry<'_>,
    contents: &[Content],
) -> Option<AmountOfSubstance> {
    let mut sum = AmountOfSubstance::default();
    for content in contents
        .iter()
        .filter(|content| content.name(&plan.materials) == entry.name(plan))
    {
        sum += content.amount?;
    }
    (sum.value > 0.0).then_some(sum)
}

/// The part of the reagent beyond what the equation, or 1.00 eq, asks for.
fn surplus(plan: &Plan, entry: &Entry<'_>, amount: AmountOfSubstance) -> f64 {
    let Some(scale) = plan
        .ledger
        .scale
        .as_ref()
        .and_then(|scale| scale.amount.as_ref().ok())
    else {
        return 0.0;
    };
    let Some(material) = sensitive::material(plan, &entry.addition.content) else {
        return 0.0;
    };
    let coefficient = |key| {
        plan.equation
            .as_ref()?
            .term(key)
            .map(|term| plan::equation::float(term.coefficient))
    };
    // The equation counts in units of its own; the scale's line says what its coefficient is worth.
    let per_scale = plan
        .ledger
        .scale
        .as_ref()
        .and_then(|scale| coefficient(scale.key?))
        .unwrap_or(1.0);
    let needed = match (coefficient(material.id), per_scale > 0.0) {
        (Some(own), true) => scale.value * (own / per_scale),
        _ if sensitive::is_catalytic(plan, &entry.addition.content) => return 0.0,
        _ => scale.value,
    };
    ((amount - needed) / amount).value.max(0.0)
}

/// Worry fractions: information, warning.
pub(crate) fn worry(plan: &Plan, entry: &Entry<'_>) -> (f64, f64) {
    use ReagentClass as C;
    let own = &plan.context.settings.budget.worry;
    if let Some((_, low, high)) = own.iter().find(|(class, ..)| Some(*class) == entry.class) {
        return (*low, *high);
    }
    let percent = match entry.class {
        Some(C::Grignard) if entry.made_here => (5.0, 15.0),
        Some(C::Organolithium | C::AmideBase) => (2.0, 5.0),
        Some(C::Grignard | C::Organozinc | C::Organoaluminium) => (3.0, 8.0),
        Some(C::SilylTriflate | C::StrongLewisAcid)
            if sensitive::is_catalytic(plan, &entry.addition.content) =>
        {
            (20.0, 100.0)
        }
        Some(C::Palladium0 | C::Copper1) => (20.0, 100.0),
        Some(C::PalladiumPhosphine | C::Nickel0) => (5.0, 30.0),
        Some(C::Trialkylphosphine) => (2.0, 10.0),
        Some(C::SilylTriflate | C::Ylide) => (3.0, 10.0),
        Some(C::Alkoxide | C::LowValentMetal) => (5.0, 20.0),
        Some(C::Thiol) => (10.0, 50.0),
        _ => (5.0, 15.0),
    };
    (percent.0 / 100.0, percent.1 / 100.0)
}

/// The order in which water finds its victims, fastest first (qualitative; an assumption).
fn rank(class: Option<ReagentClass>) -> u8 {
    use ReagentClass as C;
    match class {
        Some(C::Organolithium | C::Grignard | C::Organozinc | C::Organoaluminium) => 0,
        Some(C::MetalHydride | C::AluminiumHydride | C::AmideBase | C::Borane) => 1,
        Some(C::AlkaliMetal | C::Ylide) => 2,
        Some(C::StrongLewisAcid | C::SilylTriflate) => 3,
        Some(
            C::PhosphorusHalide
            | C::ThionylHalide
            | C::AcylChloride
            | C::SulfonylChloride
            | C::SilylChloride,
        ) => 4,
        Some(C::Anhydride | C::Isocyanate | C::Chloroformate | C::Alkoxide) => 5,
        _ => 6,
    }
}

/// A faster reagent in the vessel, ten times the water, takes it all.
pub(crate) fn takes_it_first(
    plan: &Plan,
    entry: &Entry<'_>,
    contents: &[Content],
    water: AmountOfSubstance,
) -> bool {
    let own = rank(entry.class);
    contents.iter().any(|content| {
        let Some(class) = alive::class(plan, content) else {
            return false;
        };
        let enough = content.amount.is_some_and(|amount| amount >= water * 10.0);
        rank(Some(class)) < own && enough
    })
}

pub(crate) fn holds_sieves(plan: &Plan, contents: &[Content]) -> bool {
    contents.iter().any(|content| is_sieves(plan, content))
}

fn is_sieves(plan: &Plan, content: &Content) -> bool {
    let name = match content.substance(&plan.materials) {
        Some(substance) => substance.name(),
        None => content.name(&plan.materials),
    };
    sensitive::contains(name, "sieves")
}

/// Water that sieves hold, over their mass, at most (common practice: a fifth).
const SIEVES_HOLD: f64 = 0.25;

/// Takes from the water of a source what the sieves in the vessel hold, and tells whether any is left. None is where nobody
/// knows how much there is of them.
fn beyond_sieves(plan: &Plan, contents: &[Content], source: &mut Source) -> bool {
    let mut mass = Mass::default();
    for content in contents.iter().filter(|content| is_sieves(plan, content)) {
        match content.mass {
            Some(own) => mass += own,
            None => return false,
        }
    }
    // 18.015 g/mol: CIAAW standard atomic weights, abridged.
    let held = AmountOfSubstance::new::<mole>(mass.get::<gram>() * SIEVES_HOLD / 18.015);
    source.water = source.water.map(|water| water - held);
    source.basis = format!("{}, less what the sieves hold", source.basis).into();
    source.water.low > AmountOfSubstance::default()
}

fn finding(plan: &Plan, loss: &Loss<'_>, severity: Severity) -> Option<Finding> {
    let entry = &loss.victim.entry;
    let name = entry.called(plan);
    let (water, oxygen) = (loss.budget.water().typical, loss.budget.oxygen().typical);
    let share = loss.share.typical;
    let amount = amount_text(loss.amount, 3);
    // What is a tenth of it or less is not worth a word.
    let (subject, against) = if loss.to_oxygen <= share / 10.0 {
        (
            "Water takes",
            format!("{} of {amount}", amount_text(water, 2)),
        )
    } else if loss.to_oxygen >= share * 0.9 {
        let oxygen = amount_text(oxygen, 2);
        ("Oxygen takes", format!("{oxygen} against {amount}"))
    } else {
        let (water, oxygen) = (amount_text(water, 2), amount_text(oxygen, 2));
        (
            "Water and oxygen take",
            format!("{water} of water and {oxygen} of oxygen against {amount}"),
        )
    };
    let share_text = percent_text(share.min(1.0));
    let total: f64 = loss.budget.sources.iter().map(|s| loss.lost_to(s)).sum();
    let shown = || {
        let sources = loss.budget.sources.iter();
        sources
            .filter(|source| loss.lost_to(source) > total / 20.0)
            .take(3)
    };
    let from: Vec<String> = shown().map(|source| brought(loss, source)).collect();
    let mut message = format!(
        "{subject} about {share_text} of {name} ({against}): {}.",
        from.join(", ")
    );
    let scale = plan
        .ledger
        .scale
        .as_ref()
        .and_then(|scale| scale.amount.as_ref().ok());
    if let Some(scale) = scale.filter(|scale| scale.value.value > 0.0 && share < 1.0) {
        let left = (loss.amount / scale.value).value * (1.0 - share);
        message.push_str(&format!(
            " What is left is {} eq.",
            sensitive::figures(left, 2)
        ));
    }
    let source = loss.worst_source()?;
    message.push(' ');
    message.push_str(&advice(plan, entry, source));
    let mut finding = Finding::new(&CHECK, source.at, message)
        .severity(severity)
        .related(entry.addition.at, format!("{name} goes in here"));
    // Of what is measured at the finding's own place the message has said all.
    let elsewhere = |other: &&Source| other.at != source.at || other.kind != SourceKind::Measured;
    for source in shown().filter(elsewhere) {
        finding = finding.related(
            source.at,
            format!("{}: {}", brought(loss, source), source.basis),
        );
    }
    Some(finding)
}

/// `thf 12 µmol`, `the gas in flask 0.9 mmol of oxygen`
fn brought(loss: &Loss<'_>, source: &Source) -> String {
    let by_water = source.water.typical.value * loss.victim.per_water;
    let by_oxygen = source.oxygen.typical.value * loss.victim.per_oxygen;
    let name = &source.name;
    if by_oxygen <= by_water {
        format!("{name} {}", amount_text(source.water.typical, 2))
    } else {
        format!("{name} {} of oxygen", amount_text(source.oxygen.typical, 2))
    }
}

fn advice(plan: &Plan, entry: &Entry<'_>, source: &Source) -> String {
    let flask = sensitive::name(plan, entry.vessel);
    let name = &source.name;
    match source.kind {
        SourceKind::Measured | SourceKind::Dried | SourceKind::AsReceived => {
            let by_water = source.water.typical >= source.oxygen.typical;
            if by_water {
                format!("Dry {name} over sieves, or take more of the reagent.")
            } else {
                format!("Sparge {name} with inert gas first.")
            }
        }
        SourceKind::Unstated => format!("Write how dry {name} is, or dry it over sieves."),
        SourceKind::Hygroscopic => format!("Dry {name} under vacuum first."),
        SourceKind::Hydrate => format!("Take {name} without its crystal water."),
        SourceKind::Solution => {
            format!("Take {name} in a solvent without water, as it is sold, too.")
        }
        SourceKind::Glass => format!("Dry {flask} at 125 °C, or with a flame."),
        SourceKind::GasSpace => format!("Purge {flask} longer, or evacuate and refill it."),
        SourceKind::Opening => {
            format!("Keep a flow of inert gas through {flask} while it is open.")
        }
        SourceKind::Balloon => {
            format!(
                "Put {flask} on a line with a bubbler, or fill the balloon just before it is cooled."
            )
        }
        SourceKind::Tool => "Flush needles and syringes with inert gas.".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{drawn, expect, expect_at, settings};

    const HEAD: &str = "
plan Test
scale SCALE ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  reagent: REAGENT
  solvent: SOLVENT
  bulk: acetic anhydride, 3.0 eq
  salt: cerium(III) chloride heptahydrate, 1.0 eq
equipment
  flask: FLASK
steps
";

    fn plan(scale: &str, reagent: &str, solvent: &str, flask: &str, steps: &str) -> String {
        let head = HEAD
            .replace("SCALE", scale)
            .replace("REAGENT", reagent)
            .replace("SOLVENT", solvent)
            .replace("FLASK", flask);
        format!("{head}{}", steps.strip_prefix('\n').unwrap_or(steps))
    }

    const INERT: &str = "  dry flask at 125 °C overnight\n  cool flask under argon\n  evacuate and refill flask with argon, 3 cycles, 1 mbar\n";
    const BULI: &str = "n-butyllithium, 2.5 M in hexanes, 1.00 eq";
    const FLASK: &str = "100 mL flask, septum";

    fn inert(steps: &str) -> String {
        format!("{INERT}{steps}")
    }

    fn usual() -> String {
        inert(
            "  add solvent via syringe\n  add reagent via syringe\n  add ketone via syringe\n  quench with water 10 mL\n",
        )
    }

    #[test]
    fn what_is_measured_at_the_finding_is_not_said_twice() {
        let text = plan(
            "0.500 mmol",
            BULI,
            "tetrahydrofuran, 200 ppm water, 40 mL",
            FLASK,
            &usual(),
        );
        let plan = Plan::read(&text);
        let mut findings = Vec::new();
        run(&Survey::new(&plan), &mut findings);
        let [finding] = findings.as_slice() else {
            panic!("{findings:#?}")
        };
        assert!(!finding.related.iter().any(|(at, _)| *at == finding.at));
        assert!(
            finding
                .related
                .iter()
                .any(|(_, why)| why.contains("goes in here"))
        );
    }

    #[test]
    fn reckons_the_stated_water() {
        // 40 mL × 0.889 g/mL × 200 ppm / 18.015 g/mol = 395 µmol, 79 % of 0.50 mmol.
        let text = plan(
            "0.500 mmol",
            BULI,
            "tetrahydrofuran, 200 ppm water, 40 mL",
            FLASK,
            &usual(),
        );
        let said = "warning: Water takes about 85 % of reagent (0.39 mmol of 0.500 mmol): solvent 0.39 mmol. \
                    What is left is 0.1";
        expect(&CHECK, &drawn(&text, "200 ppm water", said));
    }

    #[test]
    fn is_an_error_where_nothing_is_left() {
        let text = plan(
            "0.100 mmol",
            BULI,
            "tetrahydrofuran, 100 ppm water, 40 mL",
            FLASK,
            &usual(),
        );
        let said = "error: Water and oxygen take about 100 % of reagent (0.20 mmol of water and ";
        expect(&CHECK, &drawn(&text, "100 ppm water", said));
    }

    #[test]
    fn a_large_batch_of_an_amine_does_not_mind() {
        let text = plan(
            "50.0 mmol",
            "triethylamine, 1.00 eq",
            "tetrahydrofuran, 200 ppm water, 40 mL",
            FLASK,
            &usual(),
        );
        expect(&CHECK, &text);
        let text = plan(
            "50.0 mmol",
            "sodium borohydride, 1.00 eq",
            "tetrahydrofuran, 40 mL",
            FLASK,
            &usual(),
        );
        expect(&CHECK, &text);
    }

    #[test]
    fn a_small_batch_bears_a_dry_solvent() {
        // 2 mL × 0.889 g/mL × 10 ppm / 18.015 g/mol = 1.0 µmol, 1 % of 0.10 mmol; the film on 28 cm² of glass adds
        // 0.55 µmol at 20 nmol/cm².
        let text = plan(
            "0.100 mmol",
            BULI,
            "tetrahydrofuran, degassed, 10 ppm water, 2 mL",
            "10 mL flask, septum",
            "  evacuate and refill flask with argon, 3 cycles, 1 mbar\n  add solvent via cannula\n  add reagent\n  quench with water 10 mL\n",
        );
        expect(&CHECK, &text);
    }

    #[test]
    fn on_a_small_scale_an_opening_kills() {
        // 1.5 mL/s through a neck of 1.0 cm for 10 s: 2.65 mL, 23 µmol of oxygen, which takes 46 µmol. At least a third.
        let steps = |open: &str| {
            format!(
                "  purge flask with nitrogen for 30 min\n  add solvent via cannula\n  add reagent\n  {open}\n  add ketone via cannula\n  quench with water 10 mL\n"
            )
        };
        let solvent = "tetrahydrofuran, degassed, 10 ppm water, 2 mL";
        let text = |open| {
            plan(
                "0.100 mmol",
                BULI,
                solvent,
                "10 mL flask, septum",
                &steps(open),
            )
        };
        expect(
            &CHECK,
            &drawn(
                &text("open flask for 10 s"),
                "open",
                "warning: Oxygen takes about 50 % of reagent (23 µmol against 0.100 mmol): opening flask 23 µmol",
            ),
        );
        // Against a flow it is a twentieth.
        expect(
            &CHECK,
            &drawn(
                &text("open flask for 10 s under nitrogen"),
                "open",
                "information: Water and oxygen take about 4 % of reagent (1.6 µmol of water and 1.2 µmol of oxygen against 0.100 mmol): opening flask",
            ),
        );
        // On 50 mmol it is nothing.
        let large = plan(
            "50.0 mmol",
            BULI,
            solvent,
            "500 mL flask, septum",
            &steps("open flask for 10 s"),
        );
        expect(&CHECK, &large);
    }

    #[test]
    fn room_air_takes_a_third_of_a_base() {
        // 98 mL of gas space: 0.85 mmol of oxygen takes 1.7 mmol of 5.0 mmol, its water 50 µmol.
        let steps = "
  dry flask at 125 °C overnight
  add solvent
  add reagent
      ^^^^^^^ warning: Oxygen takes about 35 % of reagent (0.86 mmol against 5.00 mmol): the gas in flask 0.85 mmol of oxygen. What is left is 0.65 eq. Purge flask longer
  quench with water 10 mL
";
        let solvent = "tetrahydrofuran, 10 ppm water, 25 mL";
        expect(&CHECK, &plan("5.00 mmol", BULI, solvent, FLASK, steps));
    }

    #[test]
    fn the_surplus_may_be_eaten() {
        // 40 mL × 0.889 × 50 ppm / 18.015 = 99 µmol, 8 % of 1.25 mmol: above 5 %, below half the surplus of 20 %.
        let text = plan(
            "1.00 mmol",
            "n-butyllithium, 2.5 M in hexanes, 1.25 eq",
            "tetrahydrofuran, degassed, 50 ppm water, 40 mL",
            FLASK,
            &usual(),
        );
        expect(&CHECK, &text);
    }

    #[test]
    fn what_is_only_assumed_makes_no_warning() {
        // Ether as bought may hold 50 to 400 ppm, but nobody measured it here.
        let text = plan(
            "0.100 mmol",
            BULI,
            "diethyl ether, used as received, 20 mL",
            FLASK,
            &usual(),
        );
        let said = "information: Water and oxygen take about 100 % of reagent";
        expect(&CHECK, &drawn(&text, "diethyl ether", said));
        // Tetrahydrofuran holds at least 50: 99 µmol in 40 mL.
        let text = plan(
            "0.100 mmol",
            BULI,
            "tetrahydrofuran, 40 mL",
            FLASK,
            &usual(),
        );
        let said = "warning: Water and oxygen take about 100 % of reagent";
        expect(&CHECK, &drawn(&text, "tetrahydrofuran", said));
    }

    #[test]
    fn the_question_of_another_check_is_left_to_it() {
        let text = plan("5.00 mmol", BULI, "tetrahydrofuran, 25 mL", FLASK, &usual());
        expect(&CHECK, &text);
    }

    #[test]
    fn crystal_water_is_found() {
        let steps = inert("  add salt\n  add solvent\n  add reagent\n  quench with water 10 mL\n");
        let text = plan(
            "5.00 mmol",
            BULI,
            "tetrahydrofuran, 10 ppm water, 25 mL",
            FLASK,
            &steps,
        );
        expect(
            &CHECK,
            &drawn(
                &text,
                "cerium(III) chloride heptahydrate",
                "error: Water takes about 100 % of reagent (35 mmol of 5.00 mmol): salt 35 mmol. Take salt without its crystal water.",
            ),
        );
    }

    #[test]
    fn palladium_bears_a_little_air() {
        // 5 mL of toluene under air: 9 µmol of oxygen against 20 µmol of palladium with 80 µmol of phosphine, which
        // counts half: 15 %.
        let catalyst = "tetrakis(triphenylphosphine)palladium(0), 2.0 mol%";
        let steps = "  purge flask with argon for 30 min\n  add solvent via syringe\n  add reagent\n  heat to 80 °C for 2 h\n";
        let text = plan(
            "1.00 mmol",
            catalyst,
            "toluene, 5 mL",
            "20 mL vial, septum",
            steps,
        );
        expect(&CHECK, &text);
        // 20 mL of air bring 174 µmol.
        let aired = steps.replace("  purge flask with argon for 30 min\n", "");
        let text = plan(
            "1.00 mmol",
            catalyst,
            "toluene, 5 mL",
            "20 mL vial, septum",
            &aired,
        );
        let said = "error: Oxygen takes about 100 % of reagent";
        let text = text.replace(
            "  add reagent\n",
            &format!("  add reagent\n      ^^^^^^^ {said}\n"),
        );
        expect(&CHECK, &text);
    }

    #[test]
    fn a_faster_reagent_takes_the_water() {
        let acid = "trimethylsilyl trifluoromethanesulfonate, 10 mol%";
        let solvent = "dichloromethane, 100 ppm water, 10 mL";
        let alone = plan("1.00 mmol", acid, solvent, FLASK, &usual());
        // 74 µmol against 0.10 mmol: above 20 %, below all of it.
        expect(
            &CHECK,
            &drawn(
                &alone,
                "100 ppm water",
                "information: Water takes about 75 % of reagent",
            ),
        );
        let beside = usual().replace("  add reagent", "  add bulk via syringe\n  add reagent");
        expect(&CHECK, &plan("1.00 mmol", acid, solvent, FLASK, &beside));
    }

    #[test]
    fn a_group_sets_its_own_fractions() {
        let text = plan(
            "5.00 mmol",
            BULI,
            "tetrahydrofuran, degassed, 50 ppm water, 25 mL",
            FLASK,
            &usual(),
        );
        expect(&CHECK, &text.replace("50 ppm", "5 ppm"));
        // 62 µmol are 1.2 % of 5.00 mmol.
        let strict = settings("[budget.worry]\norganolithium = [0.5, 1]\n");
        expect_at(
            &strict,
            &CHECK,
            &drawn(
                &text,
                "50 ppm water",
                "warning: Water takes about 1.4 % of reagent",
            ),
        );
    }

    fn epoxidation(peroxide: &str, sieves: &str, steps: &str) -> String {
        format!(
            "
plan Test
scale 10.0 mmol alcohol
materials
  alcohol: geraniol, formula C10H18O, d 0.88, 1.00 eq
  ti: titanium(IV) isopropoxide, 10 mol%
  tartrate: diethyl L-tartrate, formula C8H14O6, 12 mol%
  tbhp: tert-butyl hydroperoxide, {peroxide}, 1.50 eq
  ms: 4 Å molecular sieves, {sieves}
  dcm: dichloromethane, dry, 40 mL
equipment
  flask: 100 mL flask, septum
steps
  dry flask at 125 °C overnight
  cool flask under argon
  evacuate and refill flask with argon, 3 cycles, 1 mbar
{steps}  stir for 2 h
  quench with 10 wt% NaOH 10 mL
"
        )
    }

    const INTO: &str = "  add dcm, ti, tartrate\n  cool to -20 °C\n  add tbhp\n  add alcohol\n";

    #[test]
    fn the_water_of_an_aqueous_peroxide_counts_beside_a_titanium_alkoxide() {
        // 15.0 mmol × 90.12 g/mol / 0.70 × 0.30 / 18.015 g/mol = 32.2 mmol of water, 0.8 of it at least.
        let text = epoxidation("70 wt% in water", "1.0 g", INTO);
        let said = "warning: Water takes about 100 % of ti (32 mmol of 1.00 mmol): tbhp 32 mmol. Take tbhp in a solvent without water";
        expect(&CHECK, &drawn(&text, "tert-butyl hydroperoxide", said));
        // Before the alkoxide or after it: they meet.
        let first = "  add dcm, tartrate\n  add tbhp\n  add ti\n  add alcohol\n";
        let text = epoxidation("70 wt% in water", "1.0 g", first);
        expect(&CHECK, &drawn(&text, "tert-butyl hydroperoxide", said));
    }

    #[test]
    fn water_that_is_meant_or_taken_out_is_none_beside_a_titanium_alkoxide() {
        for peroxide in [
            "5.5 M in decane",
            "70 wt% in water, over 3 Å sieves",
            "70 wt% in water, dry",
        ] {
            expect(&CHECK, &epoxidation(peroxide, "1.0 g", INTO));
        }
        let aqueous = |steps: &str| epoxidation("70 wt% in water", "1.0 g", steps);
        for steps in [
            // Kagan's reagent has water in it.
            INTO.replace("tartrate\n", "tartrate, water 0.18 mL\n"),
            INTO.replace(
                "add dcm",
                "dry tbhp over sodium sulfate for 12 h\n  add dcm",
            ),
            // Extracted before, and dried.
            INTO.replace(
                "add dcm, ti, tartrate\n",
                "in vial\n  add tbhp, dcm 10 mL\n  separate\n  in flask\n  add dcm, ti, tartrate\n",
            )
            .replace(
                "add tbhp\n  add alcohol",
                "transfer vial to flask\n  add alcohol",
            ),
        ] {
            expect(&CHECK, &aqueous(&steps));
        }
        // Hydrogen peroxide comes in nothing else.
        let text = aqueous(INTO).replace(
            "tert-butyl hydroperoxide, 70 wt%",
            "hydrogen peroxide, 30 wt%",
        );
        expect(&CHECK, &text);
        // Butyllithium beside it is another matter, and so is an alkoxide of potassium.
        let text = aqueous(INTO).replace("titanium(IV) isopropoxide", "potassium tert-butoxide");
        expect(&CHECK, &text);
    }

    #[test]
    fn sieves_hold_a_quarter_of_their_mass() {
        let with = |sieves: &str| {
            let steps = INTO.replace("dcm, ti", "dcm, ms, ti");
            epoxidation("70 wt% in water", sieves, &steps)
        };
        // 0.58 g of water, 0.46 g at least: 3.0 g hold 0.75 g, and 1.0 g 0.25 g or 13.9 mmol.
        expect(&CHECK, &with("3.0 g"));
        let said = "warning: Water takes about 100 % of ti (18 mmol of 1.00 mmol): tbhp 18 mmol";
        expect(
            &CHECK,
            &drawn(&with("1.0 g"), "tert-butyl hydroperoxide", said),
        );
        expect(&CHECK, &with("excess"));
    }
}
