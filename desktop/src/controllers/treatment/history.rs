//! Dissolved solids over an engine's tests on record, drawn by days in steam, and what was worked out and put in. Every
//! figure and every word is the water log's; only places in a box are made here.

use offshed_depot::views::{SolidsPoint, SolidsView, Treatment, WaterLog};

use super::super::boiler::drawing::{Spot, spot};

/// Rows of each list that the page shows: the newest.
const MOST: usize = 12;
/// Room over the highest value of the plot, as a share of it.
const HEADROOM: f64 = 1.1;
/// Room left and right of the tests, as a share of the box.
const SIDE: f64 = 0.03;

/// One dated line.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Dated {
    /// When.
    pub when: String,
    /// What.
    pub what: String,
}

/// Solids and treatments on record.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct History {
    /// Tests of solids in a box, by days in steam and value, oldest first; empty: nothing to draw.
    pub points: Vec<Spot>,
    /// Where the highest value that is right lies in the box, from the top.
    pub limit: Option<f64>,
    /// The same in words.
    pub limit_words: String,
    /// The days that the box spans, in words.
    pub span_words: String,
    /// Where the solids are heading, line by line, and what is left out.
    pub lines: Vec<String>,
    /// Tests of solids, newest first.
    pub tests: Vec<Dated>,
    /// Doses and blowdowns, newest first.
    pub treatments: Vec<Dated>,
}

/// The history of an engine's water log.
pub(super) fn history(log: &WaterLog) -> History {
    let tests = log.tests.iter().filter(|test| test.solids);
    let tests = tests.map(|test| {
        let contested = if test.contested { ", contested" } else { "" };
        Dated { when: test.at_short.clone(), what: format!("{}{contested}", test.value) }
    });
    let treatments = log.treatments.iter().map(treatment);
    let drawn = log.solids.as_ref().map(drawn).unwrap_or_default();
    History {
        lines: lines(log),
        tests: newest(tests.collect(), log.engine, log.tests_before),
        treatments: newest(treatments.collect(), log.engine, log.treatments_before),
        ..drawn
    }
}

fn drawn(solids: &SolidsView) -> History {
    let values = solids.points.iter().map(|point| point.mg_l);
    let highest = values.chain(solids.limit_mg_l).fold(1.0_f64, f64::max) * HEADROOM;
    let days = f64::from(solids.steam_days_now.max(1));
    let place = |point: &SolidsPoint| {
        let along = (f64::from(point.steam_days) / days).min(1.0);
        spot(SIDE + (1.0 - 2.0 * SIDE) * along, 1.0 - point.mg_l / highest)
    };
    History {
        points: solids.points.iter().map(place).collect(),
        limit: solids.limit_mg_l.map(|limit| 1.0 - limit / highest),
        limit_words: solids.limit_mg_l.map_or(String::new(), |limit| format!("right up to {limit} mg/l")),
        span_words: in_steam(solids.steam_days_now),
        ..History::default()
    }
}

fn in_steam(days: u32) -> String {
    if days == 1 { "1 day in steam".to_owned() } else { format!("{days} days in steam") }
}

fn lines(log: &WaterLog) -> Vec<String> {
    let since = log.since.as_ref();
    let since = since.map(|since| format!("{} since {}, {}", in_steam(since.steam_days), since.what, since.on));
    let told = log.solids.iter().flat_map(|solids| solids.lines.iter().cloned());
    since.into_iter().chain(told).chain(log.notes.iter().cloned()).map(sentence).collect()
}

/// With a capital and a full stop, as it stands on a page of its own.
fn sentence(words: String) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(|letter| letter.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", letters.as_str())
}

fn treatment(done: &Treatment) -> Dated {
    let value = match (done.kind, done.rounds) {
        (_, 0) => "none needed".to_owned(),
        ("blowdown-worked-out", 1) => format!("a fall of {}", done.value),
        ("blowdown-worked-out", n) => format!("{n} falls of {}", done.value),
        _ => done.value.clone(),
    };
    Dated { when: done.at_short.clone(), what: format!("{}: {value}", done.title) }
}

