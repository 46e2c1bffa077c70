//! The salt of an amine takes the base that is meant to free it and more.

use crate::Survey;
use crate::alive;
use crate::edit;
use crate::sensitive;
use crate::{Check, Finding, Severity};
use chemistry::{Element, ReagentClass};
use plan::vessel::{Content, Moment, VesselState};
use plan::{At, Plan, show};
use uom::si::amount_of_substance::millimole;

pub(crate) const CHECK: Check = Check {
    name: "salt-eats-base",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Salt eats the base

**Finds** the hydrochloride, hydrobromide or trifluoroacetate of an amine with a base in the same
vessel that is less than the acid which the salt brings, counted with the acid that an acyl, sulfonyl
or silyl chloride or a chloroformate makes from it.

Bases count at their most: amines with every nitrogen, carbonates twice, phosphates three times,
organometallics and hydrides with every equivalent, and an excess of the freed amine as well.

Silent where there is no base at all, and so the salt is meant to stay one; with a borohydride,
an acetate, a formate or hydroxylamine, which work in its buffer; for coupling reagents that are salts;
for 20 mol% and less of the salt; after the quench; where an amount is not known.

**Why it matters.** The first equivalent of the base only frees the amine. A protonated amine does not
react, and half of a reaction comes back.

**Example**

    materials
      amine: benzylamine hydrochloride, MW 143.61, 1.00 eq
      acyl:  benzoyl chloride, 1.05 eq
      base:  triethylamine, 1.10 eq
    steps
      add amine, base, thf 40 mL
      add acyl dropwise over 10 min

**Write instead**

    materials
      base:  triethylamine, 2.20 eq

**Sources.** Stoichiometry: one base for each acid. How often a base counts is chosen so that the check
rather says nothing.
";

/// The share of what is needed that counts as enough: digits are rounded.
const ENOUGH: f64 = 0.97;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let mut names = plan
        .materials
        .iter()
        .map(|material| &*material.identity.name);
    if !names.any(is_salt) {
        return;
    }
    for vessel in 0..plan.apparatus.len() {
        let moments = || plan.moments.iter().filter(|moment| moment.vessel == vessel);
        let end = moments().find(|moment| {
            sensitive::clause(plan, moment).is_some_and(|clause| alive::ends(clause.verb))
        });
        let state = match end {
            Some(moment) => moment.before.get(vessel),
            None => moments()
                .next_back()
                .and_then(|moment| moment.after.get(vessel)),
        };
        let poured_out = |moment: &Moment| {
            moment
                .additions
                .iter()
                .any(|addition| addition.from == Some(vessel))
        };
        if let Some(state) = state.filter(|state| !state.unclear)
            && !plan.moments.iter().any(poured_out)
            && let Some(finding) = finding(plan, state)
        {
            findings.push(finding);
        }
    }
}

fn finding(plan: &Plan, state: &VesselState) -> Option<Finding> {
    let (mut brought, mut salts, mut makes, mut bases) = (0.0, 0.0, 0.0, 0.0);
    let mut salt: Option<&Content> = None;
    let mut chloride: Option<&Content> = None;
    let mut base: Option<(&Content, f64, f64)> = None;
    for content in &state.contents {
        if is_buffer(plan, content) {
            return None;
        }
        let millimoles = content.amount.map(|amount| amount.get::<millimole>());
        if let Some(each) = acids(plan, content) {
            let n = millimoles?;
            brought += n * each;
            salts += n;
            salt = salt.or(Some(content));
        } else if is_chloride(plan, content) {
            makes += millimoles?;
            chloride = Some(content);
        } else if let Some(each) = takes(plan, content) {
            let n = millimoles?;
            bases += n * each;
            if base.is_none_or(|(_, most, _)| n * each > most) {
                base = Some((content, n * each, each));
            }
        }
    }
    let (salt, (base, most, _)) = (salt?, base?);
    let made = if makes < salts { makes } else { salts };
    let spare = salts - made;
    let needed = if made > 0.0 {
        brought + (made - spare).max(0.0)
    } else {
        brought
    };
    if bases <= 0.0 || most <= 0.0 || bases >= needed * ENOUGH {
        return None;
    }
    let figure = |value: f64| sensitive::figures(value, 3);
    let name = |content: &Content| content.name(&plan.materials).to_owned();
    let acid = match chloride.filter(|_| needed > brought) {
        Some(chloride) => format!(
            "{} brings {} mmol of acid and {} makes {} mmol more",
            name(salt),
            figure(brought),
            name(chloride),
            figure(needed - brought)
        ),
        None => format!("{} brings {} mmol of acid", name(salt), figure(brought)),
    };
    let factor = (needed - bases + most) / most;
    let line = sensitive::material(plan, base)?;
    let at = At {
        line: line.line,
        span: line.key.span,
    };
    let message = format!(
        "{acid}, and {} takes up {} mmol: {} mmol is missing, so take at least {} times as much.",
        name(base),
        figure(bases),
        figure(needed - bases),
        show::number(factor, 2)
    );
    let mut finding = Finding::new(&CHECK, at, message);
    if let Some(material) = sensitive::material(plan, salt) {
        finding = finding.related(
            sensitive::line_at(plan, material.line),
            "the salt".to_owned(),
        );
    }
    let stated = line
        .stated
        .iter()
        .filter_map(|amount| Some((amount.quantity.as_ref()?, factor)));
    if let Some(edits) = edit::multiply(plan, line.line, stated) {
        finding = finding.fix(format!("Take enough of {} for the acid", name(base)), edits);
    }
    Some(finding)
}

