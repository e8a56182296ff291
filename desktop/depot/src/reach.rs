//! Reachability: timed runs of a compiled pack through the real rules, until every step was proven once and the engine
//! was fit once. What no run reaches, no crew could.
//!
//! The runs are made on an invented engine that has every feature, by people who hold every grade.

use std::collections::BTreeSet;
use std::convert::Infallible;
use std::fmt;

use offshed_core::boiler::record::ProductRecord;
use offshed_core::desk::{Desk, Staffing, Store, View};
use offshed_core::engine::EngineState;
use offshed_core::entry::{Answer, Entry, Fact, Review, What};
use offshed_core::fitness::Verdict;
use offshed_core::ident::{DeviceId, EngineId, EventId, PersonId, ProductId, RoadId, SequenceId, Set, SheetId, StepId};
use offshed_core::pack::rows::{KindRow, StepRow};
use offshed_core::pack::{Pack, Rule};
use offshed_core::reason::Why;
use offshed_core::sheet::Stage;
use offshed_core::stamp::{Clock, Day, Hlc, Now, Stamp};
use offshed_core::units::{Reading, Unit};
use offshed_core::verdict::{self, StepState, Who};

use crate::ids::Ids;
use crate::ledger::Ledger;
use crate::packfile::PackFile;
use crate::passing::Passer;
use crate::reckon::{boiler, road};
use crate::shed::scene;

/// What no run reached.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unreached {
    /// The bytes are no pack.
    Pack(String),
    /// A step, with what stood in its way at the end of the last run.
    Step {
        /// The step's id.
        step: String,
        /// What stood in its way.
        reasons: Vec<String>,
    },
    /// No run left the engine fit.
    Fitness {
        /// What stood in its way at the end of the last run.
        reasons: Vec<String>,
    },
}

impl fmt::Display for Unreached {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Unreached::Pack(fault) => write!(f, "{fault}"),
            Unreached::Step { step, reasons } => {
                write!(f, "no run reaches step `{step}`: {}", reasons.join("; "))
            }
            Unreached::Fitness { reasons } => write!(f, "no run leaves the engine fit: {}", reasons.join("; ")),
        }
    }
}

/// A run that reached something new: what was worked, after which event.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    /// An event before the last sequence.
    pub event: Option<String>,
    /// The sequences, in order.
    pub sequences: Vec<String>,
    /// How many steps it was the first to reach.
    pub reached: usize,
    /// Hours from first to last entry.
    pub hours: i64,
}

struct Nowhere;

impl Store for Nowhere {
    type Error = Infallible;

    fn append(&mut self, _: &Entry, _: &[u8]) -> Result<(), Infallible> {
        Ok(())
    }
}

const ENGINE: EngineId = EngineId(1);
/// 2026-05-02 06:00 UTC, a Saturday.
const START: Stamp = Stamp(1_777_701_600);
/// People a grade: a step, its second person, a signature by somebody else and a review by somebody else again.
const PEOPLE: u16 = 6;

struct Shift<'p> {
    file: &'p PackFile,
    ledger: Ledger,
    desk: Desk<Nowhere>,
    now: Now,
}

/// Runs a compiled pack until every step was proven and the engine was fit.
///
/// # Errors
/// The first step, or fitness, that no run reaches.
pub fn prove(bytes: &[u8]) -> Result<Vec<Run>, Unreached> {
    let file = PackFile::from_bytes(bytes.to_vec()).map_err(|fault| Unreached::Pack(fault.to_string()))?;
    let ids = Ids::of(&file);
    let pack = file.pack();
    let mut wanted: BTreeSet<StepId> = pack.all_steps().map(|s| s.id).collect();
    let mut runs = Vec::new();
    let mut fit = pack.fitness_needs().next().is_none();
    let mut unfit = Vec::new();
    let sequences: Vec<SequenceId> = pack.sequences().map(|s| s.id).collect();
    let events = || std::iter::once(None).chain(pack.events().map(|e| Some(e.id)));
    for (event, plan) in plans(&pack, &sequences, events) {
        let Some(last) = plan.last() else { continue };
        if fit && !pack.steps(*last).any(|step| wanted.contains(&step.id)) {
            continue;
        }
        let mut shift = Shift::start(&file);
        for (n, id) in plan.iter().enumerate() {
            if let (true, Some(event)) = (n + 1 == plan.len(), event) {
                shift.happen(event);
            }
            fit |= shift.work(*id, !fit, &mut unfit);
        }
        let reached = shift.proven().iter().filter(|step| wanted.remove(step)).count();
        if reached > 0 {
            runs.push(Run {
                event: event.map(|e| ids.event_id(e)),
                sequences: plan.iter().map(|s| ids.sequence_id(*s)).collect(),
                reached,
                hours: shift.now.stamp.since(START) / 3_600,
            });
        }
    }
    if let Some(step) = wanted.first() {
        return Err(Shift::start(&file).stuck(*step));
    }
    if fit { Ok(runs) } else { Err(Unreached::Fitness { reasons: unfit }) }
}

