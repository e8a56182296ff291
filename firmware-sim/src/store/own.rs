//! Own entries and own blocks: two queues on flash memory. Each item is checked by its own sum, so that a power cut leaves
//! a whole item or none.

use core::cell::RefCell;
use core::ops::Range;

use embedded_storage_async::nor_flash::MultiwriteNorFlash;
use offshed_core::entry::Entry;
use offshed_core::ident::DeviceId;
use offshed_core::limits::ENTRY_BYTES;
use sequential_storage::cache::{Cache, CacheImpl};
use sequential_storage::queue::{QueueConfig, QueueStorage};

use super::Fault;
use super::nor::{Shared, wait};

/// The first byte of an item that holds what this version writes.
const PLAIN: u8 = 1;
/// Bytes of an item with an entry, in whole words.
const ENTRY_ITEM: usize = ENTRY_BYTES + 32;
/// Bytes of the longest item with a block: a page of 4 KiB less its own marks.
pub(super) const BLOCK_ITEM: usize = 4_096 - 96;

/// A queue of items.
struct Queue<'f, F> {
    flash: &'f RefCell<F>,
    place: Range<u32>,
}

impl<'f, F: MultiwriteNorFlash> Queue<'f, F> {
    fn open(&self) -> Result<QueueStorage<Shared<'f, F>, impl CacheImpl<()>>, Fault> {
        let config = QueueConfig::try_new(self.place.clone()).map_err(|_| Fault::TooSmall)?;
        Ok(QueueStorage::new(Shared(self.flash), config, Cache::new_uncached()))
    }

    fn push(&self, item: &[u8]) -> Result<(), Fault> {
        wait(self.open()?.push(item, false)).map_err(|fault| Fault::of(&fault))
    }

    /// Shows all items, oldest first, until `show` answers false.
    fn each<const N: usize>(&self, mut show: impl FnMut(&[u8]) -> bool) -> Result<(), Fault> {
        let mut queue = self.open()?;
        let mut items = wait(queue.iter()).map_err(|fault| Fault::of(&fault))?;
        loop {
            let mut buffer = [0; N];
            match wait(items.next(&mut buffer)).map_err(|fault| Fault::of(&fault))? {
                None => return Ok(()),
                Some(item) if show(&item) => {}
                Some(_) => return Ok(()),
            }
        }
    }

    /// Drops items from the oldest on, as long as `drop` says so; how many.
    fn drop_while<const N: usize>(&self, mut drop: impl FnMut(&[u8]) -> bool) -> Result<u32, Fault> {
        let mut queue = self.open()?;
        let mut items = wait(queue.iter()).map_err(|fault| Fault::of(&fault))?;
        let mut dropped = 0;
        loop {
            let mut buffer = [0; N];
            match wait(items.next(&mut buffer)).map_err(|fault| Fault::of(&fault))? {
                Some(item) if drop(&item) => {
                    wait(item.pop()).map_err(|fault| Fault::of(&fault))?;
                    dropped += 1;
                }
                _ => return Ok(dropped),
            }
        }
    }
}

/// What an item holds, where this version wrote it.
fn plain(item: &[u8]) -> Option<&[u8]> {
    item.split_first().filter(|(kind, _)| **kind == PLAIN).map(|(_, held)| held)
}

/// Own entries.
pub(super) struct Entries<'f, F> {
    queue: Queue<'f, F>,
    device: DeviceId,
}

impl<'f, F: MultiwriteNorFlash> Entries<'f, F> {
    pub(super) fn new(flash: &'f RefCell<F>, place: Range<u32>, device: DeviceId) -> Entries<'f, F> {
        Entries { queue: Queue { flash, place }, device }
    }

    /// Makes an entry durable.
    pub(super) fn push(&self, bytes: &[u8]) -> Result<(), Fault> {
        let mut item = [PLAIN; ENTRY_ITEM];
        let room = item.get_mut(1..=bytes.len()).ok_or(Fault::TooLong)?;
        room.copy_from_slice(bytes);
        self.queue.push(item.get(..=bytes.len()).ok_or(Fault::TooLong)?)
    }

    /// Shows entries, in their count, until `show` answers false.
    pub(super) fn each(&self, mut show: impl FnMut(Entry) -> bool) -> Result<(), Fault> {
        self.queue.each::<ENTRY_ITEM>(|item| match self.read(item) {
            Some(entry) => show(entry),
            // What is not ours to read is passed over; the gap in the count shows it.
            None => true,
        })
    }

    fn read(&self, item: &[u8]) -> Option<Entry> {
        Entry::decode(plain(item)?).ok().filter(|entry| entry.at.device == self.device)
    }

    /// Drops entries up to a count.
    pub(super) fn drop_to(&self, last: u32) -> Result<u32, Fault> {
        self.queue.drop_while::<ENTRY_ITEM>(|item| self.read(item).is_none_or(|entry| entry.at.seq <= last))
    }
}

/// Own blocks.
pub(super) struct BlockQueue<'f, F> {
    queue: Queue<'f, F>,
}

impl<'f, F: MultiwriteNorFlash> BlockQueue<'f, F> {
    pub(super) fn new(flash: &'f RefCell<F>, place: Range<u32>) -> BlockQueue<'f, F> {
        BlockQueue { queue: Queue { flash, place } }
    }

    /// Makes a block durable: `item` is the block with one byte of room before it.
    pub(super) fn push(&self, item: &mut [u8]) -> Result<(), Fault> {
        *item.first_mut().ok_or(Fault::TooLong)? = PLAIN;
        self.queue.push(item)
    }

    /// Shows blocks, in their order, until `show` answers false.
    pub(super) fn each(&self, mut show: impl FnMut(&[u8]) -> bool) -> Result<(), Fault> {
        self.queue.each::<BLOCK_ITEM>(|item| plain(item).is_none_or(&mut show))
    }

    /// Drops blocks as long as `drop` says so.
    pub(super) fn drop_while(&self, mut drop: impl FnMut(&[u8]) -> bool) -> Result<u32, Fault> {
        self.queue.drop_while::<BLOCK_ITEM>(|item| plain(item).is_none_or(&mut drop))
    }
}
