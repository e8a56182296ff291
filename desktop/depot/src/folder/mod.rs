//! The data folder: a device's identity, its journal, the books of all devices, packs and PINs, as plain files.
//!
//! An entry is durable when [`Store::append`] answers: one write and one sync of the journal. Opening a damaged folder
//! loses nothing readable and says what is wrong, where, and what to do. Only one process writes at a time; others may
//! read. The layout is in `core/FORMAT.md`, section 6.

mod books;
mod cite;
mod fault;
mod files;
mod finding;
mod gather;
mod journal;
mod keys;
mod own;
mod packs;
mod pages;
mod pins;
mod settings;
mod shelf;
mod trust;
mod verify;

use std::fs::{File, TryLockError};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Weak};

use offshed_core::desk::Store;
use offshed_core::entry::Entry;
use offshed_core::ident::{DeviceId, DeviceKey, EntryRef, PackHash, PersonId};
use offshed_core::record::chain::{self, HEAD};
use offshed_core::record::head::Hash;
use offshed_core::record::seal::Signer;
use offshed_core::record::shift::PinRow;
use offshed_core::stamp::{Hlc, Stamp};

pub use cite::Cited;
pub use fault::FolderFault;
pub use finding::{BlockFault, FolderFinding, Found, Scope};
pub use packs::hash as pack_hash;
pub use pins::{FIRST_WAIT, LONGEST_WAIT, PinCost, PinFault, TRIES};
pub use settings::FORMAT;
pub use verify::verify_folder;

pub(crate) use books::{blocks, count_entries, first_damage};
pub(crate) use shelf::{Copy, Shelf};

use books::Openers;
use gather::Gathered;
use journal::{Journal, Seen};
use own::OwnBook;
use settings::Settings;
use trust::Depth;

/// The directories of a data folder that hold what its device writes and reads.
pub(crate) const DIRS: [&str; 3] = [files::BOOKS, files::PACKS, files::KEYS];

/// An open data folder.
#[derive(Debug)]
pub struct Folder {
    root: PathBuf,
    settings: Settings,
    /// `None` when the folder is open for reading only.
    writer: Option<Writer>,
    last_seq: u32,
    /// Which engines sheets and defects are of, for the heads of blocks.
    openers: Openers,
    /// The device's public key; `None` where its secret one is not here.
    key: Option<DeviceKey>,
    pin_cost: PinCost,
    /// Alive while the books are given away: nothing is sealed then.
    lent: Weak<()>,
}

/// What a folder has open to write.
#[derive(Debug)]
struct Writer {
    journal: Journal,
    book: OwnBook,
    /// Held until the folder is dropped.
    _lock: File,
}

/// A folder just opened, with what it holds.
#[derive(Debug)]
pub struct Opened {
    /// The folder.
    pub folder: Folder,
    /// The entries of all devices, each once, in [`Entry::order`].
    pub entries: Vec<Entry>,
    /// What is wrong, or was put right.
    pub findings: Vec<FolderFinding>,
}

impl Opened {
    /// The highest clock among the entries: what a desk goes on from.
    pub fn hlc(&self) -> Hlc {
        self.entries.iter().map(|entry| entry.hlc).max().unwrap_or_default()
    }
}

impl Folder {
    /// Makes a data folder in a new or empty directory, with a new device id, and opens it.
    ///
    /// `device_name` and `zone_name` take 1 to 40 bytes each; whether there is such a time zone is not looked at here.
    ///
    /// # Errors
    /// When the directory holds anything, is a data folder already, or can't be written.
    pub fn make(path: &Path, device_name: &str, zone_name: &str) -> Result<Folder, FolderFault> {
        Folder::make_as(path, new_device()?, &keys::new_seed()?, device_name, zone_name)
    }

