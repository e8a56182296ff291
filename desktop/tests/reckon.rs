//! The arithmetic commands: published examples as printed outputs, keys of the JSON, and bad input.

mod common;

use std::fs;
use std::path::Path;

use common::{fails, ok};

#[track_caller]
fn says(args: &[&str], wanted: &str) {
    let out = ok(Path::new("/nonexistent"), &[&["reckon"], args].concat());
    let flat = out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains(wanted), "{args:?}: {out}");
    for part in ["inputs: ", "formula: ", "caution: "] {
        assert!(out.contains(part), "{part} {out}");
    }
}

#[track_caller]
fn clear(args: &[&str], code: i32, wanted: &str) {
    let (got, words) = fails(Path::new("/nonexistent"), &[&["reckon"], args].concat());
    assert_eq!(got, code, "{args:?}: {words}");
    assert!(words.contains(wanted) && !words.contains("panicked"), "{args:?}: {words}");
}

/// Sinclair, Locomotive Engine Running and Management (1885): water at 140 lb is at 361 °F.
#[test]
fn steam_is_the_old_handbooks() {
    let out = ok(Path::new("/nonexistent"), &["reckon", "steam", "--pressure", "140 psi"]);
    let wanted = "RECKON STEAM\n\
        inputs:  pressure 140 psi; air 101.325 kPa\n\
        formula: saturation line, IAPWS R7-97(2012), region 4, equation 31; rate = difference / hours\n\
        result:  saturation at 140 psi: 182.7 °C (361 °F)\n\
        caution: A figure for a competent person, who looks at the glass and the gauge; the railway's rules\n         \
        and the boiler inspector go before it.\n";
    assert_eq!(out, wanted);
}

/// NAVEDTRA 14075, p. 7-12: 1.0 to 2.0 epm takes 0.050 oz of trisodium phosphate (380.12 g/mol) a US gallon, 1.42 g.
/// One epm is 50.04 mg/l as CaCO3; a gram adds 50.04/380.12 = 0.1317 g.
#[test]
fn dose_is_the_manuals() {
    let args = ["dose", "--reading", "50.04 mg/l", "--target", "100.09 mg/l", "--water", "1 galUS"];
    says(&[&args[..], &["--strength", "0.1317"]].concat(), "1.4 g of product");
}

/// By hand: 3000 l from 100 to 160 mg/l with a product of 35 % take 514.3 g, thirteen scoops of 40 g reach 160.67.
#[test]
fn scoops_by_hand() {
    let args = ["dose", "--reading", "100 mg/l", "--target", "160 mg/l", "--water", "3000 l", "--strength", "0.35"];
    says(&[&args[..], &["--measure", "40"]].concat(), "13 measure(s), 520.0 g, which reach 161 mg/l");
}

/// One water read at two temperatures with 1.298 %/K: 147.6 µS/cm at 31 °C are 137 at 25 °C, as are 124.5 at 18 °C.
#[test]
fn one_water_at_two_temperatures() {
    for (k, t) in [("147.6 uS/cm", "31 C"), ("124.5 uS/cm", "18 C")] {
        let args = ["solids", "--conductivity", k, "--at", t, "--percent-per-k", "1.298", "--factor", "0.7"];
        says(&args, "137 µS/cm at 25 °C");
    }
}

/// A filter maker's worked example: 350 mg/l are 20.44 grains a US gallon, by a factor rounded to 0.0584; by definition
/// (64.79891 mg, 3.785411784 l) they are 20.446.
#[test]
fn hardness_in_grains() {
    says(&["hardness", "350 mg/l CaCO3"], "= 20.45 gpg (US)");
}

/// python-dateutil documentation, relativedelta: 2003-01-31 and two months is 2003-03-31, in one step.
#[test]
fn due_is_dateutils() {
    says(
        &["due", "--months", "2", "--done", "2003-01-31", "--today", "2003-03-01"],
        "last day by the calendar 2003-03-31",
    );
}

