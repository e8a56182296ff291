//! A book: a head that names its device, then blocks. Each block names the hash of the one before it and ends with its
//! own, SHA-256 over the bytes as written, so that a change anywhere shows in everything after it.
//!
//! In format 0 blocks carry no device signature: the chain shows damage and reordering, not forgery.

use sha2::{Digest, Sha256};

use super::frame::{self, Damage, Frame, kind};
use crate::entry::{Entry, Unreadable};
use crate::ident::DeviceId;

/// First four bytes of a book file.
pub const BOOK: [u8; 4] = *b"OSBK";
/// First four bytes of a journal file: entries not yet in a block.
pub const JOURNAL: [u8; 4] = *b"OSJL";
/// The version written. 0 is unstable.
pub const VERSION: u16 = 0;
/// Bytes of a file's head: magic (4), version (2), nothing (2), device (8).
pub const HEAD: usize = 16;
/// Bytes of a block's head body: number (4), first entry (4), entries (4), hash of the block before (32).
pub const BLOCK_HEAD: usize = 44;

/// A block's hash.
pub type Hash = [u8; 32];

/// The hash that stands before the first block of a device: SHA-256 of its id.
pub fn root(device: DeviceId) -> Hash {
    Sha256::digest(device.0).into()
}

/// A file's head.
pub fn head(magic: [u8; 4], device: DeviceId) -> [u8; HEAD] {
    let mut out = [0; HEAD];
    let (start, id) = out.split_at_mut(8);
    for (to, from) in start.iter_mut().zip(magic.into_iter().chain(VERSION.to_le_bytes())) {
        *to = from;
    }
    id.copy_from_slice(&device.0);
    out
}

/// Why a file is not read at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HeadFault {
    /// Shorter than a head.
    Short,
    /// Another kind of file.
    Magic,
    /// Another version.
    Version(u16),
}

/// The device a file's head names.
///
/// # Errors
/// When the head is short, of another kind or of another version.
pub fn read_head(magic: [u8; 4], bytes: &[u8]) -> Result<DeviceId, HeadFault> {
    let head = bytes.first_chunk::<HEAD>().ok_or(HeadFault::Short)?;
    let [a, b, c, d, low, high, _, _, device @ ..] = *head;
    if [a, b, c, d] != magic {
        return Err(HeadFault::Magic);
    }
    match u16::from_le_bytes([low, high]) {
        VERSION => Ok(DeviceId(device)),
        other => Err(HeadFault::Version(other)),
    }
}

/// A block's head.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BlockHead {
    /// Its number in the book, from 0.
    pub number: u32,
    /// The count of its first entry.
    pub first: u32,
    /// How many entries it has.
    pub entries: u32,
    /// The hash of the block before.
    pub previous: Hash,
}

impl BlockHead {
    /// The body of its frame.
    pub fn write(&self) -> [u8; BLOCK_HEAD] {
        let mut out = [0; BLOCK_HEAD];
        let numbers = [self.number, self.first, self.entries].map(u32::to_le_bytes);
        let bytes = numbers.iter().flatten().chain(&self.previous);
        out.iter_mut().zip(bytes).for_each(|(to, from)| *to = *from);
        out
    }

    /// Reads it back.
    pub fn read(body: &[u8]) -> Option<BlockHead> {
        let body = body.first_chunk::<BLOCK_HEAD>().filter(|_| body.len() == BLOCK_HEAD)?;
        let word = |at: usize| Some(u32::from_le_bytes(body.get(at..at + 4)?.try_into().ok()?));
        let previous = body.get(12..)?.try_into().ok()?;
        Some(BlockHead { number: word(0)?, first: word(4)?, entries: word(8)?, previous })
    }
}

/// Hashes a block as its frames go by.
#[derive(Clone, Debug, Default)]
pub struct BlockHash(Sha256);

impl BlockHash {
    /// Takes in one frame's bytes.
    pub fn frame(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// The hash so far.
    pub fn finish(self) -> Hash {
        self.0.finalize().into()
    }
}

/// What a walk through a book or journal meets.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Met {
    /// An entry, where it starts, and the number of its block (`None` in a journal).
    Entry {
        /// The entry.
        entry: Entry,
        /// Offset of its frame.
        offset: usize,
    },
    /// A block ended as its head said.
    Block {
        /// Its head.
        head: BlockHead,
        /// Its hash.
        hash: Hash,
    },
    /// Something is wrong here.
    Finding {
        /// Offset.
        offset: usize,
        /// What.
        finding: Finding,
    },
    /// A frame of a kind this version does not know; it is carried.
    Unknown {
        /// Offset.
        offset: usize,
        /// Its kind.
        kind: u8,
    },
}

