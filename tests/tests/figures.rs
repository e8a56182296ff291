//! Derived steps at work on a sheet: what they compute, what they wait for, who can get round them, and what is
//! recorded. The arithmetic itself is checked against the outside in the `boiler_*` files.

use offshed_core::boiler::level::Tilt;
use offshed_core::entry::{Answer, Fact, Found, Shown, What};
use offshed_core::ident::{EngineId, PersonId, SheetId};
use offshed_core::reason::Why;
use offshed_core::register::Register;
use offshed_core::sheet::Contest;
use offshed_core::stamp::Now;
use offshed_core::units::{Reading, Unit};
use offshed_core::verdict::Who;
use offshed_depot::ids::Ids;
use offshed_depot::ledger::Ledger;
use offshed_depot::reckon::boiler;
use offshed_depot::shed::{self, Denial, Given, Shed};
use offshed_depot::{script, views};
use offshed_tests::{Day, TO_THE_FEEDS, day, practice, root, try_day};

/// Engine 9: measured like the demo boiler, with the demo road, a product of 35 % with a scoop, and feed water.
fn measured() -> String {
    let demo = root().join("desktop/depot/demo");
    format!(
        "04:00,office,1,9,engine,9,Sorrel,,,glass 200 mm; pressure 160 psi; has second-glass vacuum-brake boiler-measured
,,,,fitted,front-valve-seal,HV 1
,,,,fitted,back-valve-seal,HV 2
,,,,date-done,certificate,2021-09-14
,,,,date-done,examination,2025-09-02
,,,,date-done,washout,2026-04-18
,,,,date-done,plugs,2026-04-18
,,,,date-done,fitness-exam,2026-04-18
,,,,boiler,,{0}/boiler-tamsin.toml
,,,,road,1,{0}/road-harrow-vale.toml
,,,,usual-road,1
,,,,product,tannin,35 %,,,scoop 50 g in 2
,,,,feed-water,,100 mg/l,,,15 C
",
        demo.display()
    )
}

/// A water test of engine 9 up to what is worked out from it, all on one sheet called `w`.
fn water_test(conductivity: u32, tannin: u32, level_mm: u32, psi: u32) -> String {
    format!(
        "04:30,,21,9,open,water-test,,,w
,,,w,done,water-sample
,,,,reading,water-temperature,20 C
,,,,reading,water-conductivity,{conductivity} uS/cm
,,,,accept,water-tds
,,,,reading,water-ph,11 pH
,,,,reading,water-alkalinity,600 mg/l CaCO3
,,,,reading,water-tannin,{tannin} mg/l
,,,,reading,water-hardness,1 mg/l CaCO3
,,,,reading,water-level,{level_mm} mm
,,,,reading,water-pressure,{psi} psi
"
    )
}

fn sheet_of(ledger: &Ledger, engine: u16) -> SheetId {
    ledger.sheets().find(|s| s.engine == EngineId(engine)).unwrap().id
}

/// The value that stands on a step of engine 9's first sheet.
fn value(day: &Day, step: &str) -> Reading {
    let sheet = sheet_of(&day.ledger, 9);
    shed::scene(&day.ledger, sheet, |scene| {
        let id = Ids::of(day.ledger.pack(scene.pack.hash()).unwrap()).step(step).unwrap();
        let mark = scene.sheet.unwrap().mark(scene.pack.place_of(id).unwrap());
        mark.unwrap_or_else(|| panic!("{step} has no answer")).proof.value.unwrap()
    })
    .unwrap()
}

fn litres_at(mm: f64) -> f64 {
    let vessel = boiler::read("demo", boiler::DEMO).unwrap().vessel;
    vessel.litres_at(mm, Tilt::LEVEL).unwrap()
}

/// ISO 7888's linear correction with 2 %/K by hand: 3 100 / (1 - 0.02 * 5) * 0.7 = 2 411 mg/l.
#[test]
fn solids_follow_from_conductivity_and_temperature() {
    let day = day(&[&measured(), &water_test(3_100, 105, 95, 0)]);
    assert_eq!(value(&day, "water-tds"), Reading::whole(2_411, Unit::MgPerL));
}

