//! `reckon due`: the last day in date, by the calendar and by days in steam.

use chrono::NaiveDate;
use offshed_core::due::{Governs, LastDay, Rule, Standing, judge};
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
    postponed_to: Option<String>,
    postponement_in_force: bool,
    kept_by_postponement: bool,
}

/// How a written postponement is told: in force or not, and whether anything rests on it.
fn postponement(day: NaiveDate, standing: &Standing) -> String {
    match (standing.postponed_to, standing.kept_by_postponement) {
        (Some(_), true) => format!("postponed in writing, through {day}: only the postponement keeps it in date"),
        (Some(_), false) => format!("postponed in writing, through {day}: not needed today"),
        (None, _) => format!("the written postponement ended on {day}"),
    }
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
    let postponed = args.postponed_to.as_ref().map(|text| day_named(text)).transpose();
    let postponed = postponed.map_err(|bad| named("postponed-to", bad))?;
    if let Some(day) = postponed.filter(|day| *day < done) {
        return Err(named("postponed-to", format!("{day} is before the day it was last done, {done}; correct one")));
    }
    let standing = judge(rule, done, today, args.used, postponed).map_err(|bad| named("done", bad))?;
    let result = Due {
        in_date: standing.in_date,
        last_day: standing.calendar_last_day.map(|day| day.to_string()),
        steam_days_left: standing.steam_days_left,
        governs: standing.governs.map(|g| match g {
            Governs::Calendar => "calendar",
            Governs::DaysInSteam => "days-in-steam",
        }),
        postponed_to: postponed.map(|day| day.to_string()),
        postponement_in_force: standing.postponed_to.is_some(),
        kept_by_postponement: standing.kept_by_postponement,
    };
    let stands = match (result.in_date, result.kept_by_postponement) {
        (true, false) => "in date",
        (true, true) => "in date by the written postponement alone",
        (false, _) => "OUT OF DATE",
    };
    let mut words = vec![stands.to_owned()];
    words.extend(result.last_day.as_ref().map(|day| format!("last day by the calendar {day}")));
    words.extend(result.steam_days_left.map(|left| format!("{left} day(s) in steam left")));
    let mut lines = vec![words.join("; ")];
    lines.extend(postponed.map(|day| postponement(day, &standing)));
    let mut inputs = vec![
        input("interval", format!("{} months, {} days, {} days in steam", args.months, args.days, args.steam_days)),
        input("done", done),
        input("used", format!("{} days in steam", args.used)),
        input("today", today),
        input("last day", if args.day_before { "the day before the anniversary" } else { "the anniversary" }),
    ];
    inputs.extend(postponed.map(|day| input("postponed to", day)));
    told(call, "due", DUE, inputs, result, lines)
}
