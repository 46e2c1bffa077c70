//! `meniscus amounts`

use super::record::{self, Taken, Yield};
use super::runs::{self, TotalRecord};
use super::{AmountsFormat, Outcome, bench, complain, files, print, print_json};
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
    /// Only where the plan has runs.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    runs: Vec<RunRecord>,
    /// What the runs take together, by bottle.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    totals: Vec<TotalRecord>,
}

/// A run: a plan of its own, or the reason why there is none.
#[derive(Serialize)]
struct RunRecord {
    label: String,
    #[serde(flatten)]
    plan: Option<PlanRecord>,
    #[serde(skip_serializing_if = "Option::is_none")]
    undetermined: Option<String>,
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
    /// Only where the plan says what was really taken.
    #[serde(skip_serializing_if = "Option::is_none")]
    taken: Option<Taken>,
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
    /// Only where the plan says what was obtained.
    #[serde(skip_serializing_if = "Option::is_none")]
    obtained: Option<Yield>,
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
pub(super) fn amounts(file: &Path, format: AmountsFormat) -> Outcome {
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
        AmountsFormat::Json => {
            let plans = plans
                .iter()
                .map(|unit| record(unit, document.rope().byte_to_line(unit.start)));
            print_json(&Report {
                schema: 1,
                plans: plans.collect(),
            })
        }
        AmountsFormat::Csv => {
            let plans: Vec<PlanRecord> = plans
                .iter()
                .map(|unit| record(unit, document.rope().byte_to_line(unit.start)))
                .collect();
            let runs = |plan: PlanRecord| {
                let (runs, plan) = apart(plan);
                std::iter::once(plan).chain(runs)
            };
            let plans: Vec<PlanRecord> = plans.into_iter().flat_map(runs).collect();
            match table(&plans) {
                Ok(table) => print(&table),
                Err(error) => complain(&format!("cannot write the table: {error}")),
            }
        }
        AmountsFormat::Text => {
            let lists: Vec<String> = plans
                .iter()
                .map(|unit| bench::list(unit.plan) + &runs::section(unit.plan))
                .collect();
            print(&lists.join("\n"))
        }
    }
}

/// The columns of the table, named as the fields of the JSON.
const COLUMNS: [&str; 23] = [
    "plan",
    "line",
    "key",
    "name",
    "formula",
    "molar_mass_g_per_mol",
    "amount_mmol",
    "equivalents",
    "mass_mg",
    "volume_mL",
    "pure_mass_mg",
    "uncertainty_percent",
    "tool",
    "theory_mass_mg",
    "expected_mass_mg",
    "expected_mmol",
    "undetermined",
    "taken_mass_mg",
    "taken_mmol",
    "taken_equivalents",
    "deviation_percent",
    "obtained_mass_mg",
    "yield_percent",
];

/// Comma-separated values (RFC 4180), a line a material or product.
fn table(plans: &[PlanRecord]) -> Result<String, String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let number = |number: Option<f64>| number.map_or(String::new(), |number| number.to_string());
    let mut write = |line: [String; 23]| writer.write_record(&line).map_err(|e| e.to_string());
    write(COLUMNS.map(str::to_owned))?;
    for plan in plans {
        let title = cell(plan.title.as_deref().unwrap_or_default());
        for material in &plan.materials {
            let [key, name, formula, molar_mass] = material.identity.cells();
            let taken =
                |get: fn(&Taken) -> Option<f64>| number(material.taken.as_ref().and_then(get));
            write([
                title.clone(),
                "material".to_owned(),
                key,
                name,
                formula,
                molar_mass,
                number(material.amount_mmol),
                number(material.equivalents),
                number(material.mass_mg),
                number(material.volume_ml),
                number(material.pure_mass_mg),
                number(material.uncertainty_percent),
                material.tool.clone().unwrap_or_default(),
                String::new(),
                String::new(),
                String::new(),
                material.notes.reasons(),
                taken(|taken| taken.mass_mg),
                taken(|taken| taken.amount_mmol),
                taken(|taken| taken.equivalents),
                taken(|taken| taken.deviation_percent),
                String::new(),
                String::new(),
            ])?;
        }
        for product in &plan.products {
            let [key, name, formula, molar_mass] = product.identity.cells();
            let empty = String::new;
            write([
                title.clone(),
                "product".to_owned(),
                key,
                name,
                formula,
                molar_mass,
                empty(),
                empty(),
                empty(),
                empty(),
                empty(),
                empty(),
                empty(),
                number(product.theory_mass_mg),
                number(product.expected_mass_mg),
                number(product.expected_mmol),
                product.notes.reasons(),
                empty(),
                empty(),
                empty(),
                empty(),
                number(product.obtained.as_ref().and_then(|o| o.obtained_mass_mg)),
                number(product.obtained.as_ref().and_then(|o| o.yield_percent)),
            ])?;
        }
    }
    let bytes = writer.into_inner().map_err(|error| error.to_string())?;
    String::from_utf8(bytes).map_err(|error| error.to_string())
}

