//! A gas that is measured as a liquid goes into a vessel in which it boils.

use crate::Survey;
use crate::closed_and_heated::{WayOut, way_out};
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::quantity::pressure;
use plan::Plan;
use plan::vessel::{Addition, Moment, Opening, celsius};
use uom::si::amount_of_substance::millimole;
use uom::si::f64::Pressure;

pub(crate) const CHECK: Check = Check {
    name: "liquefied-gas-too-warm",
    severity: Severity::Error,
    from: crate::Profile::Quiet,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Liquefied gas in a warm vessel

**Finds** ammonia, butadiene, chloromethane, dimethylamine or whatever else boils below 15 °C, measured as a liquid, that
goes into a vessel which the steps leave more than 5 °C above its boiling point: a warning; an error where the vessel is
closed and not made for pressure.

Silent for its solutions; below 5 mmol; where the step says at what temperature it is done; where the plan names a dry ice
condenser or a cold finger, which gives it back; for vessels that are made for pressure and closed; where the line says
nothing of which it is known to be measured as a liquid (a density).

**Why it matters.** It boils as it meets the warm glass: most of it is gone, or the vessel is under the pressure of some
hundred times its volume.

**Example**

    materials
      ammonia: ammonia, d 0.68, 60 mL
    steps
      add ketone, thf 20 mL
      add ammonia

**Write instead**

    steps
      add ketone, thf 20 mL
      cool flask to -78 °C
      add ammonia

Condense it under a dry ice condenser, in the hood, and with an outlet. The safety data sheet, the rules of your
laboratory and a trained supervisor decide.

**Sources.** Boiling points: the library's. Volume: ideal gas law. The limits are assumptions.
";

/// Degrees Celsius: what boils below is a gas in the room (an assumption).
const GAS: f64 = 15.0;
/// Kelvin above the boiling point from which it speaks (an assumption).
const ABOVE: f64 = 5.0;
/// Millimoles from which it speaks (an assumption).
const MUCH: f64 = 5.0;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let boils = |t| celsius(t) < GAS;
    let mut all = plan.substances().iter();
    if !all.any(|substance| substance.boils_at().is_some_and(boils)) {
        return;
    }
    let found = plan.moments.iter().filter_map(|moment| {
        let mut additions = moment.additions.iter();
        additions.find_map(|addition| finding(plan, moment, addition))
    });
    let found: Vec<Finding> = found.collect();
    if !found.is_empty() && !CONDENSES.iter().any(|word| plan.says(word)) {
        findings.extend(found);
    }
}

/// What sends a gas back as a liquid.
const CONDENSES: [&str; 4] = [
    "dry ice condenser",
    "dry-ice condenser",
    "cold finger",
    "dewar condenser",
];

