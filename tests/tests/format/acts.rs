//! What the entries of `vectors/entries.hex` say.

use offshed_core::boiler::record::{
    BoilerRecord, BundleRecord, GirdersRecord, MeasureRecord, ProductRecord, SectionRecord, TenthMm,
};
use offshed_core::entry::{Answer, Dispensed, Entry, Fact, Found, Review, Shown, What};
use offshed_core::ident::{
    DeviceKey, DueId, EngineId, EventId, FittingId, GradeId, PersonId, ProductId, RoadId, SequenceId, Set, StepId,
};
use offshed_core::limits::ENTRY_BYTES;
use offshed_core::pack::rows::DefectGrade;
use offshed_core::stamp::{Clock, Day, Hlc, Stamp, ZoneRow};
use offshed_core::units::{Reading, Unit};

use super::{DEVICE, OTHER, at, hash, name, words};

/// 2026-03-29 00:00:00 UTC.
const MIDNIGHT: i64 = 1_774_742_400;

pub(super) fn answered(answer: Answer) -> What {
    What::Answered { sheet: at(DEVICE, 1), step: StepId(300), answer, done_at: None, with: None, over: None }
}

pub(super) fn part(part: u8, found: Found) -> What {
    answered(Answer::Part { part, found })
}

/// What the entries of `entries.hex` say, in its order.
pub(super) fn acts() -> Vec<What> {
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
        answered(Answer::Accepted(Shown::Date {
            done_on: Day(20_500),
            steam_days: 300,
            last_day: Some(Day(20_560)),
            steam_days_left: Some(-2),
        })),
        answered(Answer::Accepted(Shown::Date {
            done_on: Day(-1),
            steam_days: 0,
            last_day: None,
            steam_days_left: None,
        })),
        answered(Answer::Accepted(Shown::Figure {
            inputs: [(105, Unit::MgPerL), (95, Unit::GlassMm), (0, Unit::Psi)]
                .map(|(value, unit)| Reading::whole(value, unit))
                .into_iter()
                .collect(),
            result: Reading::whole(512, Unit::Gram),
            rounds: 1,
        })),
        answered(Answer::Accepted(Shown::Figure {
            inputs: Default::default(),
            result: Reading { milli: -1, unit: Unit::MgPerLPerMicroSiemens },
            rounds: 200,
        })),
        part(3, Found::Seen),
        part(3, Found::NotRight { words: words("slow") }),
        part(0, Found::Reading(Reading { milli: -1, unit: Unit::Fahrenheit })),
        part(4, Found::Time { tenths: 25 }),
        part(
            3,
            Found::Rose {
                reading: Reading::whole(120, Unit::GlassMm),
                delivery: Reading::whole(38, Unit::LitrePerMinute),
            },
        ),
        answered(Answer::NotApplicable { reason: words("no ejector") }),
        answered(Answer::Signed { pack: hash(), seen: [at(DEVICE, 18), at(OTHER, 200)].into_iter().collect() }),
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
        What::DefectRestricted { defect: at(DEVICE, 26), words: words("yard only"), until: Day(20_541) },
        What::DefectCleared { defect: at(DEVICE, 26), grade: GradeId(4), words: words("renewed") },
        dispensed(Dispensed::Step(StepId(300)), Day(20_541)),
        dispensed(Dispensed::Due(DueId(3)), Day(-1)),
        What::TagHung { engine },
        What::TagLifted { engine },
    ]);
    acts.extend(facts(psi).into_iter().map(What::Registered));
    acts
}

pub(super) fn dispensed(what: Dispensed, until: Day) -> What {
    What::Dispensed { engine: EngineId(11), what, words: words("one trip"), until }
}

pub(super) fn facts(working: Reading) -> Vec<Fact> {
    let (engine, due) = (EngineId(11), DueId(3));
    let row = |from, offset_minutes| ZoneRow { from: Stamp(from), offset_minutes };
    let turn = |road| Fact::Turn { engine, name: name("Goods"), off_shed: Stamp(MIDNIGHT + 28_800), road };
    let mut facts = vec![
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
        turn(None),
        turn(Some(RoadId(200))),
        Fact::Device { device: OTHER, name: name("Cab tablet") },
    ];
    facts.extend(figure_facts());
    facts
}

