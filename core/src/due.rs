//! Dates and intervals: until which day something is in time, by the calendar, by days in steam, or whichever is first.
//!
//! A day in steam is a calendar day on which the boiler stands above atmospheric pressure with fire in the firebox
//! (49 CFR 230.8, "service day"): counted once however often it is steamed, and a fire kept with pressure past midnight
//! counts both days.
//! Months are added in one step from the anchor and end no later than the month they reach, so that 31 January and one
//! month is the last of February, and 31 January and two months is 31 March (python-dateutil, `relativedelta`,
//! examples).
//! Whether the anniversary itself is still in time is written in the rule, since law and rule books often do not say it.

use chrono::{Days, Months, NaiveDate};
use core::fmt;

/// How long something lasts; 0 means that clock is not used, and of several the first to run out counts.
///
/// A rule without any clock never runs out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rule {
    /// Calendar months, added in one step with an end-of-month clamp.
    pub months: u16,
    /// Calendar days.
    pub days: u32,
    /// Days in steam; the last of them is still in time, the next is not.
    pub steam_days: u32,
    /// Whether the anniversary itself is in date.
    pub last_day: LastDay,
}

impl Rule {
    /// Whether any clock runs at all.
    pub fn has_clock(self) -> bool {
        self.months > 0 || self.days > 0 || self.steam_days > 0
    }
}

/// Which day is the last in date by the calendar; days in steam do not need the choice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LastDay {
    /// The anniversary.
    Anniversary,
    /// The day before it.
    DayBefore,
}

/// The clock that counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Governs {
    /// Months or days.
    Calendar,
    /// Days in steam.
    DaysInSteam,
}

/// How something stands today.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Standing {
    /// In date, today included.
    pub in_date: bool,
    /// In date: the last day that it stays so if no further day in steam is made, a written postponement included,
    /// `None` when only days in steam can end it.
    /// Out of date: the last day that it can have been in date, `None` when days in steam ended it on a day not known
    /// here.
    pub last_day: Option<NaiveDate>,
    /// The rule's own last day by the calendar, without a postponement; `None`: the rule has no calendar clock.
    pub calendar_last_day: Option<NaiveDate>,
    /// Days in steam left after those counted; negative: over by so many. `None`: the rule does not count them.
    pub steam_days_left: Option<i32>,
    /// The clock that runs out first when the engine is steamed every day from tomorrow, or that is further over; a tie
    /// goes to the calendar, which runs whether or not the engine works. `None`: the rule has no clock.
    pub governs: Option<Governs>,
    /// The end of a written postponement in force today.
    pub postponed_to: Option<NaiveDate>,
    /// Out of date by the rule, and only the written postponement keeps it in date.
    pub kept_by_postponement: bool,
}

impl Standing {
    /// Whether it is in date and stays so when today becomes a further day in steam, one not counted yet.
    ///
    /// On a cold engine with no day in steam left `in_date` still holds, but lighting up would end it.
    pub fn allows_another_steam_day(&self) -> bool {
        self.in_date && (self.steam_days_left.is_none_or(|left| left > 0) || self.postponed_to.is_some())
    }
}

/// A date that cannot be worked out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DueError {
    /// The anchor and the rule's months or days lead beyond the calendar, six-digit years.
    BeyondCalendar {
        /// Where the count starts.
        anchor: NaiveDate,
        /// The rule.
        rule: Rule,
    },
    /// The anchor lies after today: it was not done yet.
    AnchorAfterToday {
        /// Where the count starts.
        anchor: NaiveDate,
        /// Today.
        today: NaiveDate,
    },
    /// A span of days ends before it begins.
    Reversed {
        /// Its first day.
        first: NaiveDate,
        /// Its last day.
        last: NaiveDate,
    },
    /// A span of days begins before the one given last; sort spans by their first day.
    OutOfOrder {
        /// Its first day.
        first: NaiveDate,
        /// The first day of the span before it.
        before: NaiveDate,
    },
}

impl fmt::Display for DueError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            DueError::BeyondCalendar { anchor, rule } => write!(
                f,
                "{} months or {} days after {anchor} is beyond the calendar; correct the rule or the date",
                rule.months, rule.days
            ),
            DueError::AnchorAfterToday { anchor, today } => {
                write!(f, "last done on {anchor}, which is after today, {today}; correct the date")
            }
            DueError::Reversed { first, last } => {
                write!(f, "in steam from {first} to {last} ends before it begins; swap the days")
            }
            DueError::OutOfOrder { first, before } => {
                write!(f, "in steam from {first} was given after one from {before}; give the earlier first")
            }
        }
    }
}

impl core::error::Error for DueError {}

/// The last day in date by the calendar, the earlier of months and days; `None` when the rule has no calendar clock.
///
/// Months are added in one step from the anchor with an end-of-month clamp.
///
/// # Errors
/// [`DueError::BeyondCalendar`].
pub fn calendar_last_day(rule: Rule, anchor: NaiveDate) -> Result<Option<NaiveDate>, DueError> {
    let beyond = DueError::BeyondCalendar { anchor, rule };
    let by_months = match rule.months {
        0 => None,
        n => Some(anchor.checked_add_months(Months::new(n.into())).ok_or(beyond)?),
    };
    let by_days = match rule.days {
        0 => None,
        n => Some(anchor.checked_add_days(Days::new(n.into())).ok_or(beyond)?),
    };
    let Some(anniversary) = by_months.into_iter().chain(by_days).min() else {
        return Ok(None);
    };
    match rule.last_day {
        LastDay::Anniversary => Ok(Some(anniversary)),
        LastDay::DayBefore => anniversary.pred_opt().ok_or(beyond).map(Some),
    }
}

