//! Materials that no step uses.

use crate::Survey;
use crate::{Check, Finding, Severity};
use chemistry::{Found, ReagentClass};
use plan::{At, Material, Plan, takes};
use syntax::{Block, FieldKind, ModifierKind, PortionKind, Referent, Role, Span, Statement};

pub(crate) const CHECK: Check = Check {
    name: "never-used",
    severity: Severity::Information,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Material that no step uses

**Finds** materials that are listed and that no step mentions, by key or by name. `until no ketone by TLC` and
`water 1.0 mL/g of lah` only look at a substance. All such materials of a plan are one finding.

A plan without steps is not looked at, nor are gases, solvents of a mixture and stocks, and what another line is stated
against.

**Why it matters.** A bottle on the list and not in the steps is often a step that was forgotten while the plan was
written, or a line that was left over from the plan that this one was copied from.

**Example**

    materials
      ketone: acetone, 1.00 eq
      sieves: 4 Å molecular sieves, 1 g
    steps
      add ketone

**Write instead** the step, or take the line out

    steps
      add sieves
      add ketone

**Sources.** Common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    if takes::steps(&plan.text).next().is_none() {
        return;
    }
    let unused: Vec<&Material> = plan
        .materials
        .iter()
        .filter(|material| !is_used(plan, material))
        .collect();
    let Some((first, others)) = unused.split_first() else {
        return;
    };
    let place = |material: &Material| At {
        line: material.line,
        span: material.key.span,
    };
    let names: Vec<&str> = unused.iter().map(|material| &*material.key.text).collect();
    let message = format!(
        "No step uses {}: write the step, or take the line out.",
        names.join(", ")
    );
    let finding = Finding::new(&CHECK, place(first), message);
    let also = |finding: Finding, material: &&Material| {
        finding.related(place(material), "no step uses it either")
    };
    findings.push(others.iter().fold(finding, also));
}

fn is_used(plan: &Plan, material: &Material) -> bool {
    let is_gas = matches!(
        material.class(),
        Some(ReagentClass::InertGas | ReagentClass::Hydrogen)
    ) || material
        .identity
        .substance
        .and_then(chemistry::Substance::state)
        == Some(chemistry::State::Gas)
        && !material.diluted;
    material.product
        || material.role == Some(Role::ByProduct)
        || is_gas
        || named_by_other_lines(plan, material)
        || named_by_steps(plan, material)
}

/// `1.0 mL/g of lah`, `0.10 M in dcm`, `thf/water 4:1`, and the scale do not put it to use; a stock and a mixture do.
fn named_by_other_lines(plan: &Plan, material: &Material) -> bool {
    let is_it = |name: &str| name.eq_ignore_ascii_case(&material.key.text);
    let entries = plan
        .text
        .lines
        .iter()
        .filter_map(|line| match &line.statement {
            Statement::Entry(entry) if !is_it(&entry.key.text) => Some(entry),
            _ => None,
        });
    entries
        .flat_map(|entry| &entry.fields)
        .any(|field| match &field.kind {
            FieldKind::Strength(strength) => strength
                .carrier
                .as_ref()
                .is_some_and(|(text, _)| is_it(&text.text)),
            FieldKind::Mixture(parts) => parts.iter().any(|(text, _)| is_it(&text.text)),
            FieldKind::Amount(amount) => amount
                .of
                .as_ref()
                .is_some_and(|(text, _)| is_it(&text.text)),
            _ => false,
        })
}

