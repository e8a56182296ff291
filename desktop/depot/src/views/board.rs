//! The duty board: every engine, may it leave, why not, and until when.

use offshed_core::fitness::{Ends, Fitness};
use offshed_core::ident::EngineId;
use offshed_core::pack::layout::text;
use offshed_core::pack::rows::DefectGrade;
use offshed_core::pack::{Pack, Rule};
use offshed_core::reason::Why;
use offshed_core::register::Register;
use offshed_core::sheet::Stage;
use offshed_core::stamp::{Day, Now, Stamp};
use offshed_core::verdict::Reason;
use offshed_core::words::{self, Arg, ENGLISH, Names};
use serde::Serialize;

use super::Moments;
use super::sheet::sheet_title;
use crate::ids::Ids;
use crate::ledger::{Ledger, PackNames};
use crate::packfile::PackFile;

/// The board.
#[derive(Clone, Debug, Serialize)]
pub struct Board {
    /// The moment it speaks of, local.
    pub as_of: String,
    /// The adopted pack, or why there is none.
    pub pack: String,
    /// The caution that belongs to every verdict.
    pub caution: String,
    /// One row an engine, by number.
    pub engines: Vec<BoardRow>,
}

/// One engine.
#[derive(Clone, Debug, Serialize)]
pub struct BoardRow {
    /// Its number.
    pub engine: u16,
    /// Its name.
    pub name: String,
    /// `fit`, `restricted`, `not-fit`, `not-known`.
    pub verdict: &'static str,
    /// The verdict in words.
    pub verdict_words: &'static str,
    /// Every reason against.
    pub reasons: Vec<ReasonView>,
    /// Restrictions and dispensations it rests on.
    pub conditions: Vec<ConditionView>,
    /// When it lapses, and by what.
    pub until: Option<UntilView>,
    /// Off shed since, local.
    pub away_since: Option<String>,
    /// The booked turn.
    pub turn: Option<String>,
    /// When it is booked off shed, local.
    pub off_shed: Option<String>,
    /// Minutes from now to the booked off-shed time; negative: late.
    pub minutes_to_off_shed: Option<i64>,
    /// What is being worked on it, and how far it is.
    pub at_work: Vec<String>,
    /// Open defects that are only noted.
    pub noted: Vec<String>,
    /// The last note for whoever has it next.
    pub handover: Option<String>,
}

/// One reason.
#[derive(Clone, Debug, Serialize)]
pub struct ReasonView {
    /// Its stable key.
    pub key: &'static str,
    /// The step it is about, by id.
    pub step: Option<String>,
    /// What it is about, in a word or two: the step's title; may be empty.
    pub about: String,
    /// In words, with what would cure it.
    pub words: String,
    /// Not 0: one of several ways, of which one is enough.
    pub one_of: u8,
}

/// What a verdict rests on in writing.
#[derive(Clone, Debug, Serialize)]
pub struct ConditionView {
    /// What is restricted or dispensed, and the words it was written with.
    pub words: String,
    /// The last day.
    pub last_day: String,
}

/// When a verdict lapses.
#[derive(Clone, Debug, Serialize)]
pub struct UntilView {
    /// The moment, RFC 3339 local.
    pub at: String,
    /// The moment, short.
    pub short: String,
    /// What lapses.
    pub what: String,
}

/// The board at `now`.
pub fn board(ledger: &Ledger, now: Now) -> Board {
    let pack = ledger.adopted();
    let title = match (pack, ledger.office.adopted) {
        (Some(pack), _) => pack.title(),
        (None, Some(hash)) => format!("the adopted pack {hash} is not here"),
        (None, None) => "no pack is adopted".to_owned(),
    };
    let caution = pack.map_or("", |p| p.texts().get(text::CAUTION)).to_owned();
    let engines = ledger.engine_ids().into_iter().map(|id| row(ledger, id, now)).collect();
    let as_of = Moments::new(ledger.office.zone()).long(now.stamp);
    Board { as_of, pack: title, caution, engines }
}

fn row(ledger: &Ledger, id: EngineId, now: Now) -> BoardRow {
    let fitness = ledger.fitness(id, now);
    let names = PackNames::new(ledger, ledger.adopted(), now.stamp);
    let moments = Moments::new(ledger.office.zone());
    let view = View { ledger, names: &names, moments, now: now.stamp };
    let turn = ledger.office.turn(id, day_start(ledger, now.stamp));
    let defects = ledger.engine(id).map_or(&[][..], |e| e.defects());
    BoardRow {
        engine: id.0,
        name: ledger.office.engines.get(&id).map(|c| c.name.clone()).unwrap_or_default(),
        verdict: words::verdict_key(fitness.verdict),
        verdict_words: ENGLISH.get(words::verdict_key(fitness.verdict)).unwrap_or(""),
        reasons: view.reasons(&fitness),
        conditions: fitness.conditions.iter().map(|(ends, day)| view.condition(*ends, *day)).collect(),
        until: fitness.until.map(|(at, ends)| view.until(at, ends)),
        away_since: fitness.away_since.map(|at| moments.short(at, now.stamp)),
        turn: turn.map(|(_, turn)| turn.name.clone()),
        off_shed: turn.map(|(at, _)| moments.short(at, now.stamp)),
        minutes_to_off_shed: turn.map(|(at, _)| at.since(now.stamp) / 60),
        at_work: at_work(ledger, id, now),
        noted: defects.iter().filter(|d| d.grade == DefectGrade::Note).map(|d| view.named(Arg::Defect(d.id))).collect(),
        handover: ledger.handover(id).map(|note| note.words.clone()),
    }
}

