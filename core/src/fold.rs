//! The fold: how each entry, in the merged order, changes a sheet and its engine.
//!
//! The fold never refuses: what is recorded is a fact. It judges each entry again at its place in the order; what was
//! not open there is *contested*: kept, shown, and no proof.

use heapless::Vec;

use crate::engine::{Defect, Dispensation, EngineState, Nth, Proof, VoidMark, VoidedBy};
use crate::entry::{Answer, Entry, What};
use crate::ident::{EntryRef, EventId, PersonId, SequenceId, Set, StepId};
use crate::limits::STEPS_PER_SHEET;
use crate::pack::rows::{DefectGrade, KindRow, StepRow, Voids};
use crate::pack::{Pack, Rule};
use crate::reason::Why;
use crate::register::Register;
use crate::sheet::{Contest, Contested, Mark, Outcome, Progress, Sheet, Stage};
use crate::stamp::Now;
use crate::verdict::{self, Scene, Weight, Who};

/// A new sheet was opened for the engine: proofs that live as long as the last sheet of the same sequence end here.
pub fn opened(pack: &Pack<'_>, engine: &mut EngineState, sequence: SequenceId) {
    for step in pack.steps(sequence).filter(|s| s.shared && s.lives_with_sheet()) {
        engine.forget(step.id);
    }
}

/// Folds an entry that belongs to `sheet`, judged under the sheet's own pack.
pub fn sheet(pack: &Pack<'_>, register: &dyn Register, engine: &mut EngineState, sheet: &mut Sheet, entry: &Entry) {
    let nth = engine.next();
    match &entry.what {
        What::Answered { step, answer, with, over, .. } => {
            let given = Given { entry, nth, step: *step, answer, with: *with };
            note_unseen(pack, sheet, &given, *over);
            note_signature(sheet, &given);
            if let Err(why) = answered(pack, register, engine, sheet, &given) {
                contest(sheet, &given, Contest::NotOffered(why));
            }
        }
        What::Struck { step, entry: struck, .. } => strike(pack, engine, sheet, (entry, nth), *step, *struck),
        What::Abandoned { .. } if sheet.stage() == Stage::Open => sheet.set_stage(Stage::Abandoned(entry.stamp)),
        _ => {}
    }
    sheet.note_head(entry.at);
}

/// An answer with what surrounds it.
struct Given<'e> {
    entry: &'e Entry,
    nth: Nth,
    step: StepId,
    answer: &'e Answer,
    with: Option<PersonId>,
}

fn contest(sheet: &mut Sheet, given: &Given<'_>, contest: Contest) {
    sheet.note_contested(Contested { entry: given.entry.at, step: Some(given.step), contest });
}

/// The answer that stands on a step: the last part of what is under way, else the mark.
pub fn standing(pack: &Pack<'_>, sheet: &Sheet, step: StepId) -> Option<EntryRef> {
    let under_way = sheet.progress(step).map(|p| p.entry);
    under_way.or_else(|| Some(sheet.mark(pack.place_of(step)?)?.proof.entry))
}

/// Two devices answered the same step, the second without having seen the first.
fn note_unseen(pack: &Pack<'_>, sheet: &mut Sheet, given: &Given<'_>, over: Option<EntryRef>) {
    let Some(other) = standing(pack, sheet, given.step) else {
        return;
    };
    if Some(other) != over && other.device != given.entry.at.device {
        contest(sheet, given, Contest::Unseen { other });
    }
}

fn answered(
    pack: &Pack<'_>,
    register: &dyn Register,
    engine: &mut EngineState,
    sheet: &mut Sheet,
    given: &Given<'_>,
) -> Result<(), Why> {
    let now = Now { stamp: given.entry.stamp, clock: given.entry.clock };
    let (step, place, weight) = {
        let scene = Scene { pack, register, engine, sheet: Some(sheet), left_at: None };
        let who = Who { person: Some(given.entry.person), with: given.with };
        let (step, place) = verdict::find(&scene, given.step)?;
        verdict::takes_answers(sheet)?;
        if let Some(reason) = verdict::needs_of(&scene, &step, given.answer, who, now).reasons.first() {
            return Err(reason.why);
        }
        (step, place, verdict::weigh(&scene, &step, given.answer, now)?)
    };
    if !matches!(given.answer, Answer::Reviewed { .. }) {
        sheet.note_person(given.entry.person);
    }
    land(pack, engine, sheet, given, &step, place, weight);
    Ok(())
}

/// Entries that sort before a signature but that its signer's device had not seen.
fn note_signature(sheet: &mut Sheet, given: &Given<'_>) {
    let (Answer::Signed { seen, .. } | Answer::Reviewed { seen, .. }) = given.answer else {
        return;
    };
    let signature = given.entry.at;
    for head in sheet.heads().clone() {
        let known = seen.iter().find(|s| s.device == head.device).map_or(0, |s| s.seq);
        if head.device != signature.device && head.seq > known {
            let contest = Contest::ArrivedAfterSigning { signature };
            sheet.note_contested(Contested { entry: head, step: None, contest });
        }
    }
}

