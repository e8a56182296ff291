//! A data folder on a screen: open for writing, or, while another program writes there, for looking; and what is in
//! doubt about it.

use std::fmt;
use std::fs;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::time::SystemTime;

use offshed_core::ident::DeviceKey;
use offshed_core::reason::Why;
use offshed_core::register::Register;
use offshed_core::stamp::{Now, Stamp, Zone};
use offshed_depot::exchange::{Exchange, Exchanged};
use offshed_depot::folder::{FolderFault, FolderFinding};
use offshed_depot::ledger::Ledger;
use offshed_depot::packfile::PackFile;
use offshed_depot::shed::{self, Denial, Shed};
use offshed_depot::sync::SyncReport;
use offshed_depot::zone;

use crate::clock::{Clock, DayClock};
use crate::screen::Screen;

/// A data folder at work on a screen.
pub struct Session {
    path: PathBuf,
    store: Store,
    clock: Rc<dyn Clock>,
    /// Local time.
    zone: Zone,
    /// How this device shows things.
    pub screen: Screen,
    /// What could not be read or kept of that, in words.
    pub screen_fault: Option<String>,
}

enum Store {
    /// This program writes.
    Writer(Box<Shed>),
    /// Another does.
    Looker { ledger: Box<Ledger>, findings: Vec<FolderFinding>, device: String, zone_name: String, seen: Vec<Mark> },
}

/// What a file looked like when it was read.
pub(super) type Mark = (PathBuf, u64, Option<SystemTime>);

/// What is wrong with the records or the folder, in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// In one sentence.
    pub words: String,
    /// Each thing, what it means and what to do; one a line.
    pub detail: String,
}

/// Why something was not written, in words for a person.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// Stable key: of the reason, or `folder`, `pack`, `exhausted`, `unwritable`, `pin`, `input`.
    pub key: &'static str,
    /// What is wrong, where, and what to do.
    pub words: String,
}

impl Trouble {
    /// Something given that can't be taken.
    pub fn input(words: impl Into<String>) -> Trouble {
        Trouble { key: "input", words: words.into() }
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.words)
    }
}

impl std::error::Error for Trouble {}

