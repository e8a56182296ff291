//! Which entries a small device needs, so that it says of every engine what all records say. A quick choice is made, then
//! folded and compared; where an engine differs, more of its entries are taken, in the end all.

use std::collections::{BTreeMap, BTreeSet};

use offshed_core::engine::EngineState;
use offshed_core::entry::{Entry, Fact, Order, What};
use offshed_core::ident::{EngineId, EntryRef, SheetId, StateId};
use offshed_core::pack::Pack;
use offshed_core::record::shift::SteamRow;
use offshed_core::sheet::{Mark, Sheet, Stage};
use offshed_core::stamp::{Day, Now, Stamp};

use super::facts;
use crate::ledger::Ledger;
use crate::packfile::PackFile;

/// Everything recorded so lately is taken: a device that comes in later may hold entries that belong between.
const LATELY_SECONDS: i64 = 3 * 86_400;

/// What a small device needs.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Selection {
    /// Entries, in the merged order.
    pub entries: Vec<Entry>,
    /// Days in steam.
    pub steam: Vec<SteamRow>,
    /// Entries that are left out.
    pub left_out: usize,
}

impl Selection {
    /// What the small device folds these to: days in steam are known before anything is judged by them.
    pub fn ledger(&self, packs: Vec<PackFile>) -> Ledger {
        let mut ledger = Ledger::build(packs, Vec::new());
        for run in &self.steam {
            let steam = &mut ledger.office.engines.entry(run.engine).or_default().steam;
            (run.first.0..=run.last().0).for_each(|day| steam.note(Day(day)));
        }
        let sorted: BTreeMap<Order, &Entry> = self.entries.iter().map(|entry| (entry.order(), entry)).collect();
        sorted.into_values().for_each(|entry| ledger.take(entry.clone()));
        ledger
    }
}

/// The entries that a small device needs, as of `stated`.
pub fn select(ledger: &Ledger, stated: Stamp) -> Selection {
    let all: Vec<&Entry> = ledger.entries().collect();
    let facts: Vec<&Entry> = all.iter().copied().filter(|entry| fact(entry).is_some()).collect();
    let mut of_engine: BTreeMap<EngineId, Vec<&Entry>> = BTreeMap::new();
    for entry in &all {
        if let Some(engine) = ledger.engine_of(&entry.what) {
            of_engine.entry(engine).or_default().push(entry);
        }
    }
    let mut chosen: Vec<&Entry> = Vec::new();
    for (engine, entries) in &of_engine {
        chosen.extend(of_one(ledger, *engine, entries, &facts, stated));
    }
    let cut = chosen.iter().map(|entry| entry.order()).min();
    let since = chosen.iter().map(|entry| entry.stamp).min().unwrap_or(stated);
    chosen.extend(facts::in_force(&facts, cut, since));
    let chosen = selection(ledger, chosen, all.len());
    let whole = chosen.ledger(packs(ledger));
    match ledger.engine_ids().into_iter().all(|engine| alike(ledger, &whole, engine, stated)) {
        true => chosen,
        false => selection(ledger, all, 0),
    }
}

fn fact(entry: &Entry) -> Option<&Fact> {
    match &entry.what {
        What::Registered(fact) => Some(fact),
        _ => None,
    }
}

fn packs(ledger: &Ledger) -> Vec<PackFile> {
    ledger.packs().cloned().collect()
}

fn selection(ledger: &Ledger, chosen: Vec<&Entry>, all: usize) -> Selection {
    let sorted: BTreeMap<Order, &Entry> = chosen.into_iter().map(|entry| (entry.order(), entry)).collect();
    let entries: Vec<Entry> = sorted.into_values().cloned().collect();
    let left_out = all.saturating_sub(entries.len());
    Selection { entries, steam: steam(ledger), left_out }
}

/// Days in steam since the earliest date that any is counted from, as runs.
fn steam(ledger: &Ledger) -> Vec<SteamRow> {
    let mut rows: Vec<SteamRow> = Vec::new();
    for (engine, card) in &ledger.office.engines {
        let from = card.dues.values().map(|due| due.done_on).min();
        for day in card.steam.days().filter(|day| from.is_some_and(|from| *day >= from)) {
            match rows.last_mut().filter(|run| run.engine == *engine && run.last().0 + 1 == day.0) {
                Some(run) if run.days < u16::MAX => run.days += 1,
                _ => rows.push(SteamRow { engine: *engine, first: day, days: 1 }),
            }
        }
    }
    rows
}

