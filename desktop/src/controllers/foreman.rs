//! The running foreman's desk: sheets that wait for review with what is unusual on them, defects, and dates coming due.
//!
//! It looks. A review is answered at the sheet's own step, where a person signs on and the rules hold.

use offshed_core::ident::{SheetId, StepId};
use offshed_core::stamp::Now;
use offshed_depot::ledger::Ledger;
use offshed_depot::review::{self, SheetReview, SignedSheet, StepLine};
use offshed_depot::{typed, views};

use super::Desks;

/// Days that the strip beside a date shows.
const STRIP_DAYS: i64 = 60;

/// What is listed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum List {
    /// Signed sheets.
    #[default]
    Sheets,
    /// Open defects.
    Defects,
    /// Dates coming due.
    Dates,
}

impl List {
    /// Each with its key and its name.
    pub const ALL: [(List, &'static str, &'static str); 3] =
        [(List::Sheets, "sheets", "Sheets"), (List::Defects, "defects", "Defects"), (List::Dates, "dates", "Dates")];
}

/// A row of the page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// `heading`, `sheet`, `odd`, `line`, `text`, `defect`, `date`.
    pub kind: &'static str,
    /// The sheet that it leads to.
    pub id: String,
    /// What it is.
    pub title: String,
    /// How it stands in a word or two.
    pub word: String,
    /// More about it.
    pub note: String,
    /// The sign beside it: a verdict's key, or none.
    pub mark: &'static str,
    /// A date's last day on the strip, 0 today to 1 at its end; negative: not on it.
    pub share: f32,
}

/// The page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ForemanView {
    /// The list that is up, by its key.
    pub list: &'static str,
    /// What is up, in one line.
    pub title: String,
    /// The rows.
    pub rows: Vec<Row>,
    /// One sheet is being read.
    pub reading: bool,
    /// It waits for its review.
    pub may_review: bool,
}

/// The desk.
#[derive(Clone, Debug, Default)]
pub struct ForemanDesk {
    list: List,
    reading: Option<SheetId>,
}

impl ForemanDesk {
    /// Puts a list up; an unknown one changes nothing.
    pub fn choose(&mut self, key: &str) {
        if let Some((list, ..)) = List::ALL.iter().find(|(_, id, _)| *id == key) {
            self.list = *list;
            self.reading = None;
        }
    }

    /// Reads a sheet, by its id as printed.
    pub fn read(&mut self, sheet: &str) {
        self.reading = typed::entry_ref(sheet);
    }

    /// Back to the list.
    pub fn back(&mut self) {
        self.reading = None;
    }

    /// What it shows at `now`.
    pub fn view(&self, ledger: &Ledger, now: Now) -> ForemanView {
        if let Some(review) = self.reading.and_then(|sheet| review::read(ledger, sheet, now)) {
            return reading(&review);
        }
        let (title, rows) = match self.list {
            List::Sheets => sheets(ledger, now),
            List::Defects => defects(ledger, now),
            List::Dates => dates(ledger, now),
        };
        let list = List::ALL.iter().find(|(list, ..)| *list == self.list).map_or("", |(_, id, _)| id);
        ForemanView { list, title, rows, reading: false, may_review: false }
    }
}

impl Desks {
    /// From the sheet that is being read to its review's step, at the crew desk.
    pub fn review(&mut self) {
        let Some(session) = &self.session else { return };
        let Some(sheet) = self.foreman.reading else { return };
        if let Some(review) = review::read(session.ledger(), sheet, session.now()) {
            self.crew.go(sheet, StepId(review.review_step));
            self.shell.show("crew");
        }
    }
}

fn heading(title: impl Into<String>) -> Row {
    Row { kind: "heading", title: title.into(), ..Row::default() }
}

fn text(title: impl Into<String>) -> Row {
    Row { kind: "text", title: title.into(), ..Row::default() }
}

fn engine(number: u16, name: &str) -> String {
    format!("No. {number} {name}").trim_end().to_owned()
}

fn unusual(count: usize) -> String {
    match count {
        0 => "nothing unusual".to_owned(),
        1 => "1 thing unusual".to_owned(),
        n => format!("{n} things unusual"),
    }
}

