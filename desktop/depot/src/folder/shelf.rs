//! One side of a sync: the books and packs of a data folder, or of a plain directory such as a memory stick.
//!
//! Nothing readable is ever written over. A data folder is locked, so a book there grows at its end; a plain directory
//! is not, so a book there is replaced as a whole.

use std::path::{Path, PathBuf};

use offshed_core::ident::{DeviceId, PackHash};

use super::fault::FolderFault;
use super::files;
use super::finding::{FolderFinding, Found};
use super::packs::{self, Stored};

/// One side of a sync.
#[derive(Clone, Debug)]
pub(crate) struct Shelf {
    root: PathBuf,
    /// The device that writes here; `None` for a plain directory.
    own: Option<DeviceId>,
}

/// A book file on a shelf.
#[derive(Clone, Debug)]
pub(crate) struct Copy {
    /// Its name in `books/`.
    pub(crate) name: String,
    /// Whose book it is.
    pub(crate) device: DeviceId,
    /// Its bytes.
    pub(crate) bytes: Vec<u8>,
}

impl Shelf {
    /// A data folder that this process holds the lock of.
    pub(super) fn of_folder(root: &Path, own: DeviceId) -> Shelf {
        Shelf { root: root.to_path_buf(), own: Some(own) }
    }

    /// A plain directory, which must be there and be no data folder.
    pub(crate) fn of_directory(root: &Path) -> Result<Shelf, FolderFault> {
        let path = root.to_path_buf();
        if !root.is_dir() {
            return Err(FolderFault::Missing { path });
        }
        if root.join(files::SETTINGS).exists() {
            return Err(FolderFault::Already { path });
        }
        Ok(Shelf { root: path, own: None })
    }

    /// Whether this side's own device is `device`.
    pub(crate) fn is_own(&self, device: DeviceId) -> bool {
        self.own == Some(device)
    }

    /// All book files, sorted by name. A file that is no book, or can't be read, is a finding.
    pub(crate) fn books(&self, findings: &mut Vec<FolderFinding>) -> Result<Vec<Copy>, FolderFault> {
        let mut copies = Vec::new();
        // In a plain directory others may be writing.
        let is_part = |name: &String| self.own.is_none() && name.ends_with(&format!(".{}", files::PART));
        for name in files::names(&self.root.join(files::BOOKS))?.into_iter().filter(|name| !is_part(name)) {
            match (files::book_named(&name), files::read(&self.book(&name))) {
                (Some(device), Ok(Some(bytes))) => copies.push(Copy { name, device, bytes }),
                (Some(device), Err(fault)) => {
                    findings.push(self.finding(&name, Some(device), Found::CannotRead { why: fault.to_string() }));
                }
                (Some(_), Ok(None)) => {}
                (None, _) => findings.push(self.finding(&name, None, Found::StrayFile)),
            }
        }
        Ok(copies)
    }

    /// The path of a book file.
    fn book(&self, name: &str) -> PathBuf {
        self.root.join(files::BOOKS).join(name)
    }

    /// A finding about a book file on this side, by its full path.
    pub(crate) fn finding(&self, name: &str, device: Option<DeviceId>, what: Found) -> FolderFinding {
        FolderFinding::new(self.book(name), None, device, what)
    }

    /// Adds `more` at the end of a book that is here.
    pub(crate) fn extend(&self, copy: &mut Copy, more: &[u8]) -> Result<(), FolderFault> {
        let path = self.book(&copy.name);
        let there = std::fs::metadata(&path).map(|meta| meta.len()).map_err(FolderFault::io("look at", &path))?;
        if there != copy.bytes.len() as u64 {
            return Err(FolderFault::Changed { path });
        }
        match self.own {
            Some(_) => files::write_at(&path, there, more)?,
            None => files::replace_shared(&path, &[&copy.bytes, more].concat())?,
        }
        copy.bytes.extend(more);
        Ok(())
    }

    /// Stores a book beside those that are here, under the first name that is free.
    pub(crate) fn store(&self, here: &[Copy], device: DeviceId, bytes: Vec<u8>) -> Result<Copy, FolderFault> {
        let taken = |name: &String| here.iter().any(|copy| copy.name == *name) || self.book(name).exists();
        let mut names = std::iter::once(files::book_name(device)).chain(files::fork_names(device, &bytes));
        let free = names.find(|name| !taken(name));
        // The longest name is the whole hash, so another file of that name would be these bytes.
        let name = free.ok_or_else(|| FolderFault::Changed { path: self.root.join(files::BOOKS) })?;
        files::make_dir(&self.root.join(files::BOOKS))?;
        match self.own {
            Some(_) => files::replace(&self.book(&name), &bytes)?,
            None => files::replace_shared(&self.book(&name), &bytes)?,
        }
        Ok(Copy { name, device, bytes })
    }

    /// The packs here, by name.
    pub(crate) fn packs(&self) -> Result<Vec<PackHash>, FolderFault> {
        packs::list(&self.root)
    }

    /// Whether a pack is here and sound.
    pub(crate) fn has_pack(&self, hash: PackHash) -> bool {
        matches!(packs::get(&self.root, hash), Ok(Some(_)))
    }

    /// A pack's bytes; a damaged one is a finding.
    pub(crate) fn pack(
        &self,
        hash: PackHash,
        findings: &mut Vec<FolderFinding>,
    ) -> Result<Option<Vec<u8>>, FolderFault> {
        match packs::get(&self.root, hash) {
            Err(FolderFault::PackDiffers { path, found }) => {
                let what = Found::PackDiffers { found };
                findings.push(FolderFinding::new(path, None, None, what));
                Ok(None)
            }
            other => other,
        }
    }

    /// Stores a pack; that it took the place of a damaged one is a finding.
    pub(crate) fn add_pack(&self, bytes: &[u8], findings: &mut Vec<FolderFinding>) -> Result<PackHash, FolderFault> {
        let (hash, stored) = packs::add(&self.root, bytes)?;
        if stored == Stored::Renewed {
            let file = self.root.join(files::PACKS).join(files::pack_name(hash));
            let saved = Some(Path::new(files::DAMAGED).to_path_buf());
            findings.push(FolderFinding { saved, ..FolderFinding::new(file, None, None, Found::PackRenewed) });
        }
        Ok(hash)
    }
}
