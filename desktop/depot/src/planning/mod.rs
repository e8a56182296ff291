//! Working back from the off-shed time over a pack's own steps: light up by, crew on by, when each step starts, and what
//! is late already.
//!
//! The steps, their minutes, their order and who may do them are the pack's; what a sheet says is done counts as done.
//! Between the step that lights the fire and those that want pressure stands the time that the heating limit takes.
//! A plan is advice: it counts minutes, skips nothing, and says nothing of whether an engine may leave.

mod crew;
mod heat;
mod route;
mod view;

pub use crew::MOST_HANDS;
pub use heat::{COLD_C, Heat, USUAL, WARM_C};
pub use route::Way;
pub use view::{HandView, LateView, PlanRowView, PlanView, view};

use std::collections::BTreeMap;
use std::fmt;

use offshed_core::engine::EngineState;
use offshed_core::ident::{EngineId, GradeId, SequenceId, Set, StateId, StepId};
use offshed_core::pack::{Pack, Rule};
use offshed_core::plan::{Activity, Grades, NoPlan, Plan, Row, StepTime, Timing, Work, plan};
use offshed_core::register::Register;
use offshed_core::sheet::{Sheet, Stage};
use offshed_core::stamp::{Now, Stamp};
use offshed_core::units::{Quantity, Reading};
use offshed_core::verdict::{self, Scene, StepState, Who};

use crate::ids::Ids;
use crate::ledger::Ledger;
use crate::packfile::PackFile;
use crew::Crew;
use heat::{Heating, heatings, left};
use route::Route;

/// A step that is done already.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DoneStep {
    /// Its proof is alive.
    pub alive: bool,
    /// When it was done.
    pub at: Stamp,
    /// What was read.
    pub value: Option<Reading>,
}

/// What is done already on an engine; by default nothing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Begun {
    /// The engine's states.
    pub states: Set,
    /// It is in steam.
    pub in_steam: bool,
    /// Steps of the sequence that are done.
    pub steps: BTreeMap<StepId, DoneStep>,
}

/// What is asked.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The sequence that leads off shed.
    pub sequence: SequenceId,
    /// What the engine has.
    pub features: Set,
    /// When it must be off shed.
    pub off_shed: Stamp,
    /// Now.
    pub now: Stamp,
    /// The grade of each person at hand, at most [`MOST_HANDS`]; none: one of each grade that the steps ask for.
    pub hands: &'a [GradeId],
    /// What is known of the boiler's heat.
    pub heat: Heat,
}

/// What a row of a plan is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum What {
    /// A step that is not done yet.
    Step(StepId),
    /// Raising steam to a pressure.
    Raising {
        /// The pressure, kPa.
        kpa: f64,
        /// The pressure as the pack writes it; `None`: first steam, or the working pressure.
        told: Option<Reading>,
    },
    /// A waiting time of the pack.
    Waiting {
        /// The step that it counts from.
        since: StepId,
    },
}

/// One row of a plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlannedRow {
    /// What it is.
    pub what: What,
    /// Minutes that are left of it.
    pub minutes: u32,
    /// The latest moment it starts, whatever the crew.
    pub latest_start: Stamp,
    /// The moment planned for those at hand.
    pub planned_start: Stamp,
    /// Place in [`Planned::hands`] of who does it.
    pub hand: Option<usize>,
    /// Any delay of it delays off shed.
    pub critical: bool,
    /// Whether it can still be in time.
    pub timing: Timing,
}

/// A proof that this plan would let lapse before it is used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lapse {
    /// The step that is proven.
    pub step: StepId,
    /// The step that still wants the proof.
    pub before: StepId,
    /// Seconds the proof lives for that.
    pub life_seconds: u32,
}

/// Somebody at hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hand {
    /// The grade.
    pub grade: GradeId,
    /// When the first thing planned for them starts; `None`: nothing is.
    pub on_by: Option<Stamp>,
}

