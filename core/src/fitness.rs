//! Fitness: may this engine leave, why not, and until when.
//!
//! A verdict records and warns. It replaces neither the railway's rules nor its boiler inspector.

use heapless::Vec;

use crate::engine::{Defect, EngineState};
use crate::limits::REASONS;
use crate::pack::rows::DefectGrade;
use crate::pack::{Pack, Rule};
use crate::reason::Why;
use crate::register::Register;
use crate::stamp::{Day, Now, Stamp};
use crate::verdict::{self, Reason, Scene, Who};

/// The verdict on an engine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Everything the pack asks for holds.
    Fit,
    /// It holds, in part only by a written restriction or dispensation.
    Restricted,
    /// Something does not hold.
    NotFit,
    /// It can't be told: the pack, the register or the record is incomplete.
    NotKnown,
}

/// What will end a verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ends {
    /// This requirement will no longer hold.
    Rule(Rule),
    /// The written restriction of this defect runs out.
    Restriction(crate::ident::DefectId),
}

/// A verdict with its grounds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fitness {
    /// The verdict.
    pub verdict: Verdict,
    /// Every reason against, with the requirement it breaks.
    pub reasons: Vec<Reason, REASONS>,
    /// Restrictions and dispensations it rests on: the rule or defect, and the last day.
    pub conditions: Vec<(Ends, Day), 16>,
    /// The first moment at which it lapses, and by what; `None` when it does not hold, or nothing it rests on lapses.
    pub until: Option<(Stamp, Ends)>,
    /// Since when the engine has been off shed.
    pub away_since: Option<Stamp>,
}

impl Fitness {
    /// Something of this engine can't be judged here: it is not known, unless it is already not fit.
    pub fn make_unknown(&mut self, why: Why) {
        let _ = self.reasons.push(Reason { rule: None, group: 0, why });
        self.until = None;
        if self.verdict != Verdict::NotFit {
            self.verdict = Verdict::NotKnown;
        }
    }

    fn unknown(why: Why) -> Fitness {
        let mut reasons = Vec::new();
        let _ = reasons.push(Reason { rule: None, group: 0, why });
        Fitness { verdict: Verdict::NotKnown, reasons, conditions: Vec::new(), until: None, away_since: None }
    }
}

/// Whether a reason says that something can't be told, rather than that it does not hold.
fn is_ignorance(why: Why) -> bool {
    matches!(
        why,
        Why::DateUnknown { .. }
            | Why::GlassUnknown
            | Why::WorkingUnknown
            | Why::NumberUnknown { .. }
            | Why::NoValue { .. }
            | Why::NoAlternative
            | Why::ClockDoubted { .. }
    )
}

/// Judges an engine under the adopted pack.
///
/// A proof that was alive when the engine left the shed does not lapse by time while it is away, through the end of that
/// local day: nobody leaves on yesterday's proofs (compare 49 CFR 230.13(a), an inspection each day it is used).
pub fn of(pack: Option<&Pack<'_>>, register: &dyn Register, engine: &EngineState, now: Now) -> Fitness {
    let Some(pack) = pack else {
        return Fitness::unknown(Why::PackMissing);
    };
    if register.engine(engine.id).is_none() {
        return Fitness::unknown(Why::EngineUnknown);
    }
    if let Some(list) = engine.overflow() {
        return Fitness::unknown(Why::TooMuchRecorded { list });
    }
    let away = pack.head().away.filter(|state| engine.is_in(*state));
    let away_since = away.map(|state| engine.since(state));
    let zone = register.zone();
    let left_at = away_since.filter(|at| zone.day(*at) == zone.day(now.stamp));
    let scene = Scene { pack, register, engine, sheet: None, left_at };
    let judged = verdict::judge(&scene, pack.fitness_needs(), Who::default(), now);

    let mut fitness = Fitness {
        verdict: Verdict::Fit,
        reasons: judged.reasons,
        conditions: Vec::new(),
        until: judged.until.map(|(at, rule)| (at, Ends::Rule(rule))),
        away_since,
    };
    for (rule, day) in judged.dispensed {
        let _ = fitness.conditions.push((Ends::Rule(rule), day));
    }
    for defect in engine.defects() {
        weigh_defect(&scene, &mut fitness, defect, now);
    }
    settle(&mut fitness);
    fitness
}

/// Stopping defects count whatever the pack asks; restricted ones count unless a restriction is in force.
fn weigh_defect(scene: &Scene<'_>, fitness: &mut Fitness, defect: &Defect, now: Now) {
    let in_force = defect.restricted_until.filter(|day| *day >= scene.today(now));
    match (defect.grade, in_force) {
        (DefectGrade::Note, _) => {}
        (DefectGrade::Restricted, Some(day)) => {
            let ends = Ends::Restriction(defect.id);
            let _ = fitness.conditions.push((ends, day));
            let at = scene.day_end(day);
            if let Some(at) = at.filter(|at| fitness.until.is_none_or(|(until, _)| *at < until)) {
                fitness.until = Some((at, ends));
            }
        }
        (DefectGrade::Restricted | DefectGrade::Stopping, _) => {
            let why = Why::DefectOpen { defect: defect.id, grade: defect.grade };
            let _ = fitness.reasons.push(Reason { rule: None, group: 0, why });
        }
    }
}

fn settle(fitness: &mut Fitness) {
    // A stopping defect that the pack asks about as well is one reason, not two.
    let mut seen: Vec<Why, REASONS> = Vec::new();
    fitness.reasons.retain(|reason| {
        let new = !seen.contains(&reason.why) || reason.group != 0;
        let _ = seen.push(reason.why);
        new
    });
    fitness.verdict = match (fitness.reasons.is_empty(), fitness.conditions.is_empty()) {
        (true, true) => Verdict::Fit,
        (true, false) => Verdict::Restricted,
        (false, _) if fitness.reasons.iter().all(|r| is_ignorance(r.why)) => Verdict::NotKnown,
        (false, _) => Verdict::NotFit,
    };
    if !fitness.reasons.is_empty() {
        fitness.until = None;
    }
}
