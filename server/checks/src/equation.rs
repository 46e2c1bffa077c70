//! The equation of the plan: its terms, its balance, and what it lets form.

use crate::Survey;
use crate::edit::{self, Edit};
use crate::{Check, Finding, Severity, scale_not_limiting, sensitive, unknown_key};
use chemistry::{Balancing, Conserved, Formula, Ratio, Side};
use plan::equation::{Balance, Equation, EquationTerm, float};
use plan::{At, Plan, show};
use std::sync::Arc;
use syntax::{AmountKind, FieldKind, Role, Span, Statement};

pub(crate) const CHECK: Check = Check {
    name: "equation",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Equation that does not balance

**Finds** a `reaction` line that does not balance in atoms or charge, and says what is missing on which side; a term
that is neither a key nor a substance nor a formula; and a product whose equivalents the equation cannot give.

Where whole coefficients balance the terms as they stand, and only one set of them, they are offered; so is a small
molecule that is the exact difference. Where the composition of a term is not known nothing is said about the balance.

**Why it matters.** The coefficients decide what runs out first and what 100 % is. An equation that does not balance has
a wrong coefficient, a wrong formula or a forgotten by-product; the last is often the gas, the salt or the water that
the work-up has to deal with.

**Example**

    scale 5.00 mmol acid
    reaction acid + amine -> amide
    materials
      acid:  benzoic acid, 1.00 eq
      amine: benzylamine, 1.10 eq
    products
      amide: C14H13NO, 1.00 eq

**Write instead** what is missing, as a formula if it has no line

    scale 5.00 mmol acid
    reaction acid + amine -> amide + H2O

**Sources.** Conservation of atoms and charge.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    expected_yields(plan, findings);
    second_equations(plan, findings);
    let Some(equation) = &plan.equation else {
        return;
    };
    let strangers = strangers(plan, equation);
    let readable = strangers.is_empty() && !equation.left.is_empty() && !equation.right.is_empty();
    let left = |at: At| equation.left.iter().any(|term| term.at == at);
    let reactants_known =
        !strangers.iter().any(|stranger| left(stranger.at)) && !scale_names_a_stranger(plan);
    findings.extend(strangers);
    if readable {
        match plan.balance() {
            None | Some(Balance::Balanced | Balance::TooLarge) => {}
            Some(Balance::Off { atoms, charge }) => {
                findings.push(off(plan, equation, atoms, *charge));
            }
            Some(Balance::Unknown(names)) => findings.push(unknown(equation, names)),
        }
    }
    // Where another reactant runs out before the scale's, the scale is the one finding.
    if reactants_known && scale_not_limiting::runs_out_first(plan).is_none() {
        products(plan, equation, findings);
    }
}

/// A reactant without a line may be the one that runs out first.
fn scale_names_a_stranger(plan: &Plan) -> bool {
    let named = plan
        .text
        .lines
        .iter()
        .find_map(|line| match &line.statement {
            Statement::Scale(scale) => Some(scale.key.is_some()),
            _ => None,
        });
    let resolved = plan
        .ledger
        .scale
        .as_ref()
        .is_some_and(|scale| scale.key.is_some());
    named == Some(true) && !resolved
}

/// Terms that are neither key nor substance nor formula.
fn strangers(plan: &Plan, equation: &Equation) -> Vec<Finding> {
    let stranger = |term: &&EquationTerm| {
        term.material.is_none() && term.formula.is_none() && !unknown_key::is_known(&term.name)
    };
    let finding = |term: &EquationTerm| {
        let name = &term.name;
        let message = format!(
            "{name} is neither a key of this plan, nor a substance of the library, nor a formula: mend the spelling, or write its formula."
        );
        let finding = Finding::new(&CHECK, term.at, message);
        if named_elsewhere(plan, term) {
            return finding;
        }
        let near = unknown_key::nearest(plan, name);
        let near = near.iter().fold(finding, |finding, key| {
            finding.fix(
                format!("Write {key}"),
                vec![edit::replace(plan, term.at, key.as_str())],
            )
        });
        chemistry::nearest_names(name, 2)
            .into_iter()
            .filter(|near| !near.contains(' '))
            .fold(near, |finding, name| {
                finding.fix(
                    format!("Write {name}"),
                    vec![edit::replace(plan, term.at, name)],
                )
            })
    };
    equation.terms().filter(stranger).map(finding).collect()
}