/// A plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Planned {
    /// The sequence.
    pub sequence: SequenceId,
    /// When the engine must be off shed.
    pub off_shed: Stamp,
    /// The moment the plan speaks of.
    pub now: Stamp,
    /// Which way the boiler is brought into steam.
    pub way: Way,
    /// The step that lights the fire, when it is still to be done, and its planned start.
    pub light_up_by: Option<(StepId, Stamp)>,
    /// When the first person is wanted; `None`: nothing is left to do.
    pub crew_on_by: Option<Stamp>,
    /// Who is at hand.
    pub hands: Vec<Hand>,
    /// Whether nobody was named and one of each grade is supposed.
    pub hands_supposed: bool,
    /// Minutes that no sharing among these people can beat.
    pub least_minutes: u32,
    /// Minutes that this plan needs.
    pub planned_minutes: u32,
    /// Off shed at the earliest when everything goes on from now as planned.
    pub expected: Stamp,
    /// What is left to do, by planned start.
    pub rows: Vec<PlannedRow>,
    /// Steps of the plan that are done.
    pub done: usize,
    /// Steps that apply, but that nothing asks for on this way.
    pub left_out: Vec<StepId>,
    /// Proofs that other sheets must bring.
    pub elsewhere: Vec<StepId>,
    /// States that a step wants and that no step of this sequence brings.
    pub wanting: Vec<(StepId, StateId)>,
    /// Proofs that would lapse before they are used.
    pub lapses: Vec<Lapse>,
    /// A pressure step was left without heating time because no working pressure is known.
    pub working_pressure_missing: bool,
}

impl Planned {
    /// What should have started by now, the latest first to be late first.
    pub fn late(&self) -> impl Iterator<Item = &PlannedRow> {
        self.rows.iter().filter(|row| matches!(row.timing, Timing::Late { .. } | Timing::BehindPlan { .. }))
    }
}

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq)]
pub enum NotPlanned {
    /// The off-shed time is not after now.
    Past {
        /// Minutes since.
        minutes: i64,
    },
    /// No turn is booked for the engine.
    NoTurn {
        /// The engine.
        engine: EngineId,
    },
    /// The engine has left the shed.
    Away {
        /// The engine.
        engine: EngineId,
    },
    /// The register does not know the engine.
    NoEngine {
        /// The engine.
        engine: EngineId,
    },
    /// The rules are not here.
    NoPack,
    /// The pack has no sequence that leads off shed.
    NoSequence,
    /// More than [`MOST_HANDS`] people.
    TooManyHands {
        /// How many.
        given: usize,
    },
    /// Nobody at hand may act in a grade.
    Nobody {
        /// The first step that asks for it.
        step: String,
        /// The grade's name.
        grade: String,
        /// The grade's id.
        id: String,
        /// How many steps ask for it.
        asks: usize,
        /// Who is at hand.
        hands: Vec<String>,
    },
    /// A step wants somebody else than who does another, and nobody else is at hand.
    NobodyElse {
        /// The step.
        step: String,
        /// The grade's name.
        grade: String,
        /// The grade's id.
        id: String,
    },
    /// A step wants more than the engine's working pressure.
    Pressure {
        /// The step.
        step: String,
        /// What it wants, kPa.
        wanted_kpa: f64,
        /// The working pressure, kPa.
        working_kpa: f64,
    },
    /// A number is out of range.
    Number {
        /// Which, and what would do.
        words: String,
    },
    /// The steps make no network.
    Network(NoPlan),
}

