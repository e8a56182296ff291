//! Fitness: each verdict with its reasons and the moment it lapses, and what flips it.

use offshed_core::fitness::{Ends, Verdict};
use offshed_core::ident::{EngineId, StepId};
use offshed_core::pack::Rule;
use offshed_core::pack::rows::Voids;
use offshed_core::stamp::Now;
use offshed_depot::ids::Ids;
use offshed_depot::packfile::PackFile;
use offshed_tests::{Day, TO_THE_FEEDS, TO_THE_REVIEW, day, keys, practice};

fn reviewed(more: &str) -> Day {
    day(&[TO_THE_FEEDS, TO_THE_REVIEW, more])
}

fn ends_at(day: &Day, moment: &str, engine: u16) -> i64 {
    day.fitness(engine, moment).until.map(|(at, _)| at.0).unwrap_or_default()
}

#[test]
fn fit_until_the_last_reading_lapses_and_not_a_second_longer() {
    let day = reviewed("");
    let fitness = day.fitness(4, "2026-05-02 07:41");
    assert_eq!((fitness.verdict, keys(&fitness)), (Verdict::Fit, vec![]));
    let (until, what) = fitness.until.unwrap();
    assert!(matches!(what, Ends::Rule(Rule::Fresh { .. })), "{what:?}");
    let second = |n: i64| day.ledger.fitness(EngineId(4), Now::good(until.plus(n)));
    assert_eq!(second(-1).verdict, Verdict::Fit);
    assert_eq!((second(0).verdict, keys(&second(0)).contains(&"lapsed")), (Verdict::NotFit, true));
}

#[test]
fn an_engine_nobody_prepared_is_not_fit_and_every_reason_is_given() {
    let day = day(&[]);
    let fitness = day.fitness(4, "2026-05-02 08:00");
    assert_eq!(fitness.verdict, Verdict::NotFit);
    assert!(fitness.reasons.len() > 15, "{:?}", keys(&fitness));
    assert!(keys(&fitness).iter().all(|key| *key == "needs-first"));
}

#[test]
fn a_stopping_defect_flips_it_and_its_clearance_flips_it_back() {
    let stopped = reviewed("07:41,,22,4,defect,,stopping,,leak,Leaking clack\n");
    let fitness = stopped.fitness(4, "2026-05-02 07:42");
    assert_eq!((fitness.verdict, keys(&fitness)), (Verdict::NotFit, vec!["defect-stopping"]));
    let cleared = reviewed(
        "07:41,,22,4,defect,,stopping,,leak,Leaking clack
         07:42,,41,4,clear,leak,fitter,,,Clack ground in
        ",
    );
    assert_eq!(cleared.fitness(4, "2026-05-02 07:43").verdict, Verdict::Fit);
}

#[test]
fn a_restricted_defect_wants_a_restriction_in_writing_which_has_its_own_end() {
    let unwritten = reviewed("07:41,,22,4,defect,,restricted,,lamp,Lamp bracket cracked\n");
    assert_eq!(keys(&unwritten.fitness(4, "2026-05-02 07:42")), vec!["defect-restricted"]);
    let written = reviewed(
        "07:41,,22,4,defect,,restricted,,lamp,Lamp bracket cracked
         ,,22,4,restrict,lamp,2026-05-03,,,Daylight only,not-in-grade
         ,,1,4,restrict,lamp,2026-05-01,,,Daylight only,day-past
         ,,1,4,restrict,lamp,2026-05-02,,,Daylight only
        ",
    );
    let fitness = written.fitness(4, "2026-05-02 07:42");
    assert_eq!((fitness.verdict, fitness.conditions.len()), (Verdict::Restricted, 1));
    // The next day every timed proof has lapsed as well; the restriction is among the reasons.
    let next = written.fitness(4, "2026-05-03 00:00");
    assert!(keys(&next).contains(&"defect-restricted"), "{:?}", keys(&next));
    let noted = reviewed("07:41,,22,4,defect,,note,,lamp,Cab floor worn\n");
    assert_eq!(noted.fitness(4, "2026-05-02 07:42").verdict, Verdict::Fit);
}

#[test]
fn a_changed_date_flips_it() {
    // Fourteen months from 31 January 2025 end on 31 March 2026.
    let day = reviewed("07:41,,1,4,date-done,examination,2025-01-31\n");
    let fitness = day.fitness(4, "2026-05-02 07:42");
    assert_eq!((fitness.verdict, keys(&fitness)), (Verdict::NotFit, vec!["out-of-date"]));
    let postponed = reviewed(
        "07:41,,1,4,date-done,examination,2025-01-31
         ,,1,4,date-postponed,examination,2026-05-02,,,Inspector's letter of 30 March
        ",
    );
    assert_eq!(postponed.fitness(4, "2026-05-02 07:42").verdict, Verdict::Fit);
    let waived = reviewed(
        "07:41,,1,4,date-done,examination,2025-01-31
         ,,1,4,dispense,date:examination,2026-05-02,,,Inspector's letter of 30 March
        ",
    );
    assert_eq!(waived.fitness(4, "2026-05-02 07:42").verdict, Verdict::Restricted);
}

#[test]
fn days_in_steam_are_used_up() {
    // 28 days in steam: 27 before, and today in steam is the 28th, which is the last.
    let last = reviewed("07:41,,1,4,date-done,washout,2026-05-01,,,27\n");
    assert_eq!(last.fitness(4, "2026-05-02 07:42").verdict, Verdict::Fit);
    let over = reviewed("07:41,,1,4,date-done,washout,2026-05-01,,,28\n");
    let fitness = over.fitness(4, "2026-05-02 07:42");
    assert_eq!((fitness.verdict, keys(&fitness)), (Verdict::NotFit, vec!["out-of-steam-days"]));
}

