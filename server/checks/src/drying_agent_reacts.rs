//! A drying agent that reacts with what it is to dry.

use crate::Survey;
use crate::acted_on::substance_of;
use crate::edit;
use crate::{Check, Finding, Severity};
use chemistry::{ReagentClass, Substance};
use plan::{At, Plan, takes};
use syntax::{Condition, ModifierKind, Thing, Verb};

pub(crate) const CHECK: Check = Check {
    name: "drying-agent-reacts",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Drying agent that reacts

**Finds** a liquid that a step dries or distils over an agent that it reacts with, or whose line
says that it stands over it. An error: sodium, potassium or lithium aluminium hydride with a
halogenated liquid. A warning: sodium, potassium and lithium aluminium hydride with a sulfoxide, an
ester, a ketone, an aldehyde or a nitrile; calcium hydride with a ketone, an aldehyde or an acid;
phosphorus pentoxide with an alcohol, an amine, a ketone or a sulfoxide; calcium chloride with an
alcohol or an amine; sodium or potassium hydroxide with an ester, a ketone, an aldehyde, an acid or a
halogenated liquid.

Silent for whatever else: magnesium and sodium sulfate in a work-up, sieves, ethers over sodium,
dichloromethane over calcium hydride, amines over hydroxide, alcohols over sodium (which make their
alkoxide on purpose).

**Why it matters.** Mixtures of alkali metals and halogenated solvents explode on a knock, also
after standing quietly. The others spoil the solvent, some with heat.

**Example**

    materials
      dcm: dichloromethane, 100 mL
    steps
      dry dcm over sodium

**Write instead**

    steps
      dry dcm over 3 Å sieves

The safety data sheets, the rules of your laboratory and a trained supervisor decide.

**Sources.** Alkali metals and halogenated hydrocarbons: letter by J. C. Angus, *Chem. Eng. News*
1998, 76 (36), 7. The rest is common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for material in &plan.materials {
        for (condition, at) in &material.conditions {
            if let Condition::Over(text) = condition
                && let Some(agent) = agent(&text.text)
                && let Some(liquid) = material.identity.substance
                && let Some(clash) = clash(agent, liquid)
            {
                let written = At {
                    line: at.line,
                    span: text.span,
                };
                findings.push(finding(
                    plan,
                    *at,
                    written,
                    agent,
                    &material.key.text,
                    &clash,
                ));
            }
        }
    }
    for (line, step) in takes::steps(&plan.text) {
        for clause in &step.clauses {
            if !matches!(clause.verb, Verb::Dry | Verb::Distil | Verb::Reflux) {
                continue;
            }
            let Some(at_agent) = over(clause) else {
                continue;
            };
            let found = clause.objects.iter().find_map(|thing| {
                let agent = agent(&at_agent.name.text)?;
                let clash = clash(agent, substance_of(plan, thing)?)?;
                let at = At {
                    line,
                    span: at_agent.name.span,
                };
                Some(finding(plan, at, at, agent, &thing.name.text, &clash))
            });
            findings.extend(found);
        }
    }
}

fn over(clause: &syntax::Clause) -> Option<&Thing> {
    clause
        .modifiers
        .iter()
        .find_map(|modifier| match &modifier.kind {
            ModifierKind::OverAgent(things) | ModifierKind::From(things) => things.first(),
            _ => None,
        })
}

#[derive(Clone, Copy, PartialEq)]
enum Agent {
    AlkaliMetal,
    Hydride,
    CalciumHydride,
    PhosphorusPentoxide,
    CalciumChloride,
    Hydroxide,
}

/// The agent that the words name: `sodium wire`, `sodium/benzophenone`.
fn agent(text: &str) -> Option<Agent> {
    let lower = text.to_lowercase();
    let words: Vec<&str> = lower
        .split(|c: char| c == '/' || c.is_whitespace())
        .filter(|word| {
            !matches!(
                *word,
                "wire"
                    | "metal"
                    | "benzophenone"
                    | "pieces"
                    | "powder"
                    | "and"
                    | "pellets"
                    | "solid"
                    | ""
                    | "alloy"
                    | "na/k"
            )
        })
        .collect();
    let name = words.join(" ");
    if matches!(
        name.as_str(),
        "sodium" | "potassium" | "nak" | "sodium potassium"
    ) {
        return Some(Agent::AlkaliMetal);
    }
    match chemistry::find_name(&name).one()?.name() {
        "sodium" | "potassium" => Some(Agent::AlkaliMetal),
        "lithium aluminium hydride" => Some(Agent::Hydride),
        "calcium hydride" => Some(Agent::CalciumHydride),
        "phosphorus pentoxide" => Some(Agent::PhosphorusPentoxide),
        "calcium chloride" => Some(Agent::CalciumChloride),
        "sodium hydroxide" | "potassium hydroxide" => Some(Agent::Hydroxide),
        _ => None,
    }
}

struct Clash {
    severity: Severity,
    /// What it does, after `AGENT` and before `LIQUID`.
    effect: &'static str,
    /// Another agent, if one fits all of the kind.
    instead: Option<&'static str>,
}

