//! More of a liquid that catches fire in air than a syringe should hold.

use crate::Survey;
use crate::alive;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::quantity::volume::milliliter;
use chemistry::{ReagentClass, Substance, Tag};
use plan::vessel::{Addition, Content, Moment};
use plan::{At, Plan};
use syntax::{Modifier, Nature};
use uom::si::amount_of_substance::millimole;
use uom::si::f64::Volume;

pub(crate) const CHECK: Check = Check {
    name: "pyrophoric-by-syringe",
    severity: Severity::Warning,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Pyrophoric liquid by syringe

**Finds** a liquid that catches fire in air and that a step moves with a syringe: more of it than
0.6 of the syringe, or more than 50 mL in all. A warning. For butyllithium and other solutions that
catch fire less readily (n-butyl-, methyl-, phenyl- and hexyllithium, DIBAL-H, up to 3 M), an information
from 0.75 of the syringe and from 15 mL, and a warning from 50 mL only.

Silent for a cannula, in the glovebox, where the plan does not say with what it is moved or how
much the syringe holds (then for 50 mL and less). Of several syringes in the plan the largest counts.

**Why it matters.** A plunger that is drawn too far comes out, and what is in the syringe burns.
At half full there is room to draw gas in after the liquid, and to err.

**Example**

    materials
      bromide: 4-bromoanisole, 1.00 eq
      base:    tert-butyllithium, 1.7 M in pentane, 2.10 eq
    equipment
      syringe: 10 mL syringe
    steps
      add thf 40 mL, bromide
      cool to -78 °C
      add base dropwise over 20 min, via syringe

**Write instead**

    steps
      add thf 40 mL, bromide
      cool to -78 °C
      add base dropwise over 20 min, via cannula

or measure it in a dropping funnel, or take a syringe of twice the volume. Rehearse it with
solvent first, work with a second person, and keep flammable liquids and open bottles away. The safety data
sheet, the rules of your laboratory and a trained supervisor decide.

**Sources.** Syringes only below 50 mL: a university's *Notes on the use of tertiary-butyllithium
and other highly pyrophoric liquids* (docsbay.net). Filled to half only: a laboratory's procedure told on
DCHAS-L, 7 March 2013. The cannula from 15 mL up, and the limits of 0.6 and 0.75, are assumptions
between these and common practice. In the fire at UCLA in December 2008 a plunger had come out of a
60 mL syringe of tert-butyllithium.
";

/// Part of a syringe that may be full.
const FILL: f64 = 0.6;
const FILL_MILDER: f64 = 0.75;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut informed = false;
    for moment in &plan.moments {
        let Some(clause) = sensitive::clause(plan, moment) else {
            continue;
        };
        let Some((via, tool)) = plan.syringe(clause) else {
            continue;
        };
        if moment.glovebox {
            continue;
        }
        let Some(finding) = moment
            .additions
            .iter()
            .find_map(|addition| judge(plan, moment, addition, via, tool))
        else {
            continue;
        };
        if finding.severity == Severity::Warning || !std::mem::replace(&mut informed, true) {
            findings.push(finding);
        }
    }
}

fn judge(
    plan: &Plan,
    moment: &Moment,
    addition: &Addition,
    via: &Modifier,
    capacity: Option<Volume>,
) -> Option<Finding> {
    let content = &addition.content;
    let stated = sensitive::material(plan, content)
        .and_then(|material| material.stated_nature(Nature::Pyrophoric));
    let substance = content.substance(&plan.materials);
    let known = substance.is_some_and(|substance| substance.has(Tag::Pyrophoric));
    if !stated.unwrap_or(known)
        || addition.from.is_some()
        || !content.is_liquid(&plan.materials)
        || content.is_aqueous(&plan.materials)
    {
        return None;
    }
    let milder =
        stated != Some(true) && substance.is_some_and(is_milder) && !is_strong(plan, content);
    let volume = content.volume?;
    let name = content.name(&plan.materials);
    let amount = sensitive::volume_text(volume);
    let large = volume > Volume::new::<milliliter>(50.0);
    let fill = capacity.map(|capacity| (volume / capacity).value);
    let limit = if milder { FILL_MILDER } else { FILL };
    let too_full = fill.is_some_and(|fill| fill > limit);
    let rather_much = milder && volume > Volume::new::<milliliter>(15.0);
    if !(large || too_full || rather_much) {
        return None;
    }
    let severity = if large || !milder {
        Severity::Warning
    } else {
        Severity::Information
    };
    let what = match (fill, capacity) {
        (Some(fill), Some(capacity)) if fill > 1.0 => {
            let strokes = chemistry::strokes(volume, capacity).unwrap_or(2);
            format!(
                "{amount} of {name} is {strokes} fills of a {} syringe",
                sensitive::volume_text(capacity).replace(".0 mL", " mL")
            )
        }
        (Some(fill), Some(capacity)) if too_full => format!(
            "{amount} of {name} fills a {} syringe to {}",
            sensitive::volume_text(capacity).replace(".0 mL", " mL"),
            sensitive::percent_text(fill)
        ),
        _ => format!("{amount} of {name} is much for a syringe"),
    };
    let twice = sensitive::plain(2.0 * volume.get::<milliliter>(), 2);
    let advice = if large || rather_much {
        "use a cannula.".to_owned()
    } else {
        format!("use a cannula, or a syringe of {twice} mL or more that is half full at most.")
    };
    let message = format!("{what}, and it catches fire in air: {advice}");
    let at = At {
        line: moment.line,
        span: via.span,
    };
    let cannula = edit::replace(plan, at, "via cannula");
    Some(
        Finding::new(&CHECK, at, message)
            .severity(severity)
            .fix("Move it with a cannula", vec![cannula]),
    )
}

