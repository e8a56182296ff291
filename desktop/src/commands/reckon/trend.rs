//! `reckon trend`: where a water test is heading.

use offshed_core::boiler::water::trend::{Limit, Outlook, Test, Trend, Washout, Z_95, fit, washout};
use offshed_core::units::Quantity;
use offshed_depot::views::{outlook_words, washout_key};
use serde::Serialize;

use super::args::TrendArgs;
use super::{Call, Outcome, Span, base_unit, input, named, tested, told, value};
use crate::fault::Fault;

const TREND: &str = "slope: median of the slopes between all pairs of tests, with Sen's 95 % interval (Theil 1950; Sen \
                     1968, J. Amer. Statist. Assoc. 63:1379); days to the limit from the fitted line";

#[derive(Serialize)]
struct Heading {
    unit: &'static str,
    slope_per_steam_day: Span,
    interval_is_whole_spread: bool,
    last_test_steam_day: f64,
    line_at_last_test: f64,
    outlook: &'static str,
    steam_days_to_limit: Option<f64>,
    steam_days_soonest: Option<f64>,
    steam_days_latest: Option<f64>,
    washout: Option<&'static str>,
}

/// `offshed reckon trend`
pub(super) fn trend(call: &Call, args: &TrendArgs) -> Outcome {
    let (field, limit_text) = match (&args.most, &args.least) {
        (Some(text), _) => ("most", text),
        (None, Some(text)) => ("least", text),
        (None, None) => return Err(Fault::input("give the limit: `--most` or `--least`")),
    };
    let quantity = tested(field, limit_text)?;
    let figure = value(field, limit_text, quantity, None)?;
    let limit = if args.most.is_some() { Limit::Above(figure) } else { Limit::Below(figure) };
    let tests = args.test.iter().map(|text| test(text, quantity)).collect::<Result<Vec<_>, _>>()?;
    let fitted = fit(&tests, Z_95).map_err(|bad| named("test", bad))?;
    let outlook = fitted.outlook(limit).map_err(|bad| named(field, bad))?;
    let unit = base_unit(quantity);
    let advice = args.steam_days_left.map(|left| washout(left, outlook));
    let mut lines = vec![slope_line(&fitted, unit), outlook_words(outlook)];
    lines.extend(fitted.is_whole_spread().then(|| {
        format!("{} tests are few: the interval is all that they spread over, and promises less than 95 %", tests.len())
    }));
    lines.extend(advice.map(washout_line));
    let (name, days, soonest, latest) = parts(outlook);
    let result = Heading {
        unit,
        slope_per_steam_day: fitted.slope().into(),
        interval_is_whole_spread: fitted.is_whole_spread(),
        last_test_steam_day: fitted.last_day(),
        line_at_last_test: fitted.at(fitted.last_day()).map_err(Fault::input)?,
        outlook: name,
        steam_days_to_limit: days,
        steam_days_soonest: soonest,
        steam_days_latest: latest,
        washout: advice.map(washout_key),
    };
    let mut inputs = vec![input("tests", format!("{}, by days in steam: {}", tests.len(), args.test.join(", ")))];
    inputs.push(input(if args.most.is_some() { "below" } else { "over" }, limit_text));
    inputs.extend(args.steam_days_left.map(|left| input("days in steam left to washout", left)));
    told(call, "trend", TREND, inputs, result, lines)
}

/// A test as typed: days in steam, then a reading of the limit's own quantity.
fn test(text: &str, quantity: Quantity) -> Result<Test, Fault> {
    let (days, reading) = text.trim().split_once(char::is_whitespace).ok_or_else(|| {
        named("test", format!("\"{text}\": give days in steam since washout and what it showed, as in \"4 1650 mg/l\""))
    })?;
    let steam_days =
        days.parse().map_err(|_| named("test", format!("\"{days}\" in \"{text}\" is no number of days")))?;
    Ok(Test { steam_days, value: value("test", reading.trim(), quantity, None)? })
}

fn slope_line(fitted: &Trend, unit: &str) -> String {
    let slope = fitted.slope();
    format!("{:+.1} {unit} a day in steam ({:+.1} to {:+.1})", slope.value, slope.low, slope.high)
}

fn parts(outlook: Outlook) -> (&'static str, Option<f64>, Option<f64>, Option<f64>) {
    match outlook {
        Outlook::Met => ("met", Some(0.0), Some(0.0), Some(0.0)),
        Outlook::In { days, soonest, latest } => ("approaching", Some(days), Some(soonest), latest),
        Outlook::NotApproaching { soonest } => ("not approaching", None, soonest, None),
    }
}

/// Advice in a sentence.
fn washout_line(advice: Washout) -> String {
    match advice {
        Washout::Overdue { by } => format!("the washout is overdue by {by} days in steam"),
        Washout::Now => "wash out before steaming again, or blow down to under the limit".to_owned(),
        Washout::BringForward { within_days, booked_days } => format!(
            "bring the washout forward to within {within_days} days in steam, or blow down more: booked in {booked_days}"
        ),
        Washout::Watch { soonest_days, booked_days } => format!(
            "test more often: the limit may come in {soonest_days} days in steam, the washout is booked in {booked_days}"
        ),
        Washout::AsBooked { booked_days } => format!("wash out as booked, in {booked_days} days in steam"),
    }
}