impl fmt::Display for NotPlanned {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NotPlanned::Past { minutes } => {
                write!(f, "the off-shed time is past, by {minutes} min; give a later one, with its day")
            }
            NotPlanned::NoTurn { engine } => {
                write!(f, "no turn is booked for engine {engine}; book one, or give an off-shed time")
            }
            NotPlanned::Away { engine } => write!(f, "engine {engine} is off shed; there is nothing to plan"),
            NotPlanned::NoEngine { engine } => write!(f, "the register has no engine {engine}; register it first"),
            NotPlanned::NoPack => {
                f.write_str("the rules are not here; adopt a pack, or sync with a device that has it")
            }
            NotPlanned::NoSequence => f.write_str("the pack has no sequence that leads off shed; name the sequence"),
            NotPlanned::TooManyHands { given } => write!(f, "{given} people at hand; give {MOST_HANDS} or fewer"),
            NotPlanned::Nobody { step, grade, id, asks, hands } => write!(
                f,
                "nobody at hand may act as {grade} ({id}), as {asks} step(s) want, first \"{step}\"; at hand: {}; add \
                 such a person",
                if hands.is_empty() { "nobody".to_owned() } else { hands.join(", ") }
            ),
            NotPlanned::NobodyElse { step, grade, id } => {
                write!(f, "\"{step}\" wants another person as {grade} ({id}), and nobody else is at hand; add one")
            }
            NotPlanned::Pressure { step, wanted_kpa, working_kpa } => write!(
                f,
                "\"{step}\" wants {wanted_kpa:.0} kPa, more than the working pressure, {working_kpa:.0} kPa; correct the \
                 pressure, or the pack"
            ),
            NotPlanned::Number { words } => f.write_str(words),
            NotPlanned::Network(bad) => bad.fmt(f),
        }
    }
}

impl std::error::Error for NotPlanned {}

/// Names of a pack's things.
pub(crate) struct Words<'a> {
    pack: Pack<'a>,
    file: &'a PackFile,
}

impl<'a> Words<'a> {
    pub(crate) fn of(file: &'a PackFile) -> Words<'a> {
        Words { pack: file.pack(), file }
    }

    fn step(&self, step: StepId) -> String {
        self.file.texts().get(self.pack.step_title(step)).to_owned()
    }

    fn grade(&self, grade: GradeId) -> String {
        self.file.texts().get(self.pack.grade_name(grade)).to_owned()
    }

    fn grade_id(&self, grade: GradeId) -> String {
        Ids::of(self.file).grade_id(grade)
    }

    fn state(&self, state: StateId) -> String {
        self.file.texts().get(self.pack.state_name(state)).to_owned()
    }
}

/// The sequence that leads off shed: the one whose closing step brings the state of an engine that has left.
pub fn leading_out(pack: &Pack<'_>) -> Option<SequenceId> {
    let away = pack.head().away?;
    pack.all_steps().find(|step| step.closes && step.sets.has(away.0)).map(|step| step.sequence)
}

/// Plans a sequence, with what is begun already.
///
/// # Errors
/// [`NotPlanned`].
pub fn work_back(file: &PackFile, asked: &Asked<'_>, begun: &Begun) -> Result<Planned, NotPlanned> {
    let late = asked.now.since(asked.off_shed);
    if late >= 0 {
        return Err(NotPlanned::Past { minutes: late / 60 });
    }
    let (pack, words) = (file.pack(), Words::of(file));
    let warm = begun.in_steam || asked.heat.water_c.is_some_and(|celsius| celsius > WARM_C);
    let way = if warm { Way::Warm } else { Way::Cold };
    let route = Route::find(&pack, asked.sequence, asked.features, way, begun);
    let crew = Crew::gather(&pack, &words, &route, begun, asked.hands)?;
    let heatings = heatings(&pack, &words, &route, begun, &asked.heat, asked.now)?;
    let net = Net::lay(&route, &crew, &heatings, begun, asked.now);
    let people = crew.each();
    let work = Work { off_shed: asked.off_shed, now: asked.now, activities: &net.activities(), crew: &people };
    let (mut rows, mut busy) = (vec![Row::default(); net.nodes.len()], vec![0; people.len()]);
    let plan = plan(work, &mut rows, &mut busy).map_err(|bad| net.fault(&words, bad))?;
    let mut planned = told(asked, &route, &crew, &net, &plan, begun);
    planned.way = way;
    planned.working_pressure_missing = asked.heat.working_kpa.is_none() && route.lit.is_some();
    Ok(planned)
}

/// One activity of the network.
struct Node {
    what: What,
    minutes: u32,
    after: Vec<u16>,
    people: Grades,
    done: bool,
}

/// The network that is planned: the held rows, then heating, then waiting times.
struct Net {
    nodes: Vec<Node>,
    /// For each row of the route, its node.
    of_row: Vec<Option<u16>>,
}

impl Net {
    fn lay(route: &Route, crew: &Crew, heatings: &[Heating], begun: &Begun, now: Stamp) -> Net {
        // Last first: where two steps could be placed last, the later one of the sequence is.
        let held: Vec<usize> = (0..route.rows.len()).rev().filter(|n| route.holds(*n)).collect();
        let mut of_row = vec![None; route.rows.len()];
        for (node, row) in (0u16..).zip(&held) {
            if let Some(place) = of_row.get_mut(*row) {
                *place = Some(node);
            }
        }
        let mut net = Net { nodes: Vec::new(), of_row };
        for row in held {
            net.step(route, crew, begun, row);
        }
        for heating in heatings {
            net.heat(route, heating);
        }
        for wait in &route.waits {
            let since = route.rows.get(wait.since).map(|row| row.id);
            let done = since.and_then(|step| begun.steps.get(&step)).map(|done| done.at);
            let minutes = left(wait.seconds.div_ceil(60), done, now);
            if let Some(since) = since {
                net.between(&[wait.since], What::Waiting { since }, minutes, &[wait.step]);
            }
        }
        net
    }

