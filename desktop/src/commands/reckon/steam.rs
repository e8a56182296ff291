//! `reckon steam` and `reckon feed`: temperatures at the gauge, and what a feed delivers.

use offshed_core::boiler::feed::{Steaming, Watched, delivery};
use offshed_core::boiler::level::{GlassReading, Tilt};
use offshed_core::boiler::pressure::{Atmosphere, Gauge};
use offshed_core::boiler::steam::{GaugeReading, heating_rate, plug_margin, saturation_celsius};
use offshed_core::units::Quantity;
use serde::Serialize;

use super::args::{FeedArgs, SteamArgs};
use super::{Call, Outcome, Span, boiler, gauge, glass, input, named, regulator, told, value};
use crate::fault::Fault;

const STEAM: &str = "saturation line, IAPWS R7-97(2012), region 4, equation 31; rate = difference / hours";

#[derive(Serialize)]
struct Rate {
    k_per_h: Span,
    verdict: Option<&'static str>,
}

#[derive(Serialize)]
struct Steam {
    gauge_kpa: f64,
    saturation_c: f64,
    plug_margin_k: Option<f64>,
    heating: Option<Rate>,
}

fn rate(args: &SteamArgs, first: Gauge, air: Atmosphere) -> Result<Option<Rate>, Fault> {
    let (Some(and), Some(hours)) = (&args.and, args.hours) else { return Ok(None) };
    let error_kpa = value("error", &args.error, Quantity::Pressure, None)?;
    let second = GaugeReading { gauge: gauge("and", and)?, error_kpa };
    let steady = Gauge::from_kpa(0.0).map_err(Fault::input)?;
    let rate = heating_rate(GaugeReading { gauge: first, error_kpa }, second, hours, steady, air);
    let rate = rate.map_err(Fault::input)?;
    if let Some(limit) = args.limit.filter(|limit| !(*limit > 0.0 && *limit <= 1_000.0)) {
        return Err(named("limit", format!("is {limit}; give K/h above 0 and up to 1000")));
    }
    let verdict = args.limit.map(|limit| rate.against(limit).words());
    let k_per_h = Span { value: rate.k_per_h, low: rate.low_k_per_h, high: rate.high_k_per_h };
    Ok(Some(Rate { k_per_h, verdict }))
}

/// `offshed reckon steam`
pub(super) fn steam(call: &Call, args: &SteamArgs) -> Outcome {
    let air = Atmosphere::from_kpa(args.air).map_err(|bad| named("air", bad))?;
    let pressure = gauge("pressure", &args.pressure)?;
    let saturation_c = saturation_celsius(pressure, air).map_err(|bad| named("pressure", bad))?;
    let mut lines =
        vec![format!("saturation at {}: {saturation_c:.1} °C ({:.0} °F)", args.pressure, saturation_c * 1.8 + 32.0)];
    let mut inputs = vec![input("pressure", &args.pressure), input("air", format!("{} kPa", args.air))];
    let mut plug_margin_k = None;
    if let Some(text) = &args.plug_melts {
        let melts = value("plug-melts", text, Quantity::Temperature, None)?;
        let margin = plug_margin(pressure, air, melts).map_err(|bad| named("plug-melts", bad))?.margin_k;
        plug_margin_k = Some(margin);
        let words = if margin > 0.0 { "below its melting point" } else { "it melts under water" };
        lines.push(format!("plug core: {margin:.1} K, {words}"));
        inputs.push(input("plug melts at", text));
    }
    let heating = rate(args, pressure, air)?;
    if let Some(rate) = &heating {
        let Span { value, low, high } = rate.k_per_h;
        let verdict = rate.verdict.map_or(String::new(), |words| format!(": {words}"));
        lines.push(format!("heating: {value:.1} K/h ({low:.1} to {high:.1}){verdict}"));
        inputs.push(input("and", args.and.as_deref().unwrap_or_default()));
        inputs.push(input("hours", args.hours.unwrap_or_default()));
        inputs.push(input("error of reading", &args.error));
        inputs.extend(args.limit.map(|limit| input("limit", format!("{limit} K/h"))));
    }
    told(call, "steam", STEAM, inputs, Steam { gauge_kpa: pressure.kpa(), saturation_c, plug_margin_k, heating }, lines)
}

const FEED: &str = "rise x l/mm x density(boiler)/density(feed) / time + steamed off; densities IAPWS SR1-86(1992), \
                    equation 2";

#[derive(Serialize)]
struct Fed {
    l_min: Span,
    rise_mm: f64,
    litres_per_mm: f64,
    steaming_known: bool,
    verdict: Option<&'static str>,
}

/// `offshed reckon feed`
pub(super) fn feed(call: &Call, args: &FeedArgs) -> Outcome {
    let (named_boiler, shown) = boiler(args.boiler.as_deref())?;
    let vessel = named_boiler.vessel;
    let start = glass("start", &args.start, args.error, &vessel)?;
    let end = glass("end", &args.end, args.error, &vessel)?;
    let middle = GlassReading { mm: f64::midpoint(start.mm, end.mm), error_mm: 0.0 };
    let water = vessel.at_reading(middle, regulator(None), Tilt::LEVEL).map_err(Fault::input)?.as_read;
    let boiler_c = saturation_celsius(gauge("pressure", &args.pressure)?, Atmosphere::STANDARD);
    let delivered = delivery(&Watched {
        start,
        end,
        seconds: value("time", &args.time, Quantity::Time, None)?,
        litres_per_mm: water.litres_per_mm,
        boiler_c: boiler_c.map_err(|bad| named("pressure", bad))?,
        feed_c: value("feed-at", &args.feed_at, Quantity::Temperature, None)?,
        steaming: args.steaming.map_or(Steaming::Unknown, |kg_per_min| Steaming::Known { kg_per_min }),
        highest_mm: vessel.visible_mm(),
    })
    .map_err(Fault::input)?;
    let verdict = args.least.map(|least| delivered.against(least)).transpose();
    let verdict = verdict.map_err(|bad| named("least", bad))?.map(|verdict| verdict.words());
    let mut lines = vec![format!(
        "{:.0} l/min ({:.0} to {:.0}) from a rise of {:.0} mm at {:.2} l/mm",
        delivered.l_min, delivered.low_l_min, delivered.high_l_min, delivered.rise_mm, water.litres_per_mm
    )];
    lines.extend(verdict.map(|words| format!("against the least of {} l/min: {words}", args.least.unwrap_or(0.0))));
    let steaming = args.steaming.map_or("not known".to_owned(), |kg| format!("{kg} kg/min"));
    let inputs = vec![
        shown,
        input("start", &args.start),
        input("end", &args.end),
        input("error of reading", format!("{} mm", args.error)),
        input("time", &args.time),
        input("pressure", &args.pressure),
        input("feed at", &args.feed_at),
        input("steamed off", steaming),
    ];
    let result = Fed {
        l_min: Span { value: delivered.l_min, low: delivered.low_l_min, high: delivered.high_l_min },
        rise_mm: delivered.rise_mm,
        litres_per_mm: water.litres_per_mm,
        steaming_known: delivered.steaming_known,
        verdict,
    };
    told(call, "feed", FEED, inputs, result, lines)
}
