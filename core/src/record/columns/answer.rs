//! The columns of answers to steps.

use super::fields::{Readings, Texts};
use super::*;
use crate::entry::{Answer, Found, Review, Shown};
use crate::ident::StepId;
use crate::limits::{DEVICES_SEEN, FIGURE_INPUTS};
use crate::stamp::Day;
use crate::units::Reading;

/// The counts of the columns of answers, and what the last answer was.
#[derive(Debug, Default)]
pub(super) struct AnswerModel {
    step: u16,
    /// The last answer's entry.
    before: Option<EntryRef>,
    /// The part that the last answer was about, if it was about one.
    part: Option<u8>,
    /// By whether the last answer was about a part.
    same_step: [Prob; 2],
    next_step: Prob,
    further: Number,
    /// By whether the step is that of a part before.
    expected: [Prob; 2],
    kind: Kind<4, 16>,
    plain: Usual,
    done_at: Prob,
    ago: Number,
    with: Prob,
    over: Prob,
    over_entry: Refs,
    texts: Texts,
    readings: Readings,
    a_reading: Prob,
    choice: Number,
    tenths: Number,
    next_part: Usual,
    part_number: Number,
    found: Kind<3, 8>,
    shown: Shows,
    outcome: Kind<2, 4>,
    seen_usual: Usual,
    how_many: Number,
    seen: Refs,
}

/// The counts of the columns of what was computed.
#[derive(Debug, Default)]
struct Shows {
    figure: Prob,
    days_ago: Number,
    steam_days: Number,
    has_last_day: Usual,
    last_day: Number,
    has_left: Usual,
    /// Days in steam and what was left of them, together, in the last date.
    total: i64,
    left: Number,
    inputs: Number,
    rounds: Number,
}

/// Kinds of answers, by the numbers of [`Answer`].
mod kind {
    pub(super) const DONE: u8 = 0;
    pub(super) const NOT_RIGHT: u8 = 1;
    pub(super) const READING: u8 = 2;
    pub(super) const NUMBER: u8 = 3;
    pub(super) const CHOICE: u8 = 4;
    pub(super) const BEGAN: u8 = 5;
    pub(super) const ENDED: u8 = 6;
    pub(super) const ACCEPTED: u8 = 7;
    pub(super) const PART: u8 = 8;
    pub(super) const NOT_APPLICABLE: u8 = 9;
    pub(super) const SIGNED: u8 = 10;
    pub(super) const REVIEWED: u8 = 11;
}

fn kind_of(answer: &Answer) -> u8 {
    match answer {
        Answer::Done => kind::DONE,
        Answer::NotRight { .. } => kind::NOT_RIGHT,
        Answer::Reading(_) => kind::READING,
        Answer::Number(_) => kind::NUMBER,
        Answer::Choice(_) => kind::CHOICE,
        Answer::Began(_) => kind::BEGAN,
        Answer::Ended { .. } => kind::ENDED,
        Answer::Accepted(_) => kind::ACCEPTED,
        Answer::Part { .. } => kind::PART,
        Answer::NotApplicable { .. } => kind::NOT_APPLICABLE,
        Answer::Signed { .. } => kind::SIGNED,
        Answer::Reviewed { .. } => kind::REVIEWED,
    }
}

/// What an answer carries besides itself.
#[derive(Clone, Copy, Default)]
struct Beside {
    done_at: Option<Stamp>,
    with: Option<PersonId>,
    over: Option<EntryRef>,
}

impl Columns {
    /// An answer: its sheet, step, kind, what stands beside it, and what the kind has.
    pub(super) fn answered<P: Pipe>(
        &mut self,
        pipe: &mut P,
        at: EntryRef,
        stamp: Stamp,
        given: Option<&What>,
    ) -> Result<What, BitFault> {
        let (sheet, step, answer, beside) = match given {
            Some(What::Answered { sheet, step, answer, done_at, with, over }) => {
                let beside = Beside { done_at: *done_at, with: *with, over: *over };
                (Some(*sheet), step.0, Some(answer), beside)
            }
            _ => (None, 0, None, Beside::default()),
        };
        let Columns { sheets, devices, models, .. } = self;
        let sheet = sheets.pick(pipe, sheet, |pipe, given| models.sheet.pick(pipe, devices, at, given))?;
        let (step, again) = self.answers.step(pipe, step)?;
        let within = again && self.answers.part.is_some();
        let kind = self.answers.kind(pipe, within, answer.map_or(0, kind_of))?;
        let usual = self.answers.before.filter(|_| again);
        let Beside { done_at, with, over } = self.beside(pipe, at, stamp, usual, beside)?;
        let answer = self.answer(pipe, at, stamp, kind, within, answer)?;
        self.answers.part = if let Answer::Part { part, .. } = answer { Some(part) } else { None };
        self.answers.before = Some(at);
        Ok(What::Answered { sheet, step, answer, done_at, with, over })
    }

