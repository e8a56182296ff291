//! Working back from the off-shed time over a pack's own steps: light up by, crew on by, when each step starts, and what
//! is late already.
//!
//! The steps, their minutes, their order and who may do them are the pack's; what a sheet says is done counts as done.
//! Between the step that lights the fire and those that want pressure stands the time that the heating limit takes.
//! A plan is advice: it counts minutes, skips nothing, and says nothing of whether an engine may leave.

mod crew;
mod engine;
mod fault;
mod heat;
mod net;
mod route;
mod share;
mod view;

pub use crew::MOST_HANDS;
pub use engine::{EngineAsked, EnginePlan, engine};
pub use fault::NotPlanned;
pub use heat::{COLD_C, Heat, USUAL, WARM_C};
pub use route::Way;
pub use view::{HandView, LateView, PlanRowView, PlanView, view};

use std::collections::{BTreeMap, BTreeSet};

use offshed_core::ident::{GradeId, SequenceId, Set, StateId, StepId};
use offshed_core::pack::Pack;
use offshed_core::plan::Timing;
use offshed_core::stamp::Stamp;
use offshed_core::units::Reading;

use crate::ids::Ids;
use crate::packfile::PackFile;
use crew::Crew;
use heat::{heatings, wants_working};
use net::Net;
use route::Route;
use share::Shared;

/// A turn that should have left longer ago than this is not planned any more, seconds.
pub const MOST_LATE_SECONDS: i64 = 12 * 3_600;

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
    /// Steps of other sequences whose proofs are alive.
    pub elsewhere: BTreeSet<StepId>,
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
    /// Who is at hand; whoever may do least goes first.
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
    /// Steps that are done, as far as the sheet says.
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

/// Plans a sequence, with what is begun already; an off-shed time that is past makes everything late.
///
/// # Errors
/// [`NotPlanned`].
pub fn work_back(file: &PackFile, asked: &Asked<'_>, begun: &Begun) -> Result<Planned, NotPlanned> {
    let late = asked.now.since(asked.off_shed);
    if late > MOST_LATE_SECONDS {
        return Err(NotPlanned::Past { minutes: late / 60 });
    }
    let (pack, words) = (file.pack(), Words::of(file));
    let warm = begun.in_steam || asked.heat.water_c.is_some_and(|celsius| celsius > WARM_C);
    let way = if warm { Way::Warm } else { Way::Cold };
    let route = Route::find(&pack, asked.sequence, asked.features, way, begun);
    let crew = Crew::gather(&pack, &words, &route, begun, asked.hands)?;
    let heatings = heatings(&pack, &words, &route, begun, &asked.heat, asked.now)?;
    let mut net = Net::lay(&route, &crew, &heatings, begun, asked.now);
    let shared = share::out(asked, &route, &crew, &mut net, begun).map_err(|bad| net.fault(&words, bad))?;
    let mut planned = told(asked, &route, &crew, shared, begun);
    planned.way = way;
    planned.working_pressure_missing = asked.heat.working_kpa.is_none() && wants_working(&pack, &route, begun);
    Ok(planned)
}

fn told(asked: &Asked<'_>, route: &Route, crew: &Crew, shared: Shared, begun: &Begun) -> Planned {
    let lit = route.lit.and_then(|n| route.rows.get(n)).map(|row| row.id);
    let light_up_by = shared.rows.iter().find(|row| lit.is_some_and(|lit| row.what == What::Step(lit)));
    let hands = crew.hands.iter().zip(shared.on_by).map(|(grade, on_by)| Hand { grade: *grade, on_by });
    Planned {
        sequence: asked.sequence,
        off_shed: asked.off_shed,
        now: asked.now,
        way: Way::Cold,
        light_up_by: light_up_by.and_then(|row| Some((lit?, row.planned_start))),
        crew_on_by: shared.crew_on_by,
        hands: hands.collect(),
        hands_supposed: asked.hands.is_empty(),
        least_minutes: shared.least_minutes,
        planned_minutes: shared.planned_minutes,
        expected: shared.expected,
        done: begun.steps.len(),
        left_out: route.left_out(begun),
        elsewhere: route.elsewhere.iter().copied().collect(),
        wanting: route.wanting.iter().copied().collect(),
        lapses: shared.lapses,
        working_pressure_missing: false,
        rows: shared.rows,
    }
}
