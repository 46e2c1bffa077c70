//! Numbers without a unit, and units that are none.

use crate::Survey;
use crate::{Check, Finding, Severity, edit, problem};
use plan::{At, Plan};
use syntax::{Block, Span};

pub(crate) const CHECK: Check = Check {
    name: "unit",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Unit missing or unclear

**Finds** a number whose unit is missing, misspelt or open to two readings: `thf 20`, `5 Mg`, `3 x`,
`5 % methanol in dichloromethane`.

**Why it matters.** A number without a unit has no value here: nothing that follows from it is computed, and nothing is
assumed. Units of one letter and `mM` are read with their case, because `M` and `m`, `mM` and `MM`, `mg` and `Mg`
differ by powers of ten.

**Example**

    steps
      add thf 20
      stir at -78

**Write instead**

    steps
      add thf 20 mL
      stir at -78 °C

Say of a percentage whether it is by mass (`wt%`), by volume (`vol%`), by mass per volume (`w/v%`) or by amount
(`mol%`).

**Sources.** The SI Brochure (BIPM, 9th edition, 5.2 and 5.3) on symbols of units and their case; which units fit where
is common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let first = findings.len();
    problem::report(&CHECK, plan, findings, is_of_this_check);
    for finding in findings.split_off(first) {
        let number = plan.slice(finding.at.line, finding.at.span).unwrap_or("");
        let bare = finding.fixes.is_empty() && number.ends_with(|c: char| c.is_ascii_digit());
        findings.push(if bare {
            offer_units(plan, finding, number)
        } else {
            finding
        });
    }
}

pub(crate) fn is_of_this_check(code: &str) -> bool {
    matches!(
        code,
        "bare-number" | "unknown-unit" | "which-percent" | "incomplete-count" | "unit-does-not-fit"
    )
}

/// A bare number may have meant any unit that fits where it stands.
fn offer_units(plan: &Plan, finding: Finding, number: &str) -> Finding {
    let At { line, span } = finding.at;
    let Some(found) = plan.text.lines.get(line as usize) else {
        return finding;
    };
    let before = plan
        .slice(
            line,
            Span {
                start: 0,
                end: span.start,
            },
        )
        .unwrap_or("");
    let word = before
        .split_whitespace()
        .next_back()
        .unwrap_or("")
        .to_lowercase();
    let units = units(&word, found.block);
    let end = At {
        line,
        span: Span {
            start: span.end,
            end: span.end,
        },
    };
    let offered = units.iter().fold(finding, |finding, unit| {
        finding.fix(
            format!("Write {number} {unit}"),
            vec![edit::replace(plan, end, format!(" {unit}"))],
        )
    });
    if units.len() > 1 {
        offered.undecided()
    } else {
        offered
    }
}

/// The units that fit after a word.
fn units(word: &str, block: Block) -> &'static [&'static str] {
    match word {
        "found" => &["M"],
        "for" | "over" => &["min", "h"],
        "at" | "to" | "below" | "above" | "bath" | "bp" | "mp" => &["°C"],
        "expect" => &["%"],
        "obtained" | "took" => &["mg", "g", "mL"],
        "scale" => &["mmol", "g", "mL"],
        _ if matches!(block, Block::Materials | Block::Products) => {
            &["eq", "mmol", "g", "mL", "mol%"]
        }
        _ if block == Block::Equipment => &["mL"],
        _ => &["mL", "g"],
    }
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{expect, expect_fixed};

    #[test]
    fn a_bare_amount_is_offered_the_units_of_its_slot() {
        let plan = "
plan A
materials
  thf: tetrahydrofuran, 2.5
                        ^^^ error:
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            3,
            "plan A\nmaterials\n  thf: tetrahydrofuran, 2.5 mL",
        );
    }

    #[test]
    fn a_titre_is_in_moles_per_litre() {
        let plan = "
plan A
materials
  buli: n-butyllithium, 2.5 M in hexanes, found 2.41, 1.25 eq
                                                ^^^^ error:
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
materials
  buli: n-butyllithium, 2.5 M in hexanes, found 2.41 M, 1.25 eq
",
        );
    }

    #[test]
    fn a_bare_portion_is_a_volume_or_a_mass() {
        let plan = "
plan A
materials
  pentane: pentane
equipment
  funnel: 250 mL separating funnel
steps
  in funnel
  extract with pentane, 3 x 20
                        ^^^^^^ error:
";
        expect(&CHECK, plan);
        expect_fixed(
            &CHECK,
            plan,
            0,
            "
plan A
materials
  pentane: pentane
equipment
  funnel: 250 mL separating funnel
steps
  in funnel
  extract with pentane, 3 x 20 mL
",
        );
    }

    #[test]
    fn a_unit_of_the_wrong_case_is_reported() {
        expect(
            &CHECK,
            "
plan A
materials
  salt: sodium chloride, 5 Mg
                         ^^^^ error:
",
        );
    }

    #[test]
    fn units_of_another_case_or_tongue_are_mended() {
        for (written, meant) in [
            ("materials\n  salt: sodium chloride, 1.1 äq", "1.1 eq"),
            ("steps\n  heat to 65 °c", "65 °C"),
        ] {
            let at = written.find(|c: char| c.is_ascii_digit()).unwrap_or(0);
            let wanted = format!("plan A\n{}{meant}", &written[..at]);
            expect_fixed(&CHECK, &format!("plan A\n{written}"), 0, &wanted);
        }
    }

    #[test]
    fn a_percentage_of_one_liquid_in_another_does_not_say_of_what() {
        expect(
            &CHECK,
            "
plan A
materials
  nah: sodium hydride, 60 % in mineral oil, 1.2 eq
  naoh: 10 % aq. NaOH, 20 mL
  eluent: 5 % methanol in dichloromethane, 20 mL
          ^^^ warning: By mass or by volume?
",
        );
    }

    #[test]
    fn numbers_that_need_no_unit_have_none() {
        expect(
            &CHECK,
            "
plan A
materials
  amine: diisopropylamine, MW 101.19, d 0.717, 1.35 eq
equipment
  flask: 50 mL flask
steps
  1. add amine in 3 portions
  filter through Celite 545
  acidify with 1 M HCl to pH 7
",
        );
    }
}
