//! What came of a card, in words for a person.

use core::fmt;

use offshed_core::ident::DeviceKey;
use offshed_core::record::shift::ShiftFault;

use super::CardFault;
use super::give::GiveFault;
use super::shift::ShiftRefused;

/// What came of a card.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CardReport {
    /// The own book: entries that went out.
    pub given: Result<u32, GiveFault>,
    /// The shift file.
    pub taken: Result<Taken, ShiftRefused>,
    /// Own entries that the office has seen, and that made room.
    pub freed: u32,
}

/// A shift file that is not refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Taken {
    /// It is the one that is here already.
    Same,
    /// It is the first one here, and its office is trusted from now on.
    First {
        /// The office's key, for a person to compare.
        key: DeviceKey,
    },
    /// It took the place of the one before.
    New {
        /// Entries in it.
        entries: u32,
    },
}

impl CardReport {
    /// Whether everything went as it should.
    pub fn is_good(&self) -> bool {
        self.given.is_ok() && self.taken.is_ok()
    }

    /// What it is called.
    pub fn title(&self) -> &'static str {
        if self.is_good() { "Card: done" } else { "Card: MIND" }
    }
}

impl fmt::Display for CardFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            CardFault::Gone => "The card is out or was pulled. Nothing is lost: put it in and try again",
            CardFault::Unreadable => "The card can't be read: have the office make it ready again",
            CardFault::Full => "The card is full: have the office make room on it",
            CardFault::Locked => "The card is locked against writing: slide its lock and try again",
        })
    }
}

impl fmt::Display for GiveFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            GiveFault::Foreign => {
                "This card is not from an office of ours. Nothing was written: have the office make it ready"
            }
            GiveFault::Card(fault) => return fault.fmt(f),
            GiveFault::NotAsWritten => "The card does not keep what is written: throw it away and take another",
            GiveFault::Differs => {
                "The card holds other records under this device's name. Nothing was written: show it to the office"
            }
            GiveFault::Lacks => {
                "The card lacks earlier records of this device: have the office make it ready, then try again"
            }
            GiveFault::Unread => "This device's memory could not all be read: take it to the office",
        })
    }
}

impl fmt::Display for ShiftRefused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            ShiftRefused::Card(fault) => fault.fmt(f),
            ShiftRefused::None => f.write_str("There is no shift file on the card: have the office write one"),
            ShiftRefused::Fault(ShiftFault::Newer(version)) => {
                write!(f, "The shift file is of version {version}, and this device reads 1: have the device renewed")
            }
            ShiftRefused::Fault(ShiftFault::Signature) => {
                f.write_str("The shift file's signature is wrong: it was changed. Have the office write a new one")
            }
            ShiftRefused::Fault(_) => {
                f.write_str("The shift file is damaged or cut short: have the office write it again")
            }
            ShiftRefused::Untrusted(key) => {
                write!(f, "The shift file is from another office, whose key is {key}. It is not taken")
            }
            ShiftRefused::Older(_) => f.write_str("The shift file is older than the one that is here: it is not taken"),
            ShiftRefused::OtherPack => f.write_str(
                "The shift file has other rules. First have the office take in what was recorded here, then try again",
            ),
            ShiftRefused::TooLong { bytes, room } => {
                write!(f, "The shift file has {bytes} bytes, and there is room for {room}: tell the office")
            }
            ShiftRefused::Rules => f.write_str("The rules in the shift file can't be used here: tell the office"),
            ShiftRefused::NotStored => f.write_str("The shift file could not be stored: this device needs repair"),
            ShiftRefused::Behind => f.write_str(
                "The office has records of this device that it no longer holds: have it set up anew by the office",
            ),
        }
    }
}

impl fmt::Display for CardReport {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let gone = |taken| matches!(taken, Err(ShiftRefused::Card(_)));
        match self.given {
            Ok(0) => f.write_str("Nothing new to give. ")?,
            Ok(1) => f.write_str("1 entry is on the card. ")?,
            Ok(n) => write!(f, "{n} entries are on the card. ")?,
            // One sentence is enough where the card itself fails, or is not ours.
            Err(fault) if gone(self.taken) || fault == GiveFault::Foreign => return fault.fmt(f),
            Err(fault) => write!(f, "Not given: {fault}. ")?,
        }
        match self.taken {
            Ok(Taken::Same) => f.write_str("The shift file is the one that is here")?,
            Ok(Taken::First { key }) => write!(
                f,
                "First shift file. From now on this device trusts the office with the key {key}: compare it there"
            )?,
            Ok(Taken::New { entries }) => write!(f, "New shift file, {entries} entries")?,
            Err(refused) => refused.fmt(f)?,
        }
        match self.freed {
            0 => Ok(()),
            n => write!(f, ". Room made: {n} entries the office has"),
        }
    }
}
