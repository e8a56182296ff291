//! Where this device's window was, so that it opens there again: the desk, the engine, the sheet and the step. Kept in
//! `place.toml` in the data folder, which is this device's own; it is no record, is never exchanged, and names nobody:
//! who answers says so again.

use std::fs;
use std::path::Path;

use offshed_core::ident::{EngineId, StepId};
use offshed_core::verdict;
use offshed_depot::shed;
use offshed_depot::typed;
use serde::{Deserialize, Serialize};

use super::crew::Place;
use super::shell::TABS;
use super::{Desks, Session};

/// The file's name.
pub const FILE: &str = "place.toml";
/// What it is called until it is whole; one that an interruption left is removed when the folder is opened to write.
const PART: &str = "place.toml.part";

/// A place as written.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Kept {
    /// The desk's key.
    pub desk: String,
    /// The engine that was up.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub engine: Option<u16>,
    /// The sheet that was up, by its id as printed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sheet: Option<String>,
    /// The step that was up, by number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub step: Option<u16>,
}

impl Kept {
    /// What the data folder at `folder` has; nothing, where it has none or one that is not understood.
    pub fn read(folder: &Path) -> Kept {
        let text = fs::read_to_string(folder.join(FILE)).unwrap_or_default();
        toml::from_str(&text).unwrap_or_default()
    }

    /// Writes the file as a whole, by a temporary one and a rename. It outlives the end of the program; a cut of the
    /// power may cost the last place, and costs no record.
    ///
    /// # Errors
    /// When it can't be written.
    pub fn write(&self, folder: &Path) -> std::io::Result<()> {
        let text = toml::to_string(self).map_err(std::io::Error::other)?;
        let part = folder.join(PART);
        fs::write(&part, format!("# Where this device's window was. No record, and never exchanged.\n{text}"))?;
        fs::rename(part, folder.join(FILE))
    }

    fn of(desk: &str, place: Place) -> Kept {
        let at = |sheet: offshed_core::ident::SheetId| Kept { sheet: Some(sheet.to_string()), ..Kept::default() };
        let kept = match place {
            Place::Engines => Kept::default(),
            Place::Engine(engine) => Kept { engine: Some(engine.0), ..Kept::default() },
            Place::Sheet(sheet) => at(sheet),
            Place::Step(sheet, step) => Kept { step: Some(step.0), ..at(sheet) },
        };
        Kept { desk: desk.to_owned(), ..kept }
    }

    /// The place on the crew desk, as far as what it names is in the records.
    fn place(&self, session: &Session) -> Place {
        let ledger = session.ledger();
        let sheet = self.sheet.as_deref().and_then(typed::entry_ref).filter(|id| ledger.sheet(*id).is_some());
        if let Some(sheet) = sheet {
            let step = self.step.map(StepId).filter(|step| {
                shed::scene(ledger, sheet, |scene| verdict::find(scene, *step).is_ok()).unwrap_or(false)
            });
            return step.map_or(Place::Sheet(sheet), |step| Place::Step(sheet, step));
        }
        let engine = self.engine.map(EngineId).filter(|engine| ledger.office.engines.contains_key(engine));
        engine.map_or(Place::Engines, Place::Engine)
    }
}

impl Desks {
    /// Goes to where the window was when it was last used on this folder.
    pub(super) fn reopen(&mut self) {
        let Some(session) = &self.session else { return };
        let kept = Kept::read(session.path());
        self.crew.reopen(kept.place(session));
        // A page that another led to is left for the desk that leads there.
        if TABS.iter().any(|tab| tab.id == kept.desk) {
            self.shell.show(&kept.desk);
        }
        self.kept = kept;
    }

    /// Keeps where the window is, where that changed and this program writes the folder.
    ///
    /// A place that can't be kept is not told: the next answer is refused for the same reason, and says it.
    pub fn keep_place(&mut self) {
        let Some(session) = self.session.as_ref().filter(|session| session.writes()) else { return };
        let now = Kept::of(self.shell.desk(), self.crew.place());
        if now != self.kept && now.write(session.path()).is_ok() {
            self.kept = now;
        }
    }
}

