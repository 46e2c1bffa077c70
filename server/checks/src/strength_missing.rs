//! A material whose amount is known and that nobody can measure, because its bottle does not say how strong it is.

use crate::Survey;
use crate::alive;
use crate::edit;
use crate::{Check, Finding, Severity};
use chemistry::{ReagentClass as C, Substance};
use plan::Amounts;
use plan::takes::{Slot, Take};
use plan::vessel::{Moment, What};
use plan::{At, Bottle, Material, Plan, convert, show};
use syntax::Severity as Reading;
use syntax::{Dimension, FieldKind, ModifierKind, Statement, Thing};

pub(crate) const CHECK: Check = Check {
    name: "strength-missing",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Strength missing

**Finds** a material that is counted in equivalents or moles and whose strength the plan needs and does not have: an
organolithium, Grignard or metal amide without a strength, a concentrated or saturated solution that the library does
not know, `aq.` with no number. A gas that is sold in solution or easily condensed (ammonia, dimethylamine, hydrogen
chloride, ethylene oxide) and is measured in mL, or goes in by syringe or dropwise, without a strength, density or
pressure, unless it goes into what is colder than it boils. As information an organometallic,
a hydride, a peroxide, an oxidant, an azide or a cyanide that is measured by volume and has no strength, or one by mass and no density:
how much of it there is no check can tell. A strength in N of what may count for several protons, or for nobody knows how many: N is equivalents of acid
or base per litre, and twice M for sulfuric acid.

**Why it matters.** These reagents are bought as solutions of several strengths. 11 mmol of butyllithium are 4.4 mL at
2.5 M and 6.9 mL at 1.6 M, and nobody weighs the 0.7 g of it that are in there.

**Example**

    materials
      acid: benzoic acid, 1.00 eq
      base: n-butyllithium, 1.1 eq

**Write instead**

    materials
      base: n-butyllithium, 2.5 M in hexanes, 1.1 eq

**Sources.** Which reagents come as solutions is common practice; what is on the bottle counts.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for (index, (material, amounts)) in plan.materials.iter().zip(&plan.ledger.amounts).enumerate()
    {
        if let Some(finding) = normality(plan, material).or_else(|| gas(plan, index)) {
            findings.push(finding);
            continue;
        }
        if let Some(finding) = uncounted(plan, material, amounts) {
            findings.push(finding);
            continue;
        }
        let Bottle::Unknown(gap) = &material.bottle else {
            continue;
        };
        // A part that could not be read is a finding already.
        let unread = plan
            .text
            .lines
            .get(material.line as usize)
            .is_none_or(|line| line.problems.iter().any(|p| p.severity == Reading::Error));
        // So is a bottle that the inventory does not give.
        let lost = material
            .named
            .as_ref()
            .is_some_and(|named| named.found.is_some() && named.bottle().is_none());
        let (Some(at), false, Ok(_), Err(_), Err(_)) = (
            material.identity.at,
            material.product || unread || lost,
            &amounts.amount,
            &amounts.mass,
            &amounts.volume,
        ) else {
            continue;
        };
        let message = format!("Nobody can measure {}: {gap}.", material.key.text);
        let mut finding = Finding::new(&CHECK, at, message);
        for sold in grades(material) {
            if let Some(edit) = edit::append(plan, material.line, &format!(", {sold}")) {
                finding = finding.fix(format!("It is {sold}"), vec![edit]);
            }
        }
        // Which of them stands on the shelf only the chemist knows.
        for fix in &mut finding.fixes {
            fix.preferred = false;
        }
        findings.push(finding);
    }
}

