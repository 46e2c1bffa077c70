//! The files that a plan is read against, `inventory.toml` and `meniscus.toml`: each in the folder of the plan, or in
//! the nearest one above it.

use plan::inventory::Inventory;
use plan::settings::Settings;
use plan::{Context, Date, Kept, Problem};
use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

/// The names of these files.
pub(crate) const FILES: [&str; 2] = [Inventory::FILE, Settings::FILE];

/// No file that people keep by hand is as large.
const MOST_BYTES: u64 = 4 << 20;

/// Everything that plans are read against. Each file is read once, and again when it has changed.
#[derive(Default)]
pub(crate) struct Surroundings {
    inventories: Files<Inventory>,
    settings: Files<Settings>,
    by_default: Arc<Settings>,
    /// Rules over what the settings say.
    profile: Option<checks::Profile>,
    /// What an editor prefers of checks, where the settings do not say.
    preferred: Vec<(String, String)>,
    /// Settings with what is preferred: the file, as it was read, and what came of it.
    with_preferred: HashMap<PathBuf, (Arc<Settings>, Arc<Settings>)>,
}

/// What a plan is to be read against.
pub(crate) struct Found {
    pub(crate) context: Context,
    /// The files that it comes from.
    pub(crate) files: Vec<InUse>,
    /// The inventory's.
    pub(crate) inventory: Option<PathBuf>,
}

/// A file that plans are read against, as it was read.
#[derive(Clone)]
pub(crate) struct InUse {
    pub(crate) path: PathBuf,
    pub(crate) text: Arc<str>,
    pub(crate) problems: Vec<Problem>,
}

impl InUse {
    fn of<T: Kept>(path: &Path, file: &T) -> InUse {
        InUse {
            path: path.to_owned(),
            text: file.text().clone(),
            problems: file.problems().to_vec(),
        }
    }

    pub(crate) fn findings(&self) -> Vec<ide::Finding> {
        let name = if self.path.ends_with(Settings::FILE) {
            "settings"
        } else {
            "inventory"
        };
        ide::file_findings(name, &self.problems)
    }

    /// Whether there is the same to be told of both.
    pub(crate) fn is_same(&self, other: &InUse) -> bool {
        Arc::ptr_eq(&self.text, &other.text) && self.problems == other.problems
    }
}

impl Surroundings {
    /// With a profile that rules over what the settings say.
    pub(crate) fn with_profile(profile: Option<checks::Profile>) -> Surroundings {
        Surroundings {
            profile,
            ..Surroundings::default()
        }
    }

    /// What a plan is to be read against.
    pub(crate) fn for_plan(&mut self, plan: &Path) -> Found {
        // A name alone means the folder in which we run.
        let plan = std::path::absolute(plan).unwrap_or_else(|_| plan.to_owned());
        let inventory = self.inventories.nearest(&plan);
        let settings = self.settings.nearest(&plan);
        let mut files = Vec::new();
        if let Some((path, inventory)) = &inventory {
            files.push(InUse::of(path, &**inventory));
        }
        if let Some((path, settings)) = &settings {
            let mut file = InUse::of(path, &**settings);
            file.problems.extend(checks::problems(settings));
            file.problems.sort_by_key(|problem| problem.range.start);
            files.push(file);
        }
        let (path, inventory) = inventory.unzip();
        let settings = match settings {
            Some((path, settings)) => self.completed(path, settings),
            None => self.by_default.clone(),
        };
        let settings = match self.profile {
            Some(profile) => {
                Arc::new(Settings::clone(&settings).with_check(checks::PROFILE, profile.word()))
            }
            None => settings,
        };
        Found {
            context: Context {
                inventory,
                settings,
                today: today(),
            },
            files,
            inventory: path,
        }
    }

    /// Takes what an editor prefers of checks; false where it did so before.
    pub(crate) fn prefer(&mut self, checks: Vec<(String, String)>) -> bool {
        if self.preferred == checks {
            return false;
        }
        self.preferred = checks;
        self.with_preferred.clear();
        self.by_default = Arc::new(self.with_what_is_preferred(Settings::default()));
        true
    }

