//! Sheets that wait for a review, those that had theirs, and one sheet to be read in two minutes.

use offshed_core::entry::Review;
use offshed_core::ident::{SheetId, StepId};
use offshed_core::stamp::{Hlc, Now, Stamp};
use offshed_depot::review::{self, Kind, Oddity, Reviewed, Waiting};

use super::super::Session;
use super::view::{engine_title, names};
use super::{ForemanDesk, Line, hands};

/// Oddities shown with a sheet's row before it is opened.
const FIRST_ODDITIES: usize = 3;

/// The lists as they stand at a moment, kept until the records or the minute change.
#[derive(Clone, Debug, Default)]
pub(super) struct Lists {
    /// The records and the minute they are of.
    of: Option<(Hlc, usize, i64)>,
    /// Sheets that wait, those with most that is unusual first.
    pub(super) waiting: Vec<Waiting>,
    /// Sheets that were reviewed, the latest first.
    pub(super) reviewed: Vec<Reviewed>,
}

impl Lists {
    /// Brought up to the records and the moment.
    pub(super) fn renew(&mut self, session: &Session) {
        let (ledger, now) = (session.ledger(), session.now());
        let of = Some((ledger.clock(), ledger.count(), now.stamp.0.div_euclid(60)));
        if self.of != of {
            *self = Lists { of, waiting: review::waiting(ledger, now), reviewed: review::reviewed(ledger, now) };
        }
    }
}

/// A sheet in the list.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SheetRow {
    /// Its id as printed.
    pub id: String,
    /// The engine and the sequence.
    pub title: String,
    /// What stands over it and those that follow: that they were reviewed; empty: nothing.
    pub heading: &'static str,
    /// How much is unusual, or what the review came to, in words.
    pub word: String,
    /// The key of its sign: `look` where something is unusual, `open` where nothing is.
    pub mark: &'static str,
    /// When it was signed, and the first unusual things, one a line.
    pub note: String,
    /// It is up.
    pub chosen: bool,
}

/// A stage with what is left of its steps.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StageRow {
    /// Its title.
    pub title: String,
    /// How many are done.
    pub note: String,
    /// Its steps, where it is unfolded.
    pub lines: Vec<Line>,
    /// It is unfolded.
    pub open: bool,
}

/// One sheet.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SheetPage {
    /// The engine and the sequence.
    pub title: String,
    /// How far it is, when it was opened, and by whom.
    pub note: String,
    /// It may be decided now.
    pub offered: bool,
    /// Who may decide, who may not and why, and what stands in the way; one a line.
    pub who: String,
    /// What is unusual.
    pub oddities: Vec<Line>,
    /// Who signed.
    pub signatures: Vec<Line>,
    /// What was read and worked out.
    pub readings: Vec<Line>,
    /// The rest.
    pub stages: Vec<StageRow>,
}

impl ForemanDesk {
    /// The sheet that is up and its review, where somebody may give it now.
    pub(super) fn offered(&self, session: &Session) -> Option<(SheetId, StepId)> {
        let sheet = self.sheet?;
        let (ledger, now) = (session.ledger(), session.now());
        let review = self.lists(session).waiting.iter().find(|one| one.sheet == sheet)?.review;
        let may = review::reviewers(ledger, sheet, review, now).may;
        (!may.is_empty() && session.writes()).then_some((sheet, review))
    }

    /// All rows: what waits, then what was reviewed.
    pub(super) fn sheet_rows(&self, session: &Session) -> Vec<SheetRow> {
        let lists = self.lists(session);
        let waiting = lists.waiting.iter().map(|one| self.waiting_row(session, one));
        let reviewed = lists.reviewed.iter().enumerate().map(|(n, one)| {
            let heading = if n == 0 { "Reviewed, the latest first" } else { "" };
            SheetRow { heading, ..self.reviewed_row(session, one) }
        });
        waiting.chain(reviewed).collect()
    }

    fn waiting_row(&self, session: &Session, waiting: &Waiting) -> SheetRow {
        let odd = waiting.oddities.len();
        let mut lines: Vec<String> = waiting.oddities.iter().take(FIRST_ODDITIES).map(evidence).collect();
        if odd > FIRST_ODDITIES {
            lines.push(format!("and {} more", odd - FIRST_ODDITIES));
        }
        let signed = format!("signed {}", moment(session, waiting.signed_at));
        let blocked = waiting.blocked.iter().map(|why| format!("Waits: {why}"));
        SheetRow {
            id: waiting.sheet.to_string(),
            title: title(session, waiting.sheet),
            heading: "",
            word: unusual(odd),
            mark: if odd == 0 { "open" } else { "look" },
            note: std::iter::once(signed).chain(blocked).chain(lines).collect::<Vec<_>>().join("\n"),
            chosen: self.sheet == Some(waiting.sheet),
        }
    }

    fn reviewed_row(&self, session: &Session, reviewed: &Reviewed) -> SheetRow {
        let (at, by) = (moment(session, reviewed.at), hands::name(session.ledger(), reviewed.by));
        SheetRow {
            id: reviewed.sheet.to_string(),
            title: title(session, reviewed.sheet),
            heading: "",
            word: outcome(reviewed.outcome).to_owned(),
            mark: if reviewed.outcome == Review::Accepted { "proven" } else { "not-right" },
            note: format!("{at} by {by}\n{}", unusual(reviewed.oddities.len())),
            chosen: self.sheet == Some(reviewed.sheet),
        }
    }

