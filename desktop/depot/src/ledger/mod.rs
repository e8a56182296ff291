//! The ledger: all entries of all devices folded, in the merged order, into register, engines, sheets and defects.
//!
//! A pure fold of what the folder holds. It is never written anywhere; the entries are the truth.

mod names;
mod office;
mod roads;

pub use names::{PackNames, grade_key};
pub use office::{BoilerCard, EngineCard, Office, Person, SteamDays, Turn};
pub use roads::Road;

use std::collections::{BTreeMap, BTreeSet};

use offshed_core::engine::EngineState;
use offshed_core::entry::{Answer, Entry, Order, What};
use offshed_core::fitness::{self, Fitness};
use offshed_core::fold;
use offshed_core::ident::{DefectId, DeviceId, EngineId, EntryRef, PackHash, PersonId, SheetId, StepId};
use offshed_core::pack::Pack;
use offshed_core::pack::rows::DefectGrade;
use offshed_core::reason::Why;
use offshed_core::record::head::{Touch, touch};
use offshed_core::register::Register;
use offshed_core::sheet::{Contest, Contested, Sheet};
use offshed_core::stamp::{Day, Hlc, Now, Stamp};

use crate::folder::Scope;
use crate::packfile::PackFile;

/// A defect's history in words, kept beside the engine's fold of what is open.
#[derive(Clone, Debug)]
pub struct DefectRecord {
    /// The engine.
    pub engine: EngineId,
    /// How bad.
    pub grade: DefectGrade,
    /// The step it was found at.
    pub step: Option<StepId>,
    /// Who reported it.
    pub by: PersonId,
    /// When.
    pub at: Stamp,
    /// What was found.
    pub words: String,
    /// Written restriction: its words and last day.
    pub restriction: Option<(String, Day)>,
    /// Clearances: who, when, what was done.
    pub cleared: Vec<(PersonId, Stamp, String)>,
}

/// A note for whoever has the engine next.
#[derive(Clone, Debug)]
pub struct Handover {
    /// Who wrote it.
    pub by: PersonId,
    /// When.
    pub at: Stamp,
    /// The note.
    pub words: String,
}

/// Everything folded.
#[derive(Clone, Debug, Default)]
pub struct Ledger {
    /// The register.
    pub office: Office,
    engines: BTreeMap<EngineId, EngineState>,
    sheets: BTreeMap<SheetId, Sheet>,
    defects: BTreeMap<DefectId, DefectRecord>,
    handovers: BTreeMap<EngineId, Handover>,
    packs: BTreeMap<PackHash, PackFile>,
    entries: BTreeMap<Order, Entry>,
    refs: BTreeMap<EntryRef, Order>,
    unjudged: BTreeMap<SheetId, PackHash>,
    adrift: Vec<EntryRef>,
    doubts: Vec<(Option<DeviceId>, Scope)>,
    clock: Hlc,
}

impl Ledger {
    /// Folds entries in any order, with the packs that are here.
    pub fn build(packs: Vec<PackFile>, entries: Vec<Entry>) -> Ledger {
        let mut ledger = Ledger { packs: packs.into_iter().map(|p| (p.hash(), p)).collect(), ..Ledger::default() };
        let sorted: BTreeMap<Order, Entry> = entries.into_iter().map(|e| (e.order(), e)).collect();
        for entry in sorted.into_values() {
            ledger.take(entry);
        }
        ledger
    }

    /// What was known at a moment: only entries recorded by then.
    #[must_use]
    pub fn as_of(&self, at: Stamp) -> Ledger {
        let packs = self.packs.values().cloned().collect();
        let entries = self.entries.values().filter(|entry| entry.stamp <= at).cloned().collect();
        let mut then = Ledger { doubts: self.doubts.clone(), ..Ledger::build(packs, entries) };
        // A name that was taken out of the register since stays out.
        for (id, _) in self.office.people.iter().filter(|(_, person)| person.name.is_empty()) {
            if let Some(person) = then.office.people.get_mut(id) {
                person.name.clear();
            }
        }
        then
    }

