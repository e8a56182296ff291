//! Dates and intervals against a reference library's documented examples, published law, and a second calendar library.

use chrono::{Datelike, NaiveDate};
use offshed_core::due::{
    DueError, Governs, LastDay, Rule, Standing, SteamDays, calendar_last_day, judge, steam_days_in_span,
};
use proptest::prelude::*;
use std::collections::BTreeSet;

#[track_caller]
fn day(text: &str) -> NaiveDate {
    text.parse().expect("a date in the test")
}

const NEVER: Rule = Rule { months: 0, days: 0, steam_days: 0, last_day: LastDay::Anniversary };

fn months(months: u16) -> Rule {
    Rule { months, ..NEVER }
}

fn days(days: u32) -> Rule {
    Rule { days, ..NEVER }
}

fn steam(steam_days: u32) -> Rule {
    Rule { steam_days, ..NEVER }
}

#[track_caller]
fn reaches(rule: Rule, anchor: &str, expected: &str) {
    assert_eq!(calendar_last_day(rule, day(anchor)), Ok(Some(day(expected))), "{rule:?} from {anchor}");
}

#[track_caller]
fn standing(rule: Rule, anchor: &str, today: &str, used: u32, postponed_to: Option<&str>) -> Standing {
    judge(rule, day(anchor), day(today), used, postponed_to.map(day)).expect("a date that can be judged")
}

/// python-dateutil documentation, `docs/relativedelta.rst`, examples of adding months: "adding one month will never
/// cross the month boundary".
#[test]
fn months_clamp_as_in_the_dateutil_examples() {
    reaches(months(1), "2003-01-27", "2003-02-27");
    reaches(months(1), "2003-01-31", "2003-02-28");
    reaches(months(2), "2003-01-31", "2003-03-31");
    reaches(months(12), "2000-02-29", "2001-02-28");
}

/// Same source: two months in one step are not one month twice.
#[test]
fn months_are_added_in_one_step_from_the_anchor() {
    let once = calendar_last_day(months(1), day("2003-01-31")).unwrap().unwrap();
    assert_eq!(calendar_last_day(months(1), once), Ok(Some(day("2003-03-28"))));
    reaches(months(2), "2003-01-31", "2003-03-31");
}

/// Computed with python-dateutil `relativedelta`: fourteen months, ten years, fifteen years.
#[test]
fn long_intervals_as_dateutil_computes_them() {
    reaches(months(14), "2024-12-31", "2026-02-28");
    reaches(months(14), "2022-12-29", "2024-02-29");
    reaches(months(14), "2025-08-31", "2026-10-31");
    reaches(months(14), "2025-06-30", "2026-08-30");
    reaches(months(120), "2024-02-29", "2034-02-28");
    reaches(months(180), "2024-02-29", "2039-02-28");
}

/// 49 CFR 230.16 (2015 edition): 368 calendar days from the previous annual inspection; sums by python `datetime`.
#[test]
fn three_hundred_and_sixty_eight_calendar_days() {
    reaches(days(368), "2024-02-29", "2025-03-03");
    reaches(days(368), "2025-01-01", "2026-01-04");
}

/// 49 CFR 230.17 (2015 edition): 1472 service days or 15 years, whichever is earlier.
#[test]
fn whichever_is_earlier() {
    let rule = Rule { months: 180, steam_days: 1472, ..NEVER };
    let fine = standing(rule, "2024-02-29", "2039-02-28", 1472, None);
    assert!(fine.in_date);
    assert_eq!(fine.steam_days_left, Some(0));
    let over_by_calendar = standing(rule, "2024-02-29", "2039-03-01", 100, None);
    assert!(!over_by_calendar.in_date);
    assert_eq!(over_by_calendar.governs, Some(Governs::Calendar));
    let over_by_steam = standing(rule, "2024-02-29", "2030-01-01", 1473, None);
    assert!(!over_by_steam.in_date);
    assert_eq!(over_by_steam.steam_days_left, Some(-1));
    assert_eq!(over_by_steam.governs, Some(Governs::DaysInSteam));
    assert_eq!(over_by_steam.last_day, None, "which day it ended is not known from the count");
}

#[test]
fn the_earlier_of_months_and_days() {
    let rule = Rule { days: 368, ..months(12) };
    assert_eq!(calendar_last_day(rule, day("2025-01-01")), Ok(Some(day("2026-01-01"))));
    let rule = Rule { days: 30, ..months(1) };
    assert_eq!(calendar_last_day(rule, day("2025-01-01")), Ok(Some(day("2025-01-31"))));
}

/// The rule says whether the anniversary is in time; both readings, on the day and beside it.
#[test]
fn the_anniversary_is_an_explicit_choice() {
    let on = months(12);
    let before = Rule { last_day: LastDay::DayBefore, ..on };
    for (rule, today, expected) in [
        (on, "2026-05-14", true),
        (on, "2026-05-15", true),
        (on, "2026-05-16", false),
        (before, "2026-05-14", true),
        (before, "2026-05-15", false),
        (before, "2026-05-16", false),
    ] {
        let got = standing(rule, "2025-05-15", today, 0, None);
        assert_eq!(got.in_date, expected, "{rule:?} {today}");
    }
    assert_eq!(standing(before, "2025-05-15", "2026-05-16", 0, None).last_day, Some(day("2026-05-14")));
}

