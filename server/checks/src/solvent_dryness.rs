//! A question, where a plan says nothing of the dryness of the solvent beside a reagent that water destroys.

use crate::Survey;
use crate::alive;
use crate::edit;
use crate::sensitive::{self, Entry, Threat};
use crate::water_and_oxygen;
use crate::{Check, Finding, Severity};
use chemistry::ReagentClass;
use plan::budget::is_dried_by_a_step;
use plan::vessel::{Content, What};
use plan::{At, Plan};
use syntax::Condition;

pub(crate) const CHECK: Check = Check {
    name: "solvent-dryness",
    severity: Severity::Information,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Solvent dryness

**Finds** a main solvent of which the plan does not say how dry it is, beside a reagent that water destroys at
once, and asks once for a plan. `dry`, `distilled`, sieves, a figure, and `used as received` are all
answers. It invents no figure, and a figure is never offered as a fix.

Silent: water or alcohol that is there on purpose; sieves in the vessel; a slower reagent beside
ten times the water's amount of a faster one, which takes the water; for other than organolithiums
and Grignard reagents, where even the wettest solvent as bought could not matter; and where
`water-and-oxygen` has found something worse.

**Why it matters.** The solvent brings more water than the glass: 25 mL of tetrahydrofuran with
100 ppm holds 123 µmol.

**Example**

    materials
      base: n-butyllithium, 2.5 M in hexanes, 1.15 eq
      thf:  tetrahydrofuran, 25 mL
    steps
      dry flask at 125 °C overnight
      evacuate and refill flask with argon, 3 cycles, 1 mbar
      add thf, ketone
      add base dropwise over 10 min

**Write instead** what you know

    materials
      thf:  tetrahydrofuran, over 3 Å sieves, 25 mL
      thf:  tetrahydrofuran, over 3 Å sieves, 10 ppm water, 25 mL      # measured
      thf:  tetrahydrofuran, used as received, 25 mL

**Sources.** Tetrahydrofuran as received and dried: D. B. G. Williams, M. Lawton, *J. Org. Chem.*
2010, 75, 8351 (107 ppm, 6 ppm over sieves, by its abstract). What other solvents could hold is an
assumption, used for silence only.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    // One question a plan, and none beside an answer that is worse.
    if findings
        .iter()
        .any(|finding| finding.check == water_and_oxygen::CHECK.name)
    {
        return;
    }
    let entries = plan.entries(Threat::Water);
    findings.extend(entries.iter().find_map(|entry| unstated(plan, entry)));
}

/// The question, where the main solvent beside this reagent states nothing.
fn unstated(plan: &Plan, entry: &Entry<'_>) -> Option<Finding> {
    let (last, contents) = water_and_oxygen::company(plan, entry)?;
    if !entry.hard && !entry.made_here || water_and_oxygen::holds_sieves(plan, contents) {
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
        // Of which there is less than of the reagent is its partner: the anisole of a Birch reduction.
        .filter(|content| {
            alive::times(content, &entry.addition.content).is_none_or(|times| times >= 1.0)
        })
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
        || is_dried_by_a_step(plan, material, entry.addition.at.line)
        || cannot_matter(plan, entry, last, contents, main)
    {
        return None;
    }
    let (key, called) = (&material.key.text, entry.called(plan));
    let at = material.identity.at.unwrap_or(At {
        line: material.line,
        span: material.key.span,
    });
    let as_bought = taken_as_bought(plan, entry, last, contents, main).unwrap_or_default();
    let message = format!(
        "How dry is {key}? Water in it takes {called}{as_bought}: write `dry`, `over 3 Å sieves`, its ppm as measured, or `used as received`."
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

/// ` (1.1 to 6.5 % of it as bought)`, for a solvent that was measured as bought.
fn taken_as_bought(
    plan: &Plan,
    entry: &Entry<'_>,
    last: usize,
    contents: &[Content],
    main: &Content,
) -> Option<String> {
    let name = main.name(&plan.materials);
    let budget = plan.budget(entry.moment, last);
    let water = budget.sources.iter().find(|s| &*s.name == name)?.water;
    let amount = water_and_oxygen::total(plan, entry, contents)?;
    let share =
        water.map(|water| (water / amount).value * water_and_oxygen::lost_per_water(plan, entry));
    let text = |share: f64| sensitive::percent_text(share);
    (share.low > 0.0 && share.high < 1.0).then(|| {
        let low = text(share.low);
        let low = low.trim_end_matches(" %");
        format!(" ({low} to {} of it as bought)", text(share.high))
    })
}

/// Even at the most that it could hold as bought the solvent takes less than the worry fraction, and the reagent is not
/// one of those for which a plan should always say it; or something else takes the water.
fn cannot_matter(
    plan: &Plan,
    entry: &Entry<'_>,
    last: usize,
    contents: &[Content],
    main: &Content,
) -> bool {
    let always = !entry.made_here
        && matches!(
            entry.class,
            Some(ReagentClass::Organolithium | ReagentClass::Grignard)
        );
    let name = main.name(&plan.materials);
    let budget = plan.budget(entry.moment, last);
    let Some(source) = budget.sources.iter().find(|source| &*source.name == name) else {
        return false;
    };
    let water = source.water.high;
    if water_and_oxygen::takes_it_first(plan, entry, contents, water) {
        return true;
    }
    let Some(amount) = water_and_oxygen::total(plan, entry, contents) else {
        return false;
    };
    let share = (water / amount).value * water_and_oxygen::lost_per_water(plan, entry);
    !always && share < water_and_oxygen::worry(plan, entry).0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{drawn, expect, fixed};

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

    const STEPS: &str = "  dry flask at 125 °C overnight\n  add solvent\n  add reagent\n  quench with water 10 mL\n";
    const BULI: &str = "n-butyllithium, 2.5 M in hexanes, 1.00 eq";

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
    fn a_partner_is_no_solvent() {
        let text = plan(
            "5.00 mmol",
            "lithium, 5.0 eq",
            "anisole, 1.00 eq",
            "  dry flask at 125 °C overnight\n  add solvent, ammonia 50 mL\n  add reagent\n",
        );
        expect(&CHECK, &text);
    }

    #[test]
    fn asks_how_dry_the_solvent_is() {
        let text = plan("5.00 mmol", BULI, "tetrahydrofuran, 40 mL", STEPS);
        expect(
            &CHECK,
            // 40 mL × 0.889 g/mL × 50 and 300 ppm / 18.015 g/mol = 99 and 592 µmol, 2 and 12 % of 5.00 mmol.
            &drawn(
                &text,
                "tetrahydrofuran",
                "information: How dry is solvent? Water in it takes reagent (2 to 10 % of it as bought):",
            ),
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
