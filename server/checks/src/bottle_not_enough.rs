//! Bottles that hold less than the plan takes.

use crate::Survey;
use crate::{Check, Finding, Severity, bottles};
use bottles::{Taken, Use};
use plan::Plan;
use syntax::{AmountKind, Bound};

pub(crate) const CHECK: Check = Check {
    name: "bottle-not-enough",
    severity: Severity::Error,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Bottle that holds too little

**Finds** a bottle of the inventory that holds less than the lines of the plan that name it take from it together.

What is left is a volume or a mass; what the plan takes is converted to it through density and strength, and nothing is
said where that cannot be done. Half of the last digit that is written is allowed on either side. A rest that is written
as `about` gives a warning, and what a line takes as `about` or without a number nothing.

**Why it matters.** The bottle would run dry in the middle of an addition.

**Example**, the table in `inventory.toml`: 60.0 mmol are 20.9 mL at 2.87 M

    scale 50.0 mmol aldehyde
    materials
      aldehyde: benzaldehyde, 1.00 eq
      reagent:  ethylmagnesium bromide, bottle etmgbr-2, 1.20 eq

    [[bottle]]
    name = \"etmgbr-2\"
    substance = \"ethylmagnesium bromide\"
    strength = \"3.0 M in diethyl ether\"
    titre = \"2.87 M\"
    left = \"15 mL\"

**Write instead** another bottle or a smaller scale, or correct `left` in the inventory

    scale 30.0 mmol aldehyde

**Sources.** Arithmetic.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    let uses: Vec<Use<'_>> = bottles::uses(plan).collect();
    for (index, first) in uses.iter().enumerate() {
        let same = |other: &&Use<'_>| other.bottle.name == first.bottle.name;
        if uses.iter().position(|other| same(&other)) == Some(index) {
            let all: Vec<&Use<'_>> = uses.iter().filter(same).collect();
            findings.extend(short(plan, first, &all));
        }
    }
}

fn short(plan: &Plan, first: &Use<'_>, all: &[&Use<'_>]) -> Option<Finding> {
    let (most, dimension) = bottles::at_most(first.bottle)?;
    let left = first.bottle.left.as_ref()?;
    let mut sum = Taken {
        value: 0.0,
        half_width: 0.0,
    };
    for one in all {
        let exactly = |amount: &syntax::Amount| {
            let quantity = amount.quantity.as_ref();
            amount.kind != AmountKind::Excess
                && quantity.is_some_and(|quantity| quantity.bound == Bound::Exact)
        };
        if !one.material.stated.iter().all(exactly) {
            return None;
        }
        let taken = bottles::taken(one.amounts, dimension)?;
        sum.value += taken.value;
        sum.half_width = sum.half_width.hypot(taken.half_width);
    }
    if sum.value - sum.half_width <= most * 1.000_001 {
        return None;
    }
    let message = format!(
        "The plan takes {} from bottle {}, which holds {}: take another bottle, or make less.",
        bottles::shown(sum.value, dimension),
        first.bottle.name,
        plan::inventory::written(left),
    );
    let severity = match left.bound {
        Bound::Exact => Severity::Error,
        _ => Severity::Warning,
    };
    let mut finding = Finding::new(&CHECK, first.named.at, message).severity(severity);
    for other in all.iter().skip(1) {
        finding = finding.related(other.named.at, "from the same bottle");
    }
    // Another bottle for one of several lines would not mend it for certain.
    Some(match all {
        [_] => bottles::with_others(plan, first, finding),
        _ => finding,
    })
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{bench, expect_at, expect_fixed_at};

    const BOTTLES: &str = r#"
[[bottle]]
name = "old"
substance = "ethylmagnesium bromide"
strength = "3.0 M in diethyl ether"
titre = "2.87 M"
left = "15 mL"
[[bottle]]
name = "new"
substance = "ethylmagnesium bromide"
strength = "3.0 M in diethyl ether"
left = "100 mL"
place = "fridge 2"
[[bottle]]
name = "aldehyde"
substance = "benzaldehyde"
left = "5 mL"
[[bottle]]
name = "rest"
substance = "imidazole"
left = "about 1 g"
"#;

    // 1.20 eq of 50.0 mmol is 60.0 mmol, 20.9 mL at 2.87 M.
    const SHORT: &str = "
plan A
scale 50.0 mmol ketone
materials
  ketone: acetone, 1.00 eq
  reagent: ethylmagnesium bromide, bottle old, 1.20 eq
                                   ^^^^^^^^^^ error: The plan takes 20.9 mL from bottle old, which holds 15 mL
";

    #[test]
    fn another_bottle_is_offered() {
        expect_at(&bench(BOTTLES), &CHECK, SHORT);
        expect_fixed_at(
            &bench(BOTTLES),
            &CHECK,
            &SHORT
                .replace("bromide, bottle old", "bromide, 3.0 M in ether, bottle old")
                .replace(
                    "                                   ^^^",
                    "                                                      ^^^",
                ),
            0,
            "
plan A
scale 50.0 mmol ketone
materials
  ketone: acetone, 1.00 eq
  reagent: ethylmagnesium bromide, 3.0 M in ether, bottle new, 1.20 eq
",
        );
    }

    /// 5.31 g of benzaldehyde, 1.044 g/mL at 20 °C in handbooks, is 5.1 mL: more than 5 mL, but not than 5.5 mL.
    #[test]
    fn a_mass_is_converted_and_lines_are_summed() {
        expect_at(
            &bench(BOTTLES),
            &CHECK,
            "
plan A
materials
  a: benzaldehyde, bottle aldehyde, 5.31 g
                   ^^^^^^^^^^^^^^^ error: The plan takes 8.17 mL from bottle aldehyde
  b: benzaldehyde, bottle aldehyde, 30.0 mmol
  c: imidazole, bottle rest, 2.0 g
                ^^^^^^^^^^^ warning: The plan takes 2.00 g from bottle rest, which holds about 1 g
",
        );
    }

    #[test]
    fn enough_or_not_known_is_silent() {
        expect_at(
            &bench(BOTTLES),
            &CHECK,
            "
plan A
materials
  a: benzaldehyde, bottle aldehyde, 5.31 g
  b: ethylmagnesium bromide, bottle new, 20 mmol
  c: imidazole, bottle rest, about 2 g
  d: ethylmagnesium bromide, bottle old, excess
  e: ethylmagnesium bromide, bottle old, 1.20 eq
",
        );
    }
}