/// The steps or the scale call it that as well: its line is missing, and its spelling is meant.
fn named_elsewhere(plan: &Plan, term: &EquationTerm) -> bool {
    (0u32..).zip(&plan.text.lines).any(|(index, _)| {
        let at = sensitive::line_at(plan, index);
        let words = plan.slice(at.line, at.span).unwrap_or("");
        index != term.at.line
            && words
                .split(|c: char| !c.is_alphanumeric() && !"_-".contains(c))
                .any(|word| word == &*term.name)
    })
}

fn off(
    plan: &Plan,
    equation: &Equation,
    atoms: &[(String, Ratio<i64>)],
    charge: Ratio<i64>,
) -> Finding {
    let zero = Ratio::from_integer(0);
    // The order of Hill: carbon, hydrogen, then by the alphabet.
    let mut atoms: Vec<&(String, Ratio<i64>)> = atoms.iter().collect();
    atoms.sort_by_key(|(symbol, _)| (symbol != "C", symbol != "H", symbol));
    let side = |sign: i64| {
        let count = |missing: Ratio<i64>| missing * sign;
        let mut words: Vec<String> = atoms
            .iter()
            .filter(|(_, missing)| count(*missing) > zero)
            .map(|(symbol, missing)| format!("{} {symbol}", count(*missing)))
            .collect();
        if count(charge) > zero {
            words.push(format!("{} positive charge", count(charge)));
        }
        words.join(", ")
    };
    let lacks: Vec<String> = [("right", side(1)), ("left", side(-1))]
        .into_iter()
        .filter(|(_, words)| !words.is_empty())
        .map(|(name, words)| format!("the {name} side lacks {words}"))
        .collect();
    let balancing = equation.balancing();
    let balanced = match &balancing {
        Some(Balancing::Balanced { left, right }) => balanced(plan, equation, left, right),
        _ => None,
    };
    let completion = completion(plan, equation);
    let next = match (&balanced, &completion) {
        (Some((terms, _)), _) => format!("with the coefficients {terms} it is"),
        (None, Some((term, side, _))) => {
            format!("add {term} on the {side}, or check coefficients and formulae")
        }
        (None, None) => hindrance(equation, balancing.as_ref()),
    };
    let message = format!(
        "The equation is not balanced: {}; {next}.",
        lacks.join(", and ")
    );
    let finding = Finding::new(&CHECK, equation.at, message).severity(Severity::Warning);
    let finding = match balanced {
        Some((terms, edits)) => finding.fix(format!("Write {terms}"), edits),
        None => finding,
    };
    match completion {
        Some((term, side, edits)) => finding.fix(format!("Add {term} on the {side}"), edits),
        None => finding,
    }
}

/// Why no coefficients are offered, and what to do.
fn hindrance(equation: &Equation, balancing: Option<&Balancing>) -> String {
    let names = |wanted: &[usize]| {
        let terms = equation.terms().enumerate();
        let names: Vec<&str> = terms
            .filter(|(index, _)| wanted.contains(index))
            .map(|(_, term)| &*term.name)
            .collect();
        names.join(" and ")
    };
    match balancing {
        Some(Balancing::OneSided(kinds)) => {
            let word = |side| match side {
                Side::Left => "left",
                Side::Right => "right",
            };
            let kinds: Vec<String> = kinds
                .iter()
                .map(|(what, side)| match what {
                    Conserved::Charge => format!("charge is left over on the {}", word(*side)),
                    Conserved::Atom(_) => format!("{what} stands on the {} only", word(*side)),
                })
                .collect();
            format!(
                "no coefficients help, for {}: add what is missing, or check the formulae",
                kinds.join(", and ")
            )
        }
        Some(Balancing::NoSolution { wrong_side, .. }) if !wrong_side.is_empty() => format!(
            "it would be with {} on the other side: check what goes in and what comes out",
            names(wrong_side)
        ),
        Some(Balancing::NoSolution { unused, .. }) if !unused.is_empty() => format!(
            "no coefficients help as long as {} takes part: check the formulae, or add what is missing",
            names(unused)
        ),
        Some(Balancing::NoSolution { .. }) => {
            "no coefficients help: check the formulae, or add what is missing".to_owned()
        }
        Some(Balancing::NotUnique { .. }) => {
            "more than one set of coefficients may do, so none is offered: write those of the reaction that is meant"
                .to_owned()
        }
        _ => "check coefficients and formulae, or add what is missing".to_owned(),
    }
}

