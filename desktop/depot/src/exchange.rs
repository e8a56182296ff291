//! An exchange of records that goes on elsewhere, as on a thread of its own, while the data folder stays at work.
//!
//! [`Shed::lend`](crate::shed::Shed::lend) seals the journal and gives the books away; [`Exchange::run`] copies what is
//! missing both ways and folds what came; [`Shed::take_exchanged`](crate::shed::Shed::take_exchanged) puts that in place
//! of what was known, with what was recorded here meanwhile behind it. Until the books come back nothing is sealed:
//! entries are durable in the journal, and go out next time.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use offshed_core::ident::DeviceId;

use crate::folder::{self, Folder, FolderFault, FolderFinding, Shelf};
use crate::ledger::Ledger;
use crate::shed;
use crate::sync::{self, SyncReport, Watch};

/// The books of a data folder, given away for one exchange.
#[derive(Debug)]
pub struct Exchange {
    root: PathBuf,
    device: DeviceId,
    shelf: Shelf,
    hold: Arc<()>,
}

/// What an exchange came to, to be taken in by the shed that gave its books.
#[derive(Debug)]
pub struct Exchanged {
    /// What was copied, whether or not it went through.
    pub report: SyncReport,
    /// Why it did not go through; what was copied until then stays.
    pub fault: Option<FolderFault>,
    pub(crate) came: Option<Came>,
    _hold: Arc<()>,
}

/// What the folder holds with what came, read and folded.
#[derive(Debug)]
pub(crate) struct Came {
    pub(crate) ledger: Ledger,
    pub(crate) findings: Vec<FolderFinding>,
    pub(crate) folder: Folder,
}

impl Exchange {
    pub(crate) fn new(root: PathBuf, device: DeviceId, shelf: Shelf, hold: Arc<()>) -> Exchange {
        Exchange { root, device, shelf, hold }
    }

    /// Copies what is missing both ways, with another data folder or a plain directory, and folds what came.
    ///
    /// What goes wrong is told beside what was copied: see [`Exchanged::fault`].
    pub fn run(self, with: &Path, watch: &mut Watch<'_>) -> Exchanged {
        let mut report = SyncReport::default();
        let copied = self.copy(with, &mut report, watch);
        let came = if report.into_first.is_empty() { Ok(None) } else { came(&self.root).map(Some) };
        let (came, unread) = match came {
            Ok(came) => (came, None),
            Err(fault) => (None, Some(fault)),
        };
        Exchanged { report, fault: copied.err().or(unread), came, _hold: self.hold }
    }

    fn copy(&self, with: &Path, report: &mut SyncReport, watch: &mut Watch<'_>) -> Result<(), FolderFault> {
        if !folder::is_data_folder(with) {
            return sync::both_ways(&self.shelf, &Shelf::of_directory(with)?, report, watch);
        }
        let mut other = Folder::open(with)?.folder;
        if other.device() == self.device {
            return Err(FolderFault::SameDevice { device: self.device });
        }
        other.seal()?;
        sync::both_ways(&self.shelf, &other.shelf()?, report, watch)
    }
}

/// Reads and folds a folder that somebody writes in: of its journal only whole entries are taken, and what is wrong with
/// it is left to the one who writes there.
fn came(root: &Path) -> Result<Came, FolderFault> {
    let opened = Folder::open_read_only(root)?;
    let findings = opened.findings.into_iter().filter(|finding| !finding.is_of_journal()).collect();
    let (ledger, findings) = shed::fold_all(&opened.folder, opened.entries, findings)?;
    Ok(Came { ledger, findings, folder: opened.folder })
}

#[cfg(test)]
mod tests {
    use offshed_core::entry::{Fact, What, bounded};
    use offshed_core::ident::PersonId;
    use offshed_core::stamp::{Now, Stamp};

    use super::*;
    use crate::shed::Shed;

    /// A new folder called so, at work.
    fn made(root: &Path, name: &str) -> Shed {
        let path = root.join(name);
        drop(Folder::make(&path, name, "Etc/UTC").unwrap());
        Shed::open(&path).unwrap()
    }

    /// Registers a person: an entry like any other.
    fn write(shed: &mut Shed, person: u16, second: i64) {
        let what = What::Registered(Fact::Person { person: PersonId(person), name: bounded("Moss Orrin").unwrap() });
        shed.act(what, PersonId(person), Now::good(Stamp(1_777_000_000 + second))).unwrap();
    }

    fn people(shed: &Shed) -> Vec<u16> {
        shed.ledger().office.people.keys().map(|person| person.0).collect()
    }

