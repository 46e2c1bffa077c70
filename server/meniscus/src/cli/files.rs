//! Finding and reading plans.

use crate::surroundings::Surroundings;
use ide::{Document, PlanUnit};
use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// The text of a plan, or why it cannot be read, in words for the user.
pub(super) fn read(path: &Path) -> Result<String, String> {
    let bytes = fs::read(path)
        .map_err(|error| format!("cannot read {}: {}", path.display(), reason(&error)))?;
    String::from_utf8(bytes).map_err(|error| {
        let line = error.as_bytes()[..error.utf8_error().valid_up_to()]
            .iter()
            .filter(|&&byte| byte == b'\n')
            .count();
        format!(
            "cannot read {}: line {} is not UTF-8; save the file as UTF-8",
            path.display(),
            line + 1
        )
    })
}

/// The files that these paths mean, in order, and what is wrong with the paths.
pub(super) fn plans(paths: &[PathBuf]) -> (Vec<PathBuf>, Vec<String>) {
    let mut files = Vec::new();
    let mut complaints = Vec::new();
    for path in paths {
        if !path.is_dir() {
            files.push(path.clone());
            continue;
        }
        let before = (files.len(), complaints.len());
        search(path, &mut files, &mut complaints);
        if before == (files.len(), complaints.len()) {
            complaints.push(format!(
                "no plan in {}: no file there ends in .prep",
                path.display()
            ));
        }
    }
    (files, complaints)
}

/// Every plan under a folder, but for hidden folders and, because they may lead in a circle, linked ones.
fn search(folder: &Path, files: &mut Vec<PathBuf>, complaints: &mut Vec<String>) {
    let entries = match fs::read_dir(folder).and_then(Iterator::collect::<io::Result<Vec<_>>>) {
        Ok(entries) => entries,
        Err(error) => {
            complaints.push(format!(
                "cannot read the folder {}: {}",
                folder.display(),
                reason(&error)
            ));
            return;
        }
    };
    let mut entries: Vec<_> = entries
        .into_iter()
        .map(|entry| (entry.path(), entry))
        .collect();
    entries.sort_by(|(a, _), (b, _)| a.cmp(b));
    for (path, entry) in entries {
        let hidden = entry.file_name().to_string_lossy().starts_with('.');
        let folder = entry.file_type().is_ok_and(|kind| kind.is_dir());
        if folder && !hidden {
            search(&path, files, complaints);
        } else if path
            .extension()
            .is_some_and(|end| end.eq_ignore_ascii_case("prep"))
            && path.is_file()
        {
            files.push(path);
        }
    }
}

/// The reason alone, without the number that the system gives it.
pub(super) fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file".to_owned(),
        io::ErrorKind::PermissionDenied => "permission denied".to_owned(),
        io::ErrorKind::IsADirectory => "it is a folder".to_owned(),
        _ => error.to_string(),
    }
}

/// Replaces a file at once: whoever reads it sees the old text or the new one, and never a part.
pub(super) fn replace(path: &Path, text: &str) -> Result<(), String> {
    let write = || {
        // The file that a link points to, not the link.
        let path = fs::canonicalize(path)?;
        let folder = path.parent().unwrap_or(Path::new("."));
        let mut new = tempfile::NamedTempFile::new_in(folder)?;
        new.write_all(text.as_bytes())?;
        new.as_file()
            .set_permissions(fs::metadata(&path)?.permissions())?;
        new.as_file().sync_all()?;
        new.persist(&path).map_err(|error| error.error)?;
        Ok(())
    };
    write()
        .map_err(|error: io::Error| format!("cannot write {}: {}", path.display(), reason(&error)))
}

/// Writes a file, a new one or instead of the old, at once.
pub(super) fn write(path: &Path, text: &str) -> Result<(), String> {
    if path.exists() {
        return replace(path, text);
    }
    let write = || {
        let folder = path
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty());
        let mut new = tempfile::Builder::new();
        // As any other new file: a temporary one would be its owner's alone.
        #[cfg(unix)]
        new.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let mut new = new.tempfile_in(folder.unwrap_or(Path::new(".")))?;
        new.write_all(text.as_bytes())?;
        new.persist(path).map_err(|error| error.error)?;
        Ok(())
    };
    write()
        .map_err(|error: io::Error| format!("cannot write {}: {}", path.display(), reason(&error)))
}

/// A plan's file read against its surroundings.
pub(super) fn document(path: &Path, text: &str) -> Document {
    Document::with_context(text, Surroundings::default().for_plan(path).context)
}

/// A path as a user would write it here.
pub(super) fn shown(path: &Path) -> PathBuf {
    let here = std::env::current_dir().ok();
    let within = here.and_then(|here| path.strip_prefix(here).ok().map(Path::to_owned));
    within.unwrap_or_else(|| path.to_owned())
}

/// The plans of a document, without the empty text that may come before the first.
pub(super) fn written_plans(document: &Document) -> impl Iterator<Item = PlanUnit<'_>> {
    document
        .plans()
        .filter(|unit| !unit.plan.text.text.trim().is_empty())
}

/// The plan that was asked for, or the only one.
pub(super) fn choose<'a>(
    document: &'a Document,
    file: &Path,
    number: Option<usize>,
) -> Result<PlanUnit<'a>, String> {
    let file = file.display();
    let plans: Vec<_> = written_plans(document).collect();
    let titles = || {
        let title = |unit: &PlanUnit<'_>| {
            unit.plan
                .title
                .as_ref()
                .map_or("without a title".into(), |t| t.text.clone())
        };
        let titles = plans
            .iter()
            .zip(1..)
            .map(|(unit, number)| format!("\n  --plan {number}  {}", title(unit)));
        titles.collect::<String>()
    };
    match (number, plans.as_slice()) {
        (_, []) => Err(format!("{file} holds no plan")),
        (None, [only]) => Ok(*only),
        (None, _) => Err(format!(
            "{file} holds several plans; say which:{}",
            titles()
        )),
        (Some(number), plans) => number
            .checked_sub(1)
            .and_then(|index| plans.get(index).copied())
            .ok_or_else(|| format!("{file} has no plan {number}:{}", titles())),
    }
}