/// The N-th day in steam is the last in date: common practice, no source; the law's own words are "after 31 service
/// days".
#[test]
fn the_last_day_in_steam_is_in_date_and_the_next_is_not() {
    let at = |used| standing(steam(31), "2026-01-01", "2026-06-01", used, None);
    assert!(at(30).in_date && at(30).allows_another_steam_day());
    assert!(at(31).in_date && !at(31).allows_another_steam_day());
    assert!(!at(32).in_date && !at(32).allows_another_steam_day());
    assert_eq!(at(31).last_day, None, "only a day in steam can end it");
    assert_eq!(at(31).calendar_last_day, None);
}

#[test]
fn the_clock_with_fewer_days_left_governs() {
    let rule = Rule { days: 30, ..steam(10) };
    let governs = |today, used| standing(rule, "2026-01-01", today, used, None).governs;
    assert_eq!(governs("2026-01-02", 1), Some(Governs::DaysInSteam), "29 days against 9");
    assert_eq!(governs("2026-01-26", 1), Some(Governs::Calendar), "5 days against 9");
    assert_eq!(governs("2026-01-26", 5), Some(Governs::Calendar), "a tie goes to the calendar");
    assert_eq!(standing(NEVER, "2026-01-01", "2026-01-26", 5, None).governs, None);
}

#[test]
fn a_postponement_keeps_in_date_until_its_own_end() {
    let at = |today, to| standing(months(12), "2025-05-15", today, 0, to);
    let kept = at("2026-05-20", Some("2026-05-31"));
    assert!(kept.in_date && kept.kept_by_postponement);
    assert_eq!(kept.last_day, Some(day("2026-05-31")));
    assert_eq!(kept.calendar_last_day, Some(day("2026-05-15")));
    let ended = at("2026-06-01", Some("2026-05-31"));
    assert!(!ended.in_date && !ended.kept_by_postponement);
    assert_eq!(ended.last_day, Some(day("2026-05-31")));
    assert_eq!(ended.postponed_to, None);
    let not_yet_needed = at("2026-05-15", Some("2026-05-31"));
    assert!(not_yet_needed.in_date && !not_yet_needed.kept_by_postponement);
    assert_eq!(not_yet_needed.last_day, Some(day("2026-05-31")));
}

#[test]
fn a_postponement_never_shortens() {
    let early = standing(months(12), "2025-05-15", "2026-05-15", 0, Some("2026-04-01"));
    assert!(early.in_date);
    assert_eq!(early.last_day, Some(day("2026-05-15")));
}

#[test]
fn a_postponed_count_of_days_in_steam_ends_with_the_postponement() {
    let rule = Rule { steam_days: 21, ..months(12) };
    let kept = standing(rule, "2026-01-01", "2026-03-01", 22, Some("2026-03-08"));
    assert!(kept.in_date && kept.kept_by_postponement && kept.allows_another_steam_day());
    assert_eq!(kept.last_day, Some(day("2026-03-08")), "not the calendar's day ten months on");
    assert!(!standing(rule, "2026-01-01", "2026-03-09", 22, Some("2026-03-08")).in_date);
}

#[test]
fn what_leaves_the_calendar_is_an_error() {
    let last = NaiveDate::MAX;
    for rule in [months(1), days(1), months(u16::MAX), days(u32::MAX)] {
        let error = calendar_last_day(rule, last).unwrap_err();
        assert_eq!(error, DueError::BeyondCalendar { anchor: last, rule });
        assert!(error.to_string().contains("beyond the calendar"));
    }
    assert_eq!(calendar_last_day(steam(5), last), Ok(None));
}

#[test]
fn done_in_the_future_is_an_error() {
    let (anchor, today) = (day("2026-05-16"), day("2026-05-15"));
    assert_eq!(judge(months(1), anchor, today, 0, None), Err(DueError::AnchorAfterToday { anchor, today }));
    assert!(judge(months(1), today, today, 0, None).unwrap().in_date);
}

/// 49 CFR 230.8 (2015 edition), "service day": any calendar day with pressure and fire, counted once.
/// That a fire kept past midnight counts both days follows from it.
#[test]
fn a_calendar_day_counts_once_however_often_steamed() {
    let mut count = SteamDays::since(day("2026-03-01"));
    for (first, last, expected) in [
        ("2026-02-27", "2026-03-01", 1), // only the day inside the count
        ("2026-03-01", "2026-03-01", 1), // steamed again the same day
        ("2026-03-02", "2026-03-03", 3), // fire kept past midnight
        ("2026-03-02", "2026-03-02", 3), // inside the span before
        ("2026-03-03", "2026-03-05", 5), // overlaps by a day
        ("2026-03-31", "2026-04-01", 7),
    ] {
        count.add(day(first), day(last)).unwrap();
        assert_eq!(count.count(), expected, "after {first} to {last}");
    }
}

