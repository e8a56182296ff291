//! The boiler picture: an engine's boiler from the side, the water in it for a reading, and what a gradient, a change of
//! speed or the road of its turn makes of it. It looks and records nothing; every figure is the core's.

pub mod drawing;
pub mod gauge;
mod least;
mod start;
mod view;
pub mod way;
pub mod words;

use offshed_core::boiler::level::{Facing, Regulator, Tilt};
use offshed_core::boiler::shape::Vessel;
use offshed_core::ident::{EngineId, SheetId, StepId};
use offshed_core::pack::rows::{Figure, KindRow};
use offshed_core::units::Quantity;

use super::Session;
use super::crew::Place;
pub use start::Standing;
pub(super) use view::title;
pub use view::{BoilerView, Door, Flag, RoadView, doors};

/// Gradients by 1 in so much, from the easiest; the other way they count down.
const LADDER: [u16; 16] = [500, 400, 300, 250, 200, 150, 120, 100, 80, 70, 60, 50, 40, 30, 25, 20];
/// One touch of gaining speed or braking, m/s².
const SPEED_STEP: f64 = 0.05;
/// Most touches of it one way: 0.5 m/s².
const MOST_SPEED: i16 = 10;

/// Something a person did on the page.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Move {
    /// The reading, by so many millimetres.
    Reading(i16),
    /// The regulator was open, or shut, at the reading.
    RegulatorOpen(bool),
    /// The bunker or tender leads, or the chimney.
    BunkerFirst(bool),
    /// Steeper uphill (positive) or downhill, by so many steps of the ladder.
    Slope(i16),
    /// On the level, running steadily.
    Level,
    /// Gaining speed (positive) or braking, by so many steps.
    Speed(i16),
    /// Along the road of the turn, or by a gradient of one's own.
    Along(bool),
    /// To a share of the road.
    Slide(f64),
    /// Along the road by so many ends of its sections, so that no section is passed over.
    Step(i16),
    /// To the place of the road where the cover is least.
    Worst,
}

/// Where on the road the picture stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stop {
    /// At a share of its length.
    Share(f64),
    /// At one of its points: two sections meet at one distance, and lean the water each its own way.
    Point(usize),
}

impl Default for Stop {
    fn default() -> Stop {
        Stop::Point(0)
    }
}

/// The page.
#[derive(Clone, Debug, Default)]
pub struct BoilerDesk {
    engine: Option<EngineId>,
    /// The desk from which the page was opened.
    from: &'static str,
    standing: Standing,
    reading_mm: f64,
    open: bool,
    bunker_first: bool,
    slope: i16,
    speed: i16,
    along: bool,
    stop: Stop,
}

impl BoilerDesk {
    /// The engine that is up.
    pub fn engine(&self) -> Option<EngineId> {
        self.engine
    }

