//! An amount that nothing at hand measures well.

use crate::Survey;
use crate::{Check, Finding, Fix, Severity, edit};
use chemistry::{ReagentClass, Substance};
use plan::measuring::{TOLERATED, TOLERATED_OF_PARTS, Way, tolerated};
use plan::tools::Reading;
use plan::{Amounts, Bottle, Material, Plan, show};
use syntax::{AmountKind, Role};
use uom::si::amount_of_substance::millimole;
use uom::si::f64::{Mass, Volume};
use uom::si::mass::milligram;
use uom::si::molar_mass::gram_per_mole;
use uom::si::ratio::ratio;
use uom::si::volume::milliliter;

pub(crate) const CHECK: Check = Check {
    name: "too-small-to-measure",
    severity: Severity::Information,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Too small to measure

**Finds** a mass, or a portion of one, that the best balance at hand may miss by more than 2 % of it (10 % of what is
used at 5 mol% or less), and a volume that the best tool may miss by more than 10 %.

The balances and syringes that count are those under `[tools]` in meniscus.toml; without them good ones are assumed: a
balance that reads 0.1 mg and glass syringes from 10 µL. It says nothing of solvents, of what is used in 1.5 eq or more,
or what is measured in excess.

**Why it matters.** The error of a balance is the same for 2 mg as for 2 g: with 0.2 mg in each of two readings, 5 mg
are off by up to 6 %.

**Example**

    scale 0.200 mmol ketone
    materials
      ketone:  acetophenone, 1.00 eq
      reagent: 4-dimethylaminopyridine, 10 mol%      # 2.44 mg

**Write instead** a larger scale, or weigh ten times as much, fill it up to a known volume, and measure out a part

    scale 5.00 mmol ketone

The fix works a stock solution out; whether it dissolves and keeps there, it does not know.

**Sources.** The errors are those of the library (ISO 8655-2, ISO 7886-1, makers' data sheets), the uncertainty of a
difference is JCGM 100:2008, 5.1.2; the limits of 2 % and 10 % are common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut found: Vec<(f64, Finding)> = plan
        .materials
        .iter()
        .zip(&plan.ledger.amounts)
        .filter_map(|(material, amounts)| look(plan, material, amounts))
        .collect();
    // The worst speaks for all.
    found.sort_by(|(a, _), (b, _)| b.total_cmp(a));
    let mut found = found.into_iter().map(|(_, finding)| finding);
    if let Some(mut first) = found.next() {
        first.related = found.map(|other| (other.at, other.message)).collect();
        findings.push(first);
    }
}

fn look(plan: &Plan, material: &Material, amounts: &Amounts) -> Option<(f64, Finding)> {
    let equivalents = amounts.equivalents.as_ref().ok()?.value.get::<ratio>();
    if !plan.is_measured_closely(material, amounts) {
        return None;
    }
    let portion = plan.smallest_portion(material);
    let in_portions = if portion.is_some() {
        " in one portion"
    } else {
        ""
    };
    let amounts = portion.as_ref().unwrap_or(amounts);
    let key = &material.key.text;
    let at = material.identity.at?;
    let way = plan.way(material, amounts);
    let reading = match way {
        Way::Weigh => {
            let mass = amounts.mass.as_ref().ok()?.value;
            plan.context.settings.tools.weigh(mass)?
        }
        Way::Syringe => plan.reading(material, amounts)?,
        _ => return None,
    };
    let error = reading.greatest_error.get::<ratio>();
    if error <= tolerated(way, equivalents) {
        return None;
    }
    let (amount, on) = match way {
        Way::Weigh => (show::mass(amounts.mass.as_ref().ok()?.value), "on"),
        _ => (show::volume(amounts.volume.as_ref().ok()?.value), "in"),
    };
    let percent = show::number(error * 100.0, 2);
    let tool = tool(&reading);
    let what = format!("{amount} of {key}{in_portions} may be {percent} % off {on} {tool}");
    let mut finding = Finding::new(&CHECK, at, String::new());
    match stock(plan, material, amounts) {
        Some((fix, words)) if portion.is_none() => {
            finding.message = format!("{what}: {words}.");
            finding.fixes.push(fix);
        }
        _ if is_insoluble(material) => {
            finding.message = format!(
                "{what}: it makes no stock solution, so take a better balance, or scale up."
            );
        }
        _ => {
            finding.message =
                format!("{what}: measure out a part of a stock solution, or scale up.");
        }
    }
    Some((error, finding))
}

/// Hydrides of sodium and potassium, metals, and what is dispersed in oil, on a support or wet: no part of it is in solution.
fn is_insoluble(material: &Material) -> bool {
    use ReagentClass as C;
    let class = material.identity.substance.and_then(Substance::class);
    let carrier = material.carrier.as_deref().unwrap_or_default();
    let solid = matches!(
        class,
        Some(
            C::MetalHydride
                | C::AlkaliMetal
                | C::AlkalineEarthMetal
                | C::HydrogenationCatalyst
                | C::Adsorbent
                | C::DryingAgent
        )
    );
    solid || material.supported || carrier.ends_with("oil") || carrier.ends_with("paraffin")
}

fn tool(reading: &Reading) -> String {
    format!("a {}{}", reading.tool, assumed(reading.assumed))
}

fn assumed(assumed: bool) -> &'static str {
    if assumed {
        " (assumed: meniscus.toml names none)"
    } else {
        ""
    }
}

