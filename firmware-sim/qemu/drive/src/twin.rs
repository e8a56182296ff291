//! The same program on this computer: it is given the same keys at the same times, and shows what the board has to show.

use offshed_core::desk::Desk;
use offshed_core::entry::Entry;
use offshed_core::ident::{DeviceId, PersonId};
use offshed_core::pack::{Pack, SliceTexts};
use offshed_core::stamp::{Now, Stamp};
use offshed_handheld::hand::Hand;
use offshed_handheld::keys::{Contacts, Keys};
use offshed_handheld::program::{Program, turn};

use crate::board::SIZE;
use crate::device::Simulated;
use crate::memory::{MemoryJournal, MemoryPins};
use crate::picture::Canvas;
use crate::script::Act;

/// Milliseconds between two looks at the buttons, as on the board.
const LOOK_MS: u64 = 5;

/// A wait longer than this passes at once but for as long at its end, ms.
pub(crate) const LONG_MS: u64 = 400;

/// How much of a long wait passes at once, in whole looks.
pub(crate) fn passed(ms: u64) -> u64 {
    ms.saturating_sub(LONG_MS / 2) / LOOK_MS * LOOK_MS
}

/// The program over what is in memory.
pub(crate) type Handheld<'a> = Program<'a, SliceTexts<'a>, MemoryJournal, MemoryPins>;

/// A handheld on this computer.
pub(crate) struct Twin<'a> {
    pub(crate) program: Handheld<'a>,
    hand: Simulated,
    keys: Keys,
}

impl<'a> Twin<'a> {
    /// One that starts at `start` with these records and PINs.
    pub(crate) fn new(
        rules: (&'a Pack<'a>, &'a SliceTexts<'a>),
        device: DeviceId,
        entries: &[Entry],
        pins: &[(PersonId, String)],
        start: Stamp,
    ) -> Twin<'a> {
        let journal = MemoryJournal::new(entries.to_vec());
        let last = entries.iter().filter(|entry| entry.at.device == device).map(|entry| entry.at.seq).max();
        let mut hand =
            Simulated { start: Now::good(start), ms: 0, contacts: Contacts::OPEN, display: Canvas::new(SIZE) };
        let desk = Desk::new(device, last.unwrap_or(0), journal.clock(), journal);
        let at = hand.moment();
        let program = Program::new(rules.0, rules.1, desk, MemoryPins::new(pins.to_vec()), SIZE, at);
        let Ok(_) = program.draw(&mut hand.display, at);
        Twin { program, hand, keys: Keys::default() }
    }

    /// Plays one act; a picture is drawn anew.
    pub(crate) fn play(&mut self, act: &Act) {
        let (contacts, ms) = match act {
            Act::Wait(ms) if *ms > LONG_MS => {
                // As on the board: nothing is looked at in a long wait but its end.
                self.hand.ms += passed(*ms);
                (Contacts::OPEN, *ms - passed(*ms))
            }
            Act::Press(key, ms) => (Contacts::OPEN.with(*key), *ms),
            Act::Wait(ms) => (Contacts::OPEN, *ms),
            Act::Shot(_) => {
                let at = self.hand.moment();
                let Ok(_) = self.program.draw(&mut self.hand.display, at);
                return;
            }
        };
        self.hand.contacts = contacts;
        for _ in 0..ms.div_ceil(LOOK_MS) {
            self.hand.ms += LOOK_MS;
            let Ok(keys) = turn(&mut self.program, &mut self.hand, self.keys);
            self.keys = keys;
        }
    }

    /// Its clock.
    pub(crate) fn now(&self) -> Now {
        self.hand.moment().now
    }

    /// Milliseconds since its start.
    pub(crate) fn ms(&self) -> u64 {
        self.hand.ms
    }

    /// What it shows.
    pub(crate) fn shown(&self) -> &Canvas {
        &self.hand.display
    }
}