/// Words of a plan that a spreadsheet would take for a formula get an apostrophe in front, as one would type it there.
fn cell(words: &str) -> String {
    if words.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{words}")
    } else {
        words.to_owned()
    }
}

/// The runs of a plan as plans of their own, and the plan without them.
fn apart(mut plan: PlanRecord) -> (Vec<PlanRecord>, PlanRecord) {
    let runs = std::mem::take(&mut plan.runs).into_iter();
    (runs.filter_map(|run| run.plan).collect(), plan)
}

fn record(unit: &PlanUnit<'_>, first_line: usize) -> PlanRecord {
    let mut record = plan_record(unit.plan, first_line);
    if unit.plan.has_runs() {
        let series = unit.plan.series();
        record.totals = runs::totals(&series);
        let runs = series.runs.iter().map(|(run, plan)| RunRecord {
            label: run.label.text.to_string(),
            plan: plan.as_ref().ok().map(|plan| plan_record(plan, 0)),
            undetermined: plan.as_ref().err().map(ToString::to_string),
        });
        record.runs = runs.collect();
    }
    record
}

fn plan_record(plan: &Plan, first_line: usize) -> PlanRecord {
    let run = plan.record();
    let run = run.as_ref();
    let lines = |product| {
        let lines = plan.materials.iter().zip(&plan.ledger.amounts).enumerate();
        lines.filter(move |(_, (material, _))| material.product == product)
    };
    PlanRecord {
        title: plan.title.as_ref().map(|title| title.text.to_string()),
        materials: lines(false)
            .map(|(index, (material, amounts))| MaterialRecord {
                taken: record::taken(run, index),
                ..material_record(plan, material, amounts, first_line)
            })
            .collect(),
        products: lines(true)
            .map(|(index, (material, amounts))| ProductRecord {
                obtained: record::obtained(run, index),
                ..product_record(material, amounts, first_line)
            })
            .collect(),
        runs: Vec::new(),
        totals: Vec::new(),
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
        tool: uncertainty.map(|left| left.reading.tool.to_string()),
        taken: None,
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
        obtained: None,
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

impl IdentityRecord {
    fn cells(&self) -> [String; 4] {
        let molar_mass = self.molar_mass_g_per_mol;
        [
            cell(&self.key),
            cell(&self.name),
            self.formula.clone().unwrap_or_default(),
            molar_mass.map_or(String::new(), |number| number.to_string()),
        ]
    }
}

impl Notes {
    /// Field and reason of all that could not be determined, in one cell.
    fn reasons(&self) -> String {
        let reasons = self.undetermined.iter();
        let reasons = reasons.map(|(field, reason)| format!("{field}: {reason}"));
        reasons.collect::<Vec<_>>().join("; ")
    }

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

#[cfg(test)]
mod tests {
    use super::*;
    use ide::Document;

    /// Read back by the same rules: what is between the commas is what the JSON says, whatever the words hold.
    #[test]
    fn the_table_says_what_the_json_says() {
        let document = Document::new(
            "plan =SUM(A1), \"two\" words\nscale 5.00 mmol ketone\nmaterials\n  ketone: cyclohexanone, 1.00 eq\n  base: pyridine\n",
        );
        let unit = document.plans().next().expect("a plan");
        let record = record(&unit, 0);
        let table = table(std::slice::from_ref(&record)).expect("a table");
        let mut reader = csv::Reader::from_reader(table.as_bytes());
        let headers: Vec<String> = reader
            .headers()
            .expect("headers")
            .iter()
            .map(String::from)
            .collect();
        assert_eq!(headers, COLUMNS);
        let rows: Vec<csv::StringRecord> =
            reader.records().map(|row| row.expect("a row")).collect();
        assert_eq!(rows.len(), 2);
        let column = |name: &str| {
            headers
                .iter()
                .position(|own| own == name)
                .expect("a column")
        };
        assert_eq!(&rows[0][column("plan")], "'=SUM(A1), \"two\" words");
        let mass: f64 = rows[0][column("mass_mg")].parse().expect("a number");
        assert_eq!(Some(mass), record.materials[0].mass_mg);
        assert_eq!(&rows[1][column("mass_mg")], "");
        assert!(rows[1][column("undetermined")].contains("no amount is written"));
    }
}
