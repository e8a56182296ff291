//! A table as rows of named cells: comma-separated values (RFC 4180) with a head line. A column is found by its name, or
//! by the name that a mapping gives it.

use std::fmt;

use serde::Serialize;

use super::BadRow;

/// What a table holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Engines of the register.
    Engines,
    /// People of the register, with their grades.
    People,
    /// When things that are due were last done.
    Dates,
    /// Readings for sheets that are open.
    Readings,
}

/// A column of ours.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Column {
    /// Its name.
    pub name: &'static str,
    /// It must be there, and filled.
    pub required: bool,
    /// What stands in it.
    pub holds: &'static str,
}

const fn needed(name: &'static str, holds: &'static str) -> Column {
    Column { name, required: true, holds }
}

const fn optional(name: &'static str, holds: &'static str) -> Column {
    Column { name, required: false, holds }
}

const ENGINES: [Column; 5] = [
    needed("number", "the engine's number"),
    optional("name", "its name"),
    optional("glass", "visible glass with its unit: 180 mm"),
    optional("pressure", "working pressure with its unit: 145 psi"),
    optional("has", "what it has, ids of the rules with spaces between"),
];
const PEOPLE: [Column; 4] = [
    needed("number", "the person's number"),
    optional("name", "the person's name"),
    optional("grade", "a grade's id in the rules; one row for each grade"),
    optional("until", "the grade's last day, YYYY-MM-DD; empty: without end"),
];
const DATES: [Column; 4] = [
    needed("engine", "the engine's number"),
    needed("date", "the date's id in the rules"),
    needed("done", "the day on which it was last done, YYYY-MM-DD"),
    optional("days_before", "days in steam since then that these records do not count"),
];
const READINGS: [Column; 5] = [
    needed("engine", "the engine's number"),
    needed("step", "the step's id in the rules"),
    needed("at", "when it was read, local: YYYY-MM-DD HH:MM"),
    needed("value", "the value with its unit, or the value alone beside a column unit"),
    optional("unit", "the value's unit"),
];

impl Kind {
    /// The columns that a table of this kind has.
    pub fn columns(self) -> &'static [Column] {
        match self {
            Kind::Engines => &ENGINES,
            Kind::People => &PEOPLE,
            Kind::Dates => &DATES,
            Kind::Readings => &READINGS,
        }
    }

    /// The column that tells what a row is about.
    pub(super) fn key_column(self) -> &'static str {
        self.columns().first().map_or("", |column| column.name)
    }
}

/// A column of the file taken for one of ours.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Mapped {
    /// Ours.
    pub ours: &'static str,
    /// What the file calls it.
    pub theirs: String,
    /// What stands in it.
    pub holds: &'static str,
}

/// A table read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Table {
    /// What it holds.
    pub kind: Kind,
    /// Which column of the file is taken for which of ours.
    pub mapping: Vec<Mapped>,
    /// Columns of the file that are not used.
    pub unused: Vec<String>,
    pub(super) rows: Vec<Cells>,
    pub(super) ragged: Vec<BadRow>,
}

/// The cells of one row, in the order of the mapping.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Cells {
    pub(super) line: u64,
    cells: Vec<(&'static str, String, String)>,
}

impl Cells {
    /// What stands in a column of ours; empty where the file has none.
    pub(super) fn get(&self, name: &str) -> &str {
        self.cells.iter().find(|(ours, ..)| *ours == name).map_or("", |(.., text)| text.as_str())
    }

    /// All that stands in it.
    pub(super) fn values(&self) -> Vec<String> {
        self.cells.iter().map(|(.., text)| text.clone()).collect()
    }

    /// Something is wrong in a column of ours.
    pub(super) fn bad(&self, name: &str, problem: impl Into<String>) -> BadRow {
        let theirs = self.cells.iter().find(|(ours, ..)| *ours == name).map_or(name, |(_, theirs, _)| theirs.as_str());
        BadRow { line: self.line, column: theirs.to_owned(), found: self.get(name).to_owned(), problem: problem.into() }
    }

    /// The first column that must be filled and is not.
    fn lacks(&self, kind: Kind) -> Option<BadRow> {
        let empty = kind.columns().iter().find(|column| column.required && self.get(column.name).is_empty())?;
        Some(self.bad(empty.name, format!("it is empty: give {}", empty.holds)))
    }
}

/// Why a file is no such table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TableFault {
    /// What is wrong, where, and what to do.
    pub problem: String,
}