/// A stock solution in a solvent of the plan: the edits, and what there is to be done.
fn stock(plan: &Plan, material: &Material, amounts: &Amounts) -> Option<(Fix, String)> {
    let (Bottle::MassFraction(share), false) = (&material.bottle, material.diluted) else {
        return None;
    };
    if is_insoluble(material) {
        return None;
    }
    let molar_mass = material
        .molar_mass
        .as_ref()
        .ok()?
        .value
        .get::<gram_per_mole>();
    let amount = amounts.amount.as_ref().ok()?.value.get::<millimole>();
    let solvent = plan.materials.iter().find(|other| {
        other.role == Some(Role::Solvent)
            || other
                .stated
                .iter()
                .any(|amount| amount.kind == AmountKind::FillTo)
    })?;
    let tools = &plan.context.settings.tools;
    // The weakest round strength and the smallest flask of which a weighed mass and a part of 0.2 mL or more are good.
    let (strength, flask, mass, part) = STOCKS.iter().find_map(|&(strength, flask)| {
        let mass = strength * flask * molar_mass / share.value.get::<ratio>();
        let part = amount / strength;
        let weighed = tools.weigh(Mass::new::<milligram>(mass))?;
        let volume = Volume::new::<milliliter>(part);
        let measured = tools.measure(volume, Way::Syringe, plan.is_kept_closed(material))?;
        let good = weighed.greatest_error.get::<ratio>() <= TOLERATED
            && measured.greatest_error.get::<ratio>() <= TOLERATED_OF_PARTS
            && (0.2..=flask * 0.8).contains(&part);
        good.then_some((strength, flask, mass, volume))
    })?;
    let key = &material.key.text;
    let solvent = &solvent.key.text;
    let strength = show::shortest(strength);
    let mass = show::mass(Mass::new::<milligram>(mass));
    let part = show::volume(part);
    let entry = material.identity.at?;
    let end = plan.range(entry).end;
    let first = plan.takes_of(material.id).next()?;
    // It is made up in a flask of its own, for which there must be a list to put it on.
    let apparatus = plan.apparatus.iter().filter_map(|item| item.line).max()?;
    let own = format!("{key}-stock");
    if plan::find_key(&plan.text, &own).is_some() {
        return None;
    }
    let make = format!("make up {key} {flask:.0} mL, in {own}");
    let list = format!("{own}: {flask:.0} mL volumetric flask");
    let edits = vec![
        (end..end, format!(", {strength} M in {solvent}")),
        edit::insert_after(plan, apparatus, &[list])?,
        edit::insert_before(plan, first.line, &[make])?,
        {
            let name = plan.range(first.at()).end;
            (name..name, format!(" {part}"))
        },
    ];
    let words =
        format!("weigh {mass} into a {flask:.0} mL flask, fill up with {solvent}, and take {part}");
    let fix = Fix {
        title: format!("Make {flask:.0} mL of a stock of {key}, {strength} M in {solvent}"),
        edits,
        preferred: false,
    };
    Some((fix, words))
}

/// Strengths in mol/L with sizes of volumetric flasks in mL, the least material first.
const STOCKS: [(f64, f64); 12] = [
    (0.01, 10.0),
    (0.01, 25.0),
    (0.02, 10.0),
    (0.01, 50.0),
    (0.02, 25.0),
    (0.05, 10.0),
    (0.02, 50.0),
    (0.1, 10.0),
    (0.05, 25.0),
    (0.1, 25.0),
    (0.2, 10.0),
    (0.5, 10.0),
];

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{expect, expect_at, expect_fixed, fixed, settings};

    const PLAN: &str = "
plan A
scale 0.200 mmol ketone
materials
  ketone: cyclohexanone, 1.00 eq
  dmap: 4-dimethylaminopyridine, 0.10 eq
        ^^^^^^^^^^^^^^^^^^^^^^^ information: 2.44 mg of dmap may be 12 % off on a balance that reads 0.1 mg (assumed: meniscus.toml names none): weigh 30.5 mg into a 25 mL flask, fill up with thf, and take 2.00 mL.
  thf: THF, solvent, 5 mL
