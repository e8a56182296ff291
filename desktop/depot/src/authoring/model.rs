//! A linked pack: ids are numbers, limits are readings, and everything names only what is there.
//!
//! Plain data with public fields, so that a test may take one requirement away and prove again.

use offshed_core::due::Rule as DueRule;
use offshed_core::ident::{DueId, EventId, FeatureId, FittingId, GradeId, SequenceId, Set, StateId, StepId};
use offshed_core::pack::Rule;
use offshed_core::pack::rows::{DefectGrade, Figure};
use offshed_core::units::{Quantity, Reading, Unit};

pub use super::complaint::Place;

/// A pack.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Model {
    /// The source files, for places.
    pub files: Vec<String>,
    /// Short id.
    pub id: String,
    /// Title.
    pub title: String,
    /// Edition.
    pub edition: String,
    /// Language of the words, a tag of at most 8 bytes.
    pub language: String,
    /// Shown with every verdict.
    pub caution: String,
    /// The railway's own text for a lost water level.
    pub low_water: String,
    /// Step numbers never to be used again.
    pub retired_steps: Vec<StepId>,
    /// Grades.
    pub grades: Vec<Grade>,
    /// Features.
    pub features: Vec<Named>,
    /// States.
    pub states: Vec<State>,
    /// Numbered fittings.
    pub fittings: Vec<Named>,
    /// Treatment products.
    pub products: Vec<Named>,
    /// Due dates.
    pub dues: Vec<Due>,
    /// Events.
    pub events: Vec<Event>,
    /// Any one of these grades clears an ordinary defect.
    pub defects_cleared_by: Set,
    /// Any one of these grades may restrict or dispense in writing.
    pub restricted_by: Set,
    /// What fitness needs.
    pub fitness: Vec<Need>,
    /// Sequences, by number.
    pub sequences: Vec<Sequence>,
    /// What must never happen without what.
    pub obligations: Vec<Obligation>,
}

/// A number with an id and a name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Named {
    /// Id.
    pub id: String,
    /// Permanent number.
    pub number: u8,
    /// Name.
    pub name: String,
}

/// A grade.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Grade {
    /// Id, number, name.
    pub named: Named,
    /// Grades that a holder may also act in.
    pub covers: Set,
}

/// What a state means beyond its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Days in steam are counted while it holds.
    Steam,
    /// The engine has left the shed.
    Away,
    /// Nobody is with the engine.
    Unattended,
}

/// A state.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct State {
    /// Id, number, name.
    pub named: Named,
    /// Its role.
    pub role: Option<Role>,
}

/// A due date.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Due {
    /// Id, number, name.
    pub named: Named,
    /// How long it lasts.
    pub rule: DueRule,
    /// The feature without which it does not apply.
    pub applies: Option<FeatureId>,
    /// Where the rule comes from.
    pub source: String,
}

/// Whose proofs an event takes away.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Voids {
    /// All of the engine.
    All,
    /// These steps'.
    Steps(Vec<StepId>),
}

/// An event.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Event {
    /// Id, number, name.
    pub named: Named,
    /// The grade that may report it.
    pub by: GradeId,
    /// Whose proofs it takes away.
    pub voids: Voids,
    /// States that hold after it.
    pub sets: Set,
    /// States that no longer hold after it.
    pub clears: Set,
    /// The defect it opens.
    pub opens: Option<DefectGrade>,
    /// Every one of these grades must clear that defect.
    pub cleared_by: Set,
}

/// A sequence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sequence {
    /// Id.
    pub id: String,
    /// Permanent number.
    pub number: SequenceId,
    /// Title.
    pub title: String,
    /// What it is for.
    pub purpose: String,
    /// Ids and titles of its stages.
    pub stages: Vec<(String, String)>,
    /// Its steps, in order.
    pub steps: Vec<Step>,
}

