//! Whole outputs of the arithmetic commands, as text and as JSON, against figures worked out by hand or published.

use std::fs;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

const ROAD: &str = r#"name = "Short road"

[[section]]
name = "Yard"
metres = 20
gradient = "level"

[[section]]
name = "Bank"
metres = 20
gradient = "1 in 60"
"#;

/// The program's output from a folder that holds a boiler and a road.
#[track_caller]
fn output(args: &[&str]) -> String {
    let temp = tempfile::tempdir().expect("a folder");
    fs::write(temp.path().join("boiler.toml"), include_str!("../depot/demo/boiler-tamsin.toml")).expect("written");
    fs::write(temp.path().join("road.toml"), ROAD).expect("written");
    let mut command = Command::new(env!("CARGO_BIN_EXE_offshed"));
    let output = command.current_dir(temp.path()).env_remove("OFFSHED_FOLDER").args(args).output().expect("it starts");
    assert!(output.status.success(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("text")
}

/// The same keys in the same shape with the same words; numbers within a billionth of their size, as two machines'
/// arithmetic may differ.
#[track_caller]
fn same(path: &Path, got: &Value, wanted: &Value) {
    match (got, wanted) {
        (Value::Object(a), Value::Object(b)) => {
            let keys = |map: &serde_json::Map<String, Value>| map.keys().cloned().collect::<Vec<_>>();
            assert_eq!(keys(a), keys(b), "{}", path.display());
            a.iter().for_each(|(key, value)| same(&path.join(key), value, &b[key]));
        }
        (Value::Array(a), Value::Array(b)) => {
            assert_eq!(a.len(), b.len(), "{}", path.display());
            a.iter().zip(b).enumerate().for_each(|(n, (x, y))| same(&path.join(n.to_string()), x, y));
        }
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().expect("a number"), b.as_f64().expect("a number"));
            assert!((a - b).abs() <= 1e-9 * b.abs().max(1.0), "{}: {a} {b}", path.display());
        }
        _ => assert_eq!(got, wanted, "{}", path.display()),
    }
}

#[track_caller]
fn whole(args: &[&str], text: &str, json: &str) {
    assert_eq!(output(&[&["reckon"], args].concat()), text);
    let got = serde_json::from_str(&output(&[&["--json", "reckon"], args].concat())).expect("JSON");
    same(Path::new("/"), &got, &serde_json::from_str(json).expect("the test's own JSON"));
}