/// The name of a salt of an acid that takes base.
fn is_salt(name: &str) -> bool {
    let endings = [
        "hydrochloride",
        "hydrobromide",
        "hydroiodide",
        "trifluoroacetate",
        "·hcl",
        " hcl",
        "*hcl",
    ];
    endings.iter().any(|ending| {
        let start = name.len().checked_sub(ending.len());
        let end = start.and_then(|start| name.as_bytes().get(start..));
        end.is_some_and(|end| end.eq_ignore_ascii_case(ending.as_bytes()))
    })
}

/// Moles of acid that a mole of an amine's salt brings: by the library's row, else by its name.
fn acids(plan: &Plan, content: &Content) -> Option<f64> {
    let material = sensitive::material(plan, content)?;
    if !is_salt(&material.identity.name) {
        return None;
    }
    let name = material.identity.name.to_lowercase();
    let coupling = matches!(
        alive::class(plan, content),
        Some(ReagentClass::Carbodiimide | ReagentClass::Uronium)
    ) || name.contains("carbodiimide")
        || name.starts_with("edc");
    let no_nitrogen = material.identity.formula.as_deref().is_none_or(|formula| {
        Element::from_symbol("N").is_none_or(|nitrogen| *formula.count(nitrogen).numer() == 0)
    });
    if coupling || no_nitrogen && name.ends_with("acetate") {
        return None;
    }
    if sensitive::is_catalytic(plan, content) || content.is_aqueous(&plan.materials) {
        return None;
    }
    let known = material
        .identity
        .substance
        .and_then(|substance| substance.base_equivalents())
        .map(|counted| counted.value)
        .filter(|value| *value > 0.0);
    let many = if name.contains("trihydro") || name.contains("tris(trifluoro") {
        3.0
    } else if name.contains("dihydro") || name.contains("bis(trifluoro") {
        2.0
    } else {
        1.0
    };
    Some(known.unwrap_or(many))
}

/// What makes one acid from an amine.
fn is_chloride(plan: &Plan, content: &Content) -> bool {
    use ReagentClass as C;
    matches!(
        alive::class(plan, content),
        Some(C::AcylChloride | C::SulfonylChloride | C::Chloroformate | C::SilylChloride)
    )
}

/// Moles of acid that a mole of a base takes up at most; none of what is no base.
fn takes(plan: &Plan, content: &Content) -> Option<f64> {
    use ReagentClass as C;
    let material = sensitive::material(plan, content);
    let name = content.substance(&plan.materials).map_or_else(
        || {
            material.map_or(String::new(), |material| {
                material.identity.name.to_lowercase()
            })
        },
        |substance| substance.name().to_owned(),
    );
    let class = alive::class(plan, content);
    if let Some(class) = class.filter(|&class| alive::is_fierce(class)) {
        return Some(alive::equivalents(
            content.substance(&plan.materials)?,
            class,
        ));
    }
    match class {
        Some(C::Base) if name.contains("hydrogen") => Some(1.0),
        Some(C::Base) if name.contains("phosphate") => Some(3.0),
        Some(C::Base) if name.contains("carbonate") => Some(2.0),
        Some(C::Base) if name.contains("calcium") || name.contains("barium") => Some(2.0),
        Some(C::Base | C::Alkoxide | C::Ylide) => Some(1.0),
        Some(C::Amine) => Some(nitrogens(plan, content)),
        None if name.contains("amin") || name.contains("pyridin") || name.contains("imidazol") => {
            Some(nitrogens(plan, content))
        }
        _ => None,
    }
}

fn nitrogens(plan: &Plan, content: &Content) -> f64 {
    let formula = sensitive::material(plan, content)
        .and_then(|material| material.identity.formula.as_deref());
    let count = formula
        .zip(Element::from_symbol("N"))
        .map(|(formula, nitrogen)| *formula.count(nitrogen).numer())
        .and_then(|count| i32::try_from(count).ok());
    count.map_or(1.0, |count| f64::from(count.max(1)))
}

