//! What figures are computed from, entered into the register: boilers, roads, treatment products, feed water, the air.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Subcommand;
use offshed_core::entry::{Fact, What};
use offshed_core::ident::{EngineId, RoadId};
use offshed_core::units::Unit;
use offshed_depot::shed::Shed;
use offshed_depot::{reckon, typed};

use super::{Call, Outcome, act, clock, ids, who};
use crate::cli::By;
use crate::fault::Fault;

/// Facts that figures are computed from.
#[derive(Debug, Subcommand)]
pub(crate) enum FigureFact {
    /// Enter the measures of an engine's boiler from a file: see `RECKONING.md`.
    Boiler {
        /// The engine.
        engine: u16,
        /// The file, TOML.
        file: PathBuf,
        #[command(flatten)]
        by: By,
    },
    /// Enter a road from a file, its sections in the order they are travelled: see `RECKONING.md`.
    Road {
        /// Its number, 1 to 255.
        road: u8,
        /// The file, TOML.
        file: PathBuf,
        #[command(flatten)]
        by: By,
    },
    /// Enter the road an engine usually works.
    UsualRoad {
        /// The engine.
        engine: u16,
        /// The road's number, or "none".
        road: String,
        #[command(flatten)]
        by: By,
    },
    /// Enter how strong a treatment product is, and the measure that comes with it.
    Product {
        /// The product's id in the pack.
        product: String,
        /// Its strength: "35 %" of what the test shows.
        strength: String,
        /// The measure: "scoop 50 g", or "scoop 50 g in 2" for half scoops.
        #[arg(default_value = "")]
        measure: String,
        #[command(flatten)]
        by: By,
    },
    /// Enter what the feed water holds.
    FeedWater {
        /// Dissolved solids: "120 mg/l".
        solids: String,
        /// Temperature in the tank: "15 C".
        temperature: String,
        #[command(flatten)]
        by: By,
    },
    /// Enter the air's usual pressure at the shed, which gauges take as zero: "101.3 kPa".
    Air {
        /// The pressure.
        pressure: String,
        #[command(flatten)]
        by: By,
    },
}

/// Enters one; a road is a head and runs of sections, written one after the other.
pub(super) fn run(call: &Call, what: &FigureFact) -> Outcome {
    let mut shed = call.shed()?;
    let (facts, by) = facts(&shed, what)?;
    let now = clock();
    let person = who(&mut shed, by, now)?;
    let Some((last, before)) = facts.split_last() else { return Err(Fault::input("nothing to enter")) };
    for fact in before {
        let written = shed.act(What::Registered(fact.clone()), person, now);
        let words = |why: &_| offshed_depot::shed::sentence(shed.ledger(), None, why, now.stamp);
        written.map_err(|denial| Fault::denied(denial, words))?;
    }
    act(call, &mut shed, What::Registered(last.clone()), person, now)
}

fn facts<'w>(shed: &Shed, what: &'w FigureFact) -> Result<(Vec<Fact>, &'w By), Fault> {
    Ok(match what {
        FigureFact::Boiler { engine, file, by } => {
            let (name, text) = read(file)?;
            let boiler = reckon::boiler::read(&name, &text).map_err(Fault::input)?.record().map_err(Fault::input)?;
            (vec![Fact::Boiler { engine: EngineId(*engine), boiler }], by)
        }
        FigureFact::Road { road, file, by } => {
            if *road == 0 {
                return Err(Fault::input("number the road from 1 to 255"));
            }
            let (name, text) = read(file)?;
            let road_read = reckon::road::read(&name, &text).map_err(Fault::input)?;
            (road_read.facts(RoadId(*road)).map_err(Fault::input)?, by)
        }
        FigureFact::UsualRoad { engine, road, by } => {
            let road = typed::road(road).map_err(Fault::input)?;
            (vec![Fact::UsualRoad { engine: EngineId(*engine), road }], by)
        }
        FigureFact::Product { product, strength, measure, by } => {
            let product = ids(shed.ledger())?.product(product).map_err(Fault::input)?;
            let bought = typed::product(strength, measure).map_err(Fault::input)?;
            (vec![Fact::Product { product, bought }], by)
        }
        FigureFact::FeedWater { solids, temperature, by } => {
            let solids = typed::stated(solids, Unit::MgPerL).map_err(Fault::input)?;
            let temperature = typed::stated(temperature, Unit::Celsius).map_err(Fault::input)?;
            (vec![Fact::FeedWater { solids, temperature }], by)
        }
        FigureFact::Air { pressure, by } => {
            (vec![Fact::Air { pascals: typed::pascals(pressure).map_err(Fault::input)? }], by)
        }
    })
}

fn read(path: &Path) -> Result<(String, String), Fault> {
    let text = fs::read_to_string(path);
    let text = text.map_err(|error| Fault::input(format!("cannot read {}: {error}", path.display())))?;
    Ok((path.display().to_string(), text))
}
