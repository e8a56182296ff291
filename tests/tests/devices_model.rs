//! Two and three devices at work on one engine, every order of answers and meetings, through the real desk and fold
//! (checked by the model checker `stateright`).
//!
//! *Always*, on whatever any device knows: an engine is fit only over a review that counts, over a signature that counts,
//! over living proofs of glass and feed; nobody's review counts on a sheet that they answered on; what the desk let a
//! device write is not contested there. *Sometimes*: it is fit; it is fit over the answers of more than one device; two
//! answers unseen of each other are told. The states reached are counted, so that a weaker rule is noticed.

use std::collections::{BTreeSet, HashMap};
use std::sync::{Arc, Mutex};

use offshed_core::desk::{Staffing, View, permit};
use offshed_core::engine::EngineState;
use offshed_core::entry::{Answer, Entry, Fact, Review, What};
use offshed_core::fitness::Verdict;
use offshed_core::fold;
use offshed_core::ident::{DeviceId, EngineId, EntryRef, GradeId, PersonId, SequenceId, Set, SheetId, StepId};
use offshed_core::sheet::{Contest, Outcome, Sheet};
use offshed_core::stamp::{Clock, Hlc, Now, Stamp};
use offshed_depot::authoring::{SourceFile, compile};
use offshed_depot::ledger::Ledger;
use offshed_depot::packfile::PackFile;
use stateright::{Checker, Model, Property};

const HEAD: &str = r#"
[pack]
id = "small"
title = "Small pack"
edition = "1"
language = "en"
caution = "A test."
low_water = "A test."
[[grade]]
id = "crew"
number = 1
name = "Crew"
[defects]
cleared_by = ["crew"]
restricted_by = ["crew"]
[fitness]
needs = [{ fresh = "review" }]
[[obligation]]
goal = "fitness"
fresh = ["review", "sign", "glass", "feed"]
why = "a test"
"#;

const SEQUENCE: &str = r#"
[sequence]
id = "work"
number = 1
title = "Work"
purpose = "A test."
by = "crew"
[[stage]]
id = "all"
title = "All"
[[step]]
id = "glass"
number = 1
stage = "all"
title = "Glass"
do = "See it."
minutes = 1
source = "a test"
kind = "check"
fails = "none"
[[step]]
id = "feed"
number = 2
stage = "all"
title = "Feed"
do = "See it."
minutes = 1
source = "a test"
kind = "check"
fails = "none"
needs = [{ fresh = "glass" }]
[[step]]
id = "sign"
number = 3
stage = "all"
title = "Sign"
do = "Sign."
minutes = 1
source = "a test"
kind = "signature"
needs = [{ fresh = "feed" }]
[[step]]
id = "review"
number = 4
stage = "all"
title = "Review"
do = "Review."
minutes = 1
source = "a test"
kind = "signature"
review = true
shared = true
closes = true
needs = [{ fresh = "sign" }, { different = "everyone" }]
[[obligation]]
goal = "sign"
fresh = ["glass", "feed"]
why = "a test"
[[obligation]]
goal = "feed"
fresh = ["glass"]
why = "a test"
[[obligation]]
goal = "review"
fresh = ["sign", "glass", "feed"]
holds = [{ different = "everyone" }]
why = "a test"
"#;

const GLASS: StepId = StepId(1);
const FEED: StepId = StepId(2);
const SIGN: StepId = StepId(3);
const REVIEW: StepId = StepId(4);
const ENGINE: EngineId = EngineId(1);
const SHEET: SheetId = EntryRef { device: DeviceId([1; 8]), seq: 1 };

/// One thing a person does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
enum Act {
    Done(StepId, u16),
    GlassNotRight(u16),
    StrikeGlass,
}

/// What was written: by which device as its how-manieth, when by the hybrid clock, what, and over which answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
struct Written {
    device: u8,
    seq: u8,
    hlc: u8,
    act: Act,
    over: Option<(u8, u8)>,
    struck: Option<(u8, u8)>,
}

