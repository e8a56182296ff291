//! What is unusual on a sheet: small functions, each with one kind of evidence. On a clean sheet they find nothing.
//!
//! The thresholds are common practice, no source.

use offshed_core::entry::{Answer, Entry, Found, What};
use offshed_core::ident::{PersonId, StepId};
use offshed_core::stamp::{Clock, Stamp};
use serde::Serialize;

use crate::views::{Moments, SheetView, StepView};

/// An answer recorded so long after it says it was done is told, seconds.
pub const LATE_SECONDS: i64 = 30 * 60;
/// So many answers of one person in a row, each within [`QUICK_SECONDS`] of the one before, are faster than looking.
pub const QUICK_ANSWERS: usize = 4;
/// See [`QUICK_ANSWERS`].
pub const QUICK_SECONDS: i64 = 2;

/// What kind of thing was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// An entry that does not count, or that must be seen.
    Contested,
    /// A step stood not right when the sheet was signed.
    NotRight,
    /// A step was found not right, and proven later.
    RightLater,
    /// A value in its warning band.
    Warned,
    /// A step was marked not applicable.
    Skipped,
    /// An answer was struck out.
    Struck,
    /// An answer was recorded long after it was done.
    Late,
    /// Answers came faster than a person can look.
    Quick,
    /// Answers were timed by a clock that was not sure of itself.
    ClockDoubted,
}

/// One thing that is unusual.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Oddity {
    /// What it is.
    pub kind: Kind,
    /// The evidence in one sentence.
    pub words: String,
}

/// What the findings look at.
pub(super) struct Facts<'a> {
    /// The sheet as it stood when it was signed.
    pub(super) view: &'a SheetView,
    /// When the last of the crew signed.
    pub(super) signed: Stamp,
    /// Choices whose answer leads one way or another and reports no defect, by id.
    pub(super) forks: &'a [String],
    /// Its answers and strike-outs, in order.
    pub(super) entries: &'a [&'a Entry],
    pub(super) moments: Moments<'a>,
    pub(super) person: &'a dyn Fn(PersonId) -> String,
    pub(super) step: &'a dyn Fn(StepId) -> String,
}

