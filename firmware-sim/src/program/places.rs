//! Where a person is in the program: one place a screen, each with what it needs to be drawn again.

use offshed_core::entry::{Review, Shown};
use offshed_core::ident::{PersonId, StepId};
use offshed_core::reason::Why;
use offshed_core::stamp::Stamp;

use super::entry::{LetterEntry, ValueEntry};
use crate::card::report::CardReport;
use crate::hand::{PinAnswer, Unstored};

/// What a value is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Valued {
    /// A reading step.
    Reading,
    /// The start of a hold.
    Began,
    /// Its end, after this time.
    Ended { tenths: u32 },
    /// A part of a procedure.
    Part,
}

/// What a measured time is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Timed {
    /// A hold that was started.
    Hold,
    /// A part of a procedure: ready.
    Ready,
    /// A part: running since this moment of the rising clock.
    Runs { since_ms: u64 },
    /// A part: stopped after this time.
    Stopped { tenths: u32 },
}

/// What words are chosen for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Worded {
    /// A step is not right.
    NotRight(StepId),
    /// A step does not apply.
    NotApplicable(StepId),
    /// A review with this outcome.
    Reviewed(StepId, Review),
    /// The sheet is given up.
    GivenUp,
}

/// Why a person is chosen, or gives a PIN.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Asked {
    /// To work from here on.
    SignIn,
    /// To be there at a step.
    With(StepId),
    /// To sign a step.
    Sign(StepId),
    /// To review a step, with words by their number.
    Review(StepId, Review, Option<u8>),
}

/// What a person is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Told {
    /// The rules refuse it.
    Refused(Why),
    /// The journal could not make it durable.
    NotDurable(Unstored),
    /// This device's count is used up, or an entry does not fit.
    Unwritable,
    /// Nothing was entered.
    Blank,
    /// What came of a PIN.
    Pin(PinAnswer),
    /// It is recorded, and was found not right.
    NotRight(Why),
    /// The register on this device lacks this many facts.
    Lacks(u16),
    /// What came of a card.
    Card(CardReport),
}

/// A place.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Place {
    /// Engines, and who is signed in.
    Engines { at: usize },
    /// What may be done with the engine.
    Engine { at: usize },
    /// May it leave?
    Fitness { skip: usize },
    /// The boiler at a level, and when it was read; no time: it is tried.
    Boiler { mm: u16, read: Option<Stamp> },
    /// The steps of the sheet.
    Steps { at: usize },
    /// One step.
    Step { step: StepId, skip: usize },
    /// Why it waits.
    Locked { step: StepId, at: usize, skip: usize },
    /// What may be answered.
    Acts { step: StepId, at: usize },
    /// Words to choose.
    Words { of: Worded, at: usize },
    /// Options to choose.
    Options { step: StepId, at: usize },
    /// Outcomes of a review.
    Outcomes { step: StepId, at: usize },
    /// A value.
    Value { step: StepId, of: Valued, entry: ValueEntry },
    /// The number on a fitting.
    Number { step: StepId, entry: LetterEntry },
    /// A measured time.
    Timer { step: StepId, of: Timed },
    /// A figure or date, as it is shown.
    Figure { step: StepId, shown: Result<Shown, Why>, skip: usize },
    /// A signature.
    Confirm { asked: Asked, skip: usize },
    /// People.
    People { asked: Asked, at: usize },
    /// A PIN.
    Pin { person: PersonId, asked: Asked, entry: LetterEntry },
    /// Something to be told.
    Told { told: Told, skip: usize },
}
