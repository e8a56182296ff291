//! Record files read and written: what a book or journal holds, what is wrong in it, and the block that comes next in a
//! device's own book.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use offshed_core::entry::Entry;
use offshed_core::ident::DeviceId;
use offshed_core::record::chain::{self, BlockHash, BlockHead, Finding, HEAD, Hash, HeadFault, Met};
use offshed_core::record::frame::{self, Frame, OVERHEAD, kind};

use super::fault::FolderFault;
use super::files;
use super::finding::{FolderFinding, Found};

/// What one record file holds.
#[derive(Clone, Debug, Default)]
pub(crate) struct Contents {
    /// Its entries, in the order of the file.
    pub(crate) entries: Vec<Entry>,
    /// What is wrong in it.
    pub(crate) findings: Vec<FolderFinding>,
}

/// Reads a record file as device `device`'s, whatever its head says; `file` is its name in findings.
pub(crate) fn read(file: &Path, magic: [u8; 4], bytes: &[u8], device: DeviceId) -> Contents {
    let mut contents = Contents::default();
    let mut found = |offset: usize, what: Found| {
        contents.findings.push(FolderFinding {
            file: file.to_path_buf(),
            offset: Some(offset as u64),
            device: Some(device),
            what,
            saved: None,
        });
    };
    match chain::read_head(magic, bytes) {
        Ok(named) if named != device => found(8, Found::HeadDevice { found: named }),
        Ok(_) => {}
        // A journal's version is that of its folder, so another one is damage.
        Err(HeadFault::Version(_)) if magic == chain::JOURNAL => found(4, Found::Head(HeadFault::Magic)),
        Err(fault) => {
            found(0, Found::Head(fault));
            if matches!(fault, HeadFault::Version(_)) {
                return contents;
            }
        }
    }
    for met in chain::walk(bytes, device) {
        match met {
            Met::Entry { entry, .. } => contents.entries.push(entry),
            Met::Block { .. } => {}
            Met::Finding { offset, finding } => found(offset, told(magic, finding)),
            Met::Unknown { offset, kind } => found(offset, Found::UnknownKind { kind }),
        }
    }
    contents
}

/// A finding of the chain in the folder's words: a torn tail is one of a journal, since books are sealed as a whole.
fn told(magic: [u8; 4], finding: Finding) -> Found {
    match finding {
        Finding::Damaged(damage) if damage.at_end && magic == chain::JOURNAL => {
            Found::TornTail { bytes: damage.len as u64 }
        }
        Finding::Damaged(damage) => Found::Damaged { bytes: damage.len as u64 },
        other => Found::Chain(other),
    }
}

/// How many entries the sound frames of a record file hold.
pub(crate) fn count_entries(bytes: &[u8]) -> u32 {
    let frames = frame::walk(bytes, HEAD).flatten();
    u32::try_from(frames.filter(|frame| frame.kind == kind::ENTRY).count()).unwrap_or(u32::MAX)
}

/// The first place at or after `from` that is no frame.
pub(crate) fn first_damage(bytes: &[u8], from: usize) -> Option<usize> {
    let damage = frame::walk(bytes, HEAD).filter_map(Result::err).find(|damage| damage.offset + damage.len > from);
    damage.map(|damage| damage.offset.max(from))
}

/// An entry as it stands in a journal.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Kept<'a> {
    /// Its count.
    pub(crate) seq: u32,
    /// Its frame.
    pub(crate) bytes: &'a [u8],
}

/// The entries of `device` in a journal, each once and in the order of their count.
pub(crate) fn kept(journal: &[u8], device: DeviceId) -> Vec<Kept<'_>> {
    let frames = frame::walk(journal, HEAD).flatten();
    let mut kept: Vec<Kept<'_>> = frames.filter_map(|frame| keep(&frame, device)).collect();
    kept.sort_by_key(|entry| entry.seq);
    kept.dedup_by_key(|entry| entry.seq);
    kept
}

/// Keeps a copy of a journal that holds more than its head and `kept`, before it is emptied.
pub(crate) fn keep_rest(root: &Path, journal: &[u8], kept: &[Kept<'_>]) -> Result<(), FolderFault> {
    let accounted = HEAD + kept.iter().map(|entry| entry.bytes.len()).sum::<usize>();
    if accounted != journal.len() {
        files::keep_damaged(root, files::JOURNAL, journal)?;
    }
    Ok(())
}

fn keep<'a>(frame: &Frame<'a>, device: DeviceId) -> Option<Kept<'a>> {
    let entry = (frame.kind == kind::ENTRY).then(|| Entry::decode(frame.body).ok())??;
    (entry.at.device == device).then_some(Kept { seq: entry.at.seq, bytes: frame.bytes })
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
    fn after(self, head: &BlockHead, hash: Hash, end: usize) -> Tip {
        let claimed = head.first.saturating_add(head.entries).saturating_sub(1);
        Tip { end, previous: hash, number: head.number.saturating_add(1), last_seq: self.last_seq.max(claimed) }
    }
}

