//! Entries and the numbers in them.

use std::collections::BTreeMap;
use std::fmt::Debug;

use offshed_core::boiler::record::ProductRecord;
use offshed_core::entry::{Answer, Dispensed, Entry, Fact, Found, Review, Shown, What};
use offshed_core::ident::{DueId, EngineId, StepId};
use offshed_core::pack::rows::DefectGrade;
use offshed_core::record::head::body_hash;
use offshed_core::stamp::{Clock, Day, Stamp, ZoneRow};
use offshed_core::units::{Reading, Unit};

use super::acts::{acts, answered, boiler, dispensed, doubted, encoded, entry, facts, part};
use super::{named, section, table, words};

#[test]
fn every_entry_reads_and_writes_as_written_down() {
    let vectors = named(include_str!("../../vectors/entries.hex"));
    let acts = acts().into_iter().enumerate();
    let mut entries: Vec<Entry> = acts.map(|(n, what)| entry(n as u32 + 1, what)).collect();
    entries.push(doubted(entries.len() as u32 + 1));
    assert_eq!(vectors.len(), entries.len());
    for ((name, bytes), entry) in vectors.iter().zip(&entries) {
        assert_eq!(Entry::decode(bytes).as_ref(), Ok(entry), "{name}");
        assert_eq!(&encoded(entry), bytes, "{name}");
    }
}

/// A variant's name, by its debug form.
fn variant(value: &impl Debug) -> String {
    let text = format!("{value:?}");
    text.split(|c: char| !c.is_alphanumeric()).next().unwrap().to_owned()
}

/// The numbers and names in FORMAT.md are those of `values`, of which `number` answers the number written.
fn same_variants<T: Debug>(heading: &str, values: &[T], number: impl Fn(&T) -> u8) {
    let found: BTreeMap<String, String> =
        values.iter().map(|value| (number(value).to_string(), variant(value))).collect();
    let written = table(heading).into_iter().map(|(number, name)| (number.to_owned(), name.to_owned())).collect();
    assert_eq!(found, written, "{heading}");
}

/// Place of the first byte of `what` in an entry of [`entry`] with a count below 128.
const WHAT: usize = 8 + 1 + 8 + 5 + 1 + 1;

/// Bytes of a ref with a count below 128, of step 300, and of one byte of number before them.
const ANSWER: usize = WHAT + 1 + 9 + 2;

fn byte(what: &What, at: usize) -> u8 {
    encoded(&entry(1, what.clone()))[at]
}

#[test]
fn the_tables_of_variants_are_the_codes() {
    let acts = acts();
    same_variants("`What`", &acts, |what| byte(what, WHAT));
    let answers = acts.iter().filter_map(|what| match what {
        What::Answered { answer, .. } => Some(answer.clone()),
        _ => None,
    });
    let answers: Vec<Answer> = answers.collect();
    same_variants("`Answer`", &answers, |answer| byte(&answered(answer.clone()), ANSWER));
    let parts: Vec<Found> = answers
        .iter()
        .filter_map(|answer| match answer {
            Answer::Part { found, .. } => Some(found.clone()),
            _ => None,
        })
        .collect();
    let shown = answers.iter().filter_map(|answer| match answer {
        Answer::Accepted(shown) => Some(shown.clone()),
        _ => None,
    });
    let shown: Vec<Shown> = shown.collect();
    same_variants("`Shown`", &shown, |shown| byte(&answered(Answer::Accepted(shown.clone())), ANSWER + 1));
    same_variants("`Found`", &parts, |found| byte(&part(0, found.clone()), ANSWER + 2));
    let facts = facts(Reading::whole(160, Unit::Psi));
    same_variants("`Fact`", &facts, |fact| byte(&What::Registered(fact.clone()), WHAT + 1));
    let reviewed = |outcome| answered(Answer::Reviewed { outcome, words: words(""), seen: Default::default() });
    let outcomes = [Review::Accepted, Review::SentBack, Review::Stopped];
    same_variants("`Review`", &outcomes, |outcome| byte(&reviewed(*outcome), ANSWER + 1));
    let waived = [Dispensed::Step(StepId(1)), Dispensed::Due(DueId(1))];
    same_variants("`Dispensed`", &waived, |what| byte(&dispensed(*what, Day(0)), WHAT + 2));
}

