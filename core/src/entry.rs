//! An entry: one thing one person did, at one time, on one device. Nothing is ever edited or deleted; corrections are
//! entries.
//!
//! The bytes of an entry are its postcard form (`FORMAT.md`, section 4). Variants are only ever appended.

use heapless::{String, Vec};
use serde::{Deserialize, Serialize};

use crate::boiler::record::{BoilerRecord, ProductRecord, Sections};
use crate::ident::{
    DefectId, DeviceId, DeviceKey, DueId, EngineId, EntryRef, EventId, FittingId, GradeId, PackHash, PersonId,
    ProductId, RoadId, SequenceId, Set, SheetId, StepId,
};
use crate::limits::{DEVICES_SEEN, FIGURE_INPUTS, FITTING_NUMBER, NAME, WORDS};
use crate::pack::rows::DefectGrade;
use crate::stamp::{Clock, Day, Hlc, Stamp, ZoneRow};
use crate::units::Reading;

/// Free words of a person.
pub type Words = String<WORDS>;
/// A name.
pub type Name = String<NAME>;
/// A number stamped on a fitting.
pub type FittingNumber = String<FITTING_NUMBER>;

/// One thing someone did.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry {
    /// The writing device and its count.
    pub at: EntryRef,
    /// Its place in the order between devices.
    pub hlc: Hlc,
    /// When it was recorded, by the device's wall clock.
    pub stamp: Stamp,
    /// How far the device trusted that clock.
    pub clock: Clock,
    /// Who did it.
    pub person: PersonId,
    /// What was done.
    pub what: What,
}

/// The order in which entries of all devices are folded: clock, then device, then count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Order {
    /// The hybrid logical clock.
    pub hlc: Hlc,
    /// Breaks ties.
    pub at: EntryRef,
}

impl Entry {
    /// Its place in the merged order.
    pub fn order(&self) -> Order {
        Order { hlc: self.hlc, at: self.at }
    }

    /// The moment it speaks of: when it was done, where that is stated, else when it was recorded.
    pub fn done_at(&self) -> Stamp {
        match &self.what {
            What::Answered { done_at, .. } | What::Happened { done_at, .. } => done_at.unwrap_or(self.stamp),
            _ => self.stamp,
        }
    }

    /// The sheet it belongs to; an opening entry belongs to the sheet it opens.
    pub fn sheet(&self) -> Option<SheetId> {
        match &self.what {
            What::SheetOpened { .. } => Some(self.at),
            What::Answered { sheet, .. } | What::Struck { sheet, .. } | What::Abandoned { sheet, .. } => Some(*sheet),
            What::Joined { into, .. } => Some(*into),
            What::DefectOpened { sheet, .. } => *sheet,
            _ => None,
        }
    }
}

