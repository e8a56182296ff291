//! The rows of a compiled pack's tables: fixed width, little-endian, each type with its bytes both ways.
//!
//! Reading a row answers `None` for a value this version does not know; nothing here panics.

use crate::due::{LastDay, Rule as DueRule};
use crate::ident::{DueId, EventId, FeatureId, FittingId, GradeId, SequenceId, Set, StateId, StepId, TextId};
use crate::units::{Reading, Unit};

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

/// Up to four limits: which are given, and where the first lies in the table of limits.
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

/// How bad a defect is. Larger is worse.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
#[repr(u8)]
pub enum DefectGrade {
    /// To be known; stops nothing.
    Note = 1,
    /// The engine may leave only under a written restriction with an end.
    Restricted = 2,
    /// The engine may not leave.
    Stopping = 3,
}

impl DefectGrade {
    /// The grade with this number in packs.
    pub fn from_number(number: u8) -> Option<DefectGrade> {
        [DefectGrade::Note, DefectGrade::Restricted, DefectGrade::Stopping].into_iter().find(|g| *g as u8 == number)
    }
}

/// What a step asks, as stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KindRow {
    /// Done or not right.
    Check,
    /// A value. Limit slots: low, high, warn low, warn high.
    Reading {
        /// The unit that is asked for.
        unit: Unit,
        /// The limits.
        limits: LimitSlots,
    },
    /// A number to compare with the register's.
    Identity {
        /// Which fitting's number.
        fitting: FittingId,
    },
    /// One of several options (rows of the options table).
    Choice {
        /// The options.
        options: Span,
    },
    /// Start, hold, end. Limit slots: at least, at most, greatest fall, least rise.
    Timed {
        /// The unit read at start and end, when something is read.
        unit: Option<Unit>,
        /// The limits.
        limits: LimitSlots,
    },
    /// A due date worked out from the register and accepted by a person.
    Due {
        /// Which date.
        due: DueId,
    },
    /// Ordered parts (rows of the parts table).
    Procedure {
        /// The parts.
        parts: Span,
    },
    /// Signed with a PIN.
    Signature {
        /// Whether it is a review: accept, send back, stop.
        review: bool,
    },
}

/// Where no number applies.
const NONE: u8 = u8::MAX;

impl KindRow {
    fn read(kind: u8, detail: u8, unit: u8, sub: Span, limits: LimitSlots) -> Option<KindRow> {
        Some(match kind {
            0 => KindRow::Check,
            1 => KindRow::Reading { unit: Unit::from_number(unit)?, limits },
            2 => KindRow::Identity { fitting: FittingId(detail) },
            3 => KindRow::Choice { options: sub },
            4 if unit == NONE => KindRow::Timed { unit: None, limits },
            4 => KindRow::Timed { unit: Some(Unit::from_number(unit)?), limits },
            5 => KindRow::Due { due: DueId(detail) },
            6 => KindRow::Procedure { parts: sub },
            7 if detail < 2 => KindRow::Signature { review: detail == 1 },
            _ => return None,
        })
    }

    /// Kind, detail, unit, rows of a further table, limits.
    fn fields(self) -> (u8, u8, u8, Span, LimitSlots) {
        let (span, slots) = (Span::default(), LimitSlots::default());
        match self {
            KindRow::Check => (0, 0, NONE, span, slots),
            KindRow::Reading { unit, limits } => (1, 0, unit as u8, span, limits),
            KindRow::Identity { fitting } => (2, fitting.0, NONE, span, slots),
            KindRow::Choice { options } => (3, 0, NONE, options, slots),
            KindRow::Timed { unit, limits } => (4, 0, unit.map_or(NONE, |u| u as u8), span, limits),
            KindRow::Due { due } => (5, due.0, NONE, span, slots),
            KindRow::Procedure { parts } => (6, 0, NONE, parts, slots),
            KindRow::Signature { review } => (7, u8::from(review), NONE, span, slots),
        }
    }
}

