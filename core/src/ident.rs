//! Names of things: newtypes of fixed width, so that no record depends on the machine that wrote it.

use core::fmt;
use serde::{Deserialize, Serialize};

macro_rules! number {
    ($(#[$doc:meta])* $name:ident($int:ty)) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub struct $name(pub $int);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Display::fmt(&self.0, f)
            }
        }
    };
}

number!(/// A step's permanent number, unique in its pack and never used again.
    StepId(u16));
number!(/// A sequence's permanent number.
    SequenceId(u8));
number!(/// A grade's number (1 to 31); it means the same in every pack of a railway.
    GradeId(u8));
number!(/// A feature's number (1 to 63): a fitting that an engine has or lacks.
    FeatureId(u8));
number!(/// A state's number (0 to 15).
    StateId(u8));
number!(/// A numbered fitting's number (1 to 63): a seal, a plug.
    FittingId(u8));
number!(/// A due date's number (1 to 63).
    DueId(u8));
number!(/// An event's number (1 to 250).
    EventId(u8));
number!(/// A treatment product's number (1 to 63).
    ProductId(u8));
number!(/// A road's number in the register: a line as an engine travels it.
    RoadId(u8));
number!(/// A text of a pack, counted from 0; [`TextId::NONE`] is no text.
    TextId(u16));
number!(/// A person's number in the register.
    PersonId(u16));
number!(/// The number an engine carries.
    EngineId(u16));

impl TextId {
    /// Stands where a text is left out.
    pub const NONE: TextId = TextId(u16::MAX);
}

/// A device that writes records: eight random bytes drawn when its data folder is made.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct DeviceId(pub [u8; 8]);

impl fmt::Display for DeviceId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        hex(f, &self.0)
    }
}

/// One entry: the device that wrote it and its place in that device's own count, from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct EntryRef {
    /// The writing device.
    pub device: DeviceId,
    /// Its count, from 1.
    pub seq: u32,
}

impl fmt::Display for EntryRef {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}-{}", self.device, self.seq)
    }
}

/// A sheet is named by the entry that opened it.
pub type SheetId = EntryRef;

/// A defect is named by the entry that opened it.
pub type DefectId = EntryRef;

/// SHA-256 of a compiled pack file: what a sheet is bound to.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct PackHash(pub [u8; 32]);

impl fmt::Display for PackHash {
    /// The first eight hexadecimal digits, enough for a person to compare; `{:#}` writes all.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shown = if f.alternate() { self.0.len() } else { 4 };
        hex(f, self.0.get(..shown).unwrap_or(&self.0))
    }
}

impl fmt::Debug for PackHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "PackHash({self})")
    }
}

/// A device's public key (Ed25519, RFC 8032): what its signatures are checked with.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct DeviceKey(pub [u8; 32]);

impl fmt::Display for DeviceKey {
    /// The first sixteen hexadecimal digits, enough for a person to compare; `{:#}` writes all.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shown = if f.alternate() { self.0.len() } else { 8 };
        hex(f, self.0.get(..shown).unwrap_or(&self.0))
    }
}

impl fmt::Debug for DeviceKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "DeviceKey({self})")
    }
}

fn hex(f: &mut fmt::Formatter<'_>, bytes: &[u8]) -> fmt::Result {
    bytes.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
}

/// A set of small numbers (0 to 63): grades, features, states.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Set(pub u64);

impl Set {
    /// The empty set.
    pub const EMPTY: Set = Set(0);

    /// This set with `number` in it; a number above 63 is in no set.
    #[must_use]
    pub fn with(self, number: u8) -> Set {
        Set(self.0 | bit(number))
    }

    /// This set without the members of `other`.
    #[must_use]
    pub fn without(self, other: Set) -> Set {
        Set(self.0 & !other.0)
    }

    /// The members of either set.
    #[must_use]
    pub fn union(self, other: Set) -> Set {
        Set(self.0 | other.0)
    }

    /// Whether `number` is in the set.
    pub fn has(self, number: u8) -> bool {
        self.0 & bit(number) != 0
    }

    /// The members, smallest first.
    pub fn members(self) -> impl Iterator<Item = u8> {
        (0..64).filter(move |n| self.has(*n))
    }
}

fn bit(number: u8) -> u64 {
    1u64.checked_shl(u32::from(number)).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_set_has_what_was_put_in() {
        let set = Set::EMPTY.with(0).with(63).with(64);
        assert!(set.has(0) && set.has(63) && !set.has(64) && !set.has(5));
        assert_eq!(set.without(Set::EMPTY.with(0)), Set(1 << 63));
    }
}