    /// What stands beside an answer; usually nothing, or the last answer where that was to the same step.
    fn beside<P: Pipe>(
        &mut self,
        pipe: &mut P,
        at: EntryRef,
        stamp: Stamp,
        usual: Option<EntryRef>,
        given: Beside,
    ) -> Result<Beside, BitFault> {
        let plain = given.done_at.is_none() && given.with.is_none() && given.over == usual;
        if pipe.bit(&mut self.answers.plain.0, plain)? {
            return Ok(Beside { over: usual, ..Beside::default() });
        }
        let mut beside = Beside::default();
        if pipe.bit(&mut self.answers.done_at, given.done_at.is_some())? {
            let before = stamp.0.wrapping_sub(given.done_at.unwrap_or(stamp).0);
            beside.done_at = Some(Stamp(stamp.0.wrapping_sub(self.answers.ago.signed(pipe, before)?)));
        }
        if pipe.bit(&mut self.answers.with, given.with.is_some())? {
            // The second person does not become the last one who acted.
            let by = self.people.last();
            beside.with = Some(self.person(pipe, given.with)?);
            by.into_iter().for_each(|by| self.people.note(by));
        }
        if pipe.bit(&mut self.answers.over, given.over.is_some())? {
            beside.over = Some(self.answers.over_entry.pick(pipe, &mut self.devices, at, given.over)?);
        }
        Ok(beside)
    }

    fn answer<P: Pipe>(
        &mut self,
        pipe: &mut P,
        at: EntryRef,
        stamp: Stamp,
        kind: u8,
        within: bool,
        given: Option<&Answer>,
    ) -> Result<Answer, BitFault> {
        match kind {
            kind::SIGNED => {
                let (pack, seen) = match given {
                    Some(Answer::Signed { pack, seen }) => (Some(*pack), &seen[..]),
                    _ => (None, &[][..]),
                };
                let pack = self.pack(pipe, pack)?;
                Ok(Answer::Signed { pack, seen: self.seen(pipe, at, seen)? })
            }
            kind::REVIEWED => self.reviewed(pipe, at, given),
            _ => self.answers.simple(pipe, stamp, kind, within, given),
        }
    }

    fn reviewed<P: Pipe>(&mut self, pipe: &mut P, at: EntryRef, given: Option<&Answer>) -> Result<Answer, BitFault> {
        let (outcome, words, seen) = match given {
            Some(Answer::Reviewed { outcome, words, seen }) => (*outcome as u8, Some(words.as_str()), &seen[..]),
            _ => (0, None, &[][..]),
        };
        let outcome = match self.answers.outcome.pick(pipe, outcome)? {
            0 => Review::Accepted,
            1 => Review::SentBack,
            2 => Review::Stopped,
            _ => return Err(BitFault::Meaningless),
        };
        let words = self.answers.texts.pick(pipe, words)?;
        Ok(Answer::Reviewed { outcome, words, seen: self.seen(pipe, at, seen)? })
    }

    fn seen<P: Pipe>(
        &mut self,
        pipe: &mut P,
        at: EntryRef,
        given: &[EntryRef],
    ) -> Result<Vec<EntryRef, DEVICES_SEEN>, BitFault> {
        // Usually what was answered last, or, at the start of a block, the entry before.
        let before = EntryRef { seq: at.seq.wrapping_sub(1), ..at };
        let usual = self.answers.before.unwrap_or(before);
        if pipe.bit(&mut self.answers.seen_usual.0, given == [usual])? {
            return Ok([usual].into_iter().collect());
        }
        let count: usize = self.answers.how_many.fit(pipe, given.len() as u64)?;
        let mut seen = Vec::new();
        for n in 0..count {
            let one = self.answers.seen.pick(pipe, &mut self.devices, at, given.get(n).copied())?;
            seen.push(one).map_err(|_| BitFault::Meaningless)?;
        }
        Ok(seen)
    }
}

