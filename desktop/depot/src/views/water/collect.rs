//! Which entries of an engine's sheets are water tests and treatments, and which of them count.

use std::collections::{BTreeMap, BTreeSet};

use offshed_core::entry::{Answer, Entry, Shown, What};
use offshed_core::ident::{EngineId, EntryRef, PersonId, SheetId, StepId};
use offshed_core::pack::rows::{Figure, KindRow, StepRow};
use offshed_core::pack::{Pack, slot};
use offshed_core::sheet::{Contest, Sheet};
use offshed_core::stamp::{Now, Stamp};
use offshed_core::units::{Own, Quantity, Reading};

use crate::ledger::Ledger;
use crate::packfile::PackFile;

/// What an answered value is to the water.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// A test.
    Test {
        /// Of dissolved solids: worked out from the conductivity, or what a blowdown is worked out from.
        solids: bool,
    },
    /// A dose worked out.
    Dose,
    /// A mass, on a sheet with tests or doses: what was put in.
    PutIn,
    /// A blowdown worked out.
    Blowdown,
}

impl Role {
    /// The stable key.
    pub(super) fn key(self) -> &'static str {
        match self {
            Role::Test { .. } => "test",
            Role::Dose => "dose-worked-out",
            Role::PutIn => "put-in",
            Role::Blowdown => "blowdown-worked-out",
        }
    }
}

/// How a value stands to its step's own limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Standing {
    Right,
    Warned,
    NotRight,
}

impl Standing {
    /// The stable key.
    pub(super) fn key(self) -> &'static str {
        match self {
            Standing::Right => "right",
            Standing::Warned => "warned",
            Standing::NotRight => "not-right",
        }
    }
}

/// One value that counts.
#[derive(Clone, Debug)]
pub(super) struct Found<'l> {
    pub(super) sheet: &'l Sheet,
    pub(super) file: &'l PackFile,
    pub(super) step: StepRow,
    pub(super) role: Role,
    pub(super) value: Reading,
    pub(super) rounds: u8,
    pub(super) at: Stamp,
    pub(super) by: PersonId,
    pub(super) contested: bool,
}

impl Found<'_> {
    /// The step's low, high, warn low and warn high.
    pub(super) fn limits(&self) -> [Option<Reading>; 4] {
        let (KindRow::Reading { limits, .. } | KindRow::Figure { limits, .. }) = self.step.kind else {
            return [None; 4];
        };
        [slot::LOW, slot::HIGH, slot::WARN_LOW, slot::WARN_HIGH].map(|n| self.file.pack().limit(limits, n))
    }

    /// By the step's own limits, ends included.
    pub(super) fn standing(&self) -> Standing {
        let base = |reading: Reading| reading.in_base(self.value.unit.quantity(), Own::UNKNOWN).ok();
        let Some(value) = base(self.value) else { return Standing::Right };
        let [low, high, warn_low, warn_high] = self.limits().map(|limit| limit.and_then(base));
        let outside =
            |low: Option<i64>, high: Option<i64>| low.is_some_and(|l| value < l) || high.is_some_and(|h| value > h);
        match (outside(low, high), outside(warn_low, warn_high)) {
            (true, _) => Standing::NotRight,
            (false, true) => Standing::Warned,
            (false, false) => Standing::Right,
        }
    }
}

/// All values of an engine that count, oldest first, and how many do not.
#[derive(Debug, Default)]
pub(super) struct Collected<'l> {
    pub(super) found: Vec<Found<'l>>,
    struck: usize,
    not_offered: usize,
    unjudged: usize,
}

impl Collected<'_> {
    /// What is left out, in words.
    pub(super) fn notes(&self) -> Vec<String> {
        let told = [
            (self.struck, "struck out, and left out here"),
            (
                self.not_offered,
                "not open where it falls in order, and left out here: see what is contested on its sheet",
            ),
            (
                self.unjudged,
                "on a sheet whose pack is not in this folder, and not read: sync with a device that has it",
            ),
        ];
        told.into_iter().filter(|(count, _)| *count > 0).map(|(count, words)| format!("{count} {words}")).collect()
    }
}

