//! A reagent that water destroys with force goes into water or alcohol, or they go to it, before it has
//! done anything.

use crate::Survey;
use crate::alive;
use crate::sensitive::{self, Threat};
use crate::{Check, Finding, Severity};
use chemistry::{ReagentClass, Tag};
use plan::Plan;
use plan::vessel::{Addition, Content, Moment};
use syntax::Verb;

pub(crate) const CHECK: Check = Check {
    name: "reagent-into-protic",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Reagent into water or alcohol

**Finds** an organolithium or Grignard reagent, a zinc or aluminium alkyl, an aluminium or metal
hydride, a metal amide or an alkali metal that is added to a vessel in which water, an alcohol or
an acid is a solvent; and such a solvent that goes to it before the reagent had anything to react
with, or to a Grignard reagent, an aryllithium or what tert-butyllithium makes of an alkyl iodide in the vessel. A warning below 1 mmol.

Silent for a quench, in whatever order; where the water or alcohol is less than 5 mol for each mol of the
reagent, as a substrate or an additive is; for metals and metal hydrides in alcohol alone, which makes the
alkoxide; where nothing is there for the reagent to react with and nothing comes later, since the reagent is
then destroyed on purpose (but for metals and solid aluminium hydrides in water); for borohydrides and
whatever else works in water; where amounts cannot be told.

**Why it matters.** The reagent is gone at once, and all its heat and gas come at once: hydrogen
from hydrides and metals, butane from butyllithium, in a flask with solvent vapour.

**Example**

    materials
      base: n-butyllithium, 2.5 M in hexanes, 1.10 eq
    steps
      dry flask at 125 °C overnight
      evacuate and refill flask with argon, 3 cycles
      add methanol 20 mL, ketone
      add base dropwise over 10 min

**Write instead** a dry solvent that the reagent does not react with (an ether, toluene, hexanes)

    steps
      dry flask at 125 °C overnight
      evacuate and refill flask with argon, 3 cycles
      add thf 20 mL, ketone
      add base dropwise over 10 min

To destroy what is left over, write `quench`, slowly and cold.

The safety data sheet, the rules of your laboratory and a trained supervisor decide.

**Sources.** Common practice. That these substances give flammable gas with water: hazard
statements H260 and H261, Regulation (EC) 1272/2008, Annex VI.
";

/// Mol of a protic solvent for each mol of reagent from which it is no substrate (an assumption).
const MEDIUM: f64 = 5.0;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut said = vec![false; plan.apparatus.len()];
    for (index, moment) in plan.moments.iter().enumerate() {
        let Some(said) = said.get_mut(moment.vessel).filter(|said| !**said) else {
            continue;
        };
        let found = into_it(plan, index, moment)
            .or_else(|| to_it(plan, index, moment))
            .or_else(|| to_what_was_made(plan, index, moment));
        if let Some(finding) = found {
            *said = true;
            findings.push(finding);
        }
    }
}

/// The reagent goes into the solvent.
fn into_it(plan: &Plan, index: usize, moment: &Moment) -> Option<Finding> {
    if !mixes(plan, moment) || was_quenched(plan, moment) {
        return None;
    }
    moment
        .additions
        .iter()
        .filter(|addition| addition.from.is_none())
        .find_map(|addition| {
            let reagent = &addition.content;
            let class = alive::fierce_class(plan, reagent)?;
            let company: Vec<&Content> = alive::company(moment, addition).collect();
            let solvent = company
                .iter()
                .find(|other| is_medium(plan, moment, class, reagent, other))?;
            let partner = company.iter().any(|other| alive::is_partner(plan, other))
                || alive::partner_comes(plan, index, moment.vessel);
            // Nobody destroys a metal or lithium aluminium hydride by throwing it into water.
            let thrown = solvent.is_aqueous(&plan.materials)
                && matches!(
                    class,
                    ReagentClass::AlkaliMetal | ReagentClass::AluminiumHydride
                )
                && !reagent.is_liquid(&plan.materials);
            (partner || thrown).then(|| finding(plan, addition, reagent, solvent, partner))
        })
}

/// The solvent goes to the reagent.
fn to_it(plan: &Plan, index: usize, moment: &Moment) -> Option<Finding> {
    let before = moment.before.get(moment.vessel)?;
    if !mixes(plan, moment)
        || before.quenched.is_some()
        || before.unclear
        || has_partner(plan, &before.contents)
        || has_electrophile(plan, &before.contents)
        || !brings_partner(plan, index, moment)
    {
        return None;
    }
    before.contents.iter().find_map(|reagent| {
        let class = alive::fierce_class(plan, reagent)?;
        moment.additions.iter().find_map(|addition| {
            let solvent = &addition.content;
            is_medium(plan, moment, class, reagent, solvent)
                .then(|| finding(plan, addition, reagent, solvent, true))
        })
    })
}

