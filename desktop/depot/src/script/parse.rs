//! Values in a script's columns: times, readings, people.

use chrono::NaiveDate;
use offshed_core::entry::{FittingNumber, Words, bounded};
use offshed_core::ident::EngineId;
use offshed_core::stamp::{Day, Zone};

use super::row::{Row, ScriptFault, fault};
use crate::typed::{day_named, moment};

/// A calendar day in a column.
pub(super) fn day_in(row: &Row, column: &'static str, text: &str) -> Result<Day, ScriptFault> {
    day_named(text).map(Day::of).or_else(|problem| fault(row, column, problem))
}

/// An engine by number.
pub(super) fn engine(row: &Row, column: &'static str, text: &str) -> Result<EngineId, ScriptFault> {
    let number = text.trim_start_matches("No. ").parse();
    number.map(EngineId).or_else(|_| fault(row, column, format!("\"{text}\" is no engine number")))
}

/// Words no longer than their place.
pub(super) fn words(row: &Row, text: &str) -> Result<Words, ScriptFault> {
    bounded(text).or_else(|long| fault(row, "words", format!("{} bytes; at most {}", long.got, long.most)))
}

/// A fitting's number no longer than its place.
pub(super) fn number(row: &Row, text: &str) -> Result<FittingNumber, ScriptFault> {
    bounded(text).or_else(|long| fault(row, "value", format!("{} bytes; at most {}", long.got, long.most)))
}

/// A name no longer than its place.
pub(super) fn name(row: &Row, column: &'static str, text: &str) -> Result<offshed_core::entry::Name, ScriptFault> {
    bounded(text).or_else(|long| fault(row, column, format!("{} bytes; at most {}", long.got, long.most)))
}

/// The moment in a column, by the register's local time.
pub(super) fn moment_in(
    row: &Row,
    column: &'static str,
    text: &str,
    day: Option<NaiveDate>,
    zone: &Zone,
) -> Result<offshed_core::stamp::Stamp, ScriptFault> {
    moment(text, day).map(|local| zone.moment(local)).or_else(|problem| fault(row, column, problem))
}
