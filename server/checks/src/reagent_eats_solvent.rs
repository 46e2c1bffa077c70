//! A reagent meets a solvent that it reacts with itself.

use crate::Survey;
use crate::acted_on::substance_of;
use crate::alive;
use crate::edit;
use crate::reagent_into_protic::has_partner;
use crate::sensitive::{self, Entry, Threat};
use crate::{Check, Finding, Severity};
use chemistry::{ReagentClass, Substance};
use plan::takes::{self, Slot};
use plan::vessel::{Addition, Content, Moment, VesselState, celsius};
use plan::{At, Plan};
use syntax::{Referent, Verb};
use uom::si::amount_of_substance::millimole;
use uom::si::volume::milliliter;

pub(crate) const CHECK: Check = Check {
    name: "reagent-eats-solvent",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Reagent reacts with the solvent

**Finds** a reagent in a solvent that it reacts with itself. An error where the pair is known to explode or
run away: alkali metals with halogenated solvents, organolithiums with chlorinated or brominated alkanes above
-60 °C, hydrogen peroxide and peracids in acetone and other ketones, nitric acid of more than 4 mol/L with a
tenth or more of an alcohol, ketone, ether, amide or sulfoxide, sodium or potassium hydride in dimethyl
sulfoxide, dimethylformamide or dimethylacetamide above 50 °C, a hydride or an alkali metal that is washed with
acetone, an alcohol or water, acyl, sulfonyl, thionyl and phosphorus chlorides in dimethyl sulfoxide above -50 °C. A
warning for organolithiums, Grignard reagents and aluminium hydrides in ketones, esters, nitriles, dimethylformamide,
dimethylacetamide and dimethyl sulfoxide, for strong bases and sodium hydride in ketones and esters (and what the message
names), borane in ketones, sodium hydride and organolithiums in chloroform, sodium or potassium hydroxide or alkoxide
with acetone and chloroform together, more than 10 mmol of each and not cold, and for more than 10 mmol of sodium hydride
in those amides and the sulfoxide, or above 25 °C. An
information for less of it.

A warning too for such a chloride and half an equivalent or more of dimethyl sulfoxide in another solvent above
-50 °C, and for an acyl chloride in an alcohol above 10 °C and not added slowly.

Silent below 10 eq (but for alkali metals in halogenated solvents, peroxides, and for sodium and potassium hydride where the amide or sulfoxide is half of the
liquid), where the solvent is the reactant (a formylation with dimethylformamide, an
aldol with acetone), and below a fifth of the liquid; where the solvent comes after the reagent has
met its partner, as a quench with ethyl acetate does; for dichloromethane with Grignard reagents
and with DIBAL-H, which is published use; for alcohols and water, of which `reagent-into-protic`
speaks.

**Why it matters.** The solvent is there in a large excess: the reagent is lost, and its heat goes
into the flask. Mixtures of alkali metals and halogenated solvents explode on a knock. Sodium
hydride in dimethyl sulfoxide went off near 90 °C in a calorimeter.

**Example**

    materials
      bromide: 4-bromoanisole, 1.00 eq
      base:    n-butyllithium, 2.5 M in hexanes, 1.1 eq
      solvent: dichloromethane, dry, 40 mL
    steps
      add bromide, solvent
      cool to 0 °C
      add base dropwise over 10 min

**Write instead**

    materials
      solvent: tetrahydrofuran, dry, 40 mL

The safety data sheets, the rules of your laboratory and a trained supervisor decide.

**Sources.** Acetone and chloroform with base: L. Bretherick, *Handbook of Reactive Chemical Hazards* (from
memory); the 10 mmol and 15 °C are assumptions. Alkali metals and halogenated hydrocarbons: letter by J. C. Angus, *Chem. Eng. News*
1998, 76 (36), 7. Sodium hydride: Q. Yang et al., *Org. Process Res. Dev.* 2019, 23, 2210, and the
abstract of M. Sheng and Q. Yang, AIChE Spring Meeting 2020, 60bq (9.7 % of the hydride in dimethyl
sulfoxide, about 90 °C); the limits of 25 °C, 50 °C and 10 mmol are assumptions, far below it. Dimethyl
sulfoxide with electrophiles: Q. Yang et al., *Org. Process Res. Dev.* 2020, doi
10.1021/acs.oprd.0c00159 (abstract read);
the limit of -50 °C is that of the Swern oxidation, common practice. That bottles of
nitric acid burst on organic solvents says `waste-meets`. The other pairs, and the shares and strengths, are
common practice.
";

const NITRIC_ACID: &str = "nitric acid";

/// Equivalents below which the solvent is rather the reactant.
const SOLVENT: f64 = 10.0;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut said: Vec<(usize, ReagentClass)> = Vec::new();
    let mut informed = false;
    for entry in plan.entries(Threat::Water) {
        findings.extend(grignard_made_in(plan, entry));
    }
    let meetings = if plan.has_class(may_clash) || plan.has(NITRIC_ACID) {
        plan.moments.as_slice()
    } else {
        &[]
    };
    for moment in meetings {
        let Some((addition, reagent, solvent, clash)) = meeting(plan, moment) else {
            continue;
        };
        let Some(class) = alive::class(plan, reagent) else {
            continue;
        };
        let information = clash.severity == Severity::Information;
        if said.contains(&(moment.vessel, class)) || information && informed {
            continue;
        }
        said.push((moment.vessel, class));
        informed |= information;
        findings.push(finding(plan, addition, reagent, solvent, &clash));
    }
    let carbanions = plan.has("acetone") && plan.has("chloroform");
    for moment in &plan.moments {
        let found = washed(plan, moment);
        findings.extend(found.or_else(|| carbanion(plan, moment).filter(|_| carbanions)));
    }
}

