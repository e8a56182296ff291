//! What crews, fitters and foremen record.

use offshed_core::entry::{Answer, Dispensed, Found, Review, What};
use offshed_core::ident::{DefectId, EngineId, PersonId, SheetId};
use offshed_core::pack::rows::{DefectGrade, StepRow};
use offshed_core::register::Register;
use offshed_core::stamp::{Day, Now, Stamp};
use offshed_depot::ids::Ids;
use offshed_depot::shed::{Given, Shed};
use offshed_depot::typed;

use super::{Call, Outcome, act, adopted, clock, ids, pack_of, settle, sheet_id, who, who_signs};
use crate::cli::{
    AnswerArgs, DefectCommand, Dispense, EngineWords, EventArgs, How, Join, Open, Outcome as ReviewOutcome, ReviewArgs,
    Severity, SheetWords, Sign, Strike, TagCommand,
};
use crate::fault::Fault;

fn words(text: &str) -> Result<offshed_core::entry::Words, Fault> {
    typed::words_of(text).map_err(Fault::input)
}

/// `offshed open`
pub(super) fn open(call: &Call, args: &Open) -> Outcome {
    let mut shed = call.shed()?;
    let now = clock();
    let person = who(&mut shed, &args.by, now)?;
    let pack = adopted(shed.ledger())?.hash();
    let sequence = ids(shed.ledger())?.sequence(&args.sequence).map_err(Fault::input)?;
    act(call, &mut shed, What::SheetOpened { engine: EngineId(args.engine), sequence, pack }, person, now)
}

/// The sheet and the step meant, with the step's rules.
fn step(shed: &Shed, sheet: &str, step: &str) -> Result<(SheetId, StepRow), Fault> {
    let id = sheet_id(shed.ledger(), sheet, Some(step))?;
    let pack = pack_of(shed.ledger(), id)?;
    let number = Ids::of(pack).step(step).map_err(Fault::input)?;
    let row = pack.pack().step(number).ok_or_else(|| Fault::input(format!("the pack has no step \"{step}\"")))?;
    Ok((id, row))
}

fn give(call: &Call, shed: &mut Shed, given: Given, person: PersonId, now: Now) -> Outcome {
    let sheet = given.sheet;
    let written = shed.answer(given, person, now);
    settle(call, shed, pack_of(shed.ledger(), sheet).ok(), written, now)
}

/// `offshed answer`
pub(super) fn answer(call: &Call, args: &AnswerArgs) -> Outcome {
    let mut shed = call.shed()?;
    let now = clock();
    let (sheet, row) = step(&shed, &args.which.sheet, &args.step)?;
    let answer = read_answer(&shed, sheet, &row, &args.how, now)?;
    let with = args.with.as_deref().map(|text| super::person(shed.ledger(), text)).transpose()?;
    let zone = shed.ledger().office.zone();
    let done_at: Option<Stamp> = args.done_at.as_deref().map(|text| super::moment(text, zone, now)).transpose()?;
    let person = who(&mut shed, &args.by, now)?;
    give(call, &mut shed, Given { sheet, step: row.id, answer, with, done_at }, person, now)
}

fn read_answer(shed: &Shed, sheet: SheetId, row: &StepRow, how: &How, now: Now) -> Result<Answer, Fault> {
    let file = pack_of(shed.ledger(), sheet)?;
    let pack = file.pack();
    if how.done {
        return Ok(Answer::Done);
    }
    if how.accept {
        let words = |why: &_| offshed_depot::shed::sentence(shed.ledger(), Some(file), why, now.stamp);
        return shed.acceptance(sheet, row.id, now).map_err(|denial| Fault::denied(denial, words));
    }
    let read = if let Some(text) = &how.reading {
        typed::step_reading(row, text).map(Answer::Reading)
    } else if let Some(text) = &how.number {
        let number = offshed_core::entry::bounded(text);
        number.map(Answer::Number).map_err(|long| format!("a fitting's number has at most {} bytes", long.most))
    } else if let Some(n) = how.choose {
        typed::option(&n.to_string())
    } else if let Some(text) = &how.begin {
        typed::begin(row, text)
    } else if let Some(text) = &how.end {
        typed::end(row, text)
    } else if let Some(text) = &how.part {
        typed::part(&pack, row, text, "")
    } else if let Some(text) = &how.skip {
        typed::words_of(text).map(|reason| Answer::NotApplicable { reason })
    } else if let Some(text) = &how.not_right {
        not_right(text)
    } else {
        Err("say what was found: see `offshed answer --help`".to_owned())
    };
    read.map_err(Fault::input)
}

