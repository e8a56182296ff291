//! Rows of requirements: one interlock each.

use super::{DefectGrade, Row, Walk, fill};
use crate::ident::{DueId, GradeId, StateId, StepId};

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
