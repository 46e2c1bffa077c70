//! Values that nothing can have.

use crate::Survey;
use crate::{Check, Finding, Severity};
use chemistry::Substance;
use chemistry::quantity::{MassDensity, mass_density, ratio, thermodynamic_temperature};
use plan::vessel::{celsius, cold_bath};
use plan::{At, Bottle, Material, Plan, convert, show};
use syntax::{
    Clause, Dimension, FieldKind, ModifierKind, Quantity, Statement, TemperatureKind,
    TemperatureValue, Thing,
};
use uom::si::f64::ThermodynamicTemperature;

pub(crate) const CHECK: Check = Check {
    name: "impossible-value",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Impossible value

**Finds** an assay or a strength above 100 %, a solution that holds more of a substance than the neat substance does, by its
density and molar mass, and hydrochloric acid stronger than water takes up. A temperature below absolute zero, and a time
or a stirring speed below nothing. As a warning a bath that cannot make it so cold: by 20 °C or more colder
than ice, or than dry ice, in a bath that is of nothing else.

Silent for solutions of what the library has no density of.

**Why it matters.** A slip of the pen in a strength is a slip in every amount that is counted from it.

**Example**

    materials
      base: triethylamine, 16 M in toluene, 1.1 eq

**Write instead**

    materials
      base: triethylamine, 1.6 M in toluene, 1.1 eq

**Sources.** Densities and molar masses are the library's; 5 % more is let pass, for mixtures that shrink. Hydrogen chloride: water
takes up 45 wt% of it at 0 °C (from memory), which is 15 mol/L; it speaks from 48 wt% and 16 mol/L. The temperatures of baths are
common practice.
";

/// Mixtures shrink, and densities are not those at this temperature (an assumption).
const MORE: f64 = 1.05;

/// Kelvin by which a bath that is too warm is not a matter of salt in it (an assumption).
const WARMER: f64 = 20.0;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for material in &plan.materials {
        findings.extend(strength(plan, material));
    }
    for (line, index) in plan.text.lines.iter().zip(0u32..) {
        if let Statement::Step(step) = &line.statement {
            for clause in &step.clauses {
                findings.extend(of_step(plan, index, clause));
            }
        }
    }
}

/// Where the line writes how strong it is, or else where it says what it is.
fn place(plan: &Plan, material: &Material) -> Option<At> {
    let line = plan.text.lines.get(material.line as usize)?;
    let Statement::Entry(entry) = &line.statement else {
        return None;
    };
    let written = entry.fields.iter().find_map(|field| match &field.kind {
        FieldKind::Strength(strength) => strength.quantity.as_ref(),
        FieldKind::Assay(quantity) | FieldKind::Found(quantity) => Some(quantity),
        _ => None,
    });
    let written = written.map(|quantity| At {
        line: material.line,
        span: quantity.span,
    });
    written.or(material.identity.at)
}

fn strength(plan: &Plan, material: &Material) -> Option<Finding> {
    let at = place(plan, material)?;
    let key = &material.key.text;
    let share = match &material.bottle {
        Bottle::MassFraction(share) | Bottle::VolumeFraction(share, _) => {
            Some(share.value.get::<ratio::percent>())
        }
        _ => None,
    };
    if share.is_some_and(|percent| percent > 100.0 + 1e-9) {
        let message = format!("Nothing holds more than 100 % of {key}: mend its strength.");
        return Some(Finding::new(&CHECK, at, message));
    }
    let substance = material.identity.substance?;
    let molar = match &material.bottle {
        Bottle::Molar(strength) => Some(strength.value.value / 1000.0),
        _ => None,
    };
    let carrier = material.carrier.as_deref();
    let in_water = carrier.is_none_or(|carrier| carrier.eq_ignore_ascii_case("water"));
    if substance.name() == "hydrogen chloride"
        && in_water
        && (share.is_some_and(|percent| percent > 48.0 && percent < 90.0 && material.diluted)
            || molar.is_some_and(|molar| molar > 16.0))
    {
        let message = format!(
            "Water takes up no more than 45 wt% of hydrogen chloride, about 15 M: mend the strength of {key}."
        );
        return Some(Finding::new(&CHECK, at, message));
    }
    let (neat, most) = (molar?, neat_molarity(material, substance)?);
    (neat > most * MORE).then(|| {
        let message = format!(
            "Neat {} is about {} M, and nothing of it can be stronger: mend the strength of {key}.",
            substance.name(),
            show::number(most, 3)
        );
        Finding::new(&CHECK, at, message)
    })
}