/// `3: what was found` is about a part; anything else about the whole step.
fn not_right(text: &str) -> Result<Answer, String> {
    let part = text.split_once(": ").and_then(|(n, rest)| Some((n.parse::<u8>().ok()?.checked_sub(1)?, rest)));
    match part {
        Some((part, rest)) => Ok(Answer::Part { part, found: Found::NotRight { words: typed::words_of(rest)? } }),
        None => Ok(Answer::NotRight { words: typed::words_of(text)? }),
    }
}

/// `offshed sign`
pub(super) fn sign(call: &Call, args: &Sign) -> Outcome {
    let mut shed = call.shed()?;
    let now = clock();
    let (sheet, row) = step(&shed, &args.which.sheet, &args.step)?;
    let person = who_signs(&mut shed, &args.by, now)?;
    let signature = shed.signature(sheet).map_err(|denial| Fault::denied(denial, |why| format!("{why:?}")))?;
    give(call, &mut shed, Given { sheet, step: row.id, answer: signature, with: None, done_at: None }, person, now)
}

/// `offshed review`
pub(super) fn review(call: &Call, args: &ReviewArgs) -> Outcome {
    let mut shed = call.shed()?;
    let now = clock();
    let (sheet, row) = step(&shed, &args.which.sheet, &args.step)?;
    let outcome = match args.outcome {
        ReviewOutcome::Accepted => Review::Accepted,
        ReviewOutcome::SentBack => Review::SentBack,
        ReviewOutcome::Stopped => Review::Stopped,
    };
    let person = who_signs(&mut shed, &args.by, now)?;
    let review = shed.review(sheet, outcome, words(&args.words)?);
    let answer = review.map_err(|denial| Fault::denied(denial, |why| format!("{why:?}")))?;
    give(call, &mut shed, Given { sheet, step: row.id, answer, with: None, done_at: None }, person, now)
}

/// `offshed strike`
pub(super) fn strike(call: &Call, args: &Strike) -> Outcome {
    let mut shed = call.shed()?;
    let now = clock();
    let (sheet, row) = step(&shed, &args.which.sheet, &args.step)?;
    let place = pack_of(shed.ledger(), sheet)?.pack().place_of(row.id);
    let mark = shed.ledger().sheet(sheet).zip(place).and_then(|(s, p)| s.mark(p)).copied();
    let mark = mark.ok_or_else(|| Fault::input(format!("{} has no answer to strike out", args.step)))?;
    let person = who(&mut shed, &args.by, now)?;
    let what = What::Struck { sheet, step: row.id, entry: mark.proof.entry, reason: words(&args.reason)? };
    act(call, &mut shed, what, person, now)
}

/// `offshed abandon`
pub(super) fn abandon(call: &Call, args: &SheetWords) -> Outcome {
    let mut shed = call.shed()?;
    let now = clock();
    let sheet = sheet_id(shed.ledger(), &args.which.sheet, None)?;
    let person = who(&mut shed, &args.by, now)?;
    act(call, &mut shed, What::Abandoned { sheet, reason: words(&args.reason)? }, person, now)
}

/// `offshed join`
pub(super) fn join(call: &Call, args: &Join) -> Outcome {
    let mut shed = call.shed()?;
    let now = clock();
    let into = sheet_id(shed.ledger(), &args.into, None)?;
    let from = sheet_id(shed.ledger(), &args.from, None)?;
    let person = who(&mut shed, &args.by, now)?;
    act(call, &mut shed, What::Joined { into, from }, person, now)
}

