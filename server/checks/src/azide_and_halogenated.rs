//! Inorganic azide meets a chlorinated solvent.

use crate::Survey;
use crate::acted_on::substance_of;
use crate::alive;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use plan::vessel::{Content, Moment, VesselState};
use plan::{At, Plan, takes};
use syntax::{Referent, Verb};
use uom::si::amount_of_substance::millimole;
use uom::si::f64::AmountOfSubstance;

pub(crate) const CHECK: Check = Check {
    name: "azide-and-halogenated",
    severity: Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Azide and a chlorinated solvent

**Finds** sodium or lithium azide, more than 1 mmol of it, with dichloromethane, chloroform,
1,2-dichloroethane or another chlorinated or brominated alkane as a solvent: in the reaction, or in
the extraction of a mixture that holds more azide than anything there could have used up.

Silent for azidotrimethylsilane, diphenylphosphoryl azide and organic azides; for chlorobenzenes;
for an extraction after sodium nitrite has destroyed the azide, or after all of it is used up, one
for one.

**Why it matters.** Azide displaces the halogen. Di- and triazidomethane stay behind when the solvent
is evaporated, and go off: such work-ups have destroyed rotary evaporators.

**Example**

    materials
      bromide: benzyl bromide, 1.00 eq
      azide:   sodium azide, 1.50 eq
      dmf:     dimethylformamide, 20 mL
    steps
      add azide, bromide, dmf
      stir overnight
      add water 60 mL
      extract with dichloromethane, 3 x 30 mL

**Write instead**

    steps
      add azide, bromide, dmf
      stir overnight
      add water 60 mL
      extract with tert-butyl methyl ether, 3 x 30 mL

Destroy what is left of the azide with sodium nitrite before any acid comes to it, in the hood; keep
acids and chlorinated solvents out of its waste. The safety data sheet, the rules of your laboratory
and a trained supervisor decide.

**Sources.** Explosion after an extraction with dichloromethane: letters by N. P. Peet and P. M.
Weintraub, *Chem. Eng. News* 1994, 72 (11), 4, and N. P. Peet, 2010, 88 (24), 4. Halogenated solvents
kept from azides: National Research Council, *Prudent Practices in the Laboratory*, 1995, page 102;
Stanford University, *Information on Azide Compounds*. The 1 mmol is an assumption.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    if !alive::METAL_AZIDES.iter().any(|azide| plan.has(azide)) {
        return;
    }
    for moment in &plan.moments {
        let found = in_reaction(plan, moment).or_else(|| in_extraction(plan, moment));
        if let Some(finding) = found {
            findings.push(finding);
            return;
        }
    }
}

fn in_reaction(plan: &Plan, moment: &Moment) -> Option<Finding> {
    // After a work-up the azide is in the water, or may be.
    if moment.before.get(moment.vessel)?.unclear {
        return None;
    }
    moment.additions.iter().find_map(|addition| {
        let added = &addition.content;
        let company: Vec<&Content> = alive::company(moment, addition).collect();
        let azide = std::iter::once(added)
            .chain(company.iter().copied())
            .find(|content| is_azide(plan, content))?;
        let solvent = std::iter::once(added)
            .chain(company.iter().copied())
            .find(|content| {
                content
                    .substance(&plan.materials)
                    .is_some_and(alive::is_halogenated_alkane)
            })?;
        let one_is_new = std::ptr::eq(azide, added) || std::ptr::eq(solvent, added);
        let before = moment.before.get(moment.vessel)?;
        let after = moment.after.get(moment.vessel)?;
        // In a solvent, azide has it to react with from the first, whatever else is there to use it up later.
        let fresh = std::ptr::eq(azide, added)
            || !before
                .contents
                .iter()
                .any(|content| is_azide(plan, content))
            || left(plan, before).is_some();
        let in_bulk = fresh && !is_destroyed(plan, after) && is_bulk(solvent, azide);
        let together = in_bulk || left(plan, after).is_some();
        (one_is_new && is_much(azide.amount) && together).then(|| {
            let at = addition.at;
            finding(
                plan,
                at,
                azide,
                solvent.name(&plan.materials),
                material_line(plan, solvent),
                None,
            )
        })
    })
}

fn in_extraction(plan: &Plan, moment: &Moment) -> Option<Finding> {
    let clause = sensitive::clause(plan, moment).filter(|clause| clause.verb == Verb::Extract)?;
    let state = moment.before.get(moment.vessel)?;
    let (azide, left) = left(plan, state)?;
    if !is_much(left) {
        return None;
    }
    let (_, thing) = takes::things(clause).find(|(slot, thing)| {
        *slot == takes::Slot::With
            && substance_of(plan, thing).is_some_and(alive::is_halogenated_alkane)
    })?;
    let at = At {
        line: moment.line,
        span: thing.name.span,
    };
    let line = match thing.referent {
        Referent::Key(id) => plan.material(id).map(|(material, _)| material.line),
        _ => None,
    };
    let written = line.is_none().then_some(at);
    Some(finding(plan, at, azide, &thing.name.text, line, written))
}

