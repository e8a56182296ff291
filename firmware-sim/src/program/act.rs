//! What may be answered, and the one way to write it.

use heapless::Vec;
use offshed_core::desk::{Denied, Staffing, View};
use offshed_core::entry::{Answer, Entry, Found, Review, What};
use offshed_core::fold;
use offshed_core::ident::{SequenceId, StepId};
use offshed_core::pack::Texts;
use offshed_core::pack::rows::{AskRow, KindRow, StepRow};
use offshed_core::units::Reading;
use offshed_core::verdict::{self, StepState};

use super::places::{Place, Timed, Told};
use super::{Program, Running};
use crate::hand::{Journal, Moment, Pins};
use crate::phrases;

/// One thing that a person may do at a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Act {
    /// Done as described.
    Done,
    /// Enter a value.
    Enter,
    /// Enter a number.
    Number,
    /// Choose an option.
    Choose,
    /// Start a hold.
    Begin,
    /// End it.
    End,
    /// Look at what is computed, and accept it.
    Look,
    /// A part seen as described.
    Seen,
    /// Time a part.
    Time,
    /// Sign.
    Sign,
    /// Review.
    Review,
    /// Say that it is not right.
    NotRight,
    /// Say that it does not apply.
    NotApplicable,
}

impl Act {
    /// In words.
    pub(super) fn words(self) -> &'static str {
        match self {
            Act::Done => "Done, as described",
            Act::Enter => "Enter the reading",
            Act::Number => "Enter the number",
            Act::Choose => "Choose",
            Act::Begin => "Start",
            Act::End => "End",
            Act::Look => "Look and accept",
            Act::Seen => "Seen, as described",
            Act::Time => "Time it",
            Act::Sign => "Sign",
            Act::Review => "Review",
            Act::NotRight => "NOT RIGHT",
            Act::NotApplicable => "Not applicable",
        }
    }
}

/// What may be done at one step: its own answer, and two more.
pub(super) type Acts = Vec<Act, 3, u8>;

