//! A reaction mixture is worked up with a reagent still alive in it.

use crate::Survey;
use crate::acted_on::{acted_on, substance_of};
use crate::alive::{self, Left};
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::{ReagentClass, Tag};
use plan::Plan;
use plan::equation::float;
use plan::takes::{self, Slot};
use plan::vessel::{Content, Moment, VesselState, gas_name};
use syntax::{Clause, ModifierKind, Referent, Thing, Verb};
use uom::si::amount_of_substance::millimole;
use uom::si::f64::AmountOfSubstance;
use uom::si::mass::gram;

pub(crate) const CHECK: Check = Check {
    name: "quench-missing",
    severity: Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Quench missing

**Finds** a step that concentrates, distils, crystallises, purifies, discards, filters in air or extracts without
water a mixture in which a reagent that water destroys is still alive: organolithiums, Grignard reagents,
zinc and aluminium alkyls, aluminium and metal hydrides, metal amides and alkali metals; borane and 9-BBN, each with all
the hydrides that nothing else may have taken; also the Grignard
reagent that magnesium and a halide make in the plan, taken to form in full. It counts
what went in less one equivalent for everything else there that could have used it up (of an aluminium
hydride one for a ketone, aldehyde or alcohol, two for an ester or nitrile, three for an acid, and all four for what is
not known; of an alkali metal in the equation what that takes, less what of an alcohol or an acid is more), and speaks from 0.5 mmol and 5 % of the scale. A warning; an error from 1 mmol
of a hydride, an alkali metal or a reagent that catches fire in air.

Silent after a quench, an addition of water or a solution in it, an aqueous wash or extraction;
where an alcohol is the solvent, or an organolithium or Grignard reagent may have met carbon dioxide, an epoxide or a
solvent that it adds to; where the mixture went into a vessel that holds such a thing;
where amounts are not known; for a filtration under inert gas; for a solvent that is distilled from what dries it; and at the end of the plan, which may
be the next one's beginning.

**Why it matters.** Dry residues of hydrides and alkyls catch fire in air, on a filter or in a
waste bottle, and gas off for days where they do not.

**Example**

    materials
      lah:    lithium aluminium hydride, 2.00 eq
    steps
      add lah, thf 40 mL
      cool to 0 °C
      add ketone dropwise over 20 min
      reflux for 2 h
      filter through Celite, into rotflask

**Write instead**

    steps
      add lah, thf 40 mL
      cool to 0 °C
      add ketone dropwise over 20 min
      reflux for 2 h
      cool to 0 °C
      quench with water 0.76 mL dropwise over 20 min, below 5 °C     # 1 mL for each gram of it
      add 15 wt% NaOH 0.76 mL dropwise over 10 min
      add water 2.3 mL over 5 min
      filter through Celite, into rotflask

Let gas out through a bubbler, stir, keep inert gas over it until the gas stops. What to quench
with depends on the product too: the safety data sheet, the rules of your laboratory and a trained
supervisor decide.

**Sources.** The amounts of water and sodium hydroxide for lithium aluminium hydride: the teaching
text *LibreTexts Chemistry*, \"Quenching reactions: Lithium Aluminium Hydride\". Agents, volumes
and limits for the others are common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut said = vec![false; plan.apparatus.len()];
    for (index, moment) in plan.moments.iter().enumerate() {
        let Some(clause) = sensitive::clause(plan, moment).filter(|c| works_up(plan, c)) else {
            continue;
        };
        for vessel in worked_up(plan, moment, clause) {
            let Some((state, said)) = moment.before.get(vessel).zip(said.get_mut(vessel)) else {
                continue;
            };
            if *said
                || clause.verb == Verb::Distil && is_still(plan, &state.contents)
                || evaporates_ammonia(plan, clause) && is_quenched_later(plan, index, vessel)
            {
                continue;
            }
            let left = alive::left(plan, state)
                .filter(|left| !may_have_met_gas(plan, left))
                .or_else(|| borane_left(plan, state))
                .or_else(|| metal_left(plan, state))
                .map(|left| (left, ""))
                .or_else(|| Some((made(plan, state)?, "the Grignard reagent from ")));
            if let Some((left, from)) = left.filter(|(left, _)| is_much(plan, left)) {
                *said = true;
                findings.push(finding(plan, moment, clause, vessel, &left, from));
            }
        }
    }
}

