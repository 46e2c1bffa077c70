//! A step takes something above the temperature that it bears.

use crate::Survey;
use crate::alive;
use crate::closed_and_heated::hottest;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::{LimitWhen, ReagentClass, Substance, ThermalLimit};
use plan::vessel::{Content, Moment, VesselState, celsius};
use plan::{At, Plan, convert};
use syntax::{Clause, ModifierKind, TemperatureKind, TemperatureValue, Verb};
use uom::si::amount_of_substance::millimole;
use uom::si::f64::ThermodynamicTemperature;

pub(crate) const CHECK: Check = Check {
    name: "hot-limit",
    severity: Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Too hot

**Finds** a step that takes what is in a vessel, or a solid that it dries, above the temperature
that it bears:

- a metal hydride in dimethylformamide, dimethylacetamide or dimethyl sulfoxide above 40 or 50 °C,
  where at least 1 mmol is sure to be left after everything else has taken its share. A warning; an
  error from 10 mmol above 50 °C. Where the two are mixed hot, `reagent-eats-solvent` says so;
- DAST above 50 °C and DIAD above 80 °C, where they are more than half of the liquid: a warning, an
  information below 1 mmol;
- the others of the list, of which the limits are rules of thumb: what is left of an N-halosuccinimide
  in dimethylformamide above 50 °C, dimethyl sulfoxide above 150 °C, peroxides, peracids and
  borane-tetrahydrofuran heated with nothing there to react with, azo and peroxide initiators and
  hydroxybenzotriazole or iodine(V) reagents heated dry, nitromethane with a strong base. An
  information, one a plan.

Silent where a partner of a peroxide, peracid or borane is in the vessel, after the quench, and where
amounts are not known.

**Why it matters.** Above such a temperature the heat of the decomposition comes faster than a bath
takes it away. 9.7 % of sodium hydride in dimethyl sulfoxide went off at about 90 °C in a calorimeter.

**Example**

    materials
      alcohol: benzyl alcohol, 1.00 eq
      hydride: sodium hydride, 60 wt% in mineral oil, 1.50 eq
      dmf:     dimethylformamide, dry, 40 mL
    steps
      add alcohol, dmf
      add hydride in 5 portions over 20 min
      heat to 80 °C

**Write instead** a lower temperature for longer, another solvent, or a base that stands it

    materials
      hydride: caesium carbonate, 1.50 eq

No temperature below a limit is safe by that alone: it depends on scale, strength and what else is
there. The safety data sheet, the rules of your laboratory and a trained supervisor decide.

**Sources.** Sodium hydride: abstract of M. Sheng and Q. Yang, AIChE Spring Meeting 2020, 60bq;
abstract of Q. Yang et al., *Org. Process Res. Dev.* 2019, 23, 2210. DIAD: abstract of M. Jia et
al., *Thermochim. Acta* 2020, 178601. DAST: decomposes violently at 90 °C (encyclopaedia article).
The limits themselves, and the amounts from which it speaks, are assumptions that stay below the
events; those that are called rules of thumb are common practice.
";

/// Millimoles of a hydride, and degrees Celsius, from which it is an error (assumptions).
const MUCH: f64 = 10.0;
const FAR: f64 = 50.0;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let has_limit = |substance: &Substance| substance.thermal_limits().next().is_some();
    if !plan.substances().iter().any(has_limit) {
        return;
    }
    let mut said: Vec<(usize, Substance)> = Vec::new();
    let mut over = vec![false; plan.apparatus.len()];
    let mut informed = false;
    for moment in &plan.moments {
        let Some(clause) = sensitive::clause(plan, moment) else {
            continue;
        };
        let is_over = over.get(moment.vessel).copied().unwrap_or(true);
        let found = if clause.verb == Verb::Dry {
            dried(plan, moment, clause)
        } else if is_over {
            None
        } else {
            heated(plan, moment, clause)
        };
        if let Some(flag) = over.get_mut(moment.vessel) {
            *flag |= alive::ends(clause.verb);
        }
        let Some((substance, finding)) = found else {
            continue;
        };
        let information = finding.severity == Severity::Information;
        if said.contains(&(moment.vessel, substance)) || information && informed {
            continue;
        }
        informed |= information;
        said.push((moment.vessel, substance));
        findings.push(finding);
    }
}

