//! Stated amounts of one line that cannot all be true.

use crate::Survey;
use crate::edit::{self, Edit};
use crate::{Check, Finding, Severity};
use plan::rescale::{self, Target};
use plan::{Amounts, At, Basis, Material, Origin, Plan, convert, show};
use syntax::{Amount, AmountKind, Bound, FieldKind, Quantity, Statement};

pub(crate) const CHECK: Check = Check {
    name: "amounts-disagree",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Amounts that disagree

**Finds** amounts of one line that disagree by more than their digits claim: equivalents against a mass, a mass against
a volume and a density, millimoles against grams, a molar mass against the formula beside it.

`2.1 g` does not disagree with 2.14 g: its two digits claim anything from 2.05 g to 2.15 g. Amounts that are only
measured (`took`, `obtained`) or called `about` are never compared. Where a volume is held against the density of the
library, half a percent more is allowed for the temperature; write `d …` to have it held against that of your bottle.

**Why it matters.** One of the two would be weighed and the other believed. The usual causes are two digits swapped, a
line that was not rescaled with the others, and the strength of another bottle.

**Example**

    scale 5.00 mmol ketone
    materials
      ketone: 4-tert-butylcyclohexanone, 1.00 eq
      salt:   methyltriphenylphosphonium bromide, 1.20 eq, 2.41 g

**Write instead** 2.14 g, which 1.20 eq is here, or let the whole plan follow the 2.41 g that were weighed

    materials
      salt:   methyltriphenylphosphonium bromide, 1.20 eq, 2.14 g

**Sources.** Half a unit of the last digit as the interval that a number claims, JCGM 100:2008, 4.3.7; standard atomic
weights, CIAAW 2021.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for (index, (material, amounts)) in plan.materials.iter().zip(&plan.ledger.amounts).enumerate()
    {
        let wrong: Vec<(usize, &Amount, &Quantity, Pair)> = rescale::disagreeing(plan, index)
            .into_iter()
            .filter_map(|stated| {
                let amount = material.stated.get(stated)?;
                let quantity = amount
                    .quantity
                    .as_ref()
                    .filter(|quantity| quantity.bound == Bound::Exact)?;
                let pair = Pair::of(quantity, material, amounts)?;
                if by_density(material, amount) && pair.within(DENSITY_TOLERANCE) {
                    return None;
                }
                (!as_expected(quantity, material, amounts))
                    .then_some((stated, amount, quantity, pair))
            })
            .collect();
        if let Some(finding) = disagreement(plan, index, material, &wrong) {
            findings.push(finding);
        }
        molar_mass(plan, material, findings);
    }
}

/// A density falls by about 0.1 % a kelvin, and tables give it at 20 or 25 °C.
const DENSITY_TOLERANCE: f64 = 5e-3;

/// Whether a volume and something else are compared over a density that the line does not write.
fn by_density(material: &Material, amount: &Amount) -> bool {
    let from_library = matches!(&material.density, Ok(density) if matches!(density.origin, Origin::Library { .. }));
    let ruling = material.stated_by_rank().into_iter().next();
    let volume = |amount: &Amount| amount.kind == AmountKind::Volume;
    from_library && (volume(amount) || ruling.is_some_and(volume))
}

