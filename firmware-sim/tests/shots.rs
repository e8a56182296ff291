//! Pictures of every screen on the smallest and on a larger display, with the longest words of the practice pack and with
//! every state, compared dot by dot with those in `shots/`.
//!
//! `OFFSHED_SHOTS=write cargo test -p offshed-handheld --test shots` writes them anew; they are then looked at before
//! they are committed.

mod common;

use std::fs;
use std::path::{Path, PathBuf};

use common::Evening;
use common::memory::MemoryJournal;
use common::picture::Canvas;
use embedded_graphics::Drawable;
use embedded_graphics::prelude::Size;
use offshed_core::engine::{EngineState, VoidedBy};
use offshed_core::fitness::{self, Ends, Fitness, Verdict};
use offshed_core::ident::{
    DeviceId, DeviceKey, DueId, EngineId, EntryRef, FittingId, GradeId, PersonId, StepId, TextId,
};
use offshed_core::pack::rows::{DefectGrade, Figure, KindRow, StepRow};
use offshed_core::pack::{Pack, Rule, SliceTexts, Texts, layout::text};
use offshed_core::reason::Why;
use offshed_core::record::shift::ShiftFault;
use offshed_core::register::Register;
use offshed_core::sheet::Sheet;
use offshed_core::stamp::{Day, Now, Stamp};
use offshed_core::units::{Reading, Unit};
use offshed_core::verdict::{self, Reason, Scene};
use offshed_handheld::card::CardFault;
use offshed_handheld::card::give::GiveFault;
use offshed_handheld::card::report::{CardReport, Taken};
use offshed_handheld::card::shift::ShiftRefused;
use offshed_handheld::glyphs;
use offshed_handheld::hand::Unstored;
use offshed_handheld::names::{Clocked, HandNames};
use offshed_handheld::phrases;
use offshed_handheld::roster::Roster;
use offshed_handheld::screens::{
    Asks, BoilerPage, Brief, Card, Confirm, FigurePage, FitnessPage, Item, Label, Letters, Locked, Menu, PartView,
    ReadingEntry, Sentence, Standing, StepItem, StepPage, Steps, Timer, Watch,
};

const SIZES: [Size; 2] = [Size::new(128, 64), Size::new(320, 240)];
const TAMSIN: EngineId = EngineId(4);
const FOOT: &str = "up/down: choose  select: take it  left: back";

const STATES: [Standing; 9] = [
    Standing::Open,
    Standing::UnderWay,
    Standing::Waits,
    Standing::Proven,
    Standing::Warned,
    Standing::Gone,
    Standing::NotRight,
    Standing::Skipped,
    Standing::DoesNotApply,
];

/// What screens are drawn over.
struct World {
    evening: Evening,
    journal: MemoryJournal,
    roster: Roster,
    now: Stamp,
}

/// Played once for all pictures.
static WORLD: std::sync::LazyLock<World> = std::sync::LazyLock::new(World::new);

impl World {
    fn new() -> World {
        let evening = Evening::play();
        let now = evening.at("2026-05-02 09:29");
        let journal = MemoryJournal::new(evening.ledger.entries().cloned().collect());
        let mut roster = Roster::new();
        for road in [None, Some(offshed_core::ident::RoadId(1))] {
            roster.restart(TAMSIN, road);
            for entry in &journal.entries {
                if let offshed_core::entry::What::Registered(fact) = &entry.what {
                    roster.apply(fact);
                }
            }
        }
        assert_eq!(roster.passed_over(), 0, "the demo's register fits");
        World { evening, journal, roster, now }
    }

    fn pack(&self) -> Pack<'_> {
        self.evening.pack().pack()
    }

    fn texts(&self) -> SliceTexts<'_> {
        self.evening.pack().texts()
    }
}

/// The row with the longest of a step's texts: 0 the title, 1 what to do, 2 the caution.
fn longest(pack: &Pack<'_>, texts: &SliceTexts<'_>, which: u16) -> StepRow {
    let length = |row: &StepRow| texts.get(TextId(row.text.0 + which)).chars().count();
    pack.all_steps().max_by_key(length).expect("the practice pack has steps")
}