/// A step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// Id.
    pub id: String,
    /// Permanent number.
    pub number: StepId,
    /// Its stage, from 0.
    pub stage: u8,
    /// Title.
    pub title: String,
    /// What to do.
    pub instruction: String,
    /// Where it can hurt; may be empty.
    pub caution: String,
    /// Where it comes from.
    pub source: String,
    /// Minutes it usually takes.
    pub minutes: u8,
    /// What it asks.
    pub kind: Kind,
    /// The grade that may answer it.
    pub by: GradeId,
    /// What must hold first.
    pub needs: Vec<Need>,
    /// Steps whose proofs it takes away.
    pub voids: Vec<StepId>,
    /// States that hold after it.
    pub sets: Set,
    /// States that no longer hold after it.
    pub clears: Set,
    /// Seconds its proof lives; 0: as long as the sheet.
    pub life_seconds: u32,
    /// Its proof ends with the local day on which it was made.
    pub ends_with_day: bool,
    /// Other sequences and fitness may ask for its proof.
    pub shared: bool,
    /// A person may mark it not applicable.
    pub skippable: bool,
    /// Done, it finishes the sheet.
    pub closes: bool,
    /// The feature without which it does not apply.
    pub applies: Option<FeatureId>,
    /// The defect that "not right" opens.
    pub fails: Option<DefectGrade>,
    /// Where it stands.
    pub at: Place,
}

/// What a step asks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Done or not right.
    Check,
    /// A value.
    Reading {
        /// The unit asked for.
        unit: Unit,
        /// Lowest that counts.
        low: Option<Reading>,
        /// Highest that counts.
        high: Option<Reading>,
        /// Below this it counts, with a warning.
        warn_low: Option<Reading>,
        /// Above this it counts, with a warning.
        warn_high: Option<Reading>,
    },
    /// A fitting's number.
    Identity(FittingId),
    /// Options, and whether choosing each is a proof.
    Choice(Vec<(String, bool)>),
    /// A hold.
    Timed {
        /// Shortest.
        at_least: Reading,
        /// Longest.
        at_most: Option<Reading>,
        /// The unit of what is read at start and end.
        unit: Option<Unit>,
        /// Greatest fall.
        max_fall: Option<Reading>,
        /// Least rise.
        min_rise: Option<Reading>,
    },
    /// A due date worked out and accepted.
    Due(DueId),
    /// Ordered parts.
    Procedure(Vec<Part>),
    /// A signature.
    Signature {
        /// Whether it is a review.
        review: bool,
    },
    /// A figure computed and accepted.
    Figure {
        /// What is computed.
        figure: Figure,
        /// The unit of the result.
        unit: Unit,
        /// The steps it starts from.
        inputs: Vec<StepId>,
        /// Low, high, warn low and warn high of the result.
        limits: [Option<Reading>; 4],
        /// The figure's own limits.
        params: Vec<Reading>,
    },
}

/// One part of a procedure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// What to do.
    pub instruction: String,
    /// What it asks.
    pub ask: Ask,
}

/// What a part asks. Parts count from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ask {
    /// Seen as described.
    Seen,
    /// A value.
    Reading {
        /// The unit asked for.
        unit: Unit,
        /// Lowest.
        low: Option<Reading>,
        /// Highest.
        high: Option<Reading>,
    },
    /// A measured time.
    Time {
        /// Shortest.
        at_least: Option<Reading>,
        /// Longest.
        at_most: Option<Reading>,
    },
    /// A reading that agrees with an earlier one.
    Same {
        /// The unit asked for.
        unit: Unit,
        /// The earlier part.
        part: u8,
        /// Greatest difference.
        within: Reading,
    },
    /// A reading that has risen since an earlier one.
    Rise {
        /// The unit asked for.
        unit: Unit,
        /// The earlier reading.
        part: u8,
        /// The earlier time.
        timed_by: u8,
        /// Least rise,
        rise: Reading,
        /// for each such time.
        over: Reading,
        /// Least delivery, and the highest reading at which a rise is believed: judged instead, where it can be told.
        delivery: Option<(Reading, Reading)>,
    },
}