fn day_start(ledger: &Ledger, now: Stamp) -> Stamp {
    let zone = ledger.office.zone();
    zone.day(now).pred_opt().map_or(now, |yesterday| zone.end_of_day(yesterday))
}

fn at_work(ledger: &Ledger, id: EngineId, now: Now) -> Vec<String> {
    let open = ledger.sheets().filter(|s| s.engine == id && s.stage() == Stage::Open);
    open.map(|sheet| sheet_title(ledger, sheet, now)).collect()
}

struct View<'a> {
    ledger: &'a Ledger,
    names: &'a PackNames<'a>,
    moments: Moments<'a>,
    now: Stamp,
}

impl View<'_> {
    fn named(&self, arg: Arg) -> String {
        let mut out = String::new();
        // Writing to a string does not fail.
        let _ = self.names.write(arg, &mut out);
        out
    }

    /// Worst first: defects and tags, then dates, then what was lost, then what was never done.
    fn reasons(&self, fitness: &Fitness) -> Vec<ReasonView> {
        let pack = self.ledger.adopted();
        let mut sorted: Vec<&Reason> = fitness.reasons.iter().collect();
        sorted.sort_by_key(|reason| rank(reason.why));
        sorted.into_iter().map(|reason| reason_view(self.names, pack, reason)).collect()
    }

    fn condition(&self, ends: Ends, day: Day) -> ConditionView {
        let words = match ends {
            Ends::Restriction(id) => match self.ledger.defect(id).and_then(|d| d.restriction.as_ref()) {
                Some((words, _)) => format!("{}: {words}", self.named(Arg::Defect(id))),
                None => self.named(Arg::Defect(id)),
            },
            Ends::Rule(rule) => format!("{}: waived in writing", self.rule(rule)),
        };
        ConditionView { words, last_day: day.to_string() }
    }

    fn until(&self, at: Stamp, ends: Ends) -> UntilView {
        let what = match ends {
            Ends::Rule(rule) => self.rule(rule),
            Ends::Restriction(id) => self.named(Arg::Defect(id)),
        };
        UntilView { at: self.moments.rfc3339(at), short: self.moments.short(at, self.now), what }
    }

    /// The thing a rule is about, in a word or two.
    fn rule(&self, rule: Rule) -> String {
        match rule {
            Rule::InDate(due) => self.named(Arg::Due(due)),
            other => rule_step(other).map_or_else(String::new, |step| self.named(Arg::Step(step))),
        }
    }
}

fn rank(why: Why) -> u8 {
    match why {
        Why::DefectOpen { .. } | Why::TagHeld { .. } | Why::RecordsMissing { .. } => 0,
        Why::OutOfDate { .. } | Why::DateUnknown { .. } => 1,
        Why::NeedsFirst { .. } => 3,
        _ => 2,
    }
}

/// The step a rule is about.
pub(super) fn rule_step(rule: Rule) -> Option<offshed_core::ident::StepId> {
    match rule {
        Rule::After(step) | Rule::Fresh { step, .. } | Rule::Within { step, .. } | Rule::Different(step) => Some(step),
        Rule::Agree { a, .. } => Some(a),
        Rule::Wait { since, .. } => Some(since),
        Rule::AtLeast { reading, .. } => Some(reading),
        Rule::Grade(_)
        | Rule::DifferentEveryone
        | Rule::With(_)
        | Rule::InDate(_)
        | Rule::NoDefect(_)
        | Rule::State(_)
        | Rule::StateNot(_)
        | Rule::NoTag => None,
    }
}

/// A reason in words.
pub(super) fn reason_view(names: &PackNames<'_>, pack: Option<&PackFile>, reason: &Reason) -> ReasonView {
    let mut sentence = String::new();
    // Writing to a string does not fail.
    let _ = words::why(&ENGLISH, names, &reason.why, &mut sentence);
    let step = reason.rule.and_then(rule_step);
    let mut about = String::new();
    if let Some(step) = step {
        let _ = names.write(Arg::Step(step), &mut about);
    }
    let step = step.zip(pack).map(|(step, pack): (_, &PackFile)| Ids::of(pack).step_id(step));
    ReasonView { key: words::key(&reason.why), step, about, words: sentence, one_of: reason.group }
}

/// Kept here so that a pack's rules and its words are looked up in one way.
pub(super) fn pack_of<'a>(ledger: &'a Ledger, hash: offshed_core::ident::PackHash) -> Option<(&'a PackFile, Pack<'a>)> {
    ledger.pack(hash).map(|file| (file, file.pack()))
}