/// Pictures: the file's name, and what it shows.
type Shots = Vec<(String, Canvas)>;

fn shot<S: Drawable<Color = embedded_graphics::pixelcolor::BinaryColor>>(shots: &mut Shots, name: &str, screen: S) {
    for size in SIZES {
        let mut canvas = Canvas::new(size);
        let Ok(_) = screen.draw(&mut canvas);
        shots.push((format!("{name}-{}x{}.png", size.width, size.height), canvas));
    }
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/shots")
}

/// Writes every picture, or compares it with the one committed.
fn check(shots: &Shots) {
    let write = std::env::var_os("OFFSHED_SHOTS").is_some_and(|v| v == "write");
    let mut differ = Vec::new();
    for (file, canvas) in shots {
        assert!(canvas.lit() > 0, "{file} shows nothing");
        let path = folder().join(file);
        if write {
            canvas.write_png(&path, 1).expect("the picture");
        } else if read_png(&path).as_ref() != Some(canvas) {
            let drawn = Path::new(env!("CARGO_TARGET_TMPDIR")).join(file);
            canvas.write_png(&drawn, 4).expect("the picture");
            differ.push(drawn.display().to_string());
        }
    }
    assert!(differ.is_empty(), "not as committed; look at:\n{}", differ.join("\n"));
}

/// A picture of one bit a dot, dark on light, as it is written; `None` when there is none.
fn read_png(path: &Path) -> Option<Canvas> {
    let mut decoder = png::Decoder::new(std::io::BufReader::new(fs::File::open(path).ok()?));
    decoder.set_transformations(png::Transformations::EXPAND);
    let mut reader = decoder.read_info().ok()?;
    let size = Size::new(reader.info().width, reader.info().height);
    let mut bytes = vec![0; reader.output_buffer_size()?];
    reader.next_frame(&mut bytes).ok()?;
    Some(Canvas::of(size, bytes.iter().map(|grey| *grey == 0)))
}

fn reason(rule: Option<Rule>, group: u8, why: Why) -> Reason {
    Reason { rule, group, why }
}

fn at(seq: u32) -> EntryRef {
    EntryRef { device: DeviceId(*b"handheld"), seq }
}

