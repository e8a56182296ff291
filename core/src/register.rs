//! What the office knows and the verdict asks: people's grades, an engine's fittings and dates, local time.
//!
//! The register is folded from entries like everything else; the core only asks it questions, so that a depot may keep
//! it in maps and a handheld in a table.

use crate::boiler::level::Tilt;
use crate::boiler::pressure::Atmosphere;
use crate::boiler::road::Point;
use crate::boiler::shape::Vessel;
use crate::boiler::water::dose::Product;
use crate::ident::{DueId, EngineId, FittingId, GradeId, PersonId, ProductId, RoadId, Set};
use crate::stamp::{Day, Stamp, Zone};
use crate::units::{Own, Reading};

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

impl EngineFacts {
    /// The measures of which readings may be shares.
    pub fn own(&self) -> Own {
        Own { glass_mm: self.glass_mm, working: self.working }
    }
}

/// An engine's boiler.
#[derive(Clone, Copy, Debug)]
pub struct BoilerFacts<'a> {
    /// Its shape.
    pub vessel: &'a Vessel,
    /// How much the glass shows too much while the regulator is open, mm.
    pub swell_mm: f64,
}

/// A road as an engine travels it.
#[derive(Clone, Copy, Debug)]
pub struct RoadFacts<'a> {
    /// Its number.
    pub road: RoadId,
    /// Its places, in order.
    pub points: &'a [Point],
    /// How the engine stands where the glass is read before leaving.
    pub start: Tilt,
    /// Water used and not fed again, l for each kilometre.
    pub used_l_per_km: f64,
}

/// The railway's feed water.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FeedWater {
    /// Dissolved solids, mg/l.
    pub solids_mg_l: f64,
    /// Temperature in the tank, °C.
    pub celsius: f64,
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
    /// The engine's boiler, when its measures are stated and hold together.
    fn boiler(&self, _engine: EngineId) -> Option<BoilerFacts<'_>> {
        None
    }
    /// The road of the engine's next turn after `at`, else the one it usually works.
    fn road(&self, _engine: EngineId, _at: Stamp) -> Option<RoadFacts<'_>> {
        None
    }
    /// A treatment product, as it is bought.
    fn product(&self, _product: ProductId) -> Option<Product> {
        None
    }
    /// The feed water, when it is stated.
    fn feed_water(&self) -> Option<FeedWater> {
        None
    }
    /// The air's pressure at the place; the standard one where none is stated.
    fn air(&self) -> Atmosphere {
        Atmosphere::STANDARD
    }
}