impl<T: Texts + ?Sized, J: Journal, P: Pins> Program<'_, T, J, P> {
    /// What the person signed in may do at a step now.
    pub(super) fn acts(&self, row: &StepRow, at: Moment) -> Acts {
        let mut acts = Acts::new();
        let (scene, who) = (self.scene(), self.who(row.id));
        let Some(sheet) = scene.sheet.filter(|sheet| verdict::takes_answers(sheet).is_ok()) else { return acts };
        let offered = verdict::offers(&scene, who, at.now).find(|offer| offer.step == row.id);
        // There is room for all three.
        if let Some(offer) = offered {
            // A hold started on another device, or before this one was started again, was timed by no clock here.
            let held = self.running(row.id).is_some() && sheet.progress(row.id).is_some_and(|p| p.hold.is_some());
            let part = self.ask(row, offer.part);
            let _ = answer_of(row, part, held).map(|act| acts.push(act));
        }
        let signature = matches!(row.kind, KindRow::Signature { .. });
        if !signature {
            let _ = acts.push(Act::NotRight);
        }
        if row.skippable && self.may_skip(row, at) {
            let _ = acts.push(Act::NotApplicable);
        }
        acts
    }

    fn may_skip(&self, row: &StepRow, at: Moment) -> bool {
        let (scene, who) = (self.scene(), self.who(row.id));
        let settled = matches!(
            verdict::of(&scene, row.id, who, at.now),
            StepState::Proven { .. } | StepState::Skipped { .. } | StepState::UnderWay { .. }
        );
        !settled && verdict::needs_to_skip(&scene, row, who, at.now).holds()
    }

    /// What a part of a step asks.
    pub(super) fn ask(&self, row: &StepRow, part: u8) -> Option<AskRow> {
        let KindRow::Procedure { parts } = row.kind else { return None };
        self.pack.parts(parts).nth(usize::from(part)).map(|row| row.ask)
    }

    /// The part of a step that is next, from 0.
    pub(super) fn next_part(&self, step: StepId) -> u8 {
        self.shed.sheet.as_ref().and_then(|s| s.progress(step)).map_or(0, |p| p.next())
    }

    /// Writes an intention of the person signed in, and folds it.
    pub(super) fn write(&mut self, what: What, at: Moment) -> Result<Entry, Told> {
        let person = self.person.unwrap_or(offshed_core::ident::PersonId(0));
        let view = View {
            pack: Some(self.pack),
            register: &self.shed.roster,
            engine: Some(&self.shed.engine),
            sheet: self.shed.sheet.as_ref(),
            office: Staffing::Staffed,
        };
        let entry = self.desk.act(&view, what, person, at.now).map_err(|denied| match denied {
            Denied::Refused(why) => Told::Refused(why),
            Denied::NotDurable(fault) => Told::NotDurable(fault.into()),
            Denied::Exhausted | Denied::Unwritable(_) => Told::Unwritable,
        })?;
        self.shed.take(self.pack, &entry);
        Ok(entry)
    }

    /// Answers a step; the answer that stands on it is named, so that two devices' answers are told apart later.
    pub(super) fn answer(&mut self, step: StepId, answer: Answer, at: Moment) {
        let Some(sheet) = self.shed.sheet.as_ref() else { return };
        let over = fold::standing(self.pack, sheet, step);
        let with = self.who(step).with;
        let began = matches!(answer, Answer::Began(_));
        let reported = verdict::reports_fault(&answer);
        let what = What::Answered { sheet: sheet.id, step, answer, done_at: None, with, over };
        // Weighed before it is written: a value beyond its limits is recorded, and the person is told.
        let judged = self.weighed(&what, at);
        match self.write(what, at) {
            Err(told) => self.tell(told),
            Ok(_) => {
                self.after(step, began, at);
                if let Some(why) = judged.filter(|_| !reported) {
                    self.tell(Told::NotRight(why));
                }
            }
        }
    }

    fn weighed(&self, what: &What, at: Moment) -> Option<offshed_core::reason::Why> {
        let What::Answered { step, answer, .. } = what else { return None };
        let scene = self.scene();
        let (row, _) = verdict::find(&scene, *step).ok()?;
        match verdict::weigh(&scene, &row, answer, at.now).ok()? {
            verdict::Weight::NotRight { why, .. } => why,
            _ => None,
        }
    }

    /// Where a person is led once an answer is written: on with the same step, or to the next one offered.
    fn after(&mut self, step: StepId, began: bool, at: Moment) {
        if began {
            self.holds.retain(|hold| hold.step != step);
            // There is room: a sheet keeps no more under way.
            let _ = self.holds.push(Running { step, since_ms: at.ms });
            self.show_steps(step);
            return self.go(Place::Timer { step, of: Timed::Hold });
        }
        let under_way = self.shed.sheet.as_ref().is_some_and(|sheet| sheet.progress(step).is_some());
        if under_way {
            self.show_steps(step);
            return self.go(Place::Step { step, skip: 0 });
        }
        self.holds.retain(|hold| hold.step != step);
        self.with = None;
        let next = self.next_offer(step, at).unwrap_or(step);
        self.show_steps(next);
    }

    /// The first step offered behind `step`, else the first of all.
    fn next_offer(&self, step: StepId, at: Moment) -> Option<StepId> {
        let scene = self.scene();
        let place = self.pack.place_of(step);
        let who = verdict::Who { person: self.person, with: None };
        let mut first = None;
        for offer in verdict::offers(&scene, who, at.now).filter(|offer| !offer.again) {
            if self.pack.place_of(offer.step) > place {
                return Some(offer.step);
            }
            first = first.or(Some(offer.step));
        }
        first
    }

    /// To the list of steps with `step` chosen, the engine behind it.
    pub(super) fn show_steps(&mut self, step: StepId) {
        let at = self.steps().position(|row| row.id == step).unwrap_or(0);
        self.behind.truncate(2);
        self.place = Place::Steps { at };
    }

    /// Opens a sheet and shows its steps.
    pub(super) fn open_sheet(&mut self, sequence: SequenceId, at: Moment) {
        let what = What::SheetOpened { engine: self.shed.engine.id, sequence, pack: self.pack.hash() };
        match self.write(what, at) {
            Err(told) => self.tell(told),
            Ok(_) => {
                self.place = Place::Engine { at: 0 };
                self.behind.truncate(1);
                self.go_on(at);
            }
        }
    }

    /// A part that asks for a value, with the delivery that is computed from it where it can be told.
    pub(super) fn part_reading(&self, row: &StepRow, part: u8, reading: Reading) -> Answer {
        let scene = self.scene();
        let told = self.ask(row, part).and_then(|ask| verdict::delivery(&scene, row, ask, reading).ok().flatten());
        let found = match told {
            Some(told) => Found::Rose { reading, delivery: told.shown },
            None => Found::Reading(reading),
        };
        Answer::Part { part, found }
    }

    /// The hold of a step that was started here and runs.
    fn running(&self, step: StepId) -> Option<Running> {
        self.holds.iter().find(|hold| hold.step == step).copied()
    }

    /// Tenths of a second that a hold has run, by the clock that only rises.
    pub(super) fn held_tenths(&self, step: StepId, at: Moment) -> u32 {
        let since = self.running(step).map_or(at.ms, |hold| hold.since_ms);
        u32::try_from(at.ms.saturating_sub(since) / 100).unwrap_or(u32::MAX)
    }

    /// Signs or reviews a step as of what this device has seen on the sheet.
    pub(super) fn sign(&mut self, step: StepId, review: Option<(Review, Option<u8>)>, at: Moment) {
        let Some(sheet) = self.shed.sheet.as_ref() else { return };
        let seen = sheet.heads().clone();
        let answer = match review {
            None => Answer::Signed { pack: sheet.pack, seen },
            Some((outcome, words)) => Answer::Reviewed { outcome, words: chosen(&phrases::REVIEWED, words), seen },
        };
        self.answer(step, answer, at);
    }
}

