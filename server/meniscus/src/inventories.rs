//! Finding inventories and reading them: `inventory.toml` in the folder of a plan, or in the nearest one above it.

use plan::inventory::Inventory;
use plan::{Context, Date};
use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

/// The name of the file.
pub(crate) const FILE: &str = "inventory.toml";

/// No inventory that people keep by hand is as large.
const MOST_BYTES: u64 = 4 << 20;

/// The inventories that plans are read against. Each is read once, and again when its file has changed.
#[derive(Default)]
pub(crate) struct Inventories {
    files: HashMap<PathBuf, Known>,
    /// For plans without one.
    none: Arc<Context>,
}

struct Known {
    source: Source,
    context: Arc<Context>,
}

#[derive(PartialEq, Eq)]
enum Source {
    /// The file, as of a time, with a length.
    Disk(Option<SystemTime>, u64),
    /// An open document.
    Editor,
    /// To be read again.
    Stale,
}

impl Inventories {
    /// What a plan is to be read against, and the file of its inventory.
    pub(crate) fn for_plan(&mut self, plan: &Path) -> (Arc<Context>, Option<PathBuf>) {
        // A name alone means the folder in which we run.
        let plan = std::path::absolute(plan).unwrap_or_else(|_| plan.to_owned());
        for folder in plan.ancestors().skip(1) {
            let path = folder.join(FILE);
            if let Some(context) = self.load(&path) {
                return (context, Some(path));
            }
        }
        (self.without(), None)
    }

    /// What a text is read against that is no file, or has no inventory.
    pub(crate) fn without(&mut self) -> Arc<Context> {
        if self.none.today != today() {
            self.none = Arc::new(context(None));
        }
        self.none.clone()
    }

    /// An open document rules over its file.
    pub(crate) fn edited(&mut self, path: PathBuf, text: &str) {
        self.settle(path, Source::Editor, || Ok(text.to_owned()));
    }

    /// The document is closed, or the file has changed.
    pub(crate) fn forget(&mut self, path: &Path, closed: bool) {
        if let Some(known) = self.files.get_mut(path)
            && (closed || known.source != Source::Editor)
        {
            known.source = Source::Stale;
        }
    }

    fn load(&mut self, path: &Path) -> Option<Arc<Context>> {
        let known = self.files.get(path);
        if let Some(known) = known.filter(|known| known.source == Source::Editor) {
            let inventory = known.context.inventory.clone();
            return Some(self.keep(path, Source::Editor, inventory));
        }
        // A pipe of this name would never be read to its end.
        let Some(file) = fs::metadata(path).ok().filter(fs::Metadata::is_file) else {
            self.files.remove(path);
            return None;
        };
        let stamp = Source::Disk(file.modified().ok(), file.len());
        if let Some(known) = known.filter(|known| known.source == stamp) {
            let inventory = known.context.inventory.clone();
            return Some(self.keep(path, stamp, inventory));
        }
        Some(self.settle(path.to_owned(), stamp, || read(path, file.len())))
    }

    /// Takes in a text; one that is the same as before leaves everything as it is.
    fn settle(
        &mut self,
        path: PathBuf,
        source: Source,
        text: impl FnOnce() -> Result<String, String>,
    ) -> Arc<Context> {
        let text = text();
        let known = self
            .files
            .get(&path)
            .and_then(|known| known.context.inventory.clone());
        // One that could not be read has no text and a problem.
        let same = known.filter(|known| {
            let is_same = |text: &String| **text == *known.text;
            text.as_ref().is_ok_and(is_same)
                && (!known.text.is_empty() || known.problems.is_empty())
        });
        let inventory = same.unwrap_or_else(|| {
            Arc::new(match text {
                Ok(text) => Inventory::read(&text),
                Err(reason) => Inventory::unreadable(reason),
            })
        });
        self.keep(&path, source, Some(inventory))
    }

