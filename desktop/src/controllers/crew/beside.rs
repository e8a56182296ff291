//! What is recorded of an engine beside its sheets' steps: a note for whoever has it next, something that happened, a tag
//! hung or taken off, a sheet given up. Anybody who is known may report; a tag comes off only by its own person's PIN.

use offshed_core::entry::{What, Words};
use offshed_core::ident::{EngineId, EventId, PersonId, SheetId};
use offshed_core::pack::rows::DefectGrade;
use offshed_core::sheet::Stage;
use offshed_depot::views::Moments;

use super::super::{Session, Trouble};
use super::ask::{About, Ask, Errand, Spot};
use super::people;
use super::view::Row;
use super::{CrewDesk, Place, Touch};

/// What stands at an engine beside its sheets.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Beside {
    /// Tags that hang on it, one a line.
    pub tags: Vec<String>,
    /// The last note for whoever has it next, with who left it and when; empty: none.
    pub handover: String,
    /// Rules are adopted that know events.
    pub has_events: bool,
}

/// Who holds a tag on an engine.
pub(super) fn holders(session: &Session, engine: EngineId) -> Vec<PersonId> {
    let state = session.ledger().engine(engine);
    state.map_or_else(Vec::new, |state| state.tags().iter().map(|(person, _)| *person).collect())
}

/// What stands at an engine beside its sheets.
pub(super) fn beside(session: &Session, engine: EngineId) -> Beside {
    let ledger = session.ledger();
    let (moments, now) = (Moments::new(session.zone()), session.now().stamp);
    let tag = |(person, since): &(PersonId, _)| {
        format!("Tag of {}, since {}: nothing may be moved", people::name(ledger, *person), moments.short(*since, now))
    };
    let tags = ledger.engine(engine).map_or_else(Vec::new, |state| state.tags().iter().map(tag).collect());
    let handover = ledger.handover(engine).map_or(String::new(), |note| {
        format!("{} ({}, {})", note.words, people::name(ledger, note.by), moments.short(note.at, now))
    });
    Beside { tags, handover, has_events: ledger.adopted().is_some_and(|pack| pack.pack().events().next().is_some()) }
}

/// The adopted rules' events, in their order, each with the grade that reports it.
pub(super) fn events(session: &Session) -> Vec<Row> {
    let Some(file) = session.ledger().adopted() else { return Vec::new() };
    let (pack, texts) = (file.pack(), file.texts());
    let row = |event: offshed_core::pack::rows::EventRow| Row {
        number: event.id.0.into(),
        title: texts.get(event.text).to_owned(),
        note: format!("reported by: {}", texts.get(pack.grade_name(event.by))),
        ..Row::default()
    };
    pack.events().map(row).collect()
}

/// The grades of a defect, with the keys of their touches, worst first.
const GRADES: [(&str, &str, &str); 3] = [
    ("defect-stopping", "A defect: stopping", "the engine may not leave until it is cleared"),
    ("defect-restricted", "A defect: restricted", "it may leave only as the foreman then writes"),
    ("defect-note", "A defect: to be known", "it stops nothing, and whoever has the engine next is told"),
];

/// What may be reported: at a sheet, defects, and then the events.
pub(super) fn reported(session: &Session, spot: Option<Spot>) -> Vec<Row> {
    let defect = |(key, title, note): &(&str, &str, &str)| Row {
        id: (*key).to_owned(),
        title: (*title).to_owned(),
        note: (*note).to_owned(),
        ..Row::default()
    };
    let defects = GRADES.iter().filter(|_| spot.is_some()).map(defect);
    defects.chain(events(session)).collect()
}

/// An event's name in the adopted rules.
pub(super) fn event_name(session: &Session, id: EventId) -> String {
    let file = session.ledger().adopted();
    let named = file.and_then(|file| Some(file.texts().get(file.pack().event(id)?.text).to_owned()));
    named.unwrap_or_default()
}

/// Whether a sheet may be given up.
pub(super) fn may_abandon(session: &Session, sheet: SheetId) -> bool {
    session.ledger().sheet(sheet).is_some_and(|sheet| sheet.stage() == Stage::Open)
}

