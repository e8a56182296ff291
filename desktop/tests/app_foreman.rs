//! The running foreman's desk and the exchange of records, touched by their labels: what is decided there gives the same
//! entries as the commands would, and nothing is offered that the rules refuse.

mod window;

use i_slint_backend_testing::mock_elapsed_time;
use offshed::screen::{Scheme, Screen};
use offshed_core::entry::{Answer, Entry, Fact, Review, What};
use offshed_core::ident::PersonId;
use offshed_core::stamp::Day as CalendarDay;
use offshed_depot::folder::Folder;
use offshed_depot::ids::Ids;
use offshed_depot::shed::Shed;
use slint::platform::Key;
use window::keys::{press, type_return};
use window::{Bench, Day, SIZES, Size};

/// The foreman of the demonstration and their PIN.
const FOREMAN: (&str, &str) = ("Moss Orrin", "4711");

fn bench(size: Size) -> Bench {
    let bench = Bench::unread(size, &Screen::default(), Day::Unreviewed);
    bench.touch("Read");
    bench.touch("Foreman");
    bench
}

fn prove(bench: &Bench, (name, pin): (&str, &str)) {
    bench.touch(name);
    for key in pin.chars() {
        bench.touch(&key.to_string());
    }
    bench.touch("OK");
}

fn entries(bench: &Bench) -> Vec<Entry> {
    bench.app.desks(|desks| desks.session.as_ref().unwrap().ledger().entries().cloned().collect())
}

/// The entry that came last.
fn newest(bench: &Bench, before: usize) -> Entry {
    let mut all = entries(bench);
    assert_eq!(all.len(), before + 1, "one entry");
    all.pop().unwrap()
}

/// What the same decision gives through the one write path that the commands use, on a copy of the folder.
fn by_command(bench: &Bench, decide: impl FnOnce(&mut Shed, offshed_core::stamp::Now) -> Entry) -> Entry {
    let temp = tempfile::tempdir().unwrap();
    let copy = temp.path().join("copy");
    window::copy(&bench.folder.path().join("shed"), &copy);
    let mut shed = Shed::open(&copy).unwrap();
    let now = bench.app.desks(|desks| desks.session.as_ref().unwrap().now());
    decide(&mut shed, now)
}

fn reviewed(bench: &Bench, outcome: Review, words: &str) -> Entry {
    by_command(bench, |shed, now| {
        let waiting = offshed_depot::review::waiting(shed.ledger(), now);
        let tamsin = waiting.iter().find(|one| shed.ledger().sheet(one.sheet).unwrap().engine.0 == 4).unwrap();
        let (sheet, step) = (tamsin.sheet, tamsin.review);
        let answer = shed.review(sheet, outcome, words.try_into().unwrap()).unwrap();
        let given = offshed_depot::shed::Given { sheet, step, answer, with: None, done_at: None };
        shed.answer(given, PersonId(1), now).unwrap()
    })
}

fn open_tamsin(bench: &Bench) {
    bench.touch(&bench.starting("No. 4 Tamsin \u{2013} Preparation"));
}

#[test]
fn a_sheet_is_accepted() {
    let bench = bench(SIZES[1]);
    assert!(bench.has("Sheets, 3"), "{:#?}", bench.labels());
    open_tamsin(&bench);
    let expected = reviewed(&bench, Review::Accepted, "");
    let before = entries(&bench).len();
    bench.touch("Accept the sheet");
    prove(&bench, FOREMAN);
    assert_eq!(newest(&bench, before), expected);
    assert!(bench.has("Accepted at 09:29 by Moss Orrin") && bench.has("Sheets, 2"), "{:#?}", bench.labels());
    assert!(bench.has("No. 4 Tamsin \u{2013} Preparation: Accepted"), "it is listed as reviewed");
}

