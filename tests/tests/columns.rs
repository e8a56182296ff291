//! Entries in columns come back exactly as they were: any entries of every kind, a played day, and a day's sheets; and
//! any bytes at all are read without panic.

use offshed_core::entry::{Answer, Entry, Fact, Found, Review, Shown, What};
use offshed_core::ident::{
    DeviceId, EngineId, EntryRef, EventId, GradeId, PackHash, PersonId, SequenceId, SheetId, StepId,
};
use offshed_core::pack::rows::DefectGrade;
use offshed_core::record::bits::BitFault;
use offshed_core::record::columns;
use offshed_core::stamp::{Clock, Day, Hlc, Stamp, ZoneRow};
use offshed_core::units::{Reading, Unit};
use offshed_depot::folder::Folder;
use offshed_depot::{demo, script};
use offshed_tests::practice;
use offshed_tests::workload::{self, Dice};
use proptest::prelude::*;

const DEVICE: DeviceId = DeviceId([7; 8]);

/// Draws values of every width: small ones, and those at the ends of their range.
struct Any(Dice);

impl Any {
    fn number(&mut self, most: u64) -> u64 {
        let n = match self.0.of(4) {
            0 => self.0.of(3),
            1 => self.0.of(100),
            2 => most - self.0.of(3).min(most),
            _ => self.0.of(1 << 32) << self.0.of(33),
        };
        if most == u64::MAX { n } else { n % (most + 1) }
    }

    fn signed(&mut self) -> i64 {
        self.number(u64::MAX) as i64
    }

    fn maybe<T>(&mut self, make: impl FnOnce(&mut Any) -> T) -> Option<T> {
        self.0.chance(0.5).then(|| make(self))
    }

    fn text<const N: usize>(&mut self) -> heapless::String<N> {
        let signs: Vec<char> = "HV 1041-steam Ü½.'".chars().collect();
        let plain = if self.0.chance(0.5) { 13 } else { signs.len() as u64 };
        let mut text = heapless::String::new();
        for _ in 0..self.0.of(N as u64 + 1) {
            let _ = text.push(signs[self.0.of(plain) as usize]);
        }
        text
    }

    fn device(&mut self) -> DeviceId {
        if self.0.chance(0.6) { DEVICE } else { DeviceId([self.0.of(20) as u8; 8]) }
    }

    fn entry(&mut self) -> EntryRef {
        EntryRef { device: self.device(), seq: self.number(u32::MAX.into()) as u32 }
    }

    fn reading(&mut self) -> Reading {
        let unit = Unit::from_number(self.0.of(41) as u8).unwrap();
        Reading { milli: self.signed() as i32, unit }
    }

    fn seen(&mut self) -> heapless::Vec<EntryRef, 8> {
        (0..self.0.of(9)).map(|_| self.entry()).collect()
    }

    fn day(&mut self) -> Day {
        Day(self.signed() as i32)
    }

    fn hash(&mut self) -> PackHash {
        PackHash([self.0.of(4) as u8; 32])
    }

    fn shown(&mut self) -> Shown {
        if self.0.chance(0.5) {
            let (done_on, steam_days) = (self.day(), self.number(u32::MAX.into()) as u32);
            let (last_day, steam_days_left) = (self.maybe(Any::day), self.maybe(|any| any.signed() as i32));
            return Shown::Date { done_on, steam_days, last_day, steam_days_left };
        }
        let inputs = (0..self.0.of(5)).map(|_| self.reading()).collect();
        Shown::Figure { inputs, result: self.reading(), rounds: self.number(255) as u8 }
    }

    fn found(&mut self) -> Found {
        match self.0.of(5) {
            0 => Found::Seen,
            1 => Found::NotRight { words: self.text() },
            2 => Found::Reading(self.reading()),
            3 => Found::Time { tenths: self.number(u32::MAX.into()) as u32 },
            _ => Found::Rose { reading: self.reading(), delivery: self.reading() },
        }
    }

