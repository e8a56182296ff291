//! One engine as the entries leave it: states, tags, open defects, living proofs, and what took proofs away.
//!
//! A pure fold: it changes only through the verbs below, which `fold` calls in the merged order.

use heapless::Vec;

use crate::entry::Dispensed;
use crate::ident::{DefectId, EngineId, EntryRef, EventId, GradeId, PersonId, Set, StateId, StepId};
use crate::limits::{DEFECTS, DISPENSATIONS, SHARED_PROOFS, TAGS, VOID_MARKS};
use crate::pack::rows::DefectGrade;
use crate::stamp::{Clock, Day, Stamp};
use crate::units::Reading;

/// Where an entry stands among those folded for one engine, from 1: the merged order, in four bytes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Nth(pub u32);

/// A step's proof: who, when, and what was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Proof {
    /// The step.
    pub step: StepId,
    /// The answer that made it.
    pub entry: EntryRef,
    /// Where it stands among the engine's entries.
    pub nth: Nth,
    /// When it was done.
    pub at: Stamp,
    /// How far the device trusted its clock.
    pub clock: Clock,
    /// By whom.
    pub by: PersonId,
    /// The value, if one was read.
    pub value: Option<Reading>,
}

/// What took a proof away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum VoidedBy {
    /// A step that voids it was done.
    Step(StepId),
    /// Something happened.
    Event(EventId),
    /// A review sent the sheet back.
    SentBack,
    /// A proof it stood on was struck out, or found not right after it.
    Foundation(StepId),
}

/// The latest moment at which something took a step's proof away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct VoidMark {
    /// Where it stands among the engine's entries: proofs before it are gone.
    pub nth: Nth,
    /// When.
    pub at: Stamp,
    /// What.
    pub by: VoidedBy,
}

/// A defect that is not cleared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Defect {
    /// The entry that opened it.
    pub id: DefectId,
    /// How bad.
    pub grade: DefectGrade,
    /// The step it was found at.
    pub step: Option<StepId>,
    /// The event that opened it.
    pub event: Option<EventId>,
    /// The last day of a written restriction.
    pub restricted_until: Option<Day>,
    /// Every one of these grades must clear it; empty: any one that clears defects.
    pub cleared_by: Set,
    /// Grades that have.
    pub cleared: Set,
}

/// A requirement waived in writing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Dispensation {
    /// What is waived.
    pub what: Dispensed,
    /// The last day.
    pub until: Day,
    /// The entry.
    pub entry: EntryRef,
}

/// Which of the engine's lists ran over: such an engine is *not known*, never *fit*.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Overflow {
    /// More open defects than [`DEFECTS`].
    Defects,
    /// More tags than [`TAGS`].
    Tags,
    /// More shared proofs than [`SHARED_PROOFS`].
    Proofs,
    /// More voided steps than [`VOID_MARKS`].
    Voids,
    /// More dispensations than [`DISPENSATIONS`].
    Dispensations,
}

/// One engine's fold.
#[derive(Clone, Debug)]
pub struct EngineState {
    /// The engine.
    pub id: EngineId,
    folded: Nth,
    states: Set,
    since: [Stamp; 16],
    tags: Vec<(PersonId, Stamp), TAGS>,
    defects: Vec<Defect, DEFECTS>,
    proofs: Vec<Proof, SHARED_PROOFS>,
    voids: Vec<(StepId, VoidMark), VOID_MARKS>,
    void_all: Option<VoidMark>,
    dispensations: Vec<Dispensation, DISPENSATIONS>,
    overflow: Option<Overflow>,
}

impl EngineState {
    /// An engine nothing is recorded of.
    pub fn new(id: EngineId) -> EngineState {
        EngineState {
            id,
            folded: Nth(0),
            states: Set::EMPTY,
            since: [Stamp(0); 16],
            tags: Vec::new(),
            defects: Vec::new(),
            proofs: Vec::new(),
            voids: Vec::new(),
            void_all: None,
            dispensations: Vec::new(),
            overflow: None,
        }
    }

    /// Whether it is in a state.
    pub fn is_in(&self, state: StateId) -> bool {
        self.states.has(state.0)
    }

    /// The states it is in.
    pub fn states(&self) -> Set {
        self.states
    }

    /// Since when a state holds, or has not held.
    pub fn since(&self, state: StateId) -> Stamp {
        self.since.get(usize::from(state.0)).copied().unwrap_or(Stamp(0))
    }

    /// Who holds a tag on it, and since when.
    pub fn tags(&self) -> &[(PersonId, Stamp)] {
        &self.tags
    }

    /// The defects that are not cleared.
    pub fn defects(&self) -> &[Defect] {
        &self.defects
    }

    /// The last proof of a shared step, alive or not.
    pub fn proof(&self, step: StepId) -> Option<&Proof> {
        self.proofs.iter().find(|p| p.step == step)
    }

    /// The dispensations, in force or run out.
    pub fn dispensations(&self) -> &[Dispensation] {
        &self.dispensations
    }

    /// One more entry is folded; answers where it stands.
    pub(crate) fn next(&mut self) -> Nth {
        self.folded = Nth(self.folded.0.saturating_add(1));
        self.folded
    }

