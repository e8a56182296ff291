//! Boiler arithmetic from the command line: each answer with its inputs, formula and source. No data folder is opened.

pub(crate) mod args;
mod cycles;
mod dates;
mod level;
pub(crate) mod plan;
mod plant;
mod road;
mod steam;
mod trend;
mod water;

use std::fmt::Display;
use std::fs;
use std::path::Path;

use offshed_core::boiler::level::{GlassReading, Regulator};
use offshed_core::boiler::pressure::Gauge;
use offshed_core::boiler::shape::Vessel;
use offshed_core::boiler::water::Estimate;
use offshed_core::units::{BadReading, Own, Quantity, Reading, Unit};
use offshed_depot::reckon::boiler::{self, NamedBoiler};
use serde::Serialize;

use self::args::Reckon;
use super::{Call, Outcome};
use crate::fault::Fault;
use crate::show::reckon::{CAUTION, Input, Report, text};

/// `offshed reckon`
pub(super) fn run(call: &Call, what: &Reckon) -> Outcome {
    match what {
        Reckon::Steam(args) => steam::steam(call, args),
        Reckon::Level(args) => level::level(call, args),
        Reckon::Road(args) => road::road(call, args),
        Reckon::Blowdown(args) => level::blowdown(call, args),
        Reckon::Dose(args) => water::dose(call, args),
        Reckon::Solids(args) => water::solids(call, args),
        Reckon::Feed(args) => steam::feed(call, args),
        Reckon::Hardness(args) => water::hardness(call, args),
        Reckon::Trend(args) => trend::trend(call, args),
        Reckon::Cycles(args) => cycles::cycles(call, args),
        Reckon::Plant(args) => plant::plant(call, args),
        Reckon::Due(args) => dates::due(call, args),
        Reckon::Plan(args) => plan::reckon(call, args),
    }
}

/// Prints a report.
fn told<R: Serialize>(
    call: &Call,
    reckon: &'static str,
    formula: &'static str,
    inputs: Vec<Input>,
    result: R,
    lines: Vec<String>,
) -> Outcome {
    call.print(&Report { reckon, inputs, formula, result, caution: CAUTION, lines, plot: String::new() }, text)
}

/// One input.
fn input(name: &'static str, value: impl Display) -> Input {
    Input { name, value: value.to_string() }
}

/// A value with its unit as typed, in the base unit of its quantity; the unit is never guessed.
fn value(field: &str, text: &str, quantity: Quantity, visible_mm: Option<f64>) -> Result<f64, Fault> {
    // A degree sign says nothing that the letter behind it does not.
    let plain = if quantity == Quantity::Temperature { text.replace('°', "") } else { text.to_owned() };
    let units = || Unit::all(quantity).map(Unit::symbol).collect::<Vec<_>>().join(", ");
    let cure = match Reading::parse(&plain, quantity) {
        Ok(reading) => return base(field, reading, quantity, visible_mm),
        Err(BadReading::NoUnit) => "has no unit",
        Err(BadReading::Unit) => "has a unit that does not fit",
        Err(BadReading::Number) => "is no number with at most three digits after the point",
    };
    Err(Fault::input(format!("`{field}`: \"{text}\" {cure}: write a number and a unit ({})", units())))
}

fn base(field: &str, reading: Reading, quantity: Quantity, visible_mm: Option<f64>) -> Result<f64, Fault> {
    // A glass is at most 2 500 mm long, so that its whole millimetres fit.
    let glass = visible_mm.map(|mm| mm.round() as u16);
    let milli = reading.in_base(quantity, Own { glass_mm: glass, working: None });
    let milli = milli.map_err(|_| Fault::input(format!("`{field}`: give it in mm, not as a share of the glass")))?;
    Ok(milli as f64 / 1_000.0)
}

/// What a water test may be of.
const TESTED: [Quantity; 4] = [Quantity::Concentration, Quantity::Conductivity, Quantity::Hardness, Quantity::Ph];

/// What the unit of a water test says that it is of.
fn tested(field: &str, text: &str) -> Result<Quantity, Fault> {
    TESTED.into_iter().find(|quantity| Reading::parse(text, *quantity).is_ok()).ok_or_else(|| {
        let units: Vec<&str> = TESTED.into_iter().flat_map(Unit::all).map(Unit::symbol).collect();
        Fault::input(format!(
            "`{field}`: \"{text}\" is no water test: write a number with at most three digits after the point and a unit ({})",
            units.join(", ")
        ))
    })
}

/// The base unit of a quantity.
fn base_unit(quantity: Quantity) -> &'static str {
    Unit::all(quantity).next().map_or("", Unit::symbol)
}

/// A gauge pressure.
fn gauge(field: &str, text: &str) -> Result<Gauge, Fault> {
    let kpa = value(field, text, Quantity::Pressure, None)?;
    Gauge::from_kpa(kpa).map_err(|bad| named(field, bad))
}

/// A fault of the core under the name that was typed.
fn named(field: &str, bad: impl Display) -> Fault {
    Fault::input(format!("`{field}`: {bad}"))
}

/// A reading of this boiler's glass.
fn glass(field: &str, text: &str, error_mm: f64, vessel: &Vessel) -> Result<GlassReading, Fault> {
    let mm = value(field, text, Quantity::Glass, Some(vessel.visible_mm()))?;
    Ok(GlassReading { mm, error_mm })
}

fn regulator(swell: Option<f64>) -> Regulator {
    swell.map_or(Regulator::Shut, |swell_mm| Regulator::Open { swell_mm })
}

/// A file's name and text.
fn file(path: &Path) -> Result<(String, String), Fault> {
    let name = path.display().to_string();
    let text = fs::read_to_string(path).map_err(|bad| Fault::input(format!("{name}: {bad}")))?;
    Ok((name, text))
}

/// The boiler named, or the demo's; with how the inputs tell it.
fn boiler(path: Option<&Path>) -> Result<(NamedBoiler, Input), Fault> {
    let Some(path) = path else {
        let demo = boiler::read("demo boiler", boiler::DEMO).map_err(Fault::input)?;
        let told = input("boiler", format!("{} (the built-in demo of the invented Harrow Vale line)", demo.name));
        return Ok((demo, told));
    };
    let (name, text) = file(path)?;
    let read = boiler::read(&name, &text).map_err(Fault::input)?;
    let told = input("boiler", format!("{} ({name})", read.name));
    Ok((read, told))
}

/// A figure with its least and greatest.
#[derive(Debug, Serialize)]
struct Span {
    value: f64,
    low: f64,
    high: f64,
}

impl From<Estimate> for Span {
    fn from(e: Estimate) -> Span {
        Span { value: e.value, low: e.low, high: e.high }
    }
}
