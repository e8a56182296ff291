//! How much of a product brings a reading up to its target.
//!
//! Mass balance: grams = (target − reading) mg/l · litres / strength / 1000.
//! Left out: what the product loses by reacting with hardness or oxygen before it shows, and what later feed thins out.

use super::super::{BadNumber, within};
use super::{Estimate, MOST_LITRES, MOST_MG_L};

/// A treatment product.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Product {
    /// What one gram adds, in grams of what the test shows (tannin, CaCO3, PO4, SO3 ...), 0.000 1 to 10.
    ///
    /// A liquid of 35 % tannin has 0.35; caustic soda has 1.25 as CaCO3.
    pub strength: f64,
    /// The measure that comes with it.
    pub measure: Option<Measure>,
}

/// The pack's own measure: a scoop, a cup, an ounce.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measure {
    /// Grams of product in one, 0.01 to 100 000.
    pub grams: f64,
    /// Into how many parts a person can divide one, 1 to 16: 2 for half scoops.
    pub parts: u8,
}

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Request {
    /// What the test shows, mg/l, 0 to 100 000.
    pub reading_mg_l: Estimate,
    /// What it should show, mg/l, 0 to 100 000.
    pub target_mg_l: f64,
    /// Water to treat, litres at the sample's temperature, above 0 to 1 000 000; see [`super::cold_litres`].
    pub litres: Estimate,
    /// The product.
    pub product: Product,
}

/// What to put in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Dose {
    /// Nothing: the reading is at or over its target.
    None {
        /// By how much, mg/l.
        over_mg_l: f64,
    },
    /// This much.
    Add {
        /// Grams of product.
        grams: Estimate,
        /// The same in the pack's own measure.
        measured: Option<Measured>,
    },
}

/// A dose as a person measures it out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Measures, to the nearest part.
    pub measures: f64,
    /// Grams in those.
    pub grams: f64,
    /// What the test will show after those, mg/l; over the target when the count went up.
    pub reaches_mg_l: f64,
}

/// The dose.
///
/// # Errors
/// When a number is out of range; names the field.
pub fn dose(request: &Request) -> Result<Dose, BadNumber> {
    let reading = request.reading_mg_l.within("reading_mg_l", 0.0, MOST_MG_L)?;
    let target = within("target_mg_l", request.target_mg_l, 0.0, MOST_MG_L)?;
    let litres = request.litres.within("litres", 0.001, MOST_LITRES)?;
    let strength = within("strength", request.product.strength, 1e-4, 10.0)?;
    let measure = request.product.measure.map(checked).transpose()?;
    if reading.value >= target {
        return Ok(Dose::None { over_mg_l: reading.value - target });
    }
    let grams = |mg_l: f64, litres: f64| (target - mg_l).max(0.0) * litres / strength / 1_000.0;
    let add = Estimate {
        value: grams(reading.value, litres.value),
        low: grams(reading.high, litres.low),
        high: grams(reading.low, litres.high),
    };
    let raise = |grams: f64| reading.value + grams * strength * 1_000.0 / litres.value;
    Ok(Dose::Add { grams: add, measured: measure.map(|m| measured(m, add.value, raise)) })
}

/// The measure, if it can be used.
fn checked(measure: Measure) -> Result<Measure, BadNumber> {
    within("measure_grams", measure.grams, 0.01, 100_000.0)?;
    within("measure_parts", measure.parts.into(), 1.0, 16.0)?;
    Ok(measure)
}

/// To the nearest part of a measure.
fn measured(measure: Measure, grams: f64, raise: impl Fn(f64) -> f64) -> Measured {
    let parts = f64::from(measure.parts);
    let measures = libm::round(grams / measure.grams * parts) / parts;
    let grams = measures * measure.grams;
    Measured { measures, grams, reaches_mg_l: raise(grams) }
}