/// What works beside an amine's salt.
fn is_buffer(plan: &Plan, content: &Content) -> bool {
    let name = content
        .substance(&plan.materials)
        .map_or("", |substance| substance.name());
    alive::class(plan, content) == Some(ReagentClass::Borohydride)
        || ["sodium acetate", "potassium acetate", "ammonium acetate"].contains(&name)
        || name.contains("formate") && !name.contains("chloroformate")
        || name == "hydroxylamine hydrochloride"
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(materials: &str, steps: &str) -> String {
        let materials = materials.strip_prefix('\n').unwrap_or(materials);
        format!(
            "
plan Test
scale 10.0 mmol amine
materials
  amine: benzylamine hydrochloride, MW 143.61, 1.00 eq
{materials}  dcm: dichloromethane, 40 mL
equipment
  flask: 100 mL flask
  vial: 20 mL vial
steps
  add dcm, amine
{steps}
  quench with water 20 mL
"
        )
    }

    const STEPS: &str = "  add base\n  add acyl dropwise";

    #[test]
    fn finds_a_base_that_only_frees_the_amine() {
        let before = "
  acyl: benzoyl chloride, 1.05 eq
  base: triethylamine, 1.10 eq
  ^^^^ warning: amine brings 10.0 mmol of acid and acyl makes 10.0 mmol more, and base takes up 11.0 mmol: 9.00 mmol is missing
";
        expect(&CHECK, &plan(before, STEPS));
        expect_fixed(
            &CHECK,
            &plan(before, STEPS),
            0,
            &plan(
                "  acyl: benzoyl chloride, 1.05 eq\n  base: triethylamine, 2.00 eq\n",
                STEPS,
            ),
        );
    }

    #[test]
    fn finds_a_base_that_does_not_free_it() {
        let before = "
  acyl: acetic anhydride, 1.05 eq
  base: triethylamine, 0.50 eq
  ^^^^ warning: amine brings 10.0 mmol of acid, and base takes up 5.00 mmol: 5.00 mmol is missing, so take at least 2.0 times
";
        expect(&CHECK, &plan(before, STEPS));
    }

    #[test]
    fn a_dihydrochloride_brings_two() {
        let text = plan(
            "
  acyl: acetic anhydride, 1.05 eq
  base: triethylamine, 1.10 eq
  ^^^^ warning: amine brings 20.0 mmol of acid
",
            STEPS,
        )
        .replace(
            "benzylamine hydrochloride",
            "xylylenediamine dihydrochloride",
        );
        expect(&CHECK, &text);
    }

    #[test]
    fn is_silent_where_there_is_enough_or_the_salt_is_wanted() {
        for (materials, steps) in [
            (
                "  acyl: benzoyl chloride, 1.05 eq\n  base: triethylamine, 2.20 eq\n",
                STEPS,
            ),
            (
                "  acyl: benzoyl chloride, 1.05 eq\n  base: potassium carbonate, 1.00 eq\n",
                STEPS,
            ),
            (
                "  acyl: di-tert-butyl dicarbonate, 1.05 eq\n  base: triethylamine, 1.00 eq\n",
                STEPS,
            ),
            // An excess of the amine is base itself.
            (
                "  acyl: benzoyl chloride, 0.50 eq\n  base: triethylamine, 1.00 eq\n",
                STEPS,
            ),
            // No base.
            ("  aldehyde: paraformaldehyde, 1.05 eq\n", "  add aldehyde"),
            (
                "  ketone: cyclohexanone, 1.05 eq\n  base: triethylamine, 0.50 eq\n  hydride: sodium cyanoborohydride, 1.5 eq\n",
                "  add ketone, base\n  add hydride",
            ),
            (
                "  acyl: benzoyl chloride, 1.05 eq\n  base: triethylamine, excess\n",
                STEPS,
            ),
            // Dissolved apart, and the base comes in the other vessel.
            (
                "  acyl: benzoyl chloride, 1.05 eq\n  base: triethylamine, 2.20 eq\n",
                "  add base 0.50 eq\n  in vial\n  add acyl, base 1.70 eq\n  transfer flask to vial",
            ),
            // A Weinreb amide with a Grignard reagent as the base.
            (
                "  acyl: ethyl benzoate, 0.30 eq\n  base: isopropylmagnesium chloride, 2.0 M in tetrahydrofuran, 2.0 eq\n",
                STEPS,
            ),
        ] {
            expect(&CHECK, &plan(materials, steps));
        }
    }

    #[test]
    fn a_coupling_reagent_is_no_salt_of_the_reactant() {
        let text = plan(
            "  acyl: EDC hydrochloride, 1.20 eq\n  base: triethylamine, 0.50 eq\n",
            STEPS,
        )
        .replace("benzylamine hydrochloride, MW 143.61", "benzylamine");
        expect(&CHECK, &text);
    }
}