/// What was done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum What {
    /// A sheet was opened; its id is this entry.
    SheetOpened {
        /// For this engine.
        engine: EngineId,
        /// To work this sequence.
        sequence: SequenceId,
        /// Under this pack, for good.
        pack: PackHash,
    },
    /// A step, or a part of one, was answered.
    Answered {
        /// On this sheet.
        sheet: SheetId,
        /// The step.
        step: StepId,
        /// The answer.
        answer: Answer,
        /// When it was done, if not just now.
        done_at: Option<Stamp>,
        /// The second person who was there.
        with: Option<PersonId>,
        /// The answer that stood on the step when this one was given, as far as the device knew.
        over: Option<EntryRef>,
    },
    /// An answer was struck out; it stays readable.
    Struck {
        /// On this sheet.
        sheet: SheetId,
        /// The step.
        step: StepId,
        /// The answer's entry.
        entry: EntryRef,
        /// Why.
        reason: Words,
    },
    /// Two sheets, opened apart for the same work, are one from here on.
    Joined {
        /// The sheet that goes on.
        into: SheetId,
        /// The sheet that is folded into it.
        from: SheetId,
    },
    /// A sheet will not be finished.
    Abandoned {
        /// The sheet.
        sheet: SheetId,
        /// Why.
        reason: Words,
    },
    /// A note for whoever has the engine next.
    HandedOver {
        /// The engine.
        engine: EngineId,
        /// The note.
        words: Words,
    },
    /// Something happened to an engine.
    Happened {
        /// The engine.
        engine: EngineId,
        /// What, by the adopted pack's number.
        event: EventId,
        /// In words.
        words: Words,
        /// When, if not just now.
        done_at: Option<Stamp>,
    },
    /// A defect was reported; its id is this entry.
    DefectOpened {
        /// On this engine.
        engine: EngineId,
        /// Found while working this sheet.
        sheet: Option<SheetId>,
        /// Found at this step.
        step: Option<StepId>,
        /// How bad.
        grade: DefectGrade,
        /// In words.
        words: Words,
    },
    /// The engine may leave with this defect, as written, until a day.
    DefectRestricted {
        /// The defect.
        defect: DefectId,
        /// The restriction.
        words: Words,
        /// The last day.
        until: Day,
    },
    /// A defect was put right.
    DefectCleared {
        /// The defect.
        defect: DefectId,
        /// The grade in which it is cleared.
        grade: GradeId,
        /// What was done.
        words: Words,
    },
    /// A requirement is waived in writing until a day.
    Dispensed {
        /// For this engine.
        engine: EngineId,
        /// What is waived.
        what: Dispensed,
        /// Why, and under what conditions.
        words: Words,
        /// The last day.
        until: Day,
    },
    /// The person hung their tag on the engine: nothing may be moved.
    TagHung {
        /// The engine.
        engine: EngineId,
    },
    /// The person took their own tag off.
    TagLifted {
        /// The engine.
        engine: EngineId,
    },
    /// A fact of the register.
    Registered(Fact),
}

/// What a written dispensation waives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Dispensed {
    /// The proof of a step, for fitness.
    Step(StepId),
    /// A due date.
    Due(DueId),
}

/// An answer to a step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Answer {
    /// Done as described.
    Done,
    /// Looked at and not right.
    NotRight {
        /// What was found.
        words: Words,
    },
    /// A value.
    Reading(Reading),
    /// The number found on a fitting.
    Number(FittingNumber),
    /// An option, counted from 0.
    Choice(u8),
    /// A hold was started.
    Began(Option<Reading>),
    /// A hold was ended.
    Ended {
        /// How long it lasted by the device's monotonic clock, tenths of a second.
        tenths: u32,
        /// The value at the end.
        reading: Option<Reading>,
    },
    /// What was computed, as it was shown, is accepted.
    Accepted(Shown),
    /// One part of a procedure.
    Part {
        /// The part, counted from 0.
        part: u8,
        /// What was found.
        found: Found,
    },
    /// The step does not apply today.
    NotApplicable {
        /// Why.
        reason: Words,
    },
    /// Signed.
    Signed {
        /// The pack the signer worked under.
        pack: PackHash,
        /// The last entry of each device that the signer's device had on this sheet.
        seen: Vec<EntryRef, DEVICES_SEEN>,
    },
    /// Reviewed.
    Reviewed {
        /// The outcome.
        outcome: Review,
        /// In words; wanted unless it is accepted.
        words: Words,
        /// As in [`Answer::Signed`].
        seen: Vec<EntryRef, DEVICES_SEEN>,
    },
}

/// What was computed and shown to the person who accepts it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Shown {
    /// A due date.
    Date {
        /// The day it counts from.
        done_on: Day,
        /// Days in steam since then.
        steam_days: u32,
        /// Its last day by the calendar, if it has one.
        last_day: Option<Day>,
        /// Days in steam left (negative: over), if they count.
        steam_days_left: Option<i32>,
    },
    /// A figure.
    Figure {
        /// The readings it is computed from, in the order of the step's inputs.
        inputs: Vec<Reading, FIGURE_INPUTS>,
        /// The result.
        result: Reading,
        /// How often it is done: 1, but for a blowdown in rounds.
        rounds: u8,
    },
}

/// What was found at one part of a procedure.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Found {
    /// Seen as described.
    Seen,
    /// Not as described.
    NotRight {
        /// What was found.
        words: Words,
    },
    /// A value.
    Reading(Reading),
    /// A measured time, tenths of a second.
    Time {
        /// Tenths of a second.
        tenths: u32,
    },
    /// A value that has risen, and the delivery computed from its rise and the time it took.
    Rose {
        /// The value.
        reading: Reading,
        /// The delivery.
        delivery: Reading,
    },
}

