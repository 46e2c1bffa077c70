//! A vessel gets more than it can hold, or more than leaves room for boiling and gas.

use crate::Survey;
use crate::closed_and_heated::{heats, hottest};
use crate::edit;
use crate::sensitive::{self, volume_text};
use crate::{Check, Finding, Severity};
use chemistry::ReagentClass;
use chemistry::quantity::volume::milliliter;
use plan::vessel::{Apparatus, Moment, Opening, celsius};
use plan::{At, Plan};
use syntax::{Clause, Statement, TemperatureKind, Verb};
use uom::si::f64::Volume;

pub(crate) const CHECK: Check = Check {
    name: "overfilled",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Overfilled

**Finds** a step after which, or during which, a vessel holds too much: an error above 1.25 times
its nominal volume (the brim), a warning above two thirds where it boils under reflux or a quench
makes gas, above three quarters of a separating funnel, and above 85 % otherwise. Once for a
vessel, at its worst step.

It counts liquids only; what solids and liquids of unknown volume add is not counted, so that it
errs on the low side. It is silent where a size is unknown, after steps that change volumes in ways that no plan
tells (extraction, concentration), and for traps, syringes and balloons. Vials and dishes, whose
nominal volume is nearly their brim, may be full, but no more than 85 % where they are sealed and heated 30 °C or more
above the room.

**Why it matters.** A flask works from about a third to two thirds full. What foams, boils or
gives gas goes where there is room.

**Example**

    equipment
      flask: 25 mL two-neck flask, septum
    steps
      add thf 20 mL, ketone
      quench with sat. aq. NH4Cl 15 mL dropwise over 5 min

**Write instead** the next size up that leaves a third of it empty

    equipment
      flask: 100 mL two-neck flask, septum

**Sources.** Two thirds is common practice; the brim is an assumption. Standard sizes: 5, 10, 25,
50, 100, 250, 500 mL, 1, 2, 3, 5 L.
";

/// What the brim holds, over the nominal volume.
const BRIM: f64 = 1.25;

/// Fullest that a sealed vessel is heated, whatever its kind (an assumption): liquids grow by about a tenth in 100 °C.
const SEALED: f64 = 0.85;

/// The lowest of all limits: room to boil, and for gas.
const LEAST: f64 = 2.0 / 3.0;

struct Fill<'a> {
    moment: &'a Moment,
    clause: &'a Clause,
    share: f64,
    limit: f64,
    volume: Volume,
    /// There is also liquid of a volume that is not known.
    at_least: bool,
    why: &'static str,
}

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for (vessel, item) in plan.apparatus.iter().enumerate() {
        let Some(capacity) = item
            .capacity
            .filter(|capacity| capacity.value > 0.0 && holds_work(item))
        else {
            continue;
        };
        let here = || {
            let moments = plan.moments.iter();
            moments.filter(|moment| moment.vessel == vessel)
        };
        let is_near = |(volume, _): (Volume, bool)| volume >= capacity * LEAST;
        if !here().filter_map(held).any(is_near) {
            continue;
        }
        let fills: Vec<Fill<'_>> = here()
            .filter_map(|moment| fill(plan, item, capacity, moment))
            .collect();
        let severity = |fill: &Fill<'_>| {
            if fill.share > BRIM {
                Severity::Error
            } else {
                Severity::Warning
            }
        };
        let over = || fills.iter().filter(|fill| fill.share > fill.limit);
        let Some(worst) =
            over().min_by_key(|fill| (severity(fill), fill.moment.line, fill.moment.clause))
        else {
            continue;
        };
        let wanted =
            fills
                .iter()
                .map(|fill| fill.volume)
                .fold(
                    Volume::default(),
                    |most, volume| {
                        if volume > most { volume } else { most }
                    },
                );
        let most = fills.iter().map(|fill| fill.limit).fold(1.0, f64::min);
        let size = plan::rescale::vessel_for(item, wanted, most);
        findings.push(finding(plan, item, worst, severity(worst), size));
    }
}

fn holds_work(item: &Apparatus) -> bool {
    ![
        "trap", "syringe", "syringes", "balloon", "cylinder", "column",
    ]
    .contains(&&*item.head)
}

/// The most that a vessel holds at a moment, and whether that is only what is sure.
fn held(moment: &Moment) -> Option<(Volume, bool)> {
    let least = || moment.after.get(moment.vessel)?.least_volume();
    match moment.peak {
        Some(peak) => Some((peak, false)),
        None => Some((least()?, true)),
    }
}

fn fill<'a>(
    plan: &'a Plan,
    item: &Apparatus,
    capacity: Volume,
    moment: &'a Moment,
) -> Option<Fill<'a>> {
    let clause = sensitive::clause(plan, moment)?;
    let (volume, at_least) = held(moment)?;
    let (limit, why) = limit(plan, item, moment, clause);
    Some(Fill {
        moment,
        clause,
        share: (volume / capacity).value,
        limit,
        volume,
        at_least,
        why,
    })
}