impl CrewDesk {
    /// A touch about an engine or a whole sheet; others are answers to a step.
    pub(super) fn beside(&mut self, session: &mut Session, touch: Touch) -> Result<(), Trouble> {
        match (touch, self.place) {
            (Touch::HandOver, Place::Engine(engine)) => self.tell(About::HandOver(engine), true),
            (Touch::Events, Place::Engine(engine)) => {
                self.signed_on()?;
                self.ask = Some(Ask::Events(engine, None));
                Ok(())
            }
            (Touch::Events, Place::Sheet(sheet)) => self.report(session, (sheet, None)),
            (Touch::Events, Place::Step(sheet, step)) => self.report(session, (sheet, Some(step))),
            (Touch::HangTag, Place::Engine(engine)) => {
                let person = self.signed_on()?;
                if holders(session, engine).contains(&person) {
                    return Err(Trouble::input("your tag hangs there already"));
                }
                self.write(session, What::TagHung { engine }, person)?;
                self.notice = format!("Your tag hangs there. {}", self.notice);
                Ok(())
            }
            (Touch::LiftTag, Place::Engine(engine)) => {
                self.ask = Some(Ask::Person(Errand::LiftTag(engine)));
                Ok(())
            }
            (Touch::Abandon, Place::Sheet(sheet) | Place::Step(sheet, _)) if may_abandon(session, sheet) => {
                self.tell(About::Abandon(sheet), false)
            }
            (other, _) => self.at_step(session, other),
        }
    }

    /// Asks what happened, or was found, at a place on a sheet.
    fn report(&mut self, session: &Session, spot: Spot) -> Result<(), Trouble> {
        self.signed_on()?;
        self.ask = session.ledger().sheet(spot.0).map(|sheet| Ask::Events(sheet.engine, Some(spot)));
        Ok(())
    }

    /// A defect was found: what it is is asked for.
    pub(super) fn found(&mut self, engine: EngineId, spot: Spot, grade: DefectGrade) -> Result<(), Trouble> {
        self.tell(About::Defect(engine, spot, grade), false)
    }

    /// An event was chosen: how it is known is asked for.
    pub(super) fn happened(&mut self, engine: EngineId, event: u8) -> Result<(), Trouble> {
        self.tell(About::Happened(engine, EventId(event)), false)
    }

    /// Asks for words by the person who is signed on.
    fn tell(&mut self, about: About, own: bool) -> Result<(), Trouble> {
        self.signed_on()?;
        self.ask = Some(Ask::Words { about, text: String::new(), own, page: 0 });
        Ok(())
    }

    /// Words that were given about an engine or a whole sheet; `None`: they are about a step.
    pub(super) fn say_beside(
        &mut self,
        session: &mut Session,
        about: About,
        words: &Words,
    ) -> Option<Result<(), Trouble>> {
        let words = words.clone();
        let what = match about {
            About::HandOver(engine) => What::HandedOver { engine, words },
            About::Happened(engine, event) => What::Happened { engine, event, words, done_at: None },
            About::Abandon(sheet) => What::Abandoned { sheet, reason: words },
            About::Defect(engine, (sheet, step), grade) => {
                What::DefectOpened { engine, sheet: Some(sheet), step, grade, words }
            }
            _ => return None,
        };
        let written = self.signed_on().and_then(|person| self.write(session, what, person));
        if let (About::Abandon(sheet), true) = (about, written.is_ok()) {
            let engine = session.ledger().sheet(sheet).map(|sheet| sheet.engine);
            self.to(engine.map_or(Place::Engines, Place::Engine));
        }
        Some(written.map(drop))
    }

    /// A tag comes off by the person who hung it, whose PIN was given.
    pub(super) fn lift_tag(
        &mut self,
        session: &mut Session,
        engine: EngineId,
        person: PersonId,
    ) -> Result<(), Trouble> {
        self.write(session, What::TagLifted { engine }, person)?;
        self.notice = format!("The tag of {} is off. {}", people::name(session.ledger(), person), self.notice);
        Ok(())
    }
}