/// By its key in a step or a note, or by another name of the same substance. `until no ketone by TLC` and
/// `1.0 mL/g of lah` put nothing in.
fn named_by_steps(plan: &Plan, material: &Material) -> bool {
    if plan.takes_of(material.id).next().is_some() {
        return true;
    }
    let key = material.key.text.to_lowercase();
    let steps = plan
        .text
        .lines
        .iter()
        .zip(0u32..)
        .filter(|(line, _)| line.block == Block::Steps);
    let by_key = steps.clone().any(|(line, index)| {
        let mut start = 0;
        let mut spared = spared(&line.statement);
        let end = line.comment.map_or(line.len, |comment| comment.start);
        spared.push(Span { start: end, end });
        spared.into_iter().any(|span| {
            let from = std::mem::replace(&mut start, span.end);
            let before = Span {
                start: from,
                end: span.start,
            };
            names(plan.slice(index, before).unwrap_or(""), &key)
        })
    });
    by_key
        || takes::takes(&plan.text).any(|take| {
            let by_name = !matches!(
                take.thing.referent,
                Referent::Key(_) | Referent::Kept(_) | Referent::Standing(..)
            );
            by_name && is_same(material, &take.thing.name.text)
        })
}

fn names(text: &str, key: &str) -> bool {
    let is_key = |word: &str| {
        word.eq_ignore_ascii_case(key) || !word.is_ascii() && word.to_lowercase() == key
    };
    text.split(|c: char| c.is_whitespace() || ",;:.()/".contains(c))
        .any(is_key)
        || key.contains([' ', '/', '.', ':', '(', ')']) && text.to_lowercase().contains(key)
}

/// The parts of a step that only look at a substance, in order.
fn spared(statement: &Statement) -> Vec<Span> {
    let Statement::Step(step) = statement else {
        return Vec::new();
    };
    let mut spans: Vec<Span> = step
        .clauses
        .iter()
        .flat_map(|clause| {
            let looks = clause.modifiers.iter().filter_map(|modifier| {
                matches!(modifier.kind, ModifierKind::UntilText(_)).then_some(modifier.span)
            });
            let against = takes::things(clause)
                .flat_map(|(_, thing)| &thing.portions)
                .filter_map(|portion| match &portion.kind {
                    PortionKind::Amount { amount, .. } => {
                        amount.of.as_ref().map(|(text, _)| text.span)
                    }
                    _ => None,
                });
            looks.chain(against)
        })
        .collect();
    spans.sort_by_key(|span| span.start);
    spans
}

fn is_same(material: &Material, name: &str) -> bool {
    let found = chemistry::find_name(name);
    material.identity.name.eq_ignore_ascii_case(name)
        || matches!((found, material.identity.substance), (Found::One(one), Some(substance)) if one == substance)
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::expect;

    #[test]
    fn materials_that_no_step_uses_are_one_finding() {
        expect(
            &CHECK,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: acetone, 1.00 eq
  sieves: molecular sieves, 1.0 g
  ^^^^^^ information: No step uses sieves, base: write the step
  base: n-butyllithium, 2.5 M in hexanes, 1.1 eq
steps
  add ketone            # the base comes later
",
        );
    }

    #[test]
    fn a_look_is_no_use() {
        expect(
            &CHECK,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: acetone, 1.00 eq
  ^^^^^^ information: No step uses ketone, lah: write the step
  lah: lithium aluminium hydride, 0.50 eq
  thf: tetrahydrofuran, 20 mL
steps
  add thf
  stir for 1 h, until no ketone by TLC
  quench with water 1.0 mL/g of lah, dropwise
",
        );
    }

    #[test]
    fn a_plan_without_steps_is_not_looked_at() {
        expect(
            &CHECK,
            "
plan A
materials
  ketone: acetone, 1.00 eq
",
        );
    }

    #[test]
    fn use_has_many_forms() {
        expect(
            &CHECK,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: acetone, 1.00 eq
  dcm: dichloromethane
  catalyst: benzoic acid, 0.10 M in dcm, 5 mol%
  bicarb: sodium hydrogen carbonate, 1.0 g
  hydrogen: hydrogen, excess
  dbe: 1,2-dibromoethane, 2 drops
  thf: tetrahydrofuran
  mix: thf/water 4:1, 10 mL
products
  water: water, by-product
  alcohol: C3H8O, 1.00 eq
steps
  note if nothing starts, dbe is at hand
  dry ketone over sieves
  add catalyst, mix
  wash organics with sodium hydrogen carbonate 20 mL
",
        );
    }
}
