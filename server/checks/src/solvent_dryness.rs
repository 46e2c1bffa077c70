//! How much of a reagent the water in the solvents takes, where it is stated; a question, where it is not.

use crate::edit;
use crate::sensitive::{self, Entry, Threat, amount_text, percent_text};
use crate::{Check, Finding, Severity};
use chemistry::quantity::{mass, mass_density, volume};
use chemistry::{ReagentClass, Substance};
use plan::vessel::{Content, Moment, What};
use plan::{At, Material, Plan, convert};
use syntax::{Condition, Quantity, Verb};
use uom::si::amount_of_substance::micromole;
use uom::si::f64::AmountOfSubstance;

pub(crate) const CHECK: Check = Check {
    name: "solvent-dryness",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Solvent dryness

**Finds** water that the plan states for a solvent (`120 ppm water`, by mass) and that takes a
noticeable part of a reagent in the same vessel: an error where it takes all of it; a warning
where it takes more than the worry fraction of its class and more than its surplus, or three times
the worry fraction; an information at a lower share and half the surplus. The surplus is what is
there beyond the equation, or beyond 1.00 eq where there is none.

| reagent | information from | warning from |
|---|---|---|
| organolithium, metal amide | 2 % | 5 % |
| Grignard reagent, zinc and aluminium alkyl | 3 % | 8 % |
| Grignard reagent being made; hydrides, boranes, alkali metals | 5 % | 15 % |
| alkoxide | 5 % | 20 % |
| silyl triflate, triflic anhydride, ylide | 3 % | 10 % |
| Lewis acid or silyl triflate, catalytic (20 mol% at most) | 20 % | 100 % |
| acyl, silyl and sulfonyl chlorides, anhydrides, isocyanates | 5 % | 15 % |

Where the main solvent states nothing, an information once for a plan, before reagents that water
destroys at once: **how dry is it?** `dry`, `distilled`, sieves, a figure, and `used as received`
are all answers. It invents no figure, and a figure is never offered as a fix.

Silent: water or alcohol that is there on purpose; sieves in the vessel; a slower reagent beside
ten times the water's amount of a faster one, which takes the water; and a missing statement that
could not matter, whatever the solvent's grade, for other than organolithiums and Grignard
reagents.

**Why it matters.** The solvent brings more water than the glass: 25 mL of tetrahydrofuran with
100 ppm holds 123 µmol.

**Example**

    materials
      base: n-butyllithium, 2.5 M in hexanes, 1.15 eq
      thf:  tetrahydrofuran, 25 mL

**Write instead** what you know

      thf:  tetrahydrofuran, over 3 Å sieves, 25 mL
      thf:  tetrahydrofuran, over 3 Å sieves, 10 ppm water, 25 mL      # measured
      thf:  tetrahydrofuran, used as received, 25 mL

**Sources.** The water follows from volume, density and the figure that is written, over 18.015
g/mol. How much a reagent loses to a mole of water is in the library. The worry fractions are
assumptions, argued from the 3 to 5 % by which titres and syringes scatter (ISO 7886-1). Dry
tetrahydrofuran: D. B. G. Williams, M. Lawton, *J. Org. Chem.* 2010, 75, 8351 (read second-hand).
";

fn run(plan: &Plan, findings: &mut Vec<Finding>) {
    let entries = sensitive::entries(plan, Threat::Water);
    let mut worst: Vec<Loss<'_>> = Vec::new();
    for entry in &entries {
        let Some(loss) = loss(plan, entry) else {
            continue;
        };
        let same = |other: &&mut Loss<'_>| {
            other.entry.addition.content.name(&plan.materials) == entry.name(plan)
        };
        match worst.iter_mut().find(same) {
            Some(other) if other.share >= loss.share => {}
            Some(other) => *other = loss,
            None => worst.push(loss),
        }
    }
    let mut stated_said = false;
    let mut informed = false;
    for loss in &worst {
        let Some(severity) = loss.severity() else {
            continue;
        };
        if severity == Severity::Information && std::mem::replace(&mut informed, true) {
            continue;
        }
        stated_said = true;
        findings.push(wet(plan, loss, severity));
    }
    // One question a plan, and none beside an answer that is worse.
    if !stated_said && let Some(finding) = entries.iter().find_map(|entry| unstated(plan, entry)) {
        findings.push(finding);
    }
}

