//! A shift file on flash memory: read at any place, and written from a card piece by piece.

use core::cell::RefCell;
use core::ops::Range;

use embedded_storage_async::nor_flash::{NorFlash, ReadNorFlash};
use offshed_core::record::shift::ShiftHead;

use super::nor::{Shared, wait};
use crate::card::shift::hashed;
use crate::card::{Bytes, Card, CardFault};

/// Bytes that are written at a time; a whole number of words of every memory.
const PIECE: usize = 256;

/// A shift file, with its head.
pub struct Slot<'f, F> {
    flash: &'f RefCell<F>,
    place: Range<u32>,
    head: ShiftHead,
}

impl<F> Clone for Slot<'_, F> {
    fn clone(&self) -> Self {
        Slot { flash: self.flash, place: self.place.clone(), head: self.head }
    }
}

impl<'f, F: NorFlash> Slot<'f, F> {
    pub(super) fn new(flash: &'f RefCell<F>, place: Range<u32>, head: ShiftHead) -> Slot<'f, F> {
        Slot { flash, place, head }
    }

    /// Its head.
    pub fn head(&self) -> &ShiftHead {
        &self.head
    }

    /// Whether what stands there is what its head signed.
    pub(super) fn is_whole(&self) -> bool {
        let fits = self.head.len() <= self.place.end - self.place.start;
        fits && hashed(&self.head, |at, out| self.read(at, out)) == Some(self.head.body)
    }

    /// Copies the file at `path` of a card here.
    pub(super) fn copy<C: Card>(&self, card: &mut C, path: &str) -> Result<(), CopyFault> {
        let mut flash = Shared(self.flash);
        let page = F::ERASE_SIZE as u32;
        let pages = self.head.len().div_ceil(page) * page;
        wait(flash.erase(self.place.start, self.place.start + pages)).map_err(|_| CopyFault::Flash)?;
        let mut at = 0;
        while at < self.head.len() {
            let left = usize::try_from(self.head.len() - at).unwrap_or(PIECE).min(PIECE);
            let mut buffer = [0xff; PIECE];
            card.read(path, at, buffer.get_mut(..left).unwrap_or_default()).map_err(CopyFault::Card)?;
            let words = left.div_ceil(F::WRITE_SIZE) * F::WRITE_SIZE;
            let bytes = buffer.get(..words).unwrap_or(&buffer);
            wait(flash.write(self.place.start + at, bytes)).map_err(|_| CopyFault::Flash)?;
            at += left as u32;
        }
        Ok(())
    }
}

/// Why a file was not copied.
pub(super) enum CopyFault {
    /// The card.
    Card(CardFault),
    /// The memory.
    Flash,
}

impl<F: NorFlash> Bytes for Slot<'_, F> {
    fn read(&self, at: u32, out: &mut [u8]) -> bool {
        let inside = u32::try_from(out.len()).ok().and_then(|bytes| at.checked_add(bytes));
        let fits = inside.is_some_and(|end| end <= self.place.end - self.place.start);
        // A memory that reads whole words only is read by them.
        fits && read_any(&mut Shared(self.flash), self.place.start + at, out)
    }
}

/// Reads at any place, in whole words of the memory.
fn read_any<F: ReadNorFlash>(flash: &mut F, mut at: u32, out: &mut [u8]) -> bool {
    const WORD: usize = 32;
    if F::READ_SIZE == 1 {
        return wait(flash.read(at, out)).is_ok();
    }
    let size = F::READ_SIZE as u32;
    let mut out = out;
    while !out.is_empty() {
        let mut word = [0; WORD];
        let (start, skip) = (at - at % size, (at % size) as usize);
        let Some(read) = word.get_mut(..F::READ_SIZE) else { return false };
        if wait(flash.read(start, read)).is_err() {
            return false;
        }
        let count = (F::READ_SIZE - skip).min(out.len());
        let (now, later) = out.split_at_mut(count);
        now.copy_from_slice(word.get(skip..skip + count).unwrap_or_default());
        at += count as u32;
        out = later;
    }
    true
}
