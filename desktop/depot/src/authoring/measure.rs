//! Values with units as a pack's author writes them, each fault with its cure.

use offshed_core::units::{BadReading, Own, Quantity, Reading, Unit};

use super::cursor::Text;

/// What is wrong, and its cure.
pub(super) type Fault = (String, String);

/// Reads a value with its unit.
pub(super) fn reading(text: &Text, quantity: Quantity, example: Unit) -> Result<Reading, Fault> {
    let shown = &text.value;
    Reading::parse(shown, quantity).map_err(|bad| match bad {
        BadReading::Number => (
            format!("\"{shown}\" is no number with at most three digits after the point, below two million"),
            "write a number and a unit".to_owned(),
        ),
        BadReading::NoUnit => {
            (format!("\"{shown}\" has no unit"), format!("write `\"{} {}\"`, as in", shown.trim(), example.symbol()))
        }
        BadReading::Unit => (
            format!("the unit of \"{shown}\" does not fit {}", quantity.name()),
            format!("its units are {}, as in", units(quantity)),
        ),
    })
}

/// Reads a duration above nothing.
pub(super) fn duration(text: &Text, step: i64) -> Result<Reading, Fault> {
    let cure = "write a time above nothing, as \"30 min\"; units are s, min, h, d".to_owned();
    let Ok(read) = Reading::parse(&text.value, Quantity::Time) else {
        return Err((format!("\"{}\" is no time", text.value), cure));
    };
    let milli = read.in_base(Quantity::Time, Own::UNKNOWN).unwrap_or(0);
    if milli <= 0 {
        return Err((format!("\"{}\" is no time above nothing", text.value), cure));
    }
    if milli % step != 0 {
        let part = if step == 1_000 { "whole seconds" } else { "tenths of a second" };
        return Err((format!("\"{}\" is finer than {part}", text.value), format!("write {part}")));
    }
    // Beyond this, seconds that are no whole minutes do not fit a limit.
    if milli / 1_000 > 2_147_483 && milli % 60_000 != 0 {
        return Err((
            format!("\"{}\" is too long to be counted in seconds", text.value),
            "write whole minutes".to_owned(),
        ));
    }
    if u32::try_from(milli / 100).is_err() {
        return Err((format!("\"{}\" is longer than 13 years", text.value), "write a shorter time".to_owned()));
    }
    Ok(read)
}

/// Whole seconds of a duration that was read.
pub(super) fn seconds(time: Reading) -> u32 {
    u32::try_from(time.in_base(Quantity::Time, Own::UNKNOWN).unwrap_or(0) / 1_000).unwrap_or(u32::MAX)
}

/// Why a value can't be a difference of two others.
pub(super) fn bad_difference(limit: Reading) -> Option<Fault> {
    if limit.milli < 0 {
        return Some((format!("{limit} is below nothing"), "a difference is 0 or more".to_owned()));
    }
    None
}

/// The units of a quantity, for a cure.
pub(super) fn units(quantity: Quantity) -> String {
    list(&Unit::all(quantity).map(Unit::symbol).collect::<Vec<_>>())
}

/// Words in back-ticks, for a cure.
pub(super) fn list(words: &[&str]) -> String {
    words.iter().map(|w| format!("`{w}`")).collect::<Vec<_>>().join(", ")
}
