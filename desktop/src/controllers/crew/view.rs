//! The page as plain data.

use offshed_core::ident::SheetId;
use offshed_depot::views;

use super::super::Session;
use super::{AskView, Beside, CrewDesk, Form, Place, StepCard, beside, pages, people};

/// A row of a list.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Row {
    /// Its id, where it has one in words.
    pub id: String,
    /// Its number, where it has one.
    pub number: i32,
    /// What it is.
    pub title: String,
    /// The heading it stands under; empty: the one before.
    pub heading: String,
    /// Its state in a word.
    pub word: &'static str,
    /// The key of its sign.
    pub mark: &'static str,
    /// More about it.
    pub note: String,
    /// It is the one that is up.
    pub chosen: bool,
}

/// The page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CrewView {
    /// `engines`, `engine`, `sheet`, `step`.
    pub place: &'static str,
    /// What is up: an engine, a sheet.
    pub title: String,
    /// How far it is.
    pub note: String,
    /// Who is signed on; empty: nobody.
    pub who: String,
    /// The second person who was named; empty: nobody.
    pub with: String,
    /// What the last touch came to.
    pub notice: String,
    /// Engines.
    pub engines: Vec<Row>,
    /// The engine's sheets.
    pub sheets: Vec<Row>,
    /// What stands at the engine beside its sheets.
    pub beside: Beside,
    /// What may be opened for it.
    pub sequences: Vec<Row>,
    /// The sheet may be given up.
    pub may_abandon: bool,
    /// The sheet's steps.
    pub steps: Vec<Row>,
    /// How many may be done now.
    pub now: usize,
    /// All are listed.
    pub all: bool,
    /// The title of the next step that may be answered; empty: none.
    pub next: String,
    /// The step that is up.
    pub step: StepCard,
    /// Its controls.
    pub form: Form,
    /// What an answer that was entered would come to, where that is told before it is recorded.
    pub comes_to: String,
    /// What is asked on a page of its own.
    pub ask: AskView,
    /// What the list says where it is empty.
    pub empty: String,
}

impl CrewDesk {
    /// Signs off whoever left the desk alone.
    pub fn tick(&mut self, session: &Session) {
        if self.hands.idle(session.tenths()) {
            self.hands = super::people::Hands::default();
            self.ask = None;
        }
    }

    /// Whether something on the page moves by itself: a hold or the watch.
    pub fn moves(&self, session: &Session) -> bool {
        let Place::Step(sheet, step) = self.place else { return false };
        let hold = session.ledger().sheet(sheet).and_then(|s| s.progress(step)).is_some_and(|p| p.hold.is_some());
        hold || matches!(self.watch.stopwatch, super::watch::Stopwatch::Running(_))
    }

    /// The page as it stands now.
    pub fn view(&self, session: &Session) -> CrewView {
        let ledger = session.ledger();
        let mut view = CrewView {
            who: self.hands.person.map_or(String::new(), |id| people::named(ledger, id, session.now())),
            with: self.hands.with.map_or(String::new(), |id| people::name(ledger, id)),
            notice: self.notice.clone(),
            all: self.all,
            ask: self.ask_view(session),
            ..CrewView::default()
        };
        match self.place {
            Place::Engines => {
                view.place = "engines";
                view.title = "Which engine?".to_owned();
                view.engines = pages::engines(session);
                view.empty = "No engine is in the register: the office enters them.".to_owned();
            }
            Place::Engine(id) => {
                view.place = "engine";
                view.title = pages::engine_title(session, id);
                view.beside = beside::beside(session, id);
                view.sheets = pages::sheets(session, id);
                view.sequences = pages::sequences(session);
                view.empty = "No rules are adopted: the office adopts a pack.".to_owned();
            }
            Place::Sheet(sheet) => self.sheet_view(session, sheet, &mut view),
            Place::Step(sheet, step) => {
                self.sheet_view(session, sheet, &mut view);
                view.place = "step";
                let looks = self.looks(session, sheet);
                if let Some(full) = views::sheet(ledger, sheet, looks.who, session.now()) {
                    view.step = self.step_card(&looks, step, &full);
                }
                view.form = looks.form(step);
                view.comes_to = self.told(session, sheet, step, &view.form);
            }
        }
        view
    }

    fn sheet_view(&self, session: &Session, sheet: SheetId, view: &mut CrewView) {
        view.place = "sheet";
        let looks = self.looks(session, sheet);
        let Some(full) = views::sheet(session.ledger(), sheet, looks.who, session.now()) else {
            view.title = "This sheet's rules are not in this folder".to_owned();
            view.empty = "Exchange records with a device that has them.".to_owned();
            return;
        };
        let now = self.now(session, sheet);
        let engine = pages::engine_title(session, offshed_core::ident::EngineId(full.engine));
        view.title = format!("{engine} \u{2013} {}", full.title);
        view.note = format!("{} of {} done{}", full.proven, full.steps, stage_words(full.stage));
        view.steps = self.steps(&looks, &full, &now);
        view.may_abandon = beside::may_abandon(session, sheet);
        view.now = now.len();
        view.next = self.next(session).map_or(String::new(), |step| self.title_of(session, sheet, step));
        view.empty = match full.stage {
            "open" => "Nothing can be done just now: \u{201c}All steps\u{201d} says what each one waits for.",
            _ => "The sheet takes no more answers.",
        }
        .to_owned();
    }

    /// A number that was read stands beside the register's, with what recording it comes to.
    fn told(&self, session: &Session, sheet: SheetId, step: offshed_core::ident::StepId, form: &Form) -> String {
        use offshed_core::entry::{Answer, bounded};
        use offshed_core::pack::rows::KindRow;
        use offshed_core::register::Register;
        if form.kind != super::form::Kind::Compare {
            return String::new();
        }
        let Some(row) = self.row(session, sheet, step) else { return String::new() };
        let KindRow::Identity { fitting } = row.kind else { return String::new() };
        let engine = session.ledger().sheet(sheet).map(|sheet| sheet.engine);
        let known = engine.and_then(|engine| session.ledger().office.fitting(engine, fitting));
        let register =
            known.map_or("The register has no number".to_owned(), |known| format!("The register has {known}"));
        let Ok(number) = bounded(&form.face) else { return register };
        match self.comes_to(session, sheet, step, &Answer::Number(number)) {
            Some((true, _)) => format!("{register}: the same"),
            Some((false, words)) => format!("{register}. {words}"),
            None => register,
        }
    }
}

fn stage_words(stage: &str) -> &'static str {
    match stage {
        "finished" => ", finished",
        "abandoned" => ", given up",
        "joined" => ", joined to another",
        _ => "",
    }
}
