//! What a reviewer reads: the sheets that wait, and of each what is unusual up front, with its evidence; then who signed,
//! then what was read, then the rest.
//!
//! A finding is a fact of the record in one sentence. It accuses nobody: the reviewer knows the day.

mod oddity;

use std::cmp::Reverse;
use std::collections::BTreeMap;

use offshed_core::entry::{Entry, What};
use offshed_core::ident::{PersonId, SheetId, StepId};
use offshed_core::pack::rows::{KindRow, StepRow};
use offshed_core::register::Register;
use offshed_core::sheet::{Mark, Sheet, Stage};
use offshed_core::stamp::{Now, Stamp};
use offshed_core::verdict::Who;
use serde::Serialize;

pub use oddity::{Kind, LATE_SECONDS, Oddity, QUICK_ANSWERS, QUICK_SECONDS};

use crate::ids::Ids;
use crate::ledger::Ledger;
use crate::views::{self, Moments, StepView};

/// Reviewed sheets that are listed, newest first.
pub const REVIEWED_LISTED: usize = 20;

/// A sheet that was signed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SignedSheet {
    /// Its id.
    pub sheet: String,
    /// The engine.
    pub engine: u16,
    /// The engine's name.
    pub name: String,
    /// The sequence's title.
    pub title: String,
    /// When the last of the crew signed, local.
    pub signed: String,
    /// It waits for its review.
    pub waiting: bool,
    /// What is unusual about it.
    pub oddities: Vec<Oddity>,
}

/// A line about a step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StepLine {
    /// The step's title.
    pub title: String,
    /// The value, or how it stands where it has none.
    pub told: String,
    /// Who answered it, and when.
    pub who: String,
}

/// A sheet as its reviewer reads it.
#[derive(Clone, Debug, Serialize)]
pub struct SheetReview {
    /// What the list says of it.
    pub head: SignedSheet,
    /// The review's step, by number: where the reviewer answers.
    pub review_step: u16,
    /// Who signed, in the sheet's order.
    pub signatures: Vec<StepLine>,
    /// What was read and worked out, in the sheet's order.
    pub values: Vec<StepLine>,
    /// Everything else that applies, stage by stage.
    pub rest: Vec<(String, Vec<StepLine>)>,
}

/// Finished sheets that are looked through for those.
const FINISHED_LOOKED_AT: usize = 200;

/// Sheets that wait for their review, those with most that is unusual first, then the longest waiting; after them the
/// latest that were reviewed.
pub fn signed_sheets(ledger: &Ledger, now: Now) -> Vec<SignedSheet> {
    let (open, mut finished): (Vec<&Sheet>, Vec<&Sheet>) =
        ledger.sheets().partition(|sheet| matches!(sheet.stage(), Stage::Open));
    finished.sort_by_key(|sheet| Reverse((sheet.opened, sheet.id)));
    finished.truncate(FINISHED_LOOKED_AT);
    let all: Vec<Signed<'_>> =
        open.into_iter().chain(finished).filter_map(|sheet| signed(ledger, sheet, now)).collect();
    let (mut waiting, mut reviewed): (Vec<_>, Vec<_>) = all.into_iter().partition(|sheet| sheet.waiting);
    reviewed.sort_by_key(|sheet| Reverse(sheet.at));
    reviewed.truncate(REVIEWED_LISTED);
    waiting.append(&mut reviewed);
    let entries = entries(ledger, &waiting);
    let of = |sheet: &Signed<'_>| entries.get(&sheet.sheet.id).map_or(&[][..], Vec::as_slice);
    let mut lines: Vec<(Stamp, SignedSheet)> =
        waiting.iter().map(|sheet| (sheet.at, sheet.head(ledger, of(sheet)))).collect();
    lines.sort_by_key(|(at, line)| match line.waiting {
        true => (false, Reverse(line.oddities.len()), at.0),
        false => (true, Reverse(0), at.0.saturating_neg()),
    });
    lines.into_iter().map(|(_, line)| line).collect()
}

