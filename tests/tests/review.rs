//! What a reviewer is shown: nothing on a clean sheet, each planted thing once, what has most to tell first.

use offshed_core::entry::Review;
use offshed_core::ident::PersonId;
use offshed_core::stamp::{Now, Stamp};
use offshed_depot::folder::Folder;
use offshed_depot::review::{self, Kind, Oddity, Reviewed, Waiting};
use offshed_depot::shed::Shed;
use offshed_depot::{demo, script};
use offshed_tests::{Day, TO_THE_FEEDS, TO_THE_REVIEW, day};

fn listed(day: &Day, moment: &str) -> (Vec<Waiting>, Vec<Reviewed>) {
    let now = Now::good(day.at(moment));
    (review::waiting(&day.ledger, now), review::reviewed(&day.ledger, now))
}

fn kinds(oddities: &[Oddity]) -> Vec<Kind> {
    oddities.iter().map(|oddity| oddity.kind).collect()
}

/// The preparation without its review.
fn unreviewed() -> String {
    TO_THE_REVIEW.lines().take(5).map(|line| format!("{line}\n")).collect()
}

#[test]
fn a_sheet_waits_from_the_last_signature_to_the_review() {
    let signed = day(&[TO_THE_FEEDS, &unreviewed()]);
    let (waiting, reviewed) = listed(&signed, "2026-05-02 07:41");
    assert!(waiting.len() == 1 && reviewed.is_empty(), "{waiting:?} {reviewed:?}");
    assert_eq!(signed.ledger.sheet(waiting[0].sheet).unwrap().engine.0, 4);
    assert_eq!((waiting[0].signed_at, &waiting[0].blocked), (signed.at("2026-05-02 07:39"), &Vec::new()));
    let both = day(&[TO_THE_FEEDS, TO_THE_REVIEW]);
    let (waiting, reviewed) = listed(&both, "2026-05-02 07:41");
    assert!(waiting.is_empty() && reviewed.len() == 1, "{waiting:?} {reviewed:?}");
    let one = &reviewed[0];
    assert_eq!((one.by, one.outcome, one.at), (PersonId(1), Review::Accepted, both.at("2026-05-02 07:40")));
    assert_eq!(one.signed_at, both.at("2026-05-02 07:39"));
    let (waiting, reviewed) = listed(&day(&[TO_THE_FEEDS]), "2026-05-02 07:41");
    assert!(waiting.is_empty() && reviewed.is_empty());
}

#[test]
fn a_clean_sheet_has_nothing_unusual_and_is_read_whole() {
    let day = day(&[TO_THE_FEEDS, &unreviewed()]);
    let now = Now::good(day.at("2026-05-02 07:41"));
    let list = review::waiting(&day.ledger, now);
    assert_eq!(list[0].oddities, []);
    let read = review::brief(&day.ledger, list[0].sheet, now).expect("it is here");
    let named: Vec<&str> = read.signatures.iter().map(|line| line.person.as_str()).collect();
    assert!(named.len() == 2 && named.iter().all(|person| !person.is_empty()), "{named:?}");
    assert!(read.readings.iter().all(|line| !line.value.is_empty() && !line.person.is_empty()));
    assert!(!read.readings.is_empty() && !read.stages.is_empty());
}

/// A preparation like the clean one, from 04:00, with rows of its own after the opening and a pace.
fn planted(rows: &str, pace: &str) -> Vec<Oddity> {
    let feeds = TO_THE_FEEDS.replace("05:00,,21,4,open,preparation,,,p\n", "");
    let feeds = feeds.replacen(
        ",,,p,choose,found,2\n,,,,work,date-plugs,5 s",
        &format!("05:00,,,p,choose,found,2\n{rows},,,p,work,date-plugs,{pace}"),
        1,
    );
    let day = day(&["04:00,,21,4,open,preparation,,,p\n", &feeds, &unreviewed()]);
    let (waiting, _) = listed(&day, "2026-05-02 07:41");
    assert_eq!(waiting.len(), 1, "{waiting:?}");
    waiting[0].oddities.clone()
}

#[track_caller]
fn finds(rows: &str, pace: &str, kind: Kind, evidence: &[&str]) {
    let found = planted(rows, pace);
    assert!(!found.is_empty() && kinds(&found).iter().all(|found| *found == kind), "{found:?}");
    assert!(found.iter().all(|oddity| !oddity.entries.is_empty()), "{found:?}");
    let words = &found[0].words;
    evidence.iter().for_each(|part| assert!(words.contains(part), "{part}: {words}"));
}

#[test]
fn each_planted_thing_is_found_with_its_evidence_and_nothing_else() {
    assert_eq!(kinds(&planted("", "5 s")), []);
    finds(
        ",,,p,strike,found,,,,Looked at the wrong engine\n,,,p,choose,found,2\n",
        "5 s",
        Kind::StruckOut,
        &["How the boiler is found", "Looked at the wrong engine", "person 21, 05:00"],
    );
    finds(
        ",,,p,not-right,sign-on,,,,Notice board is bare\n,,,p,done,sign-on\n",
        "5 s",
        Kind::NotRight,
        &["Sign on", "Notice board is bare", "answered again since"],
    );
    finds(",,,p,done,secured,,,04:20\n", "5 s", Kind::RecordedLate, &["Engine secured", "done 04:20", "40 min later"]);
    finds("", "1 s", Kind::Hasty, &["steps answered by person 21 from 05:00"]);
}

/// The demonstration's day has a sheet worked on two devices apart, with a slow glass and two steps marked not
/// applicable; the others are clean, the one lit from cold too.
#[test]
fn a_day_of_work_on_three_devices_tells_what_met_and_nothing_of_the_clean_sheets() {
    let temp = tempfile::tempdir().unwrap();
    drop(Folder::make(temp.path(), demo::DEVICE, demo::ZONE).unwrap());
    let sources = demo::write_sources(temp.path()).unwrap();
    script::play(temp.path(), demo::SCRIPT, &sources).unwrap();
    let shed = Shed::open(temp.path()).unwrap();
    let now = Now::good(Stamp(1_777_710_540));
    let mut list = review::reviewed(shed.ledger(), now);
    assert!(list.is_sorted_by_key(|one| std::cmp::Reverse(one.at)) && review::waiting(shed.ledger(), now).is_empty());
    let engine = |one: &Reviewed| shed.ledger().sheet(one.sheet).unwrap().engine.0;
    list.sort_by_key(engine);
    let told: Vec<(u16, Vec<Kind>)> = list.iter().map(|one| (engine(one), kinds(&one.oddities))).collect();
    let met = vec![Kind::Contested, Kind::NotRight, Kind::Skipped, Kind::Skipped];
    assert_eq!(told, [(4, vec![]), (11, met), (17, vec![]), (17, vec![])]);
    let words: Vec<&str> = list[1].oddities.iter().map(|oddity| oddity.words.as_str()).collect();
    assert!(words[0].contains("neither having seen the other"), "{words:?}");
    // A glass that came back too slowly was cleared by a fitter: the sheet tells it all the same.
    assert!(words[1].contains("5.2 s") && words[1].contains("answered again since"), "{words:?}");
    assert!(words[2].contains("No water test on record"), "{words:?}");
}