    /// As [`Folder::make`], with a given device id and secret key: for days that are played the same way twice.
    ///
    /// # Errors
    /// As [`Folder::make`].
    pub fn make_as(
        path: &Path,
        device: DeviceId,
        seed: &[u8; 32],
        device_name: &str,
        zone_name: &str,
    ) -> Result<Folder, FolderFault> {
        let settings = Settings::new(device, device_name, zone_name)?;
        refuse_filled(path)?;
        for dir in [path, &path.join(files::BOOKS), &path.join(files::PACKS)] {
            files::make_dir(dir)?;
        }
        let lock = lock(path)?;
        let head = chain::head(chain::JOURNAL, device);
        files::replace(&path.join(files::JOURNAL), &head)?;
        keys::keep(path, device, seed)?;
        // Last, since it makes the directory a data folder.
        settings.write(path)?;
        drop(lock);
        Folder::open(path).map(|opened| opened.folder)
    }

    /// Opens a data folder for reading and writing, puts right what an interruption left, and reads everything.
    ///
    /// # Errors
    /// When it is no data folder, is open elsewhere, or is of a newer version. Damage is no error: it is a finding.
    pub fn open(path: &Path) -> Result<Opened, FolderFault> {
        Settings::read(path)?;
        let lock = lock(path)?;
        let settings = Settings::read(path)?;
        for dir in [path, &path.join(files::BOOKS), &path.join(files::PACKS), &path.join(files::KEYS)] {
            files::remove_parts(dir)?;
        }
        let mut seen = journal::look(path, settings.device)?;
        seen.repair(path)?;
        let kept = own::kept(&seen.bytes, seen.device);
        let gathered = gather::gather(path, Some(seen.clone()), Depth::Chain)?;
        let signer = own_signer(path, seen.device)?;
        let openers = &gathered.openers;
        let (mut book, finished) = OwnBook::open_finishing(path, seen.device, signer, &kept, openers)?;
        let mut journal = Journal::open(&path.join(files::JOURNAL))?;
        if seen.device != settings.device {
            // The identity changed, and the change was interrupted: the old device's entries go to its book.
            own::keep_rest(path, &seen.bytes, &kept)?;
            book.seal(&kept, openers)?;
            book = OwnBook::open(path, settings.device, own_signer(path, settings.device)?)?;
            journal.renew(settings.device)?;
        }
        let finding = finished.map(|entries| finished_seal(seen.device, entries));
        let changed = finished.is_some() || seen.device != settings.device;
        let gathered = match changed {
            true => gather::gather(path, Some(seen), Depth::Chain)?,
            false => gathered,
        };
        let writer = Writer { journal, book, _lock: lock };
        let mut opened = Folder::opened(path, settings, Some(writer), gathered)?;
        opened.findings.extend(finding);
        Ok(opened)
    }

    /// Opens a data folder for reading only: takes no lock, writes nothing, whatever is damaged.
    ///
    /// # Errors
    /// When it is no data folder, or can't be read.
    pub fn open_read_only(path: &Path) -> Result<Opened, FolderFault> {
        let settings = Settings::read(path)?;
        let seen = journal::look(path, settings.device)?;
        let gathered = gather::gather(path, Some(seen), Depth::Chain)?;
        Folder::opened(path, settings, None, gathered)
    }

    fn opened(
        path: &Path,
        settings: Settings,
        writer: Option<Writer>,
        mut gathered: Gathered,
    ) -> Result<Opened, FolderFault> {
        let own = gathered.entries.iter().filter(|entry| entry.at.device == settings.device);
        let written = own.map(|entry| entry.at.seq).max().unwrap_or(0);
        let claimed = writer.as_ref().map_or(0, |writer| writer.book.last_seq());
        let key = keys::read(path, settings.device)?.map(|signer| signer.key());
        if key.is_none() {
            let lost = FolderFinding::new(files::KEYS, None, Some(settings.device), Found::KeyLost);
            gathered.findings.push(lost);
        }
        let folder = Folder {
            root: path.to_path_buf(),
            settings,
            writer,
            last_seq: written.max(claimed),
            openers: gathered.openers,
            key,
            pin_cost: PinCost::DEFAULT,
            lent: Weak::new(),
        };
        Ok(Opened { folder, entries: gathered.entries, findings: gathered.findings })
    }