/// Mass balance by hand: (150 - 105) mg/l in the litres at 95 mm, through a product of 35 %.
#[test]
fn a_dose_is_for_the_water_that_is_there() {
    let accept = ",,,,accept,water-dose-due\n";
    let cold = day(&[&measured(), &water_test(3_100, 105, 95, 0), accept]);
    let grams = 45.0 * litres_at(95.0) / 0.35 / 1_000.0;
    assert_eq!(value(&cold, "water-dose-due"), Reading::whole(grams.round() as i32, Unit::Gram));
    // At 160 psi the water is at 188 C; saturated water has 876 kg/m3 there, and 997 at 25 C (steam tables, from memory).
    let hot = day(&[&measured(), &water_test(3_100, 105, 95, 160), accept]);
    let thinner = f64::from(value(&hot, "water-dose-due").milli) / f64::from(value(&cold, "water-dose-due").milli);
    assert!((thinner - 876.0 / 997.0).abs() < 0.005, "{thinner}");
    // At or over the target nothing is to be added.
    let over = day(&[&measured(), &water_test(3_100, 160, 95, 0), accept]);
    assert_eq!(value(&over, "water-dose-due"), Reading::whole(0, Unit::Gram));
}

/// Mass balance of salts: what is left of the water keeps (2 500 - 100) / (s - 100) of what it held.
#[test]
fn a_blowdown_is_told_as_a_fall_of_the_glass() {
    let day = day(&[&measured(), &water_test(3_500, 140, 180, 0), ",,,,accept,water-blowdown\n"]);
    let solids = f64::from(value(&day, "water-tds").milli) / 1_000.0;
    let fall = f64::from(value(&day, "water-blowdown").milli) / 1_000.0;
    let may_stay = (2_500.0 - 100.0) / (solids - 100.0);
    let left = |fall: f64| litres_at(180.0 - fall) / litres_at(180.0);
    assert!(left(fall) <= may_stay && left(fall - 1.0) > may_stay, "{fall} mm leave {}", left(fall));
}

#[test]
fn a_blowdown_that_would_pass_the_lower_mark_is_refused_with_what_to_do() {
    let low = try_day(&[&measured(), &water_test(4_400, 140, 55, 0), ",,,,accept,water-blowdown,,,,,fill-first\n"]);
    assert!(low.is_err(), "solids over 3 500 mg/l are not right, so the blowdown waits");
    let day = day(&[&measured(), &water_test(3_900, 140, 52, 0), ",,,,accept,water-blowdown,,,,,fill-first\n"]);
    let sheet = sheet_of(&day.ledger, 9);
    let told = views::sheet(&day.ledger, sheet, Who::default(), Now::good(day.at("2026-05-02 05:00"))).unwrap();
    let step = told.stages.iter().flat_map(|s| &s.steps).find(|s| s.id == "water-blowdown").unwrap();
    assert!(step.asks.contains("fill to 54 mm or more first"), "{}", step.asks);
    assert!(step.may_skip && step.working.is_none());
}

#[test]
fn nobody_accepts_a_figure_that_is_not_there_and_anybody_may_say_why_it_is_not_worked_out() {
    let rows = "05:00,,21,9,open,preparation,,,p
,,,p,accept,dose-due,,,,,needs-first
,,,p,reading,treatment,0 g,,,,needs-first
,,,p,skip,dose-due,,,,,words-missing
,,,p,skip,dose-due,,,,No test on record
,,,p,reading,treatment,0 g
";
    day(&[&measured(), rows]);
    // An engine whose boiler nobody measured is not asked.
    day(&["05:00,,21,4,open,preparation,,,p\n,,,p,accept,dose-due,,,,,no-feature\n,,,p,reading,treatment,0 g\n"]);
}

#[test]
fn what_the_register_lacks_is_named() {
    let demo = root().join("desktop/depot/demo");
    let engine = "04:00,office,1,9,engine,9,,,,glass 200 mm; has boiler-measured\n";
    let boiler = format!(",,,,boiler,,{}/boiler-tamsin.toml\n", demo.display());
    let open = "05:00,,21,9,open,preparation,,,p\n";
    let wants = |key: &str| format!("{open},,,p,accept,level-least,,,,,{key}\n");
    day(&[engine, &wants("boiler-unknown")]);
    day(&[engine, &boiler, &wants("road-unknown")]);
    day(&[engine, &boiler, ",,,,usual-road,7\n", &wants("road-unknown")]);
    let test = water_test(3_100, 105, 95, 0);
    day(&[engine, &boiler, &test, ",,,,accept,water-dose-due,,,,,product-unknown\n"]);
    day(&[engine, &boiler, &test, ",,,,accept,water-blowdown,,,,,feed-water-unknown\n"]);
    // A share of a working pressure that nobody stated.
    let proof = "05:00,,21,9,open,relief,,,r\n,,,r,reading,relief-pressure,120 psi,,,,working-unknown\n";
    day(&[engine, proof]);
}

