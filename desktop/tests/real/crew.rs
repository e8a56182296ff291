//! What a crew does next, by what stands on the page: also after the program was killed, wherever that was.

use offshed_core::entry::{Answer, Found};
use offshed_core::units::Reading;
use offshed_depot::passing::Passing;

use crate::twin::{ENGINE, Killed, Twin};

const DONE: Result<(), Killed> = Ok(());
const DRIVER: &str = "Jory Tamble";
const PIN: &str = "2580";
const FOREMAN: &str = "4711";

/// One thing more.
pub fn go_on(twin: &mut Twin) -> Result<(), Killed> {
    for first in ["Read", "Cancel"] {
        if twin.has(first) {
            return twin.touch(first);
        }
    }
    if twin.has("Sign on") {
        twin.touch("Sign on")?;
        twin.touch(DRIVER)?;
        return typed_pin(twin);
    }
    match twin.view().place {
        "engines" => {
            let row = twin.view().engines.into_iter().find(|row| row.number == i32::from(ENGINE.0));
            let row = row.expect("the engine");
            twin.touch(&format!("{}: {}", row.word, row.title))
        }
        "engine" => sheet(twin),
        _ => step(twin),
    }
}

fn sheet(twin: &mut Twin) -> Result<(), Killed> {
    let open = twin.view().sheets.into_iter().find(|row| row.word == "Open" && row.title.starts_with("Preparation"));
    match open {
        Some(row) => twin.touch(&format!("{}: {}", row.word, row.title)),
        None => twin.touch("Open Preparation"),
    }
}

fn step(twin: &mut Twin) -> Result<(), Killed> {
    if answer(twin)? {
        return twin.wait(100);
    }
    let next = twin.view().next;
    if next.is_empty() {
        // Steam takes its time.
        return twin.wait(6_000);
    }
    twin.touch(&format!("Next: {next}"))
}

/// Gives the step that is up its answer; whether there was a control to do so.
fn answer(twin: &mut Twin) -> Result<bool, Killed> {
    let kind = twin.view().form.kind.key();
    match kind {
        "check" => twin.touch("Done")?,
        "seen" => twin.touch("Seen")?,
        "accept" => twin.touch("Accept")?,
        "second" => {
            twin.touch("Who is there with you?")?;
            twin.touch("Tam Ruddle")?;
        }
        "reading" | "part-reading" | "held-reading" => {
            let wanted = reading(twin);
            twin.touch("Enter the reading")?;
            type_reading(twin, wanted, "Record")?;
        }
        "identity" => number(twin)?,
        "compare" => twin.touch("Record")?,
        "choice" => choose(twin)?,
        "begin" => begin(twin)?,
        "holding" => {
            let seconds = twin.passing().expect("an end").seconds;
            twin.wait(u64::from(seconds) * 10)?;
        }
        "held" => {
            let end = twin.passing().expect("an end").answer;
            twin.touch("End the hold")?;
            if let Answer::Ended { reading: Some(to), .. } = end {
                type_reading(twin, to, "Record")?;
            }
        }
        "watch" => {
            let seconds = twin.passing().expect("a time").seconds;
            twin.touch("Start the watch")?;
            twin.wait(u64::from(seconds) * 10)?;
            twin.touch("Stop the watch")?;
            twin.touch("Record the time")?;
        }
        "sign" => {
            let who = if twin.view().step.title.starts_with("Driver") { "Ede Marl" } else { "Corin Vey" };
            sign(twin, "Sign", who)?;
        }
        "review" => sign(twin, "Accept the sheet", "Moss Orrin")?,
        _ => return Ok(false),
    }
    Ok(true)
}

fn reading(twin: &Twin) -> Reading {
    match twin.passing().expect("a value").answer {
        Answer::Reading(reading) | Answer::Began(Some(reading)) | Answer::Ended { reading: Some(reading), .. } => {
            reading
        }
        Answer::Part { found: Found::Reading(reading) | Found::Rose { reading, .. }, .. } => reading,
        other => panic!("no reading: {other:?}"),
    }
}

fn choose(twin: &mut Twin) -> Result<(), Killed> {
    let Some(Passing { answer: Answer::Choice(n), .. }) = twin.passing() else { panic!("an option") };
    let options = twin.view().form.options;
    let option = options.get(usize::from(n)).expect("an option").clone();
    twin.touch(&format!("Choose: {option}"))
}

fn begin(twin: &mut Twin) -> Result<(), Killed> {
    match twin.passing().expect("a start").answer {
        Answer::Began(Some(from)) => {
            twin.touch("Read, then start")?;
            type_reading(twin, from, "Start")
        }
        _ => twin.touch("Start"),
    }
}

/// A reading by the pad, in its own unit.
fn type_reading(twin: &mut Twin, reading: Reading, confirm: &str) -> Result<(), Killed> {
    let text = reading.to_string();
    let (number, symbol) = text.split_once(' ').expect("a number and a unit");
    let unit = format!("Unit {symbol}");
    if twin.has(&unit) {
        twin.touch(&unit)?;
    }
    for key in number.chars() {
        let label = match key {
            '.' => "Point".to_owned(),
            '-' => "Minus".to_owned(),
            key => key.to_string(),
        };
        twin.touch(&label)?;
    }
    twin.touch(confirm)
}

/// The number on a fitting, by keyboard.
fn number(twin: &mut Twin) -> Result<(), Killed> {
    let Some(Passing { answer: Answer::Number(number), .. }) = twin.passing() else { panic!("a number") };
    twin.touch("Enter the number")?;
    for key in number.chars() {
        let name = if key == ' ' { "space".to_owned() } else { key.to_string() };
        twin.key(&key.to_string(), &name)?;
    }
    twin.touch("Compare")
}

/// A PIN by keyboard, where one is asked for; the first one twice.
fn typed_pin(twin: &mut Twin) -> Result<(), Killed> {
    while twin.view().ask.kind == "pin" {
        let pin = if twin.view().ask.title.ends_with("Moss Orrin") { FOREMAN } else { PIN };
        for key in pin.chars() {
            twin.key(&key.to_string(), &key.to_string())?;
        }
        twin.key("\n", "Return")?;
    }
    DONE
}

/// Signs; the office agrees to a first PIN.
fn sign(twin: &mut Twin, control: &str, who: &str) -> Result<(), Killed> {
    twin.touch(control)?;
    twin.touch(who)?;
    if twin.has(&format!("Who of the office lets {who} set a first PIN?")) {
        twin.touch("Moss Orrin")?;
    }
    typed_pin(twin)
}
