//! The files of a card, on a system that has it as a directory.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use offshed_core::ident::{DeviceId, PackHash};
use offshed_core::record::card;
use sha2::{Digest, Sha256};

use super::fault::CardFault;

/// The end of the name of a file that is not whole.
const PART: &str = "NEW";

/// A directory that is a card.
#[derive(Clone, Debug)]
pub(super) struct CardDir {
    root: PathBuf,
}

/// A book on a card: which of its device's books, and its bytes.
#[derive(Clone, Debug)]
pub(super) struct OnCard {
    pub(super) device: DeviceId,
    pub(super) copy: u8,
    pub(super) bytes: Vec<u8>,
}

/// SHA-256.
pub(super) fn sha256(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

impl CardDir {
    /// A directory that is there and is no data folder; it is made ready where it is not.
    pub(super) fn open(root: &Path) -> Result<CardDir, CardFault> {
        let path = root.to_path_buf();
        if !root.is_dir() {
            return Err(CardFault::Missing { path });
        }
        if root.join("folder.toml").exists() {
            return Err(CardFault::DataFolder { path });
        }
        let dir = CardDir { root: path };
        for name in [card::FOLDER, card::BOOKS, card::PACKS] {
            let path = dir.root.join(name);
            fs::create_dir_all(&path).map_err(CardFault::io("make the directory", &path))?;
        }
        Ok(dir)
    }

    /// All books, by device and copy; and files in their places that are none.
    pub(super) fn books(&self) -> Result<(Vec<OnCard>, Vec<PathBuf>), CardFault> {
        let (mut books, mut strays) = (BTreeMap::new(), Vec::new());
        let root = self.root.join(card::BOOKS);
        for directory in names(&root)? {
            for file in names(&root.join(&directory))? {
                let path = root.join(&directory).join(&file);
                match card::book_named(&directory, &file) {
                    Some(key) => drop(books.insert(key, read(&path)?)),
                    // What an interruption left is written again.
                    None if file.to_ascii_uppercase().ends_with(PART) => {}
                    None => strays.push(path),
                }
            }
        }
        let books = books.into_iter().map(|((device, copy), bytes)| OnCard { device, copy, bytes });
        Ok((books.collect(), strays))
    }

    /// The packs.
    pub(super) fn packs(&self) -> Result<Vec<Vec<u8>>, CardFault> {
        let root = self.root.join(card::PACKS);
        let files = names(&root)?.into_iter().filter(|name| name.to_ascii_uppercase().ends_with(".OSP"));
        files.map(|name| read(&root.join(name))).collect()
    }

    /// The shift file's bytes; `None` where there is none.
    pub(super) fn shift(&self) -> Result<Option<Vec<u8>>, CardFault> {
        let path = self.root.join(card::SHIFT);
        if path.exists() { read(&path).map(Some) } else { Ok(None) }
    }

    /// Replaces a book as a whole.
    pub(super) fn put_book(&self, device: DeviceId, copy: u8, bytes: &[u8]) -> Result<(), CardFault> {
        self.put(&card::book(device, copy), bytes)
    }

    /// Puts a pack there.
    pub(super) fn put_pack(&self, hash: PackHash, bytes: &[u8]) -> Result<(), CardFault> {
        self.put(&card::pack(hash), bytes)
    }

    /// Replaces the shift file as a whole.
    pub(super) fn put_shift(&self, bytes: &[u8]) -> Result<(), CardFault> {
        self.put(card::SHIFT, bytes)
    }

    /// Writes a file beside its place, makes it durable, looks at it again, and puts it in its place.
    fn put(&self, name: &str, bytes: &[u8]) -> Result<(), CardFault> {
        let path = self.root.join(name);
        let part = path.with_extension(PART);
        if let Some(directory) = path.parent() {
            fs::create_dir_all(directory).map_err(CardFault::io("make the directory", directory))?;
        }
        let written = File::create(&part).and_then(|mut file| file.write_all(bytes).and_then(|()| file.sync_all()));
        written.map_err(CardFault::io("write", &part))?;
        if read(&part)? != bytes {
            return Err(CardFault::NotAsWritten { path });
        }
        fs::rename(&part, &path).map_err(CardFault::io("write", &path))?;
        match path.parent() {
            Some(directory) if cfg!(unix) => {
                let synced = File::open(directory).and_then(|handle| handle.sync_all());
                synced.map_err(CardFault::io("make durable", directory))
            }
            _ => Ok(()),
        }
    }
}

fn read(path: &Path) -> Result<Vec<u8>, CardFault> {
    fs::read(path).map_err(CardFault::io("read", path))
}

/// The names in a directory, sorted; none where it is a file or missing.
fn names(directory: &Path) -> Result<Vec<String>, CardFault> {
    let listing = match fs::read_dir(directory) {
        Ok(listing) => listing,
        Err(error) if matches!(error.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => return Ok(Vec::new()),
        Err(error) => return Err(CardFault::io("list", directory)(error)),
    };
    let mut names = Vec::new();
    for item in listing {
        let item = item.map_err(CardFault::io("list", directory))?;
        names.push(item.file_name().to_string_lossy().into_owned());
    }
    names.sort();
    Ok(names)
}
