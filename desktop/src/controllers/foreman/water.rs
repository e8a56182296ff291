//! Water: an engine's latest tests beside their limits, and its dissolved solids by days in steam.

use offshed_core::ident::EngineId;
use offshed_core::stamp::Now;
use offshed_depot::ledger::Ledger;
use offshed_depot::views::{self, SolidsView, WaterLog, WaterTest};

use super::view::engine_title;
use super::{ForemanDesk, Line};

/// Least days in steam along the plot, so that one test does not fill it.
const LEAST_DAYS: u32 = 10;
/// How much of the plot stands free above its highest value or limit.
const HEADROOM: f64 = 1.15;
/// The plot's own measure, across and down.
const ACROSS: f64 = 1_000.0;
const DOWN: f64 = 400.0;
/// Half a test's mark on it.
const HALF: f64 = 7.0;

/// An engine to choose.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct WaterEngine {
    /// Its number.
    pub number: u16,
    /// Number and name.
    pub title: String,
    /// It is up.
    pub chosen: bool,
}

/// Dissolved solids by days in steam, drawn 1000 across and 400 down.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plot {
    /// There is something to draw.
    pub shown: bool,
    /// The tests, as a path of marks.
    pub tests: String,
    /// From test to test.
    pub line: String,
    /// Treatment put in, as a path of triangles on the axis; empty: none.
    pub doses: String,
    /// Blowdowns worked out, as a path of bars on the axis; empty: none.
    pub blowdowns: String,
    /// What the marks are, in words.
    pub legend: String,
    /// From what days in steam count.
    pub from_words: String,
    /// The limit's height, 0 at the top to 1; below 0: none.
    pub limit: f32,
    /// The limit in words.
    pub limit_words: String,
    /// The warning's height; below 0: none.
    pub warn: f32,
    /// The warning in words.
    pub warn_words: String,
    /// The highest value of the plot in words.
    pub top_words: String,
    /// The last day in steam along it.
    pub days: u32,
    /// All of it in one sentence.
    pub spoken: String,
}

/// The page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WaterPage {
    /// Engines to choose from.
    pub engines: Vec<WaterEngine>,
    /// The engine that is up.
    pub title: String,
    /// From when days in steam count, and what is booked.
    pub since: String,
    /// The latest value of each test.
    pub tests: Vec<Line>,
    /// The plot.
    pub plot: Plot,
    /// Where the solids are heading, and what to do.
    pub outlook: String,
    /// How that is told.
    pub basis: String,
    /// What was put in or worked out, the latest first.
    pub treatments: Vec<Line>,
    /// What is left out, and why.
    pub notes: String,
}

/// Treatments that are shown.
const TREATMENTS: usize = 6;

impl ForemanDesk {
    pub(super) fn water(&self, ledger: &Ledger, now: Now) -> WaterPage {
        let ids: Vec<EngineId> = ledger.office.engines.keys().copied().collect();
        let Some(up) = self.engine.filter(|id| ids.contains(id)).or(ids.first().copied()) else {
            return WaterPage::default();
        };
        let log = views::water(ledger, up, now);
        let engine = |id: &EngineId| WaterEngine { number: id.0, title: engine_title(ledger, id.0), chosen: *id == up };
        WaterPage {
            engines: ids.iter().map(engine).collect(),
            title: engine_title(ledger, up.0),
            since: since(&log),
            tests: latest(&log.tests),
            plot: log.solids.as_ref().map_or_else(Plot::default, |solids| plot(solids, &log)),
            outlook: log.solids.as_ref().map_or(String::new(), |solids| sentences(&solids.lines)),
            basis: log.solids.as_ref().map_or(String::new(), |solids| solids.basis.to_owned()),
            treatments: log.treatments.iter().take(TREATMENTS).map(treatment).collect(),
            notes: sentences(&log.notes),
        }
    }
}

/// Each with a capital and a full stop, one a line.
fn sentences(lines: &[String]) -> String {
    let sentence = |line: &String| {
        let mut rest = line.chars();
        let first = rest.next().map(|first| first.to_uppercase().to_string()).unwrap_or_default();
        format!("{first}{}.", rest.as_str())
    };
    lines.iter().map(sentence).collect::<Vec<_>>().join("\n")
}

fn since(log: &WaterLog) -> String {
    let since = log
        .since
        .as_ref()
        .map(|since| format!("{} on {}, {} since", since.what, since.on, in_steam(i64::from(since.steam_days))));
    let booked = log.booked.as_ref().map(|booked| match booked.steam_days_left {
        left if left < 0 => format!("{}: OUT OF DATE by {}", booked.what, in_steam(-i64::from(left))),
        left => format!("{}: {} left", booked.what, in_steam(i64::from(left))),
    });
    [since, booked].into_iter().flatten().collect::<Vec<_>>().join("\n")
}

fn in_steam(days: i64) -> String {
    if days == 1 { "1 day in steam".to_owned() } else { format!("{days} days in steam") }
}

/// The latest of each test, in the order in which they were first done on that day.
fn latest(tests: &[WaterTest]) -> Vec<Line> {
    let mut seen: Vec<&str> = Vec::new();
    let mut lines = Vec::new();
    for test in tests {
        if !seen.contains(&test.step.as_str()) {
            seen.push(&test.step);
            lines.push(tested(test));
        }
    }
    lines.reverse();
    lines
}

fn tested(test: &WaterTest) -> Line {
    let mark = match test.standing {
        "right" => "proven",
        "warned" => "warned",
        _ => "not-right",
    };
    let right = range(test.low.as_deref(), test.high.as_deref(), "right");
    let warn = range(test.warn_low.as_deref(), test.warn_high.as_deref(), "no warning");
    let contested = test.contested.then(|| "contested".to_owned());
    let by = format!("{}, {}", test.at_short, test.by);
    let note = [right, warn, contested, Some(by)].into_iter().flatten().collect::<Vec<_>>().join("; ");
    Line { mark, word: test.title.clone(), words: test.value.clone(), note }
}