/// The outcome of a review.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Review {
    /// Accepted.
    Accepted,
    /// Sent back: the sheet's signatures no longer count.
    SentBack,
    /// The engine is stopped.
    Stopped,
}

/// A fact of the register, as the office states it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Fact {
    /// A person is known by this name.
    Person {
        /// Their number.
        person: PersonId,
        /// Their name.
        name: Name,
    },
    /// A person holds a grade.
    Competence {
        /// The person.
        person: PersonId,
        /// The grade.
        grade: GradeId,
        /// The last day; `None`: without end.
        until: Option<Day>,
        /// False: the grade is withdrawn.
        held: bool,
    },
    /// An engine and what it has.
    Engine {
        /// Its number.
        engine: EngineId,
        /// Its name; may be empty.
        name: Name,
        /// Its features.
        features: Set,
        /// Visible glass from nut to nut, millimetres; 0: not known.
        glass_mm: u16,
        /// Working pressure.
        working: Option<Reading>,
    },
    /// The number of a fitting, as fitted.
    Fitted {
        /// The engine.
        engine: EngineId,
        /// Which fitting.
        fitting: FittingId,
        /// Its number.
        number: FittingNumber,
    },
    /// What a due date counts from was done.
    DueDone {
        /// The engine.
        engine: EngineId,
        /// Which date.
        due: DueId,
        /// On this day.
        on: Day,
        /// Days in steam since then that no entry of these records counts.
        days_before: u16,
    },
    /// A due date is postponed in writing.
    DuePostponed {
        /// The engine.
        engine: EngineId,
        /// Which date.
        due: DueId,
        /// The last day of the postponement.
        until: Day,
        /// Why, and by whom.
        words: Words,
    },
    /// This pack's fitness rules and events hold from here on.
    PackAdopted {
        /// The pack.
        pack: PackHash,
    },
    /// Local time: further rows of the table. A row replaces what was there from its moment on.
    LocalTime {
        /// The rows, in rising order.
        rows: Vec<ZoneRow, 16>,
    },
    /// An engine is booked for a turn.
    Turn {
        /// The engine.
        engine: EngineId,
        /// The turn's name.
        name: Name,
        /// When it is booked off shed.
        off_shed: Stamp,
        /// The road it works; `None`: the one the engine usually works.
        road: Option<RoadId>,
    },
    /// What a device is called.
    Device {
        /// The device.
        device: DeviceId,
        /// Its name.
        name: Name,
    },
    /// An engine's boiler has these measures.
    Boiler {
        /// The engine.
        engine: EngineId,
        /// Its measures.
        boiler: BoilerRecord,
    },
    /// A road as engines travel it. Its sections follow in [`Fact::RoadSections`]; until all are there it is not known.
    Road {
        /// Its number.
        road: RoadId,
        /// Its name.
        name: Name,
        /// Gradient, chimney end uphill positive, where the glass is read before leaving, millionths.
        start_millionths: i32,
        /// Water used and not fed again, tenths of a litre for each kilometre.
        used_tenth_l_per_km: u16,
        /// How many sections it has.
        sections: u16,
    },
    /// A run of a road's sections.
    RoadSections {
        /// The road.
        road: RoadId,
        /// The place of the first, from 0.
        first: u16,
        /// The sections.
        sections: Sections,
    },
    /// The road an engine usually works.
    UsualRoad {
        /// The engine.
        engine: EngineId,
        /// The road; `None`: none.
        road: Option<RoadId>,
    },
    /// A treatment product as it is bought.
    Product {
        /// Which.
        product: ProductId,
        /// Strength and measure.
        bought: ProductRecord,
    },
    /// The railway's feed water.
    FeedWater {
        /// Dissolved solids.
        solids: Reading,
        /// Temperature in the tank.
        temperature: Reading,
    },
    /// The air's pressure at the place, which gauges take as zero.
    Air {
        /// Pascals.
        pascals: u32,
    },
    /// A device's signatures are made with this key.
    DeviceKey {
        /// The device.
        device: DeviceId,
        /// Its public key.
        key: DeviceKey,
        /// The key is withdrawn: what was recorded after this moment does not count.
        until: Option<Stamp>,
    },
}

