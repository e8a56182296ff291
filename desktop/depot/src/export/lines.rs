//! Entries in words and in columns: one line says who did what, when, to which engine and step, and whether it counts.

use std::collections::BTreeSet;

use offshed_core::entry::{Answer, Dispensed, Entry, Fact, Found, Review, What};
use offshed_core::ident::{EngineId, EntryRef, PersonId, SheetId, StepId};
use offshed_core::register::Register;
use offshed_core::sheet::{Contest, Sheet};
use offshed_core::stamp::Clock;
use offshed_core::units::Reading;
use offshed_core::words::{Arg, Names};
use serde::Serialize;

use super::proof::engine_of;
use crate::ids::Ids;
use crate::ledger::{Ledger, PackNames, grade_key};
use crate::packfile::PackFile;
use crate::views::{self, Moments};

/// One entry. What does not apply to it is left out.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct EntryLine {
    /// The entry: device and count.
    pub entry: String,
    /// When it was recorded, RFC 3339 local.
    pub recorded: String,
    /// When it was done, RFC 3339 local; the same where nothing else was said.
    pub done: String,
    /// The device doubted its clock.
    pub clock_doubted: bool,
    /// What the device is called.
    pub device: String,
    /// Who, by number.
    pub person: u16,
    /// Who, by name; "person 21" where there is none.
    pub person_name: String,
    /// The second person, by number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub with: Option<u16>,
    /// The second person, by name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub with_name: Option<String>,
    /// The engine.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub engine: Option<u16>,
    /// The sheet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sheet: Option<String>,
    /// The sequence, by id.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sequence: Option<String>,
    /// The step, by id.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub step: Option<String>,
    /// The step's title.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub step_title: Option<String>,
    /// What was done, by key: `answered`, `struck`, `defect-opened` ...
    pub act: &'static str,
    /// How a step was answered, by key: `done`, `reading`, `not-right` ...
    #[serde(skip_serializing_if = "Option::is_none")]
    pub answer: Option<&'static str>,
    /// A part of a procedure, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part: Option<u8>,
    /// A value, as a decimal number; the number found on a fitting as it stands there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<String>,
    /// The value's unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// How long a hold or a timed part took, seconds to a tenth.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub time_s: Option<String>,
    /// The last day of what was written until a day, ISO 8601.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub until: Option<String>,
    /// The entry it is about: struck out, restricted, cleared, joined.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub about: Option<String>,
    /// Free words of the person.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
    /// `counts`, `struck`, or why it is contested: `not-offered`, `unseen`, `arrived-after-signing`.
    pub standing: &'static str,
    /// All of it in words.
    pub told: String,
    /// What an answer says, without the step.
    #[serde(skip)]
    pub answered: String,
}

/// Makes lines of a ledger's entries.
pub struct Lines<'l> {
    ledger: &'l Ledger,
    struck: BTreeSet<EntryRef>,
    moments: Moments<'l>,
}

impl<'l> Lines<'l> {
    /// Lines of the entries of a ledger.
    pub fn new(ledger: &'l Ledger) -> Lines<'l> {
        let struck = ledger.entries().filter_map(|entry| match &entry.what {
            What::Struck { sheet, entry: struck, .. } => {
                (contest(ledger, *sheet, entry.at).is_none()).then_some(*struck)
            }
            _ => None,
        });
        Lines { ledger, struck: struck.collect(), moments: Moments::new(ledger.office.zone()) }
    }

    /// One entry's line.
    pub fn line(&self, entry: &Entry) -> EntryLine {
        let sheet = entry.sheet().and_then(|id| self.ledger.sheet(id));
        let file = sheet.map_or(self.ledger.office.adopted, |sheet| Some(sheet.pack));
        let file = file.and_then(|hash| self.ledger.pack(hash));
        let names = PackNames::new(self.ledger, file, entry.stamp);
        let teller = Teller { ledger: self.ledger, file, names };
        let mut line = EntryLine {
            entry: entry.at.to_string(),
            recorded: self.moments.rfc3339(entry.stamp),
            done: self.moments.rfc3339(entry.done_at()),
            clock_doubted: matches!(entry.clock, Clock::Doubted { .. }),
            device: teller.named(Arg::Device(entry.at.device)),
            person: entry.person.0,
            person_name: teller.person(entry.person),
            engine: engine_of(self.ledger, &entry.what).map(|id| id.0),
            sheet: entry.sheet().map(|id| id.to_string()),
            standing: self.standing(entry, sheet),
            ..EntryLine::default()
        };
        line.sequence = sheet.zip(file).map(|(sheet, file)| Ids::of(file).sequence_id(sheet.sequence));
        teller.fill(&mut line, &entry.what);
        line
    }

    fn standing(&self, entry: &Entry, sheet: Option<&Sheet>) -> &'static str {
        match sheet.and_then(|sheet| contest(self.ledger, sheet.id, entry.at)) {
            Some(Contest::NotOffered(_)) => "not-offered",
            _ if self.struck.contains(&entry.at) => "struck",
            Some(Contest::Unseen { .. }) => "unseen",
            Some(Contest::ArrivedAfterSigning { .. }) => "arrived-after-signing",
            None => "counts",
        }
    }
}