/// The demonstration as it ends: everything is reviewed, and can be read again.
#[test]
fn a_reviewed_sheet_is_read_with_what_is_unusual_first() {
    let bench = Bench::new(SIZES[2], &Screen::default());
    bench.touch("Foreman");
    assert!(bench.starting("No sheet waits").contains("everybody has signed"));
    bench.touch("No. 11 Bramble Down \u{2013} Preparation: Accepted");
    let labels = bench.labels();
    let place = |start: &str| labels.iter().position(|label| label.starts_with(start)).expect(start);
    let unseen = "Contested: Axleboxes, trimmings, lubricators was answered on south and on north, neither having seen";
    assert!(place("Look at first") < place(unseen) && place(unseen) < place("Signed"), "{labels:?}");
    assert!(place("Signed") < place("Readings and figures"), "{labels:?}");
    // What is reviewed already is not offered again, and is shown as it stood when it was signed.
    assert!(!bench.has("Accept the sheet"), "{labels:?}");
    assert!(bench.starting("Accepted Sat 2 May 09:").contains("by Moss Orrin"));
    assert!(!labels.iter().any(|label| label.contains("lapsed")), "{labels:?}");
    bench.touch("Back");
    assert!(bench.has("No. 4 Tamsin \u{2013} Preparation: Accepted"));
}

/// The last review of the demonstration is struck out at the crew desk: the sheet waits again.
#[test]
fn a_sheet_whose_review_was_struck_out_waits_again() {
    let bench = Bench::new(SIZES[2], &Screen::default());
    bench.touch("Crew");
    bench.touch("Sign on");
    prove(&bench, FOREMAN);
    bench.touch(&bench.starting("FIT: No. 4"));
    bench.touch(&bench.starting("Open: Preparation"));
    bench.touch("All steps");
    bench.touch(&bench.starting("Done: Running foreman reviews"));
    bench.touch("Strike out this answer");
    bench.touch("Touched by mistake");
    while !bench.has("Foreman") {
        bench.touch("Back");
    }
    bench.touch("Foreman");
    assert!(bench.has("Sheets, 1"), "{:?}", bench.labels());
    bench.touch("No. 4 Tamsin \u{2013} Preparation: 1 thing to look at");
    assert!(bench.starting("Struck out: ").contains("Touched by mistake"));
    assert!(bench.has("Accept the sheet"), "{:?}", bench.labels());
}

#[test]
fn a_sheet_is_sent_back_with_words() {
    let bench = bench(SIZES[1]);
    open_tamsin(&bench);
    let expected = reviewed(&bench, Review::SentBack, "Readings do not agree");
    let before = entries(&bench).len();
    bench.touch("Send the sheet back");
    bench.touch("Readings do not agree");
    prove(&bench, FOREMAN);
    assert_eq!(newest(&bench, before), expected);
    assert!(bench.has("Sent back at 09:29 by Moss Orrin"));
}

#[test]
fn an_engine_is_stopped_with_own_words_from_the_keyboard() {
    let bench = bench(SIZES[2]);
    open_tamsin(&bench);
    let expected = reviewed(&bench, Review::Stopped, "Look at the brick arch");
    let before = entries(&bench).len();
    bench.touch("Stop the engine");
    bench.touch("Other words");
    mock_elapsed_time(std::time::Duration::from_millis(20));
    for key in "Look at the brick arch".chars() {
        bench.key(slint::SharedString::from(key.to_string()));
    }
    bench.key(slint::SharedString::from(Key::Return));
    prove(&bench, FOREMAN);
    assert_eq!(newest(&bench, before), expected);
    bench.touch(&bench.starting("Defects"));
    assert!(bench.starting("No. 4 Tamsin: STOPS THE ENGINE").contains("brick arch"));
}

#[test]
fn a_wrong_pin_decides_nothing_and_cancel_leads_back() {
    let bench = bench(SIZES[1]);
    open_tamsin(&bench);
    let before = entries(&bench).len();
    bench.touch("Accept the sheet");
    prove(&bench, ("Moss Orrin", "1234"));
    assert_eq!(entries(&bench).len(), before);
    assert!(bench.has("PIN of Moss Orrin"), "{:#?}", bench.labels());
    bench.touch("Cancel");
    assert!(bench.has("Accept the sheet") && entries(&bench).len() == before);
    mock_elapsed_time(std::time::Duration::from_millis(20));
    bench.key(slint::SharedString::from(Key::Escape));
    assert!(bench.has("Sheets, 3") && !bench.has("Accept the sheet"), "Escape leads back to the list");
}

