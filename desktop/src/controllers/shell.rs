//! What stands round every page: the desks, the clock, doubts, the caution, and the first run.

use std::fs;
use std::path::{Path, PathBuf};

use offshed_core::entry::{Fact, What, bounded};
use offshed_core::ident::PersonId;
use offshed_core::pack::layout::text;
use offshed_depot::folder::Folder;
use offshed_depot::shed::Shed;
use offshed_depot::{demo, script, zone};

use super::{Desks, Doubt, Session};
use crate::screen::Screen;

/// A desk, as the bar names it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tab {
    /// Its key.
    pub id: &'static str,
    /// Its name.
    pub label: &'static str,
}

/// The desks in the bar's order. A further page is a further row here.
pub const TABS: [Tab; 4] = [
    Tab { id: "crew", label: "Crew" },
    Tab { id: "foreman", label: "Foreman" },
    Tab { id: "board", label: "Board" },
    Tab { id: "more", label: "More" },
];

/// Pages that other pages lead to: no tab of their own.
pub const PAGES: [&str; 3] = ["boiler", "treatment", "exchange"];

/// What the program is not; a pack's own caution follows it.
pub const CAUTION: &str = "It does not replace the railway's rule book, the written scheme of examination, the boiler \
inspector, or licensed practice. Where they differ from a screen, the screen is wrong.\n\nIt does not see the engine. A \
proof is a person's word, with their name, time and PIN behind it.\n\nNever enter a firebox, smokebox or pit, or open a \
boiler, on the word of a screen. A tag in the software is no lock: hang the real one.\n\nLow water is an emergency. What \
to do is the railway's own approved instruction; the software never advises feeding.";

/// What a new folder's device is called until the office names it.
const DEVICE: &str = "tablet";
/// Local time of a new folder until the office sets it.
const ZONE: &str = "Etc/UTC";

/// The state.
#[derive(Clone, Debug)]
pub struct ShellDesk {
    desk: &'static str,
    doubt_open: bool,
    caution_read: bool,
    fault: String,
}

impl Default for ShellDesk {
    fn default() -> ShellDesk {
        ShellDesk { desk: TABS[0].id, doubt_open: false, caution_read: false, fault: String::new() }
    }
}

/// What it shows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShellView {
    /// The desk that is up.
    pub desk: &'static str,
    /// `09:29`.
    pub clock: String,
    /// `Sat 2 May`, and that it is the demonstration's.
    pub day: String,
    /// What is in doubt.
    pub doubt: Option<Doubt>,
    /// Its detail is unfolded.
    pub doubt_open: bool,
    /// The caution, until it is read.
    pub caution: String,
    /// There is no folder yet.
    pub first_run: bool,
    /// Where it would be.
    pub wherever: String,
    /// Why it was not made.
    pub fault: String,
}

impl ShellDesk {
    /// The desk that is up.
    pub fn desk(&self) -> &'static str {
        self.desk
    }

    /// Puts a desk up; an unknown one changes nothing.
    pub fn show(&mut self, id: &str) {
        let mut known = TABS.iter().map(|tab| tab.id).chain(PAGES);
        if let Some(desk) = known.find(|desk| *desk == id) {
            self.desk = desk;
        }
    }

    /// Unfolds what is in doubt, or folds it up.
    pub fn toggle_doubt(&mut self) {
        self.doubt_open = !self.doubt_open;
    }

    /// The caution was read.
    pub fn read_caution(&mut self) {
        self.caution_read = true;
    }
}

impl Desks {
    /// What stands round the page.
    pub fn shell_view(&self) -> ShellView {
        let session = self.session.as_ref();
        let (clock, day) = session.map_or_else(Default::default, local_now);
        let caution = session.filter(|_| !self.shell.caution_read).map_or(String::new(), caution);
        ShellView {
            desk: self.shell.desk,
            clock,
            day,
            doubt: session.and_then(Session::doubt),
            doubt_open: self.shell.doubt_open,
            caution,
            first_run: session.is_none(),
            wherever: self.path.display().to_string(),
            fault: self.shell.fault.clone(),
        }
    }

    /// Plays the demonstration into a folder of its own beside the path, once, and opens it.
    pub fn make_demo(&mut self) {
        let path = demonstration(&self.path);
        // One that was looked round before is opened again.
        let made = if path.exists() { Ok(()) } else { play_demo(&path) };
        self.made(&path, made);
    }

    /// Makes an empty folder at the path and opens it.
    pub fn make_new(&mut self) {
        let made = new_folder(&self.path, self.clock.as_deref());
        self.made(&self.path.clone(), made);
    }

    fn made(&mut self, path: &Path, made: Result<(), String>) {
        let opened = made.and_then(|()| Session::open(path, self.clock.clone()).map_err(|fault| fault.to_string()));
        match opened {
            Ok(session) => {
                self.session = Some(session);
                self.shell.fault.clear();
                self.reopen();
            }
            Err(fault) => self.shell.fault = fault,
        }
    }
}

/// Where the demonstration is kept: beside the data folder, so that no real record ever comes into it.
fn demonstration(path: &Path) -> PathBuf {
    match path.file_name() {
        Some(name) => path.with_file_name(format!("{}-demonstration", name.to_string_lossy())),
        None => path.join("demonstration"),
    }
}

fn local_now(session: &Session) -> (String, String) {
    let local = session.zone().local(session.now().stamp);
    let own = if session.screen.demonstration { ", demonstration" } else { "" };
    (local.format("%H:%M").to_string(), format!("{}{own}", local.format("%a %-d %b")))
}

/// The program's caution, then the pack's.
fn caution(session: &Session) -> String {
    let pack = session.ledger().adopted().map_or("", |pack| pack.texts().get(text::CAUTION));
    if pack.is_empty() { CAUTION.to_owned() } else { format!("{CAUTION}\n\n{pack}") }
}

/// Plays it into a folder that takes its place only when it is whole.
fn play_demo(path: &Path) -> Result<(), String> {
    let told = |error: std::io::Error| format!("{}: {error}", path.display());
    let part = path.with_extension("part");
    if part.exists() {
        fs::remove_dir_all(&part).map_err(told)?;
    }
    drop(Folder::make(&part, demo::DEVICE, demo::ZONE).map_err(|fault| fault.to_string())?);
    let sources = demo::write_sources(&part).map_err(told)?;
    script::play(&part, demo::SCRIPT, &sources).map_err(|fault| fault.to_string())?;
    let screen = Screen { demonstration: true, ..Screen::default() };
    screen.write(&part).map_err(|fault| fault.to_string())?;
    fs::rename(&part, path).map_err(told)
}

fn new_folder(path: &Path, clock: Option<&dyn crate::clock::Clock>) -> Result<(), String> {
    drop(Folder::make(path, DEVICE, ZONE).map_err(|fault| fault.to_string())?);
    let mut shed = Shed::open(path).map_err(|fault| fault.to_string())?;
    let now = clock.map_or_else(|| crate::clock::Clock::now(&crate::clock::SystemClock::new()), |clock| clock.now());
    let nobody = PersonId(0);
    let rows = zone::rows(ZONE).map_err(|unknown| unknown.to_string())?;
    let refused = |denial| format!("the new folder could not be begun: {denial:?}");
    script::set_local_time(&mut shed, &rows, nobody, now).map_err(refused)?;
    let name = bounded(DEVICE).map_err(|long| format!("the name is longer than {} bytes", long.most))?;
    let device = shed.folder().device();
    shed.act(What::Registered(Fact::Device { device, name }), nobody, now).map(drop).map_err(refused)
}