/// `dry X at 90 °C`.
fn dried(plan: &Plan, moment: &Moment, clause: &Clause) -> Option<(Substance, Finding)> {
    let (quantity, t) = hottest(clause, &[TemperatureKind::At, TemperatureKind::Bath])?;
    clause.objects.iter().find_map(|thing| {
        let syntax::Referent::Key(id) = thing.referent else {
            return None;
        };
        let material = plan.material(id)?.0;
        let substance = material.identity.substance?;
        let limit = substance.thermal_limits().find(|limit| {
            limit.with.is_none() && limit.when != LimitWhen::WithBase && t > limit.temperature
        })?;
        let at = At {
            line: moment.line,
            span: quantity.span,
        };
        let message = format!(
            "Above {:.0} °C {} {}, and this step dries it at {:.0} °C: stay well below.",
            celsius(limit.temperature),
            thing.name.text,
            limit.effect,
            celsius(t)
        );
        let finding = Finding::new(&CHECK, at, message).severity(of_source(&limit));
        Some((substance, cooler(plan, moment, clause, &limit, finding)))
    })
}

/// A step at whose temperature something in the vessel does not last.
fn heated(plan: &Plan, moment: &Moment, clause: &Clause) -> Option<(Substance, Finding)> {
    let before = moment.before.get(moment.vessel)?;
    let after = moment.after.get(moment.vessel)?;
    if before.unclear {
        return None;
    }
    let (at, t) = temperature(plan, moment, clause)?;
    let contents: Vec<&Content> = before
        .contents
        .iter()
        .chain(moment.additions.iter().map(|addition| &addition.content))
        .collect();
    contents.iter().find_map(|content| {
        let substance = content.substance(&plan.materials)?;
        let amount = content.amount?.get::<millimole>();
        let name = content.name(&plan.materials);
        substance
            .thermal_limits()
            .filter(|limit| t > limit.temperature)
            .find_map(|limit| {
                let (where_it_is, left, severity) = match (limit.with, limit.when) {
                    (Some(with), _) => {
                        let solvent = contents.iter().find(|other| {
                            other.substance(&plan.materials) == Some(with)
                                && alive::volume_share(plan, after, other)
                                    .is_some_and(|share| share >= 0.2)
                        })?;
                        let hydride = substance.class() == Some(ReagentClass::MetalHydride);
                        let meets = !moment.additions.is_empty();
                        let left = left(plan, &contents, content, with)?;
                        if left < 1.0 || hydride && (meets || before.quenched.is_some()) {
                            return None;
                        }
                        let severe = hydride && left >= MUCH && celsius(t) > FAR;
                        let severity = if !hydride {
                            Severity::Information
                        } else if severe {
                            Severity::Error
                        } else {
                            Severity::Warning
                        };
                        let solvent = solvent.name(&plan.materials);
                        (format!(" in {solvent}"), left, severity)
                    }
                    (None, LimitWhen::Any) => {
                        let alone = !contents.iter().any(|other| {
                            other.substance(&plan.materials) != Some(substance)
                                && alive::is_partner(plan, other)
                        });
                        alone.then_some((String::new(), amount, Severity::Information))?
                    }
                    (None, LimitWhen::Neat) => is_neat(plan, after, &contents, content)
                        .then_some((String::new(), amount, of_source(&limit)))?,
                    (None, LimitWhen::Dry) => {
                        let wet = contents.iter().any(|c| c.is_liquid(&plan.materials));
                        (!wet).then_some((String::new(), amount, of_source(&limit)))?
                    }
                    (None, LimitWhen::WithBase) => contents
                        .iter()
                        .any(|other| is_strong_base(plan, other))
                        .then_some((" with a base".to_owned(), amount, Severity::Information))?,
                };
                let severity = if left < 1.0 {
                    Severity::Information
                } else {
                    severity
                };
                let message = format!(
                    "Above {:.0} °C {name}{where_it_is} {}, and this step takes {} mmol of it to {:.0} °C: stay below.",
                    celsius(limit.temperature),
                    limit.effect,
                    sensitive::figures(left, 2),
                    celsius(t)
                );
                let mut finding = Finding::new(&CHECK, at, message).severity(severity);
                if content.line != at.line {
                    finding = finding.related(
                        sensitive::line_at(plan, content.line),
                        format!("{name} came in here"),
                    );
                }
                Some((substance, cooler(plan, moment, clause, &limit, finding)))
            })
    })
}