#[test]
fn what_is_unusual_stands_first_with_its_evidence() {
    let bench = bench(SIZES[2]);
    let bramble = bench.starting("No. 11 Bramble Down \u{2013} Preparation");
    assert!(bramble.contains("things to look at"), "{bramble}");
    bench.touch(&bramble);
    assert!(bench.starting("Contested: ").contains("neither having seen the other"));
    assert!(bench.starting("Not right: ").contains("5.2 s"));
    assert!(bench.starting("Fireman signs: ").contains("Lowen Ash (Fireman)"));
    assert!(bench.starting("May decide: ").contains("Moss Orrin"));
    assert!(bench.starting("No. 17 Fennel").contains("Nothing unusual"));
}

/// A sheet that waits for a date can be decided by nobody: it is said, and no control is there.
#[test]
fn nothing_is_offered_that_is_refused() {
    let bench = bench(SIZES[1]);
    bench.app.desks(|desks| {
        let session = desks.session.as_mut().unwrap();
        let now = session.now();
        let words = "Hold: crack in the frame".try_into().unwrap();
        let grade = offshed_core::pack::rows::DefectGrade::Stopping;
        let what =
            What::DefectOpened { engine: offshed_core::ident::EngineId(4), sheet: None, step: None, grade, words };
        session.shed().unwrap().act(what, PersonId(1), now).unwrap();
    });
    bench.touch(&bench.starting("Defects"));
    bench.touch("Sheets, 3");
    open_tamsin(&bench);
    assert!(bench.starting("It may not be decided yet: ").contains("crack in the frame"));
    for control in ["Accept the sheet", "Send the sheet back", "Stop the engine"] {
        assert!(!bench.has(control), "{control}");
    }
    bench.touch("Back");
    bench.touch(&bench.starting("Defects"));
    // A stopping or a noted defect cannot be restricted: only the one that may is offered so.
    let restricts: Vec<String> = bench.labels().into_iter().filter(|label| label.starts_with("Restrict: ")).collect();
    assert!(restricts.iter().all(|label| label.contains("No. 11") || label.contains("No. 23")), "{restricts:?}");
}

#[test]
fn a_defect_is_restricted_through_a_day_and_put_right_in_a_grade() {
    let bench = bench(SIZES[2]);
    bench.touch(&bench.starting("Defects"));
    let before = entries(&bench).len();
    bench.touch(&bench.starting("Restrict: No. 11 Bramble Down"));
    bench.touch("By daylight only");
    bench.touch("Through tomorrow");
    prove(&bench, FOREMAN);
    let entry = newest(&bench, before);
    let tomorrow = CalendarDay::of("2026-05-03".parse().unwrap());
    assert!(
        matches!(&entry.what, What::DefectRestricted { words, until, .. }
            if words.as_str() == "By daylight only" && *until == tomorrow),
        "{entry:?}"
    );
    let before = entries(&bench).len();
    bench.touch(&bench.starting("Put right: No. 11 Bramble Down"));
    bench.touch("Fitter");
    bench.touch("Repaired and tried");
    bench.touch("Ivo Stane");
    // A first PIN needs somebody of the office.
    assert!(bench.has("Who of the office lets Ivo Stane set a first PIN?"), "{:#?}", bench.labels());
    prove(&bench, FOREMAN);
    for _ in 0..2 {
        for key in "2580".chars() {
            bench.touch(&key.to_string());
        }
        bench.touch("OK");
    }
    let entry = newest(&bench, before);
    let fitter = bench.app.desks(|desks| {
        let ledger = desks.session.as_ref().unwrap().ledger();
        Ids::of(ledger.adopted().unwrap()).grade("fitter").unwrap()
    });
    assert_eq!(entry.person, PersonId(41));
    assert!(matches!(&entry.what, What::DefectCleared { grade, .. } if *grade == fitter), "{entry:?}");
}

