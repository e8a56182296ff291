//! Hands that work a whole preparation on the twin, and write down which keys they pressed: a key script.
//!
//! Beside them the same answers are given through a data folder, which says what is offered next and what would pass.

use std::error::Error;
use std::fmt::Write as _;

use offshed_core::entry::{Answer, Entry, Found, Review, What};
use offshed_core::ident::{EngineId, PersonId, SheetId, StepId};
use offshed_core::pack::Pack;
use offshed_core::pack::rows::KindRow;
use offshed_core::sheet::Stage;
use offshed_core::stamp::Now;
use offshed_core::units::Reading;
use offshed_core::verdict::{self, Offer, Who};
use offshed_depot::passing::Passer;
use offshed_depot::shed::{Given, Shed};
use offshed_handheld::keys::Key;
use offshed_handheld::program::{LetterEntry, ValueEntry};

use crate::script::{self, Act};
use crate::twin::Twin;

/// Who may have to act, the one most wanted first.
const PEOPLE: [u16; 6] = [21, 11, 22, 12, 1, 2];
/// More rows than any list of the demo has.
const ROWS: usize = 16;

type Outcome<T> = Result<T, Box<dyn Error>>;

/// The PIN that everybody has on a card of the demo.
pub(crate) fn pin(person: PersonId) -> String {
    format!("{:04}", 7_000 + person.0)
}

/// Hands on the twin.
pub(crate) struct Hands<'t, 'a> {
    twin: &'t mut Twin<'a>,
    pack: &'a Pack<'a>,
    lines: String,
}

impl<'t, 'a> Hands<'t, 'a> {
    /// Hands that have pressed nothing yet.
    pub(crate) fn new(twin: &'t mut Twin<'a>, pack: &'a Pack<'a>) -> Hands<'t, 'a> {
        Hands { twin, pack, lines: String::new() }
    }

    /// A line of the script, played at once.
    fn line(&mut self, line: &str) -> Outcome<()> {
        let acts: Vec<Act> = script::parse(line)?;
        acts.iter().for_each(|act| self.twin.play(act));
        writeln!(self.lines, "{line}")?;
        Ok(())
    }

    fn press(&mut self, key: Key) -> Outcome<()> {
        self.line(key.name())
    }

    fn presses(&mut self, key: Key, times: usize) -> Outcome<()> {
        match times {
            0 => Ok(()),
            1 => self.press(key),
            n => self.line(&format!("{} x{n}", key.name())),
        }
    }

    fn wait(&mut self, ms: u64) -> Outcome<()> {
        self.line(&format!("wait {ms}ms"))
    }

    fn choose(&mut self, n: usize) -> Outcome<()> {
        self.presses(Key::Up, ROWS)?;
        self.presses(Key::Down, n)?;
        self.press(Key::Select)
    }

    /// Signs in, from the list of engines.
    fn sign_in(&mut self, person: PersonId) -> Outcome<()> {
        self.presses(Key::Down, ROWS)?;
        self.press(Key::Select)?;
        self.choose_person(person)?;
        self.pin(person)?;
        if self.twin.program.person() == Some(person) { Ok(()) } else { Err(format!("{person} is not in").into()) }
    }

    fn choose_person(&mut self, person: PersonId) -> Outcome<()> {
        let n = self.twin.program.roster().people().position(|(id, _)| id == person);
        self.choose(n.ok_or_else(|| format!("person {person} is not on the device"))?)
    }

    fn pin(&mut self, person: PersonId) -> Outcome<()> {
        self.letters(&pin(person), LetterEntry::pin())?;
        self.press(Key::Select)
    }

    fn letters(&mut self, wanted: &str, mut entry: LetterEntry) -> Outcome<()> {
        for (n, letter) in wanted.chars().enumerate() {
            if n > 0 {
                self.press(Key::Right)?;
                entry = entry.pressed(Key::Right).ok_or("right goes on")?;
            }
            let mut turned = 0;
            while entry.at_hand().0 != letter {
                entry = entry.pressed(Key::Up).ok_or("up turns")?;
                turned += 1;
            }
            self.presses(Key::Up, turned)?;
        }
        Ok(())
    }

    /// From the steps to the engines, in with another person, and back to the steps.
    fn change_to(&mut self, person: PersonId, engine: EngineId) -> Outcome<()> {
        self.presses(Key::Left, 2)?;
        self.sign_in(person)?;
        self.take_up(engine)?;
        self.choose(0)
    }