/// `wash nah with acetone`: what takes the oil off a hydride or a metal, and reacts with it.
fn washed(plan: &Plan, moment: &Moment) -> Option<Finding> {
    use ReagentClass as C;
    let clause = sensitive::clause(plan, moment)
        .filter(|clause| matches!(clause.verb, Verb::Wash | Verb::Rinse))?;
    let reagent = clause.objects.iter().find_map(|thing| {
        let class = substance_of(plan, thing)?.class()?;
        matches!(
            class,
            C::MetalHydride | C::AlkaliMetal | C::AluminiumHydride
        )
        .then_some(thing)
    })?;
    let (_, with) = takes::things(clause).find(|(slot, thing)| {
        let eaten = substance_of(plan, thing)
            .and_then(Substance::class)
            .is_some_and(|class| {
                matches!(
                    class,
                    C::Ketone | C::Water | C::Alcohol | C::Acid | C::HalogenatedSolvent
                )
            });
        *slot == Slot::With && eaten
    })?;
    let state = moment.before.get(moment.vessel)?;
    if state.quenched.is_some() || state.unclear {
        return None;
    }
    let at = At {
        line: moment.line,
        span: with.name.span,
    };
    let message = format!(
        "{} reacts with {}, and what is left of it may burn: wash it with pentane or hexanes.",
        reagent.name.text, with.name.text
    );
    let finding = Finding::new(&CHECK, at, message);
    Some(match with.referent {
        Referent::Key(_) => finding,
        _ => finding.fix(
            "Wash it with pentane",
            vec![edit::replace(plan, at, "pentane")],
        ),
    })
}

/// More of each than this (an assumption), in millimoles, runs away.
const RUNS_AWAY: f64 = 10.0;

/// Acetone and chloroform add to each other when a strong base comes to them: in the cold, and slowly, that is a synthesis.
fn carbanion(plan: &Plan, moment: &Moment) -> Option<Finding> {
    let before = moment.before.get(moment.vessel)?;
    let after = moment.after.get(moment.vessel)?;
    if before.unclear || before.quenched.is_some() || celsius(after.known_temperature()?) < 15.0 {
        return None;
    }
    let find = |wanted: &dyn Fn(&str) -> bool| {
        after.contents.iter().find(|content| {
            let much = content
                .amount
                .is_some_and(|amount| amount.get::<millimole>() > RUNS_AWAY);
            let named = content
                .substance(&plan.materials)
                .is_some_and(|substance| wanted(substance.name()));
            much && named
        })
    };
    let base = find(&|name| {
        ["sodium", "potassium"]
            .iter()
            .any(|metal| name.starts_with(metal))
            && ["hydroxide", "methoxide", "ethoxide", "tert-butoxide"]
                .iter()
                .any(|base| name.ends_with(base))
    })?;
    let (acetone, chloroform) = (
        find(&|name| name == "acetone")?,
        find(&|name| name == "chloroform")?,
    );
    let three = [base, acetone, chloroform];
    let addition = moment.additions.iter().find(|addition| {
        let own = addition.content.name(&plan.materials);
        three
            .iter()
            .any(|content| content.name(&plan.materials) == own)
    })?;
    let [base, acetone, chloroform] = three.map(|content| content.name(&plan.materials));
    let message = format!(
        "{acetone} and {chloroform} react with each other where {base} is, with so much heat that bottles have burst: keep them apart, or if that is meant add {base} slowly, in small portions, below 5 °C."
    );
    Some(Finding::new(&CHECK, addition.at, message).severity(Severity::Warning))
}

/// A Grignard reagent that is to form in what it reacts with. Not in alcohol or water, where magnesium and a
/// halide are also put together for other reactions.
fn grignard_made_in(plan: &Plan, entry: &Entry<'_>) -> Option<Finding> {
    use ReagentClass as C;
    if !entry.made_here {
        return None;
    }
    let after = entry.at(plan)?.after.get(entry.vessel)?;
    let halide = &entry.addition.content;
    let solvent = after.contents.iter().find(|content| {
        let class = content
            .substance(&plan.materials)
            .and_then(Substance::class);
        let eaten = matches!(class, Some(C::Ketone | C::Ester | C::Nitrile));
        eaten
            && sensitive::is_solvent(plan, content)
            && alive::times(content, halide).is_some_and(|times| times >= SOLVENT)
            && alive::volume_share(plan, after, content).is_some_and(|share| share >= 0.2)
    })?;
    let clash = Clash {
        severity: Severity::Warning,
        effect: "is to make a Grignard reagent, which reacts with",
        instead: "an ether",
    };
    Some(finding(plan, entry.addition, halide, solvent, &clash))
}