/// Why bytes are no entry, or an entry does not fit its buffer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unreadable {
    /// The bytes are no entry of a version this code knows.
    Form,
    /// Bytes are left over behind the entry.
    Trailing {
        /// How many.
        left: usize,
    },
}

impl Entry {
    /// Writes the entry to `out` and answers the bytes it takes.
    ///
    /// # Errors
    /// When `out` is too short; [`crate::limits::ENTRY_BYTES`] always suffices.
    pub fn encode<'o>(&self, out: &'o mut [u8]) -> Result<&'o [u8], Unreadable> {
        postcard::to_slice(self, out).map(|used| &*used).map_err(|_| Unreadable::Form)
    }

    /// Reads an entry that fills `bytes` exactly.
    ///
    /// # Errors
    /// When it does not.
    pub fn decode(bytes: &[u8]) -> Result<Entry, Unreadable> {
        let (entry, rest) = postcard::take_from_bytes(bytes).map_err(|_| Unreadable::Form)?;
        if rest.is_empty() { Ok(entry) } else { Err(Unreadable::Trailing { left: rest.len() }) }
    }
}

/// `text` as bounded words.
///
/// # Errors
/// When it is longer than `N` bytes; says how long it is.
pub fn bounded<const N: usize>(text: &str) -> Result<String<N>, TooLong> {
    String::try_from(text).map_err(|_| TooLong { got: text.len(), most: N })
}

/// A text longer than its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TooLong {
    /// Bytes given.
    pub got: usize,
    /// Bytes allowed.
    pub most: usize,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::boiler::record::{SECTIONS, SectionRecord};
    use crate::limits::ENTRY_BYTES;

    fn entry(what: What) -> Entry {
        let device = DeviceId([0xff; 8]);
        Entry {
            at: EntryRef { device, seq: u32::MAX },
            hlc: Hlc(u64::MAX),
            stamp: Stamp(i64::MIN),
            clock: Clock::Doubted { boot: u16::MAX },
            person: PersonId(u16::MAX),
            what,
        }
    }

    /// The largest variants: a review with every device seen, a table of local time, a run of a road's sections.
    #[test]
    fn largest_entry_fits() {
        let at = EntryRef { device: DeviceId([0xff; 8]), seq: u32::MAX };
        let words = Words::try_from(core::str::from_utf8(&[b'w'; WORDS]).unwrap()).unwrap();
        let seen: Vec<EntryRef, DEVICES_SEEN> = core::iter::repeat_n(at, DEVICES_SEEN).collect();
        let answer = Answer::Reviewed { outcome: Review::Stopped, words, seen };
        let review = entry(What::Answered {
            sheet: at,
            step: StepId(u16::MAX),
            answer,
            done_at: Some(Stamp(i64::MIN)),
            with: Some(PersonId(u16::MAX)),
            over: Some(at),
        });
        let row = ZoneRow { from: Stamp(i64::MIN), offset_minutes: i16::MIN };
        let zone = entry(What::Registered(Fact::LocalTime { rows: core::iter::repeat_n(row, 16).collect() }));
        let section = SectionRecord {
            metres: u32::MAX,
            gradient_millionths: i32::MIN,
            acceleration_mm_s2: i16::MIN,
            bunker_first: true,
            cant_ten_thousandths: i16::MIN,
        };
        let sections = core::iter::repeat_n(section, SECTIONS).collect();
        let road = entry(What::Registered(Fact::RoadSections { road: RoadId(u8::MAX), first: u16::MAX, sections }));
        for largest in [review, zone, road] {
            let mut buffer = [0; ENTRY_BYTES];
            let bytes = largest.encode(&mut buffer).unwrap();
            assert_eq!(Entry::decode(bytes), Ok(largest));
        }
    }

    #[test]
    fn left_over_bytes_are_named() {
        let mut buffer = [0; ENTRY_BYTES];
        let used = entry(What::TagHung { engine: EngineId(4) }).encode(&mut buffer).unwrap().len();
        assert_eq!(Entry::decode(&buffer[..used + 2]), Err(Unreadable::Trailing { left: 2 }));
        assert_eq!(Entry::decode(&buffer[..used - 1]), Err(Unreadable::Form));
    }
}
