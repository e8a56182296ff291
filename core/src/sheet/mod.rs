//! A sheet: what the entries say of one working of one sequence on one engine. A fold, never stored as truth.
//!
//! The sheet holds marks; whether a mark still counts (lapsed, voided) is the verdict's to say.

mod progress;

pub use progress::{Hold, PartValue, Progress};

use heapless::Vec;

use crate::engine::Proof;
use crate::ident::{DeviceId, EngineId, EntryRef, PackHash, PersonId, SequenceId, SheetId, StepId};
use crate::limits::{CONTESTED, DEVICES_SEEN, STEPS_PER_SHEET};
use crate::reason::Why;
use crate::stamp::Stamp;

/// How many procedures and holds may be under way on one sheet at once: both glasses, and one for each of a crew.
pub const UNDER_WAY: usize = 4;
/// How many people's answers one sheet tells apart.
pub const PEOPLE: usize = 16;

/// What the last answer to a step came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// It is a proof, perhaps with a warning.
    Proven {
        /// The value lay in the warning band.
        warned: bool,
    },
    /// It was looked at and is not right.
    NotRight,
    /// It does not apply today, a person says.
    Skipped,
}

/// The last answer to a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mark {
    /// What it came to.
    pub outcome: Outcome,
    /// Who, when, what.
    pub proof: Proof,
    /// The second person named.
    pub with: Option<PersonId>,
}

/// Where a sheet stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// Being worked.
    Open,
    /// Its closing step was done.
    Finished(Stamp),
    /// Given up.
    Abandoned(Stamp),
    /// Folded into another.
    Joined(SheetId),
}

/// Why an entry does not count, or counts but must be seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Contest {
    /// At its place in the merged order the step was not open.
    NotOffered(Why),
    /// Two devices answered the step, neither having seen the other.
    Unseen {
        /// The answer that stood there.
        other: EntryRef,
    },
    /// It sorts before a signature whose signer's device had not seen it.
    ArrivedAfterSigning {
        /// The signature.
        signature: EntryRef,
    },
}

/// A contested entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Contested {
    /// The entry.
    pub entry: EntryRef,
    /// The step, when it answers one.
    pub step: Option<StepId>,
    /// Why.
    pub contest: Contest,
}

/// One sheet's fold.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// The opening entry.
    pub id: SheetId,
    /// The engine.
    pub engine: EngineId,
    /// The sequence.
    pub sequence: SequenceId,
    /// The pack it is bound to.
    pub pack: PackHash,
    /// When it was opened.
    pub opened: Stamp,
    /// By whom.
    pub opener: PersonId,
    stage: Stage,
    marks: [Option<Mark>; STEPS_PER_SHEET],
    under_way: Vec<Progress, UNDER_WAY>,
    people: Vec<PersonId, PEOPLE>,
    heads: Vec<EntryRef, DEVICES_SEEN>,
    contested: Vec<Contested, CONTESTED>,
    contested_more: u16,
    crowded: bool,
}

impl Sheet {
    /// A sheet as its opening entry leaves it.
    pub fn open(id: SheetId, engine: EngineId, sequence: SequenceId, pack: PackHash, by: PersonId, at: Stamp) -> Sheet {
        let mut sheet = Sheet {
            id,
            engine,
            sequence,
            pack,
            opened: at,
            opener: by,
            stage: Stage::Open,
            marks: [None; STEPS_PER_SHEET],
            under_way: Vec::new(),
            people: Vec::new(),
            heads: Vec::new(),
            contested: Vec::new(),
            contested_more: 0,
            crowded: false,
        };
        sheet.note_head(id);
        sheet
    }

    /// Where it stands.
    pub fn stage(&self) -> Stage {
        self.stage
    }

    /// The last answer to the step at `place` in the sequence.
    pub fn mark(&self, place: usize) -> Option<&Mark> {
        self.marks.get(place)?.as_ref()
    }

    /// What is under way at a step.
    pub fn progress(&self, step: StepId) -> Option<&Progress> {
        self.under_way.iter().find(|p| p.step == step)
    }

    /// Whether one more procedure or hold can be started.
    pub fn has_room(&self) -> bool {
        !self.under_way.is_full()
    }

    /// Whether a person has answered anything here.
    pub fn answered(&self, person: PersonId) -> bool {
        self.people.contains(&person)
    }

    /// Whether more people or devices wrote here than one sheet tells apart; such a sheet is carried, not judged.
    pub fn crowded(&self) -> bool {
        self.crowded
    }

    /// The last entry of each device on this sheet.
    pub fn heads(&self) -> &Vec<EntryRef, DEVICES_SEEN> {
        &self.heads
    }

    /// The last count of one device on this sheet.
    pub fn head(&self, device: DeviceId) -> Option<u32> {
        self.heads.iter().find(|h| h.device == device).map(|h| h.seq)
    }

    /// Entries that do not count, or count but must be seen.
    pub fn contested(&self) -> &[Contested] {
        &self.contested
    }

    /// How many contested entries there are beyond [`Sheet::contested`].
    pub fn contested_more(&self) -> u16 {
        self.contested_more
    }

    pub(crate) fn set_stage(&mut self, stage: Stage) {
        self.stage = stage;
    }

    pub(crate) fn set_mark(&mut self, place: usize, mark: Option<Mark>) {
        if let Some(slot) = self.marks.get_mut(place) {
            *slot = mark;
        }
    }

    /// Something is under way; replaces what was under way at the same step.
    pub(crate) fn set_progress(&mut self, progress: Progress) {
        self.end_progress(progress.step);
        self.crowded |= self.under_way.push(progress).is_err();
    }

    pub(crate) fn end_progress(&mut self, step: StepId) {
        self.under_way.retain(|p| p.step != step);
    }

    pub(crate) fn note_person(&mut self, person: PersonId) {
        if !self.answered(person) {
            self.crowded |= self.people.push(person).is_err();
        }
    }

    pub(crate) fn note_head(&mut self, at: EntryRef) {
        match self.heads.iter_mut().find(|h| h.device == at.device) {
            Some(head) => head.seq = head.seq.max(at.seq),
            None => self.crowded |= self.heads.push(at).is_err(),
        }
    }

    /// Notes that an entry does not count, or counts but must be seen.
    pub fn note_contested(&mut self, contested: Contested) {
        if self.contested.push(contested).is_err() {
            self.contested_more = self.contested_more.saturating_add(1);
        }
    }
}