fn works_up(plan: &Plan, clause: &Clause) -> bool {
    match clause.verb {
        Verb::Concentrate
        | Verb::Coevaporate
        | Verb::Distil
        | Verb::Crystallise
        | Verb::Purify
        | Verb::Discard => true,
        // Layers, or a washing in it, say that there is water.
        Verb::Extract => {
            let of_layer = clause
                .objects
                .iter()
                .any(|thing| !matches!(thing.referent, Referent::Key(_)));
            let mut with = takes::things(clause)
                .filter(|(slot, _)| *slot == Slot::With)
                .peekable();
            !of_layer && with.peek().is_some() && with.all(|(_, thing)| is_dry_solvent(plan, thing))
        }
        Verb::Filter => !clause
            .modifiers
            .iter()
            .any(|modifier| match &modifier.kind {
                ModifierKind::Under(things) => things
                    .iter()
                    .any(|thing| gas_name(thing, &plan.materials).is_some()),
                ModifierKind::Via(things) => things
                    .iter()
                    .any(|thing| thing.name.text.contains("cannula")),
                _ => false,
            }),
        _ => false,
    }
}

fn is_dry_solvent(plan: &Plan, thing: &Thing) -> bool {
    substance_of(plan, thing)
        .is_some_and(|substance| substance.has(Tag::Solvent) && !substance.has(Tag::Protic))
        && !matches!(thing.referent, Referent::Substance(Some(_)))
}

/// The vessels whose contents the step takes apart: those that it leaves unclear, or discards.
fn worked_up(plan: &Plan, moment: &Moment, clause: &Clause) -> Vec<usize> {
    if clause.verb == Verb::Discard {
        let named = acted_on(plan, moment, clause).into_iter();
        return named
            .map(|(index, _)| index)
            .filter(|_| !clause.objects.is_empty())
            .collect();
    }
    let pairs = moment.before.iter().zip(moment.after.iter()).enumerate();
    pairs
        .filter(|(_, (before, after))| after.unclear && !before.unclear)
        .map(|(index, _)| index)
        .collect()
}

/// Nothing but solvents over a metal or hydride that dries them, and the benzophenone that shows it.
fn is_still(plan: &Plan, contents: &[Content]) -> bool {
    use ReagentClass as C;
    contents.iter().all(|content| {
        let class = alive::fierce_class(plan, content);
        matches!(
            class,
            Some(C::AlkaliMetal | C::MetalHydride | C::AluminiumHydride)
        ) || class.is_none() && sensitive::is_solvent(plan, content)
            || alive::is_named(plan, content, "benzophenone")
    })
}

/// Carbon dioxide or oxygen may have met it.
fn may_have_met_gas(plan: &Plan, left: &Left<'_>) -> bool {
    use ReagentClass as C;
    matches!(left.class, C::Organolithium | C::Grignard | C::Organozinc) && brings_gas(plan)
}

/// Somewhere carbon dioxide or oxygen is brought in, which nobody counts.
fn brings_gas(plan: &Plan) -> bool {
    takes::takes(&plan.text).any(|take| {
        substance_of(plan, take.thing)
            .is_some_and(|substance| ["carbon dioxide", "oxygen"].contains(&substance.name()))
    })
}

