//! Blowing down and refilling, told as a fall in the glass.
//!
//! Each round takes the same fall and is filled up again to the level it began at; what is left mixes with the feed:
//! after n rounds, solids = feed + (start − feed) · (litres low / litres full)ⁿ, by mass balance.
//! Only the ratio of two volumes at one temperature counts, so hot litres do.
//! Left out: steam that flashes off meanwhile, which leaves its salts behind, and water drawn before it has mixed.
//! A boiler is not as wide at one level as at another, so the caller says what it holds at each.
//! A second person watches the glass, and the valve shuts at the lower mark whatever the figure says.

use core::fmt;

use super::super::level::GlassReading;
use super::super::{BadNumber, within};
use super::{Estimate, MOST_LITRES, MOST_MG_L};

/// Most rounds that are worked out.
pub const MOST_ROUNDS: u8 = 12;

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Task {
    /// Solids in the boiler, mg/l, 0 to 100 000.
    pub solids_mg_l: Estimate,
    /// Solids in the feed, mg/l, 0 to 100 000.
    pub feed_mg_l: f64,
    /// What the boiler should come down to, mg/l, 0 to 100 000.
    pub target_mg_l: f64,
    /// The glass before the first round, mm over the bottom nut.
    pub level: GlassReading,
    /// The mark below which the water never goes, mm over the bottom nut, 0 to 1 000.
    pub lower_mark_mm: f64,
}

/// What to do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Advice {
    /// Nothing: the solids are at or under the target.
    NotNeeded {
        /// By how much, mg/l.
        under_mg_l: f64,
    },
    /// Blow down and refill.
    Blow(Rounds),
}

/// Rounds of blowing down and refilling.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rounds {
    /// How many.
    pub rounds: u8,
    /// Fall of the glass in each, whole mm, rounded up.
    pub fall_mm: f64,
    /// Where the glass stands at the end of each fall, mm over the bottom nut.
    pub stop_mm: f64,
    /// Litres blown out in each, at the boiler's temperature.
    pub litres_each: f64,
    /// Share of the boiler's water blown out in each, 0 to 1.
    pub share_each: f64,
    /// Solids after the last refill, mg/l, with the errors of the test and of both glass readings.
    pub reaches_mg_l: Estimate,
}

/// Why no fall can be told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Refused {
    /// A number is out of range.
    Number(BadNumber),
    /// The feed is no cleaner than the target: no blowdown reaches it.
    FeedTooStrong {
        /// The feed, mg/l.
        feed_mg_l: f64,
        /// The target, mg/l.
        target_mg_l: f64,
    },
    /// Less than a millimetre is left above the lower mark, the reading error taken off.
    StartsTooLow {
        /// The reading, mm.
        level_mm: f64,
        /// The least to start from, mm.
        least_mm: f64,
    },
    /// The fall would pass the lower mark.
    PassesLowerMark {
        /// Rounds asked for.
        rounds: u8,
        /// The most that each may fall, mm.
        allowed_mm: f64,
        /// Rounds that would do; `None`: more than [`MOST_ROUNDS`].
        rounds_needed: Option<u8>,
    },
    /// The boiler does not say what it holds at this level.
    NoLitres {
        /// The level, mm over the bottom nut.
        level_mm: f64,
    },
    /// The boiler says that it holds no less at the lower level.
    LitresDoNotFall {
        /// The lower level, mm over the bottom nut.
        level_mm: f64,
    },
}

impl From<BadNumber> for Refused {
    fn from(bad: BadNumber) -> Refused {
        Refused::Number(bad)
    }
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Refused::Number(bad) => bad.fmt(f),
            Refused::FeedTooStrong { feed_mg_l, target_mg_l } => write!(
                f,
                "feed of {feed_mg_l} mg/l cannot bring the boiler to {target_mg_l} mg/l; use cleaner feed or wash out"
            ),
            Refused::StartsTooLow { level_mm, least_mm } => {
                write!(f, "the glass is at {level_mm} mm; fill to {least_mm} mm or more first")
            }
            Refused::PassesLowerMark { rounds, allowed_mm, rounds_needed: Some(needed) } => write!(
                f,
                "in {rounds} rounds the glass would pass the lower mark, {allowed_mm} mm down; take {needed} rounds or \
                 fill higher first"
            ),
            Refused::PassesLowerMark { allowed_mm, .. } => write!(
                f,
                "falls of {allowed_mm} mm would take more than {MOST_ROUNDS} rounds; fill higher first, or wash out"
            ),
            Refused::NoLitres { level_mm } => write!(f, "the boiler gives no volume at {level_mm} mm of glass"),
            Refused::LitresDoNotFall { level_mm } => write!(
                f,
                "the boiler is said to hold no less at {level_mm} mm of glass than higher up; correct its shape"
            ),
        }
    }
}

impl core::error::Error for Refused {}

/// A task that has been looked over.
struct Checked {
    solids: Estimate,
    feed: f64,
    level_mm: f64,
    error_mm: f64,
    /// The most whole millimetres that the glass may fall.
    allowed: u16,
    full_l: f64,
    /// Share of the solids over the feed's that may stay.
    may_stay: f64,
}

/// The fall for a number of rounds, 1 to [`MOST_ROUNDS`].
///
/// `litres` gives what the boiler holds at a height over the bottom nut in mm, and `None` where it cannot say.
///
/// # Errors
/// [`Refused`], above all when the fall would pass the lower mark.
pub fn in_rounds(task: &Task, rounds: u8, litres: impl Fn(f64) -> Option<f64>) -> Result<Advice, Refused> {
    within("rounds", rounds.into(), 1.0, MOST_ROUNDS.into())?;
    match checked(task, &litres)? {
        Looked::NotNeeded(advice) => Ok(advice),
        Looked::Needed(task) => task.in_rounds(rounds, &litres).map(Advice::Blow),
    }
}

