//! A reagent that others of the plan cannot use so much of.

use crate::Survey;
use crate::alive;
use crate::edit;
use crate::{Check, Finding, Severity};
use chemistry::ReagentClass;
use plan::{At, Material, Plan, show};
use syntax::{AmountKind, FieldKind, Quantity, Statement};
use uom::si::amount_of_substance::millimole;
use uom::si::f64::AmountOfSubstance;

pub(crate) const CHECK: Check = Check {
    name: "amount-slip",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Amount that others cannot use

**Finds** an azodicarboxylate (DIAD, DEAD) of which the plan takes five times as much as of the phosphine, or the
phosphine five times as much as the azodicarboxylate, although they react one to one: a warning. As information a uronium,
phosphonium or carbodiimide coupling reagent of eight equivalents or more, where the acid of the plan is a fifth of that
or less. A strength in mM of an organometallic, a hydride or a metal amide that is sold in as many M: a warning.

Silent where the lesser of phosphine and azodicarboxylate is 0.3 eq or less, as in catalytic variants; where the title
says so, or a line has a resin; below 0.1 mmol of a coupling reagent, as for proteins; where amounts are not known.

**Why it matters.** `15 eq` for `1.5 eq` is a point that was lost: ten times as much to weigh, heat and remove, of
compounds that sensitise the skin and, of the azodicarboxylates, decompose with force when they are heated.

**Example**

    materials
      alcohol: menthol, 1.00 eq
      acid:    4-nitrobenzoic acid, 1.50 eq
      pph3:    triphenylphosphine, 1.50 eq
      diad:    diisopropyl azodicarboxylate, 15 eq

**Write instead**

    materials
      diad:    diisopropyl azodicarboxylate, 1.5 eq

**Sources.** The Mitsunobu reaction takes one phosphine for each azodicarboxylate, a coupling one reagent for each
acid: common practice. The factors from which it speaks are assumptions.
";

/// So many times as much as what it reacts with (an assumption).
const TIMES: f64 = 5.0;
/// Equivalents of the lesser that are meant to be few (an assumption).
const CATALYTIC: f64 = 0.3;
/// Equivalents of a coupling reagent (an assumption).
const COUPLING: f64 = 8.0;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let title = plan.title.as_ref().map(|title| title.text.to_lowercase());
    let meant = |word: &str| title.as_ref().is_some_and(|title| title.contains(word));
    if !meant("catalytic") {
        findings.extend(mitsunobu(plan));
    }
    findings.extend(coupling(plan));
    findings.extend(
        plan.materials
            .iter()
            .filter_map(|material| millimolar(plan, material)),
    );
}

/// `2.5 mM` of a reagent that is sold as 2.5 M, and that so little water destroys.
fn millimolar(plan: &Plan, material: &Material) -> Option<Finding> {
    let substance = material.identity.substance?;
    if !substance.class().is_some_and(alive::is_fierce) || material.product {
        return None;
    }
    let line = plan.text.lines.get(material.line as usize)?;
    let Statement::Entry(entry) = &line.statement else {
        return None;
    };
    let quantity = entry.fields.iter().find_map(|field| match &field.kind {
        FieldKind::Strength(strength) => strength.quantity.as_ref(),
        _ => None,
    })?;
    let at = At {
        line: material.line,
        span: quantity.span,
    };
    let written = plan.slice(at.line, at.span)?;
    let meant = format!("{} M", written.strip_suffix("mM")?.trim_end());
    let sold = |strength: &str| {
        let rest = strength.strip_prefix(meant.as_str());
        rest.is_some_and(|rest| rest.starts_with(' '))
    };
    if !substance.strengths().any(sold) {
        return None;
    }
    let message = format!(
        "{} is {written}, a thousandth of what it is sold as: check the unit.",
        material.key.text
    );
    let edit = edit::replace(plan, at, meant.clone());
    Some(Finding::new(&CHECK, at, message).fix(format!("Write {meant}"), vec![edit]))
}

/// The lines whose substance is of a kind; none where there are several, or the amount is not known.
fn only(plan: &Plan, kind: impl Fn(&Material) -> bool) -> Option<(&Material, AmountOfSubstance)> {
    let lines = plan.materials.iter().zip(&plan.ledger.amounts);
    let mut lines = lines.filter(|(material, _)| !material.product && kind(material));
    let (material, amounts) = lines.next()?;
    let amount = amounts.amount.as_ref().ok()?.value;
    (lines.next().is_none() && amount.value > 0.0).then_some((material, amount))
}