/// The least coefficient of a reaction that is planned is hardly ever more (common practice): `4 NH3 + 5 O2 -> 4 NO + 6 H2O`.
const LEAST: u64 = 4;

/// The equation with the coefficients that balance it, and the edits that write them.
fn balanced(
    plan: &Plan,
    equation: &Equation,
    left: &[u64],
    right: &[u64],
) -> Option<(String, Vec<Edit>)> {
    let written = |coefficient: u64| match coefficient {
        1 => String::new(),
        more => format!("{more} "),
    };
    // Such an equation has a wrong formula in it, not wrong coefficients.
    let of_keys = equation.terms().any(|term| term.material.is_some());
    if of_keys && left.iter().chain(right).min() > Some(&LEAST) {
        return None;
    }
    let mut edits = Vec::new();
    for (term, &coefficient) in equation.terms().zip(left.iter().chain(right)) {
        // The language reads no longer ones.
        let readable = u32::try_from(coefficient).ok()?;
        if term.coefficient == Ratio::from_integer(i64::from(readable)) {
            continue;
        }
        let name = plan.range(term.at).start;
        edits.push(match term.coefficient_at {
            None => (name..name, written(coefficient)),
            Some(at) if coefficient == 1 => (plan.range(at).start..name, String::new()),
            Some(at) => edit::replace(plan, at, coefficient.to_string()),
        });
    }
    let side = |terms: &[EquationTerm], coefficients: &[u64]| {
        let terms = terms.iter().zip(coefficients);
        let words: Vec<String> = terms
            .map(|(term, &n)| format!("{}{}", written(n), term.name))
            .collect();
        words.join(" + ")
    };
    let whole = format!(
        "{} -> {}",
        side(&equation.left, left),
        side(&equation.right, right)
    );
    (!edits.is_empty()).then_some((whole, edits))
}

/// Small molecules that are often left out of an equation.
const LEFT_OUT: &[&str] = &[
    "H2O", "HCl", "HBr", "HI", "HF", "H2", "N2", "O2", "CO2", "CO", "NH3", "SO2", "CH4", "C2H6",
    "C4H10", "CH4O", "C2H6O", "C2H4O2", "C6H6", "LiCl", "LiBr", "LiI", "NaCl", "NaBr", "NaI",
    "KCl", "KBr", "KI", "LiOH", "NaOH", "KOH", "MgBr2", "MgCl2", "C18H15OP",
];

/// The one small molecule that would balance the equation, and the edit that adds it.
fn completion(plan: &Plan, equation: &Equation) -> Option<(String, &'static str, Vec<Edit>)> {
    LEFT_OUT.iter().find_map(|text| {
        let formula = Arc::new(Formula::parse(text).ok()?);
        // What stands there already has a wrong coefficient.
        let stands = |term: &EquationTerm| {
            let own = term.formula.as_ref();
            own.is_some_and(|own| own.same_composition(&formula))
        };
        if equation.terms().any(stands) {
            return None;
        }
        (1..=6).find_map(|count| {
            [true, false].into_iter().find_map(|on_right| {
                let mut whole = equation.clone();
                let side = if on_right {
                    &mut whole.right
                } else {
                    &mut whole.left
                };
                let end = side.last()?.at.span.end;
                side.push(EquationTerm {
                    coefficient: Ratio::from_integer(count),
                    coefficient_at: None,
                    material: None,
                    formula: Some(formula.clone()),
                    name: (*text).into(),
                    at: equation.at,
                });
                if whole.balance() != Balance::Balanced {
                    return None;
                }
                let term = if count == 1 {
                    (*text).to_owned()
                } else {
                    format!("{count} {text}")
                };
                let at = At {
                    line: equation.at.line,
                    span: Span { start: end, end },
                };
                let edits = vec![edit::replace(plan, at, format!(" + {term}"))];
                Some((term, if on_right { "right" } else { "left" }, edits))
            })
        })
    })
}

