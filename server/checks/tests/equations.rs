//! Printed equations go through a whole plan: right ones are silent, and ones that lost their coefficients get them
//! back by the fix.

#![allow(clippy::unwrap_used)]

use checks::Finding;
use plan::Plan;

/// The printed answers that the balancer is held against; its test says where each was read.
const PRINTED: &str = include_str!("../../chemistry/tests/data/equations.tsv");

fn of_the_equation(text: &str) -> Vec<Finding> {
    let mut findings = checks::findings(&Plan::read(text));
    findings.retain(|finding| finding.check == "equation");
    findings
}

/// The equation without its coefficients.
fn bare(equation: &str) -> String {
    let term = |term: &str| {
        let (number, formula) = term.split_once(' ').unwrap_or(("1", term));
        if number.parse::<u64>().is_ok() {
            formula.to_owned()
        } else {
            term.to_owned()
        }
    };
    let side = |side: &str| side.split(" + ").map(term).collect::<Vec<_>>().join(" + ");
    let (left, right) = equation.split_once(" -> ").unwrap();
    format!("{} -> {}", side(left), side(right))
}

#[test]
fn printed_equations_balance_and_get_their_coefficients_back() {
    let mut repaired = 0;
    for row in PRINTED.lines().skip(1) {
        let equation = row.split_once('\t').unwrap().1.replace(" = ", " -> ");
        let plan = |equation: &str| format!("plan A\nreaction {equation}\n");
        let whole = plan(&equation);
        assert_eq!(of_the_equation(&whole), [], "{equation}");
        let mut stripped = plan(&bare(&equation));
        if stripped == whole {
            continue;
        }
        let findings = of_the_equation(&stripped);
        let [finding] = findings.as_slice() else {
            panic!("{stripped}: {findings:?}");
        };
        let fix = finding
            .fixes
            .first()
            .unwrap_or_else(|| panic!("{stripped}: {}", finding.message));
        assert!(fix.preferred);
        for (range, new) in fix.edits.iter().rev() {
            stripped.replace_range(range.clone(), new);
        }
        assert_eq!(stripped, whole);
        repaired += 1;
    }
    assert!(repaired >= 40, "{repaired}");
}
