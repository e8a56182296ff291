//! The rows of a compiled pack's tables: fixed width, little-endian, each type with its bytes both ways.
//!
//! Reading a row answers `None` for a value this version does not know; nothing here panics.

mod figure;
mod need;
mod part;
mod step;

pub use figure::{Figure, Input, Param};
pub use need::{NeedRow, RuleRow};
pub use part::{AskRow, PartRow};
pub use step::{DefectGrade, KindRow, StepRow};

use crate::due::{LastDay, Rule as DueRule};
use crate::ident::{DueId, EventId, FeatureId, GradeId, SequenceId, Set, StepId, TextId};
use crate::units::{Reading, Unit};

/// Where no number applies.
const NONE: u8 = u8::MAX;

/// A type stored as one row of `WIDTH` bytes.
pub trait Row: Sized {
    /// Bytes of one row.
    const WIDTH: usize;
    /// Reads a row; `None` when it is short or holds a value this version does not know.
    fn read(row: &[u8]) -> Option<Self>;
    /// Writes the row at the start of `out`; `out` is at least [`Row::WIDTH`] long.
    fn write(&self, out: &mut [u8]);
}

/// Walks a row's bytes.
struct Walk<'a>(&'a [u8]);

impl Walk<'_> {
    fn u8(&mut self) -> Option<u8> {
        let (first, rest) = self.0.split_first()?;
        self.0 = rest;
        Some(*first)
    }

    fn u16(&mut self) -> Option<u16> {
        Some(u16::from_le_bytes([self.u8()?, self.u8()?]))
    }

    fn u32(&mut self) -> Option<u32> {
        Some(u32::from(self.u16()?) | u32::from(self.u16()?) << 16)
    }

    fn set16(&mut self) -> Option<Set> {
        Some(Set(u64::from(self.u16()?)))
    }

    fn set32(&mut self) -> Option<Set> {
        Some(Set(u64::from(self.u32()?)))
    }
}

/// Fills a row's bytes.
struct Fill<'a> {
    out: &'a mut [u8],
    at: usize,
}

impl Fill<'_> {
    fn bytes(&mut self, bytes: &[u8]) -> &mut Self {
        for byte in bytes {
            if let Some(place) = self.out.get_mut(self.at) {
                *place = *byte;
            }
            self.at += 1;
        }
        self
    }

    fn u8(&mut self, value: u8) -> &mut Self {
        self.bytes(&[value])
    }

    fn u16(&mut self, value: u16) -> &mut Self {
        self.bytes(&value.to_le_bytes())
    }

    fn u32(&mut self, value: u32) -> &mut Self {
        self.bytes(&value.to_le_bytes())
    }

    fn set16(&mut self, set: Set) -> &mut Self {
        self.u16(set.0 as u16)
    }

    fn set32(&mut self, set: Set) -> &mut Self {
        self.u32(set.0 as u32)
    }
}

fn fill(out: &mut [u8]) -> Fill<'_> {
    Fill { out, at: 0 }
}

/// A run of rows in another table.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Span {
    /// The first row.
    pub first: u16,
    /// How many.
    pub len: u8,
}

impl Span {
    /// The rows' places.
    pub fn places(self) -> core::ops::Range<usize> {
        let first = usize::from(self.first);
        first..first + usize::from(self.len)
    }
}

/// Up to eight limits: which are given, and where the first lies in the table of limits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LimitSlots {
    /// Bit n: slot n is given.
    pub mask: u8,
    /// Place of the lowest given slot; the others follow it.
    pub first: u16,
}

impl LimitSlots {
    /// The place of slot `slot` in the table of limits, if it is given.
    pub fn place(self, slot: u8) -> Option<usize> {
        let bit = 1u8.checked_shl(u32::from(slot))?;
        (self.mask & bit != 0).then(|| usize::from(self.first) + (self.mask & (bit - 1)).count_ones() as usize)
    }

    /// How many limits are given.
    pub fn len(self) -> u8 {
        self.mask.count_ones() as u8
    }

    /// Whether none is given.
    pub fn is_empty(self) -> bool {
        self.mask == 0
    }
}

/// A named sequence of steps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SequenceRow {
    /// Its permanent number.
    pub id: SequenceId,
    /// Its steps, in order.
    pub steps: Span,
    /// Its stages, in order.
    pub stages: Span,
    /// Title; the purpose is the next text.
    pub text: TextId,
}

impl Row for SequenceRow {
    const WIDTH: usize = 9;

    fn read(row: &[u8]) -> Option<Self> {
        let mut w = Walk(row);
        Some(SequenceRow {
            id: SequenceId(w.u8()?),
            steps: Span { first: w.u16()?, len: w.u8()? },
            stages: Span { first: w.u16()?, len: w.u8()? },
            text: TextId(w.u16()?),
        })
    }

    fn write(&self, out: &mut [u8]) {
        fill(out)
            .u8(self.id.0)
            .u16(self.steps.first)
            .u8(self.steps.len)
            .u16(self.stages.first)
            .u8(self.stages.len)
            .u16(self.text.0);
    }
}

/// One option of a choice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OptionRow {
    /// Its words.
    pub text: TextId,
    /// Whether choosing it is a proof.
    pub passes: bool,
}

impl Row for OptionRow {
    const WIDTH: usize = 3;

    fn read(row: &[u8]) -> Option<Self> {
        let mut w = Walk(row);
        Some(OptionRow { text: TextId(w.u16()?), passes: w.u8()? != 0 })
    }

    fn write(&self, out: &mut [u8]) {
        fill(out).u16(self.text.0).u8(self.passes.into());
    }
}

