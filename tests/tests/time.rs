//! Time: lives at the exact second, across midnight and a change to summer time; days counted locally; late entries.

use offshed_core::pack::Pack;
use offshed_core::register::Register;
use offshed_core::stamp::{Now, Stamp, Zone};
use offshed_core::verdict::{self, StepState, Who};
use offshed_core::words;
use offshed_depot::ids::Ids;
use offshed_depot::packfile::PackFile;
use offshed_depot::shed::scene;
use offshed_depot::{typed, zone};
use offshed_tests::{Dates, Day, TO_THE_FEEDS, day, day_on, practice};

/// Clocks go forward in the night to 29 March 2026.
const SPRING: Dates = Dates { eve: "2026-03-27", today: "2026-03-28", done: "2026-03-20" };

const LATE_SHIFT: &str = "\
20:00,,21,4,open,preparation,,,p
,,,p,choose,found,2
20:01,,,,work,date-plugs,5 s
20:20,,,,work,fire-ready,5 s,31
20:30,,,,work,open-fire,5 s
21:00,,,,work,cocks-ready,5 s
23:40,,,,reading,pressure-proof,130 psi
23:45,,,,part,feed-1,1 90 mm
,,,,part,feed-1,2 seen
,,,,part,feed-1,3 seen
,,,,part,feed-1,4 60 s
,,,,part,feed-1,5 105 mm
23:50:00,,,,part,feed-1,6 seen
";

/// The key of how a step stands at a moment: `proven`, or why it is gone.
fn stands(day: &Day, step: &str, at: Stamp) -> String {
    let file = PackFile::from_bytes(practice().bytes.clone()).unwrap();
    let id = Ids::of(&file).step(step).unwrap();
    let sheet = day.ledger.sheets().next().unwrap().id;
    let state = scene(&day.ledger, sheet, |scene| verdict::of(scene, id, Who::default(), Now::good(at))).unwrap();
    match state {
        StepState::Proven { .. } => "proven".to_owned(),
        StepState::Gone { why, .. } => words::key(&why).to_owned(),
        other => format!("{other:?}"),
    }
}

#[test]
fn four_hours_are_four_hours_across_midnight_and_summer_time() {
    let day = day_on(SPRING, &[LATE_SHIFT]);
    // Proven at 23:50 winter time: four hours later clocks show 04:50 summer time.
    let end = day.at("2026-03-29 04:50");
    assert_eq!(end.since(day.at("2026-03-28 23:50")), 4 * 3_600);
    assert_eq!(stands(&day, "feed-1", end.plus(-1)), "proven");
    assert_eq!(stands(&day, "feed-1", end), "lapsed");
}

#[test]
fn a_date_is_in_date_through_its_last_local_day() {
    // Fourteen months from 2 September 2025 end on 2 November 2026, in winter time; from 29 January 2025 on 29 March
    // 2026, the day of 23 hours. A date is in date through its last day (common practice, no source).
    let day = day_on(SPRING, &["08:00,,1,4,date-done,examination,2025-01-29\n"]);
    let keys = |moment: &str| offshed_tests::keys(&day.fitness(4, moment)).contains(&"out-of-date");
    assert!(!keys("2026-03-29 23:59:59"));
    assert!(keys("2026-03-30 00:00:00"));
}

#[test]
fn days_have_the_length_the_clocks_give_them() {
    let table = Zone::new(&zone::rows("GMT0BST,M3.5.0/1,M10.5.0").unwrap()).unwrap();
    let end = |day: &str| table.end_of_day(typed::day_named(day).unwrap());
    assert_eq!(end("2026-03-29").since(end("2026-03-28")), 23 * 3_600);
    assert_eq!(end("2026-10-25").since(end("2026-10-24")), 25 * 3_600);
    let moment = |text: &str| table.moment(typed::moment(text, None).unwrap());
    // 01:30 comes twice on 25 October: the first is meant. It does not come at all on 29 March.
    assert_eq!(moment("2026-10-25 01:30").0, 1_792_888_200);
    assert_eq!(moment("2026-03-29 01:30"), moment("2026-03-29 02:30"));
}

