//! Folders to exchange with: which are there, and which can't be.

use std::path::{Path, PathBuf};

/// Most folders that are listed to choose from; more are told.
const MOST_PLACES: usize = 200;

/// Why a folder can't be exchanged with, in words; `None`: it can.
pub(super) fn unfit(own: &Path, other: &Path) -> Option<String> {
    if !other.is_dir() {
        return Some(format!("{} is no folder: check the name, or that the stick is in", other.display()));
    }
    let same = matches!((own.canonicalize(), other.canonicalize()), (Ok(a), Ok(b)) if a == b);
    same.then(|| "this is the folder of these records themselves: choose another".to_owned())
}

/// Folders in a folder, with their names, the way up first; and how many more there are.
pub(super) fn places(path: &Path) -> (Vec<(String, String)>, usize) {
    let home = || dirs::home_dir().filter(|home| home.is_dir()).unwrap_or_else(|| PathBuf::from("/"));
    let from = if path.is_dir() { path.to_owned() } else { home() };
    let mut found: Vec<PathBuf> = std::fs::read_dir(&from)
        .into_iter()
        .flatten()
        .flatten()
        .map(|item| item.path())
        .filter(|path| path.is_dir() && !hidden(path))
        .collect();
    found.sort();
    let more = found.len().saturating_sub(MOST_PLACES);
    found.truncate(MOST_PLACES);
    let name = |path: &PathBuf| path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let up = from.parent().map(|up| (up.display().to_string(), "One folder up".to_owned()));
    let below = found.iter().map(|path| (path.display().to_string(), name(path)));
    (up.into_iter().chain(below).collect(), more)
}

fn hidden(path: &Path) -> bool {
    path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.'))
}