/// One finding a line: at the first amount that disagrees, with the others beside it.
fn disagreement(
    plan: &Plan,
    index: usize,
    material: &Material,
    wrong: &[(usize, &Amount, &Quantity, Pair)],
) -> Option<Finding> {
    let ((stated, amount, quantity, pair), others) = wrong.split_first()?;
    let at = |amount: &Amount| At {
        line: material.line,
        span: amount.span,
    };
    let key = &material.key.text;
    let text = |amount: &Amount| {
        plan.slice(material.line, amount.span)
            .unwrap_or("the amount")
            .to_owned()
    };
    let ruling = ruling(material, wrong);
    let makes = match ruling {
        Some(ruling) => format!("{} is", text(ruling)),
        None if material.product => "the equation gives".to_owned(),
        None => "the plan makes".to_owned(),
    };
    let message = format!(
        "{key}: {makes} {} here, but the line says {}: let one follow the other.",
        pair.computed_text(),
        text(amount)
    );
    let mut finding = Finding::new(&CHECK, at(amount), message);
    for (_, amount, _, pair) in others {
        finding = finding.related(
            at(amount),
            format!("{} would be {}", text(amount), pair.computed_text()),
        );
    }
    if let Some(edits) = line_follows(plan, material, wrong) {
        let title = format!("Let this line follow: {}", pair.rewritten(quantity)?);
        finding = finding.fix(title, edits);
    }
    if let Some((title, edits)) =
        others_follow(plan, index, material, *stated, quantity, pair, ruling)
    {
        finding = finding.fix(title, edits);
    }
    Some(finding.undecided())
}

/// What the disagreeing amounts were held against: the amount that rules the line.
fn ruling<'a>(
    material: &'a Material,
    wrong: &[(usize, &Amount, &Quantity, Pair)],
) -> Option<&'a Amount> {
    let is_wrong = |amount: &Amount| wrong.iter().any(|(_, other, ..)| other.span == amount.span);
    let mut stated = material.stated_by_rank().into_iter();
    stated.find(|amount| amount.quantity.is_some() && !is_wrong(amount))
}

fn line_follows(
    plan: &Plan,
    material: &Material,
    wrong: &[(usize, &Amount, &Quantity, Pair)],
) -> Option<Vec<Edit>> {
    let follow = wrong
        .iter()
        .map(|(_, _, quantity, pair)| (*quantity, pair.computed / pair.written));
    edit::multiply(plan, material.line, follow)
}

/// The whole plan follows the written amount where the line hangs on the scale; otherwise the rest of the line.
fn others_follow(
    plan: &Plan,
    index: usize,
    material: &Material,
    stated: usize,
    quantity: &Quantity,
    pair: &Pair,
    ruling: Option<&Amount>,
) -> Option<(String, Vec<Edit>)> {
    let ruling = ruling?;
    let hangs_on_scale = !matches!(
        ruling.kind,
        AmountKind::Amount | AmountKind::Mass | AmountKind::Volume
    );
    if hangs_on_scale {
        let rescaling = rescale::rescale(
            plan,
            &Target::Line {
                material: index,
                stated,
            },
        )
        .ok()?;
        let edits = rescaling
            .edits
            .iter()
            .map(|(at, text)| edit::replace(plan, *at, text));
        return Some((
            format!("Let the whole plan follow: scale {}", rescaling.scale),
            edits.collect(),
        ));
    }
    let follow = plan.amounts_from(material, basis(quantity, material.line)?);
    let mut edits = Vec::new();
    for (other, amount) in material.stated.iter().enumerate() {
        let Some(old) = amount
            .quantity
            .as_ref()
            .filter(|old| other != stated && old.to.is_none())
        else {
            continue;
        };
        let Some(new) = Pair::of(old, material, &follow) else {
            continue;
        };
        let number = show::scaled(&old.number, new.computed / new.written)?;
        edits.push(edit::replace(
            plan,
            At {
                line: material.line,
                span: old.number.span,
            },
            number,
        ));
    }
    let words = plan.slice(material.line, quantity.span)?;
    edits.sort_by_key(|(range, _)| range.start);
    (pair.written > 0.0 && !edits.is_empty())
        .then(|| (format!("Let the rest of the line follow: {words}"), edits))
}

/// A product whose written amount is what is expected of it, not its theory, is in order.
fn as_expected(quantity: &Quantity, material: &Material, amounts: &Amounts) -> bool {
    let Some((mass, amount)) = &amounts.expected else {
        return false;
    };
    let expected = Amounts {
        mass: mass.clone(),
        amount: amount.clone(),
        ..amounts.clone()
    };
    Pair::of(quantity, material, &expected).is_some_and(|pair| pair.agrees())
}

