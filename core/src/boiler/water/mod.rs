//! The water in the boiler: what a test says, what to put in, what to let out, and when a limit will be reached.
//!
//! Limits, strengths and factors are a railway's own data, from its water-treatment adviser: sources differ, and none
//! is built in.
//! Concentrations are mg per litre of a sample cooled to the temperature of the test; [`cold_litres`] brings a hot
//! boiler's litres to the same footing.
//! Every figure that rests on a reading is an [`Estimate`], so that a verdict says when a misreading could turn it.
//! Treatment chemicals burn: gloves, goggles, and the supplier's data sheet come before any figure from here.

pub mod blowdown;
pub mod conductivity;
pub mod cycles;
pub mod dose;
pub mod hardness;
pub mod plant;
pub mod trend;

use super::{BadNumber, steam, within};

/// Greatest concentration taken, mg/l: a tenth of the water.
pub(super) const MOST_MG_L: f64 = 100_000.0;
/// Greatest volume taken, litres.
pub(super) const MOST_LITRES: f64 = 1_000_000.0;
/// The temperature at which samples are told, °C.
pub const SAMPLE_C: f64 = 25.0;

/// A figure, and the least and the most that it can be with what was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// As read.
    pub value: f64,
    /// At the least.
    pub low: f64,
    /// At the most.
    pub high: f64,
}

impl Estimate {
    /// Without error.
    pub const fn exact(value: f64) -> Estimate {
        Estimate { value, low: value, high: value }
    }

    /// `value` with an error either way; an error below zero counts as its size.
    pub fn around(value: f64, error: f64) -> Estimate {
        let error = error.abs();
        Estimate { value, low: value - error, high: value + error }
    }

    /// The three figures in the range and in order, or which is not.
    pub(super) fn within(self, field: &'static str, low: f64, high: f64) -> Result<Estimate, BadNumber> {
        let value = within(field, self.value, low, high)?;
        within(field, self.low, f64::MIN, value)?;
        within(field, self.high, value, f64::MAX)?;
        Ok(Estimate { value, low: self.low.max(low), high: self.high.min(high) })
    }

    /// Beside a band of the railway's own.
    ///
    /// # Errors
    /// When the three figures are not numbers, or not in order.
    pub fn against(self, band: Band) -> Result<AgainstBand, BadNumber> {
        self.within("reading", f64::MIN, f64::MAX)?;
        let inside = |x: f64| x >= band.low && x <= band.high;
        Ok(match (inside(self.low) && inside(self.high), inside(self.value)) {
            (true, _) => AgainstBand::Inside,
            (false, true) => AgainstBand::InsideUnlessMisread,
            (false, false) if self.value < band.low => {
                AgainstBand::Below { by: band.low - self.value, unless_misread: self.high >= band.low }
            }
            (false, false) => AgainstBand::Above { by: self.value - band.high, unless_misread: self.low <= band.high },
        })
    }
}

/// What a test should show: pH, alkalinity, tannin, hardness, solids, each in the unit of its reading.
///
/// A dose follows from a reading in mg/l and not from pH, which does not add up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    low: f64,
    high: f64,
}

impl Band {
    /// From `low` to `high`, ends included; infinite on a side that has no limit.
    ///
    /// # Errors
    /// When an end is not a number or the band is empty; names the band's `low` or `high`.
    pub fn new(low: f64, high: f64) -> Result<Band, BadNumber> {
        let low = within("low", low, f64::NEG_INFINITY, f64::MAX)?;
        let high = within("high", high, low, f64::INFINITY)?;
        Ok(Band { low, high })
    }

    /// The least that is right; infinite when there is no least.
    pub fn low(self) -> f64 {
        self.low
    }

    /// The most that is right; infinite when there is no most.
    pub fn high(self) -> f64 {
        self.high
    }

    /// No more than `high`.
    ///
    /// # Errors
    /// When it is not a number.
    pub fn at_most(high: f64) -> Result<Band, BadNumber> {
        Band::new(f64::NEG_INFINITY, high)
    }

    /// No less than `low`.
    ///
    /// # Errors
    /// When it is not a number.
    pub fn at_least(low: f64) -> Result<Band, BadNumber> {
        Band::new(low, f64::INFINITY)
    }
}

/// A reading beside its band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum AgainstBand {
    /// Right, whatever the reading error.
    Inside,
    /// Right as read; a misreading could hide that it is not.
    InsideUnlessMisread,
    /// Too low.
    Below {
        /// By how much as read.
        by: f64,
        /// A misreading could be the cause.
        unless_misread: bool,
    },
    /// Too high.
    Above {
        /// By how much as read.
        by: f64,
        /// A misreading could be the cause.
        unless_misread: bool,
    },
}

impl AgainstBand {
    /// Whether it is right as read.
    pub fn is_inside(self) -> bool {
        matches!(self, AgainstBand::Inside | AgainstBand::InsideUnlessMisread)
    }

    /// Whether the reading error could turn the verdict: test again.
    pub fn error_could_change(self) -> bool {
        match self {
            AgainstBand::Inside => false,
            AgainstBand::InsideUnlessMisread => true,
            AgainstBand::Below { unless_misread, .. } | AgainstBand::Above { unless_misread, .. } => unless_misread,
        }
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            AgainstBand::Inside => "right",
            AgainstBand::InsideUnlessMisread => "right as read; a misreading could hide that it is not",
            AgainstBand::Below { unless_misread: false, .. } => "too low",
            AgainstBand::Below { .. } => "too low as read; a misreading could be the cause",
            AgainstBand::Above { unless_misread: false, .. } => "too high",
            AgainstBand::Above { .. } => "too high as read; a misreading could be the cause",
        }
    }
}

/// Litres at [`SAMPLE_C`] of the water that fills `hot_litres` (up to 1 000 000) at `celsius` (0 to 350 °C).
///
/// Mass stays: at 184 °C a boiler holds an eighth less water than its litres say (density: IAPWS SR1-86(1992), equation
/// 2).
///
/// # Errors
/// When a number is out of range.
pub fn cold_litres(hot_litres: f64, celsius: f64) -> Result<f64, BadNumber> {
    let litres = within("hot_litres", hot_litres, 0.0, MOST_LITRES)?;
    Ok(litres / steam::expansion(SAMPLE_C, celsius)?)
}
