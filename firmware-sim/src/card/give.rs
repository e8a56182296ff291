//! The own book to a card: what the card lacks is written behind the last whole block that stands there, and read back.
//!
//! Only blocks are written, each as a whole and in their order, so that a book that a pulled card leaves behind is the
//! start of the right one, and a torn block behind it is written over the next time.

use offshed_core::ident::DeviceId;
use offshed_core::record::card;
use offshed_core::record::chain::{self, HEAD};
use offshed_core::record::head::{BlockHead, HEAD_BYTES, Hash};
use offshed_core::record::seal::SIGNATURE;
use sha2::{Digest, Sha256};

use super::{Card, CardFault};

/// Bytes that are compared at a time when a block is read back.
const PIECE: usize = 128;

/// The blocks of a device's book that it still holds.
pub trait Blocks {
    /// Whose book it is.
    fn device(&self) -> DeviceId;

    /// Shows the blocks held, each as it stands in the book, in their order, until `show` answers false; whether all of
    /// them could be read.
    fn each_block(&self, show: &mut dyn FnMut(&[u8]) -> bool) -> bool;
}

/// What a card now holds of a book.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Given {
    /// Entries that were written and read back now.
    pub entries: u32,
    /// The count of the last entry on the card, and the hash of its block; `None`: the book is empty.
    pub last: Option<(u32, Hash)>,
}

/// Why a book was not given. What was given before stays on the card, and nothing is lost from the device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GiveFault {
    /// The card is not an office's.
    Foreign,
    /// The card could not be used.
    Card(CardFault),
    /// What was read back is not what was written.
    NotAsWritten,
    /// The book on the card is not the start of this one: another history of this device.
    Differs,
    /// The card lacks blocks that this device no longer holds.
    Lacks,
    /// The device's own memory could not be read.
    Unread,
}

impl From<CardFault> for GiveFault {
    fn from(fault: CardFault) -> GiveFault {
        GiveFault::Card(fault)
    }
}

/// A block as its head tells it.
#[derive(Clone, Debug)]
struct Told {
    head: BlockHead,
    hash: Hash,
    bytes: u32,
}

fn told(bytes: &[u8]) -> Option<Told> {
    let (head, signed) = BlockHead::read(bytes)?;
    let hash = Sha256::digest(bytes.get(..signed)?).into();
    let all = u32::try_from(signed + SIGNATURE).ok()?.checked_add(head.body_len)?;
    Some(Told { head, hash, bytes: all })
}

/// The end of the whole blocks of a book on a card.
#[derive(Clone, Debug)]
struct End {
    at: u32,
    last: Option<Told>,
}

/// Walks the heads of the book at `path`; `None` where there is no book.
fn end<C: Card>(card: &mut C, path: &str, device: DeviceId) -> Result<Option<End>, GiveFault> {
    let Some(len) = card.len(path)? else { return Ok(None) };
    let mut start = [0; HEAD];
    let taken = HEAD.min(usize::try_from(len).unwrap_or(HEAD));
    let there = start.get_mut(..taken).unwrap_or_default();
    card.read(path, 0, there)?;
    let own = chain::head(chain::BOOK, device);
    match there.len() {
        HEAD if *there == own => {}
        // A head that was begun and not ended.
        short if short < HEAD && own.starts_with(there) => return Ok(None),
        _ => return Err(GiveFault::Differs),
    }
    let mut end = End { at: HEAD as u32, last: None };
    loop {
        let mut buffer = [0; HEAD_BYTES];
        let room = usize::try_from(len.saturating_sub(end.at)).unwrap_or(HEAD_BYTES).min(HEAD_BYTES);
        let bytes = buffer.get_mut(..room).unwrap_or_default();
        card.read(path, end.at, bytes)?;
        let next = told(bytes).filter(|next| next.head.device == device);
        let Some((next, to)) =
            next.and_then(|next| Some((end.at.checked_add(next.bytes)?, next))).map(|(to, n)| (n, to))
        else {
            return Ok(Some(end));
        };
        let follows = end.last.as_ref().map_or(0, |last| last.head.number.saturating_add(1)) == next.head.number;
        if to > len || !follows {
            return Ok(Some(end));
        }
        end = End { at: to, last: Some(next) };
    }
}