#[test]
fn dates_are_told_in_words_what_comes_first_first() {
    let bench = bench(SIZES[2]);
    bench.touch(&bench.starting("Dates"));
    let spoken: Vec<String> = bench.labels().into_iter().filter(|label| label.starts_with("No. ")).collect();
    let out: Vec<bool> = spoken.iter().map(|label| label.contains("OUT OF DATE")).collect();
    assert!(out[0] && out.is_sorted_by(|a, b| a >= b), "what is out of date stands first: {spoken:#?}");
    assert!(spoken.iter().any(|label| label.contains("days in steam left")), "{spoken:#?}");
}

#[test]
fn water_is_plotted_with_its_limit() {
    let bench = bench(SIZES[2]);
    bench.touch("Water");
    bench.touch("Water of No. 23");
    let plot = bench.starting("Dissolved solids by days in steam: ");
    assert!(plot.contains("limit 3500 mg/l"), "{plot}");
    assert!(bench.starting("The latest test, 3920 mg/l, is over 3500 mg/l.").contains("blow down"));
    assert!(bench.labels().iter().any(|label| label.starts_with("Conductivity: 5600 uS/cm")), "{:#?}", bench.labels());
    // What was put in stands on the axis, at its day in steam.
    bench.touch("Water of No. 4 Tamsin");
    let view = bench.app.desks(|desks| desks.foreman.view(desks.session.as_ref().unwrap()).water);
    let log = bench.app.desks(|desks| {
        let session = desks.session.as_ref().unwrap();
        offshed_depot::views::water(session.ledger(), offshed_core::ident::EngineId(4), session.now())
    });
    let since = log.since.unwrap().on;
    let put_in = log.treatments.iter().filter(|one| one.kind == "put-in" && one.since.as_deref() == Some(&*since));
    assert_eq!(view.plot.doses.matches('M').count(), put_in.count(), "{:?}", view.plot);
    // A blowdown is worked out as a fall of the glass, and is told as such.
    let blowdown = log.treatments.iter().position(|one| one.kind == "blowdown-worked-out" && one.rounds > 0);
    let told = blowdown.map(|n| view.treatments[n].words.clone()).unwrap_or("a fall of".to_owned());
    assert!(told.contains("a fall of"), "{told}");
}

/// Goes through every page of the desk and the exchange.
fn each_page(bench: &Bench, look: &dyn Fn(&str)) {
    look("list");
    bench.touch(&bench.starting("No. 11 Bramble Down \u{2013} Preparation"));
    look("sheet");
    bench.touch(&bench.starting("Unfold: "));
    look("unfolded");
    bench.touch("Send the sheet back");
    look("words");
    bench.touch("Other words");
    look("letters");
    bench.touch("Cancel");
    bench.touch("Send the sheet back");
    bench.touch("Defect");
    look("people");
    bench.touch("Moss Orrin");
    look("pin");
    bench.touch("Cancel");
    bench.touch("Back");
    bench.touch(&bench.starting("Defects"));
    look("defects");
    bench.touch(&bench.starting("Restrict: No. 11 Bramble Down"));
    bench.touch("By daylight only");
    look("until");
    bench.touch("Another day");
    look("day");
    bench.touch("Cancel");
    bench.touch(&bench.starting("Dates"));
    look("dates");
    bench.touch("Water");
    bench.touch("Water of No. 23");
    look("water");
    exchange(bench);
    look("exchange");
    bench.one("Folder").set_accessible_value(bench.folder.path().display().to_string());
    look("exchange with");
}

fn exchange(bench: &Bench) {
    bench.touch("More");
    bench.touch(&bench.starting("Exchange records"));
}

/// 9 mm: a bare fingertip; common practice, no source. With text of twice the usual size, too.
#[test]
fn controls_take_a_bare_hand() {
    for text in [100, 200] {
        for size in SIZES {
            let check = move || {
                let bench = Bench::unread(size, &Screen { text, ..Screen::default() }, Day::Unreviewed);
                bench.touch("Read");
                bench.touch("Foreman");
                each_page(&bench, &|page| {
                    bench.controls_take(9.0, size, page);
                    let cut = window::fits::cut(&bench);
                    assert!(cut.is_empty(), "{page} on {} at {text} %: {cut:#?}", size.name);
                });
            };
            std::thread::spawn(check).join().expect("a size");
        }
    }
}

