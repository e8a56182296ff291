//! What the checks of data folders share: empty places, and devices that write.

#![allow(dead_code, reason = "each file of checks uses its own part of this")]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use offshed_core::desk::Store;
use offshed_core::entry::{Entry, What, Words};
use offshed_core::ident::{DeviceId, EngineId, EntryRef, PersonId};
use offshed_core::limits::ENTRY_BYTES;
use offshed_core::stamp::{Clock, Hlc, Stamp};
use offshed_depot::folder::Folder;

/// An empty directory of this name, apart for each file of checks.
pub(crate) fn place(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(env!("CARGO_CRATE_NAME")).join(name);
    if path.exists() {
        fs::remove_dir_all(&path).unwrap();
    }
    fs::create_dir_all(&path).unwrap();
    path
}

/// The device of number `n`.
pub(crate) fn device(n: u8) -> DeviceId {
    DeviceId([n; 8])
}

/// A new folder of device `n` in a place of this name.
pub(crate) fn folder(name: &str, n: u8) -> Folder {
    Folder::make_as(&place(name), device(n), &[n; 32], "Shed tablet", "Etc/UTC").unwrap()
}

/// The entry that `folder` writes next, with these words.
pub(crate) fn next(folder: &Folder, words: &str) -> Entry {
    let seq = folder.next_seq();
    Entry {
        at: EntryRef { device: folder.device(), seq },
        hlc: Hlc(u64::from(seq) << 20),
        stamp: Stamp(seq.into()),
        clock: Clock::Good,
        person: PersonId(7),
        what: What::HandedOver { engine: EngineId(11), words: Words::try_from(words).unwrap() },
    }
}

/// Writes an entry with these words.
pub(crate) fn write(folder: &mut Folder, words: &str) -> Entry {
    let entry = next(folder, words);
    folder.append(&entry, entry.encode(&mut [0; ENTRY_BYTES]).unwrap()).unwrap();
    entry
}

/// Every file below a directory with its bytes, by path relative to it; the lock file, which is empty, left out.
pub(crate) fn files(root: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut dirs = vec![root.to_path_buf()];
    while let Some(dir) = dirs.pop() {
        for item in fs::read_dir(dir).unwrap() {
            let path = item.unwrap().path();
            if path.is_dir() {
                dirs.push(path);
            } else if !path.ends_with("lock") {
                found.insert(path.strip_prefix(root).unwrap().to_path_buf(), fs::read(&path).unwrap());
            }
        }
    }
    found
}

/// Lays files out below an empty directory.
pub(crate) fn lay(root: &Path, files: &BTreeMap<PathBuf, Vec<u8>>) {
    for (path, bytes) in files {
        let path = root.join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
}
