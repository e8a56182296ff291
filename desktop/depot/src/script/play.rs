//! Playing a script: rows in order, each on its device, through the same desk as any hand.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::{fmt, fs, io};

use chrono::NaiveDate;
use offshed_core::entry::{Entry, Fact, What};
use offshed_core::ident::PersonId;
use offshed_core::register::Register;
use offshed_core::stamp::{Now, Stamp, Zone, ZoneRow};
use offshed_core::words;

use super::acts::{Act, Named};
use super::parse;
use super::row::{Row, ScriptFault, fault, parse as parse_rows};
use super::water;
use super::work::{Plan, left_alone};
use crate::folder::{Folder, FolderFault};
use crate::ledger::Office;
use crate::shed::{Denial, Given, Shed};
use crate::typed;
use crate::zone;

/// Where a folder keeps the data folders of a script's other devices.
pub const DEVICES: &str = "devices";

/// Why a script was not played. The folder is as it was.
#[derive(Debug)]
pub enum PlayFault {
    /// A row is wrong, or did not do as it says.
    Script(ScriptFault),
    /// A folder can't be read or written.
    Folder(FolderFault),
    /// The copy in which the script is tried can't be made.
    Copy(io::Error),
}

impl fmt::Display for PlayFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PlayFault::Script(fault) => write!(f, "{fault}"),
            PlayFault::Folder(fault) => write!(f, "{fault}"),
            PlayFault::Copy(error) => write!(f, "cannot copy the folder to try the script in: {error}"),
        }
    }
}

impl std::error::Error for PlayFault {}

impl From<ScriptFault> for PlayFault {
    fn from(fault: ScriptFault) -> PlayFault {
        PlayFault::Script(fault)
    }
}

impl From<FolderFault> for PlayFault {
    fn from(fault: FolderFault) -> PlayFault {
        PlayFault::Folder(fault)
    }
}

/// One row's outcome.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Played {
    /// The row's line.
    pub line: u64,
    /// When, local.
    pub at: String,
    /// The row in a few words.
    pub row: String,
    /// How many entries it wrote.
    pub entries: usize,
    /// The reason it was refused for, as it was to be.
    pub refused: Option<String>,
}

/// What a script did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Report {
    /// Row by row.
    pub rows: Vec<Played>,
    /// The last moment it speaks of.
    pub ended: Option<Stamp>,
}

impl Report {
    /// All entries written.
    pub fn entries(&self) -> usize {
        self.rows.iter().map(|r| r.entries).sum()
    }
}

/// Plays a script into the data folder at `path`; `base` is where the files it names are looked for.
///
/// It is played into a copy first, so that a row that is wrong leaves the folder as it was.
///
/// # Errors
/// The first row that is wrong or did not do as it says.
pub fn play(path: &Path, script: &str, base: &Path) -> Result<Report, PlayFault> {
    let rows = parse_rows(script)?;
    let trial = tempfile::tempdir().map_err(PlayFault::Copy)?;
    copy_folder(path, trial.path()).map_err(PlayFault::Copy)?;
    play_rows(trial.path(), &rows, base)?;
    play_rows(path, &rows, base)
}

fn copy_folder(from: &Path, to: &Path) -> io::Result<()> {
    for item in fs::read_dir(from)? {
        let item = item?;
        let target = to.join(item.file_name());
        if item.file_type()?.is_dir() {
            fs::create_dir_all(&target)?;
            copy_folder(&item.path(), &target)?;
        } else {
            fs::copy(item.path(), target)?;
        }
    }
    Ok(())
}

fn play_rows(path: &Path, rows: &[Row], base: &Path) -> Result<Report, PlayFault> {
    let main = Shed::open(path)?;
    let here = main.folder().name().to_owned();
    let mut player = Player {
        root: path.to_owned(),
        base: base.to_owned(),
        sheds: BTreeMap::from([(here.clone(), main)]),
        here,
        named: Named::default(),
        day: None,
        unlocked: BTreeSet::new(),
        clocks: BTreeMap::new(),
        report: Report::default(),
    };
    for row in rows {
        player.row(row)?;
    }
    player.gather(rows.last())?;
    Ok(player.report)
}