    /// Reads everything again, as after a sync.
    ///
    /// # Errors
    /// When a directory can't be listed or the journal can't be read.
    pub fn read_again(&self) -> Result<(Vec<Entry>, Vec<FolderFinding>), FolderFault> {
        let gathered = self.gather()?;
        Ok((gathered.entries, gathered.findings))
    }

    fn gather(&self) -> Result<Gathered, FolderFault> {
        let seen: Seen = journal::look(&self.root, self.settings.device)?;
        gather::gather(&self.root, Some(seen), Depth::Chain)
    }

    /// The public key that this device's signatures are checked with; `None` where its secret one is not here.
    pub fn key(&self) -> Option<DeviceKey> {
        self.key
    }

    /// The blocks of its books that hold an entry which `wanted` tells, by device and number; entries still in the
    /// journal are in none.
    ///
    /// # Errors
    /// When a book can't be read.
    pub fn cite(&self, wanted: impl Fn(EntryRef) -> bool) -> Result<Vec<Cited>, FolderFault> {
        cite::cite(&self.root, wanted)
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.root
    }

    /// The device that writes here.
    pub fn device(&self) -> DeviceId {
        self.settings.device
    }

    /// What the device is called.
    pub fn name(&self) -> &str {
        &self.settings.name
    }

    /// The time zone, by IANA name or POSIX rule.
    pub fn zone_name(&self) -> &str {
        &self.settings.zone
    }

    /// The count of the last entry this device wrote; 0 before the first.
    pub fn last_seq(&self) -> u32 {
        self.last_seq
    }

    /// The count of this device's next entry; stops at the end of the range.
    pub fn next_seq(&self) -> u32 {
        self.last_seq.saturating_add(1)
    }

    /// Calls the device by another name, 1 to 40 bytes.
    ///
    /// # Errors
    /// When the name can't be kept or written.
    pub fn set_name(&mut self, name: &str) -> Result<(), FolderFault> {
        self.writer()?;
        let settings = Settings::new(self.settings.device, name, &self.settings.zone)?;
        settings.write(&self.root)?;
        self.settings = settings;
        Ok(())
    }

    /// Gives a restored or copied folder a device id of its own: what was written so far stays the old device's.
    ///
    /// # Errors
    /// When it can't be written; the folder is then the old device's, or the new one's once it is opened again.
    pub fn new_identity(&mut self) -> Result<DeviceId, FolderFault> {
        self.refuse_lent()?;
        self.seal()?;
        let device = new_device()?;
        let signer = keys::keep(&self.root, device, &keys::new_seed()?)?;
        let settings = Settings { device, ..self.settings.clone() };
        settings.write(&self.root)?;
        self.settings = settings;
        self.last_seq = 0;
        self.key = Some(signer.key());
        let root = self.root.clone();
        let writer = self.writer()?;
        // Until the journal is renewed nothing is written, so the new book never takes the old device's entries.
        writer.journal.stick();
        writer.book = OwnBook::open(&root, device, Some(signer))?;
        writer.journal.renew(device)?;
        Ok(device)
    }

    /// Moves the journal's entries into the device's book as a signed block, or as several where they are many, and
    /// answers the last one's hash.
    ///
    /// `None` when there was nothing to move, or the books are given away for an exchange. The block is durable before the journal is emptied, so an interruption
    /// leaves the entries in both, where they count once.
    ///
    /// # Errors
    /// When it can't be written; the entries are then still in the journal.
    pub fn seal(&mut self) -> Result<Option<Hash>, FolderFault> {
        if self.refuse_lent().is_err() {
            return Ok(None);
        }
        let (root, device) = (self.root.clone(), self.settings.device);
        let path = &self.root;
        let read_only = || FolderFault::ReadOnly { path: path.clone() };
        let writer = self.writer.as_mut().ok_or_else(read_only)?;
        writer.journal.ready()?;
        if writer.journal.is_empty() {
            return Ok(None);
        }
        let bytes = files::read(&root.join(files::JOURNAL))?.unwrap_or_default();
        let kept = own::kept(&bytes, device);
        // Damaged since it was opened, what can't be moved is kept as it is.
        own::keep_rest(&root, &bytes, &kept)?;
        let sealed = writer.book.seal(&kept, &self.openers);
        if matches!(sealed, Err(FolderFault::Stuck { .. })) {
            // A block begun there is finished at the next opening, from the very same entries.
            writer.journal.stick();
        }
        let hash = sealed?;
        writer.journal.renew(device)?;
        Ok(hash)
    }

