//! The duty board on a screen: every engine, may it leave, why not, and until when. It only looks.

use std::collections::BTreeSet;

use offshed_core::stamp::Now;
use offshed_depot::ledger::Ledger;
use offshed_depot::views::{self, BoardRow, ReasonView};

/// Reasons shown before a card is opened.
const FIRST_REASONS: usize = 3;

/// What the page shows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BoardView {
    /// The moment it speaks of, local.
    pub as_of: String,
    /// The adopted pack.
    pub rules: String,
    /// How many may leave.
    pub summary: String,
    /// The caution that belongs to every verdict.
    pub caution: String,
    /// What to do where there is no engine; empty where there is one.
    pub empty: String,
    /// One card an engine, by number.
    pub cards: Vec<Card>,
}

/// One engine.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Card {
    /// Its number.
    pub engine: u16,
    /// Its name.
    pub name: String,
    /// `fit`, `restricted`, `not-fit`, `not-known`.
    pub verdict: &'static str,
    /// The verdict, as short as can be.
    pub word: &'static str,
    /// All of it in one sentence.
    pub spoken: String,
    /// When it lapses, and by what.
    pub until: String,
    /// The booked turn.
    pub turn: String,
    /// It should have left.
    pub late: bool,
    /// How long until it is to leave, or how late it is.
    pub late_words: String,
    /// Reasons against, one a line.
    pub reasons: String,
    /// How many more there are.
    pub more: String,
    /// What it rests on in writing, one a line.
    pub conditions: String,
    /// What is being worked on it.
    pub work: String,
    /// Defects noted and the last note, one a line.
    pub notes: String,
    /// Everything is shown.
    pub open: bool,
}

/// The page.
#[derive(Clone, Debug, Default)]
pub struct BoardDesk {
    open: BTreeSet<u16>,
}

impl BoardDesk {
    /// Opens an engine's card, or folds it up.
    pub fn toggle(&mut self, engine: u16) {
        if !self.open.remove(&engine) {
            self.open.insert(engine);
        }
    }

    /// What it shows at `now`.
    pub fn view(&self, ledger: &Ledger, now: Now) -> BoardView {
        let board = views::board(ledger, now);
        let may = board.engines.iter().filter(|row| matches!(row.verdict, "fit" | "restricted")).count();
        let empty = if board.engines.is_empty() {
            "No engine is in the register: the office enters them.".to_owned()
        } else {
            String::new()
        };
        BoardView {
            summary: format!("{may} of {} may leave", board.engines.len()),
            as_of: board.as_of,
            rules: board.pack,
            caution: board.caution,
            empty,
            cards: board.engines.iter().map(|row| card(row, self.open.contains(&row.engine))).collect(),
        }
    }
}

/// The verdict in a word or two.
pub fn short_word(verdict: &str) -> &'static str {
    match verdict {
        "fit" => "FIT",
        "restricted" => "FIT, BUT",
        "not-fit" => "NOT FIT",
        _ => "NOT KNOWN",
    }
}

fn card(row: &BoardRow, open: bool) -> Card {
    let all = reasons(&row.reasons);
    let shown = if open { all.len() } else { FIRST_REASONS };
    let more = all.len().saturating_sub(shown);
    let mut notes: Vec<String> = row.noted.iter().map(|note| format!("Noted: {note}")).collect();
    notes.extend(row.handover.iter().map(|words| format!("Handover: {words}")));
    let (late, late_words) = lateness(row);
    let card = Card {
        engine: row.engine,
        name: row.name.clone(),
        verdict: row.verdict,
        word: short_word(row.verdict),
        spoken: String::new(),
        until: row.until.as_ref().map_or(String::new(), |u| format!("until {}: then {} lapses", u.short, u.what)),
        turn: turn(row),
        late,
        late_words,
        reasons: all.iter().take(shown).map(|line| format!("\u{2022} {line}")).collect::<Vec<_>>().join("\n"),
        more: if more == 0 { String::new() } else { format!("and {more} more: touch to see them") },
        conditions: conditions(row),
        work: row.at_work.iter().map(|work| format!("At work: {work}")).collect::<Vec<_>>().join("\n"),
        notes: notes.join("\n"),
        open,
    };
    Card { spoken: spoken(&card, row.verdict_words, &all), ..card }
}

fn spoken(card: &Card, verdict: &str, reasons: &[String]) -> String {
    let title = format!("No. {} {}", card.engine, card.name);
    let rest = [card.until.clone(), card.late_words.clone(), reasons.join("; "), card.conditions.replace('\n', "; ")];
    let rest: Vec<String> = rest.into_iter().filter(|part| !part.is_empty()).collect();
    let rest = if rest.is_empty() { String::new() } else { format!(". {}", rest.join(". ")) };
    format!("{}: {verdict}{rest}", title.trim_end())
}

fn turn(row: &BoardRow) -> String {
    match (&row.turn, &row.off_shed, &row.away_since) {
        (_, _, Some(since)) => format!("Off shed since {since}"),
        (Some(turn), Some(at), None) => format!("{turn}, booked off shed {at}"),
        _ => String::new(),
    }
}

/// Whether it should have left, and how long it has or how late it is.
fn lateness(row: &BoardRow) -> (bool, String) {
    match row.minutes_to_off_shed.filter(|_| row.away_since.is_none()) {
        Some(minutes) if minutes < 0 => (true, format!("LATE by {}", minutes_words(-minutes))),
        Some(minutes) => (false, format!("in {}", minutes_words(minutes))),
        None => (false, String::new()),
    }
}

fn minutes_words(minutes: i64) -> String {
    match minutes {
        m if m < 120 => format!("{m} min"),
        m if m < 48 * 60 => format!("{} h {} min", m / 60, m % 60),
        m => format!("{} days", m / (24 * 60)),
    }
}

fn conditions(row: &BoardRow) -> String {
    let line = |c: &views::ConditionView| format!("{} (through {})", c.words, c.last_day);
    row.conditions.iter().map(line).collect::<Vec<_>>().join("\n")
}

/// What was never done stands together in one line; every other reason has its own.
fn reasons(all: &[ReasonView]) -> Vec<String> {
    let (missing, told): (Vec<&ReasonView>, Vec<&ReasonView>) = all.iter().partition(|r| r.key == "needs-first");
    let mut lines: Vec<String> = told.iter().map(|r| instead(r, &missing)).collect();
    let told_of = |r: &ReasonView| r.one_of != 0 && told.iter().any(|t| t.one_of == r.one_of);
    let never: Vec<&ReasonView> = missing.iter().copied().filter(|r| !told_of(r)).collect();
    let ways = never.chunk_by(|a, b| a.one_of == b.one_of && a.one_of != 0);
    let ways = ways.map(|way| way.iter().map(|r| r.about.as_str()).collect::<Vec<_>>().join(" or "));
    let ways: Vec<String> = ways.collect();
    if !ways.is_empty() {
        lines.push(format!("not yet proven: {}", ways.join(", ")));
    }
    lines
}

/// A reason, with the other ways the same thing may be proven.
fn instead(reason: &ReasonView, missing: &[&ReasonView]) -> String {
    let others = missing.iter().filter(|r| reason.one_of != 0 && r.one_of == reason.one_of);
    let others: Vec<&str> = others.map(|r| r.about.as_str()).collect();
    if others.is_empty() {
        reason.words.clone()
    } else {
        format!("{} (or instead: {})", reason.words, others.join(", "))
    }
}