/// Each device's entries, as it knows them.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
struct Devices {
    known: Vec<BTreeSet<Written>>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Step {
    /// A person does something on a device.
    Act(u8, Act),
    /// Two devices meet.
    Meet(u8, u8),
}

struct Shed {
    file: PackFile,
    register: Vec<Entry>,
    devices: u8,
    /// Entries that are written at the most.
    most: usize,
    people: u16,
    /// What was made of each set of entries: many states share one.
    ledgers: Mutex<HashMap<BTreeSet<Written>, Arc<Ledger>>>,
}

fn at(device: u8, seq: u8) -> EntryRef {
    EntryRef { device: DeviceId([device + 1; 8]), seq: u32::from(seq) }
}

impl Shed {
    fn new(devices: u8, most: usize, people: u16) -> Shed {
        let files = [("pack.toml", HEAD), ("work.toml", SEQUENCE)];
        let files = files.map(|(name, text)| SourceFile { name: name.to_owned(), text: text.to_owned() });
        let compiled = compile(&files).unwrap_or_else(|c| panic!("{}", c[0]));
        let file = PackFile::from_bytes(compiled.bytes).unwrap();
        let office = DeviceId([99; 8]);
        let mut facts = vec![Fact::PackAdopted { pack: file.hash() }];
        let grade = GradeId(1);
        facts.extend((1..=people).map(|n| Fact::Competence { person: PersonId(n), grade, until: None, held: true }));
        let name = Default::default();
        facts.push(Fact::Engine { engine: ENGINE, name, features: Set::EMPTY, glass_mm: 0, working: None });
        let entry = |(n, fact)| Entry {
            at: EntryRef { device: office, seq: n as u32 + 1 },
            hlc: Hlc(n as u64),
            stamp: Stamp(0),
            clock: Clock::Good,
            person: PersonId(1),
            what: What::Registered(fact),
        };
        let mut register: Vec<Entry> = facts.into_iter().enumerate().map(entry).collect();
        let (engine, sequence, pack) = (ENGINE, SequenceId(1), file.hash());
        let what = What::SheetOpened { engine, sequence, pack };
        register.push(Entry {
            at: SHEET,
            hlc: Hlc(50),
            stamp: Stamp(50),
            clock: Clock::Good,
            person: PersonId(1),
            what,
        });
        Shed { file, register, devices, most, people, ledgers: Mutex::default() }
    }

    fn entry(&self, written: &Written, seen: &Ledger) -> Entry {
        let (pack, heads) = (self.file.hash(), seen.sheet(SHEET).map(|s| s.heads().clone()).unwrap_or_default());
        let place = |found: (u8, u8)| at(found.0, found.1);
        let answered = |step, answer| What::Answered {
            sheet: SHEET,
            step,
            answer,
            done_at: None,
            with: None,
            over: written.over.map(place),
        };
        let (person, what) = match written.act {
            Act::Done(SIGN, person) => (person, answered(SIGN, Answer::Signed { pack, seen: heads })),
            Act::Done(REVIEW, person) => {
                let (outcome, words) = (Review::Accepted, Default::default());
                (person, answered(REVIEW, Answer::Reviewed { outcome, words, seen: heads }))
            }
            Act::Done(step, person) => (person, answered(step, Answer::Done)),
            Act::GlassNotRight(person) => {
                (person, answered(GLASS, Answer::NotRight { words: "cracked".try_into().unwrap() }))
            }
            Act::StrikeGlass => {
                let entry = written.struck.map_or(SHEET, place);
                let by = seen.entry(entry).map_or(1, |e| e.person.0);
                (by, What::Struck { sheet: SHEET, step: GLASS, entry, reason: "wrong engine".try_into().unwrap() })
            }
        };
        Entry {
            at: at(written.device, written.seq),
            hlc: Hlc(100 + u64::from(written.hlc)),
            stamp: Stamp(100 + i64::from(written.hlc)),
            clock: Clock::Good,
            person: PersonId(person),
            what,
        }
    }