/// A written amount and the computed one in the same unit, with their half-widths.
struct Pair {
    written: f64,
    computed: f64,
    slack: f64,
    shown: String,
}

impl Pair {
    fn of(quantity: &Quantity, material: &Material, amounts: &Amounts) -> Option<Pair> {
        macro_rules! pair {
            ($written:expr, $computed:expr, $show:path) => {{
                let (written, computed) = ($written, $computed.as_ref().ok()?);
                Pair {
                    written: written.value.value,
                    computed: computed.value.value,
                    slack: written.half_width.value + computed.half_width.value,
                    shown: $show(computed.value),
                }
            }};
        }
        Some(match basis(quantity, material.line)? {
            Basis::Amount(written) => pair!(written, amounts.amount, show::amount),
            Basis::Mass(written) => pair!(written, amounts.mass, show::mass),
            Basis::Volume(written) => pair!(written, amounts.volume, show::volume),
        })
    }

    fn agrees(&self) -> bool {
        self.within(0.0)
    }

    /// Agrees if the computed amount may be off by this share besides.
    fn within(&self, share: f64) -> bool {
        (self.written - self.computed).abs()
            <= (self.slack + self.computed.abs() * share) * 1.000_001
    }

    fn computed_text(&self) -> &str {
        &self.shown
    }

    /// The quantity with the computed number in its own unit: `2.14 g`.
    fn rewritten(&self, quantity: &Quantity) -> Option<String> {
        let number = show::scaled(&quantity.number, self.computed / self.written)?;
        Some(format!("{number} {}", show::unit(&quantity.unit)))
    }
}

fn basis(quantity: &Quantity, line: u32) -> Option<Basis> {
    convert::amount(quantity, line)
        .map(Basis::Amount)
        .or_else(|| convert::mass(quantity, line).map(Basis::Mass))
        .or_else(|| convert::volume(quantity, line).map(Basis::Volume))
}