/// A script under way.
struct Player {
    root: PathBuf,
    base: PathBuf,
    sheds: BTreeMap<String, Shed>,
    here: String,
    named: Named,
    day: Option<NaiveDate>,
    unlocked: BTreeSet<PersonId>,
    clocks: BTreeMap<String, Stamp>,
    report: Report,
}

impl Player {
    fn row(&mut self, row: &Row) -> Result<(), PlayFault> {
        match row.act.as_str() {
            "day" => {
                self.day = Some(typed::day_named(&row.what).or_else(|problem| fault(row, "what", problem))?);
                return Ok(());
            }
            "sync" => return self.sync(row),
            _ => {}
        }
        self.open_device(row)?;
        let now = self.now(row)?;
        self.check_order(row, now)?;
        self.name_device(row, now)?;
        let person = self.person(row)?;
        self.check_unlocked(row, person)?;
        let outcome = match row.act.as_str() {
            "pin" => self.pin(row, now).map(|()| Ok(Vec::new()))?,
            "adopt" => self.adopt(row, person, now)?,
            "local-time" => self.local_time(row, person, now)?,
            "work" => self.work(row, person, now)?,
            "key" => self.confirm(row, person, now)?,
            "boiler" | "road" => self.stated_in_a_file(row, person, now)?,
            _ => self.act(row, person, now)?,
        };
        self.note(row, now, outcome)?;
        Ok(())
    }

    /// The shed of the row's device; other devices have a data folder of their own beneath this one.
    fn open_device(&mut self, row: &Row) -> Result<(), PlayFault> {
        if row.device.is_empty() || self.sheds.contains_key(&row.device) {
            return Ok(());
        }
        let plain = row.device.chars().all(|c| c.is_ascii_alphanumeric() || c == '-');
        if !plain {
            fault::<()>(row, "device", "a device is named with letters, digits and hyphens")?;
        }
        let path = self.root.join(DEVICES).join(&row.device);
        if !path.exists() {
            let zone = self.sheds.get(&self.here).map_or("Etc/UTC", |s| s.folder().zone_name()).to_owned();
            Folder::make(&path, &row.device, &zone)?;
        }
        self.sheds.insert(row.device.clone(), Shed::open(&path)?);
        Ok(())
    }

    /// A device says what it is called, once; where the office must be asked, the office says it.
    fn name_device(&mut self, row: &Row, now: Now) -> Result<(), ScriptFault> {
        let shed = self.shed_mut(row)?;
        let device = shed.folder().device();
        let unnamed = !shed.ledger().office.devices.contains_key(&device);
        if let (true, Ok(name)) = (unnamed, offshed_core::entry::bounded(shed.folder().name())) {
            let named = shed.act(What::Registered(Fact::Device { device, name }), PersonId(0), now);
            return match named {
                Ok(_) | Err(Denial::Refused(_)) => Ok(()),
                Err(denial) => Err(refusal(&denial, row)),
            };
        }
        Ok(())
    }

    fn device(&self, row: &Row) -> String {
        if row.device.is_empty() { self.here.clone() } else { row.device.clone() }
    }

    fn shed(&self, row: &Row) -> Result<&Shed, ScriptFault> {
        let device = self.device(row);
        self.sheds.get(&device).map_or_else(|| fault(row, "device", format!("no device \"{device}\"")), Ok)
    }

    fn shed_mut(&mut self, row: &Row) -> Result<&mut Shed, ScriptFault> {
        let device = self.device(row);
        self.sheds.get_mut(&device).map_or_else(|| fault(row, "device", format!("no device \"{device}\"")), Ok)
    }

    fn now(&self, row: &Row) -> Result<Now, ScriptFault> {
        if row.time.is_empty() {
            return fault(row, "time", "when? write HH:MM or HH:MM:SS");
        }
        let zone = self.zone(row)?;
        let stamp = parse::moment_in(row, "time", &row.time, self.day, &zone)?;
        let last = self.clocks.get(&self.device(row)).copied().filter(|_| !row.own_time);
        Ok(Now::good(last.map_or(stamp, |last| last.max(stamp))))
    }