fn finding(
    plan: &Plan,
    at: At,
    azide: &Content,
    solvent: &str,
    line: Option<u32>,
    written: Option<At>,
) -> Finding {
    const ETHER: &str = "tert-butyl methyl ether";
    let name = azide.name(&plan.materials);
    let message = format!(
        "{name} makes explosive polyazidomethanes with {solvent}, which stay behind when it is evaporated: take {ETHER}, ethyl acetate or toluene."
    );
    let mut finding = Finding::new(&CHECK, at, message).related(
        sensitive::line_at(plan, azide.line),
        format!("{name} came in here"),
    );
    let edit = match (written, line) {
        (Some(at), _) => Some(edit::replace(plan, at, ETHER)),
        (None, Some(line)) => edit::rename(plan, line, ETHER),
        _ => None,
    };
    if let Some(edit) = edit {
        finding = finding.fix(format!("Take {ETHER}"), vec![edit]);
    }
    finding
}

fn material_line(plan: &Plan, content: &Content) -> Option<u32> {
    sensitive::material(plan, content).map(|material| material.line)
}

fn is_azide(plan: &Plan, content: &Content) -> bool {
    let mut azides = alive::METAL_AZIDES.iter();
    azides.any(|azide| alive::is_named(plan, content, azide))
}

/// The azide and how much of it is left, none if nitrite is there to destroy it or all is used up. An unknown
/// amount is no amount.
fn left<'a>(
    plan: &Plan,
    state: &'a VesselState,
) -> Option<(&'a Content, Option<AmountOfSubstance>)> {
    let azide = state
        .contents
        .iter()
        .find(|content| is_azide(plan, content))?;
    let whole = azide.amount?;
    let mut rest = whole;
    for content in &state.contents {
        let reactant = !is_azide(plan, content)
            && !sensitive::is_solvent(plan, content)
            && !content.is_aqueous(&plan.materials);
        if reactant {
            rest -= content.amount?;
        }
    }
    let used_up = rest.value <= whole.value * 1e-9;
    (!is_destroyed(plan, state) && !used_up).then_some((azide, Some(rest)))
}

fn is_destroyed(plan: &Plan, state: &VesselState) -> bool {
    let mut contents = state.contents.iter();
    contents.any(|content| alive::is_named(plan, content, "sodium nitrite"))
}

/// A solvent and no reactant: five for each azide (an assumption).
fn is_bulk(solvent: &Content, azide: &Content) -> bool {
    let both = solvent.amount.zip(azide.amount);
    both.is_some_and(|(solvent, azide)| solvent > azide * 5.0)
}

fn is_much(amount: Option<AmountOfSubstance>) -> bool {
    amount.is_some_and(|amount| amount.get::<millimole>() > 1.0)
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
scale 10.0 mmol bromide
materials
  bromide: benzyl bromide, 1.00 eq
  azide: sodium azide, 1.50 eq
  tmsn3: azidotrimethylsilane, 1.50 eq
  nitrite: sodium nitrite, 1.00 eq
  dmf: N,N-dimethylformamide, 20 mL
  dcm: dichloromethane, 40 mL
equipment
  flask: 250 mL flask
  sepfunnel: 250 mL separating funnel
steps
{steps}"
        )
    }

    #[test]
    fn finds_the_extraction() {
        let before = "
  add azide, bromide, dmf
  transfer flask to sepfunnel
  in sepfunnel
  add water 40 mL
  extract with dichloromethane, 3 x 20 mL
               ^^^^^^^^^^^^^^^ error: azide makes explosive polyazidomethanes with dichloromethane
";
        expect(&CHECK, &plan(before));
        expect(
            &CHECK,
            &plan(before).replace("sodium azide", "lithium azide"),
        );
        expect_fixed(
            &CHECK,
            &plan(before),
            0,
            &plan(
                "  add azide, bromide, dmf
  transfer flask to sepfunnel
  in sepfunnel
  add water 40 mL
  extract with tert-butyl methyl ether, 3 x 20 mL
",
            ),
        );
    }

    #[test]
    fn finds_the_reaction() {
        let before = "  add dcm, bromide\n  add azide\n      ^^^^^ error: azide makes explosive\n";
        expect(&CHECK, &plan(before));
        let fixed = crate::testing::fixed(&CHECK, &plan(before), 0);
        assert!(
            fixed.contains("  dcm: tert-butyl methyl ether, 40 mL\n"),
            "{fixed}"
        );
    }

    #[test]
    fn finds_the_reaction_in_which_all_azide_could_be_used_up() {
        for before in [
            "  add dcm, bromide\n  add azide 10.0 mmol\n      ^^^^^ error: azide makes explosive\n",
            "  add azide 10.0 mmol\n  add dcm\n      ^^^ error: azide makes explosive\n  add bromide\n",
        ] {
            expect(&CHECK, &plan(before));
        }
        expect(
            &CHECK,
            &plan("  add bromide, azide 10.0 mmol, dmf\n  stir overnight\n  add dcm\n"),
        );
    }

    #[test]
    fn is_silent_where_nothing_explosive_forms() {
        for steps in [
            "add azide, bromide, dmf\n  add water 40 mL\n  extract with ethyl acetate, 3 x 20 mL",
            "add azide, bromide, dmf\n  add nitrite\n  extract with dichloromethane, 3 x 20 mL",
            "add azide 10.0 mmol, bromide, dmf\n  extract with dichloromethane, 3 x 20 mL",
            "add azide, dmf\n  add chlorobenzene 10 mL",
            "add dcm, bromide\n  add tmsn3",
            "add dmf, bromide, azide 0.5 mmol\n  add dcm",
            "add azide, bromide, dmf\n  add water 40 mL\n  extract with ethyl acetate, 3 x 20 mL\n  concentrate\n  dissolve residue in dcm",
        ] {
            expect(&CHECK, &plan(&format!("  {steps}\n")));
        }
    }
}
