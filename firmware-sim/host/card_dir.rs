//! A directory that is a card, with the names of one.
#![allow(dead_code)]

use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use offshed_handheld::card::{Card, CardFault};

/// A card that is seen as a directory.
#[derive(Clone, Debug)]
pub(crate) struct CardDir {
    root: PathBuf,
    /// Bytes that may still be written before it is pulled; `None`: it stays in.
    pub(crate) pulled_after: Option<usize>,
}

fn fault(error: io::Error) -> CardFault {
    match error.kind() {
        ErrorKind::StorageFull => CardFault::Full,
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => CardFault::Locked,
        ErrorKind::UnexpectedEof => CardFault::Unreadable,
        _ => CardFault::Gone,
    }
}

impl CardDir {
    /// The card in this directory.
    pub(crate) fn new(root: &Path) -> CardDir {
        CardDir { root: root.to_path_buf(), pulled_after: None }
    }

    fn is_in(&self) -> Result<(), CardFault> {
        let there = self.root.is_dir() && self.pulled_after != Some(0);
        there.then_some(()).ok_or(CardFault::Gone)
    }
}

impl Card for CardDir {
    fn has_dir(&mut self, path: &str) -> Result<bool, CardFault> {
        self.is_in()?;
        Ok(self.root.join(path).is_dir())
    }

    fn len(&mut self, path: &str) -> Result<Option<u32>, CardFault> {
        self.is_in()?;
        match fs::metadata(self.root.join(path)) {
            Ok(meta) if meta.is_file() => u32::try_from(meta.len()).map(Some).map_err(|_| CardFault::Unreadable),
            Ok(_) => Ok(None),
            Err(error) if matches!(error.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => Ok(None),
            Err(error) => Err(fault(error)),
        }
    }

    fn read(&mut self, path: &str, at: u32, out: &mut [u8]) -> Result<(), CardFault> {
        self.is_in()?;
        let mut file = File::open(self.root.join(path)).map_err(fault)?;
        file.seek(SeekFrom::Start(at.into())).and_then(|_| file.read_exact(out)).map_err(fault)
    }

    fn write(&mut self, path: &str, at: u32, bytes: &[u8]) -> Result<(), CardFault> {
        self.is_in()?;
        let path = self.root.join(path);
        if let Some(directory) = path.parent() {
            fs::create_dir_all(directory).map_err(fault)?;
        }
        let lasts = self.pulled_after.map_or(bytes.len(), |left| left.min(bytes.len()));
        let opened = OpenOptions::new().write(true).create(true).truncate(false).open(&path);
        let written = opened.and_then(|mut file| {
            file.seek(SeekFrom::Start(at.into()))?;
            file.write_all(&bytes[..lasts])?;
            file.sync_all()
        });
        written.map_err(fault)?;
        if let Some(left) = &mut self.pulled_after {
            *left -= lasts;
        }
        if lasts < bytes.len() { Err(CardFault::Gone) } else { Ok(()) }
    }
}
