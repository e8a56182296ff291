//! The water of one engine over several days: what counts as a test, from when days in steam count, and where the
//! dissolved solids are heading.

use offshed_core::ident::EngineId;
use offshed_core::stamp::Now;
use offshed_depot::views::{self, WaterLog, WaterTest};
use offshed_tests::{Day, day, root};

/// Engine 9: measured like the demo boiler, with a product of 35 % with a scoop, and feed water; washed out on 30 April.
fn measured() -> String {
    let demo = root().join("desktop/depot/demo");
    format!(
        "03:00,office,1,9,engine,9,Sorrel,,,glass 200 mm; pressure 160 psi; has second-glass vacuum-brake boiler-measured
,,,,date-done,washout,2026-04-30
,,,,date-done,plugs,2026-04-30
,,,,date-done,fitness-exam,2026-04-30
,,,,boiler,,{}/boiler-tamsin.toml
,,,,product,tannin,35 %,,,scoop 50 g in 2
,,,,feed-water,,100 mg/l,,,15 C
",
        demo.display()
    )
}

/// A day in steam of May: steam is seen in the morning and gone at night.
fn in_steam(n: u8) -> String {
    format!(
        ",,,,day,2026-05-{n:02}
04:00,office,21,9,open,disposal,,,d{n}
,,,d{n},reading,disposal-pressure,100 psi
20:00,,31,9,event,gone-cold
"
    )
}

/// A test at 21:00 by fireman 21 at 25 C; by the pack's factor of 0.7 the solids are seven tenths of the conductivity.
fn tested(n: u8, us_cm: u32) -> String {
    format!(
        "21:00,,21,9,open,water-test,,,w{n}
,,,w{n},done,water-sample
,,,,reading,water-temperature,25 C
,,,,reading,water-conductivity,{us_cm} uS/cm
,,,,accept,water-tds
"
    )
}

/// Days in steam from 2 May on, each with a test.
fn days(us_cm: &[u32]) -> String {
    let rows = (2_u8..).zip(us_cm).map(|(n, us_cm)| {
        // The first of them is the day that the register's rows end on.
        let day = in_steam(n);
        let day = if n == 2 { day.lines().skip(1).map(|line| format!("{line}\n")).collect() } else { day };
        day + &tested(n, *us_cm)
    });
    rows.collect()
}

fn log(day: &Day, at: &str) -> WaterLog {
    views::water(&day.ledger, EngineId(9), Now::good(day.at(at)))
}

fn solids_of(log: &WaterLog) -> Vec<&WaterTest> {
    log.tests.iter().filter(|test| test.solids).collect()
}

/// By hand: 2 000, 2 200, 2 400 and 2 600 µS/cm at 25 C are 1 400, 1 540, 1 680 and 1 820 mg/l, every pair of them 140
/// mg/l a day apart. From 1 820 to 3 500 are 1 680, twelve days in steam. Four days of 28 are used up, 24 are left.
#[test]
fn a_steady_rise_is_told_with_the_days_until_its_limit() {
    let played = day(&[&measured(), &days(&[2_000, 2_200, 2_400, 2_600])]);
    let log = log(&played, "2026-05-05 22:00");
    let since = log.since.as_ref().unwrap();
    assert_eq!((since.what.as_str(), since.on.as_str(), since.steam_days), ("Washout", "2026-04-30", 4));
    let booked = log.booked.as_ref().unwrap();
    assert_eq!((booked.what.as_str(), booked.steam_days_left), ("Washout", 24));
    let solids = log.solids.as_ref().unwrap();
    let points: Vec<(u32, f64)> = solids.points.iter().map(|p| (p.steam_days, p.mg_l)).collect();
    assert_eq!(points, [(1, 1_400.0), (2, 1_540.0), (3, 1_680.0), (4, 1_820.0)]);
    assert_eq!((solids.limit_mg_l, solids.warn_mg_l), (Some(3_500.0), Some(2_500.0)));
    let near = |got: f64, wanted: f64| (got - wanted).abs() < 1e-9;
    let slope = solids.slope_mg_l.unwrap();
    assert!(near(slope.value, 140.0) && near(slope.low, 140.0) && near(slope.high, 140.0), "{slope:?}");
    assert!(near(solids.steam_days_to_limit.unwrap(), 12.0) && solids.interval_is_whole_spread, "{solids:?}");
    assert_eq!((solids.outlook, solids.washout), ("approaching", Some("bring forward")));
    let wanted = "bring the washout forward to within 12 days in steam from now, or blow down more: 24 are left by date \
                  (Washout)";
    assert_eq!(solids.lines.last().unwrap(), wanted);
    assert!(log.notes.is_empty(), "{:?}", log.notes);
}

