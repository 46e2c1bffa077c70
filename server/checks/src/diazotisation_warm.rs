//! A diazonium salt is made without cooling, or dried.

use crate::Survey;
use crate::alive;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding};
use chemistry::{ReagentClass, Substance};
use plan::vessel::{Content, Moment, VesselState, celsius};
use plan::{At, Plan};
use syntax::{Clause, ModifierKind, Sense, Verb};
use uom::si::amount_of_substance::millimole;

pub(crate) const CHECK: Check = Check {
    name: "diazotisation-warm",
    severity: crate::Severity::Warning,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Diazotisation without cooling

**Finds** an aniline, a nitrite and a strong acid that meet in a vessel which the steps leave at 15 °C or more, and a solid
that is dried when nothing was added after them that would take the diazonium salt.

Silent for less than 1 mmol; where the step says at what temperature it is done, or speaks of ice or cold; where an
iodide is there, which takes the salt as it forms; for diamines, which close rings; of what is dried, where the plan speaks
of a tetrafluoroborate, a hexafluorophosphate or a sulfonate, which are the salts that are isolated; where amounts are not
known.

**Why it matters.** Above about 5 °C most diazonium salts in water give nitrogen and a phenol, with heat that makes them
give it faster; the nitrite gives brown gas. Dry diazonium chlorides explode when they are scraped.

**Example**

    materials
      aniline: p-toluidine, 1.00 eq
      hcl:     hydrochloric acid, 6 M, 10 mL
      nitrite: sodium nitrite, 1.05 eq
    steps
      add aniline, hcl
      add nitrite in water 5 mL, over 10 min

**Write instead**

    steps
      add aniline, hcl
      cool to 0 °C
      add nitrite in water 5 mL, over 10 min, below 5 °C

Use the salt at once, cold and in solution, and destroy what nitrite is left with sulfamic acid or urea. The safety data
sheet, the rules of your laboratory and a trained supervisor decide.

**Sources.** Common practice. The 15 °C and the 1 mmol are assumptions.
";

/// Degrees Celsius from which it speaks (an assumption).
const WARM: f64 = 15.0;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    if !plan
        .substances()
        .iter()
        .any(|substance| is_nitrite(*substance))
    {
        return;
    }
    // The line of the diazotisation that nothing has followed.
    let mut made: Option<u32> = None;
    let isolated = [
        "tetrafluorobor",
        "hexafluorophos",
        "bf4",
        "pf6",
        "sulfon",
        "tosyl",
        "triflate",
    ];
    let stable = isolated.iter().any(|word| plan.says(word));
    for moment in &plan.moments {
        let Some(clause) = sensitive::clause(plan, moment) else {
            continue;
        };
        let (Some(before), Some(after)) = (
            moment.before.get(moment.vessel),
            moment.after.get(moment.vessel),
        ) else {
            continue;
        };
        let moved = moment.additions.iter().any(|addition| {
            let source = addition.from.and_then(|from| moment.before.get(from));
            source.is_some_and(|source| meets(plan, source))
        });
        if !moved && !meets(plan, before) && !before.unclear && meets(plan, after) {
            made = Some(moment.line);
            findings.extend(warm(plan, moment, clause, after));
        } else if moment.additions.iter().any(|addition| {
            addition.from.is_none() && !sensitive::is_solvent(plan, &addition.content)
        }) {
            made = None;
        } else if let Some(line) = made.filter(|_| !stable && dries_solid(clause)) {
            made = None;
            let at = At {
                line: moment.line,
                span: clause.verb_span,
            };
            let message = "A diazonium salt that is dry explodes when it is scraped or warmed: keep it wet and cold, and use it in solution.";
            findings.push(
                Finding::new(&CHECK, at, message)
                    .related(sensitive::line_at(plan, line), "made here"),
            );
        }
    }
}

fn warm(plan: &Plan, moment: &Moment, clause: &Clause, after: &VesselState) -> Option<Finding> {
    let addition = moment.additions.first()?;
    let t = celsius(after.known_temperature()?);
    let says_how_cold = clause
        .modifiers
        .iter()
        .any(|modifier| matches!(modifier.kind, ModifierKind::Temperature(..)));
    let line = sensitive::line_at(plan, moment.line);
    let words = plan.slice(line.line, line.span)?.to_lowercase();
    let ice = sensitive::words(&words).any(|word| matches!(word, "ice" | "cold" | "icy"));
    if t < WARM || says_how_cold || ice {
        return None;
    }
    let flask = sensitive::name(plan, moment.vessel);
    let message = format!(
        "This makes a diazonium salt in {flask} at {t:.0} °C, where it gives nitrogen and heat: cool it to 0 °C first, and keep it below 5 °C."
    );
    let finding = Finding::new(&CHECK, addition.at, message);
    let step = match sensitive::listed(plan, moment.vessel) {
        Some(item) => format!("cool {} to 0 °C", item.name),
        None => "cool to 0 °C".to_owned(),
    };
    Some(match edit::insert_before(plan, moment.line, &[step]) {
        Some(edit) => finding.fix("Cool to 0 °C first", vec![edit]),
        None => finding,
    })
}

