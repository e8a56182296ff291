//! Dates of every engine: the last day, days in steam left, what is postponed, and a strip of the days ahead.

use chrono::NaiveDate;
use offshed_core::due::Standing;
use offshed_core::engine::EngineState;
use offshed_core::ident::EngineId;
use offshed_core::pack::rows::DueRow;
use offshed_core::register::Register;
use offshed_core::stamp::Now;
use offshed_core::verdict::{self, Scene};
use offshed_depot::ledger::Ledger;
use offshed_depot::packfile::PackFile;

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

/// A date with how it stands; `None`: not known.
struct Dated {
    title: String,
    standing: Option<Standing>,
}

/// How many dates are out of date today.
pub(super) fn out_of_date(ledger: &Ledger, now: Now) -> usize {
    let all = ledger.office.engines.keys().flat_map(|id| dated(ledger, *id, now));
    all.filter(|dated| dated.standing.is_some_and(|standing| !standing.in_date)).count()
}

/// Every engine of the register, what is out of date first, then what comes first.
pub(super) fn engines(ledger: &Ledger, now: Now) -> Vec<DateEngine> {
    let today = ledger.office.zone().day(now.stamp);
    let one = |id: &EngineId| {
        let mut dates = dated(ledger, *id, now);
        dates.sort_by_key(|dated| urgency(dated, today));
        let first = dates.first().map_or((2, i64::MAX), |dated| urgency(dated, today));
        (first, id.0, engine(ledger, *id, &dates, today))
    };
    let mut all: Vec<_> = ledger.office.engines.keys().map(one).collect();
    all.sort_by_key(|(first, id, _)| (*first, *id));
    all.into_iter().map(|(_, _, engine)| engine).collect()
}

fn dated(ledger: &Ledger, id: EngineId, now: Now) -> Vec<Dated> {
    let Some(file) = ledger.adopted() else { return Vec::new() };
    let pack = file.pack();
    let nothing = EngineState::new(id);
    let engine = ledger.engine(id).unwrap_or(&nothing);
    let scene = Scene { pack: &pack, register: &ledger.office, engine, sheet: None, left_at: None };
    let features = ledger.office.engine(id).unwrap_or_default().features;
    let fits = |due: &DueRow| due.applies.is_none_or(|feature| features.has(feature.0));
    let one =
        |due: DueRow| Dated { title: title(file, &due), standing: verdict::due_standing(&scene, due.id, now).ok() };
    pack.dues().filter(fits).map(one).collect()
}

fn title(file: &PackFile, due: &DueRow) -> String {
    file.texts().get(due.text).to_owned()
}

/// Out of date before in date before not known; then the days that are left.
fn urgency(dated: &Dated, today: NaiveDate) -> (u8, i64) {
    match dated.standing {
        Some(standing) if !standing.in_date => (0, left(&standing, today).unwrap_or(0)),
        Some(standing) => (1, left(&standing, today).unwrap_or(i64::MAX)),
        None => (2, 0),
    }
}

/// Days until it ends at the soonest: by the calendar, or by days in steam when it is steamed every day.
fn left(standing: &Standing, today: NaiveDate) -> Option<i64> {
    let calendar = standing.last_day.map(|day| day.signed_duration_since(today).num_days());
    let steam = standing.steam_days_left.map(i64::from).filter(|_| !standing.kept_by_postponement);
    [calendar, steam].into_iter().flatten().min()
}

fn engine(ledger: &Ledger, id: EngineId, dates: &[Dated], today: NaiveDate) -> DateEngine {
    let mut rows: Vec<DateRow> = dates.iter().map(|dated| row(dated, today)).collect();
    let marks = strip(dates, &mut rows, today);
    let title = engine_title(ledger, id.0);
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

fn row(dated: &Dated, today: NaiveDate) -> DateRow {
    let Some(standing) = dated.standing else {
        let words = "the register has no day from which it counts".to_owned();
        let word = "NOT KNOWN".to_owned();
        return DateRow { number: 0, title: dated.title.clone(), state: "unknown", word, words };
    };
    let soon = left(&standing, today).is_some_and(|days| days <= SOON_DAYS);
    let (state, word) = match (standing.in_date, soon) {
        (false, _) => ("out", "OUT OF DATE".to_owned()),
        (true, true) => ("soon", "ends soon".to_owned()),
        (true, false) => ("in", "in date".to_owned()),
    };
    DateRow { number: 0, title: dated.title.clone(), state, word, words: told(&standing, today) }
}

fn told(standing: &Standing, today: NaiveDate) -> String {
    let day = standing.last_day.map(|day| {
        let days = day.signed_duration_since(today).num_days();
        let far = match days {
            0 => "today is the last day".to_owned(),
            days if days < 0 => format!("{} days ago", -days),
            1 => "1 day left".to_owned(),
            days => format!("{days} days left"),
        };
        format!("through {} ({far})", day.format("%-d %b %Y"))
    });
    let steam = standing.steam_days_left.map(|left| match left {
        left if left < 0 => format!("over by {} days in steam", left.unsigned_abs()),
        1 => "1 day in steam left".to_owned(),
        left => format!("{left} days in steam left"),
    });
    let postponed = standing.postponed_to.map(|day| format!("postponed in writing to {}", day.format("%-d %b %Y")));
    [day, steam, postponed].into_iter().flatten().collect::<Vec<_>>().join(" \u{00b7} ")
}

/// Numbers the rows that end within the strip, and puts their days on it.
fn strip(dates: &[Dated], rows: &mut [DateRow], today: NaiveDate) -> Vec<StripMark> {
    let mut ends: Vec<(i64, usize)> = Vec::new();
    for (n, (dated, row)) in dates.iter().zip(rows.iter_mut()).enumerate() {
        let days = dated.standing.filter(|s| s.in_date).and_then(|s| s.last_day);
        let days = days.map(|day| day.signed_duration_since(today).num_days());
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