/// Water against a reagent.
struct Loss<'a> {
    entry: &'a Entry<'a>,
    /// Amount of water, and of the reagent.
    water: f64,
    amount: AmountOfSubstance,
    /// Part of the reagent that is lost, and part that is surplus.
    share: f64,
    surplus: f64,
    worry: (f64, f64),
    /// What brings the water, the most first: the figure's place, the name, µmol.
    sources: Vec<(At, String, f64)>,
}

impl Loss<'_> {
    fn severity(&self) -> Option<Severity> {
        let (low, high) = self.worry;
        if self.share >= 1.0 {
            Some(Severity::Error)
        } else if self.share >= high && self.share > self.surplus || self.share >= 3.0 * high {
            Some(Severity::Warning)
        } else if self.share >= low && self.share > self.surplus / 2.0 {
            Some(Severity::Information)
        } else {
            None
        }
    }
}

fn loss<'a>(plan: &'a Plan, entry: &'a Entry<'a>) -> Option<Loss<'a>> {
    let contents = company(plan, entry)?;
    if holds_sieves(plan, contents) {
        return None;
    }
    let amount = total(plan, entry, contents)?;
    let mut sources: Vec<(At, String, f64)> = Vec::new();
    for content in contents {
        let Some((at, water)) = stated_water(plan, content) else {
            continue;
        };
        match sources.iter_mut().find(|(place, ..)| *place == at) {
            Some((_, _, sum)) => *sum += water,
            None => sources.push((at, content.name(&plan.materials).to_owned(), water)),
        }
    }
    let water: f64 = sources.iter().map(|(.., water)| water).sum();
    if water <= 0.0 || takes_it_first(plan, entry, contents, water) {
        return None;
    }
    sources.sort_by(|a, b| b.2.total_cmp(&a.2));
    let share = water * lost_per_water(plan, entry) / amount.get::<micromole>();
    let surplus = surplus(plan, entry, amount);
    let worry = worry(plan, entry);
    Some(Loss {
        entry,
        water,
        amount,
        share,
        surplus,
        worry,
        sources,
    })
}

/// What stands in the vessel with the reagent, at the last step before the quench.
fn company<'a>(plan: &'a Plan, entry: &Entry<'_>) -> Option<&'a [Content]> {
    let mut last = plan.moments.get(entry.moment)?;
    for moment in plan.moments.iter().skip(entry.moment + 1) {
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
        if ends(plan, moment) {
            break;
        }
        last = moment;
    }
    Some(&last.after.get(entry.vessel)?.contents)
}

fn ends(plan: &Plan, moment: &Moment) -> bool {
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
                | Verb::Open
        )
    ) || moment
        .additions
        .iter()
        .any(|addition| addition.content.is_aqueous(&plan.materials))
}

/// Water that the line of a content states, µmol, with the place of the figure. A solution of a sensitive
/// reagent has spent its water already.
fn stated_water(plan: &Plan, content: &Content) -> Option<(At, f64)> {
    let material = sensitive::material(plan, content).filter(|material| !material.diluted)?;
    let (ppm, at) = material
        .conditions
        .iter()
        .find_map(|(condition, at)| match condition {
            Condition::Water(quantity) => Some((quantity, *at)),
            _ => None,
        })?;
    let grams = grams(material, content)?;
    Some((at, grams * fraction(ppm)? / 18.015 * 1e6))
}

fn fraction(quantity: &Quantity) -> Option<f64> {
    convert::share(quantity, 0).map(|known| known.value.value)
}

