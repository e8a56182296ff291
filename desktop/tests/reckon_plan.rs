//! Plans as a running foreman reads them: whole outputs on a small pack, worked out by hand, and bad input.
//!
//! The saturation line at 5 psi is 108.4 °C, at 10 psi 115.2 °C and at 120 psi 176.7 °C (steam tables, from memory).
//! At 30 K/h a minute is half a kelvin, so that from cold, three hours to 100 °C, 5 psi take 180 + 16.8, rounded up 197
//! minutes, and 120 psi 180 + 153.4, rounded up 334.

mod common;

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use common::{fails, ok};
use serde_json::Value;
use tempfile::TempDir;

/// A day on the invented Harrow Vale line.
const DAY: &str = r#"time,device,who,on,do,what,value,with,as,words,expect
,,,,day,2026-05-02
05:00,office,1,,person,1,Moss Orrin
,,,,adopt,small
,,,,grade,1,foreman,,,no end
,,,,person,2,Ede Marl
,,,,grade,2,driver,,,no end
,,,,person,3,Corin Vey
,,,,grade,3,fireman,,,no end
,,,4,engine,4,Tamsin,,,glass 180 mm; pressure 145 psi
,,,,turn,Down goods,2026-05-02 12:00
,,,5,engine,5,Fennel,,,glass 180 mm
05:40,,3,4,open,out,,,t
05:45,,,t,done,secure
05:55,,,,done,look
06:20,,,,done,light
09:40,,,,reading,first,10 psi
"#;

/// A folder with the small pack beside a data folder in which the day is played.
fn shed() -> TempDir {
    let temp = tempfile::tempdir().expect("a folder");
    let pack = temp.path().join("small");
    fs::create_dir(&pack).expect("made");
    fs::write(pack.join("pack.toml"), include_str!("reckon_pack/pack.toml")).expect("written");
    fs::write(pack.join("out.toml"), include_str!("reckon_pack/out.toml")).expect("written");
    fs::write(temp.path().join("day.csv"), DAY).expect("written");
    let folder = temp.path().join("shed");
    ok(&folder, &["new", "--zone", "Etc/UTC"]);
    ok(&folder, &["play", temp.path().join("day.csv").to_str().expect("text")]);
    temp
}

/// The program started beside the pack and the data folder.
fn beside(temp: &Path, args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_offshed"));
    command.current_dir(temp).env("OFFSHED_FOLDER", "shed").args(args).output().expect("it starts")
}

