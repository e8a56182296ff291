//! What an answer comes to: a proof, a warning, not right, or not an answer to this step at all.

use super::rules::check_limits;
use super::{Scene, delivery, due_standing, figure};
use crate::entry::{Answer, Found, Review, Shown};
use crate::ident::{FittingId, StepId};
use crate::pack::rows::{AskRow, KindRow, LimitSlots, Span, StepRow};
use crate::pack::slot;
use crate::reason::Why;
use crate::sheet::{Hold, PartValue};
use crate::stamp::{Day, Now};
use crate::units::{Reading, Unit};

/// What an answer comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// A proof; the value, if one was read.
    Proof {
        /// The value.
        value: Option<Reading>,
        /// It lay in the warning band.
        warned: bool,
    },
    /// Looked at and not right; why, where the software can tell.
    NotRight {
        /// What the person, or the limits, say.
        why: Option<Why>,
        /// The value, if one was read.
        value: Option<Reading>,
    },
    /// Marked not applicable.
    Skipped,
    /// A part was done and more follow.
    Advanced {
        /// What to keep of it.
        value: PartValue,
    },
    /// A hold was started.
    Begun {
        /// The hold.
        hold: Hold,
    },
    /// A review sends the sheet back.
    SentBack,
    /// A review stops the engine.
    Stopped,
}

const PLAIN: Weight = Weight::Proof { value: None, warned: false };

/// Weighs an answer to `step`.
///
/// # Errors
/// When it is no answer to this step: another kind, another quantity, a part out of order, words missing.
/// A value beyond its limits is no error: it is recorded, and is *not right*.
pub fn weigh(scene: &Scene<'_>, step: &StepRow, answer: &Answer, now: Now) -> Result<Weight, Why> {
    let wrong = Why::WrongKind { step: step.id };
    match (step.kind, answer) {
        (_, Answer::NotApplicable { reason }) => skip(step, reason),
        (KindRow::Signature { .. }, Answer::NotRight { .. }) => Err(wrong),
        (_, Answer::NotRight { words }) if words.trim().is_empty() => Err(Why::WordsMissing),
        (_, Answer::NotRight { .. }) => Ok(Weight::NotRight { why: None, value: None }),
        (KindRow::Check, Answer::Done) => Ok(PLAIN),
        (KindRow::Reading { unit, limits }, Answer::Reading(got)) => reading(scene, step.id, unit, limits, *got),
        (KindRow::Identity { fitting }, Answer::Number(number)) => identity(scene, fitting, number),
        (KindRow::Choice { options }, Answer::Choice(n)) => choice(scene, step.id, options, *n),
        (KindRow::Timed { unit, .. }, Answer::Began(got)) => begin(scene, step.id, unit, *got),
        (KindRow::Timed { unit, limits }, Answer::Ended { tenths, reading }) => {
            end(scene, step.id, unit, limits, *tenths, *reading)
        }
        (KindRow::Due { due }, Answer::Accepted(Shown::Date { .. })) => accept_due(scene, due, now),
        (KindRow::Figure { limits, .. }, Answer::Accepted(Shown::Figure { inputs, result, rounds })) => {
            accept_figure(scene, step, limits, (inputs, *result, *rounds), now)
        }
        (KindRow::Procedure { parts }, Answer::Part { part, found }) => do_part(scene, step, parts, *part, found),
        (KindRow::Signature { review: false }, Answer::Signed { pack, .. }) if *pack == scene.pack.hash() => Ok(PLAIN),
        (KindRow::Signature { review: false }, Answer::Signed { .. }) => Err(Why::PackDiffers),
        (KindRow::Signature { review: true }, Answer::Reviewed { outcome, words, .. }) => review(*outcome, words),
        _ => Err(wrong),
    }
}

fn skip(step: &StepRow, reason: &str) -> Result<Weight, Why> {
    match (step.skippable, reason.trim().is_empty()) {
        (false, _) => Err(Why::MayNotSkip { step: step.id }),
        (true, true) => Err(Why::WordsMissing),
        (true, false) => Ok(Weight::Skipped),
    }
}

fn review(outcome: Review, words: &str) -> Result<Weight, Why> {
    match outcome {
        Review::Accepted => Ok(PLAIN),
        _ if words.trim().is_empty() => Err(Why::WordsMissing),
        Review::SentBack => Ok(Weight::SentBack),
        Review::Stopped => Ok(Weight::Stopped),
    }
}

fn same_quantity(step: StepId, want: Unit, got: Reading) -> Result<Reading, Why> {
    let (want, measured) = (want.quantity(), got.unit.quantity());
    if want == measured && got.unit.is_answered() {
        Ok(got)
    } else {
        Err(Why::WrongQuantity { step, want, got: measured })
    }
}