#[test]
fn lists_and_steps() {
    let world = &*WORLD;
    let (pack, texts) = (world.pack(), world.texts());
    let row = longest(&pack, &texts, 0);
    let mut shots = Shots::new();

    let engines: Vec<Item<'_>> = world
        .roster
        .engines()
        .map(|(id, name)| Item { glyph: None, label: Label::Numbered(id.0, name) })
        .chain([Item { glyph: Some(glyphs::PERSON), label: Label::Words("Corin Vey") }])
        .collect();
    let menu =
        |title, items, at, right, all| Menu { texts: &texts, title, right, items, first: 0, at, all, foot: FOOT };
    shot(&mut shots, "engines", menu("Engines", &engines, 1, "2/6", 6));

    let title = pack.sequences().next().expect("a sequence").text;
    let work = [
        Item { glyph: Some(glyphs::HALF), label: Label::Before("Go on:", title) },
        Item { glyph: Some(glyphs::ASK), label: Label::Words("May it leave?") },
        Item { glyph: Some(glyphs::ON), label: Label::Words("Boiler and water level") },
        Item { glyph: Some(glyphs::STRUCK), label: Label::Words("Give the sheet up") },
    ];
    shot(&mut shots, "engine", menu("11 Bramble Down", &work, 0, "1/4", 4));

    let not_right: Vec<Item<'_>> =
        phrases::NOT_RIGHT.iter().map(|words| Item { glyph: None, label: Label::Words(words) }).collect();
    shot(&mut shots, "not-right", menu("NOT RIGHT:", &not_right, 1, "2/10", 10));
    let skip: Vec<Item<'_>> =
        phrases::NOT_APPLICABLE.iter().map(|words| Item { glyph: None, label: Label::Words(words) }).collect();
    shot(&mut shots, "not-applicable", menu("Not applicable:", &skip, 3, "4/5", 5));

    let choice = pack.all_steps().find_map(|row| match row.kind {
        KindRow::Choice { options } => Some((row, options)),
        _ => None,
    });
    let (_, options) = choice.expect("a choice");
    let options: Vec<Item<'_>> = pack
        .options(options)
        .map(|option| Item { glyph: Some(glyphs::BOX), label: Label::Text(option.text) })
        .collect();
    let all = options.len();
    shot(&mut shots, "choice", menu("How the boiler is found", &options, 1, "2/4", all));

    let people: Vec<Item<'_>> = world
        .roster
        .people()
        .map(|(_, name)| Item { glyph: Some(glyphs::PERSON), label: Label::Words(name) })
        .collect();
    let all = people.len();
    shot(&mut shots, "people", menu("Who is with you?", &people, 2, "3/12", all));

    // Every state once as the chosen one, over the longest title; on the larger display all are in sight.
    let first = TextId(row.text.0);
    let items: Vec<StepItem> = STATES.iter().map(|standing| StepItem { title: first, standing: *standing }).collect();
    let stage = pack.stage_title(row.sequence, row.stage);
    for (n, name) in ["open", "under-way", "waits", "proven", "warned", "gone", "found-not-right", "skipped", "absent"]
        .into_iter()
        .enumerate()
    {
        let from = n.saturating_sub(1);
        let note: &dyn std::fmt::Display = match n {
            1 => &": part 2 next",
            2 => &": 3 reasons",
            3 => &": 1000 mg/l CaCO3, until 09:35",
            _ => &"",
        };
        let name = format!("steps-{name}");
        shot(
            &mut shots,
            &name,
            Steps { texts: &texts, stage, items: &items[from..], first: from, at: n, all: 63, note },
        );
    }
    check(&shots);
}

#[test]
fn steps_reasons_and_words() {
    let world = &*WORLD;
    let (pack, texts) = (world.pack(), world.texts());
    let names =
        HandNames { pack: &pack, texts: &texts, roster: &world.roster, records: &world.journal, now: world.now };
    let mut shots = Shots::new();
    let long = longest(&pack, &texts, 1);
    let page = |row: StepRow, standing, note, part, asks, skip| StepPage {
        texts: &texts,
        title: row.text,
        standing,
        note,
        part,
        asks,
        foot: "select: answer  right: why it waits  left: back",
        skip,
    };
    shot(&mut shots, "step", page(long, Standing::Open, &"", None, Asks::Step(&pack, long.kind), 0));
    let careful = longest(&pack, &texts, 2);
    shot(&mut shots, "step-scrolled", page(careful, Standing::Open, &"", None, Asks::Step(&pack, careful.kind), 5));
    let reading = pack
        .all_steps()
        .find(|row| matches!(row.kind, KindRow::Reading { unit: Unit::Psi, limits } if !limits.is_empty()));
    let reading = reading.expect("a pressure with limits");
    let note = "Corin Vey 04:12: 10 psi, until 09:35";
    shot(&mut shots, "step-proven", page(reading, Standing::Proven, &note, None, Asks::Step(&pack, reading.kind), 0));

    let longest_part = pack
        .all_steps()
        .flat_map(|row| match row.kind {
            KindRow::Procedure { parts } => {
                pack.parts(parts).enumerate().map(|(n, p)| (row, n, p, parts.len)).collect()
            }
            _ => Vec::new(),
        })
        .max_by_key(|(_, _, part, _)| texts.get(part.text).len())
        .expect("a part");
    let (row, n, part, of) = longest_part;
    let view = PartView { number: n + 1, of: of.into(), text: part.text };
    shot(&mut shots, "part", page(row, Standing::UnderWay, &"", Some(view), Asks::Part(&pack, part.ask), 2));

    let title = longest(&pack, &texts, 0);
    let reasons = [
        reason(None, 0, Why::NotInGrade { grade: GradeId(3) }),
        reason(Some(Rule::After(title.id)), 0, Why::NeedsFirst { step: title.id }),
        reason(None, 1, Why::Voided { step: title.id, at: world.now, by: VoidedBy::Step(long.id) }),
    ];
    for (n, name) in ["locked", "locked-longest"].into_iter().enumerate() {
        let at = n * 2;
        let (title, all) = (title.text, reasons.len());
        shot(
            &mut shots,
            name,
            Locked { texts: &texts, title, names: &names, reasons: &reasons[at..], first: at, at, all, skip: 0 },
        );
    }

    let card = |title, words, id, skip| Card {
        texts: &texts,
        title,
        words,
        text: id,
        foot: "up/down: scroll  left: back",
        skip,
    };
    shot(&mut shots, "low-water", card("LOW WATER", &"", text::LOW_WATER, 0));
    let refused = Sentence {
        names: &names,
        why: Why::Disagree {
            a: title.id,
            b: long.id,
            got_a: Reading::whole(95, Unit::GlassMm),
            got_b: Reading::whole(120, Unit::GlassMm),
            within: Reading::whole(12, Unit::GlassMm),
        },
    };
    shot(&mut shots, "refused", card("Refused", &refused, TextId::NONE, 0));
    let fitting = Sentence { names: &names, why: Why::NumberDiffers { fitting: FittingId(1) } };
    shot(&mut shots, "message", card("NOT RIGHT", &fitting, TextId::NONE, 0));
    check(&shots);
}