/// The entries of one engine that are needed.
fn of_one<'l>(
    ledger: &Ledger,
    engine: EngineId,
    entries: &[&'l Entry],
    facts: &[&'l Entry],
    stated: Stamp,
) -> Vec<&'l Entry> {
    let pinned = Pinned::of(ledger, engine, entries);
    for from in starts(entries, stated) {
        let chosen = pinned.with(entries, from);
        let folded = Selection {
            entries: chosen.iter().chain(facts).map(|entry| (*entry).clone()).collect(),
            steam: steam(ledger),
            left_out: 0,
        };
        if alike(ledger, &folded.ledger(packs(ledger)), engine, stated) {
            return chosen;
        }
    }
    entries.to_vec()
}

/// Places from which on all entries of an engine are taken, one after the other: what was recorded lately, then from the
/// opening of a sheet before that, twice as many each time, then all.
fn starts(entries: &[&Entry], stated: Stamp) -> Vec<usize> {
    let lately = stated.plus(-LATELY_SECONDS);
    let first = entries.iter().position(|entry| entry.stamp >= lately).unwrap_or(entries.len());
    let opened = |n: &usize| matches!(entries.get(*n).map(|entry| &entry.what), Some(What::SheetOpened { .. }));
    let before: Vec<usize> = (0..first).rev().filter(opened).collect();
    let mut starts = vec![first];
    let mut step = 1;
    while let Some(start) = before.get(step - 1) {
        starts.push(*start);
        step *= 2;
    }
    starts.push(0);
    starts
}

/// What is needed of an engine however old it is.
struct Pinned {
    sheets: BTreeSet<SheetId>,
    entries: BTreeSet<EntryRef>,
}

impl Pinned {
    fn of(ledger: &Ledger, engine: EngineId, entries: &[&Entry]) -> Pinned {
        let mut pinned = Pinned { sheets: BTreeSet::new(), entries: BTreeSet::new() };
        let sheets = ledger.sheets().filter(|sheet| sheet.engine == engine);
        let unjudged = |sheet: &Sheet| ledger.unjudged().contains_key(&sheet.id);
        pinned.sheets.extend(sheets.filter(|s| s.stage() == Stage::Open || unjudged(s)).map(|s| s.id));
        if let Some(last) = entries.iter().rev().find(|entry| matches!(entry.what, What::SheetOpened { .. })) {
            pinned.sheets.insert(last.at);
        }
        let Some(state) = ledger.engine(engine) else { return pinned };
        let steps = ledger.packs().flat_map(|file| file.pack().all_steps().map(|row| row.id).collect::<Vec<_>>());
        let proofs = steps.filter_map(|step| state.proof(step)).map(|proof| proof.entry);
        let defects = state.defects().iter().map(|defect| defect.id);
        let dispensations = state.dispensations().iter().map(|dispensation| dispensation.entry);
        for at in proofs.chain(defects).chain(dispensations) {
            pinned.entry(ledger, at);
        }
        let since: BTreeSet<Stamp> = (0..16).map(|id| state.since(StateId(id))).collect();
        for entry in entries {
            pinned.follow(state, entry);
            // What brought the engine into a state that it is still in, or out of it.
            if since.contains(&entry.done_at()) {
                pinned.entry(ledger, entry.at);
            }
        }
        pinned
    }

    /// An entry, with the sheet it is on.
    fn entry(&mut self, ledger: &Ledger, at: EntryRef) {
        match ledger.entry(at).map(|entry| &entry.what) {
            Some(What::Answered { sheet, .. }) => drop(self.sheets.insert(*sheet)),
            _ => drop(self.entries.insert(at)),
        }
    }

    /// What became of a defect, tags that hang, sheets that were joined to one that is needed.
    fn follow(&mut self, state: &EngineState, entry: &Entry) {
        let open = |id: &EntryRef| state.defects().iter().any(|defect| defect.id == *id);
        let needed = match &entry.what {
            What::DefectRestricted { defect, .. } | What::DefectCleared { defect, .. } => open(defect),
            What::TagHung { .. } => state.tags().iter().any(|(person, _)| *person == entry.person),
            What::Joined { into, from } => {
                let joined = self.sheets.contains(into) || self.sheets.contains(from);
                if joined {
                    self.sheets.extend([*into, *from]);
                }
                joined
            }
            _ => false,
        };
        if needed {
            self.entries.insert(entry.at);
        }
    }

