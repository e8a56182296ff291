//! What is recorded, folded: the register, one engine in hand, and one sheet of it.
//!
//! A handheld folds one sheet at a time. What is answered on another sheet of the same engine meanwhile is counted, and
//! the engine is not taken as fit while anything was.

use heapless::Vec;
use offshed_core::engine::{EngineState, Overflow};
use offshed_core::entry::{Entry, What};
use offshed_core::fitness::{self, Fitness};
use offshed_core::fold;
use offshed_core::ident::{DeviceId, EngineId, SheetId};
use offshed_core::pack::Pack;
use offshed_core::reason::Why;
use offshed_core::sheet::Sheet;
use offshed_core::stamp::{Now, Stamp};
use offshed_core::verdict::Scene;

use crate::hand::Records;
use crate::roster::Roster;

/// Earlier sheets of the engine in hand whose late answers are told apart from those of other engines.
const OTHERS: usize = 12;

/// Everything folded.
#[derive(Debug)]
pub(super) struct Shed {
    pub(super) roster: Roster,
    pub(super) engine: EngineState,
    pub(super) sheet: Option<Sheet>,
    others: Vec<SheetId, OTHERS, u8>,
    /// Entries of this engine that could not be judged here.
    unjudged: u16,
    /// Records about this engine are missing, and of which device, where that is known.
    doubt: Option<Option<DeviceId>>,
    /// When the last entry was recorded.
    pub(super) last: Option<Stamp>,
}

impl Shed {
    pub(super) fn new() -> Shed {
        Shed {
            roster: Roster::new(),
            engine: EngineState::new(EngineId(0)),
            sheet: None,
            others: Vec::new(),
            unjudged: 0,
            doubt: None,
            last: None,
        }
    }

    /// Folds everything again with `id` as the engine in hand: once for the road that it works, once for all.
    #[inline(never)]
    pub(super) fn load<R: Records>(&mut self, pack: &Pack<'_>, records: &R, id: EngineId, now: Stamp) {
        self.roster.restart(id, None);
        records.each(&mut |entry| {
            if let What::Registered(fact) = &entry.what {
                self.roster.apply(fact);
            }
        });
        let road = self.roster.road_ahead(now);
        self.roster.restart(id, road);
        self.empty(id);
        self.others.clear();
        self.unjudged = 0;
        records.steam(id, &mut |first, last| self.roster.was_in_steam(first, last));
        records.each(&mut |entry| self.take(pack, entry));
        // Looked at last: what could not be read was met on the way.
        self.doubt = records.doubt(id);
    }

    #[inline(never)]
    fn empty(&mut self, id: EngineId) {
        self.engine = EngineState::new(id);
        self.sheet = None;
    }

    /// Folds one entry that sorts after all before it.
    pub(super) fn take(&mut self, pack: &Pack<'_>, entry: &Entry) {
        self.last = self.last.max(Some(entry.stamp));
        let steam = pack.head().steam;
        let was = steam.is_some_and(|state| self.engine.is_in(state));
        self.fold(pack, entry);
        let is = steam.is_some_and(|state| self.engine.is_in(state));
        if was != is {
            self.roster.note_steam(is, entry.done_at());
        }
    }

    fn fold(&mut self, pack: &Pack<'_>, entry: &Entry) {
        match &entry.what {
            What::Registered(fact) => self.roster.apply(fact),
            What::SheetOpened { engine, .. } if *engine == self.engine.id => self.open(pack, entry),
            What::Answered { sheet, .. } | What::Struck { sheet, .. } | What::Abandoned { sheet, .. } => {
                self.on_sheet(pack, *sheet, entry);
            }
            What::Joined { into, from } => {
                let ours = |id: &SheetId| self.others.contains(id) || self.sheet.as_ref().is_some_and(|s| s.id == *id);
                if ours(into) || ours(from) {
                    self.unjudged = self.unjudged.saturating_add(1);
                }
            }
            _ => self.on_engine(pack, entry),
        }
    }

    /// A sheet is opened; apart from the rest, since a sheet being made takes much of a small stack.
    #[inline(never)]
    fn open(&mut self, pack: &Pack<'_>, entry: &Entry) {
        let What::SheetOpened { engine, sequence, pack: bound } = &entry.what else { return };
        if let Some(before) = self.sheet.as_ref().map(|sheet| sheet.id) {
            self.set_aside(before);
        }
        self.sheet = None;
        if *bound == pack.hash() {
            fold::opened(pack, &mut self.engine, *sequence);
            self.sheet = Some(Sheet::open(entry.at, *engine, *sequence, *bound, entry.person, entry.stamp));
        } else {
            self.unjudged = self.unjudged.saturating_add(1);
            self.set_aside(entry.at);
        }
    }

    fn set_aside(&mut self, id: SheetId) {
        // The oldest makes room: what is written on it after so many others is of another day.
        if self.others.is_full() {
            self.others.remove(0);
        }
        let _ = self.others.push(id);
    }

    fn on_sheet(&mut self, pack: &Pack<'_>, id: SheetId, entry: &Entry) {
        match self.sheet.as_mut().filter(|sheet| sheet.id == id) {
            Some(sheet) => fold::sheet(pack, &self.roster, &mut self.engine, sheet, entry),
            None if self.others.contains(&id) => self.unjudged = self.unjudged.saturating_add(1),
            None => {}
        }
    }

    fn on_engine(&mut self, pack: &Pack<'_>, entry: &Entry) {
        let id = self.engine.id;
        let meant = match &entry.what {
            What::Happened { engine, .. }
            | What::DefectOpened { engine, .. }
            | What::Dispensed { engine, .. }
            | What::TagHung { engine }
            | What::TagLifted { engine } => *engine == id,
            What::DefectRestricted { defect, .. } | What::DefectCleared { defect, .. } => {
                self.engine.defects().iter().any(|d| d.id == *defect)
            }
            _ => false,
        };
        if meant {
            let adopted = self.roster.adopted() == Some(pack.hash());
            fold::engine(adopted.then_some(pack), &mut self.engine, entry);
        }
    }

    /// What a verdict looks at.
    pub(super) fn scene<'s>(&'s self, pack: &'s Pack<'s>) -> Scene<'s> {
        Scene { pack, register: &self.roster, engine: &self.engine, sheet: self.sheet.as_ref(), left_at: None }
    }

    /// The verdict on the engine in hand.
    pub(super) fn fitness(&self, pack: &Pack<'_>, now: Now) -> Fitness {
        let adopted = self.roster.adopted() == Some(pack.hash());
        let mut fitness = fitness::of(adopted.then_some(pack), &self.roster, &self.engine, now);
        if self.unjudged > 0 || self.roster.passed_over() > 0 {
            fitness.make_unknown(Why::TooMuchRecorded { list: Overflow::Proofs });
        }
        if let Some(device) = self.doubt {
            fitness.make_unknown(Why::RecordsMissing { device });
        }
        fitness
    }
}