/// What was put in after the last test of a sheet, by its id as printed: a dose worked out on that sheet does not know
/// of it. Empty where nothing was.
pub(super) fn put_in_since(log: &WaterLog, sheet: &str) -> String {
    let moment = |at: &str| chrono::DateTime::parse_from_rfc3339(at).ok();
    let tests = log.tests.iter().filter(|test| test.sheet == sheet);
    let Some(tested) = tests.filter_map(|test| moment(&test.at)).max() else { return String::new() };
    let after = |done: &&Treatment| done.kind == "put-in" && moment(&done.at).is_some_and(|at| at > tested);
    let some = log.treatments.iter().filter(after).filter(|done| amount(&done.value) > 0.0);
    let told: Vec<String> = some.map(|done| format!("{} ({})", done.value, done.at_short)).collect();
    if told.is_empty() {
        return String::new();
    }
    format!("Put in since this test: {}. This dose does not know of it: test again before any more.", told.join(", "))
}

/// The number before a unit; nothing where it is none.
fn amount(value: &str) -> f64 {
    value.split(' ').next().and_then(|number| number.parse().ok()).unwrap_or(0.0)
}

/// The newest rows; a last one tells how many older there are, and where.
fn newest(mut all: Vec<Dated>, engine: u16, before: usize) -> Vec<Dated> {
    let older = all.len().saturating_sub(MOST).saturating_add(before);
    all.truncate(MOST);
    if older > 0 {
        all.push(Dated { when: format!("{older} older"), what: format!("offshed water {engine}") });
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn solids(values: &[(u32, f64)], limit: Option<f64>) -> SolidsView {
        let point = |&(steam_days, mg_l): &(u32, f64)| SolidsPoint { at: String::new(), steam_days, mg_l };
        SolidsView {
            points: values.iter().map(point).collect(),
            steam_days_now: 10,
            limit_mg_l: limit,
            warn_mg_l: None,
            slope_mg_l: None,
            interval_is_whole_spread: false,
            outlook: "not told",
            steam_days_to_limit: None,
            steam_days_soonest: None,
            steam_days_latest: None,
            steam_days_since_test: 0,
            washout: None,
            lines: Vec::new(),
            basis: "",
        }
    }

    #[test]
    fn a_test_stands_at_its_day_and_its_height() {
        let drawn = drawn(&solids(&[(0, 0.0), (5, 2_000.0), (10, 3_500.0)], Some(3_500.0)));
        let limit = drawn.limit.unwrap();
        assert!((limit - (1.0 - 1.0 / HEADROOM)).abs() < 1e-12);
        assert_eq!(drawn.points.iter().map(|at| at.x).collect::<Vec<_>>(), [SIDE, 0.5, 1.0 - SIDE]);
        assert!((drawn.points[0].y - 1.0).abs() < 1e-12, "nothing dissolved lies at the foot");
        assert!((drawn.points[2].y - limit).abs() < 1e-12, "a test at the limit lies on it");
    }

    #[test]
    fn a_test_over_the_limit_is_drawn_over_it_and_within_the_box() {
        let drawn = drawn(&solids(&[(1, 9_000.0)], Some(3_500.0)));
        assert!(drawn.points[0].y < drawn.limit.unwrap() && drawn.points[0].y > 0.0);
    }

    #[test]
    fn what_is_left_out_is_counted() {
        let row = |n: usize| Dated { when: n.to_string(), what: String::new() };
        let shown = newest((0..15).map(row).collect(), 4, 2);
        assert_eq!(shown.len(), MOST + 1);
        assert_eq!(shown[MOST], Dated { when: "5 older".to_owned(), what: "offshed water 4".to_owned() });
    }
}
