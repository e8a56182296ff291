//! The road of the engine's turn: its profile in a box, the place the slider stands at, and the worst place.

use offshed_core::boiler::level::Facing;
use offshed_core::boiler::road::{Journey, Passing, Point, Used};
use offshed_core::register::RoadFacts;

use super::Stop;
use super::drawing::{Spot, spot};

/// Length of a road, m; at least a millimetre, so that shares of it are numbers.
pub fn length_m(points: &[Point]) -> f64 {
    let ends = points.first().zip(points.last());
    ends.map_or(0.0, |(first, last)| last.distance_m - first.distance_m).max(1e-3)
}

/// Where a share of the road lies, m from its first point.
fn metres(points: &[Point], share: f64) -> f64 {
    share.clamp(0.0, 1.0) * length_m(points)
}

/// The road where the picture stands; at a share of its length, in the first section that reaches there.
///
/// Points come in pairs, the two ends of each section; `None` where there are none.
pub fn point_at(points: &[Point], stop: Stop) -> Option<Point> {
    let share = match stop {
        Stop::Point(index) => return points.get(index).or(points.last()).copied(),
        Stop::Share(share) => share,
    };
    let first = points.first()?;
    let distance_m = first.distance_m + metres(points, share);
    let reaches = points.chunks(2).find(|section| section.last().is_some_and(|end| end.distance_m >= distance_m));
    let section = reaches.or_else(|| points.chunks(2).last())?;
    Some(Point { distance_m, ..*section.first()? })
}

/// The point from which a step on, or back, leads to the next one that way.
pub fn end_before(points: &[Point], share: f64, on: bool) -> usize {
    let passed = points.iter().take_while(|point| share_of(points, point.distance_m) < share).count();
    if on { passed.saturating_sub(1) } else { passed }
}

/// The share of the road at which a distance lies.
pub fn share_of(points: &[Point], distance_m: f64) -> f64 {
    let first = points.first().map_or(0.0, |p| p.distance_m);
    ((distance_m - first) / length_m(points)).clamp(0.0, 1.0)
}

/// The water at a point on the way, used water taken off, from a reading at the start.
pub fn passing(
    vessel: &offshed_core::boiler::shape::Vessel,
    journey: &Journey<'_>,
    point: Point,
    reading_mm: f64,
) -> Option<Passing> {
    let first = *journey.points.first()?;
    let there = [first, point];
    let journey = Journey { points: &there, ..*journey };
    vessel.along(&journey, reading_mm).ok()?.last()
}

/// The journey a road stands for.
pub fn journey<'a>(
    road: &RoadFacts<'a>,
    regulator: offshed_core::boiler::level::Regulator,
    cover_mm: f64,
    error_mm: f64,
) -> Journey<'a> {
    Journey {
        points: road.points,
        start: road.start,
        regulator,
        used: Used::PerKm(road.used_l_per_km),
        cover_mm,
        error_mm,
    }
}

/// The road's ups and downs in a box: shares of its length, and of its height from the top.
pub fn profile(points: &[Point]) -> Vec<Spot> {
    let mut height = 0.0;
    let mut before: Option<&Point> = None;
    let mut all: Vec<(f64, f64)> = Vec::with_capacity(points.len());
    for point in points {
        // Within a section the gradient is the same at both ends; between sections there is no distance.
        height += before.map_or(0.0, |b| (point.distance_m - b.distance_m) * b.gradient);
        all.push((share_of(points, point.distance_m), height));
        before = Some(point);
    }
    let low = all.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
    let high = all.iter().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max);
    let span = (high - low).max(1.0);
    all.into_iter().map(|(x, z)| spot(x, 0.92 - 0.84 * (z - low) / span)).collect()
}

/// The height of a profile at a share of the road.
pub fn profile_at(profile: &[Spot], share: f64) -> f64 {
    let pairs = profile.iter().zip(profile.iter().skip(1));
    let mut pair = pairs.filter(|(a, b)| a.x <= share && share <= b.x);
    pair.next().map_or_else(
        || profile.last().map_or(0.5, |p| p.y),
        |(a, b)| if b.x > a.x { a.y + (share - a.x) / (b.x - a.x) * (b.y - a.y) } else { b.y },
    )
}

/// A gradient as people say it, by the way the train goes.
pub fn gradient_words(gradient: f64) -> String {
    match gradient {
        g if g.abs() < 1e-6 => "level".to_owned(),
        g if g > 0.0 => format!("1 in {:.0} up", 1.0 / g),
        g => format!("1 in {:.0} down", -1.0 / g),
    }
}

/// Gaining speed or braking, as people say it.
pub fn speed_words(acceleration: f64) -> String {
    match acceleration {
        a if a.abs() < 5e-4 => "steady".to_owned(),
        a if a > 0.0 => format!("gaining speed, {a:.2} m/s\u{b2}"),
        a => format!("braking, {:.2} m/s\u{b2}", -a),
    }
}

/// Which end leads.
pub fn facing_words(facing: Facing) -> &'static str {
    match facing {
        Facing::ChimneyFirst => "chimney leads",
        Facing::BunkerFirst => "bunker or tender leads",
    }
}