/// Something wrong in a book or journal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Finding {
    /// Bytes that are no frame.
    Damaged(Damage),
    /// A sound frame that is no entry.
    Entry(Unreadable),
    /// An entry of another device, or out of its count.
    Misplaced {
        /// The count it carries.
        seq: u32,
    },
    /// A block's head that can't be read.
    BlockHead,
    /// The block does not follow the one before it.
    Broken {
        /// Its number.
        number: u32,
    },
    /// The block's bytes are not what its end says.
    HashDiffers {
        /// Its number.
        number: u32,
    },
    /// A block has no end, or an end has no block.
    Unended,
}

/// Walks the frames of a book or journal whose head was read.
pub fn walk(bytes: &[u8], device: DeviceId) -> Walk<'_> {
    Walk {
        frames: frame::walk(bytes, HEAD),
        device,
        open: None,
        previous: root(device),
        next_number: 0,
        last_seq: None,
        pending: None,
        len: bytes.len(),
    }
}

/// See [`walk`].
#[derive(Clone, Debug)]
pub struct Walk<'a> {
    frames: frame::Walk<'a>,
    device: DeviceId,
    open: Option<(BlockHead, BlockHash)>,
    previous: Hash,
    next_number: u32,
    last_seq: Option<u32>,
    pending: Option<Met>,
    len: usize,
}

impl Walk<'_> {
    fn meet(&mut self, frame: &Frame<'_>) -> Met {
        let offset = frame.offset;
        let finding = |finding| Met::Finding { offset, finding };
        match frame.kind {
            kind::ENTRY => {
                self.hash(frame);
                match Entry::decode(frame.body) {
                    Ok(entry) => self.entry(entry, offset),
                    Err(unreadable) => finding(Finding::Entry(unreadable)),
                }
            }
            kind::BLOCK => {
                let unended = self.open.take().is_some();
                let Some(head) = BlockHead::read(frame.body) else {
                    return finding(Finding::BlockHead);
                };
                let mut hash = BlockHash::default();
                hash.frame(frame.bytes);
                let follows = head.previous == self.previous && head.number == self.next_number;
                self.open = Some((head, hash));
                match (unended, follows) {
                    (true, _) => finding(Finding::Unended),
                    (false, false) => finding(Finding::Broken { number: head.number }),
                    // The block is answered when it ends.
                    (false, true) => self.advance().unwrap_or(finding(Finding::Unended)),
                }
            }
            kind::END => self.end(frame),
            other => {
                self.hash(frame);
                Met::Unknown { offset, kind: other }
            }
        }
    }

    fn hash(&mut self, frame: &Frame<'_>) {
        if let Some((_, hash)) = &mut self.open {
            hash.frame(frame.bytes);
        }
    }

    fn entry(&mut self, entry: Entry, offset: usize) -> Met {
        let in_count = self.last_seq.is_none_or(|last| entry.at.seq == last.wrapping_add(1));
        let own = entry.at.device == self.device;
        if own {
            self.last_seq = Some(entry.at.seq);
        }
        if !(own && in_count) {
            self.pending = own.then_some(Met::Entry { entry: entry.clone(), offset });
            return Met::Finding { offset, finding: Finding::Misplaced { seq: entry.at.seq } };
        }
        Met::Entry { entry, offset }
    }

    fn end(&mut self, frame: &Frame<'_>) -> Met {
        let offset = frame.offset;
        let Some((head, hash)) = self.open.take() else {
            return Met::Finding { offset, finding: Finding::Unended };
        };
        let hash = hash.finish();
        (self.previous, self.next_number) = (hash, head.number.wrapping_add(1));
        if frame.body == hash {
            Met::Block { head, hash }
        } else {
            Met::Finding { offset, finding: Finding::HashDiffers { number: head.number } }
        }
    }

    fn advance(&mut self) -> Option<Met> {
        if let Some(met) = self.pending.take() {
            return Some(met);
        }
        match self.frames.next() {
            Some(Ok(frame)) => Some(self.meet(&frame)),
            Some(Err(damage)) => Some(Met::Finding { offset: damage.offset, finding: Finding::Damaged(damage) }),
            None => self.open.take().map(|_| Met::Finding { offset: self.len, finding: Finding::Unended }),
        }
    }
}

impl Iterator for Walk<'_> {
    type Item = Met;

    fn next(&mut self) -> Option<Met> {
        self.advance()
    }
}
