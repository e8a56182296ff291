//! What a reviewer looks at first: what is unusual about a sheet, each thing with its evidence in one line, who signed,
//! what was read, and the rest. It only looks: nothing here decides whether a sheet is accepted.

mod brief;
mod marks;
mod pace;
mod waiting;

#[cfg(test)]
mod tests;

pub use brief::{Brief, ReadingLine, SignatureLine, StageLines, brief};
pub use marks::{AT_LIMIT_PERCENT, at_limits, contested, lapsed, not_right, skipped, struck_out, warned};
pub use pace::{
    HASTY_LEAST, HASTY_SECONDS, LATE_SECONDS, SAME_MINUTE_LEAST, doubted_clock, hasty, recorded_late, same_minute,
};
pub use waiting::{REVIEWED_LISTED, Reviewed, Reviewers, Waiting, review_grade, reviewed, reviewers, waiting};

use std::collections::BTreeMap;

use offshed_core::entry::{Answer, Entry, What};
use offshed_core::ident::{EntryRef, SheetId, StepId};
use offshed_core::pack::Pack;
use offshed_core::pack::rows::StepRow;
use offshed_core::reason::Why;
use offshed_core::register::Register;
use offshed_core::sheet::{Mark, Sheet, Stage};
use offshed_core::stamp::{Now, Stamp};
use offshed_core::words::{self, Arg, ENGLISH, Names};

use crate::ledger::{Ledger, PackNames};
use crate::packfile::PackFile;

/// What kind of thing is unusual; those that weigh most come first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// An entry that does not count where it falls, or that two devices gave unseen.
    Contested,
    /// An entry that the signer's device had not seen.
    ArrivedAfterSigning,
    /// Found not right.
    NotRight,
    /// A proof that had lapsed when the sheet was signed.
    LapsedAtSigning,
    /// An answer that was struck out.
    StruckOut,
    /// Answers faster than a person could give them.
    Hasty,
    /// Everything is timed in one minute.
    SameMinute,
    /// Recorded long after it was done.
    RecordedLate,
    /// Recorded by a clock that was not trusted.
    DoubtedClock,
    /// A value right at its limit.
    AtLimit,
    /// A value in the warning band.
    Warned,
    /// Marked not applicable.
    Skipped,
}

impl Kind {
    /// Its stable key.
    pub fn key(self) -> &'static str {
        match self {
            Kind::Contested => "contested",
            Kind::ArrivedAfterSigning => "arrived-after-signing",
            Kind::NotRight => "not-right",
            Kind::LapsedAtSigning => "lapsed-at-signing",
            Kind::StruckOut => "struck-out",
            Kind::Hasty => "hasty",
            Kind::SameMinute => "same-minute",
            Kind::RecordedLate => "recorded-late",
            Kind::DoubtedClock => "doubted-clock",
            Kind::AtLimit => "at-limit",
            Kind::Warned => "warned",
            Kind::Skipped => "skipped",
        }
    }

    /// What it is called.
    pub fn title(self) -> &'static str {
        match self {
            Kind::Contested => "Contested",
            Kind::ArrivedAfterSigning => "Arrived after signing",
            Kind::NotRight => "Not right",
            Kind::LapsedAtSigning => "Lapsed at signing",
            Kind::StruckOut => "Struck out",
            Kind::Hasty => "Very fast answers",
            Kind::SameMinute => "All in one minute",
            Kind::RecordedLate => "Recorded late",
            Kind::DoubtedClock => "Clock not trusted",
            Kind::AtLimit => "At its limit",
            Kind::Warned => "Warning",
            Kind::Skipped => "Not applicable",
        }
    }
}

/// One unusual thing with its evidence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Oddity {
    /// What kind.
    pub kind: Kind,
    /// The evidence, in one line.
    pub words: String,
    /// The entries it is read from; never empty.
    pub entries: Vec<EntryRef>,
}

/// A sheet with what is recorded on it and how things are called.
pub struct Case<'a> {
    /// Everything folded.
    pub ledger: &'a Ledger,
    /// The sheet.
    pub sheet: &'a Sheet,
    /// Its pack.
    pub file: &'a PackFile,
    /// Its entries in the merged order, those of sheets joined into it among them.
    pub entries: Vec<&'a Entry>,
    /// When it is looked at.
    pub now: Now,
}

