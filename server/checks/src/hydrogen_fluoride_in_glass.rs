//! Hydrogen fluoride goes into glass.

use crate::Survey;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::Substance;
use plan::Plan;

pub(crate) const CHECK: Check = Check {
    name: "hydrogen-fluoride-in-glass",
    severity: Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Hydrogen fluoride in glass

**Finds** hydrogen fluoride, its solution in water or its mixture with pyridine that goes into a flask, a vial or other
glass: an error; a warning where the plan does not say what the vessel is made of.

Silent where the line of the vessel says polyethylene, polypropylene, PTFE or another plastic (not of its cap or bar), or
a metal that stands it; for triethylamine trihydrofluoride and other fluorides, which attack glass slowly if at all.

**Why it matters.** It dissolves glass, which becomes thin, and gives silicon tetrafluoride, a toxic gas. On the skin it
goes in without pain, binds calcium, and kills from a few per cent of the skin on.

**Example**

    materials
      hf: hydrogen fluoride pyridine, 70 wt% in pyridine, 3 mL
    steps
      add ketone, thf 20 mL
      add hf dropwise

**Write instead**

    equipment
      flask: 100 mL polyethylene tube

Work in the hood, with another person, with gloves that are made for it, and with calcium gluconate gel at hand that is
not out of date. Only trained people work with it: the safety data sheet, the rules of your laboratory and a trained
supervisor decide.

**Sources.** Common practice, and hazard statements H300, H310 and H330: Regulation (EC) 1272/2008, Annex VI (from memory).
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    if !plan.substances().iter().any(|s| is_hydrogen_fluoride(*s)) {
        return;
    }
    let mut said = vec![false; plan.apparatus.len()];
    for moment in &plan.moments {
        let comes = moment.additions.iter().find(|addition| {
            let substance = addition.content.substance(&plan.materials);
            addition.from.is_none() && substance.is_some_and(is_hydrogen_fluoride)
        });
        let Some((addition, said)) = comes.zip(said.get_mut(moment.vessel)) else {
            continue;
        };
        let Some(severity) = glass(plan, moment.vessel).filter(|_| !*said) else {
            continue;
        };
        *said = true;
        let name = addition.content.name(&plan.materials);
        let flask = sensitive::name(plan, moment.vessel);
        let how = match severity {
            Severity::Error => format!("{name} dissolves glass, and {flask} is glass"),
            _ => {
                format!("{name} dissolves glass, and the plan does not say what {flask} is made of")
            }
        };
        let message = format!(
            "{how}: use polyethylene or PTFE, with calcium gluconate gel at hand; read the safety data sheet, and work with it only when trained and not alone."
        );
        findings.push(Finding::new(&CHECK, addition.at, message).severity(severity));
    }
}

fn is_hydrogen_fluoride(substance: Substance) -> bool {
    ["hydrogen fluoride", "hydrogen fluoride pyridine"].contains(&substance.name())
}

/// How sure it is that the vessel is glass; none where its line says what else it is, or where it has none and something
/// else that is listed could be it.
fn glass(plan: &Plan, vessel: usize) -> Option<Severity> {
    const GLASS: [&str; 7] = [
        "flask",
        "vial",
        "glass",
        "schlenk",
        "beaker",
        "erlenmeyer",
        "ampoule",
    ];
    let Some(item) = sensitive::listed(plan, vessel) else {
        let other = plan.apparatus.iter().any(|item| stands(&item.lower));
        return (!other).then_some(Severity::Warning);
    };
    if stands(&item.lower) {
        None
    } else if GLASS.iter().any(|word| item.lower.contains(word)) {
        Some(Severity::Error)
    } else {
        Some(Severity::Warning)
    }
}

/// Its line says that it is of what hydrogen fluoride does not attack.
fn stands(line: &str) -> bool {
    const STANDS: [&str; 16] = [
        "polyethylene",
        "polypropylene",
        "polymethylpentene",
        "plastic",
        "fluoropolymer",
        "ptfe",
        "pfa",
        "fep",
        "hdpe",
        "ldpe",
        "pe",
        "pp",
        "teflon",
        "copper",
        "nickel",
        "steel",
    ];
    /// Of these the vessel is not made.
    const PARTS: [&str; 12] = [
        "bar", "cap", "stopcock", "tap", "valve", "sept", "stopper", "sleeve", "tubing", "syringe",
        "funnel", "stirrer",
    ];
    let of_it = |part: &&str| !PARTS.iter().any(|word| part.contains(word));
    line.split([',', ';', '('])
        .filter(of_it)
        .flat_map(sensitive::words)
        .any(|word| STANDS.contains(&word) || word.ends_with("lined"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::expect;

    fn plan(flask: &str, steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
materials
  hf: hydrogen fluoride pyridine, 70 wt% in pyridine, 0.3 mL
  aqueous: hydrogen fluoride, 48 wt% in water, 1 mL
  treat: triethylamine trihydrofluoride, 1 mL
  thf: tetrahydrofuran, 3 mL
equipment
  flask: {flask}
steps
{steps}"
        )
    }

    #[test]
    fn finds_it_in_glass() {
        for (flask, steps) in [
            (
                "25 mL round-bottom flask, stir bar",
                "  add thf, hf\n           ^^ error: hf dissolves glass, and flask is glass: use polyethylene or PTFE, with calcium gluconate gel\n",
            ),
            (
                "20 mL vial, PTFE stir bar, polypropylene cap",
                "  add aqueous\n      ^^^^^^^ error: aqueous dissolves glass\n  add hf\n",
            ),
            (
                "25 mL tube",
                "  add hf\n      ^^ warning: hf dissolves glass, and the plan does not say what flask is made of\n",
            ),
        ] {
            expect(&CHECK, &plan(flask, steps));
        }
    }

    #[test]
    fn is_silent_for_plastic_and_for_what_glass_stands() {
        for (flask, steps) in [
            ("50 mL polypropylene tube", "add thf, hf"),
            ("100 mL tube, polyethylene, stir bar", "add thf, hf"),
            ("20 mL PTFE vial", "add aqueous"),
            ("100 mL polyethylene bottle", "add aqueous"),
            ("25 mL round-bottom flask", "add thf, treat"),
        ] {
            expect(&CHECK, &plan(flask, &format!("  {steps}\n")));
        }
    }
}