/// Comparisons fail in two ways: the value is beyond a limit (not right), or can't be compared (no answer).
fn not_right(why: Why, value: Option<Reading>) -> Result<Weight, Why> {
    match why {
        Why::WrongQuantity { .. } | Why::GlassUnknown | Why::WorkingUnknown => Err(why),
        _ => Ok(Weight::NotRight { why: Some(why), value }),
    }
}

fn reading(scene: &Scene<'_>, id: StepId, unit: Unit, limits: LimitSlots, got: Reading) -> Result<Weight, Why> {
    let got = same_quantity(id, unit, got)?;
    within_limits(scene, id, limits, got)
}

/// A value against low and high, and the warning band.
fn within_limits(scene: &Scene<'_>, id: StepId, limits: LimitSlots, got: Reading) -> Result<Weight, Why> {
    let limit = |n| scene.pack.limit(limits, n);
    if let Err(why) = check_limits(scene, id, got, limit(slot::LOW), limit(slot::HIGH)) {
        return not_right(why, Some(got));
    }
    let warned = check_limits(scene, id, got, limit(slot::WARN_LOW), limit(slot::WARN_HIGH)).is_err();
    Ok(Weight::Proof { value: Some(got), warned })
}

fn identity(scene: &Scene<'_>, fitting: FittingId, number: &str) -> Result<Weight, Why> {
    if number.trim().is_empty() {
        return Err(Why::WordsMissing);
    }
    match scene.register.fitting(scene.engine.id, fitting) {
        Some(known) if known.trim().eq_ignore_ascii_case(number.trim()) => Ok(PLAIN),
        Some(_) => Ok(Weight::NotRight { why: Some(Why::NumberDiffers { fitting }), value: None }),
        None => Ok(Weight::NotRight { why: Some(Why::NumberUnknown { fitting }), value: None }),
    }
}

fn choice(scene: &Scene<'_>, step: StepId, options: Span, n: u8) -> Result<Weight, Why> {
    match scene.pack.options(options).nth(usize::from(n)) {
        Some(option) if option.passes => Ok(PLAIN),
        Some(_) => Ok(Weight::NotRight { why: Some(Why::OptionFails { step }), value: None }),
        None => Err(Why::NoSuchOption { options: options.len }),
    }
}

fn wanted(id: StepId, unit: Option<Unit>, got: Option<Reading>) -> Result<Option<Reading>, Why> {
    match (unit, got) {
        (None, None) => Ok(None),
        (Some(unit), Some(got)) => same_quantity(id, unit, got).map(Some),
        (Some(_), None) => Err(Why::ReadingMissing { step: id }),
        (None, Some(_)) => Err(Why::WrongKind { step: id }),
    }
}

fn begin(scene: &Scene<'_>, id: StepId, unit: Option<Unit>, got: Option<Reading>) -> Result<Weight, Why> {
    let reading = wanted(id, unit, got)?;
    let sheet = scene.sheet.ok_or(Why::NotInSequence { step: id })?;
    if sheet.progress(id).is_none() && !sheet.has_room() {
        return Err(Why::TooManyUnderWay);
    }
    Ok(Weight::Begun { hold: Hold { reading } })
}

/// The measured time against its limits, tenths of a second.
fn timed(scene: &Scene<'_>, step: StepId, limits: LimitSlots, tenths: u32) -> Result<(), Why> {
    let tenth = |n| scene.pack.limit_tenths(limits, n).and_then(|t| u32::try_from(t).ok());
    match (tenth(slot::AT_LEAST), tenth(slot::AT_MOST)) {
        (Some(least), _) if tenths < least => Err(Why::TooShort { step, tenths, least }),
        (_, Some(most)) if tenths > most => Err(Why::TooLong { step, tenths, most }),
        _ => Ok(()),
    }
}

fn end(
    scene: &Scene<'_>,
    id: StepId,
    unit: Option<Unit>,
    limits: LimitSlots,
    tenths: u32,
    got: Option<Reading>,
) -> Result<Weight, Why> {
    let hold = scene.sheet.and_then(|s| s.progress(id)).and_then(|p| p.hold).ok_or(Why::NotBegun { step: id })?;
    let to = wanted(id, unit, got)?;
    let moved = match (hold.reading, to) {
        (Some(from), Some(to)) => moved(scene, id, limits, from, to),
        _ => Ok(()),
    };
    match timed(scene, id, limits, tenths).and(moved) {
        Ok(()) => Ok(Weight::Proof { value: to, warned: false }),
        Err(why) => not_right(why, to),
    }
}

