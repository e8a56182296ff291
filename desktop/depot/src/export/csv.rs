//! Tables as comma-separated values (RFC 4180): a head line, CRLF after every record, quotes where they are needed.
//! Columns are only ever appended. A quantity of one fixed unit has it in its column's name; others in a column `unit`.

use std::io::Write;

use csv::{Terminator, Writer, WriterBuilder};

use super::lines::{EntryLine, split_text};
use crate::views::{DateView, DefectView, WaterLog};

/// Columns of a table of entries.
pub const ENTRIES: [&str; 23] = [
    "entry",
    "recorded",
    "done",
    "clock_doubted",
    "device",
    "person",
    "person_name",
    "with",
    "with_name",
    "engine",
    "sheet",
    "sequence",
    "step",
    "step_title",
    "act",
    "answer",
    "part",
    "value",
    "unit",
    "time_s",
    "until",
    "words",
    "standing",
];
/// Columns of a table of defects.
pub const DEFECTS: [&str; 9] =
    ["defect", "engine", "grade", "state", "reported", "reported_by", "found", "restriction", "cleared"];
/// Columns of a table of dates.
pub const DATES: [&str; 9] =
    ["engine", "name", "date", "what", "standing", "last_day", "days_left_d", "steam_days_left_d", "postponed_to"];
/// Columns of a water log.
pub const WATER: [&str; 16] = [
    "engine",
    "kind",
    "sheet",
    "step",
    "step_title",
    "done",
    "by",
    "value",
    "unit",
    "times",
    "standing",
    "low",
    "high",
    "steam_days_d",
    "since",
    "contested",
];

/// A writer of the standard's form.
pub(super) fn writer<W: Write>(out: W) -> Writer<W> {
    WriterBuilder::new().terminator(Terminator::CRLF).from_writer(out)
}

/// One entry as a record.
pub(super) fn entry(line: &EntryLine) -> [String; ENTRIES.len()] {
    let number = |number: Option<u16>| number.map(|n| n.to_string()).unwrap_or_default();
    let text = |text: &Option<String>| text.clone().unwrap_or_default();
    [
        line.entry.clone(),
        line.recorded.clone(),
        line.done.clone(),
        if line.clock_doubted { "yes" } else { "no" }.to_owned(),
        line.device.clone(),
        line.person.to_string(),
        line.person_name.clone(),
        number(line.with),
        text(&line.with_name),
        number(line.engine),
        text(&line.sheet),
        text(&line.sequence),
        text(&line.step),
        text(&line.step_title),
        line.act.to_owned(),
        line.answer.unwrap_or("").to_owned(),
        line.part.map(|part| part.to_string()).unwrap_or_default(),
        text(&line.value),
        text(&line.unit),
        text(&line.time_s),
        text(&line.until),
        // What has no words of its own is told in ours: a fact of the register, a choice.
        line.words.clone().unwrap_or_else(|| line.told.clone()),
        line.standing.to_owned(),
    ]
}

/// One defect as a record.
pub(super) fn defect(defect: &DefectView) -> [String; DEFECTS.len()] {
    [
        defect.defect.clone(),
        defect.engine.to_string(),
        defect.grade.to_owned(),
        if defect.open { "open" } else { "cleared" }.to_owned(),
        defect.at.clone(),
        defect.by.clone(),
        defect.words.clone(),
        defect.restriction.clone().unwrap_or_default(),
        defect.cleared.join("; "),
    ]
}

/// One date as a record.
pub(super) fn date(date: &DateView) -> [String; DATES.len()] {
    [
        date.engine.to_string(),
        date.name.clone(),
        date.date.clone(),
        date.what.clone(),
        date.standing.to_owned(),
        date.last_day.clone().unwrap_or_default(),
        date.days_left.map(|days| days.to_string()).unwrap_or_default(),
        date.steam_days_left.map(|days| days.to_string()).unwrap_or_default(),
        date.postponed_to.clone().unwrap_or_default(),
    ]
}

/// A water log as records, tests first, each newest first.
pub(super) fn water(log: &WaterLog) -> impl Iterator<Item = [String; WATER.len()]> + '_ {
    let limit = |limit: &Option<String>| limit.clone().unwrap_or_default();
    let tests = log.tests.iter().map(move |test| {
        let (value, unit) = split_text(&test.value);
        let days = test.steam_days.map(|days| days.to_string()).unwrap_or_default();
        let (by, sheet, contested) = (test.by.clone(), test.sheet.clone(), if test.contested { "yes" } else { "no" });
        let (step, title, done) = (test.step.clone(), test.title.clone(), test.at.clone());
        let engine = log.engine.to_string();
        let (kind, times, standing) = ("test".to_owned(), "1".to_owned(), test.standing.to_owned());
        let (low, high, since) = (limit(&test.low), limit(&test.high), limit(&test.since));
        [
            engine,
            kind,
            sheet,
            step,
            title,
            done,
            by,
            value,
            unit,
            times,
            standing,
            low,
            high,
            days,
            since,
            contested.to_owned(),
        ]
    });
    let treatments = log.treatments.iter().map(|done| {
        let (value, unit) = split_text(&done.value);
        let none = String::new;
        let (engine, kind, sheet, step) =
            (log.engine.to_string(), done.kind.to_owned(), done.sheet.clone(), done.step.clone());
        let (title, at, by, times) = (done.title.clone(), done.at.clone(), done.by.clone(), done.rounds.to_string());
        [engine, kind, sheet, step, title, at, by, value, unit, times, none(), none(), none(), none(), none(), none()]
    });
    tests.chain(treatments)
}