    fn answer(&mut self) -> Answer {
        match self.0.of(12) {
            0 => Answer::Done,
            1 => Answer::NotRight { words: self.text() },
            2 => Answer::Reading(self.reading()),
            3 => Answer::Number(self.text()),
            4 => Answer::Choice(self.number(255) as u8),
            5 => Answer::Began(self.maybe(Any::reading)),
            6 => Answer::Ended { tenths: self.number(u32::MAX.into()) as u32, reading: self.maybe(Any::reading) },
            7 => Answer::Accepted(self.shown()),
            8 => Answer::Part { part: self.number(255) as u8, found: self.found() },
            9 => Answer::NotApplicable { reason: self.text() },
            10 => Answer::Signed { pack: self.hash(), seen: self.seen() },
            _ => {
                let outcome = [Review::Accepted, Review::SentBack, Review::Stopped][self.0.of(3) as usize];
                Answer::Reviewed { outcome, words: self.text(), seen: self.seen() }
            }
        }
    }

    fn what(&mut self) -> What {
        let engine = EngineId(self.number(65_535) as u16);
        match self.0.of(14) {
            0 => What::SheetOpened { engine, sequence: SequenceId(self.number(255) as u8), pack: self.hash() },
            1 => What::Struck { sheet: self.entry(), step: StepId(3), entry: self.entry(), reason: self.text() },
            2 => What::Joined { into: self.entry(), from: self.entry() },
            3 => What::Abandoned { sheet: self.entry(), reason: self.text() },
            4 => What::HandedOver { engine, words: self.text() },
            5 => {
                let done_at = self.maybe(|any| Stamp(any.signed()));
                What::Happened { engine, event: EventId(9), words: self.text(), done_at }
            }
            6 => {
                let (sheet, step) = (self.maybe(Any::entry), self.maybe(|any| StepId(any.number(65_535) as u16)));
                What::DefectOpened { engine, sheet, step, grade: DefectGrade::Stopping, words: self.text() }
            }
            7 => What::DefectCleared { defect: self.entry(), grade: GradeId(4), words: self.text() },
            8 => What::TagHung { engine },
            9 => {
                let row = ZoneRow { from: Stamp(self.signed()), offset_minutes: -60 };
                What::Registered(Fact::LocalTime { rows: core::iter::repeat_n(row, 16).collect() })
            }
            _ => {
                let (sheet, step) = (self.entry(), StepId(self.number(65_535) as u16));
                let (done_at, with) = (self.maybe(|any| Stamp(any.signed())), self.maybe(Any::person));
                What::Answered { sheet, step, answer: self.answer(), done_at, with, over: self.maybe(Any::entry) }
            }
        }
    }

    fn person(&mut self) -> PersonId {
        PersonId(self.number(65_535) as u16)
    }

    /// A run of entries whose counts rise.
    fn run(&mut self) -> Vec<Entry> {
        let mut seq = self.number(1_000) as u32;
        let entries = (0..self.0.of(40)).map(|_| {
            seq += 1 + if self.0.chance(0.1) { self.number(100_000_000) as u32 } else { 0 };
            let at = EntryRef { device: DEVICE, seq };
            let stamp = Stamp(self.signed());
            let hlc = if self.0.chance(0.5) { Hlc::default().tick(stamp) } else { Hlc(self.number(u64::MAX)) };
            let clock = if self.0.chance(0.7) { Clock::Good } else { Clock::Doubted { boot: self.0.of(3) as u16 } };
            Entry { at, hlc, stamp, clock, person: self.person(), what: self.what() }
        });
        entries.collect()
    }
}