/// Writes what an answer came to.
fn land(
    pack: &Pack<'_>,
    engine: &mut EngineState,
    sheet: &mut Sheet,
    given: &Given<'_>,
    step: &StepRow,
    place: usize,
    weight: Weight,
) {
    let (entry, id) = (given.entry, step.id);
    match weight {
        Weight::Advanced { value } => {
            let fresh = Progress::new(id, entry.at, entry.done_at(), entry.person);
            let first = matches!(given.answer, Answer::Part { part: 0, .. });
            let before = sheet.progress(id).filter(|_| !first).copied().unwrap_or(fresh);
            sheet.set_progress(before.advanced(value, entry.at, entry.done_at(), entry.person));
        }
        Weight::Begun { hold } => {
            let mut progress = Progress::new(id, entry.at, entry.done_at(), entry.person);
            progress.hold = Some(hold);
            sheet.set_progress(progress);
        }
        Weight::Proof { value, warned } => {
            let mark = mark(given, Outcome::Proven { warned }, value);
            put(sheet, id, place, mark);
            prove(pack, engine, sheet, entry, step, mark.proof);
        }
        Weight::NotRight { value, .. } => {
            put(sheet, id, place, mark(given, Outcome::NotRight, value));
            engine.forget(id);
            void_dependents(pack, engine, sheet, (entry, given.nth), id);
            derive_defect(engine, entry.at, step);
        }
        Weight::Skipped => {
            put(sheet, id, place, mark(given, Outcome::Skipped, None));
            engine.forget(id);
            void_dependents(pack, engine, sheet, (entry, given.nth), id);
        }
        Weight::SentBack | Weight::Stopped => {
            put(sheet, id, place, mark(given, Outcome::NotRight, None));
            engine.forget(id);
            send_back(pack, engine, (entry, given.nth), step);
            if weight == Weight::Stopped {
                engine.open_defect(defect(entry.at, DefectGrade::Stopping, Some(id)));
            }
        }
    }
}

fn put(sheet: &mut Sheet, step: StepId, place: usize, mark: Mark) {
    sheet.end_progress(step);
    sheet.set_mark(place, Some(mark));
}

fn mark(given: &Given<'_>, outcome: Outcome, value: Option<crate::units::Reading>) -> Mark {
    let entry = given.entry;
    let proof = Proof {
        step: given.step,
        entry: entry.at,
        nth: given.nth,
        at: entry.done_at(),
        clock: entry.clock,
        by: entry.person,
        value,
    };
    Mark { outcome, proof, with: given.with }
}

/// A step was proven: its states, what it takes away, and the end of the sheet if it closes it.
fn prove(pack: &Pack<'_>, engine: &mut EngineState, sheet: &mut Sheet, entry: &Entry, step: &StepRow, proof: Proof) {
    if step.shared {
        engine.prove(proof);
    }
    let taken = VoidMark { nth: proof.nth, at: entry.done_at(), by: VoidedBy::Step(step.id) };
    for id in pack.listed(step.voids) {
        engine.void(id, taken);
    }
    engine.change_states(step.sets, step.clears, entry.done_at());
    if step.closes {
        sheet.set_stage(Stage::Finished(entry.done_at()));
    }
}

fn defect(id: EntryRef, grade: DefectGrade, step: Option<StepId>) -> Defect {
    Defect { id, grade, step, event: None, restricted_until: None, cleared_by: Set::EMPTY, cleared: Set::EMPTY }
}

/// A failed check opens a defect by itself, once, however often it fails.
fn derive_defect(engine: &mut EngineState, id: EntryRef, step: &StepRow) {
    let open = engine.defects().iter().any(|d| d.step == Some(step.id));
    if let Some(grade) = step.fails.filter(|_| !open) {
        engine.open_defect(defect(id, grade, Some(step.id)));
    }
}

/// The sheet's signatures no longer count.
fn send_back(pack: &Pack<'_>, engine: &mut EngineState, (entry, nth): (&Entry, Nth), review: &StepRow) {
    let mark = VoidMark { nth, at: entry.stamp, by: VoidedBy::SentBack };
    for step in pack.steps(review.sequence).filter(|s| matches!(s.kind, KindRow::Signature { review: false })) {
        engine.void(step.id, mark);
    }
}

/// A proof stands on those it asked to be alive: when one of them is struck out or found not right, it goes too, and
/// what stands on it.
///
/// Lapses and events take away what the pack says they do, and no more.
fn void_dependents(
    pack: &Pack<'_>,
    engine: &mut EngineState,
    sheet: &Sheet,
    (entry, nth): (&Entry, Nth),
    lost: StepId,
) {
    let mut gone: Vec<StepId, STEPS_PER_SHEET> = Vec::new();
    let _ = gone.push(lost);
    let mut next = 0;
    while let Some(foundation) = gone.get(next).copied() {
        next += 1;
        for (place, step) in pack.steps(sheet.sequence).enumerate() {
            let proven = sheet.mark(place).is_some_and(|mark| matches!(mark.outcome, Outcome::Proven { .. }));
            let stands = proven && pack.needs(step.needs).any(|need| asks_alive(need.rule, foundation));
            if stands && !gone.contains(&step.id) {
                let by = VoidedBy::Foundation(foundation);
                engine.void(step.id, VoidMark { nth, at: entry.stamp, by });
                // There is room: a sequence has no more steps than the list.
                let _ = gone.push(step.id);
            }
        }
    }
}

