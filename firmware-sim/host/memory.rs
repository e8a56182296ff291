//! A journal and PINs in memory: nothing outlives the program.

use std::convert::Infallible;

use offshed_core::desk::Store;
use offshed_core::entry::Entry;
use offshed_core::ident::PersonId;
use offshed_core::stamp::{Hlc, Stamp};
use offshed_handheld::hand::{PinAnswer, Pins, Records};

/// Entries in the merged order.
#[derive(Clone, Debug, Default)]
pub(crate) struct MemoryJournal {
    /// What was recorded.
    pub(crate) entries: Vec<Entry>,
}

impl MemoryJournal {
    /// A journal that holds these.
    pub(crate) fn new(mut entries: Vec<Entry>) -> MemoryJournal {
        entries.sort_by_key(Entry::order);
        MemoryJournal { entries }
    }

    /// The highest clock that any entry carries.
    pub(crate) fn clock(&self) -> Hlc {
        self.entries.iter().map(|entry| entry.hlc).max().unwrap_or_default()
    }
}

impl Store for MemoryJournal {
    type Error = Infallible;

    fn append(&mut self, entry: &Entry, _: &[u8]) -> Result<(), Infallible> {
        self.entries.push(entry.clone());
        Ok(())
    }
}

impl Records for MemoryJournal {
    fn each(&self, show: &mut dyn FnMut(&Entry)) {
        self.entries.iter().for_each(show);
    }
}

/// PINs as they were given; five wrong tries in a row, and the person waits.
#[derive(Clone, Debug, Default)]
pub(crate) struct MemoryPins {
    pins: Vec<(PersonId, String)>,
    wrong: u32,
}

/// Wrong tries in a row before a wait.
const TRIES: u32 = 5;

impl MemoryPins {
    /// These PINs.
    pub(crate) fn new(pins: Vec<(PersonId, String)>) -> MemoryPins {
        MemoryPins { pins, wrong: 0 }
    }
}

impl Pins for MemoryPins {
    fn check(&mut self, person: PersonId, digits: &str, now: Stamp) -> PinAnswer {
        let Some((_, pin)) = self.pins.iter().find(|(id, _)| *id == person) else { return PinAnswer::NoPin };
        if self.wrong < TRIES && pin == digits {
            self.wrong = 0;
            return PinAnswer::Right;
        }
        self.wrong += 1;
        match TRIES.checked_sub(self.wrong) {
            Some(left) if left > 0 => PinAnswer::Wrong { left },
            _ => PinAnswer::Wait { until: now.plus(60) },
        }
    }
}