    fn with_what_is_preferred(&self, settings: Settings) -> Settings {
        self.preferred
            .iter()
            .fold(settings, |settings, (key, value)| {
                match settings.checks.iter().any(|written| written.key == *key) {
                    true => settings,
                    false => settings.with_check(key, value),
                }
            })
    }

    /// The same settings come to the same, so that contexts can be compared.
    fn completed(&mut self, path: PathBuf, settings: Arc<Settings>) -> Arc<Settings> {
        if self.preferred.is_empty() {
            return settings;
        }
        if let Some((from, known)) = self.with_preferred.get(&path)
            && Arc::ptr_eq(from, &settings)
        {
            return known.clone();
        }
        let all = Arc::new(self.with_what_is_preferred(Settings::clone(&settings)));
        self.with_preferred.insert(path, (settings, all.clone()));
        all
    }

    /// What a text is read against that is no file.
    pub(crate) fn without(&self) -> Found {
        Found {
            context: Context {
                inventory: None,
                settings: self.by_default.clone(),
                today: today(),
            },
            files: Vec::new(),
            inventory: None,
        }
    }

    /// An open document rules over its file.
    pub(crate) fn edited(&mut self, path: PathBuf, text: &str) {
        if path.ends_with(Settings::FILE) {
            self.settings.edited(path, text);
        } else {
            self.inventories.edited(path, text);
        }
    }

    /// The document is closed, or the file has changed.
    pub(crate) fn forget(&mut self, path: &Path, closed: bool) {
        self.inventories.forget(path, closed);
        self.settings.forget(path, closed);
    }
}

/// Files of one kind.
struct Files<T>(HashMap<PathBuf, (Source, Arc<T>)>);

impl<T> Default for Files<T> {
    fn default() -> Self {
        Files(HashMap::new())
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Source {
    /// The file, as of a time, with a length.
    Disk(Option<SystemTime>, u64),
    /// An open document.
    Editor,
    /// To be read again.
    Stale,
}

impl<T: Kept> Files<T> {
    fn nearest(&mut self, plan: &Path) -> Option<(PathBuf, Arc<T>)> {
        plan.ancestors().skip(1).find_map(|folder| {
            let path = folder.join(T::FILE);
            let file = self.load(&path)?;
            Some((path, file))
        })
    }

    fn edited(&mut self, path: PathBuf, text: &str) {
        self.settle(path, Source::Editor, Ok(text.to_owned()));
    }

    fn forget(&mut self, path: &Path, closed: bool) {
        if let Some((source, _)) = self.0.get_mut(path)
            && (closed || *source != Source::Editor)
        {
            *source = Source::Stale;
        }
    }

    fn load(&mut self, path: &Path) -> Option<Arc<T>> {
        let known = self.0.get(path);
        if let Some((Source::Editor, file)) = known {
            return Some(file.clone());
        }
        // A pipe of this name would never be read to its end.
        let Some(file) = fs::metadata(path).ok().filter(fs::Metadata::is_file) else {
            self.0.remove(path);
            return None;
        };
        let stamp = Source::Disk(file.modified().ok(), file.len());
        match known {
            Some((source, file)) if *source == stamp => Some(file.clone()),
            _ => Some(self.settle(path.to_owned(), stamp, read(path, file.len()))),
        }
    }

    /// Takes in a text; one that is the same as before leaves everything as it is.
    fn settle(&mut self, path: PathBuf, source: Source, text: Result<String, String>) -> Arc<T> {
        // One that could not be read has no text and a problem.
        let is_same = |known: &T| {
            let is_same = |text: &String| **text == **known.text();
            text.as_ref().is_ok_and(is_same)
                && (!known.text().is_empty() || known.problems().is_empty())
        };
        if let Some((from, known)) = self.0.get_mut(&path)
            && is_same(known)
        {
            *from = source;
            return known.clone();
        }
        let file = Arc::new(match text {
            Ok(text) => T::read(&text),
            Err(reason) => T::unreadable(reason),
        });
        self.0.insert(path, (source, file.clone()));
        file
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
            "This file is {} MB long and was not read: keep it below {} MB.",
            bytes >> 20,
            MOST_BYTES >> 20
        ));
    }
    let bytes =
        fs::read(path).map_err(|error| format!("This file cannot be read: {error}. See to it."))?;
    String::from_utf8(bytes).map_err(|_| "This file is not UTF-8: save it as UTF-8.".to_owned())
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
        fs::write(folder.path().join(Inventory::FILE), ONE).unwrap();
        let plan = deep.join("x.prep");
        let mut surroundings = Surroundings::default();
        let first = surroundings.for_plan(&plan);
        assert_eq!(name(&first.context).as_deref(), Some("one"));
        assert_eq!(first.inventory, Some(folder.path().join(Inventory::FILE)));
        assert!(first.context == surroundings.for_plan(&plan).context);

