//! Local time: a time zone's rules as the table of rows that the register carries to every device.

use jiff::tz::TimeZone;
use offshed_core::stamp::{Stamp, ZoneRow};

/// The years the table covers, both counted.
pub const YEARS: std::ops::RangeInclusive<i16> = 2000..=2059;

/// No zone is known by this name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownZone {
    /// The name.
    pub name: String,
}

impl std::fmt::Display for UnknownZone {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let name = &self.name;
        write!(
            f,
            "no time zone is called \"{name}\": give an IANA name (\"Etc/UTC\") or a POSIX rule (\"GMT0BST,M3.5.0/1,M10.5.0\")"
        )
    }
}

impl std::error::Error for UnknownZone {}

/// The table of a zone, by IANA name (bundled data, no files of the system needed) or POSIX rule.
///
/// # Errors
/// When the name is neither.
pub fn rows(name: &str) -> Result<Vec<ZoneRow>, UnknownZone> {
    let zone = TimeZone::get(name).or_else(|_| TimeZone::posix(name));
    let zone = zone.map_err(|_| UnknownZone { name: name.to_owned() })?;
    let first = TimeZone::UTC.to_timestamp(jiff::civil::date(*YEARS.start(), 1, 1).at(0, 0, 0, 0));
    let first = first.map_err(|_| UnknownZone { name: name.to_owned() })?;
    let last = jiff::civil::date(*YEARS.end(), 12, 31);
    let mut rows = vec![row(first, &zone)];
    let changes =
        zone.following(first).take_while(|change| TimeZone::UTC.to_datetime(change.timestamp()).date() <= last);
    for next in changes.map(|change| row(change.timestamp(), &zone)) {
        if rows.last().is_some_and(|before| before.offset_minutes != next.offset_minutes) {
            rows.push(next);
        }
    }
    Ok(rows)
}

fn row(at: jiff::Timestamp, zone: &TimeZone) -> ZoneRow {
    let offset_minutes = i16::try_from(zone.to_offset(at).seconds() / 60).unwrap_or(0);
    ZoneRow { from: Stamp(at.as_second()), offset_minutes }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rule_and_a_name_give_the_same_rows() {
        let rule = rows("GMT0BST,M3.5.0/1,M10.5.0").unwrap();
        assert_eq!(rule, rows("Europe/London").unwrap());
        assert_eq!(rule.len(), 121);
        // 2026-03-29 01:00 UTC, the last Sunday of March.
        assert!(rule.contains(&ZoneRow { from: Stamp(1_774_746_000), offset_minutes: 60 }));
        assert_eq!(rows("Etc/UTC").unwrap().len(), 1);
        assert!(rows("Harrow Vale").is_err());
    }
}