impl AnswerModel {
    /// The kind: a further part behind a part, else done; or another.
    fn kind<P: Pipe>(&mut self, pipe: &mut P, within: bool, given: u8) -> Result<u8, BitFault> {
        let likely = if within { kind::PART } else { kind::DONE };
        let expected = self.expected.get_mut(usize::from(within)).ok_or(BitFault::Meaningless)?;
        if pipe.bit(expected, given == likely)? { Ok(likely) } else { self.kind.pick(pipe, given) }
    }

    /// The step, and whether it is the last answer's.
    fn step<P: Pipe>(&mut self, pipe: &mut P, given: u16) -> Result<(StepId, bool), BitFault> {
        let last = self.step;
        let same = self.same_step.get_mut(usize::from(self.part.is_some())).ok_or(BitFault::Meaningless)?;
        if pipe.bit(same, given == last)? {
            return Ok((StepId(last), true));
        }
        let next = last.wrapping_add(1);
        self.step = if pipe.bit(&mut self.next_step, given == next)? {
            next
        } else {
            // From the step after the next one on, either way.
            let further = self.further.signed(pipe, i64::from(given) - i64::from(last) - 2)?;
            let step = further.checked_add(i64::from(last) + 2).and_then(|step| u16::try_from(step).ok());
            step.ok_or(BitFault::Meaningless)?
        };
        Ok((StepId(self.step), false))
    }

    fn simple<P: Pipe>(
        &mut self,
        pipe: &mut P,
        stamp: Stamp,
        kind: u8,
        within: bool,
        given: Option<&Answer>,
    ) -> Result<Answer, BitFault> {
        Ok(match (kind, given) {
            (kind::DONE, _) => Answer::Done,
            (kind::NOT_RIGHT, Some(Answer::NotRight { words })) => {
                Answer::NotRight { words: self.texts.pick(pipe, Some(words))? }
            }
            (kind::NOT_RIGHT, _) => Answer::NotRight { words: self.texts.pick(pipe, None)? },
            (kind::READING, Some(Answer::Reading(reading))) => {
                Answer::Reading(self.readings.pick(pipe, Some(*reading))?)
            }
            (kind::READING, _) => Answer::Reading(self.readings.pick(pipe, None)?),
            (kind::NUMBER, Some(Answer::Number(number))) => Answer::Number(self.texts.pick(pipe, Some(number))?),
            (kind::NUMBER, _) => Answer::Number(self.texts.pick(pipe, None)?),
            (kind::CHOICE, given) => {
                let option = if let Some(Answer::Choice(option)) = given { *option } else { 0 };
                Answer::Choice(self.choice.fit(pipe, option.into())?)
            }
            (kind::BEGAN, given) => {
                let reading = if let Some(Answer::Began(reading)) = given { *reading } else { None };
                Answer::Began(self.readings.option(pipe, &mut self.a_reading, reading)?)
            }
            (kind::ENDED, given) => self.ended(pipe, given)?,
            (kind::ACCEPTED, given) => {
                let shown = if let Some(Answer::Accepted(shown)) = given { Some(shown) } else { None };
                Answer::Accepted(self.accepted(pipe, stamp, shown)?)
            }
            (kind::PART, given) => self.part(pipe, within, given)?,
            (kind::NOT_APPLICABLE, Some(Answer::NotApplicable { reason })) => {
                Answer::NotApplicable { reason: self.texts.pick(pipe, Some(reason))? }
            }
            (kind::NOT_APPLICABLE, _) => Answer::NotApplicable { reason: self.texts.pick(pipe, None)? },
            _ => return Err(BitFault::Meaningless),
        })
    }

    fn ended<P: Pipe>(&mut self, pipe: &mut P, given: Option<&Answer>) -> Result<Answer, BitFault> {
        let (tenths, reading) = match given {
            Some(Answer::Ended { tenths, reading }) => (*tenths, *reading),
            _ => (0, None),
        };
        let tenths = self.tenths.fit(pipe, tenths.into())?;
        Ok(Answer::Ended { tenths, reading: self.readings.option(pipe, &mut self.a_reading, reading)? })
    }

    fn part<P: Pipe>(&mut self, pipe: &mut P, within: bool, given: Option<&Answer>) -> Result<Answer, BitFault> {
        let (number, found) = match given {
            Some(Answer::Part { part, found }) => (*part, Some(found)),
            _ => (0, None),
        };
        let next = self.part.filter(|_| within).map_or(0, |last| last.wrapping_add(1));
        let part = match pipe.bit(&mut self.next_part.0, number == next)? {
            true => next,
            false => self.part_number.fit(pipe, number.into())?,
        };
        Ok(Answer::Part { part, found: self.found(pipe, found)? })
    }