/// One step's rules.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StepRow {
    /// Its permanent number.
    pub id: StepId,
    /// The sequence it belongs to.
    pub sequence: SequenceId,
    /// Its stage, counted within the sequence from 0.
    pub stage: u8,
    /// What it asks.
    pub kind: KindRow,
    /// Other sequences, events and fitness may use its proof.
    pub shared: bool,
    /// A person may mark it not applicable, with a reason.
    pub skippable: bool,
    /// Done, it finishes the sheet.
    pub closes: bool,
    /// The defect that "not right" opens.
    pub fails: Option<DefectGrade>,
    /// The grade that may answer it.
    pub by: GradeId,
    /// Minutes it usually takes.
    pub minutes: u8,
    /// The feature without which it does not apply.
    pub applies: Option<FeatureId>,
    /// Seconds its proof lives; 0: as long as the sheet, until voided.
    pub life_seconds: u32,
    /// What must hold first.
    pub needs: Span,
    /// Steps whose proofs it takes away.
    pub voids: Span,
    /// States that hold after it.
    pub sets: Set,
    /// States that no longer hold after it.
    pub clears: Set,
    /// Title; what to do, caution and source are the next three texts.
    pub text: TextId,
}

const SHARED: u8 = 1;
const SKIPPABLE: u8 = 2;
const CLOSES: u8 = 4;

impl Row for StepRow {
    const WIDTH: usize = 34;

    fn read(row: &[u8]) -> Option<Self> {
        let mut w = Walk(row);
        let (id, sequence, stage) = (StepId(w.u16()?), SequenceId(w.u8()?), w.u8()?);
        let (kind, detail, unit, flags, fails) = (w.u8()?, w.u8()?, w.u8()?, w.u8()?, w.u8()?);
        let (by, minutes, applies, life_seconds) = (GradeId(w.u8()?), w.u8()?, w.u8()?, w.u32()?);
        let (needs_first, needs_len, voids_len, voids_first) = (w.u16()?, w.u8()?, w.u8()?, w.u16()?);
        let (sets, clears) = (w.set16()?, w.set16()?);
        let (sub_first, sub_len, mask, limit_first) = (w.u16()?, w.u8()?, w.u8()?, w.u16()?);
        let sub = Span { first: sub_first, len: sub_len };
        let limits = LimitSlots { mask, first: limit_first };
        if fails > DefectGrade::Stopping as u8 {
            return None;
        }
        Some(StepRow {
            id,
            sequence,
            stage,
            kind: KindRow::read(kind, detail, unit, sub, limits)?,
            shared: flags & SHARED != 0,
            skippable: flags & SKIPPABLE != 0,
            closes: flags & CLOSES != 0,
            fails: DefectGrade::from_number(fails),
            by,
            minutes,
            applies: (applies != 0).then_some(FeatureId(applies)),
            life_seconds,
            needs: Span { first: needs_first, len: needs_len },
            voids: Span { first: voids_first, len: voids_len },
            sets,
            clears,
            text: TextId(w.u16()?),
        })
    }

    fn write(&self, out: &mut [u8]) {
        let (kind, detail, unit, sub, limits) = self.kind.fields();
        let flag = |on: bool, bit: u8| if on { bit } else { 0 };
        let flags = flag(self.shared, SHARED) | flag(self.skippable, SKIPPABLE) | flag(self.closes, CLOSES);
        fill(out)
            .u16(self.id.0)
            .u8(self.sequence.0)
            .u8(self.stage)
            .bytes(&[kind, detail, unit, flags, self.fails.map_or(0, |g| g as u8), self.by.0, self.minutes])
            .u8(self.applies.map_or(0, |f| f.0))
            .u32(self.life_seconds)
            .u16(self.needs.first)
            .bytes(&[self.needs.len, self.voids.len])
            .u16(self.voids.first)
            .set16(self.sets)
            .set16(self.clears)
            .u16(sub.first)
            .bytes(&[sub.len, limits.mask])
            .u16(limits.first)
            .u16(self.text.0);
    }
}

