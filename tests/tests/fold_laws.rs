//! Laws of the fold: what is folded live is what a replay folds; merging is a union, so it commutes, associates and may
//! be repeated; what two devices did unseen of each other is said, with both named.

use std::collections::BTreeMap;
use std::convert::Infallible;
use std::sync::OnceLock;

use offshed_core::desk::{Desk, Staffing, Store, View};
use offshed_core::engine::EngineState;
use offshed_core::entry::{Answer, Entry, Fact, What};
use offshed_core::ident::{DeviceId, EngineId, EntryRef, EventId, FittingId, PersonId, SheetId};
use offshed_core::pack::rows::{DefectGrade, KindRow};
use offshed_core::sheet::Contest;
use offshed_core::stamp::{Day, Hlc, Now, Stamp};
use offshed_core::units::{Reading, Unit};
use offshed_depot::ledger::Ledger;
use offshed_depot::packfile::PackFile;
use offshed_depot::passing::Passer;
use offshed_depot::shed::scene;
use offshed_tests::practice;
use proptest::prelude::*;

struct Nowhere;

impl Store for Nowhere {
    type Error = Infallible;
    fn append(&mut self, _: &Entry, _: &[u8]) -> Result<(), Infallible> {
        Ok(())
    }
}

const ENGINE: EngineId = EngineId(4);
const START: i64 = 1_777_701_600;

/// One device with what it has seen.
struct Device {
    desk: Desk<Nowhere>,
    ledger: Ledger,
    now: i64,
}

/// The practice pack, checked once.
fn pack() -> PackFile {
    static PACK: OnceLock<PackFile> = OnceLock::new();
    PACK.get_or_init(|| PackFile::from_bytes(practice().bytes.clone()).unwrap()).clone()
}

impl Device {
    fn new(n: u8) -> Device {
        let desk = Desk::new(DeviceId([n; 8]), 0, Hlc::default(), Nowhere);
        Device { desk, ledger: Ledger::build(vec![pack()], Vec::new()), now: START }
    }

    fn act(&mut self, what: What, person: u16) -> Option<Entry> {
        let file = pack();
        let pack = file.pack();
        let nothing = EngineState::new(ENGINE);
        let id = self.ledger.engine_of(&what).unwrap_or(ENGINE);
        let engine = Some(self.ledger.engine(id).unwrap_or(&nothing));
        let sheet = match &what {
            What::Answered { sheet, .. } | What::Struck { sheet, .. } => self.ledger.sheet(*sheet),
            _ => None,
        };
        let registers = matches!(what, What::Registered(_));
        let office = if registers { Staffing::Never } else { Staffing::Staffed };
        let view = View { pack: Some(&pack), register: &self.ledger.office, engine, sheet, office };
        let entry = self.desk.act(&view, what, PersonId(person), Now::good(Stamp(self.now))).ok()?;
        self.ledger.take(entry.clone());
        Some(entry)
    }

    /// People 1 to 8 hold grades 1 to 8; the engine has every feature and every date.
    fn register(&mut self) {
        let file = pack();
        let pack = file.pack();
        self.act(What::Registered(Fact::PackAdopted { pack: file.hash() }), 1);
        for grade in pack.grades() {
            let person = PersonId(grade.id.0.into());
            self.act(What::Registered(Fact::Competence { person, grade: grade.id, until: None, held: true }), 1);
        }
        let features = pack.features().fold(Default::default(), |s: offshed_core::ident::Set, f| s.with(f.number));
        let working = Some(Reading::whole(145, Unit::Psi));
        let engine = Fact::Engine { engine: ENGINE, name: Default::default(), features, glass_mm: 200, working };
        self.act(What::Registered(engine), 1);
        for fitting in pack.fittings() {
            let number = "1".try_into().unwrap();
            self.act(What::Registered(Fact::Fitted { engine: ENGINE, fitting: FittingId(fitting.number), number }), 1);
        }
        for due in pack.dues() {
            let on = Day((START / 86_400) as i32 - 3);
            self.act(What::Registered(Fact::DueDone { engine: ENGINE, due: due.id, on, days_before: 0 }), 1);
        }
    }

