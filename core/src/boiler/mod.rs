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

pub use crate::units::BadNumber;
pub(crate) use crate::units::within;
