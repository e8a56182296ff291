//! PACK.OSP: the pack file that the device's rules are of. Its words are read from the card, by sector, as they are shown.
//!
//! The whole file is held against the hash that the device has, once, when it starts.

use core::cell::{Cell, RefCell};

use offshed_core::ident::{PackHash, TextId};
use offshed_core::pack::Texts;
use sha2::{Digest, Sha256};

use crate::disk::{self, Block, Extents, SECTOR, Sectors, Stream};
use crate::fault::CardFault;

/// The file's name.
pub const NAME: &str = "PACK.OSP";
/// Bytes of a block of words before its ends: language (8), count (2), bytes of words (4).
const BLOCK_HEAD: u32 = 14;
/// Sectors that are kept: where a text ends is told in one place, and its words stand in another.
const KEPT: usize = 3;

/// One sector that was read.
struct Held {
    sector: Option<u32>,
    block: Block,
}

/// Sectors of the file that were read last, the latest first.
struct Kept {
    held: [Held; KEPT],
}

/// The words of one language on a card.
pub struct CardTexts<D> {
    device: D,
    extents: Extents,
    /// Where the ends and the words start, and how many of each there are.
    ends: (u32, u32),
    words: (u32, u32),
    kept: RefCell<Kept>,
    fault: Cell<Option<CardFault>>,
}

impl<D: Sectors> CardTexts<D> {
    /// The first language of the pack file with this hash, whose rules are `rules` bytes long.
    ///
    /// # Errors
    /// [`CardFault::Pack`] when the file is of another pack; else when it is not there or the card does not answer.
    pub fn open(device: D, hash: PackHash, rules: u32) -> Result<CardTexts<D>, CardFault> {
        let extents = disk::find(device, NAME)?;
        if sum(device, &extents)? != hash.0 {
            return Err(CardFault::Pack);
        }
        let mut head = [0; BLOCK_HEAD as usize];
        Stream::new(device, &extents, rules).fill(&mut head)?;
        let [_, _, _, _, _, _, _, _, count0, count1, b0, b1, b2, b3] = head;
        let count = u32::from(u16::from_le_bytes([count0, count1]));
        let (ends, bytes) = (rules.saturating_add(BLOCK_HEAD), u32::from_le_bytes([b0, b1, b2, b3]));
        let held = [(); KEPT].map(|()| Held { sector: None, block: Block::new() });
        Ok(CardTexts {
            device,
            extents,
            ends: (ends, count),
            words: (ends.saturating_add(count * 4), bytes),
            kept: RefCell::new(Kept { held }),
            fault: Cell::new(None),
        })
    }

    /// What went wrong while words were read, if anything did: what was shown since is not what the pack says.
    pub fn fault(&self) -> Option<CardFault> {
        self.fault.get()
    }

    /// Copies bytes of the file; all of them, or the card's fault is kept and none count.
    fn copy(&self, mut at: u32, mut out: &mut [u8]) -> Option<()> {
        let mut kept = self.kept.try_borrow_mut().ok()?;
        while !out.is_empty() {
            let block = kept.block(self, at / SECTOR as u32)?;
            let there = block.contents.get((at % SECTOR as u32) as usize..)?;
            let take = there.len().min(out.len());
            let (to, rest) = out.split_at_mut_checked(take)?;
            to.iter_mut().zip(there).for_each(|(to, byte)| *to = *byte);
            (out, at) = (rest, at.checked_add(take as u32)?);
        }
        Some(())
    }

    /// Where text `n` ends, from the start of the words.
    fn end(&self, n: u32) -> Option<u32> {
        let mut end = [0; 4];
        self.copy(self.ends.0 + n * 4, &mut end)?;
        Some(u32::from_le_bytes(end))
    }

    /// Where a text starts and ends.
    fn place(&self, id: TextId) -> Option<(u32, u32)> {
        let n = u32::from(id.0);
        if n >= self.ends.1 {
            return None;
        }
        let start = match n.checked_sub(1) {
            Some(before) => self.end(before)?,
            None => 0,
        };
        let end = self.end(n)?;
        (start <= end && end <= self.words.1).then_some((start, end))
    }
}

impl Kept {
    /// A sector of the file, read where it is not kept; it is then the latest.
    fn block<D: Sectors>(&mut self, texts: &CardTexts<D>, n: u32) -> Option<&Block> {
        match self.held.iter().position(|held| held.sector == Some(n)) {
            Some(at) => self.held.get_mut(..=at)?.rotate_right(1),
            None => {
                self.held.rotate_right(1);
                let [latest, ..] = &mut self.held;
                latest.sector = None;
                let sector = texts.extents.sector(n)?;
                if let Err(fault) = disk::read(texts.device, sector, &mut latest.block) {
                    texts.fault.set(Some(fault));
                    return None;
                }
                latest.sector = Some(n);
            }
        }
        self.held.first().map(|held| &held.block)
    }
}

/// SHA-256 of a file.
fn sum<D: Sectors>(device: D, extents: &Extents) -> Result<[u8; 32], CardFault> {
    let (mut hash, mut stream, mut left) = (Sha256::new(), Stream::new(device, extents, 0), extents.bytes as usize);
    let mut piece = [0; 128];
    while left > 0 {
        let take = piece.get_mut(..left.min(128)).unwrap_or_default();
        if !stream.fill(take)? {
            return Err(CardFault::Damaged(NAME, stream.at()));
        }
        left -= take.len();
        hash.update(take);
    }
    Ok(hash.finalize().into())
}

impl<D: Sectors> Texts for CardTexts<D> {
    fn read(&self, id: TextId, from: usize, out: &mut [u8]) -> usize {
        let Some((start, end)) = self.place(id) else { return 0 };
        let left = (end - start).saturating_sub(u32::try_from(from).unwrap_or(u32::MAX)) as usize;
        let take = out.len().min(left);
        let Some(to) = out.get_mut(..take) else { return 0 };
        match self.copy(self.words.0 + start + from as u32, to) {
            Some(()) => take,
            None => 0,
        }
    }

    fn whole(&self, _: TextId) -> Option<&str> {
        None
    }
}