/// What each test says of itself; the newest stands first.
#[test]
fn a_test_is_told_with_its_own_limits_and_who_did_it() {
    let more = "21:30,,22,w3,reading,water-ph,10.2 pH
,,,,reading,water-alkalinity,600 mg/l CaCO3
,,,,reading,water-tannin,90 mg/l
,,,,reading,water-hardness,1 mg/l CaCO3
";
    let played = day(&[&measured(), &days(&[2_000, 2_200]), more]);
    let log = log(&played, "2026-05-03 22:00");
    let told: Vec<(&str, &str, &str, &str)> =
        log.tests.iter().map(|t| (t.step.as_str(), t.value.as_str(), t.standing, t.quantity)).collect();
    assert_eq!(
        told,
        [
            ("water-hardness", "1 mg/l CaCO3", "right", "hardness"),
            ("water-tannin", "90 mg/l", "warned", "concentration"),
            ("water-alkalinity", "600 mg/l CaCO3", "right", "hardness"),
            ("water-ph", "10.2 pH", "warned", "ph"),
            ("water-tds", "1540 mg/l", "right", "concentration"),
            ("water-conductivity", "2200 uS/cm", "right", "conductivity"),
            ("water-tds", "1400 mg/l", "right", "concentration"),
            ("water-conductivity", "2000 uS/cm", "right", "conductivity"),
        ]
    );
    let ph = &log.tests[3];
    let limits = [&ph.low, &ph.high, &ph.warn_low, &ph.warn_high].map(|limit| limit.as_deref().unwrap());
    assert_eq!(limits, ["10 pH", "12.5 pH", "10.5 pH", "12 pH"]);
    assert_eq!((ph.steam_days, ph.since.as_deref()), (Some(2), Some("2026-04-30")));
    assert_eq!((ph.by.as_str(), ph.at.get(..10)), ("person 22", Some("2026-05-03")));
    assert_eq!(solids_of(&log).len(), 2, "solids are known by what a blowdown is worked out from, not by their unit");
}

#[test]
fn doses_and_blowdowns_stand_with_what_was_put_in() {
    let more = "21:30,,21,w2,reading,water-ph,11 pH
,,,,reading,water-alkalinity,600 mg/l CaCO3
,,,,reading,water-tannin,105 mg/l
,,,,reading,water-hardness,1 mg/l CaCO3
,,,,reading,water-level,95 mm
,,,,reading,water-pressure,0 psi
,,,,accept,water-dose-due
,,,,accept,water-blowdown
,,,,reading,water-dose,375 g
";
    let played = day(&[&measured(), &days(&[2_000]), more]);
    let log = log(&played, "2026-05-02 22:00");
    let told: Vec<(&str, &str, u8)> = log.treatments.iter().map(|t| (t.kind, t.step.as_str(), t.rounds)).collect();
    let wanted = [("put-in", "water-dose", 1), ("blowdown-worked-out", "water-blowdown", 0)];
    assert_eq!(told, [wanted[0], wanted[1], ("dose-worked-out", "water-dose-due", 1)]);
    assert_eq!(log.treatments[0].value, "375 g");
}

