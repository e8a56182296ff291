//! Rows of a procedure's parts.

use super::{LimitSlots, NONE, Row, Walk, fill};
use crate::ident::TextId;
use crate::units::Unit;

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
    /// A reading that has risen since an earlier part's. Slots: least rise, for each such time, least delivery, highest
    /// reading at which a rise is believed. On an engine whose boiler is known the delivery is judged, where one is
    /// given; else the rise.
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
