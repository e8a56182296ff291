//! Quiet on the demonstration's clean sheet; finds what is planted.

use std::sync::OnceLock;

use offshed_core::entry::{Answer, Entry, What, bounded};
use offshed_core::ident::{EngineId, EntryRef, PersonId, SheetId};
use offshed_core::sheet::Stage;
use offshed_core::stamp::{Clock, Now, Stamp};

use offshed_core::pack::rows::KindRow;
use offshed_core::pack::slot;

use super::*;
use crate::folder::Folder;
use crate::ids::Ids;
use crate::ledger::Ledger;
use crate::packfile::PackFile;
use crate::shed::Shed;
use crate::{demo, script};

/// Fennel: prepared with nothing unusual.
const CLEAN: u16 = 17;
/// 2026-05-02 09:25 at an hour ahead of UTC: everything signed, nothing reviewed.
const SIGNED: Stamp = Stamp(1_777_710_300);
/// 2026-05-02 09:29: the end of the demonstration's day.
const END: Stamp = Stamp(1_777_710_540);

/// The demonstration as it ends.
fn whole() -> &'static Ledger {
    static WHOLE: OnceLock<Ledger> = OnceLock::new();
    WHOLE.get_or_init(|| {
        let temp = tempfile::tempdir().unwrap();
        let path = temp.path().join("demo");
        drop(Folder::make(&path, demo::DEVICE, demo::ZONE).unwrap());
        let sources = demo::write_sources(&path).unwrap();
        script::play(&path, demo::SCRIPT, &sources).unwrap();
        Shed::open(&path).unwrap().ledger().clone()
    })
}

fn rebuilt(entries: Vec<Entry>) -> Ledger {
    let packs: Vec<PackFile> = whole().packs().cloned().collect();
    Ledger::build(packs, entries)
}

/// The demonstration with every review of its morning left out.
fn unreviewed() -> Vec<Entry> {
    let reviewed = |entry: &Entry| matches!(entry.what, What::Answered { answer: Answer::Reviewed { .. }, .. });
    whole().entries().filter(|entry| !(reviewed(entry) && entry.stamp >= SIGNED)).cloned().collect()
}

fn preparation(ledger: &Ledger, engine: u16) -> SheetId {
    let open = |sheet: &&Sheet| sheet.engine == EngineId(engine) && sheet.stage() == Stage::Open;
    ledger.sheets().find(open).unwrap().id
}

fn found(ledger: &Ledger, engine: u16) -> Vec<Oddity> {
    oddities(&Case::of(ledger, preparation(ledger, engine), Now::good(END)).unwrap())
}

fn kinds(oddities: &[Oddity]) -> Vec<Kind> {
    oddities.iter().map(|oddity| oddity.kind).collect()
}

/// The places of the plain answers on an engine's open sheet, in the entries.
fn answers(entries: &[Entry], sheet: SheetId) -> Vec<usize> {
    let plain = |entry: &Entry| {
        matches!(&entry.what, What::Answered { sheet: on, answer, .. }
            if *on == sheet && !matches!(answer, Answer::Signed { .. } | Answer::Reviewed { .. }))
    };
    (0..entries.len()).filter(|n| plain(&entries[*n])).collect()
}

/// The same with something planted among the answers of Fennel's clean sheet.
fn planted(change: impl FnOnce(&mut Vec<Entry>, &[usize])) -> Vec<Oddity> {
    let mut entries = unreviewed();
    let places = answers(&entries, preparation(whole(), CLEAN));
    change(&mut entries, &places);
    found(&rebuilt(entries), CLEAN)
}

fn stated(entry: &mut Entry, at: Stamp) {
    if let What::Answered { done_at, .. } = &mut entry.what {
        *done_at = Some(at);
    }
}

fn said(entry: &mut Entry, new: Answer) {
    if let What::Answered { answer, .. } = &mut entry.what {
        *answer = new;
    }
}

#[test]
fn a_clean_sheet_is_quiet() {
    let clean = found(&rebuilt(unreviewed()), CLEAN);
    assert_eq!(clean, [], "{clean:#?}");
}

#[test]
fn what_the_day_left_is_found() {
    let ledger = rebuilt(unreviewed());
    let shared = found(&ledger, 11);
    for kind in [Kind::Contested, Kind::NotRight, Kind::Skipped] {
        assert!(kinds(&shared).contains(&kind), "{kind:?} {shared:#?}");
    }
    let again = shared.iter().find(|oddity| oddity.kind == Kind::NotRight).unwrap();
    assert!(again.words.contains("5.2 s") && again.words.contains("answered again"), "{}", again.words);
    let water = found(&ledger, 23);
    assert!(kinds(&water).contains(&Kind::Warned), "{water:#?}");
    assert!(shared.iter().chain(&water).all(|oddity| !oddity.entries.is_empty() && !oddity.words.contains('\n')));
    let rank: Vec<Kind> = kinds(&shared);
    assert!(rank.is_sorted(), "{rank:?}");
}

