//! `offshed export`, `offshed verify --paper`, `offshed retention`: records as papers and files.

use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Subcommand};
use offshed_core::ident::EngineId;
use offshed_core::register::Register;
use offshed_core::stamp::{Stamp, Zone};
use offshed_depot::export::{self, Checked, ExportFault, Form, Kept, Made, Origin, Progress, Retention, Wanted};
use offshed_depot::folder::FolderFinding;
use offshed_depot::ledger::Ledger;
use offshed_depot::typed;
use serde::Serialize;

use super::{Call, Outcome, as_of, clock, ids, sheet_id};
use crate::fault::{Fault, code};

/// Where to, and as of when.
#[derive(Debug, Args)]
pub(crate) struct To {
    /// The file to write; its ending says in which form: .pdf (PDF/A-2a), .csv, .json, .ics, .html. What was there is
    /// replaced.
    #[arg(long, value_name = "FILE")]
    to: PathBuf,
    /// As of this moment, local: "YYYY-MM-DD HH:MM"; only what was recorded by then counts.
    #[arg(long, value_name = "MOMENT")]
    as_of: Option<String>,
}

#[derive(Debug, Subcommand)]
pub(crate) enum ExportCommand {
    /// One sheet, signed or not: .pdf, .csv, .json.
    Sheet {
        /// The sheet: its id, or an engine's number where just one sheet is open for it.
        sheet: String,
        #[command(flatten)]
        to: To,
    },
    /// Everything about one engine: .pdf (without what was answered right), .csv, .json.
    History {
        /// The engine.
        engine: u16,
        /// The first local day, YYYY-MM-DD.
        #[arg(long, value_name = "DAY")]
        from: Option<String>,
        /// The last local day, YYYY-MM-DD.
        #[arg(long, value_name = "DAY")]
        until: Option<String>,
        #[command(flatten)]
        to: To,
    },
    /// Defects, open and cleared: .pdf, .csv, .json.
    Defects {
        /// The engine; left out: all.
        engine: Option<u16>,
        #[command(flatten)]
        to: To,
    },
    /// Dates as they stand: .pdf, .csv, .json; .ics for a calendar.
    Dates {
        /// The engine; left out: all.
        engine: Option<u16>,
        #[command(flatten)]
        to: To,
    },
    /// One engine's water, all tests: .pdf, .csv, .json.
    Water {
        /// The engine.
        engine: u16,
        #[command(flatten)]
        to: To,
    },
    /// A sequence of the adopted rules to be filled in by hand: .pdf.
    Blank {
        /// The sequence's id in the pack: preparation, disposal ...
        sequence: String,
        #[command(flatten)]
        to: To,
    },
    /// The duty board as one page that needs nothing else: .html.
    Board {
        #[command(flatten)]
        to: To,
    },
}

#[derive(Debug, Args)]
pub(crate) struct Retain {
    /// Keep records this many years, 1 to 200, from now on; left out: only look.
    #[arg(long, value_name = "YEARS")]
    keep_years: Option<u16>,
}

impl ExportCommand {
    fn to(&self) -> &To {
        match self {
            ExportCommand::Sheet { to, .. }
            | ExportCommand::History { to, .. }
            | ExportCommand::Defects { to, .. }
            | ExportCommand::Dates { to, .. }
            | ExportCommand::Water { to, .. }
            | ExportCommand::Blank { to, .. }
            | ExportCommand::Board { to } => to,
        }
    }

    fn wanted(&self, ledger: &Ledger) -> Result<Wanted, Fault> {
        let zone = ledger.office.zone();
        Ok(match self {
            ExportCommand::Sheet { sheet, .. } => Wanted::Sheet(sheet_id(ledger, sheet, None)?),
            ExportCommand::History { engine, from, until, .. } => Wanted::History {
                engine: EngineId(*engine),
                from: from.as_deref().map(|text| starts(text, zone)).transpose()?,
                until: until.as_deref().map(|text| ends(text, zone)).transpose()?,
            },
            ExportCommand::Defects { engine, .. } => Wanted::Defects(engine.map(EngineId)),
            ExportCommand::Dates { engine, .. } => Wanted::Dates(engine.map(EngineId)),
            ExportCommand::Water { engine, .. } => Wanted::Water(EngineId(*engine)),
            ExportCommand::Blank { sequence, .. } => {
                Wanted::Blank(ids(ledger)?.sequence(sequence).map_err(Fault::input)?)
            }
            ExportCommand::Board { .. } => Wanted::Board,
        })
    }
}

/// The first moment of a local day.
fn starts(text: &str, zone: &Zone) -> Result<Stamp, Fault> {
    let day = typed::day_named(text).map_err(Fault::input)?;
    Ok(zone.moment(day.and_time(chrono::NaiveTime::MIN)))
}

/// The first moment after a local day.
fn ends(text: &str, zone: &Zone) -> Result<Stamp, Fault> {
    typed::day_named(text).map(|day| zone.end_of_day(day)).map_err(Fault::input)
}

#[derive(Serialize)]
struct Written {
    file: String,
    bytes: u64,
    lines: u64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pages: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    check_line: Option<String>,
    notes: Vec<String>,
}

