//! A card between this office and small devices: books come in by the rules of a sync, what the card lacks goes out, and
//! a shift file is written. It may be repeated and interrupted.
//!
//! ```text
//! select, facts   which entries a small device needs
//! shift           a shift file
//! files           the files of a card
//! ```
//!
//! The names on a card and the bytes of a shift file are in `core/FORMAT.md`, section 9.

mod facts;
mod fault;
mod files;
mod select;
mod shift;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use offshed_core::ident::DeviceId;
use offshed_core::record::card::COPIES;
use offshed_core::record::shift::ShiftHead;
use offshed_core::stamp::Stamp;

pub use fault::CardFault;
pub use select::{Selection, select};
pub use shift::{ShiftFile, write};

use crate::packfile::PackFile;
use crate::shed::Shed;
use crate::sync::SyncReport;
use files::{CardDir, OnCard, sha256};

/// What was done with a card.
#[derive(Clone, Debug)]
pub struct CardReport {
    /// What came in and went out; the second side is the card.
    pub sync: SyncReport,
    /// Files in the place of books that are none.
    pub strays: Vec<PathBuf>,
    /// The shift file that is on it now.
    pub shift: ShiftHead,
    /// Bytes of the shift file.
    pub bytes: usize,
    /// Entries that a small device does not need.
    pub left_out: usize,
}

/// Takes in what a card holds, puts on it what it lacks, and writes a shift file as of `stated`; `None`: of now, which is
/// `now`.
///
/// # Errors
/// When the card or the data folder can't be read or written, or no pack is adopted. What was exchanged before stays, and
/// it can be done again.
pub fn exchange(shed: &mut Shed, card: &Path, now: Stamp, stated: Option<Stamp>) -> Result<CardReport, CardFault> {
    let card = CardDir::open(card)?;
    let (books, strays) = card.books()?;
    let desk = tempfile::tempdir().map_err(CardFault::io("make a temporary directory near", Path::new(".")))?;
    let laid = lay_out(desk.path(), &card, &books)?;
    let sync = shed.sync_with_dir(desk.path())?;
    put_back(desk.path(), &card, &books, &laid)?;
    let then = stated.map(|stated| shed.ledger().as_of(stated));
    let ledger = then.as_ref().unwrap_or(shed.ledger());
    let file = write(shed.folder(), ledger, shed.findings(), stated.unwrap_or(now))?;
    if card.shift()?.as_deref() != Some(&file.bytes) {
        card.put_shift(&file.bytes)?;
    }
    let ShiftFile { bytes, head, left_out } = file;
    Ok(CardReport { sync, strays, shift: head, bytes: bytes.len(), left_out })
}

/// The names that the card's books have on the desk, in their order.
fn lay_out(desk: &Path, card: &CardDir, books: &[OnCard]) -> Result<Vec<String>, CardFault> {
    let (to, packs) = (desk.join("books"), desk.join("packs"));
    for directory in [&to, &packs] {
        fs::create_dir_all(directory).map_err(CardFault::io("make the directory", directory))?;
    }
    let mut laid = Vec::new();
    for book in books {
        let first = format!("{}.book", book.device);
        let name = if laid.contains(&first) { fork(book.device, &book.bytes) } else { first };
        put(&to.join(&name), &book.bytes)?;
        laid.push(name);
    }
    // A pack that is torn or of a later version stays where it is.
    for pack in card.packs()?.into_iter().filter(|pack| PackFile::from_bytes(pack.clone()).is_ok()) {
        put(&packs.join(format!("{}.pack", hex(&sha256(&pack)))), &pack)?;
    }
    Ok(laid)
}

fn put(path: &Path, bytes: &[u8]) -> Result<(), CardFault> {
    fs::write(path, bytes).map_err(CardFault::io("write", path))
}

fn fork(device: DeviceId, bytes: &[u8]) -> String {
    format!("{device}.fork-{}.book", hex(&sha256(bytes)))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Puts on the card what is on the desk and not there.
fn put_back(desk: &Path, card: &CardDir, books: &[OnCard], laid: &[String]) -> Result<(), CardFault> {
    let were: BTreeMap<&str, &OnCard> = laid.iter().map(String::as_str).zip(books).collect();
    let mut taken: Vec<(DeviceId, u8)> = books.iter().map(|book| (book.device, book.copy)).collect();
    for name in listed(&desk.join("books"))? {
        let bytes = read(&desk.join("books").join(&name))?;
        let Some(device) = device_of(&name) else { continue };
        let place = match were.get(name.as_str()) {
            Some(was) if was.bytes == bytes => continue,
            Some(was) => (device, was.copy),
            None => free(device, &taken).ok_or_else(|| CardFault::TooManyCopies { path: desk.join("books") })?,
        };
        card.put_book(place.0, place.1, &bytes)?;
        taken.push(place);
    }
    let there: Vec<[u8; 32]> = card.packs()?.iter().map(|pack| sha256(pack)).collect();
    for name in listed(&desk.join("packs"))? {
        let bytes = read(&desk.join("packs").join(name))?;
        let hash = sha256(&bytes);
        if !there.contains(&hash) {
            card.put_pack(offshed_core::ident::PackHash(hash), &bytes)?;
        }
    }
    Ok(())
}

fn free(device: DeviceId, taken: &[(DeviceId, u8)]) -> Option<(DeviceId, u8)> {
    (0..=COPIES).map(|copy| (device, copy)).find(|place| !taken.contains(place))
}

/// The device of a book's name on the desk: its first sixteen digits.
fn device_of(name: &str) -> Option<DeviceId> {
    let digits = name.get(..16).filter(|_| name.ends_with(".book"))?;
    u64::from_str_radix(digits, 16).ok().map(|id| DeviceId(id.to_be_bytes()))
}

fn listed(directory: &Path) -> Result<Vec<String>, CardFault> {
    let listing = fs::read_dir(directory).map_err(CardFault::io("list", directory))?;
    let mut names = Vec::new();
    for item in listing {
        names.push(item.map_err(CardFault::io("list", directory))?.file_name().to_string_lossy().into_owned());
    }
    names.sort();
    Ok(names)
}

fn read(path: &Path) -> Result<Vec<u8>, CardFault> {
    fs::read(path).map_err(CardFault::io("read", path))
}
