//! `reckon level` and `reckon blowdown`: what a glass reading means in this boiler.

use offshed_core::boiler::level::{Facing, Seen, Tilt};
use offshed_core::boiler::shape::LowestReading;
use offshed_core::boiler::water::Estimate;
use offshed_core::boiler::water::blowdown::{Advice, Task, fewest_rounds, in_rounds};
use offshed_core::units::Quantity;
use offshed_depot::reckon::road::gradient;
use serde::Serialize;

use super::args::{BlowdownArgs, LevelArgs};
use super::{Call, Outcome, Span, boiler, glass, input, named, regulator, told, value};
use crate::fault::Fault;
use crate::show::reckon::glass as glass_words;

const LEVEL: &str = "volume under a tilted plane, conserved (circle segments: any handbook of mensuration); surface \
                     falls by gradient + a/g, g = 9.80665 m/s2 (ISO 80000-3)";

#[derive(Serialize)]
struct State {
    place: String,
    volume_l: f64,
    volume_error_l: f64,
    glass: &'static str,
    glass_mm: f64,
    cover_front_mm: f64,
    cover_back_mm: f64,
    cover_least_mm: f64,
    cover_error_mm: f64,
    least_at: &'static str,
    least_at_mm: f64,
    crown: &'static str,
    fill: &'static str,
    litres_per_mm: f64,
}

#[derive(Serialize)]
struct Levels {
    read: State,
    on_gradients: Vec<State>,
    glass_spare_over_3_in_mm: f64,
}

fn state(place: String, seen: &Seen, visible_mm: f64) -> State {
    let water = &seen.as_read;
    State {
        place,
        volume_l: water.volume_l,
        volume_error_l: seen.volume_error_l(),
        glass: water.glass.words(),
        glass_mm: water.glass.over_bottom_nut_mm(visible_mm),
        cover_front_mm: water.cover.front_mm,
        cover_back_mm: water.cover.back_mm,
        cover_least_mm: water.cover.least_mm,
        cover_error_mm: seen.cover_error_mm(),
        least_at: water.cover.edge.words(),
        least_at_mm: water.cover.place_mm,
        crown: water.crown.words(),
        fill: water.fill.words(),
        litres_per_mm: water.litres_per_mm,
    }
}

fn line(state: &State, seen: &Seen) -> String {
    format!(
        "{}: {}; {:.0} ± {:.0} l, {:.2} l/mm; cover {:.0} mm front, {:.0} mm back, ± {:.0} mm; least {} \
         ({:.0} mm from the back plate); {}; {}",
        state.place,
        glass_words(seen.as_read.glass),
        state.volume_l,
        state.volume_error_l,
        state.litres_per_mm,
        state.cover_front_mm,
        state.cover_back_mm,
        state.cover_error_mm.ceil(),
        state.least_at,
        state.least_at_mm,
        state.crown,
        state.fill
    )
}

/// `offshed reckon level`
pub(super) fn level(call: &Call, args: &LevelArgs) -> Outcome {
    let (named_boiler, shown) = boiler(args.boiler.as_deref())?;
    let vessel = named_boiler.vessel;
    let reading = glass("reading", &args.glass.reading, args.glass.error, &vessel)?;
    let facing = if args.bunker_first { Facing::BunkerFirst } else { Facing::ChimneyFirst };
    let tilt = |field: &str, text: &str, acceleration: f64| {
        let slope = gradient(text).map_err(|bad| named(field, bad))?;
        Tilt::travelling(slope, acceleration, facing).map_err(|bad| named(field, bad))
    };
    let now = tilt("standing", &args.standing, 0.0)?;
    let swell = regulator(args.swell);
    let seen = vessel.at_reading(reading, swell, now).map_err(Fault::input)?;
    let read = state(format!("as read, {}", args.standing), &seen, vessel.visible_mm());
    let mut lines = vec![line(&read, &seen)];
    let mut on_gradients = Vec::new();
    for text in &args.gradient {
        let then = tilt("gradient", text, args.acceleration)?;
        let seen = vessel.after(reading, swell, now, then).map_err(Fault::input)?;
        let there = state(text.clone(), &seen, vessel.visible_mm());
        lines.push(line(&there, &seen));
        on_gradients.push(there);
    }
    let spare = match vessel.lowest_reading() {
        LowestReading::HighEnough { spare_mm } => spare_mm,
        LowestReading::TooLow { short_mm } => -short_mm,
    };
    let inputs = vec![
        shown,
        input("reading", format!("{} ± {} mm", args.glass.reading, args.glass.error)),
        input("standing", &args.standing),
        input("swell", format!("{} mm", args.swell.unwrap_or(0.0))),
        input("acceleration", format!("{} m/s2", args.acceleration)),
        input("leads", if args.bunker_first { "bunker" } else { "chimney" }),
    ];
    told(call, "level", LEVEL, inputs, Levels { read, on_gradients, glass_spare_over_3_in_mm: spare }, lines)
}