fn range(low: Option<&str>, high: Option<&str>, word: &str) -> Option<String> {
    match (low, high) {
        (Some(low), Some(high)) => Some(format!("{word}: {low} to {high}")),
        (Some(low), None) => Some(format!("{word}: at least {low}")),
        (None, Some(high)) => Some(format!("{word}: at most {high}")),
        (None, None) => None,
    }
}

fn treatment(treatment: &views::Treatment) -> Line {
    let rounds = if treatment.rounds > 1 { format!("{} x ", treatment.rounds) } else { String::new() };
    // What is worked out for a blowdown is how far the glass falls, which is no level.
    let words = match (treatment.kind, treatment.rounds) {
        (_, 0) => "nothing to do".to_owned(),
        ("blowdown-worked-out", _) => format!("{rounds}a fall of {}", treatment.value),
        _ => format!("{rounds}{}", treatment.value),
    };
    Line { mark: "", word: treatment.title.clone(), words, note: format!("{}, {}", treatment.at_short, treatment.by) }
}

/// Tests against days in steam, with the limit and the warning across, and what was done to the water on the axis.
fn plot(view: &SolidsView, log: &WaterLog) -> Plot {
    if view.points.is_empty() {
        return Plot::default();
    }
    let lines = view.limit_mg_l.into_iter().chain(view.warn_mg_l);
    let highest = view.points.iter().map(|point| point.mg_l).chain(lines).fold(1.0, f64::max) * HEADROOM;
    let last = view.points.iter().map(|point| point.steam_days).max().unwrap_or(0);
    let days = view.steam_days_now.max(last).max(LEAST_DAYS);
    let down = |mg_l: f64| (1.0 - mg_l / highest).clamp(0.0, 1.0);
    let places: Vec<(f64, f64)> = view
        .points
        .iter()
        .map(|point| (f64::from(point.steam_days) / f64::from(days) * ACROSS, down(point.mg_l) * DOWN))
        .collect();
    let height = |line: Option<f64>| line.map_or(-1.0, |mg_l| down(mg_l) as f32);
    let words = |line: Option<f64>, word: &str| line.map_or(String::new(), |mg_l| format!("{word} {mg_l:.0} mg/l"));
    let since = log.since.as_ref();
    let marks = |kind: &str, mark: fn(f64) -> String| {
        let here = log.treatments.iter().filter(|one| one.kind == kind && one.rounds != 0);
        let here = here.filter(|one| one.since.as_ref() == since.map(|since| &since.on));
        let at = here.filter_map(|one| Some(f64::from(one.steam_days?) / f64::from(days) * ACROSS));
        at.map(mark).collect::<Vec<_>>().join(" ")
    };
    let (doses, blowdowns) = (marks("put-in", triangle), marks("blowdown-worked-out", bar));
    let newest = view.points.last().map_or(0.0, |point| point.mg_l);
    Plot {
        shown: true,
        tests: places.iter().map(|place| diamond(*place)).collect::<Vec<_>>().join(" "),
        line: path(&places),
        legend: legend(&doses, &blowdowns),
        from_words: since.map_or(String::new(), |since| format!("{}, ", since.what)) + "0 days in steam",
        doses,
        blowdowns,
        limit: height(view.limit_mg_l),
        limit_words: words(view.limit_mg_l, "limit"),
        warn: height(view.warn_mg_l),
        warn_words: words(view.warn_mg_l, "warning"),
        top_words: format!("{highest:.0} mg/l"),
        days,
        spoken: format!(
            "Dissolved solids by days in steam: {} tests over {}, the newest {newest:.0} mg/l; {}",
            view.points.len(),
            in_steam(i64::from(days)),
            words(view.limit_mg_l, "limit")
        ),
    }
}

fn legend(doses: &str, blowdowns: &str) -> String {
    let dose = if doses.is_empty() { "" } else { " Triangle: treatment put in." };
    let blowdown = if blowdowns.is_empty() { "" } else { " Bar: blowdown worked out." };
    format!("Diamond: a test.{dose}{blowdown}")
}

/// A triangle that stands on the axis at `x`.
fn triangle(x: f64) -> String {
    let (left, right, top) = (x - 1.5 * HALF, x + 1.5 * HALF, DOWN - 4.0 * HALF);
    format!("M {left:.1} {DOWN:.1} L {x:.1} {top:.1} L {right:.1} {DOWN:.1} Z")
}

/// A bar that stands on the axis at `x`.
fn bar(x: f64) -> String {
    let (left, right, top) = (x - 0.5 * HALF, x + 0.5 * HALF, DOWN - 6.0 * HALF);
    format!("M {left:.1} {DOWN:.1} L {left:.1} {top:.1} L {right:.1} {top:.1} L {right:.1} {DOWN:.1} Z")
}

fn diamond((x, y): (f64, f64)) -> String {
    format!(
        "M {:.1} {:.1} L {:.1} {:.1} L {:.1} {:.1} L {:.1} {:.1} Z",
        x,
        y - 2.0 * HALF,
        x + HALF,
        y,
        x,
        y + 2.0 * HALF,
        x - HALF,
        y
    )
}

fn path(places: &[(f64, f64)]) -> String {
    let point = |(n, (x, y)): (usize, &(f64, f64))| format!("{} {x:.1} {y:.1}", if n == 0 { "M" } else { "L" });
    places.iter().enumerate().map(point).collect::<Vec<_>>().join(" ")
}
