//! What can be wrong with a card, in words that fit a small display.

use core::fmt;

use offshed_handheld::hand::Unstored;

/// Why a card can't be used, or not be written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CardFault {
    /// The card does not answer, or refuses a sector.
    Card,
    /// There is no FAT32 volume with a partition table on it.
    NoVolume,
    /// A file is not there.
    Missing(&'static str),
    /// A file is in more pieces than are kept track of.
    Pieces(&'static str),
    /// A file is not what its name promises, or damaged at a byte.
    Damaged(&'static str, u32),
    /// A file is of another version.
    Version(&'static str, u16),
    /// What came in was worked under another pack than the one in this device.
    Pack,
    /// The log or the book has no room left.
    Full,
    /// A sector reads back otherwise than it was written.
    ReadBack,
    /// An entry can't be put into a block.
    Unsealable,
}

impl fmt::Display for CardFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            CardFault::Card => f.write_str("The card does not answer: put it in again, start again"),
            CardFault::NoVolume => f.write_str("No FAT32 volume: let the office write the card"),
            CardFault::Missing(name) => write!(f, "{name} is missing: let the office write the card"),
            CardFault::Pieces(name) => write!(f, "{name} is in too many pieces: let the office write a fresh card"),
            CardFault::Damaged(name, at) => write!(f, "{name} is damaged at byte {at}: ask the office"),
            CardFault::Version(name, found) => {
                write!(f, "{name} is of version {found}, not 1: ask the office")
            }
            CardFault::Pack => f.write_str("The card is for another pack of rules: ask the office"),
            CardFault::Full => f.write_str("The card is full: bring it to the office"),
            CardFault::ReadBack => f.write_str("The card keeps nothing: use another one"),
            CardFault::Unsealable => f.write_str("An entry can't be sealed: ask the office"),
        }
    }
}

impl core::error::Error for CardFault {}

impl From<CardFault> for Unstored {
    fn from(fault: CardFault) -> Unstored {
        match fault {
            CardFault::Full => Unstored::Full,
            _ => Unstored::Failed,
        }
    }
}
