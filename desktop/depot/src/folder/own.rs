//! A device's own book: where the next block goes, and what it will be.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use offshed_core::entry::Entry;
use offshed_core::ident::DeviceId;
use offshed_core::record::bits::BitFault;
use offshed_core::record::block::{self, Place};
use offshed_core::record::chain::{self, Block, HEAD, HeadFault, InBook};
use offshed_core::record::frame::{self, Frame, kind};
use offshed_core::record::head::{self, Hash};
use offshed_core::record::seal::Signer;

use super::books::{Openers, blocks};
use super::fault::FolderFault;
use super::files;

/// An entry as it stands in a journal.
#[derive(Clone, Debug)]
pub(crate) struct Kept<'a> {
    /// The entry.
    pub(crate) entry: Entry,
    /// Its frame.
    pub(crate) bytes: &'a [u8],
}

/// The entries of `device` in a journal, each once and in the order of their count.
pub(crate) fn kept(journal: &[u8], device: DeviceId) -> Vec<Kept<'_>> {
    let frames = frame::walk(journal, HEAD).flatten();
    let mut kept: Vec<Kept<'_>> = frames.filter_map(|frame| keep(&frame, device)).collect();
    kept.sort_by_key(|kept| kept.entry.at.seq);
    kept.dedup_by_key(|kept| kept.entry.at.seq);
    kept
}

fn keep<'a>(frame: &Frame<'a>, device: DeviceId) -> Option<Kept<'a>> {
    let entry = (frame.kind == kind::ENTRY).then(|| Entry::decode(frame.body).ok())??;
    (entry.at.device == device).then_some(Kept { entry, bytes: frame.bytes })
}

/// Keeps a copy of a journal that holds more than its head and `kept`, before it is emptied.
pub(crate) fn keep_rest(root: &Path, journal: &[u8], kept: &[Kept<'_>]) -> Result<(), FolderFault> {
    let accounted = HEAD + kept.iter().map(|entry| entry.bytes.len()).sum::<usize>();
    if accounted != journal.len() {
        files::keep_damaged(root, files::JOURNAL, journal)?;
    }
    Ok(())
}

/// Where the next block of a book goes, and what it follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Tip {
    /// Offset of the next block.
    end: usize,
    /// The hash it follows.
    previous: Hash,
    /// Its number.
    number: u32,
    /// The highest count that the blocks before it hold, or claim.
    last_seq: u32,
}

impl Tip {
    fn after(self, block: &Block<'_>, end: usize) -> Tip {
        let read = block.entries().into_iter().flatten().flatten().map(|entry| entry.at.seq);
        let last_seq = read.fold(self.last_seq.max(block.head.last()), u32::max);
        Tip { end, previous: block.hash, number: block.head.number.saturating_add(1), last_seq }
    }
}

/// Bytes of the shortest block.
const SHORTEST: usize = 128;

/// How many entries bytes that are no block may have held; zeros, which an interrupted write leaves, none.
fn could_hold(hole: &[u8]) -> u32 {
    if hole.iter().all(|byte| *byte == 0) {
        return 0;
    }
    u32::try_from(1 + hole.len() / SHORTEST).unwrap_or(u32::MAX).saturating_mul(head::ENTRIES)
}

/// The tips behind the last whole block, and behind everything.
fn tips(bytes: &[u8], device: DeviceId) -> (Tip, Tip) {
    let mut tip = Tip { end: HEAD.min(bytes.len()), previous: head::root(device), number: 0, last_seq: 0 };
    let mut ended = tip;
    let mut lost = 0;
    for met in chain::walk_book(bytes, device, HEAD) {
        match met {
            InBook::Block(block) if block.head.device == device => {
                tip = tip.after(&block, block.offset + block.bytes.len());
                (ended, lost) = if block.is_whole() { (tip, 0) } else { (ended, 0) };
            }
            // Its head may have been changed.
            InBook::Block(_) => lost = head::ENTRIES.saturating_add(lost),
            InBook::Damaged(damage) => {
                let hole = bytes.get(damage.offset..damage.offset + damage.len).unwrap_or_default();
                lost = could_hold(hole).saturating_add(lost);
            }
        }
    }
    // Counts that stood in what is damaged at the end are never used again, however many they were.
    tip.last_seq = tip.last_seq.saturating_add(lost);
    (ended, Tip { end: bytes.len(), ..tip })
}

/// A device's own book, to be gone on with.
#[derive(Clone, Debug)]
pub(crate) struct OwnBook {
    path: PathBuf,
    device: DeviceId,
    tip: Tip,
    /// `None` where the key is lost: then nothing is sealed.
    signer: Option<Signer>,
}

impl OwnBook {
    /// Finds the end of the book; no book yet is an empty one.
    pub(crate) fn open(root: &Path, device: DeviceId, signer: Option<Signer>) -> Result<OwnBook, FolderFault> {
        OwnBook::look(root, device, signer).map(|(book, _)| book)
    }

    fn look(root: &Path, device: DeviceId, signer: Option<Signer>) -> Result<(OwnBook, Vec<u8>), FolderFault> {
        let path = root.join(files::BOOKS).join(files::book_name(device));
        let bytes = files::read(&path)?.unwrap_or_default();
        if let Err(HeadFault::Version(found)) = chain::read_head(chain::BOOK, &bytes) {
            return Err(FolderFault::Version { path, found });
        }
        let (_, tip) = tips(&bytes, device);
        Ok((OwnBook { path, device, tip, signer }, bytes))
    }