    /// The register's local time; before it is set, the folder's own zone.
    fn zone(&self, row: &Row) -> Result<Zone, ScriptFault> {
        let shed = self.shed(row)?;
        let known = shed.ledger().office.zone();
        if known != &Zone::default() {
            return Ok(known.clone());
        }
        let rows = zone::rows(shed.folder().zone_name()).or_else(|unknown| fault(row, "time", unknown.to_string()))?;
        Ok(Zone::new(&rows).unwrap_or_default())
    }

    fn office(&self, row: &Row) -> Result<&Office, ScriptFault> {
        Ok(&self.shed(row)?.ledger().office)
    }

    fn person(&self, row: &Row) -> Result<PersonId, ScriptFault> {
        if row.who.is_empty() {
            return fault(row, "who", "who? give a name of the register, or a number");
        }
        typed::person(self.office(row)?, &row.who).or_else(|problem| fault(row, "who", problem))
    }

    /// On one device time goes one way.
    fn check_order(&mut self, row: &Row, now: Now) -> Result<(), ScriptFault> {
        let device = self.device(row);
        let zone = self.zone(row)?;
        let before = self.clocks.insert(device.clone(), now.stamp);
        match before {
            Some(before) if before > now.stamp => {
                let was = zone.local(before).format("%H:%M:%S");
                fault(row, "time", format!("on {device} it was {was} already: put the rows of a device in order"))
            }
            _ => Ok(()),
        }
    }

    /// A person with a PIN on the device acts only after a row `pin` gave it.
    fn check_unlocked(&self, row: &Row, person: PersonId) -> Result<(), ScriptFault> {
        let has_pin = self.shed(row)?.folder().has_pin(person).or_else(|f| fault(row, "who", f.to_string()))?;
        if has_pin && !self.unlocked.contains(&person) && row.act != "pin" {
            let problem = format!("person {person} has a PIN on this device: give it first, in a row `pin`");
            return fault(row, "who", problem);
        }
        Ok(())
    }

    /// Sets a PIN, or gives the one that is set.
    fn pin(&mut self, row: &Row, now: Now) -> Result<(), PlayFault> {
        let person = typed::person(self.office(row)?, &row.what).or_else(|problem| fault(row, "what", problem))?;
        let folder = self.shed_mut(row)?.folder_mut();
        let outcome = if folder.has_pin(person)? {
            folder.check_pin(person, &row.value, now.stamp)
        } else {
            folder.set_pin(person, &row.value)
        };
        outcome.or_else(|problem| fault(row, "value", problem.to_string()))?;
        self.unlocked.insert(person);
        Ok(())
    }

    fn adopt(&mut self, row: &Row, person: PersonId, now: Now) -> Result<Outcome, PlayFault> {
        let bytes = self.pack_bytes(row)?;
        let shed = self.shed_mut(row)?;
        let hash = match shed.add_pack(bytes) {
            Ok(hash) => hash,
            Err(denial) => return denied(denial, row),
        };
        let adopted = shed.act(What::Registered(Fact::PackAdopted { pack: hash }), person, now);
        settle(adopted.map(|entry| vec![entry]), row)
    }

    /// Confirms the key of another of the script's devices.
    fn confirm(&mut self, row: &Row, person: PersonId, now: Now) -> Result<Outcome, PlayFault> {
        self.open_device(&Row { device: row.what.clone(), ..row.clone() })?;
        let other = self.sheds.get(&row.what).map(Shed::folder);
        let Some((device, key)) = other.and_then(|folder| Some((folder.device(), folder.key()?))) else {
            return Ok(fault(row, "what", format!("no key of a device \"{}\" is here", row.what))?);
        };
        let fact = Fact::DeviceKey { device, key, until: None };
        settle(self.shed_mut(row)?.act(What::Registered(fact), person, now).map(|entry| vec![entry]), row)
    }

    /// A compiled pack file, or a folder of TOML files to compile.
    fn pack_bytes(&self, row: &Row) -> Result<Vec<u8>, ScriptFault> {
        let path = self.base.join(&row.what);
        if path.is_dir() {
            let compiled = crate::authoring::compile_folder(&path);
            return compiled.map(|c| c.bytes).or_else(|complaints| {
                let first = complaints.first().map(ToString::to_string).unwrap_or_default();
                fault(row, "what", format!("the pack does not compile: {first}"))
            });
        }
        fs::read(&path).or_else(|error| fault(row, "what", format!("cannot read the pack {}: {error}", path.display())))
    }