/// The answers and strike-outs of these sheets, each in order.
fn entries<'a>(ledger: &'a Ledger, sheets: &[Signed<'_>]) -> BTreeMap<SheetId, Vec<&'a Entry>> {
    let mut of: BTreeMap<SheetId, Vec<&Entry>> = sheets.iter().map(|s| (s.sheet.id, Vec::new())).collect();
    for entry in ledger.entries() {
        if let What::Answered { sheet, .. } | What::Struck { sheet, .. } = &entry.what
            && let Some(list) = of.get_mut(sheet)
        {
            list.push(entry);
        }
    }
    of.values_mut().for_each(|list| list.sort_by_key(|entry| entry.order()));
    of
}

/// One of them, in full; `None` when it was not signed, or is not here.
pub fn read(ledger: &Ledger, sheet: SheetId, now: Now) -> Option<SheetReview> {
    let signed = [signed(ledger, ledger.sheet(sheet)?, now)?];
    let entries = entries(ledger, &signed);
    let [signed] = signed;
    let mut review = SheetReview {
        head: signed.head(ledger, entries.get(&sheet).map_or(&[], Vec::as_slice)),
        review_step: signed.review_step,
        signatures: Vec::new(),
        values: Vec::new(),
        rest: Vec::new(),
    };
    for stage in &signed.view.stages {
        let mut rest = Vec::new();
        for step in stage.steps.iter().filter(|step| step.state != "does-not-apply") {
            let line = line(step);
            if signed.signatures.contains(&step.id) {
                review.signatures.push(line);
            } else if step.value.is_some() {
                review.values.push(line);
            } else {
                rest.push(line);
            }
        }
        if !rest.is_empty() {
            review.rest.push((stage.title.clone(), rest));
        }
    }
    Some(review)
}

fn line(step: &StepView) -> StepLine {
    let who = match (&step.person, &step.at_short) {
        (Some(person), Some(at)) => format!("{person}, {at}"),
        _ => String::new(),
    };
    let told = step.value.clone().unwrap_or_else(|| step.state.replace('-', " "));
    StepLine { title: step.title.clone(), told, who }
}

/// A signed sheet as it stood when the last of the crew signed.
struct Signed<'a> {
    sheet: &'a Sheet,
    at: Stamp,
    waiting: bool,
    review_step: u16,
    signatures: Vec<String>,
    forks: Vec<String>,
    view: views::SheetView,
}

/// The sheet, where its sequence has a review and every signature before that stands.
fn signed<'a>(ledger: &Ledger, sheet: &'a Sheet, now: Now) -> Option<Signed<'a>> {
    if matches!(sheet.stage(), Stage::Abandoned(_) | Stage::Joined(_)) {
        return None;
    }
    let file = ledger.pack(sheet.pack)?;
    let (pack, ids) = (file.pack(), Ids::of(file));
    let steps: Vec<_> = pack.steps(sheet.sequence).collect();
    let place = steps.iter().position(|step| matches!(step.kind, KindRow::Signature { review: true }))?;
    let review = steps.get(place)?;
    let of = |steps: &[StepRow], is: fn(&StepRow) -> bool| {
        steps.iter().filter(|step| is(step)).map(|step| ids.step_id(step.id)).collect::<Vec<String>>()
    };
    let is_signature = |kind| matches!(kind, KindRow::Signature { .. });
    let now_view = views::sheet(ledger, sheet.id, Who::default(), now)?;
    let state = |id: &str| now_view.stages.iter().flat_map(|s| &s.steps).find(|s| s.id == id).map_or("", |s| s.state);
    let mut at = None;
    for (n, step) in steps.iter().enumerate().take(place).filter(|(_, step)| is_signature(step.kind)) {
        match state(&ids.step_id(step.id)) {
            "does-not-apply" | "skipped" => {}
            // A signature stands however long its proof counts.
            "proven" | "warned" | "lapsed" => at = at.max(sheet.mark(n).map(|mark: &Mark| mark.proof.at)),
            _ => return None,
        }
    }
    let at = at?;
    Some(Signed {
        sheet,
        at,
        waiting: !matches!(state(&ids.step_id(review.id)), "proven" | "does-not-apply" | "lapsed"),
        review_step: review.id.0,
        signatures: of(&steps, |step| matches!(step.kind, KindRow::Signature { .. })),
        forks: of(&steps, |step| matches!(step.kind, KindRow::Choice { .. }) && step.fails.is_none()),
        // What had lapsed since is no oddity: proofs are looked at as they stood when the sheet was signed.
        view: views::sheet(ledger, sheet.id, Who::default(), Now { stamp: at, ..now })?,
    })
}

impl Signed<'_> {
    fn head(&self, ledger: &Ledger, entries: &[&Entry]) -> SignedSheet {
        let name = ledger.office.engines.get(&self.sheet.engine).map_or_else(String::new, |e| e.name.clone());
        let file = ledger.pack(self.sheet.pack);
        let person = |id: PersonId| {
            let known = ledger.office.people.get(&id).map(|person| person.name.as_str());
            known.filter(|name| !name.is_empty()).map_or_else(|| format!("person {id}"), str::to_owned)
        };
        let step = |id: StepId| {
            file.map_or_else(|| id.to_string(), |file| file.texts().get(file.pack().step_title(id)).to_owned())
        };
        let moments = Moments::new(ledger.office.zone());
        SignedSheet {
            sheet: self.view.sheet.clone(),
            engine: self.view.engine,
            name,
            title: self.view.title.clone(),
            signed: moments.long(self.at),
            waiting: self.waiting,
            oddities: oddity::all(&oddity::Facts {
                view: &self.view,
                signed: self.at,
                forks: &self.forks,
                entries,
                moments,
                person: &person,
                step: &step,
            }),
        }
    }
}