    /// Opens the book; blocks of `kept` whose writing was interrupted are finished, and their entries are counted.
    ///
    /// What stands behind the last whole block is then the start of those very blocks, or zeros.
    pub(crate) fn open_finishing(
        root: &Path,
        device: DeviceId,
        signer: Option<Signer>,
        kept: &[Kept<'_>],
        openers: &Openers,
    ) -> Result<(OwnBook, Option<u32>), FolderFault> {
        let (mut book, bytes) = OwnBook::look(root, device, signer)?;
        let (ended, _) = tips(&bytes, device);
        let start = if bytes.len() < HEAD { 0 } else { ended.end };
        let tail = bytes.get(start..).unwrap_or_default();
        if tail.is_empty() || book.signer.is_none() {
            return Ok((book, None));
        }
        let at_end = OwnBook { tip: Tip { end: start, ..ended }, ..book.clone() };
        let Some(next) = at_end.next(kept, &bytes, openers)? else {
            return Ok((book, None));
        };
        let begun = tail.len() <= next.bytes.len();
        if !begun || tail.iter().zip(&next.bytes).any(|(is, will)| is != will && *is != 0) {
            return Ok((book, None));
        }
        let entries = next.entries;
        book.tip = at_end.write(next)?;
        Ok((book, Some(entries)))
    }

    /// The highest count the book holds, or claims to.
    pub(crate) fn last_seq(&self) -> u32 {
        self.tip.last_seq
    }

    /// Appends those of `kept` that are not yet in the book as signed blocks, durably, and answers the last one's hash.
    ///
    /// On failure the book is as it was, or [`FolderFault::Stuck`] says that it could not be cut back.
    pub(crate) fn seal(&mut self, kept: &[Kept<'_>], openers: &Openers) -> Result<Option<Hash>, FolderFault> {
        let again = kept.iter().any(|kept| kept.entry.at.seq <= self.tip.last_seq);
        let there = if again { files::read(&self.path)? } else { None };
        let Some(next) = self.next(kept, &there.unwrap_or_default(), openers)? else {
            return Ok(None);
        };
        let there = std::fs::metadata(&self.path).map_or(0, |meta| meta.len());
        if there != self.tip.end as u64 {
            return Err(FolderFault::Changed { path: self.path.clone() });
        }
        if let Some(dir) = self.path.parent() {
            files::make_dir(dir)?;
        }
        self.tip = self.write(next)?;
        Ok(Some(self.tip.previous))
    }

    fn write(&self, next: Next) -> Result<Tip, FolderFault> {
        let end = self.tip.end as u64;
        if let Err(fault) = files::write_at(&self.path, end, &next.bytes) {
            let cut = std::fs::OpenOptions::new().write(true).open(&self.path).and_then(|file| file.set_len(end));
            let stuck = cut.is_err() && self.path.exists();
            return Err(if stuck { FolderFault::Stuck { path: self.path.clone() } } else { fault });
        }
        Ok(next.tip)
    }

    /// The blocks that come next, with the book's head before them where there is none yet.
    ///
    /// `there` is the book, looked at for entries that it claims to hold already: one that is damaged there goes in again.
    fn next(&self, kept: &[Kept<'_>], there: &[u8], openers: &Openers) -> Result<Option<Next>, FolderFault> {
        let before = there.get(..self.tip.end).unwrap_or(there);
        let held: HashMap<u32, Entry> = blocks(before, self.device)
            .flat_map(|block| block.entries().into_iter().flatten().flatten().collect::<Vec<Entry>>())
            .map(|entry| (entry.at.seq, entry))
            .collect();
        let fresh = kept.iter().map(|kept| &kept.entry).filter(|entry| held.get(&entry.at.seq) != Some(entry));
        let fresh: Vec<Entry> = fresh.cloned().collect();
        if fresh.is_empty() {
            return Ok(None);
        }
        let lost = || FolderFault::KeyLost { path: self.path.clone() };
        let signer = self.signer.as_ref().ok_or_else(lost)?;
        let mut bytes = Vec::new();
        if self.tip.end == 0 {
            bytes.extend(chain::head(chain::BOOK, self.device));
        }
        let mut next = Next { tip: self.tip, entries: fresh.len() as u32, bytes };
        let mut rest = fresh.as_slice();
        while !rest.is_empty() {
            rest = next.block(self.device, rest, openers, signer).map_err(|bits| FolderFault::Unsealable { bits })?;
        }
        next.tip.end = self.tip.end + next.bytes.len();
        Ok(Some(next))
    }
}

/// Blocks not yet written.
struct Next {
    /// Behind them.
    tip: Tip,
    entries: u32,
    bytes: Vec<u8>,
}

impl Next {
    /// Adds a block of as many of `entries` as fit one, and answers the rest.
    fn block<'e>(
        &mut self,
        device: DeviceId,
        entries: &'e [Entry],
        openers: &Openers,
        signer: &Signer,
    ) -> Result<&'e [Entry], BitFault> {
        let place = Place { device, number: self.tip.number, previous: self.tip.previous };
        let mut body = vec![0; head::BODY_BYTES];
        let mut count = entries.len().min(head::ENTRIES as usize);
        let sealed = loop {
            let run = entries.get(..count).unwrap_or(entries);
            match block::seal(place, run, openers.touched(run), signer, &mut body) {
                Err(BitFault::Full) if count > 1 => count /= 2,
                other => break other?,
            }
        };
        let start = self.bytes.len();
        self.bytes.extend_from_slice(&sealed.bytes);
        self.bytes.extend_from_slice(&sealed.signature);
        self.bytes.extend_from_slice(body.get(..sealed.head.body_len as usize).unwrap_or_default());
        if let Some(block) = self.bytes.get(start..).and_then(|bytes| Block::read(bytes, start)) {
            self.tip = self.tip.after(&block, self.tip.end);
        }
        Ok(entries.get(count..).unwrap_or_default())
    }
}