#[test]
fn entries_and_times() {
    let world = &*WORLD;
    let (pack, texts) = (world.pack(), world.texts());
    let mut shots = Shots::new();
    let reading = pack
        .all_steps()
        .find(|row| matches!(row.kind, KindRow::Reading { unit: Unit::Psi, limits } if !limits.is_empty()));
    let reading = reading.expect("a pressure with limits");
    let asks = Brief(Asks::Step(&pack, reading.kind));
    let title = texts.get(reading.text);
    let value = |digits, cursor, unit| ReadingEntry { texts: &texts, title: &title, asks: &asks, digits, cursor, unit };
    shot(&mut shots, "reading-blank", value("---", 0, Unit::Psi));
    shot(&mut shots, "reading", value("145", 1, Unit::Psi));
    shot(&mut shots, "reading-decimals", value("10.25", 4, Unit::Bar));
    shot(&mut shots, "reading-longest", value("-0123.5", 6, Unit::Celsius));

    let letters =
        |title, lead, before, at_hand, around| Letters { texts: &texts, title, lead, before, at_hand, around };
    shot(&mut shots, "number", letters("Number found", &"Front safety valve seal", "HV 10", '4', ('5', '3')));
    shot(
        &mut shots,
        "number-longest",
        letters("Number found", &"Back safety valve seal", "ABCDEFGHIJ 12345-6789/01", ' ', ('0', '.')),
    );
    shot(&mut shots, "pin", letters("PIN", &"Corin Vey", "**", '7', ('8', '6')));

    let timed = pack.all_steps().find(|row| matches!(row.kind, KindRow::Timed { .. })).expect("a hold");
    let asks = Brief(Asks::Step(&pack, timed.kind));
    let timer = |watch, tenths, full| Timer { texts: &texts, what: timed.text, asks: &asks, watch, tenths, full };
    shot(&mut shots, "timer-ready", timer(Watch::Ready, 0, Some(600)));
    shot(&mut shots, "timer-runs", timer(Watch::Runs, 184, Some(600)));
    shot(&mut shots, "timer-stopped", timer(Watch::Stopped, 36_004, None));

    let who = "Corin Vey";
    let signature = pack.all_steps().find(|row| matches!(row.kind, KindRow::Signature { .. })).expect("a signature");
    let proven = (58, 63);
    shot(
        &mut shots,
        "confirm",
        Confirm { texts: &texts, title: signature.text, who: &who, proven, not_right: 2, contested: 1, skip: 0 },
    );
    check(&shots);
}

