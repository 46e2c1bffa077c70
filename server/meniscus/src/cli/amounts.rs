//! `meniscus amounts`

use super::{Format, Outcome, bench, complain, files, print, print_json};
use ide::PlanUnit;
use plan::{Amounts, Determined, Gap, Material, Plan};
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::Path;
use uom::si::amount_of_substance::millimole;
use uom::si::mass::milligram;
use uom::si::molar_mass::gram_per_mole;
use uom::si::ratio::{percent, ratio};
use uom::si::volume::milliliter;

/// The amounts of every plan of a file, as programs read them.
#[derive(Serialize)]
struct Report {
    /// Number of this form of the report.
    schema: u32,
    plans: Vec<PlanRecord>,
}

#[derive(Serialize)]
struct PlanRecord {
    title: Option<String>,
    materials: Vec<MaterialRecord>,
    products: Vec<ProductRecord>,
}

/// Numbers are not rounded; one that could not be determined is null, and its reason stands in `undetermined`.
#[derive(Serialize)]
struct MaterialRecord {
    #[serde(flatten)]
    identity: IdentityRecord,
    amount_mmol: Option<f64>,
    equivalents: Option<f64>,
    /// What is weighed, as it is in the bottle.
    mass_mg: Option<f64>,
    /// What is measured, as it is in the bottle.
    #[serde(rename = "volume_mL")]
    volume_ml: Option<f64>,
    pure_mass_mg: Option<f64>,
    /// Expanded (k = 2), of the amount as it can be measured.
    uncertainty_percent: Option<f64>,
    /// What measures it best.
    tool: Option<String>,
    #[serde(flatten)]
    notes: Notes,
}

#[derive(Serialize)]
struct ProductRecord {
    #[serde(flatten)]
    identity: IdentityRecord,
    theory_mass_mg: Option<f64>,
    expected_mass_mg: Option<f64>,
    expected_mmol: Option<f64>,
    #[serde(flatten)]
    notes: Notes,
}

#[derive(Serialize)]
struct IdentityRecord {
    key: String,
    name: String,
    formula: Option<String>,
    molar_mass_g_per_mol: Option<f64>,
}

/// Field and reason, field and origin.
#[derive(Serialize)]
struct Notes {
    undetermined: BTreeMap<&'static str, String>,
    sources: BTreeMap<&'static str, String>,
    #[serde(skip)]
    first_line: usize,
}

/// Prints the amounts of every plan of a file.
pub(super) fn amounts(file: &Path, format: Format) -> Outcome {
    let text = match files::read(file) {
        Ok(text) => text,
        Err(complaint) => return complain(&complaint),
    };
    let document = files::document(file, &text);
    let plans: Vec<PlanUnit<'_>> = files::written_plans(&document).collect();
    if plans.is_empty() {
        return complain(&format!("{} holds no plan", file.display()));
    }
    match format {
        Format::Json => {
            let plans = plans
                .iter()
                .map(|unit| record(unit, document.rope().byte_to_line(unit.start)));
            print_json(&Report {
                schema: 1,
                plans: plans.collect(),
            })
        }
        Format::Text => {
            let lists: Vec<String> = plans.iter().map(|unit| bench::list(unit.plan)).collect();
            print(&lists.join("\n"))
        }
    }
}

fn record(unit: &PlanUnit<'_>, first_line: usize) -> PlanRecord {
    let plan = unit.plan;
    let lines = |product| {
        let lines = plan.materials.iter().zip(&plan.ledger.amounts);
        lines.filter(move |(material, _)| material.product == product)
    };
    PlanRecord {
        title: plan.title.as_ref().map(|title| title.text.to_string()),
        materials: lines(false)
            .map(|(material, amounts)| material_record(plan, material, amounts, first_line))
            .collect(),
        products: lines(true)
            .map(|(material, amounts)| product_record(material, amounts, first_line))
            .collect(),
    }
}

fn material_record(
    plan: &Plan,
    material: &Material,
    amounts: &Amounts,
    first_line: usize,
) -> MaterialRecord {
    let mut notes = Notes::new(first_line);
    let uncertainty = plan.uncertainty(material, amounts);
    MaterialRecord {
        identity: identity(material, &mut notes),
        amount_mmol: notes.value("amount_mmol", &amounts.amount, |amount| {
            amount.get::<millimole>()
        }),
        equivalents: notes.value("equivalents", &amounts.equivalents, |equivalents| {
            equivalents.get::<ratio>()
        }),
        mass_mg: notes.value("mass_mg", &amounts.mass, |mass| mass.get::<milligram>()),
        volume_ml: notes.value("volume_mL", &amounts.volume, |volume| {
            volume.get::<milliliter>()
        }),
        pure_mass_mg: notes.value("pure_mass_mg", &amounts.pure_mass, |mass| {
            mass.get::<milligram>()
        }),
        uncertainty_percent: uncertainty
            .as_ref()
            .map(|left| left.of_amount.get::<percent>()),
        tool: uncertainty.map(|left| left.reading.tool),
        notes,
    }
}

fn product_record(product: &Material, amounts: &Amounts, first_line: usize) -> ProductRecord {
    let mut notes = Notes::new(first_line);
    let (mass, amount) = amounts.expected.clone().unwrap_or_else(|| {
        let gap = Gap::new("the line expects no yield: write `expect 85 %`");
        (Err(gap.clone()), Err(gap))
    });
    ProductRecord {
        identity: identity(product, &mut notes),
        theory_mass_mg: notes.value("theory_mass_mg", &amounts.pure_mass, |mass| {
            mass.get::<milligram>()
        }),
        expected_mass_mg: notes.value("expected_mass_mg", &mass, |mass| mass.get::<milligram>()),
        expected_mmol: notes.value("expected_mmol", &amount, |amount| amount.get::<millimole>()),
        notes,
    }
}

fn identity(material: &Material, notes: &mut Notes) -> IdentityRecord {
    let molar_mass = notes.value("molar_mass_g_per_mol", &material.molar_mass, |molar| {
        molar.get::<gram_per_mole>()
    });
    IdentityRecord {
        key: material.key.text.to_string(),
        name: material.identity.name.to_string(),
        formula: material.identity.formula.as_ref().map(ToString::to_string),
        molar_mass_g_per_mol: molar_mass,
    }
}

impl Notes {
    fn new(first_line: usize) -> Notes {
        Notes {
            undetermined: BTreeMap::new(),
            sources: BTreeMap::new(),
            first_line,
        }
    }

    /// The number in the unit of its field, with a note of where it came from or why there is none.
    fn value<Q>(
        &mut self,
        field: &'static str,
        value: &Determined<Q>,
        number: impl Fn(&Q) -> f64,
    ) -> Option<f64> {
        match value {
            Ok(known) => {
                let number = number(&known.value);
                if !number.is_finite() {
                    self.undetermined
                        .insert(field, "out of the range of numbers".to_owned());
                    return None;
                }
                self.sources
                    .insert(field, known.origin.describe(self.first_line));
                Some(number)
            }
            Err(Gap(reason)) => {
                self.undetermined.insert(field, reason.to_string());
                None
            }
        }
    }
}
