//! Bottles whose stated density cannot be that of what they hold.

use crate::Survey;
use crate::{Check, Finding, Severity, bottles};
use chemistry::{State, quantity::mass_density::gram_per_cubic_centimeter};
use syntax::FieldKind;

pub(crate) const CHECK: Check = Check {
    name: "bottle-density",
    severity: Severity::Information,
    from: crate::Profile::Normal,
    doc: DOC,
    run,
};

const DOC: &str = "\
# Density that cannot be

**Finds** a line that names a bottle of the inventory whose stated density is more than 5 % from the library's for the
neat liquid.

Between 15 and 30 °C the density of an organic liquid changes by about 1.5 %, and 5 % of an impurity seldom does more:
both stay below the limit. Of solutions, of solids and gases, and of an assay below 95 % nothing is said.

**Why it matters.** The density of the bottle rules: every volume of the plan that follows from a mass or an amount is
wrong by the same share.

**Example**, the table in `inventory.toml`

    materials
      ether: diethyl ether, bottle ether-1, 5.00 g

    [[bottle]]
    name = \"ether-1\"
    substance = \"diethyl ether\"
    density = 0.173

**Write instead** what the label says, or leave it out, and the library's is taken

    [[bottle]]
    name = \"ether-1\"
    substance = \"diethyl ether\"
    density = 0.713

**Sources.** The library's densities, each with its own source; the limit is an assumption.
";

/// Twice what temperature and purity explain.
const FAR: f64 = 0.05;

fn run(plan: &Survey<'_>, findings: &mut Vec<Finding>) {
    for found in bottles::uses(plan) {
        let bottle = &found.bottle.material;
        let states = |field: &syntax::Field| matches!(field.kind, FieldKind::Density(..));
        if bottle.diluted || !found.bottle.entry.fields.iter().any(states) {
            continue;
        }
        let substance = bottle.identity.substance.filter(|substance| {
            substance.state() == Some(State::Liquid) && bottle.identity.row_fits()
        });
        let (Some(known), Ok(stated)) = (substance.and_then(|s| s.density()), &bottle.density)
        else {
            continue;
        };
        let off = (stated.value / known.value).value - 1.0;
        if off.abs() <= FAR {
            continue;
        }
        let message = format!(
            "The inventory says that bottle {} has {} g/mL, but {} has {:.3} g/mL: look at the label, since the volumes of this line follow from it.",
            found.bottle.name,
            plan::show::number(stated.value.get::<gram_per_cubic_centimeter>(), 3),
            bottle.identity.name,
            known.value.get::<gram_per_cubic_centimeter>(),
        );
        findings.push(Finding::new(&CHECK, found.named.at, message));
    }
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{bench, expect_at};

    // Diethyl ether 0.714 g/mL and tetrahydrofuran 0.889 g/mL at 20 °C: CRC Handbook of Chemistry and Physics,
    // from memory.
    const BOTTLES: &str = r#"
[[bottle]]
name = "slip"
substance = "diethyl ether"
density = 0.174
[[bottle]]
name = "ether"
substance = "diethyl ether"
density = 0.714
[[bottle]]
name = "warm"
substance = "THF"
density = 0.876
[[bottle]]
name = "base"
substance = "n-butyllithium"
strength = "2.5 M in hexanes"
density = 0.693
"#;

    #[test]
    fn a_density_that_cannot_be() {
        expect_at(
            &bench(BOTTLES),
            &CHECK,
            "
plan A
materials
  a: diethyl ether, bottle slip, 5 g
                    ^^^^^^^^^^^ information: The inventory says that bottle slip has 0.174 g/mL, but diethyl ether has 0.71
  b: diethyl ether, bottle ether, 5 g
  c: THF, bottle warm, 5 g
  d: n-butyllithium, bottle base, 5 mmol
",
        );
    }
}
