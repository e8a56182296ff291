//! What a look through a data folder finds wrong: at which place, whose record, what was saved, and what to do.

use std::fmt;
use std::path::PathBuf;

use offshed_core::entry::Unreadable;
use offshed_core::ident::{DeviceId, EntryRef, PackHash};
use offshed_core::record::chain::{Finding, HeadFault};

/// One thing found wrong, or put right, in a data folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FolderFinding {
    /// The file, relative to the folder.
    pub file: PathBuf,
    /// Where in it, bytes from its start; `None` where it concerns the file as a whole.
    pub offset: Option<u64>,
    /// Whose record it is, where that is known.
    pub device: Option<DeviceId>,
    /// What.
    pub what: Found,
    /// Where a copy of the damaged bytes was put, relative to the folder.
    pub saved: Option<PathBuf>,
}

/// What was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    /// The file can't be read at all.
    CannotRead {
        /// Why.
        why: String,
    },
    /// A file whose name says nothing here; it is left alone.
    StrayFile,
    /// The file's first bytes are damaged, or of another version.
    Head(HeadFault),
    /// The file names another device than its name, or its folder, does.
    HeadDevice {
        /// The device it names.
        found: DeviceId,
    },
    /// The file ends in an unfinished record, as a power cut leaves it.
    TornTail {
        /// Bytes.
        bytes: u64,
    },
    /// Bytes that are no record.
    Damaged {
        /// How many.
        bytes: u64,
    },
    /// Something wrong in the order of records.
    Chain(Finding),
    /// A sound record of a kind that this version does not know; it is carried.
    UnknownKind {
        /// Its kind.
        kind: u8,
    },
    /// Two different entries carry the same count of one device.
    Fork {
        /// The first such entry.
        entry: EntryRef,
        /// How many there are.
        entries: u32,
        /// The file whose entries are taken.
        kept: PathBuf,
    },
    /// Entries of a device are not here.
    Missing {
        /// The first count that is missing.
        first: u32,
        /// The last.
        last: u32,
    },
    /// There is no journal.
    NoJournal,
    /// A block whose writing was interrupted was finished.
    SealFinished {
        /// How many entries it has.
        entries: u32,
    },
    /// A pack's bytes are not what its name says.
    PackDiffers {
        /// What they hash to.
        found: PackHash,
    },
    /// A pack as it now is took the place of a damaged one.
    PackRenewed,
    /// The same device's book was longer elsewhere.
    OwnBookElsewhere,
    /// A book that is neither the start nor the continuation of what is here was stored beside it.
    KeptBeside {
        /// The book that was there.
        other: PathBuf,
    },
    /// A damaged copy of a book had nothing that is not here, and was not taken.
    NothingNew,
}

impl FolderFinding {
    /// Whether it leaves in doubt what the records say: entries may be missing, or two histories stand side by side.
    ///
    /// An unfinished record at the end is no such thing: it was never acknowledged here, or has not come yet.
    pub fn leaves_doubt(&self) -> bool {
        matches!(
            self.what,
            Found::CannotRead { .. }
                | Found::Head(_)
                | Found::HeadDevice { .. }
                | Found::Damaged { .. }
                | Found::Chain(_)
                | Found::Fork { .. }
                | Found::Missing { .. }
        )
    }

    /// Whether it tells of something that was put right, or of something harmless, and wants no action.
    pub fn is_notice(&self) -> bool {
        matches!(self.what, Found::StrayFile | Found::SealFinished { .. } | Found::PackRenewed | Found::NothingNew)
    }
}

impl fmt::Display for FolderFinding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file.display())?;
        if let Some(offset) = self.offset {
            write!(f, ", byte {offset}")?;
        }
        if let Some(device) = self.device {
            write!(f, ", device {device}")?;
        }
        write!(f, ": {}", self.what)?;
        if let Some(saved) = &self.saved {
            write!(f, "; a copy of the damaged file is in {}", saved.display())?;
        }
        Ok(())
    }
}

/// What helps where a record was damaged.
const SYNC: &str = "everything else was read; sync with a folder that has a sound copy";

