//! Conductivity at the sample's temperature to 25 °C, and from there to dissolved solids.
//!
//! κ25 = κT / (1 + a (T − 25)), the linear correction of ISO 7888, with a as data: about 2 %/K for most boiler waters,
//! less for strong alkali.
//! Solids = f · κ25, with f as data too: it depends on what is dissolved, and on whether the sample was neutralised
//! first.

use super::super::{BadNumber, within};
use super::{Estimate, SAMPLE_C};

/// How a railway turns its meter's reading into dissolved solids.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conversion {
    /// Temperature coefficient at 25 °C, per cent a kelvin, 0 to 3.5.
    pub percent_per_k: f64,
    /// Dissolved solids in mg/l for each µS/cm at 25 °C, 0.3 to 1.2.
    pub mg_l_per_us_cm: f64,
}

/// A reading of the meter, as the meter shows it without its own temperature correction.
///
/// A meter that corrects by itself is read with `celsius` 25.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Conductivity, µS/cm, 0 to 200 000.
    pub us_cm: f64,
    /// Its greatest error, µS/cm, 0 to 20 000.
    pub error_us_cm: f64,
    /// Temperature of the sample, °C, 0 to 250.
    pub celsius: f64,
    /// Its greatest error, K, 0 to 20.
    pub error_k: f64,
}

/// What a reading comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Solids {
    /// Conductivity at 25 °C, µS/cm.
    pub us_cm_25: Estimate,
    /// Dissolved solids, mg/l.
    pub mg_l: Estimate,
}

/// How much more the water conducts at `celsius` than at 25 °C; above zero for every input in range.
fn ratio(percent_per_k: f64, celsius: f64) -> Result<f64, BadNumber> {
    let a = within("percent_per_k", percent_per_k, 0.0, 3.5)? / 100.0;
    let t = within("celsius", celsius, 0.0, 250.0)?;
    Ok(1.0 + a * (t - SAMPLE_C))
}

/// Conductivity at 25 °C of a water that shows `us_cm` (0 to 200 000) at `celsius` (0 to 250).
///
/// # Errors
/// When a number is out of range.
pub fn at_25(us_cm: f64, celsius: f64, percent_per_k: f64) -> Result<f64, BadNumber> {
    let us_cm = within("us_cm", us_cm, 0.0, 200_000.0)?;
    Ok(us_cm / ratio(percent_per_k, celsius)?)
}

/// Conductivity at `celsius` (0 to 250) of a water that shows `us_cm_25` (0 to 200 000) at 25 °C.
///
/// # Errors
/// When a number is out of range.
pub fn at_temperature(us_cm_25: f64, celsius: f64, percent_per_k: f64) -> Result<f64, BadNumber> {
    let us_cm = within("us_cm_25", us_cm_25, 0.0, 200_000.0)?;
    Ok(us_cm * ratio(percent_per_k, celsius)?)
}

/// The temperature coefficient in per cent a kelvin of one water read at two temperatures, as (µS/cm, °C) each.
///
/// Both readings give the same κ25, which is solved for a.
///
/// # Errors
/// When a number is out of range, or the two readings give no coefficient from 0 to 3.5 (named `percent_per_k`).
pub fn coefficient(one: (f64, f64), other: (f64, f64)) -> Result<f64, BadNumber> {
    let us_cm = |k| within("us_cm", k, 1e-3, 200_000.0);
    let celsius = |t| within("celsius", t, 0.0, 250.0);
    let (k1, t1) = (us_cm(one.0)?, celsius(one.1)?);
    let (k2, t2) = (us_cm(other.0)?, celsius(other.1)?);
    let percent = 100.0 * (k2 - k1) / (k1 * (t2 - SAMPLE_C) - k2 * (t1 - SAMPLE_C));
    within("percent_per_k", percent, 0.0, 3.5)
}

/// Dissolved solids of a sample, with the errors of meter and thermometer carried through.
///
/// # Errors
/// When a number is out of range.
pub fn solids(sample: Sample, by: Conversion) -> Result<Solids, BadNumber> {
    let factor = within("mg_l_per_us_cm", by.mg_l_per_us_cm, 0.3, 1.2)?;
    let error = within("error_us_cm", sample.error_us_cm, 0.0, 20_000.0)?;
    let error_k = within("error_k", sample.error_k, 0.0, 20.0)?;
    let value = at_25(sample.us_cm, sample.celsius, by.percent_per_k)?;
    // A higher reading says more, a warmer sample less.
    let warmest = (sample.celsius + error_k).min(250.0);
    let coldest = (sample.celsius - error_k).max(0.0);
    let us_cm_25 = Estimate {
        value,
        low: at_25((sample.us_cm - error).max(0.0), warmest, by.percent_per_k)?,
        high: at_25((sample.us_cm + error).min(200_000.0), coldest, by.percent_per_k)?,
    };
    let mg_l = Estimate { value: us_cm_25.value * factor, low: us_cm_25.low * factor, high: us_cm_25.high * factor };
    Ok(Solids { us_cm_25, mg_l })
}