equipment
  flask: 10 mL flask
steps
  add thf 4 mL
  add ketone
  add dmap
";

    #[test]
    fn a_few_milligrams_are_told() {
        // Two readings, each ± 0.2 mg: 0.28 mg of 2.44 mg (JCGM 100:2008, 5.1.2).
        expect(&CHECK, PLAN);
    }

    #[test]
    fn a_stock_solution_is_worked_out() {
        // By hand: 0.01 mol/L × 10 mL × 122.171 g/mol are 12.2 mg, 0.28 mg of which are 2.3 %, so 25 mL are made of
        // 30.5 mg; 0.0200 mmol are in 2.00 mL.
        expect_fixed(
            &CHECK,
            PLAN,
            0,
            "
plan A
scale 0.200 mmol ketone
materials
  ketone: cyclohexanone, 1.00 eq
  dmap: 4-dimethylaminopyridine, 0.01 M in thf, 0.10 eq
  thf: THF, solvent, 5 mL
equipment
  flask: 10 mL flask
  dmap-stock: 25 mL volumetric flask
steps
  add thf 4 mL
  add ketone
  make up dmap 25 mL, in dmap-stock
  add dmap 2.00 mL
",
        );
        // Nothing overflows, and nothing is left over.
        let plan = plan::Plan::read(&fixed(&CHECK, PLAN, 0));
        let told: Vec<_> = crate::findings(&plan);
        let wrong = told
            .iter()
            .filter(|finding| finding.severity <= crate::Severity::Warning);
        assert_eq!(wrong.count(), 0, "{told:#?}");
    }

    #[test]
    fn what_does_not_dissolve_makes_no_stock_solution() {
        for hydride in [
            "sodium hydride, 60 wt% in mineral oil",
            "sodium hydride, 95 %",
        ] {
            let (words, mass, off) = match hydride.contains("oil") {
                true => ("sodium hydride", "0.880 mg", "32"),
                false => ("sodium hydride", "0.556 mg", "51"),
            };
            let carets = "^".repeat(words.len());
            expect(
                &CHECK,
                &format!(
                    "
plan A
scale 0.200 mmol ketone
materials
  ketone: cyclohexanone, 1.00 eq
  nah: {hydride}, 0.11 eq
       {carets} information: {mass} of nah may be {off} % off on a balance that reads 0.1 mg (assumed: meniscus.toml names none): it makes no stock solution, so take a better balance, or scale up.
  thf: THF, solvent, 5 mL
steps
  add thf, ketone
  add nah
"
                ),
            );
        }
    }

    #[test]
    fn a_better_balance_and_a_larger_scale_settle_it() {
        let plan = |scale: &str| {
            format!(
                "
plan A
scale {scale} ketone
materials
  ketone: cyclohexanone, 1.00 eq
  dmap: 4-dimethylaminopyridine, 0.10 eq
"
            )
        };
        expect(&CHECK, &plan("2.00 mmol"));
        let better = settings("[tools]\nbalances = [\"0.01 mg ± 0.02 mg\"]\n");
        expect_at(&better, &CHECK, &plan("0.200 mmol"));
    }

    #[test]
    fn catalysts_solvents_and_plenty_are_silent() {
        expect(
            &CHECK,
            "
plan A
scale 0.200 mmol ketone
materials
  ketone: cyclohexanone, 1.00 eq
  catalyst: tetrakis(triphenylphosphine)palladium(0), 2.0 mol%
  salt: lithium chloride, 1.5 eq
  thf: THF, solvent, 0.001 mL
  seed: 1 crystal of salt
  more: sodium sulfate, excess
",
        );
    }

    #[test]
    fn the_bottom_of_a_large_syringe_is_told() {
        let bench = settings("[tools]\nsyringes = [\"10 mL\"]\n");
        // ISO 7886-1: 1.5 % of 10 mL and 1 % of 0.635 mL are 0.156 mL, 25 % of it.
        expect_at(
            &bench,
            &CHECK,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: cyclohexanone, 5.00 mmol
          ^^^^^^^^^^^^^ information: 0.518 mL of ketone may be 30 % off in a 10 mL plastic syringe
  silane: chlorotrimethylsilane, 1.00 eq
  more: triethylamine, 4.00 eq
",
        );
        // What a syringe of 1 mL does there is better, and of 3 µL in one of 10 µL nobody says how well it is measured.
        let small = PLAN.replace(
            "ketone: cyclohexanone, 1.00 eq",
            "ketone: cyclohexanone, 0.003 mL",
        );
        let (before, _) = small.split_once("  dmap").expect("a line");
        expect(&CHECK, before);
    }
}
