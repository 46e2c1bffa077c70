//! Finding and reading plans.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// The text of a plan, or why it cannot be read, in words for the user.
pub(super) fn read(path: &Path) -> Result<String, String> {
    let bytes = fs::read(path).map_err(|error| format!("cannot read {}: {}", path.display(), reason(&error)))?;
    String::from_utf8(bytes).map_err(|error| {
        let line = error.as_bytes()[..error.utf8_error().valid_up_to()].iter().filter(|&&byte| byte == b'\n').count();
        format!("cannot read {}: line {} is not UTF-8; save the file as UTF-8", path.display(), line + 1)
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
            complaints.push(format!("no plan in {}: no file there ends in .prep", path.display()));
        }
    }
    (files, complaints)
}

/// Every plan under a folder, but for hidden folders and, because they may lead in a circle, linked ones.
fn search(folder: &Path, files: &mut Vec<PathBuf>, complaints: &mut Vec<String>) {
    let entries = match fs::read_dir(folder).and_then(Iterator::collect::<io::Result<Vec<_>>>) {
        Ok(entries) => entries,
        Err(error) => {
            complaints.push(format!("cannot read the folder {}: {}", folder.display(), reason(&error)));
            return;
        }
    };
    let mut entries: Vec<_> = entries.into_iter().map(|entry| (entry.path(), entry)).collect();
    entries.sort_by(|(a, _), (b, _)| a.cmp(b));
    for (path, entry) in entries {
        let hidden = entry.file_name().to_string_lossy().starts_with('.');
        let folder = entry.file_type().is_ok_and(|kind| kind.is_dir());
        if folder && !hidden {
            search(&path, files, complaints);
        } else if path.extension().is_some_and(|end| end.eq_ignore_ascii_case("prep")) && path.is_file() {
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
