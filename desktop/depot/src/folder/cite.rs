//! Which blocks of the books hold given entries: what a printed paper names, so that it can be held against the book.

use std::collections::BTreeSet;
use std::path::Path;

use offshed_core::ident::{DeviceId, EntryRef};
use offshed_core::record::head::Hash;

use super::fault::FolderFault;
use super::{books, files};

/// A block that holds entries asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cited {
    /// Whose block it is.
    pub device: DeviceId,
    /// Its number in the book, from 0.
    pub number: u32,
    /// SHA-256 of its head, which the next block names.
    pub hash: Hash,
    /// The count of its first entry.
    pub first: u32,
    /// The count of its last.
    pub last: u32,
}

/// The whole blocks under `root` that hold an entry which `wanted` tells, by device and number. One book is in memory
/// at a time.
pub(super) fn cite(root: &Path, wanted: impl Fn(EntryRef) -> bool) -> Result<Vec<Cited>, FolderFault> {
    let dir = root.join(files::BOOKS);
    let mut found = BTreeSet::new();
    for name in files::names(&dir)? {
        let Some(device) = files::book_named(&name) else { continue };
        let bytes = files::read(&dir.join(&name))?.unwrap_or_default();
        let whole = books::blocks(&bytes, device).filter(|block| block.head.device == device);
        found.extend(whole.filter_map(|block| {
            let (first, last) = (block.head.first, block.head.last());
            let holds = (first..=last).any(|seq| wanted(EntryRef { device, seq }));
            holds.then_some(Cited { device, number: block.head.number, hash: block.hash, first, last })
        }));
    }
    Ok(found.into_iter().collect())
}
