//! What is wrong with a pack's source: file, line, key, the fault and its cure. Collected, so that one look finds many.

use std::cell::RefCell;
use std::fmt;

/// One thing that is wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Complaint {
    /// The file, as it was given.
    pub file: String,
    /// The line, from 1; 0: the file as a whole.
    pub line: u32,
    /// The column, from 1, counted in characters; 0: the file as a whole.
    pub column: u32,
    /// What it is about: "step `glass-left`"; may be empty.
    pub subject: String,
    /// The key, or the path to it; may be empty.
    pub key: String,
    /// What is wrong.
    pub what: String,
    /// What would cure it; may be empty.
    pub cure: String,
}

impl fmt::Display for Complaint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:", self.file)?;
        if self.line > 0 {
            write!(f, "{}:", self.line)?;
        }
        match (self.subject.is_empty(), self.key.is_empty()) {
            (true, true) => {}
            (false, true) => write!(f, " {}:", self.subject)?,
            (true, false) => write!(f, " key `{}`:", self.key)?,
            (false, false) => write!(f, " {}, key `{}`:", self.subject, self.key)?,
        }
        write!(f, " {}", self.what)?;
        if !self.cure.is_empty() {
            write!(f, "; {}", self.cure)?;
        }
        Ok(())
    }
}

impl std::error::Error for Complaint {}

/// Where something stands in the source.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// The file, by its place in [`super::Model::files`].
    pub file: u16,
    /// The line, from 1; 0: the file as a whole.
    pub line: u32,
    /// The column, from 1.
    pub column: u32,
}

/// Complaints as they are found, in any order.
#[derive(Debug)]
pub(super) struct Complaints {
    files: Vec<String>,
    found: RefCell<Vec<(Place, Complaint)>>,
}

impl Complaints {
    pub(super) fn new(files: Vec<String>) -> Complaints {
        Complaints { files, found: RefCell::default() }
    }

    /// Adds one.
    pub(super) fn say(&self, at: Place, subject: &str, key: &str, what: impl Into<String>, cure: impl Into<String>) {
        let complaint = Complaint {
            file: self.files.get(usize::from(at.file)).map_or("pack.toml", String::as_str).to_owned(),
            line: at.line,
            column: at.column,
            subject: subject.to_owned(),
            key: key.to_owned(),
            what: what.into(),
            cure: cure.into(),
        };
        self.found.borrow_mut().push((at, complaint));
    }

    pub(super) fn is_empty(&self) -> bool {
        self.found.borrow().is_empty()
    }

    /// All that were found, in the order of files and lines; `Ok` when there is none.
    pub(super) fn settle(&self) -> Result<(), Vec<Complaint>> {
        if self.is_empty() {
            return Ok(());
        }
        let mut found = self.found.take();
        found.sort_by_key(|(at, _)| *at);
        Err(found.into_iter().map(|(_, complaint)| complaint).collect())
    }
}

/// "did you mean `x`?", or what there is.
pub(super) fn suggest<'w>(word: &str, known: impl Iterator<Item = &'w str> + Clone, noun: &str) -> String {
    if let Some(near) = crate::ids::nearest(word, known.clone()) {
        return format!("did you mean `{near}`?");
    }
    let all: Vec<String> = known.map(|k| format!("`{k}`")).collect();
    match all.len() {
        0 => format!("there is no {noun} yet"),
        1..=16 => format!("there is {}", all.join(", ")),
        more => format!("there are {more}, none like it"),
    }
}