fn contest(ledger: &Ledger, sheet: SheetId, entry: EntryRef) -> Option<Contest> {
    ledger.sheet(sheet)?.contested().iter().find(|c| c.entry == entry).map(|c| c.contest)
}

/// Seconds with one digit after the point, of tenths.
pub(super) fn seconds(tenths: u32) -> String {
    format!("{}.{}", tenths / 10, tenths % 10)
}

/// A reading as number and unit.
pub(super) fn split(reading: Reading) -> (String, String) {
    split_text(&reading.to_string())
}

/// A reading in words as number and unit.
pub(super) fn split_text(text: &str) -> (String, String) {
    let (number, unit) = text.split_once(' ').unwrap_or((text, ""));
    (number.to_owned(), unit.to_owned())
}

/// Puts what an entry says into words.
struct Teller<'l> {
    ledger: &'l Ledger,
    file: Option<&'l PackFile>,
    names: PackNames<'l>,
}

impl Teller<'_> {
    fn named(&self, arg: Arg) -> String {
        let mut out = String::new();
        // Writing to a string does not fail.
        let _ = self.names.write(arg, &mut out);
        out
    }

    fn person(&self, id: PersonId) -> String {
        if id == PersonId(0) { "the device itself".to_owned() } else { self.named(Arg::Person(id)) }
    }

    fn engine(&self, id: EngineId) -> String {
        let name = self.ledger.office.engines.get(&id).map_or("", |card| card.name.as_str());
        if name.is_empty() { format!("No. {id}") } else { format!("No. {id} {name}") }
    }

    fn step(&self, line: &mut EntryLine, step: StepId) -> String {
        let title = self.named(Arg::Step(step));
        line.step = Some(self.file.map_or_else(|| step.to_string(), |file| Ids::of(file).step_id(step)));
        line.step_title = Some(title.clone());
        title
    }

    fn fill(&self, line: &mut EntryLine, what: &What) {
        let words = |line: &mut EntryLine, text: &str| line.words = (!text.is_empty()).then(|| text.to_owned());
        let (act, told) = match what {
            What::SheetOpened { engine, sequence, .. } => {
                let title = self.file.and_then(|file| {
                    let row = file.pack().sequence(*sequence)?;
                    Some(file.texts().get(row.text).to_owned())
                });
                let title = title.unwrap_or_else(|| format!("sequence {sequence}"));
                ("sheet-opened", format!("sheet opened: {title}, {}", self.engine(*engine)))
            }
            What::Answered { step, answer, with, .. } => {
                let title = self.step(line, *step);
                line.with = with.map(|id| id.0);
                line.with_name = with.map(|id| self.person(id));
                let told = self.answer(line, *step, answer);
                line.answered.clone_from(&told);
                let with = line.with_name.as_ref().map_or(String::new(), |name| format!(", with {name}"));
                ("answered", format!("{title}: {told}{with}"))
            }
            What::Struck { step, entry, reason, .. } => {
                let title = self.step(line, *step);
                line.about = Some(entry.to_string());
                words(line, reason);
                ("struck", format!("{title}: answer {entry} struck out: {reason}"))
            }
            What::Joined { from, .. } => {
                line.about = Some(from.to_string());
                ("joined", format!("sheet {from} folded into this one"))
            }
            What::Abandoned { reason, .. } => {
                words(line, reason);
                ("abandoned", format!("sheet given up: {reason}"))
            }
            What::HandedOver { words: text, .. } => {
                words(line, text);
                ("handed-over", format!("note for whoever has it next: {text}"))
            }
            What::Happened { event, words: text, .. } => {
                words(line, text);
                let colon = if text.is_empty() { "" } else { ": " };
                ("happened", format!("{}{colon}{text}", self.named(Arg::Event(*event))))
            }
            What::DefectOpened { step, grade, words: text, .. } => {
                words(line, text);
                let at = step.map(|step| format!("{}: ", self.step(line, step))).unwrap_or_default();
                ("defect-opened", format!("defect ({}): {at}{text}", grade_key(*grade)))
            }
            What::DefectRestricted { defect, words: text, until } => {
                (line.about, line.until) = (Some(defect.to_string()), Some(until.to_string()));
                words(line, text);
                ("defect-restricted", format!("{}: may leave through {until}: {text}", self.defect(*defect)))
            }
            What::DefectCleared { defect, grade, words: text } => {
                line.about = Some(defect.to_string());
                words(line, text);
                let grade = self.named(Arg::Grade(*grade));
                ("defect-cleared", format!("{}: cleared as {grade}: {text}", self.defect(*defect)))
            }
            What::Dispensed { what, words: text, until, .. } => {
                line.until = Some(until.to_string());
                words(line, text);
                let waived = match what {
                    Dispensed::Step(step) => self.step(line, *step),
                    Dispensed::Due(due) => self.named(Arg::Due(*due)),
                };
                ("dispensed", format!("{waived}: waived in writing through {until}: {text}"))
            }
            What::TagHung { .. } => ("tag-hung", "tag hung: nothing may be moved".to_owned()),
            What::TagLifted { .. } => ("tag-lifted", "tag lifted".to_owned()),
            What::Registered(fact) => ("registered", self.fact(line, fact)),
        };
        (line.act, line.told) = (act, told);
    }

    fn defect(&self, id: EntryRef) -> String {
        format!("defect {}", self.named(Arg::Defect(id)))
    }

    /// Fills in what an answer says, and puts it into words.
    fn answer(&self, line: &mut EntryLine, step: StepId, answer: &Answer) -> String {
        let (key, told) = match answer {
            Answer::Done => ("done", "done".to_owned()),
            Answer::NotRight { words } => {
                line.words = Some(words.to_string());
                ("not-right", format!("NOT RIGHT: {words}"))
            }
            Answer::Reading(reading) => ("reading", value(line, *reading)),
            Answer::Number(number) => {
                line.value = Some(number.to_string());
                ("number", format!("number {number}"))
            }
            Answer::Choice(choice) => ("choice", self.choice(line, step, *choice)),
            Answer::Began(reading) => {
                let at = reading.map(|reading| format!(" at {}", value(line, reading))).unwrap_or_default();
                ("began", format!("hold begun{at}"))
            }
            Answer::Ended { tenths, reading } => {
                line.time_s = Some(seconds(*tenths));
                let at = reading.map(|reading| format!(" at {}", value(line, reading))).unwrap_or_default();
                ("ended", format!("hold ended after {} s{at}", seconds(*tenths)))
            }
            Answer::Accepted(shown) => ("accepted", accepted(line, shown, answer_of(step, answer))),
            Answer::Part { part, found } => {
                line.part = Some(part.saturating_add(1));
                ("part", format!("part {}: {}", part.saturating_add(1), found_words(line, found)))
            }
            Answer::NotApplicable { reason } => {
                line.words = Some(reason.to_string());
                ("not-applicable", format!("not applicable: {reason}"))
            }
            Answer::Signed { pack, .. } => ("signed", format!("signed, under rules {pack}")),
            Answer::Reviewed { outcome, words, .. } => {
                line.words = (!words.is_empty()).then(|| words.to_string());
                let colon = if words.is_empty() { "" } else { ": " };
                ("reviewed", format!("reviewed: {}{colon}{words}", review(*outcome)))
            }
        };
        line.answer = Some(key);
        told
    }

    fn choice(&self, line: &mut EntryLine, step: StepId, choice: u8) -> String {
        use offshed_core::pack::rows::KindRow;
        line.value = Some(choice.saturating_add(1).to_string());
        let option = self.file.and_then(|file| {
            let pack = file.pack();
            let KindRow::Choice { options } = pack.step(step)?.kind else { return None };
            let text = pack.options(options).nth(usize::from(choice))?.text;
            Some(file.texts().get(text).to_owned())
        });
        option.unwrap_or_else(|| format!("option {}", choice.saturating_add(1)))
    }

    fn fact(&self, line: &mut EntryLine, fact: &Fact) -> String {
        let day = |until: &Option<offshed_core::stamp::Day>| {
            until.map_or("without end".to_owned(), |d| format!("through {d}"))
        };
        match fact {
            // The name as it is now: a name that was taken out stays out.
            Fact::Person { person, .. } => format!("person {person} entered"),
            Fact::Competence { person, grade, until, held } => {
                line.until = until.map(|day| day.to_string());
                let grade = self.named(Arg::Grade(*grade));
                let held = if *held { day(until) } else { "withdrawn".to_owned() };
                format!("{}: grade {grade}, {held}", self.person(*person))
            }
            Fact::Engine { engine, glass_mm, working, .. } => {
                let glass = if *glass_mm > 0 { format!(", glass {glass_mm} mm") } else { String::new() };
                let working = working.map(|reading| format!(", working pressure {reading}")).unwrap_or_default();
                format!("engine {} entered{glass}{working}", self.engine(*engine))
            }
            Fact::Fitted { fitting, number, .. } => {
                line.value = Some(number.to_string());
                format!("fitted: {}, number {number}", self.named(Arg::Fitting(*fitting)))
            }
            Fact::DueDone { due, on, days_before, .. } => {
                let before =
                    if *days_before == 0 { String::new() } else { format!(", {days_before} days in steam since then") };
                format!("{}: done on {on}{before}", self.named(Arg::Due(*due)))
            }
            Fact::DuePostponed { due, until, words, .. } => {
                (line.until, line.words) = (Some(until.to_string()), Some(words.to_string()));
                format!("{}: postponed through {until}: {words}", self.named(Arg::Due(*due)))
            }
            Fact::PackAdopted { pack } => format!("rules {pack} adopted"),
            Fact::LocalTime { .. } => "local time set".to_owned(),
            Fact::Turn { name, off_shed, .. } => {
                format!("booked for {name}, off shed {}", self.named(Arg::At(*off_shed)))
            }
            Fact::Device { device, name } => format!("device {device} is called {name}"),
            Fact::Boiler { .. } => "measures of the boiler entered".to_owned(),
            Fact::Road { road, name, .. } => format!("road {road} entered: {name}"),
            Fact::RoadSections { road, .. } => format!("sections of road {road} entered"),
            Fact::UsualRoad { road, .. } => {
                road.map_or("no usual road".to_owned(), |road| format!("usual road {road}"))
            }
            Fact::Product { product, .. } => format!("treatment entered: {}", self.named(Arg::Product(*product))),
            Fact::FeedWater { solids, temperature } => format!("feed water: {solids}, {temperature}"),
            Fact::Air { pascals } => format!("air at the place: {pascals} Pa"),
            Fact::DeviceKey { device, until, .. } => match until {
                None => format!("key of device {device} confirmed"),
                Some(at) => format!("key of device {device} withdrawn from {}", self.named(Arg::At(*at))),
            },
        }
    }
}

