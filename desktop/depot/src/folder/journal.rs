//! The journal: one frame an entry, each made durable by one write and one sync before it counts.

use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use offshed_core::entry::Entry;
use offshed_core::ident::DeviceId;
use offshed_core::record::chain::{self, HEAD};
use offshed_core::record::frame::{self, BODY, OVERHEAD, kind};

use super::books;
use super::fault::FolderFault;
use super::files;
use super::finding::{FolderFinding, Found};

/// What the journal needs of a file: the seam at which tests count and break writes.
pub(crate) trait Disk {
    /// Writes all bytes at the end.
    fn put(&mut self, bytes: &[u8]) -> io::Result<()>;
    /// Makes what was written durable.
    fn sync(&mut self) -> io::Result<()>;
    /// Cuts the file to a length.
    fn cut(&mut self, len: u64) -> io::Result<()>;
}

impl Disk for File {
    fn put(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.write_all(bytes)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.sync_data()
    }

    fn cut(&mut self, len: u64) -> io::Result<()> {
        self.set_len(len)
    }
}

/// A journal open for writing.
#[derive(Debug)]
pub(crate) struct Journal<D = File> {
    disk: D,
    path: PathBuf,
    len: u64,
    stuck: bool,
}

impl Journal {
    /// Opens the file, which has a sound head and ends with a sound frame.
    pub(crate) fn open(path: &Path) -> Result<Journal, FolderFault> {
        let opened = OpenOptions::new().append(true).open(path);
        let disk = opened.map_err(FolderFault::io("open for writing", path))?;
        let len = disk.metadata().map_err(FolderFault::io("look at", path))?.len();
        Ok(Journal { disk, path: path.to_path_buf(), len, stuck: false })
    }

    /// Puts an empty journal of `device` in the place of this one, as a whole.
    pub(crate) fn renew(&mut self, device: DeviceId) -> Result<(), FolderFault> {
        // Until the new file is open, a write would go to the old one.
        self.stuck = true;
        files::replace(&self.path, &chain::head(chain::JOURNAL, device))?;
        *self = Journal::open(&self.path)?;
        Ok(())
    }
}

impl<D: Disk> Journal<D> {
    /// Whether it holds no entry.
    pub(crate) fn is_empty(&self) -> bool {
        self.len <= HEAD as u64
    }

    /// No further write is tried until the folder is opened again.
    pub(crate) fn stick(&mut self) {
        self.stuck = true;
    }

    /// An error while it is stuck.
    pub(crate) fn ready(&self) -> Result<(), FolderFault> {
        if self.stuck { Err(FolderFault::Stuck { path: self.path.clone() }) } else { Ok(()) }
    }

    /// Writes an entry's postcard form as one frame and makes it durable.
    ///
    /// On failure the file is cut back to its length before, so that no half frame stands before a later one.
    pub(crate) fn append(&mut self, entry: &[u8]) -> Result<(), FolderFault> {
        self.ready()?;
        let mut buffer = [0; BODY + OVERHEAD];
        let too_long = FolderFault::TooLong { got: entry.len(), most: BODY };
        let frame = frame::write(kind::ENTRY, entry, &mut buffer).ok_or(too_long)?;
        let written = self.disk.put(frame).and_then(|()| self.disk.sync());
        if let Err(error) = written {
            self.stuck = self.disk.cut(self.len).is_err();
            return Err(FolderFault::io("write", &self.path)(error));
        }
        self.len += frame.len() as u64;
        Ok(())
    }
}

/// A journal as it was found.
#[derive(Clone, Debug)]
pub(crate) struct Seen {
    /// Whose entries it holds.
    pub(crate) device: DeviceId,
    /// Its bytes; empty where there is no file.
    pub(crate) bytes: Vec<u8>,
    /// Its entries.
    pub(crate) entries: Vec<Entry>,
    /// What is wrong, or was put right.
    pub(crate) findings: Vec<FolderFinding>,
}

/// Reads the journal of the folder at `root`, whose device is `own`.
pub(crate) fn look(root: &Path, own: DeviceId) -> Result<Seen, FolderFault> {
    let file = Path::new(files::JOURNAL);
    let Some(bytes) = files::read(&root.join(file))? else {
        let what = Found::NoJournal;
        let missing = FolderFinding::new(file, None, Some(own), what);
        return Ok(Seen { device: own, bytes: Vec::new(), entries: Vec::new(), findings: vec![missing] });
    };
    let device = whose(&bytes, own);
    let contents = books::read_journal(file, &bytes, device);
    Ok(Seen { device, entries: contents.entries, findings: contents.findings, bytes })
}

/// The device whose entries a journal holds; an empty journal is its own folder's, whatever its head says.
fn whose(bytes: &[u8], own: DeviceId) -> DeviceId {
    let mut frames = frame::walk(bytes, HEAD).flatten().filter(|frame| frame.kind == kind::ENTRY);
    frames.find_map(|frame| Entry::decode(frame.body).ok()).map_or(own, |entry| entry.at.device)
}