    /// What took away the proof of `step` that stands at `nth`, if anything did.
    pub fn voided(&self, step: StepId, nth: Nth) -> Option<VoidMark> {
        let own = self.voids.iter().find(|(id, _)| *id == step).map(|(_, mark)| *mark);
        let marks = [own, self.void_all];
        marks.into_iter().flatten().filter(|mark| mark.nth > nth).max_by_key(|mark| mark.nth)
    }

    /// The list that ran over, if any did.
    pub fn overflow(&self) -> Option<Overflow> {
        self.overflow
    }

    fn keep<T>(&mut self, kept: Result<(), T>, list: Overflow) {
        if kept.is_err() {
            self.overflow = Some(list);
        }
    }

    /// States change; what already holds keeps its `since`.
    pub(crate) fn change_states(&mut self, sets: Set, clears: Set, at: Stamp) {
        let after = self.states.without(clears).union(sets);
        for (n, since) in self.since.iter_mut().enumerate() {
            if self.states.has(n as u8) != after.has(n as u8) {
                *since = at;
            }
        }
        self.states = after;
    }

    pub(crate) fn hang_tag(&mut self, person: PersonId, at: Stamp) {
        if !self.tags.iter().any(|(holder, _)| *holder == person) {
            let kept = self.tags.push((person, at));
            self.keep(kept, Overflow::Tags);
        }
    }

    pub(crate) fn lift_tag(&mut self, person: PersonId) {
        self.tags.retain(|(holder, _)| *holder != person);
    }

    pub(crate) fn open_defect(&mut self, defect: Defect) {
        if !self.defects.iter().any(|d| d.id == defect.id) {
            let kept = self.defects.push(defect);
            self.keep(kept, Overflow::Defects);
        }
    }

    pub(crate) fn restrict_defect(&mut self, id: DefectId, until: Day) {
        if let Some(defect) = self.defects.iter_mut().find(|d| d.id == id) {
            defect.restricted_until = Some(until);
        }
    }

    /// A grade clears a defect; it is gone when every grade it needs has, or any one where none is named.
    pub(crate) fn clear_defect(&mut self, id: DefectId, grade: GradeId) {
        if let Some(defect) = self.defects.iter_mut().find(|d| d.id == id) {
            defect.cleared = defect.cleared.with(grade.0);
        }
        self.defects.retain(|d| d.cleared == Set::EMPTY || d.cleared_by.without(d.cleared) != Set::EMPTY);
    }

    pub(crate) fn dispense(&mut self, dispensation: Dispensation) {
        self.dispensations.retain(|d| d.what != dispensation.what);
        let kept = self.dispensations.push(dispensation);
        self.keep(kept, Overflow::Dispensations);
    }

    /// A shared step was proven: the newest proof stands.
    pub(crate) fn prove(&mut self, proof: Proof) {
        self.proofs.retain(|p| p.step != proof.step);
        let kept = self.proofs.push(proof);
        self.keep(kept, Overflow::Proofs);
    }

    /// The step's proof no longer stands: struck out, or looked at again and not right.
    pub(crate) fn forget(&mut self, step: StepId) {
        self.proofs.retain(|p| p.step != step);
    }

    pub(crate) fn void(&mut self, step: StepId, mark: VoidMark) {
        self.voids.retain(|(id, _)| *id != step);
        let kept = self.voids.push((step, mark));
        self.keep(kept, Overflow::Voids);
    }

    pub(crate) fn void_all(&mut self, mark: VoidMark) {
        self.void_all = Some(mark);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ident::DeviceId;

    #[test]
    fn a_void_takes_only_earlier_proofs() {
        let mut engine = EngineState::new(EngineId(4));
        let mark = VoidMark { nth: Nth(5), at: Stamp(50), by: VoidedBy::Event(EventId(1)) };
        engine.void(StepId(7), mark);
        assert_eq!(engine.voided(StepId(7), Nth(4)), Some(mark));
        assert_eq!(engine.voided(StepId(7), Nth(6)), None);
        assert_eq!(engine.voided(StepId(8), Nth(4)), None);
        engine.void_all(VoidMark { nth: Nth(9), ..mark });
        assert_eq!(engine.voided(StepId(8), Nth(4)).map(|m| m.nth), Some(Nth(9)));
    }

    #[test]
    fn every_named_grade_must_clear() {
        let mut engine = EngineState::new(EngineId(4));
        let id = EntryRef { device: DeviceId([1; 8]), seq: 1 };
        let both = Set::EMPTY.with(5).with(8);
        engine.open_defect(Defect {
            id,
            grade: DefectGrade::Stopping,
            step: None,
            event: None,
            restricted_until: None,
            cleared_by: both,
            cleared: Set::EMPTY,
        });
        engine.clear_defect(id, GradeId(5));
        assert_eq!(engine.defects().len(), 1);
        engine.clear_defect(id, GradeId(8));
        assert!(engine.defects().is_empty());
    }

    #[test]
    fn too_many_tags_are_said_not_lost_in_silence() {
        let mut engine = EngineState::new(EngineId(4));
        for person in 0..=TAGS as u16 {
            engine.hang_tag(PersonId(person), Stamp(0));
        }
        assert_eq!(engine.overflow(), Some(Overflow::Tags));
    }
}