/// One interlock. Limits are places in the table of limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RuleRow {
    /// The step was done on this sheet.
    After(StepId),
    /// The step's proof is alive, here perhaps for a shorter time.
    Fresh(StepId, Option<u16>),
    /// The step's proof is alive and its reading within.
    Within(StepId, Option<u16>, Option<u16>),
    /// Two live readings differ by no more than the limit.
    Agree(StepId, StepId, u16),
    /// So long has passed since the step.
    Wait(StepId, u16),
    /// The first step's reading is not below the second's computed value.
    AtLeast(StepId, StepId),
    /// The person answering holds the grade.
    Grade(GradeId),
    /// The person answering is not who did the step.
    Different(StepId),
    /// The person answering has answered nothing on this sheet.
    DifferentEveryone,
    /// A second person of the grade is named as present.
    With(GradeId),
    /// The engine's due is in date.
    InDate(DueId),
    /// No open defect of this grade or worse.
    NoDefect(DefectGrade),
    /// The engine is in the state.
    State(StateId),
    /// The engine is not in the state.
    StateNot(StateId),
    /// Nobody holds a tag on the engine.
    NoTag,
}

/// One requirement: a rule, alone or as one of a group of which one must hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NeedRow {
    /// The rule.
    pub rule: RuleRow,
    /// 0: on its own; neighbours with the same number are alternatives.
    pub group: u8,
}

impl Row for NeedRow {
    const WIDTH: usize = 8;

    fn read(row: &[u8]) -> Option<Self> {
        let mut w = Walk(row);
        let (kind, group, a, b, c) = (w.u8()?, w.u8()?, w.u16()?, w.u16()?, w.u16()?);
        let (step, small) = (StepId(a), u8::try_from(a).ok());
        let place = |n: u16| n.checked_sub(1);
        let rule = match kind {
            0 => RuleRow::After(step),
            1 => RuleRow::Fresh(step, place(c)),
            2 => RuleRow::Within(step, place(b), place(c)),
            3 => RuleRow::Agree(step, StepId(b), place(c)?),
            4 => RuleRow::Wait(step, place(c)?),
            5 => RuleRow::AtLeast(step, StepId(b)),
            6 => RuleRow::Grade(GradeId(small?)),
            7 => RuleRow::Different(step),
            8 => RuleRow::DifferentEveryone,
            9 => RuleRow::With(GradeId(small?)),
            10 => RuleRow::InDate(DueId(small?)),
            11 => RuleRow::NoDefect(DefectGrade::from_number(small?)?),
            12 => RuleRow::State(StateId(small?)),
            13 => RuleRow::StateNot(StateId(small?)),
            14 => RuleRow::NoTag,
            _ => return None,
        };
        Some(NeedRow { rule, group })
    }

    fn write(&self, out: &mut [u8]) {
        let place = |p: Option<u16>| p.map_or(0, |n| n.saturating_add(1));
        let (kind, a, b, c) = match self.rule {
            RuleRow::After(s) => (0, s.0, 0, 0),
            RuleRow::Fresh(s, within) => (1, s.0, 0, place(within)),
            RuleRow::Within(s, low, high) => (2, s.0, place(low), place(high)),
            RuleRow::Agree(x, y, within) => (3, x.0, y.0, place(Some(within))),
            RuleRow::Wait(s, time) => (4, s.0, 0, place(Some(time))),
            RuleRow::AtLeast(reading, derived) => (5, reading.0, derived.0, 0),
            RuleRow::Grade(g) => (6, g.0.into(), 0, 0),
            RuleRow::Different(s) => (7, s.0, 0, 0),
            RuleRow::DifferentEveryone => (8, 0, 0, 0),
            RuleRow::With(g) => (9, g.0.into(), 0, 0),
            RuleRow::InDate(d) => (10, d.0.into(), 0, 0),
            RuleRow::NoDefect(g) => (11, (g as u8).into(), 0, 0),
            RuleRow::State(s) => (12, s.0.into(), 0, 0),
            RuleRow::StateNot(s) => (13, s.0.into(), 0, 0),
            RuleRow::NoTag => (14, 0, 0, 0),
        };
        fill(out).u8(kind).u8(self.group).u16(a).u16(b).u16(c);
    }
}

