//! Bottles and lines whose stated density cannot be that of what they hold.

use crate::Survey;
use crate::{Check, Finding, Severity, bottles};
use chemistry::quantity::mass_density::gram_per_cubic_centimeter;
use chemistry::{State, Substance};
use plan::{At, Material, show};
use syntax::{FieldKind, Statement};

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
neat liquid, and a line that writes such a density itself.

Between 15 and 30 °C the density of an organic liquid changes by about 1.5 %, and 5 % of an impurity seldom does more:
both stay below the limit. Of solutions, of solids and gases, and of an assay below 95 % nothing is said.

**Why it matters.** The density of the line, and else of the bottle, rules: every volume of the plan that follows from a mass or an amount is
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
    let states = |field: &syntax::Field| matches!(field.kind, FieldKind::Density(..));
    for found in bottles::uses(plan) {
        let bottle = &found.bottle.material;
        if found.bottle.entry.fields.iter().any(states)
            && let Some((stated, known)) = far_off(bottle)
        {
            let message = format!(
                "The inventory says that bottle {} has {stated} g/mL, but {} has {known:.3} g/mL: look at the label, since the volumes of this line follow from it.",
                found.bottle.name, bottle.identity.name,
            );
            findings.push(Finding::new(&CHECK, found.named.at, message));
        }
    }
    for material in &plan.materials {
        let Some((stated, known)) = far_off(material) else {
            continue;
        };
        let line = plan.text.lines.get(material.line as usize);
        let Some(Statement::Entry(entry)) = line.map(|line| &line.statement) else {
            continue;
        };
        if let Some(field) = entry.fields.iter().find(|field| states(field)) {
            let at = At {
                line: material.line,
                span: field.span,
            };
            let message = format!(
                "{} has {known:.3} g/mL, and this line says {stated} g/mL: look at the label, since the volumes of this line follow from it.",
                material.identity.name,
            );
            findings.push(Finding::new(&CHECK, at, message));
        }
    }
}

/// The density of a neat liquid as it is stated, and the library's from which it is far, in g/mL.
fn far_off(material: &Material) -> Option<(String, f64)> {
    let is_liquid = |substance: &Substance| {
        substance.state() == Some(State::Liquid) && material.identity.row_fits()
    };
    let substance = material.identity.substance.filter(is_liquid)?;
    let known = substance.density()?.value;
    let stated = material.density.as_ref().ok()?.value;
    let far = ((stated / known).value - 1.0).abs() > FAR && !material.diluted;
    far.then(|| {
        let stated = show::number(stated.get::<gram_per_cubic_centimeter>(), 3);
        (stated.to_string(), known.get::<gram_per_cubic_centimeter>())
    })
}

#[cfg(test)]
mod tests {
    use super::CHECK;
    use crate::testing::{bench, expect, expect_at};

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
    fn a_density_of_a_line_that_cannot_be() {
        expect(
            &CHECK,
            r"
plan A
materials
  a: diethyl ether, d 7.13, 5 g
                    ^^^^^^ information: diethyl ether has 0.71
  b: diethyl ether, d 0.713, 5 g
  c: THF, d 0.876, 5 g
  d: n-butyllithium, 2.5 M in hexanes, d 0.693, 5 mmol
  e: ammonia, d 0.68, 80 mL
  f: ethyl acetate, 5 g
",
        );
    }

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
