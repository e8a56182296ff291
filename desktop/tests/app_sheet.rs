//! Whole sheets worked through the controls of the window, as a crew does: a preparation until the engine is fit, and a
//! water test by keys alone.

mod window;

use offshed::screen::Screen;
use offshed_core::fitness::Verdict;
use offshed_core::ident::EngineId;
use offshed_core::sheet::Stage;
use offshed_depot::shed;
use window::keys::{press, type_return};
use window::sheet::{answer, passing, reading, sign};
use window::{Bench, Day, SIZES};

const ENGINE: EngineId = EngineId(4);
/// More touches than any sheet needs.
const MOST: usize = 600;

fn verdict(bench: &Bench) -> Verdict {
    bench.app.desks(|desks| {
        let session = desks.session.as_ref().expect("a folder");
        session.ledger().fitness(ENGINE, session.now()).verdict
    })
}

#[test]
fn a_crew_prepares_an_engine() {
    let bench = Bench::night(SIZES[2], &Screen::default());
    assert_eq!(verdict(&bench), Verdict::NotFit);
    bench.touch("Crew");
    bench.touch("Sign on");
    bench.touch("Jory Tamble");
    bench.touch(&bench.starting("NOT FIT: No. 4"));
    bench.touch("Open Preparation");
    let mut answered = 0;
    for _ in 0..MOST {
        if verdict(&bench) == Verdict::Fit {
            break;
        }
        if answer(&bench) {
            answered += 1;
            assert!(!bench.labels().iter().any(|label| label.contains("refused")));
            bench.clock.step(100);
        } else if let Some(next) = bench.labels().into_iter().find(|label| label.starts_with("Next: ")) {
            bench.touch(&next);
        } else {
            // Steam takes its time.
            bench.clock.step(6_000);
        }
        bench.app.tick();
    }
    bench.picture("sheet-worked");
    assert_eq!(verdict(&bench), Verdict::Fit, "after {answered} answers: {:#?}", bench.labels());
    assert!(answered > 100, "{answered}");
}

/// How many entries are durable in the folder.
fn written(bench: &Bench) -> usize {
    shed::look(&bench.folder.path().join("shed")).expect("a folder").0.entries().count()
}

fn signed_on_at(engine: &str) -> Bench {
    let bench = Bench::new(SIZES[1], &Screen::default());
    bench.touch("Crew");
    bench.touch("Sign on");
    bench.touch("Jory Tamble");
    bench.touch(engine);
    bench
}

#[test]
fn a_tag_comes_off_by_its_own_persons_pin_alone() {
    let bench = signed_on_at("FIT: No. 4 Tamsin");
    assert!(!bench.has("Take a tag off"), "none hangs there");
    bench.touch("Hang my tag");
    assert!(bench.starting("Tag of Jory Tamble, since 09:29").ends_with("nothing may be moved"));
    let board = |bench: &Bench| {
        bench.app.desks(|desks| {
            let session = desks.session.as_ref().expect("a folder");
            session.ledger().fitness(ENGINE, session.now()).verdict
        })
    };
    assert_eq!(board(&bench), Verdict::NotFit);
    let before = written(&bench);
    bench.touch("Hang my tag");
    assert!(bench.has("your tag hangs there already"));
    assert_eq!(written(&bench), before);
    // Somebody else is signed on: the tag is still Jory's.
    bench.touch("Sign off");
    bench.touch("Take a tag off");
    assert!(!bench.has("Corin Vey") && bench.has("Jory Tamble"), "only who hung one may be chosen");
    bench.touch("Cancel");
    sign(&bench, "Take a tag off", "Jory Tamble");
    assert_eq!(written(&bench), before + 1);
    assert!(!bench.labels().iter().any(|label| label.starts_with("Tag of")), "{:#?}", bench.labels());
    assert_ne!(board(&bench), Verdict::NotFit);
}

#[test]
fn what_happened_takes_its_proofs_away() {
    let bench = signed_on_at("FIT: No. 4 Tamsin");
    let before = written(&bench);
    bench.touch("Something happened");
    bench.touch("Low water: level lost or a plug dropped");
    bench.touch("Seen by me");
    assert_eq!(written(&bench), before + 1);
    bench.touch("Back");
    // By the practice pack: everything proven is void, and a stopping defect is open.
    assert!(bench.has("NOT FIT: No. 4 Tamsin"), "{:#?}", bench.labels());
}

#[test]
fn a_note_is_left_and_stands_at_the_engine_and_on_the_board() {
    let bench = signed_on_at("FIT: No. 4 Tamsin");
    bench.touch("Leave a note");
    for key in ["B", "A", "N", "K", "E", "D"] {
        i_slint_backend_testing::mock_elapsed_time(std::time::Duration::from_millis(20));
        bench.key(key);
    }
    bench.touch("Record");
    assert!(bench.has("Handover: BANKED (Jory Tamble, 09:29)"), "{:#?}", bench.labels());
    bench.touch("Board");
    let card = bench.app.desks(|desks| {
        let session = desks.session.as_ref().expect("a folder");
        desks.board.view(session.ledger(), session.now()).cards.into_iter().find(|card| card.engine == 4)
    });
    assert!(card.expect("its card").notes.contains("Handover: BANKED"));
}

