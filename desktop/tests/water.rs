//! `offshed water`: what a foreman reads, what a program reads, and bad input.

mod common;

use std::fs;
use std::path::PathBuf;

use common::{contents, fails, ok, root};
use serde_json::{Value, json};

/// Four days in steam of engine 4, each ending with a test at 25 C.
fn played() -> (tempfile::TempDir, PathBuf) {
    let temp = tempfile::tempdir().expect("a folder");
    let pack = root().join("core/packs/practice");
    let mut rows = format!(
        "time,device,who,on,do,what,value,with,as,words,expect
,,,,day,2026-05-01
17:00,office,1,,person,1,Moss Orrin
,,,,adopt,{}
,,,,local-time,Etc/UTC
,,,,grade,1,foreman,,,no end
,,,,person,21,Corin Vey
,,,,grade,21,fireman,,,no end
,,,4,engine,4,Tamsin,,,glass 200 mm; pressure 145 psi
,,,,date-done,washout,2026-05-01
,,,17,engine,17,Fennel,,,glass 160 mm
",
        pack.display()
    );
    for (n, us_cm) in (2..).zip([2_000, 2_200, 2_400, 2_600]) {
        rows.push_str(&format!(
            ",,,,day,2026-05-{n:02}
04:00,,21,4,open,disposal,,,d{n}
,,,d{n},reading,disposal-pressure,100 psi
20:00,,,4,event,gone-cold
21:00,,,4,open,water-test,,,w{n}
,,,w{n},done,water-sample
,,,,reading,water-temperature,25 C
,,,,reading,water-conductivity,{us_cm} uS/cm
,,,,accept,water-tds
"
        ));
    }
    let script = temp.path().join("days.csv");
    fs::write(&script, rows).expect("written");
    let folder = temp.path().join("shed");
    ok(&folder, &["new", "--device", "office"]);
    ok(&folder, &["play", script.to_str().expect("a path")]);
    (temp, folder)
}

const AS_OF: [&str; 2] = ["--as-of", "2026-05-05 22:00"];

/// By hand, with the pack's factor of 0.7: 1 400, 1 540, 1 680 and 1 820 mg/l are 140 mg/l a day; the limit of 3 500 is
/// twelve days in steam off, and of the washout's 28 four are used up.
#[test]
fn a_foreman_reads_tests_plot_and_what_to_do() {
    let (_temp, folder) = played();
    let before = contents(&folder);
    let out = ok(&folder, &[&["water", "4"], AS_OF.as_slice()].concat());
    let wanted = "WATER of No. 4 Tamsin  as of 2026-05-05 22:00 +00:00
4 days in steam since Washout on 2026-05-01
Washout: 24 days in steam left

Dissolved solids
  mg/l by days in steam (* test, - limit, . warning)
    3500 |------------------------------------------------------------
    3267 |
    3033 |
    2800 |
    2567 |............................................................
    2333 |
    2100 |
    1867 |                                                           *
    1633 |                              *             *
    1400 |               *
         +------------------------------------------------------------
          0                                                          4
  +140.0 mg/l a day in steam (+140.0 to +140.0)
  the limit in 12.0 days in steam after the latest test (at the soonest 12.0, at the latest 12.0)
  the tests are few: the interval is all that they spread over, and promises less than 95 %
  bring the washout forward to within 12 days in steam from now, or blow down more: 24 are left by
  date (Washout)
";
    assert!(out.starts_with(wanted), "{out}");
    let rest = "
21:00  4 days in steam since 2026-05-01  Corin Vey
  [x] Conductivity                       2600 uS/cm  right      at most 20000; warns over 3570
  [x] Dissolved solids                    1820 mg/l  right      at most 3500; warns over 2500

4 May 21:00  3 days in steam since 2026-05-01  Corin Vey
";
    assert!(out.contains(rest), "{out}");
    assert!(out.lines().all(|line| line.chars().count() <= 100), "{out}");
    assert_eq!(contents(&folder), before, "a look leaves the folder as it is");
}

#[test]
fn a_program_reads_the_same() {
    let (_temp, folder) = played();
    let told: Value =
        serde_json::from_str(&ok(&folder, &[&["--json", "water", "4"], AS_OF.as_slice()].concat())).expect("JSON");
    assert_eq!(told["since"], json!({ "what": "Washout", "on": "2026-05-01", "steam_days": 4 }));
    assert_eq!(told["booked"], json!({ "what": "Washout", "steam_days_left": 24, "last_day": null }));
    let newest = json!({
        "sheet": told["tests"][0]["sheet"], "step": "water-tds", "title": "Dissolved solids",
        "quantity": "concentration", "solids": true, "at": "2026-05-05T21:00:00+00:00", "at_short": "21:00",
        "by": "Corin Vey", "value": "1820 mg/l", "standing": "right", "low": null, "high": "3500 mg/l",
        "warn_low": null, "warn_high": "2500 mg/l", "steam_days": 4, "since": "2026-05-01", "contested": false,
    });
    assert_eq!(told["tests"][0], newest);
    let solids = &told["solids"];
    assert_eq!((&solids["outlook"], &solids["washout"]), (&json!("approaching"), &json!("bring forward")));
    assert!((solids["steam_days_to_limit"].as_f64().expect("days") - 12.0).abs() < 1e-9, "{solids}");
    assert_eq!(told["tests"].as_array().map(Vec::len), Some(8));
}

#[test]
fn an_engine_without_tests_and_one_that_nobody_knows() {
    let (_temp, folder) = played();
    let none = ok(&folder, &["water", "17"]);
    assert!(none.contains("no water test is on record"), "{none}");
    let (code, words) = fails(&folder, &["water", "99"]);
    // Days that are played lie before the folder was made, which is told before.
    let error = words.lines().last();
    assert_eq!((code, error), (3, Some("error: there is no engine 99: these records know engines 4, 17")));
    assert_eq!(fails(&folder, &["water", "four"]).0, 2);
    assert_eq!(fails(&folder, &["water", "4", "--as-of", "noon"]).0, 3);
    // What was not recorded by then does not count.
    let early = ok(&folder, &["water", "4", "--as-of", "2026-05-03 22:00"]);
    assert!(early.contains("no trend yet: 2 of the 3 tests that it takes"), "{early}");
}
