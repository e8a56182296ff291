//! Sheets beyond the plain run: two opened apart and joined, given up, closed; notes and written dispensations; who may
//! keep the register.

use offshed_core::fitness::Verdict;
use offshed_core::sheet::Stage;
use offshed_tests::{TO_THE_FEEDS, TO_THE_REVIEW, day, keys};

/// Two devices open a sheet for the same engine, neither knowing of the other.
const APART: &str = "\
05:00,,,,sync,north
05:00,north,21,4,open,preparation,,,n
,,,n,choose,found,2
,,,,work,ashpan,5 s
05:00,office,22,4,open,preparation,,,o
,,,o,choose,found,2
05:01,,,,work,seal-back,5 s
05:30,north,,,sync,office
";

#[test]
fn two_sheets_opened_apart_stay_two_until_they_are_joined() {
    let apart = day(&[APART]);
    assert_eq!(apart.ledger.sheets().filter(|s| s.stage() == Stage::Open).count(), 2);
    let joined = day(&[
        APART,
        "05:31,office,22,o,join,n
         ,,,n,done,secured,,,,,sheet-closed
         ,,,o,join,n,,,,,not-joinable
         ,,,,work,fire-ready,5 s,31
        ",
    ]);
    let stages: Vec<Stage> = joined.ledger.sheets().map(|s| s.stage()).collect();
    assert_eq!(stages.iter().filter(|s| matches!(s, Stage::Joined(_))).count(), 1);
    let sheet = joined.ledger.sheets().find(|s| s.stage() == Stage::Open).unwrap();
    assert!(sheet.contested().is_empty(), "{:?}", sheet.contested());
    assert!(sheet.answered(offshed_core::ident::PersonId(21)) && sheet.answered(offshed_core::ident::PersonId(22)));
}

#[test]
fn sheets_of_two_engines_or_sequences_are_not_joined() {
    day(&["05:00,,21,4,open,preparation,,,p
         ,,,17,open,preparation,,,q
         ,,,4,open,relief,,,r
         ,,,p,join,q,,,,,not-joinable
         ,,,p,join,r,,,,,not-joinable
         ,,,p,join,p,,,,,not-joinable
        "]);
}

#[test]
fn a_sheet_given_up_takes_no_more_answers_and_keeps_what_it_has() {
    let day = day(&["05:00,,21,4,open,preparation,,,p
         ,,,p,done,secured
         ,,,,abandon,,,,,,words-missing
         ,,,,abandon,,,,,Engine not wanted today
         ,,,,done,ashpan,,,,,sheet-closed
         ,,,,abandon,,,,,Again,sheet-closed
        "]);
    let sheet = day.ledger.sheets().next().unwrap();
    assert!(matches!(sheet.stage(), Stage::Abandoned(_)));
    assert!((0..96).any(|n| sheet.mark(n).is_some()));
}

#[test]
fn a_finished_sheet_takes_no_more_answers() {
    let day = day(&[
        TO_THE_FEEDS,
        TO_THE_REVIEW,
        "07:41,,11,p,done,clear-to-leave
         ,,,,done,off-shed
         ,,,,done,whistle,,,,,sheet-closed
        ",
    ]);
    assert!(matches!(day.ledger.sheets().next().unwrap().stage(), Stage::Finished(_)));
}

#[test]
fn a_new_sheet_of_the_same_sequence_ends_proofs_that_live_as_long_as_the_last() {
    let day = day(&[
        TO_THE_FEEDS,
        TO_THE_REVIEW,
        "07:41,,21,4,open,preparation,,,again
        ",
    ]);
    let fitness = day.fitness(4, "2026-05-02 07:42");
    assert_eq!(fitness.verdict, Verdict::NotFit);
    assert!(keys(&fitness).contains(&"needs-first"));
}

#[test]
fn a_dispensation_is_the_offices_has_words_and_an_end_and_holds_fitness_only() {
    let day = day(&[
        TO_THE_FEEDS,
        "07:00,,21,p,work,regulator-tight,5 s
         ,,21,4,dispense,step:smokebox-tight,2026-05-02,,,Shed only,not-in-grade
         ,,1,,dispense,step:smokebox-tight,2026-05-01,,,Shed only,day-past
         ,,1,,dispense,step:smokebox-tight,2026-05-02,,,,words-missing
         ,,1,,dispense,step:smokebox-tight,2026-05-02,,,Shed only: inspector told
         07:15,,11,p,work,running-brake,5 s
         07:30,,21,,work,level-final,5 s,,,but smokebox-tight
         ,,,,sign,fireman-signs,,,,,needs-first
         ,,,,done,smokebox-tight
         ,,,,sign,fireman-signs
         ,,11,,sign,driver-signs
         ,,1,,review,review,accepted
        ",
    ]);
    // What was waived has since been proven: nothing rests on the dispensation.
    assert_eq!(day.fitness(4, "2026-05-02 07:42").verdict, Verdict::Fit);
}

#[test]
fn a_note_is_for_whoever_has_the_engine_next() {
    let day = day(&["05:00,,21,4,note,,,,,,words-missing\n,,,,note,,,,,Left injector is slow to pick up\n"]);
    let note = day.ledger.handover(offshed_core::ident::EngineId(4)).unwrap();
    assert_eq!(note.words, "Left injector is slow to pick up");
}

#[test]
fn the_register_is_the_offices_and_does_not_fall_open_when_its_grades_run_out() {
    day(&["05:00,,21,,person,99,Nobody,,,,not-in-grade
         ,,,,grade,21,foreman,,,no end,not-in-grade
         ,,41,4,fitted,front-valve-seal,HV 1043
         ,,41,,person,99,Nobody,,,,not-in-grade
         ,,1,,grade,1,foreman,,,2026-05-01
         ,,21,,grade,21,foreman,,,no end,not-in-grade
         ,,77,,grade,77,foreman,,,no end,not-in-grade
         ,,1,,grade,1,foreman,,,2026-12-31
         ,,1,,grade,1,foreman,,,withdrawn
         ,,21,,grade,21,foreman,,,no end,not-in-grade
        "]);
}
