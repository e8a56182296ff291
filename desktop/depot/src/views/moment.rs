//! Moments for people and machines: local time with its offset from UTC.

use chrono::{DateTime, FixedOffset};
use offshed_core::stamp::{Stamp, Zone};

/// Writes moments in the register's local time.
#[derive(Clone, Copy)]
pub struct Moments<'a> {
    zone: &'a Zone,
}

impl<'a> Moments<'a> {
    /// In this local time.
    pub fn new(zone: &'a Zone) -> Moments<'a> {
        Moments { zone }
    }

    /// RFC 3339 with the offset: `2026-05-02T08:10:00+01:00`.
    pub fn rfc3339(&self, at: Stamp) -> String {
        self.zoned(at).map_or_else(|| at.0.to_string(), |t| t.to_rfc3339())
    }

    /// `2026-05-02 08:10 +01:00`.
    pub fn long(&self, at: Stamp) -> String {
        self.zoned(at).map_or_else(|| at.0.to_string(), |t| t.format("%Y-%m-%d %H:%M %:z").to_string())
    }

    /// `08:10` on the day of `now`, else `2 May 08:10`, and with the year in another year.
    pub fn short(&self, at: Stamp, now: Stamp) -> String {
        let (there, here) = (self.zone.local(at), self.zone.local(now));
        let same_year = there.format("%Y").to_string() == here.format("%Y").to_string();
        let form = match (there.date() == here.date(), same_year) {
            (true, _) => "%H:%M",
            (false, true) => "%-d %b %H:%M",
            (false, false) => "%-d %b %Y %H:%M",
        };
        there.format(form).to_string()
    }

    fn zoned(&self, at: Stamp) -> Option<DateTime<FixedOffset>> {
        let offset = FixedOffset::east_opt(i32::from(self.zone.offset_minutes(at)) * 60)?;
        Some(DateTime::from_timestamp(at.0, 0)?.with_timezone(&offset))
    }
}