impl<'a> Case<'a> {
    /// A sheet's case; `None` when it or its pack is not here.
    pub fn of(ledger: &'a Ledger, id: SheetId, now: Now) -> Option<Case<'a>> {
        Case::all(ledger, &[id], now).pop()
    }

    /// The cases of those sheets that are here with their packs, in any order: the records are gone through once for all.
    pub fn all(ledger: &'a Ledger, ids: &[SheetId], now: Now) -> Vec<Case<'a>> {
        let mut entries: BTreeMap<SheetId, Vec<&Entry>> = ids.iter().map(|id| (*id, Vec::new())).collect();
        if entries.is_empty() {
            return Vec::new();
        }
        let into = |sheet: &Sheet| match sheet.stage() {
            Stage::Joined(into) if entries.contains_key(&into) => Some((sheet.id, into)),
            _ => None,
        };
        let joined: BTreeMap<SheetId, SheetId> = ledger.sheets().filter_map(into).collect();
        for entry in ledger.entries() {
            let Some(on) = entry.sheet() else { continue };
            if let Some(list) = entries.get_mut(joined.get(&on).unwrap_or(&on)) {
                list.push(entry);
            }
        }
        let case = |(id, entries): (SheetId, Vec<&'a Entry>)| {
            let sheet = ledger.sheet(id)?;
            Some(Case { ledger, sheet, file: ledger.pack(sheet.pack)?, entries, now })
        };
        entries.into_iter().filter_map(case).collect()
    }

    /// The sheet's rules.
    pub fn pack(&self) -> Pack<'a> {
        self.file.pack()
    }

    fn named(&self, arg: Arg) -> String {
        let mut out = String::new();
        // Writing to a string does not fail.
        let _ = PackNames::new(self.ledger, Some(self.file), self.now.stamp).write(arg, &mut out);
        out
    }

    fn title(&self, step: StepId) -> String {
        self.named(Arg::Step(step))
    }

    fn sentence(&self, why: &Why) -> String {
        let mut out = String::new();
        let names = PackNames::new(self.ledger, Some(self.file), self.now.stamp);
        // Writing to a string does not fail.
        let _ = words::why(&ENGLISH, &names, why, &mut out);
        out
    }

    fn clock(&self, at: Stamp) -> String {
        self.named(Arg::At(at))
    }

    /// To the second, on the day itself.
    fn seconds(&self, at: Stamp) -> String {
        self.ledger.office.zone().local(at).format("%H:%M:%S").to_string()
    }

    /// The steps of the sheet's sequence with their last answers.
    fn marks(&self) -> impl Iterator<Item = (StepRow, &'a Mark)> {
        let sheet = self.sheet;
        let steps: Vec<StepRow> = self.pack().steps(sheet.sequence).collect();
        steps.into_iter().enumerate().filter_map(move |(place, step)| Some((step, sheet.mark(place)?)))
    }

    /// Answers that are no signature and no review.
    fn answers(&self) -> impl Iterator<Item = (&'a Entry, StepId, &'a Answer)> {
        self.entries.iter().filter_map(|entry| match &entry.what {
            What::Answered { answer: Answer::Signed { .. } | Answer::Reviewed { .. }, .. } => None,
            What::Answered { step, answer, .. } => Some((*entry, *step, answer)),
            _ => None,
        })
    }
}

/// Everything unusual about a sheet, what weighs most first.
pub fn oddities(case: &Case<'_>) -> Vec<Oddity> {
    let finders: [fn(&Case<'_>) -> Vec<Oddity>; 11] = [
        contested,
        not_right,
        lapsed,
        struck_out,
        hasty,
        same_minute,
        recorded_late,
        doubted_clock,
        at_limits,
        warned,
        skipped,
    ];
    let mut found: Vec<Oddity> = finders.iter().flat_map(|find| find(case)).collect();
    found.sort_by_key(|oddity| oddity.kind);
    found
}

/// "3 min", "2 h 45 min".
fn span(seconds: i64) -> String {
    match seconds / 60 {
        minutes if minutes < 60 => format!("{minutes} min"),
        minutes => format!("{} h {} min", minutes / 60, minutes % 60),
    }
}