#[test]
fn answers_given_within_a_breath_are_found() {
    let hasty = planted(|entries, places| {
        let first = entries[places[4]].stamp;
        let who = entries[places[4]].person;
        for (n, place) in places[4..16].iter().enumerate() {
            entries[*place].stamp = first.plus(n as i64);
            entries[*place].person = who;
        }
    });
    let run = hasty.iter().find(|oddity| oddity.kind == Kind::Hasty).unwrap();
    assert!(run.entries.len() >= HASTY_LEAST && run.words.contains("steps answered by"), "{run:?}");
    // Two in a row happen by themselves.
    let two = planted(|entries, places| entries[places[5]].stamp = entries[places[4]].stamp);
    assert!(!kinds(&two).contains(&Kind::Hasty), "{two:#?}");
}

#[test]
fn what_was_recorded_long_after_is_found() {
    let late = planted(|entries, places| {
        let at = entries[places[6]].stamp;
        stated(&mut entries[places[6]], at.plus(-LATE_SECONDS));
        let at = entries[places[7]].stamp;
        stated(&mut entries[places[7]], at.plus(-LATE_SECONDS + 1));
    });
    let found: Vec<&Oddity> = late.iter().filter(|oddity| oddity.kind == Kind::RecordedLate).collect();
    assert_eq!(found.len(), 1, "{late:#?}");
    assert!(found[0].words.contains("30 min later"), "{}", found[0].words);
}

#[test]
fn times_entered_all_alike_are_found() {
    let alike = planted(|entries, places| {
        for place in &places[..SAME_MINUTE_LEAST] {
            let at = Stamp(entries[places[0]].stamp.0.div_euclid(60) * 60);
            stated(&mut entries[*place], at);
        }
    });
    let one = alike.iter().find(|oddity| oddity.kind == Kind::SameMinute).unwrap();
    assert_eq!(one.entries.len(), SAME_MINUTE_LEAST, "{one:?}");
}

#[test]
fn a_sheet_filled_in_one_minute_is_found() {
    let all = planted(|entries, places| {
        let at = entries[places[0]].stamp;
        places.iter().for_each(|place| entries[*place].stamp = at);
    });
    assert!(kinds(&all).contains(&Kind::SameMinute), "{:?}", kinds(&all));
}

#[test]
fn a_clock_that_was_not_set_is_found() {
    let doubted = planted(|entries, places| entries[places[3]].clock = Clock::Doubted { boot: 1 });
    let one = doubted.iter().find(|oddity| oddity.kind == Kind::DoubtedClock).unwrap();
    assert_eq!(one.entries.len(), 1, "{one:?}");
}

#[test]
fn what_was_said_not_right_skipped_or_struck_out_is_found() {
    let ill = planted(|entries, places| {
        let words = bounded("Leaks").unwrap();
        said(&mut entries[*places.last().unwrap()], Answer::NotRight { words });
    });
    let one = ill.iter().find(|oddity| oddity.kind == Kind::NotRight).unwrap();
    assert!(one.words.contains("Leaks"), "{one:?}");
    let struck = planted(|entries, places| {
        let victim = entries[*places.last().unwrap()].clone();
        let What::Answered { sheet, step, .. } = victim.what else { panic!("an answer") };
        let what = What::Struck { sheet, step, entry: victim.at, reason: bounded("Wrong engine").unwrap() };
        let at = EntryRef { device: victim.at.device, seq: victim.at.seq + 1_000 };
        entries.push(Entry { at, hlc: offshed_core::stamp::Hlc(victim.hlc.0 + 1), what, ..victim });
    });
    let one = struck.iter().find(|oddity| oddity.kind == Kind::StruckOut).unwrap();
    assert!(one.words.contains("Wrong engine"), "{one:?}");
}

