//! Which sheets wait for a review, which had theirs, and who may give it.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use offshed_core::entry::{Answer, Entry, Review, What};
use offshed_core::ident::{EntryRef, PersonId, Set, SheetId, StepId};
use offshed_core::pack::Rule;
use offshed_core::pack::rows::{KindRow, StepRow};
use offshed_core::reason::Why;
use offshed_core::sheet::{Mark, Outcome, Sheet, Stage};
use offshed_core::stamp::{Now, Stamp};
use offshed_core::verdict::{self, Scene, StepState, Who};

use super::marks::signed_at;
use super::{Case, Oddity, oddities};
use crate::ledger::Ledger;
use crate::shed::scene;

/// A sheet that is signed and not reviewed.
#[derive(Clone, Debug)]
pub struct Waiting {
    /// The sheet.
    pub sheet: SheetId,
    /// The step that reviews it.
    pub review: StepId,
    /// When it was last signed.
    pub signed_at: Stamp,
    /// What stands in the way of any review, whoever gives it; empty: nothing.
    pub blocked: Vec<String>,
    /// What is unusual about it.
    pub oddities: Vec<Oddity>,
}

/// All sheets that are signed and not reviewed: those with most that is unusual first, then the longest signed.
///
/// A sheet that was reviewed once and whose signatures no longer count waits for its crew, not for a review.
pub fn waiting(ledger: &Ledger, now: Now) -> Vec<Waiting> {
    let open = ledger.sheets().filter(|sheet| sheet.stage() == Stage::Open);
    let waits: BTreeMap<SheetId, (StepId, Vec<Why>)> =
        open.filter_map(|sheet| Some((sheet.id, in_the_way(ledger, sheet, now)?))).collect();
    let ids: Vec<SheetId> = waits.keys().copied().collect();
    let one = |case: Case<'_>| {
        let (review, blocked) = waits.get(&case.sheet.id)?;
        let blocked = blocked.iter().map(|why| case.sentence(why)).collect();
        let (review, signed_at) = (*review, signed_at(&case)?);
        Some(Waiting { sheet: case.sheet.id, review, signed_at, blocked, oddities: oddities(&case) })
    };
    let mut found: Vec<Waiting> = Case::all(ledger, &ids, now).into_iter().filter_map(one).collect();
    found.sort_by_key(|waiting| (Reverse(waiting.oddities.len()), waiting.signed_at, waiting.sheet));
    found
}

/// The review of a sheet that waits for it, and what stands in its way; `None` when it does not wait.
fn in_the_way(ledger: &Ledger, sheet: &Sheet, now: Now) -> Option<(StepId, Vec<Why>)> {
    let look = |scene: &Scene<'_>| {
        let review = review_step(scene, sheet)?;
        let judged = || verdict::needs(scene, &review, Who::default(), now).reasons;
        waits(scene, sheet, &review, now).then(|| (review.id, judged().iter().map(|reason| reason.why).collect()))
    };
    scene(ledger, sheet.id, look)?
}

/// Reviewed sheets that are listed, the latest first.
pub const REVIEWED_LISTED: usize = 20;

/// A sheet whose last review stands.
#[derive(Clone, Debug)]
pub struct Reviewed {
    /// The sheet.
    pub sheet: SheetId,
    /// When it was last signed.
    pub signed_at: Stamp,
    /// When it was reviewed.
    pub at: Stamp,
    /// By whom.
    pub by: PersonId,
    /// What the review came to.
    pub outcome: Review,
    /// What is unusual about it.
    pub oddities: Vec<Oddity>,
}

/// The sheets that were reviewed last, the latest first: at most [`REVIEWED_LISTED`], those that wait again left out.
pub fn reviewed(ledger: &Ledger, now: Now) -> Vec<Reviewed> {
    let mut latest: Vec<(&Entry, SheetId, Review)> = Vec::new();
    for entry in ledger.entries() {
        if let What::Answered { sheet, step, answer: Answer::Reviewed { outcome, .. }, .. } = &entry.what
            && stands(ledger, *sheet, *step, entry.at)
        {
            latest.push((entry, *sheet, *outcome));
        }
    }
    latest.sort_by_key(|(entry, sheet, _)| (Reverse(entry.done_at()), *sheet));
    let again = |id: SheetId| {
        let open = ledger.sheet(id).filter(|sheet| sheet.stage() == Stage::Open);
        open.is_some_and(|sheet| in_the_way(ledger, sheet, now).is_some())
    };
    let shown = latest.into_iter().filter(|(_, sheet, _)| !again(*sheet)).take(REVIEWED_LISTED);
    let shown: Vec<(&Entry, SheetId, Review)> = shown.collect();
    let ids: Vec<SheetId> = shown.iter().map(|(_, sheet, _)| *sheet).collect();
    let cases: BTreeMap<SheetId, Case<'_>> =
        Case::all(ledger, &ids, now).into_iter().map(|case| (case.sheet.id, case)).collect();
    let one = |(entry, sheet, outcome): (&Entry, SheetId, Review)| {
        let case = cases.get(&sheet)?;
        let (at, by) = (entry.done_at(), entry.person);
        Some(Reviewed { sheet, signed_at: signed_at(case).unwrap_or(at), at, by, outcome, oddities: oddities(case) })
    };
    shown.into_iter().filter_map(one).collect()
}