fn sheets(ledger: &Ledger, now: Now) -> (String, Vec<Row>) {
    let all = review::signed_sheets(ledger, now);
    let (waiting, reviewed): (Vec<&SignedSheet>, Vec<&SignedSheet>) = all.iter().partition(|sheet| sheet.waiting);
    let title = match waiting.len() {
        0 => "No sheet waits for review".to_owned(),
        1 => "1 sheet waits for review".to_owned(),
        n => format!("{n} sheets wait for review"),
    };
    let row = |sheet: &&SignedSheet| Row {
        kind: "sheet",
        id: sheet.sheet.clone(),
        title: format!("{}: {}", engine(sheet.engine, &sheet.name), sheet.title),
        word: unusual(sheet.oddities.len()),
        note: format!("signed {}", sheet.signed),
        ..Row::default()
    };
    let mut rows = Vec::new();
    for (name, list) in [("Waiting", &waiting), ("Reviewed", &reviewed)] {
        if !list.is_empty() {
            rows.push(heading(name));
            rows.extend(list.iter().map(row));
        }
    }
    (title, rows)
}

fn line(step: &StepLine) -> Row {
    Row { kind: "line", title: step.title.clone(), word: step.told.clone(), note: step.who.clone(), ..Row::default() }
}

fn reading(review: &SheetReview) -> ForemanView {
    let head = &review.head;
    let mut rows = vec![heading(format!("Unusual: {}", head.oddities.len()))];
    if head.oddities.is_empty() {
        rows.push(text("Nothing that is looked for was found. What is not recorded can't be looked for."));
    }
    let odd = |words: &String| Row { kind: "odd", title: words.clone(), ..Row::default() };
    rows.extend(head.oddities.iter().map(|oddity| odd(&oddity.words)));
    rows.push(heading("Signatures"));
    rows.extend(review.signatures.iter().map(line));
    rows.push(heading("Readings and figures"));
    rows.extend(review.values.iter().map(line));
    for (stage, lines) in &review.rest {
        rows.push(heading(stage.clone()));
        rows.extend(lines.iter().map(line));
    }
    let waits = if head.waiting { "waits for review" } else { "reviewed" };
    ForemanView {
        list: "sheets",
        title: format!("{}: {}, signed {}, {waits}", engine(head.engine, &head.name), head.title, head.signed),
        rows,
        reading: true,
        may_review: head.waiting,
    }
}

fn defects(ledger: &Ledger, now: Now) -> (String, Vec<Row>) {
    let all = views::defects(ledger, None, true, now.stamp);
    let title = match all.len() {
        0 => "No defect is open".to_owned(),
        1 => "1 defect is open".to_owned(),
        n => format!("{n} defects are open"),
    };
    let mut rows = Vec::new();
    // What stops an engine is read first.
    for (grade, name, mark) in [
        ("stopping", "Stops the engine", "not-fit"),
        ("restricted", "Restricts the engine", "restricted"),
        ("note", "Noted", ""),
    ] {
        let list: Vec<_> = all.iter().filter(|defect| defect.grade == grade).collect();
        if !list.is_empty() {
            rows.push(heading(name));
        }
        rows.extend(list.into_iter().map(|defect| Row {
            kind: "defect",
            title: format!("No. {}: {}", defect.engine, defect.words),
            word: defect.restriction.clone().unwrap_or_default(),
            note: format!("{}, {}", defect.by, defect.at),
            mark,
            ..Row::default()
        }));
    }
    (title, rows)
}

fn dates(ledger: &Ledger, now: Now) -> (String, Vec<Row>) {
    let all = views::dates(ledger, now);
    let out = all.iter().filter(|date| date.standing != "in-date").count();
    let title = match out {
        0 => "Every date is in date".to_owned(),
        1 => "1 date is out of date or not known".to_owned(),
        n => format!("{n} dates are out of date or not known"),
    };
    let row = |date: &views::DateView| {
        let word = match date.standing {
            "in-date" => "in date",
            "out-of-date" => "OUT OF DATE",
            _ => "NOT KNOWN",
        };
        let last = date.last_day.as_ref().map(|day| format!("last day {day}"));
        let days = date.days_left.filter(|days| *days >= 0).map(|days| format!("{days} days"));
        let steam = date.steam_days_left.map(|left| match left {
            0.. => format!("{left} days in steam left"),
            _ => format!("{} days in steam over", left.unsigned_abs()),
        });
        let postponed = date.postponed_to.as_ref().map(|day| format!("postponed in writing to {day}"));
        let share = date.days_left.filter(|days| (0..=STRIP_DAYS).contains(days));
        Row {
            kind: "date",
            title: format!("{}: {}", engine(date.engine, &date.name), date.what),
            word: word.to_owned(),
            note: [last, days, steam, postponed].into_iter().flatten().collect::<Vec<_>>().join(", "),
            mark: if date.standing == "in-date" { "" } else { "not-fit" },
            share: share.map_or(-1.0, |days| days as f32 / STRIP_DAYS as f32),
            ..Row::default()
        }
    };
    let mut rows: Vec<Row> = vec![text(format!("The strip beside a date runs from today to {STRIP_DAYS} days on."))];
    rows.extend(all.iter().map(row));
    (title, rows)
}