    fn node(&self, row: usize) -> Option<u16> {
        self.of_row.get(row).copied().flatten()
    }

    fn step(&mut self, route: &Route, crew: &Crew, begun: &Begun, n: usize) {
        let Some(row) = route.rows.get(n) else { return };
        let after = route.before.get(n).into_iter().flatten().filter_map(|before| self.node(*before)).collect();
        let done = route.done(n, begun);
        let people = if done { Grades::NONE } else { crew.people(n) };
        // What is done waits for nothing.
        let after = if done { Vec::new() } else { after };
        self.nodes.push(Node { what: What::Step(row.id), minutes: row.minutes.into(), after, people, done });
    }

    fn heat(&mut self, route: &Route, heating: &Heating) {
        let what = What::Raising { kpa: heating.kpa, told: heating.told };
        let lit: Vec<usize> = route.lit.into_iter().collect();
        self.between(&lit, what, heating.minutes, &heating.steps);
    }

    /// A time that nobody works in, after some rows and before others.
    fn between(&mut self, after: &[usize], what: What, minutes: u32, before: &[usize]) {
        // A sheet has far fewer steps, pressures and waits than 16 bits count.
        let Ok(place) = u16::try_from(self.nodes.len()) else { return };
        let after = after.iter().filter_map(|row| self.node(*row)).collect();
        self.nodes.push(Node { what, minutes, after, people: Grades::NONE, done: minutes == 0 });
        for row in before {
            let node = self.node(*row).and_then(|n| self.nodes.get_mut(usize::from(n)));
            if let Some(node) = node.filter(|node| !node.done) {
                node.after.push(place);
            }
        }
    }

    fn activities(&self) -> Vec<Activity<'_>> {
        let all = (0u16..).zip(&self.nodes);
        all.map(|(id, node)| Activity {
            id,
            minutes: node.minutes,
            after: &node.after,
            grades: node.people,
            done: node.done,
        })
        .collect()
    }

    /// A fault of the core under the step's own name.
    fn fault(&self, words: &Words<'_>, bad: NoPlan) -> NotPlanned {
        let (NoPlan::Cycle { id } | NoPlan::Nobody { id }) = bad else { return NotPlanned::Network(bad) };
        match self.nodes.get(usize::from(id)).map(|node| node.what) {
            Some(What::Step(step)) => NotPlanned::Number { words: format!("\"{}\": {bad}", words.step(step)) },
            _ => NotPlanned::Network(bad),
        }
    }
}

