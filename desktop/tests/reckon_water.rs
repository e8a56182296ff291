//! The water commands: whole outputs against figures published or worked out by hand, and bad input.

mod common;

use std::path::Path;

use common::{fails, ok};
use serde_json::{Value, json};

#[track_caller]
fn whole(args: &[&str], text: &str, result: &Value) {
    let nowhere = Path::new("/nonexistent");
    assert_eq!(ok(nowhere, &[&["reckon"], args].concat()), text);
    let told: Value = serde_json::from_str(&ok(nowhere, &[&["--json", "reckon"], args].concat())).expect("JSON");
    same(&told["result"], result);
    assert!(told["formula"].is_string() && told["caution"].is_string() && told["inputs"].is_array(), "{told}");
}

/// The same keys and words; numbers within a billionth.
#[track_caller]
fn same(got: &Value, wanted: &Value) {
    match (got, wanted) {
        (Value::Object(a), Value::Object(b)) => {
            assert!(a.keys().eq(b.keys()), "{got} {wanted}");
            a.iter().for_each(|(key, value)| same(value, &b[key]));
        }
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().expect("a number"), b.as_f64().expect("a number"));
            assert!((a - b).abs() <= 1e-9 * b.abs().max(1.0), "{got} {wanted}");
        }
        _ => assert_eq!(got, wanted),
    }
}

#[track_caller]
fn refused(args: &[&str], code: i32, wanted: &str) {
    let (got, words) = fails(Path::new("/nonexistent"), &[&["reckon"], args].concat());
    assert_eq!(got, code, "{args:?}: {words}");
    assert!(words.contains(wanted) && !words.contains("panicked"), "{args:?}: {words}");
}

/// UFC 3-240-13FN (2005), p. 44: 5000 and 250 µmho are 20 cycles, a blowdown of 5 % of the feed; beside 40 000 of steam
/// an hour 40 000 / 19 = 2105 of blowdown (there in pounds; any unit of mass).
#[test]
fn cycles_and_both_shares() {
    let args = ["cycles", "--boiler", "5000 uS/cm", "--feed", "250 uS/cm", "--steam", "40000"];
    let text = "RECKON CYCLES
inputs:  boiler 5000 uS/cm; feed 250 uS/cm; steam 40000 kg/h
formula: C = boiler / feed; blowdown is 1/C of the feed and 1/(C - 1) of the steam, by mass balance
         (UFC 3-240-13FN (2005), p. 44); steam taken as free of salts
result:  20.0 cycles of concentration
result:  to hold that: blow down 5.00 % of the feed, which is 5.26 % of the steam
result:  2105 kg/h of blowdown, 42105 kg/h of feed
caution: A figure for a competent person, who looks at the glass and the gauge; the railway's rules
         and the boiler inspector go before it.
";
    let nineteenth = 1.0 / 19.0;
    let result = json!({
        "cycles": 20.0,
        "blowdown_percent_of_feed": 5.0,
        "blowdown_percent_of_steam": 100.0 * nineteenth,
        "blowdown_kg_h": 40_000.0 * nineteenth,
        "feed_kg_h": 40_000.0 * (1.0 + nineteenth),
    });
    whole(&args, text, &result);
}

/// By hand: every pair of tests rises 100 mg/l a day; 1800 mg/l at day 6 has 700 to go, seven days, one before the
/// washout.
#[test]
fn a_steady_rise_meets_its_limit_before_the_washout() {
    let tests = ["--test", "0 1200 mg/l", "--test", "6 1800 mg/l", "--test", "2 1400 mg/l", "--test", "4 1600 mg/l"];
    let args = [&["trend"], tests.as_slice(), &["--most", "2500 mg/l", "--steam-days-left", "8"]].concat();
    let text = "RECKON TREND
inputs:  tests 4, by days in steam: 0 1200 mg/l, 6 1800 mg/l, 2 1400 mg/l, 4 1600 mg/l; below 2500
         mg/l; days in steam left to washout 8
formula: slope: median of the slopes between all pairs of tests, with Sen's 95 % interval (Theil
         1950; Sen 1968, J. Amer. Statist. Assoc. 63:1379); days to the limit from the fitted line
result:  +100.0 mg/l a day in steam (+100.0 to +100.0)
result:  the limit in 7.0 days in steam after the latest test (at the soonest 7.0, at the latest
         7.0)
result:  4 tests are few: the interval is all that they spread over, and promises less than 95 %
result:  bring the washout forward to within 7 days in steam, or blow down more: booked in 8
caution: A figure for a competent person, who looks at the glass and the gauge; the railway's rules
         and the boiler inspector go before it.
";
    let span = json!({ "value": 100.0, "low": 100.0, "high": 100.0 });
    let result = json!({
        "unit": "mg/l", "slope_per_steam_day": span, "interval_is_whole_spread": true, "last_test_steam_day": 6.0,
        "line_at_last_test": 1800.0, "outlook": "approaching", "steam_days_to_limit": 7.0,
        "steam_days_soonest": 7.0, "steam_days_latest": 7.0, "washout": "bring forward",
    });
    whole(&args, text, &result);
}

