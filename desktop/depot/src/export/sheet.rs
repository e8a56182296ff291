//! A sheet as its paper: what stands on each step, by whom and when, whatever has lapsed since; every entry, in order; and
//! the same sequence as a blank to be filled in by hand.

use std::collections::BTreeMap;

use offshed_core::ident::{EntryRef, SequenceId, SheetId, StepId, TextId};
use offshed_core::pack::rows::{KindRow, StepRow};
use offshed_core::pack::{Pack, slot};
use offshed_core::register::Register;
use offshed_core::sheet::{Outcome, Sheet, Stage};
use offshed_core::stamp::Now;
use offshed_core::verdict::Who;
use offshed_core::words::{Arg, Names};
use serde::Serialize;

use super::lines::{EntryLine, Lines};
use super::proof::{Proof, Scope};
use crate::ids::Ids;
use crate::ledger::{Ledger, PackNames};
use crate::packfile::PackFile;
use crate::views::{self, ContestView, Moments, ask_word, range, stage_key};

/// A sheet.
#[derive(Clone, Debug, Serialize)]
pub struct SheetPaper {
    /// Its id: the opening entry.
    pub sheet: String,
    /// The sequence, by id.
    pub sequence: String,
    /// The sequence's title.
    pub title: String,
    /// `open`, `finished`, `abandoned`, `joined`.
    pub stage: &'static str,
    /// When it was finished or given up, RFC 3339 local; the sheet it was joined into.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ended: Option<String>,
    /// When it was opened, RFC 3339 local.
    pub opened: String,
    /// By whom.
    pub opened_by: String,
    /// The rules it is bound to.
    pub rules: String,
    /// SHA-256 of those rules.
    pub rules_sha256: String,
    /// Who signed and reviewed, in the sheet's order.
    pub signatures: Vec<StepResult>,
    /// The stages.
    pub stages: Vec<StageLine>,
    /// Entries that do not count, or count but must be seen.
    pub contested: Vec<ContestView>,
    /// Contested entries beyond those.
    pub contested_more: u16,
    /// Check lines of sheets that were folded into this one.
    pub joined: Vec<String>,
    /// Every entry of the sheet, in order.
    pub entries: Vec<EntryLine>,
}

/// A stage.
#[derive(Clone, Debug, Serialize)]
pub struct StageLine {
    /// Its title.
    pub title: String,
    /// Its steps; on a paper without those that do not apply to the engine.
    pub steps: Vec<StepResult>,
}

/// What stands on a step.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct StepResult {
    /// Its id.
    pub step: String,
    /// Its title.
    pub title: String,
    /// `right`, `warned`, `not-right`, `not-applicable`, `under-way`, `not-answered`, `does-not-apply`.
    pub result: &'static str,
    /// The answer in words; empty where there is none.
    pub answer: String,
    /// When it was done, RFC 3339 local.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
    /// The same, short.
    #[serde(skip)]
    pub at_short: String,
    /// By whom.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// The second person.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub with: Option<String>,
    /// The entry.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub entry: Option<String>,
}

/// The sheet as it stands in a ledger; `None` when it or its rules are not here.
pub fn sheet(ledger: &Ledger, id: SheetId, now: Now) -> Option<SheetPaper> {
    let sheet = ledger.sheet(id)?;
    let file = ledger.pack(sheet.pack)?;
    let view = views::sheet(ledger, id, Who::default(), now)?;
    let lines = Lines::new(ledger);
    let entries: Vec<EntryLine> =
        ledger.entries().filter(|entry| entry.sheet() == Some(id)).map(|entry| lines.line(entry)).collect();
    let steps = Steps { ledger, sheet, file, parts: parts(&entries), lines: &lines, now };
    let pack = file.pack();
    let stages: Vec<StageLine> =
        view.stages.iter().zip(0..).map(|(stage, n)| steps.stage(&pack, &stage.title, n)).collect();
    let signs: Vec<String> = pack
        .steps(sheet.sequence)
        .filter(|step| matches!(step.kind, KindRow::Signature { .. }))
        .map(|step| Ids::of(file).step_id(step.id))
        .collect();
    let all = stages.iter().flat_map(|stage| &stage.steps);
    let moments = Moments::new(ledger.office.zone());
    Some(SheetPaper {
        sheet: view.sheet,
        sequence: view.sequence,
        title: view.title,
        stage: stage_key(sheet.stage()),
        ended: match sheet.stage() {
            Stage::Open => None,
            Stage::Finished(at) | Stage::Abandoned(at) => Some(moments.rfc3339(at)),
            Stage::Joined(into) => Some(into.to_string()),
        },
        opened: view.opened,
        opened_by: view.opened_by,
        rules: view.pack,
        rules_sha256: format!("{:#}", sheet.pack),
        signatures: all.filter(|step| signs.contains(&step.step)).cloned().collect(),
        stages,
        contested: view.contested,
        contested_more: sheet.contested_more(),
        joined: joined(ledger, id).map(|from| Proof::of(ledger, Scope::Sheet(from)).to_string()).collect(),
        entries,
    })
}

