//! A boiler on its road: where the crown is covered least, and the least reading to leave with.
//!
//! A road is a list of places, each standing for itself; put one at every change of gradient, on both sides of it, and
//! wherever speed is gained or lost.
//! Water is used evenly with distance and none is fed on the way, which is the cautious reading of any road.

use core::fmt;

use super::level::{Facing, GlassReading, Needed, Regulator, Tilt, Verdict, Water};
use super::settle::{reading_error, required_cover};
use super::shape::Vessel;
use super::{BadNumber, within};

/// One place of a road.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Distance travelled, m, never less than at the point before.
    pub distance_m: f64,
    /// Rise over run, positive uphill in the direction of travel, -0.25 to 0.25.
    pub gradient: f64,
    /// Positive gaining speed in the direction of travel, m/s², -5 to 5.
    pub acceleration_m_s2: f64,
    /// Which end leads here.
    pub facing: Facing,
    /// Track cant, rail over rail height by their distance, -0.2 to 0.2; 0 if level or not known.
    pub cant: f64,
}

impl Point {
    /// How the water leans here.
    ///
    /// # Errors
    /// When a number is out of range.
    pub fn tilt(&self) -> Result<Tilt, BadNumber> {
        Tilt::travelling(self.gradient, self.acceleration_m_s2, self.facing)?.canted(self.cant)
    }
}

/// Water used between the first and the last point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Used {
    /// None, or made up by feeding.
    None,
    /// So much for each kilometre, l, 0 to 10 000.
    PerKm(f64),
    /// So much in all, l, 0 to 100 000, spread evenly over the distance.
    InAll(f64),
}

/// A journey to be judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Journey<'a> {
    /// The road in the order it is travelled.
    pub points: &'a [Point],
    /// How the engine stands when the level is read before leaving.
    pub start: Tilt,
    /// Whether the regulator is open at that reading.
    pub regulator: Regulator,
    /// Water used on the way.
    pub used: Used,
    /// Least cover wanted over the whole crown, mm, -500 to 1 000.
    pub cover_mm: f64,
    /// Greatest error of reading the glass, mm, 0 to 100.
    pub error_mm: f64,
}

/// What is wrong with a journey.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BadJourney {
    /// It has no points.
    Empty,
    /// A number of the journey itself is out of range.
    Number(BadNumber),
    /// A number of one point is out of range, or its distance is less than the one before.
    Point {
        /// Which point, counted from 0.
        index: usize,
        /// What is wrong.
        bad: BadNumber,
    },
}

impl From<BadNumber> for BadJourney {
    fn from(bad: BadNumber) -> BadJourney {
        BadJourney::Number(bad)
    }
}

impl fmt::Display for BadJourney {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            BadJourney::Empty => f.write_str("the road has no points; give at least one"),
            BadJourney::Number(bad) => bad.fmt(f),
            BadJourney::Point { index, bad } => write!(f, "road point {index}: {bad}"),
        }
    }
}

impl core::error::Error for BadJourney {}

/// A place of the road by its number, with its distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Which point, counted from 0.
    pub index: usize,
    /// Its distance, m.
    pub distance_m: f64,
}

/// The least level to leave with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leaving {
    /// The reading at the start that is just enough if read without error.
    pub least: Needed,
    /// The same with the error of reading added: what the glass must show to be sure.
    pub least_to_be_sure: Needed,
    /// The place that asks for it; the first such.
    pub place: Place,
    /// Water at the start that goes with `least`, l; none where the wish is for more cover than the boiler can hold.
    pub volume_l: Option<f64>,
}

impl Leaving {
    /// A place that wants more cover than the boiler can hold.
    fn impossible(place: Place) -> Leaving {
        Leaving { least: Needed::OverBrimFull, least_to_be_sure: Needed::OverBrimFull, place, volume_l: None }
    }
}

/// The water at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passing {
    /// Where.
    pub place: Place,
    /// Used since the start, l.
    pub used_l: f64,
    /// Water wanted beyond what was there, l; 0 unless the boiler ran dry.
    pub wanting_l: f64,
    /// How it stands there.
    pub water: Water,
}

/// A journey from a given reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// The place with the least cover; the first such.
    pub worst: Passing,
    /// What the error of reading makes of the least cover there, mm, the greater of both ways.
    pub cover_error_mm: f64,
    /// Whether the reading is enough for the whole road.
    pub verdict: Verdict,
    /// The least level to leave with.
    pub leaving: Leaving,
}

/// A checked journey.
#[derive(Clone, Copy)]
struct Road<'a> {
    points: &'a [Point],
    /// Water used for each metre, mm³.
    per_m: f64,
}

impl<'a> Road<'a> {
    fn check(journey: &Journey<'a>) -> Result<Road<'a>, BadJourney> {
        let points = journey.points;
        let (Some(first), Some(last)) = (points.first(), points.last()) else {
            return Err(BadJourney::Empty);
        };
        let mut before = -1e9;
        for (index, point) in points.iter().enumerate() {
            let at = |bad| BadJourney::Point { index, bad };
            before = within("distance_m", point.distance_m, before, 1e9).map_err(at)?;
            point.tilt().map_err(at)?;
        }
        let per_m = match journey.used {
            Used::None => 0.0,
            Used::PerKm(litres) => within("used_l_per_km", litres, 0.0, 1e4)? * 1e3,
            Used::InAll(litres) => {
                let litres = within("used_l", litres, 0.0, 1e5)?;
                spread(litres, last.distance_m - first.distance_m)?
            }
        };
        Ok(Road { points, per_m })
    }

    /// Each point with its tilt and the water used so far, mm³.
    fn places(self) -> impl Iterator<Item = (Place, Tilt, f64)> + 'a {
        let start = self.points.first().map_or(0.0, |p| p.distance_m);
        let points = self.points.iter().enumerate();
        points.map(move |(index, point)| {
            let distance_m = point.distance_m;
            let used = (distance_m - start) * self.per_m;
            // Every point is checked before.
            let tilt = point.tilt().unwrap_or(Tilt::LEVEL);
            (Place { index, distance_m }, tilt, used)
        })
    }
}

