//! Hands that work a sheet on a handheld with its five buttons, whatever its journal is.
#![allow(dead_code)]

use offshed_core::entry::{Answer, Found};
use offshed_core::ident::{EngineId, PersonId, StepId};
use offshed_core::pack::{Pack, SliceTexts};
use offshed_core::stamp::{Now, Stamp};
use offshed_core::units::Reading;
use offshed_handheld::hand::{Journal, Moment, Pins};
use offshed_handheld::keys::{Event, Key};
use offshed_handheld::program::{LetterEntry, Program, ValueEntry};

/// Hands on a handheld.
pub(crate) struct Hands<'a, J, P> {
    pub(crate) program: Program<'a, SliceTexts<'a>, J, P>,
    pub(crate) pack: &'a Pack<'a>,
    pub(crate) engine: EngineId,
    pub(crate) start: Stamp,
    pub(crate) ms: u64,
}

/// Everybody's own PIN.
pub(crate) fn pin(person: PersonId) -> String {
    format!("{:04}", 7_000 + person.0)
}

impl<J: Journal, P: Pins> Hands<'_, J, P> {
    pub(crate) fn moment(&self) -> Moment {
        let now = Now::good(self.start.plus((self.ms / 1_000) as i64));
        Moment { now, ms: self.ms }
    }

    pub(crate) fn press(&mut self, key: Key) {
        self.ms += 100;
        let at = self.moment();
        self.program.step(Event::Press(key), at);
    }

    pub(crate) fn presses(&mut self, key: Key, times: usize) {
        (0..times).for_each(|_| self.press(key));
    }

    pub(crate) fn choose(&mut self, n: usize) {
        self.presses(Key::Up, 60);
        self.presses(Key::Down, n);
        self.press(Key::Select);
    }

    /// Signs in, from the list of engines.
    pub(crate) fn sign_in(&mut self, person: PersonId) {
        self.presses(Key::Down, 60);
        self.press(Key::Select);
        self.choose_person(person);
        self.pin(person);
        assert_eq!(self.program.person(), Some(person));
    }

    pub(crate) fn choose_person(&mut self, person: PersonId) {
        let n = self.program.roster().people().position(|(id, _)| id == person).expect("a person of the register");
        self.choose(n);
    }

    pub(crate) fn pin(&mut self, person: PersonId) {
        self.letters(&pin(person), LetterEntry::pin());
        self.press(Key::Select);
    }

    pub(crate) fn letters(&mut self, wanted: &str, mut entry: LetterEntry) {
        for (n, letter) in wanted.chars().enumerate() {
            if n > 0 {
                self.press(Key::Right);
                entry = entry.pressed(Key::Right).expect("right never goes back");
            }
            while entry.at_hand().0 != letter {
                self.press(Key::Up);
                entry = entry.pressed(Key::Up).expect("up never goes back");
            }
        }
    }

    /// From the steps to the engines, in with another person, and back to the steps.
    pub(crate) fn change_to(&mut self, person: PersonId) {
        self.presses(Key::Left, 2);
        self.sign_in(person);
        self.take_up();
        self.choose(0);
    }

    pub(crate) fn take_up(&mut self) {
        let n = self.program.roster().engines().position(|(id, _)| id == self.engine).expect("the engine");
        self.choose(n);
    }

    pub(crate) fn to(&mut self, step: StepId) {
        let place = |id| self.pack.place_of(id);
        let key = match self.program.step_at_hand() {
            Some(at) if place(at) > place(step) => Key::Up,
            _ => Key::Down,
        };
        for _ in 0..100 {
            if self.program.step_at_hand() == Some(step) {
                return;
            }
            self.press(key);
        }
        panic!("step {step} is not in the list");
    }

    /// Enters a value digit by digit.
    pub(crate) fn value(&mut self, wanted: Reading) {
        let mut entry = ValueEntry::new(wanted.unit);
        let places = entry.shown().0.chars().filter(|c| *c == '-').count();
        if wanted.milli == 0 {
            self.press(Key::Down);
            entry = entry.pressed(Key::Down);
        }
        for n in 0..places {
            while entry
                .pressed(Key::Up)
                .reading()
                .is_some_and(|r| r.milli <= wanted.milli && Some(r) != entry.reading())
            {
                self.press(Key::Up);
                entry = entry.pressed(Key::Up);
            }
            if n + 1 < places {
                self.press(Key::Right);
                entry = entry.pressed(Key::Right);
            }
        }
        assert_eq!(entry.reading(), Some(wanted), "the buttons can enter it");
        self.press(Key::Select);
    }

    /// Gives the answer at a step that is chosen in the list; ends in the list.
    pub(crate) fn give(&mut self, step: StepId, answer: &Answer, person: PersonId, with: Option<PersonId>) {
        match with {
            Some(with) => {
                self.press(Key::Select);
                self.press(Key::Select);
                self.choose_person(with);
            }
            None => self.press(Key::Right),
        }
        assert_eq!(self.program.step_at_hand(), Some(step));
        self.press(Key::Select);
        self.press(Key::Select);
        match answer {
            Answer::Done | Answer::Part { found: Found::Seen, .. } => {}
            Answer::Reading(reading)
            | Answer::Part { found: Found::Reading(reading) | Found::Rose { reading, .. }, .. } => {
                self.value(*reading);
            }
            Answer::Number(number) => {
                self.letters(number, LetterEntry::number());
                self.press(Key::Select);
            }
            Answer::Choice(n) => self.choose(usize::from(*n)),
            Answer::Part { found: Found::Time { tenths }, .. } => {
                self.press(Key::Select);
                self.ms += u64::from(*tenths) * 100 - 100;
                self.presses(Key::Select, 2);
            }
            Answer::Began(reading) => reading.iter().for_each(|reading| self.value(*reading)),
            Answer::Accepted(_) => self.press(Key::Select),
            Answer::Signed { .. } => {
                self.press(Key::Select);
                self.pin(person);
            }
            Answer::Reviewed { .. } => {
                self.presses(Key::Select, 2);
                self.pin(person);
            }
            other => panic!("no way to enter {other:?}"),
        }
    }

    pub(crate) fn end_hold(&mut self, tenths: u32, reading: Option<Reading>) {
        self.ms += u64::from(tenths) * 100 - 100;
        self.press(Key::Select);
        reading.iter().for_each(|reading| self.value(*reading));
    }
}

/// A reading as an instrument shows it: rounded up to the last digit that is read.
pub(crate) fn read_off(reading: Reading) -> Reading {
    let step = Reading::step_milli(reading.unit);
    Reading { milli: (reading.milli + step - 1).div_euclid(step) * step, ..reading }
}

pub(crate) fn as_read(answer: Answer) -> Answer {
    match answer {
        Answer::Reading(reading) => Answer::Reading(read_off(reading)),
        Answer::Began(reading) => Answer::Began(reading.map(read_off)),
        Answer::Ended { tenths, reading } => Answer::Ended { tenths, reading: reading.map(read_off) },
        Answer::Part { part, found: Found::Reading(reading) | Found::Rose { reading, .. } } => {
            Answer::Part { part, found: Found::Reading(read_off(reading)) }
        }
        other => other,
    }
}