/// How far a value moved during a hold.
fn moved(scene: &Scene<'_>, step: StepId, limits: LimitSlots, from: Reading, to: Reading) -> Result<(), Why> {
    let quantity = to.unit.quantity();
    let rise = scene.base(step, to, quantity)?.saturating_sub(scene.base(step, from, quantity)?);
    if let Some(most) = scene.pack.limit(limits, slot::MAX_FALL)
        && rise.saturating_neg() > scene.difference(step, most, quantity)?
    {
        return Err(Why::Fell { step, from, to, most });
    }
    if let Some(least) = scene.pack.limit(limits, slot::MIN_RISE)
        && rise < scene.difference(step, least, quantity)?
    {
        return Err(Why::RoseTooLittle { step, from, to, least });
    }
    Ok(())
}

fn accept_due(scene: &Scene<'_>, due: crate::ident::DueId, now: Now) -> Result<Weight, Why> {
    let standing = due_standing(scene, due, now)?;
    let today = scene.today(now);
    let counted = scene.register.steam_days(scene.engine.id, today, today, now.stamp) > 0;
    // An engine not in steam yet today is about to use up one more day.
    if standing.in_date && (counted || standing.allows_another_steam_day()) {
        return Ok(PLAIN);
    }
    let last_day = standing.last_day.map(Day::of);
    let why = Why::OutOfDate { due, last_day, steam_days_left: standing.steam_days_left };
    Ok(Weight::NotRight { why: Some(why), value: None })
}

/// A figure is accepted as it is due now from what is recorded, to the last digit shown.
///
/// Its inputs must be those that are alive: a figure computed from others is another figure.
fn accept_figure(
    scene: &Scene<'_>,
    step: &StepRow,
    limits: LimitSlots,
    shown: (&[Reading], Reading, u8),
    now: Now,
) -> Result<Weight, Why> {
    let (inputs, got, rounds) = shown;
    let worked = figure(scene, step, now)?;
    let off = got.milli.abs_diff(worked.result.milli);
    let same = got.unit == worked.result.unit && off <= Reading::step_milli(got.unit).unsigned_abs();
    if !same || rounds != worked.rounds || inputs != worked.inputs.as_slice() {
        return Err(Why::FigureDiffers { step: step.id, got, due: worked.result });
    }
    within_limits(scene, step.id, limits, got)
}

fn do_part(scene: &Scene<'_>, step: &StepRow, parts: Span, part: u8, found: &Found) -> Result<Weight, Why> {
    let id = step.id;
    let sheet = scene.sheet.ok_or(Why::NotInSequence { step: id })?;
    let next = sheet.progress(id).map_or(0, |p| p.next());
    // Starting again from the first part is always open; skipping ahead or back never is.
    if part != next && part != 0 {
        return Err(Why::PartOrder { step: id, next });
    }
    if part == 0 && sheet.progress(id).is_none() && !sheet.has_room() {
        return Err(Why::TooManyUnderWay);
    }
    let row = scene.pack.parts(parts).nth(usize::from(part)).ok_or(Why::PartOrder { step: id, next })?;
    let value = match ask(scene, step, row.ask, found) {
        Ok(value) => value,
        Err(Refused::NoAnswer(why)) => return Err(why),
        Err(Refused::NotRight(why, value)) => return Ok(Weight::NotRight { why, value }),
    };
    if part.saturating_add(1) < parts.len {
        return Ok(Weight::Advanced { value });
    }
    let earlier = sheet.progress(id).and_then(|p| p.last_reading());
    let own = if let PartValue::Reading(reading) = value { Some(reading) } else { None };
    Ok(Weight::Proof { value: own.or(earlier), warned: false })
}

/// Why a part does not advance.
enum Refused {
    NoAnswer(Why),
    NotRight(Option<Why>, Option<Reading>),
}

impl From<Why> for Refused {
    /// A comparison that failed: beyond a limit, or not comparable.
    fn from(why: Why) -> Refused {
        match why {
            Why::WrongQuantity { .. }
            | Why::GlassUnknown
            | Why::WorkingUnknown
            | Why::WrongKind { .. }
            | Why::FigureDiffers { .. }
            | Why::NoFigure { .. } => Refused::NoAnswer(why),
            _ => Refused::NotRight(Some(why), None),
        }
    }
}