/// Three quarters of 160 psi are 120 psi.
#[test]
fn proof_pressure_is_three_quarters_of_the_engines_own() {
    let at = |psi: u32| format!("05:00,,21,9,open,relief,,,r\n05:01,,,r,reading,relief-pressure,{psi} psi\n");
    let marked = |psi| {
        let day = day(&[&measured(), &at(psi)]);
        let sheet = day.ledger.sheet(sheet_of(&day.ledger, 9)).unwrap();
        let pack = day.ledger.pack(sheet.pack).unwrap();
        let id = Ids::of(pack).step("relief-pressure").unwrap();
        sheet.mark(pack.pack().place_of(id).unwrap()).unwrap().outcome
    };
    use offshed_core::sheet::Outcome;
    assert_eq!((marked(119), marked(120)), (Outcome::NotRight, Outcome::Proven { warned: false }));
}

/// The warm preparation of a measured engine up to its pressure, the feeds not yet proven.
const TO_THE_PRESSURE: &str = "\
05:00,,21,9,open,preparation,,,p
,,,p,choose,found,2
,,,,skip,dose-due,,,,No test on record
,,,,work,date-plugs,5 s
05:20,,,,work,fire-ready,5 s,31
05:30,,,,work,open-fire,5 s
06:00,,,,work,glass-right-ready,5 s
";

#[test]
fn a_feed_is_judged_by_what_it_delivers_where_the_boiler_is_known() {
    let rise = |to: &str| {
        format!(
            "06:40,,,p,part,feed-1,1 100 mm\n,,,,part,feed-1,2 seen\n,,,,part,feed-1,3 seen\n06:42,,,,part,feed-1,4 60 s\n,,,,part,feed-1,5 {to}\n"
        )
    };
    let day = day(&[&measured(), TO_THE_PRESSURE, &rise("112 mm")]);
    let parts = day.ledger.entries().filter_map(|entry| match &entry.what {
        What::Answered { answer: Answer::Part { part: 4, found }, .. } => Some(found.clone()),
        _ => None,
    });
    let Some(Found::Rose { reading, delivery }) = parts.last() else { panic!("no delivery is recorded") };
    // By hand: 12 mm of the boiler's surface, thinner by 876/999 at 188 C (steam tables, from memory), in one minute.
    let litres = litres_at(112.0) - litres_at(100.0);
    let wanted = litres * 876.0 / 999.0;
    assert_eq!(reading, Reading::whole(112, Unit::GlassMm));
    assert!((f64::from(delivery.milli) / 1_000.0 - wanted).abs() < 1.0, "{delivery} for {wanted}");
    // Seven millimetres of this boiler are less than 25 litres, and eight are more.
    let judged = |to: &str| {
        let day = try_day(&[&measured(), TO_THE_PRESSURE, &rise(to)]).map_err(|fault| fault.to_string());
        day.map(|day| day.ledger.engine(EngineId(9)).unwrap().defects().len())
    };
    let per_mm = litres / 12.0 * 876.0 / 999.0;
    let enough = (25.0 / per_mm).ceil();
    assert_eq!(judged(&format!("{} mm", 100.0 + enough)), Ok(0));
    assert_eq!(judged(&format!("{} mm", 100.0 + enough - 1.0)), Ok(1), "a slow feed opens a defect");
}

#[test]
fn a_rise_near_the_top_of_the_glass_is_not_believed() {
    let near =
        "06:40,,,p,part,feed-1,1 149 mm\n,,,,part,feed-1,2 seen\n,,,,part,feed-1,3 seen\n06:42,,,,part,feed-1,4 60 s
,,,,part,feed-1,5 185 mm,,,,nearly-full\n";
    day(&[&measured(), TO_THE_PRESSURE, near]);
}

