//! What a feed delivers, from how far and how fast it raises the glass.
//!
//! delivered = rise · litres per mm · ρ(boiler) / ρ(feed) / time + what is steamed off meanwhile, told as litres of the
//! feed's own temperature.
//! The two densities are IAPWS SR1-86(1992), equation 2: without them a hot boiler flatters its injector by an eighth.
//! Left out: the boiler cools while it is fed and its water shrinks, which tells less than is delivered, and an
//! injector's own steam is counted as delivered, a twelfth or so.
//! A proof is read in a glass that is itself proven, and well below its top nut.

use core::fmt;

use super::level::GlassReading;
use super::{BadNumber, steam, within};

/// What is steamed off while the feed is on: blower, brake, leaks, safety valves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Steaming {
    /// So much, kg a minute, 0 to 1 000.
    Known {
        /// The rate.
        kg_per_min: f64,
    },
    /// Not known; counted as none, so that the feed gives at least what is told.
    Unknown,
}

/// A feed as it was watched.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Watched {
    /// The glass at the start, mm over the bottom nut.
    pub start: GlassReading,
    /// The glass at the end.
    pub end: GlassReading,
    /// Time between, seconds, 1 to 7 200.
    pub seconds: f64,
    /// What the boiler holds in a millimetre of glass half way between, 0.1 to 1 000 litres.
    pub litres_per_mm: f64,
    /// Temperature of the boiler's water, °C, 0 to 350: saturation at the gauge.
    pub boiler_c: f64,
    /// Temperature of the feed, °C, 0 to 120.
    pub feed_c: f64,
    /// What is steamed off meanwhile.
    pub steaming: Steaming,
    /// The highest reading at which a rise is still read, mm over the bottom nut, 0 to 1 000.
    pub highest_mm: f64,
}

/// What a feed delivers, litres a minute at the feed's temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Delivery {
    /// As read; negative when the water fell faster than is steamed off.
    pub l_min: f64,
    /// At the least, with both glass readings off.
    pub low_l_min: f64,
    /// At the most, with both glass readings off; more still when the steaming is not known.
    pub high_l_min: f64,
    /// The rise in the glass, mm.
    pub rise_mm: f64,
    /// What one millimetre of glass makes, l/min.
    pub l_min_per_mm: f64,
    /// Whether what is steamed off was known.
    pub steaming_known: bool,
    seconds: f64,
}

/// A feed beside its minimum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Verdict {
    /// Enough, whatever the reading error.
    Enough,
    /// Too little, whatever the reading error.
    TooLittle,
    /// The reading error could turn the verdict: watch for longer.
    CannotTell {
        /// Seconds after which this rate would tell; `None`: more than two hours, it is as good as at the minimum.
        seconds: Option<f64>,
    },
    /// Too little, unless as much as is missing is steamed off: find out, or shut off what takes steam.
    TooLittleUnlessSteamed {
        /// What is missing, l/min.
        missing_l_min: f64,
    },
}

/// Why no delivery can be told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoDelivery {
    /// A number is out of range.
    Number(BadNumber),
    /// The glass was nearly full: the rise may have gone out of sight.
    NearlyFull {
        /// The reading and its error, mm.
        mm: f64,
        /// The highest at which a rise is read, mm.
        highest_mm: f64,
    },
}

impl From<BadNumber> for NoDelivery {
    fn from(bad: BadNumber) -> NoDelivery {
        NoDelivery::Number(bad)
    }
}

impl fmt::Display for NoDelivery {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NoDelivery::Number(bad) => bad.fmt(f),
            NoDelivery::NearlyFull { mm, highest_mm } => write!(
                f,
                "the glass may have stood at {mm} mm, over {highest_mm} mm; prove the feed again from a lower level"
            ),
        }
    }
}

impl core::error::Error for NoDelivery {}

/// What was delivered.
///
/// # Errors
/// When a number is out of range, or the glass was nearly full at either reading.
pub fn delivery(watched: &Watched) -> Result<Delivery, NoDelivery> {
    let highest_mm = within("highest_mm", watched.highest_mm, 0.0, 1_000.0)?;
    let error_mm = reading(watched.start, highest_mm)? + reading(watched.end, highest_mm)?;
    let seconds = within("seconds", watched.seconds, 1.0, 7_200.0)?;
    let litres_per_mm = within("litres_per_mm", watched.litres_per_mm, 0.1, 1_000.0)?;
    within("feed_c", watched.feed_c, 0.0, 120.0)?;
    let feed_density = steam::water_density(watched.feed_c)?;
    let shrink = steam::expansion(watched.boiler_c, watched.feed_c)?;
    let l_min_per_mm = litres_per_mm * shrink * 60.0 / seconds;
    let (steamed, steaming_known) = match watched.steaming {
        Steaming::Known { kg_per_min } => (within("kg_per_min", kg_per_min, 0.0, 1_000.0)?, true),
        Steaming::Unknown => (0.0, false),
    };
    let rise_mm = watched.end.mm - watched.start.mm;
    let at = |rise: f64| rise * l_min_per_mm + steamed * 1_000.0 / feed_density;
    Ok(Delivery {
        l_min: at(rise_mm),
        low_l_min: at(rise_mm - error_mm),
        high_l_min: at(rise_mm + error_mm),
        rise_mm,
        l_min_per_mm,
        steaming_known,
        seconds,
    })
}

/// The error of a glass reading that is low enough.
fn reading(glass: GlassReading, highest_mm: f64) -> Result<f64, NoDelivery> {
    let mm = within("glass_mm", glass.mm, 0.0, 1_000.0)?;
    let error = within("glass_error_mm", glass.error_mm, 0.0, 100.0)?;
    if mm + error > highest_mm {
        return Err(NoDelivery::NearlyFull { mm: mm + error, highest_mm });
    }
    Ok(error)
}

impl Delivery {
    /// Beside the least that the pack asks of this feed, l/min, 0 to 10 000.
    ///
    /// # Errors
    /// When the minimum is out of range.
    pub fn against(&self, least_l_min: f64) -> Result<Verdict, BadNumber> {
        let least = within("least_l_min", least_l_min, 0.0, 10_000.0)?;
        Ok(if self.low_l_min >= least {
            Verdict::Enough
        } else if self.high_l_min >= least {
            Verdict::CannotTell { seconds: self.seconds_to_tell(least) }
        } else if self.steaming_known {
            Verdict::TooLittle
        } else {
            Verdict::TooLittleUnlessSteamed { missing_l_min: least - self.l_min }
        })
    }

    /// Seconds after which the glass would tell this rate from the minimum, its error being the same.
    fn seconds_to_tell(&self, least: f64) -> Option<f64> {
        let apart = (self.l_min - least).abs();
        let error = (self.high_l_min - self.low_l_min) / 2.0;
        let seconds = libm::ceil(self.seconds * error / apart);
        // Two hours is the longest that a feed is watched.
        (seconds <= 7_200.0).then_some(seconds)
    }
}

impl Verdict {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Verdict::Enough => "enough",
            Verdict::TooLittle => "too little",
            Verdict::CannotTell { seconds: Some(_) } => "cannot tell within the reading error; watch for longer",
            Verdict::CannotTell { seconds: None } => "cannot tell within the reading error",
            Verdict::TooLittleUnlessSteamed { .. } => "too little, unless the missing water is steamed off",
        }
    }
}