struct Clash {
    severity: Severity,
    /// What it does, after `REAGENT … SOLVENT`.
    effect: &'static str,
    instead: &'static str,
}

/// Whether a reagent of this class is one of a pair below.
fn may_clash(class: ReagentClass) -> bool {
    use ReagentClass as C;
    let others = matches!(class, C::Borane | C::Peroxide);
    others || alive::is_fierce(class) || is_chloride(class)
}

/// The first pair that meets in a step, and how bad that is.
fn meeting<'a>(
    plan: &'a Plan,
    moment: &'a Moment,
) -> Option<(&'a Addition, &'a Content, &'a Content, Clash)> {
    let verb = sensitive::clause(plan, moment)?.verb;
    let mixes = matches!(
        verb,
        Verb::Add | Verb::Charge | Verb::Dissolve | Verb::Suspend | Verb::Transfer | Verb::Dilute
    );
    let state = moment.before.get(moment.vessel)?;
    if !mixes || state.unclear || state.quenched.is_some() {
        return None;
    }
    let used_up = |reagent: &Content| {
        if alive::fierce_class(plan, reagent).is_some() {
            return has_partner(plan, &state.contents);
        }
        let mut others = state
            .contents
            .iter()
            .filter(|held| !std::ptr::eq(*held, reagent));
        others.any(|content| alive::is_partner(plan, content))
    };
    moment.additions.iter().find_map(|addition| {
        let mut company = alive::company(moment, addition).enumerate();
        company.find_map(|(place, other)| {
            // What is in the vessel comes first.
            let here = place < state.contents.len();
            // The reagent comes to the solvent: from its bottle, so that it is what it was.
            if (addition.from.is_none() || here && comes_alone(plan, moment, addition))
                && let Some(clash) = clash_of(plan, moment, &addition.content, other)
            {
                return Some((addition, &addition.content, other, clash));
            }
            // The solvent comes to the reagent, before that had anything to react with.
            let clash = clash_of(plan, moment, other, &addition.content)
                .filter(|_| here && !used_up(other))?;
            Some((addition, other, &addition.content, clash))
        })
    })
}

fn clash_of(plan: &Plan, moment: &Moment, reagent: &Content, other: &Content) -> Option<Clash> {
    let class = alive::class(plan, reagent)?;
    let solvent = other.substance(&plan.materials)?;
    let after = moment.after.get(moment.vessel)?;
    if alive::is_named(plan, reagent, NITRIC_ACID) {
        return nitric_acid(plan, after, reagent, other, solvent);
    }
    let in_water = reagent.is_aqueous(&plan.materials) && class != ReagentClass::Peroxide;
    if !sensitive::is_solvent(plan, other) || in_water {
        return None;
    }
    let times = alive::times(other, reagent);
    let bulk = times.is_none_or(|times| times >= SOLVENT);
    // Without the volume of all that is there, so many equivalents are the solvent.
    let much = match alive::volume_share(plan, after, other) {
        Some(share) => share >= 0.2,
        None => times.is_some_and(|times| times >= SOLVENT),
    };
    let hydride_in_it = class == ReagentClass::MetalHydride
        && matches!(
            solvent.class(),
            Some(ReagentClass::AmideSolvent | ReagentClass::Sulfoxide)
        )
        && alive::volume_share(plan, after, other).is_some_and(|share| share >= 0.5);
    // The more peroxide, the worse.
    let peroxide_in_it = class == ReagentClass::Peroxide
        && solvent.class() == Some(ReagentClass::Ketone)
        && alive::volume_share(plan, after, other).is_some_and(|share| share >= 0.2);
    // A halogenated solvent explodes with a metal whichever of them is more.
    let metal_in_it = class == ReagentClass::AlkaliMetal
        && solvent.class() == Some(ReagentClass::HalogenatedSolvent);
    let solvent_here = much && (bulk || metal_in_it) || brings_another(plan, moment, other);
    if !hydride_in_it && !peroxide_in_it && !solvent_here {
        return activated_sulfoxide(plan, after, reagent, other);
    }
    if class == ReagentClass::AcylChloride && solvent.class() == Some(ReagentClass::Alcohol) {
        return in_alcohol(plan, moment, after);
    }
    let millimoles = reagent.amount.map(|amount| amount.get::<millimole>());
    pair(
        class,
        reagent.substance(&plan.materials)?,
        solvent,
        celsius(after.temperature),
        millimoles,
    )
}

