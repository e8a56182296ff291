//! What the office knows and the verdict asks: people's grades, an engine's fittings and dates, local time.
//!
//! The register is folded from entries like everything else; the core only asks it questions, so that a depot may keep
//! it in maps and a handheld in a table.

use crate::ident::{DueId, EngineId, FittingId, GradeId, PersonId, Set};
use crate::stamp::{Day, Stamp, Zone};
use crate::units::Reading;

/// How a person stands in a grade.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Competence {
    /// Never granted, or withdrawn.
    None,
    /// Held without end.
    Held,
    /// Held through this day.
    Until(Day),
}

/// What an engine has.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct EngineFacts {
    /// Features by number.
    pub features: Set,
    /// Visible glass from nut to nut, millimetres, when known.
    pub glass_mm: Option<u16>,
    /// Working pressure, when known.
    pub working: Option<Reading>,
}

/// From when a due date counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DueRecord {
    /// The day it was last done.
    pub done_on: Day,
    /// Days in steam since then that the records do not count.
    pub days_before: u16,
    /// The last day of a written postponement.
    pub postponed_to: Option<Day>,
}

/// Questions to the register, answered as of the position of the entry or moment judged.
pub trait Register {
    /// How `person` stands in exactly this grade.
    fn competence(&self, person: PersonId, grade: GradeId) -> Competence;
    /// What the engine has; `None` when the engine is not known.
    fn engine(&self, engine: EngineId) -> Option<EngineFacts>;
    /// The number of a fitting, as last fitted.
    fn fitting(&self, engine: EngineId, fitting: FittingId) -> Option<&str>;
    /// From when a due date counts; `None` when nobody has stated it.
    fn due(&self, engine: EngineId, due: DueId) -> Option<DueRecord>;
    /// Distinct local days in steam from `first` through `last`, both counted, as of `now`.
    fn steam_days(&self, engine: EngineId, first: Day, last: Day, now: Stamp) -> u32;
    /// Local time.
    fn zone(&self) -> &Zone;
}
