//! How long raising steam takes when the boiler is not warmed faster than it may be.

use crate::units::{BadNumber, within};

/// Below this a gauge says nothing of the temperature, °C.
const BOILING_C: f64 = 100.0;

/// A railway's limit of warming a boiler.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Raising {
    /// The most that the water may warm in an hour, K, 1 to 200.
    pub k_per_h: f64,
    /// The least time from lighting up a cold boiler to its first pressure, minutes, 0 to 2 880.
    pub first_pressure_minutes: f64,
    /// The temperature that counts as cold, °C, 0 to 50; a warmer boiler's share of that time is shorter in proportion.
    pub cold_c: f64,
}

/// Least minutes from lighting up at `from_c` (0 to 250 °C) until the water is at `to_c` (0 to 250 °C), rounded up.
///
/// Up to 100 °C the longer of the two limits counts, from there the rate alone; 0 when it is as warm already.
///
/// # Errors
/// When a number is not finite or out of range.
pub fn raising_minutes(limit: Raising, from_c: f64, to_c: f64) -> Result<u32, BadNumber> {
    let k_per_min = within("k_per_h", limit.k_per_h, 1.0, 200.0)? / 60.0;
    let first = within("first_pressure_minutes", limit.first_pressure_minutes, 0.0, 2_880.0)?;
    let cold = within("cold_c", limit.cold_c, 0.0, 50.0)?;
    let from = within("from_c", from_c, 0.0, 250.0)?;
    let to = within("to_c", to_c, 0.0, 250.0)?;
    if from >= to {
        return Ok(0);
    }
    let below = (to.min(BOILING_C) - from).max(0.0);
    let above = (to - from.max(BOILING_C)).max(0.0);
    let by_time = first * (below / (BOILING_C - cold)).min(1.0);
    let minutes = by_time.max(below / k_per_min) + above / k_per_min;
    // At most 15 000 by the ranges above; a millionth of a minute is rounding.
    Ok(libm::ceil(minutes - 1e-6) as u32)
}