#[test]
fn level_and_road_in_json() {
    let read =
        |args: &[&str]| -> serde_json::Value { serde_json::from_str(&ok(Path::new("/nonexistent"), args)).unwrap() };
    let level = read(&["--json", "reckon", "level", "--reading", "95 mm", "--gradient", "1 in 60"]);
    assert!(level["inputs"][0]["value"].as_str().unwrap().contains("demo"));
    // Plain trigonometry: a crown 1330 mm long on 1 in 60 has 22.2 mm more over its back edge than over its front edge.
    let up = &level["result"]["on_gradients"][0];
    let lean = up["cover_back_mm"].as_f64().unwrap() - up["cover_front_mm"].as_f64().unwrap();
    assert!((lean - 1_330.0 / 60.0).abs() < 1e-9, "{lean}");
    let kept = level["result"]["read"]["volume_l"].as_f64().unwrap() - up["volume_l"].as_f64().unwrap();
    assert!(kept.abs() < 1e-5, "{kept}");
    let road = read(&["--json", "reckon", "road"]);
    for key in ["reckon", "inputs", "formula", "result", "caution"] {
        assert!(!road[key].is_null(), "{key}");
    }
    assert!(road["result"]["worst"]["cover_mm"].as_f64().unwrap() >= 50.0);
}

#[test]
fn the_road_is_plotted_in_a_hundred_columns() {
    let out = ok(Path::new("/nonexistent"), &["reckon", "road"]);
    assert!(out.lines().all(|line| line.chars().count() <= 100) && out.contains('*'), "{out}");
    assert!(out.contains("least to leave with") && out.contains("demo"), "{out}");
}