    /// One of many things a person may try; most are refused by the rules, which is the point.
    fn try_one(&mut self, choice: Choice) {
        self.now += i64::from(choice.pause);
        let person = u16::from(choice.person % 8) + 1;
        let sheets: Vec<SheetId> = self.ledger.sheets().map(|s| s.id).collect();
        let sheet = sheets.get(usize::from(choice.sheet) % sheets.len().max(1)).copied();
        let words = || "as found".try_into().unwrap();
        match (choice.kind % 16, sheet) {
            (0, _) | (_, None) => {
                let file = pack();
                let all: Vec<_> = file.pack().sequences().map(|s| s.id).collect();
                let sequence = all[usize::from(choice.step) % all.len()];
                self.act(What::SheetOpened { engine: ENGINE, sequence, pack: file.hash() }, person);
            }
            (1, _) => drop(self.act(What::TagHung { engine: ENGINE }, person)),
            (2, _) => drop(self.act(What::TagLifted { engine: ENGINE }, person)),
            (3, _) => {
                let event = EventId((choice.step % 25) as u8 + 1);
                self.act(What::Happened { engine: ENGINE, event, words: words(), done_at: None }, person);
            }
            (4, _) => {
                let what =
                    What::DefectOpened { engine: ENGINE, sheet, step: None, grade: DefectGrade::Note, words: words() };
                self.act(what, person);
            }
            (5, Some(sheet)) => self.answer(sheet, choice, Some(Answer::NotRight { words: words() })),
            (6, Some(sheet)) => {
                let marks = (0..96).filter_map(|n| self.ledger.sheet(sheet)?.mark(n).copied());
                let marks: Vec<_> = marks.collect();
                if let Some(mark) = marks.get(usize::from(choice.step) % marks.len().max(1)) {
                    let (step, entry) = (mark.proof.step, mark.proof.entry);
                    self.act(What::Struck { sheet, step, entry, reason: words() }, mark.proof.by.0);
                }
            }
            (_, Some(sheet)) => self.answer(sheet, choice, None),
        }
    }

    /// Answers a step as if all were well, or as given.
    fn answer(&mut self, sheet: SheetId, choice: Choice, given: Option<Answer>) {
        let file = pack();
        let Some(sequence) = self.ledger.sheet(sheet).map(|s| s.sequence) else { return };
        let steps: Vec<_> = file.pack().steps(sequence).collect();
        let step = steps[usize::from(choice.step) % steps.len()];
        let passing = scene(&self.ledger, sheet, |scene| {
            let passer = Passer { scene, now: Now::good(Stamp(self.now)) };
            passer.answer(scene.sheet?, &step).map(|p| p.answer)
        });
        let seen = self.ledger.sheet(sheet).map(|s| s.heads().clone()).unwrap_or_default();
        let signed = matches!(step.kind, KindRow::Signature { .. }).then(|| Answer::Signed { pack: file.hash(), seen });
        let Some(answer) = given.or(passing.flatten()).or(signed) else { return };
        let over = self.ledger.sheet(sheet).and_then(|s| offshed_core::fold::standing(&file.pack(), s, step.id));
        let what = What::Answered { sheet, step: step.id, answer, done_at: None, with: Some(PersonId(2)), over };
        self.act(what, u16::from(choice.person % 8) + 1);
    }

    fn take_all(&mut self, entries: &[Entry]) {
        let own = self.ledger.entries().cloned();
        let merged: BTreeMap<EntryRef, Entry> = own.chain(entries.iter().cloned()).map(|e| (e.at, e)).collect();
        self.ledger = Ledger::build(vec![pack()], merged.into_values().collect());
        self.desk.saw(self.ledger.clock());
    }
}

#[derive(Clone, Copy, Debug)]
struct Choice {
    device: bool,
    kind: u8,
    person: u8,
    sheet: u8,
    step: u16,
    pause: u16,
    meet: bool,
}

fn choice() -> impl Strategy<Value = Choice> {
    let rare = prop::bool::weighted(0.08);
    // Steps near the start of a sequence are open more often than those at its end.
    let step = prop_oneof![4 => 0u16..12, 1 => 0u16..96];
    (any::<bool>(), any::<u8>(), any::<u8>(), 0u8..2, step, 1u16..400, rare).prop_map(
        |(device, kind, person, sheet, step, pause, meet)| Choice { device, kind, person, sheet, step, pause, meet },
    )
}

/// Everything a fold came to, as text.
fn told(ledger: &Ledger) -> String {
    let sheets: Vec<String> = ledger.sheets().map(|s| format!("{s:?}")).collect();
    let engines: Vec<String> = ledger.engine_ids().into_iter().map(|id| format!("{:?}", ledger.engine(id))).collect();
    let fitness = ledger.fitness(ENGINE, Now::good(Stamp(START + 40_000)));
    format!("{sheets:#?}\n{engines:#?}\n{fitness:?}\n{:?}", ledger.adrift())
}

fn rebuilt(entries: Vec<Entry>) -> Ledger {
    Ledger::build(vec![pack()], entries)
}