/// Whether the bytes at a place of a file are these.
fn stands<C: Card>(card: &mut C, path: &str, at: u32, bytes: &[u8]) -> Result<bool, CardFault> {
    let mut at = at;
    for piece in bytes.chunks(PIECE) {
        let mut buffer = [0; PIECE];
        let there = buffer.get_mut(..piece.len()).unwrap_or_default();
        card.read(path, at, there)?;
        if there != piece {
            return Ok(false);
        }
        at = at.saturating_add(piece.len() as u32);
    }
    Ok(true)
}

/// One giving under way.
struct Giving<'c, C> {
    card: &'c mut C,
    path: card::CardPath,
    end: End,
    given: Given,
    /// The last block of the card was met among those held, or comes before the first of them.
    met: bool,
}

impl<C: Card> Giving<'_, C> {
    /// One block that the device holds.
    fn block(&mut self, bytes: &[u8]) -> Result<(), GiveFault> {
        let block = told(bytes).ok_or(GiveFault::Unread)?;
        let last = self.end.last.as_ref();
        match last.map(|last| (last.head.number, last.hash)) {
            Some((number, _)) if block.head.number < number => return Ok(()),
            Some((number, hash)) if block.head.number == number => {
                self.met = true;
                return if hash == block.hash { self.again(bytes) } else { Err(GiveFault::Differs) };
            }
            Some((number, hash)) if block.head.number == number.saturating_add(1) => {
                if block.head.previous != hash {
                    return Err(GiveFault::Differs);
                }
            }
            None if block.head.number == 0 => {}
            _ => return Err(GiveFault::Lacks),
        }
        self.met = true;
        self.write(bytes, block)
    }

    /// The last block on the card is looked at as a whole: a torn one has a sound head, too.
    fn again(&mut self, bytes: &[u8]) -> Result<(), GiveFault> {
        let at = self.end.at.saturating_sub(bytes.len() as u32);
        if !stands(self.card, &self.path, at, bytes)? {
            self.put(at, bytes)?;
        }
        Ok(())
    }

    fn write(&mut self, bytes: &[u8], block: Told) -> Result<(), GiveFault> {
        self.put(self.end.at, bytes)?;
        self.given.entries = self.given.entries.saturating_add(block.head.entries);
        self.given.last = Some((block.head.last(), block.hash));
        self.end = End { at: self.end.at.saturating_add(block.bytes), last: Some(block) };
        Ok(())
    }

    fn put(&mut self, at: u32, bytes: &[u8]) -> Result<(), GiveFault> {
        self.card.write(&self.path, at, bytes)?;
        if stands(self.card, &self.path, at, bytes)? { Ok(()) } else { Err(GiveFault::NotAsWritten) }
    }
}

/// Writes what a card lacks of the own book, reads it back, and answers how far the card now holds it.
///
/// # Errors
/// When the card is not an office's, fails, or holds another history; it may then hold a part more than before.
pub fn give<B: Blocks, C: Card>(book: &B, card: &mut C) -> Result<Given, GiveFault> {
    if !card.has_dir(card::FOLDER)? {
        return Err(GiveFault::Foreign);
    }
    let (device, path) = (book.device(), card::book(book.device(), 0));
    let found = end(card, &path, device)?;
    let start = End { at: HEAD as u32, last: None };
    let last = found.as_ref().and_then(|end| end.last.as_ref()).map(|last| (last.head.last(), last.hash));
    let given = Given { entries: 0, last };
    let mut giving = Giving { card, path, end: found.clone().unwrap_or(start), given, met: false };
    if found.is_none() {
        giving.put(0, &chain::head(chain::BOOK, device))?;
    }
    let (mut outcome, mut any) = (Ok(()), false);
    let read = book.each_block(&mut |bytes| {
        any = true;
        outcome = giving.block(bytes);
        outcome.is_ok()
    });
    outcome?;
    match (read, any, giving.met) {
        (false, _, _) => Err(GiveFault::Unread),
        // The card has blocks behind all that are held: it is ahead of this device.
        (true, true, false) => Err(GiveFault::Differs),
        _ => Ok(giving.given),
    }
}