#[test]
fn bad_values_name_the_field() {
    let level = |reading, more: &[&'static str]| [&["level", "--reading", reading], more].concat();
    clear(&level("95", &[]), 3, "`reading`");
    clear(&level("95 psi", &[]), 3, "`reading`");
    clear(&level("-1 mm", &[]), 3, "`reading.mm`");
    clear(&level("900 mm", &[]), 3, "`reading.mm`");
    clear(&level("x", &[]), 3, "`reading`");
    clear(&level("95 mm", &["--error", "nan"]), 3, "error");
    clear(&level("95 mm", &["--gradient", "steep"]), 3, "`gradient`");
    clear(&level("95 mm", &["--gradient", "1 in 0"]), 3, "`gradient`");
    clear(&level("95 mm", &["--gradient", "1 in 2"]), 3, "`gradient`");
    clear(&level("95 mm", &["--gradient", "level", "--acceleration", "inf"]), 3, "acceleration");
    clear(&level("95 mm", &["--swell", "-1"]), 3, "swell");
    clear(&["level"], 2, "--reading");
    clear(&["level", "/nonexistent.toml", "--reading", "95 mm"], 3, "/nonexistent.toml");
    clear(&["steam", "--pressure", "160"], 3, "`pressure`");
    clear(&["steam", "--pressure", "160 mm"], 3, "`pressure`");
    clear(&["steam", "--pressure", "160 psi", "--air", "1013"], 3, "`air`");
    clear(&["steam", "--pressure", "160 psi", "--plug-melts", "9 C"], 3, "`plug-melts`");
    clear(&["steam", "--pressure", "160 psi", "--and", "170 psi"], 2, "--hours");
    clear(&["steam", "--pressure", "160 psi", "--and", "170 psi", "--hours", "0"], 3, "hours");
    clear(&["road", "--cover", "50"], 3, "`cover`");
    clear(&["road", "--used", "-1"], 3, "used_l");
    clear(&["hardness", "5 mg/l"], 3, "`value`");
    clear(&["due", "--done", "2003-01-31"], 3, "--months");
    clear(&["due", "--months", "1", "--done", "2003-02-31"], 3, "`done`");
    let due = ["due", "--months", "1", "--done", "2003-01-31", "--today", "2003-02-01", "--postponed-to"];
    clear(&[&due[..], &["soon"]].concat(), 3, "`postponed-to`: \"soon\" is no calendar day");
    clear(&[&due[..], &["2003-01-01"]].concat(), 3, "`postponed-to`: 2003-01-01 is before the day it was last done");
    clear(&level("95 mm", &["--cover", "75"]), 3, "`cover`: \"75\" has no unit");
    clear(&level("95 mm", &["--cover", "75 psi"]), 3, "`cover`: \"75 psi\" has a unit that does not fit");
    clear(&level("95 mm", &["--cover", "-1 mm"]), 3, "`cover`: is -1 mm");
    let blow = ["blowdown", "--solids", "4000 mg/l", "--feed", "200 mg/l", "--target", "3500 mg/l"];
    let low = ["--reading", "50 mm", "--lower-mark", "50 mm"];
    clear(&[&blow[..], &low[..]].concat(), 3, "fill to");
}

/// A cover of 175 mm is told against what is asked: at 172 enough whatever the error of 3 mm, at 178 perhaps short by
/// misreading, at 179 short whatever the error; 175 itself is met.
#[test]
fn the_error_of_reading_can_turn_the_verdict_on_the_cover() {
    for (asked, met, could, words) in [
        ("172 mm", true, false, "172 mm: met; front edge 175 mm (enough)"),
        ("175 mm", true, true, "175 mm: met as read;"),
        ("178 mm", false, true, "178 mm: NOT met as read;"),
        ("179 mm", false, false, "179 mm: NOT met; front edge 175 mm (short); back edge 175 mm (short)"),
    ] {
        let args = ["level", "--reading", "95 mm", "--cover", asked];
        let verdict = &json(&args)["result"]["read"]["cover_asked"];
        assert_eq!((&verdict["met"], &verdict["error_could_change"]), (&met.into(), &could.into()), "{asked}");
        says(&args, words);
    }
}

/// 49 CFR 230.51 (2015 edition): not less than 3 in, 76.2 mm; a bottom nut at 70 mm is 6.2 mm short.
#[test]
fn a_glass_that_stands_too_low_is_told() {
    let temp = tempfile::tempdir().unwrap();
    let path = temp.path().join("low.toml");
    let boiler =
        include_str!("../depot/demo/boiler-tamsin.toml").replace("bottom_nut_mm = 80.0", "bottom_nut_mm = 70.0");
    fs::write(&path, boiler).unwrap();
    let args = ["level", path.to_str().unwrap(), "--reading", "95 mm"];
    let rule = &json(&args)["result"]["glass_rule"];
    assert_eq!(rule["met"], false);
    assert!((rule["spare_mm"].as_f64().unwrap() + 6.2).abs() < 1e-9, "{rule}");
    assert!(rule["source"].as_str().unwrap().contains("49 CFR 230.51 (2015 edition)"));
    says(&args, "here it stands 70.0 mm above it: 6.2 mm short of that rule");
}

/// A postponement beside the rule's own last day, 2003-03-31: in force but not needed, keeping it in date, and over.
#[test]
fn a_postponement_is_told_apart_from_the_rules_own_day() {
    let due = |today, to| ["due", "--months", "2", "--done", "2003-01-31", "--today", today, "--postponed-to", to];
    for (today, to, in_date, kept, words) in [
        ("2003-03-01", "2003-04-15", true, false, "postponed in writing, through 2003-04-15: not needed today"),
        ("2003-04-15", "2003-04-15", true, true, "in date by the written postponement alone;"),
        ("2003-04-16", "2003-04-15", false, false, "the written postponement ended on 2003-04-15"),
    ] {
        let args = due(today, to);
        let result = &json(&args)["result"];
        assert_eq!((&result["in_date"], &result["kept_by_postponement"]), (&in_date.into(), &kept.into()), "{today}");
        assert_eq!((&result["last_day"], &result["postponed_to"]), (&"2003-03-31".into(), &to.into()));
        says(&args, words);
    }
}

#[test]
fn bad_files_name_the_line() {
    let temp = tempfile::tempdir().unwrap();
    let path = temp.path().join("x.toml");
    let name = path.to_str().unwrap();
    let boiler = include_str!("../depot/demo/boiler-tamsin.toml");
    for (from, to, wanted) in [
        ("length_mm = 3000.0", "length_mm = -3.0", "x.toml:7: `barrel.length_mm`"),
        ("top = \"round\"", "tip = 3", "x.toml:13: unknown field"),
        ("name = \"Tamsin\"", "name = ", "x.toml:2: "),
    ] {
        fs::write(&path, boiler.replace(from, to)).unwrap();
        clear(&["level", name, "--reading", "95 mm"], 3, wanted);
    }
    let road = include_str!("../depot/demo/road-harrow-vale.toml");
    let good = temp.path().join("b.toml");
    fs::write(&good, boiler).unwrap();
    for (from, to, wanted) in [
        ("\"1 in 250\"", "\"steep\"", "`gradient`"),
        ("metres = 4500", "metres = 0", "`metres`"),
        ("metres = 4500", "miles = 3", "unknown field"),
    ] {
        fs::write(&path, road.replacen(from, to, 1)).unwrap();
        clear(&["road", good.to_str().unwrap(), name], 3, wanted);
    }
}

fn json(args: &[&str]) -> serde_json::Value {
    let out = ok(Path::new("/nonexistent"), &[&["--json", "reckon"], args].concat());
    serde_json::from_str(&out).expect("JSON")
}

/// Blowing and refilling keeps what is left and adds what the feed brings: each round by hand.
#[test]
fn blowdown_keeps_its_mass_balance() {
    let out = json(&[
        "blowdown",
        "--reading",
        "150 mm",
        "--solids",
        "3920 mg/l",
        "--feed",
        "200 mg/l",
        "--target",
        "3500 mg/l",
        "--lower-mark",
        "60 mm",
    ]);
    let result = &out["result"];
    let share = result["share_each"].as_f64().unwrap();
    let rounds = result["rounds"].as_u64().unwrap();
    let by_hand = (0..rounds).fold(3_920.0, |solids, _| solids * (1.0 - share) + 200.0 * share);
    let reaches = result["reaches_mg_l"]["value"].as_f64().unwrap();
    assert!((by_hand - reaches).abs() < 1e-6, "{by_hand} {reaches}");
    assert!(reaches <= 3_500.0);
    // The fall is told in the glass, from the reading to the mark where to stop, which is never the lower mark's wrong side.
    let (fall, stop) = (result["fall_mm"].as_f64().unwrap(), result["stop_mm"].as_f64().unwrap());
    assert!((fall + stop - 150.0).abs() < 1e-9 && stop >= 60.0);
    let (code, words) = fails(
        Path::new("/nonexistent"),
        &[
            "reckon",
            "blowdown",
            "--reading",
            "62 mm",
            "--solids",
            "3920 mg/l",
            "--feed",
            "200 mg/l",
            "--target",
            "1000 mg/l",
            "--lower-mark",
            "60 mm",
            "--rounds",
            "1",
        ],
    );
    assert_eq!(code, 3, "{words}");
}

/// Saturated water at 145 psi, 184 °C, is 882.7 kg/m3 and water at 15 °C 999.1 (steam tables, from memory).
#[test]
fn feed_is_the_rise_as_cold_water() {
    let out = json(&[
        "feed",
        "--start",
        "90 mm",
        "--end",
        "105 mm",
        "--time",
        "1 min",
        "--pressure",
        "145 psi",
        "--least",
        "40",
    ]);
    let result = &out["result"];
    let hot = 15.0 * result["litres_per_mm"].as_f64().unwrap();
    let cold = result["l_min"]["value"].as_f64().unwrap();
    assert!((cold - hot * 882.7 / 999.1).abs() < 0.05, "{cold}");
    // Three millimetres of error at each end: 15 mm may be 9 or 21.
    let low = result["l_min"]["low"].as_f64().unwrap();
    assert!((low / cold - 9.0 / 15.0).abs() < 1e-3, "{low}");
    assert!(result["verdict"].as_str().unwrap().starts_with("cannot tell"));
}

/// The road is left with the level in sight: one millimetre less than that, and it says that the level is lost.
#[test]
fn a_road_is_left_with_the_level_in_sight() {
    let usual = json(&["road"]);
    let least = usual["result"]["least_in_sight_mm"].as_u64().unwrap();
    assert_eq!(usual["result"]["in_sight_all_the_way"], true);
    let less = format!("{} mm", least - 1);
    let out = json(&["road", "--reading", &less]);
    assert_eq!(out["result"]["in_sight_all_the_way"], false);
    says(&["road", "--reading", &less], "BUT the level goes out of sight below");
}
