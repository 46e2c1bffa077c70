//! Two things that must not meet go into one waste.

use crate::Survey;
use crate::alive;
use crate::sensitive;
use crate::{Check, Finding};
use chemistry::{ReagentClass, Substance, Tag};
use plan::vessel::{Content, Moment};
use plan::{At, Plan};
use syntax::{Clause, ModifierKind, Referent, Verb};

pub(crate) const CHECK: Check = Check {
    name: "waste-meets",
    severity: crate::Severity::Warning,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Waste that must not meet

**Finds** two vessels that are discarded into the waste of the same name, where one holds

- nitric acid and the other an organic solvent;
- an inorganic azide and the other an acid or a chlorinated or brominated alkane;
- a cyanide and the other an acid;
- a hypochlorite and the other an acid, ammonia or an amine;
- hydrogen peroxide or a peracid and the other acetone.

Silent for wastes of different names; where the vessel also holds what destroys it (nitrite with an azide,
hypochlorite with a cyanide, a sulfite or thiosulfate with a peroxide or hypochlorite); for what
is in one vessel anyway.

**Why it matters.** In the waste bottle there is time: gas builds up overnight under a closed cap, and
bottles burst with nobody near, or with somebody.

**Example**

    equipment
      bath: 250 mL beaker
    steps
      in bath
      add nitric acid 20 mL
      in flask
      add ethanol 20 mL
      discard bath in waste
      discard flask in waste

**Write instead**

    steps
      in bath
      add nitric acid 20 mL
      in flask
      add ethanol 20 mL
      discard bath in nitric acid waste
      discard flask in organic waste

with caps that vent. The rules of your laboratory and of whoever takes the waste decide.

**Sources.** Azides kept from acids and halogenated solvents: Stanford University, *Information on Azide
Compounds*; National Research Council, *Prudent Practices in the Laboratory*, 1995, page 102. Gas that
acids free from azides, cyanides and hypochlorites: the equations of the library. Bottles of nitric acid
waste that burst on organic solvent: University of California, Berkeley, Environment, Health and Safety,
*Nitric Acid Waste Over-pressurization Event*, 3 July 2018; American Industrial Hygiene Association,
*Glass Waste Bottle Ruptures*. The rest is common practice.
";

/// What was discarded, and where it is said.
struct Discarded<'a> {
    place: String,
    vessel: usize,
    contents: &'a [Content],
    at: At,
}

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut earlier: Vec<Discarded<'_>> = Vec::new();
    for moment in &plan.moments {
        let Some(clause) =
            sensitive::clause(plan, moment).filter(|clause| clause.verb == Verb::Discard)
        else {
            continue;
        };
        let Some(now) = discarded(plan, moment, clause) else {
            continue;
        };
        let met = earlier
            .iter()
            .filter(|other| other.place == now.place && other.vessel != now.vessel)
            .find_map(|other| Some((other, pair(plan, other.contents, now.contents)?)));
        if let Some((other, (first, second, effect))) = met {
            let message = format!(
                "{second} meets {first} in {}, which {effect}: keep them in two wastes, with caps that vent.",
                now.place
            );
            findings.push(
                Finding::new(&CHECK, now.at, message)
                    .related(other.at, format!("{first} went in here")),
            );
        }
        earlier.push(now);
    }
}

/// A vessel that is discarded into a waste with a name.
fn discarded<'a>(plan: &'a Plan, moment: &'a Moment, clause: &Clause) -> Option<Discarded<'a>> {
    let place = clause
        .modifiers
        .iter()
        .find_map(|modifier| match &modifier.kind {
            ModifierKind::Place(thing) => Some(thing.name.text.to_lowercase()),
            ModifierKind::To(things) => things.first().map(|thing| thing.name.text.to_lowercase()),
            _ => None,
        })
        .filter(|place| place.contains("waste"))?;
    let [thing] = clause.objects.as_slice() else {
        return None;
    };
    let Referent::Key(id) = thing.referent else {
        return None;
    };
    let vessel = plan.apparatus.iter().position(|item| item.id == Some(id))?;
    Some(Discarded {
        place,
        vessel,
        contents: &moment.before.get(vessel)?.contents,
        at: At {
            line: moment.line,
            span: thing.name.span,
        },
    })
}

/// The two that meet, the one of the first vessel first, and what they do.
fn pair<'a>(
    plan: &'a Plan,
    first: &'a [Content],
    second: &'a [Content],
) -> Option<(&'a str, &'a str, &'static str)> {
    let one_way = |left: &'a [Content], right: &'a [Content]| {
        left.iter().find_map(|source| {
            let (kind, effect) = source_of(plan, left, source)?;
            let partner = right.iter().find(|other| clashes(plan, kind, other))?;
            Some((
                source.name(&plan.materials),
                partner.name(&plan.materials),
                effect,
            ))
        })
    };
    one_way(first, second).or_else(|| {
        let (source, partner, effect) = one_way(second, first)?;
        Some((partner, source, effect))
    })
}

#[derive(Clone, Copy)]
enum Kind {
    NitricAcid,
    Azide,
    Cyanide,
    Hypochlorite,
    Peroxide,
}