#[track_caller]
fn read(temp: &Path, args: &[&str]) -> String {
    let output = beside(temp, args);
    assert!(output.status.success(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("text")
}

#[track_caller]
fn json(temp: &Path, args: &[&str]) -> Value {
    serde_json::from_str(&read(temp, &[&["--json"], args].concat())).expect("JSON")
}

#[track_caller]
fn whole(args: &[&str], wanted: &str) {
    let temp = shed();
    assert_eq!(read(temp.path(), args), wanted);
}

/// Back from 12:00: off 2, signs 1, scotches 1, full pressure 4, 334 of heating: the fire is lit by 11:52 - 334 - 15 =
/// 06:03, after 10 of looking and 3 of securing, 05:50.
/// The driver signs, so somebody else reads full pressure; the brake is tried for 6 before 11:56, first pressure read
/// for 2 before that, 11:48, and heating to it starts 197 earlier, 08:31.
#[test]
fn from_cold_with_every_step() {
    let args = [
        "reckon",
        "plan",
        "--pack",
        "small",
        "--now",
        "2026-05-02 05:00",
        "--off-shed",
        "12:00",
        "--has",
        "air-brake",
        "--hand",
        "fireman",
        "--hand",
        "driver",
    ];
    let wanted = r#"RECKON PLAN
Out, off shed 2026-05-02 12:00 +00:00
light up by 06:03; crew on by 05:50
at hand: Fireman on by 05:50; Driver on by 11:48
6 h 10 min of work and waiting; no sharing among these people takes less than 6 h 10 min
start  latest  min  who                step
05:50   05:50    3  Fireman  critical  Secured
05:53   05:53   10  Fireman  critical  Firebox looked at
06:03   06:03   15  Fireman  critical  Fire lit
06:18   06:18  334  -        critical  (raising steam to 120 psi, wanted by 11:52)
08:31   08:31  197  -                  (raising steam to 5 psi, wanted by 11:48)
08:48   08:48  180  -                  (waiting time after "Fire lit", over by 11:48)
11:32   11:36   20  Fireman            Oiled round
11:48   11:48    2  Driver             First pressure
11:50   11:50    6  Driver             Air brake tried
11:52   11:52    4  Fireman  critical  Full pressure
11:56   11:56    1  Driver   critical  Scotches out
11:57   11:57    1  Driver   critical  Driver signs
11:58   11:58    2  Driver   critical  Off shed
not asked for this way: "Fire made up"
inputs:  pack Small pack (1) (small); off shed 2026-05-02 12:00 +00:00; now 2026-05-02 05:00 +00:00;
         has air-brake; working pressure not given; water now not given, cold: 15 °C; heating limit
         30 K/h (common practice, from memory); first pressure from cold 3 h (common practice, from
         memory)
formula: latest start: the longest chain of steps behind it (critical path, Kelley and Walker 1959);
         planned start: the steps shared out backwards among those at hand; minutes and order: the
         pack; raising steam: the heating limit up to the saturation line (IAPWS R7-97(2012), region
         4)
caution: A plan is advice: no step is skipped or hurried to keep to it, no fire is forced, and it
         says nothing of whether the engine may leave. The railway's rules and competent persons go
         before it.
"#;
    whole(&args, wanted);
}

/// At 06:10 the fire should have been lit for 7 minutes, the firebox looked at for 17, the engine secured for 20.
#[test]
fn what_is_late_is_named_first() {
    let args = [
        "reckon",
        "plan",
        "--pack",
        "small",
        "--now",
        "2026-05-02 06:10",
        "--off-shed",
        "12:00",
        "--hand",
        "driver",
        "--hand",
        "fireman",
    ];
    let wanted = r#"RECKON PLAN
Out, off shed 2026-05-02 12:00 +00:00
LATE:    "Secured" 20 min; "Firebox looked at" 17 min; "Fire lit" 7 min
light up by 06:03; crew on by 05:50
at hand: Fireman on by 11:50; Driver on by 05:50
6 h 10 min of work and waiting; no sharing among these people takes less than 6 h 10 min; as planned
from now: off shed 12:20, 20 min LATE
start  latest  min  who                step
05:50   05:50    3  Driver   LATE      Secured
05:53   05:53   10  Driver   LATE      Firebox looked at
06:03   06:03   15  Driver   LATE      Fire lit
06:18   06:18  334  -        critical  (raising steam to 120 psi, wanted by 11:52)
08:33   08:33  197  -                  (raising steam to 5 psi, wanted by 11:50)
08:50   08:50  180  -                  (waiting time after "Fire lit", over by 11:50)
11:36   11:36   20  Driver             Oiled round
11:50   11:50    2  Fireman            First pressure
11:52   11:52    4  Fireman  critical  Full pressure
11:56   11:56    1  Driver   critical  Scotches out
11:57   11:57    1  Driver   critical  Driver signs
11:58   11:58    2  Driver   critical  Off shed
not asked for this way: "Fire made up"
inputs:  pack Small pack (1) (small); off shed 2026-05-02 12:00 +00:00; now 2026-05-02 06:10 +00:00;
         has no features; working pressure not given; water now not given, cold: 15 °C; heating
         limit 30 K/h (common practice, from memory); first pressure from cold 3 h (common practice,
         from memory)
formula: latest start: the longest chain of steps behind it (critical path, Kelley and Walker 1959);
         planned start: the steps shared out backwards among those at hand; minutes and order: the
         pack; raising steam: the heating limit up to the saturation line (IAPWS R7-97(2012), region
         4)
caution: A plan is advice: no step is skipped or hurried to keep to it, no fire is forced, and it
         says nothing of whether the engine may leave. The railway's rules and competent persons go
         before it.
"#;
    whole(&args, wanted);
}

/// From 60 °C a share of 40/85 of three hours, 84.7 minutes, is longer than 80 by the rate: 84.7 + 153.4, rounded up
/// 239, and 84.7 + 16.8, rounded up 102; the fire is made up in 5, without the three hours' wait.
#[test]
fn a_warm_boiler_goes_the_other_way() {
    let args = [
        "reckon",
        "plan",
        "--pack",
        "small",
        "--now",
        "2026-05-02 07:40",
        "--off-shed",
        "12:00",
        "--hand",
        "driver",
        "--hand",
        "fireman",
        "--from",
        "60 °C",
    ];
    let wanted = r#"RECKON PLAN
Out, off shed 2026-05-02 12:00 +00:00
LATE:    "Secured" 5 min; "Firebox looked at" 2 min
light up by 07:48; crew on by 07:35
at hand: Fireman on by 11:50; Driver on by 07:35
4 h 25 min of work and waiting; no sharing among these people takes less than 4 h 25 min; as planned
from now: off shed 12:05, 5 min LATE
start  latest  min  who                step
07:35   07:35    3  Driver   LATE      Secured
07:38   07:38   10  Driver   LATE      Firebox looked at
07:48   07:48    5  Driver   critical  Fire made up
07:53   07:53  239  -        critical  (raising steam to 120 psi, wanted by 11:52)
10:08   10:08  102  -                  (raising steam to 5 psi, wanted by 11:50)
11:36   11:36   20  Driver             Oiled round
11:50   11:50    2  Fireman            First pressure
11:52   11:52    4  Fireman  critical  Full pressure
11:56   11:56    1  Driver   critical  Scotches out
11:57   11:57    1  Driver   critical  Driver signs
11:58   11:58    2  Driver   critical  Off shed
not asked for this way: "Fire lit"
inputs:  pack Small pack (1) (small); off shed 2026-05-02 12:00 +00:00; now 2026-05-02 07:40 +00:00;
         has no features; working pressure not given; water now 60 °C; heating limit 30 K/h (common
         practice, from memory); first pressure from cold 3 h (common practice, from memory)
formula: latest start: the longest chain of steps behind it (critical path, Kelley and Walker 1959);
         planned start: the steps shared out backwards among those at hand; minutes and order: the
         pack; raising steam: the heating limit up to the saturation line (IAPWS R7-97(2012), region
         4)
caution: A plan is advice: no step is skipped or hurried to keep to it, no fire is forced, and it
         says nothing of whether the engine may leave. The railway's rules and competent persons go
         before it.
"#;
    whole(&args, wanted);
}

/// The fire was lit at 06:20, so that of 334 minutes 294 are left at 07:00: until 11:54, two minutes after full pressure
/// should be read.
#[test]
fn an_engine_whose_fire_was_lit_late() {
    let args = ["plan", "4", "--now", "2026-05-02 07:00", "--hand", "driver", "--hand", "fireman"];
    let wanted = r#"PLAN  No. 4 Tamsin  Down goods
Out, off shed 2026-05-02 12:00 +00:00
LATE:    (raising steam to 120 psi, wanted by 11:52) 2 min
crew on by 11:36
at hand: Fireman on by 11:50; Driver on by 11:36
5 h 2 min of work and waiting; no sharing among these people takes less than 5 h 2 min; as planned
from now: off shed 12:02, 2 min LATE
start  latest  min  who                step
06:58   06:58  294  -        LATE      (raising steam to 120 psi, wanted by 11:52)
09:13   09:13  157  -                  (raising steam to 5 psi, wanted by 11:50)
09:30   09:30  140  -                  (waiting time after "Fire lit", over by 11:50)
11:36   11:36   20  Driver             Oiled round
11:50   11:50    2  Fireman            First pressure
11:52   11:52    4  Fireman  critical  Full pressure
11:56   11:56    1  Driver   critical  Scotches out
11:57   11:57    1  Driver   critical  Driver signs
11:58   11:58    2  Driver   critical  Off shed
done already: 3 step(s)
not asked for this way: "Fire made up"
inputs:  pack Small pack (1); now 2026-05-02 07:00 +00:00; working pressure 145 psi; water now not
         given: as the last pressure on the sheet, in steam at least 100 °C, else 15 °C; heating
         limit 30 K/h (common practice, from memory); first pressure from cold 3 h (common practice,
         from memory)
caution: A plan is advice: no step is skipped or hurried to keep to it, no fire is forced, and it
         says nothing of whether the engine may leave. The railway's rules and competent persons go
         before it.
"#;
    whole(&args, wanted);
}

/// 10 psi at 09:40 are 115.2 °C: 61.5 K to 120 psi, rounded up 123 minutes, of which ten are over at 09:50.
#[test]
fn a_reading_says_how_hot_the_boiler_is() {
    let args = ["plan", "4", "--now", "2026-05-02 09:50"];
    let wanted = r#"PLAN  No. 4 Tamsin  Down goods
Out, off shed 2026-05-02 12:00 +00:00
crew on by 11:36
at hand: Fireman on by 11:52; Driver on by 11:36 (supposed: one of each; give --hand for each who is
         there)
2 h 1 min of work and waiting; no sharing among these people takes less than 2 h 1 min
start  latest  min  who                step
09:59   09:59  113  -        critical  (raising steam to 120 psi, wanted by 11:52)
11:36   11:36   20  Driver             Oiled round
11:52   11:52    4  Fireman  critical  Full pressure
11:56   11:56    1  Driver   critical  Scotches out
11:57   11:57    1  Driver   critical  Driver signs
11:58   11:58    2  Driver   critical  Off shed
done already: 4 step(s)
not asked for this way: "Fire made up"
inputs:  pack Small pack (1); now 2026-05-02 09:50 +00:00; working pressure 145 psi; water now not
         given: as the last pressure on the sheet, in steam at least 100 °C, else 15 °C; heating
         limit 30 K/h (common practice, from memory); first pressure from cold 3 h (common practice,
         from memory)
caution: A plan is advice: no step is skipped or hurried to keep to it, no fire is forced, and it
         says nothing of whether the engine may leave. The railway's rules and competent persons go
         before it.
"#;
    whole(&args, wanted);
}

/// The same plan as data.
#[test]
fn the_whole_json_of_a_plan() {
    let args = [
        "reckon",
        "plan",
        "--pack",
        "small",
        "--now",
        "2026-05-02 06:10",
        "--off-shed",
        "12:00",
        "--hand",
        "driver",
        "--hand",
        "fireman",
    ];
    let wanted = r#"{
  "reckon": "plan",
  "inputs": [
    {
      "name": "pack",
      "value": "Small pack (1) (small)"
    },
    {
      "name": "off shed",
      "value": "2026-05-02 12:00 +00:00"
    },
    {
      "name": "now",
      "value": "2026-05-02 06:10 +00:00"
    },
    {
      "name": "has",
      "value": "no features"
    },
    {
      "name": "working pressure",
      "value": "not given"
    },
    {
      "name": "water now",
      "value": "not given, cold: 15 °C"
    },
    {
      "name": "heating limit",
      "value": "30 K/h (common practice, from memory)"
    },
    {
      "name": "first pressure from cold",
      "value": "3 h (common practice, from memory)"
    }
  ],
  "formula": "latest start: the longest chain of steps behind it (critical path, Kelley and Walker 1959); planned start: the steps shared out backwards among those at hand; minutes and order: the pack; raising steam: the heating limit up to the saturation line (IAPWS R7-97(2012), region 4)",
  "result": {
    "sequence": "Out",
    "pack": "Small pack (1)",
    "as_of": "2026-05-02T06:10:00+00:00",
    "as_of_words": "2026-05-02 06:10 +00:00",
    "off_shed": "2026-05-02T12:00:00+00:00",
    "off_shed_words": "2026-05-02 12:00 +00:00",
    "light_up_by": "2026-05-02T06:03:00+00:00",
    "light_up_by_short": "06:03",
    "light_up": "Fire lit",
    "crew_on_by": "2026-05-02T05:50:00+00:00",
    "crew_on_by_short": "05:50",
    "way": "cold",
    "hands": [
      {
        "grade": "fireman",
        "name": "Fireman",
        "on_by": "2026-05-02T11:50:00+00:00",
        "on_by_short": "11:50"
      },
      {
        "grade": "driver",
        "name": "Driver",
        "on_by": "2026-05-02T05:50:00+00:00",
        "on_by_short": "05:50"
      }
    ],
    "hands_supposed": false,
    "least_minutes": 370,
    "planned_minutes": 370,
    "expected_off_shed": "2026-05-02T12:20:00+00:00",
    "expected_off_shed_short": "12:20",
    "minutes_late": 20,
    "late": [
      {
        "step": "secure",
        "what": "Secured",
        "timing": "late",
        "minutes": 20
      },
      {
        "step": "look",
        "what": "Firebox looked at",
        "timing": "late",
        "minutes": 17
      },
      {
        "step": "light",
        "what": "Fire lit",
        "timing": "late",
        "minutes": 7
      }
    ],
    "rows": [
      {
        "step": "secure",
        "what": "Secured",
        "minutes": 3,
        "start": "2026-05-02T05:50:00+00:00",
        "start_short": "05:50",
        "latest": "2026-05-02T05:50:00+00:00",
        "latest_short": "05:50",
        "who": "Driver",
        "critical": true,
        "timing": "late"
      },
      {
        "step": "look",
        "what": "Firebox looked at",
        "minutes": 10,
        "start": "2026-05-02T05:53:00+00:00",
        "start_short": "05:53",
        "latest": "2026-05-02T05:53:00+00:00",
        "latest_short": "05:53",
        "who": "Driver",
        "critical": true,
        "timing": "late"
      },
      {
        "step": "light",
        "what": "Fire lit",
        "minutes": 15,
        "start": "2026-05-02T06:03:00+00:00",
        "start_short": "06:03",
        "latest": "2026-05-02T06:03:00+00:00",
        "latest_short": "06:03",
        "who": "Driver",
        "critical": true,
        "timing": "late"
      },
      {
        "step": null,
        "what": "(raising steam to 120 psi, wanted by 11:52)",
        "minutes": 334,
        "start": "2026-05-02T06:18:00+00:00",
        "start_short": "06:18",
        "latest": "2026-05-02T06:18:00+00:00",
        "latest_short": "06:18",
        "who": null,
        "critical": true,
        "timing": "in-time"
      },
      {
        "step": null,
        "what": "(raising steam to 5 psi, wanted by 11:50)",
        "minutes": 197,
        "start": "2026-05-02T08:33:00+00:00",
        "start_short": "08:33",
        "latest": "2026-05-02T08:33:00+00:00",
        "latest_short": "08:33",
        "who": null,
        "critical": false,
        "timing": "in-time"
      },
      {
        "step": null,
        "what": "(waiting time after \"Fire lit\", over by 11:50)",
        "minutes": 180,
        "start": "2026-05-02T08:50:00+00:00",
        "start_short": "08:50",
        "latest": "2026-05-02T08:50:00+00:00",
        "latest_short": "08:50",
        "who": null,
        "critical": false,
        "timing": "in-time"
      },
      {
        "step": "oil",
        "what": "Oiled round",
        "minutes": 20,
        "start": "2026-05-02T11:36:00+00:00",
        "start_short": "11:36",
        "latest": "2026-05-02T11:36:00+00:00",
        "latest_short": "11:36",
        "who": "Driver",
        "critical": false,
        "timing": "in-time"
      },
      {
        "step": "first",
        "what": "First pressure",
        "minutes": 2,
        "start": "2026-05-02T11:50:00+00:00",
        "start_short": "11:50",
        "latest": "2026-05-02T11:50:00+00:00",
        "latest_short": "11:50",
        "who": "Fireman",
        "critical": false,
        "timing": "in-time"
      },
      {
        "step": "full",
        "what": "Full pressure",
        "minutes": 4,
        "start": "2026-05-02T11:52:00+00:00",
        "start_short": "11:52",
        "latest": "2026-05-02T11:52:00+00:00",
        "latest_short": "11:52",
        "who": "Fireman",
        "critical": true,
        "timing": "in-time"
      },
      {
        "step": "clear",
        "what": "Scotches out",
        "minutes": 1,
        "start": "2026-05-02T11:56:00+00:00",
        "start_short": "11:56",
        "latest": "2026-05-02T11:56:00+00:00",
        "latest_short": "11:56",
        "who": "Driver",
        "critical": true,
        "timing": "in-time"
      },
      {
        "step": "signs",
        "what": "Driver signs",
        "minutes": 1,
        "start": "2026-05-02T11:57:00+00:00",
        "start_short": "11:57",
        "latest": "2026-05-02T11:57:00+00:00",
        "latest_short": "11:57",
        "who": "Driver",
        "critical": true,
        "timing": "in-time"
      },
      {
        "step": "off",
        "what": "Off shed",
        "minutes": 2,
        "start": "2026-05-02T11:58:00+00:00",
        "start_short": "11:58",
        "latest": "2026-05-02T11:58:00+00:00",
        "latest_short": "11:58",
        "who": "Driver",
        "critical": true,
        "timing": "in-time"
      }
    ],
    "done": 0,
    "left_out": [
      "Fire made up"
    ],
    "notes": []
  },
  "caution": "A plan is advice: no step is skipped or hurried to keep to it, no fire is forced, and it says nothing of whether the engine may leave. The railway's rules and competent persons go before it."
}"#;
    let temp = shed();
    assert_eq!(json(temp.path(), &args), serde_json::from_str::<Value>(wanted).expect("the test's own JSON"));
}

/// The engine's plan has the same keys, with the engine and its turn.
#[test]
fn the_json_of_an_engines_plan() {
    let temp = shed();
    let plan = json(temp.path(), &["plan", "4", "--now", "2026-05-02 07:00"]);
    assert_eq!((&plan["engine"], &plan["name"], &plan["turn"]), (&4.into(), &"Tamsin".into(), &"Down goods".into()));
    let reckoned =
        json(temp.path(), &["reckon", "plan", "--pack", "small", "--now", "2026-05-02 07:00", "--off-shed", "12:00"]);
    for key in reckoned["result"].as_object().expect("an object").keys() {
        assert!(plan.get(key).is_some(), "{key}");
    }
    assert_eq!((&plan["minutes_late"], &plan["light_up_by"]), (&2.into(), &Value::Null));
    assert_eq!(plan["expected_off_shed"], "2026-05-02T12:02:00+00:00");
    assert!(plan["caution"].as_str().expect("words").contains("no fire is forced"));
}

#[test]
fn bad_plans_say_what_would_do() {
    let temp = shed();
    let clear = |args: &[&str], wanted: &str| {
        let output = beside(temp.path(), &[args, &["--now", "2026-05-02 07:00"]].concat());
        let words = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(3), "{args:?}: {words}");
        assert!(words.contains(wanted) && !words.contains("panicked"), "{args:?}: {words}");
    };
    let plan = |more: &[&'static str]| [&["reckon", "plan", "--pack", "small", "--off-shed", "12:00"], more].concat();
    clear(&["reckon", "plan", "--pack", "small", "--off-shed", "07:00"], "`off-shed`: \"07:00\" is past, by 0 min");
    clear(&["reckon", "plan", "--pack", "small", "--off-shed", "noon"], "`off-shed`: \"noon\" is no time of day");
    clear(&plan(&["--hand", "stoker"]), "`hand`: the pack has no grade \"stoker\"; it has fireman, driver, foreman");
    clear(&plan(&["--hand", "fireman"]), "nobody at hand may act as Driver (driver), as 3 step(s) want");
    clear(&plan(&["--hand", "driver"]), "\"Driver signs\" wants somebody other than who does \"Full pressure\"");
    clear(&plan(&["--has", "steam-brake"]), "`has`: the pack has no feature \"steam-brake\"");
    clear(&plan(&["--sequence", "in"]), "`sequence`: the pack has no sequence \"in\"");
    clear(&plan(&["--pressure", "145"]), "`pressure`: \"145\" has no unit");
    clear(
        &plan(&["--pressure", "100 psi"]),
        "\"Full pressure\" wants 827 kPa, more than the working pressure, 689 kPa",
    );
    clear(&plan(&["--from", "60"]), "`from`: \"60\" has no unit");
    clear(&plan(&["--from", "-5 C"]), "`from`: is -5 °C");
    clear(&plan(&["--limit", "nan"]), "`limit`: is NaN");
    clear(&plan(&["--first-pressure", "3"]), "`first-pressure`: \"3\" has no unit");
    clear(&plan(&["--zone", "Harrow"]), "`zone`: no time zone is called \"Harrow\"");
    clear(&["reckon", "plan", "--pack", "nowhere", "--off-shed", "12:00"], "`pack`: nowhere: ");
    clear(&["reckon", "plan", "--pack", "day.csv", "--off-shed", "12:00"], "`pack`: not a compiled pack");
    let many: Vec<&str> = (0..33).flat_map(|_| ["--hand", "driver"]).collect();
    clear(&[&plan(&[])[..], &many].concat(), "33 people at hand; give 32 or fewer");
    clear(&["plan", "9"], "the register has no engine 9");
    clear(&["plan", "5"], "no turn is booked for engine 5");
    clear(&["plan", "4", "--off-shed", "06:00"], "`off-shed`: \"06:00\" is past, by 60 min");
    let output = beside(temp.path(), &["plan", "4", "--now", "2026-05-03 07:00"]);
    assert!(String::from_utf8_lossy(&output.stderr).contains("the off-shed time is past, by 19 h"));
}

/// A pack of another shed's making is a file as well; the built-in one is planned without any.
#[test]
fn a_built_pack_and_the_built_in_one() {
    let temp = shed();
    ok(
        temp.path(),
        &[
            "pack",
            "build",
            temp.path().join("small").to_str().expect("text"),
            temp.path().join("small.pack").to_str().expect("text"),
        ],
    );
    let from_file = read(
        temp.path(),
        &["reckon", "plan", "--pack", "small.pack", "--off-shed", "12:00", "--now", "2026-05-02 05:00"],
    );
    assert!(from_file.contains("light up by 06:03"), "{from_file}");
    let (code, words) = fails(temp.path(), &["reckon", "plan", "--now", "2026-05-02 05:00"]);
    assert!(code == 2 && words.contains("--off-shed"), "{code} {words}");
    let built_in = json(
        temp.path(),
        &["reckon", "plan", "--off-shed", "2026-05-02 12:00", "--now", "2026-05-01 20:00", "--pressure", "145 psi"],
    );
    let result = &built_in["result"];
    assert!(result["light_up_by"].is_string() && result["late"].as_array().expect("a list").is_empty(), "{result}");
    let rows = result["rows"].as_array().expect("a list");
    assert!(rows.iter().all(|row| row["start"].as_str() <= row["latest"].as_str()), "{rows:?}");
    // The same in local time, an hour ahead in summer.
    let local = ["reckon", "plan", "--pack", "small.pack", "--zone", "GMT0BST,M3.5.0/1,M10.5.0"];
    let moments = ["--off-shed", "12:00", "--now", "2026-05-02 05:00"];
    let result = &json(temp.path(), &[&local[..], &moments].concat())["result"];
    assert_eq!(result["light_up_by"], "2026-05-02T06:03:00+01:00");
}
