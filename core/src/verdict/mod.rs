//! The verdict: two pure functions. What may be done now and why the rest may not ([`offers`], [`of`]), and what an
//! answer comes to ([`weigh()`]).
//!
//! A control exists on a screen only if it is an offer; the desk refuses what is not; tests explore the same functions.

mod delivery;
mod figure;
mod rules;
mod weigh;

pub use delivery::{Delivered, delivery};
pub use figure::{
    Basis, GAUGE_ERROR_KPA, GLASS_ERROR_MM, TEST_ERROR_SHARE, THERMOMETER_ERROR_K, Worked, figure, in_doubt, shown,
};
pub use rules::{Judged, Reason, Who, due_standing, in_grade, judge};
pub use weigh::{Weight, weigh};

use crate::engine::EngineState;
use crate::entry::{Answer, Found};
use crate::ident::StepId;
use crate::pack::rows::{KindRow, StepRow};
use crate::pack::{Need, Pack, Rule};
use crate::reason::Why;
use crate::register::{EngineFacts, Register};
use crate::sheet::{Mark, Outcome, Sheet, Stage};
use crate::stamp::{Day, Now, Stamp};
use crate::units::{Incomparable, Quantity, Reading};

/// Everything a verdict looks at.
#[derive(Clone, Copy)]
pub struct Scene<'a> {
    /// The rules.
    pub pack: &'a Pack<'a>,
    /// People, fittings, dates, local time.
    pub register: &'a dyn Register,
    /// The engine.
    pub engine: &'a EngineState,
    /// The sheet; `None` when fitness is judged.
    pub sheet: Option<&'a Sheet>,
    /// Proofs that had not lapsed by this moment do not lapse later: when an engine left the shed.
    pub left_at: Option<Stamp>,
}

impl Scene<'_> {
    /// What the engine has.
    pub fn facts(&self) -> EngineFacts {
        self.register.engine(self.engine.id).unwrap_or_default()
    }

    /// The local calendar day.
    pub fn today(&self, now: Now) -> Day {
        Day::of(self.register.zone().day(now.stamp))
    }

    /// The first moment after a local day.
    pub fn day_end(&self, day: Day) -> Option<Stamp> {
        Some(self.register.zone().end_of_day(day.date()?))
    }

    /// When a lapse due at `at` takes effect: never, if the engine had left the shed before.
    fn lapse_floor(&self, at: Stamp) -> Stamp {
        match self.left_at {
            Some(left) if left < at => Stamp(i64::MAX),
            _ => at,
        }
    }

    /// A reading in the base unit of `quantity`, with the engine's glass where a share of it is meant.
    fn base(&self, step: StepId, reading: Reading, quantity: Quantity) -> Result<i64, Why> {
        reading.in_base(quantity, self.facts().own()).map_err(|why| incomparable(step, why))
    }

    /// A reading as a number in the base unit of its own quantity.
    fn number(&self, step: StepId, reading: Reading) -> Result<f64, Why> {
        Ok(self.base(step, reading, reading.unit.quantity())? as f64 / 1_000.0)
    }

    /// A difference between readings, in the base unit of `quantity`.
    fn difference(&self, step: StepId, reading: Reading, quantity: Quantity) -> Result<i64, Why> {
        reading.difference_in_base(quantity, self.facts().own()).map_err(|why| incomparable(step, why))
    }
}

fn incomparable(step: StepId, why: Incomparable) -> Why {
    match why {
        Incomparable::Quantity { want, got } => Why::WrongQuantity { step, want, got },
        Incomparable::GlassUnknown => Why::GlassUnknown,
        Incomparable::WorkingUnknown => Why::WorkingUnknown,
    }
}

/// How a step stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum StepState {
    /// The engine lacks the feature it is about.
    DoesNotApply,
    /// It may be answered now.
    Open,
    /// A procedure or hold is under way; for a procedure, the part that is next, from 0.
    UnderWay {
        /// The part.
        next: u8,
    },
    /// It waits, for every one of these reasons.
    Waiting(Judged),
    /// Its proof is alive, until then if it lapses.
    Proven {
        /// The answer.
        mark: Mark,
        /// When it lapses.
        until: Option<Stamp>,
    },
    /// Its proof is no longer alive, and why; it may be answered again.
    Gone {
        /// The answer.
        mark: Mark,
        /// Why.
        why: Why,
    },
    /// Its last answer was "not right"; it may be answered again.
    NotRight {
        /// The answer.
        mark: Mark,
    },
    /// A person marked it not applicable.
    Skipped {
        /// The answer.
        mark: Mark,
    },
}

/// Whether a sheet takes answers at all.
///
/// # Errors
/// When it is finished, given up, joined, or more crowded than one sheet can tell apart.
pub fn takes_answers(sheet: &Sheet) -> Result<(), Why> {
    match sheet.stage() {
        _ if sheet.crowded() => Err(Why::SheetCrowded),
        Stage::Open => Ok(()),
        Stage::Finished(_) | Stage::Abandoned(_) | Stage::Joined(_) => Err(Why::SheetClosed),
    }
}

/// The step on this sheet, or why there is none to answer.
///
/// # Errors
/// When it is not in the sheet's sequence, or does not apply to the engine.
pub fn find(scene: &Scene<'_>, id: StepId) -> Result<(StepRow, usize), Why> {
    let missing = Why::NotInSequence { step: id };
    let sheet = scene.sheet.ok_or(missing)?;
    let (step, place) = scene.pack.placed(id).filter(|(s, _)| s.sequence == sheet.sequence).ok_or(missing)?;
    match step.applies {
        Some(feature) if !scene.facts().features.has(feature.0) => Err(Why::NoFeature { feature }),
        _ => Ok((step, place)),
    }
}