fn there_and_back(sheets: &[SheetId], entries: &[Entry]) -> usize {
    let mut buffer = vec![0; 100_000];
    let len = columns::write(DEVICE, sheets, entries, &mut buffer).unwrap();
    let first = entries.first().map_or(1, |entry| entry.at.seq);
    let read = columns::read(&buffer[..len], DEVICE, first, sheets.iter().copied(), entries.len() as u32);
    let read: Result<Vec<Entry>, BitFault> = read.collect();
    assert_eq!(read.as_deref(), Ok(entries));
    for wrong in [&buffer[..len + 5], &buffer[..len.saturating_sub(5)]] {
        let read = columns::read(wrong, DEVICE, first, sheets.iter().copied(), entries.len() as u32);
        let read: Result<Vec<Entry>, BitFault> = read.collect();
        assert!(len < 5 || read.as_deref() != Ok(entries), "five bytes more, or less, are told");
    }
    len
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, ..ProptestConfig::default() })]

    #[test]
    fn any_entries_come_back(seed: u64) {
        let mut any = Any(Dice::new(seed));
        let sheets: Vec<SheetId> = (0..any.0.of(4)).map(|_| any.entry()).collect();
        there_and_back(&sheets, &any.run());
    }

    #[test]
    fn any_bytes_are_read_without_panic(bytes in prop::collection::vec(any::<u8>(), 0..400), first: u32) {
        // What is read is entries, or an error that ends it.
        let read: Vec<_> = columns::read(&bytes, DEVICE, first, [], 64).collect();
        let errors = read.iter().position(Result::is_err);
        prop_assert!(errors.is_none_or(|at| at + 1 == read.len()));
    }

    #[test]
    fn a_changed_byte_is_read_without_panic(seed: u64, at: prop::sample::Index, change in 1u8..) {
        let entries = Any(Dice::new(seed)).run();
        let mut buffer = vec![0; 100_000];
        let len = columns::write(DEVICE, &[], &entries, &mut buffer).unwrap();
        if len > 0 {
            buffer[at.index(len)] ^= change;
            let first = entries.first().map_or(1, |entry| entry.at.seq);
            let read: Vec<_> = columns::read(&buffer[..len], DEVICE, first, [], entries.len() as u32).collect();
            prop_assert!(read.len() <= entries.len() + 1);
        }
    }
}

#[test]
fn a_days_sheets_come_back_small() {
    workload::with_pack(&practice().bytes, |pack| {
        for seed in 0..20 {
            let sheet = workload::sheet(&mut Dice::new(seed), pack, DEVICE, 1);
            assert_eq!(sheet.len(), workload::ENTRIES);
            let id = sheet[0].at;
            let sizes: Vec<usize> = workload::sealed(&sheet).map(|run| there_and_back(&[id], run)).collect();
            assert_eq!(sizes.len(), 3);
            assert!(sizes.iter().sum::<usize>() <= 300, "{seed}: {sizes:?}");
        }
    });
}

#[test]
fn the_demo_day_comes_back() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("demo");
    drop(Folder::make(&path, demo::DEVICE, demo::ZONE).unwrap());
    let sources = demo::write_sources(&path).unwrap();
    script::play(&path, demo::SCRIPT, &sources).unwrap();
    let opened = Folder::open_read_only(&path).unwrap();
    let mut devices: Vec<DeviceId> = opened.entries.iter().map(|entry| entry.at.device).collect();
    devices.sort_unstable();
    devices.dedup();
    assert!(devices.len() > 1 && opened.entries.len() > 300);
    for device in devices {
        let mut entries: Vec<Entry> = opened.entries.iter().filter(|e| e.at.device == device).cloned().collect();
        entries.sort_by_key(|entry| entry.at.seq);
        let run: Vec<Entry> = entries.into_iter().map(|entry| moved(entry, device)).collect();
        there_and_back(&[], &run);
    }
}

/// The same entry as this file's device would have written it.
fn moved(entry: Entry, from: DeviceId) -> Entry {
    assert_eq!(entry.at.device, from);
    Entry { at: EntryRef { device: DEVICE, ..entry.at }, ..entry }
}

#[test]
fn what_cannot_be_a_run_is_refused() {
    let mut any = Any(Dice::new(5));
    let mut entries = any.run();
    entries.truncate(3);
    let mut buffer = vec![0; 9_000];
    assert_eq!(columns::write(DeviceId([9; 8]), &[], &entries, &mut buffer), Err(BitFault::Foreign));
    entries.reverse();
    assert_eq!(columns::write(DEVICE, &[], &entries, &mut buffer), Err(BitFault::Order));
    entries.reverse();
    assert_eq!(columns::write(DEVICE, &[], &entries, &mut [0; 9]), Err(BitFault::Full));
}
