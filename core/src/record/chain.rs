//! A book: a head that names its device, then blocks, each with its signature and body. A walk through a book never
//! stops at damage: it names the place and goes on at the next block. Journals, the open tail of a device, are frames of
//! single entries.

use sha2::{Digest, Sha256};

use super::columns;
use super::frame::{self, Damage, kind};
use super::head::{self, BLOCK_VERSION, BlockHead, Hash, MARKER};
use super::seal::{SIGNATURE, SignatureBytes, verify};
use crate::entry::{Entry, Unreadable};
use crate::ident::{DeviceId, DeviceKey};

/// First four bytes of a book file.
pub const BOOK: [u8; 4] = *b"OSBK";
/// First four bytes of a journal file: entries not yet in a block.
pub const JOURNAL: [u8; 4] = *b"OSJL";
/// The version written.
pub const VERSION: u16 = 1;
/// Bytes of a file's head: magic (4), version (2), nothing (2), device (8).
pub const HEAD: usize = 16;

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

/// A block as it stands in a book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Block<'a> {
    /// Where it starts.
    pub offset: usize,
    /// Its bytes: head, signature, body; fewer where the file ends in it.
    pub bytes: &'a [u8],
    /// Its head.
    pub head: BlockHead,
    /// The head's hash.
    pub hash: Hash,
    /// The head as written, which is what is signed.
    signed: &'a [u8],
    signature: Option<&'a SignatureBytes>,
    body: Option<&'a [u8]>,
}

/// Why a block's entries are not read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BodyFault {
    /// The file ends before the block does.
    Cut,
    /// The body is not what the head says, or the head was changed.
    Differs,
    /// It needs a reader of this version.
    Newer(u8),
}

impl<'a> Block<'a> {
    /// The block at the start of `bytes`, which stand at `offset`, if a head is there.
    pub fn read(bytes: &'a [u8], offset: usize) -> Option<Block<'a>> {
        let (head, signed) = BlockHead::read(bytes)?;
        let (signed, rest) = bytes.split_at_checked(signed)?;
        let body_len = head.body_len as usize;
        let (signature, body) = match rest.split_first_chunk::<SIGNATURE>() {
            Some((signature, rest)) => (Some(signature), rest.get(..body_len)),
            None => (None, None),
        };
        let whole = signed.len() + SIGNATURE + body_len;
        let bytes = bytes.get(..whole).unwrap_or(bytes);
        let hash = Sha256::digest(signed).into();
        Some(Block { offset, bytes, head, hash, signed, signature, body })
    }

    /// Whether its signature was made with this key.
    pub fn signed_by(&self, key: DeviceKey) -> bool {
        self.signature.is_some_and(|signature| verify(key, self.signed, signature))
    }

    /// Whether the body is the one that the head names.
    pub fn is_whole(&self) -> bool {
        self.body.is_some_and(|body| head::body_hash(body) == self.head.body_hash)
    }

    /// Its entries.
    ///
    /// # Errors
    /// When the body is cut, is another than the head names, or is of a later version.
    pub fn entries(&self) -> Result<columns::Decoder<'a>, BodyFault> {
        let BlockHead { reader, device, first, entries, .. } = self.head;
        if reader > BLOCK_VERSION {
            return Err(BodyFault::Newer(reader));
        }
        let body = self.body.ok_or(BodyFault::Cut)?;
        if !self.is_whole() {
            return Err(BodyFault::Differs);
        }
        Ok(columns::read(body, device, first, self.head.sheets.iter().copied(), entries))
    }
}

/// What a walk through a book meets.
#[derive(Clone, Debug, PartialEq, Eq)]
#[expect(clippy::large_enum_variant, reason = "there is no heap to box a block into")]
pub enum InBook<'a> {
    /// A block.
    Block(Block<'a>),
    /// Bytes that are no block.
    Damaged(Damage),
}

/// Walks the blocks of a book of `device`, from `start`.
///
/// A head of another device is met where a block ends, and passed over elsewhere.
pub fn walk_book(bytes: &[u8], device: DeviceId, start: usize) -> BookWalk<'_> {
    BookWalk { bytes, device, at: start }
}

/// See [`walk_book`].
#[derive(Clone, Debug)]
pub struct BookWalk<'a> {
    bytes: &'a [u8],
    device: DeviceId,
    at: usize,
}

impl<'a> BookWalk<'a> {
    fn block(&self, at: usize) -> Option<Block<'a>> {
        let rest = self.bytes.get(at..).filter(|rest| rest.first() == Some(&MARKER))?;
        Block::read(rest, at).filter(|block| block.head.device == self.device || block.is_whole())
    }

    /// Where the next block starts after `at`, or the end.
    fn next_start(&self, at: usize) -> usize {
        (at..self.bytes.len()).find(|at| self.block(*at).is_some()).unwrap_or(self.bytes.len())
    }
}

impl<'a> Iterator for BookWalk<'a> {
    type Item = InBook<'a>;

    fn next(&mut self) -> Option<InBook<'a>> {
        let offset = self.at;
        self.bytes.get(offset..).filter(|rest| !rest.is_empty())?;
        let Some(block) = self.block(offset) else {
            self.at = self.next_start(offset + 1);
            let (len, at_end) = (self.at - offset, self.at == self.bytes.len());
            return Some(InBook::Damaged(Damage { offset, len, at_end }));
        };
        let end = offset + block.bytes.len();
        // A length that was changed leads nowhere; the next block is then looked for.
        let leads = block.is_whole() || end == self.bytes.len() || self.block(end).is_some();
        self.at = if leads { end } else { self.next_start(offset + 1) };
        Some(InBook::Block(block))
    }
}

/// What a walk through a journal meets.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Met {
    /// An entry, and where it starts.
    Entry {
        /// The entry.
        entry: Entry,
        /// Offset of its frame.
        offset: usize,
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

/// Something wrong in a journal.
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
}

/// Walks the frames of a journal whose head was read.
pub fn walk(bytes: &[u8], device: DeviceId) -> Walk<'_> {
    Walk { frames: frame::walk(bytes, HEAD), device, last_seq: None, pending: None }
}

/// See [`walk`].
#[derive(Clone, Debug)]
pub struct Walk<'a> {
    frames: frame::Walk<'a>,
    device: DeviceId,
    last_seq: Option<u32>,
    pending: Option<Met>,
}

impl Walk<'_> {
    fn entry(&mut self, entry: Entry, offset: usize) -> Met {
        let in_count = self.last_seq.is_none_or(|last| entry.at.seq == last.wrapping_add(1));
        let own = entry.at.device == self.device;
        if own {
            self.last_seq = Some(entry.at.seq);
        }
        if own && in_count {
            return Met::Entry { entry, offset };
        }
        let seq = entry.at.seq;
        self.pending = own.then_some(Met::Entry { entry, offset });
        Met::Finding { offset, finding: Finding::Misplaced { seq } }
    }
}

impl Iterator for Walk<'_> {
    type Item = Met;

    fn next(&mut self) -> Option<Met> {
        if let Some(met) = self.pending.take() {
            return Some(met);
        }
        let frame = match self.frames.next()? {
            Ok(frame) => frame,
            Err(damage) => return Some(Met::Finding { offset: damage.offset, finding: Finding::Damaged(damage) }),
        };
        let offset = frame.offset;
        if frame.kind != kind::ENTRY {
            return Some(Met::Unknown { offset, kind: frame.kind });
        }
        Some(match Entry::decode(frame.body) {
            Ok(entry) => self.entry(entry, offset),
            Err(unreadable) => Met::Finding { offset, finding: Finding::Entry(unreadable) },
        })
    }
}
