//! The bytes are those of `core/FORMAT.md`: vectors put together from its tables by another program, published check
//! values of the parts it is built from, and its own tables and example held against the code.

use std::collections::BTreeMap;
use std::fmt::Debug;

use offshed_core::entry::{Answer, Dispensed, Entry, Fact, Found, Name, Review, What, Words};
use offshed_core::ident::{
    DeviceId, DueId, EngineId, EntryRef, EventId, FittingId, GradeId, PackHash, PersonId, SequenceId, Set, StepId,
    TextId,
};
use offshed_core::limits::ENTRY_BYTES;
use offshed_core::pack::layout::Table;
use offshed_core::pack::rows::{self, DefectGrade, KindRow, Row};
use offshed_core::pack::{Pack, Rule, SliceTexts, slot};
use offshed_core::record::chain::{self, BlockHead, Met};
use offshed_core::record::frame;
use offshed_core::stamp::{Clock, Day, Hlc, Stamp, ZoneRow};
use offshed_core::units::{Reading, Unit};

const FORMAT: &str = include_str!("../../core/FORMAT.md");
const DEVICE: DeviceId = DeviceId([1, 2, 3, 4, 5, 6, 7, 8]);
const OTHER: DeviceId = DeviceId([0xa1, 0xa2, 0xa3, 0xa4, 0xa5, 0xa6, 0xa7, 0xa8]);
/// 2026-03-29 00:00:00 UTC.
const MIDNIGHT: i64 = 1_774_742_400;

/// The bytes that text writes in hexadecimal digits, comments left out.
fn unhex(text: &str) -> Vec<u8> {
    let digits: String = text.lines().map(|line| line.split('#').next().unwrap()).collect();
    let digits: Vec<char> = digits.chars().filter(|c| !c.is_whitespace()).collect();
    let byte = |pair: &[char]| u8::from_str_radix(&pair.iter().collect::<String>(), 16).unwrap();
    digits.chunks(2).map(byte).collect()
}

/// The named parts of a vector file.
fn named(text: &str) -> Vec<(&str, Vec<u8>)> {
    let parts = text.split("\n# ").skip(1);
    parts.map(|part| part.split_once('\n').unwrap()).map(|(name, hex)| (name, unhex(hex))).collect()
}

/// The section of FORMAT.md under a heading.
fn section(heading: &str) -> &'static str {
    let start = FORMAT.find(&format!("### {heading}\n")).unwrap_or_else(|| panic!("no section {heading}"));
    let rest = &FORMAT[start + 4..];
    &rest[..rest.find("\n#").unwrap_or(rest.len())]
}

/// The first two columns of the tables of a section.
fn table(heading: &str) -> Vec<(&'static str, &'static str)> {
    let rows = section(heading).lines().filter(|line| line.starts_with("| ") && !line.contains("---"));
    let cells = rows.map(|line| line.trim_matches('|').split(" | ").map(|cell| cell.trim().trim_matches('`')));
    cells.map(|mut cells| (cells.next().unwrap(), cells.next().unwrap())).skip(1).collect()
}

fn at(device: DeviceId, seq: u32) -> EntryRef {
    EntryRef { device, seq }
}

fn words(text: &str) -> Words {
    Words::try_from(text).unwrap()
}

fn name(text: &str) -> Name {
    Name::try_from(text).unwrap()
}

fn hash() -> PackHash {
    PackHash(std::array::from_fn(|n| n as u8))
}

fn answered(answer: Answer) -> What {
    What::Answered { sheet: at(DEVICE, 1), step: StepId(300), answer, done_at: None, with: None, over: None }
}

fn part(part: u8, found: Found) -> What {
    answered(Answer::Part { part, found })
}

