//! One entry given again by the controls of the window, which are found by their labels as somebody would who hears them.

use offshed::controllers::crew::{CrewView, Place};
use offshed_core::entry::{Answer, Entry, Found, Review, What};
use offshed_core::ident::{EngineId, PersonId, SequenceId, SheetId, StepId, TextId};
use offshed_core::pack::rows::DefectGrade;
use offshed_depot::packfile::PackFile;

use crate::window::Bench;
use crate::window::hands::{type_keys, type_pin, type_reading};

/// The foreman's PIN on the office's device; everybody else's is set when it is first wanted.
const FOREMAN: (PersonId, &str) = (PersonId(1), "4711");
const PIN: &str = "2580";

/// Gives an entry; the window's clock stands at its moment.
pub fn give(bench: &Bench, entry: &Entry) {
    match &entry.what {
        What::SheetOpened { engine, sequence, .. } => {
            sign_on(bench, entry.person);
            at_engine(bench, *engine);
            bench.touch(&format!("Open {}", sequence_title(bench, *sequence)));
        }
        What::Answered { sheet, step, answer, with, .. } => {
            if !matches!(answer, Answer::Signed { .. } | Answer::Reviewed { .. }) {
                sign_on(bench, entry.person);
            }
            at_step(bench, *sheet, *step);
            if let Some(with) = with {
                named_second(bench, entry.person, *with);
            }
            answer_step(bench, answer, entry);
        }
        What::DefectOpened { sheet: Some(sheet), step: Some(step), grade, words, .. } => {
            sign_on(bench, entry.person);
            at_step(bench, *sheet, *step);
            bench.touch("Report something");
            bench.touch(match grade {
                DefectGrade::Stopping => "A defect: stopping",
                DefectGrade::Restricted => "A defect: restricted",
                DefectGrade::Note => "A defect: to be known",
            });
            own_words(bench, words);
        }
        other => beside(bench, entry.person, other),
    }
}

/// What is recorded of an engine beside its sheets' steps.
fn beside(bench: &Bench, person: PersonId, what: &What) {
    sign_on(bench, person);
    match what {
        What::Happened { engine, event, words: text, .. } => {
            at_engine(bench, *engine);
            bench.touch("Something happened");
            bench.touch(&words(bench, |file| file.pack().event(*event).expect("an event").text));
            own_words(bench, text);
        }
        What::HandedOver { engine, words } => {
            at_engine(bench, *engine);
            bench.touch("Leave a note");
            typed_words(bench, words);
        }
        What::TagHung { engine } => {
            at_engine(bench, *engine);
            bench.touch("Hang my tag");
        }
        What::Abandoned { sheet, reason } => {
            at_sheet(bench, *sheet);
            if !view(bench).all {
                bench.touch("All steps");
            }
            bench.touch("Give this sheet up");
            own_words(bench, reason);
        }
        other => panic!("no control gives {other:?}"),
    }
}

pub fn view(bench: &Bench) -> CrewView {
    bench.app.desks(|desks| desks.crew.view(desks.session.as_ref().expect("a folder")))
}

pub fn place(bench: &Bench) -> Place {
    bench.app.desks(|desks| desks.crew.place())
}

fn name(bench: &Bench, person: PersonId) -> String {
    bench.app.desks(|desks| {
        let ledger = desks.session.as_ref().expect("a folder").ledger();
        ledger.office.people.get(&person).expect("a person").name.clone()
    })
}

fn words(bench: &Bench, text: impl Fn(&PackFile) -> TextId) -> String {
    bench.app.desks(|desks| {
        let file = desks.session.as_ref().expect("a folder").ledger().adopted().expect("rules").clone();
        file.texts().get(text(&file)).to_owned()
    })
}

fn sequence_title(bench: &Bench, sequence: SequenceId) -> String {
    words(bench, |file| file.pack().sequence(sequence).expect("a sequence").text)
}

pub fn step_title(bench: &Bench, step: StepId) -> String {
    words(bench, |file| file.pack().step_title(step))
}

/// Signs on, where somebody else is or nobody.
pub fn sign_on(bench: &Bench, person: PersonId) {
    if bench.app.desks(|desks| desks.crew.person()) == Some(person) {
        return;
    }
    bench.touch(&bench.starting("Sign"));
    bench.touch(&name(bench, person));
    prove(bench, person);
    assert_eq!(bench.app.desks(|desks| desks.crew.person()), Some(person), "{:#?}", bench.labels());
}

/// Types the PIN where one is asked for: the first one twice.
fn prove(bench: &Bench, person: PersonId) {
    let pin = if person == FOREMAN.0 { FOREMAN.1 } else { PIN };
    for _ in 0..2 {
        if view(bench).ask.kind == "pin" {
            type_pin(bench, pin);
        }
    }
    assert_eq!(view(bench).ask.kind, "", "{:#?}", bench.labels());
}

/// The second person is named where that is all that is wanted, or after signing on anew where another one was.
fn named_second(bench: &Bench, person: PersonId, with: PersonId) {
    if bench.app.desks(|desks| desks.crew.hands().with) == Some(with) {
        return;
    }
    if bench.app.desks(|desks| desks.crew.hands().with).is_some() {
        bench.touch("Sign off");
        sign_on(bench, person);
    }
    bench.touch("Who is there with you?");
    bench.touch(&name(bench, with));
}

/// Back, as far as the engines.
fn to_engines(bench: &Bench) {
    while place(bench) != Place::Engines {
        bench.touch("Back");
    }
}

pub fn at_engine(bench: &Bench, engine: EngineId) {
    if place(bench) == Place::Engine(engine) {
        return;
    }
    to_engines(bench);
    let row = view(bench).engines.into_iter().find(|row| row.number == i32::from(engine.0)).expect("an engine");
    bench.touch(&format!("{}: {}", row.word, row.title));
}

