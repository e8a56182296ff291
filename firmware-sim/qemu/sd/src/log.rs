//! LOG.OSL: what this device wrote, in a file of fixed length that is written sector by sector, past the file system.
//!
//! A sector is written once and read back. What a power cut tears is the sector being written, whose entry was never
//! taken as written; its check shows that, and the next entry takes its place. An entry too long for one sector stands in
//! two, the second of which is written first. A sector that is damaged behind others is passed over and counted.

use core::cell::Cell;

use offshed_core::entry::Entry;
use offshed_core::limits::ENTRY_BYTES;
use offshed_core::record::frame::{self, OVERHEAD};

use crate::disk::{self, Block, Extents, SECTOR, Sectors};
use crate::fault::CardFault;

/// The file's name.
pub const NAME: &str = "LOG.OSL";

/// What a page holds: the kind of its frame.
pub mod kind {
    /// An entry, or its first part.
    pub const ENTRY: u8 = 3;
    /// The rest of an entry.
    pub const REST: u8 = 4;
    /// Wrong tries of a person: person (2), how many in a row (4), when the last (8).
    pub const TRIES: u8 = 5;
}

/// Bytes before what a page holds: the log's id (8) and the page's number (4).
const PREFIX: usize = 12;
/// Bytes that one page holds.
pub const ROOM: usize = SECTOR - OVERHEAD - PREFIX;

/// A page that is sound and of this log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Page<'b> {
    kind: u8,
    body: &'b [u8],
}

/// The page in a sector, if it is page `n` of the log `id`.
fn page(block: &Block, id: [u8; 8], n: u32) -> Option<Page<'_>> {
    let frame = frame::walk(&block.contents, 0).next()?.ok().filter(|frame| frame.offset == 0)?;
    let (own, rest) = frame.body.split_first_chunk::<8>()?;
    let (number, body) = rest.split_first_chunk::<4>()?;
    (*own == id && u32::from_le_bytes(*number) == n).then_some(Page { kind: frame.kind, body })
}

/// Page `n` of the log `id`; none when `body` is longer than [`ROOM`].
fn make(id: [u8; 8], n: u32, kind: u8, body: &[u8]) -> Option<Block> {
    let mut content = [0; ROOM + PREFIX];
    let parts = [&id[..], &n.to_le_bytes(), body];
    let content = content.get_mut(..PREFIX + body.len())?;
    content.iter_mut().zip(parts.into_iter().flatten()).for_each(|(to, byte)| *to = *byte);
    let mut block = Block::new();
    frame::write(kind, content, &mut block.contents)?;
    Some(block)
}

/// What a walk through the log meets.
#[derive(Clone, Debug, PartialEq, Eq)]
#[expect(clippy::large_enum_variant, reason = "there is no heap to box an entry into")]
pub enum Logged {
    /// An entry.
    Entry(Entry),
    /// Another page: its kind and its first bytes.
    Other(u8, [u8; 14]),
}

/// The log on a card.
#[derive(Debug)]
pub struct Log<D> {
    device: D,
    extents: Extents,
    id: [u8; 8],
    /// The page that is written next.
    next: Cell<u32>,
    damaged: u32,
}

impl<D: Sectors> Log<D> {
    /// Finds it, and its end.
    ///
    /// # Errors
    /// When it is not there, or the card does not answer.
    pub fn open(device: D, id: [u8; 8]) -> Result<Log<D>, CardFault> {
        let extents = disk::find(device, NAME)?;
        let (mut next, mut damaged, mut gap) = (0, 0, 0);
        let mut block = Block::new();
        for n in 0..extents.sectors() {
            let sector = extents.sector(n).ok_or(CardFault::Damaged(NAME, n))?;
            disk::read(device, sector, &mut block)?;
            match page(&block, id, n) {
                // The rest of an entry whose first part was cut off before it was written.
                Some(Page { kind: kind::REST, .. }) if gap > 0 => gap += 1,
                Some(_) => {
                    damaged += gap;
                    (next, gap) = (n + 1, 0);
                }
                None if gap > 0 && block.contents.iter().all(|byte| *byte == 0) => break,
                None => gap += 1,
            }
        }
        Ok(Log { device, extents, id, next: Cell::new(next), damaged })
    }

    /// Pages between sound ones that are damaged.
    pub fn damaged(&self) -> u32 {
        self.damaged
    }

    /// Pages written.
    pub fn pages(&self) -> u32 {
        self.next.get()
    }

