//! `reckon road`: least cover along a road, its worst place, and the least reading to leave with.

use std::path::Path;

use offshed_core::boiler::level::{InGlass, Needed};
use offshed_core::boiler::road::{Journey, Used};
use offshed_core::boiler::shape::Vessel;
use offshed_core::units::Quantity;
use offshed_depot::reckon::road::{self, Road};
use serde::Serialize;

use super::args::RoadArgs;
use super::{Call, Outcome, boiler, file, input, regulator, value};
use crate::fault::Fault;
use crate::show::reckon::{CAUTION, Input, Report, glass, needed, plot, text, up};

const FORMULA: &str = "volume under a tilted plane, conserved along the road less the water used; surface falls by \
                       gradient + a/g, g = 9.80665 m/s2 (ISO 80000-3)";

#[derive(Serialize)]
struct Worst {
    distance_m: f64,
    section: String,
    cover_mm: f64,
    cover_error_mm: f64,
    least_at: &'static str,
    glass: &'static str,
}

#[derive(Serialize)]
struct Asked {
    words: &'static str,
    reading_mm: Option<f64>,
    asked_by_m: f64,
    asked_by_section: String,
}

#[derive(Serialize)]
struct RoadResult {
    reading_mm: f64,
    verdict: &'static str,
    in_sight_all_the_way: bool,
    least_in_sight_mm: Option<u16>,
    worst: Worst,
    least: Asked,
    least_to_be_sure: Asked,
    cover_along: Vec<[f64; 2]>,
}

fn named_road(path: Option<&Path>) -> Result<(Road, Input), Fault> {
    let Some(path) = path else {
        let demo = road::read("demo road", road::DEMO).map_err(Fault::input)?;
        let told = input("road", format!("{} (the built-in demo of the invented Harrow Vale line)", demo.name));
        return Ok((demo, told));
    };
    let (name, text) = file(path)?;
    let read = road::read(&name, &text).map_err(Fault::input)?;
    let told = input("road", format!("{} ({name})", read.name));
    Ok((read, told))
}

/// The reading taken when none is given: the least to be sure, held within the glass.
fn usual(least: Needed, visible_mm: f64) -> f64 {
    match least {
        Needed::Reading { mm } => up(mm).min(visible_mm),
        Needed::AnyInSight { .. } => 0.0,
        Needed::OverTheGlass { .. } | Needed::OverBrimFull => visible_mm,
    }
}

/// Whether the level stays over the bottom nut all along the road.
fn in_sight(vessel: &Vessel, journey: &Journey<'_>, reading_mm: f64) -> Result<bool, Fault> {
    let mut along = vessel.along(journey, reading_mm).map_err(Fault::input)?;
    Ok(!along.any(|passing| matches!(passing.water.glass, InGlass::OutBelow { .. })))
}

/// The least whole millimetre that keeps the level over the bottom nut all the way; `None` when a full glass does not.
fn least_in_sight(vessel: &Vessel, journey: &Journey<'_>) -> Result<Option<u16>, Fault> {
    let top = vessel.visible_mm().floor() as u16;
    if !in_sight(vessel, journey, f64::from(top))? {
        return Ok(None);
    }
    // More water is never less in sight, so halving finds the edge.
    let (mut low, mut high) = (0, top);
    while low < high {
        let middle = low + (high - low) / 2;
        if in_sight(vessel, journey, f64::from(middle))? {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    Ok(Some(high))
}

/// `offshed reckon road`
pub(super) fn road(call: &Call, args: &RoadArgs) -> Outcome {
    let (named_boiler, shown_boiler) = boiler(args.boiler.as_deref())?;
    let vessel = named_boiler.vessel;
    let (road, shown_road) = named_road(args.road.as_deref())?;
    let used = args.used.unwrap_or(road.used_l_per_km);
    let cover_mm = value("cover", &args.cover, Quantity::Length, None)?;
    let journey = Journey {
        points: &road.points,
        start: road.start,
        regulator: regulator(args.swell),
        used: Used::PerKm(used),
        cover_mm,
        error_mm: args.error,
    };
    let leaving = vessel.least_to_leave(&journey).map_err(Fault::input)?;
    let sight = least_in_sight(&vessel, &journey)?;
    let reading_mm = match &args.reading {
        Some(text) => value("reading", text, Quantity::Glass, Some(vessel.visible_mm()))?,
        None => usual(leaving.least_to_be_sure, vessel.visible_mm()).max(f64::from(sight.unwrap_or(0))),
    };
    let stays = in_sight(&vessel, &journey, reading_mm)?;
    let run = vessel.run(&journey, reading_mm).map_err(Fault::input)?;
    let along = vessel.along(&journey, reading_mm).map_err(Fault::input)?;
    let covers: Vec<(f64, f64)> = along.map(|p| (p.place.distance_m, p.water.cover.least_mm)).collect();
    let section = |index: usize| road.sections.get(index).cloned().unwrap_or_default();
    let asked = |least: Needed| Asked {
        words: least.words(),
        reading_mm: if let Needed::Reading { mm } = least { Some(mm) } else { None },
        asked_by_m: leaving.place.distance_m,
        asked_by_section: section(leaving.place.index),
    };
    let worst = &run.worst;
    let result = RoadResult {
        reading_mm,
        verdict: run.verdict.words(),
        in_sight_all_the_way: stays,
        least_in_sight_mm: sight,
        worst: Worst {
            distance_m: worst.place.distance_m,
            section: section(worst.place.index),
            cover_mm: worst.water.cover.least_mm,
            cover_error_mm: run.cover_error_mm,
            least_at: worst.water.cover.edge.words(),
            glass: worst.water.glass.words(),
        },
        least: asked(leaving.least),
        least_to_be_sure: asked(leaving.least_to_be_sure),
        cover_along: covers.iter().map(|(at, cover)| [*at, *cover]).collect(),
    };
    let out = if stays { "" } else { "; BUT the level goes out of sight below, and cannot be checked there" };
    let lines = vec![
        match sight {
            Some(mm) => format!("to keep the level in sight all the way: leave with {mm} mm of glass or more"),
            None => "even a full glass does not keep the level in sight all the way".to_owned(),
        },
        format!(
            "least to leave with for the cover: {}; with the error of reading: {} (asked for by {} at {:.1} km)",
            needed(leaving.least),
            needed(leaving.least_to_be_sure),
            result.least.asked_by_section,
            leaving.place.distance_m / 1_000.0
        ),
        format!(
            "leaving with {reading_mm:.0} mm, worst place: {} at {:.1} km, {:.0} ± {:.0} mm of cover, {}; {}; the reading on leaving, for the cover wanted: {}{out}",
            result.worst.section,
            result.worst.distance_m / 1_000.0,
            result.worst.cover_mm,
            up(result.worst.cover_error_mm),
            result.worst.least_at,
            glass(worst.water.glass),
            result.verdict
        ),
    ];
    let inputs = vec![
        shown_boiler,
        shown_road,
        input("cover wanted", &args.cover),
        input("error of reading", format!("{} mm", args.error)),
        input("used", format!("{used} l/km")),
        input("swell", format!("{} mm", args.swell.unwrap_or(0.0))),
    ];
    let plot = plot(&covers, cover_mm);
    call.print(&Report { reckon: "road", inputs, formula: FORMULA, result, caution: CAUTION, lines, plot }, text)
}
