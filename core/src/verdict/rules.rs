//! The interlocks, evaluated: each rule of a pack against a sheet, an engine and the register. Nowhere else.

use heapless::Vec;

use super::Scene;
use crate::due::{self, Standing};
use crate::engine::Proof;
use crate::entry::Dispensed;
use crate::ident::{DueId, GradeId, PersonId, StepId};
use crate::limits::{CLOCK_SKEW_SECONDS, REASONS};
use crate::pack::rows::{DefectGrade, StepRow};
use crate::pack::{Need, Rule};
use crate::reason::Why;
use crate::register::{Competence, DueRecord};
use crate::sheet::Outcome;
use crate::stamp::{Clock, Day, Now, Stamp};
use crate::units::Reading;

/// Who is asking: unknown where a face only shows what is open.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Who {
    /// The person answering.
    pub person: Option<PersonId>,
    /// The second person named as present.
    pub with: Option<PersonId>,
}

/// A requirement that does not hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reason {
    /// The requirement's rule; `None` for the grade a step asks by itself.
    pub rule: Option<Rule>,
    /// Not 0: one of several alternatives, of which one is enough.
    pub group: u8,
    /// Why it does not hold, and so what would cure it.
    pub why: Why,
}

/// What a set of requirements comes to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Judged {
    /// Every requirement that does not hold; empty when all do.
    pub reasons: Vec<Reason, REASONS>,
    /// The first moment at which one of those that hold will not any more, and which.
    pub until: Option<(Stamp, Rule)>,
    /// Requirements that hold only by a written dispensation, with its last day.
    pub dispensed: Vec<(Rule, Day), 8>,
}

impl Judged {
    /// Whether everything holds.
    pub fn holds(&self) -> bool {
        self.reasons.is_empty()
    }
}

/// A rule that holds, and until when.
struct Holds {
    until: Option<Stamp>,
    dispensed: Option<Day>,
}

/// Not held: the reason, or that the rule does not apply to this engine.
enum Not {
    Held(Why),
    Applicable,
}

impl From<Why> for Not {
    fn from(why: Why) -> Not {
        Not::Held(why)
    }
}

type Ruled = Result<Holds, Not>;

const FOR_GOOD: Holds = Holds { until: None, dispensed: None };

/// Judges requirements, all of which must hold; alternatives of one group count as one.
pub fn judge(scene: &Scene<'_>, needs: impl Iterator<Item = Need>, who: Who, now: Now) -> Judged {
    let mut judged = Judged::default();
    let mut group: Option<Group> = None;
    for need in needs {
        if group.as_ref().is_some_and(|g| g.number != need.group)
            && let Some(done) = group.take()
        {
            done.close(&mut judged);
        }
        let ruled = rule(scene, need.rule, who, now);
        if need.group == 0 {
            note(&mut judged, need, ruled);
        } else {
            group.get_or_insert_with(|| Group::new(need.group)).add(need, ruled);
        }
    }
    if let Some(done) = group {
        done.close(&mut judged);
    }
    judged
}

fn note(judged: &mut Judged, need: Need, ruled: Ruled) {
    match ruled {
        Ok(holds) => hold(judged, need.rule, holds),
        Err(Not::Applicable) => {}
        Err(Not::Held(why)) => {
            // One reason a requirement; a step has no more requirements than there is room for reasons.
            let _ = judged.reasons.push(Reason { rule: Some(need.rule), group: need.group, why });
        }
    }
}

fn hold(judged: &mut Judged, rule: Rule, holds: Holds) {
    if let Some(until) = holds.until
        && judged.until.is_none_or(|(earliest, _)| until < earliest)
    {
        judged.until = Some((until, rule));
    }
    if let Some(day) = holds.dispensed {
        let _ = judged.dispensed.push((rule, day));
    }
}

/// Alternatives gathered until the group ends.
struct Group {
    number: u8,
    best: Option<(Rule, Holds)>,
    reasons: Vec<Reason, REASONS>,
}

impl Group {
    fn new(number: u8) -> Group {
        Group { number, best: None, reasons: Vec::new() }
    }