/// Of a liquid or a solid: its density over its molar mass.
fn neat_molarity(material: &Material, substance: Substance) -> Option<f64> {
    if substance.state()? == chemistry::State::Gas {
        return None;
    }
    // Butyllithiums, of which the library has no density, are lighter than this (0.765 g/mL, from memory).
    let lighter = substance
        .name()
        .ends_with("butyllithium")
        .then(|| MassDensity::new::<mass_density::gram_per_cubic_centimeter>(0.8));
    let molar_mass = material.molar_mass.as_ref().ok()?.value;
    let density = substance
        .density()
        .map(|density| density.value)
        .or(lighter)?;
    let neat = density / molar_mass;
    let neat = neat.value / 1000.0;
    (neat > 0.0).then_some(neat)
}

fn of_step(plan: &Plan, line: u32, clause: &Clause) -> Option<Finding> {
    let found = |quantity: &Quantity, message: String| {
        let at = At {
            line,
            span: quantity.span,
        };
        Some(Finding::new(&CHECK, at, message))
    };
    clause
        .modifiers
        .iter()
        .find_map(|modifier| match &modifier.kind {
            ModifierKind::Temperature(kind, TemperatureValue::Quantity(quantity)) => {
                let wanted = convert::temperature(quantity)?;
                if wanted.get::<thermodynamic_temperature::kelvin>() < 0.0 {
                    let message = "This is below absolute zero, -273.15 °C: mend the temperature.";
                    return found(quantity, message.to_owned());
                }
                let at = At {
                    line,
                    span: quantity.span,
                };
                bath(plan, at, clause, *kind, wanted)
            }
            ModifierKind::Time(_, Some(quantity)) if is_negative(quantity) => {
                found(quantity, "No time is below nothing: mend it.".to_owned())
            }
            ModifierKind::Stirring(quantity) if is_negative(quantity) => {
                found(quantity, "No speed is below nothing: mend it.".to_owned())
            }
            _ => None,
        })
}

fn is_negative(quantity: &Quantity) -> bool {
    quantity.unit.dimension != Dimension::Temperature && convert::float(&quantity.number) < 0.0
}