/// Whether an answer is the last that counts at its step, on a sheet that was not given up.
fn stands(ledger: &Ledger, sheet: SheetId, step: StepId, entry: EntryRef) -> bool {
    let Some(sheet) = ledger.sheet(sheet) else { return false };
    let given_up = matches!(sheet.stage(), Stage::Abandoned(_) | Stage::Joined(_));
    let place = ledger.pack(sheet.pack).and_then(|file| file.pack().place_of(step));
    !given_up && place.and_then(|place| sheet.mark(place)).is_some_and(|mark| mark.proof.entry == entry)
}

/// The step of the sheet's sequence that reviews it.
fn review_step(scene: &Scene<'_>, sheet: &Sheet) -> Option<StepRow> {
    scene.pack.steps(sheet.sequence).find(|step| matches!(step.kind, KindRow::Signature { review: true }))
}

fn mark<'s>(scene: &Scene<'_>, sheet: &'s Sheet, step: StepId) -> Option<&'s Mark> {
    sheet.mark(scene.pack.place_of(step)?)
}

/// Every signature was given; and they count, or nobody has reviewed the sheet yet.
fn waits(scene: &Scene<'_>, sheet: &Sheet, review: &StepRow, now: Now) -> bool {
    let state = |step: StepId| verdict::of(scene, step, Who::default(), now);
    if matches!(state(review.id), StepState::Proven { .. }) {
        return false;
    }
    let fits = |step: &StepRow| !matches!(state(step.id), StepState::DoesNotApply);
    let signatures: Vec<StepRow> = scene
        .pack
        .steps(sheet.sequence)
        .filter(|step| matches!(step.kind, KindRow::Signature { review: false }) && fits(step))
        .collect();
    let given =
        |step: &StepRow| mark(scene, sheet, step.id).is_some_and(|mark| matches!(mark.outcome, Outcome::Proven { .. }));
    let alive = |step: &StepRow| matches!(state(step.id), StepState::Proven { .. });
    let reviewed = mark(scene, sheet, review.id).is_some();
    !signatures.is_empty() && signatures.iter().all(|step| given(step) && (alive(step) || !reviewed))
}

/// The grade that may give a sheet's review, as the sheet's rules say.
pub fn review_grade(ledger: &Ledger, sheet: SheetId, review: StepId) -> Set {
    let by = scene(ledger, sheet, |scene| scene.pack.step(review).map(|step| step.by));
    by.flatten().map_or(Set::EMPTY, |grade| Set::EMPTY.with(grade.0))
}

/// Who may review a sheet, and who of the grade may not, and why.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Reviewers {
    /// Those to whom the review is open now, by number.
    pub may: Vec<PersonId>,
    /// Those in the grade to whom it is not for what they did on the sheet, with the reason in words.
    pub may_not: Vec<(PersonId, String)>,
}

/// Who may give the review of a sheet at `now`.
pub fn reviewers(ledger: &Ledger, sheet: SheetId, review: StepId, now: Now) -> Reviewers {
    let Some(case) = Case::of(ledger, sheet, now) else { return Reviewers::default() };
    let judged = |scene: &Scene<'_>| {
        let mut all = Reviewers::default();
        let Ok((row, _)) = verdict::find(scene, review) else { return all };
        let open = scene.sheet.is_some_and(|sheet| verdict::takes_answers(sheet).is_ok());
        for person in ledger.office.people.keys().copied() {
            let reasons = verdict::needs(scene, &row, Who { person: Some(person), with: None }, now).reasons;
            let graded = verdict::in_grade(scene, person, row.by, now).is_ok();
            let own = reasons.iter().find(|reason| own_doing(reason.rule));
            match own {
                _ if open && reasons.is_empty() => all.may.push(person),
                Some(reason) if graded => all.may_not.push((person, case.sentence(&reason.why))),
                _ => {}
            }
        }
        all
    };
    scene(ledger, sheet, judged).unwrap_or_default()
}

/// A rule about what the person did on the sheet.
fn own_doing(rule: Option<Rule>) -> bool {
    matches!(rule, Some(Rule::DifferentEveryone | Rule::Different(_)))
}
