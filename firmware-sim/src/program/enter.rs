//! What each key does where something is entered: words, options, values, letters, times, signatures, people.

use offshed_core::entry::{Answer, Found, Review, What};
use offshed_core::ident::{PersonId, StepId};
use offshed_core::pack::Texts;
use offshed_core::pack::rows::KindRow;
use offshed_core::units::Reading;

use super::Program;
use super::act::chosen;
use super::entry::{LetterEntry, ValueEntry};
use super::places::{Asked, Place, Timed, Told, Valued, Worded};
use super::press::{OUTCOMES, moved, table};
use crate::hand::{Journal, Moment, PinAnswer, Pins};
use crate::keys::Key;
use crate::phrases;

impl<T: Texts + ?Sized, J: Journal, P: Pins> Program<'_, T, J, P> {
    pub(super) fn in_words(&mut self, of: Worded, n: usize, key: Key, at: Moment) {
        let words = table(of);
        let number = u8::try_from(n).ok();
        match (key, of) {
            (Key::Left, _) => self.back(),
            (Key::Select | Key::Right, Worded::NotRight(step)) => {
                self.answer(step, Answer::NotRight { words: chosen(words, number) }, at);
            }
            (Key::Select | Key::Right, Worded::NotApplicable(step)) => {
                self.answer(step, Answer::NotApplicable { reason: chosen(words, number) }, at);
            }
            (Key::Select | Key::Right, Worded::Reviewed(step, outcome)) => {
                self.go(Place::Confirm { asked: Asked::Review(step, outcome, number), skip: 0 });
            }
            (Key::Select | Key::Right, Worded::GivenUp) => self.give_up(number, at),
            _ => self.place = Place::Words { of, at: moved(n, key, words.len()) },
        }
    }

    pub(super) fn give_up(&mut self, number: Option<u8>, at: Moment) {
        let Some(sheet) = self.shed.sheet.as_ref().map(|sheet| sheet.id) else { return };
        match self.write(What::Abandoned { sheet, reason: chosen(&phrases::GIVEN_UP, number) }, at) {
            Ok(_) => {
                self.back();
                self.place = Place::Engine { at: 0 };
            }
            Err(told) => self.tell(told),
        }
    }

    pub(super) fn in_options(&mut self, step: StepId, n: usize, key: Key, at: Moment) {
        let options = match self.row(step).map(|row| row.kind) {
            Some(KindRow::Choice { options }) => usize::from(options.len),
            _ => 0,
        };
        match (key, u8::try_from(n)) {
            (Key::Left, _) => self.back(),
            (Key::Select | Key::Right, Ok(n)) => self.answer(step, Answer::Choice(n), at),
            _ => self.place = Place::Options { step, at: moved(n, key, options) },
        }
    }

    pub(super) fn in_outcomes(&mut self, step: StepId, n: usize, key: Key) {
        match (key, OUTCOMES.get(n).copied()) {
            (Key::Left, _) => self.back(),
            (Key::Select | Key::Right, Some(Review::Accepted)) => {
                self.go(Place::Confirm { asked: Asked::Review(step, Review::Accepted, None), skip: 0 });
            }
            (Key::Select | Key::Right, Some(outcome)) => {
                self.go(Place::Words { of: Worded::Reviewed(step, outcome), at: 0 });
            }
            _ => self.place = Place::Outcomes { step, at: moved(n, key, OUTCOMES.len()) },
        }
    }

    pub(super) fn in_value(&mut self, step: StepId, of: Valued, entry: ValueEntry, key: Key, at: Moment) {
        match (key, entry.reading()) {
            (Key::Left, _) => self.back(),
            (Key::Select, None) => self.tell(Told::Blank),
            (Key::Select, Some(reading)) => self.valued(step, of, reading, at),
            _ => self.place = Place::Value { step, of, entry: entry.pressed(key) },
        }
    }

    pub(super) fn valued(&mut self, step: StepId, of: Valued, reading: Reading, at: Moment) {
        let answer = match (of, self.row(step)) {
            (Valued::Reading, _) => Answer::Reading(reading),
            (Valued::Began, _) => Answer::Began(Some(reading)),
            (Valued::Ended { tenths }, _) => Answer::Ended { tenths, reading: Some(reading) },
            (Valued::Part, Some(row)) => self.part_reading(&row, self.next_part(step), reading),
            (Valued::Part, None) => return,
        };
        self.answer(step, answer, at);
    }

    pub(super) fn in_number(&mut self, step: StepId, entry: LetterEntry, key: Key, at: Moment) {
        match (key, entry.whole()) {
            (Key::Select, None) => self.tell(Told::Blank),
            (Key::Select, Some(number)) => self.answer(step, Answer::Number(number), at),
            _ => match entry.pressed(key) {
                Some(entry) => self.place = Place::Number { step, entry },
                None => self.back(),
            },
        }
    }

    pub(super) fn in_timer(&mut self, step: StepId, of: Timed, key: Key, at: Moment) {
        let now = |of| Place::Timer { step, of };
        match (key, of) {
            (Key::Select, Timed::Hold) => self.end_hold(step, at),
            (Key::Select, Timed::Ready) => self.place = now(Timed::Runs { since_ms: at.ms }),
            (Key::Select, Timed::Runs { since_ms }) => {
                let tenths = u32::try_from(at.ms.saturating_sub(since_ms) / 100).unwrap_or(u32::MAX);
                self.place = now(Timed::Stopped { tenths });
            }
            (Key::Select, Timed::Stopped { tenths }) => {
                let part = self.next_part(step);
                self.answer(step, Answer::Part { part, found: Found::Time { tenths } }, at);
            }
            (Key::Left, Timed::Stopped { .. }) => self.place = now(Timed::Ready),
            (Key::Left, _) => self.back(),
            _ => {}
        }
    }

    pub(super) fn end_hold(&mut self, step: StepId, at: Moment) {
        let tenths = self.held_tenths(step, at);
        match self.row(step).map(|row| row.kind) {
            Some(KindRow::Timed { unit: Some(unit), .. }) => {
                self.go(Place::Value { step, of: Valued::Ended { tenths }, entry: ValueEntry::new(unit) });
            }
            _ => self.answer(step, Answer::Ended { tenths, reading: None }, at),
        }
    }

    pub(super) fn in_confirm(&mut self, asked: Asked, skip: usize, key: Key, at: Moment) {
        match (key, self.person) {
            (Key::Select, Some(person)) => self.go(Place::Pin { person, asked, entry: LetterEntry::pin() }),
            _ => {
                let skip = self.scrolled(skip, key, at);
                self.stay_or_back(key, Place::Confirm { asked, skip });
            }
        }
    }

    pub(super) fn in_people(&mut self, asked: Asked, n: usize, key: Key) {
        let all = self.shed.roster.people().count();
        let person = self.shed.roster.people().nth(n).map(|(id, _)| id);
        match (key, person, asked) {
            (Key::Left, ..) => self.back(),
            (Key::Select | Key::Right, Some(person), Asked::With(step)) => {
                self.with = Some((step, person));
                self.show_steps(step);
                self.go(Place::Step { step, skip: 0 });
            }
            (Key::Select | Key::Right, Some(person), asked) => {
                self.go(Place::Pin { person, asked, entry: LetterEntry::pin() });
            }
            _ => self.place = Place::People { asked, at: moved(n, key, all) },
        }
    }

    pub(super) fn in_pin(&mut self, person: PersonId, asked: Asked, entry: LetterEntry, key: Key, at: Moment) {
        match (key, entry.whole()) {
            (Key::Select, None) => self.tell(Told::Blank),
            (Key::Select, Some(digits)) => match self.pins.check(person, &digits, at.now.stamp) {
                PinAnswer::Right => self.known(person, asked, at),
                other => {
                    self.place = Place::Pin { person, asked, entry: LetterEntry::pin() };
                    self.tell(Told::Pin(other));
                }
            },
            _ => match entry.pressed(key) {
                Some(entry) => self.place = Place::Pin { person, asked, entry },
                None => self.back(),
            },
        }
    }

    /// A person has shown who they are.
    pub(super) fn known(&mut self, person: PersonId, asked: Asked, at: Moment) {
        match asked {
            Asked::Sign(step) => self.sign(step, None, at),
            Asked::Review(step, outcome, words) => self.sign(step, Some((outcome, words)), at),
            Asked::SignIn | Asked::With(_) => {
                if self.person != Some(person) {
                    self.with = None;
                }
                self.person = Some(person);
                // Behind the PIN lies the list of people, and behind it what the person was about to do.
                self.back();
                self.back();
            }
        }
    }
}