/// The fewest rounds that keep the glass over the lower mark.
///
/// # Errors
/// [`Refused`], as of [`in_rounds`].
pub fn fewest_rounds(task: &Task, litres: impl Fn(f64) -> Option<f64>) -> Result<Advice, Refused> {
    match checked(task, &litres)? {
        Looked::NotNeeded(advice) => Ok(advice),
        Looked::Needed(task) => {
            let rounds = task.needed(&litres)?.unwrap_or(MOST_ROUNDS);
            task.in_rounds(rounds, &litres).map(Advice::Blow)
        }
    }
}

enum Looked {
    NotNeeded(Advice),
    Needed(Checked),
}

fn checked(task: &Task, litres: &impl Fn(f64) -> Option<f64>) -> Result<Looked, Refused> {
    let solids = task.solids_mg_l.within("solids_mg_l", 0.0, MOST_MG_L)?;
    let feed = within("feed_mg_l", task.feed_mg_l, 0.0, MOST_MG_L)?;
    let target = within("target_mg_l", task.target_mg_l, 0.0, MOST_MG_L)?;
    let level_mm = within("level_mm", task.level.mm, 0.0, 1_000.0)?;
    let error_mm = within("level_error_mm", task.level.error_mm, 0.0, 100.0)?;
    let lower = within("lower_mark_mm", task.lower_mark_mm, 0.0, 1_000.0)?;
    if solids.value <= target {
        let under_mg_l = target - solids.value;
        return Ok(Looked::NotNeeded(Advice::NotNeeded { under_mg_l }));
    }
    if feed >= target {
        return Err(Refused::FeedTooStrong { feed_mg_l: feed, target_mg_l: target });
    }
    let room = libm::floor(level_mm - error_mm - lower);
    if room < 1.0 {
        return Err(Refused::StartsTooLow { level_mm, least_mm: lower + error_mm + 1.0 });
    }
    Ok(Looked::Needed(Checked {
        solids,
        feed,
        level_mm,
        error_mm,
        // Between 1 and 1 000 by the ranges above.
        allowed: room as u16,
        full_l: held(level_mm, litres)?,
        may_stay: (target - feed) / (solids.value - feed),
    }))
}

/// What the boiler holds at a level.
fn held(level_mm: f64, litres: &impl Fn(f64) -> Option<f64>) -> Result<f64, Refused> {
    let litres = litres(level_mm).ok_or(Refused::NoLitres { level_mm })?;
    Ok(within("litres", litres, 0.0, MOST_LITRES)?)
}

impl Checked {
    /// Litres that may be left at the end of each fall when there are so many rounds.
    fn may_be_left(&self, rounds: u8) -> f64 {
        self.full_l * libm::pow(self.may_stay, 1.0 / f64::from(rounds))
    }

    /// What the boiler holds after a fall of whole millimetres.
    fn after(&self, fall: u16, litres: &impl Fn(f64) -> Option<f64>) -> Result<f64, Refused> {
        let level_mm = self.level_mm - f64::from(fall);
        let left = held(level_mm, litres)?;
        if left < self.full_l { Ok(left) } else { Err(Refused::LitresDoNotFall { level_mm }) }
    }

    /// Rounds that keep to the greatest fall allowed.
    fn needed(&self, litres: &impl Fn(f64) -> Option<f64>) -> Result<Option<u8>, Refused> {
        let lowest = self.after(self.allowed, litres)?;
        Ok((1..=MOST_ROUNDS).find(|n| lowest <= self.may_be_left(*n)))
    }

    fn in_rounds(&self, rounds: u8, litres: &impl Fn(f64) -> Option<f64>) -> Result<Rounds, Refused> {
        let may_be_left = self.may_be_left(rounds);
        if self.after(self.allowed, litres)? > may_be_left {
            return Err(Refused::PassesLowerMark {
                rounds,
                allowed_mm: f64::from(self.allowed),
                rounds_needed: self.needed(litres)?,
            });
        }
        let fall = self.least_fall(may_be_left, litres)?;
        let left = self.after(fall, litres)?;
        Ok(self.told(rounds, f64::from(fall), left))
    }

    /// The least whole millimetres after which no more than `may_be_left` is in the boiler; the greatest allowed does.
    fn least_fall(&self, may_be_left: f64, litres: &impl Fn(f64) -> Option<f64>) -> Result<u16, Refused> {
        let (mut too_little, mut enough) = (0, self.allowed);
        while enough - too_little > 1 {
            let fall = u16::midpoint(too_little, enough);
            if self.after(fall, litres)? <= may_be_left {
                enough = fall;
            } else {
                too_little = fall;
            }
        }
        Ok(enough)
    }

    fn told(&self, rounds: u8, fall_mm: f64, left_l: f64) -> Rounds {
        let litres_each = self.full_l - left_l;
        let stays = left_l / self.full_l;
        // Both readings of a fall may be off, in opposite ways.
        let misread = 2.0 * self.error_mm / fall_mm * (1.0 - stays);
        let reaches = |solids: f64, stays: f64| {
            self.feed + (solids - self.feed) * libm::pow(stays.clamp(0.0, 1.0), f64::from(rounds))
        };
        Rounds {
            rounds,
            fall_mm,
            stop_mm: self.level_mm - fall_mm,
            litres_each,
            share_each: 1.0 - stays,
            reaches_mg_l: Estimate {
                value: reaches(self.solids.value, stays),
                low: reaches(self.solids.low.max(self.feed), stays - misread),
                high: reaches(self.solids.high, stays + misread),
            },
        }
    }
}