/// `cool to -78 °C in an ice bath`
fn bath(
    plan: &Plan,
    at: At,
    clause: &Clause,
    kind: TemperatureKind,
    wanted: ThermodynamicTemperature,
) -> Option<Finding> {
    let is_bath = |thing: &&Thing| thing.name.text.to_lowercase().ends_with("bath");
    let named = clause
        .modifiers
        .iter()
        .flat_map(|modifier| modifier.kind.things());
    let baths = clause.objects.iter().chain(named).filter(is_bath).count();
    let (wanted, bath) = (celsius(wanted), celsius(cold_bath(clause)?));
    let meant = !matches!(kind, TemperatureKind::From | TemperatureKind::Above);
    if !meant || baths != 1 || wanted > bath - WARMER {
        return None;
    }
    let written = plan.slice(at.line, at.span)?;
    let what = if bath < -50.0 { "Dry ice" } else { "Ice" };
    let remedy = if wanted > -90.0 {
        "take dry ice in acetone, or mend the temperature"
    } else {
        "take liquid nitrogen in a solvent, or mend the temperature"
    };
    let message = format!("{what} holds {bath:.0} °C, and cools nothing to {written}: {remedy}.");
    Some(Finding::new(&CHECK, at, message).severity(Severity::Warning))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::expect;

    fn material(line: &str) -> String {
        format!(
            "\nplan Test\nscale 10 mmol a\nmaterials\n  a: benzaldehyde, 1.00 eq\n  x: {line}\n"
        )
    }

    #[test]
    fn finds_strengths_that_nothing_has() {
        // Triethylamine: 0.7275 g/mL at 20 °C (CRC Handbook) over 101.19 g/mol is 7.19 mol/L.
        for (name, value, carrier, words) in [
            (
                "triethylamine, ",
                "120 %",
                "",
                "Nothing holds more than 100 % of x",
            ),
            (
                "sodium hydride, ",
                "160 wt%",
                " in mineral oil",
                "Nothing holds more than 100 % of x",
            ),
            (
                "triethylamine, ",
                "16 M",
                " in toluene",
                "Neat triethylamine is about 7.1",
            ),
            (
                "n-butyllithium, ",
                "16 M",
                " in hexanes",
                "Neat n-butyllithium is about 12",
            ),
            (
                "hydrogen chloride, ",
                "60 wt%",
                " in water",
                "Water takes up no more than 45 wt%",
            ),
            (
                "hydrogen chloride, ",
                "20 M",
                " in water",
                "Water takes up no more than 45 wt%",
            ),
        ] {
            let before = format!("  x: {name}");
            let line = material(&format!("{name}{value}{carrier}, 1.1 eq"));
            let at = " ".repeat(before.chars().count());
            let mark = "^".repeat(value.chars().count());
            expect(&CHECK, &format!("{line}{at}{mark} error: {words}\n"));
        }
    }

    #[test]
    fn is_silent_for_what_is_sold() {
        for line in [
            "triethylamine, 99.5 %, 1.1 eq\n",
            "n-butyllithium, 11 M in hexanes, 1.1 eq\n",
            "hydrogen chloride, 37 wt% in water, 1.1 eq\n",
            "hydrogen chloride, 12 M in water, 1.1 eq\n",
            "sulfuric acid, 98 wt%, 1.1 eq\n",
            "sulfuric acid, 18.4 M, 1.1 eq\n",
            "nitric acid, 24 M, 1.1 eq\n",
            "acetic acid, 17.4 M, 1.1 eq\n",
            "sodium hydroxide, 19 M in water, 1.1 eq\n",
            "HBr, 62 wt% in water, 1.1 eq\n",
            "borane tetrahydrofuran complex, 1.0 M in THF, 1.1 eq\n",
            "borane dimethyl sulfide complex, 10 M, 1.1 eq\n",
            "hydrazine hydrate, 20 M, 1.1 eq\n",
            "benzaldehyde, 100 %, 1.1 eq\n",
        ] {
            expect(&CHECK, &material(line));
        }
    }

    #[test]
    fn finds_steps_that_nobody_can_do() {
        for step in [
            "cool to -300 °C\n          ^^^^^^^ error: This is below absolute zero",
            "stir for -2 h\n           ^^^^ error: No time is below nothing",
            "cool to -78 °C in an ice bath\n          ^^^^^^ warning: Ice holds 0 °C, and cools nothing to -78 °C",
            "cool to -78 °C in a dry ice/acetone bath",
            "cool to 0 °C in an ice bath",
            "cool to -10 °C in an ice bath",
            "cool to -40 °C in an ice/salt bath",
            "cool to 0 °C in a dry ice/acetone bath",
            "cool to -100 °C in a liquid nitrogen/ethanol bath",
            "remove the ice bath and cool to -78 °C",
            "stir at -196 °C",
        ] {
            let text = format!("\nplan Test\nsteps\n  add thf 20 mL\n  {step}\n");
            expect(&CHECK, &text);
        }
    }
}