/// It is what something else is dissolved in that comes from the same vessel: five times as much of it (an assumption).
fn brings_another(plan: &Plan, moment: &Moment, solvent: &Content) -> bool {
    let mut additions = moment.additions.iter();
    let own = additions.find(|addition| std::ptr::eq(&addition.content, solvent));
    own.filter(|own| own.from.is_some()).is_some_and(|own| {
        moment.additions.iter().any(|other| {
            let content = &other.content;
            let dissolved = other.from == own.from && alive::is_partner(plan, content);
            dissolved && alive::times(solvent, content).is_some_and(|times| times >= 5.0)
        })
    })
}

/// A chloride that comes from a vessel where nothing was with it but solvents.
fn comes_alone(plan: &Plan, moment: &Moment, addition: &Addition) -> bool {
    let with_it = |other: &&Addition| {
        other.from == addition.from && !std::ptr::eq::<Addition>(*other, addition)
    };
    let source = addition.from.and_then(|from| moment.before.get(from));
    if source.is_none_or(|source| source.quenched.is_some() || source.unclear) {
        return false;
    }
    let mut company = moment.additions.iter().filter(with_it);
    alive::class(plan, &addition.content).is_some_and(is_chloride)
        && company.all(|other| !alive::is_partner(plan, &other.content))
}

/// Chlorides that activate dimethyl sulfoxide.
fn is_chloride(class: ReagentClass) -> bool {
    use ReagentClass as C;
    matches!(
        class,
        C::AcylChloride | C::SulfonylChloride | C::ThionylHalide | C::PhosphorusHalide
    )
}

/// A chloride and dimethyl sulfoxide, diluted, as in a Swern oxidation: above -50 °C it froths over and what forms is gone.
fn activated_sulfoxide(
    plan: &Plan,
    after: &VesselState,
    reagent: &Content,
    sulfoxide: &Content,
) -> Option<Clash> {
    let pair = alive::class(plan, reagent).is_some_and(is_chloride)
        && alive::class(plan, sulfoxide) == Some(ReagentClass::Sulfoxide);
    let much = reagent.amount.is_some() && !alive::is_small(reagent.amount);
    let equivalents = alive::times(sulfoxide, reagent)?;
    let warm = celsius(after.known_temperature()?) > -50.0;
    (pair && much && equivalents >= 0.5 && warm).then_some(Clash {
        severity: Severity::Warning,
        effect: "reacts at once, with heat and gas, above -50 °C with",
        instead: "dichloromethane as the solvent, below -60 °C, and add the second of them dropwise",
    })
}

/// An acyl chloride that makes an ester and hydrogen chloride of its solvent; by drops that is a way to make hydrogen
/// chloride.
fn in_alcohol(plan: &Plan, moment: &Moment, after: &VesselState) -> Option<Clash> {
    let clause = sensitive::clause(plan, moment)?;
    let warm = celsius(after.known_temperature()?) > 10.0;
    (warm && !alive::is_slow(clause)).then_some(Clash {
        severity: Severity::Warning,
        effect: "gives hydrogen chloride, with heat, with",
        instead: "dichloromethane, or where that is meant add it dropwise at 0 °C",
    })
}

/// Nitric acid of more than 4 mol/L, about 20 %, and a liquid that it oxidises, each a tenth of the liquid or more: not
/// the few per cent in ethanol that metals are etched with.
fn nitric_acid(
    plan: &Plan,
    after: &VesselState,
    acid: &Content,
    other: &Content,
    solvent: Substance,
) -> Option<Clash> {
    use ReagentClass as C;
    let oxidised = matches!(
        solvent.class(),
        Some(C::Alcohol | C::Aldehyde | C::AmideSolvent | C::Ether | C::Ketone | C::Sulfoxide)
    );
    let strength = acid.amount?.get::<millimole>() / acid.volume?.get::<milliliter>();
    let much =
        |content| alive::volume_share(plan, after, content).is_some_and(|share| share >= 0.1);
    (oxidised && strength > 4.0 && much(acid) && much(other)).then_some(Clash {
        severity: Severity::Error,
        effect: "can explode, at once or after an hour, with",
        instead: "acetic acid or dichloromethane, and rinse glass with water before acid comes to it",
    })
}