    /// Pages that are still free.
    pub fn free(&self) -> u32 {
        self.extents.sectors().saturating_sub(self.next.get())
    }

    fn put(&self, n: u32, kind: u8, body: &[u8]) -> Result<(), CardFault> {
        let sector = self.extents.sector(n).filter(|_| n < self.extents.sectors()).ok_or(CardFault::Full)?;
        let block = make(self.id, n, kind, body).ok_or(CardFault::Full)?;
        disk::write(self.device, sector, &block)
    }

    /// Writes one page that is no entry.
    ///
    /// # Errors
    /// When the log is full or the card does not answer; nothing is then taken as written.
    pub fn note(&self, kind: u8, body: &[u8]) -> Result<(), CardFault> {
        let n = self.next.get();
        self.put(n, kind, body)?;
        self.next.set(n + 1);
        Ok(())
    }

    /// Writes an entry, given in its postcard form.
    ///
    /// # Errors
    /// As [`Log::note`].
    pub fn append(&self, bytes: &[u8]) -> Result<(), CardFault> {
        let n = self.next.get();
        let (first, rest) = bytes.split_at_checked(ROOM).unwrap_or((bytes, &[]));
        let pages = if rest.is_empty() { 1 } else { 2 };
        if self.free() < pages {
            return Err(CardFault::Full);
        }
        if !rest.is_empty() {
            self.put(n + 1, kind::REST, rest)?;
        }
        self.put(n, kind::ENTRY, first)?;
        self.next.set(n + pages);
        Ok(())
    }

    /// Walks it from the start.
    pub fn walk(&self) -> Walk<'_, D> {
        Walk { log: self, at: 0, block: Block::new() }
    }
}

/// See [`Log::walk`].
pub struct Walk<'l, D> {
    log: &'l Log<D>,
    at: u32,
    block: Block,
}

impl<D: Sectors> Walk<'_, D> {
    /// The next thing; none behind the last. Damaged pages are passed over.
    ///
    /// # Errors
    /// When the card does not answer.
    pub fn read_next(&mut self) -> Result<Option<Logged>, CardFault> {
        while self.at < self.log.pages() {
            let n = self.at;
            self.at += 1;
            self.load(n)?;
            match page(&self.block, self.log.id, n) {
                Some(Page { kind: kind::ENTRY, body }) => {
                    let mut bytes = [0; ENTRY_BYTES];
                    let taken = copy(&mut bytes, 0, body);
                    if let Some(entry) = self.entry(bytes, taken)? {
                        return Ok(Some(Logged::Entry(entry)));
                    }
                }
                Some(Page { kind: kind::REST, .. }) | None => {}
                Some(Page { kind, body }) => {
                    let mut first = [0; 14];
                    copy(&mut first, 0, body);
                    return Ok(Some(Logged::Other(kind, first)));
                }
            }
        }
        Ok(None)
    }

    fn load(&mut self, n: u32) -> Result<(), CardFault> {
        let sector = self.log.extents.sector(n).ok_or(CardFault::Damaged(NAME, n))?;
        disk::read(self.log.device, sector, &mut self.block)
    }

    /// The entry whose first `taken` bytes are here, with what the next page holds where it does not end in them.
    fn entry(&mut self, mut bytes: [u8; ENTRY_BYTES], taken: usize) -> Result<Option<Entry>, CardFault> {
        if taken < ROOM {
            return Ok(Entry::decode(bytes.get(..taken).unwrap_or_default()).ok());
        }
        let mut length = taken;
        if self.at < self.log.pages() {
            self.load(self.at)?;
            if let Some(Page { kind: kind::REST, body }) = page(&self.block, self.log.id, self.at) {
                length += copy(&mut bytes, taken, body);
            }
        }
        Ok(Entry::decode(bytes.get(..length).unwrap_or_default()).ok())
    }

    /// The next entry; none behind the last.
    ///
    /// # Errors
    /// As [`Walk::read_next`].
    pub fn entry_next(&mut self) -> Result<Option<Entry>, CardFault> {
        loop {
            match self.read_next()? {
                Some(Logged::Entry(entry)) => return Ok(Some(entry)),
                Some(_) => {}
                None => return Ok(None),
            }
        }
    }
}

/// Copies as much as fits behind byte `at`, and answers how much that was.
fn copy(to: &mut [u8], at: usize, from: &[u8]) -> usize {
    to.get_mut(at..).unwrap_or_default().iter_mut().zip(from).map(|(to, byte)| *to = *byte).count()
}
