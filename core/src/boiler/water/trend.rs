//! Where the tests are heading: a straight line that a single wild reading does not turn, and the days in steam until
//! it meets a limit.
//!
//! Slope: the median of the slopes between all pairs of tests (Theil 1950; Sen 1968, J. Amer. Statist. Assoc. 63:1379);
//! height: the median of what each test lies above that slope through the origin.
//! Interval: Sen's, from the normal approximation of Kendall's S with ties allowed for (Sen 1968, equations 2.6 and
//! 2.7).
//! What the usual blowdowns take away is part of the trend; after an unusual one, begin a new series.
//! No storage is needed: an order statistic is found by halving between the least and the greatest, at most 64 times.

use core::fmt;

use super::super::{BadNumber, within};
use super::Estimate;

/// Most tests in one fit: 2 016 pairs.
pub const MOST_TESTS: usize = 64;
/// Fewest tests in one fit.
pub const FEWEST_TESTS: usize = 3;
/// Days in steam further off than this count as never.
const NEVER_DAYS: f64 = 1e6;
/// Two-sided 95 % of the normal distribution.
pub const Z_95: f64 = 1.959_963_984_540_054;

/// One test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Test {
    /// Days in steam since washout, 0 to 100 000.
    pub steam_days: f64,
    /// What it showed, −1e9 to 1e9, in the unit of its reading.
    pub value: f64,
}

/// A straight line.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Line {
    slope: f64,
    height: f64,
}

/// A fitted trend.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    middle: Line,
    least: Line,
    greatest: Line,
    last_day: f64,
    whole_spread: bool,
}

/// Why no trend can be told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoTrend {
    /// A number is out of range.
    Number(BadNumber),
    /// Fewer than [`FEWEST_TESTS`].
    TooFew {
        /// Tests given.
        given: usize,
    },
    /// More than [`MOST_TESTS`]: give the latest.
    TooMany {
        /// Tests given.
        given: usize,
    },
    /// All tests are of the same day.
    OneDay,
}

impl From<BadNumber> for NoTrend {
    fn from(bad: BadNumber) -> NoTrend {
        NoTrend::Number(bad)
    }
}

impl fmt::Display for NoTrend {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NoTrend::Number(bad) => bad.fmt(f),
            NoTrend::TooFew { given } => write!(f, "{given} tests show no trend; {FEWEST_TESTS} or more do"),
            NoTrend::TooMany { given } => write!(f, "{given} tests are too many; give the latest {MOST_TESTS}"),
            NoTrend::OneDay => f.write_str("all tests are of the same day; a trend takes two or more"),
        }
    }
}

impl core::error::Error for NoTrend {}

/// Fits `tests`, in any order; `z` (0 to 4) is how wide the interval is, [`Z_95`] for 95 %.
///
/// # Errors
/// [`NoTrend`].
pub fn fit(tests: &[Test], z: f64) -> Result<Trend, NoTrend> {
    match tests.len() {
        given @ ..FEWEST_TESTS => return Err(NoTrend::TooFew { given }),
        given if given > MOST_TESTS => return Err(NoTrend::TooMany { given }),
        _ => {}
    }
    let z = within("z", z, 0.0, 4.0)?;
    for test in tests {
        within("steam_days", test.steam_days, 0.0, 1e5)?;
        within("value", test.value, -1e9, 1e9)?;
    }
    let count = slopes(tests).count();
    if count == 0 {
        return Err(NoTrend::OneDay);
    }
    let (low, high) = ranks(tests, count, z);
    let line = |slope: f64| Line { slope, height: median(tests.iter().map(move |t| t.value - slope * t.steam_days)) };
    Ok(Trend {
        middle: line(median(slopes(tests))),
        least: line(ranked(slopes(tests), low)),
        greatest: line(ranked(slopes(tests), high)),
        last_day: tests.iter().fold(0.0, |last, t| t.steam_days.max(last)),
        whole_spread: low == 0 && high + 1 == count,
    })
}