/// By hand: the bottom nut stands 80 mm over the crown, so 95 mm of glass are 175 mm of cover.
/// The free surface, 375 mm over the axis, is 2 x 3000 √(600² - 375²) + 2 x 1500 √(610² - 375²) = 4.2536 million mm², so
/// 4.2536 l/mm, and its middle lies 2236.5 mm in front of the back plate: on 1 in 60 the front edge, at 1410 mm, gains
/// (2236.5 - 1410) / 60 = 13.78 mm, and the whole plane rises 0.39 mm, because the lower end is wider than the higher.
/// Volume: barrel 2952.5 l, less tubes 737.2 l, and casing 2470.2 l, less firebox 1593.9 l, are 3091.6 l.
/// An error of 3 mm leaves 172 mm, which is less than 173.
#[test]
fn a_level_with_the_cover_asked_for() {
    let args = ["level", "--reading", "95 mm", "--gradient", "1 in 60", "--cover", "173 mm"];
    let text = r#"RECKON LEVEL
inputs:  boiler Tamsin (the built-in demo of the invented Harrow Vale line); reading 95 mm ± 3 mm;
         standing level; swell 0 mm; acceleration 0 m/s2; leads chimney; cover asked for 173 mm
formula: volume under a tilted plane, conserved (circle segments: any handbook of mensuration);
         surface falls by gradient + a/g, g = 9.80665 m/s2 (ISO 80000-3)
result:  as read, level: the glass shows 95 mm; 3092 ± 13 l, 4.25 l/mm; cover 175 mm front, 175 mm
         back, ± 3 mm; least all along the crown (80 mm from the back plate); crown covered; part
         full
result:  as read, level: cover asked for, 173 mm: met as read; front edge 175 mm (enough as read; a
         misread glass could hide a shortage); back edge 175 mm (enough as read; a misread glass
         could hide a shortage); an error of reading of ± 3 mm COULD change that: read it again
result:  1 in 60: the glass shows 134 mm; 3092 ± 13 l, 4.25 l/mm; cover 189 mm front, 211 mm back, ±
         4 mm; least front edge of the crown (1410 mm from the back plate); crown covered; part full
result:  1 in 60: cover asked for, 173 mm: met; front edge 189 mm (enough); back edge 211 mm
         (enough); an error of reading of ± 3 mm does not change that
result:  for information, 49 CFR 230.51 (2015 edition): the lowest reading of the glass is not less
         than 3 in above the highest part of the crown sheet; here it stands 80.0 mm above it: as
         that rule asks, with 3.8 mm to spare
caution: A figure for a competent person, who looks at the glass and the gauge; the railway's rules
         and the boiler inspector go before it.
"#;
    let json = r#"{
  "reckon": "level",
  "inputs": [
    {
      "name": "boiler",
      "value": "Tamsin (the built-in demo of the invented Harrow Vale line)"
    },
    {
      "name": "reading",
      "value": "95 mm ± 3 mm"
    },
    {
      "name": "standing",
      "value": "level"
    },
    {
      "name": "swell",
      "value": "0 mm"
    },
    {
      "name": "acceleration",
      "value": "0 m/s2"
    },
    {
      "name": "leads",
      "value": "chimney"
    },
    {
      "name": "cover asked for",
      "value": "173 mm"
    }
  ],
  "formula": "volume under a tilted plane, conserved (circle segments: any handbook of mensuration); surface falls by gradient + a/g, g = 9.80665 m/s2 (ISO 80000-3)",
  "result": {
    "read": {
      "place": "as read, level",
      "volume_l": 3091.579762587,
      "volume_error_l": 12.792814171,
      "glass": "in sight",
      "glass_mm": 95.0,
      "cover_front_mm": 175.0,
      "cover_back_mm": 175.0,
      "cover_least_mm": 175.0,
      "cover_error_mm": 3.0,
      "least_at": "all along the crown",
      "least_at_mm": 80.0,
      "crown": "crown covered",
      "fill": "part full",
      "litres_per_mm": 4.253604565,
      "cover_asked": {
        "asked_mm": 173.0,
        "met": true,
        "front": "enough as read; a misread glass could hide a shortage",
        "back": "enough as read; a misread glass could hide a shortage",
        "error_could_change": true
      }
    },
    "on_gradients": [
      {
        "place": "1 in 60",
        "volume_l": 3091.579762587,
        "volume_error_l": 12.792814171,
        "glass": "in sight",
        "glass_mm": 133.66774965,
        "cover_front_mm": 189.16774965,
        "cover_back_mm": 211.334416317,
        "cover_least_mm": 189.16774965,
        "cover_error_mm": 3.004894464,
        "least_at": "front edge of the crown",
        "least_at_mm": 1410.0,
        "crown": "crown covered",
        "fill": "part full",
        "litres_per_mm": 4.246755907,
        "cover_asked": {
          "asked_mm": 173.0,
          "met": true,
          "front": "enough",
          "back": "enough",
          "error_could_change": false
        }
      }
    ],
    "glass_rule": {
      "source": "49 CFR 230.51 (2015 edition): the lowest reading of the glass is not less than 3 in above the highest part of the crown sheet",
      "lowest_reading_over_crown_mm": 80.0,
      "asked_mm": 76.2,
      "met": true,
      "spare_mm": 3.8
    }
  },
  "caution": "A figure for a competent person, who looks at the glass and the gauge; the railway's rules and the boiler inspector go before it."
}"#;
    whole(&args, text, json);
}