/// The upper limit is read off the step itself.
#[test]
fn a_value_at_its_limit_is_found() {
    let ledger = rebuilt(unreviewed());
    let sheet = ledger.sheet(preparation(&ledger, CLEAN)).unwrap();
    let pack = ledger.pack(sheet.pack).unwrap().pack();
    let limited = pack.steps(sheet.sequence).find_map(|row| match row.kind {
        KindRow::Reading { limits, .. } if pack.place_of(row.id).and_then(|p| sheet.mark(p)).is_some() => {
            Some((row.id, pack.limit(limits, slot::HIGH)?))
        }
        _ => None,
    });
    let (id, limit) = limited.unwrap();
    let at = planted(|entries, places| {
        let is = |n: &usize| matches!(&entries[*n].what, What::Answered { step: on, .. } if *on == id);
        let place = *places.iter().rfind(|n| is(n)).unwrap();
        said(&mut entries[place], Answer::Reading(limit));
    });
    let one = at.iter().find(|oddity| oddity.kind == Kind::AtLimit).unwrap();
    assert!(one.words.contains(&limit.to_string()), "{one:?}");
}

#[test]
fn a_proof_that_had_lapsed_when_it_was_signed_is_found() {
    let lapsed = planted(|entries, _| {
        let sheet = preparation(whole(), CLEAN);
        let signed = |entry: &&mut Entry| {
            entry.sheet() == Some(sheet) && matches!(&entry.what, What::Answered { answer: Answer::Signed { .. }, .. })
        };
        // Signed six hours later than it was: longer than any proof of the practice pack lives that fitness asks for.
        entries.iter_mut().filter(signed).for_each(|entry| entry.stamp = entry.stamp.plus(6 * 3_600));
    });
    let one = lapsed.iter().find(|oddity| oddity.kind == Kind::LapsedAtSigning);
    assert!(
        one.is_some_and(|oddity| oddity.words.contains("lapsed") && oddity.words.contains("signed")),
        "{lapsed:#?}"
    );
}

#[test]
fn signed_sheets_wait_and_those_with_most_that_is_unusual_come_first() {
    let ledger = rebuilt(unreviewed());
    let now = Now::good(END);
    let waiting = waiting(&ledger, now);
    let engines: Vec<u16> = waiting.iter().map(|one| ledger.sheet(one.sheet).unwrap().engine.0).collect();
    // Of two with nothing unusual, the one that was signed first.
    assert_eq!(engines, [11, CLEAN, 4], "{waiting:#?}");
    let counts: Vec<usize> = waiting.iter().map(|one| one.oddities.len()).collect();
    assert!(counts[0] > 0 && counts[1..] == [0, 0], "{counts:?}");
    assert!(waiting.iter().all(|one| one.blocked.is_empty()));
    // The only foreman of the line.
    let may = reviewers(&ledger, waiting[0].sheet, waiting[0].review, now);
    assert_eq!(may.may, [PersonId(1)]);
    // Once reviewed they are gone from the list.
    assert_eq!(super::waiting(whole(), now).len(), 0);
}

#[test]
fn who_worked_on_a_sheet_may_not_review_it() {
    let mut entries = unreviewed();
    let places = answers(&entries, preparation(whole(), CLEAN));
    // The foreman cleaned a lamp.
    let place = *places.last().unwrap();
    entries[place].person = PersonId(1);
    let driver = Ids::of(whole().adopted().unwrap()).grade("driver").unwrap();
    let mut granted = entries[0].clone();
    granted.at.seq += 100_000;
    granted.what = What::Registered(offshed_core::entry::Fact::Competence {
        person: PersonId(1),
        grade: driver,
        until: None,
        held: true,
    });
    let first = entries.iter().position(|e| matches!(e.what, What::SheetOpened { .. })).unwrap();
    granted.hlc = offshed_core::stamp::Hlc(entries[first].hlc.0.saturating_sub(1));
    entries.push(granted);
    let ledger = rebuilt(entries);
    let now = Now::good(END);
    let review = Ids::of(whole().adopted().unwrap()).step("review").unwrap();
    let all = reviewers(&ledger, preparation(&ledger, CLEAN), review, now);
    assert_eq!(all.may, []);
    assert_eq!(all.may_not.iter().map(|(id, _)| *id).collect::<Vec<_>>(), [PersonId(1)], "{all:?}");
}

#[test]
fn a_brief_has_every_step_once() {
    let ledger = rebuilt(unreviewed());
    let now = Now::good(END);
    let id = preparation(&ledger, 4);
    let brief = brief(&ledger, id, now).unwrap();
    assert_eq!(brief.signatures.len(), 2);
    assert_eq!((brief.signatures[0].person.as_str(), brief.signatures[0].grades.as_str()), ("Corin Vey", "Fireman"));
    assert!(brief.readings.iter().any(|line| line.title == "Pressure rising slowly" && line.value == "25 psi"));
    let shown = brief.signatures.len()
        + brief.readings.len()
        + brief.stages.iter().map(|stage| stage.lines.len()).sum::<usize>()
        + 1;
    assert_eq!(shown, brief.steps, "every step that applies, the review itself too");
}
