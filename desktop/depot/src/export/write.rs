//! Writing an export: what is wanted, in which form, to where; and what is to be said about it.

use std::fmt;
use std::io::{self, Write};
use std::path::Path;

use offshed_core::ident::{DeviceId, EngineId, SequenceId, SheetId};
use offshed_core::register::Register;
use offshed_core::stamp::{Now, Stamp};

use super::data::{Envelope, Origin, dates_data, defects_data};
use super::history::{History, Progress};
use super::paper::PaperFault;
use super::proof::{Proof, Scope};
use super::{board, calendar, csv, json, papers, sheet};
use crate::folder::FolderFault;
use crate::ledger::Ledger;
use crate::views::{self, Moments};

/// What is exported.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// One sheet.
    Sheet(SheetId),
    /// One engine's history, from a moment on, up to another.
    History {
        /// The engine.
        engine: EngineId,
        /// From here on.
        from: Option<Stamp>,
        /// Up to here, this moment not among it.
        until: Option<Stamp>,
    },
    /// Defects of one engine or of all, open and cleared.
    Defects(Option<EngineId>),
    /// Dates of one engine or of all.
    Dates(Option<EngineId>),
    /// One engine's water log, whole.
    Water(EngineId),
    /// A sequence of the adopted rules, to be filled in by hand.
    Blank(SequenceId),
    /// The duty board.
    Board,
}

impl Wanted {
    fn kind(self) -> &'static str {
        match self {
            Wanted::Sheet(_) => "sheet",
            Wanted::History { .. } => "history",
            Wanted::Defects(_) => "defects",
            Wanted::Dates(_) => "dates",
            Wanted::Water(_) => "water",
            Wanted::Blank(_) => "blank",
            Wanted::Board => "board",
        }
    }

    /// The forms it can be written in.
    pub fn forms(self) -> &'static [Form] {
        match self {
            Wanted::Dates(_) => &[Form::Pdf, Form::Csv, Form::Json, Form::Ics],
            Wanted::Blank(_) => &[Form::Pdf],
            Wanted::Board => &[Form::Html],
            _ => &[Form::Pdf, Form::Csv, Form::Json],
        }
    }

    fn scope(self) -> Scope {
        match self {
            Wanted::Sheet(id) => Scope::Sheet(id),
            Wanted::History { engine, .. } | Wanted::Water(engine) => Scope::Engine(engine),
            Wanted::Defects(Some(engine)) => Scope::Engine(engine),
            _ => Scope::All,
        }
    }
}

/// The form of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// PDF/A-2a.
    Pdf,
    /// Comma-separated values.
    Csv,
    /// JSON.
    Json,
    /// iCalendar.
    Ics,
    /// HTML.
    Html,
}

impl Form {
    /// The form that a file's name ends in.
    pub fn of(path: &Path) -> Option<Form> {
        let ending = path.extension()?.to_str()?.to_ascii_lowercase();
        let all = [Form::Pdf, Form::Csv, Form::Json, Form::Ics, Form::Html];
        all.into_iter().find(|form| form.ending() == ending)
    }

    /// How a file of this form ends.
    pub fn ending(self) -> &'static str {
        match self {
            Form::Pdf => "pdf",
            Form::Csv => "csv",
            Form::Json => "json",
            Form::Ics => "ics",
            Form::Html => "html",
        }
    }
}

/// Why nothing was exported.
#[derive(Debug)]
pub enum ExportFault {
    /// It can't be written in that form.
    Form {
        /// What.
        kind: &'static str,
        /// Those it can be written in.
        forms: &'static [Form],
    },
    /// It is not here, or its rules are not.
    NotHere {
        /// What, and what to do.
        what: String,
    },
    /// The paper can't be made.
    Paper(PaperFault),
    /// A book can't be read.
    Folder(FolderFault),
    /// The file can't be written.
    Io(io::Error),
}