#[test]
fn every_text_stands_out_as_it_is_drawn_in_every_scheme() {
    for size in [SIZES[0], SIZES[2]] {
        for scheme in Scheme::ALL {
            let check = move || {
                let bench = Bench::unread(size, &Screen { scheme, ..Screen::default() }, Day::Unreviewed);
                bench.touch("Read");
                bench.touch("Foreman");
                each_page(&bench, &|page| {
                    let count = bench.texts_stand_out(size, &format!("{page} in {}", scheme.key()));
                    assert!(count >= 3, "{page}: {count} texts were looked at");
                });
            };
            std::thread::spawn(check).join().expect("a scheme");
        }
    }
}

/// The tabulator, Return and typed digits do what touches do: a sheet is accepted and a defect restricted.
#[test]
fn the_desk_is_worked_by_keys_alone() {
    let bench = bench(SIZES[1]);
    mock_elapsed_time(std::time::Duration::from_millis(20));
    press(&bench, "No. 4 Tamsin \u{2013} Preparation: Nothing unusual");
    press(&bench, "Accept the sheet");
    press(&bench, FOREMAN.0);
    type_return(&bench, FOREMAN.1);
    assert!(bench.has("Accepted at 09:29 by Moss Orrin"), "{:#?}", bench.labels());
    press(&bench, &bench.starting("Defects"));
    press(&bench, &bench.starting("Restrict: No. 11 Bramble Down"));
    press(&bench, "By daylight only");
    press(&bench, "Today only");
    press(&bench, FOREMAN.0);
    type_return(&bench, FOREMAN.1);
    assert!(bench.has("Restricted at 09:29 by Moss Orrin"), "{:#?}", bench.labels());
    press(&bench, "Water");
    press(&bench, "Water of No. 23");
    press(&bench, "More");
    press(&bench, &bench.starting("Exchange records"));
    assert_eq!(bench.app.desks(|desks| desks.shell.desk()), "exchange");
    bench.key(slint::SharedString::from(Key::Escape));
    assert_eq!(bench.app.desks(|desks| desks.shell.desk()), "more");
}