    fn found<P: Pipe>(&mut self, pipe: &mut P, given: Option<&Found>) -> Result<Found, BitFault> {
        let (kind, words, tenths, reading, delivery) = match given {
            Some(Found::Seen) | None => (0, None, 0, None, None),
            Some(Found::NotRight { words }) => (1, Some(words.as_str()), 0, None, None),
            Some(Found::Reading(reading)) => (2, None, 0, Some(*reading), None),
            Some(Found::Time { tenths }) => (3, None, *tenths, None, None),
            Some(Found::Rose { reading, delivery }) => (4, None, 0, Some(*reading), Some(*delivery)),
        };
        Ok(match self.found.pick(pipe, kind)? {
            0 => Found::Seen,
            1 => Found::NotRight { words: self.texts.pick(pipe, words)? },
            2 => Found::Reading(self.readings.pick(pipe, reading)?),
            3 => Found::Time { tenths: self.tenths.fit(pipe, tenths.into())? },
            4 => {
                let reading = self.readings.pick(pipe, reading)?;
                Found::Rose { reading, delivery: self.readings.pick(pipe, delivery)? }
            }
            _ => return Err(BitFault::Meaningless),
        })
    }

    fn accepted<P: Pipe>(&mut self, pipe: &mut P, stamp: Stamp, given: Option<&Shown>) -> Result<Shown, BitFault> {
        let figure = matches!(given, Some(Shown::Figure { .. }));
        if pipe.bit(&mut self.shown.figure, figure)? { self.figure(pipe, given) } else { self.date(pipe, stamp, given) }
    }

    fn date<P: Pipe>(&mut self, pipe: &mut P, stamp: Stamp, given: Option<&Shown>) -> Result<Shown, BitFault> {
        let today = stamp.0.div_euclid(86_400);
        let (done_on, steam_days, last_day, left) = match given {
            Some(Shown::Date { done_on, steam_days, last_day, steam_days_left }) => {
                (i64::from(done_on.0), *steam_days, *last_day, *steam_days_left)
            }
            _ => (0, 0, None, None),
        };
        let shows = &mut self.shown;
        let day = |day: Option<i64>| day.and_then(|day| i32::try_from(day).ok()).map(Day).ok_or(BitFault::Meaningless);
        let ago = shows.days_ago.signed(pipe, today.wrapping_sub(done_on))?;
        let done_on = day(Some(today.wrapping_sub(ago)))?;
        let steam_days: u32 = shows.steam_days.fit(pipe, steam_days.into())?;
        let last_day = if pipe.bit(&mut shows.has_last_day.0, last_day.is_some())? {
            let later = i64::from(last_day.unwrap_or(done_on).0) - i64::from(done_on.0);
            Some(day(shows.last_day.signed(pipe, later)?.checked_add(done_on.0.into()))?)
        } else {
            None
        };
        let steam_days_left = if pipe.bit(&mut shows.has_left.0, left.is_some())? {
            let total = i64::from(left.unwrap_or_default()).wrapping_add(i64::from(steam_days));
            shows.total = shows.total.wrapping_add(shows.left.signed(pipe, total.wrapping_sub(shows.total))?);
            let left = shows.total.wrapping_sub(i64::from(steam_days));
            Some(i32::try_from(left).map_err(|_| BitFault::Meaningless)?)
        } else {
            None
        };
        Ok(Shown::Date { done_on, steam_days, last_day, steam_days_left })
    }

    fn figure<P: Pipe>(&mut self, pipe: &mut P, given: Option<&Shown>) -> Result<Shown, BitFault> {
        let (given_inputs, result, rounds) = match given {
            Some(Shown::Figure { inputs, result, rounds }) => (&inputs[..], Some(*result), *rounds),
            _ => (&[][..], None, 0),
        };
        let count: usize = self.shown.inputs.fit(pipe, given_inputs.len() as u64)?;
        let mut inputs: Vec<Reading, FIGURE_INPUTS> = Vec::new();
        for n in 0..count {
            let input = self.readings.pick(pipe, given_inputs.get(n).copied())?;
            inputs.push(input).map_err(|_| BitFault::Meaningless)?;
        }
        let result = self.readings.pick(pipe, result)?;
        Ok(Shown::Figure { inputs, result, rounds: self.shown.rounds.fit(pipe, rounds.into())? })
    }
}