#[test]
fn a_sheet_is_given_up_with_a_reason_and_stays_readable() {
    let bench = signed_on_at("NOT FIT: No. 23");
    let sheet = bench.starting("Open: Preparation");
    bench.touch(&sheet);
    assert!(!bench.has("Give this sheet up"), "it does not stand beside what is to be done now");
    bench.touch("All steps");
    bench.touch("Give this sheet up");
    let before = written(&bench);
    bench.touch("Opened by mistake");
    assert_eq!(written(&bench), before + 1);
    bench.touch(&bench.starting("Given up: Preparation"));
    bench.touch("All steps");
    assert!(!bench.has("Give this sheet up"), "{:#?}", bench.labels());
    assert!(bench.has("The sheet takes no more answers.") || bench.labels().len() > 20);
}

#[test]
fn nobody_records_anything_unnamed() {
    let bench = Bench::new(SIZES[1], &Screen::default());
    bench.touch("Crew");
    bench.touch("FIT: No. 4 Tamsin");
    let before = written(&bench);
    for control in ["Something happened", "Leave a note", "Hang my tag"] {
        bench.touch(control);
        assert!(bench.has("Who are you?"), "{control}");
        bench.touch("Cancel");
    }
    assert_eq!(written(&bench), before);
}

/// The board stands where everybody passes: nobody signs on there, and nothing is written from it.
#[test]
fn nothing_on_the_board_writes() {
    let bench = Bench::new(SIZES[2], &Screen::default());
    bench.touch("Board");
    let before = written(&bench);
    for label in bench.labels().into_iter().filter(|label| label.starts_with("No. ")) {
        bench.touch(&label);
        assert!(bench.has(&label), "{label} opens where it is");
    }
    assert_eq!(written(&bench), before);
    assert_eq!(bench.controls().len(), 5 + 4, "five engines and the four desks, and nothing else to touch");
}

#[test]
fn without_rules_the_low_water_card_says_that_they_have_none() {
    window::backend();
    let temp = tempfile::tempdir().expect("a folder");
    let path = temp.path().join("shed");
    drop(offshed_depot::folder::Folder::make(&path, "tablet", "Etc/UTC").expect("a folder"));
    let app = offshed::init(&path, None).expect("a window");
    app.desks(|desks| {
        let session = desks.session.as_mut().expect("a folder");
        desks.crew.touch(session, offshed::controllers::crew::Touch::LowWater);
        let ask = desks.crew.view(session).ask;
        assert!(ask.note.starts_with("The railway's own approved instruction belongs here"), "{}", ask.note);
        assert!(ask.origin.contains("The office writes"), "{}", ask.origin);
        assert!(!ask.note.to_lowercase().contains("feed") && !ask.note.to_lowercase().contains("inject"));
    });
}

/// What a keyboard does at the step that is up; whether that was anything.
fn answer_by_keys(bench: &Bench) -> bool {
    let view = bench.app.desks(|desks| desks.crew.view(desks.session.as_ref().expect("a folder")));
    match view.form.kind.key() {
        "check" => press(bench, "Done"),
        "accept" => press(bench, "Accept"),
        "reading" => {
            let text = reading(&passing(bench).expect("a value").answer).to_string();
            press(bench, "Enter the reading");
            type_return(bench, text.split(' ').next().expect("a number"));
        }
        "sign" => {
            press(bench, "Sign");
            press(bench, "Corin Vey");
            press(bench, "Moss Orrin");
            for pin in ["4711", "2580", "2580"] {
                type_return(bench, pin);
            }
        }
        _ => return false,
    }
    true
}

/// On a ten-inch tablet with a keyboard, where the lists are longer than the screen: no touch at all.
#[test]
fn a_water_test_is_done_by_keys_alone() {
    let bench = Bench::unread(SIZES[1], &Screen::default(), Day::Night);
    for label in ["Read", "Crew", "Sign on", "Corin Vey"] {
        press(&bench, label);
    }
    let engine = bench.starting("NOT FIT: No. 30");
    press(&bench, &engine);
    press(&bench, "Open Water test");
    let sheet = |bench: &Bench| {
        bench.app.desks(|desks| {
            let session = desks.session.as_ref().expect("a folder");
            let last = session.ledger().sheets().filter(|s| s.engine == EngineId(30)).max_by_key(|s| s.opened);
            last.map(offshed_core::sheet::Sheet::stage)
        })
    };
    assert_eq!(sheet(&bench), Some(Stage::Open));
    let mut answered = 0;
    for _ in 0..60 {
        if answer_by_keys(&bench) {
            answered += 1;
        } else if let Some(next) = bench.labels().into_iter().find(|label| label.starts_with("Next: ")) {
            press(&bench, &next);
        } else {
            break;
        }
        bench.clock.step(300);
        bench.app.tick();
    }
    assert!(answered >= 9, "{answered}: {:#?}", bench.labels());
    assert!(bench.starting("State: Done").contains("Corin Vey"), "{:#?}", bench.labels());
    bench.key(slint::SharedString::from(slint::platform::Key::Escape));
    bench.key(slint::SharedString::from(slint::platform::Key::Escape));
    assert_eq!(bench.app.desks(|desks| desks.crew.place()), offshed::controllers::crew::Place::Engine(EngineId(30)));
}