/// What a content is dangerous by, unless what destroys it is there.
fn source_of(plan: &Plan, company: &[Content], content: &Content) -> Option<(Kind, &'static str)> {
    let has = |names: &[&str]| {
        company
            .iter()
            .filter_map(|content| content.substance(&plan.materials))
            .any(|substance| names.contains(&substance.name()))
    };
    let reduced = has(&[
        "sodium thiosulfate",
        "sodium thiosulfate pentahydrate",
        "sodium sulfite",
        "sodium hydrogen sulfite",
    ]);
    let substance = content.substance(&plan.materials)?;
    match (substance.class(), substance.name()) {
        (_, "nitric acid") => Some((Kind::NitricAcid, "makes gas until the bottle bursts")),
        (_, azide) if alive::METAL_AZIDES.contains(&azide) && !has(&["sodium nitrite"]) => {
            Some((Kind::Azide, "makes explosive azides or hydrazoic acid"))
        }
        (Some(ReagentClass::Cyanide), _) if !has(&["sodium hypochlorite"]) => {
            Some((Kind::Cyanide, "frees hydrogen cyanide"))
        }
        (_, "sodium hypochlorite") if !reduced => {
            Some((Kind::Hypochlorite, "frees chlorine or chloramines"))
        }
        _ if alive::makes_ketone_peroxides(substance) && !reduced => {
            Some((Kind::Peroxide, "makes explosive peroxides"))
        }
        _ => None,
    }
}

fn clashes(plan: &Plan, kind: Kind, other: &Content) -> bool {
    use ReagentClass as C;
    let Some(substance) = other.substance(&plan.materials) else {
        return false;
    };
    let class = substance.class();
    let acid = class == Some(C::Acid);
    let organic_solvent =
        substance.has(Tag::Solvent) && class != Some(C::Water) && carbon(substance);
    match kind {
        Kind::NitricAcid => organic_solvent && !acid,
        Kind::Azide => acid || alive::is_halogenated_alkane(substance),
        Kind::Cyanide => acid,
        Kind::Hypochlorite => {
            acid || class == Some(C::Amine) || matches!(substance.name(), "ammonia")
        }
        Kind::Peroxide => substance.name() == "acetone",
    }
}

fn carbon(substance: Substance) -> bool {
    let formula = substance
        .formula()
        .and_then(|formula| chemistry::Formula::parse(formula).ok());
    formula
        .zip(chemistry::Element::from_symbol("C"))
        .is_some_and(|(formula, carbon)| *formula.count(carbon).numer() > 0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::expect;

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
materials
  azide: sodium azide, 10 mmol
  bleach: sodium hypochlorite, 10 wt% in water, 20 mL
  cyanide: potassium cyanide, 10 mmol
equipment
  flask: 100 mL flask
  bath: 100 mL beaker
steps
{steps}"
        )
    }

    #[test]
    fn finds_nitric_acid_and_a_solvent() {
        expect(
            &CHECK,
            &plan(
                "
  in bath
  add conc. HNO3 20 mL
  in flask
  add ethanol 20 mL
  discard bath in waste
  discard flask in waste
          ^^^^^ warning: ethanol meets HNO3 in waste, which makes gas until the bottle bursts
",
            ),
        );
    }

    #[test]
    fn finds_the_pairs_in_either_order() {
        for (first, second, words) in [
            (
                "azide, water 20 mL",
                "dichloromethane 20 mL",
                "dichloromethane meets azide in aqueous waste, which makes explosive azides",
            ),
            (
                "1 M HCl 20 mL",
                "cyanide, water 20 mL",
                "cyanide meets HCl in aqueous waste, which frees hydrogen cyanide",
            ),
            (
                "bleach",
                "1 M HCl 20 mL",
                "HCl meets bleach in aqueous waste, which frees chlorine",
            ),
            (
                "acetone 20 mL",
                "30 wt% hydrogen peroxide 20 mL",
                "hydrogen peroxide meets acetone in aqueous waste, which makes explosive peroxides",
            ),
        ] {
            expect(
                &CHECK,
                &plan(&format!(
                    "  in bath
  add {first}
  in flask
  add {second}
  discard bath in aqueous waste
  discard flask in aqueous waste
          ^^^^^ warning: {words}
"
                )),
            );
        }
    }

    #[test]
    fn is_silent_where_they_do_not_meet_or_are_destroyed() {
        for (first, second, wastes) in [
            (
                "azide, water 20 mL",
                "dichloromethane 20 mL",
                ("azide waste", "halogenated waste"),
            ),
            (
                "cyanide, water 20 mL, bleach",
                "1 M NaOH 20 mL",
                ("waste", "waste"),
            ),
            ("azide, water 20 mL", "toluene 20 mL", ("waste", "waste")),
            ("1 M HCl 20 mL", "ethanol 20 mL", ("waste", "waste")),
            (
                "bleach, sodium thiosulfate 20 g",
                "1 M HCl 20 mL",
                ("waste", "waste"),
            ),
        ] {
            expect(
                &CHECK,
                &plan(&format!(
                    "  in bath\n  add {first}\n  in flask\n  add {second}\n  discard bath in {}\n  discard flask in {}\n",
                    wastes.0, wastes.1
                )),
            );
        }
    }
}
