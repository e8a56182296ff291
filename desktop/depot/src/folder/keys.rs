//! Secret keys of the devices that wrote in this folder: 32 random bytes each, readable by the owner of the files only,
//! and never synced.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use offshed_core::ident::{DeviceId, DeviceKey};
use offshed_core::record::seal::Signer;

use super::fault::FolderFault;
use super::files;

fn path(root: &Path, device: DeviceId) -> PathBuf {
    root.join(files::KEYS).join(format!("{device}.key"))
}

/// The key of a device; `None` when it is not here.
pub(crate) fn read(root: &Path, device: DeviceId) -> Result<Option<Signer>, FolderFault> {
    let path = path(root, device);
    let Some(bytes) = files::read(&path)? else { return Ok(None) };
    match <[u8; 32]>::try_from(bytes.as_slice()) {
        Ok(seed) => Ok(Some(Signer::from_seed(&seed))),
        Err(_) => Err(FolderFault::Key { path }),
    }
}

/// The public keys of all devices that wrote here: this one, and those it was before.
pub(crate) fn own(root: &Path) -> Result<BTreeMap<DeviceId, DeviceKey>, FolderFault> {
    let mut own = BTreeMap::new();
    for name in files::names(&root.join(files::KEYS))? {
        if let Some(device) = name.strip_suffix(".key").and_then(files::device)
            && let Some(signer) = read(root, device)?
        {
            own.insert(device, signer.key());
        }
    }
    Ok(own)
}

/// Keeps a device's key.
pub(crate) fn keep(root: &Path, device: DeviceId, seed: &[u8; 32]) -> Result<Signer, FolderFault> {
    files::make_dir(&root.join(files::KEYS))?;
    files::replace_private(&path(root, device), seed)?;
    Ok(Signer::from_seed(seed))
}

/// A new key.
pub(crate) fn new_seed() -> Result<[u8; 32], FolderFault> {
    let mut seed = [0; 32];
    files::random(&mut seed)?;
    Ok(seed)
}
