//! Sealing: own entries become a signed block of format 1 (`FORMAT.md`, section 5), read twice and kept nowhere: once for
//! what the block's head names, once for its body.

use core::cell::RefCell;

use heapless::Vec;
use offshed_core::entry::Entry;
use offshed_core::ident::{EngineId, EntryRef, SheetId};
use offshed_core::record::bits::BitFault;
use offshed_core::record::block::Place;
use offshed_core::record::columns::Encoder;
use offshed_core::record::head::{self, BLOCK_VERSION, BlockHead, ENTRIES, HEAD_BYTES, Hash, SHEETS, Touched};
use offshed_core::record::seal::{SIGNATURE, Signer};
use sha2::{Digest, Sha256};

use super::own::BLOCK_ITEM;

/// Where a body begins in an item: behind the longest head and the signature.
const BODY: usize = 1 + HEAD_BYTES + SIGNATURE;

/// An item with a block in it.
pub(super) struct Item {
    bytes: [u8; BLOCK_ITEM],
    start: usize,
    end: usize,
    /// The block's hash.
    pub(super) hash: Hash,
    /// The count of its last entry.
    pub(super) last: u32,
}

impl Item {
    /// The block, with one byte of room before it.
    pub(super) fn with_room(&mut self) -> &mut [u8] {
        self.bytes.get_mut(self.start..self.end).unwrap_or_default()
    }
}

/// Why nothing was sealed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum SealFault {
    /// There is nothing to seal.
    Nothing,
    /// One entry alone finds no room, or the entries do not hold together.
    Bits(BitFault),
    /// The entries could not be read.
    Unread,
}

/// What a block's head says of its entries.
#[derive(Default)]
struct Survey {
    first: u32,
    last: u32,
    count: u32,
    sheets: Vec<SheetId, SHEETS>,
    touched: Touched,
}

impl Survey {
    fn take(&mut self, entry: &Entry, engine_of: &mut impl FnMut(EntryRef) -> Option<EngineId>) {
        self.first = if self.count == 0 { entry.at.seq } else { self.first };
        (self.last, self.count) = (entry.at.seq, self.count + 1);
        if let Some(sheet) = entry.sheet().filter(|sheet| !self.sheets.contains(sheet)) {
            // Those beyond the first are written out in the body.
            let _ = self.sheets.push(sheet);
        }
        let engine_of = RefCell::new(engine_of);
        self.touched.entry(entry, |at| (engine_of.borrow_mut())(at));
    }
}

/// Walks entries in their count until the callback answers false; whether all could be read.
pub(super) trait Walk: Fn(&mut dyn FnMut(&Entry) -> bool) -> bool {}

impl<W: Fn(&mut dyn FnMut(&Entry) -> bool) -> bool> Walk for W {}

/// Seals as many of the entries that `walk` shows as one block holds in an item of `room` bytes; `engine_of` tells the engine of a sheet or a defect
/// by the entry that opened it.
pub(super) fn seal(
    place: Place,
    signer: &Signer,
    room: usize,
    walk: impl Walk,
    mut engine_of: impl FnMut(EntryRef) -> Option<EngineId>,
) -> Result<Item, SealFault> {
    let mut most = ENTRIES;
    loop {
        let mut survey = Survey::default();
        let read = walk(&mut |entry| {
            let more = survey.count < most;
            if more {
                survey.take(entry, &mut engine_of);
            }
            more
        });
        match (read, survey.count) {
            (false, _) => return Err(SealFault::Unread),
            (true, 0) => return Err(SealFault::Nothing),
            _ => {}
        }
        let mut item = Item { bytes: [0; BLOCK_ITEM], start: 0, end: 0, hash: [0; 32], last: survey.last };
        match body(place, &survey, &walk, item.bytes.get_mut(BODY..room.min(BLOCK_ITEM)).unwrap_or_default()) {
            Err(SealFault::Bits(BitFault::Full)) if survey.count > 1 => most = survey.count / 2,
            Err(fault) => return Err(fault),
            Ok(length) => {
                finish(place, survey, signer, &mut item, length).ok_or(SealFault::Bits(BitFault::Full))?;
                return Ok(item);
            }
        }
    }
}

fn body(place: Place, survey: &Survey, walk: &impl Walk, out: &mut [u8]) -> Result<usize, SealFault> {
    let mut encoder = Encoder::new(place.device, survey.first, &survey.sheets, out);
    let (mut put, mut left) = (Ok(()), survey.count);
    let read = walk(&mut |entry| {
        if left > 0 && put.is_ok() {
            (put, left) = (encoder.put(entry), left - 1);
        }
        left > 0 && put.is_ok()
    });
    put.map_err(SealFault::Bits)?;
    if !read || left > 0 {
        return Err(SealFault::Unread);
    }
    encoder.finish().map_err(SealFault::Bits)
}

fn finish(place: Place, survey: Survey, signer: &Signer, item: &mut Item, length: usize) -> Option<()> {
    let Place { device, number, previous } = place;
    let body = item.bytes.get(BODY..BODY.checked_add(length)?)?;
    let head = BlockHead {
        version: BLOCK_VERSION,
        reader: BLOCK_VERSION,
        device,
        number,
        first: survey.first,
        entries: survey.count,
        touched: survey.touched,
        sheets: survey.sheets,
        previous,
        key: (number == 0).then(|| signer.key()),
        body_len: u32::try_from(length).ok()?,
        body_hash: head::body_hash(body),
    };
    let head = head.write()?;
    let signature = signer.sign(&head);
    let start = BODY - SIGNATURE - head.len();
    item.bytes.get_mut(start..BODY - SIGNATURE)?.copy_from_slice(&head);
    item.bytes.get_mut(BODY - SIGNATURE..BODY)?.copy_from_slice(&signature);
    (item.start, item.end) = (start - 1, BODY + length);
    item.hash = Sha256::digest(&head).into();
    Some(())
}