/// Water for each metre, mm³; water used over no distance is a slip.
fn spread(litres: f64, length_m: f64) -> Result<f64, BadNumber> {
    if litres == 0.0 {
        return Ok(0.0);
    }
    Ok(litres * 1e6 / within("road.length_m", length_m, 1.0, 2e9)?)
}

impl Vessel {
    /// The least level to leave with, so that everywhere on the road the whole crown keeps the wanted cover.
    ///
    /// Direct: each place's wish is one volume, the greatest counts, and one solve turns it into a reading.
    ///
    /// # Errors
    /// When the road has no points or a number is out of range.
    pub fn least_to_leave(&self, journey: &Journey) -> Result<Leaving, BadJourney> {
        let cover = required_cover(journey.cover_mm)?;
        self.leaving(journey, |tilt| self.volume_for_cover(cover, tilt))
    }

    /// The least level to leave with, so that everywhere on the road the level stays over the bottom nut; the cover
    /// wanted is not looked at.
    ///
    /// # Errors
    /// As [`Vessel::least_to_leave`].
    pub fn least_in_sight(&self, journey: &Journey) -> Result<Leaving, BadJourney> {
        self.leaving(journey, |tilt| Some(self.volume.under(self.bottom_nut_height_mm(), tilt.along()).volume.max(0.0)))
    }

    /// The least level to leave with when each place wants a volume, mm³; none where the boiler cannot hold it.
    fn leaving(&self, journey: &Journey, wish: impl Fn(Tilt) -> Option<f64>) -> Result<Leaving, BadJourney> {
        let swell = journey.regulator.swell()?;
        let error = reading_error(journey.error_mm)?;
        let road = Road::check(journey)?;
        let mut most: Option<(f64, Place)> = None;
        for (place, tilt, used) in road.places() {
            let Some(wish) = wish(tilt) else {
                return Ok(Leaving::impossible(place));
            };
            if most.is_none_or(|(volume, _)| wish + used > volume) {
                most = Some((wish + used, place));
            }
        }
        let (volume, place) = most.ok_or(BadJourney::Empty)?;
        Ok(Leaving {
            least: self.needed(volume, journey.start, swell),
            least_to_be_sure: self.needed(volume, journey.start, swell + error),
            place,
            volume_l: Some(volume / 1e6),
        })
    }

    /// The water at every point of the road, from a reading at the start (its own error is left out here).
    ///
    /// # Errors
    /// When the road has no points, the reading lies outside the glass, or a number is out of range.
    pub fn along<'a>(
        &'a self,
        journey: &Journey<'a>,
        reading_mm: f64,
    ) -> Result<impl Iterator<Item = Passing> + 'a, BadJourney> {
        let road = Road::check(journey)?;
        let reading = GlassReading { mm: reading_mm, error_mm: 0.0 };
        let [volume, ..] = self.volumes(reading, journey.regulator, journey.start)?;
        let mut near = None;
        Ok(road.places().map(move |(place, tilt, used)| {
            let (water, at_glass) = self.settled_near((volume - used).max(0.0), tilt, near);
            near = Some((at_glass, tilt.along()));
            Passing { place, used_l: used / 1e6, wanting_l: ((used - volume) / 1e6).max(0.0), water }
        }))
    }

    /// The whole road from a reading at the start: worst place, worst cover, and whether the reading is enough.
    ///
    /// # Errors
    /// As [`Vessel::along`].
    pub fn run(&self, journey: &Journey, reading_mm: f64) -> Result<Run, BadJourney> {
        let leaving = self.least_to_leave(journey)?;
        let passings = self.along(journey, reading_mm)?;
        let worst = passings
            .reduce(|a, b| if b.water.cover.least_mm < a.water.cover.least_mm { b } else { a })
            .ok_or(BadJourney::Empty)?;
        let reading = GlassReading { mm: reading_mm, error_mm: journey.error_mm };
        let [_, low, high] = self.volumes(reading, journey.regulator, journey.start)?;
        let least = |volume: f64| {
            let left = (volume - worst.used_l * 1e6).max(0.0);
            self.settled(left, worst.water.tilt).cover.least_mm
        };
        let as_read = worst.water.cover.least_mm;
        Ok(Run {
            worst,
            cover_error_mm: (as_read - least(low)).max(least(high) - as_read),
            verdict: self.enough(reading, leaving.least),
            leaving,
        })
    }

    /// A reading against the least one; both stand at the same tilt, so millimetres compare.
    fn enough(&self, reading: GlassReading, least: Needed) -> Verdict {
        let wanted = match least {
            Needed::Reading { mm } => mm,
            Needed::AnyInSight { spare_mm } => -spare_mm,
            Needed::OverTheGlass { by_mm } => self.visible_mm() + by_mm,
            Needed::OverBrimFull => f64::INFINITY,
        };
        let GlassReading { mm, error_mm } = reading;
        Verdict::of(wanted, mm - error_mm, mm, mm + error_mm)
    }
}
