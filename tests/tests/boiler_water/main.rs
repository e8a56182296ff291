//! Water treatment against published worked examples, a statistics library's figures, and laws that hold for any water.

mod anything_at_all;
mod bands_and_plants;
mod blowdown_by_the_glass;
mod conductivity_to_solids;
mod continuous_blowdown;
mod doses;
mod hardness_units;
mod trends;

use offshed_core::boiler::level::GlassReading;
use offshed_core::boiler::water::blowdown::{Advice, MOST_ROUNDS, Refused, Rounds, Task, fewest_rounds, in_rounds};
use offshed_core::boiler::water::conductivity::{Conversion, Sample, at_25, at_temperature, coefficient, solids};
use offshed_core::boiler::water::cycles::{Blowdown, Cycles, Feed, ShareOfFeed, Steam};
use offshed_core::boiler::water::dose::{Dose, Measure, Measured, Product, Request, dose};
use offshed_core::boiler::water::hardness::{Hardness, HardnessUnit};
use offshed_core::boiler::water::plant::{Plant, Work, check, litres_left};
use offshed_core::boiler::water::trend::{
    Limit, MOST_TESTS, NoTrend, Outlook, Test, Trend, Washout, Z_95, fit, washout,
};
use offshed_core::boiler::water::{AgainstBand, Band, Estimate, cold_litres};
use offshed_core::units::{Own, Reading, Unit};
use proptest::prelude::*;

#[track_caller]
fn near(got: f64, expected: f64, within: f64) {
    assert!((got - expected).abs() <= within, "{got}, not {expected} within {within}");
}