#[test]
fn two_tests_show_no_trend_and_none_is_said_to_be_none() {
    let two = day(&[&measured(), &days(&[2_000, 2_200])]);
    let solids = log(&two, "2026-05-03 22:00").solids.unwrap();
    assert_eq!((solids.outlook, solids.washout, solids.slope_mg_l), ("not told", None, None));
    assert_eq!(solids.lines, ["no trend: 2 tests show no trend; 3 or more do"]);
    let none = log(&day(&[&measured()]), "2026-05-02 22:00");
    assert!(none.tests.is_empty() && none.solids.is_none() && none.treatments.is_empty());
    assert_eq!(none.notes, ["no trend: no test of dissolved solids since Washout on 2026-04-30"]);
    // Three tests of one day are no trend either.
    let again = format!("{}{}", tested(3, 2_100).replace("21:00", "21:20"), tested(4, 2_200).replace("21:00", "21:40"));
    let one_day = log(&day(&[&measured(), &days(&[2_000]), &again]), "2026-05-02 22:00").solids.unwrap();
    assert_eq!(one_day.lines, ["no trend: all tests are of the same day; a trend takes two or more"]);
}

/// 5 200 µS/cm are 3 640 mg/l, over 3 500: no fit is needed to see that.
#[test]
fn a_test_over_its_limit_is_met_whatever_the_trend() {
    let two = day(&[&measured(), &days(&[2_000, 5_200])]);
    let found = log(&two, "2026-05-03 22:00");
    assert_eq!(solids_of(&found)[0].standing, "not-right");
    let solids = found.solids.unwrap();
    assert_eq!((solids.outlook, solids.washout), ("met", Some("now")));
    assert_eq!(solids.lines[0], "the latest test, 3640 mg/l, is over 3500 mg/l");
    // The median of five is not turned by one wild test, but the limit is met all the same.
    let five = day(&[&measured(), &days(&[2_000, 2_100, 2_200, 2_300, 5_200])]);
    let solids = log(&five, "2026-05-06 22:00").solids.unwrap();
    assert_eq!((solids.outlook, solids.washout), ("met", Some("now")));
}

/// By hand: 1 400, 1 540 and 1 680 mg/l meet 3 500 thirteen days in steam after the third; three days in steam without a
/// test leave ten.
#[test]
fn days_in_steam_since_the_latest_test_are_taken_off() {
    let untested: String = (5..8).map(in_steam).collect();
    let played = day(&[&measured(), &days(&[2_000, 2_200, 2_400]), &untested]);
    let solids = log(&played, "2026-05-07 22:00").solids.unwrap();
    assert_eq!(solids.steam_days_since_test, 3);
    assert!((solids.steam_days_to_limit.unwrap() - 13.0).abs() < 1e-9, "{solids:?}");
    assert!(solids.lines.iter().any(|line| line.contains("to within 10 days in steam from now")), "{:?}", solids.lines);
}

#[test]
fn a_washout_begins_a_new_series_and_its_own_day_is_of_the_old_water() {
    let washed = "22:00,,1,9,date-done,washout,2026-05-05\n";
    let after = format!("{}{}", in_steam(6), tested(6, 1_000));
    let played = day(&[&measured(), &days(&[2_000, 2_200, 2_400, 2_600]), washed, &after]);
    let evening = played.at("2026-05-05 21:30");
    let before = views::water(&played.ledger.as_of(evening), EngineId(9), Now::good(evening));
    assert_eq!(before.solids.unwrap().points.len(), 4);
    let same_evening = views::water(&played.ledger, EngineId(9), Now::good(played.at("2026-05-05 23:00")));
    assert!(same_evening.solids.is_none());
    assert_eq!(same_evening.notes, ["no trend: no test of dissolved solids since Washout on 2026-05-05"]);
    let after = log(&played, "2026-05-06 22:00");
    let since = after.since.as_ref().unwrap();
    assert_eq!((since.on.as_str(), since.steam_days), ("2026-05-05", 1));
    let told: Vec<(Option<u32>, Option<&str>)> =
        solids_of(&after).iter().map(|test| (test.steam_days, test.since.as_deref())).collect();
    let (old, new) = (Some("2026-04-30"), Some("2026-05-05"));
    assert_eq!(told, [(Some(1), new), (Some(4), old), (Some(3), old), (Some(2), old), (Some(1), old)]);
    assert_eq!(after.solids.unwrap().points.len(), 1);
}

