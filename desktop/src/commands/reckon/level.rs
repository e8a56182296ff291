//! `reckon level` and `reckon blowdown`: what a glass reading means in this boiler.

use offshed_core::boiler::level::{Cover, Facing, Seen, Tilt, Verdict};
use offshed_core::boiler::shape::{LowestReading, Vessel};
use offshed_core::boiler::water::Estimate;
use offshed_core::boiler::water::blowdown::{Advice, Task, fewest_rounds, in_rounds};
use offshed_core::units::Quantity;
use offshed_depot::reckon::road::gradient;
use serde::Serialize;

use super::args::{BlowdownArgs, LevelArgs};
use super::{Call, Outcome, Span, boiler, glass, input, named, regulator, told, value};
use crate::fault::Fault;
use crate::show::reckon::{glass as glass_words, up};

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
    cover_asked: Option<Asked>,
}

/// The cover asked for, beside what there is over each edge of the crown.
#[derive(Serialize)]
struct Asked {
    asked_mm: f64,
    met: bool,
    front: &'static str,
    back: &'static str,
    error_could_change: bool,
}

/// The place of the glass beside a published rule; an information, no verdict on the engine.
#[derive(Serialize)]
struct GlassRule {
    source: &'static str,
    lowest_reading_over_crown_mm: f64,
    asked_mm: f64,
    met: bool,
    spare_mm: f64,
}

#[derive(Serialize)]
struct Levels {
    read: State,
    on_gradients: Vec<State>,
    glass_rule: GlassRule,
}

fn asked(seen: &Seen, asked_mm: f64) -> Asked {
    // A millionth of a millimetre is rounding.
    let enough_mm = asked_mm - 1e-6;
    let edge = |mm: fn(&Cover) -> f64| {
        let of = |water: &offshed_core::boiler::level::Water| mm(&water.cover);
        Verdict::of(enough_mm, of(&seen.at_least), of(&seen.as_read), of(&seen.at_most))
    };
    let (front, back) = (edge(|cover| cover.front_mm), edge(|cover| cover.back_mm));
    Asked {
        asked_mm,
        met: seen.as_read.cover.least_mm >= enough_mm,
        front: front.words(),
        back: back.words(),
        error_could_change: seen.verdict(enough_mm).error_could_change(),
    }
}

/// The verdict in a sentence.
fn asked_line(state: &State, asked: &Asked, error_mm: f64) -> String {
    let (met, could) = match (asked.met, asked.error_could_change) {
        (true, false) => ("met", "does not change that"),
        (true, true) => ("met as read", "COULD change that: read it again"),
        (false, false) => ("NOT met", "does not change that"),
        (false, true) => ("NOT met as read", "could change that: read it again"),
    };
    format!(
        "{}: cover asked for, {:.0} mm: {met}; front edge {:.0} mm ({}); back edge {:.0} mm ({}); an error of reading of \
         ± {error_mm} mm {could}",
        state.place, asked.asked_mm, state.cover_front_mm, asked.front, state.cover_back_mm, asked.back
    )
}

const THREE_INCHES: &str = "49 CFR 230.51 (2015 edition): the lowest reading of the glass is not less than 3 in above \
                            the highest part of the crown sheet";

fn glass_rule(vessel: &Vessel) -> GlassRule {
    let lowest = vessel.boiler().glass.bottom_nut_mm;
    let (met, spare_mm) = match vessel.lowest_reading() {
        LowestReading::HighEnough { spare_mm } => (true, spare_mm),
        LowestReading::TooLow { short_mm } => (false, -short_mm),
    };
    GlassRule { source: THREE_INCHES, lowest_reading_over_crown_mm: lowest, asked_mm: lowest - spare_mm, met, spare_mm }
}

fn glass_rule_line(rule: &GlassRule) -> String {
    let GlassRule { source, lowest_reading_over_crown_mm: lowest, spare_mm, .. } = rule;
    let met = if rule.met {
        format!("as that rule asks, with {spare_mm:.1} mm to spare")
    } else {
        format!("{:.1} mm short of that rule", -spare_mm)
    };
    format!("for information, {source}; here it stands {lowest:.1} mm above it: {met}")
}

fn state(place: String, seen: &Seen, visible_mm: f64, cover: Option<f64>) -> State {
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
        cover_asked: cover.map(|mm| asked(seen, mm)),
    }
}

/// A state in words, and what it comes to beside the cover asked for.
fn lines_of(state: &State, seen: &Seen, error_mm: f64) -> Vec<String> {
    let verdict = state.cover_asked.as_ref().map(|asked| asked_line(state, asked, error_mm));
    [line(state, seen)].into_iter().chain(verdict).collect()
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
        up(state.cover_error_mm),
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
    let cover = args.cover.as_ref().map(|text| asked_cover(text)).transpose()?;
    let visible_mm = vessel.visible_mm();
    let read = state(format!("as read, {}", args.standing), &seen, visible_mm, cover);
    let mut lines = lines_of(&read, &seen, args.glass.error);
    let mut on_gradients = Vec::new();
    for text in &args.gradient {
        let then = tilt("gradient", text, args.acceleration)?;
        let seen = vessel.after(reading, swell, now, then).map_err(Fault::input)?;
        let there = state(text.clone(), &seen, visible_mm, cover);
        lines.extend(lines_of(&there, &seen, args.glass.error));
        on_gradients.push(there);
    }
    let glass_rule = glass_rule(&vessel);
    lines.push(glass_rule_line(&glass_rule));
    let mut inputs = vec![
        shown,
        input("reading", format!("{} ± {} mm", args.glass.reading, args.glass.error)),
        input("standing", &args.standing),
        input("swell", format!("{} mm", args.swell.unwrap_or(0.0))),
        input("acceleration", format!("{} m/s2", args.acceleration)),
        input("leads", if args.bunker_first { "bunker" } else { "chimney" }),
    ];
    inputs.extend(args.cover.as_ref().map(|cover| input("cover asked for", cover)));
    told(call, "level", LEVEL, inputs, Levels { read, on_gradients, glass_rule }, lines)
}

/// A cover with its unit, mm, 0 to 1 000.
fn asked_cover(text: &str) -> Result<f64, Fault> {
    let mm = value("cover", text, Quantity::Length, None)?;
    if (0.0..=1_000.0).contains(&mm) { Ok(mm) } else { Err(named("cover", format!("is {mm} mm; give 0 to 1000 mm"))) }
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