/// Reads all entries of an engine that were done by `now`.
pub(super) fn collect<'l>(ledger: &'l Ledger, engine: EngineId, now: Now) -> Collected<'l> {
    let struck = struck(ledger);
    let sheets = watered(ledger, engine);
    let mut collected = Collected::default();
    for entry in ledger.entries().filter(|entry| entry.done_at() <= now.stamp) {
        let What::Answered { sheet, step, answer, .. } = &entry.what else { continue };
        let Some(sheet) = ledger.sheet(*sheet).filter(|sheet| sheet.engine == engine) else { continue };
        let Some((value, rounds)) = read_off(answer) else { continue };
        let Some(file) = ledger.pack(sheet.pack) else {
            collected.unjudged += 1;
            continue;
        };
        let pack = file.pack();
        let Some(step) = pack.step(*step) else { continue };
        let Some(role) = role(&pack, &step).filter(|role| *role != Role::PutIn || sheets.contains(&sheet.id)) else {
            continue;
        };
        let contest = sheet.contested().iter().find(|c| c.entry == entry.at).map(|c| c.contest);
        match contest {
            Some(Contest::NotOffered(_)) => collected.not_offered += 1,
            _ if struck.contains(&entry.at) => collected.struck += 1,
            contest => collected.found.push(Found {
                sheet,
                file,
                step,
                role,
                value,
                rounds,
                at: entry.done_at(),
                by: entry.person,
                contested: contest.is_some(),
            }),
        }
    }
    // Entries stand in the order of recording; a test may be recorded after a later one.
    collected.found.sort_by_key(|found| found.at);
    collected
}

/// The value that an answer gives, and how often; 1 where that is not said.
fn read_off(answer: &Answer) -> Option<(Reading, u8)> {
    match answer {
        Answer::Reading(reading) => Some((*reading, 1)),
        Answer::Accepted(Shown::Figure { result, rounds, .. }) => Some((*result, *rounds)),
        _ => None,
    }
}

fn role(pack: &Pack<'_>, step: &StepRow) -> Option<Role> {
    match step.kind {
        KindRow::Figure { figure, .. } => match figure {
            Figure::Solids => Some(Role::Test { solids: true }),
            Figure::Dose { .. } => Some(Role::Dose),
            Figure::Blowdown => Some(Role::Blowdown),
            Figure::LeastLevel | Figure::Heating => None,
        },
        KindRow::Reading { unit, .. } => match unit.quantity() {
            Quantity::Concentration | Quantity::Hardness | Quantity::Ph | Quantity::Conductivity => {
                Some(Role::Test { solids: blown_down_by(pack, step.id) })
            }
            Quantity::Mass => Some(Role::PutIn),
            _ => None,
        },
        _ => None,
    }
}

/// Whether a blowdown is worked out from this step: then it is a test of dissolved solids.
fn blown_down_by(pack: &Pack<'_>, step: StepId) -> bool {
    pack.all_steps().any(|other| match other.kind {
        KindRow::Figure { figure: Figure::Blowdown, inputs, .. } => pack.listed(inputs).next() == Some(step),
        _ => false,
    })
}

/// Sheets of the engine that hold a test or a dose.
fn watered(ledger: &Ledger, engine: EngineId) -> BTreeSet<SheetId> {
    let mut known: BTreeMap<SheetId, bool> = BTreeMap::new();
    for entry in ledger.entries() {
        let What::Answered { sheet: id, step, answer, .. } = &entry.what else { continue };
        let Some(sheet) = ledger.sheet(*id).filter(|s| s.engine == engine) else { continue };
        let file = ledger.pack(sheet.pack).filter(|_| read_off(answer).is_some());
        let role = file.and_then(|file| file.pack().step(*step).and_then(|step| role(&file.pack(), &step)));
        *known.entry(*id).or_default() |= role.is_some_and(|role| role != Role::PutIn);
    }
    known.into_iter().filter(|(_, watered)| *watered).map(|(id, _)| id).collect()
}

/// Answers that were struck out by a strike that counts.
fn struck(ledger: &Ledger) -> BTreeSet<EntryRef> {
    let counts = |entry: &Entry, sheet: SheetId| {
        ledger.sheet(sheet).is_some_and(|sheet| sheet.contested().iter().all(|c| c.entry != entry.at))
    };
    let struck = ledger.entries().filter_map(|entry| match &entry.what {
        What::Struck { sheet, entry: struck, .. } => counts(entry, *sheet).then_some(*struck),
        _ => None,
    });
    struck.collect()
}
