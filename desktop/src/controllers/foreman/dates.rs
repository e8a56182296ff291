//! Dates of every engine: the last day, days in steam left, what is postponed, and a strip of the days ahead.

use chrono::NaiveDate;
use offshed_core::register::Register;
use offshed_core::stamp::Now;
use offshed_depot::ledger::Ledger;
use offshed_depot::views::{self, DateView};

use super::view::engine_title;

/// How many days the strip shows, today the first.
pub const STRIP_DAYS: u16 = 60;
/// Days, or days in steam, within which a date is said to come soon. Common practice, no source.
const SOON_DAYS: i64 = 14;

/// One date of an engine.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DateRow {
    /// Its number on the strip; 0: it is not on it.
    pub number: usize,
    /// What is due.
    pub title: String,
    /// `out`, `soon`, `in`, `unknown`.
    pub state: &'static str,
    /// How it stands, in words.
    pub word: String,
    /// Last day, days in steam left, what is postponed.
    pub words: String,
}

/// A day of the strip on which something ends.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StripMark {
    /// Its place, 0 today to 1 at the strip's end.
    pub at: f32,
    /// The numbers of the dates that end then.
    pub label: String,
    /// It stands in the lower line, since its neighbour is too near.
    pub lower: bool,
}

/// One engine's dates.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DateEngine {
    /// Number and name.
    pub title: String,
    /// What comes first, in words.
    pub first: String,
    /// Something is out of date.
    pub out: bool,
    /// Its dates, what comes first first.
    pub rows: Vec<DateRow>,
    /// The strip.
    pub marks: Vec<StripMark>,
    /// Days of the strip on which a month begins, 0 to 1, with the month's name.
    pub months: Vec<(f32, String)>,
    /// All of the strip in one sentence.
    pub spoken: String,
}

/// How many dates are out of date today.
pub(super) fn out_of_date(ledger: &Ledger, now: Now) -> usize {
    views::dates(ledger, now).iter().filter(|date| date.standing == "out-of-date").count()
}

/// Every engine of the register: what is out of date or not known first, then what runs out first.
pub(super) fn engines(ledger: &Ledger, now: Now) -> Vec<DateEngine> {
    let today = ledger.office.zone().day(now.stamp);
    let mut all: Vec<(u16, Vec<DateView>)> = Vec::new();
    for date in views::dates(ledger, now) {
        match all.iter_mut().find(|(engine, _)| *engine == date.engine) {
            Some((_, dates)) => dates.push(date),
            None => all.push((date.engine, vec![date])),
        }
    }
    let without = ledger.office.engines.keys().filter(|id| !all.iter().any(|(engine, _)| *engine == id.0));
    let without: Vec<(u16, Vec<DateView>)> = without.map(|id| (id.0, Vec::new())).collect();
    all.into_iter().chain(without).map(|(id, dates)| engine(ledger, id, &dates, today)).collect()
}

fn engine(ledger: &Ledger, id: u16, dates: &[DateView], today: NaiveDate) -> DateEngine {
    let mut rows: Vec<DateRow> = dates.iter().map(row).collect();
    let marks = strip(dates, &mut rows);
    let title = engine_title(ledger, id);
    let first = rows.first().map_or("No dates in the rules".to_owned(), |row| format!("{}: {}", row.title, row.word));
    let spoken = rows.iter().map(|row| format!("{}: {}, {}", row.title, row.word, row.words)).collect::<Vec<_>>();
    DateEngine {
        spoken: format!("{title}. {}", spoken.join(". ")),
        out: rows.iter().any(|row| row.state == "out"),
        title,
        first,
        rows,
        marks,
        months: months(today),
    }
}

fn row(date: &DateView) -> DateRow {
    let (state, word) = match date.standing {
        "in-date" if date.fewest() <= SOON_DAYS => ("soon", "ends soon"),
        "in-date" => ("in", "in date"),
        "out-of-date" => ("out", "OUT OF DATE"),
        _ => ("unknown", "NOT KNOWN"),
    };
    let words = match state {
        "unknown" => "the register has no day from which it counts".to_owned(),
        _ => told(date),
    };
    DateRow { number: 0, title: date.what.clone(), state, word: word.to_owned(), words }
}

fn told(date: &DateView) -> String {
    let day = date.last_day.as_ref().zip(date.days_left).map(|(day, days)| {
        let far = match days {
            0 => "today is the last day".to_owned(),
            -1 => "1 day ago".to_owned(),
            days if days < 0 => format!("{} days ago", -days),
            1 => "1 day left".to_owned(),
            days => format!("{days} days left"),
        };
        format!("through {} ({far})", readable(day))
    });
    let steam = date.steam_days_left.map(|left| match left {
        -1 => "over by 1 day in steam".to_owned(),
        left if left < 0 => format!("over by {} days in steam", left.unsigned_abs()),
        1 => "1 day in steam left".to_owned(),
        left => format!("{left} days in steam left"),
    });
    let postponed = date.postponed_to.as_ref().map(|day| format!("postponed in writing to {}", readable(day)));
    [day, steam, postponed].into_iter().flatten().collect::<Vec<_>>().join(" \u{00b7} ")
}

/// "9 May 2026", of an ISO 8601 day.
fn readable(day: &str) -> String {
    day.parse().map_or_else(|_| day.to_owned(), |day: NaiveDate| day.format("%-d %b %Y").to_string())
}

/// Numbers the rows that end within the strip, and puts their days on it.
fn strip(dates: &[DateView], rows: &mut [DateRow]) -> Vec<StripMark> {
    let mut ends: Vec<(i64, usize)> = Vec::new();
    for (n, (date, row)) in dates.iter().zip(rows.iter_mut()).enumerate() {
        let days = date.days_left.filter(|_| date.standing == "in-date");
        if let Some(days) = days.filter(|days| (0..i64::from(STRIP_DAYS)).contains(days)) {
            row.number = n + 1;
            ends.push((days, row.number));
        }
    }
    ends.sort_unstable();
    let mut marks: Vec<StripMark> = Vec::new();
    let mut last: Option<i64> = None;
    for day in ends.chunk_by(|a, b| a.0 == b.0) {
        let at = day.first().map_or(0, |(days, _)| *days);
        let near = last.is_some_and(|last| at - last < 4) && marks.last().is_some_and(|mark| !mark.lower);
        last = Some(at);
        let label = day.iter().map(|(_, number)| number.to_string()).collect::<Vec<_>>().join(" ");
        marks.push(StripMark { at: at as f32 / f32::from(STRIP_DAYS), label, lower: near });
    }
    marks
}

/// The days of the strip on which a month begins.
fn months(today: NaiveDate) -> Vec<(f32, String)> {
    let days = (1..u64::from(STRIP_DAYS)).filter_map(|n| Some((n, today.checked_add_days(chrono::Days::new(n))?)));
    let firsts = days.filter(|(_, day)| day.format("%-d").to_string() == "1");
    firsts.map(|(n, day)| (n as f32 / f32::from(STRIP_DAYS), day.format("%b").to_string())).collect()
}