fn limit(plan: &Plan, item: &Apparatus, moment: &Moment, clause: &Clause) -> (f64, &'static str) {
    if item.lower.contains("separat") {
        return (0.75, ", too full to shake");
    }
    // It is filled to its mark, which is not its brim.
    if item.lower.contains("volumetric") {
        return (1.05, "");
    }
    if is_heated_closed(plan, item, moment, clause) {
        return (SEALED, ", closed, with no room for the liquid to grow");
    }
    if ["vial", "vials", "tube", "tubes", "beaker", "dish", "bottle"].contains(&&*item.head) {
        return (1.05, "");
    }
    if sensitive::boils(clause) {
        return (LEAST, ", with no room to boil");
    }
    if clause.verb == Verb::Quench && gives_gas(plan, moment) {
        return (LEAST, ", with gas coming");
    }
    (0.85, "")
}

/// Not a pressure vessel: its maker says how full it may be.
fn is_heated_closed(plan: &Plan, item: &Apparatus, moment: &Moment, clause: &Clause) -> bool {
    use TemperatureKind as K;
    let closed = moment
        .before
        .get(moment.vessel)
        .is_some_and(|state| matches!(state.opening, Opening::Closed { .. }));
    let hot = hottest(clause, &[K::At, K::To, K::Bath])
        .is_some_and(|(_, t)| celsius(t) > celsius(plan.room.temperature) + 30.0);
    closed && heats(clause) && hot && !item.lower.contains("pressure")
}

/// Hydrides, metals and boranes give hydrogen with what quenches them.
fn gives_gas(plan: &Plan, moment: &Moment) -> bool {
    use ReagentClass as C;
    let contents = moment
        .before
        .get(moment.vessel)
        .map_or([].as_slice(), |state| state.contents.as_slice());
    contents
        .iter()
        .filter_map(|content| content.substance(&plan.materials)?.class())
        .any(|class| {
            matches!(
                class,
                C::AlkaliMetal | C::AluminiumHydride | C::Borane | C::Borohydride | C::MetalHydride
            )
        })
}

fn finding(
    plan: &Plan,
    item: &Apparatus,
    worst: &Fill<'_>,
    severity: Severity,
    size: Option<String>,
) -> Finding {
    let at = worst.moment.additions.first().map_or(
        At {
            line: worst.moment.line,
            span: worst.clause.verb_span,
        },
        |addition| addition.at,
    );
    let flask = &item.name;
    let capacity = item.capacity.map(sizes_text).unwrap_or_default();
    let least = if worst.at_least { "at least " } else { "" };
    let held = format!("{least}{}", volume_text(worst.volume));
    let percent = format!("{:.0}", worst.share * 100.0);
    let brim = if severity == Severity::Error {
        ", more than its brim"
    } else {
        worst.why
    };
    let next = match &size {
        Some(size) => format!("use a {size} {}", noun(item)),
        None => "split the batch or use a reactor".to_owned(),
    };
    let message =
        format!("After this {flask} holds {held} in {capacity} ({percent} %){brim}: {next}.");
    let mut finding = Finding::new(&CHECK, at, message).severity(severity);
    if let Some((place, size)) = item.line.and_then(|line| size_place(plan, line)).zip(size) {
        finding = finding.related(place, "its size").fix(
            format!("Make {flask} {size}"),
            vec![edit::replace(plan, place, size)],
        );
    }
    finding
}

fn noun(item: &Apparatus) -> &str {
    if item.head.is_empty() {
        "vessel"
    } else {
        &item.head
    }
}

fn sizes_text(capacity: Volume) -> String {
    let value = capacity.get::<milliliter>();
    let value_text = |value: f64| sensitive::plain(value, 4);
    if value < 1000.0 {
        format!("{} mL", value_text(value))
    } else {
        format!("{} L", value_text(value / 1000.0))
    }
}

