//! What each command does. Every write goes through one desk; every look leaves the folder as it is.

mod demo;
pub(crate) mod export;
pub(crate) mod figures;
pub(crate) mod import;
mod look;
mod packs;
pub(crate) mod reckon;
mod record;
mod register;
mod share;
mod water;

use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::{SystemTime, UNIX_EPOCH};

use offshed_core::entry::{Entry, What};
use offshed_core::ident::{EngineId, PersonId, SheetId};
use offshed_core::reason::Why;
use offshed_core::register::Register;
use offshed_core::sheet::{Sheet, Stage};
use offshed_core::stamp::{Now, Stamp, Zone};
use offshed_depot::folder::{Folder, FolderFinding, Found};
use offshed_depot::ids::Ids;
use offshed_depot::ledger::Ledger;
use offshed_depot::packfile::PackFile;
use offshed_depot::shed::{self, Denial, Shed};
use offshed_depot::{typed, views, zone};
use serde::Serialize;

use crate::cli::{By, Command};
use crate::fault::Fault;

/// The outcome of a command: an exit code, or why it failed.
pub(crate) type Outcome = Result<ExitCode, Fault>;

/// What every command needs to know.
pub(crate) struct Call {
    folder: Option<PathBuf>,
    pub(crate) json: bool,
}

/// Does what a command says.
pub(crate) fn run(folder: Option<PathBuf>, json: bool, command: Command) -> Outcome {
    let call = Call { folder, json };
    match command {
        Command::New(args) => register::new(&call, &args),
        Command::Identity(args) => register::identity(&call, &args),
        Command::Demo(args) => demo::run(&call, &args),
        Command::Pack(command) => packs::run(&call, command),
        Command::Register(command) => register::run(&call, command),
        Command::Pin(args) => register::pin(&call, &args),
        Command::Open(args) => record::open(&call, &args),
        Command::Now(args) => look::now(&call, &args),
        Command::Answer(args) => record::answer(&call, &args),
        Command::Sign(args) => record::sign(&call, &args),
        Command::Review(args) => record::review(&call, &args),
        Command::Strike(args) => record::strike(&call, &args),
        Command::Abandon(args) => record::abandon(&call, &args),
        Command::Join(args) => record::join(&call, &args),
        Command::Note(args) => record::note(&call, &args),
        Command::Event(args) => record::event(&call, &args),
        Command::Defect(command) => record::defect(&call, command),
        Command::Dispense(args) => record::dispense(&call, &args),
        Command::Tag(command) => record::tag(&call, command),
        Command::Sheet(args) => look::sheet(&call, &args),
        Command::Board(args) => look::board(&call, &args),
        Command::Water(args) => water::water(&call, &args),
        Command::Plan(args) => reckon::plan::engine(&call, &args),
        Command::Sync(args) => share::sync(&call, &args),
        Command::Card(args) => share::card(&call, &args),
        Command::Verify(args) => share::verify(&call, &args),
        Command::Export(command) => export::run(&call, command),
        Command::Import(args) => import::run(&call, &args),
        Command::Retention(args) => export::retention(&call, &args),
        Command::Play(args) => share::play(&call, &args),
        Command::Reckon(what) => reckon::run(&call, &what),
    }
}

/// Keys that nobody has confirmed are told by `verify`, and not before every other command.
fn is_told(finding: &FolderFinding) -> bool {
    !matches!(finding.what, Found::UnknownKey { .. })
}

impl Call {
    /// The data folder, which most commands need.
    pub(crate) fn folder(&self) -> Result<&Path, Fault> {
        let missing = || Fault::input("which data folder? give --folder FOLDER, or set OFFSHED_FOLDER");
        self.folder.as_deref().ok_or_else(missing)
    }

    /// Opens the folder for writing; says what was damaged.
    pub(crate) fn shed(&self) -> Result<Shed, Fault> {
        let shed = Shed::open(self.folder()?)?;
        for finding in shed.findings().iter().filter(|finding| is_told(finding)) {
            anstream::eprintln!("warning: {finding}");
        }
        Ok(shed)
    }