    /// Of the alternatives that hold, the one that holds longest counts.
    fn add(&mut self, need: Need, ruled: Ruled) {
        match ruled {
            Ok(holds) => {
                let longer = |held: &Holds| match (held.until, holds.until) {
                    (None, _) => false,
                    (Some(_), None) => true,
                    (Some(old), Some(new)) => new > old,
                };
                if self.best.as_ref().is_none_or(|(_, held)| longer(held)) {
                    self.best = Some((need.rule, holds));
                }
            }
            Err(Not::Held(why)) => {
                let _ = self.reasons.push(Reason { rule: Some(need.rule), group: need.group, why });
            }
            Err(Not::Applicable) => {}
        }
    }

    fn close(self, judged: &mut Judged) {
        if let Some((rule, holds)) = self.best {
            return hold(judged, rule, holds);
        }
        if self.reasons.is_empty() {
            let _ = judged.reasons.push(Reason { rule: None, group: self.number, why: Why::NoAlternative });
        }
        for reason in self.reasons {
            let _ = judged.reasons.push(reason);
        }
    }
}

fn rule(scene: &Scene<'_>, rule: Rule, who: Who, now: Now) -> Ruled {
    match rule {
        Rule::After(step) => after(scene, step),
        Rule::Fresh { step, within_seconds } => fresh(scene, step, within_seconds, now),
        Rule::Within { step, low, high } => within(scene, step, low, high, now),
        Rule::Agree { a, b, within } => agree(scene, a, b, within, now),
        Rule::Wait { since, seconds } => wait(scene, since, seconds, now),
        Rule::AtLeast { reading, derived } => at_least(scene, reading, derived, now),
        Rule::Grade(grade) => person_in_grade(scene, who.person, grade, now),
        Rule::Different(step) => different(scene, step, who),
        Rule::DifferentEveryone => different_everyone(scene, who),
        Rule::With(grade) => with(scene, grade, who, now),
        Rule::InDate(due) => in_date(scene, due, now),
        Rule::NoDefect(grade) => no_defect(scene, grade),
        Rule::State(state) if scene.engine.is_in(state) => Ok(FOR_GOOD),
        Rule::State(state) => Err(Why::StateWanted { state }.into()),
        Rule::StateNot(state) if scene.engine.is_in(state) => {
            Err(Why::StateUnwanted { state, since: scene.engine.since(state) }.into())
        }
        Rule::StateNot(_) => Ok(FOR_GOOD),
        Rule::NoTag => match scene.engine.tags().first() {
            Some((person, since)) => Err(Why::TagHeld { person: *person, since: *since }.into()),
            None => Ok(FOR_GOOD),
        },
    }
}

/// Whether a step applies to the engine.
fn applies(scene: &Scene<'_>, step: &StepRow) -> bool {
    step.applies.is_none_or(|feature| scene.facts().features.has(feature.0))
}

/// What was last answered to a step, here or on another sheet.
enum Last {
    Nothing,
    Skipped,
    NotRight,
    Proof(Proof),
}

fn last(scene: &Scene<'_>, step: &StepRow, place: usize) -> Last {
    let here = scene.sheet.filter(|sheet| sheet.sequence == step.sequence);
    let mark = here.and_then(|sheet| sheet.mark(place));
    if let Some(mark) = mark {
        return match mark.outcome {
            Outcome::Proven { .. } => Last::Proof(mark.proof),
            Outcome::NotRight => Last::NotRight,
            Outcome::Skipped => Last::Skipped,
        };
    }
    let elsewhere = here.is_none() && step.shared;
    elsewhere.then(|| scene.engine.proof(step.id)).flatten().map_or(Last::Nothing, |proof| Last::Proof(*proof))
}

/// The step and its place in its sequence, if it applies to the engine.
fn applying(scene: &Scene<'_>, id: StepId) -> Result<(StepRow, usize), Not> {
    let (step, place) = scene.pack.placed(id).ok_or(Why::NeedsFirst { step: id })?;
    if applies(scene, &step) { Ok((step, place)) } else { Err(Not::Applicable) }
}