/// A Grignard reagent that magnesium and a halide have made there: as much as the lesser of the two gives, less what
/// everything else but ethers and hydrocarbons may have taken. Where an amount is not known, or water, an acid or an
/// alcohol is there, nothing is sure.
fn made<'a>(plan: &Plan, state: &'a VesselState) -> Option<Left<'a>> {
    use ReagentClass as C;
    if state.quenched.is_some() || state.unclear || brings_gas(plan) {
        return None;
    }
    let is_magnesium = |content: &&Content| alive::is_named(plan, content, "magnesium");
    let mut of_magnesium = AmountOfSubstance::default();
    for content in state.contents.iter().filter(is_magnesium) {
        of_magnesium += content.amount?;
    }
    let mut most: Option<(&Content, AmountOfSubstance)> = None;
    let mut taken = AmountOfSubstance::default();
    for content in state
        .contents
        .iter()
        .filter(|content| !is_magnesium(content))
    {
        let class = alive::class(plan, content);
        let inert = matches!(
            class,
            Some(C::Hydrocarbon | C::InertGas | C::Adsorbent | C::DryingAgent)
        );
        // An epoxide is an ether, too.
        if inert || class == Some(C::Ether) && sensitive::is_solvent(plan, content) {
            continue;
        }
        if content.is_protic(&plan.materials) && sensitive::is_solvent(plan, content)
            || content.is_aqueous(&plan.materials)
        {
            return None;
        }
        let starts = ["iodine", "1,2-dibromoethane"]
            .iter()
            .any(|name| alive::is_named(plan, content, name));
        let Some(amount) = content.amount else {
            // A crystal or a drop that starts the metal.
            if starts {
                continue;
            }
            return None;
        };
        let halide = matches!(class, Some(C::AlkylHalide | C::ArylHalide));
        match most {
            // Of two halides the lesser one starts the metal, or is what the reagent meets.
            Some((_, larger)) if halide && amount > larger => {
                taken += larger;
                most = Some((content, amount));
            }
            None if halide => most = Some((content, amount)),
            _ => taken += amount * alive::hydrides_taken(plan, content),
        }
    }
    let (reagent, halide) = most?;
    let formed = if halide < of_magnesium {
        halide
    } else {
        of_magnesium
    };
    let amount = formed - taken;
    (amount.value > 0.0).then_some(Left {
        reagent,
        class: C::Grignard,
        amount,
        equivalents: amount,
        fiery: false,
    })
}

/// Hydrides in a mol of borane or 9-BBN. Pinacolborane and catecholborane are mild, and a borohydride is another matter.
fn hydrides_of_borane(plan: &Plan, content: &Content) -> Option<f64> {
    match content.substance(&plan.materials)?.name() {
        "borane tetrahydrofuran complex" | "borane dimethyl sulfide complex" => Some(3.0),
        "9-borabicyclo[3.3.1]nonane" => Some(1.0),
        "9-borabicyclo[3.3.1]nonane dimer" => Some(2.0),
        _ => None,
    }
}

/// Borane or 9-BBN that is left when everything there but ethers, hydrocarbons and chlorinated solvents has taken the
/// hydrides that it can. None where an amount is not known, or water or an alcohol is there.
pub(crate) fn borane_left<'a>(plan: &Plan, state: &'a VesselState) -> Option<Left<'a>> {
    borane_left_by(plan, state, alive::hydrides_taken)
}

/// The same, when a mol of everything else has taken so many hydrides.
pub(crate) fn borane_left_by<'a>(
    plan: &Plan,
    state: &'a VesselState,
    taken: impl Fn(&Plan, &Content) -> f64,
) -> Option<Left<'a>> {
    use ReagentClass as C;
    if state.quenched.is_some() || state.unclear {
        return None;
    }
    let mut borane: Option<(&Content, f64)> = None;
    let mut equivalents = AmountOfSubstance::default();
    for content in &state.contents {
        if let Some(each) = hydrides_of_borane(plan, content) {
            equivalents += content.amount? * each;
            borane = Some((content, each));
        }
    }
    let (reagent, each) = borane?;
    for content in &state.contents {
        let class = alive::class(plan, content);
        let solvent = sensitive::is_solvent(plan, content);
        if content.is_aqueous(&plan.materials) || solvent && content.is_protic(&plan.materials) {
            return None;
        }
        let inert = solvent
            && matches!(
                class,
                Some(C::Ether | C::Hydrocarbon | C::HalogenatedSolvent)
            )
            || alive::is_aid(plan, content)
            || alive::is_named(plan, content, "dimethyl sulfide");
        if hydrides_of_borane(plan, content).is_none() && !inert {
            equivalents -= content.amount? * taken(plan, content);
        }
    }
    (equivalents.value > 0.0).then(|| Left {
        reagent,
        class: C::Borane,
        amount: equivalents / each,
        equivalents,
        fiery: false,
    })
}