impl fmt::Display for Found {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Found::CannotRead { why } => write!(f, "cannot be read ({why}); check the disk, then sync with another folder"),
            Found::StrayFile => f.write_str("is no file of a data folder; it is left alone"),
            Found::Head(fault) => head(*fault, f),
            Found::HeadDevice { found } => {
                write!(f, "names device {found}, and its place says another; it is read by its place")
            }
            Found::TornTail { bytes } => write!(
                f,
                "the last {bytes} bytes are an unfinished record, as a power cut leaves it; it was never shown as \
                 accepted, and everything before it was read"
            ),
            Found::Damaged { bytes } => write!(f, "{bytes} bytes are damaged and no record; {SYNC}"),
            Found::Chain(finding) => chain(finding, f),
            Found::UnknownKind { kind } => write!(
                f,
                "a record of kind {kind}, which this version does not know; it is carried, and a newer version reads it"
            ),
            Found::Fork { entry, entries, kept } => write!(
                f,
                "device {} wrote two histories: {entries} entries from {entry} on differ from {}, which is taken; one \
                 folder is a copy of another, so give the copy a new identity (`offshed identity`) and have the foreman look at both",
                entry.device,
                kept.display()
            ),
            Found::Missing { first, last } if first == last => {
                write!(f, "entry {first} is not here; sync with a folder that has it")
            }
            Found::Missing { first, last } => {
                write!(f, "entries {first} to {last} are not here; sync with a folder that has them")
            }
            Found::NoJournal => f.write_str(
                "is missing; entries not yet in a book are lost unless a copy of it is put back before anything is written",
            ),
            Found::SealFinished { entries } => {
                write!(f, "the writing of a block of {entries} entries was interrupted and is finished now; nothing is lost")
            }
            Found::PackDiffers { found } => write!(
                f,
                "is damaged, its bytes hash to {found:#}; add the pack again, or sync with a folder that has it"
            ),
            Found::PackRenewed => f.write_str("was damaged, and a sound copy took its place"),
            Found::OwnBookElsewhere => f.write_str(
                "was longer elsewhere, so this folder is an older copy; if the other one is still in use, give this one \
                 a new identity (`offshed identity`) before anything is written",
            ),
            Found::KeptBeside { other } => write!(
                f,
                "differs from {} and is neither its start nor its continuation; both are kept",
                other.display()
            ),
            Found::NothingNew => f.write_str("is damaged elsewhere and has nothing that is not here; it was not taken"),
        }
    }
}

fn head(fault: HeadFault, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    match fault {
        HeadFault::Short => f.write_str("is shorter than the head of a record file; what follows was looked through"),
        HeadFault::Magic => f.write_str("does not start as a record file does; what follows was looked through"),
        HeadFault::Version(found) => write!(
            f,
            "is of format {found}, which this version does not read; it is carried, so read it with the version that wrote it"
        ),
    }
}

fn chain(finding: &Finding, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    match finding {
        Finding::Damaged(damage) => write!(f, "{} bytes are damaged and no record; {SYNC}", damage.len),
        Finding::Entry(Unreadable::Form) => f.write_str(
            "a sound record that is no entry of this version; it is carried, and a newer version may read it",
        ),
        Finding::Entry(Unreadable::Trailing { left }) => write!(
            f,
            "a sound record with {left} bytes behind its entry; it is carried, and a newer version may read it"
        ),
        Finding::Misplaced { seq } => {
            write!(
                f,
                "entry {seq} does not follow the one before it; entries between them are missing or it is foreign"
            )
        }
        Finding::BlockHead => write!(f, "the head of a block can't be read; {SYNC}"),
        Finding::Broken { number } => {
            write!(f, "block {number} does not follow the block before it: a block was lost or changed; {SYNC}")
        }
        Finding::HashDiffers { number } => {
            write!(f, "block {number} is not what was sealed: something in it was lost or changed; {SYNC}")
        }
        Finding::Unended => {
            f.write_str("a block has no end: its writing was interrupted, or its end is damaged; its entries were read")
        }
    }
}
