//! The practice pack, and the Harrow Vale line on the evening before its day: line, engines and people are invented.
//! Each check uses a part of it.
#![allow(dead_code)]

#[path = "../../host/card_dir.rs"]
pub(crate) mod card_dir;
#[path = "../../host/memory.rs"]
pub(crate) mod memory;
#[path = "../../host/nor.rs"]
pub(crate) mod nor;
#[path = "../../host/picture.rs"]
pub(crate) mod picture;

use std::path::PathBuf;

use offshed_core::stamp::Stamp;
use offshed_depot::folder::{Folder, FolderFinding};
use offshed_depot::ledger::Ledger;
use offshed_depot::packfile::PackFile;
use offshed_depot::script as scripts;
use offshed_depot::{demo, shed, typed};

/// A folder in which the demo's evening was played.
pub(crate) struct Evening {
    /// Kept as long as it is looked at.
    _folder: tempfile::TempDir,
    /// The data folder in it.
    pub(crate) path: PathBuf,
    /// Everything folded.
    pub(crate) ledger: Ledger,
}

impl Evening {
    /// Plays the demo's script up to its day.
    pub(crate) fn play() -> Evening {
        let (evening, _) = demo::SCRIPT.split_once("# --- The day ---").expect("the demo's evening");
        Evening::of(evening)
    }

    /// Plays a script of the demo's line.
    pub(crate) fn of(script: &str) -> Evening {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("shed");
        drop(Folder::make(&path, demo::DEVICE, demo::ZONE).expect("a data folder"));
        let sources = demo::write_sources(&path).expect("the demo's sources");
        scripts::play(&path, script, &sources).unwrap_or_else(|fault| panic!("{fault}"));
        let (ledger, findings, _) = shed::look(&path).expect("the folder");
        assert!(!findings.iter().any(FolderFinding::leaves_doubt), "{findings:?}");
        Evening { _folder: folder, path, ledger }
    }

    /// The adopted pack.
    pub(crate) fn pack(&self) -> &PackFile {
        self.ledger.adopted().expect("the demo adopts a pack")
    }

    /// A local moment, `2026-05-02 03:30`.
    pub(crate) fn at(&self, moment: &str) -> Stamp {
        use offshed_core::register::Register;
        self.ledger.office.zone().moment(typed::moment(moment, None).expect("a moment"))
    }
}