/// Slopes between all pairs of tests that are not of the same day, a thousandth of a day or more apart.
fn slopes(tests: &[Test]) -> impl Iterator<Item = f64> + Clone + '_ {
    tests.iter().enumerate().flat_map(move |(n, one)| {
        tests.iter().skip(n + 1).filter_map(move |other| {
            let days = other.steam_days - one.steam_days;
            (days.abs() >= 1e-3).then(|| (other.value - one.value) / days)
        })
    })
}

/// Ranks, from 0, of the slopes that bound the interval.
fn ranks(tests: &[Test], count: usize, z: f64) -> (usize, usize) {
    let n = tests.len() as f64;
    let ties = tied(tests, |t| t.steam_days) + tied(tests, |t| t.value);
    let variance = (n * (n - 1.0) * (2.0 * n + 5.0) - ties).max(0.0) / 18.0;
    let half = z * libm::sqrt(variance);
    let slopes = count as f64;
    // Float to integer conversion stops at zero.
    let low = (libm::rint((slopes - half) / 2.0) - 1.0) as usize;
    let high = libm::rint((slopes + half) / 2.0) as usize;
    let last = count.saturating_sub(1);
    (low.min(last), high.min(last))
}

/// What ties take off the variance of Kendall's S: the sum of k (k − 1)(2k + 5) over groups of k equal values.
fn tied(tests: &[Test], of: impl Fn(&Test) -> f64) -> f64 {
    let one = |t: &Test| {
        let k = tests.iter().filter(|other| of(other) == of(t)).count() as f64;
        (k - 1.0) * (2.0 * k + 5.0)
    };
    tests.iter().map(one).sum()
}

/// The middle value, or the mean of the two.
fn median(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let count = values.clone().count();
    let upper = ranked(values.clone(), count / 2);
    if count % 2 == 1 { upper } else { f64::midpoint(ranked(values, (count / 2).saturating_sub(1)), upper) }
}

/// The value of a rank, from 0 for the least; the greatest when the rank is beyond it.
fn ranked(values: impl Iterator<Item = f64> + Clone, rank: usize) -> f64 {
    let keys = values.map(key);
    let (mut low, mut high) = keys.clone().fold((i64::MAX, i64::MIN), |(low, high), k| (low.min(k), high.max(k)));
    while low < high {
        // Half way, rounded down, without overflow.
        let middle = (low & high) + ((low ^ high) >> 1);
        if keys.clone().filter(|k| *k <= middle).count() > rank {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    from_key(low)
}

/// An integer in the order of the floats.
fn key(value: f64) -> i64 {
    // Both zeros have one key.
    let bits = (value + 0.0).to_bits() as i64;
    if bits < 0 { bits ^ i64::MAX } else { bits }
}

/// The float of a key.
fn from_key(key: i64) -> f64 {
    let bits = if key < 0 { key ^ i64::MAX } else { key };
    f64::from_bits(bits as u64)
}

/// What a value must not reach.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Limit {
    /// It must stay below, as solids.
    Above(f64),
    /// It must stay over, as tannin.
    Below(f64),
}

/// When the limit is met, in days in steam after the latest test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Outlook {
    /// The line has met it by the latest test.
    Met,
    /// It will be.
    In {
        /// At the fitted trend.
        days: f64,
        /// At the earliest of the interval.
        soonest: f64,
        /// At the latest of the interval; `None`: perhaps never.
        latest: Option<f64>,
    },
    /// The trend does not lead there.
    NotApproaching {
        /// At the earliest of the interval; `None`: not within it either.
        soonest: Option<f64>,
    },
}

impl Trend {
    /// Change a day in steam, and the interval of it.
    pub fn slope(&self) -> Estimate {
        Estimate { value: self.middle.slope, low: self.least.slope, high: self.greatest.slope }
    }