fn wait(bench: &Bench) {
    for _ in 0..600 {
        bench.app.tick();
        if !bench.app.desks(|desks| desks.sync.runs()) {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    panic!("the exchange did not end");
}

#[test]
fn records_are_exchanged_with_a_folder_off_the_windows_thread() {
    let bench = bench(SIZES[1]);
    exchange(&bench);
    assert!(!bench.has("Exchange now"), "no folder is chosen yet");
    let stick = bench.folder.path().join("stick");
    std::fs::create_dir(&stick).unwrap();
    bench.one("Folder").set_accessible_value(stick.display().to_string());
    bench.touch("Exchange now");
    assert!(bench.app.desks(|desks| desks.session.as_ref().unwrap().writes()), "entries can be recorded all the while");
    assert!(bench.has("Exchanging") || !bench.app.desks(|desks| desks.sync.runs()), "{:#?}", bench.labels());
    // Looking goes on meanwhile, and nothing is lost when it is done.
    bench.touch("Board");
    wait(&bench);
    exchange(&bench);
    assert!(bench.starting("Sat 2 May 09:29").contains("Done; Went out: "), "{:#?}", bench.labels());
    assert!(stick.join("books").read_dir().unwrap().count() > 1);
    bench.touch("Exchange now");
    wait(&bench);
    assert!(bench.labels().iter().any(|label| label.contains("Nothing was missing on either side")));
    bench.one(&format!("Again: {}", stick.display()));
}

#[test]
fn an_exchange_with_another_folder_brings_its_entries() {
    let bench = bench(SIZES[1]);
    let other = bench.folder.path().join("other");
    drop(Folder::make(&other, "stick", "Etc/UTC").unwrap());
    exchange(&bench);
    bench.one("Folder").set_accessible_value(other.display().to_string());
    bench.touch("Exchange now");
    wait(&bench);
    let here = entries(&bench).len();
    assert_eq!(Shed::open(&other).unwrap().ledger().entries().count(), here);
}

#[test]
fn a_name_that_is_no_folder_and_the_own_one_are_refused_in_words() {
    let bench = bench(SIZES[1]);
    exchange(&bench);
    bench.one("Folder").set_accessible_value("/no/such/place");
    assert!(bench.starting("/no/such/place is no folder").contains("stick"));
    assert!(!bench.has("Exchange now"));
    let own = bench.folder.path().join("shed");
    bench.one("Folder").set_accessible_value(own.display().to_string());
    assert!(bench.starting("this is the folder").contains("choose another"));
    assert!(!bench.has("Exchange now"));
}

#[test]
fn contested_sheets_stand_on_the_exchange_page_with_what_to_do() {
    let bench = bench(SIZES[2]);
    exchange(&bench);
    let matter = bench.starting("No. 11 Bramble Down");
    assert!(matter.contains("contested") && matter.contains("done again"), "{matter}");
}

/// Written where a person can look at them.
#[test]
fn pictures() {
    for size in SIZES {
        for scheme in Scheme::ALL {
            let shown = move || {
                let bench = Bench::unread(size, &Screen { scheme, ..Screen::default() }, Day::Unreviewed);
                bench.touch("Read");
                bench.touch("Foreman");
                let picture = |page: &str| {
                    let pixels = bench.picture(&format!("foreman-{page}-{}-{}", size.name, scheme.key()));
                    let first = pixels.as_slice()[0];
                    let other = pixels.as_slice().iter().filter(|pixel| **pixel != first).count();
                    // A short list on a large screen is mostly paper.
                    assert!(other * 500 > pixels.as_slice().len(), "{page} {size:?} {scheme:?}");
                };
                picture("1-waiting");
                bench.touch(&bench.starting("No. 11 Bramble Down \u{2013} Preparation"));
                picture("2-sheet");
                bench.touch("Send the sheet back");
                picture("3-words");
                bench.touch("Defect");
                picture("4-people");
                bench.touch("Moss Orrin");
                picture("5-pin");
                bench.touch("Cancel");
                bench.touch("Back");
                bench.touch(&bench.starting("Defects"));
                picture("6-defects");
                bench.touch(&bench.starting("Dates"));
                picture("7-dates");
                bench.touch("Water");
                picture("8-water");
                bench.touch("Water of No. 23");
                picture("9-water-limit");
                exchange(&bench);
                picture("a-exchange");
            };
            std::thread::spawn(shown).join().expect("a page");
        }
    }
}

/// Two tablets that know the same, each with a data folder and a window of its own, on one clock.
fn two_tablets(shared: &std::path::Path) -> (Bench, Bench) {
    let screen = Screen { shared: shared.display().to_string(), ..Screen::default() };
    let first = Bench::unread(SIZES[1], &screen, Day::Unreviewed);
    let folder = tempfile::tempdir().unwrap();
    let (path, source) = (folder.path().join("shed"), folder.path().join("source"));
    window::copy(&first.folder.path().join("shed"), &source);
    drop(Folder::make(&path, "second tablet", "Etc/UTC").unwrap());
    Shed::open(&path).unwrap().sync(&mut Shed::open(&source).unwrap()).unwrap();
    let second = Bench::on(folder, SIZES[1], &screen, first.clock.clone());
    [&first, &second].into_iter().for_each(|bench| bench.touch("Read"));
    (first, second)
}

/// Lets both windows live until `done`, at the pace of their own timers and of the wall clock; answers how long it took,
/// in tenths of a second.
#[track_caller]
fn live(both: (&Bench, &Bench), most: u64, what: &str, done: impl Fn() -> bool) -> u64 {
    for tenths in 0..most {
        if done() {
            return tenths;
        }
        std::thread::sleep(std::time::Duration::from_millis(100));
        both.0.clock.step(1);
        // A window's timer goes once a second, and five times as often while an exchange goes on.
        for bench in [both.0, both.1] {
            let quick = bench.app.desks(|desks| desks.sync.runs());
            if tenths % if quick { 2 } else { 10 } == 0 {
                bench.app.tick();
            }
        }
    }
    panic!("{what}: not within {most} tenths of a second; {:#?} {:#?}", both.0.labels(), both.1.labels());
}

fn report_defect(bench: &Bench, engine: u16, words: &str) {
    bench.app.desks(|desks| {
        let session = desks.session.as_mut().unwrap();
        let now = session.now();
        let (engine, grade) = (offshed_core::ident::EngineId(engine), offshed_core::pack::rows::DefectGrade::Stopping);
        let what = What::DefectOpened { engine, sheet: None, step: None, grade, words: words.try_into().unwrap() };
        session.shed().unwrap().act(what, PersonId(1), now).unwrap();
    });
}

fn tells(bench: &Bench, start: &str, words: &str) -> bool {
    bench.labels().iter().any(|label| label.starts_with(start) && label.contains(words))
}

/// Two data folders and two windows; real records, real threads, a real folder between them.
#[test]
fn two_tablets_meet_over_a_shared_folder_by_themselves() {
    let between = tempfile::tempdir().unwrap();
    let shared = between.path().join("shared");
    std::fs::create_dir(&shared).unwrap();
    let (first, second) = two_tablets(&shared);
    let both = (&first, &second);
    [&first, &second].into_iter().for_each(|bench| bench.touch("Board"));
    assert!(second.starting("No. 4 Tamsin: ").contains("fit to leave") && !tells(&second, "No. 4", "Crack"));
    // Ten seconds is what two crews were promised.
    report_defect(&first, 4, "Crack in the frame");
    let there = live(both, 100, "there", || tells(&second, "No. 4 Tamsin: not fit to leave", "Crack in the frame"));
    report_defect(&second, 17, "Spring hanger broken");
    let back = live(both, 100, "back", || tells(&first, "No. 17 Fennel: not fit to leave", "Spring hanger broken"));
    println!("there in {there} tenths of a second, back in {back}");

    // The folder disappears: it is said where exchanges are told of, and nowhere else; recording goes on.
    let away = between.path().join("away");
    std::fs::rename(&shared, &away).unwrap();
    exchange(&first);
    live(both, 150, "gone", || tells(&first, "Shared folder", "is no folder"));
    let doubt = first.app.desks(|desks| desks.shell_view().doubt);
    assert_eq!(doubt, None, "it is no doubt about the records");
    report_defect(&first, 11, "Brake block worn through");
    // It comes back: nobody has to do anything.
    std::fs::rename(&away, &shared).unwrap();
    live(both, 200, "again", || tells(&second, "No. 11 Bramble Down: not fit to leave", "Brake block worn through"));
    live(both, 100, "told", || tells(&first, "Shared folder", "Nothing was missing on either side"));
    // Both hold the same.
    live(both, 100, "the same", || entries(&first).len() == entries(&second).len());
    assert_eq!(entries(&first), entries(&second));
    first.touch("No longer by itself");
    assert_eq!(Screen::read(&first.folder.path().join("shed")).unwrap().shared, "");
}

/// A share that is chosen on the page is kept in the settings, and what was exchanged is kept over a restart.
#[test]
fn a_shared_folder_is_chosen_on_the_page_and_exchanges_are_kept() {
    let bench = bench(SIZES[1]);
    let shared = bench.folder.path().join("shared");
    std::fs::create_dir(&shared).unwrap();
    exchange(&bench);
    bench.one("Folder").set_accessible_value(shared.display().to_string());
    bench.touch(&bench.starting("Exchange with it by itself"));
    assert_eq!(Screen::read(&bench.folder.path().join("shed")).unwrap().shared, shared.display().to_string());
    for _ in 0..100 {
        bench.clock.step(10);
        bench.app.tick();
        if tells(&bench, "Shared folder", "Nothing was missing") {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    assert!(tells(&bench, "Shared folder", "Nothing was missing on either side"), "{:#?}", bench.labels());
    assert!(shared.join("books").read_dir().unwrap().count() > 1);
    let Bench { app, clock, folder } = bench;
    drop(app);
    let again = Bench::on(folder, SIZES[1], &Screen::default(), clock);
    again.touch("Read");
    exchange(&again);
    assert!(again.has(&format!("Again: {}", shared.display())), "{:#?}", again.labels());
    assert!(again.starting("Sat 2 May 09:").contains("Went out: "), "{:#?}", again.labels());
}

/// A device that the office never met brings records: its key is shown, with what to do.
#[test]
fn keys_that_nobody_confirmed_are_shown_with_what_to_do() {
    let bench = bench(SIZES[2]);
    let other = bench.folder.path().join("other");
    drop(Folder::make(&other, "spare tablet", "Etc/UTC").unwrap());
    let mut spare = Shed::open(&other).unwrap();
    let (device, now) = (spare.folder().device(), bench.app.desks(|desks| desks.session.as_ref().unwrap().now()));
    let named = Fact::Device { device, name: "spare tablet".try_into().unwrap() };
    spare.act(What::Registered(named), PersonId(1), now).unwrap();
    let own = format!("{:#}", spare.folder().key().unwrap());
    drop(spare);
    exchange(&bench);
    assert!(!bench.labels().iter().any(|label| label.starts_with("Key not confirmed")), "{:#?}", bench.labels());
    bench.one("Folder").set_accessible_value(other.display().to_string());
    bench.touch("Exchange now");
    wait(&bench);
    let key = bench.starting("Key not confirmed: ");
    assert!(key.contains("offshed register key") && key.contains("Compare the digits"), "{key}");
    assert!(key.contains(&own[..16]) && key.contains("spare tablet"), "{key}, not {own}");
    assert!(bench.starting("This device signs with key ").len() >= "This device signs with key ".len() + 16);
}

/// Somebody whose grade ran out is listed as such, and can't be chosen.
#[test]
fn a_lapsed_grade_is_told_where_people_are_listed() {
    let bench = bench(SIZES[1]);
    bench.app.desks(|desks| {
        let session = desks.session.as_mut().unwrap();
        let (now, ids) = (session.now(), Ids::of(session.ledger().adopted().unwrap()));
        let grade = ids.grade("foreman").unwrap();
        let until = Some(CalendarDay::of("2026-04-30".parse().unwrap()));
        let shed = session.shed().unwrap();
        for fact in [
            Fact::Person { person: PersonId(90), name: "Edda Lorne".try_into().unwrap() },
            Fact::Competence { person: PersonId(90), grade, until, held: true },
        ] {
            shed.act(What::Registered(fact), PersonId(1), now).unwrap();
        }
    });
    bench.touch("Crew");
    bench.touch("Foreman");
    open_tamsin(&bench);
    bench.touch("Accept the sheet");
    assert!(bench.starting("May not, the grade lapsed: ").contains("Edda Lorne: "), "{:#?}", bench.labels());
    assert!(!bench.has("Edda Lorne"));
    bench.touch("Cancel");
    bench.touch("Crew");
    bench.touch("Sign on");
    let listed = bench.app.desks(|desks| {
        let view = desks.crew.view(desks.session.as_ref().unwrap());
        view.ask.people.iter().find(|(_, name, _)| name == "Edda Lorne").map(|(_, _, grades)| grades.clone())
    });
    assert_eq!(listed.unwrap(), "Running foreman (LAPSED, last day 2026-04-30)");
}

/// A decision is an answer like any other: it names what was seen.
#[test]
fn a_review_names_what_was_seen() {
    let bench = bench(SIZES[1]);
    open_tamsin(&bench);
    let before = entries(&bench).len();
    bench.touch("Accept the sheet");
    prove(&bench, FOREMAN);
    let entry = newest(&bench, before);
    let What::Answered { answer: Answer::Reviewed { outcome: Review::Accepted, seen, .. }, .. } = &entry.what else {
        panic!("{entry:?}")
    };
    assert!(!seen.is_empty());
}