/// Whether a rule asks for the living proof of a step.
fn asks_alive(rule: Rule, id: StepId) -> bool {
    match rule {
        Rule::Fresh { step, .. } | Rule::Within { step, .. } => step == id,
        Rule::Agree { a, b, .. } => a == id || b == id,
        Rule::AtLeast { reading, derived } => reading == id || derived == id,
        _ => false,
    }
}

fn strike(
    pack: &Pack<'_>,
    engine: &mut EngineState,
    sheet: &mut Sheet,
    (entry, nth): (&Entry, Nth),
    step: StepId,
    struck: EntryRef,
) {
    let place = pack.place_of(step);
    match place.and_then(|p| sheet.mark(p)).filter(|m| m.proof.entry == struck) {
        Some(_) => {
            sheet.set_mark(place.unwrap_or(usize::MAX), None);
            if engine.proof(step).is_some_and(|p| p.entry == struck) {
                engine.forget(step);
            }
            void_dependents(pack, engine, sheet, (entry, nth), step);
        }
        None => {
            let contest = Contest::NotOffered(Why::NoSuchAnswer { entry: struck });
            sheet.note_contested(Contested { entry: entry.at, step: Some(step), contest });
        }
    }
}

/// Folds `from` into `into`: on every step the newer answer stands, and its proof is the engine's again.
///
/// # Errors
/// When the sheets are not of the same engine, sequence and pack.
pub fn join(pack: &Pack<'_>, engine: &mut EngineState, into: &mut Sheet, from: &mut Sheet) -> Result<(), Why> {
    joinable(into, from)?;
    for place in 0..crate::limits::STEPS_PER_SHEET {
        let Some(theirs) = from.mark(place).copied() else {
            continue;
        };
        let older = into.mark(place).is_none_or(|ours| ours.proof.nth < theirs.proof.nth);
        if older {
            into.set_mark(place, Some(theirs));
        }
        into.note_person(theirs.proof.by);
    }
    for head in from.heads().clone() {
        into.note_head(head);
    }
    for (place, step) in pack.steps(into.sequence).enumerate().filter(|(_, step)| step.shared) {
        let mark = into.mark(place).filter(|mark| matches!(mark.outcome, Outcome::Proven { .. }));
        let newer = |mark: &Mark| engine.proof(step.id).is_none_or(|p| p.nth < mark.proof.nth);
        if let Some(mark) = mark.filter(|mark| newer(mark)) {
            engine.prove(mark.proof);
        }
    }
    from.set_stage(Stage::Joined(into.id));
    Ok(())
}

/// Whether two sheets can be made one: of the same engine, sequence and pack, both open.
///
/// # Errors
/// When they can't.
pub fn joinable(into: &Sheet, from: &Sheet) -> Result<(), Why> {
    let alike = into.engine == from.engine && into.sequence == from.sequence && into.pack == from.pack;
    let open = from.stage() == Stage::Open && into.stage() == Stage::Open;
    if alike && open && into.id != from.id { Ok(()) } else { Err(Why::NotJoinable { sheet: from.id }) }
}

/// Folds an entry that belongs to an engine and to no sheet. `pack` is the adopted one, when it is here.
pub fn engine(pack: Option<&Pack<'_>>, engine: &mut EngineState, entry: &Entry) {
    let nth = engine.next();
    match &entry.what {
        What::Happened { event, .. } => {
            if let Some(pack) = pack {
                happened(pack, engine, (entry, nth), *event);
            }
        }
        What::DefectOpened { grade, step, .. } => engine.open_defect(defect(entry.at, *grade, *step)),
        What::DefectRestricted { defect, until, .. } => engine.restrict_defect(*defect, *until),
        What::DefectCleared { defect, grade, .. } => engine.clear_defect(*defect, *grade),
        What::Dispensed { what, until, .. } => {
            engine.dispense(Dispensation { what: *what, until: *until, entry: entry.at });
        }
        What::TagHung { .. } => engine.hang_tag(entry.person, entry.stamp),
        What::TagLifted { .. } => engine.lift_tag(entry.person),
        _ => {}
    }
}

fn happened(pack: &Pack<'_>, engine: &mut EngineState, (entry, nth): (&Entry, Nth), id: EventId) {
    let Some(event) = pack.event(id) else { return };
    let mark = VoidMark { nth, at: entry.done_at(), by: VoidedBy::Event(id) };
    match event.voids {
        Voids::All => engine.void_all(mark),
        Voids::Steps(span) => pack.listed(span).for_each(|step| engine.void(step, mark)),
    }
    engine.change_states(event.sets, event.clears, entry.done_at());
    if let Some(grade) = event.opens {
        let opened = Defect { event: Some(id), cleared_by: event.cleared_by, ..defect(entry.at, grade, None) };
        engine.open_defect(opened);
    }
}
