//! Where the dissolved solids are heading: the trend by days in steam, when it meets the limit, and what that means for
//! the next date.

use offshed_core::boiler::water::trend::{self, Limit, MOST_TESTS, NoTrend, Outlook, Test, Trend, Washout, Z_95};
use serde::Serialize;

use super::BookedView;

const BASIS: &str = "median of the slopes between all pairs of tests, with Sen's 95 % interval (Theil 1950; Sen 1968, \
                     J. Amer. Statist. Assoc. 63:1379); what the usual blowdowns take away is part of it, and one out of \
                     the ordinary bends it";

/// One test of dissolved solids.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SolidsPoint {
    /// When, RFC 3339 local.
    pub at: String,
    /// Days in steam since the date they count from.
    pub steam_days: u32,
    /// What it showed, mg/l.
    pub mg_l: f64,
}

/// Change in a day in steam, mg/l, with the interval of it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SlopeView {
    /// As fitted.
    pub value: f64,
    /// At the least.
    pub low: f64,
    /// At the most.
    pub high: f64,
}

/// Dissolved solids since the date that days in steam count from.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SolidsView {
    /// All tests since then, oldest first; the latest 64 are fitted.
    pub points: Vec<SolidsPoint>,
    /// Days in steam until now.
    pub steam_days_now: u32,
    /// The highest that is right by the newest test's own step, mg/l.
    pub limit_mg_l: Option<f64>,
    /// Above this there is a warning, mg/l.
    pub warn_mg_l: Option<f64>,
    /// Change in a day in steam; `None`: no trend.
    pub slope_mg_l: Option<SlopeView>,
    /// So few tests that the interval is all that they spread over.
    pub interval_is_whole_spread: bool,
    /// `met`, `approaching`, `not approaching`, `not told`.
    pub outlook: &'static str,
    /// Days in steam after the latest test until the limit.
    pub steam_days_to_limit: Option<f64>,
    /// The same at the soonest of the interval.
    pub steam_days_soonest: Option<f64>,
    /// The same at the latest of the interval; `None`: perhaps never.
    pub steam_days_latest: Option<f64>,
    /// Days in steam since the latest test.
    pub steam_days_since_test: u32,
    /// `overdue`, `now`, `bring forward`, `watch`, `as booked`; `None`: neither date nor trend says so.
    pub washout: Option<&'static str>,
    /// All of it in words, line by line.
    pub lines: Vec<String>,
    /// How the trend is told, and its source.
    pub basis: &'static str,
}

/// The view of tests in order of time; the limit and the warning are the newest test's own.
pub(super) fn solids(
    points: Vec<SolidsPoint>,
    limit_mg_l: Option<f64>,
    warn_mg_l: Option<f64>,
    steam_days_now: u32,
    booked: Option<&BookedView>,
) -> SolidsView {
    let last_day = points.last().map_or(steam_days_now, |p| p.steam_days);
    let since_test = steam_days_now.saturating_sub(last_day);
    let fitted = fitted(&points);
    let outlook = outlook(&points, &fitted, limit_mg_l);
    let advice = advice(outlook, since_test, booked);
    let (key, days, soonest, latest) = parts(outlook);
    SolidsView {
        lines: lines(&points, &fitted, (outlook, limit_mg_l), since_test, advice.zip(booked)),
        slope_mg_l: fitted.as_ref().ok().map(slope),
        interval_is_whole_spread: fitted.as_ref().is_ok_and(Trend::is_whole_spread),
        outlook: key,
        steam_days_to_limit: days,
        steam_days_soonest: soonest,
        steam_days_latest: latest,
        steam_days_since_test: since_test,
        washout: advice.map(washout_key),
        points,
        steam_days_now,
        limit_mg_l,
        warn_mg_l,
        basis: BASIS,
    }
}

fn fitted(points: &[SolidsPoint]) -> Result<Trend, NoTrend> {
    let latest = points.iter().skip(points.len().saturating_sub(MOST_TESTS));
    let tests: Vec<Test> = latest.map(|p| Test { steam_days: f64::from(p.steam_days), value: p.mg_l }).collect();
    trend::fit(&tests, Z_95)
}

/// A latest test over its limit has met it, whatever the line says.
fn outlook(points: &[SolidsPoint], fitted: &Result<Trend, NoTrend>, limit: Option<f64>) -> Option<Outlook> {
    let limit = limit?;
    if points.last().is_some_and(|point| point.mg_l > limit) {
        return Some(Outlook::Met);
    }
    fitted.as_ref().ok()?.outlook(Limit::Above(limit)).ok()
}

/// What is to be done, told from now: the days in steam since the latest test are over.
fn advice(outlook: Option<Outlook>, since_test: u32, booked: Option<&BookedView>) -> Option<Washout> {
    let left = booked.map(|booked| booked.steam_days_left);
    match (outlook, left) {
        (Some(Outlook::Met), None) => Some(Washout::Now),
        (Some(outlook), Some(left)) => Some(trend::washout(left, from_now(outlook, since_test))),
        // Without an outlook the date alone speaks, and only when it is over.
        (None, Some(left)) if left < 0 => Some(trend::washout(left, Outlook::NotApproaching { soonest: None })),
        _ => None,
    }
}