    /// Stores a pack under SHA-256 of its bytes; what the bytes mean is not looked at.
    ///
    /// # Errors
    /// When it can't be written.
    pub fn add_pack(&mut self, bytes: &[u8]) -> Result<PackHash, FolderFault> {
        self.writer()?;
        packs::add(&self.root, bytes).map(|(hash, _)| hash)
    }

    /// The bytes of a pack; `None` when it is not here.
    ///
    /// # Errors
    /// When it can't be read, or its bytes do not hash to its name.
    pub fn pack(&self, hash: PackHash) -> Result<Option<Vec<u8>>, FolderFault> {
        packs::get(&self.root, hash)
    }

    /// The packs that are here, sorted.
    ///
    /// # Errors
    /// When the directory can't be listed.
    pub fn packs(&self) -> Result<Vec<PackHash>, FolderFault> {
        packs::list(&self.root)
    }

    /// How often PINs set from here on are hashed.
    pub fn set_pin_cost(&mut self, cost: PinCost) {
        self.pin_cost = cost;
    }

    /// Sets or replaces a person's PIN and ends their wait.
    ///
    /// Who may do so is for the caller to judge.
    ///
    /// # Errors
    /// When it is not 4 to 8 digits, or can't be written.
    pub fn set_pin(&mut self, person: PersonId, pin: &str) -> Result<(), PinFault> {
        self.writer()?;
        pins::set(&self.root, person, pin, self.pin_cost)
    }

    /// Whether a person has a PIN on this device.
    ///
    /// # Errors
    /// When the file can't be read.
    pub fn has_pin(&self, person: PersonId) -> Result<bool, FolderFault> {
        pins::has(&self.root, person)
    }

    /// Whether `pin` is the person's; a wrong try is written down before it is answered.
    ///
    /// # Errors
    /// When it is wrong or malformed, the person has none or has to wait, or a file can't be read or written.
    pub fn check_pin(&mut self, person: PersonId, pin: &str, now: Stamp) -> Result<(), PinFault> {
        self.writer()?;
        pins::check(&self.root, person, pin, now)
    }

    /// All PIN verifiers, for a shift file.
    pub(crate) fn pin_rows(&self) -> Result<Vec<PinRow>, FolderFault> {
        pins::rows(&self.root)
    }

    /// The device's signer; `None` where its key is not here.
    pub(crate) fn signer(&self) -> Result<Option<Signer>, FolderFault> {
        keys::read(&self.root, self.settings.device)
    }

    fn writer(&mut self) -> Result<&mut Writer, FolderFault> {
        let path = &self.root;
        self.writer.as_mut().ok_or_else(|| FolderFault::ReadOnly { path: path.clone() })
    }

    /// The side of a sync that this folder is.
    pub(crate) fn shelf(&mut self) -> Result<Shelf, FolderFault> {
        self.writer()?;
        Ok(Shelf::of_folder(&self.root, self.settings.device))
    }

    /// Gives this side of a sync away, with the journal sealed. Until what comes with it is dropped nothing is sealed.
    pub(crate) fn lend_shelf(&mut self) -> Result<(Shelf, Arc<()>), FolderFault> {
        self.refuse_lent()?;
        self.seal()?;
        let (shelf, hold) = (self.shelf()?, Arc::new(()));
        self.lent = Arc::downgrade(&hold);
        Ok((shelf, hold))
    }

    fn refuse_lent(&self) -> Result<(), FolderFault> {
        let lent = self.lent.strong_count() > 0;
        if lent { Err(FolderFault::InUse { path: self.root.clone() }) } else { Ok(()) }
    }