/// What the pair does, if it is one of the table.
fn pair(
    class: ReagentClass,
    reagent: Substance,
    solvent: Substance,
    t: f64,
    millimoles: Option<f64>,
) -> Option<Clash> {
    use ReagentClass as C;
    let name = solvent.name();
    let kind = solvent.class()?;
    let base_stable_amide =
        kind == C::AmideSolvent && !name.contains("formamide") && !name.contains("acetamide");
    let clash = |severity, effect, instead| {
        Some(Clash {
            severity,
            effect,
            instead,
        })
    };
    let ethers = "an ether or toluene";
    match (class, kind) {
        (C::AlkaliMetal, C::HalogenatedSolvent) => clash(
            Severity::Error,
            "can explode with",
            "a hydrocarbon or an ether",
        ),
        (C::Organolithium, C::HalogenatedSolvent)
            if alive::is_halogenated_alkane(solvent) && t > -60.0 =>
        {
            clash(
                Severity::Error,
                "reacts violently with",
                "an ether or a hydrocarbon",
            )
        }
        (C::Organolithium, C::HalogenatedSolvent) if name.starts_with("chloroform") => {
            clash(Severity::Warning, "deprotonates", ethers)
        }
        (C::MetalHydride, C::HalogenatedSolvent) if name.starts_with("chloroform") => clash(
            Severity::Warning,
            "can react violently with",
            "tetrahydrofuran",
        ),
        (C::Borane, C::Ketone) => clash(Severity::Warning, "reduces", "tetrahydrofuran"),
        (C::MetalHydride, C::Sulfoxide | C::AmideSolvent) if !base_stable_amide => {
            let severity = if t > 50.0 {
                Severity::Error
            } else if t > 25.0 || millimoles.is_none_or(|n| n > 10.0) {
                Severity::Warning
            } else {
                Severity::Information
            };
            clash(
                severity,
                "has exploded in",
                "tetrahydrofuran, or a carbonate as the base",
            )
        }
        (
            C::AcylChloride | C::SulfonylChloride | C::ThionylHalide | C::PhosphorusHalide,
            C::Sulfoxide,
        ) => (t > -50.0)
            .then(|| clash(Severity::Error, "reacts violently with", "dichloromethane"))
            .flatten(),
        (C::Organolithium, C::Ketone | C::Ester | C::Nitrile | C::Sulfoxide) => {
            clash(Severity::Warning, "reacts with", ethers)
        }
        (C::Organolithium | C::Grignard, C::AmideSolvent) if !base_stable_amide => {
            clash(Severity::Warning, "reacts with", ethers)
        }
        (C::Grignard, C::Ketone | C::Ester | C::Nitrile | C::Sulfoxide) => {
            clash(Severity::Warning, "reacts with", ethers)
        }
        (C::Grignard | C::AmideBase, C::HalogenatedSolvent)
            if name.starts_with("chloroform") || name == "carbon tetrachloride" =>
        {
            clash(Severity::Warning, "reacts with", ethers)
        }
        (C::Peroxide, C::Ketone) if alive::makes_ketone_peroxides(reagent) => clash(
            Severity::Error,
            "can form explosive peroxides with",
            "dichloromethane, an alcohol or ethyl acetate",
        ),
        (C::AluminiumHydride, C::Ketone | C::Ester | C::Nitrile | C::Sulfoxide) => {
            clash(Severity::Warning, "reduces", ethers)
        }
        (C::AluminiumHydride, C::AmideSolvent) if !base_stable_amide => {
            clash(Severity::Warning, "reduces", ethers)
        }
        (C::AluminiumHydride, C::HalogenatedSolvent)
            if alive::is_halogenated_alkane(solvent)
                && reagent.name() == "lithium aluminium hydride" =>
        {
            clash(Severity::Warning, "can react violently with", "an ether")
        }
        (C::AmideBase, C::Ketone | C::Ester) => clash(Severity::Warning, "deprotonates", ethers),
        (C::MetalHydride, C::Ketone | C::Ester) => {
            clash(Severity::Warning, "deprotonates", "tetrahydrofuran")
        }
        _ => None,
    }
}