    /// Folds one entry that sorts after all before it, as the own desk's always do.
    pub fn take(&mut self, entry: Entry) {
        if self.refs.contains_key(&entry.at) {
            return;
        }
        self.clock = self.clock.seen(entry.hlc);
        self.fold(&entry);
        self.refs.insert(entry.at, entry.order());
        self.entries.insert(entry.order(), entry);
    }

    /// Takes those entries in that are not here; those that do not sort after all others make everything fold again.
    pub fn take_in(&mut self, entries: impl IntoIterator<Item = Entry>) {
        let fresh = entries.into_iter().filter(|entry| !self.refs.contains_key(&entry.at));
        let fresh: BTreeMap<Order, Entry> = fresh.map(|entry| (entry.order(), entry)).collect();
        let last = self.entries.last_key_value().map(|(order, _)| *order);
        if fresh.first_key_value().map(|(order, _)| *order) > last {
            fresh.into_values().for_each(|entry| self.take(entry));
        } else if !fresh.is_empty() {
            let packs = std::mem::take(&mut self.packs).into_values().collect();
            let entries = std::mem::take(&mut self.entries).into_values().chain(fresh.into_values()).collect();
            let doubts = std::mem::take(&mut self.doubts);
            *self = Ledger { doubts, ..Ledger::build(packs, entries) };
        }
    }

    /// A pack came in. Sheets that lacked it are judged from here on by folding everything again.
    pub fn add_pack(&mut self, pack: PackFile) {
        let wanted =
            self.unjudged.values().any(|hash| *hash == pack.hash()) || self.office.adopted == Some(pack.hash());
        self.packs.insert(pack.hash(), pack);
        if wanted {
            let packs = std::mem::take(&mut self.packs).into_values().collect();
            let entries = std::mem::take(&mut self.entries).into_values().collect();
            let doubts = std::mem::take(&mut self.doubts);
            *self = Ledger { doubts, ..Ledger::build(packs, entries) };
        }
    }

    /// Records of a device are damaged or missing: from here on none of these engines is taken as fit on what is left.
    pub fn doubt(&mut self, device: Option<DeviceId>, scope: Scope) {
        self.doubts.push((device, scope));
    }

    fn fold(&mut self, entry: &Entry) {
        if let What::Registered(fact) = &entry.what {
            return self.office.apply(fact);
        }
        match &entry.what {
            What::SheetOpened { engine, sequence, pack } => {
                let sheet = Sheet::open(entry.at, *engine, *sequence, *pack, entry.person, entry.stamp);
                self.sheets.insert(entry.at, sheet);
                let state = self.engines.entry(*engine).or_insert_with(|| EngineState::new(*engine));
                match self.packs.get(pack) {
                    Some(file) => fold::opened(&file.pack(), state, *sequence),
                    None => drop(self.unjudged.insert(entry.at, *pack)),
                }
            }
            What::Answered { sheet, .. } | What::Struck { sheet, .. } | What::Abandoned { sheet, .. } => {
                self.on_sheet(*sheet, entry);
            }
            What::Joined { into, from } => self.join(*into, *from, entry),
            What::HandedOver { engine, words } => {
                let note = Handover { by: entry.person, at: entry.stamp, words: words.to_string() };
                self.handovers.insert(*engine, note);
            }
            _ => self.on_engine(entry),
        }
    }

