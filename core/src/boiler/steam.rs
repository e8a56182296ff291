//! Water and steam at the line between them: temperature of saturated steam and back, density of hot water, the rate at
//! which a boiler warms up, and how far a fusible plug's core is from melting.
//!
//! Saturation is IAPWS R7-97(2012), section 8 (region 4); density is IAPWS SR1-86(1992), equation 2.
//! Every answer that rests on a gauge reading carries what an error of reading makes of it.

use libm::{cbrt, pow, sqrt};

use super::pressure::{Absolute, Atmosphere, Gauge};
use super::{BadNumber, within};

/// Zero Celsius in kelvin, exact by definition.
pub const ZERO_CELSIUS_K: f64 = 273.15;
/// Water's critical temperature, K (IAPWS R2-83(1992)).
pub const CRITICAL_K: f64 = 647.096;
/// Water's critical density, kg/m³ (IAPWS R2-83(1992)).
const CRITICAL_DENSITY: f64 = 322.0;
/// The least pressure of region 4, kPa: that of saturated steam at 273.15 K.
const LEAST_KPA: f64 = 0.611_213;
/// Water's critical pressure, kPa.
const CRITICAL_KPA: f64 = 22_064.0;

/// The coefficients n1 to n10 of region 4 (IAPWS R7-97(2012), Table 34).
mod n {
    pub(super) const N1: f64 = 0.116_705_214_527_67e4;
    pub(super) const N2: f64 = -0.724_213_167_032_06e6;
    pub(super) const N3: f64 = -0.170_738_469_400_92e2;
    pub(super) const N4: f64 = 0.120_208_247_024_70e5;
    pub(super) const N5: f64 = -0.323_255_503_223_33e7;
    pub(super) const N6: f64 = 0.149_151_086_135_30e2;
    pub(super) const N7: f64 = -0.482_326_573_615_91e4;
    pub(super) const N8: f64 = 0.405_113_405_420_57e6;
    pub(super) const N9: f64 = -0.238_555_575_678_49;
    pub(super) const N10: f64 = 0.650_175_348_447_98e3;
}

/// Pressure of saturated steam, from its temperature in kelvin, 273.15 to 647.096 (IAPWS R7-97(2012), equation 30).
///
/// # Errors
/// When the temperature is outside that range.
pub fn saturation_pressure(kelvin: f64) -> Result<Absolute, BadNumber> {
    let t = within("temperature_k", kelvin, ZERO_CELSIUS_K, CRITICAL_K)?;
    let theta = t + n::N9 / (t - n::N10);
    let a = theta * theta + n::N1 * theta + n::N2;
    let b = n::N3 * theta * theta + n::N4 * theta + n::N5;
    let c = n::N6 * theta * theta + n::N7 * theta + n::N8;
    let root = 2.0 * c / (sqrt(b * b - 4.0 * a * c) - b);
    let square = root * root;
    // At the critical point itself the equation gives a hair more than the critical pressure.
    Absolute::from_mpa((square * square).min(CRITICAL_KPA / 1_000.0))
}

/// Temperature of saturated steam in kelvin, from its pressure, 0.611 213 to 22 064 kPa (IAPWS R7-97(2012), equation
/// 31).
///
/// # Errors
/// When the pressure is outside that range.
pub fn saturation_temperature(pressure: Absolute) -> Result<f64, BadNumber> {
    let p = within("absolute_kpa", pressure.kpa(), LEAST_KPA, CRITICAL_KPA)? / 1_000.0;
    let beta = sqrt(sqrt(p));
    let square = beta * beta;
    let e = square + n::N3 * beta + n::N6;
    let f = n::N1 * square + n::N4 * beta + n::N7;
    let g = n::N2 * square + n::N5 * beta + n::N8;
    let d = 2.0 * g / (-f - sqrt(f * f - 4.0 * e * g));
    let sum = n::N10 + d;
    Ok((sum - sqrt(sum * sum - 4.0 * (n::N9 + n::N10 * d))) / 2.0)
}

/// Temperature in Celsius of saturated steam at what a gauge shows.
///
/// # Errors
/// When the pressure is below 0.611 213 kPa absolute.
pub fn saturation_celsius(gauge: Gauge, air: Atmosphere) -> Result<f64, BadNumber> {
    Ok(saturation_temperature(gauge.absolute(air)?)? - ZERO_CELSIUS_K)
}

/// What a gauge shows over water at this temperature in Celsius, once no air is left in the boiler.
///
/// # Errors
/// When the temperature is outside 0 to 373.946 °C, or the gauge would show more than 10 000 kPa.
pub fn saturation_gauge(celsius: f64, air: Atmosphere) -> Result<Gauge, BadNumber> {
    let celsius = within("temperature_c", celsius, 0.0, CRITICAL_K - ZERO_CELSIUS_K)?;
    saturation_pressure((celsius + ZERO_CELSIUS_K).min(CRITICAL_K))?.gauge(air)
}

/// Density of liquid water under its own steam, kg/m³, from 0 to 350 °C (IAPWS SR1-86(1992), equation 2).
///
/// Cold water under air weighs the same to one part in ten thousand.
///
/// # Errors
/// When the temperature is outside that range.
pub fn water_density(celsius: f64) -> Result<f64, BadNumber> {
    let kelvin = within("temperature_c", celsius, 0.0, 350.0)? + ZERO_CELSIUS_K;
    let tau = 1.0 - kelvin / CRITICAL_K;
    let third = cbrt(tau);
    let (b1, b2, b3) = (1.992_740_64, 1.099_653_42, -0.510_839_303);
    let (b4, b5, b6) = (-1.754_934_79, -45.517_035_2, -6.746_944_50e5);
    let low = b1 * third + b2 * third * third + b3 * pow(third, 5.0);
    let high = b4 * pow(third, 16.0) + b5 * pow(third, 43.0) + b6 * pow(third, 110.0);
    Ok(CRITICAL_DENSITY * (1.0 + low + high))
}