/// From there to both signatures; the road ahead asks for more than the glass shows.
#[test]
fn no_signature_below_the_least_level_for_the_road() {
    let steep = tempfile::tempdir().unwrap();
    let file = steep.path().join("steep.toml");
    let road = "name = \"Steep\"\n[[section]]\nname = \"bank\"\nmetres = 500\ngradient = \"-1 in 12\"\n";
    std::fs::write(&file, road).unwrap();
    let turn = format!(",,,,road,2,{}\n,,,,turn,Bank goods,2026-05-02 08:00,,,road 2\n", file.display());
    let rest = "06:10,,21,p,work,feed-2,5 s
07:00,,21,p,work,regulator-tight,5 s
07:15,,11,,work,running-brake,5 s
07:30,,21,,work,pressure-ready,5 s
,,,,skip,blowdown-asked,,,,No test on record
,,,,accept,level-least
";
    let on_the_level =
        [&measured(), TO_THE_PRESSURE, rest, "07:36,,,,reading,level-final,155 mm\n,,,,sign,fireman-signs\n"].concat();
    day(&[&on_the_level]);
    let before = measured() + &turn;
    let refused =
        [&before, TO_THE_PRESSURE, rest, "07:36,,,,reading,level-final,155 mm\n,,,,sign,fireman-signs,,,,,low\n"]
            .concat();
    let steep = day(&[&refused, ",,,,reading,level-final,185 mm\n,,,,sign,fireman-signs\n"]);
    let least = value(&steep, "level-least");
    assert!(least.milli > 155_000 && least.milli < 185_000, "{least}");
}

#[test]
fn another_figure_than_is_due_is_refused_at_the_desk_and_contested_in_the_fold() {
    let played = day(&[&measured(), &water_test(3_100, 105, 95, 0)]);
    let path = played.folder.path().join("shed");
    let mut shed = Shed::open(&path).unwrap();
    let sheet = sheet_of(shed.ledger(), 9);
    let now = Now::good(played.at("2026-05-02 04:40"));
    let step = Ids::of(shed.ledger().adopted().unwrap()).step("water-dose-due").unwrap();
    let Ok(Answer::Accepted(Shown::Figure { inputs, result, rounds })) = shed.acceptance(sheet, step, now) else {
        panic!("the dose can be told")
    };
    let forged = |inputs, result, rounds| Given {
        sheet,
        step,
        answer: Answer::Accepted(Shown::Figure { inputs, result, rounds }),
        with: None,
        done_at: None,
    };
    let half = Reading { milli: result.milli / 2, ..result };
    let mut other_inputs = inputs.clone();
    other_inputs[0].milli += 1_000;
    for given in
        [forged(inputs.clone(), half, rounds), forged(other_inputs, result, rounds), forged(inputs.clone(), result, 3)]
    {
        let refused = shed.answer(given, PersonId(21), now);
        assert!(matches!(refused, Err(Denial::Refused(Why::FigureDiffers { .. }))), "{refused:?}");
    }
    // The same entry from another device is kept, shown, and no proof.
    let mut entry = shed.ledger().entries().last().unwrap().clone();
    entry.at.device = offshed_core::ident::DeviceId([9; 8]);
    entry.stamp = now.stamp;
    entry.hlc = offshed_core::stamp::Hlc(u64::MAX);
    let answer = Answer::Accepted(Shown::Figure { inputs: inputs.clone(), result: half, rounds });
    entry.what = What::Answered { sheet, step, answer, done_at: None, with: None, over: None };
    let mut ledger = shed.ledger().clone();
    ledger.take(entry.clone());
    let contested = ledger.sheet(sheet).unwrap().contested().to_vec();
    let last = contested.last().unwrap();
    assert_eq!(last.entry, entry.at);
    assert!(matches!(last.contest, Contest::NotOffered(Why::FigureDiffers { got, .. }) if got == half), "{last:?}");
}

