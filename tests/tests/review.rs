//! What a reviewer is shown: nothing on a clean sheet, each planted thing once, what has most to tell first.

use offshed_core::ident::SheetId;
use offshed_core::stamp::{Now, Stamp};
use offshed_depot::folder::Folder;
use offshed_depot::review::{self, Kind, SignedSheet};
use offshed_depot::shed::Shed;
use offshed_depot::{demo, script, typed};
use offshed_tests::{Day, TO_THE_FEEDS, TO_THE_REVIEW, day};

fn listed(day: &Day, moment: &str) -> Vec<SignedSheet> {
    review::signed_sheets(&day.ledger, Now::good(day.at(moment)))
}

fn kinds(line: &SignedSheet) -> Vec<Kind> {
    line.oddities.iter().map(|oddity| oddity.kind).collect()
}

/// The preparation without its review.
fn unreviewed() -> String {
    TO_THE_REVIEW.lines().take(5).map(|line| format!("{line}\n")).collect()
}

#[test]
fn a_sheet_waits_from_the_last_signature_to_the_review() {
    let signed = day(&[TO_THE_FEEDS, &unreviewed()]);
    let list = listed(&signed, "2026-05-02 07:41");
    assert_eq!(list.len(), 1, "{list:?}");
    assert!(list[0].waiting && list[0].engine == 4, "{list:?}");
    let reviewed = day(&[TO_THE_FEEDS, TO_THE_REVIEW]);
    let list = listed(&reviewed, "2026-05-02 07:41");
    assert!(list.len() == 1 && !list[0].waiting, "{list:?}");
    let half = day(&[TO_THE_FEEDS]);
    assert!(listed(&half, "2026-05-02 07:41").is_empty());
}

#[test]
fn a_clean_sheet_has_nothing_unusual_and_is_read_whole() {
    let day = day(&[TO_THE_FEEDS, &unreviewed()]);
    let now = Now::good(day.at("2026-05-02 07:41"));
    let list = review::signed_sheets(&day.ledger, now);
    assert_eq!(list[0].oddities, []);
    let sheet: SheetId = typed::entry_ref(&list[0].sheet).expect("its own id");
    let read = review::read(&day.ledger, sheet, now).expect("it was signed");
    let named: Vec<&str> = read.signatures.iter().map(|line| line.who.as_str()).collect();
    assert!(named.iter().filter(|who| !who.is_empty()).count() >= 2, "{named:?}");
    assert!(read.values.iter().all(|line| !line.told.is_empty() && !line.who.is_empty()));
    assert!(!read.values.is_empty() && !read.rest.is_empty());
}

/// A preparation like the clean one, from 04:00, with rows of its own after the opening and a pace.
fn planted(rows: &str, pace: &str) -> SignedSheet {
    let feeds = TO_THE_FEEDS.replace("05:00,,21,4,open,preparation,,,p\n", "");
    let feeds = feeds.replacen(
        ",,,p,choose,found,2\n,,,,work,date-plugs,5 s",
        &format!("05:00,,,p,choose,found,2\n{rows},,,p,work,date-plugs,{pace}"),
        1,
    );
    let day = day(&["04:00,,21,4,open,preparation,,,p\n", &feeds, &unreviewed()]);
    let list = listed(&day, "2026-05-02 07:41");
    assert_eq!(list.len(), 1, "{list:?}");
    list[0].clone()
}

#[track_caller]
fn finds(rows: &str, pace: &str, kind: Kind, evidence: &[&str]) {
    let line = planted(rows, pace);
    assert!(!line.oddities.is_empty() && kinds(&line).iter().all(|found| *found == kind), "{line:?}");
    let words = &line.oddities[0].words;
    evidence.iter().for_each(|part| assert!(words.contains(part), "{part}: {words}"));
}

#[test]
fn each_planted_thing_is_found_with_its_evidence_and_nothing_else() {
    assert_eq!(kinds(&planted("", "5 s")), []);
    finds(
        ",,,p,strike,found,,,,Looked at the wrong engine\n,,,p,choose,found,2\n",
        "5 s",
        Kind::Struck,
        &["How the boiler is found", "Looked at the wrong engine", "person 21, 05:00"],
    );
    finds(
        ",,,p,not-right,sign-on,,,,Notice board is bare\n,,,p,done,sign-on\n",
        "5 s",
        Kind::RightLater,
        &["Sign on", "Notice board is bare", "proven later"],
    );
    finds(",,,p,done,secured,,,04:20\n", "5 s", Kind::Late, &["Engine secured", "done 04:20", "40 minutes later"]);
    finds("", "1 s", Kind::Quick, &["answers within", "person 21"]);
}

/// The demonstration's day has a sheet worked on two devices apart, with two steps marked not applicable; the others are
/// clean, the one lit from cold too.
#[test]
fn a_day_of_work_on_three_devices_tells_what_met_and_nothing_of_the_clean_sheets() {
    let temp = tempfile::tempdir().unwrap();
    drop(Folder::make(temp.path(), demo::DEVICE, demo::ZONE).unwrap());
    let sources = demo::write_sources(temp.path()).unwrap();
    script::play(temp.path(), demo::SCRIPT, &sources).unwrap();
    let shed = Shed::open(temp.path()).unwrap();
    let list = review::signed_sheets(shed.ledger(), Now::good(Stamp(1_777_710_000)));
    let told: Vec<(u16, Vec<Kind>)> = list.iter().map(|line| (line.engine, kinds(line))).collect();
    let met = vec![Kind::Contested, Kind::Skipped, Kind::Skipped];
    assert_eq!(told, [(11, met), (4, vec![]), (17, vec![]), (17, vec![])]);
    let words: Vec<&str> = list[0].oddities.iter().map(|oddity| oddity.words.as_str()).collect();
    assert!(words[0].contains("neither having seen the other"), "{words:?}");
    assert!(words[1].contains("marked not applicable: No water test on record"), "{words:?}");
}
