//! Record files read: what a book or journal holds, and what is wrong in it.

use std::collections::HashMap;
use std::path::Path;

use offshed_core::entry::{Entry, What};
use offshed_core::ident::{DeviceId, EngineId, EntryRef};
use offshed_core::record::chain::{self, Block, BodyFault, Finding, HEAD, HeadFault, InBook, Met};
use offshed_core::record::head::{BlockHead, Hash, Touch, Touched, touch};

use super::finding::{BlockFault, FolderFinding, Found};

/// What a journal holds.
#[derive(Clone, Debug, Default)]
pub(crate) struct Contents {
    /// Its entries, in the order of the file.
    pub(crate) entries: Vec<Entry>,
    /// What is wrong in it.
    pub(crate) findings: Vec<FolderFinding>,
}

/// A block of a book.
#[derive(Clone, Debug)]
pub(crate) struct Page {
    /// Where it starts.
    pub(crate) offset: usize,
    /// Its head.
    pub(crate) head: BlockHead,
    /// The head's hash.
    pub(crate) hash: Hash,
    /// Its entries; none where there is a fault.
    pub(crate) entries: Vec<Entry>,
    /// Why they were not read.
    pub(crate) fault: Option<BlockFault>,
}

/// Bytes of a book that are no block.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Hole {
    /// Where they start.
    pub(crate) offset: usize,
    /// How many.
    pub(crate) bytes: usize,
    /// How many pages stand before them.
    pub(crate) pages: usize,
}

/// What a book holds.
#[derive(Clone, Debug, Default)]
pub(crate) struct Book {
    /// Its blocks, in the order of the file.
    pub(crate) pages: Vec<Page>,
    /// Damaged places.
    pub(crate) holes: Vec<Hole>,
    /// What is wrong with its head.
    pub(crate) findings: Vec<FolderFinding>,
}

/// Looks at the head of a record file that is read as `device`'s; false where it is of a version that is not read.
fn read_head(file: &Path, magic: [u8; 4], bytes: &[u8], device: DeviceId, findings: &mut Vec<FolderFinding>) -> bool {
    let mut found = |offset, what| findings.push(FolderFinding::new(file, Some(offset), Some(device), what));
    match chain::read_head(magic, bytes) {
        Ok(named) if named != device => found(8, Found::HeadDevice { found: named }),
        Ok(_) => {}
        // A journal's version is that of its folder, so another one is damage.
        Err(HeadFault::Version(_)) if magic == chain::JOURNAL => found(4, Found::Head(HeadFault::Magic)),
        Err(fault) => {
            found(0, Found::Head(fault));
            return !matches!(fault, HeadFault::Version(_));
        }
    }
    true
}

/// Reads a journal as device `device`'s, whatever its head says; `file` is its name in findings.
pub(crate) fn read_journal(file: &Path, bytes: &[u8], device: DeviceId) -> Contents {
    let mut contents = Contents::default();
    read_head(file, chain::JOURNAL, bytes, device, &mut contents.findings);
    for met in chain::walk(bytes, device) {
        let (offset, what) = match met {
            Met::Entry { entry, .. } => {
                contents.entries.push(entry);
                continue;
            }
            Met::Finding { offset, finding } => (offset, told(finding)),
            Met::Unknown { offset, kind } => (offset, Found::UnknownKind { kind }),
        };
        contents.findings.push(FolderFinding::new(file, Some(offset as u64), Some(device), what));
    }
    contents
}

fn told(finding: Finding) -> Found {
    match finding {
        Finding::Damaged(damage) if damage.at_end => Found::TornTail { bytes: damage.len as u64 },
        Finding::Damaged(damage) => Found::Damaged { bytes: damage.len as u64 },
        other => Found::Chain(other),
    }
}

/// Reads a book as device `device`'s, whatever its head says; `file` is its name in findings.
pub(crate) fn read_book(file: &Path, bytes: &[u8], device: DeviceId) -> Book {
    let mut book = Book::default();
    if !read_head(file, chain::BOOK, bytes, device, &mut book.findings) {
        return book;
    }
    for met in chain::walk_book(bytes, device, HEAD) {
        match met {
            InBook::Block(block) => book.pages.push(page(&block, device)),
            InBook::Damaged(damage) => {
                book.holes.push(Hole { offset: damage.offset, bytes: damage.len, pages: book.pages.len() });
            }
        }
    }
    book
}

fn page(block: &Block<'_>, device: DeviceId) -> Page {
    let read = match block.entries() {
        _ if block.head.device != device => Err(BlockFault::Foreign(block.head.device)),
        Err(BodyFault::Cut) => Err(BlockFault::Cut),
        Err(BodyFault::Differs) => Err(BlockFault::Differs),
        Err(BodyFault::Newer(reader)) => Err(BlockFault::Newer(reader)),
        Ok(entries) => entries.collect::<Result<Vec<Entry>, _>>().map_err(BlockFault::Bits),
    };
    let (entries, fault) = match read {
        Ok(entries) => (entries, None),
        Err(fault) => (Vec::new(), Some(fault)),
    };
    Page { offset: block.offset, head: block.head.clone(), hash: block.hash, entries, fault }
}

/// The whole blocks of a book of `device`, as written.
pub(crate) fn blocks(bytes: &[u8], device: DeviceId) -> impl Iterator<Item = Block<'_>> {
    chain::walk_book(bytes, device, HEAD).filter_map(|met| match met {
        InBook::Block(block) if block.is_whole() => Some(block),
        _ => None,
    })
}

/// How many entries the whole blocks of a book hold.
pub(crate) fn count_entries(bytes: &[u8], device: DeviceId) -> u32 {
    blocks(bytes, device).map(|block| block.head.entries).sum()
}

/// The first place at or after `from` that is no whole block.
pub(crate) fn first_damage(bytes: &[u8], device: DeviceId, from: usize) -> Option<usize> {
    chain::walk_book(bytes, device, HEAD).find_map(|met| match met {
        InBook::Block(block) if block.is_whole() => None,
        InBook::Block(block) => (block.offset + block.bytes.len() > from).then_some(block.offset.max(from)),
        InBook::Damaged(damage) => (damage.offset + damage.len > from).then_some(damage.offset.max(from)),
    })
}

/// Which engine an entry that opened a sheet or a defect was about.
#[derive(Clone, Debug, Default)]
pub(crate) struct Openers(HashMap<EntryRef, EngineId>);

impl Openers {
    /// Of entries in the merged order.
    pub(crate) fn of(entries: &[Entry]) -> Openers {
        let mut openers = Openers::default();
        entries.iter().for_each(|entry| openers.take(entry));
        openers
    }

    /// What others know too.
    pub(crate) fn merge(&mut self, others: &Openers) {
        self.0.extend(others.0.iter().map(|(at, engine)| (*at, *engine)));
    }

    /// A further entry.
    pub(crate) fn take(&mut self, entry: &Entry) {
        let engine = match touch(&entry.what) {
            Touch::Engine(engine) => Some(engine),
            // An answer may open a defect, which is named by the answer's entry.
            Touch::Of(opened) if matches!(entry.what, What::Answered { .. }) => self.0.get(&opened).copied(),
            _ => None,
        };
        if let Some(engine) = engine {
            self.0.insert(entry.at, engine);
        }
    }

    /// What entries touch.
    pub(crate) fn touched<'e>(&self, entries: impl IntoIterator<Item = &'e Entry>) -> Touched {
        let mut touched = Touched::default();
        entries.into_iter().for_each(|entry| touched.entry(entry, |at| self.0.get(&at).copied()));
        touched
    }
}