fn finding(
    plan: &Plan,
    addition: &Addition,
    reagent: &Content,
    solvent: &Content,
    clash: &Clash,
) -> Finding {
    let Clash {
        severity,
        effect,
        instead,
    } = clash;
    let materials = &plan.materials;
    let (who, what) = (reagent.name(materials), solvent.name(materials));
    let chemical = |content: &Content, key: &str| match content.substance(materials) {
        Some(substance) if substance.name() != key => format!("{key} ({})", substance.name()),
        _ => key.to_owned(),
    };
    let message = format!(
        "{} {effect} {}: use {instead}.",
        chemical(reagent, who),
        chemical(solvent, what)
    );
    let mut finding = Finding::new(&CHECK, addition.at, message).severity(*severity);
    let material = sensitive::material(plan, solvent);
    if let Some(material) = material {
        finding = finding.related(
            sensitive::line_at(plan, material.line),
            format!("{what} is listed here"),
        );
    }
    // Where dimethyl sulfoxide meets such a chloride it may be what is to react, in the cold.
    let may_be_meant = matches!(
        alive::class(plan, solvent),
        Some(ReagentClass::Sulfoxide | ReagentClass::Alcohol)
    ) && !alive::class(plan, reagent).is_some_and(alive::is_fierce)
        || alive::is_named(plan, reagent, NITRIC_ACID);
    // Ethers make peroxides of their own.
    let better = match alive::class(plan, reagent) {
        Some(ReagentClass::Peroxide) => "ethyl acetate",
        _ => "tetrahydrofuran",
    };
    if let Some(material) = material
        && !may_be_meant
        && material.identity.mixture.is_empty()
        && let Some(edit) = edit::rename(plan, material.line, better)
    {
        finding = finding.fix(format!("Make {what} {better}"), vec![edit]);
    }
    finding
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    #[test]
    fn finds_nitric_acid_in_what_it_oxidises() {
        let plan = |first: &str, acid: &str| {
            format!(
                "
plan Test
materials
  solvent: {first}
  acid: nitric acid, 65 wt% in water, {acid}
equipment
  flask: 250 mL flask
steps
  add solvent
  add acid
"
            )
        };
        let found = "      ^^^^ error: acid (nitric acid) can explode, at once or after an hour, with solvent (ethanol)\n";
        expect(&CHECK, &(plan("ethanol, 20 mL", "20 mL") + found));
        // The etchant of metals, and a nitration.
        expect(&CHECK, &plan("ethanol, 95 mL", "3 mL"));
        expect(&CHECK, &plan("acetic acid, 20 mL", "20 mL"));
        expect(&CHECK, &plan("dichloromethane, 20 mL", "20 mL"));
    }

    #[test]
    fn finds_a_hydride_that_is_concentrated() {
        // 30 mmol in 20 mL (0.258 mol) of the amide: 8.6 eq.
        expect(
            &CHECK,
            "
plan Test
materials
  nah: sodium hydride, 60 wt% in mineral oil, 30 mmol
  dmf: N,N-dimethylformamide, 20 mL
equipment
  flask: 100 mL flask
steps
  add nah, dmf
      ^^^ warning: nah (sodium hydride) has exploded in dmf (N,N-dimethylformamide)
",
        );
    }

    #[test]
    fn finds_a_metal_in_little_dichloromethane() {
        // 80 mL are 1.25 mol: 6 eq.
        let plan = "
plan Test
materials
  anisole: 3-methylanisole, 50.0 mmol
  lithium: lithium, wire, 200 mmol
  dcm: dichloromethane, dry, 80 mL
equipment
  flask: 500 mL flask
steps
  add dcm, anisole
  add lithium
      ^^^^^^^ error: lithium can explode with dcm (dichloromethane)
";
        expect(&CHECK, plan);
    }

    #[test]
    fn finds_the_solvent_that_comes_with_the_electrophile() {
        // Of an alkyl iodide two equivalents of tert-butyllithium make another organolithium.
        let plan = "
plan Test
materials
  iodide: 1-iodohexane, 2.00 mmol
  tbuli: tert-butyllithium, 1.7 M in pentane, 4.20 mmol
  ketone: benzophenone, 2.20 mmol
  ether: diethyl ether, 9 mL
  acetone: acetone, 3 mL
equipment
  flask: 50 mL flask
  vial: 8 mL vial
steps
  in flask
  add iodide, ether
  cool to -78 °C
  add tbuli dropwise over 10 min
  in vial
  dissolve ketone in acetone
  in flask
  transfer vial to flask dropwise over 5 min
           ^^^^ warning: tbuli (tert-butyllithium) reacts with acetone
";
        expect(&CHECK, plan);
    }

    #[test]
    fn finds_a_warm_swern() {
        let plan = |steps: &str| {
            format!(
                "
plan Test
materials
  oxalyl: oxalyl chloride, 12.0 mmol
  dmso: dimethyl sulfoxide, 24.0 mmol
  dcm: dichloromethane, 30 mL
equipment
  flask: 100 mL flask
steps
{steps}"
            )
        };
        let at_once = "reacts at once, with heat and gas";
        expect(
            &CHECK,
            &plan(&format!(
                "  add dcm, oxalyl\n  add dmso\n      ^^^^ warning: oxalyl (oxalyl chloride) {at_once}\n"
            )),
        );
        expect(
            &CHECK,
            &plan(&format!(
                "  add dcm, dmso\n  add oxalyl\n      ^^^^^^ warning: oxalyl (oxalyl chloride) {at_once}\n"
            )),
        );
        expect(
            &CHECK,
            &plan("  add dcm, oxalyl\n  cool to -78 °C\n  add dmso dropwise\n"),
        );
    }

    #[test]
    fn finds_an_acyl_chloride_in_methanol() {
        let plan = |steps: &str| {
            format!(
                "
plan Test
materials
  chloride: acetyl chloride, 20 mmol
  methanol: methanol, 20 mL
equipment
  flask: 100 mL flask
steps
{steps}"
            )
        };
        expect(
            &CHECK,
            &plan(
                "  add methanol\n  add chloride\n      ^^^^^^^^ warning: chloride (acetyl chloride) gives hydrogen chloride, with heat, with methanol\n",
            ),
        );
        expect(
            &CHECK,
            &plan("  add methanol\n  cool to 0 °C\n  add chloride dropwise over 10 min\n"),
        );
    }

    #[test]
    fn finds_what_chloroform_and_acetone_do() {
        let plan = |steps: &str| {
            format!(
                "
plan Test
materials
  base: n-butyllithium, 2.5 M in hexanes, 10 mmol
  nah: sodium hydride, 60 wt% in mineral oil, 10 mmol
  borane: borane tetrahydrofuran complex, 1.0 M in THF, 10 mmol
  koh: potassium hydroxide, 30 mmol
  chloroform: chloroform, 40 mL
  acetone: acetone, 40 mL
equipment
  flask: 250 mL flask
steps
{steps}"
            )
        };
        for steps in [
            "  add chloroform\n  cool to -78 °C\n  add base\n      ^^^^ warning: base (n-butyllithium) deprotonates chloroform\n",
            "  add chloroform\n  add nah\n      ^^^ warning: nah (sodium hydride) can react violently with chloroform\n",
            "  add acetone\n  add borane\n      ^^^^^^ warning: borane (borane tetrahydrofuran complex) reduces acetone\n",
            "  add acetone, chloroform\n  add koh\n      ^^^ warning: acetone and chloroform react with each other where koh is\n",
            "  add koh, acetone\n  add chloroform\n      ^^^^^^^^^^ warning: acetone and chloroform react with each other where koh is\n",
            "  wash nah with acetone\n                ^^^^^^^ error: nah reacts with acetone\n",
            "  wash nah with ethanol\n                ^^^^^^^ error: nah reacts with ethanol\n",
            "  wash nah with pentane, 3 x 5 mL\n",
            "  add acetone, chloroform\n  cool to 0 °C\n  add koh\n",
            "  add acetone\n  add koh\n",
            "  wash flask with acetone\n",
        ] {
            expect(&CHECK, &plan(steps));
        }
    }

    #[test]
    fn offers_no_ether_for_a_peroxide() {
        // 30 mmol in 20 mL (0.27 mol) of acetone: 9 eq.
        let plan = |solvent: &str, mark: &str| {
            format!(
                "
plan Test
materials
  oxidant: hydrogen peroxide, 30 wt% in water, 30 mmol
  solvent: {solvent}, 20 mL
equipment
  flask: 100 mL flask
steps
  add solvent
  add oxidant
{mark}"
            )
        };
        let found =
            "      ^^^^^^^ error: oxidant (hydrogen peroxide) can form explosive peroxides with\n";
        expect(&CHECK, &plan("acetone", found));
        let fixed = plan("ethyl acetate", "");
        expect_fixed(&CHECK, &plan("acetone", ""), 0, &fixed);
    }

    #[test]
    fn finds_peroxides_in_acetone() {
        let plan = |oxidant: &str, solvent: &str| {
            format!(
                "
plan Test
materials
  sulfide: thioanisole, 5.0 mmol
  oxidant: {oxidant}
  solvent: {solvent}, 30 mL
equipment
  flask: 100 mL flask
steps
  add sulfide, solvent
  add oxidant
"
            )
        };
        let found = "      ^^^^^^^ error: oxidant (hydrogen peroxide) can form explosive peroxides with solvent (acetone)\n";
        let peroxide = "hydrogen peroxide, 30 wt% in water, 6.0 mmol";
        expect(&CHECK, &(plan(peroxide, "acetone") + found));
        expect(&CHECK, &plan(peroxide, "methanol"));
        // More of it than a tenth of the acetone.
        let much = "hydrogen peroxide, 30 wt% in water, 100 mmol";
        expect(&CHECK, &(plan(much, "acetone") + found));
        let peracid = "peracetic acid, 32 wt% in acetic acid, 6.0 mmol";
        let found = "      ^^^^^^^ error: oxidant (peroxyacetic acid) can form explosive peroxides with solvent (acetone)\n";
        expect(&CHECK, &(plan(peracid, "acetone") + found));
        // It makes its dioxirane from acetone.
        let oxone = "potassium peroxymonosulfate, 6.0 mmol";
        expect(&CHECK, &plan(oxone, "acetone"));
    }

    #[test]
    fn finds_a_grignard_reagent_made_in_what_it_eats() {
        let plan = |solvent: &str, more: &str| {
            format!(
                "
plan Test
materials
  bromide: bromobenzene, 20.0 mmol
  metal: magnesium, 24 mmol
  ketone: acetone, 1.5 g
  solvent: {solvent}
equipment
  flask: 100 mL flask
steps
  add metal, solvent{more}
  add bromide
"
            )
        };
        let found = "      ^^^^^^^ warning: bromide (bromobenzene) is to make a Grignard reagent, which reacts with solvent (acetone): use an ether.\n";
        expect(&CHECK, &(plan("acetone, dry, 40 mL", "") + found));
        // One that is used up as it forms; magnesium in alcohol.
        expect(&CHECK, &plan("tetrahydrofuran, dry, 40 mL", ", ketone"));
        expect(&CHECK, &plan("methanol, dry, 40 mL", ""));
    }

    fn plan(solvent: &str, steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq
  grignard: phenylmagnesium bromide, 3.0 M in diethyl ether, 1.15 eq
  lah: lithium aluminium hydride, 1.5 eq
  nah: sodium hydride, 60 wt% in mineral oil, 1.5 eq
  na: sodium, 1.2 eq
  chloride: oxalyl chloride, 1.2 eq
  solvent: {solvent}
equipment
  flask: 100 mL two-neck flask
  vial: 40 mL vial
steps
{steps}"
        )
    }

    #[test]
    fn finds_pairs_that_explode() {
        expect(
            &CHECK,
            &plan(
                "dichloromethane, 20 mL",
                "
  add na, solvent
      ^^ error: na (sodium) can explode with solvent (dichloromethane): use a hydrocarbon
",
            ),
        );
        let before = "
  add ketone, solvent
  add base
      ^^^^ error: base (n-butyllithium) reacts violently with solvent (dichloromethane): use an ether
";
        expect(&CHECK, &plan("dichloromethane, 20 mL", before));
        expect_fixed(
            &CHECK,
            &plan("dichloromethane, 20 mL", before),
            0,
            &plan(
                "tetrahydrofuran, 20 mL",
                "  add ketone, solvent\n  add base\n",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "dimethyl sulfoxide, 20 mL",
                "
  add ketone, solvent
  add chloride
      ^^^^^^^^ error: chloride (oxalyl chloride) reacts violently with solvent
",
            ),
        );
    }

    #[test]
    fn grades_sodium_hydride_in_amides_and_sulfoxide() {
        for (steps, word) in [
            ("add solvent, ketone", "information"),
            ("add solvent, ketone\n  heat to 40 °C", "warning"),
            ("add solvent, ketone\n  heat to 60 °C", "error"),
        ] {
            let steps = format!(
                "  {steps}\n  add nah\n      ^^^ {word}: nah (sodium hydride) has exploded in solvent\n"
            );
            expect(&CHECK, &plan("N,N-dimethylformamide, 20 mL", &steps));
        }
        let text = plan(
            "dimethyl sulfoxide, 40 mL",
            "  add solvent, ketone\n  add nah\n      ^^^ warning: nah\n",
        );
        expect(&CHECK, &text.replace("scale 5.00 mmol", "scale 10.0 mmol"));
    }

    #[test]
    fn warns_of_solvents_that_use_the_reagent_up() {
        for (reagent, solvent, carets) in [
            ("base", "acetonitrile", "^^^^"),
            ("grignard", "ethyl acetate", "^^^^^^^^"),
            ("grignard", "N,N-dimethylformamide", "^^^^^^^^"),
            ("lah", "acetonitrile", "^^^"),
            ("lah", "N,N-dimethylformamide", "^^^"),
            ("lah", "dimethyl sulfoxide", "^^^"),
            ("lah", "acetone", "^^^"),
            ("nah", "acetone", "^^^"),
        ] {
            let steps = format!(
                "  add ketone, solvent\n  add {reagent}\n      {carets} warning: {reagent} (\n"
            );
            expect(&CHECK, &plan(&format!("{solvent}, 20 mL"), &steps));
        }
    }

    #[test]
    fn finds_the_solvent_that_comes_to_the_reagent() {
        expect(
            &CHECK,
            &plan(
                "chloroform, 20 mL",
                "
  add lah
  add solvent
      ^^^^^^^ warning: lah (lithium aluminium hydride) can react violently with solvent (chloroform)
  add ketone
",
            ),
        );
    }

    #[test]
    fn is_silent_where_the_solvent_is_meant() {
        for (solvent, steps) in [
            ("tetrahydrofuran, 20 mL", "add solvent, ketone\n  add base"),
            // The reactant, not the solvent.
            (
                "N,N-dimethylformamide, 1.5 eq",
                "add ketone\n  add base\n  add solvent",
            ),
            ("acetone, 1.2 eq", "add solvent\n  add grignard"),
            // A quench.
            (
                "ethyl acetate, 20 mL",
                "add ketone\n  add lah\n  add solvent dropwise",
            ),
            (
                "ethyl acetate, 20 mL",
                "add ketone\n  add lah\n  quench with solvent",
            ),
            // Cold enough.
            (
                "dichloromethane, 20 mL",
                "add solvent\n  cool to -78 °C\n  add base",
            ),
            (
                "dimethyl sulfoxide, 2.4 eq",
                "add dichloromethane 20 mL\n  add solvent\n  cool to -78 °C\n  add chloride",
            ),
            (
                "dichloromethane, 20 mL",
                "add ketone, solvent\n  add grignard",
            ),
            (
                "dichloromethane, 20 mL",
                "add ketone, base\n  quench with water 10 mL\n  add solvent",
            ),
            ("hexamethylphosphoramide, 20 mL", "add solvent\n  add nah"),
            (
                "dichloromethane, 20 mL",
                "cool to -78 °C\n  add solvent, base\n  add ketone\n  warm to rt\n  transfer flask to vial",
            ),
        ] {
            expect(&CHECK, &plan(solvent, &format!("  {steps}\n")));
        }
    }
}