fn clash(agent: Agent, liquid: Substance) -> Option<Clash> {
    use ReagentClass as C;
    let kind = liquid.class()?;
    let halogenated = matches!(kind, C::HalogenatedSolvent | C::AlkylHalide | C::ArylHalide);
    let carbonyl = matches!(kind, C::Ketone | C::Aldehyde);
    let sieves = Some("3 Å sieves");
    let warning = |effect, instead| {
        Some(Clash {
            severity: Severity::Warning,
            effect,
            instead,
        })
    };
    match agent {
        Agent::AlkaliMetal | Agent::Hydride if halogenated => Some(Clash {
            severity: Severity::Error,
            effect: "can explode with",
            instead: sieves,
        }),
        Agent::AlkaliMetal | Agent::Hydride => match kind {
            C::Sulfoxide | C::Ester | C::Nitrile => warning("reacts with", sieves),
            _ if carbonyl => warning("reacts with", None),
            _ => None,
        },
        Agent::CalciumHydride if carbonyl || kind == C::Acid => warning("reacts with", None),
        Agent::PhosphorusPentoxide => match kind {
            C::Alcohol | C::Amine | C::Sulfoxide => warning("reacts with", sieves),
            C::Ketone => warning("makes tar of", None),
            _ => None,
        },
        Agent::CalciumChloride if matches!(kind, C::Alcohol | C::Amine) => {
            warning("takes up", sieves)
        }
        Agent::Hydroxide => match kind {
            C::Ester => warning("hydrolyses", sieves),
            C::Acid => warning("reacts with", None),
            _ if carbonyl => warning("condenses", None),
            _ if halogenated => warning("can react violently with", sieves),
            _ => None,
        },
        _ => None,
    }
}

fn finding(plan: &Plan, at: At, written: At, agent: Agent, liquid: &str, clash: &Clash) -> Finding {
    let name = match agent {
        Agent::AlkaliMetal => "An alkali metal",
        Agent::Hydride => "Lithium aluminium hydride",
        Agent::CalciumHydride => "Calcium hydride",
        Agent::PhosphorusPentoxide => "Phosphorus pentoxide",
        Agent::CalciumChloride => "Calcium chloride",
        Agent::Hydroxide => "A hydroxide",
    };
    let advice = match clash.instead {
        Some(instead) => format!("dry it over {instead}"),
        None => "dry it over calcium sulfate or magnesium sulfate, or distil it".to_owned(),
    };
    let message = format!("{name} {} {liquid}: {advice}.", clash.effect);
    let finding = Finding::new(&CHECK, at, message).severity(clash.severity);
    match clash.instead {
        Some(instead) => finding.fix(
            format!("Dry it over {instead}"),
            vec![edit::replace(plan, written, instead)],
        ),
        None => finding,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(liquid: &str, steps: &str) -> String {
        format!("\nplan Test\nmaterials\n  liquid: {liquid}\nsteps\n{steps}")
    }

    #[test]
    fn finds_a_metal_in_a_halogenated_solvent() {
        let before = "  dry liquid over sodium wire\n                  ^^^^^^^^^^^ error: An alkali metal can explode with liquid: dry it over 3 Å sieves.\n";
        expect(&CHECK, &plan("dichloromethane, 40 mL", before));
        expect_fixed(
            &CHECK,
            &plan("dichloromethane, 40 mL", before),
            0,
            &plan("dichloromethane, 40 mL", "  dry liquid over 3 Å sieves\n"),
        );
        expect(
            &CHECK,
            "\nplan Test\nmaterials\n  liquid: chloroform, over sodium, 40 mL\n                      ^^^^^^^^^^^ error: An alkali metal can explode with liquid\n",
        );
    }

    #[test]
    fn warns_of_the_others() {
        for (liquid, agent, carets, effect) in [
            (
                "acetone",
                "calcium hydride",
                "^^^^^^^^^^^^^^^",
                "Calcium hydride reacts with",
            ),
            (
                "ethanol",
                "calcium chloride",
                "^^^^^^^^^^^^^^^^",
                "Calcium chloride takes up",
            ),
            (
                "triethylamine",
                "phosphorus pentoxide",
                "^^^^^^^^^^^^^^^^^^^^",
                "Phosphorus pentoxide reacts with",
            ),
            (
                "ethyl acetate",
                "potassium hydroxide",
                "^^^^^^^^^^^^^^^^^^^",
                "A hydroxide hydrolyses",
            ),
            (
                "chloroform",
                "potassium hydroxide",
                "^^^^^^^^^^^^^^^^^^^",
                "A hydroxide can react violently with",
            ),
        ] {
            let steps = format!(
                "  dry liquid over {agent}\n                  {carets} warning: {effect} liquid\n"
            );
            expect(&CHECK, &plan(&format!("{liquid}, 40 mL"), &steps));
        }
    }

    #[test]
    fn is_silent_for_what_is_usual() {
        for (liquid, steps) in [
            ("tetrahydrofuran", "dry liquid over sodium/benzophenone"),
            ("dichloromethane", "distil liquid from calcium hydride"),
            ("dichloromethane", "dry liquid over sodium sulfate"),
            ("triethylamine", "dry liquid over potassium hydroxide"),
            ("methanol", "dry liquid over sodium"),
            ("acetone", "dry liquid over calcium sulfate"),
            ("dichloromethane, over 3 Å sieves", "add liquid"),
        ] {
            expect(
                &CHECK,
                &plan(&format!("{liquid}, 40 mL"), &format!("  {steps}\n")),
            );
        }
    }
}