/// What one part of a procedure asks. Places are rows of the table of limits; parts count from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AskRow {
    /// Seen as described.
    Seen,
    /// A value within limits. Slots: low, high.
    Reading {
        /// The unit asked for.
        unit: Unit,
        /// The limits.
        limits: LimitSlots,
    },
    /// A measured time. Slots: at least, at most.
    Time {
        /// The limits.
        limits: LimitSlots,
    },
    /// A reading that agrees with an earlier part's. Slot: tolerance.
    Same {
        /// The unit asked for.
        unit: Unit,
        /// The earlier part.
        part: u8,
        /// The limit.
        limits: LimitSlots,
    },
    /// A reading that has risen since an earlier part's. Slots: least rise, for each such time.
    Rise {
        /// The unit asked for.
        unit: Unit,
        /// The earlier reading part.
        part: u8,
        /// The earlier time part.
        timed_by: u8,
        /// The limits.
        limits: LimitSlots,
    },
}

/// One part of a procedure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PartRow {
    /// What it asks.
    pub ask: AskRow,
    /// What to do.
    pub text: TextId,
}

impl Row for PartRow {
    const WIDTH: usize = 9;

    fn read(row: &[u8]) -> Option<Self> {
        let mut w = Walk(row);
        let (kind, unit, part, timed_by) = (w.u8()?, w.u8()?, w.u8()?, w.u8()?);
        let limits = LimitSlots { mask: w.u8()?, first: w.u16()? };
        let unit = || Unit::from_number(unit);
        let ask = match kind {
            0 => AskRow::Seen,
            1 => AskRow::Reading { unit: unit()?, limits },
            2 => AskRow::Time { limits },
            3 => AskRow::Same { unit: unit()?, part, limits },
            4 => AskRow::Rise { unit: unit()?, part, timed_by, limits },
            _ => return None,
        };
        Some(PartRow { ask, text: TextId(w.u16()?) })
    }

    fn write(&self, out: &mut [u8]) {
        let none = LimitSlots::default();
        let (kind, unit, part, timed_by, limits) = match self.ask {
            AskRow::Seen => (0, NONE, 0, 0, none),
            AskRow::Reading { unit, limits } => (1, unit as u8, 0, 0, limits),
            AskRow::Time { limits } => (2, NONE, 0, 0, limits),
            AskRow::Same { unit, part, limits } => (3, unit as u8, part, 0, limits),
            AskRow::Rise { unit, part, timed_by, limits } => (4, unit as u8, part, timed_by, limits),
        };
        fill(out).bytes(&[kind, unit, part, timed_by, limits.mask]).u16(limits.first).u16(self.text.0);
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
    /// Its name; the source is the next text.
    pub text: TextId,
}

impl Row for DueRow {
    const WIDTH: usize = 10;

    fn read(row: &[u8]) -> Option<Self> {
        let mut w = Walk(row);
        let id = DueId(w.u8()?);
        let (months, days, steam_days) = (w.u16()?, u32::from(w.u16()?), u32::from(w.u16()?));
        let last_day = match w.u8()? {
            0 => LastDay::Anniversary,
            1 => LastDay::DayBefore,
            _ => return None,
        };
        Some(DueRow { id, rule: DueRule { months, days, steam_days, last_day }, text: TextId(w.u16()?) })
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
