//! Amounts that textbooks, procedures and handbooks print, against what the ledger computes.
//!
//! The cases are plans: `published.prep`, whose head says how they are read.

mod claims;

use plan::Plan;
use plan::equation::{Balance, Equation};

const CASES: &str = include_str!("published.prep");

#[test]
fn published_amounts_agree_within_their_digits() {
    let mut disagreements = Vec::new();
    let mut checked = 0;
    // What stands before the first plan is the head of the file.
    for range in syntax::plan_ranges(CASES).into_iter().skip(1) {
        let text = &CASES[range];
        let plan = Plan::read(text);
        let title = text.lines().next().unwrap_or_default();
        if !text.lines().any(|line| line.starts_with("source ")) {
            disagreements.push(format!("{title}: names no source"));
        }
        // A line that was read wrongly could be right by chance.
        for problem in plan.text.lines.iter().flat_map(|line| &line.problems) {
            disagreements.push(format!("{title}: {}", problem.message));
        }
        let balance = plan.equation.as_ref().map(Equation::balance);
        if balance
            .as_ref()
            .is_some_and(|balance| *balance != Balance::Balanced)
        {
            disagreements.push(format!("{title}: {balance:?}"));
        }
        let before = checked;
        for line in text.lines().filter_map(|line| line.strip_prefix("#= ")) {
            let (claims, wrong) = claims::check_line(&plan, line);
            checked += claims;
            disagreements.extend(wrong.iter().map(|reason| format!("{title}: {reason}")));
        }
        if checked == before {
            disagreements.push(format!("{title}: claims nothing"));
        }
    }
    assert!(
        disagreements.is_empty(),
        "{} of {checked}\n{}",
        disagreements.len(),
        disagreements.join("\n")
    );
    assert!(checked >= 130, "only {checked} claims were read");
}

#[test]
fn a_wrong_amount_is_noticed() {
    let plan = Plan::read("plan P\nmaterials\n  gold: gold, 2.561 mol\n");
    assert_eq!(
        claims::check_line(&plan, "gold: mass 504.4 g, amount 2561 mmol"),
        (2, Vec::new())
    );
    let wrong = [
        "gold: mass 504.6 g",
        "gold: mass 504.4 mg",
        "gold: mass 504.4 mol",
        "gold: amount 2.562 mol",
        "gold: volume 26 mL",
        "gold: expected 504.4 g",
        "silver: mass 504.4 g",
    ];
    for line in wrong {
        assert_eq!(claims::check_line(&plan, line).1.len(), 1, "{line}");
    }
}