    /// What the line shows after so many days in steam since washout, 0 to 100 000.
    ///
    /// # Errors
    /// When they are out of range.
    pub fn at(&self, steam_days: f64) -> Result<f64, BadNumber> {
        let days = within("steam_days", steam_days, 0.0, 1e5)?;
        Ok(self.middle.height + self.middle.slope * days)
    }

    /// The latest test's days in steam since washout.
    pub fn last_day(&self) -> f64 {
        self.last_day
    }

    /// There are so few tests that the interval is the whole spread of slopes, and promises less than asked.
    pub fn is_whole_spread(&self) -> bool {
        self.whole_spread
    }

    /// When the limit is met at this trend.
    ///
    /// # Errors
    /// When the limit is not from −1e9 to 1e9.
    pub fn outlook(&self, limit: Limit) -> Result<Outlook, BadNumber> {
        let (Limit::Above(value) | Limit::Below(value)) = limit;
        within("limit", value, -1e9, 1e9)?;
        let lines = [self.middle, self.least, self.greatest];
        let days = lines.map(|line| line.days_to(limit, self.last_day));
        let soonest = days.iter().flatten().copied().reduce(f64::min);
        let latest = days.iter().try_fold(0.0_f64, |latest, d| d.map(|d| latest.max(d)));
        Ok(match (days[0], soonest) {
            (Some(days), _) if days <= 0.0 => Outlook::Met,
            (Some(days), Some(soonest)) => Outlook::In { days, soonest, latest },
            (_, soonest) => Outlook::NotApproaching { soonest },
        })
    }
}

impl Line {
    /// Days after `last_day` at which the line is at the limit; 0 when it is there already, `None` when it never comes.
    fn days_to(self, limit: Limit, last_day: f64) -> Option<f64> {
        // A limit from below is one from above seen in a mirror.
        let (slope, room) = match limit {
            Limit::Above(most) => (self.slope, most - (self.height + self.slope * last_day)),
            Limit::Below(least) => (-self.slope, self.height + self.slope * last_day - least),
        };
        if room <= 0.0 { Some(0.0) } else { (slope > 0.0).then(|| room / slope).filter(|days| *days <= NEVER_DAYS) }
    }
}

/// What the trend means for the washout.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Washout {
    /// The booked interval is over already.
    Overdue {
        /// Days in steam over.
        by: u32,
    },
    /// The limit is met: blow down, or wash out before steaming again.
    Now,
    /// The limit comes before the booked washout: blow down more, or bring it forward.
    BringForward {
        /// Whole days in steam until the limit.
        within_days: u32,
        /// Days in steam until the booked washout.
        booked_days: u32,
    },
    /// The limit may come before the booked washout: test more often.
    Watch {
        /// Whole days in steam until the limit at the earliest.
        soonest_days: u32,
        /// Days in steam until the booked washout.
        booked_days: u32,
    },
    /// As booked.
    AsBooked {
        /// Days in steam until the booked washout.
        booked_days: u32,
    },
}

/// The washout, from the days in steam left of its interval (negative: over) and the outlook of a test that a washout
/// puts right.
pub fn washout(steam_days_left: i32, outlook: Outlook) -> Washout {
    let Ok(booked_days) = u32::try_from(steam_days_left) else {
        let by = steam_days_left.unsigned_abs();
        return Washout::Overdue { by };
    };
    let before = |days: f64| (days < f64::from(booked_days)).then_some(days as u32);
    let (expected, soonest) = match outlook {
        Outlook::Met => return Washout::Now,
        Outlook::In { days, soonest, .. } => (before(days), before(soonest)),
        Outlook::NotApproaching { soonest } => (None, soonest.and_then(before)),
    };
    match (expected, soonest) {
        (Some(within_days), _) => Washout::BringForward { within_days, booked_days },
        (None, Some(soonest_days)) => Washout::Watch { soonest_days, booked_days },
        (None, None) => Washout::AsBooked { booked_days },
    }
}