/// What the step takes the vessel to, and where it says so: in degrees, by boiling what boils first, or by
/// adding to what is hot already.
fn temperature(
    plan: &Plan,
    moment: &Moment,
    clause: &Clause,
) -> Option<(At, ThermodynamicTemperature)> {
    let at = |span| At {
        line: moment.line,
        span,
    };
    if matches!(
        clause.verb,
        Verb::Bake | Verb::FlameDry | Verb::Note | Verb::Check
    ) {
        return None;
    }
    if let Some((quantity, t)) = hottest(clause, &KINDS) {
        return Some((at(quantity.span), t));
    }
    let before = moment.before.get(moment.vessel)?;
    if sensitive::boils(clause) {
        let boiling = |content: &Content| {
            let own = content.substance(&plan.materials);
            let parts = content.parts(&plan.materials).map(|(part, _)| part);
            parts
                .chain([own])
                .flatten()
                .filter_map(|substance| Some(substance.boiling()?.value))
                .min_by(|a, b| a.value.total_cmp(&b.value))
        };
        let solvents = before
            .contents
            .iter()
            .filter(|content| sensitive::is_solvent(plan, content));
        let lowest = solvents
            .filter_map(boiling)
            .min_by(|a, b| a.value.total_cmp(&b.value))?;
        return Some((at(clause.verb_span), lowest));
    }
    let addition = moment.additions.first()?;
    Some((addition.at, before.temperature))
}

const KINDS: [TemperatureKind; 3] = [
    TemperatureKind::At,
    TemperatureKind::To,
    TemperatureKind::Bath,
];

/// Millimoles of a reagent that are left after every partner has taken one for each of its acidic hydrogens,
/// and one at least. A hydride leaves solvents alone; of the others anything may be a partner but the solvent
/// that they must not be heated in. None where an amount is not known.
fn left(plan: &Plan, contents: &[&Content], reagent: &Content, solvent: Substance) -> Option<f64> {
    use ReagentClass as C;
    let own = reagent.substance(&plan.materials)?;
    let hydride = own.class() == Some(C::MetalHydride);
    let mut left = 0.0;
    for content in contents {
        let substance = content.substance(&plan.materials);
        if substance == Some(own) {
            left += content.amount?.get::<millimole>();
        } else if content.is_protic(&plan.materials) && sensitive::is_solvent(plan, content) {
            return None;
        } else if substance == Some(solvent) {
            continue;
        } else if alive::is_partner(plan, content) || !hydride {
            let halide = matches!(
                substance.and_then(Substance::class),
                Some(C::AlkylHalide | C::ArylHalide | C::SilylChloride)
            );
            let each = substance
                .and_then(Substance::protic_equivalents)
                .map_or(1, |protic| protic.at_most().max(1));
            if !(hydride && halide) {
                left -= content.amount?.get::<millimole>() * f64::from(each);
            }
        }
    }
    Some(left)
}

/// More than half of the liquid, or with no liquid at all.
fn is_neat(plan: &Plan, after: &VesselState, contents: &[&Content], content: &Content) -> bool {
    let diluted = sensitive::material(plan, content).is_some_and(|material| material.diluted);
    let is_liquid = content.is_liquid(&plan.materials);
    let liquids = contents
        .iter()
        .filter(|other| other.is_liquid(&plan.materials))
        .count();
    !diluted
        && (liquids == 0
            || is_liquid
                && alive::volume_share(plan, after, content).is_some_and(|share| share > 0.5))
}

fn is_strong_base(plan: &Plan, content: &Content) -> bool {
    use ReagentClass as C;
    let Some(substance) = content.substance(&plan.materials) else {
        return false;
    };
    match substance.class() {
        Some(C::Alkoxide | C::AmideBase | C::MetalHydride) => true,
        Some(C::Base) => substance.name().contains("hydroxide"),
        _ => false,
    }
}

/// A limit of which no event was read is no more than worth a thought.
fn of_source(limit: &ThermalLimit) -> Severity {
    let read = !matches!(limit.source.key, "memory" | "practice" | "OPRD2020S");
    if read {
        Severity::Warning
    } else {
        Severity::Information
    }
}