    /// The sheet that is up, whether or not it still waits. A reviewed one is read as it stood when it was signed.
    pub(super) fn sheet_page(&self, session: &Session) -> Option<SheetPage> {
        let sheet = self.sheet?;
        let lists = self.lists(session);
        let waits = lists.waiting.iter().find(|one| one.sheet == sheet);
        let reviewed = lists.reviewed.iter().find(|one| one.sheet == sheet);
        let signed = reviewed.map(|one| Now { stamp: one.signed_at, ..session.now() });
        let brief = review::brief(session.ledger(), sheet, signed.unwrap_or(session.now()))?;
        let stage = |(n, stage): (usize, review::StageLines)| StageRow {
            note: format!("{} of {} done", stage.done, stage.lines.len()),
            title: stage.title,
            open: self.unfolded.contains(&n),
            lines: if self.unfolded.contains(&n) { stage.lines.into_iter().map(step).collect() } else { Vec::new() },
        };
        Some(SheetPage {
            title: title(session, sheet),
            note: format!(
                "{} of {} done, opened {} by {}",
                brief.proven,
                brief.steps,
                opened(session, sheet),
                brief.opened_by
            ),
            offered: self.offered(session).is_some(),
            who: who(session, sheet, waits, reviewed),
            oddities: brief.oddities.iter().map(oddity).collect(),
            signatures: brief.signatures.into_iter().map(signature).collect(),
            readings: brief.readings.into_iter().map(reading).collect(),
            stages: brief.stages.into_iter().enumerate().map(stage).collect(),
        })
    }
}

fn unusual(count: usize) -> String {
    match count {
        0 => "Nothing unusual".to_owned(),
        1 => "1 thing to look at".to_owned(),
        n => format!("{n} things to look at"),
    }
}

/// What a review came to, in words.
pub(super) fn outcome(outcome: Review) -> &'static str {
    match outcome {
        Review::Accepted => "Accepted",
        Review::SentBack => "Sent back",
        Review::Stopped => "Engine stopped",
    }
}

/// "Sat 2 May 09:29".
fn moment(session: &Session, at: Stamp) -> String {
    session.zone().local(at).format("%a %-d %b %H:%M").to_string()
}

fn opened(session: &Session, sheet: SheetId) -> String {
    let at = session.ledger().sheet(sheet).map(|sheet| sheet.opened);
    at.map_or(String::new(), |at| session.zone().local(at).format("%-d %b %H:%M").to_string())
}

/// "No. 4 Tamsin – Preparation".
fn title(session: &Session, id: SheetId) -> String {
    let ledger = session.ledger();
    let Some(sheet) = ledger.sheet(id) else { return id.to_string() };
    let sequence = ledger.pack(sheet.pack).and_then(|file| {
        let row = file.pack().sequence(sheet.sequence)?;
        Some(file.texts().get(row.text).to_owned())
    });
    format!("{} \u{2013} {}", engine_title(ledger, sheet.engine.0), sequence.unwrap_or_default())
}

/// Who may decide, who may not and why, what stands in the way.
fn who(session: &Session, sheet: SheetId, waits: Option<&Waiting>, reviewed: Option<&Reviewed>) -> String {
    let (ledger, now) = (session.ledger(), session.now());
    let Some(waiting) = waits else {
        return reviewed.map_or("This sheet does not wait for a review any more.".to_owned(), |one| {
            let (at, by) = (moment(session, one.at), hands::name(ledger, one.by));
            format!("{} {at} by {by}. It is shown as it stood when it was signed.", outcome(one.outcome))
        });
    };
    let people = review::reviewers(ledger, sheet, waiting.review, now);
    let mut lines: Vec<String> =
        waiting.blocked.iter().map(|why| format!("It may not be decided yet: {why}")).collect();
    if !people.may.is_empty() {
        lines.push(format!("May decide: {}", names(ledger, &people.may)));
    } else if waiting.blocked.is_empty() {
        lines.push("Nobody in the register may decide: the office grants grades.".to_owned());
    }
    lines.extend(people.may_not.iter().map(|(id, why)| format!("May not: {}: {why}", hands::name(ledger, *id))));
    if !session.writes() {
        lines.push("This window only looks: another program writes here.".to_owned());
    }
    lines.join("\n")
}

fn evidence(oddity: &Oddity) -> String {
    format!("{}: {}", oddity.kind.title(), oddity.words)
}

fn oddity(oddity: &Oddity) -> Line {
    let mark = match oddity.kind {
        Kind::NotRight => "not-right",
        Kind::Skipped => "skipped",
        Kind::LapsedAtSigning => "lapsed",
        _ => "look",
    };
    Line { mark, word: oddity.kind.title().to_owned(), words: oddity.words.clone(), note: String::new() }
}

fn signature(line: review::SignatureLine) -> Line {
    let signed = if line.person.is_empty() {
        "not signed".to_owned()
    } else {
        let grades = if line.grades.is_empty() { String::new() } else { format!(" ({})", line.grades) };
        format!("{}{grades}, {}", line.person, line.at)
    };
    Line { mark: line.state, word: line.title, words: signed, note: line.why }
}

fn reading(line: review::ReadingLine) -> Line {
    let limits = if line.limits.is_empty() { String::new() } else { format!("right: {}", line.limits) };
    let by = format!("{}, {}", line.at, line.person);
    let note: Vec<&str> = [line.worked_out, &limits, &by].into_iter().filter(|part| !part.is_empty()).collect();
    Line { mark: line.state, note: note.join("; "), word: line.title, words: line.value }
}

fn step((state, words): (&'static str, String)) -> Line {
    Line { mark: state, word: String::new(), words, note: String::new() }
}