/// As the level's: 175 mm on the level, 189.17 mm on 1 in 60; 150 mm of cover are 70 mm of glass, 73 with the error.
#[test]
fn a_short_road() {
    let args = ["road", "boiler.toml", "road.toml", "--reading", "95 mm", "--cover", "150 mm"];
    let text = r#"RECKON ROAD
cover, mm (* least, - wanted)
   189 |                                                            *                  *
   186 |
   182 |
   178 |
   175 |*                   *                   *
   171 |
   168 |
   164 |
   161 |
   157 |
   154 |
   150 |--------------------------------------------------------------------------------
       +--------------------------------------------------------------------------------
        0.0 km                                                                    0.0 km
inputs:  boiler Tamsin (boiler.toml); road Short road (road.toml); cover wanted 150 mm; error of
         reading 3 mm; used 0 l/km; swell 0 mm
formula: volume under a tilted plane, conserved along the road less the water used; surface falls by
         gradient + a/g, g = 9.80665 m/s2 (ISO 80000-3)
result:  to keep the level in sight all the way: leave with 0 mm of glass or more
result:  least to leave with for the cover: 70 mm of glass; with the error of reading: 73 mm of
         glass (asked for by Yard at 0.0 km)
result:  leaving with 95 mm, worst place: Yard at 0.0 km, 175 ± 3 mm of cover, all along the crown;
         the glass shows 95 mm; the reading on leaving, for the cover wanted: enough
caution: A figure for a competent person, who looks at the glass and the gauge; the railway's rules
         and the boiler inspector go before it.
"#;
    let json = r#"{
  "reckon": "road",
  "inputs": [
    {
      "name": "boiler",
      "value": "Tamsin (boiler.toml)"
    },
    {
      "name": "road",
      "value": "Short road (road.toml)"
    },
    {
      "name": "cover wanted",
      "value": "150 mm"
    },
    {
      "name": "error of reading",
      "value": "3 mm"
    },
    {
      "name": "used",
      "value": "0 l/km"
    },
    {
      "name": "swell",
      "value": "0 mm"
    }
  ],
  "formula": "volume under a tilted plane, conserved along the road less the water used; surface falls by gradient + a/g, g = 9.80665 m/s2 (ISO 80000-3)",
  "result": {
    "reading_mm": 95.0,
    "verdict": "enough",
    "in_sight_all_the_way": true,
    "least_in_sight_mm": 0,
    "worst": {
      "distance_m": 0.0,
      "section": "Yard",
      "cover_mm": 175.0,
      "cover_error_mm": 3.0,
      "least_at": "all along the crown",
      "glass": "in sight"
    },
    "least": {
      "words": "this reading is just enough",
      "reading_mm": 70.0,
      "asked_by_m": 0.0,
      "asked_by_section": "Yard"
    },
    "least_to_be_sure": {
      "words": "this reading is just enough",
      "reading_mm": 73.0,
      "asked_by_m": 0.0,
      "asked_by_section": "Yard"
    },
    "cover_along": [
      [
        0.0,
        175.0
      ],
      [
        10.0,
        175.0
      ],
      [
        20.0,
        175.0
      ],
      [
        20.0,
        189.167749651
      ],
      [
        30.0,
        189.167749651
      ],
      [
        40.0,
        189.167749651
      ]
    ]
  },
  "caution": "A figure for a competent person, who looks at the glass and the gauge; the railway's rules and the boiler inspector go before it."
}"#;
    whole(&args, text, json);
}

/// python-dateutil, relativedelta: 2025-01-31 and twelve months is 2026-01-31; 28 less 20 days in steam are 8.
#[test]
fn a_date_that_only_a_postponement_keeps() {
    let args = [
        "due",
        "--months",
        "12",
        "--steam-days",
        "28",
        "--done",
        "2025-01-31",
        "--used",
        "20",
        "--today",
        "2026-02-10",
        "--postponed-to",
        "2026-02-28",
    ];
    let text = r#"RECKON DUE
inputs:  interval 12 months, 0 days, 28 days in steam; done 2025-01-31; used 20 days in steam; today
         2026-02-10; last day the anniversary; postponed to 2026-02-28
formula: months in one step with an end-of-month clamp (python-dateutil, relativedelta); a day in
         steam is a service day (49 CFR 230.8); whichever is first
result:  in date by the written postponement alone; last day by the calendar 2026-01-31; 8 day(s) in
         steam left
result:  postponed in writing, through 2026-02-28: only the postponement keeps it in date
caution: A figure for a competent person, who looks at the glass and the gauge; the railway's rules
         and the boiler inspector go before it.
"#;
    let json = r#"{
  "reckon": "due",
  "inputs": [
    {
      "name": "interval",
      "value": "12 months, 0 days, 28 days in steam"
    },
    {
      "name": "done",
      "value": "2025-01-31"
    },
    {
      "name": "used",
      "value": "20 days in steam"
    },
    {
      "name": "today",
      "value": "2026-02-10"
    },
    {
      "name": "last day",
      "value": "the anniversary"
    },
    {
      "name": "postponed to",
      "value": "2026-02-28"
    }
  ],
  "formula": "months in one step with an end-of-month clamp (python-dateutil, relativedelta); a day in steam is a service day (49 CFR 230.8); whichever is first",
  "result": {
    "in_date": true,
    "last_day": "2026-01-31",
    "steam_days_left": 8,
    "governs": "calendar",
    "postponed_to": "2026-02-28",
    "postponement_in_force": true,
    "kept_by_postponement": true
  },
  "caution": "A figure for a competent person, who looks at the glass and the gauge; the railway's rules and the boiler inspector go before it."
}"#;
    whole(&args, text, json);
}