/// Every temperature of the step that is above the limit becomes the limit.
fn cooler(
    plan: &Plan,
    moment: &Moment,
    clause: &Clause,
    limit: &ThermalLimit,
    finding: Finding,
) -> Finding {
    let degrees = format!("{:.0} °C", celsius(limit.temperature));
    let edits: Vec<_> = clause
        .modifiers
        .iter()
        .filter_map(|modifier| match &modifier.kind {
            ModifierKind::Temperature(kind, TemperatureValue::Quantity(quantity))
                if KINDS.contains(kind) =>
            {
                let t = convert::temperature(quantity)?;
                let at = At {
                    line: moment.line,
                    span: quantity.span,
                };
                (t > limit.temperature).then(|| edit::replace(plan, at, degrees.as_str()))
            }
            _ => None,
        })
        .collect();
    if edits.is_empty() {
        finding
    } else {
        finding.fix(format!("Go to {degrees} at most"), edits)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 10.0 mmol alcohol
materials
  alcohol: 3-phenylpropan-1-ol, 1.00 eq
  diol: propane-1,3-diol, 1.00 eq
  ketone: cyclohexanone, 1.00 eq
  bnbr: benzyl bromide, 1.10 eq
  nah: sodium hydride, 60 wt% in mineral oil, 2.50 eq
  nbs: N-bromosuccinimide, 1.50 eq
  anisole: anisole, 1.00 eq
  dast: diethylaminosulfur trifluoride, 5 mL
  mcpba: m-chloroperbenzoic acid, 75 %, 1.50 eq
  hobt: 1-hydroxybenzotriazole, 2.0 g
  nitro: nitromethane, 10 mL
  kotbu: potassium tert-butoxide, 1.00 eq
  dmf: N,N-dimethylformamide, 60 mL
  dce: 1,2-dichloroethane, 60 mL
  thf: tetrahydrofuran, 60 mL
equipment
  flask: 250 mL flask
steps
{steps}"
        )
    }

    #[test]
    fn finds_a_hydride_that_is_heated_in_an_amide_later() {
        // 25 mmol less the one hydrogen of 10 mmol of alcohol.
        let before = "
  add dmf 30 mL, alcohol
  add nah
  stir for 30 min
  add bnbr
  heat to 80 °C, bath 90 °C, for 4 h
                      ^^^^^ error: Above 40 °C nah in dmf runs away, and this step takes 15 mmol of it to 90 °C
";
        expect(&CHECK, &plan(before));
        let after = "
  add dmf 30 mL, alcohol
  add nah
  stir for 30 min
  add bnbr
  heat to 40 °C, bath 40 °C, for 4 h
";
        expect_fixed(&CHECK, &plan(before), 0, &plan(after));
    }

    #[test]
    fn counts_every_hydrogen_of_a_partner() {
        // 25 mmol less the two hydrogens of 10 mmol of diol.
        expect(
            &CHECK,
            &plan(
                "
  add dmf 30 mL, diol
  add nah
  warm to 60 °C
          ^^^^^ warning: Above 40 °C nah in dmf runs away, and this step takes 5.0 mmol of it
",
            ),
        );
    }

    #[test]
    fn finds_a_halosuccinimide_in_an_amide() {
        expect(
            &CHECK,
            &plan(
                "
  add dmf 30 mL, anisole
  add nbs
  heat to 70 °C
          ^^^^^ information: Above 50 °C nbs in dmf runs away, and this step takes 5.0 mmol
",
            ),
        );
    }

    #[test]
    fn finds_what_is_heated_neat_or_dry() {
        let before = "
  add dast, alcohol
  heat to 80 °C
          ^^^^^ warning: Above 50 °C dast decomposes, violently at 90 °C
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan("  add dast, alcohol\n  heat to 50 °C\n"),
        );
        expect(
            &CHECK,
            &plan(
                "  dry hobt at 100 °C, under vacuum\n              ^^^^^^ information: Above 80 °C hobt may explode, and this step dries it at 100 °C\n",
            ),
        );
        expect(
            &CHECK,
            &plan("  add dimethyl sulfoxide 30 mL, alcohol\n  heat to 170 °C\n"),
        );
        expect(
            &CHECK,
            &plan("  add dmso, alcohol\n  heat to 170 °C\n          ^^^^^^ information: Above 150 °C dmso decomposes of itself\n")
                .replace("  dmf:", "  dmso: dimethyl sulfoxide, 30 mL\n  dmf:"),
        );
    }

    #[test]
    fn mentions_once_what_is_heated_with_nothing_to_do() {
        expect(
            &CHECK,
            &plan(
                "
  add dce 30 mL, mcpba
  heat to 80 °C
          ^^^^^ information: Above 40 °C mcpba decomposes
  add ketone
  stir at 80 °C
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "
  add nitro
  add kotbu
  reflux for 2 h
  ^^^^^^ information: Above 60 °C nitro with a base may explode
",
            ),
        );
    }

    #[test]
    fn is_silent_below_and_where_it_is_used_up() {
        for steps in [
            "add dmf 30 mL, alcohol\n  add nah\n  stir at 25 °C overnight",
            "add dmf 30 mL, alcohol\n  add nah 1.05 eq\n  heat to 80 °C",
            "add thf 30 mL, alcohol\n  add nah\n  reflux overnight",
            "add dmf 30 mL, alcohol\n  add nah\n  quench with water 20 mL\n  heat to 80 °C",
            "add dmf 30 mL, anisole\n  add nbs 1.05 eq\n  heat to 70 °C",
            "add dast, dce 60 mL, alcohol\n  heat to 80 °C",
            "add dce 30 mL, ketone, mcpba\n  heat to 80 °C",
            "add hobt, dmf 20 mL\n  heat to 90 °C",
            "dry hobt at 40 °C, under vacuum",
            "dry flask at 125 °C overnight",
            "add nitro\n  heat to 90 °C",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