    fn keep(
        &mut self,
        path: &Path,
        source: Source,
        inventory: Option<Arc<Inventory>>,
    ) -> Arc<Context> {
        let is_same = |known: &&mut Known| {
            known.context.today == today()
                && match (&known.context.inventory, &inventory) {
                    (Some(a), Some(b)) => Arc::ptr_eq(a, b),
                    _ => false,
                }
        };
        if let Some(known) = self.files.get_mut(path).filter(is_same) {
            known.source = source;
            return known.context.clone();
        }
        let context = Arc::new(context(inventory));
        let known = Known {
            source,
            context: context.clone(),
        };
        self.files.insert(path.to_owned(), known);
        context
    }
}

fn context(inventory: Option<Arc<Inventory>>) -> Context {
    Context {
        inventory,
        today: today(),
        ..Context::default()
    }
}

/// The day in Greenwich; the system tells no other without further help.
fn today() -> Option<Date> {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).ok()?;
    Date::after_1970(u32::try_from(since.as_secs() / 86_400).ok()?)
}

fn read(path: &Path, bytes: u64) -> Result<String, String> {
    if bytes > MOST_BYTES {
        return Err(format!(
            "The inventory is {} MB long and was not read: keep it below {} MB.",
            bytes >> 20,
            MOST_BYTES >> 20
        ));
    }
    let bytes = fs::read(path)
        .map_err(|error| format!("The inventory cannot be read: {error}. See to the file."))?;
    String::from_utf8(bytes).map_err(|_| "The inventory is not UTF-8: save it as UTF-8.".to_owned())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    const ONE: &str = "[[bottle]]\nname = \"one\"\nsubstance = \"water\"\n";
    const TWO: &str = "[[bottle]]\nname = \"two\"\nsubstance = \"water\"\n";

    fn name(context: &Context) -> Option<String> {
        let inventory = context.inventory.as_ref()?;
        inventory
            .bottles
            .first()
            .map(|bottle| bottle.name.to_string())
    }

    #[test]
    fn the_nearest_above_rules_and_is_read_once() {
        let folder = tempfile::tempdir().unwrap();
        let deep = folder.path().join("a/b");
        fs::create_dir_all(&deep).unwrap();
        fs::write(folder.path().join(FILE), ONE).unwrap();
        let plan = deep.join("x.prep");
        let mut inventories = Inventories::default();
        let (first, path) = inventories.for_plan(&plan);
        assert_eq!(name(&first).as_deref(), Some("one"));
        assert_eq!(path, Some(folder.path().join(FILE)));
        assert!(Arc::ptr_eq(&first, &inventories.for_plan(&plan).0));

        fs::write(deep.join(FILE), TWO).unwrap();
        assert_eq!(name(&inventories.for_plan(&plan).0).as_deref(), Some("two"));
        fs::remove_file(deep.join(FILE)).unwrap();
        assert_eq!(name(&inventories.for_plan(&plan).0).as_deref(), Some("one"));
        // A folder of that name is no inventory.
        fs::create_dir(deep.join(FILE)).unwrap();
        assert_eq!(name(&inventories.for_plan(&plan).0).as_deref(), Some("one"));
    }

    #[test]
    fn an_open_document_rules_over_its_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(FILE);
        fs::write(&path, ONE).unwrap();
        let plan = folder.path().join("x.prep");
        let mut inventories = Inventories::default();
        let first = inventories.for_plan(&plan).0;
        inventories.edited(path.clone(), ONE);
        assert!(Arc::ptr_eq(&first, &inventories.for_plan(&plan).0));
        inventories.edited(path.clone(), TWO);
        inventories.forget(&path, false);
        assert_eq!(name(&inventories.for_plan(&plan).0).as_deref(), Some("two"));
        inventories.forget(&path, true);
        assert_eq!(name(&inventories.for_plan(&plan).0).as_deref(), Some("one"));
    }

    #[test]
    fn what_cannot_be_read_is_an_inventory_with_a_problem() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join(FILE), b"name = \"\xb0C\"").unwrap();
        let (context, _) = Inventories::default().for_plan(&folder.path().join("x.prep"));
        let inventory = context.inventory.as_ref().unwrap();
        assert!(inventory.problems[0].message.contains("UTF-8"));
    }
}