/// By hand: 60 mg/l x 3000 l / 0.35 are 514.3 g, 50 and 70 mg/l 428.6 and 600 g; 13 x 40 g bring 60.67 mg/l.
#[test]
fn a_dose_in_scoops() {
    let args = [
        "dose",
        "--reading",
        "100 mg/l",
        "--error",
        "10",
        "--target",
        "160 mg/l",
        "--water",
        "3000 l",
        "--strength",
        "0.35",
        "--measure",
        "40",
    ];
    let text = r#"RECKON DOSE
inputs:  reading 100 mg/l ± 10 mg/l; target 160 mg/l; water 3000 l; strength 0.35; measure 40 g in 1
         part(s)
formula: grams = (target - reading) x litres / strength / 1000, by mass balance; hot litres brought
         to 25 °C by density (IAPWS SR1-86(1992), equation 2)
result:  514.3 g of product (428.6 to 600.0)
result:  13 measure(s), 520.0 g, which reach 161 mg/l
caution: A figure for a competent person, who looks at the glass and the gauge; the railway's rules
         and the boiler inspector go before it.
"#;
    let json = r#"{
  "reckon": "dose",
  "inputs": [
    {
      "name": "reading",
      "value": "100 mg/l ± 10 mg/l"
    },
    {
      "name": "target",
      "value": "160 mg/l"
    },
    {
      "name": "water",
      "value": "3000 l"
    },
    {
      "name": "strength",
      "value": "0.35"
    },
    {
      "name": "measure",
      "value": "40 g in 1 part(s)"
    }
  ],
  "formula": "grams = (target - reading) x litres / strength / 1000, by mass balance; hot litres brought to 25 °C by density (IAPWS SR1-86(1992), equation 2)",
  "result": {
    "grams": {
      "value": 514.285714286,
      "low": 428.571428571,
      "high": 600.0
    },
    "over_mg_l": null,
    "litres": 3000.0,
    "measures": 13.0,
    "measured_grams": 520.0,
    "reaches_mg_l": 160.666666667
  },
  "caution": "A figure for a competent person, who looks at the glass and the gauge; the railway's rules and the boiler inspector go before it."
}"#;
    whole(&args, text, json);
}

/// By hand: the free surface at half way, 97.5 mm, is 377.5 mm over the axis: 4.2357 million mm².
/// Saturated water at 145 psi is 882.7 kg/m³, water at 15 °C 999.1 (steam tables, from memory): 15 x 4.2357 x 882.7 /
/// 999.1 = 56.13 l/min, and 9/15 and 21/15 of it with 3 mm of error at each end.
#[test]
fn a_feed_that_needs_a_longer_watch() {
    let args =
        ["feed", "--start", "90 mm", "--end", "105 mm", "--time", "1 min", "--pressure", "145 psi", "--least", "40"];
    let text = r#"RECKON FEED
inputs:  boiler Tamsin (the built-in demo of the invented Harrow Vale line); start 90 mm; end 105
         mm; error of reading 3 mm; time 1 min; pressure 145 psi; feed at 15 C; steamed off not
         known
formula: rise x l/mm x density(boiler)/density(feed) / time + steamed off; densities IAPWS SR1-
         86(1992), equation 2
result:  56 l/min (34 to 79) from a rise of 15 mm at 4.24 l/mm
result:  against the least of 40 l/min: cannot tell within the reading error; watch for longer
caution: A figure for a competent person, who looks at the glass and the gauge; the railway's rules
         and the boiler inspector go before it.
"#;
    let json = r#"{
  "reckon": "feed",
  "inputs": [
    {
      "name": "boiler",
      "value": "Tamsin (the built-in demo of the invented Harrow Vale line)"
    },
    {
      "name": "start",
      "value": "90 mm"
    },
    {
      "name": "end",
      "value": "105 mm"
    },
    {
      "name": "error of reading",
      "value": "3 mm"
    },
    {
      "name": "time",
      "value": "1 min"
    },
    {
      "name": "pressure",
      "value": "145 psi"
    },
    {
      "name": "feed at",
      "value": "15 C"
    },
    {
      "name": "steamed off",
      "value": "not known"
    }
  ],
  "formula": "rise x l/mm x density(boiler)/density(feed) / time + steamed off; densities IAPWS SR1-86(1992), equation 2",
  "result": {
    "l_min": {
      "value": 56.126995181,
      "low": 33.676197108,
      "high": 78.577793253
    },
    "rise_mm": 15.0,
    "litres_per_mm": 4.235651772,
    "steaming_known": false,
    "verdict": "cannot tell within the reading error; watch for longer"
  },
  "caution": "A figure for a competent person, who looks at the glass and the gauge; the railway's rules and the boiler inspector go before it."
}"#;
    whole(&args, text, json);
}