    /// Opens the folder for looking; says what is damaged.
    pub(crate) fn look(&self) -> Result<(Ledger, Folder), Fault> {
        let (ledger, _, folder) = self.look_closely()?;
        Ok((ledger, folder))
    }

    /// As [`Call::look`], with what is damaged.
    pub(crate) fn look_closely(&self) -> Result<(Ledger, Vec<FolderFinding>, Folder), Fault> {
        let (ledger, findings, folder) = shed::look(self.folder()?)?;
        for finding in findings.iter().filter(|finding| is_told(finding)) {
            anstream::eprintln!("warning: {finding}");
        }
        Ok((ledger, findings, folder))
    }

    /// Prints a value as JSON where asked, else as `text` says.
    pub(crate) fn print<T: Serialize>(&self, value: &T, text: impl FnOnce(&T) -> String) -> Outcome {
        if self.json {
            let written = serde_json::to_string_pretty(value).map_err(Fault::input)?;
            anstream::println!("{written}");
        } else {
            anstream::print!("{}", text(value));
        }
        Ok(ExitCode::SUCCESS)
    }
}

/// The system's clock.
pub(crate) fn clock() -> Now {
    let seconds = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
    Now::good(Stamp(i64::try_from(seconds).unwrap_or(i64::MAX)))
}

/// The register's local time; before it has any, the folder's own zone.
pub(crate) fn local_time(ledger: &Ledger, folder: &Folder) -> Result<Zone, Fault> {
    let known = ledger.office.zone();
    if known != &Zone::default() {
        return Ok(known.clone());
    }
    let rows = zone::rows(folder.zone_name()).map_err(Fault::folder)?;
    Ok(Zone::new(&rows).unwrap_or_default())
}

/// A local moment as typed; a time alone is on the day of `now`.
pub(crate) fn moment(text: &str, zone: &Zone, now: Now) -> Result<Stamp, Fault> {
    typed::moment(text, Some(zone.day(now.stamp))).map(|local| zone.moment(local)).map_err(Fault::input)
}

/// The ledger and the clock now, or as they were at the moment given with `--as-of`.
pub(crate) fn as_of(text: Option<&str>, ledger: Ledger, folder: &Folder) -> Result<(Ledger, Now), Fault> {
    let now = clock();
    let Some(text) = text else { return Ok((ledger, now)) };
    let then = Now::good(moment(text, &local_time(&ledger, folder)?, now)?);
    Ok((ledger.as_of(then.stamp), then))
}

/// A person by name or number.
pub(crate) fn person(ledger: &Ledger, text: &str) -> Result<PersonId, Fault> {
    typed::person(&ledger.office, text).map_err(Fault::input)
}

/// The person who acts, with their PIN checked where one is set.
pub(crate) fn who(shed: &mut Shed, by: &By, now: Now) -> Result<PersonId, Fault> {
    let person = person(shed.ledger(), &by.by)?;
    if !shed.folder().has_pin(person)? {
        return Ok(person);
    }
    let pin = match &by.pin {
        Some(pin) => pin.clone(),
        None => ask_pin("PIN: ")?,
    };
    shed.folder_mut().check_pin(person, &pin, now.stamp).map_err(Fault::pin)?;
    Ok(person)
}

/// As [`who`], for what binds a person: a signature needs a PIN that is set.
pub(crate) fn who_signs(shed: &mut Shed, by: &By, now: Now) -> Result<PersonId, Fault> {
    let person = who(shed, by, now)?;
    if shed.folder().has_pin(person)? {
        return Ok(person);
    }
    Err(Fault::pin(format!("a signature needs a PIN: set one first with `offshed pin {}`", by.by)))
}

/// Asks for a PIN without showing it, where there is somebody to ask.
pub(crate) fn ask_pin(prompt: &str) -> Result<String, Fault> {
    if !std::io::stdin().is_terminal() {
        return Err(Fault::pin("this person has a PIN: give --pin, or set OFFSHED_PIN"));
    }
    rpassword::prompt_password(prompt).map_err(Fault::pin)
}