    /// These, and all entries from a place on; answers on a sheet whose opening is left out are left out, too.
    fn with<'l>(&self, entries: &[&'l Entry], from: usize) -> Vec<&'l Entry> {
        let here = |n: usize, at: EntryRef| n >= from || self.sheets.contains(&at);
        let opened: BTreeSet<EntryRef> = (0..)
            .zip(entries)
            .filter(|(n, entry)| matches!(entry.what, What::SheetOpened { .. }) && here(*n, entry.at))
            .map(|(_, entry)| entry.at)
            .collect();
        let is_note = |entry: &Entry| matches!(entry.what, What::HandedOver { .. });
        let last_note = entries.iter().rev().find(|entry| is_note(entry)).map(|entry| entry.at);
        let wanted = |n: usize, entry: &Entry| match on_sheet(entry) {
            // No verdict looks at a note, and only the last one is read.
            None if is_note(entry) => last_note == Some(entry.at),
            Some(sheet) => opened.contains(&sheet) && (n >= from || self.sheets.contains(&sheet)),
            None => n >= from || self.entries.contains(&entry.at),
        };
        (0..).zip(entries).filter(|(n, entry)| wanted(*n, entry)).map(|(_, entry)| *entry).collect()
    }
}

/// The sheet without which an entry means nothing.
fn on_sheet(entry: &Entry) -> Option<SheetId> {
    match &entry.what {
        What::DefectOpened { .. } => None,
        _ => entry.sheet(),
    }
}

/// Whether two ledgers say the same of an engine, now and later.
fn alike(all: &Ledger, some: &Ledger, engine: EngineId, stated: Stamp) -> bool {
    let nothing = EngineState::new(engine);
    let state = |ledger: &Ledger| ledger.engine(engine).unwrap_or(&nothing).clone();
    let (a, b) = (state(all), state(some));
    let stands = a.states() == b.states()
        && (0..16).map(StateId).all(|id| a.since(id) == b.since(id))
        && a.tags() == b.tags()
        && a.defects() == b.defects()
        && a.dispensations() == b.dispensations()
        && a.overflow() == b.overflow();
    let proofs = all.packs().all(|file| file.pack().all_steps().all(|row| proof(&a, row.id) == proof(&b, row.id)));
    // A doubt travels by itself, and not in entries.
    let now = Now::good(stated);
    let verdict = |ledger: &Ledger, state: &EngineState| {
        let pack: Option<Pack<'_>> = ledger.adopted().map(PackFile::pack);
        offshed_core::fitness::of(pack.as_ref(), &ledger.office, state, now)
    };
    stands && proofs && verdict(all, &a) == verdict(some, &b) && sheets_alike(all, some, engine)
}

/// A step's proof, and what took it away, without the place in the fold.
fn proof(state: &EngineState, step: offshed_core::ident::StepId) -> Option<impl PartialEq + use<>> {
    let proof = state.proof(step)?;
    let voided = state.voided(step, proof.nth).map(|mark| (mark.at, mark.by));
    Some((proof.entry, proof.at, proof.clock, proof.by, proof.value, voided))
}

/// Whether open sheets, and the last one, are the same in both.
fn sheets_alike(all: &Ledger, some: &Ledger, engine: EngineId) -> bool {
    let of = |sheet: &&Sheet| sheet.engine == engine;
    let open = |ledger: &Ledger| -> BTreeSet<SheetId> {
        ledger.sheets().filter(of).filter(|sheet| sheet.stage() == Stage::Open).map(|sheet| sheet.id).collect()
    };
    let wanted = open(all);
    let last = all.sheets().filter(of).max_by_key(|sheet| all.entry(sheet.id).map(Entry::order)).map(|sheet| sheet.id);
    let same = |id: &SheetId| match (all.sheet(*id), some.sheet(*id)) {
        (Some(a), Some(b)) => sheet_alike(all, a, b),
        (a, b) => a.is_none() && b.is_none(),
    };
    wanted == open(some) && wanted.iter().chain(&last).all(same)
}

fn sheet_alike(ledger: &Ledger, a: &Sheet, b: &Sheet) -> bool {
    let Some(file) = ledger.pack(a.pack) else { return true };
    let pack = file.pack();
    let mark = |mark: Option<&Mark>| {
        mark.map(|m| (m.outcome, m.proof.entry, m.proof.at, m.proof.clock, m.proof.by, m.proof.value, m.with))
    };
    let steps: Vec<_> = pack.steps(a.sequence).collect();
    let marks = (0..).zip(&steps).all(|(place, _)| mark(a.mark(place)) == mark(b.mark(place)));
    let under_way = steps.iter().all(|row| a.progress(row.id) == b.progress(row.id));
    a.stage() == b.stage() && marks && under_way && a.heads() == b.heads() && a.contested() == b.contested()
}