/// Every sequence alone, then after each other one, then taken up again after each other one, then after all those whose
/// proofs it builds on; then all of these with an event before the last.
fn plans<I: Iterator<Item = Option<EventId>>>(
    pack: &Pack<'_>,
    sequences: &[SequenceId],
    events: impl Fn() -> I,
) -> Vec<(Option<EventId>, Vec<SequenceId>)> {
    let others = |own: SequenceId| sequences.iter().copied().filter(move |other| *other != own);
    let alone = sequences.iter().map(|s| vec![*s]);
    let after = sequences.iter().flat_map(|s| others(*s).map(|other| vec![other, *s]));
    let resumed = sequences.iter().flat_map(|s| others(*s).map(|other| vec![*s, other, *s]));
    let built = sequences.iter().map(|s| chain(pack, *s));
    let plans: Vec<Vec<SequenceId>> = alone.chain(after).chain(resumed).chain(built).collect();
    events().flat_map(|event| plans.iter().map(move |plan| (event, plan.clone()))).collect()
}

/// The sequences whose proofs a sequence asks for, those that they ask for before them, and itself last.
fn chain(pack: &Pack<'_>, sequence: SequenceId) -> Vec<SequenceId> {
    fn add(pack: &Pack<'_>, sequence: SequenceId, seen: &mut BTreeSet<SequenceId>, chain: &mut Vec<SequenceId>) {
        if !seen.insert(sequence) {
            return;
        }
        let rules = pack.steps(sequence).flat_map(|step| pack.needs(step.needs)).map(|need| need.rule);
        let asked: Vec<SequenceId> = rules.filter_map(alive).filter_map(|id| Some(pack.step(id)?.sequence)).collect();
        asked.into_iter().for_each(|other| add(pack, other, seen, chain));
        chain.push(sequence);
    }
    let mut found = Vec::new();
    add(pack, sequence, &mut BTreeSet::new(), &mut found);
    found
}

/// The step whose living proof a rule asks for.
fn alive(rule: Rule) -> Option<StepId> {
    match rule {
        Rule::After(step) | Rule::Fresh { step, .. } | Rule::Within { step, .. } => Some(step),
        _ => None,
    }
}