    /// The desk that the way back leads to.
    pub fn from(&self) -> &'static str {
        if self.from.is_empty() { "crew" } else { self.from }
    }

    /// The reading that the picture starts from, mm over the bottom nut.
    pub fn reading_mm(&self) -> f64 {
        self.reading_mm
    }

    /// Puts an engine up, with its last reading of the glass; the desk `from` is the way back.
    pub fn open(&mut self, session: &Session, engine: EngineId, from: &'static str) {
        let standing = start::standing(session, engine);
        let visible = facts(session, engine).map_or(0.0, |(vessel, _)| vessel.visible_mm());
        // A half glass where none is recorded: the page says that it is taken, not read.
        let reading_mm = standing.reading_mm.unwrap_or(visible / 2.0).clamp(0.0, visible).round().min(visible);
        *self = BoilerDesk { engine: Some(engine), from, standing, reading_mm, ..BoilerDesk::default() };
    }

    /// Does what a move asks, held within what can be.
    pub fn touch(&mut self, session: &Session, touch: Move) {
        match touch {
            Move::Reading(by) => self.change_reading(session, by),
            Move::RegulatorOpen(open) => self.open = open,
            Move::BunkerFirst(first) => self.bunker_first = first,
            Move::Slope(by) => self.slope = held(self.slope, by, LADDER.len() as i16),
            Move::Level => (self.slope, self.speed) = (0, 0),
            Move::Speed(by) => self.speed = held(self.speed, by, MOST_SPEED),
            Move::Along(along) => self.along = along,
            Move::Slide(share) if share.is_finite() => self.stop = Stop::Share(share.clamp(0.0, 1.0)),
            Move::Slide(_) => {}
            Move::Step(by) => self.step(session, by),
            Move::Worst => {
                if let Some(index) = self.worst_point(session) {
                    self.stop = Stop::Point(index);
                }
            }
        }
    }

    fn step(&mut self, session: &Session, by: i16) {
        use offshed_core::register::Register;
        let Some(engine) = self.engine else { return };
        let Some(road) = session.ledger().office.road(engine, session.now().stamp) else { return };
        let last = road.points.len().saturating_sub(1);
        let from = match self.stop {
            Stop::Point(index) => index.min(last),
            Stop::Share(share) => way::end_before(road.points, share, by > 0),
        };
        self.stop = Stop::Point(from.saturating_add_signed(by.into()).min(last));
    }

    fn change_reading(&mut self, session: &Session, by: i16) {
        let Some((vessel, _)) = self.engine.and_then(|engine| facts(session, engine)) else { return };
        let visible = vessel.visible_mm();
        self.reading_mm = (self.reading_mm + f64::from(by)).round().clamp(0.0, visible);
        self.standing.changed = true;
    }

    /// The gradient that was chosen, rise over run in the way the train goes.
    fn gradient(&self) -> f64 {
        let step = usize::from(self.slope.unsigned_abs());
        let one_in = step.checked_sub(1).and_then(|n| LADDER.get(n));
        one_in.map_or(0.0, |n| f64::from(self.slope.signum()) / f64::from(*n))
    }

    fn acceleration(&self) -> f64 {
        f64::from(self.speed) * SPEED_STEP
    }

    fn facing(&self) -> Facing {
        if self.bunker_first { Facing::BunkerFirst } else { Facing::ChimneyFirst }
    }

    /// How the water leans where the picture is, by the gradient that was chosen.
    fn tilt(&self) -> Tilt {
        // The ladder and the steps lie within the core's range.
        Tilt::travelling(self.gradient(), self.acceleration(), self.facing()).unwrap_or(Tilt::LEVEL)
    }

    fn regulator(&self, swell_mm: f64) -> Regulator {
        if self.open { Regulator::Open { swell_mm } } else { Regulator::Shut }
    }
}

/// A count moved by some, within so many either way.
fn held(now: i16, by: i16, most: i16) -> i16 {
    now.saturating_add(by).clamp(-most, most)
}

/// An engine's boiler and its swell, where it is measured.
pub(super) fn facts(session: &Session, engine: EngineId) -> Option<(&Vessel, f64)> {
    use offshed_core::register::Register;
    session.ledger().office.boiler(engine).map(|facts| (facts.vessel, facts.swell_mm))
}

/// Whether a step reads a glass, or works out a level, a dose, a blowdown or solids.
pub fn is_about_water(session: &Session, sheet: SheetId, step: StepId) -> bool {
    let found = session.ledger().sheet(sheet).and_then(|sheet| session.ledger().pack(sheet.pack));
    match found.and_then(|file| file.pack().step(step)).map(|row| row.kind) {
        Some(KindRow::Reading { unit, .. }) => unit.quantity() == Quantity::Glass,
        Some(KindRow::Figure { figure, .. }) => figure != Figure::Heating,
        _ => false,
    }
}

/// The engine that is up on the crew desk.
pub fn engine_at(session: &Session, place: Place) -> Option<EngineId> {
    match place {
        Place::Engines => None,
        Place::Engine(engine) => Some(engine),
        Place::Sheet(sheet) | Place::Step(sheet, _) => session.ledger().sheet(sheet).map(|sheet| sheet.engine),
    }
}
