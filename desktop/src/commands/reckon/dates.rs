//! `reckon due`: the last day in date, by the calendar and by days in steam.

use offshed_core::due::{Governs, LastDay, Rule, judge};
use offshed_core::stamp::Zone;
use offshed_depot::typed::day_named;
use serde::Serialize;

use super::args::DueArgs;
use super::{Call, Outcome, input, named, told};
use crate::commands::clock;
use crate::fault::Fault;

const DUE: &str = "months in one step with an end-of-month clamp (python-dateutil, relativedelta); a day in steam is a \
                   service day (49 CFR 230.8); whichever is first";

#[derive(Serialize)]
struct Due {
    in_date: bool,
    last_day: Option<String>,
    steam_days_left: Option<i32>,
    governs: Option<&'static str>,
}

/// `offshed reckon due`
pub(super) fn due(call: &Call, args: &DueArgs) -> Outcome {
    let last_day = if args.day_before { LastDay::DayBefore } else { LastDay::Anniversary };
    let rule = Rule { months: args.months, days: args.days, steam_days: args.steam_days, last_day };
    if !rule.has_clock() {
        return Err(Fault::input("no interval: give `--months`, `--days` or `--steam-days` above 0"));
    }
    let done = day_named(&args.done).map_err(|bad| named("done", bad))?;
    let today = match &args.today {
        Some(text) => day_named(text).map_err(|bad| named("today", bad))?,
        None => Zone::default().day(clock().stamp),
    };
    let standing = judge(rule, done, today, args.used, None).map_err(|bad| named("done", bad))?;
    let result = Due {
        in_date: standing.in_date,
        last_day: standing.calendar_last_day.map(|day| day.to_string()),
        steam_days_left: standing.steam_days_left,
        governs: standing.governs.map(|g| match g {
            Governs::Calendar => "calendar",
            Governs::DaysInSteam => "days-in-steam",
        }),
    };
    let mut words = vec![if result.in_date { "in date" } else { "OUT OF DATE" }.to_owned()];
    words.extend(result.last_day.as_ref().map(|day| format!("last day by the calendar {day}")));
    words.extend(result.steam_days_left.map(|left| format!("{left} day(s) in steam left")));
    let inputs = vec![
        input("interval", format!("{} months, {} days, {} days in steam", args.months, args.days, args.steam_days)),
        input("done", done),
        input("used", format!("{} days in steam", args.used)),
        input("today", today),
        input("last day", if args.day_before { "the day before the anniversary" } else { "the anniversary" }),
    ];
    told(call, "due", DUE, inputs, result, vec![words.join("; ")])
}
