//! Boiler arithmetic: steam and temperature, the water level of a tilted boiler, feed and water treatment.
//!
//! Plain `f64` in the unit that each name ends with (`_mm`, `_l`, `_kpa`), no heap, and no answer that is not a number:
//! every input is checked once against a stated range, and what cannot be answered is a typed error or a value with
//! words.
//! A figure from here helps a competent person and replaces neither the gauge glass nor the railway's rules.

pub mod feed;
mod fit;
pub mod level;
mod parts;
pub mod pressure;
pub mod record;
pub mod road;
mod settle;
pub mod shape;
pub mod steam;
mod volume;
pub mod water;

use core::fmt;

/// A number that is not finite or outside its range; names the field, what was given, and what would do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BadNumber {
    /// The field, with its unit.
    pub field: &'static str,
    /// What was given.
    pub value: f64,
    /// The least value that would do.
    pub low: f64,
    /// The greatest value that would do.
    pub high: f64,
}

impl fmt::Display for BadNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let BadNumber { field, value, low, high } = self;
        write!(f, "`{field}` is {value}; give a number from {low} to {high}")
    }
}

impl core::error::Error for BadNumber {}

/// `value` if it lies within the range, ends included.
pub(crate) fn within(field: &'static str, value: f64, low: f64, high: f64) -> Result<f64, BadNumber> {
    // A value that is not a number lies in no range.
    if (low..=high).contains(&value) { Ok(value) } else { Err(BadNumber { field, value, low, high }) }
}