/// A dangerous reagent that is measured by volume, and how much of it that is nobody can tell: of no strength, or of one by
/// mass without a density.
fn uncounted(plan: &Survey<'_>, material: &Material, amounts: &Amounts) -> Option<Finding> {
    let (Err(_), Ok(_), Some(at), false) = (
        &amounts.amount,
        &amounts.volume,
        material.identity.at,
        material.product || material.may_be_no_gas().is_some(),
    ) else {
        return None;
    };
    let counts = matches!(
        material.class(),
        Some(C::Peroxide | C::Oxidant | C::Azide | C::Cyanide | C::Borane | C::Borohydride)
    ) || material.class().is_some_and(alive::is_fierce);
    let unread = plan
        .text
        .lines
        .get(material.line as usize)
        .is_none_or(|line| line.problems.iter().any(|p| p.severity == Reading::Error));
    let advice = match (&material.bottle, &material.density, &material.molar_mass) {
        (Bottle::MassFraction(_), Err(_), _) => {
            "its strength is by mass, it is measured by volume, and its density is not known: add `d …` (g/mL)".to_owned()
        }
        (Bottle::Unknown(gap), ..) => gap.to_string(),
        _ => return None,
    };
    let message = format!(
        "How much {} is in there is not known, and what depends on it is not checked: {advice}.",
        material.key.text
    );
    (counts && !unread).then(|| Finding::new(&CHECK, at, message).severity(Severity::Information))
}

/// The strengths in which it is sold, where the line writes none: in water only, where its name says so.
fn grades(material: &Material) -> impl Iterator<Item = &'static str> {
    let unwritten = material.strength_text.is_none() && material.named.is_none();
    let substance = material.identity.substance.filter(|_| unwritten);
    let in_water = material.is_named_in_water();
    let sold = substance.into_iter().flat_map(Substance::strengths);
    sold.filter(move |sold| !in_water || sold.ends_with(" in water"))
}

/// `phosphoric acid, 6 N`
fn normality(plan: &Plan, material: &Material) -> Option<Finding> {
    let line = plan.text.lines.get(material.line as usize)?;
    let Statement::Entry(entry) = &line.statement else {
        return None;
    };
    let quantity = entry.fields.iter().find_map(|field| match &field.kind {
        FieldKind::Strength(strength) => strength.quantity.as_ref(),
        FieldKind::Found(quantity) => Some(quantity),
        _ => None,
    });
    let quantity = quantity.filter(|quantity| quantity.unit.dimension == Dimension::Normality)?;
    let counts = match material.identity.substance {
        Some(substance) => substance.equivalents_per_mole(),
        None => &[],
    };
    if counts.len() == 1 || material.product || !matches!(material.bottle, Bottle::Unknown(_)) {
        return None;
    }
    let at = |span| At {
        line: material.line,
        span,
    };
    let key = &material.key.text;
    let reason = match counts {
        [] => "how many equivalents a mole of it counts for is not known",
        _ => "a mole of it may count for several equivalents",
    };
    let message = format!("The strength of {key} is in N, and {reason}: write it in M.");
    let mut finding = Finding::new(&CHECK, at(quantity.span), message);
    for count in counts {
        let Some(number) = show::scaled(&quantity.number, 1.0 / f64::from(*count)) else {
            continue;
        };
        let words = match count {
            1 => "equivalent",
            _ => "equivalents",
        };
        let edit = edit::replace(plan, at(quantity.span), format!("{number} M"));
        finding = finding.fix(
            format!("Write {number} M, for {count} {words} in a mole"),
            vec![edit],
        );
    }
    Some(finding)
}

/// A gas that is measured or added as liquids are.
fn gas(plan: &Survey<'_>, index: usize) -> Option<Finding> {
    let material = plan.materials.get(index)?;
    let advice = material.may_be_no_gas().filter(|_| !material.product)?;
    let at = material.identity.at?;
    let key = &material.key.text;
    let amounts = plan.ledger.amounts.get(index)?;
    match &material.bottle {
        // The line itself says mL.
        Bottle::Unknown(_) if amounts.volume.is_ok() && !is_condensed(plan, index) => {
            let message = format!("Nobody knows how much {key} is: {advice}.");
            Some(Finding::new(&CHECK, at, message))
        }
        Bottle::Gas => {
            let condensed = is_condensed(plan, index);
            let take = plan
                .takes_of(material.id)
                .filter(|take| take.slot == Slot::Object && take.draws())
                .find(|take| is_by_drops(take) || in_millilitres(take) && !condensed)?;
            let message =
                format!("{key} is counted as gas, but is added as a liquid is: {advice}.");
            Some(Finding::new(&CHECK, at, message).related(take.at(), "added here"))
        }
        _ => None,
    }
}