impl fmt::Display for ExportFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            ExportFault::Form { kind, forms } => {
                let forms: Vec<String> = forms.iter().map(|form| format!(".{}", form.ending())).collect();
                write!(f, "{kind} can be written as {}: let the file's name end so", forms.join(", "))
            }
            ExportFault::NotHere { what } => f.write_str(what),
            ExportFault::Paper(fault) => write!(f, "{fault}"),
            ExportFault::Folder(fault) => write!(f, "{fault}"),
            ExportFault::Io(error) => write!(f, "the file can't be written: {error}"),
        }
    }
}

impl std::error::Error for ExportFault {}

impl From<io::Error> for ExportFault {
    fn from(error: io::Error) -> ExportFault {
        ExportFault::Io(error)
    }
}

impl From<::csv::Error> for ExportFault {
    fn from(error: ::csv::Error) -> ExportFault {
        ExportFault::Io(io::Error::other(error))
    }
}

impl From<FolderFault> for ExportFault {
    fn from(fault: FolderFault) -> ExportFault {
        ExportFault::Folder(fault)
    }
}

impl From<PaperFault> for ExportFault {
    fn from(fault: PaperFault) -> ExportFault {
        ExportFault::Paper(fault)
    }
}

/// What was written.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Made {
    /// Lines of its table: entries, defects, dates, tests, steps, engines.
    pub lines: u64,
    /// Pages, of a paper.
    pub pages: Option<u32>,
    /// The check line, where it has one.
    pub check_line: Option<String>,
    /// What is to be said of it: what has no place in this form.
    pub notes: Vec<String>,
}

/// Writes an export as of `now`.
///
/// # Errors
/// When it can't be written in this form, is not here, or can't be written.
pub fn write(
    origin: Origin<'_>,
    (wanted, form): (Wanted, Form),
    now: Now,
    out: &mut dyn Write,
    progress: &mut dyn FnMut(Progress),
) -> Result<Made, ExportFault> {
    if !wanted.forms().contains(&form) {
        return Err(ExportFault::Form { kind: wanted.kind(), forms: wanted.forms() });
    }
    if let (Wanted::History { engine, .. } | Wanted::Water(engine), false) = (wanted, form == Form::Html) {
        known(origin.ledger, engine)?;
    }
    let maker = Maker { origin, ledger: origin.ledger, wanted, now };
    match form {
        Form::Pdf => papers::write(&maker, out, progress),
        Form::Csv => maker.csv(out, progress),
        Form::Json => maker.json(out, progress),
        Form::Ics => maker.ics(out),
        Form::Html => {
            let view = views::board(maker.ledger, now);
            out.write_all(board::page(&view, origin.doubts).as_bytes())?;
            Ok(Made { lines: view.engines.len() as u64, ..Made::default() })
        }
    }
}

fn known(ledger: &Ledger, engine: EngineId) -> Result<(), ExportFault> {
    let known = ledger.engine_ids();
    if known.contains(&engine) {
        return Ok(());
    }
    let numbers: Vec<String> = known.iter().map(ToString::to_string).collect();
    let which = if numbers.is_empty() { "no engines".to_owned() } else { format!("engines {}", numbers.join(", ")) };
    Err(ExportFault::NotHere { what: format!("there is no engine {engine}: these records know {which}") })
}

/// What an export is made from.
pub(super) struct Maker<'l> {
    pub(super) origin: Origin<'l>,
    pub(super) ledger: &'l Ledger,
    pub(super) wanted: Wanted,
    pub(super) now: Now,
}