/// `formula` and `MW` on one line.
fn molar_mass(plan: &Plan, material: &Material, findings: &mut Vec<Finding>) {
    // Older tables of atomic weights differ from the present ones by less.
    const TOLERANCE: f64 = 2e-3;
    let Some(Statement::Entry(entry)) = plan
        .text
        .lines
        .get(material.line as usize)
        .map(|line| &line.statement)
    else {
        return;
    };
    let (mut formula, mut number) = (None, None);
    for field in &entry.fields {
        match &field.kind {
            FieldKind::Formula(text) => formula = chemistry::Formula::parse(&text.text).ok(),
            FieldKind::MolarMass(found) => number = Some(found),
            _ => {}
        }
    }
    let (Some(formula), Some(number)) = (formula, number) else {
        return;
    };
    let Ok(computed) = formula.molar_mass() else {
        return;
    };
    let written = convert::molar_mass(number, material.line);
    let off = (written.value - computed.value).abs();
    if off <= written.half_width + computed.half_width + computed.value * TOLERANCE {
        return;
    }
    use chemistry::quantity::molar_mass::gram_per_mole;
    let right = show::number(computed.value.get::<gram_per_mole>(), 5);
    let at = At {
        line: material.line,
        span: number.span,
    };
    let message = format!(
        "{}: {} is {right} g/mol, but the line says MW {}: let one follow the other.",
        material.key.text,
        formula.text(),
        number.value
    );
    let finding = Finding::new(&CHECK, at, message).fix(
        format!("Write MW {right}"),
        vec![edit::replace(plan, at, right)],
    );
    findings.push(finding);
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{expect, expect_fixed, fixed};
    use plan::Plan;

    // Molar masses over the standard atomic weights of CIAAW 2021: C10H18O 154.253 g/mol,
    // C19H18BrP 357.231 g/mol; densities of the CRC Handbook, 95th edition: bromobenzene 1.4950 g/mL at 20 °C.

    const SWAPPED: &str = "
plan A
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq, 771 mg
  salt: methyltriphenylphosphonium bromide, 1.20 eq, 2.41 g
                                                     ^^^^^^ error: salt: 1.20 eq is 2.14 g here, but the line says 2.41 g
";

    #[test]
    fn equivalents_and_mass_disagree() {
        expect(&CHECK, SWAPPED);
        expect_fixed(
            &CHECK,
            SWAPPED,
            0,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq, 771 mg
  salt: methyltriphenylphosphonium bromide, 1.20 eq, 2.14 g
",
        );
    }

    #[test]
    fn the_plan_may_follow_the_line() {
        let mended = fixed(&CHECK, SWAPPED, 1);
        // 2.41 g / 357.231 g/mol / 1.20 = 5.622 mmol; × 154.253 g/mol = 867 mg.
        assert!(mended.contains("scale 5.62 mmol ketone"), "{mended}");
        assert!(
            mended.contains("1.20 eq, 2.41 g") && mended.contains("867 mg"),
            "{mended}"
        );
        expect(&CHECK, &mended);
    }

    #[test]
    fn two_amounts_that_follow_from_nothing_are_compared() {
        let plan = "
plan A
materials
  bromide: bromobenzene, 1.57 g, 1.50 mL
                                 ^^^^^^^ error: bromide: 1.57 g is 1.05 mL here
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "plan A\nmaterials\n  bromide: bromobenzene, 1.57 g, 1.05 mL",
        );
        // 1.50 mL × 1.495 g/mL = 2.24 g.
        expect_fixed(
            &CHECK,
            plan,
            1,
            "plan A\nmaterials\n  bromide: bromobenzene, 2.24 g, 1.50 mL",
        );
    }

    #[test]
    fn all_wrong_amounts_of_a_line_are_one_finding() {
        let plan = "
plan A
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  salt: methyltriphenylphosphonium bromide, 1.20 eq, 6.75 mmol, 2.41 g
                                                     ^^^^^^^^^ error: salt: 1.20 eq is 6.00 mmol here
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq
  salt: methyltriphenylphosphonium bromide, 1.20 eq, 6.00 mmol, 2.14 g
",
        );
    }

    #[test]
    fn a_molar_mass_disagrees_with_its_formula() {
        let plan = "
plan A
materials
  dma: dimethylacetamide, formula C4H9NO, MW 78.12, 1.0 g
                                             ^^^^^ error: dma: C4H9NO is 87.122 g/mol
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "plan A\nmaterials\n  dma: dimethylacetamide, formula C4H9NO, MW 87.122, 1.0 g",
        );
    }

    #[test]
    fn what_the_digits_allow_is_silent() {
        expect(
            &CHECK,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: 4-tert-butylcyclohexanone, 1.00 eq, 771 mg, took 768 mg
  salt: methyltriphenylphosphonium bromide, 1.20 eq, 2.1 g
  base: n-butyllithium, 2.5 M in hexanes, 1.15 eq, 2.3 mL
  wet: acetic acid, 2.0 eq, about 1 mL
  acid: our acid, formula C4H9NO, MW 87.12, 1.1 eq
  water: water, 1.000 g, 1.0034 mL
products
  alkene: C11H20, 1.00 eq, expect 85 %, 647 mg, obtained 600 mg
",
        );
    }

    #[test]
    fn without_a_scale_nothing_is_held_against_equivalents() {
        let text = "plan A\nmaterials\n  salt: methyltriphenylphosphonium bromide, 1.20 eq, 2.41 g, 6.75 mmol\n";
        expect(&CHECK, text);
        // 6.75 mmol rules where the equivalents have no scale.
        assert!(Plan::read(text).ledger.amounts[0].mass.is_ok());
    }
}