    fn on_sheet(&mut self, id: SheetId, entry: &Entry) {
        let Some(sheet) = self.sheets.get_mut(&id) else { return self.adrift.push(entry.at) };
        let Some(file) = self.packs.get(&sheet.pack) else { return };
        let engine = self.engines.entry(sheet.engine).or_insert_with(|| EngineState::new(sheet.engine));
        let pack = file.pack();
        let (steam, before) = (pack.head().steam, engine.defects().len());
        let was = steam.is_some_and(|s| engine.is_in(s));
        fold::sheet(&pack, &self.office, engine, sheet, entry);
        let is = steam.is_some_and(|s| engine.is_in(s));
        let derived = engine.defects().iter().skip(before).find(|d| d.id == entry.at).copied();
        let engine = sheet.engine;
        if let Some(defect) = derived {
            let words = answer_words(&entry.what);
            self.note_defect(engine, entry, defect.grade, defect.step, words);
        }
        self.note_steam(engine, was, is, entry.done_at());
    }

    fn note_steam(&mut self, engine: EngineId, was: bool, is: bool, at: Stamp) {
        if was != is {
            let zone = self.office.zone().clone();
            self.office.engines.entry(engine).or_default().steam.change(is, at, &zone);
        }
    }

    fn note_defect(
        &mut self,
        engine: EngineId,
        entry: &Entry,
        grade: DefectGrade,
        step: Option<StepId>,
        words: String,
    ) {
        let record = DefectRecord {
            engine,
            grade,
            step,
            by: entry.person,
            at: entry.stamp,
            words,
            restriction: None,
            cleared: Vec::new(),
        };
        self.defects.insert(entry.at, record);
    }

    fn join(&mut self, into: SheetId, from: SheetId, entry: &Entry) {
        let Some(mut other) = self.sheets.remove(&from) else { return self.adrift.push(entry.at) };
        match self.sheets.get_mut(&into) {
            Some(sheet) => {
                let engine = self.engines.entry(sheet.engine).or_insert_with(|| EngineState::new(sheet.engine));
                let joined = match self.packs.get(&sheet.pack) {
                    Some(file) => fold::join(&file.pack(), engine, sheet, &mut other),
                    None => Ok(()),
                };
                if let Err(why) = joined {
                    sheet.note_contested(Contested { entry: entry.at, step: None, contest: Contest::NotOffered(why) });
                }
            }
            None => self.adrift.push(entry.at),
        }
        self.sheets.insert(from, other);
    }

    fn on_engine(&mut self, entry: &Entry) {
        let Some(id) = self.engine_of(&entry.what) else { return self.adrift.push(entry.at) };
        let file = self.office.adopted.and_then(|hash| self.packs.get(&hash));
        let pack = file.map(PackFile::pack);
        let engine = self.engines.entry(id).or_insert_with(|| EngineState::new(id));
        let steam = pack.and_then(|p| p.head().steam);
        let was = steam.is_some_and(|s| engine.is_in(s));
        fold::engine(pack.as_ref(), engine, entry);
        let is = steam.is_some_and(|s| engine.is_in(s));
        let opened = engine.defects().iter().find(|d| d.id == entry.at).copied();
        self.note_steam(id, was, is, entry.done_at());
        match (&entry.what, opened) {
            (What::DefectOpened { words, .. } | What::Happened { words, .. }, Some(defect)) => {
                self.note_defect(id, entry, defect.grade, defect.step, words.to_string());
            }
            (What::DefectRestricted { defect, words, until }, _) => {
                if let Some(record) = self.defects.get_mut(defect) {
                    record.restriction = Some((words.to_string(), *until));
                }
            }
            (What::DefectCleared { defect, words, .. }, _) => {
                if let Some(record) = self.defects.get_mut(defect) {
                    record.cleared.push((entry.person, entry.stamp, words.to_string()));
                }
            }
            _ => {}
        }
    }

    /// The engine an entry speaks of; none for facts of the register.
    pub fn engine_of(&self, what: &What) -> Option<EngineId> {
        match touch(what) {
            _ if matches!(what, What::Registered(_)) => None,
            Touch::Engine(engine) => Some(engine),
            Touch::Of(opened) => {
                let sheet = self.sheets.get(&opened).map(|sheet| sheet.engine);
                sheet.or_else(|| self.defects.get(&opened).map(|record| record.engine))
            }
            Touch::Nothing | Touch::Every => None,
        }
    }