    /// Which sheets and defects another look at this folder knows the engines of.
    pub(crate) fn knows_too(&mut self, seen: &Folder) {
        self.openers.merge(&seen.openers);
    }

    /// Takes notice of a change that a sync made to this device's own books.
    pub(crate) fn refresh(&mut self) -> Result<(), FolderFault> {
        let (root, device) = (self.root.clone(), self.settings.device);
        let book = OwnBook::open(&root, device, keys::read(&root, device)?)?;
        let last = gather::last_seq(&root, device)?.max(book.last_seq());
        self.openers = self.gather()?.openers;
        self.writer()?.book = book;
        self.last_seq = self.last_seq.max(last);
        Ok(())
    }
}

impl Store for Folder {
    type Error = FolderFault;

    fn append(&mut self, entry: &Entry, bytes: &[u8]) -> Result<(), FolderFault> {
        let want = EntryRef { device: self.settings.device, seq: self.next_seq() };
        if entry.at != want {
            return Err(FolderFault::NotNext { entry: entry.at, want });
        }
        self.writer()?.journal.append(bytes)?;
        self.openers.take(entry);
        self.last_seq = want.seq;
        Ok(())
    }
}

impl Store for &mut Folder {
    type Error = FolderFault;

    fn append(&mut self, entry: &Entry, bytes: &[u8]) -> Result<(), FolderFault> {
        (**self).append(entry, bytes)
    }
}

fn finished_seal(device: DeviceId, entries: u32) -> FolderFinding {
    let file = Path::new(files::BOOKS).join(files::book_name(device));
    FolderFinding::new(file, None, Some(device), Found::SealFinished { entries })
}

/// Whether there is a data folder at `path`.
pub(crate) fn is_data_folder(path: &Path) -> bool {
    path.join(files::SETTINGS).exists()
}

/// The device's signer; a device that has neither key nor book gets a key.
fn own_signer(root: &Path, device: DeviceId) -> Result<Option<Signer>, FolderFault> {
    let has_book = root.join(files::BOOKS).join(files::book_name(device)).exists();
    match keys::read(root, device)? {
        None if !has_book => keys::keep(root, device, &keys::new_seed()?).map(Some),
        found => Ok(found),
    }
}

fn new_device() -> Result<DeviceId, FolderFault> {
    let mut id = [0; 8];
    files::random(&mut id)?;
    Ok(DeviceId(id))
}

/// Takes the folder's lock; it is held as long as the file is open.
fn lock(root: &Path) -> Result<File, FolderFault> {
    let path = root.join(files::LOCK);
    let opened = File::options().write(true).create(true).truncate(false).open(&path);
    let file = opened.map_err(FolderFault::io("open", &path))?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(FolderFault::InUse { path: root.to_path_buf() }),
        Err(TryLockError::Error(error)) => Err(FolderFault::io("lock", &path)(error)),
    }
}

/// An error unless the directory is missing, empty, or holds only what an interrupted [`Folder::make`] left.
fn refuse_filled(path: &Path) -> Result<(), FolderFault> {
    let names = files::names(path)?;
    if names.iter().any(|name| name == files::SETTINGS) {
        return Err(FolderFault::Already { path: path.to_path_buf() });
    }
    let head = HEAD as u64;
    let left_over = |name: &String| {
        let path = path.join(name);
        let empty_dir = || files::names(&path).is_ok_and(|names| names.is_empty());
        let bare = || std::fs::metadata(&path).is_ok_and(|meta| meta.len() <= head);
        match name.as_str() {
            files::BOOKS | files::PACKS => empty_dir(),
            files::KEYS => path.is_dir(),
            files::LOCK | files::JOURNAL => bare(),
            other => other.ends_with(files::PART) && bare(),
        }
    };
    match names.into_iter().find(|name| !left_over(name)) {
        Some(holds) => Err(FolderFault::NotEmpty { path: path.to_path_buf(), holds }),
        None => Ok(()),
    }
}