#[test]
fn the_tables_of_small_numbers_are_the_codes() {
    let engine = EngineId(11);
    let opened = |grade| What::DefectOpened { engine, sheet: None, step: None, grade, words: words("") };
    let grades = [DefectGrade::Note, DefectGrade::Restricted, DefectGrade::Stopping];
    same_variants("`DefectGrade`", &grades, |grade| byte(&opened(*grade), WHAT + 4));
    let clocks = [Clock::Good, Clock::Doubted { boot: 0 }];
    let with = |clock: &Clock| Entry { clock: *clock, ..entry(1, What::TagHung { engine }) };
    same_variants("`Clock`", &clocks, |clock| encoded(&with(clock))[WHAT - 2]);
    let units: Vec<Unit> = (0..=u8::MAX).map_while(Unit::from_number).collect();
    let reading = |unit: &Unit| answered(Answer::Reading(Reading { milli: 0, unit: *unit }));
    same_variants("`Unit`", &units, |unit| byte(&reading(unit), ANSWER + 2));
    assert!(units.iter().enumerate().all(|(n, unit)| *unit as usize == n));
    let measured = section("`Unit`").lines().filter_map(|line| line.strip_suffix(" |")?.rsplit_once("| ")).skip(1);
    assert!(measured.map(|(_, quantity)| quantity).eq(units.iter().map(|unit| unit.quantity().name())));
}

/// The names of a record's own fields, in order, by its debug form.
fn fields(record: &impl Debug) -> Vec<String> {
    let text = format!("{record:#?}");
    let own =
        text.lines().filter_map(|line| line.strip_prefix("    ")).filter(|line| !line.starts_with([' ', '}', ')']));
    own.map(|line| line.split(':').next().unwrap().to_owned()).collect()
}

fn same_fields(heading: &str, record: &impl Debug) {
    let written: Vec<&str> = table(heading).into_iter().map(|(field, _)| field).collect();
    assert_eq!(fields(record), written, "{heading}");
}

/// The order of the fields is the order of their bytes.
#[test]
fn the_tables_of_fields_are_the_codes() {
    let boiler = boiler();
    same_fields("`Boiler`", &boiler);
    same_fields("`Bundle`", &boiler.tubes.unwrap());
    same_fields("`Girders`", &boiler.girders.unwrap());
    for fact in facts(Reading::whole(160, Unit::Psi)) {
        match fact {
            Fact::RoadSections { sections, .. } => same_fields("`Section`", &sections[0]),
            Fact::Product { bought: ProductRecord { measure: Some(measure), .. }, .. } => {
                same_fields("`Measure`", &measure);
            }
            Fact::Product { bought, .. } => same_fields("`Product`", &bought),
            _ => {}
        }
    }
}

/// postcard 1.x, specification "Wire Format", sections "Varint encoded integers" and "Signed integers": the values that it
/// tabulates, as they stand in our entries.
#[test]
fn integers_are_written_as_postcard_specifies() {
    let unsigned: [(u16, &[u8]); 5] = [
        (127, &[0x7f]),
        (128, &[0x80, 0x01]),
        (16_383, &[0xff, 0x7f]),
        (16_384, &[0x80, 0x80, 0x01]),
        (65_535, &[0xff, 0xff, 0x03]),
    ];
    for (value, bytes) in unsigned {
        let written = encoded(&entry(1, What::TagHung { engine: EngineId(value) }));
        assert_eq!(&written[WHAT + 1..], bytes, "{value}");
    }
    let signed: [(i16, &[u8]); 7] = [
        (0, &[0x00]),
        (-1, &[0x01]),
        (63, &[0x7e]),
        (-64, &[0x7f]),
        (64, &[0x80, 0x01]),
        (-32_768, &[0xff, 0xff, 0x03]),
        (32_767, &[0xfe, 0xff, 0x03]),
    ];
    for (value, bytes) in signed {
        let row = ZoneRow { from: Stamp(0), offset_minutes: value };
        let fact = Fact::LocalTime { rows: [row].into_iter().collect() };
        assert_eq!(&encoded(&entry(1, What::Registered(fact)))[WHAT + 4..], bytes, "{value}");
    }
}

/// The same specification, section "Canonicalization": 80 00 is read as 0, so hashes are taken over bytes as written.
#[test]
fn another_encoding_of_the_same_entry_is_read_and_hashes_otherwise() {
    let hung = entry(1, What::TagHung { engine: EngineId(11) });
    let mut longer = encoded(&hung);
    longer.pop();
    longer.extend([0x8b, 0x00]);
    assert_eq!(Entry::decode(&longer), Ok(hung.clone()));
    assert_ne!(body_hash(&longer), body_hash(&encoded(&hung)));
}
