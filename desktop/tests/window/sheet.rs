//! A sheet worked by the controls of the window, finding everything right.

use offshed::controllers::crew::Place;
use offshed_core::entry::{Answer, Found};
use offshed_core::units::Reading;
use offshed_depot::passing::{Passer, Passing};
use offshed_depot::shed;

use super::Bench;
use super::hands::{type_keys, type_pin, type_reading};

/// What somebody would answer who finds everything right at the step that is up.
pub fn passing(bench: &Bench) -> Option<Passing> {
    bench.app.desks(|desks| {
        let session = desks.session.as_ref()?;
        let Place::Step(sheet, step) = desks.crew.place() else { return None };
        let found = shed::scene(session.ledger(), sheet, |scene| {
            let row = scene.pack.step(step)?;
            Passer { scene, now: session.now() }.answer(scene.sheet?, &row)
        });
        found?
    })
}

/// The value that an answer carries.
pub fn reading(answer: &Answer) -> Reading {
    match answer {
        Answer::Reading(reading) | Answer::Began(Some(reading)) | Answer::Ended { reading: Some(reading), .. } => {
            *reading
        }
        Answer::Part { found: Found::Reading(reading) | Found::Rose { reading, .. }, .. } => *reading,
        other => panic!("no reading: {other:?}"),
    }
}

/// Signs in the name of somebody who has no PIN yet: the office agrees, and the PIN is given twice.
pub fn sign(bench: &Bench, control: &str, who: &str) {
    bench.touch(control);
    bench.touch(who);
    if bench.has(&format!("Who of the office lets {who} set a first PIN?")) {
        bench.touch("Moss Orrin");
        type_pin(bench, "4711");
        type_pin(bench, "2580");
        type_pin(bench, "2580");
    } else {
        type_pin(bench, "4711");
    }
}

/// Gives the step that is up its answer; whether there was a control to do so.
pub fn answer(bench: &Bench) -> bool {
    let title = bench.app.desks(|desks| desks.crew.view(desks.session.as_ref().expect("a folder")).step.title);
    for plain in ["Done", "Seen", "Accept"] {
        if bench.has(plain) {
            bench.touch(plain);
            return true;
        }
    }
    if bench.has("Who is there with you?") {
        bench.touch("Who is there with you?");
        bench.touch("Tam Ruddle");
    } else if bench.has("Enter the reading") {
        let answer = passing(bench).expect("a value").answer;
        bench.touch("Enter the reading");
        type_reading(bench, reading(&answer), "Record");
    } else if bench.has("Enter the number") {
        enter_number(bench);
    } else if bench.has("Start the watch") {
        let seconds = passing(bench).expect("a time").seconds;
        bench.touch("Start the watch");
        bench.clock.step(u64::from(seconds) * 10);
        bench.touch("Stop the watch");
        bench.touch("Record the time");
    } else if bench.has("Read, then start") || bench.has("Start") {
        hold(bench);
    } else if bench.has("Sign") {
        sign(bench, "Sign", if title.starts_with("Driver") { "Ede Marl" } else { "Corin Vey" });
    } else if bench.has("Accept the sheet") {
        sign(bench, "Accept the sheet", "Moss Orrin");
    } else if let Some(Passing { answer: Answer::Choice(n), .. }) = passing(bench) {
        let options = bench.app.desks(|desks| desks.crew.view(desks.session.as_ref().expect("a folder")).form.options);
        let Some(option) = options.get(usize::from(n)) else { return false };
        bench.touch(&format!("Choose: {option}"));
    } else {
        return false;
    }
    true
}

fn enter_number(bench: &Bench) {
    let Some(Passing { answer: Answer::Number(number), .. }) = passing(bench) else { panic!("a number") };
    bench.touch("Enter the number");
    type_keys(bench, &number);
    bench.touch("Compare");
    assert!(bench.starting("You read").ends_with(": the same"), "{}", bench.starting("You read"));
    bench.touch("Record");
}

fn hold(bench: &Bench) {
    let start = passing(bench).expect("a start").answer;
    if let Answer::Began(Some(from)) = start {
        bench.touch("Read, then start");
        type_reading(bench, from, "Start");
    } else {
        bench.touch("Start");
    }
    let Passing { answer, seconds } = passing(bench).expect("an end");
    assert!(!bench.has("End the hold"), "it can't be ended before its time");
    bench.clock.step(u64::from(seconds) * 10);
    bench.app.tick();
    bench.touch("End the hold");
    if let Answer::Ended { reading: Some(to), .. } = answer {
        type_reading(bench, to, "Record");
    }
}
