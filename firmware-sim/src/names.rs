//! Names of things for sentences: the pack's words by page, the register's people, local time.

use core::fmt::{self, Write};

use chrono::Timelike;
use offshed_core::entry::{Answer, Found, What};
use offshed_core::ident::{EntryRef, PersonId, TextId};
use offshed_core::pack::{Pack, Texts};
use offshed_core::register::Register;
use offshed_core::stamp::Stamp;
use offshed_core::words::{Arg, Names};

use crate::hand::Records;
use crate::roster::Roster;

/// Writes a text of a pack, page by page; answers whether there was one.
///
/// # Errors
/// When the writer fails.
pub fn put_text<T: Texts + ?Sized>(texts: &T, id: TextId, out: &mut dyn Write) -> Result<bool, fmt::Error> {
    let mut at = 0;
    loop {
        let mut page = [0; 64];
        let read = texts.read(id, at, &mut page);
        let bytes = page.get(..read).unwrap_or(&[]);
        let whole = match core::str::from_utf8(bytes) {
            Ok(text) => text,
            // The page ends inside a character: what is before it is sound.
            Err(cut) => bytes.get(..cut.valid_up_to()).and_then(|b| core::str::from_utf8(b).ok()).unwrap_or(""),
        };
        if whole.is_empty() {
            return Ok(at > 0);
        }
        out.write_str(whole)?;
        at += whole.len();
    }
}

/// A moment in local time: without its date on the day of `now`.
#[derive(Clone, Copy)]
pub struct Clocked<'a> {
    /// The register, for local time.
    pub roster: &'a Roster,
    /// The moment.
    pub at: Stamp,
    /// Now.
    pub now: Stamp,
}

impl fmt::Display for Clocked<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let zone = self.roster.zone();
        let local = zone.local(self.at);
        if zone.day(self.now) != local.date() {
            write!(f, "{} ", local.date())?;
        }
        write!(f, "{:02}:{:02}", local.hour(), local.minute())
    }
}

/// A text of a pack, for sentences.
#[derive(Clone, Copy)]
pub struct Wording<'a, T: Texts + ?Sized> {
    /// The words.
    pub texts: &'a T,
    /// Which.
    pub id: TextId,
}

impl<T: Texts + ?Sized> fmt::Display for Wording<'_, T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        put_text(self.texts, self.id, f).map(|_| ())
    }
}

/// A person's name, or their number.
#[derive(Clone, Copy)]
pub struct Person<'a> {
    /// The register.
    pub roster: &'a Roster,
    /// Who.
    pub id: PersonId,
}

impl fmt::Display for Person<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.roster.person_name(self.id) {
            Some(name) if !name.is_empty() => f.write_str(name),
            _ => write!(f, "person {}", self.id),
        }
    }
}

/// Writes names in a pack's own words.
pub struct HandNames<'a, T: Texts + ?Sized, R: Records> {
    /// The rules.
    pub pack: &'a Pack<'a>,
    /// Their words.
    pub texts: &'a T,
    /// The register.
    pub roster: &'a Roster,
    /// What was recorded: the words of defects.
    pub records: &'a R,
    /// Now.
    pub now: Stamp,
}

impl<T: Texts + ?Sized, R: Records> HandNames<'_, T, R> {
    fn named(&self, id: TextId, kind: &str, number: u16, out: &mut dyn Write) -> fmt::Result {
        if put_text(self.texts, id, out)? { Ok(()) } else { write!(out, "{kind} {number}") }
    }

    /// A defect in the words it was reported with, after the step it was found at.
    fn defect(&self, id: EntryRef, out: &mut dyn Write) -> fmt::Result {
        let mut done = Ok(false);
        self.records.find(id, &mut |entry| done = self.reported(&entry.what, out));
        match done {
            Ok(true) => Ok(()),
            Ok(false) => write!(out, "defect {}", id.seq),
            Err(error) => Err(error),
        }
    }

    /// Whether there was anything to write.
    fn reported(&self, what: &What, out: &mut dyn Write) -> Result<bool, fmt::Error> {
        let (step, words) = match what {
            What::DefectOpened { step, words, .. } => (*step, words.as_str()),
            What::Happened { words, .. } => (None, words.as_str()),
            What::Answered { step, answer, .. } => (Some(*step), answer_words(answer)),
            _ => return Ok(false),
        };
        let title = step.map_or(TextId::NONE, |step| self.pack.step_title(step));
        let titled = put_text(self.texts, title, out)?;
        match (titled, words.is_empty()) {
            (_, true) => Ok(titled),
            (true, false) => write!(out, ": \"{words}\"").map(|()| true),
            (false, false) => write!(out, "\"{words}\"").map(|()| true),
        }
    }
}

/// The words of an answer that opened a defect by itself.
fn answer_words(answer: &Answer) -> &str {
    match answer {
        Answer::NotRight { words } | Answer::Reviewed { words, .. } => words,
        Answer::Part { found: Found::NotRight { words }, .. } => words,
        Answer::Number(number) => number,
        _ => "",
    }
}

impl<T: Texts + ?Sized, R: Records> Names for HandNames<'_, T, R> {
    fn write(&self, arg: Arg, out: &mut dyn Write) -> fmt::Result {
        let pack = self.pack;
        match arg {
            Arg::Step(id) => self.named(pack.step_title(id), "step", id.0, out),
            Arg::Grade(id) => self.named(pack.grade_name(id), "grade", id.0.into(), out),
            Arg::Due(id) => self.named(pack.due_name(id), "date", id.0.into(), out),
            Arg::State(id) => self.named(pack.state_name(id), "state", id.0.into(), out),
            Arg::Fitting(id) => self.named(pack.fitting_name(id), "fitting", id.0.into(), out),
            Arg::Feature(id) => self.named(pack.feature_name(id), "feature", id.0.into(), out),
            Arg::Event(id) => self.named(pack.event(id).map_or(TextId::NONE, |e| e.text), "event", id.0.into(), out),
            Arg::Product(id) => self.named(pack.product_name(id), "product", id.0.into(), out),
            Arg::Reading(reading) => write!(out, "{reading}"),
            Arg::At(at) => write!(out, "{}", Clocked { roster: self.roster, at, now: self.now }),
            Arg::Day(day) => write!(out, "{day}"),
            Arg::Person(id) => write!(out, "{}", Person { roster: self.roster, id }),
            Arg::Defect(id) => self.defect(id, out),
            Arg::Device(id) => write!(out, "device {id}"),
            Arg::Number(_) | Arg::Tenths(_) | Arg::Word(_) | Arg::VoidedBy(_) => Err(fmt::Error),
        }
    }
}