/// The least level and a date on Tamsin, whose boiler is measured and whose road is known.
#[test]
fn figures_verdicts_and_the_boiler() {
    let world = &*WORLD;
    let (pack, texts) = (world.pack(), world.texts());
    let names =
        HandNames { pack: &pack, texts: &texts, roster: &world.roster, records: &world.journal, now: world.now };
    let mut shots = Shots::new();
    let engine = EngineState::new(TAMSIN);
    let level = pack.all_steps().find(|row| matches!(row.kind, KindRow::Figure { figure: Figure::LeastLevel, .. }));
    let level = level.expect("a least level");
    let date = pack.all_steps().find(|row| matches!(row.kind, KindRow::Due { due } if pack.due(due).is_some()));
    let date = date.expect("a date");
    let now = Now::good(world.now);
    let sheet = |sequence| Sheet::open(at(1), TAMSIN, sequence, pack.hash(), PersonId(21), world.now);
    let figure = |row: StepRow| {
        let sheet = sheet(row.sequence);
        let scene = Scene { pack: &pack, register: &world.roster, engine: &engine, sheet: Some(&sheet), left_at: None };
        (verdict::shown(&scene, &row, now), verdict::figure(&scene, &row, now))
    };
    let ((level_shown, level_worked), (date_shown, _)) = (figure(level), figure(date));
    let (level_worked, level_shown) = (level_worked.expect("a figure"), level_shown.expect("a figure"));
    let date_shown = date_shown.expect("a date");
    let page = |row: StepRow, shown, worked, skip| FigurePage {
        texts: &texts,
        title: row.text,
        names: &names,
        shown,
        worked,
        inputs: &[],
        foot: "up/down: scroll  select: accept  left: back",
        skip,
    };
    shot(&mut shots, "figure", page(level, Ok(&level_shown), Some(&level_worked), 0));
    shot(&mut shots, "figure-scrolled", page(level, Ok(&level_shown), Some(&level_worked), 5));
    shot(&mut shots, "date", page(date, Ok(&date_shown), None, 0));
    shot(&mut shots, "figure-none", page(level, Err(Why::RoadUnknown), None, 0));

    let boiler = world.roster.boiler(TAMSIN).expect("a measured boiler");
    for (name, glass_mm, from) in
        [("boiler", 95, "Read 18:07"), ("boiler-low", 0, "If it were"), ("boiler-high", 200, "If it were")]
    {
        shot(&mut shots, name, BoilerPage { texts: &texts, vessel: boiler.vessel, glass_mm, from });
    }

    let verdicts = verdicts(world, &engine);
    let clocked = |at| Clocked { roster: &world.roster, at, now: world.now };
    let (until, to) = (clocked(world.now.plus(360)), clocked(world.now.plus(-1_800)));
    for (name, fitness) in &verdicts {
        shot(
            &mut shots,
            name,
            FitnessPage {
                texts: &texts,
                names: &names,
                engine: TAMSIN,
                fitness,
                until: &until,
                records_to: &to,
                office: None,
                skip: 0,
            },
        );
    }
    let office = clocked(world.now.plus(-12_000));
    let (name, fitness) = &verdicts[0];
    let page = FitnessPage {
        texts: &texts,
        names: &names,
        engine: TAMSIN,
        fitness,
        until: &until,
        records_to: &to,
        office: Some(&office),
        skip: 2,
    };
    shot(&mut shots, &format!("{name}-by-the-office"), page);
    for (name, report) in reports() {
        shot(
            &mut shots,
            name,
            Card {
                texts: &texts,
                title: report.title(),
                words: &report,
                text: TextId::NONE,
                foot: "up/down: scroll  left: back",
                skip: 0,
            },
        );
    }
    for (name, title, why) in [("full", "FULL", Unstored::Full), ("behind", "Mind", Unstored::Behind)] {
        shot(
            &mut shots,
            name,
            Card {
                texts: &texts,
                title,
                words: &why,
                text: TextId::NONE,
                foot: "up/down: scroll  left: back",
                skip: 0,
            },
        );
    }
    check(&shots);
}