fn grams(material: &Material, content: &Content) -> Option<f64> {
    if let Some(mass) = content.mass {
        return Some(mass.get::<mass::gram>());
    }
    let density = material.density.as_ref().ok()?.value;
    Some((content.volume? * density).get::<mass::gram>())
}

fn lost_per_water(plan: &Plan, entry: &Entry<'_>) -> f64 {
    if entry.made_here {
        return 1.0;
    }
    let substance = entry.addition.content.substance(&plan.materials);
    substance
        .and_then(Substance::water_equivalents)
        .unwrap_or(1.0)
}

/// All of the reagent that is in the vessel.
fn total(plan: &Plan, entry: &Entry<'_>, contents: &[Content]) -> Option<AmountOfSubstance> {
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

/// Worry fractions by class: information, warning.
fn worry(plan: &Plan, entry: &Entry<'_>) -> (f64, f64) {
    use ReagentClass as C;
    let percent = match entry.class {
        Some(C::Grignard) if entry.made_here => (5.0, 15.0),
        Some(C::Organolithium | C::AmideBase) => (2.0, 5.0),
        Some(C::Grignard | C::Organozinc | C::Organoaluminium) => (3.0, 8.0),
        Some(C::SilylTriflate | C::StrongLewisAcid)
            if sensitive::is_catalytic(plan, &entry.addition.content) =>
        {
            (20.0, 100.0)
        }
        Some(C::SilylTriflate | C::Ylide) => (3.0, 10.0),
        Some(C::Alkoxide) => (5.0, 20.0),
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
fn takes_it_first(plan: &Plan, entry: &Entry<'_>, contents: &[Content], water: f64) -> bool {
    let own = rank(entry.class);
    contents.iter().any(|content| {
        let Some(class) = content
            .substance(&plan.materials)
            .and_then(Substance::class)
        else {
            return false;
        };
        let enough = content
            .amount
            .is_some_and(|amount| amount.get::<micromole>() >= 10.0 * water);
        rank(Some(class)) < own && enough
    })
}

fn holds_sieves(plan: &Plan, contents: &[Content]) -> bool {
    contents.iter().any(|content| {
        let name = match content.substance(&plan.materials) {
            Some(substance) => substance.name().to_lowercase(),
            None => content.name(&plan.materials).to_lowercase(),
        };
        name.contains("sieves")
    })
}

fn wet(plan: &Plan, loss: &Loss<'_>, severity: Severity) -> Finding {
    let name = loss.entry.called(plan);
    let water = AmountOfSubstance::new::<micromole>(loss.water);
    let from: Vec<String> = loss
        .sources
        .iter()
        .take(3)
        .map(|(_, name, water)| {
            format!(
                "{name} {}",
                amount_text(AmountOfSubstance::new::<micromole>(*water), 2)
            )
        })
        .collect();
    let share = percent_text(loss.share.min(1.0));
    let mut message = format!(
        "Water takes about {share} of {name} ({} of {}): {}.",
        amount_text(water, 2),
        amount_text(loss.amount, 3),
        from.join(", ")
    );
    let scale = plan
        .ledger
        .scale
        .as_ref()
        .and_then(|scale| scale.amount.as_ref().ok());
    if let Some(scale) = scale.filter(|scale| scale.value.value > 0.0 && loss.share < 1.0) {
        let left = (loss.amount / scale.value).value * (1.0 - loss.share);
        message.push_str(&format!(
            " What is left is {} eq.",
            sensitive::figures(left, 2)
        ));
    }
    message.push_str(" Dry the solvent over sieves, or take more of the reagent.");
    let at = loss
        .sources
        .first()
        .map_or(loss.entry.addition.at, |(at, ..)| *at);
    Finding::new(&CHECK, at, message)
        .severity(severity)
        .related(loss.entry.addition.at, format!("{name} goes in here"))
}

/// The question, where the main solvent beside this reagent states nothing.
fn unstated(plan: &Plan, entry: &Entry<'_>) -> Option<Finding> {
    let contents = company(plan, entry)?;
    if !entry.hard && !entry.made_here || holds_sieves(plan, contents) {
        return None;
    }
    // A solvent that came in several portions is one solvent.
    let volume = |content: &Content| -> f64 {
        let name = content.name(&plan.materials);
        let same = contents
            .iter()
            .filter(|other| other.name(&plan.materials) == name);
        same.filter_map(|other| other.volume)
            .map(|volume| volume.value)
            .sum()
    };
    let main = contents
        .iter()
        .filter(|content| {
            sensitive::is_solvent(plan, content) && !content.is_protic(&plan.materials)
        })
        .filter(|content| content.name(&plan.materials) != entry.name(plan))
        .max_by(|a, b| volume(a).total_cmp(&volume(b)))?;
    let What::Material(index) = main.what else {
        return None;
    };
    let material = plan.materials.get(index)?;
    let answered = material.conditions.iter().any(|(condition, _)| {
        matches!(
            condition,
            Condition::Dry
                | Condition::Water(_)
                | Condition::Over(_)
                | Condition::Distilled
                | Condition::AsReceived
        )
    });
    if answered
        || material.diluted
        || dried_by_a_step(plan, material)
        || cannot_matter(plan, entry, contents, main)
    {
        return None;
    }
    let (key, called) = (&material.key.text, entry.called(plan));
    let at = material.identity.at.unwrap_or(At {
        line: material.line,
        span: material.key.span,
    });
    let message = format!(
        "How dry is {key}? Water in it takes {called}: write `dry`, `over 3 Å sieves`, its ppm as measured, or `used as received`."
    );
    let mut finding = Finding::new(&CHECK, at, message)
        .severity(Severity::Information)
        .related(entry.addition.at, format!("{called} goes in here"));
    for (title, text) in [
        ("It is dry, as bought or distilled", ", dry"),
        ("It stands over sieves", ", over 3 Å sieves"),
        ("It is used as received", ", used as received"),
    ] {
        finding = finding.fix(title, vec![edit::append(plan, material.line, text)?]);
    }
    // Which of the three is true only the chemist knows.
    for fix in &mut finding.fixes {
        fix.preferred = false;
    }
    Some(finding)
}

/// `dry thf over 3 Å sieves for 24 h`, `distil thf`.
fn dried_by_a_step(plan: &Plan, material: &Material) -> bool {
    plan::takes::steps(&plan.text)
        .flat_map(|(_, step)| &step.clauses)
        .any(|clause| {
            matches!(clause.verb, Verb::Dry | Verb::Distil)
                && clause
                    .objects
                    .iter()
                    .any(|thing| thing.referent == syntax::Referent::Key(material.id))
        })
}

/// Water in solvents as bought, ppm at most, to judge whether it could matter. All assumptions, and used
/// for silence only.
const AS_BOUGHT: [(&str, f64); 15] = [
    ("tetrahydrofuran", 300.0),
    ("diethyl ether", 400.0),
    ("dichloromethane", 300.0),
    ("toluene", 300.0),
    ("hexane", 100.0),
    ("hexanes", 100.0),
    ("pentane", 100.0),
    ("heptane", 100.0),
    ("acetonitrile", 1000.0),
    ("1,4-dioxane", 500.0),
    ("1,2-dimethoxyethane", 500.0),
    ("2-methyltetrahydrofuran", 1000.0),
    ("tert-butyl methyl ether", 500.0),
    ("chloroform", 500.0),
    ("N,N-dimethylformamide", 1500.0),
];

/// Even as bought the solvent takes less than the worry fraction, and the reagent is not one of those
/// for which a plan should always say it; or something else takes the water.
fn cannot_matter(plan: &Plan, entry: &Entry<'_>, contents: &[Content], main: &Content) -> bool {
    let always = !entry.made_here
        && matches!(
            entry.class,
            Some(ReagentClass::Organolithium | ReagentClass::Grignard)
        );
    let Some(substance) = main.substance(&plan.materials) else {
        return false;
    };
    let Some((_, ppm)) = AS_BOUGHT.iter().find(|(name, _)| *name == substance.name()) else {
        return false;
    };
    let density = substance.density().map(|sourced| {
        sourced
            .value
            .get::<mass_density::gram_per_cubic_centimeter>()
    });
    let same = contents
        .iter()
        .filter(|other| other.name(&plan.materials) == main.name(&plan.materials));
    let millilitres: Option<f64> = same
        .map(|other| Some(other.volume?.get::<volume::milliliter>()))
        .sum();
    let (Some(density), Some(millilitres)) = (density, millilitres) else {
        return false;
    };
    let water = millilitres * density * ppm / 18.015;
    if takes_it_first(plan, entry, contents, water) {
        return true;
    }
    let Some(amount) = total(plan, entry, contents) else {
        return false;
    };
    let share = water * lost_per_water(plan, entry) / amount.get::<micromole>();
    !always && share < worry(plan, entry).0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, fixed};

    fn plan(scale: &str, reagent: &str, solvent: &str, steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale {scale} ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  reagent: {reagent}
  solvent: {solvent}
  bulk: acetic anhydride, 3.0 eq
equipment
  flask: 100 mL flask
steps
{steps}"
        )
    }

    /// The plan with a finding drawn under the first line that holds these words.
    fn drawn(text: &str, words: &str, said: &str) -> String {
        let mut done = false;
        text.lines()
            .map(|line| match line.find(words) {
                Some(at) if !std::mem::replace(&mut done, true) => {
                    let (before, carets) = (
                        line[..at].chars().count(),
                        "^".repeat(words.chars().count()),
                    );
                    format!("{line}\n{}{carets} {said}\n", " ".repeat(before))
                }
                _ => format!("{line}\n"),
            })
            .collect()
    }

    const STEPS: &str = "  dry flask at 125 °C overnight\n  add solvent\n  add reagent\n  quench with water 10 mL\n";
    const BULI: &str = "n-butyllithium, 2.5 M in hexanes, 1.00 eq";

    #[test]
    fn reckons_the_stated_water() {
        // 40 mL × 0.889 g/mL × 200 ppm / 18.015 g/mol = 395 µmol, 79 % of 0.50 mmol.
        let text = plan(
            "0.500 mmol",
            BULI,
            "tetrahydrofuran, 200 ppm water, 40 mL",
            STEPS,
        );
        let said = "warning: Water takes about 80 % of reagent (0.39 mmol of 0.500 mmol): solvent 0.39 mmol. \
                    What is left is 0.2";
        expect(&CHECK, &drawn(&text, "200 ppm water", said));
    }

    #[test]
    fn is_an_error_where_nothing_is_left() {
        let text = plan(
            "0.100 mmol",
            BULI,
            "tetrahydrofuran, 100 ppm water, 40 mL",
            STEPS,
        );
        let said = "error: Water takes about 100 % of reagent";
        expect(&CHECK, &drawn(&text, "100 ppm water", said));
    }

    #[test]
    fn a_small_batch_bears_a_dry_solvent() {
        // 2 mL × 0.889 g/mL × 10 ppm / 18.015 g/mol = 1.0 µmol, 1 % of 0.10 mmol.
        let text = plan(
            "0.100 mmol",
            BULI,
            "tetrahydrofuran, 10 ppm water, 2 mL",
            STEPS,
        );
        expect(&CHECK, &text);
    }

    #[test]
    fn the_surplus_may_be_eaten() {
        // 40 mL × 0.889 × 50 ppm / 18.015 = 99 µmol, 8 % of 1.25 mmol: above 5 %, below the surplus of 20 %.
        let text = plan(
            "1.00 mmol",
            "n-butyllithium, 2.5 M in hexanes, 1.25 eq",
            "tetrahydrofuran, 50 ppm water, 40 mL",
            STEPS,
        );
        expect(&CHECK, &text);
    }

    #[test]
    fn is_silent_for_what_water_leaves_alone() {
        let text = plan(
            "50.0 mmol",
            "triethylamine, 1.00 eq",
            "tetrahydrofuran, 200 ppm water, 40 mL",
            STEPS,
        );
        expect(&CHECK, &text);
        let text = plan(
            "50.0 mmol",
            "sodium borohydride, 1.00 eq",
            "tetrahydrofuran, 40 mL",
            STEPS,
        );
        expect(&CHECK, &text);
    }

    #[test]
    fn asks_how_dry_the_solvent_is() {
        let text = plan("5.00 mmol", BULI, "tetrahydrofuran, 40 mL", STEPS);
        expect(
            &CHECK,
            &drawn(&text, "tetrahydrofuran", "information: How dry is solvent?"),
        );
        for (which, answer) in [", dry", ", over 3 Å sieves", ", used as received"]
            .iter()
            .enumerate()
        {
            let after = fixed(&CHECK, &text, which);
            assert!(
                after.contains(&format!("solvent: tetrahydrofuran, 40 mL{answer}\n")),
                "{after}"
            );
            expect(&CHECK, &after);
        }
    }

    #[test]
    fn an_answer_is_an_answer() {
        for answer in [
            "dry",
            "over 3 Å sieves",
            "distilled",
            "used as received",
            "10 ppm water",
        ] {
            let solvent = format!("tetrahydrofuran, {answer}, 40 mL");
            expect(&CHECK, &plan("5.00 mmol", BULI, &solvent, STEPS));
        }
        let dried = STEPS.replace(
            "  add solvent",
            "  dry solvent over 3 Å sieves for 24 h\n  add solvent",
        );
        expect(
            &CHECK,
            &plan("5.00 mmol", BULI, "tetrahydrofuran, 40 mL", &dried),
        );
    }

    #[test]
    fn a_catalytic_lewis_acid_is_shielded_by_the_bulk() {
        let acid = "trimethylsilyl trifluoromethanesulfonate, 10 mol%";
        let alone = plan("1.00 mmol", acid, "dichloromethane, 10 mL", STEPS);
        expect(
            &CHECK,
            &drawn(
                &alone,
                "dichloromethane",
                "information: How dry is solvent?",
            ),
        );
        let beside = STEPS.replace("  add reagent", "  add bulk\n  add reagent");
        expect(
            &CHECK,
            &plan("1.00 mmol", acid, "dichloromethane, 10 mL", &beside),
        );
    }

    #[test]
    fn a_grignard_reagent_dries_its_own_ether() {
        let text = "
plan Test
scale 50.0 mmol bromide
materials
  bromide: bromobenzene, 1.00 eq
  magnesium: magnesium, turnings, 1.10 eq
  ether: diethyl ether, 50 mL
equipment
  flask: 250 mL flask, condenser
steps
  add magnesium, ether
  add bromide dropwise over 30 min
";
        // At 400 ppm 50 mL hold 0.79 mmol, 1.6 % of 50 mmol.
        expect(&CHECK, text);
    }

    #[test]
    fn water_that_is_wanted_is_no_concern() {
        let steps = "  add solvent, water 5 mL\n  add reagent\n";
        expect(
            &CHECK,
            &plan(
                "5.00 mmol",
                "benzoyl chloride, 1.1 eq",
                "1,4-dioxane, 20 mL",
                steps,
            ),
        );
    }

    #[test]
    fn sieves_in_the_flask_dry_it() {
        let steps = "  add solvent, 4 Å molecular sieves 2 g\n  add reagent\n";
        expect(
            &CHECK,
            &plan(
                "5.00 mmol",
                "titanium(IV) chloride, 1.1 eq",
                "dichloromethane, 20 mL",
                steps,
            ),
        );
    }
}