fn mitsunobu(plan: &Plan) -> Option<Finding> {
    let is_azo = |material: &Material| {
        let substance = material.identity.substance;
        substance.is_some_and(|substance| substance.name().ends_with("azodicarboxylate"))
    };
    let is_phosphine = |material: &Material| {
        matches!(
            material.class(),
            Some(ReagentClass::Triarylphosphine | ReagentClass::Trialkylphosphine)
        )
    };
    let azo = only(plan, is_azo)?;
    let phosphine = only(plan, is_phosphine)?;
    let (more, less) = match azo.1 > phosphine.1 {
        true => (azo, phosphine),
        false => (phosphine, azo),
    };
    let ratio = (more.1 / less.1).value;
    let scale = plan.ledger.scale.as_ref()?.amount.as_ref().ok()?.value;
    if ratio < TIMES || (less.1 / scale).value <= CATALYTIC {
        return None;
    }
    let (key, other) = (&more.0.key.text, &less.0.key.text);
    let (at, quantity) = stated(more.0)?;
    let message = format!(
        "{key} is {} for {} of {other}, and the two react one to one: check both amounts.",
        show::amount(more.1),
        show::amount(less.1)
    );
    let finding = Finding::new(&CHECK, at, message).related(
        At {
            line: less.0.line,
            span: less.0.key.span,
        },
        format!("{} of {other}", show::amount(less.1)),
    );
    Some(tenth(plan, finding, more.0, quantity, ratio))
}

fn coupling(plan: &Plan) -> Option<Finding> {
    let is_coupling = |material: &Material| {
        matches!(
            material.class(),
            Some(ReagentClass::Uronium | ReagentClass::Carbodiimide)
        )
    };
    let (reagent, amount) = only(plan, is_coupling)?;
    let scale = plan.ledger.scale.as_ref()?.amount.as_ref().ok()?.value;
    if (amount / scale).value < COUPLING || amount.get::<millimole>() < 0.1 || has_resin(plan) {
        return None;
    }
    let lines = plan.materials.iter().zip(&plan.ledger.amounts);
    let acids = lines.filter(|(material, _)| {
        material.class() == Some(ReagentClass::Acid)
            || material.identity.name.to_lowercase().ends_with("acid")
    });
    let mut acid: Option<(&Material, AmountOfSubstance)> = None;
    for (material, amounts) in acids {
        let amount = amounts.amount.as_ref().ok()?.value;
        if acid.is_none_or(|(_, most)| amount > most) {
            acid = Some((material, amount));
        }
    }
    let (acid, of_acid) = acid.filter(|(_, amount)| amount.value > 0.0)?;
    let ratio = (amount / of_acid).value;
    if ratio < TIMES {
        return None;
    }
    let (at, quantity) = stated(reagent)?;
    let message = format!(
        "{} is {} for {} of {}, and an acid takes one: check its amount.",
        reagent.key.text,
        show::amount(amount),
        show::amount(of_acid),
        acid.key.text
    );
    let finding = Finding::new(&CHECK, at, message).severity(Severity::Information);
    Some(tenth(plan, finding, reagent, quantity, ratio))
}

/// A solid phase takes an excess.
fn has_resin(plan: &Plan) -> bool {
    plan.materials.iter().any(|material| {
        material.supported || material.identity.name.to_lowercase().contains("resin")
    })
}

/// Where the line states its amount.
fn stated(material: &Material) -> Option<(At, &Quantity)> {
    let ruling = material.stated_by_rank().into_iter().next()?;
    let quantity = ruling.quantity.as_ref()?;
    let at = At {
        line: material.line,
        span: quantity.span,
    };
    Some((at, quantity))
}

