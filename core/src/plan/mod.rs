//! Working back from the off-shed time: when each step must start, when to light up, when the crew comes on.
//!
//! Two answers stand side by side.
//! The *latest start* is the critical path alone (Kelley and Walker 1959): nobody can start later and be in time,
//! however many hands there are.
//! The *planned start* shares the steps among the people there are, working backwards and taking each time the step
//! that can end latest; it is a plan that works, not proved to be the best one, so a better sharing may start a little
//! later.
//! [`Plan::least_minutes`] is what no sharing can beat.
//! Minutes are what a step usually takes here: a plan is advice, and nothing is skipped or hurried to keep to it.

mod heating;
mod network;

pub use heating::{Raising, raising_minutes};

use core::fmt;

use crate::stamp::Stamp;

/// Longest step, minutes: a week.
pub const MOST_MINUTES: u32 = 7 * 24 * 60;

/// A set of up to 32 grades, each a number from 0 to 31.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Grades(u32);

impl Grades {
    /// No grade: of a step, nobody is needed.
    pub const NONE: Grades = Grades(0);

    /// With one more grade; `None` above 31.
    pub fn with(self, grade: u8) -> Option<Grades> {
        1_u32.checked_shl(grade.into()).map(|bit| Grades(self.0 | bit))
    }

    /// Whether no grade is in it.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Whether the two share a grade.
    pub fn meets(self, other: Grades) -> bool {
        self.0 & other.0 != 0
    }

    /// How many grades are in it.
    fn count(self) -> u32 {
        self.0.count_ones()
    }
}

/// One step of the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Activity<'a> {
    /// Its own number, once in the plan.
    pub id: u16,
    /// Minutes it usually takes, or that are left of it, 0 to [`MOST_MINUTES`].
    pub minutes: u32,
    /// Places, from 0, of the steps that must be over before it starts.
    pub after: &'a [u16],
    /// Grades of which any may do it; one person does, for all of its minutes. Empty: nobody is needed.
    pub grades: Grades,
    /// It is done: it takes no time and nobody.
    pub done: bool,
}

impl Activity<'_> {
    /// Minutes that are still needed.
    fn left(&self) -> u32 {
        if self.done { 0 } else { self.minutes }
    }

    /// Whether a person is still needed.
    fn attended(&self) -> bool {
        !self.done && !self.grades.is_empty()
    }
}

/// What is asked.
#[derive(Clone, Copy, Debug)]
pub struct Work<'a> {
    /// When the engine must be off shed.
    pub off_shed: Stamp,
    /// Now.
    pub now: Stamp,
    /// The steps.
    pub activities: &'a [Activity<'a>],
    /// The people, each with the grades held; a person does one step at a time.
    pub crew: &'a [Grades],
}

/// Scratch for one activity; all zero to begin with.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Row {
    /// Minutes before off shed by which it must have started, crew or no crew.
    latest: u32,
    /// The same with this crew.
    planned: u32,
    /// Minutes of the longest chain of steps before it.
    head: u32,
    /// Links to steps that are not placed yet.
    waiting: u32,
    /// It is placed.
    placed: bool,
    /// In the place of the k-th: which activity was k-th to be placed, last first.
    order: u16,
    /// Who does it.
    person: Option<u16>,
}

/// Why no plan can be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoPlan {
    /// More than 65 535 steps or people.
    TooMany,
    /// A slice of scratch is too short.
    Scratch {
        /// Places needed.
        needed: usize,
        /// Places given.
        given: usize,
    },
    /// Two steps have one number.
    Twice {
        /// The number.
        id: u16,
    },
    /// A step takes more than [`MOST_MINUTES`].
    TooLong {
        /// The step.
        id: u16,
        /// Its minutes.
        minutes: u32,
    },
    /// A step comes after one that is not there.
    NoSuchStep {
        /// The step.
        id: u16,
        /// The place it names.
        place: u16,
    },
    /// A step comes, by way of others, after itself.
    Cycle {
        /// One of the steps in the ring.
        id: u16,
    },
    /// Nobody on this crew may do a step.
    Nobody {
        /// The step.
        id: u16,
    },
}

impl fmt::Display for NoPlan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NoPlan::TooMany => f.write_str("more than 65535 steps or people; plan fewer at once"),
            NoPlan::Scratch { needed, given } => write!(f, "scratch holds {given} places; give {needed}"),
            NoPlan::Twice { id } => write!(f, "two steps have the number {id}; number each once"),
            NoPlan::TooLong { id, minutes } => {
                write!(f, "step {id} takes {minutes} minutes; give {MOST_MINUTES} or fewer")
            }
            NoPlan::NoSuchStep { id, place } => {
                write!(f, "step {id} comes after place {place}, which is not there; correct its list")
            }
            NoPlan::Cycle { id } => write!(f, "step {id} comes after itself, by way of others; break the ring"),
            NoPlan::Nobody { id } => write!(f, "nobody here may do step {id}; add a person of its grade"),
        }
    }
}

impl core::error::Error for NoPlan {}

/// Whether a step can still be in time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Timing {
    /// It is done.
    Done,
    /// Its planned start is to come.
    InTime,
    /// Its planned start is past but its latest start is not: only a better sharing of the work keeps the time.
    BehindPlan {
        /// Minutes past the planned start, rounded up.
        minutes: u32,
    },
    /// Its latest start is past: off shed will be late unless it goes faster than usual.
    Late {
        /// Minutes past the latest start, rounded up.
        minutes: u32,
    },
}

