//! `reckon cycles`: how often the feed's salts concentrate, and what goes to blowdown.

use offshed_core::boiler::water::cycles::{Cycles, Steam};
use serde::Serialize;

use super::args::CyclesArgs;
use super::{Call, Outcome, input, named, tested, told, value};

const CYCLES: &str = "C = boiler / feed; blowdown is 1/C of the feed and 1/(C - 1) of the steam, by mass balance (UFC \
                      3-240-13FN (2005), p. 44); steam taken as free of salts";

#[derive(Serialize)]
struct Concentrated {
    cycles: f64,
    blowdown_percent_of_feed: f64,
    blowdown_percent_of_steam: f64,
    blowdown_kg_h: Option<f64>,
    feed_kg_h: Option<f64>,
}

/// `offshed reckon cycles`
pub(super) fn cycles(call: &Call, args: &CyclesArgs) -> Outcome {
    let quantity = tested("boiler", &args.boiler)?;
    let boiler = value("boiler", &args.boiler, quantity, None)?;
    let feed = value("feed", &args.feed, quantity, None)?;
    let cycles = Cycles::of(boiler, feed).map_err(|bad| named("boiler over feed", bad))?;
    let steam = args.steam.map(Steam::new).transpose().map_err(|bad| named("steam", bad))?;
    let blowdown = steam.map(|steam| cycles.of_steam().blowdown(steam));
    let result = Concentrated {
        cycles: cycles.get(),
        blowdown_percent_of_feed: cycles.of_feed().get() * 100.0,
        blowdown_percent_of_steam: cycles.of_steam().get() * 100.0,
        blowdown_kg_h: blowdown.map(|flow| flow.get()),
        feed_kg_h: steam.zip(blowdown).map(|(steam, blowdown)| steam.with(blowdown).get()),
    };
    let mut lines = vec![
        format!("{:.1} cycles of concentration", result.cycles),
        format!(
            "to hold that: blow down {:.2} % of the feed, which is {:.2} % of the steam",
            result.blowdown_percent_of_feed, result.blowdown_percent_of_steam
        ),
    ];
    lines.extend(
        result
            .blowdown_kg_h
            .zip(result.feed_kg_h)
            .map(|(blowdown, feed)| format!("{blowdown:.0} kg/h of blowdown, {feed:.0} kg/h of feed")),
    );
    let mut inputs = vec![input("boiler", &args.boiler), input("feed", &args.feed)];
    inputs.extend(args.steam.map(|steam| input("steam", format!("{steam} kg/h"))));
    told(call, "cycles", CYCLES, inputs, result, lines)
}