    fn take_up(&mut self, engine: EngineId) -> Outcome<()> {
        let n = self.twin.program.roster().engines().position(|(id, _)| id == engine);
        self.choose(n.ok_or_else(|| format!("engine {engine} is not on the device"))?)
    }

    fn to(&mut self, step: StepId) -> Outcome<()> {
        let place = |id| self.pack.place_of(id);
        let key = match self.twin.program.step_at_hand() {
            Some(at) if place(at) > place(step) => Key::Up,
            _ => Key::Down,
        };
        for _ in 0..100 {
            if self.twin.program.step_at_hand() == Some(step) {
                return Ok(());
            }
            self.press(key)?;
        }
        Err(format!("step {step} is not in the list").into())
    }

    /// Enters a value digit by digit.
    fn value(&mut self, wanted: Reading) -> Outcome<()> {
        let mut entry = ValueEntry::new(wanted.unit);
        let places = entry.shown().0.chars().filter(|c| *c == '-').count();
        if wanted.milli == 0 {
            self.press(Key::Down)?;
            entry = entry.pressed(Key::Down);
        }
        for n in 0..places {
            let mut turned = 0;
            loop {
                let next = entry.pressed(Key::Up);
                let nearer = next.reading().is_some_and(|r| r.milli <= wanted.milli && Some(r) != entry.reading());
                if !nearer {
                    break;
                }
                (entry, turned) = (next, turned + 1);
            }
            self.presses(Key::Up, turned)?;
            if n + 1 < places {
                self.press(Key::Right)?;
                entry = entry.pressed(Key::Right);
            }
        }
        if entry.reading() != Some(wanted) {
            return Err(format!("{wanted} can't be entered").into());
        }
        self.press(Key::Select)
    }

    /// Gives the answer at a step that is chosen in the list; ends in the list.
    fn give(&mut self, answer: &Answer, person: PersonId, with: Option<PersonId>) -> Outcome<()> {
        match with {
            Some(with) => {
                self.presses(Key::Select, 2)?;
                self.choose_person(with)?;
            }
            None => self.press(Key::Right)?,
        }
        self.presses(Key::Select, 2)?;
        match answer {
            Answer::Done | Answer::Part { found: Found::Seen, .. } => Ok(()),
            Answer::Reading(reading)
            | Answer::Part { found: Found::Reading(reading) | Found::Rose { reading, .. }, .. } => self.value(*reading),
            Answer::Number(number) => {
                self.letters(number, LetterEntry::number())?;
                self.press(Key::Select)
            }
            Answer::Choice(n) => self.choose(usize::from(*n)),
            Answer::Part { found: Found::Time { tenths }, .. } => {
                self.press(Key::Select)?;
                self.wait(u64::from(*tenths) * 100)?;
                self.presses(Key::Select, 2)
            }
            Answer::Began(reading) => reading.iter().try_for_each(|reading| self.value(*reading)),
            Answer::Accepted(_) => self.press(Key::Select),
            Answer::Signed { .. } => {
                self.press(Key::Select)?;
                self.pin(person)
            }
            Answer::Reviewed { .. } => {
                self.presses(Key::Select, 2)?;
                self.pin(person)
            }
            other => Err(format!("no way to enter {other:?}").into()),
        }
    }

    fn end_hold(&mut self, tenths: u32, reading: Option<Reading>) -> Outcome<()> {
        self.wait(u64::from(tenths) * 100)?;
        self.press(Key::Select)?;
        reading.iter().try_for_each(|reading| self.value(*reading))
    }

    fn last(&self) -> Outcome<Entry> {
        self.twin.program.journal().entries.last().cloned().ok_or_else(|| "nothing was written".into())
    }

    fn entries(&self) -> usize {
        self.twin.program.journal().entries.len()
    }