    /// What a device makes of what it knows. A signature says what its own device had seen: what it had written itself,
    /// and what it had met before its place in the order.
    fn ledger(&self, known: &BTreeSet<Written>) -> Arc<Ledger> {
        if let Some(found) = self.ledgers.lock().unwrap().get(known) {
            return found.clone();
        }
        let mut sorted: Vec<&Written> = known.iter().collect();
        sorted.sort_by_key(|w| (w.hlc, w.device, w.seq));
        let mut ledger = Ledger::build(vec![self.file.clone()], self.register.clone());
        for written in sorted {
            ledger.take(self.entry(written, &ledger));
        }
        let made = Arc::new(ledger);
        self.ledgers.lock().unwrap().insert(known.clone(), made.clone());
        made
    }

    fn write(&self, state: &Devices, device: u8, act: Act) -> Option<Written> {
        let known = state.known.get(usize::from(device))?;
        let ledger = self.ledger(known);
        let sheet: &Sheet = ledger.sheet(SHEET)?;
        let pack = self.file.pack();
        let place = |entry: EntryRef| (entry.device.0[0] - 1, entry.seq as u8);
        let step = match act {
            Act::Done(step, _) => step,
            Act::GlassNotRight(_) | Act::StrikeGlass => GLASS,
        };
        let standing = fold::standing(&pack, sheet, step).map(place);
        let struck = matches!(act, Act::StrikeGlass).then_some(standing).flatten();
        if matches!(act, Act::StrikeGlass) && struck.is_none() {
            return None;
        }
        let seq = known.iter().filter(|w| w.device == device).map(|w| w.seq).max().unwrap_or(1) + 1;
        let hlc = known.iter().map(|w| w.hlc).max().unwrap_or(0) + 1;
        let over = standing.filter(|_| !matches!(act, Act::StrikeGlass));
        let written = Written { device, seq, hlc, act, over, struck };
        let entry = self.entry(&written, &ledger);
        let engine = ledger.engine(ENGINE)?;
        let view = View {
            pack: Some(&pack),
            register: &ledger.office,
            engine: Some(engine),
            sheet: Some(sheet),
            office: Staffing::Staffed,
        };
        permit(&view, &entry.what, entry.person, Now::good(entry.stamp)).ok()?;
        Some(written)
    }

    /// All that any device knows.
    fn all(&self, state: &Devices) -> Arc<Ledger> {
        self.ledger(&state.known.iter().flatten().copied().collect())
    }

