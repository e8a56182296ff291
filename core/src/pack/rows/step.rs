//! Rows of steps: what a step asks and under which rules it stands.

use super::{Figure, LimitSlots, NONE, Row, Span, Walk, fill};
use crate::ident::{DueId, FeatureId, FittingId, GradeId, SequenceId, Set, StepId, TextId};
use crate::units::Unit;

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
    /// A figure computed and accepted by a person. Limit slots: low, high, warn low, warn high of the result, then the
    /// figure's own, [`Figure::params`].
    Figure {
        /// What is computed.
        figure: Figure,
        /// The unit of the result.
        unit: Unit,
        /// The steps whose readings it starts from (rows of the table of steps voided or named), [`Figure::inputs`].
        inputs: Span,
        /// The limits.
        limits: LimitSlots,
    },
}

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
            _ => {
                let figure = Figure::from_number(kind, detail)?;
                KindRow::Figure { figure, unit: Unit::from_number(unit)?, inputs: sub, limits }
            }
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
            KindRow::Figure { figure, unit, inputs, limits } => {
                let (kind, detail) = figure.number();
                (kind, detail, unit as u8, inputs, limits)
            }
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
    /// Seconds its proof lives; 0: as long as the sheet, until voided, or through the day.
    pub life_seconds: u32,
    /// Its proof ends with the local day on which it was made.
    pub ends_with_day: bool,
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
const ENDS_WITH_DAY: u8 = 8;

impl StepRow {
    /// Whether its proof lives as long as its sheet: neither time nor the end of a day takes it away.
    pub fn lives_with_sheet(&self) -> bool {
        self.life_seconds == 0 && !self.ends_with_day
    }
}

impl Row for StepRow {
    const WIDTH: usize = 34;

    fn read(row: &[u8]) -> Option<Self> {
        // Looked at once for its length, so that each field below is found without another look.
        let row: &[u8; Self::WIDTH] = row.first_chunk()?;
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
            ends_with_day: flags & ENDS_WITH_DAY != 0,
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
        let flags = flag(self.shared, SHARED)
            | flag(self.skippable, SKIPPABLE)
            | flag(self.closes, CLOSES)
            | flag(self.ends_with_day, ENDS_WITH_DAY);
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