fn brings_partner(plan: &Plan, index: usize, moment: &Moment) -> bool {
    let mut additions = moment.additions.iter();
    additions.any(|addition| alive::is_partner(plan, &addition.content))
        || alive::partner_comes(plan, index, moment.vessel)
}

/// Dimethylformamide, acetone or a nitrile, which are called solvents, and are what the reagent was for.
fn has_electrophile(plan: &Plan, contents: &[Content]) -> bool {
    let met = |class| {
        contents
            .iter()
            .any(|content| alive::adds_to(plan, content, class))
    };
    contents
        .iter()
        .filter_map(|content| alive::fierce_class(plan, content))
        .any(met)
}

/// Of an aryl halide, and tert-butyllithium of an alkyl iodide, makes another organolithium, which is as good as it.
pub(crate) fn has_partner(plan: &Plan, contents: &[Content]) -> bool {
    use ReagentClass as C;
    let is = |content: &Content, class| alive::class(plan, content) == Some(class);
    let lithium = contents.iter().any(|content| is(content, C::Organolithium));
    let tert_butyl = contents
        .iter()
        .any(|content| alive::is_named(plan, content, "tert-butyllithium"));
    contents.iter().any(|content| {
        let iodide = is(content, C::AlkylHalide)
            && content
                .substance(&plan.materials)
                .is_some_and(|substance| substance.name().contains("iod"));
        let exchanged = lithium && is(content, C::ArylHalide) || tert_butyl && iodide;
        alive::is_partner(plan, content) && !exchanged
    })
}

/// The solvent goes to a Grignard reagent that was made in the vessel and met nothing yet.
fn to_what_was_made(plan: &Survey<'_>, index: usize, moment: &Moment) -> Option<Finding> {
    let before = moment.before.get(moment.vessel)?;
    let mut entries = plan.entries(Threat::Water).iter();
    let made_here = entries
        .any(|entry| entry.made_here && entry.vessel == moment.vessel && entry.moment < index);
    if !made_here
        || !mixes(plan, moment)
        || before.quenched.is_some()
        || before.unclear
        || !brings_partner(plan, index, moment)
    {
        return None;
    }
    let materials = &plan.materials;
    let halide = before.contents.iter().find(|content| {
        matches!(
            alive::class(plan, content),
            Some(ReagentClass::ArylHalide | ReagentClass::AlkylHalide)
        ) && !sensitive::is_catalytic(plan, content)
    })?;
    let bystander = |content: &Content| {
        content.name(materials) == halide.name(materials)
            || alive::is_named(plan, content, "magnesium")
            || sensitive::is_solvent(plan, content)
            || alive::times(content, halide).is_some_and(|times| times <= ACTIVATOR)
    };
    if !before.contents.iter().all(bystander) {
        return None;
    }
    let addition = moment.additions.iter().find(|addition| {
        let solvent = &addition.content;
        is_medium(plan, moment, ReagentClass::Grignard, halide, solvent)
    })?;
    let made = format!("the Grignard reagent from {}", halide.name(materials));
    Some(finding_of(
        plan,
        addition,
        halide,
        &addition.content,
        true,
        &made,
    ))
}

/// Iodine or 1,2-dibromoethane for each halide, at most (an assumption).
const ACTIVATOR: f64 = 0.2;

/// A step that mixes, and is no quench.
fn mixes(plan: &Plan, moment: &Moment) -> bool {
    sensitive::clause(plan, moment).is_some_and(|clause| {
        matches!(
            clause.verb,
            Verb::Add
                | Verb::Charge
                | Verb::Dissolve
                | Verb::Suspend
                | Verb::Dilute
                | Verb::Transfer
                | Verb::Pour
                | Verb::Stir
        )
    })
}

/// The vessel met a quench before; what is added then is a matter of order.
fn was_quenched(plan: &Plan, moment: &Moment) -> bool {
    let Some(state) = moment.before.get(moment.vessel) else {
        return true;
    };
    let earlier = plan
        .moments
        .iter()
        .take_while(|other| !std::ptr::eq(*other, moment));
    state.unclear
        || state.quenched.is_some()
            && earlier
                .filter(|other| other.vessel == moment.vessel)
                .any(|other| sensitive::clause(plan, other).is_some_and(|c| alive::ends(c.verb)))
}