    /// An engine's fold; `None` when nothing but the register knows it.
    pub fn engine(&self, id: EngineId) -> Option<&EngineState> {
        self.engines.get(&id)
    }

    /// All engines that the register or any entry knows, by number.
    pub fn engine_ids(&self) -> Vec<EngineId> {
        let mut ids: Vec<EngineId> = self.office.engines.keys().chain(self.engines.keys()).copied().collect();
        ids.sort_unstable();
        ids.dedup();
        ids
    }

    /// A sheet.
    pub fn sheet(&self, id: SheetId) -> Option<&Sheet> {
        self.sheets.get(&id)
    }

    /// All sheets, by device and count.
    pub fn sheets(&self) -> impl Iterator<Item = &Sheet> {
        self.sheets.values()
    }

    /// Sheets whose pack is not here: carried, not judged.
    pub fn unjudged(&self) -> &BTreeMap<SheetId, PackHash> {
        &self.unjudged
    }

    /// Entries that speak of a sheet or defect that is not here yet.
    pub fn adrift(&self) -> &[EntryRef] {
        &self.adrift
    }

    /// A defect's record.
    pub fn defect(&self, id: DefectId) -> Option<&DefectRecord> {
        self.defects.get(&id)
    }

    /// All defects ever reported.
    pub fn defects(&self) -> impl Iterator<Item = (&DefectId, &DefectRecord)> {
        self.defects.iter()
    }

    /// The last note for whoever has the engine next.
    pub fn handover(&self, engine: EngineId) -> Option<&Handover> {
        self.handovers.get(&engine)
    }

    /// A pack.
    pub fn pack(&self, hash: PackHash) -> Option<&PackFile> {
        self.packs.get(&hash)
    }

    /// All packs that are here.
    pub fn packs(&self) -> impl Iterator<Item = &PackFile> {
        self.packs.values()
    }

    /// The adopted pack, when it is here.
    pub fn adopted(&self) -> Option<&PackFile> {
        self.packs.get(&self.office.adopted?)
    }

    /// All entries in the merged order.
    pub fn entries(&self) -> impl Iterator<Item = &Entry> {
        self.entries.values()
    }

    /// How many entries there are.
    pub fn count(&self) -> usize {
        self.entries.len()
    }

    /// One entry.
    pub fn entry(&self, at: EntryRef) -> Option<&Entry> {
        self.entries.get(self.refs.get(&at)?)
    }

    /// The highest clock any entry carries.
    pub fn clock(&self) -> Hlc {
        self.clock
    }

    /// The verdict on an engine.
    pub fn fitness(&self, id: EngineId, now: Now) -> Fitness {
        let pack: Option<Pack<'_>> = self.adopted().map(PackFile::pack);
        let nothing = EngineState::new(id);
        let engine = self.engines.get(&id).unwrap_or(&nothing);
        let mut fitness = fitness::of(pack.as_ref(), &self.office, engine, now);
        let carried = self.unjudged.keys().filter_map(|sheet| self.sheets.get(sheet)).any(|s| s.engine == id);
        if carried {
            fitness.make_unknown(Why::PackMissing);
        }
        let doubts = self.doubts.iter().filter(|(_, scope)| scope.covers(id)).map(|(device, _)| *device);
        for device in doubts.collect::<BTreeSet<_>>() {
            fitness.make_unknown(Why::RecordsMissing { device });
        }
        fitness
    }
}

/// The words of an answer that opened a defect by itself.
fn answer_words(what: &What) -> String {
    match what {
        What::Answered { answer, .. } => match answer {
            Answer::NotRight { words } | Answer::Reviewed { words, .. } => words.to_string(),
            Answer::Part { found: offshed_core::entry::Found::NotRight { words }, .. } => words.to_string(),
            Answer::Reading(reading) => reading.to_string(),
            Answer::Number(number) => number.to_string(),
            _ => String::new(),
        },
        _ => String::new(),
    }
}