impl Row for Reading {
    const WIDTH: usize = 5;

    fn read(row: &[u8]) -> Option<Self> {
        let mut w = Walk(row);
        Some(Reading { milli: w.u32()? as i32, unit: Unit::from_number(w.u8()?)? })
    }

    fn write(&self, out: &mut [u8]) {
        fill(out).u32(self.milli as u32).u8(self.unit as u8);
    }
}

impl Row for StepId {
    const WIDTH: usize = 2;

    fn read(row: &[u8]) -> Option<Self> {
        Walk(row).u16().map(StepId)
    }

    fn write(&self, out: &mut [u8]) {
        fill(out).u16(self.0);
    }
}

/// A text on its own: a stage's title.
impl Row for TextId {
    const WIDTH: usize = 2;

    fn read(row: &[u8]) -> Option<Self> {
        Walk(row).u16().map(TextId)
    }

    fn write(&self, out: &mut [u8]) {
        fill(out).u16(self.0);
    }
}

/// One grade.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GradeRow {
    /// Its number.
    pub id: GradeId,
    /// Grades that a holder may also act in.
    pub covers: Set,
    /// Its name.
    pub text: TextId,
}

impl Row for GradeRow {
    const WIDTH: usize = 7;

    fn read(row: &[u8]) -> Option<Self> {
        let mut w = Walk(row);
        Some(GradeRow { id: GradeId(w.u8()?), covers: w.set32()?, text: TextId(w.u16()?) })
    }

    fn write(&self, out: &mut [u8]) {
        fill(out).u8(self.id.0).set32(self.covers).u16(self.text.0);
    }
}

/// A number with a name: a feature, a state, a numbered fitting.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NamedRow {
    /// Its number.
    pub number: u8,
    /// Its name.
    pub text: TextId,
}

impl Row for NamedRow {
    const WIDTH: usize = 3;

    fn read(row: &[u8]) -> Option<Self> {
        let mut w = Walk(row);
        Some(NamedRow { number: w.u8()?, text: TextId(w.u16()?) })
    }

    fn write(&self, out: &mut [u8]) {
        fill(out).u8(self.number).u16(self.text.0);
    }
}

/// One due date's rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DueRow {
    /// Its number.
    pub id: DueId,
    /// How long it lasts.
    pub rule: DueRule,
    /// The feature without which it does not apply.
    pub applies: Option<FeatureId>,
    /// Its name; the source is the next text.
    pub text: TextId,
}

impl Row for DueRow {
    const WIDTH: usize = 11;

    fn read(row: &[u8]) -> Option<Self> {
        let mut w = Walk(row);
        let id = DueId(w.u8()?);
        let (months, days, steam_days) = (w.u16()?, u32::from(w.u16()?), u32::from(w.u16()?));
        let last_day = match w.u8()? {
            0 => LastDay::Anniversary,
            1 => LastDay::DayBefore,
            _ => return None,
        };
        let applies = w.u8()?;
        Some(DueRow {
            id,
            rule: DueRule { months, days, steam_days, last_day },
            applies: (applies != 0).then_some(FeatureId(applies)),
            text: TextId(w.u16()?),
        })
    }

    fn write(&self, out: &mut [u8]) {
        let last_day = match self.rule.last_day {
            LastDay::Anniversary => 0,
            LastDay::DayBefore => 1,
        };
        let short = |n: u32| u16::try_from(n).unwrap_or(u16::MAX);
        fill(out)
            .u8(self.id.0)
            .u16(self.rule.months)
            .u16(short(self.rule.days))
            .u16(short(self.rule.steam_days))
            .u8(last_day)
            .u8(self.applies.map_or(0, |f| f.0))
            .u16(self.text.0);
    }
}

/// Which proofs an event takes away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Voids {
    /// Every proof of the engine.
    All,
    /// The proofs of these steps.
    Steps(Span),
}

/// One kind of event.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EventRow {
    /// Its number.
    pub id: EventId,
    /// The grade that may report it.
    pub by: GradeId,
    /// Which proofs it takes away.
    pub voids: Voids,
    /// States that hold after it.
    pub sets: Set,
    /// States that no longer hold after it.
    pub clears: Set,
    /// The defect it opens.
    pub opens: Option<DefectGrade>,
    /// Every one of these grades must clear that defect; empty: as any other defect.
    pub cleared_by: Set,
    /// Its name.
    pub text: TextId,
}

impl Row for EventRow {
    const WIDTH: usize = 17;

    fn read(row: &[u8]) -> Option<Self> {
        let mut w = Walk(row);
        let (id, by, all) = (EventId(w.u8()?), GradeId(w.u8()?), w.u8()?);
        let span = Span { first: w.u16()?, len: w.u8()? };
        let (sets, clears, opens) = (w.set16()?, w.set16()?, w.u8()?);
        Some(EventRow {
            id,
            by,
            voids: if all == 1 { Voids::All } else { Voids::Steps(span) },
            sets,
            clears,
            opens: if opens == 0 { None } else { Some(DefectGrade::from_number(opens)?) },
            cleared_by: w.set32()?,
            text: TextId(w.u16()?),
        })
    }

    fn write(&self, out: &mut [u8]) {
        let (all, span) = match self.voids {
            Voids::All => (1, Span::default()),
            Voids::Steps(span) => (0, span),
        };
        fill(out)
            .bytes(&[self.id.0, self.by.0, all])
            .u16(span.first)
            .u8(span.len)
            .set16(self.sets)
            .set16(self.clears)
            .u8(self.opens.map_or(0, |g| g as u8))
            .set32(self.cleared_by)
            .u16(self.text.0);
    }
}
