//! What stands out in when things were recorded: too fast, all at once, long after, by a clock that was not trusted.

use offshed_core::entry::{Entry, What};
use offshed_core::ident::StepId;
use offshed_core::stamp::Clock;
use offshed_core::words::Arg;

use super::{Case, Kind, Oddity, span};

/// Answers that follow each other within so many seconds are faster than a person reads, looks and touches. Common
/// practice, no source.
pub const HASTY_SECONDS: i64 = 2;
/// How many such steps in a row are told: two or three happen by themselves. Common practice, no source.
pub const HASTY_LEAST: usize = 4;
/// How many answers make it unlikely that all were given in one minute. Common practice, no source.
pub const SAME_MINUTE_LEAST: usize = 5;
/// Seconds after which something recorded later than it was done is told: half an hour. Common practice, no source.
pub const LATE_SECONDS: i64 = 1_800;

/// Runs of at least [`HASTY_LEAST`] looks of one person on one device, each within [`HASTY_SECONDS`] of the one before.
///
/// The parts of one step are one look. Answers whose time was entered by hand are left out: they tell when they were
/// typed in, not when they were given.
pub fn hasty(case: &Case<'_>) -> Vec<Oddity> {
    let given = case.answers().map(|(entry, step, _)| (entry, step)).filter(|(entry, _)| stated(entry).is_none());
    let given: Vec<(&Entry, StepId)> = given.collect();
    let mut people: Vec<_> = given.iter().map(|(entry, _)| (entry.at.device, entry.person)).collect();
    people.sort_unstable();
    people.dedup();
    let mut found = Vec::new();
    for who in people {
        let mut own: Vec<(&Entry, StepId)> =
            given.iter().filter(|(entry, _)| (entry.at.device, entry.person) == who).copied().collect();
        own.dedup_by_key(|(_, step)| *step);
        let close =
            |a: &(&Entry, StepId), b: &(&Entry, StepId)| (0..=HASTY_SECONDS).contains(&b.0.stamp.since(a.0.stamp));
        found.extend(own.chunk_by(close).filter(|run| run.len() >= HASTY_LEAST).map(|run| hasty_run(case, run)));
    }
    found
}

fn hasty_run(case: &Case<'_>, run: &[(&Entry, StepId)]) -> Oddity {
    let mut titles: Vec<String> = run.iter().map(|(_, step)| case.title(*step)).collect();
    let more = titles.len().saturating_sub(3);
    titles.truncate(3);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    let (first, last) = (run.first().map(|r| r.0), run.last().map(|r| r.0));
    let time = |entry: Option<&Entry>| entry.map_or(String::new(), |entry| case.seconds(entry.stamp));
    let by = first.map_or(String::new(), |entry| case.named(Arg::Person(entry.person)));
    let words = format!(
        "{} steps answered by {by} from {} to {}: {}{more}",
        run.len(),
        time(first),
        time(last),
        titles.join(", ")
    );
    Oddity { kind: Kind::Hasty, words, entries: run.iter().map(|(entry, _)| entry.at).collect() }
}

/// When it was done, as entered by hand.
fn stated(entry: &Entry) -> Option<offshed_core::stamp::Stamp> {
    match &entry.what {
        What::Answered { done_at, .. } => *done_at,
        _ => None,
    }
}

/// All answers, or at least [`SAME_MINUTE_LEAST`] that were entered by hand, are timed in one minute.
pub fn same_minute(case: &Case<'_>) -> Vec<Oddity> {
    let all: Vec<&Entry> = case.answers().map(|(entry, _, _)| entry).collect();
    let minute = |entry: &Entry| entry.done_at().0.div_euclid(60);
    let one = all.first().is_some_and(|first| all.iter().all(|entry| minute(entry) == minute(first)));
    if one && all.len() >= SAME_MINUTE_LEAST {
        return vec![in_one_minute(case, &all, "all")];
    }
    let mut typed: Vec<&Entry> = all.into_iter().filter(|entry| stated(entry).is_some()).collect();
    typed.sort_by_key(|entry| minute(entry));
    let runs = typed.chunk_by(|a, b| minute(a) == minute(b)).filter(|run| run.len() >= SAME_MINUTE_LEAST);
    runs.map(|run| in_one_minute(case, run, "entered by hand,")).collect()
}

fn in_one_minute(case: &Case<'_>, entries: &[&Entry], how: &str) -> Oddity {
    let at = entries.first().map_or(String::new(), |entry| case.clock(entry.done_at()));
    let words = format!("{how} {} answers are timed {at}", entries.len());
    Oddity { kind: Kind::SameMinute, words, entries: entries.iter().map(|entry| entry.at).collect() }
}

/// Answers recorded [`LATE_SECONDS`] or more after they were done, signatures among them.
pub fn recorded_late(case: &Case<'_>) -> Vec<Oddity> {
    let late = case.entries.iter().filter_map(|entry| {
        let What::Answered { step, .. } = &entry.what else { return None };
        let done = stated(entry)?;
        let after = entry.stamp.since(done);
        (after >= LATE_SECONDS).then(|| {
            let words = format!(
                "{}: done {}, recorded {}, {} later",
                case.title(*step),
                case.clock(done),
                case.clock(entry.stamp),
                span(after)
            );
            Oddity { kind: Kind::RecordedLate, words, entries: vec![entry.at] }
        })
    });
    late.collect()
}

/// Entries recorded while their device did not trust its clock, told device by device.
pub fn doubted_clock(case: &Case<'_>) -> Vec<Oddity> {
    let doubted = case.entries.iter().filter(|entry| matches!(entry.clock, Clock::Doubted { .. }));
    let mut devices: Vec<Oddity> = Vec::new();
    let mut known = Vec::new();
    for entry in doubted {
        match known.iter().position(|device| *device == entry.at.device) {
            Some(n) => devices[n].entries.push(entry.at),
            None => {
                known.push(entry.at.device);
                devices.push(Oddity { kind: Kind::DoubtedClock, words: String::new(), entries: vec![entry.at] });
            }
        }
    }
    for (oddity, device) in devices.iter_mut().zip(known) {
        let name = case.named(Arg::Device(device));
        oddity.words = format!("{} entries from {name}, whose clock had not been set", oddity.entries.len());
    }
    devices
}