#[test]
fn a_measure_that_does_not_hold_together_is_refused_and_named() {
    let demo = boiler::read("demo", boiler::DEMO).unwrap().record().unwrap();
    let played = day(&[&measured()]);
    let mut shed = Shed::open(&played.folder.path().join("shed")).unwrap();
    let now = Now::good(played.at("2026-05-02 04:10"));
    let mut wrong = demo;
    wrong.firebox_width = offshed_core::boiler::record::TenthMm(99_999);
    let stated = shed.act(What::Registered(Fact::Boiler { engine: EngineId(9), boiler: wrong }), PersonId(1), now);
    assert!(matches!(stated, Err(Denial::Refused(Why::Unsound { field: "firebox.width_mm" }))), "{stated:?}");
    let air = shed.act(What::Registered(Fact::Air { pascals: 1_013 }), PersonId(1), now);
    assert!(matches!(air, Err(Denial::Refused(Why::Unsound { field: "atmosphere_kpa" }))), "{air:?}");
    // A crew does not state measures.
    let crew = shed.act(What::Registered(Fact::Boiler { engine: EngineId(9), boiler: demo }), PersonId(21), now);
    assert!(matches!(crew, Err(Denial::Refused(Why::NotInGrade { .. }))), "{crew:?}");
}

#[test]
fn a_road_is_known_when_all_of_it_is_there() {
    let long: String = (0..60)
        .map(|n| format!("[[section]]\nname = \"s{n}\"\nmetres = 100\ngradient = \"1 in {}\"\n", 100 + n))
        .collect();
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("long.toml");
    std::fs::write(&file, format!("name = \"Long\"\n{long}")).unwrap();
    let played = day(&[&measured(), &format!(",,,,road,3,{}\n,,,,usual-road,3\n", file.display())]);
    let now = played.at("2026-05-02 05:00");
    let road = played.ledger.office.road(EngineId(9), now).unwrap();
    assert_eq!((road.points.len(), road.points.last().unwrap().distance_m), (120, 6_000.0));
    // Without one of its three runs of sections it is no road, whatever else is there.
    let entries: Vec<_> = played.ledger.entries().cloned().collect();
    let is_run = |what: &What, n| matches!(what, What::Registered(Fact::RoadSections { first, .. }) if *first == n);
    let without = entries.iter().filter(|e| !is_run(&e.what, 24)).cloned().collect();
    let part = Ledger::build(played.ledger.packs().cloned().collect(), without);
    assert!(part.office.road(EngineId(9), now).is_none());
}

#[test]
fn a_turns_road_goes_before_the_usual_one_until_an_hour_after_it_is_booked() {
    let turns = ",,,,turn,Early,2026-05-02 06:00,,,road 4\n,,,,turn,Late,2026-05-02 12:00\n";
    let played = day(&[&measured(), turns]);
    let road = |at: &str| played.ledger.office.road_of(EngineId(9), played.at(at)).map(|road| road.0);
    assert_eq!(road("2026-05-02 05:00"), Some(4));
    assert_eq!(road("2026-05-02 06:59"), Some(4));
    assert_eq!(road("2026-05-02 07:01"), Some(1), "the next turn names none, so the usual one");
}

#[test]
fn a_working_names_inputs_formula_source_and_result() {
    let played = day(&[&measured(), &water_test(3_100, 105, 95, 0)]);
    let told = views::sheet(
        &played.ledger,
        sheet_of(&played.ledger, 9),
        Who::default(),
        Now::good(played.at("2026-05-02 04:40")),
    );
    let told = told.unwrap();
    let step = told.stages.iter().flat_map(|s| &s.steps).find(|s| s.id == "water-dose-due").unwrap();
    let working = step.working.as_ref().unwrap();
    let inputs: Vec<String> = working.inputs.iter().map(|i| format!("{}: {}", i.name, i.value)).collect();
    let litres = litres_at(95.0).round();
    assert_eq!(
        inputs,
        [
            "Tannin: 105 mg/l".to_owned(),
            "Level in the glass: 95 mm".to_owned(),
            "Pressure at the test: 0 psi".to_owned(),
            "Target: 150 mg/l".to_owned(),
            format!("Water in the boiler, cooled: {litres} l"),
            "Strength of the product: 35.0 %".to_owned(),
        ]
    );
    assert_eq!(working.formula, "(target - reading) x litres / strength");
    assert!(working.source.contains("IAPWS"), "{}", working.source);
    let grams = (45.0 * litres_at(95.0) / 350.0).round();
    assert_eq!(working.result, format!("{grams} g"));
    assert!(working.lines[1].contains("scoop"), "{:?}", working.lines);
}

