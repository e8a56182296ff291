//! What stands out in single answers: contested, not right, lapsed, struck out, at a limit, warned, not applicable.

use offshed_core::entry::{Answer, Entry, Found, What};
use offshed_core::ident::{EntryRef, StepId};
use offshed_core::pack::rows::{KindRow, LimitSlots, StepRow};
use offshed_core::pack::slot;
use offshed_core::register::Register;
use offshed_core::sheet::{Contest, Contested, Mark, Outcome};
use offshed_core::stamp::Stamp;
use offshed_core::units::{Quantity, Reading};
use offshed_core::verdict;
use offshed_core::words::Arg;

use super::{Case, Kind, Oddity};
use crate::shed::scene;

/// How near its upper limit a value is taken to be at it, per cent of the limit. Common practice, no source.
pub const AT_LIMIT_PERCENT: i64 = 1;

/// Entries that do not count where they fall, that two devices gave unseen, or that a signer had not seen.
pub fn contested(case: &Case<'_>) -> Vec<Oddity> {
    let mut found: Vec<Oddity> = Vec::new();
    for contested in case.sheet.contested() {
        let (kind, words) = contest(case, contested);
        match found.iter_mut().find(|oddity| oddity.kind == kind && oddity.words == words) {
            Some(alike) => alike.entries.push(contested.entry),
            None => found.push(Oddity { kind, words, entries: vec![contested.entry] }),
        }
    }
    for oddity in found.iter_mut().filter(|oddity| oddity.entries.len() > 1) {
        oddity.words = format!("{} ({} entries)", oddity.words, oddity.entries.len());
    }
    let more = case.sheet.contested_more();
    if more > 0 {
        let words = format!("{more} more contested entries than a sheet keeps apart");
        found.push(Oddity { kind: Kind::Contested, words, entries: vec![case.sheet.id] });
    }
    found
}

fn contest(case: &Case<'_>, contested: &Contested) -> (Kind, String) {
    let step = contested.step.map(|step| case.title(step)).unwrap_or_default();
    let device = |entry: EntryRef| case.named(Arg::Device(entry.device));
    let own = device(contested.entry);
    match contested.contest {
        Contest::NotOffered(why) => {
            (Kind::Contested, format!("{step}, from {own}, does not count: {}", case.sentence(&why)))
        }
        Contest::Unseen { other } => (
            Kind::Contested,
            format!("{step} was answered on {} and on {own}, neither having seen the other", device(other)),
        ),
        Contest::ArrivedAfterSigning { signature } => (
            Kind::ArrivedAfterSigning,
            format!("entries from {own} had not reached {} when it was signed there", device(signature)),
        ),
    }
}

/// Everything that was found not right, whether or not it was put right since.
pub fn not_right(case: &Case<'_>) -> Vec<Oddity> {
    let found = case.answers().filter_map(|(entry, step, answer)| {
        let said = said_not_right(answer);
        let weighed = || said.is_none() && weighs_not_right(case, entry.at, step, answer);
        if said.is_none() && !weighed() {
            return None;
        }
        let value = said.unwrap_or_else(|| value_words(case, entry, step, answer));
        let since = if still_stands(case, step, entry.at) { "" } else { "; answered again since" };
        let by = case.named(Arg::Person(entry.person));
        let words = format!("{}: {value} ({by}, {}){since}", case.title(step), case.clock(entry.done_at()));
        Some(Oddity { kind: Kind::NotRight, words, entries: vec![entry.at] })
    });
    found.collect()
}

fn said_not_right(answer: &Answer) -> Option<String> {
    match answer {
        Answer::NotRight { words } | Answer::Part { found: Found::NotRight { words }, .. } => {
            Some(format!("\u{201c}{words}\u{201d}"))
        }
        _ => None,
    }
}

fn value_words(case: &Case<'_>, entry: &Entry, step: StepId, answer: &Answer) -> String {
    if let Some(computed) = crate::views::computed(&entry.what) {
        return computed;
    }
    match answer {
        Answer::Choice(n) => option(case, step, *n),
        Answer::Reading(reading) => reading.to_string(),
        Answer::Number(number) => format!("number {number}"),
        Answer::Part { found: Found::Reading(reading) | Found::Rose { reading, .. }, .. } => reading.to_string(),
        Answer::Part { found: Found::Time { tenths }, .. } | Answer::Ended { tenths, .. } => {
            format!("{}.{} s", tenths / 10, tenths % 10)
        }
        _ => "not as it must be".to_owned(),
    }
}