/// What figures are computed from.
fn figure_facts() -> [Fact; 12] {
    let (engine, road) = (EngineId(11), RoadId(200));
    let measure = MeasureRecord { name: "scoop".try_into().unwrap(), milligrams: 50_000, parts: 2 };
    let product = |product, strength_millionths, measure| Fact::Product {
        product: ProductId(product),
        bought: ProductRecord { strength_millionths, measure },
    };
    [
        Fact::Boiler { engine, boiler: boiler() },
        Fact::Boiler { engine, boiler: plain_boiler() },
        Fact::Road { road, name: name("Down line"), start_millionths: -4_000, used_tenth_l_per_km: 315, sections: 2 },
        Fact::RoadSections { road, first: 300, sections: sections().into_iter().collect() },
        Fact::UsualRoad { engine, road: Some(road) },
        Fact::UsualRoad { engine, road: None },
        product(1, 350_000, Some(measure)),
        product(200, 100, None),
        Fact::FeedWater {
            solids: Reading::whole(120, Unit::MgPerL),
            temperature: Reading { milli: 12_500, unit: Unit::Celsius },
        },
        Fact::Air { pascals: 101_325 },
        Fact::DeviceKey { device: OTHER, key: DeviceKey([0x77; 32]), until: None },
        Fact::DeviceKey { device: OTHER, key: DeviceKey([0x77; 32]), until: Some(Stamp(MIDNIGHT)) },
    ]
}

/// A boiler with every part that may be left out.
pub(super) fn boiler() -> BoilerRecord {
    let bundle = |count, outside_diameter, lower, upper| BundleRecord {
        count,
        outside_diameter: TenthMm(outside_diameter),
        lower: TenthMm(lower),
        upper: TenthMm(upper),
    };
    BoilerRecord {
        barrel_back_diameter: TenthMm(14_000),
        barrel_front_diameter: TenthMm(12_800),
        barrel_length: TenthMm(35_000),
        barrel_front_axis_rise: TenthMm(-200),
        casing_length: TenthMm(19_000),
        casing_width: TenthMm(14_200),
        casing_top: TenthMm(7_800),
        casing_corner: Some(TenthMm(1_800)),
        casing_foundation: TenthMm(-11_500),
        firebox_back_gap: TenthMm(900),
        firebox_length: TenthMm(17_000),
        firebox_width: TenthMm(11_800),
        crown_back: TenthMm(2_900),
        crown_front: TenthMm(3_100),
        crown_corner: Some(TenthMm(900)),
        tubes: Some(bundle(160, 450, -5_400, 1_200)),
        flues: Some(bundle(18, 1_300, -600, 2_300)),
        girders: Some(GirdersRecord { volume_tenth_l: 550, height: TenthMm(1_400) }),
        glass_position: TenthMm(-700),
        glass_bottom_nut: TenthMm(850),
        glass_top_nut: TenthMm(3_050),
        glass_separation: TenthMm(7_000),
        swell: TenthMm(120),
    }
}

/// The same with round tops, and without what may be left out.
fn plain_boiler() -> BoilerRecord {
    BoilerRecord {
        barrel_front_diameter: TenthMm(14_000),
        casing_corner: None,
        crown_corner: None,
        tubes: None,
        flues: None,
        girders: None,
        ..boiler()
    }
}

/// Two sections, the second at the edge of every range.
fn sections() -> [SectionRecord; 2] {
    [
        SectionRecord {
            metres: 1_450,
            gradient_millionths: 16_667,
            acceleration_mm_s2: 120,
            bunker_first: false,
            cant_ten_thousandths: 0,
        },
        SectionRecord {
            metres: 200_000,
            gradient_millionths: -250_000,
            acceleration_mm_s2: -5_000,
            bunker_first: true,
            cant_ten_thousandths: -200,
        },
    ]
}

pub(super) fn entry(seq: u32, what: What) -> Entry {
    Entry {
        at: at(DEVICE, seq),
        hlc: Hlc((MIDNIGHT as u64) << 20),
        stamp: Stamp(MIDNIGHT),
        clock: Clock::Good,
        person: PersonId(7),
        what,
    }
}

pub(super) fn doubted(seq: u32) -> Entry {
    Entry {
        hlc: Hlc(u64::MAX),
        stamp: Stamp(-1),
        clock: Clock::Doubted { boot: 300 },
        person: PersonId(u16::MAX),
        ..entry(seq, What::TagLifted { engine: EngineId(11) })
    }
}

pub(super) fn encoded(entry: &Entry) -> Vec<u8> {
    entry.encode(&mut [0; ENTRY_BYTES]).unwrap().to_vec()
}