        fs::write(deep.join(Inventory::FILE), TWO).unwrap();
        assert_eq!(
            name(&surroundings.for_plan(&plan).context).as_deref(),
            Some("two")
        );
        fs::remove_file(deep.join(Inventory::FILE)).unwrap();
        assert_eq!(
            name(&surroundings.for_plan(&plan).context).as_deref(),
            Some("one")
        );
        // A folder of that name is no inventory.
        fs::create_dir(deep.join(Inventory::FILE)).unwrap();
        assert_eq!(
            name(&surroundings.for_plan(&plan).context).as_deref(),
            Some("one")
        );
    }

    #[test]
    fn an_open_document_rules_over_its_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(Inventory::FILE);
        fs::write(&path, ONE).unwrap();
        let plan = folder.path().join("x.prep");
        let mut surroundings = Surroundings::default();
        let first = surroundings.for_plan(&plan).context;
        surroundings.edited(path.clone(), ONE);
        assert!(first == surroundings.for_plan(&plan).context);
        surroundings.edited(path.clone(), TWO);
        surroundings.forget(&path, false);
        assert_eq!(
            name(&surroundings.for_plan(&plan).context).as_deref(),
            Some("two")
        );
        surroundings.forget(&path, true);
        assert_eq!(
            name(&surroundings.for_plan(&plan).context).as_deref(),
            Some("one")
        );
    }

    #[test]
    fn what_cannot_be_read_is_an_inventory_with_a_problem() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join(Inventory::FILE), b"name = \"\xb0C\"").unwrap();
        let found = Surroundings::default().for_plan(&folder.path().join("x.prep"));
        assert!(found.files[0].problems[0].message.contains("UTF-8"));
    }

    #[test]
    fn settings_and_inventory_are_looked_for_apart() {
        let folder = tempfile::tempdir().unwrap();
        let deep = folder.path().join("a");
        fs::create_dir(&deep).unwrap();
        fs::write(folder.path().join(Settings::FILE), "[ages]\ntitre = 14\n").unwrap();
        fs::write(deep.join(Inventory::FILE), ONE).unwrap();
        let mut surroundings = Surroundings::default();
        let found = surroundings.for_plan(&deep.join("x.prep"));
        assert_eq!(name(&found.context).as_deref(), Some("one"));
        assert_eq!(found.context.settings.ages.titre, 14);
        assert_eq!(found.files.len(), 2);

        surroundings.edited(folder.path().join(Settings::FILE), "[ages]\ntitre = 7\n");
        let edited = surroundings.for_plan(&deep.join("x.prep"));
        assert_eq!(edited.context.settings.ages.titre, 7);
        assert!(found.context != edited.context);
    }

    #[test]
    fn what_is_wrong_with_the_checks_is_a_problem_of_the_settings() {
        let folder = tempfile::tempdir().unwrap();
        let text = "[checks]\nprofile = \"loud\"\n[ages]\ntitre = 0\n";
        fs::write(folder.path().join(Settings::FILE), text).unwrap();
        let found = Surroundings::default().for_plan(&folder.path().join("x.prep"));
        let problems = found.files[0].problems.iter();
        let at: Vec<_> = problems.map(|p| &text[p.range.clone()]).collect();
        assert_eq!(at, ["\"loud\"", "0"]);
    }
}