const BLOWDOWN: &str = "solids = feed + (start - feed) (litres low / litres full)^rounds, by mass balance";

#[derive(Serialize)]
struct Blown {
    needed: bool,
    under_mg_l: Option<f64>,
    rounds: u8,
    fall_mm: f64,
    stop_mm: Option<f64>,
    litres_each: f64,
    share_each: f64,
    reaches_mg_l: Option<Span>,
}

fn blown(advice: Advice) -> (Blown, String) {
    match advice {
        Advice::NotNeeded { under_mg_l } => (
            Blown {
                needed: false,
                under_mg_l: Some(under_mg_l),
                rounds: 0,
                fall_mm: 0.0,
                stop_mm: None,
                litres_each: 0.0,
                share_each: 0.0,
                reaches_mg_l: None,
            },
            format!("none needed: the solids are {under_mg_l:.0} mg/l under the target"),
        ),
        Advice::Blow(r) => {
            let end = r.reaches_mg_l;
            let words = format!(
                "{} round(s): let the glass fall {:.0} mm, stop at {:.0} mm, refill; {:.0} l each ({:.1} %); \
                 reaches {:.0} mg/l ({:.0} to {:.0})",
                r.rounds,
                r.fall_mm,
                r.stop_mm,
                r.litres_each,
                r.share_each * 100.0,
                end.value,
                end.low,
                end.high
            );
            let blown = Blown {
                needed: true,
                under_mg_l: None,
                rounds: r.rounds,
                fall_mm: r.fall_mm,
                stop_mm: Some(r.stop_mm),
                litres_each: r.litres_each,
                share_each: r.share_each,
                reaches_mg_l: Some(end.into()),
            };
            (blown, words)
        }
    }
}

/// `offshed reckon blowdown`
pub(super) fn blowdown(call: &Call, args: &BlowdownArgs) -> Outcome {
    let (named_boiler, shown) = boiler(args.boiler.as_deref())?;
    let vessel = named_boiler.vessel;
    let mg_l = |field: &str, text: &str| value(field, text, Quantity::Concentration, None);
    let level = glass("reading", &args.glass.reading, args.glass.error, &vessel)?;
    // The reading must be in the glass before any fall of it is told.
    vessel.at_reading(level, regulator(None), Tilt::LEVEL).map_err(Fault::input)?;
    if !(0.0..=100_000.0).contains(&args.solids_error) {
        return Err(named("solids-error", "give a number from 0 to 100000"));
    }
    let task = Task {
        solids_mg_l: Estimate::around(mg_l("solids", &args.solids)?, args.solids_error),
        feed_mg_l: mg_l("feed", &args.feed)?,
        target_mg_l: mg_l("target", &args.target)?,
        level,
        lower_mark_mm: value("lower-mark", &args.lower_mark, Quantity::Glass, Some(vessel.visible_mm()))?,
    };
    let litres = |mm: f64| {
        let reading = offshed_core::boiler::level::GlassReading { mm, error_mm: 0.0 };
        vessel.at_reading(reading, regulator(None), Tilt::LEVEL).ok().map(|seen| seen.as_read.volume_l)
    };
    let advice = match args.rounds {
        Some(rounds) => in_rounds(&task, rounds, litres),
        None => fewest_rounds(&task, litres),
    };
    let (result, words) = blown(advice.map_err(Fault::input)?);
    let inputs = vec![
        shown,
        input("reading", format!("{} ± {} mm", args.glass.reading, args.glass.error)),
        input("solids", format!("{} ± {} mg/l", args.solids, args.solids_error)),
        input("feed", &args.feed),
        input("target", &args.target),
        input("lower mark", &args.lower_mark),
    ];
    told(call, "blowdown", BLOWDOWN, inputs, result, vec![words])
}
