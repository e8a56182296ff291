//! How long records are to be kept: a setting of the data folder, and what is older. Nothing is ever deleted here: books are
//! chained, and a chain with a hole proves nothing. What may go, goes as a whole folder, after its papers were made.

use std::collections::BTreeMap;
use std::fmt;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use chrono::{Datelike, Months};
use offshed_core::register::Register;
use offshed_core::stamp::Now;
use serde::{Deserialize, Serialize};

use crate::ledger::Ledger;

/// The setting's file in a data folder.
const FILE: &str = "retention.toml";
/// Longest time that can be set, years.
const LONGEST: u16 = 200;

/// How long records are kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Retention {
    /// Years, 1 to 200, after a record was made.
    pub keep_years: u16,
}

/// Why the setting can't be read or written.
#[derive(Debug)]
pub enum RetentionFault {
    /// The file can't be read or written.
    Io {
        /// The file.
        path: PathBuf,
        /// Why.
        why: String,
    },
    /// The years are out of range.
    Years {
        /// As given.
        given: u16,
    },
}

impl fmt::Display for RetentionFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            RetentionFault::Io { path, why } => {
                write!(f, "\"{}\": {why}; put it back from a copy, or set it again", path.display())
            }
            RetentionFault::Years { given } => write!(f, "{given} years: give 1 to {LONGEST}"),
        }
    }
}

impl std::error::Error for RetentionFault {}

impl Retention {
    /// Reads a folder's setting; `None` where none was made.
    ///
    /// # Errors
    /// When it is there and can't be read.
    pub fn read(folder: &Path) -> Result<Option<Retention>, RetentionFault> {
        let path = folder.join(FILE);
        let io = |why: String| RetentionFault::Io { path: path.clone(), why };
        match fs::read_to_string(&path) {
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(io(error.to_string())),
            Ok(text) => {
                let read: Retention = toml::from_str(&text).map_err(|error| io(error.message().to_owned()))?;
                read.checked().map(Some)
            }
        }
    }

    /// Writes a folder's setting, the file as a whole.
    ///
    /// # Errors
    /// When the years are out of range or it can't be written.
    pub fn write(self, folder: &Path) -> Result<(), RetentionFault> {
        self.checked()?;
        let path = folder.join(FILE);
        let io = |why: String| RetentionFault::Io { path: path.clone(), why };
        let text = format!(
            "# How long these records are to be kept. Nothing is deleted by it.\nkeep_years = {}\n",
            self.keep_years
        );
        let put = || -> std::io::Result<()> {
            let mut part = tempfile::NamedTempFile::new_in(folder)?;
            part.write_all(text.as_bytes())?;
            part.as_file().sync_all()?;
            part.persist(&path).map_err(|error| error.error)?;
            Ok(())
        };
        put().map_err(|error| io(error.to_string()))
    }

    fn checked(self) -> Result<Retention, RetentionFault> {
        match self.keep_years {
            1..=LONGEST => Ok(self),
            given => Err(RetentionFault::Years { given }),
        }
    }
}

/// The records of one calendar year.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct KeptYear {
    /// The year.
    pub year: i32,
    /// Entries recorded in it.
    pub entries: u64,
    /// Sheets opened in it.
    pub sheets: u64,
    /// All of it is older than records are to be kept.
    pub over: bool,
}

/// What is kept, year by year.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Kept {
    /// The setting; `None`: none was made, and nothing is over.
    pub keep_years: Option<u16>,
    /// The first day that is to be kept still, ISO 8601.
    pub keep_from: Option<String>,
    /// The years, oldest first.
    pub years: Vec<KeptYear>,
}

impl Kept {
    /// What a ledger holds, against a setting, at `now`.
    pub fn of(ledger: &Ledger, retention: Option<Retention>, now: Now) -> Kept {
        let zone = ledger.office.zone();
        let back = retention.map(|setting| Months::new(u32::from(setting.keep_years) * 12));
        let keep_from = back.and_then(|months| zone.day(now.stamp).checked_sub_months(months));
        let mut years: BTreeMap<i32, (u64, u64)> = BTreeMap::new();
        for entry in ledger.entries() {
            let (entries, sheets) = years.entry(zone.day(entry.stamp).year()).or_default();
            *entries += 1;
            *sheets += u64::from(ledger.sheet(entry.at).is_some());
        }
        let line = |(year, (entries, sheets))| {
            let over = keep_from.is_some_and(|first| year < first.year());
            KeptYear { year, entries, sheets, over }
        };
        Kept {
            keep_years: retention.map(|setting| setting.keep_years),
            keep_from: keep_from.map(|day| day.to_string()),
            years: years.into_iter().map(line).collect(),
        }
    }
}