/// An alkali metal that the equation has, less what it takes of it, and less what is more of what the metal reacts with.
/// None where an amount is not known, or something is there that the equation has not.
fn metal_left<'a>(plan: &Plan, state: &'a VesselState) -> Option<Left<'a>> {
    use ReagentClass as C;
    if state.quenched.is_some() || state.unclear {
        return None;
    }
    let equation = plan.equation.as_ref()?;
    let is_metal = |content: &Content| alive::class(plan, content) == Some(C::AlkaliMetal);
    let reagent = state.contents.iter().find(|content| is_metal(content))?;
    let coefficient = |content: &Content| {
        let id = sensitive::material(plan, content)?.id;
        let term = equation
            .left
            .iter()
            .find(|term| term.material == Some(id))?;
        Some(float(term.coefficient))
    };
    let mut extent: Option<AmountOfSubstance> = None;
    let mut met = 0;
    for content in &state.contents {
        let Some(each) = coefficient(content).filter(|each| *each > 0.0) else {
            continue;
        };
        let most = content.amount? / each;
        extent = Some(extent.map_or(most, |extent| if most < extent { most } else { extent }));
        met += 1;
    }
    let extent = extent.filter(|_| met == equation.left.len())?;
    let of_metal = coefficient(reagent)?;
    let mut left = reagent.amount? - extent * of_metal;
    for content in &state.contents {
        let class = alive::class(plan, content);
        let dissolves = alive::is_named(plan, content, "ammonia") && !content.aqueous;
        let inert = matches!(class, Some(C::Ether | C::Hydrocarbon))
            && sensitive::is_solvent(plan, content);
        if is_metal(content) || dissolves || inert || alive::is_aid(plan, content) {
            continue;
        }
        let used = extent * coefficient(content)?;
        left -= content.amount? - used;
    }
    (left.value > 0.0).then_some(Left {
        reagent,
        class: C::AlkaliMetal,
        amount: left,
        equivalents: left,
        fiery: false,
    })
}

/// `evaporate ammonia`
fn evaporates_ammonia(plan: &Plan, clause: &Clause) -> bool {
    let ammonia = |thing: &Thing| {
        substance_of(plan, thing).is_some_and(|substance| substance.name() == "ammonia")
    };
    clause.verb == Verb::Concentrate && clause.objects.iter().any(ammonia)
}

/// A quench, or water or alcohol, comes to it before it is taken apart further: the metal is often quenched when the
/// ammonia is gone.
fn is_quenched_later(plan: &Plan, index: usize, vessel: usize) -> bool {
    let mut later = plan.moments.iter().skip(index + 1);
    let next = later.find(|moment| {
        let works_up = sensitive::clause(plan, moment).is_some_and(|c| works_up(plan, c));
        moment.vessel == vessel && (works_up || !moment.additions.is_empty())
    });
    next.is_some_and(|moment| {
        moment.additions.iter().any(|addition| {
            let content = &addition.content;
            content.is_protic(&plan.materials)
                || alive::class(plan, content) == Some(ReagentClass::Salt)
        }) || sensitive::clause(plan, moment).is_some_and(|c| c.verb == Verb::Quench)
    })
}