    /// Works a preparation of `engine` to its review, and answers the script; a picture after every answer.
    ///
    /// # Errors
    /// When there is no way on, or what was entered is not what the folder would take.
    pub(crate) fn prepare(mut self, depot: &mut Shed, engine: EngineId) -> Outcome<String> {
        let mut person = PersonId(PEOPLE[0]);
        self.sign_in(person)?;
        self.take_up(engine)?;
        // The evening's sheet, may it leave, the boiler, and then the sequences.
        self.choose(3)?;
        let opened = self.last()?;
        let sheet = depot.act(opened.what.clone(), opened.person, Now::good(opened.stamp)).map_err(why)?.at;
        let mut given = 0;
        for _ in 0..600 {
            let now = self.twin.now();
            let Some((offer, who, with)) = next(depot, sheet, now, person) else {
                if depot.ledger().sheet(sheet).is_none_or(|s| s.stage() != Stage::Open) {
                    break;
                }
                self.wait(300_000)?;
                continue;
            };
            if who != person {
                self.change_to(who, engine)?;
                person = who;
            }
            self.step(depot, sheet, &offer, (who, with))?;
            given += 1;
            self.line(&format!("shot answer-{given}"))?;
        }
        match depot.ledger().sheet(sheet).map(|s| s.stage()) {
            Some(Stage::Finished(_)) => Ok(self.lines),
            other => Err(format!("the sheet does not end: {other:?} after {given} answers").into()),
        }
    }

    /// Answers what is offered, here and in the folder.
    fn step(
        &mut self,
        depot: &mut Shed,
        sheet: SheetId,
        offer: &Offer,
        (who, with): (PersonId, Option<PersonId>),
    ) -> Outcome<()> {
        self.to(offer.step)?;
        let meant = as_read(passing(depot, sheet, offer.step, self.twin.now())?);
        // A second person stays named while a procedure is under way.
        let asked = with.filter(|_| offer.part == 0);
        let before = self.entries();
        self.give(&meant, who, asked)?;
        if self.entries() != before + 1 {
            return Err(format!("step {}: {meant:?} was not taken", offer.step).into());
        }
        let began = matches!(meant, Answer::Began(_));
        follow(depot, sheet, meant, &self.last()?)?;
        if began {
            let meant = as_read(passing(depot, sheet, offer.step, self.twin.now())?);
            let Answer::Ended { tenths, reading } = meant else { return Err(format!("{meant:?} ends no hold").into()) };
            self.end_hold(tenths, reading)?;
            return follow(depot, sheet, meant, &self.last()?);
        }
        if self.twin.program.sheet().is_some_and(|s| s.progress(offer.step).is_some()) {
            self.press(Key::Left)?;
        }
        Ok(())
    }
}

fn why(denial: impl std::fmt::Debug) -> Box<dyn Error> {
    format!("{denial:?}").into()
}

/// What is offered next in the depot: to whom, with whom.
fn next(depot: &Shed, sheet: SheetId, now: Now, current: PersonId) -> Option<(Offer, PersonId, Option<PersonId>)> {
    let people = std::iter::once(current).chain(PEOPLE.map(PersonId).into_iter().filter(|id| *id != current));
    depot.scene(sheet, |scene| {
        people.into_iter().find_map(|person| {
            [None, Some(PersonId(31)), Some(PersonId(22))].into_iter().find_map(|with| {
                let who = Who { person: Some(person), with };
                let offer = verdict::offers(scene, who, now).find(|offer| !offer.again)?;
                Some((offer, person, with))
            })
        })
    })?
}

/// A passing answer to what is offered, as far as an instrument shows it.
fn passing(depot: &Shed, sheet: SheetId, step: StepId, now: Now) -> Outcome<Answer> {
    let found = depot.scene(sheet, |scene| {
        let row = scene.pack.step(step)?;
        match row.kind {
            KindRow::Signature { review: false } => return depot.signature(sheet).ok(),
            KindRow::Signature { review: true } => {
                return depot.review(sheet, Review::Accepted, Default::default()).ok();
            }
            _ => {}
        }
        let sheet = depot.ledger().sheet(sheet)?;
        Passer { scene, now }.answer(sheet, &row).map(|passing| passing.answer)
    });
    found.flatten().ok_or_else(|| format!("no passing answer to step {step}").into())
}

/// A reading as an instrument shows it: rounded up to the last digit that is read.
fn read_off(reading: Reading) -> Reading {
    let step = Reading::step_milli(reading.unit);
    Reading { milli: (reading.milli + step - 1).div_euclid(step) * step, ..reading }
}

fn as_read(answer: Answer) -> Answer {
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

/// Gives the twin's last answer to the folder, which has to take it as well.
fn follow(depot: &mut Shed, sheet: SheetId, meant: Answer, hand: &Entry) -> Outcome<()> {
    let What::Answered { step, with, .. } = &hand.what else {
        return Err(format!("no answer: {:?}", hand.what).into());
    };
    let given = Given { sheet, step: *step, answer: meant, with: *with, done_at: None };
    depot.answer(given, hand.person, Now::good(hand.stamp)).map(|_| ()).map_err(why)
}