/// A reading noted in its columns, and in words.
fn value(line: &mut EntryLine, reading: Reading) -> String {
    let (number, unit) = split(reading);
    (line.value, line.unit) = (Some(number), Some(unit));
    reading.to_string()
}

/// An answer as an entry holds it, for those who put it into words.
fn answer_of(step: StepId, answer: &Answer) -> What {
    let sheet = EntryRef { device: offshed_core::ident::DeviceId::default(), seq: 0 };
    What::Answered { sheet, step, answer: answer.clone(), done_at: None, with: None, over: None }
}

fn accepted(line: &mut EntryLine, shown: &offshed_core::entry::Shown, what: What) -> String {
    use offshed_core::entry::Shown;
    match shown {
        Shown::Figure { result, .. } => drop(value(line, *result)),
        Shown::Date { last_day, .. } => line.until = last_day.map(|day| day.to_string()),
    }
    format!("accepted {}", views::computed(&what).unwrap_or_default())
}

fn found_words(line: &mut EntryLine, found: &Found) -> String {
    match found {
        Found::Seen => "seen".to_owned(),
        Found::NotRight { words } => {
            line.words = Some(words.to_string());
            format!("NOT RIGHT: {words}")
        }
        Found::Reading(reading) => value(line, *reading),
        Found::Time { tenths } => {
            line.time_s = Some(seconds(*tenths));
            format!("{} s", seconds(*tenths))
        }
        Found::Rose { reading, delivery } => format!("{}, delivery {delivery}", value(line, *reading)),
    }
}

/// A review's outcome in words.
pub(super) fn review(outcome: Review) -> &'static str {
    match outcome {
        Review::Accepted => "accepted",
        Review::SentBack => "SENT BACK",
        Review::Stopped => "ENGINE STOPPED",
    }
}