impl Seen {
    /// Makes the file one that can be gone on with: a sound head, then nothing but sound frames.
    ///
    /// Damaged bytes are copied to `damaged/` first.
    pub(crate) fn repair(&mut self, root: &Path) -> Result<(), FolderFault> {
        let path = root.join(files::JOURNAL);
        self.refuse_newer(&path)?;
        let head = chain::head(chain::JOURNAL, self.device);
        let frames = frame::walk(&self.bytes, HEAD).flatten();
        let mut sound = head.to_vec();
        frames.for_each(|frame| sound.extend(frame.bytes));
        if sound == self.bytes {
            return Ok(());
        }
        if !self.bytes.is_empty() {
            self.save(root)?;
        }
        if self.bytes.starts_with(&sound) {
            let file =
                OpenOptions::new().write(true).open(&path).map_err(FolderFault::io("open for writing", &path))?;
            let cut = file.set_len(sound.len() as u64).and_then(|()| file.sync_all());
            cut.map_err(FolderFault::io("cut", &path))?;
        } else {
            files::replace(&path, &sound)?;
        }
        self.bytes = sound;
        Ok(())
    }

    fn save(&mut self, root: &Path) -> Result<(), FolderFault> {
        let saved = files::keep_damaged(root, files::JOURNAL, &self.bytes)?;
        self.findings.iter_mut().for_each(|finding| finding.saved = Some(saved.clone()));
        Ok(())
    }

    /// A frame that this version can't read may carry a count that it would use again.
    fn refuse_newer(&self, path: &Path) -> Result<(), FolderFault> {
        let known = |frame: &frame::Frame<'_>| frame.kind == kind::ENTRY && Entry::decode(frame.body).is_ok();
        match frame::walk(&self.bytes, HEAD).flatten().find(|frame| !known(frame)) {
            Some(frame) => Err(FolderFault::Newer { path: path.to_path_buf(), offset: frame.offset as u64 }),
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Counts calls and keeps the bytes; fails a write after `room` bytes, and syncs and cuts when told to.
    #[derive(Debug, Default)]
    struct Bench {
        bytes: Vec<u8>,
        room: Option<usize>,
        puts: u32,
        syncs: u32,
        no_sync: bool,
        no_cut: bool,
    }

    fn full() -> io::Error {
        io::Error::from(io::ErrorKind::StorageFull)
    }

    impl Disk for Bench {
        fn put(&mut self, bytes: &[u8]) -> io::Result<()> {
            self.puts += 1;
            let fits = self.room.map_or(bytes.len(), |room| room.min(bytes.len()));
            self.bytes.extend(&bytes[..fits]);
            if fits < bytes.len() { Err(full()) } else { Ok(()) }
        }

        fn sync(&mut self) -> io::Result<()> {
            self.syncs += 1;
            if self.no_sync { Err(full()) } else { Ok(()) }
        }

        fn cut(&mut self, len: u64) -> io::Result<()> {
            if self.no_cut {
                return Err(full());
            }
            self.bytes.truncate(len as usize);
            Ok(())
        }
    }

    fn bench(disk: Bench) -> Journal<Bench> {
        let len = disk.bytes.len() as u64;
        Journal { disk, path: PathBuf::from("journal"), len, stuck: false }
    }

    #[test]
    fn an_entry_is_one_write_and_one_sync() {
        let mut journal = bench(Bench::default());
        for n in 1..=5 {
            journal.append(b"entry").unwrap();
            assert_eq!((journal.disk.puts, journal.disk.syncs), (n, n));
        }
    }

    #[test]
    fn a_write_that_fails_after_any_byte_leaves_nothing() {
        for room in 0..5 + OVERHEAD {
            let mut journal = bench(Bench::default());
            journal.append(b"first").unwrap();
            let before = journal.disk.bytes.clone();
            journal.disk.room = Some(room);
            assert!(matches!(journal.append(b"other"), Err(FolderFault::Io { .. })));
            assert_eq!(journal.disk.bytes, before);
            journal.disk.room = None;
            journal.append(b"third").unwrap();
            let bodies: Vec<&[u8]> = frame::walk(&journal.disk.bytes, 0).map(|frame| frame.unwrap().body).collect();
            assert_eq!(bodies, [b"first".as_slice(), b"third"]);
        }
    }

    #[test]
    fn a_sync_that_fails_takes_the_entry_back() {
        let mut journal = bench(Bench { no_sync: true, ..Bench::default() });
        assert!(journal.append(b"entry").is_err());
        assert!(journal.disk.bytes.is_empty());
    }

    #[test]
    fn a_write_that_cannot_be_taken_back_is_the_last() {
        let mut journal = bench(Bench { room: Some(3), no_cut: true, ..Bench::default() });
        assert!(matches!(journal.append(b"entry"), Err(FolderFault::Io { .. })));
        journal.disk.room = None;
        assert!(matches!(journal.append(b"entry"), Err(FolderFault::Stuck { .. })));
        assert_eq!(journal.disk.puts, 1);
    }

    #[test]
    fn too_long_an_entry_is_refused_unwritten() {
        let mut journal = bench(Bench::default());
        let refused = journal.append(&[0; BODY + 1]);
        assert!(matches!(refused, Err(FolderFault::TooLong { got: 1025, most: 1024 })));
        assert_eq!(journal.disk.puts, 0);
    }
}
