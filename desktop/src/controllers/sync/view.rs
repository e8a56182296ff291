//! The page of exchanging records as plain data.

use std::path::Path;

use offshed_core::stamp::Stamp;
use offshed_depot::folder::FolderFault;
use offshed_depot::ledger::Ledger;
use offshed_depot::sync::{Carried, CarriedBook, Progress, SyncReport};

use super::super::Session;
use super::matters::{self, Matter};
use super::{SyncDesk, local, places};
use crate::exchanged::{Line, Log};

/// One exchange.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Exchange {
    /// When, local.
    pub at: String,
    /// With which folder.
    pub with: String,
    /// How it went, in a word or two.
    pub word: String,
    /// What came and what went, and what was found; one a line.
    pub detail: String,
    /// It failed, was stopped, or something was found.
    pub look: bool,
}

/// What the page shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SyncView {
    /// The folder that is chosen.
    pub path: String,
    /// Folders in it, and the way up.
    pub places: Vec<(String, String)>,
    /// Folders that are not listed.
    pub more: usize,
    /// Folders that were exchanged with before.
    pub recent: Vec<String>,
    /// The chosen folder may be exchanged with now.
    pub ready: bool,
    /// What stands in the way, or what the last touch came to.
    pub notice: String,
    /// The folder that is exchanged with by itself; empty: none.
    pub shared: String,
    /// How it stands, in words.
    pub shared_words: String,
    /// Something is wrong with it.
    pub shared_trouble: bool,
    /// The chosen folder may become the shared one.
    pub may_share: bool,
    /// An exchange that somebody asked for is going on.
    pub running: bool,
    /// How far it is, 0 to 1.
    pub share: f32,
    /// How far it is, in words.
    pub progress: String,
    /// It was asked to stop.
    pub stopping: bool,
    /// What was exchanged, the latest first.
    pub done: Vec<Exchange>,
    /// What a person has to look at.
    pub matters: Vec<Matter>,
    /// The first digits of the key that this device signs with; empty: its key is not here.
    pub key: String,
}

impl SyncDesk {
    /// The page as it stands; what was exchanged before is read where it was not yet.
    pub fn view(&self, session: &Session) -> SyncView {
        let asked = self.work.as_ref().filter(|work| !work.by_itself);
        // One that was asked for waits a moment behind one that goes on by itself.
        let running = asked.is_some() || self.wanted;
        let (listed, more) = if running { (Vec::new(), 0) } else { places::places(&self.path) };
        let why = self.in_the_way(session);
        let empty = self.path.as_os_str().is_empty();
        let hint = why.clone().filter(|_| !running && !empty).unwrap_or_default();
        let progress = asked.map_or(Progress { done: 0, of: 0 }, |work| work.progress);
        let path = self.path.display().to_string();
        let read = self.log.is_none().then(|| Log::read(session.path()));
        let log = self.log.as_ref().or(read.as_ref());
        SyncView {
            places: listed,
            more,
            recent: log.filter(|_| !running).map_or_else(Vec::new, Log::folders),
            ready: !running && why.is_none(),
            notice: if self.notice.is_empty() { hint } else { self.notice.clone() },
            shared: session.screen.shared.clone(),
            shared_words: self.watch.words(session),
            shared_trouble: self.watch.is_in_trouble(),
            may_share: why.is_none() && path != session.screen.shared,
            running,
            share: if progress.of == 0 { 0.0 } else { progress.done as f32 / progress.of as f32 },
            progress: format!("{} of {} books and packs looked at", progress.done, progress.of),
            stopping: asked.is_some_and(|work| work.halts()),
            done: log.map_or_else(Vec::new, |log| log.lines().iter().map(|line| exchange(session, line)).collect()),
            matters: matters::all(session),
            key: session.key().map(|key| matters::digits(&format!("{key:#}"))).unwrap_or_default(),
            path,
        }
    }
}

fn exchange(session: &Session, line: &Line) -> Exchange {
    Exchange {
        at: local(session, Stamp(line.at)),
        with: line.with.clone(),
        word: line.word.clone(),
        detail: line.detail.clone(),
        look: line.look,
    }
}

/// An exchange as it is kept.
pub(super) fn line(ledger: &Ledger, at: Stamp, with: &Path, report: &SyncReport, fault: Option<&FolderFault>) -> Line {
    let mut lines = carried(ledger, "Came in", &report.into_first);
    lines.extend(carried(ledger, "Went out", &report.into_second));
    lines.extend(report.findings.iter().map(ToString::to_string));
    lines.extend(fault.map(ToString::to_string));
    let word = match (fault, report.stopped, report.is_quiet()) {
        (Some(_), ..) => "Failed; what was copied stays",
        (None, true, _) => "Stopped; what was copied stays",
        (None, false, true) => "Nothing was missing on either side",
        (None, false, false) => "Done",
    };
    let found = report.findings.iter().any(|finding| !finding.is_notice());
    Line {
        at: at.0,
        with: with.display().to_string(),
        word: word.to_owned(),
        detail: lines.join("\n"),
        look: fault.is_some() || report.stopped || found,
    }
}

fn carried(ledger: &Ledger, word: &str, carried: &Carried) -> Vec<String> {
    let device = |id| ledger.office.devices.get(&id).cloned().unwrap_or_else(|| format!("device {id}"));
    let book = |book: &CarriedBook| {
        let entries = if book.entries == 1 { "1 entry".to_owned() } else { format!("{} entries", book.entries) };
        format!("{word}: {entries} of {}", device(book.device))
    };
    let mut lines: Vec<String> = carried.books.iter().map(book).collect();
    match carried.packs.len() {
        0 => {}
        1 => lines.push(format!("{word}: 1 set of rules")),
        n => lines.push(format!("{word}: {n} sets of rules")),
    }
    lines
}