impl fmt::Display for TableFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.problem)
    }
}

impl std::error::Error for TableFault {}

fn fault<T>(problem: impl Into<String>) -> Result<T, TableFault> {
    Err(TableFault { problem: problem.into() })
}

/// Reads a table; `map` names columns of the file for ours, as pairs of theirs and ours.
///
/// # Errors
/// When it is no table, or a column that must be there is not. Rows that are not right are kept as such.
pub fn read(kind: Kind, text: &str, map: &[(String, String)]) -> Result<Table, TableFault> {
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let mut reader =
        csv::ReaderBuilder::new().has_headers(false).flexible(true).trim(csv::Trim::All).from_reader(text.as_bytes());
    let mut records = reader.records();
    let head: Vec<String> = match records.next() {
        Some(Ok(record)) => record.iter().map(str::to_owned).collect(),
        Some(Err(error)) => return fault(format!("the head line can't be read: {error}")),
        None => return fault(format!("the file is empty: its first line names the columns: {}", names(kind))),
    };
    let places = places(kind, &head, map)?;
    let used: Vec<usize> = places.iter().map(|(_, at)| *at).collect();
    let (mut rows, mut ragged) = (Vec::new(), Vec::new());
    for record in records {
        let record = match record {
            Ok(record) => record,
            Err(error) => return fault(format!("{error}; put the file right before any of it is taken")),
        };
        let line = record.position().map_or(0, csv::Position::line);
        if record.iter().all(str::is_empty) {
            continue;
        }
        if record.len() != head.len() {
            let problem = format!(
                "{} fields where the head line has {}: put fields with commas in double quotes",
                record.len(),
                head.len()
            );
            ragged.push(BadRow { line, column: String::new(), found: String::new(), problem });
            continue;
        }
        let cell = |(column, at): &(Column, usize)| {
            let theirs = head.get(*at).cloned().unwrap_or_default();
            (column.name, theirs, record.get(*at).unwrap_or("").to_owned())
        };
        let cells = Cells { line, cells: places.iter().map(cell).collect() };
        match cells.lacks(kind) {
            Some(bad) => ragged.push(bad),
            None => rows.push(cells),
        }
    }
    let mapped = |(column, at): &(Column, usize)| Mapped {
        ours: column.name,
        theirs: head.get(*at).cloned().unwrap_or_default(),
        holds: column.holds,
    };
    let unused = head.iter().enumerate().filter(|(at, _)| !used.contains(at)).map(|(_, name)| name.clone());
    Ok(Table { kind, mapping: places.iter().map(mapped).collect(), unused: unused.collect(), rows, ragged })
}

fn names(kind: Kind) -> String {
    kind.columns().iter().map(|column| column.name).collect::<Vec<_>>().join(",")
}

/// Where each of our columns stands in the file.
fn places(kind: Kind, head: &[String], map: &[(String, String)]) -> Result<Vec<(Column, usize)>, TableFault> {
    for (theirs, ours) in map {
        if !kind.columns().iter().any(|column| column.name == ours) {
            return fault(format!(
                "--map \"{theirs}={ours}\": there is no column \"{ours}\"; there are {}",
                names(kind)
            ));
        }
        if !head.contains(theirs) {
            return fault(format!(
                "--map \"{theirs}={ours}\": the file has no column \"{theirs}\"; it has {}",
                head.join(", ")
            ));
        }
    }
    let mut found = Vec::new();
    for column in kind.columns() {
        let theirs =
            map.iter().find(|(_, ours)| ours == column.name).map_or(column.name, |(theirs, _)| theirs.as_str());
        let mut at = head.iter().enumerate().filter(|(_, name)| name.eq_ignore_ascii_case(theirs)).map(|(at, _)| at);
        match (at.next(), at.next()) {
            (Some(_), Some(_)) => return fault(format!("two columns are called \"{theirs}\": rename one")),
            (Some(at), None) => found.push((*column, at)),
            (None, _) if column.required => return fault(missing(column, head)),
            (None, _) => {}
        }
    }
    Ok(found)
}

fn missing(column: &Column, head: &[String]) -> String {
    let commas = match head {
        [one] if one.contains(';') || one.contains('\t') => " (are fields kept apart by something else than commas?)",
        _ => "",
    };
    format!(
        "no column \"{}\" ({}): name it so, or give --map \"THEIRS={}\"; the file has {}{commas}",
        column.name,
        column.holds,
        column.name,
        head.join(", ")
    )
}
