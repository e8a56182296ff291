//! The page as plain data.

use std::cell::Ref;

use offshed_core::stamp::Now;
use offshed_depot::ledger::Ledger;

use super::super::Session;
use super::sheets::Lists;
use super::{Asked, DateEngine, DefectRow, ForemanDesk, SheetPage, SheetRow, Tab, WaterPage, dates, defects, hands};

/// One of the desk's pages, as its bar names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TabRow {
    /// Its key.
    pub id: &'static str,
    /// Its name.
    pub label: &'static str,
    /// How much is on it: sheets waiting, defects open, dates out; empty: not counted.
    pub count: String,
    /// It is up.
    pub chosen: bool,
}

/// A line: a sign, a word in front, and what it says.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Line {
    /// The key of its sign; empty: none.
    pub mark: &'static str,
    /// What kind it is, in a word or two.
    pub word: String,
    /// What it says.
    pub words: String,
    /// More about it.
    pub note: String,
}

/// The page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ForemanView {
    /// The key of the page that is up.
    pub tab: &'static str,
    /// The bar.
    pub tabs: Vec<TabRow>,
    /// What the last touch came to.
    pub notice: String,
    /// What the list says where nothing waits or is open; empty: something is.
    pub empty: &'static str,
    /// Sheets that wait, then those that were reviewed.
    pub rows: Vec<SheetRow>,
    /// The sheet that is up; `None`: none.
    pub sheet: Option<SheetPage>,
    /// Open defects.
    pub defects: Vec<DefectRow>,
    /// Dates.
    pub dates: Vec<DateEngine>,
    /// Water.
    pub water: WaterPage,
    /// What is asked on a page of its own.
    pub ask: Asked,
}

impl ForemanDesk {
    /// The page as it stands now.
    pub fn view(&self, session: &Session) -> ForemanView {
        let (ledger, now) = (session.ledger(), session.now());
        let waiting = self.lists(session).waiting.len();
        let mut view = ForemanView {
            tab: self.tab.key(),
            tabs: self.tabs(ledger, waiting, now),
            notice: self.notice.clone(),
            ask: self.ask_view(session),
            ..ForemanView::default()
        };
        match self.tab {
            Tab::Sheets => {
                view.empty = if waiting == 0 { NOTHING_WAITS } else { "" };
                view.rows = self.sheet_rows(session);
                view.sheet = self.sheet_page(session);
            }
            Tab::Defects => {
                view.defects = defects::rows(session);
                view.empty = if view.defects.is_empty() { "No defect is open." } else { "" };
            }
            Tab::Dates => view.dates = dates::engines(ledger, now),
            Tab::Water => view.water = self.water(ledger, now),
        }
        if matches!(self.tab, Tab::Dates | Tab::Water) && ledger.office.engines.is_empty() {
            view.empty = "No engine is in the register: the office enters them.";
        }
        view
    }

    /// The lists of sheets as they stand now; as they stood a moment ago, while somebody looks at them.
    pub(super) fn lists(&self, session: &Session) -> Ref<'_, Lists> {
        if let Ok(mut lists) = self.lists.try_borrow_mut() {
            lists.renew(session);
        }
        self.lists.borrow()
    }

    fn tabs(&self, ledger: &Ledger, waiting: usize, now: Now) -> Vec<TabRow> {
        let row = |tab: Tab| {
            let (label, count) = match tab {
                Tab::Sheets => ("Sheets", Some(waiting)),
                Tab::Defects => ("Defects", Some(defects::count(ledger))),
                Tab::Dates => ("Dates", Some(dates::out_of_date(ledger, now))),
                Tab::Water => ("Water", None),
            };
            let count = count.filter(|count| *count > 0).map(|count| count.to_string()).unwrap_or_default();
            TabRow { id: tab.key(), label, count, chosen: tab == self.tab }
        };
        Tab::ALL.into_iter().map(row).collect()
    }
}

const NOTHING_WAITS: &str = "No sheet waits for a review. A sheet comes here when everybody has signed it.";

/// "No. 4 Tamsin".
pub(in crate::controllers) fn engine_title(ledger: &Ledger, engine: u16) -> String {
    let card = ledger.office.engines.get(&offshed_core::ident::EngineId(engine));
    let name = card.map_or("", |card| card.name.as_str());
    if name.is_empty() { format!("No. {engine}") } else { format!("No. {engine} {name}") }
}

/// Names, joined: "A, B and C".
pub(super) fn names(ledger: &Ledger, people: &[offshed_core::ident::PersonId]) -> String {
    let names: Vec<String> = people.iter().map(|id| hands::name(ledger, *id)).collect();
    match names.split_last() {
        None => String::new(),
        Some((only, [])) => only.clone(),
        Some((last, others)) => format!("{} and {last}", others.join(", ")),
    }
}