/// Sheets that were folded into this one.
fn joined(ledger: &Ledger, into: SheetId) -> impl Iterator<Item = SheetId> {
    ledger.sheets().filter(move |sheet| sheet.stage() == Stage::Joined(into)).map(|sheet| sheet.id)
}

/// What was found at the parts of each procedure, by the entry of its last part.
fn parts(entries: &[EntryLine]) -> BTreeMap<String, String> {
    let mut under_way: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    let mut found = BTreeMap::new();
    for line in entries.iter().filter(|line| line.answer == Some("part") && line.standing != "not-offered") {
        let Some(step) = line.step.as_deref() else { continue };
        let so_far = under_way.entry(step).or_default();
        if line.part == Some(1) {
            so_far.clear();
        }
        so_far.push(line.answered.strip_prefix("part ").unwrap_or(&line.answered));
        found.insert(line.entry.clone(), so_far.join("; "));
    }
    found
}

struct Steps<'l> {
    ledger: &'l Ledger,
    sheet: &'l Sheet,
    file: &'l PackFile,
    parts: BTreeMap<String, String>,
    lines: &'l Lines<'l>,
    now: Now,
}

impl Steps<'_> {
    fn stage(&self, pack: &Pack<'_>, title: &str, n: u8) -> StageLine {
        let steps = pack.steps(self.sheet.sequence).enumerate().filter(|(_, step)| step.stage == n);
        StageLine { title: title.to_owned(), steps: steps.map(|(place, step)| self.step(&step, place)).collect() }
    }

    fn step(&self, step: &StepRow, place: usize) -> StepResult {
        let plain = StepResult {
            step: Ids::of(self.file).step_id(step.id),
            title: self.file.texts().get(step.text).to_owned(),
            ..StepResult::default()
        };
        let features = self.ledger.office.engine(self.sheet.engine).unwrap_or_default().features;
        let lacks = step.applies.is_some_and(|feature| !features.has(feature.0));
        let progress = self.sheet.progress(step.id).map(|progress| progress.entry);
        match (self.sheet.mark(place), progress) {
            (None, None) if lacks => StepResult { result: "does-not-apply", ..plain },
            (None, None) => StepResult { result: "not-answered", ..plain },
            (_, Some(entry)) => self.answered(plain, "under-way", entry, step.id),
            (Some(mark), None) => {
                let result = match mark.outcome {
                    Outcome::Proven { warned: false } => "right",
                    Outcome::Proven { warned: true } => "warned",
                    Outcome::NotRight => "not-right",
                    Outcome::Skipped => "not-applicable",
                };
                self.answered(plain, result, mark.proof.entry, step.id)
            }
        }
    }

    fn answered(&self, plain: StepResult, result: &'static str, at: EntryRef, _: StepId) -> StepResult {
        let Some(entry) = self.ledger.entry(at) else { return StepResult { result, ..plain } };
        let line = self.lines.line(entry);
        let moments = Moments::new(self.ledger.office.zone());
        StepResult {
            result,
            answer: self.parts.get(&line.entry).cloned().unwrap_or(line.answered),
            at_short: moments.short(entry.done_at(), self.now.stamp),
            at: Some(line.done),
            by: Some(line.person_name),
            with: line.with_name,
            entry: Some(line.entry),
            ..plain
        }
    }
}