/// The tips behind the last ended block, and behind everything.
fn tips(bytes: &[u8], device: DeviceId) -> (Tip, Tip) {
    let mut tip = Tip { end: HEAD.min(bytes.len()), previous: chain::root(device), number: 0, last_seq: 0 };
    let mut ended = tip;
    let mut open: Option<(BlockHead, BlockHash)> = None;
    for frame in frame::walk(bytes, HEAD).flatten() {
        let end = frame.offset + frame.bytes.len();
        match (frame.kind, &mut open) {
            (kind::BLOCK, _) => {
                let mut hash = BlockHash::default();
                hash.frame(frame.bytes);
                open = BlockHead::read(frame.body).map(|head| (head, hash));
            }
            (kind::END, _) => {
                if let (Some((head, _)), Ok(hash)) = (open.take(), Hash::try_from(frame.body)) {
                    tip = tip.after(&head, hash, end);
                    ended = tip;
                }
            }
            (_, Some((_, hash))) => hash.frame(frame.bytes),
            (_, None) => {}
        }
        if let Some(entry) = keep(&frame, device) {
            tip.last_seq = tip.last_seq.max(entry.seq);
        }
    }
    if let Some((head, hash)) = open {
        tip = tip.after(&head, hash.finish(), bytes.len());
    }
    (ended, Tip { end: bytes.len(), ..tip })
}

/// A device's own book, to be gone on with.
#[derive(Clone, Debug)]
pub(crate) struct OwnBook {
    path: PathBuf,
    device: DeviceId,
    tip: Tip,
}

impl OwnBook {
    /// Finds the end of the book; no book yet is an empty one.
    pub(crate) fn open(root: &Path, device: DeviceId) -> Result<OwnBook, FolderFault> {
        OwnBook::look(root, device).map(|(book, _)| book)
    }

    fn look(root: &Path, device: DeviceId) -> Result<(OwnBook, Vec<u8>), FolderFault> {
        let path = root.join(files::BOOKS).join(files::book_name(device));
        let bytes = files::read(&path)?.unwrap_or_default();
        if let Err(HeadFault::Version(found)) = chain::read_head(chain::BOOK, &bytes) {
            return Err(FolderFault::Version { path, found });
        }
        let (_, tip) = tips(&bytes, device);
        Ok((OwnBook { path, device, tip }, bytes))
    }

    /// Opens the book; a block of `kept` whose writing was interrupted is finished, and its entries are counted.
    ///
    /// What stands behind the last ended block is then the start of that very block, or zeros.
    pub(crate) fn open_finishing(
        root: &Path,
        device: DeviceId,
        kept: &[Kept<'_>],
    ) -> Result<(OwnBook, Option<u32>), FolderFault> {
        let (mut book, bytes) = OwnBook::look(root, device)?;
        let (ended, _) = tips(&bytes, device);
        let start = if bytes.len() < HEAD { 0 } else { ended.end };
        let tail = bytes.get(start..).unwrap_or_default();
        if tail.is_empty() {
            return Ok((book, None));
        }
        let at_end = OwnBook { tip: Tip { end: start, ..ended }, ..book.clone() };
        let Some(next) = at_end.next(kept, &bytes) else {
            return Ok((book, None));
        };
        let begun = tail.len() <= next.bytes.len();
        if !begun || tail.iter().zip(&next.bytes).any(|(is, will)| is != will && *is != 0) {
            return Ok((book, None));
        }
        let entries = next.head.entries;
        book.tip = at_end.write(next)?;
        Ok((book, Some(entries)))
    }

    /// The highest count the book holds, or claims to.
    pub(crate) fn last_seq(&self) -> u32 {
        self.tip.last_seq
    }

    /// Appends those of `kept` that are not yet in the book as one block, durably, and answers its hash.
    ///
    /// On failure the book is as it was, or [`FolderFault::Stuck`] says that it could not be cut back.
    pub(crate) fn seal(&mut self, kept: &[Kept<'_>]) -> Result<Option<Hash>, FolderFault> {
        let again = kept.iter().any(|entry| entry.seq <= self.tip.last_seq);
        let there = if again { files::read(&self.path)? } else { None };
        let Some(next) = self.next(kept, &there.unwrap_or_default()) else {
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
        let last = Tip { last_seq: self.tip.last_seq.max(next.last_seq), ..self.tip };
        Ok(last.after(&next.head, next.hash, self.tip.end + next.bytes.len()))
    }

    /// The block that comes next, with the book's head before it where there is none yet.
    ///
    /// `there` is the book, looked at for entries that it claims to hold already: one that is damaged there goes in again.
    fn next(&self, kept: &[Kept<'_>], there: &[u8]) -> Option<Next> {
        let before = there.get(..self.tip.end).unwrap_or(there);
        let held: HashSet<&[u8]> = frame::walk(before, HEAD).flatten().map(|frame| frame.bytes).collect();
        let fresh = |entry: &&Kept<'_>| entry.seq > self.tip.last_seq || !held.contains(entry.bytes);
        let fresh: Vec<&Kept<'_>> = kept.iter().filter(fresh).collect();
        let head = BlockHead {
            number: self.tip.number,
            first: fresh.first()?.seq,
            entries: u32::try_from(fresh.len()).ok()?,
            previous: self.tip.previous,
        };
        let mut bytes = Vec::new();
        if self.tip.end == 0 {
            bytes.extend(chain::head(chain::BOOK, self.device));
        }
        let mut hash = BlockHash::default();
        let mut buffer = [0; chain::BLOCK_HEAD + OVERHEAD];
        let start = frame::write(kind::BLOCK, &head.write(), &mut buffer)?;
        for frame in std::iter::once(start).chain(fresh.iter().map(|entry| entry.bytes)) {
            hash.frame(frame);
            bytes.extend(frame);
        }
        let hash = hash.finish();
        bytes.extend(frame::write(kind::END, &hash, &mut buffer)?);
        let last_seq = fresh.last()?.seq;
        Some(Next { head, hash, last_seq, bytes })
    }
}

/// A block not yet written.
struct Next {
    head: BlockHead,
    hash: Hash,
    last_seq: u32,
    bytes: Vec<u8>,
}