fn after(scene: &Scene<'_>, id: StepId) -> Ruled {
    let (step, place) = applying(scene, id)?;
    match last(scene, &step, place) {
        Last::Proof(_) | Last::Skipped => Ok(FOR_GOOD),
        Last::Nothing => Err(Why::NeedsFirst { step: id }.into()),
        Last::NotRight => Err(Why::NotRight { step: id }.into()),
    }
}

/// The living proof of a step and the moment it lapses.
pub(super) fn living(
    scene: &Scene<'_>,
    (step, place): (&StepRow, usize),
    within_seconds: Option<u32>,
    now: Now,
) -> Result<(Proof, Option<Stamp>), Why> {
    let id = step.id;
    let proof = match last(scene, step, place) {
        Last::Proof(proof) => proof,
        Last::Nothing => return Err(Why::NeedsFirst { step: id }),
        Last::Skipped => return Err(Why::Skipped { step: id }),
        Last::NotRight => return Err(Why::NotRight { step: id }),
    };
    if let Some(mark) = scene.engine.voided(id, proof.nth) {
        return Err(Why::Voided { step: id, at: mark.at, by: mark.by });
    }
    let until = lapses(scene, step, proof, within_seconds);
    if until.is_some() && doubted(proof, now) {
        return Err(Why::ClockDoubted { step: id });
    }
    match until {
        Some(at) if now.stamp >= scene.lapse_floor(at) => Err(Why::Lapsed { step: id, at }),
        _ => Ok((proof, until)),
    }
}

/// The moment at which a proof of the step lapses: by its own life, a shorter one asked for here, or the end of its day.
fn lapses(scene: &Scene<'_>, step: &StepRow, proof: Proof, within_seconds: Option<u32>) -> Option<Stamp> {
    let own = (step.life_seconds > 0).then_some(step.life_seconds);
    let by_time = [own, within_seconds].into_iter().flatten().min().map(|seconds| proof.at.plus(i64::from(seconds)));
    let made = Now { stamp: proof.at, clock: proof.clock };
    let by_day = step.ends_with_day.then(|| scene.day_end(scene.today(made))).flatten();
    [by_time, by_day].into_iter().flatten().min()
}

/// A proof timed by a doubted clock counts only within the same start-up of that device; one from the future not at all.
fn doubted(proof: Proof, now: Now) -> bool {
    if proof.at.since(now.stamp) > CLOCK_SKEW_SECONDS {
        return true;
    }
    match (proof.clock, now.clock) {
        (Clock::Good, _) => false,
        (Clock::Doubted { boot }, Clock::Doubted { boot: current }) => boot != current,
        (Clock::Doubted { .. }, Clock::Good) => true,
    }
}

fn fresh(scene: &Scene<'_>, id: StepId, within_seconds: Option<u32>, now: Now) -> Ruled {
    let (step, place) = applying(scene, id)?;
    match living(scene, (&step, place), within_seconds, now) {
        Ok((_, until)) => Ok(Holds { until, dispensed: None }),
        Err(why) => dispensed(scene, Dispensed::Step(id), now).ok_or(Not::Held(why)),
    }
}

/// A written dispensation holds fitness up, never a step on a sheet: what is on a sheet was seen.
fn dispensed(scene: &Scene<'_>, what: Dispensed, now: Now) -> Option<Holds> {
    if scene.sheet.is_some() {
        return None;
    }
    let today = scene.today(now);
    let found = scene.engine.dispensations().iter().find(|d| d.what == what && d.until >= today)?;
    Some(Holds { until: scene.day_end(found.until), dispensed: Some(found.until) })
}

/// The living reading of a step and when it was taken; nothing where the step does not apply to the engine.
pub(super) fn read_off(scene: &Scene<'_>, id: StepId, now: Now) -> Result<Option<(Reading, Stamp)>, Why> {
    let (step, place) = match applying(scene, id) {
        Ok(found) => found,
        Err(Not::Applicable) => return Ok(None),
        Err(Not::Held(why)) => return Err(why),
    };
    let (proof, _) = living(scene, (&step, place), None, now)?;
    Ok(Some((proof.value.ok_or(Why::NoValue { step: id })?, proof.at)))
}

