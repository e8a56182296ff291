//! Time as the core sees it: whole seconds UTC, the order between devices, and a local-time table.
//!
//! The core never reads a clock; every moment is an argument.

use chrono::{DateTime, NaiveDate, NaiveDateTime, TimeDelta};
use heapless::Vec;
use serde::{Deserialize, Serialize};

use crate::limits::ZONE_ROWS;

/// A moment: seconds since 1970-01-01 00:00:00 UTC, leap seconds not counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Stamp(pub i64);

impl Stamp {
    /// The moment `seconds` later (earlier when negative); stops at the ends of the range.
    #[must_use]
    pub fn plus(self, seconds: i64) -> Stamp {
        Stamp(self.0.saturating_add(seconds))
    }

    /// Seconds from `earlier` to here; negative when `earlier` is later.
    pub fn since(self, earlier: Stamp) -> i64 {
        self.0.saturating_sub(earlier.0)
    }
}

/// A calendar day: days since 1970-01-01.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Day(pub i32);

/// Days from 0001-01-01 (day 1 of the common era) to 1970-01-01.
const EPOCH_FROM_CE: i32 = 719_163;

impl Day {
    /// The day chrono calls `date`.
    pub fn of(date: NaiveDate) -> Day {
        Day(chrono::Datelike::num_days_from_ce(&date) - EPOCH_FROM_CE)
    }

    /// As chrono's date; `None` beyond its range (years of six digits).
    pub fn date(self) -> Option<NaiveDate> {
        NaiveDate::from_num_days_from_ce_opt(self.0.checked_add(EPOCH_FROM_CE)?)
    }
}

impl core::fmt::Display for Day {
    /// ISO 8601: `2026-11-25`.
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self.date() {
            Some(date) => write!(f, "{date}"),
            None => write!(f, "day {}", self.0),
        }
    }
}

/// How far a device trusts its own clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Clock {
    /// Set, and never seen to run backwards since.
    Good,
    /// Never set, or seen to jump: good only for durations within this start-up of the device.
    Doubted {
        /// Counts the device's start-ups, so that two are not taken for one.
        boot: u16,
    },
}

/// What a face hands the core with every act: the wall clock and how far to trust it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Now {
    /// The wall clock.
    pub stamp: Stamp,
    /// How far to trust it.
    pub clock: Clock,
}

impl Now {
    /// A trusted moment.
    pub fn good(stamp: Stamp) -> Now {
        Now { stamp, clock: Clock::Good }
    }
}

/// Hybrid logical clock: orders entries of several devices so that an effect never sorts before its cause.
///
/// The upper 44 bits are seconds UTC, the lower 20 a counter within the second (Kulkarni and others, 2014: "Logical
/// Physical Clocks", section 4, with the physical part in whole seconds).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Hlc(pub u64);

impl Hlc {
    const COUNTER_BITS: u32 = 20;

    /// The next tick at wall time `now`: never at or below `self`, the highest the device has seen.
    #[must_use]
    pub fn tick(self, now: Stamp) -> Hlc {
        let wall = u64::try_from(now.0).unwrap_or(0).min(u64::MAX >> Self::COUNTER_BITS) << Self::COUNTER_BITS;
        Hlc(wall.max(self.0.saturating_add(1)))
    }

    /// The later of two.
    #[must_use]
    pub fn seen(self, other: Hlc) -> Hlc {
        self.max(other)
    }
}

/// Local time: from which moment which offset from UTC holds.
///
/// The register carries it, so that a device with no time-zone data of its own counts the same days.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Zone {
    rows: Vec<ZoneRow, ZONE_ROWS>,
}

/// One row of a [`Zone`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ZoneRow {
    /// The first moment at which the offset holds.
    pub from: Stamp,
    /// Minutes that local time is ahead of UTC (negative: behind).
    pub offset_minutes: i16,
}

impl Zone {
    /// Builds a table from rows in rising order.
    ///
    /// Returns `None` when there are more than [`ZONE_ROWS`] rows, or rows out of order.
    pub fn new(rows: &[ZoneRow]) -> Option<Zone> {
        let rising = rows.windows(2).all(|pair| matches!(pair, [a, b] if a.from < b.from));
        let rows = Vec::from_slice(rows).ok()?;
        rising.then_some(Zone { rows })
    }

    /// Its rows, in rising order.
    pub fn rows(&self) -> &[ZoneRow] {
        &self.rows
    }

    /// Minutes ahead of UTC at `at`; before the first row, the first row's; with no rows, 0.
    pub fn offset_minutes(&self, at: Stamp) -> i16 {
        let row = self.rows.iter().rev().find(|row| row.from <= at).or(self.rows.first());
        row.map_or(0, |row| row.offset_minutes)
    }

    /// The local wall time at `at`; moments chrono cannot hold become the epoch.
    pub fn local(&self, at: Stamp) -> NaiveDateTime {
        let utc = DateTime::from_timestamp(at.0, 0).unwrap_or_default().naive_utc();
        let ahead = TimeDelta::minutes(i64::from(self.offset_minutes(at)));
        utc.checked_add_signed(ahead).unwrap_or(utc)
    }

    /// The local calendar day at `at`.
    pub fn day(&self, at: Stamp) -> NaiveDate {
        self.local(at).date()
    }

    /// The moment at which local clocks show `local`; in an hour that clocks show twice, the first; in one they skip,
    /// as if they had not been put forward yet.
    pub fn moment(&self, local: NaiveDateTime) -> Stamp {
        let shown = local.and_utc().timestamp();
        let ahead = |at: Stamp| 60 * i64::from(self.offset_minutes(at));
        // An offset is at most a day, so the offsets in force a day before and after are the only candidates.
        let (before, after) = (ahead(Stamp(shown).plus(-86_400)), ahead(Stamp(shown).plus(86_400)));
        let (first, second) = (Stamp(shown).plus(-before), Stamp(shown).plus(-after));
        if ahead(first) != before && ahead(second) == after { second } else { first }
    }

    /// The first moment after local day `day` ends: midnight, by the offset that holds then.
    pub fn end_of_day(&self, day: NaiveDate) -> Stamp {
        self.moment(day.succ_opt().unwrap_or(day).and_time(chrono::NaiveTime::MIN))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_clock_never_falls_below_what_was_seen() {
        let high = Hlc::default().tick(Stamp(1_000));
        let next = high.tick(Stamp(10));
        assert!(next > high);
        assert!(next.tick(Stamp(2_000)) > next);
    }

    #[test]
    fn a_day_ends_by_the_offset_that_holds_then() {
        // Summer time begins 2026-03-29 01:00 UTC in this table.
        let zone = Zone::new(&[
            ZoneRow { from: Stamp(0), offset_minutes: 0 },
            ZoneRow { from: Stamp(1_774_746_000), offset_minutes: 60 },
        ])
        .unwrap();
        let day = NaiveDate::from_ymd_opt(2026, 3, 28).unwrap();
        assert_eq!(zone.end_of_day(day), Stamp(1_774_742_400));
        let next = day.succ_opt().unwrap();
        assert_eq!(zone.end_of_day(next), Stamp(1_774_742_400 + 23 * 3_600));
        assert_eq!(zone.day(Stamp(1_774_742_400 - 1)), day);
    }

    #[test]
    fn rows_out_of_order_are_refused() {
        let row = |s| ZoneRow { from: Stamp(s), offset_minutes: 0 };
        assert!(Zone::new(&[row(5), row(4)]).is_none());
    }
}