    #[test]
    fn two_folders_meet_over_a_third_and_what_was_recorded_meanwhile_stays() {
        let root = tempfile::tempdir().unwrap();
        let shared = root.path().join("shared");
        std::fs::create_dir(&shared).unwrap();
        let (mut a, mut b) = (made(root.path(), "a"), made(root.path(), "b"));
        write(&mut a, 1, 10);
        // Later than anything that `b` knows.
        let exchanged = a.lend().unwrap().run(&shared, &mut |_| true);
        assert_eq!((exchanged.report.into_second.entries(), exchanged.fault.is_none()), (1, true));
        a.take_exchanged(exchanged);

        let lent = b.lend().unwrap();
        assert!(matches!(b.lend(), Err(crate::shed::Denial::Folder(FolderFault::InUse { .. }))), "given away once");
        write(&mut b, 2, 5);
        b.folder_mut().seal().unwrap();
        let journal = std::fs::metadata(b.folder().path().join("journal")).unwrap().len();
        let exchanged = lent.run(&shared, &mut |_| true);
        write(&mut b, 3, 6);
        assert_eq!(exchanged.report.into_first.entries(), 1);
        let (report, fault) = b.take_exchanged(exchanged);
        assert!(fault.is_none() && !b.own_came(&report), "{fault:?}");
        assert_eq!(people(&b), [1, 2, 3]);
        let orders: Vec<_> = b.ledger().entries().map(offshed_core::entry::Entry::order).collect();
        assert!(orders.is_sorted(), "{orders:?}");
        // Nothing was sealed meanwhile, and everything is once the books are back.
        assert!(std::fs::metadata(b.folder().path().join("journal")).unwrap().len() > journal);
        b.folder_mut().seal().unwrap();
        write(&mut b, 4, 20);
        drop(b);
        let again = Shed::open(&root.path().join("b")).unwrap();
        assert_eq!(people(&again), [1, 2, 3, 4]);
        assert!(again.findings().iter().all(FolderFinding::is_notice), "{:?}", again.findings());
    }

    #[test]
    fn with_another_data_folder_and_never_with_ones_own_device() {
        let root = tempfile::tempdir().unwrap();
        let (mut a, mut b) = (made(root.path(), "a"), made(root.path(), "b"));
        write(&mut b, 7, 1);
        drop(b);
        let exchanged = a.lend().unwrap().run(&root.path().join("b"), &mut |_| true);
        a.take_exchanged(exchanged);
        assert_eq!(people(&a), [7]);
        let own = root.path().join("a");
        let exchanged = a.lend().unwrap().run(&own, &mut |_| true);
        assert!(matches!(exchanged.fault, Some(FolderFault::InUse { .. })), "{:?}", exchanged.fault);
        let exchanged = {
            drop(exchanged);
            a.lend().unwrap().run(&root.path().join("none"), &mut |_| true)
        };
        assert!(matches!(exchanged.fault, Some(FolderFault::Missing { .. })), "{:?}", exchanged.fault);
    }

    /// A backup was put back and went on elsewhere: its count is told, so that the folder is opened again.
    #[test]
    fn what_this_device_wrote_elsewhere_is_told() {
        let root = tempfile::tempdir().unwrap();
        let shared = root.path().join("shared");
        std::fs::create_dir(&shared).unwrap();
        let mut a = made(root.path(), "a");
        write(&mut a, 1, 1);
        a.folder_mut().seal().unwrap();
        let book = std::fs::read_dir(root.path().join("a/books")).unwrap().next().unwrap().unwrap().path();
        let backup = std::fs::read(&book).unwrap();
        write(&mut a, 2, 2);
        let exchanged = a.lend().unwrap().run(&shared, &mut |_| true);
        a.take_exchanged(exchanged);
        drop(a);
        std::fs::write(&book, backup).unwrap();
        let mut a = Shed::open(&root.path().join("a")).unwrap();
        assert_eq!(people(&a), [1]);
        let exchanged = a.lend().unwrap().run(&shared, &mut |_| true);
        let (report, _) = a.take_exchanged(exchanged);
        assert!(a.own_came(&report));
        drop(a);
        let mut a = Shed::open(&root.path().join("a")).unwrap();
        write(&mut a, 3, 3);
        assert_eq!(people(&a), [1, 2, 3]);
    }

    #[test]
    fn a_stopped_exchange_keeps_what_was_copied() {
        let root = tempfile::tempdir().unwrap();
        let shared = root.path().join("shared");
        std::fs::create_dir(&shared).unwrap();
        let mut a = made(root.path(), "a");
        write(&mut a, 1, 1);
        let stopped = a.lend().unwrap().run(&shared, &mut |_| false);
        assert!(stopped.report.stopped && stopped.report.is_quiet() && stopped.fault.is_none());
        a.take_exchanged(stopped);
        let through = a.lend().unwrap().run(&shared, &mut |_| true);
        assert!(!through.report.stopped && through.report.into_second.entries() == 1);
    }
}
