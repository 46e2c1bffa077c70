//! A reagent that water destroys enters glass of which the plan does not say how it was dried.

use crate::Survey;
use crate::edit::{self, Edit};
use crate::sensitive::{self, Entry, Threat};
use crate::{Check, Finding, Severity};
use plan::Plan;
use plan::budget::glass_area;
use plan::vessel::{Gas, Glass};
use syntax::{Block, Statement, Verb};
use uom::si::amount_of_substance::micromole;
use uom::si::area::square_centimeter;

pub(crate) const CHECK: Check = Check {
    name: "glassware-dryness",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Glassware dryness

**Finds** a vessel that gets a reagent which water destroys, while no step says how the glass was
dried. Such reagents are organolithiums, Grignard reagents, metal hydrides and amides, aluminium
and zinc alkyls, boranes, alkali metals, strong Lewis acids, silyl triflates, and acyl and silyl
halides; or any line that says `moisture-sensitive` or `pyrophoric`. It is a warning, once for a
vessel. Reagents that water harms slowly (alkoxides, anhydrides, sulfonyl chlorides and the like)
give an information, once for a plan. `not moisture-sensitive` on a line turns it off for that
line. A Grignard reagent made in the flask counts, as a warning where its solvent is stated dry.

It does not say that the glass is wet, for nobody knows that. Flame-drying, the glovebox, and
water or an alcohol that is there on purpose keep it silent; so do `oven-dried` on the line of the
vessel, and a note that speaks of it. A flask that was rinsed is the
business of `wet-glass`.

**Why it matters.** A procedure that others follow must say it, for glass from the cupboard
carries a film of water. The finding tells how much that is here: about 20 nmol/cm² on glass that
looks dry, 45 at most, over 6.0·V^(2/3) cm² of a flask of V mL. On a large scale that is next to
nothing; below about 0.3 mmol it counts.

**Example**: how was the flask dried?

    materials
      base: n-butyllithium, 2.5 M in hexanes, 1.10 eq
    steps
      evacuate and refill with argon, 3 cycles, 1 mbar
      add thf 40 mL, ketone
      add base dropwise over 10 min, via syringe

**Write instead**

    steps
      dry flask, bar, syringes at 125 °C overnight
      assemble flask hot under argon
      cool flask to rt under argon
      evacuate and refill with argon, 3 cycles, 1 mbar
      add thf 40 mL, ketone
      add base dropwise over 10 min, via syringe

Rinsed glass is drained and left in air before it goes into an oven. The times are those of a
supplier's bulletin on air-sensitive reagents (AL-134: 125 °C overnight or 140 °C for 4 h); a
shorter time is common practice.

**Sources.** The range of the film: I. Langmuir, as told by S. Dushman, *Scientific Foundations of
Vacuum Technique* (from memory), and A. Verdaguer et al., *Langmuir* 2007, 23, 9699; the glass
area is an assumption, within 25 %. Which reagents deserve dry glass is common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let entries = plan.entries(Threat::Water);
    let mut mild_said = false;
    for vessel in 0..plan.apparatus.len() {
        let here = || {
            entries
                .iter()
                .filter(|entry| entry.vessel == vessel && unsaid(plan, entry))
        };
        let Some(entry) = here().find(|entry| entry.hard).or_else(|| here().next()) else {
            continue;
        };
        if !entry.hard && std::mem::replace(&mut mild_said, true) {
            continue;
        }
        findings.push(finding(plan, entry));
    }
}

/// Whether the line of the vessel, a note on glass, or a step on something of unknown name tells how it was dried.
pub(crate) fn is_told(plan: &Survey<'_>, entry: &Entry<'_>) -> bool {
    const DRIED: [&str; 4] = ["dried", "oven", "baked", "gun"];
    const GLASS: [&str; 7] = [
        "flask",
        "glass",
        "glassware",
        "apparatus",
        "vessel",
        "vial",
        "tube",
    ];
    let item = plan.apparatus.get(entry.vessel);
    let line = entry.at(plan).map_or(0, |moment| moment.line);
    let is_it = |word: &str| {
        GLASS.contains(&word) || item.is_some_and(|item| item.name.to_lowercase() == word)
    };
    item.is_some_and(|item| item.lower.contains("dried"))
        || plan.told_above(line).any(|text| {
            if !DRIED.iter().any(|word| text.contains(word)) {
                return false;
            }
            let mut words = sensitive::words(text);
            words.clone().any(|word| DRIED.contains(&word)) && words.any(is_it)
        })
        || sensitive::names_unknown(plan, entry, &[Verb::Dry, Verb::Bake, Verb::FlameDry])
}

