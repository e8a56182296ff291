//! What this device exchanged, with which folder and when: `exchanged.toml` in the data folder. It is no record, and is
//! never exchanged itself.

use std::fmt;
use std::fs;
use std::path::{Path, PathBuf};

use offshed_core::stamp::Stamp;
use serde::{Deserialize, Serialize};

/// The file's name.
pub const FILE: &str = "exchanged.toml";
/// Most exchanges that are kept: the latest.
pub const MOST: usize = 30;
/// Most folders that are offered again.
const FOLDERS: usize = 6;

/// One exchange.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Line {
    /// When, in seconds since 1970 UTC.
    pub at: i64,
    /// With which folder.
    pub with: String,
    /// How it went, in a word or two.
    pub word: String,
    /// What came and what went, and what was found; one a line.
    pub detail: String,
    /// It failed, was stopped, or something was found.
    pub look: bool,
}

impl Line {
    /// An exchange that came to nothing.
    pub fn failed(at: Stamp, with: &Path, why: &str) -> Line {
        let (with, word) = (with.display().to_string(), "Failed".to_owned());
        Line { at: at.0, with, word, detail: why.to_owned(), look: true }
    }
}

/// The exchanges, the latest first.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Log {
    #[serde(default)]
    exchange: Vec<Line>,
}

/// Why the file can't be kept.
#[derive(Debug)]
pub struct LogFault {
    /// The file.
    pub path: PathBuf,
    /// What is wrong.
    pub why: String,
}

impl fmt::Display for LogFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "what was exchanged can't be kept in \"{}\": {}", self.path.display(), self.why)
    }
}

impl std::error::Error for LogFault {}

impl Log {
    /// What the data folder at `folder` has; a file that can't be read or understood is as none, and is written anew.
    pub fn read(folder: &Path) -> Log {
        let text = fs::read_to_string(folder.join(FILE)).unwrap_or_default();
        let mut log: Log = toml::from_str(&text).unwrap_or_default();
        log.exchange.truncate(MOST);
        log
    }

    /// The exchanges, the latest first.
    pub fn lines(&self) -> &[Line] {
        &self.exchange
    }

    /// Adds the latest, and forgets what is more than [`MOST`].
    pub fn add(&mut self, line: Line) {
        self.exchange.insert(0, line);
        self.exchange.truncate(MOST);
    }

    /// The folders that were exchanged with, each once, the latest first.
    pub fn folders(&self) -> Vec<String> {
        let mut folders: Vec<String> = Vec::new();
        for line in &self.exchange {
            if !folders.contains(&line.with) {
                folders.push(line.with.clone());
            }
        }
        folders.truncate(FOLDERS);
        folders
    }

    /// Writes the file as a whole, by a temporary one and a rename.
    ///
    /// # Errors
    /// When it can't be written.
    pub fn write(&self, folder: &Path) -> Result<(), LogFault> {
        let path = folder.join(FILE);
        let fault = |why: String| LogFault { path: path.clone(), why };
        let text = toml::to_string(self).map_err(|error| fault(error.to_string()))?;
        let text = format!("# What this device exchanged. No record, and never exchanged.\n{text}");
        let part = tempfile::NamedTempFile::new_in(folder).map_err(|error| fault(error.to_string()))?;
        fs::write(part.path(), text).map_err(|error| fault(error.to_string()))?;
        part.persist(&path).map(drop).map_err(|error| fault(error.to_string()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(at: i64, with: &str) -> Line {
        Line { at, with: with.to_owned(), detail: "a\nb \"c\"".to_owned(), ..Line::default() }
    }

    #[test]
    fn there_and_back_the_latest_first_and_no_more_than_most() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(Log::read(folder.path()), Log::default());
        let mut log = Log::default();
        (0..40).for_each(|n| log.add(line(n, if n % 2 == 0 { "/even" } else { "/odd" })));
        log.write(folder.path()).unwrap();
        let read = Log::read(folder.path());
        assert_eq!((read.lines().len(), read.lines()[0].at), (MOST, 39));
        assert_eq!((&read, read.folders()), (&log, vec!["/odd".to_owned(), "/even".to_owned()]));
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        fs::write(folder.path().join(FILE), "nonsense = [").unwrap();
        assert_eq!(Log::read(folder.path()), Log::default());
    }
}