    /// States a boiler or a road that stands in a file, looked for beside the script.
    fn stated_in_a_file(&mut self, row: &Row, person: PersonId, now: Now) -> Result<Outcome, PlayFault> {
        let facts = water::from_file(row, &self.base)?;
        let shed = self.shed_mut(row)?;
        let written = facts.into_iter().map(|fact| shed.act(What::Registered(fact), person, now)).collect();
        settle(written, row)
    }

    fn local_time(&mut self, row: &Row, person: PersonId, now: Now) -> Result<Outcome, PlayFault> {
        let rows = zone::rows(&row.what).or_else(|unknown| fault(row, "what", unknown.to_string()))?;
        let shed = self.shed_mut(row)?;
        settle(set_local_time(shed, &rows, person, now), row)
    }

    fn act(&mut self, row: &Row, person: PersonId, now: Now) -> Result<Outcome, PlayFault> {
        let (device, day) = (self.device(row), self.day);
        let Some(shed) = self.sheds.get_mut(&device) else { return Ok(fault(row, "device", "no such device")?) };
        let act = Act { row, shed, named: &self.named, day };
        let written = if let Some(what) = act.what()? {
            shed.act(what, person, now)
        } else {
            let (sheet, step) = act.step()?;
            let Some(answer) = act.answer(&step, sheet, now)? else {
                return Ok(fault(row, "do", format!("\"{}\" is no act of a day script", row.act))?);
            };
            let (with, done_at) = (act.with()?, act.done_at()?);
            match answer {
                Ok(answer) => shed.answer(Given { sheet, step: step.id, answer, with, done_at }, person, now),
                Err(denial) => Err(denial),
            }
        };
        if let (Ok(entry), false) = (&written, row.name.is_empty()) {
            match entry.what {
                What::SheetOpened { .. } => drop(self.named.sheets.insert(row.name.clone(), entry.at)),
                What::DefectOpened { .. } => drop(self.named.defects.insert(row.name.clone(), entry.at)),
                _ => {}
            }
        }
        settle(written.map(|entry| vec![entry]), row)
    }

    /// Answers everything that is open, finding it right, through the step in `what`; `value` is the pace.
    fn work(&mut self, row: &Row, person: PersonId, now: Now) -> Result<Outcome, PlayFault> {
        let (device, day) = (self.device(row), self.day);
        let Some(shed) = self.sheds.get_mut(&device) else { return Ok(fault(row, "device", "no such device")?) };
        let (goal, with) = {
            let act = Act { row, shed, named: &self.named, day };
            (act.step()?, act.with()?)
        };
        let pace = if row.value.is_empty() {
            30
        } else {
            typed::tenths_text(&row.value).or_else(|p| fault(row, "value", p))? / 10
        };
        let left = left_alone(shed, row, goal.0)?;
        let mut now = now;
        let mut written = Vec::new();
        let plan = Plan { sheet: goal.0, goal: goal.1.id, left, person, with };
        while let Some((given, seconds)) = plan.next(shed, now) {
            now.stamp = now.stamp.plus(i64::from(seconds));
            match shed.answer(given, person, now) {
                Ok(entry) => written.push(entry),
                Err(denial) => return denied(denial, row),
            }
            now.stamp = now.stamp.plus(i64::from(pace));
        }
        self.clocks.insert(device, now.stamp);
        self.report.ended = self.report.ended.max(Some(now.stamp));
        if written.is_empty() {
            fault::<()>(row, "what", "nothing up to that step is open for this person now")?;
        }
        Ok(Ok(written))
    }