fn unknown(equation: &Equation, names: &[Arc<str>]) -> Finding {
    let names: Vec<&str> = names.iter().map(|name| &**name).collect();
    let message = format!(
        "The balance cannot be checked, because the composition of {} is not known: add `formula …` to its line.",
        names.join(", ")
    );
    let first = equation.terms().find(|term| term.formula.is_none());
    let at = first.map_or(equation.at, |term| term.at);
    Finding::new(&CHECK, at, message).severity(Severity::Information)
}

/// Equivalents of a product that the equation does not give.
fn products(plan: &Plan, equation: &Equation, findings: &mut Vec<Finding>) {
    let Some(limiting) = &plan.ledger.limiting else {
        return;
    };
    let Some((first, first_amounts)) = plan.material(limiting.key) else {
        return;
    };
    for term in &equation.right {
        let Some((product, amounts)) = term.material.and_then(|key| plan.material(key)) else {
            continue;
        };
        let stated = product
            .stated
            .iter()
            .find(|amount| amount.kind == AmountKind::Equivalents);
        let (Some(stated), Ok(theory), Ok(n), Ok(from)) = (
            stated,
            &amounts.equivalents,
            &amounts.amount,
            &first_amounts.amount,
        ) else {
            continue;
        };
        let Some(quantity) = stated
            .quantity
            .as_ref()
            .filter(|quantity| quantity.to.is_none())
        else {
            continue;
        };
        let Some(written) = plan::convert::share(quantity, product.line) else {
            continue;
        };
        let over = written.value.value - theory.value.value;
        let slack = (written.half_width + theory.half_width).value * 1.000_001;
        if over.abs() <= slack || product.role == Some(Role::ByProduct) || theory.value.value <= 0.0
        {
            continue;
        }
        let (key, first_key) = (&product.key.text, &first.key.text);
        let gives = format!(
            "{} ({})",
            show::amount(n.value),
            show::equivalents(theory.value)
        );
        let counts = plan.slice(product.line, stated.span).unwrap_or("more");
        let message = format!(
            "{first_key} runs out first: {} of it, {} in the equation, gives {gives} of {key}, but this line counts on {counts}.",
            show::amount(from.value),
            coefficients(limiting.coefficient, term.coefficient),
        );
        let severity = if over > 0.0 {
            Severity::Warning
        } else {
            Severity::Information
        };
        let mut finding = Finding::new(
            &CHECK,
            At {
                line: product.line,
                span: stated.span,
            },
            message,
        )
        .severity(severity)
        .related(equation.at, "the equation");
        if let Some(number) =
            show::scaled(&quantity.number, theory.value.value / written.value.value)
        {
            let at = At {
                line: product.line,
                span: quantity.number.span,
            };
            finding = finding.fix(
                format!("Write {number} eq"),
                vec![edit::replace(plan, at, number)],
            );
        }
        findings.push(finding);
    }
}

fn coefficients(from: Ratio<i64>, to: Ratio<i64>) -> String {
    format!("{} for {}", show_coefficient(from), show_coefficient(to))
}

fn show_coefficient(coefficient: Ratio<i64>) -> String {
    if coefficient.is_integer() {
        coefficient.to_string()
    } else {
        show::number(float(coefficient), 2)
    }
}