fn finding(plan: &Plan, moment: &Moment, addition: &Addition) -> Option<Finding> {
    let content = &addition.content;
    let material = sensitive::material(plan, content)?;
    let boiling = material.identity.substance?.boils_at()?;
    let liquid = content.volume.is_some() && material.is_liquid();
    if !liquid
        || material.diluted
        || content.aqueous
        || addition.from.is_some()
        || celsius(boiling) >= GAS
    {
        return None;
    }
    let amount = content.amount?;
    let before = moment.before.get(moment.vessel)?;
    let after = moment.after.get(moment.vessel)?;
    let t = before.known_temperature()?;
    let warm = |t| celsius(t) > celsius(boiling) + ABOVE;
    if amount.get::<millimole>() < MUCH || !warm(t) || !warm(after.known_temperature()?) {
        return None;
    }
    let closed = match before.opening {
        Opening::Closed { line } => Some(way_out(plan, moment.vessel, line)),
        _ => None,
    };
    let severity = match closed {
        Some(WayOut::Pressure) => return None,
        Some(WayOut::None) => Severity::Error,
        _ => Severity::Warning,
    };
    let room = Pressure::new::<pressure::atmosphere>(1.0);
    let volume = chemistry::molar_volume(plan.room.temperature, room) * amount;
    let name = content.name(&plan.materials);
    let flask = sensitive::name(plan, moment.vessel);
    let bath = if celsius(boiling) > -70.0 {
        Some("-78 °C")
    } else {
        None
    };
    let what = if severity == Severity::Error {
        " in a closed vessel"
    } else {
        ""
    };
    let message = format!(
        "{name} boils at {:.0} °C and {flask} is at {:.0} °C: it turns into {} of gas{what}; cool {flask} to {} first, and give it an outlet.",
        celsius(boiling),
        celsius(t),
        sensitive::volume_text(volume),
        bath.unwrap_or("well below that")
    );
    let finding = Finding::new(&CHECK, addition.at, message).severity(severity);
    let Some(bath) = bath.filter(|_| sensitive::listed(plan, moment.vessel).is_some()) else {
        return Some(finding);
    };
    let step = format!("cool {flask} to {bath}");
    Some(match edit::insert_before(plan, moment.line, &[step]) {
        Some(edit) => finding.fix(format!("Cool {flask} to {bath} first"), vec![edit]),
        None => finding,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(flask: &str, steps: &str) -> String {
        let steps = steps.strip_prefix('\n').unwrap_or(steps);
        format!(
            "
plan Test
materials
  ammonia: ammonia, d 0.68, 150 mL
  solution: ammonia, 7.0 M in methanol, 20 mL
  water: ammonia, 28 wt% in water, 20 mL
  thf: tetrahydrofuran, 50 mL
equipment
  flask: {flask}
steps
{steps}"
        )
    }

    #[test]
    fn finds_ammonia_that_boils_off() {
        // 150 mL × 0.68 g/mL ÷ 17.03 g/mol × 24.1 L/mol at 21 °C: 145 L.
        let before = "
  add thf
  add ammonia
      ^^^^^^^ warning: ammonia boils at -33 °C and flask is at 21 °C: it turns into 145 L of gas; cool flask to -78 °C first
";
        expect(&CHECK, &plan("500 mL flask, septum", before));
        expect_fixed(
            &CHECK,
            &plan("500 mL flask, septum", before),
            0,
            &plan(
                "500 mL flask, septum",
                "  add thf\n  cool flask to -78 °C\n  add ammonia\n",
            ),
        );
        expect(
            &CHECK,
            &plan(
                "500 mL flask",
                "  add thf\n  seal flask\n  add ammonia\n      ^^^^^^^ error: ammonia boils at -33 °C and flask is at 21 °C: it turns into 145 L of gas in a closed vessel\n",
            ),
        );
    }

    #[test]
    fn liquid_ammonia_is_ammonia() {
        for name in ["liquid ammonia, d 0.68", "ammonia, liquid, d 0.68"] {
            let written = plan(
                "500 mL flask",
                "  add ammonia\n      ^^^^^^^ warning: ammonia boils at -33 °C\n",
            );
            expect(&CHECK, &written.replace("ammonia, d 0.68", name));
        }
    }

    #[test]
    fn is_silent_where_it_stays() {
        for (flask, steps) in [
            ("500 mL flask", "add thf\n  cool to -78 °C\n  add ammonia"),
            ("500 mL flask", "add thf\n  add ammonia at -78 °C"),
            ("500 mL flask, dry ice condenser", "add thf\n  add ammonia"),
            ("500 mL autoclave", "seal flask\n  add ammonia"),
            ("500 mL flask", "add thf\n  add solution"),
            ("500 mL flask", "add thf\n  add water"),
            ("500 mL flask", "add thf\n  add ammonia 0.1 mL"),
            ("500 mL flask", "add thf\n  add carbon monoxide 500 mL"),
        ] {
            expect(&CHECK, &plan(flask, &format!("  {steps}\n")));
        }
    }
}
