//! What is under way at a step: a procedure between two parts, or a hold between start and end.

use crate::ident::{EntryRef, PersonId, StepId};
use crate::limits::PARTS_PER_PROCEDURE;
use crate::stamp::Stamp;
use crate::units::Reading;

/// A hold that was started.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hold {
    /// The value at the start.
    pub reading: Option<Reading>,
}

/// A value found at a part: a reading in thousandths, or a time in tenths of a second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PartValue {
    /// Nothing to keep.
    Seen,
    /// A reading.
    Reading(Reading),
    /// Tenths of a second.
    Tenths(u32),
}

/// A procedure or a hold under way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// The step.
    pub step: StepId,
    /// The entry of its last part.
    pub entry: EntryRef,
    /// When its last part was done.
    pub at: Stamp,
    /// By whom.
    pub by: PersonId,
    /// The hold, when it is one.
    pub hold: Option<Hold>,
    next: u8,
    values: [PartValue; PARTS_PER_PROCEDURE],
}

impl Progress {
    /// Just started, nothing done yet.
    pub fn new(step: StepId, entry: EntryRef, at: Stamp, by: PersonId) -> Progress {
        Progress { step, entry, at, by, hold: None, next: 0, values: [PartValue::Seen; PARTS_PER_PROCEDURE] }
    }

    /// The part that is next, from 0.
    pub fn next(&self) -> u8 {
        self.next
    }

    /// What was found at an earlier part.
    pub fn value(&self, part: u8) -> PartValue {
        self.values.get(usize::from(part)).copied().filter(|_| part < self.next).unwrap_or(PartValue::Seen)
    }

    /// The reading found at an earlier part.
    pub fn reading(&self, part: u8) -> Option<Reading> {
        match self.value(part) {
            PartValue::Reading(reading) => Some(reading),
            PartValue::Seen | PartValue::Tenths(_) => None,
        }
    }

    /// The time measured at an earlier part, tenths of a second.
    pub fn tenths(&self, part: u8) -> Option<u32> {
        match self.value(part) {
            PartValue::Tenths(tenths) => Some(tenths),
            PartValue::Seen | PartValue::Reading(_) => None,
        }
    }

    /// The last reading found so far.
    pub fn last_reading(&self) -> Option<Reading> {
        (0..self.next).rev().find_map(|part| self.reading(part))
    }

    /// This progress with the next part done.
    #[must_use]
    pub fn advanced(mut self, value: PartValue, entry: EntryRef, at: Stamp, by: PersonId) -> Progress {
        if let Some(slot) = self.values.get_mut(usize::from(self.next)) {
            *slot = value;
        }
        self.next = self.next.saturating_add(1);
        self.entry = entry;
        self.at = at;
        self.by = by;
        self
    }
}