pub fn at_sheet(bench: &Bench, sheet: SheetId) {
    if matches!(place(bench), Place::Sheet(up) | Place::Step(up, _) if up == sheet) {
        return;
    }
    let engine = bench.app.desks(|desks| {
        let ledger = desks.session.as_ref().expect("a folder").ledger();
        ledger.sheet(sheet).expect("a sheet").engine
    });
    at_engine(bench, engine);
    let row = view(bench).sheets.into_iter().find(|row| row.id == sheet.to_string()).expect("a sheet");
    bench.touch(&format!("{}: {}", row.word, row.title));
}

/// Goes to a step by the list of all steps.
pub fn at_step(bench: &Bench, sheet: SheetId, step: StepId) {
    if place(bench) == Place::Step(sheet, step) {
        return;
    }
    at_sheet(bench, sheet);
    if !view(bench).all {
        bench.touch("All steps");
    }
    bench.touch(&row_label(bench, &step_title(bench, step)));
    assert_eq!(place(bench), Place::Step(sheet, step));
}

/// The row of a step as the page has it: a state that ended within the minute may still stand there.
fn row_label(bench: &Bench, title: &str) -> String {
    let words = [
        "To do",
        "Under way",
        "Waits",
        "Done",
        "Done, with a warning",
        "Lapsed",
        "Not right",
        "Not applicable",
        "Not fitted",
    ];
    let row = bench
        .labels()
        .into_iter()
        .find(|label| label.split_once(": ").is_some_and(|(word, of)| of == title && words.contains(&word)));
    row.unwrap_or_else(|| panic!("no row \"{title}\" in {:#?}", bench.labels()))
}

fn answer_step(bench: &Bench, answer: &Answer, entry: &Entry) {
    match answer {
        Answer::Done => bench.touch("Done"),
        Answer::Accepted(_) => bench.touch("Accept"),
        Answer::Reading(reading) => {
            bench.touch("Enter the reading");
            type_reading(bench, *reading, "Record");
        }
        Answer::Number(number) => {
            bench.touch("Enter the number");
            type_keys(bench, number);
            bench.touch("Compare");
            bench.touch("Record");
        }
        Answer::Choice(n) => {
            let options = view(bench).form.options;
            bench.touch(&format!("Choose: {}", options.get(usize::from(*n)).expect("an option")));
        }
        Answer::Began(None) => bench.touch("Start"),
        Answer::Began(Some(reading)) => {
            bench.touch("Read, then start");
            type_reading(bench, *reading, "Start");
        }
        Answer::Ended { tenths, reading } => {
            pass(bench, *tenths, entry);
            bench.touch("End the hold");
            if let Some(reading) = reading {
                type_reading(bench, *reading, "Record");
            }
        }
        Answer::Part { part, found } => part_of_step(bench, *part, found, entry),
        Answer::NotRight { words } => say(bench, "Not right", words),
        Answer::NotApplicable { reason } => say(bench, "Not applicable", reason),
        Answer::Signed { .. } => signed(bench, "Sign", entry.person),
        Answer::Reviewed { outcome: Review::Accepted, .. } => signed(bench, "Accept the sheet", entry.person),
        Answer::Reviewed { .. } => panic!("the day has no such review"),
    }
}

/// The steady clock goes on; the wall clock stands at the entry's moment all the same, since the script's day gives each
/// hold the time it asks for and then a pace of its own.
fn pass(bench: &Bench, tenths: u32, entry: &Entry) {
    bench.clock.step(u64::from(tenths));
    bench.clock.set(entry.stamp);
    bench.app.tick();
}

fn part_of_step(bench: &Bench, part: u8, found: &Found, entry: &Entry) {
    let asked = view(bench).form.part;
    if part == 0 && !asked.starts_with("Part 1 ") {
        return again_from_the_first(bench, found);
    }
    assert!(asked.starts_with(&format!("Part {} of", part + 1)), "part {part} of {asked}");
    match found {
        Found::Seen => bench.touch("Seen"),
        Found::Reading(reading) | Found::Rose { reading, .. } => {
            bench.touch("Enter the reading");
            type_reading(bench, *reading, "Record");
        }
        Found::Time { tenths } => {
            bench.touch("Start the watch");
            pass(bench, *tenths, entry);
            bench.touch("Stop the watch");
            bench.touch("Record the time");
        }
        Found::NotRight { words } => say(bench, "Not right", words),
    }
}

fn again_from_the_first(bench: &Bench, found: &Found) {
    bench.touch("Start again from part 1");
    if let Found::Reading(reading) = found {
        type_reading(bench, *reading, "Record");
    }
}

/// Words of one's own, on a keyboard.
fn say(bench: &Bench, control: &str, words: &str) {
    bench.touch(control);
    own_words(bench, words);
}

fn own_words(bench: &Bench, words: &str) {
    bench.touch("Other words");
    typed_words(bench, words);
}

fn typed_words(bench: &Bench, words: &str) {
    i_slint_backend_testing::mock_elapsed_time(std::time::Duration::from_millis(20));
    type_keys(bench, words);
    bench.touch("Record");
}

fn signed(bench: &Bench, control: &str, person: PersonId) {
    bench.touch(control);
    bench.touch(&name(bench, person));
    prove(bench, person);
}

/// Who the window lets sign or review at the step that is up.
pub fn who_may(bench: &Bench, control: &str) -> Vec<u16> {
    bench.touch(control);
    let people = view(bench).ask.people.iter().map(|(number, ..)| *number).collect();
    bench.touch("Cancel");
    people
}