/// Judges today.
///
/// `steam_days_used` counts the days in steam since the anchor, today too once it is one; with a rule of N such days
/// the N-th is the last in date.
/// `postponed_to` is the last day of a written postponement: until then it is in date whichever clock has run out, and
/// a postponement that ends before the rule does shortens nothing.
///
/// # Errors
/// [`DueError::BeyondCalendar`], [`DueError::AnchorAfterToday`].
pub fn judge(
    rule: Rule,
    anchor: NaiveDate,
    today: NaiveDate,
    steam_days_used: u32,
    postponed_to: Option<NaiveDate>,
) -> Result<Standing, DueError> {
    if anchor > today {
        return Err(DueError::AnchorAfterToday { anchor, today });
    }
    let calendar = calendar_last_day(rule, anchor)?;
    let left = (rule.steam_days > 0).then(|| steam_days_left(rule.steam_days, steam_days_used));
    let calendar_holds = calendar.is_none_or(|day| today <= day);
    let plain = calendar_holds && left.is_none_or(|left| left >= 0);
    let postponed = postponed_to.filter(|day| today <= *day);
    let last_day = match (plain, calendar_holds, postponed) {
        (true, _, _) => calendar.map(|day| postponed.map_or(day, |p| p.max(day))),
        (false, _, Some(day)) => Some(day),
        (false, false, None) => calendar.max(postponed_to),
        (false, true, None) => None,
    };
    Ok(Standing {
        in_date: plain || postponed.is_some(),
        last_day,
        calendar_last_day: calendar,
        steam_days_left: left,
        governs: governs(calendar, left, today),
        postponed_to: postponed,
        kept_by_postponement: !plain && postponed.is_some(),
    })
}

/// Allowed less used, held at the ends of the range.
fn steam_days_left(allowed: u32, used: u32) -> i32 {
    let left = i64::from(allowed) - i64::from(used);
    i32::try_from(left).unwrap_or(if left < 0 { i32::MIN } else { i32::MAX })
}

/// The clock with fewer days left.
fn governs(calendar: Option<NaiveDate>, steam: Option<i32>, today: NaiveDate) -> Option<Governs> {
    let calendar = calendar.map(|day| day.signed_duration_since(today).num_days());
    match (calendar, steam) {
        (None, None) => None,
        (Some(days), Some(left)) if days > i64::from(left) => Some(Governs::DaysInSteam),
        (Some(_), _) => Some(Governs::Calendar),
        (None, Some(_)) => Some(Governs::DaysInSteam),
    }
}

/// Calendar days from `first` to `last`, both counted.
///
/// # Errors
/// [`DueError::Reversed`].
pub fn steam_days_in_span(first: NaiveDate, last: NaiveDate) -> Result<u32, DueError> {
    let days = last.signed_duration_since(first).num_days();
    match u32::try_from(days) {
        Ok(days) => Ok(days.saturating_add(1)),
        Err(_) => Err(DueError::Reversed { first, last }),
    }
}

/// Counts days in steam from the spans in which an engine was in steam, each calendar day once.
///
/// Spans may touch and overlap; they are given in order of their first day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SteamDays {
    from: NaiveDate,
    before: Option<NaiveDate>,
    through: Option<NaiveDate>,
    count: u32,
}

impl SteamDays {
    /// Nothing yet; days before `first_day` are left out of the count.
    pub fn since(first_day: NaiveDate) -> SteamDays {
        SteamDays { from: first_day, before: None, through: None, count: 0 }
    }

    /// In steam from `first` to `last`, both days counted; nothing changes on an error.
    ///
    /// # Errors
    /// [`DueError::Reversed`], [`DueError::OutOfOrder`].
    pub fn add(&mut self, first: NaiveDate, last: NaiveDate) -> Result<(), DueError> {
        steam_days_in_span(first, last)?;
        if let Some(before) = self.before
            && first < before
        {
            return Err(DueError::OutOfOrder { first, before });
        }
        self.before = Some(first);
        self.count_from(first.max(self.from), last);
        Ok(())
    }

    /// Counts the days of a span that no span before it reached.
    fn count_from(&mut self, first: NaiveDate, last: NaiveDate) {
        // No day follows one that is the calendar's last.
        let start = match self.through.map(|day| day.succ_opt()) {
            Some(None) => return,
            Some(Some(next)) => first.max(next),
            None => first,
        };
        // A span that was counted already, or lies before the count, is reversed by now.
        if let Ok(days) = steam_days_in_span(start, last) {
            self.count = self.count.saturating_add(days);
            self.through = Some(last);
        }
    }

    /// Days counted.
    pub fn count(&self) -> u32 {
        self.count
    }
}