impl Maker<'_> {
    /// What is wanted with its head.
    pub(super) fn enveloped<T>(&self, data: T) -> Result<Envelope<T>, ExportFault> {
        Ok(Envelope::new(self.wanted.kind(), self.origin, self.wanted.scope(), self.now, data)?)
    }

    pub(super) fn sheet(&self, id: SheetId) -> Result<sheet::SheetPaper, ExportFault> {
        let cure = "sync with a device that has it";
        let missing =
            || ExportFault::NotHere { what: format!("sheet {id}, or the rules it is bound to, is not here: {cure}") };
        sheet::sheet(self.ledger, id, self.now).ok_or_else(missing)
    }

    fn made(&self, lines: usize) -> Made {
        let check_line = Some(Proof::of(self.ledger, self.wanted.scope()).to_string());
        Made { lines: lines as u64, check_line, ..Made::default() }
    }

    fn csv(&self, out: &mut dyn Write, progress: &mut dyn FnMut(Progress)) -> Result<Made, ExportFault> {
        let mut table = csv::writer(out);
        let mut lines = 0;
        match self.wanted {
            Wanted::Sheet(id) => {
                table.write_record(csv::ENTRIES)?;
                for line in &self.sheet(id)?.entries {
                    table.write_record(csv::entry(line))?;
                    lines += 1;
                }
            }
            Wanted::History { engine, from, until } => {
                table.write_record(csv::ENTRIES)?;
                History::new(self.ledger, engine, from, until).each(progress, |line| {
                    lines += 1;
                    table.write_record(csv::entry(&line))
                })?;
            }
            Wanted::Defects(engine) => {
                table.write_record(csv::DEFECTS)?;
                for defect in &defects_data(self.ledger, engine, self.now) {
                    table.write_record(csv::defect(defect))?;
                    lines += 1;
                }
            }
            Wanted::Dates(engine) => {
                table.write_record(csv::DATES)?;
                for date in &dates_data(self.ledger, engine, self.now) {
                    table.write_record(csv::date(date))?;
                    lines += 1;
                }
            }
            Wanted::Water(engine) => {
                table.write_record(csv::WATER)?;
                for record in csv::water(&views::water_up_to(self.ledger, engine, self.now, usize::MAX)) {
                    table.write_record(record)?;
                    lines += 1;
                }
            }
            Wanted::Blank(_) | Wanted::Board => {}
        }
        table.flush()?;
        Ok(self.made(lines))
    }

    fn json(&self, out: &mut dyn Write, progress: &mut dyn FnMut(Progress)) -> Result<Made, ExportFault> {
        let lines = match self.wanted {
            Wanted::Sheet(id) => {
                let data = self.sheet(id)?;
                json::whole(out, &self.enveloped(&data)?)?;
                data.entries.len()
            }
            Wanted::History { engine, from, until } => {
                let mut lines = 0;
                let mut listed = json::Listed::begin(out, &self.enveloped([])?)?;
                History::new(self.ledger, engine, from, until).each(progress, |line| {
                    lines += 1;
                    listed.line(&line)
                })?;
                listed.end()?;
                lines
            }
            Wanted::Defects(engine) => {
                let data = defects_data(self.ledger, engine, self.now);
                json::whole(out, &self.enveloped(&data)?)?;
                data.len()
            }
            Wanted::Dates(engine) => {
                let data = dates_data(self.ledger, engine, self.now);
                json::whole(out, &self.enveloped(&data)?)?;
                data.len()
            }
            Wanted::Water(engine) => {
                let data = views::water_up_to(self.ledger, engine, self.now, usize::MAX);
                json::whole(out, &self.enveloped(&data)?)?;
                data.tests.len() + data.treatments.len()
            }
            Wanted::Blank(_) | Wanted::Board => 0,
        };
        Ok(self.made(lines))
    }

    fn ics(&self, out: &mut dyn Write) -> Result<Made, ExportFault> {
        let engine = match self.wanted {
            Wanted::Dates(engine) => engine,
            _ => None,
        };
        let dates = dates_data(self.ledger, engine, self.now);
        let envelope = self.enveloped(())?;
        let moments = Moments::new(self.ledger.office.zone());
        let made = calendar::calendar(&calendar::Wanted {
            dates: &dates,
            origin: self.ledger.entries().next().map_or(DeviceId::default(), |entry| entry.at.device),
            as_of: self.now.stamp,
            as_of_words: &moments.long(self.now.stamp),
            caution: &envelope.caution,
        });
        out.write_all(made.text.as_bytes())?;
        let without = made.left_out.iter().map(|what| format!("not in the calendar, having no last day: {what}"));
        Ok(Made { notes: without.collect(), ..self.made(made.events) })
    }
}
