//! From when days in steam count: the dates of an engine that count them, and when each was done.

use std::cmp::Reverse;

use offshed_core::engine::EngineState;
use offshed_core::entry::{Fact, What};
use offshed_core::ident::{DueId, EngineId};
use offshed_core::pack::rows::DueRow;
use offshed_core::register::Register;
use offshed_core::stamp::{Day, Now};
use offshed_core::verdict::{self, Scene};
use offshed_core::words::{Arg, Names};

use super::BookedView;
use crate::ledger::{Ledger, PackNames};

/// A day on which such a date was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Anchor {
    pub(super) day: Day,
    pub(super) due: DueId,
    days_before: u16,
}

/// The dates of an engine that count days in steam.
pub(super) struct Anchors<'l> {
    ledger: &'l Ledger,
    engine: EngineId,
    now: Now,
    /// In the pack's order.
    dues: Vec<DueRow>,
    /// By day; of one day, the first in the pack's order stands last.
    all: Vec<Anchor>,
}

impl<'l> Anchors<'l> {
    /// Those of the adopted pack that apply to the engine, done by `now`.
    pub(super) fn of(ledger: &'l Ledger, engine: EngineId, now: Now) -> Anchors<'l> {
        let features = ledger.office.engine(engine).unwrap_or_default().features;
        let counts = |due: &DueRow| due.rule.steam_days > 0 && due.applies.is_none_or(|f| features.has(f.0));
        let dues: Vec<DueRow> = ledger.adopted().map_or_else(Vec::new, |p| p.pack().dues().filter(counts).collect());
        let today = Day::of(ledger.office.zone().day(now.stamp));
        let place = |due: DueId| dues.iter().position(|row| row.id == due);
        let mut all: Vec<Anchor> = Vec::new();
        for entry in ledger.entries() {
            let What::Registered(Fact::DueDone { engine: of, due, on, days_before }) = &entry.what else { continue };
            if *of == engine && *on <= today && place(*due).is_some() {
                // A day entered anew, or an earlier one, puts right what was entered before.
                all.retain(|anchor| anchor.due != *due || anchor.day < *on);
                all.push(Anchor { day: *on, due: *due, days_before: *days_before });
            }
        }
        all.sort_by_key(|anchor| (anchor.day, Reverse(place(anchor.due))));
        Anchors { ledger, engine, now, dues, all }
    }

    /// The latest.
    pub(super) fn latest(&self) -> Option<Anchor> {
        self.all.last().copied()
    }

    /// The latest before a day.
    pub(super) fn before(&self, day: Day) -> Option<Anchor> {
        self.all.iter().rev().find(|anchor| anchor.day < day).copied()
    }

    /// Days in steam after an anchor's day through `last`, with those before the records began.
    pub(super) fn steam_days(&self, anchor: Anchor, last: Day) -> u32 {
        let first = Day(anchor.day.0.saturating_add(1));
        let counted = self.ledger.office.steam_days(self.engine, first, last, self.now.stamp);
        counted.saturating_add(u32::from(anchor.days_before))
    }

    /// The date with the fewest days in steam left.
    pub(super) fn booked(&self) -> Option<BookedView> {
        let pack = self.ledger.adopted()?.pack();
        let nothing = EngineState::new(self.engine);
        let engine = self.ledger.engine(self.engine).unwrap_or(&nothing);
        let scene = Scene { pack: &pack, register: &self.ledger.office, engine, sheet: None, left_at: None };
        let standing = |due: &DueRow| {
            let standing = verdict::due_standing(&scene, due.id, self.now).ok()?;
            Some((standing.steam_days_left?, due.id, standing.calendar_last_day))
        };
        let (steam_days_left, due, last_day) = self.dues.iter().filter_map(standing).min_by_key(|(left, ..)| *left)?;
        Some(BookedView { what: self.name(due), steam_days_left, last_day: last_day.map(|day| day.to_string()) })
    }

    /// A date's name.
    pub(super) fn name(&self, due: DueId) -> String {
        let mut out = String::new();
        // Writing to a string does not fail.
        let _ = PackNames::new(self.ledger, self.ledger.adopted(), self.now.stamp).write(Arg::Due(due), &mut out);
        out
    }
}