/// By hand: the ten slopes are -1600, six of 100, 666.7, 950 and 1800, so that the wild test of day 3 does not turn the
/// line: 1400 mg/l at day 4, eleven days to 2500. Five tests have Sen's ranks 1 and 10, -1600 and 1800: it may have been
/// met by day 4, or never be.
#[test]
fn one_wild_test_does_not_turn_the_trend_but_widens_it() {
    let tests = ["0 1000", "1 1100", "2 1200", "3 3000", "4 1400"].map(|test| format!("{test} mg/l"));
    let mut args = vec!["trend", "--most", "2500 mg/l", "--steam-days-left", "8"];
    tests.iter().for_each(|test| args.extend(["--test", test]));
    let told: Value =
        serde_json::from_str(&ok(Path::new("/nonexistent"), &[&["--json", "reckon"], args.as_slice()].concat()))
            .expect("JSON");
    let result = json!({
        "unit": "mg/l", "slope_per_steam_day": { "value": 100.0, "low": -1600.0, "high": 1800.0 },
        "interval_is_whole_spread": true, "last_test_steam_day": 4.0, "line_at_last_test": 1400.0,
        "outlook": "approaching", "steam_days_to_limit": 11.0, "steam_days_soonest": 0.0,
        "steam_days_latest": null, "washout": "watch",
    });
    same(&told["result"], &result);
}

/// By hand: tannin falls 10 mg/l a day from 160; 130 at day 3 has 30 to go to 100.
#[test]
fn a_fall_meets_a_limit_from_above_and_a_rise_never_does() {
    let tests = ["--test", "0 160 mg/l", "--test", "1 150 mg/l", "--test", "3 130 mg/l"];
    let said = |limit: [&str; 2]| {
        let args = [&["--json", "reckon", "trend"], tests.as_slice(), &limit].concat();
        serde_json::from_str::<Value>(&ok(Path::new("/nonexistent"), &args)).expect("JSON")["result"].clone()
    };
    let fall = said(["--least", "100 mg/l"]);
    assert_eq!((&fall["outlook"], &fall["steam_days_to_limit"]), (&json!("approaching"), &json!(3.0)));
    assert_eq!(said(["--most", "3500 mg/l"])["outlook"], "not approaching");
    assert_eq!(said(["--least", "140 mg/l"])["outlook"], "met");
}

/// By hand: of 280 in 14 comes through, 95 % is taken out; 560 g of capacity at 280 mg/l are 2000 l, less 1500.
#[test]
fn a_softener_that_works_and_what_is_left_of_it() {
    let hard = ["--going-in", "280 mg/l CaCO3", "--coming-out", "14 mg/l CaCO3", "--most", "20 mg/l CaCO3"];
    let args = [&["plant"], hard.as_slice(), &["--capacity", "560", "--treated", "1500 l"]].concat();
    let text = "RECKON PLANT
inputs:  going in 280 mg/l CaCO3; coming out 14 mg/l CaCO3; most out 20 mg/l CaCO3; error 0 mg/l
         CaCO3; capacity 560 g as CaCO3; treated 1500 l
formula: share taken out = 1 - out / in; litres left = capacity / hardness going in - treated, by
         mass balance
result:  the plant does its work
result:  95.0 % is taken out
result:  500 l more before it must be regenerated
caution: A figure for a competent person, who looks at the glass and the gauge; the railway's rules
         and the boiler inspector go before it.
";
    let result = json!({
        "unit": "mg/l CaCO3", "taken_out_percent": 95.0, "work": "working", "litres_left": 500.0,
    });
    whole(&args, text, &result);
}

/// By hand: limits of the words, not of any plant.
#[test]
fn a_plant_that_slips_or_is_bypassed_or_cannot_be_told() {
    let work = |out: &str, error: &str| {
        let args = ["--json", "reckon", "plant", "--going-in", "280 mg/l", "--coming-out", out, "--most", "20 mg/l"];
        let args = [args.as_slice(), &["--error", error]].concat();
        serde_json::from_str::<Value>(&ok(Path::new("/nonexistent"), &args)).expect("JSON")["result"]["work"].clone()
    };
    assert_eq!(work("60 mg/l", "5"), "slipping");
    assert_eq!(work("280 mg/l", "5"), "not treating");
    assert_eq!(work("22 mg/l", "5"), "cannot tell");
    assert_eq!(work("14 mg/l", "5"), "working");
}

#[test]
fn bad_input_is_told_with_its_place_and_cure() {
    refused(&["cycles", "--boiler", "5000", "--feed", "250 uS/cm"], 3, "`boiler`: \"5000\" is no water test");
    refused(&["cycles", "--boiler", "5000 uS/cm", "--feed", "250 mg/l"], 3, "`feed`");
    refused(&["cycles", "--boiler", "100 mg/l", "--feed", "250 mg/l"], 3, "boiler");
    refused(&["trend", "--test", "0 1 mg/l", "--test", "1 2 mg/l", "--most", "9 mg/l"], 3, "2 tests show no trend");
    refused(&["trend", "--test", "1200 mg/l", "--most", "9 mg/l"], 3, "`test`");
    refused(&["trend", "--test", "0 1 mg/l"], 2, "--most");
    refused(&["trend", "--test", "0 1 mg/l", "--most", "9 mg/l", "--least", "1 mg/l"], 2, "cannot be used");
    refused(&["plant", "--going-in", "9 pH", "--coming-out", "8 pH", "--most", "7 pH"], 3, "pH does not add up");
    let soft = ["plant", "--going-in", "280 mg/l", "--coming-out", "14 mg/l", "--most", "20 mg/l", "--capacity", "560"];
    refused(&soft, 3, "needs a hardness");
}