    fn every_view<'s>(&'s self, state: &'s Devices) -> impl Iterator<Item = Arc<Ledger>> + 's {
        state.known.iter().map(|known| self.ledger(known)).chain([self.all(state)])
    }
}

fn proven(ledger: &Ledger, pack: &PackFile, step: StepId) -> Option<PersonId> {
    let place = pack.pack().place_of(step)?;
    let mark = ledger.sheet(SHEET)?.mark(place).copied()?;
    let engine: &EngineState = ledger.engine(ENGINE)?;
    let counts = matches!(mark.outcome, Outcome::Proven { .. }) && engine.voided(step, mark.proof.nth).is_none();
    counts.then_some(mark.proof.by)
}

fn fit(ledger: &Ledger) -> bool {
    ledger.fitness(ENGINE, Now::good(Stamp(200))).verdict == Verdict::Fit
}

/// An engine is fit only over everything it stands on.
fn fit_only_over_proofs(shed: &Shed, state: &Devices) -> bool {
    shed.every_view(state).all(|ledger| {
        !fit(&ledger) || [GLASS, FEED, SIGN, REVIEW].into_iter().all(|s| proven(&ledger, &shed.file, s).is_some())
    })
}

/// Nobody reviews their own work.
fn no_own_review(shed: &Shed, state: &Devices) -> bool {
    shed.every_view(state).all(|ledger| {
        let Some(by) = proven(&ledger, &shed.file, REVIEW) else { return true };
        [GLASS, FEED, SIGN].into_iter().all(|step| proven(&ledger, &shed.file, step) != Some(by))
    })
}

/// What the desk let a device write counts there, as long as it has met nobody since.
fn own_writing_counts(shed: &Shed, state: &Devices) -> bool {
    state.known.iter().enumerate().all(|(device, known)| {
        let alone = known.iter().all(|w| usize::from(w.device) == device);
        !alone || shed.ledger(known).sheet(SHEET).is_some_and(|s| s.contested().is_empty())
    })
}

/// Two who met know the same, and so say the same.
fn met_say_the_same(shed: &Shed, state: &Devices) -> bool {
    let all = fit(&shed.all(state));
    let whole: BTreeSet<Written> = state.known.iter().flatten().copied().collect();
    state.known.iter().filter(|known| **known == whole).all(|known| fit(&shed.ledger(known)) == all)
}

fn fit_over_two_devices(shed: &Shed, state: &Devices) -> bool {
    let by: BTreeSet<u8> = state.known.iter().flatten().map(|w| w.device).collect();
    by.len() > 1 && fit(&shed.all(state))
}

fn unseen_is_told(shed: &Shed, state: &Devices) -> bool {
    let ledger = shed.all(state);
    let contested = ledger.sheet(SHEET).map(Sheet::contested).unwrap_or_default();
    contested.iter().any(|c| matches!(c.contest, Contest::Unseen { .. }))
}

impl Model for Shed {
    type State = Devices;
    type Action = Step;

    fn init_states(&self) -> Vec<Devices> {
        vec![Devices { known: vec![BTreeSet::new(); usize::from(self.devices)] }]
    }

    fn actions(&self, state: &Devices, actions: &mut Vec<Step>) {
        let written: BTreeSet<&Written> = state.known.iter().flatten().collect();
        for device in 0..self.devices {
            if written.len() < self.most {
                let people = 1..=self.people;
                let done =
                    [GLASS, FEED, SIGN, REVIEW].into_iter().flat_map(|s| people.clone().map(move |p| Act::Done(s, p)));
                let acts = done.chain([Act::GlassNotRight(1), Act::StrikeGlass]);
                actions.extend(acts.map(|act| Step::Act(device, act)));
            }
            actions.extend((device + 1..self.devices).map(|other| Step::Meet(device, other)));
        }
    }

    fn next_state(&self, state: &Devices, action: Step) -> Option<Devices> {
        let mut next = state.clone();
        match action {
            Step::Act(device, act) => {
                let written = self.write(state, device, act)?;
                next.known.get_mut(usize::from(device))?.insert(written);
            }
            Step::Meet(one, other) => {
                let both: BTreeSet<Written> =
                    [one, other].iter().filter_map(|d| state.known.get(usize::from(*d))).flatten().copied().collect();
                for device in [one, other] {
                    next.known[usize::from(device)] = both.clone();
                }
            }
        }
        (next != *state).then_some(next)
    }

    fn properties(&self) -> Vec<Property<Self>> {
        let mut all = vec![
            Property::sometimes("answers unseen of each other are told", unseen_is_told),
            Property::always("fit only over living proofs", fit_only_over_proofs),
            Property::always("nobody reviews their own work", no_own_review),
            Property::always("what the desk allows counts", own_writing_counts),
            Property::always("those who met say the same", met_say_the_same),
        ];
        if self.most > 3 {
            all.push(Property::sometimes("fit over the answers of two devices", fit_over_two_devices));
        }
        all
    }
}

#[track_caller]
fn explore(shed: Shed, states: usize) {
    let checker = shed.checker().threads(2).spawn_bfs().join();
    checker.assert_properties();
    assert_eq!(checker.unique_state_count(), states, "states reached");
}

#[test]
fn two_devices_and_four_entries() {
    explore(Shed::new(2, 4, 2), 43_814);
}

#[test]
fn three_devices_and_three_entries() {
    explore(Shed::new(3, 3, 2), 41_581);
}
