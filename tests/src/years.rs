//! Years of a shed's work, made from one day that was played through the real rules: the day's entries again and again,
//! on other days, for other engines, by another count, with readings that differ a little. Seeded, so that every run
//! makes the same.

use std::collections::BTreeMap;

use offshed_core::entry::{Answer, Entry, Fact, What};
use offshed_core::ident::{DeviceId, EngineId, EntryRef};
use offshed_core::stamp::{Hlc, Stamp};
use offshed_core::units::Unit;

use crate::{Day, day};

/// Seconds of a day.
const DAY: i64 = 86_400;

/// What is made.
#[derive(Clone, Copy, Debug)]
pub struct Years {
    /// Engines, from 1.
    pub engines: u16,
    /// Days.
    pub days: u16,
    /// Tablets that write.
    pub devices: u8,
    /// The seed of what varies.
    pub seed: u64,
}

/// One engine's day: a water test, a preparation from the warm to off shed, and a disposal.
pub fn pattern() -> Day {
    let rows = "04:30,,21,4,open,water-test,,,w
,,,w,work,water-dose,20 s
05:00,,21,,sign,water-signs
05:05,,21,4,open,preparation,,,p
,,,p,choose,found,2
,,,,work,date-plugs,20 s
05:40,,,,work,fire-ready,20 s,31
05:50,,,,work,open-fire,20 s
06:20,,,,work,feed-2,15 s
07:30,,21,,work,regulator-tight,15 s
07:50,,11,,work,running-brake,20 s
08:05,,21,,work,level-final,15 s
08:12,,,,sign,fireman-signs
08:13,,11,,sign,driver-signs
08:14,,1,,review,review,accepted
08:15,,11,,work,off-shed,20 s
17:00,,11,4,event,came-on-shed
,,,,event,attended
17:05,,11,4,open,disposal,,,d
,,,d,work,pit-secured,20 s
17:12,,,,done,crew-defects
17:20,,21,,work,disposal-feed-2,20 s
17:36,,,,work,fire-banked,20 s,11
17:55,,,,reading,stock,1100 l
17:56,,,,choose,fire-state,2
,,,,work,watch,20 s,31,,but fire-out
18:10,,,,sign,disposal-fireman-signs
18:12,,11,,work,road,20 s
18:14,,,,sign,disposal-driver-signs
18:20,,1,,review,disposal-review,accepted
";
    day(&[rows])
}

/// Splits a day's entries into those that set the register up and those that are work.
fn parts(day: &Day) -> (Vec<Entry>, Vec<Entry>) {
    day.ledger.entries().cloned().partition(|entry| matches!(entry.what, What::Registered(_)))
}

/// A small generator of numbers: xorshift64* (Vigna 2016).
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d)
    }

    fn below(&mut self, most: u64) -> i64 {
        i64::try_from(self.next() % most).unwrap_or(0)
    }
}

/// Makes the entries, in the order in which they were written.
pub fn entries(years: Years) -> (Day, Vec<Entry>) {
    let day = pattern();
    let (register, work) = parts(&day);
    let mut chance = Chance(years.seed | 1);
    let mut all: Vec<Entry> = Vec::new();
    let mut counts: BTreeMap<u8, u32> = BTreeMap::new();
    let device = |n: u8| DeviceId([n.wrapping_add(1); 8]);
    for entry in &register {
        for engine in engines_of(&entry.what, years.engines) {
            let mut entry = entry.clone();
            name_engine(&mut entry.what, engine);
            push(&mut all, &mut counts, 0, device(0), entry);
        }
    }
    for n in 0..i64::from(years.days) {
        for engine in 1..=years.engines {
            // The fold asks for a merged order, and the tablets of a shed work side by side.
            let writer = (engine % u16::from(years.devices.max(1))) as u8;
            let shift = n * DAY + i64::from(engine) * 7 + chance.below(5);
            let mut refs: BTreeMap<EntryRef, EntryRef> = BTreeMap::new();
            for entry in &work {
                let mut entry = entry.clone();
                let old = entry.at;
                entry.stamp = entry.stamp.plus(shift);
                entry.hlc = Hlc(entry.hlc.0.wrapping_add_signed(shift << 20));
                name_engine(&mut entry.what, EngineId(engine));
                rename(&mut entry.what, &refs);
                vary(&mut entry.what, &mut chance);
                let at = push(&mut all, &mut counts, writer, device(writer), entry);
                refs.insert(old, at);
            }
        }
    }
    (day, all)
}

fn push(
    all: &mut Vec<Entry>,
    counts: &mut BTreeMap<u8, u32>,
    writer: u8,
    device: DeviceId,
    mut entry: Entry,
) -> EntryRef {
    let count = counts.entry(writer).or_default();
    *count += 1;
    entry.at = EntryRef { device, seq: *count };
    all.push(entry);
    EntryRef { device, seq: *count }
}

/// A fact about engine 4 is stated of every engine; one about another engine of none; any other once.
fn engines_of(what: &What, engines: u16) -> Vec<EngineId> {
    match what {
        What::Registered(
            Fact::Engine { engine, .. }
            | Fact::Fitted { engine, .. }
            | Fact::DueDone { engine, .. }
            | Fact::Turn { engine, .. },
        ) if *engine == EngineId(4) => (1..=engines).map(EngineId).collect(),
        What::Registered(
            Fact::Engine { .. } | Fact::Fitted { .. } | Fact::DueDone { .. } | Fact::Turn { .. } | Fact::Device { .. },
        ) => Vec::new(),
        _ => vec![EngineId(0)],
    }
}

fn name_engine(what: &mut What, new: EngineId) {
    match what {
        What::SheetOpened { engine, .. }
        | What::Happened { engine, .. }
        | What::DefectOpened { engine, .. }
        | What::Registered(
            Fact::Engine { engine, .. }
            | Fact::Fitted { engine, .. }
            | Fact::DueDone { engine, .. }
            | Fact::Turn { engine, .. },
        ) => *engine = new,
        _ => {}
    }
}

/// What an entry refers to is what was written in its place.
fn rename(what: &mut What, refs: &BTreeMap<EntryRef, EntryRef>) {
    let new = |at: &mut EntryRef| {
        if let Some(found) = refs.get(at) {
            *at = *found;
        }
    };
    if let What::Answered { sheet, over, answer, .. } = what {
        new(sheet);
        if let Some(over) = over {
            new(over);
        }
        if let Answer::Signed { seen, .. } | Answer::Reviewed { seen, .. } = answer {
            seen.iter_mut().for_each(new);
        }
    }
}

/// The stock of coal and water differs from day to day; other readings stay as they were, since figures are computed from
/// them and other answers agree with them.
fn vary(what: &mut What, chance: &mut Chance) {
    let What::Answered { answer, .. } = what else { return };
    if let Answer::Reading(reading) = answer
        && reading.unit == Unit::Litre
    {
        reading.milli += i32::try_from(chance.below(200)).unwrap_or(0) * 1_000;
    }
}

/// The first moment of the day after the last one.
pub fn ends(years: Years, day: &Day) -> Stamp {
    day.at("2026-05-03 00:00").plus(i64::from(years.days.saturating_sub(1)) * DAY)
}