/// Whether nothing tells how the glass was dried before this entry.
fn unsaid(plan: &Survey<'_>, entry: &Entry<'_>) -> bool {
    if is_told(plan, entry) {
        return false;
    }
    match sensitive::glass(plan, entry) {
        Some(Glass::Unknown | Glass::AirDried) => true,
        Some(Glass::Rinsed(rinse) | Glass::Drained(rinse)) => {
            !rinse.was_dry && crate::wet_glass::is_harmless(plan, rinse, entry)
        }
        _ => false,
    }
}

fn finding(plan: &Plan, entry: &Entry<'_>) -> Finding {
    let flask = sensitive::name(plan, entry.vessel);
    let called = entry.called(plan);
    let verb = if entry.made_here { "forms" } else { "goes in" };
    let too_cool = entry
        .at(plan)
        .and_then(|moment| moment.before.get(entry.vessel)?.dried_too_cool);
    let mut message = match too_cool {
        Some(_) => format!(
            "{flask} was dried too cool to lose its film of water before {called} {verb}: dry it at 125 °C, or by flame."
        ),
        None => format!("The plan does not say how {flask} was dried before {called} {verb}."),
    };
    if let Some(share) = film_share(plan, entry) {
        message.push(' ');
        message.push_str(&share);
    }
    let severity = if entry.hard {
        Severity::Warning
    } else {
        Severity::Information
    };
    let mut finding = Finding::new(&CHECK, entry.addition.at, message).severity(severity);
    if let Some(line) = too_cool {
        finding = finding.related(sensitive::line_at(plan, line), "dried here");
    }
    match fix(plan, entry) {
        Some(edits) => finding.fix(format!("Dry {flask} in the oven first"), edits),
        None => finding,
    }
}

/// What the film on glass that looks dry makes of it, typical and at most (nmol/cm²; see the documentation).
const FILM: f64 = 20.0;
const FILM_AT_MOST: f64 = 45.0;

fn film_share(plan: &Plan, entry: &Entry<'_>) -> Option<String> {
    let area = glass_area(plan.apparatus.get(entry.vessel)?.capacity?).get::<square_centimeter>();
    let amount = entry.amount(plan)?.get::<micromole>();
    let substance = entry.addition.content.substance(&plan.materials);
    let lost = substance
        .and_then(chemistry::Substance::water_equivalents)
        .unwrap_or(1.0);
    let percent = |film: f64| {
        let share = film * 1e-3 * area * lost / amount * 100.0;
        sensitive::plain(share, if share < 0.1 { 1 } else { 2 })
    };
    let (typical, most) = (percent(FILM), percent(FILM_AT_MOST));
    let name = entry.name(plan);
    Some(format!(
        "At this scale the film of water on glass that looks dry takes about {typical} % of {name}, {most} % at most."
    ))
}

fn fix(plan: &Plan, entry: &Entry<'_>) -> Option<Vec<Edit>> {
    let gas = sensitive::inert_gas(plan);
    let Some(item) = sensitive::listed(plan, entry.vessel) else {
        return fix_unlisted(plan, entry);
    };
    let flask = &item.name;
    let (line, start) = first_use(plan, entry)?;
    let before = plan.moments.get(start)?;
    let mut dried = vec![flask.to_string()];
    for tool in sensitive::small_ware(plan).filter(|&tool| tool != entry.vessel) {
        if before
            .before
            .get(tool)
            .is_some_and(|state| state.glass == Glass::Unknown)
        {
            dried.push(plan.apparatus.get(tool)?.name.to_string());
        }
    }
    let mut steps = vec![format!("dry {} at 125 °C overnight", dried.join(", "))];
    let until = plan.moments.get(start..=entry.moment)?;
    let has = |verb: Verb| {
        until.iter().any(|moment| {
            sensitive::clause(plan, moment).is_some_and(|clause| clause.verb == verb)
                && sensitive::touches(plan, moment, entry.vessel)
                && moment
                    .before
                    .get(entry.vessel)
                    .is_some_and(|state| state.contents.is_empty())
                && moment
                    .after
                    .get(entry.vessel)
                    .is_some_and(|state| matches!(state.gas, Gas::Filled { .. }))
        })
    };
    if !has(Verb::Assemble) && !has(Verb::Cool) {
        if sensitive::is_flask(plan, entry.vessel) {
            steps.push(format!("assemble {flask} hot under {gas}"));
        }
        steps.push(format!("cool {flask} to rt under {gas}"));
    }
    Some(vec![edit::insert_before(plan, line, &steps)?])
}