/// Wherever it goes, it is colder than it boils: liquid ammonia.
fn is_condensed(plan: &Survey<'_>, index: usize) -> bool {
    let Some(boiling) = plan
        .materials
        .get(index)
        .and_then(|material| material.identity.substance?.boiling())
    else {
        return false;
    };
    let mut added = plan.moments.iter().filter(|moment| {
        let is_it = |what: &What| matches!(what, What::Material(other) if *other == index);
        let mut additions = moment.additions.iter();
        additions.any(|addition| addition.from.is_none() && is_it(&addition.content.what))
    });
    let cold = |moment: &Moment| {
        let state = moment.before.get(moment.vessel);
        state
            .and_then(|state| state.known_temperature())
            .is_some_and(|temperature| temperature < boiling.value)
    };
    added.next().is_some_and(cold) && added.all(cold)
}

fn in_millilitres(take: &Take<'_>) -> bool {
    take.quantity()
        .is_some_and(|(_, amount, _)| convert::is_in_millilitres(amount))
}

/// Through a syringe, a pipette or a funnel, or in drops.
fn is_by_drops(take: &Take<'_>) -> bool {
    let says = |things: &[Thing]| {
        things.iter().any(|thing| {
            let words = thing.name.text.to_ascii_lowercase();
            !words.contains("gas")
                && ["syringe", "pipette", "funnel"]
                    .iter()
                    .any(|tool| words.contains(tool))
        })
    };
    let mut how = take.clause.modifiers.iter().map(|modifier| &modifier.kind);
    how.any(|kind| match kind {
        ModifierKind::Via(things) => says(things),
        ModifierKind::Adverb(word) => word.text.eq_ignore_ascii_case("dropwise"),
        _ => false,
    })
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{expect, expect_fixed};

    #[test]
    fn what_comes_in_solution_needs_a_strength() {
        expect(
            &CHECK,
            r"
plan A
scale 10 mmol a
materials
  a: benzaldehyde, 1.00 eq
  b: nBuLi, 1.1 eq
     ^^^^^ warning: Nobody can measure b: the strength of nBuLi is not written
  c: PhMgBr, 1.1 eq
     ^^^^^^ warning: Nobody can measure c
  e: NaH, 1.2 eq
     ^^^ warning: Nobody can measure e: the strength of NaH is not written: add it, as in `60 wt% in mineral oil`, or `95 %` if it is weighed neat
  f: hydrochloric acid, 2 eq
     ^^^^^^^^^^^^^^^^^ warning: Nobody can measure f: the strength of hydrochloric acid is not written: add it, as in `37 wt% in water`
  g: HCl, 2 eq
  h: aqueous ammonia, 2 eq
     ^^^^^^^^^^^^^^^ warning: Nobody can measure h: the strength of aqueous ammonia is not written: add it, as in `28 wt% in water`
  i: bleach, 2 eq
     ^^^^^^ warning: Nobody can measure i: the strength of bleach is not written: add it, as in `12 wt% in water` or `5 wt% in water`.
  j: H2O2, 2 eq
     ^^^^ warning: Nobody can measure j: the strength of H2O2 is not written: add it, as in `30 wt% in water` or `35 wt% in water`.
  k: TBHP, 2 eq
     ^^^^ warning: Nobody can measure k: the strength of TBHP is not written: add it, as in `70 wt% in water` or `5.5 M in decane`.
  d: LDA, aq., 1.1 eq
     ^^^ warning: Nobody can measure d: the strength of the solution is not written
",
        );
    }

    #[test]
    fn the_grades_that_are_sold_are_offered() {
        let text = "plan A\nscale 10 mmol a\nmaterials\n  a: styrene, 1.00 eq\n  ox: TBHP, 2 eq\n";
        for (which, grade) in ["70 wt% in water", "5.5 M in decane"].iter().enumerate() {
            let wanted = text.replace("2 eq", &format!("2 eq, {grade}"));
            expect_fixed(&CHECK, text, which, &wanted);
        }
        let ammonia = text.replace("TBHP", "aqueous ammonia");
        let wanted = ammonia.replace("2 eq", "2 eq, 28 wt% in water");
        expect_fixed(&CHECK, &ammonia, 0, &wanted);
    }

    #[test]
    fn normality_of_what_counts_for_several_is_written_in_m() {
        // 6 N is 2 M where each of three protons counts.
        let plan = r"
plan A
materials
  a: phosphoric acid, 6.0 N, 5 mL
                      ^^^^^ warning: The strength of a is in N, and a mole of it may count for several equivalents: write it in M.
  b: potassium permanganate, 0.1 N, 5 mL
                             ^^^^^ warning: The strength of b is in N, and how many equivalents a mole of it counts for is not known
  c: sulfuric acid, 6 N, 5 mL
  d: 1 N HCl, 5 mL
  e: 2 N NaOH, 5 mL
";
        expect(&CHECK, plan);
        let plan = "plan A\nmaterials\n  a: phosphoric acid, 6.0 N, 5 mL\n";
        expect_fixed(&CHECK, plan, 0, &plan.replace("6.0 N", "2.0 M"));
    }

    #[test]
    fn what_is_dangerous_and_cannot_be_counted_is_said() {
        expect(
            &CHECK,
            r"
plan A
materials
  a: sodium azide, 10 wt% in water, 50 mL
     ^^^^^^^^^^^^ information: How much a is in there is not known, and what depends on it is not checked: its strength is by mass, it is measured by volume, and its density is not known: add `d …` (g/mL).
  b: trimethylaluminium, 25 wt% in hexane, 40 mL
     ^^^^^^^^^^^^^^^^^^ information: How much b is in there is not known
  c: bleach, 50 mL
     ^^^^^^ information: How much c is in there is not known, and what depends on it is not checked: the strength of bleach is not written: add it, as in `12 wt% in water`
  d: sodium azide, 10 wt% in water, d 1.06, 50 mL
  e: sodium azide, 10 wt% in water, 5.3 g
  f: n-butyllithium, 23 wt% in hexanes, 40 mL
  g: tert-butyl hydroperoxide, 70 wt% in water, 20 mL
  h: citric acid, 10 wt% in water, 50 mL
  i: sodium azide, 0.5 M in water, 50 mL
",
        );
    }

    #[test]
    fn a_gas_that_is_added_as_a_liquid_needs_a_strength() {
        expect(
            &CHECK,
            r"
plan A
scale 10 mmol a
materials
  a: benzaldehyde, 1.00 eq
  dma: dimethylamine, 5 mL
       ^^^^^^^^^^^^^ warning: Nobody knows how much dma is: dimethylamine is a gas, and whether
  nh3: ammonia, 2 eq
       ^^^^^^^ warning: nh3 is counted as gas, but is added as a liquid is: ammonia is a gas, and whether it is measured as gas, as liquid or in solution is not written: add its strength, as in `28 wt% in water`
  eo: ethylene oxide, 2 eq
      ^^^^^^^^^^^^^^ warning: eo is counted as gas
steps
  add a to flask
  add nh3 via syringe
  add eo dropwise
",
        );
    }

    #[test]
    fn a_gas_that_is_one_is_silent() {
        expect(
            &CHECK,
            r"
plan A
scale 10 mmol a
materials
  a: benzaldehyde, 1.00 eq
  b: dimethylamine, 2.0 M in THF, 5 mL
  c: ethylene oxide, d 0.88, 5 mL
  d: HCl gas, 240 mL
  e: carbon monoxide, 240 mL
  f: ammonia, 10 mmol, 240 mL
  g: hydrogen, 240 mL
  h: isobutylene, 2.0 L
  i: HCl, 2 eq
  j: hydrochloric acid, 5 mL
  k: ammonia, 3.0 bar, 240 mL
  l: ammonia, 60 mL
steps
  cool flask to -78 °C
  add l
  add e, g via syringe
  add i via gas syringe
  add k
",
        );
    }

    #[test]
    fn what_can_be_measured_is_silent() {
        expect(
            &CHECK,
            r"
plan A
scale 10 mmol a
materials
  a: benzaldehyde, 1.00 eq
  b: n-BuLi (2.5 M in hexanes), 1.1 eq
  c: LiHMDS, 97 %, 1.1 eq
  d: LiHMDS, 1.67 g
  e: NaH, 60 wt% in mineral oil, 1.5 eq
  f: nBuLi, 1,6 M in hexanes, 1.1 eq
",
        );
    }
}
