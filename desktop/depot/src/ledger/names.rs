//! Names of things for sentences: a pack's words, the register's people, local time.

use std::fmt::{self, Write};

use offshed_core::ident::{EntryRef, TextId};
use offshed_core::pack::rows::DefectGrade;
use offshed_core::pack::{Pack, SliceTexts};
use offshed_core::register::Register;
use offshed_core::stamp::Stamp;
use offshed_core::words::{Arg, Names};

use super::Ledger;
use crate::packfile::PackFile;

/// Writes names in a pack's own words.
pub struct PackNames<'a> {
    ledger: &'a Ledger,
    pack: Option<(Pack<'a>, SliceTexts<'a>)>,
    today: Option<Stamp>,
}

impl<'a> PackNames<'a> {
    /// Names under a pack; moments on the day of `now` are written without their date.
    pub fn new(ledger: &'a Ledger, pack: Option<&'a PackFile>, now: Stamp) -> PackNames<'a> {
        let pack = pack.map(|file| (file.pack(), file.texts()));
        PackNames { ledger, pack, today: Some(now) }
    }

    /// A text of the pack.
    pub fn text(&self, id: TextId) -> &'a str {
        self.pack.as_ref().map_or("", |(_, texts)| texts.get(id))
    }

    fn named(&self, find: impl Fn(&Pack<'a>) -> TextId, kind: &str, number: u16, out: &mut dyn Write) -> fmt::Result {
        let text = self.pack.as_ref().map_or("", |(pack, texts)| texts.get(find(pack)));
        if text.is_empty() { write!(out, "{kind} {number}") } else { out.write_str(text) }
    }

    fn time(&self, at: Stamp, out: &mut dyn Write) -> fmt::Result {
        let zone = self.ledger.office.zone();
        let local = zone.local(at);
        let same_day = self.today.is_some_and(|now| zone.day(now) == local.date());
        if same_day {
            write!(out, "{}", local.format("%H:%M"))
        } else {
            write!(out, "{}", local.format("%Y-%m-%d %H:%M"))
        }
    }

    fn defect(&self, id: EntryRef, out: &mut dyn Write) -> fmt::Result {
        let Some(record) = self.ledger.defect(id) else { return write!(out, "{id}") };
        let step = record.step.map(|s| self.pack.as_ref().map_or("", |(p, t)| t.get(p.step_title(s)))).unwrap_or("");
        match (step.is_empty(), record.words.is_empty()) {
            (true, _) => write!(out, "\"{}\"", record.words),
            (false, true) => out.write_str(step),
            (false, false) => write!(out, "{step}: \"{}\"", record.words),
        }
    }
}

/// A defect grade's key.
pub fn grade_key(grade: DefectGrade) -> &'static str {
    match grade {
        DefectGrade::Note => "note",
        DefectGrade::Restricted => "restricted",
        DefectGrade::Stopping => "stopping",
    }
}

impl Names for PackNames<'_> {
    fn write(&self, arg: Arg, out: &mut dyn Write) -> fmt::Result {
        match arg {
            Arg::Step(id) => self.named(|p| p.step_title(id), "step", id.0, out),
            Arg::Grade(id) => self.named(|p| p.grade_name(id), "grade", id.0.into(), out),
            Arg::Due(id) => self.named(|p| p.due_name(id), "date", id.0.into(), out),
            Arg::State(id) => self.named(|p| p.state_name(id), "state", id.0.into(), out),
            Arg::Fitting(id) => self.named(|p| p.fitting_name(id), "fitting", id.0.into(), out),
            Arg::Feature(id) => self.named(|p| p.feature_name(id), "feature", id.0.into(), out),
            Arg::Event(id) => self.named(|p| p.event(id).map_or(TextId::NONE, |e| e.text), "event", id.0.into(), out),
            Arg::Reading(reading) => write!(out, "{reading}"),
            Arg::At(at) => self.time(at, out),
            Arg::Day(day) => write!(out, "{day}"),
            Arg::Person(id) => match self.ledger.office.people.get(&id).map(|p| p.name.as_str()) {
                Some(name) if !name.is_empty() => out.write_str(name),
                _ => write!(out, "person {id}"),
            },
            Arg::Defect(id) => self.defect(id, out),
            Arg::Product(id) => self.named(|p| p.product_name(id), "product", id.0.into(), out),
            Arg::Device(id) => match self.ledger.office.devices.get(&id) {
                Some(name) => out.write_str(name),
                None => write!(out, "device {id}"),
            },
            Arg::Number(_) | Arg::Tenths(_) | Arg::Word(_) | Arg::VoidedBy(_) => Err(fmt::Error),
        }
    }
}