/// By hand: 3 100 uS/cm at 20 C are 2 411 mg/l, and 5 % of the test and a kelvin are more than the 89 mg/l to the warning
/// at 2 500; 2 000 uS/cm are 1 556 mg/l and nowhere near it.
#[test]
fn a_working_says_when_a_misreading_could_turn_it() {
    let lines = |conductivity| {
        let to_be_accepted = water_test(conductivity, 105, 95, 0);
        let to_be_accepted = to_be_accepted.split_inclusive('\n').take(4).collect::<String>();
        let played = day(&[&measured(), &to_be_accepted]);
        let now = Now::good(played.at("2026-05-02 04:40"));
        let told = views::sheet(&played.ledger, sheet_of(&played.ledger, 9), Who::default(), now).unwrap();
        let step = told.stages.iter().flat_map(|s| &s.steps).find(|s| s.id == "water-tds").unwrap();
        step.working.as_ref().unwrap().lines.join("; ")
    };
    let (near, far) = (lines(3_100), lines(2_000));
    assert!(near.contains("could turn this: its limit is 2500 mg/l"), "{near}");
    assert!(!far.contains("could turn this"), "{far}");
}

/// A short pack whose washout date is that of engines with plugs only.
#[test]
fn a_date_that_does_not_apply_to_an_engine_stands_in_nobodys_way() {
    let head = practice_like();
    let compiled = offshed_depot::authoring::compile(&head).unwrap_or_else(|c| panic!("{}", c[0]));
    let folder = tempfile::tempdir().unwrap();
    let pack = folder.path().join("small.pack");
    std::fs::write(&pack, &compiled.bytes).unwrap();
    let path = folder.path().join("shed");
    drop(offshed_depot::folder::Folder::make(&path, "office", "Etc/UTC").unwrap());
    let text = "time,device,who,on,do,what,value,with,as,words,expect
,,,,day,2026-05-02
05:00,office,1,,person,1,Moss Orrin
,,,,adopt,small.pack
,,,,grade,1,driver,,,no end
,,,1,engine,1,With,,,has plugs
,,,2,engine,2,Without
";
    script::play(&path, text, folder.path()).unwrap_or_else(|fault| panic!("{fault}"));
    let (ledger, ..) = shed::look(&path).unwrap();
    let now = Now::good(offshed_core::stamp::Stamp(1_777_701_600));
    let why = |engine| {
        ledger
            .fitness(EngineId(engine), now)
            .reasons
            .iter()
            .map(|r| offshed_core::words::key(&r.why))
            .collect::<Vec<_>>()
    };
    assert_eq!((why(1), why(2)), (vec!["date-unknown"], vec![]));
}

fn practice_like() -> Vec<offshed_depot::authoring::SourceFile> {
    let head = r#"[pack]
id = "t"
title = "T"
edition = "1"
language = "en"
caution = "C"
low_water = "L"
[[grade]]
id = "driver"
number = 1
name = "D"
[[feature]]
id = "plugs"
number = 1
name = "Fusible plugs"
[[due]]
id = "plug-date"
number = 1
name = "Plugs"
days = 30
last_day = "anniversary"
applies = "plugs"
source = "S"
[defects]
cleared_by = ["driver"]
restricted_by = ["driver"]
[fitness]
needs = [ { in_date = "plug-date" } ]
[[obligation]]
goal = "fitness"
holds = [ { in_date = "plug-date" } ]
why = "W"
"#;
    let work = "[sequence]\nid = \"work\"\nnumber = 1\ntitle = \"T\"\npurpose = \"P\"\nby = \"driver\"\n[[stage]]\nid = \"s\"\ntitle = \"S\"\n[[step]]\nid = \"look\"\nnumber = 1\nstage = \"s\"\ntitle = \"T\"\ndo = \"D\"\nminutes = 1\nsource = \"S\"\nkind = \"check\"\ncloses = true\n";
    let file =
        |name: &str, text: &str| offshed_depot::authoring::SourceFile { name: name.to_owned(), text: text.to_owned() };
    vec![file("pack.toml", head), file("work.toml", work)]
}

#[test]
fn the_practice_packs_own_feeds_still_pass_without_a_measured_boiler() {
    let day = day(&[TO_THE_FEEDS]);
    let rose = day
        .ledger
        .entries()
        .any(|e| matches!(&e.what, What::Answered { answer: Answer::Part { found: Found::Rose { .. }, .. }, .. }));
    assert!(!rose, "no delivery is told of a boiler that nobody measured");
    assert!(practice().proofs.hold());
}