fn second_equations(plan: &Plan, findings: &mut Vec<Finding>) {
    let lines = plan.text.lines.iter().zip(0u32..);
    let equations: Vec<At> = lines
        .filter_map(|(line, index)| match &line.statement {
            Statement::Reaction(reaction) => Some(At {
                line: index,
                span: reaction.span,
            }),
            _ => None,
        })
        .collect();
    let Some((first, others)) = equations.split_first() else {
        return;
    };
    for &at in others {
        let message =
            "The plan has an equation already, and the first one rules: keep one of the two.";
        let finding = Finding::new(&CHECK, at, message).severity(Severity::Warning);
        findings.push(finding.related(*first, "the equation that rules"));
    }
}

/// `expect 120 %`
fn expected_yields(plan: &Plan, findings: &mut Vec<Finding>) {
    for product in &plan.materials {
        let Some(expected) = &product.expected_yield else {
            continue;
        };
        if expected.value.value - 1.0 <= expected.half_width.value {
            continue;
        }
        let Some(Statement::Entry(entry)) = plan
            .text
            .lines
            .get(product.line as usize)
            .map(|line| &line.statement)
        else {
            continue;
        };
        let span = entry
            .fields
            .iter()
            .find_map(|field| matches!(field.kind, FieldKind::Expect(_)).then_some(field.span));
        let Some(span) = span else { continue };
        let message = format!(
            "More than 100 % of {} cannot form: write the expected yield.",
            product.key.text
        );
        findings.push(Finding::new(
            &CHECK,
            At {
                line: product.line,
                span,
            },
            message,
        ));
    }
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{expect, expect_fixed};

    #[test]
    fn a_forgotten_by_product_is_named_and_added() {
        let plan = "
plan A
scale 5.00 mmol acid
reaction acid + amine -> amide
         ^^^^^^^^^^^^^^^^^^^^^ warning: The equation is not balanced: the right side lacks 2 H, 1 O; add H2O on the right
materials
  acid: benzoic acid, 1.00 eq
  amine: benzylamine, 1.10 eq
products
  amide: C14H13NO, 1.00 eq, expect 90 %
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
scale 5.00 mmol acid
reaction acid + amine -> amide + H2O
materials
  acid: benzoic acid, 1.00 eq
  amine: benzylamine, 1.10 eq
products
  amide: C14H13NO, 1.00 eq, expect 90 %
",
        );
    }

    #[test]
    fn what_is_missing_is_named_on_both_sides_and_with_its_charge() {
        expect(&CHECK, "
plan A
reaction Na+ + Br2 -> NaBr + C2H4
         ^^^^^^^^^^^^^^^^^^^^^^^^ warning: The equation is not balanced: the right side lacks 1 Br, 1 positive charge, and the left side lacks 2 C, 4 H
");
    }

    #[test]
    fn coefficients_balance() {
        expect(
            &CHECK,
            "
plan A
reaction 2 H2 + O2 -> 2 H2O
",
        );
        expect(
            &CHECK,
            "
plan A
reaction H2 + 1/2 O2 -> H2O
",
        );
    }

    #[test]
    fn a_term_that_is_nothing_is_reported() {
        let plan = "
plan A
scale 5.00 mmol ketone
reaction keton + H2 -> C3H8O
         ^^^^^ error: keton is neither a key of this plan
materials
  ketone: acetone, 1.00 eq
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
scale 5.00 mmol ketone
reaction ketone + H2 -> C3H8O
materials
  ketone: acetone, 1.00 eq
",
        );
    }

    #[test]
    fn an_unknown_composition_is_named_once() {
        expect(&CHECK, "
plan A
scale 5.00 mmol ketone
reaction ketone + ligand -> product
                  ^^^^^^ information: The balance cannot be checked, because the composition of ligand, product
materials
  ketone: acetone, 1.00 eq
  ligand: compound 3, 1.0 eq
products
  product: compound 4
");
    }

    #[test]
    fn a_product_cannot_be_more_than_the_equation_gives() {
        // Two of acetaldehyde for one aldol.
        let plan = "
plan A
scale 10.0 mmol aldehyde
reaction 2 aldehyde -> aldol
materials
  aldehyde: acetaldehyde, 1.00 eq
products
  aldol: C4H8O2, 1.00 eq, expect 60 %
                 ^^^^^^^ warning: aldehyde runs out first: 10.0 mmol of it, 2 for 1 in the equation, gives 5.00 mmol (0.500 eq) of aldol
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
scale 10.0 mmol aldehyde
reaction 2 aldehyde -> aldol
materials
  aldehyde: acetaldehyde, 1.00 eq
products
  aldol: C4H8O2, 0.500 eq, expect 60 %
",
        );
    }

    #[test]
    fn a_second_equation_is_not_read() {
        expect(
            &CHECK,
            "
plan A
reaction 2 H2 + O2 -> 2 H2O
reaction H2 + Cl2 -> 2 HCl
         ^^^^^^^^^^^^^^^^^ warning: The plan has an equation already
",
        );
    }

    #[test]
    fn offers_the_coefficients_that_balance() {
        expect_fixed(
            &CHECK,
            r"
plan A
reaction a + O2 -> 2 CO2 + H2O
         ^^^^^^^^^^^^^^^^^^^^^ warning: The equation is not balanced: the right side lacks 1 C, 6 H, and the left side lacks 3 O; with the coefficients a + 5 O2 -> 3 CO2 + 4 H2O it is.
materials
  a: propane, formula C3H8
",
            0,
            r"
plan A
reaction a + 5 O2 -> 3 CO2 + 4 H2O
materials
  a: propane, formula C3H8
",
        );
    }

    #[test]
    fn coefficients_are_written_where_they_stand() {
        expect_fixed(
            &CHECK,
            "
plan A
reaction 3  H2   +  2N2  → 5 NH3   # Haber and Bosch
         ^^^^^^^^^^^^^^^^^^^^^^^ warning: The equation is not balanced: the left side lacks 9 H, and the right side
",
            0,
            "
plan A
reaction 3  H2   +  N2  → 2 NH3   # Haber and Bosch
",
        );
    }

    #[test]
    fn what_cannot_be_balanced_says_why_and_offers_nothing() {
        let plan = "
plan A
reaction KMnO4 + H2O2 + H2SO4 -> MnSO4 + K2SO4 + H2O + O2
         ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ warning: The equation is not balanced: the right side lacks 2 H, and the left side lacks 1 K, 1 O, 1 S; more than one set of coefficients may do
";
        expect(&CHECK, plan);
        let plan = plan::Plan::read(plan.split('^').next().unwrap_or_default());
        assert!(crate::findings(&plan).iter().all(|f| f.fixes.is_empty()));
        expect(
            &CHECK,
            "
plan A
reaction CO2 + H2O + O2 -> C6H12O6
         ^^^^^^^^^^^^^^^^^^^^^^^^^ warning: The equation is not balanced: the left side lacks 5 C, 10 H, 1 O; it would be with O2 on the other side
",
        );
        expect(
            &CHECK,
            "
plan A
reaction Ag+ + Cl2 -> AgCl
         ^^^^^^^^^^^^^^^^^ warning: The equation is not balanced: the right side lacks 1 Cl, 1 positive charge; no coefficients help, for charge is left over on the left
",
        );
        expect(
            &CHECK,
            "
plan A
reaction NaCl + KF -> KCl
         ^^^^^^^^^^^^^^^^ warning: The equation is not balanced: the right side lacks 1 F, 1 Na; no coefficients help, for F stands on the left only, and Na stands on the left only
",
        );
    }

    #[test]
    fn more_than_everything_cannot_be_expected() {
        expect(
            &CHECK,
            "
plan A
scale 5.00 mmol ketone
materials
  ketone: acetone, 1.00 eq
products
  alcohol: C3H8O, 1.00 eq, expect 120 %
                           ^^^^^^^^^^^^ error: More than 100 % of alcohol
",
        );
    }
}