fn told(asked: &Asked<'_>, route: &Route, crew: &Crew, net: &Net, plan: &Plan<'_>, begun: &Begun) -> Planned {
    let times: Vec<StepTime> = plan.steps().collect();
    let open = times.iter().zip(&net.nodes).filter(|(_, node)| !node.done);
    let mut rows: Vec<PlannedRow> = open.map(|(time, node)| row(time, node)).collect();
    rows.reverse();
    rows.sort_by_key(|row| (row.planned_start, row.latest_start));
    let lit = route.lit.and_then(|n| route.rows.get(n)).map(|row| row.id);
    let light_up_by = rows.iter().find(|row| lit.is_some_and(|lit| row.what == What::Step(lit)));
    let hand = |(n, grade): (u16, &GradeId)| Hand { grade: *grade, on_by: plan.person_on_by(n) };
    Planned {
        sequence: asked.sequence,
        off_shed: asked.off_shed,
        now: asked.now,
        way: Way::Cold,
        light_up_by: light_up_by.and_then(|row| Some((lit?, row.planned_start))),
        crew_on_by: plan.crew_on_by(),
        hands: (0u16..).zip(&crew.hands).map(hand).collect(),
        hands_supposed: asked.hands.is_empty(),
        least_minutes: plan.least_minutes(),
        planned_minutes: plan.planned_minutes(),
        expected: plan.off_shed_expected(),
        done: net.nodes.iter().filter(|node| node.done && matches!(node.what, What::Step(_))).count(),
        left_out: route.left_out(),
        elsewhere: route.elsewhere.iter().copied().collect(),
        wanting: route.wanting.iter().copied().collect(),
        lapses: lapses(route, &rows, begun),
        working_pressure_missing: false,
        rows,
    }
}

fn row(time: &StepTime, node: &Node) -> PlannedRow {
    PlannedRow {
        what: node.what,
        minutes: node.minutes,
        latest_start: time.latest_start,
        planned_start: time.planned_start,
        hand: time.person.map(usize::from),
        critical: time.critical,
        timing: time.timing,
    }
}

/// Proofs that are wanted alive for longer than they live: from the end of the one step to the end of the other.
fn lapses(route: &Route, rows: &[PlannedRow], begun: &Begun) -> Vec<Lapse> {
    let end = |step: StepId| {
        let row = rows.iter().find(|row| row.what == What::Step(step))?;
        Some(row.planned_start.plus(i64::from(row.minutes) * 60))
    };
    let mut found = Vec::new();
    for (row, rules) in route.rows.iter().zip(&route.rules) {
        let Some(used) = end(row.id) else { continue };
        for (step, within) in rules.iter().flat_map(|rule| living(*rule)) {
            let life = route.rows.iter().find(|r| r.id == step).map_or(0, |r| r.life_seconds);
            let life = within.map_or(life, |within| if life == 0 { within } else { within.min(life) });
            let made = end(step).or_else(|| begun.steps.get(&step).map(|done| done.at));
            if life > 0 && made.is_some_and(|made| used.since(made) > i64::from(life)) {
                found.push(Lapse { step, before: row.id, life_seconds: life });
            }
        }
    }
    found
}

/// The proofs that a rule wants alive, each with a shorter life where the rule gives one.
fn living(rule: Rule) -> Vec<(StepId, Option<u32>)> {
    match rule {
        Rule::Fresh { step, within_seconds } => vec![(step, within_seconds)],
        Rule::Within { step, .. } => vec![(step, None)],
        Rule::Agree { a, b, .. } => vec![(a, None), (b, None)],
        _ => Vec::new(),
    }
}

/// What is asked of an engine of the register; what is left out, the register knows.
#[derive(Clone, Copy, Debug, Default)]
pub struct EngineAsked<'a> {
    /// The off-shed time; left out: the booked turn's.
    pub off_shed: Option<Stamp>,
    /// The sequence; left out: the one that leads off shed.
    pub sequence: Option<SequenceId>,
    /// As [`Asked::hands`].
    pub hands: &'a [GradeId],
    /// The water's temperature now, °C.
    pub water_c: Option<f64>,
    /// The heating limit; left out: [`USUAL`].
    pub limit: Option<offshed_core::plan::Raising>,
}

