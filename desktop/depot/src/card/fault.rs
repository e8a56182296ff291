//! Why a card could not be used: what, where, and what to do.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use crate::folder::FolderFault;
use crate::shed::Denial;

/// Why a card could not be used.
#[derive(Debug)]
pub enum CardFault {
    /// A file or directory of the card, or of a temporary copy of it.
    Io {
        /// What was tried.
        doing: &'static str,
        /// On what.
        path: PathBuf,
        /// The system's word.
        error: io::Error,
    },
    /// There is no such directory.
    Missing {
        /// The path given.
        path: PathBuf,
    },
    /// It is a data folder.
    DataFolder {
        /// The path given.
        path: PathBuf,
    },
    /// The card holds more books of one device than it has names for.
    TooManyCopies {
        /// The directory they are in.
        path: PathBuf,
    },
    /// What was read back from the card is not what was written.
    NotAsWritten {
        /// The file.
        path: PathBuf,
    },
    /// No pack is adopted, or it is not in this folder.
    NoPack,
    /// A part of the shift file is longer than its format allows.
    TooLong,
    /// The data folder.
    Folder(FolderFault),
    /// The exchange of books was denied.
    Denied(Box<Denial>),
}

impl CardFault {
    /// A fault of the system, at a path.
    pub(super) fn io<'p>(doing: &'static str, path: &'p Path) -> impl FnOnce(io::Error) -> CardFault + 'p {
        move |error| CardFault::Io { doing, path: path.to_path_buf(), error }
    }
}

impl fmt::Display for CardFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            CardFault::Io { doing, path, error } => write!(
                f,
                "cannot {doing} \"{}\": {error}; nothing is lost, put the card in and do it again",
                path.display()
            ),
            CardFault::Missing { path } => {
                write!(f, "there is no directory \"{}\": put the card in, or check the path", path.display())
            }
            CardFault::DataFolder { path } => write!(
                f,
                "\"{}\" is a data folder and no card: use `offshed sync` for it, or another directory",
                path.display()
            ),
            CardFault::TooManyCopies { path } => write!(
                f,
                "\"{}\" holds ten different books of one device: withdraw that device's key, and clear the card",
                path.display()
            ),
            CardFault::NotAsWritten { path } => write!(
                f,
                "the card does not keep what is written to \"{}\": throw it away and take another",
                path.display()
            ),
            CardFault::NoPack => {
                f.write_str("no pack is adopted here: `offshed pack adopt FILE --by PERSON`, then do it again")
            }
            CardFault::TooLong => f.write_str("the shift file would be longer than its format allows"),
            CardFault::Folder(fault) => fault.fmt(f),
            CardFault::Denied(denial) => write!(f, "{denial:?}"),
        }
    }
}

impl std::error::Error for CardFault {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            CardFault::Io { error, .. } => Some(error),
            CardFault::Folder(fault) => Some(fault),
            _ => None,
        }
    }
}

impl From<FolderFault> for CardFault {
    fn from(fault: FolderFault) -> CardFault {
        CardFault::Folder(fault)
    }
}

impl From<Denial> for CardFault {
    fn from(denial: Denial) -> CardFault {
        match denial {
            Denial::Folder(fault) => CardFault::Folder(fault),
            other => CardFault::Denied(Box::new(other)),
        }
    }
}