/// More than 0.5 mmol and 5 % of the scale (assumptions).
fn is_much(plan: &Plan, left: &Left<'_>) -> bool {
    let scale = plan
        .ledger
        .scale
        .as_ref()
        .and_then(|scale| scale.amount.as_ref().ok());
    left.amount.get::<millimole>() > 0.5
        && scale.is_none_or(|scale| left.amount > scale.value * 0.05)
}

fn finding(
    plan: &Plan,
    moment: &Moment,
    clause: &Clause,
    vessel: usize,
    left: &Left<'_>,
    from: &str,
) -> Finding {
    use ReagentClass as C;
    let flask = sensitive::name(plan, vessel);
    let reagent = left.reagent.name(&plan.materials);
    let amount = sensitive::amount_text(left.amount, 2);
    let ignites = left
        .reagent
        .substance(&plan.materials)
        .is_some_and(|substance| substance.has(Tag::Pyrophoric));
    let fierce = ignites
        || matches!(
            left.class,
            C::AluminiumHydride | C::MetalHydride | C::AlkaliMetal
        );
    let severity = if fierce && left.amount.get::<millimole>() > 1.0 {
        Severity::Error
    } else {
        Severity::Warning
    };
    let message = format!(
        "About {amount} of {from}{reagent} is still alive in {flask}, and nothing has quenched it: quench it first, slowly, cold and with the outlet open."
    );
    let at = plan::At {
        line: moment.line,
        span: clause.verb_span,
    };
    let mut finding = Finding::new(&CHECK, at, message)
        .severity(severity)
        .related(
            sensitive::line_at(plan, left.reagent.line),
            format!("{reagent} came in here"),
        );
    if let Some(steps) = quench(plan, vessel, left)
        && let Some(edit) = edit::insert_before(plan, moment.line, &steps)
    {
        finding = finding.fix(format!("Quench {from}{reagent} first"), vec![edit]);
    }
    finding
}