/// Everything unusual, what weighs most first.
pub(super) fn all(facts: &Facts<'_>) -> Vec<Oddity> {
    let finders: [fn(&Facts<'_>) -> Vec<Oddity>; 7] = [contested, standing, right_later, struck, late, quick, doubted];
    let mut found: Vec<Oddity> = finders.iter().flat_map(|find| find(facts)).collect();
    found.sort_by_key(|oddity| oddity.kind);
    found
}

impl Facts<'_> {
    fn steps(&self) -> impl Iterator<Item = &StepView> {
        self.view.stages.iter().flat_map(|stage| &stage.steps)
    }

    fn at(&self, at: Stamp) -> String {
        self.moments.short(at, self.signed)
    }

    /// Answers before the last signature, with their steps.
    fn answers(&self) -> impl Iterator<Item = (&Entry, StepId, &Answer)> {
        self.entries.iter().filter(|entry| entry.stamp <= self.signed).filter_map(|entry| match &entry.what {
            What::Answered { step, answer, .. } => Some((*entry, *step, answer)),
            _ => None,
        })
    }

    fn by(&self, entry: &Entry) -> String {
        format!("{}, {}", (self.person)(entry.person), self.at(entry.stamp))
    }
}

fn contested(facts: &Facts<'_>) -> Vec<Oddity> {
    facts.view.contested.iter().map(|c| Oddity { kind: Kind::Contested, words: c.words.clone() }).collect()
}

/// How steps stood at the signature. A proof that lapsed by then is no oddity: a signature stands on living ones alone.
fn standing(facts: &Facts<'_>) -> Vec<Oddity> {
    let told = |step: &StepView| {
        let (kind, what) = match step.state {
            // An answer that leads another way is none against the engine.
            "not-right" if facts.forks.contains(&step.id) => return None,
            "not-right" => (Kind::NotRight, "stood not right when the sheet was signed"),
            "warned" => (Kind::Warned, "in its warning band"),
            "skipped" => (Kind::Skipped, "marked not applicable"),
            _ => return None,
        };
        let who = match (&step.person, &step.at_short) {
            (Some(person), Some(at)) => format!(" ({person}, {at})"),
            _ => String::new(),
        };
        let value = step.value.as_ref().map_or_else(String::new, |value| format!(": {value}"));
        Some(Oddity { kind, words: format!("{}: {what}{value}{who}", step.title) })
    };
    facts.steps().filter_map(told).collect()
}

/// Found not right in words, and no longer so at the signature.
fn right_later(facts: &Facts<'_>) -> Vec<Oddity> {
    let standing: Vec<&str> = facts.steps().filter(|s| s.state == "not-right").map(|s| s.title.as_str()).collect();
    let told = |(entry, step, answer): (&Entry, StepId, &Answer)| {
        let (Answer::NotRight { words } | Answer::Part { found: Found::NotRight { words }, .. }) = answer else {
            return None;
        };
        let title = (facts.step)(step);
        (!standing.contains(&title.as_str())).then(|| Oddity {
            kind: Kind::RightLater,
            words: format!("{title}: first found not right, \"{words}\" ({}); proven later", facts.by(entry)),
        })
    };
    facts.answers().filter_map(told).collect()
}

fn struck(facts: &Facts<'_>) -> Vec<Oddity> {
    let told = |entry: &&Entry| match &entry.what {
        What::Struck { step, reason, .. } => Some(Oddity {
            kind: Kind::Struck,
            words: format!("{}: an answer was struck out, \"{reason}\" ({})", (facts.step)(*step), facts.by(entry)),
        }),
        _ => None,
    };
    facts.entries.iter().filter_map(told).collect()
}

fn late(facts: &Facts<'_>) -> Vec<Oddity> {
    let told = |entry: &&Entry| match &entry.what {
        What::Answered { step, done_at: Some(done), .. } if entry.stamp.0.saturating_sub(done.0) > LATE_SECONDS => {
            let (title, minutes) = ((facts.step)(*step), (entry.stamp.0 - done.0) / 60);
            let words =
                format!("{title}: done {}, recorded {minutes} minutes later ({})", facts.at(*done), facts.by(entry));
            Some(Oddity { kind: Kind::Late, words })
        }
        _ => None,
    };
    facts.entries.iter().filter_map(told).collect()
}

/// Runs of answers by one person that follow each other faster than anybody looks. Parts of one step are one look, and a
/// signature after a signature is none.
fn quick(facts: &Facts<'_>) -> Vec<Oddity> {
    let mut looks: Vec<(&Entry, StepId)> = Vec::new();
    for (entry, step, answer) in facts.answers() {
        let same = looks.last().is_some_and(|(_, last)| *last == step);
        if !same && !matches!(answer, Answer::Signed { .. } | Answer::Reviewed { .. }) {
            looks.push((entry, step));
        }
    }
    let follows = |a: &(&Entry, StepId), b: &(&Entry, StepId)| {
        a.0.person == b.0.person && (0..=QUICK_SECONDS).contains(&b.0.stamp.0.saturating_sub(a.0.stamp.0))
    };
    let runs = looks.chunk_by(follows).filter(|run| run.len() >= QUICK_ANSWERS);
    let told = |run: &[(&Entry, StepId)]| {
        let (first, last) = (run.first()?, run.last()?);
        let seconds = last.0.stamp.0.saturating_sub(first.0.stamp.0);
        let words = format!(
            "{} answers within {seconds} s, from {} to {} ({})",
            run.len(),
            (facts.step)(first.1),
            (facts.step)(last.1),
            facts.by(first.0)
        );
        Some(Oddity { kind: Kind::Quick, words })
    };
    runs.filter_map(told).collect()
}

fn doubted(facts: &Facts<'_>) -> Vec<Oddity> {
    let count = facts.entries.iter().filter(|entry| matches!(entry.clock, Clock::Doubted { .. })).count();
    let told = |n| format!("{n} entries were timed by a clock that was not set, or that had jumped");
    (count > 0).then(|| Oddity { kind: Kind::ClockDoubted, words: told(count) }).into_iter().collect()
}