fn from_now(outlook: Outlook, since_test: u32) -> Outlook {
    let over = f64::from(since_test);
    let left = |days: f64| (days - over).max(0.0);
    match outlook {
        Outlook::In { days, .. } if days <= over => Outlook::Met,
        Outlook::In { days, soonest, latest } => {
            Outlook::In { days: left(days), soonest: left(soonest), latest: latest.map(left) }
        }
        Outlook::NotApproaching { soonest } => Outlook::NotApproaching { soonest: soonest.map(left) },
        Outlook::Met => Outlook::Met,
    }
}

fn slope(fitted: &Trend) -> SlopeView {
    let slope = fitted.slope();
    SlopeView { value: slope.value, low: slope.low, high: slope.high }
}

fn parts(outlook: Option<Outlook>) -> (&'static str, Option<f64>, Option<f64>, Option<f64>) {
    match outlook {
        None => ("not told", None, None, None),
        Some(Outlook::Met) => ("met", Some(0.0), Some(0.0), Some(0.0)),
        Some(Outlook::In { days, soonest, latest }) => ("approaching", Some(days), Some(soonest), latest),
        Some(Outlook::NotApproaching { soonest }) => ("not approaching", None, soonest, None),
    }
}

fn lines(
    points: &[SolidsPoint],
    fitted: &Result<Trend, NoTrend>,
    (outlook, limit): (Option<Outlook>, Option<f64>),
    since_test: u32,
    advice: Option<(Washout, &BookedView)>,
) -> Vec<String> {
    let mut lines = Vec::new();
    let over = points.last().zip(limit).filter(|(point, limit)| point.mg_l > *limit);
    lines.extend(over.map(|(point, limit)| format!("the latest test, {} mg/l, is over {limit} mg/l", point.mg_l)));
    lines.push(match fitted {
        Ok(fitted) => slope_words(&slope(fitted)),
        Err(none) => format!("no trend: {none}"),
    });
    if limit.is_none() {
        lines.push("the step states no highest value, so that there is nothing to head for".to_owned());
    }
    lines.extend(outlook.map(outlook_words));
    if since_test > 0 {
        let unit = if since_test == 1 { "day in steam is" } else { "days in steam are" };
        lines.push(format!("{since_test} {unit} over since the latest test"));
    }
    if fitted.as_ref().is_ok_and(Trend::is_whole_spread) {
        lines.push(
            "the tests are few: the interval is all that they spread over, and promises less than 95 %".to_owned(),
        );
    }
    lines.extend(advice.map(|(advice, booked)| advice_words(advice, booked)));
    lines
}

fn slope_words(slope: &SlopeView) -> String {
    format!("{:+.1} mg/l a day in steam ({:+.1} to {:+.1})", slope.value, slope.low, slope.high)
}

/// When the limit is met, in words; days in steam count from the latest test.
pub fn outlook_words(outlook: Outlook) -> String {
    match outlook {
        Outlook::Met => "the limit is met: blow down or wash out before steaming again".to_owned(),
        Outlook::In { days, soonest, latest } => {
            let latest = latest.map_or_else(|| "or never".to_owned(), |days| format!("at the latest {days:.1}"));
            format!(
                "the limit in {days:.1} days in steam after the latest test (at the soonest {soonest:.1}, {latest})"
            )
        }
        Outlook::NotApproaching { soonest: Some(days) } => {
            format!("the trend does not lead to the limit; at the worst of its interval in {days:.1} days in steam")
        }
        Outlook::NotApproaching { soonest: None } => "the trend does not lead to the limit".to_owned(),
    }
}

/// The advice in a word or two, for programs.
pub fn washout_key(advice: Washout) -> &'static str {
    match advice {
        Washout::Overdue { .. } => "overdue",
        Washout::Now => "now",
        Washout::BringForward { .. } => "bring forward",
        Washout::Watch { .. } => "watch",
        Washout::AsBooked { .. } => "as booked",
    }
}

fn advice_words(advice: Washout, booked: &BookedView) -> String {
    let what = &booked.what;
    match advice {
        Washout::Overdue { by } => format!("out of date: {what}, by {by} days in steam"),
        Washout::Now => "wash out before steaming again, or blow down to under the limit and test again".to_owned(),
        Washout::BringForward { within_days, booked_days } => format!(
            "bring the washout forward to within {within_days} days in steam from now, or blow down more: {booked_days} \
             are left by date ({what})"
        ),
        Washout::Watch { soonest_days, booked_days } => format!(
            "test more often: the limit may come in {soonest_days} days in steam from now, and {booked_days} are left by \
             date ({what})"
        ),
        Washout::AsBooked { booked_days } => {
            format!("the date comes first: {booked_days} days in steam are left ({what})")
        }
    }
}
