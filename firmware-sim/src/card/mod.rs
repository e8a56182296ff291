//! A card between a handheld and an office: the own book goes out, a shift file comes in, and others' books lie untouched.
//!
//! What a card can do is behind [`Card`]; [`give`] writes a book at its end and reads it back, [`shift`] reads and checks
//! what an office handed over. A card that is pulled at any moment loses nothing that the handheld holds.

pub mod fat;
pub mod give;
pub mod report;
pub mod shift;

use offshed_core::record::card::CardPath;

/// Why a card could not be read or written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CardFault {
    /// No card is there, or it went while it was used.
    Gone,
    /// It has no file system that is read here, or a damaged one.
    Unreadable,
    /// It is full.
    Full,
    /// It is locked against writing.
    Locked,
}

/// A card: files of short names in directories (`FORMAT.md`, section 9).
pub trait Card {
    /// Whether a directory is there.
    ///
    /// # Errors
    /// When the card can't be read.
    fn has_dir(&mut self, path: &str) -> Result<bool, CardFault>;

    /// Bytes of a file; `None` where there is none.
    ///
    /// # Errors
    /// When the card can't be read.
    fn len(&mut self, path: &str) -> Result<Option<u32>, CardFault>;

    /// Fills `out` from a place of a file.
    ///
    /// # Errors
    /// When the card can't be read, or the file ends before `out` is full.
    fn read(&mut self, path: &str, at: u32, out: &mut [u8]) -> Result<(), CardFault>;

    /// Writes at a place of a file, which is not beyond its end, and makes it durable before it answers; makes the file
    /// and the directories above it where they are missing. The file never becomes shorter.
    ///
    /// # Errors
    /// When it is not all written. What stood before `at` is as it was.
    fn write(&mut self, path: &str, at: u32, bytes: &[u8]) -> Result<(), CardFault>;
}

/// No card: what a device without one has.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoCard;

impl Card for NoCard {
    fn has_dir(&mut self, _: &str) -> Result<bool, CardFault> {
        Err(CardFault::Gone)
    }

    fn len(&mut self, _: &str) -> Result<Option<u32>, CardFault> {
        Err(CardFault::Gone)
    }

    fn read(&mut self, _: &str, _: u32, _: &mut [u8]) -> Result<(), CardFault> {
        Err(CardFault::Gone)
    }

    fn write(&mut self, _: &str, _: u32, _: &[u8]) -> Result<(), CardFault> {
        Err(CardFault::Gone)
    }
}

/// Bytes that are read at any place: a part of a flash memory, a file on a card.
pub trait Bytes {
    /// Fills `out` from a place; whether it could.
    fn read(&self, at: u32, out: &mut [u8]) -> bool;
}

/// A file on a card as [`Bytes`].
pub struct CardFile<'c, C> {
    card: &'c core::cell::RefCell<C>,
    path: CardPath,
}

impl<'c, C: Card> CardFile<'c, C> {
    /// The file at `path`.
    pub fn new(card: &'c core::cell::RefCell<C>, path: CardPath) -> CardFile<'c, C> {
        CardFile { card, path }
    }
}

impl<C: Card> Bytes for CardFile<'_, C> {
    fn read(&self, at: u32, out: &mut [u8]) -> bool {
        self.card.try_borrow_mut().is_ok_and(|mut card| card.read(&self.path, at, out).is_ok())
    }
}