impl<'p> Shift<'p> {
    fn start(file: &'p PackFile) -> Shift<'p> {
        let ledger = Ledger::build(vec![file.clone()], Vec::new());
        let desk = Desk::new(DeviceId([1; 8]), 0, Hlc::default(), Nowhere);
        let now = Now { stamp: START, clock: Clock::Good };
        let mut shift = Shift { file, ledger, desk, now };
        shift.register(Fact::PackAdopted { pack: file.hash() });
        let pack = file.pack();
        for grade in pack.grades() {
            for n in 0..PEOPLE {
                let person = PersonId(u16::from(grade.id.0) * 100 + n);
                shift.register(Fact::Competence { person, grade: grade.id, until: None, held: true });
            }
        }
        let features = pack.features().fold(Set::EMPTY, |set, f| set.with(f.number));
        let working = Some(Reading::whole(160, Unit::Psi));
        shift.register(Fact::Engine { engine: ENGINE, name: Default::default(), features, glass_mm: 200, working });
        for fitting in pack.fittings() {
            let number = "1".try_into().unwrap_or_default();
            let fitting = offshed_core::ident::FittingId(fitting.number);
            shift.register(Fact::Fitted { engine: ENGINE, fitting, number });
        }
        shift.figures(&pack);
        let on = Day::of(chrono::DateTime::from_timestamp(START.0, 0).unwrap_or_default().date_naive());
        for due in pack.dues() {
            shift.register(Fact::DueDone { engine: ENGINE, due: due.id, on, days_before: 0 });
        }
        shift
    }

    /// What figures are computed from: the demo's boiler and road, every product, feed water.
    fn figures(&mut self, pack: &Pack<'_>) {
        let road = RoadId(1);
        if let Some(boiler) = boiler::read("demo", boiler::DEMO).ok().and_then(|b| b.record().ok()) {
            self.register(Fact::Boiler { engine: ENGINE, boiler });
        }
        let facts = road::read("demo", road::DEMO).ok().and_then(|r| r.facts(road).ok());
        facts.unwrap_or_default().into_iter().for_each(|fact| self.register(fact));
        self.register(Fact::UsualRoad { engine: ENGINE, road: Some(road) });
        for product in pack.products() {
            let bought = ProductRecord { strength_millionths: 350_000, measure: None };
            self.register(Fact::Product { product: ProductId(product.number), bought });
        }
        let (solids, temperature) = (Reading::whole(100, Unit::MgPerL), Reading::whole(15, Unit::Celsius));
        self.register(Fact::FeedWater { solids, temperature });
    }

    /// The office states a fact; it always may while nobody has to ask.
    fn register(&mut self, fact: Fact) {
        let office = &self.ledger.office;
        let view = View { pack: None, register: office, engine: None, sheet: None, office: Staffing::Never };
        if let Ok(entry) = self.desk.act(&view, What::Registered(fact), PersonId(0), self.now) {
            self.ledger.take(entry);
        }
    }

    fn act(&mut self, what: What, person: PersonId) -> Result<Entry, Why> {
        let pack = self.file.pack();
        let nothing = EngineState::new(ENGINE);
        let engine = self.ledger.engine(ENGINE).unwrap_or(&nothing);
        let sheet = match &what {
            What::Answered { sheet, .. } => self.ledger.sheet(*sheet),
            _ => None,
        };
        let view = View {
            pack: Some(&pack),
            register: &self.ledger.office,
            engine: Some(engine),
            sheet,
            office: Staffing::Staffed,
        };
        match self.desk.act(&view, what, person, self.now) {
            Ok(entry) => {
                self.ledger.take(entry.clone());
                Ok(entry)
            }
            Err(offshed_core::desk::Denied::Refused(why)) => Err(why),
            Err(_) => Err(Why::PackMissing),
        }
    }

    fn people(&self) -> Vec<PersonId> {
        self.ledger.office.people.keys().copied().filter(|p| p.0 != 0).collect()
    }

    fn happen(&mut self, event: EventId) {
        let by = self.file.pack().event(event).map(|e| e.by.0);
        let Some(grade) = by else { return };
        let what = What::Happened { engine: ENGINE, event, words: Default::default(), done_at: None };
        let _ = self.act(what, PersonId(u16::from(grade) * 100));
    }

    /// Works a sequence as far as it goes, on its open sheet or a new one; answers whether the engine was fit at any
    /// moment, where that is asked, else why it was not.
    fn work(&mut self, sequence: SequenceId, ask_fit: bool, unfit: &mut Vec<String>) -> bool {
        let Some(sheet) = self.sheet(sequence) else { return false };
        let mut fit = false;
        // Each step proves at most once a round, and a proof may lapse and be made again; the bound ends a run that
        // would turn in a circle.
        for _ in 0..600 {
            if !self.step(sheet, sequence) && !self.wait(sheet, sequence) {
                break;
            }
            fit |= ask_fit && !fit && self.ledger.fitness(ENGINE, self.now).verdict == Verdict::Fit;
        }
        if ask_fit && !fit {
            let fitness = self.ledger.fitness(ENGINE, self.now);
            let words = |r: &verdict::Reason| crate::shed::sentence(&self.ledger, None, &r.why, self.now.stamp);
            *unfit = fitness.reasons.iter().map(words).collect();
        }
        fit
    }

    /// The open sheet of a sequence, opened where there is none.
    fn sheet(&mut self, sequence: SequenceId) -> Option<SheetId> {
        let open = self.ledger.sheets().find(|s| s.sequence == sequence && s.stage() == Stage::Open).map(|s| s.id);
        if open.is_some() {
            return open;
        }
        let first = self.file.pack().steps(sequence).next().map_or(1, |s| s.by.0);
        let what = What::SheetOpened { engine: ENGINE, sequence, pack: self.file.hash() };
        self.act(what, PersonId(u16::from(first) * 100)).ok().map(|entry| entry.at)
    }

    /// Answers the first step that anybody may answer.
    fn step(&mut self, sheet: SheetId, sequence: SequenceId) -> bool {
        let steps: Vec<StepRow> = self.file.pack().steps(sequence).collect();
        steps.iter().any(|step| self.open(sheet, step.id) && self.answer(sheet, step))
    }

    fn open(&self, sheet: SheetId, step: StepId) -> bool {
        let state = scene(&self.ledger, sheet, |scene| verdict::of(scene, step, Who::default(), self.now));
        matches!(state, Some(StepState::Open | StepState::UnderWay { .. } | StepState::Gone { .. }))
    }

    fn answer(&mut self, sheet: SheetId, step: &StepRow) -> bool {
        let passing = scene(&self.ledger, sheet, |scene| {
            let passer = Passer { scene, now: self.now };
            passer.answer(scene.sheet?, step)
        });
        let seen = self.ledger.sheet(sheet).map(|s| s.heads().clone()).unwrap_or_default();
        let (answer, seconds) = match (passing.flatten(), step.kind) {
            (Some(passing), _) => (passing.answer, passing.seconds),
            (None, KindRow::Signature { review: false }) => (Answer::Signed { pack: self.file.hash(), seen }, 0),
            (None, _) => (Answer::Reviewed { outcome: Review::Accepted, words: Default::default(), seen }, 0),
        };
        self.now.stamp = self.now.stamp.plus(i64::from(seconds));
        let over = scene(&self.ledger, sheet, |scene| {
            scene.sheet.and_then(|s| offshed_core::fold::standing(scene.pack, s, step.id))
        });
        let pack = self.file.pack();
        let wanted = pack.needs(step.needs).find_map(|need| match need.rule {
            Rule::With(grade) => Some(u16::from(grade.0)),
            _ => None,
        });
        for person in self.people() {
            // A second person of the grade that is wanted, and not the first.
            let with = wanted.map(|grade| PersonId(grade * 100 + (person.0 + 1) % PEOPLE));
            let (answer, over) = (answer.clone(), over.flatten());
            let what = What::Answered { sheet, step: step.id, answer, done_at: None, with, over };
            if self.act(what, person).is_ok() {
                self.now.stamp = self.now.stamp.plus(5);
                return true;
            }
        }
        false
    }

    /// Nothing is open: waits for the first requirement that only time holds up.
    fn wait(&mut self, sheet: SheetId, sequence: SequenceId) -> bool {
        let until = scene(&self.ledger, sheet, |scene| {
            let steps = scene.pack.steps(sequence);
            let waits = steps.flat_map(|step| match verdict::of(scene, step.id, Who::default(), self.now) {
                StepState::Waiting(judged) => judged.reasons.iter().filter_map(too_soon).collect::<Vec<_>>(),
                _ => Vec::new(),
            });
            waits.min()
        });
        match until.flatten() {
            Some(until) if until > self.now.stamp => {
                self.now.stamp = until;
                true
            }
            _ => false,
        }
    }

    /// Every step that was ever proven.
    fn proven(&self) -> BTreeSet<StepId> {
        let pack: Pack<'_> = self.file.pack();
        let mut proven = BTreeSet::new();
        for sheet in self.ledger.sheets() {
            let steps = pack.steps(sheet.sequence).enumerate();
            proven.extend(steps.filter(|(place, _)| sheet.mark(*place).is_some()).map(|(_, step)| step.id));
        }
        proven
    }

    /// What stands in a step's way after a run of its own sequence.
    fn stuck(mut self, step: StepId) -> Unreached {
        let id = Ids::of(self.file).step_id(step);
        let Some(row) = self.file.pack().step(step) else { return Unreached::Step { step: id, reasons: Vec::new() } };
        self.work(row.sequence, false, &mut Vec::new());
        let sheet = self.ledger.sheets().next().map(|s| s.id);
        let judged = sheet.and_then(|sheet| {
            scene(&self.ledger, sheet, |scene| verdict::needs(scene, &row, Who::default(), self.now))
        });
        let reasons = judged.map(|j| j.reasons).unwrap_or_default();
        let words = |r: &verdict::Reason| crate::shed::sentence(&self.ledger, Some(self.file), &r.why, self.now.stamp);
        Unreached::Step { step: id, reasons: reasons.iter().map(words).collect() }
    }
}

fn too_soon(reason: &verdict::Reason) -> Option<Stamp> {
    match reason.why {
        Why::TooSoon { until, .. } => Some(until),
        _ => None,
    }
}
