//! What a look through a data folder finds wrong: at which place, whose record, what was saved, and what to do.

use std::collections::BTreeSet;
use std::fmt;
use std::path::PathBuf;

use offshed_core::entry::Unreadable;
use offshed_core::ident::{DeviceId, DeviceKey, EngineId, EntryRef, PackHash};
use offshed_core::record::bits::BitFault;
use offshed_core::record::chain::{Finding, HeadFault};
use offshed_core::record::head::Touched;
use offshed_core::stamp::Stamp;

/// The engines that a finding is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Scope {
    /// It may be any.
    Every,
    /// These, and no other.
    Engines(BTreeSet<EngineId>),
}

impl Scope {
    /// No engine.
    pub fn nothing() -> Scope {
        Scope::Engines(BTreeSet::new())
    }

    /// The engines of a block.
    pub fn of(touched: &Touched) -> Scope {
        let mut scope = Scope::nothing();
        scope.add(touched);
        scope
    }

    /// Those of a further block, too.
    pub fn add(&mut self, touched: &Touched) {
        match self {
            Scope::Engines(_) if touched.every => *self = Scope::Every,
            Scope::Engines(engines) => engines.extend(&touched.engines),
            Scope::Every => {}
        }
    }

    /// Whether it is about this engine.
    pub fn covers(&self, engine: EngineId) -> bool {
        match self {
            Scope::Every => true,
            Scope::Engines(engines) => engines.contains(&engine),
        }
    }

    /// Whether it is about none.
    pub fn is_nothing(&self) -> bool {
        matches!(self, Scope::Engines(engines) if engines.is_empty())
    }
}

impl From<EngineId> for Scope {
    fn from(engine: EngineId) -> Scope {
        Scope::Engines(BTreeSet::from([engine]))
    }
}

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
    /// The engines it is about.
    pub scope: Scope,
}