/// What the entries of `entries.hex` say, in its order.
fn acts() -> Vec<What> {
    let (sheet, engine) = (at(DEVICE, 1), EngineId(11));
    let psi = Reading::whole(160, Unit::Psi);
    let mut acts = vec![What::SheetOpened { engine, sequence: SequenceId(2), pack: hash() }, answered(Answer::Done)];
    acts.push(What::Answered {
        sheet,
        step: StepId(300),
        answer: Answer::NotRight { words: words("drip") },
        done_at: Some(Stamp(MIDNIGHT - 60)),
        with: Some(PersonId(300)),
        over: Some(at(OTHER, 200)),
    });
    acts.extend([
        answered(Answer::Reading(Reading::whole(25, Unit::GlassMm))),
        answered(Answer::Number("A 117".try_into().unwrap())),
        answered(Answer::Choice(2)),
        answered(Answer::Began(Some(psi))),
        answered(Answer::Ended { tenths: 6_000, reading: None }),
        answered(Answer::Accepted),
        part(3, Found::Seen),
        part(3, Found::NotRight { words: words("slow") }),
        part(0, Found::Reading(Reading { milli: -1, unit: Unit::Fahrenheit })),
        part(4, Found::Time { tenths: 25 }),
        answered(Answer::NotApplicable { reason: words("no ejector") }),
        answered(Answer::Signed { pack: hash(), seen: [at(DEVICE, 14), at(OTHER, 200)].into_iter().collect() }),
        answered(Answer::Reviewed { outcome: Review::SentBack, words: words("glass?"), seen: Default::default() }),
        What::Struck { sheet, step: StepId(300), entry: at(DEVICE, 2), reason: words("wrong step") },
        What::Joined { into: sheet, from: at(OTHER, 200) },
        What::Abandoned { sheet, reason: words("not wanted") },
        What::HandedOver { engine, words: words("left feed slow") },
        What::Happened { engine, event: EventId(5), words: words(""), done_at: Some(Stamp(MIDNIGHT - 3_600)) },
        What::DefectOpened {
            engine,
            sheet: Some(sheet),
            step: Some(StepId(300)),
            grade: DefectGrade::Stopping,
            words: words("plug weeping"),
        },
        What::DefectRestricted { defect: at(DEVICE, 22), words: words("yard only"), until: Day(20_541) },
        What::DefectCleared { defect: at(DEVICE, 22), grade: GradeId(4), words: words("renewed") },
        dispensed(Dispensed::Step(StepId(300)), Day(20_541)),
        dispensed(Dispensed::Due(DueId(3)), Day(-1)),
        What::TagHung { engine },
        What::TagLifted { engine },
    ]);
    acts.extend(facts(psi).map(What::Registered));
    acts
}

fn dispensed(what: Dispensed, until: Day) -> What {
    What::Dispensed { engine: EngineId(11), what, words: words("one trip"), until }
}

fn facts(working: Reading) -> [Fact; 10] {
    let (engine, due) = (EngineId(11), DueId(3));
    let row = |from, offset_minutes| ZoneRow { from: Stamp(from), offset_minutes };
    [
        Fact::Person { person: PersonId(7), name: name("A. Larch") },
        Fact::Competence { person: PersonId(7), grade: GradeId(2), until: Some(Day(20_819)), held: true },
        Fact::Engine {
            engine,
            name: name("Bramble Down"),
            features: Set::EMPTY.with(1).with(2),
            glass_mm: 180,
            working: Some(working),
        },
        Fact::Fitted { engine, fitting: FittingId(1), number: "A 117".try_into().unwrap() },
        Fact::DueDone { engine, due, on: Day(20_500), days_before: 4 },
        Fact::DuePostponed { engine, due, until: Day(20_560), words: words("letter") },
        Fact::PackAdopted { pack: hash() },
        Fact::LocalTime { rows: [row(0, 0), row(1_774_746_000, 60)].into_iter().collect() },
        Fact::Turn { engine, name: name("Goods"), off_shed: Stamp(MIDNIGHT + 28_800) },
        Fact::Device { device: OTHER, name: name("Cab tablet") },
    ]
}

fn entry(seq: u32, what: What) -> Entry {
    Entry {
        at: at(DEVICE, seq),
        hlc: Hlc((MIDNIGHT as u64) << 20),
        stamp: Stamp(MIDNIGHT),
        clock: Clock::Good,
        person: PersonId(7),
        what,
    }
}

fn doubted(seq: u32) -> Entry {
    Entry {
        hlc: Hlc(u64::MAX),
        stamp: Stamp(-1),
        clock: Clock::Doubted { boot: 300 },
        person: PersonId(u16::MAX),
        ..entry(seq, What::TagLifted { engine: EngineId(11) })
    }
}

fn encoded(entry: &Entry) -> Vec<u8> {
    entry.encode(&mut [0; ENTRY_BYTES]).unwrap().to_vec()
}