/// What a card comes to: well, and in every way that a person meets.
fn reports() -> Vec<(&'static str, CardReport)> {
    let key = DeviceKey([0xd7, 0x5a, 0x98, 0x01, 0x82, 0xb1, 0x0a, 0xb7].repeat(4).try_into().expect("32 bytes"));
    let report = |given, taken, freed| CardReport { given, taken, freed };
    let gone = CardFault::Gone;
    vec![
        ("card-done", report(Ok(63), Ok(Taken::New { entries: 214 }), 0)),
        ("card-freed", report(Ok(0), Ok(Taken::New { entries: 240 }), 63)),
        ("card-first", report(Ok(0), Ok(Taken::First { key }), 0)),
        ("card-pulled", report(Err(GiveFault::Card(gone)), Err(ShiftRefused::Card(gone)), 0)),
        ("card-foreign", report(Err(GiveFault::Foreign), Err(ShiftRefused::None), 0)),
        ("card-other-rules", report(Ok(63), Err(ShiftRefused::OtherPack), 0)),
        ("card-newer", report(Ok(0), Err(ShiftRefused::Fault(ShiftFault::Newer(2))), 0)),
        ("card-signature", report(Ok(0), Err(ShiftRefused::Fault(ShiftFault::Signature)), 0)),
        ("card-other-office", report(Ok(0), Err(ShiftRefused::Untrusted(key)), 0)),
        ("card-older", report(Ok(0), Err(ShiftRefused::Older(Stamp(0))), 0)),
    ]
}

/// One verdict of each kind; the one that is not fit is what the practice pack says of an engine nobody has prepared.
fn verdicts(world: &World, engine: &EngineState) -> [(&'static str, Fitness); 4] {
    let pack = world.pack();
    let steps: Vec<StepId> = pack.all_steps().map(|row| row.id).collect();
    let not_fit = fitness::of(Some(&pack), &world.roster, engine, Now::good(world.now));
    assert_eq!(not_fit.verdict, Verdict::NotFit);
    let bare = |verdict| Fitness {
        verdict,
        reasons: Default::default(),
        conditions: Default::default(),
        until: None,
        away_since: None,
    };
    let lapses =
        Some((world.now.plus(360), Ends::Rule(Rule::Fresh { step: steps[steps.len() / 3], within_seconds: None })));
    let mut restricted = Fitness { until: lapses, ..bare(Verdict::Restricted) };
    let _ = restricted.conditions.push((Ends::Restriction(at(7)), Day::of(chrono_day(2026, 5, 9))));
    let mut unknown = bare(Verdict::NotKnown);
    let _ = unknown.reasons.push(reason(None, 0, Why::DateUnknown { due: DueId(1) }));
    let _ = unknown.reasons.push(reason(None, 0, Why::DefectOpen { defect: at(9), grade: DefectGrade::Stopping }));
    [
        ("fitness-fit", Fitness { until: lapses, ..bare(Verdict::Fit) }),
        ("fitness-restricted", restricted),
        ("fitness-not-fit", not_fit),
        ("fitness-not-known", unknown),
    ]
}

fn chrono_day(year: i32, month: u32, day: u32) -> chrono::NaiveDate {
    chrono::NaiveDate::from_ymd_opt(year, month, day).expect("a day")
}

/// The pack's words hold no letter that the display's alphabet lacks.
#[test]
fn every_letter_of_the_practice_pack_can_be_shown() {
    let world = &*WORLD;
    let texts = world.texts();
    let count = u16::try_from(texts.len()).expect("a pack's texts");
    for id in (0..count).map(TextId) {
        let words = texts.whole(id).unwrap_or("");
        let strange: Vec<char> = words.chars().filter(|c| u32::from(*c) > 0xff).collect();
        assert!(strange.is_empty(), "{strange:?} in \"{words}\"");
    }
}
