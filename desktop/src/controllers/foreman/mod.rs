//! The running foreman's desk: sheets that wait for a review, defects, dates, water. What a person decides is written
//! with their PIN; nothing is offered that the rules refuse.

mod asking;
mod dates;
mod defects;
mod hands;
mod sheets;
mod view;
mod water;

use std::cell::RefCell;
use std::collections::BTreeSet;

use offshed_core::entry::Review;
use offshed_core::ident::{DefectId, EngineId, SheetId};
use offshed_depot::typed;

use super::{Session, Trouble};
use asking::Ask;
pub use asking::{Asked, Choice};
pub use dates::{DateEngine, DateRow, STRIP_DAYS, StripMark};
pub use defects::DefectRow;
pub use sheets::{SheetPage, SheetRow, StageRow};
pub(super) use view::engine_title;
pub use view::{ForemanView, Line, TabRow};
pub use water::{Plot, WaterEngine, WaterPage};

/// Which of the desk's pages is up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Tab {
    /// Sheets waiting.
    #[default]
    Sheets,
    /// Defects.
    Defects,
    /// Dates.
    Dates,
    /// Water.
    Water,
}

impl Tab {
    /// All of them, in the bar's order.
    pub const ALL: [Tab; 4] = [Tab::Sheets, Tab::Defects, Tab::Dates, Tab::Water];

    /// Its key.
    pub fn key(self) -> &'static str {
        match self {
            Tab::Sheets => "sheets",
            Tab::Defects => "defects",
            Tab::Dates => "dates",
            Tab::Water => "water",
        }
    }
}

/// Something a person did on the page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Touch {
    /// Chose one of the desk's pages, by key.
    Tab(String),
    /// Chose a sheet, by its id as printed.
    Sheet(String),
    /// Unfolds a stage of the sheet, or folds it up: its place.
    Stage(usize),
    /// One place up; out of what is being asked, where something is.
    Back,
    /// Reviews the sheet that is up.
    Decide(Review),
    /// Lets an engine leave with a defect, in writing: the defect's id as printed.
    Restrict(String),
    /// A defect was put right: its id as printed.
    Clear(String),
    /// Chose an engine, by number.
    Engine(u16),
    /// Chose one of what is asked, by key.
    Choose(String),
    /// Own words instead of ready-made ones.
    OwnWords,
    /// A key of a pad or a keyboard.
    Type(char),
    /// The last character typed is not meant.
    Erase,
    /// What was typed is meant.
    Confirm,
    /// A page of letters.
    Letters(usize),
}

/// The desk.
#[derive(Debug, Default)]
pub struct ForemanDesk {
    tab: Tab,
    sheet: Option<SheetId>,
    unfolded: BTreeSet<usize>,
    engine: Option<EngineId>,
    ask: Option<Ask>,
    /// What the last touch came to, in words.
    notice: String,
    lists: RefCell<sheets::Lists>,
}

impl ForemanDesk {
    /// Which page is up.
    pub fn tab(&self) -> Tab {
        self.tab
    }

    /// Whether something is being asked.
    pub fn asks(&self) -> bool {
        self.ask.is_some()
    }

    /// Does what a touch asks; what it came to is in the view.
    pub fn touch(&mut self, session: &mut Session, touch: Touch) {
        if !matches!(touch, Touch::Letters(_) | Touch::Type(_) | Touch::Erase | Touch::Stage(_)) {
            self.notice.clear();
        }
        let done = match self.ask.take() {
            Some(ask) => self.asked(session, ask, touch),
            None => self.at_page(session, touch),
        };
        if let Err(trouble) = done {
            self.notice = trouble.words;
        }
    }

    fn fold_or_unfold(&mut self, stage: usize) {
        if !self.unfolded.remove(&stage) {
            self.unfolded.insert(stage);
        }
    }

    fn at_page(&mut self, session: &mut Session, touch: Touch) -> Result<(), Trouble> {
        match touch {
            Touch::Tab(key) => self.turn(&key),
            Touch::Sheet(id) => {
                self.sheet = typed::entry_ref(&id).filter(|id| session.ledger().sheet(*id).is_some());
                self.unfolded.clear();
            }
            Touch::Stage(n) => self.fold_or_unfold(n),
            Touch::Back => self.sheet = None,
            Touch::Engine(number) => self.engine = Some(EngineId(number)),
            Touch::Decide(outcome) => return self.decide(session, outcome),
            Touch::Restrict(id) => return self.restrict(session, &id),
            Touch::Clear(id) => return self.clear(session, &id),
            _ => {}
        }
        Ok(())
    }

    fn turn(&mut self, key: &str) {
        if let Some(tab) = Tab::ALL.into_iter().find(|tab| tab.key() == key) {
            (self.tab, self.sheet) = (tab, None);
        }
    }

    /// A review begins with its words, or, where the sheet is accepted, with who reviews.
    fn decide(&mut self, session: &Session, outcome: Review) -> Result<(), Trouble> {
        let Some((sheet, review)) = self.offered(session) else { return Ok(()) };
        self.ask = Some(match outcome {
            Review::Accepted => Ask::person(asking::Errand::Review { sheet, review, outcome, words: String::new() }),
            _ => Ask::words(asking::About::Review { sheet, review, outcome }),
        });
        Ok(())
    }

    fn restrict(&mut self, session: &Session, id: &str) -> Result<(), Trouble> {
        let defect = known(session, id)?;
        if defects::may_restrict(session, defect) {
            self.ask = Some(Ask::words(asking::About::Restrict { defect }));
        }
        Ok(())
    }

    fn clear(&mut self, session: &Session, id: &str) -> Result<(), Trouble> {
        let defect = known(session, id)?;
        let grades = hands::clearing(session.ledger(), defect, session.now());
        self.ask = match grades.as_slice() {
            [] => None,
            [grade] => Some(Ask::words(asking::About::Clear { defect, grade: *grade })),
            _ => Some(Ask::Grade { defect }),
        };
        Ok(())
    }
}

fn known(session: &Session, id: &str) -> Result<DefectId, Trouble> {
    let found = typed::entry_ref(id).filter(|id| hands::open_defect(session.ledger(), *id).is_some());
    found.ok_or_else(|| Trouble::input("the defect is not open any more"))
}
