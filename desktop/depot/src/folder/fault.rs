//! Why a data folder does not do what was asked: what failed, at which path, and what helps.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use offshed_core::ident::{DeviceId, EntryRef, PackHash};
use offshed_core::record::bits::BitFault;

/// Why a data folder refused.
#[derive(Debug)]
pub enum FolderFault {
    /// The operating system refused.
    Io {
        /// What was being done: "read", "write", …
        doing: &'static str,
        /// To which file or directory.
        path: PathBuf,
        /// What it said.
        error: io::Error,
    },
    /// There is no such directory.
    Missing {
        /// The path.
        path: PathBuf,
    },
    /// A directory without `folder.toml`.
    NotAFolder {
        /// The path.
        path: PathBuf,
    },
    /// A data folder is made only in an empty directory.
    NotEmpty {
        /// The path.
        path: PathBuf,
        /// One of the things in it.
        holds: String,
    },
    /// It is a data folder already.
    Already {
        /// The path.
        path: PathBuf,
    },
    /// Another process has it open.
    InUse {
        /// The path.
        path: PathBuf,
    },
    /// It was opened for reading only.
    ReadOnly {
        /// The path.
        path: PathBuf,
    },
    /// A settings file can't be understood.
    Settings {
        /// The file.
        path: PathBuf,
        /// What is wrong, with its line where known.
        why: String,
    },
    /// Written by another version of the format.
    Version {
        /// The file.
        path: PathBuf,
        /// The version it names.
        found: u16,
    },
    /// A sound record that this version can't read stands where this device must go on counting.
    Newer {
        /// The file.
        path: PathBuf,
        /// Where.
        offset: u64,
    },
    /// A name that can't be kept.
    Name {
        /// Whose name: "device", "zone".
        of: &'static str,
        /// What is wrong with it.
        why: String,
    },
    /// An entry that is not this device's next.
    NotNext {
        /// The entry.
        entry: EntryRef,
        /// What would be next.
        want: EntryRef,
    },
    /// An entry longer than a frame holds.
    TooLong {
        /// Bytes given.
        got: usize,
        /// Bytes allowed.
        most: usize,
    },
    /// An earlier write failed and could not be taken back.
    Stuck {
        /// The file.
        path: PathBuf,
    },
    /// A pack file is not what its name says.
    PackDiffers {
        /// The file.
        path: PathBuf,
        /// What its bytes hash to.
        found: PackHash,
    },
    /// The file is not what it was a moment ago: somebody else writes there.
    Changed {
        /// The file.
        path: PathBuf,
    },
    /// The operating system gave no random bytes.
    Random {
        /// What it said.
        why: String,
    },
    /// A secret key's file does not hold 32 bytes.
    Key {
        /// The file.
        path: PathBuf,
    },
    /// The device's secret key is not here.
    KeyLost {
        /// The book that it would sign.
        path: PathBuf,
    },
    /// Entries can't be put into a block; a fault of this program.
    Unsealable {
        /// Why.
        bits: BitFault,
    },
    /// Both sides of a sync write as the same device.
    SameDevice {
        /// The device.
        device: DeviceId,
    },
}

impl FolderFault {
    /// Wraps an error of the operating system.
    pub(crate) fn io(doing: &'static str, path: &Path) -> impl FnOnce(io::Error) -> FolderFault {
        let path = path.to_path_buf();
        move |error| FolderFault::Io { doing, path, error }
    }
}

impl fmt::Display for FolderFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            FolderFault::Io { doing, path, error } => write!(f, "cannot {doing} \"{}\": {error}", path.display()),
            FolderFault::Missing { path } => {
                write!(f, "there is no directory \"{}\": check the path, or make a data folder there", path.display())
            }
            FolderFault::NotAFolder { path } => write!(
                f,
                "\"{}\" is no data folder: it has no folder.toml; check the path, or put folder.toml back from a copy",
                path.display()
            ),
            FolderFault::NotEmpty { path, holds } => write!(
                f,
                "\"{}\" is not empty (it holds \"{holds}\"): a data folder is made in a new or empty directory",
                path.display()
            ),
            FolderFault::Already { path } => {
                write!(f, "\"{}\" is a data folder already: open it, or choose another place", path.display())
            }
            FolderFault::InUse { path } => {
                write!(f, "another program has the data folder \"{}\" open: close it there first", path.display())
            }
            FolderFault::ReadOnly { path } => {
                write!(f, "the data folder \"{}\" is open for reading only: nothing is written", path.display())
            }
            FolderFault::Settings { path, why } => {
                write!(f, "cannot understand \"{}\": {why}; put it back from a copy", path.display())
            }
            FolderFault::Version { path, found } => write!(
                f,
                "\"{}\" is of format {found}, which this version of offshed does not write: use the version that made it",
                path.display()
            ),
            FolderFault::Newer { path, offset } => write!(
                f,
                "\"{}\" holds at byte {offset} a record of a newer version of offshed: use that version to write here",
                path.display()
            ),
            FolderFault::Name { of, why } => write!(f, "this name of the {of} can't be kept: {why}"),
            FolderFault::NotNext { entry, want } => {
                write!(f, "entry {entry} is not the next of this device, which is {want}: open the data folder again")
            }
            FolderFault::TooLong { got, most } => write!(f, "an entry of {got} bytes is longer than {most} bytes"),
            FolderFault::Stuck { path } => write!(
                f,
                "an earlier write to \"{}\" failed and could not be taken back: make room on the disk, then open the \
                 data folder again",
                path.display()
            ),
            FolderFault::PackDiffers { path, found } => write!(
                f,
                "the pack file \"{}\" is damaged, its bytes hash to {found:#}: add the pack again, or sync with a folder \
                 that has it",
                path.display()
            ),
            FolderFault::Changed { path } => write!(
                f,
                "\"{}\" changed while it was being copied to, so it was left alone: sync again when nobody else writes there",
                path.display()
            ),
            FolderFault::Random { why } => write!(f, "the operating system gave no random bytes: {why}"),
            FolderFault::Key { path } => write!(
                f,
                "\"{}\" is no secret key, which is 32 bytes: put it back from a copy, or remove it and give the folder a \
                 new identity (`offshed identity`)",
                path.display()
            ),
            FolderFault::KeyLost { path } => write!(
                f,
                "nothing can be signed in \"{}\", since the device's secret key is not here: put the directory keys back \
                 from a copy, or give the folder a new identity (`offshed identity`)",
                path.display()
            ),
            FolderFault::Unsealable { bits } => write!(f, "an entry can't be put into a block: {bits}"),
            FolderFault::SameDevice { device } => write!(
                f,
                "both folders write as device {device}, so one is a copy of the other: give the copy a new identity first (`offshed identity`)"
            ),
        }
    }
}

impl std::error::Error for FolderFault {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            FolderFault::Io { error, .. } => Some(error),
            _ => None,
        }
    }
}