/// Solutions that smoke rather than burn at the strengths they are sold in (common practice).
fn is_milder(substance: Substance) -> bool {
    matches!(
        substance.name(),
        "n-butyllithium"
            | "methyllithium"
            | "phenyllithium"
            | "n-hexyllithium"
            | "(trimethylsilyl)methyllithium"
            | "diisobutylaluminium hydride"
            | "tributylphosphine"
            | "tri-tert-butylphosphine"
    )
}

/// Above 3 mol/L, as hardly any but n-butyllithium (10 M) and DIBAL-H (neat) are sold, the two burn as the others do.
fn is_strong(plan: &Plan, content: &Content) -> bool {
    let Some((amount, volume)) = content.amount.zip(content.volume) else {
        return false;
    };
    let reacts = matches!(
        alive::class(plan, content),
        Some(ReagentClass::Organolithium | ReagentClass::AluminiumHydride)
    );
    reacts && amount.get::<millimole>() > 3.0 * volume.get::<milliliter>()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(syringe: &str, steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  tbuli: tert-butyllithium, 1.7 M in pentane
  buli: n-butyllithium, 2.5 M in hexanes
  zinc: diethylzinc, 1.0 M in hexanes
  thf: tetrahydrofuran
equipment
  flask: 250 mL two-neck flask
  {syringe}
steps
{steps}"
        )
    }

    #[test]
    fn finds_a_syringe_that_is_too_full_or_too_small() {
        let before = "
  add tbuli 8.0 mL dropwise, via syringe   # cold
                             ^^^^^^^^^^^ warning: 8.00 mL of tbuli fills a 10 mL syringe to 80 %, and it catches fire in air: use a cannula, or a syringe of 16 mL
";
        let syringe = "syringe: 10 mL glass syringe";
        expect(&CHECK, &plan(syringe, before));
        expect_fixed(
            &CHECK,
            &plan(syringe, before),
            0,
            &plan(
                syringe,
                "  add tbuli 8.0 mL dropwise, via cannula   # cold\n",
            ),
        );
        expect(
            &CHECK,
            &plan(
                syringe,
                "  add zinc 25 mL via 10 mL syringe\n                 ^^^^^^^^^^^^^^^^^ warning: 25.0 mL of zinc is 3 fills of a 10 mL syringe\n",
            ),
        );
    }

    #[test]
    fn finds_more_than_any_syringe_should_hold() {
        expect(
            &CHECK,
            &plan(
                "tube: 5 mL tube",
                "  add tbuli 60 mL via syringe\n                  ^^^^^^^^^^^ warning: 60.0 mL of tbuli is much for a syringe, and it catches fire in air: use a cannula.\n",
            ),
        );
    }

    #[test]
    fn informs_of_butyllithium_once() {
        expect(
            &CHECK,
            &plan(
                "syringes: 5 mL and 20 mL syringes",
                "
  add buli 17 mL via syringe
                 ^^^^^^^^^^^ information: 17.0 mL of buli fills a 20 mL syringe to 85 %
  add buli 17 mL via syringe
",
            ),
        );
    }

    #[test]
    fn strong_butyllithium_is_no_milder() {
        let text = plan(
            "syringe: 10 mL syringe",
            "  add buli 7.0 mL via syringe\n                  ^^^^^^^^^^^ warning: 7.00 mL of buli fills a 10 mL syringe to 70 %\n",
        );
        expect(&CHECK, &text.replace("2.5 M", "10 M"));
    }

    #[test]
    fn a_syringe_is_one_whatever_the_preposition() {
        for how in [
            "with a 10 mL syringe",
            "by syringe",
            "from syringe",
            "using a syringe",
        ] {
            let words = how.chars().map(|_| '^').collect::<String>();
            let steps = format!(
                "  add tbuli 8.0 mL {how}\n                   {words} warning: 8.00 mL of tbuli fills a 10 mL syringe\n"
            );
            expect(&CHECK, &plan("syringe: 10 mL syringe", &steps));
        }
        expect_fixed(
            &CHECK,
            &plan("syringe: 10 mL syringe", "  add tbuli 8.0 mL by syringe\n"),
            0,
            &plan("syringe: 10 mL syringe", "  add tbuli 8.0 mL via cannula\n"),
        );
    }

    #[test]
    fn is_silent_with_room_to_spare() {
        for steps in [
            "add tbuli 5.0 mL via syringe",
            "add tbuli 25 mL via cannula",
            "add tbuli 25 mL",
            "add buli 7.0 mL via syringe",
            "add thf 25 mL via syringe",
            "add tbuli 8.0 mL via syringe pump",
        ] {
            expect(
                &CHECK,
                &plan("syringe: 10 mL syringe", &format!("  {steps}\n")),
            );
        }
        let glovebox = "in glovebox\n  add tbuli 8.0 mL via syringe";
        expect(
            &CHECK,
            &plan("syringe: 10 mL syringe", &format!("  {glovebox}\n")),
        );
    }

    #[test]
    fn a_line_can_deny_it() {
        let text = plan("syringe: 10 mL syringe", "  add tbuli 8.0 mL via syringe\n")
            .replace("1.7 M in pentane", "1.7 M in pentane, not pyrophoric");
        expect(&CHECK, &text);
    }
}
