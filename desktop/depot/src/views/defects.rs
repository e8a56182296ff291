//! Defects, open and cleared.

use offshed_core::ident::EngineId;
use offshed_core::stamp::Stamp;
use offshed_core::words::{Arg, Names};
use serde::Serialize;

use super::Moments;
use crate::ledger::{Ledger, PackNames, grade_key};
use offshed_core::register::Register;

/// One defect.
#[derive(Clone, Debug, Serialize)]
pub struct DefectView {
    /// Its id: the entry that opened it.
    pub defect: String,
    /// The engine.
    pub engine: u16,
    /// `stopping`, `restricted`, `note`.
    pub grade: &'static str,
    /// What was found, and where.
    pub words: String,
    /// Who reported it.
    pub by: String,
    /// When, local.
    pub at: String,
    /// Whether it is open.
    pub open: bool,
    /// The written restriction, with its last day.
    pub restriction: Option<String>,
    /// What was done, by whom and when.
    pub cleared: Vec<String>,
}

/// Defects of one engine or of all, oldest first.
pub fn defects(ledger: &Ledger, engine: Option<EngineId>, open_only: bool, now: Stamp) -> Vec<DefectView> {
    let names = PackNames::new(ledger, ledger.adopted(), now);
    let moments = Moments::new(ledger.office.zone());
    let named = |arg: Arg| {
        let mut out = String::new();
        // Writing to a string does not fail.
        let _ = names.write(arg, &mut out);
        out
    };
    let is_open = |id, engine| ledger.engine(engine).is_some_and(|e| e.defects().iter().any(|d| d.id == id));
    let mut found: Vec<(Stamp, DefectView)> = ledger
        .defects()
        .filter(|(_, record)| engine.is_none_or(|id| record.engine == id))
        .map(|(id, record)| {
            let cleared = record.cleared.iter();
            let view = DefectView {
                defect: id.to_string(),
                engine: record.engine.0,
                grade: grade_key(record.grade),
                words: named(Arg::Defect(*id)),
                by: named(Arg::Person(record.by)),
                at: moments.long(record.at),
                open: is_open(*id, record.engine),
                restriction: record.restriction.as_ref().map(|(words, day)| format!("{words} (through {day})")),
                cleared: cleared
                    .map(|(by, at, words)| format!("{words} ({}, {})", named(Arg::Person(*by)), moments.long(*at)))
                    .collect(),
            };
            (record.at, view)
        })
        .filter(|(_, view)| view.open || !open_only)
        .collect();
    found.sort_by_key(|(at, _)| *at);
    found.into_iter().map(|(_, view)| view).collect()
}