/// The words of an option.
fn option(case: &Case<'_>, step: StepId, n: u8) -> String {
    let pack = case.pack();
    let chosen = pack.step(step).and_then(|row| match row.kind {
        KindRow::Choice { options } => pack.options(options).nth(usize::from(n)),
        _ => None,
    });
    chosen.map_or(String::new(), |chosen| format!("\u{201c}{}\u{201d}", case.file.texts().get(chosen.text)))
}

fn still_stands(case: &Case<'_>, step: StepId, entry: EntryRef) -> bool {
    case.marks().any(|(row, mark)| row.id == step && mark.proof.entry == entry)
}

/// The answer came to "not right" by its limits: it stands so, it opened a defect, or its value alone is beyond them.
///
/// An option that does not pass at a step that opens no defect leads to other steps, and is no fault.
fn weighs_not_right(case: &Case<'_>, entry: EntryRef, step: StepId, answer: &Answer) -> bool {
    let row = case.pack().step(step);
    if matches!(answer, Answer::Choice(_)) && row.is_some_and(|row| row.fails.is_none()) {
        return false;
    }
    let stands = |(_, mark): &(StepRow, &Mark)| mark.proof.entry == entry;
    if let Some((_, mark)) = case.marks().find(stands) {
        return mark.outcome == Outcome::NotRight;
    }
    let Answer::Reading(_) = answer else { return case.ledger.defect(entry).is_some() };
    let weighed = scene(case.ledger, case.sheet.id, |scene| {
        let (row, _) = verdict::find(scene, step).ok()?;
        verdict::weigh(scene, &row, answer, case.now).ok()
    });
    matches!(weighed.flatten(), Some(verdict::Weight::NotRight { .. }))
}

/// When the sheet was last signed, a review aside.
pub(super) fn signed_at(case: &Case<'_>) -> Option<Stamp> {
    let signature = |row: &StepRow| matches!(row.kind, KindRow::Signature { review: false });
    let signed = case.marks().filter(|(row, mark)| signature(row) && is_proof(mark));
    signed.map(|(_, mark)| mark.proof.at).max()
}

fn is_proof(mark: &Mark) -> bool {
    matches!(mark.outcome, Outcome::Proven { .. })
}

/// When somebody last put their name to the sheet, whether or not the rules let the signature count.
fn named_at(case: &Case<'_>) -> Option<Stamp> {
    let signed =
        case.entries.iter().filter(|entry| matches!(&entry.what, What::Answered { answer: Answer::Signed { .. }, .. }));
    signed.map(|entry| entry.done_at()).max()
}

/// Proofs that fitness asks to be alive and that had lapsed when somebody last signed the sheet.
pub fn lapsed(case: &Case<'_>) -> Vec<Oddity> {
    let Some(signed) = named_at(case) else { return Vec::new() };
    let pack = case.pack();
    let asked: Vec<StepId> = pack
        .fitness_needs()
        .filter_map(|need| match need.rule {
            offshed_core::pack::Rule::Fresh { step, .. } => Some(step),
            _ => None,
        })
        .collect();
    let found = case.marks().filter(|(row, mark)| asked.contains(&row.id) && row.life_seconds > 0 && is_proof(mark));
    let found = found.filter_map(|(row, mark)| {
        let end = mark.proof.at.plus(i64::from(row.life_seconds));
        let words = format!(
            "{}: proven {}, lapsed {}, signed {}",
            case.title(row.id),
            case.clock(mark.proof.at),
            case.clock(end),
            case.clock(signed)
        );
        (mark.proof.at <= signed && end <= signed).then(|| Oddity {
            kind: Kind::LapsedAtSigning,
            words,
            entries: vec![mark.proof.entry],
        })
    });
    found.collect()
}