/// `offshed export`
pub(super) fn run(call: &Call, command: ExportCommand) -> Outcome {
    let To { to, as_of: then } = command.to();
    let forms = "let the file's name end in .pdf, .csv, .json, .ics or .html";
    let form = Form::of(to).ok_or_else(|| Fault::input(format!("{}: {forms}", to.display())))?;
    let (ledger, findings, folder) = call.look_closely()?;
    let (ledger, now) = as_of(then.as_deref(), ledger, &folder)?;
    let wanted = command.wanted(&ledger)?;
    let doubts: Vec<String> = findings.iter().filter(|f| f.leaves_doubt()).map(FolderFinding::to_string).collect();
    let origin = Origin { ledger: &ledger, folder: Some(&folder), doubts: &doubts };
    let (made, bytes) = put(to, |out| {
        let mut told = Told::default();
        export::write(origin, (wanted, form), now, out, &mut |progress| told.tell(progress))
    })?;
    let Made { lines, pages, check_line, notes } = made;
    let written = Written { file: to.display().to_string(), bytes, lines, pages, check_line, notes };
    call.print(&written, text)
}

fn text(written: &Written) -> String {
    let pages = written.pages.map(|pages| format!(", {pages} pages")).unwrap_or_default();
    let mut out = format!("wrote {}: {} lines{pages}, {} bytes\n", written.file, written.lines, written.bytes);
    out.extend(written.notes.iter().map(|note| format!("  {note}\n")));
    out.extend(written.check_line.iter().map(|line| format!("check line: {line}\n")));
    out
}

/// Writes a file as a whole: beside its place first, so that what was there stays until the new one is complete.
fn put(to: &Path, write: impl FnOnce(&mut dyn Write) -> Result<Made, ExportFault>) -> Result<(Made, u64), Fault> {
    let beside = to.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let io = |error: std::io::Error| Fault::input(format!("cannot write {}: {error}", to.display()));
    let part = tempfile::NamedTempFile::new_in(beside).map_err(io)?;
    let mut out = std::io::BufWriter::new(part);
    let made = write(&mut out).map_err(|fault| match fault {
        ExportFault::Folder(fault) => Fault::from(fault),
        ExportFault::Io(error) => io(error),
        other => Fault::input(other),
    })?;
    let part = out.into_inner().map_err(|error| io(error.into_error()))?;
    part.as_file().sync_all().map_err(io)?;
    readable(part.as_file()).map_err(io)?;
    let bytes = part.as_file().metadata().map_err(io)?.len();
    part.persist(to).map_err(|error| io(error.error))?;
    Ok((made, bytes))
}

/// A temporary file is its owner's alone; an export is for whoever may read the folder it is put into.
#[cfg(unix)]
fn readable(file: &std::fs::File) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    file.set_permissions(std::fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn readable(_: &std::fs::File) -> std::io::Result<()> {
    Ok(())
}

/// Tells somebody at a terminal how far it is, at most once a per cent.
#[derive(Default)]
struct Told {
    percent: Option<u64>,
}

impl Told {
    fn tell(&mut self, progress: Progress) {
        let percent = progress.done.saturating_mul(100) / progress.of.max(1);
        if self.percent == Some(percent) || !std::io::stderr().is_terminal() {
            return;
        }
        self.percent = Some(percent);
        let end = if progress.done >= progress.of { "\n" } else { "" };
        anstream::eprint!("\r{percent:>3} % of {} entries{end}", progress.of);
    }
}

/// `offshed verify --paper`
pub(super) fn check_paper(call: &Call, line: &str) -> Outcome {
    let (ledger, _) = call.look()?;
    let checked = export::check(&ledger, line).map_err(Fault::input)?;
    call.print(&checked, paper_text)?;
    Ok(if checked.agrees { ExitCode::SUCCESS } else { ExitCode::from(code::FOUND) })
}

fn paper_text(checked: &Checked) -> String {
    let since = match checked.since {
        0 => "nothing was recorded since".to_owned(),
        n => format!("{n} entries were recorded since, and are not on it"),
    };
    if checked.agrees {
        return format!(
            "agrees: the {} entries of {} that the paper was made from are here, unchanged; {since}\n",
            checked.entries, checked.scope
        );
    }
    let mut out = format!(
        "does NOT agree: the {} entries of {} here, as far as the paper goes, hash to\n  {}\n",
        checked.entries, checked.scope, checked.sha256
    );
    match checked.short.as_slice() {
        [] => out.push_str("the paper or the records were changed, or the check line is not as it was printed\n"),
        short => out.push_str(&format!(
            "entries are missing here ({} among them): sync with a device that has them, then look again\n",
            short.join(", ")
        )),
    }
    out
}

/// `offshed retention`
pub(super) fn retention(call: &Call, args: &Retain) -> Outcome {
    let (ledger, folder) = call.look()?;
    if let Some(keep_years) = args.keep_years {
        Retention { keep_years }.write(folder.path()).map_err(Fault::input)?;
    }
    let setting = Retention::read(folder.path()).map_err(Fault::folder)?;
    call.print(&Kept::of(&ledger, setting, clock()), kept_text)
}

fn kept_text(kept: &Kept) -> String {
    let mut out = match (kept.keep_years, &kept.keep_from) {
        (Some(years), Some(from)) => format!("records are to be kept {years} years: from {from} on\n"),
        _ => "how long records are to be kept is not set: `offshed retention --keep-years YEARS`\n".to_owned(),
    };
    for year in &kept.years {
        let over = if year.over { "  older than that" } else { "" };
        out.push_str(&format!("{}: {} entries, {} sheets{over}\n", year.year, year.entries, year.sheets));
    }
    if kept.years.iter().any(|year| year.over) {
        out.push_str(
            "nothing is deleted: a chain of records with a hole proves nothing. Export what is to outlive them, begin a new\n\
             folder, and when all of this one is older than the time, its keeper decides about it as a whole.\n",
        );
    }
    out
}