/// `offshed note`
pub(super) fn note(call: &Call, args: &EngineWords) -> Outcome {
    let mut shed = call.shed()?;
    let now = clock();
    let person = who(&mut shed, &args.by, now)?;
    act(call, &mut shed, What::HandedOver { engine: EngineId(args.engine), words: words(&args.words)? }, person, now)
}

/// `offshed event`
pub(super) fn event(call: &Call, args: &EventArgs) -> Outcome {
    let mut shed = call.shed()?;
    let now = clock();
    let event = ids(shed.ledger())?.event(&args.event).map_err(Fault::input)?;
    let zone = shed.ledger().office.zone();
    let done_at = args.done_at.as_deref().map(|text| super::moment(text, zone, now)).transpose()?;
    let person = who(&mut shed, &args.by, now)?;
    let what = What::Happened { engine: EngineId(args.engine), event, words: words(&args.words)?, done_at };
    act(call, &mut shed, what, person, now)
}

fn defect_id(text: &str) -> Result<DefectId, Fault> {
    typed::entry_ref(text)
        .ok_or_else(|| Fault::input(format!("\"{text}\" is no defect: `offshed defect list` shows their ids")))
}

fn day(text: &str) -> Result<Day, Fault> {
    typed::day_named(text).map(Day::of).map_err(Fault::input)
}

/// `offshed defect`
pub(super) fn defect(call: &Call, command: DefectCommand) -> Outcome {
    if let DefectCommand::List { engine, all } = command {
        return super::look::defects(call, engine, all);
    }
    let mut shed = call.shed()?;
    let now = clock();
    let (what, by) = match command {
        DefectCommand::List { .. } => return Err(Fault::input("nothing to record")),
        DefectCommand::Report { engine, grade, words: text, step, by } => {
            let grade = match grade {
                Severity::Stopping => DefectGrade::Stopping,
                Severity::Restricted => DefectGrade::Restricted,
                Severity::Note => DefectGrade::Note,
            };
            let step = step.map(|id| ids(shed.ledger())?.step(&id).map_err(Fault::input)).transpose()?;
            (What::DefectOpened { engine: EngineId(engine), sheet: None, step, grade, words: words(&text)? }, by)
        }
        DefectCommand::Restrict { defect, until, words: text, by } => {
            (What::DefectRestricted { defect: defect_id(&defect)?, words: words(&text)?, until: day(&until)? }, by)
        }
        DefectCommand::Clear { defect, grade, words: text, by } => {
            let grade = ids(shed.ledger())?.grade(&grade).map_err(Fault::input)?;
            (What::DefectCleared { defect: defect_id(&defect)?, grade, words: words(&text)? }, by)
        }
    };
    let person = who(&mut shed, &by, now)?;
    act(call, &mut shed, what, person, now)
}

/// `offshed dispense`
pub(super) fn dispense(call: &Call, args: &Dispense) -> Outcome {
    let mut shed = call.shed()?;
    let now = clock();
    let ids = ids(shed.ledger())?;
    let what = match args.what.split_once(':') {
        Some(("step", id)) => Dispensed::Step(ids.step(id).map_err(Fault::input)?),
        Some(("date", id)) => Dispensed::Due(ids.due(id).map_err(Fault::input)?),
        _ => return Err(Fault::input("say what is waived: `step:ID` or `date:ID`")),
    };
    let (until, text) = (day(&args.until)?, words(&args.words)?);
    let person = who_signs(&mut shed, &args.by, now)?;
    let what = What::Dispensed { engine: EngineId(args.engine), what, words: text, until };
    act(call, &mut shed, what, person, now)
}

/// `offshed tag`
pub(super) fn tag(call: &Call, command: TagCommand) -> Outcome {
    let mut shed = call.shed()?;
    let now = clock();
    let (what, by) = match command {
        TagCommand::Hang { engine, by } => (What::TagHung { engine: EngineId(engine) }, by),
        TagCommand::Lift { engine, by } => (What::TagLifted { engine: EngineId(engine) }, by),
    };
    let person = who(&mut shed, &by, now)?;
    act(call, &mut shed, what, person, now)
}