/// Two devices at work for a while, meeting now and then.
fn work(choices: &[Choice]) -> [Device; 2] {
    let mut one = Device::new(1);
    one.register();
    let mut two = Device::new(2);
    two.take_all(&one.ledger.entries().cloned().collect::<Vec<_>>());
    let mut devices = [one, two];
    for choice in choices {
        if choice.meet {
            let both: Vec<Entry> = devices.iter().flat_map(|d| d.ledger.entries().cloned()).collect();
            devices.iter_mut().for_each(|d| d.take_all(&both));
        }
        devices[usize::from(choice.device)].try_one(*choice);
    }
    devices
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 192, ..ProptestConfig::default() })]

    #[test]
    fn replay_is_live(choices in prop::collection::vec(choice(), 1..120)) {
        for device in work(&choices) {
            let entries: Vec<Entry> = device.ledger.entries().cloned().collect();
            prop_assert_eq!(told(&device.ledger), told(&rebuilt(entries)));
        }
    }

    #[test]
    fn merging_commutes_associates_and_may_be_repeated(
        choices in prop::collection::vec(choice(), 1..120),
        cut in 0usize..200,
        seed in any::<u64>(),
    ) {
        let [one, two] = work(&choices);
        let a: Vec<Entry> = one.ledger.entries().cloned().collect();
        let b: Vec<Entry> = two.ledger.entries().cloned().collect();
        let (b1, b2) = b.split_at(cut % (b.len() + 1));
        let join = |parts: &[&[Entry]]| told(&rebuilt(parts.concat()));
        let whole = join(&[&a, &b]);
        prop_assert_eq!(&whole, &join(&[&b, &a]));
        prop_assert_eq!(&whole, &join(&[b2, &a, b1]));
        prop_assert_eq!(&whole, &join(&[&a, &b, &a, b1, &b]));
        let mut shuffled = [a, b].concat();
        let mut state = seed | 1;
        for n in (1..shuffled.len()).rev() {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            shuffled.swap(n, (state >> 33) as usize % (n + 1));
        }
        prop_assert_eq!(&whole, &told(&rebuilt(shuffled)));
    }

    #[test]
    fn more_entries_never_make_recorded_ones_vanish(choices in prop::collection::vec(choice(), 1..100)) {
        let [one, two] = work(&choices);
        let before: Vec<EntryRef> = one.ledger.entries().map(|e| e.at).collect();
        let all = one.ledger.entries().chain(two.ledger.entries()).cloned().collect();
        let merged = rebuilt(all);
        prop_assert!(before.iter().all(|at| merged.entry(*at).is_some()));
    }
}

#[test]
fn two_devices_that_answer_one_step_unseen_are_both_named() {
    let mut one = Device::new(1);
    one.register();
    let file = pack();
    let sequence = file.pack().sequences().next().unwrap().id;
    let opened = one.act(What::SheetOpened { engine: ENGINE, sequence, pack: file.hash() }, 2).unwrap().at;
    let mut two = Device::new(2);
    two.take_all(&one.ledger.entries().cloned().collect::<Vec<_>>());
    two.now = START + 60;
    let step = file.pack().steps(sequence).find(|s| s.kind == KindRow::Check && s.needs.len == 0).unwrap().id;
    let done = |answer| What::Answered { sheet: opened, step, answer, done_at: None, with: None, over: None };
    one.act(done(Answer::Done), 2).unwrap();
    two.act(done(Answer::NotRight { words: "leaks".try_into().unwrap() }), 3).unwrap();
    let all = one.ledger.entries().chain(two.ledger.entries()).cloned().collect();
    let merged = rebuilt(all);
    let contested = merged.sheet(opened).unwrap().contested().to_vec();
    assert_eq!(contested.len(), 1);
    assert_eq!(contested[0].entry.device, DeviceId([2; 8]));
    let Contest::Unseen { other } = contested[0].contest else { panic!("{contested:?}") };
    assert_eq!(other.device, DeviceId([1; 8]));
}

#[test]
fn what_arrives_after_a_signature_is_said() {
    let day = offshed_tests::day(&["05:00,office,,,sync,north
         05:00,north,21,4,open,preparation,,,p
         ,,,p,choose,found,2
         ,,,,work,date-plugs,5 s
         05:20,,,,work,fire-ready,5 s,31
         05:30,,,,work,open-fire,5 s
         06:00,,,,work,feed-2,5 s
         07:00,,,,work,regulator-tight,5 s
         07:15,,11,,work,running-brake,5 s
         ,north,,,sync,south
         07:30,north,21,p,work,level-final,5 s
         07:36,south,22,p,not-right,tools,,,,Coal pick is missing
         07:38,north,21,p,sign,fireman-signs
        "]);
    let sheet = day.ledger.sheets().next().unwrap();
    let late = sheet.contested().iter().filter(|c| matches!(c.contest, Contest::ArrivedAfterSigning { .. })).count();
    assert_eq!(late, 1, "{:?}", sheet.contested());
}