/// When a step must start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StepTime {
    /// The step.
    pub id: u16,
    /// The latest moment, whatever the crew.
    pub latest_start: Stamp,
    /// The moment planned for this crew, never after the latest.
    pub planned_start: Stamp,
    /// Place in the crew of who does it.
    pub person: Option<u16>,
    /// It lies on a longest chain: any delay of it delays off shed.
    pub critical: bool,
    /// Whether it can still be in time.
    pub timing: Timing,
}

/// A plan, resting in the scratch it was made in.
#[derive(Clone, Copy, Debug)]
pub struct Plan<'a> {
    work: Work<'a>,
    rows: &'a [Row],
    critical_minutes: u32,
    planned_minutes: u32,
}

/// Makes a plan.
///
/// `rows` has a place for each activity and `people` one for each of the crew; what is in them does not matter.
/// It takes time in the square of the number of steps.
///
/// # Errors
/// [`NoPlan`].
pub fn plan<'a>(work: Work<'a>, rows: &'a mut [Row], people: &mut [u32]) -> Result<Plan<'a>, NoPlan> {
    let (given, needed) = (rows.len(), work.activities.len());
    let rows = rows.get_mut(..needed).ok_or(NoPlan::Scratch { needed, given })?;
    let (given, needed) = (people.len(), work.crew.len());
    let people = people.get_mut(..needed).ok_or(NoPlan::Scratch { needed, given })?;
    network::check(&work)?;
    network::critical_path(work.activities, rows)?;
    network::share_out(work.activities, work.crew, rows, people);
    Ok(Plan {
        work,
        critical_minutes: rows.iter().map(|row| row.latest).max().unwrap_or(0),
        planned_minutes: rows.iter().map(|row| row.planned).max().unwrap_or(0),
        rows,
    })
}

impl<'a> Plan<'a> {
    /// Minutes of the longest chain of steps: the least that any crew needs.
    pub fn critical_minutes(&self) -> u32 {
        self.critical_minutes
    }

    /// Minutes that this plan needs.
    pub fn planned_minutes(&self) -> u32 {
        self.planned_minutes
    }

    /// Minutes that no sharing among this crew can beat: the longest chain, or all attended steps shared out evenly.
    pub fn least_minutes(&self) -> u32 {
        let attended = self.work.activities.iter().filter(|a| a.attended());
        let minutes: u64 = attended.map(|a| u64::from(a.minutes)).sum();
        let each = minutes.div_ceil(self.work.crew.len().max(1) as u64);
        self.critical_minutes.max(u32::try_from(each).unwrap_or(u32::MAX))
    }

    /// All steps, in the order given.
    pub fn steps(&self) -> impl Iterator<Item = StepTime> + use<'a> {
        let plan = *self;
        let pairs = plan.work.activities.iter().zip(plan.rows);
        pairs.map(move |(activity, row)| plan.told(activity, row))
    }

    /// One step, such as lighting up; `None` when it is not in the plan.
    pub fn step(&self, id: u16) -> Option<StepTime> {
        self.steps().find(|step| step.id == id)
    }

    /// The earliest planned start of a step that needs a person; `None` when none is left.
    pub fn crew_on_by(&self) -> Option<Stamp> {
        self.attended(|_| true)
    }

    /// The earliest planned start of what this person does; `None` when that is nothing.
    pub fn person_on_by(&self, person: u16) -> Option<Stamp> {
        self.attended(|row| row.person == Some(person))
    }

    /// Off shed at the earliest when everything goes on from now as planned; not before it is due.
    pub fn off_shed_expected(&self) -> Stamp {
        let ready = self.work.now.plus(i64::from(self.planned_minutes) * 60);
        ready.max(self.work.off_shed)
    }

    fn attended(&self, chosen: impl Fn(&Row) -> bool) -> Option<Stamp> {
        let pairs = self.work.activities.iter().zip(self.rows);
        let minutes = pairs.filter(|(a, row)| a.attended() && chosen(row)).map(|(_, row)| row.planned);
        minutes.max().map(|minutes| self.before(minutes))
    }

    /// So many minutes before off shed.
    fn before(&self, minutes: u32) -> Stamp {
        self.work.off_shed.plus(-i64::from(minutes) * 60)
    }

    fn told(&self, activity: &Activity<'_>, row: &Row) -> StepTime {
        let (latest_start, planned_start) = (self.before(row.latest), self.before(row.planned));
        StepTime {
            id: activity.id,
            latest_start,
            planned_start,
            person: row.person,
            critical: !activity.done && row.head.saturating_add(row.latest) == self.critical_minutes,
            timing: self.timing(activity, latest_start, planned_start),
        }
    }

    fn timing(&self, activity: &Activity<'_>, latest: Stamp, planned: Stamp) -> Timing {
        let past =
            |start: Stamp| u32::try_from((self.work.now.since(start).max(0) as u64).div_ceil(60)).unwrap_or(u32::MAX);
        match (past(latest), past(planned)) {
            _ if activity.done => Timing::Done,
            (0, 0) => Timing::InTime,
            (0, minutes) => Timing::BehindPlan { minutes },
            (minutes, _) => Timing::Late { minutes },
        }
    }
}
