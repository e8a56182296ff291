//! The lists of the desk: engines, an engine's sheets and sequences, a sheet's steps.

use offshed_core::ident::{EngineId, SheetId, StepId};
use offshed_core::sheet::{Sheet, Stage};
use offshed_core::verdict::{self, Who};
use offshed_depot::packfile::PackFile;
use offshed_depot::shed;
use offshed_depot::views::{self, StepView};

use super::super::Session;
use super::super::board::short_word;
use super::form::Looks;
use super::step::{answered, number, state_word};
use super::view::Row;
use super::{CrewDesk, Place};

/// Closed sheets that are listed at an engine; the rest are in the office.
const CLOSED_SHEETS: usize = 3;

/// Every engine, with its verdict and what is being worked on it.
pub(super) fn engines(session: &Session) -> Vec<Row> {
    let board = views::board(session.ledger(), session.now());
    let row = |engine: &views::BoardRow| {
        let turn = engine.turn.as_ref().zip(engine.off_shed.as_ref()).map(|(turn, at)| format!("{turn}, {at}"));
        let notes: Vec<String> = engine.at_work.iter().cloned().chain(turn).collect();
        Row {
            id: engine.engine.to_string(),
            number: engine.engine.into(),
            title: format!("No. {} {}", engine.engine, engine.name).trim_end().to_owned(),
            word: short_word(engine.verdict),
            mark: engine.verdict,
            note: notes.join(". "),
            ..Row::default()
        }
    };
    board.engines.iter().map(row).collect()
}

/// The engine as a heading: "No. 4 Tamsin".
pub(super) fn engine_title(session: &Session, id: EngineId) -> String {
    let name = session.ledger().office.engines.get(&id).map_or("", |card| card.name.as_str());
    format!("No. {id} {name}").trim_end().to_owned()
}

/// The engine's sheets: the open ones, then the last closed ones.
pub(super) fn sheets(session: &Session, engine: EngineId) -> Vec<Row> {
    let mut all: Vec<&Sheet> = session.ledger().sheets().filter(|sheet| sheet.engine == engine).collect();
    all.sort_by_key(|sheet| (sheet.stage() != Stage::Open, std::cmp::Reverse(sheet.opened)));
    let open = all.iter().filter(|sheet| sheet.stage() == Stage::Open).count();
    all.into_iter().take(open + CLOSED_SHEETS).map(|sheet| sheet_row(session, sheet)).collect()
}

fn sheet_row(session: &Session, sheet: &Sheet) -> Row {
    let (word, mark) = match sheet.stage() {
        Stage::Open => ("Open", "under-way"),
        Stage::Finished(_) => ("Finished", "proven"),
        Stage::Abandoned(_) => ("Given up", "skipped"),
        Stage::Joined(_) => ("Joined to another", "does-not-apply"),
    };
    let now = session.now();
    let moments = views::Moments::new(session.zone());
    let contested = sheet.contested().len() + usize::from(sheet.contested_more());
    let contested = if contested == 0 { String::new() } else { format!(", {contested} contested") };
    Row {
        id: sheet.id.to_string(),
        title: views::sheet_title(session.ledger(), sheet, now),
        word,
        mark,
        note: format!("opened {}{contested}", moments.short(sheet.opened, now.stamp)),
        ..Row::default()
    }
}

/// The sequences of the adopted pack.
pub(super) fn sequences(session: &Session) -> Vec<Row> {
    let Some(file) = session.ledger().adopted() else { return Vec::new() };
    let texts = file.texts();
    let row = |sequence: offshed_core::pack::rows::SequenceRow| Row {
        number: sequence.id.0.into(),
        title: texts.get(sequence.text).to_owned(),
        note: texts.get(offshed_core::ident::TextId(sequence.text.0.saturating_add(1))).to_owned(),
        ..Row::default()
    };
    file.pack().sequences().map(row).collect()
}

impl CrewDesk {
    /// Every step that may be answered now, in order; signatures are anybody's who may sign.
    pub(super) fn now(&self, session: &Session, sheet: SheetId) -> Vec<StepId> {
        let who = self.who();
        let found = shed::scene(session.ledger(), sheet, |scene| {
            let anybody = Who { person: None, with: who.with };
            let signs = |step: StepId| {
                let row = scene.pack.step(step);
                row.is_some_and(|row| matches!(row.kind, offshed_core::pack::rows::KindRow::Signature { .. }))
            };
            let offered = verdict::offers(scene, anybody, session.now()).map(|offer| offer.step);
            let looks = self.looks(session, sheet);
            offered.filter(|step| signs(*step) || looks.form(*step).kind != super::form::Kind::Nothing).collect()
        });
        found.unwrap_or_default()
    }

    /// The first step that may be answered now, after the one that is up.
    pub(super) fn next(&self, session: &Session) -> Option<StepId> {
        let sheet = self.sheet()?;
        let now = self.now(session, sheet);
        let Place::Step(_, up) = self.place else { return now.first().copied() };
        let place = |step: StepId| {
            let found = session.ledger().sheet(sheet).and_then(|s| session.ledger().pack(s.pack));
            found.map(PackFile::pack).and_then(|pack| pack.place_of(step))
        };
        let after = now.iter().find(|step| place(**step) > place(up));
        after.or_else(|| now.iter().find(|step| **step != up)).copied()
    }

    /// The steps that are listed: all of them, or what may be done now. A stage's first row carries its title.
    pub(super) fn steps(&self, looks: &Looks<'_>, view: &views::SheetView, now: &[StepId]) -> Vec<Row> {
        let mut rows = Vec::new();
        for stage in &view.stages {
            let mut heading = stage.title.as_str();
            for step in &stage.steps {
                let Some(id) = number(looks, step) else { continue };
                if self.all || now.contains(&id) {
                    rows.push(self.step_row(id, step, heading));
                    heading = "";
                }
            }
        }
        rows
    }

    fn step_row(&self, id: StepId, step: &StepView, heading: &str) -> Row {
        let first = step.reasons.first().map(|reason| reason.words.clone());
        let more = step.reasons.len().saturating_sub(1);
        let waits = first.map(|words| if more == 0 { words } else { format!("{words} (and {more} more)") });
        let note = answered(step);
        Row {
            number: id.0.into(),
            title: step.title.clone(),
            heading: heading.to_owned(),
            word: state_word(step.state),
            mark: step.state,
            note: if note.is_empty() { waits.unwrap_or_default() } else { note },
            chosen: matches!(self.place, Place::Step(_, up) if up == id),
            ..Row::default()
        }
    }
}