/// A sheet by its id, or by the number of an engine that has just one sheet open; with a step's id, just one on which
/// that step stands.
pub(crate) fn sheet_id(ledger: &Ledger, text: &str, step: Option<&str>) -> Result<SheetId, Fault> {
    if let Some(id) = typed::entry_ref(text) {
        return ledger.sheet(id).map(|s| s.id).ok_or_else(|| Fault::input(format!("there is no sheet {text}")));
    }
    let Ok(number) = text.parse() else {
        let cure = "give its id (`offshed sheet` lists them) or an engine's number";
        return Err(Fault::input(format!("\"{text}\" is no sheet: {cure}")));
    };
    let mut open: Vec<&Sheet> =
        ledger.sheets().filter(|s| s.engine == EngineId(number) && s.stage() == Stage::Open).collect();
    if let Some(step) = step.filter(|_| open.len() > 1) {
        open.retain(|sheet| stands_on(ledger, sheet, step));
    }
    match open.as_slice() {
        [sheet] => Ok(sheet.id),
        [] => {
            let cure = format!("open one with `offshed open {number} SEQUENCE`");
            Err(Fault::input(format!("no such sheet is open for engine {number}: {cure}")))
        }
        several => {
            let title = |s: &&Sheet| format!("{} ({})", s.id, views::sheet_title(ledger, s, clock()));
            let ids: Vec<String> = several.iter().map(title).collect();
            Err(Fault::input(format!("engine {number} has {} sheets open: give one of {}", ids.len(), ids.join(", "))))
        }
    }
}

/// Whether a step, by id, is one of the sheet's sequence.
fn stands_on(ledger: &Ledger, sheet: &Sheet, step: &str) -> bool {
    let Some(file) = ledger.pack(sheet.pack) else { return false };
    let row = Ids::of(file).step(step).ok().and_then(|id| file.pack().step(id));
    row.is_some_and(|row| row.sequence == sheet.sequence)
}

/// The pack of a sheet.
pub(crate) fn pack_of(ledger: &Ledger, sheet: SheetId) -> Result<&PackFile, Fault> {
    let hash = ledger.sheet(sheet).map(|s| s.pack);
    let pack = hash.and_then(|h| ledger.pack(h));
    pack.ok_or_else(|| Fault::input("the sheet's pack is not in this folder: sync with a device that has it"))
}

/// The adopted pack.
pub(crate) fn adopted(ledger: &Ledger) -> Result<&PackFile, Fault> {
    ledger.adopted().ok_or_else(|| Fault::input("no pack is adopted: `offshed pack adopt FILE --by PERSON`"))
}

/// Ids of the adopted pack.
pub(crate) fn ids(ledger: &Ledger) -> Result<Ids<'_>, Fault> {
    adopted(ledger).map(Ids::of)
}

/// Writes one thing, says what was written.
pub(crate) fn act(call: &Call, shed: &mut Shed, what: What, person: PersonId, now: Now) -> Outcome {
    let written = shed.act(what, person, now);
    settle(call, shed, None, written, now)
}

/// The outcome of a write: its entry, or the refusal in words.
pub(crate) fn settle(
    call: &Call,
    shed: &Shed,
    pack: Option<&PackFile>,
    written: Result<Entry, Denial>,
    now: Now,
) -> Outcome {
    let words = |why: &Why| shed::sentence(shed.ledger(), pack, why, now.stamp);
    let entry = written.map_err(|denial| Fault::denied(denial, words))?;
    #[derive(Serialize)]
    struct Recorded {
        recorded: String,
        at: String,
        #[serde(skip_serializing_if = "Option::is_none")]
        computed: Option<String>,
    }
    let zone = local_time(shed.ledger(), shed.folder())?;
    let at = offshed_depot::views::Moments::new(&zone).rfc3339(entry.stamp);
    let recorded = Recorded { recorded: entry.at.to_string(), at, computed: views::computed(&entry.what) };
    call.print(&recorded, |r| {
        let computed = r.computed.as_deref().map(|c| format!(": {c}")).unwrap_or_default();
        format!("recorded {} at {}{computed}\n", r.recorded, r.at)
    })
}