/// An engine's plan, with the rules it was made under.
#[derive(Clone, Debug)]
pub struct EnginePlan<'a> {
    /// The rules: those of its open sheet, or the adopted ones.
    pub pack: &'a PackFile,
    /// The turn it is planned for.
    pub turn: Option<&'a str>,
    /// The plan.
    pub planned: Planned,
}

/// Plans an engine's way off shed: what its open sheet proves counts as done.
///
/// # Errors
/// [`NotPlanned`].
pub fn engine<'a>(
    ledger: &'a Ledger,
    id: EngineId,
    asked: &EngineAsked<'_>,
    now: Now,
) -> Result<EnginePlan<'a>, NotPlanned> {
    let facts = ledger.office.engine(id).ok_or(NotPlanned::NoEngine { engine: id })?;
    let adopted = ledger.adopted();
    let sequence = asked.sequence.or_else(|| leading_out(&adopted?.pack()));
    let sheet = open_sheet(ledger, id, sequence.or_else(|| leading_out(&adopted?.pack())));
    let pack = sheet.and_then(|sheet| ledger.pack(sheet.pack)).or(adopted).ok_or(NotPlanned::NoPack)?;
    let sequence = sequence.or_else(|| leading_out(&pack.pack())).ok_or(NotPlanned::NoSequence)?;
    let begun = begun(ledger, pack, id, sheet, now);
    if pack.pack().head().away.is_some_and(|state| begun.states.has(state.0)) {
        return Err(NotPlanned::Away { engine: id });
    }
    let turn = ledger.office.turn(id, now.stamp);
    let off_shed = asked.off_shed.or(turn.map(|(at, _)| at)).ok_or(NotPlanned::NoTurn { engine: id })?;
    let working = facts.working.and_then(|reading| reading.in_base(Quantity::Pressure, None).ok());
    let heat = Heat {
        limit: asked.limit.unwrap_or(USUAL),
        water_c: asked.water_c,
        working_kpa: working.map(|milli| milli as f64 / 1_000.0),
    };
    let asked = Asked { sequence, features: facts.features, off_shed, now: now.stamp, hands: asked.hands, heat };
    let planned = work_back(pack, &asked, &begun)?;
    let turn = turn.filter(|(at, _)| *at == off_shed).map(|(_, name)| name);
    Ok(EnginePlan { pack, turn, planned })
}

/// The engine's open sheet of a sequence; of several, the one opened last.
fn open_sheet(ledger: &Ledger, id: EngineId, sequence: Option<SequenceId>) -> Option<&Sheet> {
    let open = ledger.sheets().filter(|s| s.engine == id && Some(s.sequence) == sequence && s.stage() == Stage::Open);
    open.max_by_key(|sheet| (sheet.opened, sheet.id))
}

/// What is done on an engine.
fn begun(ledger: &Ledger, file: &PackFile, id: EngineId, sheet: Option<&Sheet>, now: Now) -> Begun {
    let nothing = EngineState::new(id);
    let engine = ledger.engine(id).unwrap_or(&nothing);
    let pack = file.pack();
    let in_steam = pack.head().steam.is_some_and(|state| engine.is_in(state));
    let mut begun = Begun { states: engine.states(), in_steam, steps: BTreeMap::new() };
    let Some(sheet) = sheet else { return begun };
    let scene = Scene { pack: &pack, register: &ledger.office, engine, sheet: Some(sheet), left_at: None };
    for row in pack.steps(sheet.sequence) {
        let (mark, alive) = match verdict::of(&scene, row.id, Who::default(), now) {
            StepState::Proven { mark, .. } => (mark, true),
            StepState::Skipped { mark } => (mark, true),
            StepState::Gone { mark, .. } => (mark, false),
            _ => continue,
        };
        let done = DoneStep { alive, at: mark.proof.at, value: mark.proof.value };
        begun.steps.insert(row.id, done);
    }
    begun
}
