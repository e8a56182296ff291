//! The demonstration's day twice: played by its script, and to be given again by hand, on devices of the same names, ids
//! and keys, so that not one byte of their records need differ.

#![allow(unreachable_pub)]

pub mod hand;

use std::collections::{BTreeMap, VecDeque};
use std::path::{Path, PathBuf};

use offshed_core::entry::{Entry, Fact, What};
use offshed_core::ident::{DeviceId, PersonId, StepId};
use offshed_core::stamp::{Now, Stamp, Zone};
use offshed_depot::folder::Folder;
use offshed_depot::ids::Ids;
use offshed_depot::ledger::Ledger;
use offshed_depot::script::{self, DEVICES, Row, row};
use offshed_depot::shed::{self, Shed};
use offshed_depot::{demo, typed, zone};
use slint::ComponentHandle;

use crate::window::{Bench, Size};

/// Every device of the day, its own folder first.
pub const ALL: [&str; 6] = [demo::DEVICE, "tablet", "north", "south", "pit", "handheld"];
/// As high as the longest list, so that no row is out of view.
pub const TALL: Size = Size { name: "tall", width: 1920.0, height: 14_000.0, density: 96 };

/// Where a device keeps its records.
pub fn path_of(root: &Path, device: &str) -> PathBuf {
    if device == demo::DEVICE { root.to_owned() } else { root.join(DEVICES).join(device) }
}

/// Its id: its name.
fn id_of(device: &str) -> DeviceId {
    let mut id = [b'.'; 8];
    id.iter_mut().zip(device.bytes()).for_each(|(to, from)| *to = from);
    DeviceId(id)
}

/// Empty folders of every device.
pub fn make(root: &Path) {
    for device in ALL {
        let seed = [device.as_bytes()[0]; 32];
        let made = Folder::make_as(&path_of(root, device), id_of(device), &seed, device, demo::ZONE);
        drop(made.expect("a data folder"));
    }
}

/// The day as the script gives it.
pub struct Played {
    pub rows: Vec<Row>,
    outcomes: BTreeMap<u64, script::Played>,
    /// What each device wrote, in its own order; what was given again is taken out.
    entries: BTreeMap<&'static str, VecDeque<Entry>>,
    pub root: tempfile::TempDir,
    /// What the day comes to.
    pub ledger: Ledger,
    zone: Zone,
}

/// What a row wrote.
pub struct Wrote {
    /// The device's name for itself, where the row is the first of its device.
    pub naming: Option<Entry>,
    pub entries: Vec<Entry>,
    /// The reason it was refused for.
    pub refused: Option<String>,
}

impl Played {
    pub fn new() -> Played {
        let root = tempfile::tempdir().expect("a folder");
        make(root.path());
        let sources = demo::write_sources(root.path()).expect("its sources");
        let report = script::play(root.path(), demo::SCRIPT, &sources).expect("the day plays");
        let own = |device: &'static str| {
            let (ledger, _, _) = shed::look(&path_of(root.path(), device)).expect("its records");
            let mut own: Vec<Entry> = ledger.entries().filter(|e| e.at.device == id_of(device)).cloned().collect();
            own.sort_by_key(|entry| entry.at.seq);
            (device, VecDeque::from(own))
        };
        let entries = ALL.into_iter().map(own).collect();
        let outcomes = report.rows.into_iter().map(|played| (played.line, played)).collect();
        let (ledger, _, _) = shed::look(root.path()).expect("its records");
        let zone = Zone::new(&zone::rows(demo::ZONE).expect("a zone")).expect("a zone");
        Played { rows: row::parse(demo::SCRIPT).expect("rows"), outcomes, entries, root, ledger, zone }
    }

    /// The device's name for itself, where that is what it wrote next.
    pub fn naming(&mut self, device: &str) -> Option<Entry> {
        let own = self.entries.get_mut(device)?;
        let named = |entry: &&Entry| matches!(entry.what, What::Registered(Fact::Device { .. }));
        own.front().filter(named)?;
        own.pop_front()
    }

    /// What a row wrote, which is then taken out.
    pub fn wrote(&mut self, row: &Row) -> Wrote {
        let naming = self.naming(&row.device);
        let Some(outcome) = self.outcomes.remove(&row.line) else {
            return Wrote { naming, entries: Vec::new(), refused: None };
        };
        let own = self.entries.get_mut(row.device.as_str()).expect("a device of the day");
        let entries = (0..outcome.entries).map(|_| own.pop_front().expect("an entry")).collect();
        Wrote { naming, entries, refused: outcome.refused }
    }

    /// A row's person.
    pub fn person(&self, row: &Row) -> PersonId {
        typed::person(&self.ledger.office, &row.who).expect("a person")
    }

    /// A row's step.
    pub fn step(&self, row: &Row) -> Option<StepId> {
        Ids::of(self.ledger.adopted()?).step(&row.what).ok()
    }

    /// A row's own moment.
    pub fn moment(&self, row: &Row, day: &str) -> Stamp {
        let day = typed::day_named(day).expect("a day");
        self.zone.moment(typed::moment(&row.time, Some(day)).expect("a time"))
    }

    /// Whether everything was taken out.
    pub fn is_empty(&self) -> bool {
        self.entries.values().all(VecDeque::is_empty)
    }
}

/// The devices on which the day is given again. One window is open at a time.
pub struct Yard {
    pub root: tempfile::TempDir,
    up: Option<(String, Bench)>,
    /// How often a window was closed, and opened again where it was.
    pub places: usize,
}

impl Yard {
    pub fn new() -> Yard {
        let root = tempfile::tempdir().expect("a folder");
        make(root.path());
        Yard { root, up: None, places: 0 }
    }

    /// The window of a device at a moment. One that was closed opens again where it was.
    pub fn window(&mut self, device: &str, at: Stamp) -> &Bench {
        if self.up.as_ref().is_none_or(|(up, _)| up != device) {
            self.close();
            let bench = Bench::there(&path_of(self.root.path(), device), TALL, at);
            bench.touch("Read");
            self.up = Some((device.to_owned(), bench));
        }
        let (_, bench) = self.up.as_ref().expect("it is up");
        bench.clock.set(at);
        bench.app.tick();
        bench
    }

    /// The window that is open, with its device.
    pub fn open(&self) -> Option<(&str, &Bench)> {
        self.up.as_ref().map(|(device, bench)| (device.as_str(), bench))
    }

    /// Closes the window, and opens it once more to see that it stands where it was.
    pub fn close(&mut self) {
        let Some((device, bench)) = self.up.take() else { return };
        let was = bench.app.desks(|desks| desks.crew.place());
        shut(bench);
        let again = Bench::there(&path_of(self.root.path(), &device), TALL, Stamp(0));
        assert_eq!(again.app.desks(|desks| desks.crew.place()), was, "{device}");
        shut(again);
        self.places += 1;
    }

    /// The records of a device, to write them without a window.
    pub fn shed(&mut self, device: &str) -> Shed {
        self.close();
        Shed::open(&path_of(self.root.path(), device)).expect("its records")
    }

    pub fn sync(&mut self, one: &str, other: &str) {
        let (mut one, mut other) = (self.shed(one), self.shed(other));
        one.sync(&mut other).expect("they meet");
    }
}

fn shut(bench: Bench) {
    bench.app.window().hide().expect("hidden");
}

/// Writes an entry as the office does by command.
pub fn by_command(shed: &mut Shed, entry: &Entry) {
    let written = shed.act(entry.what.clone(), entry.person, Now::good(entry.stamp)).expect("written");
    assert_eq!(written, *entry);
}
