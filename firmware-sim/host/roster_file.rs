//! A roster file: a pack and the entries of a data folder, for the simulator.
//!
//! `OSRF`, then the pack's length (four bytes, little-endian) and its bytes, then each entry's length (two bytes) and its
//! postcard form, in the merged order.

use std::fs;
use std::io;
use std::path::Path;

use offshed_core::entry::Entry;
use offshed_core::limits::ENTRY_BYTES;
use offshed_depot::packfile::PackFile;
use offshed_depot::shed;

const MAGIC: &[u8; 4] = b"OSRF";

/// What a roster file holds.
pub(crate) struct RosterFile {
    /// The adopted pack.
    pub(crate) pack: PackFile,
    /// All entries, in the merged order.
    pub(crate) entries: Vec<Entry>,
}

fn bad(words: String) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, words)
}

/// What a data folder holds; it is only looked at.
///
/// # Errors
/// When there is no data folder, no pack is adopted, or the folder can't be read.
pub(crate) fn of_folder(folder: &Path) -> io::Result<RosterFile> {
    let (ledger, _, _) = shed::look(folder).map_err(|fault| bad(fault.to_string()))?;
    let pack = ledger.adopted().ok_or_else(|| bad("no pack is adopted in this folder: adopt one first".to_owned()))?;
    Ok(RosterFile { pack: pack.clone(), entries: ledger.entries().cloned().collect() })
}

/// Writes a roster file.
///
/// # Errors
/// When it can't be written, or something in it is longer than its count of bytes can hold.
pub(crate) fn write(path: &Path, roster: &RosterFile) -> io::Result<()> {
    let pack = roster.pack.bytes();
    let length = u32::try_from(pack.len()).map_err(|_| bad("the pack is longer than 4 GiB".to_owned()))?;
    let mut bytes = [&MAGIC[..], &length.to_le_bytes(), pack].concat();
    for entry in &roster.entries {
        let mut buffer = [0; ENTRY_BYTES];
        let encoded = entry.encode(&mut buffer).map_err(|_| bad(format!("entry {} does not fit", entry.at)))?;
        bytes.extend_from_slice(&(encoded.len() as u16).to_le_bytes());
        bytes.extend_from_slice(encoded);
    }
    fs::write(path, bytes)
}

/// Reads a roster file.
///
/// # Errors
/// Says what is wrong, and where.
pub(crate) fn read(path: &Path) -> io::Result<RosterFile> {
    let bytes = fs::read(path)?;
    let rest = bytes.strip_prefix(MAGIC).ok_or_else(|| bad("not a roster file: make one with --make".to_owned()))?;
    let cut = || bad("cut short: make the roster file again".to_owned());
    let (length, rest) = rest.split_first_chunk::<4>().ok_or_else(cut)?;
    let (pack, mut rest) = rest.split_at_checked(u32::from_le_bytes(*length) as usize).ok_or_else(cut)?;
    let pack = PackFile::from_bytes(pack.to_vec()).map_err(|fault| bad(fault.to_string()))?;
    let mut entries = Vec::new();
    while let Some((length, behind)) = rest.split_first_chunk::<2>() {
        let (entry, behind) = behind.split_at_checked(usize::from(u16::from_le_bytes(*length))).ok_or_else(cut)?;
        let n = entries.len() + 1;
        entries.push(Entry::decode(entry).map_err(|fault| bad(format!("entry {n}: {fault:?}")))?);
        rest = behind;
    }
    if rest.is_empty() { Ok(RosterFile { pack, entries }) } else { Err(cut()) }
}
