//! Packs by content: a file's name is SHA-256 of its bytes, looked at whenever it is read.

use std::path::{Path, PathBuf};

use offshed_core::ident::PackHash;

use super::fault::FolderFault;
use super::files;
use super::finding::{FolderFinding, Found};

/// What became of a pack that was to be stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stored {
    /// It was there already.
    There,
    /// It is new.
    New,
    /// It took the place of a damaged one, a copy of which was kept.
    Renewed,
}

fn relative(hash: PackHash) -> PathBuf {
    Path::new(files::PACKS).join(files::pack_name(hash))
}

/// SHA-256 of a pack file's bytes: its name.
pub fn hash(bytes: &[u8]) -> PackHash {
    PackHash(files::sha256(bytes))
}

/// Stores a pack, durably.
pub(crate) fn add(root: &Path, bytes: &[u8]) -> Result<(PackHash, Stored), FolderFault> {
    let hash = hash(bytes);
    let path = root.join(relative(hash));
    let stored = match files::read(&path)? {
        Some(there) if there == bytes => return Ok((hash, Stored::There)),
        Some(damaged) => {
            files::keep_damaged(root, &files::pack_name(hash), &damaged)?;
            Stored::Renewed
        }
        None => Stored::New,
    };
    files::make_dir(&root.join(files::PACKS))?;
    // The directory may be one that others write in.
    files::replace_shared(&path, bytes)?;
    Ok((hash, stored))
}

/// Reads a pack; `None` when it is not here.
pub(crate) fn get(root: &Path, wanted: PackHash) -> Result<Option<Vec<u8>>, FolderFault> {
    let path = root.join(relative(wanted));
    let Some(bytes) = files::read(&path)? else {
        return Ok(None);
    };
    let found = hash(&bytes);
    if found == wanted { Ok(Some(bytes)) } else { Err(FolderFault::PackDiffers { path, found }) }
}

/// The packs that are here by name, sorted.
pub(crate) fn list(root: &Path) -> Result<Vec<PackHash>, FolderFault> {
    let names = files::names(&root.join(files::PACKS))?;
    Ok(names.iter().filter_map(|name| files::pack_named(name)).collect())
}

/// What is wrong in the directory of packs: every file is read.
pub(crate) fn findings(root: &Path) -> Vec<FolderFinding> {
    let finding = |file: PathBuf, what| FolderFinding::new(file, None, None, what);
    let dir = Path::new(files::PACKS);
    let names = match files::names(&root.join(dir)) {
        Ok(names) => names,
        Err(fault) => return vec![finding(dir.to_path_buf(), Found::CannotRead { why: fault.to_string() })],
    };
    let looked = names.iter().filter_map(|name| {
        let what = match files::pack_named(name).map(|wanted| get(root, wanted)) {
            None => Found::StrayFile,
            Some(Ok(_)) => return None,
            Some(Err(FolderFault::PackDiffers { found, .. })) => Found::PackDiffers { found },
            Some(Err(fault)) => Found::CannotRead { why: fault.to_string() },
        };
        Some(finding(dir.join(name), what))
    });
    looked.collect()
}