impl Session {
    /// Opens a data folder: to write, or where another program does so, to look.
    ///
    /// `clock` is left out for the one the folder asks for: the system's, or the demonstration's own day.
    ///
    /// # Errors
    /// When it is no data folder, or can't be read.
    pub fn open(path: &Path, clock: Option<Rc<dyn Clock>>) -> Result<Session, FolderFault> {
        let store = Store::open(path)?;
        let (screen, screen_fault) = match Screen::read(path) {
            Ok(screen) => (screen, None),
            Err(fault) => (Screen::default(), Some(fault.to_string())),
        };
        let clock = clock.unwrap_or_else(|| own_clock(&screen, store.ledger()));
        let mut session = Session { path: path.to_owned(), store, clock, zone: Zone::default(), screen, screen_fault };
        session.zone = session.local_time();
        Ok(session)
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What is recorded, folded.
    pub fn ledger(&self) -> &Ledger {
        self.store.ledger()
    }

    /// The wall clock.
    pub fn now(&self) -> Now {
        self.clock.now()
    }

    /// Tenths of a second of a clock that never jumps.
    pub fn tenths(&self) -> u64 {
        self.clock.tenths()
    }

    /// Local time: the register's; before it has any, the folder's own.
    pub fn zone(&self) -> &Zone {
        &self.zone
    }

    fn local_time(&self) -> Zone {
        let known = self.ledger().office.zone();
        if known != &Zone::default() {
            return known.clone();
        }
        let name = match &self.store {
            Store::Writer(shed) => shed.folder().zone_name(),
            Store::Looker { zone_name, .. } => zone_name,
        };
        zone::rows(name).ok().and_then(|rows| Zone::new(&rows)).unwrap_or_default()
    }

    /// The folder, to write. A folder that was only looked at is tried again.
    ///
    /// # Errors
    /// When another program writes there.
    pub fn shed(&mut self) -> Result<&mut Shed, Trouble> {
        if let Store::Looker { .. } = self.store {
            let shed = Shed::open(&self.path).map_err(|fault| self.trouble(Denial::Folder(fault), None))?;
            self.store = Store::Writer(Box::new(shed));
        }
        let looking_only = self.looking_only().words;
        match &mut self.store {
            Store::Writer(shed) => Ok(shed),
            Store::Looker { .. } => Err(Trouble { key: "folder", words: looking_only }),
        }
    }

    /// What the device is called.
    pub fn device_name(&self) -> String {
        match &self.store {
            Store::Writer(shed) => shed.folder().name().to_owned(),
            Store::Looker { device, .. } => device.clone(),
        }
    }

    /// Gives the books away for an exchange that goes on off the window's own thread; entries can be recorded meanwhile.
    ///
    /// # Errors
    /// When another program writes there, the journal can't be sealed, or they are given away already.
    pub fn begin_exchange(&mut self) -> Result<Exchange, Trouble> {
        let lent = self.shed()?.lend();
        lent.map_err(|denial| self.trouble(denial, None))
    }

    /// Takes in what an exchange brought, and answers its report and why it did not go through.
    pub fn end_exchange(&mut self, exchanged: Exchanged) -> (SyncReport, Option<FolderFault>) {
        let Store::Writer(shed) = &mut self.store else { return (exchanged.report, exchanged.fault) };
        let (report, fault) = shed.take_exchanged(exchanged);
        // This device's own count went on elsewhere: the folder is opened again, so that none is used twice.
        if shed.own_came(&report)
            && let Ok(looker) = Store::look(&self.path)
        {
            self.store = looker;
            // Where it can't be written in, it is shown as one that is looked at.
            let _ = self.shed();
        }
        self.zone = self.local_time();
        (report, fault)
    }

    /// The public key that this device signs with; `None` where another program writes, or the key is not here.
    pub fn key(&self) -> Option<DeviceKey> {
        match &self.store {
            Store::Writer(shed) => shed.folder().key(),
            Store::Looker { .. } => None,
        }
    }

    /// What was found wrong in the folder.
    pub fn findings(&self) -> &[FolderFinding] {
        self.store.findings()
    }

    /// Whether this program writes here.
    pub fn writes(&self) -> bool {
        matches!(self.store, Store::Writer(_))
    }

    /// Reads again what another program wrote meanwhile, where this one only looks. Whether anything changed.
    pub fn refresh(&mut self) -> bool {
        let Store::Looker { seen, .. } = &self.store else { return false };
        if *seen == marks(&self.path) {
            return false;
        }
        // A folder that can't be read just now is shown as it was, and tried again.
        match Store::open(&self.path) {
            Ok(store) => self.store = store,
            Err(_) => return false,
        }
        self.zone = self.local_time();
        true
    }

    /// What is wrong with the records or the folder.
    pub fn doubt(&self) -> Option<Doubt> {
        let findings: Vec<&FolderFinding> = self.store.findings().iter().filter(|f| !f.is_notice()).collect();
        let detail = findings.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
        if findings.iter().any(|f| f.leaves_doubt()) {
            let words = "Records are damaged or missing here: no engine is called fit on what is left".to_owned();
            return Some(Doubt { words, detail });
        }
        if !findings.is_empty() {
            return Some(Doubt { words: "Something was found in the data folder".to_owned(), detail });
        }
        if !self.writes() {
            return Some(self.looking_only());
        }
        let detail = self.screen_fault.clone()?;
        Some(Doubt { words: "The settings of this screen are not kept".to_owned(), detail })
    }

    fn looking_only(&self) -> Doubt {
        Doubt {
            words: "Another program has the data folder open: this window only looks".to_owned(),
            detail: format!("Close it there, and answers can be given here again. The folder: {}", self.path.display()),
        }
    }

    /// The pack of a sheet.
    pub fn pack_of(&self, sheet: offshed_core::ident::SheetId) -> Option<&PackFile> {
        let ledger = self.ledger();
        ledger.pack(ledger.sheet(sheet)?.pack)
    }

    /// A refusal or fault in words, under a pack's wording or the adopted one's.
    pub fn trouble(&self, denial: Denial, pack: Option<&PackFile>) -> Trouble {
        match denial {
            Denial::Refused(why) => self.refusal(&why, pack),
            Denial::Folder(fault) => Trouble { key: "folder", words: fault.to_string() },
            Denial::Pack(fault) => Trouble { key: "pack", words: fault.to_string() },
            Denial::Exhausted => Trouble {
                key: "exhausted",
                words: "this device's count of entries is used up: give the folder a new identity".to_owned(),
            },
            Denial::Unwritable => {
                Trouble { key: "unwritable", words: "the entry is longer than a record may be".to_owned() }
            }
        }
    }

    /// A reason as a sentence.
    pub fn refusal(&self, why: &Why, pack: Option<&PackFile>) -> Trouble {
        let words = shed::sentence(self.ledger(), pack, why, self.now().stamp);
        Trouble { key: offshed_core::words::key(why), words }
    }

    /// Keeps how this device shows things; what went wrong is told by [`Session::doubt`].
    pub fn keep_screen(&mut self, screen: Screen) {
        self.screen = screen.held();
        self.screen_fault = self.screen.write(&self.path).err().map(|fault| fault.to_string());
    }
}

/// The demonstration's own day, or the system's clock.
fn own_clock(screen: &Screen, ledger: &Ledger) -> Rc<dyn Clock> {
    let last: Option<Stamp> = ledger.entries().map(|entry| entry.stamp).max();
    match last.filter(|_| screen.demonstration) {
        Some(last) => Rc::new(DayClock::new(last)),
        None => Rc::new(crate::clock::SystemClock::new()),
    }
}

impl Store {
    fn open(path: &Path) -> Result<Store, FolderFault> {
        match Shed::open(path) {
            Ok(shed) => Ok(Store::Writer(Box::new(shed))),
            Err(FolderFault::InUse { .. }) => Store::look(path),
            Err(fault) => Err(fault),
        }
    }

    fn look(path: &Path) -> Result<Store, FolderFault> {
        // Before it is read, so that what is written meanwhile is read again.
        let seen = marks(path);
        let (ledger, findings, folder) = shed::look(path)?;
        let (device, zone_name) = (folder.name().to_owned(), folder.zone_name().to_owned());
        Ok(Store::Looker { ledger: Box::new(ledger), findings, device, zone_name, seen })
    }

    fn ledger(&self) -> &Ledger {
        match self {
            Store::Writer(shed) => shed.ledger(),
            Store::Looker { ledger, .. } => ledger,
        }
    }

    fn findings(&self) -> &[FolderFinding] {
        match self {
            Store::Writer(shed) => shed.findings(),
            Store::Looker { findings, .. } => findings,
        }
    }
}

/// Length and time of every file of records.
pub(super) fn marks(path: &Path) -> Vec<Mark> {
    let mut files = vec![path.join("journal"), path.join("folder.toml")];
    for dir in ["books", "packs"] {
        let listing = fs::read_dir(path.join(dir)).into_iter().flatten().flatten();
        files.extend(listing.map(|item| item.path()));
    }
    files.sort();
    let mark = |file: PathBuf| {
        let meta = fs::metadata(&file).ok();
        let len = meta.as_ref().map_or(0, fs::Metadata::len);
        (file, len, meta.and_then(|m| m.modified().ok()))
    };
    files.into_iter().map(mark).collect()
}