/// Whether a content is water, alcohol or acid in the amount of a solvent, and kills this reagent.
fn is_medium(
    plan: &Plan,
    moment: &Moment,
    class: ReagentClass,
    reagent: &Content,
    other: &Content,
) -> bool {
    use ReagentClass as C;
    let materials = &plan.materials;
    let aqueous = other.is_aqueous(materials);
    let solvent = aqueous || other.is_protic(materials) && sensitive::is_solvent(plan, other);
    let alcohol = other
        .substance(materials)
        .is_some_and(|substance| substance.class() == Some(C::Alcohol));
    let makes_alkoxide = matches!(class, C::AlkaliMetal | C::MetalHydride) && alcohol && !aqueous;
    if !solvent || makes_alkoxide || !other.is_liquid(materials) {
        return false;
    }
    match alive::times(other, reagent) {
        Some(times) => times >= MEDIUM,
        // A solution in water: its solute is counted, its water is not.
        None => {
            let state = moment.after.get(moment.vessel);
            state
                .and_then(|state| alive::volume_share(plan, state, other))
                .is_some_and(|share| share >= 0.2)
        }
    }
}

fn finding(
    plan: &Plan,
    addition: &Addition,
    reagent: &Content,
    solvent: &Content,
    wanted: bool,
) -> Finding {
    let name = reagent.name(&plan.materials);
    finding_of(plan, addition, reagent, solvent, wanted, name)
}