/// Somebody who may report the event.
fn reporter(grade: &str) -> u16 {
    match grade {
        "cleaner" => 31,
        "fireman" => 21,
        "driver" => 11,
        "fitter" => 41,
        "boilersmith" => 42,
        "foreman" => 1,
        _ => 51,
    }
}

#[test]
fn each_event_takes_away_the_proofs_it_names_and_no_others() {
    let file = PackFile::from_bytes(practice().bytes.clone()).unwrap();
    let (pack, ids) = (file.pack(), Ids::of(&file));
    let mut tried = 0;
    for event in pack.events() {
        let named: Vec<StepId> = match event.voids {
            Voids::All => pack.all_steps().map(|s| s.id).collect(),
            Voids::Steps(span) => pack.listed(span).collect(),
        };
        let (id, by) = (ids.event_id(event.id), reporter(&ids.grade_id(event.by)));
        let day = reviewed(&format!("07:41,,{by},4,event,{id}\n"));
        let engine = day.ledger.engine(EngineId(4)).unwrap();
        let sheet = day.ledger.sheets().next().unwrap();
        for (place, step) in pack.steps(sheet.sequence).enumerate() {
            let Some(mark) = sheet.mark(place) else { continue };
            let gone = engine.voided(step.id, mark.proof.nth).is_some();
            assert_eq!(gone, named.contains(&step.id), "{id} and {}", ids.step_id(step.id));
        }
        if named.contains(&ids.step("review").unwrap()) {
            let fitness = day.fitness(4, "2026-05-02 07:42");
            assert_eq!((fitness.verdict, keys(&fitness).contains(&"voided")), (Verdict::NotFit, true), "{id}");
            tried += 1;
        }
    }
    assert!(tried >= 15, "only {tried} events take the review away");
}

#[test]
fn a_date_nobody_entered_makes_it_not_known() {
    let engine = "\
        04:00,office,1,19,engine,19,Sorrel,,,glass 180 mm; pressure 145 psi; has second-glass vacuum-brake
        ,,,19,fitted,front-valve-seal,A1
        ,,,19,fitted,back-valve-seal,A2
        ,,,19,date-done,certificate,2021-09-14
        ,,,19,date-done,examination,2025-09-02
        ,,,19,date-done,washout,2026-04-18
        ,,,19,date-done,plugs,2026-04-18
        ";
    let to_the_feeds = TO_THE_FEEDS.replace(",21,4,open", ",21,19,open");
    let day = day(&[engine, &to_the_feeds, TO_THE_REVIEW]);
    let fitness = day.fitness(19, "2026-05-02 07:42");
    assert_eq!((fitness.verdict, keys(&fitness)), (Verdict::NotKnown, vec!["date-unknown"]));
    assert_eq!(fitness.until, None);
}

#[test]
fn an_engine_the_register_does_not_know_or_no_pack_is_not_known() {
    let day = day(&[]);
    assert_eq!(day.fitness(99, "2026-05-02 08:00").verdict, Verdict::NotKnown);
    let entries = day.ledger.entries().cloned().collect();
    let without = offshed_depot::ledger::Ledger::build(Vec::new(), entries);
    let fitness = without.fitness(EngineId(4), Now::good(day.at("2026-05-02 08:00")));
    assert_eq!((fitness.verdict, keys(&fitness)), (Verdict::NotKnown, vec!["pack-missing"]));
}

#[test]
fn a_proof_alive_when_the_engine_left_does_not_lapse_on_the_road() {
    let day = reviewed(
        "07:41,,11,p,done,clear-to-leave
         07:42,,,,done,off-shed
        ",
    );
    for moment in ["2026-05-02 12:30", "2026-05-02 23:59:59"] {
        let fitness = day.fitness(4, moment);
        assert_eq!(fitness.verdict, Verdict::Fit);
        assert!(fitness.away_since.is_some());
    }
    // Nobody leaves on yesterday's proofs, though nobody said that the engine came home.
    let next = day.fitness(4, "2026-05-03 00:00:00");
    assert_eq!((next.verdict, keys(&next).contains(&"lapsed")), (Verdict::NotFit, true));
    let back = reviewed(
        "07:41,,11,p,done,clear-to-leave
         07:42,,,,done,off-shed
         12:30,,11,4,event,came-on-shed
        ",
    );
    let fitness = back.fitness(4, "2026-05-02 12:31");
    assert_eq!(fitness.verdict, Verdict::NotFit);
    assert!(keys(&fitness).contains(&"voided"));
    assert_eq!(ends_at(&back, "2026-05-02 12:31", 4), 0);
}

#[test]
fn an_engine_with_one_glass_and_test_cocks_is_judged_by_its_own_fittings() {
    let to_the_feeds = TO_THE_FEEDS.replace(",21,4,open", ",21,17,open");
    let review = TO_THE_REVIEW;
    let day = day(&[&to_the_feeds, review]);
    assert_eq!(day.fitness(17, "2026-05-02 07:42").verdict, Verdict::Fit);
    let struck =
        offshed_tests::day(&[&to_the_feeds, review, "07:41,,1,p,strike,cocks-ready,,,,Read on another engine\n"]);
    // Its second means of level is gone, and with it every signature that stood on it.
    let fitness = struck.fitness(17, "2026-05-02 07:42");
    let voided = keys(&fitness).iter().filter(|key| **key == "voided").count();
    assert_eq!((fitness.verdict, voided), (Verdict::NotFit, 3), "{:?}", keys(&fitness));
}