/// What the step's requirements come to for `who`, the grade of the step itself among them.
pub fn needs(scene: &Scene<'_>, step: &StepRow, who: Who, now: Now) -> Judged {
    graded(scene, step, scene.pack.needs(step.needs), who, now)
}

/// The same where the step is marked not applicable: what a figure is computed from need not be there to say that it is
/// not computed.
pub fn needs_to_skip(scene: &Scene<'_>, step: &StepRow, who: Who, now: Now) -> Judged {
    let computed_from = |need: &Need| match (step.kind, need.rule) {
        (KindRow::Figure { inputs, .. }, Rule::Fresh { step, .. }) if need.group == 0 => {
            scene.pack.listed(inputs).any(|id| id == step)
        }
        _ => false,
    };
    graded(scene, step, scene.pack.needs(step.needs).filter(|need| !computed_from(need)), who, now)
}

/// What stands in the way of an answer: nothing of a report that something is wrong.
pub fn needs_of(scene: &Scene<'_>, step: &StepRow, answer: &Answer, who: Who, now: Now) -> Judged {
    match answer {
        _ if reports_fault(answer) => Judged::default(),
        Answer::NotApplicable { .. } => needs_to_skip(scene, step, who, now),
        _ => needs(scene, step, who, now),
    }
}

/// Reporting that something is wrong is never locked.
pub fn reports_fault(answer: &Answer) -> bool {
    match answer {
        Answer::NotRight { .. } => true,
        Answer::Part { found, .. } => matches!(found, Found::NotRight { .. }),
        _ => false,
    }
}

/// Requirements judged, and the grade of the step itself.
fn graded(scene: &Scene<'_>, step: &StepRow, needs: impl Iterator<Item = Need>, who: Who, now: Now) -> Judged {
    let mut judged = judge(scene, needs, who, now);
    let graded = who.person.map_or(Ok(()), |person| in_grade(scene, person, step.by, now));
    if let Err(why) = graded {
        // First, since nobody else's doing cures it. There is room: `limits::REASONS` counts more than a step's needs.
        let _ = judged.reasons.insert(0, Reason { rule: None, group: 0, why });
    }
    judged
}

/// How a step stands for `who`.
pub fn of(scene: &Scene<'_>, id: StepId, who: Who, now: Now) -> StepState {
    let (step, place) = match find(scene, id) {
        Ok(found) => found,
        Err(Why::NoFeature { .. }) => return StepState::DoesNotApply,
        Err(why) => return waiting(why),
    };
    if let Some(progress) = scene.sheet.and_then(|s| s.progress(id)) {
        return StepState::UnderWay { next: progress.next() };
    }
    if let Some(mark) = scene.sheet.and_then(|s| s.mark(place)) {
        return answered(scene, (&step, place), *mark, now);
    }
    if let Some(Err(why)) = scene.sheet.map(takes_answers) {
        return waiting(why);
    }
    let judged = needs(scene, &step, who, now);
    if judged.holds() { StepState::Open } else { StepState::Waiting(judged) }
}

fn waiting(why: Why) -> StepState {
    let mut judged = Judged::default();
    let _ = judged.reasons.push(Reason { rule: None, group: 0, why });
    StepState::Waiting(judged)
}

fn answered(scene: &Scene<'_>, step: (&StepRow, usize), mark: Mark, now: Now) -> StepState {
    match mark.outcome {
        Outcome::NotRight => StepState::NotRight { mark },
        Outcome::Skipped => StepState::Skipped { mark },
        Outcome::Proven { .. } => match rules::living(scene, step, None, now) {
            Ok((_, until)) => StepState::Proven { mark, until },
            Err(why) => StepState::Gone { mark, why },
        },
    }
}

/// One thing that may be done now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Offer {
    /// The step.
    pub step: StepId,
    /// For a procedure, the part that is next, from 0.
    pub part: u8,
    /// It was answered before.
    pub again: bool,
}

/// Every step that may be answered now by `who`, in the sequence's order.
///
/// Steps whose proof is alive are not offered again; they may be answered again all the same.
pub fn offers<'s>(scene: &'s Scene<'s>, who: Who, now: Now) -> impl Iterator<Item = Offer> + 's {
    let sequence = scene.sheet.map(|s| s.sequence);
    let closed = scene.sheet.is_none_or(|s| takes_answers(s).is_err());
    let steps = sequence.into_iter().flat_map(|id| scene.pack.steps(id)).filter(move |_| !closed);
    steps.filter_map(move |step| offer(scene, &step, who, now))
}

fn offer(scene: &Scene<'_>, step: &StepRow, who: Who, now: Now) -> Option<Offer> {
    let (part, again) = match of(scene, step.id, who, now) {
        StepState::Open => (0, false),
        StepState::UnderWay { next } => (next, false),
        StepState::Gone { .. } | StepState::NotRight { .. } | StepState::Skipped { .. } => (0, true),
        StepState::DoesNotApply | StepState::Waiting(_) | StepState::Proven { .. } => return None,
    };
    needs(scene, step, who, now).holds().then_some(Offer { step: step.id, part, again })
}