impl Ask {
    /// The unit of its reading.
    pub fn unit(self) -> Option<Unit> {
        match self {
            Ask::Reading { unit, .. } | Ask::Same { unit, .. } | Ask::Rise { unit, .. } => Some(unit),
            Ask::Seen | Ask::Time { .. } => None,
        }
    }
}

impl Kind {
    /// What its proof is a reading of: the value, the end of a hold, the last reading of a procedure.
    pub fn value(&self) -> Option<Quantity> {
        let unit = match self {
            Kind::Reading { unit, .. } | Kind::Figure { unit, .. } => Some(*unit),
            Kind::Timed { unit, .. } => *unit,
            Kind::Procedure(parts) => parts.iter().rev().find_map(|part| part.ask.unit()),
            Kind::Check | Kind::Identity(_) | Kind::Choice(_) | Kind::Due(_) | Kind::Signature { .. } => None,
        };
        unit.map(Unit::quantity)
    }
}

/// One requirement, or alternatives of which one is enough.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Need {
    /// One rule, or the alternatives.
    pub rules: Vec<Rule>,
    /// Whether they are alternatives; one that does not apply to the engine does not count then.
    pub any: bool,
    /// Why it stands.
    pub because: Option<String>,
    /// Where it stands.
    pub at: Place,
}

/// What an obligation is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Goal {
    /// A step is done.
    Step(StepId),
    /// The engine is fit to leave.
    Fitness,
}

/// What must never happen without what.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Obligation {
    /// What must never happen.
    pub goal: Goal,
    /// Proofs that must be alive at that moment.
    pub fresh: Vec<StepId>,
    /// Steps that must have been done at some time before.
    pub after: Vec<StepId>,
    /// Other rules.
    pub holds: Vec<Need>,
    /// Why.
    pub why: String,
    /// Where it stands.
    pub at: Place,
}

impl Model {
    /// All steps with their sequences, in order.
    pub fn steps(&self) -> impl Iterator<Item = (&Sequence, &Step)> {
        self.sequences.iter().flat_map(|sequence| sequence.steps.iter().map(move |step| (sequence, step)))
    }

    /// The step with this number.
    pub fn step(&self, number: StepId) -> Option<&Step> {
        self.steps().map(|(_, step)| step).find(|step| step.number == number)
    }

    /// The id of a step; its number where there is none.
    pub fn step_id(&self, number: StepId) -> String {
        self.step(number).map_or_else(|| number.to_string(), |step| step.id.clone())
    }

    /// What a goal needs.
    pub fn needs(&self, goal: Goal) -> &[Need] {
        match goal {
            Goal::Fitness => &self.fitness,
            Goal::Step(number) => self.step(number).map_or(&[], |step| &step.needs),
        }
    }

    /// The id of a goal: a step's, or "fitness".
    pub fn goal_id(&self, goal: Goal) -> String {
        match goal {
            Goal::Fitness => "fitness".to_owned(),
            Goal::Step(number) => self.step_id(number),
        }
    }

    /// The grades whose holder may act in grade `id`: itself, and those that cover it.
    pub fn holders_of(&self, id: GradeId) -> Set {
        let covering = self.grades.iter().filter(|g| g.named.number == id.0 || g.covers.has(id.0));
        covering.fold(Set::EMPTY, |set, g| set.with(g.named.number))
    }

    /// The state with this number, by id.
    pub fn state_id(&self, state: StateId) -> String {
        let found = self.states.iter().find(|s| s.named.number == state.0);
        found.map_or_else(|| state.to_string(), |s| s.named.id.clone())
    }

    /// The event with this number, by id.
    pub fn event_id(&self, event: EventId) -> String {
        let found = self.events.iter().find(|e| e.named.number == event.0);
        found.map_or_else(|| event.to_string(), |e| e.named.id.clone())
    }

    /// The state with a role.
    pub fn role(&self, role: Role) -> Option<StateId> {
        self.states.iter().find(|s| s.role == Some(role)).map(|s| StateId(s.named.number))
    }
}