/// A step to be filled in by hand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BlankStep {
    /// Its title.
    pub title: String,
    /// What to do.
    pub instruction: String,
    /// Where it can hurt; may be empty.
    pub caution: String,
    /// Who may do it.
    pub by: String,
    /// What it asks for, with limits.
    pub asks: Vec<String>,
    /// On engines with this only.
    pub only_with: Option<String>,
}

/// A sequence to be filled in by hand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Blank {
    /// The sequence's title.
    pub title: String,
    /// What it is for.
    pub purpose: String,
    /// The rules.
    pub rules: String,
    /// Their SHA-256.
    pub rules_sha256: String,
    /// The stages with their steps.
    pub stages: Vec<(String, Vec<BlankStep>)>,
}

/// A sequence of a pack as a blank; `None` when the pack has none of that number.
pub fn blank(ledger: &Ledger, file: &PackFile, id: SequenceId, now: Now) -> Option<Blank> {
    let pack = file.pack();
    let row = pack.sequence(id)?;
    let text = |at: TextId, n: u16| file.texts().get(TextId(at.0.saturating_add(n))).to_owned();
    let names = PackNames::new(ledger, Some(file), now.stamp);
    let named = |arg: Arg| {
        let mut out = String::new();
        // Writing to a string does not fail.
        let _ = names.write(arg, &mut out);
        out
    };
    let one = |step: StepRow| BlankStep {
        title: text(step.text, 0),
        instruction: text(step.text, 1),
        caution: text(step.text, 2),
        by: named(Arg::Grade(step.by)),
        asks: asks(&pack, file, &step, &named),
        only_with: step.applies.map(|feature| named(Arg::Feature(feature))),
    };
    let stages = (0..row.stages.len).map(|n| {
        let steps = pack.steps(id).filter(|step| step.stage == n).map(one).collect();
        (file.texts().get(pack.stage_title(id, n)).to_owned(), steps)
    });
    Some(Blank {
        title: text(row.text, 0),
        purpose: text(row.text, 1),
        rules: file.title(),
        rules_sha256: format!("{:#}", file.hash()),
        stages: stages.collect(),
    })
}

/// What a step asks for, one line for each thing to be written down.
fn asks(pack: &Pack<'_>, file: &PackFile, step: &StepRow, named: &dyn Fn(Arg) -> String) -> Vec<String> {
    let limit = |slots, n| pack.limit(slots, n).map(|limit| limit.to_string());
    match step.kind {
        KindRow::Check => vec!["done / not right".to_owned()],
        KindRow::Reading { unit, limits } => {
            vec![format!("{}{}", unit.symbol(), range(limit(limits, slot::LOW), limit(limits, slot::HIGH)))]
        }
        KindRow::Identity { fitting } => vec![format!("number on: {}", named(Arg::Fitting(fitting)))],
        KindRow::Choice { options } => {
            let options = pack.options(options).zip(1..);
            options.map(|(option, n): (_, u8)| format!("{n}: {}", file.texts().get(option.text))).collect()
        }
        KindRow::Timed { limits, unit } => {
            let hold = range(limit(limits, slot::AT_LEAST), limit(limits, slot::AT_MOST));
            let reading = unit.map_or(String::new(), |unit| format!(", {} at the start and the end", unit.symbol()));
            vec![format!("time held{hold}{reading}")]
        }
        KindRow::Due { due } => vec![format!("last day: {}", named(Arg::Due(due)))],
        KindRow::Figure { unit, .. } => vec![format!("{}, worked out by a competent person", unit.symbol())],
        KindRow::Signature { .. } => vec!["signature".to_owned()],
        KindRow::Procedure { parts } => {
            let parts = pack.parts(parts).zip(1..);
            parts
                .map(|(part, n): (_, u8)| format!("{n}. {} ({})", file.texts().get(part.text), ask_word(part.ask)))
                .collect()
        }
    }
}