fn ask(scene: &Scene<'_>, step: &StepRow, ask: AskRow, found: &Found) -> Result<PartValue, Refused> {
    let id = step.id;
    let limit = |limits, n| scene.pack.limit(limits, n);
    match (ask, found) {
        (_, Found::NotRight { words }) if words.trim().is_empty() => Err(Refused::NoAnswer(Why::WordsMissing)),
        (_, Found::NotRight { .. }) => Err(Refused::NotRight(None, None)),
        (AskRow::Seen, Found::Seen) => Ok(PartValue::Seen),
        (AskRow::Reading { unit, limits }, Found::Reading(got)) => {
            let got = same_quantity(id, unit, *got)?;
            check_limits(scene, id, got, limit(limits, slot::LOW), limit(limits, slot::HIGH))?;
            Ok(PartValue::Reading(got))
        }
        (AskRow::Time { limits }, Found::Time { tenths }) => {
            timed(scene, id, limits, *tenths)?;
            Ok(PartValue::Tenths(*tenths))
        }
        (AskRow::Same { unit, part, limits }, Found::Reading(got)) => {
            let got = same_quantity(id, unit, *got)?;
            same(scene, id, part, limits, got)?;
            Ok(PartValue::Reading(got))
        }
        (AskRow::Rise { unit, .. }, Found::Reading(reading) | Found::Rose { reading, .. }) => {
            let got = same_quantity(id, unit, *reading)?;
            let told = if let Found::Rose { delivery, .. } = found { Some(*delivery) } else { None };
            risen(scene, step, ask, got, told)?;
            Ok(PartValue::Reading(got))
        }
        _ => Err(Refused::NoAnswer(Why::WrongKind { step: id })),
    }
}

fn earlier(scene: &Scene<'_>, id: StepId, part: u8) -> Result<Reading, Why> {
    let progress = scene.sheet.and_then(|s| s.progress(id));
    progress.and_then(|p| p.reading(part)).ok_or(Why::NoValue { step: id })
}

fn same(scene: &Scene<'_>, id: StepId, part: u8, limits: LimitSlots, got: Reading) -> Result<(), Why> {
    let before = earlier(scene, id, part)?;
    let within = scene.pack.limit(limits, slot::WITHIN).ok_or(Why::NoValue { step: id })?;
    let base = |reading| scene.base(id, reading, got.unit.quantity());
    if base(got)?.abs_diff(base(before)?) > scene.difference(id, within, got.unit.quantity())?.unsigned_abs() {
        return Err(Why::Disagree { a: id, b: id, got_a: before, got_b: got, within });
    }
    Ok(())
}

/// The delivery is judged where it can be told, as read; else the rise.
fn risen(scene: &Scene<'_>, step: &StepRow, ask: AskRow, got: Reading, told: Option<Reading>) -> Result<(), Refused> {
    let id = step.id;
    let AskRow::Rise { part, timed_by, limits, .. } = ask else {
        return Err(Refused::NoAnswer(Why::WrongKind { step: id }));
    };
    let Some(delivered) = delivery(scene, step, ask, got)? else {
        // Nobody can have been shown a delivery that can't be told.
        return match told {
            Some(_) => Err(Refused::NoAnswer(Why::BoilerUnknown)),
            None => Ok(rise(scene, id, (part, timed_by), limits, got)?),
        };
    };
    let (due, limit) = (delivered.shown, delivered.least);
    let step_of = Reading::step_milli(due.unit).unsigned_abs();
    if let Some(got) = told
        && (got.unit != due.unit || got.milli.abs_diff(due.milli) > step_of)
    {
        return Err(Refused::NoAnswer(Why::FigureDiffers { step: id, got, due }));
    }
    match check_limits(scene, id, due, Some(limit), None) {
        Err(why) => Err(Refused::NotRight(Some(why), Some(got))),
        Ok(()) => Ok(()),
    }
}

/// The rise must be at least `RISE` for each `OVER` of the measured time.
fn rise(scene: &Scene<'_>, id: StepId, of: (u8, u8), limits: LimitSlots, got: Reading) -> Result<(), Why> {
    let (part, timed_by) = of;
    let from = earlier(scene, id, part)?;
    let missing = Why::NoValue { step: id };
    let tenths = scene.sheet.and_then(|s| s.progress(id)).and_then(|p| p.tenths(timed_by)).ok_or(missing)?;
    let least = scene.pack.limit(limits, slot::RISE).ok_or(missing)?;
    let over = scene.pack.limit_tenths(limits, slot::OVER).ok_or(missing)?;
    let base = |reading| scene.base(id, reading, got.unit.quantity());
    let rose = i128::from(base(got)?) - i128::from(base(from)?);
    if rose * i128::from(over) < i128::from(scene.difference(id, least, got.unit.quantity())?) * i128::from(tenths) {
        return Err(Why::RoseTooLittle { step: id, from, to: got, least });
    }
    Ok(())
}