#[cfg(test)]
mod tests {
    use offshed_core::entry::{Fact, What};
    use offshed_core::ident::PersonId;
    use offshed_core::stamp::{Now, Stamp};
    use offshed_depot::folder::Folder;
    use offshed_depot::shed::Shed;

    use super::*;

    fn folder() -> tempfile::TempDir {
        let temp = tempfile::tempdir().unwrap();
        drop(Folder::make(&temp.path().join("shed"), "tablet", "Etc/UTC").unwrap());
        temp
    }

    fn desks(path: &Path) -> Desks {
        Desks::new(path, None, Some(Session::open(path, None).unwrap()))
    }

    #[test]
    fn there_and_back_and_nothing_else_in_the_folder() {
        let temp = tempfile::tempdir().unwrap();
        assert_eq!(Kept::read(temp.path()), Kept::default());
        let sheet = offshed_core::ident::EntryRef { device: offshed_core::ident::DeviceId([7; 8]), seq: 12 };
        for place in [Place::Engines, Place::Engine(EngineId(4)), Place::Sheet(sheet), Place::Step(sheet, StepId(108))]
        {
            let kept = Kept::of("board", place);
            kept.write(temp.path()).unwrap();
            assert_eq!(Kept::read(temp.path()), kept);
        }
        assert_eq!(fs::read_dir(temp.path()).unwrap().count(), 1);
    }

    /// Cut off anywhere, and overwritten anywhere, it is at worst a window at its first page.
    #[test]
    fn damage_is_no_error() {
        let temp = folder();
        let path = temp.path().join("shed");
        let kept = Kept { desk: "board".to_owned(), engine: Some(4), ..Kept::default() };
        kept.write(&path).unwrap();
        let whole = fs::read(path.join(FILE)).unwrap();
        for end in 0..=whole.len() {
            fs::write(path.join(FILE), &whole[..end]).unwrap();
            assert_eq!(desks(&path).crew.place(), Place::Engines, "engine 4 is not in the register");
        }
        for at in 0..whole.len() {
            let mut bytes = whole.clone();
            bytes[at] = 0xff;
            fs::write(path.join(FILE), &bytes).unwrap();
            drop(desks(&path));
        }
    }

    #[test]
    fn what_is_not_in_the_records_is_left_out() {
        let temp = folder();
        let path = temp.path().join("shed");
        let engine = Fact::Engine {
            engine: EngineId(4),
            name: "Tamsin".try_into().unwrap(),
            features: Default::default(),
            glass_mm: 200,
            working: None,
        };
        let mut shed = Shed::open(&path).unwrap();
        shed.act(What::Registered(engine), PersonId(0), Now::good(Stamp(1_777_710_540))).unwrap();
        drop(shed);
        let sheet = "0707070707070707-12".to_owned();
        let kept = Kept { desk: "nowhere".to_owned(), engine: Some(4), sheet: Some(sheet), step: Some(1) };
        kept.write(&path).unwrap();
        let desks = desks(&path);
        assert_eq!(desks.crew.place(), Place::Engine(EngineId(4)));
        assert_eq!(desks.shell.desk(), "crew");
    }

    #[test]
    fn who_only_looks_keeps_nothing() {
        let temp = folder();
        let path = temp.path().join("shed");
        let writer = Shed::open(&path).unwrap();
        let mut looker = desks(&path);
        looker.shell.show("board");
        looker.keep_place();
        assert!(!path.join(FILE).exists());
        drop(writer);
        // Once this program writes, its place is kept, and kept once.
        looker.session.as_mut().unwrap().shed().unwrap();
        looker.keep_place();
        assert_eq!(Kept::read(&path).desk, "board");
        fs::remove_file(path.join(FILE)).unwrap();
        looker.keep_place();
        assert!(!path.join(FILE).exists(), "unchanged is not written again");
    }
}