#[test]
fn reversed_and_unsorted_spans_are_errors_and_change_nothing() {
    let mut count = SteamDays::since(day("2026-01-01"));
    count.add(day("2026-03-10"), day("2026-03-11")).unwrap();
    let before = count;
    assert_eq!(
        count.add(day("2026-03-13"), day("2026-03-12")),
        Err(DueError::Reversed { first: day("2026-03-13"), last: day("2026-03-12") })
    );
    assert_eq!(
        count.add(day("2026-03-09"), day("2026-03-12")),
        Err(DueError::OutOfOrder { first: day("2026-03-09"), before: day("2026-03-10") })
    );
    assert_eq!(count, before);
    assert_eq!(steam_days_in_span(day("2024-02-28"), day("2024-03-01")), Ok(3));
    assert!(steam_days_in_span(day("2024-03-01"), day("2024-02-29")).is_err());
    assert!(steam_days_in_span(NaiveDate::MIN, NaiveDate::MAX).is_ok());
}

#[test]
fn the_calendar_s_last_day_is_counted_once() {
    let mut count = SteamDays::since(NaiveDate::MAX);
    count.add(NaiveDate::MAX, NaiveDate::MAX).unwrap();
    count.add(NaiveDate::MAX, NaiveDate::MAX).unwrap();
    assert_eq!(count.count(), 1);
}

fn any_day() -> impl Strategy<Value = NaiveDate> {
    (680_000..780_000i32).prop_map(|n| NaiveDate::from_num_days_from_ce_opt(n).unwrap())
}

fn as_jiff(date: NaiveDate) -> jiff::civil::Date {
    let (month, day) = (date.month() as i8, date.day() as i8);
    jiff::civil::date(date.year() as i16, month, day)
}

proptest! {
    /// The `jiff` library's calendar, which adds months and days by its own arithmetic.
    #[test]
    fn agrees_with_a_second_calendar(anchor in any_day(), n in 1u16..600, d in 1u32..20_000) {
        let by_months = as_jiff(anchor).checked_add(jiff::Span::new().months(i64::from(n))).unwrap();
        let by_days = as_jiff(anchor).checked_add(jiff::Span::new().days(i64::from(d))).unwrap();
        let got = |rule| calendar_last_day(rule, anchor).unwrap().map(as_jiff);
        prop_assert_eq!(got(months(n)), Some(by_months));
        prop_assert_eq!(got(days(d)), Some(by_days));
        prop_assert_eq!(got(Rule { days: d, ..months(n) }), Some(by_months.min(by_days)));
    }

    /// A set of dates is the other way to count each day once.
    #[test]
    fn counting_agrees_with_a_set_of_dates(
        start in any_day(),
        spans in proptest::collection::vec((0u64..400, 0u64..9), 0..40),
        since in 0u64..200,
    ) {
        let at = |n: u64| start + chrono::Days::new(n);
        let mut spans = spans;
        spans.sort();
        let mut count = SteamDays::since(at(since));
        let mut set = BTreeSet::new();
        for (first, more) in spans {
            count.add(at(first), at(first + more)).unwrap();
            set.extend((first..=first + more).filter(|n| *n >= since));
        }
        prop_assert_eq!(count.count() as usize, set.len());
    }

    /// In date stays out of date once it is out, and a postponement only ever adds days.
    #[test]
    fn time_and_steam_only_take_away_and_a_postponement_only_adds(
        anchor in any_day(), n in 0u16..30, d in 0u32..900, s in 0u32..60,
        passed in 0u64..1_000, used in 0u32..80, end in 0u64..1_000,
    ) {
        let rule = Rule { months: n, days: d, steam_days: s, last_day: LastDay::DayBefore };
        let today = anchor + chrono::Days::new(passed);
        let at = |later: u64, used, to| judge(rule, anchor, today + chrono::Days::new(later), used, to).unwrap();
        let now = at(0, used, None);
        if !now.in_date {
            prop_assert!(!at(1, used, None).in_date && !at(0, used + 1, None).in_date);
        }
        let postponed = at(0, used, Some(anchor + chrono::Days::new(end)));
        prop_assert!(postponed.in_date >= now.in_date);
        prop_assert_eq!(postponed.in_date && !now.in_date, postponed.kept_by_postponement);
        // The last day told is the last day that holds.
        if let (true, Some(last)) = (postponed.in_date, postponed.last_day) {
            let to = Some(anchor + chrono::Days::new(end));
            prop_assert!(judge(rule, anchor, last, used, to).unwrap().in_date);
            prop_assert!(!judge(rule, anchor, last.succ_opt().unwrap(), used, to).unwrap().in_date);
        }
    }
}
