//! Bottles that are past their date.

use crate::Survey;
use crate::{Check, Finding, Severity, bottles};

pub(crate) const CHECK: Check = Check {
    name: "bottle-expired",
    severity: Severity::Warning,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Bottle past its date

**Finds** a line that names a bottle of the inventory whose `expires` has passed. The day itself still counts. Without
today's date nothing is said.

**Why it matters.** The date is the maker's, or the one that the laboratory gave the bottle: after it nobody vouches for
strength and purity, and an ether may hold peroxides that nobody has looked for.

**Example**, the table in `inventory.toml`

    materials
      ether: diethyl ether, bottle ether-1, 40 mL

    [[bottle]]
    name = \"ether-1\"
    substance = \"diethyl ether\"
    expires = 2025-12-31

**Write instead** another bottle, or test this one as your laboratory's rules say and give it a new date

    [[bottle]]
    name = \"ether-1\"
    substance = \"diethyl ether\"
    expires = 2026-12-31

**Sources.** Common practice.
";

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for found in bottles::uses(plan) {
        let (Some(expires), true) = (
            found.bottle.expires,
            found.bottle.has_expired(plan.context.today),
        ) else {
            continue;
        };
        let message = format!(
            "Bottle {} expired on {expires}: take another, or test it and give it a new date.",
            found.bottle.name
        );
        let finding = Finding::new(&CHECK, found.named.at, message);
        findings.push(bottles::with_others(plan, &found, finding));
    }
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{bench, expect_at, expect_fixed_at};

    // Seen from 2026-03-31.
    const BOTTLES: &str = r#"
[[bottle]]
name = "ether-1"
substance = "diethyl ether"
expires = 2026-03-30
[[bottle]]
name = "ether-2"
substance = "diethyl ether"
expires = 2026-03-31
left = "400 mL"
"#;

    #[test]
    fn another_bottle_is_offered() {
        let plan = "
plan A
materials
  ether: diethyl ether, bottle ether-1, 40 mL
                        ^^^^^^^^^^^^^^ warning: Bottle ether-1 expired on 2026-03-30
";
        let mended = "
plan A
materials
  ether: diethyl ether, bottle ether-2, 40 mL
";
        expect_at(&bench(BOTTLES), &CHECK, plan);
        expect_fixed_at(&bench(BOTTLES), &CHECK, plan, 0, mended);
        let mut undated = bench(BOTTLES);
        undated.today = None;
        expect_at(&undated, &CHECK, &mended.replace("ether-2", "ether-1"));
    }
}