/// A tenth of it, where that is as much as the other, or up to twice.
fn tenth(
    plan: &Plan,
    finding: Finding,
    material: &Material,
    quantity: &Quantity,
    ratio: f64,
) -> Finding {
    let one = material.stated.len() == 1 && quantity.to.is_none();
    let fits = (0.8..=2.5).contains(&(ratio / 10.0));
    let counted = material
        .stated
        .iter()
        .any(|amount| amount.kind == AmountKind::Equivalents);
    let number = show::scaled(&quantity.number, 0.1).filter(|_| one && fits && counted);
    match number {
        Some(number) => {
            let at = At {
                line: material.line,
                span: quantity.number.span,
            };
            let title = format!("Write {number} eq");
            finding.fix(title, vec![edit::replace(plan, at, number)])
        }
        None => finding,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{expect, expect_fixed};

    fn plan(title: &str, materials: &str) -> String {
        format!(
            "\nplan {title}\nscale 2.00 mmol acid\nmaterials\n  acid: benzoic acid, 1.00 eq\n{materials}\n"
        )
    }

    #[test]
    fn a_thousandth_of_what_is_sold() {
        let before = "
plan A
scale 10 mmol a
materials
  a: benzaldehyde, 1.00 eq
  b: n-butyllithium, 2.5 mM in hexanes, 1.1 eq
                     ^^^^^^ warning: b is 2.5 mM, a thousandth of what it is sold as: check the unit.
";
        expect(&CHECK, before);
        let after = "plan A\nscale 10 mmol a\nmaterials\n  a: benzaldehyde, 1.00 eq\n  b: n-butyllithium, 2.5 M in hexanes, 1.1 eq\n";
        expect_fixed(&CHECK, &after.replace("2.5 M", "2.5 mM"), 0, after);
        for other in [
            "n-butyllithium, 2.5 M in hexanes",
            "n-butyllithium, 40 mM in hexanes",
            "sodium hydroxide, 1 mM in water",
        ] {
            expect(
                &CHECK,
                &after.replace("n-butyllithium, 2.5 M in hexanes", other),
            );
        }
    }

    #[test]
    fn finds_ten_times_the_azodicarboxylate() {
        let before = plan(
            "Mitsunobu",
            "  pph3: triphenylphosphine, 1.50 eq
  diad: diisopropyl azodicarboxylate, 15 eq
                                      ^^^^^ warning: diad is 30.0 mmol for 3.00 mmol of pph3, and the two react one to one: check both amounts.",
        );
        expect(&CHECK, &before);
        let after = plan(
            "Mitsunobu",
            "  pph3: triphenylphosphine, 1.50 eq\n  diad: diisopropyl azodicarboxylate, 1.5 eq",
        );
        expect_fixed(&CHECK, &before, 0, &after);
        expect(&CHECK, &after);
        expect(
            &CHECK,
            &plan(
                "Mitsunobu",
                "  pph3: triphenylphosphine, 12 eq
                            ^^^^^ warning: pph3 is 24.0 mmol for 2.40 mmol of dead
  dead: DEAD, 40 wt% in toluene, 1.2 eq",
            ),
        );
    }

    #[test]
    fn thinks_of_ten_times_the_coupling_reagent() {
        let before = plan(
            "Amide",
            "  amine: benzylamine, 1.10 eq
  hatu: HATU, 12 eq
              ^^^^^ information: hatu is 24.0 mmol for 2.00 mmol of acid, and an acid takes one: check its amount.
  dipea: DIPEA, 3.0 eq",
        );
        expect(&CHECK, &before);
        let after = plan(
            "Amide",
            "  amine: benzylamine, 1.10 eq\n  hatu: HATU, 1.2 eq\n  dipea: DIPEA, 3.0 eq",
        );
        expect_fixed(&CHECK, &before, 0, &after);
        expect(&CHECK, &after);
    }

    #[test]
    fn is_silent_where_it_may_be_meant() {
        for (title, materials) in [
            (
                "Test",
                "  pph3: triphenylphosphine, 2.0 eq\n  diad: DIAD, 3.0 eq",
            ),
            (
                "Test",
                "  pph3: triphenylphosphine, 2.0 eq\n  diad: DIAD, 0.10 eq",
            ),
            (
                "Catalytic Mitsunobu",
                "  pph3: triphenylphosphine, 0.5 eq\n  diad: DIAD, 5 eq",
            ),
            ("Test", "  diad: DIAD, 15 eq"),
            ("Test", "  hatu: HATU, 5.0 eq"),
            (
                "Test",
                "  resin: Rink amide resin, 0.50 mmol/g, 0.10 eq, MW 1\n  hatu: HATU, 10 eq",
            ),
            (
                "Test",
                "  other: 4-nitrobenzoic acid, 10 eq\n  hatu: HATU, 10 eq",
            ),
        ] {
            expect(&CHECK, &plan(title, materials));
        }
        let small =
            plan("Test", "  edc: EDC hydrochloride, 12 eq").replace("2.00 mmol", "5.0 µmol");
        expect(&CHECK, &small);
    }
}
