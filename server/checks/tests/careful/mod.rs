//! The plans of a careful chemist: those of the language, the examples, and published procedures.

use plan::inventory::Inventory;
use plan::{Context, Date, Kept};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A plan, and what it is read against.
pub(crate) struct Careful {
    pub(crate) name: String,
    pub(crate) text: String,
    pub(crate) context: Context,
}

/// Where they are: the last two have some that are told in procedures that were published, and some of our own.
const PLACES: [&str; 4] = [
    "../syntax/tests/plans",
    "../../examples",
    "tests/published",
    "tests/careful",
];

/// A plan without one of these is no plan with a step forgotten.
const HEADINGS: [&str; 5] = ["materials", "products", "equipment", "steps", "runs"];

/// A plan with slips in it on purpose.
const NOT_CAREFUL: &str = "slips";

pub(crate) fn folder(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

pub(crate) fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Every such plan, once.
pub(crate) fn careful() -> Vec<Careful> {
    let mut plans = Vec::new();
    for place in PLACES {
        for entry in std::fs::read_dir(folder(place)).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
            if path.extension().is_some_and(|ext| ext == "prep") && name != NOT_CAREFUL {
                let text = read(&path);
                let context = context(&text);
                plans.push(Careful {
                    name,
                    text,
                    context,
                });
            }
        }
    }
    plans.sort_by(|a, b| (&a.text, &a.name).cmp(&(&b.text, &b.name)));
    // An example may be one of the plans of the language.
    plans.dedup_by(|a, b| a.text == b.text);
    plans.sort_by(|a, b| a.name.cmp(&b.name));
    plans
}

/// A plan that names bottles is read against the examples' inventory, on the day that it was written for.
fn context(text: &str) -> Context {
    if !text.contains(", bottle ") {
        return Context::default();
    }
    let inventory = Inventory::read(&read(&folder("../../examples/inventory.toml")));
    assert_eq!(inventory.problems, []);
    Context {
        inventory: Some(Arc::new(inventory)),
        today: Date::new(2026, 11, 25),
        ..Context::default()
    }
}

/// The lines of a plan that say something, without the headings.
pub(crate) fn steps_and_entries(text: &str) -> impl Iterator<Item = usize> + '_ {
    text.lines().enumerate().filter_map(|(at, line)| {
        let words = line.split('#').next().unwrap_or("").trim();
        (!words.is_empty() && !HEADINGS.contains(&words)).then_some(at)
    })
}