/// How many times its volume the same water fills after going from one temperature to another, both in Celsius.
///
/// # Errors
/// When a temperature is outside 0 to 350 °C.
pub fn expansion(from_c: f64, to_c: f64) -> Result<f64, BadNumber> {
    Ok(water_density(from_c)? / water_density(to_c)?)
}

/// What a person read off a pressure gauge, and how far off it may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GaugeReading {
    /// The pressure.
    pub gauge: Gauge,
    /// Greatest error of reading, kPa, 0 to 500.
    pub error_kpa: f64,
}

impl GaugeReading {
    /// Saturation temperature in Celsius: at the least, as read, at the most.
    fn celsius(self, air: Atmosphere) -> Result<[f64; 3], BadNumber> {
        let error = within("error_kpa", self.error_kpa, 0.0, 500.0)?;
        let at = |kpa: f64| saturation_celsius(Gauge::from_kpa(kpa)?, air);
        let kpa = self.gauge.kpa();
        Ok([at((kpa - error).max(-air.kpa() / 2.0))?, at(kpa)?, at(kpa + error)?])
    }
}

/// How fast the boiler warmed between two readings, K/h, with the reading errors carried through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeatingRate {
    /// As read; negative when it cooled.
    pub k_per_h: f64,
    /// At the least.
    pub low_k_per_h: f64,
    /// At the most.
    pub high_k_per_h: f64,
}

/// A rate beside its limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AgainstLimit {
    /// Within, whatever the reading error.
    Within,
    /// Within as read, but over if the gauge was misread.
    WithinUnlessMisread,
    /// Over as read, but within if the gauge was misread.
    OverUnlessMisread,
    /// Over, whatever the reading error.
    Over,
}

impl HeatingRate {
    /// Beside a limit in K/h, taken as the greatest rate allowed.
    pub fn against(self, limit_k_per_h: f64) -> AgainstLimit {
        if self.high_k_per_h <= limit_k_per_h {
            AgainstLimit::Within
        } else if self.k_per_h <= limit_k_per_h {
            AgainstLimit::WithinUnlessMisread
        } else if self.low_k_per_h <= limit_k_per_h {
            AgainstLimit::OverUnlessMisread
        } else {
            AgainstLimit::Over
        }
    }
}

impl AgainstLimit {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            AgainstLimit::Within => "within the limit",
            AgainstLimit::WithinUnlessMisread => "within the limit as read; a misread gauge could hide an excess",
            AgainstLimit::OverUnlessMisread => "over the limit as read; a misread gauge could be the cause",
            AgainstLimit::Over => "over the limit",
        }
    }
}

/// Why no heating rate can be told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoRate {
    /// A number is out of range.
    Number(BadNumber),
    /// The gauge says nothing of the temperature yet: below 100 °C and while air is in the boiler.
    ///
    /// Cure: until steady pressure shows, go by the time from lighting up.
    NoSteadyPressure {
        /// The lower reading, kPa.
        kpa: f64,
        /// The pressure from which the gauge is believed, kPa.
        steady_kpa: f64,
    },
}

impl From<BadNumber> for NoRate {
    fn from(bad: BadNumber) -> NoRate {
        NoRate::Number(bad)
    }
}

impl core::fmt::Display for NoRate {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            NoRate::Number(bad) => bad.fmt(f),
            NoRate::NoSteadyPressure { kpa, steady_kpa } => write!(
                f,
                "{kpa} kPa says nothing of the temperature; below {steady_kpa} kPa go by the time from lighting up"
            ),
        }
    }
}

impl core::error::Error for NoRate {}

/// The rate of warming between two gauge readings `hours` apart (more than 0, at most 48).
///
/// `steady` is the pressure from which the gauge is believed; it is the pack's, and at least the air's own.
///
/// # Errors
/// When a number is out of range, or a reading is below `steady`.
pub fn heating_rate(
    first: GaugeReading,
    second: GaugeReading,
    hours: f64,
    steady: Gauge,
    air: Atmosphere,
) -> Result<HeatingRate, NoRate> {
    let hours = within("hours", hours, 1.0 / 3_600.0, 48.0)?;
    let kpa = first.gauge.kpa().min(second.gauge.kpa());
    let steady_kpa = steady.kpa().max(0.0);
    if kpa < steady_kpa {
        return Err(NoRate::NoSteadyPressure { kpa, steady_kpa });
    }
    let [low_1, as_read_1, high_1] = first.celsius(air)?;
    let [low_2, as_read_2, high_2] = second.celsius(air)?;
    Ok(HeatingRate {
        k_per_h: (as_read_2 - as_read_1) / hours,
        low_k_per_h: (low_2 - high_1) / hours,
        high_k_per_h: (high_2 - low_1) / hours,
    })
}

/// How far a fusible plug's core is from melting in the water at working pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlugMargin {
    /// Temperature of the water at working pressure, °C.
    pub water_c: f64,
    /// Melting point of the core less that temperature, K; not above zero: the core melts under water.
    pub margin_k: f64,
}

/// The margin of a plug core that melts at `melts_c` (50 to 600 °C) in a boiler at this working pressure.
///
/// # Errors
/// When the melting point is out of range or the pressure has no saturation temperature.
pub fn plug_margin(working: Gauge, air: Atmosphere, melts_c: f64) -> Result<PlugMargin, BadNumber> {
    let melts_c = within("melts_c", melts_c, 50.0, 600.0)?;
    let water_c = saturation_celsius(working, air)?;
    Ok(PlugMargin { water_c, margin_k: melts_c - water_c })
}