fn value(scene: &Scene<'_>, id: StepId, now: Now) -> Result<(Reading, Option<Stamp>), Not> {
    let (step, place) = applying(scene, id)?;
    let (proof, until) = living(scene, (&step, place), None, now)?;
    let reading = proof.value.ok_or(Why::NoValue { step: id })?;
    Ok((reading, until))
}

/// A reading in base units, compared with limits of the same quantity.
pub(super) fn check_limits(
    scene: &Scene<'_>,
    step: StepId,
    got: Reading,
    low: Option<Reading>,
    high: Option<Reading>,
) -> Result<(), Why> {
    let base = |reading| scene.base(step, reading, got.unit.quantity());
    let at = base(got)?;
    if let Some(limit) = low
        && at < base(limit)?
    {
        return Err(Why::Low { step, got, limit });
    }
    if let Some(limit) = high
        && at > base(limit)?
    {
        return Err(Why::High { step, got, limit });
    }
    Ok(())
}

fn within(scene: &Scene<'_>, id: StepId, low: Option<Reading>, high: Option<Reading>, now: Now) -> Ruled {
    let (got, until) = value(scene, id, now)?;
    check_limits(scene, id, got, low, high)?;
    Ok(Holds { until, dispensed: None })
}

/// Where one of the two does not apply to the engine, the other must be alive all the same.
fn agree(scene: &Scene<'_>, a: StepId, b: StepId, within: Reading, now: Now) -> Ruled {
    let ((got_a, until_a), (got_b, until_b)) = match (value(scene, a, now), value(scene, b, now)) {
        (Err(Not::Applicable), Ok((_, until))) | (Ok((_, until)), Err(Not::Applicable)) => {
            return Ok(Holds { until, dispensed: None });
        }
        (Err(Not::Applicable), other) | (other, Err(Not::Applicable)) => return other.map(|_| FOR_GOOD),
        (a, b) => (a?, b?),
    };
    let quantity = got_a.unit.quantity();
    let apart = scene.base(a, got_a, quantity)?.abs_diff(scene.base(b, got_b, quantity)?);
    if i128::from(apart) > i128::from(scene.difference(a, within, quantity)?) {
        return Err(Why::Disagree { a, b, got_a, got_b, within }.into());
    }
    let until = [until_a, until_b].into_iter().flatten().min();
    Ok(Holds { until, dispensed: None })
}

fn wait(scene: &Scene<'_>, since: StepId, seconds: u32, now: Now) -> Ruled {
    let (step, place) = applying(scene, since)?;
    let Last::Proof(proof) = last(scene, &step, place) else {
        return Err(Why::NeedsFirst { step: since }.into());
    };
    let until = proof.at.plus(i64::from(seconds));
    if doubted(proof, now) {
        return Err(Why::ClockDoubted { step: since }.into());
    }
    if now.stamp < until { Err(Why::TooSoon { since, until }.into()) } else { Ok(FOR_GOOD) }
}

/// Where nothing is computed for the engine, the reading must be alive all the same.
fn at_least(scene: &Scene<'_>, reading: StepId, derived: StepId, now: Now) -> Ruled {
    let (got, until) = value(scene, reading, now)?;
    let (limit, until_limit) = match value(scene, derived, now) {
        Err(Not::Applicable) => return Ok(Holds { until, dispensed: None }),
        found => found?,
    };
    check_limits(scene, reading, got, Some(limit), None)?;
    Ok(Holds { until: [until_limit, until].into_iter().flatten().min(), dispensed: None })
}

/// Whether a person may act in a grade today: by holding it, or one that covers it.
pub fn in_grade(scene: &Scene<'_>, person: PersonId, grade: GradeId, now: Now) -> Result<(), Why> {
    let today = scene.today(now);
    let mut lapsed = None;
    for held in scene.pack.holders_of(grade).members() {
        match scene.register.competence(person, GradeId(held)) {
            Competence::Held => return Ok(()),
            Competence::Until(day) if day >= today => return Ok(()),
            Competence::Until(last_day) => lapsed = Some(Why::GradeLapsed { grade: GradeId(held), last_day }),
            Competence::None => {}
        }
    }
    Err(lapsed.unwrap_or(Why::NotInGrade { grade }))
}

