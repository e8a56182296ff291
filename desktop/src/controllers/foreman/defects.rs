//! Open defects, engine by engine, the worst first.

use offshed_core::ident::DefectId;
use offshed_core::pack::rows::DefectGrade;
use offshed_core::stamp::Now;
use offshed_depot::ledger::Ledger;
use offshed_depot::views;

use super::super::Session;
use super::hands;
use super::view::engine_title;

/// An open defect.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DefectRow {
    /// Its id as printed.
    pub id: String,
    /// The engine; empty: the one before.
    pub heading: String,
    /// The engine.
    pub engine: String,
    /// The key of its sign, as a verdict's: `not-fit`, `restricted`, or `note`.
    pub mark: &'static str,
    /// Its grade in words.
    pub word: &'static str,
    /// What was found, and where.
    pub words: String,
    /// Who reported it, and when.
    pub by: String,
    /// The written restriction; empty: none.
    pub restriction: String,
    /// What was cleared so far, where several grades must.
    pub cleared: String,
    /// It may be restricted in writing.
    pub may_restrict: bool,
    /// It may be cleared.
    pub may_clear: bool,
}

/// How many are open.
pub(super) fn count(ledger: &Ledger) -> usize {
    ledger.engine_ids().iter().filter_map(|id| ledger.engine(*id)).map(|engine| engine.defects().len()).sum()
}

/// Whether somebody may let the engine leave with it now, in writing.
pub(super) fn may_restrict(session: &Session, id: DefectId) -> bool {
    let ledger = session.ledger();
    let graded = hands::open_defect(ledger, id).is_some_and(|defect| defect.grade == DefectGrade::Restricted);
    graded && session.writes() && !hands::holders(ledger, hands::office(ledger), session.now()).is_empty()
}

fn may_clear(session: &Session, id: DefectId, now: Now) -> bool {
    session.writes() && !hands::clearing(session.ledger(), id, now).is_empty()
}

/// The open ones, by engine, the worst first.
pub(super) fn rows(session: &Session) -> Vec<DefectRow> {
    let (ledger, now) = (session.ledger(), session.now());
    let mut open = views::defects(ledger, None, true, now.stamp);
    open.sort_by_key(|defect| (defect.engine, rank(defect.grade)));
    let mut last = None;
    let row = |defect: views::DefectView| {
        let engine = engine_title(ledger, defect.engine);
        let first = last.replace(defect.engine) != Some(defect.engine);
        let id = offshed_depot::typed::entry_ref(&defect.defect);
        let at = id.and_then(|id| ledger.defect(id)).map(|record| session.zone().local(record.at));
        let at = at.map_or(defect.at, |at| at.format("%-d %b %Y %H:%M").to_string());
        DefectRow {
            heading: if first { engine.clone() } else { String::new() },
            engine,
            mark: if defect.grade == "stopping" {
                "not-fit"
            } else if defect.grade == "restricted" {
                "restricted"
            } else {
                "note"
            },
            word: word(defect.grade, defect.restriction.is_some()),
            words: defect.words,
            by: format!("{}, {at}", defect.by),
            restriction: defect.restriction.unwrap_or_default(),
            cleared: defect.cleared.join("\n"),
            may_restrict: id.is_some_and(|id| may_restrict(session, id)),
            may_clear: id.is_some_and(|id| may_clear(session, id, now)),
            id: defect.defect,
        }
    };
    open.into_iter().map(row).collect()
}

fn rank(grade: &str) -> u8 {
    match grade {
        "stopping" => 0,
        "restricted" => 1,
        _ => 2,
    }
}

fn word(grade: &str, restricted: bool) -> &'static str {
    match (grade, restricted) {
        ("stopping", _) => "STOPS THE ENGINE",
        ("restricted", false) => "MAY LEAVE ONLY UNDER A WRITTEN RESTRICTION",
        ("restricted", true) => "RESTRICTED IN WRITING",
        _ => "NOTED",
    }
}
