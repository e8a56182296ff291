//! The shift file as a device with little memory reads it: checked whole before anything of it is used, then entry by
//! entry.

use offshed_core::entry::Entry;
use offshed_core::ident::{DeviceId, DeviceKey};
use offshed_core::record::card;
use offshed_core::record::frame;
use offshed_core::record::shift::{self, BodyHasher, HEAD, Part, ShiftFault, ShiftHead};
use offshed_core::stamp::Stamp;

use super::{Bytes, Card, CardFault};

/// Bytes that are hashed or copied at a time.
pub const PIECE: usize = 512;

/// Why a shift file is not taken. What the device works by stays as it was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ShiftRefused {
    /// The card could not be used.
    Card(CardFault),
    /// There is none on the card.
    None,
    /// It is no sound shift file.
    Fault(ShiftFault),
    /// It is signed with a key that this device does not trust.
    Untrusted(DeviceKey),
    /// It was written before the one that is here.
    Older(Stamp),
    /// It holds other rules, and records made here under the old ones are not at the office yet.
    OtherPack,
    /// It is longer than this device's room for it.
    TooLong {
        /// Its bytes.
        bytes: u32,
        /// The room, bytes.
        room: u32,
    },
    /// The rules in it are not sound, or of a version that this device does not read.
    Rules,
    /// It could not be stored.
    NotStored,
    /// The office has seen records of this device that this device does not hold: it lost some.
    Behind,
}

impl From<CardFault> for ShiftRefused {
    fn from(fault: CardFault) -> ShiftRefused {
        ShiftRefused::Card(fault)
    }
}

/// The shift file that is on a card, its name, and its head: version, layout, signature and hash are right.
///
/// Whether its key is trusted, and whether it is wanted, is for the caller to judge.
///
/// # Errors
/// When there is none, or it is not sound.
pub fn on_card<C: Card>(card: &mut C) -> Result<(&'static str, ShiftHead), ShiftRefused> {
    let whole = look(card, card::SHIFT);
    match whole {
        Ok(head) => Ok((card::SHIFT, head)),
        // An office that was interrupted leaves the new one under its other name.
        Err(ShiftRefused::None) => look(card, card::SHIFT_PART).map(|head| (card::SHIFT_PART, head)),
        Err(refused) => Err(refused),
    }
}

fn look<C: Card>(card: &mut C, path: &str) -> Result<ShiftHead, ShiftRefused> {
    let len = card.len(path)?.ok_or(ShiftRefused::None)?;
    let mut buffer = [0; HEAD];
    let room = usize::try_from(len).unwrap_or(HEAD).min(HEAD);
    let bytes = buffer.get_mut(..room).unwrap_or_default();
    card.read(path, 0, bytes)?;
    let head = ShiftHead::read(bytes).map_err(ShiftRefused::Fault)?;
    if head.len() != len {
        return Err(ShiftRefused::Fault(ShiftFault::Short { want: head.len(), got: len }));
    }
    let mut failed = None;
    let body = hashed(&head, |at, out| {
        failed = card.read(path, at, out).err();
        failed.is_none()
    });
    match (failed, body) {
        (Some(fault), _) => Err(ShiftRefused::Card(fault)),
        (None, Some(body)) if body == head.body => Ok(head),
        _ => Err(ShiftRefused::Fault(ShiftFault::Differs)),
    }
}

/// The hash of what stands behind a head; `None` when it could not all be read.
pub fn hashed(head: &ShiftHead, mut read: impl FnMut(u32, &mut [u8]) -> bool) -> Option<[u8; 32]> {
    let mut hasher = BodyHasher::default();
    let (mut at, end) = (HEAD as u32, head.len());
    while at < end {
        let mut buffer = [0; PIECE];
        let room = usize::try_from(end - at).unwrap_or(PIECE).min(PIECE);
        let bytes = buffer.get_mut(..room)?;
        if !read(at, bytes) {
            return None;
        }
        hasher.put(bytes);
        at += room as u32;
    }
    Some(hasher.finish())
}

/// Walks the rows of a part of a shift file; `N` is the row's size.
pub fn rows<const N: usize>(file: &impl Bytes, head: &ShiftHead, part: Part, mut show: impl FnMut(&[u8; N])) -> bool {
    let (start, bytes) = head.part(part);
    let mut at = start;
    while at < start + bytes {
        let mut row = [0; N];
        if !file.read(at, &mut row) {
            return false;
        }
        show(&row);
        at += N as u32;
    }
    true
}

/// How far the office has seen a device's records: the count, and the hash of the last block.
pub fn seen(file: &impl Bytes, head: &ShiftHead, device: DeviceId) -> Option<shift::SeenRow> {
    let mut found = None;
    rows(file, head, Part::Seen, |row| {
        if let Some(row) = shift::SeenRow::read(row).filter(|row| row.device == device) {
            found = Some(row);
        }
    });
    found
}

/// Walks the entries of a shift file.
pub struct Entries<'b, B> {
    file: &'b B,
    at: u32,
    end: u32,
    left: u32,
}

impl<'b, B: Bytes> Entries<'b, B> {
    /// From the first.
    pub fn new(file: &'b B, head: &ShiftHead) -> Entries<'b, B> {
        let (at, bytes) = head.part(Part::Entries);
        Entries { file, at, end: at.saturating_add(bytes), left: head.entries }
    }

    /// How many are still to come; more than none at the end: they could not be read.
    pub fn left(&self) -> u32 {
        self.left
    }

    fn one(&mut self) -> Option<Entry> {
        let mut buffer = [0; frame::OVERHEAD + frame::BODY];
        let (start, _) = buffer.split_at_mut_checked(4)?;
        if !self.file.read(self.at, start) {
            return None;
        }
        let body = usize::from(u16::from_le_bytes([*start.get(2)?, *start.get(3)?]));
        let whole = buffer.get_mut(..frame::OVERHEAD + body)?;
        if self.at.checked_add(whole.len() as u32)? > self.end || !self.file.read(self.at, whole) {
            return None;
        }
        let (entry, bytes) = shift::entry(whole)?;
        self.at = self.at.checked_add(bytes as u32)?;
        Some(entry)
    }
}

impl<B: Bytes> Iterator for Entries<'_, B> {
    type Item = Entry;

    fn next(&mut self) -> Option<Entry> {
        let left = self.left.checked_sub(1)?;
        let entry = self.one();
        match &entry {
            Some(_) => self.left = left,
            // Nothing behind it is found again.
            None => self.at = self.end,
        }
        entry
    }
}
