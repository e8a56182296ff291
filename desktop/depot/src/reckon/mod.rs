//! Boilers and roads as TOML, for arithmetic that needs no data folder. Every fault names file, line and key.

pub mod boiler;
pub mod road;

use std::fmt;

/// What is wrong with a file, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileFault {
    /// The file as it was named.
    pub file: String,
    /// The line, from 1; `None`: the file as a whole.
    pub line: Option<usize>,
    /// What is wrong, and what would do.
    pub words: String,
}

impl fmt::Display for FileFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "{}:{line}: {}", self.file, self.words),
            None => write!(f, "{}: {}", self.file, self.words),
        }
    }
}

impl std::error::Error for FileFault {}

/// Reads TOML into rows.
fn rows<T: serde::de::DeserializeOwned>(file: &str, text: &str) -> Result<T, FileFault> {
    toml::from_str(text).map_err(|bad| FileFault {
        file: file.to_owned(),
        line: bad.span().map(|span| line_at(text, span.start)),
        words: bad.message().to_owned(),
    })
}

/// The line of a byte, from 1.
fn line_at(text: &str, byte: usize) -> usize {
    text.bytes().take(byte).filter(|b| *b == b'\n').count() + 1
}

/// The line on which the key `table.key` stands.
fn line_of(text: &str, field: &str) -> Option<usize> {
    let (wanted, key) = field.split_once('.')?;
    let key = key.split('.').next().unwrap_or(key);
    let mut table = "";
    for (place, line) in text.lines().enumerate() {
        let line = line.trim();
        if let Some(name) = line.strip_prefix('[').and_then(|l| l.split(']').next()) {
            table = name.trim();
        } else if table == wanted && line.split('=').next().is_some_and(|k| k.trim() == key) {
            return Some(place + 1);
        }
    }
    None
}