/// The first step that handles the vessel or the small ware, after any rinsing of it.
fn first_use(plan: &Plan, entry: &Entry<'_>) -> Option<(u32, usize)> {
    let until = plan.moments.get(..=entry.moment)?;
    let after_rinse = until
        .iter()
        .rposition(|moment| {
            let (before, after) = (
                moment.before.get(entry.vessel),
                moment.after.get(entry.vessel),
            );
            before.map(|state| &state.glass) != after.map(|state| &state.glass)
        })
        .map_or(0, |index| index + 1);
    let tools: Vec<usize> = sensitive::small_ware(plan).collect();
    let index = until
        .iter()
        .enumerate()
        .skip(after_rinse)
        .find_map(|(index, moment)| {
            let handles = sensitive::touches(plan, moment, entry.vessel)
                || tools.iter().any(|&tool| names(plan, moment, tool));
            handles.then_some(index)
        })?;
    Some((until.get(index)?.line, index))
}

fn names(plan: &Plan, moment: &plan::vessel::Moment, item: usize) -> bool {
    let Some(id) = plan.apparatus.get(item).and_then(|item| item.id) else {
        return false;
    };
    sensitive::clause(plan, moment).is_some_and(|clause| {
        clause
            .objects
            .iter()
            .any(|thing| thing.referent == syntax::Referent::Key(id))
    })
}

/// A plan without equipment gets its flask listed, so that the steps can name it.
fn fix_unlisted(plan: &Plan, entry: &Entry<'_>) -> Option<Vec<Edit>> {
    if plan::find_key(&plan.text, "flask").is_some() {
        return None;
    }
    let header = plan
        .text
        .lines
        .iter()
        .zip(0u32..)
        .find_map(|(line, index)| {
            matches!(line.statement, Statement::Header(Block::Steps)).then_some(index)
        })?;
    let (line, _) = first_use(plan, entry)?;
    let gas = sensitive::inert_gas(plan);
    let list = edit::insert_before(
        plan,
        header,
        &["equipment", "  flask: round-bottom flask", ""],
    )?;
    let steps = [
        "dry flask at 125 °C overnight".to_owned(),
        format!("assemble flask hot under {gas}"),
        format!("cool flask to rt under {gas}"),
    ];
    Some(vec![list, edit::insert_before(plan, line, &steps)?])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed, fixed};

    const HEAD: &str = "
plan Test
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  salt: methyltriphenylphosphonium bromide, 1.20 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq
  thf: tetrahydrofuran, over 3 Å sieves, 10 ppm water, 20 mL
equipment
  flask: 100 mL two-neck flask, septum, argon inlet, bubbler
  vial: 10 mL vial, septum
  bar: stir bar
  syringes: 5 mL and 10 mL glass syringes
