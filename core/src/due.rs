//! Dates and intervals.
use chrono::{Days, Months, NaiveDate};

/// How long something lasts; 0: that clock is not used. Whichever comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rule {
    /// Calendar months, added in one step with an end-of-month clamp.
    pub months: u16,
    /// Calendar days.
    pub days: u32,
    /// Days in steam.
    pub steam_days: u32,
    /// Whether the anniversary itself is in date.
    pub last_day: LastDay,
}

/// Which day is the last in date.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LastDay {
    /// The anniversary.
    Anniversary,
    /// The day before it.
    DayBefore,
}

/// How something stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Standing {
    /// In date.
    pub in_date: bool,
    /// Last day by the calendar.
    pub last_day: Option<NaiveDate>,
    /// Days in steam left.
    pub steam_days_left: Option<i32>,
}

/// Beyond the calendar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Overflow;

/// The last day by the calendar.
///
/// # Errors
/// Beyond the calendar.
pub fn calendar_last_day(rule: Rule, anchor: NaiveDate) -> Result<Option<NaiveDate>, Overflow> {
    let by_months = (rule.months > 0)
        .then(|| {
            anchor
                .checked_add_months(Months::new(rule.months.into()))
                .ok_or(Overflow)
        })
        .transpose()?;
    let by_days = (rule.days > 0)
        .then(|| anchor.checked_add_days(Days::new(rule.days.into())).ok_or(Overflow))
        .transpose()?;
    let first = [by_months, by_days].into_iter().flatten().min();
    Ok(match rule.last_day {
        LastDay::Anniversary => first,
        LastDay::DayBefore => first.and_then(|d| d.pred_opt()),
    })
}

/// Judges.
///
/// # Errors
/// Beyond the calendar.
pub fn judge(
    rule: Rule,
    anchor: NaiveDate,
    today: NaiveDate,
    steam_days_used: u32,
    postponed_to: Option<NaiveDate>,
) -> Result<Standing, Overflow> {
    let last_day = calendar_last_day(rule, anchor)?;
    let left = (rule.steam_days > 0).then(|| (i64::from(rule.steam_days) - i64::from(steam_days_used)) as i32);
    let plain = last_day.is_none_or(|d| today <= d) && left.is_none_or(|l| l >= 0);
    let kept = postponed_to.is_some_and(|d| today <= d);
    Ok(Standing {
        in_date: plain || kept,
        last_day: last_day.max(postponed_to.filter(|_| last_day.is_some())),
        steam_days_left: left,
    })
}