/// Why a block's entries are not read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BlockFault {
    /// The file ends in it.
    Cut,
    /// Its body is not the one it names, or it was changed.
    Differs,
    /// It is of a later version.
    Newer(u8),
    /// It is whole, and says nothing that this version understands.
    Bits(BitFault),
    /// It is of another device.
    Foreign(DeviceId),
    /// Its signature was not made with the device's key.
    Seal,
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
    /// A block whose entries are not read.
    Block {
        /// Its number.
        number: u32,
        /// Why.
        fault: BlockFault,
    },
    /// A block does not follow the one before it.
    Broken {
        /// Its number.
        number: u32,
    },
    /// A block stands behind later ones.
    Repeated {
        /// Its number.
        number: u32,
    },
    /// A block's own signature is spoilt; a later block names it, and that one's holds.
    SealSpoilt {
        /// Its number.
        number: u32,
    },
    /// Blocks of a device whose key the office has not confirmed; they count.
    UnknownKey {
        /// The key that the device states of itself, if its first block is here.
        key: Option<DeviceKey>,
        /// How many blocks.
        blocks: u32,
    },
    /// A block recorded after the office withdrew the device's key; it does not count.
    Revoked {
        /// Its number.
        number: u32,
        /// How many entries it has.
        entries: u32,
        /// From when on the key is withdrawn.
        since: Stamp,
    },
    /// The device's clock was put back.
    ClockBack {
        /// The count of the first entry after it.
        entry: u32,
        /// What it had shown.
        from: Stamp,
        /// What it showed then.
        to: Stamp,
    },
    /// An entry follows one of a device whose clock was far ahead.
    ClockAhead {
        /// The count of the first such entry.
        entry: u32,
        /// What the device's own clock showed.
        at: Stamp,
        /// By how much its order is ahead of that.
        ahead_seconds: i64,
    },
    /// The device's secret key is not here; nothing can be sealed.
    KeyLost,
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
    /// A finding that may be about any engine.
    pub(crate) fn new(
        file: impl Into<PathBuf>,
        offset: Option<u64>,
        device: Option<DeviceId>,
        what: Found,
    ) -> FolderFinding {
        FolderFinding { file: file.into(), offset, device, what, saved: None, scope: Scope::Every }
    }

    /// The same, about these engines.
    pub(crate) fn about(self, scope: Scope) -> FolderFinding {
        FolderFinding { scope, ..self }
    }

    /// Whether it leaves in doubt what the records say of the engines it is about: entries may be missing, or two
    /// histories stand side by side.
    ///
    /// An unfinished record at the end of a journal is no such thing: it was never acknowledged here.
    pub fn leaves_doubt(&self) -> bool {
        let doubtful = matches!(
            self.what,
            Found::CannotRead { .. }
                | Found::Head(_)
                | Found::HeadDevice { .. }
                | Found::Damaged { .. }
                | Found::Chain(_)
                | Found::Block { .. }
                | Found::Broken { .. }
                | Found::Repeated { .. }
                | Found::Fork { .. }
                | Found::Missing { .. }
        );
        doubtful && !self.scope.is_nothing()
    }

    /// Whether it is about the journal, which only the one who writes in the folder judges.
    pub fn is_of_journal(&self) -> bool {
        self.file == std::path::Path::new(super::files::JOURNAL)
    }

    /// Whether it tells of something that was put right, or of something harmless, and wants no action.
    pub fn is_notice(&self) -> bool {
        matches!(
            self.what,
            Found::StrayFile
                | Found::SealFinished { .. }
                | Found::PackRenewed
                | Found::NothingNew
                | Found::UnknownKey { .. }
        )
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
        match &self.scope {
            Scope::Engines(engines) if self.leaves_doubt() => {
                let list: Vec<String> = engines.iter().map(|engine| format!("No. {engine}")).collect();
                write!(f, "; until then not known: {}", list.join(", "))?;
            }
            _ => {}
        }
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
            Found::Block { number, fault } => block(*number, *fault, f),
            Found::Broken { number } => {
                write!(f, "block {number} does not follow the block before it: a block was lost or changed; {SYNC}")
            }
            Found::Repeated { number } => {
                write!(f, "block {number} stands behind later blocks: it was copied or moved; {SYNC}")
            }
            Found::SealSpoilt { number } => write!(
                f,
                "the signature of block {number} is damaged; a later block of the device vouches for it, and its entries count"
            ),
            Found::UnknownKey { key: Some(key), blocks } => write!(
                f,
                "{blocks} blocks are signed with the key {key}, which the office has not confirmed; they count: compare the \
                 key on the device and confirm it (`offshed register key`)"
            ),
            Found::UnknownKey { key: None, blocks } => write!(
                f,
                "{blocks} blocks are signed with a key that is not known, since the device's first block is not here; \
                 they count: {SYNC}"
            ),
            Found::Revoked { number, entries, since } => write!(
                f,
                "block {number} was recorded after the device's key was withdrawn, as of {}; its {entries} entries do not \
                 count: what is true of them is to be entered again",
                moment(*since)
            ),
            Found::ClockBack { entry, from, to } => write!(
                f,
                "at entry {entry} the clock went back from {} to {}: have somebody look at what was recorded around it, and \
                 at the device's clock",
                moment(*from),
                moment(*to)
            ),
            Found::ClockAhead { entry, at, ahead_seconds } => write!(
                f,
                "entry {entry}, at {} by the device's clock, follows one of a clock that was {ahead_seconds} seconds ahead: \
                 look at the clocks of all devices",
                moment(*at)
            ),
            Found::KeyLost => f.write_str(
                "the device's secret key is not here, so nothing can be signed: put the directory keys back from a copy, or \
                 give this folder a new identity (`offshed identity`)",
            ),
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
    }
}

fn block(number: u32, fault: BlockFault, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    match fault {
        BlockFault::Cut => write!(f, "the file ends in block {number}, so it was not read; {SYNC}"),
        BlockFault::Differs => write!(f, "block {number} is damaged and was not read; {SYNC}"),
        BlockFault::Newer(reader) => write!(
            f,
            "block {number} is of format {reader}, which this version does not read; it is carried: read it with the \
             version that wrote it"
        ),
        BlockFault::Bits(bits) => write!(f, "block {number} was not read, {bits}"),
        BlockFault::Foreign(device) => {
            write!(f, "block {number} is of device {device} and was put into this book; it was not read: {SYNC}")
        }
        BlockFault::Seal => write!(
            f,
            "block {number} is not signed with the device's key: it was damaged or forged, and was not taken; {SYNC}"
        ),
    }
}

/// A moment as people write it, UTC.
fn moment(at: Stamp) -> String {
    let moment = chrono::DateTime::from_timestamp(at.0, 0);
    moment.map_or_else(|| at.0.to_string(), |moment| moment.format("%Y-%m-%d %H:%M:%S UTC").to_string())
}