/// Days in steam that no record counts, and a washout whose day was entered wrong.
#[test]
fn days_before_the_records_count_and_a_day_entered_anew_replaces_the_old_one() {
    let wrong = ",,,,date-done,washout,2026-05-01\n,,,,date-done,washout,2026-04-28,,,6\n";
    let played = day(&[&measured(), wrong, &days(&[2_000])]);
    // Plugs and examination were done on 30 April, after the washout as entered anew.
    let since = log(&played, "2026-05-02 22:00").since.unwrap();
    assert_eq!((since.what.as_str(), since.on.as_str(), since.steam_days), ("Fusible plugs", "2026-04-30", 1));
    let booked = log(&played, "2026-05-02 22:00").booked.unwrap();
    assert_eq!((booked.what.as_str(), booked.steam_days_left), ("Washout", 21));
    let six = day(&[&measured().replace("washout,2026-04-30", "washout,2026-04-30,,,6"), &days(&[2_000])]);
    let since = log(&six, "2026-05-02 22:00").since.unwrap();
    assert_eq!((since.what.as_str(), since.steam_days), ("Washout", 7));
}

#[test]
fn what_was_struck_out_or_is_later_does_not_count() {
    let struck = "21:10,,21,w3,strike,water-tds,,,,Wrong bottle\n";
    let played = day(&[&measured(), &days(&[2_000, 2_200]), struck]);
    let found = log(&played, "2026-05-03 22:00");
    let values: Vec<&str> = solids_of(&found).iter().map(|test| test.value.as_str()).collect();
    assert_eq!(values, ["1400 mg/l"]);
    assert_eq!(found.notes, ["1 struck out, and left out here"]);
    let earlier = log(&played, "2026-05-02 22:00");
    assert_eq!(solids_of(&earlier).len(), 1);
}

/// An overdue date speaks without any trend.
#[test]
fn a_date_that_is_over_is_said_first() {
    let over = measured().replace("washout,2026-04-30", "washout,2026-04-30,,,28");
    let played = day(&[&over, &days(&[2_000])]);
    let found = log(&played, "2026-05-02 22:00");
    assert_eq!(found.booked.unwrap().steam_days_left, -1);
    let solids = found.solids.unwrap();
    assert_eq!(solids.washout, Some("overdue"));
    assert_eq!(solids.lines.last().unwrap(), "out of date: Washout, by 1 days in steam");
}

/// Only the newest are shown, and how many are not is said; the trend takes the latest 64.
#[test]
fn the_log_is_bounded_and_says_so() {
    let many: String = (0..110)
        .map(|n| {
            let (hour, minute) = (5 + n / 60, n % 60);
            format!(
                "{hour:02}:{minute:02},,21,m,reading,water-temperature,25 C\n,,,,reading,water-conductivity,2000 uS/cm\n,,,,accept,water-tds\n"
            )
        })
        .collect();
    let open = "04:30,,21,9,open,water-test,,,m\n,,,m,done,water-sample\n";
    let played = day(&[&measured(), open, &many]);
    let found = log(&played, "2026-05-02 22:00");
    assert_eq!((found.tests.len(), found.tests_before), (views::WATER_SHOWN, 20));
    assert_eq!(found.tests[0].at.get(11..16), Some("06:49"));
    assert_eq!(found.solids.unwrap().points.len(), 110);
}