fn person_in_grade(scene: &Scene<'_>, person: Option<PersonId>, grade: GradeId, now: Now) -> Ruled {
    match person {
        Some(person) => Ok(in_grade(scene, person, grade, now).map(|()| FOR_GOOD)?),
        None => Ok(FOR_GOOD),
    }
}

fn different(scene: &Scene<'_>, id: StepId, who: Who) -> Ruled {
    let (step, place) = applying(scene, id)?;
    let Last::Proof(proof) = last(scene, &step, place) else {
        return Ok(FOR_GOOD);
    };
    match who.person {
        Some(person) if person == proof.by => Err(Why::SamePerson { step: id, person }.into()),
        _ => Ok(FOR_GOOD),
    }
}

fn different_everyone(scene: &Scene<'_>, who: Who) -> Ruled {
    match who.person {
        Some(person) if scene.sheet.is_some_and(|s| s.answered(person)) => Err(Why::OnThisSheet { person }.into()),
        _ => Ok(FOR_GOOD),
    }
}

/// The second person is known only when an answer names one; until then the rule is shown as asked for by the answer.
fn with(scene: &Scene<'_>, grade: GradeId, who: Who, now: Now) -> Ruled {
    let Some(person) = who.person else { return Ok(FOR_GOOD) };
    match who.with {
        None => Err(Why::NobodyWith { grade }.into()),
        Some(second) if second == person => Err(Why::WithOneself.into()),
        Some(second) => Ok(in_grade(scene, second, grade, now).map(|()| FOR_GOOD)?),
    }
}

/// How an engine stands with a due date today.
///
/// # Errors
/// [`Why::DateUnknown`] when nobody has stated when it was last done, or the rule leaves the calendar.
pub fn due_standing(scene: &Scene<'_>, due: DueId, now: Now) -> Result<Standing, Why> {
    let unknown = Why::DateUnknown { due };
    let rule = scene.pack.due_rule(due).ok_or(unknown)?;
    let (record, used) = due_counted(scene, due, now)?;
    let (anchor, today) = (record.done_on.date().ok_or(unknown)?, scene.today(now).date().ok_or(unknown)?);
    let postponed = record.postponed_to.and_then(Day::date);
    due::judge(rule, anchor, today, used, postponed).map_err(|_| unknown)
}

/// From when a due date counts, and the days in steam since.
pub(super) fn due_counted(scene: &Scene<'_>, due: DueId, now: Now) -> Result<(DueRecord, u32), Why> {
    let record = scene.register.due(scene.engine.id, due).ok_or(Why::DateUnknown { due })?;
    // The anchor day itself is not counted: the work done that day ends the old count.
    let first = Day(record.done_on.0.saturating_add(1));
    let counted = scene.register.steam_days(scene.engine.id, first, scene.today(now), now.stamp);
    Ok((record, counted.saturating_add(u32::from(record.days_before))))
}

fn in_date(scene: &Scene<'_>, due: DueId, now: Now) -> Ruled {
    if scene.pack.due_applies(due).is_some_and(|feature| !scene.facts().features.has(feature.0)) {
        return Err(Not::Applicable);
    }
    let standing = due_standing(scene, due, now)?;
    let last_day = standing.last_day.map(Day::of);
    if standing.in_date {
        return Ok(Holds { until: last_day.and_then(|day| scene.day_end(day)), dispensed: None });
    }
    let why = Why::OutOfDate { due, last_day, steam_days_left: standing.steam_days_left };
    dispensed(scene, Dispensed::Due(due), now).ok_or(Not::Held(why))
}

fn no_defect(scene: &Scene<'_>, grade: DefectGrade) -> Ruled {
    match scene.engine.defects().iter().find(|d| d.grade >= grade) {
        Some(defect) => Err(Why::DefectOpen { defect: defect.id, grade: defect.grade }.into()),
        None => Ok(FOR_GOOD),
    }
}