steps
";

    fn plan(steps: &str) -> String {
        format!("{HEAD}{}", steps.strip_prefix('\n').unwrap_or(steps))
    }

    #[test]
    fn says_where_it_was_dried_too_cool() {
        expect(
            &CHECK,
            &plan(
                "
  dry flask at 40 °C overnight
  cool flask to rt under argon
  add thf via syringe
  add base dropwise over 10 min, via syringe
      ^^^^ warning: flask was dried too cool to lose its film of water before base goes in: dry it at 125 °C
",
            ),
        );
    }

    #[test]
    fn asks_how_the_flask_was_dried() {
        // 20 and 45 nmol/cm² on 6.0 × 100^(2/3) = 129 cm² are 2.6 and 5.8 µmol, 0.045 and 0.10 % of
        // 5.75 mmol.
        expect(
            &CHECK,
            &plan(
                "
  add bar, salt
  evacuate and refill with argon, 3 cycles, 1 mbar
  add thf via syringe
  add base dropwise over 10 min, via syringe
      ^^^^ warning: The plan does not say how flask was dried before base goes in. At this scale the film of water on glass that looks dry takes about 0.04 % of base, 0.1 % at most.
",
            ),
        );
    }

    #[test]
    fn writes_the_missing_steps_where_they_belong() {
        expect_fixed(
            &CHECK,
            &plan(
                "
  add bar, salt
  evacuate and refill with nitrogen, 3 cycles, 1 mbar
  add base
",
            ),
            0,
            &plan(
                "
  dry flask, bar, syringes at 125 °C overnight
  assemble flask hot under nitrogen
  cool flask to rt under nitrogen
  add bar, salt
  evacuate and refill with nitrogen, 3 cycles, 1 mbar
  add base
",
            ),
        );
    }

    #[test]
    fn writes_only_what_is_missing() {
        expect_fixed(
            &CHECK,
            &plan(
                "
  dry vial at 125 °C overnight
  assemble flask hot under argon
  cool to rt under argon
  add bar, salt
  add base
",
            ),
            0,
            &plan(
                "
  dry vial at 125 °C overnight
  dry flask, bar, syringes at 125 °C overnight
  assemble flask hot under argon
  cool to rt under argon
  add bar, salt
  add base
",
            ),
        );
    }

    #[test]
    fn dries_after_the_rinse_has_gone() {
        let fixed = fixed(
            &CHECK,
            &plan(
                "
  wash flask with acetone
  drain flask
  air-dry flask for 15 min
  add bar, salt
  add base
",
            ),
            0,
        );
        let (wash, dry) = (fixed.find("air-dry flask"), fixed.find("  dry flask"));
        assert!(wash.is_some() && wash < dry, "{fixed}");
    }

    #[test]
    fn names_each_vessel_once() {
        expect(
            &CHECK,
            &plan(
                "
  dry flask, bar at 125 °C overnight
  cool to rt under argon
  in vial
  purge with argon for 5 min
  add base 1 mL
      ^^^^ warning: The plan does not say how vial was dried
  add base 1 mL
  in flask
  transfer vial to flask
",
            ),
        );
    }

    #[test]
    fn lists_a_flask_that_the_plan_does_not() {
        let text = "
plan Test
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq
steps
  add base
";
        expect(
            &CHECK,
            &text.replace(
                "add base\n",
                "add base\n      ^^^^ warning: The plan does not say how the flask was dried\n",
            ),
        );
        expect_fixed(
            &CHECK,
            text,
            0,
            "
plan Test
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq
equipment
  flask: round-bottom flask

steps
  dry flask at 125 °C overnight
  assemble flask hot under argon
  cool flask to rt under argon
  add base
",
        );
    }

    #[test]
    fn is_silent_where_the_glass_is_said_to_be_dry() {
        for dry in [
            "dry flask, bar at 125 °C for 2 h",
            "bake flask at 140 °C for 4 h",
            "flame-dry flask under vacuum",
            "flame-dry under argon",
            "heat flask to 150 °C under vacuum",
            "in glovebox",
            "dry all glassware at 125 °C overnight",
            "note flask and bar straight from the 130 °C oven",
            "take the flask from the oven and cool it under argon",
        ] {
            expect(
                &CHECK,
                &plan(&format!("  {dry}\n  add bar, salt\n  add base\n")),
            );
        }
        let listed = plan("  add bar, salt\n  add base\n");
        expect(
            &CHECK,
            &listed.replace("flask: 100 mL", "flask: oven-dried 100 mL"),
        );
        for steps in [
            "  add bar, salt to an oven-dried flask\n  add base\n",
            "  to a flame-dried Schlenk tube, add salt\n  add base to the tube\n",
        ] {
            expect(&CHECK, &plan(steps));
        }
        // Of something else.
        expect(
            &CHECK,
            &plan(
                "
  note the salt was dried under vacuum
  add bar, salt
  add base
      ^^^^ warning: The plan does not say how flask was dried
",
            ),
        );
    }

    #[test]
    fn a_misspelt_key_is_no_missing_step() {
        expect(
            &CHECK,
            &plan("  dry flaks, bar at 125 °C for 2 h\n  add bar, salt\n  add base\n"),
        );
    }

    #[test]
    fn a_dry_rinse_leaves_the_glass_as_it_was() {
        let dry = "  dry flask at 125 °C for 2 h\n";
        expect(
            &CHECK,
            &plan(&format!("{dry}  rinse flask with thf\n  add base\n")),
        );
        expect(
            &CHECK,
            &plan(
                "
  rinse flask with thf
  add base
      ^^^^ warning: The plan does not say how flask was dried
",
            ),
        );
        // Acetone is the business of another check.
        expect(&CHECK, &plan("  rinse flask with acetone\n  add base\n"));
    }

    #[test]
    fn is_silent_for_what_water_does_not_destroy() {
        for line in [
            "base: sodium borohydride, 1.15 eq",
            "base: triethylamine, 1.15 eq",
            "base: n-butyllithium, 2.5 M in hexanes, 1.15 eq, not moisture-sensitive",
            "base: tetrakis(triphenylphosphine)palladium(0), 5 mol%",
        ] {
            let text = plan("  add bar, salt\n  add base\n");
            expect(
                &CHECK,
                &text.replace("base: n-butyllithium, 2.5 M in hexanes, 1.15 eq", line),
            );
        }
    }

    #[test]
    fn believes_the_line() {
        let text = plan(
            "
  add bar, salt
  add base
      ^^^^ warning: The plan does not say
",
        );
        let line = "base: triethylamine, moisture-sensitive, 1.15 eq";
        expect(
            &CHECK,
            &text.replace("base: n-butyllithium, 2.5 M in hexanes, 1.15 eq", line),
        );
    }

    #[test]
    fn says_less_of_milder_reagents() {
        let text = plan(
            "
  add bar, salt
  add base
      ^^^^ information: The plan does not say
",
        );
        let line = "base: potassium tert-butoxide, 1.15 eq";
        expect(
            &CHECK,
            &text.replace("base: n-butyllithium, 2.5 M in hexanes, 1.15 eq", line),
        );
    }

    #[test]
    fn is_silent_where_water_or_alcohol_is_wanted() {
        for (line, steps) in [
            (
                "base: benzoyl chloride, 1.15 eq",
                "  add bar, 2 M NaOH 20 mL\n  add base\n",
            ),
            (
                "base: acetyl chloride, 1.15 eq",
                "  add bar, methanol 20 mL\n  add base\n",
            ),
            ("base: sodium, 1.15 eq", "  add ethanol 20 mL\n  add base\n"),
            (
                "base: sodium methoxide, 25 wt% in methanol, 1.15 eq",
                "  add base\n",
            ),
            (
                "base: potassium tert-butoxide, 3.0 eq",
                "  add base\n  add water 0.05 mL\n  stir for 5 min\n",
            ),
        ] {
            let text = plan(steps);
            expect(
                &CHECK,
                &text.replace("base: n-butyllithium, 2.5 M in hexanes, 1.15 eq", line),
            );
        }
    }

    #[test]
    fn is_silent_for_spent_reagents() {
        let text = plan(
            "
  dry flask, bar at 125 °C overnight
  add bar, salt
  add base
  quench with water 10 mL
  transfer flask to vial
",
        );
        expect(&CHECK, &text);
        // The solvent may be the quench.
        let text = plan(
            "
  dry flask, bar at 125 °C overnight
  add thf, base
  quench with ethyl acetate 5 mL
  transfer flask to vial
",
        );
        expect(&CHECK, &text);
        // A mixture that has reacted is no reagent.
        let text = plan(
            "
  dry flask, bar at 125 °C overnight
  add bar, salt, base
  transfer flask to vial
",
        );
        expect(&CHECK, &text);
    }

    #[test]
    fn a_grignard_reagent_made_in_the_flask_counts() {
        let text = "
plan Test
scale 20.0 mmol ketone
materials
  ketone: benzophenone, 1.00 eq
  bromide: bromobenzene, 1.20 eq
  magnesium: magnesium, turnings, 1.30 eq
  ether: diethyl ether, over 3 Å sieves, 20 mL
equipment
  flask: 100 mL flask, condenser
steps
  add magnesium, ether
  add bromide dropwise over 30 min
      ^^^^^^^ warning: The plan does not say how flask was dried before the Grignard reagent from bromide forms.
";
        expect(&CHECK, text);
        let can = text
            .replace(", over 3 Å sieves", ", used as received")
            .replace("warning", "information");
        expect(&CHECK, &can);
    }
}
