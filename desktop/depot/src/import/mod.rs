//! Tables of others into the records: engines, people, dates, and readings for sheets that are open. Every row is tried
//! in a copy of the folder first, through the same rules as any hand; one that is not right is named by line and column,
//! and then nothing is written, unless bad rows are to be passed over. What is on record already is not written again.

mod rows;
mod table;
mod trial;

pub use table::{Column, Kind, Mapped, Table, TableFault, read};

use std::collections::BTreeMap;
use std::{fmt, io};

use offshed_core::entry::What;
use offshed_core::ident::PersonId;
use offshed_core::stamp::Now;
use serde::Serialize;

use crate::folder::FolderFault;
use crate::ledger::Ledger;
use crate::shed::{self, Denial, Given, Shed};
use rows::Wanted;
use table::Cells;

/// What is wrong with a row, and where.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BadRow {
    /// The line in the file, from 1.
    pub line: u64,
    /// The column, as the file calls it; empty where it is about the row.
    pub column: String,
    /// What stands there.
    pub found: String,
    /// What is wrong, and what to do.
    pub problem: String,
}

impl fmt::Display for BadRow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.column.as_str() {
            "" => write!(f, "line {}: {}", self.line, self.problem),
            column => write!(f, "line {}, column \"{column}\" (\"{}\"): {}", self.line, self.found, self.problem),
        }
    }
}

/// What an import came to, or would come to.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Report {
    /// Which column of the file is taken for which of ours.
    pub mapping: Vec<Mapped>,
    /// Columns of the file that are not used.
    pub unused: Vec<String>,
    /// Rows read.
    pub rows: usize,
    /// What is new, row by row, in words.
    pub new: Vec<String>,
    /// Rows whose every part is on record already.
    pub already: usize,
    /// Rows that are not right.
    pub bad: Vec<BadRow>,
    /// Entries written: none of a trial, or where a row is bad and bad rows are not passed over.
    pub written: usize,
}

/// How an import is done.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// Only try.
    pub dry_run: bool,
    /// Pass bad rows over and write the others.
    pub skip_bad: bool,
}

/// Why an import was not tried or not finished.
#[derive(Debug)]
pub enum ImportFault {
    /// The copy in which it is tried can't be made.
    Copy(io::Error),
    /// The copy, or the folder, can't be read or written.
    Folder(FolderFault),
    /// A row that was right in the copy was refused in the folder; rows before it are written, and are passed over when
    /// the import is repeated.
    Halfway {
        /// The row's line.
        line: u64,
        /// Entries written before it.
        written: usize,
        /// Why.
        problem: String,
    },
}

impl fmt::Display for ImportFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            ImportFault::Copy(error) => write!(f, "cannot copy the folder to try the table in: {error}"),
            ImportFault::Folder(fault) => write!(f, "{fault}"),
            ImportFault::Halfway { line, written, problem } => write!(
                f,
                "line {line} could not be written: {problem}; {written} entries before it are: put that right and repeat \
                 the import, which writes nothing twice"
            ),
        }
    }
}

impl std::error::Error for ImportFault {}

impl From<FolderFault> for ImportFault {
    fn from(fault: FolderFault) -> ImportFault {
        ImportFault::Folder(fault)
    }
}

/// Brings a table into a folder, in the name of `person`, whose PIN the caller has checked.
///
/// # Errors
/// When it can't be tried, or a disk fails. Rows that are not right are no error: they are in the report.
pub fn import(
    shed: &mut Shed,
    table: &Table,
    options: Options,
    person: PersonId,
    now: Now,
) -> Result<Report, ImportFault> {
    let mut report = Report {
        mapping: table.mapping.clone(),
        unused: table.unused.clone(),
        rows: table.rows.len() + table.ragged.len(),
        bad: table.ragged.clone(),
        ..Report::default()
    };
    let (_kept, mut copy) = trial::copy(shed)?;
    let good = try_rows(&mut copy, table, person, now, &mut report);
    report.bad.sort_by_key(|bad| bad.line);
    if options.dry_run || !(report.bad.is_empty() || options.skip_bad) {
        return Ok(report);
    }
    for cells in good {
        report.written += write_row(shed, table.kind, cells, person, now, report.written)?;
    }
    Ok(report)
}

/// Tries every row; answers those that add something.
fn try_rows<'t>(copy: &mut Shed, table: &'t Table, person: PersonId, now: Now, report: &mut Report) -> Vec<&'t Cells> {
    let mut good = Vec::new();
    let mut seen: BTreeMap<String, (u64, Vec<String>)> = BTreeMap::new();
    for cells in &table.rows {
        match try_row(copy, table.kind, cells, person, now, &mut seen) {
            Ok(told) if told.is_empty() => report.already += 1,
            Ok(told) => {
                report.new.push(format!("line {}: {}", cells.line, told.join("; ")));
                good.push(cells);
            }
            Err(bad) => report.bad.push(bad),
        }
    }
    good
}

/// What a row adds, in words, once it is in the copy.
fn try_row(
    copy: &mut Shed,
    kind: Kind,
    cells: &Cells,
    person: PersonId,
    now: Now,
    seen: &mut BTreeMap<String, (u64, Vec<String>)>,
) -> Result<Vec<String>, BadRow> {
    let key = rows::key(kind, cells);
    if let Some((line, before)) = seen.get(&key).filter(|(_, before)| *before != cells.values()) {
        let cure = "leave one of them out";
        let differs = format!("line {line} says otherwise ({}): {cure}", before.join(", "));
        return Err(cells.bad(kind.key_column(), differs));
    }
    let wanted = rows::wanted(copy.ledger(), kind, cells, now)?;
    seen.entry(key).or_insert_with(|| (cells.line, cells.values()));
    let mut told = Vec::new();
    for one in wanted {
        told.push(one.told);
        let written = act(copy, one.what, person, now);
        written.map_err(|denial| cells.bad("", refusal(copy.ledger(), &denial, now)))?;
    }
    Ok(told)
}

fn write_row(
    shed: &mut Shed,
    kind: Kind,
    cells: &Cells,
    person: PersonId,
    now: Now,
    before: usize,
) -> Result<usize, ImportFault> {
    let halfway =
        |problem: String, written: usize| ImportFault::Halfway { line: cells.line, written: before + written, problem };
    let wanted = rows::wanted(shed.ledger(), kind, cells, now).map_err(|bad| halfway(bad.to_string(), 0))?;
    let mut written = 0;
    for one in wanted {
        let done = act(shed, one.what, person, now);
        done.map_err(|denial| halfway(refusal(shed.ledger(), &denial, now), written))?;
        written += 1;
    }
    Ok(written)
}

fn act(shed: &mut Shed, what: Wanted, person: PersonId, now: Now) -> Result<(), Denial> {
    match what {
        Wanted::Fact(fact) => shed.act(What::Registered(*fact), person, now).map(drop),
        Wanted::Reading { sheet, step, answer, done_at } => {
            let answer = *answer;
            shed.answer(Given { sheet, step, answer, with: None, done_at: Some(done_at) }, person, now).map(drop)
        }
    }
}

fn refusal(ledger: &Ledger, denial: &Denial, now: Now) -> String {
    match denial {
        Denial::Refused(why) => format!("refused: {}", shed::sentence(ledger, None, why, now.stamp)),
        Denial::Folder(fault) => fault.to_string(),
        Denial::Pack(fault) => fault.to_string(),
        Denial::Exhausted => "this device's count of entries is used up: give the folder a new identity".to_owned(),
        Denial::Unwritable => "the entry is longer than a record may be".to_owned(),
    }
}