/// An aniline, a nitrite and a strong acid are there, and no iodide.
fn meets(plan: &Plan, state: &VesselState) -> bool {
    let has = |is: &dyn Fn(&Content, Substance) -> bool| {
        state.contents.iter().any(|content| {
            content
                .substance(&plan.materials)
                .is_some_and(|substance| is(content, substance))
        })
    };
    let much = |content: &Content| {
        content
            .amount
            .is_some_and(|amount| amount.get::<millimole>() >= 1.0)
    };
    has(&|content, substance| is_nitrite(substance) && much(content))
        && has(&|content, substance| is_aniline(substance) && much(content))
        && has(&|content, substance| {
            alive::class(plan, content) == Some(ReagentClass::Acid)
                && substance.name() != "acetic acid"
        })
        && !has(&|_, substance| substance.name().ends_with(" iodide"))
}

fn is_nitrite(substance: Substance) -> bool {
    ["sodium nitrite", "potassium nitrite"].contains(&substance.name())
}

/// One primary amine on a benzene ring, as its name shows it.
fn is_aniline(substance: Substance) -> bool {
    let name = substance.name();
    let ring = ["aniline", "toluidine", "anisidine", "naphthylamine"];
    let secondary =
        name.starts_with(['N', 'n']) && !name.starts_with("nitro") || name.contains("N-");
    (ring.iter().any(|word| name.ends_with(word)) || name.contains("aminobenzo"))
        && !secondary
        && !name.contains("amino-")
        && !name.contains("diamin")
}

/// `dry solid at 60 °C under vacuum`; not glass, nor a solution over a drying agent.
fn dries_solid(clause: &Clause) -> bool {
    clause.verb == Verb::Dry
        && !clause.senses.contains(&Sense::Glass)
        && clause.objects.iter().any(|thing| {
            [
                "solid",
                "precipitate",
                "crystals",
                "cake",
                "product",
                "salt",
            ]
            .iter()
            .any(|word| sensitive::contains(&thing.name.text, word))
        })
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
scale 100 mmol toluidine
materials
  toluidine: p-toluidine, 1.00 eq
  diamine: benzene-1,2-diamine, 1.00 eq
  benzylamine: benzylamine, 1.00 eq
  hcl: hydrochloric acid, 6 M, 60 mL
  acoh: acetic acid, 60 mL
  nitrite: sodium nitrite, 1.05 eq
  ki: potassium iodide, 1.20 eq
  bromide: copper(I) bromide, 1.10 eq
equipment
  flask: 500 mL three-neck flask, thermometer
  other: 1 L flask
steps
{steps}"
        )
    }

    #[test]
    fn finds_a_diazotisation_in_the_warm() {
        let before = "
  add toluidine, hcl
  add nitrite in water 40 mL, over 10 min
      ^^^^^^^ warning: This makes a diazonium salt in flask at 21 °C
";
        expect(&CHECK, &plan(before));
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add toluidine, hcl\n  cool flask to 0 °C\n  add nitrite in water 40 mL, over 10 min\n",
            ),
        );
    }

    #[test]
    fn finds_a_salt_that_is_dried() {
        expect(
            &CHECK,
            &plan(
                "
  add toluidine, hcl
  cool to 0 °C
  add nitrite in water 40 mL, over 10 min
  filter, keep solid
  dry solid at 60 °C under vacuum
  ^^^ warning: A diazonium salt that is dry explodes
",
            ),
        );
    }

    #[test]
    fn is_silent_for_cold_ones_and_for_what_makes_no_such_salt() {
        for steps in [
            "add toluidine, hcl\n  cool to 0 °C\n  add nitrite in water 40 mL over 10 min",
            "add toluidine, hcl\n  add nitrite in water 40 mL, below 5 °C",
            "add toluidine, hcl\n  add nitrite in ice water 40 mL",
            "add toluidine, hcl, ki\n  add nitrite in water 40 mL",
            "add diamine, hcl\n  add nitrite in water 40 mL",
            "add benzylamine, hcl\n  add nitrite in water 40 mL",
            "add toluidine, acoh\n  add nitrite in water 40 mL",
            "add hcl\n  add nitrite in water 40 mL",
            "add toluidine, hcl\n  cool to 0 °C\n  add nitrite in water 40 mL\n  transfer flask to other",
            "add toluidine, hcl\n  cool to 0 °C\n  add nitrite in water 40 mL\n  add bromide\n  filter, keep solid\n  dry solid under vacuum",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