fn finding_of(
    plan: &Plan,
    addition: &Addition,
    reagent: &Content,
    solvent: &Content,
    wanted: bool,
    victim: &str,
) -> Finding {
    let killer = solvent.name(&plan.materials);
    let gas = alive::class(plan, reagent).map_or("heat", |class| match class {
        ReagentClass::AluminiumHydride | ReagentClass::MetalHydride | ReagentClass::AlkaliMetal => {
            "heat and hydrogen"
        }
        ReagentClass::AmideBase => "heat",
        _ => "heat and a flammable gas",
    });
    let has = |tag| {
        solvent
            .substance(&plan.materials)
            .is_some_and(|substance| substance.has(tag))
    };
    let advice = if !wanted {
        format!(
            "to be rid of it, cover {victim} with toluene under inert gas and add isopropanol dropwise."
        )
    } else if has(Tag::Solvent) {
        format!(
            "take a dry solvent that {victim} does not react with; if it is meant to be destroyed, write `quench`."
        )
    } else {
        format!("keep {killer} for the quench; if it is meant to be destroyed, write `quench`.")
    };
    let message = format!("{killer} destroys {victim} at once, with {gas}: {advice}");
    let severity = if alive::is_small(reagent.amount) {
        Severity::Warning
    } else {
        Severity::Error
    };
    let other = if std::ptr::eq(&addition.content, reagent) {
        solvent
    } else {
        reagent
    };
    let mut finding = Finding::new(&CHECK, addition.at, message).severity(severity);
    if other.line != addition.at.line {
        let name = other.name(&plan.materials);
        finding = finding.related(
            sensitive::line_at(plan, other.line),
            format!("{name} came in here"),
        );
    }
    finding
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_solvent_that_comes_along_kills_what_was_exchanged() {
        let with = |solvent: &str, found: &str| {
            format!(
                "
plan Test
scale 2.00 mmol iodide
materials
  iodide: 1-iodohexane, 1.00 eq
  tbuli: tert-butyllithium, 1.7 M in pentane, 2.10 eq
  aldehyde: benzaldehyde, 1.10 eq
  ether: diethyl ether, 9 mL
  solvent: {solvent}, 3 mL
equipment
  flask: 50 mL flask
  vial: 8 mL vial
steps
  add iodide, ether
  cool to -78 °C
  add tbuli dropwise over 10 min
  in vial
  dissolve aldehyde in solvent
  in flask
  transfer vial to flask dropwise over 5 min
{found}"
            )
        };
        expect(&CHECK, &with("methanol", "           ^^^^ error: solvent"));
        expect(&CHECK, &with("tetrahydrofuran", ""));
    }
    use crate::testing::expect;

    #[test]
    fn dimethylformamide_is_what_an_aryllithium_was_made_for() {
        let with = |electrophile: &str| {
            format!(
                "
plan Test
scale 10.0 mmol bromide
materials
  bromide: 4-bromoanisole, 1.00 eq
  buli: n-butyllithium, 2.5 M in hexanes, 1.10 eq
  dmf: N,N-dimethylformamide, 1.30 eq
  boro: sodium borohydride, 1.50 eq
  thf: tetrahydrofuran, 30 mL
  meoh: methanol, 20 mL
equipment
  flask: 100 mL flask
steps
  add thf, bromide
  cool to -78 °C
  add buli dropwise over 10 min
{electrophile}  add meoh
{}  add boro in portions
",
                match electrophile {
                    "" => "      ^^^^ error: meoh destroys buli at once\n",
                    _ => "",
                }
            )
        };
        expect(&CHECK, &with("  add dmf\n"));
        // Without it the methanol meets the aryllithium, which the hydride does not react with.
        expect(&CHECK, &with(""));
    }

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq
  lah: lithium aluminium hydride, 1.5 eq
  nah: sodium hydride, 60 wt% in mineral oil, 1.5 eq
  boro: sodium borohydride, 1.5 eq
  thf: tetrahydrofuran, 40 mL
  meoh: methanol, 20 mL
  ethanol: ethanol, 1.00 eq
equipment
  flask: 100 mL two-neck flask
  vial: 20 mL vial
steps
{steps}"
        )
    }

    #[test]
    fn finds_the_reagent_that_goes_into_alcohol_or_water() {
        expect(
            &CHECK,
            &plan(
                "
  add meoh, ketone
  add base dropwise over 10 min
      ^^^^ error: meoh destroys base at once, with heat and a flammable gas: take a dry solvent
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "
  add ketone, thf 10 mL, water 5 mL
  add lah
      ^^^ error: water destroys lah at once, with heat and hydrogen
",
            ),
        );
    }

    #[test]
    fn finds_the_solvent_that_goes_to_the_reagent() {
        expect(
            &CHECK,
            &plan(
                "
  add thf 10 mL, lah
  in vial
  dissolve ketone in meoh
  transfer vial to flask
           ^^^^ error: meoh destroys lah at once
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "
  add nah
  add water 10 mL
      ^^^^^ error: water destroys nah at once
  add ketone
",
            ),
        );
    }

    #[test]
    fn finds_the_solvent_that_goes_to_what_was_made_there() {
        let plan = |steps: &str| {
            format!(
                "
plan Test
scale 10.0 mmol aldehyde
materials
  aldehyde: benzaldehyde, 1.00 eq
  mg: magnesium turnings, 1.6 eq
  iodine: iodine, 1 mol%
  bromide: bromobenzene, 1.5 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.5 eq
  thf: tetrahydrofuran, dry, 30 mL
  etoh: ethanol, 20 mL
equipment
  flask: 250 mL three-neck flask
steps
{steps}"
            )
        };
        let made = "the Grignard reagent from bromide";
        expect(
            &CHECK,
            &plan(&format!(
                "  add mg, iodine, thf\n  add bromide dropwise over 30 min\n  reflux for 1 h\n  add aldehyde in etoh\n                  ^^^^ error: etoh destroys {made} at once\n"
            )),
        );
        expect(
            &CHECK,
            &plan(
                "  add bromide, thf\n  cool to -78 °C\n  add base\n  add aldehyde in etoh\n                  ^^^^ error: etoh destroys base at once\n",
            ),
        );
        for steps in [
            "  add mg, thf\n  add bromide\n  add aldehyde\n  add etoh\n",
            "  add mg, thf\n  add bromide\n  add aldehyde in thf 10 mL\n  quench with etoh\n",
            "  add mg, thf\n  add bromide\n  add etoh\n",
            "  add bromide, thf\n  add base\n  add aldehyde\n  add etoh\n",
        ] {
            expect(&CHECK, &plan(steps));
        }
    }

    #[test]
    fn a_metal_is_not_thrown_into_water() {
        let text = plan(
            "
  add water 50 mL
  add sodium 2.0 g
      ^^^^^^ error: water destroys sodium at once, with heat and hydrogen: to be rid of it, cover sodium with toluene
",
        );
        expect(&CHECK, &text);
        expect(&CHECK, &plan("  add meoh\n  add sodium 2.0 g\n"));
    }

    #[test]
    fn little_of_it_is_a_warning() {
        let text = plan(
            "
  add meoh, ketone
  add base
      ^^^^ warning: meoh destroys base
",
        )
        .replace("scale 5.00 mmol", "scale 0.500 mmol");
        expect(&CHECK, &text);
    }

    #[test]
    fn is_silent_for_quenches() {
        for steps in [
            "add thf 10 mL, ketone\n  add lah\n  quench with water 5 mL",
            "add thf 10 mL, ketone\n  add lah\n  add water 5 mL dropwise over 10 min",
            "add thf 10 mL, ketone\n  add lah\n  add meoh dropwise",
            // Left over from something else, and destroyed.
            "add meoh\n  add base dropwise over 10 min",
            "in vial\n  add water 10 mL\n  in flask\n  add thf 10 mL, ketone, base\n  transfer flask to vial",
            "add thf 10 mL, ketone, base\n  quench with water 5 mL\n  add base",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }

    #[test]
    fn is_silent_where_protons_are_wanted() {
        for steps in [
            "add meoh, nah\n  add ketone",
            "add meoh, ketone, water 5 mL\n  add boro",
            "add thf 10 mL, ethanol\n  add base\n  add ketone",
            "add thf 10 mL, base\n  add ethanol\n  add ketone",
            "add thf 10 mL, lah\n  add ethanol\n  add ketone",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