/// The usual first choice for a class (common practice).
fn quench(plan: &Plan, vessel: usize, left: &Left<'_>) -> Option<Vec<String>> {
    use ReagentClass as C;
    let n = left.equivalents.get::<millimole>();
    let millilitres = |value: f64| sensitive::plain(value.max(1.0), 2);
    let listed = sensitive::listed(plan, vessel).map(|item| &*item.name);
    // A step without a name means the vessel that the plan is at.
    let cool = listed.map_or("cool".to_owned(), |name| format!("cool {name}"));
    let quench = listed.map_or("quench".to_owned(), |name| format!("quench {name}"));
    let to = listed.map_or(String::new(), |name| format!(" to {name}"));
    let mut steps = vec![format!("{cool} to 0 °C")];
    match left.class {
        C::AluminiumHydride if alive::is_named(plan, left.reagent, "lithium aluminium hydride") => {
            let x = left.reagent.mass?.get::<gram>();
            let (x, more) = (sensitive::figures(x, 2), sensitive::figures(3.0 * x, 2));
            steps.push(format!(
                "{quench} with water {x} mL dropwise over 20 min, below 5 °C"
            ));
            steps.push(format!("add 15 wt% NaOH {x} mL{to} dropwise over 10 min"));
            steps.push(format!("add water {more} mL{to} over 5 min"));
        }
        // Methanol is 24.7 mol/L, isopropanol 13.1 mol/L.
        C::AluminiumHydride => steps.push(format!(
            "{quench} with methanol {} mL dropwise over 20 min, below 5 °C",
            millilitres(2.0 * n / 24.7)
        )),
        C::Borane => steps.push(format!(
            "{quench} with methanol {} mL dropwise over 30 min, below 5 °C",
            millilitres(2.0 * n / 24.7)
        )),
        C::AlkaliMetal | C::MetalHydride | C::Organozinc | C::Organoaluminium => {
            steps.push(format!(
                "{quench} with isopropanol {} mL dropwise over 20 min, below 5 °C",
                millilitres(3.0 * n / 13.1)
            ))
        }
        C::Organolithium if left.fiery => steps.push(format!(
            "{quench} with isopropanol {} mL dropwise over 20 min, below 5 °C",
            millilitres(3.0 * n / 13.1)
        )),
        _ => steps.push(format!(
            "{quench} with sat. aq. NH4Cl {} mL dropwise over 10 min, below 10 °C",
            millilitres((2.0 * n).max(5.0))
        )),
    }
    Some(steps)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    #[test]
    fn finds_borane_that_is_left() {
        let with = |steps: &str| {
            format!(
                "
plan Test
scale 50.0 mmol amide
materials
  amide: N-benzylacetamide, formula C9H11NO, 1.00 eq
  alkene: cyclohexene, 100 mmol
  borane: borane tetrahydrofuran complex, 1.0 M in THF, 6.0 eq
  thf: tetrahydrofuran, 50 mL
equipment
  flask: 1 L flask
steps
{steps}"
            )
        };
        // 900 mmol of hydride, of which the amide, which the library does not know, may have taken four each: 700 mmol,
        // 233 mmol of borane. Twice that of methanol (24.7 mol/L): 57 mL.
        let before = "  add amide, thf, borane
  reflux for 6 h
  concentrate at 40 °C
  ^^^^^^^^^^^ warning: About 230 mmol of borane is still alive in flask
";
        expect(&CHECK, &with(before));
        expect_fixed(
            &CHECK,
            &with(before),
            0,
            &with(
                "  add amide, thf, borane\n  reflux for 6 h\n  cool flask to 0 °C\n  quench flask with methanol 57 mL dropwise over 30 min, below 5 °C\n  concentrate at 40 °C\n",
            ),
        );
        for steps in [
            "add amide, thf, borane\n  quench with methanol 60 mL dropwise\n  concentrate at 40 °C",
            "add amide, thf, borane 60 mmol\n  concentrate at 40 °C",
            "add alkene, thf, borane 50 mmol\n  concentrate at 40 °C",
        ] {
            expect(&CHECK, &with(&format!("  {steps}\n")));
        }
    }

    #[test]
    fn counts_a_metal_by_the_equation() {
        let with = |steps: &str| {
            format!(
                "
plan Test
scale 50.0 mmol anisole
reaction anisole + 2 lithium + 2 tbuoh -> C8H12O + 2 C4H9LiO
materials
  anisole: 3-methylanisole, 1.00 eq
  lithium: lithium, wire, 4.0 eq
  ammonia: ammonia, d 0.68, 150 mL
  tbuoh: tert-butanol, 3.0 eq
  thf: tetrahydrofuran, 40 mL
equipment
  flask: 500 mL flask
steps
  cool to -78 °C
  add ammonia, lithium, thf
  add anisole, tbuoh
{steps}"
            )
        };
        // 200 mmol less 2 × 50.0 mmol, less the 50 mmol of alcohol that are more than the equation takes.
        for steps in [
            "  evaporate ammonia overnight\n  ^^^^^^^^^ error: About 50 mmol of lithium is still alive in flask\n  concentrate at 40 °C\n",
            "  filter\n  ^^^^^^ error: About 50 mmol of lithium is still alive in flask\n",
            "  quench with methanol 20 mL dropwise\n  concentrate at 40 °C\n",
            "  evaporate ammonia overnight\n  add ammonium chloride 15 g\n  concentrate at 40 °C\n",
        ] {
            expect(&CHECK, &with(steps));
        }
    }

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 10.0 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  alcohol: 3-phenylpropan-1-ol, 1.00 eq
  bnbr: benzyl bromide, 1.10 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.50 eq
  grignard: phenylmagnesium bromide, 3.0 M in diethyl ether, 1.20 eq
  lah: lithium aluminium hydride, 15.8 mmol
  nah: sodium hydride, 60 wt% in mineral oil, 1.50 eq
  thf: tetrahydrofuran, 40 mL
  isopropanol: propan-2-ol, 20 mL
equipment
  flask: 100 mL two-neck flask
  vial: 40 mL vial
  rotflask: 250 mL round-bottom flask
steps
  add thf 20 mL
{steps}"
        )
    }

    #[test]
    fn finds_a_hydride_on_the_filter() {
        // 15.8 mmol are 0.60 g and 63 mmol of hydride, of which the ketone takes 10: 53/4 is 13.
        let before = "
  add lah
  add ketone dropwise over 20 min
  filter through Celite, into rotflask, keep filtrate
  ^^^^^^ error: About 13 mmol of lah is still alive in flask
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add lah
  add ketone dropwise over 20 min
  cool flask to 0 °C
  quench flask with water 0.60 mL dropwise over 20 min, below 5 °C
  add 15 wt% NaOH 0.60 mL to flask dropwise over 10 min
  add water 1.8 mL to flask over 5 min
  filter through Celite, into rotflask, keep filtrate
",
            ),
        );
    }

    #[test]
    fn an_assay_makes_no_solution_in_water() {
        let assayed =
            |steps: &str| plan(steps).replace("propan-1-ol, 1.00", "propan-1-ol, 98 %, 1.00");
        expect(
            &CHECK,
            &assayed(
                "  add nah\n  add alcohol\n  concentrate\n  ^^^^^^^^^^^ error: About 5.0 mmol of nah is still alive\n",
            ),
        );
    }

    #[test]
    fn a_still_is_no_reaction() {
        expect(&CHECK, &plan("  add lah\n  reflux for 2 h\n  distil\n"));
        expect(
            &CHECK,
            &plan(
                "
  add lah, ketone
  distil
  ^^^^^^ error: About 13 mmol of lah is still alive
",
            ),
        );
    }

    #[test]
    fn finds_what_is_in_excess() {
        let before = "
  add ketone
  add grignard
  concentrate
  ^^^^^^^^^^^ warning: About 2.0 mmol of grignard is still alive
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add ketone
  add grignard
  cool flask to 0 °C
  quench flask with sat. aq. NH4Cl 5 mL dropwise over 10 min, below 10 °C
  concentrate
",
            ),
        );
        // Benzyl bromide takes the alkoxide, not the hydride.
        expect(
            &CHECK,
            &plan(
                "
  add nah
  add alcohol, bnbr
  transfer flask to rotflask
  in rotflask
  concentrate
  ^^^^^^^^^^^ error: About 5.0 mmol of nah is still alive in rotflask
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "
  add ketone, base
  transfer flask to rotflask
  in rotflask
  extract with pentane, 3 x 20 mL
  ^^^^^^^ error: About 5.0 mmol of base is still alive in rotflask
  wash organics with water 20 mL
  concentrate
",
            ),
        );
        expect(
            &CHECK,
            &plan("  add ketone, base\n  discard flask\n  ^^^^^^^ error: About 5.0 mmol of base\n"),
        );
    }

    #[test]
    fn finds_a_grignard_reagent_that_is_made_in_the_plan() {
        let plan = |steps: &str| {
            plan(steps).replace(
                "  thf: tetra",
                "  phbr: bromobenzene, 1.30 eq\n  mg: magnesium, turnings, 1.40 eq\n  ester: ethyl benzoate, 0.50 eq\n  oxide: propylene oxide, 1.30 eq\n  dbe: 1,2-dibromoethane, 0.05 eq\n  thf: tetra",
            )
        };
        let start = "  add mg, dbe\n  add phbr dropwise over 30 min\n  reflux for 1 h\n";
        // 13 mmol of halide, less the ketone's 10 and what started the metal.
        let before = plan(&format!(
            "{start}  add ketone dropwise over 20 min\n  concentrate\n  ^^^^^^^^^^^ warning: About 2.5 mmol of the Grignard reagent from phbr is still alive in flask\n"
        ));
        expect(&CHECK, &before);
        let after = plan(&format!(
            "{start}  add ketone dropwise over 20 min\n  cool flask to 0 °C\n  quench flask with sat. aq. NH4Cl 5 mL dropwise over 10 min, below 10 °C\n  concentrate\n"
        ));
        expect_fixed(&CHECK, &before, 0, &after);
        expect(&CHECK, &after);
        let crystal = before.replace("1,2-dibromoethane, 0.05 eq", "iodine, 1 crystal");
        expect(&CHECK, &crystal.replace("2.5 mmol", "3.0 mmol"));
        for steps in [
            // Two for each ester, and one for each ketone.
            "  add ester, ketone dropwise over 20 min\n  concentrate\n",
            "  add isopropanol\n  concentrate\n",
            "  bubble carbon dioxide through flask for 1 h\n  concentrate\n",
            "  add oxide dropwise\n  concentrate\n",
            "  add ketone, sat. aq. NH4Cl 20 mL\n  concentrate\n",
            "  add ketone\n  filter under argon into rotflask\n",
        ] {
            expect(&CHECK, &plan(&format!("{start}{steps}")));
        }
    }

    #[test]
    fn quenches_hydrides_and_metals_with_isopropanol() {
        let before = "  add nah\n  add alcohol\n  concentrate\n";
        let fixed = crate::testing::fixed(&CHECK, &plan(before), 0);
        // 5.0 mmol: 15 mmol of isopropanol, 13.1 mmol/mL.
        assert!(
            fixed.contains(
                "  quench flask with isopropanol 1.1 mL dropwise over 20 min, below 5 °C\n"
            ),
            "{fixed}"
        );
        // 5.0 mmol of what water sets alight.
        let fixed = crate::testing::fixed(
            &CHECK,
            &plan("  add ketone, base\n  concentrate\n")
                .replace("n-butyllithium", "tert-butyllithium"),
            0,
        );
        assert!(
            fixed.contains("  quench flask with isopropanol 1.1 mL"),
            "{fixed}"
        );
    }

    /// The step before is about another vessel than the one that is quenched.
    #[test]
    fn the_fix_names_its_vessel() {
        let before = plan("  add ketone, base\n  in vial\n  discard flask\n");
        let fixed = crate::testing::fixed(&CHECK, &before, 0);
        assert!(
            fixed.contains("  cool flask to 0 °C\n  quench flask with sat. aq. NH4Cl"),
            "{fixed}"
        );
        expect(&CHECK, &fixed);
    }

    #[test]
    fn is_silent_after_a_quench_and_where_nothing_is_left() {
        for steps in [
            "add lah\n  add ketone\n  quench with water 1 mL\n  filter into rotflask",
            "add lah\n  add ketone\n  add water 1 mL\n  filter into rotflask",
            "add ketone, base\n  in vial\n  add water 20 mL\n  transfer flask to vial\n  concentrate",
            "add ketone, base\n  extract with water 20 mL\n  concentrate",
            "add ketone, base\n  separate\n  extract aqueous with pentane 20 mL\n  concentrate",
            "add ketone, base\n  wash organics with water 20 mL\n  concentrate",
            // Used up.
            "add nah\n  add alcohol, ketone, bnbr\n  concentrate",
            "add ketone, base, bnbr\n  concentrate",
            "add base, isopropanol\n  concentrate",
            // Under inert gas.
            "add ketone, base\n  filter under argon into rotflask",
            // An electrophile that is a solvent, an ether or a gas.
            "add grignard\n  add DMF 0.9 g\n  concentrate",
            "add grignard\n  add propylene oxide 0.9 g\n  concentrate",
            "add grignard\n  bubble carbon dioxide through flask for 1 h\n  concentrate",
            // Nothing is said of how much.
            "add base\n  add acetophenone 1 mL\n  concentrate",
            // The plan is not at its end.
            "add ketone, base\n  warm to rt",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
