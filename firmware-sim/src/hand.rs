//! What a handheld is made of, behind one small trait: a clock, buttons, a display, a journal, PINs.

use core::fmt;

use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::DrawTarget;
use offshed_core::desk::Store;
use offshed_core::entry::Entry;
use offshed_core::ident::{DeviceId, EngineId, EntryRef, PersonId};
use offshed_core::stamp::{Day, Now, Stamp};

use crate::keys::Contacts;

/// A moment: by the wall clock, and by one that only rises.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Moment {
    /// The wall clock, and how far it is trusted.
    pub now: Now,
    /// Milliseconds since the start, by a clock that nothing sets; times are measured by it.
    pub ms: u64,
}

/// What was recorded, on this device and on others whose records came in.
pub trait Records {
    /// Shows every entry in the merged order.
    fn each(&self, show: &mut dyn FnMut(&Entry));

    /// Shows one entry, when it is here.
    fn find(&self, at: EntryRef, show: &mut dyn FnMut(&Entry)) {
        self.each(&mut |entry| {
            if entry.at == at {
                show(entry);
            }
        });
    }

    /// What an office handed over: as of when, and by which device. `None`: everything here came by itself.
    fn judged(&self) -> Option<(Stamp, DeviceId)> {
        None
    }

    /// Shows runs of days, first and last, on which an engine was in steam by records that are not all here.
    fn steam(&self, _engine: EngineId, _show: &mut dyn FnMut(Day, Day)) {}

    /// Whether records about an engine are damaged or missing, here or where they came from; and of which device, where
    /// that is known.
    fn doubt(&self, _engine: EngineId) -> Option<Option<DeviceId>> {
        None
    }
}

/// Why an entry could not be made durable, as a person is told it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unstored {
    /// The memory failed. Nothing is written until it was looked at again from the start.
    Failed,
    /// There is no room. Nothing was begun.
    Full,
    /// The office has seen records of this device that it no longer holds; its counts can't be used again.
    Behind,
}

impl fmt::Display for Unstored {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Unstored::Failed => "It could not be stored. Nothing is recorded: write it on paper",
            Unstored::Full => {
                "This device is full. Nothing is recorded: put the card in, have the office take it in, and put it in \
                 again; that makes room. Till then write on paper"
            }
            Unstored::Behind => {
                "This device lost records that the office has. Nothing is recorded: take it to the office; write on paper"
            }
        })
    }
}

impl From<core::convert::Infallible> for Unstored {
    fn from(never: core::convert::Infallible) -> Unstored {
        match never {}
    }
}

/// A journal: what was recorded can be read, and more be made durable.
pub trait Journal: Store<Error: Into<Unstored>> + Records {}

impl<J: Store<Error: Into<Unstored>> + Records> Journal for J {}

/// What a PIN comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PinAnswer {
    /// It is theirs.
    Right,
    /// It is not.
    Wrong {
        /// Further tries before a wait.
        left: u32,
    },
    /// Too many wrong tries.
    Wait {
        /// The first moment at which another try is taken.
        until: Stamp,
    },
    /// The person has none on this device.
    NoPin,
}

/// Where PINs are looked at; a wrong try is kept before it is answered.
pub trait Pins {
    /// Whether the digits are the person's PIN.
    fn check(&mut self, person: PersonId, digits: &str, now: Stamp) -> PinAnswer;
}

/// A device: its clock, its buttons, its display. The journal and the PINs are given to the program once.
pub trait Hand {
    /// The display, from 128 by 64 to 400 by 240 dots.
    type Display: DrawTarget<Color = BinaryColor>;

    /// Now.
    fn moment(&self) -> Moment;

    /// Which buttons are down.
    fn contacts(&mut self) -> Contacts;

    /// The display.
    fn display(&mut self) -> &mut Self::Display;
}
