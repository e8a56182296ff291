//! A shift file from a ledger: bytes, signed by this office's device.

use std::path::Path;

use offshed_core::entry::Entry;
use offshed_core::ident::{DeviceId, EntryRef};
use offshed_core::limits::ENTRY_BYTES;
use offshed_core::record::chain::{self, HEAD, InBook};
use offshed_core::record::frame::{self, kind};
use offshed_core::record::head;
use offshed_core::record::seal::Signer;
use offshed_core::record::shift::{BodyHasher, DoubtRow, PARTS, PinRow, SeenRow, ShiftHead};
use offshed_core::stamp::Stamp;

use super::fault::CardFault;
use super::select::{Selection, select};
use crate::folder::{Folder, FolderFault, FolderFinding, Scope};
use crate::ledger::Ledger;

/// A shift file, and what is in it.
#[derive(Clone, Debug)]
pub struct ShiftFile {
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// Its head.
    pub head: ShiftHead,
    /// Entries of all records that are not in it.
    pub left_out: usize,
}

/// Writes a shift file as of `stated`: `ledger` is what was recorded by then, `findings` what is wrong with it.
///
/// # Errors
/// When no pack is adopted or it is not here, the device's key is lost, or a file can't be read.
pub fn write(
    folder: &Folder,
    ledger: &Ledger,
    findings: &[FolderFinding],
    stated: Stamp,
) -> Result<ShiftFile, CardFault> {
    let signer = folder.signer()?.ok_or_else(|| FolderFault::KeyLost { path: folder.path().to_path_buf() })?;
    let pack = ledger.adopted().ok_or(CardFault::NoPack)?;
    let Selection { entries, steam, left_out } = select(ledger, stated);
    let (framed, count) = framed(&entries)?;
    let parts: [Vec<u8>; PARTS] = [
        pack.bytes().to_vec(),
        folder.pin_rows()?.iter().flat_map(PinRow::write).collect(),
        seen(folder, ledger)?.iter().flat_map(SeenRow::write).collect(),
        steam.iter().flat_map(|row| row.write()).collect(),
        doubts(findings).iter().flat_map(DoubtRow::write).collect(),
        framed,
    ];
    let known = Known { device: folder.device(), stated, pack: pack.hash(), entries: count, left_out };
    signed(&signer, known, &parts)
}

struct Known {
    device: DeviceId,
    stated: Stamp,
    pack: offshed_core::ident::PackHash,
    entries: u32,
    left_out: usize,
}

fn signed(signer: &Signer, known: Known, parts: &[Vec<u8>; PARTS]) -> Result<ShiftFile, CardFault> {
    let Known { device, stated, pack, entries, left_out } = known;
    let body = parts.concat();
    let mut hasher = BodyHasher::default();
    hasher.put(&body);
    let mut bytes = [0; PARTS];
    for (to, part) in bytes.iter_mut().zip(parts) {
        *to = u32::try_from(part.len()).map_err(|_| CardFault::TooLong)?;
    }
    let head = ShiftHead { device, stated, key: signer.key(), pack, bytes, entries, body: hasher.finish() };
    let bytes = [&head.write(signer)[..], &body].concat();
    Ok(ShiftFile { bytes, head, left_out })
}

fn framed(entries: &[Entry]) -> Result<(Vec<u8>, u32), CardFault> {
    let (mut out, mut count) = (Vec::new(), 0);
    for entry in entries {
        let (mut body, mut frame) = ([0; ENTRY_BYTES], [0; frame::OVERHEAD + ENTRY_BYTES]);
        let body = entry.encode(&mut body).map_err(|_| CardFault::TooLong)?;
        out.extend_from_slice(frame::write(kind::ENTRY, body, &mut frame).ok_or(CardFault::TooLong)?);
        count += 1;
    }
    Ok((out, count))
}

/// How far each device's book is here, without a gap: its last block whose entries all count, and that block's hash.
fn seen(folder: &Folder, ledger: &Ledger) -> Result<Vec<SeenRow>, CardFault> {
    let mut devices: Vec<DeviceId> = ledger.entries().map(|entry| entry.at.device).collect();
    devices.sort_unstable();
    devices.dedup();
    let mut rows = Vec::new();
    for device in devices {
        let path = folder.path().join("books").join(format!("{device}.book"));
        rows.extend(seen_of(&path, device, ledger)?);
    }
    Ok(rows)
}

fn seen_of(path: &Path, device: DeviceId, ledger: &Ledger) -> Result<Option<SeenRow>, CardFault> {
    let bytes = match std::fs::read(path) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        read => read.map_err(CardFault::io("read", path))?,
    };
    let (mut seen, mut number, mut previous) = (None, 0, head::root(device));
    for met in chain::walk_book(&bytes, device, HEAD) {
        let InBook::Block(block) = met else { break };
        let follows = block.head.device == device && block.head.number == number && block.head.previous == previous;
        let counts = |seq| ledger.entry(EntryRef { device, seq }).is_some();
        if !follows || !block.is_whole() || !(block.head.first..=block.head.last()).all(counts) {
            break;
        }
        seen = Some(SeenRow { device, last: block.head.last(), block: block.hash });
        (number, previous) = (number + 1, block.hash);
    }
    Ok(seen)
}

/// What is wrong with records, for engines that must not be called fit on what is left.
fn doubts(findings: &[FolderFinding]) -> Vec<DoubtRow> {
    let mut rows = Vec::new();
    for finding in findings.iter().filter(|finding| finding.leaves_doubt()) {
        let device = finding.device;
        match &finding.scope {
            Scope::Every => rows.push(DoubtRow { device, engine: None }),
            Scope::Engines(engines) => {
                rows.extend(engines.iter().map(|engine| DoubtRow { device, engine: Some(*engine) }));
            }
        }
    }
    rows.sort_by_key(|row| (row.device, row.engine));
    rows.dedup();
    rows
}