/// Where the line writes its size.
fn size_place(plan: &Plan, line: u32) -> Option<At> {
    let Statement::Equipment(equipment) = &plan.text.lines.get(line as usize)?.statement else {
        return None;
    };
    match equipment.sizes.as_slice() {
        [one] => Some(At {
            line,
            span: one.span,
        }),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(size: &str, steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
materials
  thf: tetrahydrofuran, 30 mL
  nah: sodium hydride, 500 mg
equipment
  flask: {size} flask
  sepfunnel: 100 mL separating funnel
  vial: 20 mL vial
  trap: 10 mL Dean-Stark trap
steps
{steps}"
        )
    }

    #[test]
    fn finds_what_does_not_fit() {
        let before = "
  add thf 20 mL
  add water 15 mL
      ^^^^^ error: After this flask holds 35.0 mL in 25 mL (140 %), more than its brim: use a 100 mL flask.
";
        expect(&CHECK, &plan("25 mL", before));
        expect_fixed(
            &CHECK,
            &plan("25 mL", "  add thf 20 mL\n  add water 15 mL\n"),
            0,
            &plan("100 mL", "  add thf 20 mL\n  add water 15 mL\n"),
        );
    }

    #[test]
    fn one_liquid_of_unknown_volume_hides_no_others() {
        // The library has no density of it.
        let before = "
  add n-butyllithium 10 mmol
  add thf 20 mL
  add water 15 mL
      ^^^^^ error: After this flask holds at least 35.0 mL in 25 mL (140 %), more than its brim
";
        expect(&CHECK, &plan("25 mL", before));
    }

    #[test]
    fn a_transfer_without_a_source_empties_the_vessel_in_hand() {
        for step in [
            "transfer to sepfunnel",
            "pour into sepfunnel",
            "decant flask into sepfunnel",
            "filter into sepfunnel",
            "decant into sepfunnel",
            "decant the liquid into sepfunnel",
        ] {
            let verb = step.split(' ').next().unwrap_or_default();
            let word = if step.contains("flask") {
                "flask"
            } else {
                verb
            };
            let mark = "^".repeat(word.len());
            let at = " ".repeat(step.find(word).unwrap_or_default());
            let steps = format!(
                "
  in flask
  add thf 90 mL
  {step}
  {at}{mark} warning: After this sepfunnel holds 90.0 mL in 100 mL (90 %), too full to shake
"
            );
            expect(&CHECK, &plan("250 mL", &steps));
        }
        let before = "
  in flask
  add thf 90 mL
  pour flask into water 165 mL in sepfunnel
                  ^^^^^ error: After this sepfunnel holds 255 mL in 100 mL (255 %), more than its brim
";
        expect(&CHECK, &plan("250 mL", before));
    }

    #[test]
    fn a_sealed_vial_needs_room_to_be_heated() {
        let steps = "
  add thf 20 mL to vial
  in vial
  seal vial
  heat to 60 °C
  ^^^^ warning: After this vial holds 20.0 mL in 20 mL (100 %), closed, with no room for the liquid to grow: use a 40 mL vial.
";
        expect(&CHECK, &plan("25 mL", steps));
        expect(
            &CHECK,
            &plan(
                "25 mL",
                "  add thf 16 mL to vial\n  in vial\n  seal vial\n  heat to 60 °C\n",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "25 mL",
                "  add thf 20 mL to vial\n  in vial\n  seal vial\n  cool to 0 °C\n",
            ),
        );
    }

    #[test]
    fn leaves_room_for_boiling_and_gas() {
        expect(
            &CHECK,
            &plan(
                "25 mL",
                "
  add thf 18 mL
  reflux for 1 h
  ^^^^^^ warning: After this flask holds 18.0 mL in 25 mL (72 %), with no room to boil: use a 50 mL flask.
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "50 mL",
                "
  add nah, thf 25 mL
  quench with water 10 mL
              ^^^^^ warning: After this flask holds 35.0 mL in 50 mL (70 %), with gas coming: use a 100 mL flask.
",
            ),
        );
    }

    #[test]
    fn a_separating_funnel_needs_room_to_shake() {
        expect(
            &CHECK,
            &plan(
                "100 mL",
                "
  in sepfunnel
  add thf 30 mL
  add water 50 mL
      ^^^^^ warning: After this sepfunnel holds 80.0 mL in 100 mL (80 %), too full to shake: use a 250 mL funnel.
",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "100 mL",
                "
  in sepfunnel
  add thf 30 mL
  extract with pentane, 3 x 50 mL
  ^^^^^^^ warning: After this sepfunnel holds 80.0 mL
",
            ),
        );
    }

    #[test]
    fn a_vial_becomes_a_vial() {
        expect(
            &CHECK,
            &plan(
                "100 mL",
                "
  in vial
  add thf 23 mL
      ^^^ warning: After this vial holds 23.0 mL in 20 mL (115 %): use a 40 mL vial.
",
            ),
        );
    }

    #[test]
    fn is_silent_where_it_fits_or_cannot_tell() {
        for (size, steps) in [
            ("50 mL", "add thf 20 mL\n  reflux for 1 h"),
            ("25 mL", "add thf 21 mL"),
            ("25 mL", "in trap\n  add toluene 10 mL"),
            ("25 mL", "in vial\n  add thf 20 mL"),
            ("round-bottom", "add thf 30 mL"),
            ("10 mL", "add toluene"),
            ("25 mL", "add thf 20 mL\n  concentrate\n  add water 20 mL"),
            (
                "25 mL",
                "in sepfunnel\n  add thf 30 mL\n  extract with pentane, 3 x 40 mL\n  add water 500 mL",
            ),
        ] {
            expect(&CHECK, &plan(size, &format!("  {steps}\n")));
        }
    }

    #[test]
    fn what_is_filled_up_to_a_volume_is_not_all_that_is_left() {
        expect(
            &CHECK,
            "
plan A
materials
  a: benzoic acid, 1.0 g
  thf: tetrahydrofuran, 100 mL
equipment
  flask: 100 mL flask
steps
  dissolve a in thf 20 mL
  dilute to 50 mL with thf
",
        );
    }
}