#[test]
fn every_entry_reads_and_writes_as_written_down() {
    let vectors = named(include_str!("../vectors/entries.hex"));
    let acts = acts().into_iter().enumerate();
    let mut entries: Vec<Entry> = acts.map(|(n, what)| entry(n as u32 + 1, what)).collect();
    entries.push(doubted(entries.len() as u32 + 1));
    assert_eq!(vectors.len(), entries.len());
    for ((name, bytes), entry) in vectors.iter().zip(&entries) {
        assert_eq!(Entry::decode(bytes).as_ref(), Ok(entry), "{name}");
        assert_eq!(&encoded(entry), bytes, "{name}");
    }
}

fn example() -> Vec<u8> {
    let (_, rest) = FORMAT.split_once("```hex\n").unwrap();
    unhex(rest.split_once("```").unwrap().0)
}

/// Writes a book with the functions of the core.
fn write_book(blocks: &[&[Entry]]) -> Vec<u8> {
    let mut book = chain::head(chain::BOOK, DEVICE).to_vec();
    let mut previous = chain::root(DEVICE);
    for (number, entries) in blocks.iter().enumerate() {
        let head =
            BlockHead { number: number as u32, first: entries[0].at.seq, entries: entries.len() as u32, previous };
        let mut hash = chain::BlockHash::default();
        let mut put = |kind, body: &[u8]| {
            let mut buffer = [0; frame::BODY + frame::OVERHEAD];
            let frame = frame::write(kind, body, &mut buffer).unwrap();
            book.extend(frame);
            hash.frame(frame);
        };
        put(frame::kind::BLOCK, &head.write());
        entries.iter().for_each(|entry| put(frame::kind::ENTRY, &encoded(entry)));
        previous = hash.finish();
        book.extend(frame::write(frame::kind::END, &previous, &mut [0; 64]).unwrap().iter());
    }
    book
}

fn three() -> [Entry; 3] {
    let engine = EngineId(11);
    let note = What::HandedOver { engine, words: words("left feed slow") };
    [entry(1, What::TagHung { engine }), entry(2, What::TagLifted { engine }), entry(3, note)]
}

#[test]
fn the_worked_example_is_what_the_code_writes_and_reads() {
    let [hung, ..] = three();
    let example = example();
    assert_eq!(write_book(&[std::slice::from_ref(&hung)]), example);
    assert_eq!(chain::read_head(chain::BOOK, &example), Ok(DEVICE));
    let met: Vec<Met> = chain::walk(&example, DEVICE).collect();
    assert!(matches!(&met[..], [Met::Entry { entry, offset: 68 }, Met::Block { .. }] if *entry == hung), "{met:?}");
}