/// The words with a number, or none.
pub(super) fn chosen(phrases: &[&str], n: Option<u8>) -> offshed_core::entry::Words {
    let words = n.and_then(|n| phrases.get(usize::from(n)));
    // Every phrase is shorter than an entry's words; the `phrases_fit` test holds it.
    words.and_then(|words| offshed_core::entry::bounded(words).ok()).unwrap_or_default()
}

/// The answer that a step asks for, at the part that is next.
fn answer_of(row: &StepRow, part: Option<AskRow>, held: bool) -> Option<Act> {
    Some(match row.kind {
        KindRow::Check => Act::Done,
        KindRow::Reading { .. } => Act::Enter,
        KindRow::Identity { .. } => Act::Number,
        KindRow::Choice { .. } => Act::Choose,
        KindRow::Timed { .. } if held => Act::End,
        KindRow::Timed { .. } => Act::Begin,
        KindRow::Due { .. } | KindRow::Figure { .. } => Act::Look,
        KindRow::Signature { review: false } => Act::Sign,
        KindRow::Signature { review: true } => Act::Review,
        KindRow::Procedure { .. } => match part? {
            AskRow::Seen => Act::Seen,
            AskRow::Time { .. } => Act::Time,
            AskRow::Reading { .. } | AskRow::Same { .. } | AskRow::Rise { .. } => Act::Enter,
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn phrases_fit() {
        let tables: [&[&str]; 4] =
            [&phrases::NOT_RIGHT, &phrases::NOT_APPLICABLE, &phrases::REVIEWED, &phrases::GIVEN_UP];
        for table in tables {
            for (n, phrase) in (0..).zip(table) {
                assert_eq!(chosen(table, Some(n)).as_str(), *phrase);
                assert!(!phrase.trim().is_empty() && phrase.is_ascii());
            }
        }
        assert_eq!(chosen(&phrases::REVIEWED, None).as_str(), "");
    }
}