/// Answers that were struck out, by whom and why.
pub fn struck_out(case: &Case<'_>) -> Vec<Oddity> {
    let struck = case.entries.iter().filter_map(|entry| match &entry.what {
        What::Struck { step, entry: answer, reason, .. } => {
            let by = case.named(Arg::Person(entry.person));
            let words = format!("{}: \u{201c}{reason}\u{201d} ({by}, {})", case.title(*step), case.clock(entry.stamp));
            Some(Oddity { kind: Kind::StruckOut, words, entries: vec![entry.at, *answer] })
        }
        _ => None,
    });
    struck.collect()
}

/// Values that are right and lie at their upper limit, within [`AT_LIMIT_PERCENT`] of it.
///
/// A lower limit is left out: a step that waits for something to rise is answered when it gets there.
pub fn at_limits(case: &Case<'_>) -> Vec<Oddity> {
    let found = case.marks().filter(|(_, mark)| is_proof(mark)).filter_map(|(row, mark)| {
        let (value, limit) = at_limit(case, &row, mark)?;
        let words = format!("{}: {value}, and {limit} is the limit", case.title(row.id));
        Some(Oddity { kind: Kind::AtLimit, words, entries: vec![mark.proof.entry] })
    });
    found.collect()
}

/// The limits of a step's value.
fn limits(row: &StepRow) -> Option<LimitSlots> {
    match row.kind {
        KindRow::Reading { limits, .. } | KindRow::Figure { limits, .. } => Some(limits),
        _ => None,
    }
}

fn at_limit(case: &Case<'_>, row: &StepRow, mark: &Mark) -> Option<(Reading, Reading)> {
    let (slots, value) = (limits(row)?, mark.proof.value?);
    let pack = case.pack();
    let own = case.ledger.office.engine(case.sheet.engine).unwrap_or_default().own();
    let base = |reading: Reading, quantity: Quantity| reading.in_base(quantity, own).ok();
    let quantity = value.unit.quantity();
    let at = base(value, quantity)?;
    let near = |limit: &Reading| {
        base(*limit, quantity).is_some_and(|l| (at - l).abs().saturating_mul(100) <= l.abs() * AT_LIMIT_PERCENT)
    };
    pack.limit(slots, slot::HIGH).filter(near).map(|limit| (value, limit))
}

/// Values in the warning band, those at a limit aside.
pub fn warned(case: &Case<'_>) -> Vec<Oddity> {
    let warned = |mark: &Mark| matches!(mark.outcome, Outcome::Proven { warned: true });
    let found = case.marks().filter(|(row, mark)| warned(mark) && at_limit(case, row, mark).is_none());
    let found = found.map(|(row, mark)| {
        let value = mark.proof.value.map(|value| value.to_string()).unwrap_or_default();
        let band = band(case, &row);
        let words = format!("{}: {value}{band}", case.title(row.id));
        Oddity { kind: Kind::Warned, words, entries: vec![mark.proof.entry] }
    });
    found.collect()
}

fn band(case: &Case<'_>, row: &StepRow) -> String {
    let Some(slots) = limits(row) else { return String::new() };
    let pack = case.pack();
    let low = pack.limit(slots, slot::WARN_LOW).map(|limit| format!("below {limit}"));
    let high = pack.limit(slots, slot::WARN_HIGH).map(|limit| format!("above {limit}"));
    let both: Vec<String> = [low, high].into_iter().flatten().collect();
    if both.is_empty() { String::new() } else { format!("; warning {}", both.join(" or ")) }
}

/// Steps that a person marked not applicable, and why.
pub fn skipped(case: &Case<'_>) -> Vec<Oddity> {
    let found = case.marks().filter(|(_, mark)| mark.outcome == Outcome::Skipped).map(|(row, mark)| {
        let entry = case.ledger.entry(mark.proof.entry);
        let reason = entry.map_or(String::new(), |entry| match &entry.what {
            What::Answered { answer: Answer::NotApplicable { reason }, .. } => format!(": \u{201c}{reason}\u{201d}"),
            _ => String::new(),
        });
        let by = case.named(Arg::Person(mark.proof.by));
        let words = format!("{}{reason} ({by})", case.title(row.id));
        Oddity { kind: Kind::Skipped, words, entries: vec![mark.proof.entry] }
    });
    found.collect()
}