    fn sync(&mut self, row: &Row) -> Result<(), PlayFault> {
        let (one, other) = (self.device(row), row.what.clone());
        for device in [&one, &other] {
            let row = Row { device: device.clone(), ..row.clone() };
            self.open_device(&row)?;
            if self.shed(&row)?.ledger().entries().next().is_none() && !row.time.is_empty() {
                let now = self.now(&row)?;
                self.name_device(&row, now)?;
            }
        }
        if one == other {
            fault::<()>(row, "what", "a device does not sync with itself")?;
        }
        let Some(mut first) = self.sheds.remove(&one) else { return Ok(fault(row, "device", "no such device")?) };
        let Some(second) = self.sheds.get_mut(&other) else { return Ok(fault(row, "what", "no such device")?) };
        let synced = first.sync(second);
        self.sheds.insert(one, first);
        synced.map_err(|denial| PlayFault::Script(refusal(&denial, row)))?;
        let played = Played { line: row.line, at: row.time.clone(), row: label(row), entries: 0, refused: None };
        self.report.rows.push(played);
        Ok(())
    }

    /// At the end every other device meets the folder's own.
    fn gather(&mut self, last: Option<&Row>) -> Result<(), PlayFault> {
        let Some(last) = last else { return Ok(()) };
        let others: Vec<String> = self.sheds.keys().filter(|name| **name != self.here).cloned().collect();
        for other in others {
            let Some(mut shed) = self.sheds.remove(&other) else { continue };
            if let Some(main) = self.sheds.get_mut(&self.here) {
                main.sync(&mut shed).map_err(|denial| PlayFault::Script(refusal(&denial, last)))?;
            }
        }
        Ok(())
    }

    fn note(&mut self, row: &Row, now: Now, outcome: Outcome) -> Result<(), PlayFault> {
        let (entries, refused) = match outcome {
            Ok(written) => (written.len(), None),
            Err(key) => (0, Some(key)),
        };
        match (&refused, row.expect.as_str()) {
            (None, "") => {}
            (Some(key), want) if key == want => {}
            (None, want) => fault(row, "expect", format!("was to be refused ({want}) and was accepted"))?,
            (Some(key), want) => fault(row, "expect", format!("was to be refused for {want}, not for {key}"))?,
        }
        let zone = self.zone(row)?;
        let at = zone.local(now.stamp).format("%H:%M").to_string();
        self.report.rows.push(Played { line: row.line, at, row: label(row), entries, refused });
        self.report.ended = self.report.ended.max(Some(now.stamp));
        Ok(())
    }
}

/// Entries written, or the key of the reason it was refused for where the row expects one.
type Outcome = Result<Vec<Entry>, String>;

fn settle(written: Result<Vec<Entry>, Denial>, row: &Row) -> Result<Outcome, PlayFault> {
    match written {
        Ok(entries) => Ok(Ok(entries)),
        Err(denial) => denied(denial, row),
    }
}

fn denied(denial: Denial, row: &Row) -> Result<Outcome, PlayFault> {
    match &denial {
        Denial::Refused(why) if !row.expect.is_empty() => Ok(Err(words::key(why).to_owned())),
        _ => Err(PlayFault::Script(refusal(&denial, row))),
    }
}

/// A refusal that the script did not expect, as a fault of its row.
fn refusal(denial: &Denial, row: &Row) -> ScriptFault {
    let problem = match denial {
        Denial::Refused(why) => format!("refused ({}): {why:?}", words::key(why)),
        Denial::Folder(fault) => fault.to_string(),
        Denial::Pack(fault) => fault.to_string(),
        Denial::Exhausted => "this device's count of entries is used up".to_owned(),
        Denial::Unwritable => "the entry is too long".to_owned(),
    };
    ScriptFault { line: row.line, column: "do", problem }
}

fn label(row: &Row) -> String {
    let parts = [&row.act, &row.what, &row.value].map(String::as_str);
    parts.iter().filter(|p| !p.is_empty()).copied().collect::<Vec<_>>().join(" ")
}

/// Writes the register's local time as entries of at most sixteen rows.
///
/// # Errors
/// As [`Shed::act`].
pub fn set_local_time(shed: &mut Shed, rows: &[ZoneRow], person: PersonId, now: Now) -> Result<Vec<Entry>, Denial> {
    rows.chunks(16)
        .map(|chunk| {
            let rows = chunk.iter().copied().collect();
            shed.act(What::Registered(Fact::LocalTime { rows }), person, now)
        })
        .collect()
}
