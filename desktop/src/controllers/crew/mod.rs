//! The crew desk: an engine, a sheet, a step, an answer. A control exists only where the rules offer it; an answer is
//! durable before anything says that it is done.

mod answer;
mod ask;
mod beside;
mod form;
mod overlay;
mod pages;
mod people;
mod phrases;
mod step;
mod units;
mod view;
mod watch;

use offshed_core::entry::Review;
use offshed_core::ident::{EngineId, PersonId, SheetId, StepId};
use offshed_core::pack::rows::DefectGrade;
use offshed_core::verdict::Who;

use super::Session;
pub use ask::LETTERS;
use ask::{Ask, Draft};
pub use beside::Beside;
pub use form::{Form, Kind};
pub use overlay::AskView;
use people::Hands;
pub(super) use step::state_word;
pub use step::{ReasonRow, StepCard};
pub use view::{CrewView, Row};
use watch::Watches;

/// Where the desk is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Place {
    /// Choosing an engine.
    #[default]
    Engines,
    /// At an engine: its sheets, and what may be opened.
    Engine(EngineId),
    /// At a sheet: its steps.
    Sheet(SheetId),
    /// At one step of a sheet.
    Step(SheetId, StepId),
}

/// Something a person did on the page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Touch {
    /// Chose an engine.
    Engine(u16),
    /// Opens a sheet of the sequence with this number, for the engine that is up.
    Open(u8),
    /// Chose a sheet, by its id as printed.
    Sheet(String),
    /// Chose a step, by number.
    Step(u16),
    /// Went to the first step that may be answered now.
    Next,
    /// Chose the list: everything, or what may be done now.
    ShowAll(bool),
    /// One place up; out of what is being asked, where something is.
    Back,
    /// Wants to say who they are.
    SignOn,
    /// Is off.
    SignOff,
    /// Wants to name the second person who is there.
    Second,
    /// Chose a person, by number.
    Person(u16),
    /// A key of a pad.
    Type(char),
    /// A key of a keyboard, large or small as it was typed.
    Key(char),
    /// The last character typed is not meant.
    Erase,
    /// What was typed is meant.
    Confirm,
    /// A page of letters.
    Letters(usize),
    /// A ready-made phrase, which is recorded at once.
    Phrase(String),
    /// Words of their own instead of a phrase.
    OwnWords,
    /// Another unit, by its symbol.
    Unit(String),
    /// The unit after the one that is up.
    NextUnit,
    /// Done as described.
    Done,
    /// Looked at and not right.
    NotRight,
    /// Does not apply today.
    Skip,
    /// A fault at a step that is not open: reporting one is never locked.
    Fault,
    /// The standing answer is struck out.
    Strike,
    /// Wants to give a reading, a number or a time.
    Enter,
    /// What was entered and compared is recorded.
    Record,
    /// An option, from 0.
    Choose(u8),
    /// A part was seen as described.
    Seen,
    /// A hold starts, or the watch does.
    Start,
    /// A hold ends, or the watch stops.
    Stop,
    /// A procedure starts again at its first part.
    Restart,
    /// What was worked out is accepted.
    Accept,
    /// Signs.
    Sign,
    /// Reviews.
    Review(Review),
    /// What to do when the water is lost.
    LowWater,
    /// Leaves a note for whoever has the engine next.
    HandOver,
    /// Something happened to the engine.
    Events,
    /// Chose what happened, by number.
    Event(u8),
    /// Found a defect that is this bad.
    Defect(DefectGrade),
    /// Hangs their tag on the engine.
    HangTag,
    /// Takes a tag off.
    LiftTag,
    /// Gives the sheet up.
    Abandon,
    /// A reason was touched: its place in the list.
    Reason(usize),
}

/// The desk.
#[derive(Debug, Default)]
pub struct CrewDesk {
    place: Place,
    /// Every step is listed, not only what may be done now.
    all: bool,
    hands: Hands,
    draft: Draft,
    ask: Option<Ask>,
    /// What the last touch came to, in words.
    notice: String,
    watch: Watches,
}

impl CrewDesk {
    /// Where the desk is.
    pub fn place(&self) -> Place {
        self.place
    }

    /// The person who is signed on.
    pub fn person(&self) -> Option<PersonId> {
        self.hands.person
    }

    /// Does what a touch asks; what it came to is in the view.
    pub fn touch(&mut self, session: &mut Session, touch: Touch) {
        self.hands.expire(session.tenths());
        if !matches!(touch, Touch::Letters(_) | Touch::Type(_) | Touch::Key(_) | Touch::Erase) {
            self.notice.clear();
        }
        let done = match self.ask.take() {
            Some(ask) => self.asked(session, ask, touch),
            None => self.at_place(session, touch),
        };
        if let Err(trouble) = done {
            self.notice = trouble.words;
        }
    }

    /// The controls that a step of a sheet has now, for whoever is signed on.
    pub fn form(&self, session: &Session, sheet: SheetId, step: StepId) -> Form {
        self.looks(session, sheet).form(step)
    }

    /// Who is signed on, and the second person who was named.
    pub fn hands(&self) -> Who {
        self.who()
    }

    /// Starts at a place that was left.
    pub fn reopen(&mut self, place: Place) {
        self.to(place);
    }

    fn to(&mut self, place: Place) {
        if self.place != place {
            self.draft = Draft::default();
        }
        self.place = place;
    }

    fn sheet(&self) -> Option<SheetId> {
        match self.place {
            Place::Sheet(sheet) | Place::Step(sheet, _) => Some(sheet),
            Place::Engines | Place::Engine(_) => None,
        }
    }

    fn who(&self) -> Who {
        Who { person: self.hands.person, with: self.hands.with }
    }
}