#[test]
fn a_book_reads_and_writes_as_written_down() {
    let vector = unhex(include_str!("../vectors/book.hex"));
    let [one, two, three] = three();
    assert_eq!(write_book(&[std::slice::from_ref(&one), &[two.clone(), three.clone()]]), vector);
    assert!(vector.starts_with(&example()));
    let mut entries = Vec::new();
    let mut blocks = Vec::new();
    for met in chain::walk(&vector, DEVICE) {
        match met {
            Met::Entry { entry, .. } => entries.push(entry),
            Met::Block { head, hash } => blocks.push((head.number, head.first, head.entries, hash)),
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(entries, [one, two, three]);
    // By Python's hashlib over the frames of the vector.
    let end = |hex: &str| chain::Hash::try_from(unhex(hex)).unwrap();
    let first = end("6b2a666325dc752502414c9e36121a6e925b7dc1b57d689edd09306e1544be77");
    let second = end("5e8b88808cac0527c42bc10b73eee4dd76dd08ac43f59b3622a34f63fddc770a");
    assert_eq!(blocks, [(0, 1, 1, first), (1, 2, 2, second)]);
}

#[test]
fn a_journal_reads_as_written_down() {
    let vector = unhex(include_str!("../vectors/journal.hex"));
    assert_eq!(chain::read_head(chain::JOURNAL, &vector), Ok(DEVICE));
    let met: Vec<Met> = chain::walk(&vector, DEVICE).collect();
    let [one, two, _] = three();
    let entry = |entry, offset| Met::Entry { entry, offset };
    assert_eq!(met, [entry(one, 16), entry(two, 50)]);
}

#[test]
fn a_pack_reads_as_written_down() {
    let bytes = unhex(include_str!("../vectors/pack.hex"));
    let pack = Pack::check(&bytes, hash()).unwrap();
    let texts = SliceTexts::open(&bytes[pack.head().rules_len as usize..], "en").unwrap();
    assert_eq!((texts.len(), texts.get(TextId(1)), texts.get(TextId(29))), (30, "Tiny pack", "common practice"));
    let steps: Vec<u16> = pack.steps(SequenceId(1)).map(|step| step.id.0).collect();
    assert_eq!(steps, [300, 301, 302]);
    let blown = pack.step(StepId(300)).unwrap();
    assert_eq!(
        (blown.by, blown.minutes, blown.life_seconds, blown.fails),
        (GradeId(2), 5, 3_600, Some(DefectGrade::Stopping))
    );
    assert!(blown.shared && !blown.skippable && !blown.closes && blown.applies.is_none());
    assert_eq!(texts.get(pack.step_title(StepId(300))), "Left glass");
    let KindRow::Procedure { parts } = blown.kind else { panic!("{blown:?}") };
    let asked: Vec<_> = pack.parts(parts).map(|part| (texts.get(part.text), part.ask)).collect();
    assert_eq!((asked[0].0, asked[1].0), ("Shut", "Refills"));
    let rows::AskRow::Time { limits } = asked[1].1 else { panic!("{asked:?}") };
    assert_eq!(
        (pack.limit_tenths(limits, slot::AT_LEAST), pack.limit_tenths(limits, slot::AT_MOST)),
        (Some(10), Some(50))
    );
}

#[test]
fn a_packs_rules_read_as_written_down() {
    let bytes = unhex(include_str!("../vectors/pack.hex"));
    let pack = Pack::check(&bytes, hash()).unwrap();
    let read = pack.step(StepId(301)).unwrap();
    let KindRow::Reading { unit: Unit::GlassMm, limits } = read.kind else { panic!("{read:?}") };
    assert_eq!(pack.limit(limits, slot::LOW), Some(Reading::whole(25, Unit::GlassMm)));
    assert_eq!(pack.limit(limits, slot::HIGH), Some(Reading::whole(200, Unit::GlassMm)));
    assert_eq!((pack.limit(limits, slot::WARN_LOW), read.sets.0, read.clears.0), (None, 2, 0));
    assert_eq!(pack.voided(read.voids).collect::<Vec<_>>(), [StepId(300)]);
    let rules = |span| pack.needs(span).map(|need| (need.rule, need.group)).collect::<Vec<_>>();
    assert_eq!(rules(read.needs), [(Rule::Fresh { step: StepId(300), within_seconds: None }, 0)]);
    let within = Rule::Within { step: StepId(301), low: Some(Reading::whole(25, Unit::GlassMm)), high: None };
    let signed = pack.step(StepId(302)).unwrap();
    assert!(signed.closes && signed.kind == KindRow::Signature { review: false });
    assert_eq!(rules(signed.needs), [(within, 0), (Rule::Different(StepId(301)), 1)]);
    assert_eq!(pack.fitness_needs().map(|need| need.rule).collect::<Vec<_>>(), [Rule::NoTag]);
    let head = pack.head();
    assert_eq!((head.steam.map(|s| s.0), head.away, head.unattended), (Some(1), None, None));
    assert_eq!((head.defects_cleared_by.0, head.restricted_by.0), (8, 12));
    assert_eq!(pack.holders_of(GradeId(2)), Set::EMPTY.with(2).with(3));
    let due = pack.due(DueId(3)).unwrap();
    assert_eq!((due.rule.months, due.rule.days, due.rule.steam_days), (0, 0, 28));
    let event = pack.event(EventId(5)).unwrap();
    assert_eq!((event.by, event.clears.0, event.opens), (GradeId(2), 2, Some(DefectGrade::Stopping)));
}

#[test]
fn every_shorter_pack_and_every_flipped_rule_is_refused_or_read_without_panic() {
    let bytes = unhex(include_str!("../vectors/pack.hex"));
    let rules = Pack::check(&bytes, hash()).unwrap().head().rules_len as usize;
    for len in 0..rules {
        assert!(Pack::check(&bytes[..len], hash()).is_err(), "{len}");
    }
    for at in 0..rules {
        for bit in 0..8 {
            let mut flipped = bytes.clone();
            flipped[at] ^= 1 << bit;
            if let Ok(pack) = Pack::check(&flipped, hash()) {
                let needs: usize = pack.all_steps().map(|step| pack.needs(step.needs).count()).sum();
                assert!(needs <= 3 * usize::from(u8::MAX), "byte {at} bit {bit}");
            }
        }
    }
}

/// The widths and the order of a pack's tables.
#[test]
fn the_table_of_tables_is_the_codes() {
    let widths = [
        (Table::Sequences, rows::SequenceRow::WIDTH),
        (Table::Stages, TextId::WIDTH),
        (Table::Steps, rows::StepRow::WIDTH),
        (Table::Needs, rows::NeedRow::WIDTH),
        (Table::Voids, StepId::WIDTH),
        (Table::Parts, rows::PartRow::WIDTH),
        (Table::Options, rows::OptionRow::WIDTH),
        (Table::Limits, Reading::WIDTH),
        (Table::Grades, rows::GradeRow::WIDTH),
        (Table::Features, rows::NamedRow::WIDTH),
        (Table::States, rows::NamedRow::WIDTH),
        (Table::Fittings, rows::NamedRow::WIDTH),
        (Table::Dues, rows::DueRow::WIDTH),
        (Table::Events, rows::EventRow::WIDTH),
    ];
    let written = table("Tables, in the order of the directory");
    assert_eq!(written.len(), offshed_core::pack::layout::TABLES);
    for (place, ((name, width), (table, bytes))) in written.iter().zip(widths).enumerate() {
        assert_eq!((format!("{table:?}"), bytes.to_string()), (name.to_string(), width.to_string()));
        assert_eq!(table as usize, place);
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
    let [hung, ..] = three();
    let mut longer = encoded(&hung);
    longer.pop();
    longer.extend([0x8b, 0x00]);
    assert_eq!(Entry::decode(&longer), Ok(hung.clone()));
    let hash = |bytes: &[u8]| {
        let mut hash = chain::BlockHash::default();
        hash.frame(bytes);
        hash.finish()
    };
    assert_ne!(hash(&longer), hash(&encoded(&hung)));
}

/// CRC-32/ISO-HDLC bit by bit, from its parameters in the catalogue of parametrised CRC algorithms: width 32, polynomial
/// 04C11DB7, initial value and final exclusive-or all ones, input and output reflected.
fn crc32(bytes: &[u8]) -> u32 {
    let step = |crc: u32| if crc & 1 == 1 { crc >> 1 ^ 0xedb8_8320 } else { crc >> 1 };
    !bytes.iter().fold(u32::MAX, |crc, byte| (0..8).fold(crc ^ u32::from(*byte), |crc, _| step(crc)))
}

#[test]
fn a_frames_check_is_the_published_crc() {
    // The catalogue's check value of CRC-32/ISO-HDLC, over "123456789".
    assert_eq!(crc32(b"123456789"), 0xcbf4_3926);
    for body in [b"".as_slice(), b"123456789", &[0xff; frame::BODY]] {
        let mut buffer = [0; frame::BODY + frame::OVERHEAD];
        let frame = frame::write(7, body, &mut buffer).unwrap();
        let (covered, check) = frame[1..].split_last_chunk::<4>().unwrap();
        assert_eq!(u32::from_le_bytes(*check), crc32(covered));
    }
}

/// FIPS 180-4; the digests are those of NIST's example "abc", of the empty message, and of the 448-bit example.
#[test]
fn a_blocks_hash_is_the_published_one() {
    let hash = |parts: &[&[u8]]| {
        let mut hash = chain::BlockHash::default();
        parts.iter().for_each(|part| hash.frame(part));
        hash.finish().to_vec()
    };
    let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert_eq!(hash(&[b"abc"]), unhex(abc));
    assert_eq!(hash(&[b"a", b"", b"bc"]), unhex(abc));
    let empty = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
    assert_eq!(hash(&[]), unhex(empty));
    let long = "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1";
    assert_eq!(hash(&[b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"]), unhex(long));
}

/// Every byte of the example matters: a change is met as a finding or refused with the head, save the two bytes of nothing.
#[test]
fn every_flipped_bit_of_the_example_is_found() {
    let example = example();
    for at in 0..example.len() {
        for bit in 0..8 {
            let mut bytes = example.clone();
            bytes[at] ^= 1 << bit;
            let head = chain::read_head(chain::BOOK, &bytes);
            let sound =
                !chain::walk(&bytes, DEVICE).any(|met| matches!(met, Met::Finding { .. } | Met::Unknown { .. }));
            let unnoticed = head == Ok(DEVICE) && sound;
            assert_eq!(unnoticed, (6..8).contains(&at), "byte {at} bit {bit}");
        }
    }
}