#[test]
fn local_time_agrees_with_the_time_zone_library() {
    let rows = zone::rows("GMT0BST,M3.5.0/1,M10.5.0").unwrap();
    let table = Zone::new(&rows).unwrap();
    let oracle = jiff::tz::TimeZone::posix("GMT0BST,M3.5.0/1,M10.5.0").unwrap();
    // Every 7 h 13 min from 2001 to 2058.
    for n in 0..69_000i64 {
        let at = Stamp(978_310_000 + n * 25_980);
        let theirs = oracle.to_offset(jiff::Timestamp::from_second(at.0).unwrap()).seconds() / 60;
        assert_eq!(i32::from(table.offset_minutes(at)), theirs, "{at:?}");
        let local = table.local(at);
        let back = table.moment(local);
        assert!(back == at || at.since(back) == 3_600, "{at:?} {back:?}");
    }
}

#[test]
fn late_entries_are_taken_and_their_life_runs_from_when_it_was_done() {
    let day = day(&[
        TO_THE_FEEDS,
        "07:00,,21,p,reading,level-final,150 mm,,,,needs-first
         07:01,,21,p,work,regulator-tight,5 s
         07:30,,,,done,coal-water,,,08:00,,in-future
         ,,,,done,coal-water,,,04:59,,before-sheet
         ,,,,done,coal-water,,,07:10
         ,,,,reading,pressure-ready,130 psi,,07:05
        ",
    ]);
    // Life of this reading: 30 minutes from 07:05.
    assert_eq!(stands(&day, "pressure-ready", day.at("2026-05-02 07:34:59")), "proven");
    assert_eq!(stands(&day, "pressure-ready", day.at("2026-05-02 07:35:00")), "lapsed");
}

#[test]
fn a_fire_kept_past_midnight_counts_both_days_and_a_day_counts_once() {
    // Service day as 49 CFR 230.8 defines it: any calendar day with pressure and fire; once however often steamed.
    let night = day_on(SPRING, &[LATE_SHIFT]);
    let engine = offshed_core::ident::EngineId(4);
    let pack: Pack<'_> = night.ledger.adopted().unwrap().pack();
    let steam = pack.head().steam.unwrap();
    assert!(night.ledger.engine(engine).unwrap().is_in(steam));
    let count = |last: &str| {
        let on = offshed_core::stamp::Day::of(typed::day_named(last).unwrap());
        let first = offshed_core::stamp::Day::of(typed::day_named("2026-03-20").unwrap());
        night.ledger.office.steam_days(engine, first, on, night.at(&format!("{last} 12:00")))
    };
    assert_eq!((count("2026-03-28"), count("2026-03-29")), (1, 2));
    let twice = day(&[
        TO_THE_FEEDS,
        "07:00,,31,4,event,gone-cold
         ,,,,event,blower-shut
         09:00,,21,4,open,preparation,,,q
         ,,,q,choose,found,2
         09:01,,,,work,date-plugs,5 s
         09:20,,,,work,fire-ready,5 s,31
         09:30,,,,work,open-fire,5 s
         10:00,,,,reading,pressure-1,10 psi
        ",
    ]);
    let may = offshed_core::stamp::Day::of(typed::day_named("2026-05-02").unwrap());
    let counted = twice.ledger.office.steam_days(engine, may, may, twice.at("2026-05-02 23:00"));
    assert_eq!(counted, 1);
}

#[test]
fn a_proof_from_the_future_was_timed_or_is_judged_by_a_wrong_clock() {
    let day = day(&[TO_THE_FEEDS]);
    let step = "feed-1";
    let file = PackFile::from_bytes(practice().bytes.clone()).unwrap();
    let sheet = day.ledger.sheets().next().unwrap();
    let place = file.pack().place_of(Ids::of(&file).step(step).unwrap()).unwrap();
    let at = sheet.mark(place).unwrap().proof.at;
    // Clocks of two devices may differ by five minutes (common practice, no source).
    assert_eq!(stands(&day, step, at.plus(-300)), "proven");
    assert_eq!(stands(&day, step, at.plus(-301)), "clock-doubted");
    // What was known at an earlier moment is another question: then the step had not been answered.
    let earlier = day.ledger.as_of(at.plus(-1));
    assert!(earlier.sheets().next().unwrap().mark(place).is_none());
}
